//! A view laid out at a scale: dimensions in lanes outside the outline, callouts in a column, letters beside holes.
//!
//! Deterministic: dimensions go from the shortest to the longest, each into the innermost lane in which it and its text touch
//! nothing that stands there already.

use super::entity::{Anchor, Entity, Extent, LineKind, Point};
use super::symbols::{Piece, arrow, stack_extent};
use super::text::{LIMIT, SMALL, Written, width_mm};
use super::view::{Callout, Dim, Side, View};

/// A view on paper, about its own origin.
pub(super) struct Laid {
    pub(super) entities: Vec<Entity>,
    /// All that it takes.
    pub(super) extent: Extent,
}

const ARROW: f64 = 2.5;
/// From one dimension line to the next.
const LANE: f64 = 8.0;
/// From the outline to the first dimension line: lanes whose text stands outside of the line, and inside of it.
const FIRST_OUT: f64 = 7.0;
const FIRST_IN: f64 = 9.5;
/// Least distance between texts.
const GAP: f64 = 1.5;

/// Lay a view out at a scale (mm on paper for a mm of the part).
pub(super) fn lay_out(view: &View, scale: f64) -> Laid {
    let mut out: Vec<Entity> = Vec::new();
    for loops in &view.cut {
        hatch(loops, scale, &mut out);
    }
    out.extend(view.entities.iter().cloned().map(|e| standing_out(e.placed(scale, [0.0, 0.0]))));
    let e = view.extent();
    let outline = Extent { low: e.low.map(|v| v * scale), high: e.high.map(|v| v * scale) };
    let mut extent = out.iter().fold(outline, |x, e| x.join(e.extent()));
    if let Some(corner) = view.datum_corner {
        out.push(Entity::Circle { centre: corner.map(|v| v * scale), radius: 1.5, kind: LineKind::Symbol });
    }
    let mut depth = [0.0; 4];
    for (k, side) in [Side::Top, Side::Bottom, Side::Left, Side::Right].into_iter().enumerate() {
        let dims: Vec<&Dim> = view.dims.iter().filter(|d| d.side == side).collect();
        depth[k] = lanes(side, &dims, outline, scale, &mut out);
    }
    // Dimensions above the view may reach out to its side: callouts then stay below them.
    let ceiling = outline.high[1] + if depth[0] > 0.0 { 4.0 } else { 14.0 };
    for (side, depth) in [(Side::Left, depth[2]), (Side::Right, depth[3])] {
        callouts(view, side, outline, depth, ceiling, scale, &mut out);
    }
    for (side, depth) in [(Side::Top, depth[0]), (Side::Bottom, depth[1])] {
        upright_callouts(view, side, outline, depth, scale, &mut out);
    }
    tags(view, scale, &mut out);
    extent = out.iter().fold(extent, |x, e| x.join(e.extent()));
    if let Some(label) = view.label {
        let at = [f64::midpoint(outline.low[0], outline.high[0]), extent.high[1] + 3.0];
        let text = Entity::text(at, super::text::LARGE, Anchor::Middle, label);
        extent = extent.join(text.extent());
        out.push(text);
    }
    Laid { entities: out, extent }
}

/// An axis stands out of the outline by 2 mm (ISO 128-2, annex: a few millimetres), whatever the scale.
fn standing_out(e: Entity) -> Entity {
    let Entity::Line { a, b, kind: LineKind::Axis } = e else { return e };
    let length = (b[0] - a[0]).hypot(b[1] - a[1]).max(1e-9);
    let u = [2.0 * (b[0] - a[0]) / length, 2.0 * (b[1] - a[1]) / length];
    Entity::line([a[0] - u[0], a[1] - u[1]], [b[0] + u[0], b[1] + u[1]], LineKind::Axis)
}

/// A place from how far along a side and how far out of the outline.
fn place(side: Side, outline: Extent, along: f64, out: f64) -> Point {
    match side {
        Side::Top => [along, outline.high[1] + out],
        Side::Bottom => [along, outline.low[1] - out],
        Side::Left => [outline.low[0] - out, along],
        Side::Right => [outline.high[0] + out, along],
    }
}

/// Where the text of a dimension stands.
#[derive(Clone, Copy)]
enum Stand {
    Between(f64),
    /// Beyond the far end, and so much farther.
    After(f64),
    Before(f64),
}

struct Set<'a> {
    dim: &'a Dim,
    lane: usize,
    span: [f64; 2],
    text: [f64; 2],
    /// All that it takes of its lane.
    takes: [f64; 2],
    outside: bool,
}

