//! `parts`: a stand sheet in; every part with its features, dimensions and limits, and the list of material out.

use crate::Fault;
use crate::stand_sheet::{BIRCH, StandSheet, read_sheet};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::making::parts::{Design, Dimension, Feature, Making, Measure, Part, Sizes, Told, parts as all_parts};
use stillwheel_physics::making::process::process;

/// Input of `parts`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PartsIn {
    /// The stand sheet; its `[making]` table holds what only the parts need.
    pub sheet: StandSheet,
}

/// Where the limits of a dimension come from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum LimitsFrom {
    /// The general tolerance, ISO 2768-m.
    General,
    /// An ISO 286 class.
    Class,
    /// Stated, for the reason given.
    Stated,
    /// None of its own: a thread, a size that is bought.
    Reference,
}

/// What a dimension measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum MeasureName {
    /// Distance between two faces.
    Length,
    /// Diameter.
    Diameter,
    /// Radius.
    Radius,
    /// Depth of a hole.
    Depth,
    /// Thread, told by its major diameter.
    Thread,
    /// Place of a hole from the datum corner of its face.
    Coordinate,
    /// Legs of a 45° chamfer.
    Chamfer,
    /// Width of a hexagon across its flats.
    AcrossFlats,
}

/// A dimension.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DimensionOut {
    /// Feature and name: `bore.diameter`; unique in its part.
    pub id: String,
    /// What it measures.
    pub measure: MeasureName,
    /// Nominal, mm.
    pub nominal_mm: f64,
    /// Upper deviation, mm.
    pub upper_mm: f64,
    /// Lower deviation, mm.
    pub lower_mm: f64,
    /// Where these come from.
    pub limits_from: LimitsFrom,
    /// Class or reason, where there is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub told: Option<String>,
}

/// A geometric tolerance (ISO 1101).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ControlOut {
    /// Which: `flatness`.
    pub characteristic: String,
    /// Zone, mm; a diameter where `cylindrical`.
    pub zone_mm: f64,
    /// Whether the zone is a cylinder.
    pub cylindrical: bool,
    /// Datums in their order.
    pub datums: Vec<String>,
}

/// Holes of a feature.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct HoleOut {
    /// Letter in the drawing's hole table.
    pub tag: String,
    /// Face: top, bottom, front, back, left, right.
    pub face: String,
    /// Drill, mm.
    pub drill_mm: f64,
    /// Thread.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub thread: Option<String>,
    /// Depth of the drill, mm.
    pub depth_mm: f64,
    /// Whether it goes through.
    pub through: bool,
    /// Seat: diameter and depth, mm.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub seat_mm: Option<[f64; 2]>,
    /// Places from the datum corner of the face, mm, in the order of drilling.
    pub places_mm: Vec<[f64; 2]>,
}

/// A feature of a part.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FeatureOut {
    /// Name, unique in its part.
    pub id: String,
    /// In words.
    pub name: String,
    /// Dimensions.
    pub dimensions: Vec<DimensionOut>,
    /// Holes, where it is a set of them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub holes: Option<HoleOut>,
    /// Roughness Ra, µm, where it is finer than the general 3.2.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ra_um: Option<f64>,
    /// Geometric tolerances.
    pub controls: Vec<ControlOut>,
    /// Datum letter.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub datum: Option<String>,
    /// Why it is critical.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub critical: Option<String>,
}

/// A part.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PartOut {
    /// Number in the list.
    pub item: usize,
    /// Short name: `plate`.
    pub key: String,
    /// Name.
    pub name: String,
    /// How many.
    pub quantity: usize,
    /// Material; of bought parts what to buy.
    pub material: String,
    /// Stock to cut it from; absent for bought parts.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stock: Option<String>,
    /// Mass of one, g; absent for bought parts.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mass_g: Option<f64>,
    /// Features; none for bought parts.
    pub features: Vec<FeatureOut>,
    /// Notes of the drawing.
    pub notes: Vec<String>,
    /// Process sheet; empty for bought parts.
    pub operations: Vec<OperationOut>,
}

