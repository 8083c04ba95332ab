//! The drawing itself. Radii are in units of the view: 400 wide, the wheel's centre at the origin.

use super::{PictureUnbalance, PictureWeight, WheelPicture, holes, legend};
use crate::axis::round_up;
use crate::colour::{ALLOWANCE, DISC, FLANGE, GROOVE, INK, MUTED, PAPER, REGION, TARGET, WEIGHT, WEIGHT_INK};
use crate::polar::{Frame, spread};
use crate::scale::Scale;
use crate::svg::{El, Path, Svg, el, number};
use stillwheel_physics::Fault;
use stillwheel_physics::quantity::{Angle, RoomAngle};

pub(super) const WIDTH: f64 = 400.0;
pub(super) const LEFT: f64 = -WIDTH / 2.0;

const RIM: f64 = 181.0;
const LABELS: f64 = 164.0;
const FLANGE_EDGE: f64 = 147.0;
pub(super) const GROOVE_OUT: f64 = 137.0;
pub(super) const GROOVE_IN: f64 = 112.0;
pub(super) const GHOST_IN: f64 = 90.0;
const FIRST_LANE: f64 = 82.0;
const HEAVY: f64 = 189.0;
/// Least size of text: at 358 px, a phone of 390 px with margins, 11.6 px.
pub(super) const TEXT: f64 = 13.0;
/// Degrees that a number needs inside a block of the groove.
const NUMBER_ARC: f64 = 7.0;

/// The rotor before it is turned: zero mark straight down, so that turning it by −φ on the screen puts the mark at φ.
pub(super) const FRAME: Frame = Frame { centre: [0.0, 0.0], zero_deg: 0.0 };

/// The move, if the weight moves.
pub(super) fn moves(w: &PictureWeight) -> Option<Angle> {
    w.move_by.filter(|by| by.deg().abs() > 0.05)
}

pub(super) fn draw(p: &WheelPicture) -> Result<String, Fault> {
    let lanes = lanes(&p.weights);
    let lane_count = lanes.iter().flatten().max().map_or(0, |l| l + 1);
    // Lanes keep out of the bore, however many there are.
    let lane_step = if lane_count > 4 { 32.0 / lane_count as f64 } else { 8.0 };
    let bore = if holes::any_swap(p) {
        GHOST_IN - 22.0
    } else if lane_count == 0 {
        GHOST_IN
    } else {
        FIRST_LANE - lane_step * (lane_count - 1) as f64 - 9.0
    };
    let outer = p.unbalance.as_ref().map_or(1.0, outer_g_mm);

    let top = -202.0;
    let foot = if p.bottom_pointer { 220.0 } else { 204.0 };
    let height = foot - top + if p.legend { legend::height(p, outer) + 4.0 } else { 0.0 };
    let view = format!("{} {} {} {}", number(LEFT), number(top), number(WIDTH), number(height));
    let root = el("svg").s("viewBox", &view).s("data-picture", "wheel");
    let mut svg = Svg::start(root, &p.id_prefix, &p.title, &legend::words(p, outer));
    let id = |name: &str| format!("{}{name}", p.id_prefix);

    let phi = p.zero_mark.deg();
    let rotor = el("g")
        .s("id", &id("rotor"))
        .s("data-part", "rotor")
        .n("data-zero-mark-deg", phi)
        .s("transform", &format!("rotate({})", number(-phi)));
    svg.group(rotor, |svg| {
        body(svg, p, bore);
        forbidden(svg, p);
        if let Some(u) = &p.unbalance {
            unbalance(svg, &id, u, outer, bore - 4.0);
        }
        holes::draw(svg, &id, p);
        ghosts(svg, &id, p);
        weights(svg, &id, p);
        arrows(svg, &id, p, &lanes, lane_step);
        numbers(svg, p);
        if let Some(h) = p.heavy {
            let at = FRAME.point(HEAVY, h.deg());
            svg.group(el("g").s("id", &id("heavy")).s("data-part", "heavy").n("data-at-deg", h.deg()), |svg| {
                svg.add(el("path").d(FRAME.wedge(RIM - 6.0, RIM + 3.0, 6.0, h.deg())).paint(INK, "none", 0.0));
                svg.add(el("circle").xy(["cx", "cy"], at).n("r", 10.0).paint(INK, PAPER, 1.0));
                upright(svg, p.zero_mark, at, TEXT, PAPER, "H");
            });
        }
    });
    if p.bottom_pointer {
        let tip = [0.0, 202.0];
        let path = Path::new().to(tip).line([-8.0, 217.0]).line([8.0, 217.0]).close();
        svg.add(el("path").s("id", &id("pointer")).s("data-part", "pointer").d(path).paint(INK, "none", 0.0));
    }
    if p.legend {
        legend::draw(&mut svg, p, outer, foot + 2.0);
    }
    svg.finish()
}

