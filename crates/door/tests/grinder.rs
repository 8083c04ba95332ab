//! Machine, head and mounting at the door.

#[path = "../../../reference/check.rs"]
mod check;

use proptest::prelude::*;
use rstest::rstest;
use serde_json::{Value, json};
use stillwheel_door::{Fault, find};

fn run(name: &str, input: Value) -> Result<Value, Fault> {
    find(name).expect("listed").run(input)
}

fn example(name: &str) -> Value {
    (find(name).expect("listed").example)()
}

fn number(v: &Value, pointer: &str) -> f64 {
    v.pointer(pointer).and_then(Value::as_f64).unwrap_or_else(|| panic!("no number at {pointer} of {v}"))
}

#[test]
fn marks_of_the_spindle_and_the_belt_stand_where_the_published_relations_say() {
    let mut input = example("machine");
    // FRQ-02: 15 m/min at 2850 r/min gives a wave every 5.26 mm.
    input["sheet"]["spindle"]["speed_rpm"] = json!(2850.0);
    input["sheet"]["table"]["speeds_m_min"] = json!([15.0]);
    let out = run("machine", input).expect("a machine");
    let row = |name: &str| out["comes_round"].as_array().expect("a list").iter().find(|r| r["name"] == name).expect(name).clone();
    check::row(
        "FRQ-02",
        "spacing of once-per-turn marks at 15 m/min and 2850 r/min, mm (at the door)",
        check::Kind::ClosedFormOrTable,
        "frequency = work speed / distance between marks, Modern Machine Shop, December 2018",
        15_000.0 / 2850.0,
        number(&row("spindle and wheel"), "/spacings_mm/0"),
        check::Tolerance::Relative(1e-12),
    );
    check::row(
        "BELT-01",
        "turns of a belt of 1320 mm on a pulley of 125 mm at 1440 r/min, Hz (at the door)",
        check::Kind::ClosedFormOrTable,
        "f = π·d·n/(60·L)",
        std::f64::consts::PI * 125.0 * 1440.0 / 60.0 / 1320.0,
        number(&row("drive belt"), "/hz"),
        check::Tolerance::Relative(1e-12),
    );
}

#[test]
fn the_heads_example_gives_the_head_that_it_was_made_of() {
    // Pulls on 28 N/µm, read to 0.1 µm; a ring-down with decay 31/s at 741 rad/s.
    let out = run("head-response", example("head-response")).expect("a head");
    assert!((number(&out, "/head/stiffness_n_um") - 28.0).abs() < 2.0 * number(&out, "/head/stiffness_sd_n_um"), "{out}");
    let natural = 741.0_f64.hypot(31.0);
    assert!((number(&out, "/head/natural_hz") - natural / std::f64::consts::TAU).abs() < 1.0, "{out}");
    assert!((number(&out, "/head/damping") - 31.0 / natural).abs() < 0.004, "{out}");
    let mass = number(&out, "/head/stiffness_n_um") * 1e6 / (std::f64::consts::TAU * number(&out, "/head/natural_hz")).powi(2);
    assert!((number(&out, "/moving_mass_kg") / mass - 1.0).abs() < 1e-9);
    assert_eq!(run("head-response", json!({})).expect_err("nothing").field, "pulls");
}

fn all_yes() -> Value {
    let mut input = example("mounting");
    input["answers"]["run_up"] = json!("yes");
    input
}

#[test]
fn a_wheel_is_mounted_only_when_every_point_is_passed() {
    let good = run("mounting", all_yes()).expect("answered");
    assert_eq!(good["may_be_mounted"], json!(true), "{good}");
    for name in ["sound", "ring", "fit", "flanges", "blotters", "weights", "guard", "run_up"] {
        let mut open = all_yes();
        open["answers"].as_object_mut().expect("answers").remove(name);
        assert_eq!(run("mounting", open).expect(name)["may_be_mounted"], json!(false), "{name} open");
        let mut no = all_yes();
        no["answers"][name] = json!("no");
        let out = run("mounting", no).expect(name);
        assert_eq!(out["may_be_mounted"], json!(false), "{name} no");
        let point = out["points"].as_array().expect("points").iter().find(|p| p["name"] == name).expect(name).clone();
        assert!(point["state"] == "failed" && point["why"].is_string(), "{point}");
        assert!(point["rule"].as_str().expect("a rule").len() > 20);
    }
}

#[rstest]
#[case("marked_max_m_s", json!(29.9), "speed")]
#[case("marked_max_rpm", json!(2859.0), "speed")]
#[case("flange_mm", json!(66.0), "flanges")]
#[case("largest_wheel_mm", json!(199.0), "guard")]
fn numbers_speak_against_any_answer(#[case] field: &str, #[case] value: Value, #[case] point: &str) {
    let mut input = all_yes();
    input[field] = value;
    let out = run("mounting", input).expect("answered");
    let failed: Vec<&Value> = out["points"].as_array().expect("points").iter().filter(|p| p["state"] == "failed").collect();
    assert_eq!(failed.len(), 1, "{out}");
    assert_eq!(failed[0]["name"], point);
    assert_eq!(out["may_be_mounted"], json!(false));
}

#[test]
fn a_wheel_without_a_mark_is_not_mounted_and_only_a_bond_that_does_not_ring_is_spared_the_ring_test() {
    let mut unmarked = all_yes();
    unmarked.as_object_mut().expect("fields").remove("marked_max_m_s");
    assert_eq!(run("mounting", unmarked).expect("answered")["may_be_mounted"], json!(false));
    for (bond, may) in [("vitrified", false), ("resin", true), ("rubber-or-shellac", true), ("metal", true)] {
        let mut input = all_yes();
        (input["bond"], input["answers"]["ring"]) = (json!(bond), json!("not-needed"));
        assert_eq!(run("mounting", input).expect(bond)["may_be_mounted"], json!(may), "{bond}");
    }
}

#[test]
fn a_wheel_over_its_marked_speed_gets_no_allowance() {
    let mut input = example("allowance");
    input["marked_max_m_s"] = json!(29.9);
    assert_eq!(run("allowance", input).expect_err("too fast").field, "speed_rpm");
}

proptest! {
    // Safety law: whatever is answered, a rim faster than its mark is never let through.
    #[test]
    fn no_answers_mount_a_wheel_above_its_mark(d in 50.0..600.0_f64, rpm in 500.0..6000.0_f64, mark in 10.0..120.0_f64) {
        let mut input = all_yes();
        (input["wheel_diameter_mm"], input["speed_rpm"], input["marked_max_m_s"]) = (json!(d), json!(rpm), json!(mark));
        (input["flange_mm"], input["largest_wheel_mm"]) = (json!(d), json!(2000.0));
        let out = run("mounting", input).unwrap();
        let rim = std::f64::consts::PI * d * 1e-3 * rpm / 60.0;
        if (rim / mark - 1.0).abs() > 1e-9 {
            prop_assert_eq!(out["may_be_mounted"] == json!(true), rim < mark);
        }
    }
}
