//! `rotor`, `allowance`, `swing`: flags with units, or an input file, to the door's inputs.

use super::input::read_input;
use super::quantity::{angle_deg, length_mm, mass_g, plain, speed_rpm, time_s, unbalance_g_mm};
use clap::{Args, ValueEnum};
use serde_json::Value;
use std::path::PathBuf;
use stillwheel_door::allowance::{AllowanceIn, FinishIn, MeasuredResidual, WeightRing, WheelMaker};
use stillwheel_door::ground_face::HeadIn;
use stillwheel_door::look::Sense;
use stillwheel_door::look_swing::LookSwingIn;
use stillwheel_door::rotor::{Body, RotorIn, RotorSwing, RotorTrial};

/// Flags of `rotor`.
#[derive(Args)]
#[command(after_help = "Example: stillwheel rotor --body 'name=wheel,outer=200mm,inner=51mm,width=20mm,density=2.1' \
    --body 'name=adapter,outer=90,inner=20,width=28,mass=980g'")]
pub(super) struct RotorArgs {
    /// Input file, JSON or TOML, instead of the flags; - for standard input.
    #[arg(conflicts_with_all = ["body", "bare_swing"])]
    file: Option<PathBuf>,
    /// A body: outer=, inner= (0), width=, and mass= (with its unit) or density= (g/cm³), name=. May be repeated.
    #[arg(long, value_name = "KEY=VALUE,...", value_parser = body)]
    body: Vec<Body>,
    /// Radius of the arbor where it rolls on ways.
    #[arg(long, value_name = "LENGTH", value_parser = length_mm)]
    journal_radius: Option<f64>,
    /// Time of one full swing without a trial.
    #[arg(long, value_name = "TIME", value_parser = time_s, requires_all = ["trial_swing", "amplitude", "trial_mass", "trial_radius"])]
    bare_swing: Option<f64>,
    /// Time of one full swing with a trial on the heavy side.
    #[arg(long, value_name = "TIME", value_parser = time_s, requires = "bare_swing")]
    trial_swing: Option<f64>,
    /// Amplitude of both swings, from the rest place.
    #[arg(long, value_name = "ANGLE", value_parser = angle_deg, requires = "bare_swing")]
    amplitude: Option<f64>,
    /// Mass of the trial, with its unit.
    #[arg(long, value_name = "MASS", value_parser = mass_g, requires = "bare_swing")]
    trial_mass: Option<f64>,
    /// Radius of the trial's mass centre.
    #[arg(long, value_name = "LENGTH", value_parser = length_mm, requires = "bare_swing")]
    trial_radius: Option<f64>,
}

impl RotorArgs {
    pub(super) fn input(&self) -> anyhow::Result<Value> {
        if let Some(file) = &self.file {
            return read_input(Some(file));
        }
        let swing = |time_s: f64, amplitude_deg: f64, trial: Option<RotorTrial>| RotorSwing {
            swings: 1.0,
            time_s,
            // A thumb on a stopwatch, as at the door.
            time_sd_s: 0.2,
            amplitude_deg,
            settle_deg: None,
            settle_sd_deg: 3.5,
            trial,
        };
        let swings = match (self.bare_swing, self.trial_swing, self.amplitude, self.trial_mass, self.trial_radius) {
            (Some(bare), Some(loaded), Some(a), Some(mass_g), Some(radius_mm)) => {
                vec![swing(bare, a, None), swing(loaded, a, Some(RotorTrial { mass_g, radius_mm, at_deg: None }))]
            }
            _ => Vec::new(),
        };
        let input = RotorIn { bodies: self.body.clone(), journal_radius_mm: self.journal_radius, swings };
        Ok(serde_json::to_value(input)?)
    }
}

/// One `--body`.
fn body(text: &str) -> Result<Body, String> {
    let mut body =
        Body { name: None, outer_diameter_mm: f64::NAN, inner_diameter_mm: 0.0, width_mm: f64::NAN, mass_g: None, density_g_cm3: None };
    let mut seen = Vec::new();
    for part in text.split(',') {
        let (key, value) = part.split_once('=').ok_or_else(|| format!("{part:?} is no KEY=VALUE (write decimals with a point here)"))?;
        let key = key.trim();
        if seen.contains(&key) {
            return Err(format!("{key} stands twice"));
        }
        seen.push(key);
        let in_key = |e: String| format!("{key}: {e}");
        match key {
            "name" => body.name = Some(value.trim().to_owned()),
            "outer" => body.outer_diameter_mm = length_mm(value).map_err(in_key)?,
            "inner" => body.inner_diameter_mm = length_mm(value).map_err(in_key)?,
            "width" => body.width_mm = length_mm(value).map_err(in_key)?,
            "mass" => body.mass_g = Some(mass_g(value).map_err(in_key)?),
            "density" => body.density_g_cm3 = Some(plain(value).map_err(in_key)?),
            other => return Err(format!("{other:?} is none of outer, inner, width, mass, density, name")),
        }
    }
    match ["outer", "width"].iter().find(|k| !seen.contains(*k)) {
        Some(missing) => Err(format!("{missing}= is missing")),
        None => Ok(body),
    }
}

