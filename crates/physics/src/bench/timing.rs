//! Time of several swings with falling amplitude ↔ unbalance, with the standard deviation.
//!
//! In: a stopwatch reading (or an unbalance), amplitude, inertia, drift. Out: unbalance (or time), its standard
//! deviation and what it is made of. Builds on [`super::swing`], which knows one swing.

use super::swing::{k_of_amplitude, period_with_drift_g_mm};
use crate::numerics::bisect;
use crate::quantity::{Angle, Inertia, Seconds, Unbalance};
use crate::{Fault, Ranged};

/// How the rotor swung.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Swings {
    /// Full swings, out and back, in steps of a half; 0.5 is from one turning point to the other.
    pub count: f64,
    /// First amplitude, from the rest place; below 180°.
    pub amplitude: Angle,
    /// Its standard deviation.
    pub amplitude_sd: Angle,
    /// Last amplitude; `None`: no visible loss.
    pub amplitude_end: Option<Angle>,
    /// Inertia of the rotor as it swings.
    pub inertia: Inertia,
    /// Its relative standard deviation.
    pub inertia_rel_sd: f64,
    /// Drift torque over g, positive counter-clockwise.
    pub drift: Unbalance,
    /// Its standard deviation.
    pub drift_sd: Unbalance,
    /// +1 when let go counter-clockwise of the rest place, −1 clockwise; without drift both are the same.
    pub released: f64,
}

/// An unbalance from a time (or a time from an unbalance) with what its standard deviation is made of, all of one unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WithSd {
    /// The value.
    pub mean: f64,
    /// Its standard deviation: root sum of squares of the parts.
    pub sd: f64,
    /// Part from the time (or from the unbalance, the other way).
    pub from_reading: f64,
    /// Part from the amplitude.
    pub from_amplitude: f64,
    /// Part from the inertia.
    pub from_inertia: f64,
    /// Part from the drift.
    pub from_drift: f64,
}

/// The checked swings as plain numbers: radians, g·mm, g·mm·s².
#[derive(Clone, Copy)]
struct Checked {
    count: f64,
    amplitude: f64,
    amplitude_sd: f64,
    fall: f64,
    j: f64,
    inertia_rel_sd: f64,
    drift: f64,
    drift_sd: f64,
    side: f64,
}

impl Swings {
    fn checked(&self) -> Result<Checked, Fault> {
        let count = self.count.within("swings", 0.5, 1000.0, "full swings", "count of full swings, out and back; 0.5 is one way")?;
        if (2.0 * count).fract() != 0.0 {
            return Err(Fault::new("swings", count, "a multiple of 0.5", "swings are counted at their turning points"));
        }
        let why = "at 180° it stands on its head and does not swing back";
        let amplitude = self.amplitude.deg().within("amplitude_deg", 1e-3, 179.9, "degrees", why)?.to_radians();
        let end = match self.amplitude_end {
            None => amplitude,
            Some(end) => {
                let highest = self.amplitude.deg();
                end.deg().within("amplitude_end_deg", 1e-3, highest, "degrees", "a free swing does not grow")?.to_radians()
            }
        };
        let inertia = self.inertia.kg_m2();
        inertia.within("inertia_kg_m2", 1e-9, 1e4, "kg·m²", "inertia about the arbor's axis, of the rotor as it swings")?;
        Ok(Checked {
            count,
            amplitude,
            amplitude_sd: self.amplitude_sd.deg().within("amplitude_sd_deg", 0.0, 60.0, "degrees", "0: exact")?.to_radians(),
            fall: end / amplitude,
            j: self.inertia.g_mm_s2(),
            inertia_rel_sd: self.inertia_rel_sd.within("inertia_rel_sd", 0.0, 1.0, "", "0: exact; 0.05: five in a hundred")?,
            drift: self.drift.g_mm().within("drift_g_mm", -1e6, 1e6, "g·mm", "drift torque told as an unbalance")?,
            drift_sd: self.drift_sd.g_mm().within("drift_sd_g_mm", 0.0, 1e6, "g·mm", "0: exact")?,
            side: if self.released < 0.0 { -1.0 } else { 1.0 },
        })
    }
}

