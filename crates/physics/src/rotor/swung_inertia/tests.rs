use super::*;
use crate::numerics::elliptic_k;
use rand::SeedableRng;
use rand_distr::{Distribution, Normal};
use rand_xoshiro::Xoshiro256PlusPlus;

/// The truth played forward in SI, apart from the code under test: period and settle angle of a rotor with a trial.
fn play(i_kg_m2: f64, u: [f64; 2], trial: Option<(f64, f64, f64)>, amplitude_deg: f64) -> (f64, f64) {
    let (m, r, at) = trial.unwrap_or_default();
    let total = [u[0] + m * r * at.to_radians().cos(), u[1] + m * r * at.to_radians().sin()];
    let inertia = i_kg_m2 + m * 1e-3 * (r * 1e-3).powi(2);
    let omega0 = (total[0].hypot(total[1]) * 1e-6 * 9.80665 / inertia).sqrt();
    let k = elliptic_k((amplitude_deg.to_radians() / 2.0).sin().powi(2));
    (4.0 * k / omega0, total[1].atan2(total[0]).to_degrees())
}

fn settled(played: (f64, f64), amplitude: f64, trial: Option<(f64, f64, f64)>) -> SettledSwing {
    SettledSwing {
        swing: TimedSwing { period: Seconds::new(played.0), period_sd: Seconds::new(0.1), amplitude: Angle::from_deg(amplitude) },
        settle: RotorAngle::from_deg(played.1),
        settle_sd: Angle::from_deg(2.0),
        trial: trial.map(|(m, r, at)| (TrialMass { mass: Mass::from_g(m), radius: Length::from_mm(r) }, RotorAngle::from_deg(at))),
    }
}

const TRIALS: [Option<(f64, f64, f64)>; 3] = [None, Some((4.0, 60.0, 80.0)), Some((4.0, 60.0, 200.0))];

#[test]
fn exact_swings_with_two_trials_give_back_the_hidden_truth() {
    let (i, u) = (0.0123, [-90.0, 140.0]);
    for n in [2, 3] {
        let swings: Vec<_> = TRIALS[..n].iter().map(|t| settled(play(i, u, *t, 50.0), 50.0, *t)).collect();
        let got = inertia_from_swings(&swings).unwrap();
        assert!((got.inertia.kg_m2() / i - 1.0).abs() < 1e-9);
        assert!((got.unbalance.g_mm()[0] - u[0]).abs() < 1e-6 && (got.unbalance.g_mm()[1] - u[1]).abs() < 1e-6);
    }
}

#[test]
fn the_pair_formula_holds_for_large_and_unlike_amplitudes() {
    let (i, u) = (0.008, [80.0, 0.0]);
    let trial = (5.0, 60.0, 0.0);
    let swing =
        |a: f64, t| TimedSwing { period: Seconds::new(play(i, u, t, a).0), period_sd: Seconds::new(0.1), amplitude: Angle::from_deg(a) };
    let mass = TrialMass { mass: Mass::from_g(5.0), radius: Length::from_mm(60.0) };
    let got = inertia_from_pair(swing(25.0, None), swing(110.0, Some(trial)), mass).unwrap();
    assert!((got.inertia.kg_m2() / i - 1.0).abs() < 1e-9);
    assert!((got.unbalance.g_mm() / 80.0 - 1.0).abs() < 1e-9);
}

