//! Trim in place: the unbalance that is left with the wheel on its spindle, from readings of vibration at speed.
//!
//! In: readings of several runs, each with a known change of the weights. Out: the unbalance with its covariance, how strongly the machine
//! answers to unbalance, and whether the readings agree with one another at all.
//!
//! One plane, linear answer: a run with the change `u` shows the vibration `V = α·(U + u)`, with α (complex: size and lag) the same in all
//! runs at one speed. With phase, U and α follow by linear least squares ([`from_phases`]). Without it only |V| is seen; runs with the change
//! at three or more places still fix U ([`from_amplitudes`]). A recording gives the reading itself ([`once_per_turn`]).
//!
//! Source: influence coefficients, Rao, Mechanical Vibrations, ch. 9; runs without phase, derived in docs/physics.md.

mod amplitudes;
mod once_per_turn;
mod phases;
mod turning;

pub use amplitudes::{AmplitudeFit, AmplitudeRun, Closure, from_amplitudes};
pub use once_per_turn::{FEWEST_TURNS, Looked, MOST_SAMPLES, OncePerTurn, Order, Recording, StrongestLine, flat_top_share, once_per_turn};
pub use phases::{Influence, PhaseFit, PhaseRun, from_phases};

use crate::quantity::UnbalanceVector;
use crate::{Fault, Ranged};
use statrs::distribution::{ChiSquared, ContinuousCDF};

/// Most runs of one trim.
pub const MOST_RUNS: usize = 60;

/// Half axes of an ellipse that holds 95 % of a normal vector in the plane, in standard deviations: √(χ²₂ at 95 %) = √(−2 ln 0.05).
pub const HOLDS_95: f64 = 2.447_746_830_680_816;

/// An unbalance that the runs allow.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Found {
    /// The unbalance of the rotor in its first state.
    pub unbalance: UnbalanceVector,
    /// Its covariance, (g·mm)², x along the zero mark.
    pub covariance_g_mm2: [[f64; 2]; 2],
    /// Amplitude of the reading for each g·mm.
    pub answer_per_g_mm: f64,
    /// Its standard deviation.
    pub answer_sd: f64,
    /// Sum of squares of the readings' misfits, each in its standard deviation.
    pub misfit: f64,
}

impl Found {
    /// Root-mean-square length of the error of the unbalance, g·mm: what is left on average after a faultless correction.
    pub fn rms_error_g_mm(&self) -> f64 {
        (self.covariance_g_mm2[0][0] + self.covariance_g_mm2[1][1]).max(0.0).sqrt()
    }

    /// Standard deviations along and across the unbalance, g·mm.
    pub fn along_across_g_mm(&self) -> [f64; 2] {
        let (s, c) = self.unbalance.at().rad().sin_cos();
        let [[xx, xy], [_, yy]] = self.covariance_g_mm2;
        [c * c * xx + 2.0 * c * s * xy + s * s * yy, s * s * xx - 2.0 * c * s * xy + c * c * yy].map(|v| v.max(0.0).sqrt())
    }

    /// The ellipse that holds 95 %: half axes in g·mm, the longer first, and its direction in radians.
    pub fn ellipse_95(&self) -> ([f64; 2], f64) {
        let [[xx, xy], [_, yy]] = self.covariance_g_mm2;
        let (mean, half) = (0.5 * (xx + yy), (0.5 * (xx - yy)).hypot(xy));
        ([mean + half, mean - half].map(|v| HOLDS_95 * v.max(0.0).sqrt()), 0.5 * (2.0 * xy).atan2(xx - yy))
    }
}

/// How well readings that are more than are needed agree.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Agreement {
    /// Readings over and above what is needed.
    pub spare: usize,
    /// Probability that readings as good as stated disagree at least so much; 1 with none to spare and no misfit.
    pub probability: f64,
    /// How many times more they scatter than stated; standard deviations of the result are widened by it (1 at least).
    pub scatter_factor: f64,
}

