//! `retention`: what air pushes out, and what holds it; the pillar's walls; holes that must not meet.

use crate::Fault;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::making::holes::{Drilled, keep_apart};
use stillwheel_physics::making::material::Material;
use stillwheel_physics::making::retention::{self as physics, Held, Pillar, SetScrews, Stop, WANTED_FACTOR};
use stillwheel_physics::making::thread::{Port, Thread};

/// Set screws that clamp the saddle.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ScrewsIn {
    /// Thread, such as M6.
    pub thread: String,
    /// How many (1 to 12).
    pub count: u32,
    /// Torque of each, N·m (up to the proof torque of the size); missing: the seating torque of the table.
    #[serde(default)]
    pub torque_n_m: Option<f64>,
    /// Torque factor K of T = K·F·d (0.1 to 0.4): dry 0.2, oiled 0.15.
    #[serde(default = "dry")]
    pub torque_factor: f64,
    /// Friction of a face (0.02 to 0.6): 0.10 to 0.15, common practice, no source.
    #[serde(default = "oily")]
    pub friction: f64,
    /// Friction faces of each: 1 (the tip), or 2 if the saddle is pressed on the wall opposite.
    #[serde(default = "one")]
    pub faces: u32,
}

const fn dry() -> f64 {
    0.2
}
const fn oily() -> f64 {
    0.12
}
const fn one() -> u32 {
    1
}

/// What stops the saddle even when every screw is loose.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
pub enum StopIn {
    /// A cap over it, held by screws in tapped holes.
    Cap {
        /// Thread, such as M5.
        thread: String,
        /// How many screws (1 to 24).
        count: u32,
        /// Length over which screw and hole hold one another, mm (0.1 to 200).
        engagement_mm: f64,
        /// Tensile strength of the tapped part, MPa (10 to 3000): 6082-T6 310, brass 380, cast iron 250.
        hole_strength_mpa: f64,
        /// Tensile strength of the screws, MPa (10 to 3000): class 8.8 has 800.
        #[serde(default = "class_8_8")]
        screw_strength_mpa: f64,
    },
    /// A pin across pillar and saddle.
    CrossPin {
        /// Its diameter, mm (0.5 to 50).
        diameter_mm: f64,
        /// Its tensile strength, MPa (10 to 3000).
        pin_strength_mpa: f64,
        /// The pillar's wall round it, each side, mm (0.5 to 200).
        wall_mm: f64,
        /// Yield strength of that wall, MPa (10 to 3000).
        wall_yield_mpa: f64,
    },
}

const fn class_8_8() -> f64 {
    800.0
}

/// Another part with the same air on it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PressedIn {
    /// What it is: plug, fitting.
    pub name: String,
    /// Diameter on which the air is sealed, mm (0.5 to 500); of a fitting that of its thread.
    pub sealed_mm: f64,
}

/// The bored pillar.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PillarIn {
    /// Diameter of a round pillar, or width across the flats of a square one, mm.
    pub outside_mm: f64,
    /// Whether it is round.
    #[serde(default = "yes")]
    pub round: bool,
    /// Height, mm (5 to 3000).
    pub height_mm: f64,
    /// Bore, mm (1 to 500).
    pub bore_mm: f64,
    /// Depth of the bore from the top, mm.
    pub bore_depth_mm: f64,
    /// Whether the bore ends flat; else by a drill's point below that depth.
    #[serde(default = "yes")]
    pub flat_bottom: bool,
    /// Port: M5, G1/8, G1/4.
    #[serde(default)]
    pub port: Option<String>,
    /// Height of the port above the pillar's foot, mm; with a port.
    #[serde(default)]
    pub port_height_mm: Option<f64>,
    /// Distance of the port's flat from the pillar's axis, mm; with a port.
    #[serde(default)]
    pub flat_from_axis_mm: Option<f64>,
    /// Passage from the port on into the bore, mm; missing: the tap drill goes through.
    #[serde(default)]
    pub passage_mm: Option<f64>,
    /// Thread in the foot, such as M10.
    #[serde(default)]
    pub foot_thread: Option<String>,
    /// Its length of full thread, mm; with a foot thread.
    #[serde(default)]
    pub foot_thread_mm: Option<f64>,
    /// Material, by its short name.
    pub material: String,
}

