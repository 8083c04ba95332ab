//! How deep to drill on the heavy side. Adapter or flange steel only, never the wheel.

use crate::quantity::{Angle, Length, Mass, RotorAngle, UnbalanceVector};
use crate::{Fault, Ranged};
use std::f64::consts::PI;

/// A hole to be drilled on the heavy side.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drill {
    /// Diameter of the drill (0.5 to 50 mm).
    pub diameter: Length,
    /// Radius from the axis: of the hole's centre for an axial hole, of the rim it starts from for a radial one
    /// (5 to 1000 mm).
    pub radius: Length,
    /// Density of the metal, g/cm³ (1 to 20).
    pub density_g_cm3: f64,
    /// Deepest hole that the part bears, if it is known.
    pub deepest: Option<Length>,
}

/// What to drill.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DrilledHole {
    /// Where: the heavy side.
    pub at: RotorAngle,
    /// Depth of the full diameter (axial: the point goes deeper by its own height).
    pub depth: Length,
    /// Metal taken away.
    pub mass: Mass,
}

struct Checked {
    u: f64,
    d: f64,
    r: f64,
    rho: f64,
    deepest: f64,
}

impl Checked {
    /// Cross section of the hole, mm².
    fn area(&self) -> f64 {
        0.25 * PI * self.d * self.d
    }
}

fn check(unbalance: UnbalanceVector, drill: &Drill) -> Result<Checked, Fault> {
    let u = unbalance.size().g_mm().within("unbalance.size_g_mm", 1e-9, 1e8, "g·mm", "without unbalance there is nothing to drill")?;
    let r = drill.radius.mm().within("radius_mm", 5.0, 1000.0, "mm", "radius at which the hole is drilled")?;
    let d = drill.diameter.mm().within("drill_diameter_mm", 0.5, 50.0, "mm", "diameter of the drill")?;
    if d > r {
        return Err(Fault::new("drill_diameter_mm", d, format!("up to the radius, {r} mm"), "the hole would reach the axis"));
    }
    let rho = drill.density_g_cm3.within("density_g_cm3", 1.0, 20.0, "g/cm³", "density of the metal: steel 7.85")? * 1e-3;
    let deepest = match drill.deepest {
        Some(l) => l.mm().within("deepest_mm", 0.1, 1000.0, "mm", "deepest hole that the part bears")?,
        None => f64::INFINITY,
    };
    Ok(Checked { u, d, r, rho, deepest })
}

/// Axial hole with a pointed drill: depth of the full diameter = (m/ρ − πd³/(24·tan(point/2)))/(πd²/4), m = U/r.
///
/// # Errors
/// A [`Fault`] for a value out of range; when the point alone takes more than is wanted (with the drill that would do);
/// when the hole would be deeper than `deepest` (with the depth of two holes and the drill that would do).
///
/// Source: [derived], volume of cylinder and cone.
pub fn drill_axial(unbalance: UnbalanceVector, drill: &Drill, point: Angle) -> Result<DrilledHole, Fault> {
    let c = check(unbalance, drill)?;
    let point = point.deg().within("point_deg", 60.0, 180.0, "degrees", "angle of the drill's point: 118 or 135 as sold, 180 flat")?;
    // tan 90° is large but finite in floating point: a flat bottom then has no cone, as it should.
    let cone_per_d3 = PI / (24.0 * (0.5 * point).to_radians().tan());
    let mass = c.u / c.r;
    let depth_for = |mass: f64, d: f64| (mass / c.rho - cone_per_d3 * d.powi(3)) / (0.25 * PI * d * d);
    let depth = depth_for(mass, c.d);
    if depth < 0.0 {
        let fits = (mass / c.rho / cone_per_d3).cbrt();
        return Err(Fault::new(
            "drill_diameter_mm",
            c.d,
            format!("up to {fits:.2} mm for {:.1} g·mm", c.u),
            "the point alone takes away more than is wanted: use a smaller drill, or drill at a smaller radius",
        ));
    }
    if depth > c.deepest {
        let two = depth_for(0.5 * mass, c.d);
        // The depth wanted falls as the drill grows; the smallest drill that stays within the limit.
        let larger = crate::numerics::bisect(c.d, 50.0, |d| depth_for(mass, d) - c.deepest);
        return Err(too_deep(depth, c.deepest, two, larger));
    }
    Ok(DrilledHole { at: unbalance.at(), depth: Length::from_mm(depth), mass: Mass::from_g(mass) })
}

/// Radial hole with a flat bottom from the rim R inwards: ρ(πd²/4)·h·(R − h/2) = U, the smaller root h.
///
/// The curve of the rim across the hole is left out: it is below d²/(8R) of depth.
///
/// # Errors
/// A [`Fault`] for a value out of range; when no depth is enough, or the hole would be deeper than `deepest` (with the
/// depth of two holes and the drill that would do).
///
/// Source: [derived].
pub fn drill_radial(unbalance: UnbalanceVector, drill: &Drill) -> Result<DrilledHole, Fault> {
    let c = check(unbalance, drill)?;
    let depth_for = |u: f64, area: f64| {
        let under_root = c.r * c.r - 2.0 * u / (c.rho * area);
        // Rationalised smaller root: keeps its digits for shallow holes.
        (under_root >= 0.0).then(|| 2.0 * u / (c.rho * area) / (c.r + under_root.sqrt()))
    };
    let limit = c.deepest.min(c.r);
    match depth_for(c.u, c.area()) {
        Some(depth) if depth <= limit => {
            Ok(DrilledHole { at: unbalance.at(), depth: Length::from_mm(depth), mass: Mass::from_g(c.rho * c.area() * depth) })
        }
        deeper => {
            let two = depth_for(0.5 * c.u, c.area()).unwrap_or(f64::INFINITY);
            let larger = (c.u / (c.rho * 0.25 * PI * limit * (c.r - 0.5 * limit))).sqrt();
            Err(too_deep(deeper.unwrap_or(f64::INFINITY), limit, two, (larger <= 50.0).then_some(larger)))
        }
    }
}

fn too_deep(depth: f64, limit: f64, two: f64, larger: Option<f64>) -> Fault {
    let mut ways = Vec::new();
    if two <= limit {
        ways.push(format!("two holes close to either side of the heavy side, each {two:.2} mm deep (a little more for their spread)"));
    }
    if let Some(d) = larger {
        ways.push(format!("a drill of {d:.2} mm or more"));
    }
    let do_this = if ways.is_empty() { "several holes, or drilling at a larger radius".to_owned() } else { ways.join(", or ") };
    let wanted =
        if depth.is_finite() { format!("one hole would be {depth:.2} mm deep") } else { "no depth of one hole is enough".to_owned() };
    Fault::new(
        "drill_diameter_mm",
        wanted,
        format!("a hole at most {limit:.2} mm deep"),
        format!("one hole cannot do it; what would do: {do_this}"),
    )
}
