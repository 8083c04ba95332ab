//! The once-per-turn part of a recording, by a lock-in.
//!
//! In: samples of a vibration sensor, if there is one the channel of a mark, and the speed about. Out: amplitude with its uncertainty,
//! phase against the mark, the true speed, the multiples of the speed, and how much of the vibration is not once per turn.
//!
//! The speed is refined where there is no mark: the strongest line of the windowed spectrum near the stated speed, interpolated to the
//! maximum of the lock-in itself. The noise is what the same lock-in shows a few lines to either side; half of its mean square is the
//! variance of each component of the phasor. Its median is taken, so that one foreign line beside does not pass for noise.

use super::turning::{Pulses, Turning};
use crate::numerics::wrap_pi;
use crate::quantity::RotationalSpeed;
use crate::{Fault, Ranged};
use realfft::RealFftPlanner;
use std::f64::consts::{LN_2, TAU};

/// Fewest turns in a recording: the neighbourhood that tells the noise must be clear of zero and of the second multiple.
pub const FEWEST_TURNS: usize = 20;
/// Most samples of a channel: 80 s at 48 kHz.
pub const MOST_SAMPLES: usize = 4_000_000;
/// Fewest samples.
const FEWEST_SAMPLES: usize = 64;
/// Fewest samples a turn; two would be the limit of sampling.
const FEWEST_A_TURN: f64 = 4.0;
/// Highest multiple that is told.
const HIGHEST_ORDER: u32 = 6;

/// A recording.
#[derive(Clone, Copy, Debug)]
pub struct Recording<'a> {
    /// Samples a second.
    pub rate_hz: f64,
    /// The sensor's samples, in any unit.
    pub signal: &'a [f64],
    /// The mark's channel, one pulse a turn.
    pub tach: Option<&'a [f64]>,
}

/// Where to look.
#[derive(Clone, Copy, Debug)]
pub struct Looked {
    /// Speed about; with a mark's channel it may be left out.
    pub speed: Option<RotationalSpeed>,
    /// How far the true speed may be from it, as a share.
    pub within: f64,
}

/// The part at a multiple of the speed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Order {
    /// Which multiple.
    pub order: u32,
    /// Amplitude (zero to peak), in the signal's unit.
    pub amplitude: f64,
    /// Standard deviation.
    pub amplitude_sd: f64,
}

/// A line of the spectrum.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StrongestLine {
    /// Frequency, Hz.
    pub frequency_hz: f64,
    /// Amplitude, in the signal's unit.
    pub amplitude: f64,
    /// Whether it is the speed or a multiple of it.
    pub of_the_wheel: bool,
}

/// What the recording shows.
#[derive(Clone, Debug, PartialEq)]
pub struct OncePerTurn {
    /// True speed.
    pub speed: RotationalSpeed,
    /// Its standard deviation, r/min.
    pub speed_sd_rpm: f64,
    /// Turns used.
    pub turns: f64,
    /// Amplitude of the once-per-turn part (zero to peak), in the signal's unit.
    pub amplitude: f64,
    /// Standard deviation of it.
    pub amplitude_sd: f64,
    /// Phase against the mark and its standard deviation, radians: the signal is `A·cos(θ + phase)`, θ counted on from the mark's
    /// passage in the sense of turning. `None` without a mark.
    pub phase_rad: Option<(f64, f64)>,
    /// Multiples from the second on, as far as the sampling reaches.
    pub orders: Vec<Order>,
    /// Root mean square of all that is not once per turn, in the signal's unit.
    pub rest_rms: f64,
    /// The strongest line of the whole spectrum.
    pub strongest: StrongestLine,
    /// Share of samples that stand at a flat top or bottom.
    pub flat_top_share: f64,
}

impl OncePerTurn {
    /// Whether the once-per-turn part stands out of its neighbourhood.
    pub fn stands_out(&self) -> bool {
        self.amplitude > 4.0 * self.amplitude_sd
    }
}

