//! `fit-log` through the door: from the file of a reference log to a reading, and its faults.

use serde_json::{Value, json};
use std::path::Path;
use stillwheel_door::fit_log::{FitLogIn, FitLogOut, fit_log};
use stillwheel_door::log_csv::parse_log_csv;
use stillwheel_door::look::Reading;
use stillwheel_door::{Fault, find};

fn reference(name: &str) -> Vec<u8> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../reference/logs").join(name);
    std::fs::read(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

fn log(name: &str) -> FitLogIn {
    let (t_s, angle_deg) = parse_log_csv(&reference(name)).expect("a log");
    FitLogIn {
        t_s,
        angle_deg,
        inertia_kg_m2: None,
        inertia_rel_sd: 0.0,
        drift_prior_sd_g_mm: None,
        dry_friction_possible: false,
        angle_sd_deg: None,
        time_sd_s: None,
        shared_errors: None,
    }
}

fn run(input: Value) -> Result<Value, Fault> {
    find("fit-log").expect("it is listed").run(input)
}

#[test]
fn reference_logs_give_unbalance_and_drift_in_g_mm_through_json() {
    // Source: reference/logs/expected.json, truth and limits.
    let expected: Value = serde_json::from_slice(&reference("expected.json")).expect("JSON");
    for case in expected["logs"].as_array().expect("a list") {
        let (t, angle) = parse_log_csv(&reference(case["file"].as_str().expect("a name"))).expect("a log");
        let given = &case["given"];
        let out: FitLogOut = serde_json::from_value(
            run(json!({
                "t_s": t, "angle_deg": angle,
                "inertia_kg_m2": given["inertia_kg_m2"], "inertia_rel_sd": given["inertia_rel_sd"],
                "drift_prior_sd_g_mm": given["drift_prior_sd_gmm"], "dry_friction_possible": given["dry_friction_possible"],
            }))
            .expect("it fits"),
        )
        .expect("the documented shape");
        let of = |v: &Value, key: &str| v[key].as_f64().expect("a number");
        let (truth, limit, theirs) = (&case["truth"], &case["pass_when"], &case["reference_fit"]);
        let with = out.with_inertia.expect("inertia was given");
        assert!((with.unbalance_g_mm.mean - of(truth, "U_gmm")).abs() <= of(limit, "U_abs_gmm"));
        assert!((with.drift_g_mm.mean - of(truth, "drift_gmm")).abs() <= of(limit, "drift_abs_gmm"));
        // The outside fit (SciPy) states the same uncertainty of U, which is that of the inertia: 1 %.
        assert!((with.unbalance_g_mm.sd / of(theirs, "U_sd") - 1.0).abs() < 0.02, "{} {}", with.unbalance_g_mm.sd, theirs["U_sd"]);
        let Some(Reading::Log { u_over_j_per_s2, heavy_deg, heavy_sd_deg, drift_over_u_sd, .. }) = out.reading else {
            panic!("no reading: {:?}", out.cautions)
        };
        assert!((u_over_j_per_s2 / of(theirs, "U_over_J") - 1.0).abs() < 2.0 * of(theirs, "U_over_J_rel_sd"));
        let off = (heavy_deg - of(truth, "theta_deg") + 540.0).rem_euclid(360.0) - 180.0;
        assert!(off.abs() <= of(limit, "theta_abs_deg"), "{off}");
        assert!((heavy_sd_deg / of(theirs, "theta_sd_deg") - 1.0).abs() < 0.15, "{heavy_sd_deg} {}", theirs["theta_sd_deg"]);
        assert!(drift_over_u_sd > 0.0);
        assert_eq!(out.fitted_deg.len(), t.len());
        assert_eq!(out.points_used + out.points_dropped.len(), t.len());
    }
}

#[test]
fn measured_is_fitted_plus_residual_but_for_whole_turns() {
    let input = log("log-d.csv");
    let out = fit_log(&input).expect("it fits");
    assert!(out.with_inertia.is_none());
    for ((measured, fitted), residual) in input.angle_deg.iter().zip(&out.fitted_deg).zip(&out.residual_deg) {
        let turns = (fitted + residual - measured) / 360.0;
        assert!((turns - turns.round()).abs() < 1e-9);
        assert!(residual.abs() < 180.0);
    }
}

#[test]
fn a_log_cut_to_a_third_of_a_swing_gives_no_reading_and_says_why() {
    let whole = fit_log(&log("log-a.csv")).expect("it fits");
    let mut cut = log("log-a.csv");
    cut.t_s.truncate(330);
    cut.angle_deg.truncate(330);
    let short = fit_log(&cut).expect("it fits");
    assert!(whole.reading.is_some() && whole.cautions.is_empty());
    assert!(short.reading.is_none() && !short.cautions.is_empty());
    assert!(short.u_over_j_rel_sd > 20.0 * whole.u_over_j_rel_sd);
    // With the drift known to be small, the same third of a swing tells the direction, with a wide and true uncertainty.
    cut.inertia_kg_m2 = Some(0.02059396);
    cut.drift_prior_sd_g_mm = Some(2.0);
    let known = fit_log(&cut).expect("it fits");
    println!("{:?} {:?} {:?}", known.reading, known.cautions, known.swings_covered);
    let truth = (90.0_f64 / 2100.0, 330.0);
    assert!((known.u_over_j_per_s2 / truth.0).ln().abs() < 3.0 * known.u_over_j_rel_sd);
    assert!(((known.heavy_deg - truth.1 + 540.0).rem_euclid(360.0) - 180.0).abs() < 3.0 * known.heavy_sd_deg);
    assert!(known.u_over_j_rel_sd > 20.0 * whole.u_over_j_rel_sd && known.swings_covered < 0.5);
}

#[test]
fn each_bad_field_is_named_as_at_the_door() {
    let t: Vec<f64> = (0..100).map(|i| 0.1 * f64::from(i)).collect();
    let angle: Vec<f64> = t.iter().map(|t| 40.0 * t.cos()).collect();
    let with = |extra: Value| {
        let mut v = json!({ "t_s": t, "angle_deg": angle });
        for (key, value) in extra.as_object().expect("an object") {
            v[key] = value.clone();
        }
        v
    };
    let mut backwards = t.clone();
    backwards[50] = 1.0;
    let rows = [
        (with(json!({ "t_s": backwards })), "t_s[50]"),
        (with(json!({ "t_s": [1.0] })), "t_s"),
        (with(json!({ "angle_deg": angle[..99] })), "angle_deg"),
        (with(json!({ "angle_deg": vec![5.0; 100] })), "angle_deg"),
        (with(json!({ "angle_sd_deg": -1.0 })), "angle_sd_deg"),
        (with(json!({ "angle_sd_deg": [1.0, 2.0] })), "angle_sd_deg"),
        (with(json!({ "time_sd_s": 0.0 })), "time_sd_s"),
        (with(json!({ "inertia_kg_m2": -0.01 })), "inertia_kg_m2"),
        (with(json!({ "inertia_kg_m2": 0.01, "inertia_rel_sd": 2.0 })), "inertia_rel_sd"),
        (with(json!({ "drift_prior_sd_g_mm": 1.0 })), "inertia_kg_m2"),
        (with(json!({ "inertia_kg_m2": 0.01, "drift_prior_sd_g_mm": 0.0 })), "drift_prior_sd_g_mm"),
        (with(json!({ "t_s": vec![0.0; 200_001] })), "t_s"),
        (with(json!({ "angle": 1.0 })), "angle"),
        (with(json!({ "t_s": "0 to 9" })), "t_s"),
    ];
    for (input, field) in rows {
        let fault = run(input).expect_err(field);
        assert_eq!(fault.field, field, "{fault}");
        assert!(!fault.why.contains("_rad") && !fault.allowed.contains("_rad"), "{fault}");
    }
}

#[test]
fn ten_million_rows_are_refused_at_once_at_the_door() {
    let mut input = log("log-a.csv");
    input.t_s = vec![0.0; 10_000_000];
    input.angle_deg = vec![0.0; 10_000_000];
    let begun = std::time::Instant::now();
    let fault = fit_log(&input).expect_err("too long");
    assert!(begun.elapsed().as_millis() < 20);
    assert_eq!(fault.field, "t_s");
    assert!(fault.why.contains("thin"));
}
