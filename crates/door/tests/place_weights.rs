//! `place-weights` through the door: JSON in, JSON or a named fault out.

use serde_json::{Value, json};
use stillwheel_door::place_weights::{Groove, GrooveIn, GrooveWeight, PlaceWeightsIn, UnbalanceAt, place_weights};
use stillwheel_door::{Fault, FaultValue, find};

fn run(input: Value) -> Result<Value, Fault> {
    find("place-weights").unwrap().run(input)
}

/// The input with one field, by its path, replaced.
fn with(mut input: Value, pointer: &str, value: Value) -> Value {
    let (parent, last) = pointer.rsplit_once('/').unwrap();
    let place = input.pointer_mut(parent).unwrap();
    match last.parse::<usize>() {
        Ok(k) if place.is_array() => place[k] = value,
        _ => place[last] = value,
    }
    input
}

fn groove() -> Value {
    json!({
        "kind": "groove",
        "unbalance": {"size_g_mm": 120.0, "at_deg": 250.0},
        "groove": {"weights": [{"moment_g_mm": 100.0, "arc_deg": 20.0}, {"moment_g_mm": 90.0, "arc_deg": 20.0}, {"moment_g_mm": 80.0, "arc_deg": 20.0}]},
        "present_deg": [0.0, 120.0, 240.0],
    })
}

fn holes() -> Value {
    json!({
        "kind": "tapped-holes",
        "unbalance": {"size_g_mm": 60.0, "at_deg": 250.0},
        "holes": [{"radius_mm": 45.0, "at_deg": 0.0}, {"radius_mm": 45.0, "at_deg": 120.0}, {"radius_mm": 45.0, "at_deg": 240.0}],
        "stock": [{"mass_g": 0.5, "count": 2}, {"mass_g": 1.0, "count": 1}],
    })
}

fn drilling() -> Value {
    json!({"kind": "drill-axial", "unbalance": {"size_g_mm": 119.3, "at_deg": 30.0}, "drill_diameter_mm": 8.0, "radius_mm": 45.0})
}

fn two() -> Value {
    json!({"kind": "two-equal", "unbalance": {"size_g_mm": 900.0, "at_deg": 20.0}, "moment_g_mm": 900.0})
}

#[test]
fn each_bad_field_is_named_by_its_fault() {
    let rows: Vec<(Value, &str)> = vec![
        (with(groove(), "/groove/weights/1/moment_g_mm", json!(0.0)), "groove.weights[1].moment_g_mm"),
        (with(groove(), "/groove/weights/1/moment_g_mm", json!(-5.0)), "groove.weights[1].moment_g_mm"),
        (with(groove(), "/groove/weights/2/arc_deg", json!(-1.0)), "groove.weights[2].arc_deg"),
        (with(groove(), "/groove/weights/2/arc_deg", json!(330.0)), "groove.weights[].arc_deg"),
        (with(groove(), "/groove/weights", json!([])), "groove.weights"),
        (with(groove(), "/groove/weights", json!(vec![json!({"moment_g_mm": 1.0}); 13])), "groove.weights"),
        (with(groove(), "/groove/graduation_deg", json!(7.0)), "groove.graduation_deg"),
        (with(groove(), "/groove/graduation_deg", json!(0.0)), "groove.graduation_deg"),
        (with(groove(), "/groove/forbidden_deg", json!([[0.0, 360.0]])), "groove.forbidden_deg[0]"),
        (with(groove(), "/groove/forbidden_deg", json!([[40.0, 40.0]])), "groove.forbidden_deg[0]"),
        (with(groove(), "/groove/forbidden_deg", json!([[0.0, 200.0], [190.0, 10.0]])), "groove.forbidden_deg"),
        (with(groove(), "/groove/forbidden_deg", json!([[0.0, 319.0]])), "groove.forbidden_deg"),
        (with(groove(), "/unbalance/size_g_mm", json!(-1.0)), "unbalance.size_g_mm"),
        (with(groove(), "/unbalance/at_deg", json!(1e9)), "unbalance.at_deg"),
        (with(groove(), "/present_deg", json!([0.0, 120.0])), "present_deg"),
        (with(with(groove(), "/present_deg", Value::Null), "/fixed", json!([true, false, false])), "present_deg"),
        (with(groove(), "/fixed", json!([true])), "fixed"),
        (with(groove(), "/tie_g_mm", json!(-0.1)), "tie_g_mm"),
        (with(groove(), "/good_enough_g_mm", json!(-0.1)), "good_enough_g_mm"),
        (with(groove(), "/setting_sd_deg", json!(11.0)), "setting_sd_deg"),
        (with(groove(), "/ring_radius_mm", json!(0.0)), "ring_radius_mm"),
        (with(groove(), "/unbalance/at_deg", json!("ten")), "unbalance.at_deg"),
        (with(groove(), "/no_such_field", json!(1)), "no_such_field"),
        (with(groove(), "/kind", json!("glue")), "kind"),
        (with(holes(), "/holes/1/radius_mm", json!(0.0)), "holes[1].radius_mm"),
        (with(holes(), "/stock/0/mass_g", json!(0.0)), "stock[0].mass_g"),
        (with(holes(), "/stock/0/count", json!(0)), "stock[0].count"),
        (with(holes(), "/present", json!([1, 1, null])), "stock[1].count"),
        (with(holes(), "/present", json!([5, null, null])), "present"),
        (with(holes(), "/present", json!([null])), "present"),
        (with(holes(), "/holes", json!([])), "holes"),
        (with(holes(), "/stock", json!([])), "stock"),
        (with(drilling(), "/unbalance/size_g_mm", json!(0.0)), "unbalance.size_g_mm"),
        (with(drilling(), "/drill_diameter_mm", json!(0.0)), "drill_diameter_mm"),
        (with(drilling(), "/radius_mm", json!(2.0)), "radius_mm"),
        (with(drilling(), "/density_g_cm3", json!(0.0)), "density_g_cm3"),
        (with(drilling(), "/point_deg", json!(10.0)), "point_deg"),
        (with(with(drilling(), "/kind", json!("drill-radial")), "/point_deg", json!(118.0)), "point_deg"),
        (with(two(), "/moment_g_mm", json!(0.0)), "moment_g_mm"),
        (with(two(), "/fixed", json!([{"moment_g_mm": -1.0, "at_deg": 0.0}])), "fixed[0].moment_g_mm"),
    ];
    for (input, field) in rows {
        let fault = run(input.clone()).expect_err(&input.to_string());
        assert_eq!(fault.field, field, "{input}: {fault}");
        assert!(!fault.allowed.is_empty() && !fault.why.is_empty());
    }
}

