//! Swing logs as looks: from a file, a clip or taps to a fit, and to a look that keeps its log for the picture.

use super::bodies::{LookBody, Source};
use super::{Act, Bench, SittingFault, Taken, known};
use serde::{Deserialize, Serialize};
use stillwheel_door::Fault;
use stillwheel_door::fit_log::{FitLogIn, FitLogOut, OneOrEach, fit_log};
use stillwheel_door::log_csv::parse_log_csv;
use stillwheel_door::log_errors::SharedErrors;
use stillwheel_store::{Event, EventKind, Id, Sitting, StandKind};

/// Points of a log that are kept with its look: as many as a picture can show, so that the records stay small.
const MOST_KEPT: usize = 3600;
/// Remarks kept with a log, and letters of each.
const MOST_REMARKS: (usize, usize) = (20, 300);

/// Where a log came from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum LogFrom {
    /// A file of times and angles.
    File,
    /// A clip, tracked on the device.
    Clip,
    /// A finger's taps at passages.
    Taps,
}

/// A swing log as it is fitted and kept.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LogBody {
    /// Where it came from.
    pub from: LogFrom,
    /// Times, s.
    pub t_s: Vec<f64>,
    /// Room angle of the zero mark, degrees counter-clockwise from straight down.
    pub angle_deg: Vec<f64>,
    /// Standard deviation of each angle, degrees; empty: found from the log.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sd_deg: Vec<f64>,
    /// For taps: standard deviation of the times, s.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub time_sd_s: Option<f64>,
    /// What all angles share.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shared_errors: Option<SharedErrors>,
    /// What was noticed while it was made.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub remarks: Vec<String>,
}

/// What became of a log.
pub enum LogOutcome {
    /// It told a look, which is stored.
    Stored(Box<Event>),
    /// It only hints at the unbalance: nothing is stored; the fit says what it could tell.
    NotTold(Box<FitLogOut>),
}

/// Fit a log as this sitting's rotor and stand ask for.
///
/// # Errors
/// A [`Fault`] when the log can't be fitted.
pub fn log_fit(sitting: &Sitting, log: &LogBody) -> Result<FitLogOut, Fault> {
    let known = known(&sitting.start, false)?;
    fit_log(&FitLogIn {
        t_s: log.t_s.clone(),
        angle_deg: log.angle_deg.clone(),
        inertia_kg_m2: Some(known.inertia_kg_m2),
        inertia_rel_sd: known.inertia_rel_sd,
        // The estimator brings the stand's drift in itself; here it would count twice.
        drift_prior_sd_g_mm: None,
        dry_friction_possible: sitting.start.stand.body.kind != StandKind::AirSaddles,
        angle_sd_deg: (!log.sd_deg.is_empty()).then(|| OneOrEach::Each(log.sd_deg.clone())),
        time_sd_s: log.time_sd_s,
        shared_errors: log.shared_errors,
    })
}

impl Bench {
    /// Fit a log and store it as a look, if it tells one.
    ///
    /// # Errors
    /// A [`Fault`] when the log can't be fitted or the sitting refuses the look; the store's faults.
    pub fn log_look(&self, id: &Id, act: &Act, mut log: LogBody, taken: &Circumstances) -> Result<LogOutcome, SittingFault> {
        let seen = self.sat_after(id, act.after_seq)?;
        let fit = log_fit(&seen.sitting, &log)?;
        let Some(reading) = fit.reading.clone() else { return Ok(LogOutcome::NotTold(Box::new(fit))) };
        thin(&mut log);
        let taken = Taken { reading, trial: taken.trial, turned_deg: taken.turned_deg };
        let look = self.checked(&seen, act, taken)?;
        let body = LookBody { look, source: Source::SwingLog, log: Some(log) };
        Ok(LogOutcome::Stored(Box::new(self.append(id, act, EventKind::Look, &body)?)))
    }

    /// Fit a swing log (a file of times and angles) and store it as a look.
    ///
    /// # Errors
    /// A [`Fault`] when the file can't be read, or the log does not tell a look; the store's faults.
    pub fn swing_log(&self, id: &Id, act: &Act, csv: &[u8], turned_deg: f64) -> Result<Event, SittingFault> {
        let (t_s, angle_deg) = parse_log_csv(csv)?;
        let (sd_deg, remarks) = (Vec::new(), Vec::new());
        let log = LogBody { from: LogFrom::File, t_s, angle_deg, sd_deg, time_sd_s: None, shared_errors: None, remarks };
        match self.log_look(id, act, log, &Circumstances { trial: None, turned_deg })? {
            LogOutcome::Stored(event) => Ok(*event),
            LogOutcome::NotTold(fit) => {
                let why = if fit.cautions.is_empty() { fit.main_cause_words } else { fit.cautions.join(" ") };
                Err(Fault::new("log", "this log", "a log that shows where it swings to and how fast", why).into())
            }
        }
    }
}

/// What was on the rotor for this look only, and how it sat on the arbor.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Circumstances {
    /// A trial weight.
    pub trial: Option<stillwheel_door::look::TrialWeight>,
    /// Rotor turned on the arbor, degrees.
    pub turned_deg: f64,
}

/// Keep no more of a log than its picture needs.
fn thin(log: &mut LogBody) {
    let every = log.t_s.len().div_ceil(MOST_KEPT).max(1);
    let keep = |v: &mut Vec<f64>| *v = v.iter().copied().step_by(every).collect();
    keep(&mut log.t_s);
    keep(&mut log.angle_deg);
    keep(&mut log.sd_deg);
    log.remarks.truncate(MOST_REMARKS.0);
    for r in &mut log.remarks {
        *r = r.chars().take(MOST_REMARKS.1).collect();
    }
}
