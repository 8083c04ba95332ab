//! Runs with phase: influence coefficient in one plane.
//!
//! V = α·(U + u) = b + α·u is linear in the complex b and α: least squares on the two components of each reading, along and across the
//! phasor, each divided by its own standard deviation; then U = b/α, with its covariance to first order.

use super::{Agreement, Found, Repeats, checked, checked_amplitude, repeats};
use crate::numerics::least_squares::{covariance, inverse_of_triangle, upper_triangle};
use crate::numerics::wrap_pi;
use crate::quantity::UnbalanceVector;
use crate::{Fault, Ranged};
use nalgebra::{Complex, DMatrix};

/// One run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PhaseRun {
    /// What was added to the rotor's first state; zero for a run as it is.
    pub trial: UnbalanceVector,
    /// Amplitude read, in any unit, the same in all runs.
    pub amplitude: f64,
    /// Its standard deviation.
    pub amplitude_sd: f64,
    /// Phase, radians, growing with the rotor angle of the unbalance.
    pub phase_rad: f64,
    /// Its standard deviation, radians.
    pub phase_sd_rad: f64,
}

/// How the machine answers at this speed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Influence {
    /// Amplitude for each g·mm.
    pub per_g_mm: f64,
    /// Phase of the reading less the angle of the unbalance, radians in (−π, π].
    pub turned_rad: f64,
    /// Standard deviation, as a share of the amplitude; in radians that of the phase.
    pub rel_sd: f64,
}

/// What the runs allow.
#[derive(Clone, Debug, PartialEq)]
pub struct PhaseFit {
    /// The unbalance.
    pub found: Found,
    /// How the machine answers: can be given to a later trim of the same machine at the same speed.
    pub influence: Influence,
    /// How the spare readings agree.
    pub agreement: Agreement,
    /// The same, were the phases counted the other way round.
    pub other_sense: Agreement,
    /// Scatter of repeated runs.
    pub repeats: Option<Repeats>,
}

/// Fewest standard deviations by which the trial's effect must stand out.
const TELLS: f64 = 3.0;

/// The unbalance from runs with phase; with the machine's answer known from earlier, one run as it is will do.
///
/// # Errors
/// A [`Fault`] for no run, for one run or all with the same change where nothing is known, for a value out of its range, and for a trial
/// whose effect does not stand out of the scatter.
pub fn from_phases(runs: &[PhaseRun], known: Option<&Influence>) -> Result<PhaseFit, Fault> {
    let trials: Vec<UnbalanceVector> = runs.iter().map(|r| r.trial).collect();
    let (least, why) = match known {
        Some(_) => (1, "at least the run as it is"),
        None => (2, "with phase two runs are needed: one as it is, one with a trial weight"),
    };
    let u = checked(&trials, least, why)?;
    for (i, r) in runs.iter().enumerate() {
        checked_amplitude(i, r.amplitude, r.amplitude_sd)?;
        let at = |f: Fault| f.inside(&format!("runs[{i}]"));
        r.phase_rad.within("phase_rad", -1e4, 1e4, "radians", "phase against the mark").map_err(at)?;
        r.phase_sd_rad.within("phase_sd_rad", 1e-9, 4.0, "radians", "how well does the phase repeat?").map_err(at)?;
    }
    if let Some(k) = known {
        k.per_g_mm.within("known_influence.per_g_mm", 1e-15, 1e12, "", "amplitude for each g·mm, from an earlier trim")?;
        k.turned_rad.within("known_influence.turned_rad", -1e4, 1e4, "radians", "from an earlier trim")?;
        k.rel_sd.within("known_influence.rel_sd", 1e-6, 1.0, "", "as a share of the amplitude")?;
    } else if trials.iter().all(|t| (*t - trials[0]).size().g_mm() <= 1e-6 * u) {
        return Err(Fault::new(
            "runs",
            "the same weights in all",
            "one run at least with a trial weight",
            "without a known change nothing tells how strongly the machine answers",
        ));
    }
    let u = if u > 0.0 { u } else { 1.0 };
    let solved = solve(runs, known, u, 1.0)?;
    let spare = 2 * runs.len() + 2 * usize::from(known.is_some()) - 4;
    let agreement = Agreement::of(solved.misfit, spare);
    let other_sense = Agreement::of(solve(runs, known, u, -1.0).map_or(f64::MAX, |s| s.misfit), spare);
    let readings: Vec<Vec<(f64, f64)>> = runs
        .iter()
        .map(|r| {
            // Phases near ±180° are compared with the first of them, not across the cut.
            let phase = runs[0].phase_rad + wrap_pi(r.phase_rad - runs[0].phase_rad);
            vec![(r.amplitude, r.amplitude_sd), (phase, r.phase_sd_rad)]
        })
        .collect();
    let widen = agreement.scatter_factor.powi(2);
    let (b, alpha) = (solved.b, solved.alpha);
    let c = solved.covariance * widen;
    let alpha_sd = (0.5 * (c[(2, 2)] + c[(3, 3)])).sqrt();
    // By the stated deviations: readings that contradict one another are told by `agreement`.
    if alpha.norm() < TELLS * alpha_sd / agreement.scatter_factor || alpha.norm() == 0.0 {
        return Err(Fault::new(
            "runs",
            "readings that the trial hardly changes",
            "a trial that changes the reading by about a third, or its phase by about 30°",
            "the trial's effect does not stand out of the scatter: take a heavier one, or repeat the runs",
        ));
    }
    let x = b / alpha;
    // dU = (db − U·dα)/α, as a 2 × 4 matrix on (b, α) by components.
    let (p, q) = (alpha.inv(), -x / alpha);
    let j = DMatrix::from_row_slice(2, 4, &[p.re, -p.im, q.re, -q.im, p.im, p.re, q.im, q.re]);
    let cov = &j * c * j.transpose() * (u * u);
    let found = Found {
        unbalance: UnbalanceVector::from_g_mm(x.re * u, x.im * u),
        covariance_g_mm2: [[cov[(0, 0)], cov[(0, 1)]], [cov[(1, 0)], cov[(1, 1)]]],
        answer_per_g_mm: alpha.norm() / u,
        answer_sd: alpha_sd / u,
        misfit: solved.misfit,
    };
    let influence = Influence { per_g_mm: alpha.norm() / u, turned_rad: alpha.arg(), rel_sd: alpha_sd / alpha.norm() };
    Ok(PhaseFit { found, influence, agreement, other_sense, repeats: repeats(&trials, &readings) })
}

