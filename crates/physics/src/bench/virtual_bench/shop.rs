//! Rotors, stands and persons drawn at random. All ranges are assumed, without a source.

use crate::bench::belief::Known;
use crate::bench::next_step::Reader;
use crate::bench::placement::GrooveWeight;
use crate::bench::ring::Ring;
use crate::quantity::{Angle, Inertia, RotorAngle, STANDARD_GRAVITY, Seconds, Unbalance, UnbalanceVector};
use rand::RngExt;
use rand_distr::{Distribution, StandardNormal};
use rand_xoshiro::Xoshiro256PlusPlus;
use std::f64::consts::PI;

/// Kind of stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StandKind {
    /// Air saddles: no dry friction, a drift torque of the film.
    AirSaddles,
    /// Hardened flat ways: rolling friction, a drift torque from slope.
    HardenedWays,
}

/// A rotor with its hidden unbalance.
#[derive(Clone, Debug)]
pub struct VirtualRotor {
    /// Hidden unbalance without weights.
    pub unbalance: UnbalanceVector,
    /// Mass on the stand, kg.
    pub mass_kg: f64,
    /// True inertia over g, g·mm·s² (with the rolling part on ways).
    pub true_j_g_mm_s2: f64,
    /// Inertia as the shop has it.
    pub given_inertia: Inertia,
    /// Relative standard deviation of the given inertia.
    pub inertia_rel_sd: f64,
    /// Permissible residual unbalance.
    pub allowance: Unbalance,
    /// Moments of the weights, g·mm.
    pub weight_moments_g_mm: Vec<f64>,
    /// Radius of the arbor where it runs, mm.
    pub arbor_radius_mm: f64,
}

impl VirtualRotor {
    /// Its weight ring: a groove with a graduation each degree, weights of 8° that can't pass one another.
    pub fn ring(&self) -> Ring {
        Ring::Groove {
            weights: self
                .weight_moments_g_mm
                .iter()
                .map(|&q| GrooveWeight { moment: Unbalance::from_g_mm(q), arc: Angle::from_deg(8.0) })
                .collect(),
            graduation: Angle::from_deg(1.0),
            forbidden: vec![],
            no_passing: true,
            fixed: vec![],
        }
    }
}

/// A stand as it truly is.
#[derive(Clone, Copy, Debug)]
pub struct VirtualStand {
    /// Kind.
    pub kind: StandKind,
    /// True drift torque, g·mm, positive counter-clockwise.
    pub drift_g_mm: f64,
    /// Dry friction, g·mm.
    pub dry_friction_g_mm: f64,
    /// What the shop knows of the drift: standard deviation, g·mm.
    pub drift_sd_g_mm: f64,
    /// Smallest unbalance that the stand can show, g·mm.
    pub floor_g_mm: f64,
}

/// How a person reads and sets. All standard deviations.
#[derive(Clone, Copy, Debug)]
pub struct Person {
    /// Of a settle angle.
    pub settle_sd: Angle,
    /// Of a time.
    pub time_sd: Seconds,
    /// Amplitude that swings are let go from.
    pub amplitude: Angle,
    /// Of that amplitude.
    pub amplitude_sd: Angle,
    /// Of the angle to which a weight is set.
    pub setting_sd: Angle,
    /// Longest that one swing is watched.
    pub patience: Seconds,
}

impl Person {
    /// The same, as the next step asks for it.
    pub fn reader(&self) -> Reader {
        Reader {
            settle_sd: self.settle_sd,
            time_sd: self.time_sd,
            amplitude: self.amplitude,
            amplitude_sd: self.amplitude_sd,
            patience: self.patience,
        }
    }
}

/// A person: bearings to 2–5°, times to 0.2 s, amplitude 60° to 3°, weights set to 0.25°, watches for 150 s at most.
pub fn draw_person(rng: &mut Xoshiro256PlusPlus) -> Person {
    Person {
        settle_sd: Angle::from_deg(rng.random_range(2.0..5.0)),
        time_sd: Seconds::new(0.2),
        amplitude: Angle::from_deg(60.0),
        amplitude_sd: Angle::from_deg(3.0),
        setting_sd: Angle::from_deg(0.25),
        patience: Seconds::new(150.0),
    }
}