/// A line of a process sheet.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct OperationOut {
    /// Its number.
    pub number: usize,
    /// Saw, lathe, mill, drill, grinder, furnace or bench.
    pub machine: String,
    /// What is done.
    pub does: String,
    /// Features finished in it.
    pub features: Vec<String>,
    /// Why it is critical, if it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub critical: Option<String>,
    /// How what it makes is measured.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub measure: Option<String>,
    /// What can hurt.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub caution: Option<String>,
}

/// A value that the sheet left open.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ReasonOut {
    /// Field of `[making]`.
    pub field: String,
    /// Why its default is what it is.
    pub why: String,
}

/// Output of `parts`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PartsOut {
    /// The answer in a few sentences.
    pub says: String,
    /// All parts, the made ones first, numbered as in the list of parts.
    pub parts: Vec<PartOut>,
    /// Mass of all made parts, kg.
    pub made_mass_kg: f64,
    /// Force of the air that drives a saddle up against its collar, N.
    pub air_force_n: f64,
    /// Cautions.
    pub cautions: Vec<String>,
    /// Why the values that the sheet leaves open are what they are.
    pub reasons: Vec<ReasonOut>,
}

/// The stand of a sheet, worked out.
///
/// # Errors
/// A [`Fault`] for a sheet without air saddles, and for a stand that can't be made.
pub fn design(sheet: &StandSheet) -> Result<Design, Fault> {
    sheet.check()?;
    let (Some(saddles), Some(feed)) = (&sheet.saddles, &sheet.feed) else {
        return Err(Fault::new(
            "saddles",
            "missing",
            "a stand on air saddles",
            "parts are worked out for air saddles; ways are bought or ground to fit",
        ));
    };
    let (a, p, h) = (&sheet.arbor, &sheet.plate, &sheet.held);
    let sizes = Sizes {
        name: sheet.name.clone(),
        arbor_diameter_mm: a.diameter_mm,
        span_mm: a.span_mm,
        arbor_length_mm: a.length_mm,
        arbor_density_kg_m3: a.density_kg_m3,
        arbor_roundness_um: h.arbor_roundness_um,
        seat_runout_um: h.seat_runout_um,
        radial_clearance_um: saddles.radial_clearance_um,
        saddle_length_mm: saddles.length_mm,
        arc_deg: saddles.arc_deg,
        bore_oval_um: h.bore_oval_um,
        port_diameter_mm: feed.port_diameter_mm,
        port_offset_mm: h.port_offset_mm,
        jet_diameter_mm: feed.jet_diameter_mm,
        pocket_mm: feed.pocket_diameter_mm.zip(feed.pocket_depth_mm).map(|(d, t)| [d, t]),
        supply_bar: feed.supply_bar,
        plate_mm: [p.length_mm, p.width_mm, p.thickness_mm],
        plate_density_kg_m3: p.density_kg_m3,
        feet_mm: p.feet_mm,
        foot_pitch_mm: p.foot_pitch_mm,
        axis_height_mm: p.axis_height_mm,
        middle_mm: p.supports_middle_mm.unwrap_or([p.length_mm / 2.0, p.width_mm / 2.0]),
        end_stop_radius_mm: h.end_stop_radius_mm,
    };
    Design::new(sizes, sheet.making.making())
}

/// Work the parts out.
///
/// # Errors
/// A [`Fault`] as [`design`].
pub fn parts(input: &PartsIn) -> Result<PartsOut, Fault> {
    let design = design(&input.sheet).map_err(|f| f.inside("sheet"))?;
    let all = all_parts(&design)?;
    let made_mass_kg = all.iter().filter_map(|p| Some(p.mass_g? * p.quantity as f64)).sum::<f64>() * 1e-3;
    let made = all.iter().filter(|p| p.is_made()).count();
    let air_force_n = design.force_on_saddle_n();
    Ok(PartsOut {
        says: format!(
            "{made} parts to make and {} to buy; the made ones weigh {made_mass_kg:.1} kg. Pillars are {} mm square and {:.1} mm high; a saddle's neck is Ø {} mm in its collar.",
            all.len() - made,
            design.section_mm,
            design.pillar_mm,
            design.neck_mm
        ),
        made_mass_kg,
        air_force_n,
        cautions: cautions(air_force_n, input.sheet.feed.as_ref().map_or(0.0, |f| f.supply_bar)),
        reasons: Making::REASONS.iter().map(|r| ReasonOut { field: r.0.to_owned(), why: r.1.to_owned() }).collect(),
        parts: all.iter().map(part_out).collect(),
    })
}

