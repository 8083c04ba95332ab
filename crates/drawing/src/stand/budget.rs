//! The floor's budget: every cause as a bar, against the allowance.

use super::text;
use crate::axis::Axis;
use crate::colour::{ALLOWANCE, INK, MUTED, PAPER, REGION, WEIGHT};
use crate::scale::figure;
use crate::svg::{El, Path, Svg, el, number};
use crate::wheel::check_prefix;
use stillwheel_physics::{Fault, Ranged};

/// Whether a cause stays the same from look to look.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CauseKind {
    /// The same in every look.
    Systematic,
    /// Another in every look.
    Random,
}

/// One cause.
#[derive(Clone, Debug, PartialEq)]
pub struct BudgetCause {
    /// In a few words (up to about 45 letters fit).
    pub name: String,
    /// Its size, g·mm (0 to 1e9).
    pub size_g_mm: f64,
    /// Whether it stays.
    pub kind: CauseKind,
}

/// What the plot shows; sizes in g·mm.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct BudgetPlot {
    /// What it is, in a few words, for screen readers.
    pub title: String,
    /// Put before every id: letters, digits, `-`, at most 40.
    pub id_prefix: String,
    /// The causes in the order in which they are shown (1 to 40).
    pub causes: Vec<BudgetCause>,
    /// Root of the sum of squares.
    pub root_sum_g_mm: f64,
    /// All at their worst and together.
    pub worst_g_mm: f64,
    /// The allowance of the rotor, above 0.
    pub allowance_g_mm: Option<f64>,
}

const LEFT: f64 = 12.0;
const WIDE: f64 = 290.0;
const ROW: f64 = 40.0;

/// Draw the budget.
///
/// # Errors
/// A [`Fault`] for no cause, too many, or a size out of range.
pub fn budget(plot: &BudgetPlot) -> Result<String, Fault> {
    check(plot)?;
    let bars = plot.causes.len() + 2;
    let largest = plot.causes.iter().map(|c| c.size_g_mm).chain([plot.root_sum_g_mm, plot.worst_g_mm]).fold(0.0, f64::max);
    // A generous allowance must not press the bars to nothing: beyond three times the largest bar its line leaves the picture.
    let shown = plot.allowance_g_mm.filter(|a| *a <= 3.0 * largest || largest == 0.0);
    let x = Axis::new(0.0, largest.max(shown.unwrap_or(0.0)) * 1.02, LEFT, LEFT + WIDE);
    let foot = 8.0 + ROW * bars as f64;
    let rows = 2 + usize::from(plot.allowance_g_mm.is_some());
    let height = foot + 48.0 + 20.0 * rows as f64;
    let root = el("svg").s("viewBox", &format!("0 0 400 {}", number(height))).s("data-picture", "budget");
    let mut svg = Svg::start(root, &plot.id_prefix, &plot.title, &words(plot));
    svg.add(el("rect").n("x", LEFT).n("y", 4.0).n("width", WIDE).n("height", foot - 4.0).paint(PAPER, MUTED, 0.8));
    for (v, label) in x.ticks(4.0) {
        svg.add(el("path").d(Path::new().to([x.place(v), foot]).line([x.place(v), foot + 5.0])).paint("none", MUTED, 1.0));
        svg.text(text("middle", x.place(v), foot + 18.0), &label);
    }
    svg.text(text("middle", LEFT + WIDE / 2.0, foot + 35.0), &format!("size ({})", x.unit("g·mm")));

    let causes = plot.causes.iter().map(|c| (c.name.as_str(), c.size_g_mm, Some(c.kind)));
    let sums = [("root of the sum of squares", plot.root_sum_g_mm, None), ("all at their worst together", plot.worst_g_mm, None)];
    for (k, (name, size, kind)) in causes.chain(sums).enumerate() {
        let y = 8.0 + ROW * k as f64;
        svg.text(text("start", LEFT + 4.0, y + 13.0), name);
        let bar = el("rect").n("x", LEFT).n("y", y + 18.0).n("width", (x.place(size) - LEFT).max(0.5)).n("height", 14.0);
        svg.add(paint(bar, kind).s("data-part", "cause"));
        svg.text(text("start", LEFT + WIDE + 6.0, y + 30.0), &format!("{} g·mm", figure(size)));
    }
    if let Some(a) = shown {
        svg.add(allowance_line([x.place(a), 4.0], [x.place(a), foot]).s("data-part", "allowance"));
    }
    let mut y = foot + 54.0;
    let sign = |y: f64| el("rect").n("x", LEFT).n("y", y - 7.0).n("width", 20.0).n("height", 14.0);
    for (kind, name) in [(CauseKind::Systematic, "the same in every look"), (CauseKind::Random, "another in every look")] {
        svg.add(paint(sign(y), Some(kind)));
        svg.text(text("start", LEFT + 28.0, y + 4.8), name);
        y += 20.0;
    }
    if let Some(a) = plot.allowance_g_mm {
        svg.add(allowance_line([LEFT, y], [LEFT + 20.0, y]));
        let beyond = if shown.is_none() { ", right of the picture" } else { "" };
        svg.text(text("start", LEFT + 28.0, y + 4.8), &format!("allowance, {} g·mm{beyond}", figure(a)));
    }
    svg.finish()
}

fn paint(e: El, kind: Option<CauseKind>) -> El {
    match kind {
        Some(CauseKind::Systematic) => e.paint(WEIGHT, WEIGHT, 1.0),
        Some(CauseKind::Random) => e.paint(PAPER, REGION, 2.0).s("stroke-dasharray", "4 2"),
        None => e.paint(INK, INK, 1.0).n("fill-opacity", 0.55),
    }
}

fn allowance_line(a: [f64; 2], b: [f64; 2]) -> El {
    el("path").d(Path::new().to(a).line(b)).paint("none", ALLOWANCE, 2.4).s("stroke-dasharray", "7 4")
}

fn words(plot: &BudgetPlot) -> String {
    let causes: Vec<String> = plot
        .causes
        .iter()
        .map(|c| {
            let kind = if c.kind == CauseKind::Systematic { "the same in every look" } else { "another in every look" };
            format!("{}: {} g·mm, {kind}", c.name, figure(c.size_g_mm))
        })
        .collect();
    let allowance = plot.allowance_g_mm.map_or_else(String::new, |a| format!(" The rotor's allowance is {} g·mm.", figure(a)));
    format!(
        "Causes of the floor. {}. Root of the sum of squares {} g·mm; all at their worst together {} g·mm.{allowance}",
        causes.join("; "),
        figure(plot.root_sum_g_mm),
        figure(plot.worst_g_mm)
    )
}

fn check(plot: &BudgetPlot) -> Result<(), Fault> {
    check_prefix(&plot.id_prefix)?;
    if !(1..=40).contains(&plot.causes.len()) {
        return Err(Fault::new("causes", plot.causes.len(), "1 to 40 causes", "an empty budget says nothing"));
    }
    let why = "no stand is so bad";
    for (i, c) in plot.causes.iter().enumerate() {
        c.size_g_mm.within(&format!("causes[{i}].size_g_mm"), 0.0, 1e9, "g·mm", why)?;
    }
    plot.root_sum_g_mm.within("root_sum_g_mm", 0.0, 1e9, "g·mm", why)?;
    plot.worst_g_mm.within("worst_g_mm", 0.0, 1e9, "g·mm", why)?;
    if let Some(a) = plot.allowance_g_mm {
        a.within("allowance_g_mm", 1e-6, 1e9, "g·mm", why)?;
    }
    Ok(())
}
