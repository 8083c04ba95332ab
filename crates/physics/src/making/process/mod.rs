//! Process sheets: in which order a part is made, on which machine, where the critical step lies and how it is measured.
//!
//! In: a [`Part`]. Out: its [`Operation`]s. They name what must come out, not the tool: any shop's lathe, mill and drill will do. Sizes
//! are those of the part's own features; each feature is finished in one operation, and each critical one says how to measure it
//! while it can still be put right. The order is common practice, no source.

mod sheets;

use super::parts::{Dimension, Feature, Measure, Part, Told};

/// Where an operation is done.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Machine {
    /// Sawing.
    Saw,
    /// Turning and boring on a lathe.
    Lathe,
    /// Milling.
    Mill,
    /// Drilling and tapping.
    Drill,
    /// Grinding.
    Grinder,
    /// By hand: deburring, lapping, fitting.
    Bench,
    /// Heat treatment.
    Furnace,
}

impl Machine {
    /// In a word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Saw => "saw",
            Self::Lathe => "lathe",
            Self::Mill => "mill",
            Self::Drill => "drill",
            Self::Grinder => "grinder",
            Self::Bench => "bench",
            Self::Furnace => "furnace",
        }
    }
}

/// One line of a process sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Operation {
    /// Its number: 10, 20, …
    pub number: usize,
    /// Where.
    pub machine: Machine,
    /// What is done, in a sentence or two.
    pub does: String,
    /// Features that are finished in it.
    pub features: Vec<&'static str>,
    /// Why it is critical, if it is.
    pub critical: Option<String>,
    /// How what it makes is measured; always there for a critical one.
    pub measure: Option<String>,
    /// What can hurt.
    pub caution: Option<&'static str>,
}

/// The process sheet of a part; empty for what is bought.
pub fn process(part: &Part) -> Vec<Operation> {
    let mut operations = sheets::of(part);
    for (k, o) in operations.iter_mut().enumerate() {
        o.number = 10 * (k + 1);
        let features = || o.features.iter().filter_map(|id| part.feature(id));
        let critical: Vec<&str> = features().filter_map(|f| f.critical).collect();
        let measure: Vec<String> = features().filter_map(|f| measured(part, f)).collect();
        o.critical = (!critical.is_empty()).then(|| critical.join("; "));
        o.measure = (!measure.is_empty()).then(|| measure.join(" "));
    }
    operations
}

/// A size with its limits, as a sheet says it: `Ø44 H8 (44.000 to 44.039)`.
pub fn size_in_words(d: &Dimension) -> String {
    let sign = match d.measure {
        Measure::Diameter => "Ø",
        Measure::Radius => "R",
        _ => "",
    };
    let nominal = number(d.nominal_mm);
    let from_to = || {
        let digits = if d.limits.upper_mm - d.limits.lower_mm < 0.1 { 3 } else { 2 };
        format!("{:.digits$} to {:.digits$}", d.nominal_mm + d.limits.lower_mm, d.nominal_mm + d.limits.upper_mm)
    };
    match &d.limits.told {
        Told::Class(class) => format!("{sign}{nominal} {class} ({})", from_to()),
        Told::Stated(_) => format!("{sign}{nominal} ({})", from_to()),
        Told::General | Told::Reference => format!("{sign}{nominal}"),
    }
}

/// A length without needless zeros, to the micrometre.
fn number(v: f64) -> String {
    let text = format!("{v:.3}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// The narrowest limits of a feature that are its own, mm.
fn narrowest(f: &Feature) -> Option<f64> {
    let own = f.dimensions.iter().filter(|d| matches!(d.limits.told, Told::Class(_) | Told::Stated(_)));
    own.map(|d| d.limits.upper_mm - d.limits.lower_mm).reduce(f64::min)
}

/// How a feature is measured; none where the general tolerance is all that holds and nothing is critical.
///
/// Instruments by what must be told apart: a gauge may be off by a tenth to a fifth of the tolerance (common practice, no source).
fn measured(part: &Part, f: &Feature) -> Option<String> {
    use super::parts::Characteristic as C;
    let round = f.dimensions.iter().any(|d| d.measure == Measure::Diameter);
    let inside = ["bore", "port", "gallery", "pocket"].contains(&f.id) || f.hole.is_some();
    let size = match narrowest(f) {
        Some(w) if w <= 0.012 && round && inside => Some(
            "Compare with a setting ring or with gauge blocks by a bore gauge of 1 µm, both at one temperature, in two directions and at both ends.",
        ),
        Some(w) if w <= 0.012 && round => Some(
            "Compare with gauge blocks by a comparator of 1 µm or better, part and blocks at one temperature, at three places and in two directions.",
        ),
        Some(w) if w <= 0.06 && round && inside => Some("Measure with a bore gauge set in a ring, at three heights and in two directions."),
        Some(w) if w <= 0.06 && round => {
            Some("Measure with a micrometer checked on a gauge block near the size, at three places and in two directions.")
        }
        Some(w) if w <= 0.12 => Some("Measure with a depth gauge or micrometer."),
        Some(_) if f.hole.is_some() => {
            Some("Measure the places from the datum corner on the machine's own scales before unclamping, by a pin in each hole.")
        }
        Some(_) => Some("Measure with a caliper or a depth gauge."),
        None => None,
    };
    let form = |c: C| match c {
        C::Flatness => "Flatness: indicator over the face on a surface plate, or blue it on the plate.",
        C::Roundness => "Roundness: indicator over a V-block of 90° and one of 120°, both; two-lobed form by two-point measuring.",
        C::Cylindricity => "Form: the largest less the smallest of all readings along and around it.",
        C::Perpendicularity => "Squareness: indicator along it on the surface plate against a square, in two directions.",
        C::Coaxiality => "Run it on a mandrel between centres under an indicator; half of the run-out is what the axes are apart.",
        C::Position => "Place: microscope or optical edge finder, from both flats and both edges; halve the difference.",
        C::Parallelism | C::Symmetry => "Turn it end for end under an indicator; half of the difference counts.",
        C::RunOut | C::TotalRunOut => "Run-out: between centres under an indicator.",
    };
    let critical = match (part.key.as_str(), f.id) {
        ("pillar", "port") => Some("Look into the bore with a lamp and pass a cotton swab over the edge: nothing may catch."),
        ("saddle", "groove") => {
            Some("Measure the bottom over blades in a micrometer; with the pillar's bore as made it gives the squeeze.")
        }
        ("saddle", "port") => Some("Try with pin gauges; look at the edge through a loupe."),
        ("end-stop", "stop_screw") => {
            Some("Hang the bar on its screws and see the screw's tip meet the arbor's centre within a millimetre.")
        }
        ("foot", "tip") => Some("Roll the tip on blue: the mark must be one small spot."),
        ("jet", "bore") => Some("Try with wire of known size; compare the flow of all jets at one pressure."),
        ("guide", "face") => Some("Lay it on the surface plate: no light at either end."),
        _ => None,
    };
    let all: Vec<&str> = size.into_iter().chain(f.controls.iter().map(|c| form(c.characteristic))).chain(critical).collect();
    if all.is_empty() {
        return None;
    }
    Some(format!("{}: {}", capital(f.name), all.join(" ")))
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |c| c.to_uppercase().chain(letters).collect())
}
