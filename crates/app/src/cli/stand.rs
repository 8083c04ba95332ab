//! `level` by flags; `floor`, `arbor` and `qualify` take files, as [`super::bench::FileArgs`].

use super::input::read_input;
use super::quantity::{length_mm, plain};
use clap::{Args, ValueEnum};
use serde_json::Value;
use std::path::PathBuf;
use stillwheel_door::Fault;
use stillwheel_door::level::{BubbleIn, FootIn, HeightIn, KeepName, LevelIn, ReadIn};

/// Which of the many ways to level.
#[derive(Clone, Copy, ValueEnum)]
enum Keep {
    /// The mean of the feet keeps its height.
    Height,
    /// No foot goes down.
    OnlyUp,
    /// The least turning in all.
    LeastTurning,
}

/// Flags of `level`.
#[derive(Args)]
#[command(
    after_help = "Example: stillwheel level --sensitivity 0.02 --bubble along=0,read=3,reversed=2 --bubble along=90,read=-1.5,reversed=-2.5 \
    --foot x=-140,y=-70,pitch=1 --foot x=140,y=-70,pitch=1 --foot x=0,y=70,pitch=1"
)]
pub(super) struct LevelArgs {
    /// Input file, JSON or TOML, instead of the flags: it may hold the stand, the heaviest wheel and the plate too; - for standard input.
    #[arg(conflicts_with_all = ["bubble", "height", "foot"])]
    file: Option<PathBuf>,
    /// A foot: x= (to the right), y= (away from you), pitch= of its screw. Three times.
    #[arg(long, value_name = "KEY=VALUE,...", value_parser = foot, required_unless_present = "file")]
    foot: Vec<FootIn>,
    /// A bubble reading: along= (degrees counter-clockwise from the right, seen from above), read= and reversed= (divisions toward
    /// that direction). May be repeated.
    #[arg(long, value_name = "KEY=VALUE,...", value_parser = bubble, requires = "sensitivity", conflicts_with = "height",
        required_unless_present_any = ["file", "height"])]
    bubble: Vec<BubbleIn>,
    /// Slope of one division of the level, mm/m.
    #[arg(long, value_name = "MM/M", value_parser = plain)]
    sensitivity: Option<f64>,
    /// A height: x=, y= and z=. Three times or more.
    #[arg(long, value_name = "KEY=VALUE,...", value_parser = height)]
    height: Vec<HeightIn>,
    /// How well a height is read, standard deviation.
    #[arg(long, value_name = "LENGTH", value_parser = length_mm, default_value = "0.002")]
    height_sd: f64,
    /// Which of the many ways to level.
    #[arg(long, value_enum, default_value = "least-turning")]
    keep: Keep,
    /// The screws raise the plate when turned counter-clockwise, seen from above.
    #[arg(long)]
    counter_clockwise_raises: bool,
}

impl LevelArgs {
    pub(super) fn input(&self) -> anyhow::Result<Value> {
        if let Some(file) = &self.file {
            return read_input(Some(file));
        }
        let feet: [FootIn; 3] =
            self.foot.clone().try_into().map_err(|f: Vec<_>| Fault::new("feet", f.len(), "three feet", "give --foot three times"))?;
        let readings = if self.height.is_empty() {
            ReadIn::Bubbles {
                sensitivity_mm_per_m: self.sensitivity,
                sensitivity_arcsec: None,
                reading_sd_divisions: stillwheel_door::level::bubble_sd(),
                places: self.bubble.clone(),
            }
        } else {
            ReadIn::Heights { reading_sd_mm: self.height_sd, places: self.height.clone() }
        };
        let input = LevelIn {
            readings,
            feet,
            clockwise_raises: !self.counter_clockwise_raises,
            keep: match self.keep {
                Keep::Height => KeepName::Height,
                Keep::OnlyUp => KeepName::OnlyUp,
                Keep::LeastTurning => KeepName::LeastTurning,
            },
            level_for: None,
            heaviest: None,
            plate: None,
        };
        Ok(serde_json::to_value(input)?)
    }
}

/// Values of `KEY=VALUE,...` in the order of `keys`; `optional` ones may be missing.
fn values<const N: usize>(
    text: &str,
    keys: [&str; N],
    optional: &[&str],
    read: fn(&str, &str) -> Result<f64, String>,
) -> Result<[Option<f64>; N], String> {
    let mut out = [None; N];
    for part in text.split(',') {
        let (key, value) = part.split_once('=').ok_or_else(|| format!("{part:?} is no KEY=VALUE (write decimals with a point here)"))?;
        let at = keys.iter().position(|k| *k == key.trim()).ok_or_else(|| format!("{key:?} is none of {}", keys.join(", ")))?;
        if out[at].is_some() {
            return Err(format!("{key} stands twice"));
        }
        out[at] = Some(read(key.trim(), value).map_err(|e| format!("{key}: {e}"))?);
    }
    match keys.iter().zip(&out).find(|(k, v)| v.is_none() && !optional.contains(k)) {
        Some((missing, _)) => Err(format!("{missing}= is missing")),
        None => Ok(out),
    }
}

fn length(_: &str, value: &str) -> Result<f64, String> {
    length_mm(value)
}

fn foot(text: &str) -> Result<FootIn, String> {
    let [x_mm, y_mm, pitch_mm] = values(text, ["x", "y", "pitch"], &[], length)?.map(Option::unwrap_or_default);
    Ok(FootIn { x_mm, y_mm, pitch_mm })
}

fn height(text: &str) -> Result<HeightIn, String> {
    let [x_mm, y_mm, height_mm] = values(text, ["x", "y", "z"], &[], length)?.map(Option::unwrap_or_default);
    Ok(HeightIn { x_mm, y_mm, height_mm })
}

fn bubble(text: &str) -> Result<BubbleIn, String> {
    let read = |key: &str, value: &str| if key == "along" { super::quantity::angle_deg(value) } else { plain(value) };
    let [along, divisions, reversed_divisions] = values(text, ["along", "read", "reversed"], &["reversed"], read)?;
    Ok(BubbleIn { along_deg: along.unwrap_or_default(), divisions: divisions.unwrap_or_default(), reversed_divisions })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_are_read_in_any_order_and_wrong_ones_are_told() {
        let f = foot("pitch=1,x=-140,y=2in").unwrap();
        assert_eq!((f.x_mm, f.y_mm, f.pitch_mm), (-140.0, 50.8, 1.0));
        assert_eq!(bubble("along=90,read=-1.5").unwrap().reversed_divisions, None);
        for (text, told) in [("x=1,y=2", "pitch= is missing"), ("x=1,x=2", "twice"), ("x=1,z=2", "none of x, y, pitch"), ("x", "KEY=VALUE")]
        {
            assert!(foot(text).unwrap_err().contains(told), "{text}");
        }
    }
}
