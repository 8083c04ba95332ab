//! What a search found: stiffness and floor over the air that they cost, one design a dot.

use super::text;
use crate::axis::Axis;
use crate::colour::{ALLOWANCE, INK, MUTED, PAPER, WEIGHT};
use crate::scale::figure;
use crate::svg::{El, Path, Svg, el, number};
use crate::wheel::check_prefix;
use stillwheel_physics::{Fault, Ranged};

/// One design.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TradeOffDesign {
    /// Free air, litres a minute (0 to 1e6).
    pub air_l_min: f64,
    /// Stiffness upwards, N/µm (0 to 1e6).
    pub stiffness_n_um: f64,
    /// Floor, g·mm (0 to 1e9).
    pub floor_g_mm: f64,
}

/// What the picture shows.
#[derive(Clone, Debug, PartialEq)]
pub struct TradeOff {
    /// What it is, in a few words, for screen readers.
    pub title: String,
    /// Put before every id: letters, digits, `-`, at most 40.
    pub id_prefix: String,
    /// The designs, numbered from 1 in this order (1 to 20,000 of them).
    pub designs: Vec<TradeOffDesign>,
    /// Place of the proposed one in `designs`.
    pub proposed: usize,
    /// What is demanded: most air, least stiffness, highest floor.
    pub demanded: TradeOffDesign,
}

const LEFT: f64 = 66.0;
const WIDE: f64 = 316.0;
const TOP: f64 = 12.0;
const HIGH: f64 = 150.0;
const BETWEEN: f64 = 16.0;
/// A demand this many times beyond the designs would squeeze them into a corner: it is told in words only.
const FAR: f64 = 1.6;

/// One of the two fields: what is read upwards, and its limit.
struct Panel<'a> {
    top: f64,
    name: &'a str,
    unit: &'a str,
    part: &'a str,
    of: fn(&TradeOffDesign) -> f64,
}

const PANELS: [Panel<'static>; 2] = [
    Panel { top: TOP, name: "stiffness", unit: "N/µm", part: "stiffness", of: |d| d.stiffness_n_um },
    Panel { top: TOP + HIGH + BETWEEN, name: "floor", unit: "g·mm", part: "floor", of: |d| d.floor_g_mm },
];

/// Draw a trade-off.
///
/// # Errors
/// A [`Fault`] for no design, a proposed one that is not among them, or a number out of range.
pub fn trade_off(plot: &TradeOff) -> Result<String, Fault> {
    check(plot)?;
    let bottom = PANELS[1].top + HIGH;
    let legend = bottom + 46.0;
    let height = legend + 20.0 * 4.0 + 4.0;
    let root = el("svg").s("viewBox", &format!("0 0 400 {}", number(height))).s("data-picture", "trade-off");
    let mut svg = Svg::start(root, &plot.id_prefix, &plot.title, &words(plot));
    let (x, air_shown) = axis(plot, |d| d.air_l_min, [LEFT, LEFT + WIDE]);
    for panel in &PANELS {
        draw(&mut svg, plot, panel, x, air_shown);
    }
    for (v, label) in x.ticks(5.0) {
        svg.text(text("middle", x.place(v), bottom + 16.0), &label);
    }
    svg.text(text("middle", LEFT + WIDE / 2.0, bottom + 34.0), &format!("air of both saddles ({})", x.unit("l/min")));

    let mut row = |k: f64, sign: El, words: &str| {
        svg.add(sign);
        svg.text(text("start", LEFT + 28.0, legend + 20.0 * k + 4.8), words);
    };
    let sign = |k: f64| [LEFT + 10.0, legend + 20.0 * k];
    let count = plot.designs.len();
    row(0.0, dot(sign(0.0), true), &format!("proposed: number {} of {count}", plot.proposed + 1));
    row(1.0, dot(sign(1.0), false), "another that none beats, by rising air");
    let dash = Path::new().to([LEFT, sign(2.0)[1]]).line([LEFT + 20.0, sign(2.0)[1]]);
    let asked = &plot.demanded;
    let first = format!("asked: ≤ {} l/min, ≥ {} N/µm", figure(asked.air_l_min), figure(asked.stiffness_n_um));
    row(2.0, limit(dash), &first);
    let second = format!("and a floor ≤ {} g·mm", figure(asked.floor_g_mm));
    svg.text(text("start", LEFT + 28.0, legend + 20.0 * 3.0 + 4.8), &second);
    svg.finish()
}

