//! Reference cases on rotor, allowance and swing through the door, in its own shapes.

#[path = "../../../reference/check.rs"]
mod check;

use check::Case;
use serde_json::{Value, json};
use stillwheel_door::{Fault, find};

const DOOR: &str = "at the door";

fn run(name: &str, input: Value) -> Result<Value, Fault> {
    find(name).unwrap().run(input)
}

fn num(out: &Value, pointer: &str) -> f64 {
    out.pointer(pointer).and_then(Value::as_f64).unwrap_or_else(|| panic!("no number at {pointer} in {out}"))
}

#[test]
fn allowance_by_grade_with_its_equivalents() {
    for id in ["TOL-10", "TOL-11", "TOL-12", "TOL-13"] {
        let case = Case::of(id);
        let out = run(
            "allowance",
            json!({"mass_kg": case.input("mass_kg"), "speed_rpm": case.input("speed_rpm"), "grade_mm_s": case.input("G_mm_s"), "wheel_diameter_mm": 200}),
        )
        .unwrap();
        assert_eq!(out["reason"], "grade");
        case.check_at(DOOR, "U_per_g_mm", num(&out, "/allowance_g_mm"));
        case.check_at(DOOR, "e_per_um", num(&out, "/equivalents/mass_centre_offset_um"));
        case.check_at(DOOR, "force_at_U_per_N", num(&out, "/equivalents/force_n"));
    }
}

#[test]
fn allowance_by_the_wheel_maker_and_the_rim_speed() {
    let case = Case::of("DEL-01");
    let out = run(
        "allowance",
        json!({"mass_kg": 3, "speed_rpm": 2850, "wheel_diameter_mm": case.input("D_mm"),
            "wheel_maker": {"k": case.input("k"), "wheel_mass_g": case.input("m1_g")}}),
    )
    .unwrap();
    assert_eq!(out["reason"], "wheel-maker");
    case.check_at(DOOR, "U_a_g_mm", num(&out, "/allowance_g_mm"));
    let case = Case::of("SPD-01");
    let out = run(
        "allowance",
        json!({"mass_kg": 3, "speed_rpm": case.input("speed_rpm"), "wheel_diameter_mm": case.input("D_mm"), "typed_g_mm": 5}),
    )
    .unwrap();
    case.check_at(DOOR, "v_m_s", num(&out, "/rim_speed_m_s"));
}

#[test]
fn a_measured_residual_is_judged_with_its_error() {
    let case = Case::of("ACC-01");
    let judged = |residual: f64| {
        run(
            "allowance",
            json!({"mass_kg": 3, "speed_rpm": 2850, "wheel_diameter_mm": 200, "typed_g_mm": case.input("U_per_g_mm"),
                "measured": {"residual_g_mm": residual, "random_parts_g_mm": case.inputs("random_parts_g_mm"),
                    "systematic_rest_g_mm": case.input("systematic_rest_g_mm")}}),
        )
        .unwrap()["judged"]
            .clone()
    };
    let all: Vec<Value> = case.inputs("U_res_g_mm").into_iter().map(judged).collect();
    let words: Vec<&str> = all.iter().map(|j| j["verdict"].as_str().unwrap()).collect();
    case.check_words("verdict", &words);
    case.check_at(DOOR, "dU_g_mm", num(&all[0], "/error_g_mm"));
    case.check_at(DOOR, "accept_limit_g_mm", num(&all[0], "/accept_up_to_g_mm"));
    case.check_at(DOOR, "check_limit_g_mm", num(&all[0], "/reject_above_g_mm"));
}

#[test]
fn rotor_from_a_body_and_on_ways() {
    let case = Case::of("INE-01");
    let body = json!({"outer_diameter_mm": case.input("D_mm"), "inner_diameter_mm": case.input("H_mm"), "width_mm": case.input("T_mm"),
        "density_g_cm3": case.input("density_g_cm3")});
    let out = run("rotor", json!({"bodies": [body]})).unwrap();
    case.check_at(DOOR, "mass_g", num(&out, "/bodies/0/mass_g"));
    case.check_at(DOOR, "I_kg_m2", num(&out, "/inertia_kg_m2"));
    assert_eq!(out["inertia_kg_m2"], out["inertia_for_looks_kg_m2"]);
    // A thin ring of 3 kg with I = 0.008 kg·m², on journals of radius 12.5 mm (PER-20): the swing at the door.
    let case = Case::of("PER-20");
    let d = 2000.0 * (case.input("I_kg_m2") / case.input("mass_kg")).sqrt();
    let ring = json!({"outer_diameter_mm": d, "inner_diameter_mm": d, "width_mm": 10, "mass_g": case.input("mass_kg") * 1000.0});
    let out = run("rotor", json!({"bodies": [ring], "journal_radius_mm": case.input("journal_radius_mm")})).unwrap();
    for (inertia, name) in [("/inertia_kg_m2", "T_fixed_axis_s"), ("/inertia_for_looks_kg_m2", "T_small_s")] {
        let swing = json!({"inertia_kg_m2": num(&out, inertia), "amplitude_deg": 0.01, "unbalance_g_mm": case.input("U_g_mm")});
        case.check_at(DOOR, name, num(&run("look-swing", swing).unwrap(), "/time_s"));
    }
}