/// The once-per-turn part.
///
/// # Errors
/// A [`Fault`] for a rate outside 1 Hz to 10 MHz, fewer than 64 samples or more than [`MOST_SAMPLES`], a sample that is not finite,
/// channels of unlike length, neither speed nor mark, fewer than [`FEWEST_TURNS`] turns, fewer than four samples a turn, a mark's channel
/// with missing or surplus pulses, and a signal that does not move at all.
pub fn once_per_turn(recording: &Recording<'_>, looked: &Looked) -> Result<OncePerTurn, Fault> {
    let rate = recording.rate_hz.within("rate_hz", 1.0, 1e7, "Hz", "samples a second")?;
    let within = looked.within.within("within", 0.0, 0.3, "", "how far the true speed may be off, as a share")?;
    for (field, channel) in [("signal", Some(recording.signal)), ("tach", recording.tach)] {
        check_channel(field, channel, recording.signal.len())?;
    }
    let spectrum = Spectrum::of(recording.signal);
    let (turning, speed, speed_sd, mark) = if let Some(tach) = recording.tach {
        let pulses = Pulses::of(tach, rate)?;
        let (per_sample, sd) = pulses.turns_per_sample();
        if let Some(said) = looked.speed {
            agrees(said, 60.0 * per_sample * rate, within.max(0.02))?;
        }
        (Turning::by(&pulses), per_sample, Some((sd, pulses.turns())), true)
    } else {
        let Some(said) = looked.speed else {
            let why = "without a mark's channel the recording does not say which of its lines is the wheel's";
            return Err(Fault::new("speed_rpm", "missing", "the spindle's speed in r/min", why));
        };
        let said = said.rpm().within("speed_rpm", 10.0, 200_000.0, "r/min", "speed of the spindle")? / 60.0 / rate;
        enough(said, recording.signal.len())?;
        let per_sample = spectrum.refined(recording.signal, said, within)?;
        (Turning::evenly(recording.signal.len(), per_sample), per_sample, None, false)
    };
    let windowed = windowed(recording.signal, &turning)?;
    let turns = speed * (turning.range().len()) as f64;
    enough(speed, turning.range().len())?;
    let v = turning.part(&windowed, 1.0);
    let component_sd = neighbourhood(&turning, &windowed, 1.0, turns);
    let amplitude = v.norm();
    let phase_sd = if amplitude > 0.0 { (component_sd / amplitude).min(std::f64::consts::PI) } else { std::f64::consts::PI };
    let orders = (2..=HIGHEST_ORDER)
        .take_while(|o| f64::from(*o) * speed < 0.45)
        .map(|order| Order {
            order,
            amplitude: turning.part(&windowed, f64::from(order)).norm(),
            amplitude_sd: neighbourhood(&turning, &windowed, f64::from(order), turns),
        })
        .collect();
    let mean = turning.mean(|i| recording.signal[i]);
    let square = turning.mean(|i| (recording.signal[i] - mean).powi(2));
    Ok(OncePerTurn {
        speed: RotationalSpeed::from_rpm(60.0 * speed * rate),
        speed_sd_rpm: 60.0 * rate * speed_sd.map_or_else(|| line_sd(&turning, component_sd, amplitude), |(sd, _)| sd),
        turns: speed_sd.map_or(turns, |(_, turns)| turns),
        amplitude,
        amplitude_sd: component_sd,
        phase_rad: mark.then(|| (wrap_pi(v.arg()), phase_sd)),
        orders,
        rest_rms: (square - 0.5 * amplitude * amplitude).max(0.0).sqrt(),
        strongest: spectrum.strongest(speed, rate),
        flat_top_share: flat_top_share(recording.signal),
    })
}

fn check_channel(field: &str, channel: Option<&[f64]>, length: usize) -> Result<(), Fault> {
    let Some(channel) = channel else { return Ok(()) };
    if channel.len() < FEWEST_SAMPLES || channel.len() > MOST_SAMPLES {
        let why = "record for some seconds: long enough for the noise to average out, and no longer";
        return Err(Fault::new(field, channel.len(), format!("{FEWEST_SAMPLES} to {MOST_SAMPLES} samples"), why));
    }
    if channel.len() != length {
        return Err(Fault::new(field, channel.len(), format!("{length} samples, as the signal has"), "both channels are of one recording"));
    }
    if let Some(i) = channel.iter().position(|v| !v.is_finite() || v.abs() > 1e15) {
        return Err(Fault::new(format!("{field}[{i}]"), channel[i], "finite samples", "a sample is not a number"));
    }
    Ok(())
}

fn agrees(said: RotationalSpeed, found_rpm: f64, within: f64) -> Result<(), Fault> {
    if (said.rpm() / found_rpm - 1.0).abs() <= within {
        return Ok(());
    }
    Err(Fault::new(
        "speed_rpm",
        said.rpm(),
        format!("about {found_rpm:.0} r/min, as the mark passes"),
        "the mark's channel shows another speed: one pulse a turn is needed, and the true speed",
    ))
}

