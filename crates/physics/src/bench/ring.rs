//! The weight ring of a rotor: where its correction weights may stand.
//!
//! In: what is to be answered, where the weights are now. Out: where they go, how many move, what is left. The two kinds
//! of ring as [`next_step`](super::next_step) needs them; the exact searches are in [`placement`](super::placement).

use super::look::Weight;
use super::placement::{GrooveTask, GrooveWeight, Hole, HoleTask, Order, Screw, change_in_holes, place_in_groove, place_in_holes};
use crate::Fault;
use crate::quantity::{Angle, RotorAngle, Unbalance, UnbalanceVector};

/// A ring and what it takes.
#[derive(Clone, Debug, PartialEq)]
pub enum Ring {
    /// Weights that slide in a groove.
    Groove {
        /// The weights, in the order in which looks list them.
        weights: Vec<GrooveWeight>,
        /// Spacing of the graduations.
        graduation: Angle,
        /// Arcs that no weight may enter.
        forbidden: Vec<[RotorAngle; 2]>,
        /// Whether weights can't pass one another.
        no_passing: bool,
        /// Weights that may not be moved; empty: all may.
        fixed: Vec<bool>,
    },
    /// Set screws in tapped holes. Looks list one weight a hole, in the order of the holes; an empty hole has moment zero.
    Holes {
        /// The holes.
        holes: Vec<Hole>,
        /// All screws there are, those in the holes included.
        stock: Vec<Screw>,
        /// Holes whose screw (or emptiness) may not be changed; empty: all may.
        fixed: Vec<bool>,
    },
}

/// A placement.
#[derive(Clone, Debug)]
pub struct Placed {
    /// The weights then.
    pub weights: Vec<Weight>,
    /// How many of them move (or holes whose screw changes).
    pub moved: usize,
    /// Way to slide each weight, positive counter-clockwise; empty for holes.
    pub ways: Vec<Angle>,
    /// What is left of the unbalance.
    pub left: UnbalanceVector,
}

/// A moment is that of a screw in a hole when it agrees to this share.
const SAME_SCREW: f64 = 1e-6;

impl Ring {
    /// Answer `unbalance` (the rotor without its weights) by as few moves as leave at most `good_enough`; where that can't
    /// be had, by what leaves least.
    ///
    /// # Errors
    /// A [`Fault`] when the ring has no room for its weights, or when `now` is no state of this ring.
    pub fn place(&self, unbalance: UnbalanceVector, now: &[Weight], good_enough: Unbalance) -> Result<Placed, Fault> {
        match self {
            Self::Groove { weights, graduation, forbidden, no_passing, fixed } => {
                let task = GrooveTask {
                    unbalance,
                    weights: weights.clone(),
                    graduation: *graduation,
                    forbidden: forbidden.clone(),
                    no_passing: *no_passing,
                    present: Some(now.iter().map(|w| w.at).collect()),
                    fixed: fixed.clone(),
                    tie: Unbalance::from_g_mm(1e-6),
                    good_enough: Some(good_enough),
                    order: Order::FewestMoved,
                };
                let best = place_in_groove(&task)?;
                let weights = weights.iter().zip(&best.at).map(|(w, at)| Weight { moment: w.moment, at: *at }).collect();
                Ok(Placed { weights, moved: best.moved, ways: best.ways, left: best.residual })
            }
            Self::Holes { holes, stock, fixed } => {
                let present = now.iter().enumerate().map(|(i, w)| self.kind_in_hole(i, w)).collect::<Result<Vec<_>, _>>()?;
                let (kinds, left) = fill(unbalance, holes, stock, fixed, &present, good_enough)?;
                let moved = present.iter().zip(&kinds).filter(|(a, b)| a != b).count();
                let moment =
                    |hole: &Hole, kind: &Option<usize>| Unbalance::from_g_mm(kind.map_or(0.0, |k| stock[k].mass.g() * hole.radius.mm()));
                let weights = holes.iter().zip(&kinds).map(|(h, k)| Weight { moment: moment(h, k), at: h.at }).collect();
                Ok(Placed { weights, moved, ways: vec![], left })
            }
        }
    }

