//! Inspection: does a measured part conform, and what is to be done if it does not.
//!
//! In: limits, a reading, the expanded uncertainty U of the gauge (k = 2). Out: a [`Verdict`] by the decision rule of ISO 14253-1, where the
//! uncertainty counts against whoever proves: it conforms inside the limits by U, it does not outside them by U, between them nothing is
//! proven. The full U is subtracted (the 2017 edition allows 0.83 U where U is small): the stricter of both.

mod budget;
mod match_parts;
mod question;
mod rework;

pub use budget::{BoreGauge, expanded_um};
pub use match_parts::{MOST_PARTS, Match, best_match};
pub use question::{check_form_um, check_size_mm};
pub use rework::{Advice, Feature, Rework, rework};

use crate::{Fault, Ranged};

/// Rounding that a limit may suffer on its way through text, in its own unit.
const DUST: f64 = 1e-9;

/// What a reading proves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// It conforms.
    Conforms,
    /// It does not conform.
    DoesNotConform,
    /// It can't be told with this gauge.
    NotProven,
}

impl Verdict {
    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Conforms => "conforms",
            Self::DoesNotConform => "does not conform",
            Self::NotProven => "not proven",
        }
    }
}

/// Limits with the uncertainty with which they are checked, in one unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Zone {
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
    /// Expanded uncertainty (k = 2).
    pub u: f64,
}

impl Zone {
    /// Limits in µm from the nominal size with U.
    ///
    /// # Errors
    /// A [`Fault`] for limits that are turned round or not finite, or a U outside 0 to 10 mm.
    pub fn um(low_um: f64, high_um: f64, u_um: f64) -> Result<Self, Fault> {
        let low = low_um.within("lower_um", -1e5, 1e5, "µm", "lower limit from the nominal size")?;
        let high = high_um.within("upper_um", low, 1e5, "µm", "the upper limit is not below the lower")?;
        let u = u_um.within("u_um", 0.0, 1e4, "µm", "expanded uncertainty of the gauge, k = 2")?;
        Ok(Self { low, high, u })
    }

    /// Readings that prove conformity; none where U is half the tolerance or more.
    pub fn accepts(&self) -> Option<[f64; 2]> {
        let zone = [self.low + self.u, self.high - self.u];
        (zone[0] <= zone[1] + DUST).then_some(zone)
    }

    /// What a reading proves. A reading on the edge of the narrowed zone conforms.
    pub fn judge(&self, reading: f64) -> Verdict {
        if self.accepts().is_some_and(|[low, high]| reading >= low - DUST && reading <= high + DUST) {
            Verdict::Conforms
        } else if reading < self.low - self.u - DUST || reading > self.high + self.u + DUST {
            Verdict::DoesNotConform
        } else {
            Verdict::NotProven
        }
    }
}
