//! A swing log and its fit: angle against time, residuals below.
//!
//! In: samples with the fitted angle. Out: SVG, 400 units wide.

use crate::axis::Axis;
use crate::colour::{INK, MUTED, PAPER, TARGET, WEIGHT};
use crate::scale::figure;
use crate::svg::{El, Path, Svg, el};
use crate::wheel::check_prefix;
use stillwheel_physics::{Fault, Ranged};

/// One sample.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LogPoint {
    /// Time, s (−1e10 to 1e10: seconds since 1970 are accepted).
    pub t_s: f64,
    /// Measured angle, degrees, unwrapped (−1e7 to 1e7).
    pub measured_deg: f64,
    /// Fitted angle at the same time, degrees.
    pub fitted_deg: f64,
    /// Whether the fit left it out.
    pub dropped: bool,
}

/// What the plot shows.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct LogPlot {
    /// What it is, in a few words, for screen readers.
    pub title: String,
    /// Put before every id: letters, digits, `-`, at most 40.
    pub id_prefix: String,
    /// The samples, times not falling; at least 2.
    pub points: Vec<LogPoint>,
    /// The fitted curve [t in s, angle in degrees] where it is denser than the samples; empty: through the samples.
    pub curve: Vec<[f64; 2]>,
}

const LEFT: f64 = 62.0;
const PLOT: f64 = 318.0;
const UPPER: [f64; 2] = [12.0, 232.0];
const LOWER: [f64; 2] = [252.0, 342.0];
const TEXT: f64 = 13.0;
/// More marks than this can't be seen on 400 units; a longer log is thinned, and says so.
const MOST: usize = 1500;

/// Draw the log.
///
/// # Errors
/// A [`Fault`] for fewer than two samples, a number out of range, or time running backwards.
pub fn log_plot(plot: &LogPlot) -> Result<String, Fault> {
    check(plot)?;
    let p = &plot.points;
    let (t0, t1) = (p[0].t_s, p[p.len() - 1].t_s);
    // From the first sample: clocks that count from long ago would fill the axis with digits.
    let x = Axis::new(0.0, t1 - t0, LEFT, LEFT + PLOT);
    let curve: Vec<[f64; 2]> = if plot.curve.is_empty() {
        p.iter().map(|p| [p.t_s, p.fitted_deg]).collect()
    } else {
        // What was fitted outside the samples' time has no place on their axis.
        plot.curve.iter().copied().filter(|c| (t0..=t1).contains(&c[0])).collect()
    };
    let (low, high) = range(p.iter().map(|p| p.measured_deg).chain(curve.iter().map(|c| c[1])));
    let y = Axis::new(low - 0.05 * (high - low), high + 0.05 * (high - low), UPPER[1], UPPER[0]);
    // Dropped points may lie far away; the scale of the residuals is that of the points kept.
    let kept = p.iter().filter(|p| !p.dropped).map(|p| (p.measured_deg - p.fitted_deg).abs()).fold(0.0, f64::max);
    let limit = if kept > 0.0 { kept * 1.15 } else { 1.0 };
    let r = Axis::new(-limit, limit, LOWER[1], LOWER[0]);

    let dropped = p.iter().filter(|p| p.dropped).count();
    let step = p.len().div_ceil(MOST);
    let rows = legend_rows(p.len(), dropped, step, p.iter().any(|p| p.dropped && (p.measured_deg - p.fitted_deg).abs() > limit));
    let top = LOWER[1] + 42.0;
    let height = top + 20.0 * rows.len() as f64 + 4.0;
    let root = el("svg").s("viewBox", &format!("0 0 400 {}", crate::svg::number(height))).s("data-picture", "log");
    let words = format!(
        "Angle against time, {} samples from {} s to {} s between {}° and {}°, with the fitted curve; below it the residuals, at most {}°. {}",
        p.len(),
        figure(t0),
        figure(t1),
        figure(low),
        figure(high),
        figure(kept),
        rows.iter().map(|r| format!("{}.", r.1)).collect::<Vec<_>>().join(" ")
    );
    let mut svg = Svg::start(root, &plot.id_prefix, &plot.title, &words);
    frame(&mut svg, x, y, UPPER, "angle", 7.0);
    frame(&mut svg, x, r, LOWER, "residual", 3.0);
    for (v, label) in x.ticks(6.0) {
        svg.text(text("middle").n("x", x.place(v)).n("y", LOWER[1] + 16.0), &label);
    }
    svg.text(
        text("middle").n("x", LEFT + PLOT / 2.0).n("y", LOWER[1] + 34.0),
        &format!("{} ({})", if t0 == 0.0 { "time" } else { "time since the first sample" }, x.unit("s")),
    );

    let mut line = Path::new();
    for (k, c) in thinned(&curve, 4 * MOST).enumerate() {
        let at = [x.place(c[0] - t0), y.place(c[1])];
        line = if k == 0 { line.to(at) } else { line.line(at) };
    }
    // Dots as lines of no length with round ends: one path for all of them, a tenth of the size of circles.
    let (mut dots, mut residuals) = (Path::new(), Path::new());
    for p in p.iter().filter(|p| !p.dropped).step_by(step) {
        let (a, b) = ([x.place(p.t_s - t0), y.place(p.measured_deg)], [x.place(p.t_s - t0), r.place(p.measured_deg - p.fitted_deg)]);
        dots = dots.to(a).line(a);
        residuals = residuals.to(b).line(b);
    }
    svg.add(dot_line(el("path").d(dots)).s("data-part", "measured"));
    svg.add(dot_line(el("path").d(residuals)).s("data-part", "residuals"));
    svg.add(curve_line(el("path").d(line)).s("data-part", "fitted"));
    let thin = dropped.div_ceil(MOST).max(1);
    for p in p.iter().filter(|p| p.dropped).step_by(thin) {
        svg.add(cross([x.place(p.t_s - t0), y.place(p.measured_deg)]).s("data-part", "dropped"));
        let off = (p.measured_deg - p.fitted_deg).clamp(-limit, limit);
        svg.add(cross([x.place(p.t_s - t0), r.place(off)]).s("data-part", "dropped-residual"));
    }
    for (k, (sign, words)) in rows.iter().enumerate() {
        let at = [LEFT + 10.0, top + 20.0 * k as f64 + 8.0];
        let dash = |w: f64| Path::new().to([at[0] - w, at[1]]).line([at[0] + w, at[1]]);
        svg.add(match sign {
            Sign::Measured => dot_line(el("path").d(dash(0.0))),
            Sign::Fitted => curve_line(el("path").d(dash(10.0))),
            Sign::Dropped => cross(at),
        });
        svg.text(text("start").n("x", at[0] + 18.0).n("y", at[1] + 4.8), words);
    }
    svg.finish()
}

