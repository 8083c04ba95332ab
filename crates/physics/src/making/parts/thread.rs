//! The thread of a foot.

use crate::Fault;
use crate::making::thread::{Thread, threads};

/// The thread of that pitch for a foot: M10 if there is one, else the nearest size.
///
/// # Errors
/// A [`Fault`] for a pitch that no thread from M8 to M24 has.
pub(super) fn foot_thread(pitch_mm: f64) -> Result<&'static Thread, Fault> {
    let fits = threads().iter().filter(|t| (t.pitch_mm - pitch_mm).abs() < 1e-9 && t.d_mm >= 8.0);
    fits.min_by(|a, b| (a.d_mm - 10.0).abs().total_cmp(&(b.d_mm - 10.0).abs())).ok_or_else(|| {
        let why = "a foot screw has a thread that taps and dies are sold for";
        Fault::new("plate.foot_pitch_mm", pitch_mm, "the pitch of a thread from M8 to M24: 0.75, 1, 1.25, 1.5, 1.75, 2, 2.5 or 3 mm", why)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use rstest::rstest;

    // Source: ISO 261 (which pitches a size has), ISO 2306 (drills).
    #[rstest]
    #[case(1.0, "M10x1", 9.0)]
    #[case(1.5, "M10", 8.5)]
    #[case(0.75, "M8x0.75", 7.2)]
    #[case(1.75, "M12", 10.2)]
    fn a_foot_has_the_thread_of_its_pitch(#[case] pitch: f64, #[case] name: &str, #[case] drill: f64) {
        let t = foot_thread(pitch).unwrap();
        assert_eq!((t.name, t.tap_drill_mm), (name, drill));
    }

    #[test]
    fn a_pitch_that_no_thread_has_is_a_fault() {
        assert_eq!(foot_thread(0.9).unwrap_err().field, "plate.foot_pitch_mm");
    }
}
