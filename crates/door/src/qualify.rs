//! `qualify`: drift, dry friction and floor of a real stand, from tests on it.

use crate::Fault;
use crate::estimate::MeanSd;
use crate::look::Sense;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt::Write as _;
use stillwheel_physics::Ranged;
use stillwheel_physics::bench::fit_log::{Known, SwingLog, fit_log};
use stillwheel_physics::stand::qualify::{self as physics, Before, Observation, PROCEDURE, Qualified, Test, Trial};

/// A known mass on the rotor.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TrialIn {
    /// Mass, g.
    pub mass_g: f64,
    /// Radius of its mass centre, mm.
    pub radius_mm: f64,
    /// Rotor angle of it, degrees counter-clockwise from the zero mark with the rotor as it usually lies.
    pub at_deg: f64,
}

/// What was done and seen.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
pub enum TestIn {
    /// Let go at rest, it crept off.
    Creeps {
        /// It turned by so much, degrees (0.1 to 45).
        turned_deg: f64,
        /// Standard deviation of that, degrees. Missing: 0.5.
        #[serde(default = "turned_sd")]
        turned_sd_deg: f64,
        /// Which way, as the operator sees it.
        sense: Sense,
        /// In this time, s.
        time_s: f64,
        /// Standard deviation of that, s. Missing: 0.2, a thumb on a stopwatch (common practice, no source).
        #[serde(default = "thumb")]
        time_sd_s: f64,
    },
    /// With the trial's mass it starts, with this smaller one it stays.
    Starts {
        /// Largest mass at the trial's place with which it stays, g (0: it stays without).
        stays_g: f64,
        /// Which way it starts.
        sense: Sense,
    },
    /// It came to rest there.
    Settles {
        /// Standard deviation of the reading, degrees. Missing: 1.
        #[serde(default = "settle_sd")]
        sd_deg: f64,
    },
    /// A trial swung about its rest place.
    Swings {
        /// Full swings timed, in steps of a half.
        swings: f64,
        /// Time of all of them, s.
        time_s: f64,
        /// Standard deviation of that, s. Missing: 0.2 (common practice, no source).
        #[serde(default = "thumb")]
        time_sd_s: f64,
        /// First amplitude, degrees from the rest place (0.5 to 60).
        amplitude_deg: f64,
        /// Standard deviation of an amplitude, degrees. Missing: 1.
        #[serde(default = "settle_sd")]
        amplitude_sd_deg: f64,
        /// Last amplitude, degrees; missing: the loss is not used.
        #[serde(default)]
        amplitude_end_deg: Option<f64>,
    },
    /// A swing log: angle against time, as for `fit-log`.
    Log {
        /// Times, s, strictly rising.
        t_s: Vec<f64>,
        /// Room angle of the zero mark at these times, degrees counter-clockwise from straight down.
        angle_deg: Vec<f64>,
    },
}

fn turned_sd() -> f64 {
    0.5
}
fn thumb() -> f64 {
    0.2
}
fn settle_sd() -> f64 {
    1.0
}

/// One test, with the rotor as it lay.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ObservationIn {
    /// The rotor lay turned end for end on the stand. Rotor angles are still those of its usual lie.
    #[serde(default)]
    pub reversed: bool,
    /// Rotor angle straight down when it was let go or came to rest, degrees; not used for swings and logs.
    #[serde(default)]
    pub bottom_deg: f64,
    /// Trial on the rotor.
    #[serde(default)]
    pub trial: Option<TrialIn>,
    /// What was done and seen.
    pub test: TestIn,
}

/// Input of `qualify`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct QualifyIn {
    /// Inertia of the rotor about the arbor's axis, kg·m² (on rolling ways it holds mass times arbor radius squared too).
    pub inertia_kg_m2: f64,
    /// Relative standard deviation of the inertia, 0 to 0.5. Missing: 0.05.
    #[serde(default = "inertia_rel_sd")]
    pub inertia_rel_sd: f64,
    /// Whether the stand can rub dry: true for ways and rollers, and for an arbor that leans on an end stop.
    pub dry_friction_possible: bool,
    /// The tests.
    pub observations: Vec<ObservationIn>,
}

