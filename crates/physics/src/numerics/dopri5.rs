//! Dormand and Prince's Runge-Kutta pair of order 5(4) with its own continuous extension, and events by root finding
//! on that extension.
//!
//! Source of method and coefficients: Hairer, Nørsett, Wanner, Solving Ordinary Differential Equations I, 2nd ed.,
//! table II.5.2 and eq. (II.6.12); the coefficients `D` are those of the authors' code DOPRI5.
//!
//! Written here since no crate gave both right: the check is at times between the steps.

/// Nodes c₂…c₆.
const C: [f64; 5] = [0.2, 0.3, 0.8, 8.0 / 9.0, 1.0];
const A2: [f64; 1] = [0.2];
const A3: [f64; 2] = [3.0 / 40.0, 9.0 / 40.0];
const A4: [f64; 3] = [44.0 / 45.0, -56.0 / 15.0, 32.0 / 9.0];
const A5: [f64; 4] = [19372.0 / 6561.0, -25360.0 / 2187.0, 64448.0 / 6561.0, -212.0 / 729.0];
const A6: [f64; 5] = [9017.0 / 3168.0, -355.0 / 33.0, 46732.0 / 5247.0, 49.0 / 176.0, -5103.0 / 18656.0];
/// Weights of the fifth-order result at stages 1, 3, 4, 5, 6.
const B: [f64; 5] = [35.0 / 384.0, 500.0 / 1113.0, 125.0 / 192.0, -2187.0 / 6784.0, 11.0 / 84.0];
/// Fifth-order less fourth-order weights at stages 1, 3, 4, 5, 6, 7.
const E: [f64; 6] = [71.0 / 57600.0, -71.0 / 16695.0, 71.0 / 1920.0, -17253.0 / 339200.0, 22.0 / 525.0, -1.0 / 40.0];
/// Weights of the continuous extension's last term at stages 1, 3, 4, 5, 6, 7.
const D: [f64; 6] = [
    -12715105075.0 / 11282082432.0,
    87487479700.0 / 32700410799.0,
    -10690763975.0 / 1880347072.0,
    701980252875.0 / 199316789632.0,
    -1453857185.0 / 822651844.0,
    69997945.0 / 29380423.0,
];

/// One step: both ends, and everything in between.
#[derive(Clone, Debug)]
pub struct Step<const N: usize> {
    /// Start.
    pub t: f64,
    /// Length; positive.
    pub h: f64,
    /// State at the end.
    pub y: [f64; N],
    /// Slope at the end: the first stage of the next step.
    pub f: [f64; N],
    /// Estimated local error of `y`.
    pub error: [f64; N],
    continuous: [[f64; N]; 5],
}

/// y + h·Σ aᵢ·kᵢ.
fn combine<const N: usize, const S: usize>(y: &[f64; N], h: f64, a: &[f64; S], k: [&[f64; N]; S]) -> [f64; N] {
    let mut out = *y;
    for (ai, ki) in a.iter().zip(k) {
        let w = h * ai;
        for (o, v) in out.iter_mut().zip(ki) {
            *o += w * v;
        }
    }
    out
}

impl<const N: usize> Step<N> {
    /// Take one step of length `h` from `(t, y)` with slope `f` there, whatever its error.
    pub fn take(rhs: impl Fn(f64, &[f64; N]) -> [f64; N], t: f64, y: &[f64; N], f: &[f64; N], h: f64) -> Self {
        let k1 = f;
        let k2 = rhs(t + C[0] * h, &combine(y, h, &A2, [k1]));
        let k3 = rhs(t + C[1] * h, &combine(y, h, &A3, [k1, &k2]));
        let k4 = rhs(t + C[2] * h, &combine(y, h, &A4, [k1, &k2, &k3]));
        let k5 = rhs(t + C[3] * h, &combine(y, h, &A5, [k1, &k2, &k3, &k4]));
        let k6 = rhs(t + C[4] * h, &combine(y, h, &A6, [k1, &k2, &k3, &k4, &k5]));
        let y1 = combine(y, h, &B, [k1, &k3, &k4, &k5, &k6]);
        let k7 = rhs(t + h, &y1);
        let zero = [0.0; N];
        let error = combine(&zero, h, &E, [k1, &k3, &k4, &k5, &k6, &k7]);
        let last = combine(&zero, h, &D, [k1, &k3, &k4, &k5, &k6, &k7]);
        let mut continuous = [*y, zero, zero, zero, last];
        for i in 0..N {
            let rise = y1[i] - y[i];
            let bend = h * k1[i] - rise;
            continuous[1][i] = rise;
            continuous[2][i] = bend;
            continuous[3][i] = rise - h * k7[i] - bend;
        }
        Self { t, h, y: y1, f: k7, error, continuous }
    }

