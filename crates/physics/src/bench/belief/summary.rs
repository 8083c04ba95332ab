//! Numbers from the crowd: means, covariances, quantiles, probabilities, and what could not be told.

use super::Belief;
use crate::quantity::{Unbalance, UnbalanceVector};

/// A vector's mean, covariance and size quantiles.
#[derive(Clone, Copy, Debug)]
pub struct VectorSummary {
    /// Mean.
    pub mean: UnbalanceVector,
    /// Covariance of x and y, (g·mm)².
    pub covariance_g2_mm2: [[f64; 2]; 2],
    /// Quantiles of the size.
    pub size: Quantiles,
}

/// 5 %, 50 % and 95 % quantiles of a size.
#[derive(Clone, Copy, Debug)]
pub struct Quantiles {
    /// 5 %.
    pub p05: Unbalance,
    /// 50 %.
    pub p50: Unbalance,
    /// 95 %.
    pub p95: Unbalance,
}

/// A look that does not fit the others.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Doubt {
    /// Which look, from 0.
    pub look: usize,
    /// Probability that it was misread.
    pub probability: f64,
}

/// Something that the looks leave open.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unknown {
    /// Size of the unbalance: a timed swing, or a settle after a known move, tells it.
    Size,
    /// Direction of the unbalance: a settle tells it.
    Direction,
    /// Direction of what is left now: a settle tells it.
    ResidualDirection,
    /// Drift torque, where it matters: turn the rotor and hold, or a swing log.
    Drift,
    /// Inertia, where it matters: a swing with a known trial weight.
    Inertia,
    /// The arbor's own error: turn the rotor on the arbor by half a turn and look again.
    Arbor,
}

/// Mean and standard deviation.
pub(super) fn mean_sd(values: impl Iterator<Item = f64>) -> (f64, f64) {
    let (mut n, mut mean, mut sum2) = (0.0, 0.0, 0.0);
    for v in values {
        // Welford's update: no cancellation for a narrow spread about a large mean.
        n += 1.0;
        let d = v - mean;
        mean += d / n;
        sum2 += d * (v - mean);
    }
    (mean, (sum2 / n).sqrt())
}

/// The q-quantile of sorted values, linear between neighbours.
fn quantile(sorted: &[f64], q: f64) -> f64 {
    let at = q * (sorted.len() - 1) as f64;
    let (i, f) = (at.floor() as usize, at.fract());
    sorted[i] + f * (sorted[(i + 1).min(sorted.len() - 1)] - sorted[i])
}

fn summarise(v: &[[f64; 2]]) -> VectorSummary {
    let n = v.len() as f64;
    let m = [v.iter().map(|p| p[0]).sum::<f64>() / n, v.iter().map(|p| p[1]).sum::<f64>() / n];
    let mut c = [[0.0; 2]; 2];
    for p in v {
        let d = [p[0] - m[0], p[1] - m[1]];
        for i in 0..2 {
            for j in 0..2 {
                c[i][j] += d[i] * d[j] / n;
            }
        }
    }
    let mut sizes: Vec<f64> = v.iter().map(|p| p[0].hypot(p[1])).collect();
    sizes.sort_by(f64::total_cmp);
    let q = |p| Unbalance::from_g_mm(quantile(&sizes, p));
    VectorSummary {
        mean: UnbalanceVector::from_g_mm(m[0], m[1]),
        covariance_g2_mm2: c,
        size: Quantiles { p05: q(0.05), p50: q(0.5), p95: q(0.95) },
    }
}

/// Length of the mean of unit vectors: 1 for one direction, 0 for none.
fn concentration(v: &[[f64; 2]]) -> f64 {
    let mut s = [0.0; 2];
    for p in v {
        let r = p[0].hypot(p[1]).max(f64::MIN_POSITIVE);
        s[0] += p[0] / r;
        s[1] += p[1] / r;
    }
    s[0].hypot(s[1]) / v.len() as f64
}

impl Belief {
    pub(super) fn unbalances(&self) -> Vec<[f64; 2]> {
        self.crowd.particles().map(|z| [z[0] * self.model.u_sd, z[1] * self.model.u_sd]).collect()
    }