enum Sign {
    Measured,
    Fitted,
    Dropped,
}

fn legend_rows(points: usize, dropped: usize, step: usize, off_scale: bool) -> Vec<(Sign, String)> {
    let shown = if step > 1 { format!(", one of {step} shown") } else { String::new() };
    let mut rows = vec![(Sign::Measured, format!("measured, {points} points{shown}")), (Sign::Fitted, "fitted".to_owned())];
    if dropped > 0 {
        rows.push((Sign::Dropped, format!("{dropped} dropped{}", if off_scale { " (off the scale: at its edge)" } else { "" })));
    }
    rows
}

fn text(anchor: &str) -> El {
    el("text").n("font-size", TEXT).s("fill", INK).s("text-anchor", anchor)
}

fn dot_line(e: El) -> El {
    e.paint("none", WEIGHT, 3.6).s("stroke-linecap", "round").n("stroke-opacity", 0.6)
}

fn curve_line(e: El) -> El {
    e.paint("none", INK, 1.2)
}

fn cross(at: [f64; 2]) -> El {
    let s = 4.5;
    let path = Path::new().to([at[0] - s, at[1] - s]).line([at[0] + s, at[1] + s]).to([at[0] - s, at[1] + s]).line([at[0] + s, at[1] - s]);
    el("path").d(path).paint("none", TARGET, 2.2)
}

fn thinned(curve: &[[f64; 2]], most: usize) -> impl Iterator<Item = &[f64; 2]> {
    curve.iter().step_by(curve.len().div_ceil(most).max(1))
}

fn range(values: impl Iterator<Item = f64>) -> (f64, f64) {
    let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
    if high > low { (low, high) } else { (low - 1.0, high + 1.0) }
}

fn frame(svg: &mut Svg, x: Axis, y: Axis, sides: [f64; 2], name: &str, count: f64) {
    svg.add(el("rect").n("x", LEFT).n("y", sides[0]).n("width", PLOT).n("height", sides[1] - sides[0]).paint(PAPER, MUTED, 1.0));
    let mut grid = Path::new();
    for (v, _) in x.ticks(6.0) {
        grid = grid.to([x.place(v), sides[0]]).line([x.place(v), sides[1]]);
    }
    for (v, label) in y.ticks(count) {
        grid = grid.to([LEFT, y.place(v)]).line([LEFT + PLOT, y.place(v)]);
        svg.text(text("end").n("x", LEFT - 5.0).n("y", y.place(v) + 4.8), &label);
    }
    svg.add(el("path").d(grid).paint("none", MUTED, 0.5).n("stroke-opacity", 0.6));
    let middle = f64::midpoint(sides[0], sides[1]);
    let turn = format!("rotate(-90 13 {})", crate::svg::number(middle));
    svg.text(text("middle").n("x", 13.0).n("y", middle).s("transform", &turn), &format!("{name} ({})", y.unit("°")));
}

fn check(plot: &LogPlot) -> Result<(), Fault> {
    check_prefix(&plot.id_prefix)?;
    if plot.points.len() < 2 {
        return Err(Fault::new("points", plot.points.len(), "at least 2 samples", "a curve needs two points"));
    }
    let why = "no log of a stand is so long or turns so far";
    for (i, p) in plot.points.iter().enumerate() {
        p.t_s.within(&format!("points[{i}].t_s"), -1e10, 1e10, "s", why)?;
        p.measured_deg.within(&format!("points[{i}].measured_deg"), -1e7, 1e7, "degrees", why)?;
        p.fitted_deg.within(&format!("points[{i}].fitted_deg"), -1e7, 1e7, "degrees", why)?;
        if i > 0 && p.t_s < plot.points[i - 1].t_s {
            return Err(Fault::new(
                format!("points[{i}].t_s"),
                p.t_s,
                format!("at least {} s", plot.points[i - 1].t_s),
                "time runs backwards",
            ));
        }
    }
    for (i, c) in plot.curve.iter().enumerate() {
        c[0].within(&format!("curve[{i}][0]"), -1e10, 1e10, "s", why)?;
        c[1].within(&format!("curve[{i}][1]"), -1e7, 1e7, "degrees", why)?;
    }
    Ok(())
}
