//! Nonlinear least squares: Levenberg and Marquardt's method with lower bounds and a robust loss, by QR throughout.
//!
//! In: residuals with their Jacobian, a start, lower bounds. Out: the minimum, and the triangle R of the Jacobian there,
//! from which a covariance follows without ever forming JᵀJ.
//!
//! Source: Moré, The Levenberg-Marquardt Algorithm (1978), for the scaling; Triggs et al., Bundle Adjustment (2000),
//! §4.3, for the second-order weights of a robust loss. The library at hand has neither bounds nor a loss.

use nalgebra::{DMatrix, DVector};

/// Residuals and Jacobian at a place.
#[derive(Clone, Debug)]
pub struct Linearised {
    /// Residuals, each divided by its standard deviation.
    pub residuals: Vec<f64>,
    /// ∂residual/∂x, one row a residual.
    pub jacobian: DMatrix<f64>,
}

/// What to minimise besides the residuals themselves.
#[derive(Clone, Debug)]
pub struct Options<'a> {
    /// Lower bound of each unknown; −∞ for none.
    pub lower: &'a [f64],
    /// Unknowns held at their start value.
    pub held: &'a [bool],
    /// The first so many residuals get the soft-L1 loss 2k²(√(1 + (r/k)²) − 1), the others the plain square.
    pub robust_rows: usize,
    /// k of that loss, in units of the residual; infinite for the plain square.
    pub robust_at: f64,
    /// Stop when a step would lower the cost by less than this share.
    pub tolerance: f64,
    /// Most calls of the model.
    pub most_calls: usize,
}

/// The minimum.
#[derive(Clone, Debug)]
pub struct Minimum {
    /// The unknowns.
    pub x: Vec<f64>,
    /// Half the sum of the losses.
    pub cost: f64,
    /// Residuals and Jacobian there (without the loss).
    pub at: Linearised,
    /// Unknowns that stand at their lower bound or were held.
    pub held: Vec<bool>,
    /// Whether the tolerance was reached within the calls allowed.
    pub converged: bool,
}

impl Options<'_> {
    /// Half the loss, its weight on the residual row and on the Jacobian row.
    fn loss(&self, row: usize, r: f64) -> (f64, f64, f64) {
        if row >= self.robust_rows || self.robust_at.is_infinite() {
            return (0.5 * r * r, 1.0, 1.0);
        }
        let q = (1.0 + (r / self.robust_at).powi(2)).sqrt();
        // Slope of the loss is r/q, its curvature 1/q³: rows √curvature·J and slope/√curvature.
        (self.robust_at.powi(2) * (q - 1.0), q.sqrt(), 1.0 / (q * q.sqrt()))
    }

    fn cost(&self, residuals: &[f64]) -> f64 {
        residuals.iter().enumerate().map(|(i, &r)| self.loss(i, r).0).sum()
    }

    /// [R | Qᵀr] of the weighted rows.
    fn triangle(&self, at: &Linearised) -> DMatrix<f64> {
        let n = at.jacobian.ncols();
        let weights: Vec<(f64, f64)> = at.residuals.iter().enumerate().map(|(i, &r)| (self.loss(i, r).1, self.loss(i, r).2)).collect();
        let mut rows = DMatrix::zeros(at.residuals.len(), n + 1);
        for c in 0..n {
            for ((to, from), w) in rows.column_mut(c).iter_mut().zip(at.jacobian.column(c).iter()).zip(&weights) {
                *to = from * w.1;
            }
        }
        for ((to, r), w) in rows.column_mut(n).iter_mut().zip(&at.residuals).zip(&weights) {
            *to = r * w.0;
        }
        upper_triangle(rows)
    }
}

