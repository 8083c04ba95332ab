//! A whole sitting on the virtual bench: the program proposes, the virtual person does.

use super::VirtualBench;
use super::shop::known;
use crate::Fault;
use crate::bench::belief::Known;
use crate::bench::look::{Look, Reading};
use crate::bench::next_step::{self, Action, LookPlan, Proposal, Situation};
use crate::quantity::{Angle, Unbalance, UnbalanceVector};
use rand_xoshiro::Xoshiro256PlusPlus;

/// Most looks in one sitting.
pub const MOST_LOOKS: usize = 14;

/// What a sitting came to.
#[derive(Clone, Debug)]
pub struct Played {
    /// Looks taken.
    pub looks: usize,
    /// Weights moved.
    pub moves: usize,
    /// Times that weights were moved.
    pub placements: usize,
    /// How it ended: accepted, the stand can't show it, weights too light; `None` after the most looks.
    pub end: Option<Action>,
    /// The true residual then.
    pub residual: UnbalanceVector,
    /// All looks.
    pub seen: Vec<Look>,
}

/// Play a sitting to its end. `first`: looks that were taken already (a swing log, say), with the weights as they are.
///
/// # Errors
/// A [`Fault`] of the next step.
pub fn play(bench: &mut VirtualBench, first: Vec<Look>, seed: u64, rng: &mut Xoshiro256PlusPlus) -> Result<Played, Fault> {
    play_by(bench, first, seed, rng, VirtualBench::look)
}

/// As [`play`], with looks taken in a way of one's own: `take` is told what was proposed, and may film the swing instead.
///
/// # Errors
/// A [`Fault`] of the next step.
pub fn play_by(
    bench: &mut VirtualBench,
    first: Vec<Look>,
    seed: u64,
    rng: &mut Xoshiro256PlusPlus,
    take: impl Fn(&VirtualBench, LookPlan, &mut Xoshiro256PlusPlus) -> Reading,
) -> Result<Played, Fault> {
    let ring = bench.rotor.ring();
    let known: Known = known(&bench.rotor, &bench.stand, &bench.person);
    let mut out = Played { looks: first.len(), moves: 0, placements: 0, end: None, residual: UnbalanceVector::default(), seen: first };
    loop {
        let situation = Situation {
            known: &known,
            looks: &out.seen,
            weights_now: &bench.weights,
            ring: &ring,
            allowance: bench.rotor.allowance,
            floor: Unbalance::from_g_mm(bench.stand.floor_g_mm),
            sureness: 0.95,
            reader: bench.person.reader(),
            seed: seed.wrapping_add(out.looks as u64),
        };
        let Proposal { action, choice, .. } = next_step::propose(&situation)?;
        let ended = !matches!(action, Action::Look | Action::MoveThenLook);
        let Some(choice) = choice.filter(|_| !ended && out.looks < MOST_LOOKS) else {
            out.end = ended.then_some(action);
            break;
        };
        let moved = bench.set_weights(&choice.weights, rng);
        out.moves += moved;
        out.placements += usize::from(moved > 0);
        let reading = take(bench, choice.look, rng);
        out.seen.push(Look { weights: bench.weights.clone(), turned_on_arbor: Angle::default(), trial: None, reading });
        out.looks += 1;
    }
    out.residual = bench.true_residual();
    Ok(out)
}
