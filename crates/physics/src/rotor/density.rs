//! Density of a bonded wheel from its structure number.
//!
//! In: structure number, bond's share, densities of grain and bond. Out: grain's share, porosity, density.

use crate::quantity::Density;
use crate::{Fault, Ranged};

/// Make-up of a bonded wheel by volume, and its density.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WheelDensity {
    /// Share of the volume that is grain.
    pub grain_share: f64,
    /// Share of the volume that is pores.
    pub porosity: f64,
    /// Density of the whole.
    pub density: Density,
}

/// Density of a wheel whose structure number (0 to 14) is marked on it.
///
/// The grain's share of the volume is 62 % at structure 0 and falls by 2 % a step. The bond's share is not marked:
/// about 0.05 to 0.25; vitrified wheels of medium grade about 0.09. Better: weigh the wheel.
///
/// # Errors
/// A [`Fault`] for a structure outside 0 to 14, a bond share that leaves no room, a density outside 0.5 to 25 g/cm³.
///
/// Source: Okuyama, J. Japan Soc. Abrasive Technology 59(3), 2015.
pub fn density_from_structure(structure: f64, bond_share: f64, grain: Density, bond: Density) -> Result<WheelDensity, Fault> {
    let s = structure.within("structure", 0.0, 14.0, "", "the structure number marked on the wheel, 0 dense to 14 open")?;
    let grain_share = 0.62 - 0.02 * s;
    let bond_share =
        bond_share.within("bond_share", 0.0, 1.0 - grain_share, "of the volume", "grain and bond cannot fill more than the whole")?;
    let grain = grain.g_cm3().within("grain_density_g_cm3", 0.5, 25.0, "g/cm³", "alumina 3.95, silicon carbide 3.2")?;
    let bond = bond.g_cm3().within("bond_density_g_cm3", 0.5, 25.0, "g/cm³", "glass bond about 2.4, resin about 1.3")?;
    Ok(WheelDensity {
        grain_share,
        porosity: 1.0 - grain_share - bond_share,
        density: Density::from_g_cm3(grain_share * grain + bond_share * bond),
    })
}
