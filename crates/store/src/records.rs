//! The records a shop keeps: rotors, machines, weight rings, stands. Units are in the names; the ranges are wide, to catch slips
//! (grams for kilograms, a comma lost), not to judge.

use crate::json::{check_line, check_note};
use crate::{Id, StoreFault};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// Which table of records.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RecordKind {
    /// [`Rotor`].
    Rotor,
    /// [`Machine`].
    Machine,
    /// [`WeightRing`].
    WeightRing,
    /// [`Stand`].
    Stand,
}

impl RecordKind {
    pub(crate) const ALL: [Self; 4] = [Self::Rotor, Self::Machine, Self::WeightRing, Self::Stand];

    /// As it is stored: `rotor`, `weight-ring`, ...
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Rotor => "rotor",
            Self::Machine => "machine",
            Self::WeightRing => "weight-ring",
            Self::Stand => "stand",
        }
    }
    pub(crate) fn in_words(self) -> &'static str {
        if self == Self::WeightRing { "weight ring" } else { self.as_str() }
    }
}

/// What can be kept in revisions.
pub trait Record: Serialize + DeserializeOwned + Clone + PartialEq + std::fmt::Debug {
    /// Its table.
    const KIND: RecordKind;

    /// What people call it.
    fn name(&self) -> &str;

    /// Whether every value is in its range.
    ///
    /// # Errors
    /// [`StoreFault::Invalid`] for the first that isn't.
    fn check(&self) -> Result<(), StoreFault>;

    /// Other records that must exist for this one to make sense: field, kind, id.
    fn refers_to(&self) -> Vec<(&'static str, RecordKind, &Id)> {
        Vec::new()
    }
}

/// A grinding wheel as bought.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Wheel {
    /// Outer diameter, mm (10 to 2000).
    pub diameter_mm: f64,
    /// Width, mm (1 to 1000).
    pub width_mm: f64,
    /// Bore, mm (1 to below the diameter).
    pub bore_mm: f64,
    /// What the maker printed on it, as it stands.
    #[serde(default)]
    pub maker_marking: String,
    /// Marked greatest peripheral speed, m/s (1 to 500).
    #[serde(default)]
    pub max_speed_m_s: Option<f64>,
    /// Marked greatest speed of rotation, rpm (1 to 200,000).
    #[serde(default)]
    pub max_speed_rpm: Option<f64>,
}

/// What turns on the stand as one: wheel, adapter and, where it has one, arbor.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rotor {
    /// What people call it (1 to 200 characters).
    pub name: String,
    /// Its wheel.
    pub wheel: Wheel,
    /// Mass of all that turns on the stand, kg (0.001 to 5000).
    pub mass_kg: f64,
    /// Moment of inertia of the same about its axis, kg·m² (1e-9 to 5000).
    pub inertia_kg_m2: f64,
    /// Relative standard deviation of the inertia (0 to 1).
    pub inertia_rel_sd: f64,
    /// How the inertia was found.
    #[serde(default)]
    pub inertia_from: String,
    /// The weight ring on its adapter.
    pub ring: Id,
    /// Size of unbalance to be expected before the first look, g·mm (above 0, to 1e7).
    #[serde(default)]
    pub expected_unbalance_g_mm: Option<f64>,
    /// Remarks.
    #[serde(default)]
    pub note: String,
}

/// A grinding machine.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Machine {
    /// What people call it (1 to 200 characters).
    pub name: String,
    /// Spindle speed, rpm (1 to 200,000).
    pub speed_rpm: f64,
    /// Its sheet as TOML text, with the remarks that a person wrote; empty: none yet (up to 65,536 bytes).
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub sheet_toml: String,
    /// Remarks.
    #[serde(default)]
    pub note: String,
}

/// A weight that slides in a groove.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct GrooveWeight {
    /// Mass, g (above 0, to 1e5).
    pub mass_g: f64,
    /// Arc that its body takes up, degrees (0 to 180).
    #[serde(default)]
    pub arc_deg: f64,
    /// Whether it must stay where it is.
    #[serde(default)]
    pub fixed: bool,
}

/// A circular groove with sliding weights.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Groove {
    /// The weights, in one fixed order (up to 64).
    pub weights: Vec<GrooveWeight>,
    /// Spacing of the graduations, degrees (0.1 to 30).
    pub graduation_deg: f64,
    /// Arcs that no weight may enter: [from, to], counter-clockwise from the zero mark, degrees (each 0 to 360).
    #[serde(default)]
    pub forbidden_deg: Vec<[f64; 2]>,
    /// Whether weights can't pass one another.
    pub no_passing: bool,
}

