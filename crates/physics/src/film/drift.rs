//! Drift torque: what puts it on the arbor, how well the port must sit, and how to tell it from unbalance.
//!
//! In: a saddle afloat. Out: the drift of each cause as an unbalance (torque / g), the tolerance of the port for a target, and the drift by turning
//! the arbor end for end.

use super::float::{Duty, Float};
use super::geometry::Saddle;
use super::mesh::Fineness;
use super::pressure::Film;
use crate::quantity::{Angle, RotorAngle, Unbalance};
use crate::{Fault, Ranged};

/// One cause of drift and what a unit of it does at this float.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DriftCause {
    /// The cause.
    pub cause: Cause,
    /// Drift per unit of the cause, counter-clockwise positive.
    pub per_unit: Unbalance,
}

/// Causes of drift, each with its unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cause {
    /// Port off to the right, per 0.1 mm at the surface.
    PortAside,
    /// Port drilled leaning to the right, per degree, for the wall thickness given.
    PortSlanted,
    /// Right side of the bore longer and left side shorter, per degree.
    UnequalSides,
    /// Stand leaning down to the right, per mm/m.
    CrossSlope,
    /// Bore oval by 1 µm, widest at 45° to the right: about the worst angle.
    Oval,
}

/// How well the port must sit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PortTolerance {
    /// Largest offset to either side at the surface, m.
    pub aside_m: f64,
    /// The same as a slant of the drill that starts in the middle, for the wall given.
    pub slant: Angle,
    /// Drift at that offset, found by a float there.
    pub drift: Unbalance,
}

impl Saddle {
    /// What a unit of each cause puts on the arbor, about the float `at` of this saddle; `wall_m` is the wall that the port is drilled through.
    ///
    /// Linear while small: each is a float with a tenth of the unit, times ten, less the drift that is there without.
    ///
    /// # Errors
    /// A [`Fault`] if a changed saddle does not float, or for a wall out of range.
    pub fn drift_causes(&self, duty: &Duty, at: &Float, wall_m: f64) -> Result<Vec<DriftCause>, Fault> {
        check_wall(wall_m)?;
        let share = 0.1;
        let base = self.drift_near(duty, at)?;
        let degree = 1_f64.to_radians();
        let causes = [Cause::PortAside, Cause::PortSlanted, Cause::UnequalSides, Cause::CrossSlope, Cause::Oval];
        let one = |cause: Cause| {
            let mut saddle = self.clone();
            let mut duty = *duty;
            match cause {
                Cause::PortAside => saddle.port.around_m += share * 1e-4,
                Cause::PortSlanted => saddle.port.around_m += super::geometry::Port::mouth_of_slanted_m(0.0, share * degree, wall_m),
                // The arc as a whole stays at most a half-round: its middle turns.
                Cause::UnequalSides => saddle.arc_turned_rad += share * degree,
                Cause::CrossSlope => duty.right_n += share * 1e-3 * duty.load_n,
                Cause::Oval => saddle.form.lobes.push(super::form::Lobe { waves: 2, amplitude_m: share * 1e-6, at_rad: 45.0 * degree }),
            }
            let changed = saddle.drift_near(&duty, at)?;
            Ok(DriftCause { cause, per_unit: Unbalance::from_g_mm((changed.g_mm() - base.g_mm()) / share) })
        };
        causes.into_iter().map(one).collect()
    }

    fn drift_near(&self, duty: &Duty, at: &Float) -> Result<Unbalance, Fault> {
        let film = Film::new(self, Fineness::NORMAL)?;
        Ok(film.float_near(duty, at.state.pose)?.drift())
    }

