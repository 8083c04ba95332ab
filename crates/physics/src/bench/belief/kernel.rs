//! One reading made ready to weigh states with: state of rotor and stand in, log density of what was seen out.
//!
//! Formulas and their guards: docs/physics.md, "What a look says". This is the innermost loop of the estimator: densities stay
//! logarithms, angles between vectors are taken without wrapping, and times of swings come from tables.

use super::swing_time::{RubbingTable, SwingTable};
use crate::bench::look::Reading;
use crate::bench::swing::k_of_amplitude;
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
/// Nothing fits.
const NEVER: f64 = f64::NEG_INFINITY;

/// What is the same for all looks of a sitting: inertia as given (g·mm·s²), dry friction, prior sd of the unbalance (g·mm).
#[derive(Clone, Copy, Debug)]
pub(super) struct Stand {
    pub(super) j: f64,
    pub(super) tc: f64,
    pub(super) u_sd: f64,
}

/// A reading made ready for evaluation.
#[derive(Clone, Debug)]
pub(crate) enum Kernel {
    /// `cos`, `sin`: of the rotor angle seen at the bottom.
    Settle {
        cos: f64,
        sin: f64,
        sd: f64,
    },
    Timed {
        swing: Swing,
        time: f64,
        sd: f64,
    },
    StillOut {
        swing: Swing,
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
        cos: f64,
        sin: f64,
        heavy_sd: f64,
        ratio: f64,
        ratio_sd: f64,
    },
    /// A log whose direction and drift err together: see [`lean`] for the measure of drift that is used here.
    JointLog {
        ln_ratio: f64,
        ln_sd: f64,
        cos: f64,
        sin: f64,
        heavy_sd: f64,
        lean: f64,
        /// Mean of the lean's error per radian of the direction's: ρ·σ(lean)/σ(direction).
        lean_slope: f64,
        /// Standard deviation of the lean once the direction is known: σ·√(1 − ρ²).
        lean_sd: f64,
    },
    Creeps {
        sign: f64,
        sd: f64,
    },
    Stays {
        sd: f64,
    },
}

/// How long a swing lasts, as a function of the state.
#[derive(Clone, Debug)]
pub(crate) enum Swing {
    /// Without dry friction: time over √(J/U) is `times` what the table says.
    Free { table: Arc<SwingTable>, times: f64 },
    /// Dry friction takes its share at each half swing. `slope`: d ln K/dA times the amplitude's sd.
    Rubbing { table: Arc<RubbingTable>, slope: f64 },
}

/// A kernel with what goes along with it.
pub(super) struct Prepared {
    pub(super) kernel: Kernel,
    /// Density of a misreading: any angle; a time wrong by up to a factor e² either way; a component anywhere within
    /// two prior standard deviations; either outcome of a yes-no look.
    pub(super) misread_density: f64,
    /// Log density of a reading that fits exactly.
    pub(super) peak: f64,
    /// No state has a higher log density than this.
    pub(super) bound: f64,
}

fn normal_log(r: f64, sd: f64) -> f64 {
    -0.5 * (r / sd).powi(2) - sd.ln() - 0.5 * TAU.ln()
}

fn phi(x: f64) -> f64 {
    0.5 * erfc(-x / SQRT_2)
}

/// ln((1 − g) p + g q) from ln p. Where p is some thousands of times g·q the guard changes less than 1e-5 of it.
#[inline]
fn guarded(log_p: f64, broad: f64) -> f64 {
    if log_p > broad.ln() - 9.0 { log_p } else { ((1.0 - GUARD) * log_p.exp() + GUARD * broad).ln() }
}

/// arcsine: small arguments, the rule, by its series to x⁷ (error below 1e-9 at 0.1).
#[inline]
fn asin(x: f64) -> f64 {
    if x.abs() > 0.1 {
        return x.clamp(-1.0, 1.0).asin();
    }
    let x2 = x * x;
    x * (1.0 + x2 * (1.0 / 6.0 + x2 * (3.0 / 40.0 + x2 * 15.0 / 336.0)))
}

