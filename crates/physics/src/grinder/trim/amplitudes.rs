//! Runs without phase: only the size of the vibration is read.
//!
//! |V|ᵢ = h·|U + uᵢ| has three unknowns (h = |α| and the vector U), so three runs with different changes at least; with all changes on one
//! line through the origin two mirrored answers fit alike. The fit is nonlinear and may have several minima: h follows from U in closed
//! form, so the plane of U is searched on a polar grid first, and every valley is followed down by least squares.

use super::{Agreement, Found, Repeats, checked, checked_amplitude, repeats};
use crate::Fault;
use crate::numerics::least_squares::{Linearised, Options, covariance, inverse_of_triangle, minimise, upper_triangle};
use crate::quantity::{RotorAngle, Unbalance, UnbalanceVector};
use nalgebra::DMatrix;
use std::f64::consts::TAU;

/// Sizes of the search grid: six decades about the largest change, a quarter apart.
const SIZES: usize = 61;
/// Directions of the search grid, 5° apart.
const DIRECTIONS: usize = 72;
/// Half the decades that are searched.
const DECADES: f64 = 3.0;
/// Another answer is told when its misfit is within the 95 % point of χ² with two degrees of freedom.
const TOLD_WITHIN: f64 = 5.991_464_547_107_98;

/// One run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AmplitudeRun {
    /// What was added to the rotor's first state; zero for a run as it is.
    pub trial: UnbalanceVector,
    /// Amplitude read, in any unit, the same in all runs.
    pub amplitude: f64,
    /// Its standard deviation.
    pub amplitude_sd: f64,
}

/// Two estimates of the size that must agree: the plain linear solution of Aᵢ² = S + P·cos θᵢ + Q·sin θᵢ.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Closure {
    /// Direction of the heavy side by it.
    pub heavy: RotorAngle,
    /// Size from the mean of the squares.
    pub from_sum: Unbalance,
    /// Size from their first harmonic.
    pub from_harmonic: Unbalance,
}

impl Closure {
    /// Difference of the trial's effect by the two, as a share of that from the mean.
    pub fn mismatch(&self) -> f64 {
        1.0 - self.from_sum.g_mm() / self.from_harmonic.g_mm()
    }
}

/// What the runs allow.
#[derive(Clone, Debug, PartialEq)]
pub struct AmplitudeFit {
    /// The unbalances that fit, the best first. More than one: the runs cannot tell them apart.
    pub found: Vec<Found>,
    /// How the spare readings agree.
    pub agreement: Agreement,
    /// The two plain estimates, where the runs allow them (four runs and more).
    pub closure: Option<Closure>,
    /// Scatter of repeated runs.
    pub repeats: Option<Repeats>,
}

impl AmplitudeFit {
    /// Where a change of this size tells the first two answers apart best; `None` when there is but one answer.
    pub fn telling_trial(&self, size: Unbalance) -> Option<RotorAngle> {
        let [a, b, ..] = self.found[..] else { return None };
        let shown = |f: &Found, at: RotorAngle| f.answer_per_g_mm * (f.unbalance + UnbalanceVector::polar(size, at)).size().g_mm();
        let apart = |at: RotorAngle| (shown(&a, at) - shown(&b, at)).abs();
        (0..24).map(|k| RotorAngle::from_deg(15.0 * f64::from(k))).max_by(|p, q| apart(*p).total_cmp(&apart(*q)))
    }
}

