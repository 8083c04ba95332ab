//! The stand put together: seen by the operator and from his right, with the numbers of its parts and the list of parts.

use super::entity::{LineKind, Point};
use super::sheet::{Content, Title};
use super::symbols::Piece;
use super::table::{Table, fitted};
use super::text::{SMALL, Written, size};
use super::view::{Callout, Dim, From, Side, View};
use stillwheel_physics::making::parts::{Design, Part};

/// A dimension of the whole, which no single part has.
fn whole(view: &mut View, id: &str, side: Side, span: [f64; 2], from: [f64; 2]) {
    let text = Written::plain(size((span[1] - span[0]).abs()));
    view.dims.push(Dim { id: format!("assembly.{id}"), side, span, from, text });
}

pub(super) fn content(d: &Design, parts: &[Part]) -> Content {
    let number = |key: &str| parts.iter().find(|p| p.key == key).map_or(0, |p| p.item);
    let [l, w, t] = d.sizes.plate_mm;
    let clear = d.making.foot_clearance_mm;
    // Heights from the tips of the feet.
    let top = clear + t;
    let axis = d.sizes.axis_height_mm;
    let (half, r) = (d.section_mm / 2.0, d.sizes.arbor_diameter_mm / 2.0);
    let (pillar, collar) = (top + d.pillar_mm, top + d.pillar_mm + d.flange_mm);
    let saddle = axis - (d.saddle_axis_mm - d.saddle_height_mm);
    let [first, second] = d.pillars_mm();
    let stop = top + d.pillar_mm - d.bore_depth_mm - 32.0;

    let feet = |view: &mut View, at: &[f64]| {
        let (thread, flats) = (d.foot_thread_mm / 2.0, d.foot_hexagon_mm / 2.0);
        let to = clear - 3.0;
        let from = (to - 0.7 * d.foot_thread_mm).max(2.0);
        for x in at {
            view.rectangle(LineKind::Outline, [x - flats, from], [x + flats, to]);
            view.path(LineKind::Outline, &[[x - thread, to], [x - thread, clear]]);
            view.path(LineKind::Outline, &[[x + thread, to], [x + thread, clear]]);
            view.path(
                LineKind::Outline,
                &[[x - thread, from], [x - thread, 2.0], [x - 2.0, 0.0], [x + 2.0, 0.0], [x + thread, 2.0], [x + thread, from]],
            );
        }
    };
    let balloon = |view: &mut View, key: &str, side: Side, target: Point| {
        view.callouts.push(Callout { target, side, pieces: vec![Piece::Balloon(number(key))] });
    };

    let mut front = View::new(From::Front);
    let x = first[0];
    front.rectangle(LineKind::Outline, [0.0, clear], [l, top]);
    let mut xs: Vec<f64> = d.sizes.feet_mm.iter().map(|f| f[0]).collect();
    xs.sort_by(f64::total_cmp);
    xs.dedup();
    feet(&mut front, &xs);
    front.rectangle(LineKind::Outline, [x - half, top], [x + half, pillar]);
    front.rectangle(LineKind::Outline, [x - half, pillar], [x + half, collar]);
    let neck = d.neck_mm / 2.0;
    let stop_half = d.stop_mm[0] / 2.0;
    front.path(LineKind::Outline, &[[x - neck, collar], [x - neck, saddle], [x - stop_half, saddle]]);
    front.path(LineKind::Outline, &[[x + neck, collar], [x + neck, saddle], [x + stop_half, saddle]]);
    front.rectangle(LineKind::Outline, [x - stop_half, stop], [x + stop_half, stop + d.stop_mm[2]]);
    front.circle(LineKind::Hidden, [x, axis], 2.0 * r);
    front.circle(LineKind::Outline, [x, axis], 6.0);
    front.line(LineKind::Axis, [x, clear], [x, axis + r + 12.0]);
    whole(&mut front, "axis_height", Side::Left, [0.0, axis], [xs[0], x - r]);
    whole(&mut front, "plate_length", Side::Bottom, [0.0, l], [clear, clear]);
    balloon(&mut front, "end-stop", Side::Right, [x + stop_half * 0.8, pillar - 6.0]);
    balloon(&mut front, "collar", Side::Right, [x + half * 0.9, pillar + d.flange_mm / 2.0]);
    balloon(&mut front, "pillar", Side::Right, [x + half * 0.8, top + d.pillar_mm / 3.0]);
    balloon(&mut front, "plate", Side::Right, [l * 0.9, clear + t / 2.0]);
    balloon(&mut front, "foot", Side::Right, [xs[xs.len() - 1] + d.foot_hexagon_mm / 2.0, clear - 6.0]);

    let mut side = View::new(From::Right);
    side.rectangle(LineKind::Outline, [0.0, clear], [w, top]);
    let mut ys: Vec<f64> = d.sizes.feet_mm.iter().map(|f| f[1]).collect();
    ys.sort_by(f64::total_cmp);
    ys.dedup();
    feet(&mut side, &ys);
    let film = d.sizes.saddle_length_mm / 2.0;
    let ends = [
        f64::midpoint(first[1], second[1]) - d.sizes.arbor_length_mm / 2.0,
        f64::midpoint(first[1], second[1]) + d.sizes.arbor_length_mm / 2.0,
    ];
    for (y, out) in [(first[1], -1.0), (second[1], 1.0)] {
        side.rectangle(LineKind::Outline, [y - half, top], [y + half, pillar]);
        side.rectangle(LineKind::Outline, [y - half, pillar], [y + half, collar]);
        for edge in [-film, film] {
            side.line(LineKind::Outline, [y + edge, collar], [y + edge, saddle]);
        }
        side.line(LineKind::Axis, [y, clear], [y, axis + r]);
        let [_, thick, high] = d.stop_mm;
        let (seat, outer) = (y + out * half, y + out * (half + thick));
        let arm = outer - out * d.stop_arm_mm;
        side.closed(
            LineKind::Outline,
            &[[seat, stop], [outer, stop], [outer, stop + high], [arm, stop + high], [arm, stop + 32.0], [seat, stop + 32.0]],
        );
        let [_, guide, tall] = d.guide_mm;
        let near = y + out * film;
        side.rectangle(LineKind::Outline, [near.min(near + out * guide), collar], [near.max(near + out * guide), collar + tall]);
        // The stop screw, from the arm to the arbor's end.
        let end = if out < 0.0 { ends[0] } else { ends[1] };
        let head = outer + out * 6.0;
        side.rectangle(LineKind::Outline, [head.min(outer), axis - 3.0], [head.max(outer), axis + 3.0]);
        side.rectangle(LineKind::Outline, [arm.min(end), axis - 3.0], [arm.max(end), axis + 3.0]);
    }
    side.path(LineKind::Outline, &[[first[1] - film, saddle], [first[1] + film, saddle]]);
    side.path(LineKind::Outline, &[[second[1] - film, saddle], [second[1] + film, saddle]]);
    side.rectangle(LineKind::Outline, [ends[0], axis - r], [ends[1], axis + r]);
    side.line(LineKind::Axis, [ends[0], axis], [ends[1], axis]);
    whole(&mut side, "span", Side::Top, [first[1], second[1]], [axis + r, axis + r]);
    whole(&mut side, "plate_width", Side::Bottom, [0.0, w], [clear, clear]);
    balloon(&mut side, "arbor", Side::Right, [f64::midpoint(first[1], second[1]), axis + r * 0.5]);
    balloon(&mut side, "saddle", Side::Right, [second[1] + film * 0.5, f64::midpoint(collar, axis - r)]);
    balloon(&mut side, "guide", Side::Right, [second[1] + film + d.guide_mm[1] * 0.5, collar + d.guide_mm[2] * 0.4]);
    balloon(&mut side, "stop-screw", Side::Right, [second[1] + half + d.stop_mm[1] + 4.0, axis]);

    let rows = parts
        .iter()
        .map(|p| {
            let what = match &p.stock {
                Some(s) => format!("{}, {}", p.material, s.says),
                None => p.material.clone(),
            };
            vec![p.item.to_string(), p.quantity.to_string(), fitted(&p.name, 50.0, SMALL), fitted(&what, 92.0, SMALL)]
        })
        .collect();
    let line = |what: &str| format!("{what} within {} µm of one line.", size((0.2 * d.sizes.radial_clearance_um).max(0.5)));
    let mass: f64 = parts.iter().filter_map(|p| Some(p.mass_g? * p.quantity as f64)).sum();
    Content {
        title: Title {
            stand: d.sizes.name.clone(),
            name: "stand, put together".to_owned(),
            number: "00".to_owned(),
            material: "see the list of parts".to_owned(),
            stock: String::new(),
            mass: super::sheet::mass(mass),
            quantity: 1,
        },
        views: vec![front, side],
        tables: vec![Table { heads: vec!["no.", "pieces", "part", "material and stock, or what to buy"], rows }],
        notes: vec![
            line("Set the saddles with the arbor laid in: axes of both bores"),
            format!(
                "Clamp the necks, then open the air. The air lifts each saddle with {:.0} N: all collar screws in.",
                d.force_on_saddle_n()
            ),
            "Set each stop screw to leave 0.2 mm to the arbor's end; lock it.".to_owned(),
        ],
        told: Vec::new(),
        words: format!(
            "Stand {} put together, seen by the operator and from his right: axis {} mm above the tips of the feet, saddles {} mm apart, plate {} by {} mm.",
            d.sizes.name,
            size(axis),
            size(d.sizes.span_mm),
            size(l),
            size(w)
        ),
    }
}
