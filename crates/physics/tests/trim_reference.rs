//! Trim in place against published examples, closed forms, and its laws.

#[path = "../../../reference/check.rs"]
mod check;

use check::Case;
use proptest::prelude::*;
use rand::SeedableRng;
use rand_distr::{Distribution, StandardNormal};
use rand_xoshiro::Xoshiro256PlusPlus;
use stillwheel_physics::grinder::trim::{AmplitudeRun, HOLDS_95, Influence, PhaseRun, from_amplitudes, from_phases};
use stillwheel_physics::quantity::{Angle, RotorAngle, Unbalance, UnbalanceVector};

fn at(size: f64, deg: f64) -> UnbalanceVector {
    UnbalanceVector::polar(Unbalance::from_g_mm(size), RotorAngle::from_deg(deg))
}

fn run(trial: UnbalanceVector, amplitude: f64, rel_sd: f64) -> AmplitudeRun {
    AmplitudeRun { trial, amplitude, amplitude_sd: rel_sd * amplitude }
}

/// The four runs of a case: the first as it is, known to `first_sd`; the others to 3 %.
fn four_runs(case: &Case, [first, others, trial]: [&str; 3], first_sd: f64) -> Vec<AmplitudeRun> {
    let mut runs = vec![run(UnbalanceVector::default(), case.input(first), first_sd)];
    let angles = case.inputs("trial_deg");
    runs.extend(case.inputs(others).iter().zip(angles).map(|(a, deg)| run(at(case.input(trial), deg), *a, 0.03)));
    runs
}

#[test]
fn four_runs_without_phase_give_back_the_unbalance_of_the_derived_cases() {
    for (id, names) in [
        ("FR-02", ["O_um", "A_um", "trial_g_mm"]),
        ("FR-03", ["O_mm_s", "A_mm_s", "trial_g_mm"]),
        ("FR-04", ["O_um", "A_um", "trial_g_mm"]),
    ] {
        let case = Case::of(id);
        let fit = from_amplitudes(&four_runs(&case, names, 0.03)).expect(id);
        assert_eq!(fit.found.len(), 1, "{id}: {fit:?}");
        let u = fit.found[0].unbalance;
        case.check("U_g_mm", u.size().g_mm());
        case.check("heavy_deg", u.at().deg());
        case.check("correction_deg", (-u).at().deg());
        assert!(fit.agreement.probability > 0.9, "{id}: {fit:?}");
    }
}

#[test]
fn the_published_four_runs_give_both_sizes_of_the_plain_solution_and_the_fit_of_the_circles() {
    let case = Case::of("FR-01");
    // The published drawing takes the first reading as the exact radius: so here too. All circles are drawn alike: equal deviations.
    let mut runs = four_runs(&case, ["O_mil", "A_mil", "trial_mass_g"], 1e-7);
    runs[1..].iter_mut().for_each(|r| r.amplitude_sd = 0.1);
    let fit = from_amplitudes(&runs).expect("published");
    let closure = fit.closure.expect("four runs");
    case.check("heavy_deg", closure.heavy.deg());
    case.check("correction_deg", closure.heavy.turned(Angle::from_deg(180.0)).deg());
    case.check("correction_g_from_sum", closure.from_sum.g_mm());
    case.check("correction_g_from_harmonic", closure.from_harmonic.g_mm());
    case.check("closure_mismatch_percent", 100.0 * closure.mismatch());
    case.check("correction_g_three_circle_fit", fit.found[0].unbalance.size().g_mm());
    case.check("correction_deg_three_circle_fit", (-fit.found[0].unbalance).at().deg());
}

