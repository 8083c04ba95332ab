//! The arbor on its pair of saddles: who carries what, and what it does when the bores' axes are not in one line.
//!
//! In: two saddles, the span, the rotor's weight and where it hangs, how bores and arbor stand askew. Out: a [`PairFloat`].
//! The arbor is rigid and straight but for given slopes at the saddles (its sag); four unknowns, x and y at each saddle, by Newton.

use super::air::Air;
use super::float::Duty;
use super::geometry::{Pose, Saddle};
use super::mesh::Fineness;
use super::pressure::{Film, FilmState};
use crate::quantity::{STANDARD_GRAVITY, Unbalance};
use crate::{Fault, Ranged};
use nalgebra::{Matrix4, Vector4};

/// Two saddles and the rotor on them. z runs from the first saddle to the second.
#[derive(Clone, Debug, PartialEq)]
pub struct Pair {
    /// First and second saddle.
    pub saddles: [Saddle; 2],
    /// From the middle of the first to the middle of the second along the axis, m.
    pub span_m: f64,
    /// Mass of the whole rotor, kg.
    pub mass_kg: f64,
    /// Its centre of mass from the middle of the first saddle towards the second, m; the load share follows by the lever.
    pub centre_m: f64,
    /// How far the second bore lies to the right of the line that is meant, and above it, m.
    pub second_off_m: [f64; 2],
    /// Slope of the arbor's surface against each bore's axis when the arbor lies on the line that is meant, rad: right and up.
    /// Bore out of line and sag of the arbor add up in it.
    pub askew_rad: [[f64; 2]; 2],
    /// Slope of the stand across, down to the right, rad.
    pub cross_slope_rad: f64,
    /// The air in the room.
    pub air: Air,
    /// Supply, gauge, Pa.
    pub supply_pa: f64,
}

/// The arbor afloat on both.
#[derive(Clone, Debug, PartialEq)]
pub struct PairFloat {
    /// The film in each saddle.
    pub states: [FilmState; 2],
    /// Share of the weight that each carries.
    pub load_share: [f64; 2],
    /// Stiffness −∂Q/∂q, N/m: q = x, y at the first, x, y at the second; Q the forces there that do the same work.
    pub stiffness_n_m: [[f64; 4]; 4],
    /// Whether it comes back when moved a little any way.
    pub stable: bool,
    /// Thinnest film of each saddle with the arbor parallel to the bore in the same place, less the thinnest film as it is: what the tilt eats, m.
    pub film_lost_to_tilt_m: [f64; 2],
    /// Linear solves that it took from the single floats.
    pub solves: usize,
}

impl PairFloat {
    /// x, y at the first saddle, x, y at the second, m: a start for a pair that is nearly alike.
    pub(crate) fn place(&self) -> Vector4<f64> {
        let [a, b] = [0, 1].map(|i: usize| self.states[i].pose);
        Vector4::new(a.x_m, a.y_m, b.x_m, b.y_m)
    }

    /// Mass flow of both, kg/s.
    pub fn flow_kg_s(&self) -> f64 {
        self.states.iter().map(|s| s.flow_kg_s).sum()
    }

    /// Free air of both, litres a minute (ISO 8778).
    pub fn flow_l_min_anr(&self) -> f64 {
        Air::litres_per_minute(self.flow_kg_s())
    }

    /// Share of a compressor's delivery (litres a minute of free air) that the pair takes; above 1 the pressure falls.
    ///
    /// # Errors
    /// A [`Fault`] for a delivery that is not positive.
    pub fn share_of_compressor(&self, delivery_l_min: f64) -> Result<f64, Fault> {
        let d = delivery_l_min.within(
            "compressor_l_min",
            1.0,
            1e5,
            "l/min",
            "free air that the compressor delivers, by its plate (not its intake)",
        )?;
        Ok(self.flow_l_min_anr() / d)
    }

    /// Drift torque of both as an unbalance (torque / g).
    pub fn drift(&self) -> Unbalance {
        Unbalance::from_kg_m(self.states.iter().map(|s| s.torque_n_m).sum::<f64>() / STANDARD_GRAVITY)
    }

    /// Drag torque of both at 1 rad/s, N·m·s.
    pub fn drag_n_m_s(&self) -> f64 {
        self.states.iter().map(|s| s.drag_n_m_s).sum()
    }
}

