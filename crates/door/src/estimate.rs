//! `estimate`: unbalance with its region from any mix of looks.

use crate::Fault;
use crate::look::{Look, WeightAt};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What is known of the rotor and the stand before the first look.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Known {
    /// Inertia of the rotor about the arbor's axis, kg·m² (on rolling ways it holds mass times arbor radius squared too).
    pub inertia_kg_m2: f64,
    /// Relative standard deviation of the inertia (0: exact).
    #[serde(default)]
    pub inertia_rel_sd: f64,
    /// Standard deviation of each component of the unbalance before any look, g·mm: about the size to be expected.
    pub unbalance_prior_sd_g_mm: f64,
    /// Standard deviation of the stand's drift torque, g·mm (0: none).
    #[serde(default)]
    pub drift_sd_g_mm: f64,
    /// Dry friction of the stand, g·mm (0 on air).
    #[serde(default)]
    pub dry_friction_g_mm: f64,
    /// Standard deviation of each component of the arbor's own error, g·mm (0: none).
    #[serde(default)]
    pub arbor_error_sd_g_mm: f64,
    /// How well a weight is set to its angle, degrees, standard deviation (0: exact).
    #[serde(default)]
    pub setting_sd_deg: f64,
    /// Share of looks that are expected to be misread (0: never; a bad look is then only guarded against, not judged).
    #[serde(default = "default_misread_share")]
    pub misread_share: f64,
}

/// One look in a hundred: common practice, no source.
pub(crate) fn default_misread_share() -> f64 {
    0.01
}

/// Input of `estimate`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct EstimateIn {
    /// What is known before.
    pub known: Known,
    /// The looks, in the order in which they were taken.
    pub looks: Vec<Look>,
    /// Where the weights are now; missing: as in the last look.
    #[serde(default)]
    pub weights_now: Option<Vec<WeightAt>>,
    /// Permissible residual unbalance, g·mm, for the probability.
    #[serde(default)]
    pub allowance_g_mm: Option<f64>,
    /// Number of particles (500 to 200000).
    #[serde(default = "default_particles")]
    pub particles: usize,
    /// Seed of the particles.
    #[serde(default = "default_seed")]
    pub seed: u64,
}

pub(crate) fn default_particles() -> usize {
    2000
}
pub(crate) fn default_seed() -> u64 {
    1
}

/// A vector on the rotor with its uncertainty.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct VectorOut {
    /// Mean, x (along the zero mark), g·mm.
    pub x_g_mm: f64,
    /// Mean, y (a quarter turn counter-clockwise), g·mm.
    pub y_g_mm: f64,
    /// Size of the mean vector, g·mm.
    pub size_g_mm: f64,
    /// Direction of the mean vector, degrees.
    pub at_deg: f64,
    /// Covariance of x and y, (g·mm)²: [[xx, xy], [xy, yy]].
    pub covariance_g2_mm2: [[f64; 2]; 2],
    /// Quantiles of the vector's size, g·mm.
    pub size_quantiles_g_mm: Quantiles,
}

/// 5 %, 50 % and 95 % quantiles.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Quantiles {
    /// 5 %.
    pub p05: f64,
    /// 50 %.
    pub p50: f64,
    /// 95 %.
    pub p95: f64,
}

/// A number with its standard deviation.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MeanSd {
    /// Mean.
    pub mean: f64,
    /// Standard deviation.
    pub sd: f64,
}

/// What the region looks like.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum RegionShape {
    /// A compact spot: direction and size are told.
    Spot,
    /// A wedge: the direction is told, the size hardly.
    Wedge,
    /// A ring around zero: the size is told, the direction is not.
    Ring,
    /// Part of a ring.
    Crescent,
    /// More than one piece.
    Pieces,
    /// All that was expected before: nothing is told yet.
    Open,
}

/// The 95 % region as closed outlines (even-odd filled).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Region {
    /// Its shape in a word.
    pub shape: RegionShape,
    /// Outlines: lists of [x, y] in g·mm on the rotor.
    pub outlines_g_mm: Vec<Vec<[f64; 2]>>,
}

/// Something that the looks cannot tell, and which look would.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Untold {
    /// What: "size", "direction", "drift", "inertia", "arbor".
    pub what: String,
    /// A sentence for the operator: why, and which look would tell it.
    pub advice: String,
}

/// A look that does not fit the others.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Doubt {
    /// Its place in `looks`, from 0.
    pub look: usize,
    /// Probability that it was misread.
    pub probability: f64,
    /// A sentence for the operator.
    pub why: String,
}

/// Output of `estimate`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct EstimateOut {
    /// Unbalance of the rotor without its correction weights.
    pub unbalance: VectorOut,
    /// Residual with the weights where they are now.
    pub residual: VectorOut,
    /// 95 % region of the residual.
    pub residual_region: Region,
    /// Probability that the residual is within the allowance, if one was given.
    pub p_within_allowance: Option<f64>,
    /// ln of the inertia's scale against the given value.
    pub ln_inertia_scale: MeanSd,
    /// Drift torque, g·mm, positive counter-clockwise.
    pub drift_g_mm: MeanSd,
    /// The arbor's own error on the arbor's frame, if it was asked for.
    pub arbor_error: Option<VectorOut>,
    /// What can't be told yet.
    pub cannot_tell: Vec<Untold>,
    /// Looks in doubt; they are kept in the mixture with their probability, not dropped.
    pub doubts: Vec<Doubt>,
}

/// Estimate the unbalance.
///
/// # Errors
/// A [`Fault`] for any field out of its range.
pub fn estimate(input: &EstimateIn) -> Result<EstimateOut, Fault> {
    let _ = input;
    Err(Fault::new("estimate", "not built", "-", "-"))
}
