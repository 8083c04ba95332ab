//! Fewest changes of screws against trying every filling, and rings whose holes or screws may not be touched.

use proptest::prelude::*;
use stillwheel_physics::bench::look::Weight;
use stillwheel_physics::bench::placement::{Hole, HoleTask, Screw, change_in_holes};
use stillwheel_physics::bench::ring::Ring;
use stillwheel_physics::quantity::{Length, Mass, RotorAngle, Unbalance, UnbalanceVector};

const RADIUS_MM: f64 = 48.0;

fn holes(n: usize) -> Vec<Hole> {
    (0..n).map(|i| Hole { radius: Length::from_mm(RADIUS_MM), at: RotorAngle::from_deg(360.0 * i as f64 / n as f64) }).collect()
}

fn stock(kinds: &[(f64, usize)]) -> Vec<Screw> {
    kinds.iter().map(|&(g, count)| Screw { mass: Mass::from_g(g), count }).collect()
}

fn left(u: [f64; 2], holes: &[Hole], stock: &[Screw], kinds: &[Option<usize>]) -> f64 {
    let mut v = u;
    for (h, k) in holes.iter().zip(kinds) {
        let m = k.map_or(0.0, |k| stock[k].mass.g() * h.radius.mm());
        v[0] += m * h.at.rad().cos();
        v[1] += m * h.at.rad().sin();
    }
    v[0].hypot(v[1])
}

/// Every filling of the holes that the stock holds, by counting up in base (kinds + 1).
fn every_filling(n: usize, stock: &[Screw]) -> Vec<Vec<Option<usize>>> {
    let base = stock.len() + 1;
    (0..base.pow(n as u32))
        .map(|mut code| {
            (0..n)
                .map(|_| {
                    let k = code % base;
                    code /= base;
                    k.checked_sub(1)
                })
                .collect::<Vec<_>>()
        })
        .filter(|f| stock.iter().enumerate().all(|(k, s)| f.iter().filter(|x| **x == Some(k)).count() <= s.count))
        .collect()
}

fn changes(a: &[Option<usize>], b: &[Option<usize>]) -> usize {
    a.iter().zip(b).filter(|(a, b)| a != b).count()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    #[test]
    fn no_filling_with_fewer_changes_is_good_enough(
        size in 0.0..300.0_f64, at in 0.0..360.0_f64, good in 5.0..60.0_f64,
        start in prop::collection::vec(0..3_usize, 6), counts in (2..5_usize, 2..5_usize),
    ) {
        let (holes, stock) = (holes(6), stock(&[(1.1, counts.0), (2.3, counts.1)]));
        let mut present: Vec<Option<usize>> = start.iter().map(|k| k.checked_sub(1)).collect();
        for (k, s) in stock.iter().enumerate() {
            // What the stock doesn't have can't be in a hole.
            let mut seen = 0;
            for p in present.iter_mut().filter(|p| **p == Some(k)) {
                seen += 1;
                if seen > s.count { *p = None; }
            }
        }
        let unbalance = UnbalanceVector::polar(Unbalance::from_g_mm(size), RotorAngle::from_deg(at));
        let task = HoleTask { unbalance, holes: holes.clone(), stock: stock.clone(), present: Some(present.clone()), tie: Unbalance::default() };
        let got = change_in_holes(&task, Unbalance::from_g_mm(good)).unwrap();
        let u = unbalance.g_mm();
        let best = every_filling(6, &stock)
            .into_iter()
            .filter(|f| left(u, &holes, &stock, f) <= good)
            .map(|f| (changes(&present, &f), left(u, &holes, &stock, &f)))
            .min_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
        match (got, best) {
            (None, None) => {}
            (Some(got), Some((fewest, least))) => {
                prop_assert_eq!(got.changes, Some(fewest));
                prop_assert!((got.residual.size().g_mm() - least).abs() < 1e-9, "{} and {least}", got.residual.size().g_mm());
                prop_assert!((left(u, &holes, &stock, &got.kind_in_hole) - least).abs() < 1e-9);
            }
            (got, best) => prop_assert!(false, "{got:?} and {best:?}"),
        }
    }
}

#[test]
fn a_balanced_rotor_gets_no_change() {
    let task = HoleTask {
        unbalance: UnbalanceVector::polar(Unbalance::from_g_mm(2.0), RotorAngle::from_deg(40.0)),
        holes: holes(24),
        stock: stock(&[(1.1, 12), (2.3, 12), (4.0, 6)]),
        present: None,
        tie: Unbalance::default(),
    };
    let got = change_in_holes(&task, Unbalance::from_g_mm(2.5)).unwrap().unwrap();
    assert!(got.kind_in_hole.iter().all(Option::is_none));
}

#[test]
fn what_is_fixed_stays_and_the_rest_answers_for_it() {
    let (holes, stock) = (holes(24), stock(&[(1.1, 12), (2.3, 12), (4.0, 6)]));
    let mut fixed = vec![false; 24];
    // Hole 4 holds a peened screw of 4 g, hole 10 is damaged and stays empty.
    (fixed[3], fixed[9]) = (true, true);
    let ring = Ring::Holes { holes: holes.clone(), stock: stock.clone(), fixed };
    let weight = |i: usize, g: f64| Weight { moment: Unbalance::from_g_mm(g * RADIUS_MM), at: holes[i].at };
    let now: Vec<Weight> = (0..24).map(|i| weight(i, if i == 3 { 4.0 } else { 0.0 })).collect();
    // Heavy opposite hole 10: the lone best place would be hole 10 itself.
    let unbalance = UnbalanceVector::polar(Unbalance::from_g_mm(300.0), RotorAngle::from_deg(15.0 * 9.0 + 180.0));
    let placed = ring.place(unbalance, &now, Unbalance::from_g_mm(3.0)).unwrap();
    assert_eq!(placed.weights[3].moment, now[3].moment);
    assert_eq!(placed.weights[9].moment.g_mm(), 0.0);
    let sum = placed.weights.iter().fold(unbalance, |v, w| v + w.vector());
    assert!(sum.size().g_mm() <= 3.0 && (sum - placed.left).size().g_mm() < 1e-9, "{}", sum.size().g_mm());
}

#[test]
fn the_reach_of_holes_is_that_of_the_heaviest_screws_in_the_nearest_holes() {
    // Four holes, two screws of 2 g and two of 1 g. Towards a hole: 2 g alone. Halfway between two: 2·2 g·cos 45° = 2.83 g.
    let ring = Ring::Holes { holes: holes(4), stock: stock(&[(2.0, 2), (1.0, 2)]), fixed: vec![] };
    assert!((ring.reach().g_mm() - 4.0 * RADIUS_MM * 45.0_f64.to_radians().cos()).abs() < 1e-9);
}
