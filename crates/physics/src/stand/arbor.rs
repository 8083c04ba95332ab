//! The arbor as a stepped beam on two supports: sag, slopes at the saddles, and what its form adds to the unbalance.
//!
//! In: steps of the shaft, supports, loads. Out: reactions, deflection and slope at any place, exact for the theory.
//!
//! Euler-Bernoulli: E·I·w″ = −M (w downward, M positive when it sags). E·I and the own weight a length are constant on each
//! step, so M is a polynomial of the second degree between any two breaks (steps, loads, supports), and is integrated there in
//! closed form. Shear is left out: for a solid steel shaft it adds about 2.2·(d/l)² to the middle deflection under a middle load
//! (shear coefficient 10/9 of a round section, ν = 0.29; derived). Sag stays fixed in the room and is no unbalance; a
//! bend that turns with the arbor is.

use crate::quantity::STANDARD_GRAVITY;
use crate::{Fault, Ranged};
use std::f64::consts::PI;

/// A step of the shaft, from one end to the other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// Length, mm.
    pub length_mm: f64,
    /// Outer diameter, mm.
    pub outer_diameter_mm: f64,
    /// Bore, mm; 0 for a solid step.
    pub inner_diameter_mm: f64,
}

/// A weight on the shaft.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PointLoad {
    /// Place from the shaft's left end, mm.
    pub at_mm: f64,
    /// Downward force, N.
    pub force_n: f64,
}

/// A stepped arbor on two supports.
#[derive(Clone, Debug, PartialEq)]
pub struct Arbor {
    /// Steps from left to right.
    pub steps: Vec<Step>,
    /// Modulus of elasticity, GPa.
    pub modulus_gpa: f64,
    /// Density, g/cm³; 0 leaves the own weight out.
    pub density_g_cm3: f64,
    /// Places of the two supports from the left end, mm, left one first.
    pub supports_mm: [f64; 2],
    /// Loads.
    pub loads: Vec<PointLoad>,
}

/// The bent arbor.
#[derive(Clone, Debug, PartialEq)]
pub struct Bent {
    pieces: Vec<Piece>,
    /// Upward reactions of the two supports, N; a negative one means that the arbor lifts off there.
    pub reactions_n: [f64; 2],
    /// Mass of the arbor itself, g.
    pub own_mass_g: f64,
    /// Slopes at the two supports, µrad; positive where the arbor falls toward its right end.
    pub support_slopes_urad: [f64; 2],
    /// Largest fall below the line of the supports, between them, µm, and where, mm.
    pub largest_sag: (f64, f64),
    /// Largest rise above that line, between the supports, µm, and where, mm.
    pub largest_uplift: (f64, f64),
}

/// Between two breaks, with x from its left end in mm: M = m0 + v·x − q·x²/2, then slope and fall by integration.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Piece {
    from: f64,
    to: f64,
    /// E·I, N·mm².
    ei: f64,
    moment: f64,
    shear: f64,
    q: f64,
    slope: f64,
    fall: f64,
}

impl Piece {
    fn moment_at(&self, x: f64) -> f64 {
        self.moment + x * (self.shear - 0.5 * self.q * x)
    }
    fn slope_at(&self, x: f64) -> f64 {
        self.slope - x * (self.moment + x * (self.shear / 2.0 - self.q * x / 6.0)) / self.ei
    }
    fn fall_at(&self, x: f64) -> f64 {
        self.fall + self.slope * x - x * x * (self.moment / 2.0 + x * (self.shear / 6.0 - self.q * x / 24.0)) / self.ei
    }
}

/// Second moment of area of a round section, mm⁴: π(D⁴ − d⁴)/64.
pub fn second_moment_mm4(outer_diameter_mm: f64, inner_diameter_mm: f64) -> f64 {
    PI * (outer_diameter_mm.powi(4) - inner_diameter_mm.powi(4)) / 64.0
}

impl Arbor {
    fn length(&self) -> f64 {
        self.steps.iter().map(|s| s.length_mm).sum()
    }