fn overlap(a: [f64; 2], b: [f64; 2], gap: f64) -> bool {
    a[0] < b[1] + gap && b[0] < a[1] + gap
}

fn candidate(dim: &Dim, lane: usize, span: [f64; 2], stand: Stand) -> Option<Set<'_>> {
    let width = dim.text.width_mm();
    let room = span[1] - span[0];
    let (text, outside) = match stand {
        Stand::Between(shift) => {
            // The arrows stand below the text, so that the text only has to stay between the extension lines.
            let slack = (room - width - 1.0) / 2.0;
            if slack < 0.0 || room < 2.0 * ARROW + 1.0 {
                return None;
            }
            let middle = f64::midpoint(span[0], span[1]) + shift * slack;
            ([middle - width / 2.0, middle + width / 2.0], false)
        }
        Stand::After(by) => ([span[1] + ARROW + 1.5 + by, span[1] + ARROW + 1.5 + by + width], true),
        Stand::Before(by) => ([span[0] - ARROW - 1.5 - by - width, span[0] - ARROW - 1.5 - by], true),
    };
    let tail = if outside { ARROW + 1.5 } else { 0.0 };
    let takes = [text[0].min(span[0] - tail), text[1].max(span[1] + tail)];
    Some(Set { dim, lane, span, text, takes, outside })
}

/// Whether a new one can stand among the others.
fn free(new: &Set<'_>, set: &[Set<'_>]) -> bool {
    set.iter().all(|old| {
        let cuts = |lines: [f64; 2], text: [f64; 2]| lines.iter().any(|c| overlap([*c, *c], text, 0.6));
        match old.lane.cmp(&new.lane) {
            std::cmp::Ordering::Equal => !overlap(old.takes, new.takes, GAP),
            // The outer one's extension lines pass the inner one's text.
            std::cmp::Ordering::Less => !cuts(new.span, old.text),
            std::cmp::Ordering::Greater => !cuts(old.span, new.text),
        }
    })
}

/// Place the dimensions of one side; gives how far out they reach.
fn lanes(side: Side, dims: &[&Dim], outline: Extent, scale: f64, out: &mut Vec<Entity>) -> f64 {
    let mut order: Vec<&Dim> = dims.to_vec();
    let length = |d: &Dim| (d.span[1] - d.span[0]).abs();
    order.sort_by(|a, b| length(a).total_cmp(&length(b)).then(a.span[0].total_cmp(&b.span[0])).then(a.id.cmp(&b.id)));
    let ends = |d: &Dim| [d.span[0].min(d.span[1]) * scale, d.span[0].max(d.span[1]) * scale];
    let mut stands: Vec<Stand> = [0.0, 0.7, -0.7, 0.35, -0.35].map(Stand::Between).to_vec();
    stands.extend((0..16).flat_map(|k| [Stand::After(3.0 * f64::from(k)), Stand::Before(3.0 * f64::from(k))]));
    let mut set: Vec<Set<'_>> = Vec::new();
    for (k, dim) in order.iter().enumerate() {
        // Those still to come will stand farther out, and their extension lines pass by here.
        let passing: Vec<f64> = order[k + 1..].iter().flat_map(|d| ends(d)).collect();
        let clear = |c: &Set<'_>| passing.iter().all(|p| !overlap([*p, *p], c.text, 0.6));
        let found =
            (0..24).find_map(|lane| stands.iter().filter_map(|s| candidate(dim, lane, ends(dim), *s)).find(|c| clear(c) && free(c, &set)));
        // In a lane of its own far enough along, nothing can be in the way; this is for views of dozens of dimensions.
        if let Some(found) = found.or_else(|| candidate(dim, 24, ends(dim), Stand::After(0.0))) {
            set.push(found);
        }
    }
    // Extension lines at one place are drawn once, to the outermost dimension that needs them.
    let mut extensions: Vec<(f64, f64, f64)> = Vec::new();
    let reach = |lane: usize| first(side) + LANE * lane as f64;
    for s in &set {
        dimension(side, s, outline, reach(s.lane), out);
        for (at, from) in s.span.iter().zip(s.dim.from) {
            let start = from * scale;
            match extensions.iter_mut().find(|e| (e.0 - at).abs() < 1e-6) {
                Some(e) => {
                    e.1 = match side {
                        Side::Top | Side::Right => e.1.min(start),
                        Side::Bottom | Side::Left => e.1.max(start),
                    };
                    e.2 = e.2.max(reach(s.lane));
                }
                None => extensions.push((*at, start, reach(s.lane))),
            }
        }
    }
    for (at, start, end) in extensions {
        let far = place(side, outline, at, end + 1.5);
        let near = match side {
            Side::Top => [at, start + 0.8],
            Side::Bottom => [at, start - 0.8],
            Side::Left => [start - 0.8, at],
            Side::Right => [start + 0.8, at],
        };
        out.push(Entity::line(near, far, LineKind::Dimension));
    }
    set.iter().map(|s| reach(s.lane) + 6.0).fold(0.0, f64::max)
}

