//! The program beside trial and error, over many virtual rotors: looks, moves, true residual.
//!
//! `cargo run --release -p stillwheel-physics --example bench_table -- 2000` prints docs/bench-table.md's rows.

use rand::SeedableRng;
use rand_xoshiro::Xoshiro256PlusPlus;
use rayon::prelude::*;
use stillwheel_physics::bench::next_step::Action;
use stillwheel_physics::bench::virtual_bench::by_hand::by_hand;
use stillwheel_physics::bench::virtual_bench::play::play;
use stillwheel_physics::bench::virtual_bench::{StandKind, VirtualBench, draw_person, draw_rotor, draw_stand};

struct Run {
    looks: usize,
    moves: usize,
    /// True residual over the allowance.
    ratio: f64,
    declared: bool,
    /// Dry friction of the stand is above the allowance: nothing can be proved there.
    hopeless: bool,
}

fn bench(kind: StandKind, grade: f64, i: u64) -> (VirtualBench, Xoshiro256PlusPlus) {
    let mut rng = Xoshiro256PlusPlus::seed_from_u64(1_000_000 + i);
    let rotor = draw_rotor(kind, grade, 0.05, &mut rng);
    let stand = draw_stand(kind, &rotor, &mut rng);
    let person = draw_person(&mut rng);
    (VirtualBench::new(rotor, stand, person, &mut rng), rng)
}

fn run(kind: StandKind, grade: f64, i: u64, program: bool) -> Run {
    let (mut b, mut rng) = bench(kind, grade, i);
    let hopeless = b.stand.dry_friction_g_mm > b.rotor.allowance.g_mm();
    let (looks, moves, declared) = if program {
        let p = play(&mut b, vec![], i, &mut rng).expect("a drawn rotor is in range");
        (p.looks, p.moves, p.end == Some(Action::Accept))
    } else {
        let h = by_hand(&mut b, &mut rng);
        (h.looks, h.moves, h.declared_done)
    };
    Run { looks, moves, ratio: b.true_residual().size().g_mm() / b.rotor.allowance.g_mm(), declared, hopeless }
}

fn spread(runs: &[Run], f: impl Fn(&Run) -> f64, digits: usize) -> String {
    let mut v: Vec<f64> = runs.iter().map(f).collect();
    v.sort_by(f64::total_cmp);
    let q = |p: f64| v[((v.len() - 1) as f64 * p).round() as usize];
    format!("{:.digits$} [{:.digits$}–{:.digits$}]", q(0.5), q(0.05), q(0.95))
}

fn percent(part: usize, of: usize) -> String {
    if of == 0 { "–".to_owned() } else { format!("{:.1} %", 100.0 * part as f64 / of as f64) }
}

fn main() {
    let n: u64 = std::env::args().nth(1).map_or(Ok(200), |a| a.parse()).expect("how many rotors: a whole number");
    println!(
        "| stand, allowance | who | looks | moves | residual / allowance | declared done | inside of those | within 3 / 4 / 5 looks | declared though friction is above the allowance |"
    );
    println!("|---|---|---|---|---|---|---|---|---|");
    for (name, kind, grade) in
        [("air, G 1", StandKind::AirSaddles, 1.0), ("air, G 0.4", StandKind::AirSaddles, 0.4), ("ways, G 1", StandKind::HardenedWays, 1.0)]
    {
        for (who, program) in [("Stillwheel", true), ("trial and error", false)] {
            let runs: Vec<Run> = (0..n).into_par_iter().map(|i| run(kind, grade, i, program)).collect();
            let declared: Vec<&Run> = runs.iter().filter(|r| r.declared).collect();
            let inside = declared.iter().filter(|r| r.ratio <= 1.0).count();
            let by = |k: usize| percent(declared.iter().filter(|r| r.looks <= k).count(), runs.len());
            let hopeless = runs.iter().filter(|r| r.hopeless).count();
            println!(
                "| {name} | {who} | {} | {} | {} | {} | {} | {} / {} / {} | {} of {hopeless} |",
                spread(&runs, |r| r.looks as f64, 0),
                spread(&runs, |r| r.moves as f64, 0),
                spread(&runs, |r| r.ratio, 2),
                percent(declared.len(), runs.len()),
                percent(inside, declared.len()),
                by(3),
                by(4),
                by(5),
                declared.iter().filter(|r| r.hopeless).count(),
            );
        }
    }
}
