//! `level`: readings of a level or of heights to turns of each foot screw, what slope is good enough, and whether it stands safely.

mod answer;

pub use answer::{GoodEnoughOut, LevelOut, PlateOut, ScrewOut, StandingOut, Way};

use crate::Fault;
use crate::support::{SupportIn, at_support, demo_air};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt::Write as _;
use stillwheel_physics::Ranged;
use stillwheel_physics::quantity::STANDARD_GRAVITY;
use stillwheel_physics::stand::feet::{Feet, Standing};
use stillwheel_physics::stand::level::{self as physics, GoodEnough, Measured, Slope, mm_per_m_of_arcsec};
use stillwheel_physics::stand::plate::Plate;
use stillwheel_physics::stand::supports::{ArborForm, Carried};

/// One place of the level on the plate.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BubbleIn {
    /// Direction counted as positive, degrees counter-clockwise seen from above: 0 right, 90 away from the operator.
    pub along_deg: f64,
    /// Bubble from the middle toward that direction, divisions (it runs to the high end).
    pub divisions: f64,
    /// The same with the level turned end for end on the spot, still counted toward that direction.
    #[serde(default)]
    pub reversed_divisions: Option<f64>,
}

/// A height on the plate.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HeightIn {
    /// Place, mm to the right.
    pub x_mm: f64,
    /// Place, mm away from the operator.
    pub y_mm: f64,
    /// Height there, mm.
    pub height_mm: f64,
}

/// What was read.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
pub enum ReadIn {
    /// A spirit level in two or more directions.
    Bubbles {
        /// Slope of one division, mm/m; or give `sensitivity_arcsec`.
        #[serde(default)]
        sensitivity_mm_per_m: Option<f64>,
        /// The same in seconds of arc.
        #[serde(default)]
        sensitivity_arcsec: Option<f64>,
        /// How well the bubble is read, divisions, standard deviation. Missing: 0.25 (common practice, no source).
        #[serde(default = "bubble_sd")]
        reading_sd_divisions: f64,
        /// The readings.
        places: Vec<BubbleIn>,
    },
    /// Heights at three or more places.
    Heights {
        /// How well a height is read, mm, standard deviation.
        reading_sd_mm: f64,
        /// The readings.
        places: Vec<HeightIn>,
    },
}

/// How well a bubble is read when nothing else is said, divisions.
pub fn bubble_sd() -> f64 {
    physics::BUBBLE_SD_DIVISIONS
}

/// A levelling foot.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FootIn {
    /// Place, mm to the right.
    pub x_mm: f64,
    /// Place, mm away from the operator.
    pub y_mm: f64,
    /// Pitch of its screw, mm.
    pub pitch_mm: f64,
}

/// Which way to level.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum KeepName {
    /// The mean of the feet keeps its height.
    Height,
    /// No foot goes down.
    OnlyUp,
    /// The least turning in all: one foot stays as it is.
    #[default]
    LeastTurning,
}

/// The stand that is to be level, to say what slope is good enough. It bears the arbor along y, away from the operator.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ForIn {
    /// What bears the rotor.
    pub support: SupportIn,
    /// Mass of the rotor with its arbor, kg.
    pub mass_kg: f64,
    /// Radius of the arbor where it is borne, mm.
    pub arbor_radius_mm: f64,
    /// The floor that is wanted of this stand, g·mm.
    pub target_floor_g_mm: f64,
    /// Share of that floor that each slope may use, 0.01 to 1. Missing: 0.25 (common practice, no source).
    #[serde(default = "quarter")]
    pub share: f64,
    /// On air: how far the arbor can creep along before it touches its stop, mm. Missing: 2.
    #[serde(default = "two_mm")]
    pub end_play_mm: f64,
}

fn quarter() -> f64 {
    0.25
}
fn two_mm() -> f64 {
    2.0
}

