//! An allowance shared between two bearing planes, and the couple that a wobbling wheel makes.
//!
//! In: allowance and distances, or a wheel and its axial run-out. Out: the share of each plane, or the couple.

use crate::quantity::{Angle, Length, Mass, Unbalance};
use crate::{Fault, Ranged};

/// Shares of an allowance at two bearing planes A and B, for a mass centre between them.
///
/// `U_A = U·L_B/L`, `U_B = U·L_A/L`, with `L_A`, `L_B` the distances from the mass centre to each plane.
///
/// # Errors
/// A [`Fault`] for an allowance that is not positive, or a distance outside 0.1 to 100,000 mm.
///
/// Source: ISO 1940-1:2003, allocation to tolerance planes.
pub fn split_to_bearings(allowance: Unbalance, to_a: Length, to_b: Length) -> Result<(Unbalance, Unbalance), Fault> {
    let u = allowance.g_mm().within("allowance_g_mm", 1e-9, 1e9, "g·mm", "a permissible residual is larger than zero")?;
    let why = "distance from the mass centre to the plane, the mass centre lying between them";
    let a = to_a.mm().within("to_plane_a_mm", 0.1, 1e5, "mm", why)?;
    let b = to_b.mm().within("to_plane_b_mm", 0.1, 1e5, "mm", why)?;
    Ok((Unbalance::from_g_mm(u * b / (a + b)), Unbalance::from_g_mm(u * a / (a + b))))
}

/// Tilt of a wheel whose face runs out by `run_out` (total reading at the rim), and the couple unbalance that it makes.
///
/// Tilt `= TIR/D`; couple `= (I_p − I_t)·tilt` in g·mm², for a solid disc `I_p = m·R²/2`, `I_t = m·(3R² + w²)/12`.
/// Balancing on a stand cannot see it; a flat seat prevents it.
///
/// # Errors
/// A [`Fault`] for a mass, radius (0.5 to 2500 mm) or width (0.01 to 5000 mm) out of range, or a run-out outside 0 to a
/// tenth of the radius (the tilt is taken as small).
///
/// Source: rigid-body dynamics; ISO 21940-2, "couple unbalance".
pub fn couple_of_wobble(mass: Mass, radius: Length, width: Length, run_out: Length) -> Result<(Angle, f64), Fault> {
    let m = super::checked_mass_kg(mass)? * 1000.0;
    let r = radius.mm().within("radius_mm", 0.5, 2500.0, "mm", "radius of the wheel")?;
    let w = width.mm().within("width_mm", 0.01, 5000.0, "mm", "width of the wheel")?;
    let tir = run_out.mm().within("axial_runout_mm", 0.0, 0.1 * r, "mm", "total reading at the rim; the tilt is taken as small")?;
    let tilt = tir / (2.0 * r);
    Ok((Angle::from_rad(tilt), m * (r * r / 2.0 - (3.0 * r * r + w * w) / 12.0) * tilt))
}
