//! What to do after a look: accept, move so and look, or look again.
//!
//! In: a [`Situation`]. Out: a [`Proposal`]. A residual is accepted when it is within the allowance with the sureness
//! asked for *and* a look was taken with the weights where they are *and* the stand can show so little. Otherwise every
//! choice worth having is tried on the belief: outcomes of its look are drawn, the belief is reweighted by each, and the
//! choice with the fewest looks still to be expected wins. Deciding by expected value of the next experiment: Lindley 1956.

mod crowd;

use super::belief::{Belief, Known, Unknown};
use super::look::{Look, Weight};
use super::ring::{Placed, Ring};
use crate::Fault;
use crate::quantity::{Angle, RotorAngle, Seconds, Unbalance, UnbalanceVector};
use crowd::Crowd;
use rayon::prelude::*;

/// Particles for one decision; the acceptance probability then scatters by half a percent near 95 %.
pub const PARTICLES: usize = 2000;
/// What moving one weight costs, in looks: a look takes minutes, a move half of one. Common practice, no source.
const COST_OF_A_MOVE: f64 = 0.05;

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
    let crowd = Crowd::new(&proposal.belief, &s.reader, s.weights_now.len(), s.seed);
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
