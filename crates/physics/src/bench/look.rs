//! A look: one reading of the rotor on the stand, with the weights where they were then.
//!
//! In: what the person gives. Out: types that the estimator reads. What each look can tell and what not stands with
//! each kind. Model and conventions: docs/physics.md, "The rotor on the stand".

use crate::quantity::{Angle, RotorAngle, Seconds, Unbalance, UnbalanceVector};

/// One weight on the rotor: its static moment about the axis and where its mass centre stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weight {
    /// Mass times radius of its mass centre.
    pub moment: Unbalance,
    /// Where it stands.
    pub at: RotorAngle,
}

impl Weight {
    /// Its unbalance vector.
    pub fn vector(self) -> UnbalanceVector {
        UnbalanceVector::polar(self.moment, self.at)
    }
}

/// Which way a rotor creeps that finds no rest, as the operator sees it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sense {
    /// Counter-clockwise: the drift torque is positive.
    CounterClockwise,
    /// Clockwise: the drift torque is negative.
    Clockwise,
}

impl Sense {
    /// +1 counter-clockwise, −1 clockwise.
    pub fn sign(self) -> f64 {
        match self {
            Self::CounterClockwise => 1.0,
            Self::Clockwise => -1.0,
        }
    }
}

/// What was seen. Standard deviations are k = 1 and must be positive.
#[derive(Clone, Debug, PartialEq)]
pub enum Reading {
    /// It came to rest with this rotor angle at the bottom: tells the direction of the unbalance, mixed with drift.
    Settle {
        /// Rotor angle at the bottom.
        bottom: RotorAngle,
        /// Standard deviation of the reading.
        sd: Angle,
    },
    /// It swung freely about its rest place: tells the size (over the inertia), not the direction.
    Swing {
        /// Number of full swings timed (out and back); halves are allowed: 0.5 is from one turning point to the other.
        swings: f64,
        /// First amplitude, counted from the rest place; below 180°.
        amplitude: Angle,
        /// Last amplitude, if it was read; `None`: no visible loss. On a stand that rubs, having read it says that
        /// friction took its share, and each half swing is then modelled with it.
        amplitude_end: Option<Angle>,
        /// Standard deviation of the first amplitude.
        amplitude_sd: Angle,
        /// Time of all the swings.
        time: Seconds,
        /// Standard deviation of that time.
        time_sd: Seconds,
    },
    /// Let go at this amplitude, it was still not back at the first turning point after so long: the unbalance is small.
    StillOut {
        /// Number of full swings waited for (0.5: the other turning point).
        swings: f64,
        /// Amplitude, counted from the rest place.
        amplitude: Angle,
        /// Standard deviation of the amplitude.
        amplitude_sd: Angle,
        /// How long it was watched.
        waited: Seconds,
    },
    /// With a trial weight on it, it holds with this rotor angle at the bottom: tells one component.
    Holds {
        /// Rotor angle at the bottom while it holds.
        bottom: RotorAngle,
        /// Standard deviation, from the step of the trial mass and the dry friction.
        sd: Unbalance,
    },
    /// A swing log was fitted: tells size over inertia, direction and drift at once.
    Log {
        /// Unbalance over inertia, told as g·mm per g·mm·s²: 1/s².
        u_over_j_per_s2: f64,
        /// Relative standard deviation of it.
        u_over_j_rel_sd: f64,
        /// Direction of the unbalance.
        heavy: RotorAngle,
        /// Standard deviation of the direction.
        heavy_sd: Angle,
        /// Drift torque over unbalance.
        drift_over_u: f64,
        /// Standard deviation of that ratio.
        drift_over_u_sd: f64,
        /// Correlation of the errors of direction and of that ratio, −1 to 1, both excluded: near 1 where the log shows the rest place, which both share,
        /// much sharper than either.
        correlation_heavy_drift: f64,
    },
    /// It finds no rest and creeps one way for ever: drift is larger than unbalance and friction.
    Creeps {
        /// Which way.
        sense: Sense,
        /// Width of the boundary (how sure a person is that it would never rest).
        sd: Unbalance,
    },
    /// It stays wherever it is put: dry friction is larger than unbalance and drift.
    Stays {
        /// Width of the boundary.
        sd: Unbalance,
    },
}

/// One look.
#[derive(Clone, Debug, PartialEq)]
pub struct Look {
    /// All correction weights on the rotor during this look, in a fixed order through the sitting.
    pub weights: Vec<Weight>,
    /// How far the rotor was turned on the arbor against its first seat, counter-clockwise (index balancing).
    pub turned_on_arbor: Angle,
    /// A known mass added for this look only.
    pub trial: Option<Weight>,
    /// What was seen.
    pub reading: Reading,
}
