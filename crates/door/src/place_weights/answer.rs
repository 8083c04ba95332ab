//! From the door's shapes to the physics and back, with the sentences that tell what would do.

use super::{
    Answered, COMMON_POINT_DEG, DrillIn, DrillOut, EqualIn, EqualOut, Groove, GrooveIn, GrooveOut, PlacedWeight, TappedHolesIn,
    TappedHolesOut, default_tie,
};
use crate::Fault;
use stillwheel_physics::Ranged;
use stillwheel_physics::bench::look::Weight;
use stillwheel_physics::bench::placement as physics;
use stillwheel_physics::quantity::{Angle, Length, Mass, RotorAngle, Unbalance, UnbalanceVector};

pub(super) fn angle(field: &str, deg: f64) -> Result<RotorAngle, Fault> {
    deg.within(field, -3600.0, 3600.0, "degrees", "an angle on the rotor, counter-clockwise from the zero mark").map(RotorAngle::from_deg)
}

fn setting_sd(deg: f64) -> Result<Angle, Fault> {
    deg.within("setting_sd_deg", 0.0, 10.0, "degrees", "how well a weight is set to its angle (standard deviation)").map(Angle::from_deg)
}

pub(super) fn equal(i: &EqualIn, count: usize) -> Result<EqualOut, Fault> {
    let (size, heavy) = i.unbalance.checked()?;
    let each = Unbalance::from_g_mm(i.moment_g_mm);
    let sd = setting_sd(i.setting_sd_deg)?;
    let mut staying = Vec::with_capacity(i.fixed.len());
    for (k, w) in i.fixed.iter().enumerate() {
        let at = angle("at_deg", w.at_deg).map_err(|f| f.inside(&format!("fixed[{k}]")))?;
        staying.push(Weight { moment: Unbalance::from_g_mm(w.moment_g_mm), at });
    }
    let u = UnbalanceVector::polar(size, heavy);
    let got = match (count, staying.len()) {
        (2, 0) => physics::two_equal(size, heavy, each)?,
        (3, 0) => physics::three_equal(size, heavy, each)?,
        (2, _) | (3, 1) => physics::pair_for_rest(u, &staying, each)?,
        _ => {
            return Err(Fault::new(
                "fixed",
                staying.len(),
                "none or one with three equal weights",
                "use `two-equal` for a free pair beside several fixed weights",
            ));
        }
    };
    let asked = physics::residual(u, &staying).size().g_mm();
    let reach = got.at.len() as f64 * i.moment_g_mm;
    let answer = if asked <= reach * (1.0 + 1e-12) {
        Answered::Balanced
    } else {
        too_light(asked / reach, &vec![i.moment_g_mm; got.at.len()], None)
    };
    let moments = vec![each; got.at.len()];
    let weights = got
        .at
        .iter()
        .map(|a| PlacedWeight {
            moment_g_mm: i.moment_g_mm,
            at_deg: a.deg(),
            by_deg: None,
            by_mm: None,
            setting_sd_g_mm: physics::setting_error(&[each], sd).g_mm(),
        })
        .collect();
    Ok(EqualOut {
        weights,
        half_spread_deg: got.half_spread.deg(),
        residual: got.residual.into(),
        setting_sd_g_mm: physics::setting_error(&moments, sd).g_mm(),
        answer,
    })
}

/// In grams where the radius is known, otherwise in g·mm.
fn too_light(times: f64, moments: &[f64], radius_mm: Option<f64>) -> Answered {
    let list = |f: f64, by: f64| moments.iter().map(|m| format!("{:.2}", m * f / by)).collect::<Vec<_>>().join(", ");
    let what_would_do = match radius_mm {
        Some(r) => format!(
            "at the radius of {r} mm: weights of {} g instead of {} g, or the same weights at {:.1} mm",
            list(times, r),
            list(1.0, r),
            r * times
        ),
        None => format!("weights of {} g·mm instead of {} g·mm (mass times radius), or more of them", list(times, 1.0), list(1.0, 1.0)),
    };
    Answered::TooLight { times, what_would_do }
}

impl Groove {
    /// The physics' task of placing these weights; present places and preferences at their plainest.
    ///
    /// # Errors
    /// None here: the physics checks all ranges. Faults name fields as `groove.…`.
    pub fn task(&self, unbalance: UnbalanceVector) -> physics::GrooveTask {
        physics::GrooveTask {
            unbalance,
            weights: self
                .weights
                .iter()
                .map(|w| physics::GrooveWeight { moment: Unbalance::from_g_mm(w.moment_g_mm), arc: Angle::from_deg(w.arc_deg) })
                .collect(),
            graduation: Angle::from_deg(self.graduation_deg),
            forbidden: self.forbidden_deg.iter().map(|f| f.map(RotorAngle::from_deg)).collect(),
            no_passing: self.no_passing,
            present: None,
            fixed: Vec::new(),
            tie: Unbalance::from_g_mm(default_tie()),
            good_enough: None,
            order: physics::Order::LeastTravel,
        }
    }
}

