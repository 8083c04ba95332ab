//! The trim in sentences.

use super::TrimOut;
use crate::once_per_turn::significant;

/// Readings this unlikely contradict one another.
const CONTRADICTS: f64 = 0.01;

pub(super) fn says(out: &TrimOut) -> String {
    let [one] = &out.answers[..] else {
        let places: Vec<String> =
            out.answers.iter().map(|a| format!("{} g·mm at {:.0}°", significant(a.unbalance.size_g_mm, 3), a.unbalance.at_deg)).collect();
        let next = out.next_trial_deg.map_or_else(String::new, |d| format!(" One more run with the trial at {d:.0}° tells which."));
        return format!("{} answers fit these runs alike: {}.{next}", out.answers.len(), places.join(", or "));
    };
    let found = format!(
        "Heavy by {} g·mm (± {}) at {:.0}° (± {:.0}°)",
        significant(one.unbalance.size_g_mm, 4),
        significant(1.96 * one.size_sd_g_mm, 2),
        one.unbalance.at_deg,
        (1.96 * one.at_sd_deg).min(180.0)
    );
    let act = match &out.placement {
        Some(p) if !p.moves.is_empty() => {
            format!(": stop the wheel, move {} weight{} as shown and clamp", p.moves.len(), if p.moves.len() == 1 { "" } else { "s" })
        }
        Some(p) if !p.screw_changes.is_empty() => {
            format!(": stop the wheel, change the screws in {} holes as shown and tighten", p.screw_changes.len())
        }
        Some(_) => ": leave the weights where they are".into(),
        None => format!(": add {} g·mm at {:.0}°", significant(one.correction.size_g_mm, 4), one.correction.at_deg),
    };
    format!("{found}{act}; then run again and read once more.")
}

pub(super) fn cautions(out: &TrimOut, repeats_probability: Option<f64>) -> Vec<String> {
    let mut list = Vec::new();
    if repeats_probability.is_some_and(|p| p < CONTRADICTS) {
        list.push(format!(
            "Repeated runs scatter {:.1} times more than stated: what changes from run to run is not unbalance. Look for a loose belt or \
             bearing, a wheel that holds coolant, a sensor that moves, another machine nearby.",
            out.agreement.repeats_times_stated.unwrap_or(1.0)
        ));
    }
    if out.agreement.probability < CONTRADICTS {
        list.push(
            "The runs contradict one another by more than their stated errors: the speed may have changed, the sensor may have moved, or the \
             answer is not proportional. Repeat the run without trial before any weight is moved."
                .into(),
        );
    }
    if let Some(r) = &out.remainder {
        if r.mostly_not_unbalance {
            list.push(
                "Most of this vibration is not once per turn: moving weights will not cure it. See what the marks say about belt, bearings \
                 and motor."
                    .into(),
            );
        }
        if r.second_over_first.is_some_and(|s| s > 0.5) {
            list.push(
                "Vibration at twice the speed is more than half of that at once: a bent or misaligned drive, a loose part, or an oval journal \
                 shakes so; unbalance does not."
                    .into(),
            );
        }
    }
    if out.answers.iter().any(|a| a.unbalance.size_g_mm < 2.0 * a.size_sd_g_mm) {
        list.push("What is left is no larger than what these readings can tell: more trials will not better it.".into());
    }
    list.push("Stop the wheel and wait until it stands before a weight is touched; clamp every weight, close the guard, and stand aside at run-up.".into());
    list
}