impl Checked {
    /// Time of all swings for an unbalance; `None` where it does not swing.
    ///
    /// Swing by swing with the amplitude at the middle of each, falling geometrically:
    /// Σ T(A0·(A1/A0)^((j + ½)/k)); a last half swing counts half. Source: reference method, period of k swings.
    fn time(&self, u: f64) -> Option<f64> {
        let mut total = 0.0;
        let mut done = 0.0;
        while done < self.count {
            let share = (self.count - done).min(1.0);
            let amplitude = self.amplitude * self.fall.powf((done + 0.5 * share) / self.count);
            total += share * self.period(u, amplitude)?;
            done += share;
        }
        Some(total)
    }

    fn period(&self, u: f64, amplitude: f64) -> Option<f64> {
        if self.drift == 0.0 {
            return (u > 0.0).then(|| 4.0 * (self.j / u).sqrt() * k_of_amplitude(amplitude));
        }
        period_with_drift_g_mm(u, self.drift, amplitude, self.side, self.j)
    }

    /// Unbalance for a time.
    fn unbalance(&self, time: f64) -> Option<f64> {
        let without = Self { drift: 0.0, ..*self };
        let start = without.time(1.0)?.powi(2) / time.powi(2);
        if self.drift == 0.0 {
            return Some(start);
        }
        // The time falls as the unbalance grows. The lowest unbalance that swings at all lies between |drift| (which
        // does not) and some larger one; below it `time` is None, taken as longer than any reading.
        let excess = |u: f64| self.time(u).map_or(1.0, |t| t / time - 1.0);
        let low = self.drift.abs();
        let mut high = 2.0 * (start + low);
        while excess(high) > 0.0 {
            high *= 2.0;
            if high > 1e12 {
                return None;
            }
        }
        let u = bisect(low, high, excess)?;
        // At the edge of swinging the bisection finds a jump, not a root.
        (self.time(u).is_some_and(|t| (t / time - 1.0).abs() < 1e-6)).then_some(u)
    }
}

/// Changes of `f` by one standard deviation of amplitude, inertia and drift.
fn parts(c: &Checked, f: impl Fn(&Checked) -> Option<f64>) -> Option<[f64; 3]> {
    // Central difference over a small share of the deviation, scaled up: first-order propagation (GUM, 5.1.2).
    let slope = |sd: f64, step: f64, moved: &dyn Fn(f64) -> Checked| -> Option<f64> {
        if sd == 0.0 {
            return Some(0.0);
        }
        Some((f(&moved(step))? - f(&moved(-step))?).abs() / (2.0 * step) * sd)
    };
    let from_amplitude = slope(c.amplitude_sd, 1e-4 * c.amplitude, &|d| Checked { amplitude: c.amplitude + d, ..*c })?;
    let from_inertia = slope(c.inertia_rel_sd, 1e-4, &|d| Checked { j: c.j * (1.0 + d), ..*c })?;
    let drift_step = 1e-3 * c.drift_sd.max(1e-9);
    let from_drift = slope(c.drift_sd, drift_step, &|d| Checked { drift: c.drift + d, ..*c })?;
    Some([from_amplitude, from_inertia, from_drift])
}

fn does_not_swing(field: &str, value: f64) -> Fault {
    Fault::new(
        field,
        value,
        "an unbalance larger than the drift torque, let go well inside its swing",
        "with so much drift this rotor does not swing so: it turns over or creeps. Let go from less, or on the other side, or lessen the drift",
    )
}

fn with_sd(mean: f64, from_reading: f64, [from_amplitude, from_inertia, from_drift]: [f64; 3]) -> WithSd {
    let sd = (from_reading.powi(2) + from_amplitude.powi(2) + from_inertia.powi(2) + from_drift.powi(2)).sqrt();
    WithSd { mean, sd, from_reading, from_amplitude, from_inertia, from_drift }
}

