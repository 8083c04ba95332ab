//! Holes: on a pitch circle, off their place, and whether two of them meet inside the metal.
//!
//! In: circles, cylinders. Out: places in mm, walls in mm, or a fault where a wall is too thin.

use crate::{Fault, Ranged};
use nalgebra::Vector3;

/// Places of `count` holes on a pitch circle, counter-clockwise from `start_deg`, mm; x to the right, y up.
///
/// # Errors
/// A [`Fault`] for a count outside 1 to 360 or a circle outside 0.1 to 5000 mm.
pub fn on_circle(count: u32, circle_mm: f64, start_deg: f64) -> Result<Vec<[f64; 2]>, Fault> {
    f64::from(count).within("count", 1.0, 360.0, "", "holes on the circle")?;
    let r = 0.5 * circle_mm.within("circle_mm", 0.1, 5000.0, "mm", "diameter of the pitch circle")?;
    let start = start_deg.within("start_deg", -360.0, 360.0, "degrees", "where the first hole lies")?;
    Ok((0..count)
        .map(|i| {
            let (sin, cos) = (start + 360.0 * f64::from(i) / f64::from(count)).to_radians().sin_cos();
            [r * cos, r * sin]
        })
        .collect())
}

/// Straight distance between neighbours on a pitch circle, mm: D·sin(π/n).
pub fn chord_mm(count: u32, circle_mm: f64) -> f64 {
    circle_mm * (std::f64::consts::PI / f64::from(count)).sin()
}

/// Position deviation of a hole that was found off by these, as the diameter of its zone, mm: 2·√(dx² + dy²) (ISO 1101, ISO 5458).
pub fn position_deviation_mm(dx_mm: f64, dy_mm: f64) -> f64 {
    2.0 * dx_mm.hypot(dy_mm)
}

/// A drilled hole: a cylinder with flat ends (a drill's point belongs into its length).
#[derive(Clone, Debug, PartialEq)]
pub struct Drilled {
    /// What it is, for the fault.
    pub name: String,
    /// Where its axis begins, mm.
    pub from_mm: [f64; 3],
    /// Where it ends.
    pub to_mm: [f64; 3],
    /// Diameter, mm.
    pub diameter_mm: f64,
    /// Names of the holes that it is meant to open into.
    pub opens_into: Vec<String>,
}

impl Drilled {
    fn check(&self, field: &str) -> Result<(), Fault> {
        for (part, place) in [("from_mm", self.from_mm), ("to_mm", self.to_mm)] {
            for (k, v) in place.iter().enumerate() {
                v.within(&format!("{field}.{part}[{k}]"), -5000.0, 5000.0, "mm", "end of the hole's axis")?;
            }
        }
        self.diameter_mm.within(&format!("{field}.diameter_mm"), 0.1, 1000.0, "mm", "diameter of the hole")?;
        let length = (Vector3::from(self.to_mm) - Vector3::from(self.from_mm)).norm();
        length.within(&format!("{field}.to_mm"), 1e-3, 1e4, "mm of length", "a hole has a length")?;
        Ok(())
    }

    /// The point of the cylinder that is nearest to `p`.
    fn nearest(&self, p: Vector3<f64>) -> Vector3<f64> {
        let (a, b) = (Vector3::from(self.from_mm), Vector3::from(self.to_mm));
        let axis = b - a;
        let along = ((p - a).dot(&axis) / axis.norm_squared()).clamp(0.0, 1.0);
        let foot = a + axis * along;
        let aside = (p - a) - axis * ((p - a).dot(&axis) / axis.norm_squared());
        let (off, r) = (aside.norm(), 0.5 * self.diameter_mm);
        if off <= r { foot + aside } else { foot + aside * (r / off) }
    }
}

/// Metal between two holes, mm; 0 where they meet.
///
/// Nearest points by projecting to and fro between the two convex bodies (Cheney and Goldstein, 1959), which ends at the distance.
pub fn wall_between_mm(a: &Drilled, b: &Drilled) -> f64 {
    let middle = |h: &Drilled| 0.5 * (Vector3::from(h.from_mm) + Vector3::from(h.to_mm));
    let mut p = middle(a);
    let mut wall = f64::INFINITY;
    for _ in 0..20_000 {
        let q = b.nearest(p);
        p = a.nearest(q);
        let now = (p - q).norm();
        // A step that gains less than a nanometre gains nothing that a shop could see.
        if wall - now < 1e-9 {
            return now;
        }
        wall = now;
    }
    wall
}

/// Least wall between any two holes that are not meant to meet, mm, and which two; `None` for fewer than two such holes.
///
/// # Errors
/// A [`Fault`] for a hole without size, and for two holes that meet or leave less than `least_wall_mm`.
pub fn keep_apart(holes: &[Drilled], least_wall_mm: f64) -> Result<Option<(f64, [usize; 2])>, Fault> {
    let least = least_wall_mm.within("least_wall_mm", 0.0, 100.0, "mm", "metal that must stay between two holes")?;
    if holes.len() > 100 {
        return Err(Fault::new("holes", holes.len(), "at most 100", "check one part at a time"));
    }
    for (i, h) in holes.iter().enumerate() {
        h.check(&format!("holes[{i}]"))?;
    }
    let mut thinnest: Option<(f64, [usize; 2])> = None;
    for (i, a) in holes.iter().enumerate() {
        for (k, b) in holes.iter().enumerate().skip(i + 1) {
            if a.opens_into.contains(&b.name) || b.opens_into.contains(&a.name) {
                continue;
            }
            let wall = wall_between_mm(a, b);
            if wall < least {
                let tells = if wall < 1e-3 { "the holes meet" } else { "the wall between the holes is too thin" };
                let why = format!("{tells}: {} and {}; shorten or move one of them", a.name, b.name);
                return Err(Fault::new(format!("holes[{k}]"), format!("{wall:.2} mm of metal"), format!("{least} mm or more"), why));
            }
            if thinnest.is_none_or(|(w, _)| wall < w) {
                thinnest = Some((wall, [i, k]));
            }
        }
    }
    Ok(thinnest)
}
