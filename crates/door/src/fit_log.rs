//! `fit-log`: unbalance, drift and losses from angle against time.
//!
//! In: the log as two lists (see [`crate::log_csv`] for a file). Out: values with uncertainty, what to plot, and a reading for `estimate`.

use crate::Fault;
use crate::estimate::MeanSd;
use crate::log_errors::{SharedErrors, widened};
use crate::look::Reading;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::Ranged;
use stillwheel_physics::bench::fit_log::{self as physics, Dominant, Known, LogFit, SwingLog};
use stillwheel_physics::quantity::{Inertia, RotorAngle};

/// Input of `fit-log`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FitLogIn {
    /// Times, s: 8 to 200000 of them, strictly rising, spanning 0.5 s or more; any start, any spacing, gaps allowed.
    pub t_s: Vec<f64>,
    /// Room angle of the zero mark at these times, degrees counter-clockwise from straight down; within 0 to 360, or continuous.
    pub angle_deg: Vec<f64>,
    /// Inertia about the arbor's axis, kg·m² (on rolling ways it holds mass times arbor radius squared too); without it only ratios to the
    /// inertia are told.
    #[serde(default)]
    pub inertia_kg_m2: Option<f64>,
    /// Relative standard deviation of the inertia, 0 to 0.5 (0: exact).
    #[serde(default)]
    pub inertia_rel_sd: f64,
    /// Standard deviation of the stand's drift torque, about zero, g·mm, if it is known; needs the inertia.
    #[serde(default)]
    pub drift_prior_sd_g_mm: Option<f64>,
    /// Whether the stand may rub dry: true for ways and rollers, false on air.
    #[serde(default)]
    pub dry_friction_possible: bool,
    /// Standard deviation of each angle, degrees: one for all, or one a point; missing: found from the log.
    #[serde(default)]
    pub angle_sd_deg: Option<OneOrEach>,
    /// For taps at the moment a mark passes: standard deviation of the times, s (0.05 to 0.15 for a finger). The angle then
    /// counts as exact and is not unwrapped: give it continuous over whole turns.
    #[serde(default)]
    pub time_sd_s: Option<f64>,
    /// Errors that all angles share, which no number of points averages away: those of a camera or of a scale.
    #[serde(default)]
    pub shared_errors: Option<SharedErrors>,
}

/// One number for all points, or one for each.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(untagged)]
pub enum OneOrEach {
    /// The same for all.
    One(f64),
    /// One a point.
    Each(Vec<f64>),
}

/// What acts most on the rotor besides its unbalance.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum MainCause {
    /// Drag in proportion to speed (the air film).
    ViscousDrag,
    /// Drag by the square of speed (the air round the wheel).
    QuadraticDrag,
    /// Dry friction.
    DryFriction,
    /// Drift torque.
    Drift,
    /// None stands out of its own uncertainty.
    Nothing,
}

/// Mean torque of each cause over the log, as a share of the unbalance.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Shares {
    /// Viscous drag.
    pub viscous_drag: f64,
    /// Quadratic drag.
    pub quadratic_drag: f64,
    /// Dry friction.
    pub dry_friction: f64,
    /// Drift torque.
    pub drift: f64,
}

/// The same values times the inertia, when it was given. Their standard deviations hold the inertia's.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct WithInertia {
    /// Size of the unbalance, g·mm.
    pub unbalance_g_mm: MeanSd,
    /// Drift torque, g·mm, positive counter-clockwise.
    pub drift_g_mm: MeanSd,
    /// Dry friction, g·mm.
    pub dry_friction_g_mm: MeanSd,
    /// Viscous drag, g·mm·s (torque / g per rad/s).
    pub viscous_drag_g_mm_s: MeanSd,
    /// Quadratic drag, g·mm·s² (torque / g per (rad/s)²).
    pub quadratic_drag_g_mm_s2: MeanSd,
}

