//! `ground-face` and `marks`: flags or a file in; a table or JSON out, pictures into files.

use super::input::{read_file, read_input};
use super::quantity::{length_mm, plain, speed_rpm, unbalance_g_mm};
use super::{emit, emit_json, table};
use crate::grinder_pictures::{causes_picture, face_picture, profile_picture, spectrum_picture};
use anyhow::{Context, bail};
use clap::Args;
use serde_json::{Value, json};
use std::path::{Path, PathBuf};
use stillwheel_door::ground_face::{GroundFaceIn, GroundFaceOut, HeadIn, MeasureIn, PassesIn, TargetIn};
use stillwheel_door::marks::{MarksIn, MarksOut, ScaleIn, SeenIn, SightingIn, marks, read_marks};
use stillwheel_door::photo_file::read_photo;
use stillwheel_door::{Fault, find};
use stillwheel_drawing::{Page, to_pdf};

/// Flags of `ground-face`.
#[derive(Args)]
#[command(
    after_help = "Example: stillwheel ground-face --residual 40 --speed 2860 --diameter 200 --width 20 --stiffness 30 --frequency 120 \
    --damping 0.04 --table-speed 15 --cross-feed 5 --face-length 40 --face-width 30 --target 0.1 --picture face.svg"
)]
pub(super) struct GroundFaceArgs {
    /// Input file, JSON or TOML, instead of the flags; - for standard input.
    #[arg(conflicts_with_all = ["residual", "speed"])]
    file: Option<PathBuf>,
    /// Residual unbalance.
    #[arg(long, value_name = "UNBALANCE", value_parser = unbalance_g_mm, required_unless_present = "file")]
    residual: Option<f64>,
    /// Speed of the wheel.
    #[arg(long, value_name = "SPEED", value_parser = speed_rpm, required_unless_present = "file")]
    speed: Option<f64>,
    /// Diameter of the wheel now.
    #[arg(long, value_name = "LENGTH", value_parser = length_mm, required_unless_present = "file")]
    diameter: Option<f64>,
    /// Width of the wheel.
    #[arg(long, value_name = "LENGTH", value_parser = length_mm, required_unless_present = "file")]
    width: Option<f64>,
    /// Maximum speed marked on the wheel, m/s.
    #[arg(long, value_name = "M/S", value_parser = plain)]
    marked_m_s: Option<f64>,
    /// Maximum speed marked on the wheel, r/min.
    #[arg(long, value_name = "SPEED", value_parser = speed_rpm)]
    marked_rpm: Option<f64>,
    /// Stiffness of the wheel head at the wheel, N/µm.
    #[arg(long, value_name = "N/UM", value_parser = plain, required_unless_present = "file")]
    stiffness: Option<f64>,
    /// Its natural frequency, Hz.
    #[arg(long, value_name = "HZ", value_parser = plain, conflicts_with = "moving_mass")]
    frequency: Option<f64>,
    /// Or the mass that moves, kg.
    #[arg(long, value_name = "KG", value_parser = plain)]
    moving_mass: Option<f64>,
    /// Its damping ratio, such as 0.04.
    #[arg(long, value_name = "SHARE", value_parser = plain, required_unless_present = "file")]
    damping: Option<f64>,
    /// Speed of the table, m/min.
    #[arg(long, value_name = "M/MIN", value_parser = plain, required_unless_present = "file")]
    table_speed: Option<f64>,
    /// Cross-feed a pass.
    #[arg(long, value_name = "LENGTH", value_parser = length_mm)]
    cross_feed: Option<f64>,
    /// Times over the face without down-feed.
    #[arg(long, value_name = "COUNT", default_value_t = 0)]
    spark_out: u32,
    /// Length of the face along the travel.
    #[arg(long, value_name = "LENGTH", value_parser = length_mm, default_value = "40")]
    face_length: f64,
    /// Width of the face; without it, as wide as the wheel.
    #[arg(long, value_name = "LENGTH", value_parser = length_mm)]
    face_width: Option<f64>,
    /// The same phase in every pass, as bad as it gets.
    #[arg(long)]
    same_phase: bool,
    /// Seed of the free phases.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Cut-off between roughness and waviness.
    #[arg(long, value_name = "LENGTH", value_parser = length_mm, default_value = "0.8")]
    cutoff: f64,
    /// Height of waves that is wanted (Wt), µm.
    #[arg(long, value_name = "UM", value_parser = plain)]
    target: Option<f64>,
    /// Save the face as it would look, .svg or .pdf.
    #[arg(long, value_name = "FILE")]
    picture: Option<PathBuf>,
    /// Save the profile of the worst strip, .svg or .pdf.
    #[arg(long, value_name = "FILE")]
    profile: Option<PathBuf>,
}

