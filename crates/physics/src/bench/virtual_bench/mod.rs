//! A simulated stand, rotor and person, with a hidden unbalance: to practise on, and to try the whole loop with.
//!
//! In: a seed and a few choices. Out: what a person would have seen, computed by the true motion (exact half swings with
//! dry friction and drift), not by the estimator's short forms. Ranges of rotors and stands are assumed, without a source;
//! they are those for which the trial-and-error yardstick in docs/bench-table.md is stated.

pub mod by_hand;
mod clip;
pub mod play;
mod rarer_looks;
mod shop;

pub use clip::{Clip, draw_clip};
pub use rarer_looks::Recorder;
pub use shop::{Person, StandKind, VirtualRotor, VirtualStand, draw_person, draw_rotor, draw_stand, known};

use super::look::{Reading, Sense, Weight};
use super::next_step::LookPlan;
use super::swing::half_swing_g_mm;
use crate::quantity::{Angle, Inertia, RotorAngle, Seconds, Unbalance, UnbalanceVector};
use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, StandardNormal};
use rand_xoshiro::Xoshiro256PlusPlus;

/// Rotor and stand as they truly are, with the weights as they truly stand.
#[derive(Clone, Debug)]
pub struct VirtualBench {
    /// The rotor.
    pub rotor: VirtualRotor,
    /// The stand.
    pub stand: VirtualStand,
    /// The person who looks.
    pub person: Person,
    /// Weights where the person meant to set them.
    pub weights: Vec<Weight>,
    /// By how much each is off, rad.
    setting_errors: Vec<f64>,
}

/// How the rotor behaves when let go.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Rest {
    /// Heavy side comes to rest at this angle from straight down, rad.
    At(f64),
    Creeps(Sense),
    Stays,
}

fn normal(rng: &mut Xoshiro256PlusPlus) -> f64 {
    StandardNormal.sample(rng)
}

impl VirtualBench {
    /// A rotor with its weights spread evenly, set as well as this person sets them.
    pub fn new(rotor: VirtualRotor, stand: VirtualStand, person: Person, rng: &mut Xoshiro256PlusPlus) -> Self {
        let n = rotor.weight_moments_g_mm.len();
        let weights = rotor
            .weight_moments_g_mm
            .iter()
            .enumerate()
            .map(|(i, &q)| Weight { moment: Unbalance::from_g_mm(q), at: RotorAngle::from_deg(360.0 * i as f64 / n as f64) })
            .collect();
        let setting_errors = (0..n).map(|_| normal(rng) * person.setting_sd.rad()).collect();
        Self { rotor, stand, person, weights, setting_errors }
    }

    /// Set the weights; those that really move get a new setting error. How many moved.
    pub fn set_weights(&mut self, weights: &[Weight], rng: &mut Xoshiro256PlusPlus) -> usize {
        let mut moved = 0;
        for ((now, then), error) in self.weights.iter_mut().zip(weights).zip(&mut self.setting_errors) {
            if now.at.from(then.at).rad().abs() > 1e-9 {
                moved += 1;
                *error = normal(rng) * self.person.setting_sd.rad();
            }
            *now = *then;
        }
        moved
    }

    /// The true residual, g·mm.
    pub fn true_residual(&self) -> UnbalanceVector {
        let weights: UnbalanceVector = self
            .weights
            .iter()
            .zip(&self.setting_errors)
            .map(|(w, e)| Weight { at: w.at.turned(Angle::from_rad(*e)), ..*w }.vector())
            .sum();
        self.rotor.unbalance + weights
    }

    /// Take a look as planned; what the person sees may be another kind (it creeps, it stays, it is still out).
    pub fn look(&self, plan: LookPlan, rng: &mut Xoshiro256PlusPlus) -> Reading {
        let boundary = Unbalance::from_g_mm((0.1 * self.rotor.allowance.g_mm()).max(1e-3));
        match self.rest(rng) {
            Rest::Creeps(sense) => Reading::Creeps { sense, sd: boundary },
            Rest::Stays => Reading::Stays { sd: boundary },
            Rest::At(psi) => match plan {
                LookPlan::Settle => self.settle(psi, rng),
                LookPlan::Swing { swings } => self.swing(swings, rng).unwrap_or_else(|| self.settle(psi, rng)),
            },
        }
    }

    fn rest(&self, rng: &mut Xoshiro256PlusPlus) -> Rest {
        let (size, td, tc) = (self.true_residual().size().g_mm(), self.stand.drift_g_mm, self.stand.dry_friction_g_mm);
        if td.abs() - tc >= size {
            return Rest::Creeps(if td > 0.0 { Sense::CounterClockwise } else { Sense::Clockwise });
        }
        if size + td.abs() <= tc {
            return Rest::Stays;
        }
        let edge = |t: f64| (t / size).clamp(-1.0, 1.0).asin();
        Rest::At(edge(td - tc) + (edge(td + tc) - edge(td - tc)) * rng.random::<f64>())
    }

    fn settle(&self, psi: f64, rng: &mut Xoshiro256PlusPlus) -> Reading {
        let bottom = self.true_residual().at().rad() - psi + normal(rng) * self.person.settle_sd.rad();
        Reading::Settle { bottom: RotorAngle::from_rad(bottom), sd: self.person.settle_sd }
    }

