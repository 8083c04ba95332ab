//! A rotor over its sittings: how large its own unbalance was, where it pointed, what was left, and how far the wheel was worn.
//!
//! In: one [`TimelinePoint`] a sitting, in order. Out: SVG, 400 units wide. Sittings stand at equal distances: what wears a wheel is work
//! and dressing, not days.

use crate::axis::{Axis, round_up};
use crate::colour::{ALLOWANCE, INK, MUTED, PAPER, REGION, TARGET, WEIGHT};
use crate::polar::{Frame, spread};
use crate::scale::figure;
use crate::svg::{El, Path, Svg, el, number};
use crate::wheel::check_prefix;
use stillwheel_physics::{Fault, Ranged};

/// One sitting.
#[derive(Clone, Debug, PartialEq)]
pub struct TimelinePoint {
    /// Unbalance without correction weights, [x, y] in g·mm (each −1e8 to 1e8).
    pub unbalance_g_mm: [f64; 2],
    /// Its covariance, (g·mm)² (variances 0 to 1e16).
    pub covariance_g2_mm2: [[f64; 2]; 2],
    /// 95 % bound of the residual that was left, g·mm (0 to 1e8).
    pub left_g_mm: f64,
    /// The allowance, g·mm (0 to 1e8).
    pub allowance_g_mm: f64,
    /// Diameter of the wheel, mm (1 to 1e4).
    pub diameter_mm: f64,
    /// Whether the residual was proven within the allowance.
    pub proven: bool,
    /// Whether a row of like changes begins here: another wheel, or another seat.
    pub begins: bool,
}

const LEFT: f64 = 66.0;
const WIDE: f64 = 316.0;
const FOUND: [f64; 2] = [12.0, 172.0];
const KEPT: [f64; 2] = [190.0, 290.0];
const WORN: [f64; 2] = [308.0, 368.0];
/// Of a normal distribution lies 95 % within this many standard deviations (any table).
const K95: f64 = 1.96;
/// More numbers than this find no place around the picture; of more sittings every second, third, ... is numbered.
const MOST_NUMBERS: usize = 40;
/// Of one in the plane, √(−2·ln 0.05).
const K95_PLANE: f64 = 2.4477;

