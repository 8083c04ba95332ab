//! All tests together: the most likely residual, drift, friction, inertia and drag, with their covariance.

use super::model::{DRAG, DRIFT, FRICTION, LN_J, Residual, Row, UNKNOWNS};
use super::{Before, Observation};
use crate::numerics::least_squares::{Linearised, Options, covariance, minimise};
use crate::{Fault, Ranged};
use nalgebra::DMatrix;

/// Before any test, residual and drift may be as large as this, g·mm, standard deviation: far beyond any stand that is worth it.
const BROAD_G_MM: f64 = 1e5;
/// A value is told when its standard deviation has come down to this share of that.
const TOLD_SHARE: f64 = 1e-3;
/// Before any test, viscous drag may be as large as this, g·mm·s.
const BROAD_DRAG_G_MM_S: f64 = 1e5;
/// A test that is farther off than so many standard deviations is pointed out.
const FAR_OFF: f64 = 3.0;

/// A value with its standard deviation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeanSd {
    /// The value.
    pub mean: f64,
    /// Its standard deviation.
    pub sd: f64,
}

/// The test that fits least.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Worst {
    /// Its place in the list.
    pub observation: usize,
    /// How many standard deviations it is off.
    pub off_by_sd: f64,
}

/// A stand as measured. Standard deviations are k = 1 and hold the scatter of the tests.
#[derive(Clone, Debug, PartialEq)]
pub struct Qualified {
    /// Drift torque, g·mm, positive counter-clockwise; `None` when the tests do not tell it.
    pub drift_g_mm: Option<MeanSd>,
    /// Dry friction, g·mm; `None` when the tests do not tell it.
    pub dry_friction_g_mm: Option<MeanSd>,
    /// The rotor's own residual along its zero mark and a quarter turn counter-clockwise, g·mm; `None` when not told.
    pub residual_g_mm: Option<[MeanSd; 2]>,
    /// Viscous drag, g·mm·s; `None` when no loss of amplitude was read.
    pub viscous_drag_g_mm_s: Option<MeanSd>,
    /// Inertia of the rotor as it swings, kg·m².
    pub inertia_kg_m2: MeanSd,
    /// Smallest unbalance that the stand shows at 95 % when its drift is taken off, g·mm.
    pub floor_drift_known_g_mm: Option<f64>,
    /// The same when nobody takes it off.
    pub floor_g_mm: Option<f64>,
    /// Drift for a sitting that expects it about zero: root sum of its mean and its standard deviation, g·mm.
    pub drift_sd_about_zero_g_mm: Option<f64>,
    /// Equations less unknowns.
    pub degrees_of_freedom: usize,
    /// How many times more the tests scatter than their standard deviations say, 1 or more; already in all standard deviations.
    pub scatter_factor: f64,
    /// The test that fits least, if it is far off.
    pub worst: Option<Worst>,
    /// What the tests do not tell, and which test would.
    pub cannot_tell: Vec<&'static str>,
}

/// Measure a stand by tests on it.
///
/// # Errors
/// A [`Fault`] without observations or with over 200, for a value out of range with its place (`observations[2].time_s`), and
/// when no values fit the tests.
pub fn qualify(before: &Before, observations: &[Observation]) -> Result<Qualified, Fault> {
    before.inertia_kg_m2.within("inertia_kg_m2", 1e-7, 1e3, "kg·m²", "inertia about the arbor's axis: see the calculation rotor")?;
    let j_rel_sd = before.inertia_rel_sd.within("inertia_rel_sd", 0.0, 0.5, "", "0: exact; 0.05: five in a hundred")?;
    if observations.is_empty() || observations.len() > 200 {
        let why = "a stand is qualified by tests on it: start with creeps at four marks, then turn the rotor end for end";
        return Err(Fault::new("observations", observations.len(), "1 to 200 tests", why));
    }
    let rows = observations
        .iter()
        .enumerate()
        .map(|(i, o)| Row::new(o, before).map_err(|f| f.inside(&format!("observations[{i}]"))))
        .collect::<Result<Vec<_>, _>>()?;
    let mut held = [false; UNKNOWNS];
    held[FRICTION] = !before.dry_friction_possible;
    held[LN_J] = j_rel_sd == 0.0;
    held[DRAG] = !rows.iter().any(Row::tells_drag);
    let problem = Problem { rows: &rows, j_rel_sd, held };
    // The plain form first: it is linear but for the swings, so any start will do; then the exact one, its weights renewed.
    let mut p = [0.0; UNKNOWNS];
    let mut around = p;
    for (round, plain) in [true, true, false, false, false].into_iter().enumerate() {
        p = problem.solve(&p, &around, plain).ok_or_else(|| no_fit(round))?;
        around = p;
    }
    problem.report(&p, before)
}

fn no_fit(round: usize) -> Fault {
    let why = "no drift, friction and residual fit these tests: check senses, angles, and which of them had the rotor end for end";
    Fault::new("observations", format!("no fit in round {round}"), "tests that one stand can have shown", why)
}

struct Problem<'a> {
    rows: &'a [Row],
    j_rel_sd: f64,
    held: [bool; UNKNOWNS],
}