const fn yes() -> bool {
    true
}

/// A drilled hole: a cylinder with flat ends; the drill's point belongs into its length.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HoleIn {
    /// What it is.
    pub name: String,
    /// Where its axis begins, mm.
    pub from_mm: [f64; 3],
    /// Where it ends, mm.
    pub to_mm: [f64; 3],
    /// Diameter, mm (0.1 to 1000).
    pub diameter_mm: f64,
    /// Names of the holes that it is meant to open into.
    #[serde(default)]
    pub opens_into: Vec<String>,
}

/// Input of `retention`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RetentionIn {
    /// Supply, bar gauge (0 to 16): the most that the regulator may give.
    pub supply_bar: f64,
    /// Diameter on which the saddle is sealed, mm (0.5 to 500).
    pub sealed_mm: f64,
    /// Set screws that clamp it.
    #[serde(default)]
    pub screws: Option<ScrewsIn>,
    /// What stops it when they are loose. Without one the answer is a fault: friction alone never suffices.
    #[serde(default)]
    pub stop: Option<StopIn>,
    /// Factor that is asked of the stop (2 to 20). Rule of the trade, no source.
    #[serde(default = "wanted")]
    pub wanted_factor: f64,
    /// Other parts with the same air on them.
    #[serde(default)]
    pub also: Vec<PressedIn>,
    /// The pillar, for its walls.
    #[serde(default)]
    pub pillar: Option<PillarIn>,
    /// Holes in one part that must not meet.
    #[serde(default)]
    pub holes: Vec<HoleIn>,
    /// Metal that must stay between two of them, mm (0 to 100).
    #[serde(default = "two")]
    pub least_wall_mm: f64,
}

const fn wanted() -> f64 {
    WANTED_FACTOR
}
const fn two() -> f64 {
    2.0
}

/// What pushes on a part.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PushedOut {
    /// Which.
    pub name: String,
    /// Force of the air, N.
    pub force_n: f64,
}

/// What is left of the pillar.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PillarOut {
    /// Thinnest wall round the bore, mm.
    pub wall_mm: f64,
    /// Hoop stress at the bore (Lamé), MPa.
    pub hoop_mpa: f64,
    /// Yield strength over it; missing where the material has none.
    pub hoop_factor: Option<f64>,
    /// Growth of the bore's radius under the pressure, µm.
    pub bore_growth_um: f64,
    /// Wall between the port's flat and the bore, mm.
    pub port_wall_mm: Option<f64>,
    /// Of that, more than the thread needs, mm.
    pub port_wall_left_mm: Option<f64>,
    /// Width of the port's flat, mm.
    pub flat_width_mm: Option<f64>,
    /// Drilled depth of the foot's hole, mm.
    pub foot_hole_mm: Option<f64>,
    /// Metal between the bore and the foot's hole, mm.
    pub floor_mm: f64,
}

/// The two holes that lie nearest to one another.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct NearestOut {
    /// One.
    pub one: String,
    /// The other.
    pub other: String,
    /// Metal between them, mm.
    pub wall_mm: f64,
}

/// Output of `retention`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RetentionOut {
    /// The answer in a few sentences.
    pub says: String,
    /// Force of the air on the saddle, N.
    pub force_n: f64,
    /// What the set screws hold by friction, N.
    pub friction_n: Option<f64>,
    /// That over the force.
    pub friction_factor: Option<f64>,
    /// Force at which the stop gives way, N.
    pub stop_holds_n: f64,
    /// What of it gives way first.
    pub stop_first: String,
    /// That over the force.
    pub stop_factor: f64,
    /// Force on each other part.
    pub also: Vec<PushedOut>,
    /// The pillar's walls, if it was given.
    pub pillar: Option<PillarOut>,
    /// The holes that lie nearest to one another, of those that must not meet.
    pub nearest: Option<NearestOut>,
    /// What to beware of.
    pub cautions: Vec<String>,
}

