//! `ground-face`: the face that a residual leaves, and the residual that a face allows.

use crate::Fault;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::Ranged;
use stillwheel_physics::grinder::envelope::{largest_height, single_pass_height};
use stillwheel_physics::grinder::face::{self as physics, Face, Needed, Phases, Recipe, Source, Strip};
use stillwheel_physics::grinder::response::Head;
use stillwheel_physics::grinder::roughness::Texture;
use stillwheel_physics::quantity::{Length, Mass, RotationalSpeed, Unbalance, Velocity};
use stillwheel_physics::rotor::speed::{MarkedMaximum, check_marked_speed};

/// Points of a strip in the answer: as many as a picture needs.
const MOST_POINTS: usize = 160;
/// Points of the worst strip's profile.
const MOST_PROFILE_POINTS: usize = 800;

/// Response of the wheel head, up and down at the wheel. Give the natural frequency or the moving mass.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HeadIn {
    /// Stiffness, N/µm (0.1 to 10,000): a known pull over what an indicator shows.
    pub stiffness_n_um: f64,
    /// Natural frequency, Hz (1 to 10,000), from a tap recording.
    #[serde(default)]
    pub natural_frequency_hz: Option<f64>,
    /// Or the mass that moves, kg (0.1 to 10,000).
    #[serde(default)]
    pub moving_mass_kg: Option<f64>,
    /// Share of critical damping (0.001 to 2), from how a tap dies out.
    pub damping_ratio: f64,
}

impl HeadIn {
    pub(crate) fn read(&self) -> Result<Head, Fault> {
        match (self.natural_frequency_hz, self.moving_mass_kg) {
            (Some(hz), None) => Head::of_frequency(self.stiffness_n_um, hz, self.damping_ratio),
            (None, Some(kg)) => Head::of_mass(self.stiffness_n_um, Mass::from_kg(kg), self.damping_ratio),
            (both, _) => {
                let value = if both.is_some() { "both" } else { "missing" };
                Err(Fault::new(
                    "natural_frequency_hz",
                    value,
                    "natural_frequency_hz or moving_mass_kg, one of them",
                    "with the stiffness either tells the other",
                ))
            }
        }
    }
}

/// A vibration of the head that the wheel's unbalance does not make.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OtherVibration {
    /// Frequency, Hz (0.1 to 10,000).
    pub frequency_hz: f64,
    /// Half of its travel at the wheel, µm (0 to 1000).
    pub amplitude_um: f64,
}

/// How the passes lie to each other.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum PassesIn {
    /// Free: another phase in each pass, as on a machine.
    #[default]
    Free,
    /// The same in every pass: as bad as it gets.
    Same,
}

/// A measure of the waviness (ISO 21920-2).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum MeasureIn {
    /// Total height, Wt.
    #[default]
    Wt,
    /// Root mean square height, Wq.
    Wq,
    /// Arithmetic mean height, Wa.
    Wa,
}

/// The face that is wanted.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TargetIn {
    /// What is limited.
    #[serde(default)]
    pub measure: MeasureIn,
    /// How much of it the worst strip may have, µm (0.001 to 1000).
    pub limit_um: f64,
}

