//! Uncertainty of a gauge from its parts (JCGM 100, root sum of squares).
//!
//! In: what a bore gauge suffers from. Out: standard uncertainties and the expanded one.

use crate::{Fault, Ranged};

/// What a bore gauge, set on a ring, suffers from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BoreGauge {
    /// Expanded uncertainty of the setting ring, k = 2, µm.
    pub ring_u_um: f64,
    /// Standard deviation of one reading, µm.
    pub repeat_um: f64,
    /// Readings whose mean is taken.
    pub readings: u32,
    /// Resolution of the dial, µm (a rectangle of this width).
    pub resolution_um: f64,
    /// Diameter, mm.
    pub diameter_mm: f64,
    /// Expansion of the part less that of the ring, 1e-6/K.
    pub cte_difference_per_mk: f64,
    /// Half width of what is not known of their temperature difference, K (rectangle).
    pub temperature_half_width_k: f64,
}

impl BoreGauge {
    /// Standard uncertainties of ring, repeatability, resolution, temperature, µm.
    ///
    /// # Errors
    /// A [`Fault`] for a value out of range.
    pub fn parts_um(&self) -> Result<[f64; 4], Fault> {
        let ring = self.ring_u_um.within("ring_u_um", 0.0, 1000.0, "µm", "expanded uncertainty of the ring, from its certificate")?;
        let s = self.repeat_um.within("repeat_um", 0.0, 1000.0, "µm", "standard deviation of repeated readings")?;
        let n = f64::from(self.readings).within("readings", 1.0, 1000.0, "", "readings whose mean is taken")?;
        let step = self.resolution_um.within("resolution_um", 0.0, 1000.0, "µm", "one step of the dial")?;
        let d = self.diameter_mm.within("diameter_mm", 0.1, 3000.0, "mm", "diameter that is measured")?;
        let cte = self.cte_difference_per_mk.within("cte_difference_per_mk", -100.0, 100.0, "1e-6/K", "part less ring")?;
        let half = self.temperature_half_width_k.within("temperature_half_width_k", 0.0, 50.0, "K", "what is not known of it")?;
        Ok([0.5 * ring, s / n.sqrt(), step / 12f64.sqrt(), (d * cte * half * 1e-3).abs() / 3f64.sqrt()])
    }
}

/// Combined standard uncertainty of independent parts, and the expanded one with k = 2.
pub fn expanded_um(parts_um: &[f64]) -> (f64, f64) {
    let combined = parts_um.iter().map(|u| u * u).sum::<f64>().sqrt();
    (combined, 2.0 * combined)
}
