//! What happened at Fernhill's grinders: a wheel mounted with all its points, and trimmed in place by four runs without phase.

use crate::sitting::{Act, Bench, Sat, SittingFault};
use jiff::{SignedDuration, Timestamp};
use stillwheel_door::look::TrialWeight;
use stillwheel_door::machine_sheet::read_machine_sheet;
use stillwheel_door::mounting::{Answer, Answers, Bond, MountingIn};
use stillwheel_door::trim::TrimRun;
use stillwheel_physics::quantity::{RotorAngle, Unbalance, UnbalanceVector};
use stillwheel_store::{By, Id};

/// What seat and spindle add to the balanced rotor: size in g·mm and where, hidden from the one who trims.
const ADDED: (f64, f64) = (52.0, 205.0);
/// Reading for each g·mm at 2860 r/min, mm/s: U·Ω³/k times the magnification of the head in the sheet of No. 2 (28 N/µm, 118 Hz).
const MM_S_PER_G_MM: f64 = 1.15e-3;
/// The trial weight: mass in g, radius in mm.
const TRIAL: (f64, f64) = (2.5, 38.0);

/// Mount the rotor of a finished sitting and trim it in place, beginning at `at`.
pub(super) fn mount_and_trim(bench: &Bench, id: &Id, who: &str, at: Timestamp) -> Result<(), SittingFault> {
    let act = |sat: &Sat, token: &str, minutes: i64| Act {
        token: token.into(),
        after_seq: sat.standing.latest_seq,
        by: By { who: who.into(), at: at + SignedDuration::from_mins(minutes) },
    };
    let sat = bench.sat(id)?;
    let now = bench.at_the_grinder(&sat)?;
    let yes = Some(Answer::Yes);
    let points = MountingIn {
        wheel_diameter_mm: now.rotor.wheel.diameter_mm,
        marked_max_m_s: now.rotor.wheel.max_speed_m_s,
        marked_max_rpm: now.rotor.wheel.max_speed_rpm,
        speed_rpm: now.machine.speed_rpm,
        bond: Bond::Vitrified,
        flange_mm: Some(78.0),
        largest_wheel_mm: read_machine_sheet(&now.machine.sheet_toml).ok().map(|s| s.spindle.largest_wheel_mm),
        answers: Answers { sound: yes, ring: yes, fit: yes, flanges: yes, blotters: yes, weights: yes, guard: yes, run_up: yes },
    };
    bench.mounting_answered(id, &act(&sat, "play-mounting", 0), points)?;
    let sat = bench.sat(id)?;
    let hidden = UnbalanceVector::polar(Unbalance::from_g_mm(ADDED.0), RotorAngle::from_deg(ADDED.1));
    let run = |at_deg: Option<f64>| {
        let trial = at_deg.map(|at_deg| TrialWeight { mass_g: TRIAL.0, radius_mm: TRIAL.1, at_deg });
        let added = trial.map_or(UnbalanceVector::default(), |t| {
            UnbalanceVector::polar(Unbalance::from_g_mm(t.mass_g * t.radius_mm), RotorAngle::from_deg(t.at_deg))
        });
        // As the meter shows it: to 0.002 mm/s.
        let shown = ((hidden + added).size().g_mm() * MM_S_PER_G_MM / 0.002).round() * 0.002;
        TrimRun {
            trial: trial.into_iter().collect(),
            weights: None,
            amplitude: shown,
            amplitude_sd: Some(0.001),
            phase_deg: None,
            phase_sd_deg: None,
            second: at_deg.is_none().then_some(0.008),
            rest_rms: at_deg.is_none().then_some(0.012),
        }
    };
    let runs = [None, Some(0.0), Some(120.0), Some(240.0)].map(run).to_vec();
    bench.trimmed(id, &act(&sat, "play-trim", 25), sat.trim_in(runs))?;
    Ok(())
}
