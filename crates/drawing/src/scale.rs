//! How angles of the rotor are shown: the one convention inside, four ways to read it outside.

use stillwheel_physics::quantity::RotorAngle;
use stillwheel_physics::{Fault, Ranged};

/// The marks on the weight ring.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Scale {
    /// Degrees counter-clockwise from the zero mark.
    #[default]
    CounterClockwise,
    /// Degrees clockwise from the zero mark.
    Clockwise,
    /// Hours of a clock face with 12 at the zero mark, clockwise.
    ClockHours,
    /// This many equally spaced holes (3 to 120), number 1 at the zero mark, counted counter-clockwise.
    Holes(u16),
}

impl Scale {
    /// An angle in words: `135°`, `225° cw`, `7:30`, `hole 10`, or `hole 9 + 6°` for a place between holes.
    pub fn show(self, at: RotorAngle) -> String {
        let ccw = turn(at.deg());
        match self {
            Self::CounterClockwise => format!("{}°", short(ccw, 1)),
            Self::Clockwise => format!("{}° cw", short(turn(-ccw), 1)),
            Self::ClockHours => {
                let minutes = (turn(-ccw) * 2.0).round() as u32 % 720;
                let hour = if minutes < 60 { 12 } else { minutes / 60 };
                format!("{hour}:{:02}", minutes % 60)
            }
            Self::Holes(n) => {
                let pitch = 360.0 / f64::from(n.max(1));
                let nearest = (ccw / pitch).round();
                // A fifth of a degree: closer than any hole is drilled or read.
                if (ccw - nearest * pitch).abs() < 0.2 {
                    return format!("hole {}", nearest as u32 % u32::from(n.max(1)) + 1);
                }
                let below = (ccw / pitch).floor();
                format!("hole {} + {}°", below as u32 + 1, short(ccw - below * pitch, 1))
            }
        }
    }

    /// The angle that this scale counts, degrees from the zero mark in its own sense, in [0, 360).
    pub fn counted_deg(self, at: RotorAngle) -> f64 {
        match self {
            Self::CounterClockwise | Self::Holes(_) => turn(at.deg()),
            Self::Clockwise | Self::ClockHours => turn(-at.deg()),
        }
    }

    /// Labelled marks: rotor angle in degrees counter-clockwise, and the label.
    pub(crate) fn labels(self) -> Vec<(f64, String)> {
        match self {
            Self::CounterClockwise => (0..12).map(|k| (f64::from(k) * 30.0, format!("{}°", k * 30))).collect(),
            Self::Clockwise => (0..12).map(|k| (-f64::from(k) * 30.0, format!("{}°", k * 30))).collect(),
            Self::ClockHours => (1..=12).map(|k| (-f64::from(k) * 30.0, format!("{k}"))).collect(),
            Self::Holes(n) => {
                (0..n).step_by(usize::from(n.div_ceil(12))).map(|k| (f64::from(k) * 360.0 / f64::from(n), format!("{}", k + 1))).collect()
            }
        }
    }

    /// In words, for a legend.
    pub(crate) fn words(self) -> String {
        match self {
            Self::CounterClockwise => "degrees counter-clockwise".to_owned(),
            Self::Clockwise => "degrees clockwise".to_owned(),
            Self::ClockHours => "hours, 12 at the zero mark".to_owned(),
            Self::Holes(n) => format!("holes 1 to {n} counter-clockwise"),
        }
    }

    pub(crate) fn check(self) -> Result<(), Fault> {
        if let Self::Holes(n) = self {
            f64::from(n).within("scale.holes", 3.0, 120.0, "holes", "fewer do not balance, more can't be drawn apart")?;
        }
        Ok(())
    }
}

/// An angle wrapped to [0, 360) that also survives rounding: 359.97 counts as 0 at one decimal.
fn turn(deg: f64) -> f64 {
    let d = deg.rem_euclid(360.0);
    if d >= 359.95 { 0.0 } else { d }
}

/// A number with at most `decimals`, without trailing zeros, with a true minus sign.
pub(crate) fn short(v: f64, decimals: usize) -> String {
    let text = format!("{v:.decimals$}");
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    if text == "-0" { "0".to_owned() } else { text.replace('-', "−") }
}

/// A size with about three figures: 0.125, 3.14, 41.5, 400.
pub(crate) fn figure(v: f64) -> String {
    let a = v.abs();
    short(
        v,
        if a >= 100.0 {
            0
        } else if a >= 10.0 {
            1
        } else if a >= 1.0 {
            2
        } else {
            3
        },
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use rstest::rstest;

    // By hand: 135° counter-clockwise is 225° clockwise; on a clock 225°/30 = 7.5 h; with 24 holes 135/15 = 9 steps on from hole 1.
    #[rstest]
    #[case(135.0, Scale::CounterClockwise, "135°")]
    #[case(135.0, Scale::Clockwise, "225° cw")]
    #[case(135.0, Scale::ClockHours, "7:30")]
    #[case(135.0, Scale::Holes(24), "hole 10")]
    #[case(141.0, Scale::Holes(24), "hole 10 + 6°")]
    #[case(359.98, Scale::CounterClockwise, "0°")]
    #[case(359.98, Scale::Holes(24), "hole 1")]
    #[case(0.0, Scale::ClockHours, "12:00")]
    #[case(-30.0, Scale::ClockHours, "1:00")]
    #[case(12.26, Scale::CounterClockwise, "12.3°")]
    fn one_angle_is_read_four_ways(#[case] deg: f64, #[case] scale: Scale, #[case] text: &str) {
        assert_eq!(scale.show(RotorAngle::from_deg(deg)), text);
    }
}