/// Stand and heaviest wheel together, to see whether it stands safely.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HeaviestIn {
    /// Mass of stand and heaviest wheel together, kg.
    pub mass_kg: f64,
    /// Centre of mass, mm to the right.
    pub x_mm: f64,
    /// Centre of mass, mm away from the operator.
    pub y_mm: f64,
    /// Its height above the feet, mm.
    pub height_mm: f64,
    /// Sideways push at that height that it must stand, N. Missing: 20, a careless hand (common practice, no source).
    #[serde(default = "careless_hand")]
    pub push_n: f64,
}

fn careless_hand() -> f64 {
    20.0
}

/// The base plate, for its sag as a strip between the feet.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PlateIn {
    /// Width across the span, mm.
    pub width_mm: f64,
    /// Thickness, mm.
    pub thickness_mm: f64,
    /// Span between the feet, mm.
    pub span_mm: f64,
    /// Modulus of elasticity, GPa: cast iron 110, aluminium 70, granite 70, steel 210.
    pub modulus_gpa: f64,
    /// Density, g/cm³.
    pub density_g_cm3: f64,
    /// Load in the middle of the span, kg: the heaviest wheel with what bears it.
    pub load_kg: f64,
}

/// Input of `level`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LevelIn {
    /// What was read.
    pub readings: ReadIn,
    /// The three levelling feet.
    pub feet: [FootIn; 3],
    /// Whether a screw turned clockwise, seen from above, raises the plate: a right-hand thread in the plate does.
    #[serde(default = "yes")]
    pub clockwise_raises: bool,
    /// Which of the many ways to level.
    #[serde(default)]
    pub keep: KeepName,
    /// The stand that is to be level.
    #[serde(default, rename = "for")]
    pub level_for: Option<ForIn>,
    /// Stand and heaviest wheel together.
    #[serde(default)]
    pub heaviest: Option<HeaviestIn>,
    /// The base plate.
    #[serde(default)]
    pub plate: Option<PlateIn>,
}

fn yes() -> bool {
    true
}

/// How to level a stand.
///
/// # Errors
/// A [`Fault`] for a value out of its range, feet in one line, readings in one line, and a stand that tips over with the heaviest wheel.
pub fn level(input: &LevelIn) -> Result<LevelOut, Fault> {
    let feet = Feet::new(input.feet.map(|f| [f.x_mm, f.y_mm]))?;
    let measured = measured(&input.readings)?;
    let keep = match input.keep {
        KeepName::Height => physics::Keep::Height,
        KeepName::OnlyUp => physics::Keep::OnlyUp,
        KeepName::LeastTurning => physics::Keep::LeastTurning,
    };
    let pitch = input.feet.map(|f| f.pitch_mm);
    let turns = physics::turns(&feet, measured.slope, keep, pitch)?;
    let screws: Vec<ScrewOut> = (0..3)
        .map(|i| ScrewOut {
            foot: i + 1,
            way: way(turns[i], input.clockwise_raises),
            by_deg: 360.0 * turns[i].abs(),
            turns: turns[i].abs(),
            rise_mm: turns[i] * pitch[i],
            tilt_per_turn_mm_per_m: feet.tilt_per_turn_mm_per_m(i, pitch[i]),
        })
        .collect();
    let good_enough = input.level_for.map(|f| good_enough(&f, &measured)).transpose()?;
    let standing = input.heaviest.map(|h| standing(&feet, &h)).transpose()?;
    let plate = input.plate.map(|p| plate(&p)).transpose()?;
    Ok(LevelOut {
        says: says(&measured, &screws, good_enough.as_ref()),
        slope_x_mm_per_m: measured.slope.x_mm_per_m,
        slope_y_mm_per_m: measured.slope.y_mm_per_m,
        slope_x_sd_mm_per_m: measured.sd_mm_per_m[0],
        slope_y_sd_mm_per_m: measured.sd_mm_per_m[1],
        vial_error_divisions: measured.vial_error_divisions,
        largest_misfit: measured.largest_misfit,
        screws,
        cautions: cautions(input, &measured, good_enough.as_ref(), standing.as_ref()),
        good_enough,
        standing,
        plate,
    })
}

