//! Time of estimate and next step after a look. `cargo bench -p stillwheel-physics --bench next_step`.
//!
//! Yardstick (independent reference with particles, one core): 1.5 s. The looks are those of sittings on the virtual bench, so the
//! mix is that of practice: the case named is how many looks were taken. `RAYON_NUM_THREADS=1` gives the time of one core.

#![allow(missing_docs, reason = "a bench has no public items")]

use divan::{Bencher, black_box};
use rand::SeedableRng;
use rand_xoshiro::Xoshiro256PlusPlus;
use stillwheel_physics::bench::belief::Known;
use stillwheel_physics::bench::look::{Look, Weight};
use stillwheel_physics::bench::next_step::{Action, Situation, propose};
use stillwheel_physics::bench::ring::Ring;
use stillwheel_physics::bench::virtual_bench::{StandKind, VirtualBench, draw_person, draw_rotor, draw_stand, known};
use stillwheel_physics::quantity::{Angle, Unbalance};

fn main() {
    divan::main();
}

struct Case {
    known: Known,
    looks: Vec<Look>,
    weights: Vec<Weight>,
    ring: Ring,
    bench: VirtualBench,
}

impl Case {
    fn situation(&self) -> Situation<'_> {
        Situation {
            known: &self.known,
            looks: &self.looks,
            weights_now: &self.weights,
            ring: &self.ring,
            allowance: self.bench.rotor.allowance,
            floor: Unbalance::from_g_mm(self.bench.stand.floor_g_mm),
            sureness: 0.95,
            reader: self.bench.person.reader(),
            seed: 7,
        }
    }
}

/// The state of a sitting after `looks` looks; of those seeds whose sitting is not at its end by then.
fn case(kind: StandKind, looks: usize, seed: u64) -> Option<Case> {
    let mut rng = Xoshiro256PlusPlus::seed_from_u64(seed);
    let rotor = draw_rotor(kind, 0.4, 0.05, &mut rng);
    let stand = draw_stand(kind, &rotor, &mut rng);
    let person = draw_person(&mut rng);
    let ring = rotor.ring();
    let known = known(&rotor, &stand, &person);
    let bench = VirtualBench::new(rotor, stand, person, &mut rng);
    let mut case = Case { known, looks: vec![], weights: bench.weights.clone(), ring, bench };
    while case.looks.len() < looks {
        let proposal = propose(&case.situation()).ok()?;
        if !matches!(proposal.action, Action::Look | Action::MoveThenLook) {
            return None;
        }
        let choice = proposal.choice?;
        case.bench.set_weights(&choice.weights, &mut rng);
        let reading = case.bench.look(choice.look, &mut rng);
        case.weights.clone_from(&case.bench.weights);
        case.looks.push(Look { weights: case.weights.clone(), turned_on_arbor: Angle::default(), trial: None, reading });
    }
    Some(case)
}

fn run(bencher: Bencher, kind: StandKind, looks: usize) {
    let cases: Vec<Case> = (0..400).filter_map(|seed| case(kind, looks, seed)).take(8).collect();
    assert!(!cases.is_empty());
    let mut at = 0;
    bencher.bench_local(|| {
        at = (at + 1) % cases.len();
        propose(black_box(&cases[at].situation())).unwrap().p_within
    });
}

#[divan::bench(args = [1, 2, 3, 4, 5])]
fn air_saddles(bencher: Bencher, looks: usize) {
    run(bencher, StandKind::AirSaddles, looks);
}

#[divan::bench(args = [1, 2, 3, 4, 5])]
fn hardened_ways(bencher: Bencher, looks: usize) {
    run(bencher, StandKind::HardenedWays, looks);
}