fn inertia_rel_sd() -> f64 {
    0.05
}

/// What to keep with the stand; every later sitting uses it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct KeepOut {
    /// Smallest unbalance that the stand shows at 95 %, its drift being a part of every estimate, g·mm.
    pub floor_g_mm: f64,
    /// Dry friction, g·mm.
    pub dry_friction_g_mm: f64,
    /// Drift torque, standard deviation about zero, g·mm: root sum of mean and deviation, as a sitting takes it.
    pub drift_sd_g_mm: f64,
    /// Drift torque itself, g·mm, positive counter-clockwise.
    pub drift_mean_g_mm: f64,
    /// Standard deviation of the drift about that mean, g·mm.
    pub drift_mean_sd_g_mm: f64,
}

/// The test that fits least.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct WorstOut {
    /// Its place in `observations`, from 0.
    pub observation: usize,
    /// How many standard deviations it is off.
    pub off_by_sd: f64,
}

/// Output of `qualify`. All standard deviations are k = 1.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct QualifyOut {
    /// The answer in a few sentences.
    pub says: String,
    /// Drift torque, g·mm, positive counter-clockwise; absent: not told.
    pub drift_g_mm: Option<MeanSd>,
    /// Dry friction, g·mm; absent: not told.
    pub dry_friction_g_mm: Option<MeanSd>,
    /// The rotor's own residual along its zero mark, g·mm; absent: not told.
    pub residual_x_g_mm: Option<MeanSd>,
    /// The rotor's own residual a quarter turn counter-clockwise from the zero mark, g·mm; absent: not told.
    pub residual_y_g_mm: Option<MeanSd>,
    /// Viscous drag, g·mm·s; absent: no loss of amplitude was read.
    pub viscous_drag_g_mm_s: Option<MeanSd>,
    /// Inertia, kg·m².
    pub inertia_kg_m2: MeanSd,
    /// Smallest unbalance that the stand shows at 95 % when its drift is taken off, g·mm.
    pub floor_drift_known_g_mm: Option<f64>,
    /// The same when nobody takes it off, g·mm.
    pub floor_g_mm: Option<f64>,
    /// Equations less unknowns.
    pub degrees_of_freedom: usize,
    /// How many times more the tests scatter than their deviations say (1 or more); already in the deviations above.
    pub scatter_factor: f64,
    /// The test that fits least, if it is over three deviations off.
    pub worst: Option<WorstOut>,
    /// What to keep with the stand; absent while drift or friction are not told.
    pub keep: Option<KeepOut>,
    /// What the tests do not tell, and which would.
    pub cannot_tell: Vec<String>,
    /// What to beware of.
    pub cautions: Vec<String>,
    /// How to do it, step by step.
    pub procedure: Vec<String>,
}

/// How to measure a stand, step by step.
#[must_use]
pub fn procedure() -> &'static [&'static str] {
    &PROCEDURE
}

/// Measure a stand.
///
/// # Errors
/// A [`Fault`] for a value out of its range with its place, a log that only hints, and tests that nothing fits.
pub fn qualify(input: &QualifyIn) -> Result<QualifyOut, Fault> {
    let before = Before {
        inertia_kg_m2: input.inertia_kg_m2,
        inertia_rel_sd: input.inertia_rel_sd,
        dry_friction_possible: input.dry_friction_possible,
    };
    let observations = input
        .observations
        .iter()
        .enumerate()
        .map(|(i, o)| observation(o, input.dry_friction_possible).map_err(|f| f.inside(&format!("observations[{i}]"))))
        .collect::<Result<Vec<_>, _>>()?;
    let got = physics::qualify(&before, &observations).map_err(at_test)?;
    Ok(out(&got))
}

