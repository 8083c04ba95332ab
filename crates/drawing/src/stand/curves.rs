//! Curves over one axis: force against float, flow against pressure, trade-offs of a search.

use super::{DASHES, text};
use crate::axis::Axis;
use crate::colour::{ALLOWANCE, INK, MUTED, PAPER, REGION, TARGET, WEIGHT};
use crate::scale::figure;
use crate::svg::{El, Path, Svg, el, number};
use crate::wheel::check_prefix;
use stillwheel_physics::{Fault, Ranged};

/// One axis: what it shows and in which unit.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct PlotAxis {
    /// In a few words.
    pub name: String,
    /// Unit, as it is written.
    pub unit: String,
}

/// One curve.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Series {
    /// What it is, for the legend.
    pub name: String,
    /// Its points, in the order in which they are joined (each −1e12 to 1e12, 2 to 20,000 of them).
    pub points: Vec<[f64; 2]>,
}

/// How a marked point looks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MarkKind {
    /// A full dot: where it comes to rest.
    Full,
    /// A ring: where it can't stay.
    Open,
}

/// A marked point.
#[derive(Clone, Debug, PartialEq)]
pub struct CurveMark {
    /// Where.
    pub at: [f64; 2],
    /// How it looks.
    pub kind: MarkKind,
    /// What it is, for the legend.
    pub name: String,
}

/// What the plot shows.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct CurvePlot {
    /// What it is, in a few words, for screen readers.
    pub title: String,
    /// Put before every id: letters, digits, `-`, at most 40.
    pub id_prefix: String,
    /// Across.
    pub x: PlotAxis,
    /// Up.
    pub y: PlotAxis,
    /// Up to four curves.
    pub series: Vec<Series>,
    /// Up to eight marked points.
    pub marks: Vec<CurveMark>,
    /// A level line with its name.
    pub level: Option<(f64, String)>,
}

const LEFT: f64 = 66.0;
const WIDE: f64 = 316.0;
const TOP: f64 = 12.0;
const HIGH: f64 = 230.0;
const COLOURS: [&str; 4] = [WEIGHT, TARGET, REGION, ALLOWANCE];

/// Draw curves.
///
/// # Errors
/// A [`Fault`] for no curve, more than can be told apart, or a number out of range.
pub fn curves(plot: &CurvePlot) -> Result<String, Fault> {
    check(plot)?;
    let points = || plot.series.iter().flat_map(|s| s.points.iter()).chain(plot.marks.iter().map(|m| &m.at));
    let span = |values: &mut dyn Iterator<Item = f64>| values.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
    let (x0, x1) = span(&mut points().map(|p| p[0]));
    // The y axis starts at zero where nothing is negative: heights are compared by eye.
    let (y0, y1) = span(&mut points().map(|p| p[1]).chain(plot.level.iter().map(|l| l.0)).chain([0.0]));
    let x = Axis::new(x0, x1, LEFT, LEFT + WIDE);
    let y = Axis::new(y0 - if y0 < 0.0 { 0.05 * (y1 - y0) } else { 0.0 }, y1 + 0.06 * (y1 - y0), TOP + HIGH, TOP);

    let rows = plot.series.len() + plot.marks.len() + usize::from(plot.level.is_some());
    let legend = TOP + HIGH + 46.0;
    let height = legend + 20.0 * rows as f64 + 4.0;
    let root = el("svg").s("viewBox", &format!("0 0 400 {}", number(height))).s("data-picture", "curves");
    let mut svg = Svg::start(root, &plot.id_prefix, &plot.title, &words(plot, (x0, x1)));
    frame(&mut svg, plot, x, y);

    let mut at = legend;
    let mut row = |svg: &mut Svg, sign: El, name: &str| {
        svg.add(sign);
        svg.text(text("start", LEFT + 28.0, at + 4.8), name);
        at += 20.0;
        at
    };
    let dash = |y: f64| Path::new().to([LEFT, y]).line([LEFT + 20.0, y]);
    let mut sign_at = legend;
    if let Some((level, name)) = &plot.level {
        let line = |p: Path| el("path").d(p).paint("none", INK, 1.2).s("stroke-dasharray", "3 4");
        svg.add(line(Path::new().to([LEFT, y.place(*level)]).line([LEFT + WIDE, y.place(*level)])).s("data-part", "level"));
        sign_at = row(&mut svg, line(dash(sign_at)), &format!("{name}, {} {}", figure(*level), plot.y.unit));
    }
    for (k, s) in plot.series.iter().enumerate() {
        let line = |p: Path| curve(el("path").d(p), k);
        let path = s.points.iter().enumerate().fold(Path::new(), |path, (i, p)| {
            let at = [x.place(p[0]), y.place(p[1])];
            if i == 0 { path.to(at) } else { path.line(at) }
        });
        svg.add(line(path).s("data-part", "curve"));
        sign_at = row(&mut svg, line(dash(sign_at)), &s.name);
    }
    for m in &plot.marks {
        svg.add(mark([x.place(m.at[0]), y.place(m.at[1])], m.kind).s("data-part", "mark"));
        sign_at = row(&mut svg, mark([LEFT + 10.0, sign_at], m.kind), &m.name);
    }
    svg.finish()
}

