//! Inertia from swings on the stand, with and without a known trial mass.
//!
//! In: timed swings, and where the rotor settled. Out: inertia as it swings (on rolling ways it holds `m·a²`), and the
//! unbalance that comes with it. `w = (4·K/T)²` is what a swing tells: the unbalance over the inertia in g units,
//! `|U + u| = (J + j)·w`, with `u` the trial's moment and `j` its own inertia over g.

use crate::bench::look::Weight;
use crate::bench::swing::k_of_amplitude;
use crate::quantity::{Angle, Inertia, Length, Mass, RotorAngle, Seconds, Unbalance, UnbalanceVector};
use crate::{Fault, Ranged};
use nalgebra::{Matrix3, Vector3};

/// A known mass put on the rotor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TrialMass {
    /// Its mass.
    pub mass: Mass,
    /// Radius of its mass centre.
    pub radius: Length,
}

impl TrialMass {
    /// Moment, g·mm, and own inertia over g, g·mm·s².
    fn moment_and_inertia(self) -> Result<(f64, f64), Fault> {
        let m = self.mass.g().within("mass_g", 1e-3, 1e5, "g", "mass of the trial weight; weigh it")?;
        let r = self.radius.mm().within("radius_mm", 1.0, 2500.0, "mm", "radius of the trial weight's mass centre")?;
        Ok((m * r, Inertia::from_kg_m2(m * 1e-3 * (r * 1e-3).powi(2)).g_mm_s2()))
    }
}

/// One timed swing: period of a full swing and its amplitude from the rest place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TimedSwing {
    /// Time of one full swing, out and back.
    pub period: Seconds,
    /// Standard deviation of that time.
    pub period_sd: Seconds,
    /// Amplitude, counted from the rest place.
    pub amplitude: Angle,
}

impl TimedSwing {
    /// Relative standard deviation of `w`: twice that of the period.
    fn w_rel_sd(self) -> Result<f64, Fault> {
        let t = self.period.s();
        Ok(2.0 * self.period_sd.s().within("period_sd_s", 0.0, t, "s", "standard deviation of the period; 0: exact")? / t)
    }

    /// Unbalance over inertia in g units, 1/s².
    fn w(self) -> Result<f64, Fault> {
        let t = self.period.s().within("period_s", 1e-3, 1e5, "s", "time of one full swing, out and back")?;
        let a =
            self.amplitude.deg().within("amplitude_deg", 1e-6, 179.999, "degrees", "at 180° it stands on its head and does not swing")?;
        Ok((4.0 * k_of_amplitude(a.to_radians()) / t).powi(2))
    }
}

/// What a pair of swings tells.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SwungPair {
    /// Inertia of the rotor without the trial, as it swings.
    pub inertia: Inertia,
    /// Its standard deviation from those of the periods.
    pub inertia_sd: Inertia,
    /// Unbalance of the rotor without the trial.
    pub unbalance: Unbalance,
}

/// Inertia and unbalance from two swings, the second with a trial mass **on the heavy side**.
///
/// `U = J·w1` and `U + u = (J + j)·w2` give `J = (u − j·w2)/(w2 − w1)`. For small swings this is
/// `U = (T2²·u − 4π²·m·R²/g)/(T1² − T2²)`.
///
/// # Errors
/// A [`Fault`] for a time, amplitude or trial out of range, and for a second swing that is not quicker than the first:
/// then the trial did not sit on the heavy side.
///
/// Source: two equations of the compound pendulum (Landau & Lifshitz, Mechanics, §11).
pub fn inertia_from_pair(without: TimedSwing, with_trial: TimedSwing, trial: TrialMass) -> Result<SwungPair, Fault> {
    let (u, j) = trial.moment_and_inertia().map_err(|f| f.inside("trial"))?;
    let w1 = without.w().map_err(|f| f.inside("without"))?;
    let w2 = with_trial.w().map_err(|f| f.inside("with_trial"))?;
    let over = (u - j * w2) / (w2 - w1);
    if w2 <= w1 || over.is_nan() || over <= 0.0 {
        return Err(Fault::new(
            "with_trial.period_s",
            with_trial.period.s(),
            "quicker than the swing without the trial, and not quicker than the trial alone could make it",
            "the trial must sit on the heavy side (at the bottom when the rotor rests); check where it sat, its mass and the times",
        ));
    }
    // First-order propagation: dJ/dw1 = J/(w2 − w1), dJ/dw2 = −(J + j)/(w2 − w1).
    let sd1 = w1 * without.w_rel_sd().map_err(|f| f.inside("without"))?;
    let sd2 = w2 * with_trial.w_rel_sd().map_err(|f| f.inside("with_trial"))?;
    let sd = (over * sd1).hypot((over + j) * sd2) / (w2 - w1);
    Ok(SwungPair {
        inertia: Inertia::from_g_mm_s2(over),
        inertia_sd: Inertia::from_g_mm_s2(sd),
        unbalance: Unbalance::from_g_mm(over * w1),
    })
}

