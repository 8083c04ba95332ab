//! What features of all parts are built from: lengths, blocks, holes, stock, and the volumes that make their mass.

use super::limits::{general, limits_of_class};
use super::model::{Axis, Blank, Dimension, Face, Feature, Hole, Limits, Measure, Place, Stock, Told};
use crate::Fault;
use crate::making::thread::{Port, Thread};
use std::f64::consts::FRAC_PI_4;

/// A length along an axis, with the general tolerance.
pub(super) fn length(name: &str, axis: Axis, from_mm: f64, to_mm: f64) -> Dimension {
    let nominal_mm = to_mm - from_mm;
    Dimension { name: name.to_owned(), measure: Measure::Length { axis, from_mm, to_mm }, nominal_mm, limits: general(nominal_mm.abs()) }
}

impl Dimension {
    /// Another measure than its length, with the general tolerance.
    pub(super) fn of(name: &str, measure: Measure, nominal_mm: f64) -> Self {
        Self { name: name.to_owned(), measure, nominal_mm, limits: general(nominal_mm) }
    }

    pub(super) fn diameter(name: &str, nominal_mm: f64) -> Self {
        Self::of(name, Measure::Diameter, nominal_mm)
    }

    pub(super) fn class(mut self, class: &'static str) -> Result<Self, Fault> {
        self.limits = limits_of_class(&self.name, self.nominal_mm, class)?;
        Ok(self)
    }

    pub(super) fn limits(mut self, limits: Limits) -> Self {
        self.limits = limits;
        self
    }

    pub(super) fn one_sided(self, upper_mm: f64, lower_mm: f64, why: &'static str) -> Self {
        self.limits(Limits { upper_mm, lower_mm, told: Told::Stated(why) })
    }
}

/// A block's middle, half sizes in plan, and where its lower face lies: places on its faces count from its datum corner, front left
/// below.
#[derive(Clone, Copy)]
pub(super) struct Block {
    pub(super) low: [f64; 3],
    pub(super) high: [f64; 3],
}

impl Block {
    pub(super) fn square(section: f64, from: f64, to: f64) -> Self {
        let h = section / 2.0;
        Self { low: [-h, -h, from], high: [h, h, to] }
    }

    /// A place given in the part's frame by the two coordinates that lie in the face.
    pub(super) fn place(self, face: Face, uv: [f64; 2]) -> Place {
        let (a, b, normal, at) = match face {
            Face::Top => (0, 1, 2, self.high[2]),
            Face::Bottom => (0, 1, 2, self.low[2]),
            Face::Front => (0, 2, 1, self.low[1]),
            Face::Back => (0, 2, 1, self.high[1]),
            Face::Left => (1, 2, 0, self.low[0]),
            Face::Right => (1, 2, 0, self.high[0]),
        };
        let mut at_mm = [0.0; 3];
        (at_mm[a], at_mm[b], at_mm[normal]) = (uv[0], uv[1], at);
        Place { from_corner_mm: [uv[0] - self.low[a], uv[1] - self.low[b]], at_mm }
    }
}

/// What a set of holes is, before it becomes a feature.
pub(super) struct Holes<'a> {
    pub(super) tag: char,
    pub(super) face: Face,
    /// A thread, or none for plain holes of `drill_mm`.
    pub(super) thread: Option<&'a str>,
    pub(super) drill_mm: f64,
    /// Depth of the full thread or of the plain hole; of a through hole what it goes through.
    pub(super) depth_mm: f64,
    pub(super) through: bool,
    pub(super) seat_mm: Option<[f64; 2]>,
    pub(super) at: &'a [[f64; 2]],
    /// What a place may be off, mm; none: the general tolerance.
    pub(super) place_tolerance: Option<(f64, &'static str)>,
}

