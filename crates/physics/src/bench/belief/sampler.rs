//! Particles of the posterior: looks are taken in one after another, each in as many tempered steps as keeps half of the
//! particles effective; between steps the particles move by differential evolution within the crowd.
//!
//! A Gauss-Newton ellipse would be false for the rings and wedges that bearings and swings alone leave; particles take any
//! shape. Sources: Chopin 2002 (sequential sampling for static models), Del Moral, Doucet & Jasra 2006 (tempering),
//! ter Braak 2006 (differential evolution moves).

use super::model::Model;
use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, StandardNormal};
use rand_xoshiro::Xoshiro256PlusPlus;
use rayon::prelude::*;

/// Particles per random stream: results do not depend on the number of threads.
const BLOCK: usize = 256;
/// Sweeps of moves after each tempered step, and after the last one.
const SWEEPS: usize = 5;
const LAST_SWEEPS: usize = 30;

/// Particles in standard units, equally weighted.
#[derive(Clone, Debug)]
pub(super) struct Crowd {
    pub(super) n: usize,
    pub(super) dim: usize,
    pub(super) z: Vec<f64>,
    /// ln of the probability density of all that was seen.
    pub(super) log_evidence: f64,
}

impl Crowd {
    pub(super) fn particle(&self, i: usize) -> &[f64] {
        &self.z[i * self.dim..(i + 1) * self.dim]
    }
    pub(super) fn particles(&self) -> impl ExactSizeIterator<Item = &[f64]> {
        self.z.chunks_exact(self.dim)
    }
}

fn stream(seed: u64, step: u64, block: u64) -> Xoshiro256PlusPlus {
    // Three odd multipliers (from SplitMix64 and its kin) keep the streams apart.
    Xoshiro256PlusPlus::seed_from_u64(
        seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ step.wrapping_mul(0xBF58_476D_1CE4_E5B9) ^ block.wrapping_mul(0x94D0_49BB_1331_11EB),
    )
}

/// Sample the posterior of `model` without the look `without`, if any.
pub(super) fn sample(model: &Model, n: usize, seed: u64, without: Option<usize>) -> Crowd {
    let dim = model.layout.dim;
    let mut z = vec![0.0; n * dim];
    z.par_chunks_mut(BLOCK * dim).enumerate().for_each(|(b, block)| {
        let mut rng = stream(seed, 0, b as u64);
        for v in block {
            *v = StandardNormal.sample(&mut rng);
        }
    });
    let mut crowd = Crowd { n, dim, z, log_evidence: 0.0 };
    let looks: Vec<usize> = (0..model.looks.len()).filter(|&i| Some(i) != without).collect();
    let mut base = vec![0.0; n];
    let mut step = 1;
    for (count, &newest) in looks.iter().enumerate() {
        let before = &looks[..count];
        let active = model.looks[newest].active;
        let mut fresh: Vec<f64> = crowd.z.par_chunks_exact(dim).map(|z| model.log_density(&model.looks[newest], z)).collect();
        let mut beta = 0.0;
        while beta < 1.0 {
            let next = next_beta(&fresh, beta);
            let weights = relative_weights(&fresh, next - beta, &mut crowd.log_evidence);
            beta = next;
            let kept = systematic(&weights, &mut stream(seed, step, u64::MAX));
            crowd.z = kept.iter().flat_map(|&i| crowd.z[i * dim..(i + 1) * dim].iter().copied()).collect();
            base = kept.iter().map(|&i| base[i]).collect();
            fresh = kept.iter().map(|&i| fresh[i]).collect();
            let last = beta >= 1.0 && count + 1 == looks.len();
            for _ in 0..if last { LAST_SWEEPS } else { SWEEPS } {
                step += 1;
                sweep(model, &mut crowd, &mut base, &mut fresh, before, newest, beta, active, seed, step);
            }
            step += 1;
        }
        for (b, f) in base.iter_mut().zip(&fresh) {
            *b += f;
        }
    }
    crowd
}

