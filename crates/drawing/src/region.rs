//! The residual's region in the plane of the rotor, against the allowance and the floor.
//!
//! In: outlines and circles in g·mm. Out: SVG, 400 units wide. x runs along the zero mark to the right, y a quarter turn
//! counter-clockwise from it upwards.

use crate::axis::{Axis, round_up};
use crate::colour::{ALLOWANCE, INK, MUTED, PAPER, REGION, TARGET};
use crate::scale::figure;
use crate::svg::{El, Path, Svg, el};
use crate::wheel::{check_outlines, check_prefix, check_size};
use stillwheel_physics::{Fault, Ranged};

/// What the plot shows; all sizes in g·mm, up to 1e9.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct RegionPlot {
    /// What it is, in a few words, for screen readers.
    pub title: String,
    /// Put before every id: letters, digits, `-`, at most 40.
    pub id_prefix: String,
    /// Closed outlines, [x, y] in g·mm, filled even-odd.
    pub outlines_g_mm: Vec<Vec<[f64; 2]>>,
    /// What the region holds, in words: "95 %".
    pub holds: String,
    /// The mean of the residual.
    pub mean_g_mm: Option<[f64; 2]>,
    /// The allowance, above 0.
    pub allowance_g_mm: Option<f64>,
    /// The smallest unbalance that the stand can show, above 0.
    pub floor_g_mm: Option<f64>,
}

const WIDTH: f64 = 400.0;
const LEFT: f64 = 62.0;
const TOP: f64 = 10.0;
const SIDE: f64 = 318.0;
const TEXT: f64 = 13.0;

/// Draw the region.
///
/// # Errors
/// A [`Fault`] for a number out of range, or if there is nothing to draw.
pub fn region(plot: &RegionPlot) -> Result<String, Fault> {
    check_prefix(&plot.id_prefix)?;
    check_outlines(&plot.outlines_g_mm)?;
    check_size("allowance_g_mm", plot.allowance_g_mm)?;
    check_size("floor_g_mm", plot.floor_g_mm)?;
    for v in plot.mean_g_mm.iter().flatten() {
        v.within("mean_g_mm", -1e9, 1e9, "g·mm", "no rotor on a stand has more")?;
    }
    let points = plot.outlines_g_mm.iter().flatten().chain(plot.mean_g_mm.iter());
    let reach = points.map(|v| v[0].abs().max(v[1].abs())).chain(plot.allowance_g_mm).chain(plot.floor_g_mm).fold(0.0, f64::max);
    if reach <= 0.0 {
        return Err(Fault::new("outlines_g_mm", "nothing", "a region, a mean, an allowance or a floor", "an empty plot says nothing"));
    }
    let limit = round_up(reach * 1.04);
    let x = Axis::new(-limit, limit, LEFT, LEFT + SIDE);
    let y = Axis::new(-limit, limit, TOP + SIDE, TOP);

    let rows = legend_rows(plot);
    let bottom = TOP + SIDE + 46.0;
    let height = bottom + rows.len() as f64 * 20.0 + 4.0;
    let root = el("svg").s("viewBox", &format!("0 0 {WIDTH} {}", crate::svg::number(height))).s("data-picture", "region");
    let mut svg = Svg::start(root, &plot.id_prefix, &plot.title, &words(plot, limit));
    let id = |name: &str| format!("{}{name}", plot.id_prefix);
    frame(&mut svg, x, y);

    let mut path = Path::new();
    for outline in plot.outlines_g_mm.iter().filter(|o| o.len() > 2) {
        for (k, v) in outline.iter().enumerate() {
            let at = [x.place(v[0]), y.place(v[1])];
            path = if k == 0 { path.to(at) } else { path.line(at) };
        }
        path = path.close();
    }
    svg.add(el("path").s("id", &id("region")).d(path).paint(REGION, REGION, 1.5).n("fill-opacity", 0.35).s("fill-rule", "evenodd"));
    let circle = |r: f64| {
        let c = [x.place(0.0), y.place(0.0)];
        el("circle").xy(["cx", "cy"], c).n("r", x.place(r) - c[0])
    };
    if let Some(a) = plot.allowance_g_mm {
        svg.add(allowance_line(circle(a)).s("id", &id("allowance")));
    }
    if let Some(f) = plot.floor_g_mm {
        svg.add(floor_line(circle(f)).s("id", &id("floor")));
    }
    if let Some(m) = plot.mean_g_mm {
        svg.add(mean_mark([x.place(m[0]), y.place(m[1])]).s("id", &id("mean")));
    }
    for (k, (sign, text)) in rows.iter().enumerate() {
        let at = [LEFT + 12.0, bottom + 20.0 * k as f64 + 6.0];
        svg.add(match sign {
            Sign::Region => el("rect")
                .n("x", at[0] - 10.0)
                .n("y", at[1] - 7.0)
                .n("width", 20.0)
                .n("height", 14.0)
                .paint(REGION, REGION, 1.2)
                .n("fill-opacity", 0.35),
            Sign::Mean => mean_mark(at),
            Sign::Allowance => allowance_line(el("circle").xy(["cx", "cy"], at).n("r", 7.5)),
            Sign::Floor => floor_line(el("circle").xy(["cx", "cy"], at).n("r", 7.5)),
        });
        svg.text(el("text").n("x", at[0] + 18.0).n("y", at[1] + 4.8).n("font-size", TEXT).s("fill", INK), text);
    }
    svg.finish()
}

