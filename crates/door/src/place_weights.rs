//! `place-weights`: where the correction weights go. Here the shapes; the way to the physics and back stands in `answer`.

mod answer;

use crate::Fault;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::Ranged;
use stillwheel_physics::bench::placement as physics;
use stillwheel_physics::quantity::{RotorAngle, Unbalance, UnbalanceVector};

/// An unbalance by size and direction.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct UnbalanceAt {
    /// Size, g·mm (0 to 1e8).
    pub size_g_mm: f64,
    /// Direction of the heavy side, degrees counter-clockwise from the zero mark.
    pub at_deg: f64,
}

impl UnbalanceAt {
    fn checked(self) -> Result<(Unbalance, RotorAngle), Fault> {
        let size = self.size_g_mm.within("unbalance.size_g_mm", 0.0, 1e8, "g·mm", "the size of the unbalance to be answered")?;
        let at = answer::angle("unbalance.at_deg", self.at_deg)?;
        Ok((Unbalance::from_g_mm(size), at))
    }

    fn vector(self) -> Result<UnbalanceVector, Fault> {
        let (size, at) = self.checked()?;
        Ok(UnbalanceVector::polar(size, at))
    }
}

impl From<UnbalanceVector> for UnbalanceAt {
    fn from(v: UnbalanceVector) -> Self {
        Self { size_g_mm: v.size().g_mm(), at_deg: v.at().deg() }
    }
}

/// A correction weight in a groove, as it can be placed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct GrooveWeight {
    /// Mass times radius of its mass centre, g·mm.
    pub moment_g_mm: f64,
    /// Arc that its body takes up in the groove, degrees.
    #[serde(default)]
    pub arc_deg: f64,
}

/// The groove: what the weights may do.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Groove {
    /// The weights, in the order of `looks[].weights` (1 to 12).
    pub weights: Vec<GrooveWeight>,
    /// Spacing of the graduations to which a weight can be set, degrees (0.1 to 30, dividing 360).
    #[serde(default = "one_degree")]
    pub graduation_deg: f64,
    /// Arcs that no weight may enter: [from, to], counter-clockwise, degrees.
    #[serde(default)]
    pub forbidden_deg: Vec<[f64; 2]>,
    /// Whether weights can't pass one another in the groove.
    #[serde(default = "yes")]
    pub no_passing: bool,
}

fn one_degree() -> f64 {
    1.0
}
fn yes() -> bool {
    true
}

/// Two or three equal weights at any angle: closed forms.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct EqualIn {
    /// What is to be answered: the unbalance of the rotor without these weights.
    pub unbalance: UnbalanceAt,
    /// Mass times radius of one weight, g·mm (1e-6 to 1e7).
    pub moment_g_mm: f64,
    /// Weights that stay where they are: the pair answers unbalance and these together. With three equal weights, one
    /// that stays makes the other two the pair.
    #[serde(default)]
    pub fixed: Vec<crate::look::WeightAt>,
    /// How well a weight is set to its angle, degrees, standard deviation (0 to 10).
    #[serde(default)]
    pub setting_sd_deg: f64,
}

/// Unequal weights in a groove with graduations: the exact best.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct GrooveIn {
    /// What is to be answered: the unbalance of the rotor without these weights.
    pub unbalance: UnbalanceAt,
    /// The groove and its weights.
    pub groove: Groove,
    /// Where the weights are now, degrees; missing: not on the rotor yet, so travel means nothing.
    #[serde(default)]
    pub present_deg: Option<Vec<f64>>,
    /// Which weights may not be moved, one entry a weight; empty: all may.
    #[serde(default)]
    pub fixed: Vec<bool>,
    /// Residuals within this of the least count as equal, g·mm (0 to 1e6).
    #[serde(default = "default_tie")]
    pub tie_g_mm: f64,
    /// Residuals at or below this count as equal, g·mm, whatever the least may be.
    #[serde(default)]
    pub good_enough_g_mm: Option<f64>,
    /// Among equals: fewest moved first, then least travel. Default: least travel first.
    #[serde(default)]
    pub fewest_moved_first: bool,
    /// How well a weight is set to its angle, degrees, standard deviation (0 to 10).
    #[serde(default)]
    pub setting_sd_deg: f64,
    /// Radius of the groove, mm: with it, ways are told in mm too, and weights that are too light in grams.
    #[serde(default)]
    pub ring_radius_mm: Option<f64>,
}

