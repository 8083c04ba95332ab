//! First values without any guess: the weak form of the equation of motion, linear in its parameters.
//!
//! In: a clean log. Out: start values at several smoothing lengths, to be tried by shooting.
//!
//! φ″ = −A·sin φ − B·cos φ − c·φ′ − d·φ′|φ′| − tc·sign φ′ + td, times a bump w = (1 − x²)⁴ and integrated by parts:
//! ∫w″φ = −A∫w·sin φ − … + td∫w. No second derivative of noisy data is taken. Derived; the idea is that of
//! Shinbrot's method functions (1957).

use super::prepare::{Clean, median};
use crate::bench::motion::{PARAMETERS, Reduced};
use crate::numerics::least_squares::{Linearised, Options, minimise};
use nalgebra::DMatrix;

/// Points enough for a start; longer logs are averaged down to this.
const POINTS: usize = 1500;

struct Smooth {
    t: Vec<f64>,
    y: Vec<f64>,
}

/// Good points up to the time `end`, averaged in blocks.
fn blocks(clean: &Clean, points: usize, end: f64) -> Smooth {
    let kept: Vec<usize> = (0..clean.t.len()).filter(|&i| clean.good[i] && clean.t[i] <= end).collect();
    let size = kept.len().div_ceil(points).max(1);
    let mut s = Smooth { t: Vec::new(), y: Vec::new() };
    let mut from = 0;
    while from < kept.len() {
        let mut to = from + 1;
        while to < kept.len() && to - from < size && clean.t[kept[to]] - clean.t[kept[to - 1]] <= clean.gap {
            to += 1;
        }
        let part = &kept[from..to];
        let mean = |v: &[f64]| part.iter().map(|&i| v[i]).sum::<f64>() / part.len() as f64;
        s.t.push(mean(&clean.t));
        s.y.push(mean(&clean.y));
        from = to;
    }
    s
}

/// Value and slope at `at` of the parabola through the points within `half` of it; `None` with fewer than four.
fn parabola(s: &Smooth, at: f64, half: f64) -> Option<(f64, f64)> {
    let from = s.t.partition_point(|&t| t < at - half);
    let to = s.t.partition_point(|&t| t <= at + half);
    if to - from < 4 {
        return None;
    }
    let mut rows = DMatrix::zeros(to - from, 4);
    for (r, i) in (from..to).enumerate() {
        let x = (s.t[i] - at) / half;
        rows[(r, 0)] = 1.0;
        rows[(r, 1)] = x;
        rows[(r, 2)] = x * x;
        rows[(r, 3)] = s.y[i];
    }
    let r = crate::numerics::least_squares::upper_triangle(rows);
    let solved = r.view((0, 0), (3, 3)).solve_upper_triangular(&r.view((0, 3), (3, 1)).clone_owned())?;
    let (v, w) = (solved[(0, 0)], solved[(1, 0)] / half);
    (v.is_finite() && w.is_finite()).then_some((v, w))
}

/// Slope of the line through the points within `half` of each point, by running sums.
fn slopes(s: &Smooth, half: f64) -> Vec<f64> {
    let n = s.t.len();
    let (t0, y0) = (s.t[n / 2], s.y[n / 2]);
    let mut sums = Vec::with_capacity(n + 1);
    let mut sum = [0.0; 4];
    sums.push(sum);
    for (t, y) in s.t.iter().zip(&s.y) {
        let (t, y) = (t - t0, y - y0);
        for (total, part) in sum.iter_mut().zip([t, y, t * t, t * y]) {
            *total += part;
        }
        sums.push(sum);
    }
    let (mut from, mut to) = (0, 0);
    (0..n)
        .map(|i| {
            while from < n && s.t[from] < s.t[i] - half {
                from += 1;
            }
            while to < n && s.t[to] <= s.t[i] + half {
                to += 1;
            }
            let (a, b) = if to - from < 2 { (i.saturating_sub(1), (i + 2).min(n)) } else { (from, to) };
            let m = (b - a) as f64;
            let [st, sy, stt, sty] = std::array::from_fn(|k| (sums[b][k] - sums[a][k]) / m);
            let spread = stt - st * st;
            if spread > 0.0 { (sty - st * sy) / spread } else { 0.0 }
        })
        .collect()
}

/// Start values at rising smoothing lengths, the full equation and plainer ones at each.
pub(super) fn starts(clean: &Clean, dry_friction_possible: bool) -> Vec<Reduced> {
    let mut out = starts_until(clean, f64::INFINITY, dry_friction_possible);
    let span = clean.t.last().copied().unwrap_or(0.0);
    if clean.t.len() > 2 * POINTS {
        // Over a hundred swings, blocks that many are too long for one swing: its first eighth shows them.
        out.extend(starts_until(clean, span / 8.0, dry_friction_possible));
    }
    out
}

fn starts_until(clean: &Clean, end: f64, dry_friction_possible: bool) -> Vec<Reduced> {
    let s = blocks(clean, POINTS, end);
    let Some(span) = s.t.last().map(|t| t - s.t[0]).filter(|_| s.t.len() >= 12) else { return Vec::new() };
    let mut spacing: Vec<f64> = s.t.windows(2).map(|w| w[1] - w[0]).collect();
    let usual = median(&mut spacing);
    let mut half = (6.0 * usual).max(span / 150.0);
    let mut out = Vec::new();
    while half <= span / 3.0 {
        let v = slopes(&s, 0.35 * half);
        if let Some(rows) = weighted_rows(&s, &v, half) {
            let here = parabola(&s, 0.0, 0.7 * half).unwrap_or((s.y[0], v[0]));
            let full = [false, false, false, false, !dry_friction_possible, false];
            let plain = [false, false, false, true, true, true];
            let gravity_alone = [false, false, true, true, true, true];
            for held in [full, plain, gravity_alone] {
                if let Some(p) = solve(&rows, held) {
                    out.push([p[0], p[1], p[2], p[3], p[4], p[5], here.0, here.1]);
                }
            }
        }
        half *= 1.7;
    }
    out
}