/// The unbalance from runs without phase.
///
/// # Errors
/// A [`Fault`] for fewer than three different changes or more than 60 runs, an amplitude that is negative or not finite, a standard
/// deviation that is not positive, changes that show no effect, and readings that leave one direction wholly open.
pub fn from_amplitudes(runs: &[AmplitudeRun]) -> Result<AmplitudeFit, Fault> {
    let trials: Vec<UnbalanceVector> = runs.iter().map(|r| r.trial).collect();
    let u =
        checked(&trials, 3, "without phase three runs are needed, better four: one as it is and one each with the trial at three places")?;
    for (i, r) in runs.iter().enumerate() {
        checked_amplitude(i, r.amplitude, r.amplitude_sd)?;
    }
    let different = trials.iter().enumerate().filter(|(i, t)| trials[..*i].iter().all(|o| (*o - **t).size().g_mm() > 1e-6 * u)).count();
    if different < 3 {
        return Err(Fault::new(
            "runs",
            format!("{different} different places of the trial"),
            "three different at least, the run without it counted",
            "without phase the trial must be at more places: a third of a turn apart is best",
        ));
    }
    if runs.iter().all(|r| r.amplitude == 0.0) {
        return Err(Fault::new("runs", "all amplitudes are zero", "amplitudes above zero", "no vibration was read at all"));
    }
    let problem = Problem { runs, u };
    let mut found: Vec<(Found, DMatrix<f64>)> = Vec::new();
    for start in problem.valleys() {
        let Some(one) = problem.descend(start) else { continue };
        let same =
            |f: &(Found, DMatrix<f64>)| (f.0.unbalance - one.0.unbalance).size().g_mm() <= 1e-4 * one.0.unbalance.size().g_mm().max(u);
        match found.iter_mut().find(|f| same(f)) {
            Some(f) if f.0.misfit > one.0.misfit => *f = one,
            Some(_) => {}
            None => found.push(one),
        }
    }
    found.sort_by(|a, b| a.0.misfit.total_cmp(&b.0.misfit));
    let Some(best) = found.first().map(|f| f.0.misfit) else { return Err(no_effect()) };
    let agreement = Agreement::of(best, runs.len().saturating_sub(3));
    let widen = agreement.scatter_factor.powi(2);
    found.retain(|f| (f.0.misfit - best) / widen <= TOLD_WITHIN);
    let found = found.into_iter().map(|(f, jacobian)| problem.with_covariance(f, &jacobian, widen)).collect::<Result<Vec<_>, _>>()?;
    // An answer so large that the trial is a thousandth of it says only that the trial did nothing.
    if found[0].unbalance.size().g_mm() > 0.9 * u * 10f64.powf(DECADES) {
        return Err(no_effect());
    }
    let readings: Vec<Vec<(f64, f64)>> = runs.iter().map(|r| vec![(r.amplitude, r.amplitude_sd)]).collect();
    Ok(AmplitudeFit { found, agreement, closure: closure(runs, u), repeats: repeats(&trials, &readings) })
}

fn no_effect() -> Fault {
    Fault::new(
        "runs",
        "readings that the trial hardly changes",
        "a trial that changes the reading by about a third",
        "the trial weight is too light against the unbalance, or the reading is not of this wheel: take a heavier one",
    )
}

struct Problem<'a> {
    runs: &'a [AmplitudeRun],
    /// Scale of the changes, g·mm.
    u: f64,
}

