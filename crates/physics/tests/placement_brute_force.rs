//! The exact searches against plain enumeration of everything, on random small cases; and laws of placement.
//!
//! The enumeration shares no code with the search: travel is the least over *all* lifts of the new angles that keep the
//! order, as the definition has it.

use proptest::prelude::*;
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::{Rng, SeedableRng};
use stillwheel_physics::bench::look::Weight;
use stillwheel_physics::bench::placement::{
    Answer, GroovePlacement, GrooveTask, GrooveWeight, Hole, HoleTask, Order, Proof, Screw, place_in_groove, place_in_holes, residual,
};
use stillwheel_physics::quantity::{Angle, Length, Mass, RotorAngle, Unbalance, UnbalanceVector};

const EPS: f64 = 1e-6;

struct Dice(Xoshiro256PlusPlus);

impl Dice {
    fn new(seed: u64) -> Self {
        Self(Xoshiro256PlusPlus::seed_from_u64(seed))
    }
    fn unit(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }
    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }
    fn below(&mut self, n: usize) -> usize {
        (self.unit() * n as f64) as usize
    }
    fn chance(&mut self, p: f64) -> bool {
        self.unit() < p
    }
}

fn degrees(v: &[RotorAngle]) -> Vec<f64> {
    v.iter().map(|a| a.deg()).collect()
}

fn apart(a: f64, b: f64) -> f64 {
    let d = (a - b).rem_euclid(360.0);
    d.min(360.0 - d)
}

/// What a placement is judged by.
#[derive(Clone, Copy, Debug)]
struct Score {
    residual: f64,
    travel: f64,
    moved: usize,
}

/// Whether all bodies clear one another and the forbidden arcs.
fn clears(task: &GrooveTask, at: &[f64]) -> bool {
    let fixed = |i: usize| task.fixed.get(i).copied().unwrap_or(false);
    let arc = |i: usize| task.weights[i].arc.deg();
    for i in 0..at.len() {
        for j in 0..i {
            if !(fixed(i) && fixed(j)) && apart(at[i], at[j]) < 0.5 * (arc(i) + arc(j)) - EPS {
                return false;
            }
        }
        for [from, to] in &task.forbidden {
            let width = (to.deg() - from.deg()).rem_euclid(360.0);
            // The open intervals of the body and of the forbidden arc overlap, in one of three lifts.
            let enters = [-360.0, 0.0, 360.0].iter().any(|lift| {
                let (low, high) = (at[i] - 0.5 * arc(i) + lift, at[i] + 0.5 * arc(i) + lift);
                low.max(from.deg()) < high.min(from.deg() + width) - EPS
                    || (arc(i) == 0.0 && at[i] + lift > from.deg() + EPS && at[i] + lift < from.deg() + width - EPS)
            });
            if !fixed(i) && enters {
                return false;
            }
        }
    }
    true
}

/// Least travel over all lifts of the new places that keep the order; `None` if no lift keeps it.
fn travel(task: &GrooveTask, now: &[f64], at: &[f64]) -> Option<f64> {
    let n = at.len();
    if !task.no_passing {
        return Some((0..n).map(|i| apart(at[i], now[i])).sum());
    }
    let lift_now: Vec<f64> = now.iter().map(|p| now[0] + (p - now[0]).rem_euclid(360.0)).collect();
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|&a, &b| lift_now[a].total_cmp(&lift_now[b]));
    let mut least: Option<f64> = None;
    for turns in 0..5_usize.pow(n as u32) {
        let lift = |i: usize| at[i] + 360.0 * ((turns / 5_usize.pow(i as u32) % 5) as f64 - 2.0);
        let rises = order.windows(2).all(|w| lift(w[0]) <= lift(w[1]) + EPS);
        if rises && lift(order[n - 1]) <= lift(order[0]) + 360.0 + EPS {
            let sum: f64 = (0..n).map(|i| (lift(i) - lift_now[i]).abs()).sum();
            least = Some(least.map_or(sum, |l| l.min(sum)));
        }
    }
    least
}

