//! Period of a free swing ↔ unbalance.
//!
//! In: time, amplitude, inertia, drift. Out: unbalance, or period. J = I/g (g·mm·s²) throughout, so that torques are
//! unbalances.

use crate::numerics::elliptic_k;
use crate::quantity::{Angle, Inertia, Seconds, Unbalance};
use crate::{Fault, Ranged};
use std::f64::consts::{FRAC_PI_2, PI};

/// K of an amplitude: the period is (4/ω₀)·K(sin²(A/2)), ω₀² = U/J.
pub(crate) fn k_of_amplitude(amplitude_rad: f64) -> f64 {
    elliptic_k((0.5 * amplitude_rad).sin().powi(2))
}

fn checked_amplitude(amplitude: Angle) -> Result<f64, Fault> {
    amplitude
        .deg()
        .within(
            "amplitude_deg",
            1e-6,
            179.999,
            "degrees",
            "the swing must be a swing: at 180° it balances on its head and at 0° there is none",
        )
        .map(f64::to_radians)
}

fn checked_inertia(inertia: Inertia) -> Result<f64, Fault> {
    inertia.kg_m2().within("inertia_kg_m2", 1e-9, 1e4, "kg·m²", "inertia about the arbor's axis, of the rotor as it swings")?;
    Ok(inertia.g_mm_s2())
}

/// Unbalance from the time of one full swing about the heavy-side-down position.
///
/// Exact for any amplitude below 180°: T = (4/ω₀)·K(sin²(A/2)), ω₀² = U·g/I, K the complete elliptic integral.
/// Drag is neglected: with a decay of a tenth per swing the error stays below 0.1 %.
///
/// # Errors
/// A [`Fault`] for an amplitude outside (0°, 180°), a period or inertia that is not positive and finite.
///
/// Source: Landau & Lifshitz, Mechanics, §11.
pub fn unbalance_from_swing(period: Seconds, amplitude: Angle, inertia: Inertia) -> Result<Unbalance, Fault> {
    let t = period.s().within("period_s", 1e-3, 1e5, "s", "time of one full swing, out and back")?;
    let j = checked_inertia(inertia)?;
    let k = k_of_amplitude(checked_amplitude(amplitude)?);
    Ok(Unbalance::from_g_mm(j * (4.0 * k / t).powi(2)))
}

/// Period of one full swing of the given amplitude, without drag and drift.
///
/// # Errors
/// As [`unbalance_from_swing`]; the unbalance must be positive.
///
/// Source: Landau & Lifshitz, Mechanics, §11.
pub fn period_of_swing(unbalance: Unbalance, amplitude: Angle, inertia: Inertia) -> Result<Seconds, Fault> {
    let u = unbalance.g_mm().within("unbalance_g_mm", 1e-9, 1e9, "g·mm", "a balanced rotor does not swing")?;
    let j = checked_inertia(inertia)?;
    let k = k_of_amplitude(checked_amplitude(amplitude)?);
    Ok(Seconds::new(4.0 * (j / u).sqrt() * k))
}

/// Period with a constant drift torque, exact, by the energy integral; amplitude counted from the rest place on the
/// side where it is let go.
///
/// `released` is +1 when let go counter-clockwise of the rest place, −1 clockwise. `None` when it does not swing:
/// |drift| ≥ U, or let go beyond the point where it turns over.
///
/// T = 2∫dψ/√(2(E − V)/J), V = −U·cos ψ − td·ψ. With ψ = middle + half-range·sin x the square-root ends vanish and the
/// trapezium rule converges geometrically. Source: Landau & Lifshitz, Mechanics, §11, eq. (11.3).
pub fn period_with_drift(unbalance: Unbalance, drift: Unbalance, amplitude: Angle, released: f64, inertia: Inertia) -> Option<Seconds> {
    period_with_drift_g_mm(unbalance.g_mm(), drift.g_mm(), amplitude.rad(), released.signum(), inertia.g_mm_s2()).map(Seconds::new)
}

pub(crate) fn period_with_drift_g_mm(u: f64, td: f64, amplitude: f64, side: f64, j: f64) -> Option<f64> {
    if u.is_nan() || u <= td.abs() {
        return None;
    }
    let rest = (td / u).asin();
    // The top on the side where it is let go: beyond it, it would fall the other way round.
    if amplitude >= PI - 2.0 * rest * side {
        return None;
    }
    half_swing_g_mm(u, td, rest + side * amplitude, j).map(|(t, _)| 2.0 * t)
}

