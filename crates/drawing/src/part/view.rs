//! A view under way: geometry in the part's mm, and what shall be written beside it.

use super::entity::{Entity, Extent, LineKind, Point};
use super::symbols::Piece;
use super::text::{Written, written};
use stillwheel_physics::Fault;
use stillwheel_physics::making::parts::{Feature, Measure, Part};

/// From where a view is taken, relative to the front view.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum From {
    Front,
    Above,
    Below,
    Right,
    /// A cut that stands under the front view and says so.
    Apart,
}

/// On which side of a view something stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Side {
    Top,
    Bottom,
    Left,
    Right,
}

/// A dimension of a view: along the axis of its side, from `a` to `b`; extension lines start at `from`.
#[derive(Clone, Debug)]
pub(super) struct Dim {
    pub(super) id: String,
    pub(super) side: Side,
    pub(super) span: [f64; 2],
    pub(super) from: [f64; 2],
    pub(super) text: Written,
}

/// Pieces at the end of a leader.
#[derive(Clone, Debug)]
pub(super) struct Callout {
    pub(super) target: Point,
    pub(super) side: Side,
    pub(super) pieces: Vec<Piece>,
}

/// A letter beside a hole.
#[derive(Clone, Debug)]
pub(super) struct Tag {
    pub(super) at: Point,
    pub(super) radius: f64,
    pub(super) text: String,
}

/// A view.
#[derive(Clone, Debug)]
pub(super) struct View {
    pub(super) from: From,
    pub(super) label: Option<&'static str>,
    pub(super) entities: Vec<Entity>,
    /// Closed loops of cut faces; a loop inside another is left free.
    pub(super) cut: Vec<Vec<Vec<Point>>>,
    pub(super) dims: Vec<Dim>,
    pub(super) callouts: Vec<Callout>,
    pub(super) tags: Vec<Tag>,
    /// Dimensions of the part that the view shows in its callouts.
    pub(super) told: Vec<String>,
    /// Whether the datum corner is marked, and where.
    pub(super) datum_corner: Option<Point>,
}

impl View {
    pub(super) fn new(from: From) -> Self {
        Self {
            from,
            label: None,
            entities: Vec::new(),
            cut: Vec::new(),
            dims: Vec::new(),
            callouts: Vec::new(),
            tags: Vec::new(),
            told: Vec::new(),
            datum_corner: None,
        }
    }

    pub(super) fn labelled(mut self, label: &'static str) -> Self {
        self.label = Some(label);
        self
    }

    pub(super) fn line(&mut self, kind: LineKind, a: Point, b: Point) {
        self.entities.push(Entity::line(a, b, kind));
    }

    /// Joined lines.
    pub(super) fn path(&mut self, kind: LineKind, points: &[Point]) {
        for w in points.windows(2) {
            self.line(kind, w[0], w[1]);
        }
    }

    /// A closed outline.
    pub(super) fn closed(&mut self, kind: LineKind, points: &[Point]) {
        self.path(kind, points);
        if let (Some(first), Some(last)) = (points.first(), points.last()) {
            self.line(kind, *last, *first);
        }
    }

    pub(super) fn rectangle(&mut self, kind: LineKind, low: Point, high: Point) {
        self.closed(kind, &[low, [high[0], low[1]], high, [low[0], high[1]]]);
    }

    pub(super) fn circle(&mut self, kind: LineKind, centre: Point, diameter: f64) {
        self.entities.push(Entity::Circle { centre, radius: diameter / 2.0, kind });
    }

    /// A centre cross; on paper it stands out a little, as every axis does.
    pub(super) fn cross(&mut self, centre: Point, diameter: f64) {
        let r = 0.5 * diameter;
        self.line(LineKind::Axis, [centre[0] - r, centre[1]], [centre[0] + r, centre[1]]);
        self.line(LineKind::Axis, [centre[0], centre[1] - r], [centre[0], centre[1] + r]);
    }

    /// A tapped hole seen on its axis: the drill as an edge, the thread's root as three quarters of a narrow circle (ISO 6410-1).
    pub(super) fn tapped(&mut self, centre: Point, drill: f64, major: f64) {
        self.circle(LineKind::Outline, centre, drill);
        self.entities.push(Entity::Arc { centre, radius: major / 2.0, from_deg: 0.0, to_deg: 270.0, kind: LineKind::Dimension });
        self.cross(centre, major);
    }

    pub(super) fn tag(&mut self, at: Point, diameter: f64, text: String) {
        self.tags.push(Tag { at, radius: diameter / 2.0, text });
    }

    /// A dimension of the part between two places along the axis of a side.
    pub(super) fn dim(&mut self, part: &Part, feature: &str, name: &str, side: Side, span: [f64; 2], from: f64) -> Result<(), Fault> {
        let d = part.feature(feature).and_then(|f| f.dimension(name)).ok_or_else(|| missing(part, feature, name))?;
        self.dims.push(Dim { id: format!("{feature}.{name}"), side, span, from: [from; 2], text: written(d) });
        Ok(())
    }

    /// A length of the part, placed by its own coordinates.
    pub(super) fn length(&mut self, part: &Part, feature: &str, name: &str, side: Side, from: f64) -> Result<(), Fault> {
        let d = part.feature(feature).and_then(|f| f.dimension(name)).ok_or_else(|| missing(part, feature, name))?;
        let Measure::Length { from_mm, to_mm, .. } = d.measure else { return Err(missing(part, feature, name)) };
        self.dim(part, feature, name, side, [from_mm, to_mm], from)
    }

    /// What is asked of a feature besides its size: texture, geometric tolerances, datum letter; `says` stands first, and `told`
    /// names the dimensions in it.
    pub(super) fn callout(
        &mut self,
        part: &Part,
        feature: &str,
        side: Side,
        target: Point,
        says: Vec<String>,
        told: &[&str],
    ) -> Result<(), Fault> {
        let f = part.feature(feature).ok_or_else(|| missing(part, feature, ""))?;
        let mut pieces: Vec<Piece> = says.into_iter().map(Piece::Text).collect();
        pieces.extend(asked(f));
        self.told.extend(told.iter().map(|name| format!("{feature}.{name}")));
        self.callouts.push(Callout { target, side, pieces });
        Ok(())
    }

    /// The box of the geometry, part's mm.
    pub(super) fn extent(&self) -> Extent {
        let drawn = self.entities.iter().filter(|e| !matches!(e, Entity::Line { kind: LineKind::Axis, .. }));
        drawn.fold(Extent::NOTHING, |e, x| e.join(x.extent()))
    }
}

fn asked(f: &Feature) -> Vec<Piece> {
    let mut pieces = Vec::new();
    if let Some(ra) = f.ra_um {
        pieces.push(Piece::Texture(ra));
    }
    for c in &f.controls {
        pieces.push(Piece::Frame(c.clone()));
    }
    if let Some(letter) = f.datum {
        pieces.push(Piece::Datum(letter));
    }
    pieces
}

fn missing(part: &Part, feature: &str, name: &str) -> Fault {
    Fault::new("drawing", format!("{}: {feature}.{name}", part.key), "a dimension of the part", "the drawing asks for what the part lacks")
}

/// Zone of a geometric tolerance as its frame writes it.
pub(super) fn zone(zone_mm: f64, cylindrical: bool) -> String {
    format!("{}{}", if cylindrical { "Ø" } else { "" }, crate::scale::short(zone_mm, 4))
}
