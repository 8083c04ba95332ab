//! The bench methods that a person can work by hand, each a closed form.
//!
//! In: settle angles, masses that just hold or just turn, friction. Out: unbalance, friction, dead bands. The
//! estimator reads the same looks with their uncertainty; these are its checks, and quick answers without it.

use crate::quantity::{Angle, Length, Mass, RotorAngle, Unbalance, UnbalanceVector};
use crate::{Fault, Ranged};
use nalgebra::{Matrix3, Vector3};

fn checked_angle_rad(field: &str, angle: RotorAngle) -> Result<f64, Fault> {
    let deg = angle.rad().to_degrees();
    deg.within(field, -3600.0, 3600.0, "degrees", "an angle on the rotor, counter-clockwise from the zero mark").map(f64::to_radians)
}

fn checked_radius_mm(radius: Length) -> Result<f64, Fault> {
    radius.mm().within("radius_mm", 1.0, 2500.0, "mm", "radius of the added mass")
}

/// Unbalance from two settle angles, before and after a known change at a known angle: `U = u·sin(t − p1)/sin(p1 − p0)`.
///
/// `change` is added unbalance. Drift and friction are taken as nil.
///
/// # Errors
/// A [`Fault`] for values out of range, for a bearing that turned less than a degree (no size can be told), and for
/// one that turned the wrong way (the angles contradict the change).
///
/// Source: sine rule in the triangle of the three vectors.
pub fn unbalance_from_two_bearings(before: RotorAngle, after: RotorAngle, change: UnbalanceVector) -> Result<UnbalanceVector, Fault> {
    let p0 = checked_angle_rad("before_deg", before)?;
    let p1 = checked_angle_rad("after_deg", after)?;
    let u = change.size().g_mm().within("change_g_mm", 1e-6, 1e9, "g·mm", "size of the known change")?;
    let turned = after.from(before).deg();
    if turned.abs() < 1.0 || turned.abs() > 179.0 {
        return Err(Fault::new(
            "after_deg",
            after.deg(),
            "at least 1° away from before_deg, and not opposite",
            "a bearing that does not turn tells no size: add more, a quarter turn away",
        ));
    }
    let size = u * (change.at().rad() - p1).sin() / (p1 - p0).sin();
    if size <= 0.0 {
        return Err(Fault::new(
            "after_deg",
            after.deg(),
            "turned towards the change",
            "the bearing turned away from the added weight: an angle was misread",
        ));
    }
    Ok(UnbalanceVector::polar(Unbalance::from_g_mm(size), before))
}

/// What a search with counter masses tells.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CounterMass {
    /// Unbalance.
    pub unbalance: Unbalance,
    /// Dry friction, told as an unbalance.
    pub friction: Unbalance,
}

/// Unbalance and friction from the least and the largest counter mass with which the rotor stands.
///
/// Heavy side level with the axis, counter mass level opposite at `radius`: `U − F = r·m_low`, `U + F = r·m_high`.
///
/// # Errors
/// A [`Fault`] for a radius outside 1 to 2500 mm, a negative mass, or a largest mass below the least.
///
/// Source: balance of moments on a horizontal diameter.
pub fn unbalance_from_counter_masses(radius: Length, least: Mass, largest: Mass) -> Result<CounterMass, Fault> {
    let r = checked_radius_mm(radius)?;
    let low = least.g().within("least_g", 0.0, 1e6, "g", "the least mass that still holds the heavy side up")?;
    let high = largest.g().within("largest_g", low, 1e6, "g", "the largest mass that does not sink is not below the least")?;
    Ok(CounterMass { unbalance: Unbalance::from_g_mm(r * (low + high) / 2.0), friction: Unbalance::from_g_mm(r * (high - low) / 2.0) })
}

/// What masses that just turn the rotor, tried around it, tell.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MarksAround {
    /// Unbalance vector.
    pub unbalance: UnbalanceVector,
    /// Dry friction, told as an unbalance.
    pub friction: Unbalance,
    /// Half the spread between the largest and the smallest, the workshop's quick figure for the unbalance.
    pub half_spread: Unbalance,
}

