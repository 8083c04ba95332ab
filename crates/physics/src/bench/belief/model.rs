//! The likelihood of looks: state of rotor and stand in, log density of what was seen out.
//!
//! The state is held in standard units: every component divided by its prior standard deviation, so that the prior is
//! the unit normal. Formulas and their guards: docs/physics.md, "What a look says"; the same model was computed by an
//! independent program for `reference/balance-sessions.json`.

use super::Known;
use crate::bench::look::{Look, Reading, Weight};
use crate::bench::swing::k_of_amplitude;
use crate::numerics::wrap_pi;
use statrs::function::erf::erfc;
use std::f64::consts::{PI, SQRT_2, TAU};

/// Share of every density that is kept broad, so that no look can rule a state out altogether.
const GUARD: f64 = 1e-9;
/// Broad density of a timing, per second: a swing lasts somewhere within 1000 s.
const GUARD_PER_SECOND: f64 = 1e-3;
/// Broad density of a component, per g·mm.
const GUARD_PER_G_MM: f64 = 1e-3;

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
}

/// A reading made ready for evaluation.
#[derive(Clone, Debug)]
pub(crate) enum Kernel {
    Settle {
        s_obs: f64,
        sd: f64,
    },
    /// `k`: sum of 4K over the swings; `slope`: d ln K/dA times the amplitude's sd.
    Timed {
        k: f64,
        slope: f64,
        time: f64,
        sd: f64,
    },
    /// As `Timed`, on a stand that rubs: `a0` first amplitude, `halves` half swings.
    Rubbing {
        a0: f64,
        halves: usize,
        slope: f64,
        time: f64,
        sd: f64,
    },
    StillOut {
        k: f64,
        slope: f64,
        waited: f64,
    },
    Holds {
        nx: f64,
        ny: f64,
        sd: f64,
    },
    Log {
        ln_ratio: f64,
        ln_sd: f64,
        heavy: f64,
        heavy_sd: f64,
        ratio: f64,
        ratio_sd: f64,
    },
    Creeps {
        sign: f64,
        sd: f64,
    },
    Stays {
        sd: f64,
    },
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
    /// Highest log density that a state can have.
    pub(super) peak: f64,
}

/// The whole model of a sitting.
#[derive(Clone, Debug)]
pub(super) struct Model {
    pub(super) layout: Layout,
    pub(super) looks: Vec<Ready>,
    pub(super) now: Placed,
    pub(super) u_sd: f64,
    j: f64,
    ln_j_sd: f64,
    drift_sd: f64,
    arbor_sd: f64,
    tc: f64,
    setting_sd: f64,
}

fn normal_log(r: f64, sd: f64) -> f64 {
    -0.5 * (r / sd).powi(2) - sd.ln() - 0.5 * TAU.ln()
}

fn phi(x: f64) -> f64 {
    0.5 * erfc(-x / SQRT_2)
}

fn guarded(p: f64, broad: f64) -> f64 {
    ((1.0 - GUARD) * p + GUARD * broad).ln()
}

/// Sum of 4K(A) over `swings` full swings whose amplitude falls geometrically from `a0` to `a1`.
pub(crate) fn swing_factor(swings: f64, a0: f64, a1: Option<f64>) -> f64 {
    let Some(a1) = a1 else { return 4.0 * swings * k_of_amplitude(a0) };
    // Whole swings are taken one by one at the amplitude of their middle; odd halves in halves.
    let (n, each) = if swings.fract() == 0.0 { (swings, 4.0) } else { (2.0 * swings, 2.0) };
    (0..n as usize).map(|i| each * k_of_amplitude(a0 * (a1 / a0).powf((i as f64 + 0.5) / n))).sum()
}