/// R of the QR decomposition by Householder reflections; square, whatever the number of rows.
pub fn upper_triangle(mut a: DMatrix<f64>) -> DMatrix<f64> {
    let (m, n) = a.shape();
    let data = a.as_mut_slice();
    for k in 0..n.min(m) {
        let (left, right) = data.split_at_mut((k + 1) * m);
        let v = &mut left[k * m + k..];
        let norm = dot(v, v).sqrt();
        if norm == 0.0 {
            continue;
        }
        let alpha = if v[0] > 0.0 { -norm } else { norm };
        let pivot = v[0] - alpha;
        v[0] = pivot;
        let beta = -1.0 / (alpha * pivot);
        for other in right.chunks_exact_mut(m) {
            let w = &mut other[k..];
            let s = -beta * dot(v, w);
            for (wi, vi) in w.iter_mut().zip(v.iter()) {
                *wi += s * vi;
            }
        }
        v.fill(0.0);
        v[0] = alpha;
    }
    DMatrix::from_fn(n, n, |r, c| if r <= c && r < m { data[c * m + r] } else { 0.0 })
}

/// Dot product in four lanes.
fn dot(a: &[f64], b: &[f64]) -> f64 {
    let mut lanes = [0.0; 4];
    let (ca, cb) = (a.chunks_exact(4), b.chunks_exact(4));
    let rest: f64 = ca.remainder().iter().zip(cb.remainder()).map(|(x, y)| x * y).sum();
    for (x, y) in ca.zip(cb) {
        for (l, (p, q)) in lanes.iter_mut().zip(x.iter().zip(y)) {
            *l += p * q;
        }
    }
    lanes.iter().sum::<f64>() + rest
}

/// R⁻¹ of an upper triangle; `None` if it is singular.
pub fn inverse_of_triangle(r: &DMatrix<f64>) -> Option<DMatrix<f64>> {
    let n = r.ncols();
    let inverse = r.solve_upper_triangular(&DMatrix::identity(n, n))?;
    inverse.iter().all(|v| v.is_finite()).then_some(inverse)
}

/// Covariance of the free unknowns, (JᵀJ)⁻¹ = R⁻¹R⁻ᵀ by QR of the rows of the free columns; rows and columns of the
/// held ones are zero. `None` if the free columns are not independent.
pub fn covariance(jacobian: &DMatrix<f64>, held: &[bool]) -> Option<DMatrix<f64>> {
    let free: Vec<usize> = (0..held.len()).filter(|&i| !held[i]).collect();
    // Columns to unit length first, so that units play no part in what counts as singular.
    let norms: Vec<f64> = free.iter().map(|&c| jacobian.column(c).norm()).collect();
    if norms.iter().any(|n| !n.is_finite() || *n == 0.0) || jacobian.nrows() < free.len() {
        return None;
    }
    let r = upper_triangle(DMatrix::from_fn(jacobian.nrows(), free.len(), |i, c| jacobian[(i, free[c])] / norms[c]));
    if (0..free.len()).any(|i| r[(i, i)].abs() < 1e-12) {
        return None;
    }
    let inverse = inverse_of_triangle(&r)?;
    let small = &inverse * inverse.transpose();
    let mut full = DMatrix::zeros(held.len(), held.len());
    for (a, &i) in free.iter().enumerate() {
        for (b, &j) in free.iter().enumerate() {
            full[(i, j)] = small[(a, b)] / (norms[a] * norms[b]);
        }
    }
    Some(full)
}

