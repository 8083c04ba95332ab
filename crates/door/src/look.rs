//! A look as it comes through the door, and its way to the physics.

use crate::Fault;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::Ranged;
use stillwheel_physics::bench::look::{self as physics, Weight};
use stillwheel_physics::quantity::{Angle, RotorAngle, Seconds, Unbalance};

/// A weight by its static moment and place.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct WeightAt {
    /// Mass times radius of its mass centre, g·mm (0 to 1e7).
    pub moment_g_mm: f64,
    /// Rotor angle of its centre, degrees counter-clockwise from the zero mark.
    pub at_deg: f64,
}

/// A known mass added for one look.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TrialWeight {
    /// Mass, g.
    pub mass_g: f64,
    /// Radius of its mass centre, mm.
    pub radius_mm: f64,
    /// Rotor angle, degrees counter-clockwise from the zero mark.
    pub at_deg: f64,
}

/// Which way it creeps, operator's side.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Sense {
    /// Counter-clockwise.
    CounterClockwise,
    /// Clockwise.
    Clockwise,
}

/// What was seen. All `sd` are standard deviations (k = 1).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Reading {
    /// It came to rest: direction, not size.
    Settle {
        /// Rotor angle at the bottom, degrees.
        settle_deg: f64,
        /// Standard deviation, degrees.
        sd_deg: f64,
    },
    /// A timed free swing: size, not direction.
    Swing {
        /// Full swings timed, out and back (multiples of 0.5).
        swings: f64,
        /// Time of them all, s.
        time_s: f64,
        /// Standard deviation of the time, s.
        time_sd_s: f64,
        /// First amplitude from the rest place, degrees (below 180).
        amplitude_deg: f64,
        /// Standard deviation of the amplitude, degrees.
        amplitude_sd_deg: f64,
        /// Last amplitude, degrees, if it was read.
        #[serde(default)]
        amplitude_end_deg: Option<f64>,
    },
    /// Let go, and not back after so long: an upper limit of the size.
    StillOut {
        /// Full swings waited for (0.5: until the other turning point).
        swings: f64,
        /// How long it was watched, s.
        waited_s: f64,
        /// Amplitude from the rest place, degrees.
        amplitude_deg: f64,
        /// Standard deviation of the amplitude, degrees.
        amplitude_sd_deg: f64,
    },
    /// Holds with the trial weight on: one component.
    Holds {
        /// Rotor angle at the bottom while it holds, degrees.
        bottom_deg: f64,
        /// Standard deviation, g·mm.
        sd_g_mm: f64,
    },
    /// A fitted swing log (see `fit-log`).
    Log {
        /// Unbalance over inertia, 1/s² (g·mm per g·mm·s²).
        u_over_j_per_s2: f64,
        /// Its relative standard deviation.
        u_over_j_rel_sd: f64,
        /// Rotor angle of the heavy side, degrees.
        heavy_deg: f64,
        /// Its standard deviation, degrees.
        heavy_sd_deg: f64,
        /// Drift torque over unbalance.
        drift_over_u: f64,
        /// Its standard deviation.
        drift_over_u_sd: f64,
        /// Correlation of the errors of heavy side and of drift over unbalance, −0.9999 to 0.9999 (missing: 0, as if independent).
        #[serde(default)]
        correlation_heavy_drift: f64,
    },
    /// Creeps one way for ever.
    Creeps {
        /// Which way.
        sense: Sense,
        /// Width of the boundary, g·mm.
        sd_g_mm: f64,
    },
    /// Stays wherever it is put.
    Stays {
        /// Width of the boundary, g·mm.
        sd_g_mm: f64,
    },
}

/// One look: the weights during it, and what was seen.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Look {
    /// All correction weights on the rotor, in one fixed order through the sitting.
    pub weights: Vec<WeightAt>,
    /// How far the rotor was turned on the arbor against its first seat, degrees counter-clockwise.
    #[serde(default)]
    pub turned_on_arbor_deg: f64,
    /// A known mass added for this look only.
    #[serde(default)]
    pub trial: Option<TrialWeight>,
    /// What was seen.
    pub reading: Reading,
}

/// Range of an angle: a few turns either way; more is a slip of the keyboard.
const MOST_DEG: f64 = 3600.0;

fn angle(field: &str, v: f64) -> Result<f64, Fault> {
    v.within(field, -MOST_DEG, MOST_DEG, "degrees", "an angle on the rotor, counter-clockwise from the zero mark")
}

fn sd(field: &str, v: f64, high: f64, unit: &str) -> Result<f64, Fault> {
    v.within(field, 1e-6, high, unit, "a standard deviation must be positive: how well can this be read?")
}

/// A fitted log may claim any precision; the model behind the fit (rigid rotor, constant drift, local gravity) is not
/// known better than a part in ten thousand, so no claim below that is believed. Common practice, no source.
const MODEL_SD: f64 = 1e-4;

