//! From a sitting to the picture of its wheel.

use super::super::show::Show;
use super::super::wheel::{Scene, Shown};
use crate::sitting::Sat;
use stillwheel_door::estimate::{EstimateOut, RegionShape};
use stillwheel_door::look::WeightAt;
use stillwheel_store::{RingKind, WeightRing};

/// Angle labels every 30°, as this person writes angles.
pub(super) fn labels(show: Show) -> Vec<(f64, String)> {
    (0..12).map(|i| f64::from(i) * 30.0).map(|deg| (deg, show.angle_number(deg).trim_end_matches(":00").to_owned())).collect()
}

fn arcs(ring: &WeightRing) -> Vec<f64> {
    match &ring.kind {
        RingKind::Groove(g) => g.weights.iter().map(|w| w.arc_deg).collect(),
        RingKind::TappedHoles(_) => Vec::new(),
    }
}

fn shown(weights: &[WeightAt], ring: &WeightRing) -> Vec<Shown> {
    let arcs = arcs(ring);
    weights.iter().enumerate().map(|(i, w)| Shown { at_deg: w.at_deg, arc_deg: arcs.get(i).copied().unwrap_or(0.0) }).collect()
}

/// The wheel as it is, zero mark on top.
pub(super) fn as_it_is(weights: &[WeightAt], ring: &WeightRing, show: Show) -> Scene {
    Scene {
        title: format!("Wheel with its zero mark on top; weights at {}", places(weights, show)),
        weights: shown(weights, ring),
        zero_mark_deg: 180.0,
        labels: labels(show),
        ..Scene::default()
    }
}

/// The same with the ghosts of the proposed places and the residual's region.
pub(super) fn plan(sat: &Sat, show: Show) -> Scene {
    let ring = &sat.sitting.start.ring.body;
    let mut scene = as_it_is(&sat.weights, ring, show);
    let Ok(step) = &sat.step else { return scene };
    let arcs = arcs(ring);
    scene.ghosts = step
        .moves
        .iter()
        .map(|m| (m.weight, Shown { at_deg: m.to_deg, arc_deg: arcs.get(m.weight).copied().unwrap_or(0.0) }, m.by_deg))
        .collect();
    if !step.moves.is_empty() {
        scene.title += &format!("; proposed at {}", places(&step.weights_then, show));
    }
    if let Some(estimate) = &step.estimate {
        with_region(&mut scene, estimate);
    }
    scene
}

/// The residual's region, once it tells something.
pub(super) fn with_region(scene: &mut Scene, estimate: &EstimateOut) {
    if estimate.residual_region.shape == RegionShape::Open {
        return;
    }
    scene.region_g_mm.clone_from(&estimate.residual_region.outlines_g_mm);
    if estimate.residual_region.shape == RegionShape::Spot {
        scene.mean_g_mm = Some([estimate.residual.x_g_mm, estimate.residual.y_g_mm]);
    }
}

fn places(weights: &[WeightAt], show: Show) -> String {
    weights.iter().map(|w| show.angle(w.at_deg)).collect::<Vec<_>>().join(", ")
}
