//! The rarer looks on the virtual bench: a trial weight that holds, a swing log, the rotor turned on the arbor.

use super::{VirtualBench, normal};
use crate::Fault;
use crate::bench::look::{Reading, Weight};
use crate::bench::motion::{Pendulum, simulate};
use crate::quantity::{Angle, RotorAngle, Unbalance, UnbalanceVector};
use rand::{RngExt, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;

/// Viscous drag over inertia of the simulated stand, 1/s: a tenth of the swing is lost in some 25 s. Assumed, without a source.
const DRAG_PER_S: f64 = 0.008;

/// How a clip or an encoder records a swing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Recorder {
    /// How long it records, s.
    pub seconds: f64,
    /// Readings a second.
    pub per_second: f64,
    /// Standard deviation of one angle.
    pub angle_sd: Angle,
}

impl VirtualBench {
    /// The same bench with a known mass on the rotor for one look.
    pub fn with_trial(mut self, trial: Weight) -> Self {
        self.rotor.unbalance = self.rotor.unbalance + trial.vector();
        self
    }

    /// The same bench with the rotor turned on the arbor, whose own error is hidden: each component normal with `sd`, by `seed`.
    /// Not turned, the arbor's error is part of the rotor's unbalance.
    pub fn turned_on_arbor(mut self, by: Angle, sd: Unbalance, seed: u64) -> Self {
        let mut rng = Xoshiro256PlusPlus::seed_from_u64(seed ^ 0x0A_4B04);
        let arbor = UnbalanceVector::from_g_mm(sd.g_mm() * normal(&mut rng), sd.g_mm() * normal(&mut rng));
        self.rotor.unbalance = self.rotor.unbalance - arbor + arbor.turned(Angle::from_rad(-by.rad()));
        self
    }

    /// The mass times radius at `at` that just holds the rotor with `bottom` at the bottom, as found in steps of `step`, and
    /// the reading. `None`: no weight there can hold it, since it pulls the same way or not at all.
    pub fn holds(&self, bottom: RotorAngle, at: RotorAngle, step: Unbalance, rng: &mut Xoshiro256PlusPlus) -> Option<(Unbalance, Reading)> {
        let r = self.true_residual();
        let torque = self.stand.drift_g_mm - r.size().g_mm() * r.at().from(bottom).rad().sin();
        let lever = at.from(bottom).rad().sin();
        // Dry friction holds a little more and a little less; the person stops somewhere between.
        let friction = self.stand.dry_friction_g_mm;
        let within = friction * rng.random_range(-1.0..=1.0);
        let moment = (torque + within) / lever;
        let found = (moment / step.g_mm()).round() * step.g_mm();
        // Evenly spread over a step, or over twice the friction: its width over √12 (any book of statistics).
        let sd = (step.g_mm() * lever.abs()).hypot(2.0 * friction) / 12.0_f64.sqrt();
        (found > 0.0 && lever.abs() > 0.05).then(|| (Unbalance::from_g_mm(found), Reading::Holds { bottom, sd: Unbalance::from_g_mm(sd) }))
    }

    /// A swing log after letting go as this person does: times (s) and room angles of the zero mark (rad), with the
    /// recorder's noise.
    ///
    /// # Errors
    /// A [`Fault`] of the motion.
    pub fn swing_log(&self, recorder: &Recorder, rng: &mut Xoshiro256PlusPlus) -> Result<(Vec<f64>, Vec<f64>), Fault> {
        let r = self.true_residual();
        let (u, td, j) = (r.size().g_mm(), self.stand.drift_g_mm, self.rotor.true_j_g_mm_s2);
        let pendulum = Pendulum {
            u_g_mm: u,
            theta_rad: r.at().rad(),
            j_g_mm_s2: j,
            c_g_mm_s: DRAG_PER_S * j,
            d_g_mm_s2: 0.0,
            tc_g_mm: self.stand.dry_friction_g_mm,
            td_g_mm: td,
        };
        let side = if rng.random_bool(0.5) { 1.0 } else { -1.0 };
        let amplitude = (self.person.amplitude.rad() + normal(rng) * self.person.amplitude_sd.rad()).clamp(0.05, 3.0);
        let rest = (td / u).clamp(-1.0, 1.0).asin();
        let times: Vec<f64> = (0..(recorder.seconds * recorder.per_second) as usize).map(|i| i as f64 / recorder.per_second).collect();
        let clean = simulate(&pendulum, rest + side * amplitude - r.at().rad(), 0.0, &times)?;
        let noisy = clean.iter().map(|a| a + normal(rng) * recorder.angle_sd.rad()).collect();
        Ok((times, noisy))
    }
}