    /// How far to the side the port may sit for this saddle's drift by it to stay below `target`; for a pair give each saddle its share.
    ///
    /// # Errors
    /// A [`Fault`] for a target or wall out of range, or if the saddle does not float.
    pub fn port_tolerance(&self, duty: &Duty, at: &Float, wall_m: f64, target: Unbalance) -> Result<PortTolerance, Fault> {
        check_wall(wall_m)?;
        let target_g_mm = target.g_mm().within("target_drift_g_mm", 1e-4, 1e4, "g mm", "largest drift that is allowed")?;
        let base = self.drift_near(duty, at)?.g_mm();
        let at_offset = |offset: f64| {
            let mut saddle = self.clone();
            saddle.port.around_m += offset;
            Ok::<f64, Fault>((saddle.drift_near(duty, at)?.g_mm() - base).abs())
        };
        // Straight line from a small offset, then one secant step at the offset it gives; never beyond an eighth of the arc, where a port
        // is out of place anyway.
        let most = 0.125 * self.bore_radius_m() * self.arc_rad;
        let small = 2e-5;
        let mut offset = (target_g_mm / at_offset(small)? * small).min(most);
        let mut drift = at_offset(offset)?;
        if offset < most {
            offset = (offset * target_g_mm / drift).min(most);
            drift = at_offset(offset)?;
        }
        Ok(PortTolerance { aside_m: offset, slant: Angle::from_rad((offset / wall_m).atan()), drift: Unbalance::from_g_mm(drift) })
    }
}

fn check_wall(wall_m: f64) -> Result<(), Fault> {
    (wall_m * 1e3).within("wall_mm", 0.1, 200.0, "mm", "length of the port through the wall")?;
    Ok(())
}

/// Unbalance and drift told apart by turning the arbor end for end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EndForEnd {
    /// Where the heavy side truly is, on the rotor, by the first way round.
    pub heavy: RotorAngle,
    /// How far drift holds the heavy side from straight down, counter-clockwise.
    pub held_off: Angle,
    /// Drift torque / g, counter-clockwise.
    pub drift: Unbalance,
    /// Its standard deviation.
    pub drift_sd: Unbalance,
}

/// Tell drift from unbalance by two settle angles, the second with the rotor laid in end for end.
///
/// Turned round, the unbalance mirrors and the drift of the film does not. Both settle angles are the rotor's own (counted on the rotor
/// as marked, from its front side): first heavy − δ, then heavy + δ, sin δ = drift/U. Each read with a standard deviation `sd`. The unbalance's
/// size comes from a timed swing.
///
/// # Errors
/// A [`Fault`] for angles that are not finite, a size that is not positive, or a half difference of 90° or more (the drift is then
/// larger than the unbalance, and the rotor would creep round instead of settling).
///
/// Source: film-physics §6; rigid-body mechanics.
pub fn separate_end_for_end(settle: RotorAngle, settle_turned: RotorAngle, sd: Angle, unbalance: Unbalance) -> Result<EndForEnd, Fault> {
    let u = unbalance.g_mm().within("unbalance_g_mm", 1e-3, 1e7, "g mm", "size of the unbalance, from a timed swing")?;
    sd.deg().within("sd_deg", 0.0, 90.0, "deg", "standard deviation of one settle angle")?;
    for (field, a) in [("settle_deg", settle), ("settle_turned_deg", settle_turned)] {
        a.deg().within(field, -360.0, 720.0, "deg", "settle angle on the rotor")?;
    }
    let half = 0.5 * crate::numerics::wrap_pi((settle_turned.deg() - settle.deg()).to_radians());
    let limit = 85_f64.to_radians();
    if half.abs() > limit {
        return Err(Fault::new(
            "settle_turned_deg",
            settle_turned.deg(),
            "within 170 deg of the first settle angle",
            "the two ways round settle nearly opposite: the drift is as large as the unbalance, or an angle was read wrongly",
        ));
    }
    Ok(EndForEnd {
        heavy: RotorAngle::from_deg(settle.deg() + half.to_degrees()),
        held_off: Angle::from_rad(half),
        drift: Unbalance::from_g_mm(u * half.sin()),
        drift_sd: Unbalance::from_g_mm(u * half.cos() * sd.rad() / 2_f64.sqrt()),
    })
}
