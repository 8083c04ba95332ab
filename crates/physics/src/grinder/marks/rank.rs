//! The causes weighed by what was seen.

use super::cause::{Cause, Follows};
use super::{checked_spacing_mm, checked_table_mm_s};
use crate::{Fault, Ranged};
use std::f64::consts::TAU;

/// Spacings over which "none of these" spreads what it expects, as the logarithm of longest to shortest: 0.01 to 100 mm.
const LOG_SPACINGS: f64 = 9.21;
/// How surely marks are gone when their cause is stopped, and gone though it is not. Common practice, no source.
const GONE_IF_STOPPED: f64 = 0.9;
const GONE_ANYWAY: f64 = 0.07;

/// Marks that were seen, or that they were gone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Seen {
    /// Marks so far apart.
    Marks {
        /// Distance from mark to mark, at right angles to them, mm (0.001 to 1000).
        spacing_mm: f64,
        /// Its relative standard deviation (0 to 0.5).
        spacing_rel_sd: f64,
        /// Angle to the travel, degrees in [0, 90] (90 straight across), with its standard deviation (0.05 to 45).
        angle_deg: Option<(f64, f64)>,
    },
    /// No marks any more.
    Gone,
}

/// One face that was looked at.
#[derive(Clone, Debug, PartialEq)]
pub struct Sighting {
    /// What was seen.
    pub seen: Seen,
    /// Table speed, mm/s (1 to 2000).
    pub table_mm_s: f64,
    /// Its relative standard deviation (0 to 0.5).
    pub table_rel_sd: f64,
    /// Wheel speed over its usual one (0.2 to 5).
    pub wheel_ratio: f64,
    /// Parts that stood still, by name.
    pub stopped: Vec<String>,
}

/// A cause with its probability.
#[derive(Clone, Debug, PartialEq)]
pub struct Ranked {
    /// Which of the causes.
    pub cause: usize,
    /// Its probability, all together 1.
    pub probability: f64,
    /// Spacing that it would print at the first sighting's speeds, mm; absent for "none of these".
    pub spacing_mm: Option<f64>,
    /// Angle to the travel that its marks would have, degrees.
    pub angle_deg: Option<f64>,
    /// How far the first sighting's spacing is from it, in standard deviations.
    pub off_by_sd: Option<f64>,
}

/// The causes weighed.
#[derive(Clone, Debug, PartialEq)]
pub struct Ranking {
    /// The most probable first.
    pub ranked: Vec<Ranked>,
    /// What is not known yet: entropy of the probabilities, bits.
    pub open_bits: f64,
}

/// Weigh the causes by what was seen; the first sighting must show marks.
///
/// # Errors
/// A [`Fault`] for no sighting, a first one without marks, or a value out of the ranges of [`Seen`] and [`Sighting`].
pub fn rank(causes: &[Cause], sightings: &[Sighting]) -> Result<Ranking, Fault> {
    for (i, s) in sightings.iter().enumerate() {
        check(s).map_err(|f| f.inside(&format!("sightings[{i}]")))?;
    }
    let Some(first @ Sighting { seen: Seen::Marks { .. }, .. }) = sightings.first() else {
        let value = if sightings.is_empty() { "missing" } else { "no marks" };
        return Err(Fault::new("sightings[0]", value, "a face with marks", "without marks there is no cause to look for"));
    };
    let logs: Vec<f64> = causes.iter().map(|c| c.prior.ln() + sightings.iter().map(|s| log_likelihood(c, s, first)).sum::<f64>()).collect();
    // "None of these" predicts every spacing a little, so the largest is finite.
    let largest = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let total: f64 = logs.iter().map(|l| (l - largest).exp()).sum();
    let ranked = causes.iter().zip(&logs).enumerate().map(|(i, (c, l))| {
        let pattern = c.follows.pattern(first.table_mm_s, first.wheel_ratio);
        Ranked {
            cause: i,
            probability: (l - largest).exp() / total,
            spacing_mm: pattern.map(spacing),
            angle_deg: pattern.map(angle_deg),
            off_by_sd: pattern.and_then(|p| off_by(c, first, p)),
        }
    });
    let mut ranked: Vec<Ranked> = ranked.collect();
    ranked.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    let open_bits = entropy(ranked.iter().map(|r| r.probability));
    Ok(Ranking { ranked, open_bits })
}

/// Entropy of probabilities, bits.
pub(super) fn entropy(p: impl Iterator<Item = f64>) -> f64 {
    p.filter(|p| *p > 0.0).map(|p| -p * p.log2()).sum::<f64>().max(0.0)
}

pub(super) fn spacing(pattern: [f64; 2]) -> f64 {
    1.0 / pattern[0].hypot(pattern[1])
}

pub(super) fn angle_deg(pattern: [f64; 2]) -> f64 {
    pattern[0].atan2(pattern[1]).to_degrees()
}

/// Standard deviation of the logarithm of a spacing under a cause: reading, the cause's own, and the table's as far as the spacing follows it.
fn log_sd(cause: &Cause, spacing_rel_sd: f64, table_rel_sd: f64, pattern: [f64; 2]) -> f64 {
    let size = pattern[0].hypot(pattern[1]);
    // d ln s / d ln v = (along/size)², for what follows the table at all.
    let table = match cause.follows {
        Follows::Along { .. } | Follows::Across { .. } => 0.0,
        _ => table_rel_sd * (pattern[0] / size).powi(2),
    };
    // Marks are never read better than to three thousandths. Common practice, no source.
    spacing_rel_sd.hypot(cause.rel_sd).hypot(table).max(0.003)
}