impl Pair {
    /// Two equal saddles in line, the rotor's mass midway.
    pub fn in_line(saddle: &Saddle, span_m: f64, mass_kg: f64, air: Air, supply_pa: f64) -> Self {
        Self {
            saddles: [saddle.clone(), saddle.clone()],
            span_m,
            mass_kg,
            centre_m: 0.5 * span_m,
            second_off_m: [0.0; 2],
            askew_rad: [[0.0; 2]; 2],
            cross_slope_rad: 0.0,
            air,
            supply_pa,
        }
    }

    /// Loads by the lever, N: first and second.
    pub fn loads_n(&self) -> [f64; 2] {
        let weight = self.mass_kg * STANDARD_GRAVITY;
        let second = weight * self.centre_m / self.span_m;
        [weight - second, second]
    }

    fn check(&self) -> Result<(), Fault> {
        self.mass_kg.within("mass_kg", 0.01, 1000.0, "kg", "mass of the whole rotor: wheel, adapter and arbor")?;
        let least = 0.5e3 * (self.saddles[0].length_m + self.saddles[1].length_m);
        (self.span_m * 1e3).within("span_mm", least, 5000.0, "mm", "from middle to middle of the saddles, which must not overlap")?;
        for (i, load) in self.loads_n().into_iter().enumerate() {
            if load <= 0.0 {
                return Err(Fault::new(
                    "centre_mm",
                    self.centre_m * 1e3,
                    format!("more than 0 and less than {} mm", self.span_m * 1e3),
                    format!(
                        "the centre of mass hangs outside the saddles: the arbor would lift off the {} one; move the saddle or hang the wheel between them",
                        ["first", "second"][i]
                    ),
                ));
            }
        }
        self.cross_slope_rad.to_degrees().within("cross_slope_mm_m", -6.0, 6.0, "deg", "the stand leans too far across")?;
        for (name, askew) in ["first_askew_urad", "second_askew_urad"].into_iter().zip(&self.askew_rad) {
            for (k, v) in askew.iter().enumerate() {
                (v * 1e6).within(&format!("{name}[{k}]"), -20_000.0, 20_000.0, "urad", "slope of arbor against bore")?;
            }
        }
        for (v, way) in self.second_off_m.iter().zip(["x", "y"]) {
            (v * 1e6).within(&format!("second_off_{way}_um"), -2000.0, 2000.0, "um", "how far the second bore lies out of line")?;
        }
        Ok(())
    }

    /// Poses of the arbor in both bores for x, y at each saddle.
    fn poses(&self, q: &Vector4<f64>) -> [Pose; 2] {
        let slope = [0, 1].map(|k| (q[2 + k] + self.second_off_m[k] - q[k]) / self.span_m);
        [0, 1].map(|i| Pose {
            x_m: q[2 * i],
            y_m: q[2 * i + 1],
            tilt_x_rad: slope[0] + self.askew_rad[i][0],
            tilt_y_rad: slope[1] + self.askew_rad[i][1],
        })
    }

    /// The lowest stable float of the arbor on both saddles.
    ///
    /// # Errors
    /// A [`Fault`] of the saddle that can't carry its share (its field within `saddles[i]`), for a centre of mass outside the span, or when
    /// the bores stand so askew that the arbor touches.
    pub fn float(&self) -> Result<PairFloat, Fault> {
        let start = self.cold_start()?;
        self.float_near(&self.films()?, start)
    }

    /// Meshes of both saddles.
    pub(crate) fn films(&self) -> Result<[Film; 2], Fault> {
        let film = |i: usize| Film::new(&self.saddles[i], Fineness::NORMAL).map_err(|f| f.inside(&format!("saddles[{i}]")));
        Ok([film(0)?, film(1)?])
    }

    /// Each saddle's own lowest float under its share.
    fn cold_start(&self) -> Result<Vector4<f64>, Fault> {
        self.check()?;
        let loads = self.loads_n();
        // One saddle alone first: whose share does not float is told, and its pose is the start.
        let mut start = Vector4::zeros();
        for i in 0..2 {
            let duty = Duty::new(self.air, self.supply_pa, loads[i]).leaning(self.cross_slope_rad);
            let alone = self.saddles[i].floats(&duty).map_err(|f| f.inside(&format!("saddles[{i}]")))?;
            start[2 * i] = alone.lowest().state.pose.x_m;
            start[2 * i + 1] = alone.lowest().state.pose.y_m;
        }
        Ok(start)
    }

