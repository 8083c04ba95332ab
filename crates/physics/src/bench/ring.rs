//! The weight ring of a rotor: where its correction weights may stand.
//!
//! In: what is to be answered, where the weights are now. Out: where they go, how many move, what is left. The two kinds
//! of ring as [`next_step`](super::next_step) needs them; the exact searches are in [`placement`](super::placement).

use super::look::Weight;
use super::placement::{GrooveTask, GrooveWeight, Hole, HoleTask, Order, Screw, place_in_groove, place_in_holes};
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
            Self::Holes { holes, stock } => {
                let present = now.iter().enumerate().map(|(i, w)| self.kind_in_hole(i, w)).collect::<Result<Vec<_>, _>>()?;
                let task =
                    HoleTask { unbalance, holes: holes.clone(), stock: stock.clone(), present: Some(present.clone()), tie: good_enough };
                let best = place_in_holes(&task)?;
                let moved = present.iter().zip(&best.kind_in_hole).filter(|(a, b)| a != b).count();
                let moment =
                    |hole: &Hole, kind: &Option<usize>| Unbalance::from_g_mm(kind.map_or(0.0, |k| stock[k].mass.g() * hole.radius.mm()));
                let weights = holes.iter().zip(&best.kind_in_hole).map(|(h, k)| Weight { moment: moment(h, k), at: h.at }).collect();
                Ok(Placed { weights, moved, ways: vec![], left: best.residual })
            }
        }
    }

    /// Which kind of screw is in hole `i`, from its moment.
    fn kind_in_hole(&self, i: usize, w: &Weight) -> Result<Option<usize>, Fault> {
        let Self::Holes { holes, stock } = self else { return Ok(None) };
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
