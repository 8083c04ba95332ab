//! `once-per-turn`: the part of a recording that turns with the wheel, with its uncertainty.

use crate::Fault;
use crate::recording::Channels;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::Ranged;
use stillwheel_physics::grinder::trim::{self as physics, Looked, Recording};
use stillwheel_physics::quantity::RotationalSpeed;

/// Input of `once-per-turn`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OncePerTurnIn {
    /// Samples a second, Hz (1 to 1e7; at least four a turn).
    pub rate_hz: f64,
    /// Samples of the vibration sensor, in any unit (64 to 4,000,000; twenty turns at least).
    pub signal: Vec<f64>,
    /// Samples of the mark's channel, one pulse a turn; with it the phase is told.
    #[serde(default)]
    pub tach: Option<Vec<f64>>,
    /// Speed of the spindle about, r/min (10 to 200,000); may be left out with a mark's channel.
    #[serde(default)]
    pub speed_rpm: Option<f64>,
    /// How far the true speed may be from it, percent (0.1 to 30).
    #[serde(default = "five")]
    pub within_percent: f64,
}

/// An induction motor turns up to some percent slower than its plate says: common practice, no source.
fn five() -> f64 {
    5.0
}

/// The part at a multiple of the speed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct OrderOut {
    /// Which multiple.
    pub order: u32,
    /// Amplitude (zero to peak), in the signal's unit.
    pub amplitude: f64,
    /// Standard deviation, in the same unit.
    pub amplitude_sd: f64,
}

/// Output of `once-per-turn`. Amplitudes are zero to peak, in the signal's unit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct OncePerTurnOut {
    /// A sentence about it.
    pub says: String,
    /// True speed, r/min.
    pub speed_rpm: f64,
    /// Its standard deviation, r/min.
    pub speed_sd_rpm: f64,
    /// Turns used.
    pub turns: f64,
    /// Amplitude of the once-per-turn part.
    pub amplitude: f64,
    /// Its standard deviation, from what is beside the line.
    pub amplitude_sd: f64,
    /// Whether it stands out of what is beside it.
    pub stands_out: bool,
    /// Phase against the mark, degrees in (−180, 180]: the signal is `A·cos(θ + phase)`, θ from the mark's passage; with a mark.
    pub phase_deg: Option<f64>,
    /// Standard deviation of the phase, degrees.
    pub phase_sd_deg: Option<f64>,
    /// Multiples of the speed, as far as the sampling reaches, to the sixth.
    pub orders: Vec<OrderOut>,
    /// Root mean square of all that is not once per turn.
    pub rest_rms: f64,
    /// Frequency of the strongest line of all, Hz.
    pub strongest_hz: f64,
    /// Amplitude of that line.
    pub strongest_amplitude: f64,
    /// Whether that line is the speed or a multiple of it.
    pub strongest_is_the_wheels: bool,
    /// What to beware of.
    pub cautions: Vec<String>,
}

/// Share of samples at a flat top above which the amplitude means nothing.
const CUT: f64 = 1e-3;

/// Find it.
///
/// # Errors
/// A [`Fault`] for a recording that is cut at its loudest, silent, too short or too coarse, without speed and mark, whose mark is missing
/// at some turn, and for any value out of its range.
pub fn once_per_turn(input: &OncePerTurnIn) -> Result<OncePerTurnOut, Fault> {
    let within = input.within_percent.within("within_percent", 0.1, 30.0, "percent", "how far the true speed may be from the one given")?;
    let recording = Recording { rate_hz: input.rate_hz, signal: &input.signal, tach: input.tach.as_deref() };
    found(&recording, input.speed_rpm, within / 100.0)
}

/// The same on channels of a file, without copying them: places of the channels from 0.
///
/// # Errors
/// As [`once_per_turn`]; also for a channel that the file does not have.
pub fn once_per_turn_of(file: &Channels, signal: usize, tach: Option<usize>, speed_rpm: Option<f64>) -> Result<OncePerTurnOut, Fault> {
    let recording = Recording {
        rate_hz: file.rate_hz,
        signal: file.channel("signal_channel", signal)?,
        tach: tach.map(|k| file.channel("tach_channel", k)).transpose()?,
    };
    found(&recording, speed_rpm, five() / 100.0)
}

