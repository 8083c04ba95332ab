//! The stand through the door, in its own shapes: reference cases, faults that name the field, and answers that a person acts on.

#[path = "../../../reference/check.rs"]
mod check;

use check::Case;
use serde_json::{Value, json};
use stillwheel_door::{Fault, find};

const DOOR: &str = "at the door";

fn run(name: &str, input: Value) -> Result<Value, Fault> {
    find(name).unwrap().run(input)
}

fn example(name: &str) -> Value {
    (find(name).unwrap().example)()
}

fn num(out: &Value, pointer: &str) -> f64 {
    out.pointer(pointer).and_then(Value::as_f64).unwrap_or_else(|| panic!("no number at {pointer} in {out}"))
}

/// The example with some places changed; a place that is not there is added.
fn changed(name: &str, changes: &[(&str, Value)]) -> Value {
    let mut input = example(name);
    for (pointer, value) in changes {
        let (parent, key) = pointer.rsplit_once('/').unwrap();
        let parent = if parent.is_empty() { &mut input } else { input.pointer_mut(parent).unwrap() };
        match key.parse::<usize>() {
            Ok(i) => parent[i] = value.clone(),
            Err(_) => parent[key] = value.clone(),
        }
    }
    input
}

/// Feet of a case, on its circle.
fn feet(case: &Case, pitch_mm: f64) -> Value {
    let r = case.input("radius_mm");
    let foot = |a: f64| json!({"x_mm": r * a.to_radians().cos(), "y_mm": r * a.to_radians().sin(), "pitch_mm": pitch_mm});
    case.inputs("angles_deg").into_iter().map(foot).collect()
}

#[test]
fn turns_of_the_screws_from_bubble_readings() {
    let case = Case::mechanical("turns-from-two-readings");
    let bubble = |along: f64, name: &str| json!({"along_deg": along, "divisions": case.input(name)});
    let input = json!({
        "readings": {"kind": "bubbles", "sensitivity_mm_per_m": 1.0,
            "places": [bubble(0.0, "slope_x_mm_per_m"), bubble(90.0, "slope_y_mm_per_m")]},
        "feet": feet(&case, case.input("pitch_mm")), "keep": "only-up",
    });
    let out = run("level", input.clone()).unwrap();
    let expected = case.expected("degrees_only_up").as_array().unwrap();
    for (i, e) in expected.iter().enumerate() {
        assert!((num(&out, &format!("/screws/{i}/by_deg")) - e.as_f64().unwrap()).abs() < 0.002);
    }
    assert_eq!(out["screws"][0]["way"], "clockwise");
    assert_eq!(out["screws"][2]["way"], "leave");
    // A stand whose screws raise the other way is told the other way.
    let mut other = input;
    other["clockwise_raises"] = json!(false);
    assert_eq!(run("level", other).unwrap()["screws"][0]["way"], "counter-clockwise");
}

#[test]
fn plane_from_heights_and_a_level_turned_end_for_end() {
    let case = Case::mechanical("plane-from-heights");
    let feet = feet(&case, 1.0);
    let places: Vec<Value> = feet
        .as_array()
        .unwrap()
        .iter()
        .zip(case.inputs("heights_mm"))
        .map(|(f, z)| json!({"x_mm": f["x_mm"], "y_mm": f["y_mm"], "height_mm": z}))
        .collect();
    let out = run("level", json!({"readings": {"kind": "heights", "reading_sd_mm": 0.002, "places": places}, "feet": feet})).unwrap();
    case.check_at(DOOR, "slope_x_mm_per_m", num(&out, "/slope_x_mm_per_m"));
    case.check_at(DOOR, "slope_y_mm_per_m", num(&out, "/slope_y_mm_per_m"));
    let case = Case::mechanical("level-reversal");
    let place = |along: f64| json!({"along_deg": along, "divisions": case.input("reading_A_div"), "reversed_divisions": case.input("reading_B_div")});
    let readings = json!({"kind": "bubbles", "sensitivity_mm_per_m": case.input("sens_mm_per_m"), "places": [place(0.0), place(90.0)]});
    let out = run("level", changed("level", &[("/readings", readings)])).unwrap();
    case.check_at(DOOR, "true_slope_mm_per_m", num(&out, "/slope_x_mm_per_m"));
    case.check_at(DOOR, "zero_error_div", num(&out, "/vial_error_divisions"));
}

