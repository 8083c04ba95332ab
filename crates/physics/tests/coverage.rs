//! The stated 95 % regions hold the truth 95 % of the time: the loop closed with a hidden truth.
//!
//! Source: calibration of a posterior under its own prior (Cook, Gelman & Rubin 2006). Truths are drawn from the prior that the
//! estimator is told; readings come from the virtual bench, which moves by the exact half swings, not by the
//! estimator's short forms, so the test also bounds what those forms cost.

use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, StandardNormal};
use rand_xoshiro::Xoshiro256PlusPlus;
use rayon::prelude::*;
use stillwheel_physics::bench::belief::Belief;
use stillwheel_physics::bench::look::{Look, Reading, Weight};
use stillwheel_physics::bench::next_step::LookPlan;
use stillwheel_physics::bench::virtual_bench::{StandKind, VirtualBench, draw_person, draw_rotor, draw_stand, known};
use stillwheel_physics::quantity::{Angle, RotorAngle, UnbalanceVector};

const SITTINGS: usize = 2400;

struct Outcome {
    held: bool,
    held_half: bool,
    looks: usize,
}

/// One sitting of random design: two to four looks at one or two placements, on a stand of either kind.
fn sitting(i: usize, misread: bool) -> Outcome {
    let mut rng = Xoshiro256PlusPlus::seed_from_u64(77_000 + i as u64);
    let kind = if i % 4 == 3 { StandKind::HardenedWays } else { StandKind::AirSaddles };
    let mut rotor = draw_rotor(kind, 1.0, 0.05, &mut rng);
    let mut stand = draw_stand(kind, &rotor, &mut rng);
    let person = draw_person(&mut rng);
    let k = known(&rotor, &stand, &person);
    let mut normal = |sd: f64| -> f64 { sd * Distribution::<f64>::sample(&StandardNormal, &mut rng) };
    rotor.unbalance = UnbalanceVector::from_g_mm(normal(k.unbalance_sd.g_mm()), normal(k.unbalance_sd.g_mm()));
    stand.drift_g_mm = normal(k.drift_sd.g_mm());
    let moments = rotor.weight_moments_g_mm.clone();
    let mut bench = VirtualBench::new(rotor, stand, person, &mut rng);

    let mut looks: Vec<Look> = vec![];
    let take = |bench: &VirtualBench, looks: &mut Vec<Look>, plan: LookPlan, rng: &mut Xoshiro256PlusPlus| {
        let reading = bench.look(plan, rng);
        looks.push(Look { weights: bench.weights.clone(), turned_on_arbor: Angle::default(), trial: None, reading });
    };
    take(&bench, &mut looks, LookPlan::Settle, &mut rng);
    if rng.random_bool(0.7) {
        take(&bench, &mut looks, LookPlan::Swing { swings: 1.0 }, &mut rng);
    }
    if rng.random_bool(0.8) {
        // Move: to the best place as far as three equal weights can answer it (closed form), or anywhere.
        let mean = Belief::infer(&k, &looks, &bench.weights, 500, i as u64).unbalance().mean;
        let (u, q) = (mean.size().g_mm(), moments[0]);
        let spread = ((u / q - 1.0) / 2.0).clamp(-1.0, 1.0).acos().to_degrees();
        let light = mean.at().deg() + 180.0;
        let at = if rng.random_bool(0.7) { [light, light + spread, light - spread] } else { [0.0, 100.0, 220.0] };
        let weights: Vec<Weight> =
            bench.weights.iter().zip(at).map(|(w, a)| Weight { at: RotorAngle::from_deg(a.round()), ..*w }).collect();
        bench.set_weights(&weights, &mut rng);
        take(&bench, &mut looks, LookPlan::Swing { swings: if rng.random_bool(0.5) { 0.5 } else { 1.0 } }, &mut rng);
        if rng.random_bool(0.6) {
            take(&bench, &mut looks, LookPlan::Settle, &mut rng);
        }
    }
    if misread {
        // One bearing read off the wrong mark.
        let at = rng.random_range(0..looks.len());
        if let Reading::Settle { bottom, .. } = &mut looks[at].reading {
            *bottom = RotorAngle::from_deg(rng.random_range(0.0..360.0));
        }
    }
    let belief = Belief::infer(&k, &looks, &bench.weights, 2000, 5 + i as u64);
    let truth = bench.true_residual().g_mm();
    Outcome { held: belief.residual_region_holds(truth, 0.95), held_half: belief.residual_region_holds(truth, 0.5), looks: looks.len() }
}

fn share(of: &[Outcome], f: impl Fn(&Outcome) -> bool) -> f64 {
    of.iter().filter(|o| f(o)).count() as f64 / of.len() as f64
}

#[test]
fn regions_of_95_percent_hold_the_truth_95_times_in_a_hundred() {
    let all: Vec<Outcome> = (0..SITTINGS).into_par_iter().map(|i| sitting(i, false)).collect();
    let (p95, p50) = (share(&all, |o| o.held), share(&all, |o| o.held_half));
    println!("{SITTINGS} sittings: 95 % regions hold {:.2} %, 50 % regions {:.2} %", 100.0 * p95, 100.0 * p50);
    for n in 1..=4 {
        let some: Vec<&Outcome> = all.iter().filter(|o| o.looks == n).collect();
        println!(
            "  {n} looks: {} sittings, {:.1} %",
            some.len(),
            100.0 * some.iter().filter(|o| o.held).count() as f64 / some.len().max(1) as f64
        );
    }
    assert!((0.93..=0.97).contains(&p95), "95 % regions held {p95}");
    // Three standard errors of a binomial share at 2,400 trials are 3 %; one more for the kernels' width.
    assert!((0.46..=0.55).contains(&p50), "50 % regions held {p50}");
}
