//! The `[making]` table of a stand sheet: what the parts need and the rest of the sheet leaves open.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::making::parts::{Making, PortThread};

/// Thread of the air port.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub enum PortThreadName {
    /// G 1/8.
    #[serde(rename = "G1/8")]
    G18,
    /// M5.
    M5,
}

/// What the sheet leaves open, with defaults; `parts` tells the reason of each.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct MakingSheet {
    /// How far the radial clearance may be off, µm (0.1 to 50).
    pub clearance_tolerance_um: f64,
    /// Brass left beside the bore at the saddle's edges, mm (1 to 50).
    pub side_wall_mm: f64,
    /// Brass between the bore and the collar, mm (6 to 100).
    pub bore_floor_mm: f64,
    /// Width of the shoulder that the collar holds down, mm (1 to 20).
    pub shoulder_mm: f64,
    /// How far a saddle moves up and down from the middle, mm (0.5 to 10).
    pub travel_mm: f64,
    /// Depth of the collar's spigot in the pillar's bore, mm (4 to 30).
    pub spigot_mm: f64,
    /// Aluminium beside the pillar's bore, mm (4 to 100).
    pub pillar_wall_mm: f64,
    /// Section of the O-ring, mm (1.5, 1.8, 2, 2.5, 2.65, 3, 3.55, 5.3 or 7).
    pub o_ring_section_mm: f64,
    /// Thread of the air port in a pillar.
    pub port_thread: PortThreadName,
    /// Plate's underside above the bench, mm (10 to 200).
    pub foot_clearance_mm: f64,
    /// Length of the port's narrow hole under the arbor, mm (0.5 to 50).
    pub port_length_mm: f64,
    /// Flatness of the plate's upper face, mm (0.001 to 1).
    pub plate_flatness_mm: f64,
}

impl Default for MakingSheet {
    fn default() -> Self {
        let m = Making::default();
        Self {
            clearance_tolerance_um: m.clearance_tolerance_um,
            side_wall_mm: m.side_wall_mm,
            bore_floor_mm: m.bore_floor_mm,
            shoulder_mm: m.shoulder_mm,
            travel_mm: m.travel_mm,
            spigot_mm: m.spigot_mm,
            pillar_wall_mm: m.pillar_wall_mm,
            o_ring_section_mm: m.o_ring_section_mm,
            port_thread: PortThreadName::G18,
            foot_clearance_mm: m.foot_clearance_mm,
            port_length_mm: m.port_length_mm,
            plate_flatness_mm: m.plate_flatness_mm,
        }
    }
}

impl MakingSheet {
    /// The same as physics takes it.
    pub(crate) fn making(&self) -> Making {
        Making {
            clearance_tolerance_um: self.clearance_tolerance_um,
            side_wall_mm: self.side_wall_mm,
            bore_floor_mm: self.bore_floor_mm,
            shoulder_mm: self.shoulder_mm,
            travel_mm: self.travel_mm,
            spigot_mm: self.spigot_mm,
            pillar_wall_mm: self.pillar_wall_mm,
            o_ring_section_mm: self.o_ring_section_mm,
            port_thread: match self.port_thread {
                PortThreadName::G18 => PortThread::G18,
                PortThreadName::M5 => PortThread::M5,
            },
            foot_clearance_mm: self.foot_clearance_mm,
            port_length_mm: self.port_length_mm,
            plate_flatness_mm: self.plate_flatness_mm,
        }
    }
}
