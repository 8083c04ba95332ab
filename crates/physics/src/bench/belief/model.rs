//! The state of a sitting and what its looks say of it: which components there are, what vector each look saw.
//!
//! The state is held in standard units: every component divided by its prior standard deviation, so that the prior is
//! the unit normal. Formulas and their guards: docs/physics.md, "What a look says"; a like model was computed by an
//! independent program for `reference/balance-sessions.json`.

use super::Known;
use super::kernel::{Kernel, Prepared, Stand};
use crate::bench::look::{Look, Reading, Weight};

/// Where each component stands in the state vector. The unbalance is always first, at 0 and 1.
#[derive(Clone, Debug)]
pub(super) struct Layout {
    pub(super) ln_j: Option<usize>,
    pub(super) drift: Option<usize>,
    pub(super) arbor: Option<usize>,
    /// Number of components before the settings of weights.
    pub(super) core: usize,
    /// All components.
    pub(super) dim: usize,
}

/// Share of one weight's setting error in the sum of all vectors: the component and its lever on x and y.
#[derive(Clone, Copy, Debug)]
struct Setting {
    weight: usize,
    at: usize,
    x: f64,
    y: f64,
}

/// The weights at one time: their nominal sum, and the setting errors that they carry.
#[derive(Clone, Debug)]
pub(super) struct Placed {
    x: f64,
    y: f64,
    settings: Vec<Setting>,
}

impl Placed {
    /// Sum of rotor unbalance, weights and their setting errors, g·mm.
    pub(super) fn total(&self, z: &[f64], u_sd: f64) -> [f64; 2] {
        let mut v = [z[0] * u_sd + self.x, z[1] * u_sd + self.y];
        for s in &self.settings {
            v[0] += s.x * z[s.at];
            v[1] += s.y * z[s.at];
        }
        v
    }

    /// What each weight's setting error adds to the sum: the weight's place in the list and its vector, g·mm.
    pub(super) fn setting_errors<'a>(&'a self, z: &'a [f64]) -> impl Iterator<Item = (usize, [f64; 2])> + 'a {
        self.settings.iter().map(|s| (s.weight, [s.x * z[s.at], s.y * z[s.at]]))
    }
}

/// A look made ready for evaluation.
#[derive(Clone, Debug)]
pub(super) struct Ready {
    placed: Placed,
    /// cos and sin of the angle by which the arbor's error is turned on the rotor.
    arbor_turn: (f64, f64),
    kernel: Kernel,
    /// Components that had appeared by this look; the ones after it are still prior.
    pub(super) active: usize,
    /// Density of a misreading, in the units of this look's density.
    pub(super) misread_density: f64,
    /// Log density of a reading that fits exactly.
    pub(super) peak: f64,
    /// No state has a higher log density than this.
    pub(super) bound: f64,
}

/// The whole model of a sitting.
#[derive(Clone, Debug)]
pub(super) struct Model {
    pub(super) layout: Layout,
    pub(super) looks: Vec<Ready>,
    pub(super) now: Placed,
    pub(super) u_sd: f64,
    pub(super) stand: Stand,
    pub(super) ln_j_sd: f64,
    drift_sd: f64,
    arbor_sd: f64,
    setting_sd: f64,
}

impl Model {
    pub(super) fn new(known: &Known, looks: &[Look], weights_now: &[Weight]) -> Self {
        let mut core = 2;
        let mut next = |wanted: bool, n: usize| {
            wanted.then(|| {
                core += n;
                core - n
            })
        };
        let ln_j = next(known.ln_j_sd > 0.0, 1);
        let drift = next(known.drift_sd.g_mm() > 0.0, 1);
        let arbor = next(known.arbor_sd.g_mm() > 0.0, 2);
        let layout = Layout { ln_j, drift, arbor, core, dim: core };
        let mut model = Self {
            layout,
            looks: Vec::with_capacity(looks.len()),
            now: Placed { x: 0.0, y: 0.0, settings: vec![] },
            u_sd: known.unbalance_sd.g_mm(),
            stand: Stand { j: known.inertia.g_mm_s2(), tc: known.dry_friction.g_mm(), u_sd: known.unbalance_sd.g_mm() },
            ln_j_sd: known.ln_j_sd,
            drift_sd: known.drift_sd.g_mm(),
            arbor_sd: known.arbor_sd.g_mm(),
            setting_sd: known.setting_sd.rad(),
        };
        let mut settings: Vec<Option<(Weight, usize)>> = vec![];
        for look in looks {
            let ready = model.ready(look, &mut settings);
            model.looks.push(ready);
        }
        model.now = model.place(weights_now, &mut settings);
        model
    }

