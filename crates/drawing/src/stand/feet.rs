//! The base plate from above: three feet, where the weight stands, and which foot is to be turned which way.

use super::text;
use crate::colour::{ALLOWANCE, FLANGE, INK, MUTED, PAPER, TARGET, WEIGHT, WEIGHT_INK};
use crate::scale::{figure, short};
use crate::svg::{Path, Svg, el, number};
use crate::wheel::check_prefix;
use stillwheel_physics::{Fault, Ranged};

/// One foot.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FootMark {
    /// Where it stands on the plate, mm from the corner at the operator's left: to the right, and away from him.
    pub at_mm: [f64; 2],
    /// How far the plate shall rise there, mm (below 0: sink); `None`: not to be turned.
    pub rise_mm: Option<f64>,
    /// Turns of its screw, clockwise seen from above positive.
    pub clockwise_turns: Option<f64>,
}

/// What the plan shows; lengths in mm.
#[derive(Clone, Debug, PartialEq)]
pub struct FeetPlan {
    /// What it is, in a few words, for screen readers.
    pub title: String,
    /// Put before every id: letters, digits, `-`, at most 40.
    pub id_prefix: String,
    /// The plate: to the right and away from the operator (10 to 10,000 mm each).
    pub plate_mm: [f64; 2],
    /// Its three feet.
    pub feet: [FootMark; 3],
    /// Where the mass centre stands over the plate.
    pub mass_centre_mm: Option<[f64; 2]>,
}

const LEFT: f64 = 16.0;
const WIDE: f64 = 368.0;

fn turning(foot: &FootMark) -> String {
    let Some(turns) = foot.clockwise_turns else { return "leave it".to_owned() };
    if turns.abs() < 5e-3 {
        return "leave it".to_owned();
    }
    let rise = foot.rise_mm.map_or_else(String::new, |r| format!(", {} {} mm", if r > 0.0 { "rises" } else { "sinks" }, short(r.abs(), 3)));
    let amount = if turns.abs() < 1.0 { format!("{}°", short(turns.abs() * 360.0, 0)) } else { format!("{} turns", figure(turns.abs())) };
    format!("{amount} {}{rise}", if turns > 0.0 { "clockwise" } else { "counter-clockwise" })
}

/// Draw the plan.
///
/// # Errors
/// A [`Fault`] for a number out of range.
pub fn feet(plan: &FeetPlan) -> Result<String, Fault> {
    check(plan)?;
    let points = plan.feet.iter().map(|f| f.at_mm).chain(plan.mass_centre_mm).chain([[0.0, 0.0], plan.plate_mm]);
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for p in points {
        for k in 0..2 {
            low[k] = low[k].min(p[k]);
            high[k] = high[k].max(p[k]);
        }
    }
    // Room for a foot's circle at the rim.
    let scale = ((WIDE - 44.0) / (high[0] - low[0])).min(300.0 / (high[1] - low[1]));
    let tall = (high[1] - low[1]) * scale + 44.0;
    let across = LEFT + (WIDE - (high[0] - low[0]) * scale) / 2.0;
    let place = |p: [f64; 2]| [across + (p[0] - low[0]) * scale, 8.0 + 22.0 + (high[1] - p[1]) * scale];
    let foot_line = 8.0 + tall;
    let rows = 4 + usize::from(plan.mass_centre_mm.is_some());
    let height = foot_line + 24.0 + 21.0 * rows as f64;
    let root = el("svg").s("viewBox", &format!("0 0 400 {}", number(height))).s("data-picture", "feet");
    let says: Vec<String> = plan.feet.iter().enumerate().map(|(k, f)| format!("Foot {}: {}", k + 1, turning(f))).collect();
    let words = format!("The plate seen from above, the operator below the picture. {}.", says.join(". "));
    let mut svg = Svg::start(root, &plan.id_prefix, &plan.title, &words);
    let (a, b) = (place([0.0, plan.plate_mm[1]]), place([plan.plate_mm[0], 0.0]));
    svg.add(el("rect").xy(["x", "y"], a).n("width", b[0] - a[0]).n("height", b[1] - a[1]).n("rx", 4.0).paint(FLANGE, MUTED, 1.4));
    let corners = plan.feet.map(|f| place(f.at_mm));
    let triangle = Path::new().to(corners[0]).line(corners[1]).line(corners[2]).close();
    svg.add(
        el("path")
            .d(triangle)
            .paint(ALLOWANCE, ALLOWANCE, 1.4)
            .n("fill-opacity", 0.12)
            .s("stroke-dasharray", "7 4")
            .s("data-part", "support"),
    );
    for (k, (foot, c)) in plan.feet.iter().zip(corners).enumerate() {
        let turned = foot.clockwise_turns.is_some_and(|t| t.abs() >= 5e-3);
        svg.add(
            el("circle")
                .xy(["cx", "cy"], c)
                .n("r", 14.0)
                .paint(WEIGHT, if turned { TARGET } else { MUTED }, if turned { 3.0 } else { 1.0 })
                .s("data-part", "foot"),
        );
        svg.text(
            el("text")
                .n("font-size", 16.0)
                .s("font-weight", "bold")
                .s("fill", WEIGHT_INK)
                .s("text-anchor", "middle")
                .n("x", c[0])
                .n("y", c[1] + 5.8),
            &(k + 1).to_string(),
        );
        if let Some(turns) = foot.clockwise_turns.filter(|_| turned) {
            arrow(&mut svg, c, turns > 0.0);
        }
    }
    if let Some(m) = plan.mass_centre_mm {
        cross(&mut svg, place(m));
    }
    svg.text(text("middle", 200.0, foot_line + 8.0), "operator's side");
    let mut y = foot_line + 34.0;
    for line in &says {
        svg.text(text("start", LEFT, y), line);
        y += 21.0;
    }
    svg.add(
        el("path")
            .d(Path::new().to([LEFT, y - 5.0]).line([LEFT + 20.0, y - 5.0]))
            .paint("none", ALLOWANCE, 2.0)
            .s("stroke-dasharray", "7 4"),
    );
    svg.text(text("start", LEFT + 28.0, y), "the stand stands while its weight is inside");
    y += 21.0;
    if plan.mass_centre_mm.is_some() {
        cross(&mut svg, [LEFT + 10.0, y - 5.0]);
        svg.text(text("start", LEFT + 28.0, y), "mass centre of stand and wheel");
    }
    svg.finish()
}

