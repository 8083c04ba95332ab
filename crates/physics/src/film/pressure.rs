//! One saddle's film at one pose: pressure shape, port pressure, forces and torque on the arbor, and how all that changes with the pose.
//!
//! In: a [`Saddle`], meshed once into a [`Film`]; a [`Pose`]. Out: a [`Shape`], which serves every supply pressure, and from it a [`FilmState`].
//!
//! q = p² obeys div(h³ grad q) = 0, so with w = 1 on the hole and 0 on the edges q = p_a² + (p_o² − p_a²)·w: one linear solve a pose.

use super::air::{Air, GAS_CONSTANT, feed_area, nozzle_flow, nozzle_slope};
use super::geometry::{Pose, Saddle};
use super::mesh::{Fineness, Mesh};
use super::solve::{Factors, residuals, slopes};
use crate::numerics::bisect;
use crate::{Fault, Ranged};

/// A saddle's film, meshed: the work that poses and supplies share.
#[derive(Clone, Debug)]
pub struct Film {
    saddle: Saddle,
    pub(crate) mesh: Mesh,
    fineness: Fineness,
}

/// Thickest film, as a share of the bore's radius: beyond it nothing here is thin (Reynolds' equation takes h ≪ R).
const OPEN: f64 = 0.2;

impl Film {
    /// Check the saddle and mesh its film.
    ///
    /// # Errors
    /// A [`Fault`] from [`Saddle::check`], or for a fineness out of its range.
    pub fn new(saddle: &Saddle, fineness: Fineness) -> Result<Self, Fault> {
        saddle.check()?;
        if !(2..=16).contains(&fineness.order) || !(1..=8).contains(&fineness.split) {
            let given = format!("order {}, split {}", fineness.order, fineness.split);
            return Err(Fault::new("fineness", given, "order 2 to 16, split 1 to 8", "no mesh is made beyond that"));
        }
        Ok(Self { saddle: saddle.clone(), mesh: Mesh::new(saddle, fineness), fineness })
    }

    /// A film that no shop could make, for limits in tests.
    #[cfg(test)]
    pub(crate) fn unchecked(saddle: &Saddle, fineness: Fineness) -> Self {
        Self { saddle: saddle.clone(), mesh: Mesh::new(saddle, fineness), fineness }
    }

    /// The saddle.
    pub fn saddle(&self) -> &Saddle {
        &self.saddle
    }

    /// How fine the mesh is.
    pub fn fineness(&self) -> Fineness {
        self.fineness
    }

    /// Number of unknown pressures.
    pub fn unknowns(&self) -> usize {
        self.mesh.unknowns()
    }

    /// Solve for the pressure's shape at a pose.
    ///
    /// # Errors
    /// A [`Fault`] for `y_um` if arbor and bore overlap somewhere, or lie so far apart that no film is thin.
    pub fn shape(&self, pose: Pose) -> Result<Shape<'_>, Fault> {
        self.shape_with::<4>(pose)
    }

    /// As [`Film::shape`], with the derivatives for the first `R` of x, y, tilt x, tilt y only.
    pub(crate) fn shape_with<const R: usize>(&self, pose: Pose) -> Result<Shape<'_>, Fault> {
        let numbers = pose.numbers();
        let film: Vec<f64> = self.mesh.spots.iter().map(|s| s.film(&numbers)).collect();
        let least = film.iter().copied().fold(f64::INFINITY, f64::min);
        let thickest = film.iter().copied().fold(0.0, f64::max);
        let most = OPEN * self.saddle.bore_radius_m();
        if thickest > most {
            let why = "so far out of its bore the arbor has no thin film: lower it, or bring it back to the middle";
            let shown = format!("a film of {:.0} um", thickest * 1e6);
            return Err(Fault::new("y_um", shown, format!("a film of at most {:.0} um, a fifth of the bore's radius", most * 1e6), why));
        }
        let touches = || {
            Fault::new(
                "y_um",
                pose.y_m * 1e6,
                "a pose with some film everywhere",
                format!("arbor and bore overlap: the film is {:.3} um at its thinnest; lift the arbor or straighten it", least * 1e6),
            )
        };
        if least <= 0.0 || least.is_nan() {
            return Err(touches());
        }
        let kappa: Vec<f64> = film[..self.mesh.node_count].iter().map(|h| h * h * h).collect();
        let factors = Factors::<f64>::new(&self.mesh, &kappa, None).ok_or_else(touches)?;
        let w = factors.solve(None, 1.0);
        let spots = &self.mesh.spots;
        let changes: [Vec<f64>; R] = residuals(&self.mesh, &w, |k| {
            let by = 3.0 * film[k] * film[k];
            let modes = spots[k].modes();
            std::array::from_fn(|r| by * modes[r])
        });
        let balance: [Vec<f64>; 1] = residuals(&self.mesh, &w, |k| [kappa[k]]);
        let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>();
        let conductance = dot(&w, &balance[0]);
        let mut conductance_slope = [0.0; 4];
        let mut w_slope = Vec::with_capacity(R);
        for (r, mut change) in changes.into_iter().enumerate() {
            // Γ = wᵀ A w and A w = 0 on free nodes: the slope of w adds nothing.
            conductance_slope[r] = dot(&w, &change);
            for c in &mut change {
                *c = -*c;
            }
            w_slope.push(factors.solve(Some(&change), 0.0));
        }
        Ok(Shape {
            film: self,
            pose,
            height: film,
            w,
            w_slope,
            conductance,
            conductance_slope,
            balance: balance.into_iter().next().unwrap_or_default(),
        })
    }
}

