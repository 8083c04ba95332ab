//! The stand sheet: everything that defines a stand, as a person writes it in TOML.
//!
//! In: TOML text. Out: a [`StandSheet`] whose every value lies in its range, or a [`Fault`]. A sheet is edited with its
//! comments kept ([`set_in_sheet`]); it is the one source from which film, floor, level and parts are computed.

use crate::calculation::read;
use crate::making_sheet::MakingSheet;
use crate::{Fault, read_toml};
use schemars::{JsonSchema, schema_for};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::sync::OnceLock;
use stillwheel_physics::Ranged;

/// A stand sheet.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StandSheet {
    /// What people call the stand (1 to 200 characters).
    pub name: String,
    /// Remarks.
    #[serde(default)]
    pub note: String,
    /// The arbor that lies on it.
    pub arbor: ArborSheet,
    /// The air saddles; left out on a stand without air.
    #[serde(default)]
    pub saddles: Option<SaddleSheet>,
    /// The feed of each saddle; with `saddles`.
    #[serde(default)]
    pub feed: Option<FeedSheet>,
    /// The air that feeds them; with `saddles`.
    #[serde(default)]
    pub air: Option<AirSheet>,
    /// Flat ways, edges or discs; left out on air saddles.
    #[serde(default)]
    pub ways: Option<WaysSheet>,
    /// The base plate with its feet.
    pub plate: PlateSheet,
    /// What the shop holds when it makes and levels the stand.
    #[serde(default)]
    pub held: HeldSheet,
    /// What the parts need and the rest leaves open.
    #[serde(default)]
    pub making: MakingSheet,
}

/// The arbor.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ArborSheet {
    /// Diameter at the supports, mm (2 to 200).
    pub diameter_mm: f64,
    /// Middle of one support to middle of the other, mm (5 to 2000).
    pub span_mm: f64,
    /// The wheel's middle beyond the middle of the span, towards the operator, mm (within half the span; beyond it overhangs).
    #[serde(default)]
    pub wheel_offset_mm: f64,
    /// Young's modulus, GPa (10 to 700; steel 205).
    #[serde(default = "steel_gpa")]
    pub young_gpa: f64,
    /// Density, kg/m³ (1000 to 20,000; steel 7850).
    #[serde(default = "steel_density")]
    pub density_kg_m3: f64,
    /// Length over all, mm (up to 3000).
    pub length_mm: f64,
}

/// Both saddles, alike.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SaddleSheet {
    /// Bore radius less arbor radius, µm (1 to 500).
    pub radial_clearance_um: f64,
    /// Length along the arbor, mm (2 to 500).
    pub length_mm: f64,
    /// Arc of the bore, degrees (30 to 180; a half round is 180).
    #[serde(default = "half_round")]
    pub arc_deg: f64,
    /// Film that is left when the arbor rests on the bore (roughness and form), µm (0.1 to 10).
    #[serde(default = "one")]
    pub rest_gap_um: f64,
}

/// The feed of one saddle.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FeedSheet {
    /// Diameter of the port, mm (0.1 to half the saddle's length).
    pub port_diameter_mm: f64,
    /// Diameter of a jet in the port, mm (0.03 to the port's diameter).
    #[serde(default)]
    pub jet_diameter_mm: Option<f64>,
    /// Diameter of a shallow round pocket round the port, mm (the port's diameter to half the saddle's length).
    #[serde(default)]
    pub pocket_diameter_mm: Option<f64>,
    /// Depth of that pocket, mm (0.01 to 5).
    #[serde(default)]
    pub pocket_depth_mm: Option<f64>,
    /// Supply pressure above the room's, bar (0.1 to 12).
    pub supply_bar: f64,
    /// Discharge coefficient (0.6 to 0.9; 0.8 is usual).
    #[serde(default = "discharge")]
    pub discharge: f64,
}

/// The air.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AirSheet {
    /// What the compressor delivers for good, litres of free air a minute (1 to 100,000).
    #[serde(default)]
    pub compressor_l_min: Option<f64>,
    /// Temperature, °C (−20 to 60).
    #[serde(default = "twenty")]
    pub temperature_c: f64,
    /// Pressure of the room, bar absolute (0.5 to 1.2).
    #[serde(default = "sea_level")]
    pub ambient_bar_abs: f64,
}

impl Default for AirSheet {
    fn default() -> Self {
        Self { compressor_l_min: None, temperature_c: twenty(), ambient_bar_abs: sea_level() }
    }
}