/// Draw size, residual and diameter over the sittings.
///
/// # Errors
/// A [`Fault`] for no sitting, more than 500, or a number out of range.
pub fn timeline(points: &[TimelinePoint], id_prefix: &str, title: &str) -> Result<String, Fault> {
    check(points, id_prefix)?;
    let n = points.len();
    let x = Axis::new(0.5, n as f64 + 0.5, LEFT, LEFT + WIDE);
    let place = |i: usize| x.place(i as f64 + 1.0);
    let most = |values: &mut dyn Iterator<Item = f64>| round_up(values.fold(1e-6, f64::max) * 1.02);
    let size = |p: &TimelinePoint| p.unbalance_g_mm[0].hypot(p.unbalance_g_mm[1]);
    let found = Axis::new(0.0, most(&mut points.iter().map(|p| size(p) + K95 * along(p))), FOUND[1], FOUND[0]);
    let kept =
        Axis::new(0.0, most(&mut points.iter().map(|p| p.left_g_mm.min(4.0 * p.allowance_g_mm).max(p.allowance_g_mm))), KEPT[1], KEPT[0]);
    let (thin, thick) = points.iter().fold((f64::INFINITY, 0.0_f64), |(l, h), p| (l.min(p.diameter_mm), h.max(p.diameter_mm)));
    let slack = (0.15 * (thick - thin)).max(0.5);
    let worn = Axis::new(thin - slack, thick + slack, WORN[1], WORN[0]);

    let legend = [
        ("unbalance without weights, bar ± 95 %", Sign::Dot),
        ("residual left, 95 % sure below: proven", Sign::Square),
        ("the same, not proven (arrow: off the scale)", Sign::Cross),
        ("allowance", Sign::Dashes),
    ];
    let bottom = WORN[1] + 40.0;
    let height = bottom + 20.0 * legend.len() as f64 + 4.0;
    let root = el("svg").s("viewBox", &format!("0 0 400 {}", number(height))).s("data-picture", "timeline");
    let mut svg = Svg::start(root, id_prefix, title, &words(points));
    frame(&mut svg, found, FOUND, "without weights", "g·mm", 4.0);
    frame(&mut svg, kept, KEPT, "left", "g·mm", 3.0);
    frame(&mut svg, worn, WORN, "diameter", "mm", 2.0);
    let every = n.div_ceil(16);
    for i in (0..n).step_by(every) {
        svg.text(caption("middle", place(i), WORN[1] + 16.0), &(i + 1).to_string());
    }
    svg.text(caption("middle", LEFT + WIDE / 2.0, WORN[1] + 33.0), "sitting");

    let (mut line, mut bars, mut allowed, mut wear) = (Path::new(), Path::new(), Path::new(), Path::new());
    let half = (0.5 * WIDE / n as f64).min(20.0);
    for (i, p) in points.iter().enumerate() {
        let (at, u) = (place(i), size(p));
        line = if p.begins || i == 0 { line.to([at, found.place(u)]) } else { line.line([at, found.place(u)]) };
        bars = bars.to([at, found.place((u - K95 * along(p)).max(0.0))]).line([at, found.place(u + K95 * along(p))]);
        let y = kept.place(p.allowance_g_mm);
        allowed = allowed.to([at - half, y]).line([at + half, y]);
        let y = worn.place(p.diameter_mm);
        wear = if i == 0 { wear.to([at, y]) } else { wear.line([at, worn.place(points[i - 1].diameter_mm)]).line([at, y]) };
    }
    svg.add(el("path").d(wear).paint("none", INK, 1.6).s("data-part", "diameter"));
    svg.add(el("path").d(bars).paint("none", WEIGHT, 1.6));
    svg.add(el("path").d(line).paint("none", WEIGHT, 1.0).n("stroke-opacity", 0.7));
    svg.add(el("path").d(allowed).paint("none", ALLOWANCE, 2.0).s("stroke-dasharray", "5 3"));
    for (i, p) in points.iter().enumerate() {
        svg.add(el("circle").n("cx", place(i)).n("cy", found.place(size(p))).n("r", 3.4).paint(WEIGHT, PAPER, 0.8).s("data-part", "found"));
        svg.add(el("circle").n("cx", place(i)).n("cy", worn.place(p.diameter_mm)).n("r", 2.6).paint(INK, PAPER, 0.6));
        let (left, off) = (p.left_g_mm, p.left_g_mm > kept_top(points));
        let y = if off { KEPT[0] + 7.0 } else { kept.place(left) };
        svg.add(if p.proven { square([place(i), y]) } else { cross([place(i), y]) }.s("data-part", "left"));
        if off {
            let up = Path::new().to([place(i) - 3.5, KEPT[0] + 4.0]).line([place(i), KEPT[0]]).line([place(i) + 3.5, KEPT[0] + 4.0]);
            svg.add(el("path").d(up).paint("none", TARGET, 1.4));
        }
    }
    for (k, (name, sign)) in legend.into_iter().enumerate() {
        let at = [LEFT + 10.0, bottom + 20.0 * k as f64 + 8.0];
        let dash = Path::new().to([at[0] - 10.0, at[1]]).line([at[0] + 10.0, at[1]]);
        svg.add(match sign {
            Sign::Dot => el("circle").xy(["cx", "cy"], at).n("r", 3.4).paint(WEIGHT, PAPER, 0.8),
            Sign::Square => square(at),
            Sign::Cross => cross(at),
            Sign::Dashes => el("path").d(dash).paint("none", ALLOWANCE, 2.0).s("stroke-dasharray", "5 3"),
        });
        svg.text(caption("start", LEFT + 28.0, at[1] + 4.8), name);
    }
    svg.finish()
}

/// Top of the residuals' axis, as above: what was left far beyond the allowance shows as an arrow.
fn kept_top(points: &[TimelinePoint]) -> f64 {
    round_up(points.iter().map(|p| p.left_g_mm.min(4.0 * p.allowance_g_mm).max(p.allowance_g_mm)).fold(1e-6, f64::max) * 1.02)
}

enum Sign {
    Dot,
    Square,
    Cross,
    Dashes,
}

