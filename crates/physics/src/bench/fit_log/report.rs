//! From the best parameters to what a person needs: values with standard deviations, what brakes, what can't be told.

use super::SwingLog;
use super::prepare::Clean;
use super::shooting::{Fitted, Shooting, small_period};
use crate::Fault;
use crate::bench::motion::{PARAMETERS, Reduced};
use crate::numerics::{elliptic_k, least_squares, wrap_pi};
use nalgebra::{DMatrix, DVector};
use statrs::distribution::{Continuous, ContinuousCDF, Normal};
use std::f64::consts::{FRAC_PI_2, PI};

/// Largest relative standard deviation of a reliable size. Above these the posterior is no Gaussian: found on 1000 simulated logs of 0.3 to 0.75 of a swing, of which the ones below held the truth
/// within two standard deviations in 95 % to 98 %.
pub const RELIABLE_REL_SD: f64 = 0.25;
/// The same of the direction, rad.
pub const RELIABLE_HEAVY_SD_RAD: f64 = 0.35;
/// Nearest to ±1 that a correlation is told: one standard deviation in thirty is left, since the covariance is that of a linearised fit.
pub const MOST_CORRELATED: f64 = 0.999_5;

/// What acts most on the rotor besides its unbalance.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dominant {
    /// Drag in proportion to speed (the air film).
    ViscousDrag,
    /// Drag by the square of speed (the air round the wheel).
    QuadraticDrag,
    /// Dry friction.
    DryFriction,
    /// Drift torque.
    Drift,
    /// None of them stands out of its own uncertainty.
    Nothing,
}

/// Mean torque of each cause over the log, as a share of the unbalance (torque / U g).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Braking {
    /// Viscous drag.
    pub viscous_over_u: f64,
    /// Quadratic drag.
    pub quadratic_over_u: f64,
    /// Dry friction, while it moves.
    pub dry_over_u: f64,
    /// Drift torque, its size.
    pub drift_over_u: f64,
}

/// A fitted swing log. Standard deviations are k = 1.
#[derive(Clone, Debug, PartialEq)]
pub struct LogFit {
    /// Unbalance over inertia, g·mm per g·mm·s²: 1/s².
    pub u_over_j_per_s2: f64,
    /// Its relative standard deviation.
    pub u_over_j_rel_sd: f64,
    /// Rotor angle of the heavy side, rad, −π to π.
    pub heavy_rad: f64,
    /// Its standard deviation, rad.
    pub heavy_sd_rad: f64,
    /// Drift torque over unbalance; positive counter-clockwise.
    pub drift_over_u: f64,
    /// Its standard deviation.
    pub drift_over_u_sd: f64,
    /// Correlation of the errors of direction and of drift over unbalance, −[`MOST_CORRELATED`] to [`MOST_CORRELATED`].
    pub correlation_heavy_drift: f64,
    /// Viscous drag over inertia and its standard deviation, 1/s.
    pub c_over_j_per_s: (f64, f64),
    /// Quadratic drag over inertia and its standard deviation, no unit.
    pub d_over_j: (f64, f64),
    /// Dry friction over inertia and its standard deviation, 1/s².
    pub tc_over_j_per_s2: (f64, f64),
    /// Drift torque over inertia and its standard deviation, 1/s².
    pub td_over_j_per_s2: (f64, f64),
    /// Room angle of the zero mark at the first time, rad, −π to π.
    pub phi0_rad: f64,
    /// Speed there, rad/s.
    pub omega0_rad_s: f64,
    /// Covariance of (U·cos θ/J, U·sin θ/J, c/J, d/J, tc/J, td/J, φ₀, ω₀), in products of 1/s², 1/s², 1/s, 1, 1/s², 1/s², rad, rad/s.
    /// A loss that stands at its bound (none below zero) has the mean square of what it may still be in place of a variance; rows of
    /// dry friction are zero where it was said to be impossible.
    pub covariance: [[f64; PARAMETERS]; PARAMETERS],
    /// Which of these parameters stand at their bound or were held.
    pub held: [bool; PARAMETERS],
    /// Standard deviation of one point, rad (median over the points where they differ).
    pub noise_sd_rad: f64,
    /// With given standard deviations: the factor by which the points scatter more than those say (1: as said).
    pub scatter_factor: f64,
    /// Number of points used.
    pub used: usize,
    /// Points dropped, by their place in the log.
    pub dropped: Vec<usize>,
    /// The model at the times of the log, rad, continuous.
    pub fitted_rad: Vec<f64>,
    /// Measured less fitted at the same times, rad, whole turns taken off.
    pub residual_rad: Vec<f64>,
    /// How many swings the log covers: span over the period at its largest amplitude.
    pub swings_covered: f64,
    /// Mean torques.
    pub braking: Braking,
    /// The largest of them.
    pub dominant: Dominant,
    /// A sentence about that.
    pub dominant_words: String,
    /// What to beware of; empty if nothing.
    pub cautions: Vec<String>,
    /// Whether these values and standard deviations may be taken as Gaussian: a size told to better than 25 % and a direction to
    /// better than 20°. Else the log only hints (a short one, with friction: a large unbalance held back and a small one
    /// let go look alike), and the numbers must not be used as a reading.
    pub reliable: bool,
    /// Whether the fit reached its tolerance.
    pub converged: bool,
}

