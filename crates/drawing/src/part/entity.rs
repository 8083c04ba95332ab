//! What a drawing is made of: lines, circles, arcs, text and filled arrow heads, on paper, mm from the lower left corner, y up.
//!
//! Everything that a drawing shows comes down to these few, so that each writer (SVG, DXF) is a short list of cases.

/// Kinds of line. Source: ISO 128-2, 01.2, 02.1, 04.1, 01.1; widths 0.5 and 0.25 mm.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum LineKind {
    /// Visible edges: continuous, wide.
    Outline,
    /// Hidden edges: dashed, narrow.
    Hidden,
    /// Axes and centre lines: long dash, dot, narrow.
    Axis,
    /// Dimension and extension lines, leaders, thread roots: continuous, narrow.
    Dimension,
    /// Hatching of cut faces: continuous, narrow.
    Hatch,
    /// Symbols of tolerances and texture: continuous, narrow.
    Symbol,
    /// Frame, title block and tables.
    Frame,
}

impl LineKind {
    /// All kinds.
    pub const ALL: [Self; 7] = [Self::Outline, Self::Hidden, Self::Axis, Self::Dimension, Self::Hatch, Self::Symbol, Self::Frame];

    /// Name of its layer.
    pub const fn layer(self) -> &'static str {
        match self {
            Self::Outline => "OUTLINE",
            Self::Hidden => "HIDDEN",
            Self::Axis => "AXIS",
            Self::Dimension => "DIMENSION",
            Self::Hatch => "HATCH",
            Self::Symbol => "SYMBOL",
            Self::Frame => "FRAME",
        }
    }

    /// Width on paper, mm.
    pub(super) const fn width_mm(self) -> f64 {
        match self {
            Self::Outline => 0.5,
            Self::Frame => 0.35,
            _ => 0.25,
        }
    }

    /// Dashes on paper, mm: drawn, gap, …; empty: continuous. Source: ISO 128-2, lengths as multiples of the width.
    pub(super) const fn dashes_mm(self) -> &'static [f64] {
        match self {
            Self::Hidden => &[3.0, 0.75],
            Self::Axis => &[6.0, 0.75, 0.25, 0.75],
            _ => &[],
        }
    }
}

/// A place on paper, mm.
pub type Point = [f64; 2];

/// Where a text hangs at its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// Its start.
    Start,
    /// Its middle.
    Middle,
    /// Its end.
    End,
}

/// One piece of a drawing.
#[derive(Clone, Debug, PartialEq)]
pub enum Entity {
    /// A straight line.
    Line {
        /// From.
        a: Point,
        /// To.
        b: Point,
        /// Kind.
        kind: LineKind,
    },
    /// A circle.
    Circle {
        /// Centre.
        centre: Point,
        /// Radius, mm.
        radius: f64,
        /// Kind.
        kind: LineKind,
    },
    /// An arc, counter-clockwise.
    Arc {
        /// Centre.
        centre: Point,
        /// Radius, mm.
        radius: f64,
        /// Start, degrees from the right.
        from_deg: f64,
        /// End, degrees, above the start.
        to_deg: f64,
        /// Kind.
        kind: LineKind,
    },
    /// Text on its base line.
    Text {
        /// Place of the anchor.
        at: Point,
        /// Height of a capital, mm.
        height: f64,
        /// Where it hangs.
        anchor: Anchor,
        /// Reads upwards, turned by a quarter turn.
        upwards: bool,
        /// The words.
        text: String,
    },
    /// A filled triangle: arrow heads, datum feet.
    Arrow {
        /// Its corners.
        corners: [Point; 3],
    },
}

/// A box on paper.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Extent {
    /// Lower left corner, mm.
    pub low: Point,
    /// Upper right corner, mm.
    pub high: Point,
}

impl Extent {
    pub(super) const NOTHING: Self = Self { low: [f64::INFINITY; 2], high: [f64::NEG_INFINITY; 2] };

    pub(super) fn of(points: &[Point]) -> Self {
        points.iter().fold(Self::NOTHING, |e, p| e.with(*p))
    }

    pub(super) fn with(self, p: Point) -> Self {
        Self { low: [self.low[0].min(p[0]), self.low[1].min(p[1])], high: [self.high[0].max(p[0]), self.high[1].max(p[1])] }
    }

