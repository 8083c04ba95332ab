//! The one door: every calculation as a documented input, a documented output, or a named fault.
//!
//! In: JSON (or TOML, by [`read_toml`]). Out: JSON, or a [`Fault`]. The command line, the pages, the tests and scripts
//! all come through here, so no face computes on its own. [`calculations`] lists them all with their schemas and an
//! example each.
//!
//! ```
//! let allowance = stillwheel_door::find("allowance")?;
//! let input = stillwheel_door::read_toml("mass_kg = 3.0\nspeed_rpm = 2850\nwheel_diameter_mm = 180\ngrade_mm_s = 1")?;
//! let out = allowance.run(input)?;
//! assert!((out["allowance_g_mm"].as_f64().unwrap() - 10.0519).abs() < 1e-4);
//! # Ok::<(), stillwheel_door::Fault>(())
//! ```

pub mod allowance;
pub mod arbor;
pub mod as_made;
mod calculation;
pub mod end_for_end;
pub mod estimate;
mod examples;
mod explain;
pub mod film;
mod finite;
pub mod fit;
pub mod fit_log;
pub mod floor;
pub mod gland;
pub mod level;
pub mod log_csv;
pub mod log_errors;
pub mod log_table;
pub mod look;
pub mod look_swing;
pub mod next_step;
pub mod pair;
pub mod place_weights;
pub mod plate;
pub mod qualify;
mod read;
pub mod retention;
pub mod rotor;
pub mod saddle;
mod saddle_input;
pub mod search_saddle;
pub mod spread;
pub mod stand;
pub mod stand_sheet;
pub mod support;
pub mod thread;
pub mod virtual_bench;

pub use calculation::{Calculation, calculations, find};
pub use read::{Format, read_bytes, read_json, read_toml};
pub use stillwheel_physics::{Fault, FaultValue};
