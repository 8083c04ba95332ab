//! The wheel head measured by its user: stiffness from a pull and an indicator, natural frequency and damping from a tap.
//!
//! In: forces with deflections; recordings of what the head does after a soft blow. Out: stiffness, and the modes that ring, each with its
//! standard deviation.

mod pull;
mod tap;

pub use pull::{Pull, Stiffness, stiffness};
pub use tap::{Mode, RungDown, rung_down};