/// Well below what any stand shows: common practice, no source.
fn default_tie() -> f64 {
    0.05
}

/// A tapped hole.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TappedHole {
    /// Radius of a screw's mass centre in it, mm (1 to 1000).
    pub radius_mm: f64,
    /// Where it is, degrees.
    pub at_deg: f64,
}

/// One kind of set screw in the stock.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SetScrew {
    /// Mass of one, g (1e-4 to 1e4).
    pub mass_g: f64,
    /// How many there are, those now in holes included (1 to 48).
    pub count: usize,
}

/// Set screws from a stock into tapped holes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TappedHolesIn {
    /// What is to be answered: the unbalance of the rotor without any of these screws.
    pub unbalance: UnbalanceAt,
    /// The holes (1 to 48).
    pub holes: Vec<TappedHole>,
    /// The stock (1 to 12 kinds).
    pub stock: Vec<SetScrew>,
    /// Which screw is in each hole now: its number in `stock` from 0, or null for an empty hole.
    #[serde(default)]
    pub present: Option<Vec<Option<usize>>>,
    /// Residuals within this of the least count as equal, g·mm (0 to 1e6).
    #[serde(default = "default_tie")]
    pub tie_g_mm: f64,
}

/// One hole drilled on the heavy side of the adapter or flange.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DrillIn {
    /// The unbalance to be taken away.
    pub unbalance: UnbalanceAt,
    /// Diameter of the drill, mm (0.5 to 50).
    pub drill_diameter_mm: f64,
    /// Axial: radius of the hole's centre; radial: radius of the rim that it starts from; mm (5 to 1000).
    pub radius_mm: f64,
    /// Density of the metal, g/cm³ (1 to 20); steel 7.85.
    #[serde(default = "steel")]
    pub density_g_cm3: f64,
    /// Axial only: angle of the drill's point, degrees (60 to 180).
    #[serde(default)]
    pub point_deg: Option<f64>,
    /// Deepest hole that the part bears, mm.
    #[serde(default)]
    pub deepest_mm: Option<f64>,
}

/// Density of steel, g/cm³: handbook value.
fn steel() -> f64 {
    7.85
}

/// Point angle of drills as commonly sold, degrees: common practice, no source.
const COMMON_POINT_DEG: f64 = 118.0;

/// Input of `place-weights`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum PlaceWeightsIn {
    /// Two equal weights (or a free pair beside fixed ones), any angle.
    TwoEqual(EqualIn),
    /// Three equal weights, any angle.
    ThreeEqual(EqualIn),
    /// Unequal weights in a groove with graduations.
    Groove(GrooveIn),
    /// Set screws into tapped holes.
    TappedHoles(TappedHolesIn),
    /// An axial hole with a pointed drill.
    DrillAxial(DrillIn),
    /// A radial hole with a flat bottom, from the rim.
    DrillRadial(DrillIn),
}

/// How sure it is that nothing better exists.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Proof {
    /// Proven: every other placement was ruled out.
    Best,
    /// Best of those searched; too many to rule all out.
    Gap {
        /// No placement at all leaves less than this, g·mm.
        residual_at_least_g_mm: f64,
    },
}

impl From<physics::Proof> for Proof {
    fn from(p: physics::Proof) -> Self {
        match p {
            physics::Proof::Best => Self::Best,
            physics::Proof::Gap { residual_at_least } => Self::Gap { residual_at_least_g_mm: residual_at_least.g_mm() },
        }
    }
}

/// Whether the weights can answer the unbalance.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Answered {
    /// What is left is good enough, or no more than the graduation (or half the lightest screw) allows.
    Balanced,
    /// The weights are too light.
    TooLight {
        /// Factor for the mass of every movable weight with which it would be enough.
        times: f64,
        /// What would do, in a sentence.
        what_would_do: String,
    },
    /// More weight would not help.
    OutOfReach {
        /// What would do, in a sentence.
        what_would_do: String,
    },
}

