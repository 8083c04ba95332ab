//! Stands to make and to draw: the demo’s Birch, and others that differ where parts and drawings do.

#![allow(dead_code, reason = "each test uses its own part of this file")]

use stillwheel_physics::making::parts::{Design, Making, PortThread, Sizes};

/// The demo's stand Birch.
pub(crate) fn birch() -> Sizes {
    Sizes {
        name: "Birch".to_owned(),
        arbor_diameter_mm: 20.0,
        span_mm: 110.0,
        arbor_length_mm: 180.0,
        arbor_density_kg_m3: 7850.0,
        arbor_roundness_um: 0.3,
        seat_runout_um: 1.0,
        radial_clearance_um: 14.0,
        saddle_length_mm: 24.0,
        arc_deg: 180.0,
        bore_oval_um: 0.4,
        port_diameter_mm: 1.2,
        port_offset_mm: 0.1,
        jet_diameter_mm: Some(0.15),
        pocket_mm: Some([3.0, 0.05]),
        supply_bar: 4.0,
        plate_mm: [320.0, 180.0, 25.0],
        plate_density_kg_m3: 7200.0,
        feet_mm: [[20.0, 20.0], [300.0, 20.0], [160.0, 160.0]],
        foot_pitch_mm: 1.0,
        axis_height_mm: 190.0,
        middle_mm: [160.0, 90.0],
        end_stop_radius_mm: 3.0,
    }
}

/// Several stands, with names for messages.
pub(crate) fn several() -> Vec<(&'static str, Design)> {
    let make = |sizes, making| Design::new(sizes, making).expect("a stand that can be made");
    vec![
        ("Birch", make(birch(), Making::default())),
        (
            "small, shallow arc, no jet, short arbor",
            make(
                Sizes {
                    name: "Rowan".to_owned(),
                    arbor_diameter_mm: 10.0,
                    span_mm: 90.0,
                    arbor_length_mm: 110.0,
                    saddle_length_mm: 14.0,
                    arc_deg: 120.0,
                    jet_diameter_mm: None,
                    pocket_mm: None,
                    port_diameter_mm: 0.6,
                    plate_mm: [220.0, 160.0, 20.0],
                    feet_mm: [[15.0, 15.0], [205.0, 15.0], [110.0, 145.0]],
                    middle_mm: [110.0, 80.0],
                    foot_pitch_mm: 0.75,
                    axis_height_mm: 160.0,
                    ..birch()
                },
                Making { port_thread: PortThread::M5, o_ring_section_mm: 1.8, ..Making::default() },
            ),
        ),
        (
            "large, long saddles, thick ring",
            make(
                Sizes {
                    name: "Oak".to_owned(),
                    arbor_diameter_mm: 40.0,
                    span_mm: 260.0,
                    arbor_length_mm: 420.0,
                    saddle_length_mm: 50.0,
                    port_diameter_mm: 2.0,
                    jet_diameter_mm: Some(0.4),
                    plate_mm: [560.0, 420.0, 40.0],
                    feet_mm: [[40.0, 40.0], [520.0, 40.0], [280.0, 390.0]],
                    middle_mm: [280.0, 210.0],
                    foot_pitch_mm: 1.75,
                    axis_height_mm: 330.0,
                    ..birch()
                },
                Making { o_ring_section_mm: 3.55, ..Making::default() },
            ),
        ),
    ]
}
