//! A template of the weight ring at true scale, to lay on the ring or to measure from.
//!
//! In: a [`RingTemplate`] and a [`Page`]. Out: SVG in millimetres, the size of the page; [`crate::to_pdf`] keeps the scale.
//! Seen from the operator's side, zero mark up.

use crate::colour::{INK, MUTED, PAPER};
use crate::pdf::Page;
use crate::polar::{Frame, spread};
use crate::scale::{Scale, short};
use crate::svg::{El, Path, Svg, el};
use stillwheel_physics::quantity::{Angle, RotorAngle};
use stillwheel_physics::{Fault, Ranged};

/// A weight on the template.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TemplateWeight {
    /// Where its centre is now, if it is on the ring.
    pub now: Option<RotorAngle>,
    /// Where its centre shall go, if it shall be anywhere else.
    pub target: Option<RotorAngle>,
    /// Arc of its body (0° to 180°); drawn at least 0.6 mm wide.
    pub arc: Angle,
}

/// What the template shows.
#[derive(Clone, Debug, PartialEq)]
pub struct RingTemplate {
    /// The rotor's name, at most 100 letters.
    pub rotor_name: String,
    /// The date as it shall be printed, at most 40 letters.
    pub date: String,
    /// Radius of the weights' mass centres, mm (10 to 500).
    pub radius_mm: f64,
    /// Inner edge of the groove, mm, below the radius (at least 5).
    pub inner_edge_mm: Option<f64>,
    /// Outer edge of the groove, mm, above the radius.
    pub outer_edge_mm: Option<f64>,
    /// How the ring is marked.
    pub scale: Scale,
    /// Spacing of the graduations, degrees (0.1 to 90); printed no closer than 0.5 mm.
    pub graduation_deg: f64,
    /// The weights, at most 24.
    pub weights: Vec<TemplateWeight>,
}

/// Length of the bar that proves the scale, mm.
const BAR_MM: f64 = 50.0;
const BAR_Y: f64 = 38.0;
const RING_TOP: f64 = 44.0;
const BODY_TEXT: f64 = 3.4;
const ROW: f64 = 5.0;
/// Half the width of a groove of which no edges are known.
const HALF_GROOVE: f64 = 3.0;
/// Ticks, labels and the zero mark outside the ring.
const OUTSIDE: f64 = 14.0;

/// Draw the template.
///
/// # Errors
/// A [`Fault`] for a field out of its range, and for a ring that is too large for the page: it names the page that
/// would do.
pub fn ring_template(template: &RingTemplate, page: Page) -> Result<String, Fault> {
    check(template)?;
    let t = template;
    let [inner, outer] = edges(t);
    let room = room_mm(page, t.weights.len());
    if outer + OUTSIDE > room {
        return Err(too_large(t, outer, page));
    }
    let [w, h] = page.size_mm();
    let root = el("svg")
        .s("width", &format!("{w}mm"))
        .s("height", &format!("{h}mm"))
        .s("viewBox", &format!("0 0 {w} {h}"))
        .s("data-picture", "ring-template");
    let title = format!("Weight ring of {}", t.rotor_name);
    let step = printed_step(t);
    let marks = match t.scale {
        Scale::Holes(_) => t.scale.words(),
        _ => format!("a mark every {}°, {}", short(step, 2), t.scale.words()),
    };
    let says = format!(
        "Template of the weight ring at true scale, seen from the operator's side, zero mark up; weight radius {} mm, {marks}. {}",
        short(t.radius_mm, 2),
        table(t).iter().map(|r| r.join(" ")).collect::<Vec<_>>().join("; ")
    );
    let mut svg = Svg::start(root, "", &title, &says);
    svg.add(el("rect").n("x", 0.0).n("y", 0.0).n("width", w).n("height", h).paint(PAPER, "none", 0.0));
    heading(&mut svg, t, w, &title, &marks);

    let frame = Frame { centre: [w / 2.0, RING_TOP + room], zero_deg: 180.0 };
    svg.group(el("g").s("id", "ring"), |svg| {
        ring(svg, t, frame, [inner, outer], step);
        positions(svg, t, frame, [inner, outer], room);
    });
    list(&mut svg, t, [w, h]);
    svg.finish()
}