/// Draw the way of the unbalance vector over the rotor, sitting by sitting, each with its 95 % region.
///
/// # Errors
/// As [`timeline`].
pub fn wander(points: &[TimelinePoint], id_prefix: &str, title: &str) -> Result<String, Fault> {
    const MIDDLE: [f64; 2] = [200.0, 200.0];
    const RADIUS: f64 = 150.0;
    const NUMBERS: f64 = 169.0;
    check(points, id_prefix)?;
    let reach = |p: &TimelinePoint| p.unbalance_g_mm[0].hypot(p.unbalance_g_mm[1]) + K95_PLANE * axes(p)[0];
    let outer = round_up(points.iter().map(reach).fold(1e-6, f64::max));
    // The zero mark on top, angles counter-clockwise as the operator sees them: x of the rotor points up, y to the left.
    let unit = RADIUS / outer;
    let place = |[x, y]: [f64; 2]| [MIDDLE[0] - unit * y, MIDDLE[1] - unit * x];
    let root = el("svg").s("viewBox", "0 0 400 400").s("data-picture", "wander");
    let mut svg = Svg::start(root, id_prefix, title, &words(points));
    for (share, width) in [(1.0, 1.0), (0.5, 0.6)] {
        let circle = el("circle").xy(["cx", "cy"], MIDDLE).n("r", RADIUS * share);
        svg.add(if share == 1.0 { circle.paint(PAPER, MUTED, width) } else { circle.paint("none", MUTED, width) });
        svg.text(caption("middle", MIDDLE[0], MIDDLE[1] + RADIUS * share - 5.0), &format!("{} g·mm", figure(outer * share)));
    }
    let cross_hair = Path::new()
        .to([MIDDLE[0] - RADIUS, MIDDLE[1]])
        .line([MIDDLE[0] + RADIUS, MIDDLE[1]])
        .to([MIDDLE[0], MIDDLE[1] - RADIUS])
        .line([MIDDLE[0], MIDDLE[1] + RADIUS]);
    svg.add(el("path").d(cross_hair).paint("none", MUTED, 0.5));
    let top = MIDDLE[1] - RADIUS;
    let mark = Path::new().to([MIDDLE[0], top]).line([MIDDLE[0] - 6.0, top + 10.0]).line([MIDDLE[0] + 6.0, top + 10.0]).close();
    svg.add(el("path").d(mark).paint(INK, "none", 0.0));
    svg.text(caption("middle", MIDDLE[0], 14.0), "zero mark");
    for p in points {
        let at = place(p.unbalance_g_mm);
        let [long, short] = axes(p);
        // Direction of the long axis on the rotor, counter-clockwise from the zero mark; on the screen x is up and y to the left.
        let [[xx, xy], [_, yy]] = p.covariance_g2_mm2;
        let deg = 0.5 * (2.0 * xy).atan2(xx - yy).to_degrees();
        let turn = format!("rotate({} {} {})", number(-90.0 - deg), number(at[0]), number(at[1]));
        let ellipse = el("ellipse").xy(["cx", "cy"], at).n("rx", K95_PLANE * long * unit).n("ry", K95_PLANE * short * unit);
        svg.add(ellipse.s("transform", &turn).paint(REGION, REGION, 0.8).n("fill-opacity", 0.18).s("data-part", "region"));
    }
    let way = points.iter().enumerate().fold(Path::new(), |path, (i, p)| {
        if p.begins || i == 0 { path.to(place(p.unbalance_g_mm)) } else { path.line(place(p.unbalance_g_mm)) }
    });
    svg.add(el("path").d(way).paint("none", INK, 1.2).s("stroke-dasharray", "4 3"));
    // Numbers stand outside, on lines to their points: near zero the points lie close together.
    let frame = Frame { centre: MIDDLE, zero_deg: 180.0 };
    let every = points.len().div_ceil(MOST_NUMBERS);
    let shown: Vec<usize> = (0..points.len()).filter(|i| i % every == 0 || i + 1 == points.len()).collect();
    let deg = |i: usize| points[i].unbalance_g_mm[1].atan2(points[i].unbalance_g_mm[0]).to_degrees();
    let places = spread(&shown.iter().map(|i| deg(*i)).collect::<Vec<_>>(), (19.0 / NUMBERS).to_degrees());
    let lines = shown
        .iter()
        .zip(&places)
        .fold(Path::new(), |path, (i, at)| path.to(place(points[*i].unbalance_g_mm)).line(frame.point(NUMBERS - 9.0, *at)));
    svg.add(el("path").d(lines).paint("none", MUTED, 0.7));
    for p in points {
        let [x, y] = place(p.unbalance_g_mm);
        svg.add(el("circle").n("cx", x).n("cy", y).n("r", 3.4).paint(WEIGHT, PAPER, 0.8).s("data-part", "sitting"));
    }
    for (i, at) in shown.iter().zip(&places) {
        let [x, y] = frame.point(NUMBERS, *at);
        svg.add(el("circle").n("cx", x).n("cy", y).n("r", 9.0).paint(PAPER, INK, 1.0));
        let size = if *i >= 99 { 8.0 } else { 10.5 };
        let number = el("text").n("x", x).n("y", y + size * 0.36).n("font-size", size).s("fill", INK).s("text-anchor", "middle");
        svg.text(number, &(i + 1).to_string());
    }
    svg.finish()
}

/// Standard deviation along the vector, g·mm; of one of no size, the greatest there is.
fn along(p: &TimelinePoint) -> f64 {
    let [x, y] = p.unbalance_g_mm;
    let [[xx, xy], [_, yy]] = p.covariance_g2_mm2;
    let size2 = x * x + y * y;
    if size2 == 0.0 { axes(p)[0] } else { ((x * x * xx + 2.0 * x * y * xy + y * y * yy) / size2).max(0.0).sqrt() }
}

