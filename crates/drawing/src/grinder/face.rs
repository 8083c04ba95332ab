//! The ground face from above: its strips, darker where it stands higher.

use crate::axis::Axis;
use crate::colour::{MUTED, PAPER, WEIGHT};
use crate::scale::{figure, short};
use crate::stand::text;
use crate::svg::{Path, Svg, el, number};
use crate::wheel::check_prefix;
use stillwheel_physics::{Fault, Ranged};

/// One strip across the face.
#[derive(Clone, Debug, PartialEq)]
pub struct FaceStrip {
    /// Where it begins across the face, mm.
    pub from_mm: f64,
    /// Where it ends, mm.
    pub to_mm: f64,
    /// Heights along it, evenly spaced, µm (each ±1e6; as many in every strip, 3 to 2000).
    pub heights_um: Vec<f64>,
}

/// What the picture shows.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct FacePicture {
    /// What it is, in a few words, for screen readers.
    pub title: String,
    /// Put before every id: letters, digits, `-`, at most 40.
    pub id_prefix: String,
    /// Distance of the heights along the travel, mm (above 0, to 100).
    pub spacing_mm: f64,
    /// The strips from one edge to the other (1 to 1000).
    pub strips: Vec<FaceStrip>,
}

const LEFT: f64 = 52.0;
const WIDE: f64 = 332.0;
const TOP: f64 = 10.0;
const STEPS: usize = 6;
/// How much of what shines through a step is left.
const STEP_OPACITY: f64 = 0.2;
/// More strips than this are finer than a line of the picture.
const MOST_STRIPS: usize = 130;

/// Draw the face.
///
/// # Errors
/// A [`Fault`] for no strips, strips of unlike length, or a number out of range.
pub fn ground_face(picture: &FacePicture) -> Result<String, Fault> {
    check(picture)?;
    let points = picture.strips[0].heights_um.len();
    let length = picture.spacing_mm * (points - 1) as f64;
    let width = picture.strips.last().map_or(1.0, |s| s.to_mm);
    let all = || picture.strips.iter().flat_map(|s| s.heights_um.iter().copied());
    let (low, high) = all().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
    // True shape where it can be read, else as wide or as narrow as can be.
    let tall = (WIDE * width / length).clamp(70.0, 260.0);
    let x = Axis::new(0.0, length, LEFT, LEFT + WIDE);
    let y = Axis::new(0.0, width, TOP + tall, TOP);
    let legend = TOP + tall + 48.0;
    let root = el("svg").s("viewBox", &format!("0 0 400 {}", number(legend + 30.0))).s("data-picture", "face");
    let words = format!(
        "The ground face from above, {} by {} mm, in {} strips; darker is higher. From its lowest to its highest place it is {} µm high.",
        figure(length),
        figure(width),
        picture.strips.len(),
        figure(high - low)
    );
    let mut svg = Svg::start(root, &picture.id_prefix, &picture.title, &words);
    svg.add(el("rect").n("x", LEFT).n("y", TOP).n("width", WIDE).n("height", tall).paint(PAPER, MUTED, 1.0));
    if high - low > 1e-9 {
        let skip = picture.strips.len().div_ceil(MOST_STRIPS);
        for k in 1..=STEPS {
            let level = low + (high - low) * (k as f64 - 0.5) / STEPS as f64;
            let mut path = Path::new();
            for group in picture.strips.chunks(skip) {
                let strip = &group[group.len() / 2];
                let (top, foot) = (y.place(group[group.len() - 1].to_mm), y.place(group[0].from_mm));
                for [a, b] in above(&strip.heights_um, level) {
                    let place = |i: f64| x.place(i * picture.spacing_mm);
                    path = path.to([place(a), top]).line([place(b), top]).line([place(b), foot]).line([place(a), foot]).close();
                }
            }
            svg.add(el("path").d(path).paint(WEIGHT, "none", 0.0).n("fill-opacity", STEP_OPACITY).s("data-part", "step"));
        }
    }
    for (v, label) in x.ticks(6.0) {
        svg.text(text("middle", x.place(v), TOP + tall + 16.0), &label);
    }
    for (v, label) in y.ticks(4.0) {
        svg.text(text("end", LEFT - 5.0, y.place(v) + 4.8), &label);
    }
    svg.text(text("middle", LEFT + WIDE / 2.0, TOP + tall + 34.0), "along the table’s travel (mm)");
    let middle = TOP + tall / 2.0;
    let turn = format!("rotate(-90 13 {})", number(middle));
    svg.text(text("middle", 13.0, middle).s("transform", &turn), "across (mm)");
    key(&mut svg, legend, (high - low) / STEPS as f64, high - low);
    svg.finish()
}