fn measured(read: &ReadIn) -> Result<Measured, Fault> {
    // The physics' `readings[2]` stands at `readings.places[2]` here, its single values in `readings`.
    let place = |f: Fault| match f.field.strip_prefix("readings") {
        Some(rest) => Fault { field: format!("readings.places{rest}"), ..f },
        None if f.field.starts_with("slope") => Fault { field: "readings.places".into(), ..f },
        None => f.inside("readings"),
    };
    match read {
        ReadIn::Bubbles { sensitivity_mm_per_m, sensitivity_arcsec, reading_sd_divisions, places } => {
            let unit = match (sensitivity_mm_per_m, sensitivity_arcsec) {
                (Some(s), None) => *s,
                (None, Some(a)) => {
                    let why = "seconds of arc of one division, as marked on the level: 4 to 60";
                    mm_per_m_of_arcsec(a.within("readings.sensitivity_arcsec", 0.25, 2000.0, "seconds of arc", why)?)
                }
                (Some(s), Some(_)) => {
                    let why = "the level is marked one way: keep that one";
                    return Err(Fault::new("readings.sensitivity_mm_per_m", *s, "one of sensitivity_mm_per_m, sensitivity_arcsec", why));
                }
                (None, None) => {
                    let why = "the level's mark says what one division means";
                    let field = "readings.sensitivity_mm_per_m";
                    return Err(Fault::new(field, "missing", "one of sensitivity_mm_per_m, sensitivity_arcsec", why));
                }
            };
            let readings: Vec<_> = places
                .iter()
                .map(|p| physics::BubbleReading {
                    along_deg: p.along_deg,
                    divisions: p.divisions,
                    reversed_divisions: p.reversed_divisions,
                })
                .collect();
            physics::slope_from_bubbles(&readings, unit, *reading_sd_divisions).map_err(place)
        }
        ReadIn::Heights { reading_sd_mm, places } => {
            let readings: Vec<_> =
                places.iter().map(|p| physics::HeightReading { x_mm: p.x_mm, y_mm: p.y_mm, height_mm: p.height_mm }).collect();
            physics::slope_from_heights(&readings, *reading_sd_mm).map_err(place)
        }
    }
}

/// A turn below a tenth of a degree is none: no hand makes it.
fn way(turns: f64, clockwise_raises: bool) -> Way {
    if turns.abs() * 360.0 < 0.1 {
        Way::Leave
    } else if (turns > 0.0) == clockwise_raises {
        Way::Clockwise
    } else {
        Way::CounterClockwise
    }
}

fn good_enough(f: &ForIn, measured: &Measured) -> Result<GoodEnoughOut, Fault> {
    let on = Carried {
        mass_kg: f.mass_kg,
        arbor: ArborForm { radius_mm: f.arbor_radius_mm, roundness_um: 0.0, lobes: 2 },
        cross_slope_mm_per_m: 0.0,
        axial_slope_mm_per_m: 0.0,
    };
    let good = physics::good_enough(&f.support.physics(), &on, f.target_floor_g_mm, f.share, f.end_play_mm)
        .map_err(at_support("support"))
        .map_err(|fault| fault.inside("for"))?;
    let GoodEnough { cross_mm_per_m, axial_mm_per_m, end_creep_s } = good;
    let Slope { x_mm_per_m, y_mm_per_m } = measured.slope;
    let within = |limit: Option<f64>, v: f64| limit.is_none_or(|l| v.abs() <= l);
    let [sx, sy] = measured.sd_mm_per_m;
    Ok(GoodEnoughOut {
        cross_mm_per_m,
        axial_mm_per_m,
        end_creep_s,
        is_good_enough: within(cross_mm_per_m, x_mm_per_m) && within(axial_mm_per_m, y_mm_per_m),
        readings_can_tell: within(cross_mm_per_m, 1.96 * sx) && within(axial_mm_per_m, 1.96 * sy),
        why: why(f, &good),
    })
}

