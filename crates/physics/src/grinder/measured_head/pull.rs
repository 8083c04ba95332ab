//! Stiffness from pulls: deflection against force, a straight line.

use crate::{Fault, Ranged};

/// One pull.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pull {
    /// Force, N.
    pub force_n: f64,
    /// Reading of the indicator, µm.
    pub deflection_um: f64,
}

/// The stiffness found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stiffness {
    /// Stiffness, N/µm.
    pub n_um: f64,
    /// Its standard deviation, N/µm.
    pub sd_n_um: f64,
    /// Reading of the indicator at no force, µm (zero where it was not free).
    pub zero_um: f64,
    /// Scatter of the readings about the line, µm; `None` without readings to spare.
    pub scatter_um: Option<f64>,
}

/// Fewest standard deviations by which the deflection must stand out of the indicator's error.
const TELLS: f64 = 3.0;

/// Stiffness from pulls at the wheel, in the direction in which the wheel stands off the work.
///
/// Deflection = zero + force/k by least squares; a single pull is taken from a zeroed indicator. The standard deviation is that of the
/// stated indicator's, or of the scatter where that is larger.
///
/// # Errors
/// A [`Fault`] for no pull or more than 200, forces all alike (unless one pull), values out of range (force −1e5 to 1e5 N, reading ±1e5 µm,
/// indicator 0.001 to 1000 µm), and a deflection that does not stand out or goes against the force.
pub fn stiffness(pulls: &[Pull], indicator_sd_um: f64) -> Result<Stiffness, Fault> {
    let sd = indicator_sd_um.within("indicator_sd_um", 1e-3, 1000.0, "µm", "standard deviation of one reading of the indicator")?;
    if pulls.is_empty() || pulls.len() > 200 {
        return Err(Fault::new("pulls", pulls.len(), "1 to 200 pulls", "one pull at least; five between zero and the largest are better"));
    }
    for (i, p) in pulls.iter().enumerate() {
        let inside = |f: Fault| f.inside(&format!("pulls[{i}]"));
        p.force_n.within("force_n", -1e5, 1e5, "N", "force of the pull").map_err(inside)?;
        p.deflection_um.within("deflection_um", -1e5, 1e5, "µm", "reading of the indicator").map_err(inside)?;
    }
    let n = pulls.len() as f64;
    let free_zero = pulls.len() > 1;
    let mean = |of: fn(&Pull) -> f64| if free_zero { pulls.iter().map(of).sum::<f64>() / n } else { 0.0 };
    let (f0, d0) = (mean(|p| p.force_n), mean(|p| p.deflection_um));
    let spread: f64 = pulls.iter().map(|p| (p.force_n - f0).powi(2)).sum();
    let largest = pulls.iter().map(|p| p.force_n.abs()).fold(0.0, f64::max);
    if spread.sqrt() <= 1e-6 * largest || largest == 0.0 {
        return Err(Fault::new("pulls", "one force", "different forces", "the slope needs different forces: none, some, and the largest"));
    }
    let slope = pulls.iter().map(|p| (p.force_n - f0) * (p.deflection_um - d0)).sum::<f64>() / spread;
    let zero_um = d0 - slope * f0;
    let spare = pulls.len().saturating_sub(2);
    let rest: f64 = pulls.iter().map(|p| (p.deflection_um - zero_um - slope * p.force_n).powi(2)).sum();
    let scatter_um = (spare > 0).then(|| (rest / spare as f64).sqrt());
    let slope_sd = scatter_um.map_or(sd, |s| s.max(sd)) / spread.sqrt();
    if slope < TELLS * slope_sd {
        let why = if slope < -TELLS * slope_sd {
            "the indicator goes against the pull: count both in one direction"
        } else {
            "the deflection does not stand out of the indicator's error: pull harder, or use a finer indicator"
        };
        return Err(Fault::new("pulls", format!("{slope:.2e} µm/N"), "a deflection that grows with the force", why));
    }
    Ok(Stiffness { n_um: 1.0 / slope, sd_n_um: slope_sd / slope.powi(2), zero_um, scatter_um })
}
