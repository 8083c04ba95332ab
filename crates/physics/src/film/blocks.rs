//! The film cut into four-sided patches that fit the hole: which patches, where their corners lie, which sides are edges.
//!
//! In: a saddle and a fineness. Out: patches with a smooth map from the unit square each. Round hole: a fan of patches from its rim to a box
//! round it, graded by the logarithm of the radius (pressure falls like ln r there, so few are needed), and a grid of rectangles outside
//! the box. Rectangular pocket: rectangles that shrink towards its corners, where the pressure has an edge of r^(2/3).

use super::geometry::{Pocket, Saddle};

/// What lies along one side of a patch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Side {
    /// Another patch.
    Inside,
    /// The hole (port or pocket).
    Hole,
    /// The edge of the saddle.
    Edge,
}

/// How a patch maps the unit square to the film (s around, z along).
#[derive(Clone, Copy, Debug)]
pub(crate) enum Mapping {
    /// Straight sides along s and z: low and high corner.
    Rectangle([f64; 2], [f64; 2]),
    /// From a circle to a chord: centre, radius, the chord's ends relative to the centre, and the layer's span in the logarithm (0 circle, 1 chord).
    Fan { centre: [f64; 2], radius: f64, from: [f64; 2], to: [f64; 2], span: [f64; 2] },
    /// A sector of a ring about the origin, for the circular pad of the textbooks: radii, and the angles where it begins and ends.
    #[cfg(test)]
    Ring { radii: [f64; 2], angles: [f64; 2] },
}

impl Mapping {
    /// Place for u, v in [0, 1].
    pub(crate) fn at(&self, u: f64, v: f64) -> [f64; 2] {
        match *self {
            Self::Rectangle(a, b) => [a[0] + u * (b[0] - a[0]), a[1] + v * (b[1] - a[1])],
            #[cfg(test)]
            Self::Ring { radii, angles } => {
                let r = radii[0] * (radii[1] / radii[0]).powf(u);
                let (sin, cos) = (angles[0] + v * (angles[1] - angles[0])).sin_cos();
                [r * cos, r * sin]
            }
            Self::Fan { centre, radius, from, to, span } => {
                let p = [from[0] + v * (to[0] - from[0]), from[1] + v * (to[1] - from[1])];
                let far = p[0].hypot(p[1]);
                let xi = span[0] + u * (span[1] - span[0]);
                let scale = (radius / far).powf(1.0 - xi);
                [centre[0] + scale * p[0], centre[1] + scale * p[1]]
            }
        }
    }
}

/// One patch: corners in the order (0,0), (1,0), (1,1), (0,1); sides v = 0, u = 1, v = 1, u = 0.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Patch {
    pub(crate) corners: [usize; 4],
    pub(crate) sides: [Side; 4],
    pub(crate) mapping: Mapping,
}

/// Longest patch outside the box, as a share of the shorter extent of the film: pressure decays over a third of that.
const LONGEST: f64 = 0.6;
/// Largest ratio of radii over one layer of the fan, before it is split.
const LAYER_RATIO: f64 = 8.0;
/// Power by which lines crowd at the edges of the film.
const EDGE_POWER: f64 = 1.5;
/// Ratio of successive patches towards a corner of the pocket.
const CORNER_RATIO: f64 = 0.2;

/// Cut the film into patches; `split` ≥ 1 cuts each further.
pub(crate) fn patches(saddle: &Saddle, split: usize) -> Vec<Patch> {
    let radius = saddle.bore_radius_m();
    let (left, right) = saddle.arc_ends_rad();
    let low = [radius * left, -0.5 * saddle.length_m];
    let high = [radius * right, 0.5 * saddle.length_m];
    let centre = [saddle.port.around_m, saddle.port.along_m];
    let (half_around, half_along) = saddle.port.half_sizes_m();
    let longest = LONGEST * (high[0] - low[0]).min(high[1] - low[1]) / split as f64;
    if matches!(saddle.port.pocket, Some(Pocket::Slot { .. })) {
        let half = [half_around, half_along];
        let lines = [0, 1].map(|k| slot_lines(low[k], centre[k] - half[k], centre[k] + half[k], high[k], longest, split));
        return grid(&lines[0], &lines[1], None);
    }
    let box_sides = box_round(low, high, centre, half_around);
    // Around, the film changes most at the sides, where it is thin when the arbor floats high.
    let least = [split, 1];
    let lines = [0, 1].map(|k| {
        let mut line = from_edge(low[k], box_sides[0][k], longest, least[k]);
        let first = line.len() - 1;
        line.pop();
        line.extend((0..split).map(|i| box_sides[0][k] + (box_sides[1][k] - box_sides[0][k]) * i as f64 / split as f64));
        line.extend(to_edge(box_sides[1][k], high[k], longest, least[k]));
        Lines { at: line, hole: (first, first + split) }
    });
    let ratio = [0, 1].iter().map(|&k| (box_sides[1][k] - centre[k]).max(centre[k] - box_sides[0][k])).fold(0.0, f64::max) / half_around;
    let layers = ((split as f64 * ratio.ln() / LAYER_RATIO.ln()).ceil() as usize).max(1);
    grid(&lines[0], &lines[1], Some(Fan { centre, radius: half_around, layers }))
}

