//! Where the thin-film equations leave their ground: slip, inertia, fast air, rough surfaces.
//!
//! In: a solved film. Out: the numbers that matter and a plain sentence for each that is out of bounds. Limits: film-physics §10.

use super::air::{Air, GAS_CONSTANT};
use super::mesh::Role;
use super::pressure::{FilmState, Shape};
use super::solve::slopes;

/// The numbers by which the model's validity is judged.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Validity {
    /// Mean free path over thinnest film; slip matters above 0.01.
    pub knudsen: f64,
    /// Modified Reynolds number ρ u h²/(μ ℓ): flow at the hole's rim, ℓ the shortest land from there to an edge; inertia matters above 1.
    pub reynolds: f64,
    /// Dynamic pressure ρ u²/2 at the rim over the port's gauge pressure: what the pressure may drop there, which is not computed. Said above
    /// 0.1, a choice of ours.
    pub rim_dynamic: f64,
    /// Largest Mach number at the saddle's edges; the isothermal thin film holds below 0.3.
    pub mach_edge: f64,
    /// Largest Mach number at the hole's rim.
    pub mach_rim: f64,
    /// Thinnest film over the rest gap, which stands for roughness and form; trusted above 3.
    pub film_over_rest_gap: f64,
}

impl Validity {
    /// A sentence for each limit that is left; empty inside all of them.
    pub fn warnings(&self) -> Vec<String> {
        let mut out = Vec::new();
        if self.knudsen > 0.01 {
            out.push(format!(
                "the film is so thin that air slips at the walls: at its thinnest the flow is about {:.0} % more than computed",
                600.0 * self.knudsen
            ));
        }
        if self.reynolds > 1.0 {
            out.push(format!(
                "the air's inertia matters in the film (modified Reynolds number {:.1}, limit 1): flow and load are only rough",
                self.reynolds
            ));
        }
        if self.rim_dynamic > 0.1 {
            out.push(format!(
                "the air rushes into the film: beside the port the pressure may be {:.0} % lower than computed by its inertia",
                100.0 * self.rim_dynamic
            ));
        }
        if self.mach_edge > 0.3 {
            out.push(format!("the air leaves the film at Mach {:.2} (limit 0.3): flow and load are only rough", self.mach_edge));
        }
        if self.mach_rim > 0.3 {
            out.push(format!(
                "the air enters the film at Mach {:.2} (limit 0.3): pressure near the port is lower than computed",
                self.mach_rim
            ));
        }
        if self.film_over_rest_gap < 3.0 {
            out.push(format!(
                "the thinnest film is only {:.1} times the rest gap: roughness and form, which are not in the computation, decide",
                self.film_over_rest_gap
            ));
        }
        out
    }
}

impl Shape<'_> {
    /// Judge a state of this shape.
    pub fn validity(&self, air: &Air, state: &FilmState) -> Validity {
        let mesh = &self.film().mesh;
        let (n, per) = (mesh.rule.len(), mesh.per_element());
        let excess = state.port_pa * state.port_pa - air.ambient_pa * air.ambient_pa;
        let land = self.film().saddle().shortest_land_m();
        let (mut edge, mut rim, mut reynolds, mut rim_dynamic) = (0.0_f64, 0.0_f64, 0.0_f64, 0.0_f64);
        let (mut u, mut du, mut dv) = (vec![0.0; per], vec![0.0; per], vec![0.0; per]);
        for (e, local) in mesh.nodes.chunks_exact(per).enumerate() {
            for (x, &k) in u.iter_mut().zip(local) {
                *x = self.w[k as usize];
            }
            slopes(n, &mesh.rule.derivative, &u, &mut du, &mut dv);
            for (i, &k) in local.iter().enumerate() {
                let k = k as usize;
                let at_edge = match mesh.roles[k] {
                    Role::Edge => true,
                    Role::Hole => false,
                    _ => continue,
                };
                let g = mesh.metric[e * per + i];
                let square = (g[0] * du[i] * du[i] + 2.0 * g[1] * du[i] * dv[i] + g[2] * dv[i] * dv[i]) / mesh.weight[e * per + i];
                let p = if at_edge { air.ambient_pa } else { state.port_pa };
                let h = self.height[k];
                // Mean velocity of the pressure flow: h²/(12 μ)·|grad p|, grad p = grad q/(2p).
                let speed = h * h / (12.0 * air.viscosity_pa_s) * excess * square.max(0.0).sqrt() / (2.0 * p);
                if at_edge {
                    edge = edge.max(speed);
                } else {
                    rim = rim.max(speed);
                    let density = p / (GAS_CONSTANT * air.temperature_k);
                    reynolds = reynolds.max(density * speed * h * h / (air.viscosity_pa_s * land));
                    rim_dynamic = rim_dynamic.max(0.5 * density * speed * speed / (state.port_pa - air.ambient_pa));
                }
            }
        }
        Validity {
            knudsen: air.mean_free_path_m() / state.least_film_m,
            reynolds,
            rim_dynamic,
            mach_edge: edge / air.sound_m_s(),
            mach_rim: rim / air.sound_m_s(),
            film_over_rest_gap: state.least_film_m / self.film().saddle().rest_gap_m,
        }
    }
}
