//! The step in a sentence for the operator.

use super::{Action, NextStepIn};
use stillwheel_physics::bench::look::Weight;
use stillwheel_physics::bench::next_step::{LookPlan, Proposal};
use stillwheel_physics::bench::ring::Ring;
use stillwheel_physics::quantity::UnbalanceVector;

/// The step in a sentence; `moved` weights slide, `changed` holes get another screw.
pub(super) fn say(input: &NextStepIn, ring: &Ring, p: &Proposal, action: Action, moved: usize, changed: usize) -> String {
    let percent = |v: f64| if v > 0.995 { "more than 99 %".to_owned() } else { format!("{:.0} %", 100.0 * v) };
    let look = look(input, p);
    match action {
        Action::Accept => {
            format!("Balanced: the residual is within {:.3} g·mm with a probability of {}.", input.allowance_g_mm, percent(p.p_within))
        }
        Action::StandCannotShow => format!(
            "This stand can't prove it: its floor is {:.3} g·mm and the allowance {:.3} g·mm. Use a better stand, or allow more.",
            input.floor_g_mm, input.allowance_g_mm
        ),
        Action::WeightsTooLight => wanting(ring, p),
        Action::MoveThenLook if changed == 1 => format!("Change the screw as shown and tighten; then {look}."),
        Action::MoveThenLook if changed > 1 => format!("Change the screws in {changed} holes as shown and tighten; then {look}."),
        Action::MoveThenLook => format!("Move {moved} weight{} as shown and clamp; then {look}.", if moved == 1 { "" } else { "s" }),
        Action::Look => {
            let mut c = look.chars();
            format!("{}{}.", c.next().map(|f| f.to_uppercase().to_string()).unwrap_or_default(), c.as_str())
        }
    }
}

fn look(input: &NextStepIn, p: &Proposal) -> String {
    match p.choice.as_ref().map(|c| c.look) {
        Some(LookPlan::Swing { swings }) => {
            let how = if swings < 1.0 { "time it to the other turning point" } else { "time one full swing, out and back" };
            format!(
                "let it go {:.0}° from its rest place and {how}; if it is still out after {:.0} s, say so",
                input.reader.amplitude_deg, input.reader.patience_s
            )
        }
        _ => "let it settle and read the bottom".to_owned(),
    }
}

/// What the ring lacks: mass, or fineness.
fn wanting(ring: &Ring, p: &Proposal) -> String {
    let (u, reach) = (p.belief.unbalance().size.p50.g_mm(), ring.reach().g_mm());
    let (weights, together, heavier) = match ring {
        Ring::Groove { .. } => ("weights", "all weights together give", "weights"),
        Ring::Holes { .. } => ("screws", "the heaviest screws in the best holes give", "screws"),
    };
    if u > 0.9 * reach {
        return format!(
            "The {weights} can't answer this: the unbalance is about {u:.0} g·mm and {together} {reach:.0} g·mm at most. Use {heavier} {:.1} times as heavy.",
            (1.1 * u / reach.max(1e-9)).max(1.1)
        );
    }
    let sum = |w: &[Weight]| w.iter().map(|w| w.vector()).sum::<UnbalanceVector>();
    let left = p.choice.as_ref().map(|c| (p.belief.unbalance().mean + sum(&c.weights)).size().g_mm());
    let left = left.map_or(String::new(), |l| format!(": at best {l:.0} g·mm is left"));
    match ring {
        Ring::Groove { .. } => format!(
            "The weights can't answer this closely enough{left}. Use lighter or more equal weights, a finer graduation, or set a fixed weight or forbidden arc free."
        ),
        Ring::Holes { .. } => {
            format!("The screws can't answer this closely enough{left}. Add screws lighter than the lightest, or of more kinds.")
        }
    }
}
