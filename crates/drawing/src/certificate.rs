//! A certificate on one sheet: what was balanced, to what, how it was proven, and a line to sign.
//!
//! In: words and numbers with their units, and a picture of the wheel. Out: SVG in millimetres, the size of the page. Whatever comes in
//! ends on one page: text shrinks, then the list of looks and moves is cut and says so.

use crate::colour::{ALLOWANCE, INK, MUTED, PAPER, TARGET};
use crate::paper::{coloured_text, fitting, text, wrapped};
use crate::pdf::Page;
use crate::svg::{Path, Svg, el, number};
use stillwheel_physics::Fault;

/// Rows of what and value under a heading.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Facts {
    /// The heading.
    pub heading: String,
    /// What, value.
    pub rows: Vec<(String, String)>,
}

/// What the certificate says. Each text up to 2000 letters; what finds no room is cut with "…".
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Certificate {
    /// What was balanced.
    pub rotor: String,
    /// When.
    pub date: String,
    /// Number of the sitting.
    pub number: String,
    /// Whether it was proven.
    pub proven: bool,
    /// The result in a sentence.
    pub result: String,
    /// What must be seen before all, such as that it was practice only.
    pub notice: Option<String>,
    /// Left column: result, rotor, stand.
    pub facts: Vec<Facts>,
    /// The wheel, as [`crate::wheel()`] drew it.
    pub picture: String,
    /// Heads of the weights' table.
    pub weight_heads: [String; 4],
    /// Its rows.
    pub weights: Vec<[String; 4]>,
    /// Looks and moves in order.
    pub acts: Vec<String>,
    /// A remark; may be empty.
    pub remark: String,
    /// What the numbers mean and what they don't.
    pub small_print: String,
    /// Who balanced.
    pub operator: String,
}

const MARGIN: f64 = 15.0;
const PICTURE: f64 = 72.0;
const GAP: f64 = 6.0;
const SMALL: f64 = 2.5;
/// Room for the small print and the line to sign, from the bottom.
const FOOT: f64 = 38.0;
/// Sizes that are tried for the columns, the largest that fits is taken.
const SIZES: [f64; 5] = [3.3, 3.0, 2.7, 2.4, 2.1];
/// The list of looks and moves gets at least this much, mm.
const LIST: f64 = 34.0;

/// Draw the certificate.
///
/// # Errors
/// A [`Fault`] for a text too long or a picture that is no SVG of this crate.
pub fn certificate(c: &Certificate, page: Page) -> Result<String, Fault> {
    check(c)?;
    let [w, h] = page.size_mm();
    let root = el("svg")
        .s("width", &format!("{w}mm"))
        .s("height", &format!("{h}mm"))
        .s("viewBox", &format!("0 0 {w} {h}"))
        .s("data-picture", "certificate");
    let title = format!("Balance certificate of {}", c.rotor);
    let mut svg = Svg::start(root, "certificate-", &title, &format!("{} {}", c.date, c.result));
    svg.add(el("rect").n("x", 0.0).n("y", 0.0).n("width", w).n("height", h).paint(PAPER, "none", 0.0));
    let top = head(&mut svg, c, w);
    let bottom = h - FOOT;
    let column = [w - 2.0 * MARGIN - PICTURE - GAP, PICTURE];
    let right = MARGIN + column[0] + GAP;

    let left_end = facts(&mut svg, &c.facts, [MARGIN, top], column[0], bottom - LIST);
    svg.raw(&placed(&c.picture, [right, top - 2.0], PICTURE)?);
    let right_end = weights(&mut svg, c, [right, top + PICTURE + 4.0], bottom - LIST);
    acts(&mut svg, c, left_end.max(right_end) + 6.0, w, bottom);
    foot(&mut svg, c, [w, h]);
    svg.finish()
}

fn check(c: &Certificate) -> Result<(), Fault> {
    let rows = c.facts.iter().flat_map(|f| f.rows.iter().flat_map(|(a, b)| [a, b]).chain([&f.heading]));
    let texts = [&c.rotor, &c.date, &c.number, &c.result, &c.remark, &c.small_print, &c.operator];
    for said in texts.into_iter().chain(&c.notice).chain(rows).chain(c.weights.iter().flatten()).chain(&c.acts) {
        let count = said.chars().count();
        if count > 2000 {
            return Err(Fault::new("text", count, "up to 2000 letters each", "a certificate is one sheet"));
        }
    }
    Ok(())
}

