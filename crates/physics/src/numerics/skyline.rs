//! Cholesky factors of symmetric matrices, real or complex, whose rows are short: dense and skyline.
//!
//! In: the lower triangle, row by row, each row from its first entry that is not zero. Out: the factor L with A = L·Lᵀ
//! (transposed, not conjugated: a complex matrix here is symmetric, with positive definite real part and semidefinite imaginary part, for which
//! elimination without pivoting is stable; Higham, Accuracy and Stability of Numerical Algorithms, §10.4).

use nalgebra::ComplexField;

/// Sum of products of two slices of equal length, in eight running sums so that the processor can work on several at once.
#[inline]
pub fn dot<T: ComplexField + Copy>(a: &[T], b: &[T]) -> T {
    let mut sums = [T::zero(); 8];
    let (a8, b8) = (a.chunks_exact(8), b.chunks_exact(8));
    let rest = a8.remainder().iter().zip(b8.remainder()).fold(T::zero(), |s, (&x, &y)| s + x * y);
    for (x, y) in a8.zip(b8) {
        for k in 0..8 {
            sums[k] += x[k] * y[k];
        }
    }
    ((sums[0] + sums[4]) + (sums[1] + sums[5])) + ((sums[2] + sums[6]) + (sums[3] + sums[7])) + rest
}

/// Factor a dense n × n matrix in place: the lower triangle (row-major) becomes L. `false` if a pivot is zero or not finite.
pub fn factor_dense<T: ComplexField + Copy>(a: &mut [T], n: usize) -> bool {
    for i in 0..n {
        let (above, row) = a.split_at_mut(i * n);
        for j in 0..i {
            let pivot = above[j * n + j];
            row[j] = (row[j] - dot(&row[..j], &above[j * n..j * n + j])) / pivot;
        }
        let square = row[i] - dot(&row[..i], &row[..i]);
        let Some(root) = square.try_sqrt() else { return false };
        if !root.is_finite() || root == T::zero() {
            return false;
        }
        row[i] = root;
    }
    true
}

/// Solve L·y = b in place, L from [`factor_dense`].
pub fn forward_dense<T: ComplexField + Copy>(l: &[T], n: usize, b: &mut [T]) {
    for i in 0..n {
        b[i] = (b[i] - dot(&b[..i], &l[i * n..i * n + i])) / l[i * n + i];
    }
}

/// Solve Lᵀ·x = y in place, L from [`factor_dense`].
pub fn backward_dense<T: ComplexField + Copy>(l: &[T], n: usize, b: &mut [T]) {
    for i in (0..n).rev() {
        let x = b[i] / l[i * n + i];
        b[i] = x;
        for (bj, &lij) in b[..i].iter_mut().zip(&l[i * n..i * n + i]) {
            *bj -= lij * x;
        }
    }
}

/// Where the rows of a skyline matrix begin: row i holds columns `first[i]..=i`.
#[derive(Clone, Debug, PartialEq)]
pub struct Profile {
    first: Vec<usize>,
    start: Vec<usize>,
}

impl Profile {
    /// The profile whose row i reaches left to column `first[i]`.
    ///
    /// # Panics
    /// If a row starts right of its diagonal.
    pub fn new(first: Vec<usize>) -> Self {
        let mut start = Vec::with_capacity(first.len() + 1);
        let mut at = 0;
        for (i, &f) in first.iter().enumerate() {
            assert!(f <= i, "row {i} starts at {f}");
            start.push(at);
            at += i + 1 - f;
        }
        start.push(at);
        Self { first, start }
    }

    /// Number of stored entries.
    pub fn stored(&self) -> usize {
        self.start[self.first.len()]
    }

    /// Number of rows.
    pub fn rows(&self) -> usize {
        self.first.len()
    }
}

/// A symmetric matrix (or, once factored, its L) stored by a [`Profile`].
#[derive(Clone, Debug)]
pub struct Skyline<'a, T> {
    profile: &'a Profile,
    values: Vec<T>,
}

impl<'a, T: ComplexField + Copy> Skyline<'a, T> {
    /// All zero.
    pub fn zero(profile: &'a Profile) -> Self {
        Self { profile, values: vec![T::zero(); profile.stored()] }
    }

    /// Add to the entry at row `i`, column `j` ≤ i, inside the profile.
    #[inline]
    pub fn add(&mut self, i: usize, j: usize, value: T) {
        debug_assert!(j <= i && j >= self.profile.first[i]);
        self.values[self.profile.start[i] + j - self.profile.first[i]] += value;
    }

