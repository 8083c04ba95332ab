//! General tolerances of a drawing: what holds for a dimension without limits of its own.
//!
//! In: a dimension and a class. Out: its tolerance. ISO 2768-1:1989 (lengths, broken edges, angles; f, m, c, v) and ISO 2768-2:1989
//! (flatness, perpendicularity, symmetry, run-out; H, K, L). ISO 2768-2 was withdrawn in 2021; a drawing may name ISO 22081 instead. None
//! of these is fine enough for the axes of two saddles: those are toleranced one by one.

use crate::{Fault, Ranged};

/// Class of ISO 2768-1.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fineness {
    /// f.
    Fine,
    /// m.
    Medium,
    /// c.
    Coarse,
    /// v.
    VeryCoarse,
}

/// Class of ISO 2768-2.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// H.
    H,
    /// K.
    K,
    /// L.
    L,
}

/// Value of the first step whose upper end is not below `v`: the upper end belongs to the step.
fn step<const N: usize>(v: f64, up_to: [f64; N], values: [f64; N]) -> Option<f64> {
    up_to.iter().position(|end| v <= *end).map(|i| values[i])
}

fn untabled(field: &str, v: f64) -> Fault {
    Fault::new(field, v, "a size that the class tables", "this class has no value there: give the dimension limits of its own")
}

/// Tolerance of a length, ± mm (ISO 2768-1, table 1).
///
/// # Errors
/// A [`Fault`] outside 0.5 to 2000 mm (3 mm for class v).
pub fn length_mm(nominal_mm: f64, class: Fineness) -> Result<f64, Fault> {
    let v = nominal_mm.within("nominal_mm", 0.5, 2000.0, "mm", "smaller sizes carry limits of their own")?;
    if class == Fineness::VeryCoarse && v <= 3.0 {
        return Err(untabled("nominal_mm", v));
    }
    let values = match class {
        Fineness::Fine => [0.05, 0.05, 0.1, 0.15, 0.2, 0.3, 0.5],
        Fineness::Medium => [0.1, 0.1, 0.2, 0.3, 0.5, 0.8, 1.2],
        Fineness::Coarse => [0.2, 0.3, 0.5, 0.8, 1.2, 2.0, 3.0],
        // The first is not reached.
        Fineness::VeryCoarse => [0.5, 0.5, 1.0, 1.5, 2.5, 4.0, 6.0],
    };
    step(v, [3.0, 6.0, 30.0, 120.0, 400.0, 1000.0, 2000.0], values).ok_or_else(|| untabled("nominal_mm", v))
}

/// Tolerance of a radius or chamfer that breaks an edge, ± mm (ISO 2768-1, table 2; often printed as the table of lengths, which is wrong).
///
/// # Errors
/// A [`Fault`] outside 0.5 to 2000 mm.
pub fn broken_edge_mm(nominal_mm: f64, class: Fineness) -> Result<f64, Fault> {
    let v = nominal_mm.within("nominal_mm", 0.5, 2000.0, "mm", "smaller edges carry limits of their own")?;
    let values = if matches!(class, Fineness::Fine | Fineness::Medium) { [0.2, 0.5, 1.0] } else { [0.4, 1.0, 2.0] };
    step(v, [3.0, 6.0, f64::INFINITY], values).ok_or_else(|| untabled("nominal_mm", v))
}

/// Tolerance of an angle, ± minutes of arc, by the shorter leg (ISO 2768-1, table 3).
///
/// # Errors
/// A [`Fault`] for a leg outside 0.1 to 10,000 mm.
pub fn angle_arcmin(shorter_leg_mm: f64, class: Fineness) -> Result<f64, Fault> {
    let v = shorter_leg_mm.within("shorter_leg_mm", 0.1, 10_000.0, "mm", "shorter leg of the angle")?;
    let values = match class {
        Fineness::Fine | Fineness::Medium => [60.0, 30.0, 20.0, 10.0, 5.0],
        Fineness::Coarse => [90.0, 60.0, 30.0, 15.0, 10.0],
        Fineness::VeryCoarse => [180.0, 120.0, 60.0, 30.0, 20.0],
    };
    step(v, [10.0, 50.0, 120.0, 400.0, f64::INFINITY], values).ok_or_else(|| untabled("shorter_leg_mm", v))
}

/// What an angle that is off by so many minutes of arc moves the end of a leg, mm.
pub fn off_at_end_mm(leg_mm: f64, arcmin: f64) -> f64 {
    leg_mm * (arcmin / 60.0).to_radians().tan()
}

/// Straightness or flatness, mm, by the length concerned (ISO 2768-2, table 1).
///
/// # Errors
/// A [`Fault`] outside 0.1 to 3000 mm.
pub fn flatness_mm(length_mm: f64, class: Form) -> Result<f64, Fault> {
    let v = length_mm.within("length_mm", 0.1, 3000.0, "mm", "length concerned; of a circle its diameter")?;
    let values = match class {
        Form::H => [0.02, 0.05, 0.1, 0.2, 0.3, 0.4],
        Form::K => [0.05, 0.1, 0.2, 0.4, 0.6, 0.8],
        Form::L => [0.1, 0.2, 0.4, 0.8, 1.2, 1.6],
    };
    step(v, [10.0, 30.0, 100.0, 300.0, 1000.0, 3000.0], values).ok_or_else(|| untabled("length_mm", v))
}

/// Perpendicularity, mm, by the shorter leg (ISO 2768-2, table 2).
///
/// # Errors
/// A [`Fault`] outside 0.1 to 3000 mm.
pub fn perpendicularity_mm(shorter_leg_mm: f64, class: Form) -> Result<f64, Fault> {
    let v = shorter_leg_mm.within("shorter_leg_mm", 0.1, 3000.0, "mm", "shorter leg of the right angle")?;
    let values = match class {
        Form::H => [0.2, 0.3, 0.4, 0.5],
        Form::K => [0.4, 0.6, 0.8, 1.0],
        Form::L => [0.6, 1.0, 1.5, 2.0],
    };
    step(v, [100.0, 300.0, 1000.0, 3000.0], values).ok_or_else(|| untabled("shorter_leg_mm", v))
}

/// Circular run-out, mm (ISO 2768-2, table 4).
pub const fn run_out_mm(class: Form) -> f64 {
    match class {
        Form::H => 0.1,
        Form::K => 0.2,
        Form::L => 0.5,
    }
}