fn curve(e: El, k: usize) -> El {
    let e = e.paint("none", COLOURS[k], 2.0).s("stroke-linejoin", "round");
    if DASHES[k].is_empty() { e } else { e.s("stroke-dasharray", DASHES[k]) }
}

fn mark(at: [f64; 2], kind: MarkKind) -> El {
    let e = el("circle").xy(["cx", "cy"], at).n("r", 5.5);
    if kind == MarkKind::Full { e.paint(INK, PAPER, 1.2) } else { e.paint(PAPER, INK, 2.0) }
}

fn frame(svg: &mut Svg, plot: &CurvePlot, x: Axis, y: Axis) {
    svg.add(el("rect").n("x", LEFT).n("y", TOP).n("width", WIDE).n("height", HIGH).paint(PAPER, MUTED, 1.0));
    let mut grid = Path::new();
    for (v, label) in x.ticks(5.0) {
        grid = grid.to([x.place(v), TOP]).line([x.place(v), TOP + HIGH]);
        svg.text(text("middle", x.place(v), TOP + HIGH + 16.0), &label);
    }
    for (v, label) in y.ticks(5.0) {
        grid = grid.to([LEFT, y.place(v)]).line([LEFT + WIDE, y.place(v)]);
        svg.text(text("end", LEFT - 5.0, y.place(v) + 4.8), &label);
    }
    svg.add(el("path").d(grid).paint("none", MUTED, 0.5).n("stroke-opacity", 0.6));
    svg.text(text("middle", LEFT + WIDE / 2.0, TOP + HIGH + 34.0), &format!("{} ({})", plot.x.name, x.unit(&plot.x.unit)));
    let middle = TOP + HIGH / 2.0;
    let turn = format!("rotate(-90 13 {})", number(middle));
    svg.text(text("middle", 13.0, middle).s("transform", &turn), &format!("{} ({})", plot.y.name, y.unit(&plot.y.unit)));
}

fn words(plot: &CurvePlot, (x0, x1): (f64, f64)) -> String {
    let ends = |s: &Series| {
        let of = |p: &[f64; 2]| format!("{} at {}", figure(p[1]), figure(p[0]));
        let top = s.points.iter().fold(s.points[0], |m, p| if p[1] > m[1] { *p } else { m });
        format!("{}: {} to {}, highest {}", s.name, of(&s.points[0]), s.points.last().map_or_else(String::new, of), of(&top))
    };
    let parts = plot
        .series
        .iter()
        .map(ends)
        .chain(plot.marks.iter().map(|m| format!("{} at {}, {}", m.name, figure(m.at[0]), figure(m.at[1]))))
        .chain(plot.level.iter().map(|l| format!("{}: {}", l.1, figure(l.0))));
    format!(
        "{} in {} against {} in {}, from {} to {}. {}.",
        plot.y.name,
        plot.y.unit,
        plot.x.name,
        plot.x.unit,
        figure(x0),
        figure(x1),
        parts.collect::<Vec<_>>().join("; ")
    )
}

fn check(plot: &CurvePlot) -> Result<(), Fault> {
    check_prefix(&plot.id_prefix)?;
    if plot.series.is_empty() || plot.series.len() > COLOURS.len() {
        return Err(Fault::new("series", plot.series.len(), "1 to 4 curves", "more can't be told apart"));
    }
    if plot.marks.len() > 8 {
        return Err(Fault::new("marks", plot.marks.len(), "at most 8 marks", "more can't be told apart"));
    }
    let why = "beyond any stand";
    for (i, s) in plot.series.iter().enumerate() {
        if !(2..=20_000).contains(&s.points.len()) {
            return Err(Fault::new(format!("series[{i}].points"), s.points.len(), "2 to 20000 points", "a curve needs two points"));
        }
        for p in s.points.iter().flatten() {
            p.within(&format!("series[{i}].points"), -1e12, 1e12, "", why)?;
        }
    }
    for v in plot.marks.iter().flat_map(|m| m.at).chain(plot.level.iter().map(|l| l.0)) {
        v.within("marks", -1e12, 1e12, "", why)?;
    }
    Ok(())
}