/// From zero to the largest, or to the demand where it is near; and whether it is.
fn axis(plot: &TradeOff, of: fn(&TradeOffDesign) -> f64, [start, end]: [f64; 2]) -> (Axis, bool) {
    let most = plot.designs.iter().map(of).fold(0.0, f64::max);
    let demanded = of(&plot.demanded);
    let near = demanded > 0.0 && demanded <= FAR * most;
    let top = if near { most.max(demanded) } else { most };
    (Axis::new(0.0, 1.06 * top, start, end), near)
}

fn draw(svg: &mut Svg, plot: &TradeOff, panel: &Panel<'_>, x: Axis, air_shown: bool) {
    let bottom = panel.top + HIGH;
    let (y, shown) = axis(plot, panel.of, [bottom, panel.top]);
    svg.add(el("rect").n("x", LEFT).n("y", panel.top).n("width", WIDE).n("height", HIGH).paint(PAPER, MUTED, 1.0));
    let mut grid = Path::new();
    for (v, _) in x.ticks(5.0) {
        grid = grid.to([x.place(v), panel.top]).line([x.place(v), bottom]);
    }
    for (v, label) in y.ticks(4.0) {
        grid = grid.to([LEFT, y.place(v)]).line([LEFT + WIDE, y.place(v)]);
        svg.text(text("end", LEFT - 5.0, y.place(v) + 4.8), &label);
    }
    svg.add(el("path").d(grid).paint("none", MUTED, 0.5).n("stroke-opacity", 0.6));
    let middle = panel.top + HIGH / 2.0;
    let turn = format!("rotate(-90 13 {})", number(middle));
    svg.text(text("middle", 13.0, middle).s("transform", &turn), &format!("{} ({})", panel.name, y.unit(panel.unit)));
    if air_shown {
        let at = x.place(plot.demanded.air_l_min);
        svg.add(limit(Path::new().to([at, panel.top]).line([at, bottom])).s("data-part", "most-air"));
    }
    if shown {
        let at = y.place((panel.of)(&plot.demanded));
        svg.add(limit(Path::new().to([LEFT, at]).line([LEFT + WIDE, at])).s("data-part", &format!("{}-asked", panel.part)));
    }
    let place = |d: &TradeOffDesign| [x.place(d.air_l_min), y.place((panel.of)(d))];
    for d in &plot.designs {
        svg.add(dot(place(d), false).s("data-part", &format!("{}-design", panel.part)));
    }
    svg.add(dot(place(&plot.designs[plot.proposed]), true).s("data-part", &format!("{}-proposed", panel.part)));
}

fn dot(at: [f64; 2], proposed: bool) -> El {
    let e = el("circle").xy(["cx", "cy"], at).n("r", if proposed { 6.0 } else { 4.0 });
    if proposed { e.paint(INK, PAPER, 1.2) } else { e.paint("none", WEIGHT, 1.8) }
}

fn limit(path: Path) -> El {
    el("path").d(path).paint("none", ALLOWANCE, 1.6).s("stroke-dasharray", "7 4")
}

fn words(plot: &TradeOff) -> String {
    let of = |d: &TradeOffDesign| {
        format!("{} l/min of free air, {} N/µm stiff, floor {} g·mm", figure(d.air_l_min), figure(d.stiffness_n_um), figure(d.floor_g_mm))
    };
    let ends = match plot.designs.as_slice() {
        [first, .., last] => format!(" The one with least air: {}. The one with most: {}.", of(first), of(last)),
        _ => String::new(),
    };
    format!(
        "{} designs that none beats, stiffness and floor against air. Proposed, number {}: {}.{ends} Asked for: at most {} l/min, at least {} \
         N/µm, at most {} g·mm.",
        plot.designs.len(),
        plot.proposed + 1,
        of(&plot.designs[plot.proposed]),
        figure(plot.demanded.air_l_min),
        figure(plot.demanded.stiffness_n_um),
        figure(plot.demanded.floor_g_mm),
    )
}

fn check(plot: &TradeOff) -> Result<(), Fault> {
    check_prefix(&plot.id_prefix)?;
    if !(1..=20_000).contains(&plot.designs.len()) {
        return Err(Fault::new("designs", plot.designs.len(), "1 to 20000 designs", "there is nothing to show"));
    }
    if plot.proposed >= plot.designs.len() {
        return Err(Fault::new("proposed", plot.proposed, format!("below {}", plot.designs.len()), "it is one of the designs"));
    }
    for d in plot.designs.iter().chain([&plot.demanded]) {
        d.air_l_min.within("air_l_min", 0.0, 1e6, "l/min", "beyond any stand")?;
        d.stiffness_n_um.within("stiffness_n_um", 0.0, 1e6, "N/µm", "beyond any stand")?;
        d.floor_g_mm.within("floor_g_mm", 0.0, 1e9, "g·mm", "beyond any stand")?;
    }
    Ok(())
}
