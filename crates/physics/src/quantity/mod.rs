//! Quantities as types: what a number means is said once, at the border.
//!
//! In: numbers in a named unit. Out: the same in another unit; frames ([`RotorAngle`], [`RoomAngle`]) that cannot be
//! mixed up. Stored in SI; no checks of range here (rooms check what they need).

mod text;
mod vector;

pub use text::{Dimension, parse_quantity};
pub use vector::{RoomAngle, RotorAngle, UnbalanceVector};

/// Standard acceleration of free fall, m/s². Source: ISO 80000-3 / CGPM 1901, exact by definition.
pub const STANDARD_GRAVITY: f64 = 9.80665;

/// Millimetres in an inch, exact. Source: international yard and pound agreement 1959.
pub const MM_PER_INCH: f64 = 25.4;

/// Grams in an avoirdupois ounce, exact. Source: international yard and pound agreement 1959.
pub const GRAMS_PER_OUNCE: f64 = 28.349523125;

macro_rules! scalar {
    ($(#[$doc:meta])* $name:ident { $($(#[$udoc:meta])* $from:ident / $to:ident = $factor:expr;)+ }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
        pub struct $name(f64);
        impl $name {
            $(
                $(#[$udoc])*
                pub const fn $from(v: f64) -> Self { Self(v * $factor) }
                $(#[$udoc])*
                pub const fn $to(self) -> f64 { self.0 / $factor }
            )+
        }
    };
}

scalar! {
    /// A length. Stored in metres.
    Length {
        /// Metres.
        from_m / m = 1.0;
        /// Millimetres.
        from_mm / mm = 1e-3;
    }
}
scalar! {
    /// A mass. Stored in kilograms.
    Mass {
        /// Kilograms.
        from_kg / kg = 1.0;
        /// Grams.
        from_g / g = 1e-3;
    }
}
scalar! {
    /// Size of a static unbalance: mass times distance of the mass centre from the axis. Also a torque divided by g.
    ///
    /// Stored in kg·m; shops say g·mm (1 g·mm = 1e-6 kg·m). ISO 21940-2, "unbalance".
    Unbalance {
        /// Gram millimetres.
        from_g_mm / g_mm = 1e-6;
        /// Kilogram metres.
        from_kg_m / kg_m = 1.0;
    }
}
scalar! {
    /// Moment of inertia about the arbor's axis. Stored in kg·m².
    Inertia {
        /// Kilogram square metres.
        from_kg_m2 / kg_m2 = 1.0;
        /// Inertia divided by g, in g·mm·s²: with it, a torque told as an unbalance gives an angular acceleration.
        from_g_mm_s2 / g_mm_s2 = 1e-6 * STANDARD_GRAVITY;
    }
}
scalar! {
    /// A time span. Stored in seconds.
    Seconds {
        /// Seconds.
        new / s = 1.0;
    }
}
scalar! {
    /// A plain angle without a frame: an amplitude, a width, a standard deviation. Stored in radians, not wrapped.
    Angle {
        /// Radians.
        from_rad / rad = 1.0;
        /// Degrees.
        from_deg / deg = std::f64::consts::PI / 180.0;
    }
}
scalar! {
    /// Mass of a body over its volume. Stored in kg/m³.
    Density {
        /// Kilograms per cubic metre.
        from_kg_m3 / kg_m3 = 1.0;
        /// Grams per cubic centimetre.
        from_g_cm3 / g_cm3 = 1000.0;
    }
}
scalar! {
    /// Speed of rotation. Stored in rad/s.
    RotationalSpeed {
        /// Radians per second.
        from_rad_s / rad_s = 1.0;
        /// Turns per minute.
        from_rpm / rpm = std::f64::consts::PI / 30.0;
    }
}
scalar! {
    /// Speed along a path, such as that of a wheel's rim. Stored in m/s.
    Velocity {
        /// Metres per second.
        from_m_s / m_s = 1.0;
    }
}