fn off_by(cause: &Cause, s: &Sighting, pattern: [f64; 2]) -> Option<f64> {
    let Seen::Marks { spacing_mm, spacing_rel_sd, .. } = s.seen else { return None };
    Some((spacing_mm / spacing(pattern)).ln().abs() / log_sd(cause, spacing_rel_sd, s.table_rel_sd, pattern))
}

fn log_normal(x: f64, sd: f64) -> f64 {
    -0.5 * (x / sd).powi(2) - (sd * TAU.sqrt()).ln()
}

fn log_likelihood(cause: &Cause, s: &Sighting, first: &Sighting) -> f64 {
    match s.seen {
        Seen::Gone => {
            let stopped = s.stopped.contains(&cause.part);
            if stopped { GONE_IF_STOPPED.ln() } else { GONE_ANYWAY.ln() }
        }
        Seen::Marks { spacing_mm, spacing_rel_sd, angle_deg: angle } => {
            let still = if s.stopped.is_empty() {
                0.0
            } else {
                let stopped = s.stopped.contains(&cause.part);
                (1.0 - if stopped { GONE_IF_STOPPED } else { GONE_ANYWAY }).ln()
            };
            still + log_of_marks(cause, s, first, spacing_mm, spacing_rel_sd, angle)
        }
    }
}

fn log_of_marks(cause: &Cause, s: &Sighting, first: &Sighting, spacing_mm: f64, rel_sd: f64, angle: Option<(f64, f64)>) -> f64 {
    let Some(pattern) = cause.follows.pattern(s.table_mm_s, s.wheel_ratio) else {
        return log_of_unknown(s, first, spacing_mm, rel_sd, angle);
    };
    let by_spacing = log_normal((spacing_mm / spacing(pattern)).ln(), log_sd(cause, rel_sd, s.table_rel_sd, pattern));
    // The table's travel in a picture, and a thread's slope, are known to about a degree. Common practice, no source.
    let by_angle = angle.map_or(0.0, |(deg, sd)| {
        let sd = sd.hypot(1.0);
        // Folded into [0, 90]: what lies beyond either end comes back.
        let at = angle_deg(pattern);
        [deg, -deg, 180.0 - deg].iter().map(|d| log_normal(d - at, sd).exp()).sum::<f64>().max(1e-30).ln()
    });
    by_spacing + by_angle
}

/// What nobody listed: the first time any spacing and angle; afterwards a vibration, one that follows the wheel, or a distance, each a third.
fn log_of_unknown(s: &Sighting, first: &Sighting, spacing_mm: f64, rel_sd: f64, angle: Option<(f64, f64)>) -> f64 {
    let by_angle = if angle.is_some() { -90.0_f64.ln() } else { 0.0 };
    if std::ptr::eq(s, first) {
        return by_angle - LOG_SPACINGS.ln();
    }
    let Seen::Marks { spacing_mm: before, spacing_rel_sd: sd_before, .. } = first.seen else { return by_angle - LOG_SPACINGS.ln() };
    let table = s.table_mm_s / first.table_mm_s;
    let ratios = [table, table * first.wheel_ratio / s.wheel_ratio, 1.0];
    let sd = rel_sd.hypot(sd_before).hypot(s.table_rel_sd).hypot(first.table_rel_sd).max(0.003);
    let known: f64 = ratios.iter().map(|r| log_normal((spacing_mm / before / r).ln(), sd).exp() / 3.0).sum();
    // Not even that may hold.
    by_angle + (0.9 * known + 0.1 / LOG_SPACINGS).ln()
}

fn check(s: &Sighting) -> Result<(), Fault> {
    checked_table_mm_s(s.table_mm_s)?;
    let sd_why = "how well it was measured, as a share: 0.01 is one in a hundred";
    s.table_rel_sd.within("table_rel_sd", 0.0, 0.5, "", sd_why)?;
    s.wheel_ratio.within("wheel_ratio", 0.2, 5.0, "", "wheel speed at that face over the usual one")?;
    if let Seen::Marks { spacing_mm, spacing_rel_sd, angle_deg } = s.seen {
        checked_spacing_mm(spacing_mm)?;
        spacing_rel_sd.within("spacing_rel_sd", 0.0, 0.5, "", sd_why)?;
        if let Some((deg, sd)) = angle_deg {
            deg.within("angle_deg", 0.0, 90.0, "degrees", "angle of the marks to the table’s travel: 90 is straight across")?;
            sd.within("angle_sd_deg", 0.05, 45.0, "degrees", "how well the angle is known")?;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_thread_of_fine_lead_lies_nearly_along_the_travel() {
        // Lead 0.2 mm, a turn's advance of 5 mm: atan(0.2/5) = 2.29° from the travel, and a little less than 0.2 mm apart.
        let thread = Follows::Thread { lead_mm: 0.2, wheel_hz: 50.0 }.pattern(250.0, 1.0).unwrap();
        assert!((angle_deg(thread) - 0.04_f64.atan().to_degrees()).abs() < 1e-12);
        assert!((spacing(thread) - 0.2 / (1.0_f64 + 0.0016).sqrt()).abs() < 1e-12);
    }

    #[test]
    fn entropy_of_two_equal_chances_is_a_bit() {
        assert_eq!(entropy([0.5, 0.5].into_iter()), 1.0);
        assert_eq!(entropy([1.0, 0.0].into_iter()), 0.0);
    }
}