fn log_sd(field: &str, v: f64, high: f64, unit: &str) -> Result<f64, Fault> {
    v.within(field, f64::MIN_POSITIVE, high, unit, "a standard deviation must be positive; it comes from fit-log").map(|v| v.max(MODEL_SD))
}

impl WeightAt {
    /// The weight as the physics takes it.
    ///
    /// # Errors
    /// A [`Fault`] for a moment that is negative or too large, or an angle that is not finite.
    pub fn physics(&self) -> Result<Weight, Fault> {
        let moment = self.moment_g_mm.within("moment_g_mm", 0.0, 1e7, "g·mm", "mass times radius; zero is an empty place")?;
        Ok(Weight { moment: Unbalance::from_g_mm(moment), at: RotorAngle::from_deg(angle("at_deg", self.at_deg)?) })
    }
}

/// A list of weights, with faults that name the place in it.
///
/// # Errors
/// As [`WeightAt::physics`]; more than 60 weights.
pub fn weights(field: &str, list: &[WeightAt]) -> Result<Vec<Weight>, Fault> {
    if list.len() > 60 {
        return Err(Fault::new(field, list.len(), "0 to 60 weights", "no ring has so many"));
    }
    list.iter().enumerate().map(|(i, w)| w.physics().map_err(|f| f.inside(&format!("{field}[{i}]")))).collect()
}

impl TrialWeight {
    pub(crate) fn physics(&self) -> Result<Weight, Fault> {
        let mass = self.mass_g.within("mass_g", 1e-4, 1e4, "g", "mass of the trial weight")?;
        let radius = self.radius_mm.within("radius_mm", 0.1, 2000.0, "mm", "radius of its mass centre")?;
        Ok(Weight { moment: Unbalance::from_g_mm(mass * radius), at: RotorAngle::from_deg(angle("at_deg", self.at_deg)?) })
    }
}

impl Look {
    /// The look as the physics takes it.
    ///
    /// # Errors
    /// A [`Fault`] for any value out of range, named by its path inside the look.
    pub fn physics(&self) -> Result<physics::Look, Fault> {
        Ok(physics::Look {
            weights: weights("weights", &self.weights)?,
            turned_on_arbor: Angle::from_deg(angle("turned_on_arbor_deg", self.turned_on_arbor_deg)?),
            trial: self.trial.map(|t| t.physics().map_err(|f| f.inside("trial"))).transpose()?,
            reading: self.reading.physics().map_err(|f| f.inside("reading"))?,
        })
    }
}

