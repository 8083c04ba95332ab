//! One sitting as a service: store events in, what to do next out. No page and no request in here.
//!
//! In: a sitting's id and what a person did (an [`Act`]). Out: a [`Sat`], all that a page or a command shows, or a
//! [`SittingFault`]. Weights during a look are always worked out from the events that the person had seen, so the same
//! act sent twice is the same event.

mod allowance;
mod bodies;
mod grinder;
mod history;
mod logs;
mod model;
mod virtual_bench;

pub use allowance::{Reasons, Weighed, weigh_allowance};
pub use bodies::{LookBody, MoveBody, Source, VerdictBody};
pub use grinder::{AtTheGrinder, MountingBody, NoteBody, TrimBody, Trimmed, note_of};
pub use history::{Chapter, RotorHistory};
pub use logs::{Circumstances, LogBody, LogFrom, LogOutcome, log_fit};
pub use model::{known, next_step_in, screws_in};
pub use virtual_bench::Asked;

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, PoisonError};
use stillwheel_door::Fault;
use stillwheel_door::look::{Look, Reading, TrialWeight, WeightAt};
use stillwheel_door::next_step::{Action, NextStepIn, NextStepOut, Reader, next_step};
use stillwheel_store::{By, Event, EventKind, Id, NewEvent, RingKind, Sitting, Standing, Store, StoreFault, WeightRing};

