//! The air: what the film needs to know of it, and the flow through a hole.
//!
//! In: temperature, ambient pressure, a supply pressure, an area. Out: mass flow, and flow as compressors are rated.

use super::geometry::Port;
use crate::{Fault, Ranged};
use std::f64::consts::PI;

/// Specific gas constant of dry air, J/(kg·K). Source: ISO 2533 (standard atmosphere), 287.05287.
pub const GAS_CONSTANT: f64 = 287.05;
/// Ratio of specific heats of air. Source: ISO 2533.
pub const GAMMA: f64 = 1.4;
/// Reference pressure of rated flow, Pa, at 20 °C. Source: ISO 8778 (ANR).
const ANR_PA: f64 = 1e5;
/// Reference temperature of rated flow, K. Source: ISO 8778 (ANR).
const ANR_K: f64 = 293.15;
/// Mean free path of air at 20 °C and 1 atm, m. Source: reference/film-physics.md §10.
const MEAN_FREE_PATH_M: f64 = 0.066e-6;

/// State of the air in the room.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Air {
    /// Dynamic viscosity, Pa·s.
    pub viscosity_pa_s: f64,
    /// Temperature, K.
    pub temperature_k: f64,
    /// Ambient pressure, absolute, Pa.
    pub ambient_pa: f64,
}

impl Default for Air {
    /// 20 °C, one standard atmosphere, viscosity by Sutherland's formula.
    fn default() -> Self {
        Self::at(293.15, 101_325.0)
    }
}

impl Air {
    /// Air of a temperature (K) and pressure (Pa), its viscosity by Sutherland's formula,
    /// μ = 1.458·10⁻⁶ T^1.5 / (T + 110.4). Source: ISO 2533.
    pub fn at(temperature_k: f64, ambient_pa: f64) -> Self {
        let viscosity_pa_s = 1.458e-6 * temperature_k.powf(1.5) / (temperature_k + 110.4);
        Self { viscosity_pa_s, temperature_k, ambient_pa }
    }

    /// Check the ranges.
    ///
    /// # Errors
    /// A [`Fault`] for a state that no workshop has.
    pub fn check(&self) -> Result<(), Fault> {
        self.viscosity_pa_s.within("viscosity_pa_s", 5e-6, 5e-5, "Pa s", "viscosity of the gas; air at 20 C has 1.82e-5")?;
        (self.temperature_k - 273.15).within("temperature_c", -20.0, 80.0, "C", "temperature of a workshop")?;
        (self.ambient_pa / 1e5).within("ambient_bar_abs", 0.5, 1.2, "bar", "absolute pressure of the room's air")?;
        Ok(())
    }

    /// Flow as compressors are rated: litres a minute at 20 °C and 1 bar. Source: ISO 8778 (ANR).
    pub fn litres_per_minute(flow_kg_s: f64) -> f64 {
        flow_kg_s * GAS_CONSTANT * ANR_K / ANR_PA * 6e4
    }

    /// Speed of sound, m/s.
    pub fn sound_m_s(&self) -> f64 {
        (GAMMA * GAS_CONSTANT * self.temperature_k).sqrt()
    }

    /// Mean free path at the ambient state, m (proportional to T/p about the value at 20 °C, 1 atm).
    pub fn mean_free_path_m(&self) -> f64 {
        MEAN_FREE_PATH_M * (self.temperature_k / 293.15) * (101_325.0 / self.ambient_pa)
    }
}

/// Mass flow through a hole of `area_m2` from `from_pa` to `to_pa`, both absolute: isentropic nozzle that chokes, kg/s.
///
/// m = C A p_s √(2γ/((γ−1) R T)) · √(r^(2/γ) − r^((γ+1)/γ)), r = p_o/p_s, not below the critical 0.528.
/// Source: e.g. Hamrock, Fundamentals of Fluid Film Lubrication (externally pressurised gas bearings).
pub fn nozzle_flow(air: &Air, discharge: f64, area_m2: f64, from_pa: f64, to_pa: f64) -> f64 {
    let critical = (2.0 / (GAMMA + 1.0)).powf(GAMMA / (GAMMA - 1.0));
    let r = (to_pa / from_pa).clamp(critical, 1.0);
    let speed = (2.0 * GAMMA / ((GAMMA - 1.0) * GAS_CONSTANT * air.temperature_k)).sqrt();
    // r^(2/γ)·(1 − r^((γ−1)/γ)), the difference without cancellation near r = 1.
    let psi = r.powf(1.0 / GAMMA) * (-(((GAMMA - 1.0) / GAMMA) * r.ln()).exp_m1()).max(0.0).sqrt();
    discharge * area_m2 * from_pa * speed * psi
}

/// Slope of [`nozzle_flow`] in `to_pa`, kg/(s·Pa): zero while choked, minus infinity at equal pressures.
pub(crate) fn nozzle_slope(air: &Air, discharge: f64, area_m2: f64, from_pa: f64, to_pa: f64) -> f64 {
    let critical = (2.0 / (GAMMA + 1.0)).powf(GAMMA / (GAMMA - 1.0));
    let r = to_pa / from_pa;
    if r <= critical {
        return 0.0;
    }
    let speed = (2.0 * GAMMA / ((GAMMA - 1.0) * GAS_CONSTANT * air.temperature_k)).sqrt();
    let psi = nozzle_flow(air, discharge, area_m2, from_pa, to_pa) / (discharge * area_m2 * from_pa * speed);
    let square_slope = 2.0 / GAMMA * r.powf(2.0 / GAMMA - 1.0) - (GAMMA + 1.0) / GAMMA * r.powf(1.0 / GAMMA);
    discharge * area_m2 * speed * square_slope / (2.0 * psi)
}

/// Area of the feed at a film of `film_m` round the mouth's rim, m², and its slope in that film, m.
///
/// The port's (or jet's) own area in series with the curtain π d h: A = A_t/√(1 + (A_t/A_c)²) (Lund's form, from memory).
/// Inside a pocket the curtain is as high as film and pocket together.
pub(crate) fn feed_area(port: &Port, film_m: f64) -> (f64, f64) {
    let throat_diameter = port.jet_diameter_m.map_or(port.diameter_m, |jet| jet.min(port.diameter_m));
    let throat = 0.25 * PI * throat_diameter * throat_diameter;
    let rim = PI * port.diameter_m;
    let curtain = rim * (film_m + port.pocket_depth_m());
    let ratio = throat / curtain;
    let root = (1.0 + ratio * ratio).sqrt();
    (throat / root, ratio.powi(3) * rim / root.powi(3))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slopes_are_those_of_the_functions() {
        let air = Air::default();
        let port = Port {
            diameter_m: 1.2e-3,
            around_m: 0.0,
            along_m: 0.0,
            jet_diameter_m: Some(3e-4),
            pocket: None,
            volume_m3: 0.0,
            discharge: 0.8,
        };
        for h in [5e-6, 2e-5, 1e-4] {
            let d = 1e-3 * h;
            let want = (feed_area(&port, h + d).0 - feed_area(&port, h - d).0) / (2.0 * d);
            assert!((feed_area(&port, h).1 / want - 1.0).abs() < 1e-5);
        }
        for p in [1.5e5, 3e5, 4.5e5, 4.99e5] {
            let flow = |p| nozzle_flow(&air, 0.8, 1e-7, 5e5, p);
            let want = (flow(p + 1.0) - flow(p - 1.0)) / 2.0;
            assert!((nozzle_slope(&air, 0.8, 1e-7, 5e5, p) - want).abs() <= 1e-6 * want.abs(), "{p}");
        }
    }
}
