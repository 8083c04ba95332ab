//! Tapped holes: what is in them, and what shall be. Numbers stand inside the ring.

use super::draw::{FRAME, GHOST_IN, GROOVE_IN, GROOVE_OUT, halo, upright};
use super::{PictureHole, WheelPicture};
use crate::colour::{FLANGE, INK, MUTED, PAPER, TARGET, WEIGHT, WEIGHT_INK};
use crate::svg::{Path, Svg, el};

/// Width of a character against its size, by the mean of the embedded font.
const CHARACTER: f64 = 0.6;

/// Whether some hole's screw is exchanged for another: its new mass then stands further in.
pub(super) fn any_swap(p: &WheelPicture) -> bool {
    p.holes.iter().any(|h| h.now.is_some() && matches!(h.then, Some(Some(_))))
}

/// Whether something changes here.
pub(super) fn changes(h: &PictureHole) -> bool {
    h.then.as_ref().is_some_and(|then| *then != h.now)
}

pub(super) fn draw(svg: &mut Svg, id: &impl Fn(&str) -> String, p: &WheelPicture) {
    let n = p.holes.len();
    if n == 0 {
        return;
    }
    let mid = f64::midpoint(GROOVE_OUT, GROOVE_IN);
    let room = std::f64::consts::TAU * mid / n as f64;
    let radius = (0.42 * room).clamp(3.0, 12.0);
    // Every hole has its number where there is room for two digits, else every second, fifth or tenth.
    let numbered = [1, 2, 5, 10].into_iter().find(|k| std::f64::consts::TAU * 101.0 / n as f64 * *k as f64 >= 22.0).unwrap_or(10);
    for (i, h) in p.holes.iter().enumerate() {
        let deg = h.at.deg();
        let at = FRAME.point(mid, deg);
        let circle = |r: f64| el("circle").xy(["cx", "cy"], at).n("r", r);
        let mark =
            el("g").s("id", &id(&format!("hole-{}", i + 1))).s("data-part", "hole").n("data-hole", (i + 1) as f64).n("data-at-deg", deg);
        svg.group(mark, |svg| {
            svg.add(if h.now.is_some() {
                circle(radius).paint(WEIGHT, PAPER, 1.0)
            } else {
                circle(0.75 * radius).paint(FLANGE, MUTED, 1.2)
            });
            if let Some(now) = &h.now {
                label(svg, p, at, radius, WEIGHT_INK, now);
            }
            if !changes(h) {
                return;
            }
            let target = circle(radius + 3.0).s("data-part", "target").paint("none", TARGET, 2.4).s("stroke-dasharray", "5 3");
            match &h.then {
                Some(Some(then)) if h.now.is_none() => {
                    svg.add(circle(radius + 2.0).paint(PAPER, "none", 0.0));
                    svg.add(target);
                    label(svg, p, at, radius + 2.0, TARGET, then);
                }
                Some(then) => {
                    let r = radius + 3.0;
                    let cross = Path::new()
                        .to([at[0] - r, at[1] - r])
                        .line([at[0] + r, at[1] + r])
                        .to([at[0] - r, at[1] + r])
                        .line([at[0] + r, at[1] - r]);
                    svg.add(el("path").s("data-part", "take-out").d(cross).paint("none", TARGET, 3.0));
                    if let Some(then) = then {
                        svg.add(target);
                        halo(svg, p.zero_mark, FRAME.point(GHOST_IN - 10.0, deg), TARGET, then);
                    }
                }
                None => {}
            }
        });
        if i % numbered == 0 || changes(h) || h.now.is_some() {
            let ink = if changes(h) { TARGET } else { INK };
            upright(svg, p.zero_mark, FRAME.point(f64::midpoint(GHOST_IN, GROOVE_IN) + 1.0, deg), 12.0, ink, &format!("{}", i + 1));
        }
    }
}

/// The screw's mass in its hole, as large as the hole bears; left out where it could not be read.
fn label(svg: &mut Svg, p: &WheelPicture, at: [f64; 2], radius: f64, ink: &str, text: &str) {
    let size = (1.9 * radius / (CHARACTER * text.chars().count() as f64)).min(13.0);
    if size >= 9.0 {
        upright(svg, p.zero_mark, at, size, ink, text);
    }
}