fn left(task: &GrooveTask, at: &[f64]) -> f64 {
    let weights: Vec<Weight> =
        task.weights.iter().zip(at).map(|(w, &a)| Weight { moment: w.moment, at: RotorAngle::from_deg(a) }).collect();
    residual(task.unbalance, &weights).size().g_mm()
}

fn enumerate(task: &GrooveTask) -> Option<Score> {
    let n = task.weights.len();
    let now = task.present.as_deref().map(degrees);
    let step = task.graduation.deg();
    let steps = (360.0 / step).round() as usize;
    let choices: Vec<Vec<f64>> = (0..n)
        .map(|i| {
            if task.fixed.get(i) == Some(&true) {
                return vec![now.as_ref().unwrap()[i]];
            }
            let mut list: Vec<f64> = (0..steps).map(|g| g as f64 * step).collect();
            if let (Order::FewestMoved, Some(now)) = (task.order, &now) {
                list.push(now[i]);
            }
            list
        })
        .collect();
    let mut all: Vec<(Vec<f64>, f64)> = Vec::new();
    let total: usize = choices.iter().map(Vec::len).product();
    for mut k in 0..total {
        let at: Vec<f64> = choices
            .iter()
            .map(|c| {
                let a = c[k % c.len()];
                k /= c.len();
                a
            })
            .collect();
        if clears(task, &at) && now.as_ref().is_none_or(|now| travel(task, now, &at).is_some()) {
            let r = left(task, &at);
            all.push((at, r));
        }
    }
    let least = all.iter().map(|a| a.1).fold(f64::INFINITY, f64::min);
    let equal = match task.good_enough {
        Some(g) if least <= g.g_mm() => g.g_mm(),
        _ => least + task.tie.g_mm(),
    };
    let Some(now) = now else { return least.is_finite().then_some(Score { residual: least, travel: 0.0, moved: 0 }) };
    let score = |(at, r): &(Vec<f64>, f64)| Score {
        residual: *r,
        travel: travel(task, &now, at).unwrap(),
        moved: at.iter().zip(&now).filter(|(a, b)| apart(**a, **b) > EPS).count(),
    };
    let rank = |s: &Score| {
        let (t, m) = ((s.travel / EPS).round(), s.moved as f64);
        let (a, b) = if task.order == Order::FewestMoved { (m, t) } else { (t, m) };
        (a, b, s.residual)
    };
    all.iter().filter(|a| a.1 <= equal + 1e-9).map(score).min_by(|a, b| rank(a).partial_cmp(&rank(b)).unwrap())
}

fn random_task(d: &mut Dice) -> GrooveTask {
    let n = 2 + d.below(3);
    let step = match n {
        2 => [15.0, 20.0, 30.0][d.below(3)],
        3 => [15.0, 24.0, 30.0][d.below(3)],
        _ => 30.0,
    };
    let equal = d.chance(0.4);
    let q = d.between(50.0, 150.0);
    let weights: Vec<GrooveWeight> = (0..n)
        .map(|_| GrooveWeight {
            moment: Unbalance::from_g_mm(if equal { q } else { d.between(20.0, 150.0) }),
            arc: Angle::from_deg(if d.chance(0.2) { 0.0 } else { d.between(5.0, 60.0) }),
        })
        .collect();
    let forbidden = (0..d.below(3))
        .map(|_| {
            let from = (d.between(0.0, 360.0)).round();
            [RotorAngle::from_deg(from), RotorAngle::from_deg(from + d.between(10.0, 90.0).round())]
        })
        .collect();
    let present: Option<Vec<RotorAngle>> = d.chance(0.85).then(|| {
        (0..n)
            .map(|_| {
                let a = d.between(0.0, 360.0);
                RotorAngle::from_deg(if d.chance(0.6) { (a / step).round() * step } else { a.round() })
            })
            .collect()
    });
    let fixed = if present.is_some() && d.chance(0.35) { (0..n).map(|_| d.chance(0.35)).collect() } else { Vec::new() };
    let most = if d.chance(0.2) { 600.0 } else { 250.0 };
    let size = d.between(0.0, most);
    GrooveTask {
        unbalance: UnbalanceVector::polar(Unbalance::from_g_mm(size), RotorAngle::from_deg(d.between(0.0, 360.0))),
        weights,
        graduation: Angle::from_deg(step),
        forbidden,
        no_passing: d.chance(0.6),
        present,
        fixed,
        tie: Unbalance::from_g_mm(if d.chance(0.5) { 0.0 } else { d.between(0.0, 20.0) }),
        good_enough: d.chance(0.3).then(|| Unbalance::from_g_mm(d.between(0.0, 40.0))),
        order: if d.chance(0.5) { Order::FewestMoved } else { Order::LeastTravel },
    }
}

