//! The one place where a sitting meets the virtual bench.

use super::Sat;
use stillwheel_door::Fault;
use stillwheel_door::look::Reading;
use stillwheel_door::next_step::LookKind;
use stillwheel_door::virtual_bench::{VirtualBenchIn, virtual_bench};

/// Take a look at the hidden wheel of a virtual stand.
///
/// The same sitting, event number and kind always give the same reading, so an act sent twice stores one look.
///
/// # Errors
/// A [`Fault`] when the stand is a real one.
pub(super) fn look(sat: &Sat, after_seq: u32, kind: LookKind) -> Result<Reading, Fault> {
    let stand = &sat.sitting.start.stand.body;
    let Some(seed) = stand.virtual_seed else {
        return Err(Fault::new(
            "stand",
            stand.name.as_str(),
            "a virtual stand",
            "This stand is a real one: take the look there and type what you read.",
        ));
    };
    let known = super::model::known(&sat.sitting.start)?;
    let swings = sat.step.as_ref().ok().and_then(|s| s.swings).unwrap_or(1.0);
    let input = VirtualBenchIn {
        // Another sitting on the same stand hides another wheel.
        seed: sat.sitting.id.as_str().bytes().fold(seed, |s, b| s.wrapping_mul(0x0100_0000_01B3) ^ u64::from(b)),
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
        look: kind,
        swings,
        tell_truth: false,
    };
    Ok(virtual_bench(&input)?.reading)
}
