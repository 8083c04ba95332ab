//! Views of the parts made from bar and plate: base plate, pillar, collar, guide bar, end stop.

use super::entity::{LineKind, Point};
use super::table::label;
use super::view::{From, Side, View};
use stillwheel_physics::Fault;
use stillwheel_physics::making::parts::{Design, Face, Hole, Part};

/// What becomes of a hole in a view that looks at its face: its coordinates in the view.
fn holes_in(part: &Part, face: Face, view: &mut View, at: fn([f64; 3]) -> Point) {
    for f in &part.features {
        let Some(h) = f.hole.as_ref().filter(|h| h.in_table && h.face == face) else { continue };
        let major = f.dimension("thread").map(|t| t.nominal_mm);
        for (k, p) in h.places.iter().enumerate() {
            let centre = at(p.at_mm);
            let mut widest = h.drill_mm;
            match major {
                Some(major) => {
                    view.tapped(centre, h.drill_mm, major);
                    widest = major;
                }
                None => view.circle(LineKind::Outline, centre, h.drill_mm),
            }
            if let Some([d, _]) = h.seat_mm {
                // The plate's seats lie below.
                view.circle(if part.key == "plate" { LineKind::Hidden } else { LineKind::Outline }, centre, d);
                widest = widest.max(d);
            }
            if major.is_none() || h.seat_mm.is_some() {
                view.cross(centre, widest);
            }
            view.tag(centre, widest, label(h, k));
        }
    }
}

fn hole<'a>(part: &'a Part, feature: &str) -> Result<&'a Hole, Fault> {
    part.feature(feature).and_then(|f| f.hole.as_ref()).ok_or_else(|| {
        Fault::new("drawing", format!("{}: {feature}", part.key), "holes of the part", "the drawing asks for what the part lacks")
    })
}

fn in_plan(p: [f64; 3]) -> Point {
    [p[0], p[1]]
}

fn from_front(p: [f64; 3]) -> Point {
    [p[0], p[2]]
}

pub(super) fn plate(d: &Design, part: &Part) -> Result<Vec<View>, Fault> {
    let [l, w, t] = d.sizes.plate_mm;
    let mut front = View::new(From::Front);
    front.rectangle(LineKind::Outline, [0.0, -t], [l, 0.0]);
    front.length(part, "body", "thickness", Side::Left, 0.0)?;
    front.callout(part, "top", Side::Top, [l * 0.7, 0.0], vec![], &[])?;
    let mut above = View::new(From::Above);
    above.rectangle(LineKind::Outline, [0.0, 0.0], [l, w]);
    above.datum_corner = Some([0.0, 0.0]);
    holes_in(part, Face::Top, &mut above, in_plan);
    above.length(part, "body", "length", Side::Top, w)?;
    above.length(part, "body", "width", Side::Left, 0.0)?;
    Ok(vec![front, above])
}

