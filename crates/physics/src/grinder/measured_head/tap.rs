//! Natural frequency and damping from the ring-down after a tap.
//!
//! After a soft blow the head shows a sum of decaying sines, `Σ e^{−σt}(a·cos ω_d t + b·sin ω_d t)`: the strongest line of the spectrum gives
//! a mode's start values, least squares its frequency and decay; what is left is searched for the next mode, and all are fitted together.
//! Then ω_n = √(ω_d² + σ²), ζ = σ/ω_n. The logarithmic decrement is 2πσ/ω_d.
//!
//! Source: Rao, Mechanical Vibrations, ch. 2 (free vibration with viscous damping).

use crate::numerics::least_squares::{Linearised, Options, covariance, minimise};
use crate::{Fault, Ranged};
use nalgebra::DMatrix;
use realfft::RealFftPlanner;
use std::f64::consts::TAU;

/// Most modes looked for.
const MOST_MODES: usize = 3;
/// A further mode must be at least this share of the first.
const A_MODE: f64 = 0.08;
/// Most samples of one recording.
const MOST: usize = 4_000_000;
/// Samples that are fitted at most; a longer recording is averaged in blocks first.
const FITTED: usize = 6000;
/// A tap's crest must stand out of what is before it, or of the end of the recording, by this factor.
const CREST: f64 = 5.0;

/// A mode that rings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mode {
    /// Natural frequency (undamped), Hz.
    pub natural_hz: f64,
    /// Its standard deviation, Hz.
    pub natural_sd_hz: f64,
    /// Damping ratio ζ.
    pub damping: f64,
    /// Its standard deviation.
    pub damping_sd: f64,
    /// Amplitude at the beginning of the fit, in the recording's unit.
    pub amplitude: f64,
}

/// What a tap told.
#[derive(Clone, Debug, PartialEq)]
pub struct RungDown {
    /// The modes, the strongest first.
    pub modes: Vec<Mode>,
    /// Root mean square of what the modes do not explain, over the first mode's amplitude.
    pub unexplained: f64,
    /// When the fit begins, s from the first sample.
    pub from_s: f64,
    /// How long it is, s.
    pub over_s: f64,
}

/// The modes in one recording of a tap.
///
/// # Errors
/// A [`Fault`] for fewer than 32 samples or more than 4 million, a rate outside 1 Hz to 10 MHz, a sample that is not finite, a recording
/// without a blow, and one in which nothing rings.
pub fn rung_down(rate_hz: f64, signal: &[f64]) -> Result<RungDown, Fault> {
    let rate = rate_hz.within("rate_hz", 1.0, 1e7, "Hz", "samples a second")?;
    if signal.len() < 32 || signal.len() > MOST {
        return Err(Fault::new(
            "signal",
            signal.len(),
            format!("32 to {MOST} samples"),
            "record from just before the tap until all is still",
        ));
    }
    if let Some(i) = signal.iter().position(|v| !v.is_finite() || v.abs() > 1e15) {
        return Err(Fault::new(format!("signal[{i}]"), signal[i], "finite samples", "a sample is not a number"));
    }
    let (from, to) = window(signal)?;
    let (samples, step) = averaged(&signal[from..to]);
    let dt = step as f64 / rate;
    let mean = samples.iter().sum::<f64>() / samples.len() as f64;
    let scale = samples.iter().map(|x| (x - mean).abs()).fold(0.0, f64::max);
    let x: Vec<f64> = samples.iter().map(|v| (v - mean) / scale).collect();
    let fit = modes(&x, dt)?;
    // Averaging over a block shortens a fast sine; back to what it was. Source: mean of cos over an interval, sinc(f·τ).
    let droop = |f: f64| {
        let a = std::f64::consts::PI * f * dt;
        if step > 1 && a > 0.0 { a.sin() / a } else { 1.0 }
    };
    let modes: Vec<Mode> = fit.modes.iter().map(|m| Mode { amplitude: m.amplitude * scale / droop(m.natural_hz), ..*m }).collect();
    let first = modes[0];
    if first.natural_sd_hz > 0.2 * first.natural_hz || first.damping >= 0.8 || first.amplitude <= 0.0 {
        return Err(nothing_rings());
    }
    Ok(RungDown {
        unexplained: fit.rest_rms * scale / first.amplitude,
        modes,
        from_s: from as f64 / rate,
        over_s: (to - from) as f64 / rate,
    })
}

fn nothing_rings() -> Fault {
    Fault::new(
        "signal",
        "a recording in which nothing rings",
        "a ring-down of three swings or more",
        "after the blow no decaying vibration stands out: tap harder with a soft mallet, with the sensor firmly on the head, and record longer",
    )
}

