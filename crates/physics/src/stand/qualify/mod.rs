//! Qualification: what the real stand does, measured on it: drift, dry friction, and the floor that is left.
//!
//! In: [`Observation`]s with a well balanced rotor, with and without a known trial mass, some with the rotor turned end for end. Out: a
//! [`Qualified`] stand, shaped so that it can be kept with the stand and used by every later sitting.
//!
//! | test | what it tells |
//! |---|---|
//! | creeps | let go at rest it turned by Θ in t: net torque 2JΘ/t² there |
//! | starts | with this trial it stays, with that one it goes: the torque at which friction gives way |
//! | settles | it came to rest there: the torque there is within dry friction |
//! | swings | a trial swung: inertia, and by the loss of amplitude what brakes |
//! | log | a swing log was fitted: drift, friction and unbalance over the inertia at once |
//!
//! What separates what: drift stays in the room and the rotor's own unbalance turns with it, so two marks half a turn apart, or the
//! rotor turned end for end (which mirrors its unbalance), give drift as half the sum; friction always brakes, so a start to the left and
//! one to the right give it as half the difference. All tests are solved together by least squares ([`crate::numerics::least_squares`])
//! for the rotor's residual, drift, dry friction, inertia and viscous drag, each with its standard deviation. The drag of an air film
//! over a creep is left out: 0.02 g·mm·s at the 0.02 rad/s of a creep is 0.0004 g·mm.

mod model;
mod solve;

pub use solve::{MeanSd, Qualified, Worst, qualify};

use crate::bench::look::Sense;

/// A known mass on the rotor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trial {
    /// Mass, g.
    pub mass_g: f64,
    /// Radius of its mass centre, mm.
    pub radius_mm: f64,
    /// Rotor angle of it, degrees.
    pub at_deg: f64,
}

/// What was done and seen.
#[derive(Clone, Debug, PartialEq)]
pub enum Test {
    /// Let go at rest, it crept off.
    Creeps {
        /// Turned by so much, degrees, positive; up to 45.
        turned_deg: f64,
        /// Standard deviation of that, degrees.
        turned_sd_deg: f64,
        /// Which way.
        sense: Sense,
        /// In this time, s.
        time_s: f64,
        /// Standard deviation of that, s.
        time_sd_s: f64,
    },
    /// With the trial at this mass it stays, at the larger one it starts. Both at the trial's place and radius.
    ///
    /// Taken as an even spread between the two, each start by itself. Starts found with the same steps of mass share their rounding
    /// (thresholds lie mirrored about the friction): with 16 of them the stated deviation then held the truth 79 times in 100, with
    /// other masses each time 96 times.
    Starts {
        /// Largest mass with which it stays, g (0: it stays without).
        stays_g: f64,
        /// Which way it starts with the trial's mass.
        sense: Sense,
    },
    /// It came to rest with that rotor angle at the bottom.
    Settles {
        /// Standard deviation of the reading, degrees.
        sd_deg: f64,
    },
    /// It swung about its rest place.
    Swings {
        /// Full swings timed, in steps of a half.
        swings: f64,
        /// Time of them, s.
        time_s: f64,
        /// Standard deviation of that, s.
        time_sd_s: f64,
        /// First amplitude, degrees; up to 60.
        amplitude_deg: f64,
        /// Standard deviation of an amplitude, degrees.
        amplitude_sd_deg: f64,
        /// Last amplitude, degrees, if it was read.
        amplitude_end_deg: Option<f64>,
    },
    /// A swing log was fitted (`bench::fit_log`): values over inertia with standard deviations.
    Log {
        /// Unbalance over inertia, 1/s².
        u_over_j_per_s2: (f64, f64),
        /// Rotor angle of the heavy side as the operator saw it, degrees.
        heavy_deg: (f64, f64),
        /// Drift over inertia, 1/s², positive counter-clockwise.
        drift_over_j_per_s2: (f64, f64),
        /// Dry friction over inertia, 1/s²; `None` when the fit held it at zero.
        dry_over_j_per_s2: Option<(f64, f64)>,
    },
}

/// One test with the rotor as it lay.
#[derive(Clone, Debug, PartialEq)]
pub struct Observation {
    /// The rotor lay turned end for end: its angles then run clockwise as the operator sees them.
    pub reversed: bool,
    /// Rotor angle straight down when it was let go (or came to rest), degrees. Not used for swings and logs.
    pub bottom_deg: f64,
    /// Trial on it.
    pub trial: Option<Trial>,
    /// What was seen.
    pub test: Test,
}

/// What is known of rotor and stand before.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Before {
    /// Inertia of the rotor as it swings, kg·m².
    pub inertia_kg_m2: f64,
    /// Its relative standard deviation.
    pub inertia_rel_sd: f64,
    /// Whether the stand can rub dry; false: friction is taken as zero.
    pub dry_friction_possible: bool,
}

/// How to qualify a stand, step by step. The order is ours; the steps are common practice, no source.
pub const PROCEDURE: [&str; 7] = [
    "Level the stand, let it take up the room's temperature, close the door. Use the best balanced rotor there is.",
    "Put a known trial mass on, swing it by 30° and time ten swings, then by 8°; note first and last amplitudes. This settles the inertia.",
    "Take the trial off. Set the mark at 12, 3, 6 and 9 o'clock in turn, let go at rest without a push, and time a creep of 10°.",
    "Where it stays: hang small masses at 3 o'clock until it just starts, then at 9 o'clock. Note the last that stayed and the first that went.",
    "Turn the rotor end for end on the stand and do the last two steps again, with other small masses: its own unbalance mirrors, the drift does not.",
    "Lift the rotor off, set it down again and repeat one creep: the scatter belongs to the stand.",
    "Keep the result with the stand; qualify again after levelling, new air settings, cleaning or a knock.",
];
