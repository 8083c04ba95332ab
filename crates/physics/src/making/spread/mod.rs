//! Spread: before a chip is cut, how many of the stands made to these tolerances will do, and which tolerance matters.
//!
//! In: the stand as drawn, tolerances, a floor that is asked for, a seed. Out: the share of stands that reach it, the floors, each tolerance's
//! share of their variance, which one to tighten and which to loosen, each tried. Every stand is floated on both its films.
//!
//! Points: Sobol' sequence, scrambled after Owen (Burley, Practical Hash-based Owen Scrambling, 2020), one by its index, so that the result is
//! the same on any number of threads. What one set-up makes of both saddles is correlated by a Gaussian copula. Shares: first-order
//! sensitivity, Var(E(floor | tolerance))/Var(floor) (Sobol', 1993), from the same points by equal bins with Kelley's correction ε² for
//! their number (1935), which takes no more solves and sees what is not monotone.

mod draw;
mod share;

pub use draw::{Shape, Tolerance, Tolerances, Which};

use super::made::{Doing, Made, Workpiece};
use crate::{Fault, Ranged};
use rayon::prelude::*;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

/// Share of the variance below which a tolerance is tried wider.
pub const LITTLE_SHARE: f64 = 0.02;

/// A question about spread.
#[derive(Clone, Debug, PartialEq)]
pub struct Spread {
    /// The stand as drawn, its rotor and setting.
    pub work: Workpiece,
    /// What the shop holds.
    pub tolerances: Tolerances,
    /// Stands that are drawn: 64 to 16,384; a power of two fills the space evenly.
    pub samples: u32,
    /// Seed.
    pub seed: u32,
    /// Floor that is asked for, g·mm.
    pub target_g_mm: f64,
}

/// How a lot of stands came out.
#[derive(Clone, Debug, PartialEq)]
pub struct Lot {
    /// Floor of each stand that floats, in the order of the points, g·mm.
    pub floors_g_mm: Vec<f64>,
    /// Stands that do not float or touch.
    pub fail: usize,
    /// Share that floats with the floor that is asked for.
    pub yields: f64,
    /// Interval of that share at 95 % as if the stands had been drawn at random (Wilson, 1927); quasi-random ones lie nearer.
    pub yield_95: [f64; 2],
}

impl Lot {
    /// Floor that a share of the floating stands stays below, g·mm; none if no stand floats.
    pub fn quantile_g_mm(&self, share: f64) -> Option<f64> {
        let mut sorted = self.floors_g_mm.clone();
        sorted.sort_by(f64::total_cmp);
        let at = (share.clamp(0.0, 1.0) * sorted.len().saturating_sub(1) as f64).round() as usize;
        sorted.get(at).copied()
    }
}

/// What a tolerance contributes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Contribution {
    /// Which.
    pub which: Which,
    /// First-order share of the variance of the floor, 0 to 1.
    pub share: f64,
}

/// A changed set of tolerances and what came of it, with the same points.
#[derive(Clone, Debug, PartialEq)]
pub struct Tried {
    /// What was changed.
    pub which: Vec<Which>,
    /// By what factor.
    pub factor: f64,
    /// How it came out.
    pub lot: Lot,
}

/// What was found.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// The stand exactly as drawn.
    pub drawn: Doing,
    /// As toleranced.
    pub lot: Lot,
    /// Each tolerance's share, largest first.
    pub contributions: Vec<Contribution>,
    /// The one with the largest share, halved.
    pub tightened: Option<Tried>,
    /// All that matter little, doubled together; none if all matter.
    pub loosened: Option<Tried>,
}

