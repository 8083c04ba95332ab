//! `floor`: the smallest unbalance that a stand can show, cause by cause, against the allowance of a rotor.

use crate::Fault;
use crate::support::{SupportIn, at_support, demo_air};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt::Write as _;
use stillwheel_physics::stand::budget::{self as physics, Budget, Enough, Remedy, RotorOnArbor, Setting, usual_remedy};
use stillwheel_physics::stand::supports::{ArborForm, Cause};

/// A cause that hides or fakes an unbalance.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum CauseName {
    /// Drift torque of the air film.
    FilmDrift,
    /// Slope across the arbor (along ways).
    CrossSlope,
    /// The arbor leaning on an end stop.
    EndStop,
    /// Rolling friction.
    RollingFriction,
    /// Waves and hollows of ways or edges.
    WayFlatness,
    /// Friction of the discs' bearings.
    BearingFriction,
    /// Unbalance of the discs.
    DiscUnbalance,
    /// The arbor is out of round where it is borne.
    ArborRoundness,
    /// The arbor is bent or its seat runs out.
    ArborRunout,
    /// Play between adapter and arbor.
    AdapterFit,
    /// Moving air in the room.
    Draught,
    /// The least creep that is seen within the time one waits.
    Reading,
}

impl From<Cause> for CauseName {
    fn from(cause: Cause) -> Self {
        match cause {
            Cause::FilmDrift => Self::FilmDrift,
            Cause::CrossSlope => Self::CrossSlope,
            Cause::EndStop => Self::EndStop,
            Cause::RollingFriction => Self::RollingFriction,
            Cause::WayFlatness => Self::WayFlatness,
            Cause::BearingFriction => Self::BearingFriction,
            Cause::DiscUnbalance => Self::DiscUnbalance,
            Cause::ArborRoundness => Self::ArborRoundness,
            Cause::ArborRunout => Self::ArborRunout,
            Cause::AdapterFit => Self::AdapterFit,
            Cause::Draught => Self::Draught,
            Cause::Reading => Self::Reading,
        }
    }
}

impl CauseName {
    fn physics(self) -> Cause {
        // Every cause has its name, so one is found.
        Cause::ALL.into_iter().find(|c| Self::from(*c) == self).unwrap_or(Cause::Reading)
    }
}

/// What it costs this shop to improve a cause.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RemedyIn {
    /// Which cause.
    pub cause: CauseName,
    /// Rank of the cost, 1 to 9: 1 minutes with what is there, 3 an afternoon, 5 a new part.
    pub cost: u32,
    /// What this shop would do; missing: the usual words.
    #[serde(default)]
    pub words: Option<String>,
}

/// Input of `floor`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FloorIn {
    /// What bears the rotor.
    pub support: SupportIn,
    /// Other supports to compare with, under the same rotor and room.
    #[serde(default)]
    pub compare: Vec<SupportIn>,
    /// Permissible residual unbalance of the rotor, g·mm.
    pub allowance_g_mm: f64,
    /// Mass of the whole rotor with its arbor, kg.
    pub mass_kg: f64,
    /// Mass that sits on the arbor's seat (wheel and adapter), kg.
    pub seated_mass_kg: f64,
    /// Inertia about the arbor's axis, kg·m².
    pub inertia_kg_m2: f64,
    /// Wheel diameter now, mm.
    pub wheel_diameter_mm: f64,
    /// Radius of the arbor where it is borne, mm.
    pub arbor_radius_mm: f64,
    /// Roundness deviation there, largest less smallest radius, µm.
    pub arbor_roundness_um: f64,
    /// Lobes of that deviation: 2 oval, 3 or 5 from centreless grinding.
    #[serde(default = "two")]
    pub arbor_lobes: u32,
    /// Total indicated run-out of the wheel's seat against the arbor's journals, µm.
    pub runout_um: f64,
    /// Whether the wheel is looked at in two places on the arbor half a turn apart, and the mean taken.
    #[serde(default)]
    pub index_balanced: bool,
    /// Radial play between adapter and arbor, µm; 0 for a taper or a clamped bush.
    #[serde(default)]
    pub seat_play_um: f64,
    /// Slope across the arbor (along ways), mm/m.
    pub cross_slope_mm_per_m: f64,
    /// Slope along the arbor, mm/m.
    pub axial_slope_mm_per_m: f64,
    /// Speed of air along one half of the wheel, m/s. Missing: 0.05, a still room (common practice, no source).
    #[serde(default = "still_room")]
    pub draught_m_s: f64,
    /// Creep of the rotor that the reader is sure to see, degrees. Missing: 2 (common practice, no source).
    #[serde(default = "visible_creep")]
    pub visible_creep_deg: f64,
    /// How long the reader waits for it, s. Missing: 60 (common practice, no source).
    #[serde(default = "patience")]
    pub patience_s: f64,
    /// Costs and words of this shop, in place of the usual ones.
    #[serde(default)]
    pub remedies: Vec<RemedyIn>,
}

