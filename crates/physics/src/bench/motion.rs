//! Equation of motion of the rotor on its stand.
//!
//! In: the rotor as a pendulum, with all that brakes and drives it. Out: the angle of the zero mark at given times,
//! and, for the fit of swing logs, its derivatives by every parameter.
//!
//! J·φ″ = −U·sin(θ + φ) − c·φ′ − d·φ′|φ′| − tc·sign φ′ + td, and at rest it sticks while |td − U·sin(θ + φ)| ≤ tc.
//! Torques are told as unbalances (torque / g), J = I/g in g·mm·s². φ is the room angle of the zero mark,
//! counter-clockwise from straight down. Derived from rigid-body mechanics; Coulomb friction as in Filippov,
//! Differential Equations with Discontinuous Righthand Sides, ch. 1.

use crate::numerics::dopri5::{Control, Step};
use crate::{Fault, Ranged};

/// A rotor on a stand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pendulum {
    /// Size of the unbalance, g·mm; 0 to 1e9.
    pub u_g_mm: f64,
    /// Rotor angle of the heavy side, rad counter-clockwise from the zero mark.
    pub theta_rad: f64,
    /// Inertia divided by g, g·mm·s²; positive.
    pub j_g_mm_s2: f64,
    /// Viscous drag, g·mm·s (torque / g per rad/s); not negative.
    pub c_g_mm_s: f64,
    /// Quadratic drag, g·mm·s² (torque / g per (rad/s)²); not negative.
    pub d_g_mm_s2: f64,
    /// Dry friction, g·mm; not negative.
    pub tc_g_mm: f64,
    /// Drift torque, g·mm, positive counter-clockwise.
    pub td_g_mm: f64,
}

/// Number of parameters of a reduced motion, its start included.
pub(crate) const PARAMETERS: usize = 8;
/// Size of the state with its sensitivities: (φ, φ′), then ∂φ/∂p and ∂φ′/∂p.
pub(crate) const WITH_SENSITIVITIES: usize = 2 + 2 * PARAMETERS;

/// The motion with everything divided by J: linear in its first six numbers.
///
/// Order: A = U·cos θ/J, B = U·sin θ/J, c/J, d/J, tc/J, td/J, φ(0), φ′(0). Units 1/s², 1/s², 1/s, 1, 1/s², 1/s², rad, rad/s.
pub(crate) type Reduced = [f64; PARAMETERS];

impl Pendulum {
    fn reduced(&self, phi0: f64, omega0: f64) -> Reduced {
        let j = self.j_g_mm_s2;
        let (s, c) = self.theta_rad.sin_cos();
        [self.u_g_mm * c / j, self.u_g_mm * s / j, self.c_g_mm_s / j, self.d_g_mm_s2 / j, self.tc_g_mm / j, self.td_g_mm / j, phi0, omega0]
    }

    fn checked(&self) -> Result<(), Fault> {
        self.u_g_mm.within("u_g_mm", 0.0, 1e9, "g·mm", "size of the unbalance")?;
        self.theta_rad.within("theta_rad", -1e6, 1e6, "rad", "rotor angle of the heavy side")?;
        self.j_g_mm_s2.within("j_g_mm_s2", 1e-6, 1e12, "g·mm·s²", "inertia divided by g")?;
        self.c_g_mm_s.within("c_g_mm_s", 0.0, 1e9, "g·mm·s", "viscous drag brakes, it never drives")?;
        self.d_g_mm_s2.within("d_g_mm_s2", 0.0, 1e9, "g·mm·s²", "quadratic drag brakes, it never drives")?;
        self.tc_g_mm.within("tc_g_mm", 0.0, 1e9, "g·mm", "dry friction brakes, it never drives")?;
        self.td_g_mm.within("td_g_mm", -1e9, 1e9, "g·mm", "drift torque")?;
        Ok(())
    }
}

/// Angle of the zero mark (rad from straight down, not wrapped) at the given times (s, counted from the release).
///
/// `phi0` rad and `omega0` rad/s hold at time 0. Accurate to about 1e-11 of a radian over a minute.
///
/// # Errors
/// A [`Fault`] for a parameter out of its range, times that are negative, not finite or falling, and a motion so
/// fast that it takes over two million steps.
pub fn simulate(pendulum: &Pendulum, phi0: f64, omega0: f64, times: &[f64]) -> Result<Vec<f64>, Fault> {
    pendulum.checked()?;
    phi0.within("phi0_rad", -1e6, 1e6, "rad", "where the zero mark is let go")?;
    omega0.within("omega0_rad_s", -1e4, 1e4, "rad/s", "speed at which it is let go")?;
    let mut last = 0.0;
    for (i, &t) in times.iter().enumerate() {
        last = t.within(&format!("times_s[{i}]"), last, 1e7, "s", "times are counted from the release and never fall")?;
    }
    let p = pendulum.reduced(phi0, omega0);
    let mut out = Vec::with_capacity(times.len());
    let control = Control { relative: 1e-13, absolute: 1e-13, controlled: 2 };
    if trace(&p, [phi0, omega0], times, control, 2_000_000, |_, y| out.push(y[0])).is_none() {
        return Err(Fault::new("times_s", last, "a shorter time or a slower motion", "the motion takes too many steps over this time"));
    }
    Ok(out)
}

/// The state with its sensitivities at the start.
pub(crate) fn start_with_sensitivities(p: &Reduced) -> [f64; WITH_SENSITIVITIES] {
    let mut y = [0.0; WITH_SENSITIVITIES];
    y[0] = p[6];
    y[1] = p[7];
    y[2 + 6] = 1.0;
    y[2 + PARAMETERS + 7] = 1.0;
    y
}

