//! Symbols drawn as lines: geometric tolerances (ISO 1101), datums (ISO 5459), texture (ISO 21920-1), projection (ISO 5456-2).
//!
//! Drawn rather than written, since neither every font nor any DXF reader has them.

use super::entity::{Anchor, Entity, Extent, LineKind, Point};
use super::text::{SMALL, width_mm};
use super::view::zone;
use stillwheel_physics::making::parts::{Characteristic, Control};

/// What stands at the end of a leader.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Piece {
    /// A line of text.
    Text(String),
    /// Roughness Ra, µm, material removed.
    Texture(f64),
    /// A geometric tolerance in its frame.
    Frame(Control),
    /// A datum letter in its box.
    Datum(char),
    /// The number of a part in the assembly.
    Balloon(usize),
}

/// Side of a box of a tolerance frame, mm: twice the lettering.
const BOX: f64 = 2.0 * SMALL;

impl Piece {
    pub(super) fn height_mm(&self) -> f64 {
        match self {
            Self::Text(_) => 4.4,
            Self::Texture(_) => 7.2,
            Self::Frame(_) => BOX,
            Self::Datum(_) => BOX + 2.5,
            Self::Balloon(_) => 8.0,
        }
    }

    pub(super) fn width_mm(&self) -> f64 {
        match self {
            Self::Text(t) => width_mm(t, SMALL),
            Self::Texture(ra) => 5.6 + width_mm(&texture(*ra), SMALL) + 1.0,
            Self::Frame(c) => BOX + zone_width(c) + BOX * c.datums.len() as f64,
            Self::Datum(_) => BOX,
            Self::Balloon(_) => 8.0,
        }
    }

    /// Where a leader meets it, above its lower edge.
    pub(super) fn middle_mm(&self) -> f64 {
        match self {
            Self::Datum(_) => BOX / 2.0,
            Self::Texture(_) => 0.0,
            other => other.height_mm() / 2.0,
        }
    }

    /// Draw it with its lower left corner at `at`.
    pub(super) fn draw(&self, at: Point, hangs: bool, out: &mut Vec<Entity>) {
        let [x, y] = at;
        match self {
            Self::Text(t) => out.push(Entity::text([x, y + 1.0], SMALL, Anchor::Start, t.clone())),
            Self::Texture(ra) => {
                let words = texture(*ra);
                // Legs at 60°; the bar across: material is removed. Source: ISO 21920-1, graphical symbols.
                let (foot, left, right) = ([x + 1.8, y], [x, y + 3.1], [x + 5.4, y + 6.2]);
                for (a, b) in [(left, foot), (foot, right), (left, [x + 3.6, y + 3.1])] {
                    out.push(Entity::line(a, b, LineKind::Symbol));
                }
                out.push(Entity::line(right, [right[0] + width_mm(&words, SMALL) + 0.6, right[1]], LineKind::Symbol));
                out.push(Entity::text([x + 5.6, y + 2.6], SMALL, Anchor::Start, words));
            }
            Self::Frame(c) => frame(c, at, out),
            Self::Datum(letter) => {
                boxed(at, BOX, out);
                out.push(Entity::text([x + BOX / 2.0, y + 1.25], SMALL, Anchor::Middle, letter.to_string()));
                if hangs {
                    let top = y + BOX + 2.5;
                    out.push(Entity::Arrow { corners: [[x + 1.0, top], [x + 4.0, top], [x + 2.5, top - 2.0]] });
                    out.push(Entity::line([x + 2.5, top - 2.0], [x + 2.5, y + BOX], LineKind::Symbol));
                }
            }
            Self::Balloon(n) => {
                out.push(Entity::Circle { centre: [x + 4.0, y + 4.0], radius: 4.0, kind: LineKind::Symbol });
                out.push(Entity::text([x + 4.0, y + 4.0 - SMALL / 2.0], SMALL, Anchor::Middle, n.to_string()));
            }
        }
    }
}

fn texture(ra: f64) -> String {
    format!("Ra {}", crate::scale::short(ra, 2))
}

fn zone_width(c: &Control) -> f64 {
    width_mm(&zone(c.zone_mm, c.cylindrical), SMALL) + 2.0
}

fn boxed(at: Point, width: f64, out: &mut Vec<Entity>) {
    let (low, high) = (at, [at[0] + width, at[1] + BOX]);
    for (a, b) in [(low, [high[0], low[1]]), ([high[0], low[1]], high), (high, [low[0], high[1]]), ([low[0], high[1]], low)] {
        out.push(Entity::line(a, b, LineKind::Symbol));
    }
}

fn frame(c: &Control, [x, y]: Point, out: &mut Vec<Entity>) {
    boxed([x, y], BOX, out);
    characteristic(c.characteristic, [x + BOX / 2.0, y + BOX / 2.0], out);
    let wide = zone_width(c);
    boxed([x + BOX, y], wide, out);
    out.push(Entity::text([x + BOX + wide / 2.0, y + 1.25], SMALL, Anchor::Middle, zone(c.zone_mm, c.cylindrical)));
    for (k, datum) in c.datums.iter().enumerate() {
        let left = x + BOX + wide + BOX * k as f64;
        boxed([left, y], BOX, out);
        out.push(Entity::text([left + BOX / 2.0, y + 1.25], SMALL, Anchor::Middle, datum.to_string()));
    }
}

