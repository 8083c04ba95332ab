//! The rotor as a body: its mass, its inertia, and how much unbalance it may keep.
//!
//! In: annular bodies, swings with and without a trial mass, speed and grade. Out: mass, inertia, allowance and its
//! equivalents. No looks here: what is seen on the stand is read in [`crate::bench`].
