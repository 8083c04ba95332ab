//! The mesh of a film: nodes, elements with their metric, what is unknown, and the order of elimination.
//!
//! In: a saddle and a [`Fineness`]. Out: a [`Mesh`] that serves every pose, supply and frequency of that saddle.
//! Elements are spectral: polynomials through Gauss-Lobatto points, which also carry the quadrature, so that the error falls exponentially
//! with the order (Canuto, Hussaini, Quarteroni & Zang, Spectral Methods).

use super::blocks::{Patch, Side, patches};
use super::geometry::{Pocket, Saddle};
use crate::numerics::gauss_lobatto::GaussLobatto;
use crate::numerics::skyline::Profile;
use std::collections::HashMap;
use std::f64::consts::TAU;

/// How fine a mesh is: the order of its polynomials, and into how many each patch is split both ways.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fineness {
    /// Order of the polynomials, 2 to 16.
    pub order: usize,
    /// Splits of each patch, 1 to 8.
    pub split: usize,
}

impl Fineness {
    /// For tracing curves: load good to some 0.02 % for floats, 1 % at the rest gap.
    pub const COARSE: Self = Self { order: 3, split: 2 };
    /// For floats: load good to some 0.002 %, drift torque to 0.03 %, side stiffness to 0.1 %; at the rest gap 0.4 % and 0.8 %.
    pub const NORMAL: Self = Self { order: 4, split: 2 };
    /// For films near contact, and one pose at leisure: 0.1 % at the rest gap, else some 0.0003 %.
    pub const FINE: Self = Self { order: 5, split: 2 };
    /// For checks: some 1e-7.
    pub const CHECK: Self = Self { order: 9, split: 2 };
}

/// What a node is to the solver.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Role {
    /// On the outline of elements, with its place in the order of elimination.
    Shared(u32),
    /// Inside one element: eliminated there.
    Inner,
    /// On the hole: the port's pressure.
    Hole,
    /// On the edge of the saddle: ambient pressure.
    Edge,
}

/// Values that the film and its integrals need at a place.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Spot {
    pub(crate) sin: f64,
    pub(crate) cos: f64,
    pub(crate) z: f64,
    /// Clearance and form: the film with the arbor in the middle.
    pub(crate) open: f64,
    /// Slope of the form in θ.
    pub(crate) form_slope: f64,
    /// Share of the area, m².
    pub(crate) area: f64,
}

impl Spot {
    fn new(saddle: &Saddle, place: [f64; 2], area: f64) -> Self {
        let theta = place[0] / saddle.bore_radius_m();
        let (sin, cos) = theta.sin_cos();
        let (form, form_slope) = saddle.form.at(theta, place[1], saddle.length_m);
        Self { sin, cos, z: place[1], open: saddle.clearance_m + form, form_slope, area }
    }

    /// How the film grows with x, y, tilt x, tilt y.
    pub(crate) fn modes(&self) -> [f64; 4] {
        [-self.sin, self.cos, -self.z * self.sin, self.z * self.cos]
    }

    /// Film thickness in a pose.
    pub(crate) fn film(&self, pose: &[f64; 4]) -> f64 {
        self.open + self.modes().iter().zip(pose).map(|(m, p)| m * p).sum::<f64>()
    }
}

/// The mesh of one saddle.
#[derive(Clone, Debug)]
pub(crate) struct Mesh {
    pub(crate) rule: GaussLobatto,
    /// Nodes of each element, row by row.
    pub(crate) nodes: Vec<u32>,
    /// Metric of each element's nodes times weight: s-s, s-z and z-z of the reference square.
    pub(crate) metric: Vec<[f64; 3]>,
    /// Weight times Jacobian of each element's nodes, m².
    pub(crate) weight: Vec<f64>,
    /// Nodes of the film; then points that fill the hole, for integrals only.
    pub(crate) spots: Vec<Spot>,
    /// How many of the spots are nodes.
    pub(crate) node_count: usize,
    /// Places (s, z) of the nodes, m.
    pub(crate) places: Vec<[f64; 2]>,
    pub(crate) roles: Vec<Role>,
    /// Points round the mouth's rim, for the height of the curtain.
    pub(crate) rim: Vec<Spot>,
    pub(crate) profile: Profile,
    /// Local nodes of an element on its outline, and inside.
    pub(crate) outline: Vec<usize>,
    pub(crate) inner: Vec<usize>,
}

impl Mesh {
    pub(crate) fn new(saddle: &Saddle, fineness: Fineness) -> Self {
        Self::of(saddle, &patches(saddle, fineness.split), fineness.order)
    }