    /// The largest unbalance that the ring can answer, bodies and graduations left aside: all weights together at one
    /// place; or the heaviest screws in the holes of the half circle where they pull most.
    pub fn reach(&self) -> Unbalance {
        match self {
            Self::Groove { weights, .. } => Unbalance::from_g_mm(weights.iter().map(|w| w.moment.g_mm()).sum()),
            Self::Holes { holes, stock, .. } => {
                let mut masses: Vec<f64> = stock.iter().flat_map(|s| std::iter::repeat_n(s.mass.g(), s.count.min(holes.len()))).collect();
                masses.sort_by(|a, b| b.total_cmp(a));
                let towards = |at: RotorAngle| {
                    let mut pull: Vec<f64> = holes.iter().map(|h| h.radius.mm() * h.at.from(at).rad().cos()).filter(|p| *p > 0.0).collect();
                    pull.sort_by(|a, b| b.total_cmp(a));
                    pull.iter().zip(&masses).map(|(p, m)| p * m).sum::<f64>()
                };
                // Towards a hole or halfway to its neighbour: for holes evenly spaced that is where the sum is largest.
                let pitch = 360.0 / holes.len().max(1) as f64;
                let tried = holes.iter().flat_map(|h| [h.at, h.at.turned(Angle::from_deg(0.5 * pitch))]);
                Unbalance::from_g_mm(tried.map(towards).fold(0.0, f64::max))
            }
        }
    }

    /// Which kind of screw is in hole `i`, from its moment.
    fn kind_in_hole(&self, i: usize, w: &Weight) -> Result<Option<usize>, Fault> {
        let Self::Holes { holes, stock, .. } = self else { return Ok(None) };
        if w.moment.g_mm() == 0.0 {
            return Ok(None);
        }
        let radius = holes[i].radius.mm();
        stock.iter().position(|s| (s.mass.g() * radius / w.moment.g_mm() - 1.0).abs() < SAME_SCREW).map(Some).ok_or_else(|| {
            Fault::new(
                format!("weights_now[{i}].moment_g_mm"),
                w.moment.g_mm(),
                "0 (empty), or the mass of one screw of the stock times the radius of the hole",
                "the screw in this hole is not one of the stock: add its mass to the stock",
            )
        })
    }
}

/// Which screw goes into each hole, and what is left: by few changes if that is good enough, else by the best filling.
fn fill(
    unbalance: UnbalanceVector,
    holes: &[Hole],
    stock: &[Screw],
    fixed: &[bool],
    present: &[Option<usize>],
    good_enough: Unbalance,
) -> Result<(Vec<Option<usize>>, UnbalanceVector), Fault> {
    let free: Vec<usize> = (0..holes.len()).filter(|&h| !fixed.get(h).copied().unwrap_or(false)).collect();
    let stays = |h: usize| !free.contains(&h);
    let staying: UnbalanceVector = (0..holes.len())
        .filter(|&h| stays(h))
        .filter_map(|h| {
            present[h].map(|k| UnbalanceVector::polar(Unbalance::from_g_mm(stock[k].mass.g() * holes[h].radius.mm()), holes[h].at))
        })
        .sum();
    let mut kinds = present.to_vec();
    if free.is_empty() {
        return Ok((kinds, unbalance + staying));
    }
    // Screws that stay are not to be had; a kind that they use up altogether leaves the task.
    let had: Vec<usize> = stock
        .iter()
        .enumerate()
        .map(|(k, s)| s.count.saturating_sub((0..holes.len()).filter(|&h| stays(h) && present[h] == Some(k)).count()))
        .collect();
    let to_be_had: Vec<usize> = (0..stock.len()).filter(|&k| had[k] > 0).collect();
    let task = HoleTask {
        unbalance: unbalance + staying,
        holes: free.iter().map(|&h| holes[h]).collect(),
        stock: to_be_had.iter().map(|&k| Screw { count: had[k], ..stock[k] }).collect(),
        present: Some(free.iter().map(|&h| present[h].and_then(|k| to_be_had.iter().position(|&t| t == k))).collect()),
        tie: good_enough,
    };
    let best = match change_in_holes(&task, good_enough)? {
        Some(few) => few,
        None => place_in_holes(&task)?,
    };
    for (&h, kind) in free.iter().zip(&best.kind_in_hole) {
        kinds[h] = kind.map(|k| to_be_had[k]);
    }
    Ok((kinds, best.residual))
}
