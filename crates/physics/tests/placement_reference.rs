//! Placement against the reference cases: `reference/balance-sessions.json` (independent program, numpy 2.4.6 and
//! scipy 1.17.1; closed forms) and `reference/balance-cases.json` (closed forms; vector sums from Rao, Mechanical
//! Vibrations, SI 6e, ch. 9).

#[path = "../../../reference/check.rs"]
mod check;

use check::{Kind, Tolerance};
use serde_json::Value;
use stillwheel_physics::bench::look::Weight;
use stillwheel_physics::bench::placement::{
    Drill, EqualPlacement, GroovePlacement, GrooveTask, GrooveWeight, Hole, HoleTask, Order, Proof, Screw, drill_axial, drill_radial,
    pair_for_rest, place_in_groove, place_in_holes, residual, setting_error, three_equal, two_equal,
};
use stillwheel_physics::quantity::{Angle, Length, Mass, RotorAngle, Unbalance, UnbalanceVector};

fn file(name: &str) -> Value {
    let path = format!("{}/../../reference/{name}", env!("CARGO_MANIFEST_DIR"));
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

/// A row whose expected value the independent program printed.
fn row(id: &str, what: &str, expected: f64, got: f64, tolerance: Tolerance) {
    check::row(
        id,
        what,
        Kind::ReferenceProgram,
        "independent program, numpy 2.4.6 and scipy 1.17.1 (balance-sessions.json)",
        expected,
        got,
        tolerance,
    );
}

/// A row of a case of balance-cases.json.
fn case_row(id: &str, what: &str, expected: f64, got: f64, tolerance: Tolerance) {
    check::row(id, what, Kind::ClosedFormOrTable, case(id)["source"].as_str().unwrap(), expected, got, tolerance);
}

fn sessions() -> Value {
    file("balance-sessions.json")
}

fn case(id: &str) -> Value {
    let all = file("balance-cases.json");
    let list = all.as_array().or_else(|| all["cases"].as_array()).expect("a list of cases");
    list.iter().find(|c| c["id"] == id).unwrap_or_else(|| panic!("{id}")).clone()
}

fn numbers(v: &Value) -> Vec<f64> {
    v.as_array().map(|a| a.iter().map(|x| x.as_f64().unwrap()).collect()).unwrap_or_default()
}

fn vector(v: &Value) -> UnbalanceVector {
    let n = numbers(v);
    UnbalanceVector::from_g_mm(n[0], n[1])
}

fn g_mm(v: f64) -> Unbalance {
    Unbalance::from_g_mm(v)
}

fn degrees_apart(a: f64, b: f64) -> f64 {
    let d = (a - b).rem_euclid(360.0);
    d.min(360.0 - d)
}

/// Each expected angle is taken by exactly one weight (equal weights may be told in any order).
fn same_places(got: &EqualPlacement, expected: &[f64], tol_deg: f64) -> bool {
    let mut left: Vec<f64> = got.at.iter().map(|a| a.deg()).collect();
    for e in expected {
        let Some(k) = left.iter().position(|g| degrees_apart(*g, *e) <= tol_deg) else { return false };
        left.remove(k);
    }
    left.is_empty()
}

#[test]
fn closed_forms_of_two_and_three_equal_weights_match_the_reference() {
    let mut seen = 0;
    for p in sessions()["placements"].as_array().unwrap() {
        let u = p.get("u_gmm").map(vector).unwrap_or_default();
        let q = || g_mm(p["q_gmm"].as_f64().unwrap());
        let got = match p["kind"].as_str().unwrap() {
            "two_equal" => two_equal(u.size(), u.at(), q()).unwrap(),
            "three_equal" => three_equal(u.size(), u.at(), q()).unwrap(),
            "three_equal_first_fixed" => {
                let first = Weight { moment: q(), at: RotorAngle::from_deg(p["fixed_deg"].as_f64().unwrap()) };
                let pair = pair_for_rest(u, &[first], q()).unwrap();
                EqualPlacement { at: [&[first.at][..], &pair.at].concat(), ..pair }
            }
            _ => continue,
        };
        seen += 1;
        let (e, tol) = (&p["expected"], p["tol_deg"].as_f64().unwrap());
        assert!(same_places(&got, &numbers(&e["angles_deg"]), tol), "{p}: {got:?}");
        let id = format!("PLC closed form {seen}");
        if let Some(half) = e["half_spread_deg"].as_f64() {
            row(&id, "half the spread, degrees", half, got.half_spread.deg(), Tolerance::Absolute(tol));
        }
        if let Some(left) = e["residual_gmm"].as_f64() {
            row(&id, "residual, g·mm", left, got.residual.size().g_mm(), Tolerance::Absolute(1e-3));
        }
        // What the form says is left is what its places leave.
        let weights: Vec<Weight> = got.at.iter().map(|&at| Weight { moment: q(), at }).collect();
        assert!((residual(u, &weights) - got.residual).size().g_mm() < 1e-6, "{p}");
    }
    assert_eq!(seen, 10);
}

#[test]
fn wts_cases_two_and_three_weights_about_the_light_side() {
    for id in ["WTS-20", "WTS-21", "WTS-22", "WTS-30", "WTS-31", "WTS-32"] {
        let c = case(id);
        let (i, e) = (&c["inputs"], &c["expected"]);
        let num = |k: &str| i[k].as_f64().unwrap();
        let q = g_mm(num("weight_g") * num("radius_mm"));
        let (size, heavy) = (g_mm(num("U_g_mm")), RotorAngle::from_deg(num("light_deg") - 180.0));
        let three = e.get("w3_deg").is_some();
        let got = if three { three_equal(size, heavy, q) } else { two_equal(size, heavy, q) }.unwrap();
        let expected: Vec<f64> = ["w1_deg", "w2_deg", "w3_deg"].iter().filter_map(|k| e[*k].as_f64()).collect();
        assert!(same_places(&got, &expected, 0.001), "{id}: {got:?}");
        let half = e["half_angle_deg"].as_f64().or(e["spread_deg"].as_f64()).unwrap();
        case_row(id, "half the spread, degrees", half, got.half_spread.deg(), Tolerance::Absolute(0.001));
        let sum: UnbalanceVector = got.at.iter().map(|&at| Weight { moment: q, at }.vector()).sum();
        case_row(id, "resultant_g_mm", e["resultant_g_mm"].as_f64().unwrap(), sum.size().g_mm(), Tolerance::Absolute(0.001));
    }
}

#[test]
fn wts_40_one_degree_of_setting_error_leaves_what_geometry_says() {
    let c = case("WTS-40");
    let q = g_mm(20.0 * 45.0);
    let (size, heavy) = (g_mm(900.0), RotorAngle::from_deg(20.0));
    let pair = two_equal(size, heavy, q).unwrap();
    let left = |a: f64, b: f64| {
        let turned = [(pair.at[0], a), (pair.at[1], b)].map(|(at, by)| Weight { moment: q, at: at.turned(Angle::from_deg(by)) });
        residual(UnbalanceVector::polar(size, heavy), &turned).size().g_mm()
    };
    let e = &c["expected"];
    for (name, got) in [("same_sense_g_mm", left(1.0, 1.0)), ("opposite_sense_g_mm", left(-1.0, 1.0))] {
        case_row("WTS-40", name, e[name].as_f64().unwrap(), got, Tolerance::Relative(1e-4));
    }
}

#[test]
fn wts_50_a_pair_beside_a_weight_that_stays() {
    let c = case("WTS-50");
    let (i, e) = (&c["inputs"], &c["expected"]);
    let num = |v: &Value, k: &str| v[k].as_f64().unwrap();
    let u = -UnbalanceVector::polar(g_mm(num(i, "needed_g_mm")), RotorAngle::from_deg(num(i, "needed_deg")));
    let stays = Weight { moment: g_mm(num(i, "fixed_g_mm")), at: RotorAngle::from_deg(num(i, "fixed_deg")) };
    let each = g_mm(num(i, "each_movable_g_mm"));
    let got = pair_for_rest(u, &[stays], each).unwrap();
    assert!(same_places(&got, &[num(e, "w1_deg"), num(e, "w2_deg")], 0.001), "{got:?}");
    case_row("WTS-50", "half_angle_deg", num(e, "half_angle_deg"), got.half_spread.deg(), Tolerance::Absolute(0.001));
    let pair: UnbalanceVector = got.at.iter().map(|&at| Weight { moment: each, at }.vector()).sum();
    case_row("WTS-50", "pair_g_mm", num(e, "pair_g_mm"), pair.size().g_mm(), Tolerance::Relative(1e-4));
    assert!(degrees_apart(pair.at().deg(), num(e, "pair_deg")) < 0.001);
}

#[test]
fn vec_01_and_02_masses_at_one_radius_and_a_fifth_hole() {
    // VEC-01: the fourth mass stands on the light side of the other three; moments with a radius of 1 mm.
    let c = case("VEC-01");
    let weights: Vec<Weight> = numbers(&c["inputs"]["mass_g"])
        .iter()
        .zip(numbers(&c["inputs"]["angle_deg"]))
        .map(|(m, a)| Weight { moment: g_mm(*m), at: RotorAngle::from_deg(a) })
        .collect();
    let light = -residual(UnbalanceVector::default(), &weights);
    case_row("VEC-01", "fourth_g", c["expected"]["fourth_g"].as_f64().unwrap(), light.size().g_mm(), Tolerance::Relative(1e-4));
    assert!(degrees_apart(light.at().deg(), c["expected"]["fourth_deg"].as_f64().unwrap()) < 0.02);

    // VEC-02: four holes make an unbalance; the fifth is drilled on its heavy side.
    let c = case("VEC-02");
    let (i, e) = (&c["inputs"], &c["expected"]);
    let removed: UnbalanceVector = numbers(&i["removed_g"])
        .iter()
        .zip(numbers(&i["angle_deg"]))
        .map(|(m, a)| -UnbalanceVector::polar(g_mm(m * i["radius_mm"].as_f64().unwrap()), RotorAngle::from_deg(a)))
        .sum();
    let hole = drill_axial(
        removed,
        &Drill {
            diameter: Length::from_mm(20.0),
            radius: Length::from_mm(i["fifth_radius_mm"].as_f64().unwrap()),
            density_g_cm3: 7.85,
            deepest: None,
        },
        Angle::from_deg(118.0),
    )
    .unwrap();
    case_row("VEC-02", "fifth_g", e["fifth_g"].as_f64().unwrap(), hole.mass.g(), Tolerance::Relative(1e-4));
    assert!(degrees_apart(hole.at.deg(), e["fifth_deg"].as_f64().unwrap()) < 0.02);
}

#[test]
fn drilling_depths_match_the_reference() {
    let mut seen = 0;
    for p in sessions()["placements"].as_array().unwrap() {
        let num = |k: &str| p[k].as_f64().unwrap();
        let drill = |r: &str| Drill {
            diameter: Length::from_mm(num("drill_dia_mm")),
            radius: Length::from_mm(num(r)),
            density_g_cm3: num("density_g_cm3"),
            deepest: None,
        };
        let (got, key) = match p["kind"].as_str().unwrap() {
            "drill_axial" => (
                drill_axial(UnbalanceVector::from_g_mm(num("U_gmm"), 0.0), &drill("radius_mm"), Angle::from_deg(num("point_deg"))),
                "full_dia_depth_mm",
            ),
            "drill_radial_flat" => (drill_radial(UnbalanceVector::from_g_mm(num("U_gmm"), 0.0), &drill("rim_radius_mm")), "depth_mm"),
            _ => continue,
        };
        seen += 1;
        let expected = p["expected"][key].as_f64().unwrap();
        // Printed to six decimals: the tolerance of 1e-5 stands in the file.
        let id = format!("PLC drilling {seen}");
        row(&id, key, expected, got.unwrap().depth.mm(), Tolerance::Relative(num("tol_rel")));
    }
    assert_eq!(seen, 4);
}

#[test]
fn setting_error_of_100_g_mm_and_a_quarter_degree_is_0_44_g_mm() {
    // Source: balance-method, section 4.
    let sd = setting_error(&[g_mm(100.0)], Angle::from_deg(0.25)).g_mm();
    assert!((sd - 0.44).abs() < 0.005, "{sd}");
}

struct GrooveCase {
    task: GrooveTask,
    expected: Value,
    name: String,
}

fn groove_cases() -> Vec<GrooveCase> {
    let all = sessions();
    let arcs = |v: &Value| -> Vec<[RotorAngle; 2]> {
        v.as_array().unwrap().iter().map(numbers).map(|a| [RotorAngle::from_deg(a[0]), RotorAngle::from_deg(a[1])]).collect()
    };
    let task = |u: &Value, weights: Vec<GrooveWeight>, ring: &Value, p: &Value| GrooveTask {
        unbalance: vector(u),
        weights,
        graduation: Angle::from_deg(ring["graduation_deg"].as_f64().unwrap()),
        forbidden: arcs(&ring["forbidden_deg"]),
        no_passing: p["no_passing"].as_bool().unwrap(),
        present: Some(numbers(&p["present_deg"]).into_iter().map(RotorAngle::from_deg).collect()),
        fixed: Vec::new(),
        tie: g_mm(p["tie_gmm"].as_f64().unwrap()),
        good_enough: None,
        order: Order::LeastTravel,
    };
    let weight = |q: f64, arc: f64| GrooveWeight { moment: g_mm(q), arc: Angle::from_deg(arc) };
    let mut cases = Vec::new();
    for (k, p) in all["placements"].as_array().unwrap().iter().enumerate().filter(|(_, p)| p["kind"] == "exact_grid") {
        let weights = numbers(&p["q_gmm"]).into_iter().zip(numbers(&p["arc_deg"])).map(|(q, a)| weight(q, a)).collect();
        cases.push(GrooveCase {
            task: task(&p["u_gmm"], weights, p, p),
            expected: p["expected"].clone(),
            name: format!("placements[{k}]"),
        });
    }
    for s in all["sittings"].as_array().unwrap() {
        let (p, ring) = (&s["placement"], &s["weights_ring"]);
        let r = ring["radius_mm"].as_f64().unwrap();
        let arc = ring["arc_deg"].as_f64().unwrap();
        let weights = numbers(&ring["masses_g"]).into_iter().map(|m| weight(m * r, arc)).collect();
        cases.push(GrooveCase {
            task: task(&p["target_u_gmm"], weights, ring, p),
            expected: p["expected"].clone(),
            name: s["id"].as_str().unwrap().to_owned(),
        });
    }
    cases
}

fn places(got: &GroovePlacement) -> Vec<f64> {
    got.at.iter().map(|a| a.deg().round()).collect()
}

#[test]
fn exact_placements_match_the_reference_to_its_printed_residual_travel_and_moves() {
    let cases = groove_cases();
    assert_eq!(cases.len(), 22);
    for c in cases {
        let got = place_in_groove(&c.task).unwrap();
        let e = |k: &str| c.expected[k].as_f64().unwrap();
        assert_eq!(got.proof, Proof::Best, "{}", c.name);
        let id = format!("PLC {}", c.name);
        let printed = Tolerance::Absolute(1e-6);
        row(&id, "least residual, g·mm", e("least_residual"), got.least_residual.unwrap().g_mm(), printed);
        row(&id, "residual of the least travel among equals, g·mm", e("residual"), got.residual.size().g_mm(), printed);
        row(&id, "its travel, degrees", e("travel_deg"), got.travel.deg(), printed);
        row(&id, "weights moved", e("moved"), got.moved as f64, Tolerance::Absolute(0.0));
        // Equal residual and travel are as good (equal weights, mirrored ways); otherwise the places are these.
        if c.expected["candidates_within_tie"] == 1 {
            assert_eq!(places(&got), numbers(&c.expected["angles"]), "{}", c.name);
        }
    }
}

#[test]
fn tapped_holes_match_the_reference() {
    let mut seen = 0;
    for p in sessions()["placements"].as_array().unwrap().iter().filter(|p| p["kind"] == "tapped_holes") {
        seen += 1;
        let task = HoleTask {
            unbalance: vector(&p["u_gmm"]),
            holes: p["holes"]
                .as_array()
                .unwrap()
                .iter()
                .map(|h| Hole {
                    radius: Length::from_mm(h["radius"].as_f64().unwrap()),
                    at: RotorAngle::from_deg(h["angle"].as_f64().unwrap()),
                })
                .collect(),
            stock: p["stock"]
                .as_array()
                .unwrap()
                .iter()
                .map(|s| Screw { mass: Mass::from_g(s["mass_g"].as_f64().unwrap()), count: s["count"].as_u64().unwrap() as usize })
                .collect(),
            present: None,
            tie: g_mm(p["tie_gmm"].as_f64().unwrap()),
        };
        let got = place_in_holes(&task).unwrap();
        let e = &p["expected"];
        assert_eq!(got.proof, Proof::Best);
        let id = format!("PLC tapped holes {seen}");
        row(&id, "residual, g·mm", e["residual_gmm"].as_f64().unwrap(), got.residual.size().g_mm(), Tolerance::Absolute(1e-6));
        row(&id, "screws", e["screws"].as_f64().unwrap(), got.screws as f64, Tolerance::Absolute(0.0));
        row(&id, "their mass, g", e["mass_g"].as_f64().unwrap(), got.mass.g(), Tolerance::Absolute(1e-9));
        let indices: Vec<f64> = got.kind_in_hole.iter().map(|k| k.map_or(-1.0, |k| k as f64)).collect();
        assert_eq!(indices, numbers(&e["stock_index_per_hole"]), "{p}");
    }
    assert_eq!(seen, 3);
}
