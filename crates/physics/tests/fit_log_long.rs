//! Long logs: the same answer as from any share of their points, soon.

use rand::SeedableRng;
use rand_distr::{Distribution, StandardNormal};
use rand_xoshiro::Xoshiro256PlusPlus;
use std::f64::consts::{PI, TAU};
use std::time::Instant;
use stillwheel_physics::bench::fit_log::{Known, LogFit, MOST_POINTS, SwingLog, fit_log};
use stillwheel_physics::bench::motion::{Pendulum, simulate};

const ROTOR: Pendulum =
    Pendulum { u_g_mm: 60.0, theta_rad: 2.0, j_g_mm_s2: 1500.0, c_g_mm_s: 2.0, d_g_mm_s2: 25.0, tc_g_mm: 0.0, td_g_mm: 1.0 };

/// One track, `n` points over `span` seconds, 0.5° of noise, whole turns taken off.
fn track(p: &Pendulum, span: f64, n: usize, seed: u64) -> (Vec<f64>, Vec<f64>) {
    let mut rng = Xoshiro256PlusPlus::seed_from_u64(seed);
    let t: Vec<f64> = (0..n).map(|i| span * i as f64 / n as f64).collect();
    let angle = simulate(p, 1.4, 0.0, &t).expect("allowed");
    let noisy = angle.iter().map(|phi| {
        let z: f64 = StandardNormal.sample(&mut rng);
        (phi + 0.5_f64.to_radians() * z).rem_euclid(TAU)
    });
    let noisy = noisy.collect();
    (t, noisy)
}

fn fit(t: &[f64], angle: &[f64], known: &Known) -> LogFit {
    fit_log(&SwingLog { time_s: t, angle_rad: angle, angle_sd_rad: None, time_sd_s: None }, known).expect("it fits")
}

fn off(a: f64, b: f64) -> f64 {
    ((a - b + PI).rem_euclid(TAU) - PI).abs()
}

#[test]
fn two_hundred_thousand_points_hold_the_truth_as_their_standard_deviations_say() {
    for (what, span, dry) in [("a minute of a fast camera", 60.0, false), ("an hour", 3600.0, false), ("on ways", 120.0, true)] {
        let rotor = Pendulum { tc_g_mm: if dry { 2.0 } else { 0.0 }, ..ROTOR };
        let (t, angle) = track(&rotor, span, MOST_POINTS, 3);
        let begun = Instant::now();
        let f = fit(&t, &angle, &Known { dry_friction_possible: dry, drift_prior_sd_per_s2: None });
        println!("{what}: {:.2?}, U/J {} ± {}", begun.elapsed(), f.u_over_j_per_s2, f.u_over_j_per_s2 * f.u_over_j_rel_sd);
        // Four standard deviations of a Gaussian: missed once in 16,000.
        assert!((f.u_over_j_per_s2 / 0.04 - 1.0).abs() < 4.0 * f.u_over_j_rel_sd, "{what}: {f:?}");
        assert!(off(f.heavy_rad, 2.0) < 4.0 * f.heavy_sd_rad, "{what}");
        assert!((f.noise_sd_rad.to_degrees() / 0.5 - 1.0).abs() < 0.01, "{what}: {}", f.noise_sd_rad.to_degrees());
    }
}