/// What the arbor rolls on where there is no air.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum WaysKind {
    /// Flat hardened ways.
    HardenedWays,
    /// Knife edges.
    KnifeEdges,
    /// Overlapping discs.
    DiscRollers,
}

/// Ways, edges or discs.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct WaysSheet {
    /// Which.
    pub kind: WaysKind,
    /// Lever arm of rolling friction, µm (0 to 1000): 5 to 13 for hardened and ground, about 51 for plain steel.
    pub lever_arm_um: f64,
    /// Departure from flat along the rolling, µm (0 to 1000); for ways and edges.
    #[serde(default = "two")]
    pub flatness_um: f64,
    /// Length over which that holds, mm (1 to 10,000); for ways and edges.
    #[serde(default = "two_hundred")]
    pub length_mm: f64,
    /// The discs; for disc rollers.
    #[serde(default)]
    pub discs: Option<DiscSheet>,
}

/// Overlapping discs on bearings.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DiscSheet {
    /// Radius of a disc, mm (5 to 2000).
    pub radius_mm: f64,
    /// Half the bore of its bearing, mm (0.1 to the disc's radius).
    pub bearing_radius_mm: f64,
    /// Friction of the bearing (0 to 1; 0.0015 for ball bearings).
    pub bearing_friction: f64,
    /// Each contact's angle from straight down, degrees (1 to 80).
    pub contact_deg: f64,
    /// Unbalance of one disc, g·mm (0 to 1e6).
    pub unbalance_g_mm: f64,
}

/// The base plate and what it stands on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PlateSheet {
    /// To the operator's right, mm (20 to 5000).
    pub length_mm: f64,
    /// Away from the operator, mm (20 to 5000).
    pub width_mm: f64,
    /// Thickness, mm (2 to 500).
    pub thickness_mm: f64,
    /// Density, kg/m³ (1000 to 20,000; cast iron 7200).
    #[serde(default = "iron_density")]
    pub density_kg_m3: f64,
    /// The three feet, mm from the corner at the operator's left: to the right, and away from him.
    pub feet_mm: [[f64; 2]; 3],
    /// Pitch of the foot screws, mm (0.2 to 6).
    pub foot_pitch_mm: f64,
    /// Axis of the arbor above the tips of the feet, mm (5 to 3000).
    pub axis_height_mm: f64,
    /// Middle between the supports, mm from the same corner; left out: the middle of the plate.
    #[serde(default)]
    pub supports_middle_mm: Option<[f64; 2]>,
}

/// What the shop holds, and how it reads: half widths of what may happen.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct HeldSheet {
    /// Port off straight down, to the side, mm (0 to 5).
    pub port_offset_mm: f64,
    /// Bore out of round: amplitude of its ovality, µm (0 to 50).
    pub bore_oval_um: f64,
    /// Arbor out of round where it lies, largest less smallest radius, µm (0 to 50).
    pub arbor_roundness_um: f64,
    /// Lobes of that: 2 oval, 3 or 5 from centreless grinding (2 to 50).
    pub arbor_lobes: u32,
    /// Total run-out of the wheel's seat, µm (0 to 1000).
    pub seat_runout_um: f64,
    /// Radial play of the adapter on its seat, µm (0 to 500); 0 on a taper.
    pub seat_play_um: f64,
    /// Slope across the arbor, mm/m (0 to 20).
    pub slope_across_mm_m: f64,
    /// Slope along the arbor, mm/m (0 to 20).
    pub slope_along_mm_m: f64,
    /// Where the end stop touches, from the axis, mm (0 to 100).
    pub end_stop_radius_mm: f64,
    /// Friction of the end stop (0 to 1; 0.15 is usual).
    pub end_stop_friction: f64,
    /// Air moving along one half of the wheel, m/s (0 to 2; 0.05 in a still room).
    pub draught_m_s: f64,
    /// Turning that the reader is sure to see, degrees (0.001 to 45).
    pub visible_creep_deg: f64,
    /// How long the reader waits for it, s (0.1 to 100,000).
    pub patience_s: f64,
}

