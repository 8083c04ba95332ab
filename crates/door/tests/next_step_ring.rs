//! `next-step` on a ring of tapped holes, and with weights that may not be moved.

use serde_json::{Value, json};
use stillwheel_door::look::WeightAt;
use stillwheel_door::next_step::{Action, NextStepIn, NextStepOut, next_step};

const RADIUS_MM: f64 = 48.0;

/// A swing log with the heavy side at 143°: U/J = 0.38 1/s² with J = I/g; 0.0082 kg·m² is 836 g·mm·s², so U = 318 g·mm.
fn input(screws_g: &[f64], stock: &Value) -> Value {
    let weights: Vec<Value> =
        screws_g.iter().enumerate().map(|(i, g)| json!({"moment_g_mm": g * RADIUS_MM, "at_deg": 15.0 * i as f64})).collect();
    let holes: Vec<Value> = (0..screws_g.len()).map(|i| json!({"radius_mm": RADIUS_MM, "at_deg": 15.0 * i as f64})).collect();
    json!({
        "known": {"inertia_kg_m2": 0.0082, "inertia_rel_sd": 0.01, "unbalance_prior_sd_g_mm": 400.0, "drift_sd_g_mm": 0.5},
        "looks": [{"weights": weights, "reading": {"kind": "log", "u_over_j_per_s2": 0.38, "u_over_j_rel_sd": 0.002,
            "heavy_deg": 143.0, "heavy_sd_deg": 0.1, "drift_over_u": 0.0, "drift_over_u_sd": 0.001}}],
        "weights_now": weights,
        "tapped_holes": {"holes": holes, "stock": stock},
        "allowance_g_mm": 9.7,
        "floor_g_mm": 1.0,
    })
}

fn stock() -> Value {
    json!([{"mass_g": 1.1, "count": 12}, {"mass_g": 2.3, "count": 12}, {"mass_g": 4.0, "count": 6}])
}

fn run(input: &Value) -> NextStepOut {
    next_step(&serde_json::from_value::<NextStepIn>(input.clone()).unwrap()).unwrap()
}

fn sum(weights: &[WeightAt]) -> [f64; 2] {
    weights.iter().fold([0.0, 0.0], |v, w| {
        let a = w.at_deg.to_radians();
        [v[0] + w.moment_g_mm * a.cos(), v[1] + w.moment_g_mm * a.sin()]
    })
}

#[test]
fn screws_are_proposed_that_answer_the_unbalance_out_of_the_stock() {
    let out = run(&input(&[0.0; 24], &stock()));
    assert_eq!(out.action, Action::MoveThenLook);
    assert!(out.moves.is_empty() && !out.screw_changes.is_empty() && out.say.contains("screw"), "{}", out.say);
    // By hand: U = 0.38·0.0082/9.80665·1e6 g·mm at 143°, and the screws of the proposal.
    let u = 0.38 * 0.0082 / 9.80665 * 1e6;
    let (s, c) = 143.0_f64.to_radians().sin_cos();
    let w = sum(&out.weights_then);
    let left = (u * c + w[0]).hypot(u * s + w[1]);
    assert!(left < 9.7, "{left} g·mm is left");
    for (mass, count) in [(1.1, 12), (2.3, 12), (4.0, 6)] {
        let used = out.screw_changes.iter().filter(|c| c.in_g.is_some_and(|g| (g - mass).abs() < 1e-9)).count();
        assert!(used <= count);
    }
    for c in &out.screw_changes {
        let then = out.weights_then[c.hole];
        assert!((c.at_deg - 15.0 * c.hole as f64).abs() < 1e-9);
        assert!(c.out_g.is_none() && (c.in_g.unwrap() * RADIUS_MM - then.moment_g_mm).abs() < 1e-9);
    }
}

