//! What a person is told about an input that does not fit: field, value, allowed, why.

use serde_json::{Value, json};
use stillwheel_door::{Fault, find};

/// The fault of a calculation's example with one place changed.
fn fault_of(name: &str, pointer: &str, value: Value) -> Fault {
    let calculation = find(name).unwrap();
    let mut input = (calculation.example)();
    let (parent, key) = pointer.rsplit_once('/').unwrap();
    let parent = if parent.is_empty() { &mut input } else { input.pointer_mut(parent).unwrap() };
    match key.parse::<usize>() {
        Ok(i) => parent[i] = value,
        Err(_) => parent[key] = value,
    }
    calculation.run(input).unwrap_err()
}

#[test]
fn an_allowance_without_any_reason_asks_for_one() {
    let calculation = find("allowance").unwrap();
    let mut input = (calculation.example)();
    input["grade_mm_s"] = json!(null);
    input["finish"] = json!(null);
    assert_eq!(calculation.run(input).unwrap_err().field, "grade_mm_s");
}

#[test]
fn shape_faults_tell_place_value_allowed_and_reason() {
    // (calculation, where, what, field, value as shown, a part of allowed, a part of why)
    let rows: &[(&str, &str, Value, &str, &str, &str, &str)] = &[
        (
            "estimate",
            "/looks/0/reading/settle_deg",
            json!("abc"),
            "looks[0].reading.settle_deg",
            "abc",
            "a number (Rotor angle at the bottom, degrees)",
            "text: write a number",
        ),
        ("estimate", "/looks/0/reading/settle_deg", json!("12,5"), "looks[0].reading.settle_deg", "12,5", "a number", "decimal point"),
        ("estimate", "/looks/0/reading/settle_deg", json!("12.5"), "looks[0].reading.settle_deg", "12.5", "a number", "without quotes"),
        ("estimate", "/looks/0/reading/settle_deg", json!(null), "looks[0].reading.settle_deg", "null", "a number", "nothing"),
        (
            "estimate",
            "/looks/0/reading/settel_deg",
            json!(1),
            "looks[0].reading.settel_deg",
            "1",
            "sd_deg, settle_deg",
            "did you mean settle_deg?",
        ),
        (
            "estimate",
            "/looks/0/reading",
            json!({"kind": "settle", "sd_deg": 2}),
            "looks[0].reading.settle_deg",
            "missing",
            "Rotor angle at the bottom",
            "needed",
        ),
        (
            "estimate",
            "/looks/0/reading",
            json!({"kind": "setle"}),
            "looks[0].reading.kind",
            "setle",
            "settle, swing",
            "did you mean settle?",
        ),
        ("estimate", "/looks/0/reading", json!({"sd_deg": 2}), "looks[0].reading.kind", "missing", "settle, swing", "needed"),
        ("estimate", "/looks/0/reading", json!([1]), "looks[0].reading", "a list of 1", "an object with kind: settle", "a list"),
        (
            "estimate",
            "/looks/0/reading",
            json!({"kind": "creeps", "sense": "left", "sd_g_mm": 1}),
            "looks[0].reading.sense",
            "left",
            "counter-clockwise, clockwise",
            "this word",
        ),
        (
            "estimate",
            "/looks/1/trial",
            json!({"mass_g": 2, "radius_mm": "60 mm", "at_deg": 0}),
            "looks[1].trial.radius_mm",
            "60 mm",
            "a number",
            "the number alone",
        ),
        ("estimate", "/looks", json!({}), "looks", "an object", "a list", "an object"),
        ("estimate", "/looks/0/weights/2", json!([608.0, 0.0]), "looks[0].weights[2]", "a list of 2", "an object", "a list"),
        ("estimate", "/particles", json!(-5), "particles", "-5", "a whole number, 0 or more", "whole number"),
        ("estimate", "/particles", json!(2.5), "particles", "2.5", "a whole number", "whole number"),
        (
            "next-step",
            "/groove/forbidden_deg",
            json!([[1, 2], [1, 2, 3]]),
            "groove.forbidden_deg[1]",
            "a list of 3",
            "a list of 2",
            "another length",
        ),
        ("next-step", "/groove/forbidden_deg", json!([[1, "2"]]), "groove.forbidden_deg[0][1]", "2", "a number", "without quotes"),
        ("next-step", "/groove/no_passing", json!("yes"), "groove.no_passing", "yes", "true or false", "text"),
        ("rotor", "/bodies/1/width_mm", json!("28"), "bodies[1].width_mm", "28", "a number (Width along the axis", "without quotes"),
        ("rotor", "/bodies/1/name", json!(5), "bodies[1].name", "5", "text", "a number"),
        ("allowance", "/wheel_maker", json!({"wheel_mass_g": 1100}), "wheel_maker.k", "missing", "there is no default", "needed"),
        ("look-swing", "/released", json!("clockwize"), "released", "clockwize", "counter-clockwise, clockwise", "did you mean clockwise?"),
    ];
    for (name, pointer, value, field, shown, allowed, why) in rows {
        let f = fault_of(name, pointer, value.clone());
        assert_eq!((f.field.as_str(), f.value.to_string().as_str()), (*field, *shown), "{f}");
        assert!(f.allowed.contains(allowed), "{f}");
        assert!(f.why.contains(why), "{f}");
    }
}

