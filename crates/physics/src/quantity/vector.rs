//! Angles in their frames, and the unbalance vector on the rotor.

use super::{Angle, Unbalance};
use std::ops::{Add, Neg, Sub};

/// An angle on the rotor, counter-clockwise from its zero mark, operator's side.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RotorAngle(f64);

/// An angle in the room, counter-clockwise from straight down, operator's side.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RoomAngle(f64);

macro_rules! frame_angle {
    ($name:ident) => {
        impl $name {
            /// From degrees; any turn is accepted.
            pub fn from_deg(deg: f64) -> Self {
                Self(deg.to_radians())
            }
            /// From radians; any turn is accepted.
            pub const fn from_rad(rad: f64) -> Self {
                Self(rad)
            }
            /// Degrees in [0, 360).
            pub fn deg(self) -> f64 {
                let d = self.0.to_degrees().rem_euclid(360.0);
                if d >= 360.0 { 0.0 } else { d }
            }
            /// Radians as stored, not wrapped.
            pub const fn rad(self) -> f64 {
                self.0
            }
            /// Turned counter-clockwise by `by`.
            pub fn turned(self, by: Angle) -> Self {
                Self(self.0 + by.rad())
            }
            /// The angle from `other` to `self`, wrapped to (−180°, 180°].
            pub fn from(self, other: Self) -> Angle {
                Angle::from_rad(crate::numerics::wrap_pi(self.0 - other.0))
            }
        }
    };
}
frame_angle!(RotorAngle);
frame_angle!(RoomAngle);

impl RotorAngle {
    /// Where a point of the rotor stands in the room when the zero mark stands at `zero_mark`.
    pub fn in_room(self, zero_mark: RoomAngle) -> RoomAngle {
        RoomAngle(self.0 + zero_mark.0)
    }
}

impl RoomAngle {
    /// Which rotor angle stands at this place in the room when the zero mark stands at `zero_mark`.
    pub fn on_rotor(self, zero_mark: RoomAngle) -> RotorAngle {
        RotorAngle(self.0 - zero_mark.0)
    }
}

/// An unbalance vector on the rotor: size and direction, in the rotor's frame.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct UnbalanceVector {
    x: f64,
    y: f64,
}

impl UnbalanceVector {
    /// From components in g·mm: x along the zero mark, y a quarter turn counter-clockwise from it.
    pub fn from_g_mm(x: f64, y: f64) -> Self {
        Self { x: Unbalance::from_g_mm(x).kg_m(), y: Unbalance::from_g_mm(y).kg_m() }
    }

    /// From size and direction.
    pub fn polar(size: Unbalance, at: RotorAngle) -> Self {
        Self { x: size.kg_m() * at.rad().cos(), y: size.kg_m() * at.rad().sin() }
    }

    /// Components in g·mm.
    pub fn g_mm(self) -> [f64; 2] {
        [Unbalance::from_kg_m(self.x).g_mm(), Unbalance::from_kg_m(self.y).g_mm()]
    }

    /// Size.
    pub fn size(self) -> Unbalance {
        Unbalance::from_kg_m(self.x.hypot(self.y))
    }

    /// Direction; the zero vector points at the zero mark.
    pub fn at(self) -> RotorAngle {
        RotorAngle(self.y.atan2(self.x))
    }

    /// The vector turned counter-clockwise by `by`.
    pub fn turned(self, by: Angle) -> Self {
        let (s, c) = by.rad().sin_cos();
        Self { x: c * self.x - s * self.y, y: s * self.x + c * self.y }
    }
}

impl Add for UnbalanceVector {
    type Output = Self;
    fn add(self, o: Self) -> Self {
        Self { x: self.x + o.x, y: self.y + o.y }
    }
}
impl Sub for UnbalanceVector {
    type Output = Self;
    fn sub(self, o: Self) -> Self {
        Self { x: self.x - o.x, y: self.y - o.y }
    }
}
impl Neg for UnbalanceVector {
    type Output = Self;
    fn neg(self) -> Self {
        Self { x: -self.x, y: -self.y }
    }
}
impl std::iter::Sum for UnbalanceVector {
    fn sum<I: Iterator<Item = Self>>(iter: I) -> Self {
        iter.fold(Self::default(), Add::add)
    }
}
