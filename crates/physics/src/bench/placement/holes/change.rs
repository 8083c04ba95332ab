//! The fewest changes of the screws that are in, once the rotor is nearly balanced: most screws stay where they are.
//!
//! A change is a hole with another screw, or none. All sets of one, two, three changes are listed; two lists put together
//! give all sets of twice as many, as in the search of fillings.

use super::super::plane::Plane;
use super::{HolePlacement, HoleTask, MOST_FILLINGS, Rack};
use crate::quantity::Unbalance;
use crate::{Fault, Ranged};

/// Most changes in one list; two lists together hold twice as many.
const MOST_IN_LIST: usize = 3;

/// The filling with the fewest changed holes that leaves at most `good_enough`; of those with as few, the one that leaves
/// least. `None` when no filling within six changes does, or when there are too many holes and kinds to list them: then
/// [`place_in_holes`](super::place_in_holes) looks among all.
///
/// Without present screws all holes count as empty. `good_enough`: 0 to 1e6 g·mm.
///
/// # Errors
/// As [`place_in_holes`](super::place_in_holes).
pub fn change_in_holes(task: &HoleTask, good_enough: Unbalance) -> Result<Option<HolePlacement>, Fault> {
    let rack = Rack::checked(task)?;
    let radius = good_enough.g_mm().within("good_enough_g_mm", 0.0, 1e6, "g·mm", "a residual this small needs no further change")?;
    let present = task.present.clone().unwrap_or_else(|| vec![None; task.holes.len()]);
    let put: Vec<(u8, u8)> = present.iter().enumerate().filter_map(|(h, k)| k.map(|k| (h as u8, k as u8))).collect();
    let rest = rack.rest(&put);
    for most in 1..=MOST_IN_LIST {
        let Some(list) = Changes::up_to(&rack, &present, most) else { return Ok(None) };
        if let Some(kinds) = list.fewest(&rack, &present, rest, radius) {
            let put = kinds.iter().enumerate().filter_map(|(h, k)| k.map(|k| (h as u8, k as u8))).collect();
            let filling = rack.filling(put);
            let least = filling.residual;
            return Ok(Some(rack.placement(filling, least, false)));
        }
    }
    Ok(None)
}

/// A hole and what is in it afterwards.
type Change = (u8, Option<u8>);

/// Sets of changes with what each adds to the screws' sum.
struct Changes {
    sums: Vec<[f64; 2]>,
    sets: Vec<Vec<Change>>,
}

impl Changes {
    /// All sets of at most so many changes, holes rising; `None` if there are too many.
    fn up_to(rack: &Rack, present: &[Option<usize>], most: usize) -> Option<Self> {
        let kinds = rack.mass.len();
        let mut list = Self { sums: vec![[0.0; 2]], sets: vec![Vec::new()] };
        let mut from = 0;
        for _ in 0..most {
            let to = list.sets.len();
            for i in from..to {
                let first = list.sets[i].last().map_or(0, |c| usize::from(c.0) + 1);
                for (h, now) in present.iter().enumerate().skip(first) {
                    for then in std::iter::once(None).chain((0..kinds).map(Some)).filter(|k| k != now) {
                        let gram = then.map_or(0.0, |k| rack.mass[k]) - now.map_or(0.0, |k| rack.mass[k]);
                        let sum = [list.sums[i][0] + gram * rack.arm[h][0], list.sums[i][1] + gram * rack.arm[h][1]];
                        let mut set = list.sets[i].clone();
                        set.push((h as u8, then.map(|k| k as u8)));
                        list.sums.push(sum);
                        list.sets.push(set);
                    }
                }
                if list.sets.len() > MOST_FILLINGS {
                    return None;
                }
            }
            from = to;
        }
        Some(list)
    }

    /// Two sets put together that bring `rest` to within `radius` by the fewest changes, and of those the nearest.
    fn fewest(&self, rack: &Rack, present: &[Option<usize>], rest: [f64; 2], radius: f64) -> Option<Vec<Option<usize>>> {
        let half = self.sums.iter().map(|s| s[0].abs().max(s[1].abs())).fold(rack.mass[0], f64::max);
        let plane = Plane::new(&self.sums, half);
        let mut best: Option<(usize, f64, Vec<Option<usize>>)> = None;
        for (sum, second) in self.sums.iter().zip(&self.sets) {
            plane.within([rest[0] - sum[0], rest[1] - sum[1]], radius, |a, d2| {
                let first = &self.sets[a];
                let apart = match (first.last(), second.first()) {
                    (Some(x), Some(y)) => x.0 < y.0,
                    _ => true,
                };
                let key = (first.len() + second.len(), d2);
                if apart && best.as_ref().is_none_or(|b| key < (b.0, b.1)) {
                    let mut then = present.to_vec();
                    for &(h, k) in first.iter().chain(second) {
                        then[usize::from(h)] = k.map(usize::from);
                    }
                    if rack.stock_holds(then.iter().flatten().map(|&k| (0, k as u8))) {
                        best = Some((key.0, key.1, then));
                    }
                }
                radius
            });
        }
        best.map(|b| b.2)
    }
}
