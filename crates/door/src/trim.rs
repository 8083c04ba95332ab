//! `trim`: the unbalance that is left on the spindle, from readings of several runs, and where the weights go. Here the shapes; the way
//! to the physics and back stands in `answer`.

mod answer;
mod say;

use crate::Fault;
use crate::look::{Sense, TrialWeight, WeightAt};
use crate::next_step::{Groove, ScrewChange, TappedHoles, WeightMove};
use crate::place_weights::UnbalanceAt;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// One run: what was different from the rotor's first state, and what was read.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TrimRun {
    /// Known masses that were on for this run only.
    #[serde(default)]
    pub trial: Vec<TrialWeight>,
    /// Where the ring's weights stood in this run, where they were moved as a trial; left out: as in `weights_now`.
    #[serde(default)]
    pub weights: Option<Vec<WeightAt>>,
    /// Amplitude of the once-per-turn vibration, in any unit, the same in all runs (0 to 1e12).
    pub amplitude: f64,
    /// Its standard deviation, in the same unit; left out: `reading_rel_sd` of it.
    #[serde(default)]
    pub amplitude_sd: Option<f64>,
    /// Phase against a mark, degrees: in all runs or in none.
    #[serde(default)]
    pub phase_deg: Option<f64>,
    /// Its standard deviation, degrees (1e-6 to 180); left out: `phase_sd_deg` of the whole.
    #[serde(default)]
    pub phase_sd_deg: Option<f64>,
    /// Amplitude at twice the speed, in the same unit.
    #[serde(default)]
    pub second: Option<f64>,
    /// Root mean square of all vibration that is not once per turn, in the same unit.
    #[serde(default)]
    pub rest_rms: Option<f64>,
}

/// How phases are counted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum PhaseCounts {
    /// The vibration is `A·cos(Ωt + phase)`, t from the mark's passage: so `once-per-turn` gives it.
    #[default]
    Lead,
    /// The vibration is `A·cos(Ωt − phase)`: the angle from the mark's passage to the next crest.
    Lag,
}

/// How the machine answers at this speed, from an earlier trim.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct InfluenceAt {
    /// Amplitude of the reading for each g·mm (1e-15 to 1e12).
    pub per_g_mm: f64,
    /// Phase of the reading, counted with the rotor angles, less the angle of the unbalance, degrees.
    pub turned_deg: f64,
    /// Standard deviation as a share of it (1e-6 to 1); 0.05 is usual on the same sensor place.
    pub rel_sd: f64,
}

/// Input of `trim`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TrimIn {
    /// The runs, all at one speed (without phase 3 at least, with phase 2; up to 60).
    pub runs: Vec<TrimRun>,
    /// Standard deviation of an amplitude as a share of it, where a run does not say its own (1e-6 to 1).
    #[serde(default = "reading_rel_sd")]
    pub reading_rel_sd: f64,
    /// Standard deviation of a phase, degrees, where a run does not say its own (1e-6 to 180).
    #[serde(default = "phase_sd_deg")]
    pub phase_sd_deg: f64,
    /// Which way the wheel turns, operator's side; with phases.
    #[serde(default)]
    pub turns: Option<Sense>,
    /// How the phases are counted.
    #[serde(default)]
    pub phase_counts: PhaseCounts,
    /// How the machine answers, if an earlier trim told it; with phases.
    #[serde(default)]
    pub known_influence: Option<InfluenceAt>,
    /// Where the ring's weights stand in the first state; tapped holes: one entry a hole.
    #[serde(default)]
    pub weights_now: Vec<WeightAt>,
    /// For weights that slide in a groove: how they may be placed.
    #[serde(default)]
    pub groove: Option<Groove>,
    /// For set screws: holes and stock.
    #[serde(default)]
    pub tapped_holes: Option<TappedHoles>,
    /// Weights that may not be moved, one entry a weight or hole; empty: all may.
    #[serde(default)]
    pub fixed: Vec<bool>,
    /// Radius at which a correction mass would be put, mm (1 to 1000): tells the correction in grams.
    #[serde(default)]
    pub radius_mm: Option<f64>,
    /// Permissible residual unbalance, g·mm.
    #[serde(default)]
    pub allowance_g_mm: Option<f64>,
}

/// A needle or a display read by eye: common practice, no source.
fn reading_rel_sd() -> f64 {
    0.03
}
/// A stroboscope on a degree scale: common practice, no source.
fn phase_sd_deg() -> f64 {
    3.0
}

/// An unbalance that fits the runs.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TrimAnswer {
    /// The unbalance of the rotor in its first state, its weights included.
    pub unbalance: UnbalanceAt,
    /// Standard deviation of its size, g·mm.
    pub size_sd_g_mm: f64,
    /// Standard deviation of its direction, degrees; 180 where the direction is not known at all.
    pub at_sd_deg: f64,
    /// Half axes of the ellipse that holds it with 95 %, g·mm, the longer first.
    pub ellipse_g_mm: [f64; 2],
    /// Direction of the longer half axis, degrees.
    pub ellipse_deg: f64,
    /// What has to be added: as much on the light side.
    pub correction: UnbalanceAt,
    /// The same as a mass at `radius_mm`, g.
    pub correction_g: Option<f64>,
    /// Amplitude of the reading for each g·mm.
    pub answer_per_g_mm: f64,
    /// Standard deviation of that.
    pub answer_sd_per_g_mm: f64,
}

