//! Weights of any moments in a groove with graduations: the task, its checks, its answer.

use super::field::{Aim, Field, MOST_WEIGHTS};
use super::solve::{Solved, solve};
use super::{Proof, SAME_DEG};
use crate::quantity::{Angle, RotorAngle, Unbalance, UnbalanceVector};
use crate::{Fault, Ranged};

/// One weight of a groove.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GrooveWeight {
    /// Mass times radius of its mass centre (1e-6 to 1e7 g·mm).
    pub moment: Unbalance,
    /// Arc that its body takes up (0 to 360°).
    pub arc: Angle,
}

/// What counts first among placements whose residuals count as equal.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Order {
    /// Least travel, then fewest moved, then residual.
    #[default]
    LeastTravel,
    /// Fewest moved, then least travel, then residual. A weight that stays may then stand between two graduations.
    FewestMoved,
}

/// Where shall these weights go?
#[derive(Clone, Debug, PartialEq)]
pub struct GrooveTask {
    /// What is to be answered: the unbalance of the rotor without these weights (up to 1e8 g·mm).
    pub unbalance: UnbalanceVector,
    /// The weights (1 to 12); their arcs together at most 360°.
    pub weights: Vec<GrooveWeight>,
    /// Spacing of the graduations to which centres are set, counted from the zero mark (0.1 to 30°, dividing 360°).
    pub graduation: Angle,
    /// Arcs \[from, to\], counter-clockwise, that no body may enter (touching is allowed).
    pub forbidden: Vec<[RotorAngle; 2]>,
    /// Whether weights can't pass one another: they then keep their cyclic order.
    pub no_passing: bool,
    /// Where the weights are now; `None`: not on the rotor yet, so travel means nothing.
    pub present: Option<Vec<RotorAngle>>,
    /// Weights that may not be moved; empty: all may.
    pub fixed: Vec<bool>,
    /// Residuals within this of the least count as equal (0 to 1e6 g·mm).
    pub tie: Unbalance,
    /// Residuals at or below this count as equal, whatever the least may be.
    pub good_enough: Option<Unbalance>,
    /// What counts first among equals.
    pub order: Order,
}

/// Whether the weights can answer the unbalance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Answer {
    /// What is left is good enough, or no more than one graduation of the heaviest movable weight.
    Balanced,
    /// The weights are too light: they pull the right way and it is not enough.
    TooLight {
        /// Factor for the moment of every movable weight (same arcs) with which it would be enough.
        times: f64,
    },
    /// More weight would not help: the weights are too heavy or too unlike for so small an unbalance, or forbidden arcs
    /// and weights that stay keep them from where they should be.
    OutOfReach,
}

/// The best placement.
#[derive(Clone, Debug, PartialEq)]
pub struct GroovePlacement {
    /// Place of each weight.
    pub at: Vec<RotorAngle>,
    /// What is left.
    pub residual: UnbalanceVector,
    /// Least residual of all placements, where it had to be found (not when `good_enough` was met first).
    pub least_residual: Option<Unbalance>,
    /// Way to slide each weight, positive counter-clockwise; empty without present places.
    pub ways: Vec<Angle>,
    /// Sum of the ways without sign.
    pub travel: Angle,
    /// Number of weights to move.
    pub moved: usize,
    /// Pairs of weights that overlap where they are now: a start like that is allowed, but looks like a slip.
    pub overlapping_now: Vec<[usize; 2]>,
    /// How sure it is that nothing better exists.
    pub proof: Proof,
    /// Whether it balances, and what would.
    pub answer: Answer,
}

/// Best places of the weights in the groove.
///
/// Order: (1) least residual; all within `tie` of the least count as equal, or, if any placement is at or below
/// `good_enough`, all that are; (2) and on: [`Order`]. Travel: weights that can't pass slide, see docs of the fields;
/// others go the short way each.
///
/// Exact, and says so, for up to 4 weights at 1° and 6 at 5°, and wherever the walk (places of all weights but two) or
/// two halves (each up to 1.5 million placements) are few enough; beyond that [`Proof::Gap`].
///
/// # Errors
/// A [`Fault`] for a value out of range, and when the weights find no room.
///
/// Source of the order and of travel: docs/physics.md, "Weights".
pub fn place_in_groove(task: &GrooveTask) -> Result<GroovePlacement, Fault> {
    let field = field(task)?;
    let tie = task.tie.g_mm().within("tie_g_mm", 0.0, 1e6, "g·mm", "residuals this close count as equal")?;
    let good_enough = match task.good_enough {
        Some(g) => Some(g.g_mm().within("good_enough_g_mm", 0.0, 1e6, "g·mm", "residuals up to this count as equal")?),
        None => None,
    };
    let aim = match task.order {
        Order::LeastTravel => Aim::LeastTravel,
        Order::FewestMoved => Aim::FewestMoved,
    };
    let solved = solve(&field, tie, good_enough, aim).ok_or_else(|| {
        Fault::new(
            "groove.forbidden_deg",
            format!("{} arcs, {} weights", task.forbidden.len(), task.weights.len()),
            "room for all weights side by side, in their order if they can't pass",
            "no place was found for all the weights: take one off, free a fixed one, or shorten a forbidden arc",
        )
    })?;
    Ok(placement(&field, &solved, good_enough))
}

