//! Set screws: what they hold by their point, and what they hold by friction alone.
//!
//! In: thread, torque, point. Out: forces in N. Tip force T/(K·d), K about 0.2 (Shigley, from memory); friction 0.10 to 0.15 a face
//! (common practice, no source). Tabled holding powers of cup points are for a steel shaft; on brass count friction only.

use super::super::thread::Thread;
use crate::{Fault, Ranged};

/// Newtons in a pound-force. Source: international pound 1959 and standard gravity, exact.
const N_PER_LBF: f64 = 4.448_221_615_260_5;
/// Newton metres in a pound-force inch.
const N_M_PER_LBF_IN: f64 = N_PER_LBF * 0.0254;

/// Holding power of an inch cup-point screw in a steel shaft.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CupPoint {
    /// Size, inch.
    pub size: &'static str,
    /// Seating torque, lbf·in.
    pub torque_lbf_in: f64,
    /// Axial holding power, lbf.
    pub holds_lbf: f64,
    /// The same by a contradicting chart, lbf: the cautious value, where there is one.
    pub cautious_lbf: Option<f64>,
}

/// Source: Shigley, Mechanical Engineering Design, table of set screws (from memory); cautious values from a published chart.
pub const CUP_POINTS: [CupPoint; 5] = [
    CupPoint { size: "#10", torque_lbf_in: 36.0, holds_lbf: 540.0, cautious_lbf: None },
    CupPoint { size: "1/4", torque_lbf_in: 87.0, holds_lbf: 1000.0, cautious_lbf: Some(400.0) },
    CupPoint { size: "5/16", torque_lbf_in: 165.0, holds_lbf: 1500.0, cautious_lbf: Some(700.0) },
    CupPoint { size: "3/8", torque_lbf_in: 290.0, holds_lbf: 2000.0, cautious_lbf: Some(1000.0) },
    CupPoint { size: "1/2", torque_lbf_in: 620.0, holds_lbf: 3000.0, cautious_lbf: Some(1500.0) },
];

impl CupPoint {
    /// Seating torque, N·m.
    pub fn torque_n_m(&self) -> f64 {
        self.torque_lbf_in * N_M_PER_LBF_IN
    }
    /// Holding power, N.
    pub fn holds_n(&self) -> f64 {
        self.holds_lbf * N_PER_LBF
    }
}

/// Holding power of the inch cup-point screw with this size, by its point, N.
///
/// # Errors
/// A [`Fault`] for a size that is not tabled.
pub fn cup_point_holds_n(size: &str, point: Point) -> Result<f64, Fault> {
    CUP_POINTS.iter().find(|c| c.size == size).map(|c| c.holds_n() * point.factor()).ok_or_else(|| {
        let sizes: Vec<&str> = CUP_POINTS.iter().map(|c| c.size).collect();
        Fault::new("size", size, sizes.join(", "), "no holding power of this size is tabled")
    })
}

/// Torques of metric set screws.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SeatingTorque {
    /// Thread.
    pub thread: &'static str,
    /// Seating torque of alloy steel screws, N·m (a maker's table).
    pub seating_n_m: Option<f64>,
    /// Proof torque, class 45H, N·m (ISO 898-5).
    pub proof_n_m: f64,
}

/// By rising size.
pub const SEATING_TORQUES: [SeatingTorque; 7] = [
    SeatingTorque { thread: "M3", seating_n_m: Some(0.92), proof_n_m: 0.9 },
    SeatingTorque { thread: "M4", seating_n_m: Some(2.2), proof_n_m: 2.5 },
    SeatingTorque { thread: "M5", seating_n_m: Some(4.0), proof_n_m: 5.0 },
    SeatingTorque { thread: "M6", seating_n_m: Some(7.2), proof_n_m: 8.5 },
    SeatingTorque { thread: "M8", seating_n_m: Some(17.0), proof_n_m: 20.0 },
    SeatingTorque { thread: "M10", seating_n_m: Some(33.0), proof_n_m: 40.0 },
    SeatingTorque { thread: "M12", seating_n_m: None, proof_n_m: 65.0 },
];

/// Seating torque of a metric set screw, N·m; none where none is tabled.
pub fn seating_torque_n_m(thread: &Thread) -> Option<f64> {
    SEATING_TORQUES.iter().find(|s| s.thread == thread.name).and_then(|s| s.seating_n_m)
}

/// Point of a set screw.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Point {
    /// Cup.
    Cup,
    /// Cone.
    Cone,
    /// Flat.
    Flat,
    /// Dog, in a groove or hole.
    Dog,
    /// Oval.
    Oval,
}

impl Point {
    /// Holding power over that of a cup point. Source: a fastener maker's engineering guide.
    pub const fn factor(self) -> f64 {
        match self {
            Self::Cup => 1.0,
            Self::Cone => 1.07,
            Self::Flat | Self::Dog => 0.92,
            Self::Oval => 0.9,
        }
    }
}

/// Static factor to put on tabled holding powers, from and to. Source: set screw holding power sheet (4 to 8 for moving loads).
pub const STATIC_FACTOR: (f64, f64) = (1.5, 2.0);

/// Set screws that clamp a slide by friction.
#[derive(Clone, Debug, PartialEq)]
pub struct SetScrews {
    /// Thread.
    pub thread: &'static Thread,
    /// How many.
    pub count: u32,
    /// Torque of each, N·m.
    pub torque_n_m: f64,
    /// Torque factor K of T = K·F·d (0.1 to 0.4; 0.2 dry).
    pub torque_factor: f64,
    /// Friction at a face (0.02 to 0.6; 0.10 to 0.15).
    pub friction: f64,
    /// Friction faces of each: the tip, and the wall opposite if the slide is pressed on it.
    pub faces: u32,
}

impl SetScrews {
    /// Force of one tip, N.
    ///
    /// # Errors
    /// A [`Fault`] for a torque above the screw's proof torque, or values out of range.
    pub fn tip_force_n(&self) -> Result<f64, Fault> {
        let proof = SEATING_TORQUES.iter().find(|s| s.thread == self.thread.name).map(|s| s.proof_n_m);
        let why = match proof {
            Some(_) => "above its proof torque a set screw of class 45H gives way at its socket (ISO 898-5)",
            None => "torque of one set screw",
        };
        let torque = self.torque_n_m.within("screws.torque_n_m", 0.01, proof.unwrap_or(100.0), "N·m", why)?;
        let k = self.torque_factor.within("screws.torque_factor", 0.1, 0.4, "", "T = K·F·d: dry 0.2, oiled 0.15")?;
        Ok(torque * 1e3 / (k * self.thread.d_mm))
    }

    /// What all of them hold by friction, N.
    ///
    /// # Errors
    /// As [`SetScrews::tip_force_n`].
    pub fn friction_n(&self) -> Result<f64, Fault> {
        let mu = self.friction.within("screws.friction", 0.02, 0.6, "", "metal on metal, oily: 0.10 to 0.15")?;
        let n = f64::from(self.count).within("screws.count", 1.0, 12.0, "", "set screws")?;
        let faces = f64::from(self.faces).within("screws.faces", 1.0, 2.0, "", "the tip, and the wall opposite if it is pressed on")?;
        Ok(n * faces * mu * self.tip_force_n()?)
    }
}