    pub(super) fn residuals(&self) -> Vec<[f64; 2]> {
        self.crowd.particles().map(|z| self.model.residual_now(z)).collect()
    }

    /// The rotor's unbalance without its weights.
    pub fn unbalance(&self) -> VectorSummary {
        summarise(&self.unbalances())
    }

    /// What is left with the weights where they are now, their setting errors included.
    pub fn residual(&self) -> VectorSummary {
        summarise(&self.residuals())
    }

    /// ln of the inertia's scale: mean and standard deviation.
    pub fn ln_inertia_scale(&self) -> (f64, f64) {
        mean_sd(self.crowd.particles().map(|z| self.model.ln_j_scale(z)))
    }

    /// Drift torque in g·mm: mean and standard deviation.
    pub fn drift(&self) -> (f64, f64) {
        mean_sd(self.crowd.particles().map(|z| self.model.drift(z)))
    }

    /// The arbor's own error, in the arbor's frame, if it was among the unknowns.
    pub fn arbor_error(&self) -> Option<VectorSummary> {
        self.model.layout.arbor?;
        Some(summarise(&self.crowd.particles().filter_map(|z| self.model.arbor(z)).collect::<Vec<_>>()))
    }

    /// Probability that the residual now is within `allowance`.
    pub fn p_within(&self, allowance: Unbalance) -> f64 {
        let limit = allowance.g_mm();
        self.residuals().iter().filter(|r| r[0].hypot(r[1]) <= limit).count() as f64 / self.crowd.n as f64
    }

    /// Means and covariance of all core components as they are named in `docs/physics.md`: ux, uy, then ln J, drift,
    /// arbor x and y as far as they are unknowns.
    pub fn moments(&self) -> (Vec<f64>, Vec<Vec<f64>>) {
        let rows: Vec<Vec<f64>> = self
            .crowd
            .particles()
            .map(|z| {
                let mut row = vec![z[0] * self.model.u_sd, z[1] * self.model.u_sd];
                if self.model.layout.ln_j.is_some() {
                    row.push(self.model.ln_j_scale(z));
                }
                if self.model.layout.drift.is_some() {
                    row.push(self.model.drift(z));
                }
                row.extend(self.model.arbor(z).into_iter().flatten());
                row
            })
            .collect();
        let (n, d) = (rows.len() as f64, rows[0].len());
        let mean: Vec<f64> = (0..d).map(|i| rows.iter().map(|r| r[i]).sum::<f64>() / n).collect();
        let cov =
            (0..d).map(|i| (0..d).map(|j| rows.iter().map(|r| (r[i] - mean[i]) * (r[j] - mean[j])).sum::<f64>() / n).collect()).collect();
        (mean, cov)
    }

    /// What the looks leave open, judged against what was known before and, where it matters, against `allowance`.
    pub fn unknowns(&self, allowance: Option<Unbalance>) -> Vec<Unknown> {
        let mut out = vec![];
        let u = self.unbalance();
        if u.size.p95.g_mm() > 2.0 * u.size.p05.g_mm() {
            out.push(Unknown::Size);
        }
        let inside = allowance.is_some_and(|a| self.residual().size.p95.g_mm() <= a.g_mm());
        if concentration(&self.unbalances()) < 0.9 {
            out.push(Unknown::Direction);
        } else if !inside && concentration(&self.residuals()) < 0.8 {
            out.push(Unknown::ResidualDirection);
        }
        let matters = |sd: f64| allowance.is_none_or(|a| 2.0 * sd > 0.5 * a.g_mm());
        let layout = &self.model.layout;
        let still_prior = |at: usize| mean_sd(self.crowd.particles().map(|z| z[at])).1 > 0.7;
        if layout.drift.is_some_and(still_prior) && matters(self.drift().1) {
            out.push(Unknown::Drift);
        }
        if layout.ln_j.is_some_and(still_prior) && matters(self.ln_inertia_scale().1 * self.residual().size.p50.g_mm()) {
            out.push(Unknown::Inertia);
        }
        if layout.arbor.is_some_and(still_prior) {
            out.push(Unknown::Arbor);
        }
        out
    }
}