fn why(f: &ForIn, good: &GoodEnough) -> String {
    let each = f.share * f.target_floor_g_mm;
    match f.support {
        SupportIn::Air { drift_per_cross_slope_g_mm, end_stop_friction, end_stop_radius_mm, .. } => {
            let creep = good.end_creep_s.map_or_else(String::new, |t| {
                format!(
                    " Nothing holds the arbor along: at that slope it creeps to its stop in {t:.1} s, and leans there during every look."
                )
            });
            format!(
                "Each slope may cost {each:.3} g·mm. Across, the film drifts by {drift_per_cross_slope_g_mm:.3} g·mm for each mm/m. Along, the arbor \
                 leans on its end stop, and friction {end_stop_friction:.2} at {end_stop_radius_mm:.1} mm holds it by as much.{creep}"
            )
        }
        SupportIn::HardenedWays { .. } | SupportIn::KnifeEdges { .. } => format!(
            "Slope along the ways may cost {each:.3} g·mm: it turns the rotor with its mass times the arbor's radius times the slope. Slope along \
             the arbor does nothing, friction holds it."
        ),
        SupportIn::DiscRollers { .. } => "The discs' notch takes slope both ways: level by eye.".to_owned(),
    }
}

fn standing(feet: &Feet, h: &HeaviestIn) -> Result<StandingOut, Fault> {
    let mass = h.mass_kg.within("heaviest.mass_kg", 0.1, 1e5, "kg", "mass of stand and heaviest wheel together")?;
    h.push_n.within("heaviest.push_n", 0.0, 1e5, "N", "sideways push that it must stand")?;
    let rename = |mut f: Fault| {
        f.field = f.field.replace("centre_of_mass.", "");
        f.inside("heaviest")
    };
    let got = feet.standing([h.x_mm, h.y_mm], mass * STANDARD_GRAVITY, h.height_mm).map_err(rename)?;
    if !got.is_stable() {
        return Err(falls_over(&got));
    }
    Ok(StandingOut {
        margin_mm: got.margin_mm,
        over_feet: got.over_feet.map(|i| i + 1),
        foot_loads_n: got.foot_loads_n,
        tipping_force_n: got.tipping_force_n,
        widest_gap_deg: got.widest_gap_deg,
    })
}

fn falls_over(got: &Standing) -> Fault {
    let [a, b] = got.over_feet.map(|i| i + 1);
    let outside = -got.margin_mm;
    let why = format!(
        "it falls over the side between feet {a} and {b}: the centre of mass lies {outside:.1} mm outside the triangle of the feet, which are \
         crowded on one side of it (widest gap {:.0}°). Move a foot to the other side",
        got.widest_gap_deg
    );
    Fault::new("feet", "feet crowded on one side", "feet around the centre of mass, no gap of 180° or more", why)
}

fn plate(p: &PlateIn) -> Result<PlateOut, Fault> {
    let plate = Plate {
        width_mm: p.width_mm,
        thickness_mm: p.thickness_mm,
        span_mm: p.span_mm,
        modulus_gpa: p.modulus_gpa,
        density_g_cm3: p.density_g_cm3,
    };
    let load = p.load_kg.within("plate.load_kg", 0.0, 1e5, "kg", "load in the middle of the span")?;
    let sag = plate.sag(load * STANDARD_GRAVITY)?;
    Ok(PlateOut { own_sag_um: sag.own_um, load_sag_um: sag.load_um })
}

