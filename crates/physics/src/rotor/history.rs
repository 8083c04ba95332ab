//! A rotor over its life: what part of its unbalance sits in the wheel, and what the next sitting will find.
//!
//! In: unbalance vectors without correction weights, found in different sittings. Out: the same told apart, or an expectation with its
//! spread. Both rest on what a person vouches for: that nothing but what is named was changed in between.

use crate::{Fault, Ranged};
use nalgebra::{Matrix2, Rotation2, Vector2};

/// An unbalance vector on the rotor with its covariance: x along the zero mark, y a quarter turn counter-clockwise; any one unit, such
/// as g·mm, and its square.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Found {
    /// Mean.
    pub mean: [f64; 2],
    /// Covariance, [[xx, xy], [xy, yy]].
    pub covariance: [[f64; 2]; 2],
}

impl Found {
    fn vector(&self) -> Vector2<f64> {
        Vector2::from(self.mean)
    }

    fn matrix(&self) -> Matrix2<f64> {
        let [[xx, xy], [yx, yy]] = self.covariance;
        Matrix2::new(xx, xy, yx, yy)
    }

    fn of(mean: Vector2<f64>, c: Matrix2<f64>) -> Self {
        Self { mean: mean.into(), covariance: [[c[(0, 0)], c[(0, 1)]], [c[(1, 0)], c[(1, 1)]]] }
    }
}

/// The unbalance told apart.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Split {
    /// What turns with the wheel, as it was seated at first.
    pub wheel: Found,
    /// What stays with adapter and arbor.
    pub rest: Found,
}

/// Smallest turn of the wheel on its adapter that tells them apart, degrees: below it the uncertainty of the wheel's part is more than
/// 1/(2·sin 10°) = 2.9 times that of one sitting's change. Our choice.
const LEAST_TURN_DEG: f64 = 20.0;

/// Tell the wheel's unbalance from the rest by two sittings between which only the wheel was turned on its adapter.
///
/// With w the wheel's unbalance as first seated and a the rest: u₁ = a + w, u₂ = a + R(φ)·w, so w = (R(φ) − I)⁻¹·(u₂ − u₁) and
/// a = u₁ − w. The covariances follow linearly; the two sittings count as independent. `turned` φ in rad, counter-clockwise.
///
/// # Errors
/// A [`Fault`] for a turn of less than 20° either way from the first seat, or numbers that are not finite.
///
/// Source: index balancing (ISO 21940-14 names it); two linear equations for two vectors.
pub fn split(first: &Found, second: &Found, turned: f64) -> Result<Split, Fault> {
    let deg = turned.to_degrees().within("turned_deg", -360.0, 360.0, "degrees", "a seat is within one turn of another")?;
    let off = (deg + 180.0).rem_euclid(360.0) - 180.0;
    if off.abs() < LEAST_TURN_DEG {
        let why = "so small a turn hardly changes the sum; turn the wheel by half a turn";
        return Err(Fault::new("turned_deg", deg, "20 to 340 degrees, best 180", why));
    }
    let turn = *Rotation2::new(turned).matrix() - Matrix2::identity();
    let back = turn.try_inverse().ok_or_else(|| Fault::new("turned_deg", deg, "20 to 340 degrees", "the two seats are the same"))?;
    let (u1, u2, c1, c2) = (first.vector(), second.vector(), first.matrix(), second.matrix());
    let wheel = Found::of(back * (u2 - u1), back * (c1 + c2) * back.transpose());
    let stays = Matrix2::identity() + back;
    let rest = Found::of(stays * u1 - back * u2, stays * c1 * stays.transpose() + back * c2 * back.transpose());
    for (field, part) in [("wheel", wheel), ("rest", rest)] {
        if !part.mean.iter().chain(part.covariance.iter().flatten()).all(|v| v.is_finite()) {
            return Err(Fault::new(
                field,
                "a result that is not finite",
                "finite results",
                "the vectors lie beyond what can be told apart",
            ));
        }
    }
    Ok(Split { wheel, rest })
}

