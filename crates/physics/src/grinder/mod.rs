//! At the grinder: what a residual does to the ground face, which rotating part made a mark, and trim in place.
//!
//! In: a machine's rotating parts and its head's response, readings taken at it. Out: the face, the causes by rank, the weights.

pub mod bearings;
pub mod envelope;
pub mod face;
pub mod filter;
pub mod marks;
pub mod measured_head;
pub mod response;
pub mod roughness;
pub mod spectrum;
pub mod trim;