    /// Let it go to one side and time half swings. `None`: it does not start, or does not turn back.
    fn swing(&self, swings: f64, rng: &mut Xoshiro256PlusPlus) -> Option<Reading> {
        let (size, td, tc) = (self.true_residual().size().g_mm(), self.stand.drift_g_mm, self.stand.dry_friction_g_mm);
        let p = &self.person;
        let rest = (td / size).clamp(-1.0, 1.0).asin();
        let amplitude = (p.amplitude.rad() + normal(rng) * p.amplitude_sd.rad()).clamp(0.05, 3.0);
        let mut side = if rng.random_bool(0.5) { 1.0 } else { -1.0 };
        let mut at = rest + side * amplitude;
        let (mut time, mut done) = (0.0, 0.0);
        while done < swings {
            if (td - size * at.sin()).abs() <= tc {
                break;
            }
            let Some((t, to)) = half_swing_g_mm(size, td + side * tc, at, self.rotor.true_j_g_mm_s2) else { break };
            (time, at, side, done) = (time + t, to, -side, done + 0.5);
            if time > p.patience.s() {
                return Some(Reading::StillOut { swings, amplitude: p.amplitude, amplitude_sd: p.amplitude_sd, waited: p.patience });
            }
        }
        if done == 0.0 {
            return None;
        }
        // Where friction eats the swing, the person reads the last amplitude too.
        let end = (at - rest).abs() + normal(rng) * p.amplitude_sd.rad();
        let amplitude_end = (tc > 0.0).then(|| Angle::from_rad(end.clamp(0.02, p.amplitude.rad())));
        let time = Seconds::new((time + normal(rng) * p.time_sd.s()).max(0.05));
        Some(Reading::Swing { swings: done, amplitude: p.amplitude, amplitude_end, amplitude_sd: p.amplitude_sd, time, time_sd: p.time_sd })
    }

    /// Torque of the residual on the rotor when rotor angle `bottom` is at the bottom, and whether it moves when let go:
    /// the sense, if it turns more than 2° in 5 s.
    fn release(&self, bottom: RotorAngle) -> Option<Sense> {
        let r = self.true_residual();
        // Heavy side at ψ = θ − bottom from straight down; it turns by −U sin ψ.
        let torque = self.stand.drift_g_mm - r.size().g_mm() * r.at().from(bottom).rad().sin();
        let net = (torque.abs() - self.stand.dry_friction_g_mm).max(0.0);
        let turned = 0.5 * net / self.rotor.true_j_g_mm_s2 * 25.0;
        (turned > 2.0_f64.to_radians()).then_some(if torque > 0.0 { Sense::CounterClockwise } else { Sense::Clockwise })
    }
}

/// What is known of a hidden rotor on a simulated stand; the rest is drawn from a seed.
#[derive(Clone, Copy, Debug)]
pub struct Hidden {
    /// Inertia as the shop has it.
    pub inertia: Inertia,
    /// Its relative standard deviation.
    pub inertia_rel_sd: f64,
    /// The hidden unbalance lies between half and one and a half of this.
    pub unbalance_about: Unbalance,
    /// Standard deviation of the drift torque, g·mm.
    pub drift_sd_g_mm: f64,
    /// Dry friction, g·mm.
    pub dry_friction_g_mm: f64,
    /// Permissible residual unbalance.
    pub allowance: Unbalance,
    /// How well weights are set.
    pub setting_sd: Angle,
    /// The person.
    pub reader: super::next_step::Reader,
}

impl VirtualBench {
    /// A bench whose truth depends on `seed` alone. Each weight's setting error depends on the seed, the weight and its
    /// place, so that a weight that stays keeps its error from look to look.
    pub fn hidden(known: &Hidden, weights: &[Weight], seed: u64) -> Self {
        let mut rng = Xoshiro256PlusPlus::seed_from_u64(seed);
        let size = known.unbalance_about.g_mm() * rng.random_range(0.5..1.5);
        let at = RotorAngle::from_deg(rng.random_range(0.0..360.0));
        let rotor = VirtualRotor {
            unbalance: UnbalanceVector::polar(Unbalance::from_g_mm(size), at),
            mass_kg: 0.0,
            true_j_g_mm_s2: known.inertia.g_mm_s2() * (known.inertia_rel_sd * normal(&mut rng)).exp(),
            given_inertia: known.inertia,
            inertia_rel_sd: known.inertia_rel_sd,
            allowance: known.allowance,
            weight_moments_g_mm: weights.iter().map(|w| w.moment.g_mm()).collect(),
            arbor_radius_mm: 0.0,
        };
        let stand = VirtualStand {
            kind: if known.dry_friction_g_mm > 0.0 { StandKind::HardenedWays } else { StandKind::AirSaddles },
            drift_g_mm: known.drift_sd_g_mm * normal(&mut rng),
            dry_friction_g_mm: known.dry_friction_g_mm,
            drift_sd_g_mm: known.drift_sd_g_mm,
            floor_g_mm: 0.0,
        };
        let r = known.reader;
        let person = Person {
            settle_sd: r.settle_sd,
            time_sd: r.time_sd,
            amplitude: r.amplitude,
            amplitude_sd: r.amplitude_sd,
            setting_sd: known.setting_sd,
            patience: r.patience,
        };
        let error = |(i, w): (usize, &Weight)| {
            let place = (w.at.deg() * 1e4).round() as u64;
            let mut own = Xoshiro256PlusPlus::seed_from_u64(
                seed ^ (i as u64 + 1).wrapping_mul(0xBF58_476D_1CE4_E5B9) ^ place.wrapping_mul(0x94D0_49BB_1331_11EB),
            );
            normal(&mut own) * known.setting_sd.rad()
        };
        let setting_errors = weights.iter().enumerate().map(error).collect();
        Self { rotor, stand, person, weights: weights.to_vec(), setting_errors }
    }
}
