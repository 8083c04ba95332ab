//! The pressure over the unrolled saddle, as labelled steps.

use super::text;
use crate::axis::Axis;
use crate::colour::{INK, MUTED, PAPER, WEIGHT};
use crate::scale::{figure, short};
use crate::svg::{Path, Svg, el, number};
use crate::wheel::check_prefix;
use stillwheel_physics::numerics::outlines;
use stillwheel_physics::{Fault, Ranged};

/// What the map shows.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct PressureMap {
    /// What it is, in a few words, for screen readers.
    pub title: String,
    /// Put before every id: letters, digits, `-`, at most 40.
    pub id_prefix: String,
    /// Arc of the saddle, degrees (above 0, to 180); the grid spans it, straight down in the middle.
    pub arc_deg: f64,
    /// Length along the axis, mm (above 0, to 1000).
    pub length_mm: f64,
    /// Values along the arc, from the left edge to the right as the operator sees it (at least 3).
    pub columns: usize,
    /// Gauge pressure, bar (−1 to 1000): rows of `columns` values, evenly spaced from the operator's end to the far end.
    pub bar: Vec<f64>,
}

const LEFT: f64 = 60.0;
const WIDE: f64 = 324.0;
const TOP: f64 = 12.0;
const STEPS: usize = 6;

/// Draw the pressure.
///
/// # Errors
/// A [`Fault`] for a grid that is not one, or a number out of range.
pub fn pressure_map(map: &PressureMap) -> Result<String, Fault> {
    check(map)?;
    let rows = map.bar.len() / map.columns;
    // True shape for an arc of 20 mm radius and half a turn is about 2.6 : 1; bounded, so that any saddle can be read.
    let high = 190.0;
    let x = Axis::new(-map.arc_deg / 2.0, map.arc_deg / 2.0, LEFT, LEFT + WIDE);
    let z = Axis::new(-map.length_mm / 2.0, map.length_mm / 2.0, TOP + high, TOP);
    let most = map.bar.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let levels: Vec<f64> = if most > 0.0 { (1..=STEPS).map(|k| most * (k as f64 - 0.5) / STEPS as f64).collect() } else { vec![] };

    let legend = TOP + high + 46.0;
    let height = legend + 28.0;
    let root = el("svg").s("viewBox", &format!("0 0 400 {}", number(height))).s("data-picture", "pressure");
    let words = format!(
        "Gauge pressure over the unrolled saddle, {}° of arc by {} mm long; highest {} bar. Each step is {} bar.",
        short(map.arc_deg, 1),
        figure(map.length_mm),
        figure(most),
        figure(most / STEPS as f64)
    );
    let mut svg = Svg::start(root, &map.id_prefix, &map.title, &words);
    svg.add(el("rect").n("x", LEFT).n("y", TOP).n("width", WIDE).n("height", high).paint(PAPER, MUTED, 1.0));
    let place = |p: [f64; 2]| [LEFT + p[0] / (map.columns - 1) as f64 * WIDE, TOP + high - p[1] / (rows - 1) as f64 * high];
    for level in &levels {
        let mut path = Path::new();
        for outline in outlines(&map.bar, map.columns, *level) {
            for (k, p) in outline.iter().enumerate() {
                path = if k == 0 { path.to(place(*p)) } else { path.line(place(*p)) };
            }
            path = path.close();
        }
        // Each step lies on those below it and darkens them.
        let step = el("path").d(path).paint(WEIGHT, INK, 0.7).n("fill-opacity", 0.16).s("fill-rule", "evenodd");
        svg.add(step.s("data-part", "step"));
    }
    for (v, label) in x.ticks(6.0) {
        svg.text(text("middle", x.place(v), TOP + high + 16.0), &label);
    }
    for (v, label) in z.ticks(4.0) {
        svg.text(text("end", LEFT - 5.0, z.place(v) + 4.8), &label);
    }
    svg.text(text("middle", LEFT + WIDE / 2.0, TOP + high + 34.0), "from straight down, positive to the right (°)");
    let middle = TOP + high / 2.0;
    svg.text(text("middle", 13.0, middle).s("transform", &format!("rotate(-90 13 {})", number(middle))), "along the axis (mm)");
    let box_wide = 15.0;
    for k in 0..=STEPS {
        let bx = LEFT + box_wide * k as f64;
        svg.add(el("rect").n("x", bx).n("y", legend).n("width", box_wide).n("height", 12.0).paint(PAPER, MUTED, 0.7));
        let seen = 1.0 - 0.84f64.powi(k as i32);
        svg.add(
            el("rect").n("x", bx).n("y", legend).n("width", box_wide).n("height", 12.0).paint(WEIGHT, "none", 0.0).n("fill-opacity", seen),
        );
    }
    let after = LEFT + box_wide * (STEPS + 1) as f64 + 8.0;
    svg.text(text("start", after, legend + 11.0), &format!("{} bar a step, up to {} bar", figure(most / STEPS as f64), figure(most)));
    svg.finish()
}

fn check(map: &PressureMap) -> Result<(), Fault> {
    check_prefix(&map.id_prefix)?;
    map.arc_deg.within("arc_deg", 1.0, 180.0, "degrees", "a half-round saddle")?;
    map.length_mm.within("length_mm", 0.1, 1000.0, "mm", "length of a saddle")?;
    if !(3..=500).contains(&map.columns)
        || !map.bar.len().is_multiple_of(map.columns)
        || !(3..=500).contains(&(map.bar.len() / map.columns))
    {
        return Err(Fault::new("bar", map.bar.len(), "3 to 500 rows of 3 to 500 values", "the map must be a full grid"));
    }
    for v in &map.bar {
        v.within("bar", -1.0, 1000.0, "bar", "gauge pressure in the film")?;
    }
    Ok(())
}