/// The box round the hole: on each side a bit over half-way to the edge, not more than twice as far as on the nearest side.
fn box_round(low: [f64; 2], high: [f64; 2], centre: [f64; 2], radius: f64) -> [[f64; 2]; 2] {
    let reach = |d: f64| (0.55 * d).max(radius + 0.4 * (d - radius));
    let away = [[centre[0] - low[0], centre[1] - low[1]], [high[0] - centre[0], high[1] - centre[1]]].map(|side| side.map(reach));
    let least = away.iter().flatten().copied().fold(f64::INFINITY, f64::min);
    let away = away.map(|side| side.map(|d| d.min(2.0 * least)));
    [[centre[0] - away[0][0], centre[1] - away[0][1]], [centre[0] + away[1][0], centre[1] + away[1][1]]]
}

struct Lines {
    at: Vec<f64>,
    /// Indices of the lines between which the hole (or its box) lies.
    hole: (usize, usize),
}

/// Lines from the edge of the film to `inner`, closer together at the edge: there the film of a high float changes fastest.
fn from_edge(edge: f64, inner: f64, longest: f64, least: usize) -> Vec<f64> {
    let n = (((inner - edge).abs() / longest).ceil() as usize).max(least);
    (0..=n).map(|i| if i == n { inner } else { edge + (inner - edge) * (i as f64 / n as f64).powf(EDGE_POWER) }).collect()
}

/// The same the other way round.
fn to_edge(inner: f64, edge: f64, longest: f64, least: usize) -> Vec<f64> {
    let mut lines = from_edge(edge, inner, longest, least);
    lines.reverse();
    lines
}

fn slot_lines(low: f64, hole_low: f64, hole_high: f64, high: f64, longest: f64, split: usize) -> Lines {
    let depth = split + 1;
    // Distances from a corner, geometric, up to a reach; then even steps.
    let graded = |reach: f64| (0..depth).rev().map(|i| reach * CORNER_RATIO.powi(i as i32)).collect::<Vec<f64>>();
    let half = 0.5 * (hole_high - hole_low);
    let mut line = Vec::new();
    let reach = (0.5 * (hole_low - low)).min(half);
    line.extend(from_edge(low, hole_low - reach, longest, 1));
    line.extend(graded(reach).iter().rev().skip(1).map(|d| hole_low - d));
    line.push(hole_low);
    let first = line.len() - 1;
    line.extend(graded(half).iter().map(|d| hole_low + d));
    line.extend(graded(half).iter().rev().skip(1).map(|d| hole_high - d));
    line.push(hole_high);
    let last = line.len() - 1;
    let reach = (0.5 * (high - hole_high)).min(half);
    line.extend(graded(reach).iter().map(|d| hole_high + d));
    line.extend(to_edge(hole_high + reach, high, longest, 1).iter().skip(1));
    Lines { at: line, hole: (first, last) }
}

/// The patches between a round hole and its box.
struct Fan {
    centre: [f64; 2],
    radius: f64,
    layers: usize,
}

/// Rectangles between the lines but for the hole's, and the fan where there is one.
fn grid(s: &Lines, z: &Lines, fan: Option<Fan>) -> Vec<Patch> {
    let (ns, nz) = (s.at.len(), z.at.len());
    let corner = |i: usize, j: usize| i * nz + j;
    let ((i0, i1), (j0, j1)) = (s.hole, z.hole);
    let beside = if fan.is_none() { Side::Hole } else { Side::Inside };
    let mut patches = Vec::new();
    for i in 0..ns - 1 {
        for j in 0..nz - 1 {
            let (in_s, in_z) = (i >= i0 && i < i1, j >= j0 && j < j1);
            if in_s && in_z {
                continue;
            }
            let side = |edge: bool, hole: bool| {
                if edge {
                    Side::Edge
                } else if hole {
                    beside
                } else {
                    Side::Inside
                }
            };
            patches.push(Patch {
                corners: [corner(i, j), corner(i + 1, j), corner(i + 1, j + 1), corner(i, j + 1)],
                sides: [
                    side(j == 0, in_s && j == j1),
                    side(i + 2 == ns, in_z && i + 1 == i0),
                    side(j + 2 == nz, in_s && j + 1 == j0),
                    side(i == 0, in_z && i == i1),
                ],
                mapping: Mapping::Rectangle([s.at[i], z.at[j]], [s.at[i + 1], z.at[j + 1]]),
            });
        }
    }
    let Some(Fan { centre, radius, layers }) = fan else { return patches };
    // Corners of the box's outline, counter-clockwise (s right, z up), and the fan inside it.
    let mut outline: Vec<(usize, usize)> = (i0..i1).map(|i| (i, j0)).collect();
    outline.extend((j0..j1).map(|j| (i1, j)));
    outline.extend((i0 + 1..=i1).rev().map(|i| (i, j1)));
    outline.extend((j0 + 1..=j1).rev().map(|j| (i0, j)));
    let n = outline.len();
    let ring = |layer: usize, k: usize| {
        let (i, j) = outline[k % n];
        if layer == layers { corner(i, j) } else { ns * nz + layer * n + k % n }
    };
    for layer in 0..layers {
        for k in 0..n {
            let place = |k: usize| {
                let (i, j) = outline[k % n];
                [s.at[i] - centre[0], z.at[j] - centre[1]]
            };
            patches.push(Patch {
                corners: [ring(layer, k), ring(layer + 1, k), ring(layer + 1, k + 1), ring(layer, k + 1)],
                sides: [Side::Inside, Side::Inside, Side::Inside, if layer == 0 { Side::Hole } else { Side::Inside }],
                mapping: Mapping::Fan {
                    centre,
                    radius,
                    from: place(k),
                    to: place(k + 1),
                    span: [layer, layer + 1].map(|l| l as f64 / layers as f64),
                },
            });
        }
    }
    patches
}
