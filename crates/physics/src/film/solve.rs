//! The linear problem of the film: div(κ grad u) = 0 with u given on hole and edges, real or (for vibration) complex.
//!
//! In: a mesh, κ = h³ at its nodes, a storage term for vibration. Out: factors that answer any load; flows through hole and edges that balance to
//! the last digits, since they are the residuals of the very equations solved.
//!
//! Nodes inside an element are eliminated there by a dense factor; the rest is a skyline over the outlines.

use super::mesh::{Mesh, Role};
use crate::numerics::skyline::{Skyline, backward_dense, dot, factor_dense, forward_dense};
use nalgebra::ComplexField;

/// Factors of one matrix.
pub(crate) struct Factors<'m, T> {
    mesh: &'m Mesh,
    /// Dense factor of each element's inner nodes.
    inner: Vec<T>,
    /// For each element L⁻¹ times the coupling of inner nodes (rows) to outline nodes (columns).
    coupling: Vec<T>,
    outline: Skyline<'m, T>,
    /// Load on the outline from a hole held at one.
    hole: Vec<T>,
}

impl<'m, T: ComplexField<RealField = f64> + Copy> Factors<'m, T> {
    /// Factor the matrix of ∫κ grad u·grad v + ∫storage u v. `None` if it is singular, as where the film vanishes.
    pub(crate) fn new(mesh: &'m Mesh, kappa: &[f64], storage: Option<&[T]>) -> Option<Self> {
        let (n, per, no, ni) = (mesh.rule.len(), mesh.per_element(), mesh.outline.len(), mesh.inner.len());
        let mut whole = Self {
            mesh,
            inner: vec![T::zero(); mesh.elements() * ni * ni],
            coupling: vec![T::zero(); mesh.elements() * no * ni],
            outline: Skyline::zero(&mesh.profile),
            hole: vec![T::zero(); mesh.profile.rows()],
        };
        let mut element = ElementMatrix::new(n);
        let mut schur = vec![T::zero(); no * no];
        for (e, local) in mesh.nodes.chunks_exact(per).enumerate() {
            element.fill(&mesh.rule.derivative, &mesh.metric[e * per..(e + 1) * per], |k| kappa[local[k] as usize]);
            let inner = &mut whole.inner[e * ni * ni..(e + 1) * ni * ni];
            let coupling = &mut whole.coupling[e * no * ni..(e + 1) * no * ni];
            for (i, &p) in mesh.inner.iter().enumerate() {
                for (j, &q) in mesh.inner[..=i].iter().enumerate() {
                    inner[i * ni + j] = T::from_real(element.at(p, q));
                }
                for (b, &q) in mesh.outline.iter().enumerate() {
                    coupling[i * no + b] = T::from_real(element.at(p, q));
                }
            }
            for (b, &p) in mesh.outline.iter().enumerate() {
                for (c, &q) in mesh.outline[..=b].iter().enumerate() {
                    schur[b * no + c] = T::from_real(element.at(p, q));
                }
            }
            if let Some(storage) = storage {
                for (i, &k) in mesh.inner.iter().enumerate() {
                    inner[i * ni + i] += storage[local[k] as usize].scale(mesh.weight[e * per + k]);
                }
                for (b, &k) in mesh.outline.iter().enumerate() {
                    schur[b * no + b] += storage[local[k] as usize].scale(mesh.weight[e * per + k]);
                }
            }
            if !factor_dense(inner, ni) {
                return None;
            }
            eliminate(inner, coupling, &mut schur, no);
            whole.assemble(local, &schur);
        }
        whole.outline.factor().then_some(whole)
    }

    /// Take an element's outline, its inner nodes eliminated, into the skyline.
    fn assemble(&mut self, local: &[u32], schur: &[T]) {
        let no = self.mesh.outline.len();
        let role = |b: usize| self.mesh.roles[local[self.mesh.outline[b]] as usize];
        for b in 0..no {
            for c in 0..=b {
                let value = schur[b * no + c];
                match (role(b), role(c)) {
                    (Role::Shared(i), Role::Shared(j)) => self.outline.add(i.max(j) as usize, i.min(j) as usize, value),
                    (Role::Shared(i), Role::Hole) | (Role::Hole, Role::Shared(i)) => self.hole[i as usize] -= value,
                    _ => {}
                }
            }
        }
    }

