//! The 95 % region of the residual, drawn as it is: a spot, a wedge, a ring, a crescent.
//!
//! A density is made from the particles with a kernel each, shaped like its neighbourhood (a ring stays thin), and cut at
//! the level above which 95 % of the particles lie. Source of the cut: Hyndman 1996, highest-density regions.

use super::Belief;
use crate::numerics::outlines;

/// Particles used for the density; more would not change the picture.
const KERNELS: usize = 800;
/// Neighbours that shape a kernel.
const NEIGHBOURS: usize = 40;
/// Kernel width in standard deviations of its neighbourhood: wide enough for a smooth outline. The level is found on fresh
/// particles, so that the share held does not depend on it.
const WIDTH: f64 = 0.7;
/// Grid cells along one side of the picture.
const CELLS: usize = 96;

/// Shape in a word.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RegionShape {
    /// A compact spot.
    Spot,
    /// Direction told, size hardly.
    Wedge,
    /// Size told, direction not.
    Ring,
    /// Part of a ring.
    Crescent,
    /// More than one piece.
    Pieces,
    /// Nothing told yet.
    Open,
}

/// Closed outlines in g·mm, to be filled by the even-odd rule.
#[derive(Clone, Debug)]
pub struct Region {
    /// Shape in a word.
    pub shape: RegionShape,
    /// Outlines.
    pub outlines_g_mm: Vec<Vec<[f64; 2]>>,
}

#[derive(Clone, Copy)]
struct Kernel {
    at: [f64; 2],
    /// Inverse covariance (xx, xy, yy) and the height.
    inv: [f64; 3],
    height: f64,
    /// Half extent in x and y beyond which it is nothing.
    reach: [f64; 2],
}

/// Density made of one half of the particles, with a level found from the other half.
pub(super) struct Density {
    kernels: Vec<Kernel>,
    /// Density at the particles of the other half, rising.
    fresh: Vec<f64>,
}

impl Density {
    /// The level is judged by particles that made no kernel and shaped none: a particle under its own kernel, or under kernels
    /// that were stretched towards it, looks denser than a fresh point at the same place, and the region would be too
    /// small for the truth, which is such a fresh point. Clones of one parent stand next to each other, so halves are taken, not
    /// every second one.
    pub(super) fn new(points: &[[f64; 2]]) -> Self {
        let (first, second) = points.split_at(points.len().div_ceil(2));
        let step = first.len().div_ceil(KERNELS);
        let p: Vec<[f64; 2]> = first.iter().copied().step_by(step).collect();
        let spread = p.iter().fold(0.0_f64, |m, v| m.max(v[0].abs()).max(v[1].abs()));
        let kernels = p.iter().map(|&at| kernel(at, &p, (1e-4 * spread).powi(2).max(1e-18))).collect();
        let mut density = Self { kernels, fresh: vec![] };
        let step = second.len().div_ceil(KERNELS).max(1);
        density.fresh = second.iter().step_by(step).map(|&v| density.at(v)).collect();
        density.fresh.sort_by(f64::total_cmp);
        density
    }

    pub(super) fn at(&self, v: [f64; 2]) -> f64 {
        self.kernels.iter().map(|k| k.value(v)).sum::<f64>() / self.kernels.len() as f64
    }

    /// The level that `share` of the belief lies above: one more point like the fresh ones lies above it so often.
    pub(super) fn level(&self, share: f64) -> f64 {
        let below = ((1.0 - share) * (self.fresh.len() + 1) as f64) as usize;
        below.checked_sub(1).and_then(|i| self.fresh.get(i)).copied().unwrap_or(0.0)
    }
}

impl Kernel {
    fn value(&self, v: [f64; 2]) -> f64 {
        let (x, y) = (v[0] - self.at[0], v[1] - self.at[1]);
        if x.abs() > self.reach[0] || y.abs() > self.reach[1] {
            return 0.0;
        }
        self.height * (-0.5 * (self.inv[0] * x * x + 2.0 * self.inv[1] * x * y + self.inv[2] * y * y)).exp()
    }
}

fn kernel(at: [f64; 2], all: &[[f64; 2]], least_var: f64) -> Kernel {
    let mut near: Vec<(f64, [f64; 2])> = all.iter().map(|&v| ((v[0] - at[0]).powi(2) + (v[1] - at[1]).powi(2), v)).collect();
    let k = NEIGHBOURS.min(near.len() - 1);
    near.select_nth_unstable_by(k, |a, b| a.0.total_cmp(&b.0));
    let near = &near[..=k];
    let n = near.len() as f64;
    let m = [near.iter().map(|v| v.1[0]).sum::<f64>() / n, near.iter().map(|v| v.1[1]).sum::<f64>() / n];
    let (mut xx, mut xy, mut yy) = (least_var, 0.0, least_var);
    for (_, v) in near {
        let (x, y) = (v[0] - m[0], v[1] - m[1]);
        xx += WIDTH * WIDTH * x * x / n;
        xy += WIDTH * WIDTH * x * y / n;
        yy += WIDTH * WIDTH * y * y / n;
    }
    let det = (xx * yy - xy * xy).max(1e-12 * xx * yy);
    Kernel {
        at,
        inv: [yy / det, -xy / det, xx / det],
        height: 1.0 / (std::f64::consts::TAU * det.sqrt()),
        reach: [5.0 * xx.sqrt(), 5.0 * yy.sqrt()],
    }
}