    /// The mesh of given patches.
    pub(crate) fn of(saddle: &Saddle, patches: &[Patch], order: usize) -> Self {
        let rule = GaussLobatto::new(order + 1);
        let numbering = Numbering::new(patches, rule.len());
        let places = numbering.places(patches, &rule);
        let (metric, weight) = metrics(&numbering.nodes, &places, &rule);
        let mut area = vec![0.0; places.len()];
        for (&node, w) in numbering.nodes.iter().zip(&weight) {
            area[node as usize] += w;
        }
        let node_count = places.len();
        let mut spots: Vec<Spot> = places.iter().zip(&area).map(|(&p, &a)| Spot::new(saddle, p, a)).collect();
        spots.extend(hole_points(saddle).into_iter().map(|(p, a)| Spot::new(saddle, p, a)));
        let n = rule.len();
        let (outline, inner): (Vec<usize>, Vec<usize>) = (0..n * n).partition(|k| [k / n, k % n].iter().any(|&i| i == 0 || i == n - 1));
        let (roles, profile) = elimination_order(&numbering, &places, &outline, n * n);
        let rim = rim_points(saddle);
        Self { rule, nodes: numbering.nodes, metric, weight, spots, node_count, places, roles, rim, profile, outline, inner }
    }

    /// Nodes in an element.
    pub(crate) fn per_element(&self) -> usize {
        self.rule.len() * self.rule.len()
    }

    /// Number of elements.
    pub(crate) fn elements(&self) -> usize {
        self.nodes.len() / self.per_element()
    }

    /// Number of unknown pressures.
    pub(crate) fn unknowns(&self) -> usize {
        self.roles.iter().filter(|r| matches!(r, Role::Shared(_) | Role::Inner)).count()
    }
}

/// Numbers of the nodes: corners, then inner points of sides, then of patches.
struct Numbering {
    nodes: Vec<u32>,
    count: usize,
    side_of: Vec<Side>,
    inner_from: usize,
}

impl Numbering {
    fn new(patches: &[Patch], n: usize) -> Self {
        let mut side_of: Vec<Side> = Vec::new();
        let mut corner_number: HashMap<usize, u32> = HashMap::new();
        for corner in patches.iter().flat_map(|p| p.corners) {
            corner_number.entry(corner).or_insert_with(|| {
                side_of.push(Side::Inside);
                side_of.len() as u32 - 1
            });
        }
        let mut side_number: HashMap<(u32, u32), u32> = HashMap::new();
        let mut nodes = vec![u32::MAX; patches.len() * n * n];
        for (patch, local) in patches.iter().zip(nodes.chunks_exact_mut(n * n)) {
            let c = patch.corners.map(|k| corner_number[&k]);
            // Ends of each side and the local node k steps from the first end.
            let last = n - 1;
            let sides: [(u32, u32, usize, usize); 4] =
                [(c[0], c[1], 0, n), (c[1], c[2], last * n, 1), (c[3], c[2], last, n), (c[0], c[3], 0, 1)];
            for ((from, to, start, step), what) in sides.into_iter().zip(patch.sides) {
                let base = *side_number.entry((from.min(to), from.max(to))).or_insert_with(|| {
                    side_of.extend(std::iter::repeat_n(what, n - 2));
                    (side_of.len() - (n - 2)) as u32
                });
                local[start] = from;
                local[start + last * step] = to;
                for k in 1..last {
                    let along = if from < to { k - 1 } else { last - 1 - k };
                    local[start + k * step] = base + along as u32;
                }
                if what != Side::Inside {
                    side_of[from as usize] = what;
                    side_of[to as usize] = what;
                }
            }
        }
        let inner_from = side_of.len();
        let mut next = inner_from as u32;
        for node in nodes.iter_mut().filter(|k| **k == u32::MAX) {
            *node = next;
            next += 1;
        }
        Self { nodes, count: next as usize, side_of, inner_from }
    }

    fn places(&self, patches: &[Patch], rule: &GaussLobatto) -> Vec<[f64; 2]> {
        let n = rule.len();
        let mut places = vec![[0.0; 2]; self.count];
        for (patch, local) in patches.iter().zip(self.nodes.chunks_exact(n * n)) {
            for i in 0..n {
                for j in 0..n {
                    places[local[i * n + j] as usize] = patch.mapping.at(0.5 * (1.0 + rule.nodes[i]), 0.5 * (1.0 + rule.nodes[j]));
                }
            }
        }
        places
    }
}

