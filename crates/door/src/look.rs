//! A look as it comes through the door, and its way to the physics.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

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
