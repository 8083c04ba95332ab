//! `rotor`: mass and inertia of a rotor, from its bodies and from swings.

use crate::Fault;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::Ranged;
use stillwheel_physics::quantity::{Angle, Density, Length, Mass, RotorAngle, Seconds};
use stillwheel_physics::rotor::inertia::{AnnularBody, MassAndInertia, Matter, rolling, sum_of_bodies};
use stillwheel_physics::rotor::swung_inertia::{
    SettledSwing, TimedSwing, TrialMass, check_trial_against_rotor, inertia_from_pair, inertia_from_swings,
};

/// One body of revolution on the arbor's axis: wheel, adapter, arbor, the weights as a ring.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Body {
    /// What it is, for the table.
    #[serde(default)]
    pub name: Option<String>,
    /// Outer diameter, mm (1 to 5000).
    pub outer_diameter_mm: f64,
    /// Diameter of the hole, mm (0: solid; equal to the outer one: a thin ring, with its mass given).
    #[serde(default)]
    pub inner_diameter_mm: f64,
    /// Width along the axis, mm (0.01 to 5000).
    pub width_mm: f64,
    /// Mass, g, if it was weighed: this or the density.
    #[serde(default)]
    pub mass_g: Option<f64>,
    /// Density, g/cm³, if it was not weighed.
    #[serde(default)]
    pub density_g_cm3: Option<f64>,
}

/// A known mass on the rotor during one swing.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RotorTrial {
    /// Mass, g, lighter than the rotor.
    pub mass_g: f64,
    /// Radius of its mass centre, mm.
    pub radius_mm: f64,
    /// Rotor angle, degrees counter-clockwise from the zero mark; missing: on the heavy side.
    #[serde(default)]
    pub at_deg: Option<f64>,
}

/// One timed swing on a stand without drift or friction worth naming.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RotorSwing {
    /// Full swings timed, out and back (0.5 to 1000).
    #[serde(default = "one")]
    pub swings: f64,
    /// Time of them all, s.
    pub time_s: f64,
    /// Standard deviation of that time, s (0.2: a thumb on a stopwatch, common practice, no source).
    #[serde(default = "thumb")]
    pub time_sd_s: f64,
    /// Amplitude from the rest place, degrees (below 180), the mean over the swings timed.
    pub amplitude_deg: f64,
    /// Rotor angle at the bottom at rest, degrees; given for all swings or for none.
    #[serde(default)]
    pub settle_deg: Option<f64>,
    /// Standard deviation of that angle, degrees (3.5: an eye on a degree scale, common practice, no source).
    #[serde(default = "eye")]
    pub settle_sd_deg: f64,
    /// The trial weight that was on, if any.
    #[serde(default)]
    pub trial: Option<RotorTrial>,
}

fn one() -> f64 {
    1.0
}
fn thumb() -> f64 {
    0.2
}
fn eye() -> f64 {
    3.5
}

/// Input of `rotor`: bodies, swings, or both (then they check one another).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RotorIn {
    /// The bodies that turn as one.
    #[serde(default)]
    pub bodies: Vec<Body>,
    /// Radius of the arbor where it rolls on ways, mm (0.5 to 500); missing: it turns about a fixed axis.
    #[serde(default)]
    pub journal_radius_mm: Option<f64>,
    /// Timed swings. Without settle angles: two, the first bare, the second with a trial on the heavy side. With
    /// settle angles: two or more, with trials at known angles.
    #[serde(default)]
    pub swings: Vec<RotorSwing>,
}

/// One body's share.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BodyOut {
    /// What it is, if it was named.
    pub name: Option<String>,
    /// Mass, g.
    pub mass_g: f64,
    /// Inertia about the axis, kg·m².
    pub inertia_kg_m2: f64,
}

/// What the swings tell.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SwungOut {
    /// Inertia of the rotor without trials, as it swings (on ways it holds mass times journal radius squared), kg·m².
    pub inertia_kg_m2: f64,
    /// Its standard deviation, kg·m².
    pub inertia_sd_kg_m2: f64,
    /// Unbalance of the rotor without trials, g·mm.
    pub unbalance_g_mm: f64,
    /// Its rotor angle, degrees, if settle angles were given.
    pub unbalance_at_deg: Option<f64>,
}

/// Output of `rotor`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RotorOut {
    /// Inertia to give to `estimate` and `next-step`, kg·m²: from the swings if there are any, else from the bodies.
    pub inertia_for_looks_kg_m2: f64,
    /// Its relative standard deviation, if the swings tell one.
    pub inertia_for_looks_rel_sd: Option<f64>,
    /// Mass of all bodies, kg.
    pub mass_kg: Option<f64>,
    /// Inertia of all bodies about the arbor's axis, kg·m².
    pub inertia_kg_m2: Option<f64>,
    /// The same with which it rolls on ways, kg·m².
    pub rolling_inertia_kg_m2: Option<f64>,
    /// Each body's share.
    pub bodies: Vec<BodyOut>,
    /// What the swings tell.
    pub swung: Option<SwungOut>,
    /// A sentence for the operator.
    pub says: String,
}