    /// Sum the weights; a weight that stands where it stood keeps its setting error, a moved one gets a new one.
    fn place(&mut self, weights: &[Weight], settings: &mut Vec<Option<(Weight, usize)>>) -> Placed {
        settings.resize(settings.len().max(weights.len()), None);
        let mut placed = Placed { x: 0.0, y: 0.0, settings: vec![] };
        for (weight, (w, slot)) in weights.iter().zip(settings.iter_mut()).enumerate() {
            let [x, y] = w.vector().g_mm();
            placed.x += x;
            placed.y += y;
            if self.setting_sd > 0.0 && w.moment.g_mm() > 0.0 {
                let at = match slot {
                    Some((before, at)) if same_place(before, w) => *at,
                    _ => {
                        self.layout.dim += 1;
                        self.layout.dim - 1
                    }
                };
                *slot = Some((*w, at));
                // A small turn moves the weight across its radius.
                placed.settings.push(Setting { weight, at, x: -y * self.setting_sd, y: x * self.setting_sd });
            }
        }
        placed
    }

    fn ready(&mut self, look: &Look, settings: &mut Vec<Option<(Weight, usize)>>) -> Ready {
        let mut placed = self.place(&look.weights, settings);
        if let Some(trial) = look.trial {
            let [x, y] = trial.vector().g_mm();
            placed.x += x;
            placed.y += y;
        }
        let (s, c) = (-look.turned_on_arbor.rad()).sin_cos();
        let Prepared { kernel, misread_density, peak, bound } = self.stand.prepare(&look.reading);
        Ready { placed, arbor_turn: (c, s), kernel, active: self.layout.dim, misread_density, peak, bound }
    }

    /// A reading made ready to weigh states with.
    pub(super) fn kernel(&self, reading: &Reading) -> Kernel {
        self.stand.prepare(reading).kernel
    }

    /// A state in g·mm (and ln) brought to standard units, setting errors zero.
    pub(super) fn standardised(&self, state: &[f64]) -> Vec<f64> {
        let layout = &self.layout;
        assert_eq!(state.len(), layout.core, "one value for each unknown");
        let mut sd = vec![self.u_sd; 2];
        sd.extend(layout.ln_j.map(|_| self.ln_j_sd));
        sd.extend(layout.drift.map(|_| self.drift_sd));
        sd.extend(layout.arbor.into_iter().flat_map(|_| [self.arbor_sd; 2]));
        let mut z: Vec<f64> = state.iter().zip(sd).map(|(v, sd)| v / sd).collect();
        z.resize(layout.dim, 0.0);
        z
    }

    pub(super) fn ln_j_scale(&self, z: &[f64]) -> f64 {
        self.layout.ln_j.map_or(0.0, |i| z[i] * self.ln_j_sd)
    }

    pub(super) fn drift(&self, z: &[f64]) -> f64 {
        self.layout.drift.map_or(0.0, |i| z[i] * self.drift_sd)
    }

    pub(super) fn arbor(&self, z: &[f64]) -> Option<[f64; 2]> {
        self.layout.arbor.map(|i| [z[i] * self.arbor_sd, z[i + 1] * self.arbor_sd])
    }

    pub(super) fn inertia_g_mm_s2(&self, z: &[f64]) -> f64 {
        self.stand.j * self.ln_j_scale(z).exp()
    }

    /// The residual now: rotor, weights, setting errors; the arbor's own error is not part of it.
    pub(super) fn residual_now(&self, z: &[f64]) -> [f64; 2] {
        self.now.total(z, self.u_sd)
    }

    /// The sum of all vectors that turned the rotor in `look`, g·mm.
    pub(super) fn seen(&self, look: &Ready, z: &[f64]) -> [f64; 2] {
        let mut u = look.placed.total(z, self.u_sd);
        if let Some([ex, ey]) = self.arbor(z) {
            let (c, s) = look.arbor_turn;
            u[0] += c * ex - s * ey;
            u[1] += s * ex + c * ey;
        }
        u
    }

    /// Log density of what was seen in `look`, given the state.
    pub(super) fn log_density(&self, look: &Ready, z: &[f64]) -> f64 {
        let u = self.seen(look, z);
        look.kernel.log_density(&self.stand, u, self.drift(z), self.ln_j_scale(z))
    }
}

fn same_place(a: &Weight, b: &Weight) -> bool {
    a.moment == b.moment && a.at.from(b.at).rad().abs() < 1e-9
}