    /// Replace the matrix by its factor. `false` if it is not definite.
    pub fn factor(&mut self) -> bool {
        let Profile { first, start } = self.profile;
        for i in 0..first.len() {
            let (above, rest) = self.values.split_at_mut(start[i]);
            let row = &mut rest[..start[i + 1] - start[i]];
            let fi = first[i];
            for j in fi..i {
                let fj = first[j];
                let from = fi.max(fj);
                let rj = &above[start[j]..start[j + 1]];
                let sum = dot(&row[from - fi..j - fi], &rj[from - fj..j - fj]);
                row[j - fi] = (row[j - fi] - sum) / rj[j - fj];
            }
            let (left, diagonal) = row.split_at_mut(i - fi);
            let square = diagonal[0] - dot(left, left);
            let Some(root) = square.try_sqrt() else { return false };
            if !root.is_finite() || root == T::zero() {
                return false;
            }
            diagonal[0] = root;
        }
        true
    }

    /// Solve A·x = b in place, once factored.
    pub fn solve(&self, b: &mut [T]) {
        let Profile { first, start } = self.profile;
        for i in 0..first.len() {
            let row = &self.values[start[i]..start[i + 1]];
            let n = i - first[i];
            b[i] = (b[i] - dot(&row[..n], &b[first[i]..i])) / row[n];
        }
        for i in (0..first.len()).rev() {
            let row = &self.values[start[i]..start[i + 1]];
            let n = i - first[i];
            let x = b[i] / row[n];
            b[i] = x;
            for (bj, &lij) in b[first[i]..i].iter_mut().zip(&row[..n]) {
                *bj -= lij * x;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{Complex, DMatrix, DVector};
    use rand::{RngExt, SeedableRng};
    use rand_xoshiro::Xoshiro256PlusPlus;

    /// A random symmetric matrix with the profile, made definite by its diagonal; `turn` adds an imaginary part.
    fn example(n: usize, turn: f64) -> (Profile, DMatrix<Complex<f64>>, DVector<Complex<f64>>) {
        let mut rng = Xoshiro256PlusPlus::seed_from_u64(n as u64);
        let first: Vec<usize> = (0..n).map(|i| i.saturating_sub(rng.random_range(0..9))).collect();
        let mut a = DMatrix::zeros(n, n);
        for i in 0..n {
            for j in first[i]..i {
                a[(i, j)] = Complex::new(rng.random::<f64>() - 0.5, 0.0);
                a[(j, i)] = a[(i, j)];
            }
            a[(i, i)] = Complex::new(10.0, turn * rng.random::<f64>());
        }
        (Profile::new(first), a, DVector::from_fn(n, |i, _| Complex::new(1.0 + i as f64, turn)))
    }

    #[test]
    fn skyline_and_dense_factors_solve_as_lu_does() {
        for (n, turn) in [(1, 0.0), (17, 0.0), (60, 3.0)] {
            let (profile, a, b) = example(n, turn);
            let want = a.clone().lu().solve(&b).unwrap();
            let mut sky = Skyline::zero(&profile);
            for i in 0..n {
                for j in profile.first[i]..=i {
                    sky.add(i, j, a[(i, j)]);
                }
            }
            assert!(sky.factor());
            let mut x: Vec<_> = b.iter().copied().collect();
            sky.solve(&mut x);
            let mut dense: Vec<_> = (0..n * n).map(|k| a[(k / n, k % n)]).collect();
            assert!(factor_dense(&mut dense, n));
            let mut y: Vec<_> = b.iter().copied().collect();
            forward_dense(&dense, n, &mut y);
            backward_dense(&dense, n, &mut y);
            for i in 0..n {
                assert!((x[i] - want[i]).norm() < 1e-12 * want.norm(), "skyline {n}");
                assert!((y[i] - want[i]).norm() < 1e-12 * want.norm(), "dense {n}");
            }
        }
    }

    #[test]
    fn a_matrix_that_is_not_definite_is_refused() {
        let profile = Profile::new(vec![0, 0]);
        let mut a = Skyline::zero(&profile);
        a.add(0, 0, 1.0);
        a.add(1, 0, 2.0);
        a.add(1, 1, 1.0);
        assert!(!a.factor());
        assert!(!factor_dense(&mut [0.0_f64], 1));
    }
}
