//! The program beside trial and error, over many virtual rotors: looks, moves, true residual.
//!
//! `cargo run --release -p stillwheel-physics --example bench_table -- 2000` prints docs/bench-table.md's rows. A second argument of
//! `logs` prints the rows of sittings that begin with a swing log only.

use rand::SeedableRng;
use rand_xoshiro::Xoshiro256PlusPlus;
use rayon::prelude::*;
use stillwheel_physics::bench::look::Look;
use stillwheel_physics::bench::next_step::{Action, LookPlan};
use stillwheel_physics::bench::virtual_bench::by_hand::by_hand;
use stillwheel_physics::bench::virtual_bench::play::{play, play_by};
use stillwheel_physics::bench::virtual_bench::{StandKind, VirtualBench, draw_clip, draw_person, draw_rotor, draw_stand};
use stillwheel_physics::quantity::{Angle, Seconds};

/// Who balances, and by which looks.
#[derive(Clone, Copy, PartialEq)]
enum Who {
    /// The program, settle angles and a stopwatch.
    Program,
    /// The program, first look a clip, then settle angles and a stopwatch.
    LogFirst,
    /// The program, each swing a clip.
    Logs,
    Hand,
}

struct Run {
    looks: usize,
    moves: usize,
    placements: usize,
    /// True residual over the allowance.
    ratio: f64,
    declared: bool,
    /// The program said that the stand can't show it.
    not_shown: bool,
    /// Dry friction of the stand is above the allowance: nothing can be proved there.
    hopeless: bool,
}

fn run(kind: StandKind, grade: f64, inertia_rel_sd: f64, i: u64, who: Who) -> Run {
    let mut rng = Xoshiro256PlusPlus::seed_from_u64(1_000_000 + i);
    let rotor = draw_rotor(kind, grade, inertia_rel_sd, &mut rng);
    let stand = draw_stand(kind, &rotor, &mut rng);
    let person = draw_person(&mut rng);
    let mut b = VirtualBench::new(rotor, stand, person, &mut rng);
    let hopeless = b.stand.dry_friction_g_mm > b.rotor.allowance.g_mm();
    let (looks, moves, placements, end) = if who == Who::Hand {
        let h = by_hand(&mut b, &mut rng);
        (h.looks, h.moves, 0, h.declared_done.then_some(Action::Accept))
    } else {
        let first = if who == Who::Program { vec![] } else { first_log(&b, &mut rng) };
        let p = match who {
            Who::Logs => play_by(&mut b, first, i, &mut rng, film),
            _ => play(&mut b, first, i, &mut rng),
        }
        .expect("a drawn rotor is in range");
        (p.looks, p.moves, p.placements, p.end)
    };
    Run {
        looks,
        moves,
        placements,
        ratio: b.true_residual().size().g_mm() / b.rotor.allowance.g_mm(),
        declared: end == Some(Action::Accept),
        not_shown: end == Some(Action::StandCannotShow),
        hopeless,
    }
}

/// A clip of a minute of the rotor as it comes. One that is no reading costs nothing here: the sitting then begins by eye.
fn first_log(b: &VirtualBench, rng: &mut Xoshiro256PlusPlus) -> Vec<Look> {
    let clip = draw_clip(Seconds::new(60.0), rng);
    let reading = b.log(&clip, rng).ok().flatten();
    reading
        .into_iter()
        .map(|reading| Look { weights: b.weights.clone(), turned_on_arbor: Angle::default(), trial: None, reading })
        .collect()
}

/// Film a swing instead of timing it, as long as this person would watch; where the clip is no reading, the eye's counts.
fn film(b: &VirtualBench, plan: LookPlan, rng: &mut Xoshiro256PlusPlus) -> stillwheel_physics::bench::look::Reading {
    let seen = b.look(plan, rng);
    let LookPlan::Swing { .. } = plan else { return seen };
    let clip = draw_clip(b.person.patience, rng);
    b.log(&clip, rng).ok().flatten().unwrap_or(seen)
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

fn rows(n: u64, kind: StandKind, grade: f64, inertia_rel_sd: f64, who: Who) -> Vec<Run> {
    (0..n).into_par_iter().map(|i| run(kind, grade, inertia_rel_sd, i, who)).collect()
}

fn inside(declared: &[&Run]) -> String {
    percent(declared.iter().filter(|r| r.ratio <= 1.0).count(), declared.len())
}

fn settle_and_stopwatch(n: u64) {
    println!(
        "| stand, allowance | who | looks | weights moved | residual / allowance | declared done | inside of those | within 3 / 4 / 5 looks |"
    );
    println!("|---|---|---|---|---|---|---|---|");
    for (name, kind, grade) in
        [("air, G 1", StandKind::AirSaddles, 1.0), ("air, G 0.4", StandKind::AirSaddles, 0.4), ("ways, G 1", StandKind::HardenedWays, 1.0)]
    {
        for (words, who) in [("Stillwheel", Who::Program), ("trial and error", Who::Hand)] {
            let runs = rows(n, kind, grade, 0.05, who);
            let declared: Vec<&Run> = runs.iter().filter(|r| r.declared).collect();
            let by = |k: usize| percent(declared.iter().filter(|r| r.looks <= k).count(), runs.len());
            println!(
                "| {name} | {words} | {} | {} | {} | {} | {} | {} / {} / {} |",
                spread(&runs, |r| r.looks as f64, 0),
                spread(&runs, |r| r.moves as f64, 0),
                spread(&runs, |r| r.ratio, 2),
                percent(declared.len(), runs.len()),
                inside(&declared),
                by(3),
                by(4),
                by(5),
            );
            if kind == StandKind::HardenedWays {
                let of: Vec<&Run> = runs.iter().filter(|r| r.hopeless).collect();
                let declared: Vec<&Run> = of.iter().copied().filter(|r| r.declared).collect();
                let outside = declared.iter().filter(|r| r.ratio > 1.0).count();
                println!(
                    "| ways with friction above the allowance ({} rotors) | {words} | – | – | – | {} | {} | declared but not inside: {}; said that the stand can't show it: {} |",
                    of.len(),
                    percent(declared.len(), of.len()),
                    inside(&declared),
                    percent(outside, of.len()),
                    percent(of.iter().filter(|r| r.not_shown).count(), of.len()),
                );
            }
        }
    }
}

fn logs(n: u64) {
    println!(
        "| air, G 1 | inertia known to | proven with 2 looks and 1 placement | looks | weights moved | declared done | inside of those |"
    );
    println!("|---|---|---|---|---|---|---|");
    for (words, who) in [("swing log first, then settle and stopwatch", Who::LogFirst), ("each swing a log", Who::Logs)] {
        for sd in [0.05, 0.02, 0.01] {
            let runs = rows(n, StandKind::AirSaddles, 1.0, sd, who);
            let declared: Vec<&Run> = runs.iter().filter(|r| r.declared).collect();
            println!(
                "| {words} | {:.0} % | {} | {} | {} | {} | {} |",
                100.0 * sd,
                percent(declared.iter().filter(|r| r.looks <= 2 && r.placements <= 1).count(), runs.len()),
                spread(&runs, |r| r.looks as f64, 0),
                spread(&runs, |r| r.moves as f64, 0),
                percent(declared.len(), runs.len()),
                inside(&declared),
            );
        }
    }
}

fn main() {
    let n: u64 = std::env::args().nth(1).map_or(Ok(200), |a| a.parse()).expect("how many rotors: a whole number");
    if std::env::args().nth(2).as_deref() != Some("logs") {
        settle_and_stopwatch(n);
        println!();
    }
    logs(n);
}
