//! A long log averaged down for the search: a minute of swings is told by some thousand points as well as by a hundred thousand.
//!
//! In: a clean log. Out: block means with the standard deviation of a mean, for the search alone: the last steps of the fit see
//! every point again, so the answer is that of the whole log.

use super::prepare::{Clean, median};
use super::shooting::Shooting;
use super::{Known, SwingLog};
use crate::bench::motion::Reduced;

/// Logs up to this length are searched as they are.
const LONG: usize = 8000;
/// Points that the search keeps at least.
const KEPT: usize = 4000;
/// Most that the rotor may turn within a block (rad, in all but one block of twenty): a block mean then stays on the track.
const MOST_TURN: f64 = 0.3;

/// The thinned log.
pub(super) struct Thin {
    clean: Clean,
    angle: Vec<f64>,
    sd: Option<Vec<f64>>,
}

/// Block means; `None` for a log that is short enough, for taps (a block of them has no mean), and where the rotor turns too far from
/// point to point.
pub(super) fn thinned(clean: &Clean, log: &SwingLog) -> Option<Thin> {
    let kept: Vec<usize> = (0..clean.t.len()).filter(|&i| clean.good[i]).collect();
    if kept.len() <= LONG || log.time_sd_s.is_some() {
        return None;
    }
    let mut size = kept.len() / KEPT;
    while size > 1 && !turns_little(clean, &kept, size) {
        size /= 2;
    }
    if size < 2 {
        return None;
    }
    let mut thin = Thin {
        clean: Clean { t: Vec::new(), y: Vec::new(), good: Vec::new(), noise: clean.noise / (size as f64).sqrt(), ..*clean },
        angle: Vec::new(),
        sd: log.angle_sd_rad.map(|_| Vec::new()),
    };
    for block in blocks(clean, &kept, size) {
        let n = block.len() as f64;
        let mean = |v: &[f64]| block.iter().map(|&i| v[i]).sum::<f64>() / n;
        thin.clean.t.push(mean(&clean.t));
        thin.clean.y.push(mean(&clean.y));
        if let (Some(sd), Some(each)) = (&mut thin.sd, log.angle_sd_rad) {
            sd.push(block.iter().map(|&i| each[i].powi(2)).sum::<f64>().sqrt() / n);
        }
    }
    straighten(&mut thin.clean);
    thin.clean.good = vec![true; thin.clean.t.len()];
    let mut steps: Vec<f64> = thin.clean.t.windows(2).map(|w| w[1] - w[0]).collect();
    thin.clean.gap = clean.gap.max(8.0 * median(&mut steps));
    thin.angle.clone_from(&thin.clean.y);
    Some(thin)
}

/// Runs of up to `size` points without a gap.
fn blocks<'a>(clean: &'a Clean, kept: &'a [usize], size: usize) -> impl Iterator<Item = &'a [usize]> {
    kept.chunk_by(|&a, &b| clean.t[b] - clean.t[a] <= clean.gap).flat_map(move |piece| piece.chunks(size))
}

/// The mean of a bent piece lies off its middle by φ″·L²/24, L its length; φ″·L² is the second difference of the means.
fn straighten(clean: &mut Clean) {
    let bends: Vec<f64> = (0..clean.t.len())
        .map(|i| {
            if i == 0 || i + 1 == clean.t.len() {
                return 0.0;
            }
            let (before, after) = (clean.t[i] - clean.t[i - 1], clean.t[i + 1] - clean.t[i]);
            let even = (after - before).abs() < 0.1 * before.min(after);
            if even { (clean.y[i - 1] - 2.0 * clean.y[i] + clean.y[i + 1]) / 24.0 } else { 0.0 }
        })
        .collect();
    clean.y.iter_mut().zip(bends).for_each(|(y, bend)| *y -= bend);
}

