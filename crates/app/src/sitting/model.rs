//! From the records of a sitting to the input of the calculations.

use stillwheel_door::Fault;
use stillwheel_door::estimate::Known;
use stillwheel_door::look::{Look, WeightAt};
use stillwheel_door::next_step::{Groove, GrooveWeight, NextStepIn, SetScrew, TappedHole, TappedHoles};
use stillwheel_physics::Ranged;
use stillwheel_store::{RingKind, SittingStart, StandKind, WeightRing};

/// How well a weight is set to its graduation by eye, degrees, one standard deviation. Common practice, no source.
const SETTING_SD_DEG: f64 = 0.25;

/// Share of the ring's whole capacity that a new wheel's unbalance is expected to need, when nothing else is known.
/// Common practice, no source: weights are chosen so that about a third of their range is used.
const EXPECTED_SHARE: f64 = 0.35;

/// Standard deviation of the arbor's own error, in allowances, once a look was taken with the rotor turned on it: broad
/// against what is to be found. Common practice, no source.
const ARBOR_ERROR: f64 = 2.0;

/// Probability asked for before a residual is accepted; ISO 14253-1 uses the same by default.
const SURENESS: f64 = 0.95;

/// What is known before the first look. `turned`: some look was taken with the rotor turned on the arbor; only then is
/// the arbor an unknown of its own, else it is part of the rotor.
///
/// # Errors
/// As [`next_step_in`].
pub fn known(start: &SittingStart, turned: bool) -> Result<Known, Fault> {
    let (rotor, stand) = (&start.rotor.body, &start.stand.body);
    // On ways and edges the arbor rolls: the mass is carried along too (balance on rolling ways, derived in docs/physics.md).
    let rolls = matches!(stand.kind, StandKind::HardenedWays | StandKind::KnifeEdges);
    let rolling = if rolls { stand.arbor_radius_mm.map_or(0.0, |r| rotor.mass_kg * (r / 1000.0).powi(2)) } else { 0.0 };
    let (capacity, setting_sd_deg) = match &start.ring.body.kind {
        RingKind::Groove(g) => (groove(&start.ring.body, g).reach_g_mm(), SETTING_SD_DEG),
        // A hole is where it is.
        RingKind::TappedHoles(t) => (tapped_holes(t).reach_g_mm()?, 0.0),
    };
    Ok(Known {
        inertia_kg_m2: rotor.inertia_kg_m2 + rolling,
        inertia_rel_sd: rotor.inertia_rel_sd,
        unbalance_prior_sd_g_mm: rotor.expected_unbalance_g_mm.unwrap_or(EXPECTED_SHARE * capacity),
        drift_sd_g_mm: stand.drift_sd_g_mm,
        dry_friction_g_mm: stand.dry_friction_g_mm,
        arbor_error_sd_g_mm: if turned { ARBOR_ERROR * start.allowance.g_mm } else { 0.0 },
        setting_sd_deg,
        misread_share: 0.01,
    })
}

/// The whole input of `next-step`.
///
/// # Errors
/// A [`Fault`] for a ring that can't be: two holes at one place, two kinds of screw of one mass.
pub fn next_step_in(start: &SittingStart, looks: Vec<Look>, weights_now: Vec<WeightAt>) -> Result<NextStepIn, Fault> {
    let ring = &start.ring.body;
    let (groove, tapped_holes, fixed) = match &ring.kind {
        RingKind::Groove(g) => (Some(groove(ring, g)), None, g.weights.iter().map(|w| w.fixed).collect()),
        RingKind::TappedHoles(t) => (None, Some(tapped_holes(t)), t.holes.iter().map(|h| h.fixed).collect()),
    };
    Ok(NextStepIn {
        known: known(start, looks.iter().any(|l| l.turned_on_arbor_deg != 0.0))?,
        looks,
        weights_now,
        groove,
        tapped_holes,
        fixed,
        allowance_g_mm: start.allowance.g_mm,
        floor_g_mm: start.stand.body.floor_g_mm,
        sureness: SURENESS,
        reader: serde_json::from_value(start.reader.clone()).unwrap_or_default(),
        seed: 1,
    })
}

pub(super) fn groove(ring: &WeightRing, g: &stillwheel_store::Groove) -> Groove {
    Groove {
        weights: g.weights.iter().map(|w| GrooveWeight { moment_g_mm: w.mass_g * ring.radius_mm, arc_deg: w.arc_deg }).collect(),
        graduation_deg: g.graduation_deg,
        forbidden_deg: g.forbidden_deg.clone(),
        no_passing: g.no_passing,
    }
}

pub(super) fn tapped_holes(t: &stillwheel_store::TappedHoles) -> TappedHoles {
    TappedHoles {
        holes: t.holes.iter().map(|h| TappedHole { radius_mm: h.radius_mm, at_deg: h.at_deg }).collect(),
        // More screws than holes can't be used; the search counts no further.
        stock: t
            .stock
            .iter()
            .filter(|s| s.count > 0)
            .map(|s| SetScrew { mass_g: s.mass_g, count: (s.count as usize).min(t.holes.len()) })
            .collect(),
    }
}

