//! Making the stand: fits, glands, threads, retention, plate and feet, the parts themselves, inspection and spread.
//!
//! In: a stand's dimensions with their limits, and what was measured. Out: what to make, whether it will do, and what an error costs.

pub mod parts;
pub mod process;