/// A tapped hole for a set screw.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Hole {
    /// Radius of the mass centre of a screw in it, mm (0.1 to 1000).
    pub radius_mm: f64,
    /// Rotor angle, degrees counter-clockwise from the zero mark (0 to 360).
    pub at_deg: f64,
    /// Whether what is in it, or that it is empty, must stay: a peened screw, a spoilt thread.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub fixed: bool,
}

/// Screws of one mass.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ScrewStock {
    /// Mass of one, g (above 0, to 1e5).
    pub mass_g: f64,
    /// How many there are.
    pub count: u32,
}

/// A circle of tapped holes with a stock of set screws.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TappedHoles {
    /// The holes (1 to 360).
    pub holes: Vec<Hole>,
    /// The screws at hand.
    pub stock: Vec<ScrewStock>,
}

/// How a weight ring carries its weights. In JSON: `{"groove": {...}}` or `{"tapped-holes": {...}}`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RingKind {
    /// Weights that slide in a groove.
    Groove(Groove),
    /// Set screws in tapped holes.
    TappedHoles(TappedHoles),
}

/// The circular groove or hole circle that carries correction weights.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WeightRing {
    /// What people call it (1 to 200 characters).
    pub name: String,
    /// Radius of the weights' mass centres, mm (0.1 to 1000).
    pub radius_mm: f64,
    /// Groove or holes.
    pub kind: RingKind,
    /// Remarks.
    #[serde(default)]
    pub note: String,
}

/// What a stand bears the rotor with.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum StandKind {
    /// Air saddles under an arbor.
    AirSaddles,
    /// Flat hardened ways.
    HardenedWays,
    /// Overlapping discs.
    DiscRollers,
    /// Knife edges.
    KnifeEdges,
    /// Something else.
    Other,
}

/// A balancing stand, as far as a sitting needs it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Stand {
    /// What people call it (1 to 200 characters).
    pub name: String,
    /// What it bears the rotor with.
    pub kind: StandKind,
    /// Smallest unbalance that it can show, g·mm (0 to 1e6).
    pub floor_g_mm: f64,
    /// Dry friction told as an unbalance, g·mm (0 to 1e6).
    pub dry_friction_g_mm: f64,
    /// Standard deviation of the drift torque told as an unbalance, g·mm (0 to 1e6).
    pub drift_sd_g_mm: f64,
    /// Radius of the arbor that rolls on it, mm (0.1 to 1000).
    #[serde(default)]
    pub arbor_radius_mm: Option<f64>,
    /// Set: this stand is the virtual bench, with this seed.
    #[serde(default)]
    pub virtual_seed: Option<u64>,
    /// Its stand sheet as it was written, TOML (up to 65,536 bytes); empty: none yet.
    #[serde(default)]
    pub sheet_toml: String,
    /// What was measured on it, and what came of it, as its page kept them (JSON, up to 65,536 bytes); its floor, friction and drift above
    /// are then from there.
    #[serde(default)]
    pub qualification: Option<Value>,
    /// Its finished parts as measured, by part, piece and dimension, as the inspection page kept them (JSON, up to 65,536 bytes).
    #[serde(default)]
    pub as_made: Option<Value>,
    /// Remarks.
    #[serde(default)]
    pub note: String,
}

/// NaN and infinities are in no range.
pub(crate) fn within(field: &str, value: f64, low: f64, high: f64, unit: &str, why: &str) -> Result<(), StoreFault> {
    if value >= low && value <= high {
        return Ok(());
    }
    Err(StoreFault::invalid(field, value, format!("{low} to {high} {unit}").trim_end(), why))
}

pub(crate) fn above_zero_to(field: &str, value: f64, high: f64, unit: &str, why: &str) -> Result<(), StoreFault> {
    if value > 0.0 && value <= high {
        return Ok(());
    }
    Err(StoreFault::invalid(field, value, format!("above 0, up to {high} {unit}"), why))
}

fn check_name(name: &str) -> Result<(), StoreFault> {
    check_line("name", name, 1, 200)
}

fn count_within(field: &str, count: usize, low: usize, high: usize, why: &str) -> Result<(), StoreFault> {
    if (low..=high).contains(&count) { Ok(()) } else { Err(StoreFault::invalid(field, count, format!("{low} to {high}"), why)) }
}