impl Default for HeldSheet {
    fn default() -> Self {
        Self {
            port_offset_mm: 0.1,
            bore_oval_um: 0.5,
            arbor_roundness_um: 0.5,
            arbor_lobes: 2,
            seat_runout_um: 2.0,
            seat_play_um: 0.0,
            slope_across_mm_m: 0.05,
            slope_along_mm_m: 0.05,
            end_stop_radius_mm: 3.0,
            end_stop_friction: 0.15,
            draught_m_s: 0.05,
            visible_creep_deg: 2.0,
            patience_s: 20.0,
        }
    }
}

fn steel_gpa() -> f64 {
    205.0
}
fn steel_density() -> f64 {
    7850.0
}
fn iron_density() -> f64 {
    7200.0
}
fn half_round() -> f64 {
    180.0
}
fn two() -> f64 {
    2.0
}
fn two_hundred() -> f64 {
    200.0
}
fn one() -> f64 {
    1.0
}
fn discharge() -> f64 {
    0.8
}
fn twenty() -> f64 {
    20.0
}
fn sea_level() -> f64 {
    1.01325
}

impl StandSheet {
    /// Whether every value lies in its range and the parts agree with one another.
    ///
    /// # Errors
    /// A [`Fault`] for the first that doesn't.
    pub fn check(&self) -> Result<(), Fault> {
        let letters = self.name.chars().count();
        if letters == 0 || letters > 200 {
            return Err(Fault::new("name", letters, "1 to 200 characters", "a stand is known by its name"));
        }
        self.arbor.check().map_err(|f| f.inside("arbor"))?;
        match (&self.saddles, &self.feed, &self.ways) {
            (Some(saddles), Some(feed), None) => {
                saddles.check().map_err(|f| f.inside("saddles"))?;
                feed.check(saddles.length_mm).map_err(|f| f.inside("feed"))?;
                if saddles.length_mm >= self.arbor.span_mm {
                    let allowed = format!("below the span of {} mm", self.arbor.span_mm);
                    return Err(Fault::new(
                        "saddles.length_mm",
                        saddles.length_mm,
                        allowed,
                        "two saddles this long would meet in the middle",
                    ));
                }
            }
            (None, None, Some(ways)) => ways.check().map_err(|f| f.inside("ways"))?,
            (Some(_), None, _) => {
                return Err(Fault::new("feed", "missing", "port and supply of the saddles", "a saddle without air is no air saddle"));
            }
            (None, Some(_), _) => {
                return Err(Fault::new("saddles", "missing", "the saddles that the feed feeds", "there is a feed but no saddle"));
            }
            (Some(_), Some(_), Some(_)) => {
                return Err(Fault::new("ways", "given beside saddles", "one of saddles, ways", "the arbor floats or rolls, not both"));
            }
            (None, None, None) => {
                return Err(Fault::new("saddles", "missing", "one of saddles, ways", "the sheet does not say what the arbor lies on"));
            }
        }
        if let Some(air) = &self.air {
            air.check().map_err(|f| f.inside("air"))?;
        }
        self.plate.check().map_err(|f| f.inside("plate"))?;
        self.held.check().map_err(|f| f.inside("held"))
    }
}

impl ArborSheet {
    fn check(&self) -> Result<(), Fault> {
        self.diameter_mm.within("diameter_mm", 2.0, 200.0, "mm", "diameter of the arbor where it lies")?;
        self.span_mm.within("span_mm", 5.0, 2000.0, "mm", "middle of one support to middle of the other")?;
        self.wheel_offset_mm.within("wheel_offset_mm", -2000.0, 2000.0, "mm", "from the middle of the span")?;
        self.young_gpa.within("young_gpa", 10.0, 700.0, "GPa", "steel has 205")?;
        self.density_kg_m3.within("density_kg_m3", 1000.0, 20_000.0, "kg/m³", "steel has 7850")?;
        self.length_mm.within("length_mm", self.span_mm, 3000.0, "mm", "the arbor reaches over both supports")?;
        Ok(())
    }
}

impl SaddleSheet {
    fn check(&self) -> Result<(), Fault> {
        self.radial_clearance_um.within(
            "radial_clearance_um",
            1.0,
            500.0,
            "µm",
            "the arbor must fit into its bore, with a film that air can carry",
        )?;
        self.length_mm.within("length_mm", 2.0, 500.0, "mm", "along the arbor")?;
        self.arc_deg.within("arc_deg", 30.0, 180.0, "degrees", "more than a half round and the arbor can't be laid in from above")?;
        self.rest_gap_um.within("rest_gap_um", 0.1, 10.0, "µm", "surfaces at rest do not seal: roughness and form leave a gap")?;
        Ok(())
    }
}