/// What holds a pressurised saddle.
///
/// # Errors
/// A [`Fault`] for `stop` when there is none or it is too weak; for walls too thin; for holes that meet; for values out of range.
pub fn retention(input: &RetentionIn) -> Result<RetentionOut, Fault> {
    let held = Held {
        sealed_mm: input.sealed_mm,
        pressure_bar: input.supply_bar,
        screws: input.screws.as_ref().map(screws).transpose()?,
        stop: input.stop.as_ref().map(stop).transpose()?,
        wanted_factor: input.wanted_factor,
    };
    let got = held.retained()?;
    let also = input.also.iter().enumerate().map(|(i, p)| {
        let force_n = physics::force_n(&format!("also[{i}].sealed_mm"), p.sealed_mm, input.supply_bar)?;
        Ok(PushedOut { name: p.name.clone(), force_n })
    });
    let also = also.collect::<Result<Vec<_>, Fault>>()?;
    let pillar = input.pillar.as_ref().map(|p| walls(p, input.supply_bar)).transpose()?;
    let holes: Vec<Drilled> = input.holes.iter().map(drilled).collect();
    let nearest = keep_apart(&holes, input.least_wall_mm)?.map(|(wall_mm, [i, k])| NearestOut {
        one: holes[i].name.clone(),
        other: holes[k].name.clone(),
        wall_mm,
    });
    let mut says = format!(
        "{:.1} bar push the saddle out with {:.0} N. The stop holds {:.0} N, {:.1} times that; {} gives way first.",
        input.supply_bar, got.force_n, got.stop.holds_n, got.stop_factor, got.stop.first
    );
    if let (Some(n), Some(factor)) = (got.friction_n, got.friction_factor) {
        says += &format!(" The set screws hold {n:.0} N by friction, {factor:.1} times it, and count for nothing in this.");
    }
    let mut cautions = vec!["Stand aside at the first pressure, with eye protection, and raise it slowly at the regulator.".to_owned()];
    if got.friction_factor.is_some_and(|f| f < WANTED_FACTOR) {
        cautions.push("Friction alone would not hold the saddle in its place under this pressure: it rests against the stop.".into());
    }
    if input.screws.is_some() {
        cautions.push(
            "On a brass saddle let the screws press on a flat, by a brass or nylon tip or a dog, so that no burr locks the slide.".into(),
        );
    }
    Ok(RetentionOut {
        says,
        force_n: got.force_n,
        friction_n: got.friction_n,
        friction_factor: got.friction_factor,
        stop_holds_n: got.stop.holds_n,
        stop_first: got.stop.first.to_owned(),
        stop_factor: got.stop_factor,
        also,
        pillar,
        nearest,
        cautions,
    })
}

fn screws(s: &ScrewsIn) -> Result<SetScrews, Fault> {
    let thread = Thread::find("screws.thread", &s.thread)?;
    let torque_n_m = s
        .torque_n_m
        .or_else(|| physics::seating_torque_n_m(thread))
        .ok_or_else(|| Fault::new("screws.torque_n_m", "missing", "a torque in N·m", "no seating torque of this size is tabled"))?;
    Ok(SetScrews { thread, count: s.count, torque_n_m, torque_factor: s.torque_factor, friction: s.friction, faces: s.faces })
}

fn stop(s: &StopIn) -> Result<Stop, Fault> {
    Ok(match s {
        StopIn::Cap { thread, count, engagement_mm, hole_strength_mpa, screw_strength_mpa } => Stop::Cap {
            thread: Thread::find("stop.thread", thread)?,
            count: *count,
            engagement_mm: *engagement_mm,
            hole_mpa: *hole_strength_mpa,
            screw_mpa: *screw_strength_mpa,
        },
        StopIn::CrossPin { diameter_mm, pin_strength_mpa, wall_mm, wall_yield_mpa } => {
            Stop::CrossPin { diameter_mm: *diameter_mm, pin_mpa: *pin_strength_mpa, wall_mm: *wall_mm, wall_yield_mpa: *wall_yield_mpa }
        }
    })
}