/// The physics tells a test's own fields beside the trial; here they stand inside `test`.
fn at_test(mut fault: Fault) -> Fault {
    if let Some((place, field)) = fault.field.split_once("].")
        && !field.starts_with("trial")
        && field != "bottom_deg"
    {
        fault.field = format!("{place}].test.{field}");
    }
    fault
}

fn seen(sense: Sense) -> stillwheel_physics::bench::look::Sense {
    match sense {
        Sense::CounterClockwise => stillwheel_physics::bench::look::Sense::CounterClockwise,
        Sense::Clockwise => stillwheel_physics::bench::look::Sense::Clockwise,
    }
}

fn observation(o: &ObservationIn, dry: bool) -> Result<Observation, Fault> {
    let test = match &o.test {
        TestIn::Creeps { turned_deg, turned_sd_deg, sense, time_s, time_sd_s } => Test::Creeps {
            turned_deg: *turned_deg,
            turned_sd_deg: *turned_sd_deg,
            sense: seen(*sense),
            time_s: *time_s,
            time_sd_s: *time_sd_s,
        },
        TestIn::Starts { stays_g, sense } => Test::Starts { stays_g: *stays_g, sense: seen(*sense) },
        TestIn::Settles { sd_deg } => Test::Settles { sd_deg: *sd_deg },
        TestIn::Swings { swings, time_s, time_sd_s, amplitude_deg, amplitude_sd_deg, amplitude_end_deg } => Test::Swings {
            swings: *swings,
            time_s: *time_s,
            time_sd_s: *time_sd_s,
            amplitude_deg: *amplitude_deg,
            amplitude_sd_deg: *amplitude_sd_deg,
            amplitude_end_deg: *amplitude_end_deg,
        },
        TestIn::Log { t_s, angle_deg } => log(t_s, angle_deg, dry).map_err(|f| f.inside("test"))?,
    };
    let trial = o.trial.map(|t| Trial { mass_g: t.mass_g, radius_mm: t.radius_mm, at_deg: t.at_deg });
    Ok(Observation { reversed: o.reversed, bottom_deg: o.bottom_deg, trial, test })
}

/// Fit a swing log; one that only hints is no test.
fn log(t_s: &[f64], angle_deg: &[f64], dry: bool) -> Result<Test, Fault> {
    if t_s.len() != angle_deg.len() {
        return Err(Fault::new("angle_deg", angle_deg.len(), format!("{} angles, one for each time", t_s.len()), "the lists go together"));
    }
    let mut angle_rad = Vec::with_capacity(angle_deg.len());
    for (i, a) in angle_deg.iter().enumerate() {
        angle_rad.push(a.within(&format!("angle_deg[{i}]"), -1e6, 1e6, "degrees", "room angle of the zero mark")?.to_radians());
    }
    let log = SwingLog { time_s: t_s, angle_rad: &angle_rad, angle_sd_rad: None, time_sd_s: None };
    let fit = fit_log(&log, &Known { dry_friction_possible: dry, drift_prior_sd_per_s2: None }).map_err(|mut f| {
        f.field = f.field.replace("time_s", "t_s").replace("angle_rad", "angle_deg");
        f
    })?;
    if !fit.reliable {
        let why = "the log is too short or too rough to measure a stand by: log two swings or more";
        return Err(Fault::new("angle_deg", "a log that only hints", "a log that tells size and direction", why));
    }
    let u = fit.u_over_j_per_s2;
    Ok(Test::Log {
        u_over_j_per_s2: (u, u * fit.u_over_j_rel_sd),
        heavy_deg: (fit.heavy_rad.to_degrees(), fit.heavy_sd_rad.to_degrees()),
        drift_over_j_per_s2: fit.td_over_j_per_s2,
        // A friction that was held at zero has no deviation.
        dry_over_j_per_s2: (dry && fit.tc_over_j_per_s2.1 > 0.0).then_some(fit.tc_over_j_per_s2),
    })
}