/// The head; back comes where the columns begin.
fn head(svg: &mut Svg, c: &Certificate, w: f64) -> f64 {
    let wide = w - 2.0 * MARGIN;
    svg.text(text([MARGIN, 21.0], 7.0).s("font-weight", "bold"), "Balance certificate");
    let end = |at: f64| text([w - MARGIN, at], 3.0).s("text-anchor", "end");
    svg.text(end(17.5), &c.date);
    svg.text(end(22.0), &format!("No. {}", c.number));
    let mut y = 29.0;
    for line in cut(wrapped(&c.rotor, wide, 4.4), 2) {
        svg.text(text([MARGIN, y], 4.4), &line);
        y += 5.4;
    }
    let lines = cut(wrapped(&c.result, wide - 8.0, 4.2), 2);
    let high = 4.0 + 5.4 * lines.len() as f64;
    let ink = if c.proven { ALLOWANCE } else { TARGET };
    svg.add(el("rect").n("x", MARGIN).n("y", y - 2.0).n("width", wide).n("height", high).n("rx", 1.5).paint("none", ink, 0.6));
    for (k, line) in lines.iter().enumerate() {
        svg.text(text([MARGIN + 4.0, y + 4.1 + 5.4 * k as f64], 4.2).s("font-weight", "bold"), line);
    }
    y += high + 3.0;
    if let Some(notice) = &c.notice {
        for line in cut(wrapped(notice, wide, 3.6), 2) {
            svg.text(text([MARGIN, y + 1.0], 3.6).s("font-weight", "bold"), &line);
            y += 4.6;
        }
    }
    y + 3.0
}

/// The first `most` lines; the last of them says when there were more.
fn cut(mut lines: Vec<String>, most: usize) -> Vec<String> {
    if lines.len() > most {
        lines.truncate(most);
        if let Some(last) = lines.last_mut() {
            last.pop();
            last.push('…');
        }
    }
    lines
}

fn facts(svg: &mut Svg, all: &[Facts], at: [f64; 2], width: f64, bottom: f64) -> f64 {
    let label = width * 0.35;
    let value = width - label - 2.0;
    let high = |size: f64| -> f64 {
        let row = |(a, b): &(String, String)| wrapped(a, label, size).len().max(wrapped(b, value, size).len()) as f64;
        all.iter().map(|f| 2.4 + f.rows.iter().map(row).sum::<f64>()).sum::<f64>() * 1.34 * size
    };
    let size = SIZES.into_iter().find(|size| at[1] + high(*size) <= bottom).unwrap_or(SIZES[SIZES.len() - 1]);
    let line = 1.34 * size;
    let mut y = at[1] + size;
    for f in all {
        svg.text(text([at[0], y], 1.15 * size).s("font-weight", "bold"), &f.heading);
        y += 1.25 * line;
        for (what, said) in &f.rows {
            let (left, right) = (wrapped(what, label, size), wrapped(said, value, size));
            for k in 0..left.len().max(right.len()) {
                if y > bottom {
                    return y;
                }
                if let Some(l) = left.get(k) {
                    svg.text(coloured_text([at[0], y], size, MUTED), l);
                }
                if let Some(r) = right.get(k) {
                    svg.text(text([at[0] + label + 2.0, y], size), r);
                }
                y += line;
            }
        }
        y += 1.15 * line;
    }
    y
}

fn weights(svg: &mut Svg, c: &Certificate, at: [f64; 2], bottom: f64) -> f64 {
    let (size, line) = (2.7, 3.8);
    let room = ((bottom - at[1]) / line - 1.5).max(1.0) as usize;
    let shown = if c.weights.len() > room { room.saturating_sub(1) } else { c.weights.len() };
    let ends = [0.0, 38.0, 55.0, PICTURE];
    let mut y = at[1] + size;
    let mut row = |svg: &mut Svg, cells: &[String; 4], ink: &str| {
        for (k, cell) in cells.iter().enumerate() {
            let x = at[0] + ends[k];
            let room = if k == 0 { 21.0 } else { 16.5 };
            let cell_text = coloured_text([x, y], fitting(cell, room, size), ink).s("text-anchor", if k == 0 { "start" } else { "end" });
            svg.text(cell_text, cell);
        }
        y += line;
    };
    row(svg, &c.weight_heads, MUTED);
    for cells in &c.weights[..shown] {
        row(svg, cells, INK);
    }
    if shown < c.weights.len() {
        let more = format!("and {} more", c.weights.len() - shown);
        row(svg, &[more, String::new(), String::new(), String::new()], INK);
    }
    y
}

