//! `fit`, `thread`, `gland` by flags: what a maker asks at the bench; `spread`, which takes seconds.

use super::input::read_input;
use super::quantity::{length_mm, plain};
use super::search::watched;
use super::{emit, emit_json, table};
use clap::{Args, ValueEnum};
use serde_json::{Value, json};
use std::path::PathBuf;

/// A JSON object of the flags that were given.
fn given(fields: &[(&str, Value)]) -> Value {
    let fields = fields.iter().filter(|(_, v)| !v.is_null());
    Value::Object(fields.map(|(k, v)| ((*k).to_owned(), v.clone())).collect())
}

/// Flags of `fit`.
#[derive(Args)]
#[command(after_help = "Examples: stillwheel fit 40 H7/g6 --hole-material EN-GJL-250 --shaft-material CW614N --temperature 30\n          \
    stillwheel fit 20 --wanted 20 45 --basis shaft")]
pub(super) struct FitArgs {
    /// Nominal size.
    #[arg(value_name = "LENGTH", value_parser = length_mm)]
    nominal: f64,
    /// Classes: H7/g6, H7 or g6.
    classes: Option<String>,
    /// Smallest and largest clearance wanted on the diameter, µm; negative is interference.
    #[arg(long, num_args = 2, value_names = ["UM", "UM"], value_parser = plain, allow_negative_numbers = true)]
    wanted: Option<Vec<f64>>,
    /// Which part has the plain class (H or h) in what is proposed.
    #[arg(long, value_enum, default_value = "hole")]
    basis: Basis,
    /// Material of the part with the hole.
    #[arg(long)]
    hole_material: Option<String>,
    /// Material of the shaft.
    #[arg(long)]
    shaft_material: Option<String>,
    /// Temperature at which the parts run, °C.
    #[arg(long, value_name = "C", value_parser = plain, default_value = "20", allow_negative_numbers = true)]
    temperature: f64,
    /// The shaft must pass through the hole at any size within the limits.
    #[arg(long)]
    must_pass: bool,
}

#[derive(Clone, Copy, ValueEnum)]
enum Basis {
    Hole,
    Shaft,
}

impl FitArgs {
    pub(super) fn input(&self) -> Value {
        let (hole, shaft) = match self.classes.as_deref() {
            None => (None, None),
            Some(text) => match text.split_once('/') {
                Some((hole, shaft)) => (Some(hole), Some(shaft)),
                None if text.starts_with(|c: char| c.is_ascii_uppercase()) => (Some(text), None),
                None => (None, Some(text)),
            },
        };
        given(&[
            ("nominal_mm", json!(self.nominal)),
            ("hole", json!(hole)),
            ("shaft", json!(shaft)),
            ("wanted_clearance_um", json!(self.wanted)),
            ("basis", json!(if matches!(self.basis, Basis::Hole) { "hole" } else { "shaft" })),
            ("hole_material", json!(self.hole_material)),
            ("shaft_material", json!(self.shaft_material)),
            ("temperature_c", json!(self.temperature)),
            ("must_pass", json!(self.must_pass)),
        ])
    }
}

/// Flags of `thread`.
#[derive(Args)]
#[command(after_help = "Examples: stillwheel thread M6 --engagement 9 --hole-strength 310 --load 6000\n          \
    stillwheel thread G1/8 --wall 10 --flat 20")]
