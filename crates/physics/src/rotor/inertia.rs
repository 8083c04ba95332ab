//! Mass and polar inertia of a rotor summed from annular bodies about one axis.
//!
//! In: diameters, width, and mass or density of each body. Out: their mass and inertia, and the sum.
//!
//! An annulus of diameters `D` and `d`, width `w` and density `ρ` has `m = ρ·π/4·(D² − d²)·w` and, about its axis,
//! `I = m·(D² + d²)/8`. With `d = 0` this is a disc, with `d = D` a thin ring, whatever its width. Source: any text on
//! rigid bodies, e.g. Meriam & Kraige, Dynamics, table of mass moments of inertia.

use crate::quantity::{Density, Inertia, Length, Mass};
use crate::{Fault, Ranged};
use std::f64::consts::PI;

/// What a body is made of, as the shop knows it: it was weighed, or its density is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Matter {
    /// It was weighed.
    Mass(Mass),
    /// Its density is known; the mass follows from the size.
    Density(Density),
}

/// A body of revolution with a rectangular section: a wheel, a flange, a nut, an arbor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AnnularBody {
    /// Outer diameter.
    pub outer_diameter: Length,
    /// Diameter of the hole; zero for a solid disc.
    pub inner_diameter: Length,
    /// Width along the axis.
    pub width: Length,
    /// Mass or density.
    pub matter: Matter,
}

/// Mass and inertia about the arbor's axis.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct MassAndInertia {
    /// Mass.
    pub mass: Mass,
    /// Polar inertia about the axis.
    pub inertia: Inertia,
}

impl AnnularBody {
    /// Mass and inertia of this body.
    ///
    /// # Errors
    /// A [`Fault`] for an outer diameter outside 1 to 5000 mm, a hole that is not smaller than it (equal is allowed for
    /// a weighed thin ring), a width outside 0.01 to 5000 mm, a mass outside 0.001 g to 10 t, or a density outside
    /// 0.05 to 25 g/cm³.
    pub fn mass_and_inertia(&self) -> Result<MassAndInertia, Fault> {
        let outer = self.outer_diameter.mm().within("outer_diameter_mm", 1.0, 5000.0, "mm", "outer diameter of the body")?;
        let inner = self.inner_diameter.mm().within(
            "inner_diameter_mm",
            0.0,
            outer,
            "mm",
            "the hole cannot be larger than the body; 0 for a solid one",
        )?;
        let width = self.width.mm().within("width_mm", 0.01, 5000.0, "mm", "width of the body along the axis")?;
        let (outer, inner, width) = (outer * 1e-3, inner * 1e-3, width * 1e-3);
        let mass_kg = match self.matter {
            Matter::Mass(mass) => mass.g().within("mass_g", 1e-3, 1e7, "g", "a body has a positive mass; weigh it")? * 1e-3,
            Matter::Density(density) => {
                let rho = density.g_cm3().within(
                    "density_g_cm3",
                    0.05,
                    25.0,
                    "g/cm³",
                    "bonded wheels are about 1.5 to 2.7, aluminium 2.7, steel 7.85, tungsten 19.3",
                )? * 1000.0;
                if inner >= outer {
                    return Err(Fault::new(
                        "inner_diameter_mm",
                        self.inner_diameter.mm(),
                        format!("0 to less than {} mm", self.outer_diameter.mm()),
                        "a thin ring has no volume of its own: give its mass instead of a density",
                    ));
                }
                rho * PI / 4.0 * (outer * outer - inner * inner) * width
            }
        };
        Ok(MassAndInertia { mass: Mass::from_kg(mass_kg), inertia: Inertia::from_kg_m2(mass_kg * (outer * outer + inner * inner) / 8.0) })
    }
}

