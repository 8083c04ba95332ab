//! `estimate`, `place`, `next`, `fit-log`, `bench`: an input file to the door.

use super::input::{read_file, read_input, read_stdin};
use super::quantity::{plain, time_s, unbalance_g_mm};
use anyhow::bail;
use clap::Args;
use serde_json::{Value, json};
use std::path::PathBuf;
use stillwheel_door::fit_log::FitLogIn;
use stillwheel_door::log_csv::parse_log_csv;
use stillwheel_door::read_bytes;

/// An input file.
#[derive(Args)]
pub(super) struct FileArgs {
    /// Input, JSON or TOML; - or nothing: standard input. `stillwheel compute NAME --example` prints one.
    file: Option<PathBuf>,
}

impl FileArgs {
    pub(super) fn input(&self) -> anyhow::Result<Value> {
        read_input(self.file.as_deref())
    }
}

/// Flags of `fit-log`.
#[derive(Args)]
#[command(after_help = "Example: stillwheel fit-log swing.csv --inertia 0.0082 --inertia-sd 5%")]
pub(super) struct FitLogArgs {
    /// A log as .csv with two columns, time in s and angle of the zero mark in degrees; or an input, JSON or TOML; - or
    /// nothing: either on standard input.
    file: Option<PathBuf>,
    /// For a .csv: inertia of the rotor as it swings, kg·m²; without it only ratios to the inertia are told.
    #[arg(long, value_name = "KG·M²", value_parser = plain)]
    inertia: Option<f64>,
    /// For a .csv: relative standard deviation of the inertia, such as 5%.
    #[arg(long, value_name = "SHARE", value_parser = plain, requires = "inertia")]
    inertia_sd: Option<f64>,
    /// For a .csv: standard deviation of the stand's drift torque, if it is known.
    #[arg(long, value_name = "UNBALANCE", value_parser = unbalance_g_mm, requires = "inertia")]
    drift_sd: Option<f64>,
    /// For a .csv: the stand may rub dry (ways, rollers).
    #[arg(long)]
    dry_friction: bool,
    /// For a .csv of finger taps at the moment a mark passes: standard deviation of the times.
    #[arg(long, value_name = "TIME", value_parser = time_s)]
    tap_sd: Option<f64>,
}

impl FitLogArgs {
    pub(super) fn input(&self) -> anyhow::Result<Value> {
        let csv = self.file.as_ref().filter(|f| f.extension().is_some_and(|e| e.eq_ignore_ascii_case("csv")));
        let piped = self.file.as_ref().is_none_or(|f| f.as_os_str() == "-");
        let rows = match csv {
            Some(csv) => read_file(csv)?,
            None if piped => read_stdin()?,
            None => Vec::new(),
        };
        if csv.is_none() && !(piped && is_table(&rows)) {
            if self.inertia.is_some() || self.dry_friction || self.tap_sd.is_some() {
                bail!("these flags go with a .csv; any other input holds its own values");
            }
            return if piped { Ok(read_bytes(&rows, None)?) } else { read_input(self.file.as_deref()) };
        }
        let (t_s, angle_deg) = parse_log_csv(&rows)?;
        let input = FitLogIn {
            t_s,
            angle_deg,
            inertia_kg_m2: self.inertia,
            inertia_rel_sd: self.inertia_sd.unwrap_or(0.0),
            drift_prior_sd_g_mm: self.drift_sd,
            dry_friction_possible: self.dry_friction,
            angle_sd_deg: None,
            time_sd_s: self.tap_sd,
            shared_errors: None,
        };
        Ok(serde_json::to_value(input)?)
    }
}

/// Whether a text without a name is a table: JSON begins with a brace, and each TOML document has an equals sign.
fn is_table(bytes: &[u8]) -> bool {
    let first = bytes.iter().find(|b| !b.is_ascii_whitespace());
    first.is_some_and(|b| *b != b'{' && *b != b'[') && !bytes.contains(&b'=')
}

/// Flags of `bench`.
#[derive(Args)]
pub(super) struct BenchArgs {
    /// Input, JSON or TOML; - for standard input; nothing: the example.
    file: Option<PathBuf>,
    /// Seed, in place of the input's own.
    #[arg(long)]
    seed: Option<u64>,
}

impl BenchArgs {
    pub(super) fn input(&self) -> anyhow::Result<Value> {
        let mut input = match &self.file {
            Some(file) => read_input(Some(file))?,
            None => (stillwheel_door::find("virtual-bench")?.example)(),
        };
        if let (Some(seed), Some(fields)) = (self.seed, input.as_object_mut()) {
            fields.insert("seed".into(), json!(seed));
        }
        Ok(input)
    }
}