impl FeedSheet {
    fn check(&self, saddle_length_mm: f64) -> Result<(), Fault> {
        let most = saddle_length_mm / 2.0;
        let fits = "it must lie inside the film: at most half the saddle's length";
        let port = self.port_diameter_mm.within("port_diameter_mm", 0.1, most, "mm", fits)?;
        if let Some(jet) = self.jet_diameter_mm {
            jet.within("jet_diameter_mm", 0.03, port, "mm", "the jet sits in the port; a wider one would not restrict")?;
        }
        match (self.pocket_diameter_mm, self.pocket_depth_mm) {
            (Some(d), Some(depth)) => {
                d.within("pocket_diameter_mm", port, most, "mm", "it surrounds the port and lies inside the film")?;
                depth.within("pocket_depth_mm", 0.01, 5.0, "mm", "a shallow pocket")?;
            }
            (None, None) => {}
            (Some(_), None) => {
                return Err(Fault::new("pocket_depth_mm", "missing", "0.01 to 5 mm", "its volume decides whether the film hammers"));
            }
            (None, Some(_)) => {
                return Err(Fault::new("pocket_diameter_mm", "missing", "its diameter in mm", "a depth alone makes no pocket"));
            }
        }
        self.supply_bar.within(
            "supply_bar",
            0.1,
            12.0,
            "bar gauge",
            "shop air; above it a regulator and relief valve of another class are needed",
        )?;
        self.discharge.within("discharge", 0.6, 0.9, "", "0.8 is usual")?;
        Ok(())
    }
}

impl AirSheet {
    fn check(&self) -> Result<(), Fault> {
        if let Some(flow) = self.compressor_l_min {
            flow.within("compressor_l_min", 1.0, 1e5, "litres of free air a minute", "what it delivers for good, not its peak")?;
        }
        self.temperature_c.within("temperature_c", -20.0, 60.0, "°C", "a workshop")?;
        self.ambient_bar_abs.within("ambient_bar_abs", 0.5, 1.2, "bar absolute", "sea level has 1.01325")?;
        Ok(())
    }
}

impl WaysSheet {
    fn check(&self) -> Result<(), Fault> {
        self.lever_arm_um.within("lever_arm_um", 0.0, 1000.0, "µm", "lever arm of rolling friction")?;
        self.flatness_um.within("flatness_um", 0.0, 1000.0, "µm", "departure from flat along the rolling")?;
        self.length_mm.within("length_mm", 1.0, 10_000.0, "mm", "length over which that holds")?;
        match (self.kind, &self.discs) {
            (WaysKind::DiscRollers, None) => {
                Err(Fault::new("discs", "missing", "radius, bearing and contact angle", "the discs are not described"))
            }
            (WaysKind::DiscRollers, Some(d)) => d.check().map_err(|f| f.inside("discs")),
            (_, Some(_)) => Err(Fault::new("discs", "given on ways", "nothing", "only disc rollers have discs")),
            (_, None) => Ok(()),
        }
    }
}

impl DiscSheet {
    fn check(&self) -> Result<(), Fault> {
        let radius = self.radius_mm.within("radius_mm", 5.0, 2000.0, "mm", "radius of a disc")?;
        self.bearing_radius_mm.within("bearing_radius_mm", 0.1, radius, "mm", "half the bore of the bearing; the disc is larger")?;
        self.bearing_friction.within("bearing_friction", 0.0, 1.0, "", "0.0015 for ball bearings, 0.1 for plain ones")?;
        self.contact_deg.within("contact_deg", 1.0, 80.0, "degrees", "each contact's angle from straight down")?;
        self.unbalance_g_mm.within("unbalance_g_mm", 0.0, 1e6, "g·mm", "unbalance of one disc")?;
        Ok(())
    }
}

