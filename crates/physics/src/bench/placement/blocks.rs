//! Too many placements to rule all out: pack the weights close together for a start, then replace a few at a time by
//! their exact best until nothing gets better. Gives good placements, proves nothing.

use super::SAME_DEG;
use super::field::{Aim, Field, Found, Keeper, MOST_WEIGHTS, Places};
use super::solve::{MOST_LEAVES, leaves, stay, subsets};
use super::walk::walk;

/// Leaves that one round may visit in all: about a quarter of a second.
const BUDGET: f64 = 14.0 * MOST_LEAVES;

/// The weights side by side without gaps, counter-clockwise from every graduation in turn: the one that leaves least.
///
/// In a groove whose weights keep their order, if this finds no room there is none: for a given place of the first
/// weight each next one stands as early as it can.
pub(super) fn pack(field: &Field, at: &Places, free: &[usize]) -> Option<Found> {
    let mut best: Option<Found> = None;
    if free.is_empty() {
        let rest = field.rest(at);
        return Some(Found { at: *at, residual: rest[0].hypot(rest[1]), travel: 0.0, moved: 0 });
    }
    // In a groove any of the weights may stand first in the row; weights that may pass are tried in one order.
    let firsts = if field.order.is_empty() { &free[..1] } else { free };
    for (first, g) in firsts.iter().flat_map(|&i| (0..field.unit.len()).map(move |g| (i, g))).filter(|&(i, g)| field.allowed[i][g]) {
        let mut placed = *at;
        let fits = if field.order.is_empty() { fill_gaps(field, &mut placed, free, g) } else { in_a_row(field, &mut placed, first, g) };
        let sound = fits && free.iter().all(|&i| field.clear(i, placed[i], &placed)) && field.in_order(&placed);
        let rest = field.rest(&placed);
        let residual = rest[0].hypot(rest[1]);
        if sound && best.is_none_or(|b| residual < b.residual) {
            best = Some(Found { at: placed, residual, travel: 0.0, moved: 0 });
        }
    }
    best
}

/// Weights that may pass one another: each in the first gap that takes it.
fn fill_gaps(field: &Field, at: &mut Places, free: &[usize], start: usize) -> bool {
    let n = field.unit.len();
    let mut from = start;
    for &i in free {
        let fits = |g: usize| field.allowed[i][g % n] && field.clear(i, (g % n) as f64 * field.step, at);
        let Some(g) = (from..start + n).find(|&g| fits(g)) else { return false };
        at[i] = (g % n) as f64 * field.step;
        from = g;
    }
    true
}

/// Weights that keep their order: each as close behind the one before as arcs allow, those that can't move where they are.
fn in_a_row(field: &Field, at: &mut Places, first: usize, start: usize) -> bool {
    let n = field.unit.len();
    let Some(slot) = field.order.iter().position(|&i| i == first) else { return false };
    let begin = start as f64 * field.step;
    let (mut before, mut place) = (first, begin);
    at[first] = begin;
    for k in 1..field.order.len() {
        let i = field.order[(slot + k) % field.order.len()];
        let room = if field.fixed[i] && field.fixed[before] { 0.0 } else { 0.5 * (field.arc[i] + field.arc[before]) };
        let from = place + room;
        place = if at[i].is_nan() {
            let g = ((from - SAME_DEG) / field.step).ceil() as usize;
            let Some(g) = (g..g + n).find(|&g| field.allowed[i][g % n]) else { return false };
            at[i] = (g % n) as f64 * field.step;
            g as f64 * field.step
        } else {
            from - SAME_DEG + (at[i] - from + SAME_DEG).rem_euclid(360.0)
        };
        before = i;
    }
    place <= begin + 360.0 + SAME_DEG
}

/// Improve the seed by blocks of weights, the others standing still.
pub(super) fn least(field: &Field, at: &Places, free: &[usize], seed: Found) -> Found {
    let mut keeper = Keeper::new(field, Aim::LeastResidual, seed.residual);
    keeper.best = Some(seed);
    improve(field, at, free, &mut keeper);
    keeper.best.unwrap_or(seed)
}

/// Best by the aim among those within the radius that can be reached from the present places, or from `known`, by blocks.
pub(super) fn choose(field: &Field, at: &Places, free: &[usize], radius: f64, aim: Aim, known: &Found) -> Found {
    let mut keeper = Keeper::new(field, aim, radius);
    keeper.offer(&known.at, known.residual);
    let mut budget = BUDGET;
    'sizes: for size in 0..=free.len() {
        for moving in subsets(free, size) {
            let staying: Vec<usize> = free.iter().copied().filter(|i| !moving.contains(i)).collect();
            let Some((at, moving)) = stay_on_graduations(field, at, free, &staying, aim) else { continue };
            budget -= leaves(field, &moving);
            if budget < 0.0 {
                break 'sizes;
            }
            walk(field, &at, &moving, &mut keeper);
        }
    }
    improve(field, at, free, &mut keeper);
    keeper.best.unwrap_or(*known)
}

/// With least travel first, a weight between two graduations has to be moved.
fn stay_on_graduations(field: &Field, at: &Places, free: &[usize], staying: &[usize], aim: Aim) -> Option<(Places, Vec<usize>)> {
    let present = field.present.as_ref()?;
    let on = |i: &usize| (present[*i] / field.step - (present[*i] / field.step).round()).abs() * field.step <= SAME_DEG;
    if aim == Aim::LeastTravel && !staying.iter().all(on) {
        return None;
    }
    stay(field, at, free, staying)
}

/// Blocks of two, three, ... weights, each replaced by its best, until a round brings nothing.
fn improve<'a>(field: &'a Field, at: &Places, free: &[usize], keeper: &mut Keeper<'a>) {
    for size in 2..=free.len() {
        let mut budget = BUDGET;
        for _ in 0..20 {
            let before = keeper.best.map(|b| (b.residual, b.travel, b.moved));
            for block in subsets(free, size) {
                let Some(best) = keeper.best else { return };
                let mut placed = best.at;
                for &i in &block {
                    placed[i] = f64::NAN;
                }
                budget -= leaves(field, &block).max(50.0);
                if budget < 0.0 {
                    break;
                }
                walk(field, &placed, &block, keeper);
            }
            if budget < 0.0 || keeper.best.map(|b| (b.residual, b.travel, b.moved)) == before {
                break;
            }
        }
        if leaves(field, &free[..size]) > BUDGET {
            break;
        }
    }
    debug_assert!((0..MOST_WEIGHTS).all(|i| at[i].is_nan() || keeper.best.is_none_or(|b| b.at[i] == at[i])));
}