fn cautions(force_n: f64, bar: f64) -> Vec<String> {
    vec![
        format!(
            "At {bar} bar the air drives each saddle upwards with {force_n:.0} N. The collar with all four screws is what holds it: never open the air with a collar off or loose, and never trust the set screws alone."
        ),
        "Vent the air before any screw is turned. Wear eye protection; a regulator and a relief valve stand before the hose.".to_owned(),
        "A wheel that was balanced on this stand is not thereby fit to run: ring test, flanges, blotters, guard and marked speed come first.".to_owned(),
    ]
}

fn part_out(p: &Part) -> PartOut {
    PartOut {
        item: p.item,
        key: p.key.clone(),
        name: p.name.clone(),
        quantity: p.quantity,
        material: p.material.clone(),
        stock: p.stock.as_ref().map(|s| s.says.clone()),
        mass_g: p.mass_g,
        features: p.features.iter().map(feature_out).collect(),
        notes: p.notes.clone(),
        operations: process(p)
            .into_iter()
            .map(|o| OperationOut {
                number: o.number,
                machine: o.machine.word().to_owned(),
                does: o.does,
                features: o.features.into_iter().map(str::to_owned).collect(),
                critical: o.critical,
                measure: o.measure,
                caution: o.caution.map(str::to_owned),
            })
            .collect(),
    }
}

fn feature_out(f: &Feature) -> FeatureOut {
    FeatureOut {
        id: f.id.to_owned(),
        name: f.name.to_owned(),
        dimensions: f.dimensions.iter().map(|d| dimension_out(f, d)).collect(),
        holes: f.hole.as_ref().filter(|h| h.in_table).map(|h| HoleOut {
            tag: h.tag.to_string(),
            face: h.face.word().to_owned(),
            drill_mm: h.drill_mm,
            thread: h.thread.clone(),
            depth_mm: h.depth_mm,
            through: h.through,
            seat_mm: h.seat_mm,
            places_mm: h.places.iter().map(|p| p.from_corner_mm).collect(),
        }),
        ra_um: f.ra_um,
        controls: f
            .controls
            .iter()
            .map(|c| ControlOut {
                characteristic: c.characteristic.words().to_owned(),
                zone_mm: c.zone_mm,
                cylindrical: c.cylindrical,
                datums: c.datums.iter().map(ToString::to_string).collect(),
            })
            .collect(),
        datum: f.datum.map(|d| d.to_string()),
        critical: f.critical.map(str::to_owned),
    }
}

fn dimension_out(f: &Feature, d: &Dimension) -> DimensionOut {
    let (limits_from, told) = match &d.limits.told {
        Told::General => (LimitsFrom::General, None),
        Told::Class(c) => (LimitsFrom::Class, Some((*c).to_owned())),
        Told::Stated(why) => (LimitsFrom::Stated, Some((*why).to_owned())),
        Told::Reference => (LimitsFrom::Reference, None),
    };
    DimensionOut {
        id: format!("{}.{}", f.id, d.name),
        measure: match d.measure {
            Measure::Length { .. } => MeasureName::Length,
            Measure::Diameter => MeasureName::Diameter,
            Measure::Radius => MeasureName::Radius,
            Measure::Depth => MeasureName::Depth,
            Measure::Thread => MeasureName::Thread,
            Measure::Coordinate => MeasureName::Coordinate,
            Measure::Chamfer => MeasureName::Chamfer,
            Measure::AcrossFlats => MeasureName::AcrossFlats,
        },
        nominal_mm: d.nominal_mm,
        upper_mm: d.limits.upper_mm,
        lower_mm: d.limits.lower_mm,
        limits_from,
        told,
    }
}

/// The demo's stand Birch.
pub(crate) fn example() -> PartsIn {
    // The sheet is checked by the tests of `stand_sheet`.
    PartsIn { sheet: read_sheet(BIRCH).unwrap_or_else(|f| unreachable!("the demo's sheet is good: {f}")) }
}