fn metrics(nodes: &[u32], places: &[[f64; 2]], rule: &GaussLobatto) -> (Vec<[f64; 3]>, Vec<f64>) {
    let n = rule.len();
    let d = &rule.derivative;
    let (mut metric, mut weight) = (Vec::with_capacity(nodes.len()), Vec::with_capacity(nodes.len()));
    for local in nodes.chunks_exact(n * n) {
        for i in 0..n {
            for j in 0..n {
                let (mut du, mut dv) = ([0.0; 2], [0.0; 2]);
                for k in 0..n {
                    let (a, b) = (places[local[k * n + j] as usize], places[local[i * n + k] as usize]);
                    for c in 0..2 {
                        du[c] += d[i * n + k] * a[c];
                        dv[c] += d[j * n + k] * b[c];
                    }
                }
                let jacobian = du[0] * dv[1] - du[1] * dv[0];
                debug_assert!(jacobian > 0.0, "folded patch");
                let w = rule.weights[i] * rule.weights[j];
                let scale = w / jacobian;
                metric.push([
                    scale * (dv[0] * dv[0] + dv[1] * dv[1]),
                    -scale * (du[0] * dv[0] + du[1] * dv[1]),
                    scale * (du[0] * du[0] + du[1] * du[1]),
                ]);
                weight.push(w * jacobian);
            }
        }
    }
    (metric, weight)
}

/// Order of elimination: a sweep across the film along the axis or around, whichever stores less.
fn elimination_order(numbering: &Numbering, places: &[[f64; 2]], outline: &[usize], per_element: usize) -> (Vec<Role>, Profile) {
    let free: Vec<usize> = (0..numbering.inner_from).filter(|&k| numbering.side_of[k] == Side::Inside).collect();
    let sweep = |axis: usize| {
        let mut sorted = free.clone();
        // Places that differ by rounding only count as equal.
        let key = |k: usize, a: usize| (places[k][a] * 1e9).round() as i64;
        sorted.sort_by_key(|&k| (key(k, axis), key(k, 1 - axis)));
        let mut number = vec![u32::MAX; numbering.inner_from];
        for (i, &k) in sorted.iter().enumerate() {
            number[k] = i as u32;
        }
        let mut first: Vec<usize> = (0..free.len()).collect();
        for local in numbering.nodes.chunks_exact(per_element) {
            let own = || outline.iter().map(|&k| number[local[k] as usize]).filter(|&i| i != u32::MAX);
            if let Some(least) = own().min() {
                for i in own() {
                    first[i as usize] = first[i as usize].min(least as usize);
                }
            }
        }
        let work: usize = first.iter().enumerate().map(|(i, f)| (i - f) * (i - f)).sum();
        (work, number, first)
    };
    let (across, along) = (sweep(0), sweep(1));
    let (_, number, first) = if across.0 <= along.0 { across } else { along };
    let roles = (0..numbering.count)
        .map(|k| {
            if k >= numbering.inner_from {
                return Role::Inner;
            }
            match numbering.side_of[k] {
                Side::Inside => Role::Shared(number[k]),
                Side::Hole => Role::Hole,
                Side::Edge => Role::Edge,
            }
        })
        .collect();
    (roles, Profile::new(first))
}

/// Points with areas that fill the hole: exact for the area, and for smooth functions to many digits.
fn hole_points(saddle: &Saddle) -> Vec<([f64; 2], f64)> {
    let rule = GaussLobatto::new(6);
    let centre = [saddle.port.around_m, saddle.port.along_m];
    let (a, b) = saddle.port.half_sizes_m();
    let mut points = Vec::new();
    if matches!(saddle.port.pocket, Some(Pocket::Slot { .. })) {
        for (u, wu) in rule.nodes.iter().zip(&rule.weights) {
            for (v, wv) in rule.nodes.iter().zip(&rule.weights) {
                points.push(([centre[0] + a * u, centre[1] + b * v], a * b * wu * wv));
            }
        }
        return points;
    }
    let spokes = 12;
    for (u, wu) in rule.nodes.iter().zip(&rule.weights).skip(1) {
        let r = 0.5 * a * (1.0 + u);
        for k in 0..spokes {
            let (sin, cos) = (TAU * f64::from(k) / f64::from(spokes)).sin_cos();
            points.push(([centre[0] + r * cos, centre[1] + r * sin], 0.5 * a * wu * r * TAU / f64::from(spokes)));
        }
    }
    points
}

fn rim_points(saddle: &Saddle) -> Vec<Spot> {
    let r = 0.5 * saddle.port.diameter_m;
    (0..16)
        .map(|k| {
            let (sin, cos) = (TAU * f64::from(k) / 16.0).sin_cos();
            Spot::new(saddle, [saddle.port.around_m + r * cos, saddle.port.along_m + r * sin], 0.0)
        })
        .collect()
}
