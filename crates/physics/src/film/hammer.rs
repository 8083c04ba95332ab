//! Pneumatic hammer: does the air stored in pocket and film damp the arbor's bouncing, or drive it?
//!
//! In: the film at a float, the rotor's mass on the saddle. Out: dynamic stiffness over frequency and a verdict with its margin.
//!
//! Linearised (film-physics §9): h = h₀ + H e^{iωt}, p = p₀ + P e^{iωt}. With Q = p₀ P the equation is symmetric:
//! div(h³ grad Q + (3/2) h² H grad q₀) = 12 μ iω ((h/p₀) Q + p₀ H), Q = 0 at the edges; at the hole the perturbed nozzle flow less the
//! perturbed flow into the film fills pocket and hole: iω (V P_o + p_o A H)/(R T).

use super::air::{Air, GAS_CONSTANT, feed_area, nozzle_flow, nozzle_slope};
use super::mesh::Role;
use super::pressure::{FilmState, Shape};
use super::solve::{Factors, residuals};
use crate::{Fault, Ranged};
use nalgebra::Complex;

type C = Complex<f64>;

/// Dynamic stiffness at one frequency, N/m: force right, up (rows) against motion right, up (columns); real part stiffness, imaginary part
/// frequency times damping.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DynamicStiffness {
    /// Angular frequency, rad/s.
    pub omega_rad_s: f64,
    /// −∂F/∂(x, y).
    pub k_n_m: [[C; 2]; 2],
}

impl DynamicStiffness {
    /// Damping against vertical motion, N·s/m.
    pub fn damping_up_n_s_m(&self) -> f64 {
        self.k_n_m[1][1].im / self.omega_rad_s
    }
}

/// Stable, marginal or unstable.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// Bouncing dies out.
    Stable,
    /// Damped by less than [`MARGIN`] of critical.
    Marginal,
    /// Bouncing grows: the saddle hammers.
    Unstable,
}

/// Damping ratio below which a saddle counts as marginal. A choice of ours: one per cent lets a bounce ring for some seventy periods.
pub const MARGIN: f64 = 0.01;

/// A frequency at which the mass can bounce on the film.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounce {
    /// Frequency, Hz.
    pub frequency_hz: f64,
    /// Share of critical damping; negative where the film drives it.
    pub damping_ratio: f64,
    /// Whether up and down (else sideways).
    pub upright: bool,
}

/// The judgement.
#[derive(Clone, Debug, PartialEq)]
pub struct Hammer {
    /// Verdict over all bounces.
    pub verdict: Verdict,
    /// The bounces found, by frequency; empty if none up to the end of the scan.
    pub bounces: Vec<Bounce>,
    /// Least damping ratio over them.
    pub damping_ratio: f64,
    /// Stored volume (pocket, drilled hole) now, m³.
    pub volume_m3: f64,
    /// Stored volume from which on the upright bounce would grow, m³; `None` if none up to 1000 times the film's volume does.
    pub largest_volume_m3: Option<f64>,
    /// Volume of the film itself, m³: common practice keeps the pocket below it (no source).
    pub film_volume_m3: f64,
    /// The scan.
    pub scan: Vec<DynamicStiffness>,
}

/// The film's answer at one frequency, before the port's storage is chosen: everything is linear in the port's pressure.
struct Response {
    omega: f64,
    /// Flow into the film (times 12 μ R T) and forces from Q = 1 on the hole.
    hole_flow: C,
    hole_force: [C; 2],
    /// The same from motion x, y with Q = 0 on the hole.
    motion_flow: [C; 2],
    motion_force: [[C; 2]; 2],
}

/// A film at one state, ready for frequencies.
struct Vibration<'s> {
    shape: &'s Shape<'s>,
    state: &'s FilmState,
    air: Air,
    kappa: Vec<f64>,
    pressure: Vec<f64>,
    /// Nozzle flow by port pressure, and by film at the rim.
    nozzle_by_pressure: f64,
    nozzle_by_film: f64,
    rim_modes: [f64; 2],
    /// ∫ modes over the hole, m².
    hole_modes: [f64; 2],
    hole_film_volume: f64,
}