pub(super) struct ThreadArgs {
    /// A metric thread (M6, M10x1), or with --wall and --flat a port (M5, G1/8, G1/4).
    name: String,
    /// Hole to be tapped, instead of the table's drill.
    #[arg(long, value_name = "LENGTH", value_parser = length_mm)]
    hole: Option<f64>,
    /// Length over which screw and hole hold one another.
    #[arg(long, value_name = "LENGTH", value_parser = length_mm, requires = "hole_strength")]
    engagement: Option<f64>,
    /// Tensile strength of the part with the hole, MPa.
    #[arg(long, value_name = "MPA", value_parser = plain, requires = "engagement")]
    hole_strength: Option<f64>,
    /// Tensile strength of the screw, MPa.
    #[arg(long, value_name = "MPA", value_parser = plain, default_value = "800")]
    screw_strength: f64,
    /// Force that the screw must bear, N.
    #[arg(long, value_name = "N", value_parser = plain, requires = "engagement")]
    load: Option<f64>,
    /// For a port: wall between its flat and the bore.
    #[arg(long, value_name = "LENGTH", value_parser = length_mm, requires = "flat", conflicts_with_all = ["engagement", "hole"])]
    wall: Option<f64>,
    /// For a port: width of the flat.
    #[arg(long, value_name = "LENGTH", value_parser = length_mm, requires = "wall")]
    flat: Option<f64>,
    /// For a port: passage that goes on into the bore.
    #[arg(long, value_name = "LENGTH", value_parser = length_mm, requires = "wall")]
    passage: Option<f64>,
}

impl ThreadArgs {
    pub(super) fn input(&self) -> Value {
        let engaged = self.engagement.map(|length| {
            given(&[
                ("engagement_mm", json!(length)),
                ("hole_strength_mpa", json!(self.hole_strength)),
                ("screw_strength_mpa", json!(self.screw_strength)),
                ("load_n", json!(self.load)),
            ])
        });
        let seat = self
            .wall
            .map(|wall| given(&[("wall_mm", json!(wall)), ("flat_width_mm", json!(self.flat)), ("passage_mm", json!(self.passage))]));
        let is_port = self.wall.is_some() || self.name.to_ascii_uppercase().starts_with('G');
        given(&[
            (if is_port { "port" } else { "thread" }, json!(self.name)),
            ("hole_mm", json!(self.hole)),
            ("engaged", json!(engaged)),
            ("seat", json!(seat)),
        ])
    }
}

#[derive(Clone, Copy, ValueEnum)]
enum Service {
    Still,
    SlidingAir,
}

/// Flags of `gland`.
#[derive(Args)]
#[command(after_help = "Example: stillwheel gland --nominal 40 --bore H7 --saddle g6 --section 3.55 --inside 32.5 --behind 12 --supply 4")]
pub(super) struct GlandArgs {
    /// Input file, JSON or TOML, instead of the flags; - for standard input.
    #[arg(conflicts_with_all = ["nominal", "section", "inside"])]
    file: Option<PathBuf>,
    /// Nominal diameter of bore and saddle.
    #[arg(long, value_name = "LENGTH", value_parser = length_mm, required_unless_present = "file")]
    nominal: Option<f64>,
    /// Class of the bore.
    #[arg(long, default_value = "H8")]
    bore: String,
    /// Class of the saddle.
    #[arg(long, default_value = "f7")]
    saddle: String,
    /// Section of the ring.
    #[arg(long, value_name = "LENGTH", value_parser = length_mm, required_unless_present = "file")]
    section: Option<f64>,
    /// Inside diameter of the ring as sold.
    #[arg(long, value_name = "LENGTH", value_parser = length_mm, required_unless_present = "file")]
    inside: Option<f64>,
    /// How the ring serves.
    #[arg(long, value_enum, default_value = "sliding-air")]
    service: Service,
    /// The groove is in the bore instead of on the saddle.
    #[arg(long)]
    in_bore: bool,
    /// Diameter of the groove's bottom, instead of the table's.
    #[arg(long, value_name = "LENGTH", value_parser = length_mm)]
    groove: Option<f64>,
    /// Width of the groove, instead of the table's.
    #[arg(long, value_name = "LENGTH", value_parser = length_mm)]
    width: Option<f64>,
    /// What lies behind the groove: largest hole inside the saddle, or the outside round the bore.
    #[arg(long, value_name = "LENGTH", value_parser = length_mm)]
    behind: Option<f64>,
    /// Metal between the groove's side and the next edge.
    #[arg(long, value_name = "LENGTH", value_parser = length_mm)]
    beside: Option<f64>,
    /// Supply, bar gauge.
    #[arg(long, value_name = "BAR", value_parser = plain, default_value = "0")]
    supply: f64,
}

