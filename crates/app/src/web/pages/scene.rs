//! From a sitting to the picture of its wheel.

use super::super::show::{Angles, Show};
use crate::sitting::Sat;
use stillwheel_door::estimate::{EstimateOut, RegionShape};
use stillwheel_door::look::WeightAt;
use stillwheel_drawing::{ForbiddenArc, PictureUnbalance, PictureWeight, Scale, WheelPicture};
use stillwheel_physics::quantity::{Angle, RotorAngle};
use stillwheel_store::{RingKind, WeightRing};

/// The wheel as it is, zero mark on top. `prefix` keeps the ids of several pictures on a page apart.
pub(super) fn as_it_is(prefix: &str, weights: &[WeightAt], ring: &WeightRing, show: Show) -> WheelPicture {
    let (arcs, graduation_deg, forbidden) = match &ring.kind {
        RingKind::Groove(g) => (
            g.weights.iter().map(|w| w.arc_deg).collect(),
            g.graduation_deg,
            g.forbidden_deg.iter().map(|f| ForbiddenArc { from: RotorAngle::from_deg(f[0]), to: RotorAngle::from_deg(f[1]) }).collect(),
        ),
        RingKind::TappedHoles(_) => (Vec::new(), 5.0, Vec::new()),
    };
    WheelPicture {
        title: "The wheel as you face it".into(),
        id_prefix: format!("{prefix}-"),
        scale: match show.angles {
            Angles::CounterClockwise => Scale::CounterClockwise,
            Angles::Clockwise => Scale::Clockwise,
            Angles::Clock => Scale::ClockHours,
        },
        graduation_deg,
        weights: weights
            .iter()
            .enumerate()
            .map(|(i, w)| PictureWeight {
                at: RotorAngle::from_deg(w.at_deg),
                arc: Angle::from_deg(arcs.get(i).copied().unwrap_or(0.0)),
                move_by: None,
            })
            .collect(),
        forbidden,
        legend: false,
        ..WheelPicture::default()
    }
}

/// The same with the ways to the proposed places and the residual's region.
pub(super) fn plan(prefix: &str, sat: &Sat, show: Show) -> WheelPicture {
    let mut picture = as_it_is(prefix, &sat.weights, &sat.sitting.start.ring.body, show);
    picture.legend = true;
    let Ok(step) = &sat.step else { return picture };
    for m in &step.moves {
        if let Some(w) = picture.weights.get_mut(m.weight) {
            w.move_by = Some(Angle::from_deg(m.by_deg));
        }
    }
    if let Some(estimate) = &step.estimate {
        with_region(&mut picture, estimate, step.allowance_g_mm);
    }
    picture
}

/// The residual's region, once it tells something.
pub(super) fn with_region(picture: &mut WheelPicture, estimate: &EstimateOut, allowance_g_mm: f64) {
    if estimate.residual_region.shape == RegionShape::Open {
        return;
    }
    picture.unbalance = Some(PictureUnbalance {
        outlines_g_mm: estimate.residual_region.outlines_g_mm.clone(),
        holds: "95 %".into(),
        allowance_g_mm: Some(allowance_g_mm),
        outer_g_mm: None,
    });
}
