//! What `marks` answers: shapes and words.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::grinder::envelope::largest_height;
use stillwheel_physics::grinder::marks::{Cause, Follows, Kind, Machine, NextTest, Ranking, Seen, Sighting, TestKind};
use stillwheel_physics::grinder::spectrum::Spectrum;
use stillwheel_physics::quantity::Length;

/// A regular pattern in the photo.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PatternOut {
    /// Distance from mark to mark, at right angles to them, mm.
    pub spacing_mm: f64,
    /// Its standard deviation, mm.
    pub spacing_sd_mm: f64,
    /// Angle of the marks to the table's travel, degrees (90 is straight across).
    pub angle_deg: f64,
    /// Its standard deviation, degrees.
    pub angle_sd_deg: f64,
    /// Strength against the strongest, 0 to 1.
    pub strength: f64,
    /// Power of its peak over that of its neighbourhood.
    pub above_noise: f64,
}

/// The photo's spectrum.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SpectrumOut {
    /// Millimetres a pixel.
    pub mm_per_px: f64,
    /// Regular patterns, the strongest first.
    pub patterns: Vec<PatternOut>,
    /// Waves a mm, and the strength there in any direction (1: the strongest pattern).
    pub curve: Vec<[f64; 2]>,
}

/// The marks as they were taken.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MarksSeenOut {
    /// Distance from mark to mark, mm.
    pub spacing_mm: f64,
    /// Its standard deviation, mm.
    pub spacing_sd_mm: f64,
    /// Angle of the marks to the table's travel, degrees.
    pub angle_deg: Option<f64>,
    /// Frequency, if they are a vibration's, Hz: table speed over spacing.
    pub frequency_hz: f64,
    /// Its standard deviation, Hz.
    pub frequency_sd_hz: f64,
    /// Frequency over the wheel's.
    pub times_a_turn: f64,
    /// Height that waves of this spacing never pass: λ²/8R, µm.
    pub largest_possible_um: f64,
}

/// A cause.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CauseOut {
    /// In words.
    pub name: String,
    /// Its probability; all together 1.
    pub probability: f64,
    /// Spacing that it would print, mm.
    pub spacing_mm: Option<f64>,
    /// Angle to the travel that its marks would have, degrees.
    pub angle_deg: Option<f64>,
    /// Its frequency, Hz; absent for what is no vibration.
    pub frequency_hz: Option<f64>,
    /// How far the marks' spacing is from it, in standard deviations.
    pub off_by_sd: Option<f64>,
}

/// One outcome of a test.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct OutcomeOut {
    /// In words.
    pub what: String,
    /// How likely it is.
    pub probability: f64,
    /// The cause that would then be the most probable.
    pub then: String,
    /// Its probability then.
    pub then_probability: f64,
}

/// A test.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TestOut {
    /// What to do.
    pub what: String,
    /// Information to be expected, bits.
    pub bits: f64,
    /// Probability that the cause which is then the most probable is the right one.
    pub right_after: f64,
    /// What may come out.
    pub outcomes: Vec<OutcomeOut>,
}

/// Output of `marks`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MarksOut {
    /// A sentence for the operator.
    pub says: String,
    /// The marks of the first face.
    pub marks: MarksSeenOut,
    /// The causes, the most probable first.
    pub causes: Vec<CauseOut>,
    /// What is not known yet, bits.
    pub open_bits: f64,
    /// Tests that would tell more, the best first.
    pub tests: Vec<TestOut>,
    /// Spectrum of the first face's photo.
    pub spectrum: Option<SpectrumOut>,
    /// Hints and cautions.
    pub cautions: Vec<String>,
}

pub(super) fn answer(
    machine: &Machine,
    all: &[Cause],
    seen: &[Sighting],
    ranking: &Ranking,
    tests: &[NextTest],
    read: Option<&Spectrum>,
) -> MarksOut {
    let marks = marks(machine, &seen[0]);
    let causes: Vec<CauseOut> = ranking
        .ranked
        .iter()
        .map(|r| CauseOut {
            name: all[r.cause].name.clone(),
            probability: r.probability,
            spacing_mm: r.spacing_mm,
            angle_deg: r.angle_deg,
            frequency_hz: frequency(&all[r.cause], &seen[0]),
            off_by_sd: r.off_by_sd,
        })
        .collect();
    let tests: Vec<TestOut> = tests.iter().map(|t| test(t, all)).collect();
    MarksOut {
        says: says(&causes, tests.first(), all[ranking.ranked[0].cause].kind, &marks),
        cautions: cautions(machine, &marks, &seen[0], &all[ranking.ranked[0].cause]),
        marks,
        causes,
        open_bits: ranking.open_bits,
        tests,
        spectrum: read.map(spectrum),
    }
}

fn frequency(cause: &Cause, s: &Sighting) -> Option<f64> {
    match cause.follows {
        Follows::Frequency { .. } | Follows::OnceATurn { .. } => {
            cause.follows.pattern(s.table_mm_s, s.wheel_ratio).map(|k| k[0] * s.table_mm_s)
        }
        _ => None,
    }
}

