//! Every height, diameter and wall of the stand, worked out from its sheet.
//!
//! In: [`Sizes`] and [`Making`]. Out: a [`Design`] that the laws (`laws`) have let through.

use super::laws;
use super::sizes::{Making, PortThread, Sizes};
use super::thread::foot_thread;
use crate::Fault;
use crate::making::gland::{Housing, Service};
use crate::making::thread::Port;

/// The groove of the O-ring in the piston.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Groove {
    /// Section of the ring, mm.
    pub section_mm: f64,
    /// Groove bottom to the wall that it seals against, mm.
    pub depth_mm: f64,
    /// Width, mm.
    pub width_mm: f64,
    /// Largest radius in its corners, mm.
    pub corner_radius_mm: f64,
}

impl Groove {
    /// The published groove for slowly sliding air ([`Housing`]), if the ring keeps contact at the worst of its section's tolerance.
    fn of(section_mm: f64) -> Result<Self, Fault> {
        let field = "making.o_ring_section_mm";
        let housing = Housing::find(section_mm).map_err(|f| Fault { field: field.to_owned(), ..f })?;
        let [depth_mm, width_mm] = housing.groove_mm(Service::SlidingAir);
        if housing.section_mm - housing.section_tolerance_mm <= depth_mm {
            let why = "at the thinnest that its tolerance allows this ring does not touch both walls in the published groove for air";
            return Err(Fault::new(field, section_mm, "a thicker ring", why));
        }
        Ok(Self { section_mm, depth_mm, width_mm, corner_radius_mm: housing.corner_radius_mm })
    }
}

/// The stand, worked out. All lengths mm.
#[derive(Clone, Debug, PartialEq)]
pub struct Design {
    /// What the sheet says.
    pub sizes: Sizes,
    /// What it leaves open.
    pub making: Making,
    /// Saddle: diameter of its bore.
    pub bore_mm: f64,
    /// Saddle: diameter of its neck, which the collar guides.
    pub neck_mm: f64,
    /// Saddle: diameter of its piston; the pillar's bore has the same.
    pub piston_mm: f64,
    /// Saddle: length of its piston.
    pub piston_length_mm: f64,
    /// Groove of the O-ring.
    pub groove: Groove,
    /// Saddle: lower edge of the groove above the piston's lower face.
    pub groove_from_mm: f64,
    /// Saddle: lower end of its flats above the piston's lower face.
    pub flats_from_mm: f64,
    /// Saddle: axis of its bore above the piston's lower face.
    pub saddle_axis_mm: f64,
    /// Saddle: height over all; its axis, but for an arc below 180°.
    pub saddle_height_mm: f64,
    /// Saddle: diameter of the hole that brings the air up.
    pub gallery_mm: f64,
    /// Saddle: depth of that hole.
    pub gallery_depth_mm: f64,
    /// Collar: thickness of its flange.
    pub flange_mm: f64,
    /// Collar: axis of the set screws below its upper face.
    pub set_screw_below_mm: f64,
    /// Pillar and collar: side of the square.
    pub section_mm: f64,
    /// Pillar: height.
    pub pillar_mm: f64,
    /// Pillar: depth of the bore.
    pub bore_depth_mm: f64,
    /// Pillar: axis of the port above its foot.
    pub port_height_mm: f64,
    /// Pillar and collar: corner screws from the middle, along x and along y.
    pub corner_screw_mm: f64,
    /// Axis of the arbor above the plate's upper face.
    pub axis_above_plate_mm: f64,
    /// Guide bar: length, thickness across it, height.
    pub guide_mm: [f64; 3],
    /// Guide bar: its screws from its middle.
    pub guide_screw_mm: f64,
    /// End stop: width, thickness of its foot, height.
    pub stop_mm: [f64; 3],
    /// End stop: thickness of its arm.
    pub stop_arm_mm: f64,
    /// End stop: axis of the stop screw above its lower end.
    pub stop_axis_mm: f64,
    /// End stop: from its arm to the arbor's end, with the arbor in the middle.
    pub stop_gap_mm: f64,
    /// Foot: thread.
    pub foot_thread: String,
    /// Foot: its major diameter.
    pub foot_thread_mm: f64,
    /// Foot: drill for it.
    pub foot_drill_mm: f64,
    /// Foot: length over all.
    pub foot_length_mm: f64,
    /// Foot: hexagon across flats.
    pub foot_hexagon_mm: f64,
    /// Jet: length.
    pub jet_length_mm: f64,
}

