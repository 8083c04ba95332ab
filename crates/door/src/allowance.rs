//! `allowance`: how much unbalance a rotor may keep, and what that is in other words.

use crate::Fault;
use crate::ground_face::HeadIn;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::Ranged;
use stillwheel_physics::quantity::{Length, Mass, RotationalSpeed, Unbalance, Velocity};
use stillwheel_physics::rotor::acceptance::{self, acceptance_limits};
use stillwheel_physics::rotor::allowance::{self as physics, Finish, OneWeight, Reasons, WheelMakerTolerance};
use stillwheel_physics::rotor::speed::{MarkedMaximum, check_marked_speed};

/// The wheel maker's tolerance by the form of ISO 6103, `m_a = k·√m1`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct WheelMaker {
    /// The maker's factor k (m_a and m1 in grams; 0.01 to 10): from the maker, there is no default.
    pub k: f64,
    /// Mass of the wheel alone, g.
    pub wheel_mass_g: f64,
}

/// The groove or hole circle of the correction weights.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct WeightRing {
    /// Radius on which the mass centres of the weights run, mm.
    pub radius_mm: f64,
    /// Mass of one weight, g; without it the travel of one weight is not told.
    #[serde(default)]
    pub weight_mass_g: Option<f64>,
}

/// The face that is wanted, and the machine that grinds it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FinishIn {
    /// Height of the waves, crest to trough (Wt), that the face may have, µm (0.001 to 100).
    pub waviness_um: f64,
    /// Response of the wheel head.
    pub head: HeadIn,
    /// Speed of the table, m/min (0.06 to 120).
    pub table_speed_m_min: f64,
}

/// A residual that was measured, with the errors of measuring it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MeasuredResidual {
    /// Residual unbalance, g·mm.
    pub residual_g_mm: f64,
    /// Random parts of its error, g·mm, at the confidence wanted; they add by root sum of squares.
    #[serde(default)]
    pub random_parts_g_mm: Vec<f64>,
    /// What is left of systematic error, g·mm; it adds directly.
    #[serde(default)]
    pub systematic_rest_g_mm: f64,
}

/// Input of `allowance`. At least one of grade, wheel maker's tolerance, finish and typed limit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AllowanceIn {
    /// Mass of the rotor (wheel, adapter and what turns with them as one), kg; wheel and adapter alone is the cautious choice.
    pub mass_kg: f64,
    /// Speed of the machine, r/min.
    pub speed_rpm: f64,
    /// Diameter of the wheel now, mm.
    pub wheel_diameter_mm: f64,
    /// Maximum speed marked on the wheel, m/s at the rim.
    #[serde(default)]
    pub marked_max_m_s: Option<f64>,
    /// Maximum speed marked on the wheel, r/min.
    #[serde(default)]
    pub marked_max_rpm: Option<f64>,
    /// Balance quality grade, mm/s (ISO 21940-11), such as 1.
    #[serde(default)]
    pub grade_mm_s: Option<f64>,
    /// The wheel maker's tolerance (ISO 6103).
    #[serde(default)]
    pub wheel_maker: Option<WheelMaker>,
    /// The waves that the ground face may have.
    #[serde(default)]
    pub finish: Option<FinishIn>,
    /// A limit of your own, g·mm.
    #[serde(default)]
    pub typed_g_mm: Option<f64>,
    /// The weight ring, for grams and travel of a weight.
    #[serde(default)]
    pub weight_ring: Option<WeightRing>,
    /// A measured residual to judge.
    #[serde(default)]
    pub measured: Option<MeasuredResidual>,
}

/// Why a limit applies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Reason {
    /// Balance quality grade and speed.
    Grade,
    /// The wheel maker's tolerance.
    WheelMaker,
    /// The waves that the ground face may have.
    Finish,
    /// The typed limit.
    Typed,
}

/// One limit.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LimitOut {
    /// Why it applies.
    pub reason: Reason,
    /// Permissible residual unbalance by it, g·mm.
    pub permissible_g_mm: f64,
}

/// An unbalance of this rotor in other words.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct EquivalentsOut {
    /// Unbalance, g·mm.
    pub unbalance_g_mm: f64,
    /// The same in oz·in.
    pub unbalance_oz_in: f64,
    /// Mass at the radius of the weight ring that makes as much, g.
    pub mass_at_ring_g: Option<f64>,
    /// Travel of one weight along the ring that makes as much, degrees; absent when one weight cannot.
    pub travel_of_one_weight_deg: Option<f64>,
    /// The same along the ring, mm.
    pub travel_of_one_weight_mm: Option<f64>,
    /// Offset of the mass centre from the axis, µm.
    pub mass_centre_offset_um: f64,
    /// Rotating force at the machine's speed, N.
    pub force_n: f64,
    /// Balance quality grade, mm/s.
    pub grade_mm_s: f64,
    /// Height of the waves that it leaves on the face in one pass, µm; absent when no finish was asked for.
    #[serde(default)]
    pub waviness_um: Option<f64>,
}

