//! What is believed of rotor and stand after any mix of looks.
//!
//! In: what was known before ([`Known`]) and the looks. Out: a [`Belief`], a crowd of equally likely states, with its
//! summaries: vectors with covariance and quantiles, probability within an allowance, a drawn region, doubts about looks.

mod kernel;
mod model;
mod region;
mod sampler;
mod summary;
mod swing_time;

pub use region::{Region, RegionShape};
pub use summary::{Doubt, Quantiles, Unknown, VectorSummary};

use super::look::{Look, Reading, Weight};
use crate::quantity::{Angle, Inertia, Unbalance};
use kernel::Kernel;
use model::Model;
use rand::SeedableRng;
use rand_xoshiro::Xoshiro256PlusPlus;
use rayon::prelude::*;
use sampler::Crowd;
use swing_time::SwingTable;

pub(crate) use kernel::swing_factor;

/// What is known of rotor and stand before the first look. All priors are normal and independent, with mean zero.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Known {
    /// Inertia about the arbor's axis (on rolling ways with mass times arbor radius squared added).
    pub inertia: Inertia,
    /// Standard deviation of ln(inertia / given inertia); 0: exact.
    pub ln_j_sd: f64,
    /// Standard deviation of each component of the unbalance.
    pub unbalance_sd: Unbalance,
    /// Standard deviation of the drift torque; 0: none.
    pub drift_sd: Unbalance,
    /// Dry friction.
    pub dry_friction: Unbalance,
    /// Standard deviation of each component of the arbor's own error; 0: none.
    pub arbor_sd: Unbalance,
    /// Standard deviation of the angle to which a weight is set; 0: exact.
    pub setting_sd: Angle,
    /// Share of looks that are expected to be misread; 0: looks are guarded but not judged.
    pub misread_share: f64,
}

/// The posterior as equally likely states.
#[derive(Clone, Debug)]
pub struct Belief {
    model: Model,
    crowd: Crowd,
    doubts: Vec<Doubt>,
}

/// A look whose mean log density lies this far under its peak is surprising enough to judge all looks (r ≈ 2.4 sd).
const SURPRISE: f64 = 3.0;
/// Probability of a misreading from which a look is named to the operator.
const NAMED_DOUBT: f64 = 0.2;

impl Belief {
    /// Infer from looks. `weights_now`: where the weights are now; a weight that moved since the last look carries a
    /// new setting error.
    ///
    /// Values are expected to be in range (the door checks them). `n` particles: the mean is good to 1/√n of a standard
    /// deviation. The result depends on `seed`, not on the number of threads.
    pub fn infer(known: &Known, looks: &[Look], weights_now: &[Weight], n: usize, seed: u64) -> Self {
        let model = Model::new(known, looks, weights_now);
        let crowd = sampler::sample(&model, n, seed, None);
        let mut belief = Self { model, crowd, doubts: vec![] };
        if known.misread_share > 0.0 && looks.len() > 1 && belief.surprised() {
            belief.judge_looks(known.misread_share, n, seed);
        }
        belief
    }

    fn surprised(&self) -> bool {
        self.model.looks.iter().any(|look| {
            let mean: f64 = self.crowd.particles().map(|z| look.peak - self.model.log_density(look, z)).sum::<f64>() / self.crowd.n as f64;
            mean > SURPRISE
        })
    }

    /// Weigh "all looks are good" against "this one was misread", for each look, and mix the crowds accordingly.
    fn judge_looks(&mut self, share: f64, n: usize, seed: u64) {
        let count = self.model.looks.len();
        let without: Vec<Crowd> =
            (0..count).into_par_iter().map(|i| sampler::sample(&self.model, n, seed.wrapping_add(1 + i as u64), Some(i))).collect();
        let mut log_weights = vec![(1.0 - share).ln() + self.crowd.log_evidence];
        log_weights.extend(without.iter().zip(&self.model.looks).map(|(c, look)| share.ln() + look.misread_density.ln() + c.log_evidence));
        let top = log_weights.iter().fold(f64::NEG_INFINITY, |m, &v| m.max(v));
        let sum: f64 = log_weights.iter().map(|v| (v - top).exp()).sum();
        let probability: Vec<f64> = log_weights.iter().map(|v| (v - top).exp() / sum).collect();

        let all: Vec<&Crowd> = std::iter::once(&self.crowd).chain(&without).collect();
        let weights: Vec<f64> = probability.iter().flat_map(|p| std::iter::repeat_n(p / n as f64, n)).collect();
        let mut rng = Xoshiro256PlusPlus::seed_from_u64(seed ^ 0xD0_0B7);
        let picked = pick(&weights, n, &mut rng);
        let z = picked.iter().flat_map(|&i| all[i / n].particle(i % n).iter().copied()).collect();
        self.crowd = Crowd { n, dim: self.crowd.dim, z, log_evidence: top + sum.ln() };
        self.doubts = probability[1..]
            .iter()
            .enumerate()
            .filter(|(_, p)| **p >= NAMED_DOUBT)
            .map(|(look, &probability)| Doubt { look, probability })
            .collect();
    }

