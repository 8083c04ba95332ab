//! From the door's shapes to the physics and back.

use super::{
    AgreementOut, ClosureOut, ExpectedOut, InfluenceAt, PhaseCounts, RemainderOut, TrimAnswer, TrimIn, TrimOut, TrimPlacement, TrimRun, say,
};
use crate::look::{Sense, WeightAt, weights};
use crate::next_step::{moves, places, ring_of, screw_changes};
use crate::{Fault, FaultValue};
use stillwheel_physics::Ranged;
use stillwheel_physics::bench::look::Weight;
use stillwheel_physics::grinder::trim::{
    Agreement, AmplitudeFit, AmplitudeRun, Found, Influence, PhaseFit, PhaseRun, Repeats, from_amplitudes, from_phases,
};
use stillwheel_physics::quantity::{RotorAngle, Unbalance, UnbalanceVector};

/// Readings this unlikely contradict one another, and phases that fit this well the other way round are counted so.
const CONTRADICTS: f64 = 0.01;
/// Placement may leave this share of the error of what was found: below it nothing is gained. Common practice, no source.
const PLACED_WELL: f64 = 0.25;
/// And this share of the allowance.
const PLACED_WITHIN: f64 = 0.1;
/// Above this share of the mean square the vibration is mostly something else.
const MOSTLY: f64 = 0.5;

struct Solved {
    found: Vec<Found>,
    agreement: Agreement,
    repeats: Option<Repeats>,
    influence: Option<InfluenceAt>,
    closure: Option<ClosureOut>,
    next_trial_deg: Option<f64>,
}

pub(super) fn trim(input: &TrimIn) -> Result<TrimOut, Fault> {
    let now = weights("weights_now", &input.weights_now)?;
    let rel_sd = input.reading_rel_sd.within("reading_rel_sd", 1e-6, 1.0, "", "standard deviation of an amplitude, as a share of it")?;
    let phase_sd = input.phase_sd_deg.within("phase_sd_deg", 1e-6, 180.0, "degrees", "standard deviation of a phase")?;
    let allowance = input.allowance_g_mm.map(crate::estimate::allowance).transpose()?;
    let radius = input.radius_mm.map(|r| r.within("radius_mm", 1.0, 1000.0, "mm", "where a mass would be put")).transpose()?;
    // More than can be solved is refused before any of it is looked at.
    if input.runs.is_empty() || input.runs.len() > stillwheel_physics::grinder::trim::MOST_RUNS {
        return Err(Fault::new("runs", input.runs.len(), "1 to 60 runs", "one run as it is, and runs with a known change of the weights"));
    }
    let mut changes = Vec::with_capacity(input.runs.len());
    for (i, run) in input.runs.iter().enumerate() {
        changes.push(change(run, &now).map_err(|f| f.inside(&format!("runs[{i}]")))?);
    }
    let largest = changes.iter().map(|c| c.size().g_mm()).fold(0.0, f64::max);
    let solved =
        if phased(input)? { with_phase(input, &changes, rel_sd, phase_sd)? } else { without_phase(input, &changes, rel_sd, largest)? };
    let one = if let [one] = solved.found[..] { Some(one) } else { None };
    let placement = one.map(|f| placement(input, &now, &f, allowance)).transpose()?.flatten();
    let expected = one.map(|f| expected(&f, placement.as_ref(), allowance));
    let remainder = remainder(input, &changes, expected.as_ref());
    let mut out = TrimOut {
        says: String::new(),
        answers: solved.found.iter().map(|f| answer(f, radius)).collect(),
        next_trial_deg: solved.next_trial_deg,
        influence: solved.influence,
        agreement: AgreementOut {
            spare: solved.agreement.spare,
            probability: solved.agreement.probability,
            scatter_factor: solved.agreement.scatter_factor,
            repeats_times_stated: solved.repeats.map(|r| r.times_stated),
        },
        closure: solved.closure,
        remainder,
        placement,
        expected,
        cautions: Vec::new(),
    };
    out.cautions = say::cautions(&out, solved.repeats.map(|r| r.probability));
    out.says = say::says(&out);
    Ok(out)
}

/// What was added in a run against the first state.
fn change(run: &TrimRun, now: &[Weight]) -> Result<UnbalanceVector, Fault> {
    if run.trial.len() > 12 {
        return Err(Fault::new("trial", run.trial.len(), "0 to 12 masses", "name only what was added for this run"));
    }
    let mut sum = UnbalanceVector::default();
    for (k, t) in run.trial.iter().enumerate() {
        sum = sum + t.physics().map_err(|f| f.inside(&format!("trial[{k}]")))?.vector();
    }
    let Some(list) = &run.weights else { return Ok(sum) };
    let then = weights("weights", list)?;
    if then.len() != now.len() {
        let allowed = format!("{} weights, as in weights_now", now.len());
        return Err(Fault::new("weights", then.len(), allowed, "list all weights of the ring, in one order"));
    }
    let total = |w: &[Weight]| w.iter().map(|w| w.vector()).sum::<UnbalanceVector>();
    Ok(sum + total(&then) - total(now))
}

