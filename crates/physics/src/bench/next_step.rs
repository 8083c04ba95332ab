//! What to do after a look: accept, move so and look, or look again.
//!
//! In: a [`Situation`]. Out: a [`Proposal`]. A residual is accepted when it is within the allowance with the sureness
//! asked for *and* a look was taken with the weights where they are *and* the stand can show so little. Otherwise every
//! choice worth having is tried on the belief: outcomes of its look are drawn, the belief is reweighted by each, and the
//! choice with the fewest looks still to be expected wins. Deciding by expected value of the next experiment: Lindley 1956.

use super::belief::{Belief, Known, State, SwingTimes, Unknown};
use super::look::{Look, Reading, Sense, Weight};
use super::ring::{Placed, Ring};
use crate::Fault;
use crate::numerics::wrap_pi;
use crate::quantity::{Angle, RotorAngle, Seconds, Unbalance, UnbalanceVector};
use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, StandardNormal};
use rand_xoshiro::Xoshiro256PlusPlus;
use rayon::prelude::*;
use statrs::function::erf::erfc;
use std::f64::consts::FRAC_1_SQRT_2;

/// Particles for one decision; the acceptance probability then scatters by half a percent near 95 %.
pub const PARTICLES: usize = 2000;
/// Outcomes drawn for each choice.
const OUTCOMES: usize = 16;
/// Particles that an outcome is weighed on.
const WEIGHED: usize = 1000;
/// What moving one weight costs, in looks: a look takes minutes, a move half of one. Common practice, no source.
const COST_OF_A_MOVE: f64 = 0.05;
/// Looks that follow when a placement turns out not to hold: one to see where it went, one to prove the next.
const LOOKS_AFTER_A_MISS: f64 = 2.6;

/// How well this person reads. All standard deviations.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reader {
    /// Of a settle angle.
    pub settle_sd: Angle,
    /// Of a timed swing.
    pub time_sd: Seconds,
    /// Amplitude that swings are let go from.
    pub amplitude: Angle,
    /// Of that amplitude.
    pub amplitude_sd: Angle,
    /// Longest that one swing is watched.
    pub patience: Seconds,
}

/// Where a sitting stands.
#[derive(Clone, Copy, Debug)]
pub struct Situation<'a> {
    /// What was known before.
    pub known: &'a Known,
    /// The looks so far.
    pub looks: &'a [Look],
    /// Where the weights are now.
    pub weights_now: &'a [Weight],
    /// What the weights may do.
    pub ring: &'a Ring,
    /// Permissible residual unbalance.
    pub allowance: Unbalance,
    /// Smallest unbalance that the stand can show.
    pub floor: Unbalance,
    /// Probability asked for before a residual is accepted.
    pub sureness: f64,
    /// The person.
    pub reader: Reader,
    /// Seed of the particles.
    pub seed: u64,
}

/// Which look to take.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LookPlan {
    /// Let it settle and read the bottom.
    Settle,
    /// Time so many full swings (0.5: until the other turning point).
    Swing {
        /// Full swings.
        swings: f64,
    },
}

/// What to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Action {
    /// The residual is proven.
    Accept,
    /// Move the weights, then look.
    MoveThenLook,
    /// Look with the weights where they are.
    Look,
    /// The allowance lies below the stand's floor.
    StandCannotShow,
    /// The weights can't answer this unbalance.
    WeightsTooLight,
}

/// A choice that was weighed.
#[derive(Clone, Debug)]
pub struct Choice {
    /// Where the weights would be.
    pub weights: Vec<Weight>,
    /// How many are moved for it.
    pub moved: usize,
    /// Way to slide each weight, positive counter-clockwise; empty when none moves.
    pub ways: Vec<Angle>,
    /// Whether they are set off the best place on purpose.
    pub offset: bool,
    /// The look.
    pub look: LookPlan,
    /// Looks still to be expected, this one included.
    pub expected_looks: f64,
    /// Probability that this look proves the residual.
    pub p_proven: f64,
}