impl Problem<'_> {
    /// Residuals of the tests, each with its standard deviation and the test it belongs to.
    fn tests(&self, p: &[f64], around: &[f64], plain: bool) -> Vec<(Residual, usize)> {
        let mut out = Vec::new();
        let mut of_row = Vec::new();
        for (i, row) in self.rows.iter().enumerate() {
            of_row.clear();
            row.residuals(p, around, plain, &mut of_row);
            out.extend(of_row.iter().map(|r| (*r, i)));
        }
        out
    }

    /// Residuals over their standard deviations, what was believed before last.
    fn residuals(&self, p: &[f64], around: &[f64], plain: bool) -> Vec<f64> {
        let mut out: Vec<f64> = self.tests(p, around, plain).into_iter().map(|((r, sd), _)| r / sd).collect();
        out.extend([p[0] / BROAD_G_MM, p[1] / BROAD_G_MM, p[DRIFT] / BROAD_G_MM, p[FRICTION] / BROAD_G_MM, p[DRAG] / BROAD_DRAG_G_MM_S]);
        out.push(if self.j_rel_sd > 0.0 { p[LN_J] / self.j_rel_sd } else { 0.0 });
        out
    }

    /// Central differences: each unknown enters smoothly, and in its own size.
    fn linearised(&self, p: &[f64], around: &[f64], plain: bool) -> Option<Linearised> {
        let residuals = self.residuals(p, around, plain);
        let mut jacobian = DMatrix::zeros(residuals.len(), UNKNOWNS);
        for c in 0..UNKNOWNS {
            let step = 1e-6 * (1.0 + p[c].abs());
            let mut at = p.to_vec();
            at[c] = p[c] + step;
            let up = self.residuals(&at, around, plain);
            at[c] = p[c] - step;
            let down = self.residuals(&at, around, plain);
            for r in 0..residuals.len() {
                jacobian[(r, c)] = (up[r] - down[r]) / (2.0 * step);
            }
        }
        let finite = residuals.iter().chain(jacobian.iter()).all(|v| v.is_finite());
        finite.then_some(Linearised { residuals, jacobian })
    }

    fn solve(&self, start: &[f64; UNKNOWNS], around: &[f64; UNKNOWNS], plain: bool) -> Option<[f64; UNKNOWNS]> {
        let mut lower = [f64::NEG_INFINITY; UNKNOWNS];
        lower[FRICTION] = 0.0;
        lower[DRAG] = 0.0;
        let options =
            Options { lower: &lower, held: &self.held, robust_rows: 0, robust_at: f64::INFINITY, tolerance: 1e-12, most_calls: 400 };
        let minimum = minimise(start, &options, |p| self.linearised(p, around, plain))?;
        minimum.x.try_into().ok()
    }

    fn report(&self, p: &[f64; UNKNOWNS], before: &Before) -> Result<Qualified, Fault> {
        let at = self.linearised(p, p, false).ok_or_else(|| no_fit(9))?;
        // A loss at its bound of zero is still unsure: it stays free in the covariance.
        let spread = covariance(&at.jacobian, &self.held).ok_or_else(|| no_fit(10))?;
        let tests = self.tests(p, p, false);
        let free = self.held.iter().filter(|h| !**h).count();
        let square: f64 = tests.iter().map(|((r, sd), _)| (r / sd).powi(2)).sum();
        // What was believed before counts as an equation of its own only for the inertia; the others are as good as nothing.
        let equations = tests.len() + usize::from(!self.held[LN_J]);
        let degrees = equations.saturating_sub(free);
        // Birge's ratio, never below one: tests that agree by luck make nothing surer.
        let scatter = if degrees > 0 { (square / degrees as f64).sqrt().max(1.0) } else { 1.0 };
        let value = |i: usize| MeanSd { mean: p[i], sd: spread[(i, i)].max(0.0).sqrt() * scatter };
        let told = |m: &MeanSd| m.sd < TOLD_SHARE * BROAD_G_MM;
        let drift = Some(value(DRIFT)).filter(told);
        let friction = if self.held[FRICTION] { Some(MeanSd { mean: 0.0, sd: 0.0 }) } else { Some(value(FRICTION)).filter(told) };
        let residual = Some([value(0), value(1)]).filter(|r| r.iter().all(told));
        let j = value(LN_J);
        let inertia = before.inertia_kg_m2 * p[LN_J].exp();
        let worst = tests
            .iter()
            .map(|((r, sd), i)| Worst { observation: *i, off_by_sd: (r / sd).abs() })
            .max_by(|a, b| a.off_by_sd.total_cmp(&b.off_by_sd))
            .filter(|w| w.off_by_sd > FAR_OFF);
        let floor = |steady: f64| friction.zip(drift).map(|(f, d)| (f.mean + 1.645 * f.sd).hypot(steady + 1.96 * d.sd));
        let mut cannot_tell = Vec::new();
        if drift.is_none() {
            cannot_tell.push("drift: let it creep at two marks half a turn apart, or turn the rotor end for end and repeat");
        }
        if friction.is_none() {
            cannot_tell.push("dry friction: find the smallest mass that starts it at 3 o'clock, and then at 9 o'clock");
        }
        if residual.is_none() {
            cannot_tell.push("the rotor's own residual: test with the mark at 12, 3, 6 and 9 o'clock");
        }
        Ok(Qualified {
            drift_g_mm: drift,
            dry_friction_g_mm: friction,
            residual_g_mm: residual,
            viscous_drag_g_mm_s: (!self.held[DRAG]).then(|| value(DRAG)),
            inertia_kg_m2: MeanSd { mean: inertia, sd: if self.held[LN_J] { 0.0 } else { inertia * j.sd } },
            floor_drift_known_g_mm: floor(0.0),
            floor_g_mm: floor(drift.map_or(0.0, |d| d.mean.abs())),
            drift_sd_about_zero_g_mm: drift.map(|d| d.mean.hypot(d.sd)),
            degrees_of_freedom: degrees,
            scatter_factor: scatter,
            worst,
            cannot_tell,
        })
    }
}