impl GroundFaceArgs {
    fn input(&self) -> anyhow::Result<Value> {
        let (Some(residual_g_mm), Some(speed_rpm), Some(wheel_diameter_mm), Some(wheel_width_mm)) =
            (self.residual, self.speed, self.diameter, self.width)
        else {
            return read_input(self.file.as_deref());
        };
        let (Some(stiffness_n_um), Some(damping_ratio), Some(table_speed_m_min)) = (self.stiffness, self.damping, self.table_speed) else {
            bail!("--stiffness, --damping and --table-speed are needed");
        };
        let input = GroundFaceIn {
            residual_g_mm,
            speed_rpm,
            wheel_diameter_mm,
            wheel_width_mm,
            marked_max_m_s: self.marked_m_s,
            marked_max_rpm: self.marked_rpm,
            head: HeadIn { stiffness_n_um, natural_frequency_hz: self.frequency, moving_mass_kg: self.moving_mass, damping_ratio },
            other_vibrations: Vec::new(),
            table_speed_m_min,
            cross_feed_mm: self.cross_feed,
            spark_out: self.spark_out,
            face_length_mm: self.face_length,
            face_width_mm: self.face_width.unwrap_or(wheel_width_mm),
            passes: if self.same_phase { PassesIn::Same } else { PassesIn::Free },
            seed: self.seed,
            cutoff_mm: self.cutoff,
            long_cutoff_mm: None,
            target: self.target.map(|limit_um| TargetIn { measure: MeasureIn::Wt, limit_um }),
        };
        Ok(serde_json::to_value(input)?)
    }
}

/// Run `ground-face`.
pub(super) fn run_ground_face(args: &GroundFaceArgs, json: bool) -> anyhow::Result<()> {
    let out = find("ground-face")?.run(args.input()?)?;
    let typed: GroundFaceOut = serde_json::from_value(out.clone())?;
    save(args.picture.as_deref(), || face_picture(&typed))?;
    save(args.profile.as_deref(), || profile_picture(&typed))?;
    if json {
        return emit_json(&out);
    }
    emit(&table::render(&without(&out, &["strips", "profile", "strip_spacing_mm"])))
}

/// Flags of `marks`.
#[derive(Args)]
#[command(
    after_help = "Example: stillwheel marks machine.toml --photo face.jpg --from 210,900 --to 3800,940 --distance 80 --table-speed 15\n\
    The file holds the input of `compute marks`; faces given by flags come before those in it."
)]
pub(super) struct MarksArgs {
    /// The machine, and faces that were looked at: JSON or TOML; - for standard input. `stillwheel compute marks --example` prints one.
    file: Option<PathBuf>,
    /// Distance from mark to mark.
    #[arg(long, value_name = "LENGTH", value_parser = length_mm, requires = "table_speed", conflicts_with = "photo")]
    spacing: Option<f64>,
    /// Its standard deviation.
    #[arg(long, value_name = "LENGTH", value_parser = length_mm, requires = "spacing", default_value = "0")]
    spacing_sd: f64,
    /// Angle of the marks to the table's travel, degrees; 90 is straight across.
    #[arg(long, value_name = "DEGREES", value_parser = plain, requires = "spacing")]
    angle: Option<f64>,
    /// A photo of the face, JPEG or PNG.
    #[arg(long, value_name = "FILE", requires_all = ["from", "to", "distance", "table_speed"])]
    photo: Option<PathBuf>,
    /// A place in the photo, pixels of the upright picture from the left and the top: 210,900.
    #[arg(long, value_name = "X,Y", value_parser = place, requires = "photo")]
    from: Option<[f64; 2]>,
    /// Another place; from one to the other runs the table's travel.
    #[arg(long, value_name = "X,Y", value_parser = place, requires = "photo")]
    to: Option<[f64; 2]>,
    /// Distance on the work between the two.
    #[arg(long, value_name = "LENGTH", value_parser = length_mm, requires = "photo")]
    distance: Option<f64>,
    /// The travel goes from left to right in the photo, whichever way the two places lie.
    #[arg(long, requires = "photo")]
    travel_left_right: bool,
    /// Speed of the table while it ground, m/min.
    #[arg(long, value_name = "M/MIN", value_parser = plain)]
    table_speed: Option<f64>,
    /// Its standard deviation, m/min.
    #[arg(long, value_name = "M/MIN", value_parser = plain, requires = "table_speed")]
    table_speed_sd: Option<f64>,
    /// Save the causes as bars, .svg or .pdf.
    #[arg(long, value_name = "FILE")]
    causes: Option<PathBuf>,
    /// Save the photo's spectrum, .svg or .pdf.
    #[arg(long, value_name = "FILE", requires = "photo")]
    spectrum: Option<PathBuf>,
}

