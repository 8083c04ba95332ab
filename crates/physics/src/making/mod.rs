//! Making the stand: fits, glands, threads, retention, plate and feet, the parts themselves, inspection and spread.
//!
//! In: a stand's dimensions with their limits, and what was measured. Out: what to make, whether it will do, and what an error costs.

pub mod fit;
pub mod general;
pub mod gland;
pub mod hertz;
pub mod holes;
pub mod inspection;
pub mod made;
pub mod material;
pub mod parts;
pub mod plate;
pub mod process;
pub mod retention;
pub mod seat;
pub mod spread;
pub mod thread;