/// The pressure's shape at one pose: w, from which every supply's pressures follow.
#[derive(Clone, Debug)]
pub struct Shape<'f> {
    film: &'f Film,
    pose: Pose,
    /// Film thickness at nodes and hole points, m.
    pub(crate) height: Vec<f64>,
    pub(crate) w: Vec<f64>,
    w_slope: Vec<Vec<f64>>,
    conductance: f64,
    conductance_slope: [f64; 4],
    balance: Vec<f64>,
}

/// Everything about the film at one pose and one supply.
#[derive(Clone, Debug, PartialEq)]
pub struct FilmState {
    /// Where the arbor lies.
    pub pose: Pose,
    /// Supply pressure, gauge, Pa.
    pub supply_pa: f64,
    /// Pressure at the port, absolute, Pa.
    pub port_pa: f64,
    /// Mass flow, kg/s.
    pub flow_kg_s: f64,
    /// Force on the arbor to the right, up (N), and moments about the saddle's middle: Σ z·force to the right, up (N·m).
    pub forces: [f64; 4],
    /// Slopes of [`FilmState::forces`] (rows) with x, y, tilt x, tilt y (columns); columns that were not asked for hold zero.
    pub slopes: [[f64; 4]; 4],
    /// Drift torque on the arbor by the pressure flow's shear, N·m, counter-clockwise (down to right).
    pub torque_n_m: f64,
    /// Drag torque at 1 rad/s, N·m·s.
    pub drag_n_m_s: f64,
    /// Thinnest film, m.
    pub least_film_m: f64,
    /// Film averaged round the rim of the port, m.
    pub(crate) rim_film_m: f64,
}

impl FilmState {
    /// Force up, N.
    pub fn force_up_n(&self) -> f64 {
        self.forces[1]
    }

    /// Force to the right, N.
    pub fn force_right_n(&self) -> f64 {
        self.forces[0]
    }

    /// Free air in litres a minute at 20 °C and 1 bar (ISO 8778).
    pub fn flow_l_min_anr(&self) -> f64 {
        Air::litres_per_minute(self.flow_kg_s)
    }
}

/// A four-sided piece of the film with its values on a grid of `per_side` × `per_side` points, row by row; neighbours share their border.
#[derive(Clone, Debug, PartialEq)]
pub struct PressurePatch {
    /// Points along a side.
    pub per_side: usize,
    /// Angle of each point from straight down to the right, rad.
    pub theta_rad: Vec<f64>,
    /// Place of each point along the axis, m.
    pub z_m: Vec<f64>,
    /// Gauge pressure, Pa.
    pub gauge_pa: Vec<f64>,
    /// Film thickness, m.
    pub film_m: Vec<f64>,
}

/// Range of supply pressures, gauge, bar: a workshop's compressed air.
pub const SUPPLY_BAR: (f64, f64) = (0.05, 16.0);