pub(super) fn pillar(d: &Design, part: &Part) -> Result<Vec<View>, Fault> {
    let (half, h, r) = (d.section_mm / 2.0, d.pillar_mm, d.piston_mm / 2.0);
    let floor = h - d.bore_depth_mm;
    let lead = part.feature("lead_in").and_then(|f| f.dimension("length")).map_or(0.0, |l| l.nominal_mm);
    let open = r + lead * 15f64.to_radians().tan();
    let port = hole(part, "port")?;
    let port_z = d.port_height_mm;

    let mut front = View::new(From::Front);
    front.rectangle(LineKind::Outline, [-half, 0.0], [half, h]);
    front.line(LineKind::Axis, [0.0, 0.0], [0.0, h]);
    holes_in(part, Face::Front, &mut front, from_front);
    for z in [port_z - port.drill_mm / 2.0, port_z + port.drill_mm / 2.0] {
        front.line(LineKind::Hidden, [-half, z], [-r, z]);
    }
    front.line(LineKind::Axis, [-half, port_z], [-r, port_z]);
    front.tag([-half / 2.0 - r / 2.0, port_z], port.drill_mm, label(port, 0));
    front.length(part, "body", "height", Side::Left, -half)?;
    front.length(part, "body", "width", Side::Bottom, 0.0)?;

    let mut section = View::new(From::Right).labelled("cut in the middle");
    let wall =
        [[-half, 0.0], [half, 0.0], [half, h], [open, h], [r, h - lead], [r, floor], [-r, floor], [-r, h - lead], [-open, h], [-half, h]];
    section.closed(LineKind::Outline, &wall);
    let mut cut = vec![wall.to_vec()];
    let screws = hole(part, "stop_screws")?;
    let thread = part.feature("stop_screws").and_then(|f| f.dimension("thread")).map_or(screws.drill_mm, |t| t.nominal_mm) / 2.0;
    let full = part.feature("stop_screws").and_then(|f| f.dimension("depth")).map_or(screws.depth_mm, |t| t.nominal_mm);
    for p in &screws.places {
        let z = p.at_mm[2];
        let (end, rd) = (-half + screws.depth_mm, screws.drill_mm / 2.0);
        // A drill's point of 118°.
        let tip = end + rd / 59f64.to_radians().tan();
        let drilled = [[-half, z - rd], [end, z - rd], [tip, z], [end, z + rd], [-half, z + rd]];
        section.path(LineKind::Outline, &drilled);
        for side in [-thread, thread] {
            section.line(LineKind::Dimension, [-half, z + side], [-half + full, z + side]);
        }
        section.line(LineKind::Axis, [-half, z], [tip, z]);
        cut.push(drilled.to_vec());
    }
    section.cut.push(cut);
    section.line(LineKind::Axis, [0.0, 0.0], [0.0, h]);
    section.line(LineKind::Outline, [-r, h - lead], [r, h - lead]);
    section.circle(LineKind::Outline, [0.0, port_z], port.drill_mm);
    section.cross([0.0, port_z], port.drill_mm);
    section.length(part, "body", "depth", Side::Bottom, 0.0)?;
    section.length(part, "bore", "depth", Side::Left, -r)?;
    section.dim(part, "bore", "diameter", Side::Top, [-r, r], h - lead)?;
    let lead_in = vec![format!("lead-in 15° × {}", super::text::size(lead))];
    section.callout(part, "lead_in", Side::Right, [open, h], lead_in, &["length"])?;
    section.callout(part, "bore", Side::Right, [r, h - d.bore_depth_mm / 2.0], vec![], &[])?;
    section.callout(part, "foot", Side::Right, [half * 0.8, 0.0], vec![], &[])?;

    let mut above = View::new(From::Above);
    above.rectangle(LineKind::Outline, [-half, -half], [half, half]);
    above.circle(LineKind::Outline, [0.0, 0.0], d.piston_mm);
    above.circle(LineKind::Outline, [0.0, 0.0], 2.0 * open);
    above.cross([0.0, 0.0], d.piston_mm);
    above.datum_corner = Some([-half, -half]);
    holes_in(part, Face::Top, &mut above, in_plan);
    let mut below = View::new(From::Below).labelled("from below");
    below.rectangle(LineKind::Outline, [-half, -half], [half, half]);
    // Seen from below the front edge is up.
    holes_in(part, Face::Bottom, &mut below, |p| [p[0], -p[1]]);
    Ok(vec![front, section, above, below])
}

pub(super) fn collar(d: &Design, part: &Part) -> Result<Vec<View>, Fault> {
    let (half, spigot) = (d.section_mm / 2.0, d.making.spigot_mm);
    let (rs, rb, top) = (d.piston_mm / 2.0, d.neck_mm / 2.0, d.making.spigot_mm + d.flange_mm);
    let (side, back) = (hole(part, "set_screw_side")?, hole(part, "set_screw_back")?);
    let z = side.places[0].at_mm[2];
    let (rd, thread) = (side.drill_mm / 2.0, 3.0);

    let mut front = View::new(From::Front).labelled("cut in the middle");
    let left = [[-half, spigot], [-half, top], [-rb, top], [-rb, 0.0], [-rs, 0.0], [-rs, spigot]];
    let right = left.map(|[x, z]| [-x, z]);
    for half in [&left, &right] {
        front.closed(LineKind::Outline, half);
    }
    for level in [0.0, top] {
        front.line(LineKind::Outline, [-rb, level], [rb, level]);
    }
    let drilled = [[rb, z - thread], [half, z - thread], [half, z + thread], [rb, z + thread]];
    front.cut.push(vec![left.to_vec()]);
    front.cut.push(vec![right.to_vec(), drilled.to_vec()]);
    for level in [z - rd, z + rd] {
        front.line(LineKind::Outline, [rb, level], [half, level]);
    }
    for level in [z - thread, z + thread] {
        front.line(LineKind::Dimension, [rb, level], [half, level]);
    }
    front.line(LineKind::Axis, [rb, z], [half, z]);
    front.tag([f64::midpoint(rb, half), z], 0.0, label(side, 0));
    front.tapped([0.0, z], back.drill_mm, 2.0 * thread);
    front.tag([0.0, z], 2.0 * thread, label(back, 0));
    front.line(LineKind::Axis, [0.0, 0.0], [0.0, top]);
    front.length(part, "body", "thickness", Side::Left, -half)?;
    front.length(part, "spigot", "length", Side::Left, -rs)?;
    front.dim(part, "spigot", "diameter", Side::Bottom, [-rs, rs], 0.0)?;
    front.dim(part, "bore", "diameter", Side::Top, [-rb, rb], top)?;
    front.callout(part, "bore", Side::Right, [rb, z + 0.6 * (top - z)], vec![], &[])?;
    front.callout(part, "seat", Side::Right, [f64::midpoint(rs, half), spigot], vec![], &[])?;
    front.callout(part, "spigot", Side::Right, [rs, spigot * 0.3], vec![], &[])?;

    let mut above = View::new(From::Above);
    above.rectangle(LineKind::Outline, [-half, -half], [half, half]);
    above.circle(LineKind::Outline, [0.0, 0.0], d.neck_mm);
    above.cross([0.0, 0.0], d.neck_mm);
    above.datum_corner = Some([-half, -half]);
    for off in [-rd, rd] {
        above.line(LineKind::Hidden, [rb, off], [half, off]);
        above.line(LineKind::Hidden, [off, rb], [off, half]);
    }
    holes_in(part, Face::Top, &mut above, in_plan);
    above.length(part, "body", "width", Side::Top, half)?;
    above.length(part, "body", "depth", Side::Left, -half)?;
    Ok(vec![front, above])
}