#[test]
fn a_trial_to_both_sides_of_one_line_leaves_two_mirrored_answers() {
    let case = Case::of("FR-10");
    let trial = case.input("trial_g");
    let runs = [
        run(UnbalanceVector::default(), case.input("O"), 0.02),
        run(at(trial, 0.0), case.input("A0"), 0.02),
        run(at(trial, 180.0), case.input("A180"), 0.02),
    ];
    let fit = from_amplitudes(&runs).expect("two answers");
    let [a, b] = fit.found[..] else { panic!("two answers, not {fit:?}") };
    let (plus, minus) = if a.unbalance.at().deg() < 180.0 { (a, b) } else { (b, a) };
    case.check("heavy_deg_plus", plus.unbalance.at().deg());
    case.check("heavy_deg_minus", minus.unbalance.at().deg());
    case.check("U_equiv_g", plus.unbalance.size().g_mm());
    case.check("effect", plus.answer_per_g_mm * trial);
    // The two are told apart best a quarter turn from the line.
    let next = fit.telling_trial(Unbalance::from_g_mm(trial)).expect("two answers").deg();
    assert!((next - 90.0).abs() < 20.0 || (next - 270.0).abs() < 20.0, "{next}");
}

#[test]
fn runs_with_phase_give_the_corrections_of_the_published_problems() {
    for id in ["IC-01", "IC-02"] {
        let case = Case::of(id);
        let reading = |trial, a: &str, phase: &str| PhaseRun {
            trial,
            amplitude: case.input(a),
            amplitude_sd: 0.01 * case.input(a),
            phase_rad: case.input(phase).to_radians(),
            phase_sd_rad: 0.02,
        };
        let runs = [
            reading(UnbalanceVector::default(), "V0_mm", "V0_deg"),
            reading(at(case.input("trial_g"), case.input("trial_deg")), "V1_mm", "V1_deg"),
        ];
        let fit = from_phases(&runs, None).expect(id);
        let correction = -fit.found.unbalance;
        case.check("correction_g", correction.size().g_mm());
        case.check("correction_deg", correction.at().deg());
        // What is left, put together from the machine's answer: V0 + α·W.
        let answer = |u: UnbalanceVector| {
            let [x, y] = u.turned(Angle::from_rad(fit.influence.turned_rad)).g_mm();
            [x * fit.influence.per_g_mm, y * fit.influence.per_g_mm]
        };
        let (wx, v0) = (answer(correction), [runs[0].amplitude * runs[0].phase_rad.cos(), runs[0].amplitude * runs[0].phase_rad.sin()]);
        case.check("residual_mm", (v0[0] + wx[0]).hypot(v0[1] + wx[1]));
    }
}

#[test]
fn static_sums_of_masses_agree_with_the_published_problems() {
    let case = Case::of("VEC-01");
    let sum: UnbalanceVector = case.inputs("mass_g").iter().zip(case.inputs("angle_deg")).map(|(m, a)| at(*m, a)).sum();
    case.check("fourth_g", (-sum).size().g_mm());
    case.check("fourth_deg", (-sum).at().deg());
    let case = Case::of("VEC-02");
    let r = case.input("radius_mm");
    let removed: UnbalanceVector = case.inputs("removed_g").iter().zip(case.inputs("angle_deg")).map(|(m, a)| at(m * r, a)).sum();
    // Holes take mass away: the fifth hole goes where the removed sum does not point.
    case.check("fifth_g", (-removed).size().g_mm() / case.input("fifth_radius_mm"));
    case.check("fifth_deg", (-removed).at().deg());
}

/// A machine with a known answer, read with errors of a known size.
struct Machine {
    unbalance: UnbalanceVector,
    per_g_mm: f64,
    turned_rad: f64,
}

impl Machine {
    fn shows(&self, trial: UnbalanceVector) -> (f64, f64) {
        let v = self.unbalance + trial;
        (self.per_g_mm * v.size().g_mm(), v.at().rad() + self.turned_rad)
    }
}

fn holds_truth(u: UnbalanceVector, truth: UnbalanceVector, [[xx, xy], [_, yy]]: [[f64; 2]; 2]) -> bool {
    let [dx, dy] = (u - truth).g_mm();
    let determinant = xx * yy - xy * xy;
    (yy * dx * dx - 2.0 * xy * dx * dy + xx * dy * dy) / determinant <= HOLDS_95 * HOLDS_95
}