/// Disc, flange, groove, bore, graduations, zero mark.
fn body(svg: &mut Svg, p: &WheelPicture, bore: f64) {
    let circle = |r: f64| el("circle").n("cx", 0.0).n("cy", 0.0).n("r", r);
    svg.add(circle(RIM).paint(DISC, INK, 1.5).s("data-part", "disc"));
    svg.add(circle(FLANGE_EDGE).paint(FLANGE, MUTED, 1.0).s("data-part", "flange"));
    // A ring as a thick line: no path needed.
    let mid = f64::midpoint(GROOVE_OUT, GROOVE_IN);
    svg.add(circle(mid).paint("none", GROOVE, GROOVE_OUT - GROOVE_IN).s("data-part", "ring"));
    svg.add(circle(GROOVE_OUT).paint("none", MUTED, 0.8));
    svg.add(circle(GROOVE_IN).paint("none", MUTED, 0.8));
    svg.add(circle(bore).paint(PAPER, INK, 1.2).s("data-part", "bore"));

    let mut ticks = Path::new();
    for k in 0..mark_count(p) {
        let deg = f64::from(k) * 360.0 / f64::from(mark_count(p));
        ticks = ticks.to(FRAME.point(GROOVE_OUT, deg)).line(FRAME.point(GROOVE_OUT + 5.0, deg));
    }
    let labels = p.scale.labels();
    for (deg, _) in &labels {
        ticks = ticks.to(FRAME.point(GROOVE_OUT, *deg)).line(FRAME.point(FLANGE_EDGE, *deg));
    }
    svg.add(el("path").d(ticks).paint("none", INK, 1.1).s("data-part", "graduation"));
    if let Scale::Holes(n) = p.scale {
        for k in 0..n {
            let at = FRAME.point(mid, f64::from(k) * 360.0 / f64::from(n));
            svg.add(el("circle").xy(["cx", "cy"], at).n("r", (300.0 / f64::from(n)).clamp(2.0, 7.0)).paint(FLANGE, MUTED, 1.0));
        }
    }
    for (deg, text) in labels {
        upright(svg, p.zero_mark, FRAME.point(LABELS, deg), if text.chars().count() > 3 { TEXT } else { 14.0 }, INK, &text);
    }
    svg.group(el("g").s("id", &format!("{}zero-mark", p.id_prefix)).s("data-part", "zero-mark"), |svg| {
        svg.add(el("path").d(FRAME.wedge(GROOVE_OUT - 3.0, FLANGE_EDGE + 5.0, 7.0, 0.0)).paint(INK, "none", 0.0));
        svg.add(el("path").d(Path::new().to(FRAME.point(RIM - 5.0, 0.0)).line(FRAME.point(RIM + 5.0, 0.0))).paint("none", INK, 4.0));
    });
}

/// How many graduations to draw: the ring's own, or every 2nd, 5th, 10th of them where they would run together.
fn mark_count(p: &WheelPicture) -> u32 {
    if let Scale::Holes(n) = p.scale {
        return u32::from(n);
    }
    let own = p.graduation_deg;
    let step = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0].iter().map(|k| own * k).find(|s| *s >= 2.0).unwrap_or(own);
    (360.0 / step).round().max(1.0) as u32
}

fn forbidden(svg: &mut Svg, p: &WheelPicture) {
    for (i, f) in p.forbidden.iter().enumerate() {
        let (from, width) = (f.from.deg(), (f.to.deg() - f.from.deg()).rem_euclid(360.0));
        svg.group(el("g").s("data-part", "forbidden").n("data-forbidden", (i + 1) as f64), |svg| {
            svg.add(el("path").d(FRAME.sector(GROOVE_IN, GROOVE_OUT, from, width)).paint(GROOVE, INK, 1.0));
            let mut hatch = Path::new();
            let (step, slant) = (3.5, 6.0);
            let mut a = from;
            while a + slant <= from + width {
                hatch = hatch.to(FRAME.point(GROOVE_IN, a)).line(FRAME.point(GROOVE_OUT, a + slant));
                a += step;
            }
            svg.add(el("path").d(hatch).paint("none", INK, 1.3));
        });
    }
}