/// Unbalance below the friction, from the mass that just turns the rotor with each mark in turn level on one side.
///
/// `marks` holds the angle of the mark at 3 o'clock and the mass that just starts the turn when added there:
/// `r·w = F − U·cos(heavy − mark)`. Least squares over any three or more marks; evenly spaced ones give mean and first
/// harmonic.
///
/// # Errors
/// A [`Fault`] for fewer than three marks, marks that do not go round the rotor, or values out of range.
///
/// Source: common practice for the method ("eight marks"); algebra of the first harmonic.
pub fn unbalance_from_marks_around(radius: Length, marks: &[(RotorAngle, Mass)]) -> Result<MarksAround, Fault> {
    let r = checked_radius_mm(radius)?;
    if marks.len() < 3 {
        return Err(Fault::new("marks", marks.len(), "three or more, eight is usual", "three unknowns need three marks"));
    }
    let (mut a, mut b) = (Matrix3::zeros(), Vector3::zeros());
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for (i, (at, mass)) in marks.iter().enumerate() {
        let angle = checked_angle_rad(&format!("marks[{i}].at_deg"), *at)?;
        let w = r * mass.g().within(&format!("marks[{i}].mass_g"), 0.0, 1e6, "g", "mass that just turns the rotor")?;
        let row = Vector3::new(1.0, -angle.cos(), -angle.sin());
        a += row * row.transpose();
        b += row * w;
        (low, high) = (low.min(w), high.max(w));
    }
    let eigen = a.symmetric_eigenvalues();
    let x = (eigen.min() > 1e-6 * eigen.max()).then(|| a.cholesky().map(|c| c.solve(&b))).flatten().ok_or_else(|| {
        Fault::new("marks", "these angles", "marks spread around the rotor", "marks close together cannot tell friction from unbalance")
    })?;
    Ok(MarksAround {
        unbalance: UnbalanceVector::from_g_mm(x[1], x[2]),
        friction: Unbalance::from_g_mm(x[0]),
        half_spread: Unbalance::from_g_mm((high - low) / 2.0),
    })
}

/// Rotor's and arbor's part of two unbalances, measured with the rotor seated at 0° and at 180° on the arbor, both in
/// the arbor's frame: half difference is the rotor's, half sum the arbor's.
///
/// Source: index balancing, ISO 21940-14; algebra of two vectors.
pub fn index_pair(first: UnbalanceVector, second_at_half_turn: UnbalanceVector) -> (UnbalanceVector, UnbalanceVector) {
    let [a, b] = [first.g_mm(), second_at_half_turn.g_mm()];
    let rotor = UnbalanceVector::from_g_mm((a[0] - b[0]) / 2.0, (a[1] - b[1]) / 2.0);
    let arbor = UnbalanceVector::from_g_mm((a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0);
    (rotor, arbor)
}

/// The smallest unbalance that turns a rotor on rolling ways: `U_min = m·f`, whatever the arbor's diameter.
///
/// `lever_arm` is the rolling lever arm f: about 0.005 to 0.013 mm for clean hardened steel on hardened steel.
///
/// # Errors
/// A [`Fault`] for a mass out of range or an arm outside 0 to 10 mm.
///
/// Source: rolling moment M = W·f, any statics text.
pub fn dead_band_of_ways(mass: Mass, lever_arm: Length) -> Result<Unbalance, Fault> {
    let m = mass.kg().within("mass_kg", 1e-3, 1e4, "kg", "mass on the ways")?;
    let f = lever_arm.mm().within("rolling_arm_mm", 0.0, 10.0, "mm", "rolling lever arm of arbor and ways")?;
    Ok(Unbalance::from_g_mm(m * 1000.0 * f))
}

/// What a dry friction does to a swing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DryFrictionOnSwing {
    /// Amplitude lost in each half swing, for small swings: `2·F/U` rad.
    pub lost_per_half_swing: Angle,
    /// Largest distance from the bottom at which the heavy side can stay: `asin(F/U)`.
    pub largest_rest_error: Angle,
}