/// The weights where the sitting began.
pub(super) fn weights_at_start(start: &SittingStart) -> Result<Vec<WeightAt>, Fault> {
    let ring = &start.ring.body;
    match &ring.kind {
        RingKind::Groove(g) => {
            if g.weights.len() != start.weights_at_start_deg.len() {
                return Err(wrong_count(start.weights_at_start_deg.len(), g.weights.len()));
            }
            let at = |(w, at): (&stillwheel_store::GrooveWeight, &f64)| WeightAt { moment_g_mm: w.mass_g * ring.radius_mm, at_deg: *at };
            Ok(g.weights.iter().zip(&start.weights_at_start_deg).map(at).collect())
        }
        RingKind::TappedHoles(t) => {
            let empty = vec![None; t.holes.len()];
            screwed(t, if start.screws_at_start.is_empty() { &empty } else { &start.screws_at_start })
        }
    }
}

/// The same weights at other places in their groove; one that is fixed must stay.
pub(super) fn placed(ring: &WeightRing, weights: &[WeightAt], to_deg: &[f64]) -> Result<Vec<WeightAt>, Fault> {
    let RingKind::Groove(g) = &ring.kind else {
        return Err(Fault::new("to_deg", to_deg.len(), "screws in holes", "this ring has tapped holes: say which screw is in which hole"));
    };
    if weights.len() != to_deg.len() {
        return Err(wrong_count(to_deg.len(), weights.len()));
    }
    weights
        .iter()
        .zip(to_deg)
        .enumerate()
        .map(|(i, (w, to))| {
            let field = format!("to_deg_{i}");
            let at = to.within(&field, -360.0, 720.0, "degrees", "where the weight's centre stands, from the zero mark")?.rem_euclid(360.0);
            let by = (at - w.at_deg + 180.0).rem_euclid(360.0) - 180.0;
            if g.weights.get(i).is_some_and(|w| w.fixed) && by.abs() > 0.05 {
                let why = "This weight may not be moved: so says the ring's record.";
                return Err(Fault::new(field, at, format!("{}, where it is", w.at_deg), why));
            }
            Ok(WeightAt { at_deg: at, ..*w })
        })
        .collect()
}

/// The weights after the screws were changed; what is fixed must stay.
pub(super) fn rescrewed(ring: &WeightRing, weights: &[WeightAt], screw_in_hole: &[Option<usize>]) -> Result<Vec<WeightAt>, Fault> {
    let RingKind::TappedHoles(t) = &ring.kind else {
        return Err(Fault::new("screw_in_hole", "screws", "angles of the weights", "this ring is a groove: say where its weights stand"));
    };
    let then = screwed(t, screw_in_hole)?;
    let changed = |i: &usize| t.holes[*i].fixed && then[*i] != weights[*i];
    if let Some(i) = (0..t.holes.len().min(weights.len())).find(changed) {
        let why = "What is in this hole may not be changed: so says the ring's record.";
        return Err(Fault::new(format!("screw_in_hole[{i}]"), format!("a change in hole {}", i + 1), "what is in it now", why));
    }
    Ok(then)
}

/// The weights with these screws in the holes: one entry a hole, by the place in the stock from 0.
fn screwed(t: &stillwheel_store::TappedHoles, screw_in_hole: &[Option<usize>]) -> Result<Vec<WeightAt>, Fault> {
    if screw_in_hole.len() != t.holes.len() {
        let allowed = format!("{} entries, one a hole", t.holes.len());
        return Err(Fault::new("screw_in_hole", screw_in_hole.len(), allowed, "say of each hole which screw is in it"));
    }
    for (k, s) in t.stock.iter().enumerate() {
        let used = screw_in_hole.iter().filter(|x| **x == Some(k)).count();
        if used > s.count as usize {
            let why = format!("the stock has {} screws of {} g, those in holes included", s.count, s.mass_g);
            return Err(Fault::new("screw_in_hole", format!("{used} screws of {} g", s.mass_g), format!("at most {}", s.count), why));
        }
    }
    t.holes
        .iter()
        .zip(screw_in_hole)
        .enumerate()
        .map(|(i, (h, kind))| {
            let mass = match kind {
                None => 0.0,
                Some(k) => {
                    let most = t.stock.len();
                    let not_there =
                        || Fault::new(format!("screw_in_hole[{i}]"), *k, format!("below {most}"), "this screw is not in the stock");
                    t.stock.get(*k).ok_or_else(not_there)?.mass_g
                }
            };
            Ok(WeightAt { moment_g_mm: mass * h.radius_mm, at_deg: h.at_deg })
        })
        .collect()
}

/// Which screw is in each hole, by the moments; empty for a groove.
pub fn screws_in(ring: &WeightRing, weights: &[WeightAt]) -> Vec<Option<usize>> {
    let RingKind::TappedHoles(t) = &ring.kind else { return Vec::new() };
    let kind = |(w, h): (&WeightAt, &stillwheel_store::Hole)| {
        t.stock.iter().position(|s| (s.mass_g * h.radius_mm - w.moment_g_mm).abs() <= 1e-9 * w.moment_g_mm)
    };
    weights.iter().zip(&t.holes).map(kind).collect()
}

fn wrong_count(got: usize, wanted: usize) -> Fault {
    Fault::new("to_deg", got, format!("{wanted} angles"), "one angle for each weight of the ring, in its order")
}