/// What went wrong with an act.
#[derive(Clone, Debug, thiserror::Error)]
pub enum SittingFault {
    /// The store refused or failed.
    #[error(transparent)]
    Store(#[from] StoreFault),
    /// A value was refused.
    #[error(transparent)]
    Fault(#[from] Fault),
}

/// One act of a person: made once, safe to send twice.
#[derive(Clone, Debug)]
pub struct Act {
    /// Token of the act.
    pub token: String,
    /// The latest event that the person had seen.
    pub after_seq: u32,
    /// Who and when.
    pub by: By,
}

/// What was read in a look.
#[derive(Clone, Debug, PartialEq)]
pub struct Taken {
    /// The reading.
    pub reading: Reading,
    /// A known mass that was on for this look only.
    pub trial: Option<TrialWeight>,
    /// Rotor turned on the arbor against its first seat, degrees counter-clockwise.
    pub turned_deg: f64,
}

impl From<Reading> for Taken {
    fn from(reading: Reading) -> Self {
        Self { reading, trial: None, turned_deg: 0.0 }
    }
}

/// A look that stands.
#[derive(Clone, Debug)]
pub struct SeenLook {
    /// Number of its event.
    pub seq: u32,
    /// The look.
    pub look: Look,
}

/// A sitting as it stands now.
#[derive(Clone, Debug)]
pub struct Sat {
    /// Its start.
    pub sitting: Sitting,
    /// All events, the undone ones too.
    pub events: Vec<Event>,
    /// What stands.
    pub standing: Standing,
    /// Where the weights are now, in the ring's order.
    pub weights: Vec<WeightAt>,
    /// The looks that stand.
    pub looks: Vec<SeenLook>,
    /// What to do next, or why that can't be said.
    pub step: Result<NextStepOut, Fault>,
    /// Trims in place, the latest last.
    pub trims: Vec<Trimmed<TrimBody>>,
    /// The latest answers of the mounting points.
    pub mounting: Option<Trimmed<MountingBody>>,
    /// The verdict that stands.
    pub verdict: Option<VerdictBody>,
}

/// Proposals that were worked out lately: a page is loaded more often than a look is taken.
const STEPS_KEPT: usize = 32;

/// A proposal with what it was worked out from.
type Step = (NextStepIn, Result<NextStepOut, Fault>);

/// The bench: the store with the calculations on top.
#[derive(Clone)]
pub struct Bench {
    store: Arc<Store>,
    steps: Arc<Mutex<VecDeque<Step>>>,
}

impl Bench {
    /// On this store.
    pub fn new(store: Arc<Store>) -> Self {
        Self { store, steps: Arc::default() }
    }

    /// The store.
    pub fn store(&self) -> &Store {
        &self.store
    }

    /// The sitting as it stands.
    ///
    /// # Errors
    /// The store's faults; a [`Fault`] when an event can't be read.
    pub fn sat(&self, id: &Id) -> Result<Sat, SittingFault> {
        let sitting = self.store.sitting(id)?;
        let events = self.store.events(id)?;
        self.fold(sitting, events)
    }

    /// The sitting as it stood after event `seq`.
    fn sat_after(&self, id: &Id, seq: u32) -> Result<Sat, SittingFault> {
        let sitting = self.store.sitting(id)?;
        let mut events = self.store.events(id)?;
        events.retain(|e| e.seq <= seq);
        self.fold(sitting, events)
    }

    fn fold(&self, sitting: Sitting, events: Vec<Event>) -> Result<Sat, SittingFault> {
        let standing = Standing::of(&events);
        let mut weights = model::weights_at_start(&sitting.start)?;
        let mut looks = Vec::new();
        let (mut trims, mut mounting) = (Vec::new(), None);
        for event in &standing.live {
            match event.kind {
                EventKind::Look => looks.push(SeenLook { seq: event.seq, look: bodies::read::<LookBody>(event)?.look }),
                EventKind::Move => {
                    weights = after(&sitting.start.ring.body, &weights, &bodies::read(event)?)?;
                }
                EventKind::Note => match note_of(event) {
                    Some(NoteBody { trim: Some(trim), .. }) => {
                        weights.clone_from(&trim.weights_then);
                        trims.push(Trimmed { seq: event.seq, at: event.at, who: event.who.clone(), body: *trim });
                    }
                    Some(NoteBody { mounting: Some(m), .. }) => {
                        mounting = Some(Trimmed { seq: event.seq, at: event.at, who: event.who.clone(), body: *m });
                    }
                    _ => {}
                },
                _ => {}
            }
        }
        let verdict = standing.verdict.as_ref().map(bodies::read::<VerdictBody>).transpose()?;
        let step = self.step(&sitting, &looks, &weights);
        Ok(Sat { sitting, events, standing, weights, looks, step, trims, mounting, verdict })
    }

    fn step(&self, sitting: &Sitting, looks: &[SeenLook], weights: &[WeightAt]) -> Result<NextStepOut, Fault> {
        let input = next_step_in(&sitting.start, looks.iter().map(|l| l.look.clone()).collect(), weights.to_vec())?;
        let kept = self.steps.lock().unwrap_or_else(PoisonError::into_inner).iter().find(|k| k.0 == input).map(|k| k.1.clone());
        if let Some(step) = kept {
            return step;
        }
        let step = next_step(&input);
        let mut steps = self.steps.lock().unwrap_or_else(PoisonError::into_inner);
        if steps.len() == STEPS_KEPT {
            steps.pop_front();
        }
        steps.push_back((input, step.clone()));
        step
    }

    /// Store a look taken with the weights where they are.
    ///
    /// # Errors
    /// A [`Fault`] for a reading out of its range (nothing is stored then); the store's faults.
    pub fn look(&self, id: &Id, act: &Act, taken: Taken, source: Source) -> Result<Event, SittingFault> {
        let seen = self.sat_after(id, act.after_seq)?;
        let look = self.checked(&seen, act, taken)?;
        self.append(id, act, EventKind::Look, &LookBody { look, source, log: None })
    }

    /// The look with the weights as they stood, if the estimator takes it.
    fn checked(&self, seen: &Sat, act: &Act, taken: Taken) -> Result<Look, SittingFault> {
        let Taken { reading, trial, turned_deg } = taken;
        if let Some(trial) = &trial {
            lighter_than_the_rotor(trial, &seen.sitting)?;
        }
        let look = Look { weights: seen.weights.clone(), turned_on_arbor_deg: turned_deg, trial, reading };
        let mut looks = seen.looks.clone();
        looks.push(SeenLook { seq: act.after_seq + 1, look: look.clone() });
        // A look that the estimator refuses is refused here, before it is stored and spoils the sitting.
        if let Err(fault) = self.step(&seen.sitting, &looks, &seen.weights)
            && fault.field.starts_with("looks[")
        {
            return Err(fault.into());
        }
        Ok(look)
    }

    /// Store where the weights were moved to, in degrees, in the ring's order.
    ///
    /// # Errors
    /// A [`Fault`] for a wrong number of weights or an angle that is none; the store's faults.
    pub fn moved(&self, id: &Id, act: &Act, to_deg: Vec<f64>) -> Result<Event, SittingFault> {
        let seen = self.sat_after(id, act.after_seq)?;
        let to_deg = model::placed(&seen.sitting.start.ring.body, &seen.weights, &to_deg)?.iter().map(|w| w.at_deg).collect();
        self.append(id, act, EventKind::Move, &MoveBody::Slid { to_deg })
    }

    /// Store which screw is in each tapped hole: its place in the ring's stock from 0, or none.
    ///
    /// # Errors
    /// A [`Fault`] for a ring without holes, a wrong number of entries, a screw that the stock doesn't have; the store's faults.
    pub fn screws_changed(&self, id: &Id, act: &Act, screw_in_hole: Vec<Option<usize>>) -> Result<Event, SittingFault> {
        let seen = self.sat_after(id, act.after_seq)?;
        let body = MoveBody::Screws { screw_in_hole };
        after(&seen.sitting.start.ring.body, &seen.weights, &body)?;
        self.append(id, act, EventKind::Move, &body)
    }

    /// Store that the weights were moved, or the screws changed, as was proposed.
    ///
    /// # Errors
    /// A [`Fault`] when no step can be worked out; the store's faults.
    pub fn as_proposed(&self, id: &Id, act: &Act) -> Result<Event, SittingFault> {
        let seen = self.sat_after(id, act.after_seq)?;
        let then = seen.step?.weights_then;
        let ring = &seen.sitting.start.ring.body;
        match &ring.kind {
            RingKind::Groove(_) => self.moved(id, act, then.iter().map(|w| w.at_deg).collect()),
            RingKind::TappedHoles(_) => self.screws_changed(id, act, screws_in(ring, &then)),
        }
    }

    /// Take back event `seq`.
    ///
    /// # Errors
    /// The store's faults.
    pub fn undo(&self, id: &Id, act: &Act, seq: u32) -> Result<Event, SittingFault> {
        Ok(self.store.append(id, &NewEvent::undo(&act.token, act.after_seq, seq, act.by.clone()))?)
    }

    /// Give the verdict and close the sitting: proven only when the calculation says so of what the person had seen.
    ///
    /// # Errors
    /// A [`Fault`] when the residual isn't proven and `proven` was asked for; the store's faults.
    pub fn verdict(&self, id: &Id, act: &Act, proven: bool, note: &str) -> Result<Event, SittingFault> {
        let seen = self.sat_after(id, act.after_seq)?;
        let step = seen.step?;
        if proven && step.action != Action::Accept {
            return Err(Fault::new(
                "verdict",
                format!("{:.0} % sure", 100.0 * step.p_within_allowance),
                "the probability asked for, with the last look taken where the weights are now",
                "The residual is not proven yet: take the look that is proposed.",
            )
            .into());
        }
        let body = VerdictBody { proven, note: note.trim().to_owned(), weights: seen.weights, step };
        let event = self.append(id, act, EventKind::Verdict, &body)?;
        let close = Act { token: format!("{}-close", act.token), after_seq: event.seq, by: act.by.clone() };
        self.append(id, &close, EventKind::Closed, &serde_json::json!({}))?;
        Ok(event)
    }

    /// Open a closed sitting again.
    ///
    /// # Errors
    /// The store's faults.
    pub fn reopen(&self, id: &Id, act: &Act) -> Result<Event, SittingFault> {
        self.append(id, act, EventKind::Reopened, &serde_json::json!({}))
    }

    /// Ask the virtual bench for a look and store it.
    ///
    /// # Errors
    /// A [`Fault`] when the stand is a real one, or the virtual bench refuses; the store's faults.
    pub fn virtual_look(&self, id: &Id, act: &Act, asked: Asked) -> Result<Event, SittingFault> {
        let seen = self.sat_after(id, act.after_seq)?;
        let out = virtual_bench::look(&seen, act.after_seq, asked)?;
        let taken = Taken { reading: out.reading, trial: out.trial.or(asked.trial), turned_deg: asked.turned_deg };
        self.look(id, act, taken, Source::VirtualBench)
    }

    fn append<B: serde::Serialize>(&self, id: &Id, act: &Act, kind: EventKind, body: &B) -> Result<Event, SittingFault> {
        let body = serde_json::to_value(body).map_err(|e| Fault::new("body", "this event", "finite numbers", e.to_string()))?;
        Ok(self.store.append(id, &NewEvent { token: act.token.clone(), after_seq: act.after_seq, kind, body, by: act.by.clone() })?)
    }
}

/// A trial weight as heavy as the rotor is a slip of the pen, or of the unit.
fn lighter_than_the_rotor(trial: &TrialWeight, sitting: &Sitting) -> Result<(), Fault> {
    let rotor_g = 1000.0 * sitting.start.rotor.body.mass_kg;
    if trial.mass_g < rotor_g {
        return Ok(());
    }
    Err(Fault::new(
        "mass_g",
        trial.mass_g,
        format!("less than {rotor_g:.1} g, the rotor's own mass"),
        "the trial weight is heavier than the rotor",
    ))
}

/// The weights after a move.
fn after(ring: &WeightRing, weights: &[WeightAt], moved: &MoveBody) -> Result<Vec<WeightAt>, Fault> {
    match moved {
        MoveBody::Slid { to_deg } => model::placed(ring, weights, to_deg),
        MoveBody::Screws { screw_in_hole } => model::rescrewed(ring, weights, screw_in_hole),
    }
}

/// How well this sitting's operator reads; a sitting begun with something unreadable is read with the common values.
pub fn reader_of(sitting: &Sitting) -> Reader {
    serde_json::from_value(sitting.start.reader.clone()).unwrap_or_default()
}
