//! How long a vector weights may add up to when their arcs keep them apart: the bound that proves what an unbalance out of reach leaves.
//!
//! Along any direction, weights stand at angles to one side of it and to the other; the sum Σ mᵢcos aᵢ is greatest when the
//! heaviest stand nearest. Bounds here may be too large, never too small.

use super::SAME_DEG;
use super::field::{Field, MOST_WEIGHTS, Places};
use std::f64::consts::PI;

/// Some weights not yet placed.
pub(super) struct Reach {
    /// Their moments, the heaviest first.
    moments: Vec<f64>,
    /// Least distance of any two of them, degrees.
    apart: f64,
    /// The smallest arc of them, degrees.
    least_arc: f64,
    /// No placement of them adds up to more.
    pub(super) most: f64,
}

impl Reach {
    pub(super) fn of(field: &Field, free: &[usize]) -> Self {
        let mut moments: Vec<f64> = free.iter().map(|&i| field.moment[i]).collect();
        moments.sort_by(|a, b| b.total_cmp(a));
        let mut arcs: Vec<f64> = free.iter().map(|&i| field.arc[i]).collect();
        arcs.sort_by(f64::total_cmp);
        let apart = match arcs[..] {
            [a, b, ..] => (0.5 * (a + b) - SAME_DEG).max(0.0),
            _ => 0.0,
        };
        let most = most(&moments, apart.to_radians());
        Self { moments, apart, least_arc: arcs.first().copied().unwrap_or(0.0), most }
    }

    /// The same along `rest`, with other weights already placed in the way.
    ///
    /// To one side, the k-th nearest weight stands no nearer than where k of them stand when each is set as near as those before it
    /// and those placed allow.
    pub(super) fn beside(&self, field: &Field, at: &Places, rest: [f64; 2]) -> f64 {
        let n = self.moments.len();
        let along = rest[1].atan2(rest[0]).to_degrees();
        let mut off = [180.0_f64; 2 * MOST_WEIGHTS];
        for (side, sign) in [1.0, -1.0].into_iter().enumerate() {
            let mut near = 0.0;
            for slot in 0..n {
                near = self.first_clear(field, at, along, sign, near);
                if near >= 180.0 {
                    break;
                }
                off[side * n + slot] = near;
                near += self.apart;
            }
        }
        let off = &mut off[..2 * n];
        off.sort_unstable_by(f64::total_cmp);
        self.moments.iter().zip(off.iter()).map(|(m, a)| m * a.to_radians().cos()).sum::<f64>().min(self.most)
    }

    /// The first place from `near` on, degrees to one side of `along`, that no placed weight blocks.
    fn first_clear(&self, field: &Field, at: &Places, along: f64, sign: f64, mut near: f64) -> f64 {
        let mut moved = true;
        while moved && near < 180.0 {
            moved = false;
            for (j, &a) in at.iter().enumerate().take(field.count()) {
                if a.is_nan() {
                    continue;
                }
                // A hair less than it blocks, and past it by a smaller hair: rounding can't hold the loop in place.
                let half = 0.5 * (self.least_arc + field.arc[j]) - 2.0 * SAME_DEG;
                // Where the placed weight lies from here, −180 to 180.
                let ahead = (sign * (a - along) - near + 180.0).rem_euclid(360.0) - 180.0;
                if ahead.abs() < half {
                    near += ahead + half + 0.5 * SAME_DEG;
                    moved = true;
                }
            }
        }
        near
    }
}

/// Greatest Σ mᵢcos aᵢ of weights at least `apart` (rad) from one another: to one side at l, l + α, ..., to the other at r, r + α, ... with
/// l + r ≥ α. [derived]
///
/// The greatest over l is taken from a grid of spacing h: each sum bends by Σm at most, so near its flat top the grid misses no more than
/// Σm·(h/2)²/2.
fn most(moments: &[f64], apart: f64) -> f64 {
    const GRID: usize = 32;
    let sum: f64 = moments.iter().sum();
    let mut most = 0.0_f64;
    let mut off = vec![0.0; moments.len()];
    for left in 1..=moments.len() {
        for k in 0..=GRID {
            let nearest = apart * k as f64 / GRID as f64;
            for (slot, a) in off.iter_mut().enumerate() {
                *a = if slot < left { nearest + apart * slot as f64 } else { apart - nearest + apart * (slot - left) as f64 };
            }
            off.sort_by(f64::total_cmp);
            most = most.max(moments.iter().zip(&off).map(|(m, a)| m * a.min(PI).cos()).sum());
        }
    }
    (most + 0.5 * sum * (0.5 * apart / GRID as f64).powi(2)).min(sum)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn field(moment: Vec<f64>, arc: Vec<f64>, wanted: [f64; 2]) -> Field {
        let n = moment.len();
        Field {
            moment,
            arc,
            step: 1.0,
            unit: (0..360).map(|g| f64::from(g).to_radians().sin_cos()).map(|(s, c)| [c, s]).collect(),
            allowed: vec![vec![true; 360]; n],
            present: None,
            present_allowed: vec![true; n],
            fixed: vec![false; n],
            wanted,
            order: Vec::new(),
            lifted_now: Vec::new(),
        }
    }

    #[test]
    fn equal_weights_side_by_side_reach_what_the_closed_form_says() {
        // n equal weights at spacing α about the middle: m·sin(nα/2)/sin(α/2), the sum of a geometric row.
        for (n, arc) in [(2, 30.0_f64), (3, 18.0), (4, 25.0), (6, 20.0), (9, 10.0)] {
            let reach = Reach::of(&field(vec![10.0; n], vec![arc; n], [0.0; 2]), &(0..n).collect::<Vec<_>>());
            let half = 0.5 * arc.to_radians();
            let expected = 10.0 * (n as f64 * half).sin() / half.sin();
            assert!(reach.most >= expected && reach.most < expected * (1.0 + 1e-4), "{n} at {arc}°: {} against {expected}", reach.most);
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

        #[test]
        fn no_placement_reaches_farther_than_the_bounds(
            weights in proptest::collection::vec((1.0..100.0_f64, 0.0..50.0_f64, 0.0..360.0_f64), 2..7), placed in 0..4_usize, bunch in 0.05..1.0_f64,
        ) {
            let n = weights.len();
            let (mut moment, mut arc, mut at) = (Vec::new(), Vec::new(), [f64::NAN; MOST_WEIGHTS]);
            for (i, (m, a, place)) in weights.iter().enumerate() {
                moment.push(*m);
                arc.push(*a);
                at[i] = place * bunch;
            }
            let sum = |which: std::ops::Range<usize>| which.fold([0.0, 0.0], |s: [f64; 2], i| {
                let (sin, cos) = at[i].to_radians().sin_cos();
                [s[0] + weights[i].0 * cos, s[1] + weights[i].0 * sin]
            });
            let f = field(moment, arc, sum(0..n));
            prop_assume!((0..n).all(|i| f.clear(i, at[i], &at)));
            let placed = placed.min(n - 1);
            let free: Vec<usize> = (placed..n).collect();
            let reach = Reach::of(&f, &free);
            let rest = sum(placed..n);
            let size = rest[0].hypot(rest[1]);
            prop_assert!(size <= reach.most * (1.0 + 1e-12), "{size} against {}", reach.most);
            let mut before = [f64::NAN; MOST_WEIGHTS];
            before[..placed].copy_from_slice(&at[..placed]);
            let beside = reach.beside(&f, &before, rest);
            prop_assert!(size <= beside * (1.0 + 1e-9) + 1e-9, "{size} against {beside} beside {placed}");
        }
    }
}
