//! A whole sitting on the virtual bench: the program proposes, the virtual person does.

use super::VirtualBench;
use super::shop::known;
use crate::bench::belief::Known;
use crate::bench::look::Look;
use crate::bench::next_step::{self, Action, Placed, Proposal, Situation};
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
pub fn play(bench: &mut VirtualBench, first: Vec<Look>, seed: u64, rng: &mut Xoshiro256PlusPlus) -> Played {
    let known: Known = known(&bench.rotor, &bench.stand, &bench.person);
    let mut out = Played { looks: first.len(), moves: 0, placements: 0, end: None, residual: UnbalanceVector::default(), seen: first };
    loop {
        let situation = Situation {
            known: &known,
            looks: &out.seen,
            weights_now: &bench.weights,
            allowance: bench.rotor.allowance,
            floor: Unbalance::from_g_mm(bench.stand.floor_g_mm),
            sureness: 0.95,
            reader: bench.person.reader(),
            seed: seed.wrapping_add(out.looks as u64),
        };
        let Proposal { action, choice, .. } = next_step::propose(&situation, |target, enough| place_temp(bench, target, enough));
        let ended = !matches!(action, Action::Look | Action::MoveThenLook);
        let Some(choice) = choice.filter(|_| !ended && out.looks < MOST_LOOKS) else {
            out.end = ended.then_some(action);
            break;
        };
        let moved = bench.set_weights(&choice.weights, rng);
        out.moves += moved;
        out.placements += usize::from(moved > 0);
        let reading = bench.look(choice.look, rng);
        out.seen.push(Look { weights: bench.weights.clone(), turned_on_arbor: Angle::default(), trial: None, reading });
        out.looks += 1;
    }
    out.residual = bench.true_residual();
    out
}

/// TEMP
pub fn place_temp(bench: &VirtualBench, target: UnbalanceVector, enough: Unbalance) -> Option<Placed> {
    use crate::bench::look::Weight;
    use crate::quantity::RotorAngle;
    let now = &bench.weights;
    let n = now.len();
    let mut best: Option<(f64, Vec<Weight>)> = None;
    let pair = |weights: &mut Vec<Weight>, i: usize, j: usize, best: &mut Option<(f64, Vec<Weight>)>| {
        let mut v = [0.0, 0.0];
        let t = target.g_mm();
        for (k, w) in weights.iter().enumerate() {
            if k != i && k != j {
                let g = w.vector().g_mm();
                v[0] += g[0];
                v[1] += g[1];
            }
        }
        let d = [-t[0] - v[0], -t[1] - v[1]];
        let (r, th) = (d[0].hypot(d[1]), d[1].atan2(d[0]));
        let (a, b) = (weights[i].moment.g_mm(), weights[j].moment.g_mm());
        let ca = ((r * r + a * a - b * b) / (2.0 * r * a)).clamp(-1.0, 1.0).acos();
        let cb = ((r * r + b * b - a * a) / (2.0 * r * b)).clamp(-1.0, 1.0).acos();
        for s in [1.0, -1.0] {
            let (ai, bj) = ((th + s * ca).to_degrees().round(), (th - s * cb).to_degrees().round());
            for da in -2..=2 {
                for db in -2..=2 {
                    let mut w = weights.clone();
                    w[i].at = RotorAngle::from_deg(ai + da as f64);
                    w[j].at = RotorAngle::from_deg(bj + db as f64);
                    let left = (target + w.iter().map(|w| w.vector()).sum()).size().g_mm();
                    if best.as_ref().is_none_or(|b| left < b.0) {
                        *best = Some((left, w));
                    }
                }
            }
        }
    };
    for k in 0..n {
        let mut w = now.clone();
        pair(&mut w, (k + 1) % n, (k + 2) % n, &mut best);
    }
    if best.as_ref()?.0 > enough.g_mm() {
        for a in 0..360 {
            let mut w = now.clone();
            w[0].at = RotorAngle::from_deg(f64::from(a));
            pair(&mut w, 1, 2, &mut best);
        }
    }
    let (_, weights) = best?;
    let moved = weights.iter().zip(now).filter(|(a, b)| a.at.from(b.at).rad().abs() > 1e-9).count();
    let left = target + weights.iter().map(|w| w.vector()).sum();
    Some(Placed { weights, moved, left })
}
