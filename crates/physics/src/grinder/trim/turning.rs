//! How the wheel turns through a recording, and the lock-in against it.
//!
//! In: a constant speed, or the pulses of a mark. Out: [`Turning`], the wheel's angle at every sample, and the part of a signal at any
//! multiple of it.

use crate::Fault;
use nalgebra::Complex;
use std::f64::consts::{PI, TAU};

/// A stretch of samples over which the wheel turns evenly.
#[derive(Clone, Copy, Debug)]
struct Stretch {
    /// First sample.
    from: usize,
    /// Sample after the last.
    to: usize,
    /// Angle at the first sample, radians.
    start: f64,
    /// Angle from sample to sample, radians.
    step: f64,
}

/// The wheel's angle at every sample of a part of a recording.
#[derive(Clone, Debug)]
pub(super) struct Turning {
    stretches: Vec<Stretch>,
    from: usize,
    to: usize,
    window_sum: f64,
}

/// Pulses of a mark, in samples.
pub(super) struct Pulses {
    /// When the mark passed, in samples from the first.
    pub(super) at: Vec<f64>,
}

/// Most that one turn may differ from the usual one: a pulse too many or too few.
const UNEVEN: f64 = 0.2;

impl Pulses {
    /// Rising passages of the level half way between the lowest and the highest value, with a quarter of the span as hysteresis.
    pub(super) fn of(tach: &[f64], rate_hz: f64) -> Result<Self, Fault> {
        let (low, high) = tach.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(*v), h.max(*v)));
        let span = high - low;
        let (level, rearm) = (low + 0.5 * span, low + 0.25 * span);
        let mut at = Vec::new();
        let mut armed = false;
        for (i, pair) in tach.windows(2).enumerate() {
            let [before, now] = *pair else { continue };
            armed |= before <= rearm;
            if armed && before < level && now >= level {
                at.push(i as f64 + (level - before) / (now - before));
                armed = false;
            }
        }
        if at.len() < super::FEWEST_TURNS + 1 {
            return Err(Fault::new(
                "tach",
                format!("{} pulses", at.len()),
                format!("{} at least, one a turn", super::FEWEST_TURNS + 1),
                "the mark's channel shows too few pulses: is it the right channel, and does the sensor see the mark?",
            ));
        }
        let mut gaps: Vec<f64> = at.windows(2).map(|p| p[1] - p[0]).collect();
        let (_, usual, _) = gaps.select_nth_unstable_by(at.len() / 2 - 1, f64::total_cmp);
        let usual = *usual;
        if let Some(k) = at.windows(2).position(|p| (p[1] - p[0] - usual).abs() > UNEVEN * usual) {
            return Err(Fault::new(
                "tach",
                format!("a turn of {:.4} s among turns of {:.4} s", (at[k + 1] - at[k]) / rate_hz, usual / rate_hz),
                "one pulse a turn, evenly",
                format!("a pulse is missing or is one too many at {:.3} s: shade the sensor, or clean the mark", at[k] / rate_hz),
            ));
        }
        Ok(Self { at })
    }

    /// Turns between the first and the last pulse.
    pub(super) fn turns(&self) -> f64 {
        (self.at.len() - 1) as f64
    }

    /// Turns a sample by a straight line through all pulses, and its standard deviation.
    pub(super) fn turns_per_sample(&self) -> (f64, f64) {
        let n = self.at.len() as f64;
        let (mid_k, mid_t) = ((n - 1.0) / 2.0, self.at.iter().sum::<f64>() / n);
        let (mut kt, mut tt) = (0.0, 0.0);
        for (k, t) in self.at.iter().enumerate() {
            kt += (k as f64 - mid_k) * (t - mid_t);
            tt += (t - mid_t).powi(2);
        }
        let slope = kt / tt;
        let rest: f64 = self.at.iter().enumerate().map(|(k, t)| (k as f64 - mid_k - slope * (t - mid_t)).powi(2)).sum();
        (slope, (rest / (n - 2.0) / tt).sqrt())
    }
}

impl Turning {
    /// At a constant speed over `samples` samples, angle 0 at the first.
    pub(super) fn evenly(samples: usize, turns_per_sample: f64) -> Self {
        Self::of(vec![Stretch { from: 0, to: samples, start: 0.0, step: TAU * turns_per_sample }])
    }

    /// A whole turn from pulse to pulse, angle 0 at the pulses.
    pub(super) fn by(pulses: &Pulses) -> Self {
        let stretches = pulses.at.windows(2).enumerate().map(|(k, p)| {
            let (from, to) = (p[0].ceil() as usize, p[1].ceil() as usize);
            let step = TAU / (p[1] - p[0]);
            Stretch { from, to, start: TAU * k as f64 + step * (from as f64 - p[0]), step }
        });
        Self::of(stretches.collect())
    }

    fn of(stretches: Vec<Stretch>) -> Self {
        let (from, to) = (stretches.first().map_or(0, |s| s.from), stretches.last().map_or(0, |s| s.to));
        // The sum of sin²(πi/n) over all n is n/2 exactly.
        Self { stretches, from, to, window_sum: 0.5 * (to - from) as f64 }
    }

    /// Samples from and to which it is known.
    pub(super) fn range(&self) -> std::ops::Range<usize> {
        self.from..self.to
    }

    /// Hann's window: lines a few turns in the whole away do not leak into the one looked at. Source: Harris, Proc. IEEE 66 (1978) 51.
    pub(super) fn window(&self, i: usize) -> f64 {
        (PI * (i - self.from) as f64 / (self.to - self.from) as f64).sin().powi(2)
    }

    /// Windowed mean of a value over the samples.
    pub(super) fn mean(&self, value: impl Fn(usize) -> f64) -> f64 {
        self.range().map(|i| self.window(i) * value(i)).sum::<f64>() / self.window_sum
    }

    /// Amplitude and phase of the part of the signal that turns `order` times with the wheel: `x = Re(V·e^{i·order·θ})`.
    ///
    /// `windowed` is the signal less its mean, times the window, over [`Self::range`].
    pub(super) fn part(&self, windowed: &[f64], order: f64) -> Complex<f64> {
        let mut sum = Complex::new(0.0, 0.0);
        for s in &self.stretches {
            // The phasor is turned from sample to sample, and set afresh now and then so that rounding does not pile up.
            let turn = Complex::from_polar(1.0, -order * s.step);
            for block in (s.from..s.to).step_by(BLOCK) {
                let mut phasor = Complex::from_polar(1.0, -order * (s.start + s.step * (block - s.from) as f64));
                for x in &windowed[block - self.from..(block + BLOCK).min(s.to) - self.from] {
                    sum += phasor * *x;
                    phasor *= turn;
                }
            }
        }
        sum * (2.0 / self.window_sum)
    }
}

const BLOCK: usize = 512;