fn check(t: &RingTemplate) -> Result<(), Fault> {
    for (field, text, most) in [("rotor_name", &t.rotor_name, 100), ("date", &t.date, 40)] {
        if text.chars().count() > most {
            return Err(Fault::new(field, text.chars().count(), format!("at most {most} letters"), "it must fit on one line of the sheet"));
        }
    }
    t.radius_mm.within("radius_mm", 10.0, 500.0, "mm", "smaller rings can't be marked, larger ones fit on no sheet")?;
    if let Some(v) = t.inner_edge_mm {
        v.within("inner_edge_mm", 5.0, t.radius_mm, "mm", "the groove's inner edge lies inside the radius of the weights")?;
    }
    if let Some(v) = t.outer_edge_mm {
        v.within(
            "outer_edge_mm",
            t.radius_mm,
            t.radius_mm + 100.0,
            "mm",
            "the groove's outer edge lies outside the radius of the weights",
        )?;
    }
    t.scale.check()?;
    t.graduation_deg.within("graduation_deg", 0.1, 90.0, "degrees", "closer marks can't be made, wider ones mark nothing")?;
    if t.weights.len() > 24 {
        return Err(Fault::new("weights", t.weights.len(), "at most 24 weights", "more can't be listed on one sheet"));
    }
    for (i, w) in t.weights.iter().enumerate() {
        w.arc.deg().within(&format!("weights[{i}].arc"), 0.0, 180.0, "degrees", "a weight's body takes up to half the ring")?;
        for (name, at) in [("now", w.now), ("target", w.target)] {
            if let Some(at) = at {
                at.deg().within(&format!("weights[{i}].{name}"), 0.0, 360.0, "degrees", "a place on the rotor is an angle")?;
            }
        }
    }
    Ok(())
}

fn edges(t: &RingTemplate) -> [f64; 2] {
    [t.inner_edge_mm.unwrap_or(t.radius_mm - HALF_GROOVE), t.outer_edge_mm.unwrap_or(t.radius_mm + HALF_GROOVE)]
}

/// Lines of the list below the ring: one column up to eight weights, then two.
fn list_rows(weights: usize) -> usize {
    if weights > 8 { weights.div_ceil(2) } else { weights }
}

/// Radius that the page leaves for the ring with its marks, mm.
fn room_mm(page: Page, weights: usize) -> f64 {
    let [w, h] = page.size_mm();
    let list = (list_rows(weights) + 3) as f64 * ROW;
    ((w - 2.0 * Page::MARGIN_MM) / 2.0).min((h - Page::MARGIN_MM - list - RING_TOP) / 2.0)
}

fn too_large(t: &RingTemplate, outer: f64, page: Page) -> Fault {
    let most = |p: Page| room_mm(p, t.weights.len()) - OUTSIDE;
    let larger = Page::ALL.into_iter().find(|p| most(*p) >= outer);
    let largest = Page::ALL.into_iter().map(most).fold(0.0, f64::max);
    let (field, value) = if t.outer_edge_mm.is_some() { ("outer_edge_mm", outer) } else { ("radius_mm", t.radius_mm) };
    let slack = value - outer;
    match larger {
        Some(p) => Fault::new(
            field,
            value,
            format!("at most {} mm on {}", short((most(page) + slack - 0.05).max(0.0), 1), page.name()),
            format!("at true scale the ring does not fit on this sheet; print it on {}", p.name()),
        ),
        None => Fault::new(
            field,
            value,
            format!("at most {} mm, on the largest sheet", short((largest + slack - 0.05).max(0.0), 1)),
            "at true scale the ring fits on no sheet; measure the places along the groove in mm from the zero mark instead",
        ),
    }
}

/// The ring's own graduation, or every 2nd, 5th, 10th where the lines would run together.
fn printed_step(t: &RingTemplate) -> f64 {
    let least = (0.5 / t.radius_mm).to_degrees();
    [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0].iter().map(|k| k * t.graduation_deg).find(|s| *s >= least).unwrap_or(t.graduation_deg)
}

fn text(at: [f64; 2], size: f64) -> El {
    coloured_text(at, size, INK)
}

fn coloured_text(at: [f64; 2], size: f64, ink: &str) -> El {
    el("text").xy(["x", "y"], at).n("font-size", size).s("fill", ink)
}

fn heading(svg: &mut Svg, t: &RingTemplate, w: f64, title: &str, marks: &str) {
    let left = Page::MARGIN_MM;
    // The mean letter of the embedded font is 0.6 of its size wide; wide ones take more, hence 0.68.
    let fitting = |text: &str, size: f64| size.min((w - 2.0 * left) / (0.68 * text.chars().count().max(1) as f64));
    svg.text(text([left, 17.0], fitting(title, 5.6)).s("id", "title-line"), title);
    let date = if t.date.trim().is_empty() { String::new() } else { format!("{} · ", t.date) };
    let line = format!("{date}weight radius {} mm · {marks} · operator’s side", short(t.radius_mm, 2));
    svg.text(text([left, 24.0], fitting(&line, BODY_TEXT)), &line);
    let caution = "Print at 100 %, measure the bar: if it is not 50 mm long, do not use this sheet.";
    svg.text(text([left, 31.5], fitting(caution, 4.0)).s("id", "caution"), caution);
    let ends = [left, left + BAR_MM];
    let bar = Path::new()
        .to([ends[0], BAR_Y])
        .line([ends[1], BAR_Y])
        .to([ends[0], BAR_Y - 2.5])
        .line([ends[0], BAR_Y + 2.5])
        .to([ends[1], BAR_Y - 2.5])
        .line([ends[1], BAR_Y + 2.5]);
    svg.add(el("path").s("id", "check-bar").d(bar).paint("none", INK, 0.25));
    svg.text(text([ends[1] + 3.0, BAR_Y + 1.3], BODY_TEXT), "50 mm");
}