/// What a measured residual says.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Proven within the allowance.
    Accept,
    /// Within the error of the allowance: proves nothing either way.
    Undecided,
    /// Proven outside the allowance.
    Reject,
}

/// The measured residual judged.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Judged {
    /// The residual in other words.
    pub residual: EquivalentsOut,
    /// Error of measuring it, g·mm.
    pub error_g_mm: f64,
    /// Accept up to this, g·mm; absent when the error leaves nothing to accept.
    pub accept_up_to_g_mm: Option<f64>,
    /// A later check may reject only above this, g·mm.
    pub reject_above_g_mm: f64,
    /// The verdict.
    pub verdict: Verdict,
}

/// Output of `allowance`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AllowanceOut {
    /// Permissible residual unbalance: the tightest limit, g·mm.
    pub allowance_g_mm: f64,
    /// Why: the reason that governs.
    pub reason: Reason,
    /// A sentence for the operator.
    pub says: String,
    /// All limits, the tightest first.
    pub limits: Vec<LimitOut>,
    /// The allowance in other words.
    pub equivalents: EquivalentsOut,
    /// Speed of the wheel's rim, m/s.
    pub rim_speed_m_s: f64,
    /// The measured residual, judged.
    pub judged: Option<Judged>,
    /// Cautions to show beside the number.
    pub cautions: Vec<String>,
}

/// Permissible residual unbalance of a rotor.
///
/// # Errors
/// A [`Fault`] for a machine that would run the wheel above its marked speed, for no reason given, and for any value
/// out of its range.
pub fn allowance(input: &AllowanceIn) -> Result<AllowanceOut, Fault> {
    let (mass, speed) = (Mass::from_kg(input.mass_kg), RotationalSpeed::from_rpm(input.speed_rpm));
    let diameter = Length::from_mm(input.wheel_diameter_mm);
    let marked =
        MarkedMaximum { rim: input.marked_max_m_s.map(Velocity::from_m_s), rotation: input.marked_max_rpm.map(RotationalSpeed::from_rpm) };
    // Safety first: no number for a wheel that must not turn so fast.
    let rim = check_marked_speed(diameter, speed, marked)?;
    if let Some(w) = input.wheel_maker.filter(|w| w.wheel_mass_g > input.mass_kg * 1000.0) {
        let allowed = format!("at most {} g, the rotor's mass", input.mass_kg * 1000.0);
        return Err(Fault::new("wheel_maker.wheel_mass_g", w.wheel_mass_g, allowed, "the wheel alone cannot be heavier than the rotor"));
    }
    let wheel_maker =
        input.wheel_maker.map(|w| WheelMakerTolerance { k: w.k, wheel_mass: Mass::from_g(w.wheel_mass_g), wheel_diameter: diameter });
    let finish = input.finish.as_ref().map(|f| finish(f, diameter).map_err(|e| e.inside("finish"))).transpose()?;
    let typed = input.typed_g_mm.map(Unbalance::from_g_mm);
    let reasons = Reasons { mass, speed, grade_mm_s: input.grade_mm_s, wheel_maker, finish, typed };
    let limits: Vec<LimitOut> = physics::limits(&reasons)
        .map_err(|f| if f.field == "finish.wheel_diameter_mm" { Fault { field: "wheel_diameter_mm".into(), ..f } } else { f })?
        .into_iter()
        .map(|l| LimitOut { reason: reason(l.reason), permissible_g_mm: l.permissible.g_mm() })
        .collect();
    let governing = limits[0];
    let weight =
        input.weight_ring.map(|r| OneWeight { ring_radius: Length::from_mm(r.radius_mm), mass: r.weight_mass_g.map(Mass::from_g) });
    let words = |u: Unbalance| {
        let waves = finish.map(|f| f.waviness_of(u, speed)).transpose()?;
        physics::equivalents(u, mass, speed, weight).map(|e| equivalents_out(e, waves)).map_err(|f| match f.field.as_str() {
            "ring_radius_mm" => Fault { field: "weight_ring.radius_mm".into(), ..f },
            "weight_mass_g" => f.inside("weight_ring"),
            _ => f,
        })
    };
    let permissible = Unbalance::from_g_mm(governing.permissible_g_mm);
    // First, so that a fault of the ring is told as the ring's and not as the residual's.
    let equivalents = words(permissible)?;
    let judged = input.measured.as_ref().map(|m| judge(m, permissible, words).map_err(|f| f.inside("measured"))).transpose()?;
    Ok(AllowanceOut {
        allowance_g_mm: governing.permissible_g_mm,
        reason: governing.reason,
        says: says(&limits, input),
        equivalents,
        rim_speed_m_s: rim.m_s(),
        judged,
        cautions: cautions(input, rim),
        limits,
    })
}

fn reason(r: physics::Reason) -> Reason {
    match r {
        physics::Reason::Grade => Reason::Grade,
        physics::Reason::WheelMaker => Reason::WheelMaker,
        physics::Reason::Finish => Reason::Finish,
        physics::Reason::Typed => Reason::Typed,
    }
}