impl<'s> Vibration<'s> {
    fn new(shape: &'s Shape<'s>, state: &'s FilmState, air: &Air) -> Self {
        let film = shape.film();
        let (mesh, port) = (&film.mesh, &film.saddle().port);
        let ambient = air.ambient_pa;
        let excess = state.port_pa * state.port_pa - ambient * ambient;
        let from = ambient + state.supply_pa;
        let (area, area_slope) = feed_area(port, state.rim_film_m);
        let hole = mesh.node_count..mesh.spots.len();
        let over_hole = |m: usize| hole.clone().map(|k| mesh.spots[k].area * mesh.spots[k].modes()[m]).sum::<f64>();
        let over_rim = |m: usize| mesh.rim.iter().map(|s| s.modes()[m]).sum::<f64>() / mesh.rim.len() as f64;
        Self {
            shape,
            state,
            air: *air,
            kappa: shape.height[..mesh.node_count].iter().map(|h| h * h * h).collect(),
            pressure: shape.w.iter().map(|w| (ambient * ambient + excess * w).sqrt()).collect(),
            nozzle_by_pressure: nozzle_slope(air, port.discharge, area, from, state.port_pa),
            nozzle_by_film: nozzle_flow(air, port.discharge, 1.0, from, state.port_pa) * area_slope,
            rim_modes: [over_rim(0), over_rim(1)],
            hole_modes: [over_hole(0), over_hole(1)],
            hole_film_volume: hole.clone().map(|k| mesh.spots[k].area * shape.height[k]).sum(),
        }
    }

    fn response(&self, omega: f64) -> Option<Response> {
        let mesh = &self.shape.film().mesh;
        let height = &self.shape.height;
        let squeeze = C::new(0.0, 12.0 * self.air.viscosity_pa_s * omega);
        let storage: Vec<C> = (0..mesh.node_count).map(|k| squeeze * (height[k] / self.pressure[k])).collect();
        let factors = Factors::<C>::new(mesh, &self.kappa, Some(&storage))?;
        let ambient = self.air.ambient_pa;
        let excess = self.state.port_pa * self.state.port_pa - ambient * ambient;
        // Motion x, y changes the steady flow by (3/2) h² H grad q₀ and sweeps p₀ H.
        let swept: [Vec<f64>; 2] = residuals(mesh, &self.shape.w, |k| {
            let by = 1.5 * height[k] * height[k] * excess;
            let modes = mesh.spots[k].modes();
            [by * modes[0], by * modes[1]]
        });
        let source = |m: usize| -> Vec<C> {
            (0..mesh.node_count)
                .map(|k| {
                    let spot = &mesh.spots[k];
                    C::from(swept[m][k]) + squeeze * (self.pressure[k] * spot.modes()[m] * spot.area)
                })
                .collect()
        };
        let flow = |q: &[C], source: Option<&[C]>| -> C {
            let part = |f: &dyn Fn(&C) -> f64| -> [Vec<f64>; 1] {
                let values: Vec<f64> = q.iter().map(f).collect();
                residuals(mesh, &values, |k| [self.kappa[k]])
            };
            let (re, im) = (part(&|c| c.re), part(&|c| c.im));
            let hole = (0..mesh.node_count).filter(|&k| mesh.roles[k] == Role::Hole);
            hole.map(|k| C::new(re[0][k], im[0][k]) + storage[k] * q[k] * mesh.spots[k].area + source.map_or(C::default(), |s| s[k])).sum()
        };
        let force = |q: &[C]| -> [C; 2] {
            let mut f = [C::default(); 2];
            for (k, q) in q.iter().enumerate() {
                let spot = &mesh.spots[k];
                let p = q * (spot.area / self.pressure[k]);
                let modes = spot.modes();
                f[0] += p * modes[0];
                f[1] += p * modes[1];
            }
            f
        };
        let on_hole = factors.solve(None, C::from(1.0));
        let over_hole = self.hole_modes.map(|a| C::from(a / self.state.port_pa));
        let mut hole_force = force(&on_hole);
        hole_force[0] += over_hole[0];
        hole_force[1] += over_hole[1];
        let mut whole = Response {
            omega,
            hole_flow: flow(&on_hole, None),
            hole_force,
            motion_flow: [C::default(); 2],
            motion_force: [[C::default(); 2]; 2],
        };
        for m in 0..2 {
            let source = source(m);
            let load: Vec<C> = source.iter().map(|s| -s).collect();
            let q = factors.solve(Some(&load), C::default());
            whole.motion_flow[m] = flow(&q, Some(&source));
            whole.motion_force[m] = force(&q);
        }
        Some(whole)
    }

