//! A phone's clip of the swinging rotor on the simulated stand: angle against time with noise, and the look that its fit gives.
//!
//! In: the bench and a [`Clip`]. Out: a track as a clip's marks would give it, moved by the whole equation of motion, or the look after
//! [`fit_log`]: nothing of the hidden truth but the track reaches the estimate.

use super::VirtualBench;
use crate::Fault;
use crate::bench::fit_log::{Known, SwingLog, fit_log};
use crate::bench::look::Reading;
use crate::bench::motion::{Pendulum, simulate};
use crate::quantity::{Angle, RotorAngle, Seconds};
use rand::RngExt;
use rand_distr::{Distribution, StandardNormal};
use rand_xoshiro::Xoshiro256PlusPlus;

/// How a clip is taken, and what drags on the rotor meanwhile.
#[derive(Clone, Copy, Debug)]
pub struct Clip {
    /// Pictures a second, 1 to 1000.
    pub rate_per_s: f64,
    /// How long it is, up to ten minutes.
    pub length: Seconds,
    /// Standard deviation of one angle.
    pub angle_sd: Angle,
    /// Amplitude that the rotor is let go from.
    pub amplitude: Angle,
    /// Viscous drag over inertia, 1/s.
    pub viscous_per_s: f64,
    /// Quadratic drag over inertia, no unit.
    pub quadratic: f64,
}

/// A phone at 30 pictures a second, angles to 0.3–0.5°, let go from 90°; drag as on the reference logs, a few parts in a thousand a
/// second and a few in a hundred. Ranges assumed, without a source.
pub fn draw_clip(length: Seconds, rng: &mut Xoshiro256PlusPlus) -> Clip {
    Clip {
        rate_per_s: 30.0,
        length,
        angle_sd: Angle::from_deg(rng.random_range(0.3..0.5)),
        amplitude: Angle::from_deg(90.0),
        viscous_per_s: rng.random_range(0.001..0.01),
        quadratic: rng.random_range(0.005..0.05),
    }
}

impl VirtualBench {
    /// The track of a clip: times, s, and room angles of the zero mark, rad within one turn, with noise.
    ///
    /// # Errors
    /// A [`Fault`] of the motion for a clip out of range.
    pub fn track(&self, clip: &Clip, rng: &mut Xoshiro256PlusPlus) -> Result<(Vec<f64>, Vec<f64>), Fault> {
        let residual = self.true_residual();
        let (size, theta) = (residual.size().g_mm(), residual.at().rad());
        let j = self.rotor.true_j_g_mm_s2;
        let pendulum = Pendulum {
            u_g_mm: size,
            theta_rad: theta,
            j_g_mm_s2: j,
            c_g_mm_s: clip.viscous_per_s * j,
            d_g_mm_s2: clip.quadratic * j,
            tc_g_mm: self.stand.dry_friction_g_mm,
            td_g_mm: self.stand.drift_g_mm,
        };
        let side = if rng.random_bool(0.5) { 1.0 } else { -1.0 };
        let rest = (self.stand.drift_g_mm / size).clamp(-1.0, 1.0).asin();
        // A hand lets go within a few degrees, and not quite at rest.
        let mut normal = |sd: f64| -> f64 { sd * Distribution::<f64>::sample(&StandardNormal, rng) };
        let start = rest - theta + side * (clip.amplitude.rad() + normal(self.person.amplitude_sd.rad()));
        let speed = normal(0.01);
        let n = (clip.rate_per_s * clip.length.s()).floor() as usize;
        let times: Vec<f64> = (0..=n).map(|i| i as f64 / clip.rate_per_s).collect();
        let angles = simulate(&pendulum, start, speed, &times)?;
        let noisy = angles.iter().map(|a| RotorAngle::from_rad(a + normal(clip.angle_sd.rad())).rad()).collect();
        Ok((times, noisy))
    }

    /// The look that a clip gives: its track fitted, as the program fits any log. `None`: it hints only, and is no reading.
    ///
    /// The drift is left to the log alone: what was known of it before is in the estimate already.
    ///
    /// # Errors
    /// A [`Fault`] of the motion, or of the fit when the track tells nothing.
    pub fn log(&self, clip: &Clip, rng: &mut Xoshiro256PlusPlus) -> Result<Option<Reading>, Fault> {
        let (time_s, angle_rad) = self.track(clip, rng)?;
        let known = Known { dry_friction_possible: self.stand.dry_friction_g_mm > 0.0, drift_prior_sd_per_s2: None };
        let fit = fit_log(&SwingLog { time_s: &time_s, angle_rad: &angle_rad, angle_sd_rad: None, time_sd_s: None }, &known)?;
        Ok(fit.reliable.then(|| Reading::Log {
            u_over_j_per_s2: fit.u_over_j_per_s2,
            u_over_j_rel_sd: fit.u_over_j_rel_sd,
            heavy: RotorAngle::from_rad(fit.heavy_rad),
            heavy_sd: Angle::from_rad(fit.heavy_sd_rad),
            drift_over_u: fit.drift_over_u,
            drift_over_u_sd: fit.drift_over_u_sd,
            correlation_heavy_drift: fit.correlation_heavy_drift,
        }))
    }
}

#[cfg(test)]
mod tests {
    use super::super::{StandKind, draw_person, draw_rotor, draw_stand};
    use super::*;
    use crate::numerics::wrap_pi;
    use rand::SeedableRng;

    #[test]
    fn a_look_by_clip_tells_the_hidden_truth_within_its_own_uncertainty() {
        // Normal law: of 40 looks, 38 within two standard deviations on average, and 33 or fewer once in some thousand times (binomial).
        let (mut size, mut direction, mut drift, n) = (0, 0, 0, 40);
        for seed in 0..n {
            let mut rng = Xoshiro256PlusPlus::seed_from_u64(seed);
            let rotor = draw_rotor(StandKind::AirSaddles, 1.0, 0.05, &mut rng);
            let stand = draw_stand(StandKind::AirSaddles, &rotor, &mut rng);
            let person = draw_person(&mut rng);
            let bench = VirtualBench::new(rotor, stand, person, &mut rng);
            let clip = draw_clip(Seconds::new(40.0), &mut rng);
            let Some(Reading::Log { u_over_j_per_s2, u_over_j_rel_sd, heavy, heavy_sd, drift_over_u, drift_over_u_sd, .. }) =
                bench.log(&clip, &mut rng).expect("a track that swings")
            else {
                panic!("seed {seed}: no reading");
            };
            let truth = bench.true_residual();
            let true_ratio = truth.size().g_mm() / bench.rotor.true_j_g_mm_s2;
            size += usize::from((u_over_j_per_s2 / true_ratio).ln().abs() < 2.0 * u_over_j_rel_sd);
            direction += usize::from(wrap_pi(heavy.from(truth.at()).rad()).abs() < 2.0 * heavy_sd.rad());
            drift += usize::from((drift_over_u - bench.stand.drift_g_mm / truth.size().g_mm()).abs() < 2.0 * drift_over_u_sd);
        }
        assert!(size > 33 && direction > 33 && drift > 33, "of {n}: size {size}, direction {direction}, drift {drift}");
    }
}