/// The sign of a characteristic about a centre. Source: ISO 1101, table 1, as named in the Unicode code charts.
fn characteristic(which: Characteristic, [x, y]: Point, out: &mut Vec<Entity>) {
    let mut line = |a: Point, b: Point| out.push(Entity::line([x + a[0], y + a[1]], [x + b[0], y + b[1]], LineKind::Symbol));
    match which {
        Characteristic::Flatness => {
            let p = [[-1.9, -0.9], [1.1, -0.9], [1.9, 0.9], [-1.1, 0.9]];
            for k in 0..4 {
                line(p[k], p[(k + 1) % 4]);
            }
        }
        Characteristic::Cylindricity => {
            line([-1.9, -1.3], [-0.5, 1.3]);
            line([0.5, -1.3], [1.9, 1.3]);
        }
        Characteristic::Parallelism => {
            line([-1.3, -1.4], [0.3, 1.4]);
            line([-0.3, -1.4], [1.3, 1.4]);
        }
        Characteristic::Perpendicularity => {
            line([-1.6, -1.3], [1.6, -1.3]);
            line([0.0, -1.3], [0.0, 1.5]);
        }
        Characteristic::Position => {
            line([-1.8, 0.0], [1.8, 0.0]);
            line([0.0, -1.8], [0.0, 1.8]);
        }
        Characteristic::Symmetry => {
            line([-1.1, 0.9], [1.1, 0.9]);
            line([-1.8, 0.0], [1.8, 0.0]);
            line([-1.1, -0.9], [1.1, -0.9]);
        }
        Characteristic::RunOut => line([-1.2, -1.5], [1.0, 1.2]),
        Characteristic::TotalRunOut => {
            line([-1.8, -1.5], [0.4, -1.5]);
            line([-1.8, -1.5], [-0.2, 1.0]);
            line([0.4, -1.5], [1.4, 1.0]);
        }
        Characteristic::Roundness | Characteristic::Coaxiality => {}
    }
    let mut circle = |radius: f64| out.push(Entity::Circle { centre: [x, y], radius, kind: LineKind::Symbol });
    match which {
        Characteristic::Roundness => circle(1.4),
        Characteristic::Cylindricity => circle(0.9),
        Characteristic::Position => circle(1.1),
        Characteristic::Coaxiality => {
            circle(1.6);
            circle(0.8);
        }
        _ => {}
    }
    let mut head = |tip: Point, from: Point| out.push(arrow([x + tip[0], y + tip[1]], [tip[0] - from[0], tip[1] - from[1]], 1.4));
    match which {
        Characteristic::RunOut => head([1.2, 1.5], [-1.2, -1.5]),
        Characteristic::TotalRunOut => {
            head([0.2, 1.6], [-1.8, -1.5]);
            head([1.7, 1.6], [0.4, -1.5]);
        }
        _ => {}
    }
}

/// A filled arrow head of that length with its tip at a place, pointing along a direction.
pub(super) fn arrow(tip: Point, along: Point, length: f64) -> Entity {
    let norm = along[0].hypot(along[1]).max(1e-9);
    let u = [along[0] / norm, along[1] / norm];
    let back = [tip[0] - length * u[0], tip[1] - length * u[1]];
    let half = length / 6.0;
    Entity::Arrow { corners: [tip, [back[0] - half * u[1], back[1] + half * u[0]], [back[0] + half * u[1], back[1] - half * u[0]]] }
}

/// Which side views stand on. Source: ISO 5456-2.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Projection {
    /// The view from above stands below, that from the right stands at the left.
    #[default]
    FirstAngle,
    /// The view from above stands above, that from the right stands at the right.
    ThirdAngle,
}

impl Projection {
    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::FirstAngle => "first angle",
            Self::ThirdAngle => "third angle",
        }
    }

    /// Its symbol, 18 mm wide, about a centre: a cone lying with its small end to the left, and its view from the left, which stands at the
    /// right in first angle and at the left in third (ISO 5456-2).
    pub(super) fn draw(self, [x, y]: Point, out: &mut Vec<Entity>) {
        let (cone, end) = match self {
            Self::FirstAngle => (x - 4.5, x + 5.0),
            Self::ThirdAngle => (x + 4.5, x - 5.0),
        };
        let (small, large, half) = (1.5, 3.0, 4.0);
        let p = [[cone - half, y - small], [cone + half, y - large], [cone + half, y + large], [cone - half, y + small]];
        for k in 0..4 {
            out.push(Entity::line(p[k], p[(k + 1) % 4], LineKind::Outline));
        }
        for radius in [small, large] {
            out.push(Entity::Circle { centre: [end, y], radius, kind: LineKind::Outline });
        }
        for (a, b) in [([cone - half - 1.0, y], [cone + half + 1.0, y]), ([end - 4.0, y], [end + 4.0, y]), ([end, y - 4.0], [end, y + 4.0])]
        {
            out.push(Entity::line(a, b, LineKind::Axis));
        }
    }
}

/// The box of stacked pieces above a lower left corner.
pub(super) fn stack_extent(pieces: &[Piece], at: Point) -> Extent {
    let width = pieces.iter().map(Piece::width_mm).fold(0.0, f64::max);
    let height: f64 = pieces.iter().map(Piece::height_mm).sum();
    Extent { low: at, high: [at[0] + width, at[1] + height] }
}