/// Input of `ground-face`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct GroundFaceIn {
    /// Residual unbalance of the rotor on the machine, g·mm (0 to 1e9).
    pub residual_g_mm: f64,
    /// Speed of the wheel, r/min.
    pub speed_rpm: f64,
    /// Diameter of the wheel now, mm (10 to 2000).
    pub wheel_diameter_mm: f64,
    /// Width of the wheel, mm (0.5 to 500).
    pub wheel_width_mm: f64,
    /// Maximum speed marked on the wheel, m/s at the rim.
    #[serde(default)]
    pub marked_max_m_s: Option<f64>,
    /// Maximum speed marked on the wheel, r/min.
    #[serde(default)]
    pub marked_max_rpm: Option<f64>,
    /// Response of the wheel head.
    pub head: HeadIn,
    /// Other vibrations of the head that were measured, up to four.
    #[serde(default)]
    pub other_vibrations: Vec<OtherVibration>,
    /// Speed of the table, m/min (0.06 to 120).
    pub table_speed_m_min: f64,
    /// Cross-feed a pass, mm (0.02 to the wheel's width); missing: the wheel covers the face in one go.
    #[serde(default)]
    pub cross_feed_mm: Option<f64>,
    /// Times that the whole face is gone over again without down-feed (0 to 50).
    #[serde(default)]
    pub spark_out: u32,
    /// Length of the face along the travel that is looked at, mm (2 to 2000).
    pub face_length_mm: f64,
    /// Width of the face, mm (0.1 to 2000).
    pub face_width_mm: f64,
    /// How the passes lie to each other.
    #[serde(default)]
    pub passes: PassesIn,
    /// Seed of the free phases: another number, another face as likely.
    #[serde(default = "one")]
    pub seed: u64,
    /// Cut-off between roughness and waviness, mm (0.08 to 25). Missing: 0.8.
    #[serde(default = "usual_cutoff")]
    pub cutoff_mm: f64,
    /// Longest waves that count as waviness, mm (at least twice the cut-off); missing: only the straight line is taken off.
    #[serde(default)]
    pub long_cutoff_mm: Option<f64>,
    /// The face that is wanted: asks for the residual that keeps it.
    #[serde(default)]
    pub target: Option<TargetIn>,
}

fn one() -> u64 {
    1
}
fn usual_cutoff() -> f64 {
    0.8
}

/// Parameters of a profile along the travel (ISO 21920-2), µm. The roughness is that of the wheel's path alone: the grains' scratches come on top.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TextureOut {
    /// Arithmetic mean height of the waviness, µm.
    pub wa_um: f64,
    /// Root mean square height of the waviness, µm.
    pub wq_um: f64,
    /// Total height of the waviness, µm.
    pub wt_um: f64,
    /// Arithmetic mean height of the roughness, µm.
    pub ra_um: f64,
    /// Root mean square height of the roughness, µm.
    pub rq_um: f64,
    /// Mean height over sections of one cut-off, µm; absent when no section fits.
    pub rz_um: Option<f64>,
    /// Total height of the roughness, µm.
    pub rt_um: f64,
}

/// A strip of the face that the same passes covered.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StripOut {
    /// Where it begins across the face, mm.
    pub from_mm: f64,
    /// Where it ends, mm.
    pub to_mm: f64,
    /// Passes over it.
    pub passes: usize,
    /// Total height of its waviness, µm.
    pub wt_um: f64,
    /// Its height, µm above where a steady wheel would cut, evenly over the length.
    pub heights_um: Vec<f64>,
}

/// The profile of the worst strip.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ProfileOut {
    /// Distance of the points, mm.
    pub spacing_mm: f64,
    /// Heights, µm.
    pub heights_um: Vec<f64>,
    /// Mean line by the Gaussian filter, µm.
    pub mean_line_um: Vec<f64>,
}

/// What a wanted face asks of the balance.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct NeededOut {
    /// Largest residual that keeps the limit, g·mm; absent when none is needed, or none would do.
    pub residual_g_mm: Option<f64>,
    /// Whether the residual as given keeps it.
    pub kept: bool,
    /// Whether balance can keep it at all: not when other vibrations alone go over it.
    pub balance_can_keep_it: bool,
}

/// Output of `ground-face`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct GroundFaceOut {
    /// A sentence for the operator.
    pub says: String,
    /// Rotating force of the residual, N.
    pub force_n: f64,
    /// Half of the head's travel by it, µm.
    pub amplitude_um: f64,
    /// Amplitude over the sag under the same force at rest.
    pub magnification: f64,
    /// How far the head's top point comes behind the heavy side's, degrees.
    pub lag_deg: f64,
    /// Natural frequency of the head, Hz.
    pub natural_frequency_hz: f64,
    /// Speed of the wheel's rim, m/s.
    pub rim_speed_m_s: f64,
    /// Spacing of marks made once a turn, mm.
    pub once_a_turn_mm: f64,
    /// Height of the waves of one pass by the residual alone, before later passes cut it, µm.
    pub single_pass_um: f64,
    /// Height that waves of this spacing never pass: λ²/8R, µm.
    pub largest_possible_um: f64,
    /// The strip with the highest waves.
    pub worst: TextureOut,
    /// Mean over the face.
    pub mean: TextureOut,
    /// The worst strip with no unbalance at all: what the other vibrations leave, µm.
    pub without_unbalance: TextureOut,
    /// What the wanted face asks of the balance.
    pub needed: Option<NeededOut>,
    /// Distance of the heights in the strips, mm.
    pub strip_spacing_mm: f64,
    /// The face, strip by strip.
    pub strips: Vec<StripOut>,
    /// The worst strip's profile.
    pub profile: ProfileOut,
    /// Cautions to show beside the numbers.
    pub cautions: Vec<String>,
}