fn finish(f: &FinishIn, wheel_diameter: Length) -> Result<Finish, Fault> {
    f.table_speed_m_min.within("table_speed_m_min", 0.06, 120.0, "m/min", "speed of the table: often 6 to 30 m/min")?;
    Ok(Finish {
        waviness: Length::from_mm(f.waviness_um * 1e-3),
        head: f.head.read().map_err(|e| e.inside("head"))?,
        table_speed: Velocity::from_m_s(f.table_speed_m_min / 60.0),
        wheel_diameter,
    })
}

fn equivalents_out(e: physics::Equivalents, waves: Option<Length>) -> EquivalentsOut {
    EquivalentsOut {
        unbalance_g_mm: e.g_mm,
        unbalance_oz_in: e.oz_in,
        mass_at_ring_g: e.at_ring.map(Mass::g),
        travel_of_one_weight_deg: e.travel_of_one.map(|t| t.angle.deg()),
        travel_of_one_weight_mm: e.travel_of_one.map(|t| t.along.mm()),
        mass_centre_offset_um: e.offset_um,
        force_n: e.force_n,
        grade_mm_s: e.grade_mm_s,
        waviness_um: waves.map(|w| w.mm() * 1e3),
    }
}

fn judge(m: &MeasuredResidual, allowance: Unbalance, words: impl Fn(Unbalance) -> Result<EquivalentsOut, Fault>) -> Result<Judged, Fault> {
    let parts: Vec<Unbalance> = m.random_parts_g_mm.iter().copied().map(Unbalance::from_g_mm).collect();
    let limits = acceptance_limits(allowance, &parts, Unbalance::from_g_mm(m.systematic_rest_g_mm))?;
    let residual = Unbalance::from_g_mm(m.residual_g_mm);
    let verdict = match limits.verdict(residual)? {
        acceptance::Verdict::Accept => Verdict::Accept,
        acceptance::Verdict::Undecided => Verdict::Undecided,
        acceptance::Verdict::Reject => Verdict::Reject,
    };
    Ok(Judged {
        residual: words(residual)?,
        error_g_mm: limits.error.g_mm(),
        accept_up_to_g_mm: limits.accept_up_to.map(Unbalance::g_mm),
        reject_above_g_mm: limits.reject_above.g_mm(),
        verdict,
    })
}

fn named(reason: Reason, input: &AllowanceIn) -> String {
    match (reason, input.grade_mm_s) {
        (Reason::Grade, Some(g)) => format!("balance quality grade G {g} at {} r/min", input.speed_rpm),
        (Reason::Grade, None) => "the balance quality grade".into(),
        (Reason::WheelMaker, _) => "the wheel maker's tolerance".into(),
        (Reason::Finish, _) => {
            let um = input.finish.as_ref().map_or(0.0, |f| f.waviness_um);
            format!("waves of at most {um} µm on the ground face")
        }
        (Reason::Typed, _) => "your own limit".into(),
    }
}

fn says(limits: &[LimitOut], input: &AllowanceIn) -> String {
    let told = |l: &LimitOut| (named(l.reason, input), l.permissible_g_mm);
    let (by, governing) = told(&limits[0]);
    let others: Vec<String> = limits[1..].iter().map(told).map(|(by, u)| format!("{by} would allow {u:.4} g·mm")).collect();
    if others.is_empty() {
        return format!("{governing:.4} g·mm, by {by}.");
    }
    format!("{governing:.4} g·mm, by {by}: the tightest governs; {}.", others.join(", "))
}

fn cautions(input: &AllowanceIn, rim: Velocity) -> Vec<String> {
    let mut list = Vec::new();
    if input.marked_max_m_s.is_none() && input.marked_max_rpm.is_none() {
        list.push(format!(
            "The marked maximum speed was not given. The rim will run at {:.1} m/s: compare it with the mark on the wheel before it turns.",
            rim.m_s()
        ));
    }
    list.push("A wheel that is balanced is not thereby fit to run: ring test, flanges, blotters and guard come first.".into());
    list
}

/// The demo's wheel on machine "No. 2".
pub(crate) fn example() -> AllowanceIn {
    AllowanceIn {
        mass_kg: 2.9,
        speed_rpm: 2860.0,
        wheel_diameter_mm: 200.0,
        marked_max_m_s: Some(35.0),
        marked_max_rpm: None,
        grade_mm_s: Some(1.0),
        wheel_maker: None,
        finish: Some(FinishIn {
            waviness_um: 0.2,
            head: HeadIn { stiffness_n_um: 30.0, natural_frequency_hz: Some(120.0), moving_mass_kg: None, damping_ratio: 0.04 },
            table_speed_m_min: 15.0,
        }),
        typed_g_mm: None,
        weight_ring: Some(WeightRing { radius_mm: 38.0, weight_mass_g: Some(16.0) }),
        measured: Some(MeasuredResidual { residual_g_mm: 4.0, random_parts_g_mm: vec![1.2, 0.8], systematic_rest_g_mm: 0.5 }),
    }
}