struct Solved {
    b: Complex<f64>,
    alpha: Complex<f64>,
    covariance: DMatrix<f64>,
    misfit: f64,
}

/// Least squares for (b, α·scale), with changes in units of `u`; `sense` −1 mirrors the phases.
fn solve(runs: &[PhaseRun], known: Option<&Influence>, u: f64, sense: f64) -> Result<Solved, Fault> {
    let rows_count = 2 * runs.len() + 2 * usize::from(known.is_some());
    let mut rows = DMatrix::zeros(rows_count, 5);
    for (i, r) in runs.iter().enumerate() {
        let phase = sense * r.phase_rad;
        let v = Complex::from_polar(r.amplitude, phase);
        let [tx, ty] = r.trial.g_mm().map(|t| t / u);
        // Across the phasor the phase's error counts; a phasor lost in its noise has no direction.
        let lost = if r.amplitude < r.amplitude_sd { r.amplitude_sd } else { 0.0 };
        let sds = [r.amplitude_sd, (r.amplitude * r.phase_sd_rad).max(lost)];
        for (k, sd) in sds.into_iter().enumerate() {
            let (ex, ey) = if k == 0 { (phase.cos(), phase.sin()) } else { (-phase.sin(), phase.cos()) };
            // Re and Im of b + α·t: (bx + αx·tx − αy·ty, by + αx·ty + αy·tx).
            let row = [ex, ey, ex * tx + ey * ty, -ex * ty + ey * tx, ex * v.re + ey * v.im];
            for (c, value) in row.into_iter().enumerate() {
                rows[(2 * i + k, c)] = value / sd;
            }
        }
    }
    if let Some(k) = known {
        let a = Complex::from_polar(k.per_g_mm * u, sense * k.turned_rad);
        let sd = k.per_g_mm * u * k.rel_sd;
        let at = 2 * runs.len();
        (rows[(at, 2)], rows[(at, 4)]) = (1.0 / sd, a.re / sd);
        (rows[(at + 1, 3)], rows[(at + 1, 4)]) = (1.0 / sd, a.im / sd);
    }
    let jacobian = rows.columns(0, 4).into_owned();
    let singular = || Fault::new("runs", "runs that do not fix the answer", "one as it is and one with a trial", "add a run");
    let covariance = covariance(&jacobian, &[false; 4]).ok_or_else(singular)?;
    let triangle = upper_triangle(rows.clone());
    let inverse = inverse_of_triangle(&triangle.view((0, 0), (4, 4)).into_owned()).ok_or_else(singular)?;
    let x = inverse * triangle.view((0, 4), (4, 1));
    let misfit = (&jacobian * &x - rows.column(4)).norm_squared();
    Ok(Solved { b: Complex::new(x[(0, 0)], x[(1, 0)]), alpha: Complex::new(x[(2, 0)], x[(3, 0)]), covariance, misfit })
}
