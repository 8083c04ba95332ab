//! Fits, glands, threads, retention and the plate through the door: what they answer, and what they refuse by name.

use rstest::rstest;
use serde_json::{Value, json};
use stillwheel_door::find;

fn run(name: &str, input: Value) -> Result<Value, stillwheel_door::Fault> {
    find(name).unwrap().run(input)
}

/// The example with some fields changed.
fn with(name: &str, fields: Value) -> Value {
    let mut input = (find(name).unwrap().example)();
    for (k, v) in fields.as_object().unwrap() {
        input[k] = v.clone();
    }
    input
}

#[test]
fn a_fit_is_told_cold_and_warm() {
    // 40 H7/g6: 9 to 50 µm (case fit-40-H7-g6); brass in aluminium gains 1.0 µm at +10 K (case thermal-brass-in-alu).
    let out = run("fit", (find("fit").unwrap().example)()).unwrap();
    assert_eq!(out["clearance"], json!({"min_um": 9.0, "max_um": 50.0, "kind": "clearance"}));
    assert!((out["clearance_warm"]["min_um"].as_f64().unwrap() - 10.0).abs() < 1e-9);
    for p in out["proposals"].as_array().unwrap() {
        assert!(p["min_um"].as_f64().unwrap() >= 5.0 && p["max_um"].as_f64().unwrap() <= 60.0, "{p}");
    }
    assert!(out["says"].as_str().unwrap().contains("always passes"));
}

#[rstest]
#[case::collar_that_does_not_pass(json!({"shaft": "k6"}), "must_pass")]
#[case::collar_that_does_not_pass_warm(
    json!({"hole_material": "S355", "temperature_c": 60.0}), "temperature_c")]
#[case::no_such_class(json!({"hole": "Z7"}), "hole")]
#[case::small_letter_for_a_hole(json!({"hole": "h7"}), "hole")]
#[case::too_large(json!({"nominal_mm": 600}), "nominal_mm")]
#[case::no_such_material(json!({"shaft_material": "butter"}), "shaft_material")]
#[case::one_material_missing(json!({"shaft_material": null}), "shaft_material")]
#[case::warm_without_materials(json!({"hole_material": null, "shaft_material": null}), "hole_material")]
#[case::too_narrow(json!({"wanted_clearance_um": [10, 11]}), "wanted_clearance_um")]
#[case::turned_round(json!({"wanted_clearance_um": [60, 5]}), "wanted_clearance_um[1]")]
#[case::passes_what(json!({"shaft": null}), "must_pass")]
fn a_fit_that_can_not_be_is_a_fault_that_names_what_to_change(#[case] change: Value, #[case] field: &str) {
    let fault = run("fit", with("fit", change)).unwrap_err();
    assert_eq!(fault.field, field, "{fault}");
    assert!(!fault.allowed.is_empty() && !fault.why.is_empty());
}

#[test]
fn nothing_asked_is_a_fault() {
    assert_eq!(run("fit", json!({"nominal_mm": 40})).unwrap_err().field, "hole");
    assert_eq!(run("thread", json!({})).unwrap_err().field, "thread");
    assert_eq!(run("thread", json!({"thread": "M6", "port": "G1/8"})).unwrap_err().field, "port");
}

#[test]
fn a_gland_takes_its_groove_from_the_published_housing() {
    let out = run("gland", (find("gland").unwrap().example)()).unwrap();
    // reference/oring_glands.csv, 3.55: depth 3.25 and width 4.2 in air.
    assert_eq!(out["groove"]["diameter_mm"], 33.5);
    assert_eq!(out["groove"]["width_mm"][0], 4.2);
    assert!(out["squeeze_worst_percent"].as_f64().unwrap() > 0.0);
    // Case oring-stack-40: the same bore, groove and section.
    assert!((out["squeeze_percent"][0].as_f64().unwrap() - 4.54).abs() < 0.02);
    assert!((out["squeeze_percent"][1].as_f64().unwrap() - 10.96).abs() < 0.02);
    let still = run("gland", with("gland", json!({"service": "still", "inside_mm": 34.0}))).unwrap();
    assert_eq!(still["groove"]["diameter_mm"], 34.6);
    assert!(still["friction_n"].as_f64().unwrap() > out["friction_n"].as_f64().unwrap());
}