/// What a dry friction, told as an unbalance, does to a swing.
///
/// # Errors
/// A [`Fault`] for an unbalance that is not positive, or a friction outside 0 to the unbalance (above it, the rotor
/// stays wherever it is put).
///
/// Source: Coulomb damping, 4F/k lost a cycle (Rao, Mechanical Vibrations); rest where U·sin ψ = F.
pub fn dry_friction_on_swing(unbalance: Unbalance, friction: Unbalance) -> Result<DryFrictionOnSwing, Fault> {
    let u = unbalance.g_mm().within("unbalance_g_mm", 1e-9, 1e9, "g·mm", "a balanced rotor does not swing")?;
    let f = friction.g_mm().within("dry_friction_g_mm", 0.0, u, "g·mm", "with more friction than unbalance it stays wherever it is put")?;
    Ok(DryFrictionOnSwing { lost_per_half_swing: Angle::from_rad(2.0 * f / u), largest_rest_error: Angle::from_rad((f / u).asin()) })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        // Forward: settle angles of U and of U + change; back: U.
        #[test]
        fn two_bearings_give_back_the_unbalance(u in 5.0..500.0_f64, at in 0.0..360.0_f64, change in 5.0..500.0_f64, away in 15.0..165.0_f64, left in any::<bool>()) {
            let truth = UnbalanceVector::polar(Unbalance::from_g_mm(u), RotorAngle::from_deg(at));
            let away = if left { away } else { -away };
            let added = UnbalanceVector::polar(Unbalance::from_g_mm(change), RotorAngle::from_deg(at + away));
            let after = (truth + added).at();
            prop_assume!(after.from(truth.at()).deg().abs() > 1.0);
            let got = unbalance_from_two_bearings(truth.at(), after, added).unwrap();
            prop_assert!((got - truth).size().g_mm() < 1e-6 * u);
        }

        // Law: turning the rotor on the arbor changes the sign of its part only.
        #[test]
        fn an_index_pair_separates_rotor_and_arbor(rx in -50.0..50.0_f64, ry in -50.0..50.0_f64, ax in -50.0..50.0_f64, ay in -50.0..50.0_f64) {
            let (rotor, arbor) = (UnbalanceVector::from_g_mm(rx, ry), UnbalanceVector::from_g_mm(ax, ay));
            let (r, a) = index_pair(arbor + rotor, arbor - rotor);
            prop_assert!((r - rotor).size().g_mm() < 1e-9 && (a - arbor).size().g_mm() < 1e-9);
        }
    }

    #[test]
    fn readings_that_contradict_are_faults() {
        let at = RotorAngle::from_deg;
        let change = UnbalanceVector::polar(Unbalance::from_g_mm(50.0), at(130.0));
        assert_eq!(unbalance_from_two_bearings(at(30.0), at(30.5), change).unwrap_err().field, "after_deg");
        assert_eq!(unbalance_from_two_bearings(at(30.0), at(10.0), change).unwrap_err().field, "after_deg");
        assert_eq!(unbalance_from_two_bearings(at(f64::NAN), at(10.0), change).unwrap_err().field, "before_deg");
        let (g, r) = (Mass::from_g, Length::from_mm(90.0));
        assert_eq!(unbalance_from_counter_masses(r, g(1.0), g(0.5)).unwrap_err().field, "largest_g");
        assert_eq!(unbalance_from_marks_around(r, &[(at(0.0), g(1.0)); 2]).unwrap_err().field, "marks");
        assert_eq!(unbalance_from_marks_around(r, &[(at(5.0), g(1.0)); 8]).unwrap_err().field, "marks");
        assert_eq!(dry_friction_on_swing(Unbalance::from_g_mm(2.0), Unbalance::from_g_mm(3.0)).unwrap_err().field, "dry_friction_g_mm");
        assert_eq!(dead_band_of_ways(Mass::from_kg(3.0), Length::from_mm(-0.01)).unwrap_err().field, "rolling_arm_mm");
    }
}
