//! Two halves of the weights: all placements of one in a plane, asked for what the other leaves. Complete, like the
//! walk, for six weights on 72 graduations (10¹¹ placements).

use super::ROUNDING;
use super::field::{Field, Keeper, Places};
use super::plane::Plane;

/// Most placements of one half that are kept.
const MOST_IN_HALF: usize = 1_500_000;

/// All placements of one half: sums and, `group.len()` for each, graduations.
struct Half<'a> {
    group: &'a [usize],
    sums: Vec<[f64; 2]>,
    graduations: Vec<u16>,
}

/// Both halves, listed and sorted once, asked as often as wanted.
pub(super) struct Halves<'a> {
    kept: Half<'a>,
    asked: Half<'a>,
    plane: Plane,
    at: Places,
}

/// List the halves of the free weights; `None` if one would be too large.
///
/// `free` should stand in the cyclic order: what stands side by side in one half is then ruled out early.
pub(super) fn halves<'a>(field: &Field, at: &Places, free: &'a [usize]) -> Option<Halves<'a>> {
    let (a, b) = free.split_at(free.len() / 2);
    let (kept, asked) = (list(field, at, a)?, list(field, at, b)?);
    let reach: f64 = a.iter().map(|&i| field.moment[i]).sum();
    let plane = Plane::new(&kept.sums, reach);
    Some(Halves { kept, asked, plane, at: *at })
}

fn list<'a>(field: &Field, at: &Places, group: &'a [usize]) -> Option<Half<'a>> {
    let most: f64 = group.iter().map(|&i| field.allowed[i].iter().filter(|a| **a).count() as f64).product();
    if most > 8.0 * MOST_IN_HALF as f64 {
        // Overlap and order rule out many, not that many: don't begin.
        return None;
    }
    let mut half = Half { group, sums: Vec::new(), graduations: Vec::new() };
    let mut on = vec![0_u16; group.len()];
    fill(field, &mut at.clone(), &mut half, &mut on, 0, [0.0; 2]).then_some(half)
}

/// Depth first over the group; false when the list grows too long.
fn fill(field: &Field, at: &mut Places, half: &mut Half, on: &mut [u16], level: usize, sum: [f64; 2]) -> bool {
    if level == half.group.len() {
        half.sums.push(sum);
        half.graduations.extend_from_slice(on);
        return half.sums.len() <= MOST_IN_HALF;
    }
    let i = half.group[level];
    for (g, e) in field.unit.iter().enumerate() {
        let a = g as f64 * field.step;
        if !field.allowed[i][g] || !field.clear(i, a, at) {
            continue;
        }
        at[i] = a;
        on[level] = g as u16;
        let q = field.moment[i];
        let fits = !field.in_order(at) || fill(field, at, half, on, level + 1, [sum[0] + q * e[0], sum[1] + q * e[1]]);
        at[i] = f64::NAN;
        if !fits {
            return false;
        }
    }
    true
}

impl Halves<'_> {
    /// How many pairs of half placements there are.
    pub(super) fn pairs(&self) -> f64 {
        self.kept.sums.len() as f64 * self.asked.sums.len() as f64
    }

    /// Offer every placement within the keeper's radius.
    pub(super) fn search(&self, field: &Field, keeper: &mut Keeper) {
        let (a, b) = (self.kept.group.len(), self.asked.group.len());
        let rest = field.rest(&self.at);
        let mut at = self.at;
        for (k, sum) in self.asked.sums.iter().enumerate() {
            let mut placed = false;
            let radius = keeper.radius + ROUNDING;
            self.plane.within([rest[0] - sum[0], rest[1] - sum[1]], radius, |m, d2| {
                if !placed {
                    put(field, &mut at, &self.asked, k, b);
                    placed = true;
                }
                put(field, &mut at, &self.kept, m, a);
                if self.kept.group.iter().all(|&i| field.clear(i, at[i], &at)) && way(field, &at) <= keeper.travel_limit() {
                    keeper.offer(&at, d2.sqrt());
                }
                keeper.radius + ROUNDING
            });
        }
    }
}

fn put(field: &Field, at: &mut Places, half: &Half, k: usize, len: usize) {
    for (&i, &g) in half.group.iter().zip(&half.graduations[k * len..(k + 1) * len]) {
        at[i] = f64::from(g) * field.step;
    }
}

fn way(field: &Field, at: &Places) -> f64 {
    (0..field.count()).map(|i| field.way_at_least(i, at[i])).sum()
}