    pub(super) fn join(self, other: Self) -> Self {
        if other.low[0] > other.high[0] { self } else { self.with(other.low).with(other.high) }
    }

    pub(super) fn grown(self, by: f64) -> Self {
        Self { low: self.low.map(|v| v - by), high: self.high.map(|v| v + by) }
    }

    pub(super) fn moved(self, by: Point) -> Self {
        let shift = |p: Point| [p[0] + by[0], p[1] + by[1]];
        Self { low: shift(self.low), high: shift(self.high) }
    }

    /// Whether two boxes share more than an edge.
    pub fn meets(&self, other: &Self) -> bool {
        (0..2).all(|k| self.low[k] < other.high[k] - 1e-9 && other.low[k] < self.high[k] - 1e-9)
    }

    /// Whether a straight piece from `a` to `b` passes through the box. By clipping (Liang and Barsky, ACM TOG 3 (1984) 1).
    pub fn crossed_by(&self, a: Point, b: Point) -> bool {
        let (mut t0, mut t1) = (0.0, 1.0);
        for k in 0..2 {
            let d = b[k] - a[k];
            if d.abs() < 1e-12 {
                if a[k] <= self.low[k] || a[k] >= self.high[k] {
                    return false;
                }
                continue;
            }
            let (u, v) = ((self.low[k] - a[k]) / d, (self.high[k] - a[k]) / d);
            t0 = f64::max(t0, u.min(v));
            t1 = f64::min(t1, u.max(v));
        }
        t1 - t0 > 1e-9
    }
}

impl Entity {
    pub(super) fn line(a: Point, b: Point, kind: LineKind) -> Self {
        Self::Line { a, b, kind }
    }

    pub(super) fn text(at: Point, height: f64, anchor: Anchor, text: impl Into<String>) -> Self {
        Self::Text { at, height, anchor, upwards: false, text: text.into() }
    }

    /// The same, moved and scaled about the origin first.
    pub(super) fn placed(self, scale: f64, by: Point) -> Self {
        let go = |p: Point| [p[0] * scale + by[0], p[1] * scale + by[1]];
        match self {
            Self::Line { a, b, kind } => Self::Line { a: go(a), b: go(b), kind },
            Self::Circle { centre, radius, kind } => Self::Circle { centre: go(centre), radius: radius * scale, kind },
            Self::Arc { centre, radius, from_deg, to_deg, kind } => {
                Self::Arc { centre: go(centre), radius: radius * scale, from_deg, to_deg, kind }
            }
            Self::Text { at, height, anchor, upwards, text } => Self::Text { at: go(at), height: height * scale, anchor, upwards, text },
            Self::Arrow { corners } => Self::Arrow { corners: corners.map(go) },
        }
    }

    /// The box that it takes on paper.
    pub fn extent(&self) -> Extent {
        match self {
            Self::Line { a, b, .. } => Extent::of(&[*a, *b]),
            Self::Circle { centre, radius, .. } => Extent { low: centre.map(|v| v - radius), high: centre.map(|v| v + radius) },
            Self::Arc { centre, radius, from_deg, to_deg, .. } => {
                let at = |deg: f64| [centre[0] + radius * deg.to_radians().cos(), centre[1] + radius * deg.to_radians().sin()];
                let quarters = (-4..=8).map(|k| f64::from(k) * 90.0).filter(|q| q > from_deg && q < to_deg);
                quarters.fold(Extent::of(&[at(*from_deg), at(*to_deg)]), |e, q| e.with(at(q)))
            }
            Self::Text { at, height, anchor, upwards, text } => {
                let width = super::text::width_mm(text, *height);
                let before = match anchor {
                    Anchor::Start => 0.0,
                    Anchor::Middle => width / 2.0,
                    Anchor::End => width,
                };
                // Below the base line hang the tails of letters.
                let (down, up) = (0.3 * height, 1.05 * height);
                if *upwards {
                    Extent { low: [at[0] - up, at[1] - before], high: [at[0] + down, at[1] - before + width] }
                } else {
                    Extent { low: [at[0] - before, at[1] - down], high: [at[0] - before + width, at[1] + up] }
                }
            }
            Self::Arrow { corners } => Extent::of(corners),
        }
    }
}
