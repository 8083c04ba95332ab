//! Sag of the base plate between its feet, as a beam strip.
//!
//! In: section, span, material, load. Out: sag by own weight and by a load in the middle. A strip along the span that rests on its
//! ends, 5qL⁴/384EI and WL³/48EI (Roark, beam tables): no plate theory, so an order of size; a plate on three feet bends both ways.

use crate::quantity::STANDARD_GRAVITY;
use crate::{Fault, Ranged};

/// A plate between two lines of support.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plate {
    /// Width across the span, mm.
    pub width_mm: f64,
    /// Thickness, mm.
    pub thickness_mm: f64,
    /// Span between the feet, mm.
    pub span_mm: f64,
    /// Modulus of elasticity, GPa.
    pub modulus_gpa: f64,
    /// Density, g/cm³.
    pub density_g_cm3: f64,
}

/// Sag in the middle of the span.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sag {
    /// By the plate's own weight, µm.
    pub own_um: f64,
    /// By the load in the middle, µm.
    pub load_um: f64,
}

impl Plate {
    /// Sag by own weight and by `load_n` in the middle of the span.
    ///
    /// # Errors
    /// A [`Fault`] for a value out of the range that stands with its check.
    pub fn sag(&self, load_n: f64) -> Result<Sag, Fault> {
        let b = self.width_mm.within("plate.width_mm", 1.0, 5000.0, "mm", "width across the span")?;
        let h = self.thickness_mm.within("plate.thickness_mm", 1.0, 500.0, "mm", "thickness of the plate")?;
        let l = self.span_mm.within("plate.span_mm", 10.0, 5000.0, "mm", "span between the feet")?;
        let why = "cast iron 110, aluminium 70, granite 70, steel 210";
        let e = self.modulus_gpa.within("plate.modulus_gpa", 1.0, 1000.0, "GPa", why)? * 1e3;
        let rho = self.density_g_cm3.within("plate.density_g_cm3", 0.0, 25.0, "g/cm³", "cast iron 7.2, aluminium 2.7, granite 2.9")?;
        let load = load_n.within("plate.load_n", 0.0, 1e6, "N", "load in the middle of the span")?;
        let ei = e * b * h.powi(3) / 12.0;
        let q = rho * 1e-6 * STANDARD_GRAVITY * b * h;
        Ok(Sag { own_um: 5.0 * q * l.powi(4) / (384.0 * ei) * 1e3, load_um: load * l.powi(3) / (48.0 * ei) * 1e3 })
    }
}
