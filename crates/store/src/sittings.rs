//! Sittings: one balancing job on one rotor, as a start and the events after it.

use crate::{Event, EventKind, Id, Machine, NewEvent, Rotor, Stand, Standing, Store, StoreFault, WeightRing};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// A record as it was when the sitting began.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Snapshot<R> {
    /// The record's id.
    pub id: Id,
    /// Which revision.
    pub revision: u32,
    /// The record.
    pub body: R,
}

/// The permissible residual unbalance that the sitting works to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Allowance {
    /// The tightest limit, g·mm (above 0, to 1e9).
    pub g_mm: f64,
    /// Why that one, in words.
    pub reason: String,
    /// All limits that were weighed, as the calculation gave them.
    pub limits: Value,
}

/// Everything that a sitting begins with. Later edits of the records don't touch it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SittingStart {
    /// The rotor.
    pub rotor: Snapshot<Rotor>,
    /// The stand.
    pub stand: Snapshot<Stand>,
    /// The machine that the wheel is for.
    pub machine: Snapshot<Machine>,
    /// The rotor's weight ring.
    pub ring: Snapshot<WeightRing>,
    /// The allowance.
    pub allowance: Allowance,
    /// How well the operator reads, as the calculation takes it.
    pub reader: Value,
    /// Where the weights are, rotor angles in degrees (0 to 360), in the ring's order.
    pub weights_at_start_deg: Vec<f64>,
    /// Who balances.
    pub operator: String,
    /// When it began.
    pub started_at: Timestamp,
}

/// A sitting as stored.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Sitting {
    /// Its id.
    pub id: Id,
    /// What it began with.
    pub start: SittingStart,
}

/// The latest event of a sitting, without its body.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LastEvent {
    /// Its number.
    pub seq: u32,
    /// When.
    pub at: Timestamp,
    /// What kind.
    pub kind: EventKind,
}

/// A sitting in a list.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SittingSummary {
    /// Its id.
    pub id: Id,
    /// The rotor's id.
    pub rotor: Id,
    /// The rotor's name when it began.
    pub rotor_name: String,
    /// The stand's name when it began.
    pub stand_name: String,
    /// The machine's name when it began.
    pub machine_name: String,
    /// Who balances.
    pub operator: String,
    /// When it began.
    pub started_at: Timestamp,
    /// The latest event.
    pub last_event: Option<LastEvent>,
    /// Looks that stand.
    pub looks: u32,
    /// Moves that stand.
    pub moves: u32,
    /// Whether it is closed.
    pub closed: bool,
    /// Body of the verdict that stands.
    pub verdict: Option<Value>,
}

fn unwritten<T>() -> Result<T, StoreFault> {
    Err(StoreFault::Other { detail: "being written".into() })
}

impl Store {
    /// Begin a sitting.
    ///
    /// # Errors
    /// [`StoreFault::Invalid`] for a value out of range or a snapshot of an unknown record; any fault of the disc.
    pub fn new_sitting(&self, start: &SittingStart) -> Result<Sitting, StoreFault> {
        let _ = start;
        unwritten()
    }

    /// A sitting's start.
    ///
    /// # Errors
    /// [`StoreFault::NotFound`]; any fault of the disc.
    pub fn sitting(&self, id: &Id) -> Result<Sitting, StoreFault> {
        let _ = id;
        unwritten()
    }

    /// All sittings, or those of one rotor, latest start first.
    ///
    /// # Errors
    /// Any fault of the disc.
    pub fn sittings(&self, rotor: Option<&Id>) -> Result<Vec<SittingSummary>, StoreFault> {
        let _ = rotor;
        unwritten()
    }

    /// Append an event; returns it once it is safely on disc. The same token again returns the event stored the first time.
    ///
    /// Two devices may write the same sitting; what each had seen (`after_seq`) decides:
    /// a look is refused if weights were moved, something undone, or the sitting closed since;
    /// a move, undo, verdict, closing or reopening is refused if anything but notes came since. Notes are always taken.
    /// A closed sitting takes only notes and the reopening.
    ///
    /// # Errors
    /// [`StoreFault::Conflict`] as said above, or when a token comes again with other content; [`StoreFault::NotFound`];
    /// [`StoreFault::Invalid`] for a bad token, body, `after_seq`, or an undo of what can't be undone; any fault of the disc.
    pub fn append(&self, sitting: &Id, event: &NewEvent) -> Result<Event, StoreFault> {
        let _ = (sitting, event);
        unwritten()
    }

    /// All events of a sitting in order.
    ///
    /// # Errors
    /// [`StoreFault::NotFound`]; any fault of the disc.
    pub fn events(&self, sitting: &Id) -> Result<Vec<Event>, StoreFault> {
        let _ = sitting;
        unwritten()
    }

    /// The events that stand after undos: [`Standing::live`].
    ///
    /// # Errors
    /// As [`Store::events`].
    pub fn live_events(&self, sitting: &Id) -> Result<Vec<Event>, StoreFault> {
        Ok(self.standing(sitting)?.live)
    }

    /// What stands in a sitting now.
    ///
    /// # Errors
    /// As [`Store::events`].
    pub fn standing(&self, sitting: &Id) -> Result<Standing, StoreFault> {
        Ok(Standing::of(&self.events(sitting)?))
    }
}