impl Problem<'_> {
    /// Distances |U + uᵢ| in units of the scale, with U in the same.
    fn distance(&self, run: &AmplitudeRun, x: f64, y: f64) -> (f64, f64, f64) {
        let [tx, ty] = run.trial.g_mm();
        let (dx, dy) = (x + tx / self.u, y + ty / self.u);
        (dx, dy, dx.hypot(dy))
    }

    /// The best h for this U (the model is linear in it), and the misfit with it.
    fn profile(&self, x: f64, y: f64) -> (f64, f64) {
        let (mut aq, mut qq) = (0.0, 0.0);
        for r in self.runs {
            let q = self.distance(r, x, y).2 / r.amplitude_sd;
            aq += r.amplitude / r.amplitude_sd * q;
            qq += q * q;
        }
        let h = if qq > 0.0 { aq / qq } else { 0.0 };
        let misfit = self.runs.iter().map(|r| ((h * self.distance(r, x, y).2 - r.amplitude) / r.amplitude_sd).powi(2)).sum();
        (h, misfit)
    }

    /// Grid points that are no worse than all their neighbours: size, direction, h.
    fn valleys(&self) -> Vec<[f64; 3]> {
        let size = |i: usize| 10f64.powf(DECADES * (2.0 * i as f64 / (SIZES - 1) as f64 - 1.0));
        let point = |i: usize, k: usize| {
            let (s, c) = (TAU * k as f64 / DIRECTIONS as f64).sin_cos();
            (size(i) * c, size(i) * s)
        };
        let misfit: Vec<Vec<f64>> =
            (0..SIZES).map(|i| (0..DIRECTIONS).map(|k| self.profile(point(i, k).0, point(i, k).1).1).collect()).collect();
        let mut starts = Vec::new();
        for i in 0..SIZES {
            for k in 0..DIRECTIONS {
                let around = |di: isize, dk: usize| {
                    let i = i.checked_add_signed(di).filter(|i| *i < SIZES)?;
                    Some(misfit[i][(k + dk) % DIRECTIONS])
                };
                let left = DIRECTIONS - 1;
                let lowest = [(-1, left), (-1, 0), (-1, 1), (0, left), (0, 1), (1, left), (1, 0), (1, 1)]
                    .into_iter()
                    .filter_map(|(di, dk)| around(di, dk))
                    .all(|o| misfit[i][k] <= o);
                if lowest {
                    let (x, y) = point(i, k);
                    starts.push([x, y, self.profile(x, y).0]);
                }
            }
        }
        starts
    }

    /// ∂(h·|U + uᵢ|)/∂(U, h), each row over its standard deviation.
    fn jacobian(&self, x: f64, y: f64, h: f64) -> DMatrix<f64> {
        let mut jacobian = DMatrix::zeros(self.runs.len(), 3);
        for (i, r) in self.runs.iter().enumerate() {
            let (dx, dy, q) = self.distance(r, x, y);
            // At the cusp (this run exactly balanced) the slope has no direction.
            if q > 0.0 {
                jacobian[(i, 0)] = h * dx / q / r.amplitude_sd;
                jacobian[(i, 1)] = h * dy / q / r.amplitude_sd;
            }
            jacobian[(i, 2)] = q / r.amplitude_sd;
        }
        jacobian
    }

    /// Down the valley in the vibration itself, P = h·U in polar form, and h: so the reading of the rotor as it is, often the surest, is
    /// one of the unknowns, and no curved valley however narrow has to be followed.
    fn polar(&self, size: f64, direction: f64, h: f64) -> Linearised {
        let n = self.runs.len();
        let (s, c) = direction.sin_cos();
        let mut jacobian = DMatrix::zeros(n, 3);
        let mut residuals = Vec::with_capacity(n);
        for (i, r) in self.runs.iter().enumerate() {
            let [tx, ty] = r.trial.g_mm().map(|t| t / self.u);
            let (dx, dy) = (size * c + h * tx, size * s + h * ty);
            let q = dx.hypot(dy);
            residuals.push((q - r.amplitude) / r.amplitude_sd);
            if q > 0.0 {
                jacobian[(i, 0)] = (dx * c + dy * s) / q / r.amplitude_sd;
                jacobian[(i, 1)] = size * (dy * c - dx * s) / q / r.amplitude_sd;
                jacobian[(i, 2)] = (dx * tx + dy * ty) / q / r.amplitude_sd;
            }
        }
        Linearised { residuals, jacobian }
    }

    fn descend(&self, [x, y, h]: [f64; 3]) -> Option<(Found, DMatrix<f64>)> {
        let size = h * x.hypot(y);
        if size <= 0.0 {
            return None;
        }
        let lower = [0.0, f64::NEG_INFINITY, 0.0];
        let options =
            Options { lower: &lower, held: &[false; 3], robust_rows: 0, robust_at: f64::INFINITY, tolerance: 1e-14, most_calls: 400 };
        // Size and h in units of their start values, so that all three unknowns are of one size.
        let minimum = minimise(&[1.0, y.atan2(x), 1.0], &options, |p| {
            let mut at = self.polar(p[0] * size, p[1], p[2] * h);
            at.jacobian.column_mut(0).scale_mut(size);
            at.jacobian.column_mut(2).scale_mut(h);
            Some(at)
        })?;
        let (size, h) = (minimum.x[0] * size, minimum.x[2] * h);
        if !minimum.converged || h <= 0.0 {
            return None;
        }
        let (s, c) = minimum.x[1].sin_cos();
        let (x, y) = (size / h * c, size / h * s);
        let found = Found {
            unbalance: UnbalanceVector::from_g_mm(x * self.u, y * self.u),
            covariance_g_mm2: [[0.0; 2]; 2],
            answer_per_g_mm: h / self.u,
            answer_sd: 0.0,
            misfit: 2.0 * minimum.cost,
        };
        Some((found, self.jacobian(x, y, h)))
    }

    fn with_covariance(&self, found: Found, jacobian: &DMatrix<f64>, widen: f64) -> Result<Found, Fault> {
        let open = || {
            Fault::new(
                "runs",
                "changes on one line",
                "one more run with the trial a quarter turn from that line",
                "across the line of the trials these runs tell nothing",
            )
        };
        let c = covariance(jacobian, &[false; 3]).ok_or_else(open)?;
        let entry = |i: usize, k: usize| c[(i, k)] * widen * self.u * self.u;
        if entry(0, 0).max(entry(1, 1)).sqrt() > 1e4 * found.unbalance.size().g_mm().max(self.u) {
            return Err(open());
        }
        Ok(Found {
            covariance_g_mm2: [[entry(0, 0), entry(0, 1)], [entry(1, 0), entry(1, 1)]],
            answer_sd: (c[(2, 2)] * widen).sqrt() / self.u,
            ..found
        })
    }
}