/// What the next sitting will find, from the changes between past ones.
///
/// Changes from sitting to sitting are taken as normal, alike in size and in no favoured direction, with an unknown spread. Of n changes
/// d₁…dₙ with Q = Σ|dₖ|² the next change D then has |D|²·n/Q ~ F(2, 2n), which has a closed form:
///
/// P(|D| > r) = (1 + r²/Q)^(−n)
///
/// The changes hold the uncertainty of the sittings, as the next one will.
///
/// Source: the F distribution with two degrees of freedom in the numerator (any handbook of statistics).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Expectation {
    sum_of_squares: f64,
    count: f64,
}

/// Fewest changes from which anything is expected. With two, the 95 % bound would be 4.2 times their root mean square; our choice.
pub const FEWEST_CHANGES: usize = 3;
/// Steps in which the spread of the next change is summed; at this many the probability is right to 0.001.
const STEPS: u32 = 2000;

impl Expectation {
    /// From past changes, all in one unit, such as g·mm.
    ///
    /// # Errors
    /// A [`Fault`] for fewer than [`FEWEST_CHANGES`], more than 10,000, or a change of no size in all of them.
    pub fn of(changes: &[[f64; 2]]) -> Result<Self, Fault> {
        let n = changes.len();
        if !(FEWEST_CHANGES..=10_000).contains(&n) {
            let why = "so few sittings say nothing of the next one: after each dressing, balance once more and keep the sitting";
            return Err(Fault::new("changes_g_mm", n, "3 to 10000 changes", why));
        }
        let sum_of_squares: f64 = changes.iter().flatten().map(|v| v * v).sum();
        if !(sum_of_squares.is_finite() && sum_of_squares > 0.0) {
            return Err(Fault::new("changes_g_mm", "changes of no size", "finite changes, not all zero", "no two sittings find the same"));
        }
        Ok(Self { sum_of_squares, count: n as f64 })
    }

    /// The size that the next change stays below with probability `p` (0 to 0.999), in the unit of the changes.
    ///
    /// # Errors
    /// A [`Fault`] for p out of range.
    pub fn quantile(&self, p: f64) -> Result<f64, Fault> {
        p.within("p", 0.0, 0.999, "", "a probability")?;
        Ok(self.radius(1.0 - p))
    }

    /// The size that is exceeded with probability `above`.
    fn radius(&self, above: f64) -> f64 {
        (self.sum_of_squares * (above.powf(-1.0 / self.count) - 1.0)).max(0.0).sqrt()
    }

    /// Probability that the rotor is still within `allowance` (above 0) with the weights left as they are, from the residual that was
    /// left, both in the unit of the changes.
    pub fn still_within(&self, residual: [f64; 2], allowance: f64) -> f64 {
        let left = residual[0].hypot(residual[1]);
        let share: f64 = (0..STEPS).map(|i| inside(left, self.radius((f64::from(i) + 0.5) / f64::from(STEPS)), allowance)).sum();
        share / f64::from(STEPS)
    }
}

