//! Where the correction weights go: closed forms, a groove with graduations, tapped holes, drilling.
//!
//! In: the unbalance to be answered and what the weights may do. Out: places, what is left, and whether that is the
//! proven best. Wanted is always Σ mᵢrᵢ(cos aᵢ, sin aᵢ) = −u. Writing l for the light side (heavy side + 180°) and q for
//! the moment of one weight, two or three equal weights have closed forms ([`two_equal`], [`three_equal`]); a weight
//! that can only be set to graduations, has a width, and cannot pass its neighbour makes a discrete problem, searched
//! exactly ([`place_in_groove`], [`place_in_holes`]).

mod blocks;
mod closed_form;
mod drill;
mod field;
mod groove;
mod halves;
mod holes;
mod plane;
mod reach;
mod solve;
mod walk;

pub use closed_form::{EqualPlacement, pair_for_rest, three_equal, two_equal};
pub use drill::{Drill, DrilledHole, drill_axial, drill_radial};
pub use groove::{Answer, GroovePlacement, GrooveTask, GrooveWeight, Order, place_in_groove};
pub use holes::{Hole, HolePlacement, HoleTask, Screw, change_in_holes, place_in_holes};

use crate::bench::look::Weight;
use crate::quantity::{Angle, Unbalance, UnbalanceVector};

/// Sums of a dozen products of doubles agree to this much (g·mm, degrees); smaller differences mean nothing.
const ROUNDING: f64 = 1e-9;

/// Two angles nearer than this (degrees) are the same place; a tenth of a millionth of a graduation.
const SAME_DEG: f64 = 1e-7;

/// How sure it is that nothing better exists.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Proof {
    /// Every other placement was ruled out: this is the best by the stated order.
    Best,
    /// Too many placements to rule out all: this is the best of those searched.
    Gap {
        /// No placement at all leaves less than this.
        residual_at_least: Unbalance,
    },
}

/// What is left of `unbalance` with these weights on.
pub fn residual(unbalance: UnbalanceVector, weights: &[Weight]) -> UnbalanceVector {
    weights.iter().fold(unbalance, |sum, w| sum + w.vector())
}

/// Root-mean-square length of the unbalance that comes from setting each weight only to within `sd` of its place.
///
/// A weight of moment q set wrong by a small angle a gives q·a across its radius; independent errors add as squares:
/// a·√Σq². For one weight of 100 g·mm and 0.25° that is 0.44 g·mm. Good for `sd` below about 10°. [derived]
pub fn setting_error(moments: &[Unbalance], sd: Angle) -> Unbalance {
    Unbalance::from_g_mm(sd.rad() * moments.iter().map(|q| q.g_mm().powi(2)).sum::<f64>().sqrt())
}
