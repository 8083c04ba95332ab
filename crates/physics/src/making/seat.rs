//! Balls in cones, vees and on flats: where they sit and what they hold (kinematic seats).
//!
//! In: ball and angle. Out: contact circle and height. Contact circle R·cos(half angle), centre above the apex R/sin(half angle) (geometry).

use crate::{Fault, Ranged};

/// A seat of a ball-ended foot.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Seat {
    /// A cone, or three faces: holds in three directions.
    Cone,
    /// A V groove: holds in two.
    Vee,
    /// A flat: holds in one.
    Flat,
}

impl Seat {
    /// How many motions it takes away (Kelvin: cone, V, flat; Maxwell: three Vs; six in all hold a body without strain).
    pub const fn constraints(self) -> u32 {
        match self {
            Self::Cone => 3,
            Self::Vee => 2,
            Self::Flat => 1,
        }
    }
}

/// A ball in a cone or V.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seated {
    /// Diameter of the contact circle; in a V the distance of the two points, mm.
    pub contact_mm: f64,
    /// Centre of the ball above the apex, mm.
    pub centre_over_apex_mm: f64,
}

/// A ball in a cone or V of this included angle.
///
/// # Errors
/// A [`Fault`] for a ball outside 0.1 to 500 mm or an angle outside 10° to 170°.
pub fn ball_in(ball_mm: f64, included_deg: f64) -> Result<Seated, Fault> {
    let r = 0.5 * ball_mm.within("ball_mm", 0.1, 500.0, "mm", "diameter of the ball")?;
    let half = 0.5 * included_deg.within("included_deg", 10.0, 170.0, "degrees", "included angle; 90° is usual")?.to_radians();
    Ok(Seated { contact_mm: 2.0 * r * half.cos(), centre_over_apex_mm: r / half.sin() })
}

impl Seated {
    /// Centre of the ball above the plane of a mouth of this diameter, mm.
    ///
    /// # Errors
    /// A [`Fault`] for a mouth smaller than the contact circle: the ball would sit on its edge.
    pub fn centre_over_mouth_mm(&self, mouth_mm: f64, included_deg: f64) -> Result<f64, Fault> {
        let why = "the ball would sit on the edge of the mouth: sink it deeper";
        let mouth = mouth_mm.within("mouth_mm", self.contact_mm, 1000.0, "mm", why)?;
        Ok(self.centre_over_apex_mm - 0.5 * mouth / (0.5 * included_deg.to_radians()).tan())
    }
}