/// The proposal, with all that it rests on.
#[derive(Clone, Debug)]
pub struct Proposal {
    /// What to do.
    pub action: Action,
    /// The best choice, where the action has a look.
    pub choice: Option<Choice>,
    /// All choices, best first.
    pub choices: Vec<Choice>,
    /// Probability that the residual is within the allowance with the weights where they are now.
    pub p_within: f64,
    /// About how long a full swing takes at the chosen place (median), s.
    pub expected_period: Option<Seconds>,
    /// What is believed.
    pub belief: Belief,
}

/// Propose the next step.
///
/// # Errors
/// A [`Fault`] of the placement: no room for the weights, or weights that this ring doesn't have.
pub fn propose(s: &Situation) -> Result<Proposal, Fault> {
    let belief = Belief::infer(s.known, s.looks, s.weights_now, PARTICLES, s.seed);
    let p_within = belief.p_within(s.allowance);
    let mut proposal = Proposal { action: Action::Look, choice: None, choices: vec![], p_within, expected_period: None, belief };
    if s.allowance.g_mm() < s.floor.g_mm() {
        proposal.action = Action::StandCannotShow;
        return Ok(proposal);
    }
    let seen_here = s.looks.last().is_some_and(|l| l.trial.is_none() && same_weights(&l.weights, s.weights_now));
    if seen_here && p_within >= s.sureness {
        proposal.action = Action::Accept;
        return Ok(proposal);
    }
    let crowd = Crowd::new(&proposal.belief, &s.reader, s.seed);
    if let Some(look) = opening(s, &proposal.belief, &crowd) {
        proposal.choice = Some(Choice {
            weights: s.weights_now.to_vec(),
            moved: 0,
            ways: vec![],
            offset: false,
            look,
            expected_looks: 3.5,
            p_proven: 0.0,
        });
    } else {
        let mean = proposal.belief.unbalance().mean;
        let good_enough = good_enough(s, &crowd);
        let p = s.ring.place(mean, s.weights_now, good_enough)?;
        // Up to `good_enough` may be left because fewer moves were preferred; more is left only where nothing better exists.
        if p.left.size().g_mm() > s.allowance.g_mm().max(good_enough.g_mm()) {
            proposal.action = Action::WeightsTooLight;
            proposal.choice = Some(Choice {
                weights: p.weights.clone(),
                moved: p.moved,
                ways: p.ways.clone(),
                offset: false,
                look: LookPlan::Settle,
                expected_looks: f64::INFINITY,
                p_proven: 0.0,
            });
            return Ok(proposal);
        }
        let mut choices = candidates(s, &crowd, mean, p)?;
        if !seen_here && just_placed(s, &proposal.belief, good_enough) {
            choices.retain(|c| c.moved == 0);
        }
        let weigh = |c: &mut Choice| crowd.weigh(s, &proposal.belief, c);
        choices.par_iter_mut().for_each(weigh);
        let cost = |c: &Choice| c.expected_looks + COST_OF_A_MOVE * c.moved as f64;
        choices.sort_by(|a, b| cost(a).total_cmp(&cost(b)));
        proposal.choice = choices.first().cloned();
        proposal.choices = choices;
    }
    if let Some(c) = &proposal.choice {
        proposal.action = if c.moved > 0 { Action::MoveThenLook } else { Action::Look };
        proposal.expected_period = Some(Seconds::new(crowd.median_period(s, Crowd::shift(s, &c.weights))));
    }
    Ok(proposal)
}

/// The first looks need no weighing: a settle, then a swing. Nothing else can be said before size and direction are told.
fn opening(s: &Situation, belief: &Belief, crowd: &Crowd) -> Option<LookPlan> {
    let unknown = belief.unknowns(Some(s.allowance));
    if s.looks.is_empty() || unknown.contains(&Unknown::Direction) {
        return Some(LookPlan::Settle);
    }
    unknown.contains(&Unknown::Size).then(|| crowd.swing(s, [0.0; 2]))
}

/// Residual that the graduations may leave: small against the allowance and against what is not known anyway.
fn good_enough(s: &Situation, crowd: &Crowd) -> Unbalance {
    Unbalance::from_g_mm((0.1 * s.allowance.g_mm()).max(0.1 * crowd.spread()))
}