    /// Dynamic stiffness with a stored volume (without the film's own over the hole).
    fn stiffness(&self, r: &Response, volume_m3: f64) -> DynamicStiffness {
        let gas = GAS_CONSTANT * self.air.temperature_k;
        let i_omega = C::new(0.0, r.omega);
        let per_flow = 1.0 / (12.0 * self.air.viscosity_pa_s * gas);
        // Balance at the hole for P_o: nozzle − film = stored.
        let by_pressure = C::from(self.nozzle_by_pressure)
            - r.hole_flow * (per_flow * self.state.port_pa)
            - i_omega * ((volume_m3 + self.hole_film_volume) / gas);
        let mut k_n_m = [[C::default(); 2]; 2];
        for m in 0..2 {
            let by_motion = C::from(self.nozzle_by_film * self.rim_modes[m])
                - r.motion_flow[m] * per_flow
                - i_omega * (self.state.port_pa * self.hole_modes[m] / gas);
            let q_hole = -by_motion / by_pressure * self.state.port_pa;
            for (row, k) in k_n_m.iter_mut().enumerate() {
                k[m] = -(r.motion_force[m][row] + r.hole_force[row] * q_hole);
            }
        }
        DynamicStiffness { omega_rad_s: r.omega, k_n_m }
    }
}

/// Stiffness against one direction with the mass free in the other: k_aa − k_ab k_ba/(k_bb − M ω²).
fn along(k: &DynamicStiffness, mass: f64, a: usize) -> C {
    let b = 1 - a;
    let other = k.k_n_m[b][b] - mass * k.omega_rad_s * k.omega_rad_s;
    k.k_n_m[a][a] - k.k_n_m[a][b] * k.k_n_m[b][a] / other
}

/// Points of the scan.
const SCAN: i32 = 24;

impl Shape<'_> {
    /// Dynamic stiffness at an angular frequency (rad/s) about a state of this shape, the saddle's own stored volume counted.
    ///
    /// # Errors
    /// A [`Fault`] for a frequency that is not positive or beyond 10⁸ rad/s.
    pub fn dynamic_stiffness(&self, air: &Air, state: &FilmState, omega_rad_s: f64) -> Result<DynamicStiffness, Fault> {
        let omega = omega_rad_s.within("omega_rad_s", 1e-6, 1e8, "rad/s", "angular frequency of the motion")?;
        let vibration = Vibration::new(self, state, air);
        let response = vibration.response(omega).ok_or_else(|| unsolved(omega))?;
        Ok(vibration.stiffness(&response, self.film().saddle().port.stored_volume_m3()))
    }

    /// Judge a float: does a mass on this film bounce itself up?
    ///
    /// Each bounce is a frequency where Re K = M ω²; it dies out where Im K > 0 there.
    ///
    /// # Errors
    /// A [`Fault`] for a mass out of range.
    pub fn hammer(&self, air: &Air, state: &FilmState, mass_kg: f64) -> Result<Hammer, Fault> {
        let mass = mass_kg.within("mass_kg", 1e-3, 1000.0, "kg", "the rotor's mass on this saddle")?;
        let film = self.film();
        let port = &film.saddle().port;
        let volume = port.stored_volume_m3();
        let vibration = Vibration::new(self, state, air);
        let response = |omega: f64| vibration.response(omega).ok_or_else(|| unsolved(omega));
        // From well below the static bounce to above the bounce on a sealed film, which is the stiffest.
        let sealed: f64 = (0..self.w.len()).map(|k| vibration.pressure[k] / self.height[k] * film.mesh.spots[k].area).sum();
        let soft = state.slopes[0][0].abs().min(state.slopes[1][1].abs()).max(1e-6 * sealed);
        let low = 0.1 * (soft / mass).sqrt();
        let high = 1.5 * ((sealed + soft + port.hole_area_m2() * state.port_pa / state.least_film_m) / mass).sqrt();
        let scan: Vec<Response> =
            (0..=SCAN).map(|i| response(low * (high / low).powf(f64::from(i) / f64::from(SCAN)))).collect::<Result<_, Fault>>()?;
        let at = |r: &Response| vibration.stiffness(r, volume);
        let mut bounces = Vec::new();
        for a in [1, 0] {
            let over = |k: &DynamicStiffness| along(k, mass, a).re - mass * k.omega_rad_s * k.omega_rad_s;
            for pair in scan.windows(2) {
                if over(&at(&pair[0])) * over(&at(&pair[1])) > 0.0 {
                    continue;
                }
                let (mut lo, mut hi) = (pair[0].omega, pair[1].omega);
                let rising = over(&at(&pair[0])) < 0.0;
                for _ in 0..12 {
                    let middle = (lo * hi).sqrt();
                    if (over(&at(&response(middle)?)) < 0.0) == rising { lo = middle } else { hi = middle }
                }
                let omega = (lo * hi).sqrt();
                let k = along(&at(&response(omega)?), mass, a);
                bounces.push(Bounce {
                    frequency_hz: omega / std::f64::consts::TAU,
                    damping_ratio: k.im / (2.0 * mass * omega * omega),
                    upright: a == 1,
                });
            }
        }
        bounces.sort_by(|a, b| a.frequency_hz.total_cmp(&b.frequency_hz));
        let damping_ratio = bounces.iter().map(|b| b.damping_ratio).fold(f64::INFINITY, f64::min);
        let damping_ratio = if damping_ratio.is_finite() { damping_ratio } else { 0.0 };
        let film_volume_m3 = film.mesh.spots.iter().zip(&self.height).map(|(s, h)| s.area * h).sum();
        Ok(Hammer {
            verdict: if damping_ratio < 0.0 {
                Verdict::Unstable
            } else if damping_ratio < MARGIN {
                Verdict::Marginal
            } else {
                Verdict::Stable
            },
            damping_ratio,
            volume_m3: volume,
            largest_volume_m3: largest_volume(&vibration, &scan, mass, 1000.0 * film_volume_m3),
            film_volume_m3,
            scan: scan.iter().map(at).collect(),
            bounces,
        })
    }
}