#[test]
fn a_stand_that_would_tip_over_is_a_fault_and_never_a_number() {
    for id in ["tip-120", "tip-offset", "tip-arc120", "tip-halfcircle"] {
        let case = Case::mechanical(id);
        let centre = case.inputs("com_mm");
        let heaviest = json!({"mass_kg": case.input("weight_N") / 9.80665, "x_mm": centre[0], "y_mm": centre[1], "height_mm": 250.0});
        let input = changed("level", &[("/feet", feet(&case, 1.0)), ("/heaviest", heaviest)]);
        match run("level", input) {
            Ok(out) => {
                assert_eq!(case.expected("stable"), &json!(true), "{id}");
                case.check_at(DOOR, "margin_mm", num(&out, "/standing/margin_mm"));
            }
            Err(f) => {
                assert_eq!(case.expected("stable"), &json!(false), "{id}");
                assert_eq!(f.field, "feet");
                assert!(f.why.contains("falls over") && f.why.contains("crowded on one side"), "{f}");
            }
        }
    }
    // Stable, but a careless hand tips it; and feet that leave a wide gap are told.
    let heaviest = json!({"mass_kg": 10.0, "x_mm": 0.0, "y_mm": -60.0, "height_mm": 300.0});
    let out = run("level", changed("level", &[("/heaviest", heaviest)])).unwrap();
    let cautions = out["cautions"].to_string();
    // 98.07 N at 10 mm from the near side over 300 mm: 3.27 N.
    assert!((num(&out, "/standing/tipping_force_n") - 3.2689).abs() < 1e-3);
    assert!(cautions.contains("A push of 3 N tips it over the side between feet 1 and 2"), "{cautions}");
    assert!(cautions.contains("crowded on one side"), "{cautions}");
}

#[test]
fn beams_through_the_door() {
    let case = Case::mechanical("beam-offcentre");
    let (l, a) = (case.input("L_mm"), case.input("a_mm"));
    let input = json!({"steps": [{"length_mm": l, "outer_diameter_mm": case.input("d_mm")}], "modulus_gpa": case.input("E_MPa") / 1e3,
        "density_g_cm3": 0, "supports_mm": [0, l], "loads": [{"at_mm": a, "mass_kg": case.input("F_N") / 9.80665}]});
    let out = run("arbor", input).unwrap();
    case.check_at(DOOR, "deflection_at_load_um", num(&out, "/loads/0/fall_um"));
    case.check_at(DOOR, "slope_left_urad", num(&out, "/saddles/0/slope_urad"));
    case.check_at(DOOR, "slope_right_urad", -num(&out, "/saddles/1/slope_urad"));
    case.check_at(DOOR, "reaction_left_N", num(&out, "/saddles/0/load_n"));
    let case = Case::mechanical("beam-centre");
    let l = case.input("L_mm");
    let input = json!({"steps": [{"length_mm": l, "outer_diameter_mm": case.input("d_mm")}], "modulus_gpa": case.input("E_MPa") / 1e3,
        "density_g_cm3": 0, "supports_mm": [0, l], "loads": [{"at_mm": l / 2.0, "mass_kg": case.input("F_N") / 9.80665}],
        "saddles": {"length_mm": case.input("saddle_len_mm"), "film_um": 10, "stiffness_n_per_um": 1.5}, "seat": {"mass_kg": 2.0, "runout_um": 3.0}});
    let out = run("arbor", input).unwrap();
    case.check_at(DOOR, "deflection_um", num(&out, "/largest_sag_um"));
    case.check_at(DOOR, "edge_difference_um", num(&out, "/saddles/0/edge_lift_um"));
    // Half of 1.628 µm of a film of 10 µm; equal loads float alike; 2000 g a micrometre and a half off the axis.
    assert!((num(&out, "/saddles/1/share_of_film") - 0.0814).abs() < 1e-4);
    assert!(num(&out, "/axis_tilt_mm_per_m").abs() < 1e-9);
    assert!((num(&out, "/runout_g_mm") - 3.0).abs() < 1e-9);
}