impl GlandArgs {
    pub(super) fn input(&self) -> anyhow::Result<Value> {
        if let Some(file) = &self.file {
            return read_input(Some(file));
        }
        Ok(given(&[
            ("nominal_mm", json!(self.nominal)),
            ("bore_class", json!(self.bore)),
            ("saddle_class", json!(self.saddle)),
            ("section_mm", json!(self.section)),
            ("inside_mm", json!(self.inside)),
            ("service", json!(if matches!(self.service, Service::Still) { "still" } else { "sliding-air" })),
            ("place", json!(if self.in_bore { "in-bore" } else { "on-saddle" })),
            ("groove_mm", json!(self.groove)),
            ("width_mm", json!(self.width)),
            ("behind_mm", json!(self.behind)),
            ("beside_mm", json!(self.beside)),
            ("supply_bar", json!(self.supply)),
        ]))
    }
}

/// Make stands within tolerances, watched.
pub(super) fn spread(input: Value, json: bool) -> anyhow::Result<()> {
    let input = stillwheel_door::spread::read_spread(input)?;
    let out = watched(|keep_going| stillwheel_door::spread::spread_watched(&input, keep_going))?;
    let out = serde_json::to_value(&out)?;
    if json { emit_json(&out) } else { emit(&table::render(&out)) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::{FromArgMatches, Parser};

    #[derive(Parser)]
    struct Line<A: Args + FromArgMatches> {
        #[command(flatten)]
        args: A,
    }

    fn parsed<A: Args + FromArgMatches>(words: &[&str]) -> A {
        Line::<A>::try_parse_from([&["it"], words].concat()).unwrap_or_else(|e| panic!("{e}")).args
    }

    fn run(name: &str, input: Value) -> Value {
        stillwheel_door::find(name).unwrap().run(input).unwrap_or_else(|f| panic!("{f}"))
    }

    #[test]
    fn a_fit_is_asked_as_a_drawing_writes_it() {
        let out = run("fit", parsed::<FitArgs>(&["25", "H7/g6"]).input());
        // Case fit-25-H7-g6 of reference/mechanical-cases.json.
        assert_eq!((out["clearance"]["min_um"].as_f64(), out["clearance"]["max_um"].as_f64()), (Some(7.0), Some(41.0)));
        assert!(run("fit", parsed::<FitArgs>(&["25", "g6"]).input())["hole"].is_null());
        let out = run("fit", parsed::<FitArgs>(&["1in", "H7", "--wanted", "-20", "40"]).input());
        assert_eq!(out["hole"]["tolerance_um"], 21.0);
        assert!(!out["proposals"].as_array().unwrap().is_empty());
    }

    #[test]
    fn a_thread_and_a_port_are_told_apart() {
        let out = run("thread", parsed::<ThreadArgs>(&["M5", "--engagement", "8", "--hole-strength", "310"]).input());
        assert!(out["strength"]["strips_at_n"].as_f64().unwrap() > 0.0);
        // DIN 3852-2: 8 mm of full thread.
        assert_eq!(run("thread", parsed::<ThreadArgs>(&["G1/8"]).input())["thread_depth_mm"], 8.0);
        assert_eq!(run("thread", parsed::<ThreadArgs>(&["M5", "--wall", "6", "--flat", "12"]).input())["wall_left_mm"], 2.0);
    }

    #[test]
    fn a_gland_is_asked_by_flags() {
        let words = ["--nominal", "40", "--section", "3.55", "--inside", "32.5", "--behind", "12"];
        let out = run("gland", parsed::<GlandArgs>(&words).input().unwrap());
        // The housing's depth of 3.25 (reference/oring_glands.csv) on both sides.
        assert_eq!(out["groove"]["diameter_mm"], 33.5);
    }
}
