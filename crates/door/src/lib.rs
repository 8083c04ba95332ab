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
pub mod ground_face;
pub mod head_response;
pub mod history;
pub mod level;
pub mod log_csv;
pub mod log_errors;
pub mod log_table;
pub mod look;
pub mod look_swing;
pub mod machine;
pub mod machine_sheet;
mod making_sheet;
pub mod marks;
pub mod mounting;
pub mod next_step;
pub mod once_per_turn;
pub mod pair;
pub mod parts;
pub mod photo_file;
pub mod place_weights;
pub mod plate;
pub mod qualify;
mod read;
pub mod recording;
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
pub mod trim;
pub mod virtual_bench;

pub use calculation::{Calculation, calculations, find};
pub use making_sheet::{MakingSheet, PortThreadName};
pub use read::{Format, read_bytes, read_json, read_toml};
pub use stillwheel_physics::{Fault, FaultValue};
