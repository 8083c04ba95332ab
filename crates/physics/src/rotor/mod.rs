//! The rotor as a body: its mass, its inertia, and how much unbalance it may keep.
//!
//! In: annular bodies, swings with and without a trial mass, speed and grade. Out: mass, inertia, allowance and its
//! equivalents, and whether a measured residual proves it. What is seen on the stand is read in [`crate::bench`].

pub mod acceptance;
pub mod allowance;
pub mod density;
pub mod history;
pub mod inertia;
pub mod planes;
pub mod speed;
pub mod swung_inertia;

use crate::quantity::{Mass, RotationalSpeed};
use crate::{Fault, Ranged};

/// Mass of the rotor, checked; the range is that of shop grinding, with a decade to spare on either side.
fn checked_mass_kg(mass: Mass) -> Result<f64, Fault> {
    mass.kg().within("mass_kg", 1e-3, 1e4, "kg", "mass of all that turns as one: wheel, adapter and what is corrected with them")
}

/// Speed of the machine, checked.
fn checked_speed_rad_s(speed: RotationalSpeed) -> Result<f64, Fault> {
    speed.rpm().within("speed_rpm", 1.0, 300_000.0, "r/min", "the speed at which the wheel runs on its machine")?;
    Ok(speed.rad_s())
}
