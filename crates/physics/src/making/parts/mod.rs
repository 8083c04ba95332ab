//! The parts of an air stand: from its sheet to every piece with dimensions, limits, material, mass and stock.
//!
//! In: [`Sizes`] (what the stand sheet says) with [`Making`] (what it leaves open, each with a reason). Out: a [`Design`], in
//! which every height and wall is worked out and which refuses what can't be made, and from it the [`Part`]s and the list of
//! material.
//!
//! The stand so made: two square pillars on a plate with three feet. In the bore of each pillar a brass saddle slides up and down by
//! a few millimetres, a piston below, a neck above; a collar, screwed onto the pillar, guides the neck and holds the piston
//! down: it is the positive stop against the air. One O-ring seals the piston, two set screws in the collar clamp the neck. A guide
//! bar on the collar keeps the saddle from turning. Air comes through a tapped port into the chamber below the piston, and
//! up through the saddle to the port under the arbor. An end stop on each pillar keeps the arbor from running out.
//!
//! Frames: the plate's is that of the sheet (x to the operator's right, y away from him, from the corner at his left, z up
//! from the plate's upper face). A pillar with all it carries has a frame of its own: z up from its foot, y towards the
//! wheel, so that the two units are alike, turned by half a turn.

mod blocks;
mod bought;
mod design;
mod laws;
mod limits;
mod made;
mod model;
mod sizes;
mod small;
mod thread;

pub use design::{Design, Groove};
pub use limits::{general_mm, limits_of_class};
pub use model::{
    Axis, Blank, Characteristic, Control, Dimension, Face, Feature, Hole, Limits, Material, Measure, Part, PartKind, Place, Stock, Told,
};
pub use sizes::{Making, PortThread, Sizes};

use crate::Fault;

/// All parts of the stand, made ones first, in the order in which they are best made.
///
/// # Errors
/// A [`Fault`] for a stand that can't be made as its sheet says.
pub fn parts(design: &Design) -> Result<Vec<Part>, Fault> {
    let mut all = made::made(design)?;
    all.extend(bought::bought(design));
    for (k, part) in all.iter_mut().enumerate() {
        part.item = k + 1;
    }
    Ok(all)
}
