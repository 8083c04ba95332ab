//! Marks on the face → what made them.
//!
//! In: how far apart the marks are and which way they lie, at which table and wheel speed (typed, or told by a picture's
//! [`spectrum`](super::spectrum)); the machine's rotating parts. Out: the causes with their probabilities, and the next test that would tell
//! the first ones apart.
//!
//! A vibration of frequency f prints waves v/f apart, straight across the travel. What is not a vibration prints otherwise: the thread that a
//! dresser left on the wheel (its lead across, one turn's advance along), the edges of the cross-feed, the pitch of the table's drive. Each cause
//! so predicts a wave vector for any speeds; the probability of what was seen under each weighs the causes (Bayes), and "none of
//! these" takes what none of them predicts.

mod cause;
mod next_test;
mod rank;

pub use cause::{Belt, Cause, Follows, Kind, Machine, MountedBearing, Part, PartKind, belt_hz, causes};
pub use next_test::{NextTest, TestKind, next_tests};
pub use rank::{Ranked, Ranking, Seen, Sighting, rank};

use crate::{Fault, Ranged};

/// Frequency at which marks are made: table speed over their spacing, Hz.
///
/// # Errors
/// A [`Fault`] for a spacing outside 0.001 to 1000 mm, a table speed outside 1 to 2000 mm/s.
///
/// Source: P. Zelinski, Modern Machine Shop, December 2018.
pub fn mark_frequency_hz(spacing_mm: f64, table_mm_s: f64) -> Result<f64, Fault> {
    Ok(checked_table_mm_s(table_mm_s)? / checked_spacing_mm(spacing_mm)?)
}

fn checked_spacing_mm(spacing_mm: f64) -> Result<f64, Fault> {
    spacing_mm.within("spacing_mm", 1e-3, 1000.0, "mm", "distance from mark to mark: measure over ten of them and divide")
}

fn checked_table_mm_s(table_mm_s: f64) -> Result<f64, Fault> {
    // At the door the speed is told in m/min.
    let why = "speed of the table while it ground: often 6 to 30 m/min; time a stroke of known length away from its ends";
    match table_mm_s.within("table_speed", 1.0, 2000.0, "", why) {
        Ok(v) => Ok(v),
        Err(f) => Err(Fault::new("table_speed_m_min", table_mm_s * 0.06, "0.06 to 120 m/min", f.why)),
    }
}
