//! The wheel head measured: stiffness and ring-down against closed forms, and the stated deviations against simulated noise.

#[path = "../../../reference/check.rs"]
mod check;

use check::{Kind, Tolerance};
use proptest::prelude::*;
use rand::SeedableRng;
use rand_distr::{Distribution, StandardNormal};
use rand_xoshiro::Xoshiro256PlusPlus;
use std::f64::consts::{PI, TAU};
use stillwheel_physics::grinder::measured_head::{Pull, rung_down, stiffness};

fn noise(seed: u64) -> impl FnMut() -> f64 {
    let mut rng = Xoshiro256PlusPlus::seed_from_u64(seed);
    move || StandardNormal.sample(&mut rng)
}

/// Still for a while, then a tap: modes of (natural Hz, damping, amplitude).
fn tap(modes: &[(f64, f64, f64)], rate: f64, seconds: f64, hiss: f64, seed: u64) -> Vec<f64> {
    let mut noise = noise(seed);
    (0..(rate * seconds) as usize)
        .map(|i| {
            let t = i as f64 / rate - 0.05;
            let ring: f64 = modes
                .iter()
                .map(|(hz, zeta, a)| {
                    let w = TAU * hz;
                    if t < 0.0 { 0.0 } else { a * (-zeta * w * t).exp() * (w * (1.0 - zeta * zeta).sqrt() * t).cos() }
                })
                .sum();
            0.2 + ring + hiss * noise()
        })
        .collect()
}

#[test]
fn frequency_damping_and_logarithmic_decrement_of_a_known_ring_down_come_back() {
    for (hz, zeta) in [(118.0, 0.04), (45.0, 0.02), (230.0, 0.1)] {
        let x = tap(&[(hz, zeta, 1.0)], 8000.0, 1.2, 1e-4, 1);
        let got = rung_down(8000.0, &x).expect("rings");
        let first = got.modes[0];
        let id = format!("TAP {hz} Hz");
        let source = "free vibration with viscous damping, Rao ch. 2; made from these values";
        check::row(&id, "natural frequency, Hz", Kind::ClosedFormOrTable, source, hz, first.natural_hz, Tolerance::Relative(1e-4));
        check::row(&id, "damping ratio", Kind::ClosedFormOrTable, source, zeta, first.damping, Tolerance::Relative(2e-3));
        // By the peaks themselves: ln of successive crests is 2πζ/√(1 − ζ²). The sampled crests of the very signal.
        let crest = |k: f64| {
            let at = 0.05 + k / (hz * (1.0 - zeta * zeta).sqrt());
            let i = (at * 8000.0).round() as usize;
            x[i - 8..=i + 8].iter().copied().fold(f64::MIN, f64::max) - 0.2
        };
        let decrement = (crest(1.0) / crest(3.0)).ln() / 2.0;
        let ours = 2.0 * PI * first.damping / (1.0 - first.damping.powi(2)).sqrt();
        check::row(
            &id,
            "logarithmic decrement",
            Kind::ClosedFormOrTable,
            "heights of the second and fourth crest of the same recording",
            decrement,
            ours,
            Tolerance::Absolute(0.02),
        );
    }
}

#[test]
fn two_modes_are_told_apart_and_the_stronger_comes_first() {
    let x = tap(&[(118.0, 0.03, 1.0), (310.0, 0.015, 0.5)], 8000.0, 1.0, 1e-3, 4);
    let got = rung_down(8000.0, &x).expect("rings");
    assert!(got.modes.len() >= 2, "{got:?}");
    let (a, b) = (got.modes[0], got.modes[1]);
    assert!((a.natural_hz - 118.0).abs() < 0.1 && (a.damping - 0.03).abs() < 3e-4 && (a.amplitude - 1.0).abs() < 0.05, "{a:?}");
    assert!((b.natural_hz - 310.0).abs() < 0.1 && (b.damping - 0.015).abs() < 3e-4, "{b:?}");
}

