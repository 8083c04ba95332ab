//! From a sitting to the picture of its wheel.

use super::super::show::{Angles, Show, significant};
use crate::sitting::Sat;
use stillwheel_door::estimate::{EstimateOut, RegionShape};
use stillwheel_door::look::WeightAt;
use stillwheel_drawing::{ForbiddenArc, PictureHole, PictureUnbalance, PictureWeight, Scale, WheelPicture};
use stillwheel_physics::quantity::{Angle, RotorAngle};
use stillwheel_store::{Hole, RingKind, WeightRing};

/// The wheel as it is, zero mark on top. `prefix` keeps the ids of several pictures on a page apart.
pub(super) fn as_it_is(prefix: &str, weights: &[WeightAt], ring: &WeightRing, show: Show) -> WheelPicture {
    let mut picture = WheelPicture {
        title: "The wheel as you face it".into(),
        id_prefix: format!("{prefix}-"),
        scale: match show.angles {
            Angles::CounterClockwise => Scale::CounterClockwise,
            Angles::Clockwise => Scale::Clockwise,
            Angles::Clock => Scale::ClockHours,
        },
        legend: false,
        ..WheelPicture::default()
    };
    match &ring.kind {
        RingKind::Groove(g) => {
            picture.graduation_deg = g.graduation_deg;
            picture.forbidden =
                g.forbidden_deg.iter().map(|f| ForbiddenArc { from: RotorAngle::from_deg(f[0]), to: RotorAngle::from_deg(f[1]) }).collect();
            let arc = |i: usize| g.weights.get(i).map_or(0.0, |w| w.arc_deg);
            let weight = |(i, w): (usize, &WeightAt)| PictureWeight {
                at: RotorAngle::from_deg(w.at_deg),
                arc: Angle::from_deg(arc(i)),
                move_by: None,
            };
            picture.weights = weights.iter().enumerate().map(weight).collect();
        }
        RingKind::TappedHoles(t) => {
            let hole = |(w, h): (&WeightAt, &Hole)| PictureHole {
                at: RotorAngle::from_deg(h.at_deg),
                now: (w.moment_g_mm > 0.0).then(|| screw(w.moment_g_mm / h.radius_mm)),
                then: None,
            };
            picture.holes = weights.iter().zip(&t.holes).map(hole).collect();
        }
    }
    picture
}

/// A screw's mass in grams as it stands in its hole.
fn screw(mass_g: f64) -> String {
    significant(mass_g, 3)
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
    for c in &step.screw_changes {
        if let Some(h) = picture.holes.get_mut(c.hole) {
            h.then = Some(c.in_g.map(screw));
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
