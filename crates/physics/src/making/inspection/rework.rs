//! What to do with a part that is not as drawn.
//!
//! In: what kind of feature it is, its limits, what was measured. Out: an [`Advice`]: metal can be taken off, not put on, and a gauge that
//! can't tell comes first. Ways of working: common practice of the trade, no source.

use super::{Verdict, Zone};

/// Kind of a feature.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Feature {
    /// A hole, bore or groove width: grows as metal is taken off.
    Inside,
    /// A shaft, saddle or collar's outside: shrinks as metal is taken off.
    Outside,
    /// A place or form: neither.
    Other,
}

/// What to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Advice {
    /// Nothing.
    Keep,
    /// Measure again with a better gauge, or more readings.
    MeasureBetter,
    /// Take metal off: lap, hone or grind.
    TakeOff,
    /// Too much metal is gone: bush or sleeve it, or make the mate to it.
    BushOrMate,
    /// Put it right by scraping, shimming or setting, or plug and drill anew.
    SetAnew,
}

/// Advice with its amount.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rework {
    /// What to do.
    pub advice: Advice,
    /// Metal to take off the diameter to reach the middle of the limits, µm; 0 where none.
    pub take_off_um: f64,
    /// Widest U (k = 2) with which the reading would prove something, µm, for [`Advice::MeasureBetter`].
    pub needs_u_um: Option<f64>,
}

/// What to do about a reading.
pub fn rework(feature: Feature, zone: &Zone, reading_um: f64) -> Rework {
    let keep = Rework { advice: Advice::Keep, take_off_um: 0.0, needs_u_um: None };
    match zone.judge(reading_um) {
        Verdict::Conforms => keep,
        Verdict::NotProven => {
            // Distance to the nearer limit: a U below it proves the one or the other.
            let near = (reading_um - zone.low).abs().min((zone.high - reading_um).abs());
            Rework { advice: Advice::MeasureBetter, needs_u_um: Some(near), ..keep }
        }
        Verdict::DoesNotConform => {
            let middle = 0.5 * (zone.low + zone.high);
            let (too_small, off) = (reading_um < zone.low, (reading_um - middle).abs());
            match (feature, too_small) {
                (Feature::Inside, true) | (Feature::Outside, false) => Rework { advice: Advice::TakeOff, take_off_um: off, ..keep },
                (Feature::Inside, false) | (Feature::Outside, true) => Rework { advice: Advice::BushOrMate, ..keep },
                (Feature::Other, _) => Rework { advice: Advice::SetAnew, ..keep },
            }
        }
    }
}