/// Two thirds of a circle round a foot with a head where it ends.
fn arrow(svg: &mut Svg, c: [f64; 2], clockwise: bool) {
    let r = 20.0;
    let at = |deg: f64| {
        let a = deg.to_radians();
        [c[0] + r * a.cos(), c[1] + r * a.sin()]
    };
    // Screen angles grow clockwise.
    let (from, to) = if clockwise { (150.0, 390.0) } else { (30.0, -210.0) };
    let line = Path::new().to(at(from)).arc(r, true, !clockwise, at(to));
    svg.add(el("path").d(line).paint("none", TARGET, 3.0).s("data-part", if clockwise { "clockwise" } else { "counter-clockwise" }));
    let (tip, ahead) = (at(to), if clockwise { 1.0 } else { -1.0 });
    let a = f64::to_radians(to);
    let along = [-a.sin() * ahead, a.cos() * ahead];
    let out = [a.cos(), a.sin()];
    let point = |f: f64, o: f64| [tip[0] + f * along[0] + o * out[0], tip[1] + f * along[1] + o * out[1]];
    svg.add(el("path").d(Path::new().to(point(10.0, 0.0)).line(point(0.0, 5.5)).line(point(0.0, -5.5)).close()).paint(TARGET, PAPER, 0.6));
}

fn cross(svg: &mut Svg, c: [f64; 2]) {
    let path = Path::new().to([c[0] - 8.0, c[1]]).line([c[0] + 8.0, c[1]]).to([c[0], c[1] - 8.0]).line([c[0], c[1] + 8.0]);
    svg.add(el("path").d(path).paint("none", INK, 2.2).s("data-part", "mass-centre"));
    svg.add(el("circle").xy(["cx", "cy"], c).n("r", 5.0).paint("none", INK, 1.6));
}

fn check(plan: &FeetPlan) -> Result<(), Fault> {
    check_prefix(&plan.id_prefix)?;
    let why = "a stand for a bench";
    for v in plan.plate_mm {
        v.within("plate_mm", 10.0, 10_000.0, "mm", why)?;
    }
    for (k, f) in plan.feet.iter().enumerate() {
        for v in f.at_mm {
            v.within(&format!("feet[{k}].at_mm"), -10_000.0, 10_000.0, "mm", why)?;
        }
        for v in [f.rise_mm, f.clockwise_turns].into_iter().flatten() {
            v.within(&format!("feet[{k}].clockwise_turns"), -1000.0, 1000.0, "turns", "a foot has no longer thread")?;
        }
    }
    for v in plan.mass_centre_mm.iter().flatten() {
        v.within("mass_centre_mm", -10_000.0, 10_000.0, "mm", why)?;
    }
    Ok(())
}