#[test]
fn the_95_percent_region_holds_the_truth_95_times_in_100() {
    const TIMES: u32 = 400;
    let mut rng = Xoshiro256PlusPlus::seed_from_u64(11);
    let mut noise = |sd: f64| -> f64 { sd * <StandardNormal as Distribution<f64>>::sample(&StandardNormal, &mut rng) };
    let (mut by_size, mut by_phase) = (0, 0);
    let trials: Vec<UnbalanceVector> =
        std::iter::once(UnbalanceVector::default()).chain((0..6).map(|k| at(150.0, 60.0 * f64::from(k)))).collect();
    for k in 0..TIMES {
        let machine = Machine { unbalance: at(120.0, 7.3 * f64::from(k)), per_g_mm: 0.01, turned_rad: 0.7 };
        let sd = 0.03;
        let runs: Vec<AmplitudeRun> = trials
            .iter()
            .map(|t| AmplitudeRun { trial: *t, amplitude: (machine.shows(*t).0 + noise(sd)).max(0.0), amplitude_sd: sd })
            .collect();
        let fit = from_amplitudes(&runs).expect("seven runs");
        // Widening by the scatter factor makes regions wider than 95 %; the law is for the stated deviations.
        let narrow = fit.found[0].covariance_g_mm2.map(|r| r.map(|v| v / fit.agreement.scatter_factor.powi(2)));
        by_size += u32::from(holds_truth(fit.found[0].unbalance, machine.unbalance, narrow));
        let runs: Vec<PhaseRun> = trials[..3]
            .iter()
            .map(|t| {
                let (a, p) = machine.shows(*t);
                let v = [a * p.cos() + noise(sd), a * p.sin() + noise(sd)];
                let a = v[0].hypot(v[1]);
                PhaseRun { trial: *t, amplitude: a, amplitude_sd: sd, phase_rad: v[1].atan2(v[0]), phase_sd_rad: sd / a }
            })
            .collect();
        let fit = from_phases(&runs, None).expect("three runs");
        let narrow = fit.found.covariance_g_mm2.map(|r| r.map(|v| v / fit.agreement.scatter_factor.powi(2)));
        by_phase += u32::from(holds_truth(fit.found.unbalance, machine.unbalance, narrow));
    }
    // 95 % of 400 is 380 with a standard deviation of 4.4; three of them to either side.
    for (name, held) in [("amplitudes only", by_size), ("with phase", by_phase)] {
        check::row(
            "TRIM-95",
            &format!("share of regions that hold the truth, {name}"),
            check::Kind::ClosedFormOrTable,
            "definition of a 95 % region; 400 simulated trims, three standard deviations of their number",
            0.95,
            f64::from(held) / f64::from(TIMES),
            check::Tolerance::Absolute(0.033),
        );
    }
}

#[test]
fn repeated_runs_that_differ_by_more_than_stated_are_told() {
    let steady = |a: f64| AmplitudeRun { trial: UnbalanceVector::default(), amplitude: a, amplitude_sd: 0.02 };
    let others = [at(100.0, 0.0), at(100.0, 120.0), at(100.0, 240.0)];
    let machine = Machine { unbalance: at(80.0, 40.0), per_g_mm: 0.02, turned_rad: 0.0 };
    let runs = |first: &[f64]| -> Vec<AmplitudeRun> {
        let told = others.iter().map(|t| AmplitudeRun { trial: *t, amplitude: machine.shows(*t).0, amplitude_sd: 0.02 });
        first.iter().map(|a| steady(*a)).chain(told).collect()
    };
    let good = from_amplitudes(&runs(&[1.61, 1.59, 1.60])).expect("good").repeats.expect("repeats");
    assert!(good.repeats == 2 && good.times_stated < 1.0 && good.probability > 0.3, "{good:?}");
    let bad = from_amplitudes(&runs(&[1.9, 1.3, 1.6])).expect("bad").repeats.expect("repeats");
    assert!(bad.times_stated > 10.0 && bad.probability < 1e-6, "{bad:?}");
    // Stated as a share of each reading, they differ as much.
    let shares: Vec<AmplitudeRun> = runs(&[1.9, 1.3]).iter().map(|r| AmplitudeRun { amplitude_sd: 0.02 * r.amplitude, ..*r }).collect();
    let bad = from_amplitudes(&shares).expect("bad").repeats.expect("repeats");
    assert!(bad.times_stated > 10.0, "{bad:?}");
}