fn ring(svg: &mut Svg, t: &RingTemplate, frame: Frame, [inner, outer]: [f64; 2], step: f64) {
    let circle = |r: f64| el("circle").xy(["cx", "cy"], frame.centre).n("r", r);
    svg.add(circle(t.radius_mm).s("id", "weight-radius").paint("none", INK, 0.18).s("stroke-dasharray", "4 1 0.6 1"));
    for (edge, id) in [(t.inner_edge_mm, "inner-edge"), (t.outer_edge_mm, "outer-edge")] {
        if let Some(r) = edge {
            svg.add(circle(r).s("id", id).paint("none", INK, 0.3));
        }
    }
    let mut ticks = Path::new();
    let labels = t.scale.labels();
    if let Scale::Holes(n) = t.scale {
        for k in 0..n {
            let deg = f64::from(k) * 360.0 / f64::from(n);
            ticks = ticks.to(frame.point(outer, deg)).line(frame.point(outer + 2.0, deg));
            // A cross at each hole's centre.
            ticks = ticks.to(frame.point(t.radius_mm - 1.2, deg)).line(frame.point(t.radius_mm + 1.2, deg));
            let side = (1.2 / t.radius_mm).to_degrees();
            ticks = ticks.to(frame.point(t.radius_mm, deg - side)).line(frame.point(t.radius_mm, deg + side));
        }
    } else {
        let count = (360.0 / step + 1e-6).floor() as u32;
        for k in 0..count {
            let deg = f64::from(k) * step;
            let fifth = (deg / 5.0 - (deg / 5.0).round()).abs() < 1e-6;
            let sense = if t.scale == Scale::CounterClockwise { 1.0 } else { -1.0 };
            ticks = ticks.to(frame.point(outer, sense * deg)).line(frame.point(outer + if fifth { 2.8 } else { 1.8 }, sense * deg));
        }
    }
    for (deg, label) in &labels {
        ticks = ticks.to(frame.point(outer, *deg)).line(frame.point(outer + 4.0, *deg));
        let at = frame.point(outer + 7.6, *deg);
        svg.text(text([at[0], at[1] + BODY_TEXT * 0.36], BODY_TEXT).s("text-anchor", "middle"), label);
    }
    svg.add(el("path").s("id", "marks").d(ticks).paint("none", INK, 0.15));
    let zero = Path::new().to(frame.point(inner, 0.0)).line(frame.point(outer + 4.0, 0.0));
    svg.add(el("path").s("id", "zero-mark").d(zero).paint("none", INK, 0.4));
    svg.add(el("path").d(frame.wedge(outer, outer + 4.0, 1.6, 0.0)).paint(INK, "none", 0.0));
    let at = frame.point(outer + 10.6, 0.0);
    svg.text(text(at, BODY_TEXT).s("text-anchor", "middle"), "zero mark");
    let [x, y] = frame.centre;
    let cross = Path::new().to([x - 6.0, y]).line([x + 6.0, y]).to([x, y - 6.0]).line([x, y + 6.0]);
    svg.add(el("path").s("id", "centre").d(cross).paint("none", INK, 0.15));
}