#[test]
fn a_wheel_so_far_out_that_the_arbor_lifts_is_a_fault() {
    let case = Case::mechanical("beam-overhang");
    let (l, a) = (case.input("L_mm"), case.input("a_mm"));
    let input = json!({"steps": [{"length_mm": l + a, "outer_diameter_mm": case.input("d_mm")}], "density_g_cm3": 0, "supports_mm": [0, l],
        "loads": [{"at_mm": l + a, "mass_kg": case.input("F_N") / 9.80665}]});
    let f = run("arbor", input).unwrap_err();
    assert_eq!((f.field.as_str(), f.value.to_string().as_str()), ("loads", "-45.0 N at saddle 1"));
    assert!(f.why.contains("tip out"), "{f}");
}

#[test]
fn the_floor_of_plain_ways_is_their_dead_band() {
    let case = Case::of("FRI-01");
    let f = case.inputs("f_mm")[1] * 1e3;
    let ways = json!({"kind": "hardened-ways", "lever_arm_um": f, "flatness_um": 0, "length_mm": 100});
    let changes = [("/support", ways), ("/mass_kg", json!(case.input("mass_kg"))), ("/compare", json!([]))];
    let out = run("floor", changed("floor", &changes)).unwrap();
    case.check_at(DOOR, "U_min_high_g_mm", num(&out, "/dead_band_g_mm"));
    assert_eq!(out["enough"], "no");
    assert_eq!(out["improve"]["cause"], "rolling-friction");
    // Words go with the causes, each with its source.
    let (causes, words) = (out["causes"].as_array().unwrap(), out["words"].as_array().unwrap());
    assert_eq!(causes.len(), words.len());
    for (c, w) in causes.iter().zip(words) {
        assert_eq!(c["cause"], w["cause"]);
        assert!(!w["source"].as_str().unwrap().is_empty() && !w["remedy"].as_str().unwrap().is_empty());
    }
}

#[test]
fn supports_are_compared_under_the_same_rotor() {
    let out = run("floor", example("floor")).unwrap();
    let alone = run("floor", changed("floor", &[("/support", example("floor")["compare"][0].clone()), ("/compare", json!([]))])).unwrap();
    assert_eq!(out["compared"][0]["floor_g_mm"], alone["floor_g_mm"]);
    assert!(num(&out, "/floor_g_mm") < num(&alone, "/floor_g_mm"));
}

#[test]
fn an_example_of_creeps_gives_its_hidden_stand_back() {
    // The times were made by an integrator of the equation of motion (SciPy solve_ivp) and read as by a thumb.
    let out = run("qualify", example("qualify")).unwrap();
    for (name, truth) in [("drift_g_mm", 0.8), ("residual_x_g_mm", 0.3), ("residual_y_g_mm", -0.2)] {
        let (mean, sd) = (num(&out, &format!("/{name}/mean")), num(&out, &format!("/{name}/sd")));
        assert!((mean - truth).abs() < 2.0 * sd && sd < 0.1, "{name}: {mean} ± {sd}");
    }
    let keep = &out["keep"];
    assert_eq!(keep["floor_g_mm"], out["floor_drift_known_g_mm"]);
    let (mean, sd) = (num(keep, "/drift_mean_g_mm"), num(keep, "/drift_mean_sd_g_mm"));
    assert!((num(keep, "/drift_sd_g_mm") - mean.hypot(sd)).abs() < 1e-12);
}

