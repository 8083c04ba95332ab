//! The rarer looks of the virtual bench against the statics and the motion that they stand for.

use rand::SeedableRng;
use rand_xoshiro::Xoshiro256PlusPlus;
use stillwheel_physics::bench::look::{Reading, Weight};
use stillwheel_physics::bench::next_step::Reader;
use stillwheel_physics::bench::virtual_bench::{Hidden, Recorder, VirtualBench};
use stillwheel_physics::quantity::{Angle, Inertia, RotorAngle, Seconds, Unbalance, UnbalanceVector};

fn bench(seed: u64, drift_sd: f64, friction: f64) -> VirtualBench {
    let reader = Reader {
        settle_sd: Angle::from_deg(3.5),
        time_sd: Seconds::new(0.2),
        amplitude: Angle::from_deg(60.0),
        amplitude_sd: Angle::from_deg(3.0),
        patience: Seconds::new(150.0),
    };
    let hidden = Hidden {
        inertia: Inertia::from_kg_m2(0.0082),
        inertia_rel_sd: 0.05,
        unbalance_about: Unbalance::from_g_mm(400.0),
        drift_sd_g_mm: drift_sd,
        dry_friction_g_mm: friction,
        allowance: Unbalance::from_g_mm(9.7),
        setting_sd: Angle::default(),
        reader,
    };
    VirtualBench::hidden(&hidden, &[], seed)
}

#[test]
fn the_weight_that_holds_balances_the_torque_within_its_step_and_the_friction() {
    for seed in 0..40 {
        let friction = if seed % 2 == 0 { 0.0 } else { 4.0 };
        let b = bench(seed, 2.0, friction);
        let r = b.true_residual();
        // Heavy side level at the right: 90° counter-clockwise from the bottom.
        let bottom = r.at().turned(Angle::from_deg(-90.0));
        let at = r.at().turned(Angle::from_deg(180.0));
        let step = Unbalance::from_g_mm(3.8);
        let (weight, reading) = b.holds(bottom, at, step, &mut Xoshiro256PlusPlus::seed_from_u64(seed)).unwrap();
        // By statics about the axis: drift + (weight − unbalance)·1 (levers of ±1), at most half a step and the friction off.
        let torque = b.stand.drift_g_mm - r.size().g_mm() + weight.g_mm();
        assert!(torque.abs() <= 1.9 + friction + 1e-9, "{torque}");
        let Reading::Holds { sd, .. } = reading else { panic!("{reading:?}") };
        // Spread evenly over a step: step/√12; over twice the friction: friction/√3.
        assert!((sd.g_mm() - (3.8_f64.powi(2) / 12.0 + friction.powi(2) / 3.0).sqrt()).abs() < 1e-9);
        // On the heavy side no weight can hold it.
        assert!(b.holds(bottom, r.at(), step, &mut Xoshiro256PlusPlus::seed_from_u64(seed)).is_none());
    }
}

#[test]
fn a_swing_log_obeys_the_conservation_of_energy_but_for_its_drag() {
    let b = bench(3, 0.0, 0.0);
    let r = b.true_residual();
    let recorder = Recorder { seconds: 40.0, per_second: 30.0, angle_sd: Angle::default() };
    let (t, phi) = b.swing_log(&recorder, &mut Xoshiro256PlusPlus::seed_from_u64(3)).unwrap();
    assert_eq!((t.len(), phi.len()), (1200, 1200));
    // Heavy side from straight down; at a turning point all energy is U·(1 − cos ψ). Viscous drag takes amplitude as
    // e^(−c·t/2J) (any mechanics book), c/J = 0.008 1/s: between 60° and 48° after 40 s, and never more than at the start.
    let psi: Vec<f64> = phi.iter().map(|p| (p + r.at().rad()).to_degrees()).map(|d| (d + 180.0).rem_euclid(360.0) - 180.0).collect();
    let first = psi[0].abs();
    let last = psi[1000..].iter().fold(0.0_f64, |m, p| m.max(p.abs()));
    assert!(psi.iter().all(|p| p.abs() <= first + 1e-6));
    let expected = first * (-0.004_f64 * 35.0).exp();
    assert!((last / expected - 1.0).abs() < 0.05, "{first}° falls to {last}°, {expected}° expected");
}

#[test]
fn half_a_turn_on_the_arbor_turns_the_arbor_s_error_and_nothing_else() {
    let sd = Unbalance::from_g_mm(20.0);
    let seat = |deg: f64| bench(5, 0.0, 0.0).turned_on_arbor(Angle::from_deg(deg), sd, 5).true_residual();
    let (first, half) = (seat(0.0), seat(180.0));
    assert!((first - bench(5, 0.0, 0.0).true_residual()).size().g_mm() < 1e-9, "at the first seat nothing is turned");
    // Rotor and arbor r + a, then r − a: the quarter turns r + a turned by −90° and +90° have the same mean r.
    let rotor = [first, half].into_iter().sum::<UnbalanceVector>().g_mm();
    let quarters = [seat(90.0), seat(270.0)].into_iter().sum::<UnbalanceVector>().g_mm();
    assert!((rotor[0] - quarters[0]).hypot(rotor[1] - quarters[1]) < 1e-9);
    let arbor = (first - half).size().g_mm() / 2.0;
    assert!(arbor > 0.0 && ((seat(90.0) - seat(270.0)).size().g_mm() / 2.0 - arbor).abs() < 1e-9);
}

#[test]
fn a_trial_weight_adds_its_vector() {
    let trial = Weight { moment: Unbalance::from_g_mm(76.0), at: RotorAngle::from_deg(30.0) };
    let b = bench(9, 0.0, 0.0);
    let before = b.true_residual();
    assert!((b.with_trial(trial).true_residual() - before - trial.vector()).size().g_mm() < 1e-9);
}
