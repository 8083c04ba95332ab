//! What the parts are made from: the sizes of the stand sheet, and what it leaves open.

use crate::{Fault, Ranged};

/// The sizes that a stand sheet states.
#[derive(Clone, Debug, PartialEq)]
pub struct Sizes {
    /// The stand's name.
    pub name: String,
    /// Diameter of the arbor, mm.
    pub arbor_diameter_mm: f64,
    /// Middle of one saddle to middle of the other, mm.
    pub span_mm: f64,
    /// Length of the arbor, mm.
    pub arbor_length_mm: f64,
    /// Density of the arbor, kg/m³.
    pub arbor_density_kg_m3: f64,
    /// Largest less smallest radius of the arbor where it lies, µm.
    pub arbor_roundness_um: f64,
    /// Run-out of the wheel's seat, µm.
    pub seat_runout_um: f64,
    /// Bore radius less arbor radius, µm.
    pub radial_clearance_um: f64,
    /// Length of a saddle along the arbor, mm.
    pub saddle_length_mm: f64,
    /// Arc of the saddle's bore, degrees.
    pub arc_deg: f64,
    /// Amplitude of the bore's ovality that is held, µm.
    pub bore_oval_um: f64,
    /// Diameter of the port, mm.
    pub port_diameter_mm: f64,
    /// How far the port may lie to the side, mm.
    pub port_offset_mm: f64,
    /// Diameter of the jet, mm.
    pub jet_diameter_mm: Option<f64>,
    /// Diameter and depth of the pocket, mm.
    pub pocket_mm: Option<[f64; 2]>,
    /// Supply pressure, bar gauge.
    pub supply_bar: f64,
    /// Length, width and thickness of the plate, mm.
    pub plate_mm: [f64; 3],
    /// Density of the plate, kg/m³.
    pub plate_density_kg_m3: f64,
    /// The feet in plan, mm.
    pub feet_mm: [[f64; 2]; 3],
    /// Pitch of the foot screws, mm.
    pub foot_pitch_mm: f64,
    /// Axis above the tips of the feet, mm.
    pub axis_height_mm: f64,
    /// Middle between the saddles in plan, mm.
    pub middle_mm: [f64; 2],
    /// Where the end stop touches, from the axis, mm.
    pub end_stop_radius_mm: f64,
}

/// Thread of the air port in a pillar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PortThread {
    /// G 1/8, for common fittings.
    G18,
    /// M5, for small pillars.
    M5,
}

/// What the sheet leaves open; every default has its reason in [`Making::REASONS`].
#[derive(Clone, Debug, PartialEq)]
pub struct Making {
    /// How far the radial clearance may be off, µm.
    pub clearance_tolerance_um: f64,
    /// Brass left beside the bore at the saddle's edges, mm.
    pub side_wall_mm: f64,
    /// Brass between the bore and the collar, mm.
    pub bore_floor_mm: f64,
    /// Radial width of the shoulder that the collar holds down, mm.
    pub shoulder_mm: f64,
    /// How far a saddle moves up and down from the middle, mm.
    pub travel_mm: f64,
    /// Depth of the collar's spigot in the pillar's bore, mm.
    pub spigot_mm: f64,
    /// Aluminium beside the pillar's bore, mm.
    pub pillar_wall_mm: f64,
    /// Section of the O-ring, mm; one of the table of glands.
    pub o_ring_section_mm: f64,
    /// Thread of the air port.
    pub port_thread: PortThread,
    /// Plate's underside above the bench, mm.
    pub foot_clearance_mm: f64,
    /// Length of the port's narrow hole under the arbor, mm.
    pub port_length_mm: f64,
    /// Flatness of the plate's upper face, mm.
    pub plate_flatness_mm: f64,
}

impl Default for Making {
    fn default() -> Self {
        Self {
            clearance_tolerance_um: 1.5,
            side_wall_mm: 3.0,
            bore_floor_mm: 10.0,
            shoulder_mm: 4.0,
            travel_mm: 2.0,
            spigot_mm: 7.0,
            pillar_wall_mm: 9.0,
            o_ring_section_mm: 2.65,
            port_thread: PortThread::G18,
            foot_clearance_mm: 20.0,
            port_length_mm: 4.0,
            plate_flatness_mm: 0.02,
        }
    }
}

impl Making {
    /// Why each default is what it is.
    pub const REASONS: [(&'static str, &'static str); 12] = [
        (
            "clearance_tolerance_um",
            "what lapping to the finished arbor holds when both are measured to a micrometre (common practice, no source)",
        ),
        ("side_wall_mm", "the edge of the half round must not spring when it is bored (common practice, no source)"),
        ("bore_floor_mm", "leaves the arbor clear of the collar and its guide bar when the saddle is at its lowest"),
        ("shoulder_mm", "bears the air's force on the piston with a pressure far below the yield of brass, and is seen at a glance"),
        ("travel_mm", "takes up what the general tolerance of the pillar's and the saddle's heights can add up to, and the feet the rest"),
        ("spigot_mm", "reaches 4 mm past the lead-in for the O-ring, so that the bore itself centres the collar"),
        ("pillar_wall_mm", "a full G 1/8 thread needs 8 mm (DIN 3852-2), and one more is left for the face"),
        ("o_ring_section_mm", "keeps contact at the worst of its tolerances in the published groove for air (8 to 14 % squeeze)"),
        ("port_thread", "fittings for 4 and 6 mm hose are sold with G 1/8"),
        ("foot_clearance_mm", "room for fingers at the foot screws and for the heads of the pillars' screws"),
        ("port_length_mm", "a small drill of three times its diameter goes straight"),
        ("plate_flatness_mm", "a ground or scraped face; each saddle is set to height and line by itself"),
    ];

    /// Whether every value lies in its range.
    ///
    /// # Errors
    /// A [`Fault`] that names the field.
    pub fn check(&self) -> Result<(), Fault> {
        for (field, v, low, high, unit, why) in [
            ("clearance_tolerance_um", self.clearance_tolerance_um, 0.1, 50.0, "µm", "how far the radial clearance may be off"),
            ("side_wall_mm", self.side_wall_mm, 1.0, 50.0, "mm", "brass beside the bore"),
            ("bore_floor_mm", self.bore_floor_mm, 6.0, 100.0, "mm", "brass between bore and collar"),
            (
                "shoulder_mm",
                self.shoulder_mm,
                1.0,
                20.0,
                "mm",
                "the shoulder is the positive stop: without it the air drives the saddle out",
            ),
            ("travel_mm", self.travel_mm, 0.5, 10.0, "mm", "up and down from the middle"),
            ("spigot_mm", self.spigot_mm, 4.0, 30.0, "mm", "depth of the spigot"),
            ("pillar_wall_mm", self.pillar_wall_mm, 4.0, 100.0, "mm", "aluminium beside the bore"),
            ("o_ring_section_mm", self.o_ring_section_mm, 0.5, 10.0, "mm", "section of the O-ring"),
            ("foot_clearance_mm", self.foot_clearance_mm, 10.0, 200.0, "mm", "plate's underside above the bench"),
            ("port_length_mm", self.port_length_mm, 0.5, 50.0, "mm", "length of the narrow hole"),
            ("plate_flatness_mm", self.plate_flatness_mm, 0.001, 1.0, "mm", "flatness of the plate's upper face"),
        ] {
            v.within(&format!("making.{field}"), low, high, unit, why)?;
        }
        Ok(())
    }
}