/// From rest at `from` (rad, heavy side from straight down) to the next turning point: time (s) and where that is.
///
/// `torque` is the constant torque during this half swing: drift, with dry friction against the motion. `None` when it
/// does not turn back: no rest place, or it goes over the top. The energy integral of [`period_with_drift`].
pub(crate) fn half_swing_g_mm(u: f64, torque: f64, from: f64, j: f64) -> Option<(f64, f64)> {
    if u.is_nan() || u <= torque.abs() {
        return None;
    }
    let rest = (torque / u).asin();
    let v = |psi: f64| -u * psi.cos() - torque * psi;
    let side = (from - rest).signum();
    // The far turning point lies on the other side of the rest place, before the next summit of V.
    let summit = if side > 0.0 { -PI - rest } else { PI - rest };
    let e = v(from);
    if v(summit) <= e || from == rest {
        return None;
    }
    let to = crate::numerics::bisect(rest, summit, |p| v(p) - e)?;
    let (mid, half) = (0.5 * (from + to), 0.5 * (from - to));
    let n = 48;
    let mut sum = 0.0;
    for i in 0..n {
        let x = -FRAC_PI_2 + PI * (f64::from(i) + 0.5) / f64::from(n);
        let (s, c) = x.sin_cos();
        sum += (half * c).abs() / (2.0 * (e - v(mid + half * s)).max(f64::MIN_POSITIVE) / j).sqrt();
    }
    Some((sum * PI / f64::from(n), to))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn swing_of_170_degrees_takes_2_44_small_swings() {
        // Source: Landau & Lifshitz §11; K(sin²85°)·2/π = 2.4394 (Abramowitz & Stegun table 17.2: K(85°) = 3.83174).
        let i = Inertia::from_kg_m2(0.01);
        let u = Unbalance::from_g_mm(50.0);
        let big = period_of_swing(u, Angle::from_deg(170.0), i).unwrap().s();
        let small = period_of_swing(u, Angle::from_deg(0.001), i).unwrap().s();
        assert!((big / small - 3.831742 * 2.0 / std::f64::consts::PI).abs() < 1e-6);
    }

    #[test]
    fn without_drift_the_energy_integral_is_the_elliptic_one() {
        for amp in [1.0, 60.0, 120.0, 170.0_f64] {
            let i = Inertia::from_g_mm_s2(3000.0);
            let u = Unbalance::from_g_mm(70.0);
            let a = period_of_swing(u, Angle::from_deg(amp), i).unwrap().s();
            let b = period_with_drift(u, Unbalance::default(), Angle::from_deg(amp), 1.0, i).unwrap().s();
            assert!((a / b - 1.0).abs() < 1e-9, "{amp}: {a} {b}");
        }
    }

    #[test]
    fn periods_match_scipy() {
        // Source: reference/balance-sessions.json, "periods": scipy.special.ellipk and scipy.integrate.quad.
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../reference/balance-sessions.json");
        let all: serde_json::Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
        let rows = all["periods"].as_array().unwrap();
        assert_eq!(rows.len(), 10);
        for row in rows {
            let num = |k: &str| row[k].as_f64().unwrap();
            let (j, u) = (Inertia::from_g_mm_s2(num("J_gmm_s2")), Unbalance::from_g_mm(num("U_gmm")));
            let got = if row["kind"] == "period" {
                period_of_swing(u, Angle::from_deg(num("amp_deg")), j).unwrap()
            } else {
                let amplitude = Angle::from_deg(num("amp_deg_from_rest_place"));
                assert_eq!(row["released_on"], "the CCW side");
                period_with_drift(u, Unbalance::from_g_mm(num("drift_gmm")), amplitude, 1.0, j).unwrap()
            };
            assert!((got.s() / num("expected_s") - 1.0).abs() <= num("tol_rel"), "{row}: {}", got.s());
        }
    }

    #[test]
    fn mirrored_drift_and_side_give_the_same_period() {
        let i = Inertia::from_g_mm_s2(3000.0);
        let (u, td, a) = (Unbalance::from_g_mm(70.0), 13.0, Angle::from_deg(50.0));
        let p = period_with_drift(u, Unbalance::from_g_mm(td), a, 1.0, i).unwrap().s();
        let q = period_with_drift(u, Unbalance::from_g_mm(-td), a, -1.0, i).unwrap().s();
        assert!((p / q - 1.0).abs() < 1e-12);
    }
}