#[test]
fn a_fixed_hole_is_left_alone() {
    // The heavy side at 143° is answered around 323°: holes 22 and 23 (315° and 330°). Both are damaged.
    let free = run(&input(&[0.0; 24], &stock()));
    let mut fixed = vec![false; 24];
    for c in &free.screw_changes {
        fixed[c.hole] = true;
    }
    let mut with_fixed = input(&[0.0; 24], &stock());
    with_fixed["fixed"] = json!(fixed);
    let out = run(&with_fixed);
    assert_eq!(out.action, Action::MoveThenLook);
    assert!(out.screw_changes.iter().all(|c| !fixed[c.hole]), "{:?}", out.screw_changes);
}

#[test]
fn a_fixed_groove_weight_is_not_moved() {
    let entry = stillwheel_door::find("next-step").unwrap();
    let mut input = (entry.example)();
    for k in 0..3 {
        let mut fixed = [false; 3];
        fixed[k] = true;
        input["fixed"] = json!(fixed);
        let out: NextStepOut = serde_json::from_value(entry.run(input.clone()).unwrap()).unwrap();
        assert!(out.moves.iter().all(|m| m.weight != k), "{k}: {:?}", out.moves);
        assert!(!out.moves.is_empty());
    }
}

#[test]
fn what_the_screws_lack_is_said() {
    // 318 g·mm: six screws of 0.5 g at 48 mm reach 6·24·cos(…) < 144 g·mm: too light. 4 g screws step by 192 g·mm: too coarse.
    let light = run(&input(&[0.0; 24], &json!([{"mass_g": 0.5, "count": 6}])));
    assert_eq!(light.action, Action::WeightsTooLight);
    assert!(light.say.contains("times as heavy"), "{}", light.say);
    let coarse = run(&input(&[0.0; 4], &json!([{"mass_g": 9.0, "count": 4}])));
    assert_eq!(coarse.action, Action::WeightsTooLight);
    assert!(coarse.say.contains("lighter than the lightest"), "{}", coarse.say);
}

#[test]
fn impossible_rings_are_refused_by_name() {
    let mut rows: Vec<(&str, Value, &str, &str)> = Vec::new();
    let good = || input(&[0.0; 24], &stock());
    let put = |pointer: &str, v: Value| {
        let mut i = good();
        match i.pointer_mut(pointer) {
            Some(place) => *place = v,
            None => i[pointer.trim_start_matches('/')] = v,
        }
        i
    };
    rows.push((
        "a screw that is not in the stock",
        put("/weights_now/3/moment_g_mm", json!(100.0)),
        "weights_now[3].moment_g_mm",
        "not one of the stock",
    ));
    rows.push((
        "two holes at one place",
        put("/tapped_holes/holes/5/at_deg", json!(60.0)),
        "tapped_holes.holes[5].at_deg",
        "two screws can't be in one hole",
    ));
    rows.push((
        "two kinds of one mass",
        put("/tapped_holes/stock/1/mass_g", json!(1.1)),
        "tapped_holes.stock[1].mass_g",
        "can't be told apart",
    ));
    rows.push(("fixed of another length", put("/fixed", json!([true])), "fixed", "whether it may be moved"));
    rows.push(("neither ring", put("/tapped_holes", Value::Null), "groove", "how may the weights"));
    rows.push((
        "a hole without a radius",
        put("/tapped_holes/holes/0/radius_mm", json!(0.0)),
        "tapped_holes.holes[0].radius_mm",
        "mass centre",
    ));
    rows.push(("a hole at no place", put("/tapped_holes/holes/7/at_deg", json!(1e9)), "tapped_holes.holes[7].at_deg", "where the hole is"));
    for (what, input, field, why) in rows {
        let parsed: NextStepIn = serde_json::from_value(input).unwrap();
        let fault = next_step(&parsed).expect_err(what);
        assert_eq!(fault.field, field, "{what}: {fault}");
        assert!(fault.why.contains(why), "{what}: {fault}");
    }
    // Thirteen screws of a kind of which the stock has twelve.
    let fault = next_step(&serde_json::from_value::<NextStepIn>(input(&[[1.1; 13].as_slice(), &[0.0; 11]].concat(), &stock())).unwrap())
        .unwrap_err();
    assert_eq!(fault.field, "tapped_holes.stock[0].count");
}