/// Torque of gravity and drift over J, rad/s²: what acts while it rests.
fn push(p: &Reduced, phi: f64) -> f64 {
    let (s, c) = phi.sin_cos();
    p[5] - p[0] * s - p[1] * c
}

/// Which way it goes from here, or 0 when it sticks.
fn sense(p: &Reduced, phi: f64, omega: f64) -> f64 {
    if omega != 0.0 {
        return omega.signum();
    }
    let f = push(p, phi);
    if f.abs() <= p[4] { 0.0 } else { f.signum() }
}

/// Right side while it moves in one sense; smooth. N is 2, or [`WITH_SENSITIVITIES`].
fn slope<const N: usize>(p: &Reduced, sense: f64, y: &[f64; N]) -> [f64; N] {
    let [a, b, c, d, tc, td, ..] = *p;
    let (phi, omega) = (y[0], y[1]);
    let (sin, cos) = phi.sin_cos();
    let square = sense * omega * omega;
    let mut f = [0.0; N];
    f[0] = omega;
    f[1] = td - a * sin - b * cos - c * omega - d * square - sense * tc;
    if N == WITH_SENSITIVITIES {
        let by_phi = b * sin - a * cos;
        let by_omega = -c - 2.0 * sense * d * omega;
        let by_p = [-sin, -cos, -omega, -square, -sense, 1.0, 0.0, 0.0];
        for (k, direct) in by_p.iter().enumerate() {
            let (s_phi, s_omega) = (y[2 + k], y[2 + PARAMETERS + k]);
            f[2 + k] = s_omega;
            f[2 + PARAMETERS + k] = by_phi * s_phi + by_omega * s_omega + direct;
        }
    }
    f
}

/// Follow the motion and hand over the state at each time (not negative, rising). `None` when it takes over `most` steps.
///
/// Within one sense of turning the right side is smooth, so steps are large; each reversal is found on the continuous
/// extension and then landed on exactly. At a reversal φ″ jumps from f₋ to f₊, so the sensitivities of φ′ jump by
/// f₊/f₋ (f₊ = 0 when it sticks) and those of φ do not: the reversal's time moves by −(∂φ′/∂p)/f₋.
pub(crate) fn trace<const N: usize>(
    p: &Reduced,
    start: [f64; N],
    times: &[f64],
    control: Control,
    most: usize,
    mut sink: impl FnMut(usize, &[f64; N]),
) -> Option<()> {
    let Some(&end) = times.last() else { return Some(()) };
    let (mut t, mut y) = (0.0, start);
    let mut given = 0;
    let mut way = sense(p, y[0], y[1]);
    let mut f = slope(p, way, &y);
    // A first guess at the step: a small share of the shortest time scale in sight.
    let rate = (p[0].hypot(p[1]) + p[4] + p[5].abs()).sqrt() + p[2] + (p[3] + 1.0) * y[1].abs();
    let mut h = 0.05 / rate.max(1e-6);
    // A sixth of a small swing: a motion smaller than the tolerance must not be stepped over.
    let longest = 1.0 / p[0].hypot(p[1]).sqrt().max(1e-6);
    for _ in 0..most {
        while given < times.len() && times[given] <= t {
            sink(given, &y);
            given += 1;
        }
        if given == times.len() {
            return Some(());
        }
        if way == 0.0 {
            // It sticks, and nothing in the room changes: for ever.
            let mut rest = y;
            rest[1..2].fill(0.0);
            if N == WITH_SENSITIVITIES {
                rest[2 + PARAMETERS..].fill(0.0);
            }
            (given..times.len()).for_each(|i| sink(i, &rest));
            return Some(());
        }
        let rhs = |_: f64, y: &[f64; N]| slope(p, way, y);
        let (mut step, next) = control.accepted(rhs, t, &y, &f, h.min(longest).min((end - t).max(1e-9 * end)))?;
        h = next;
        let reversal = step.falls_through_zero(1, way);
        if let Some(x) = reversal {
            step = land_on_rest(rhs, t, &y, &f, x * step.h);
        }
        while given < times.len() && times[given] <= t + step.h {
            sink(given, &step.at(if step.h > 0.0 { (times[given] - t) / step.h } else { 1.0 }));
            given += 1;
        }
        t += step.h;
        y = step.y;
        f = step.f;
        if reversal.is_some() {
            y[1] = 0.0;
            let before = f[1];
            let was = way;
            way = sense(p, y[0], 0.0);
            // At rest within rounding of a place where nothing pushes: it would turn to and fro for ever.
            if step.h == 0.0 && (way == was || before == 0.0) {
                way = 0.0;
            }
            let after = if way == 0.0 { 0.0 } else { push(p, y[0]) - way * p[4] };
            if N == WITH_SENSITIVITIES {
                let jump = if before == 0.0 { 0.0 } else { after / before };
                y[2 + PARAMETERS..].iter_mut().for_each(|s| *s *= jump);
            }
            f = slope(p, way, &y);
        }
    }
    None
}

/// The step that ends where the speed is nothing, by Newton from the guess that the continuous extension gave.
fn land_on_rest<const N: usize>(rhs: impl Fn(f64, &[f64; N]) -> [f64; N], t: f64, y: &[f64; N], f: &[f64; N], guess: f64) -> Step<N> {
    let mut step = Step::take(&rhs, t, y, f, guess);
    for _ in 0..4 {
        let correction = -step.y[1] / step.f[1];
        if !correction.is_finite() || correction.abs() > 0.1 * guess || correction.abs() <= 1e-15 * (t + guess) {
            break;
        }
        step = Step::take(&rhs, t, y, f, step.h + correction);
    }
    step
}
