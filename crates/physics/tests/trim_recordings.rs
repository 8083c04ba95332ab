//! The once-per-turn part of recordings against SciPy and against signals of known content.

#[path = "../../../reference/check.rs"]
mod check;

use check::{Kind, Tolerance};
use proptest::prelude::*;
use rand::SeedableRng;
use rand_distr::{Distribution, StandardNormal};
use rand_xoshiro::Xoshiro256PlusPlus;
use std::f64::consts::TAU;
use stillwheel_physics::grinder::trim::{Looked, Recording, flat_top_share, once_per_turn};
use stillwheel_physics::quantity::RotationalSpeed;

const SOURCE: &str = "SciPy 1.17.1 and NumPy 2.4.6 (reference/scripts/once_per_turn_scipy.py)";

fn about(rpm: f64) -> Looked {
    Looked { speed: Some(RotationalSpeed::from_rpm(rpm)), within: 0.05 }
}

#[test]
fn amplitude_phase_and_speed_agree_with_scipy() {
    let file = check::reference("fixtures/once_per_turn.json");
    for case in file["cases"].as_array().expect("cases") {
        let list =
            |name: &str| -> Option<Vec<f64>> { Some(case[name].as_array()?.iter().map(|v| v.as_f64().expect("a number")).collect()) };
        let (signal, tach) = (list("signal").expect("a signal"), list("tach"));
        let rate_hz = case["rate_hz"].as_f64().expect("a rate");
        let recording = Recording { rate_hz, signal: &signal, tach: tach.as_deref() };
        let got = once_per_turn(&recording, &about(case["speed_rpm"].as_f64().expect("a speed"))).expect("a line");
        let id = format!("LOCK {}", case["name"].as_str().expect("a name"));
        let expected = |name: &str| case["expected"][name].as_f64();
        let row = |what: &str, expected: Option<f64>, got: f64, tolerance: Tolerance| {
            check::row(&id, what, Kind::OutsideLibrary, SOURCE, expected.expect(what), got, tolerance);
        };
        // A windowed sum and weighted least squares differ by what leaks between lines: far below their noise.
        row("amplitude", expected("amplitude"), got.amplitude, Tolerance::Absolute(0.1 * got.amplitude_sd));
        row("speed, r/min", expected("speed_rpm"), got.speed.rpm(), Tolerance::Absolute(0.1 * got.speed_sd_rpm + 1e-6));
        row(
            "amplitude of the second multiple",
            expected("second"),
            got.orders[0].amplitude,
            Tolerance::Absolute(0.1 * got.orders[0].amplitude_sd),
        );
        if let Some(phase) = expected("phase_deg") {
            let (rad, sd) = got.phase_rad.expect("there is a mark");
            row("phase, degrees", Some(phase), rad.to_degrees(), Tolerance::Absolute(0.1 * sd.to_degrees()));
        }
    }
}

struct Signal {
    rate: f64,
    rpm: f64,
    amplitude: f64,
    phase: f64,
    seconds: f64,
    noise: f64,
    /// Order and amplitude.
    others: Vec<(f64, f64)>,
}

impl Signal {
    fn samples(&self, seed: u64) -> Vec<f64> {
        let mut rng = Xoshiro256PlusPlus::seed_from_u64(seed);
        (0..(self.rate * self.seconds) as usize)
            .map(|i| {
                let theta = TAU * self.rpm / 60.0 * i as f64 / self.rate;
                let noise: f64 = StandardNormal.sample(&mut rng);
                let others: f64 = self.others.iter().map(|(o, a)| a * (o * theta + 1.0).sin()).sum();
                self.amplitude * (theta + self.phase).cos() + others + self.noise * noise
            })
            .collect()
    }
    /// A pulse as the zero angle passes.
    fn tach(&self) -> Vec<f64> {
        (0..(self.rate * self.seconds) as usize)
            .map(|i| {
                // A straight flank over a tenth of a turn, half height at angle zero.
                let turn = (self.rpm / 60.0 * i as f64 / self.rate + 0.05).fract();
                if turn < 0.1 {
                    turn / 0.1
                } else if turn < 0.4 {
                    1.0
                } else {
                    0.0
                }
            })
            .collect()
    }
}

