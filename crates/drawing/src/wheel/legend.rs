//! The signs of the wheel picture in words: below it for the eye, in `desc` for the ear.

use super::WheelPicture;
use super::draw::{self, LEFT, WIDTH};
use super::holes;
use crate::colour::{ALLOWANCE, GROOVE, INK, MUTED, PAPER, REGION, TARGET, WEIGHT, WEIGHT_INK};
use crate::scale::{figure, short};
use crate::svg::{Path, Svg, el};

/// One line of the legend.
pub(super) const LINE: f64 = 21.0;
const TEXT: f64 = 13.5;
/// Characters that fit beside one another in half a line, by the mean width of the embedded font (0.6 of its size).
const HALF_LINE: usize = 21;

#[derive(Clone, Copy, PartialEq)]
enum Sign {
    Weight,
    Target,
    Screw,
    PutIn,
    TakeOut,
    Forbidden,
    Heavy,
    Region,
    Allowance,
    Outer,
    Scale,
}

fn entries(p: &WheelPicture, outer: f64) -> Vec<(Sign, String)> {
    let mut list = vec![(Sign::Scale, p.scale.words())];
    let mut add = |when: bool, sign: Sign, text: String| {
        if when {
            list.push((sign, text));
        }
    };
    add(!p.weights.is_empty(), Sign::Weight, "weight now".to_owned());
    add(p.weights.iter().any(|w| draw::moves(w).is_some()), Sign::Target, "weight goes here".to_owned());
    let changed = || p.holes.iter().filter(|h| holes::changes(h));
    add(p.holes.iter().any(|h| h.now.is_some()), Sign::Screw, "screw in hole, g".to_owned());
    add(changed().any(|h| matches!(h.then, Some(Some(_)))), Sign::PutIn, "put in, g".to_owned());
    add(changed().any(|h| h.now.is_some()), Sign::TakeOut, "take out".to_owned());
    add(!p.forbidden.is_empty(), Sign::Forbidden, "no weight here".to_owned());
    add(p.heavy.is_some(), Sign::Heavy, "heavy side".to_owned());
    if let Some(u) = &p.unbalance {
        add(!u.outlines_g_mm.is_empty(), Sign::Region, format!("unbalance, {}", u.holds));
        add(true, Sign::Outer, format!("circle {} g·mm", figure(outer)));
        if let Some(a) = u.allowance_g_mm {
            add(true, Sign::Allowance, format!("allowed {} g·mm", figure(a)));
        }
    }
    list
}

/// Place the entries: long ones take a whole line.
fn placed(p: &WheelPicture, outer: f64) -> Vec<(Sign, String, usize, usize)> {
    let (mut line, mut column) = (0, 0);
    let mut out = Vec::new();
    for (sign, text) in entries(p, outer) {
        let whole = text.chars().count() > HALF_LINE;
        if whole && column == 1 {
            (line, column) = (line + 1, 0);
        }
        out.push((sign, text, line, column));
        if whole || column == 1 {
            (line, column) = (line + 1, 0);
        } else {
            column = 1;
        }
    }
    out
}

pub(super) fn height(p: &WheelPicture, outer: f64) -> f64 {
    placed(p, outer).last().map_or(0.0, |e| (e.2 + 1) as f64 * LINE)
}

pub(super) fn draw(svg: &mut Svg, p: &WheelPicture, outer: f64, top: f64) {
    svg.group(el("g").s("data-part", "legend").s("aria-hidden", "true"), |svg| {
        for (sign, text, line, column) in placed(p, outer) {
            let x = LEFT + 6.0 + column as f64 * (WIDTH / 2.0);
            let y = top + (line as f64 + 0.5) * LINE;
            swatch(svg, sign, x, y);
            svg.text(el("text").n("x", x + 28.0).n("y", y + 4.8).n("font-size", TEXT).s("fill", INK), &text);
        }
    });
}