/// Standard deviations along the long and the short axis of the region, g·mm.
fn axes(p: &TimelinePoint) -> [f64; 2] {
    let [[xx, xy], [_, yy]] = p.covariance_g2_mm2;
    let (sum, difference) = (0.5 * (xx + yy), (0.5 * (xx - yy)).hypot(xy));
    [(sum + difference).max(0.0).sqrt(), (sum - difference).max(0.0).sqrt()]
}

fn square([x, y]: [f64; 2]) -> El {
    el("rect").n("x", x - 3.2).n("y", y - 3.2).n("width", 6.4).n("height", 6.4).paint(ALLOWANCE, PAPER, 0.8)
}

fn cross([x, y]: [f64; 2]) -> El {
    let s = 4.0;
    let path = Path::new().to([x - s, y - s]).line([x + s, y + s]).to([x - s, y + s]).line([x + s, y - s]);
    el("path").d(path).paint("none", TARGET, 2.2)
}

fn caption(anchor: &str, x: f64, y: f64) -> El {
    el("text").n("font-size", 13.0).s("fill", INK).s("text-anchor", anchor).n("x", x).n("y", y)
}

fn frame(svg: &mut Svg, y: Axis, sides: [f64; 2], name: &str, unit: &str, count: f64) {
    svg.add(el("rect").n("x", LEFT).n("y", sides[0]).n("width", WIDE).n("height", sides[1] - sides[0]).paint(PAPER, MUTED, 1.0));
    let mut grid = Path::new();
    for (v, label) in y.ticks(count) {
        grid = grid.to([LEFT, y.place(v)]).line([LEFT + WIDE, y.place(v)]);
        svg.text(caption("end", LEFT - 5.0, y.place(v) + 4.8), &label);
    }
    svg.add(el("path").d(grid).paint("none", MUTED, 0.5).n("stroke-opacity", 0.6));
    let middle = f64::midpoint(sides[0], sides[1]);
    let turn = format!("rotate(-90 13 {})", number(middle));
    let room = sides[1] - sides[0];
    let said = format!("{name} ({})", y.unit(unit));
    let size = (room / (0.62 * said.chars().count() as f64)).min(13.0);
    svg.text(
        el("text").n("font-size", size).s("fill", INK).s("text-anchor", "middle").n("x", 13.0).n("y", middle).s("transform", &turn),
        &said,
    );
}

fn words(points: &[TimelinePoint]) -> String {
    let say = |(i, p): (usize, &TimelinePoint)| {
        let [x, y] = p.unbalance_g_mm;
        let deg = y.atan2(x).to_degrees().rem_euclid(360.0).round() % 360.0;
        let proven = if p.proven { "proven" } else { "not proven" };
        format!(
            "{}: {} g·mm at {deg}° without weights, left below {} g·mm of {} g·mm allowed, {proven}, diameter {} mm",
            i + 1,
            figure(x.hypot(y)),
            figure(p.left_g_mm),
            figure(p.allowance_g_mm),
            figure(p.diameter_mm)
        )
    };
    format!("{} sittings. {}.", points.len(), points.iter().enumerate().map(say).collect::<Vec<_>>().join("; "))
}

fn check(points: &[TimelinePoint], id_prefix: &str) -> Result<(), Fault> {
    check_prefix(id_prefix)?;
    if !(1..=500).contains(&points.len()) {
        return Err(Fault::new("points", points.len(), "1 to 500 sittings", "more can't be told apart in one picture"));
    }
    let why = "no rotor on a stand has more";
    for (i, p) in points.iter().enumerate() {
        let at = |field: &str| format!("points[{i}].{field}");
        let [[xx, xy], [_, yy]] = p.covariance_g2_mm2;
        for v in p.unbalance_g_mm {
            v.within(&at("unbalance_g_mm"), -1e8, 1e8, "g·mm", why)?;
        }
        for v in [xx, yy] {
            v.within(&at("covariance_g2_mm2"), 0.0, 1e16, "(g·mm)²", "a variance is not negative")?;
        }
        xy.within(&at("covariance_g2_mm2"), -1e16, 1e16, "(g·mm)²", why)?;
        p.left_g_mm.within(&at("left_g_mm"), 0.0, 1e8, "g·mm", why)?;
        p.allowance_g_mm.within(&at("allowance_g_mm"), 0.0, 1e8, "g·mm", why)?;
        p.diameter_mm.within(&at("diameter_mm"), 1.0, 1e4, "mm", "no wheel is smaller or larger")?;
    }
    Ok(())
}