pub(super) fn report(clean: &Clean, shooting: &Shooting, fitted: &Fitted, log: &SwingLog) -> Result<LogFit, Fault> {
    let p = fitted.p;
    let untold = || {
        Fault::new(
            "angle_rad",
            "this track",
            "at least a quarter of a swing, with a start from 30° or more",
            "the log is too short or too slow to tell the unbalance at all: record a longer one",
        )
    };
    let covariance = covariance(shooting, fitted).ok_or_else(untold)?;
    let all: Vec<usize> = (0..clean.t.len()).collect();
    let path = shooting.follow(&p, &all).ok_or_else(untold)?;
    let u = p[0].hypot(p[1]);
    let sd = |gradient: [f64; PARAMETERS]| -> f64 {
        let g = DVector::from_row_slice(&gradient);
        (&covariance * &g).dot(&g).max(0.0).sqrt()
    };
    let unit = |k: usize| -> [f64; PARAMETERS] { std::array::from_fn(|i| if i == k { 1.0 } else { 0.0 }) };
    let mut of_ln_u = [0.0; PARAMETERS];
    of_ln_u[..2].copy_from_slice(&[p[0] / (u * u), p[1] / (u * u)]);
    let mut of_theta = [0.0; PARAMETERS];
    of_theta[..2].copy_from_slice(&[-p[1] / (u * u), p[0] / (u * u)]);
    let drift = p[5] / u;
    let mut of_drift: [f64; PARAMETERS] = std::array::from_fn(|i| -drift * of_ln_u[i]);
    of_drift[5] = 1.0 / u;
    let rel_sd = sd(of_ln_u);
    let heavy_sd = sd(of_theta);
    let drift_sd = sd(of_drift);
    let heavy_drift = (&covariance * DVector::from_row_slice(&of_theta)).dot(&DVector::from_row_slice(&of_drift));
    if !(u > 0.0 && rel_sd.is_finite() && heavy_sd.is_finite()) {
        return Err(untold());
    }
    let with_sd = |k: usize| (p[k], sd(unit(k)));
    let swings = swings_covered(&p, &path, clean.t[clean.t.len() - 1]);
    let braking = braking(&p, &path, &clean.t);
    let dominant = dominant(&braking, [with_sd(2), with_sd(3), with_sd(4), with_sd(5)]);
    let mut sds: Vec<f64> = fitted.sds.clone();
    let dropped: Vec<usize> = all.iter().copied().filter(|&i| !shooting.used[i]).collect();
    let given = log.angle_sd_rad.is_some() || log.time_sd_s.is_some();
    let mirrored = log.time_sd_s.is_some() && log.angle_rad.iter().all(|a| *a == log.angle_rad[0] && a.sin().abs() < 1e-6);
    let mut fit = LogFit {
        u_over_j_per_s2: u,
        u_over_j_rel_sd: rel_sd,
        heavy_rad: p[1].atan2(p[0]),
        heavy_sd_rad: heavy_sd,
        drift_over_u: drift,
        drift_over_u_sd: drift_sd,
        correlation_heavy_drift: correlation(heavy_drift, heavy_sd, drift_sd),
        c_over_j_per_s: with_sd(2),
        d_over_j: with_sd(3),
        tc_over_j_per_s2: with_sd(4),
        td_over_j_per_s2: with_sd(5),
        phi0_rad: wrap_pi(p[6]),
        omega0_rad_s: p[7],
        covariance: std::array::from_fn(|i| std::array::from_fn(|j| covariance[(i, j)])),
        held: std::array::from_fn(|i| fitted.minimum.held[i]),
        noise_sd_rad: shooting.scale * super::prepare::median(&mut sds),
        scatter_factor: if given { shooting.scale } else { 1.0 },
        used: fitted.rows.len(),
        dropped,
        fitted_rad: path.iter().map(|m| m[0]).collect(),
        residual_rad: path.iter().zip(&shooting.y).map(|(m, y)| y - m[0]).collect(),
        swings_covered: swings,
        braking,
        dominant,
        dominant_words: String::new(),
        cautions: Vec::new(),
        reliable: !mirrored && rel_sd <= RELIABLE_REL_SD && heavy_sd <= RELIABLE_HEAVY_SD_RAD && fitted.minimum.converged,
        converged: fitted.minimum.converged,
    };
    fit.dominant_words = in_words(&fit);
    fit.cautions = cautions(&fit, clean, given);
    if mirrored {
        fit.cautions.push(format!(
            "Taps of one mark at the bottom (or top) are the same for the mirror image: the heavy side may as well be at {:.1}°. Tap a mark that passes elsewhere, or a second mark.",
            (-fit.heavy_rad).to_degrees().rem_euclid(360.0)
        ));
    }
    Ok(fit)
}