fn found(recording: &Recording<'_>, speed_rpm: Option<f64>, within: f64) -> Result<OncePerTurnOut, Fault> {
    let got = physics::once_per_turn(recording, &Looked { speed: speed_rpm.map(RotationalSpeed::from_rpm), within })?;
    if got.flat_top_share > CUT {
        return Err(Fault::new(
            "signal",
            format!("{:.1} % of the samples at a flat top", 100.0 * got.flat_top_share),
            "a recording below the recorder's limit throughout",
            "the recording was too loud and is cut: its amplitudes are too small by an unknown amount. Turn the gain down and record again",
        ));
    }
    let mut cautions = Vec::new();
    if !got.stands_out() {
        cautions
            .push("At this speed nothing stands out of what is beside it: is the speed right, and the sensor on the wheel head?".into());
    }
    if !got.strongest.of_the_wheel && got.strongest.amplitude > got.amplitude {
        cautions.push(format!(
            "The strongest line is at {:.2} Hz ({:.0} a minute), which is not the wheel’s speed nor a multiple of it: another part shakes more \
             than the wheel, or the speed given is wrong.",
            got.strongest.frequency_hz,
            60.0 * got.strongest.frequency_hz
        ));
    }
    if let Some(o) = got.orders.iter().find(|o| o.amplitude > got.amplitude && o.amplitude > 4.0 * o.amplitude_sd) {
        cautions.push(format!("{} times the speed shakes more than once per turn: that is not unbalance.", o.order));
    }
    let (phase_deg, phase_sd_deg) = got.phase_rad.map(|(p, sd)| (p.to_degrees(), sd.to_degrees())).unzip();
    let phase = phase_deg.zip(phase_sd_deg).map_or_else(String::new, |(p, sd)| format!(", phase {p:.1}° ± {:.1}°", 1.96 * sd));
    Ok(OncePerTurnOut {
        says: format!(
            "Once per turn: {} ± {}{phase}, at {:.2} r/min over {:.0} turns.",
            significant(got.amplitude, 4),
            significant(1.96 * got.amplitude_sd, 2),
            got.speed.rpm(),
            got.turns
        ),
        speed_rpm: got.speed.rpm(),
        speed_sd_rpm: got.speed_sd_rpm,
        turns: got.turns,
        amplitude: got.amplitude,
        amplitude_sd: got.amplitude_sd,
        stands_out: got.stands_out(),
        phase_deg,
        phase_sd_deg,
        orders: got.orders.iter().map(|o| OrderOut { order: o.order, amplitude: o.amplitude, amplitude_sd: o.amplitude_sd }).collect(),
        rest_rms: got.rest_rms,
        strongest_hz: got.strongest.frequency_hz,
        strongest_amplitude: got.strongest.amplitude,
        strongest_is_the_wheels: got.strongest.of_the_wheel,
        cautions,
    })
}

/// A number with so many digits, whatever its size: the signal's unit is anybody's.
pub(crate) fn significant(v: f64, digits: i32) -> String {
    if v == 0.0 || !v.is_finite() {
        return "0".into();
    }
    let places = (digits - 1 - v.abs().log10().floor() as i32).clamp(0, 12);
    format!("{v:.*}", places as usize)
}

/// The demo's wheel at 2,848 r/min with a mark: half a second at 220 Hz, to two decimals.
pub(crate) fn example() -> OncePerTurnIn {
    let turn = |i: u32| f64::from(i) * 2848.0 / 60.0 / 220.0;
    let wave = |i: u32| {
        let theta = std::f64::consts::TAU * turn(i);
        // A small foreign line, so that what is beside the wheel's is not nothing.
        1.4 * (theta + 0.6).cos() + 0.3 * (2.0 * theta).sin() + 0.05 * (2.3 * f64::from(i)).sin()
    };
    let round = |v: f64| (100.0 * v).round() / 100.0;
    OncePerTurnIn {
        rate_hz: 220.0,
        signal: (0..110).map(|i| round(wave(i))).collect(),
        tach: Some((0..110).map(|i| round((1.0 - 3.0 * (turn(i).fract() - 0.5).abs()).max(0.0))).collect()),
        speed_rpm: Some(2860.0),
        within_percent: five(),
    }
}
