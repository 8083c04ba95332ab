//! One stand out of the tolerances: a point of the unit cube becomes departures from the drawing.
//!
//! In: tolerances, index and seed. Out: a [`Made`].

use super::super::made::Made;
use crate::{Fault, Ranged};
use statrs::distribution::{ContinuousCDF, Normal};

/// How values lie within a tolerance.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// Anywhere alike.
    Even,
    /// Normal with half the half width as standard deviation, cut at the limits: what lies beyond is scrapped.
    Bell,
}

/// What is held of one kind of dimension.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tolerance {
    /// Half width, in the unit of its kind; 0: exact.
    pub half_width: f64,
    /// How values lie within.
    pub shape: Shape,
    /// Correlation of both saddles, 0 to 1: 1 when one set-up makes both alike, 0 when each is made alone.
    pub together: f64,
}

/// Kinds of dimensions.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Which {
    /// Diameter of the bores, µm.
    Bore,
    /// Diameter of the arbor where it lies, µm.
    Arbor,
    /// Place of the ports to the side, mm.
    PortAside,
    /// Diameter of the ports, mm.
    Port,
    /// Diameter of the jets, mm.
    Jet,
    /// Ovality of the bores: the half width is its largest amplitude, at any angle, µm.
    Oval,
    /// Second bore off the line of the first, to the side and in height, µm.
    Line,
    /// Slope of the bores against the arbor, both ways, µrad.
    Askew,
    /// Supply pressure, bar.
    Supply,
}

impl Which {
    /// All, in the order of their coordinates.
    pub const ALL: [Self; 9] =
        [Self::Bore, Self::Arbor, Self::PortAside, Self::Port, Self::Jet, Self::Oval, Self::Line, Self::Askew, Self::Supply];

    /// How many coordinates it has.
    pub(super) const fn coordinates(self) -> usize {
        match self {
            Self::Supply => 1,
            Self::Oval | Self::Askew => 4,
            _ => 2,
        }
    }

    /// Its first coordinate.
    pub(super) fn first(self) -> usize {
        Self::ALL.iter().take_while(|w| **w != self).map(|w| w.coordinates()).sum()
    }

    const fn limits(self) -> (&'static str, f64, &'static str) {
        match self {
            Self::Bore => ("bore_um", 200.0, "µm"),
            Self::Arbor => ("arbor_um", 200.0, "µm"),
            Self::PortAside => ("port_aside_mm", 5.0, "mm"),
            Self::Port => ("port_mm", 2.0, "mm"),
            Self::Jet => ("jet_mm", 1.0, "mm"),
            Self::Oval => ("oval_um", 50.0, "µm"),
            Self::Line => ("line_um", 500.0, "µm"),
            Self::Askew => ("askew_urad", 5000.0, "µrad"),
            Self::Supply => ("supply_bar", 5.0, "bar"),
        }
    }

    /// Its field's name at the door.
    pub const fn field(self) -> &'static str {
        self.limits().0
    }

    /// Unit of its half width.
    pub const fn unit(self) -> &'static str {
        self.limits().2
    }
}

/// Number of coordinates in all.
pub(super) const COORDINATES: usize = 21;

/// 2⁻²⁵.
const HALF_STEP: f64 = 1.0 / 33_554_432.0;

/// Tolerances of all kinds, in the order of [`Which::ALL`].
#[derive(Clone, Debug, PartialEq)]
pub struct Tolerances([Tolerance; 9]);

impl Tolerances {
    /// From one for each kind.
    pub fn new(of: impl Fn(Which) -> Tolerance) -> Self {
        Self(Which::ALL.map(of))
    }

    /// Of one kind.
    pub fn of(&self, which: Which) -> Tolerance {
        self.0[which as usize]
    }

