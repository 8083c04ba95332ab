//! First-order shares of the variance by equal bins of the points' own coordinates.
//!
//! In: floors by point. Out: for each kind Var(E(floor | kind))/Var(floor), all coordinates of a kind together. ε² = 1 − (SSW/(n − m))/(SST/(n − 1))
//! with m bins takes out what bins explain by chance (Kelley, 1935).

use super::draw::point;
use super::{Contribution, Drawn, Tolerances, Which};

/// Bins along each coordinate of a kind with so many: about four stands in each bin, and no more than the eye of a shop asks.
fn bins(coordinates: usize, stands: usize) -> usize {
    let most = match coordinates {
        1 => 32,
        2 => 8,
        // Three and not four: four halve the cube as the points themselves do, and bins then share what other coordinates do.
        _ => 3,
    };
    // A thousandth keeps exact roots from falling below themselves.
    let even = (stands as f64 / 4.0).powf(1.0 / coordinates as f64) + 1e-3;
    (even as usize).clamp(2, most)
}

/// Shares, largest first; kinds that are exact are left out.
pub(super) fn contributions(lot: &Drawn, tolerances: &Tolerances, seed: u32) -> Vec<Contribution> {
    let floating: Vec<(u32, f64)> = lot.0.iter().enumerate().filter_map(|(i, f)| f.map(|f| (i as u32, f))).collect();
    let mut out: Vec<Contribution> = Which::ALL
        .into_iter()
        .filter(|w| tolerances.of(*w).half_width > 0.0)
        .map(|which| {
            let share = |first: usize, coordinates: usize, along: usize| {
                let bin = |i: u32| {
                    let at_point = point(i, seed);
                    (first..first + coordinates).fold(0, |at, k| at * along + ((at_point[k] * along as f64) as usize).min(along - 1))
                };
                let binned: Vec<(usize, f64)> = floating.iter().map(|(i, f)| (bin(*i), *f)).collect();
                epsilon_squared(&binned, along.pow(coordinates as u32))
            };
            let (first, coordinates) = (which.first(), which.coordinates());
            let together = share(first, coordinates, bins(coordinates, floating.len()));
            // Few wide bins miss what rises and falls again, single coordinates in fine bins miss what two do together: neither says
            // more than there is, so the larger counts.
            // Odd, for the same reason as above: bins that halve as the points do share what other coordinates do.
            let fine = (floating.len() / 64).clamp(2, 30) | 1;
            // Less than two hundredths (what counts as little) of a single coordinate may be chance, which would add up over four.
            let singly: f64 = (first..first + coordinates).map(|k| share(k, 1, fine)).filter(|s| *s > 0.02).sum();
            Contribution { which, share: together.max(singly).min(1.0) }
        })
        .collect();
    // A stable sort: kinds of equal share stay in their order.
    out.sort_by(|a, b| b.share.total_cmp(&a.share));
    out
}

/// Share of the variance that lies between bins, 0 to 1.
fn epsilon_squared(binned: &[(usize, f64)], bins: usize) -> f64 {
    let n = binned.len() as f64;
    let mean = binned.iter().map(|b| b.1).sum::<f64>() / n.max(1.0);
    let total: f64 = binned.iter().map(|b| (b.1 - mean).powi(2)).sum();
    let (mut sums, mut counts) = (vec![0.0; bins], vec![0.0; bins]);
    for (bin, v) in binned {
        sums[*bin] += v - mean;
        counts[*bin] += 1.0;
    }
    let used = counts.iter().filter(|c| **c > 0.0).count() as f64;
    let between: f64 = sums.iter().zip(&counts).filter(|(_, c)| **c > 0.0).map(|(s, c)| s * s / c).sum();
    if total <= 0.0 || n <= used {
        return 0.0;
    }
    (1.0 - ((total - between) / (n - used)) / (total / (n - 1.0))).clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Points of the same sequence, a function of their coordinates in place of the floor.
    fn shares(f: impl Fn(&[f64]) -> f64) -> Vec<(Which, f64)> {
        let one = super::super::Tolerance { half_width: 1.0, shape: super::super::Shape::Even, together: 0.0 };
        let t = Tolerances::new(|_| one);
        let lot = Drawn((0..4096).map(|i| Some(f(&point(i, 7)))).collect());
        contributions(&lot, &t, 7).into_iter().map(|c| (c.which, c.share)).collect()
    }

    #[test]
    fn shares_of_a_known_function_are_its_sobol_indices() {
        // Ishigami's function with a = 7, b = 0.1 on the first coordinates of three kinds: S1 0.3139, S2 0.4424, S3 0 (Saltelli et al.,
        // Sensitivity Analysis, 2000): not monotone in the second, and the third works through the first only.
        let x = |u: f64| std::f64::consts::PI * (2.0 * u - 1.0);
        let (a, b, c) = (Which::Bore.first(), Which::PortAside.first(), Which::Supply.first());
        let got = shares(|p| x(p[a]).sin() + 7.0 * x(p[b]).sin().powi(2) + 0.1 * x(p[c]).powi(4) * x(p[a]).sin());
        let of = |w: Which| got.iter().find(|g| g.0 == w).unwrap().1;
        assert!((of(Which::Bore) - 0.3139).abs() < 0.02, "{got:?}");
        assert!((of(Which::PortAside) - 0.4424).abs() < 0.02, "{got:?}");
        assert!(of(Which::Supply) < 0.02 && of(Which::Oval) < 0.02, "{got:?}");
        assert_eq!((got[0].0, got[1].0), (Which::PortAside, Which::Bore));
    }

    #[test]
    fn both_coordinates_of_a_kind_count_together() {
        // |u + v| of two even spreads: all of its variance is that kind's, though each alone explains about half.
        let at = Which::PortAside.first();
        let got = shares(|p| (p[at] + p[at + 1] - 1.0).abs());
        assert!(got[0].0 == Which::PortAside && got[0].1 > 0.9, "{got:?}");
    }
}
