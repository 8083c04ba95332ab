//! Gauss-Lobatto-Legendre points: nodes, weights and the derivative matrix of the polynomials through them.
//!
//! In: a number of points. Out: a [`GaussLobatto`] rule on [−1, 1] whose end points are nodes, so that neighbours share them.

/// A Gauss-Lobatto-Legendre rule on [−1, 1] with the polynomials that run through its points.
///
/// Exact for polynomials up to degree 2n − 3. Source: Canuto, Hussaini, Quarteroni & Zang, Spectral Methods, §2.3.
#[derive(Clone, Debug, PartialEq)]
pub struct GaussLobatto {
    /// Points, ascending from −1 to 1.
    pub nodes: Vec<f64>,
    /// Weights; they sum to 2.
    pub weights: Vec<f64>,
    /// `derivative[i * n + j]`: slope at node i of the polynomial that is one at node j and zero at the others.
    pub derivative: Vec<f64>,
}

impl GaussLobatto {
    /// The rule with `n` points, n from 2 to 40.
    ///
    /// # Panics
    /// Outside that range: the number of points is chosen by the programmer, not by an input.
    pub fn new(n: usize) -> Self {
        assert!((2..=40).contains(&n), "2 to 40 points, not {n}");
        let degree = n - 1;
        let nodes: Vec<f64> = (0..n).map(|i| node(i, degree)).collect();
        let at_nodes: Vec<f64> = nodes.iter().map(|&x| legendre(degree, x).0).collect();
        let scale = 2.0 / (degree * n) as f64;
        let weights = at_nodes.iter().map(|l| scale / (l * l)).collect();
        let mut derivative = vec![0.0; n * n];
        for i in 0..n {
            for j in 0..n {
                if i != j {
                    derivative[i * n + j] = at_nodes[i] / (at_nodes[j] * (nodes[i] - nodes[j]));
                }
            }
            // Rows sum to zero, so that a constant has no slope to the last bit: flows balance because of it.
            derivative[i * n + i] = -(0..n).filter(|&j| j != i).map(|j| derivative[i * n + j]).sum::<f64>();
        }
        Self { nodes, weights, derivative }
    }

    /// Number of points.
    pub fn len(&self) -> usize {
        self.nodes.len()
    }

    /// Never true; beside [`GaussLobatto::len`] by custom.
    pub fn is_empty(&self) -> bool {
        self.nodes.is_empty()
    }
}

/// Node i of n = degree + 1: an end, or a root of the slope of the Legendre polynomial, by Newton from a cosine.
fn node(i: usize, degree: usize) -> f64 {
    if i == 0 {
        return -1.0;
    }
    if i == degree {
        return 1.0;
    }
    let n = degree as f64;
    let mut x = -(std::f64::consts::PI * i as f64 / n).cos();
    for _ in 0..60 {
        let (l, slope) = legendre(degree, x);
        // Legendre's equation gives the second derivative.
        let second = (2.0 * x * slope - n * (n + 1.0) * l) / (1.0 - x * x);
        let step = slope / second;
        x -= step;
        if step.abs() < 1e-16 {
            break;
        }
    }
    x
}

/// Legendre polynomial and its slope at x, by the three-term recurrence; |x| < 1 for the slope.
fn legendre(degree: usize, x: f64) -> (f64, f64) {
    let (mut before, mut now) = (1.0, x);
    for k in 1..degree {
        let k = k as f64;
        (before, now) = (now, ((2.0 * k + 1.0) * x * now - k * before) / (k + 1.0));
    }
    (now, degree as f64 * (x * now - before) / (x * x - 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn five_points_are_those_of_the_handbook() {
        // Abramowitz & Stegun, table 25.6, n = 5: 0, ±0.65465 3671; 0.71111 1111, 0.54444 4444, 0.1.
        let rule = GaussLobatto::new(5);
        for (got, want) in rule.nodes.iter().zip([-1.0, -0.654653671, 0.0, 0.654653671, 1.0]) {
            assert!((got - want).abs() < 1e-9, "{got} {want}");
        }
        for (got, want) in rule.weights.iter().zip([0.1, 0.544444444, 0.711111111, 0.544444444, 0.1]) {
            assert!((got - want).abs() < 1e-9, "{got} {want}");
        }
    }

    #[test]
    fn polynomials_are_differentiated_and_integrated_exactly() {
        for n in 2..=14 {
            let rule = GaussLobatto::new(n);
            let power = n - 1;
            for i in 0..n {
                let slope: f64 = (0..n).map(|j| rule.derivative[i * n + j] * rule.nodes[j].powi(power as i32)).sum();
                let want = power as f64 * rule.nodes[i].powi(power as i32 - 1);
                assert!((slope - want).abs() < 1e-10, "n {n}: {slope} {want}");
            }
            for power in 0..=(2 * n - 3) {
                let sum: f64 = (0..n).map(|i| rule.weights[i] * rule.nodes[i].powi(power as i32)).sum();
                let want = if power % 2 == 0 { 2.0 / (power as f64 + 1.0) } else { 0.0 };
                assert!((sum - want).abs() < 1e-12, "n {n} power {power}: {sum} {want}");
            }
        }
    }
}