/// The feature of a set of holes with all its dimensions.
pub(super) fn holes(id: &'static str, name: &'static str, block: Block, h: &Holes<'_>) -> Result<Feature, Fault> {
    let mut dimensions = Vec::new();
    let major = match h.thread {
        None => None,
        Some(g) if g.starts_with('G') => Some(Port::find("thread", g)?.d_mm),
        Some(m) => Some(Thread::find("thread", m)?.d_mm),
    };
    match major {
        Some(major) => dimensions.push(Dimension::of("thread", Measure::Thread, major).limits(Limits::reference())),
        None => dimensions.push(Dimension::diameter("diameter", h.drill_mm)),
    }
    if !h.through {
        dimensions.push(Dimension::of("depth", Measure::Depth, h.depth_mm));
    }
    if let Some([d, depth]) = h.seat_mm {
        dimensions.push(Dimension::diameter("seat_diameter", d));
        dimensions.push(Dimension::of("seat_depth", Measure::Depth, depth));
    }
    let places: Vec<Place> = h.at.iter().map(|uv| block.place(h.face, *uv)).collect();
    for (k, p) in places.iter().enumerate() {
        for (name, v) in ["x", "y"].iter().zip(p.from_corner_mm) {
            let mut c = Dimension::of(&format!("{name}{}", k + 1), Measure::Coordinate, v);
            if let Some((half, why)) = h.place_tolerance {
                c.limits = Limits::stated(half, why);
            }
            dimensions.push(c);
        }
    }
    let mut feature = Feature::new(id, name, dimensions);
    feature.hole = Some(Hole {
        tag: h.tag,
        face: h.face,
        drill_mm: h.drill_mm,
        thread: h.thread.map(str::to_owned),
        depth_mm: match h.thread {
            // To the tenth upwards; a drawing that asks for hundredths of a drill's depth is not believed.
            Some(m) if !h.through && m.starts_with('M') => (Thread::find("thread", m)?.drilled_depth_mm(h.depth_mm) * 10.0).ceil() / 10.0,
            _ => h.depth_mm,
        },
        through: h.through,
        seat_mm: h.seat_mm,
        places,
        in_table: true,
    });
    Ok(feature)
}

/// Volume of a cylinder, mm³.
pub(super) fn cylinder(diameter: f64, length: f64) -> f64 {
    FRAC_PI_4 * diameter * diameter * length
}

/// Volume that the holes of a part take, mm³; drill points and threads' crests are left out.
pub(super) fn drilled(features: &[Feature]) -> f64 {
    let one = |h: &Hole| {
        let seat = h.seat_mm.map_or(0.0, |[d, depth]| cylinder(d, depth) - cylinder(h.drill_mm, depth));
        (cylinder(h.drill_mm, h.depth_mm) + seat) * h.places.len() as f64
    };
    features.iter().filter_map(|f| f.hole.as_ref()).map(one).sum()
}

/// Mass, g, of a volume in mm³.
pub(super) fn grams(volume_mm3: f64, density_kg_m3: f64) -> f64 {
    volume_mm3 * density_kg_m3 * 1e-6
}

/// Sizes in which bar is sold, mm (common practice, no source).
const BAR: [f64; 40] = [
    2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 14.0, 15.0, 16.0, 18.0, 20.0, 22.0, 25.0, 28.0, 30.0, 32.0, 35.0, 40.0, 45.0, 50.0, 55.0,
    60.0, 65.0, 70.0, 75.0, 80.0, 85.0, 90.0, 95.0, 100.0, 110.0, 120.0, 130.0, 140.0, 150.0, 160.0, 180.0, 200.0,
];

/// The next size of bar that leaves at least `allowance` to machine.
pub(super) fn bar(finished: f64, allowance: f64) -> f64 {
    BAR.iter().copied().find(|b| *b >= finished + allowance).unwrap_or_else(|| ((finished + allowance) / 10.0).ceil() * 10.0)
}

/// Length to saw: the part and 2 mm on each end to face.
pub(super) fn sawn(finished: f64) -> f64 {
    (finished + 4.0).ceil()
}

impl Stock {
    pub(super) fn of(blank: Blank) -> Self {
        let says = match blank {
            Blank::Round([d, l]) => format!("round {d} × {l}"),
            Blank::Square([a, l]) => format!("square {a} × {l}"),
            Blank::Flat([w, t, l]) => format!("flat {w} × {t} × {l}"),
            Blank::Hexagon([a, l]) => format!("hexagon {a} × {l}"),
        };
        Self { blank, says }
    }
}

/// Rows from front to back, each from left to right: every place is approached from the same side, so that the play of the
/// table's screws does not show, and nothing is unclamped.
pub(super) fn in_drilling_order(places: &mut [[f64; 2]]) {
    places.sort_by(|a, b| a[1].total_cmp(&b[1]).then(a[0].total_cmp(&b[0])));
}