/// Flags of `allowance`.
#[derive(Args)]
#[command(after_help = "Example: stillwheel allowance --mass 2.9kg --speed 2860 --diameter 200mm --grade 1 --ring-radius 38 --weight 16g")]
pub(super) struct AllowanceArgs {
    /// Input file, JSON or TOML, instead of the flags; - for standard input.
    #[arg(conflicts_with_all = ["mass", "speed", "diameter"])]
    file: Option<PathBuf>,
    /// Mass of the rotor, with its unit.
    #[arg(long, value_name = "MASS", value_parser = mass_g, required_unless_present = "file")]
    mass: Option<f64>,
    /// Speed of the machine.
    #[arg(long, value_name = "SPEED", value_parser = speed_rpm, required_unless_present = "file")]
    speed: Option<f64>,
    /// Diameter of the wheel now.
    #[arg(long, value_name = "LENGTH", value_parser = length_mm, required_unless_present = "file")]
    diameter: Option<f64>,
    /// Maximum speed marked on the wheel, m/s.
    #[arg(long, value_name = "M/S", value_parser = plain)]
    marked_m_s: Option<f64>,
    /// Maximum speed marked on the wheel, r/min.
    #[arg(long, value_name = "SPEED", value_parser = speed_rpm)]
    marked_rpm: Option<f64>,
    /// Balance quality grade, mm/s (ISO 21940-11).
    #[arg(long, value_name = "G", value_parser = plain)]
    grade: Option<f64>,
    /// The wheel maker's factor k (ISO 6103).
    #[arg(long, value_name = "K", value_parser = plain, requires = "wheel_mass")]
    maker_k: Option<f64>,
    /// Mass of the wheel alone, with its unit.
    #[arg(long, value_name = "MASS", value_parser = mass_g, requires = "maker_k")]
    wheel_mass: Option<f64>,
    /// Height of waves that the ground face may have, µm; needs the wheel head's response and the table's speed.
    #[arg(long, value_name = "UM", value_parser = plain, requires_all = ["head_stiffness", "head_frequency", "head_damping", "table_speed"])]
    waviness: Option<f64>,
    /// Stiffness of the wheel head at the wheel, N/µm.
    #[arg(long, value_name = "N/UM", value_parser = plain, requires = "waviness")]
    head_stiffness: Option<f64>,
    /// Natural frequency of the wheel head, Hz.
    #[arg(long, value_name = "HZ", value_parser = plain, requires = "waviness")]
    head_frequency: Option<f64>,
    /// Damping ratio of the wheel head, such as 0.04.
    #[arg(long, value_name = "SHARE", value_parser = plain, requires = "waviness")]
    head_damping: Option<f64>,
    /// Speed of the table, m/min.
    #[arg(long, value_name = "M/MIN", value_parser = plain, requires = "waviness")]
    table_speed: Option<f64>,
    /// A limit of your own.
    #[arg(long, value_name = "UNBALANCE", value_parser = unbalance_g_mm)]
    limit: Option<f64>,
    /// Radius on which the mass centres of the weights run.
    #[arg(long, value_name = "LENGTH", value_parser = length_mm)]
    ring_radius: Option<f64>,
    /// Mass of one weight, with its unit.
    #[arg(long, value_name = "MASS", value_parser = mass_g, requires = "ring_radius")]
    weight: Option<f64>,
    /// A measured residual to judge.
    #[arg(long, value_name = "UNBALANCE", value_parser = unbalance_g_mm)]
    residual: Option<f64>,
    /// Error of that residual.
    #[arg(long, value_name = "UNBALANCE", value_parser = unbalance_g_mm, requires = "residual")]
    error: Option<f64>,
}

impl AllowanceArgs {
    fn finish(&self) -> Option<FinishIn> {
        Some(FinishIn {
            waviness_um: self.waviness?,
            head: HeadIn {
                stiffness_n_um: self.head_stiffness?,
                natural_frequency_hz: Some(self.head_frequency?),
                moving_mass_kg: None,
                damping_ratio: self.head_damping?,
            },
            table_speed_m_min: self.table_speed?,
        })
    }

