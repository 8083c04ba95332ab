//! Errors that a whole swing log shares: what a camera that looks from aside, or a scale off its centre, leaves in every angle.
//!
//! In: their standard deviations. Out: a fit whose uncertainty holds them. More points average noise away, but not these; a
//! log of a thousand pictures would else look far surer than it is.

use crate::Fault;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::Ranged;
use stillwheel_physics::bench::fit_log::{Known, LogFit, RELIABLE_HEAVY_SD_RAD, RELIABLE_REL_SD, SwingLog, correlation, fit_log};

/// Standard deviations of errors that all angles of a log share, degrees.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SharedErrors {
    /// Of what all angles are off by together, 0 to 30: straight down, the place of the mark.
    #[serde(default)]
    pub common_sd_deg: f64,
    /// Of each of a and b in an error a·cos φ + b·sin φ, 0 to 10: a centre that is off.
    #[serde(default)]
    pub once_a_turn_sd_deg: f64,
    /// Of each of a and b in an error a·cos 2φ + b·sin 2φ, 0 to 10: a camera that looks from aside.
    #[serde(default)]
    pub twice_a_turn_sd_deg: f64,
}

/// Widen a fit by the shared errors: the log is fitted anew with each of them put in at one standard deviation, and the
/// changes are added as independent variances (propagation by finite differences; JCGM 100:2008, 5.1.3 note 2).
/// The fit's covariance matrix stays that of the noise alone.
///
/// # Errors
/// A [`Fault`] for a standard deviation out of its range, or a log that can't be fitted once it is changed so little.
pub(crate) fn widened(mut fit: LogFit, errors: &SharedErrors, log: &SwingLog, known: &Known) -> Result<LogFit, Fault> {
    let why = "standard deviation of an error that all angles share";
    let common = errors.common_sd_deg.within("shared_errors.common_sd_deg", 0.0, 30.0, "degrees", why)?.to_radians();
    let once = errors.once_a_turn_sd_deg.within("shared_errors.once_a_turn_sd_deg", 0.0, 10.0, "degrees", why)?.to_radians();
    let twice = errors.twice_a_turn_sd_deg.within("shared_errors.twice_a_turn_sd_deg", 0.0, 10.0, "degrees", why)?.to_radians();
    let base = values(&fit);
    let mut variance = [0.0; VALUES];
    let mut heavy_drift = fit.correlation_heavy_drift * fit.heavy_sd_rad * fit.drift_over_u_sd;
    variance[HEAVY] += common * common;
    for (sd, times) in [(once, 1.0), (twice, 2.0)] {
        if sd == 0.0 {
            continue;
        }
        for phase in [0.0, std::f64::consts::FRAC_PI_2] {
            let bent: Vec<f64> = log.angle_rad.iter().map(|a| a + sd * (times * a - phase).cos()).collect();
            let changed = values(&fit_log(&SwingLog { angle_rad: &bent, ..*log }, known)?);
            let mut by: [f64; VALUES] = std::array::from_fn(|k| changed[k] - base[k]);
            by[HEAVY] = (by[HEAVY] + std::f64::consts::PI).rem_euclid(std::f64::consts::TAU) - std::f64::consts::PI;
            for (v, by) in variance.iter_mut().zip(by) {
                *v += by * by;
            }
            heavy_drift += by[HEAVY] * by[DRIFT];
        }
    }
    let sd = variance.map(f64::sqrt);
    fit.u_over_j_rel_sd = fit.u_over_j_rel_sd.hypot(sd[0]);
    fit.heavy_sd_rad = fit.heavy_sd_rad.hypot(sd[HEAVY]);
    fit.drift_over_u_sd = fit.drift_over_u_sd.hypot(sd[DRIFT]);
    fit.correlation_heavy_drift = correlation(heavy_drift, fit.heavy_sd_rad, fit.drift_over_u_sd);
    fit.c_over_j_per_s.1 = fit.c_over_j_per_s.1.hypot(sd[3]);
    fit.d_over_j.1 = fit.d_over_j.1.hypot(sd[4]);
    fit.tc_over_j_per_s2.1 = fit.tc_over_j_per_s2.1.hypot(sd[5]);
    fit.td_over_j_per_s2.1 = fit.td_over_j_per_s2.1.hypot(sd[6]);
    if fit.reliable && (fit.u_over_j_rel_sd > RELIABLE_REL_SD || fit.heavy_sd_rad > RELIABLE_HEAVY_SD_RAD) {
        fit.reliable = false;
        fit.cautions.push(format!(
            "With the errors that all angles share the log only hints at the unbalance: its size is told to {:.0} %, its direction to {:.0}° (one standard deviation).",
            100.0 * fit.u_over_j_rel_sd,
            fit.heavy_sd_rad.to_degrees().min(180.0)
        ));
    }
    Ok(fit)
}

const VALUES: usize = 7;
const HEAVY: usize = 1;
const DRIFT: usize = 2;

/// What is widened, in one order; the size by its logarithm.
fn values(f: &LogFit) -> [f64; VALUES] {
    [f.u_over_j_per_s2.ln(), f.heavy_rad, f.drift_over_u, f.c_over_j_per_s.0, f.d_over_j.0, f.tc_over_j_per_s2.0, f.td_over_j_per_s2.0]
}