/// One swing of a set at known angles: its time, where the rotor settled, and the trial that was on it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SettledSwing {
    /// The swing.
    pub swing: TimedSwing,
    /// Rotor angle at the bottom at rest.
    pub settle: RotorAngle,
    /// Standard deviation of that angle.
    pub settle_sd: Angle,
    /// The trial and its rotor angle, if one was on.
    pub trial: Option<(TrialMass, RotorAngle)>,
}

/// Inertia and unbalance vector by least squares, with the standard deviation of the inertia.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SwungInertia {
    /// Inertia of the rotor without trials, as it swings.
    pub inertia: Inertia,
    /// Its standard deviation from those of the readings.
    pub inertia_sd: Inertia,
    /// Unbalance of the rotor without trials.
    pub unbalance: UnbalanceVector,
}

/// Inertia and unbalance from two or more swings with trials at known angles, by weighted linear least squares.
///
/// Each swing gives two linear equations in (J, Ux, Uy): `U + u = (J + j)·w·n(settle)`. Along `n` the error is that of
/// the time, `2·σT/T` of the size; across it that of the angle. Weights need sizes, so it is solved twice. Drift and
/// dry friction are taken as nil: use a stand on air and trials of a good share of the unbalance.
///
/// # Errors
/// A [`Fault`] for fewer than two swings, values out of range, or swings that are all alike in their trials (nothing
/// separates inertia from unbalance then).
///
/// Source: linear least squares; covariance `(AᵀWA)⁻¹`, e.g. Bevington & Robinson, Data Reduction, ch. 7.
pub fn inertia_from_swings(swings: &[SettledSwing]) -> Result<SwungInertia, Fault> {
    if swings.len() < 2 {
        return Err(Fault::new("swings", swings.len(), "two or more", "one swing tells unbalance over inertia, not either alone"));
    }
    let mut rows = Vec::with_capacity(swings.len());
    for (i, s) in swings.iter().enumerate() {
        rows.push(row_of(s).map_err(|f| f.inside(&format!("swings[{i}]")))?);
    }
    // First pass: all errors taken as equal in g·mm; it gives the sizes for the second.
    let (first, _) = solve(&rows, |_| [1.0, 1.0])?;
    let sizes: Vec<f64> = rows.iter().map(|r| ((first[0] + r.j) * r.w).abs().max(1e-9)).collect();
    let (x, covariance) = solve(&rows, |i| [sizes[i] * rows[i].along_rel_sd, sizes[i] * rows[i].across_sd])?;
    if x[0] <= 0.0 {
        return Err(alike("the swings contradict one another: they give an inertia below zero"));
    }
    Ok(SwungInertia {
        inertia: Inertia::from_g_mm_s2(x[0]),
        inertia_sd: Inertia::from_g_mm_s2(covariance[(0, 0)].sqrt()),
        unbalance: UnbalanceVector::from_g_mm(x[1], x[2]),
    })
}