impl Spread {
    /// Make the stands. `keep_going` is told the share that is done and is asked whether to go on; it is called from several threads.
    ///
    /// # Errors
    /// `Ok(None)` when `keep_going` said no. A [`Fault`] for values out of range, or a stand that does not float as drawn.
    pub fn run(&self, keep_going: &(dyn Fn(f64) -> bool + Sync)) -> Result<Option<Found>, Fault> {
        f64::from(self.samples).within("samples", 64.0, 16_384.0, "", "stands that are drawn")?;
        self.target_g_mm.within("target_g_mm", 1e-6, 1e7, "g·mm", "floor that is asked for")?;
        self.tolerances.check()?;
        let drawn = self.work.doing(&Made::default())?;
        let Some(lot) = self.lot(&self.tolerances, &drawn, [0.0, 0.5], keep_going) else { return Ok(None) };
        let contributions = share::contributions(&lot, &self.tolerances, self.seed);
        let mut out = Found { drawn, lot: lot.summed(self.target_g_mm), contributions, tightened: None, loosened: None };
        let most = out.contributions.first().filter(|c| c.share > LITTLE_SHARE).map(|c| vec![c.which]);
        let little = out.contributions.iter().filter(|c| c.share < LITTLE_SHARE).map(|c| c.which).collect::<Vec<_>>();
        for (which, factor, shares) in [(most.unwrap_or_default(), 0.5, [0.5, 0.75]), (little, 2.0, [0.75, 1.0])] {
            if which.is_empty() {
                continue;
            }
            let changed = self.tolerances.scaled(&which, factor);
            let Some(lot) = self.lot(&changed, &out.drawn, shares, keep_going) else { return Ok(None) };
            let tried = Tried { which, factor, lot: lot.summed(self.target_g_mm) };
            if factor < 1.0 { out.tightened = Some(tried) } else { out.loosened = Some(tried) }
        }
        keep_going(1.0);
        Ok(Some(out))
    }

    /// All stands in the order of their points, or nothing when told to stop.
    fn lot(&self, tolerances: &Tolerances, drawn: &Doing, shares: [f64; 2], keep_going: &(dyn Fn(f64) -> bool + Sync)) -> Option<Drawn> {
        let (stopped, done) = (AtomicBool::new(false), AtomicUsize::new(0));
        let start = drawn.float.place();
        let floors: Vec<Option<Option<f64>>> = (0..self.samples)
            .into_par_iter()
            .map(|i| {
                if stopped.load(Ordering::Relaxed) {
                    return None;
                }
                let made = tolerances.made(&tolerances.point(i, self.seed));
                // A stand that does not float is one that will not do, not a fault of the question.
                let floor = self.work.doing_near(&made, start).ok().map(|d| d.floor_g_mm);
                let share = (done.fetch_add(1, Ordering::Relaxed) + 1) as f64 / f64::from(self.samples);
                if !keep_going(shares[0] + (shares[1] - shares[0]) * share) {
                    stopped.store(true, Ordering::Relaxed);
                }
                Some(floor)
            })
            .collect();
        if stopped.into_inner() { None } else { floors.into_iter().collect::<Option<Vec<_>>>().map(Drawn) }
    }
}

/// Floors by point; none where a stand does not float.
struct Drawn(Vec<Option<f64>>);

impl Drawn {
    fn summed(&self, target_g_mm: f64) -> Lot {
        let floors_g_mm: Vec<f64> = self.0.iter().flatten().copied().collect();
        let (n, good) = (self.0.len() as f64, floors_g_mm.iter().filter(|f| **f <= target_g_mm).count() as f64);
        Lot { fail: self.0.len() - floors_g_mm.len(), floors_g_mm, yields: good / n, yield_95: wilson_95(good, n) }
    }
}

/// Interval of a share at 95 % (Wilson's score).
fn wilson_95(good: f64, n: f64) -> [f64; 2] {
    let z2 = 1.959_963_984_540_054_f64.powi(2);
    let p = good / n;
    let middle = (p + z2 / (2.0 * n)) / (1.0 + z2 / n);
    let half = (z2 * (p * (1.0 - p) / n + z2 / (4.0 * n * n))).sqrt() / (1.0 + z2 / n);
    [(middle - half).max(0.0), (middle + half).min(1.0)]
}
