//! `next-step`: what to do after a look. Here the shapes and the way to the physics and back.

mod ring;
mod say;

use crate::Fault;
use crate::estimate::{EstimateOut, Known};
use crate::look::{Look, WeightAt, weights};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::Ranged;
use stillwheel_physics::bench::look::Weight;
use stillwheel_physics::bench::next_step::{self as physics, LookPlan, Situation};
use stillwheel_physics::bench::placement::Hole;
use stillwheel_physics::bench::ring::Ring;
use stillwheel_physics::quantity::{Angle, Seconds, Unbalance, UnbalanceVector};

pub use crate::place_weights::{Groove, GrooveWeight, SetScrew, TappedHole};
pub use ring::TappedHoles;
pub(crate) use ring::{places, ring_of};

/// How well this person reads.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Reader {
    /// Standard deviation of a settle angle, degrees.
    pub settle_sd_deg: f64,
    /// Standard deviation of a timed swing, s.
    pub time_sd_s: f64,
    /// Amplitude that swings are let go from, degrees.
    pub amplitude_deg: f64,
    /// Standard deviation of that amplitude, degrees.
    pub amplitude_sd_deg: f64,
    /// Longest that the person will watch one swing, s.
    pub patience_s: f64,
}

impl Default for Reader {
    /// Common practice, no source: an eye on a degree scale and a thumb on a stopwatch.
    fn default() -> Self {
        Self { settle_sd_deg: 3.5, time_sd_s: 0.2, amplitude_deg: 60.0, amplitude_sd_deg: 3.0, patience_s: 150.0 }
    }
}

/// Input of `next-step`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct NextStepIn {
    /// What is known before.
    pub known: Known,
    /// The looks so far (may be none).
    pub looks: Vec<Look>,
    /// Where the weights are now. Tapped holes: one entry a hole, a screw's mass times the hole's radius, 0 for an empty hole.
    pub weights_now: Vec<WeightAt>,
    /// For weights that slide in a groove: how they may be placed. Either this or `tapped_holes`.
    #[serde(default)]
    pub groove: Option<Groove>,
    /// For set screws: holes and stock. Either this or `groove`.
    #[serde(default)]
    pub tapped_holes: Option<TappedHoles>,
    /// Weights that may not be moved, one entry a weight (holes: whose screw, or emptiness, may not be changed); empty: all may.
    #[serde(default)]
    pub fixed: Vec<bool>,
    /// Permissible residual unbalance, g·mm.
    pub allowance_g_mm: f64,
    /// The smallest unbalance that this stand can show, g·mm.
    pub floor_g_mm: f64,
    /// Probability asked for before a residual is accepted.
    #[serde(default = "default_sureness")]
    pub sureness: f64,
    /// How well this person reads.
    #[serde(default)]
    pub reader: Reader,
    /// Seed of the particles.
    #[serde(default = "crate::estimate::default_seed")]
    pub seed: u64,
}

fn default_sureness() -> f64 {
    0.95
}

/// What to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Action {
    /// The residual is proven: done.
    Accept,
    /// Move the weights, then look.
    MoveThenLook,
    /// Look again with the weights where they are.
    Look,
    /// This stand can't prove this allowance: it lies below the floor.
    StandCannotShow,
    /// The weights can't answer this unbalance.
    WeightsTooLight,
}

/// Which look to take.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum LookKind {
    /// Let it settle and read the bottom.
    Settle,
    /// Time a swing.
    Swing,
}

/// One weight's move.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct WeightMove {
    /// Which weight, from 0.
    pub weight: usize,
    /// Where it is, degrees.
    pub from_deg: f64,
    /// Where it shall go, degrees.
    pub to_deg: f64,
    /// Way to slide it, degrees, positive counter-clockwise.
    pub by_deg: f64,
}

/// One hole whose screw changes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ScrewChange {
    /// Which hole, from 0.
    pub hole: usize,
    /// Where it is, degrees.
    pub at_deg: f64,
    /// Mass of the screw that comes out, g; missing: the hole is empty.
    pub out_g: Option<f64>,
    /// Mass of the screw that goes in, g; missing: it stays empty.
    pub in_g: Option<f64>,
}

/// A choice that was weighed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Choice {
    /// In words.
    pub what: String,
    /// Expected number of looks still to take, this one included.
    pub expected_looks: f64,
    /// Weights to move.
    pub weights_moved: usize,
    /// Probability that this very look proves the residual.
    pub p_proven_by_it: f64,
}