#[test]
fn nan_and_infinity_never_pass() {
    let task = |size: f64, moment: f64, present: f64, tie: f64| {
        PlaceWeightsIn::Groove(GrooveIn {
            unbalance: UnbalanceAt { size_g_mm: size, at_deg: 0.0 },
            groove: Groove {
                weights: vec![GrooveWeight { moment_g_mm: moment, arc_deg: 10.0 }],
                graduation_deg: 1.0,
                forbidden_deg: vec![],
                no_passing: true,
            },
            present_deg: Some(vec![present]),
            fixed: vec![],
            tie_g_mm: tie,
            good_enough_g_mm: None,
            fewest_moved_first: false,
            setting_sd_deg: 0.0,
            ring_radius_mm: None,
        })
    };
    assert!(place_weights(&task(50.0, 50.0, 0.0, 0.0)).is_ok());
    for (bad, word) in [(f64::NAN, "NaN"), (f64::INFINITY, "infinite")] {
        for input in [task(bad, 50.0, 0.0, 0.0), task(50.0, bad, 0.0, 0.0), task(50.0, 50.0, bad, 0.0), task(50.0, 50.0, 0.0, bad)] {
            assert_eq!(place_weights(&input).unwrap_err().value, FaultValue::Text(word.into()));
        }
    }
}

#[test]
fn graduations_that_do_not_close_name_those_next_to_them_that_do() {
    let fault = run(with(groove(), "/groove/graduation_deg", json!(7.0))).unwrap_err();
    // 360/52 and 360/51.
    assert!(fault.allowed.contains("6.923077") && fault.allowed.contains("7.058824"), "{fault}");
}

#[test]
fn an_unbalance_beyond_the_weights_is_answered_with_the_grams_that_would_do() {
    // Closed form: two zero-width weights of 200 g·mm against 500 g·mm leave 100; 250 each, 6.25 g at 40 mm, would do.
    let input = json!({
        "kind": "groove",
        "unbalance": {"size_g_mm": 500.0, "at_deg": 40.0},
        "groove": {"weights": [{"moment_g_mm": 200.0}, {"moment_g_mm": 200.0}]},
        "ring_radius_mm": 40.0,
    });
    let out = run(input).unwrap();
    assert!((out["residual"]["size_g_mm"].as_f64().unwrap() - 100.0).abs() < 1e-9, "{out}");
    assert_eq!(out["answer"]["kind"], "too-light");
    assert!((out["answer"]["times"].as_f64().unwrap() - 1.25).abs() < 1e-9);
    assert!(out["answer"]["what_would_do"].as_str().unwrap().contains("6.25, 6.25 g instead of 5.00, 5.00 g"), "{out}");
    assert_eq!(out["weights"][0]["at_deg"], 220.0);
}

