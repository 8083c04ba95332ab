//! What the looks of a choice are to be expected to show: states drawn from the belief, moved as the weights would be, each outcome
//! weighed on all of them.

use super::{COST_OF_A_MOVE, Choice, LookPlan, Reader, Situation};
use crate::bench::belief::{Belief, State, SwingTimes, swing_factor};
use crate::bench::look::{Reading, Sense, Weight};
use crate::numerics::wrap_pi;
use crate::quantity::{RotorAngle, Seconds, Unbalance, UnbalanceVector};
use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, StandardNormal};
use rand_xoshiro::Xoshiro256PlusPlus;
use statrs::function::erf::erfc;
use std::f64::consts::FRAC_1_SQRT_2;

/// Outcomes drawn for each choice.
const OUTCOMES: usize = 16;
/// Particles that an outcome is weighed on.
const WEIGHED: usize = 1000;
/// Looks that follow when a placement turns out not to hold: one to see where it went, one to prove the next.
const LOOKS_AFTER_A_MISS: f64 = 2.6;

/// A thinned belief, ready to be weighed by outcomes.
pub(super) struct Crowd {
    states: Vec<State>,
    /// Setting errors of the weights as they stand now, state by state, `weights` to a state, g·mm.
    errors: Vec<[f64; 2]>,
    /// Errors that weights would be set with, in standard deviations, laid out alike: the same for every choice, so that choices differ by
    /// what they are and not by luck.
    noise: Vec<f64>,
    weights: usize,
    swing: SwingTimes,
    rng: Xoshiro256PlusPlus,
}

impl Crowd {
    pub(super) fn new(belief: &Belief, reader: &Reader, weights: usize, seed: u64) -> Self {
        let mut rng = Xoshiro256PlusPlus::seed_from_u64(seed ^ 0x000F_F5E7);
        let step = belief.len().div_ceil(WEIGHED);
        let states: Vec<State> = (0..belief.len()).step_by(step).map(|i| belief.state(i)).collect();
        let mut errors = vec![[0.0; 2]; states.len() * weights];
        for (k, i) in (0..belief.len()).step_by(step).enumerate() {
            for (weight, error) in belief.setting_errors(i) {
                errors[k * weights + weight] = error;
            }
        }
        let noise = (0..errors.len()).map(|_| StandardNormal.sample(&mut rng)).collect();
        Self { states, errors, noise, weights, swing: SwingTimes::new(reader.amplitude, reader.amplitude_sd), rng }
    }

    /// Root mean square distance of the residual from its mean, g·mm.
    pub(super) fn spread(&self) -> f64 {
        let n = self.states.len() as f64;
        let m = [0, 1].map(|d| self.states.iter().map(|s| s.residual[d]).sum::<f64>() / n);
        (self.states.iter().map(|s| (s.residual[0] - m[0]).powi(2) + (s.residual[1] - m[1]).powi(2)).sum::<f64>() / n).sqrt()
    }

    /// Change of the residual when the weights go from where they are now to `weights`, g·mm.
    pub(super) fn shift(s: &Situation, weights: &[Weight]) -> [f64; 2] {
        let sum = |w: &[Weight]| w.iter().map(|w| w.vector()).sum::<UnbalanceVector>();
        (sum(weights) - sum(s.weights_now)).g_mm()
    }

    pub(super) fn median_period(&self, s: &Situation, shift: [f64; 2]) -> f64 {
        let k = swing_factor(1.0, s.reader.amplitude.rad());
        let mut t: Vec<f64> = self
            .states
            .iter()
            .map(|x| {
                let u2 = (x.residual[0] + shift[0]).powi(2) + (x.residual[1] + shift[1]).powi(2) - x.drift * x.drift;
                if u2 > 0.0 { k * (x.j / u2.sqrt()).sqrt() } else { f64::INFINITY }
            })
            .collect();
        t.sort_by(f64::total_cmp);
        t[t.len() / 2]
    }

