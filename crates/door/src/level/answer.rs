//! What `level` answers.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Which way a screw goes, seen from above.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Way {
    /// Clockwise.
    Clockwise,
    /// Counter-clockwise.
    CounterClockwise,
    /// Leave it.
    Leave,
}

/// What to do with one foot.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ScrewOut {
    /// Its place in `feet`, from 1.
    pub foot: usize,
    /// Which way, seen from above.
    pub way: Way,
    /// How far, degrees.
    pub by_deg: f64,
    /// The same in turns.
    pub turns: f64,
    /// What the plate rises there, mm.
    pub rise_mm: f64,
    /// What one turn of it tilts, mm/m.
    pub tilt_per_turn_mm_per_m: f64,
}

/// What slope is good enough for the stand.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct GoodEnoughOut {
    /// Across the arbor, mm/m; absent: slope there does nothing.
    pub cross_mm_per_m: Option<f64>,
    /// Along the arbor, mm/m; absent: slope there does nothing.
    pub axial_mm_per_m: Option<f64>,
    /// On air: time to creep to the stop at that slope, s.
    pub end_creep_s: Option<f64>,
    /// Whether it is good enough as it stands now.
    pub is_good_enough: bool,
    /// Whether the readings are sure enough to tell (their 95 % within the slopes above).
    pub readings_can_tell: bool,
    /// Why these slopes.
    pub why: String,
}

/// How safely it stands.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StandingOut {
    /// Distance of the centre of mass from the nearest tipping side, mm.
    pub margin_mm: f64,
    /// The two feet of that side, from 1.
    pub over_feet: [usize; 2],
    /// Load on each foot, N.
    pub foot_loads_n: [f64; 3],
    /// Sideways push at the height of the centre of mass that starts tipping, N.
    pub tipping_force_n: f64,
    /// Largest angle between neighbouring feet seen from the centre of mass, degrees.
    pub widest_gap_deg: f64,
}

/// Sag of the plate as a strip.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlateOut {
    /// By its own weight, µm.
    pub own_sag_um: f64,
    /// By the load, µm.
    pub load_sag_um: f64,
}

/// Output of `level`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LevelOut {
    /// The answer in a few sentences.
    pub says: String,
    /// Slope to the right, mm/m; positive: the right side is high.
    pub slope_x_mm_per_m: f64,
    /// Slope away from the operator, mm/m; positive: the far side is high.
    pub slope_y_mm_per_m: f64,
    /// Standard deviation of the slope to the right, mm/m.
    pub slope_x_sd_mm_per_m: f64,
    /// Standard deviation of the slope away from the operator, mm/m.
    pub slope_y_sd_mm_per_m: f64,
    /// The level's own error, divisions; absent: no reading was reversed.
    pub vial_error_divisions: Option<f64>,
    /// Largest reading that does not fit a plane, divisions or mm.
    pub largest_misfit: f64,
    /// What to do with each foot.
    pub screws: Vec<ScrewOut>,
    /// What slope is good enough, if the stand was given.
    pub good_enough: Option<GoodEnoughOut>,
    /// How safely it stands, if the heaviest wheel was given.
    pub standing: Option<StandingOut>,
    /// Sag of the plate, if it was given.
    pub plate: Option<PlateOut>,
    /// What to beware of.
    pub cautions: Vec<String>,
}
