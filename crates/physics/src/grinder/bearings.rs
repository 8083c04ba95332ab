//! Rolling bearings: the frequencies at which a defect of each part comes round.
//!
//! In: elements, diameters, contact angle, shaft speed. Out: the four frequencies, Hz.

use crate::quantity::{Angle, Length, RotationalSpeed};
use crate::rotor::checked_speed_rad_s;
use crate::{Fault, Ranged};
use std::f64::consts::TAU;

/// Geometry of a rolling bearing whose outer ring stands still.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bearing {
    /// Rolling elements in one row (3 to 200).
    pub elements: u32,
    /// Diameter of an element (0.1 to 500 mm).
    pub element_diameter: Length,
    /// Diameter of the circle of the elements' centres (above the element's diameter, to 5000 mm).
    pub pitch_diameter: Length,
    /// Contact angle (0° to 80°).
    pub contact_angle: Angle,
}

/// Frequencies of a bearing's defects, Hz.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DefectFrequencies {
    /// Cage (FTF): its own unbalance, a heavy element.
    pub cage_hz: f64,
    /// Elements over a place of the outer ring (BPFO).
    pub outer_hz: f64,
    /// Elements over a place of the inner ring (BPFI).
    pub inner_hz: f64,
    /// An element's own turning (BSF); a spot on it meets a ring twice in a turn.
    pub element_hz: f64,
}

impl Bearing {
    /// Defect frequencies at a shaft speed, without slip (real bearings are 1 to 3 % off by it).
    ///
    /// With c = d·cos α/D and shaft frequency f: cage f/2·(1 − c), outer n·f/2·(1 − c), inner n·f/2·(1 + c), element f·D/(2d)·(1 − c²).
    ///
    /// # Errors
    /// A [`Fault`] for a value out of the ranges of [`Bearing`].
    ///
    /// Source: T. A. Harris, Rolling Bearing Analysis, internal speeds of a bearing with a fixed outer ring.
    pub fn defect_frequencies(&self, shaft: RotationalSpeed) -> Result<DefectFrequencies, Fault> {
        let n = f64::from(self.elements).within("elements", 3.0, 200.0, "elements", "rolling elements in one row")?;
        let d = self.element_diameter.mm().within("element_diameter_mm", 0.1, 500.0, "mm", "diameter of a ball or roller")?;
        let pitch = self.pitch_diameter.mm();
        if !(pitch > d && pitch <= 5000.0) {
            let allowed = format!("above {d} mm, to 5000 mm");
            return Err(Fault::new(
                "pitch_diameter_mm",
                pitch,
                allowed,
                "the circle of the elements' centres is larger than an element: often the mean of bore and outside diameter",
            ));
        }
        let angle = self.contact_angle.deg().within(
            "contact_angle_deg",
            0.0,
            80.0,
            "degrees",
            "contact angle: 0 for a deep-groove bearing, often 15 or 25 in a spindle",
        )?;
        let f = checked_speed_rad_s(shaft)? / TAU;
        let c = d / pitch * angle.to_radians().cos();
        Ok(DefectFrequencies {
            cage_hz: f / 2.0 * (1.0 - c),
            outer_hz: n * f / 2.0 * (1.0 - c),
            inner_hz: n * f / 2.0 * (1.0 + c),
            element_hz: f * pitch / (2.0 * d) * (1.0 - c * c),
        })
    }
}
