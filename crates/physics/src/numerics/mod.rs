//! Only what no library gives in the form needed: angle wrapping, elliptic integral, root find, integrator.
//!
//! In: plain numbers. Out: plain numbers. Nothing here knows about wheels.

mod contour;
pub mod dopri5;
mod elliptic;
pub mod gauss_lobatto;
pub mod least_squares;
pub mod skyline;

pub use contour::outlines;
pub use elliptic::elliptic_k;

use std::f64::consts::{PI, TAU};

/// An angle in radians wrapped to (−π, π].
pub fn wrap_pi(a: f64) -> f64 {
    let r = (a + PI).rem_euclid(TAU) - PI;
    if r <= -PI { r + TAU } else { r }
}

/// Root of `f` in the bracket [a, b] by bisection to the last bits; `None` without a change of sign.
pub fn bisect(a: f64, b: f64, f: impl Fn(f64) -> f64) -> Option<f64> {
    bisect_within(a, b, 0.0, f)
}

/// As [`bisect`], but only until the bracket is `width` wide.
pub fn bisect_within(a: f64, b: f64, width: f64, f: impl Fn(f64) -> f64) -> Option<f64> {
    let (mut lo, mut hi) = (a, b);
    let flo = f(lo);
    if flo == 0.0 {
        return Some(lo);
    }
    if flo * f(hi) > 0.0 || flo.is_nan() {
        return None;
    }
    for _ in 0..200 {
        let mid = 0.5 * (lo + hi);
        if mid == lo || mid == hi || (hi - lo).abs() <= width {
            break;
        }
        if f(mid) * flo > 0.0 { lo = mid } else { hi = mid }
    }
    Some(0.5 * (lo + hi))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bracket_given_from_right_to_left_holds_the_same_root() {
        // √2 by any table.
        for (a, b) in [(0.0, 2.0), (2.0, 0.0)] {
            assert!((bisect(a, b, |x| x * x - 2.0).unwrap() - std::f64::consts::SQRT_2).abs() < 1e-15);
            assert!((bisect_within(a, b, 1e-6, |x| x * x - 2.0).unwrap() - std::f64::consts::SQRT_2).abs() < 1e-6);
        }
    }
}