    pub(super) fn input(&self) -> anyhow::Result<Value> {
        let (Some(mass), Some(speed_rpm), Some(wheel_diameter_mm)) = (self.mass, self.speed, self.diameter) else {
            return read_input(self.file.as_deref());
        };
        let input = AllowanceIn {
            mass_kg: mass / 1000.0,
            speed_rpm,
            wheel_diameter_mm,
            marked_max_m_s: self.marked_m_s,
            marked_max_rpm: self.marked_rpm,
            grade_mm_s: self.grade,
            wheel_maker: self.maker_k.zip(self.wheel_mass).map(|(k, wheel_mass_g)| WheelMaker { k, wheel_mass_g }),
            finish: self.finish(),
            typed_g_mm: self.limit,
            weight_ring: self.ring_radius.map(|radius_mm| WeightRing { radius_mm, weight_mass_g: self.weight }),
            measured: self.residual.map(|residual_g_mm| MeasuredResidual {
                residual_g_mm,
                random_parts_g_mm: Vec::new(),
                systematic_rest_g_mm: self.error.unwrap_or(0.0),
            }),
        };
        Ok(serde_json::to_value(input)?)
    }
}

/// Side on which it was let go.
#[derive(Clone, Copy, ValueEnum)]
enum Released {
    /// Counter-clockwise of the rest place, operator's side.
    CounterClockwise,
    /// Clockwise of it.
    Clockwise,
}

/// Flags of `swing`.
#[derive(Args)]
#[command(
    after_help = "Example: stillwheel swing --inertia 0.0082 --inertia-sd 5% --amplitude 60 --amplitude-sd 3 --time 12.4 --time-sd 0.2"
)]
pub(super) struct SwingArgs {
    /// Input file, JSON or TOML, instead of the flags; - for standard input.
    #[arg(conflicts_with_all = ["inertia", "amplitude"])]
    file: Option<PathBuf>,
    /// Inertia of the rotor as it swings, kg·m².
    #[arg(long, value_name = "KG·M²", value_parser = plain, required_unless_present = "file")]
    inertia: Option<f64>,
    /// Its relative standard deviation, such as 5%.
    #[arg(long, value_name = "SHARE", value_parser = plain, default_value = "0")]
    inertia_sd: f64,
    /// First amplitude from the rest place.
    #[arg(long, value_name = "ANGLE", value_parser = angle_deg, required_unless_present = "file")]
    amplitude: Option<f64>,
    /// Its standard deviation.
    #[arg(long, value_name = "ANGLE", value_parser = angle_deg, default_value = "0")]
    amplitude_sd: f64,
    /// Last amplitude, if it was read.
    #[arg(long, value_name = "ANGLE", value_parser = angle_deg)]
    amplitude_end: Option<f64>,
    /// Full swings timed, out and back.
    #[arg(long, value_name = "COUNT", value_parser = plain, default_value = "1")]
    swings: f64,
    /// Time of all the swings.
    #[arg(long, value_name = "TIME", value_parser = time_s, conflicts_with = "unbalance")]
    time: Option<f64>,
    /// Its standard deviation.
    #[arg(long, value_name = "TIME", value_parser = time_s, default_value = "0")]
    time_sd: f64,
    /// Unbalance, to be told its time.
    #[arg(long, value_name = "UNBALANCE", value_parser = unbalance_g_mm)]
    unbalance: Option<f64>,
    /// Drift torque of the stand as an unbalance, positive counter-clockwise.
    #[arg(long, value_name = "UNBALANCE", value_parser = unbalance_g_mm, default_value = "0", allow_hyphen_values = true)]
    drift: f64,
    /// Its standard deviation.
    #[arg(long, value_name = "UNBALANCE", value_parser = unbalance_g_mm, default_value = "0")]
    drift_sd: f64,
    /// Side on which it was let go; needed with drift.
    #[arg(long)]
    released: Option<Released>,
}

impl SwingArgs {
    pub(super) fn input(&self) -> anyhow::Result<Value> {
        let (Some(inertia_kg_m2), Some(amplitude_deg)) = (self.inertia, self.amplitude) else {
            return read_input(self.file.as_deref());
        };
        let input = LookSwingIn {
            inertia_kg_m2,
            inertia_rel_sd: self.inertia_sd,
            swings: self.swings,
            amplitude_deg,
            amplitude_sd_deg: self.amplitude_sd,
            amplitude_end_deg: self.amplitude_end,
            time_s: self.time,
            time_sd_s: self.time_sd,
            unbalance_g_mm: self.unbalance,
            unbalance_sd_g_mm: 0.0,
            drift_g_mm: self.drift,
            drift_sd_g_mm: self.drift_sd,
            released: self.released.map(|r| match r {
                Released::CounterClockwise => Sense::CounterClockwise,
                Released::Clockwise => Sense::Clockwise,
            }),
        };
        Ok(serde_json::to_value(input)?)
    }
}