/// Output of `fit-log`. All standard deviations are k = 1.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FitLogOut {
    /// A reading of kind `log` for `estimate`, or nothing if the log only hints at the unbalance (see `cautions`).
    pub reading: Option<Reading>,
    /// Unbalance over inertia, 1/s² (g·mm per g·mm·s²).
    pub u_over_j_per_s2: f64,
    /// Its relative standard deviation.
    pub u_over_j_rel_sd: f64,
    /// Rotor angle of the heavy side, degrees, 0 to 360.
    pub heavy_deg: f64,
    /// Its standard deviation, degrees.
    pub heavy_sd_deg: f64,
    /// Drift torque over unbalance; positive counter-clockwise.
    pub drift_over_u: MeanSd,
    /// Viscous drag over inertia, 1/s.
    pub viscous_over_j_per_s: MeanSd,
    /// Quadratic drag over inertia, no unit.
    pub quadratic_over_j: MeanSd,
    /// Dry friction over inertia, 1/s².
    pub dry_over_j_per_s2: MeanSd,
    /// Drift torque over inertia, 1/s².
    pub drift_over_j_per_s2: MeanSd,
    /// The same with the inertia, if it was given.
    pub with_inertia: Option<WithInertia>,
    /// Room angle of the zero mark at the first time, degrees, 0 to 360.
    pub phi0_deg: f64,
    /// Speed there, degrees per second.
    pub omega0_deg_per_s: f64,
    /// Names and units of the rows of `covariance`.
    pub covariance_of: Vec<String>,
    /// Full covariance of these, in products of their units; of the noise alone, without shared errors.
    pub covariance: Vec<Vec<f64>>,
    /// Losses that came out as zero, their bound, or were said to be impossible.
    pub at_bound: Vec<String>,
    /// Standard deviation of one angle, degrees.
    pub noise_sd_deg: f64,
    /// How many times more the points scatter than the given standard deviations say (1 if none were given).
    pub scatter_factor: f64,
    /// Points used.
    pub points_used: usize,
    /// Points dropped, by their place in the log from 0.
    pub points_dropped: Vec<usize>,
    /// Fitted angle at the times of the log, degrees, continuous.
    pub fitted_deg: Vec<f64>,
    /// Measured less fitted at the same times, degrees.
    pub residual_deg: Vec<f64>,
    /// How many swings the log covers.
    pub swings_covered: f64,
    /// Mean torques over the log as shares of the unbalance.
    pub torque_shares: Shares,
    /// The largest of them that stands out of its uncertainty.
    pub main_cause: MainCause,
    /// A sentence about it.
    pub main_cause_words: String,
    /// What to beware of.
    pub cautions: Vec<String>,
}

/// Rows of the covariance.
const COVARIANCE_OF: [&str; 8] = [
    "u_cos_heavy_over_j_per_s2",
    "u_sin_heavy_over_j_per_s2",
    "viscous_over_j_per_s",
    "quadratic_over_j",
    "dry_over_j_per_s2",
    "drift_over_j_per_s2",
    "phi0_rad",
    "omega0_rad_per_s",
];

/// Fit a swing log.
///
/// # Errors
/// A [`Fault`] for any field out of its range, a log that holds no motion, or one that no pendulum fits.
pub fn fit_log(input: &FitLogIn) -> Result<FitLogOut, Fault> {
    let inertia = input
        .inertia_kg_m2
        .map(|i| i.within("inertia_kg_m2", 1e-9, 1e4, "kg·m²", "inertia about the arbor's axis, of the rotor as it swings"))
        .transpose()?
        .map(|i| Inertia::from_kg_m2(i).g_mm_s2());
    let inertia_rel_sd = input.inertia_rel_sd.within("inertia_rel_sd", 0.0, 0.5, "", "relative standard deviation of the inertia")?;
    let drift_prior = match (input.drift_prior_sd_g_mm, inertia) {
        (None, _) => None,
        (Some(_), None) => {
            return Err(Fault::new(
                "inertia_kg_m2",
                "missing",
                "1e-9 to 1e4 kg·m²",
                "a drift known in g·mm says nothing about a swing without the inertia: give both or neither",
            ));
        }
        (Some(sd), Some(j)) => {
            Some(sd.within("drift_prior_sd_g_mm", 1e-6, 1e6, "g·mm", "standard deviation of the stand's drift torque")? / j)
        }
    };
    // The length first: converting ten million angles only to refuse them would take longer than refusing them.
    if input.t_s.len() > physics::MOST_POINTS || input.angle_deg.len() > physics::MOST_POINTS {
        return Err(Fault::new(
            "t_s",
            input.t_s.len().max(input.angle_deg.len()),
            format!("{} to {} points", physics::LEAST_POINTS, physics::MOST_POINTS),
            "the log is longer than it needs to be: thin it, every tenth point of a fast recording tells as much",
        ));
    }
    let angle: Vec<f64> = input.angle_deg.iter().map(|a| a.to_radians()).collect();
    let sds: Option<Vec<f64>> = input.angle_sd_deg.as_ref().map(|s| match s {
        OneOrEach::One(sd) => vec![sd.to_radians(); angle.len()],
        OneOrEach::Each(list) => list.iter().map(|sd| sd.to_radians()).collect(),
    });
    let log = SwingLog { time_s: &input.t_s, angle_rad: &angle, angle_sd_rad: sds.as_deref(), time_sd_s: input.time_sd_s };
    let known = Known { dry_friction_possible: input.dry_friction_possible, drift_prior_sd_per_s2: drift_prior };
    let fit = physics::fit_log(&log, &known).map_err(|f| in_door_words(f, input))?;
    let fit = match &input.shared_errors {
        Some(errors) => widened(fit, errors, &log, &known).map_err(|f| in_door_words(f, input))?,
        None => fit,
    };
    Ok(told(&fit, inertia, inertia_rel_sd))
}