impl Agreement {
    fn of(misfit: f64, spare: usize) -> Self {
        if spare == 0 {
            // Nothing to spare: a fit is exact, or the readings contradict one another.
            let probability = if misfit < 1e-6 { 1.0 } else { tail(misfit, 1) };
            return Self { spare, probability, scatter_factor: misfit.sqrt().max(1.0) };
        }
        Self { spare, probability: tail(misfit, spare), scatter_factor: (misfit / spare as f64).sqrt().max(1.0) }
    }
}

fn tail(misfit: f64, freedom: usize) -> f64 {
    // Freedom of one at least, so the distribution exists.
    ChiSquared::new(freedom as f64).map_or(1.0, |c| c.sf(misfit)).clamp(0.0, 1.0)
}

/// Scatter of repeated runs: runs with the same change.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Repeats {
    /// Repeats over and above the first of each change.
    pub repeats: usize,
    /// Scatter in units of the stated standard deviation (root mean square; 1: as stated).
    pub times_stated: f64,
    /// Probability that readings as good as stated scatter at least so much.
    pub probability: f64,
}

/// Scatter of the readings among runs with the same change; `None` without repeats. A reading has one or more components, each with its
/// standard deviation; runs that are compared are held to the mean of theirs.
pub(crate) fn repeats(trials: &[UnbalanceVector], readings: &[Vec<(f64, f64)>]) -> Option<Repeats> {
    let (mut sum, mut freedom, mut repeats) = (0.0, 0_usize, 0_usize);
    let mut taken = vec![false; trials.len()];
    for i in 0..trials.len() {
        if taken[i] {
            continue;
        }
        let same: Vec<usize> = (i..trials.len()).filter(|&k| (trials[k] - trials[i]).size().g_mm() <= 1e-9 * scale(trials)).collect();
        for &k in &same {
            taken[k] = true;
        }
        if same.len() < 2 {
            continue;
        }
        repeats += same.len() - 1;
        let components = (0..readings[i].len()).map(|c| same.iter().map(|&k| readings[k][c]).collect::<Vec<(f64, f64)>>());
        for component in components {
            let mean_of = |of: fn(&(f64, f64)) -> f64| component.iter().map(of).sum::<f64>() / component.len() as f64;
            let (mean, sd) = (mean_of(|r| r.0), mean_of(|r| r.1));
            sum += component.iter().map(|r| ((r.0 - mean) / sd).powi(2)).sum::<f64>();
            freedom += same.len() - 1;
        }
    }
    (freedom > 0).then(|| Repeats { repeats, times_stated: (sum / freedom as f64).sqrt(), probability: tail(sum, freedom) })
}

/// The largest change, g·mm.
fn scale(trials: &[UnbalanceVector]) -> f64 {
    trials.iter().map(|t| t.size().g_mm()).fold(0.0, f64::max)
}

/// Checks that both ways of reading share. Gives the scale of the changes, g·mm.
fn checked(trials: &[UnbalanceVector], least: usize, why: &str) -> Result<f64, Fault> {
    if trials.len() < least || trials.len() > MOST_RUNS {
        return Err(Fault::new("runs", trials.len(), format!("{least} to {MOST_RUNS} runs"), why));
    }
    for (i, t) in trials.iter().enumerate() {
        t.size().g_mm().within(&format!("runs[{i}].trial"), 0.0, 1e8, "g·mm", "mass times radius of what was added in this run")?;
    }
    Ok(scale(trials))
}

fn checked_amplitude(i: usize, amplitude: f64, sd: f64) -> Result<(), Fault> {
    let at = |f: Fault| f.inside(&format!("runs[{i}]"));
    amplitude.within("amplitude", 0.0, 1e12, "", "an amplitude is zero or positive, in one unit for all runs").map_err(at)?;
    sd.within("amplitude_sd", 1e-15, 1e12, "", "a standard deviation must be positive: how well does the reading repeat?").map_err(at)?;
    Ok(())
}
