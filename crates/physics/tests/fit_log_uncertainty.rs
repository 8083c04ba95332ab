//! Whether the stated uncertainties of a fitted swing log are true: coverage on simulated logs, and a bootstrap.

use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, StandardNormal};
use rand_xoshiro::Xoshiro256PlusPlus;
use std::f64::consts::{PI, TAU};
use stillwheel_physics::bench::fit_log::{Known, LogFit, SwingLog, fit_log};
use stillwheel_physics::bench::motion::{Pendulum, simulate};

fn normal(rng: &mut Xoshiro256PlusPlus) -> f64 {
    StandardNormal.sample(rng)
}

struct Trial {
    pendulum: Pendulum,
    t: Vec<f64>,
    angle: Vec<f64>,
    known: Known,
}

/// A random rotor and stand, let go from 40° to 150°, filmed for so many small swings with 0.3° to 0.8° of noise, jitter in
/// time, 1 % of outliers. Drift is drawn from the prior that the fit is told.
fn trial(rng: &mut Xoshiro256PlusPlus, dry: bool, swings: std::ops::Range<f64>) -> Trial {
    let u = 10.0 * 12.0_f64.powf(rng.random());
    let j = 300.0 * 10.0_f64.powf(rng.random());
    let omega = (u / j).sqrt();
    let theta = TAU * rng.random::<f64>() - PI;
    let drift_sd = 0.02 * u;
    let pendulum = Pendulum {
        u_g_mm: u,
        theta_rad: theta,
        j_g_mm_s2: j,
        c_g_mm_s: j * omega * rng.random_range(0.005..0.05),
        d_g_mm_s2: j * rng.random_range(0.005..0.04),
        tc_g_mm: if dry { u * rng.random_range(0.01..0.06) } else { 0.0 },
        td_g_mm: drift_sd * normal(rng),
    };
    let swings: f64 = rng.random_range(swings);
    let n = 700;
    let dt = swings * TAU / omega / f64::from(n);
    let mut t: Vec<f64> = (0..n).map(|i| dt * (f64::from(i) + rng.random_range(0.0..0.3))).collect();
    t[0] = 0.0;
    let side = if rng.random::<bool>() { 1.0 } else { -1.0 };
    let release = side * rng.random_range(40.0_f64..150.0).to_radians() - theta;
    let noise = rng.random_range(0.3_f64..0.8).to_radians();
    let truth = simulate(&pendulum, release, 0.0, &t).expect("allowed");
    let angle = truth
        .iter()
        .map(|phi| {
            let gross = if rng.random::<f64>() < 0.01 { rng.random_range(-PI..PI) } else { 0.0 };
            (phi + noise * normal(rng) + gross).rem_euclid(TAU)
        })
        .collect();
    Trial { pendulum, t, angle, known: Known { dry_friction_possible: dry, drift_prior_sd_per_s2: Some(drift_sd / j) } }
}

fn turn(a: f64) -> f64 {
    (a + PI).rem_euclid(TAU) - PI
}

/// Estimate less truth over stated standard deviation: ln(U/J), heavy side, drift/U.
fn deviations(fit: &LogFit, p: &Pendulum) -> [f64; 3] {
    [
        (fit.u_over_j_per_s2 * p.j_g_mm_s2 / p.u_g_mm).ln() / fit.u_over_j_rel_sd,
        turn(fit.heavy_rad - p.theta_rad) / fit.heavy_sd_rad,
        (fit.drift_over_u - p.td_g_mm / p.u_g_mm) / fit.drift_over_u_sd,
    ]
}

#[test]
fn the_truth_lies_within_two_stated_sds_in_95_logs_of_100() {
    // Binomial with p = 0.9545 and 400 logs: mean 381.8, sd 4.17; 368 to 395 is ±3.2 sd (one false alarm in 700 a quantity).
    const LOGS: u32 = 400;
    let mut rng = Xoshiro256PlusPlus::seed_from_u64(20);
    let mut inside = [0_u32; 3];
    for k in 0..LOGS {
        let trial = trial(&mut rng, k % 2 == 1, 1.2..4.0);
        let log = SwingLog { time_s: &trial.t, angle_rad: &trial.angle, angle_sd_rad: None, time_sd_s: None };
        let fit = fit_log(&log, &trial.known).unwrap_or_else(|e| panic!("log {k}: {e}"));
        let z = deviations(&fit, &trial.pendulum);
        if z.iter().any(|v| v.abs() > 3.5) {
            println!("log {k}: z {z:.2?} held {:?} {:?} {:?}", fit.held, fit.cautions, trial.pendulum);
        }
        for (count, z) in inside.iter_mut().zip(z) {
            *count += u32::from(z.abs() <= 2.0);
        }
    }
    println!("within 2 sd of {LOGS}: U/J {}, heavy side {}, drift/U {}", inside[0], inside[1], inside[2]);
    assert!(inside.iter().all(|n| (368..=395).contains(n)), "{inside:?} of {LOGS}");
}

