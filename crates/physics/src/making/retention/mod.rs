//! What holds a part that air pushes out: forces, set screws, positive stops, and the pillar's own strength.
//!
//! In: pressure, sealed diameters, screws, stop. Out: the force on each part and with what factor it is held. A saddle that friction alone
//! would hold is refused: a screw that was not tightened, oil or a knock turns it into a piston. Rule of the trade, no source.

mod pillar;
mod screws;

pub use pillar::{LEAST_FLOOR_MM, LEAST_HOOP_FACTOR, Lame, Pillar, PillarWalls, lame};
pub use screws::{
    CUP_POINTS, CupPoint, Point, SEATING_TORQUES, STATIC_FACTOR, SeatingTorque, SetScrews, cup_point_holds_n, seating_torque_n_m,
};

use super::thread::{SHEAR_SHARE, Thread};
use crate::{Fault, Ranged};
use std::f64::consts::PI;

/// Factor that is asked of whatever holds a pressurised part. Rule of the trade, no source.
pub const WANTED_FACTOR: f64 = 2.0;

/// Force of air on a sealed diameter, N: p·π·D²/4.
///
/// # Errors
/// A [`Fault`] for a diameter outside 0.5 to 500 mm or a pressure outside 0 to 16 bar gauge.
pub fn force_n(field: &str, diameter_mm: f64, pressure_bar: f64) -> Result<f64, Fault> {
    let d = diameter_mm.within(field, 0.5, 500.0, "mm", "diameter on which the air is sealed")?;
    let p = pressure_bar.within("supply_bar", 0.0, 16.0, "bar gauge", "shop air")?;
    Ok(p * 0.1 * PI * d * d / 4.0)
}

/// What stops a part even when every screw is loose.
#[derive(Clone, Debug, PartialEq)]
pub enum Stop {
    /// A cap over the part, held by screws in tapped holes.
    Cap {
        /// Their thread.
        thread: &'static Thread,
        /// How many.
        count: u32,
        /// Length over which screw and hole hold one another, mm.
        engagement_mm: f64,
        /// Tensile strength of the tapped part, MPa.
        hole_mpa: f64,
        /// Tensile strength of the screws, MPa.
        screw_mpa: f64,
    },
    /// A pin across pillar and saddle, sheared in two places.
    CrossPin {
        /// Its diameter, mm.
        diameter_mm: f64,
        /// Its tensile strength, MPa.
        pin_mpa: f64,
        /// Thickness of the pillar's wall round it, each side, mm.
        wall_mm: f64,
        /// Yield strength of that wall, MPa.
        wall_yield_mpa: f64,
    },
}

/// How a stop would give way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stopped {
    /// Force at which it gives way, N.
    pub holds_n: f64,
    /// What gives way first.
    pub first: &'static str,
}

impl Stop {
    /// The force that it holds: the least of what may give way.
    ///
    /// # Errors
    /// A [`Fault`] for a size or strength out of range.
    pub fn holds(&self) -> Result<Stopped, Fault> {
        match self {
            Self::Cap { thread, count, engagement_mm, hole_mpa, screw_mpa } => {
                let n = f64::from(*count).within("stop.count", 1.0, 24.0, "", "screws of the cap")?;
                let (first, one) = thread.strength(*engagement_mm, *hole_mpa, *screw_mpa).map_err(|f| f.inside("stop"))?.first();
                Ok(Stopped { holds_n: n * one, first })
            }
            Self::CrossPin { diameter_mm, pin_mpa, wall_mm, wall_yield_mpa } => {
                let d = diameter_mm.within("stop.diameter_mm", 0.5, 50.0, "mm", "diameter of the pin")?;
                let strength = pin_mpa.within("stop.pin_strength_mpa", 10.0, 3000.0, "MPa", "tensile strength of the pin")?;
                let wall = wall_mm.within("stop.wall_mm", 0.5, 200.0, "mm", "wall round the pin")?;
                let gives = wall_yield_mpa.within("stop.wall_yield_mpa", 10.0, 3000.0, "MPa", "yield strength of the wall")?;
                // Double shear over both faces; bearing on the projected area in both walls.
                let shears = 2.0 * PI / 4.0 * d * d * SHEAR_SHARE * strength;
                let bears = 2.0 * d * wall * gives;
                Ok(if shears <= bears {
                    Stopped { holds_n: shears, first: "the pin" }
                } else {
                    Stopped { holds_n: bears, first: "the wall round the pin" }
                })
            }
        }
    }
}

/// A pressurised part and what holds it.
#[derive(Clone, Debug, PartialEq)]
pub struct Held {
    /// Diameter on which the air is sealed, mm.
    pub sealed_mm: f64,
    /// Supply, bar gauge.
    pub pressure_bar: f64,
    /// Set screws that clamp it.
    pub screws: Option<SetScrews>,
    /// What stops it when they are loose.
    pub stop: Option<Stop>,
    /// Factor that is asked of the stop ([`WANTED_FACTOR`] or more).
    pub wanted_factor: f64,
}

/// How a part is held. The weight on it helps and is not counted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Retained {
    /// Force of the air, N.
    pub force_n: f64,
    /// What the screws hold by friction, N.
    pub friction_n: Option<f64>,
    /// That over the force.
    pub friction_factor: Option<f64>,
    /// The stop.
    pub stop: Stopped,
    /// What it holds over the force.
    pub stop_factor: f64,
}

impl Held {
    /// Whether the part is held by a positive stop, with the factor that is asked.
    ///
    /// # Errors
    /// A [`Fault`] for values out of range; for `stop` when there is none (friction alone never suffices), or when it is too weak.
    pub fn retained(&self) -> Result<Retained, Fault> {
        let force = force_n("sealed_mm", self.sealed_mm, self.pressure_bar)?;
        let why = "what holds a pressurised part is loaded with half its strength at the most";
        let wanted = self.wanted_factor.within("wanted_factor", WANTED_FACTOR, 20.0, "", why)?;
        let friction_n = self.screws.as_ref().map(SetScrews::friction_n).transpose()?;
        let Some(stop) = &self.stop else {
            let why = format!(
                "the air pushes this part out with {force:.0} N: a set screw that was forgotten makes a piston of it, so friction alone never \
                 suffices. Give a positive stop: a cap with screws, or a cross pin"
            );
            return Err(Fault::new("stop", "missing", "a cap or a cross pin", why));
        };
        let stopped = stop.holds()?;
        let factor = stopped.holds_n / force.max(1e-9);
        if factor < wanted {
            let why = format!(
                "the air pushes with {force:.0} N and {} gives way at {:.0} N: more or larger screws, more engagement, or a thicker pin",
                stopped.first, stopped.holds_n
            );
            return Err(Fault::new("stop", format!("a factor of {factor:.2}"), format!("{wanted} or more"), why));
        }
        Ok(Retained {
            force_n: force,
            friction_n,
            friction_factor: friction_n.map(|h| h / force.max(1e-9)),
            stop: stopped,
            stop_factor: factor,
        })
    }
}
