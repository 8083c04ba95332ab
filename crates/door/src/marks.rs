//! `marks`: which part made the marks on a face, and the test that would tell.

mod answer;
mod machine;

pub use answer::{CauseOut, MarksOut, MarksSeenOut, OutcomeOut, PatternOut, SpectrumOut, TestOut};
pub use machine::{BearingIn, BeltIn, MarkMachineIn, PartIn, PartKindIn};

use crate::Fault;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::Ranged;
use stillwheel_physics::grinder::marks::{Seen, Sighting, causes, next_tests, rank};
use stillwheel_physics::grinder::spectrum::{Picture, Scale, Spectrum, spectrum};

/// Two places in the photo a known distance apart.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ScaleIn {
    /// First place: pixels from the left and from the top.
    pub from_px: [f64; 2],
    /// Second place.
    pub to_px: [f64; 2],
    /// Their distance on the work, mm (0.1 to 5000).
    pub distance_mm: f64,
    /// How well a place is hit, pixels, standard deviation (0.1 to 200). Missing: 3.
    #[serde(default = "three")]
    pub tap_sd_px: f64,
    /// Whether the two places lie along the table's travel; else it goes from left to right in the photo.
    #[serde(default = "yes")]
    pub along_travel: bool,
}

fn three() -> f64 {
    3.0
}
fn yes() -> bool {
    true
}

/// What was seen on a face.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
pub enum SeenIn {
    /// Marks so far apart.
    Spacing {
        /// Distance from mark to mark, at right angles to them, mm (0.001 to 1000).
        spacing_mm: f64,
        /// Its standard deviation, mm.
        spacing_sd_mm: f64,
        /// Angle of the marks to the table's travel, degrees (0 to 90; 90 is straight across).
        #[serde(default)]
        angle_deg: Option<f64>,
        /// Its standard deviation, degrees (0.05 to 45). Missing: 3.
        #[serde(default)]
        angle_sd_deg: Option<f64>,
    },
    /// So many spaces over a length.
    Count {
        /// Spaces from the first mark to the last (1 to 10,000).
        spaces: u32,
        /// Length over them, mm.
        over_mm: f64,
        /// Its standard deviation, mm.
        over_sd_mm: f64,
        /// Angle of the marks to the table's travel, degrees (0 to 90; 90 is straight across).
        #[serde(default)]
        angle_deg: Option<f64>,
        /// Its standard deviation, degrees (0.05 to 45). Missing: 3.
        #[serde(default)]
        angle_sd_deg: Option<f64>,
    },
    /// A photo.
    Photo {
        /// Pixels across (32 to 4096).
        width_px: usize,
        /// Pixels down (32 to 4096).
        height_px: usize,
        /// Grey values 0 to 255, row by row from the top.
        grey: Vec<u8>,
        /// Two places a known distance apart.
        scale: ScaleIn,
        /// Which of the patterns found, 1 the strongest. Missing: 1.
        #[serde(default = "first")]
        pattern: usize,
    },
    /// No marks any more.
    Gone {},
}

fn first() -> usize {
    1
}

/// One face that was looked at.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SightingIn {
    /// Speed of the table while it ground, m/min (0.06 to 120).
    pub table_speed_m_min: f64,
    /// Its standard deviation, m/min. Missing: 2 % of it, as by timing a stroke by hand (common practice, no source).
    #[serde(default)]
    pub table_speed_sd_m_min: Option<f64>,
    /// Speed of the wheel then, r/min; missing: as the machine's.
    #[serde(default)]
    pub wheel_speed_rpm: Option<f64>,
    /// Parts that stood still then, by name.
    #[serde(default)]
    pub stopped: Vec<String>,
    /// What was seen.
    pub seen: SeenIn,
}

/// Input of `marks`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MarksIn {
    /// The machine.
    pub machine: MarkMachineIn,
    /// Faces that were looked at (1 to 20): the first with marks, the others as tests brought them.
    pub sightings: Vec<SightingIn>,
    /// How likely it is at first that none of the causes is the one (0.001 to 0.9). Missing: 0.1 (common practice, no source).
    #[serde(default = "tenth")]
    pub none_share: f64,
}