#[test]
fn settles_of_a_trial_and_a_swing_log_tell_the_drift_too() {
    // By hand: a trial of 80 g·mm at the mark rests where 80·sin ψ = drift, ψ counter-clockwise from straight down: the rotor angle at the
    // bottom is −ψ as it lies, and +ψ turned end for end. A residual of 0 and a drift of 2: ψ = 1.4325°.
    let psi = (2.0_f64 / 80.0).asin().to_degrees();
    let trial = json!({"mass_g": 1.0, "radius_mm": 80.0, "at_deg": 0.0});
    let settle = |reversed: bool, bottom: f64| json!({"reversed": reversed, "bottom_deg": bottom, "trial": trial, "test": {"kind": "settles", "sd_deg": 0.2}});
    let base = json!({"inertia_kg_m2": 0.0082, "inertia_rel_sd": 0.02, "dry_friction_possible": false});
    let with = |observations: Value| {
        let mut input = base.clone();
        input["observations"] = observations;
        run("qualify", input).unwrap()
    };
    // A small swing of it, T = 2π·√(J/U), J with the trial's own: 836.17 + 80²/9806.65 = 836.82 g·mm·s².
    let time_s = 10.0 * std::f64::consts::TAU * (836.82_f64 / 80.0).sqrt();
    let swing =
        json!({"trial": trial, "test": {"kind": "swings", "swings": 10, "time_s": time_s, "amplitude_deg": 1.0, "amplitude_sd_deg": 0.2}});
    let out = with(json!([settle(false, -psi), settle(true, psi), swing]));
    assert!((num(&out, "/drift_g_mm/mean") - 2.0).abs() < 0.01, "{out}");
    // Without the swing the size is not told, and so no drift; one lie alone leaves drift and residual mixed.
    assert_eq!(with(json!([settle(false, -psi), settle(true, psi)]))["keep"], Value::Null);
    assert_eq!(with(json!([settle(false, -psi), swing]))["keep"], Value::Null);
    // A log of the demo's unbalance of 260 g·mm at 143°, 10 points a second: the same values as its own fit.
    let log = example("fit-log");
    let out = with(json!([{"test": {"kind": "log", "t_s": log["t_s"], "angle_deg": log["angle_deg"]}}]));
    // `qualify` is there to measure the drift, so it takes no belief about it into the fit.
    let mut free = log;
    free.as_object_mut().unwrap().remove("drift_prior_sd_g_mm");
    let fitted = run("fit-log", free).unwrap();
    assert!((num(&out, "/drift_g_mm/mean") - num(&fitted, "/with_inertia/drift_g_mm/mean")).abs() < 0.02, "{out}");
    let (x, y) = (num(&out, "/residual_x_g_mm/mean"), num(&out, "/residual_y_g_mm/mean"));
    assert!((x.hypot(y) / num(&fitted, "/with_inertia/unbalance_g_mm/mean") - 1.0).abs() < 1e-3);
    assert!((y.atan2(x).to_degrees().rem_euclid(360.0) - num(&fitted, "/heavy_deg")).abs() < 0.01);
}