/// Height of the end stop's foot, which bears on the pillar.
pub(super) const STOP_FOOT: f64 = 32.0;
/// Its screws above its lower end.
pub(super) const STOP_SCREWS: [f64; 2] = [8.0, 24.0];
/// Width of the end stop.
const STOP_WIDTH: f64 = 25.0;
/// Thickness of its arm: 10 mm take a full M6 thread with a nut behind it.
const STOP_ARM: f64 = 10.0;
/// Brass above and below the groove.
const LAND: f64 = 5.0;
/// From the pillar's faces to its corner screws.
const CORNER: f64 = 7.0;

impl Design {
    /// Work the stand out.
    ///
    /// # Errors
    /// A [`Fault`] that names the field of the sheet (`saddles.…`, `plate.…`, `making.…`) that has to change: a wall too thin,
    /// holes that meet, a pillar off the plate, an arbor too low over it.
    pub fn new(sizes: Sizes, making: Making) -> Result<Self, Fault> {
        making.check()?;
        let (s, m) = (&sizes, &making);
        let groove = Groove::of(m.o_ring_section_mm)?;
        let thread = foot_thread(s.foot_pitch_mm)?;
        let bore_mm = s.arbor_diameter_mm + 2e-3 * s.radial_clearance_um;
        // The neck holds the whole rectangle of the film and the walls beside it.
        let neck_mm = even(s.saddle_length_mm.hypot(s.arbor_diameter_mm + 2.0 * m.side_wall_mm));
        let piston_mm = neck_mm + 2.0 * m.shoulder_mm;
        let section_mm = even(piston_mm + 2.0 * m.pillar_wall_mm);
        let piston_length_mm = (2.0 * LAND + groove.width_mm).ceil();
        // From top to bottom of the collar: flats reach 2 travel + 1 into it at the lowest, then the screw and its edge.
        let set_screw_below_mm = 2.0 * m.travel_mm + 6.0;
        let flange_mm = set_screw_below_mm + 6.0;
        let drop = s.arbor_diameter_mm / 2.0 + m.bore_floor_mm;
        let collar_top = piston_length_mm + m.travel_mm + m.spigot_mm + flange_mm;
        let saddle_axis_mm = collar_top + drop;
        // A shallower arc ends lower: its edges lie R cos(arc/2) below the axis.
        let saddle_height_mm = saddle_axis_mm - bore_mm / 2.0 * (s.arc_deg / 2.0).to_radians().cos();
        let saddle_height_mm = if s.arc_deg >= 180.0 { saddle_axis_mm } else { saddle_height_mm };
        let port_drill = port_of(m.port_thread)?.tap_drill_mm;
        let bore_depth_mm = half_up(m.spigot_mm + 2.0 * m.travel_mm + piston_length_mm + port_drill + 2.0);
        let axis_above_plate_mm = s.axis_height_mm - m.foot_clearance_mm - s.plate_mm[2];
        let pillar_mm = axis_above_plate_mm - drop - flange_mm;
        let beyond = (s.arbor_length_mm - s.span_mm) / 2.0 - section_mm / 2.0;
        // Three millimetres for the stop screw's tip and for a feeler.
        let step = (beyond + 3.0).max(0.0);
        let stop_bottom = pillar_mm - bore_depth_mm - STOP_FOOT;
        let stop_axis_mm = axis_above_plate_mm - stop_bottom;
        let design = Self {
            bore_mm,
            neck_mm,
            piston_mm,
            piston_length_mm,
            groove,
            groove_from_mm: LAND,
            flats_from_mm: collar_top - m.travel_mm - 1.0,
            saddle_axis_mm,
            saddle_height_mm,
            gallery_mm: (s.port_diameter_mm + 2.0).max(6.0),
            gallery_depth_mm: saddle_axis_mm - bore_mm / 2.0 - m.port_length_mm,
            flange_mm,
            set_screw_below_mm,
            section_mm,
            pillar_mm,
            bore_depth_mm,
            port_height_mm: pillar_mm - bore_depth_mm + 1.0 + port_drill / 2.0,
            corner_screw_mm: section_mm / 2.0 - CORNER,
            axis_above_plate_mm,
            guide_mm: [neck_mm + 12.0, 7.0, m.bore_floor_mm - m.travel_mm - 1.0],
            guide_screw_mm: neck_mm / 2.0,
            stop_mm: [STOP_WIDTH, STOP_ARM + step, stop_axis_mm + 8.0],
            stop_arm_mm: STOP_ARM,
            stop_axis_mm,
            stop_gap_mm: step - beyond,
            foot_hexagon_mm: hexagon_mm(thread.d_mm),
            foot_length_mm: m.foot_clearance_mm + s.plate_mm[2] - 7.0,
            foot_thread: thread.name.to_owned(),
            foot_thread_mm: thread.d_mm,
            foot_drill_mm: thread.tap_drill_mm,
            jet_length_mm: (m.port_length_mm - 1.0).min(3.0),
            sizes,
            making,
        };
        laws::check(&design)?;
        Ok(design)
    }