fn plain() -> Signal {
    Signal { rate: 2000.0, rpm: 2863.3, amplitude: 0.8, phase: 0.9, seconds: 3.0, noise: 0.1, others: Vec::new() }
}

#[test]
fn the_stated_deviations_hold_for_amplitude_phase_and_speed() {
    const TIMES: u64 = 60;
    let signal = plain();
    let (mut amplitude, mut phase, mut speed) = (0.0, 0.0, 0.0);
    for seed in 0..TIMES {
        let (x, tach) = (signal.samples(seed), signal.tach());
        let got = once_per_turn(&Recording { rate_hz: 2000.0, signal: &x, tach: Some(&tach) }, &about(2860.0)).expect("a line");
        let (rad, sd) = got.phase_rad.expect("a mark");
        phase += ((rad - 0.9) / sd).powi(2);
        let got = once_per_turn(&Recording { rate_hz: 2000.0, signal: &x, tach: None }, &about(2860.0)).expect("a line");
        amplitude += ((got.amplitude - 0.8) / got.amplitude_sd).powi(2);
        speed += ((got.speed.rpm() - 2863.3) / got.speed_sd_rpm).powi(2);
    }
    for (what, sum) in [("amplitude", amplitude), ("phase", phase), ("speed", speed)] {
        check::row(
            "LOCK-SD",
            &format!("error over stated standard deviation, root mean square over 60 recordings: {what}"),
            Kind::ClosedFormOrTable,
            "definition of a standard deviation; noise of known size",
            1.0,
            (sum / TIMES as f64).sqrt(),
            Tolerance::Absolute(0.3),
        );
    }
}

#[test]
fn a_larger_second_multiple_leaves_the_once_per_turn_part_alone_and_is_told() {
    let signal = Signal { others: vec![(2.0, 3.0), (3.0, 0.5)], noise: 0.01, ..plain() };
    let x = signal.samples(7);
    let got = once_per_turn(&Recording { rate_hz: 2000.0, signal: &x, tach: None }, &about(2860.0)).expect("a line");
    assert!((got.amplitude - 0.8).abs() < 4.0 * got.amplitude_sd, "{got:?}");
    assert!((got.orders[0].amplitude - 3.0).abs() < 0.01 && got.orders[0].order == 2, "{got:?}");
    assert!((got.orders[1].amplitude - 0.5).abs() < 0.01, "{got:?}");
    assert!((got.strongest.frequency_hz - 2.0 * 2863.3 / 60.0).abs() < 0.05 && got.strongest.of_the_wheel, "{got:?}");
    // Two sines of 3 and 0.5: mean square (9 + 0.25)/2.
    assert!((got.rest_rms - (9.25_f64 / 2.0).sqrt()).abs() < 0.02, "{got:?}");
}

#[test]
fn at_a_wrong_speed_nothing_stands_out_and_the_true_line_is_named() {
    let x = plain().samples(3);
    let got = once_per_turn(&Recording { rate_hz: 2000.0, signal: &x, tach: None }, &about(2000.0)).expect("answered");
    assert!(!got.stands_out() || got.amplitude < 0.05, "{got:?}");
    assert!(!got.strongest.of_the_wheel && (60.0 * got.strongest.frequency_hz - 2863.3).abs() < 1.0, "{got:?}");
    assert!((got.strongest.amplitude - 0.8).abs() < 0.02, "{got:?}");
    // With a mark's channel a wrong speed is refused.
    let tach = plain().tach();
    let fault = once_per_turn(&Recording { rate_hz: 2000.0, signal: &x, tach: Some(&tach) }, &about(2000.0)).expect_err("wrong speed");
    assert_eq!(fault.field, "speed_rpm", "{fault}");
}