fn enough(turns_per_sample: f64, samples: usize) -> Result<(), Fault> {
    if turns_per_sample * FEWEST_A_TURN > 1.0 {
        let why = "the recording is sampled too slowly for this speed";
        return Err(Fault::new("rate_hz", "too low", format!("{FEWEST_A_TURN} samples a turn at least"), why));
    }
    let turns = turns_per_sample * samples as f64;
    // A recording that begins and ends at the mark has its turns but for rounding.
    if turns < FEWEST_TURNS as f64 - 0.5 {
        let why = "the recording is too short: the noise beside the line could not be told from the line";
        return Err(Fault::new("signal", format!("{turns:.1} turns"), format!("{FEWEST_TURNS} turns at least"), why));
    }
    Ok(())
}

fn windowed(signal: &[f64], turning: &Turning) -> Result<Vec<f64>, Fault> {
    let mean = turning.mean(|i| signal[i]);
    let windowed: Vec<f64> = turning.range().map(|i| turning.window(i) * (signal[i] - mean)).collect();
    let largest = signal.iter().map(|x| x.abs()).fold(0.0, f64::max);
    // Rounding of the mean leaves last bits of a constant.
    if windowed.iter().all(|x| x.abs() <= 1e-14 * largest) {
        return Err(Fault::new(
            "signal",
            "a signal that does not move",
            "a vibration",
            "the recording is silent: is the sensor connected?",
        ));
    }
    Ok(windowed)
}

/// Standard deviation of each component of the phasor at `order`, from the lock-in three lines and more to either side.
fn neighbourhood(turning: &Turning, windowed: &[f64], order: f64, turns: f64) -> f64 {
    // Half an order away the next multiple's side begins.
    let offsets = (0..12).map(|k| (3.0 + 1.5 * f64::from(k)) / turns).filter(|o| *o <= 0.45);
    let mut squares: Vec<f64> = offsets.flat_map(|o| [order - o, order + o]).map(|o| turning.part(windowed, o).norm_sqr()).collect();
    let mid = squares.len() / 2;
    let (_, median, _) = squares.select_nth_unstable_by(mid, f64::total_cmp);
    // |Z|² of noise is exponentially distributed: its median is ln 2 of its mean.
    (0.5 * *median / LN_2).sqrt()
}

/// Standard deviation of the frequency of the lock-in's maximum, in turns a sample: the slope of the phase over the window.
fn line_sd(turning: &Turning, component_sd: f64, amplitude: f64) -> f64 {
    if amplitude <= 0.0 {
        return 0.5 / turning.range().len() as f64;
    }
    let n = turning.range().len() as f64;
    // For Hann's window: Σw = n/2, Σw² = 3n/8, and by integration Σwτ² = n³·(1/24 − 1/(4π²)), Σw²τ² = n³·(1/32 − 15/(64π²)).
    let pi2 = std::f64::consts::PI.powi(2);
    let (w, w2, wt2, w2t2) = (n / 2.0, 3.0 * n / 8.0, n.powi(3) * (1.0 / 24.0 - 0.25 / pi2), n.powi(3) * (1.0 / 32.0 - 15.0 / 64.0 / pi2));
    component_sd / amplitude * w * (w2t2 / w2).sqrt() / wt2 / TAU
}

/// Share of samples in a flat top or bottom, as a recorder cuts what is too loud.
///
/// A pile at the extreme value at least five times as high as the next two values together counts; the crest of a coarsely sampled sine
/// makes no such pile (its next value is the more frequent).
pub fn flat_top_share(signal: &[f64]) -> f64 {
    let pile = |sign: f64| {
        // The three most extreme values that differ, with how often they occur.
        let mut top: [(f64, usize); 3] = [(f64::NEG_INFINITY, 0); 3];
        for &x in signal {
            let x = sign * x;
            if let Some(same) = top.iter_mut().find(|t| t.0 == x) {
                same.1 += 1;
            } else if let Some(place) = top.iter().position(|t| x > t.0) {
                top[place..].rotate_right(1);
                top[place] = (x, 1);
            }
        }
        let [(_, most), (_, next), (_, third)] = top;
        if most >= 10 && most > 5 * (next + third) && next > 0 { most } else { 0 }
    };
    (pile(1.0) + pile(-1.0)) as f64 / signal.len().max(1) as f64
}