/// Share of the circle of radius `r` around a point at distance `d` from zero that lies within `a` of zero.
fn inside(d: f64, r: f64, a: f64) -> f64 {
    if d + r <= a {
        return 1.0;
    }
    if (d - r).abs() >= a {
        return 0.0;
    }
    // |d + r·e|² ≤ a² for angles whose cosine is at most this.
    let most = (a * a - d * d - r * r) / (2.0 * d * r);
    1.0 - most.clamp(-1.0, 1.0).acos() / std::f64::consts::PI
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn found(x: f64, y: f64, sd: f64) -> Found {
        Found { mean: [x, y], covariance: [[sd * sd, 0.0], [0.0, sd * sd]] }
    }

    #[test]
    fn half_a_turn_gives_half_the_difference_and_half_the_sum() {
        // By hand: R(180°) = −I, so w = (u₁ − u₂)/2 and a = (u₁ + u₂)/2, each with the sittings' sd over √2.
        let split = split(&found(10.0, 4.0, 2.0), &found(-2.0, 8.0, 2.0), std::f64::consts::PI).unwrap();
        assert!((split.wheel.vector() - Vector2::new(6.0, -2.0)).norm() < 1e-12);
        assert!((split.rest.vector() - Vector2::new(4.0, 6.0)).norm() < 1e-12);
        for part in [split.wheel, split.rest] {
            assert!((part.matrix() - Matrix2::identity() * 2.0).norm() < 1e-12);
        }
    }

    proptest! {
        #[test]
        fn what_was_put_together_comes_apart_again(
            w in prop::array::uniform2(-100.0..100.0_f64), a in prop::array::uniform2(-100.0..100.0_f64), deg in 20.0..340.0_f64
        ) {
            let (w, a) = (Vector2::from(w), Vector2::from(a));
            let first = Found::of(a + w, Matrix2::identity());
            let second = Found::of(a + Rotation2::new(deg.to_radians()) * w, Matrix2::identity());
            let split = split(&first, &second, deg.to_radians()).unwrap();
            prop_assert!((split.wheel.vector() - w).norm() < 1e-9 && (split.rest.vector() - a).norm() < 1e-9);
            // |R − I| = 2·sin(φ/2) in every direction.
            let expected = 2.0 / (2.0 * (deg.to_radians() / 2.0).sin()).powi(2);
            prop_assert!((split.wheel.matrix() - Matrix2::identity() * expected).norm() < 1e-9 * expected);
        }

        #[test]
        fn turning_the_frame_or_scaling_changes_no_probability(
            changes in prop::collection::vec(prop::array::uniform2(-50.0..50.0_f64), 3..12), by in -3.0..3.0_f64, k in 0.1..10.0_f64
        ) {
            let changes: Vec<[f64; 2]> = changes.into_iter().map(|[x, y]| [x + 1e-3, y]).collect();
            let turn = |v: [f64; 2]| -> [f64; 2] { (Rotation2::new(by) * Vector2::from(v) * k).into() };
            let turned: Vec<[f64; 2]> = changes.iter().map(|c| turn(*c)).collect();
            let left = [3.0, -4.0];
            let (one, two) = (Expectation::of(&changes).unwrap(), Expectation::of(&turned).unwrap());
            let p = one.still_within(left, 20.0);
            prop_assert!((0.0..=1.0).contains(&p));
            prop_assert!((p - two.still_within(turn(left), 20.0 * k)).abs() < 1e-9);
            prop_assert!(p <= one.still_within(left, 30.0));
        }
    }

    #[test]
    fn a_turn_too_small_tells_nothing_and_says_so() {
        for deg in [0.0, 5.0, 19.9, 341.0, 360.0, -10.0, f64::NAN] {
            assert_eq!(split(&found(1.0, 0.0, 1.0), &found(2.0, 0.0, 1.0), deg.to_radians()).unwrap_err().field, "turned_deg", "{deg}");
        }
    }

    #[test]
    fn with_nothing_left_the_probability_is_the_distribution_itself() {
        // P(|D| ≤ r) = 1 − (1 + r²/Q)^(−n): Q = 3·1² here, r = 1.5.
        let changes = [[1.0, 0.0], [0.0, 1.0], [-1.0, 0.0]];
        let expected = 1.0 - (1.0_f64 + 2.25 / 3.0).powi(-3);
        assert!((Expectation::of(&changes).unwrap().still_within([0.0, 0.0], 1.5) - expected).abs() < 1e-3);
    }

    #[test]
    fn too_few_changes_say_nothing_of_the_next() {
        let one = [1.0, 0.0];
        assert_eq!(Expectation::of(&[one, one]).unwrap_err().field, "changes_g_mm");
        assert!(Expectation::of(&[[0.0, 0.0]; 5]).is_err());
        assert!(Expectation::of(&[one, one, [f64::NAN, 0.0]]).is_err());
        assert!(Expectation::of(&[one; 3]).unwrap().quantile(1.0).is_err());
    }
}