pub(super) fn guide(d: &Design, part: &Part) -> Result<Vec<View>, Fault> {
    let [l, t, h] = d.guide_mm;
    let mut front = View::new(From::Front);
    front.rectangle(LineKind::Outline, [-l / 2.0, 0.0], [l / 2.0, h]);
    let screws = hole(part, "screws")?;
    for p in &screws.places {
        let x = p.at_mm[0];
        for edge in [x - screws.drill_mm / 2.0, x + screws.drill_mm / 2.0] {
            front.line(LineKind::Hidden, [edge, 0.0], [edge, h]);
        }
        front.line(LineKind::Axis, [x, 0.0], [x, h]);
    }
    front.length(part, "body", "height", Side::Left, -l / 2.0)?;
    front.length(part, "body", "length", Side::Bottom, 0.0)?;
    let mut above = View::new(From::Above);
    above.rectangle(LineKind::Outline, [-l / 2.0, -t / 2.0], [l / 2.0, t / 2.0]);
    above.datum_corner = Some([-l / 2.0, -t / 2.0]);
    holes_in(part, Face::Top, &mut above, in_plan);
    above.length(part, "body", "width", Side::Left, -l / 2.0)?;
    above.callout(part, "face", Side::Right, [l * 0.42, t / 2.0], vec![], &[])?;
    Ok(vec![front, above])
}

pub(super) fn end_stop(d: &Design, part: &Part) -> Result<Vec<View>, Fault> {
    let [w, t, h] = d.stop_mm;
    let (arm, foot) = (d.stop_arm_mm, part.feature("body").and_then(|f| f.dimension("foot")).map_or(h, |f| f.nominal_mm));
    let mut front = View::new(From::Front);
    front.rectangle(LineKind::Outline, [-w / 2.0, 0.0], [w / 2.0, h]);
    front.datum_corner = Some([-w / 2.0, 0.0]);
    front.line(LineKind::Axis, [0.0, 0.0], [0.0, h]);
    if foot < h {
        front.line(LineKind::Hidden, [-w / 2.0, foot], [w / 2.0, foot]);
    }
    holes_in(part, Face::Front, &mut front, from_front);
    front.length(part, "body", "height", Side::Left, -w / 2.0)?;
    front.length(part, "body", "width", Side::Bottom, 0.0)?;

    let mut right = View::new(From::Right);
    let outline: &[Point] = if foot < h {
        &[[0.0, 0.0], [t, 0.0], [t, foot], [arm, foot], [arm, h], [0.0, h]]
    } else {
        &[[0.0, 0.0], [t, 0.0], [t, h], [0.0, h]]
    };
    right.closed(LineKind::Outline, outline);
    for f in ["screws", "stop_screw"] {
        let holes = hole(part, f)?;
        for p in &holes.places {
            for edge in [-holes.drill_mm / 2.0, holes.drill_mm / 2.0] {
                right.line(LineKind::Hidden, [0.0, p.at_mm[2] + edge], [holes.depth_mm, p.at_mm[2] + edge]);
            }
            right.line(LineKind::Axis, [0.0, p.at_mm[2]], [holes.depth_mm, p.at_mm[2]]);
        }
    }
    right.length(part, "body", "thickness", Side::Bottom, 0.0)?;
    if foot < h {
        right.length(part, "body", "arm", Side::Top, h)?;
        right.length(part, "body", "foot", Side::Left, 0.0)?;
    }
    right.callout(part, "seat", Side::Right, [t, foot * 0.5], vec![], &[])?;
    Ok(vec![front, right])
}