/// Spectrum under Hann's window, amplitudes scaled to those of sines.
struct Spectrum {
    samples: usize,
    amplitude: Vec<f64>,
}

impl Spectrum {
    fn of(signal: &[f64]) -> Self {
        let n = signal.len();
        let even = Turning::evenly(n, 0.0);
        let mean = even.mean(|i| signal[i]);
        let mut x: Vec<f64> = (0..n).map(|i| even.window(i) * (signal[i] - mean)).collect();
        let transform = RealFftPlanner::<f64>::new().plan_fft_forward(n);
        let mut spectrum = transform.make_output_vec();
        // It refuses only vectors of a wrong length, and these are its own.
        let amplitude = match transform.process(&mut x, &mut spectrum) {
            Ok(()) => spectrum.iter().map(|z| z.norm() * 4.0 / n as f64).collect(),
            Err(_) => vec![0.0; n / 2 + 1],
        };
        Self { samples: n, amplitude }
    }

    /// The line near `said` turns a sample, at the maximum of the lock-in.
    fn refined(&self, signal: &[f64], said: f64, within: f64) -> Result<f64, Fault> {
        let n = self.samples as f64;
        let (low, high) = (said * (1.0 - within), said * (1.0 + within));
        let bins = ((low * n).floor() as usize).max(1)..=((high * n).ceil() as usize).min(self.amplitude.len() - 1);
        let best = bins.max_by(|a, b| self.amplitude[*a].total_cmp(&self.amplitude[*b])).unwrap_or(1) as f64;
        let windowed = windowed(signal, &Turning::evenly(self.samples, said))?;
        let size = |per_sample: f64| Turning::evenly(self.samples, per_sample).part(&windowed, 1.0).norm();
        // Over one line to either side of its crest Hann's line has one maximum: golden section.
        let (mut a, mut b) = ((best - 1.0) / n, (best + 1.0) / n);
        let golden = 0.5 * (5f64.sqrt() - 1.0);
        let (mut c, mut d) = (b - golden * (b - a), a + golden * (b - a));
        let (mut fc, mut fd) = (size(c), size(d));
        // To 1e-6 of a line's width: the lock-in's loss there is beyond the last digits.
        for _ in 0..30 {
            if fc > fd {
                (b, d, fd) = (d, c, fc);
                c = b - golden * (b - a);
                fc = size(c);
            } else {
                (a, c, fc) = (c, d, fd);
                d = a + golden * (b - a);
                fd = size(d);
            }
        }
        Ok((0.5 * (a + b)).clamp(low.min(said), high.max(said)))
    }

    fn strongest(&self, turns_per_sample: f64, rate: f64) -> StrongestLine {
        let n = self.samples as f64;
        // Below a fifth of the speed lie drift and the swaying of the floor.
        let first = ((0.2 * turns_per_sample * n).ceil() as usize).max(3);
        let best = (first..self.amplitude.len()).max_by(|a, b| self.amplitude[*a].total_cmp(&self.amplitude[*b])).unwrap_or(first);
        let at = |k: usize| self.amplitude.get(k).copied().unwrap_or(0.0);
        // Between two lines of Hann's window the crest follows from their ratio. Source: Grandke, IEEE Trans. Instrum. Meas. 32 (1983) 350.
        let (side, neighbour) = if at(best + 1) > at(best - 1) { (1.0, at(best + 1)) } else { (-1.0, at(best - 1)) };
        let ratio = if at(best) > 0.0 { neighbour / at(best) } else { 0.5 };
        let off = ((2.0 * ratio - 1.0) / (ratio + 1.0)).clamp(0.0, 0.5);
        let line = best as f64 + side * off;
        // Height of Hann's line at a distance δ from its crest: sinc(δ)/(1 − δ²).
        let droop = if off > 0.0 { (std::f64::consts::PI * off).sin() / (std::f64::consts::PI * off) / (1.0 - off * off) } else { 1.0 };
        let order = line / n / turns_per_sample;
        let of_the_wheel = order > 0.5 && (order - order.round()).abs() * turns_per_sample * n < 2.0 + 0.002 * line;
        StrongestLine { frequency_hz: line / n * rate, amplitude: at(best) / droop, of_the_wheel }
    }
}