#[test]
fn groove_search_equals_enumeration_on_1200_random_tasks() {
    let mut dice = Dice::new(20_260_101);
    let (mut placed, mut no_room, mut fewest, mut kept_order) = (0, 0, 0, 0);
    for k in 0..1200 {
        let task = random_task(&mut dice);
        match (place_in_groove(&task), enumerate(&task)) {
            (Ok(got), Some(best)) => {
                placed += 1;
                fewest += usize::from(task.order == Order::FewestMoved && task.present.is_some());
                kept_order += usize::from(task.no_passing && task.present.is_some());
                let at = degrees(&got.at);
                assert!(clears(&task, &at), "{k}: overlaps {task:?} {got:?}");
                assert!((left(&task, &at) - got.residual.size().g_mm()).abs() < 1e-6, "{k}");
                assert_eq!(got.proof, Proof::Best, "{k}");
                assert!((got.residual.size().g_mm() - best.residual).abs() < 1e-6, "{k}: {task:?}\n{got:?}\n{best:?}");
                assert!((got.travel.deg() - best.travel).abs() < 1e-5, "{k}: {task:?}\n{got:?}\n{best:?}");
                assert_eq!(got.moved, best.moved, "{k}: {task:?}\n{got:?}\n{best:?}");
                ways_lead_there(&task, &got);
            }
            (Err(_), None) => no_room += 1,
            (got, best) => panic!("{k}: {task:?}\n{got:?}\n{best:?}"),
        }
    }
    // The tasks are worth their name: every kind occurs often.
    assert!(placed >= 900 && no_room >= 5 && fewest >= 300 && kept_order >= 300, "{placed} {no_room} {fewest} {kept_order}");
}

fn ways_lead_there(task: &GrooveTask, got: &GroovePlacement) {
    let Some(now) = &task.present else {
        assert!(got.ways.is_empty());
        return;
    };
    for ((from, way), to) in now.iter().zip(&got.ways).zip(&got.at) {
        assert!(apart(from.turned(*way).deg(), to.deg()) < EPS, "{got:?}");
    }
    let sum: f64 = got.ways.iter().map(|w| w.deg().abs()).sum();
    assert!((sum - got.travel.deg()).abs() < EPS);
}

#[test]
fn weights_said_to_be_too_light_balance_once_made_heavier_as_told() {
    let mut dice = Dice::new(7);
    let mut told = 0;
    for _ in 0..200 {
        let mut task = random_task(&mut dice);
        task.unbalance = UnbalanceVector::polar(Unbalance::from_g_mm(dice.between(300.0, 1500.0)), task.unbalance.at());
        task.forbidden.clear();
        task.fixed.clear();
        let Ok(got) = place_in_groove(&task) else { continue };
        let Answer::TooLight { times } = got.answer else { continue };
        told += 1;
        assert!(times > 1.0);
        for w in &mut task.weights {
            w.moment = Unbalance::from_g_mm(w.moment.g_mm() * times);
        }
        let heavier = place_in_groove(&task).unwrap();
        assert_eq!(heavier.answer, Answer::Balanced, "{task:?}\n{got:?}\n{heavier:?}");
    }
    assert!(told > 50, "{told}");
}