    /// The field under a load on every node (`None`: no load), with the given value on the hole and zero on the edges.
    pub(crate) fn solve(&self, load: Option<&[T]>, on_hole: T) -> Vec<T> {
        let mesh = self.mesh;
        let (per, no, ni) = (mesh.per_element(), mesh.outline.len(), mesh.inner.len());
        let mut u = vec![T::zero(); mesh.node_count];
        let mut b: Vec<T> = self.hole.iter().map(|&h| h * on_hole).collect();
        let mut on_outline = vec![T::zero(); no];
        let mut reduced = vec![T::zero(); if load.is_some() { mesh.elements() * ni } else { 0 }];
        if let Some(load) = load {
            for (k, role) in mesh.roles.iter().enumerate() {
                if let Role::Shared(i) = role {
                    b[*i as usize] += load[k];
                }
            }
            for (e, local) in mesh.nodes.chunks_exact(per).enumerate() {
                let g = &mut reduced[e * ni..(e + 1) * ni];
                for (gi, &k) in g.iter_mut().zip(&mesh.inner) {
                    *gi = load[local[k] as usize];
                }
                forward_dense(&self.inner[e * ni * ni..(e + 1) * ni * ni], ni, g);
                on_outline.fill(T::zero());
                for (&gi, row) in g.iter().zip(self.coupling[e * no * ni..(e + 1) * no * ni].chunks_exact(no)) {
                    add_scaled(&mut on_outline, gi, row);
                }
                for (&v, &k) in on_outline.iter().zip(&mesh.outline) {
                    if let Role::Shared(i) = mesh.roles[local[k] as usize] {
                        b[i as usize] -= v;
                    }
                }
            }
        }
        self.outline.solve(&mut b);
        for (k, role) in mesh.roles.iter().enumerate() {
            match role {
                Role::Shared(i) => u[k] = b[*i as usize],
                Role::Hole => u[k] = on_hole,
                Role::Edge | Role::Inner => {}
            }
        }
        let mut g = vec![T::zero(); ni];
        for (e, local) in mesh.nodes.chunks_exact(per).enumerate() {
            if load.is_some() {
                g.copy_from_slice(&reduced[e * ni..(e + 1) * ni]);
            } else {
                g.fill(T::zero());
            }
            for (v, &k) in on_outline.iter_mut().zip(&mesh.outline) {
                *v = u[local[k] as usize];
            }
            for (gi, row) in g.iter_mut().zip(self.coupling[e * no * ni..(e + 1) * no * ni].chunks_exact(no)) {
                *gi -= dot(row, &on_outline);
            }
            backward_dense(&self.inner[e * ni * ni..(e + 1) * ni * ni], ni, &mut g);
            for (&gi, &k) in g.iter().zip(&mesh.inner) {
                u[local[k] as usize] = gi;
            }
        }
        u
    }
}

/// `to` += `by`·`row`.
#[inline]
fn add_scaled<T: ComplexField + Copy>(to: &mut [T], by: T, row: &[T]) {
    for (t, &r) in to.iter_mut().zip(row) {
        *t += by * r;
    }
}

/// Replace the coupling K_io (rows inner, columns outline) by X = L⁻¹ K_io, and take Xᵀ X off the outline's matrix (lower triangle).
fn eliminate<T: ComplexField + Copy>(l: &[T], coupling: &mut [T], schur: &mut [T], no: usize) {
    let ni = coupling.len() / no;
    for i in 0..ni {
        let (above, rest) = coupling.split_at_mut(i * no);
        let row = &mut rest[..no];
        for (j, done) in above.chunks_exact(no).enumerate() {
            add_scaled(row, -l[i * ni + j], done);
        }
        let by = T::one() / l[i * ni + i];
        for x in row.iter_mut() {
            *x *= by;
        }
        for b in 0..no {
            let value = -row[b];
            add_scaled(&mut schur[b * no..=b * no + b], value, &row[..=b]);
        }
    }
}

/// Stiffness of one element, lower triangle in the order of its nodes, with the room to compute it.
struct ElementMatrix {
    n: usize,
    k: Vec<f64>,
    /// κ times metric at the nodes: along u, mixed, along v.
    flux: [Vec<f64>; 3],
    line: Vec<f64>,
}

impl ElementMatrix {
    fn new(n: usize) -> Self {
        Self { n, k: vec![0.0; n.pow(4)], flux: std::array::from_fn(|_| vec![0.0; n * n]), line: vec![0.0; n] }
    }