#[test]
fn the_stated_deviation_of_the_inertia_is_that_of_many_noisy_repeats() {
    let (i, u) = (0.0123, [-90.0, 140.0]);
    let mut rng = Xoshiro256PlusPlus::seed_from_u64(7);
    let (time, angle) = (Normal::new(0.0, 0.1).unwrap(), Normal::new(0.0, 2.0).unwrap());
    let repeats = 4000;
    let (mut sum, mut squares, mut stated) = (0.0, 0.0, 0.0);
    for _ in 0..repeats {
        let swings: Vec<_> = TRIALS
            .iter()
            .map(|t| {
                let (period, settle) = play(i, u, *t, 50.0);
                settled((period + time.sample(&mut rng), settle + angle.sample(&mut rng)), 50.0, *t)
            })
            .collect();
        let got = inertia_from_swings(&swings).unwrap();
        sum += got.inertia.kg_m2();
        squares += got.inertia.kg_m2().powi(2);
        stated += got.inertia_sd.kg_m2();
    }
    let n = f64::from(repeats);
    let seen = (squares / n - (sum / n).powi(2)).sqrt();
    // The scatter of a deviation from 4000 repeats is 1.1 %; the rest is the bend of the problem.
    assert!((stated / n / seen - 1.0).abs() < 0.06, "stated {} seen {seen}", stated / n);
    assert!((sum / n / i - 1.0).abs() < 0.01);
}

#[test]
fn the_pair_has_the_deviation_of_many_noisy_repeats() {
    let (i, u, trial) = (0.008, [80.0, 0.0], (3.0, 60.0, 0.0));
    let mass = TrialMass { mass: Mass::from_g(trial.0), radius: Length::from_mm(trial.1) };
    let mut rng = Xoshiro256PlusPlus::seed_from_u64(11);
    let time = Normal::new(0.0, 0.05).unwrap();
    let mut swing = |t| TimedSwing {
        period: Seconds::new(play(i, u, t, 40.0).0 + time.sample(&mut rng)),
        period_sd: Seconds::new(0.05),
        amplitude: Angle::from_deg(40.0),
    };
    let got: Vec<_> = (0..4000).map(|_| inertia_from_pair(swing(None), swing(Some(trial)), mass).unwrap()).collect();
    let mean = got.iter().map(|p| p.inertia.kg_m2()).sum::<f64>() / 4000.0;
    let seen = (got.iter().map(|p| (p.inertia.kg_m2() - mean).powi(2)).sum::<f64>() / 3999.0).sqrt();
    let stated = got.iter().map(|p| p.inertia_sd.kg_m2()).sum::<f64>() / 4000.0;
    assert!((stated / seen - 1.0).abs() < 0.06, "stated {stated} seen {seen}");
}

#[test]
fn swings_that_cannot_tell_are_faults() {
    let one = settled(play(0.0123, [-90.0, 140.0], None, 50.0), 50.0, None);
    assert_eq!(inertia_from_swings(&[one]).unwrap_err().field, "swings");
    assert!(inertia_from_swings(&[one, one]).unwrap_err().why.contains("alike"));
    let mut bad = one;
    bad.swing.amplitude = Angle::from_deg(180.0);
    assert_eq!(inertia_from_swings(&[one, bad]).unwrap_err().field, "swings[1].amplitude_deg");
    let swing = |t| TimedSwing { period: Seconds::new(t), period_sd: Seconds::new(0.2), amplitude: Angle::from_deg(30.0) };
    let trial = TrialMass { mass: Mass::from_g(5.0), radius: Length::from_mm(60.0) };
    // Slower with the trial on: it sat on the light side.
    assert_eq!(inertia_from_pair(swing(20.0), swing(25.0), trial).unwrap_err().field, "with_trial.period_s");
    // Quicker than the trial alone could swing: w2 ≥ u/j.
    assert_eq!(inertia_from_pair(swing(20.0), swing(0.4), trial).unwrap_err().field, "with_trial.period_s");
    assert_eq!(inertia_from_pair(swing(20.0), swing(f64::NAN), trial).unwrap_err().field, "with_trial.period_s");
    let heavy = TrialMass { mass: Mass::from_g(4000.0), radius: Length::from_mm(60.0) };
    assert_eq!(check_trial_against_rotor(heavy, Mass::from_kg(3.0)).unwrap_err().field, "trial.mass_g");
    assert!(check_trial_against_rotor(trial, Mass::from_kg(3.0)).is_ok());
}
