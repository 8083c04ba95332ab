//! What must hold before a part may be drawn: walls left, nothing off the plate, everything in reach, no holes that meet.

use super::design::{Design, STOP_FOOT, port_of};
use super::made::made;
use super::model::{Face, Feature, Part};
use crate::making::holes::{Drilled, wall_between_mm};
use crate::{Fault, Ranged};

/// Least wall between a hole and anything else, mm: less tears out under the drill (common practice, no source).
pub(super) const WALL: f64 = 1.0;

pub(super) fn check(d: &Design) -> Result<(), Fault> {
    saddle(d)?;
    pillar(d)?;
    plate(d)?;
    for part in made(d)? {
        holes(&part)?;
    }
    Ok(())
}

fn saddle(d: &Design) -> Result<(), Fault> {
    let (s, m) = (&d.sizes, &d.making);
    let left = (d.groove_diameter_mm() - d.gallery_mm) / 2.0;
    if left < 2.0 {
        let why = format!("the O-ring's groove would break through into the air hole: {left:.2} mm are left between them, 2 mm are needed");
        return Err(Fault::new("making.o_ring_section_mm", m.o_ring_section_mm, "a thinner ring, or a wider shoulder", why));
    }
    // A cylinder of the neck's diameter, cut by the bore: the shoulder of the film must lie inside.
    if d.gallery_depth_mm < d.piston_length_mm {
        let most = d.saddle_axis_mm - d.bore_mm / 2.0 - d.piston_length_mm;
        let allowed = format!("at most {most:.1} mm");
        return Err(Fault::new("making.port_length_mm", m.port_length_mm, allowed, "the air hole must reach up through the piston"));
    }
    if s.jet_diameter_mm.is_some() && m.port_length_mm < 2.0 {
        return Err(Fault::new("making.port_length_mm", m.port_length_mm, "at least 2 mm", "the jet needs a seat in the port"));
    }
    if let (Some(jet), port) = (s.jet_diameter_mm, s.port_diameter_mm)
        && port - jet < 0.5
    {
        let why = "the jet is a piece of its own that sits in the port: it needs a wall of 0.25 mm to be turned";
        return Err(Fault::new("feed.jet_diameter_mm", jet, format!("at most {:.2} mm, or no jet", port - 0.5), why));
    }
    if let Some([_, depth]) = s.pocket_mm
        && depth > m.port_length_mm - 0.5
    {
        return Err(Fault::new(
            "feed.pocket_depth_mm",
            depth,
            format!("at most {:.1} mm", m.port_length_mm - 0.5),
            "the port's land must stay",
        ));
    }
    let reach = (s.arbor_length_mm - s.span_mm) / 2.0;
    if reach < s.saddle_length_mm / 2.0 {
        let least = s.span_mm + s.saddle_length_mm;
        return Err(Fault::new(
            "arbor.length_mm",
            s.arbor_length_mm,
            format!("at least {least} mm"),
            "the arbor must lie in the whole of both saddles",
        ));
    }
    Ok(())
}

fn pillar(d: &Design) -> Result<(), Fault> {
    let (s, m) = (&d.sizes, &d.making);
    let thread = port_of(m.port_thread)?.thread_depth_mm;
    // The spotface for the seal takes half a millimetre off.
    let wall = (d.section_mm - d.piston_mm) / 2.0 - 0.5;
    if wall < thread {
        let why = format!("the port's thread needs {thread} mm, and the wall under its flat is {wall:.1} mm");
        return Err(Fault::new("making.pillar_wall_mm", m.pillar_wall_mm, format!("at least {} mm", thread + 0.5), why));
    }
    let room = s.span_mm - d.section_mm;
    if room < 10.0 {
        let why = format!("pillars of {} mm leave {room:.1} mm between them for the wheel", d.section_mm);
        return Err(Fault::new("arbor.span_mm", s.span_mm, format!("at least {} mm", d.section_mm + 10.0), why));
    }
    let floor = d.pillar_mm - d.bore_depth_mm;
    if floor < STOP_FOOT + 2.0 {
        let least = s.axis_height_mm + STOP_FOOT + 2.0 - floor;
        let why = "below the bore the pillar must hold the end stop's screws, and those that hold it down";
        return Err(Fault::new("plate.axis_height_mm", s.axis_height_mm, format!("at least {least:.1} mm"), why));
    }
    Ok(())
}