#[test]
fn the_stated_deviations_hold() {
    const TIMES: u64 = 60;
    let (mut hz, mut zeta, mut k) = (0.0, 0.0, 0.0);
    for seed in 0..TIMES {
        let got = rung_down(4000.0, &tap(&[(118.0, 0.04, 1.0)], 4000.0, 0.8, 0.03, seed)).expect("rings").modes[0];
        hz += ((got.natural_hz - 118.0) / got.natural_sd_hz).powi(2);
        zeta += ((got.damping - 0.04) / got.damping_sd).powi(2);
        let mut noise = noise(seed);
        let pulls: Vec<Pull> = (0..6)
            .map(|i| Pull { force_n: 40.0 * f64::from(i), deflection_um: 3.0 + 40.0 * f64::from(i) / 25.0 + 0.5 * noise() })
            .collect();
        let got = stiffness(&pulls, 0.5).expect("a line");
        k += ((got.n_um - 25.0) / got.sd_n_um).powi(2);
    }
    for (what, sum) in [("natural frequency", hz), ("damping", zeta), ("stiffness", k)] {
        check::row(
            "HEAD-SD",
            &format!("error over stated standard deviation, root mean square over 60 simulated measurements: {what}"),
            Kind::ClosedFormOrTable,
            "definition of a standard deviation; noise of known size",
            1.0,
            (sum / TIMES as f64).sqrt(),
            Tolerance::Absolute(0.35),
        );
    }
}

#[test]
fn one_pull_is_force_over_deflection_and_more_are_a_line_whatever_the_zero() {
    let one = stiffness(&[Pull { force_n: 100.0, deflection_um: 4.0 }], 0.2).expect("one pull");
    assert!((one.n_um - 25.0).abs() < 1e-12 && (one.sd_n_um - 25.0 * 0.05).abs() < 1e-9, "{one:?}");
    let pulls: Vec<Pull> = [0.0, 50.0, 100.0, 150.0].map(|f| Pull { force_n: f, deflection_um: 7.0 + f / 20.0 }).to_vec();
    let line = stiffness(&pulls, 0.2).expect("a line");
    assert!((line.n_um - 20.0).abs() < 1e-9 && (line.zero_um - 7.0).abs() < 1e-9 && line.scatter_um.expect("spare") < 1e-9, "{line:?}");
}

#[test]
fn what_can_not_be_measured_is_a_fault_that_says_what_to_do() {
    let pull = |force_n, deflection_um| Pull { force_n, deflection_um };
    for (name, pulls, sd, field) in [
        ("none", vec![], 0.5, "pulls"),
        ("one force", vec![pull(50.0, 2.0), pull(50.0, 2.1)], 0.5, "pulls"),
        ("too small", vec![pull(0.0, 0.0), pull(50.0, 0.6)], 0.5, "pulls"),
        ("against", vec![pull(0.0, 0.0), pull(50.0, -20.0)], 0.5, "pulls"),
        ("NaN", vec![pull(f64::NAN, 1.0)], 0.5, "pulls[0].force_n"),
        ("perfect indicator", vec![pull(50.0, 2.0)], 0.0, "indicator_sd_um"),
    ] {
        let fault = stiffness(&pulls, sd).expect_err(name);
        assert_eq!(fault.field, field, "{name}: {fault}");
    }
    let mut hiss = noise(2);
    let only_noise: Vec<f64> = (0..4000).map(|_| hiss()).collect();
    let hum: Vec<f64> = (0..4000).map(|i| (0.3 * f64::from(i)).sin()).collect();
    for (name, signal) in [("noise", only_noise), ("hum", hum), ("silence", vec![1.0; 4000]), ("short", vec![1.0; 8])] {
        let fault = rung_down(4000.0, &signal).expect_err(name);
        assert_eq!(fault.field, "signal", "{name}: {fault}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]

    // Law: any single mode comes back, in any unit of the sensor; a slower clock scales the frequency and leaves the damping.
    #[test]
    fn a_single_mode_comes_back(hz in 20.0..400.0_f64, zeta in 0.008..0.15_f64, unit in 1e-3..1e3_f64) {
        let x: Vec<f64> = tap(&[(hz, zeta, 1.0)], 6000.0, 1.0, 1e-4, 9).iter().map(|v| v * unit).collect();
        let got = rung_down(6000.0, &x).unwrap().modes[0];
        prop_assert!((got.natural_hz / hz - 1.0).abs() < 2e-3, "{:?}", got);
        prop_assert!((got.damping / zeta - 1.0).abs() < 0.02, "{:?}", got);
        let slow = rung_down(3000.0, &x).unwrap().modes[0];
        prop_assert!((slow.natural_hz / got.natural_hz - 0.5).abs() < 1e-6);
        prop_assert!((slow.damping / got.damping - 1.0).abs() < 1e-6);
    }
}
