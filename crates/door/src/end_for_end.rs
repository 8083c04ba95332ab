//! `end-for-end`: drift told from unbalance by laying the rotor in the other way round.

use crate::Fault;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::Ranged as _;
use stillwheel_physics::film::separate_end_for_end;
use stillwheel_physics::quantity::{Angle, RotorAngle, Unbalance};

/// Input of `end-for-end`: two settle angles, and the size of the unbalance.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct EndForEndIn {
    /// Rotor angle at the bottom, degrees, as marked on the rotor's front side.
    pub settle_deg: f64,
    /// The same with the rotor laid in end for end, still by the marks of its front side.
    pub settle_turned_deg: f64,
    /// Standard deviation of one settle angle, degrees.
    pub sd_deg: f64,
    /// Size of the unbalance, g·mm, from a timed swing.
    pub unbalance_g_mm: f64,
}

/// Output of `end-for-end`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct EndForEndOut {
    /// Where the heavy side truly is, degrees on the rotor.
    pub heavy_deg: f64,
    /// How far drift holds it from straight down, degrees counter-clockwise.
    pub held_off_deg: f64,
    /// Drift torque over g, g·mm, counter-clockwise.
    pub drift_g_mm: f64,
    /// Its standard deviation, g·mm.
    pub drift_sd_g_mm: f64,
    /// A sentence for the operator.
    pub says: String,
}

/// Drift told from unbalance.
///
/// # Errors
/// A [`Fault`] for a value out of range, or settle angles nearly opposite.
pub fn end_for_end(input: &EndForEndIn) -> Result<EndForEndOut, Fault> {
    // Before they become angles on the rotor, which forget how often they went round.
    for (field, deg) in [("settle_deg", input.settle_deg), ("settle_turned_deg", input.settle_turned_deg)] {
        deg.within(field, -360.0, 720.0, "degrees", "an angle this large is a typing slip")?;
    }
    let found = separate_end_for_end(
        RotorAngle::from_deg(input.settle_deg),
        RotorAngle::from_deg(input.settle_turned_deg),
        Angle::from_deg(input.sd_deg),
        Unbalance::from_g_mm(input.unbalance_g_mm),
    )?;
    let (drift, sd) = (found.drift.g_mm(), found.drift_sd.g_mm());
    Ok(EndForEndOut {
        heavy_deg: found.heavy.deg(),
        held_off_deg: found.held_off.deg(),
        drift_g_mm: drift,
        drift_sd_g_mm: sd,
        says: format!("Heavy side at {:.1}°, drift {drift:.2} ± {:.2} g·mm at 95 %.", found.heavy.deg(), 1.96 * sd),
    })
}

/// A wheel that drift holds some degrees off.
pub(crate) fn example() -> EndForEndIn {
    EndForEndIn { settle_deg: 137.5, settle_turned_deg: 148.5, sd_deg: 1.0, unbalance_g_mm: 60.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_angle_of_many_turns_is_refused_by_its_name() {
        for bad in [1e308, -1e308, 720.5, -360.5, f64::NAN, f64::INFINITY] {
            assert_eq!(end_for_end(&EndForEndIn { settle_deg: bad, ..example() }).unwrap_err().field, "settle_deg");
            assert_eq!(end_for_end(&EndForEndIn { settle_turned_deg: bad, ..example() }).unwrap_err().field, "settle_turned_deg");
        }
    }
}