fn first(side: Side) -> f64 {
    match side {
        Side::Top | Side::Left => FIRST_OUT,
        Side::Bottom | Side::Right => FIRST_IN,
    }
}

fn dimension(side: Side, s: &Set<'_>, outline: Extent, out_mm: f64, out: &mut Vec<Entity>) {
    let at = |along: f64| place(side, outline, along, out_mm);
    let along = if matches!(side, Side::Top | Side::Bottom) { [1.0, 0.0] } else { [0.0, 1.0] };
    let back = [-along[0], -along[1]];
    let line = if s.outside { s.takes } else { s.span };
    out.push(Entity::line(at(line[0]), at(line[1]), LineKind::Dimension));
    let (first, last) = if s.outside { (along, back) } else { (back, along) };
    out.push(arrow(at(s.span[0]), first, ARROW));
    out.push(arrow(at(s.span[1]), last, ARROW));
    write(&s.dim.text, at(s.text[0]), !matches!(side, Side::Top | Side::Bottom), out);
}

/// Write a dimension above its line from a place on, or to the left of an upright one.
fn write(text: &Written, start: Point, upwards: bool, out: &mut Vec<Entity>) {
    let mut put = |along: f64, above: f64, height: f64, words: &str| {
        let at = if upwards { [start[0] - above, start[1] + along] } else { [start[0] + along, start[1] + above] };
        out.push(Entity::Text { at, height, anchor: Anchor::Start, upwards, text: words.to_owned() });
    };
    let main = width_mm(&text.main, SMALL);
    match &text.limits {
        None => put(0.0, 1.3, SMALL, &text.main),
        Some([upper, lower]) => {
            put(0.0, 1.8, SMALL, &text.main);
            put(main + 0.8, 3.8, LIMIT, upper);
            put(main + 0.8, 1.1, LIMIT, lower);
        }
    }
}

/// Callouts at the left or right in a column, in the order of their targets, none on another.
fn callouts(view: &View, side: Side, outline: Extent, depth: f64, ceiling: f64, scale: f64, out: &mut Vec<Entity>) {
    let mut list: Vec<_> = view.callouts.iter().filter(|c| c.side == side).collect();
    list.sort_by(|a, b| b.target[1].total_cmp(&a.target[1]).then(a.target[0].total_cmp(&b.target[0])));
    let sense = if side == Side::Right { 1.0 } else { -1.0 };
    let edge = if side == Side::Right { outline.high[0] + depth + 9.0 } else { outline.low[0] - depth - 9.0 };
    let elbow = edge - sense * 4.0;
    // Targets that lie at different depths can make leaders cross: such a pair changes places.
    let mut tops = column(&list, ceiling, scale);
    for _ in 0..2 * list.len() {
        let before = crossings(&list, &tops, elbow, scale);
        if before == 0 {
            break;
        }
        let pairs = (0..list.len()).flat_map(|i| (i + 1..list.len()).map(move |j| (i, j)));
        let better = pairs
            .filter_map(|(i, j)| {
                let mut other = list.clone();
                other.swap(i, j);
                let tops = column(&other, ceiling, scale);
                let left = crossings(&other, &tops, elbow, scale);
                (left < before).then_some((left, other, tops))
            })
            .min_by_key(|b| b.0);
        let Some((_, other, moved)) = better else { break };
        (list, tops) = (other, moved);
    }
    for (k, c) in list.iter().enumerate() {
        let width = stack_extent(&c.pieces, [0.0, 0.0]).high[0];
        let left = if side == Side::Right { edge } else { edge - width };
        let meet = stack(&c.pieces, [left, tops[k]], out);
        let elbow = [elbow, meet];
        out.push(Entity::line(elbow, [edge + sense * under(c), meet], LineKind::Dimension));
        leader(c, elbow, scale, out);
    }
}