#[test]
fn too_many_placements_give_a_sound_one_and_a_stated_gap() {
    // Invented weights; six and twelve of them at 1° have 2e15 and 5e30 placements.
    for (n, order) in [(6, Order::LeastTravel), (6, Order::FewestMoved), (12, Order::LeastTravel), (12, Order::FewestMoved)] {
        let task = GrooveTask {
            unbalance: UnbalanceVector::from_g_mm(83.0, -141.0),
            weights: (0..n)
                .map(|i| GrooveWeight { moment: Unbalance::from_g_mm(60.0 + 7.3 * f64::from(i)), arc: Angle::from_deg(18.0) })
                .collect(),
            graduation: Angle::from_deg(1.0),
            forbidden: vec![[RotorAngle::from_deg(10.0), RotorAngle::from_deg(25.0)]],
            no_passing: true,
            present: Some((0..n).map(|i| RotorAngle::from_deg(40.0 + 25.0 * f64::from(i))).collect()),
            fixed: Vec::new(),
            tie: Unbalance::from_g_mm(0.05),
            good_enough: None,
            order,
        };
        let got = place_in_groove(&task).unwrap();
        let at = degrees(&got.at);
        assert!(clears(&task, &at), "{got:?}");
        assert!((left(&task, &at) - got.residual.size().g_mm()).abs() < 1e-6);
        let Proof::Gap { residual_at_least } = got.proof else { panic!("{got:?}") };
        assert!(residual_at_least.g_mm() <= got.residual.size().g_mm());
        assert!(got.residual.size().g_mm() < 0.1, "{n} {got:?}");
        ways_lead_there(&task, &got);
    }
}

#[test]
fn with_fewest_moved_first_what_is_good_enough_is_proven_even_among_many_weights() {
    // One weight of 100 g·mm at the wrong side of twelve that else cancel: sliding that one alone is good enough.
    let n = 12;
    let mut present: Vec<RotorAngle> = (0..n).map(|i| RotorAngle::from_deg(30.0 * f64::from(i))).collect();
    present[3] = RotorAngle::from_deg(105.0);
    let task = GrooveTask {
        unbalance: UnbalanceVector::default(),
        weights: vec![GrooveWeight { moment: Unbalance::from_g_mm(100.0), arc: Angle::from_deg(10.0) }; n as usize],
        graduation: Angle::from_deg(1.0),
        forbidden: Vec::new(),
        no_passing: true,
        present: Some(present),
        fixed: Vec::new(),
        tie: Unbalance::from_g_mm(0.05),
        good_enough: Some(Unbalance::from_g_mm(0.5)),
        order: Order::FewestMoved,
    };
    let got = place_in_groove(&task).unwrap();
    assert_eq!((got.proof, got.moved), (Proof::Best, 1), "{got:?}");
    assert!(apart(got.at[3].deg(), 90.0) < EPS);
    assert!((got.travel.deg() - 15.0).abs() < EPS);
}