/// The ground face.
///
/// # Errors
/// A [`Fault`] for a machine that would run the wheel above its marked speed, and for any value out of its range.
pub fn ground_face(input: &GroundFaceIn) -> Result<GroundFaceOut, Fault> {
    let speed = RotationalSpeed::from_rpm(input.speed_rpm);
    let diameter =
        Length::from_mm(input.wheel_diameter_mm.within("wheel_diameter_mm", 10.0, 2000.0, "mm", "the wheel's diameter as it is now")?);
    let marked =
        MarkedMaximum { rim: input.marked_max_m_s.map(Velocity::from_m_s), rotation: input.marked_max_rpm.map(RotationalSpeed::from_rpm) };
    let rim = check_marked_speed(diameter, speed, marked)?;
    let table_m_min =
        input.table_speed_m_min.within("table_speed_m_min", 0.06, 120.0, "m/min", "speed of the table: often 6 to 30 m/min")?;
    let head = input.head.read().map_err(|f| f.inside("head"))?;
    let vibration = head.vibration(Unbalance::from_g_mm(input.residual_g_mm), speed)?;
    let sources = sources(input, vibration.amplitude)?;
    let recipe = recipe(input, table_m_min);
    let face = physics::ground_face(&sources, &recipe).map_err(|f| placed(f, vibration.amplitude))?;
    let others = &sources[1..];
    let without = if others.iter().any(|s| s.amplitude.mm() > 0.0) {
        texture_out(&physics::ground_face(others, &recipe).map_err(|f| placed(f, vibration.amplitude))?.worst().texture)
    } else {
        TextureOut { rz_um: Some(0.0), ..TextureOut::default() }
    };
    let wavelength = Length::from_mm(table_m_min * 1000.0 / input.speed_rpm);
    let radius = Length::from_mm(diameter.mm() / 2.0);
    let worst = texture_out(&face.worst().texture);
    let needed = input.target.map(|t| needed(&t, &sources, &recipe, &head, speed, &worst)).transpose()?;
    let strips = strips_out(&face);
    Ok(GroundFaceOut {
        says: says(input, &worst, &without, needed.as_ref()),
        force_n: vibration.force_n,
        amplitude_um: vibration.amplitude.mm() * 1e3,
        magnification: vibration.magnification,
        lag_deg: vibration.lag.deg(),
        natural_frequency_hz: head.natural_hz(),
        rim_speed_m_s: rim.m_s(),
        once_a_turn_mm: wavelength.mm(),
        single_pass_um: single_pass_height(vibration.amplitude, wavelength, radius).mm() * 1e3,
        largest_possible_um: largest_height(wavelength, radius).mm() * 1e3,
        cautions: cautions(input, &head, vibration.magnification),
        worst,
        mean: mean(&face),
        without_unbalance: without,
        needed,
        strip_spacing_mm: strips.1,
        strips: strips.0,
        profile: profile(&face),
    })
}

/// The unbalance first, then the others.
fn sources(input: &GroundFaceIn, amplitude: Length) -> Result<Vec<Source>, Fault> {
    if input.other_vibrations.len() > 4 {
        return Err(Fault::new("other_vibrations", input.other_vibrations.len(), "at most 4", "take the largest ones"));
    }
    let mut all = vec![Source { frequency_hz: input.speed_rpm / 60.0, amplitude }];
    for (i, o) in input.other_vibrations.iter().enumerate() {
        let um =
            o.amplitude_um.within(&format!("other_vibrations[{i}].amplitude_um"), 0.0, 1000.0, "µm", "half of the travel at the wheel")?;
        let frequency_hz = o.frequency_hz.within(
            &format!("other_vibrations[{i}].frequency_hz"),
            0.1,
            10_000.0,
            "Hz",
            "frequency of a vibration of the head",
        )?;
        all.push(Source { frequency_hz, amplitude: Length::from_mm(um * 1e-3) });
    }
    Ok(all)
}

