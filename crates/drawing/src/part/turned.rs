//! Views of the turned parts: saddle, arbor, foot, jet.

use super::entity::{Entity, LineKind, Point};
use super::text::{in_line, size};
use super::view::{From, Side, View};
use stillwheel_physics::Fault;
use stillwheel_physics::making::parts::{Design, Part};

/// A dimension of the part as text on one line.
fn of(part: &Part, feature: &str, name: &str) -> String {
    part.feature(feature).and_then(|f| f.dimension(name)).map(in_line).unwrap_or_default()
}

pub(super) fn saddle(d: &Design, part: &Part) -> Result<Vec<View>, Fault> {
    let (rp, rn, rg) = (d.piston_mm / 2.0, d.neck_mm / 2.0, d.groove_diameter_mm() / 2.0);
    let (p, top, axis, r) = (d.piston_length_mm, d.saddle_height_mm, d.saddle_axis_mm, d.bore_mm / 2.0);
    let (g0, g1, flats) = (d.groove_from_mm, d.groove_from_mm + d.groove.width_mm, d.flats_from_mm);
    let half = d.sizes.saddle_length_mm / 2.0;
    let flat = (rn * rn - half * half).max(0.0).sqrt();
    // Half width and start of the bore's arc at the upper end.
    let below = axis - top;
    let mouth = (r * r - below * below).max(0.0).sqrt();
    let right_half = |x: f64| move |points: &[Point]| points.iter().map(|q| [q[0] * x, q[1]]).collect::<Vec<Point>>();

    let mut front = View::new(From::Front);
    let side = [[rp, 0.0], [rp, g0], [rg, g0], [rg, g1], [rp, g1], [rp, p], [rn, p], [rn, top], [mouth, top]];
    for sense in [1.0, -1.0] {
        front.path(LineKind::Outline, &right_half(sense)(&side));
        front.line(LineKind::Outline, [sense * flat, flats], [sense * flat, top]);
    }
    front.line(LineKind::Outline, [-rp, 0.0], [rp, 0.0]);
    for (z, w) in [(g0, rp), (g1, rp), (p, rp)] {
        front.line(LineKind::Outline, [-w, z], [w, z]);
    }
    front.line(LineKind::Outline, [-flat, flats], [flat, flats]);
    let start = (-below).atan2(mouth).to_degrees();
    front.entities.push(Entity::Arc {
        centre: [0.0, axis],
        radius: r,
        from_deg: 180.0 - start,
        to_deg: 360.0 + start,
        kind: LineKind::Outline,
    });
    front.line(LineKind::Axis, [0.0, 0.0], [0.0, axis]);
    front.line(LineKind::Axis, [-r, axis], [r, axis]);
    front.length(part, "top", "height", Side::Left, -rn)?;
    if part.feature("top").is_some_and(|f| f.dimension("axis").is_some()) {
        front.length(part, "top", "axis", Side::Right, r)?;
    }
    front.length(part, "flats", "lower_end", Side::Left, -flat)?;
    front.length(part, "piston", "length", Side::Left, -rp)?;
    front.callout(part, "piston", Side::Right, [rp, f64::midpoint(g1, p)], vec![], &[])?;
    front.callout(part, "neck", Side::Right, [rn, f64::midpoint(p, flats)], vec![], &[])?;
    front.dim(part, "bore", "diameter", Side::Top, [-r, r], axis)?;
    front.dim(part, "neck", "diameter", Side::Top, [-rn, rn], top)?;
    front.dim(part, "piston", "diameter", Side::Bottom, [-rp, rp], 0.0)?;

    let mut section = View::new(From::Apart).labelled("cut in the middle, seen from the right");
    let (gallery, zg, port) = (d.gallery_mm / 2.0, d.gallery_depth_mm, d.sizes.port_diameter_mm / 2.0);
    let floor = axis - r;
    let wall = [
        [gallery, 0.0],
        [rp, 0.0],
        [rp, g0],
        [rg, g0],
        [rg, g1],
        [rp, g1],
        [rp, p],
        [rn, p],
        [rn, flats],
        [half, flats],
        [half, floor],
        [port, floor],
        [port, zg],
        [gallery, zg],
    ];
    for sense in [1.0, -1.0] {
        let loop_ = right_half(sense)(&wall);
        section.closed(LineKind::Outline, &loop_);
        section.cut.push(vec![loop_]);
        section.path(LineKind::Outline, &right_half(sense)(&[[half, floor], [half, top], [0.0, top]]));
        section.path(LineKind::Outline, &right_half(sense)(&[[gallery, 0.0], [0.0, 0.0]]));
        section.path(LineKind::Outline, &right_half(sense)(&[[gallery, zg], [0.0, zg]]));
        section.path(LineKind::Outline, &right_half(sense)(&[[port, floor], [0.0, floor]]));
        for z in [g0, g1] {
            section.line(LineKind::Outline, [sense * rg, z], [sense * rp, z]);
        }
    }
    section.line(LineKind::Axis, [0.0, 0.0], [0.0, top]);
    section.length(part, "gallery", "depth", Side::Left, -gallery)?;
    section.length(part, "groove", "from", Side::Left, -rp)?;
    section.length(part, "groove", "width", Side::Left, -rp)?;
    section.dim(part, "gallery", "diameter", Side::Bottom, [-gallery, gallery], 0.0)?;
    section.dim(part, "flats", "across", Side::Top, [-half, half], top)?;
    let ring = vec![format!("groove {}", of(part, "groove", "diameter")), format!("corners {}", of(part, "groove", "corner_radius"))];
    section.callout(part, "groove", Side::Right, [rg, f64::midpoint(g0, g1)], ring, &["diameter", "corner_radius"])?;
    section.callout(part, "flats", Side::Right, [half, f64::midpoint(flats, floor)], vec![], &[])?;
    section.callout(part, "bore", Side::Right, [half * 0.6, floor], vec![], &[])?;
    section.callout(
        part,
        "port",
        Side::Right,
        [port, zg + 0.4 * (floor - zg)],
        vec![format!("port {}", of(part, "port", "diameter"))],
        &["diameter"],
    )?;
    if part.feature("pocket").is_some() {
        let says = vec![format!("pocket {} × {} deep", of(part, "pocket", "diameter"), of(part, "pocket", "depth"))];
        let edge = d.sizes.pocket_mm.map_or(0.0, |m| m[0] / 2.0);
        section.callout(part, "pocket", Side::Right, [edge, floor], says, &["diameter", "depth"])?;
    }
    Ok(vec![front, section])
}