fn two() -> u32 {
    2
}
fn still_room() -> f64 {
    0.05
}
fn visible_creep() -> f64 {
    2.0
}
fn patience() -> f64 {
    60.0
}

/// Whether the floor is low enough.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum EnoughName {
    /// Even the worst case lies within the allowance.
    Surely,
    /// The floor lies within, the worst case does not.
    Likely,
    /// The stand cannot show a rotor within this allowance.
    No,
}

impl From<Enough> for EnoughName {
    fn from(e: Enough) -> Self {
        match e {
            Enough::Surely => Self::Surely,
            Enough::Likely => Self::Likely,
            Enough::No => Self::No,
        }
    }
}

/// One cause of the floor.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CauseOut {
    /// Which.
    pub cause: CauseName,
    /// What stays the same from look to look, g·mm.
    pub systematic_g_mm: f64,
    /// What changes from look to look, g·mm, standard deviation.
    pub random_sd_g_mm: f64,
    /// Both at 95 %, by root sum, g·mm.
    pub size_g_mm: f64,
    /// Share of the floor's square, 0 to 1.
    pub share: f64,
    /// The floor if this cause were halved, g·mm.
    pub floor_if_halved_g_mm: f64,
    /// Rank of the cost of improving it.
    pub cost: u32,
}

/// What is said of a cause.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CauseWords {
    /// Which.
    pub cause: CauseName,
    /// What to do about it.
    pub remedy: String,
    /// Where its size comes from.
    pub source: String,
}

/// What to improve first.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ImproveOut {
    /// Which cause.
    pub cause: CauseName,
    /// What to do.
    pub remedy: String,
    /// Rank of its cost.
    pub cost: u32,
    /// The floor with this cause halved, g·mm.
    pub floor_then_g_mm: f64,
    /// Whether that alone brings the floor within the allowance.
    pub enough_then: bool,
}

/// Another support under the same rotor.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ComparedOut {
    /// What bears the rotor.
    pub support: String,
    /// Its floor, g·mm.
    pub floor_g_mm: f64,
    /// Its worst case, g·mm.
    pub worst_case_g_mm: f64,
    /// Its dead band, g·mm.
    pub dead_band_g_mm: f64,
    /// Its steady torque, g·mm, positive counter-clockwise.
    pub drift_g_mm: f64,
    /// Allowance over floor.
    pub times: f64,
    /// Whether that is enough.
    pub enough: EnoughName,
}

