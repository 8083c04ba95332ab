//! Time of floats: near start, from cold with all branches, of a pair, of the judgement on hammer, and of tolerance samples.
//!
//! Run both on one machine, one after the other (the second needs scikit-fem, see its head):
//! `cargo bench -p stillwheel-physics --bench film` and `OMP_NUM_THREADS=1 python3 reference/scripts/film_scikit_fem.py speed`.

use rand::{RngExt, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;
use std::f64::consts::PI;
use stillwheel_physics::film::{Air, Duty, Film, Fineness, Form, Pair, Port, Pose, Saddle, floats_of_samples};

fn main() {
    divan::main();
}

/// Case F06 of reference/film-cases.json: Ø20 × 24, clearance 14 µm, port Ø1.2 0.2 mm aside, jet 0.15.
fn saddle() -> Saddle {
    Saddle {
        bore_diameter_m: 20.028e-3,
        clearance_m: 14e-6,
        length_m: 24e-3,
        arc_rad: PI,
        arc_turned_rad: 0.0,
        form: Form::default(),
        port: Port {
            diameter_m: 1.2e-3,
            around_m: 2e-4,
            along_m: 0.0,
            jet_diameter_m: Some(1.5e-4),
            pocket: None,
            volume_m3: 0.0,
            discharge: 0.8,
        },
        rest_gap_m: 1e-6,
    }
}

fn duty() -> Duty {
    Duty::new(Air::default(), 4e5, 15.0)
}

/// 1 µm above and half a micrometre beside the float, as in the script.
const NEAR: Pose = Pose { x_m: 0.0, y_m: 7.9e-6, tilt_x_rad: 0.0, tilt_y_rad: 0.0 };

#[divan::bench(sample_count = 200)]
fn mesh(bencher: divan::Bencher) {
    bencher.bench_local(|| Film::new(&saddle(), Fineness::NORMAL).expect("allowed"));
}

#[divan::bench(args = [Fineness::COARSE, Fineness::NORMAL, Fineness::FINE, Fineness::CHECK], sample_count = 100)]
fn solve_one_pose_with_four_slopes(bencher: divan::Bencher, fineness: Fineness) {
    let film = Film::new(&saddle(), fineness).expect("allowed");
    bencher.bench_local(|| film.shape(NEAR).expect("a film").at(&duty().air, 4e5));
}

#[divan::bench(sample_count = 200)]
fn float_from_a_near_start(bencher: divan::Bencher) {
    let film = Film::new(&saddle(), Fineness::NORMAL).expect("allowed");
    bencher.bench_local(|| film.float_near(&duty(), NEAR).expect("it floats"));
}

#[divan::bench(sample_count = 100)]
fn float_from_cold_with_all_branches(bencher: divan::Bencher) {
    bencher.bench_local(|| saddle().floats(&duty()).expect("it floats"));
}

#[divan::bench(sample_count = 50)]
fn pair_from_cold(bencher: divan::Bencher) {
    let pair = Pair { askew_rad: [[1e-4, 0.0], [0.0, 1e-4]], ..Pair::in_line(&saddle(), 0.12, 3.0, Air::default(), 4e5) };
    bencher.bench_local(|| pair.float().expect("it floats"));
}

#[divan::bench(sample_count = 20)]
fn judge_hammer(bencher: divan::Bencher) {
    let film = Film::new(&saddle(), Fineness::COARSE).expect("allowed");
    let float = film.float_near(&duty(), NEAR).expect("it floats");
    let shape = film.shape(float.state.pose).expect("a film");
    bencher.bench_local(|| shape.hammer(&Air::default(), &float.state, 1.5).expect("judged"));
}

/// Stands within their tolerances, each with all its floats, on all cores.
#[divan::bench(args = [1000, 10_000], sample_count = 1)]
fn tolerance_samples(bencher: divan::Bencher, count: usize) {
    let mut rng = Xoshiro256PlusPlus::seed_from_u64(1);
    let mut off = |by: f64| by * (2.0 * rng.random::<f64>() - 1.0);
    let samples: Vec<Saddle> = (0..count)
        .map(|_| {
            let mut s = saddle();
            s.clearance_m += off(3e-6);
            s.port.around_m = off(3e-4);
            s.port.along_m = off(3e-4);
            s.port.diameter_m += off(5e-5);
            s.port.jet_diameter_m = Some(1.5e-4 + off(1e-5));
            s.form = Form { taper_m: off(2e-6), ..Form::oval(off(1.5e-6), off(1.5)) };
            s
        })
        .collect();
    bencher.bench_local(|| floats_of_samples(&samples, &duty()).iter().filter(|f| f.is_ok()).count());
}
