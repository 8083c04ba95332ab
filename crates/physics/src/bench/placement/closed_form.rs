//! Two and three equal weights, and a free pair beside weights that stay: exact, at any angle.

use crate::bench::look::Weight;
use crate::quantity::{Angle, RotorAngle, Unbalance, UnbalanceVector};
use crate::{Fault, Ranged};

/// Where equal weights go.
#[derive(Clone, Debug, PartialEq)]
pub struct EqualPlacement {
    /// Their places. A pair: clockwise of the light side, then counter-clockwise. Three: the light side, then the one
    /// counter-clockwise, then the one clockwise of it.
    pub at: Vec<RotorAngle>,
    /// Angle of the pair to either side of the direction in which it pulls.
    pub half_spread: Angle,
    /// What is left. Zero, unless the weights are too light.
    pub residual: UnbalanceVector,
}

fn checked(size: Unbalance, each: Unbalance) -> Result<(f64, f64), Fault> {
    let u = size.g_mm().within("unbalance.size_g_mm", 0.0, 1e8, "g·mm", "the size of the unbalance to be answered")?;
    let q = each.g_mm().within("moment_g_mm", 1e-6, 1e7, "g·mm", "mass times radius of one weight: it must be positive")?;
    Ok((u, q))
}

/// Two equal weights: l ± δ, cos δ = U/(2q). Beyond U = 2q both stand on the light side and U − 2q is left.
///
/// `heavy` also turns the answer of a zero unbalance, where any two opposite places do.
///
/// # Errors
/// A [`Fault`] for a size outside 0 to 1e8 g·mm or a moment outside 1e-6 to 1e7 g·mm.
///
/// Source: [derived], vector sum of an isosceles triangle.
pub fn two_equal(size: Unbalance, heavy: RotorAngle, each: Unbalance) -> Result<EqualPlacement, Fault> {
    let (u, q) = checked(size, each)?;
    let half = (u / (2.0 * q)).min(1.0).acos();
    let light = heavy.rad() + std::f64::consts::PI;
    Ok(EqualPlacement {
        at: vec![RotorAngle::from_rad(light - half), RotorAngle::from_rad(light + half)],
        half_spread: Angle::from_rad(half),
        residual: UnbalanceVector::polar(Unbalance::from_g_mm((u - 2.0 * q).max(0.0)), heavy),
    })
}

/// Three equal weights: one at l, two at l ± δ, cos δ = (U/q − 1)/2: 120° for U = 0, 0° at U = 3q, beyond it U − 3q is left.
///
/// # Errors
/// As [`two_equal`].
///
/// Source: [derived]; the procedure (one on the light side, the pair moved alike) is common practice.
pub fn three_equal(size: Unbalance, heavy: RotorAngle, each: Unbalance) -> Result<EqualPlacement, Fault> {
    let (u, q) = checked(size, each)?;
    let half = (0.5 * (u / q - 1.0)).min(1.0).acos();
    let light = heavy.rad() + std::f64::consts::PI;
    Ok(EqualPlacement {
        at: [light, light + half, light - half].map(RotorAngle::from_rad).to_vec(),
        half_spread: Angle::from_rad(half),
        residual: UnbalanceVector::polar(Unbalance::from_g_mm((u - 3.0 * q).max(0.0)), heavy),
    })
}

/// A free pair of equal weights beside others that stay where they are: the pair answers unbalance and others together.
///
/// # Errors
/// As [`two_equal`].
pub fn pair_for_rest(unbalance: UnbalanceVector, staying: &[Weight], each: Unbalance) -> Result<EqualPlacement, Fault> {
    for (i, w) in staying.iter().enumerate() {
        w.moment.g_mm().within(&format!("fixed[{i}].moment_g_mm"), 0.0, 1e7, "g·mm", "mass times radius of a weight that stays")?;
        if !w.at.rad().is_finite() {
            return Err(Fault::new(
                format!("fixed[{i}].at_deg"),
                w.at.rad(),
                "a finite angle in degrees",
                "the place of a weight that stays",
            ));
        }
    }
    let rest = super::residual(unbalance, staying);
    two_equal(rest.size(), rest.at(), each)
}