/// Output of `floor`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FloorOut {
    /// The answer in a few sentences.
    pub says: String,
    /// Smallest unbalance that the stand can show, root sum of all causes at 95 %, g·mm.
    pub floor_g_mm: f64,
    /// All causes added plainly at 95 %, g·mm.
    pub worst_case_g_mm: f64,
    /// The floor when the steady torques are known and taken off, g·mm.
    pub floor_drift_known_g_mm: f64,
    /// Plain sum of the systematic parts, g·mm.
    pub systematic_sum_g_mm: f64,
    /// Root sum of the random parts at 95 %, g·mm.
    pub random_root_sum_g_mm: f64,
    /// Unbalance that the support holds at any place by dry friction, g·mm.
    pub dead_band_g_mm: f64,
    /// Steady torque, g·mm, positive counter-clockwise.
    pub drift_g_mm: f64,
    /// Allowance, g·mm.
    pub allowance_g_mm: f64,
    /// Allowance over floor.
    pub times: f64,
    /// Whether the floor is low enough.
    pub enough: EnoughName,
    /// What to improve first.
    pub improve: Option<ImproveOut>,
    /// Each cause, largest first.
    pub causes: Vec<CauseOut>,
    /// What to do about each cause and where its size comes from, in the same order.
    pub words: Vec<CauseWords>,
    /// Other supports under the same rotor.
    pub compared: Vec<ComparedOut>,
    /// What to beware of.
    pub cautions: Vec<String>,
}

/// Rotor and setting of an input, as the budget takes them.
pub(crate) fn rotor_and_setting(input: &FloorIn) -> (RotorOnArbor, Setting) {
    let rotor = RotorOnArbor {
        mass_kg: input.mass_kg,
        seated_mass_kg: input.seated_mass_kg,
        inertia_kg_m2: input.inertia_kg_m2,
        wheel_diameter_mm: input.wheel_diameter_mm,
        arbor: ArborForm { radius_mm: input.arbor_radius_mm, roundness_um: input.arbor_roundness_um, lobes: input.arbor_lobes },
        runout_um: input.runout_um,
        index_balanced: input.index_balanced,
        seat_play_um: input.seat_play_um,
    };
    let setting = Setting {
        cross_slope_mm_per_m: input.cross_slope_mm_per_m,
        axial_slope_mm_per_m: input.axial_slope_mm_per_m,
        draught_m_s: input.draught_m_s,
        visible_creep_deg: input.visible_creep_deg,
        patience_s: input.patience_s,
    };
    (rotor, setting)
}

/// The floor of a stand for a rotor.
///
/// # Errors
/// A [`Fault`] for any value out of its range.
pub fn floor(input: &FloorIn) -> Result<FloorOut, Fault> {
    let (rotor, setting) = rotor_and_setting(input);
    let remedies: Vec<Remedy> = input.remedies.iter().map(remedy).collect();
    let of = |support: &SupportIn, place: &str| {
        physics::floor(&support.physics(), &rotor, &setting, input.allowance_g_mm, &remedies).map_err(at_support(place))
    };
    let budget = of(&input.support, "support")?;
    let compared = input
        .compare
        .iter()
        .enumerate()
        .map(|(i, support)| Ok(compared(support, &of(support, &format!("compare[{i}]"))?)))
        .collect::<Result<Vec<_>, Fault>>()?;
    let support = input.support.physics();
    let causes = budget
        .lines
        .iter()
        .map(|l| CauseOut {
            cause: l.contribution.cause.into(),
            systematic_g_mm: l.contribution.systematic_g_mm,
            random_sd_g_mm: l.contribution.random_sd_g_mm,
            size_g_mm: l.size_g_mm,
            share: l.share,
            floor_if_halved_g_mm: l.floor_if_halved_g_mm,
            cost: l.remedy.cost,
        })
        .collect();
    let words = budget
        .lines
        .iter()
        .map(|l| CauseWords {
            cause: l.contribution.cause.into(),
            remedy: l.remedy.words.clone(),
            source: support.source_of(l.contribution.cause).to_owned(),
        })
        .collect();
    let improve = budget.improve.map(|i| {
        let l = &budget.lines[i];
        ImproveOut {
            cause: l.contribution.cause.into(),
            remedy: l.remedy.words.clone(),
            cost: l.remedy.cost,
            floor_then_g_mm: l.floor_if_halved_g_mm,
            enough_then: l.floor_if_halved_g_mm <= budget.allowance_g_mm,
        }
    });
    Ok(FloorOut {
        says: says(&budget, improve.as_ref()),
        floor_g_mm: budget.floor_g_mm,
        worst_case_g_mm: budget.worst_case_g_mm,
        floor_drift_known_g_mm: budget.floor_drift_known_g_mm,
        systematic_sum_g_mm: budget.systematic_sum_g_mm,
        random_root_sum_g_mm: budget.random_root_sum_g_mm,
        dead_band_g_mm: budget.dead_band_g_mm,
        drift_g_mm: budget.drift_g_mm,
        allowance_g_mm: budget.allowance_g_mm,
        times: budget.times,
        enough: budget.enough.into(),
        improve,
        causes,
        words,
        compared,
        cautions: cautions(input),
    })
}

