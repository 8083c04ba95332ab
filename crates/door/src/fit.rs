//! `fit`: ISO 286 classes in, limits and clearances out, warm or cold; or a wanted clearance in, classes out.

use crate::Fault;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::Ranged;
use stillwheel_physics::making::fit as physics;
use stillwheel_physics::making::fit::{Basis, Clearance, Hole, Kind, Limits, Proposal, REFERENCE_C, Shaft};
use stillwheel_physics::making::material::Material;

/// Most proposals that are told.
const TOLD: usize = 12;

/// Which part has the plain class.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum BasisName {
    /// The hole is H: reamers and plug gauges are stocked so.
    #[default]
    Hole,
    /// The shaft is h: ground bars are bought so.
    Shaft,
}

/// Input of `fit`: classes, or the clearance that is wanted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FitIn {
    /// Nominal size of both parts, mm (0.1 to 500; letters other than H, JS, h, js to 250).
    pub nominal_mm: f64,
    /// Class of the hole, such as H7.
    #[serde(default)]
    pub hole: Option<String>,
    /// Class of the shaft, such as g6.
    #[serde(default)]
    pub shaft: Option<String>,
    /// Smallest and largest clearance wanted on the diameter, µm; negative is interference. Classes that keep it are proposed.
    #[serde(default)]
    pub wanted_clearance_um: Option<[f64; 2]>,
    /// For a proposal: which part has the plain class.
    #[serde(default)]
    pub basis: BasisName,
    /// Material of the part with the hole, by its short name (EN AW-6082-T6, CW614N, 100Cr6, S355, EN-GJL-250, granite, …).
    #[serde(default)]
    pub hole_material: Option<String>,
    /// Material of the shaft.
    #[serde(default)]
    pub shaft_material: Option<String>,
    /// Temperature at which the parts run, °C (−60 to 220); sizes hold at 20 °C. With both materials.
    #[serde(default = "reference_c")]
    pub temperature_c: f64,
    /// Whether the shaft must pass through the hole at any size within the limits, at 20 °C and at the given temperature.
    #[serde(default)]
    pub must_pass: bool,
}

const fn reference_c() -> f64 {
    REFERENCE_C
}

/// Limits of one part.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LimitsOut {
    /// The class.
    pub class: String,
    /// Upper deviation from the nominal size, µm.
    pub upper_um: f64,
    /// Lower deviation, µm.
    pub lower_um: f64,
    /// Width of the tolerance, µm.
    pub tolerance_um: f64,
    /// Largest size, mm.
    pub largest_mm: f64,
    /// Smallest size, mm.
    pub smallest_mm: f64,
}

/// What a fit does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum KindName {
    /// The hole is never smaller than the shaft.
    Clearance,
    /// Either may be the larger.
    Transition,
    /// The hole is never larger than the shaft.
    Interference,
}

impl From<Kind> for KindName {
    fn from(k: Kind) -> Self {
        match k {
            Kind::Clearance => Self::Clearance,
            Kind::Transition => Self::Transition,
            Kind::Interference => Self::Interference,
        }
    }
}

/// Clearance on the diameter; negative is interference.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ClearanceOut {
    /// Smallest, µm.
    pub min_um: f64,
    /// Largest, µm.
    pub max_um: f64,
    /// What kind of fit that is.
    pub kind: KindName,
}

impl From<Clearance> for ClearanceOut {
    fn from(c: Clearance) -> Self {
        Self { min_um: c.min_um, max_um: c.max_um, kind: c.kind().into() }
    }
}

/// A fit that keeps what is wanted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ProposalOut {
    /// Class of the hole.
    pub hole: String,
    /// Class of the shaft.
    pub shaft: String,
    /// Smallest clearance, µm, at the given temperature.
    pub min_um: f64,
    /// Largest, µm.
    pub max_um: f64,
    /// Both tolerances together: the room that the shop has, µm.
    pub room_um: f64,
}

/// Output of `fit`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FitOut {
    /// The answer in a sentence or two.
    pub says: String,
    /// The hole, if its class was given.
    pub hole: Option<LimitsOut>,
    /// The shaft, if its class was given.
    pub shaft: Option<LimitsOut>,
    /// Clearance at 20 °C, if both classes were given.
    pub clearance: Option<ClearanceOut>,
    /// What the temperature changes of the clearance, µm; with both materials.
    pub warmth_um: Option<f64>,
    /// Clearance at the given temperature; with both classes and materials.
    pub clearance_warm: Option<ClearanceOut>,
    /// Fits that keep the wanted clearance at the given temperature, the one with most room for the shop first.
    pub proposals: Vec<ProposalOut>,
}