#[test]
fn many_holes_and_screws_give_a_sound_filling_and_a_stated_gap() {
    // 450 g·mm can be answered, to half the moment of the lightest screw or better; of 966 g·mm the heaviest screws in
    // the best holes leave the stated bound.
    for (u, too_light, above_bound) in [([-400.0, 206.0], false, 0.5 * 0.42 * 45.0), ([-900.0, 350.0], true, 1.0)] {
        let task = HoleTask {
            unbalance: UnbalanceVector::from_g_mm(u[0], u[1]),
            holes: (0..48).map(|i| Hole { radius: Length::from_mm(45.0), at: RotorAngle::from_deg(7.5 * f64::from(i)) }).collect(),
            stock: [(0.42, 9), (0.71, 9), (1.3, 9)].map(|(m, count)| Screw { mass: Mass::from_g(m), count }).to_vec(),
            present: None,
            tie: Unbalance::from_g_mm(0.05),
        };
        let got = place_in_holes(&task).unwrap();
        let weights: Vec<Weight> = got
            .kind_in_hole
            .iter()
            .zip(&task.holes)
            .filter_map(|(f, h)| f.map(|k| Weight { moment: Unbalance::from_g_mm(task.stock[k].mass.g() * h.radius.mm()), at: h.at }))
            .collect();
        assert!((residual(task.unbalance, &weights).size().g_mm() - got.residual.size().g_mm()).abs() < 1e-6);
        assert_eq!(weights.len(), got.screws);
        let Proof::Gap { residual_at_least } = got.proof else { panic!("{got:?}") };
        let above = got.residual.size().g_mm() - residual_at_least.g_mm();
        assert!((0.0..above_bound).contains(&above), "{got:?}");
        assert_eq!(matches!(got.answer, Answer::TooLight { .. }), too_light, "{got:?}");
    }
}

fn hole_task(d: &mut Dice) -> HoleTask {
    let n = 4 + d.below(3);
    let kinds = 1 + d.below(3);
    let stock: Vec<Screw> = (0..kinds).map(|_| Screw { mass: Mass::from_g(d.between(0.3, 3.0)), count: 1 + d.below(3) }).collect();
    let mut left: Vec<usize> = stock.iter().map(|s| s.count).collect();
    let present = d.chance(0.5).then(|| {
        (0..n)
            .map(|_| {
                let k = d.below(2 * kinds);
                (k < kinds && left[k] > 0).then(|| {
                    left[k] -= 1;
                    k
                })
            })
            .collect()
    });
    HoleTask {
        unbalance: UnbalanceVector::from_g_mm(d.between(-150.0, 150.0), d.between(-150.0, 150.0)),
        holes: (0..n)
            .map(|i| Hole {
                radius: Length::from_mm(if d.chance(0.7) { 45.0 } else { d.between(20.0, 60.0) }),
                at: RotorAngle::from_deg(360.0 * i as f64 / n as f64),
            })
            .collect(),
        stock,
        present,
        tie: Unbalance::from_g_mm(if d.chance(0.5) { 0.0 } else { d.between(0.0, 15.0) }),
    }
}

#[test]
fn hole_search_equals_enumeration_on_600_random_tasks() {
    let mut dice = Dice::new(20_260_102);
    for k in 0..600 {
        let task = hole_task(&mut dice);
        let got = place_in_holes(&task).unwrap();
        assert_eq!(got.proof, Proof::Best, "{k}");
        let (n, choices) = (task.holes.len(), task.stock.len() + 1);
        let mut all: Vec<(f64, usize, f64, usize)> = Vec::new();
        for code in 0..choices.pow(n as u32) {
            let fill: Vec<Option<usize>> = (0..n).map(|h| (code / choices.pow(h as u32) % choices).checked_sub(1)).collect();
            if task.stock.iter().enumerate().any(|(k, s)| fill.iter().filter(|f| **f == Some(k)).count() > s.count) {
                continue;
            }
            let weights: Vec<Weight> = fill
                .iter()
                .zip(&task.holes)
                .filter_map(|(f, h)| f.map(|k| Weight { moment: Unbalance::from_g_mm(task.stock[k].mass.g() * h.radius.mm()), at: h.at }))
                .collect();
            let mass: f64 = fill.iter().flatten().map(|&k| task.stock[k].mass.g()).sum();
            let changes = task.present.as_ref().map_or(0, |p| p.iter().zip(&fill).filter(|(a, b)| a != b).count());
            all.push((residual(task.unbalance, &weights).size().g_mm(), weights.len(), (mass * 1e6).round(), changes));
        }
        let least = all.iter().map(|a| a.0).fold(f64::INFINITY, f64::min);
        let best = all
            .iter()
            .filter(|a| a.0 <= least + task.tie.g_mm() + 1e-9)
            .min_by(|a, b| (a.1, a.2, a.3, a.0).partial_cmp(&(b.1, b.2, b.3, b.0)).unwrap())
            .unwrap();
        let report = format!("{k}: {task:?}\n{got:?}\n{best:?}");
        assert!((got.least_residual.g_mm() - least).abs() < 1e-6, "{report}");
        assert!((got.residual.size().g_mm() - best.0).abs() < 1e-6, "{report}");
        assert_eq!(got.screws, best.1, "{report}");
        assert!((got.mass.g() * 1e6 - best.2).abs() < 1.0, "{report}");
        assert_eq!(got.changes, task.present.as_ref().map(|_| best.3), "{report}");
    }
}

