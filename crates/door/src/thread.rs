//! `thread`: a thread or a port in; drill, depths, strength and whether the wall is deep enough out.

use crate::Fault;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::making::thread::{Port, PortSeat, Thread};

/// What holds a screw.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct EngagedIn {
    /// Length over which screw and hole hold one another, mm (0.1 to 200).
    pub engagement_mm: f64,
    /// Tensile strength of the part with the hole, MPa (10 to 3000): 6082-T6 310, brass 380, cast iron 250.
    pub hole_strength_mpa: f64,
    /// Tensile strength of the screw, MPa (10 to 3000): class 8.8 has 800, 12.9 has 1200.
    #[serde(default = "class_8_8")]
    pub screw_strength_mpa: f64,
    /// Force that the screw must bear, N, if it is known.
    #[serde(default)]
    pub load_n: Option<f64>,
}

const fn class_8_8() -> f64 {
    800.0
}

/// Where a port is tapped.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SeatIn {
    /// Wall between the flat and the bore behind it, mm.
    pub wall_mm: f64,
    /// Width of the flat, mm: the smaller way across.
    pub flat_width_mm: f64,
    /// Diameter of the passage that goes on into the bore, mm; missing: the tap drill goes through.
    #[serde(default)]
    pub passage_mm: Option<f64>,
}

/// Input of `thread`: a thread, or a port.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ThreadIn {
    /// ISO metric thread: M6, M10x1.
    #[serde(default)]
    pub thread: Option<String>,
    /// Port for an air fitting: M5, G1/8, G1/4.
    #[serde(default)]
    pub port: Option<String>,
    /// Hole to be tapped, mm; missing: the drill of the table. For a thread.
    #[serde(default)]
    pub hole_mm: Option<f64>,
    /// What holds the screw. For a thread.
    #[serde(default)]
    pub engaged: Option<EngagedIn>,
    /// Where the port is tapped. For a port.
    #[serde(default)]
    pub seat: Option<SeatIn>,
}

/// How a screw in its hole gives way.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StrengthOut {
    /// Shear area of the hole's thread, mm².
    pub internal_area_mm2: f64,
    /// Shear area of the screw's thread, mm².
    pub external_area_mm2: f64,
    /// Force that strips the hole, N.
    pub strips_at_n: f64,
    /// Force that strips the screw's thread, N.
    pub screw_strips_at_n: f64,
    /// Force that breaks the screw, N.
    pub breaks_at_n: f64,
    /// What gives way first.
    pub first: String,
    /// The force at which that happens over the load; missing without a load.
    pub factor: Option<f64>,
    /// Engagement at which the screw would break before a thread strips, mm.
    pub enough_mm: f64,
}

/// Output of `thread`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ThreadOut {
    /// The answer in a few sentences.
    pub says: String,
    /// Name of the thread or port.
    pub name: String,
    /// Major diameter, mm.
    pub d_mm: f64,
    /// Pitch, mm.
    pub pitch_mm: f64,
    /// Tap drill, mm.
    pub tap_drill_mm: f64,
    /// Smallest and largest minor diameter of the tapped hole, mm (class 6H of a metric thread).
    pub minor_mm: [f64; 2],
    /// Pitch diameter of a metric thread, mm.
    pub pitch_diameter_mm: Option<f64>,
    /// Stress area of a metric screw, mm².
    pub stress_area_mm2: Option<f64>,
    /// Height of thread that the hole leaves, per cent of the basic height (0.5413 of the pitch a side).
    pub height_percent: Option<f64>,
    /// The same told as tap charts do, of 0.6495 of the pitch a side.
    pub height_chart_percent: Option<f64>,
    /// Engagement at which screw and hole of one material give way together, mm.
    pub equal_strength_mm: Option<f64>,
    /// How it gives way, if it was asked.
    pub strength: Option<StrengthOut>,
    /// Least depth of full thread of a port, mm.
    pub thread_depth_mm: Option<f64>,
    /// Drilled depth: of a port's blind hole, or of a blind hole with the engagement in full thread, mm.
    pub drilled_depth_mm: Option<f64>,
    /// Spotface of a port, mm.
    pub spotface_mm: Option<f64>,
    /// Wall left beyond what the port needs, mm.
    pub wall_left_mm: Option<f64>,
    /// What to beware of.
    pub cautions: Vec<String>,
}

/// A thread or a port.
///
/// # Errors
/// A [`Fault`] for a name that is not tabled, a hole that leaves no thread, a wall or flat too small for the port.
pub fn thread(input: &ThreadIn) -> Result<ThreadOut, Fault> {
    match (&input.thread, &input.port) {
        (Some(name), None) => {
            if input.seat.is_some() {
                return Err(Fault::new("seat", "given with a thread", "with a port", "a seat is where a port is tapped"));
            }
            metric(input, Thread::find("thread", name)?)
        }
        (None, Some(name)) => {
            for (field, given) in [("engaged", input.engaged.is_some()), ("hole_mm", input.hole_mm.is_some())] {
                if given {
                    let why = "a port has its own drill and depth; this belongs to a thread";
                    return Err(Fault::new(field, "given with a port", "with a thread", why));
                }
            }
            port(input, Port::find("port", name)?)
        }
        (None, None) => Err(Fault::new("thread", "missing", "one of thread, port", "there is nothing to look up")),
        (Some(_), Some(_)) => Err(Fault::new("port", "given beside thread", "one of thread, port", "these are two questions")),
    }
}

