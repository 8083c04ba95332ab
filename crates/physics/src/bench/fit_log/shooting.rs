//! The fit proper: the exact equation integrated from the start, all eight numbers adjusted, over a growing window.
//!
//! In: a clean log and start values. Out: the best parameters with their Jacobian.
//!
//! The window grows since over a long time a small error of the start shifts the phase by more than a turn, or, near a
//! full turn, throws the path over the top instead of back: a short window has no such false valleys.

use super::prepare::{Clean, PER_MEDIAN, median};
use super::{Known, SwingLog, weak_form};
use crate::bench::motion::{PARAMETERS, Reduced, WITH_SENSITIVITIES, start_with_sensitivities, trace};
use crate::numerics::dopri5::Control;
use crate::numerics::least_squares::{Linearised, Minimum, Options, minimise};
use nalgebra::DMatrix;
use std::f64::consts::{PI, TAU};

/// Integration error well below any noise, in rad and rad/s.
const TOLERANCE: f64 = 1e-8;
/// Soft-L1 loss at two standard deviations: efficiency 98 % on Gaussian noise.
pub(super) const ROBUST_AT: f64 = 2.0;
/// A point off the fit by more than this many standard deviations is dropped.
const DROP_AT: f64 = 5.0;

/// The log while it is being fitted.
pub(super) struct Shooting<'a> {
    clean: &'a Clean,
    log: &'a SwingLog<'a>,
    known: &'a Known,
    /// Continuous angle, whole turns corrected on the way.
    pub(super) y: Vec<f64>,
    /// Points in use.
    pub(super) used: Vec<bool>,
    /// Noise of one point: rad, or a factor on the given standard deviations.
    pub(super) scale: f64,
}

/// A fit over the whole log.
pub(super) struct Fitted {
    pub(super) p: Reduced,
    pub(super) minimum: Minimum,
    /// Indices of the points behind the rows of the Jacobian.
    pub(super) rows: Vec<usize>,
    /// Standard deviation of each point of `rows` before `scale`, rad.
    pub(super) sds: Vec<f64>,
    /// Mean square of the residuals over their expected, robust.
    pub(super) misfit: f64,
}

impl<'a> Shooting<'a> {
    pub(super) fn new(clean: &'a Clean, log: &'a SwingLog, known: &'a Known) -> Self {
        let given = log.angle_sd_rad.is_some() || log.time_sd_s.is_some();
        let scale = if given { 1.0 } else { clean.noise.max(1e-6) };
        Self { clean, log, known, y: clean.y.clone(), used: clean.good.clone(), scale }
    }

    /// Whether standard deviations came with the log.
    pub(super) fn given(&self) -> bool {
        self.log.angle_sd_rad.is_some() || self.log.time_sd_s.is_some()
    }

    /// Whether parameter `k` takes part in the fit of the whole log.
    pub(super) fn may_vary(&self, k: usize) -> bool {
        k != 4 || self.known.dry_friction_possible
    }

    fn control() -> Control {
        Control { relative: TOLERANCE, absolute: TOLERANCE, controlled: 2 }
    }

    fn most_steps(&self) -> usize {
        // A swing takes about twenty steps, and n points show at most n/2 swings.
        600 + 10 * self.y.len().min(5000)
    }

    /// Standard deviation of point `i` without `scale`; a tapped time counts by the speed and, at a turning point, by
    /// the bend: Δφ = φ′Δt + φ″Δt²/2.
    fn sd(&self, i: usize, p: &Reduced, phi: f64, omega: f64) -> f64 {
        let angle = self.log.angle_sd_rad.map(|s| s[i]);
        let Some(st) = self.log.time_sd_s else { return angle.unwrap_or(1.0) };
        let bend = p[5] - p[0] * phi.sin() - p[1] * phi.cos();
        // E[(Δt²/2)²] = 3/4·st⁴.
        ((omega * st).powi(2) + 0.75 * (bend * st * st).powi(2) + angle.unwrap_or(1e-4).powi(2)).sqrt()
    }