fn turn(angles: &[RotorAngle], by: f64) -> Vec<RotorAngle> {
    angles.iter().map(|a| a.turned(Angle::from_deg(by))).collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn turning_everything_turns_the_answer(seed in 0_u64..1_000_000, steps in 1_usize..12) {
        let task = random_task(&mut Dice::new(seed));
        let by = task.graduation.deg() * steps as f64;
        let mut turned = task.clone();
        turned.unbalance = task.unbalance.turned(Angle::from_deg(by));
        turned.forbidden = task.forbidden.iter().map(|f| [f[0].turned(Angle::from_deg(by)), f[1].turned(Angle::from_deg(by))]).collect();
        turned.present = task.present.as_ref().map(|p| turn(p, by));
        match (place_in_groove(&task), place_in_groove(&turned)) {
            (Ok(a), Ok(b)) => {
                prop_assert!((a.residual.size().g_mm() - b.residual.size().g_mm()).abs() < 1e-6);
                prop_assert!((a.travel.deg() - b.travel.deg()).abs() < 1e-5);
                prop_assert_eq!(a.moved, b.moved);
            }
            (Err(_), Err(_)) => {}
            (a, b) => prop_assert!(false, "{:?} {:?}", a, b),
        }
    }

    #[test]
    fn scaling_all_moments_scales_the_residual_and_nothing_else(seed in 0_u64..1_000_000, scale in 0.1_f64..20.0) {
        let task = random_task(&mut Dice::new(seed));
        let by = |u: Unbalance| Unbalance::from_g_mm(u.g_mm() * scale);
        let mut scaled = task.clone();
        scaled.unbalance = UnbalanceVector::polar(by(task.unbalance.size()), task.unbalance.at());
        scaled.tie = by(task.tie);
        scaled.good_enough = task.good_enough.map(by);
        for w in &mut scaled.weights {
            w.moment = by(w.moment);
        }
        if let (Ok(a), Ok(b)) = (place_in_groove(&task), place_in_groove(&scaled)) {
            prop_assert!((a.residual.size().g_mm() * scale - b.residual.size().g_mm()).abs() < 1e-6 * scale.max(1.0));
            prop_assert!((a.travel.deg() - b.travel.deg()).abs() < 1e-5);
            prop_assert_eq!(a.moved, b.moved);
        }
    }

    #[test]
    fn no_random_placement_that_fits_leaves_less(seed in 0_u64..1_000_000) {
        let mut dice = Dice::new(seed);
        let mut task = random_task(&mut dice);
        task.present = None;
        task.fixed.clear();
        task.good_enough = None;
        task.graduation = Angle::from_deg(5.0);
        if let Ok(got) = place_in_groove(&task) {
            for _ in 0..200 {
                let at: Vec<f64> = task.weights.iter().map(|_| 5.0 * dice.below(72) as f64).collect();
                if clears(&task, &at) {
                    prop_assert!(left(&task, &at) >= got.residual.size().g_mm() - 1e-9);
                }
            }
        }
    }
}