fn swatch(svg: &mut Svg, sign: Sign, x: f64, y: f64) {
    let bar = || el("rect").n("x", x + 1.0).n("y", y - 7.0).n("width", 20.0).n("height", 14.0).n("rx", 2.0);
    let disc = || el("circle").n("cx", x + 11.0).n("cy", y).n("r", 7.5);
    let ring = || disc().s("fill", "none");
    match sign {
        Sign::Scale => {
            let mut ticks = Path::new();
            for k in 0..5 {
                let tx = x + 1.0 + 5.0 * f64::from(k);
                ticks = ticks.to([tx, y + 6.0]).line([tx, y + if k % 2 == 0 { -6.0 } else { 0.0 }]);
            }
            svg.add(el("path").d(ticks).paint("none", INK, 1.2));
        }
        Sign::Weight => {
            svg.add(bar().paint(WEIGHT, "none", 0.0));
            svg.text(digit(x + 11.0, y).s("fill", WEIGHT_INK), "1");
        }
        Sign::Target => {
            svg.add(bar().paint("none", TARGET, 1.8).s("stroke-dasharray", "4 2.5"));
            svg.text(digit(x + 11.0, y).s("fill", TARGET), "1");
        }
        Sign::Screw => svg.add(disc().paint(WEIGHT, "none", 0.0)),
        Sign::PutIn => svg.add(ring().s("stroke", TARGET).n("stroke-width", 2.0).s("stroke-dasharray", "4 2.5")),
        Sign::TakeOut => {
            let cross = Path::new().to([x + 4.0, y - 7.0]).line([x + 18.0, y + 7.0]).to([x + 4.0, y + 7.0]).line([x + 18.0, y - 7.0]);
            svg.add(el("path").d(cross).paint("none", TARGET, 2.6));
        }
        Sign::Forbidden => {
            svg.add(bar().paint(GROOVE, INK, 1.0));
            let mut lines = Path::new();
            for k in 0..4 {
                let lx = x + 1.0 + 5.0 * f64::from(k);
                lines = lines.to([lx, y + 7.0]).line([lx + 5.0, y - 7.0]);
            }
            svg.add(el("path").d(lines).paint("none", INK, 1.2));
        }
        Sign::Heavy => {
            svg.add(el("circle").n("cx", x + 11.0).n("cy", y).n("r", 9.0).paint(INK, "none", 0.0));
            svg.text(digit(x + 11.0, y).s("fill", PAPER), "H");
        }
        Sign::Region => svg.add(bar().paint(REGION, REGION, 1.2).n("fill-opacity", 0.38)),
        Sign::Allowance => svg.add(ring().s("stroke", ALLOWANCE).n("stroke-width", 2.0).s("stroke-dasharray", "5 3")),
        Sign::Outer => svg.add(ring().s("stroke", MUTED).n("stroke-width", 1.2).s("stroke-dasharray", "1.5 2.5")),
    }
}

fn digit(x: f64, y: f64) -> crate::svg::El {
    el("text").n("x", x).n("y", y + 4.6).n("font-size", 13.0).s("text-anchor", "middle")
}

/// The picture in words.
pub(super) fn words(p: &WheelPicture, outer: f64) -> String {
    let mut say = vec![format!(
        "The wheel seen from the operator's side, the zero mark {}. The ring is marked in {}.",
        place_in_room(p.zero_mark.deg()),
        p.scale.words()
    )];
    for (i, w) in p.weights.iter().enumerate() {
        let from = p.scale.show(w.at);
        say.push(match draw::moves(w) {
            Some(by) => format!(
                "Weight {} is at {from} and goes to {}, {}° {}.",
                i + 1,
                p.scale.show(w.at.turned(by)),
                short(by.deg().abs(), 1),
                if by.deg() > 0.0 { "counter-clockwise" } else { "clockwise" }
            ),
            None => format!("Weight {} is at {from}.", i + 1),
        });
    }
    for (i, h) in p.holes.iter().enumerate() {
        let number = i + 1;
        let then = h.then.as_ref().filter(|_| holes::changes(h));
        match (&h.now, then) {
            (None, None) => {}
            (Some(now), None) => say.push(format!("Hole {number} has a screw of {now} g.")),
            (None, Some(then)) => say.push(format!("Hole {number} is empty and gets a screw of {} g.", then.as_deref().unwrap_or("no"))),
            (Some(now), Some(None)) => say.push(format!("The screw of {now} g comes out of hole {number}.")),
            (Some(now), Some(Some(then))) => say.push(format!("Hole {number}: the screw of {now} g is exchanged for one of {then} g.")),
        }
    }
    if !p.holes.is_empty() && p.holes.iter().all(|h| h.now.is_none()) {
        say.push(format!("All {} holes are empty.", p.holes.len()));
    }
    for f in &p.forbidden {
        say.push(format!("No weight between {} and {}, counter-clockwise.", p.scale.show(f.from), p.scale.show(f.to)));
    }
    if let Some(h) = p.heavy {
        say.push(format!("The heavy side is at {}.", p.scale.show(h)));
    }
    if let Some(u) = &p.unbalance {
        say.push(if u.outlines_g_mm.is_empty() {
            "No region of the unbalance is drawn.".to_owned()
        } else {
            format!("The shade in the bore is the region of the unbalance ({}).", u.holds)
        });
        say.push(format!("The outer circle in the bore stands for {} g·mm.", figure(outer)));
        if let Some(a) = u.allowance_g_mm {
            say.push(format!("The dashed circle is the allowance, {} g·mm.", figure(a)));
        }
    }
    say.join(" ")
}

fn place_in_room(deg: f64) -> String {
    match deg.round() as i32 % 360 {
        0 => "at the bottom".to_owned(),
        90 => "at the right".to_owned(),
        180 => "at the top".to_owned(),
        270 => "at the left".to_owned(),
        d => format!("{d}° counter-clockwise from the bottom"),
    }
}