/// Upper edges of callouts in a column, from the top down, none on another; then all up by half of what the last was pushed below its
/// target.
fn column(list: &[&Callout], ceiling: f64, scale: f64) -> Vec<f64> {
    let mut tops: Vec<f64> = Vec::new();
    for (k, c) in list.iter().enumerate() {
        let wish = (c.target[1] * scale + height(c) / 2.0).min(ceiling);
        let below = tops.last().map_or(f64::INFINITY, |t| t - height(list[k - 1]) - 3.0);
        tops.push(wish.min(below));
    }
    let pushed = list.iter().zip(&tops).map(|(c, t)| c.target[1] * scale + height(c) / 2.0 - t).fold(0.0, f64::max);
    let lift = (pushed / 2.0).min(ceiling - tops.first().copied().unwrap_or(ceiling));
    tops.iter().map(|t| t + lift).collect()
}

/// How many pairs of leaders cross.
fn crossings(list: &[&Callout], tops: &[f64], elbow: f64, scale: f64) -> usize {
    let lines: Vec<[Point; 2]> = list
        .iter()
        .zip(tops)
        .map(|(c, top)| {
            let first = c.pieces.first().map_or(0.0, |p| p.height_mm() - p.middle_mm());
            [c.target.map(|v| v * scale), [elbow, top - first]]
        })
        .collect();
    let turn = |a: Point, b: Point, c: Point| (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
    let cross = |[a, b]: [Point; 2], [c, d]: [Point; 2]| turn(a, b, c) * turn(a, b, d) < 0.0 && turn(c, d, a) * turn(c, d, b) < 0.0;
    (0..lines.len()).map(|i| lines[i + 1..].iter().filter(|l| cross(lines[i], **l)).count()).sum()
}

/// Callouts above or below the view, side by side in the order of their targets.
fn upright_callouts(view: &View, side: Side, outline: Extent, depth: f64, scale: f64, out: &mut Vec<Entity>) {
    let mut list: Vec<_> = view.callouts.iter().filter(|c| c.side == side).collect();
    list.sort_by(|a, b| a.target[0].total_cmp(&b.target[0]));
    let mut from = f64::NEG_INFINITY;
    for c in list {
        let width = stack_extent(&c.pieces, [0.0, 0.0]).high[0];
        // Beside the leader, so that it meets the first piece from the left.
        let left = (c.target[0] * scale + 5.0).min(outline.high[0] - width).max(from);
        let top = if side == Side::Top { outline.high[1] + depth + 4.0 + height(c) } else { outline.low[1] - depth - 4.0 };
        let meet = stack(&c.pieces, [left, top], out);
        let elbow = [left - 4.0, meet];
        out.push(Entity::line(elbow, [left + under(c), meet], LineKind::Dimension));
        leader(c, elbow, scale, out);
        from = left + width + 8.0;
    }
}

fn height(c: &Callout) -> f64 {
    c.pieces.iter().map(Piece::height_mm).sum()
}

/// How far a leader runs under its first piece: a texture symbol stands on it.
fn under(c: &Callout) -> f64 {
    match c.pieces.first() {
        Some(Piece::Texture(_)) => 3.6,
        Some(Piece::Text(_)) => -0.8,
        _ => 0.0,
    }
}

/// Draw pieces one below the other from an upper left corner; gives the height at which the leader meets the first.
fn stack(pieces: &[Piece], [left, top]: Point, out: &mut Vec<Entity>) -> f64 {
    let mut y = top;
    let mut meet = top;
    for (j, piece) in pieces.iter().enumerate() {
        y -= piece.height_mm();
        let hangs = matches!(piece, Piece::Datum(_)) && pieces[..j].iter().any(|p| matches!(p, Piece::Frame(_)));
        piece.draw([left, y], hangs, out);
        if j == 0 {
            meet = y + piece.middle_mm();
        }
    }
    meet
}

fn leader(c: &Callout, elbow: Point, scale: f64, out: &mut Vec<Entity>) {
    let target = c.target.map(|v| v * scale);
    out.push(Entity::line(target, elbow, LineKind::Dimension));
    out.push(arrow(target, [target[0] - elbow[0], target[1] - elbow[1]], ARROW));
    let has = |wanted: fn(&Piece) -> bool| c.pieces.iter().any(wanted);
    if has(|p| matches!(p, Piece::Datum(_))) && !has(|p| matches!(p, Piece::Frame(_))) {
        // ISO 5459: a filled triangle on the face in place of an arrow.
        out.push(wide_foot(target, elbow));
    }
}

/// The triangle of a datum, its base on the face.
fn wide_foot(target: Point, elbow: Point) -> Entity {
    let d = [elbow[0] - target[0], elbow[1] - target[1]];
    let norm = d[0].hypot(d[1]).max(1e-9);
    let u = [d[0] / norm, d[1] / norm];
    let tip = [target[0] + 2.2 * u[0], target[1] + 2.2 * u[1]];
    Entity::Arrow { corners: [tip, [target[0] - 1.3 * u[1], target[1] + 1.3 * u[0]], [target[0] + 1.3 * u[1], target[1] - 1.3 * u[0]]] }
}

/// Letters beside holes, where they touch no line and no other letter.
fn tags(view: &View, scale: f64, out: &mut Vec<Entity>) {
    for tag in &view.tags {
        let centre = tag.at.map(|v| v * scale);
        let width = width_mm(&tag.text, SMALL);
        let mut places = Vec::new();
        for ring in [0.6, 2.0, 3.5, 5.5, 8.0, 11.0, 15.0] {
            for step in [1, 7, 3, 5, 0, 4, 2, 6] {
                let a = f64::from(step) * std::f64::consts::FRAC_PI_4;
                let r = tag.radius * scale + ring;
                let middle = [centre[0] + (r + width / 2.0) * a.cos(), centre[1] + (r + SMALL / 2.0) * a.sin()];
                places.push([middle[0] - width / 2.0, middle[1] - SMALL / 2.0]);
            }
        }
        let text = |at: Point| Entity::text(at, SMALL, Anchor::Start, tag.text.clone());
        let clear = |at: &Point| {
            let e = text(*at).extent().grown(0.3);
            out.iter().all(|o| !touches(o, &e))
        };
        let at = places.iter().copied().find(clear).unwrap_or(places[0]);
        out.push(text(at));
    }
}

/// Whether an entity passes through a box.
pub(super) fn touches(e: &Entity, b: &Extent) -> bool {
    match e {
        Entity::Line { a, b: to, .. } => b.crossed_by(*a, *to),
        Entity::Circle { centre, radius, .. } | Entity::Arc { centre, radius, .. } => {
            let near: f64 = (0..2).map(|k| (b.low[k] - centre[k]).max(centre[k] - b.high[k]).max(0.0).powi(2)).sum::<f64>().sqrt();
            let far: f64 = (0..2).map(|k| (centre[k] - b.low[k]).abs().max((b.high[k] - centre[k]).abs()).powi(2)).sum::<f64>().sqrt();
            near < *radius && *radius < far
        }
        Entity::Text { .. } | Entity::Arrow { .. } => e.extent().meets(b),
    }
}

/// Hatch the inside of closed loops at 45°, 2.5 mm apart, by even and odd crossings.
fn hatch(loops: &[Vec<Point>], scale: f64, out: &mut Vec<Entity>) {
    let turn = std::f64::consts::FRAC_1_SQRT_2;
    // u runs along the hatching, w across it.
    let into = |p: &Point| [(p[0] + p[1]) * turn * scale, (p[1] - p[0]) * turn * scale];
    let back = |q: Point| [(q[0] - q[1]) * turn, (q[0] + q[1]) * turn];
    let turned: Vec<Vec<Point>> = loops.iter().map(|l| l.iter().map(into).collect()).collect();
    let all = turned.iter().flatten();
    let (low, high) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), p| (a.min(p[1]), b.max(p[1])));
    if !(low.is_finite() && high.is_finite()) {
        return;
    }
    let step = 2.5;
    let mut w = (low / step).ceil() * step + 1e-6;
    while w < high {
        let mut cuts: Vec<f64> = Vec::new();
        for l in &turned {
            for (k, p) in l.iter().enumerate() {
                let q = l[(k + 1) % l.len()];
                if (p[1] < w) != (q[1] < w) {
                    cuts.push(p[0] + (w - p[1]) / (q[1] - p[1]) * (q[0] - p[0]));
                }
            }
        }
        cuts.sort_by(f64::total_cmp);
        for pair in cuts.chunks_exact(2) {
            if pair[1] - pair[0] > 0.3 {
                out.push(Entity::line(back([pair[0], w]), back([pair[1], w]), LineKind::Hatch));
            }
        }
        w += step;
    }
}
