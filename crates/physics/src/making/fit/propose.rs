//! Classes that give a wanted clearance.
//!
//! In: nominal size, smallest and largest clearance wanted, which part is made to the plain class (hole H or shaft h). Out: fits that stay
//! within, the one that leaves the shop most room first; or a fault that tells what the nearest fit does.

use super::{Clearance, Hole, Limits, Shaft};
use crate::{Fault, Ranged};

/// Which part has the plain class.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Basis {
    /// The hole is H: reamers and plugs are stocked so.
    Hole,
    /// The shaft is h: ground bars are bought so.
    Shaft,
}

/// A fit that does what is wanted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Proposal {
    /// Class of the hole.
    pub hole: Hole,
    /// Class of the shaft.
    pub shaft: Shaft,
    /// Limits of the hole.
    pub hole_limits: Limits,
    /// Limits of the shaft.
    pub shaft_limits: Limits,
    /// What the fit gives.
    pub clearance: Clearance,
}

/// Grades of the hole that a shop makes, and of the shaft, which is ground or turned to the same or up to two grades finer.
const HOLE_GRADES: [u8; 5] = [5, 6, 7, 8, 9];
const SHAFT_FINER_BY: [u8; 3] = [0, 1, 2];

/// Fits whose clearance on the diameter stays within `wanted_um`, by falling room for the shop (sum of both tolerances).
///
/// # Errors
/// A [`Fault`] for a size out of the tables, a range that is turned round, or a range that no fit keeps; it tells the nearest fit.
pub fn propose(nominal_mm: f64, wanted_um: [f64; 2], basis: Basis) -> Result<Vec<Proposal>, Fault> {
    let low = wanted_um[0].within("wanted_clearance_um[0]", -2000.0, 2000.0, "µm", "smallest clearance; negative is interference")?;
    let high = wanted_um[1].within("wanted_clearance_um[1]", low, 2000.0, "µm", "largest clearance, not below the smallest")?;
    let mut all = candidates(nominal_mm, basis);
    if all.is_empty() {
        return Err(Fault::new("nominal_mm", nominal_mm, "0.1 to 500 mm", "no fits are tabled at this size"));
    }
    let missed = |p: &Proposal| (low - p.clearance.min_um).max(0.0) + (p.clearance.max_um - high).max(0.0);
    let mut kept: Vec<Proposal> = all.iter().copied().filter(|p| missed(p) == 0.0).collect();
    if kept.is_empty() {
        all.sort_by(|a, b| missed(a).total_cmp(&missed(b)));
        let p = &all[0];
        let allowed = format!("{} to {} µm, which {}/{} keeps", p.clearance.min_um, p.clearance.max_um, p.hole, p.shaft);
        let why = "no fit of the tables stays within so narrow a range at this size: widen it, or size the parts to one another";
        return Err(Fault::new("wanted_clearance_um", format!("{low} to {high} µm"), allowed, why));
    }
    let room = |p: &Proposal| p.hole_limits.tolerance_um() + p.shaft_limits.tolerance_um();
    // Of equal room the one that lies in the middle of what is wanted.
    let off = |p: &Proposal| (p.clearance.min_um + p.clearance.max_um - low - high).abs();
    kept.sort_by(|a, b| room(b).total_cmp(&room(a)).then(off(a).total_cmp(&off(b))));
    Ok(kept)
}

fn candidates(nominal_mm: f64, basis: Basis) -> Vec<Proposal> {
    let mut out = vec![];
    for grade in HOLE_GRADES {
        for finer in SHAFT_FINER_BY {
            for letter in 0..super::HOLE_LETTERS.len() {
                let (hole, shaft) = match basis {
                    Basis::Hole => ("H", super::SHAFT_LETTERS[letter]),
                    Basis::Shaft => (super::HOLE_LETTERS[letter], "h"),
                };
                let (hole, shaft) = (Hole { letter: hole, grade }, Shaft { letter: shaft, grade: grade - finer });
                // A class that is not tabled at this size is none to propose.
                if let (Ok(hole_limits), Ok(shaft_limits)) = (hole.limits(nominal_mm), shaft.limits(nominal_mm)) {
                    let clearance = Clearance::of(&hole_limits, &shaft_limits);
                    out.push(Proposal { hole, shaft, hole_limits, shaft_limits, clearance });
                }
            }
        }
    }
    out
}