fn recipe(input: &GroundFaceIn, table_m_min: f64) -> Recipe {
    Recipe {
        wheel_radius: Length::from_mm(input.wheel_diameter_mm / 2.0),
        wheel_width: Length::from_mm(input.wheel_width_mm),
        table_speed: Velocity::from_m_s(table_m_min / 60.0),
        cross_feed: input.cross_feed_mm.map(Length::from_mm),
        spark_out: input.spark_out,
        length: Length::from_mm(input.face_length_mm),
        width: Length::from_mm(input.face_width_mm),
        phases: match input.passes {
            PassesIn::Free => Phases::Free(input.seed),
            PassesIn::Same => Phases::Same,
        },
        cutoff: Length::from_mm(input.cutoff_mm),
        long_cutoff: input.long_cutoff_mm.map(Length::from_mm),
    }
}

/// The physics' names of what is told otherwise here.
fn placed(f: Fault, amplitude: Length) -> Fault {
    match f.field.as_str() {
        "sources[0].amplitude_mm" => {
            let um = amplitude.mm() * 1e3;
            Fault::new(
                "residual_g_mm",
                format!("a residual that shakes the head by ±{um:.0} µm"),
                "one that shakes it by less than ±1000 µm",
                "no machine grinds so: check the stiffness and the natural frequency",
            )
        }
        "sources[0].frequency_hz" => Fault { field: "speed_rpm".into(), ..f },
        _ => f,
    }
}

fn needed(
    t: &TargetIn,
    sources: &[Source],
    recipe: &Recipe,
    head: &Head,
    speed: RotationalSpeed,
    worst: &TextureOut,
) -> Result<NeededOut, Fault> {
    let (measure, now) = match t.measure {
        MeasureIn::Wt => (physics::Measure::Total, worst.wt_um),
        MeasureIn::Wq => (physics::Measure::Rms, worst.wq_um),
        MeasureIn::Wa => (physics::Measure::Mean, worst.wa_um),
    };
    let answer = physics::amplitude_within(t.limit_um, measure, sources, recipe)?;
    let (residual_g_mm, balance_can_keep_it) = match answer {
        Needed::Amplitude(a) => (Some(head.unbalance_for(a, speed)?.g_mm()), true),
        Needed::OthersAlone => (None, false),
        Needed::Any => (None, true),
    };
    Ok(NeededOut { residual_g_mm, kept: now <= t.limit_um, balance_can_keep_it })
}

fn texture_out(t: &Texture) -> TextureOut {
    TextureOut {
        wa_um: t.waviness.mean,
        wq_um: t.waviness.rms,
        wt_um: t.waviness.total,
        ra_um: t.roughness.mean,
        rq_um: t.roughness.rms,
        rz_um: t.rz,
        rt_um: t.roughness.total,
    }
}

/// Mean over the face's width; of squares where the parameter is a root of them.
fn mean(face: &Face) -> TextureOut {
    let width: f64 = face.strips.iter().map(|s| s.to_mm - s.from_mm).sum();
    let over = |f: &dyn Fn(&Strip) -> f64| face.strips.iter().map(|s| f(s) * (s.to_mm - s.from_mm)).sum::<f64>() / width;
    TextureOut {
        wa_um: over(&|s| s.texture.waviness.mean),
        wq_um: over(&|s| s.texture.waviness.rms.powi(2)).sqrt(),
        wt_um: over(&|s| s.texture.waviness.total),
        ra_um: over(&|s| s.texture.roughness.mean),
        rq_um: over(&|s| s.texture.roughness.rms.powi(2)).sqrt(),
        rz_um: face.strips.iter().all(|s| s.texture.rz.is_some()).then(|| over(&|s| s.texture.rz.unwrap_or(0.0))),
        rt_um: over(&|s| s.texture.roughness.total),
    }
}

fn every(points: usize, most: usize) -> usize {
    points.div_ceil(most).max(1)
}