/// The two sizes of the plain four-run solution, which must agree.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ClosureOut {
    /// Direction of the heavy side by it, degrees.
    pub heavy_deg: f64,
    /// Size from the mean of the squares of the amplitudes, g·mm.
    pub from_sum_g_mm: f64,
    /// Size from their first harmonic, g·mm.
    pub from_harmonic_g_mm: f64,
    /// Difference of the trial's effect by the two, percent.
    pub mismatch_percent: f64,
}

/// How well the readings agree with one another.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AgreementOut {
    /// Readings over and above what is needed.
    pub spare: usize,
    /// Probability that readings as good as stated disagree at least so much.
    pub probability: f64,
    /// How many times more they scatter than stated; what is told is widened by it.
    pub scatter_factor: f64,
    /// Repeated runs: scatter in units of the stated standard deviation; missing without repeats.
    pub repeats_times_stated: Option<f64>,
}

/// Vibration that no weight can take away.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RemainderOut {
    /// Amplitude at twice the speed over that at once.
    pub second_over_first: Option<f64>,
    /// Share of the vibration (mean square) that is not once per turn, as the rotor is.
    pub other_share_now: Option<f64>,
    /// The same after the correction.
    pub other_share_then: Option<f64>,
    /// Whether most of it is not unbalance, so that moving weights will not cure it.
    pub mostly_not_unbalance: bool,
}

/// Where the weights go.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TrimPlacement {
    /// The moves in a groove.
    pub moves: Vec<WeightMove>,
    /// The screws to change.
    pub screw_changes: Vec<ScrewChange>,
    /// Where all weights will be.
    pub weights_then: Vec<WeightAt>,
    /// What this placement leaves of the unbalance as found.
    pub left: UnbalanceAt,
}

/// What is to be expected after the correction.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ExpectedOut {
    /// Root mean square of the unbalance that is left, g·mm: what the placement leaves, and the uncertainty of what was found.
    pub unbalance_rms_g_mm: f64,
    /// It is below this with 95 %, g·mm.
    pub unbalance_95_g_mm: f64,
    /// Amplitude of the once-per-turn reading, root mean square.
    pub amplitude_rms: f64,
    /// Whether the bound lies within the allowance; missing without one.
    pub within_allowance: Option<bool>,
}

/// Output of `trim`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TrimOut {
    /// A sentence for the operator.
    pub says: String,
    /// The unbalance; of two that fit alike, both.
    pub answers: Vec<TrimAnswer>,
    /// Where one more run with the same trial tells two answers apart, degrees; missing when there is but one.
    pub next_trial_deg: Option<f64>,
    /// How the machine answers, to be kept for the next trim at this speed; with phases.
    pub influence: Option<InfluenceAt>,
    /// How well the readings agree.
    pub agreement: AgreementOut,
    /// The plain solution; from four runs without phase.
    pub closure: Option<ClosureOut>,
    /// What no weight can take away; where the runs tell it.
    pub remainder: Option<RemainderOut>,
    /// Where the weights go; with one answer and a ring.
    pub placement: Option<TrimPlacement>,
    /// What is to be expected then; with one answer.
    pub expected: Option<ExpectedOut>,
    /// What to beware of.
    pub cautions: Vec<String>,
}

/// Find the unbalance and place the weights.
///
/// # Errors
/// A [`Fault`] for too few runs, phases in some runs only, phases without the sense of turning, phases that fit only when counted the other
/// way round, a trial without effect, and any value out of its range.
pub fn trim(input: &TrimIn) -> Result<TrimOut, Fault> {
    answer::trim(input)
}

/// The demo's wheel on machine "No. 2": four runs, a 5 g trial at three places of the ring.
pub(crate) fn example() -> TrimIn {
    let run = |at_deg: Option<f64>, amplitude: f64| TrimRun {
        trial: at_deg.map(|at_deg| TrialWeight { mass_g: 5.0, radius_mm: 38.0, at_deg }).into_iter().collect(),
        weights: None,
        amplitude,
        amplitude_sd: None,
        phase_deg: None,
        phase_sd_deg: None,
        second: None,
        rest_rms: None,
    };
    let mut first = run(None, 1.35);
    (first.second, first.rest_rms) = (Some(0.2), Some(0.3));
    let next = crate::examples::next_step();
    TrimIn {
        runs: vec![first, run(Some(0.0), 2.48), run(Some(120.0), 2.78), run(Some(240.0), 0.56)],
        reading_rel_sd: reading_rel_sd(),
        phase_sd_deg: phase_sd_deg(),
        turns: None,
        phase_counts: PhaseCounts::Lead,
        known_influence: None,
        weights_now: next.weights_now,
        groove: next.groove,
        tapped_holes: None,
        fixed: Vec::new(),
        radius_mm: Some(38.0),
        allowance_g_mm: Some(9.7),
    }
}