#[test]
fn phases_that_were_counted_the_other_way_round_are_told() {
    let machine = Machine { unbalance: at(80.0, 40.0), per_g_mm: 0.02, turned_rad: 1.1 };
    let runs: Vec<PhaseRun> = [UnbalanceVector::default(), at(60.0, 0.0), at(60.0, 90.0)]
        .iter()
        .map(|t| {
            let (amplitude, phase) = machine.shows(*t);
            PhaseRun { trial: *t, amplitude, amplitude_sd: 0.03 * amplitude, phase_rad: -phase, phase_sd_rad: 0.03 }
        })
        .collect();
    let fit = from_phases(&runs, None).expect("fits badly");
    assert!(fit.agreement.probability < 1e-3, "{fit:?}");
    assert!(fit.other_sense.probability > 0.9, "{fit:?}");
}

#[test]
fn with_the_machines_answer_known_one_run_is_enough() {
    let machine = Machine { unbalance: at(33.0, 250.0), per_g_mm: 0.02, turned_rad: -2.0 };
    let (amplitude, phase_rad) = machine.shows(UnbalanceVector::default());
    let run = PhaseRun { trial: UnbalanceVector::default(), amplitude, amplitude_sd: 0.01, phase_rad, phase_sd_rad: 0.02 };
    let known = Influence { per_g_mm: 0.02, turned_rad: -2.0, rel_sd: 0.05 };
    let fit = from_phases(&[run], Some(&known)).expect("one run");
    assert!((fit.found.unbalance - machine.unbalance).size().g_mm() < 1e-9);
    // Errors of independent parts add by squares: 0.01/0.66 of the reading and 5 % of the answer, along the unbalance.
    let along = fit.found.along_across_g_mm()[0];
    assert!((along / 33.0 - 0.05_f64.hypot(0.01 / 0.66)).abs() < 1e-9, "{along}");
}

