//! The air film of a half-round saddle: does the arbor float, how high, how stiffly, at what cost in air, and what does the film do to the reading?
//!
//! In: a [`Saddle`] (bore, clearance, form, port), the [`Air`], a supply pressure, a load.
//! Out: pressures, forces, flow and drift torque at a pose ([`FilmState`]).
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
pub use pressure::{Film, FilmState, PressurePatch, SUPPLY_BAR, Shape, check_supply};
pub use validity::Validity;
