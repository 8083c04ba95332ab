//! Which part goes into which: the best pairing of holes and shafts that were made.
//!
//! In: measured sizes, the clearance that is wanted. Out: the pairing that puts most pairs within, and of those the one whose clearances lie
//! nearest to the middle. Exact: dynamic programming over the subsets of shafts (Held and Karp's way of counting), up to twelve of each.

use crate::{Fault, Ranged};

/// Most parts of a kind.
pub const MOST_PARTS: usize = 12;

/// A pairing.
#[derive(Clone, Debug, PartialEq)]
pub struct Match {
    /// For each hole, its shaft; none for a hole that is left over.
    pub shaft_of: Vec<Option<usize>>,
    /// Clearance of each pair, µm, by hole.
    pub clearance_um: Vec<Option<f64>>,
    /// How many pairs lie within what is wanted.
    pub within: usize,
}

/// Cost of a pairing: pairs that lie outside, then the sum of squares of what each is off the middle.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
struct Cost(u32, f64);

/// The best pairing of holes and shafts for a wanted clearance on the diameter.
///
/// # Errors
/// A [`Fault`] for no parts or more than twelve of a kind, sizes out of range, or a clearance that is turned round.
pub fn best_match(holes_mm: &[f64], shafts_mm: &[f64], wanted_um: [f64; 2]) -> Result<Match, Fault> {
    for (field, sizes) in [("holes_mm", holes_mm), ("shafts_mm", shafts_mm)] {
        if sizes.is_empty() || sizes.len() > MOST_PARTS {
            return Err(Fault::new(field, sizes.len(), format!("1 to {MOST_PARTS} parts"), "match a small lot at a time"));
        }
        for (i, v) in sizes.iter().enumerate() {
            v.within(&format!("{field}[{i}]"), 0.1, 3000.0, "mm", "a measured size")?;
        }
    }
    let low = wanted_um[0].within("wanted_clearance_um[0]", -2000.0, 2000.0, "µm", "smallest clearance")?;
    let high = wanted_um[1].within("wanted_clearance_um[1]", low, 2000.0, "µm", "largest clearance, not below the smallest")?;
    // The fewer kind takes its partners from the more numerous one, so every part of it finds one.
    let holes_choose = holes_mm.len() <= shafts_mm.len();
    let (few, many) = if holes_choose { (holes_mm.len(), shafts_mm.len()) } else { (shafts_mm.len(), holes_mm.len()) };
    let clearance = |a: usize, b: usize| {
        let (h, s) = if holes_choose { (a, b) } else { (b, a) };
        1e3 * (holes_mm[h] - shafts_mm[s])
    };
    let cost = |a: usize, b: usize| {
        let c = clearance(a, b);
        // Sizes come through text: a nanometre is nothing.
        let outside = c < low - 1e-6 || c > high + 1e-6;
        Cost(u32::from(outside), (c - 0.5 * (low + high)).powi(2))
    };
    // best[set]: cost of giving the first |set| parts the partners in the set.
    let mut best = vec![Cost(u32::MAX, f64::INFINITY); 1 << many];
    let mut last = vec![usize::MAX; 1 << many];
    best[0] = Cost(0, 0.0);
    for set in 0..1_usize << many {
        let a = set.count_ones() as usize;
        if a >= few || best[set].0 == u32::MAX {
            continue;
        }
        for b in (0..many).filter(|b| set & (1 << b) == 0) {
            let (so_far, more) = (best[set], cost(a, b));
            let total = Cost(so_far.0 + more.0, so_far.1 + more.1);
            let next = set | 1 << b;
            if total < best[next] {
                best[next] = total;
                last[next] = b;
            }
        }
    }
    let full = (0..1_usize << many).filter(|s| s.count_ones() as usize == few);
    let mut set = full.min_by(|a, b| best[*a].partial_cmp(&best[*b]).unwrap_or(std::cmp::Ordering::Equal)).unwrap_or(0);
    let mut shaft_of = vec![None; holes_mm.len()];
    let within = few - best[set].0 as usize;
    for a in (0..few).rev() {
        let b = last[set];
        let (h, s) = if holes_choose { (a, b) } else { (b, a) };
        shaft_of[h] = Some(s);
        set &= !(1 << b);
    }
    let clearance_um = shaft_of.iter().enumerate().map(|(h, s)| s.map(|s| 1e3 * (holes_mm[h] - shafts_mm[s]))).collect();
    Ok(Match { shaft_of, clearance_um, within })
}
