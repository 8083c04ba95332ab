//! The ring of a sitting as it comes through the door: a groove, or tapped holes, with weights that may not be moved.

use super::{Groove, NextStepIn, SetScrew, TappedHole};
use crate::Fault;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::Ranged;
use stillwheel_physics::bench::placement::{Hole, Screw};
use stillwheel_physics::bench::ring::Ring;
use stillwheel_physics::quantity::{Length, Mass, RotorAngle, UnbalanceVector};

/// Tapped holes with a stock of set screws.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TappedHoles {
    /// The holes (1 to 48), in the order of `weights_now` and `looks[].weights`.
    pub holes: Vec<TappedHole>,
    /// The stock (1 to 12 kinds, each mass once); screws now in holes count too.
    pub stock: Vec<SetScrew>,
}

/// How many weights, or holes, a ring has.
pub(crate) fn places(ring: &Ring) -> usize {
    match ring {
        Ring::Groove { weights, .. } => weights.len(),
        Ring::Holes { holes, .. } => holes.len(),
    }
}

/// The ring that a groove or tapped holes make; exactly one of the two is given.
///
/// # Errors
/// A [`Fault`] for both or none, two holes at one place, two kinds of one mass, and `fixed` of another length.
pub(crate) fn ring_of(groove: Option<&Groove>, tapped_holes: Option<&TappedHoles>, fixed: &[bool]) -> Result<Ring, Fault> {
    let ring = match (groove, tapped_holes) {
        (Some(groove), None) => groove.ring(fixed),
        (None, Some(t)) => t.ring(fixed).map_err(|f| f.inside("tapped_holes"))?,
        (both, _) => {
            let what = if both.is_some() { "groove and tapped_holes" } else { "missing" };
            return Err(Fault::new("groove", what, "either groove or tapped_holes", "how may the weights of this ring be placed?"));
        }
    };
    let n = places(&ring);
    if !fixed.is_empty() && fixed.len() != n {
        return Err(Fault::new("fixed", fixed.len(), format!("{n} entries, or none"), "say of each weight whether it may be moved"));
    }
    Ok(ring)
}

impl NextStepIn {
    pub(super) fn ring(&self) -> Result<Ring, Fault> {
        ring_of(self.groove.as_ref(), self.tapped_holes.as_ref(), &self.fixed)
    }
}

impl TappedHoles {
    fn ring(&self, fixed: &[bool]) -> Result<Ring, Fault> {
        let mut holes = Vec::with_capacity(self.holes.len());
        for (i, h) in self.holes.iter().enumerate() {
            let inside = |f: Fault| f.inside(&format!("holes[{i}]"));
            let at = h.at_deg.within("at_deg", -3600.0, 3600.0, "degrees", "where the hole is, counter-clockwise from the zero mark");
            let at = RotorAngle::from_deg(at.map_err(inside)?);
            if let Some(k) =
                holes.iter().position(|o: &Hole| o.at.from(at).deg().abs() < 0.01 && (o.radius.mm() - h.radius_mm).abs() < 0.01)
            {
                return Err(Fault::new(
                    format!("holes[{i}].at_deg"),
                    h.at_deg,
                    "a place of its own",
                    format!("holes {} and {} (counted from 1) are the same: two screws can't be in one hole", k + 1, i + 1),
                ));
            }
            holes.push(Hole { radius: Length::from_mm(h.radius_mm), at });
        }
        for (k, s) in self.stock.iter().enumerate() {
            if self.stock[..k].iter().any(|o| o.mass_g == s.mass_g) {
                let why = "two kinds of one mass can't be told apart: add their counts";
                return Err(Fault::new(format!("stock[{k}].mass_g"), s.mass_g, "each mass once", why));
            }
        }
        let stock = self.stock.iter().map(|s| Screw { mass: Mass::from_g(s.mass_g), count: s.count }).collect();
        Ok(Ring::Holes { holes, stock, fixed: fixed.to_vec() })
    }

    /// The largest unbalance that these screws can answer, g·mm: the heaviest in the holes that pull most.
    ///
    /// # Errors
    /// A [`Fault`] for two holes at one place, or two kinds of one mass.
    pub fn reach_g_mm(&self) -> Result<f64, Fault> {
        Ok(self.ring(&[])?.reach().g_mm())
    }
}

impl Groove {
    fn ring(&self, fixed: &[bool]) -> Ring {
        let task = self.task(UnbalanceVector::default());
        Ring::Groove {
            weights: task.weights,
            graduation: task.graduation,
            forbidden: task.forbidden,
            no_passing: task.no_passing,
            fixed: fixed.to_vec(),
        }
    }

    /// The largest unbalance that these weights can answer, g·mm: all at one place.
    pub fn reach_g_mm(&self) -> f64 {
        self.ring(&[]).reach().g_mm()
    }
}