    /// Rows over the points in use among the first `end`; the drift prior comes last.
    fn linearise(&self, p: &Reduced, rows: &[usize], sds: &[f64]) -> Option<Linearised> {
        let times: Vec<f64> = rows.iter().map(|&i| self.clean.t[i]).collect();
        let prior = usize::from(self.known.drift_prior_sd_per_s2.is_some());
        let mut residuals = vec![0.0; rows.len() + prior];
        let mut jacobian = DMatrix::zeros(rows.len() + prior, PARAMETERS);
        trace::<WITH_SENSITIVITIES>(p, start_with_sensitivities(p), &times, Self::control(), self.most_steps(), |r, y| {
            // A tapped time is judged in time, so its angle's sd moves with the speed, and the derivative must know: with the sd
            // held, a swing that shrinks to rest on the mark would fit best.
            let sd = self.log.time_sd_s.map_or(sds[r], |_| self.sd(rows[r], p, y[0], y[1]));
            let weight = 1.0 / (sd * self.scale);
            residuals[r] = (y[0] - self.y[rows[r]]) * weight;
            let by_speed = self.log.time_sd_s.map_or(0.0, |st| residuals[r] * y[1] * (st / sd).powi(2));
            for k in 0..PARAMETERS {
                jacobian[(r, k)] = y[2 + k] * weight - by_speed * y[2 + PARAMETERS + k];
            }
        })?;
        if let Some(sd) = self.known.drift_prior_sd_per_s2 {
            residuals[rows.len()] = p[5] / sd;
            jacobian[(rows.len(), 5)] = 1.0 / sd;
        }
        residuals.iter().all(|r| r.is_finite()).then_some(Linearised { residuals, jacobian })
    }

    /// (φ, φ′) of the model at each point of `rows`.
    pub(super) fn follow(&self, p: &Reduced, rows: &[usize]) -> Option<Vec<[f64; 2]>> {
        let times: Vec<f64> = rows.iter().map(|&i| self.clean.t[i]).collect();
        let mut out = Vec::with_capacity(rows.len());
        trace::<2>(p, [p[6], p[7]], &times, Self::control(), self.most_steps(), |_, y| out.push(*y))?;
        out.iter().all(|y| y[0].is_finite()).then_some(out)
    }

    fn rows(&self, end: f64) -> Vec<usize> {
        (0..self.y.len()).take_while(|&i| self.clean.t[i] <= end).filter(|&i| self.used[i]).collect()
    }

    /// Robust cost of a start over a window, per point, without its derivatives.
    fn try_out(&self, p: &Reduced, rows: &[usize]) -> f64 {
        let Some(path) = self.follow(p, rows).filter(|path| !self.rests_on_the_mark(p, path)) else { return f64::INFINITY };
        let sum: f64 = path
            .iter()
            .zip(rows)
            .map(|(m, &i)| {
                let r = (m[0] - self.y[i]) / (self.scale * self.sd(i, p, m[0], m[1]));
                (1.0 + (r / ROBUST_AT).powi(2)).sqrt() - 1.0
            })
            .sum();
        let unlikely = self.known.drift_prior_sd_per_s2.map_or(0.0, |sd| 0.5 * (p[5] / sd).powi(2));
        (sum + unlikely) / rows.len() as f64
    }

    /// Taps of one mark are also met by a rotor that rests on it: no motion to tap.
    fn rests_on_the_mark(&self, p: &Reduced, path: &[[f64; 2]]) -> bool {
        self.log.time_sd_s.is_some() && path.iter().all(|m| m[1].abs() < 0.05 * p[0].hypot(p[1]).sqrt())
    }

    fn fit_window(&self, start: &Reduced, end: f64, held: [bool; PARAMETERS], tolerance: f64, calls: usize) -> Option<Fitted> {
        let rows = self.rows(end);
        if rows.len() < PARAMETERS {
            return None;
        }
        let path = self.follow(start, &rows)?;
        let sds: Vec<f64> = rows.iter().zip(&path).map(|(&i, m)| self.sd(i, start, m[0], m[1])).collect();
        let free = f64::NEG_INFINITY;
        let lower = [free, free, 0.0, 0.0, 0.0, free, free, free];
        let options = Options { lower: &lower, held: &held, robust_rows: rows.len(), robust_at: ROBUST_AT, tolerance, most_calls: calls };
        let minimum = minimise(start, &options, |x| self.linearise(&x.try_into().ok()?, &rows, &sds))?;
        let p: Reduced = minimum.x.clone().try_into().ok()?;
        let mut sizes: Vec<f64> = minimum.at.residuals[..rows.len()].iter().map(|r| r.abs()).collect();
        let misfit = (PER_MEDIAN * median(&mut sizes)).powi(2);
        Some(Fitted { p, minimum, rows, sds, misfit })
    }

