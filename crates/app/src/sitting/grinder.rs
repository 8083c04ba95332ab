//! What happens to a sitting's rotor at the grinder: trims in place, and the answers before it runs.
//!
//! Both are kept as notes of the sitting: they come after its verdict, which stays what it was, and nothing that was looked at on the
//! stand changes by them. A trim says where the weights stand from then on.

use super::{Act, Bench, Sat, SittingFault, model};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use stillwheel_door::Fault;
use stillwheel_door::look::WeightAt;
use stillwheel_door::mounting::{MountingIn, MountingOut, mounting};
use stillwheel_door::trim::{TrimIn, TrimOut, TrimRun, trim};
use stillwheel_store::{Event, EventKind, Id, Machine, RingKind, Rotor};

/// The body of a note: its text, and what it keeps beside it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct NoteBody {
    /// In words.
    pub text: String,
    /// A trim in place.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub trim: Option<Box<TrimBody>>,
    /// Answers of the mounting points.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mounting: Option<Box<MountingBody>>,
}

/// A trim in place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TrimBody {
    /// The machine at which it was done.
    pub machine: String,
    /// Runs and all else that it was worked out from.
    pub input: TrimIn,
    /// What was worked out.
    pub out: TrimOut,
    /// Where the weights stand since, in the ring's order.
    pub weights_then: Vec<WeightAt>,
}

/// Answers of the mounting points.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct MountingBody {
    /// The machine.
    pub machine: String,
    /// The answers and the numbers.
    pub input: MountingIn,
    /// How each point stood.
    pub out: MountingOut,
}

/// Something kept in a note, with who and when.
#[derive(Clone, Debug, PartialEq)]
pub struct Trimmed<B> {
    /// Number of the event.
    pub seq: u32,
    /// When.
    pub at: Timestamp,
    /// Who.
    pub who: String,
    /// What.
    pub body: B,
}

/// A note's body; `None` for one of another shape.
pub fn note_of(event: &Event) -> Option<NoteBody> {
    serde_json::from_value(event.body.clone()).ok()
}

/// The rotor and the machine as their records are now: a wheel wears and a machine gets a sheet after the sitting began.
pub struct AtTheGrinder {
    /// The rotor.
    pub rotor: Rotor,
    /// The machine.
    pub machine: Machine,
}

impl Sat {
    /// The input of a trim from its runs, with this sitting's ring and weights.
    #[must_use]
    pub fn trim_in(&self, runs: Vec<TrimRun>) -> TrimIn {
        let ring = &self.sitting.start.ring.body;
        let (groove, tapped_holes, fixed) = match &ring.kind {
            RingKind::Groove(g) => (Some(model::groove(ring, g)), None, g.weights.iter().map(|w| w.fixed).collect()),
            RingKind::TappedHoles(t) => (None, Some(model::tapped_holes(t)), t.holes.iter().map(|h| h.fixed).collect()),
        };
        TrimIn {
            runs,
            reading_rel_sd: 0.03,
            phase_sd_deg: 3.0,
            turns: None,
            phase_counts: stillwheel_door::trim::PhaseCounts::Lead,
            known_influence: None,
            weights_now: self.weights.clone(),
            groove,
            tapped_holes,
            fixed,
            radius_mm: Some(ring.radius_mm),
            allowance_g_mm: Some(self.sitting.start.allowance.g_mm),
        }
    }
}

impl Bench {
    /// Rotor and machine of a sitting as they are now.
    ///
    /// # Errors
    /// The store's faults.
    pub fn at_the_grinder(&self, sat: &Sat) -> Result<AtTheGrinder, SittingFault> {
        let start = &sat.sitting.start;
        Ok(AtTheGrinder {
            rotor: self.store().get::<Rotor>(&start.rotor.id)?.body,
            machine: self.store().get::<Machine>(&start.machine.id)?.body,
        })
    }

    /// Store that the weights were moved as a trim asks for.
    ///
    /// # Errors
    /// A [`Fault`] where the trim can't be worked out, has two answers, or was worked out from weights that stand elsewhere by now; the
    /// store's faults.
    pub fn trimmed(&self, id: &Id, act: &Act, input: TrimIn) -> Result<Event, SittingFault> {
        let seen = self.sat_after(id, act.after_seq)?;
        if input.weights_now != seen.weights {
            let why = "the weights were moved since these runs began: take the run as it is again";
            return Err(Fault::new("weights_now", "other places", "where the weights stand now", why).into());
        }
        let out = trim(&input)?;
        let Some(placement) = &out.placement else {
            return Err(Fault::new("runs", "no single answer", "one answer", out.says).into());
        };
        let machine = self.at_the_grinder(&seen)?.machine.name;
        let text = format!("Trimmed in place on {machine}. {}", out.says);
        let body = TrimBody { machine, weights_then: placement.weights_then.clone(), input, out };
        self.append(id, act, EventKind::Note, &NoteBody { text, trim: Some(Box::new(body)), mounting: None })
    }

    /// Store the answers of the mounting points, whatever they are: `Mounted` where all are passed.
    ///
    /// # Errors
    /// A [`Fault`] for a value out of its range; the store's faults.
    pub fn mounting_answered(&self, id: &Id, act: &Act, input: MountingIn) -> Result<Event, SittingFault> {
        let seen = self.sat_after(id, act.after_seq)?;
        let out = mounting(&input)?;
        let machine = self.at_the_grinder(&seen)?.machine.name;
        let text = if out.may_be_mounted {
            format!("Mounted on {machine}: every point passed.")
        } else {
            format!("Not mounted on {machine}. {}", out.says)
        };
        let body = MountingBody { machine, input, out };
        self.append(id, act, EventKind::Note, &NoteBody { text, trim: None, mounting: Some(Box::new(body)) })
    }
}