fn plate(d: &Design) -> Result<(), Fault> {
    let s = &d.sizes;
    let [length, width, thickness] = s.plate_mm;
    let half = d.section_mm / 2.0;
    for [x, y] in d.pillars_mm() {
        if x < half || x > length - half {
            let why = format!("the pillars are {} mm wide and must stand on the plate", d.section_mm);
            return Err(Fault::new("plate.supports_middle_mm", x, format!("{half} to {} mm from the left edge", length - half), why));
        }
        if y < half || y > width - half {
            let why = format!(
                "pillars of {} mm at a span of {} mm need {} mm from front to back",
                d.section_mm,
                s.span_mm,
                s.span_mm + 2.0 * half
            );
            return Err(Fault::new("plate.width_mm", width, "a wider plate, a shorter span, or another middle", why));
        }
    }
    let least = 7.0 + 0.8 * d.foot_thread_mm;
    thickness.within(
        "plate.thickness_mm",
        least.max(12.0),
        500.0,
        "mm",
        "the feet's threads and the seats of the pillars' screws need it",
    )?;
    Ok(())
}

/// A hole or its seat as a cylinder in its part.
struct Cut<'a> {
    feature: &'a Feature,
    /// Which of the part's holes it belongs to.
    hole: usize,
    body: Drilled,
}

/// The direction into the part from a face.
pub(super) fn inward(face: Face) -> [f64; 3] {
    match face {
        Face::Top => [0.0, 0.0, -1.0],
        Face::Bottom => [0.0, 0.0, 1.0],
        Face::Front => [0.0, 1.0, 0.0],
        Face::Back => [0.0, -1.0, 0.0],
        Face::Left => [1.0, 0.0, 0.0],
        Face::Right => [-1.0, 0.0, 0.0],
    }
}

/// No hole of a part meets another, but those that shall open into the bore.
fn holes(part: &Part) -> Result<(), Fault> {
    let mut drilled: Vec<Cut<'_>> = Vec::new();
    let cut = |feature, hole, from_mm, to_mm, diameter_mm| Cut {
        feature,
        hole,
        body: Drilled { name: String::new(), from_mm, to_mm, diameter_mm, opens_into: Vec::new() },
    };
    let mut hole = 0;
    for f in &part.features {
        let Some(h) = &f.hole else { continue };
        let into = inward(h.face);
        for p in &h.places {
            hole += 1;
            let end = |depth: f64| std::array::from_fn(|k| p.at_mm[k] + depth * into[k]);
            let wide = f.dimension("thread").map_or(h.drill_mm, |t| t.nominal_mm);
            drilled.push(cut(f, hole, p.at_mm, end(h.depth_mm), wide.max(h.drill_mm)));
            if let Some([d, depth]) = h.seat_mm {
                // Seats in the plate are cut from below, all others from the face of the hole.
                let (from, to) = if part.key == "plate" { (end(h.depth_mm), end(h.depth_mm - depth)) } else { (p.at_mm, end(depth)) };
                drilled.push(cut(f, hole, from, to, d));
            }
        }
    }
    for (k, a) in drilled.iter().enumerate() {
        for b in &drilled[k + 1..] {
            if a.hole == b.hole {
                continue; // a hole and its own seat
            }
            // Port and set screws shall open into the bore.
            let opens = |f: &Feature| matches!(f.id, "port" | "set_screw_side" | "set_screw_back");
            if (a.feature.id == "bore" && opens(b.feature)) || (b.feature.id == "bore" && opens(a.feature)) {
                continue;
            }
            let gap = wall_between_mm(&a.body, &b.body);
            if gap < WALL {
                let why = format!("in the {} {gap:.1} mm are left between them: move one of them", part.name);
                let field = if part.key == "plate" { "plate.feet_mm" } else { "making" };
                let names = if a.feature.id == b.feature.id {
                    format!("two holes: {}", a.feature.name)
                } else {
                    format!("{}; {}", a.feature.name, b.feature.name)
                };
                return Err(Fault::new(field, names, format!("holes at least {WALL} mm apart"), why));
            }
        }
    }
    Ok(())
}