/// What the outer circle stands for.
fn outer_g_mm(u: &PictureUnbalance) -> f64 {
    u.outer_g_mm.unwrap_or_else(|| {
        let reach = u.outlines_g_mm.iter().flatten().map(|v| v[0].hypot(v[1])).fold(u.allowance_g_mm.unwrap_or(0.0), f64::max);
        round_up(reach.max(1e-6))
    })
}

fn unbalance(svg: &mut Svg, id: &impl Fn(&str) -> String, u: &PictureUnbalance, outer: f64, radius: f64) {
    let scale = radius / outer;
    let circle = |r: f64| el("circle").n("cx", 0.0).n("cy", 0.0).n("r", r).s("fill", "none");
    let mut path = Path::new();
    for outline in u.outlines_g_mm.iter().filter(|o| o.len() > 2) {
        for (k, v) in outline.iter().enumerate() {
            // x points along the zero mark (down before the turn), y a quarter turn counter-clockwise (right). What
            // lies beyond the bore is drawn on its edge, in its own direction.
            let shrink = scale * (outer * 1.02 / v[0].hypot(v[1]).max(1e-12)).min(1.0);
            let at = [v[1] * shrink, v[0] * shrink];
            path = if k == 0 { path.to(at) } else { path.line(at) };
        }
        path = path.close();
    }
    svg.group(el("g").s("id", &id("unbalance")).s("data-part", "unbalance").n("data-outer-g-mm", outer), |svg| {
        svg.add(circle(radius).s("stroke", MUTED).n("stroke-width", 1.2).s("stroke-dasharray", "1.5 3"));
        svg.add(el("path").s("id", &id("region")).d(path).paint(REGION, REGION, 1.4).n("fill-opacity", 0.38).s("fill-rule", "evenodd"));
        if let Some(a) = u.allowance_g_mm {
            let r = scale * a;
            if r <= radius {
                svg.add(circle(r).s("id", &id("allowance")).s("stroke", ALLOWANCE).n("stroke-width", 2.0).s("stroke-dasharray", "5 3"));
            }
        }
        let cross = Path::new().to([-5.0, 0.0]).line([5.0, 0.0]).to([0.0, -5.0]).line([0.0, 5.0]);
        svg.add(el("path").d(cross).paint("none", INK, 1.2));
    });
}

fn drawn_arc(w: &PictureWeight) -> f64 {
    w.arc.deg().max(2.0)
}

fn weights(svg: &mut Svg, id: &impl Fn(&str) -> String, p: &WheelPicture) {
    for (i, w) in p.weights.iter().enumerate() {
        let arc = drawn_arc(w);
        svg.add(
            el("path")
                .s("id", &id(&format!("weight-{}", i + 1)))
                .s("data-part", "weight")
                .n("data-weight", (i + 1) as f64)
                .n("data-at-deg", w.at.deg())
                .d(FRAME.sector(GROOVE_IN + 1.0, GROOVE_OUT - 1.0, w.at.deg() - arc / 2.0, arc))
                .paint(WEIGHT, PAPER, 1.0),
        );
    }
}

/// The outlines of the targets. They reach inwards beyond the groove, so that a target on top of a weight is seen, and
/// have their number there.
fn ghosts(svg: &mut Svg, id: &impl Fn(&str) -> String, p: &WheelPicture) {
    for (i, w) in p.weights.iter().enumerate() {
        let Some(by) = moves(w) else { continue };
        let to = w.at.turned(by);
        let arc = drawn_arc(w);
        svg.add(
            el("path")
                .s("id", &id(&format!("target-{}", i + 1)))
                .s("data-part", "target")
                .n("data-weight", (i + 1) as f64)
                .n("data-at-deg", to.deg())
                .d(FRAME.sector(GHOST_IN, GROOVE_OUT + 1.0, to.deg() - arc / 2.0, arc))
                .paint("none", TARGET, 2.2)
                .s("stroke-dasharray", "5 3"),
        );
    }
}

/// Which lane each arrow runs in: arrows that would lie on one another run side by side.
fn lanes(weights: &[PictureWeight]) -> Vec<Option<usize>> {
    const CLEAR: f64 = 9.0;
    let mut taken: Vec<Vec<(f64, f64)>> = Vec::new();
    weights
        .iter()
        .map(|w| {
            let by = moves(w)?.deg();
            let start = w.at.deg() + by.min(0.0) - CLEAR / 2.0;
            let span = (start, by.abs() + CLEAR);
            let meets = |o: &(f64, f64)| (o.0 - span.0).rem_euclid(360.0) < span.1 || (span.0 - o.0).rem_euclid(360.0) < o.1;
            let lane = taken.iter().position(|lane| !lane.iter().any(meets)).unwrap_or_else(|| {
                taken.push(Vec::new());
                taken.len() - 1
            });
            taken[lane].push(span);
            Some(lane)
        })
        .collect()
}