/// d ln K/dA at amplitude `a`, per radian: dK/dm from Abramowitz & Stegun 17.3 by a central difference.
fn ln_k_slope(a: f64) -> f64 {
    let h = 1e-5 * a.max(1e-3);
    (k_of_amplitude(a + h).ln() - k_of_amplitude(a - h).ln()) / (2.0 * h)
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
            j: known.inertia.g_mm_s2(),
            ln_j_sd: known.ln_j_sd,
            drift_sd: known.drift_sd.g_mm(),
            arbor_sd: known.arbor_sd.g_mm(),
            tc: known.dry_friction.g_mm(),
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
        for (w, slot) in weights.iter().zip(settings.iter_mut()) {
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
                placed.settings.push(Setting { at, x: -y * self.setting_sd, y: x * self.setting_sd });
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
        let (kernel, misread_density, peak) = self.kernel(&look.reading);
        Ready { placed, arbor_turn: (c, s), kernel, active: self.layout.dim, misread_density, peak }
    }

    /// Kernel, density of a misreading, and highest log density.
    ///
    /// A misreading is taken as: any angle; a time wrong by up to a factor e² either way; a component anywhere within
    /// two prior standard deviations; either outcome of a yes-no look.
    pub(super) fn kernel(&self, reading: &Reading) -> (Kernel, f64, f64) {
        let top = |sd: f64| -(sd.ln()) - 0.5 * TAU.ln();
        match *reading {
            Reading::Settle { bottom, sd } => {
                let sd = sd.rad();
                (Kernel::Settle { s_obs: bottom.rad(), sd }, 1.0 / TAU, top(sd))
            }
            Reading::Swing { swings, amplitude, amplitude_end, amplitude_sd, time, time_sd } => {
                let k = swing_factor(swings, amplitude.rad(), amplitude_end.map(crate::quantity::Angle::rad));
                let slope = ln_k_slope(amplitude.rad()) * amplitude_sd.rad();
                let (time, sd) = (time.s(), time_sd.s());
                if self.tc > 0.0 && amplitude_end.is_some() {
                    let kernel = Kernel::Rubbing { a0: amplitude.rad(), halves: (2.0 * swings).round() as usize, slope, time, sd };
                    return (kernel, 1.0 / (4.0 * time), top(sd.hypot(time * slope)) + 0.02);
                }
                // The width grows with the modelled time, so the highest point lies a hair above that at the time seen.
                (Kernel::Timed { k, slope, time, sd }, 1.0 / (4.0 * time), top(sd.hypot(time * slope)) + 0.02)
            }
            Reading::StillOut { swings, amplitude, amplitude_sd, waited } => {
                let k = swing_factor(swings, amplitude.rad(), None);
                let slope = ln_k_slope(amplitude.rad()) * amplitude_sd.rad();
                (Kernel::StillOut { k, slope, waited: waited.s() }, 0.5, 0.0)
            }
            Reading::Holds { bottom, sd } => {
                let (s, c) = bottom.rad().sin_cos();
                let sd = sd.g_mm();
                (Kernel::Holds { nx: -s, ny: c, sd }, 1.0 / (4.0 * self.u_sd), top(sd))
            }
            Reading::Log { u_over_j_per_s2, u_over_j_rel_sd, heavy, heavy_sd, drift_over_u, drift_over_u_sd } => {
                let (ln_sd, heavy_sd, ratio_sd) = (u_over_j_rel_sd, heavy_sd.rad(), drift_over_u_sd);
                let kernel =
                    Kernel::Log { ln_ratio: u_over_j_per_s2.ln(), ln_sd, heavy: heavy.rad(), heavy_sd, ratio: drift_over_u, ratio_sd };
                (kernel, 0.25 / TAU * 0.5, top(ln_sd) + top(heavy_sd) + top(ratio_sd))
            }
            Reading::Creeps { sense, sd } => (Kernel::Creeps { sign: sense.sign(), sd: sd.g_mm() }, 0.5, 0.0),
            Reading::Stays { sd } => (Kernel::Stays { sd: sd.g_mm() }, 0.5, 0.0),
        }
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

    pub(super) fn inertia_given(&self) -> f64 {
        self.j
    }

    pub(super) fn inertia_g_mm_s2(&self, z: &[f64]) -> f64 {
        self.j * self.ln_j_scale(z).exp()
    }

    /// The residual now: rotor, weights, setting errors; the arbor's own error is not part of it.
    pub(super) fn residual_now(&self, z: &[f64]) -> [f64; 2] {
        self.now.total(z, self.u_sd)
    }

    /// Log density of what was seen in `look`, given the state.
    pub(super) fn log_density(&self, look: &Ready, z: &[f64]) -> f64 {
        let mut u = look.placed.total(z, self.u_sd);
        if let Some([ex, ey]) = self.arbor(z) {
            let (c, s) = look.arbor_turn;
            u[0] += c * ex - s * ey;
            u[1] += s * ex + c * ey;
        }
        self.log_density_at(&look.kernel, u, self.drift(z), self.ln_j_scale(z))
    }

    pub(super) fn log_density_at(&self, kernel: &Kernel, u: [f64; 2], td: f64, ln_j: f64) -> f64 {
        let size = u[0].hypot(u[1]);
        let tc = self.tc;
        match *kernel {
            Kernel::Settle { s_obs, sd } => guarded(settle_density(wrap_pi(u[1].atan2(u[0]) - s_obs), size, td, tc, sd), 1.0 / TAU),
            Kernel::Timed { k, slope, time, sd } => {
                let p = self.time_model(size, td, ln_j, k).map_or(0.0, |t| {
                    let s2 = sd * sd + (t * slope).powi(2);
                    (-0.5 * (t - time).powi(2) / s2).exp() / (TAU * s2).sqrt()
                });
                guarded(p, GUARD_PER_SECOND)
            }
            Kernel::Rubbing { a0, halves, slope, time, sd } => {
                let p = rubbing_time(size, td, tc, a0, halves, self.j * ln_j.exp()).map_or(0.0, |t| {
                    let s2 = sd * sd + (t * slope).powi(2);
                    (-0.5 * (t - time).powi(2) / s2).exp() / (TAU * s2).sqrt()
                });
                guarded(p, GUARD_PER_SECOND)
            }
            Kernel::StillOut { k, slope, waited } => {
                let p = self.time_model(size, td, ln_j, k).map_or(0.0, |t| phi((t - waited) / (t * slope).max(1e-6)));
                guarded(p, 0.5)
            }
            Kernel::Holds { nx, ny, sd } => guarded(normal_log(nx * u[0] + ny * u[1] - td, sd).exp(), GUARD_PER_G_MM),
            Kernel::Log { ln_ratio, ln_sd, heavy, heavy_sd, ratio, ratio_sd } => {
                let size = size.max(f64::MIN_POSITIVE);
                normal_log((size / self.j).ln() - ln_j - ln_ratio, ln_sd)
                    + normal_log(wrap_pi(u[1].atan2(u[0]) - heavy), heavy_sd)
                    + normal_log(td / size - ratio, ratio_sd)
            }
            Kernel::Creeps { sign, sd } => guarded(phi((sign * td - size - tc) / sd), 0.5),
            Kernel::Stays { sd } => guarded(phi((tc - size - td.abs()) / sd), 0.5),
        }
    }

    /// Time of a swing with the short form for drift: U → √(U² − td²), amplitude from the rest place. `None`: no swing.
    fn time_model(&self, size: f64, td: f64, ln_j: f64, k: f64) -> Option<f64> {
        let restoring2 = size * size - td * td;
        (restoring2 > 0.0).then(|| k * (self.j * ln_j.exp() / restoring2.sqrt()).sqrt())
    }
}

/// Time of half swings where dry friction takes its share: in each, friction is a constant torque against the motion, so
/// the swing is one about a shifted rest place. Mean of letting go on either side; `None`: it would stop on the way.
fn rubbing_time(size: f64, td: f64, tc: f64, a0: f64, halves: usize, j: f64) -> Option<f64> {
    if td.abs() >= size {
        return None;
    }
    let rest = (td / size).asin();
    let one_side = |first: f64| {
        let (mut side, mut at, mut time) = (first, rest + first * a0, 0.0);
        for _ in 0..halves {
            let torque = td + side * tc;
            if torque.abs() >= size {
                return None;
            }
            let middle = (torque / size).asin();
            let amplitude = side * (at - middle);
            if amplitude <= 0.0 {
                return None;
            }
            time += 2.0 * k_of_amplitude(amplitude) * (j / (size * size - torque * torque).sqrt()).sqrt();
            at = middle - side * amplitude;
            side = -side;
        }
        Some(time)
    };
    match (one_side(1.0), one_side(-1.0)) {
        (Some(a), Some(b)) => Some(0.5 * (a + b)),
        (a, b) => a.or(b),
    }
}

/// Density (per rad) of a settle angle: the heavy side may rest anywhere in the dead band, read with a normal error.
fn settle_density(x: f64, size: f64, td: f64, tc: f64, sd: f64) -> f64 {
    if td.abs() - tc >= size {
        return 0.0;
    }
    let lo = ((td - tc) / size).clamp(-1.0, 1.0).asin();
    let hi = ((td + tc) / size).clamp(-1.0, 1.0).asin();
    if hi - lo < 0.05 * sd {
        return normal_log(wrap_pi(x - 0.5 * (lo + hi)), sd).exp();
    }
    // The band may reach round to either side of ±180°, where x jumps: take the turn that fits best.
    let band = |x: f64| (phi((hi - x) / sd) - phi((lo - x) / sd)) / (hi - lo);
    if x > PI - 6.0 * sd {
        band(x).max(band(x - TAU))
    } else if x < 6.0 * sd - PI {
        band(x).max(band(x + TAU))
    } else {
        band(x)
    }
}

fn same_place(a: &Weight, b: &Weight) -> bool {
    a.moment == b.moment && a.at.from(b.at).rad().abs() < 1e-9
}
