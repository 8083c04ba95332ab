//! The likelihood of looks: state of rotor and stand in, log density of what was seen out.
//!
//! The state is held in standard units: every component divided by its prior standard deviation, so that the prior is
//! the unit normal. Formulas and their guards: docs/physics.md, "What a look says"; the same model was computed by an
//! independent program for `reference/balance-sessions.json`.

use super::Known;
use super::swing_time::{self, SwingTable};
use crate::bench::look::{Look, Reading, Weight};
use crate::bench::swing::k_of_amplitude;
use crate::numerics::wrap_pi;
use crate::quantity::Angle;
use statrs::function::erf::erfc;
use std::f64::consts::{PI, SQRT_2, TAU};
use std::sync::Arc;

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
    Settle { s_obs: f64, sd: f64 },
    Timed { swing: Swing, time: f64, sd: f64 },
    StillOut { swing: Swing, waited: f64 },
    Holds { nx: f64, ny: f64, sd: f64 },
    Log { ln_ratio: f64, ln_sd: f64, heavy: f64, heavy_sd: f64, ratio: f64, ratio_sd: f64 },
    Creeps { sign: f64, sd: f64 },
    Stays { sd: f64 },
}

/// How long a swing lasts, as a function of the state.
#[derive(Clone, Debug)]
pub(crate) enum Swing {
    /// Without dry friction: time over √(J/U) is `swings` times what the table says.
    Free { table: Arc<SwingTable>, times: f64 },
    /// Dry friction takes its share at each half swing. `slope`: d ln K/dA times the amplitude's sd.
    Rubbing { a0: f64, halves: usize, slope: f64 },
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

/// A kernel with what goes along with it.
struct Prepared {
    kernel: Kernel,
    misread_density: f64,
    peak: f64,
    bound: f64,
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
        let Prepared { kernel, misread_density, peak, bound } = self.prepared(&look.reading);
        Ready { placed, arbor_turn: (c, s), kernel, active: self.layout.dim, misread_density, peak, bound }
    }

    /// Kernel, density of a misreading, log density where it fits best.
    ///
    /// A misreading is taken as: any angle; a time wrong by up to a factor e² either way; a component anywhere within
    /// two prior standard deviations; either outcome of a yes-no look.
    fn prepared(&self, reading: &Reading) -> Prepared {
        let top = |sd: f64| -(sd.ln()) - 0.5 * TAU.ln();
        let plain = |kernel: Kernel, misread_density: f64, peak: f64| Prepared { kernel, misread_density, peak, bound: peak };
        match *reading {
            Reading::Settle { bottom, sd } => {
                let sd = sd.rad();
                plain(Kernel::Settle { s_obs: bottom.rad(), sd }, 1.0 / TAU, top(sd))
            }
            Reading::Swing { swings, amplitude, amplitude_end, amplitude_sd, time, time_sd } => {
                let swing = self.swing(swings, amplitude.rad(), amplitude_end.map(Angle::rad), amplitude_sd.rad());
                let (time, sd) = (time.s(), time_sd.s());
                let slope = ln_k_slope(amplitude.rad()) * amplitude_sd.rad();
                // The amplitude tells a little less where drift bends the swing, so the sharpest that a state can be is the time's own sd.
                Prepared {
                    kernel: Kernel::Timed { swing, time, sd },
                    misread_density: 1.0 / (4.0 * time),
                    peak: top(sd.hypot(time * slope)),
                    bound: top(sd),
                }
            }
            Reading::StillOut { swings, amplitude, amplitude_sd, waited } => {
                let end = (self.tc > 0.0).then(|| amplitude.rad());
                let swing = self.swing(swings, amplitude.rad(), end, amplitude_sd.rad());
                plain(Kernel::StillOut { swing, waited: waited.s() }, 0.5, 0.0)
            }
            Reading::Holds { bottom, sd } => {
                let (s, c) = bottom.rad().sin_cos();
                let sd = sd.g_mm();
                plain(Kernel::Holds { nx: -s, ny: c, sd }, 1.0 / (4.0 * self.u_sd), top(sd))
            }
            Reading::Log { u_over_j_per_s2, u_over_j_rel_sd, heavy, heavy_sd, drift_over_u, drift_over_u_sd } => {
                let (ln_sd, heavy_sd, ratio_sd) = (u_over_j_rel_sd, heavy_sd.rad(), drift_over_u_sd);
                let kernel =
                    Kernel::Log { ln_ratio: u_over_j_per_s2.ln(), ln_sd, heavy: heavy.rad(), heavy_sd, ratio: drift_over_u, ratio_sd };
                plain(kernel, 0.25 / TAU * 0.5, top(ln_sd) + top(heavy_sd) + top(ratio_sd))
            }
            Reading::Creeps { sense, sd } => plain(Kernel::Creeps { sign: sense.sign(), sd: sd.g_mm() }, 0.5, 0.0),
            Reading::Stays { sd } => plain(Kernel::Stays { sd: sd.g_mm() }, 0.5, 0.0),
        }
    }