/// One weight's place.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlacedWeight {
    /// Mass times radius, g·mm.
    pub moment_g_mm: f64,
    /// Where it goes, degrees.
    pub at_deg: f64,
    /// Way to slide it from its present place, degrees, positive counter-clockwise.
    pub by_deg: Option<f64>,
    /// The same along the groove, mm.
    pub by_mm: Option<f64>,
    /// What one standard deviation of setting error of this weight leaves, g·mm, across its radius.
    pub setting_sd_g_mm: f64,
}

/// Places of equal weights.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct EqualOut {
    /// The weights that are placed; those that stay are not listed.
    pub weights: Vec<PlacedWeight>,
    /// Angle of the pair to either side of the direction in which it pulls, degrees.
    pub half_spread_deg: f64,
    /// What is left.
    pub residual: UnbalanceAt,
    /// Standard deviation (root-mean-square length) of what setting errors leave, g·mm.
    pub setting_sd_g_mm: f64,
    /// Whether it balances.
    pub answer: Answered,
}

/// Places in the groove.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct GrooveOut {
    /// Every weight, in the order of the input.
    pub weights: Vec<PlacedWeight>,
    /// What is left.
    pub residual: UnbalanceAt,
    /// Least residual of all placements, g·mm; missing when `good_enough_g_mm` was met without it.
    pub least_residual_g_mm: Option<f64>,
    /// Sum of the ways, degrees; missing without present places.
    pub travel_deg: Option<f64>,
    /// Number of weights to move; missing without present places.
    pub moved: Option<usize>,
    /// Standard deviation (root-mean-square length) of what the setting errors of the moved weights leave, g·mm.
    pub setting_sd_g_mm: f64,
    /// How sure it is that nothing better exists.
    pub proof: Proof,
    /// Whether it balances.
    pub answer: Answered,
    /// What looks like a slip in the input.
    pub notes: Vec<String>,
}

/// Screws in the holes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TappedHolesOut {
    /// Which screw goes into each hole: its number in `stock` from 0, or null.
    pub screw_in_hole: Vec<Option<usize>>,
    /// What is left.
    pub residual: UnbalanceAt,
    /// Least residual of all fillings looked at, g·mm.
    pub least_residual_g_mm: f64,
    /// Number of screws.
    pub screws: usize,
    /// Their mass, g.
    pub mass_g: f64,
    /// Holes whose screw changes; missing without present screws.
    pub changes: Option<usize>,
    /// How sure it is that nothing better exists.
    pub proof: Proof,
    /// Whether it balances.
    pub answer: Answered,
}

/// What to drill.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DrillOut {
    /// Where: the heavy side, degrees.
    pub at_deg: f64,
    /// Depth of the full diameter, mm.
    pub depth_mm: f64,
    /// Metal taken away, g.
    pub mass_g: f64,
    /// To be read before drilling.
    pub caution: String,
}

/// Output of `place-weights`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum PlaceWeightsOut {
    /// Two equal weights.
    TwoEqual(EqualOut),
    /// Three equal weights.
    ThreeEqual(EqualOut),
    /// Weights in a groove.
    Groove(GrooveOut),
    /// Set screws.
    TappedHoles(TappedHolesOut),
    /// An axial hole.
    DrillAxial(DrillOut),
    /// A radial hole.
    DrillRadial(DrillOut),
}

/// Place the weights.
///
/// # Errors
/// A [`Fault`] for any field out of its range, for weights that find no room, and for one drilled hole that can't do it.
pub fn place_weights(input: &PlaceWeightsIn) -> Result<PlaceWeightsOut, Fault> {
    Ok(match input {
        PlaceWeightsIn::TwoEqual(i) => PlaceWeightsOut::TwoEqual(answer::equal(i, 2)?),
        PlaceWeightsIn::ThreeEqual(i) => PlaceWeightsOut::ThreeEqual(answer::equal(i, 3)?),
        PlaceWeightsIn::Groove(i) => PlaceWeightsOut::Groove(answer::groove(i)?),
        PlaceWeightsIn::TappedHoles(i) => PlaceWeightsOut::TappedHoles(answer::tapped_holes(i)?),
        PlaceWeightsIn::DrillAxial(i) => PlaceWeightsOut::DrillAxial(answer::drill(i, true)?),
        PlaceWeightsIn::DrillRadial(i) => PlaceWeightsOut::DrillRadial(answer::drill(i, false)?),
    })
}
