//! Tables on a drawing: holes from the datum corner, sizes of holes, the list of parts.

use super::entity::{Anchor, Entity, LineKind, Point};
use super::text::{SMALL, in_line, size, width_mm};
use stillwheel_physics::making::parts::{Feature, Hole, Part};

/// A table: heads and rows of text.
pub(super) struct Table {
    pub(super) heads: Vec<&'static str>,
    pub(super) rows: Vec<Vec<String>>,
}

const ROW: f64 = 4.6;
const PAD: f64 = 1.2;

impl Table {
    fn columns(&self) -> Vec<f64> {
        (0..self.heads.len())
            .map(|k| {
                let cells = self.rows.iter().map(|r| width_mm(&r[k], SMALL));
                cells.fold(width_mm(self.heads[k], SMALL), f64::max) + 2.0 * PAD
            })
            .collect()
    }

    pub(super) fn width_mm(&self) -> f64 {
        self.columns().iter().sum()
    }

    pub(super) fn height_mm(&self) -> f64 {
        (self.rows.len() as f64 + 1.0) * ROW
    }

    /// Draw it with its upper left corner at `at`.
    pub(super) fn draw(&self, at: Point, out: &mut Vec<Entity>) {
        let columns = self.columns();
        let (width, height) = (self.width_mm(), self.height_mm());
        for k in 0..=self.rows.len() + 1 {
            let y = at[1] - ROW * k as f64;
            out.push(Entity::line([at[0], y], [at[0] + width, y], LineKind::Frame));
        }
        let mut x = at[0];
        for (k, column) in columns.iter().enumerate() {
            out.push(Entity::line([x, at[1]], [x, at[1] - height], LineKind::Frame));
            let cells = std::iter::once(self.heads[k]).chain(self.rows.iter().map(|r| r[k].as_str()));
            for (row, cell) in cells.enumerate() {
                out.push(Entity::text([x + PAD, at[1] - ROW * (row as f64 + 1.0) + 1.2], SMALL, Anchor::Start, cell));
            }
            x += column;
        }
        out.push(Entity::line([x, at[1]], [x, at[1] - height], LineKind::Frame));
    }
}

/// Text cut to a width, with an ellipsis where it was cut.
pub(super) fn fitted(text: &str, width: f64, height: f64) -> String {
    if width_mm(text, height) <= width {
        return text.to_owned();
    }
    let mut cut: Vec<char> = text.chars().collect();
    while !cut.is_empty() && width_mm(&cut.iter().collect::<String>(), height) + width_mm("...", height) > width {
        cut.pop();
    }
    format!("{}...", cut.into_iter().collect::<String>().trim_end())
}

/// Label of a hole: its letter, and its number where there are several.
pub(super) fn label(h: &Hole, k: usize) -> String {
    if h.places.len() == 1 { h.tag.to_string() } else { format!("{}{}", h.tag, k + 1) }
}

fn holes(part: &Part) -> impl Iterator<Item = (&Feature, &Hole)> {
    part.features.iter().filter_map(|f| f.hole.as_ref().filter(|h| h.in_table).map(|h| (f, h)))
}

/// Tables of the holes of a part, and the dimensions that they show. Places stand in the order of drilling.
pub(super) fn hole_tables(part: &Part) -> (Vec<Table>, Vec<String>) {
    let mut told = Vec::new();
    let mut sizes = Vec::new();
    let mut places = Vec::new();
    for (f, h) in holes(part) {
        told.extend(f.dimensions.iter().map(|d| format!("{}.{}", f.id, d.name)));
        sizes.push(vec![h.tag.to_string(), h.face.word().to_owned(), says(f, h), place_tolerance(f)]);
        for (k, p) in h.places.iter().enumerate() {
            places.push(vec![label(h, k), size(p.from_corner_mm[0]), size(p.from_corner_mm[1])]);
        }
    }
    if sizes.is_empty() {
        return (Vec::new(), told);
    }
    let mut tables = vec![Table { heads: vec!["hole", "face", "size", "places"], rows: sizes }];
    // Six to a table, so that they stand side by side.
    for chunk in places.chunks(places.len().div_ceil(places.len().div_ceil(6))) {
        tables.push(Table { heads: vec!["hole", "x", "y"], rows: chunk.to_vec() });
    }
    (tables, told)
}

fn place_tolerance(f: &Feature) -> String {
    use stillwheel_physics::making::parts::Told;
    match f.dimension("x1").map(|d| (&d.limits.told, d.limits.upper_mm)) {
        Some((Told::Stated(_), half)) => format!("±{}", size(half)),
        _ => "ISO 2768-m".to_owned(),
    }
}

fn says(f: &Feature, h: &Hole) -> String {
    let mut words = match (&h.thread, f.dimension("diameter")) {
        (Some(t), _) => format!("{t}{}", if t.starts_with('M') { "-6H" } else { "" }),
        (None, Some(d)) => in_line(d),
        (None, None) => String::new(),
    };
    match f.dimension("depth") {
        Some(d) => words.push_str(&format!(" × {}", in_line(d))),
        None => words.push_str(" through"),
    }
    if h.thread.is_some() {
        words.push_str(&format!(", drill {}", size(h.drill_mm)));
        if !h.through {
            words.push_str(&format!(" × {}", size(h.depth_mm)));
        }
    }
    if let (Some(d), Some(t)) = (f.dimension("seat_diameter"), f.dimension("seat_depth")) {
        words.push_str(&format!(", seat {} × {}", in_line(d), in_line(t)));
    }
    words
}