fn tenth() -> f64 {
    0.1
}

/// Who made the marks.
///
/// # Errors
/// A [`Fault`] for a photo without regular marks, a part that is not the machine's, and for any value out of its range.
pub fn marks(input: &MarksIn) -> Result<MarksOut, Fault> {
    let machine = input.machine.read().map_err(|f| f.inside("machine"))?;
    let all = causes(&machine, input.none_share).map_err(MarkMachineIn::placed)?;
    if input.sightings.len() > 20 {
        return Err(Fault::new("sightings", input.sightings.len(), "1 to 20", "keep the ones that tell most"));
    }
    let mut seen: Vec<Sighting> = Vec::new();
    let mut read = None;
    for (i, s) in input.sightings.iter().enumerate() {
        let (sighting, found) = sighting(s, &input.machine).map_err(|f| f.inside(&format!("sightings[{i}]")))?;
        seen.push(sighting);
        if i == 0 {
            read = found;
        }
    }
    let ranking = rank(&all, &seen).map_err(told_speed)?;
    let tests = next_tests(&all, &ranking, &seen[0], input.machine.wheel_speed_changes);
    Ok(answer::answer(&machine, &all, &seen, &ranking, &tests, read.as_ref()))
}

/// Read an input as the door does, for callers that put one together from parts.
///
/// # Errors
/// A [`Fault`] for a field that is missing, unknown or of the wrong type.
pub fn read_marks(input: serde_json::Value) -> Result<MarksIn, Fault> {
    crate::calculation::read(input, &schemars::schema_for!(MarksIn).to_value())
}

/// Regular marks in a photo alone, before a machine is asked.
///
/// # Errors
/// A [`Fault`] for a photo without regular marks, and for any value out of its range.
pub fn photo_marks(photo: &crate::photo_file::Photo, scale: &ScaleIn) -> Result<SpectrumOut, Fault> {
    let picture = Picture { width: photo.width_px as usize, height: photo.height_px as usize, grey: &photo.grey };
    spectrum(&picture, &read_scale(scale)).map(|s| answer::spectrum(&s)).map_err(photo_place)
}

fn read_scale(s: &ScaleIn) -> Scale {
    Scale { taps: [s.from_px, s.to_px], distance_mm: s.distance_mm, tap_sd_px: s.tap_sd_px, along_travel: s.along_travel }
}

/// The physics tells a wheel's speed as a ratio.
fn told_speed(f: Fault) -> Fault {
    Fault { field: f.field.replace("wheel_ratio", "wheel_speed_rpm"), ..f }
}

fn sighting(s: &SightingIn, machine: &MarkMachineIn) -> Result<(Sighting, Option<Spectrum>), Fault> {
    let table = s.table_speed_m_min.within(
        "table_speed_m_min",
        0.06,
        120.0,
        "m/min",
        "speed of the table while it ground: time a stroke of known length away from its ends",
    )?;
    let sd = s.table_speed_sd_m_min.unwrap_or(0.02 * table);
    sd.within("table_speed_sd_m_min", 0.0, 0.5 * table, "m/min", "how well the table's speed is known")?;
    for (i, part) in s.stopped.iter().enumerate() {
        if !machine.has(part) {
            let allowed = machine.names().join(", ");
            return Err(Fault::new(format!("stopped[{i}]"), part.as_str(), allowed, "the machine has no part of this name"));
        }
    }
    let (seen, found) = seen(&s.seen).map_err(|f| f.inside("seen"))?;
    let wheel_ratio = match s.wheel_speed_rpm {
        None => 1.0,
        Some(rpm) => {
            rpm.within(
                "wheel_speed_rpm",
                0.2 * machine.wheel_speed_rpm,
                5.0 * machine.wheel_speed_rpm,
                "r/min",
                "speed of the wheel at that face",
            )? / machine.wheel_speed_rpm
        }
    };
    let out = Sighting { seen, table_mm_s: table / 0.06, table_rel_sd: sd / table, wheel_ratio, stopped: s.stopped.clone() };
    Ok((out, found))
}