    /// A reading made ready to weigh states with.
    pub(super) fn kernel(&self, reading: &Reading) -> Kernel {
        self.prepared(reading).kernel
    }

    fn swing(&self, swings: f64, a0: f64, a1: Option<f64>, amplitude_sd: f64) -> Swing {
        match a1 {
            Some(_) if self.tc > 0.0 => {
                Swing::Rubbing { a0, halves: (2.0 * swings).round() as usize, slope: ln_k_slope(a0) * amplitude_sd }
            }
            None => Swing::Free { table: Arc::new(SwingTable::new(a0, amplitude_sd, &[1.0])), times: 2.0 * swings },
            Some(a1) => {
                // Whole swings are taken one by one at the amplitude of their middle; odd halves in halves.
                let (n, times) = if swings.fract() == 0.0 { (swings, 2.0) } else { (2.0 * swings, 1.0) };
                let shares: Vec<f64> = (0..n as usize).map(|i| (a1 / a0).powf((i as f64 + 0.5) / n)).collect();
                Swing::Free { table: Arc::new(SwingTable::new(a0, amplitude_sd, &shares)), times }
            }
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
            Kernel::Timed { ref swing, time, sd } => {
                let density = |[t, width]: [f64; 2]| {
                    let s2 = sd * sd + width * width;
                    (-0.5 * (t - time).powi(2) / s2).exp() / (TAU * s2).sqrt()
                };
                guarded(mean_of_sides(swing.times(size, td, tc, self.j * ln_j.exp()), sd, density), GUARD_PER_SECOND)
            }
            Kernel::StillOut { ref swing, waited } => {
                let longer = |[t, width]: [f64; 2]| phi((t - waited) / width.max(1e-6));
                guarded(mean_of_sides(swing.times(size, td, tc, self.j * ln_j.exp()), 0.0, longer), 0.5)
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
}

impl Swing {
    /// Time of the swing and its standard deviation from that of the amplitude, let go on either side; `None`: no such swing.
    fn times(&self, size: f64, td: f64, tc: f64, j: f64) -> [Option<[f64; 2]>; 2] {
        if td.abs() >= size {
            return [None; 2];
        }
        let drift = td / size;
        let unit = (j / size).sqrt();
        match *self {
            Self::Free { ref table, times } => {
                let scaled = |[t, sd]: [f64; 2]| [t * unit * times, sd * unit * times];
                [table.at(drift).map(scaled), table.at(-drift).map(scaled)]
            }
            Self::Rubbing { a0, halves, slope } => [1.0, -1.0].map(|side| {
                let t = unit * swing_time::rubbing(a0, halves, side, drift, tc / size)?;
                Some([t, t * slope])
            }),
        }
    }
}

/// The person lets go on either side equally often, and does not say on which. Where both take the same time to a small part of `sd`, one
/// evaluation serves for both.
fn mean_of_sides(times: [Option<[f64; 2]>; 2], sd: f64, p: impl Fn([f64; 2]) -> f64) -> f64 {
    match times {
        [Some(a), Some(b)] if (a[0] - b[0]).abs() <= 0.05 * sd.hypot(a[1]) => p([0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])]),
        [a, b] => 0.5 * (a.map_or(0.0, &p) + b.map_or(0.0, &p)),
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