impl Belief {
    /// Whether the residual `v` (g·mm) lies in the region that holds `share` of the belief.
    pub fn residual_region_holds(&self, v: [f64; 2], share: f64) -> bool {
        let density = Density::new(&self.residuals());
        density.at(v) >= density.level(share)
    }

    /// The region that holds `share` of the residual, as outlines.
    pub fn residual_region(&self, share: f64) -> Region {
        let points = self.residuals();
        let density = Density::new(&points);
        let level = density.level(share);
        let (mut lo, mut hi) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for k in &density.kernels {
            for d in 0..2 {
                lo[d] = lo[d].min(k.at[d] - 0.6 * k.reach[d]);
                hi[d] = hi[d].max(k.at[d] + 0.6 * k.reach[d]);
            }
        }
        let step = [(hi[0] - lo[0]) / (CELLS - 1) as f64, (hi[1] - lo[1]) / (CELLS - 1) as f64];
        let mut grid = vec![0.0; CELLS * CELLS];
        for k in &density.kernels {
            let range = |d: usize| {
                let a = ((k.at[d] - k.reach[d] - lo[d]) / step[d]).floor().max(0.0) as usize;
                let b = ((k.at[d] + k.reach[d] - lo[d]) / step[d]).ceil().max(0.0) as usize;
                a..(b + 1).min(CELLS)
            };
            for row in range(1) {
                for column in range(0) {
                    grid[row * CELLS + column] +=
                        k.value([lo[0] + column as f64 * step[0], lo[1] + row as f64 * step[1]]) / density.kernels.len() as f64;
                }
            }
        }
        let outlines_g_mm: Vec<Vec<[f64; 2]>> = outlines(&grid, CELLS, level)
            .into_iter()
            .map(|line| line.into_iter().map(|[x, y]| [lo[0] + x * step[0], lo[1] + y * step[1]]).collect())
            .collect();
        let shape = self.shape(&points, &outlines_g_mm);
        Region { shape, outlines_g_mm }
    }

    /// A word for the shape, from how widely sizes and directions are spread.
    fn shape(&self, residuals: &[[f64; 2]], outlines: &[Vec<[f64; 2]>]) -> RegionShape {
        let polar = |v: &[[f64; 2]]| {
            let mut r: Vec<f64> = v.iter().map(|p| p[0].hypot(p[1])).collect();
            r.sort_by(f64::total_cmp);
            let mut s = [0.0; 2];
            for p in v {
                let size = p[0].hypot(p[1]).max(f64::MIN_POSITIVE);
                s = [s[0] + p[0] / size, s[1] + p[1] / size];
            }
            (r[r.len() * 19 / 20] / r[r.len() / 20].max(f64::MIN_POSITIVE), s[0].hypot(s[1]) / v.len() as f64)
        };
        if self.model.looks.is_empty() {
            return RegionShape::Open;
        }
        let (rotor_ratio, rotor_conc) = polar(&self.unbalances());
        let (ratio, conc) = polar(residuals);
        let holes = outlines.iter().filter(|o| area(o) < 0.0).count();
        let pieces = outlines.len() - holes;
        let thin = ratio < 1.6 || rotor_ratio < 1.6;
        if pieces > 1 {
            RegionShape::Pieces
        } else if holes > 0 || (ratio < 1.6 && conc < 0.5) || (rotor_ratio < 1.6 && rotor_conc < 0.5) {
            RegionShape::Ring
        } else if thin && (conc < 0.9 || rotor_conc < 0.9) && ratio < 1.6 {
            RegionShape::Crescent
        } else if rotor_ratio > 2.0 && rotor_conc > 0.9 {
            RegionShape::Wedge
        } else if rotor_ratio > 2.0 && rotor_conc < 0.5 {
            RegionShape::Open
        } else {
            RegionShape::Spot
        }
    }
}

/// Signed area: outer outlines run counter-clockwise, holes clockwise.
fn area(outline: &[[f64; 2]]) -> f64 {
    let mut a = 0.0;
    for (i, p) in outline.iter().enumerate() {
        let q = outline[(i + 1) % outline.len()];
        a += 0.5 * (p[0] * q[1] - q[0] * p[1]);
    }
    a
}