    /// A full swing where it is quick, half of one where it is slow.
    pub(super) fn swing(&self, s: &Situation, shift: [f64; 2]) -> LookPlan {
        LookPlan::Swing { swings: if self.median_period(s, shift) > 0.4 * s.reader.patience.s() { 0.5 } else { 1.0 } }
    }

    /// The states once the weights stand at `weights`: a weight that moves leaves its setting error behind and is set with a new one, across
    /// its radius; one that stays keeps the error that the looks have told of.
    fn moved(&self, s: &Situation, weights: &[Weight]) -> Vec<State> {
        let shift = Self::shift(s, weights);
        let sd = s.known.setting_sd.rad();
        let moved: Vec<(usize, [f64; 2])> = weights
            .iter()
            .zip(s.weights_now)
            .enumerate()
            .filter(|(_, (to, from))| to.moment != from.moment || to.at.from(from.at).rad().abs() > 1e-9)
            .map(|(k, (to, _))| (k, to.vector().g_mm()))
            .collect();
        let after = |(k, x): (usize, &State)| {
            let mut residual = [x.residual[0] + shift[0], x.residual[1] + shift[1]];
            for (weight, [wx, wy]) in &moved {
                let (old, new) = (self.errors[k * self.weights + weight], sd * self.noise[k * self.weights + weight]);
                residual[0] -= old[0] + wy * new;
                residual[1] -= old[1] - wx * new;
            }
            State { residual, ..*x }
        };
        self.states.iter().enumerate().map(after).collect()
    }

    /// Fill in what is to be expected of a choice.
    pub(super) fn weigh(&self, s: &Situation, belief: &Belief, choice: &mut Choice) {
        let states = self.moved(s, &choice.weights);
        let mut rng = self.rng.clone();
        let limit = s.allowance.g_mm();
        let foreseen = Foreseen::new(s, choice.look, &self.swing, belief, &states);
        let inside: Vec<bool> = states.iter().map(|x| size(x.residual) <= limit).collect();
        let (mut proven, mut looks) = (0.0, 0.0);
        let mut w = vec![0.0; states.len()];
        for k in 0..OUTCOMES {
            let truth = states[k * states.len() / OUTCOMES];
            let reading = outcome(s, choice.look, &truth, &mut rng);
            foreseen.weights(&reading, belief, &states, &mut w);
            let sum: f64 = w.iter().sum();
            if inside.iter().zip(&w).filter(|(i, _)| **i).map(|(_, w)| w).sum::<f64>() / sum >= s.sureness {
                proven += 1.0;
                continue;
            }
            let mean = [0, 1].map(|d| states.iter().zip(&w).map(|(x, w)| w * x.residual[d]).sum::<f64>() / sum);
            // A swing proves what is clearly inside; what lies at the limit costs another round.
            let near = |x: &State| size([x.residual[0] - mean[0], x.residual[1] - mean[1]]) <= 0.9 * limit;
            let hit = states.iter().zip(&w).filter(|(x, _)| near(x)).map(|(_, w)| w).sum::<f64>() / sum;
            looks += 1.0 + LOOKS_AFTER_A_MISS * (1.0 - hit) + 2.0 * COST_OF_A_MOVE;
        }
        choice.p_proven = proven / OUTCOMES as f64;
        choice.expected_looks = 1.0 + looks / OUTCOMES as f64;
    }
}

fn size(v: [f64; 2]) -> f64 {
    (v[0] * v[0] + v[1] * v[1]).sqrt()
}

/// What each state would show in a look, worked out once: an outcome then weighs a state by one normal density.
enum Foreseen {
    /// Direction in which the heavy side rests, rad, and half of its dead band; NaN: it finds no rest.
    Settles(Vec<[f64; 2]>),
    /// Time and its standard deviation, s; NaN: no such swing.
    Lasts(Vec<[f64; 2]>),
}