/// Mass and inertia of a rotor.
///
/// # Errors
/// A [`Fault`] for neither bodies nor swings, a body with both or neither of mass and density, swings that cannot tell
/// the inertia, and any value out of its range.
pub fn rotor(input: &RotorIn) -> Result<RotorOut, Fault> {
    if input.bodies.is_empty() && input.swings.is_empty() {
        return Err(Fault::new(
            "bodies",
            "missing",
            "at least one body, or two swings",
            "without bodies or swings there is nothing to tell",
        ));
    }
    let summed = if input.bodies.is_empty() { None } else { Some(sum_of_bodies(&bodies_of(input)?)?) };
    let total = summed.as_ref().map(|(total, _)| *total);
    let on_ways = match (input.journal_radius_mm, total) {
        (Some(a), Some(t)) => Some(rolling(t.inertia, t.mass, Length::from_mm(a))?),
        (Some(a), None) => {
            a.within("journal_radius_mm", 0.5, 500.0, "mm", "radius of the arbor where it rolls")?;
            None
        }
        (None, _) => None,
    };
    let swung = if input.swings.is_empty() { None } else { Some(swung(&input.swings, total)?) };
    let from_bodies = on_ways.or(total.map(|t| t.inertia)).map(stillwheel_physics::quantity::Inertia::kg_m2);
    let best = swung.map(|s| s.inertia_kg_m2).or(from_bodies);
    let inertia_for_looks_kg_m2 =
        best.ok_or_else(|| Fault::new("bodies", "missing", "at least one body, or two swings", "nothing tells the inertia"))?;
    let bodies = summed.map(|(_, parts)| parts).unwrap_or_default();
    Ok(RotorOut {
        inertia_for_looks_kg_m2,
        inertia_for_looks_rel_sd: swung.map(|s| s.inertia_sd_kg_m2 / s.inertia_kg_m2),
        mass_kg: total.map(|t| t.mass.kg()),
        inertia_kg_m2: total.map(|t| t.inertia.kg_m2()),
        rolling_inertia_kg_m2: on_ways.map(stillwheel_physics::quantity::Inertia::kg_m2),
        bodies: input
            .bodies
            .iter()
            .zip(bodies)
            .map(|(b, MassAndInertia { mass, inertia })| BodyOut { name: b.name.clone(), mass_g: mass.g(), inertia_kg_m2: inertia.kg_m2() })
            .collect(),
        says: says(swung, from_bodies),
        swung,
    })
}

fn bodies_of(input: &RotorIn) -> Result<Vec<AnnularBody>, Fault> {
    let body = |(i, b): (usize, &Body)| {
        let matter = match (b.mass_g, b.density_g_cm3) {
            (Some(m), None) => Matter::Mass(Mass::from_g(m)),
            (None, Some(d)) => Matter::Density(Density::from_g_cm3(d)),
            (Some(_), Some(_)) => {
                let why = "the mass already follows from the density and the size; give the one that you trust";
                return Err(Fault::new(format!("bodies[{i}].density_g_cm3"), "given beside mass_g", "one of mass_g, density_g_cm3", why));
            }
            (None, None) => {
                let why = "weigh the body, or give its density";
                return Err(Fault::new(format!("bodies[{i}].mass_g"), "missing", "one of mass_g, density_g_cm3", why));
            }
        };
        Ok(AnnularBody {
            outer_diameter: Length::from_mm(b.outer_diameter_mm),
            inner_diameter: Length::from_mm(b.inner_diameter_mm),
            width: Length::from_mm(b.width_mm),
            matter,
        })
    };
    input.bodies.iter().enumerate().map(body).collect()
}

/// A swing as the physics wants it; the trial apart.
fn timed(s: &RotorSwing) -> Result<TimedSwing, Fault> {
    let n = s.swings.within("swings", 0.5, 1000.0, "full swings", "count of full swings, out and back")?;
    let t = s.time_s.within("time_s", 1e-3, 1e6, "s", "time of all the swings")?;
    let sd = s.time_sd_s.within("time_sd_s", 1e-6, t, "s", "standard deviation of the time: larger than 0, not more than the time")?;
    Ok(TimedSwing { period: Seconds::new(t / n), period_sd: Seconds::new(sd / n), amplitude: Angle::from_deg(s.amplitude_deg) })
}

fn trial_of(s: &RotorSwing, rotor: Option<MassAndInertia>) -> Result<Option<TrialMass>, Fault> {
    let Some(t) = s.trial else { return Ok(None) };
    let trial = TrialMass { mass: Mass::from_g(t.mass_g), radius: Length::from_mm(t.radius_mm) };
    if let Some(rotor) = rotor {
        check_trial_against_rotor(trial, rotor.mass)?;
    }
    Ok(Some(trial))
}