#[test]
fn less_than_three_quarters_of_a_swing_gives_wide_but_true_uncertainties_or_none() {
    let mut rng = Xoshiro256PlusPlus::seed_from_u64(31);
    let (mut told, mut inside, mut widest) = (0_u32, [0_u32; 3], 0.0_f64);
    for k in 0..400 {
        let trial = trial(&mut rng, k % 2 == 1, 0.3..0.75);
        let log = SwingLog { time_s: &trial.t, angle_rad: &trial.angle, angle_sd_rad: None, time_sd_s: None };
        let fit = fit_log(&log, &trial.known).unwrap_or_else(|e| panic!("log {k}: {e}"));
        assert!(!fit.cautions.is_empty(), "log {k} came without a caution");
        if !fit.reliable {
            continue;
        }
        told += 1;
        widest = widest.max(fit.u_over_j_rel_sd);
        for (count, z) in inside.iter_mut().zip(deviations(&fit, &trial.pendulum)) {
            *count += u32::from(z.abs() <= 2.0);
        }
    }
    // At least p = 0.9545 of those that claim to tell, less 3 sd of the binomial; more is no fault here (losses at their bound).
    let least = 0.9545 * f64::from(told) - 3.0 * (f64::from(told) * 0.9545 * 0.0455).sqrt();
    println!("of 400 short logs {told} tell; within 2 sd {inside:?}, at least {least:.0}; widest U/J {widest:.2}");
    assert!(told > 150 && widest > 0.05);
    assert!(inside.iter().all(|n| f64::from(*n) >= least), "{inside:?} of {told}");
}

#[test]
fn the_covariance_agrees_with_a_bootstrap_of_the_residuals() {
    // An sd from 150 resamples has itself a relative sd of 1/√300 = 6 %: a ratio within 0.8 to 1.25 is ±3.5 sd or more.
    const RESAMPLES: usize = 150;
    let mut rng = Xoshiro256PlusPlus::seed_from_u64(7);
    let trial = trial(&mut rng, false, 1.2..4.0);
    let known = Known { drift_prior_sd_per_s2: None, ..trial.known };
    let log = SwingLog { time_s: &trial.t, angle_rad: &trial.angle, angle_sd_rad: None, time_sd_s: None };
    let fit = fit_log(&log, &known).expect("it fits");
    let kept: Vec<f64> = (0..trial.t.len()).filter(|i| !fit.dropped.contains(i)).map(|i| fit.residual_rad[i]).collect();
    let (mut ln_u, mut heavy, mut drift) = (Vec::new(), Vec::new(), Vec::new());
    for _ in 0..RESAMPLES {
        let angle: Vec<f64> = fit.fitted_rad.iter().map(|m| m + kept[rng.random_range(0..kept.len())]).collect();
        let again = fit_log(&SwingLog { angle_rad: &angle, ..log }, &known).expect("it fits");
        ln_u.push(again.u_over_j_per_s2.ln());
        heavy.push(turn(again.heavy_rad - fit.heavy_rad));
        drift.push(again.drift_over_u);
    }
    let sd = |v: &[f64]| {
        let mean = v.iter().sum::<f64>() / v.len() as f64;
        (v.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (v.len() - 1) as f64).sqrt()
    };
    for (name, stated, found) in [
        ("U/J", fit.u_over_j_rel_sd, sd(&ln_u)),
        ("heavy side", fit.heavy_sd_rad, sd(&heavy)),
        ("drift/U", fit.drift_over_u_sd, sd(&drift)),
    ] {
        println!("{name}: stated {stated:.3e}, bootstrap {found:.3e}");
        assert!((0.8..1.25).contains(&(stated / found)), "{name}: stated {stated:e}, bootstrap {found:e}");
    }
}