/// The sum of bodies on one axis, with each one's share.
///
/// # Errors
/// A [`Fault`] when there is no body, or for one of them, with its place: `bodies[2].width_mm`.
pub fn sum_of_bodies(bodies: &[AnnularBody]) -> Result<(MassAndInertia, Vec<MassAndInertia>), Fault> {
    if bodies.is_empty() {
        return Err(Fault::new("bodies", "an empty list", "at least one body", "a rotor is made of something"));
    }
    let parts = bodies
        .iter()
        .enumerate()
        .map(|(i, body)| body.mass_and_inertia().map_err(|f| f.inside(&format!("bodies[{i}]"))))
        .collect::<Result<Vec<_>, _>>()?;
    let mass = parts.iter().map(|p| p.mass.kg()).sum();
    let inertia = parts.iter().map(|p| p.inertia.kg_m2()).sum();
    Ok((MassAndInertia { mass: Mass::from_kg(mass), inertia: Inertia::from_kg_m2(inertia) }, parts))
}

/// Inertia with which a rotor swings when its arbor rolls on ways: `I + m·a²`.
///
/// `journal_radius` is the radius `a` on which it rolls. Pure rolling, and the unbalance small against `m·a`.
///
/// # Errors
/// A [`Fault`] for a mass, or a journal radius outside 0.5 to 500 mm, or an inertia that is not positive.
///
/// Source: parallel-axis theorem about the line of contact.
pub fn rolling(inertia: Inertia, mass: Mass, journal_radius: Length) -> Result<Inertia, Fault> {
    let i = inertia.kg_m2().within("inertia_kg_m2", 1e-9, 1e5, "kg·m²", "inertia about the arbor's own axis")?;
    let m = super::checked_mass_kg(mass)?;
    let a = journal_radius.mm().within("journal_radius_mm", 0.5, 500.0, "mm", "radius of the arbor where it rolls")? * 1e-3;
    Ok(Inertia::from_kg_m2(i + m * a * a))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn body(outer: f64, inner: f64, width: f64, matter: Matter) -> AnnularBody {
        AnnularBody {
            outer_diameter: Length::from_mm(outer),
            inner_diameter: Length::from_mm(inner),
            width: Length::from_mm(width),
            matter,
        }
    }

    #[test]
    fn a_fault_names_the_body_and_the_field() {
        let good = body(200.0, 51.0, 20.0, Matter::Density(Density::from_g_cm3(2.1)));
        for (bad, field) in [
            (body(f64::NAN, 51.0, 20.0, good.matter), "bodies[1].outer_diameter_mm"),
            (body(200.0, 201.0, 20.0, good.matter), "bodies[1].inner_diameter_mm"),
            (body(200.0, 200.0, 20.0, good.matter), "bodies[1].inner_diameter_mm"),
            (body(200.0, 51.0, -1.0, good.matter), "bodies[1].width_mm"),
            (body(200.0, 51.0, 20.0, Matter::Mass(Mass::from_g(0.0))), "bodies[1].mass_g"),
            (body(200.0, 51.0, 20.0, Matter::Density(Density::from_g_cm3(f64::INFINITY))), "bodies[1].density_g_cm3"),
        ] {
            assert_eq!(sum_of_bodies(&[good, bad]).unwrap_err().field, field);
        }
    }

    proptest! {
        // Law: an annulus is the disc less the disc that its hole takes out.
        #[test]
        fn a_hole_is_a_disc_taken_away(outer in 20.0..600.0_f64, share in 0.01..0.99_f64, width in 1.0..200.0_f64, rho in 1.0..10.0_f64) {
            let matter = Matter::Density(Density::from_g_cm3(rho));
            let of = |d, h| body(d, h, width, matter).mass_and_inertia().unwrap();
            let (ring, disc, hole) = (of(outer, outer * share), of(outer, 0.0), of((outer * share).max(1.0), 0.0));
            prop_assume!(outer * share >= 1.0);
            prop_assert!((ring.mass.kg() - disc.mass.kg() + hole.mass.kg()).abs() < 1e-12 * disc.mass.kg());
            prop_assert!((ring.inertia.kg_m2() - disc.inertia.kg_m2() + hole.inertia.kg_m2()).abs() < 1e-12 * disc.inertia.kg_m2());
        }
    }
}