/// Check a supply pressure.
///
/// # Errors
/// A [`Fault`] for one at or below ambient, or above any workshop's.
pub fn check_supply(supply_pa: f64) -> Result<(), Fault> {
    let bar = supply_pa / 1e5;
    let why = if bar <= 0.0 {
        "the supply is at or below the room's pressure: no air flows into the film; enter the gauge pressure"
    } else {
        "gauge pressure of a workshop's compressed air"
    };
    bar.within("supply_bar", SUPPLY_BAR.0, SUPPLY_BAR.1, "bar", why)?;
    Ok(())
}

impl<'f> Shape<'f> {
    /// The film it belongs to.
    pub fn film(&self) -> &'f Film {
        self.film
    }

    /// The pose it holds for.
    pub fn pose(&self) -> Pose {
        self.pose
    }

    /// Conductance Γ = ∫h³|grad w|², m³: flow is Γ (p_o² − p_a²)/(24 μ R T).
    pub fn conductance_m3(&self) -> f64 {
        self.conductance
    }

    /// Flow into the film at the hole and out at the edges, as conductances, and the largest residual at any free node: what conservation
    /// of mass leaves.
    pub fn balance_m3(&self) -> (f64, f64, f64) {
        let (mut hole, mut edge, mut free) = (0.0, 0.0, 0.0_f64);
        for (b, role) in self.balance.iter().zip(&self.film.mesh.roles) {
            match role {
                super::mesh::Role::Hole => hole += b,
                super::mesh::Role::Edge => edge -= b,
                _ => free = free.max(b.abs()),
            }
        }
        (hole, edge, free)
    }

    fn port(&self, air: &Air, supply_pa: f64) -> (f64, f64, f64) {
        let port = &self.film.saddle.port;
        let from = air.ambient_pa + supply_pa;
        let pose = self.pose.numbers();
        let rim = &self.film.mesh.rim;
        let rim_film = rim.iter().map(|s| s.film(&pose)).sum::<f64>() / rim.len() as f64;
        let area = feed_area(port, rim_film).0;
        let admittance = self.conductance / (24.0 * air.viscosity_pa_s * GAS_CONSTANT * air.temperature_k);
        let surplus = |p: f64| nozzle_flow(air, port.discharge, area, from, p) - admittance * (p * p - air.ambient_pa * air.ambient_pa);
        // At ambient the nozzle flows and the film does not; at the supply the other way round: always a bracket.
        let port_pa = bisect(air.ambient_pa, from, surplus).unwrap_or(from);
        (port_pa, rim_film, admittance)
    }

    /// Pressures and forces at a supply pressure (gauge, Pa), fed through the port.
    pub fn at(&self, air: &Air, supply_pa: f64) -> FilmState {
        let port = &self.film.saddle.port;
        let (port_pa, rim_film, admittance) = self.port(air, supply_pa);
        let from = air.ambient_pa + supply_pa;
        let (area, area_slope) = feed_area(port, rim_film);
        let flow_per_area = nozzle_flow(air, port.discharge, 1.0, from, port_pa);
        let excess = port_pa * port_pa - air.ambient_pa * air.ambient_pa;
        let stiff = 2.0 * admittance * port_pa - nozzle_slope(air, port.discharge, area, from, port_pa);
        let rim = &self.film.mesh.rim;
        let port_slope: [f64; 4] = std::array::from_fn(|r| {
            let rim_slope = rim.iter().map(|s| s.modes()[r]).sum::<f64>() / rim.len() as f64;
            let film_takes = self.conductance_slope[r] / self.conductance * admittance * excess;
            (flow_per_area * area_slope * rim_slope - film_takes) / stiff
        });
        self.state(air, supply_pa, port_pa, admittance * excess, rim_film, &port_slope)
    }

    /// As [`Shape::at`], but with the port's pressure held at the supply: a feed that does not restrict.
    pub fn unrestricted(&self, air: &Air, supply_pa: f64) -> FilmState {
        let (_, rim_film, admittance) = self.port(air, supply_pa);
        let port_pa = air.ambient_pa + supply_pa;
        let flow = admittance * (port_pa * port_pa - air.ambient_pa * air.ambient_pa);
        self.state(air, supply_pa, port_pa, flow, rim_film, &[0.0; 4])
    }

    fn state(&self, air: &Air, supply_pa: f64, port_pa: f64, flow_kg_s: f64, rim_film_m: f64, port_slope: &[f64; 4]) -> FilmState {
        let mesh = &self.film.mesh;
        let ambient = air.ambient_pa;
        let excess = port_pa * port_pa - ambient * ambient;
        let excess_slope = port_slope.map(|s| 2.0 * port_pa * s);
        let radius = self.film.saddle.bore_radius_m();
        let pocket = self.film.saddle.port.pocket_depth_m();
        let modes_asked = self.w_slope.len();
        let (mut forces, mut slopes) = ([0.0; 4], [[0.0; 4]; 4]);
        let (mut torque, mut drag) = (0.0, 0.0);
        let pose = self.pose.numbers();
        for (k, spot) in mesh.spots.iter().enumerate() {
            let in_film = k < mesh.node_count;
            let w = if in_film { self.w[k] } else { 1.0 };
            let p = (ambient * ambient + excess * w).sqrt();
            let modes = spot.modes();
            let load = (p - ambient) * spot.area;
            for (f, m) in forces.iter_mut().zip(modes) {
                *f += load * m;
            }
            let by = spot.area / (2.0 * p);
            for r in 0..modes_asked {
                let dw = if in_film { self.w_slope[r][k] } else { 0.0 };
                let change = by * (excess * dw + w * excess_slope[r]);
                for (row, m) in slopes.iter_mut().zip(modes) {
                    row[r] += change * m;
                }
            }
            // T = −R∫(h/2) ∂p/∂s dA, by parts with p − p_a = 0 on the edges: (1/2)∫(p − p_a) ∂h/∂θ dA over film and hole.
            let film_slope = -(pose[1] + spot.z * pose[3]) * spot.sin - (pose[0] + spot.z * pose[2]) * spot.cos + spot.form_slope;
            torque += 0.5 * load * film_slope;
            let height = self.height[k] + if in_film { 0.0 } else { pocket };
            drag += air.viscosity_pa_s * radius * radius / height * spot.area;
        }
        FilmState {
            pose: self.pose,
            supply_pa,
            port_pa,
            flow_kg_s,
            forces,
            slopes,
            torque_n_m: torque,
            drag_n_m_s: drag,
            least_film_m: self.film.saddle.least_film_m(self.pose),
            rim_film_m,
        }
    }

    /// The pressure over the film, patch by patch, at a state of this shape: for pictures.
    pub fn pressure_patches(&self, air: &Air, state: &FilmState) -> Vec<PressurePatch> {
        let mesh = &self.film.mesh;
        let excess = state.port_pa * state.port_pa - air.ambient_pa * air.ambient_pa;
        let radius = self.film.saddle.bore_radius_m();
        let patch = |local: &[u32]| {
            let of = |f: &dyn Fn(usize) -> f64| local.iter().map(|&k| f(k as usize)).collect::<Vec<f64>>();
            PressurePatch {
                per_side: mesh.rule.len(),
                theta_rad: of(&|k| mesh.places[k][0] / radius),
                z_m: of(&|k| mesh.places[k][1]),
                gauge_pa: of(&|k| (air.ambient_pa * air.ambient_pa + excess * self.w[k]).sqrt() - air.ambient_pa),
                film_m: of(&|k| self.height[k]),
            }
        };
        mesh.nodes.chunks_exact(mesh.per_element()).map(patch).collect()
    }

    /// Drift torque by the definition, the shear of the pressure flow −R∫(h/2) ∂p/∂s dA, N·m, at a port pressure: a check on
    /// [`FilmState::torque_n_m`], which is the same integral by parts.
    pub fn torque_by_shear_n_m(&self, air: &Air, port_pa: f64) -> f64 {
        let mesh = &self.film.mesh;
        let (n, per) = (mesh.rule.len(), mesh.per_element());
        let excess = port_pa * port_pa - air.ambient_pa * air.ambient_pa;
        let d = &mesh.rule.derivative;
        let grid = |f: &dyn Fn(usize) -> f64, local: &[u32]| local.iter().map(|&k| f(k as usize)).collect::<Vec<f64>>();
        let (mut pu, mut pv, mut zu, mut zv) = (vec![0.0; per], vec![0.0; per], vec![0.0; per], vec![0.0; per]);
        let mut sum = 0.0;
        for (e, local) in mesh.nodes.chunks_exact(per).enumerate() {
            slopes(n, d, &grid(&|k| (air.ambient_pa.powi(2) + excess * self.w[k]).sqrt(), local), &mut pu, &mut pv);
            slopes(n, d, &grid(&|k| mesh.places[k][1], local), &mut zu, &mut zv);
            for (k, &node) in local.iter().enumerate() {
                let weights = mesh.rule.weights[k / n] * mesh.rule.weights[k % n];
                // ∂p/∂s · J = p_u z_v − p_v z_u.
                sum += weights * 0.5 * self.height[node as usize] * (pu[k] * zv[k] - pv[k] * zu[k]);
                debug_assert!(mesh.weight[e * per + k] > 0.0);
            }
        }
        -self.film.saddle.bore_radius_m() * sum
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::film::blocks::{Mapping, Patch, Side};
    use crate::film::{Form, Port};
    use std::f64::consts::{PI, TAU};

    #[test]
    fn a_circular_pad_carries_and_leaks_as_the_closed_form_says() {
        // Flat round pad of radius b, fed in the middle by a hole of radius a: Γ = 2π h³/ln(b/a), p² falls with ln r (e.g. Hamrock).
        let (a, b, h) = (1.0e-3, 10.0e-3, 12e-6);
        // A bore so large that its surface is flat over the pad.
        let saddle = Saddle {
            bore_diameter_m: 200.0,
            clearance_m: h,
            length_m: 2.0 * b,
            arc_rad: 2e-4,
            arc_turned_rad: 0.0,
            form: Form::default(),
            port: Port {
                diameter_m: 2.0 * a,
                around_m: 0.0,
                along_m: 0.0,
                jet_diameter_m: None,
                pocket: None,
                volume_m3: 0.0,
                discharge: 0.8,
            },
            rest_gap_m: 1e-6,
        };
        // p = √q bends sharply at the edge: four rings.
        let (sectors, rings) = (8, 4);
        let mut patches = Vec::new();
        for ring in 0..rings {
            for k in 0..sectors {
                let corner = |ring: usize, k: usize| ring * sectors + k % sectors;
                let radius = |ring: usize| a * (b / a).powf(ring as f64 / rings as f64);
                let angle = |k: usize| TAU * k as f64 / sectors as f64;
                let outer = if ring + 1 == rings { Side::Edge } else { Side::Inside };
                let inner = if ring == 0 { Side::Hole } else { Side::Inside };
                patches.push(Patch {
                    corners: [corner(ring, k), corner(ring + 1, k), corner(ring + 1, k + 1), corner(ring, k + 1)],
                    sides: [Side::Inside, outer, Side::Inside, inner],
                    mapping: Mapping::Ring { radii: [radius(ring), radius(ring + 1)], angles: [angle(k), angle(k + 1)] },
                });
            }
        }
        let film = Film { mesh: Mesh::of(&saddle, &patches, 8), saddle, fineness: Fineness { order: 8, split: 1 } };
        let shape = film.shape(Pose::default()).unwrap();
        let conductance = TAU * h.powi(3) / (b / a).ln();
        assert!((shape.conductance_m3() / conductance - 1.0).abs() < 1e-6, "{}", shape.conductance_m3() / conductance);
        let air = Air::default();
        let state = shape.unrestricted(&air, 4e5);
        // Simpson over ln r of (p − p_a)·2π r·r.
        let (pa, po) = (air.ambient_pa, state.port_pa);
        let n = 2000;
        let span = (b / a).ln();
        let ring = |i: i32| {
            let r = a * (span * f64::from(i) / f64::from(n)).exp();
            let p = (pa * pa + (po * po - pa * pa) * (b / r).ln() / span).sqrt();
            (p - pa) * TAU * r * r
        };
        let weight = |i: i32| {
            if i == 0 || i == n {
                1.0
            } else if i % 2 == 1 {
                4.0
            } else {
                2.0
            }
        };
        let load = PI * a * a * (po - pa) + (0..=n).map(|i| weight(i) * ring(i)).sum::<f64>() * span / f64::from(3 * n);
        assert!((state.force_up_n() / load - 1.0).abs() < 1e-5, "{} {load}", state.force_up_n());
    }
}