/// Whether the weights stand where a placement would have put them, on purpose beside it included. They were not looked at there,
/// so nothing new is known: to move them again by a degree or two would only tire. A slip leaves far more, and is put right.
fn just_placed(s: &Situation, belief: &Belief, good_enough: Unbalance) -> bool {
    belief.residual().mean.size().g_mm() <= 2.0 * offset_g_mm(s).max(good_enough.g_mm())
}

/// Size of the known offset that keeps a nearly balanced rotor off the region where drift alone decides where it rests, g·mm.
fn offset_g_mm(s: &Situation) -> f64 {
    (3.0 * s.known.drift_sd.g_mm()).max(1.5 * s.allowance.g_mm())
}

fn candidates(s: &Situation, crowd: &Crowd, mean: UnbalanceVector, placed: Placed) -> Result<Vec<Choice>, Fault> {
    let mut out = vec![];
    let mut add = |weights: Vec<Weight>, moved: usize, ways: Vec<Angle>, offset: bool| {
        let shift = Crowd::shift(s, &weights);
        let swing = crowd.swing(s, shift);
        for look in [LookPlan::Settle, swing] {
            out.push(Choice { weights: weights.clone(), moved, ways: ways.clone(), offset, look, expected_looks: 0.0, p_proven: 0.0 });
        }
    };
    add(s.weights_now.to_vec(), 0, vec![], false);
    if placed.moved > 0 {
        add(placed.weights, placed.moved, placed.ways, false);
    }
    if s.known.drift_sd.g_mm() > 0.1 * s.allowance.g_mm() {
        let size = offset_g_mm(s);
        for quarter in 0..4 {
            let offset = UnbalanceVector::polar(Unbalance::from_g_mm(size), RotorAngle::from_deg(90.0 * f64::from(quarter)));
            let p = s.ring.place(mean - offset, s.weights_now, good_enough(s, crowd))?;
            add(p.weights, p.moved, p.ways, true);
        }
    }
    Ok(out)
}

fn same_weights(a: &[Weight], b: &[Weight]) -> bool {
    a.len() == b.len() && a.iter().zip(b).all(|(a, b)| a.moment == b.moment && a.at.from(b.at).rad().abs() < 1e-9)
}

/// A thinned belief with the noise of future settings, ready to be weighed by outcomes.
struct Crowd {
    states: Vec<State>,
    noise: Vec<[f64; 2]>,
    swing: SwingTimes,
    rng: Xoshiro256PlusPlus,
}

impl Crowd {
    fn new(belief: &Belief, reader: &Reader, seed: u64) -> Self {
        let mut rng = Xoshiro256PlusPlus::seed_from_u64(seed ^ 0x000F_F5E7);
        let step = belief.len().div_ceil(WEIGHED);
        let states: Vec<State> = (0..belief.len()).step_by(step).map(|i| belief.state(i)).collect();
        let noise = states.iter().map(|_| [StandardNormal.sample(&mut rng), StandardNormal.sample(&mut rng)]).collect();
        Self { states, noise, swing: SwingTimes::new(reader.amplitude, reader.amplitude_sd), rng }
    }

    /// Root mean square distance of the residual from its mean, g·mm.
    fn spread(&self) -> f64 {
        let n = self.states.len() as f64;
        let m = [0, 1].map(|d| self.states.iter().map(|s| s.residual[d]).sum::<f64>() / n);
        (self.states.iter().map(|s| (s.residual[0] - m[0]).powi(2) + (s.residual[1] - m[1]).powi(2)).sum::<f64>() / n).sqrt()
    }

    /// Change of the residual when the weights go from where they are now to `weights`, g·mm.
    fn shift(s: &Situation, weights: &[Weight]) -> [f64; 2] {
        let sum = |w: &[Weight]| w.iter().map(|w| w.vector()).sum::<UnbalanceVector>();
        (sum(weights) - sum(s.weights_now)).g_mm()
    }

    fn median_period(&self, s: &Situation, shift: [f64; 2]) -> f64 {
        let k = super::belief::swing_factor(1.0, s.reader.amplitude.rad());
        let mut t: Vec<f64> = self
            .states
            .iter()
            .map(|x| {
                let u2 = (x.residual[0] + shift[0]).powi(2) + (x.residual[1] + shift[1]).powi(2) - x.drift * x.drift;
                if u2 > 0.0 { k * (x.j / u2.sqrt()).sqrt() } else { f64::INFINITY }
            })
            .collect();
        t.sort_by(f64::total_cmp);
        t[t.len() / 2]
    }