/// Rows [∂(∫w″φ)/∂(A, B, c, d, tc, td) | ∫w″φ], one a bump.
fn weighted_rows(s: &Smooth, v: &[f64], half: f64) -> Option<DMatrix<f64>> {
    let n = s.t.len();
    let mut rows: Vec<[f64; 7]> = Vec::new();
    let mut centre = s.t[0] + half;
    while centre + half <= s.t[n - 1] + 1e-9 {
        let from = s.t.partition_point(|&t| t < centre - half);
        let to = s.t.partition_point(|&t| t <= centre + half);
        let unbroken = to - from >= 8 && s.t[from..to].windows(2).all(|w| w[1] - w[0] <= 0.35 * half);
        if unbroken && s.t[from] < centre - 0.6 * half && s.t[to - 1] > centre + 0.6 * half {
            rows.push(bump(s, v, from..to, centre, half));
        }
        centre += 0.25 * half;
    }
    (rows.len() >= 7).then(|| DMatrix::from_fn(rows.len(), 7, |r, c| rows[r][c]))
}

fn bump(s: &Smooth, v: &[f64], range: std::ops::Range<usize>, centre: f64, half: f64) -> [f64; 7] {
    let n = s.t.len();
    // A line taken off φ changes nothing in the exact integral, but much in its error by the trapezium rule.
    let mid = s.t.partition_point(|&t| t < centre).min(n - 1);
    let line = |t: f64| s.y[mid] + v[mid] * (t - s.t[mid]);
    let mut row = [0.0; 7];
    for i in range {
        let weight = 0.5 * (s.t[(i + 1).min(n - 1)] - s.t[i.saturating_sub(1)]);
        let x = (s.t[i] - centre) / half;
        let z = 1.0 - x * x;
        let w = weight * z.powi(4);
        let bend = weight * (48.0 * x * x * z * z - 8.0 * z.powi(3)) / (half * half);
        let (sin, cos) = s.y[i].sin_cos();
        let speed = v[i];
        let terms = [-sin, -cos, -speed, -speed * speed.abs(), -speed.signum(), 1.0];
        for (r, term) in row.iter_mut().zip(terms) {
            *r += w * term;
        }
        row[6] += bend * (s.y[i] - line(s.t[i]));
    }
    row
}

fn solve(rows: &DMatrix<f64>, held: [bool; 6]) -> Option<[f64; 6]> {
    let infinite = f64::NEG_INFINITY;
    let lower = [infinite, infinite, 0.0, 0.0, 0.0, infinite];
    // Scaled to residuals of about one, so that the drag columns' small prior (one over the span) only breaks ties.
    let size = rows.column(6).norm() / (rows.nrows() as f64).sqrt();
    if size.is_nan() || size <= 0.0 {
        return None;
    }
    let options = Options { lower: &lower, held: &held, robust_rows: 0, robust_at: f64::INFINITY, tolerance: 1e-9, most_calls: 25 };
    let minimum = minimise(&[0.0; 6], &options, |p| {
        let left = rows.columns(0, 6);
        let mut residuals = Vec::with_capacity(rows.nrows());
        for r in 0..rows.nrows() {
            let model: f64 = (0..6).map(|c| left[(r, c)] * p[c]).sum();
            residuals.push((model - rows[(r, 6)]) / size);
        }
        Some(Linearised { residuals, jacobian: left / size })
    })?;
    let p: [f64; 6] = minimum.x.try_into().ok()?;
    (p[0].hypot(p[1]) > 0.0).then_some(p)
}

/// A grid of starts for logs too sparse for any smoothing: period, direction, first speed.
///
/// Taps of one and the same mark come twice a swing, so the period is known but for the amplitude (up to 2.5 times that of
/// a small swing, at 170°); otherwise all periods from twice the spacing to six times the span are tried.
pub(super) fn grid(clean: &Clean) -> Vec<Reduced> {
    let span = clean.t.last().copied().unwrap_or(1.0);
    let mut spacing: Vec<f64> = clean.t.windows(3).map(|w| w[2] - w[0]).collect();
    let usual = median(&mut spacing);
    let one_mark = clean.y.iter().all(|y| (y - clean.y[0]).abs() < 1e-9);
    let (shortest, longest, ratio) = if one_mark { (0.4 * usual, 1.05 * usual, 1.03) } else { (usual.max(span / 60.0), 6.0 * span, 1.12) };
    let seen = (clean.y[1] - clean.y[0]) / (clean.t[1] - clean.t[0]);
    let mut out = Vec::new();
    let mut period = shortest;
    while period < longest {
        let omega = std::f64::consts::TAU / period;
        let mut speeds = vec![seen];
        for share in [0.25, 0.5, 0.8, 1.1, 1.4, 1.7, 1.9] {
            speeds.extend([share * omega, -share * omega]);
        }
        for k in 0..12 {
            let (s, c) = (std::f64::consts::TAU * f64::from(k) / 12.0).sin_cos();
            for speed in &speeds {
                let mut p = [0.0; PARAMETERS];
                p[0] = omega * omega * c;
                p[1] = omega * omega * s;
                p[2] = 0.02 * omega;
                p[6] = clean.y[0];
                p[7] = *speed;
                out.push(p);
            }
        }
        period *= ratio;
    }
    out
}