fn key(svg: &mut Svg, at: f64, step: f64, whole: f64) {
    let box_wide = 15.0;
    for k in 0..=STEPS {
        let bx = LEFT + box_wide * k as f64;
        let cell = || el("rect").n("x", bx).n("y", at).n("width", box_wide).n("height", 12.0);
        svg.add(cell().paint(PAPER, MUTED, 0.7));
        svg.add(cell().paint(WEIGHT, "none", 0.0).n("fill-opacity", 1.0 - (1.0 - STEP_OPACITY).powi(k as i32)));
    }
    let after = LEFT + box_wide * (STEPS + 1) as f64 + 8.0;
    svg.text(text("start", after, at + 11.0), &format!("{} µm a step, {} µm in all", short(step, 4), figure(whole)));
}

/// Where the heights lie above a level: from and to, in points, between them by the straight line.
fn above(heights: &[f64], level: f64) -> Vec<[f64; 2]> {
    let mut spans = Vec::new();
    let mut begun = (heights[0] >= level).then_some(0.0);
    for (i, pair) in heights.windows(2).enumerate() {
        let crossing = || i as f64 + (level - pair[0]) / (pair[1] - pair[0]);
        match (pair[0] >= level, pair[1] >= level) {
            (false, true) => begun = Some(crossing()),
            (true, false) => spans.extend(begun.take().map(|a| [a, crossing()])),
            _ => {}
        }
    }
    spans.extend(begun.map(|a| [a, (heights.len() - 1) as f64]));
    spans
}

fn check(picture: &FacePicture) -> Result<(), Fault> {
    check_prefix(&picture.id_prefix)?;
    picture.spacing_mm.within("spacing_mm", 1e-6, 100.0, "mm", "distance of the heights")?;
    if !(1..=1000).contains(&picture.strips.len()) {
        return Err(Fault::new("strips", picture.strips.len(), "1 to 1000 strips", "a face has at least one"));
    }
    let points = picture.strips[0].heights_um.len();
    let mut edge = 0.0;
    for (i, s) in picture.strips.iter().enumerate() {
        if s.heights_um.len() != points || !(3..=2000).contains(&points) {
            return Err(Fault::new(
                format!("strips[{i}].heights_um"),
                s.heights_um.len(),
                "3 to 2000, as many in every strip",
                "the face must be a full grid",
            ));
        }
        for v in &s.heights_um {
            v.within(&format!("strips[{i}].heights_um"), -1e6, 1e6, "µm", "height of a ground face")?;
        }
        s.from_mm.within(&format!("strips[{i}].from_mm"), edge - 1e-6, 1e4, "mm", "strips follow one another")?;
        s.to_mm.within(&format!("strips[{i}].to_mm"), s.from_mm, 1e4, "mm", "a strip ends behind where it begins")?;
        edge = s.to_mm;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::above;

    #[test]
    fn spans_above_a_level_end_where_the_straight_line_crosses_it() {
        // By hand: 0 → 2 crosses 1 half way, 2 → 0 half way back; the last point stands above.
        assert_eq!(above(&[0.0, 2.0, 0.0, 4.0], 1.0), [[0.5, 1.5], [2.25, 3.0]]);
        assert_eq!(above(&[1.0, 1.0], 1.0), [[0.0, 1.0]]);
        assert!(above(&[0.0, 0.5], 1.0).is_empty());
    }
}
