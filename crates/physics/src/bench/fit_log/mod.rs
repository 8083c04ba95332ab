//! Fit of a swing log: angle against time → unbalance over inertia, its direction, drift and losses, with their
//! uncertainty. No start values are asked for.
//!
//! In: a [`SwingLog`] (a clip's track, an encoder, finger taps) and what is [`Known`] before. Out: a [`LogFit`]. Steps: prepare (checks, gross
//! outliers, unwrapping) → a long log thinned for the search → weak form (first values, linear) → shooting (exact equation, growing window) → report
//! (covariance, what brakes most, what the log can't tell).

mod prepare;
mod report;
mod shooting;
mod thin;
mod weak_form;

pub use report::{Braking, Dominant, LogFit, MOST_CORRELATED, RELIABLE_HEAVY_SD_RAD, RELIABLE_REL_SD, correlation};

use crate::{Fault, Ranged};

/// Fewest points of a log: eight unknowns.
pub const LEAST_POINTS: usize = 8;
/// Most points of a log: an hour at 50 a second; more tells no more.
pub const MOST_POINTS: usize = 200_000;

/// Angle against time.
#[derive(Clone, Copy, Debug)]
pub struct SwingLog<'a> {
    /// Times, s, strictly rising; any start, any spacing.
    pub time_s: &'a [f64],
    /// Room angle of the zero mark (counter-clockwise from straight down), rad, within one turn or continuous.
    pub angle_rad: &'a [f64],
    /// Standard deviation of each angle, rad; `None`: one for all, found from the log.
    pub angle_sd_rad: Option<&'a [f64]>,
    /// Standard deviation of the times, s, for taps at the moment a mark passes: then the angle counts as exact, is not unwrapped
    /// (give it continuous) and points may be far apart.
    pub time_sd_s: Option<f64>,
}

/// What is known before the log.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Known {
    /// Whether the stand may rub dry (ways, rollers); on air: no.
    pub dry_friction_possible: bool,
    /// Standard deviation of drift torque over inertia, 1/s², about zero; `None`: nothing is known of it.
    pub drift_prior_sd_per_s2: Option<f64>,
}

/// Fit a swing log.
///
/// The whole equation of motion (see [`super::motion`]) with its true sine, viscous and quadratic drag, dry friction and
/// drift; dropouts, outliers, uneven spacing and whole turns are allowed. A point farther than five standard deviations from the
/// fit is dropped and listed. Two neighbouring points must lie less than half a turn apart (unless the angle is given
/// continuous over more than one turn).
///
/// # Errors
/// A [`Fault`] for fewer than [`LEAST_POINTS`] or more than [`MOST_POINTS`] points, lists of unequal length, times that
/// do not rise, numbers that are not finite, a span under 0.5 s, no motion, or a motion that no start could fit.
pub fn fit_log(log: &SwingLog, known: &Known) -> Result<LogFit, Fault> {
    if let Some(sd) = known.drift_prior_sd_per_s2 {
        sd.within("drift_prior_sd_per_s2", 1e-12, 1e6, "1/s²", "standard deviation of drift torque over inertia")?;
    }
    let clean = prepare::prepare(log)?;
    let mut shooting = shooting::Shooting::new(&clean, log, known);
    // A long log is searched thinned; its last steps see every point.
    let thinned = thin::thinned(&clean, log).and_then(|thin| thin.solve(known));
    let fitted = thinned.and_then(|p| shooting.solve_from(&p)).or_else(|| shooting.solve()).ok_or_else(|| {
        Fault::new(
            "angle_rad",
            "this track",
            "the track of a rotor that swings or turns freely",
            "no pendulum motion fits this log: check that it holds one release without a hand on the rotor",
        )
    })?;
    report::report(&clean, &shooting, &fitted, log)
}
