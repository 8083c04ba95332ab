//! Speed of the wheel's rim, and the mark that it must not pass.
//!
//! In: diameter, speed, marked maximum. Out: the rim's speed, or a [`Fault`] that forbids the speed. Whoever blesses a
//! rotor asks [`check_marked_speed`] first: a wheel above its marked speed can burst.

use crate::quantity::{Length, RotationalSpeed, Velocity};
use crate::{Fault, Ranged};

/// The maximum speed marked on the wheel (ISO 525 asks for both; give what is there).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct MarkedMaximum {
    /// In m/s at the rim.
    pub rim: Option<Velocity>,
    /// In r/min.
    pub rotation: Option<RotationalSpeed>,
}

fn checked_diameter_m(diameter: Length) -> Result<f64, Fault> {
    diameter.mm().within("wheel_diameter_mm", 1.0, 5000.0, "mm", "the wheel's diameter as it is now")?;
    Ok(diameter.m())
}

/// Speed of the rim: `v = Ω·D/2 = π·D·n`.
///
/// # Errors
/// A [`Fault`] for a diameter outside 1 to 5000 mm or a speed outside 1 to 300,000 r/min.
pub fn rim_speed(diameter: Length, speed: RotationalSpeed) -> Result<Velocity, Fault> {
    let d = checked_diameter_m(diameter)?;
    Ok(Velocity::from_m_s(super::checked_speed_rad_s(speed)? * d / 2.0))
}

/// Speed of rotation at which the rim runs at `rim`.
///
/// # Errors
/// A [`Fault`] for a diameter outside 1 to 5000 mm or a rim speed outside 0.1 to 500 m/s.
pub fn rotation_for_rim_speed(diameter: Length, rim: Velocity) -> Result<RotationalSpeed, Fault> {
    let d = checked_diameter_m(diameter)?;
    let v = checked_mark_m_s(rim)?;
    Ok(RotationalSpeed::from_rad_s(2.0 * v / d))
}

fn checked_mark_m_s(rim: Velocity) -> Result<f64, Fault> {
    rim.m_s().within("marked_max_m_s", 0.1, 500.0, "m/s", "the maximum rim speed marked on the wheel")
}

/// Refuse a machine that would run the wheel above its marked maximum speed; the rim's speed otherwise.
///
/// Equal is allowed. `diameter` is that of the wheel now: a worn wheel may turn faster by the m/s mark, but the r/min
/// mark stands as printed, since nothing else says for which diameter it was meant.
///
/// # Errors
/// A [`Fault`] for the speed when it lies above a mark, naming the highest speed that is allowed; also for any value
/// out of its range.
///
/// Source: 29 CFR 1910.215(d)(1): spindle speed must not exceed the marked maximum.
pub fn check_marked_speed(diameter: Length, speed: RotationalSpeed, marked: MarkedMaximum) -> Result<Velocity, Fault> {
    let rim = rim_speed(diameter, speed)?;
    let mut highest_rpm = f64::INFINITY;
    if let Some(mark) = marked.rim {
        highest_rpm = rotation_for_rim_speed(diameter, mark)?.rpm();
    }
    if let Some(mark) = marked.rotation {
        let mark = mark.rpm().within("marked_max_rpm", 1.0, 300_000.0, "r/min", "the maximum speed marked on the wheel")?;
        highest_rpm = highest_rpm.min(mark);
    }
    // A mark of 30 m/s computed back from its own r/min must pass: allow the last bits, nothing more.
    if speed.rpm() > highest_rpm * (1.0 + 1e-12) {
        return Err(Fault::new(
            "speed_rpm",
            speed.rpm(),
            format!("at most {highest_rpm:.1} r/min for this wheel at {} mm", diameter.mm()),
            "the machine would run the wheel above the maximum speed marked on it: it could burst. Do not mount it on this machine",
        ));
    }
    Ok(rim)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        // Safety law: no speed above either mark ever gives a number, none below both is refused.
        #[test]
        fn above_a_mark_never_gives_a_number(d in 20.0..900.0_f64, rpm in 100.0..30_000.0_f64, mark_rim in 5.0..200.0_f64, mark_rpm in 100.0..30_000.0_f64) {
            let rim = std::f64::consts::PI * d * 1e-3 * rpm / 60.0;
            let marked = MarkedMaximum { rim: Some(Velocity::from_m_s(mark_rim)), rotation: Some(RotationalSpeed::from_rpm(mark_rpm)) };
            let answer = check_marked_speed(Length::from_mm(d), RotationalSpeed::from_rpm(rpm), marked);
            if rim > mark_rim * (1.0 + 1e-9) || rpm > mark_rpm * (1.0 + 1e-9) {
                prop_assert_eq!(answer.unwrap_err().field, "speed_rpm");
            } else if rim < mark_rim * (1.0 - 1e-9) && rpm < mark_rpm * (1.0 - 1e-9) {
                prop_assert!((answer.unwrap().m_s() / rim - 1.0).abs() < 1e-12);
            }
        }
    }

    #[test]
    fn exactly_the_marked_speed_is_allowed_and_a_mark_that_is_no_number_is_not() {
        let d = Length::from_mm(200.0);
        let n = rotation_for_rim_speed(d, Velocity::from_m_s(35.0)).unwrap();
        let mark = |v| MarkedMaximum { rim: Some(Velocity::from_m_s(v)), rotation: None };
        assert!(check_marked_speed(d, n, mark(35.0)).is_ok());
        assert_eq!(check_marked_speed(d, n, mark(34.999)).unwrap_err().field, "speed_rpm");
        assert_eq!(check_marked_speed(d, n, mark(f64::NAN)).unwrap_err().field, "marked_max_m_s");
        let zero = MarkedMaximum { rim: None, rotation: Some(RotationalSpeed::from_rpm(0.0)) };
        assert_eq!(check_marked_speed(d, n, zero).unwrap_err().field, "marked_max_rpm");
    }
}
