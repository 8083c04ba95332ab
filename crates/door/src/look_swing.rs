//! `look-swing`: time of a free swing ↔ unbalance.

use crate::Fault;
use crate::look::Sense;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::bench::timing::{Swings, WithSd, amplitude_factor, time_from_unbalance, unbalance_from_time};
use stillwheel_physics::quantity::{Angle, Inertia, Seconds, Unbalance};

/// Input of `look-swing`: the time or the unbalance, never both; the other comes out.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LookSwingIn {
    /// Inertia of the rotor as it swings, kg·m² (on rolling ways it holds mass times journal radius squared too).
    pub inertia_kg_m2: f64,
    /// Relative standard deviation of the inertia (0: exact).
    #[serde(default)]
    pub inertia_rel_sd: f64,
    /// Full swings, out and back, in steps of a half (0.5: from one turning point to the other).
    #[serde(default = "one")]
    pub swings: f64,
    /// First amplitude from the rest place, degrees (below 180).
    pub amplitude_deg: f64,
    /// Standard deviation of the amplitude, degrees (0: exact).
    #[serde(default)]
    pub amplitude_sd_deg: f64,
    /// Last amplitude, degrees; missing: no visible loss.
    #[serde(default)]
    pub amplitude_end_deg: Option<f64>,
    /// Time of all the swings, s.
    #[serde(default)]
    pub time_s: Option<f64>,
    /// Standard deviation of the time, s (0: exact).
    #[serde(default)]
    pub time_sd_s: f64,
    /// Unbalance, g·mm, when its time is asked for.
    #[serde(default)]
    pub unbalance_g_mm: Option<f64>,
    /// Standard deviation of that unbalance, g·mm (0: exact).
    #[serde(default)]
    pub unbalance_sd_g_mm: f64,
    /// Drift torque over g, g·mm, positive counter-clockwise.
    #[serde(default)]
    pub drift_g_mm: f64,
    /// Its standard deviation, g·mm (0: exact).
    #[serde(default)]
    pub drift_sd_g_mm: f64,
    /// On which side of the rest place it was let go; needed with drift, since both sides differ then.
    #[serde(default)]
    pub released: Option<Sense>,
}

fn one() -> f64 {
    1.0
}

/// What the standard deviation of the answer is made of; they add by root sum of squares.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SdParts {
    /// From the time (or the unbalance, when that was given), as a share of the answer.
    pub from_reading: f64,
    /// From the amplitude, as a share of the answer.
    pub from_amplitude: f64,
    /// From the inertia, as a share of the answer.
    pub from_inertia: f64,
    /// From the drift, as a share of the answer.
    pub from_drift: f64,
}

/// Output of `look-swing`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LookSwingOut {
    /// Unbalance, g·mm.
    pub unbalance_g_mm: f64,
    /// Its standard deviation, g·mm.
    pub unbalance_sd_g_mm: f64,
    /// Time of all the swings, s.
    pub time_s: f64,
    /// Its standard deviation, s.
    pub time_sd_s: f64,
    /// Mean time of one full swing, s.
    pub period_s: f64,
    /// How much longer the first swing takes than a small one, by its amplitude alone.
    pub amplitude_factor: f64,
    /// What the standard deviation of the answer is made of.
    pub sd_parts: SdParts,
    /// A sentence for the operator.
    pub says: String,
}