/// Stored volume at which the least damped upright bounce stops being damped, by the scan's points and straight lines between.
fn largest_volume(vibration: &Vibration<'_>, scan: &[Response], mass: f64, most: f64) -> Option<f64> {
    let damping = |volume: f64| -> f64 {
        let k: Vec<(f64, C)> = scan
            .iter()
            .map(|r| {
                let k = along(&vibration.stiffness(r, volume), mass, 1);
                (k.re - mass * r.omega * r.omega, k)
            })
            .collect();
        let crossings = k.windows(2).filter(|p| p[0].0 * p[1].0 <= 0.0);
        crossings
            .map(|p| {
                let t = p[0].0 / (p[0].0 - p[1].0);
                p[0].1.im + t * (p[1].1.im - p[0].1.im)
            })
            .fold(f64::INFINITY, f64::min)
    };
    // Geometric steps to the first that drives, then bisection.
    let start = 1e-6 * most;
    if damping(start) < 0.0 {
        return Some(0.0);
    }
    let (mut good, mut bad) = (start, start);
    while damping(bad) > 0.0 {
        if bad >= most {
            return None;
        }
        good = bad;
        bad *= 2.0;
    }
    for _ in 0..20 {
        let middle = (good * bad).sqrt();
        if damping(middle) > 0.0 { good = middle } else { bad = middle }
    }
    Some((good * bad).sqrt())
}