    /// State at the share `x` of the step, 0 to 1; error of fourth order.
    pub fn at(&self, x: f64) -> [f64; N] {
        let [r1, r2, r3, r4, r5] = &self.continuous;
        let z = 1.0 - x;
        std::array::from_fn(|i| r1[i] + x * (r2[i] + z * (r3[i] + x * (r4[i] + z * r5[i]))))
    }

    /// One component of the state at the share `x` of the step.
    pub fn component(&self, i: usize, x: f64) -> f64 {
        let [r1, r2, r3, r4, r5] = &self.continuous;
        let z = 1.0 - x;
        r1[i] + x * (r2[i] + z * (r3[i] + x * (r4[i] + z * r5[i])))
    }

    /// Share of the step at which component `i` of the state falls from positive to negative (both times `sign`), if it does.
    ///
    /// The step is looked at in quarters; a component that dips below zero and comes back within one quarter goes unseen.
    pub fn falls_through_zero(&self, i: usize, sign: f64) -> Option<f64> {
        let g = |x: f64| sign * self.component(i, x);
        let mut above = None;
        for q in 0..=4 {
            let x = 0.25 * f64::from(q);
            let v = if q == 4 { sign * self.y[i] } else { g(x) };
            if v > 0.0 {
                above = Some(x);
            } else if v < 0.0 && (above.is_some() || q > 0) {
                // Started on zero and went the wrong way at once: the event is the start itself.
                let Some(lo) = above else { return Some(0.0) };
                return super::bisect(lo, x, g).or(Some(x));
            }
        }
        None
    }
}

/// Step-size control: how much error a step may make in the first `controlled` components.
#[derive(Clone, Copy, Debug)]
pub struct Control {
    /// Relative tolerance, 1e-14 to 1e-2.
    pub relative: f64,
    /// Absolute tolerance, in the state's unit.
    pub absolute: f64,
    /// How many components count; the others (sensitivities) ride along.
    pub controlled: usize,
}

impl Control {
    fn error_norm<const N: usize>(&self, from: &[f64; N], step: &Step<N>) -> f64 {
        let mut worst = 0.0_f64;
        for ((y0, y1), error) in from.iter().zip(&step.y).zip(&step.error).take(self.controlled) {
            let e = (error / (self.absolute + self.relative * y0.abs().max(y1.abs()))).abs();
            if e.is_nan() {
                return f64::INFINITY;
            }
            worst = worst.max(e);
        }
        worst
    }