fn says(m: &Measured, screws: &[ScrewOut], good: Option<&GoodEnoughOut>) -> String {
    let high = |v: f64, plus: &str, minus: &str| format!("{} high by {:.3} mm/m", if v < 0.0 { minus } else { plus }, v.abs());
    let mut text = format!(
        "The {}, the {}.",
        high(m.slope.x_mm_per_m, "right side stands", "left side stands"),
        high(m.slope.y_mm_per_m, "far side", "near side")
    );
    if good.is_some_and(|g| g.is_good_enough) {
        text += " That is good enough for this stand.";
    }
    for s in screws {
        let _ = match s.way {
            Way::Leave => write!(text, " Foot {}: leave it.", s.foot),
            Way::Clockwise => write!(text, " Foot {}: {:.1}° clockwise.", s.foot, s.by_deg),
            Way::CounterClockwise => write!(text, " Foot {}: {:.1}° counter-clockwise.", s.foot, s.by_deg),
        };
    }
    text
}

fn cautions(input: &LevelIn, m: &Measured, good: Option<&GoodEnoughOut>, standing: Option<&StandingOut>) -> Vec<String> {
    let mut list = Vec::new();
    if matches!(input.readings, ReadIn::Bubbles { .. }) && m.vial_error_divisions.is_none() {
        list.push("No reading was taken with the level turned end for end: its own error is taken as zero.".into());
    }
    if let ReadIn::Bubbles { reading_sd_divisions, .. } = input.readings
        && m.largest_misfit > 4.0 * reading_sd_divisions
    {
        list.push(format!(
            "The readings differ by {:.1} divisions from one plane: read again, and let the level take up the temperature.",
            m.largest_misfit
        ));
    }
    if let ReadIn::Heights { reading_sd_mm, .. } = input.readings
        && m.largest_misfit > 4.0 * reading_sd_mm
    {
        list.push(format!(
            "The heights differ by {:.4} mm from one plane: the plate is not flat, or one was read wrong.",
            m.largest_misfit
        ));
    }
    if good.is_some_and(|g| !g.readings_can_tell) {
        list.push("These readings are not sure enough to tell whether the slope is good enough: a finer level, or more readings.".into());
    }
    match (standing, input.heaviest) {
        (Some(s), Some(h)) => {
            if s.tipping_force_n < h.push_n {
                list.push(format!(
                    "A push of {:.0} N tips it over the side between feet {} and {}: wider feet on that side, or a lower wheel.",
                    s.tipping_force_n, s.over_feet[0], s.over_feet[1]
                ));
            }
            if s.widest_gap_deg > 150.0 {
                list.push(format!("The feet leave a gap of {:.0}° open: they are crowded on one side.", s.widest_gap_deg));
            }
        }
        _ => list.push("Whether it stands safely was not checked: give the heaviest wheel.".into()),
    }
    list
}

/// The demo's stand: three M10 feet with a fine pitch under a plate of 320 × 180 × 25 mm.
pub(crate) fn example() -> LevelIn {
    let foot = |x_mm, y_mm| FootIn { x_mm, y_mm, pitch_mm: 1.0 };
    LevelIn {
        readings: ReadIn::Bubbles {
            sensitivity_mm_per_m: Some(0.02),
            sensitivity_arcsec: None,
            reading_sd_divisions: bubble_sd(),
            places: vec![
                BubbleIn { along_deg: 0.0, divisions: 3.0, reversed_divisions: Some(2.0) },
                BubbleIn { along_deg: 90.0, divisions: -1.5, reversed_divisions: Some(-2.5) },
            ],
        },
        feet: [foot(-140.0, -70.0), foot(140.0, -70.0), foot(0.0, 70.0)],
        clockwise_raises: true,
        keep: KeepName::LeastTurning,
        level_for: Some(ForIn {
            support: demo_air(),
            mass_kg: 2.9,
            arbor_radius_mm: 10.0,
            target_floor_g_mm: 1.0,
            share: quarter(),
            end_play_mm: two_mm(),
        }),
        heaviest: Some(HeaviestIn { mass_kg: 21.0, x_mm: 0.0, y_mm: 0.0, height_mm: 120.0, push_n: careless_hand() }),
        plate: Some(PlateIn { width_mm: 180.0, thickness_mm: 25.0, span_mm: 280.0, modulus_gpa: 110.0, density_g_cm3: 7.2, load_kg: 8.0 }),
    }
}