/// A rotor for a stand of this kind: 125–400 mm wheels on steel adapters, three equal weights that can answer 25–70
/// allowances, unbalance lognormal about 35 % of that. Allowance: `grade` (mm/s) at 30 m/s. The shop knows the inertia to
/// `inertia_rel_sd`.
pub fn draw_rotor(kind: StandKind, grade: f64, inertia_rel_sd: f64, rng: &mut Xoshiro256PlusPlus) -> VirtualRotor {
    let pick = |list: &[f64], rng: &mut Xoshiro256PlusPlus| list[rng.random_range(0..list.len())];
    let diameter = pick(&[125.0, 150.0, 180.0, 200.0, 250.0, 300.0, 350.0, 400.0], rng);
    let width = pick(&[10.0, 13.0, 16.0, 20.0, 25.0, 32.0, 40.0, 50.0, 60.0], rng);
    let bore = diameter * rng.random_range(0.2..0.38);
    let density = rng.random_range(1.9..2.3);
    let annulus = |d: f64, b: f64, w: f64, rho: f64| {
        let mass = rho * 1e-6 * PI / 4.0 * (d * d - b * b) * w;
        (mass, mass * (d * d + b * b) / 8.0 * 1e-6)
    };
    let (wheel_kg, wheel_i) = annulus(diameter, bore, width, density);
    let hub_diameter = bore + rng.random_range(14.0..50.0);
    let hub_kg = rng.random_range(0.8..2.2);
    let hub_i = hub_kg * (0.5 * hub_diameter * 1e-3_f64).powi(2) / 2.0;
    let mass_kg = wheel_kg + hub_kg;
    let arbor_radius_mm = rng.random_range(9.0..15.0);
    let rolling = if kind == StandKind::HardenedWays { mass_kg * (arbor_radius_mm * 1e-3_f64).powi(2) } else { 0.0 };
    let inertia = wheel_i + hub_i + rolling;
    let error: f64 = StandardNormal.sample(rng);

    let omega = 30.0 / (0.5e-3 * diameter);
    let allowance = 1000.0 * grade * mass_kg / omega;
    let capacity = allowance * rng.random_range(25.0..70.0);
    let size = loop {
        let z: f64 = StandardNormal.sample(rng);
        let u = 0.35 * capacity * (0.5 * z).exp();
        if u < 0.95 * capacity {
            break u;
        }
    };
    VirtualRotor {
        unbalance: UnbalanceVector::polar(Unbalance::from_g_mm(size), RotorAngle::from_deg(rng.random_range(0.0..360.0))),
        mass_kg,
        true_j_g_mm_s2: inertia * 1e6 / STANDARD_GRAVITY * (inertia_rel_sd * error).exp(),
        given_inertia: Inertia::from_kg_m2(inertia),
        inertia_rel_sd,
        allowance: Unbalance::from_g_mm(allowance),
        weight_moments_g_mm: vec![capacity / 3.0; 3],
        arbor_radius_mm,
    }
}

/// A stand of this kind for this rotor. Air: drift 0.05–2 g·mm either way. Ways: rolling lever 0.5–5 µm, level to
/// 0.02 mm/m (one standard deviation). Drift and lever are equally likely in every ratio.
pub fn draw_stand(kind: StandKind, rotor: &VirtualRotor, rng: &mut Xoshiro256PlusPlus) -> VirtualStand {
    match kind {
        StandKind::AirSaddles => {
            let sign = if rng.random_bool(0.5) { 1.0 } else { -1.0 };
            VirtualStand {
                kind,
                drift_g_mm: sign * log_uniform(0.05, 2.0, rng),
                dry_friction_g_mm: 0.0,
                drift_sd_g_mm: 1.5,
                floor_g_mm: 0.5,
            }
        }
        StandKind::HardenedWays => {
            let lever = 1000.0 * rotor.mass_kg * rotor.arbor_radius_mm;
            let slope: f64 = StandardNormal.sample(rng);
            let friction = 1000.0 * rotor.mass_kg * log_uniform(0.5e-3, 5e-3, rng);
            VirtualStand {
                kind,
                drift_g_mm: lever * 2e-5 * slope,
                dry_friction_g_mm: friction,
                drift_sd_g_mm: lever * 2e-5,
                floor_g_mm: friction,
            }
        }
    }
}

/// Equally likely in every ratio.
fn log_uniform(low: f64, high: f64, rng: &mut Xoshiro256PlusPlus) -> f64 {
    low * (high / low).powf(rng.random::<f64>())
}

/// What the shop knows of this rotor on this stand before the first look.
pub fn known(rotor: &VirtualRotor, stand: &VirtualStand, person: &Person) -> Known {
    let capacity: f64 = rotor.weight_moments_g_mm.iter().sum();
    Known {
        inertia: rotor.given_inertia,
        ln_j_sd: rotor.inertia_rel_sd,
        unbalance_sd: Unbalance::from_g_mm(0.6 * capacity),
        drift_sd: Unbalance::from_g_mm(stand.drift_sd_g_mm),
        dry_friction: Unbalance::from_g_mm(stand.dry_friction_g_mm),
        arbor_sd: Unbalance::default(),
        setting_sd: person.setting_sd,
        misread_share: 0.01,
    }
}