    fn checked(&self) -> Result<(), Fault> {
        if self.steps.is_empty() || self.steps.len() > 200 {
            return Err(Fault::new("steps", self.steps.len(), "1 to 200 steps", "the arbor is made of steps of one diameter each"));
        }
        if self.loads.len() > 200 {
            return Err(Fault::new("loads", self.loads.len(), "up to 200 loads", "wheel, adapter and nut are loads enough"));
        }
        for (i, s) in self.steps.iter().enumerate() {
            let name = |field: &str| format!("steps[{i}].{field}");
            s.length_mm.within(&name("length_mm"), 0.01, 5000.0, "mm", "length of the step")?;
            s.outer_diameter_mm.within(&name("outer_diameter_mm"), 1.0, 1000.0, "mm", "outer diameter of the step")?;
            let most = 0.99 * s.outer_diameter_mm;
            s.inner_diameter_mm.within(&name("inner_diameter_mm"), 0.0, most, "mm", "bore of the step; 0 for a solid one")?;
        }
        self.modulus_gpa.within("modulus_gpa", 1.0, 1000.0, "GPa", "hardened bearing steel 205, carbide about 600")?;
        self.density_g_cm3.within("density_g_cm3", 0.0, 25.0, "g/cm³", "steel 7.81; 0 leaves the own weight out")?;
        let length = self.length();
        let [a, b] = self.supports_mm;
        a.within("supports_mm[0]", 0.0, length, "mm", "the left support lies under the arbor")?;
        b.within("supports_mm[1]", 0.0, length, "mm", "the right support lies under the arbor")?;
        if b - a < 1.0 {
            return Err(Fault::new(
                "supports_mm[1]",
                b,
                format!("at least {} mm", a + 1.0),
                "the right support lies right of the left one",
            ));
        }
        for (i, l) in self.loads.iter().enumerate() {
            l.at_mm.within(&format!("loads[{i}].at_mm"), 0.0, length, "mm", "the load hangs on the arbor")?;
            l.force_n.within(&format!("loads[{i}].force_n"), -1e6, 1e6, "N", "downward force of the load")?;
        }
        Ok(())
    }

    /// Bend it.
    ///
    /// # Errors
    /// A [`Fault`] for a step, support or load that does not fit the arbor, or a value out of the range that stands with its check.
    pub fn bend(&self) -> Result<Bent, Fault> {
        self.checked()?;
        let [a, b] = self.supports_mm;
        // (from, to, E·I, weight a length)
        let mut spans = Vec::new();
        let mut x = 0.0;
        for s in &self.steps {
            let area = PI / 4.0 * (s.outer_diameter_mm.powi(2) - s.inner_diameter_mm.powi(2));
            let q = self.density_g_cm3 * 1e-6 * STANDARD_GRAVITY * area;
            let ei = self.modulus_gpa * 1e3 * second_moment_mm4(s.outer_diameter_mm, s.inner_diameter_mm);
            spans.push((x, x + s.length_mm, ei, q));
            x += s.length_mm;
        }
        let own: f64 = spans.iter().map(|s| s.3 * (s.1 - s.0)).sum();
        let own_moment: f64 = spans.iter().map(|s| s.3 * (s.1 - s.0) * (0.5 * (s.0 + s.1) - a)).sum();
        let whole = own + self.loads.iter().map(|l| l.force_n).sum::<f64>();
        let right = (own_moment + self.loads.iter().map(|l| l.force_n * (l.at_mm - a)).sum::<f64>()) / (b - a);
        let reactions = [whole - right, right];
        let pieces = self.pieces(&spans, reactions);
        let mut bent = Bent {
            pieces,
            reactions_n: reactions,
            own_mass_g: own / STANDARD_GRAVITY * 1e3,
            support_slopes_urad: [0.0; 2],
            largest_sag: (0.0, a),
            largest_uplift: (0.0, a),
        };
        bent.onto_the_supports(a, b);
        Ok(bent)
    }

    /// Integrate from the left end with slope and fall zero there; the rigid part is put right afterwards.
    fn pieces(&self, spans: &[(f64, f64, f64, f64)], reactions: [f64; 2]) -> Vec<Piece> {
        // Forces up at their places; those at one place act together at the start of the piece that begins there.
        let mut forces: Vec<(f64, f64)> = self.loads.iter().map(|l| (l.at_mm, -l.force_n)).collect();
        forces.extend(self.supports_mm.into_iter().zip(reactions));
        let mut breaks: Vec<f64> = spans.iter().flat_map(|s| [s.0, s.1]).chain(forces.iter().map(|f| f.0)).collect();
        breaks.sort_by(f64::total_cmp);
        breaks.dedup();
        let (mut moment, mut shear, mut slope, mut fall) = (0.0, 0.0, 0.0, 0.0);
        let mut out = Vec::with_capacity(breaks.len());
        for ends in breaks.windows(2) {
            let (from, to) = (ends[0], ends[1]);
            let middle = 0.5 * (from + to);
            let Some(&(_, _, ei, q)) = spans.iter().find(|s| s.0 <= middle && middle <= s.1) else { continue };
            shear += forces.iter().filter(|f| f.0 == from).map(|f| f.1).sum::<f64>();
            let piece = Piece { from, to, ei, moment, shear, q, slope, fall };
            let x = to - from;
            (moment, slope, fall) = (piece.moment_at(x), piece.slope_at(x), piece.fall_at(x));
            shear -= q * x;
            out.push(piece);
        }
        out
    }
}

