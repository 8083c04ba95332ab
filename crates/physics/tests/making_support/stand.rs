//! The demo's stand as drawn, for what is made of it. The saddle of film physics notes §6: Ø20 × 24, c = 14 µm, jet 0.15, 4 bar, 15 N.

#![allow(unreachable_pub, missing_docs, reason = "test support")]

use stillwheel_physics::film::{Air, Duty, Form, Port, Saddle};
use stillwheel_physics::making::made::Workpiece;
use stillwheel_physics::stand::budget::{RotorOnArbor, Setting};
use stillwheel_physics::stand::on_air::OnAir;
use stillwheel_physics::stand::supports::ArborForm;

pub fn birch() -> Workpiece {
    let port = Port {
        diameter_m: 1.2e-3,
        around_m: 0.0,
        along_m: 0.0,
        jet_diameter_m: Some(0.15e-3),
        pocket: None,
        volume_m3: 0.0,
        discharge: 0.8,
    };
    let saddle = Saddle {
        bore_diameter_m: 20.028e-3,
        clearance_m: 14e-6,
        length_m: 24e-3,
        arc_rad: std::f64::consts::PI,
        arc_turned_rad: 0.0,
        form: Form::default(),
        port,
        rest_gap_m: 1e-6,
    };
    Workpiece {
        on: OnAir {
            saddle,
            duty: Duty::new(Air { viscosity_pa_s: 1.813e-5, ..Air::default() }, 4e5, 15.0),
            loads_n: [15.0, 15.0],
            slopes_rad: [0.0, 0.0],
            span_m: 0.11,
            port_offset_m: 0.0,
            oval_m: 0.0,
            end_stop_friction: 0.15,
            end_stop_radius_mm: 3.0,
            roundness_share: 0.2,
        },
        rotor: RotorOnArbor {
            mass_kg: 3.06,
            seated_mass_kg: 2.5,
            inertia_kg_m2: 0.0082,
            wheel_diameter_mm: 200.0,
            arbor: ArborForm { radius_mm: 10.0, roundness_um: 0.1, lobes: 2 },
            runout_um: 0.2,
            index_balanced: false,
            seat_play_um: 0.0,
        },
        setting: Setting {
            cross_slope_mm_per_m: 0.02,
            axial_slope_mm_per_m: 0.02,
            draught_m_s: 0.01,
            visible_creep_deg: 1.0,
            patience_s: 60.0,
        },
    }
}