    /// Middles of the pillars on the plate, the operator's first.
    pub fn pillars_mm(&self) -> [[f64; 2]; 2] {
        let [x, y] = self.sizes.middle_mm;
        let half = self.sizes.span_mm / 2.0;
        [[x, y - half], [x, y + half]]
    }

    /// Force of the air that drives a saddle upwards, N: the pressure on the piston.
    pub fn force_on_saddle_n(&self) -> f64 {
        0.1 * self.sizes.supply_bar * std::f64::consts::FRAC_PI_4 * self.piston_mm.powi(2)
    }

    /// Diameter of the groove's bottom.
    pub fn groove_diameter_mm(&self) -> f64 {
        self.piston_mm - 2.0 * self.groove.depth_mm
    }
}

/// The air port as the trade tables it.
pub(super) fn port_of(thread: PortThread) -> Result<&'static Port, Fault> {
    let name = match thread {
        PortThread::G18 => "G1/8",
        PortThread::M5 => "M5",
    };
    Port::find("making.port_thread", name)
}

/// Diameter of its spotface, mm; for M5 that of a sealing washer (common practice, no source).
pub(super) fn spotface_mm(port: &Port) -> f64 {
    port.spotface_mm.unwrap_or(9.0)
}

/// The next even millimetre: bar is milled to whole sizes.
fn even(v: f64) -> f64 {
    (v / 2.0 - 1e-9).ceil() * 2.0
}

/// The next half millimetre.
fn half_up(v: f64) -> f64 {
    (v * 2.0 - 1e-9).ceil() / 2.0
}

/// Hexagon for a foot of that thread, across flats. Source: ISO 272 for M8 to M24.
fn hexagon_mm(major_mm: f64) -> f64 {
    const FLATS: [(f64, f64); 9] =
        [(8.0, 13.0), (10.0, 16.0), (12.0, 18.0), (14.0, 21.0), (16.0, 24.0), (18.0, 27.0), (20.0, 30.0), (22.0, 34.0), (24.0, 36.0)];
    FLATS.iter().find(|f| major_mm <= f.0).map_or(36.0, |f| f.1)
}