impl Bent {
    fn piece(&self, at_mm: f64) -> &Piece {
        let i = self.pieces.partition_point(|p| p.to < at_mm).min(self.pieces.len() - 1);
        &self.pieces[i]
    }

    /// Fall below the line of the supports at a place, µm.
    pub fn fall_um(&self, at_mm: f64) -> f64 {
        let p = self.piece(at_mm);
        p.fall_at(at_mm - p.from) * 1e3
    }

    /// Slope there, µrad; positive where it falls toward the right end.
    pub fn slope_urad(&self, at_mm: f64) -> f64 {
        let p = self.piece(at_mm);
        p.slope_at(at_mm - p.from) * 1e6
    }

    /// Bending moment there, N·mm; positive where it sags.
    pub fn moment_n_mm(&self, at_mm: f64) -> f64 {
        let p = self.piece(at_mm);
        p.moment_at(at_mm - p.from)
    }

    /// Take the rigid part off so that both supports stand at zero, then find the extremes between them.
    fn onto_the_supports(&mut self, a: f64, b: f64) {
        let (fa, fb) = (self.fall_um(a) * 1e-3, self.fall_um(b) * 1e-3);
        let tilt = (fb - fa) / (b - a);
        for p in &mut self.pieces {
            p.fall -= fa + tilt * (p.from - a);
            p.slope -= tilt;
        }
        self.support_slopes_urad = [self.slope_urad(a), self.slope_urad(b)];
        let turns: Vec<f64> = self
            .pieces
            .iter()
            .filter(|p| p.from >= a && p.to <= b)
            .flat_map(|p| {
                // The slope is a cubic in a piece: between 8 places it turns at most once (three times in all).
                let places: Vec<f64> = (0..=8).map(|k| (p.to - p.from) * f64::from(k) / 8.0).collect();
                let roots = places.windows(2).filter_map(|w| crate::numerics::bisect(w[0], w[1], |x| p.slope_at(x)));
                roots.map(|x| p.from + x).collect::<Vec<_>>()
            })
            .collect();
        for at in turns {
            let fall = self.fall_um(at);
            if fall > self.largest_sag.0 {
                self.largest_sag = (fall, at);
            }
            if -fall > self.largest_uplift.0 {
                self.largest_uplift = (-fall, at);
            }
        }
    }
}

/// Rise of the film's edge over one saddle's length for a slope of the arbor in it, µm: what the bending takes off the film at one end.
pub fn edge_lift_um(slope_urad: f64, saddle_length_mm: f64) -> f64 {
    (slope_urad * saddle_length_mm * 1e-3).abs()
}

/// Tilt of the arbor from unequal floats, mm/m: each saddle sinks by its load over its stiffness.
///
/// Positive where the right (far) end is high. The stiffness is that of the film at about the mean load.
///
/// # Errors
/// A [`Fault`] for a stiffness or distance that is not positive.
pub fn tilt_from_floats_mm_per_m(loads_n: [f64; 2], stiffness_n_per_um: f64, span_mm: f64) -> Result<f64, Fault> {
    let k = stiffness_n_per_um.within("stiffness_n_per_um", 1e-4, 1e5, "N/µm", "stiffness of one saddle's film")?;
    let span = span_mm.within("span_mm", 1.0, 5000.0, "mm", "distance of the saddles")?;
    Ok((loads_n[0] - loads_n[1]) / k / span)
}

/// Unbalance that a bent arbor or a seat that runs out adds, g·mm: the wheel's centre is off the axis by half the total run-out.
///
/// `mass_kg` is what sits on that seat. It turns with the arbor, so that turning the wheel on the arbor separates it (index
/// balancing, ISO 21940-14).
///
/// # Errors
/// A [`Fault`] for a mass or run-out out of range.
pub fn runout_as_unbalance_g_mm(mass_kg: f64, runout_um: f64) -> Result<f64, Fault> {
    let mass = mass_kg.within("mass_kg", 0.0, 1e4, "kg", "mass that sits on the seat")?;
    let runout = runout_um.within("runout_um", 0.0, 1000.0, "µm", "total indicated run-out of the seat against the arbor's journals")?;
    Ok(mass * runout / 2.0)
}