#[test]
fn a_cut_recording_shows_its_flat_tops_and_a_coarse_sine_has_none() {
    let signal = Signal { noise: 0.0, ..plain() };
    let cut: Vec<f64> = signal.samples(1).iter().map(|x| x.clamp(-0.6, 0.6)).collect();
    // A sine is above 3/4 of its crest for arccos(0.75)/π of the time.
    let share = 2.0 * 0.75_f64.acos() / std::f64::consts::PI;
    assert!((flat_top_share(&cut) - share).abs() < 0.01, "{}", flat_top_share(&cut));
    for steps in [4.0, 16.0, 100.0, 1000.0] {
        for noise in [0.0, 0.02] {
            let coarse: Vec<f64> = Signal { noise, ..plain() }.samples(1).iter().map(|x| (x * steps).round()).collect();
            assert_eq!(flat_top_share(&coarse), 0.0, "{steps} steps, noise {noise}");
        }
    }
}

#[test]
fn a_recording_that_can_not_be_read_is_a_fault_that_names_it() {
    let (x, tach) = (plain().samples(1), plain().tach());
    let mut missing = tach.clone();
    missing[2000..2042].fill(0.0);
    let mut broken = x.clone();
    broken[17] = f64::NAN;
    let short = &x[..400];
    let still = vec![0.25; 6000];
    let rows: [(&str, Recording<'_>, Looked, &str); 8] = [
        ("no speed", Recording { rate_hz: 2000.0, signal: &x, tach: None }, Looked { speed: None, within: 0.05 }, "speed_rpm"),
        ("a pulse is missing", Recording { rate_hz: 2000.0, signal: &x, tach: Some(&missing) }, about(2860.0), "tach"),
        ("another length", Recording { rate_hz: 2000.0, signal: &x, tach: Some(&tach[1..]) }, about(2860.0), "tach"),
        ("no mark seen", Recording { rate_hz: 2000.0, signal: &x, tach: Some(&still) }, about(2860.0), "tach"),
        ("NaN", Recording { rate_hz: 2000.0, signal: &broken, tach: None }, about(2860.0), "signal[17]"),
        ("too short", Recording { rate_hz: 2000.0, signal: short, tach: None }, about(2860.0), "signal"),
        ("too slow", Recording { rate_hz: 150.0, signal: &x, tach: None }, about(2860.0), "rate_hz"),
        ("silent", Recording { rate_hz: 2000.0, signal: &still, tach: None }, about(2860.0), "signal"),
    ];
    for (name, recording, looked, field) in rows {
        let fault = once_per_turn(&recording, &looked).expect_err(name);
        assert_eq!(fault.field, field, "{name}: {fault}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    // Law: a pure line of any speed, phase and size comes back, with the phase counted from the mark.
    #[test]
    fn a_pure_line_comes_back(rpm in 900.0..6000.0_f64, amplitude in 1e-3..1e3_f64, phase in -3.1..3.1_f64, off in -0.03..0.03_f64) {
        let signal = Signal { rpm, amplitude, phase, noise: 0.0, ..plain() };
        let (x, tach) = (signal.samples(0), signal.tach());
        let looked = about(rpm * (1.0 + off));
        let got = once_per_turn(&Recording { rate_hz: 2000.0, signal: &x, tach: None }, &looked).unwrap();
        prop_assert!((got.amplitude / amplitude - 1.0).abs() < 1e-4, "{:?}", got);
        prop_assert!((got.speed.rpm() / rpm - 1.0).abs() < 1e-5, "{:?}", got);
        let got = once_per_turn(&Recording { rate_hz: 2000.0, signal: &x, tach: Some(&tach) }, &looked).unwrap();
        prop_assert!((got.amplitude / amplitude - 1.0).abs() < 1e-3, "{:?}", got);
        prop_assert!((got.phase_rad.unwrap().0 - phase).abs() < 2e-3, "{:?}", got);
    }
}
