//! The wheel head as a mass on a spring: how far a residual unbalance makes it vibrate.
//!
//! In: stiffness, natural frequency (or moving mass), damping; an unbalance and a speed. Out: amplitude, force, phase lag.
//!
//! The head is the single degree of freedom that matters for the face: up and down, at the wheel. Several modes near the
//! speed want a real measurement in place of this; trim in place does not need it.

use crate::quantity::{Angle, Length, Mass, RotationalSpeed, Unbalance};
use crate::rotor::checked_speed_rad_s;
use crate::{Fault, Ranged};
use std::f64::consts::TAU;

/// A wheel head's response, up and down at the wheel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Head {
    stiffness_n_m: f64,
    natural_rad_s: f64,
    damping_ratio: f64,
}

/// What a rotating unbalance does to the head.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Vibration {
    /// Half of the travel of the head, up and down.
    pub amplitude: Length,
    /// Rotating force `F = U·Ω²`, N.
    pub force_n: f64,
    /// Amplitude over the sag that the same force would make at rest.
    pub magnification: f64,
    /// How far the head's top point comes behind the heavy side's.
    pub lag: Angle,
}

impl Head {
    /// A head of known stiffness (0.1 to 10,000 N/µm) and natural frequency (1 to 10,000 Hz), with its damping ratio (0.001 to 2).
    ///
    /// # Errors
    /// A [`Fault`] for a value out of these ranges.
    pub fn of_frequency(stiffness_n_um: f64, natural_hz: f64, damping_ratio: f64) -> Result<Self, Fault> {
        let f =
            natural_hz.within("natural_frequency_hz", 1.0, 10_000.0, "Hz", "natural frequency of the wheel head, from a tap recording")?;
        Ok(Self {
            stiffness_n_m: checked_stiffness(stiffness_n_um)?,
            natural_rad_s: TAU * f,
            damping_ratio: checked_damping(damping_ratio)?,
        })
    }

    /// A head of known stiffness and moving mass (0.1 kg to 10 t): `ω₀² = k/m`.
    ///
    /// # Errors
    /// A [`Fault`] for a value out of range, or a mass and a stiffness that belong together nowhere (1 to 10,000 Hz).
    pub fn of_mass(stiffness_n_um: f64, moving: Mass, damping_ratio: f64) -> Result<Self, Fault> {
        let m = moving.kg().within("moving_mass_kg", 0.1, 10_000.0, "kg", "mass that moves with the wheel head")?;
        let natural_hz = (checked_stiffness(stiffness_n_um)? / m).sqrt() / TAU;
        if !(1.0..=10_000.0).contains(&natural_hz) {
            let allowed = "a mass with which the head's natural frequency is 1 to 10000 Hz";
            return Err(Fault::new("moving_mass_kg", m, allowed, "stiffness and mass belong together nowhere: check their units"));
        }
        Self::of_frequency(stiffness_n_um, natural_hz, damping_ratio)
    }

    /// Natural frequency, Hz.
    pub fn natural_hz(&self) -> f64 {
        self.natural_rad_s / TAU
    }

    /// Vibration forced by an unbalance at a speed.
    ///
    /// `X = (U·Ω²/k)/√((1 − r²)² + (2ζr)²)`, lag `atan2(2ζr, 1 − r²)`, r = Ω/ω₀.
    ///
    /// # Errors
    /// A [`Fault`] for an unbalance that is negative or above 1e9 g·mm, or a speed out of range.
    ///
    /// Source: S. S. Rao, Mechanical Vibrations, forced vibration of a damped single degree of freedom, rotating unbalance.
    pub fn vibration(&self, unbalance: Unbalance, speed: RotationalSpeed) -> Result<Vibration, Fault> {
        unbalance.g_mm().within("residual_g_mm", 0.0, 1e9, "g·mm", "the size of an unbalance is not negative")?;
        let omega = checked_speed_rad_s(speed)?;
        let r = omega / self.natural_rad_s;
        let (in_phase, quadrature) = (1.0 - r * r, 2.0 * self.damping_ratio * r);
        let magnification = 1.0 / in_phase.hypot(quadrature);
        let force_n = unbalance.kg_m() * omega * omega;
        Ok(Vibration {
            amplitude: Length::from_m(force_n / self.stiffness_n_m * magnification),
            force_n,
            magnification,
            lag: Angle::from_rad(quadrature.atan2(in_phase)),
        })
    }

    /// The unbalance that makes the head vibrate so much: [`Self::vibration`] solved for U.
    ///
    /// # Errors
    /// A [`Fault`] for a speed out of range, or an amplitude outside 0 to 100 mm.
    pub fn unbalance_for(&self, amplitude: Length, speed: RotationalSpeed) -> Result<Unbalance, Fault> {
        let x = amplitude.mm().within("amplitude_mm", 0.0, 100.0, "mm", "amplitude of a wheel head")? * 1e-3;
        let per_g_mm = self.vibration(Unbalance::from_g_mm(1.0), speed)?.amplitude.m();
        Ok(Unbalance::from_g_mm(x / per_g_mm))
    }
}

fn checked_stiffness(stiffness_n_um: f64) -> Result<f64, Fault> {
    let why = "stiffness of the wheel head at the wheel: a known pull over what the indicator shows; there is no usual value";
    Ok(stiffness_n_um.within("stiffness_n_um", 0.1, 10_000.0, "N/µm", why)? * 1e6)
}

fn checked_damping(ratio: f64) -> Result<f64, Fault> {
    ratio.within(
        "damping_ratio",
        0.001,
        2.0,
        "",
        "share of critical damping, from how a tap dies out; a machine head often has 0.02 to 0.1",
    )
}