/// Unbalance from the time of a swing, or the time from the unbalance.
///
/// # Errors
/// A [`Fault`] when neither or both of time and unbalance are given, drift is given without the side, or a value lies
/// out of its range.
pub fn look_swing(input: &LookSwingIn) -> Result<LookSwingOut, Fault> {
    let released = match input.released {
        Some(sense) => sense,
        None if input.drift_g_mm == 0.0 => Sense::CounterClockwise,
        None => {
            let why = "with drift a swing let go on one side takes another time than one let go on the other";
            return Err(Fault::new("released", "missing", "counter-clockwise, clockwise", why));
        }
    };
    for (given, field, beside) in
        [(input.unbalance_sd_g_mm, "unbalance_sd_g_mm", input.time_s), (input.time_sd_s, "time_sd_s", input.unbalance_g_mm)]
    {
        if given != 0.0 && beside.is_some() && !(input.time_s.is_some() && input.unbalance_g_mm.is_some()) {
            let why = "this is the deviation of the value that was not given; it would be passed over";
            return Err(Fault::new(field, given, "0, or left out", why));
        }
    }
    let swings = Swings {
        count: input.swings,
        amplitude: Angle::from_deg(input.amplitude_deg),
        amplitude_sd: Angle::from_deg(input.amplitude_sd_deg),
        amplitude_end: input.amplitude_end_deg.map(Angle::from_deg),
        inertia: Inertia::from_kg_m2(input.inertia_kg_m2),
        inertia_rel_sd: input.inertia_rel_sd,
        drift: Unbalance::from_g_mm(input.drift_g_mm),
        drift_sd: Unbalance::from_g_mm(input.drift_sd_g_mm),
        released: if released == Sense::CounterClockwise { 1.0 } else { -1.0 },
    };
    let (unbalance, time, parts) = match (input.time_s, input.unbalance_g_mm) {
        (Some(t), None) => {
            let u = unbalance_from_time(Seconds::new(t), Seconds::new(input.time_sd_s), &swings)?;
            ((u.mean, u.sd), (t, input.time_sd_s), shares(&u))
        }
        (None, Some(u)) => {
            let t = time_from_unbalance(Unbalance::from_g_mm(u), Unbalance::from_g_mm(input.unbalance_sd_g_mm), &swings)?;
            ((u, input.unbalance_sd_g_mm), (t.mean, t.sd), shares(&t))
        }
        (None, None) => return Err(Fault::new("time_s", "missing", "one of time_s, unbalance_g_mm", "the other is what comes out")),
        (Some(_), Some(_)) => {
            return Err(Fault::new(
                "unbalance_g_mm",
                "given beside time_s",
                "one of time_s, unbalance_g_mm",
                "the other is what comes out",
            ));
        }
    };
    // ± at 95 %, as everywhere in the program.
    let says = if input.time_s.is_some() {
        format!("Unbalance {:.2} ± {:.2} g·mm at 95 %; its direction takes a settle angle.", unbalance.0, 1.96 * unbalance.1)
    } else {
        format!("{} full swings take {:.2} ± {:.2} s at 95 %.", input.swings, time.0, 1.96 * time.1)
    };
    Ok(LookSwingOut {
        unbalance_g_mm: unbalance.0,
        unbalance_sd_g_mm: unbalance.1,
        time_s: time.0,
        time_sd_s: time.1,
        period_s: time.0 / input.swings,
        amplitude_factor: amplitude_factor(swings.amplitude)?,
        sd_parts: parts,
        says,
    })
}

fn shares(v: &WithSd) -> SdParts {
    SdParts {
        from_reading: v.from_reading / v.mean,
        from_amplitude: v.from_amplitude / v.mean,
        from_inertia: v.from_inertia / v.mean,
        from_drift: v.from_drift / v.mean,
    }
}

/// The demo's rotor let go from 60° and timed by thumb.
pub(crate) fn example() -> LookSwingIn {
    LookSwingIn {
        inertia_kg_m2: 0.0082,
        inertia_rel_sd: 0.05,
        swings: 1.0,
        amplitude_deg: 60.0,
        amplitude_sd_deg: 3.0,
        amplitude_end_deg: Some(57.0),
        time_s: Some(12.4),
        time_sd_s: 0.2,
        unbalance_g_mm: None,
        unbalance_sd_g_mm: 0.0,
        drift_g_mm: 0.0,
        drift_sd_g_mm: 0.5,
        released: None,
    }
}