#[test]
fn rotor_from_swings_with_a_trial() {
    let case = Case::of("PER-10");
    let trial = json!({"mass_g": case.input("trial_mass_g"), "radius_mm": case.input("trial_radius_mm")});
    let out = run(
        "rotor",
        json!({"swings": [{"time_s": case.input("T1_s"), "amplitude_deg": 0.01}, {"time_s": case.input("T2_s"), "amplitude_deg": 0.01, "trial": trial}]}),
    )
    .unwrap();
    case.check_at(DOOR, "U_g_mm", num(&out, "/swung/unbalance_g_mm"));
    case.check_at(DOOR, "I_kg_m2", num(&out, "/inertia_for_looks_kg_m2"));
    assert!(num(&out, "/inertia_for_looks_rel_sd") > 0.0);
}

#[test]
fn swings_at_known_angles_give_the_same_inertia_as_the_pair() {
    // The case's numbers, with the heavy side put at 40° by hand.
    let case = Case::of("PER-10");
    let trial = json!({"mass_g": case.input("trial_mass_g"), "radius_mm": case.input("trial_radius_mm"), "at_deg": 40});
    let swings = json!([{"time_s": case.input("T1_s"), "amplitude_deg": 0.01, "settle_deg": 40},
        {"time_s": case.input("T2_s"), "amplitude_deg": 0.01, "settle_deg": 40, "trial": trial}]);
    let out = run("rotor", json!({"swings": swings})).unwrap();
    assert!((num(&out, "/swung/inertia_kg_m2") / 0.008 - 1.0).abs() < 1e-4);
    assert!((num(&out, "/swung/unbalance_g_mm") / 80.0 - 1.0).abs() < 1e-4);
    assert!((num(&out, "/swung/unbalance_at_deg") - 40.0).abs() < 1e-6);
}

#[test]
fn swings_that_cannot_be_read_are_faults_in_the_doors_names() {
    let bare = json!({"time_s": 20.0, "amplitude_deg": 30});
    let with = |extra: Value| {
        let mut s = json!({"time_s": 9.2, "amplitude_deg": 30, "trial": {"mass_g": 5, "radius_mm": 60}});
        s.as_object_mut().unwrap().extend(extra.as_object().unwrap().clone());
        s
    };
    let bodies = json!([{"outer_diameter_mm": 180, "width_mm": 13, "mass_g": 700}]);
    for (input, field) in [
        (json!({"swings": [bare, bare]}), "swings"),
        (json!({"swings": [bare]}), "swings"),
        (json!({"swings": [bare, with(json!({"time_s": 25.0}))]}), "swings[1].time_s"),
        (json!({"swings": [bare, with(json!({"amplitude_deg": 180}))]}), "swings[1].amplitude_deg"),
        (json!({"swings": [bare, with(json!({"time_sd_s": 10}))]}), "swings[1].time_sd_s"),
        (json!({"swings": [bare, with(json!({"settle_deg": 10}))]}), "swings[0].settle_deg"),
        (json!({"swings": [bare, with(json!({"trial": {"mass_g": 5, "radius_mm": 60, "at_deg": 10}}))]}), "swings[0].settle_deg"),
        (json!({"swings": [bare, with(json!({"trial": {"mass_g": 0, "radius_mm": 60}}))]}), "swings[1].trial.mass_g"),
        (json!({"bodies": bodies, "swings": [bare, with(json!({"trial": {"mass_g": 800, "radius_mm": 60}}))]}), "swings[1].trial.mass_g"),
        (json!({}), "bodies"),
    ] {
        assert_eq!(run("rotor", input.clone()).unwrap_err().field, field, "{input}");
    }
}

#[test]
fn unbalance_from_the_swing_and_back() {
    for id in ["PER-01", "PER-02", "PER-03"] {
        let case = Case::of(id);
        let swing =
            json!({"inertia_kg_m2": case.input("I_kg_m2"), "amplitude_deg": case.input("amplitude_deg"), "time_s": case.input("T_s")});
        let out = run("look-swing", swing.clone()).unwrap();
        case.check_at(DOOR, "U_g_mm", num(&out, "/unbalance_g_mm"));
        let mut back = swing;
        back.as_object_mut().unwrap().remove("time_s");
        back["unbalance_g_mm"] = out["unbalance_g_mm"].clone();
        let again = run("look-swing", back).unwrap();
        assert!((num(&again, "/time_s") / case.input("T_s") - 1.0).abs() < 1e-12);
    }
}