/// One swing as numbers: trial vector and inertia, w, settle direction, errors.
struct Row {
    trial: [f64; 2],
    j: f64,
    w: f64,
    n: [f64; 2],
    along_rel_sd: f64,
    across_sd: f64,
}

fn row_of(s: &SettledSwing) -> Result<Row, Fault> {
    let w = s.swing.w()?;
    let w_rel_sd = s.swing.w_rel_sd()?;
    if w_rel_sd < 1e-9 {
        let why = "swings are weighed against settle angles by their deviations: a stopwatch by hand has about 0.2 s";
        return Err(Fault::new("period_sd_s", s.swing.period_sd.s(), "larger than 0 s", why));
    }
    let angle = s.settle_sd.deg().within("settle_sd_deg", 1e-4, 60.0, "degrees", "standard deviation of the settle angle")?.to_radians();
    let settle = s.settle.rad();
    settle.to_degrees().within("settle_deg", -3600.0, 3600.0, "degrees", "rotor angle at the bottom at rest")?;
    let (trial, j) = match s.trial {
        Some((mass, at)) => {
            let (u, j) = mass.moment_and_inertia().map_err(|f| f.inside("trial"))?;
            at.rad().to_degrees().within("trial.at_deg", -3600.0, 3600.0, "degrees", "rotor angle of the trial weight")?;
            (Weight { moment: Unbalance::from_g_mm(u), at }.vector().g_mm(), j)
        }
        None => ([0.0, 0.0], 0.0),
    };
    Ok(Row { trial, j, w, n: [settle.cos(), settle.sin()], along_rel_sd: w_rel_sd, across_sd: angle })
}

/// Weighted normal equations of `J·w·n − U = u − j·w·n`, taken along and across n; three unknowns of like size.
fn solve(rows: &[Row], sd: impl Fn(usize) -> [f64; 2]) -> Result<(Vector3<f64>, Matrix3<f64>), Fault> {
    // J is scaled so that its column is of the size of the others; else the 3×3 is needlessly ill-conditioned.
    let scale = rows.iter().map(|r| r.w).sum::<f64>() / rows.len() as f64;
    let (mut a, mut b) = (Matrix3::zeros(), Vector3::zeros());
    for (i, r) in rows.iter().enumerate() {
        for (direction, sd) in [r.n, [-r.n[1], r.n[0]]].into_iter().zip(sd(i)) {
            let along = r.n[0] * direction[0] + r.n[1] * direction[1];
            let row = Vector3::new(r.w / scale * along, -direction[0], -direction[1]) / sd;
            let right = (r.trial[0] * direction[0] + r.trial[1] * direction[1] - r.j * r.w * along) / sd;
            a += row * row.transpose();
            b += row * right;
        }
    }
    let eigen = a.symmetric_eigenvalues();
    if !(eigen.min() > 1e-10 * eigen.max()) {
        return Err(alike("the swings are all alike in their trials: nothing separates the inertia from the unbalance"));
    }
    let inverse = a.try_inverse().ok_or_else(|| alike("the equations have no single solution"))?;
    let unscale = Matrix3::from_diagonal(&Vector3::new(1.0 / scale, 1.0, 1.0));
    Ok((unscale * inverse * b, unscale * inverse * unscale))
}

fn alike(why: &str) -> Fault {
    Fault::new(
        "swings",
        "this set of swings",
        "swings with unlike trials",
        format!("{why}. Add a swing with a trial of about the unbalance's own size"),
    )
}

/// A trial must be lighter than the rotor that it is put on.
///
/// # Errors
/// A [`Fault`] for `trial.mass_g` when it is not.
pub fn check_trial_against_rotor(trial: TrialMass, rotor: Mass) -> Result<(), Fault> {
    if trial.mass.g() < rotor.g() {
        return Ok(());
    }
    Err(Fault::new(
        "trial.mass_g",
        trial.mass.g(),
        format!("less than the rotor's {} g", rotor.g()),
        "a trial weight heavier than the rotor is a slip of the unit or the scale",
    ))
}

#[cfg(test)]
mod tests;
