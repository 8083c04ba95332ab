//! What each test should have shown, for given residual, drift, friction, inertia and drag: checked numbers in, residuals out.

use super::{Before, Observation, Test};
use crate::bench::look::Sense;
use crate::bench::swing::k_of_amplitude;
use crate::quantity::STANDARD_GRAVITY;
use crate::{Fault, Ranged};

/// Unknowns: residual x and y on the rotor, drift, dry friction (all g·mm), ln of the inertia's scale, viscous drag (g·mm·s).
pub(super) const UNKNOWNS: usize = 6;
pub(super) const DRIFT: usize = 2;
pub(super) const FRICTION: usize = 3;
pub(super) const LN_J: usize = 4;
pub(super) const DRAG: usize = 5;

/// Steps of Simpson's rule over a creep; its integrand is smooth.
const STEPS: u32 = 32;

/// A test as checked plain numbers: g·mm, rad, s.
#[derive(Clone, Debug)]
pub(super) struct Row {
    /// +1 as it lies, −1 turned end for end: room angle = turn·(rotor angle − bottom).
    turn: f64,
    bottom: f64,
    /// Trial as a vector on the rotor, g·mm.
    trial: [f64; 2],
    /// Inertia over g with the trial's own, g·mm·s²; the rotor's part is scaled by the unknown.
    j_rotor: f64,
    j_trial: f64,
    kind: Kind,
}

#[derive(Clone, Debug)]
enum Kind {
    Creeps { angle: f64, sense: f64, time: f64, rel_sd: f64 },
    Starts { sense: f64, sd: f64 },
    Settles { sd: f64 },
    Swings { k: f64, time: f64, rel_sd: f64, loss: Option<Loss> },
    Log { u: (f64, f64), heavy: (f64, f64), drift: (f64, f64), dry: Option<(f64, f64)> },
}

/// Amplitudes of a swing that lost some.
#[derive(Clone, Copy, Debug)]
struct Loss {
    first: f64,
    last: f64,
    halves: f64,
    sd: f64,
}

/// A residual: what was seen less what should have been, and its standard deviation.
pub(super) type Residual = (f64, f64);

fn positive_sd(field: &str, v: f64, high: f64, unit: &str) -> Result<f64, Fault> {
    v.within(field, 1e-6, high, unit, "standard deviation: larger than 0")
}