/// The step δ that minimises ‖Rδ + q‖² + damping·‖scale·δ‖² without leaving the bounds, and the fall of ½‖…‖² it promises.
fn bounded_step(
    triangle: &DMatrix<f64>,
    scale: &[f64],
    damping: f64,
    x: &[f64],
    options: &Options,
    start_held: &[bool],
) -> Option<(DVector<f64>, f64)> {
    let n = x.len();
    let mut held = start_held.to_vec();
    let mut delta = DVector::zeros(n);
    loop {
        let free: Vec<usize> = (0..n).filter(|&i| !held[i]).collect();
        if !free.is_empty() {
            let m = free.len();
            let mut rows = DMatrix::zeros(n + m, m + 1);
            for (c, &i) in free.iter().enumerate() {
                rows.view_mut((0, c), (n, 1)).copy_from(&triangle.view((0, i), (n, 1)));
                rows[(n + c, c)] = damping.sqrt() * scale[i];
            }
            for r in 0..n {
                let fixed: f64 = (0..n).filter(|&i| held[i]).map(|i| triangle[(r, i)] * delta[i]).sum();
                rows[(r, m)] = triangle[(r, n)] + fixed;
            }
            let reduced = upper_triangle(rows);
            let right = -reduced.view((0, m), (m, 1)).clone_owned();
            let solved = reduced.view((0, 0), (m, m)).solve_upper_triangular(&right)?;
            for (c, &i) in free.iter().enumerate() {
                delta[i] = solved[(c, 0)];
            }
        }
        let outside: Vec<usize> = free.iter().copied().filter(|&i| x[i] + delta[i] < options.lower[i]).collect();
        if outside.is_empty() {
            break;
        }
        for i in outside {
            delta[i] = options.lower[i] - x[i];
            held[i] = true;
        }
    }
    if delta.iter().any(|d| !d.is_finite()) {
        return None;
    }
    let q = triangle.view((0, n), (n, 1));
    let moved = triangle.view((0, 0), (n, n)) * &delta;
    let promised = -(moved.dot(&q) + 0.5 * moved.norm_squared());
    Some((delta, promised))
}

/// Minimise half the sum of losses from a start inside the bounds.
///
/// The model gives residuals and Jacobian, or `None` where it can't be computed (such a step is refused and a shorter one
/// tried). `None` when it can't be computed at the start.
pub fn minimise(start: &[f64], options: &Options, mut model: impl FnMut(&[f64]) -> Option<Linearised>) -> Option<Minimum> {
    let n = start.len();
    let mut x = start.to_vec();
    let mut at = model(&x)?;
    let mut cost = options.cost(&at.residuals);
    if !cost.is_finite() {
        return None;
    }
    let mut triangle = options.triangle(&at);
    let mut scale = vec![0.0_f64; n];
    let mut damping = 1e-4;
    let mut growth = 2.0;
    let mut converged = false;
    let mut calls = 1;
    let at_bound = |x: &[f64], triangle: &DMatrix<f64>| -> Vec<bool> {
        let gradient = triangle.view((0, 0), (n, n)).transpose() * triangle.view((0, n), (n, 1));
        (0..n).map(|i| options.held[i] || (x[i] <= options.lower[i] && gradient[i] > 0.0)).collect()
    };
    while calls < options.most_calls {
        for (i, s) in scale.iter_mut().enumerate() {
            let norm = triangle.view((0, i), (n, 1)).norm();
            *s = if norm > 0.0 {
                s.max(norm)
            } else if *s > 0.0 {
                *s
            } else {
                1.0
            };
        }
        let held = at_bound(&x, &triangle);
        let Some((delta, promised)) = bounded_step(&triangle, &scale, damping, &x, options, &held) else {
            damping = damping.max(1e-12) * 10.0;
            calls += 1;
            continue;
        };
        if promised <= options.tolerance * cost || cost == 0.0 {
            // A step that promises nothing for want of damping's room is no minimum.
            if damping <= 1.0 || cost == 0.0 {
                converged = true;
                break;
            }
        }
        let trial: Vec<f64> = (0..n).map(|i| (x[i] + delta[i]).max(options.lower[i])).collect();
        calls += 1;
        let better = model(&trial).map(|l| (options.cost(&l.residuals), l)).filter(|(c, _)| c.is_finite());
        match better {
            Some((c, l)) if c < cost => {
                let gain = (cost - c) / promised.max(f64::MIN_POSITIVE);
                (x, at, cost) = (trial, l, c);
                triangle = options.triangle(&at);
                // Nielsen's rule for the damping.
                damping = (damping * (1.0 - (2.0 * gain - 1.0).powi(3)).max(0.1)).max(1e-14);
                growth = 2.0;
            }
            _ => {
                if damping > 1e12 {
                    // No step however short helps: rounding is all that is left.
                    converged = true;
                    break;
                }
                damping = damping.max(1e-12) * growth;
                growth *= 2.0;
            }
        }
    }
    let held = (0..n).map(|i| options.held[i] || x[i] <= options.lower[i]).collect();
    Some(Minimum { x, cost, at, held, converged })
}

#[cfg(test)]
mod tests;