    /// A full swing where it is quick, half of one where it is slow.
    fn swing(&self, s: &Situation, shift: [f64; 2]) -> LookPlan {
        LookPlan::Swing { swings: if self.median_period(s, shift) > 0.4 * s.reader.patience.s() { 0.5 } else { 1.0 } }
    }

    /// Fill in what is to be expected of a choice.
    fn weigh(&self, s: &Situation, belief: &Belief, choice: &mut Choice) {
        let shift = Self::shift(s, &choice.weights);
        // Moved weights are set anew: each is off across its radius by its own error.
        let moved2: f64 = choice
            .weights
            .iter()
            .zip(s.weights_now)
            .filter(|(a, b)| a.at.from(b.at).rad().abs() > 1e-9)
            .map(|(a, _)| a.moment.g_mm().powi(2))
            .sum();
        let scale = s.known.setting_sd.rad() * (0.5 * moved2).sqrt();
        let states: Vec<State> = self
            .states
            .iter()
            .zip(&self.noise)
            .map(|(x, n)| State { residual: [x.residual[0] + shift[0] + scale * n[0], x.residual[1] + shift[1] + scale * n[1]], ..*x })
            .collect();
        let mut rng = self.rng.clone();
        let limit = s.allowance.g_mm();
        let foreseen = Foreseen::new(s, choice.look, &self.swing, belief, &states);
        let inside: Vec<bool> = states.iter().map(|x| size(x.residual) <= limit).collect();
        let (mut proven, mut looks) = (0.0, 0.0);
        let mut w = vec![0.0; states.len()];
        for k in 0..OUTCOMES {
            let truth = states[k * states.len() / OUTCOMES];
            let reading = outcome(s, choice.look, &truth, &mut rng);
            foreseen.weights(&reading, belief, &states, &mut w);
            let sum: f64 = w.iter().sum();
            if inside.iter().zip(&w).filter(|(i, _)| **i).map(|(_, w)| w).sum::<f64>() / sum >= s.sureness {
                proven += 1.0;
                continue;
            }
            let mean = [0, 1].map(|d| states.iter().zip(&w).map(|(x, w)| w * x.residual[d]).sum::<f64>() / sum);
            // A swing proves what is clearly inside; what lies at the limit costs another round.
            let near = |x: &State| size([x.residual[0] - mean[0], x.residual[1] - mean[1]]) <= 0.9 * limit;
            let hit = states.iter().zip(&w).filter(|(x, _)| near(x)).map(|(_, w)| w).sum::<f64>() / sum;
            looks += 1.0 + LOOKS_AFTER_A_MISS * (1.0 - hit) + 2.0 * COST_OF_A_MOVE;
        }
        choice.p_proven = proven / OUTCOMES as f64;
        choice.expected_looks = 1.0 + looks / OUTCOMES as f64;
    }
}

fn size(v: [f64; 2]) -> f64 {
    (v[0] * v[0] + v[1] * v[1]).sqrt()
}

/// What each state would show in a look, worked out once: an outcome then weighs a state by one normal density.
enum Foreseen {
    /// Direction in which the heavy side rests, rad, and half of its dead band; NaN: it finds no rest.
    Settles(Vec<[f64; 2]>),
    /// Time and its standard deviation, s; NaN: no such swing.
    Lasts(Vec<[f64; 2]>),
}

/// A state that can't show what was seen is left with this share, as the estimator leaves it one.
const LEFT: f64 = 1e-9;

impl Foreseen {
    fn new(s: &Situation, plan: LookPlan, swing: &SwingTimes, belief: &Belief, states: &[State]) -> Self {
        match plan {
            LookPlan::Settle => Self::Settles(
                states
                    .iter()
                    .map(|x| {
                        let Some([lo, hi]) = belief.rest_band(x) else { return [f64::NAN; 2] };
                        [x.residual[1].atan2(x.residual[0]) - 0.5 * (lo + hi), 0.5 * (hi - lo)]
                    })
                    .collect(),
            ),
            LookPlan::Swing { swings } => Self::Lasts(
                states
                    .iter()
                    .map(|x| {
                        let [t, sd] = swing.of(x, swings).unwrap_or([f64::NAN; 2]);
                        [t, sd.hypot(s.reader.time_sd.s())]
                    })
                    .collect(),
            ),
        }
    }