    /// Add whole turns to points between `from` and `end` (s) so that they come nearest to the model: across a gap the
    /// running speed may have been taken one turn wrong, the model knows better.
    fn unwrap_by(&mut self, p: &Reduced, from: f64, end: f64) {
        if !self.clean.wrapped || self.log.time_sd_s.is_some() {
            return;
        }
        let rows: Vec<usize> = (0..self.y.len()).filter(|&i| self.clean.t[i] > from && self.clean.t[i] <= end).collect();
        let Some(path) = self.follow(p, &rows) else { return };
        // At the first point after each gap, and for all that follows: within a piece the running speed is right.
        for (&i, m) in rows.iter().zip(&path) {
            if i > 0 && self.clean.t[i] - self.clean.t[i - 1] > self.clean.gap {
                let shift = TAU * ((m[0] - self.y[i]) / TAU).round();
                if shift != 0.0 {
                    self.y[i..].iter_mut().for_each(|y| *y += shift);
                }
            }
        }
    }

    fn held(&self, end: f64, p: &Reduced) -> [bool; PARAMETERS] {
        let mut held = [false; PARAMETERS];
        held[4] = !self.known.dry_friction_possible;
        // Over less than half a small swing the losses can't be told from one another, nor drift from direction.
        let short = end < 0.6 * small_period(p);
        if short && end < self.clean.t[self.clean.t.len() - 1] {
            held[3] = true;
            held[4] = true;
            held[5] = true;
        }
        held
    }

    /// From one start through growing windows to the whole log. `grow` is the ratio of one window to the next.
    fn grow_from(&mut self, start: &Reduced, grow: f64) -> Option<Fitted> {
        let span = self.clean.t[self.clean.t.len() - 1];
        self.y.clone_from(&self.clean.y);
        let mut p = *start;
        if !self.known.dry_friction_possible {
            p[4] = 0.0;
        }
        let mut end = self.first_window(&p);
        if end >= span {
            // A log this short hardly tells drift from direction: the plain motion first.
            if let Some(f) = self.fit_window(&p, span, [false, false, false, true, true, true, false, false], 1e-4, 12) {
                p = f.p;
            }
        }
        while end < span {
            if let Some(f) = self.fit_window(&p, end, self.held(end, &p), 1e-4, 12) {
                p = f.p;
            }
            let next = (end * grow).min(span);
            self.unwrap_by(&p, end, next);
            end = next;
        }
        self.fit_window(&p, span, self.held(span, &p), 1e-6, 40)
    }

    /// Half a small swing, but at least twenty points.
    fn first_window(&self, p: &Reduced) -> f64 {
        let t = &self.clean.t;
        (0.6 * small_period(p)).max(t[20.min(t.len() - 1)])
    }

    /// The best fit over all starts, with noise and outliers judged by the fit itself.
    pub(super) fn solve(&mut self) -> Option<Fitted> {
        let mut starts =
            if self.log.time_sd_s.is_none() { weak_form::starts(self.clean, self.known.dry_friction_possible) } else { Vec::new() };
        let expected = self.scale;
        let mut best = self.best_of(&mut starts, 3, 2.5);
        if !best.as_ref().is_some_and(|f| self.good_enough(f, expected)) {
            let slow = self.best_of(&mut starts, 8, 1.4);
            best = better(best, slow);
        }
        if self.y.len() <= 2000 && !best.as_ref().is_some_and(|f| self.good_enough(f, expected)) {
            let mut grid = weak_form::grid(self.clean);
            let more = self.best_of(&mut grid, 8, 1.7);
            best = better(best, more);
        }
        let (fitted, y) = best?;
        self.y = y;
        self.refine(fitted)
    }

    /// The best fit to the whole of a long log from a fit to the same log thinned: only the last steps see all points.
    ///
    /// `None` when the thinned log led astray.
    pub(super) fn solve_from(&mut self, p: &Reduced) -> Option<Fitted> {
        let all: Vec<usize> = (0..self.y.len()).collect();
        if self.clean.wrapped {
            let path = self.follow(p, &all)?;
            for (y, m) in self.y.iter_mut().zip(path) {
                *y += TAU * ((m[0] - *y) / TAU).round();
            }
        }
        let expected = self.scale;
        let span = self.clean.t[self.clean.t.len() - 1];
        let fitted = self.fit_window(p, span, self.held(span, p), 1e-6, 20)?;
        let best = (fitted, Vec::new());
        if self.good_enough(&best, expected) { self.refine(best.0) } else { None }
    }