/// Whether the runs have phases: all or none.
fn phased(input: &TrimIn) -> Result<bool, Fault> {
    let with = input.runs.iter().filter(|r| r.phase_deg.is_some()).count();
    if with == 0 {
        if input.known_influence.is_some() {
            let why = "how the machine answers is known with its phase, so it helps only where phases are read";
            return Err(Fault::new("known_influence", "given without phases", "only with phases", why));
        }
        return Ok(false);
    }
    if let Some(i) = input.runs.iter().position(|r| r.phase_deg.is_none()) {
        let why = "some runs have a phase and this one has none: read it in all of them or in none";
        return Err(Fault::new(format!("runs[{i}].phase_deg"), "missing", "the phase in degrees", why));
    }
    if input.turns.is_none() {
        let why = "from the operator's side: a phase tells an angle only with the sense of turning";
        return Err(Fault::new("turns", "missing", "clockwise or counter-clockwise", why));
    }
    Ok(true)
}

fn amplitude_sd(i: usize, run: &TrimRun, rel_sd: f64, inputs: &TrimIn) -> Result<f64, Fault> {
    if let Some(sd) = run.amplitude_sd {
        let field = format!("runs[{i}].amplitude_sd");
        return sd.within(&field, 1e-12, 1e12, "", "a standard deviation must be positive: how well does the reading repeat?");
    }
    // A reading near zero is known no better than a fifth of what the largest is: the display's last digit. Common practice, no source.
    let largest = inputs.runs.iter().map(|r| r.amplitude).fold(0.0, f64::max);
    Ok((rel_sd * run.amplitude).max(0.2 * rel_sd * largest))
}

fn without_phase(input: &TrimIn, changes: &[UnbalanceVector], rel_sd: f64, largest: f64) -> Result<Solved, Fault> {
    let mut runs = Vec::with_capacity(changes.len());
    for (i, (run, trial)) in input.runs.iter().zip(changes).enumerate() {
        runs.push(AmplitudeRun { trial: *trial, amplitude: run.amplitude, amplitude_sd: amplitude_sd(i, run, rel_sd, input)? });
    }
    let fit: AmplitudeFit = from_amplitudes(&runs)?;
    let next_trial_deg = fit.telling_trial(Unbalance::from_g_mm(largest)).map(RotorAngle::deg);
    let closure = fit.closure.map(|c| ClosureOut {
        heavy_deg: c.heavy.deg(),
        from_sum_g_mm: c.from_sum.g_mm(),
        from_harmonic_g_mm: c.from_harmonic.g_mm(),
        mismatch_percent: 100.0 * c.mismatch(),
    });
    Ok(Solved { found: fit.found, agreement: fit.agreement, repeats: fit.repeats, influence: None, closure, next_trial_deg })
}

fn with_phase(input: &TrimIn, changes: &[UnbalanceVector], rel_sd: f64, phase_sd_deg: f64) -> Result<Solved, Fault> {
    // A wheel that turns counter-clockwise brings rotor angle θ past the sensor as −Ωt: its crest leads by θ.
    let turns = if input.turns == Some(Sense::Clockwise) { -1.0 } else { 1.0 };
    let sense = turns * if input.phase_counts == PhaseCounts::Lag { -1.0 } else { 1.0 };
    let mut runs = Vec::with_capacity(changes.len());
    for (i, (run, trial)) in input.runs.iter().zip(changes).enumerate() {
        let inside = |f: Fault| f.inside(&format!("runs[{i}]"));
        let phase = run.phase_deg.unwrap_or(f64::NAN);
        let phase = phase.within("phase_deg", -3600.0, 3600.0, "degrees", "phase against the mark").map_err(inside)?;
        let sd = run.phase_sd_deg.unwrap_or(phase_sd_deg);
        let sd = sd.within("phase_sd_deg", 1e-6, 180.0, "degrees", "how well does the phase repeat?").map_err(inside)?;
        runs.push(PhaseRun {
            trial: *trial,
            amplitude: run.amplitude,
            amplitude_sd: amplitude_sd(i, run, rel_sd, input)?,
            phase_rad: sense * phase.to_radians(),
            phase_sd_rad: sd.to_radians(),
        });
    }
    let known = input
        .known_influence
        .map(|k| -> Result<Influence, Fault> {
            let turned = k.turned_deg.within("known_influence.turned_deg", -3600.0, 3600.0, "degrees", "from an earlier trim")?;
            Ok(Influence { per_g_mm: k.per_g_mm, turned_rad: turned.to_radians(), rel_sd: k.rel_sd })
        })
        .transpose()?;
    let fit: PhaseFit = from_phases(&runs, known.as_ref())?;
    if known.is_none() && fit.agreement.probability < CONTRADICTS && fit.other_sense.probability > CONTRADICTS {
        let value: FaultValue = if input.phase_counts == PhaseCounts::Lag { "lag".into() } else { "lead".into() };
        let why = "the runs contradict one another so, and agree when the phases are counted the other way round: turn over the sense of \
                   the phase, or that of the wheel";
        return Err(Fault::new("phase_counts", value, "the sense in which the readings agree", why));
    }
    let influence =
        InfluenceAt { per_g_mm: fit.influence.per_g_mm, turned_deg: fit.influence.turned_rad.to_degrees(), rel_sd: fit.influence.rel_sd };
    Ok(Solved {
        found: vec![fit.found],
        agreement: fit.agreement,
        repeats: fit.repeats,
        influence: Some(influence),
        closure: None,
        next_trial_deg: None,
    })
}