fn swung(swings: &[RotorSwing], rotor: Option<MassAndInertia>) -> Result<SwungOut, Fault> {
    let each = |i: usize| move |f: Fault| f.inside(&format!("swings[{i}]"));
    let mut timed_swings = Vec::new();
    for (i, s) in swings.iter().enumerate() {
        timed_swings.push((timed(s).map_err(each(i))?, trial_of(s, rotor).map_err(each(i))?));
    }
    let settled = swings.iter().filter(|s| s.settle_deg.is_some()).count();
    if settled == 0 {
        return pair(swings, &timed_swings);
    }
    let mut known = Vec::new();
    for (i, (s, (swing, trial))) in swings.iter().zip(timed_swings).enumerate() {
        let missing = |field: &str, why: &str| Err(Fault::new(format!("swings[{i}].{field}"), "missing", "an angle in degrees", why));
        let Some(settle) = s.settle_deg else {
            return missing("settle_deg", "settle angles are given for all swings or for none");
        };
        let trial = match (trial, s.trial.and_then(|t| t.at_deg)) {
            (None, _) => None,
            (Some(mass), Some(at)) => Some((mass, RotorAngle::from_deg(at))),
            (Some(_), None) => return missing("trial.at_deg", "with settle angles, the trial's own angle is needed too"),
        };
        known.push(SettledSwing { swing, settle: RotorAngle::from_deg(settle), settle_sd: Angle::from_deg(s.settle_sd_deg), trial });
    }
    let got = inertia_from_swings(&known).map_err(with_door_names)?;
    Ok(SwungOut {
        inertia_kg_m2: got.inertia.kg_m2(),
        inertia_sd_kg_m2: got.inertia_sd.kg_m2(),
        unbalance_g_mm: got.unbalance.size().g_mm(),
        unbalance_at_deg: Some(got.unbalance.at().deg()),
    })
}

/// Two swings, the second with a trial on the heavy side.
fn pair(swings: &[RotorSwing], timed: &[(TimedSwing, Option<TrialMass>)]) -> Result<SwungOut, Fault> {
    let [(bare, None), (loaded, Some(trial))] = timed else {
        return Err(Fault::new(
            "swings",
            format!("{} swings", swings.len()),
            "two swings: the first bare, the second with a trial on the heavy side; or settle_deg in all of them",
            "without settle angles only such a pair can be read",
        ));
    };
    if swings[1].trial.is_some_and(|t| t.at_deg.is_some()) {
        let why = "a trial at a known angle needs the settle angle of each swing; on the heavy side, leave its angle out";
        return Err(Fault::new("swings[0].settle_deg", "missing", "an angle in degrees", why));
    }
    let got = inertia_from_pair(*bare, *loaded, *trial).map_err(with_door_names)?;
    Ok(SwungOut {
        inertia_kg_m2: got.inertia.kg_m2(),
        inertia_sd_kg_m2: got.inertia_sd.kg_m2(),
        unbalance_g_mm: got.unbalance.g_mm(),
        unbalance_at_deg: None,
    })
}

/// The physics' names of a pair and of a period are the door's places and times.
fn with_door_names(mut fault: Fault) -> Fault {
    for (from, to) in [("with_trial", "swings[1]"), ("without", "swings[0]"), ("period_sd_s", "time_sd_s"), ("period_s", "time_s")] {
        fault.field = fault.field.replace(from, to);
    }
    if fault.field.starts_with("trial") {
        fault.field = format!("swings[1].{}", fault.field);
    }
    fault
}

fn says(swung: Option<SwungOut>, from_bodies: Option<f64>) -> String {
    let Some(s) = swung else {
        return "Inertia summed from the bodies. A wheel's density is seldom known better than 5 %: weigh it, or swing it with a trial."
            .into();
    };
    // ± at 95 %, as everywhere in the program.
    let spread = 1.96 * s.inertia_sd_kg_m2 / s.inertia_kg_m2 * 100.0;
    let mut text = format!("Inertia from the swings, ±{spread:.1} % at 95 %.");
    if spread > 20.0 {
        text += " That is wide: time more swings, or use a trial nearer to the unbalance in size.";
    }
    if let Some(bodies) = from_bodies {
        let off = (bodies / s.inertia_kg_m2 - 1.0) * 100.0;
        text += &format!(" The bodies give {off:+.1} % against it.");
        if off.abs() > spread + 10.0 {
            text += " They do not agree: check diameters, masses, and where the trial sat.";
        }
    }
    text
}

/// The demo's wheel 200 × 20 × 51 on its adapter with three 16 g weights.
pub(crate) fn example() -> RotorIn {
    let body = |name: &str, outer, inner, width, mass_g, density_g_cm3| Body {
        name: Some(name.into()),
        outer_diameter_mm: outer,
        inner_diameter_mm: inner,
        width_mm: width,
        mass_g,
        density_g_cm3,
    };
    RotorIn {
        bodies: vec![
            body("wheel", 200.0, 51.0, 20.0, None, Some(2.1)),
            body("adapter", 90.0, 20.0, 28.0, Some(980.0), None),
            body("three weights", 76.0, 76.0, 8.0, Some(48.0), None),
            body("arbor", 20.0, 0.0, 190.0, None, Some(7.85)),
        ],
        journal_radius_mm: None,
        swings: Vec::new(),
    }
}