fn remedy(r: &RemedyIn) -> Remedy {
    let usual = usual_remedy(r.cause.physics());
    Remedy { cost: r.cost, words: r.words.clone().unwrap_or_else(|| usual.words.clone()), ..usual }
}

fn compared(support: &SupportIn, b: &Budget) -> ComparedOut {
    ComparedOut {
        support: support.words().to_owned(),
        floor_g_mm: b.floor_g_mm,
        worst_case_g_mm: b.worst_case_g_mm,
        dead_band_g_mm: b.dead_band_g_mm,
        drift_g_mm: b.drift_g_mm,
        times: b.times,
        enough: b.enough.into(),
    }
}

fn says(b: &Budget, improve: Option<&ImproveOut>) -> String {
    let verdict = match b.enough {
        Enough::Surely => "Good enough even if all causes add up",
        Enough::Likely => "Good enough unless the causes add up the wrong way",
        Enough::No => "Not good enough for this rotor",
    };
    let mut text = format!(
        "{verdict}: the stand shows {:.2} g·mm (worst case {:.2}), the allowance is {:.2} g·mm, {:.1} times that.",
        b.floor_g_mm, b.worst_case_g_mm, b.allowance_g_mm, b.times
    );
    if let Some(i) = improve {
        let then = if b.enough != Enough::No {
            ""
        } else if i.enough_then {
            ", and that is enough"
        } else {
            ", which is not enough by itself"
        };
        let _ = write!(text, " Cheapest gain: {}. With that cause halved: {:.2} g·mm{then}.", i.remedy, i.floor_then_g_mm);
    }
    text
}

fn cautions(input: &FloorIn) -> Vec<String> {
    let mut list = Vec::new();
    if let SupportIn::Air { .. } = input.support {
        list.push(
            "Compressed air: regulator, relief valve, filter, eye protection; air on before the arbor is set down, off after it is lifted."
                .into(),
        );
    }
    if !input.index_balanced && input.runout_um > 0.0 {
        list.push(
            "The arbor's run-out turns with the wheel and looks just like it: only turning the wheel on the arbor tells them apart.".into(),
        );
    }
    list
}

/// The demo's wheel on its stand, beside the shop's ways.
pub(crate) fn example() -> FloorIn {
    FloorIn {
        support: demo_air(),
        compare: vec![SupportIn::HardenedWays { lever_arm_um: 8.0, flatness_um: 1.0, length_mm: 150.0 }],
        allowance_g_mm: 9.7,
        mass_kg: 2.9,
        seated_mass_kg: 2.3,
        inertia_kg_m2: 0.0082,
        wheel_diameter_mm: 200.0,
        arbor_radius_mm: 10.0,
        arbor_roundness_um: 0.5,
        arbor_lobes: 3,
        runout_um: 2.0,
        index_balanced: false,
        seat_play_um: 0.0,
        cross_slope_mm_per_m: 0.02,
        axial_slope_mm_per_m: 0.02,
        draught_m_s: still_room(),
        visible_creep_deg: visible_creep(),
        patience_s: patience(),
        remedies: vec![RemedyIn { cause: CauseName::ArborRoundness, cost: 4, words: Some("send the arbor out to be lapped".into()) }],
    }
}
