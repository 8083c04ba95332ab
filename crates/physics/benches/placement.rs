//! Time of exact placement. `cargo bench -p stillwheel-physics --bench placement`.
//!
//! Yardstick (independent reference, numpy and scipy): 3 or 4 weights at 1° 30 and 110 ms, 6 at 5° 270 ms.

#![allow(missing_docs, reason = "a bench has no public items")]

use divan::{Bencher, black_box};
use stillwheel_physics::bench::placement::{GrooveTask, GrooveWeight, Hole, HoleTask, Order, Screw, place_in_groove, place_in_holes};
use stillwheel_physics::quantity::{Angle, Length, Mass, RotorAngle, Unbalance, UnbalanceVector};

fn main() {
    divan::main();
}

fn task(weights: usize, graduation_deg: f64, size: f64) -> GrooveTask {
    // Unequal invented weights, present places spread evenly.
    let moments = [74.2, 158.2, 153.9, 151.7, 71.0, 60.4];
    GrooveTask {
        unbalance: UnbalanceVector::polar(Unbalance::from_g_mm(size), RotorAngle::from_deg(111.4)),
        weights: (0..weights).map(|i| GrooveWeight { moment: Unbalance::from_g_mm(moments[i]), arc: Angle::from_deg(20.0) }).collect(),
        graduation: Angle::from_deg(graduation_deg),
        forbidden: Vec::new(),
        no_passing: true,
        present: Some((0..weights).map(|i| RotorAngle::from_deg(360.0 * i as f64 / weights as f64)).collect()),
        fixed: Vec::new(),
        tie: Unbalance::from_g_mm(0.05),
        good_enough: None,
        order: Order::LeastTravel,
    }
}

#[divan::bench(args = [(3, 1.0), (4, 1.0), (6, 5.0), (6, 1.0)])]
fn least_travel(bencher: Bencher, (weights, graduation): (usize, f64)) {
    let task = task(weights, graduation, 160.0);
    bencher.bench(|| place_in_groove(black_box(&task)).unwrap());
}

#[divan::bench(args = [(3, 1.0), (4, 1.0), (6, 5.0), (6, 1.0)])]
fn weights_that_may_pass(bencher: Bencher, (weights, graduation): (usize, f64)) {
    let mut task = task(weights, graduation, 160.0);
    task.no_passing = false;
    bencher.bench(|| place_in_groove(black_box(&task)).unwrap());
}

#[divan::bench(args = [(3, 1.0), (4, 1.0), (6, 5.0), (6, 1.0)])]
fn out_of_reach(bencher: Bencher, (weights, graduation): (usize, f64)) {
    let task = task(weights, graduation, 2000.0);
    bencher.bench(|| place_in_groove(black_box(&task)).unwrap());
}

/// The call of the closed loop: three weights at 1°, good enough at a third of an allowance of 6 g·mm.
#[divan::bench]
fn fewest_moved_good_enough(bencher: Bencher) {
    let mut task = task(3, 1.0, 60.0);
    task.order = Order::FewestMoved;
    task.good_enough = Some(Unbalance::from_g_mm(2.0));
    bencher.bench(|| place_in_groove(black_box(&task)).unwrap());
}

/// The same when nothing is good enough and the least has to be found.
#[divan::bench]
fn fewest_moved_not_good_enough(bencher: Bencher) {
    let mut task = task(3, 1.0, 60.0);
    task.order = Order::FewestMoved;
    task.good_enough = Some(Unbalance::from_g_mm(1e-6));
    bencher.bench(|| place_in_groove(black_box(&task)).unwrap());
}

#[divan::bench(args = [8, 16, 24, 48])]
fn tapped_holes(bencher: Bencher, holes: usize) {
    let task = HoleTask {
        unbalance: UnbalanceVector::from_g_mm(-90.5, -48.6),
        holes: (0..holes)
            .map(|i| Hole { radius: Length::from_mm(45.0), at: RotorAngle::from_deg(360.0 * i as f64 / holes as f64) })
            .collect(),
        stock: [(0.42, 6), (0.62, 6), (1.82, 6)].map(|(m, count)| Screw { mass: Mass::from_g(m), count }).to_vec(),
        present: None,
        tie: Unbalance::from_g_mm(0.05),
    };
    bencher.bench(|| place_in_holes(black_box(&task)).unwrap());
}