/// Limits and clearance of a fit, or fits for a clearance.
///
/// # Errors
/// A [`Fault`] for a class or size that is not tabled, a wanted clearance that no fit keeps, a shaft that must pass and does not.
pub fn fit(input: &FitIn) -> Result<FitOut, Fault> {
    let nominal = input.nominal_mm;
    let hole = input.hole.as_deref().map(|t| Hole::read(t).and_then(|h| Ok((h, h.limits(nominal)?)))).transpose()?;
    let shaft = input.shaft.as_deref().map(|t| Shaft::read(t).and_then(|s| Ok((s, s.limits(nominal)?)))).transpose()?;
    if hole.is_none() && shaft.is_none() && input.wanted_clearance_um.is_none() {
        let why = "there is nothing to look up: give a class, both classes, or the clearance that you want";
        return Err(Fault::new("hole", "missing", "one of hole, shaft, wanted_clearance_um", why));
    }
    let warmth_um = warmth(input)?;
    let clearance = hole.zip(shaft).map(|(h, s)| Clearance::of(&h.1, &s.1));
    let warm = clearance.zip(warmth_um).map(|(c, by)| c.moved(by));
    if input.must_pass {
        let Some(cold) = clearance else {
            let why = "whether a shaft passes is asked of a hole and a shaft: give both classes";
            return Err(Fault::new("must_pass", "true", "both hole and shaft", why));
        };
        cold.passes("must_pass")?;
        if let Some(warm) = warm {
            warm.passes("temperature_c")?;
        }
    }
    let proposals = match input.wanted_clearance_um {
        None => vec![],
        // Wanted warm; the tables speak of 20 °C.
        Some([low, high]) => {
            let by = warmth_um.unwrap_or(0.0);
            let basis = match input.basis {
                BasisName::Hole => Basis::Hole,
                BasisName::Shaft => Basis::Shaft,
            };
            physics::propose(nominal, [low - by, high - by], basis)?.iter().take(TOLD).map(|p| proposal(p, by)).collect()
        }
    };
    let hole = hole.map(|(class, limits)| limits_out(class.to_string(), nominal, &limits));
    let shaft = shaft.map(|(class, limits)| limits_out(class.to_string(), nominal, &limits));
    Ok(FitOut {
        says: says(input, hole.as_ref(), shaft.as_ref(), clearance, warm, &proposals),
        hole,
        shaft,
        clearance: clearance.map(Into::into),
        warmth_um,
        clearance_warm: warm.map(Into::into),
        proposals,
    })
}

fn warmth(input: &FitIn) -> Result<Option<f64>, Fault> {
    let t = input.temperature_c.within("temperature_c", -60.0, 220.0, "°C", "temperature at which the parts run")?;
    let hole = input.hole_material.as_deref().map(|n| Material::find("hole_material", n)).transpose()?;
    let shaft = input.shaft_material.as_deref().map(|n| Material::find("shaft_material", n)).transpose()?;
    match (hole, shaft) {
        (Some(h), Some(s)) => physics::warmth_um(input.nominal_mm, h.cte_per_mk, s.cte_per_mk, t - REFERENCE_C).map(Some),
        (None, None) if t == REFERENCE_C => Ok(None),
        (None, _) => Err(Fault::new("hole_material", "missing", "both materials", "what warmth changes depends on both parts' expansion")),
        (_, None) => Err(Fault::new("shaft_material", "missing", "both materials", "what warmth changes depends on both parts' expansion")),
    }
}

fn limits_out(class: String, nominal_mm: f64, l: &Limits) -> LimitsOut {
    let [smallest_mm, largest_mm] = l.sizes_mm(nominal_mm);
    LimitsOut { class, upper_um: l.upper_um, lower_um: l.lower_um, tolerance_um: l.tolerance_um(), largest_mm, smallest_mm }
}

fn proposal(p: &Proposal, warmth_um: f64) -> ProposalOut {
    let c = p.clearance.moved(warmth_um);
    ProposalOut {
        hole: p.hole.to_string(),
        shaft: p.shaft.to_string(),
        min_um: c.min_um,
        max_um: c.max_um,
        room_um: p.hole_limits.tolerance_um() + p.shaft_limits.tolerance_um(),
    }
}

fn says(
    input: &FitIn,
    hole: Option<&LimitsOut>,
    shaft: Option<&LimitsOut>,
    clearance: Option<Clearance>,
    warm: Option<Clearance>,
    proposals: &[ProposalOut],
) -> String {
    let mut text = String::new();
    let mut say = |sentence: String| {
        if !text.is_empty() {
            text.push(' ');
        }
        text.push_str(&sentence);
    };
    for part in [hole, shaft].into_iter().flatten() {
        say(format!(
            "{} {}: {:.4} to {:.4} mm ({:+} / {:+} µm).",
            input.nominal_mm, part.class, part.smallest_mm, part.largest_mm, part.upper_um, part.lower_um
        ));
    }
    if let Some(c) = clearance {
        say(match c.kind() {
            Kind::Clearance => format!("Clearance {} to {} µm: the shaft always passes.", c.min_um, c.max_um),
            Kind::Interference => format!("Interference {} to {} µm: it must be pressed or shrunk.", -c.max_um, -c.min_um),
            Kind::Transition => format!("From {} µm of interference to {} µm of clearance: as the parts come.", -c.min_um, c.max_um),
        });
    }
    if let Some(c) = warm {
        say(format!("At {} °C the clearance is {:.1} to {:.1} µm.", input.temperature_c, c.min_um, c.max_um));
    }
    if let Some(p) = proposals.first() {
        say(format!("{}/{} gives {} to {} µm and leaves the shop {} µm in all.", p.hole, p.shaft, p.min_um, p.max_um, p.room_um));
    }
    text
}

/// The saddle's guide in the demo's pillar: brass in aluminium on a warm day.
pub(crate) fn example() -> FitIn {
    FitIn {
        nominal_mm: 40.0,
        hole: Some("H7".into()),
        shaft: Some("g6".into()),
        wanted_clearance_um: Some([5.0, 60.0]),
        basis: BasisName::Hole,
        hole_material: Some("EN AW-6082-T6".into()),
        shaft_material: Some("CW614N".into()),
        temperature_c: 30.0,
        must_pass: true,
    }
}