#[test]
fn a_groove_answer_tells_ways_in_degrees_and_mm_and_the_setting_error() {
    let out = run(with(with(groove(), "/setting_sd_deg", json!(0.25)), "/ring_radius_mm", json!(60.0))).unwrap();
    let mut travel = 0.0;
    for w in out["weights"].as_array().unwrap() {
        let by = w["by_deg"].as_f64().unwrap();
        travel += by.abs();
        assert!((w["by_mm"].as_f64().unwrap() - by.to_radians() * 60.0).abs() < 1e-9);
        let set = if by == 0.0 { 0.0 } else { w["moment_g_mm"].as_f64().unwrap() * 0.25_f64.to_radians() };
        assert!((w["setting_sd_g_mm"].as_f64().unwrap() - set).abs() < 1e-9);
    }
    assert!((out["travel_deg"].as_f64().unwrap() - travel).abs() < 1e-9);
    assert_eq!(out["proof"]["kind"], "best");
}

#[test]
fn weights_that_overlap_now_are_a_start_and_noted() {
    let out = run(with(groove(), "/present_deg", json!([0.0, 5.0, 240.0]))).unwrap();
    assert_eq!(out["notes"].as_array().unwrap().len(), 1, "{out}");
}

#[test]
fn drilling_carries_its_caution_and_a_hole_too_deep_says_what_would_do() {
    let out = run(drilling()).unwrap();
    let caution = out["caution"].as_str().unwrap();
    assert!(caution.contains("never the wheel") && caution.contains("leave"));
    // Reference depth of this hole: 5.917602 mm; at most 3 mm is allowed.
    assert!((out["depth_mm"].as_f64().unwrap() - 5.917602).abs() < 1e-5);
    let fault = run(with(drilling(), "/deepest_mm", json!(3.5))).unwrap_err();
    assert!(fault.why.contains("two holes") && fault.why.contains("a drill of"), "{fault}");
    // The drill it names stays within the limit.
    let named: f64 = fault.why.split("a drill of ").nth(1).unwrap().split(' ').next().unwrap().parse().unwrap();
    let larger = with(with(drilling(), "/deepest_mm", json!(3.5)), "/drill_diameter_mm", json!(named + 0.01));
    assert!(run(larger).unwrap()["depth_mm"].as_f64().unwrap() <= 3.5);
    // Radial: no depth of a 2 mm hole removes 2000 g·mm from a rim of 45 mm.
    let radial = with(
        with(with(drilling(), "/kind", json!("drill-radial")), "/drill_diameter_mm", json!(2.0)),
        "/unbalance/size_g_mm",
        json!(2000.0),
    );
    let fault = run(radial).unwrap_err();
    assert_eq!(fault.field, "drill_diameter_mm");
    assert!(fault.why.contains("a drill of"), "{fault}");
    // A point that takes more than is wanted names the drill that fits.
    let fault = run(with(drilling(), "/unbalance/size_g_mm", json!(1.0))).unwrap_err();
    assert!(fault.why.contains("smaller drill"), "{fault}");
}

#[test]
fn three_equal_with_one_fixed_leaves_the_pair_to_the_rest() {
    let input = json!({"kind": "three-equal", "unbalance": {"size_g_mm": 100.0, "at_deg": 10.0}, "moment_g_mm": 70.0,
        "fixed": [{"moment_g_mm": 70.0, "at_deg": 35.0}]});
    let out = run(input).unwrap();
    let mut sum = [0.0_f64, 0.0];
    let fixed = [(70.0, 35.0), (100.0, 10.0)];
    let placed = out["weights"].as_array().unwrap().iter().map(|w| (w["moment_g_mm"].as_f64().unwrap(), w["at_deg"].as_f64().unwrap()));
    for (m, a) in placed.chain(fixed) {
        sum[0] += m * a.to_radians().cos();
        sum[1] += m * a.to_radians().sin();
    }
    let left = out["residual"]["size_g_mm"].as_f64().unwrap();
    assert!((sum[0].hypot(sum[1]) - left).abs() < 1e-9, "{out}");
}
