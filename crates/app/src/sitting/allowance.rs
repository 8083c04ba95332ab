//! The allowance of a sitting, by the door's own calculation.

use stillwheel_door::Fault;
use stillwheel_door::allowance::{self as door, AllowanceIn, Reason, WheelMaker, allowance};
use stillwheel_store::{Allowance, Machine, RingKind, Rotor, WeightRing};

/// Reasons that a person asks for; at least one.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Reasons {
    /// Balance quality grade, mm/s.
    pub grade_mm_s: Option<f64>,
    /// The wheel maker's factor k.
    pub maker_k: Option<f64>,
    /// Mass of the wheel alone, g, for the maker's tolerance.
    pub wheel_mass_g: Option<f64>,
    /// A typed limit, g·mm.
    pub typed_g_mm: Option<f64>,
}

/// The limits weighed, and the tightest in other words.
#[derive(Clone, Debug, PartialEq)]
pub struct Weighed {
    /// As the sitting keeps it.
    pub allowance: Allowance,
    /// Every limit: why, and how much, g·mm.
    pub limits: Vec<(&'static str, f64)>,
    /// Mass at the weight ring, g.
    pub at_ring_g: Option<f64>,
    /// Travel of one weight: degrees, and mm along the ring.
    pub travel: Option<(f64, f64)>,
    /// Offset of the mass centre, µm.
    pub offset_um: f64,
    /// Rotating force at speed, N.
    pub force_n: f64,
    /// Speed of the wheel's rim, m/s.
    pub rim_speed_m_s: f64,
    /// Cautions to show beside the number.
    pub cautions: Vec<String>,
}

/// The tightest of the reasons that apply.
///
/// # Errors
/// A [`Fault`] when no reason is given, a value is out of its range, or the machine runs the wheel above its marked speed.
pub fn weigh_allowance(reasons: &Reasons, rotor: &Rotor, machine: &Machine, ring: &WeightRing) -> Result<Weighed, Fault> {
    let wheel_maker = match (reasons.maker_k, reasons.wheel_mass_g) {
        (Some(k), Some(wheel_mass_g)) => Some(WheelMaker { k, wheel_mass_g }),
        (Some(_), None) => {
            return Err(Fault::new(
                "wheel_mass_g",
                "missing",
                "the mass of the wheel alone, g",
                "The maker's tolerance is a share of the wheel's own mass.",
            ));
        }
        (None, _) => None,
    };
    // Weights of one ring may differ: the lightest has the longest way, and is the one to set with.
    let lightest = match &ring.kind {
        RingKind::Groove(g) => g.weights.iter().map(|w| w.mass_g).reduce(f64::min),
        RingKind::TappedHoles(_) => None,
    };
    let out = allowance(&AllowanceIn {
        mass_kg: rotor.mass_kg,
        speed_rpm: machine.speed_rpm,
        wheel_diameter_mm: rotor.wheel.diameter_mm,
        marked_max_m_s: rotor.wheel.max_speed_m_s,
        marked_max_rpm: rotor.wheel.max_speed_rpm,
        grade_mm_s: reasons.grade_mm_s,
        wheel_maker,
        finish: None,
        typed_g_mm: reasons.typed_g_mm,
        weight_ring: Some(door::WeightRing { radius_mm: ring.radius_mm, weight_mass_g: lightest }),
        measured: None,
    })?;
    let e = out.equivalents;
    let limits = serde_json::to_value(&out).map_err(|e| Fault::new("limits", "these limits", "finite numbers", e.to_string()))?;
    Ok(Weighed {
        allowance: Allowance { g_mm: out.allowance_g_mm, reason: reason_in_words(out.reason, reasons, machine), limits },
        limits: out.limits.iter().map(|l| (in_words(l.reason), l.permissible_g_mm)).collect(),
        at_ring_g: e.mass_at_ring_g,
        travel: e.travel_of_one_weight_deg.zip(e.travel_of_one_weight_mm),
        offset_um: e.mass_centre_offset_um,
        force_n: e.force_n,
        rim_speed_m_s: out.rim_speed_m_s,
        cautions: out.cautions,
    })
}

/// Why the tightest governs, without the number itself: that is shown in the reader's unit.
fn reason_in_words(reason: Reason, reasons: &Reasons, machine: &Machine) -> String {
    match (reason, reasons.grade_mm_s, reasons.maker_k) {
        (Reason::Grade, Some(g), _) => format!("balance quality grade G {g} at {} r/min (ISO 21940-11)", machine.speed_rpm),
        (Reason::WheelMaker, _, Some(k)) => format!("wheel maker’s tolerance, k = {k} (form of ISO 6103)"),
        _ => "limit set by the operator".into(),
    }
}

fn in_words(reason: Reason) -> &'static str {
    match reason {
        Reason::Grade => "By the grade",
        Reason::WheelMaker => "By the wheel’s maker",
        Reason::Finish => "By the ground face",
        Reason::Typed => "Your own limit",
    }
}