fn turns_little(clean: &Clean, kept: &[usize], size: usize) -> bool {
    let mut turns: Vec<f64> = blocks(clean, kept, size).map(|b| (clean.y[b[b.len() - 1]] - clean.y[b[0]]).abs()).collect();
    let most = turns.len() * 19 / 20;
    *turns.select_nth_unstable_by(most, f64::total_cmp).1 <= MOST_TURN + 4.0 * clean.noise
}

impl Thin {
    /// Search it.
    pub(super) fn solve(&self, known: &Known) -> Option<Reduced> {
        let log = SwingLog { time_s: &self.clean.t, angle_rad: &self.angle, angle_sd_rad: self.sd.as_deref(), time_sd_s: None };
        Some(Shooting::new(&self.clean, &log, known).solve()?.p)
    }
}

#[cfg(test)]
mod tests {
    use super::super::prepare::prepare;
    use super::*;
    use crate::bench::motion::{Pendulum, simulate};
    use rand::{RngExt, SeedableRng};
    use rand_distr::{Distribution, StandardNormal};
    use std::f64::consts::TAU;

    const ROTOR: Pendulum =
        Pendulum { u_g_mm: 60.0, theta_rad: 2.0, j_g_mm_s2: 1500.0, c_g_mm_s: 4.0, d_g_mm_s2: 25.0, tc_g_mm: 0.0, td_g_mm: 1.0 };
    const AIR: Known = Known { dry_friction_possible: false, drift_prior_sd_per_s2: None };

    #[test]
    fn the_fit_through_the_thinned_log_is_the_fit_without_it() {
        // Span (s), first speed (rad/s), share of wild points, gap.
        for (what, span, omega, wild, gap) in [
            ("a minute", 60.0, 0.0, 0.0, false),
            ("ten minutes", 600.0, 0.0, 0.0, false),
            ("whole turns first", 120.0, 1.2, 0.0, false),
            ("wild points and a gap", 120.0, 0.0, 0.02, true),
        ] {
            let mut rng = rand_xoshiro::Xoshiro256PlusPlus::seed_from_u64(11);
            let t: Vec<f64> =
                (0..12_000).map(|i| span * f64::from(i) / 12_000.0).filter(|t| !gap || !(0.3..0.34).contains(&(t / span))).collect();
            let angle: Vec<f64> = simulate(&ROTOR, 1.4, omega, &t)
                .unwrap()
                .iter()
                .map(|phi| {
                    let z: f64 = StandardNormal.sample(&mut rng);
                    let off = if rng.random::<f64>() < wild { rng.random::<f64>() * TAU } else { 0.01 * z };
                    (phi + off).rem_euclid(TAU)
                })
                .collect();
            let log = SwingLog { time_s: &t, angle_rad: &angle, angle_sd_rad: None, time_sd_s: None };
            let clean = prepare(&log).unwrap();
            let thin = thinned(&clean, &log).expect("it is long");
            assert!(thin.clean.t.len() < clean.t.len() / 2, "{what}");
            let start = thin.solve(&AIR).expect(what);
            let mut by_thin = Shooting::new(&clean, &log, &AIR);
            let by_thin = by_thin.solve_from(&start).expect(what);
            let mut whole = Shooting::new(&clean, &log, &AIR);
            let whole = whole.solve().expect(what);
            // Standard deviations from the Jacobian of the whole log; a hundredth of them means nothing.
            let r = crate::numerics::least_squares::upper_triangle(whole.minimum.at.jacobian.clone().remove_column(4));
            let inverse = r.view((0, 0), (7, 7)).try_inverse().expect("all are told");
            for (row, k) in [0, 1, 2, 3, 5, 6, 7].into_iter().enumerate() {
                let sd = inverse.row(row).norm();
                let off = (by_thin.p[k] - whole.p[k]).abs();
                assert!(off < 0.01 * sd, "{what}: parameter {k} is off by {off:e}, sd {sd:e}");
            }
            assert!(by_thin.rows.len().abs_diff(whole.rows.len()) <= 2, "{what}: other points were dropped");
        }
    }
}