fn walls(p: &PillarIn, supply_bar: f64) -> Result<PillarOut, Fault> {
    let material = Material::find("pillar.material", &p.material)?;
    let port = p.port.as_deref().map(|n| Port::find("pillar.port", n)).transpose()?;
    let needed = |field: &str, v: Option<f64>, with: bool| match v {
        Some(v) => Ok(v),
        None if !with => Ok(0.0),
        None => Err(Fault::new(field, "missing", "a length in mm", "it is needed to tell what the hole leaves of the wall")),
    };
    let foot_thread = match p.foot_thread.as_deref() {
        None => None,
        Some(name) => Some((Thread::find("pillar.foot_thread", name)?, needed("pillar.foot_thread_mm", p.foot_thread_mm, true)?)),
    };
    let pillar = Pillar {
        outside_mm: p.outside_mm,
        round: p.round,
        height_mm: p.height_mm,
        bore_mm: p.bore_mm,
        bore_depth_mm: p.bore_depth_mm,
        flat_bottom: p.flat_bottom,
        port,
        port_height_mm: needed("pillar.port_height_mm", p.port_height_mm, port.is_some())?,
        flat_from_axis_mm: needed("pillar.flat_from_axis_mm", p.flat_from_axis_mm, port.is_some())?,
        passage_mm: p.passage_mm,
        foot_thread,
        young_gpa: material.young_gpa,
        poisson: material.poisson,
        yield_mpa: material.yield_mpa,
    };
    let w = pillar.walls(supply_bar)?;
    Ok(PillarOut {
        wall_mm: w.wall_mm,
        hoop_mpa: w.lame.hoop_inner_mpa,
        hoop_factor: w.hoop_factor,
        bore_growth_um: w.lame.growth_um,
        port_wall_mm: w.port_wall_mm,
        port_wall_left_mm: w.port_wall_left_mm,
        flat_width_mm: w.flat_width_mm,
        foot_hole_mm: w.foot_hole_mm,
        floor_mm: w.floor_mm,
    })
}

fn drilled(h: &HoleIn) -> Drilled {
    Drilled { name: h.name.clone(), from_mm: h.from_mm, to_mm: h.to_mm, diameter_mm: h.diameter_mm, opens_into: h.opens_into.clone() }
}

/// The demo's saddle in its pillar, capped.
pub(crate) fn example() -> RetentionIn {
    let hole = |name: &str, from_mm, to_mm, diameter_mm, opens: &[&str]| HoleIn {
        name: name.into(),
        from_mm,
        to_mm,
        diameter_mm,
        opens_into: opens.iter().map(|o| (*o).to_owned()).collect(),
    };
    RetentionIn {
        supply_bar: 6.0,
        sealed_mm: 40.0,
        screws: Some(ScrewsIn { thread: "M6".into(), count: 2, torque_n_m: Some(7.2), torque_factor: dry(), friction: 0.15, faces: 1 }),
        stop: Some(StopIn::Cap {
            thread: "M5".into(),
            count: 4,
            engagement_mm: 8.0,
            hole_strength_mpa: 310.0,
            screw_strength_mpa: class_8_8(),
        }),
        wanted_factor: wanted(),
        also: vec![PressedIn { name: "fitting".into(), sealed_mm: 9.728 }],
        pillar: Some(PillarIn {
            outside_mm: 70.0,
            round: true,
            height_mm: 110.0,
            bore_mm: 40.0,
            bore_depth_mm: 70.0,
            flat_bottom: true,
            port: Some("G1/8".into()),
            port_height_mm: Some(50.0),
            flat_from_axis_mm: Some(30.0),
            passage_mm: None,
            foot_thread: Some("M10".into()),
            foot_thread_mm: Some(20.0),
            material: "EN AW-6082-T6".into(),
        }),
        holes: vec![
            hole("bore", [0.0, 0.0, 40.0], [0.0, 0.0, 110.0], 40.0, &[]),
            hole("foot thread", [0.0, 0.0, 0.0], [0.0, 0.0, 27.1], 8.5, &[]),
            hole("port", [-30.0, 0.0, 50.0], [-10.0, 0.0, 50.0], 8.8, &["bore"]),
            hole("cap screw", [27.5, 0.0, 98.0], [27.5, 0.0, 110.0], 4.2, &[]),
        ],
        least_wall_mm: two(),
    }
}
