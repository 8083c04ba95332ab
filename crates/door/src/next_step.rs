//! `next-step`: what to do after a look.

use crate::Fault;
use crate::estimate::{EstimateOut, Known};
use crate::look::{Look, WeightAt};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

pub use crate::place_weights::{Groove, GrooveWeight};

/// How well this person reads.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Reader {
    /// Standard deviation of a settle angle, degrees.
    pub settle_sd_deg: f64,
    /// Standard deviation of a timed swing, s.
    pub time_sd_s: f64,
    /// Amplitude that swings are let go from, degrees.
    pub amplitude_deg: f64,
    /// Standard deviation of that amplitude, degrees.
    pub amplitude_sd_deg: f64,
    /// Longest that the person will watch one swing, s.
    pub patience_s: f64,
}

impl Default for Reader {
    /// Common practice, no source: an eye on a degree scale and a thumb on a stopwatch.
    fn default() -> Self {
        Self { settle_sd_deg: 3.5, time_sd_s: 0.2, amplitude_deg: 60.0, amplitude_sd_deg: 3.0, patience_s: 150.0 }
    }
}

/// Input of `next-step`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct NextStepIn {
    /// What is known before.
    pub known: Known,
    /// The looks so far (may be none).
    pub looks: Vec<Look>,
    /// Where the weights are now.
    pub weights_now: Vec<WeightAt>,
    /// How they may be placed.
    pub groove: Groove,
    /// Permissible residual unbalance, g·mm.
    pub allowance_g_mm: f64,
    /// The smallest unbalance that this stand can show, g·mm.
    pub floor_g_mm: f64,
    /// Probability asked for before a residual is accepted.
    #[serde(default = "default_sureness")]
    pub sureness: f64,
    /// How well this person reads.
    #[serde(default)]
    pub reader: Reader,
    /// Seed of the particles.
    #[serde(default = "crate::estimate::default_seed")]
    pub seed: u64,
}

fn default_sureness() -> f64 {
    0.95
}

/// What to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Action {
    /// The residual is proven: done.
    Accept,
    /// Move the weights, then look.
    MoveThenLook,
    /// Look again with the weights where they are.
    Look,
    /// This stand can't prove this allowance: it lies below the floor.
    StandCannotShow,
    /// The weights can't answer this unbalance.
    WeightsTooLight,
}

/// Which look to take.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum LookKind {
    /// Let it settle and read the bottom.
    Settle,
    /// Time a swing.
    Swing,
}

/// One weight's move.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct WeightMove {
    /// Which weight, from 0.
    pub weight: usize,
    /// Where it is, degrees.
    pub from_deg: f64,
    /// Where it shall go, degrees.
    pub to_deg: f64,
    /// Way to slide it, degrees, positive counter-clockwise.
    pub by_deg: f64,
}

/// A choice that was weighed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Choice {
    /// In words.
    pub what: String,
    /// Expected number of looks still to take, this one included.
    pub expected_looks: f64,
    /// Weights to move.
    pub weights_moved: usize,
    /// Probability that this very look proves the residual.
    pub p_proven_by_it: f64,
}

/// Output of `next-step`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct NextStepOut {
    /// What to do.
    pub action: Action,
    /// A sentence for the operator.
    pub say: String,
    /// The look to take, if any.
    pub look: Option<LookKind>,
    /// For a swing: rotor angle to hold at the bottom when letting go, degrees.
    pub let_go_deg: Option<f64>,
    /// For a swing: full swings to time (0.5: until the other turning point).
    pub swings: Option<f64>,
    /// About how long one full swing will take, s.
    pub expected_period_s: Option<f64>,
    /// The moves, if any.
    pub moves: Vec<WeightMove>,
    /// Where all weights will be.
    pub weights_then: Vec<WeightAt>,
    /// Probability that the residual is within the allowance with the weights where they are now.
    pub p_within_allowance: f64,
    /// The allowance, g·mm.
    pub allowance_g_mm: f64,
    /// The floor, g·mm.
    pub floor_g_mm: f64,
    /// The choices weighed, best first.
    pub choices: Vec<Choice>,
    /// The estimate that this rests on (absent before the first look).
    pub estimate: Option<EstimateOut>,
}

/// Propose the next step.
///
/// # Errors
/// A [`Fault`] for any field out of its range.
pub fn next_step(input: &NextStepIn) -> Result<NextStepOut, Fault> {
    let _ = input;
    Err(Fault::new("next-step", "not built", "-", "-"))
}