impl Row {
    pub(super) fn new(o: &Observation, before: &Before) -> Result<Self, Fault> {
        let bottom = o.bottom_deg.within("bottom_deg", -3600.0, 3600.0, "degrees", "rotor angle straight down")?.to_radians();
        let j_rotor = before.inertia_kg_m2 / STANDARD_GRAVITY * 1e6;
        let turn = if o.reversed { -1.0 } else { 1.0 };
        let (mut trial, mut j_trial) = ([0.0; 2], 0.0);
        let mut moment_at = None;
        if let Some(t) = o.trial {
            let mass = t.mass_g.within("trial.mass_g", 1e-4, 1e5, "g", "mass of the trial")?;
            let radius = t.radius_mm.within("trial.radius_mm", 0.1, 5000.0, "mm", "radius of the trial's mass centre")?;
            let at = t.at_deg.within("trial.at_deg", -3600.0, 3600.0, "degrees", "rotor angle of the trial")?.to_radians();
            // m·r² in g·mm², over g in mm/s².
            j_trial = mass * radius * radius / (STANDARD_GRAVITY * 1e3);
            trial = [mass * radius * at.cos(), mass * radius * at.sin()];
            moment_at = Some((mass, radius, at));
        }
        let mut row = Self { turn, bottom, trial, j_rotor, j_trial, kind: Kind::Settles { sd: 1.0 } };
        row.kind = match &o.test {
            Test::Creeps { turned_deg, turned_sd_deg, sense, time_s, time_sd_s } => {
                let why = "how far it crept: 5° to 20° is well seen, and the torque hardly changes over it";
                let angle = turned_deg.within("turned_deg", 0.1, 45.0, "degrees", why)?.to_radians();
                let angle_sd = positive_sd("turned_sd_deg", *turned_sd_deg, *turned_deg, "degrees")?.to_radians();
                let time = time_s.within("time_s", 0.05, 1e5, "s", "time of the creep, from rest")?;
                let time_sd = positive_sd("time_sd_s", *time_sd_s, time, "s")?;
                Kind::Creeps { angle, sense: sense.sign(), time, rel_sd: (2.0 * time_sd / time).hypot(angle_sd / angle) }
            }
            Test::Starts { stays_g, sense } => row.starts(moment_at, *stays_g, *sense)?,
            Test::Settles { sd_deg } => Kind::Settles { sd: positive_sd("sd_deg", *sd_deg, 60.0, "degrees")?.to_radians() },
            Test::Swings { swings, time_s, time_sd_s, amplitude_deg, amplitude_sd_deg, amplitude_end_deg } => {
                if moment_at.is_none() {
                    let why = "a swing tells the inertia only if a known mass makes it swing";
                    return Err(Fault::new("trial", "missing", "a trial much heavier in moment than the rotor's own unbalance", why));
                }
                let n = swings.within("swings", 0.5, 200.0, "full swings", "full swings, out and back")?;
                if (2.0 * n).fract() != 0.0 {
                    return Err(Fault::new("swings", n, "a multiple of 0.5", "swings are counted at their turning points"));
                }
                let why = "above 60° the loss is not told by this short form: use a swing log";
                let a = amplitude_deg.within("amplitude_deg", 0.5, 60.0, "degrees", why)?.to_radians();
                let sd = positive_sd("amplitude_sd_deg", *amplitude_sd_deg, 30.0, "degrees")?.to_radians();
                let last = match amplitude_end_deg {
                    None => a,
                    Some(end) => {
                        end.within("amplitude_end_deg", 0.1, *amplitude_deg, "degrees", "a free swing does not grow")?.to_radians()
                    }
                };
                let time = time_s.within("time_s", 0.05, 1e5, "s", "time of all the swings")?;
                let time_sd = positive_sd("time_sd_s", *time_sd_s, time, "s")?;
                let k = sum_of_k(a, last, n);
                let by_amplitude = (sum_of_k(a + sd, last + sd, n) / k).ln();
                let loss = amplitude_end_deg.map(|_| Loss { first: a, last, halves: 2.0 * n, sd });
                Kind::Swings { k, time, rel_sd: 2.0 * (time_sd / time).hypot(by_amplitude), loss }
            }
            Test::Log { u_over_j_per_s2, heavy_deg, drift_over_j_per_s2, dry_over_j_per_s2 } => {
                let pair = |field: &str, (v, sd): (f64, f64)| -> Result<(f64, f64), Fault> {
                    Ok((
                        v.within(field, -1e6, 1e6, "1/s²", "from the fit of a swing log")?,
                        positive_sd(&format!("{field}_sd"), sd, 1e6, "1/s²")?,
                    ))
                };
                heavy_deg.0.within("heavy_deg", -3600.0, 3600.0, "degrees", "heavy side from the fit of a swing log")?;
                positive_sd("heavy_sd_deg", heavy_deg.1, 60.0, "degrees")?;
                Kind::Log {
                    u: pair("u_over_j_per_s2", *u_over_j_per_s2)?,
                    heavy: (heavy_deg.0.to_radians(), heavy_deg.1.to_radians()),
                    drift: pair("drift_over_j_per_s2", *drift_over_j_per_s2)?,
                    dry: dry_over_j_per_s2.map(|d| pair("dry_over_j_per_s2", d)).transpose()?,
                }
            }
        };
        Ok(row)
    }

    /// The trial of a start is set to the middle between the mass that stays and the one that goes.
    fn starts(&mut self, trial: Option<(f64, f64, f64)>, stays_g: f64, sense: Sense) -> Result<Kind, Fault> {
        let Some((goes, radius, at)) = trial else {
            let why = "the trial is the mass with which it starts";
            return Err(Fault::new("trial", "missing", "the mass with which it starts, and where", why));
        };
        let stays = stays_g.within("stays_g", 0.0, goes, "g", "it stays with less than it starts with")?;
        if stays >= goes {
            return Err(Fault::new("stays_g", stays, format!("less than {goes} g"), "it stays with less than it starts with"));
        }
        let side = (self.turn * (at - self.bottom)).sin();
        if side.abs() < 0.5 {
            let why = "near 12 and 6 o'clock a mass hardly turns the rotor: hang it near 3 or 9 o'clock";
            let deg = (self.turn * (at - self.bottom)).to_degrees().rem_euclid(360.0);
            return Err(Fault::new(
                "trial.at_deg",
                format!("{deg:.0}° from straight down"),
                "30° to 150° to either side of straight down",
                why,
            ));
        }
        let middle = 0.5 * (stays + goes);
        self.trial = [middle * radius * at.cos(), middle * radius * at.sin()];
        Ok(Kind::Starts { sense: sense.sign(), sd: 0.5 * (goes - stays) * radius * side.abs() / 3f64.sqrt() })
    }