/// Aᵢ² = a·|uᵢ|² + 2·b·uᵢ + c is linear in a = h², b = h²·U, c = h²·|U|²: weighted least squares, four runs at least.
fn closure(runs: &[AmplitudeRun], u: f64) -> Option<Closure> {
    if runs.len() < 4 {
        return None;
    }
    let rows = DMatrix::from_fn(runs.len(), 5, |i, k| {
        let r = &runs[i];
        let [x, y] = r.trial.g_mm().map(|v| v / u);
        // d(A²) = 2A·dA; a reading of almost nothing keeps a weight.
        let sd = 2.0 * r.amplitude.max(r.amplitude_sd) * r.amplitude_sd;
        [x * x + y * y, 2.0 * x, 2.0 * y, 1.0, r.amplitude * r.amplitude][k] / sd
    });
    let norms: Vec<f64> = (0..4).map(|k| rows.column(k).norm()).collect();
    if norms.contains(&0.0) {
        return None;
    }
    let scaled = DMatrix::from_fn(runs.len(), 5, |i, k| rows[(i, k)] / if k < 4 { norms[k] } else { 1.0 });
    let triangle = upper_triangle(scaled);
    if (0..4).any(|i| triangle[(i, i)].abs() < 1e-9) {
        return None;
    }
    let inverse = inverse_of_triangle(&triangle.view((0, 0), (4, 4)).into_owned())?;
    let x = inverse * triangle.view((0, 4), (4, 1));
    let [a, bx, by, c] = [0, 1, 2, 3].map(|k| x[(k, 0)] / norms[k]);
    let b = bx.hypot(by);
    // Both sizes exist only where the squares are positive; b = 0 is a balanced rotor without a direction.
    if a <= 0.0 || c <= 0.0 || b <= 0.0 {
        return None;
    }
    Some(Closure {
        heavy: RotorAngle::from_rad(by.atan2(bx)),
        from_sum: Unbalance::from_g_mm(u * (c / a).sqrt()),
        from_harmonic: Unbalance::from_g_mm(u * c / b),
    })
}