impl PlateSheet {
    fn check(&self) -> Result<(), Fault> {
        self.length_mm.within("length_mm", 20.0, 5000.0, "mm", "to the operator's right")?;
        self.width_mm.within("width_mm", 20.0, 5000.0, "mm", "away from the operator")?;
        self.thickness_mm.within("thickness_mm", 2.0, 500.0, "mm", "of the base plate")?;
        self.density_kg_m3.within("density_kg_m3", 1000.0, 20_000.0, "kg/m³", "cast iron has 7200")?;
        for (k, foot) in self.feet_mm.iter().enumerate() {
            foot[0].within(&format!("feet_mm[{k}][0]"), 0.0, self.length_mm, "mm", "a foot stands under the plate")?;
            foot[1].within(&format!("feet_mm[{k}][1]"), 0.0, self.width_mm, "mm", "a foot stands under the plate")?;
        }
        self.foot_pitch_mm.within("foot_pitch_mm", 0.2, 6.0, "mm", "pitch of the foot screws")?;
        self.axis_height_mm.within("axis_height_mm", 5.0, 3000.0, "mm", "the wheel must clear the bench")?;
        if let Some(m) = self.supports_middle_mm {
            m[0].within("supports_middle_mm[0]", 0.0, self.length_mm, "mm", "the supports stand on the plate")?;
            m[1].within("supports_middle_mm[1]", 0.0, self.width_mm, "mm", "the supports stand on the plate")?;
        }
        Ok(())
    }
}

impl HeldSheet {
    fn check(&self) -> Result<(), Fault> {
        for (field, v, low, most, unit) in [
            ("port_offset_mm", self.port_offset_mm, 0.0, 5.0, "mm"),
            ("bore_oval_um", self.bore_oval_um, 0.0, 50.0, "µm"),
            ("arbor_roundness_um", self.arbor_roundness_um, 0.0, 50.0, "µm"),
            ("arbor_lobes", f64::from(self.arbor_lobes), 2.0, 50.0, "lobes"),
            ("seat_runout_um", self.seat_runout_um, 0.0, 1000.0, "µm"),
            ("seat_play_um", self.seat_play_um, 0.0, 500.0, "µm"),
            ("slope_across_mm_m", self.slope_across_mm_m, 0.0, 20.0, "mm/m"),
            ("slope_along_mm_m", self.slope_along_mm_m, 0.0, 20.0, "mm/m"),
            ("end_stop_radius_mm", self.end_stop_radius_mm, 0.0, 100.0, "mm"),
            ("end_stop_friction", self.end_stop_friction, 0.0, 1.0, ""),
            ("draught_m_s", self.draught_m_s, 0.0, 2.0, "m/s"),
            ("visible_creep_deg", self.visible_creep_deg, 1e-3, 45.0, "degrees"),
            ("patience_s", self.patience_s, 0.1, 1e5, "s"),
        ] {
            v.within(field, low, most, unit, "what the shop holds, or how it reads")?;
        }
        Ok(())
    }
}

/// Read a stand sheet.
///
/// # Errors
/// A [`Fault`] for text that is no TOML, a field that is missing, unknown, of the wrong type or out of range.
pub fn read_sheet(toml: &str) -> Result<StandSheet, Fault> {
    static SCHEMA: OnceLock<Value> = OnceLock::new();
    let sheet: StandSheet = read(read_toml(toml)?, SCHEMA.get_or_init(|| schema_for!(StandSheet).to_value()))?;
    sheet.check()?;
    Ok(sheet)
}

/// The same text with one value changed, comments and order kept. `path` is dotted: `feed.supply_bar`; `None` takes the
/// field out. The result is not checked.
///
/// # Errors
/// A [`Fault`] for text that is no TOML, or a path through something that is no table.
pub fn set_in_sheet(toml: &str, path: &str, value: Option<f64>) -> Result<String, Fault> {
    let mut doc: toml_edit::DocumentMut = toml.parse().map_err(|e: toml_edit::TomlError| {
        let line = e.span().map_or(1, |s| toml.get(..s.start).map_or(1, |b| b.matches('\n').count() + 1));
        Fault::new("sheet", format!("the text at line {line}"), "TOML", e.message().to_owned())
    })?;
    let mut table: &mut dyn toml_edit::TableLike = doc.as_table_mut();
    let (parents, leaf) = match path.rsplit_once('.') {
        Some((parents, leaf)) => (parents.split('.').collect::<Vec<_>>(), leaf),
        None => (vec![], path),
    };
    for parent in parents {
        table = table
            .entry(parent)
            .or_insert_with(toml_edit::table)
            .as_table_like_mut()
            .ok_or_else(|| Fault::new(path, "inside a plain value", "a table of the sheet", format!("{parent} is no table")))?;
    }
    match (value, table.get_mut(leaf)) {
        (None, _) => {
            table.remove(leaf);
        }
        // In place, so that the remark behind the value stays.
        (Some(v), Some(toml_edit::Item::Value(old))) => {
            let decor = old.decor().clone();
            *old = v.into();
            *old.decor_mut() = decor;
        }
        (Some(v), _) => {
            table.insert(leaf, toml_edit::value(v));
        }
    }
    Ok(doc.to_string())
}