pub(super) fn groove(i: &GrooveIn) -> Result<GrooveOut, Fault> {
    let sd = setting_sd(i.setting_sd_deg)?;
    let radius = match i.ring_radius_mm {
        Some(r) => Some(r.within("ring_radius_mm", 1.0, 1000.0, "mm", "radius of the groove")?),
        None => None,
    };
    let mut task = i.groove.task(i.unbalance.vector()?);
    task.present = match &i.present_deg {
        Some(list) => Some(list.iter().enumerate().map(|(k, &a)| angle(&format!("present_deg[{k}]"), a)).collect::<Result<Vec<_>, _>>()?),
        None => None,
    };
    task.fixed.clone_from(&i.fixed);
    task.tie = Unbalance::from_g_mm(i.tie_g_mm);
    task.good_enough = i.good_enough_g_mm.map(Unbalance::from_g_mm);
    if i.fewest_moved_first {
        task.order = physics::Order::FewestMoved;
    }
    let got = physics::place_in_groove(&task)?;
    let movable = |k: usize| !i.fixed.get(k).copied().unwrap_or(false);
    let is_set = |k: usize| movable(k) && got.ways.get(k).is_none_or(|w| w.deg().abs() > 1e-6);
    let moments: Vec<Unbalance> = task.weights.iter().map(|w| w.moment).collect();
    let set: Vec<Unbalance> = (0..moments.len()).filter(|&k| is_set(k)).map(|k| moments[k]).collect();
    let weights = (0..moments.len())
        .map(|k| {
            let by = got.ways.get(k);
            PlacedWeight {
                moment_g_mm: moments[k].g_mm(),
                at_deg: got.at[k].deg(),
                by_deg: by.map(|b| b.deg()),
                by_mm: by.zip(radius).map(|(b, r)| b.rad() * r),
                setting_sd_g_mm: if is_set(k) { physics::setting_error(&moments[k..=k], sd).g_mm() } else { 0.0 },
            }
        })
        .collect();
    let answer = match got.answer {
        physics::Answer::Balanced => Answered::Balanced,
        physics::Answer::TooLight { times } => {
            let movable: Vec<f64> = (0..moments.len()).filter(|&k| movable(k)).map(|k| moments[k].g_mm()).collect();
            too_light(times, &movable, radius)
        }
        physics::Answer::OutOfReach => Answered::OutOfReach {
            what_would_do:
                "lighter or more equal weights, one weight taken off, or a fixed weight or forbidden arc set free: more mass would not help"
                    .to_owned(),
        },
    };
    let here = i.present_deg.is_some();
    Ok(GrooveOut {
        weights,
        residual: got.residual.into(),
        least_residual_g_mm: got.least_residual.map(Unbalance::g_mm),
        travel_deg: here.then(|| got.travel.deg()),
        moved: here.then_some(got.moved),
        setting_sd_g_mm: physics::setting_error(&set, sd).g_mm(),
        proof: got.proof.into(),
        answer,
        notes: got
            .overlapping_now
            .iter()
            .map(|[a, b]| {
                format!("weights {a} and {b} (counted from 0) overlap where they are said to be now: check their angles and arcs")
            })
            .collect(),
    })
}

pub(super) fn tapped_holes(i: &TappedHolesIn) -> Result<TappedHolesOut, Fault> {
    let mut holes = Vec::with_capacity(i.holes.len());
    for (k, h) in i.holes.iter().enumerate() {
        holes.push(physics::Hole { radius: Length::from_mm(h.radius_mm), at: angle(&format!("holes[{k}].at_deg"), h.at_deg)? });
    }
    let got = physics::place_in_holes(&physics::HoleTask {
        unbalance: i.unbalance.vector()?,
        holes,
        stock: i.stock.iter().map(|s| physics::Screw { mass: Mass::from_g(s.mass_g), count: s.count }).collect(),
        present: i.present.clone(),
        tie: Unbalance::from_g_mm(i.tie_g_mm),
    })?;
    let answer = match got.answer {
        physics::Answer::Balanced => Answered::Balanced,
        physics::Answer::TooLight { times } => {
            let heaviest = i.stock.iter().map(|s| s.mass_g).fold(0.0, f64::max);
            Answered::TooLight {
                times,
                what_would_do: format!(
                    "screws {times:.2} times as heavy in the same holes ({:.2} g instead of {heaviest:.2} g the heaviest), or more of them",
                    heaviest * times
                ),
            }
        }
        physics::Answer::OutOfReach => Answered::OutOfReach {
            what_would_do: "a finer stock: screws lighter than the lightest, or of more kinds; more mass would not help".to_owned(),
        },
    };
    Ok(TappedHolesOut {
        screw_in_hole: got.kind_in_hole,
        residual: got.residual.into(),
        least_residual_g_mm: got.least_residual.g_mm(),
        screws: got.screws,
        mass_g: got.mass.g(),
        changes: got.changes,
        proof: got.proof.into(),
        answer,
    })
}

pub(super) fn drill(i: &DrillIn, axial: bool) -> Result<DrillOut, Fault> {
    let drill = physics::Drill {
        diameter: Length::from_mm(i.drill_diameter_mm),
        radius: Length::from_mm(i.radius_mm),
        density_g_cm3: i.density_g_cm3,
        deepest: i.deepest_mm.map(Length::from_mm),
    };
    let u = i.unbalance.vector()?;
    let hole = if axial {
        physics::drill_axial(u, &drill, Angle::from_deg(i.point_deg.unwrap_or(COMMON_POINT_DEG)))?
    } else if let Some(point) = i.point_deg {
        return Err(Fault::new("point_deg", point, "nothing for a radial hole", "a radial hole is reckoned with a flat bottom"));
    } else {
        physics::drill_radial(u, &drill)?
    };
    Ok(DrillOut {
        at_deg: hole.at.deg(),
        depth_mm: hole.depth.mm(),
        mass_g: hole.mass.g(),
        caution: "Drill the steel of the adapter or flange only, never the wheel, and never without the leave of the part's maker. \
                  Take the wheel off first, keep clear of threads, seats and thin walls, and look for cracks before it runs again."
            .to_owned(),
    })
}