/// Correlation from a covariance and two standard deviations; zero where one of these is.
#[must_use]
pub fn correlation(covariance: f64, sd_a: f64, sd_b: f64) -> f64 {
    let product = sd_a * sd_b;
    if product > 0.0 { (covariance / product).clamp(-MOST_CORRELATED, MOST_CORRELATED) } else { 0.0 }
}

/// Covariance of an M-estimate: (JᵀJ)⁻¹ by QR, times the mean ψ² over the squared mean ψ′ of the loss that was used.
/// Source: Huber, Robust Statistics (1981), eq. (7.6.5); with the plain square it is the usual residual variance.
fn covariance(shooting: &Shooting, fitted: &Fitted) -> Option<DMatrix<f64>> {
    let n = fitted.rows.len();
    let free = fitted.minimum.held.iter().filter(|h| !**h).count();
    let (mut square, mut slope) = (0.0, 0.0);
    for r in &fitted.minimum.at.residuals[..n] {
        let q = (1.0 + (r / super::shooting::ROBUST_AT).powi(2)).sqrt();
        square += (r / q).powi(2);
        slope += q.powi(-3);
    }
    let freedom = n.saturating_sub(free).max(1) as f64;
    let mut factor = (square / freedom).sqrt() / (slope / n as f64);
    if shooting.given() {
        factor = factor.max(1.0);
    }
    // The prior's row keeps its own weight; the data rows get the variance that they showed.
    let mut rows = fitted.minimum.at.jacobian.clone();
    rows.rows_mut(0, n).iter_mut().for_each(|v| *v /= factor);
    let mut bounds = leaning(shooting, fitted, &rows);
    // Without a reversal dry friction and drift are one torque and no data part them: ten times all that turns the rotor is
    // the most that either is said to be uncertain by. Where the data tell anything this adds nothing.
    let p = &fitted.p;
    let most = 10.0 * (p[0].hypot(p[1]) + p[4] + p[5].abs());
    bounds.extend([(4, 1.0 / most), (5, 1.0 / most)].into_iter().filter(|(k, _)| !fitted.minimum.held[*k]));
    let start = rows.nrows();
    let mut rows = rows.resize_vertically(start + bounds.len(), 0.0);
    let mut held = fitted.minimum.held.clone();
    for (r, (k, weight)) in bounds.iter().enumerate() {
        rows[(start + r, *k)] = *weight;
        held[*k] = false;
    }
    least_squares::covariance(&rows, &held)
}