    /// Weight of each state when this was seen, up to a common factor.
    fn weights(&self, reading: &Reading, belief: &Belief, states: &[State], out: &mut [f64]) {
        match (self, reading) {
            (Self::Settles(rests), Reading::Settle { bottom, sd }) => {
                let (seen, sd) = (bottom.rad(), sd.rad());
                for (w, [middle, half]) in out.iter_mut().zip(rests) {
                    // A dead band that is wide against the reading counts as a normal of like width.
                    let s2 = sd * sd + half * half / 3.0;
                    let x = wrap_pi(middle - seen);
                    *w = LEFT + if x.is_nan() { 0.0 } else { (-0.5 * x * x / s2).exp() / s2.sqrt() };
                }
            }
            (Self::Lasts(times), Reading::Swing { time, .. }) => {
                for (w, [t, sd]) in out.iter_mut().zip(times) {
                    let z = (t - time.s()) / sd;
                    *w = LEFT + if z.is_nan() { 0.0 } else { (-0.5 * z * z).exp() / sd };
                }
            }
            (Self::Lasts(times), Reading::StillOut { waited, .. }) => {
                for (w, [t, sd]) in out.iter_mut().zip(times) {
                    let z = (waited.s() - t) / sd;
                    *w = LEFT + if z.is_nan() { 0.0 } else { 0.5 * erfc(z * FRAC_1_SQRT_2) };
                }
            }
            _ => {
                let kernel = belief.kernel(reading);
                let logs = states.iter().map(|x| belief.log_density_of(&kernel, x));
                out.iter_mut().zip(logs).for_each(|(w, log)| *w = log.exp());
            }
        }
    }
}

/// Draw what a look would show if `truth` were so.
fn outcome(s: &Situation, plan: LookPlan, truth: &State, rng: &mut Xoshiro256PlusPlus) -> Reading {
    let size = truth.residual[0].hypot(truth.residual[1]);
    let (td, tc) = (truth.drift, s.known.dry_friction.g_mm());
    let boundary = Unbalance::from_g_mm((0.1 * s.allowance.g_mm()).max(1e-3));
    let mut normal = || -> f64 { StandardNormal.sample(rng) };
    if td.abs() - tc >= size {
        return Reading::Creeps { sense: if td > 0.0 { Sense::CounterClockwise } else { Sense::Clockwise }, sd: boundary };
    }
    if size + td.abs() <= tc {
        return Reading::Stays { sd: boundary };
    }
    let r = &s.reader;
    match plan {
        LookPlan::Settle => {
            let error = normal() * r.settle_sd.rad();
            let (lo, hi) = (((td - tc) / size).clamp(-1.0, 1.0).asin(), ((td + tc) / size).clamp(-1.0, 1.0).asin());
            let psi = lo + (hi - lo) * rng.random::<f64>();
            let bottom = wrap_pi(truth.residual[1].atan2(truth.residual[0]) - psi + error);
            Reading::Settle { bottom: RotorAngle::from_rad(bottom), sd: r.settle_sd }
        }
        LookPlan::Swing { swings } => {
            let amplitude = (r.amplitude.rad() + normal() * r.amplitude_sd.rad()).clamp(0.02, 3.0);
            let u2 = size * size - td * td;
            let t = if u2 > 0.0 { super::belief::swing_factor(swings, amplitude) * (truth.j / u2.sqrt()).sqrt() } else { f64::INFINITY };
            if t > r.patience.s() {
                return Reading::StillOut { swings, amplitude: r.amplitude, amplitude_sd: r.amplitude_sd, waited: r.patience };
            }
            let time = Seconds::new((t + normal() * r.time_sd.s()).max(1e-3));
            Reading::Swing { swings, amplitude: r.amplitude, amplitude_end: None, amplitude_sd: r.amplitude_sd, time, time_sd: r.time_sd }
        }
    }
}
