//! `estimate`: unbalance with its region from any mix of looks.

use crate::Fault;
use crate::look::{Look, WeightAt, weights};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::Ranged;
use stillwheel_physics::bench::belief::{self, Belief, Unknown, VectorSummary};
use stillwheel_physics::bench::look;
use stillwheel_physics::quantity::{Angle, Inertia, Unbalance};

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

impl Known {
    /// What is known, as the physics takes it.
    ///
    /// # Errors
    /// A [`Fault`] for any value out of its range.
    pub fn physics(&self) -> Result<belief::Known, Fault> {
        let g_mm = |field: &str, v: f64, low: f64, why: &str| v.within(field, low, 1e8, "g·mm", why).map(Unbalance::from_g_mm);
        Ok(belief::Known {
            inertia: Inertia::from_kg_m2(self.inertia_kg_m2.within(
                "inertia_kg_m2",
                1e-7,
                1e3,
                "kg·m²",
                "inertia about the arbor's axis: see the calculation rotor",
            )?),
            ln_j_sd: self.inertia_rel_sd.within(
                "inertia_rel_sd",
                0.0,
                0.5,
                "",
                "relative standard deviation of the inertia, 0.05 is 5 %",
            )?,
            unbalance_sd: g_mm(
                "unbalance_prior_sd_g_mm",
                self.unbalance_prior_sd_g_mm,
                1e-3,
                "about the size to be expected; when in doubt the moment that all weights have together",
            )?,
            drift_sd: g_mm("drift_sd_g_mm", self.drift_sd_g_mm, 0.0, "how large the stand's drift torque may be")?,
            dry_friction: g_mm("dry_friction_g_mm", self.dry_friction_g_mm, 0.0, "dry friction of the stand; 0 on air")?,
            arbor_sd: g_mm("arbor_error_sd_g_mm", self.arbor_error_sd_g_mm, 0.0, "the arbor's own error; 0: none")?,
            setting_sd: Angle::from_deg(self.setting_sd_deg.within(
                "setting_sd_deg",
                0.0,
                10.0,
                "degrees",
                "how well a weight is set to its angle",
            )?),
            misread_share: self.misread_share.within(
                "misread_share",
                0.0,
                0.3,
                "",
                "share of looks that are misread, 0.01 is one in a hundred",
            )?,
        })
    }
}

/// The looks, with faults that name the place in the list.
///
/// # Errors
/// As [`Look::physics`]; more than 60 looks; weights that change in number between looks.
pub(crate) fn looks(list: &[Look]) -> Result<Vec<look::Look>, Fault> {
    if list.len() > 60 {
        return Err(Fault::new(
            "looks",
            list.len(),
            "0 to 60 looks",
            "begin a new sitting: weights and reader are not the same for so long",
        ));
    }
    let out: Vec<look::Look> =
        list.iter().enumerate().map(|(i, l)| l.physics().map_err(|f| f.inside(&format!("looks[{i}]")))).collect::<Result<_, _>>()?;
    if let Some(i) = out.iter().position(|l| l.weights.len() != out[0].weights.len()) {
        return Err(Fault::new(
            format!("looks[{i}].weights"),
            out[i].weights.len(),
            format!("{} weights, as in the first look", out[0].weights.len()),
            "list all weights in one order through the sitting; one that is off the rotor has moment 0",
        ));
    }
    Ok(out)
}

impl From<VectorSummary> for VectorOut {
    fn from(v: VectorSummary) -> Self {
        let [x_g_mm, y_g_mm] = v.mean.g_mm();
        let q = v.size;
        Self {
            x_g_mm,
            y_g_mm,
            size_g_mm: v.mean.size().g_mm(),
            at_deg: v.mean.at().deg(),
            covariance_g2_mm2: v.covariance_g2_mm2,
            size_quantiles_g_mm: Quantiles { p05: q.p05.g_mm(), p50: q.p50.g_mm(), p95: q.p95.g_mm() },
        }
    }
}