    /// An accepted step from `(t, y)` and a good length for the next one; the length tried first is `h`.
    ///
    /// `None` when the step length falls to nothing: the right side is not smooth or not finite.
    pub fn accepted<const N: usize>(
        &self,
        rhs: impl Fn(f64, &[f64; N]) -> [f64; N],
        t: f64,
        y: &[f64; N],
        f: &[f64; N],
        mut h: f64,
    ) -> Option<(Step<N>, f64)> {
        for _ in 0..200 {
            let step = Step::take(&rhs, t, y, f, h);
            let e = self.error_norm(y, &step);
            // Safety 0.9, growth 0.2 to 5: Hairer et al., eq. (II.4.13).
            let factor = if e > 0.0 { (0.9 * e.powf(-0.2)).clamp(0.2, 5.0) } else { 5.0 };
            if e <= 1.0 {
                return Some((step, h * factor));
            }
            h *= factor.min(0.9);
            if h <= 1e-14 * t.abs().max(1e-300) || h.is_nan() {
                return None;
            }
        }
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ode_solvers::dop_shared::OutputType;
    use ode_solvers::{Dop853, System, Vector2};

    fn pendulum(_: f64, y: &[f64; 2]) -> [f64; 2] {
        [y[1], -0.05 * y[0].sin() - 0.004 * y[1] + 0.001]
    }

    struct Outside;
    impl System<f64, Vector2<f64>> for Outside {
        fn system(&self, t: f64, y: &Vector2<f64>, dy: &mut Vector2<f64>) {
            let d = pendulum(t, &[y[0], y[1]]);
            dy[0] = d[0];
            dy[1] = d[1];
        }
    }

    fn between_steps(times: &[f64], control: Control) -> Vec<[f64; 2]> {
        let (mut t, mut y) = (0.0, [1.9, 0.1]);
        let mut f = pendulum(t, &y);
        let mut h = 1e-3;
        let mut out = Vec::new();
        while out.len() < times.len() {
            let (step, next) = control.accepted(pendulum, t, &y, &f, h).expect("smooth");
            while out.len() < times.len() && times[out.len()] <= step.t + step.h {
                out.push(step.at((times[out.len()] - step.t) / step.h));
            }
            (t, y, f, h) = (t + step.h, step.y, step.f, next);
        }
        out
    }

    #[test]
    fn between_steps_it_agrees_with_an_outside_dop853_to_1e_10() {
        // Source: crate ode_solvers 0.6, Dop853 (another method, of order 8), restarted at each time so that its own
        // interpolation plays no part.
        let times: Vec<f64> = (1..=120).map(|i| 0.4973 * f64::from(i)).collect();
        let ours = between_steps(&times, Control { relative: 1e-13, absolute: 1e-13, controlled: 2 });
        let (mut t, mut y) = (0.0, Vector2::new(1.9, 0.1));
        for (time, mine) in times.iter().zip(&ours) {
            let mut solver = Dop853::new(Outside, t, *time, time - t, y, 1e-14, 1e-14);
            // At its own steps only: its dense output gave 3e-6 off at the end of an interval.
            solver.set_output(OutputType::Sparse);
            solver.integrate().expect("smooth");
            assert_eq!(solver.x_out().last(), Some(time));
            y = *solver.y_out().last().expect("an end");
            t = *time;
            for i in 0..2 {
                assert!((mine[i] - y[i]).abs() <= 1e-10 * y[i].abs().max(1.0), "t = {t}: {} against {}", mine[i], y[i]);
            }
        }
    }

    #[test]
    fn order_of_the_continuous_extension_is_four_and_of_the_step_five() {
        // Closed form: y' = y, y = eᵗ. Halving the step cuts the step's local error by 2⁶, that in between by 2⁵.
        let rhs = |_: f64, y: &[f64; 1]| [y[0]];
        let error = |h: f64, x: f64| (Step::take(rhs, 0.0, &[1.0], &[1.0], h).at(x)[0] - (x * h).exp()).abs();
        let end = (error(0.1, 1.0) / error(0.05, 1.0)).log2();
        let inside = (error(0.1, 0.4) / error(0.05, 0.4)).log2();
        assert!((end - 6.0).abs() < 0.3, "{end}");
        assert!((inside - 5.0).abs() < 0.3, "{inside}");
    }

    #[test]
    fn the_zero_of_a_cosine_is_found_on_the_extension() {
        // Closed form: cos t = 0 at π/2.
        let rhs = |_: f64, y: &[f64; 2]| [y[1], -y[0]];
        let (sin, cos) = 1.55_f64.sin_cos();
        let step = Step::take(rhs, 1.55, &[cos, -sin], &[-sin, -cos], 0.04);
        let x = step.falls_through_zero(0, 1.0).expect("it crosses");
        assert!((1.55 + 0.04 * x - std::f64::consts::FRAC_PI_2).abs() < 1e-10);
        assert_eq!(step.falls_through_zero(1, -1.0), None, "the sine has no zero there");
    }

    #[test]
    fn a_right_side_that_is_not_finite_ends_instead_of_hanging() {
        let rhs = |_: f64, _: &[f64; 1]| [f64::NAN];
        assert!(Control { relative: 1e-6, absolute: 1e-6, controlled: 1 }.accepted(rhs, 0.0, &[1.0], &[f64::NAN], 0.1).is_none());
    }
}