/// From the crest of the blow to where the ring-down is lost in the noise.
fn window(signal: &[f64]) -> Result<(usize, usize), Fault> {
    // The still part: the quieter of what is before the blow and of the recording's last tenth.
    let tenth = (signal.len() / 10).max(8);
    let tail = &signal[signal.len() - tenth..];
    let rest = tail.iter().sum::<f64>() / tail.len() as f64;
    let rms = |part: &[f64]| (part.iter().map(|x| (x - rest).powi(2)).sum::<f64>() / part.len() as f64).sqrt();
    let crest = (0..signal.len()).max_by(|a, b| (signal[*a] - rest).abs().total_cmp(&(signal[*b] - rest).abs())).unwrap_or(0);
    let height = (signal[crest] - rest).abs();
    let noise = rms(tail);
    if height <= CREST * noise || height == 0.0 {
        return Err(Fault::new(
            "signal",
            "a recording without a blow that dies away",
            format!("a crest at least {CREST} times what is at the end"),
            "record from just before the tap until all is still, one tap a recording, with the spindle stopped",
        ));
    }
    // In blocks, until one is no louder than twice the still part.
    let block = (signal.len() / 200).max(8);
    let end = signal[crest..]
        .chunks(block)
        .position(|b| b.iter().map(|x| (x - rest).abs()).fold(0.0, f64::max) < 2.0 * noise.max(1e-6 * height))
        .map_or(signal.len(), |k| crest + (k + 1) * block);
    let end = end.min(signal.len()).max((crest + 32).min(signal.len()));
    if end - crest < 32 {
        let why = "the blow is at the end of the recording, or the sampling is too slow";
        return Err(Fault::new("signal", end - crest, "32 samples of ring-down at least", why));
    }
    Ok((crest, end))
}

/// Means of blocks, so that at most [`FITTED`] are left; only as coarse as leaves the fastest swings that matter.
fn averaged(signal: &[f64]) -> (Vec<f64>, usize) {
    let step = signal.len().div_ceil(FITTED);
    (signal.chunks_exact(step).map(|c| c.iter().sum::<f64>() / step as f64).collect(), step)
}

struct Fit {
    modes: Vec<Mode>,
    rest_rms: f64,
}

/// One mode's unknowns: decay σ and frequency ω in 1/s, cosine and sine amplitude.
const UNKNOWNS: usize = 4;

fn modes(x: &[f64], dt: f64) -> Result<Fit, Fault> {
    let mut p: Vec<f64> = vec![0.0];
    let mut rest = x.to_vec();
    let mut best: Option<(Vec<f64>, Linearised)> = None;
    for k in 0..MOST_MODES {
        p.extend(start(&rest, dt));
        let mut lower = vec![f64::NEG_INFINITY];
        for _ in 0..=k {
            lower.extend([0.0, 0.1 / (x.len() as f64 * dt), f64::NEG_INFINITY, f64::NEG_INFINITY]);
        }
        let held = vec![false; p.len()];
        let options = Options { lower: &lower, held: &held, robust_rows: 0, robust_at: f64::INFINITY, tolerance: 1e-12, most_calls: 200 };
        let Some(minimum) = minimise(&p, &options, |p| Some(linearised(p, x, dt))) else { break };
        let sizes: Vec<f64> = (0..=k).map(|m| minimum.x[3 + UNKNOWNS * m].hypot(minimum.x[4 + UNKNOWNS * m])).collect();
        let largest = sizes.iter().copied().fold(0.0, f64::max);
        // A further mode that is no mode: slower than the recording, gone at once, or too small.
        let real = |m: usize| {
            let (sigma, omega) = (minimum.x[1 + UNKNOWNS * m], minimum.x[2 + UNKNOWNS * m]);
            sizes[m] >= A_MODE * largest && omega < std::f64::consts::PI / dt && sigma < omega
        };
        if k > 0 && !(0..=k).all(real) {
            break;
        }
        rest = minimum.at.residuals.iter().map(|r| -r).collect();
        p.clone_from(&minimum.x);
        let rest_rms = rms(&rest);
        best = Some((minimum.x, minimum.at));
        if rest_rms < 1e-9 {
            break;
        }
    }
    let (p, at) = best.ok_or_else(nothing_rings)?;
    let spare = x.len().saturating_sub(p.len()).max(1);
    let variance = at.residuals.iter().map(|r| r * r).sum::<f64>() / spare as f64 * inflation(&at.residuals);
    let c = covariance(&at.jacobian, &vec![false; p.len()]).ok_or_else(nothing_rings)?;
    let mut modes: Vec<Mode> = (0..(p.len() - 1) / UNKNOWNS)
        .map(|m| {
            let i = 1 + UNKNOWNS * m;
            let (sigma, omega) = (p[i], p[i + 1]);
            let natural = omega.hypot(sigma);
            let (ss, oo, so) = (c[(i, i)] * variance, c[(i + 1, i + 1)] * variance, c[(i, i + 1)] * variance);
            // dω_n = (ω·dω + σ·dσ)/ω_n; dζ = (ω²·dσ − σω·dω)/ω_n³.
            let natural_variance = (omega * omega * oo + sigma * sigma * ss + 2.0 * omega * sigma * so) / natural.powi(2);
            let [a, b] = [omega * omega / natural.powi(3), -sigma * omega / natural.powi(3)];
            let damping_variance = a * a * ss + b * b * oo + 2.0 * a * b * so;
            Mode {
                natural_hz: natural / TAU,
                natural_sd_hz: natural_variance.max(0.0).sqrt() / TAU,
                damping: sigma / natural,
                damping_sd: damping_variance.max(0.0).sqrt(),
                amplitude: p[i + 2].hypot(p[i + 3]),
            }
        })
        .collect();
    modes.sort_by(|a, b| b.amplitude.total_cmp(&a.amplitude));
    Ok(Fit { modes, rest_rms: rms(&at.residuals) })
}