fn seen(s: &SeenIn) -> Result<(Seen, Option<Spectrum>), Fault> {
    Ok(match s {
        SeenIn::Spacing { spacing_mm, spacing_sd_mm, angle_deg, angle_sd_deg } => {
            let spacing =
                spacing_mm.within("spacing_mm", 1e-3, 1000.0, "mm", "distance from mark to mark: measure over ten of them and divide")?;
            let sd = spacing_sd_mm.within("spacing_sd_mm", 0.0, 0.5 * spacing, "mm", "how well the spacing is known")?;
            (Seen::Marks { spacing_mm: spacing, spacing_rel_sd: sd / spacing, angle_deg: angle(*angle_deg, *angle_sd_deg) }, None)
        }
        SeenIn::Count { spaces, over_mm, over_sd_mm, angle_deg, angle_sd_deg } => {
            let n = f64::from(*spaces).within(
                "spaces",
                1.0,
                10_000.0,
                "spaces",
                "spaces from the first mark to the last: one less than marks",
            )?;
            let over = over_mm.within("over_mm", 1e-3 * n, 1000.0 * n, "mm", "length over the spaces, from 0.001 to 1000 mm a space")?;
            let sd = over_sd_mm.within("over_sd_mm", 0.0, 0.5 * over, "mm", "how well the length is known")?;
            (Seen::Marks { spacing_mm: over / n, spacing_rel_sd: sd / over, angle_deg: angle(*angle_deg, *angle_sd_deg) }, None)
        }
        SeenIn::Photo { width_px, height_px, grey, scale, pattern } => {
            let picture = Picture { width: *width_px, height: *height_px, grey };
            let found = spectrum(&picture, &read_scale(scale)).map_err(photo_place)?;
            let Some(p) = pattern.checked_sub(1).and_then(|i| found.patterns.get(i)) else {
                let allowed = format!("1 to {}", found.patterns.len());
                return Err(Fault::new("pattern", *pattern, allowed, "so many regular patterns were found in the photo"));
            };
            // Half the marks' spacing uncertain is no spacing; the same at the angle.
            let marks = Seen::Marks {
                spacing_mm: p.spacing_mm,
                spacing_rel_sd: p.spacing_rel_sd.min(0.5),
                angle_deg: Some((p.angle_deg, p.angle_sd_deg.clamp(0.05, 45.0))),
            };
            (marks, Some(found))
        }
        SeenIn::Gone {} => (Seen::Gone, None),
    })
}

fn angle(deg: Option<f64>, sd: Option<f64>) -> Option<(f64, f64)> {
    deg.map(|d| (d, sd.unwrap_or(3.0)))
}

/// The physics' `photo.scale.taps[1][0]` stands at `scale.to_px[0]` here, its `photo.width_px` at `width_px`.
fn photo_place(f: Fault) -> Fault {
    let field = f.field.strip_prefix("photo.").unwrap_or(if f.field == "photo" { "grey" } else { &f.field });
    let field = field.replace("scale.taps[0]", "scale.from_px").replace("scale.taps[1]", "scale.to_px");
    Fault { field: if field == "scale.taps" { "scale.to_px".into() } else { field }, ..f }
}

/// Marks that came from the belt, on the demo's machine "No. 5".
pub(crate) fn example() -> MarksIn {
    MarksIn {
        machine: machine::example(),
        sightings: vec![SightingIn {
            table_speed_m_min: 15.0,
            table_speed_sd_m_min: Some(0.2),
            wheel_speed_rpm: None,
            stopped: Vec::new(),
            seen: SeenIn::Count { spaces: 5, over_mm: 144.0, over_sd_mm: 1.0, angle_deg: None, angle_sd_deg: None },
        }],
        none_share: 0.1,
    }
}