/// How firmly each loss at its bound is held there: (its place, 1/sd of a pull towards the bound).
///
/// A loss estimated as zero may still be there: what is known of it is a Gaussian of mean m ≤ 0 (where the fit would put it without
/// the bound) and sd s, cut off below zero. Its mean square, v, takes the place of its variance; a pull of weight
/// √(1/v − 1/s²) brings the covariance there. To hold it outright would claim that it is exactly zero, and made the
/// direction of short logs look several times surer than it was.
fn leaning(shooting: &Shooting, fitted: &Fitted, rows: &DMatrix<f64>) -> Vec<(usize, f64)> {
    let mut out = Vec::new();
    let at = &fitted.minimum.at;
    for k in (2..5).filter(|&k| fitted.minimum.held[k] && shooting.may_vary(k)) {
        let mut held = fitted.minimum.held.clone();
        held[k] = false;
        let Some(cov) = least_squares::covariance(rows, &held) else { continue };
        let s = cov[(k, k)].sqrt();
        // One Gauss-Newton step of this loss with all free ones following; its gradient with the loss's weights.
        let n = fitted.rows.len();
        let pull: f64 = (0..at.residuals.len())
            .map(|r| {
                let weight = if r < n { 1.0 / (1.0 + (at.residuals[r] / super::shooting::ROBUST_AT).powi(2)).sqrt() } else { 1.0 };
                rows[(r, k)] * weight * at.residuals[r]
            })
            .sum();
        let lean = (pull * s).max(0.0);
        if !s.is_finite() || s == 0.0 {
            continue;
        }
        // N(−lean, 1) cut off below zero, hazard h = density over upper tail: mean square 1 + lean² − lean·h.
        let normal = Normal::standard();
        let tail = normal.sf(lean);
        let v = if tail > 1e-12 { 1.0 + lean * lean - lean * normal.pdf(lean) / tail } else { 2.0 / (lean * lean) };
        out.push((k, (1.0 / v.clamp(1e-12, 1.0) - 1.0).sqrt() / s));
    }
    out
}

/// Span over the period at the largest amplitude about the rest place; whole turns count as swings of 170°.
fn swings_covered(p: &Reduced, path: &[[f64; 2]], span: f64) -> f64 {
    let heavy = p[1].atan2(p[0]);
    let rest = (p[5] / p[0].hypot(p[1])).clamp(-1.0, 1.0).asin();
    let largest = path.iter().map(|m| wrap_pi(m[0] + heavy - rest).abs()).fold(0.0, f64::max).min(170.0_f64.to_radians());
    let period = small_period(p) * elliptic_k((0.5 * largest).sin().powi(2)) / FRAC_PI_2;
    span / period
}

fn braking(p: &Reduced, path: &[[f64; 2]], t: &[f64]) -> Braking {
    let (mut v1, mut v2, mut moving, mut total) = (0.0, 0.0, 0.0, 0.0);
    for (m, times) in path.windows(2).zip(t.windows(2)) {
        let dt = times[1] - times[0];
        let speed = 0.5 * (m[0][1] + m[1][1]).abs();
        total += dt;
        v1 += dt * speed;
        v2 += dt * speed * speed;
        moving += if m[0][1] == 0.0 && m[1][1] == 0.0 { 0.0 } else { dt };
    }
    let u = p[0].hypot(p[1]) * total;
    Braking {
        viscous_over_u: p[2] * v1 / u,
        quadratic_over_u: p[3] * v2 / u,
        dry_over_u: p[4] * moving / u,
        drift_over_u: p[5].abs() * total / u,
    }
}