/// Sum of 4K(A) over `swings` full swings of amplitude `a0`.
pub(crate) fn swing_factor(swings: f64, a0: f64) -> f64 {
    4.0 * swings * k_of_amplitude(a0)
}

/// d ln K/dA at amplitude `a`, per radian: dK/dm from Abramowitz & Stegun 17.3 by a central difference.
fn ln_k_slope(a: f64) -> f64 {
    let h = 1e-5 * a.max(1e-3);
    (k_of_amplitude(a + h).ln() - k_of_amplitude(a - h).ln()) / (2.0 * h)
}

impl Stand {
    /// A reading made ready.
    pub(super) fn prepare(&self, reading: &Reading) -> Prepared {
        let top = |sd: f64| -(sd.ln()) - 0.5 * TAU.ln();
        let plain = |kernel: Kernel, misread_density: f64, peak: f64| Prepared { kernel, misread_density, peak, bound: peak };
        match *reading {
            Reading::Settle { bottom, sd } => {
                let (sin, cos) = bottom.rad().sin_cos();
                let sd = sd.rad();
                plain(Kernel::Settle { cos, sin, sd }, 1.0 / TAU, top(sd))
            }
            Reading::Swing { swings, amplitude, amplitude_end, amplitude_sd, time, time_sd } => {
                let swing = self.swing(swings, amplitude, amplitude_end, amplitude_sd, time.s());
                let (time, sd) = (time.s(), time_sd.s());
                let slope = ln_k_slope(amplitude.rad()) * amplitude_sd.rad();
                // The amplitude may leave less open where drift bends the swing: the sharpest that a state can be is the time's own sd.
                Prepared {
                    kernel: Kernel::Timed { swing, time, sd },
                    misread_density: 1.0 / (4.0 * time),
                    peak: top(sd.hypot(time * slope)),
                    bound: top(sd),
                }
            }
            Reading::StillOut { swings, amplitude, amplitude_sd, waited } => {
                let end = (self.tc > 0.0).then_some(amplitude);
                let swing = self.swing(swings, amplitude, end, amplitude_sd, waited.s());
                plain(Kernel::StillOut { swing, waited: waited.s() }, 0.5, 0.0)
            }
            Reading::Holds { bottom, sd } => {
                let (s, c) = bottom.rad().sin_cos();
                let sd = sd.g_mm();
                plain(Kernel::Holds { nx: -s, ny: c, sd }, 1.0 / (4.0 * self.u_sd), top(sd))
            }
            Reading::Log {
                u_over_j_per_s2,
                u_over_j_rel_sd,
                heavy,
                heavy_sd,
                drift_over_u,
                drift_over_u_sd,
                correlation_heavy_drift: rho,
            } => {
                let (ln_sd, heavy_sd, ratio_sd) = (u_over_j_rel_sd, heavy_sd.rad(), drift_over_u_sd);
                let ln_ratio = u_over_j_per_s2.ln();
                let (sin, cos) = heavy.rad().sin_cos();
                // Beyond this the rotor hardly finds a rest, and there is no rest place to share.
                if rho != 0.0 && drift_over_u.abs() < 0.95 {
                    // Two correlated normal variables as the first times the second given the first (any text on the bivariate normal).
                    let sd = ratio_sd / (1.0 - drift_over_u * drift_over_u).sqrt();
                    let (lean_slope, lean_sd) = (rho * sd / heavy_sd, sd * (1.0 - rho * rho).sqrt());
                    let kernel = Kernel::JointLog { ln_ratio, ln_sd, cos, sin, heavy_sd, lean: lean(drift_over_u), lean_slope, lean_sd };
                    return plain(kernel, 0.25 / TAU * 0.5, top(ln_sd) + top(heavy_sd) + top(lean_sd));
                }
                let kernel = Kernel::Log { ln_ratio, ln_sd, cos, sin, heavy_sd, ratio: drift_over_u, ratio_sd };
                plain(kernel, 0.25 / TAU * 0.5, top(ln_sd) + top(heavy_sd) + top(ratio_sd))
            }
            Reading::Creeps { sense, sd } => plain(Kernel::Creeps { sign: sense.sign(), sd: sd.g_mm() }, 0.5, 0.0),
            Reading::Stays { sd } => plain(Kernel::Stays { sd: sd.g_mm() }, 0.5, 0.0),
        }
    }