/// A state that can't show what was seen is left with this share, as the estimator leaves it one.
const LEFT: f64 = 1e-9;

impl Foreseen {
    fn new(s: &Situation, plan: LookPlan, swing: &SwingTimes, belief: &Belief, states: &[State]) -> Self {
        match plan {
            LookPlan::Settle => Self::Settles(
                states
                    .iter()
                    .map(|x| {
                        let Some([lo, hi]) = belief.rest_band(x) else { return [f64::NAN; 2] };
                        [x.residual[1].atan2(x.residual[0]) - 0.5 * (lo + hi), 0.5 * (hi - lo)]
                    })
                    .collect(),
            ),
            LookPlan::Swing { swings } => Self::Lasts(
                states
                    .iter()
                    .map(|x| {
                        let [t, sd] = swing.of(x, swings).unwrap_or([f64::NAN; 2]);
                        [t, sd.hypot(s.reader.time_sd.s())]
                    })
                    .collect(),
            ),
        }
    }

    /// Weight of each state when this was seen, up to a common factor.
    fn weights(&self, reading: &Reading, belief: &Belief, states: &[State], out: &mut [f64]) {
        match (self, reading) {
            (Self::Settles(rests), Reading::Settle { bottom, sd }) => {
                let (seen, sd) = (bottom.rad(), sd.rad());
                for (w, [middle, half]) in out.iter_mut().zip(rests) {
                    // A dead band that is wide against the reading counts as a normal of like width.
                    let s2 = sd * sd + half * half / 3.0;
                    let x = wrap_pi(middle - seen);
                    *w = LEFT + if x.is_nan() { 0.0 } else { (-0.5 * x * x / s2).exp() / s2.sqrt() };
                }
            }
            (Self::Lasts(times), Reading::Swing { time, .. }) => {
                for (w, [t, sd]) in out.iter_mut().zip(times) {
                    let z = (t - time.s()) / sd;
                    *w = LEFT + if z.is_nan() { 0.0 } else { (-0.5 * z * z).exp() / sd };
                }
            }
            (Self::Lasts(times), Reading::StillOut { waited, .. }) => {
                for (w, [t, sd]) in out.iter_mut().zip(times) {
                    let z = (waited.s() - t) / sd;
                    *w = LEFT + if z.is_nan() { 0.0 } else { 0.5 * erfc(z * FRAC_1_SQRT_2) };
                }
            }
            _ => {
                let kernel = belief.kernel(reading);
                let logs = states.iter().map(|x| belief.log_density_of(&kernel, x));
                out.iter_mut().zip(logs).for_each(|(w, log)| *w = log.exp());
            }
        }
    }
}