    /// Number of particles.
    pub fn len(&self) -> usize {
        self.crowd.n
    }

    /// Never: a belief has particles.
    pub fn is_empty(&self) -> bool {
        self.crowd.n == 0
    }

    /// Looks that were probably misread.
    pub fn doubts(&self) -> &[Doubt] {
        &self.doubts
    }

    /// A reading made ready to weigh states with.
    pub(crate) fn kernel(&self, reading: &Reading) -> Kernel {
        self.model.kernel(reading)
    }

    /// Log density of a reading, given a state.
    pub(crate) fn log_density_of(&self, kernel: &Kernel, state: &State) -> f64 {
        kernel.log_density(&self.model.stand, state.residual, state.drift, (state.j / self.model.stand.j).ln())
    }

    /// Where the heavy side may rest, rad from straight down: ends of the dead band. `None`: nowhere.
    pub(crate) fn rest_band(&self, state: &State) -> Option<[f64; 2]> {
        let [x, y] = state.residual;
        kernel::rest_band((x * x + y * y).sqrt(), state.drift, self.model.stand.tc)
    }

    /// One state: rotor unbalance, residual now, ln of the inertia's scale, drift, all in g·mm.
    pub(crate) fn state(&self, i: usize) -> State {
        let z = self.crowd.particle(i);
        State { residual: self.model.residual_now(z), j: self.model.inertia_g_mm_s2(z), drift: self.model.drift(z) }
    }

    /// What the setting error of each weight, as it stands now, adds to the residual of a state, g·mm; nothing for weights set without error.
    pub(crate) fn setting_errors(&self, i: usize) -> impl Iterator<Item = (usize, [f64; 2])> + '_ {
        self.model.now.setting_errors(self.crowd.particle(i))
    }
}

/// Minus the log of prior times likelihood at one state: components as in [`Belief::moments`], setting errors zero.
///
/// The prior's constants are left out, those of the looks are kept. For checks against other programs.
///
/// # Panics
/// When `state` has not one value for each unknown.
pub fn minus_log_posterior(known: &Known, looks: &[Look], state: &[f64]) -> f64 {
    let model = Model::new(known, looks, &[]);
    let z = model.standardised(state);
    0.5 * z.iter().map(|v| v * v).sum::<f64>() - model.looks.iter().map(|look| model.log_density(look, &z)).sum::<f64>()
}

/// One possible state, as the next step needs it; g·mm and g·mm·s².
#[derive(Clone, Copy, Debug)]
pub(crate) struct State {
    pub(crate) residual: [f64; 2],
    pub(crate) j: f64,
    pub(crate) drift: f64,
}

/// Times of free swings from one amplitude, for looks that are only planned; dry friction's share is left out.
pub(crate) struct SwingTimes(SwingTable);

impl SwingTimes {
    pub(crate) fn new(amplitude: Angle, sd: Angle) -> Self {
        Self(SwingTable::new(amplitude.rad(), sd.rad(), &[1.0]))
    }

    /// Time and its standard deviation from that of the amplitude, s, mean of letting go on either side; `None`: no such swing.
    pub(crate) fn of(&self, state: &State, swings: f64) -> Option<[f64; 2]> {
        let [x, y] = state.residual;
        let size = (x * x + y * y).sqrt();
        if state.drift.abs() >= size {
            return None;
        }
        let unit = swings * (state.j / size).sqrt();
        let (a, b) = (self.0.at(state.drift / size)?, self.0.at(-state.drift / size)?);
        Some([unit * (a[0] + b[0]), unit * (a[1] + b[1])])
    }
}

/// Systematic choice of `n` from more or fewer weights.
fn pick(weights: &[f64], n: usize, rng: &mut Xoshiro256PlusPlus) -> Vec<usize> {
    use rand::RngExt;
    let shift: f64 = rng.random();
    let total: f64 = weights.iter().sum();
    let mut out = Vec::with_capacity(n);
    let (mut i, mut sum) = (0, weights[0]);
    for k in 0..n {
        let at = (k as f64 + shift) / n as f64 * total;
        while sum < at && i + 1 < weights.len() {
            i += 1;
            sum += weights[i];
        }
        out.push(i);
    }
    out
}