fn placement(field: &Field, solved: &Solved, good_enough: Option<f64>) -> GroovePlacement {
    let at = &solved.found.at;
    let n = field.count();
    let rest = field.rest(at);
    let (ways, travel) = field.ways(at);
    let present = field.present.as_deref().unwrap_or(&[]);
    let overlapping_now = (0..present.len())
        .flat_map(|i| (i + 1..present.len()).map(move |j| [i, j]))
        .filter(|&[i, j]| super::field::apart(present[i], present[j]) < 0.5 * (field.arc[i] + field.arc[j]) - SAME_DEG)
        .collect();
    let free: Vec<usize> = (0..n).filter(|&i| !field.fixed[i]).collect();
    let mut staying = [f64::NAN; MOST_WEIGHTS];
    for i in (0..n).filter(|&i| field.fixed[i]) {
        staying[i] = at[i];
    }
    let asked = field.rest(&staying);
    let proof = if solved.proven {
        Proof::Best
    } else {
        Proof::Gap { residual_at_least: Unbalance::from_g_mm(field.least_possible(&free, asked)) }
    };
    GroovePlacement {
        at: at[..n].iter().map(|&a| RotorAngle::from_deg(a)).collect(),
        residual: UnbalanceVector::from_g_mm(-rest[0], -rest[1]),
        least_residual: solved.least.map(Unbalance::from_g_mm),
        ways: if present.is_empty() { Vec::new() } else { ways[..n].iter().map(|&w| Angle::from_deg(w)).collect() },
        travel: Angle::from_deg(travel),
        moved: field.moved(at),
        overlapping_now,
        proof,
        answer: answer(field, &free, asked, rest, good_enough),
    }
}

/// `asked`: what the movable weights should add up to; `rest`: what is missing of it.
fn answer(field: &Field, free: &[usize], asked: [f64; 2], rest: [f64; 2], good_enough: Option<f64>) -> Answer {
    let left = rest[0].hypot(rest[1]);
    let largest = free.iter().map(|&i| field.moment[i]).fold(0.0, f64::max);
    if left <= (largest * field.step.to_radians()).max(good_enough.unwrap_or(0.0)) {
        return Answer::Balanced;
    }
    let size = asked[0].hypot(asked[1]);
    let missing = (rest[0] * asked[0] + rest[1] * asked[1]) / size;
    let pulled = size - missing;
    // Too light: nearly all that is left points the way the weights already pull.
    if missing > 0.7 * left && pulled > 0.0 { Answer::TooLight { times: size / pulled } } else { Answer::OutOfReach }
}

