//! Time of one fit of each reference log (60 s to 80 s, 20 to 30 points a second), no start values; and of the longest log taken.
//!
//! Run both on one machine, one after the other:
//! `cargo bench -p stillwheel-physics --bench fit_log` and `python3 reference/scripts/fit_log_scipy.py`.

use serde_json::Value;
use std::path::Path;
use stillwheel_physics::bench::fit_log::{Known, MOST_POINTS, SwingLog, fit_log};
use stillwheel_physics::bench::motion::{Pendulum, simulate};

fn main() {
    divan::main();
}

fn reference(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../reference/logs").join(name);
    std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

fn log(name: &str) -> (Vec<f64>, Vec<f64>, Known) {
    let (t, angle) = reference(name)
        .lines()
        .skip(1)
        .map(|l| {
            let (t, a) = l.split_once(',').expect("two columns");
            (t.parse::<f64>().expect("time"), a.parse::<f64>().expect("angle").to_radians())
        })
        .unzip();
    let expected: Value = serde_json::from_str(&reference("expected.json")).expect("JSON");
    let case = expected["logs"].as_array().expect("a list").iter().find(|c| c["file"] == name).expect("listed");
    let j = case["truth"]["J_gmm_s2"].as_f64().expect("J");
    let known = Known {
        dry_friction_possible: case["given"]["dry_friction_possible"].as_bool().expect("a flag"),
        drift_prior_sd_per_s2: case["given"]["drift_prior_sd_gmm"].as_f64().map(|sd| sd / j),
    };
    (t, angle, known)
}

#[divan::bench(args = ["log-a.csv", "log-b.csv", "log-c.csv", "log-d.csv"], sample_count = 30)]
fn fit(bencher: divan::Bencher, name: &str) {
    let (t, angle, known) = log(name);
    bencher.bench_local(|| {
        let log = SwingLog { time_s: &t, angle_rad: &angle, angle_sd_rad: None, time_sd_s: None };
        fit_log(&log, &known).expect("it fits")
    });
}

/// The most points that are taken, over a minute and over an hour; a hundredth of a radian of noise.
#[divan::bench(args = [60.0, 3600.0], sample_count = 5, sample_size = 1)]
fn longest_log(bencher: divan::Bencher, span_s: f64) {
    let rotor = Pendulum { u_g_mm: 60.0, theta_rad: 2.0, j_g_mm_s2: 1500.0, c_g_mm_s: 2.0, d_g_mm_s2: 25.0, tc_g_mm: 0.0, td_g_mm: 1.0 };
    let t: Vec<f64> = (0..MOST_POINTS).map(|i| span_s * i as f64 / MOST_POINTS as f64).collect();
    // Equidistributed by the golden section: noise enough, and the same in every run.
    let noise = |i: usize| 0.03 * ((i as f64 * 0.618_033_988_749_895).fract() - 0.5);
    let angle: Vec<f64> = simulate(&rotor, 1.4, 0.0, &t).expect("allowed").iter().enumerate().map(|(i, a)| a + noise(i)).collect();
    let known = Known { dry_friction_possible: false, drift_prior_sd_per_s2: None };
    bencher.bench_local(|| {
        let log = SwingLog { time_s: &t, angle_rad: &angle, angle_sd_rad: None, time_sd_s: None };
        fit_log(&log, &known).expect("it fits")
    });
}
