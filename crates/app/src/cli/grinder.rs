//! `machine`, `head`, `once-per-turn`: a sheet, taps and recordings to the door; `trim` and `mounting` take files, as
//! [`super::bench::FileArgs`].

use super::input::{read_file, read_input};
use super::quantity::{plain, speed_rpm};
use anyhow::bail;
use clap::Args;
use serde_json::{Value, json};
use std::path::PathBuf;
use stillwheel_door::Fault;
use stillwheel_door::head_response::{HeadResponseOut, PullIn, head_response_of};
use stillwheel_door::machine_sheet::read_machine_sheet;
use stillwheel_door::once_per_turn::{OncePerTurnOut, once_per_turn_of};
use stillwheel_door::recording::{Channels, read_recording};

/// A machine's sheet.
#[derive(Args)]
pub(super) struct MachineArgs {
    /// The sheet as TOML, or an input of `compute machine`, JSON; - or nothing: such an input on standard input.
    file: Option<PathBuf>,
}

impl MachineArgs {
    pub(super) fn input(&self) -> anyhow::Result<Value> {
        let toml = self.file.as_ref().filter(|f| f.extension().is_some_and(|e| e.eq_ignore_ascii_case("toml")));
        let Some(toml) = toml else { return read_input(self.file.as_deref()) };
        let bytes = read_file(toml)?;
        let text = std::str::from_utf8(&bytes).map_err(|_| Fault::new("file", "not UTF-8", "text", "a sheet is a text file"))?;
        Ok(json!({ "sheet": read_machine_sheet(text)? }))
    }
}

/// Flags of `head`.
#[derive(Args)]
#[command(after_help = "Example: stillwheel head --pull 0=0 --pull 100=3.6 --pull 200=7.1 --tap tap1.wav --tap tap2.wav")]
pub(super) struct HeadArgs {
    /// A pull: force in N = reading of the indicator in µm. May be repeated.
    #[arg(long, value_name = "N=µM", value_parser = pull)]
    pull: Vec<PullIn>,
    /// How well the indicator is read, µm, standard deviation.
    #[arg(long, value_name = "µM", value_parser = plain, default_value = "0.5")]
    indicator_sd: f64,
    /// A recording of one tap, WAV or a table of time and reading. May be repeated.
    #[arg(long, value_name = "FILE")]
    tap: Vec<PathBuf>,
}

fn pull(text: &str) -> Result<PullIn, String> {
    let (force, read) = text.split_once('=').ok_or("write force=reading, such as 100=3.6")?;
    Ok(PullIn { force_n: plain(force)?, deflection_um: plain(read)? })
}

impl HeadArgs {
    pub(super) fn answer(&self) -> anyhow::Result<HeadResponseOut> {
        let taps = self.tap.iter().map(|f| Ok(read_recording(&read_file(f)?)?)).collect::<anyhow::Result<Vec<Channels>>>()?;
        let recordings: Vec<(f64, &[f64])> = taps.iter().map(|c| (c.rate_hz, c.samples[0].as_slice())).collect();
        Ok(head_response_of(&self.pull, self.indicator_sd, &recordings)?)
    }
}

/// Flags of `once-per-turn`.
#[derive(Args)]
#[command(after_help = "Example: stillwheel once-per-turn run1.wav --speed 2860 --tach 2")]
pub(super) struct OncePerTurnArgs {
    /// The recording: WAV, or a table whose first column is the time.
    file: PathBuf,
    /// Speed of the spindle about; needed without a mark's channel.
    #[arg(long, value_name = "SPEED", value_parser = speed_rpm)]
    speed: Option<f64>,
    /// Channel of the sensor, from 1.
    #[arg(long, value_name = "N", default_value = "1")]
    signal: usize,
    /// Channel of the mark, one pulse a turn.
    #[arg(long, value_name = "N")]
    tach: Option<usize>,
}

impl OncePerTurnArgs {
    pub(super) fn answer(&self) -> anyhow::Result<OncePerTurnOut> {
        if self.signal == 0 || self.tach == Some(0) {
            bail!("channels are counted from 1");
        }
        let file = read_recording(&read_file(&self.file)?)?;
        Ok(once_per_turn_of(&file, self.signal - 1, self.tach.map(|k| k - 1), self.speed)?)
    }
}