fn answer(f: &Found, radius_mm: Option<f64>) -> TrimAnswer {
    let size = f.unbalance.size().g_mm();
    let [along, across] = f.along_across_g_mm();
    let (ellipse_g_mm, turned) = f.ellipse_95();
    TrimAnswer {
        unbalance: f.unbalance.into(),
        size_sd_g_mm: along,
        // To first order; where the ellipse reaches the middle there is no direction.
        at_sd_deg: if size > across { (across / size).atan().to_degrees() } else { 180.0 },
        ellipse_g_mm,
        ellipse_deg: turned.to_degrees().rem_euclid(180.0),
        correction: (-f.unbalance).into(),
        correction_g: radius_mm.map(|r| size / r),
        answer_per_g_mm: f.answer_per_g_mm,
        answer_sd_per_g_mm: f.answer_sd,
    }
}

fn placement(input: &TrimIn, now: &[Weight], f: &Found, allowance: Option<Unbalance>) -> Result<Option<TrimPlacement>, Fault> {
    if input.groove.is_none() && input.tapped_holes.is_none() {
        return Ok(None);
    }
    let ring = ring_of(input.groove.as_ref(), input.tapped_holes.as_ref(), &input.fixed)?;
    if now.len() != places(&ring) {
        let allowed = format!("{} weights, as many as the groove has weights or the ring has holes", places(&ring));
        return Err(Fault::new("weights_now", now.len(), allowed, "list all weights of the ring, in its order"));
    }
    let without: UnbalanceVector = f.unbalance - now.iter().map(|w| w.vector()).sum::<UnbalanceVector>();
    let good_enough = (PLACED_WELL * f.rms_error_g_mm()).max(allowance.map_or(0.0, |a| PLACED_WITHIN * a.g_mm())).max(1e-6);
    let placed = ring
        .place(without, now, Unbalance::from_g_mm(good_enough))
        .map_err(|f| if f.field.starts_with("holes") || f.field.starts_with("stock") { f.inside("tapped_holes") } else { f })?;
    Ok(Some(TrimPlacement {
        moves: if input.groove.is_some() { moves(now, &placed.weights, &placed.ways) } else { Vec::new() },
        screw_changes: screw_changes(&ring, now, &placed.weights),
        weights_then: placed.weights.iter().map(|w| WeightAt { moment_g_mm: w.moment.g_mm(), at_deg: w.at.deg() }).collect(),
        left: placed.left.into(),
    }))
}

fn expected(f: &Found, placement: Option<&TrimPlacement>, allowance: Option<Unbalance>) -> ExpectedOut {
    let left = placement.map_or(0.0, |p| p.left.size_g_mm);
    let rms = left.hypot(f.rms_error_g_mm());
    // No direction is worse than the longest: a bound, not the exact quantile.
    let bound = left + f.ellipse_95().0[0];
    ExpectedOut {
        unbalance_rms_g_mm: rms,
        unbalance_95_g_mm: bound,
        amplitude_rms: rms * f.answer_per_g_mm,
        within_allowance: allowance.map(|a| bound <= a.g_mm()),
    }
}

/// From the runs of the rotor as it is.
fn remainder(input: &TrimIn, changes: &[UnbalanceVector], expected: Option<&ExpectedOut>) -> Option<RemainderOut> {
    let scale = changes.iter().map(|c| c.size().g_mm()).fold(0.0, f64::max);
    let as_is: Vec<&TrimRun> = input.runs.iter().zip(changes).filter(|(_, c)| c.size().g_mm() <= 1e-6 * scale).map(|(r, _)| r).collect();
    let mean = |of: fn(&TrimRun) -> Option<f64>| -> Option<f64> {
        let values: Vec<f64> = as_is.iter().filter_map(|r| of(r)).filter(|v| v.is_finite() && *v >= 0.0).collect();
        (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
    };
    let (first, second, rest) = (mean(|r| Some(r.amplitude))?, mean(|r| r.second), mean(|r| r.rest_rms));
    // Where the whole rest was not read, twice the speed is at least a part of it.
    let rest_rms = rest.or(second.map(|s| s / std::f64::consts::SQRT_2))?;
    let share = |amplitude: f64| {
        let all = rest_rms.powi(2) + 0.5 * amplitude.powi(2);
        if all > 0.0 { rest_rms.powi(2) / all } else { 0.0 }
    };
    // Rms of an amplitude that is itself told as a root mean square: half its square on average.
    let then = expected.map(|e| share(e.amplitude_rms));
    let now = share(first);
    Some(RemainderOut {
        second_over_first: second.filter(|_| first > 0.0).map(|s| s / first),
        other_share_now: Some(now),
        other_share_then: then,
        mostly_not_unbalance: now > MOSTLY,
    })
}
