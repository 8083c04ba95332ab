//! A ball on a flat (Hertz): how far it sinks, how hard it presses, and whether it leaves a dent.
//!
//! In: load, ball, what both are made of. Out: a [`Contact`]. 1/E* = (1 − ν1²)/E1 + (1 − ν2²)/E2; a³ = 3FR/4E*; p0 = 3F/2πa²; approach
//! a²/R (Johnson, Contact Mechanics). Yield begins at p0 of about 1.6 times the yield strength (same, from memory); hardened ball
//! contacts stand 4200 MPa (ISO 76, from memory).

use crate::{Fault, Ranged};
use std::f64::consts::PI;

/// Pressure in the middle over yield strength at which a flat under a ball begins to yield.
pub const YIELDS_AT: f64 = 1.6;
/// Pressure that hardened ball contacts stand, MPa.
pub const HARDENED_STANDS_MPA: f64 = 4200.0;

/// What an elastic body does under a contact.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Body {
    /// An elastic one.
    Elastic {
        /// Young's modulus, GPa.
        young_gpa: f64,
        /// Poisson's ratio.
        poisson: f64,
    },
    /// One that does not give way.
    Rigid,
}

impl Body {
    /// (1 − ν²)/E, 1/MPa.
    fn compliance(self, field: &str) -> Result<f64, Fault> {
        match self {
            Self::Rigid => Ok(0.0),
            Self::Elastic { young_gpa, poisson } => {
                let e = young_gpa.within(&format!("{field}.young_gpa"), 0.01, 1000.0, "GPa", "steel 210, aluminium 70, granite 70")?;
                let nu = poisson.within(&format!("{field}.poisson"), 0.0, 0.5, "", "metals have 0.3, stone 0.25")?;
                Ok((1.0 - nu * nu) / (e * 1e3))
            }
        }
    }
}

/// A ball pressed on a flat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Contact {
    /// Contact modulus E*, MPa.
    pub modulus_mpa: f64,
    /// Radius of the spot, mm.
    pub spot_radius_mm: f64,
    /// Pressure in its middle, MPa.
    pub pressure_mpa: f64,
    /// How far the ball comes nearer, µm.
    pub approach_um: f64,
    /// Stiffness there, dF/dδ = 3F/2δ, N/µm.
    pub stiffness_n_um: f64,
}

/// A ball of this radius pressed on a flat with this force.
///
/// # Errors
/// A [`Fault`] for a radius outside 0.1 mm to 10 m, a load outside 1 mN to 1 MN, two rigid bodies, or a body's values out of range.
pub fn ball_on_flat(load_n: f64, radius_mm: f64, ball: Body, flat: Body) -> Result<Contact, Fault> {
    let f = load_n.within("load_n", 1e-3, 1e6, "N", "load on one ball")?;
    let r = radius_mm.within("ball_radius_mm", 0.1, 1e4, "mm", "half the ball's diameter")?;
    let compliance = ball.compliance("ball")? + flat.compliance("flat")?;
    if compliance <= 0.0 {
        return Err(Fault::new("flat", "two rigid bodies", "at least one elastic", "two rigid bodies touch in a point"));
    }
    let modulus_mpa = 1.0 / compliance;
    let a = (3.0 * f * r / (4.0 * modulus_mpa)).cbrt();
    let approach = a * a / r;
    Ok(Contact {
        modulus_mpa,
        spot_radius_mm: a,
        pressure_mpa: 3.0 * f / (2.0 * PI * a * a),
        approach_um: 1e3 * approach,
        stiffness_n_um: 1.5 * f / (1e3 * approach),
    })
}

/// Whether a flat stands a contact.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stands {
    /// It springs back.
    Elastic,
    /// A dent forms: the foot creeps and the level wanders.
    Dents,
    /// It neither yields nor is hardened (stone): it springs back or chips.
    Brittle,
}

impl Contact {
    /// Whether a flat of this yield strength (MPa; `None`: hardened or brittle, as `hardened` says) stands it.
    pub fn stands(&self, yield_mpa: Option<f64>, hardened: bool) -> Stands {
        let most = match (yield_mpa, hardened) {
            (_, true) => HARDENED_STANDS_MPA,
            (Some(y), false) => YIELDS_AT * y,
            (None, false) => return Stands::Brittle,
        };
        if self.pressure_mpa <= most { Stands::Elastic } else { Stands::Dents }
    }
}