fn unsolved(omega: f64) -> Fault {
    Fault::new("omega_rad_s", omega, "a frequency at which the film can be solved", "the vibrating film could not be solved here")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::film::{Film, Fineness, Form, Pocket, Port, Pose, Saddle};
    use std::f64::consts::PI;

    fn saddle() -> Saddle {
        Saddle {
            bore_diameter_m: 20.028e-3,
            clearance_m: 14e-6,
            length_m: 24e-3,
            arc_rad: PI,
            arc_turned_rad: 0.0,
            form: Form::default(),
            port: Port {
                diameter_m: 1.2e-3,
                around_m: 0.0,
                along_m: 0.0,
                jet_diameter_m: Some(1.5e-4),
                pocket: None,
                volume_m3: 0.0,
                discharge: 0.8,
            },
            rest_gap_m: 1e-6,
        }
    }

    #[test]
    fn slow_motion_meets_the_static_stiffness() {
        let film = Film::new(&saddle(), Fineness::NORMAL).unwrap();
        let (air, pose) = (Air::default(), Pose { x_m: 1e-6, y_m: 5e-6, ..Pose::default() });
        let shape = film.shape(pose).unwrap();
        let state = shape.at(&air, 4e5);
        let k = shape.dynamic_stiffness(&air, &state, 1e-3).unwrap().k_n_m;
        for (row, slopes) in k.iter().zip(&state.slopes) {
            for (k, s) in row.iter().zip(slopes) {
                assert!((k.re + s).abs() < 1e-6 * state.slopes[1][1].abs(), "{k} {s}");
            }
        }
    }

    #[test]
    fn fast_motion_meets_a_sealed_film() {
        // p h stays as it is at each place: P = −p₀ H/h; at the hole the stored air is squeezed: P_o = −p_o A H/V.
        let mut saddle = saddle();
        saddle.port.volume_m3 = 2e-9;
        let film = Film::new(&saddle, Fineness::CHECK).unwrap();
        let air = Air::default();
        let shape = film.shape(Pose { y_m: 5e-6, ..Pose::default() }).unwrap();
        let state = shape.at(&air, 4e5);
        let vibration = Vibration::new(&shape, &state, &air);
        let mesh = &film.mesh;
        let sealed: f64 =
            (0..mesh.node_count).map(|k| vibration.pressure[k] / shape.height[k] * mesh.spots[k].cos.powi(2) * mesh.spots[k].area).sum();
        let hole = state.port_pa * vibration.hole_modes[1].powi(2) / (2e-9 + vibration.hole_film_volume);
        let k = shape.dynamic_stiffness(&air, &state, 3e6).unwrap().k_n_m[1][1];
        assert!((k.re / (sealed + hole) - 1.0).abs() < 0.02, "{k}, sealed {sealed} and {hole}");
        assert!(k.im.abs() < 0.03 * k.re, "{k}");
    }

    #[test]
    fn a_squeezed_plate_is_sprung_and_damped_as_the_series_says() {
        // Rectangular plate without feed, isothermal: Blech, On isothermal squeeze films, J. Lubr. Tech. 105 (1983) 615, double series.
        // Here a narrow arc of a large bore, weighted by cos²θ; a port so small, with next to no flow, that it does not matter.
        let (l, c) = (30e-3, 20e-6);
        let mut saddle = saddle();
        saddle.bore_diameter_m = 0.2;
        saddle.clearance_m = c;
        saddle.length_m = l;
        saddle.arc_rad = 20_f64.to_radians();
        saddle.port.diameter_m = 5e-5;
        saddle.port.jet_diameter_m = None;
        saddle.port.discharge = 1e-9;
        let film = Film::unchecked(&saddle, Fineness { order: 6, split: 2 });
        let air = Air::default();
        let shape = film.shape(Pose::default()).unwrap();
        let state = shape.at(&air, 1e4);
        let (w, p) = (0.1 * saddle.arc_rad, air.ambient_pa);
        let half = 0.5 * saddle.arc_rad;
        let weight = 0.5 + 0.25 * (2.0 * half).sin() / half;
        for squeeze_number in [0.5, 5.0, 50.0] {
            let omega = squeeze_number * p * c * c / (12.0 * air.viscosity_pa_s * l * l);
            let (mut spring, mut damp) = (0.0, 0.0);
            let (s, aspect) = (squeeze_number / PI.powi(2), (l / w).powi(2));
            for m in (1..400).step_by(2) {
                for n in (1..400).step_by(2) {
                    let (m2, n2) = (f64::from(m * m), f64::from(n * n));
                    let a = m2 + n2 * aspect;
                    let by = 64.0 / PI.powi(4) / (m2 * n2 * (a * a + s * s));
                    spring += by * s * s;
                    damp += by * s * a;
                }
            }
            let k = shape.dynamic_stiffness(&air, &state, omega).unwrap().k_n_m[1][1];
            let scale = p * l * w / c * weight;
            assert!((k.re / (scale * spring) - 1.0).abs() < 0.01, "σ {squeeze_number}: {k} {}", scale * spring);
            assert!((k.im / (scale * damp) - 1.0).abs() < 0.01, "σ {squeeze_number}: {k} {}", scale * damp);
        }
    }

    #[test]
    fn a_large_pocket_drives_and_a_small_one_damps() {
        let air = Air::default();
        let judge = |depth_m: f64| {
            let mut s = saddle();
            s.port.pocket = Some(Pocket::Round { diameter_m: 8e-3, depth_m });
            let floats = s.floats(&crate::film::Duty::new(air, 4e5, 15.0)).unwrap();
            let film = Film::new(&s, Fineness::COARSE).unwrap();
            let shape = film.shape(floats.lowest().state.pose).unwrap();
            shape.hammer(&air, &shape.at(&air, 4e5), 15.0 / 9.80665).unwrap()
        };
        let (small, large) = (judge(1e-5), judge(5e-3));
        assert_eq!(small.verdict, Verdict::Stable, "{:?}", small.bounces);
        assert_eq!(large.verdict, Verdict::Unstable, "{:?}", large.bounces);
        assert!(large.scan.iter().any(|k| k.damping_up_n_s_m() < 0.0));
        // The margin told for the small one lies between the two, and a pocket just past it drives.
        let limit = small.largest_volume_m3.unwrap();
        assert!(limit > small.volume_m3 && limit < large.volume_m3, "{limit}");
        let area = PI * 16e-6;
        assert!(judge(limit / area * 1.1).damping_ratio < 0.0 && judge(limit / area * 0.9).damping_ratio > 0.0);
    }
}
