//! The records a shop keeps: rotors, machines, weight rings, stands. Units are in the names; the ranges are wide, to catch slips
//! (grams for kilograms, a comma lost), not to judge.

use crate::{Id, StoreFault};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

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
    pub(crate) fn as_str(self) -> &'static str {
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
pub trait Record: Serialize + DeserializeOwned + Clone + PartialEq {
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
    /// Remarks.
    #[serde(default)]
    pub note: String,
}

impl Record for Rotor {
    const KIND: RecordKind = RecordKind::Rotor;
    fn name(&self) -> &str {
        &self.name
    }
    fn check(&self) -> Result<(), StoreFault> {
        Ok(())
    }
}

impl Record for Machine {
    const KIND: RecordKind = RecordKind::Machine;
    fn name(&self) -> &str {
        &self.name
    }
    fn check(&self) -> Result<(), StoreFault> {
        Ok(())
    }
}

impl Record for WeightRing {
    const KIND: RecordKind = RecordKind::WeightRing;
    fn name(&self) -> &str {
        &self.name
    }
    fn check(&self) -> Result<(), StoreFault> {
        Ok(())
    }
}

impl Record for Stand {
    const KIND: RecordKind = RecordKind::Stand;
    fn name(&self) -> &str {
        &self.name
    }
    fn check(&self) -> Result<(), StoreFault> {
        Ok(())
    }
}