impl From<belief::RegionShape> for RegionShape {
    fn from(s: belief::RegionShape) -> Self {
        match s {
            belief::RegionShape::Spot => Self::Spot,
            belief::RegionShape::Wedge => Self::Wedge,
            belief::RegionShape::Ring => Self::Ring,
            belief::RegionShape::Crescent => Self::Crescent,
            belief::RegionShape::Pieces => Self::Pieces,
            belief::RegionShape::Open => Self::Open,
        }
    }
}

fn untold(u: Unknown) -> Untold {
    let (what, advice) = match u {
        Unknown::Size => {
            ("size", "How heavy it is can't be told yet: time a swing, or move the weights by a known step and let it settle again.")
        }
        Unknown::Direction => ("direction", "Where the heavy side is can't be told yet: let it settle and read the bottom."),
        Unknown::ResidualDirection => {
            ("direction of what is left", "How much is left is known better than where: let it settle with the weights as they are.")
        }
        Unknown::Drift => (
            "drift",
            "The stand's drift torque is as open as before: hold the rotor with the heavy side at 3 and at 9 o'clock, or take a swing log with swings above 60°.",
        ),
        Unknown::Inertia => ("inertia", "The inertia is as open as before: time a swing with a known trial weight on the heavy side."),
        Unknown::Arbor => ("arbor", "The arbor's own error is as open as before: turn the rotor half a turn on the arbor and look again."),
    };
    Untold { what: what.to_owned(), advice: advice.to_owned() }
}

fn doubt(d: &belief::Doubt, all: &[belief::Doubt]) -> Doubt {
    let number = d.look + 1;
    let percent = (100.0 * d.probability).round();
    let why = if all.len() > 1 {
        format!(
            "Look {number} does not fit the others (misread with {percent} % probability), but another look may be the wrong one: take one of them again."
        )
    } else {
        format!(
            "Look {number} does not fit the others: misread with {percent} % probability. Take it again, or undo it if you see the slip."
        )
    };
    Doubt { look: d.look, probability: d.probability, why }
}

/// Everything that a belief says, in the door's words.
pub(crate) fn told(belief: &Belief, allowance: Option<Unbalance>) -> EstimateOut {
    let region = belief.residual_region(0.95);
    let mean_sd = |(mean, sd): (f64, f64)| MeanSd { mean, sd };
    EstimateOut {
        unbalance: belief.unbalance().into(),
        residual: belief.residual().into(),
        residual_region: Region { shape: region.shape.into(), outlines_g_mm: region.outlines_g_mm },
        p_within_allowance: allowance.map(|a| belief.p_within(a)),
        ln_inertia_scale: mean_sd(belief.ln_inertia_scale()),
        drift_g_mm: mean_sd(belief.drift()),
        arbor_error: belief.arbor_error().map(Into::into),
        cannot_tell: belief.unknowns(allowance).into_iter().map(untold).collect(),
        doubts: belief.doubts().iter().map(|d| doubt(d, belief.doubts())).collect(),
    }
}

/// Allowance at the door.
pub(crate) fn allowance(v: f64) -> Result<Unbalance, Fault> {
    v.within("allowance_g_mm", 1e-3, 1e7, "g·mm", "permissible residual unbalance: see the calculation allowance").map(Unbalance::from_g_mm)
}

/// Estimate the unbalance.
///
/// # Errors
/// A [`Fault`] for any field out of its range.
pub fn estimate(input: &EstimateIn) -> Result<EstimateOut, Fault> {
    let known = input.known.physics().map_err(|f| f.inside("known"))?;
    let looks = looks(&input.looks)?;
    let now = match &input.weights_now {
        Some(list) => weights("weights_now", list)?,
        None => looks.last().map(|l| l.weights.clone()).unwrap_or_default(),
    };
    let allowance = input.allowance_g_mm.map(allowance).transpose()?;
    if !(500..=200_000).contains(&input.particles) {
        return Err(Fault::new("particles", input.particles, "500 to 200000", "fewer are too rough; more cost time and tell nothing new"));
    }
    Ok(told(&Belief::infer(&known, &looks, &now, input.particles, input.seed), allowance))
}