fn acts(svg: &mut Svg, c: &Certificate, top: f64, w: f64, bottom: f64) {
    svg.text(text([MARGIN, top], 3.6).s("font-weight", "bold"), "Looks and moves");
    let remark = if c.remark.is_empty() { Vec::new() } else { cut(wrapped(&format!("Remark: {}", c.remark), w - 2.0 * MARGIN, SMALL), 4) };
    let (line, bottom) = (1.36 * SMALL, bottom - 1.36 * SMALL * (remark.len() as f64 + 0.5));
    let half = (w - 2.0 * MARGIN - GAP) / 2.0;
    let rows = ((bottom - top - 3.0) / line).max(1.0) as usize;
    let lines = listed(&c.acts, half, 2 * rows);
    for (k, said) in lines.iter().enumerate() {
        let x = MARGIN + if k >= rows { half + GAP } else { 0.0 };
        svg.text(text([x, top + 4.4 + line * (k % rows) as f64], SMALL), said);
    }
    let below = top + 4.4 + line * (lines.len().min(rows) as f64 + 0.5);
    for (k, said) in remark.iter().enumerate() {
        svg.text(text([MARGIN, below + line * k as f64], SMALL), said);
    }
}

/// The acts numbered, in at most so many lines; where they find no room, the first and the last are told and what lies between counted.
fn listed(acts: &[String], width: f64, most: usize) -> Vec<String> {
    if acts.is_empty() {
        return vec!["None.".to_owned()];
    }
    let entry = |i: usize| -> Vec<String> {
        let hanging = wrapped(&acts[i], width - 5.0, SMALL);
        hanging.into_iter().enumerate().map(|(k, l)| if k == 0 { format!("{}. {l}", i + 1) } else { format!("    {l}") }).collect()
    };
    let all: Vec<Vec<String>> = (0..acts.len()).map(entry).collect();
    let count: usize = all.iter().map(Vec::len).sum();
    if count <= most {
        return all.concat();
    }
    // The end proves the result: it gets two thirds of the room.
    let mut tail = Vec::new();
    let mut first_of_tail = acts.len();
    while first_of_tail > 0 && tail.len() + all[first_of_tail - 1].len() <= (most - 1) * 2 / 3 {
        first_of_tail -= 1;
        tail.splice(0..0, all[first_of_tail].clone());
    }
    let mut head = Vec::new();
    let mut told = 0;
    while told < first_of_tail && head.len() + all[told].len() + tail.len() < most {
        head.extend(all[told].clone());
        told += 1;
    }
    let missing = first_of_tail - told;
    if missing > 0 {
        head.push(format!("… {missing} more between, in the record of the sitting"));
    }
    head.into_iter().chain(tail).take(most).collect()
}

fn foot(svg: &mut Svg, c: &Certificate, [w, h]: [f64; 2]) {
    let mut y = h - FOOT + 5.0;
    svg.add(el("path").d(Path::new().to([MARGIN, y - 4.0]).line([w - MARGIN, y - 4.0])).paint("none", MUTED, 0.2));
    for line in cut(wrapped(&c.small_print, w - 2.0 * MARGIN, 2.2), 4) {
        svg.text(coloured_text([MARGIN, y], 2.2, MUTED), &line);
        y += 3.0;
    }
    let at = h - 15.0;
    let half = (w - 2.0 * MARGIN - 10.0) / 2.0;
    for (x, said) in [(MARGIN, "Balanced by"), (MARGIN + half + 10.0, "Date, signature")] {
        svg.add(el("path").s("data-part", "sign-here").d(Path::new().to([x, at]).line([x + half, at])).paint("none", INK, 0.3));
        svg.text(coloured_text([x, at + 4.0], 2.8, MUTED), said);
    }
    svg.text(text([MARGIN + 1.0, at - 1.5], fitting(&c.operator, half, 3.6)), &c.operator);
}

/// A picture of this crate inside another, `size` wide.
fn placed(picture: &str, at: [f64; 2], size: f64) -> Result<String, Fault> {
    let unknown = || Fault::new("picture", "this text", "an SVG of this crate", "the wheel is drawn by the program");
    let (head, rest) = picture.split_once('>').ok_or_else(unknown)?;
    let view =
        head.strip_prefix("<svg").and_then(|h| h.split("viewBox=\"").nth(1)).and_then(|v| v.split('"').next()).ok_or_else(unknown)?;
    let sides: Vec<f64> = view.split(' ').filter_map(|v| v.parse().ok()).collect();
    let [_, _, w, h] = sides[..] else { return Err(unknown()) };
    // As high as it is wide at most; a legend below makes it narrower.
    let scale = size / w.max(h);
    let (wide, high) = (scale * w, scale * h);
    let x = at[0] + (size - wide) / 2.0;
    let place = format!("x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"", number(x), number(at[1]), number(wide), number(high));
    Ok(format!("<svg xmlns=\"http://www.w3.org/2000/svg\" {place} viewBox=\"{view}\" font-family=\"DejaVu Sans\">{rest}"))
}