    /// Noise and outliers from the fit, then the fit again, until the set of points stands.
    fn refine(&mut self, mut fitted: Fitted) -> Option<Fitted> {
        for _ in 0..10 {
            let changed = self.judge(&fitted)?;
            let span = self.clean.t[self.clean.t.len() - 1];
            let held = self.held(span, &fitted.p);
            fitted = self.fit_window(&fitted.p, span, held, 1e-9, 60)?;
            if !changed {
                break;
            }
        }
        Some(fitted)
    }

    fn good_enough(&self, best: &(Fitted, Vec<f64>), expected: f64) -> bool {
        // Misfit is in units of the noise between neighbours (or the given one): twice that is a fit that went astray.
        best.0.misfit * (self.scale / expected).powi(2) < 2.0 && self.drift_is_likely(&best.0.p)
    }

    /// A short track can be told by drift alone; where the drift is known to be small, that is a false valley.
    fn drift_is_likely(&self, p: &Reduced) -> bool {
        self.known.drift_prior_sd_per_s2.is_none_or(|sd| p[5].abs() < 4.0 * sd)
    }

    /// Try out all starts on their first window, carry the best few through. Reorders the starts.
    fn best_of(&mut self, starts: &mut [Reduced], carry: usize, grow: f64) -> Option<(Fitted, Vec<f64>)> {
        self.y.clone_from(&self.clean.y);
        let span = self.clean.t[self.clean.t.len() - 1];
        let sparse = self.log.time_sd_s.is_some();
        let mut windows: Vec<f64> = starts.iter().map(|p| if sparse { span } else { (2.0 * self.first_window(p)).min(span) }).collect();
        // All are tried on one window, else their costs could not be compared.
        let window = if windows.is_empty() { span } else { median(&mut windows) };
        let rows = self.rows(window);
        let mut ranked: Vec<(f64, Reduced)> = starts.iter().map(|p| (self.try_out(p, &rows), *p)).collect();
        ranked.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut best: Option<(Fitted, Vec<f64>)> = None;
        for (_, p) in ranked.iter().take(carry).filter(|(c, _)| c.is_finite()) {
            let Some(f) = self.grow_from(p, grow) else { continue };
            if self.follow(&f.p, &f.rows).is_none_or(|path| self.rests_on_the_mark(&f.p, &path)) {
                continue;
            }
            let done = f.misfit < 1.5 && self.drift_is_likely(&f.p);
            best = better(best, Some((f, self.y.clone())));
            if done {
                break;
            }
        }
        best
    }

    /// Noise from the residuals, and which points belong to the track. True when any of it changed notably.
    fn judge(&mut self, fitted: &Fitted) -> Option<bool> {
        let all: Vec<usize> = (0..self.y.len()).collect();
        let path = self.follow(&fitted.p, &all)?;
        let given = self.given();
        let before = self.scale;
        self.scale *= fitted.misfit.sqrt();
        if given {
            // Given standard deviations are believed unless the fit is worse than they say.
            self.scale = self.scale.max(1.0);
        }
        self.scale = self.scale.max(1e-7);
        // A tenth of the law that a log turned by a constant states the same standard deviations to 2 %.
        let mut changed = (self.scale / before - 1.0).abs() > 0.002;
        for (&i, m) in all.iter().zip(&path) {
            if self.clean.wrapped && !self.clean.good[i] {
                self.y[i] += TAU * ((m[0] - self.y[i]) / TAU).round();
            }
            let near = (m[0] - self.y[i]).abs() <= DROP_AT * self.scale * self.sd(i, &fitted.p, m[0], m[1]);
            if near != self.used[i] {
                self.used[i] = near;
                changed = true;
            }
        }
        Some(changed)
    }
}

fn better(a: Option<(Fitted, Vec<f64>)>, b: Option<(Fitted, Vec<f64>)>) -> Option<(Fitted, Vec<f64>)> {
    match (a, b) {
        (Some(a), Some(b)) => Some(if b.0.minimum.cost < a.0.minimum.cost { b } else { a }),
        (a, b) => a.or(b),
    }
}

/// Period of a small swing, s.
pub(super) fn small_period(p: &Reduced) -> f64 {
    2.0 * PI / p[0].hypot(p[1]).sqrt().max(1e-9)
}