#[test]
fn what_can_not_be_answered_is_a_fault_that_says_what_to_do() {
    let zero = UnbalanceVector::default();
    let good = |t| run(t, 1.0, 0.03);
    let rows: Vec<(&str, Vec<AmplitudeRun>, &str)> = vec![
        ("two runs", vec![good(zero), good(at(50.0, 0.0))], "runs"),
        ("one place", vec![good(zero), good(at(50.0, 0.0)), good(at(50.0, 0.0)), good(at(50.0, 0.0))], "runs"),
        (
            "no vibration",
            (0..4).map(|k| AmplitudeRun { amplitude_sd: 0.1, ..run(at(50.0, 90.0 * f64::from(k)), 0.0, 1.0) }).collect(),
            "runs",
        ),
        ("no effect", std::iter::once(zero).chain((0..3).map(|k| at(1.0, 120.0 * f64::from(k)))).map(good).collect(), "runs"),
        ("NaN", vec![good(zero), run(at(50.0, 0.0), f64::NAN, 0.03), good(at(50.0, 120.0))], "runs[1].amplitude"),
        ("negative", vec![good(zero), run(at(50.0, 0.0), -1.0, 0.03), good(at(50.0, 120.0))], "runs[1].amplitude"),
        ("no deviation", vec![good(zero), run(at(50.0, 0.0), 1.0, 0.0), good(at(50.0, 120.0))], "runs[1].amplitude_sd"),
    ];
    for (name, runs, field) in rows {
        let fault = from_amplitudes(&runs).expect_err(name);
        assert_eq!(fault.field, field, "{name}: {fault}");
    }
    let phased = |trial, amplitude| PhaseRun { trial, amplitude, amplitude_sd: 0.03, phase_rad: 0.4, phase_sd_rad: 0.03 };
    assert_eq!(from_phases(&[phased(zero, 1.0)], None).expect_err("one run").field, "runs");
    assert_eq!(from_phases(&[phased(zero, 1.0), phased(zero, 1.0)], None).expect_err("no trial").field, "runs");
    assert_eq!(from_phases(&[phased(zero, 1.0), phased(at(50.0, 0.0), 1.001)], None).expect_err("no effect").field, "runs");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    // Laws: any machine read without error is found; turning all weights turns the answer; another unit of the reading changes nothing.
    #[test]
    fn exact_readings_give_the_truth_and_turn_and_scale_with_it(
        size in 5.0..2000.0_f64, deg in 0.0..360.0_f64, trial in 20.0..800.0_f64, by in 0.0..360.0_f64, unit in 1e-3..1e3_f64,
        first in 0.0..360.0_f64,
    ) {
        let machine = Machine { unbalance: at(size, deg), per_g_mm: 0.01, turned_rad: 0.4 };
        let trials = [at(0.0, 0.0), at(trial, first), at(trial, first + 110.0), at(trial, first + 230.0), at(0.6 * trial, first + 45.0)];
        let runs = |turn: f64, unit: f64| -> Vec<AmplitudeRun> {
            trials.iter().map(|t| {
                let a = machine.shows(*t).0 * unit;
                AmplitudeRun { trial: t.turned(Angle::from_deg(turn)), amplitude: a, amplitude_sd: 0.002 * unit * machine.per_g_mm * size.max(trial) }
            }).collect()
        };
        let near = |u: UnbalanceVector, truth: UnbalanceVector| (u - truth).size().g_mm() < 1e-5 * size.max(trial);
        prop_assert!(near(from_amplitudes(&runs(0.0, 1.0)).unwrap().found[0].unbalance, machine.unbalance));
        prop_assert!(near(from_amplitudes(&runs(by, 1.0)).unwrap().found[0].unbalance, machine.unbalance.turned(Angle::from_deg(by))));
        prop_assert!(near(from_amplitudes(&runs(0.0, unit)).unwrap().found[0].unbalance, machine.unbalance));
    }

    #[test]
    fn exact_readings_with_phase_give_the_truth_and_turn_with_it(
        size in 5.0..2000.0_f64, deg in 0.0..360.0_f64, trial in 20.0..800.0_f64, lag in -3.0..3.0_f64, by in 0.0..360.0_f64,
    ) {
        let machine = Machine { unbalance: at(size, deg), per_g_mm: 0.01, turned_rad: lag };
        let runs = |turn: f64| -> Vec<PhaseRun> {
            [at(0.0, 0.0), at(trial, 70.0), at(trial, 200.0)].iter().map(|t| {
                // Weights and mark turned alike: the phase goes with them.
                let (amplitude, phase) = machine.shows(*t);
                let sd = 0.002 * machine.per_g_mm * size.max(trial);
                PhaseRun { trial: t.turned(Angle::from_deg(turn)), amplitude, amplitude_sd: sd, phase_rad: phase + turn.to_radians(), phase_sd_rad: (sd / amplitude).min(1.0) }
            }).collect()
        };
        for turn in [0.0, by] {
            let fit = from_phases(&runs(turn), None).unwrap();
            let truth = machine.unbalance.turned(Angle::from_deg(turn));
            prop_assert!((fit.found.unbalance - truth).size().g_mm() < 1e-7 * size.max(trial));
            prop_assert!((fit.influence.per_g_mm / 0.01 - 1.0).abs() < 1e-7);
            prop_assert!((fit.influence.turned_rad - lag).abs() < 1e-7);
        }
    }
}