fn field(task: &GrooveTask) -> Result<Field, Fault> {
    let n = task.weights.len();
    if !(1..=MOST_WEIGHTS).contains(&n) {
        return Err(Fault::new("groove.weights", n, format!("1 to {MOST_WEIGHTS} weights"), "number of weights in the groove"));
    }
    task.unbalance.size().g_mm().within("unbalance.size_g_mm", 0.0, 1e8, "g·mm", "the size of the unbalance to be answered")?;
    let mut moment = Vec::with_capacity(n);
    let mut arc = Vec::with_capacity(n);
    for (i, w) in task.weights.iter().enumerate() {
        let name = format!("groove.weights[{i}]");
        moment.push(w.moment.g_mm().within(&format!("{name}.moment_g_mm"), 1e-6, 1e7, "g·mm", "mass times radius: it must be positive")?);
        arc.push(w.arc.deg().within(&format!("{name}.arc_deg"), 0.0, 360.0, "degrees", "the arc that the weight's body takes up")?);
    }
    let arcs: f64 = arc.iter().sum();
    if arcs > 360.0 + SAME_DEG {
        return Err(Fault::new(
            "groove.weights[].arc_deg",
            arcs,
            "together at most 360 degrees",
            "the weights don't fit into the groove side by side",
        ));
    }
    let (steps, step) = graduations(task.graduation)?;
    let blocked = forbidden(&task.forbidden)?;
    let free_of_arcs = |a: f64, arc: f64| !blocked.iter().any(|b| inside(a, arc, *b));
    let unit = (0..steps).map(|g| (g as f64 * step).to_radians().sin_cos()).map(|(s, c)| [c, s]).collect();
    let mut allowed: Vec<Vec<bool>> = Vec::with_capacity(n);
    for (i, &width) in arc.iter().enumerate() {
        let places = match arc[..i].iter().position(|&a| a == width) {
            Some(same) => allowed[same].clone(),
            None => (0..steps).map(|g| free_of_arcs(g as f64 * step, width)).collect(),
        };
        allowed.push(places);
    }
    let fixed = if task.fixed.is_empty() { vec![false; n] } else { task.fixed.clone() };
    let present = present(task, n)?;
    if fixed.len() != n {
        return Err(Fault::new("fixed", fixed.len(), format!("{n} entries, one a weight, or none"), "which weights may not be moved"));
    }
    if present.is_none() && fixed.contains(&true) {
        return Err(Fault::new(
            "present_deg",
            "missing",
            "the present place of every weight",
            "a weight that may not be moved must stand somewhere",
        ));
    }
    if let Some(i) = (0..n).find(|&i| !fixed[i] && !allowed[i].contains(&true)) {
        return Err(Fault::new(
            "groove.forbidden_deg",
            format!("{} arcs", blocked.len()),
            format!("a gap of at least {} degrees with a graduation in its middle", arc[i]),
            format!("the forbidden arcs leave no place for weights[{i}]"),
        ));
    }
    let present_allowed = present.iter().flatten().zip(&arc).map(|(&p, &w)| free_of_arcs(p, w)).collect();
    let u = task.unbalance.g_mm();
    let mut field = Field {
        moment,
        arc,
        step,
        unit,
        allowed,
        present,
        present_allowed,
        fixed,
        wanted: [-u[0], -u[1]],
        order: Vec::new(),
        lifted_now: Vec::new(),
    };
    if task.no_passing {
        field.keep_order();
    }
    Ok(field)
}

/// Number and exact spacing (degrees) of the graduations.
fn graduations(graduation: Angle) -> Result<(usize, f64), Fault> {
    let step = graduation.deg().within("groove.graduation_deg", 0.1 - 1e-9, 30.0 + 1e-9, "degrees", "spacing of the graduations")?;
    let steps = (360.0 / step).round();
    if (360.0 / steps - step).abs() > 1e-9 {
        let (finer, coarser) = (360.0 / (360.0 / step).ceil(), 360.0 / (360.0 / step).floor());
        return Err(Fault::new(
            "groove.graduation_deg",
            step,
            format!(
                "a whole number of graduations on the circle, like 0.5, 1, 2, 2.5, 5, 7.5, 10, 15 degrees; the nearest: {finer:.6} and {coarser:.6}"
            ),
            "graduations counted from the zero mark must meet it again after one turn",
        ));
    }
    Ok((steps as usize, 360.0 / steps))
}

/// Forbidden arcs as (from, width), degrees.
fn forbidden(arcs: &[[RotorAngle; 2]]) -> Result<Vec<(f64, f64)>, Fault> {
    let mut blocked = Vec::with_capacity(arcs.len());
    for (k, [from, to]) in arcs.iter().enumerate() {
        let name = format!("groove.forbidden_deg[{k}]");
        let width = (to.rad() - from.rad()).to_degrees();
        if !width.is_finite() {
            return Err(Fault::new(name, width, "two finite angles in degrees", "an arc that no weight may enter"));
        }
        if width.abs() >= 360.0 - SAME_DEG {
            return Err(Fault::new(name, width, "an arc of less than 360 degrees", "this arc covers the whole groove"));
        }
        if width.abs() < SAME_DEG {
            return Err(Fault::new(
                name,
                width,
                "two different angles, counter-clockwise from the first to the second",
                "this arc has no width",
            ));
        }
        blocked.push((from.deg(), width.rem_euclid(360.0)));
    }
    Ok(blocked)
}

/// Whether a body of this arc, centred at `a`, enters the forbidden arc.
fn inside(a: f64, arc: f64, (from, width): (f64, f64)) -> bool {
    let ahead = (a - from).rem_euclid(360.0);
    let enters = |x: f64| x > -0.5 * arc + SAME_DEG && x < width + 0.5 * arc - SAME_DEG;
    enters(ahead) || enters(ahead - 360.0)
}

fn present(task: &GrooveTask, n: usize) -> Result<Option<Vec<f64>>, Fault> {
    let Some(present) = &task.present else { return Ok(None) };
    if present.len() != n {
        return Err(Fault::new("present_deg", present.len(), format!("{n} angles, one a weight"), "where the weights are now"));
    }
    if let Some(i) = present.iter().position(|p| !p.rad().is_finite()) {
        return Err(Fault::new(format!("present_deg[{i}]"), present[i].rad(), "a finite angle in degrees", "where the weight is now"));
    }
    Ok(Some(present.iter().map(|p| p.deg()).collect()))
}