impl Reading {
    fn physics(&self) -> Result<physics::Reading, Fault> {
        let amplitude = |field: &str, v: f64| {
            v.within(field, 1.0, 179.0, "degrees", "counted from the rest place; at 180° the heavy side stands on its head")
                .map(Angle::from_deg)
        };
        let swings_of = |v: f64| -> Result<f64, Fault> {
            let v = v.within("swings", 0.5, 1000.0, "full swings", "out and back is one; from one turning point to the other is a half")?;
            if (2.0 * v).fract() == 0.0 {
                Ok(v)
            } else {
                Err(Fault::new("swings", v, "multiples of 0.5", "count turning points: each half swing ends at one"))
            }
        };
        Ok(match *self {
            Self::Settle { settle_deg, sd_deg } => physics::Reading::Settle {
                bottom: RotorAngle::from_deg(angle("settle_deg", settle_deg)?),
                sd: Angle::from_deg(sd("sd_deg", sd_deg, 90.0, "degrees")?),
            },
            Self::Swing { swings, time_s, time_sd_s, amplitude_deg, amplitude_sd_deg, amplitude_end_deg } => {
                let first = amplitude("amplitude_deg", amplitude_deg)?;
                let last = amplitude_end_deg.map(|a| amplitude("amplitude_end_deg", a)).transpose()?;
                if last.is_some_and(|l| l.rad() > first.rad()) {
                    return Err(Fault::new(
                        "amplitude_end_deg",
                        amplitude_end_deg.unwrap_or(0.0),
                        format!("at most {amplitude_deg} degrees"),
                        "a free swing does not grow: were the two taken the wrong way round?",
                    ));
                }
                physics::Reading::Swing {
                    swings: swings_of(swings)?,
                    amplitude: first,
                    amplitude_end: last,
                    amplitude_sd: Angle::from_deg(sd("amplitude_sd_deg", amplitude_sd_deg, 60.0, "degrees")?),
                    time: Seconds::new(time_s.within("time_s", 0.05, 1e5, "s", "time of all the swings together")?),
                    time_sd: Seconds::new(sd("time_sd_s", time_sd_s, 1e3, "s")?),
                }
            }
            Self::StillOut { swings, waited_s, amplitude_deg, amplitude_sd_deg } => physics::Reading::StillOut {
                swings: swings_of(swings)?,
                amplitude: amplitude("amplitude_deg", amplitude_deg)?,
                amplitude_sd: Angle::from_deg(sd("amplitude_sd_deg", amplitude_sd_deg, 60.0, "degrees")?),
                waited: Seconds::new(waited_s.within("waited_s", 0.05, 1e5, "s", "how long it was watched")?),
            },
            Self::Holds { bottom_deg, sd_g_mm } => physics::Reading::Holds {
                bottom: RotorAngle::from_deg(angle("bottom_deg", bottom_deg)?),
                sd: Unbalance::from_g_mm(sd("sd_g_mm", sd_g_mm, 1e7, "g·mm")?),
            },
            Self::Log {
                u_over_j_per_s2,
                u_over_j_rel_sd,
                heavy_deg,
                heavy_sd_deg,
                drift_over_u,
                drift_over_u_sd,
                correlation_heavy_drift,
            } => physics::Reading::Log {
                u_over_j_per_s2: u_over_j_per_s2.within("u_over_j_per_s2", 1e-9, 1e4, "1/s²", "unbalance over inertia, from fit-log")?,
                u_over_j_rel_sd: log_sd("u_over_j_rel_sd", u_over_j_rel_sd, 10.0, "")?,
                heavy: RotorAngle::from_deg(angle("heavy_deg", heavy_deg)?),
                heavy_sd: Angle::from_deg(log_sd("heavy_sd_deg", heavy_sd_deg, 360.0, "degrees")?),
                drift_over_u: drift_over_u.within("drift_over_u", -1e3, 1e3, "", "drift torque over unbalance, from fit-log")?,
                drift_over_u_sd: log_sd("drift_over_u_sd", drift_over_u_sd, 1e3, "")?,
                correlation_heavy_drift: correlation_heavy_drift.within(
                    "correlation_heavy_drift",
                    -0.9999,
                    0.9999,
                    "",
                    "correlation of the errors of heavy side and drift, from fit-log",
                )?,
            },
            Self::Creeps { sense, sd_g_mm } => physics::Reading::Creeps {
                sense: match sense {
                    Sense::CounterClockwise => physics::Sense::CounterClockwise,
                    Sense::Clockwise => physics::Sense::Clockwise,
                },
                sd: Unbalance::from_g_mm(sd("sd_g_mm", sd_g_mm, 1e7, "g·mm")?),
            },
            Self::Stays { sd_g_mm } => physics::Reading::Stays { sd: Unbalance::from_g_mm(sd("sd_g_mm", sd_g_mm, 1e7, "g·mm")?) },
        })
    }
}

impl From<physics::Sense> for Sense {
    fn from(s: physics::Sense) -> Self {
        match s {
            physics::Sense::CounterClockwise => Self::CounterClockwise,
            physics::Sense::Clockwise => Self::Clockwise,
        }
    }
}

impl From<&physics::Reading> for Reading {
    fn from(r: &physics::Reading) -> Self {
        match *r {
            physics::Reading::Settle { bottom, sd } => Self::Settle { settle_deg: bottom.deg(), sd_deg: sd.deg() },
            physics::Reading::Swing { swings, amplitude, amplitude_end, amplitude_sd, time, time_sd } => Self::Swing {
                swings,
                time_s: time.s(),
                time_sd_s: time_sd.s(),
                amplitude_deg: amplitude.deg(),
                amplitude_sd_deg: amplitude_sd.deg(),
                amplitude_end_deg: amplitude_end.map(Angle::deg),
            },
            physics::Reading::StillOut { swings, amplitude, amplitude_sd, waited } => {
                Self::StillOut { swings, waited_s: waited.s(), amplitude_deg: amplitude.deg(), amplitude_sd_deg: amplitude_sd.deg() }
            }
            physics::Reading::Holds { bottom, sd } => Self::Holds { bottom_deg: bottom.deg(), sd_g_mm: sd.g_mm() },
            physics::Reading::Log {
                u_over_j_per_s2,
                u_over_j_rel_sd,
                heavy,
                heavy_sd,
                drift_over_u,
                drift_over_u_sd,
                correlation_heavy_drift,
            } => Self::Log {
                u_over_j_per_s2,
                u_over_j_rel_sd,
                heavy_deg: heavy.deg(),
                heavy_sd_deg: heavy_sd.deg(),
                drift_over_u,
                drift_over_u_sd,
                correlation_heavy_drift,
            },
            physics::Reading::Creeps { sense, sd } => Self::Creeps { sense: sense.into(), sd_g_mm: sd.g_mm() },
            physics::Reading::Stays { sd } => Self::Stays { sd_g_mm: sd.g_mm() },
        }
    }
}