#[rstest]
#[case::breaks_through(json!({"behind_mm": 34.0}), "behind_mm")]
#[case::breaks_out_beside(json!({"beside_mm": 0.3}), "beside_mm")]
#[case::loses_contact(json!({"section_mm": 1.0, "inside_mm": 37.3}), "section_mm")]
#[case::no_such_section(json!({"section_mm": 3.4}), "section_mm")]
#[case::overfilled(json!({"width_mm": 3.5}), "width_mm")]
#[case::stretched(json!({"inside_mm": 30.0}), "inside_mm")]
#[case::saddle_does_not_pass(json!({"saddle_class": "k6"}), "saddle_class")]
#[case::no_such_class(json!({"bore_class": "B3"}), "bore_class")]
#[case::no_such_groove(json!({"groove_class": "q2"}), "groove_class")]
#[case::inch_for_mm(json!({"nominal_mm": 1.5748}), "nominal_mm")]
fn a_gland_that_will_not_do_is_a_fault_that_names_what_to_change(#[case] change: Value, #[case] field: &str) {
    let fault = run("gland", with("gland", change)).unwrap_err();
    assert_eq!(fault.field, field, "{fault}");
}

#[test]
fn a_port_flat_thinner_than_its_thread_needs_is_named_in_its_place() {
    let port = |seat: Value| run("thread", json!({"port": "G1/8", "seat": seat}));
    assert_eq!(port(json!({"wall_mm": 9, "flat_width_mm": 16})).unwrap()["wall_left_mm"], 1.0);
    assert_eq!(port(json!({"wall_mm": 7, "flat_width_mm": 16})).unwrap_err().field, "seat.wall_mm");
    assert_eq!(port(json!({"wall_mm": 9, "flat_width_mm": 12})).unwrap_err().field, "seat.flat_width_mm");
    assert_eq!(run("thread", json!({"thread": "M6", "seat": {"wall_mm": 9, "flat_width_mm": 16}})).unwrap_err().field, "seat");
    assert_eq!(run("thread", json!({"port": "G1/8", "hole_mm": 8.8})).unwrap_err().field, "hole_mm");
}

#[test]
fn a_thread_tells_what_gives_way_first() {
    let out = run("thread", (find("thread").unwrap().example)()).unwrap();
    // Case strip-M6-in-6082: 27,610 N strips the hole; the screw of class 8.8 breaks at 800 × 20.12 = 16,100 N (ISO 898-1).
    assert!((out["strength"]["strips_at_n"].as_f64().unwrap() / 27610.0 - 1.0).abs() < 0.002);
    assert_eq!(out["strength"]["first"], "the screw itself");
    assert!((out["strength"]["breaks_at_n"].as_f64().unwrap() / 16098.0 - 1.0).abs() < 0.002);
    assert!((out["strength"]["factor"].as_f64().unwrap() - 16098.0 / 6000.0).abs() < 0.01);
    let weak =
        run("thread", json!({"thread": "M6", "hole_mm": 5.9, "engaged": {"engagement_mm": 3, "hole_strength_mpa": 310, "load_n": 6000}}));
    let weak = weak.unwrap();
    assert_eq!(weak["strength"]["first"], "the thread of the hole");
    assert!(weak["cautions"].as_array().unwrap().len() >= 3, "{weak}");
}