    /// Some of them by a factor wider or closer; no wider than may be asked.
    pub fn scaled(&self, which: &[Which], factor: f64) -> Self {
        Self(Which::ALL.map(|w| {
            let t = self.of(w);
            if which.contains(&w) { Tolerance { half_width: (t.half_width * factor).min(w.limits().1), ..t } } else { t }
        }))
    }

    pub(super) fn check(&self) -> Result<(), Fault> {
        for w in Which::ALL {
            let (field, most, unit) = w.limits();
            let t = self.of(w);
            t.half_width.within(
                &format!("tolerances.{field}.half_width"),
                0.0,
                most,
                unit,
                "half width of what the shop holds; 0: exact",
            )?;
            t.together.within(&format!("tolerances.{field}.together"), 0.0, 1.0, "", "correlation of both saddles")?;
        }
        if self.0.iter().all(|t| t.half_width == 0.0) {
            let why = "with every dimension exact all stands are alike: give at least one a half width";
            return Err(Fault::new("tolerances", "all exact", "one half width above 0", why));
        }
        Ok(())
    }

    /// The departures of a point.
    pub(super) fn made(&self, point: &[f64; COORDINATES]) -> Made {
        let normal = Normal::standard();
        // Both saddles: the second follows the first as far as their set-up goes.
        let pair = |which: Which, offset: usize| -> [f64; 2] {
            let at = which.first() + offset;
            let rho = self.of(which).together;
            if rho == 0.0 {
                return [point[at], point[at + 1]];
            }
            let z = [normal.inverse_cdf(point[at]), normal.inverse_cdf(point[at + 1])];
            [point[at], normal.cdf(rho * z[0] + (1.0 - rho * rho).sqrt() * z[1])]
        };
        let off = |which: Which, u: f64| -> f64 {
            let t = self.of(which);
            match t.shape {
                Shape::Even => t.half_width * (2.0 * u - 1.0),
                Shape::Bell => {
                    let edge = normal.cdf(-2.0);
                    0.5 * t.half_width * normal.inverse_cdf(edge + u * (1.0 - 2.0 * edge))
                }
            }
        };
        let both = |which: Which| pair(which, 0).map(|u| off(which, u));
        let askew = [pair(Which::Askew, 0), pair(Which::Askew, 2)].map(|p| p.map(|u| off(Which::Askew, u)));
        Made {
            bore_um: both(Which::Bore),
            arbor_um: both(Which::Arbor),
            length_mm: [0.0; 2],
            port_aside_mm: both(Which::PortAside),
            port_mm: both(Which::Port),
            jet_mm: both(Which::Jet),
            oval_um: pair(Which::Oval, 0).map(|u| off(Which::Oval, u).abs()),
            oval_deg: pair(Which::Oval, 2).map(|u| 180.0 * u - 90.0),
            // Of one line there is nothing to correlate: side and height are two set-ups.
            second_off_um: [0, 1].map(|k| off(Which::Line, point[Which::Line.first() + k])),
            // Coordinates pair the two saddles in each way; a made thing has both ways for each saddle.
            askew_urad: [0, 1].map(|i| [askew[0][i], askew[1][i]]),
            supply_bar: off(Which::Supply, point[Which::Supply.first()]),
        }
    }
}

/// Point number `i` of the sequence, each coordinate inside (0, 1).
pub(super) fn point(i: u32, seed: u32) -> [f64; COORDINATES] {
    // Many coordinates of one sequence lie unevenly two by two at a few thousand points. Sets of four, each a sequence of its own by its seed, do
    // not: what one set does shows in another only by chance (padding: Burley, Practical Hash-based Owen Scrambling, 2020).
    let of_set = |d: usize| seed.wrapping_add((d as u32 / 4).wrapping_mul(0x9E37_79B9));
    // The sequence has steps of 2⁻²⁴ on [0, 1): half a step keeps both ends open.
    std::array::from_fn(|d| (f64::from(sobol_burley::sample(i, d as u32 % 4, of_set(d))) + HALF_STEP).min(1.0 - HALF_STEP))
}
