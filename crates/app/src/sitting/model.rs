//! From the records of a sitting to the input of the calculations.

use stillwheel_door::Fault;
use stillwheel_door::estimate::Known;
use stillwheel_door::look::{Look, WeightAt};
use stillwheel_door::next_step::{Groove, GrooveWeight, NextStepIn};
use stillwheel_physics::Ranged;
use stillwheel_store::{RingKind, SittingStart, StandKind, WeightRing};

/// How well a weight is set to its graduation by eye, degrees, one standard deviation. Common practice, no source.
const SETTING_SD_DEG: f64 = 0.25;

/// Share of the ring's whole capacity that a new wheel's unbalance is expected to need, when nothing else is known.
/// Common practice, no source: weights are chosen so that about a third of their range is used.
const EXPECTED_SHARE: f64 = 0.35;

/// Probability asked for before a residual is accepted; ISO 14253-1 uses the same by default.
const SURENESS: f64 = 0.95;

/// What is known before the first look.
///
/// # Errors
/// As [`next_step_in`].
pub fn known(start: &SittingStart) -> Result<Known, Fault> {
    let (rotor, stand) = (&start.rotor.body, &start.stand.body);
    // On ways and edges the arbor rolls: the mass is carried along too (balance on rolling ways, derived in docs/physics.md).
    let rolls = matches!(stand.kind, StandKind::HardenedWays | StandKind::KnifeEdges);
    let rolling = if rolls { stand.arbor_radius_mm.map_or(0.0, |r| rotor.mass_kg * (r / 1000.0).powi(2)) } else { 0.0 };
    let capacity: f64 = groove(&start.ring.body)?.weights.iter().map(|w| w.moment_g_mm).sum();
    Ok(Known {
        inertia_kg_m2: rotor.inertia_kg_m2 + rolling,
        inertia_rel_sd: rotor.inertia_rel_sd,
        unbalance_prior_sd_g_mm: rotor.expected_unbalance_g_mm.unwrap_or(EXPECTED_SHARE * capacity),
        drift_sd_g_mm: stand.drift_sd_g_mm,
        dry_friction_g_mm: stand.dry_friction_g_mm,
        arbor_error_sd_g_mm: 0.0,
        setting_sd_deg: SETTING_SD_DEG,
        misread_share: 0.01,
    })
}

/// The whole input of `next-step`.
///
/// # Errors
/// A [`Fault`] when the ring has no sliding weights.
pub fn next_step_in(start: &SittingStart, looks: Vec<Look>, weights_now: Vec<WeightAt>) -> Result<NextStepIn, Fault> {
    Ok(NextStepIn {
        known: known(start)?,
        looks,
        weights_now,
        groove: groove(&start.ring.body)?,
        allowance_g_mm: start.allowance.g_mm,
        floor_g_mm: start.stand.body.floor_g_mm,
        sureness: SURENESS,
        reader: serde_json::from_value(start.reader.clone()).unwrap_or_default(),
        seed: 1,
    })
}

/// The groove of a ring, or a fault that says why not.
///
/// # Errors
/// A [`Fault`] for a circle of tapped holes.
pub fn weight_ring_of(ring: &WeightRing) -> Result<&stillwheel_store::Groove, Fault> {
    match &ring.kind {
        RingKind::Groove(g) => Ok(g),
        RingKind::TappedHoles(_) => Err(Fault::new(
            "ring",
            ring.name.as_str(),
            "a ring with sliding weights",
            "Sittings with set screws in tapped holes come later; `place-weights` finds the screws for a known unbalance.",
        )),
    }
}

fn groove(ring: &WeightRing) -> Result<Groove, Fault> {
    let g = weight_ring_of(ring)?;
    Ok(Groove {
        weights: g.weights.iter().map(|w| GrooveWeight { moment_g_mm: w.mass_g * ring.radius_mm, arc_deg: w.arc_deg }).collect(),
        graduation_deg: g.graduation_deg,
        forbidden_deg: g.forbidden_deg.clone(),
        no_passing: g.no_passing,
    })
}

/// The weights where the sitting began.
pub(super) fn weights_at_start(start: &SittingStart) -> Result<Vec<WeightAt>, Fault> {
    let ring = &start.ring.body;
    let g = weight_ring_of(ring)?;
    if g.weights.len() != start.weights_at_start_deg.len() {
        return Err(wrong_count(start.weights_at_start_deg.len(), g.weights.len()));
    }
    Ok(g.weights
        .iter()
        .zip(&start.weights_at_start_deg)
        .map(|(w, at)| WeightAt { moment_g_mm: w.mass_g * ring.radius_mm, at_deg: *at })
        .collect())
}

/// The same weights at other places.
pub(super) fn placed(weights: &[WeightAt], to_deg: &[f64]) -> Result<Vec<WeightAt>, Fault> {
    if weights.len() != to_deg.len() {
        return Err(wrong_count(to_deg.len(), weights.len()));
    }
    weights
        .iter()
        .zip(to_deg)
        .enumerate()
        .map(|(i, (w, to))| {
            let at = to.within(&format!("to_deg_{i}"), -360.0, 720.0, "degrees", "where the weight's centre stands, from the zero mark")?;
            Ok(WeightAt { at_deg: at.rem_euclid(360.0), ..*w })
        })
        .collect()
}

fn wrong_count(got: usize, wanted: usize) -> Fault {
    Fault::new("to_deg", got, format!("{wanted} angles"), "one angle for each weight of the ring, in its order")
}