/// The demo's stand Birch, with remarks, to start from.
pub const BIRCH: &str = include_str!("../../../examples/stand-birch.toml");

/// The demo's stand Ways.
pub const WAYS: &str = include_str!("../../../examples/stand-ways.toml");

#[cfg(test)]
mod tests {
    use super::*;
    use rstest::rstest;

    #[test]
    fn the_shops_sheets_are_good() {
        let birch = read_sheet(BIRCH).unwrap();
        assert_eq!(birch.name, "Birch");
        assert!(birch.saddles.is_some() && birch.ways.is_none());
        assert_eq!(read_sheet(WAYS).unwrap().ways.unwrap().kind, WaysKind::HardenedWays);
    }

    #[test]
    fn one_value_changes_and_every_remark_stays() {
        let changed = set_in_sheet(BIRCH, "feed.supply_bar", Some(3.5)).unwrap();
        assert_eq!(read_sheet(&changed).unwrap().feed.unwrap().supply_bar, 3.5);
        let (before, after): (Vec<&str>, Vec<&str>) = (BIRCH.lines().collect(), changed.lines().collect());
        assert_eq!(before.len(), after.len());
        let unlike: Vec<(&&str, &&str)> = before.iter().zip(&after).filter(|(a, b)| a != b).collect();
        assert_eq!(unlike.len(), 1);
        let remark = unlike[0].0.split_once('#').unwrap().1;
        assert!(unlike[0].1.ends_with(remark), "{unlike:?}");
        let without = set_in_sheet(&changed, "feed.jet_diameter_mm", None).unwrap();
        assert_eq!(read_sheet(&without).unwrap().feed.unwrap().jet_diameter_mm, None);
        let with = set_in_sheet(&without, "feed.jet_diameter_mm", Some(0.2)).unwrap();
        assert_eq!(read_sheet(&with).unwrap().feed.unwrap().jet_diameter_mm, Some(0.2));
        let new_table = set_in_sheet(WAYS, "held.patience_s", Some(40.0)).unwrap();
        assert_eq!(read_sheet(&new_table).unwrap().held.patience_s, 40.0);
    }

    #[rstest]
    #[case("saddles.radial_clearance_um", 0.0, "saddles.radial_clearance_um")]
    #[case("saddles.radial_clearance_um", -3.0, "saddles.radial_clearance_um")]
    #[case("saddles.arc_deg", 181.0, "saddles.arc_deg")]
    #[case("feed.port_diameter_mm", 26.0, "feed.port_diameter_mm")]
    #[case("feed.supply_bar", -0.2, "feed.supply_bar")]
    #[case("feed.jet_diameter_mm", 1.3, "feed.jet_diameter_mm")]
    #[case("plate.foot_pitch_mm", 0.0, "plate.foot_pitch_mm")]
    #[case("arbor.length_mm", 10.0, "arbor.length_mm")]
    #[case("held.port_offset_mm", -0.1, "held.port_offset_mm")]
    #[case("feed.no_such_thing", 1.0, "feed.no_such_thing")]
    fn a_value_out_of_range_is_named(#[case] path: &str, #[case] value: f64, #[case] field: &str) {
        let text = set_in_sheet(BIRCH, path, Some(value)).unwrap();
        let fault = read_sheet(&text).unwrap_err();
        assert_eq!(fault.field, field, "{fault}");
        assert!(!fault.why.is_empty());
    }

    #[test]
    fn a_sheet_must_say_what_the_arbor_lies_on() {
        let both = format!("{BIRCH}\n[ways]\nkind = \"hardened-ways\"\nlever_arm_um = 5.0\n");
        assert_eq!(read_sheet(&both).unwrap_err().field, "ways");
        let start = WAYS.find("[ways]").unwrap();
        let end = WAYS[start + 1..].find('[').unwrap() + start + 1;
        let neither = format!("{}{}", &WAYS[..start], &WAYS[end..]);
        assert_eq!(read_sheet(&neither).unwrap_err().field, "saddles");
        assert_eq!(read_sheet("name = ").unwrap_err().value.to_string(), "the text at line 1");
    }
}