fn strips_out(face: &Face) -> (Vec<StripOut>, f64) {
    let step = every(face.strips[0].heights_um.len(), MOST_POINTS);
    let strip = |s: &Strip| StripOut {
        from_mm: s.from_mm,
        to_mm: s.to_mm,
        passes: s.passes,
        wt_um: s.texture.waviness.total,
        heights_um: s.heights_um.iter().step_by(step).copied().collect(),
    };
    (face.strips.iter().map(strip).collect(), face.spacing_mm * step as f64)
}

fn profile(face: &Face) -> ProfileOut {
    let worst = face.worst();
    let step = every(worst.heights_um.len(), MOST_PROFILE_POINTS);
    ProfileOut {
        spacing_mm: face.spacing_mm * step as f64,
        heights_um: worst.heights_um.iter().step_by(step).copied().collect(),
        mean_line_um: worst.texture.mean_line.iter().step_by(step).copied().collect(),
    }
}

fn says(input: &GroundFaceIn, worst: &TextureOut, without: &TextureOut, needed: Option<&NeededOut>) -> String {
    let face = format!("{} g·mm leave waves of {:.3} µm (Wt of the worst strip)", input.residual_g_mm, worst.wt_um);
    let rest = if without.wt_um > 0.5 * worst.wt_um && without.wt_um > 0.0 {
        format!("; {:.3} µm of them stay with no unbalance at all: more balance hardly helps, look for what else shakes", without.wt_um)
    } else if without.wt_um > 0.0 {
        format!("; {:.3} µm would stay with no unbalance at all", without.wt_um)
    } else {
        String::new()
    };
    let asks = needed.map_or_else(String::new, |n| match (n.residual_g_mm, n.balance_can_keep_it, n.kept) {
        (Some(u), _, true) => format!(" The face wanted allows {u:.4} g·mm: kept."),
        (Some(u), _, false) => format!(" The face wanted allows {u:.4} g·mm: balance further."),
        (None, true, _) => " The face wanted is kept with any residual: the wheel's arcs leave no higher waves at this table speed.".into(),
        (None, false, _) => " The face wanted can't be had by balance: the other vibrations alone go over it.".into(),
    });
    format!("{face}{rest}.{asks}")
}

fn cautions(input: &GroundFaceIn, head: &Head, magnification: f64) -> Vec<String> {
    let mut list = Vec::new();
    let ratio = input.speed_rpm / 60.0 / head.natural_hz();
    if (0.7..1.4).contains(&ratio) && magnification > 1.5 {
        list.push(format!("The wheel turns at {:.0} % of the head's natural frequency: near it the answer hangs on the damping, and a small change of speed changes the face.", 100.0 * ratio));
    }
    if input.marked_max_m_s.is_none() && input.marked_max_rpm.is_none() {
        list.push("The marked maximum speed was not given: compare it with the machine's before the wheel turns.".into());
    }
    list.push("A wheel that was trued on this machine while it shook just so cuts flatter than this until its speed or state changes: held coolant, wear, another speed bring the waves back.".into());
    list
}

/// The demo's wheel on machine "No. 2", half an hour's work wide; stiffness and damping are assumed, not data.
pub(crate) fn example() -> GroundFaceIn {
    GroundFaceIn {
        residual_g_mm: 40.0,
        speed_rpm: 2860.0,
        wheel_diameter_mm: 200.0,
        wheel_width_mm: 20.0,
        marked_max_m_s: Some(35.0),
        marked_max_rpm: None,
        head: HeadIn { stiffness_n_um: 30.0, natural_frequency_hz: Some(120.0), moving_mass_kg: None, damping_ratio: 0.04 },
        other_vibrations: vec![OtherVibration { frequency_hz: 23.8, amplitude_um: 0.02 }],
        table_speed_m_min: 15.0,
        cross_feed_mm: Some(5.0),
        spark_out: 0,
        face_length_mm: 40.0,
        face_width_mm: 30.0,
        passes: PassesIn::Free,
        seed: 1,
        cutoff_mm: 0.8,
        long_cutoff_mm: None,
        target: Some(TargetIn { measure: MeasureIn::Wt, limit_um: 0.1 }),
    }
}