pub(super) fn arbor(d: &Design, part: &Part) -> Result<Vec<View>, Fault> {
    let (l, r) = (d.sizes.arbor_length_mm, d.sizes.arbor_diameter_mm / 2.0);
    let c = part.feature("chamfers").and_then(|f| f.dimension("size")).map_or(1.0, |c| c.nominal_mm);
    let mut front = View::new(From::Front);
    front.closed(LineKind::Outline, &[[0.0, r - c], [c, r], [l - c, r], [l, r - c], [l, c - r], [l - c, -r], [c, -r], [0.0, c - r]]);
    for x in [c, l - c] {
        front.line(LineKind::Outline, [x, -r], [x, r]);
    }
    front.line(LineKind::Axis, [0.0, 0.0], [l, 0.0]);
    front.length(part, "body", "length", Side::Bottom, -r + c)?;
    front.dim(part, "shaft", "diameter", Side::Left, [-r, r], c)?;
    front.callout(part, "shaft", Side::Right, [l * 0.8, r], vec![], &[])?;
    front.callout(part, "chamfers", Side::Right, [l - c / 2.0, r - c / 2.0], vec![format!("2 × {} × 45°", size(c))], &["size"])?;
    let (pilot, rim) = (of(part, "centres", "pilot"), of(part, "centres", "rim"));
    let says = vec![format!("2 × ISO 6411 A {}/{}", pilot.trim_start_matches('Ø'), rim.trim_start_matches('Ø'))];
    front.callout(part, "centres", Side::Right, [l, 0.0], says, &["pilot", "rim"])?;
    Ok(vec![front])
}