enum Sign {
    Region,
    Mean,
    Allowance,
    Floor,
}

fn allowance_line(e: El) -> El {
    e.paint("none", ALLOWANCE, 2.0).s("stroke-dasharray", "7 4").s("data-part", "allowance")
}

fn floor_line(e: El) -> El {
    e.paint("none", TARGET, 1.8).s("stroke-dasharray", "2 3").s("data-part", "floor")
}

fn mean_mark(at: [f64; 2]) -> El {
    let r = 6.0;
    let path = Path::new().to([at[0] - r, at[1] - r]).line([at[0] + r, at[1] + r]).to([at[0] - r, at[1] + r]).line([at[0] + r, at[1] - r]);
    el("path").d(path).paint("none", INK, 2.2).s("data-part", "mean")
}

fn frame(svg: &mut Svg, x: Axis, y: Axis) {
    let text = || el("text").n("font-size", TEXT).s("fill", INK);
    svg.add(el("rect").n("x", LEFT).n("y", TOP).n("width", SIDE).n("height", SIDE).paint(PAPER, MUTED, 1.0));
    let ticks = x.ticks(5.0);
    let mut grid = Path::new();
    for (v, label) in &ticks {
        grid = grid.to([x.place(*v), TOP]).line([x.place(*v), TOP + SIDE]).to([LEFT, y.place(*v)]).line([LEFT + SIDE, y.place(*v)]);
        svg.text(text().n("x", x.place(*v)).n("y", TOP + SIDE + 16.0).s("text-anchor", "middle"), label);
        svg.text(text().n("x", LEFT - 5.0).n("y", y.place(*v) + 4.8).s("text-anchor", "end"), label);
    }
    svg.add(el("path").d(grid).paint("none", MUTED, 0.5).n("stroke-opacity", 0.6));
    let axes =
        Path::new().to([LEFT, y.place(0.0)]).line([LEFT + SIDE, y.place(0.0)]).to([x.place(0.0), TOP]).line([x.place(0.0), TOP + SIDE]);
    svg.add(el("path").d(axes).paint("none", INK, 1.0));
    let middle = [LEFT + SIDE / 2.0, TOP + SIDE / 2.0];
    svg.text(
        text().n("x", middle[0]).n("y", TOP + SIDE + 34.0).s("text-anchor", "middle"),
        &format!("x, along the zero mark ({})", x.unit("g·mm")),
    );
    let turn = format!("rotate(-90 13 {})", crate::svg::number(middle[1]));
    svg.text(
        text().n("x", 13.0).n("y", middle[1]).s("transform", &turn).s("text-anchor", "middle"),
        &format!("y, 90° counter-clockwise ({})", y.unit("g·mm")),
    );
}

fn legend_rows(p: &RegionPlot) -> Vec<(Sign, String)> {
    let mut rows = Vec::new();
    if !p.outlines_g_mm.is_empty() {
        rows.push((Sign::Region, format!("residual unbalance, {}", p.holds)));
    }
    if let Some(m) = p.mean_g_mm {
        rows.push((Sign::Mean, format!("mean, {} g·mm", figure(m[0].hypot(m[1])))));
    }
    if let Some(a) = p.allowance_g_mm {
        rows.push((Sign::Allowance, format!("allowance, {} g·mm", figure(a))));
    }
    if let Some(f) = p.floor_g_mm {
        rows.push((Sign::Floor, format!("floor of the stand, {} g·mm", figure(f))));
    }
    rows
}

fn words(p: &RegionPlot, limit: f64) -> String {
    let rows: Vec<String> = legend_rows(p).into_iter().map(|r| r.1).collect();
    format!(
        "Plane of the unbalance on the rotor, {} g·mm to either side; x along the zero mark, y 90° counter-clockwise from it. Shown: {}.",
        figure(limit),
        rows.join("; ")
    )
}