/// Output of `next-step`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct NextStepOut {
    /// What to do.
    pub action: Action,
    /// A sentence for the operator.
    pub say: String,
    /// The look to take, if any.
    pub look: Option<LookKind>,
    /// For a swing: rotor angle to hold at the bottom when letting go, degrees.
    pub let_go_deg: Option<f64>,
    /// For a swing: full swings to time (0.5: until the other turning point).
    pub swings: Option<f64>,
    /// About how long one full swing will take, s.
    pub expected_period_s: Option<f64>,
    /// The moves in a groove, if any.
    pub moves: Vec<WeightMove>,
    /// The screws to change, if any.
    #[serde(default)]
    pub screw_changes: Vec<ScrewChange>,
    /// Where all weights will be.
    pub weights_then: Vec<WeightAt>,
    /// Probability that the residual is within the allowance with the weights where they are now.
    pub p_within_allowance: f64,
    /// The allowance, g·mm.
    pub allowance_g_mm: f64,
    /// The floor, g·mm.
    pub floor_g_mm: f64,
    /// The choices weighed, best first.
    pub choices: Vec<Choice>,
    /// The estimate that this rests on (absent before the first look).
    pub estimate: Option<EstimateOut>,
}

/// Propose the next step.
///
/// # Errors
/// A [`Fault`] for any field out of its range.
pub fn next_step(input: &NextStepIn) -> Result<NextStepOut, Fault> {
    let known = input.known.physics().map_err(|f| f.inside("known"))?;
    let looks = crate::estimate::looks(&input.looks)?;
    let now = weights("weights_now", &input.weights_now)?;
    let ring = input.ring()?;
    let n = ring::places(&ring);
    if now.len() != n || looks.iter().any(|l| l.weights.len() != n) {
        return Err(Fault::new(
            "weights_now",
            now.len(),
            format!("{n} weights, as many as the groove has weights or the ring has holes, here and in each look"),
            "list all weights in one order through the sitting",
        ));
    }
    let allowance = crate::estimate::allowance(input.allowance_g_mm)?;
    let floor = input.floor_g_mm.within("floor_g_mm", 0.0, 1e7, "g·mm", "the smallest unbalance that the stand can show")?;
    let sureness = input.sureness.within("sureness", 0.5, 0.999, "", "probability asked for before a residual is accepted")?;
    let reader = input.reader.physics().map_err(|f| f.inside("reader"))?;
    let situation = Situation {
        known: &known,
        looks: &looks,
        weights_now: &now,
        ring: &ring,
        allowance,
        floor: Unbalance::from_g_mm(floor),
        sureness,
        reader,
        seed: input.seed,
    };
    let proposal = physics::propose(&situation)
        .map_err(|f| if f.field.starts_with("holes") || f.field.starts_with("stock") { f.inside("tapped_holes") } else { f })?;
    Ok(told(input, &ring, &proposal, &now))
}

impl Reader {
    pub(crate) fn physics(&self) -> Result<physics::Reader, Fault> {
        Ok(physics::Reader {
            settle_sd: Angle::from_deg(self.settle_sd_deg.within(
                "settle_sd_deg",
                0.01,
                45.0,
                "degrees",
                "how well a settle angle is read",
            )?),
            time_sd: Seconds::new(self.time_sd_s.within("time_sd_s", 1e-3, 10.0, "s", "how well a swing is timed")?),
            amplitude: Angle::from_deg(self.amplitude_deg.within(
                "amplitude_deg",
                5.0,
                150.0,
                "degrees",
                "how far swings are let go from the rest place",
            )?),
            amplitude_sd: Angle::from_deg(self.amplitude_sd_deg.within(
                "amplitude_sd_deg",
                0.01,
                30.0,
                "degrees",
                "how well that is kept",
            )?),
            patience: Seconds::new(self.patience_s.within("patience_s", 10.0, 3600.0, "s", "longest that one swing is watched")?),
        })
    }
}

