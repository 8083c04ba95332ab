//! One balance of the arbor on the film: Newton from a start near it.
//!
//! In: a meshed [`Film`], the [`Duty`] asked of it, a start. Out: a [`Float`] with its stiffness, and whether it is stable.

use super::air::Air;
use super::geometry::Pose;
use super::pressure::{Film, FilmState, check_supply};
use crate::quantity::{STANDARD_GRAVITY, Unbalance};
use crate::{Fault, Ranged};

/// What is asked of a saddle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Duty {
    /// The air in the room.
    pub air: Air,
    /// Supply pressure, gauge, Pa: 0.05 bar to 16 bar.
    pub supply_pa: f64,
    /// Load on the saddle downwards, N; more than zero.
    pub load_n: f64,
    /// Load to the right, N: weight times slope where the stand leans across.
    pub right_n: f64,
    /// Slope of the arbor's axis along the bore's, to the right, rad.
    pub tilt_x_rad: f64,
    /// The same, upwards, rad.
    pub tilt_y_rad: f64,
}

impl Duty {
    /// A load straight down on a saddle whose bore is parallel to the arbor.
    pub fn new(air: Air, supply_pa: f64, load_n: f64) -> Self {
        Self { air, supply_pa, load_n, right_n: 0.0, tilt_x_rad: 0.0, tilt_y_rad: 0.0 }
    }

    /// The same load with the stand leaning to the right by a slope (rad), which must be small.
    pub fn leaning(self, slope_rad: f64) -> Self {
        Self { right_n: self.load_n * slope_rad.tan(), ..self }
    }

    /// Check the ranges.
    ///
    /// # Errors
    /// A [`Fault`] for a supply at or below ambient, a load of zero or upwards, a slope or tilt that is not small.
    pub fn check(&self) -> Result<(), Fault> {
        self.air.check()?;
        check_supply(self.supply_pa)?;
        self.load_n.within("load_n", 0.01, 1e4, "N", "load on one saddle: without load nothing holds the arbor down on the film")?;
        (self.right_n / self.load_n).atan().to_degrees().within("cross_slope_mm_m", -6.0, 6.0, "deg", "the stand leans too far across")?;
        for (field, tilt) in [("tilt_x_urad", self.tilt_x_rad), ("tilt_y_urad", self.tilt_y_rad)] {
            (tilt * 1e6).within(field, -20_000.0, 20_000.0, "urad", "slope of the arbor's axis against the bore's")?;
        }
        Ok(())
    }

    pub(crate) fn pose(&self, x_m: f64, y_m: f64) -> Pose {
        Pose { x_m, y_m, tilt_x_rad: self.tilt_x_rad, tilt_y_rad: self.tilt_y_rad }
    }
}

/// A balance of load and film.
#[derive(Clone, Debug, PartialEq)]
pub struct Float {
    /// The film there.
    pub state: FilmState,
    /// Stiffness −∂F/∂(x, y), N/m: rows force right, up; columns x, y.
    pub stiffness_n_m: [[f64; 2]; 2],
    /// Whether the arbor comes back when moved a little.
    pub stable: bool,
    /// Linear solves that it took.
    pub solves: usize,
}

impl Float {
    fn of(state: FilmState, solves: usize) -> Self {
        let s = &state.slopes;
        let k = [[-s[0][0], -s[0][1]], [-s[1][0], -s[1][1]]];
        let stable = k[0][0] + k[1][1] > 0.0 && k[0][0] * k[1][1] > k[0][1] * k[1][0];
        Self { state, stiffness_n_m: k, stable, solves }
    }

    /// Stiffness against a load that grows downwards, N/m.
    pub fn stiffness_up_n_m(&self) -> f64 {
        self.stiffness_n_m[1][1]
    }

    /// Stiffness against a push to the side, N/m.
    pub fn stiffness_side_n_m(&self) -> f64 {
        self.stiffness_n_m[0][0]
    }

    /// Drift torque of this saddle told as an unbalance (torque / g).
    pub fn drift(&self) -> Unbalance {
        Unbalance::from_kg_m(self.state.torque_n_m / STANDARD_GRAVITY)
    }
}

/// Residual force at which a balance counts as found, as a share of the load.
///
/// The side force decides the drift: x = F/K there, so it must be far smaller than the 0.1 % that the load itself would need.
const FOUND: f64 = 1e-6;

impl Film {
    /// The balance near `start`, stable or not.
    ///
    /// # Errors
    /// A [`Fault`] from [`Duty::check`], or for `load_n` if no balance lies near the start.
    pub fn float_near(&self, duty: &Duty, start: Pose) -> Result<Float, Fault> {
        duty.check()?;
        let mut at = [start.x_m, start.y_m];
        let mut found = None;
        for solves in 1..=25 {
            let state = self.shape_with::<2>(duty.pose(at[0], at[1]))?.at(&duty.air, duty.supply_pa);
            let lack = [-duty.right_n - state.forces[0], duty.load_n - state.forces[1]];
            if lack[0].hypot(lack[1]) <= FOUND * duty.load_n {
                found = Some(Float::of(state, solves));
                break;
            }
            let s = &state.slopes;
            let determinant = s[0][0] * s[1][1] - s[0][1] * s[1][0];
            let step = [(lack[0] * s[1][1] - lack[1] * s[0][1]) / determinant, (lack[1] * s[0][0] - lack[0] * s[1][0]) / determinant];
            if !step[0].is_finite() || !step[1].is_finite() {
                break;
            }
            // Never more than half of the thinnest film in one step, nor off to where no film is thin.
            let most = 0.5 * self.saddle().clearance_m.max(at[1]);
            let mut share = (most / step[0].hypot(step[1])).min(1.0);
            let thinnest = |a: [f64; 2]| self.thinnest(duty.pose(a[0], a[1]));
            let now = thinnest(at);
            let mut next = [at[0] + share * step[0], at[1] + share * step[1]];
            while thinnest(next) < 0.5 * now && share > 1e-6 {
                share *= 0.5;
                next = [at[0] + share * step[0], at[1] + share * step[1]];
            }
            at = next;
        }
        found.ok_or_else(|| {
            Fault::new(
                "load_n",
                duty.load_n,
                "a load that this film carries near the start",
                "no balance of load and film was found near the start; search all floats instead",
            )
        })
    }

    fn thinnest(&self, pose: Pose) -> f64 {
        let numbers = pose.numbers();
        self.mesh.spots.iter().map(|s| s.film(&numbers)).fold(f64::INFINITY, f64::min)
    }
}