/// The physics speaks of radians; the person gave degrees, under the door's names.
fn in_door_words(fault: Fault, input: &FitLogIn) -> Fault {
    let renamed = |field: &str, from: &str, to: &str| field.strip_prefix(from).map(|rest| format!("{to}{rest}"));
    let index = |field: &str| -> Option<usize> { field.split_once('[')?.1.strip_suffix(']')?.parse().ok() };
    if let Some(field) = renamed(&fault.field, "time_s", "t_s").filter(|_| !fault.field.starts_with("time_sd_s")) {
        return Fault { field, ..fault };
    }
    if let Some(field) = renamed(&fault.field, "angle_rad", "angle_deg") {
        return match index(&field) {
            Some(i) => Fault::new(field, input.angle_deg.get(i).copied().unwrap_or(f64::NAN), "−5.7e7 to 5.7e7 degrees", fault.why),
            None => Fault { field, ..fault },
        };
    }
    if let Some(field) = renamed(&fault.field, "angle_sd_rad", "angle_sd_deg") {
        let value = match (&input.angle_sd_deg, index(&field)) {
            (Some(OneOrEach::One(sd)), Some(_)) => return Fault::new("angle_sd_deg", *sd, "6e-8 to 570 degrees", fault.why),
            (Some(OneOrEach::Each(list)), Some(i)) => list.get(i).copied().unwrap_or(f64::NAN),
            _ => return Fault { field, ..fault },
        };
        return Fault::new(field, value, "6e-8 to 570 degrees", fault.why);
    }
    fault
}

fn told(fit: &LogFit, inertia: Option<f64>, inertia_rel_sd: f64) -> FitLogOut {
    let pair = |(mean, sd): (f64, f64)| MeanSd { mean, sd };
    let heavy_deg = RotorAngle::from_rad(fit.heavy_rad).deg();
    let heavy_sd_deg = fit.heavy_sd_rad.to_degrees();
    let drift_over_u = MeanSd { mean: fit.drift_over_u, sd: fit.drift_over_u_sd };
    let reading = fit.reliable.then_some(Reading::Log {
        u_over_j_per_s2: fit.u_over_j_per_s2,
        u_over_j_rel_sd: fit.u_over_j_rel_sd,
        heavy_deg,
        heavy_sd_deg,
        drift_over_u: drift_over_u.mean,
        drift_over_u_sd: drift_over_u.sd,
        correlation_heavy_drift: fit.correlation_heavy_drift,
    });
    let with_inertia = inertia.map(|j| {
        let times = |(mean, sd): (f64, f64)| MeanSd { mean: mean * j, sd: j * sd.hypot(mean * inertia_rel_sd) };
        let u = fit.u_over_j_per_s2;
        WithInertia {
            unbalance_g_mm: times((u, u * fit.u_over_j_rel_sd)),
            drift_g_mm: times(fit.td_over_j_per_s2),
            dry_friction_g_mm: times(fit.tc_over_j_per_s2),
            viscous_drag_g_mm_s: times(fit.c_over_j_per_s),
            quadratic_drag_g_mm_s2: times(fit.d_over_j),
        }
    });
    FitLogOut {
        reading,
        u_over_j_per_s2: fit.u_over_j_per_s2,
        u_over_j_rel_sd: fit.u_over_j_rel_sd,
        heavy_deg,
        heavy_sd_deg,
        drift_over_u,
        viscous_over_j_per_s: pair(fit.c_over_j_per_s),
        quadratic_over_j: pair(fit.d_over_j),
        dry_over_j_per_s2: pair(fit.tc_over_j_per_s2),
        drift_over_j_per_s2: pair(fit.td_over_j_per_s2),
        with_inertia,
        phi0_deg: RotorAngle::from_rad(fit.phi0_rad).deg(),
        omega0_deg_per_s: fit.omega0_rad_s.to_degrees(),
        covariance_of: COVARIANCE_OF.iter().map(|s| (*s).to_owned()).collect(),
        covariance: fit.covariance.iter().map(|row| row.to_vec()).collect(),
        at_bound: COVARIANCE_OF.iter().zip(fit.held).filter(|(_, h)| *h).map(|(name, _)| (*name).to_owned()).collect(),
        noise_sd_deg: fit.noise_sd_rad.to_degrees(),
        scatter_factor: fit.scatter_factor,
        points_used: fit.used,
        points_dropped: fit.dropped.clone(),
        fitted_deg: fit.fitted_rad.iter().map(|a| a.to_degrees()).collect(),
        residual_deg: fit.residual_rad.iter().map(|a| a.to_degrees()).collect(),
        swings_covered: fit.swings_covered,
        torque_shares: Shares {
            viscous_drag: fit.braking.viscous_over_u,
            quadratic_drag: fit.braking.quadratic_over_u,
            dry_friction: fit.braking.dry_over_u,
            drift: fit.braking.drift_over_u,
        },
        main_cause: match fit.dominant {
            Dominant::ViscousDrag => MainCause::ViscousDrag,
            Dominant::QuadraticDrag => MainCause::QuadraticDrag,
            Dominant::DryFriction => MainCause::DryFriction,
            Dominant::Drift => MainCause::Drift,
            Dominant::Nothing => MainCause::Nothing,
        },
        main_cause_words: fit.dominant_words.clone(),
        cautions: fit.cautions.clone(),
    }
}