fn told(input: &NextStepIn, ring: &Ring, p: &physics::Proposal, now: &[Weight]) -> NextStepOut {
    let action = match p.action {
        physics::Action::Accept => Action::Accept,
        physics::Action::MoveThenLook => Action::MoveThenLook,
        physics::Action::Look => Action::Look,
        physics::Action::StandCannotShow => Action::StandCannotShow,
        physics::Action::WeightsTooLight => Action::WeightsTooLight,
    };
    let then: &[Weight] = p.choice.as_ref().map_or(now, |c| &c.weights);
    let looks = matches!(action, Action::Look | Action::MoveThenLook);
    let plan = p.choice.as_ref().filter(|_| looks).map(|c| c.look);
    let swings = match plan {
        Some(LookPlan::Swing { swings }) => Some(swings),
        _ => None,
    };
    // Where the heavy side will hang once the weights are moved: let go with it to the left of the bottom by the amplitude.
    let sum = |w: &[Weight]| w.iter().map(|w| w.vector()).sum::<UnbalanceVector>();
    let then_residual = p.belief.residual().mean + sum(then) - sum(now);
    let let_go_deg = swings.map(|_| then_residual.at().turned(Angle::from_deg(-input.reader.amplitude_deg)).deg());
    let moves = moves(now, then, p.choice.as_ref().map_or(&[], |c| &c.ways));
    let screw_changes = screw_changes(ring, now, then);
    NextStepOut {
        action,
        say: say::say(input, ring, p, action, moves.len(), screw_changes.len()),
        look: plan.map(kind),
        let_go_deg,
        swings,
        expected_period_s: p.expected_period.map(Seconds::s).filter(|t| t.is_finite()),
        moves,
        screw_changes,
        weights_then: then.iter().map(|w| WeightAt { moment_g_mm: w.moment.g_mm(), at_deg: w.at.deg() }).collect(),
        p_within_allowance: p.p_within,
        allowance_g_mm: input.allowance_g_mm,
        floor_g_mm: input.floor_g_mm,
        choices: p.choices.iter().map(choice).collect(),
        estimate: (!input.looks.is_empty()).then(|| crate::estimate::told(&p.belief, Some(Unbalance::from_g_mm(input.allowance_g_mm)))),
    }
}

/// Weights that stand elsewhere then; the way round is the placement's where it tells one, else the shorter.
pub(crate) fn moves(now: &[Weight], then: &[Weight], ways: &[Angle]) -> Vec<WeightMove> {
    now.iter()
        .zip(then)
        .enumerate()
        .filter(|(_, (a, b))| a.at.from(b.at).rad().abs() > 1e-9)
        .map(|(weight, (a, b))| WeightMove {
            weight,
            from_deg: a.at.deg(),
            to_deg: b.at.deg(),
            by_deg: ways.get(weight).map_or_else(|| b.at.from(a.at).deg(), |w| w.deg()),
        })
        .collect()
}

/// Holes whose screw is another then.
pub(crate) fn screw_changes(ring: &Ring, now: &[Weight], then: &[Weight]) -> Vec<ScrewChange> {
    let Ring::Holes { holes, .. } = ring else { return Vec::new() };
    let screw = |w: &Weight, h: &Hole| (w.moment.g_mm() > 0.0).then(|| w.moment.g_mm() / h.radius.mm());
    let changed = |(a, b): (&Weight, &Weight)| (a.moment.g_mm() - b.moment.g_mm()).abs() > 1e-6 * a.moment.g_mm().max(b.moment.g_mm());
    holes
        .iter()
        .enumerate()
        .filter(|&(i, _)| changed((&now[i], &then[i])))
        .map(|(hole, h)| ScrewChange { hole, at_deg: h.at.deg(), out_g: screw(&now[hole], h), in_g: screw(&then[hole], h) })
        .collect()
}

fn kind(plan: LookPlan) -> LookKind {
    match plan {
        LookPlan::Settle => LookKind::Settle,
        LookPlan::Swing { .. } => LookKind::Swing,
    }
}

fn choice(c: &physics::Choice) -> Choice {
    let place = match (c.moved, c.offset) {
        (0, _) => "leave the weights",
        (_, false) => "move the weights to the best place",
        (_, true) => "set the weights off on purpose by a known step",
    };
    let look = match c.look {
        LookPlan::Settle => "let it settle".to_owned(),
        LookPlan::Swing { swings } if swings < 1.0 => "time half a swing".to_owned(),
        LookPlan::Swing { .. } => "time a swing".to_owned(),
    };
    Choice { what: format!("{place}, {look}"), expected_looks: c.expected_looks, weights_moved: c.moved, p_proven_by_it: c.p_proven }
}