    /// `about`: how long it took or was watched, s: the table of a stand that rubs is laid about the unbalance that this tells.
    fn swing(&self, swings: f64, first: Angle, last: Option<Angle>, sd: Angle, about: f64) -> Swing {
        let (a0, sd) = (first.rad(), sd.rad());
        match last {
            Some(_) if self.tc > 0.0 => {
                let halves = (2.0 * swings).round() as usize;
                let size = self.j * (swing_factor(swings, a0) / about).powi(2);
                Swing::Rubbing { table: Arc::new(RubbingTable::new(a0, halves, self.tc / size)), slope: ln_k_slope(a0) * sd }
            }
            None => Swing::Free { table: Arc::new(SwingTable::new(a0, sd, &[1.0])), times: 2.0 * swings },
            Some(a1) => {
                // Whole swings are taken one by one at the amplitude of their middle; odd halves in halves.
                let (n, times) = if swings.fract() == 0.0 { (swings, 2.0) } else { (2.0 * swings, 1.0) };
                let shares: Vec<f64> = (0..n as usize).map(|i| (a1.rad() / a0).powf((i as f64 + 0.5) / n)).collect();
                Swing::Free { table: Arc::new(SwingTable::new(a0, sd, &shares)), times }
            }
        }
    }
}

impl Kernel {
    /// Log density of the reading, given all vectors' sum `u` and drift (g·mm) and ln of the inertia's scale.
    pub(super) fn log_density(&self, stand: &Stand, u: [f64; 2], td: f64, ln_j: f64) -> f64 {
        let size = (u[0] * u[0] + u[1] * u[1]).sqrt();
        let tc = stand.tc;
        match *self {
            Self::Settle { cos, sin, sd } => {
                let rest = rest_band(size, td, tc);
                guarded(rest.map_or(NEVER, |band| settle_log(from(u, cos, sin), band, sd)), 1.0 / TAU)
            }
            Self::Timed { ref swing, time, sd } => {
                let density = |[t, width]: [f64; 2]| {
                    let s2 = sd * sd + width * width;
                    -0.5 * ((t - time).powi(2) / s2 + (TAU * s2).ln())
                };
                guarded(mean_of_sides(swing.times(size, td, tc, stand.j * ln_j.exp()), sd, density), GUARD_PER_SECOND)
            }
            Self::StillOut { ref swing, waited } => {
                let longer = |[t, width]: [f64; 2]| phi((t - waited) / width.max(1e-6)).ln();
                guarded(mean_of_sides(swing.times(size, td, tc, stand.j * ln_j.exp()), 0.0, longer), 0.5)
            }
            Self::Holds { nx, ny, sd } => guarded(normal_log(nx * u[0] + ny * u[1] - td, sd), GUARD_PER_G_MM),
            Self::Log { ln_ratio, ln_sd, cos, sin, heavy_sd, ratio, ratio_sd } => {
                let size = size.max(f64::MIN_POSITIVE);
                normal_log((size / stand.j).ln() - ln_j - ln_ratio, ln_sd)
                    + normal_log(from(u, cos, sin), heavy_sd)
                    + normal_log(td / size - ratio, ratio_sd)
            }
            Self::JointLog { ln_ratio, ln_sd, cos, sin, heavy_sd, lean: seen, lean_slope, lean_sd } => {
                let size = size.max(f64::MIN_POSITIVE);
                let aside = from(u, cos, sin);
                normal_log((size / stand.j).ln() - ln_j - ln_ratio, ln_sd)
                    + normal_log(aside, heavy_sd)
                    + normal_log(lean(td / size) - seen - lean_slope * aside, lean_sd)
            }
            Self::Creeps { sign, sd } => guarded(phi((sign * td - size - tc) / sd).ln(), 0.5),
            Self::Stays { sd } => guarded(phi((tc - size - td.abs()) / sd).ln(), 0.5),
        }
    }
}