/// Longest stand sheet, bytes.
const MOST_SHEET: usize = 65_536;

fn check_sheet(text: &str, why: &str) -> Result<(), StoreFault> {
    if text.len() > MOST_SHEET {
        return Err(StoreFault::invalid("sheet_toml", text.len(), format!("up to {MOST_SHEET} bytes"), why));
    }
    Ok(())
}
const CHECK_UNIT: &str = "Check the unit and the decimal point.";
const FROM_ZERO_MARK: &str = "Count from the zero mark, counter-clockwise.";

impl Record for Rotor {
    const KIND: RecordKind = RecordKind::Rotor;

    fn name(&self) -> &str {
        &self.name
    }

    fn check(&self) -> Result<(), StoreFault> {
        check_name(&self.name)?;
        self.wheel.check().map_err(|fault| fault.inside("wheel"))?;
        within("mass_kg", self.mass_kg, 0.001, 5000.0, "kg", "All that turns on the stand, in kilograms.")?;
        within("inertia_kg_m2", self.inertia_kg_m2, 1e-9, 5000.0, "kg·m²", CHECK_UNIT)?;
        within("inertia_rel_sd", self.inertia_rel_sd, 0.0, 1.0, "", "A fraction: 0.02 for 2 %.")?;
        check_note("inertia_from", &self.inertia_from)?;
        if let Some(expected) = self.expected_unbalance_g_mm {
            above_zero_to("expected_unbalance_g_mm", expected, 1e7, "g·mm", "Leave it empty if nothing is known.")?;
        }
        check_note("note", &self.note)
    }

    fn refers_to(&self) -> Vec<(&'static str, RecordKind, &Id)> {
        vec![("ring", RecordKind::WeightRing, &self.ring)]
    }
}

impl Wheel {
    fn check(&self) -> Result<(), StoreFault> {
        within("diameter_mm", self.diameter_mm, 10.0, 2000.0, "mm", CHECK_UNIT)?;
        within("width_mm", self.width_mm, 1.0, 1000.0, "mm", CHECK_UNIT)?;
        within("bore_mm", self.bore_mm, 1.0, self.diameter_mm, "mm", "The bore is smaller than the wheel.")?;
        if self.bore_mm == self.diameter_mm {
            return Err(StoreFault::invalid(
                "bore_mm",
                self.bore_mm,
                format!("below {} mm", self.diameter_mm),
                "The bore is smaller than the wheel.",
            ));
        }
        check_note("maker_marking", &self.maker_marking)?;
        if let Some(speed) = self.max_speed_m_s {
            within("max_speed_m_s", speed, 1.0, 500.0, "m/s", "As marked on the wheel; leave it empty if it isn't marked.")?;
        }
        if let Some(speed) = self.max_speed_rpm {
            within("max_speed_rpm", speed, 1.0, 200_000.0, "rpm", "As marked on the wheel; leave it empty if it isn't marked.")?;
        }
        Ok(())
    }
}

impl Record for Machine {
    const KIND: RecordKind = RecordKind::Machine;

    fn name(&self) -> &str {
        &self.name
    }

    fn check(&self) -> Result<(), StoreFault> {
        check_name(&self.name)?;
        within("speed_rpm", self.speed_rpm, 1.0, 200_000.0, "rpm", "The spindle's speed in turns a minute.")?;
        check_sheet(&self.sheet_toml, "A sheet of a machine is a page or two.")?;
        check_note("note", &self.note)
    }
}

impl Record for WeightRing {
    const KIND: RecordKind = RecordKind::WeightRing;

    fn name(&self) -> &str {
        &self.name
    }

    fn check(&self) -> Result<(), StoreFault> {
        check_name(&self.name)?;
        within("radius_mm", self.radius_mm, 0.1, 1000.0, "mm", CHECK_UNIT)?;
        match &self.kind {
            RingKind::Groove(groove) => groove.check().map_err(|fault| fault.inside("kind.groove"))?,
            RingKind::TappedHoles(holes) => holes.check().map_err(|fault| fault.inside("kind.tapped-holes"))?,
        }
        check_note("note", &self.note)
    }
}