fn metric(input: &ThreadIn, t: &Thread) -> Result<ThreadOut, Fault> {
    let hole = input.hole_mm.unwrap_or(t.tap_drill_mm);
    let [height, chart] = t.height_percent(hole)?;
    let strength = input.engaged.map(|e| strength(t, &e).map_err(|f| f.inside("engaged"))).transpose()?;
    let mut cautions = vec![];
    if hole > t.largest_minor_mm {
        cautions.push(format!("The hole is larger than the {:.3} mm that class 6H allows: the thread is shallow.", t.largest_minor_mm));
    }
    if hole < t.minor_mm() {
        cautions.push(format!("The hole is smaller than the {:.3} mm of the basic thread: the tap may break.", t.minor_mm()));
    }
    let mut says = format!("{}: drill {} mm, which leaves {height:.0} % of the thread.", t.name, hole);
    if let Some(s) = &strength {
        says += &format!(" {} gives way first, at {:.0} N.", capital(&s.first), s.strips_at_n.min(s.screw_strips_at_n).min(s.breaks_at_n));
        if s.factor.is_some_and(|f| f < 2.0) {
            cautions.push("The load is more than half of what gives way: take a larger screw, more engagement, or more of them.".into());
        }
        if input.engaged.is_some_and(|e| e.engagement_mm < t.d_mm) {
            cautions.push("The engagement is shorter than the diameter: in aluminium one and a half to two diameters are usual.".into());
        }
    }
    Ok(ThreadOut {
        says,
        name: t.name.to_owned(),
        d_mm: t.d_mm,
        pitch_mm: t.pitch_mm,
        tap_drill_mm: t.tap_drill_mm,
        minor_mm: [t.minor_mm(), t.largest_minor_mm],
        pitch_diameter_mm: Some(t.pitch_diameter_mm()),
        stress_area_mm2: Some(t.stress_area_mm2()),
        height_percent: Some(height),
        height_chart_percent: Some(chart),
        equal_strength_mm: Some(t.equal_strength_mm()),
        drilled_depth_mm: input.engaged.map(|e| t.drilled_depth_mm(e.engagement_mm)),
        strength,
        thread_depth_mm: None,
        spotface_mm: None,
        wall_left_mm: None,
        cautions,
    })
}

fn strength(t: &Thread, e: &EngagedIn) -> Result<StrengthOut, Fault> {
    use stillwheel_physics::Ranged;
    let s = t.strength(e.engagement_mm, e.hole_strength_mpa, e.screw_strength_mpa)?;
    let load = e.load_n.map(|l| l.within("load_n", 0.1, 1e7, "N", "force that the screw must bear")).transpose()?;
    let (first, at_n) = s.first();
    Ok(StrengthOut {
        internal_area_mm2: s.internal_area_mm2,
        external_area_mm2: s.external_area_mm2,
        strips_at_n: s.strips_at_n,
        screw_strips_at_n: s.screw_strips_at_n,
        breaks_at_n: s.breaks_at_n,
        first: first.to_owned(),
        factor: load.map(|l| at_n / l),
        enough_mm: s.enough_mm,
    })
}

fn port(input: &ThreadIn, p: &Port) -> Result<ThreadOut, Fault> {
    let seat = input.seat.map(|s| PortSeat { wall_mm: s.wall_mm, flat_width_mm: s.flat_width_mm, passage_mm: s.passage_mm });
    let wall_left_mm = seat.map(|s| p.fits(&s).map_err(|f| f.inside("seat"))).transpose()?;
    let mut says = format!(
        "{} ({}): drill {} mm, {} mm of full thread, {} mm drilled where it is blind.",
        p.name, p.standard, p.tap_drill_mm, p.thread_depth_mm, p.drilled_depth_mm
    );
    if let Some(left) = wall_left_mm {
        says += &format!(" The wall is {left:.1} mm deeper than it needs.");
    }
    Ok(ThreadOut {
        says,
        name: p.name.to_owned(),
        d_mm: p.d_mm,
        pitch_mm: p.pitch_mm,
        tap_drill_mm: p.tap_drill_mm,
        minor_mm: p.minor_mm,
        pitch_diameter_mm: None,
        stress_area_mm2: None,
        height_percent: None,
        height_chart_percent: None,
        equal_strength_mm: None,
        strength: None,
        thread_depth_mm: Some(p.thread_depth_mm),
        drilled_depth_mm: Some(p.drilled_depth_mm),
        spotface_mm: p.spotface_mm,
        wall_left_mm,
        cautions: vec![
            "A parallel thread seals on the face, not on the thread: face square to it, and deburr the hole where an O-ring passes.".into(),
        ],
    })
}

fn capital(words: &str) -> String {
    let mut c = words.chars();
    c.next().map_or_else(String::new, |f| f.to_uppercase().chain(c).collect())
}

/// A set screw of the demo's collar in aluminium.
pub(crate) fn example() -> ThreadIn {
    ThreadIn {
        thread: Some("M6".into()),
        port: None,
        hole_mm: None,
        engaged: Some(EngagedIn { engagement_mm: 9.0, hole_strength_mpa: 310.0, screw_strength_mpa: 800.0, load_n: Some(6000.0) }),
        seat: None,
    }
}