fn out(got: &Qualified) -> QualifyOut {
    let told = |m: physics::MeanSd| MeanSd { mean: m.mean, sd: m.sd };
    let keep = match (got.drift_g_mm, got.dry_friction_g_mm, got.floor_drift_known_g_mm, got.drift_sd_about_zero_g_mm) {
        (Some(drift), Some(friction), Some(floor_g_mm), Some(drift_sd_g_mm)) => Some(KeepOut {
            floor_g_mm,
            dry_friction_g_mm: friction.mean,
            drift_sd_g_mm,
            drift_mean_g_mm: drift.mean,
            drift_mean_sd_g_mm: drift.sd,
        }),
        _ => None,
    };
    QualifyOut {
        says: says(got, keep.as_ref()),
        drift_g_mm: got.drift_g_mm.map(told),
        dry_friction_g_mm: got.dry_friction_g_mm.map(told),
        residual_x_g_mm: got.residual_g_mm.map(|r| told(r[0])),
        residual_y_g_mm: got.residual_g_mm.map(|r| told(r[1])),
        viscous_drag_g_mm_s: got.viscous_drag_g_mm_s.map(told),
        inertia_kg_m2: told(got.inertia_kg_m2),
        floor_drift_known_g_mm: got.floor_drift_known_g_mm,
        floor_g_mm: got.floor_g_mm,
        degrees_of_freedom: got.degrees_of_freedom,
        scatter_factor: got.scatter_factor,
        worst: got.worst.map(|w| WorstOut { observation: w.observation, off_by_sd: w.off_by_sd }),
        keep,
        cannot_tell: got.cannot_tell.iter().map(|t| (*t).to_owned()).collect(),
        cautions: vec![
            "Measured are drift and dry friction only. Run-out of the arbor and play of the adapter come on top: see `floor`.".to_owned(),
        ],
        procedure: procedure().iter().map(|s| (*s).to_owned()).collect(),
    }
}

fn says(got: &Qualified, keep: Option<&KeepOut>) -> String {
    let Some(k) = keep else {
        return format!("These tests do not tell all of the stand yet. {}.", got.cannot_tell.join(". "));
    };
    // ± at 95 %, as everywhere in the program.
    let mut text = format!(
        "The stand drifts by {:.3} ± {:.3} g·mm and rubs by {:.3} g·mm. With the drift taken off it shows {:.3} g·mm.",
        k.drift_mean_g_mm,
        1.96 * k.drift_mean_sd_g_mm,
        k.dry_friction_g_mm,
        k.floor_g_mm
    );
    if let Some(w) = got.worst {
        let _ = write!(
            text,
            " Test {} is {:.1} deviations off: was its sense, its side or its lie noted right? Do it again.",
            w.observation + 1,
            w.off_by_sd
        );
    } else if got.scatter_factor > 2.0 {
        text += " The tests scatter more than they should: the stand changes from one to the next, or they were read less well than said.";
    }
    if got.degrees_of_freedom == 0 {
        text += " There are no more tests than unknowns, so nothing checks them: take a few more.";
    }
    text
}

/// Creeps of the demo's wheel at four marks, as it lies and turned end for end.
pub(crate) fn example() -> QualifyIn {
    // Of a hidden stand with 0.8 g·mm of drift and a residual of 0.3 g·mm along the mark, −0.2 a quarter turn from it.
    let creep = |reversed, bottom_deg, time_s| ObservationIn {
        reversed,
        bottom_deg,
        trial: None,
        test: TestIn::Creeps { turned_deg: 10.0, turned_sd_deg: turned_sd(), sense: Sense::CounterClockwise, time_s, time_sd_s: thumb() },
    };
    QualifyIn {
        inertia_kg_m2: 0.0082,
        inertia_rel_sd: inertia_rel_sd(),
        dry_friction_possible: false,
        observations: vec![
            creep(false, 0.0, 17.3),
            creep(false, 90.0, 16.2),
            creep(false, 180.0, 22.0),
            creep(false, 270.0, 24.2),
            creep(true, 0.0, 22.3),
            creep(true, 90.0, 24.2),
            creep(true, 180.0, 17.5),
            creep(true, 270.0, 16.3),
        ],
    }
}
