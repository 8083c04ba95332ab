//! Heavy side and drift of a fitted log err together: what the look carries of that, and what the estimate makes of it.
//!
//! Source: a log shows the rest place, heavy side − asin(drift/U), much sharper than either of the two; truths are simulated by exact
//! integration, their drift drawn from the prior that the estimator is told (Cook, Gelman & Rubin 2006).

use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, StandardNormal};
use rand_xoshiro::Xoshiro256PlusPlus;
use rayon::prelude::*;
use std::f64::consts::{PI, TAU};
use stillwheel_physics::bench::belief::{Belief, Known};
use stillwheel_physics::bench::fit_log::{self, LogFit, SwingLog, fit_log};
use stillwheel_physics::bench::look::{Look, Reading};
use stillwheel_physics::bench::motion::{Pendulum, simulate};
use stillwheel_physics::quantity::{Angle, Inertia, RotorAngle, Unbalance};

const J: f64 = 600.0;
/// Drift of the stand, g·mm, one standard deviation.
const DRIFT_SD: f64 = 1.0;
/// Each component of the unbalance, g·mm, one standard deviation.
const UNBALANCE_SD: f64 = 400.0;

fn normal(rng: &mut Xoshiro256PlusPlus) -> f64 {
    StandardNormal.sample(rng)
}

/// A rotor that swings in 4 to 9 s on a stand with this drift.
fn rotor(rng: &mut Xoshiro256PlusPlus) -> Pendulum {
    Pendulum {
        u_g_mm: J * (TAU / rng.random_range(4.0..9.0_f64)).powi(2),
        theta_rad: TAU * rng.random::<f64>() - PI,
        j_g_mm_s2: J,
        c_g_mm_s: J * rng.random_range(0.01..0.04),
        d_g_mm_s2: 0.0,
        tc_g_mm: 0.0,
        td_g_mm: DRIFT_SD * normal(rng),
    }
}

/// As coarse as taps: 120 angles in 40 s, each off by 4°, of a swing let go from 35° to 60°.
fn coarse(seed: u64) -> Option<(Pendulum, LogFit)> {
    let rng = &mut Xoshiro256PlusPlus::seed_from_u64(seed);
    let truth = rotor(rng);
    let noise = 4.0_f64.to_radians();
    let release = rng.random_range(35.0..60.0_f64).to_radians();
    let t: Vec<f64> = (0..120).map(|i| f64::from(i) / 3.0).collect();
    let angle: Vec<f64> =
        simulate(&truth, release - truth.theta_rad, 0.0, &t).expect("allowed").iter().map(|a| a + noise * normal(rng)).collect();
    fitted(truth, &SwingLog { time_s: &t, angle_rad: &angle, angle_sd_rad: Some(&[noise; 120]), time_sd_s: None })
}

fn fitted(truth: Pendulum, log: &SwingLog) -> Option<(Pendulum, LogFit)> {
    let known = fit_log::Known { dry_friction_possible: false, drift_prior_sd_per_s2: None };
    fit_log(log, &known).ok().filter(|f| f.reliable).map(|f| (truth, f))
}

/// Taps of two marks 50° apart as they pass a pointer in 30 s, each off by 0.08 s.
fn taps(seed: u64) -> Option<(Pendulum, LogFit)> {
    let rng = &mut Xoshiro256PlusPlus::seed_from_u64(seed);
    let truth = rotor(rng);
    let t: Vec<f64> = (0..3000).map(|i| 0.01 * f64::from(i)).collect();
    let phi = simulate(&truth, 0.9 - truth.theta_rad, 0.0, &t).expect("allowed");
    let mut taps: Vec<(f64, f64)> = Vec::new();
    for (k, w) in phi.windows(2).enumerate() {
        for at in [-0.3, 50.0_f64.to_radians() - 0.3].map(|a| a - truth.theta_rad) {
            if (w[0] - at) * (w[1] - at) < 0.0 {
                taps.push((t[k] + 0.01 * (at - w[0]) / (w[1] - w[0]) + 0.08 * normal(rng), at));
            }
        }
    }
    taps.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (times, angles): (Vec<f64>, Vec<f64>) = taps.into_iter().unzip();
    fitted(truth, &SwingLog { time_s: &times, angle_rad: &angles, angle_sd_rad: None, time_sd_s: Some(0.08) })
}

fn belief(fit: &LogFit, correlation: f64, seed: u64) -> Belief {
    let known = Known {
        inertia: Inertia::from_g_mm_s2(J),
        ln_j_sd: 0.0,
        unbalance_sd: Unbalance::from_g_mm(UNBALANCE_SD),
        drift_sd: Unbalance::from_g_mm(DRIFT_SD),
        dry_friction: Unbalance::default(),
        arbor_sd: Unbalance::default(),
        setting_sd: Angle::default(),
        misread_share: 0.0,
    };
    let reading = Reading::Log {
        u_over_j_per_s2: fit.u_over_j_per_s2,
        u_over_j_rel_sd: fit.u_over_j_rel_sd,
        heavy: RotorAngle::from_rad(fit.heavy_rad),
        heavy_sd: Angle::from_rad(fit.heavy_sd_rad),
        drift_over_u: fit.drift_over_u,
        drift_over_u_sd: fit.drift_over_u_sd,
        correlation_heavy_drift: correlation,
    };
    let look = Look { weights: Vec::new(), turned_on_arbor: Angle::default(), trial: None, reading };
    Belief::infer(&known, &[look], &[], 2000, seed)
}