/// Draw what a look would show if `truth` were so.
fn outcome(s: &Situation, plan: LookPlan, truth: &State, rng: &mut Xoshiro256PlusPlus) -> Reading {
    let size = truth.residual[0].hypot(truth.residual[1]);
    let (td, tc) = (truth.drift, s.known.dry_friction.g_mm());
    let boundary = Unbalance::from_g_mm((0.1 * s.allowance.g_mm()).max(1e-3));
    let mut normal = || -> f64 { StandardNormal.sample(rng) };
    if td.abs() - tc >= size {
        return Reading::Creeps { sense: if td > 0.0 { Sense::CounterClockwise } else { Sense::Clockwise }, sd: boundary };
    }
    if size + td.abs() <= tc {
        return Reading::Stays { sd: boundary };
    }
    let r = &s.reader;
    match plan {
        LookPlan::Settle => {
            let error = normal() * r.settle_sd.rad();
            let (lo, hi) = (((td - tc) / size).clamp(-1.0, 1.0).asin(), ((td + tc) / size).clamp(-1.0, 1.0).asin());
            let psi = lo + (hi - lo) * rng.random::<f64>();
            let bottom = wrap_pi(truth.residual[1].atan2(truth.residual[0]) - psi + error);
            Reading::Settle { bottom: RotorAngle::from_rad(bottom), sd: r.settle_sd }
        }
        LookPlan::Swing { swings } => {
            let amplitude = (r.amplitude.rad() + normal() * r.amplitude_sd.rad()).clamp(0.02, 3.0);
            let u2 = size * size - td * td;
            let t = if u2 > 0.0 { swing_factor(swings, amplitude) * (truth.j / u2.sqrt()).sqrt() } else { f64::INFINITY };
            if t > r.patience.s() {
                return Reading::StillOut { swings, amplitude: r.amplitude, amplitude_sd: r.amplitude_sd, waited: r.patience };
            }
            let time = Seconds::new((t + normal() * r.time_sd.s()).max(1e-3));
            Reading::Swing { swings, amplitude: r.amplitude, amplitude_end: None, amplitude_sd: r.amplitude_sd, time, time_sd: r.time_sd }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::belief::Known;
    use crate::bench::look::Look;
    use crate::bench::ring::Ring;
    use crate::quantity::{Angle, Inertia};

    fn known() -> Known {
        Known {
            inertia: Inertia::from_kg_m2(0.01),
            ln_j_sd: 0.0,
            unbalance_sd: Unbalance::from_g_mm(1e-3),
            drift_sd: Unbalance::default(),
            arbor_sd: Unbalance::default(),
            dry_friction: Unbalance::default(),
            setting_sd: Angle::from_deg(0.5),
            misread_share: 0.0,
        }
    }

    fn variance(states: &[State]) -> [f64; 2] {
        let n = states.len() as f64;
        [0, 1].map(|d| {
            let mean = states.iter().map(|s| s.residual[d]).sum::<f64>() / n;
            states.iter().map(|s| (s.residual[d] - mean).powi(2)).sum::<f64>() / n
        })
    }

    /// With the rotor known, all that is open is how the weight was set: set elsewhere, it is open as much, across the new radius, and
    /// no more.
    #[test]
    fn a_weight_that_moves_leaves_its_setting_error_behind() {
        let known = known();
        let at = |deg: f64| vec![Weight { moment: Unbalance::from_g_mm(600.0), at: RotorAngle::from_deg(deg) }];
        let (weights, elsewhere) = (at(0.0), at(90.0));
        let ring = Ring::Groove { weights: vec![], graduation: Angle::from_deg(1.0), forbidden: vec![], no_passing: false, fixed: vec![] };
        let reader = Reader {
            settle_sd: Angle::from_deg(1.0),
            time_sd: Seconds::new(0.2),
            amplitude: Angle::from_deg(20.0),
            amplitude_sd: Angle::from_deg(2.0),
            patience: Seconds::new(60.0),
        };
        let looks: [Look; 0] = [];
        let belief = Belief::infer(&known, &looks, &weights, 4000, 3);
        let crowd = Crowd::new(&belief, &reader, 1, 3);
        let situation = Situation {
            known: &known,
            looks: &looks,
            weights_now: &weights,
            ring: &ring,
            allowance: Unbalance::from_g_mm(10.0),
            floor: Unbalance::default(),
            sureness: 0.95,
            reader,
            seed: 3,
        };
        // σ = m·r·σ(angle) = 600 g·mm · 0.5° = 5.236 g·mm, so σ² = 27.4; a thousand draws tell a variance to 4.5 %.
        let expected = (600.0 * 0.5_f64.to_radians()).powi(2);
        let [x, y] = variance(&crowd.moved(&situation, &weights));
        assert!(x < 1e-3 && (y / expected - 1.0).abs() < 0.15, "where it stands: {x} {y}");
        let [x, y] = variance(&crowd.moved(&situation, &elsewhere));
        assert!(y < 1e-3 && (x / expected - 1.0).abs() < 0.15, "set elsewhere: {x} {y}");
    }
}
