//! The one place where a sitting meets the virtual bench.

use super::Sat;
use stillwheel_door::Fault;
use stillwheel_door::look::{Reading, TrialWeight};
use stillwheel_door::virtual_bench::{HoldsAt, VirtualBenchIn, VirtualBenchOut, VirtualLook, virtual_bench};
use stillwheel_store::Sitting;

/// Step between the trial weights of the virtual bench, g. Assumed, without a source.
const TRIAL_STEP_G: f64 = 0.1;

/// A look that is asked of the virtual bench.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Asked {
    /// Which look.
    pub look: VirtualLook,
    /// A known mass that is on for it. Not for a hold, which finds its own.
    pub trial: Option<TrialWeight>,
    /// Rotor turned on the arbor against its first seat, degrees counter-clockwise.
    pub turned_deg: f64,
}

impl From<VirtualLook> for Asked {
    fn from(look: VirtualLook) -> Self {
        Self { look, trial: None, turned_deg: 0.0 }
    }
}

/// Take a look at the hidden wheel of a virtual stand.
///
/// The same sitting, event number and look always give the same reading, so an act sent twice stores one look.
///
/// # Errors
/// A [`Fault`] when the stand is a real one, or for a hold before anything is known of the heavy side.
pub(super) fn look(sat: &Sat, after_seq: u32, asked: Asked) -> Result<VirtualBenchOut, Fault> {
    let stand = &sat.sitting.start.stand.body;
    let Some(seed) = stand.virtual_seed else {
        return Err(Fault::new(
            "stand",
            stand.name.as_str(),
            "a virtual stand",
            "This stand is a real one: take the look there and type what you read.",
        ));
    };
    let known = super::model::known(&sat.sitting.start, true)?;
    let swings = sat.step.as_ref().ok().and_then(|s| s.swings).unwrap_or(1.0);
    let holds = if asked.look == VirtualLook::Holds { Some(level(sat)?) } else { None };
    virtual_bench(&VirtualBenchIn {
        seed: hidden_wheel(&sat.sitting, seed),
        look_number: u64::from(after_seq),
        inertia_kg_m2: known.inertia_kg_m2,
        inertia_rel_sd: known.inertia_rel_sd,
        unbalance_about_g_mm: known.unbalance_prior_sd_g_mm,
        drift_sd_g_mm: known.drift_sd_g_mm,
        dry_friction_g_mm: known.dry_friction_g_mm,
        allowance_g_mm: sat.sitting.start.allowance.g_mm,
        setting_sd_deg: known.setting_sd_deg,
        weights: sat.weights.clone(),
        reader: super::reader_of(&sat.sitting),
        turned_on_arbor_deg: asked.turned_deg,
        arbor_error_sd_g_mm: known.arbor_error_sd_g_mm,
        trial: asked.trial,
        holds,
        look: asked.look,
        swings,
        tell_truth: false,
    })
}

/// Seed of the wheel that a sitting hides: another sitting, begun at another time, hides another wheel.
fn hidden_wheel(sitting: &Sitting, seed: u64) -> u64 {
    let began = sitting.start.started_at.as_nanosecond();
    began.to_le_bytes().iter().fold(seed, |s, b| s.wrapping_mul(0x0100_0000_01B3) ^ u64::from(*b))
}

/// Heavy side level with the axis, the trial weight opposite at the ring: there it tells the size best.
fn level(sat: &Sat) -> Result<HoldsAt, Fault> {
    let heavy_deg = sat.looks.iter().rev().find_map(|l| match l.look.reading {
        Reading::Settle { settle_deg, .. } if l.look.weights == sat.weights && l.look.trial.is_none() => Some(settle_deg),
        _ => None,
    });
    let Some(heavy_deg) = heavy_deg else {
        let why = "To find the weight that holds it, the heavy side must be known: let it settle first.";
        return Err(Fault::new("look", "holds", "a settle with the weights where they are", why));
    };
    Ok(HoldsAt {
        bottom_deg: (heavy_deg + 270.0).rem_euclid(360.0),
        at_deg: (heavy_deg + 180.0).rem_euclid(360.0),
        radius_mm: sat.sitting.start.ring.body.radius_mm,
        step_g: TRIAL_STEP_G,
    })
}
