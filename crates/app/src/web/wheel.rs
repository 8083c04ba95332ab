//! The picture of the wheel as the operator sees it. One function, so that the drawing crate's picture can take its place.
//!
//! In: weights, ghosts, the unbalance's region on the rotor. Out: SVG whose colours are classes, so that dark and light
//! and print are the style sheet's business.

use maud::{Markup, PreEscaped};
use std::fmt::Write as _;

/// A weight in the picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Shown {
    /// Rotor angle, degrees counter-clockwise.
    pub(crate) at_deg: f64,
    /// Arc that its body takes up, degrees.
    pub(crate) arc_deg: f64,
}

/// What the picture shows.
#[derive(Clone, Debug, Default)]
pub(crate) struct Scene {
    /// Read out by a screen reader.
    pub(crate) title: String,
    /// Weights where they are.
    pub(crate) weights: Vec<Shown>,
    /// Where they shall go: weight number from 0, place, way to slide (degrees, positive counter-clockwise).
    pub(crate) ghosts: Vec<(usize, Shown, f64)>,
    /// Outlines of the 95 % region, g·mm on the rotor.
    pub(crate) region_g_mm: Vec<Vec<[f64; 2]>>,
    /// Mean of the unbalance, g·mm on the rotor.
    pub(crate) mean_g_mm: Option<[f64; 2]>,
    /// Where the zero mark stands, degrees counter-clockwise from straight down (180: on top).
    pub(crate) zero_mark_deg: f64,
    /// Show a pointer at the bottom.
    pub(crate) bottom_pointer: bool,
    /// Labels every 30°: how an angle is written.
    pub(crate) labels: Vec<(f64, String)>,
    /// Extra attributes for scripts, name and value.
    pub(crate) data: Vec<(&'static str, String)>,
}

const OUTER: f64 = 100.0;
const STEEL: f64 = 66.0;
const GROOVE: f64 = 52.0;
const INNER: f64 = 38.0;

/// The picture.
pub(crate) fn picture(scene: &Scene) -> Markup {
    let mut s = String::with_capacity(8192);
    let data: String = scene.data.iter().map(|(k, v)| format!(" data-{k}=\"{}\"", escaped(v))).collect();
    let _ = write!(s, "<svg class=\"wheel\" viewBox=\"-122 -122 244 244\" role=\"img\" aria-label=\"{}\"{data}>", escaped(&scene.title));
    if scene.bottom_pointer {
        s.push_str("<path class=\"down\" d=\"M0 104 l-6 12 h12 z\"/>");
    }
    let _ = write!(s, "<g class=\"turns\" transform=\"rotate({:.2})\">", 180.0 - scene.zero_mark_deg);
    let _ = write!(s, "<circle class=\"abrasive\" r=\"{OUTER}\"/><circle class=\"steel\" r=\"{STEEL}\"/>");
    let _ = write!(s, "<circle class=\"groove\" r=\"{GROOVE}\" stroke-width=\"15\" opacity=\".45\"/><circle class=\"bore\" r=\"{}\"/>", INNER * 0.42);
    ticks(&mut s, &scene.labels);
    region(&mut s, scene);
    for (i, w) in scene.weights.iter().enumerate() {
        let arc = w.arc_deg.max(16.0);
        let _ = write!(s, "<path class=\"weight\" d=\"{}\" stroke-width=\"13\"/>", arc_path(GROOVE, w.at_deg - arc / 2.0, w.at_deg + arc / 2.0));
        label(&mut s, "weight-no", GROOVE, w.at_deg, &(i + 1).to_string());
    }
    for (i, g, by) in &scene.ghosts {
        ghost(&mut s, *i, *g, *by);
    }
    s.push_str("</g></svg>");
    PreEscaped(s)
}

fn ticks(s: &mut String, labels: &[(f64, String)]) {
    for i in 0..36 {
        let a = f64::from(i) * 10.0;
        let (p, q) = (at(STEEL, a), at(if i % 3 == 0 { STEEL - 5.0 } else { STEEL - 3.0 }, a));
        let _ = write!(s, "<path class=\"tick\" d=\"M{} {}L{} {}\"/>", p.0, p.1, q.0, q.1);
    }
    // The zero mark is on the steel, so that it is never ground away.
    s.push_str("<path class=\"mark\" d=\"M0 -79 l6 -10 h-12 z\"/><path class=\"mark\" d=\"M-1 -79 h2 v16 h-2 z\"/>");
    for (deg, text) in labels {
        if *deg != 0.0 {
            label(s, "scale", 83.0, *deg, text);
        }
    }
    label(s, "scale", 94.0, 0.0, "0");
}

fn region(s: &mut String, scene: &Scene) {
    let reach = scene
        .region_g_mm
        .iter()
        .flatten()
        .chain(scene.mean_g_mm.iter())
        .map(|p| p[0].hypot(p[1]))
        .fold(0.0_f64, f64::max);
    if reach <= 0.0 || !reach.is_finite() {
        return;
    }
    // The region is drawn to fill the room inside the groove: its place and shape count, its scale is told in words.
    let scale = (INNER + 4.0) / reach;
    let mut d = String::new();
    for outline in &scene.region_g_mm {
        for (i, p) in outline.iter().enumerate() {
            let (x, y) = plane(p[0] * scale, p[1] * scale);
            let _ = write!(d, "{}{x} {y}", if i == 0 { 'M' } else { 'L' });
        }
        d.push('Z');
    }
    if !d.is_empty() {
        let _ = write!(s, "<path class=\"region\" fill-rule=\"evenodd\" d=\"{d}\"/>");
    }
    if let Some(m) = scene.mean_g_mm {
        let (x, y) = plane(m[0] * scale, m[1] * scale);
        let _ = write!(s, "<circle class=\"mean\" cx=\"{x}\" cy=\"{y}\" r=\"2.6\"/>");
    }
}

fn ghost(s: &mut String, i: usize, g: Shown, by: f64) {
    let arc = g.arc_deg.max(16.0);
    let _ = write!(s, "<path class=\"ghost\" d=\"{}\"/>", band_path(GROOVE, 8.5, g.at_deg - arc / 2.0, g.at_deg + arc / 2.0));
    label(s, "ghost-no", STEEL + 7.0, g.at_deg, &(i + 1).to_string());
    if by.abs() > 4.0 {
        let from = g.at_deg - by;
        let r = INNER + 3.0 - 3.5 * i as f64;
        let stop = g.at_deg - by.signum() * 3.0;
        let _ = write!(s, "<path class=\"way\" d=\"{}\"/>", arc_path(r, from, stop));
        let (x, y) = at(r, g.at_deg);
        // An arrow head that points along the way: counter-clockwise seen, so minus in the screen's sense.
        let turn = -g.at_deg + if by > 0.0 { 180.0 } else { 0.0 };
        let _ = write!(s, "<path class=\"tip\" d=\"M0 0 l-6 -3 v6 z\" transform=\"translate({x} {y}) rotate({turn:.1})\"/>");
    }
}

fn label(s: &mut String, class: &str, r: f64, deg: f64, text: &str) {
    let (x, y) = at(r, deg);
    let _ = write!(s, "<text class=\"{class}\" x=\"{x}\" y=\"{y}\">{}</text>", escaped(text));
}

/// A point of the rotor with the zero mark on top, screen coordinates.
fn at(r: f64, deg: f64) -> (f64, f64) {
    plane(r * deg.to_radians().cos(), r * deg.to_radians().sin())
}

/// Rotor plane (x along the zero mark, y a quarter turn counter-clockwise) to screen (x right, y down), zero mark on top.
fn plane(x: f64, y: f64) -> (f64, f64) {
    (hundredths(-y), hundredths(-x))
}

fn hundredths(v: f64) -> f64 {
    (v * 100.0).round() / 100.0
}

/// An arc from one rotor angle to another; rising angles run counter-clockwise on the screen.
fn arc_path(r: f64, from: f64, to: f64) -> String {
    let (p, q) = (at(r, from), at(r, to));
    let large = u8::from((to - from).abs() > 180.0);
    let sweep = u8::from(to < from);
    format!("M{} {}A{r} {r} 0 {large} {sweep} {} {}", p.0, p.1, q.0, q.1)
}

fn band_path(r: f64, half: f64, from: f64, to: f64) -> String {
    let (a, b) = (at(r - half, from), at(r - half, to));
    let (c, d) = (at(r + half, to), at(r + half, from));
    let (ri, ro) = (r - half, r + half);
    format!("M{} {}A{ri} {ri} 0 0 0 {} {}L{} {}A{ro} {ro} 0 0 1 {} {}Z", a.0, a.1, b.0, b.1, c.0, c.1, d.0, d.1)
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn angles_run_counter_clockwise_from_the_zero_mark_on_top() {
        // Top, left, bottom, right on a screen whose y grows downwards.
        for (deg, x, y) in [(0.0, 0.0, -10.0), (90.0, -10.0, 0.0), (180.0, 0.0, 10.0), (270.0, 10.0, 0.0)] {
            let p = at(10.0, deg);
            assert!((p.0 - x).abs() < 1e-9 && (p.1 - y).abs() < 1e-9, "{deg}: {p:?}");
        }
    }

    #[test]
    fn a_title_can_not_break_out_of_its_attribute() {
        let Markup { 0: svg } = picture(&Scene { title: "\"><script>".into(), ..Scene::default() });
        assert!(svg.contains("&quot;&gt;&lt;script&gt;") && !svg.contains("<script>"));
    }
}