impl Groove {
    fn check(&self) -> Result<(), StoreFault> {
        count_within("weights", self.weights.len(), 0, 64, "List the weights that are in the groove.")?;
        for (i, weight) in self.weights.iter().enumerate() {
            above_zero_to(&format!("weights[{i}].mass_g"), weight.mass_g, 1e5, "g", "Weigh it, in grams.")?;
            within(&format!("weights[{i}].arc_deg"), weight.arc_deg, 0.0, 180.0, "°", "The arc that its body takes up in the groove.")?;
        }
        within("graduation_deg", self.graduation_deg, 0.1, 30.0, "°", "Without graduation enter how finely a weight can be set.")?;
        count_within("forbidden_deg", self.forbidden_deg.len(), 0, 64, "Join arcs that touch.")?;
        for (i, [from, to]) in self.forbidden_deg.iter().enumerate() {
            within(&format!("forbidden_deg[{i}][0]"), *from, 0.0, 360.0, "°", FROM_ZERO_MARK)?;
            within(&format!("forbidden_deg[{i}][1]"), *to, 0.0, 360.0, "°", FROM_ZERO_MARK)?;
        }
        Ok(())
    }
}

impl TappedHoles {
    /// Whether the stock can fill the holes so: nothing at all, or one entry a hole.
    pub(crate) fn check_filling(&self, field: &str, screws: &[Option<usize>]) -> Result<(), StoreFault> {
        if !screws.is_empty() && screws.len() != self.holes.len() {
            let allowed = format!("{}, one a hole, or none", self.holes.len());
            return Err(StoreFault::invalid(field, format!("{} entries", screws.len()), allowed, "Say of each hole which screw is in it."));
        }
        for (i, kind) in screws.iter().enumerate() {
            if let Some(kind) = kind.filter(|k| *k >= self.stock.len()) {
                let allowed = format!("below {}", self.stock.len());
                return Err(StoreFault::invalid(format!("{field}[{i}]"), kind, allowed, "This screw is not in the stock."));
            }
        }
        for (k, screw) in self.stock.iter().enumerate() {
            let used = screws.iter().filter(|s| **s == Some(k)).count();
            if used > screw.count as usize {
                let why = format!("The stock has {} screws of {} g, those in holes included.", screw.count, screw.mass_g);
                return Err(StoreFault::invalid(
                    field,
                    format!("{used} screws of {} g", screw.mass_g),
                    format!("at most {}", screw.count),
                    why,
                ));
            }
        }
        Ok(())
    }

    fn check(&self) -> Result<(), StoreFault> {
        count_within("holes", self.holes.len(), 1, 360, "List the holes.")?;
        for (i, hole) in self.holes.iter().enumerate() {
            within(&format!("holes[{i}].radius_mm"), hole.radius_mm, 0.1, 1000.0, "mm", CHECK_UNIT)?;
            within(&format!("holes[{i}].at_deg"), hole.at_deg, 0.0, 360.0, "°", FROM_ZERO_MARK)?;
        }
        count_within("stock", self.stock.len(), 0, 1000, "List each mass once.")?;
        for (i, screw) in self.stock.iter().enumerate() {
            above_zero_to(&format!("stock[{i}].mass_g"), screw.mass_g, 1e5, "g", "Weigh it, in grams.")?;
        }
        Ok(())
    }
}

impl Record for Stand {
    const KIND: RecordKind = RecordKind::Stand;

    fn name(&self) -> &str {
        &self.name
    }

    fn check(&self) -> Result<(), StoreFault> {
        check_name(&self.name)?;
        within("floor_g_mm", self.floor_g_mm, 0.0, 1e6, "g·mm", CHECK_UNIT)?;
        within("dry_friction_g_mm", self.dry_friction_g_mm, 0.0, 1e6, "g·mm", CHECK_UNIT)?;
        within("drift_sd_g_mm", self.drift_sd_g_mm, 0.0, 1e6, "g·mm", CHECK_UNIT)?;
        if let Some(radius) = self.arbor_radius_mm {
            within("arbor_radius_mm", radius, 0.1, 1000.0, "mm", CHECK_UNIT)?;
        }
        check_sheet(&self.sheet_toml, "A sheet of a stand is a page or two.")?;
        let kept = self.qualification.as_ref().map_or(0, |q| q.to_string().len());
        if kept > MOST_SHEET {
            return Err(StoreFault::invalid("qualification", kept, format!("up to {MOST_SHEET} bytes"), "Keep fewer tests."));
        }
        let measured = self.as_made.as_ref().map_or(0, |m| m.to_string().len());
        if measured > MOST_SHEET {
            return Err(StoreFault::invalid(
                "as_made",
                measured,
                format!("up to {MOST_SHEET} bytes"),
                "Keep one set of parts for each stand.",
            ));
        }
        check_note("note", &self.note)
    }
}