    /// The balance near a start: x, y at the first saddle, x, y at the second, m.
    pub(crate) fn float_near(&self, films: &[Film; 2], start: Vector4<f64>) -> Result<PairFloat, Fault> {
        let loads = self.loads_n();
        let lean = self.cross_slope_rad.tan();
        let want = Vector4::new(-loads[0] * lean, loads[0], -loads[1] * lean, loads[1]);
        let thinnest = |q: &Vector4<f64>| {
            let poses = self.poses(q);
            films[0].saddle().least_film_m(poses[0]).min(films[1].saddle().least_film_m(poses[1]))
        };
        let mut q = start;
        // Askew bores can make the single floats touch: lift until there is some film, else there is no start.
        for _ in 0..40 {
            if thinnest(&q) > 0.5e-6 {
                break;
            }
            q[1] += 1e-6;
            q[3] += 1e-6;
        }
        for solves in 1..=30 {
            if thinnest(&q) <= 0.0 {
                return Err(self.askew(&q, "touches a bore: align the saddles, or give more clearance"));
            }
            let poses = self.poses(&q);
            let state = |i: usize| Ok::<_, Fault>(films[i].shape_with::<4>(poses[i])?.at(&self.air, self.supply_pa));
            let states = [state(0)?, state(1)?];
            let (force, slopes) = self.work(&states);
            let lack = want - force;
            let weight = loads[0] + loads[1];
            if lack.norm() <= 1e-6 * weight {
                let k = -slopes;
                let stable = k.complex_eigenvalues().iter().all(|e| e.re > 0.0);
                return Ok(PairFloat {
                    load_share: [0, 1].map(|i| states[i].forces[1] / weight),
                    film_lost_to_tilt_m: [0, 1].map(|i| {
                        let level = Pose { tilt_x_rad: 0.0, tilt_y_rad: 0.0, ..poses[i] };
                        self.saddles[i].least_film_m(level) - states[i].least_film_m
                    }),
                    stiffness_n_m: std::array::from_fn(|r| std::array::from_fn(|c| k[(r, c)])),
                    stable,
                    states,
                    solves,
                });
            }
            let Some(step) = slopes.lu().solve(&lack) else { break };
            let now = thinnest(&q);
            let most = 0.5 * self.saddles[0].clearance_m.max(q[1].abs());
            let mut share = (most / step.norm()).min(1.0);
            while thinnest(&(q + step * share)) < 0.4 * now && share > 1e-5 {
                share *= 0.5;
            }
            q += step * share;
        }
        Err(self.askew(&q, "does not float on both, though each would carry its share alone: align the saddles"))
    }

    /// The fault of the saddle in which the arbor stands more askew.
    fn askew(&self, q: &Vector4<f64>, but: &str) -> Fault {
        let tilts = self.poses(q).map(|p| p.tilt_x_rad.hypot(p.tilt_y_rad) * 1e6);
        let i = usize::from(tilts[1] > tilts[0]);
        Fault::new(
            ["first_askew_urad", "second_askew_urad"][i],
            tilts[i],
            "a slope of arbor against bore, um/m, that leaves a film everywhere",
            format!("as the bores stand to each other the arbor {but}"),
        )
    }

    /// Forces on x, y at both saddles that do the work of all film pressures, and their slopes.
    ///
    /// The arbor's slope is (second − first)/span, so each film's moment acts at the saddles as a couple.
    fn work(&self, states: &[FilmState; 2]) -> (Vector4<f64>, Matrix4<f64>) {
        let (mut force, mut slopes) = (Vector4::zeros(), Matrix4::zeros());
        let s = 1.0 / self.span_m;
        for (i, state) in states.iter().enumerate() {
            // The pose of saddle i as a linear map of q: rows x, y, tilt x, tilt y.
            let mut map = Matrix4::zeros();
            map[(0, 2 * i)] = 1.0;
            map[(1, 2 * i + 1)] = 1.0;
            for k in 0..2 {
                map[(2 + k, k)] = -s;
                map[(2 + k, 2 + k)] = s;
            }
            force += map.transpose() * Vector4::from(state.forces);
            let local = Matrix4::from_fn(|r, c| state.slopes[r][c]);
            slopes += map.transpose() * local * map;
        }
        (force, slopes)
    }
}