/// Unbalance, g·mm, from the time of all swings.
///
/// Exact in the amplitude (complete elliptic integral) and, where a drift is given, in the drift (energy integral).
/// Drag enters only by the falling amplitude. A drift's deviation is propagated to first order at the drift given;
/// about zero drift most of its effect is of second order (`√(U² − td²)`) and not in the sum.
///
/// # Errors
/// A [`Fault`] for a value out of range, or where with such a drift nothing swings so slowly.
///
/// Source: Landau & Lifshitz, Mechanics, §11; propagation by JCGM 100 (GUM), 5.1.2.
pub fn unbalance_from_time(time: Seconds, time_sd: Seconds, swings: &Swings) -> Result<WithSd, Fault> {
    let c = swings.checked()?;
    let t = time.s().within("time_s", 1e-3, 1e6, "s", "time of all the swings")?;
    let t_sd = time_sd.s().within("time_sd_s", 0.0, t, "s", "0: exact; not more than the time itself")?;
    let fault = || does_not_swing("time_s", t);
    let u = c.unbalance(t).ok_or_else(fault)?;
    if !(1e-9..=1e9).contains(&u) {
        let allowed = "a time that makes 1e-9 to 1e9 g·mm with this inertia";
        return Err(Fault::new("time_s", t, allowed, "no wheel has such an unbalance: check time and inertia"));
    }
    let from_reading = if t_sd == 0.0 {
        0.0
    } else {
        let step = 1e-4 * t;
        (c.unbalance(t - step).ok_or_else(fault)? - c.unbalance(t + step).ok_or_else(fault)?) / (2.0 * step) * t_sd
    };
    Ok(with_sd(u, from_reading.abs(), parts(&c, |c| c.unbalance(t)).ok_or_else(fault)?))
}

/// Time of all swings, s, for an unbalance.
///
/// # Errors
/// A [`Fault`] for a value out of range, or a drift with which it does not swing.
///
/// Source: as [`unbalance_from_time`].
pub fn time_from_unbalance(unbalance: Unbalance, unbalance_sd: Unbalance, swings: &Swings) -> Result<WithSd, Fault> {
    let c = swings.checked()?;
    let u = unbalance.g_mm().within("unbalance_g_mm", 1e-6, 1e9, "g·mm", "a balanced rotor does not swing")?;
    let u_sd = unbalance_sd.g_mm().within("unbalance_sd_g_mm", 0.0, u, "g·mm", "0: exact; not more than the unbalance itself")?;
    let fault = || does_not_swing("unbalance_g_mm", u);
    let t = c.time(u).ok_or_else(fault)?;
    let from_reading = if u_sd == 0.0 {
        0.0
    } else {
        let step = 1e-4 * (u - c.drift.abs());
        (c.time(u - step).ok_or_else(fault)? - c.time(u + step).ok_or_else(fault)?) / (2.0 * step) * u_sd
    };
    Ok(with_sd(t, from_reading.abs(), parts(&c, |c| c.time(u)).ok_or_else(fault)?))
}