/// Standard deviation of the direction, rad: of the component across the mean over its size.
fn direction_sd(belief: &Belief) -> f64 {
    let u = belief.unbalance();
    let [x, y] = u.mean.g_mm();
    let c = u.covariance_g2_mm2;
    (y * y * c[0][0] - 2.0 * x * y * c[0][1] + x * x * c[1][1]).sqrt() / (x * x + y * y)
}

#[test]
fn heavy_side_and_drift_lie_within_their_joint_region_in_95_logs_of_100() {
    let all: Vec<[f64; 4]> = (0..500_u64)
        .into_par_iter()
        .filter_map(coarse)
        .map(|(truth, fit)| {
            let heavy = ((fit.heavy_rad - truth.theta_rad + PI).rem_euclid(TAU) - PI) / fit.heavy_sd_rad;
            // As turns of the rest place: heavy side and drift/U lie along an arcsine, not a line.
            let lean_sd = fit.drift_over_u_sd / (1.0 - fit.drift_over_u.powi(2)).sqrt();
            let drift = (fit.drift_over_u.asin() - (truth.td_g_mm / truth.u_g_mm).asin()) / lean_sd;
            let rho = fit.correlation_heavy_drift;
            let rest = (drift - rho * heavy) / (1.0 - rho * rho).sqrt();
            let size = (fit.u_over_j_per_s2 / (truth.u_g_mm / J)).ln() / fit.u_over_j_rel_sd;
            [heavy * heavy + rest * rest, rest, rho, size]
        })
        .collect();
    let n = all.len() as f64;
    // χ² with two degrees of freedom: −2·ln 0.05 = 5.991.
    let joint = all.iter().filter(|z| z[0] < 5.991).count() as f64 / n;
    let rest = all.iter().filter(|z| z[1].abs() < 1.96).count() as f64 / n;
    let rho = all.iter().map(|z| z[2]).sum::<f64>() / n;
    let size = all.iter().filter(|z| z[3].abs() < 1.96).count() as f64 / n;
    println!(
        "{n} logs: joint region holds {:.1} %, drift given the heavy side {:.1} %, size {:.1} %, mean correlation {rho:.3}",
        100.0 * joint,
        100.0 * rest,
        100.0 * size
    );
    assert!(n > 400.0 && rho > 0.9);
    assert!((0.93..=0.97).contains(&joint), "{joint}");
    assert!((0.93..=0.97).contains(&rest), "{rest}");
}

#[test]
fn the_estimate_is_sharper_with_the_correlation_and_its_regions_still_hold() {
    let all: Vec<[f64; 3]> = (1000..1500_u64)
        .into_par_iter()
        .filter_map(|seed| coarse(seed).map(|found| (seed, found)))
        .map(|(seed, (truth, fit))| {
            let with = belief(&fit, fit.correlation_heavy_drift, seed);
            let without = belief(&fit, 0.0, seed);
            let (s, c) = truth.theta_rad.sin_cos();
            let held = with.residual_region_holds([truth.u_g_mm * c, truth.u_g_mm * s], 0.95);
            [f64::from(u8::from(held)), direction_sd(&with), direction_sd(&without)]
        })
        .collect();
    let n = all.len() as f64;
    let mean = |k: usize| all.iter().map(|v| v[k]).sum::<f64>() / n;
    let (held, with, without) = (mean(0), mean(1).to_degrees(), mean(2).to_degrees());
    println!("{n} logs: 95 % regions hold {:.1} %; direction ± {with:.2}° with the correlation, ± {without:.2}° without", 100.0 * held);
    // The direction that is left open once the rest place is known is the drift's share: DRIFT_SD/U, below 1° here.
    assert!(with < 0.6 * without, "{with}° {without}°");
    // The size of so coarse a log is stated wider than it is (99.6 % within 1.96 standard deviations, printed by the test above), and
    // these regions with it; narrower than stated would be the fault.
    assert!(held >= 0.93, "{held}");
}

#[test]
fn taps_that_show_the_rest_place_leave_a_sharp_direction_where_the_stand_hardly_drifts() {
    let mut seen = 0;
    for seed in 0..6 {
        let Some((truth, fit)) = taps(seed) else { continue };
        seen += 1;
        let with = belief(&fit, fit.correlation_heavy_drift, seed);
        let (sharp, blunt) = (direction_sd(&with), direction_sd(&belief(&fit, 0.0, seed)));
        let [x, y] = with.unbalance().mean.g_mm();
        let off = (y.atan2(x) - truth.theta_rad + PI).rem_euclid(TAU) - PI;
        println!(
            "seed {seed}: heavy side ± {:.1}° alone, correlation {:.4}; estimate ± {:.2}° against ± {:.2}° without, off by {:.2}°",
            fit.heavy_sd_rad.to_degrees(),
            fit.correlation_heavy_drift,
            sharp.to_degrees(),
            blunt.to_degrees(),
            off.to_degrees()
        );
        assert!(sharp < 0.7 * blunt && off.abs() < 4.0 * sharp, "seed {seed}");
    }
    assert!(seen >= 3);
}