fn rms(x: &[f64]) -> f64 {
    (x.iter().map(|v| v * v).sum::<f64>() / x.len() as f64).sqrt()
}

/// How many times the variance of a mean of these residuals is that of independent ones: 1 + 2·Σρₖ up to the first that is not positive.
fn inflation(r: &[f64]) -> f64 {
    let square: f64 = r.iter().map(|v| v * v).sum();
    if square == 0.0 {
        return 1.0;
    }
    let rho = |lag: usize| r.iter().zip(&r[lag..]).map(|(a, b)| a * b).sum::<f64>() / square;
    1.0 + 2.0 * (1..(r.len() / 4).min(200)).map(rho).take_while(|v| *v > 0.0).sum::<f64>()
}

/// Start values of a mode: the strongest line of the spectrum, its decay by the width at half power, amplitudes by projection.
fn start(x: &[f64], dt: f64) -> [f64; UNKNOWNS] {
    // Padded fourfold with zeros: the line is then broad enough in samples of the spectrum for its width to be read.
    let n = 4 * x.len();
    let mut padded = x.to_vec();
    padded.resize(n, 0.0);
    let transform = RealFftPlanner::<f64>::new().plan_fft_forward(n);
    let mut spectrum = transform.make_output_vec();
    if transform.process(&mut padded, &mut spectrum).is_err() {
        return [1.0, 1.0, 0.0, 0.0];
    }
    let power: Vec<f64> = spectrum.iter().map(nalgebra::Complex::norm_sqr).collect();
    // Below one and a half swings over the whole there is only drift.
    let best = (6..power.len()).max_by(|a, b| power[*a].total_cmp(&power[*b])).unwrap_or(6);
    let below_half = |k: &usize| power[*k] < 0.5 * power[best];
    let (low, high) = ((0..best).rev().find(below_half).unwrap_or(best), (best + 1..power.len()).find(below_half).unwrap_or(best));
    let omega = TAU * best as f64 / (n as f64 * dt);
    // Half-power width of e^{−σt} is 2σ; a window of its own adds about 5.6/T (rectangle, half power).
    let width = TAU * (high.max(best + 1) - low.min(best - 1)) as f64 / (n as f64 * dt);
    let sigma = (0.5 * (width - 5.6 / (x.len() as f64 * dt))).max(0.002 * omega);
    let (mut c, mut s, mut e) = (0.0, 0.0, 0.0);
    for (i, v) in x.iter().enumerate() {
        let t = i as f64 * dt;
        let decay = (-sigma * t).exp();
        c += v * decay * (omega * t).cos();
        s += v * decay * (omega * t).sin();
        e += 0.5 * decay * decay;
    }
    [sigma, omega, c / e, s / e]
}

/// Residuals (model less measured) and Jacobian; unknowns: offset, then σ, ω, a, b of each mode.
fn linearised(p: &[f64], x: &[f64], dt: f64) -> Linearised {
    let mut jacobian = DMatrix::zeros(x.len(), p.len());
    let mut residuals = Vec::with_capacity(x.len());
    for (i, v) in x.iter().enumerate() {
        let t = i as f64 * dt;
        let mut model = p[0];
        jacobian[(i, 0)] = 1.0;
        for (m, q) in p[1..].chunks_exact(UNKNOWNS).enumerate() {
            let [sigma, omega, a, b] = [q[0], q[1], q[2], q[3]];
            let e = (-sigma * t).exp();
            let (s, c) = (omega * t).sin_cos();
            let y = e * (a * c + b * s);
            model += y;
            let k = 1 + UNKNOWNS * m;
            jacobian[(i, k)] = -t * y;
            jacobian[(i, k + 1)] = t * e * (b * c - a * s);
            jacobian[(i, k + 2)] = e * c;
            jacobian[(i, k + 3)] = e * s;
        }
        residuals.push(model - v);
    }
    Linearised { residuals, jacobian }
}