/// How much longer a full swing of this amplitude takes than a small one: `(2/π)·K(sin²(A/2))`.
///
/// # Errors
/// A [`Fault`] for an amplitude outside 0.001° to 179.9°.
///
/// Source: Landau & Lifshitz, Mechanics, §11.
pub fn amplitude_factor(amplitude: Angle) -> Result<f64, Fault> {
    let deg = amplitude.deg().within("amplitude_deg", 1e-3, 179.9, "degrees", "at 180° it stands on its head and does not swing back")?;
    Ok(std::f64::consts::FRAC_2_PI * k_of_amplitude(deg.to_radians()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn swings(count: f64, amplitude: f64, end: Option<f64>, drift: f64) -> Swings {
        Swings {
            count,
            amplitude: Angle::from_deg(amplitude),
            amplitude_sd: Angle::from_deg(3.0),
            amplitude_end: end.map(Angle::from_deg),
            inertia: Inertia::from_kg_m2(0.008),
            inertia_rel_sd: 0.05,
            drift: Unbalance::from_g_mm(drift),
            drift_sd: Unbalance::from_g_mm(0.0),
            released: 1.0,
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(256))]
        // Law: the two ways are inverse, whatever the fall of the amplitude, the half swings and the drift; and a rotor
        // let go from above the far summit of its potential turns over, which is a fault both ways.
        #[test]
        fn time_and_unbalance_are_inverse_as_long_as_it_swings(
            u in 5.0..2000.0_f64, halves in 1..12_u32, a in 5.0..120.0_f64, fall in 0.3..1.0_f64, drift in -0.2..0.2_f64, back in any::<bool>()
        ) {
            let count = f64::from(halves) / 2.0;
            let mut s = swings(count, a, Some(a * fall), drift * u);
            let side = if back { -1.0 } else { 1.0 };
            s.released = side;
            // Energy over U of the first swing, against the unstable rest place on the other side: V = −cos ψ − (td/U)·ψ.
            let v = |psi: f64| -psi.cos() - drift * psi;
            let rest = drift.asin();
            let first = (a * fall.powf(0.5 * count.min(1.0) / count)).to_radians();
            let over = v(rest + side * first) - v(-side * std::f64::consts::PI - rest);
            prop_assume!(over.abs() > 1e-3);
            let t = time_from_unbalance(Unbalance::from_g_mm(u), Unbalance::default(), &s);
            if over > 0.0 {
                prop_assert_eq!(t.unwrap_err().field, "unbalance_g_mm");
                return Ok(());
            }
            let again = unbalance_from_time(Seconds::new(t.unwrap().mean), Seconds::default(), &s).unwrap();
            prop_assert!((again.mean / u - 1.0).abs() < 1e-6, "{} {u}", again.mean);
        }

        // Scaling law without drift: half the time means four times the unbalance.
        #[test]
        fn unbalance_goes_with_the_inverse_square_of_time(t in 1.0..100.0_f64, a in 5.0..170.0_f64) {
            let s = swings(3.0, a, None, 0.0);
            let u = |t| unbalance_from_time(Seconds::new(t), Seconds::default(), &s).unwrap().mean;
            prop_assert!((u(t / 2.0) / u(t) - 4.0).abs() < 1e-9);
        }
    }

    #[test]
    fn the_deviation_has_the_parts_of_the_reference_method() {
        // balance-method §2: 0.2 s on 20 s is 2 %; 3° at 60° is 1.5 % (dlnK/dA = 0.139 per rad); 5 % of J is 5 %.
        let r = unbalance_from_time(Seconds::new(20.0), Seconds::new(0.2), &swings(1.0, 60.0, None, 0.0)).unwrap();
        assert!((r.from_reading / r.mean - 0.02).abs() < 1e-5);
        assert!((r.from_amplitude / r.mean - 2.0 * 0.139 * 3.0_f64.to_radians()).abs() < 1e-4);
        assert!((r.from_inertia / r.mean - 0.05).abs() < 1e-6);
        assert!((r.sd / r.mean - (0.02_f64.powi(2) + 0.01456_f64.powi(2) + 0.05_f64.powi(2)).sqrt()).abs() < 1e-4);
    }

    #[test]
    fn a_drift_as_large_as_the_unbalance_is_a_fault() {
        let u = Unbalance::from_g_mm(10.0);
        for drift in [10.0, -25.0] {
            assert_eq!(time_from_unbalance(u, Unbalance::default(), &swings(1.0, 30.0, None, drift)).unwrap_err().field, "unbalance_g_mm");
        }
        assert_eq!(time_from_unbalance(u, Unbalance::default(), &swings(1.25, 30.0, None, 0.0)).unwrap_err().field, "swings");
        assert_eq!(time_from_unbalance(u, Unbalance::default(), &swings(1.0, 180.0, None, 0.0)).unwrap_err().field, "amplitude_deg");
        assert_eq!(
            time_from_unbalance(u, Unbalance::default(), &swings(1.0, 30.0, Some(31.0), 0.0)).unwrap_err().field,
            "amplitude_end_deg"
        );
        assert_eq!(
            unbalance_from_time(Seconds::new(f64::NAN), Seconds::default(), &swings(1.0, 30.0, None, 0.0)).unwrap_err().field,
            "time_s"
        );
    }
}