#[test]
fn values_out_of_range_are_named_where_they_stand() {
    let rows: &[(&str, &str, Value, &str)] = &[
        ("floor", "/mass_kg", json!(0), "mass_kg"),
        ("floor", "/seated_mass_kg", json!(3), "seated_mass_kg"),
        ("floor", "/arbor_lobes", json!(1), "arbor_lobes"),
        ("floor", "/arbor_radius_mm", json!(0), "arbor_radius_mm"),
        ("floor", "/arbor_roundness_um", json!(-1), "arbor_roundness_um"),
        ("floor", "/cross_slope_mm_per_m", json!(30), "cross_slope_mm_per_m"),
        ("floor", "/support/end_stop_radius_mm", json!(11), "support.end_stop_radius_mm"),
        ("floor", "/support/viscous_drag_g_mm_s", json!(-1), "support.viscous_drag_g_mm_s"),
        ("floor", "/compare/0/lever_arm_um", json!(-1), "compare[0].lever_arm_um"),
        ("floor", "/allowance_g_mm", json!(0), "allowance_g_mm"),
        ("floor", "/draught_m_s", json!(5), "draught_m_s"),
        ("floor", "/patience_s", json!(0), "patience_s"),
        ("floor", "/remedies/0/cost", json!(0), "remedies[0].cost"),
        ("level", "/feet/2", json!({"x_mm": 0, "y_mm": -70, "pitch_mm": 1}), "feet"),
        ("level", "/feet/1/pitch_mm", json!(0), "feet[1].pitch_mm"),
        ("level", "/readings/sensitivity_mm_per_m", json!(0), "readings.sensitivity_mm_per_m"),
        ("level", "/readings/sensitivity_arcsec", json!(4), "readings.sensitivity_mm_per_m"),
        ("level", "/readings/sensitivity_mm_per_m", json!(null), "readings.sensitivity_mm_per_m"),
        ("level", "/readings/places/1/divisions", json!(80), "readings.places[1].divisions"),
        ("level", "/readings/places/1/along_deg", json!(5), "readings.places"),
        ("level", "/for/target_floor_g_mm", json!(0), "for.target_floor_g_mm"),
        ("level", "/for/support/axis_tilt_mm_per_m", json!(5), "for.support.axis_tilt_mm_per_m"),
        ("level", "/heaviest/height_mm", json!(0), "heaviest.height_mm"),
        ("level", "/heaviest/x_mm", json!(1e9), "heaviest.x_mm"),
        ("level", "/heaviest/y_mm", json!(-90), "feet"),
        ("level", "/plate/thickness_mm", json!(0), "plate.thickness_mm"),
        ("arbor", "/steps", json!([]), "steps"),
        ("arbor", "/steps/1/inner_diameter_mm", json!(30), "steps[1].inner_diameter_mm"),
        ("arbor", "/supports_mm", json!([150, 20]), "supports_mm[1]"),
        ("arbor", "/supports_mm/1", json!(500), "supports_mm[1]"),
        ("arbor", "/loads/0/at_mm", json!(-1), "loads[0].at_mm"),
        ("arbor", "/loads/1/mass_kg", json!(-1), "loads[1].mass_kg"),
        ("arbor", "/saddles/stiffness_n_per_um", json!(0), "saddles.stiffness_n_per_um"),
        ("arbor", "/saddles/length_mm", json!(200), "saddles.length_mm"),
        ("arbor", "/seat/runout_um", json!(-1), "seat.runout_um"),
        ("qualify", "/inertia_kg_m2", json!(0), "inertia_kg_m2"),
        ("qualify", "/observations", json!([]), "observations"),
        ("qualify", "/observations/2/test/time_s", json!(0), "observations[2].test.time_s"),
        ("qualify", "/observations/2/test/turned_deg", json!(90), "observations[2].test.turned_deg"),
        ("qualify", "/observations/2/trial", json!({"mass_g": 0, "radius_mm": 80, "at_deg": 0}), "observations[2].trial.mass_g"),
        ("qualify", "/observations/2/test", json!({"kind": "log", "t_s": [0, 1], "angle_deg": [0]}), "observations[2].test.angle_deg"),
        ("qualify", "/observations/2/test", json!({"kind": "starts", "stays_g": 1, "sense": "clockwise"}), "observations[2].trial"),
    ];
    for (name, pointer, value, field) in rows {
        match run(name, changed(name, &[(pointer, value.clone())])) {
            Err(f) => assert_eq!(f.field, *field, "{name} {pointer}: {f}"),
            Ok(out) => panic!("{name} {pointer} {value}: no fault but {out}"),
        }
    }
}