fn arrows(svg: &mut Svg, id: &impl Fn(&str) -> String, p: &WheelPicture, lanes: &[Option<usize>], step: f64) {
    for (i, w) in p.weights.iter().enumerate() {
        let (Some(by), Some(lane)) = (moves(w), lanes[i]) else { continue };
        let (from, by) = (w.at.deg(), by.deg());
        let radius = FIRST_LANE - step * lane as f64;
        let path = Path::new().to(FRAME.point(GROOVE_IN + 1.0, from)).line(FRAME.point(radius, from));
        let path = FRAME.arc_on(path, radius, from, by).line(FRAME.point(GHOST_IN - 6.0, from + by));
        svg.group(el("g").s("id", &id(&format!("move-{}", i + 1))).s("data-part", "move").n("data-by-deg", by), |svg| {
            svg.add(el("path").d(path).paint("none", TARGET, 1.8).s("stroke-linejoin", "round"));
            svg.add(el("path").d(FRAME.wedge(GHOST_IN + 3.0, GHOST_IN - 7.0, 4.5, from + by)).paint(TARGET, "none", 0.0));
        });
    }
}

/// The numbers of weights and targets: on the body where it is wide enough, else beside its inner end.
fn numbers(svg: &mut Svg, p: &WheelPicture) {
    let mid = f64::midpoint(GROOVE_OUT, GROOVE_IN);
    let inside = f64::midpoint(GHOST_IN, GROOVE_IN) + 1.0;
    let mut narrow = Vec::new();
    for (i, w) in p.weights.iter().enumerate() {
        let wide = w.arc.deg() >= NUMBER_ARC;
        let text = format!("{}", i + 1);
        if wide {
            upright(svg, p.zero_mark, FRAME.point(mid, w.at.deg()), 15.0, WEIGHT_INK, &text);
        } else {
            narrow.push((w.at.deg(), GROOVE_IN, INK, text.clone()));
        }
        if let Some(by) = moves(w) {
            let to = w.at.turned(by).deg();
            if wide {
                halo(svg, p.zero_mark, FRAME.point(inside, to), TARGET, &text);
            } else {
                narrow.push((to, inside, TARGET, text));
            }
        }
    }
    // Numbers of narrow bodies share one circle and make room for one another; a line leads from one that had to give
    // way to its body.
    let places = spread(&narrow.iter().map(|n| n.0).collect::<Vec<_>>(), 9.0);
    for ((at, end, ink, text), place) in narrow.into_iter().zip(places) {
        if (place - at.rem_euclid(360.0)).abs() > 2.0 {
            let leader = Path::new().to(FRAME.point(inside, place)).line(FRAME.point(end, at));
            svg.add(el("path").d(leader).paint("none", ink, 1.0));
        }
        halo(svg, p.zero_mark, FRAME.point(inside, place), ink, &text);
    }
}

fn label(zero_mark: RoomAngle, at: [f64; 2], size: f64, fill: &str) -> El {
    let phi = zero_mark.deg();
    let (x, y) = (number(at[0]), number(at[1]));
    el("text")
        .xy(["x", "y"], at)
        .s("data-upright", "")
        .xy(["data-x", "data-y"], at)
        .s("transform", &format!("rotate({} {x} {y})", number(phi)))
        .n("font-size", size)
        .s("text-anchor", "middle")
        // A figure of the embedded font is 0.73 of its size high; not `dominant-baseline`, which PDF readers know badly.
        .n("dy", size * 0.36)
        .s("fill", fill)
}

pub(super) fn upright(svg: &mut Svg, zero_mark: RoomAngle, at: [f64; 2], size: f64, fill: &str, text: &str) {
    svg.text(label(zero_mark, at, size, fill), text);
}

pub(super) fn halo(svg: &mut Svg, zero_mark: RoomAngle, at: [f64; 2], fill: &str, text: &str) {
    svg.text(label(zero_mark, at, 14.0, fill).s("stroke", FLANGE).n("stroke-width", 3.5).s("paint-order", "stroke"), text);
}