#[test]
fn range_faults_come_with_the_same_names() {
    let rows: &[(&str, &str, Value, &str)] = &[
        ("rotor", "/bodies/2/mass_g", json!(-48), "bodies[2].mass_g"),
        ("rotor", "/bodies/2/mass_g", json!(0), "bodies[2].mass_g"),
        ("rotor", "/bodies/0/inner_diameter_mm", json!(200.1), "bodies[0].inner_diameter_mm"),
        ("rotor", "/bodies/0/mass_g", json!(1250), "bodies[0].density_g_cm3"),
        ("rotor", "/bodies", json!([]), "bodies"),
        ("rotor", "/journal_radius_mm", json!(-10), "journal_radius_mm"),
        ("allowance", "/mass_kg", json!(0), "mass_kg"),
        ("allowance", "/speed_rpm", json!(3500), "speed_rpm"),
        ("allowance", "/marked_max_m_s", json!(29.9), "speed_rpm"),
        ("allowance", "/marked_max_rpm", json!(2859.9), "speed_rpm"),
        ("allowance", "/typed_g_mm", json!(-1), "typed_g_mm"),
        ("allowance", "/wheel_maker", json!({"k": 0, "wheel_mass_g": 1100}), "wheel_maker.k"),
        ("allowance", "/wheel_maker", json!({"k": 0.3, "wheel_mass_g": 2901}), "wheel_maker.wheel_mass_g"),
        ("allowance", "/weight_ring/radius_mm", json!(0), "weight_ring.radius_mm"),
        ("allowance", "/weight_ring/weight_mass_g", json!(-16), "weight_ring.weight_mass_g"),
        ("allowance", "/measured/residual_g_mm", json!(-4), "measured.residual_g_mm"),
        ("allowance", "/measured/random_parts_g_mm/1", json!(-1), "measured.random_parts_g_mm[1]"),
        ("look-swing", "/amplitude_deg", json!(180), "amplitude_deg"),
        ("look-swing", "/amplitude_end_deg", json!(61), "amplitude_end_deg"),
        ("look-swing", "/swings", json!(0.75), "swings"),
        ("look-swing", "/time_s", json!(0), "time_s"),
        ("look-swing", "/time_s", json!(null), "time_s"),
        ("look-swing", "/unbalance_g_mm", json!(100), "unbalance_g_mm"),
        ("look-swing", "/unbalance_sd_g_mm", json!(1), "unbalance_sd_g_mm"),
        ("look-swing", "/inertia_kg_m2", json!(-0.008), "inertia_kg_m2"),
        ("look-swing", "/drift_g_mm", json!(1.5), "released"),
    ];
    for (name, pointer, value, field) in rows {
        let f = fault_of(name, pointer, value.clone());
        assert_eq!(f.field, *field, "{name} {pointer}: {f}");
    }
}

#[test]
fn a_wheel_marked_slower_than_the_machine_never_gets_an_allowance() {
    // 200 mm at 2860 r/min: π·0.2·2860/60 = 29.950 m/s.
    for (mark, runs) in [(29.94, false), (29.96, true)] {
        let calculation = find("allowance").unwrap();
        let mut input = (calculation.example)();
        input["marked_max_m_s"] = json!(mark);
        match calculation.run(input) {
            Ok(out) => assert!(runs && (out["rim_speed_m_s"].as_f64().unwrap() - 29.9498).abs() < 1e-3),
            Err(f) => assert!(!runs && f.why.contains("could burst") && f.allowed.contains("2859.1 r/min"), "{f}"),
        }
    }
}