    fn at(&self, p: usize, q: usize) -> f64 {
        self.k[p.max(q) * self.n * self.n + p.min(q)]
    }

    /// Sums over the lines of nodes through each pair: ∫κ grad u·grad v with Gauss-Lobatto quadrature.
    fn fill(&mut self, d: &[f64], metric: &[[f64; 3]], kappa: impl Fn(usize) -> f64) {
        let n = self.n;
        let per = n * n;
        let mut skew = false;
        for (k, m) in metric.iter().enumerate() {
            let kappa = kappa(k);
            for (flux, g) in self.flux.iter_mut().zip(m) {
                flux[k] = kappa * g;
            }
            skew |= m[1] != 0.0;
        }
        let [along, mixed, across] = &self.flux;
        let k = &mut self.k;
        k.fill(0.0);
        for a in 0..n {
            for b in 0..=a {
                for m in 0..n {
                    let dd = d[m * n + a] * d[m * n + b];
                    for j in 0..n {
                        k[(a * n + j) * per + b * n + j] += dd * along[m * n + j];
                        k[(j * n + a) * per + j * n + b] += dd * across[j * n + m];
                    }
                }
            }
        }
        if !skew {
            return;
        }
        for a in 0..n {
            for b in 0..n {
                // Node (a, b) against (c, e): d_ca F_cb d_be + d_ac F_ae d_eb.
                for (e, v) in self.line.iter_mut().enumerate() {
                    *v = mixed[a * n + e] * d[e * n + b];
                }
                let (row, own) = (&d[b * n..(b + 1) * n], (a * n + b) * per);
                for c in 0..=a {
                    let (first, second) = (d[c * n + a] * mixed[c * n + b], d[a * n + c]);
                    for ((k, &r), &v) in k[own + c * n..own + (c + 1) * n].iter_mut().zip(row).zip(&self.line) {
                        *k += first * r + second * v;
                    }
                }
            }
        }
    }
}

/// Slopes of a field at an element's nodes, along both reference directions.
pub(crate) fn slopes(n: usize, d: &[f64], u: &[f64], du: &mut [f64], dv: &mut [f64]) {
    for i in 0..n {
        for j in 0..n {
            let (mut a, mut b) = (0.0, 0.0);
            for k in 0..n {
                a += d[i * n + k] * u[k * n + j];
                b += d[j * n + k] * u[i * n + k];
            }
            du[i * n + j] = a;
            dv[i * n + j] = b;
        }
    }
}

/// Residual ∫κ_r grad u·grad v of a field on every node v, for several coefficients κ_r at once.
///
/// On a free node it vanishes for the solution; on hole or edge it is the flow that enters there.
pub(crate) fn residuals<const R: usize>(mesh: &Mesh, u: &[f64], kappa: impl Fn(usize) -> [f64; R]) -> [Vec<f64>; R] {
    let (n, per) = (mesh.rule.len(), mesh.per_element());
    let d = &mesh.rule.derivative;
    let mut out: [Vec<f64>; R] = std::array::from_fn(|_| vec![0.0; mesh.node_count]);
    let (mut local_u, mut du, mut dv) = (vec![0.0; per], vec![0.0; per], vec![0.0; per]);
    let (mut fu, mut fv) = (vec![[0.0; R]; per], vec![[0.0; R]; per]);
    for (e, local) in mesh.nodes.chunks_exact(per).enumerate() {
        for (x, &node) in local_u.iter_mut().zip(local) {
            *x = u[node as usize];
        }
        slopes(n, d, &local_u, &mut du, &mut dv);
        for k in 0..per {
            let g = mesh.metric[e * per + k];
            let (a, b) = (g[0] * du[k] + g[1] * dv[k], g[1] * du[k] + g[2] * dv[k]);
            let kappa = kappa(local[k] as usize);
            fu[k] = kappa.map(|c| c * a);
            fv[k] = kappa.map(|c| c * b);
        }
        for i in 0..n {
            for j in 0..n {
                let mut sum = [0.0; R];
                for k in 0..n {
                    let (a, b) = (d[k * n + i], d[k * n + j]);
                    for r in 0..R {
                        sum[r] += a * fu[k * n + j][r] + b * fv[i * n + k][r];
                    }
                }
                for r in 0..R {
                    out[r][local[i * n + j] as usize] += sum[r];
                }
            }
        }
    }
    out
}