    /// Whether this test tells of losses by viscous drag.
    pub(super) fn tells_drag(&self) -> bool {
        matches!(self.kind, Kind::Swings { loss: Some(_), .. })
    }

    fn vector(&self, p: &[f64]) -> [f64; 2] {
        [p[0] + self.trial[0], p[1] + self.trial[1]]
    }

    fn j(&self, p: &[f64]) -> f64 {
        self.j_rotor * p[LN_J].exp() + self.j_trial
    }

    /// Size of the whole unbalance and its room angle at the start, counter-clockwise from straight down.
    fn in_room(&self, p: &[f64]) -> (f64, f64) {
        let [x, y] = self.vector(p);
        (x.hypot(y), self.turn * (y.atan2(x) - self.bottom))
    }

    /// Drift and gravity at the start, g·mm, counter-clockwise.
    fn torque(&self, p: &[f64]) -> f64 {
        let (size, at) = self.in_room(p);
        p[DRIFT] - size * at.sin()
    }

    /// 2JΘ/t² of a creep from rest, in g·mm: the mean torque that its time tells. J drops out: t = √J·∫dD/√(2W(D)), W the work
    /// done up to D; with D = Θy² the integrand is smooth at the start. When the work is not positive all the way it would not get
    /// there; then its least mean torque, which is not positive, and meets the other at zero.
    fn creep_torque(&self, p: &[f64], angle: f64, sense: f64) -> f64 {
        let (size, at) = self.in_room(p);
        let steady = sense * p[DRIFT] - p[FRICTION];
        let mean = |d: f64| {
            if d == 0.0 {
                return steady - sense * size * at.sin();
            }
            // cos(at + s·d) − cos(at), without losing digits for a small d.
            let fall = -2.0 * (at + 0.5 * sense * d).sin() * (0.5 * sense * d).sin();
            steady + size * fall / d
        };
        let mut least = f64::INFINITY;
        let mut sum = 0.0;
        for i in 0..=STEPS {
            let y = f64::from(i) / f64::from(STEPS);
            let torque = mean(angle * y * y);
            least = least.min(torque);
            let weight = if i == 0 || i == STEPS {
                1.0
            } else if i % 2 == 1 {
                4.0
            } else {
                2.0
            };
            // 2Θy/√(2·torque·Θy²) = √(2Θ/torque).
            sum += weight / torque.max(1e-12).sqrt();
        }
        if least <= 0.0 {
            return least;
        }
        // ∫ = √(2Θ)·sum/3n, and 2Θ/∫² = (3n/sum)².
        (3.0 * f64::from(STEPS) / sum).powi(2)
    }

    /// Mean torque over the creep in the plainest form, for a first answer: linear in residual, drift and friction.
    fn plain_creep_torque(&self, p: &[f64], angle: f64, sense: f64) -> f64 {
        let (size, at) = self.in_room(p);
        sense * (p[DRIFT] - size * (at + 0.5 * sense * angle).sin()) - p[FRICTION]
    }

