//! The face that a round wheel leaves: the lower envelope of its circle at all places that its centre passes.
//!
//! In: centres, radius, the places to ask. Out: how high the face is there.
//!
//! Exact for circles, not their parabolas: of two equal circles' lower halves the left one is lower on the left and the right one on the
//! right, with one crossing, since the slope of a lower half grows along it. So the centres from left to right make a stack in
//! which each is touched at most twice: O(n) (the idea of Felzenszwalb & Huttenlocher, Distance transforms of sampled
//! functions, Theory of Computing 8 (2012) 415, there for parabolas). A parabola in place of the circle would be off by s⁴/(8R³) at the
//! distance s from the lowest point: 0.04 µm at 4 mm for R = 90 mm.

use crate::quantity::Length;
use std::f64::consts::TAU;

/// How much a circle of radius `r` rises at the distance `d` from its lowest point; infinite beyond its sides. Any one unit.
pub fn sag(r: f64, d: f64) -> f64 {
    let inside = (r - d) * (r + d);
    // R − √(R² − d²) without its cancellation.
    if inside < 0.0 { f64::INFINITY } else { d * d / (r + inside.sqrt()) }
}

/// Height of the lower envelope at the places `at` of circles of radius `r` whose lowest points are `(x, z)`.
///
/// All in one unit; `lowest` and `at` ascend in x. Infinite where no circle reaches. Also gives, for each place, which circle cuts it
/// (`usize::MAX` where none does).
///
/// Source: as in the head of this file; exact but for rounding.
pub fn lower_envelope(lowest: &[[f64; 2]], r: f64, at: &[f64]) -> Vec<(f64, usize)> {
    // The circles that form the envelope, each with where it takes over from the one before.
    let mut stack: Vec<(usize, f64)> = Vec::with_capacity(lowest.len());
    for (j, right) in lowest.iter().enumerate() {
        let mut from = f64::NEG_INFINITY;
        while let Some(&(i, begins)) = stack.last() {
            from = takes_over(lowest[i], *right, r);
            if from > begins {
                break;
            }
            stack.pop();
            from = f64::NEG_INFINITY;
        }
        stack.push((j, from));
    }
    let mut k = 0;
    at.iter()
        .map(|x| {
            while k + 1 < stack.len() && stack[k + 1].1 <= *x {
                k += 1;
            }
            let Some(&(i, _)) = stack.get(k) else { return (f64::INFINITY, usize::MAX) };
            let height = lowest[i][1] + sag(r, x - lowest[i][0]);
            if height.is_finite() { (height, i) } else { (f64::INFINITY, usize::MAX) }
        })
        .collect()
}

/// Where the right one of two equal circles becomes the lower.
fn takes_over(left: [f64; 2], right: [f64; 2], r: f64) -> f64 {
    // Half the way between the centres; the circles cross on its perpendicular bisector.
    let (a, b) = ((right[0] - left[0]) / 2.0, (right[1] - left[1]) / 2.0);
    let l = a.hypot(b);
    if l == 0.0 {
        return f64::NEG_INFINITY;
    }
    let h = if l < r { ((r - l) * (r + l)).sqrt() } else { 0.0 };
    // No crossing of the lower halves: the lower circle is lower wherever it is.
    if h * a <= b.abs() * l {
        return if b < 0.0 { right[0] - r } else { left[0] + r };
    }
    f64::midpoint(left[0], right[0]) + h * b / l
}

/// Height from crest to trough of the face that one pass of a wheel of radius `r` leaves when it moves up and down by ±`amplitude`
/// once in `wavelength` of travel.
///
/// Below `A·R·(2π/λ)² = 1` the wheel follows its own path everywhere: 2A. Above, arcs cut each other's ends off; the crest lies at
/// `A + A·cos ku + u²/2R` with `sin ku/ku = 1/(A·R·k²)`, and for a large amplitude scallops of λ²/8R are left. The circle is taken as its
/// parabola here (off by u⁴/8R³, u at most λ/2).
///
/// Source: derived: the lowest of all parabolas at the place half a wavelength from a trough.
pub fn single_pass_height(amplitude: Length, wavelength: Length, r: Length) -> Length {
    let (a, r, k) = (amplitude.m(), r.m(), TAU / wavelength.m());
    let sharpness = a * r * k * k;
    if sharpness <= 1.0 {
        return Length::from_m(2.0 * a);
    }
    // sin(s)/s falls from 1 to 0 over (0, π): one root.
    let s = crate::numerics::bisect(1e-9, std::f64::consts::PI, |s| s.sin() / s - 1.0 / sharpness).unwrap_or(std::f64::consts::PI);
    Length::from_m(a + a * s.cos() + (s / k).powi(2) / (2.0 * r))
}

/// Height that waves of this length never reach: λ²/8R, the cusp between the wheel's arcs.
///
/// Source: closed form for the arcs' parabolas.
pub fn largest_height(wavelength: Length, r: Length) -> Length {
    Length::from_m(wavelength.m().powi(2) / (8.0 * r.m()))
}

/// The amplitude whose single pass leaves waves of this height: [`single_pass_height`] solved for A. `None` when no amplitude does, since
/// scallops never get higher than λ²/8R.
pub fn amplitude_for_height(height: Length, wavelength: Length, r: Length) -> Option<Length> {
    let of = |a: f64| single_pass_height(Length::from_m(a), wavelength, r).m() - height.m();
    let half = height.m() / 2.0;
    if height >= largest_height(wavelength, r) {
        return None;
    }
    if of(half) >= 0.0 {
        return Some(Length::from_m(half));
    }
    let mut high = half;
    while of(high) < 0.0 {
        high *= 2.0;
        if high > 1.0 {
            return None;
        }
    }
    crate::numerics::bisect(half, high, of).map(Length::from_m)
}
