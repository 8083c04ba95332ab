//! The air film of a half-round saddle: does the arbor float, how high, how stiffly, at what cost in air, and what does the film do to the reading?
//!
//! In: a [`Saddle`] (bore, clearance, form, port), the [`Air`], a supply pressure, a load.
//! Out: pressures, forces, flow and drift torque at a pose ([`FilmState`]).
//!
//! ```
//! use stillwheel_physics::film::{Air, Duty, Form, Port, Saddle};
//!
//! // Bore Ø20, clearance 14 µm, 24 mm long, port Ø1.2 with a 0.15 mm jet: does it float 15 N on 4 bar?
//! let port = Port { diameter_m: 1.2e-3, around_m: 0.0, along_m: 0.0, jet_diameter_m: Some(1.5e-4), pocket: None, volume_m3: 0.0, discharge: 0.8 };
//! let saddle = Saddle {
//!     bore_diameter_m: 20.028e-3,
//!     clearance_m: 14e-6,
//!     length_m: 24e-3,
//!     arc_rad: std::f64::consts::PI,
//!     arc_turned_rad: 0.0,
//!     form: Form::default(),
//!     port,
//!     rest_gap_m: 1e-6,
//! };
//! let floats = saddle.floats(&Duty::new(Air::default(), 4e5, 15.0))?;
//! assert!((floats.lowest().state.pose.y_m - 6.92e-6).abs() < 0.02e-6);
//! assert!(!floats.lifts_by_itself);
//! # Ok::<(), stillwheel_physics::Fault>(())
//! ```
//!
//! Steady, isothermal, ideal gas, thin film (Reynolds' equation; e.g. Hamrock, Fundamentals of Fluid Film Lubrication).

pub mod air;
mod blame;
mod blocks;
mod drift;
mod float;
mod floats;
mod form;
mod geometry;
mod hammer;
mod mesh;
mod pair;
mod picture;
mod pressure;
mod solve;
mod validity;

pub use air::Air;
pub use drift::{Cause, DriftCause, EndForEnd, PortTolerance, separate_end_for_end};
pub use float::{Duty, Float};
pub use floats::{CurvePoint, Floats, Refinement, floats_of_samples};
pub use form::{Form, Lobe, MeasuredForm};
pub use geometry::{Pocket, Port, Pose, Saddle};
pub use hammer::{Bounce, DynamicStiffness, Hammer, MARGIN, Verdict};
pub use mesh::Fineness;
pub use pair::{Pair, PairFloat};
pub use picture::PressureGrid;
pub use pressure::{Film, FilmState, PressurePatch, SUPPLY_BAR, Shape, check_supply};
pub use validity::Validity;
