//! The four reference swing logs, against the truth that made them.
//!
//! Source: reference/logs/expected.json (truth: exact integration with sticking in SciPy 1.17).

#[path = "../../../reference/check.rs"]
mod check;

use check::{Kind, Tolerance};
use serde_json::Value;
use std::path::Path;
use stillwheel_physics::bench::fit_log::{Known, LogFit, SwingLog, fit_log};

/// Limits: `pass_when` of the file.
const SOURCE: &str = "truth of a log integrated with sticking and noise by SciPy 1.17 (reference/logs/expected.json)";

fn reference(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../reference").join(name);
    std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

fn columns(text: &str) -> (Vec<f64>, Vec<f64>) {
    text.lines()
        .skip(1)
        .map(|l| {
            let (t, a) = l.split_once(',').expect("two columns");
            (t.parse::<f64>().expect("time"), a.parse::<f64>().expect("angle").to_radians())
        })
        .unzip()
}

fn fit(case: &Value) -> (LogFit, f64) {
    let (t, angle) = columns(&reference(&format!("logs/{}", case["file"].as_str().expect("a name"))));
    let j = case["truth"]["J_gmm_s2"].as_f64().expect("J");
    let known = Known {
        dry_friction_possible: case["given"]["dry_friction_possible"].as_bool().expect("a flag"),
        drift_prior_sd_per_s2: case["given"]["drift_prior_sd_gmm"].as_f64().map(|sd| sd / j),
    };
    let log = SwingLog { time_s: &t, angle_rad: &angle, angle_sd_rad: None, time_sd_s: None };
    (fit_log(&log, &known).expect("it fits"), j)
}

#[test]
fn the_four_reference_logs_give_back_their_truth_within_the_stated_limits() {
    let expected: Value = serde_json::from_str(&reference("logs/expected.json")).expect("JSON");
    for case in expected["logs"].as_array().expect("a list") {
        let (fit, j) = fit(case);
        let (truth, limit) = (&case["truth"], &case["pass_when"]);
        let of = |v: &Value, key: &str| v[key].as_f64().unwrap_or_else(|| panic!("{key}"));
        let u = fit.u_over_j_per_s2 * j;
        let heavy = fit.heavy_rad.to_degrees();
        let off = (heavy - of(truth, "theta_deg") + 540.0).rem_euclid(360.0) - 180.0;
        let drift = fit.td_over_j_per_s2.0 * j;
        println!(
            "{}: U {u:.4} ± {:.4} ({}), heavy off {off:.3}° ± {:.3}, drift {drift:.4} ± {:.4} ({}), c {:.3} d {:.3} tc {:.4} noise {:.4}° dropped {} {:?} {}",
            case["file"],
            u * fit.u_over_j_rel_sd,
            truth["U_gmm"],
            fit.heavy_sd_rad.to_degrees(),
            fit.td_over_j_per_s2.1 * j,
            truth["drift_gmm"],
            fit.c_over_j_per_s.0 * j,
            fit.d_over_j.0 * j,
            fit.tc_over_j_per_s2.0 * j,
            fit.noise_sd_rad.to_degrees(),
            fit.dropped.len(),
            fit.cautions,
            fit.dominant_words
        );
        assert!(fit.converged);
        let id = format!("FIT {}", case["file"].as_str().expect("a name"));
        let row = |what: &str, expected: f64, got: f64, limit: f64| {
            check::row(&id, what, Kind::OutsideLibrary, SOURCE, expected, got, Tolerance::Absolute(limit));
        };
        row("unbalance, g·mm", of(truth, "U_gmm"), u, of(limit, "U_abs_gmm"));
        row("heavy side, degrees", of(truth, "theta_deg"), of(truth, "theta_deg") + off, of(limit, "theta_abs_deg"));
        row("drift torque, g·mm", of(truth, "drift_gmm"), drift, of(limit, "drift_abs_gmm"));
        // Outliers and gap of log c: the reference fit (SciPy) used 1713 points of 1739; the others lost none.
        let lost = of(&case["reference_fit"], "n_dropped");
        assert!((fit.dropped.len() as f64 - lost).abs() <= 10.0, "{}: {} dropped", case["file"], fit.dropped.len());
        let noise = fit.noise_sd_rad.to_degrees();
        assert!((noise / of(truth, "noise_deg") - 1.0).abs() < 0.08, "{}: noise {noise}°", case["file"]);
    }
}