#[test]
fn a_saddle_held_by_friction_alone_is_refused_whatever_the_factor() {
    // Case eject-hold-40: the screws alone would hold with a factor of 2.387.
    let out = run("retention", (find("retention").unwrap().example)()).unwrap();
    assert!((out["force_n"].as_f64().unwrap() - 753.98).abs() < 0.02);
    assert!((out["friction_factor"].as_f64().unwrap() - 2.387).abs() < 0.002);
    assert!(out["stop_factor"].as_f64().unwrap() > 2.0);
    let fault = run("retention", with("retention", json!({"stop": null}))).unwrap_err();
    assert_eq!(fault.field, "stop");
    assert!(fault.why.contains("friction alone never") && fault.allowed.contains("cap"), "{fault}");
}

#[rstest]
#[case::weak_stop("/stop/engagement_mm", json!(0.1), "stop")]
#[case::port_flat_too_thin("/pillar/flat_from_axis_mm", json!(27.5), "pillar.flat_from_axis_mm")]
#[case::bore_meets_the_foots_hole("/pillar/bore_depth_mm", json!(85), "pillar.bore_depth_mm")]
#[case::holes_meet("/holes/1/to_mm", json!([0, 0, 45]), "holes[1]")]
#[case::holes_too_near("/holes/3/from_mm", json!([23.5, 0, 98]), "holes[3]")]
#[case::overtightened("/screws/torque_n_m", json!(20), "screws.torque_n_m")]
#[case::no_such_thread("/screws/thread", json!("M7"), "screws.thread")]
#[case::no_such_port("/pillar/port", json!("G1"), "pillar.port")]
#[case::no_such_material("/pillar/material", json!("chalk"), "pillar.material")]
#[case::port_nowhere("/pillar/port_height_mm", json!(null), "pillar.port_height_mm")]
#[case::bar_for_psi("/supply_bar", json!(87), "supply_bar")]
fn what_air_would_push_out_is_named(#[case] pointer: &str, #[case] value: Value, #[case] field: &str) {
    let mut input = (find("retention").unwrap().example)();
    *input.pointer_mut(pointer).expect("a field of the example") = value;
    let fault = run("retention", input).unwrap_err();
    assert_eq!(fault.field, field, "{fault}");
    assert!(!fault.allowed.is_empty() && !fault.why.is_empty());
}

#[test]
fn a_soft_flat_dents_and_a_button_does_not() {
    let on = |m: &str| run("plate", with("plate", json!({"stands_on": m, "rotor_kg": 40}))).unwrap();
    let (alu, button, stone) = (on("EN AW-6082-T6"), on("100Cr6"), on("granite"));
    assert_eq!(alu["feet"][0]["stands"], "dents");
    assert!(alu["cautions"].to_string().contains("hardened button"));
    assert_eq!(button["feet"][0]["stands"], "elastic");
    assert_eq!(stone["feet"][0]["stands"], "brittle");
    // A softer contact shakes lower.
    assert!(alu["frequencies_hz"][0].as_f64() < button["frequencies_hz"][0].as_f64());
}

#[rstest]
#[case::tips(json!({"feet_mm": [[20, 20], [300, 20], [160, 70]]}), "feet_mm")]
#[case::feet_in_a_line(json!({"feet_mm": [[20, 20], [300, 20], [160, 20]]}), "feet_mm")]
#[case::pillar_off_the_plate(json!({"pillars_mm": [[160, 35], [160, 200]]}), "pillars_mm[1][1]")]
#[case::foot_off_the_plate(json!({"feet_mm": [[-20, 20], [300, 20], [160, 160]]}), "feet_mm[0][0]")]
#[case::inch_for_mm(json!({"thickness_mm": 0.98}), "thickness_mm")]
#[case::a_block_and_no_plate(json!({"thickness_mm": 90}), "thickness_mm")]
#[case::no_such_material(json!({"material": "cheese"}), "material")]
fn a_plate_that_can_not_be_is_a_fault_that_names_what_to_change(#[case] change: Value, #[case] field: &str) {
    let fault = run("plate", with("plate", change)).unwrap_err();
    assert_eq!(fault.field, field, "{fault}");
}
