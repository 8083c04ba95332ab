//! The linear problem of the film: div(κ grad u) = 0 with u given on hole and edges, real or (for vibration) complex.
//!
//! In: a mesh, κ = h³ at its nodes, a storage term for vibration. Out: factors that answer any load; flows through hole and edges that balance to
//! the last digits, since they are the residuals of the very equations solved.
//!
//! Nodes inside an element are eliminated there by a dense factor; the rest is a skyline over the outlines.

use super::mesh::{Mesh, Role};
use crate::numerics::skyline::{Skyline, backward_dense, factor_dense, forward_dense};
use nalgebra::ComplexField;

/// Factors of one matrix.
pub(crate) struct Factors<'m, T> {
    mesh: &'m Mesh,
    /// Dense factor of each element's inner nodes.
    inner: Vec<T>,
    /// For each element and outline node: L⁻¹ times its coupling to the inner nodes.
    coupling: Vec<T>,
    outline: Skyline<'m, T>,
    /// Load on the outline from a hole held at one.
    hole: Vec<T>,
}

impl<'m, T: ComplexField<RealField = f64> + Copy> Factors<'m, T> {
    /// Factor the matrix of ∫κ grad u·grad v + ∫storage u v. `None` if it is singular, as where the film vanishes.
    pub(crate) fn new(mesh: &'m Mesh, kappa: &[f64], storage: Option<&[T]>) -> Option<Self> {
        let (n, per, no, ni) = (mesh.rule.len(), mesh.per_element(), mesh.outline.len(), mesh.inner.len());
        let mut position = vec![0; per];
        for (p, &k) in mesh.outline.iter().chain(&mesh.inner).enumerate() {
            position[k] = p;
        }
        let mut whole = Self {
            mesh,
            inner: vec![T::zero(); mesh.elements() * ni * ni],
            coupling: vec![T::zero(); mesh.elements() * no * ni],
            outline: Skyline::zero(&mesh.profile),
            hole: vec![T::zero(); mesh.profile.rows()],
        };
        let mut k_element = vec![0.0; per * per];
        let mut schur = vec![T::zero(); no * no];
        let mut flux = vec![[0.0; 3]; per];
        for (e, local) in mesh.nodes.chunks_exact(per).enumerate() {
            for (f, (m, &node)) in flux.iter_mut().zip(mesh.metric[e * per..(e + 1) * per].iter().zip(local)) {
                *f = m.map(|g| kappa[node as usize] * g);
            }
            element_matrix(n, &mesh.rule.derivative, &flux, &position, &mut k_element);
            let inner = &mut whole.inner[e * ni * ni..(e + 1) * ni * ni];
            let coupling = &mut whole.coupling[e * no * ni..(e + 1) * no * ni];
            for i in 0..ni {
                for j in 0..=i {
                    inner[i * ni + j] = T::from_real(k_element[(no + i) * per + no + j]);
                }
            }
            for b in 0..no {
                for i in 0..ni {
                    coupling[b * ni + i] = T::from_real(k_element[b * per + no + i]);
                }
                for c in 0..=b {
                    schur[b * no + c] = T::from_real(k_element[b * per + c]);
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
            for b in 0..no {
                forward_dense(inner, ni, &mut coupling[b * ni..(b + 1) * ni]);
            }
            whole.assemble(local, e, &schur);
        }
        whole.outline.factor().then_some(whole)
    }

    /// Take an element's outline, its inner nodes eliminated, into the skyline.
    fn assemble(&mut self, local: &[u32], e: usize, schur: &[T]) {
        let (no, ni) = (self.mesh.outline.len(), self.mesh.inner.len());
        let coupling = &self.coupling[e * no * ni..(e + 1) * no * ni];
        let role = |b: usize| self.mesh.roles[local[self.mesh.outline[b]] as usize];
        for b in 0..no {
            for c in 0..=b {
                let pair = (role(b), role(c));
                if matches!(pair, (Role::Edge, _) | (_, Role::Edge) | (Role::Hole, Role::Hole)) {
                    continue;
                }
                let (xb, xc) = (&coupling[b * ni..(b + 1) * ni], &coupling[c * ni..(c + 1) * ni]);
                let value = schur[b * no + c] - crate::numerics::skyline::dot(xb, xc);
                match pair {
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
                let coupling = &self.coupling[e * no * ni..(e + 1) * no * ni];
                for (c, &k) in mesh.outline.iter().enumerate() {
                    if let Role::Shared(i) = mesh.roles[local[k] as usize] {
                        b[i as usize] -= crate::numerics::skyline::dot(&coupling[c * ni..(c + 1) * ni], g);
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
            for (c, &k) in mesh.outline.iter().enumerate() {
                let ub = u[local[k] as usize];
                if ub != T::zero() {
                    for (gi, &x) in g.iter_mut().zip(&self.coupling[(e * no + c) * ni..(e * no + c + 1) * ni]) {
                        *gi -= x * ub;
                    }
                }
            }
            backward_dense(&self.inner[e * ni * ni..(e + 1) * ni * ni], ni, &mut g);
            for (&gi, &k) in g.iter().zip(&mesh.inner) {
                u[local[k] as usize] = gi;
            }
        }
        u
    }
}

/// Stiffness of one element, rows and columns in the order `position`: sums over the lines of nodes through each pair.
fn element_matrix(n: usize, d: &[f64], flux: &[[f64; 3]], position: &[usize], k: &mut [f64]) {
    let per = n * n;
    k.fill(0.0);
    let skew = flux.iter().any(|f| f[1] != 0.0);
    for j in 0..n {
        for a in 0..n {
            for b in 0..=a {
                let (mut along, mut across) = (0.0, 0.0);
                for m in 0..n {
                    let dd = d[m * n + a] * d[m * n + b];
                    along += dd * flux[m * n + j][0];
                    across += dd * flux[j * n + m][2];
                }
                for (p, q, value) in [(position[a * n + j], position[b * n + j], along), (position[j * n + a], position[j * n + b], across)]
                {
                    k[p * per + q] += value;
                    if p != q {
                        k[q * per + p] += value;
                    }
                }
            }
        }
    }
    if !skew {
        return;
    }
    for a in 0..n {
        for b in 0..n {
            let p = position[a * n + b];
            for c in 0..n {
                for e in 0..n {
                    let value = d[c * n + a] * flux[c * n + b][1] * d[b * n + e] + d[a * n + c] * flux[a * n + e][1] * d[e * n + b];
                    k[p * per + position[c * n + e]] += value;
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