fn positions(svg: &mut Svg, t: &RingTemplate, frame: Frame, [inner, outer]: [f64; 2], room: f64) {
    let drawn = |w: &TemplateWeight| w.arc.deg().max((0.6 / t.radius_mm).to_degrees());
    let centre_line = |at: RotorAngle| Path::new().to(frame.point(inner - 1.5, at.deg())).line(frame.point(outer + 1.5, at.deg()));
    // Weights now first, shaded as in the picture of the wheel: the outline of a target that is partly over one is then seen on top.
    for (i, at, arc) in t.weights.iter().enumerate().filter_map(|(i, w)| Some((i, w.now?, drawn(w)))) {
        let id = format!("now-{}", i + 1);
        let block = frame.sector(inner, outer, at.deg() - arc / 2.0, arc);
        svg.add(el("path").d(block).s("id", &id).s("data-part", "now").paint(MUTED, INK, 0.25).n("fill-opacity", 0.55));
        svg.add(el("path").d(centre_line(at)).paint("none", INK, 0.25));
    }
    for (i, at, arc) in t.weights.iter().enumerate().filter_map(|(i, w)| Some((i, w.target?, drawn(w)))) {
        let id = format!("target-{}", i + 1);
        // Drawn a little inside the groove, or its long sides would hide in the groove's edges.
        let inset = (outer - inner).min(8.0) * 0.1;
        let outline = frame.sector(inner + inset, outer - inset, at.deg() - arc / 2.0, arc);
        svg.add(el("path").d(outline).s("id", &id).s("data-part", "target").paint("none", INK, 0.45).s("stroke-dasharray", "1.4 0.9"));
        svg.add(el("path").d(centre_line(at)).paint("none", INK, 0.15));
    }
    // The numbers stand inside the ring, or outside its labels where a small ring leaves no room for them.
    let outside = inner < 26.0 && outer + 28.0 <= room;
    let (edge, rings) = if outside {
        (outer + 1.5, [outer + 17.5, outer + 24.5])
    } else {
        (inner - 1.5, [(inner - 5.0).max(inner * 0.68), (inner - 12.0).max(inner * 0.32)])
    };
    let now: Vec<(usize, RotorAngle)> = t.weights.iter().enumerate().filter_map(|(i, w)| Some((i, w.now?))).collect();
    let target: Vec<(usize, RotorAngle)> = t.weights.iter().enumerate().filter_map(|(i, w)| Some((i, w.target?))).collect();
    let badge = 2.4;
    let mut badges = Vec::new();
    for (list, radius, filled) in [(now, rings[0], true), (target, rings[1], false)] {
        let least = (2.2 * badge / radius).to_degrees();
        let places = spread(&list.iter().map(|l| l.1.deg()).collect::<Vec<_>>(), least);
        for ((i, at), place) in list.into_iter().zip(places) {
            let leader = Path::new().to(frame.point(radius, place)).line(frame.point(edge, at.deg()));
            svg.add(el("path").d(leader).paint("none", INK, 0.12));
            badges.push((i, frame.point(radius, place), filled));
        }
    }
    // After all leaders, so that none of them crosses a number.
    for (i, [x, y], filled) in badges {
        let (fill, ink) = if filled { (INK, PAPER) } else { (PAPER, INK) };
        svg.add(el("circle").n("cx", x).n("cy", y).n("r", badge).paint(fill, INK, 0.2));
        let size = if i >= 9 { 2.7 } else { 3.2 };
        svg.text(coloured_text([x, y + size * 0.36], size, ink).s("text-anchor", "middle"), &format!("{}", i + 1));
    }
}

/// One line a weight: number, now, target; each with its way along the groove.
fn table(t: &RingTemplate) -> Vec<[String; 3]> {
    let place = |at: RotorAngle| {
        let mm = t.scale.counted_deg(at).to_radians() * t.radius_mm;
        format!("{} = {} mm", t.scale.show(at), short(mm, 1))
    };
    let row = |(i, w): (usize, &TemplateWeight)| {
        let now = w.now.map_or("not on the ring".to_owned(), place);
        let target = match (w.target, w.now) {
            (Some(at), _) => format!("to {}", place(at)),
            (None, Some(_)) => "stays".to_owned(),
            (None, None) => "not used".to_owned(),
        };
        [format!("{}", i + 1), format!("now {now}"), target]
    };
    t.weights.iter().enumerate().map(row).collect()
}

fn list(svg: &mut Svg, t: &RingTemplate, [w, h]: [f64; 2]) {
    let rows = table(t);
    let lines = list_rows(rows.len());
    let top = h - Page::MARGIN_MM - (lines as f64 + 1.0) * ROW;
    let sense = match t.scale {
        Scale::CounterClockwise | Scale::Holes(_) => "counter-clockwise",
        Scale::Clockwise | Scale::ClockHours => "clockwise",
    };
    let heads = [
        "Shaded, black number: where a weight is now. Dashed outline, white number: where it shall go.".to_owned(),
        format!("Angles and mm are those of the weight’s centre, {sense} from the zero mark, on radius {} mm.", short(t.radius_mm, 2)),
    ];
    for (k, head) in heads.iter().enumerate() {
        svg.text(text([Page::MARGIN_MM, top + (k as f64 - 1.0) * ROW], BODY_TEXT), head);
    }
    let two = rows.len() > lines;
    let small = if two { 2.6 } else { BODY_TEXT };
    let columns = if two { [0.0, 5.0, 48.5] } else { [0.0, 8.0, 70.0] };
    for (k, row) in rows.iter().enumerate() {
        let left = Page::MARGIN_MM + if k >= lines { w / 2.0 - Page::MARGIN_MM + 1.0 } else { 0.0 };
        let y = top + (k % lines + 1) as f64 * ROW;
        for (x, cell) in columns.iter().zip(row) {
            svg.text(text([left + x, y], small), cell);
        }
    }
}
