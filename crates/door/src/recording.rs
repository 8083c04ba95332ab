//! Recordings of a sensor: the samples of a WAV or CSV file.
//!
//! In: the bytes of the file. Out: samples a second and one list of samples a channel, or a [`Fault`] at `file`. A WAV file's integers are
//! scaled so that full scale is 1; floats and the numbers of a table are taken as they are.

use crate::Fault;
use crate::log_table::LogTable;
use std::io::Cursor;
use stillwheel_physics::grinder::trim::MOST_SAMPLES;

/// Most channels of a WAV file.
const MOST_CHANNELS: u16 = 16;
/// How unevenly a table's times may run, as a share of the step: rounding of printed times, not missing rows.
const UNEVEN: f64 = 0.5;

/// A recording with its channels.
#[derive(Clone, Debug, PartialEq)]
pub struct Channels {
    /// Samples a second.
    pub rate_hz: f64,
    /// Names of the channels.
    pub names: Vec<String>,
    /// Samples, a list a channel; all of one length.
    pub samples: Vec<Vec<f64>>,
}

impl Channels {
    /// The channel at a place from 0.
    ///
    /// # Errors
    /// A [`Fault`] at `field` that tells how many there are.
    pub fn channel(&self, field: &str, k: usize) -> Result<&[f64], Fault> {
        let missing = || Fault::new(field, k + 1, format!("1 to {}", self.samples.len()), "the recording has no such channel");
        self.samples.get(k).map(Vec::as_slice).ok_or_else(missing)
    }
}

/// The recording in a file: WAV by its first letters, else a table whose first column is the time in seconds.
///
/// # Errors
/// As [`read_wav`] and [`read_table`].
pub fn read_recording(bytes: &[u8]) -> Result<Channels, Fault> {
    if bytes.starts_with(b"RIFF") { read_wav(bytes) } else { read_table(bytes) }
}

fn refused(value: impl Into<crate::FaultValue>, allowed: &str, why: impl Into<String>) -> Fault {
    Fault::new("file", value, allowed, why)
}

/// Samples of a WAV file: integers of 8, 16, 24 or 32 bits, or floats of 32 bits.
///
/// # Errors
/// A [`Fault`] for a file that is cut, damaged or compressed, of more than 16 channels or [`MOST_SAMPLES`] samples a channel, without samples, or
/// with a sample that is not a finite number.
pub fn read_wav(bytes: &[u8]) -> Result<Channels, Fault> {
    const ALLOWED: &str = "a WAV file, uncompressed, of 8, 16, 24 or 32 bits, or 32-bit floats";
    check_format(bytes)?;
    let damaged =
        |e: hound::Error| refused("a damaged WAV file", ALLOWED, format!("the file could not be read ({e}): record or export it again"));
    let mut reader = hound::WavReader::new(Cursor::new(bytes)).map_err(damaged)?;
    let spec = reader.spec();
    if spec.channels == 0 || spec.channels > MOST_CHANNELS {
        return Err(refused(usize::from(spec.channels), "1 to 16 channels", "no sensor and mark need so many"));
    }
    let channels = usize::from(spec.channels);
    let length = reader.duration() as usize;
    if length == 0 || length > MOST_SAMPLES {
        let allowed = format!("1 to {MOST_SAMPLES} samples a channel");
        return Err(refused(length, &allowed, "some seconds at speed are enough: cut the recording, or sample it more slowly"));
    }
    let mut samples = vec![Vec::with_capacity(length.min(bytes.len())); channels];
    let mut put = |i: usize, v: f64| samples[i % channels].push(v);
    match spec.sample_format {
        hound::SampleFormat::Float => {
            for (i, s) in reader.samples::<f32>().enumerate() {
                let v = f64::from(s.map_err(damaged)?);
                if !v.is_finite() {
                    return Err(refused(v, "finite samples", format!("sample {} is not a number", i / channels + 1)));
                }
                put(i, v);
            }
        }
        hound::SampleFormat::Int => {
            let full = 2f64.powi(i32::from(spec.bits_per_sample) - 1);
            for (i, s) in reader.samples::<i32>().enumerate() {
                put(i, f64::from(s.map_err(damaged)?) / full);
            }
        }
    }
    let names = (1..=channels).map(|k| format!("channel {k}")).collect();
    Ok(Channels { rate_hz: f64::from(spec.sample_rate), names, samples })
}

/// What the header must say before the reader is asked: it divides by these.
fn check_format(bytes: &[u8]) -> Result<(), Fault> {
    let at = bytes.windows(4).take(4096).position(|w| w == b"fmt ");
    let field = |offset: usize| at.and_then(|a| bytes.get(a + offset..a + offset + 2)).map(|b| u16::from_le_bytes([b[0], b[1]]));
    match (field(10), field(20), field(22)) {
        (Some(1..), Some(1..), Some(8 | 16 | 24 | 32)) => Ok(()),
        _ => Err(refused(
            "an unknown WAV format",
            "uncompressed, of 8, 16, 24 or 32 bits, or 32-bit floats",
            "the head of the file names no format that is known here: export it as uncompressed WAV",
        )),
    }
}

/// Samples of a table: the first column is the time, the others are channels.
///
/// # Errors
/// A [`Fault`] as [`LogTable::read`] and [`LogTable::numbers`] give it; for fewer than two columns or rows, and for times that do not run evenly.
pub fn read_table(bytes: &[u8]) -> Result<Channels, Fault> {
    let table = LogTable::read(bytes)?;
    let names = table.names();
    let mut columns = table.numbers(&(0..names.len()).collect::<Vec<_>>())?;
    let t = columns.remove(0);
    let (Some(first), Some(last)) = (t.first(), t.last()) else {
        return Err(refused("no rows", "rows of time and samples", "the file holds no samples"));
    };
    if t.len() < 2 || t.len() > MOST_SAMPLES || columns.is_empty() {
        let allowed = format!("2 to {MOST_SAMPLES} rows of a time and one sample or more");
        return Err(refused(format!("{} rows of {} columns", t.len(), names.len()), &allowed, "a recording needs times and samples"));
    }
    // Times may be in milliseconds: the heading says so.
    let in_ms = names[0].to_lowercase().split(|c: char| !c.is_alphanumeric()).any(|w| w == "ms" || w == "milliseconds");
    let step = (last - first) / (t.len() - 1) as f64 * if in_ms { 1e-3 } else { 1.0 };
    if step <= 0.0 || !step.is_finite() {
        return Err(refused(step, "times that rise", "the first column must be the time in seconds (or ms, if its heading says so)"));
    }
    let scale = if in_ms { 1e-3 } else { 1.0 };
    if let Some(k) = (0..t.len()).find(|&k| (scale * (t[k] - first) - step * k as f64).abs() > UNEVEN * step) {
        let why = "the times do not run evenly: samples are missing, or the first column is not the time";
        return Err(Fault::new(format!("row of sample {}", k + 1), t[k], "the same step from row to row", why));
    }
    Ok(Channels { rate_hz: 1.0 / step, names: names[1..].to_vec(), samples: columns })
}