/// The largest power of the newest look that leaves at least half of the particles effective.
fn next_beta(fresh: &[f64], beta: f64) -> f64 {
    let ess = |b: f64| {
        let top = fresh.iter().fold(f64::NEG_INFINITY, |m, &v| m.max(v));
        let (mut s, mut s2) = (0.0, 0.0);
        for &v in fresh {
            let w = ((v - top) * (b - beta)).exp();
            s += w;
            s2 += w * w;
        }
        s * s / s2 / fresh.len() as f64
    };
    if ess(1.0) >= 0.5 {
        return 1.0;
    }
    let (mut lo, mut hi) = (beta, 1.0);
    for _ in 0..30 {
        let mid = 0.5 * (lo + hi);
        if ess(mid) >= 0.5 { lo = mid } else { hi = mid }
    }
    // A step that is too small to tell from none would never end.
    lo.max(beta + 1e-6).min(1.0)
}

fn relative_weights(fresh: &[f64], power: f64, log_evidence: &mut f64) -> Vec<f64> {
    let top = fresh.iter().fold(f64::NEG_INFINITY, |m, &v| m.max(v));
    let w: Vec<f64> = fresh.iter().map(|&v| ((v - top) * power).exp()).collect();
    let sum: f64 = w.iter().sum();
    *log_evidence += top * power + (sum / fresh.len() as f64).ln();
    w.iter().map(|v| v / sum).collect()
}

/// Systematic resampling: n places, evenly spaced with one random shift.
pub(super) fn systematic(weights: &[f64], rng: &mut Xoshiro256PlusPlus) -> Vec<usize> {
    let n = weights.len();
    let shift: f64 = rng.random();
    let mut out = Vec::with_capacity(n);
    let (mut i, mut sum) = (0, weights[0]);
    for k in 0..n {
        let at = (k as f64 + shift) / n as f64;
        while sum < at && i + 1 < n {
            i += 1;
            sum += weights[i];
        }
        out.push(i);
    }
    out
}

/// One move of every particle along the difference of two others, accepted by Metropolis' rule.
#[allow(clippy::too_many_arguments)]
fn sweep(
    model: &Model,
    crowd: &mut Crowd,
    base: &mut [f64],
    fresh: &mut [f64],
    before: &[usize],
    newest: usize,
    beta: f64,
    active: usize,
    seed: u64,
    step: u64,
) {
    let (n, dim, core) = (crowd.n, crowd.dim, model.layout.core);
    let old = crowd.z.clone();
    let old = &old;
    crowd.z.par_chunks_mut(BLOCK * dim).zip(base.par_chunks_mut(BLOCK)).zip(fresh.par_chunks_mut(BLOCK)).enumerate().for_each(
        |(b, ((block, base), fresh))| {
            let mut rng = stream(seed, step, b as u64);
            let mut trial = vec![0.0; dim];
            for ((z, base), fresh) in block.chunks_exact_mut(dim).zip(base).zip(fresh) {
                // Half of the moves leave the setting errors alone: they are hardly told by any look.
                let moved = if active > core && rng.random_bool(0.5) { active } else { core };
                let (p, q) = (rng.random_range(0..n), rng.random_range(0..n));
                let gamma = if rng.random_bool(0.1) { 1.0 } else { 2.38 / (2.0 * moved as f64).sqrt() * rng.random_range(0.3..1.1) };
                trial.copy_from_slice(z);
                let mut prior = 0.0;
                for d in 0..moved {
                    let jitter: f64 = StandardNormal.sample(&mut rng);
                    trial[d] = z[d] + gamma * (old[p * dim + d] - old[q * dim + d]) + 1e-5 * jitter;
                    prior += 0.5 * (z[d] * z[d] - trial[d] * trial[d]);
                }
                let threshold: f64 = rng.random::<f64>().ln();
                let new_fresh = model.log_density(&model.looks[newest], &trial);
                // The newest look is the sharpest as a rule: refuse early what it can't allow.
                let partial = prior + beta * (new_fresh - *fresh);
                let room: f64 = before.iter().map(|&i| model.looks[i].bound).sum::<f64>() - *base;
                if partial + room < threshold {
                    continue;
                }
                let new_base: f64 = before.iter().map(|&i| model.log_density(&model.looks[i], &trial)).sum();
                if partial + new_base - *base >= threshold {
                    z.copy_from_slice(&trial);
                    *base = new_base;
                    *fresh = new_fresh;
                }
            }
        },
    );
}