    /// Residuals at `p`; standard deviations that depend on the unknowns are taken at `around`.
    pub(super) fn residuals(&self, p: &[f64], around: &[f64], plain: bool, out: &mut Vec<Residual>) {
        match &self.kind {
            Kind::Creeps { angle, sense, time, rel_sd } => {
                let seen = 2.0 * self.j(p) * angle / (time * time);
                let sd = 2.0 * self.j(around) * angle / (time * time) * rel_sd;
                let should = if plain { self.plain_creep_torque(p, *angle, *sense) } else { self.creep_torque(p, *angle, *sense) };
                out.push((seen - should, sd));
            }
            Kind::Starts { sense, sd } => out.push((self.torque(p) - sense * p[FRICTION], *sd)),
            Kind::Settles { sd } => {
                // Within ± friction, evenly spread, and the reading's own error turned into torque.
                let (size, at) = self.in_room(around);
                let by_reading = size * at.cos().abs().max(0.1) * sd;
                out.push((self.torque(p), by_reading.hypot(around[FRICTION] / 3f64.sqrt()).max(1e-6)));
            }
            Kind::Swings { k, time, rel_sd, loss } => {
                let seen = self.j(p) * (4.0 * k / time).powi(2);
                let [x, y] = self.vector(p);
                // Drift makes the swing slower: U → √(U² − td²), as for looks (docs/physics.md).
                let should = (x * x + y * y - p[DRIFT].powi(2)).max(0.0).sqrt();
                out.push((seen - should, self.j(around) * (4.0 * k / time).powi(2) * rel_sd));
                if let Some(loss) = loss {
                    out.push(self.loss_residual(*loss, p, around));
                }
            }
            Kind::Log { u, heavy, drift, dry } => {
                let (j, around_j) = (self.j(p), self.j(around));
                let [x, y] = self.vector(p);
                // As the operator saw it: turned end for end, rotor angles run the other way.
                let seen = [heavy.0.cos(), self.turn * heavy.0.sin()];
                let along = x * seen[0] + y * seen[1];
                let across = y * seen[0] - x * seen[1];
                out.push((j * u.0 - along, around_j * u.1));
                out.push((across, around_j * u.0.abs() * heavy.1));
                out.push((j * drift.0 - p[DRIFT], around_j * drift.1));
                if let Some(dry) = dry {
                    out.push((j * dry.0 - p[FRICTION], around_j * dry.1));
                }
            }
        }
    }

    /// Last amplitude read less the one that is left after all half swings by this friction and drag.
    fn loss_residual(&self, loss: Loss, p: &[f64], around: &[f64]) -> Residual {
        let left = self.amplitude_left(loss, p);
        // Both amplitudes were read; what is wrong at first shows at last in their proportion.
        let passed_on = self.amplitude_left(loss, around) / loss.first;
        (loss.last - left, loss.sd * 1f64.hypot(passed_on))
    }

    /// Amplitude after all half swings, each by its energy: U(cos b − cos a) = tc·(a + b) + c·∫ω dψ.
    ///
    /// Dry friction: its torque times the path. Drag: ∫ω dψ over the undamped half swing of the mean amplitude,
    /// ω₀·8[E(m) − (1 − m)K(m)] = 2π·ω₀·m(1 + m/8 + 3m²/64 + …), m = sin²(A/2); to 0.1 % up to 60°. Sources: Landau & Lifshitz, Mechanics,
    /// §11, for the motion; Abramowitz & Stegun 17.3.11 and 17.3.12 for the series.
    fn amplitude_left(&self, loss: Loss, p: &[f64]) -> f64 {
        let [x, y] = self.vector(p);
        let u = x.hypot(y).max(1e-9);
        let omega = (u / self.j(p)).sqrt();
        let mut a = loss.first;
        for _ in 0..loss.halves as u32 {
            let mut b = a;
            // The loss changes little with the end amplitude: three rounds settle it.
            for _ in 0..3 {
                let m = (0.25 * (a + b)).sin().powi(2);
                let drag = p[DRAG] * omega * std::f64::consts::TAU * m * (1.0 + m / 8.0 + 3.0 * m * m / 64.0);
                let height = 1.0 - a.cos() - (p[FRICTION] * (a + b) + drag) / u;
                b = (1.0 - height.max(0.0)).acos();
            }
            a = b;
        }
        a
    }
}

/// ΣK over swings whose amplitude falls geometrically from `a` to `b`; a last half swing counts half (as bench::timing).
fn sum_of_k(a: f64, b: f64, swings: f64) -> f64 {
    let (mut total, mut done) = (0.0, 0.0);
    while done < swings {
        let share = (swings - done).min(1.0);
        total += share * k_of_amplitude(a * (b / a).powf((done + 0.5 * share) / swings));
        done += share;
    }
    total
}