/// The largest mean torque among those that stand out of their own uncertainty (two standard deviations).
fn dominant(b: &Braking, values: [(f64, f64); 4]) -> Dominant {
    let kinds = [Dominant::ViscousDrag, Dominant::QuadraticDrag, Dominant::DryFriction, Dominant::Drift];
    let shares = [b.viscous_over_u, b.quadratic_over_u, b.dry_over_u, b.drift_over_u];
    kinds
        .into_iter()
        .zip(shares)
        .zip(values)
        .filter(|(_, (v, sd))| v.abs() > 2.0 * sd && *v != 0.0)
        .max_by(|a, b| a.0.1.total_cmp(&b.0.1))
        .map_or(Dominant::Nothing, |((kind, _), _)| kind)
}

fn in_words(fit: &LogFit) -> String {
    let b = &fit.braking;
    let percent = |share: f64| format!("{:.2} % of the unbalance's torque on average over the log", 100.0 * share);
    let rest = |ratio: f64| ratio.abs().min(1.0).asin().to_degrees();
    match fit.dominant {
        Dominant::ViscousDrag => format!("Viscous drag of the air film brakes most: {}.", percent(b.viscous_over_u)),
        Dominant::QuadraticDrag => {
            format!("The drag of the air round the wheel, by the square of speed, brakes most: {}.", percent(b.quadratic_over_u))
        }
        Dominant::DryFriction => format!(
            "Dry friction dominates: {}; it lets the rotor rest up to {:.1}° to either side of its place.",
            percent(b.dry_over_u),
            rest(fit.tc_over_j_per_s2.0 / fit.u_over_j_per_s2)
        ),
        Dominant::Drift if b.drift_over_u >= 1.0 => {
            "Drift torque dominates: it is larger than the unbalance, the rotor finds no rest.".to_owned()
        }
        Dominant::Drift => {
            format!("Drift torque dominates: {}; it shifts the rest place by {:.1}°.", percent(b.drift_over_u), rest(b.drift_over_u))
        }
        Dominant::Nothing => "Neither drag nor friction nor drift stands out of its own uncertainty in this log.".to_owned(),
    }
}

fn cautions(fit: &LogFit, clean: &Clean, given: bool) -> Vec<String> {
    let mut out = Vec::new();
    if fit.swings_covered < 0.75 {
        out.push(format!(
            "The log covers only {:.2} of a swing: unbalance, drift and drag trade against one another; record at least one whole swing.",
            fit.swings_covered
        ));
    }
    if !fit.reliable {
        out.push("The log only hints at the unbalance: don't use these numbers as a reading, record a longer log.".to_owned());
    }
    if fit.u_over_j_rel_sd > 0.1 {
        out.push(format!("The size is told to {:.0} % (one standard deviation) only.", 100.0 * fit.u_over_j_rel_sd));
    }
    if fit.heavy_sd_rad > 0.1 {
        out.push(format!(
            "The direction is told to {:.0}° (one standard deviation) only: small swings mix it with drift; let the rotor go from 60° or more.",
            fit.heavy_sd_rad.min(PI).to_degrees()
        ));
    }
    if fit.drift_over_u_sd > 0.3 {
        out.push("Drift is hardly told: the rotor did not turn back in this log, or friction hides it.".to_owned());
    }
    let share = fit.dropped.len() as f64 / clean.t.len() as f64;
    if share > 0.1 {
        out.push(format!("{:.0} % of the points were dropped as off the track.", 100.0 * share));
    }
    if given && fit.scatter_factor > 2.0 {
        out.push(format!(
            "The points scatter {:.1} times more than their given standard deviations say; the uncertainties were widened by that.",
            fit.scatter_factor
        ));
    }
    if !given && clean.noise > 0.0 && fit.noise_sd_rad > 1.6 * clean.noise.max(1e-6) {
        out.push(format!(
            "The fit misses the track by {:.1} times the noise between neighbouring points: a hand, a draught or a stop may have been at work.",
            fit.noise_sd_rad / clean.noise
        ));
    }
    if !fit.converged {
        out.push("The fit stopped before it reached its tolerance.".to_owned());
    }
    out
}