/// `X,Y` in pixels.
fn place(text: &str) -> Result<[f64; 2], String> {
    let read = |t: &str| t.trim().parse::<f64>().ok().filter(|v| v.is_finite() && *v >= 0.0);
    let told = || format!("{text:?} is no place: write pixels from the left and from the top, as 210,900");
    let (x, y) = text.split_once(',').ok_or_else(told)?;
    Ok([read(x).ok_or_else(told)?, read(y).ok_or_else(told)?])
}

impl MarksArgs {
    fn input(&self) -> anyhow::Result<MarksIn> {
        let mut value = read_input(self.file.as_deref())?;
        if let (Some(table_speed_m_min), Some(seen)) = (self.table_speed, self.seen()?) {
            let sighting = SightingIn {
                table_speed_m_min,
                table_speed_sd_m_min: self.table_speed_sd,
                wheel_speed_rpm: None,
                stopped: Vec::new(),
                seen,
            };
            // Before it is read as a whole: the file may hold the machine alone.
            let fields = value.as_object_mut().context("the input is a table of fields")?;
            let list = fields.entry("sightings").or_insert_with(|| json!([]));
            list.as_array_mut().context("sightings is a list")?.insert(0, serde_json::to_value(sighting)?);
        }
        Ok(read_marks(value)?)
    }

    fn seen(&self) -> anyhow::Result<Option<SeenIn>> {
        if let Some(spacing_mm) = self.spacing {
            return Ok(Some(SeenIn::Spacing { spacing_mm, spacing_sd_mm: self.spacing_sd, angle_deg: self.angle, angle_sd_deg: None }));
        }
        let (Some(file), Some(from), Some(to), Some(distance_mm)) = (&self.photo, self.from, self.to, self.distance) else {
            return Ok(None);
        };
        let photo = read_photo(&read_file(file)?)?;
        let [width, height] = photo.full_px.map(f64::from);
        for (name, p) in [("from", from), ("to", to)] {
            if p[0] > width || p[1] > height {
                let allowed = format!("inside the photo: up to {width},{height}");
                return Err(Fault::new(
                    name,
                    format!("{},{}", p[0], p[1]),
                    allowed,
                    "places count from the upright picture's upper left corner",
                )
                .into());
            }
        }
        let reduced = f64::from(photo.width_px) / width;
        let scaled = |p: [f64; 2]| p.map(|v| v * reduced);
        let scale = ScaleIn {
            from_px: scaled(from),
            to_px: scaled(to),
            distance_mm,
            // A place is picked to about three pixels of the photo; in a reduced one never finer than half a pixel.
            tap_sd_px: (3.0 * reduced).max(0.5),
            along_travel: !self.travel_left_right,
        };
        let (width_px, height_px) = (photo.width_px as usize, photo.height_px as usize);
        Ok(Some(SeenIn::Photo { width_px, height_px, grey: photo.grey, scale, pattern: 1 }))
    }
}

/// Run `marks`.
pub(super) fn run_marks(args: &MarksArgs, json: bool) -> anyhow::Result<()> {
    let out: MarksOut = marks(&args.input()?)?;
    save(args.causes.as_deref(), || causes_picture(&out))?;
    if let Some(s) = &out.spectrum {
        save(args.spectrum.as_deref(), || spectrum_picture(s))?;
    }
    let value = serde_json::to_value(&out)?;
    if json { emit_json(&value) } else { emit(&table::render(&value)) }
}

/// Write a picture, by the file's name as SVG or PDF.
fn save(file: Option<&Path>, picture: impl FnOnce() -> Result<String, Fault>) -> anyhow::Result<()> {
    let Some(file) = file else { return Ok(()) };
    let svg = picture()?;
    let bytes = match file.extension().and_then(|e| e.to_str()) {
        Some("svg") => svg.into_bytes(),
        Some("pdf") => to_pdf(&svg, Page::A4)?,
        _ => bail!("{} must end in .svg or .pdf", file.display()),
    };
    std::fs::write(file, bytes).with_context(|| format!("{} could not be written", file.display()))
}

/// An answer without what is drawn and not read.
fn without(out: &Value, fields: &[&str]) -> Value {
    let mut out = out.clone();
    if let Some(all) = out.as_object_mut() {
        for f in fields {
            all.remove(*f);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_is_two_numbers_that_are_not_negative() {
        assert_eq!(place("210, 900.5").unwrap(), [210.0, 900.5]);
        for bad in ["", "210", "a,b", "-1,2", "1,2,3", "NaN,1", "inf,1"] {
            assert!(place(bad).is_err(), "{bad}");
        }
    }
}