/// By how much drift turns the rest place, rad: asin(drift/U); where it finds no rest, on by drift/U, so that it grows throughout.
///
/// A log shows the rest place, heavy side less lean, sharply: in these two a straight line, against drift/U itself a curve, along which
/// a sharp bivariate normal would miss the truth.
fn lean(ratio: f64) -> f64 {
    let held = ratio.clamp(-1.0, 1.0);
    held.asin() + ratio - held
}

/// Angle of `u` from the direction (cos, sin), in (−π, π].
#[inline]
fn from(u: [f64; 2], cos: f64, sin: f64) -> f64 {
    (u[1] * cos - u[0] * sin).atan2(u[0] * cos + u[1] * sin)
}

impl Swing {
    /// Time of the swing and its standard deviation from that of the amplitude, let go on either side; `None`: no such swing.
    pub(super) fn times(&self, size: f64, td: f64, tc: f64, j: f64) -> [Option<[f64; 2]>; 2] {
        if td.abs() >= size {
            return [None; 2];
        }
        let drift = td / size;
        let unit = (j / size).sqrt();
        match self {
            Self::Free { table, times } => {
                let scaled = |[t, sd]: [f64; 2]| [t * unit * times, sd * unit * times];
                [table.at(drift).map(scaled), table.at(-drift).map(scaled)]
            }
            Self::Rubbing { table, slope } => [drift, -drift].map(|drift| {
                let t = unit * table.at(drift, tc / size)?;
                Some([t, t * slope])
            }),
        }
    }
}

/// The person lets go on either side equally often, and does not say on which: log of the mean density. Where both take the
/// same time to a small part of `sd`, one evaluation serves for both.
fn mean_of_sides(times: [Option<[f64; 2]>; 2], sd: f64, log_p: impl Fn([f64; 2]) -> f64) -> f64 {
    match times {
        [Some(a), Some(b)] if (a[0] - b[0]).powi(2) <= 0.0025 * (sd * sd + a[1] * a[1]) => {
            log_p([0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])])
        }
        [None, None] => NEVER,
        [a, b] => (0.5 * (a.map_or(0.0, |a| log_p(a).exp()) + b.map_or(0.0, |b| log_p(b).exp()))).ln(),
    }
}

/// Where the heavy side may rest, rad from straight down: ends of the dead band. `None`: nowhere.
#[inline]
pub(super) fn rest_band(size: f64, td: f64, tc: f64) -> Option<[f64; 2]> {
    if td.abs() - tc >= size {
        return None;
    }
    if tc == 0.0 {
        return Some([asin(td / size); 2]);
    }
    Some([asin(((td - tc) / size).max(-1.0)), asin(((td + tc) / size).min(1.0))])
}

/// Log density (per rad) of a settle angle: the heavy side, `x` from what was seen at the bottom, may rest anywhere in the dead
/// band, read with a normal error.
pub(super) fn settle_log(x: f64, [lo, hi]: [f64; 2], sd: f64) -> f64 {
    if hi - lo < 0.05 * sd {
        let r = x - 0.5 * (lo + hi);
        let r = if r > PI {
            r - TAU
        } else if r < -PI {
            r + TAU
        } else {
            r
        };
        return normal_log(r, sd);
    }
    // The band may reach round to either side of ±180°, where x jumps: take the turn that fits best.
    let band = |x: f64| (phi((hi - x) / sd) - phi((lo - x) / sd)) / (hi - lo);
    let p = if x > PI - 6.0 * sd {
        band(x).max(band(x - TAU))
    } else if x < 6.0 * sd - PI {
        band(x).max(band(x + TAU))
    } else {
        band(x)
    };
    p.ln()
}