pub(super) fn foot(d: &Design, part: &Part) -> Result<Vec<View>, Fault> {
    let (l, rt) = (d.foot_length_mm, d.foot_thread_mm / 2.0);
    let nominal = |f: &str, n: &str| part.feature(f).and_then(|x| x.dimension(n)).map_or(0.0, |x| x.nominal_mm);
    let (from, tip) = (nominal("shank", "length"), nominal("tip", "radius"));
    let to = from + nominal("hexagon", "height");
    // Corners of the hexagon lie to the left and right of this view.
    let corner = d.foot_hexagon_mm / 3f64.sqrt();
    let cap = tip - (tip * tip - rt * rt).max(0.0).sqrt();
    let mut front = View::new(From::Front);
    for s in [1.0, -1.0] {
        front.path(LineKind::Outline, &[[s * rt, cap], [s * rt, from]]);
        front.path(LineKind::Outline, &[[s * rt, to], [s * rt, l - 1.0], [s * (rt - 1.0), l]]);
        front.line(LineKind::Dimension, [s * 0.9 * rt, to], [s * 0.9 * rt, l - 1.0]);
        front.line(LineKind::Outline, [s * corner / 2.0, from], [s * corner / 2.0, to]);
    }
    front.rectangle(LineKind::Outline, [-corner, from], [corner, to]);
    front.line(LineKind::Outline, [1.0 - rt, l], [rt - 1.0, l]);
    front.line(LineKind::Outline, [-rt, l - 1.0], [rt, l - 1.0]);
    let half = (rt / tip).asin().to_degrees();
    front.entities.push(Entity::Arc {
        centre: [0.0, tip],
        radius: tip,
        from_deg: 270.0 - half,
        to_deg: 270.0 + half,
        kind: LineKind::Outline,
    });
    front.line(LineKind::Axis, [0.0, 0.0], [0.0, l]);
    front.length(part, "body", "length", Side::Left, 1.0 - rt)?;
    front.length(part, "shank", "length", Side::Left, -rt)?;
    front.length(part, "hexagon", "height", Side::Left, -corner)?;
    front.dim(part, "shank", "diameter", Side::Bottom, [-rt, rt], cap)?;
    front.callout(
        part,
        "chamfer",
        Side::Right,
        [rt - 0.5, l - 0.5],
        vec![format!("{} × 45°", size(nominal("chamfer", "size")))],
        &["size"],
    )?;
    front.callout(part, "thread", Side::Right, [rt, f64::midpoint(to, l)], vec![format!("{}-6g", d.foot_thread)], &["thread"])?;
    front.callout(
        part,
        "tip",
        Side::Right,
        [rt * 0.5, tip - (tip * tip - rt * rt / 4.0).sqrt()],
        vec![format!("S{}", of(part, "tip", "radius"))],
        &["radius"],
    )?;

    let mut above = View::new(From::Above);
    let corners: Vec<Point> =
        (0..6).map(|k| f64::from(k) * std::f64::consts::FRAC_PI_3).map(|a| [corner * a.cos(), corner * a.sin()]).collect();
    above.closed(LineKind::Outline, &corners);
    above.circle(LineKind::Outline, [0.0, 0.0], 2.0 * rt);
    above.cross([0.0, 0.0], 2.0 * corner);
    let flats = d.foot_hexagon_mm / 2.0;
    above.dim(part, "hexagon", "across_flats", Side::Left, [-flats, flats], -corner / 2.0)?;
    Ok(vec![front, above])
}

pub(super) fn jet(d: &Design, part: &Part) -> Result<Vec<View>, Fault> {
    let (l, r) = (d.jet_length_mm, d.sizes.port_diameter_mm / 2.0);
    let bore = d.sizes.jet_diameter_mm.unwrap_or_default() / 2.0;
    let mut front = View::new(From::Front).labelled("cut in the middle");
    for s in [1.0, -1.0] {
        let wall = [[0.0, s * bore], [l, s * bore], [l, s * r], [0.0, s * r]];
        front.closed(LineKind::Outline, &wall);
        front.cut.push(vec![wall.to_vec()]);
    }
    for x in [0.0, l] {
        front.line(LineKind::Outline, [x, -bore], [x, bore]);
    }
    front.line(LineKind::Axis, [0.0, 0.0], [l, 0.0]);
    front.length(part, "body", "length", Side::Bottom, -r)?;
    front.dim(part, "body", "diameter", Side::Left, [-r, r], 0.0)?;
    front.dim(part, "bore", "diameter", Side::Right, [-bore, bore], l)?;
    Ok(vec![front])
}