fn marks(machine: &Machine, s: &Sighting) -> MarksSeenOut {
    // The ranking was refused unless the first face shows marks.
    let (spacing, rel_sd, angle) = match s.seen {
        Seen::Marks { spacing_mm, spacing_rel_sd, angle_deg } => (spacing_mm, spacing_rel_sd, angle_deg.map(|a| a.0)),
        Seen::Gone => (1.0, 0.0, None),
    };
    let hz = s.table_mm_s / spacing;
    MarksSeenOut {
        spacing_mm: spacing,
        spacing_sd_mm: spacing * rel_sd,
        angle_deg: angle,
        frequency_hz: hz,
        frequency_sd_hz: hz * rel_sd.hypot(s.table_rel_sd),
        times_a_turn: hz / (machine.wheel_hz * s.wheel_ratio),
        largest_possible_um: largest_height(Length::from_mm(spacing), Length::from_mm(machine.wheel_radius_mm)).mm() * 1e3,
    }
}

pub(super) fn spectrum(s: &Spectrum) -> SpectrumOut {
    SpectrumOut {
        mm_per_px: s.mm_per_px,
        patterns: s
            .patterns
            .iter()
            .map(|p| PatternOut {
                spacing_mm: p.spacing_mm,
                spacing_sd_mm: p.spacing_mm * p.spacing_rel_sd,
                angle_deg: p.angle_deg,
                angle_sd_deg: p.angle_sd_deg,
                strength: p.strength,
                above_noise: p.above_noise,
            })
            .collect(),
        curve: s.curve.clone(),
    }
}

fn test(t: &NextTest, all: &[Cause]) -> TestOut {
    let what = match &t.kind {
        TestKind::TableFaster => "Grind again with the table a fifth faster, all else as it was: does the spacing follow?".into(),
        TestKind::WheelSlower => "Grind again with the wheel a tenth slower: does the spacing grow by as much?".into(),
        TestKind::MeasureBetter => "Measure over twenty marks, and time the table over five strokes away from the ends.".into(),
        TestKind::Stop(part) => format!("Stop the {part} and grind again: are the marks gone?"),
        TestKind::RunDown => {
            "Hold an indicator or a finger to the wheel head, switch the wheel off, and watch the shaking while it runs down.".into()
        }
        TestKind::BeltOff => "Lock the power out, take the drive belt off, and run the motor alone: does the head still shake so?".into(),
        TestKind::OtherWheel => "Balance the wheel anew, or mount one that is known to be good, and grind again.".into(),
        TestKind::HalfLead => "Dress with half the lead and grind again: do the lines move closer?".into(),
    };
    let outcomes = t.outcomes.iter().map(|o| OutcomeOut {
        what: o.what.clone(),
        probability: o.probability,
        then: all[o.then].name.clone(),
        then_probability: o.then_probability,
    });
    TestOut { what, bits: t.bits, right_after: t.right_after, outcomes: outcomes.collect() }
}

fn says(causes: &[CauseOut], test: Option<&TestOut>, kind: Kind, marks: &MarksSeenOut) -> String {
    let first = &causes[0];
    let percent = |p: f64| format!("{:.0} %", 100.0 * p);
    let next = test.map_or_else(String::new, |t| format!(" Next: {}", t.what));
    if kind == Kind::None && first.probability >= 0.5 {
        return format!(
            "Probably none of the parts that were named ({}): look for one that shakes at {:.2} Hz, or check the table's speed and the count.{next}",
            percent(first.probability),
            marks.frequency_hz
        );
    }
    if first.probability >= 0.9 {
        return format!(
            "Most probably {} ({}).{}",
            first.name,
            percent(first.probability),
            if first.probability < 0.97 { &next } else { "" }
        );
    }
    let second = causes.get(1).map_or_else(String::new, |c| format!(", else {} ({})", c.name, percent(c.probability)));
    format!("Perhaps {} ({}){second}.{next}", first.name, percent(first.probability))
}

fn cautions(machine: &Machine, marks: &MarksSeenOut, s: &Sighting, first: &Cause) -> Vec<String> {
    let mut list = Vec::new();
    let advance = s.table_mm_s / (machine.wheel_hz * s.wheel_ratio);
    if marks.spacing_mm < 0.7 * advance {
        list.push(format!(
            "The marks are finer than one turn's advance of the table ({advance:.2} mm): they are not made once a turn, unless several passes of free phase lie over each other. Compare with a face of one single pass."
        ));
    }
    if marks.largest_possible_um < 0.05 && first.kind != Kind::DresserThread && first.kind != Kind::CrossFeed {
        list.push(format!(
            "Waves so close can't be higher than {:.3} µm: the wheel's own roundness wipes them out. What is seen may be scratches or the dresser's thread.",
            marks.largest_possible_um
        ));
    }
    if marks.angle_deg.is_some_and(|a| a < 60.0) && first.kind == Kind::None {
        list.push(
            "The marks lie askew: look at the dresser's lead, the cross-feed, and whether the photo's two places lie along the travel."
                .into(),
        );
    }
    list.push("How likely each cause is before anything was seen is common practice without a source: where two causes print the same spacing, only a test decides.".into());
    list
}
