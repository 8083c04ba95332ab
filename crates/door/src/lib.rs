//! The one door: every calculation as a documented input, a documented output, or a named fault.
//!
//! In: JSON (or TOML). Out: JSON, or a [`Fault`]. The command line, the pages, the tests and scripts all come through
//! here, so no face computes on its own. [`calculations`] lists them all with their schemas.

mod calculation;
pub mod estimate;
pub mod fit_log;
pub mod log_csv;
pub mod look;
pub mod next_step;
pub mod place_weights;

pub use calculation::{Calculation, calculations, find};
pub use stillwheel_physics::{Fault, FaultValue};
