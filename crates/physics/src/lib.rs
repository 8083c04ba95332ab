//! Balancing of grinding wheels on a low-friction stand: pure functions and types.
//!
//! # The field in half a page
//!
//! A grinding wheel on its adapter and arbor is a **rotor**. If its mass centre lies off the axis it has an
//! **unbalance** `U = m·e` (mass times offset, g·mm), a vector that turns with the rotor. Set on a stand that hardly
//! rubs, the rotor is a pendulum: gravity turns the heavy side down with the torque `U·g·sin ψ`, where ψ is the angle
//! of the heavy side from straight down. So two things can be seen without any instrument: *where* it comes to rest
//! (the direction of `U`), and *how slowly* it swings (`T = 2π √(I/(U·g))` for small swings: its size, if the moment
//! of inertia `I` is known). A stand adds faults of its own: a **drift torque**, constant in the room (an air film
//! that is not symmetrical, a slope), and **dry friction**, which lets a small unbalance rest anywhere.
//!
//! Everything here works with one picture: angles on the rotor ([`quantity::RotorAngle`]) are counted
//! counter-clockwise from its **zero mark** as the operator sees it; angles in the room
//! ([`quantity::RoomAngle`]) from straight down, in the same sense. With the zero mark standing at room angle φ, the
//! rotor angle at the bottom, the **settle angle** once it rests, is `−φ`. Torques are told as unbalances (torque
//! divided by g), in g·mm.
//!
//! ```
//! use stillwheel_physics::bench::swing;
//! use stillwheel_physics::quantity::{Angle, Inertia, Seconds};
//!
//! // A rotor of 0.008 kg·m² takes 10.4857 s for a full swing of 25° to either side: how heavy is the heavy side?
//! let u = swing::unbalance_from_swing(Seconds::new(10.4857), Angle::from_deg(25.0), Inertia::from_kg_m2(0.008))?;
//! assert!((u.g_mm() - 300.0).abs() < 0.01);
//! # Ok::<(), stillwheel_physics::Fault>(())
//! ```
//!
//! Rooms: [`quantity`] (units), [`rotor`] (mass, inertia, allowance), [`bench`] (looks, estimate, placement, next
//! step, swing logs, the virtual bench), [`film`] (the air film of a saddle), [`stand`] (supports, floor, level, arbor, qualification),
//! [`numerics`] (only what no library gives). Nothing in this crate reads a clock, a file or a random source other than a seed that the
//! caller gives.

pub mod bench;
mod fault;
pub mod film;
pub mod grinder;
pub mod making;
pub mod numerics;
pub mod quantity;
pub mod rotor;
pub mod stand;

pub use fault::{Fault, FaultValue, Ranged};
