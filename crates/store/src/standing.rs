//! What stands in a sitting once the undos are applied, and what may come next.
//!
//! Undo works on a stack: only the latest look or move that stands can be taken back, and only the latest undo can itself be undone
//! (redo), until a new look or move is made. So the past never changes under a later event.

use crate::{Event, EventKind, StoreFault};
use serde_json::Value;

/// The fold of a sitting's events.
#[derive(Clone, Debug, PartialEq)]
pub struct Standing {
    /// The events that stand, in order: without undos and without what they took back.
    pub live: Vec<Event>,
    /// Number of the latest event, live or not; 0 when there is none. Give it back as [`crate::NewEvent::after_seq`].
    pub latest_seq: u32,
    /// Whether the sitting is closed.
    pub closed: bool,
    /// The verdict, as long as nothing was looked at, moved, or undone since.
    pub verdict: Option<Event>,
    /// The look or move that can be undone now.
    pub can_undo: Option<u32>,
    /// The undo that can be undone now (a redo).
    pub can_redo: Option<u32>,
}

impl Standing {
    /// Fold the events of one sitting, in their order.
    pub fn of(events: &[Event]) -> Self {
        let mut fold = Fold::default();
        for event in events {
            fold.apply(event.seq, event.kind, &event.body);
        }
        let stands = |event: &&Event| match event.kind {
            EventKind::Look | EventKind::Move => fold.done.binary_search(&event.seq).is_ok(),
            EventKind::Undo => false,
            EventKind::Verdict | EventKind::Note | EventKind::Closed | EventKind::Reopened => true,
        };
        Self {
            live: events.iter().filter(stands).cloned().collect(),
            latest_seq: events.last().map_or(0, |event| event.seq),
            closed: fold.closed,
            verdict: events.iter().find(|event| Some(event.seq) == fold.verdict).cloned(),
            can_undo: fold.can_undo(),
            can_redo: fold.can_redo(),
        }
    }
}

/// The state that decides what may come next.
#[derive(Clone, Debug, Default)]
pub(crate) struct Fold {
    /// Looks and moves that stand; ascending.
    pub(crate) done: Vec<u32>,
    /// Undos that can be undone, latest last: (the undo, what it took back).
    undone: Vec<(u32, u32)>,
    pub(crate) closed: bool,
    pub(crate) verdict: Option<u32>,
}

impl Fold {
    fn can_undo(&self) -> Option<u32> {
        self.done.last().copied().filter(|_| !self.closed)
    }

    fn can_redo(&self) -> Option<u32> {
        self.undone.last().map(|&(undo, _)| undo).filter(|_| !self.closed)
    }

    /// Whether such an event may come next.
    pub(crate) fn admits(&self, kind: EventKind, body: &Value) -> Result<(), StoreFault> {
        let conflict = |say: &str| Err(StoreFault::Conflict { say: say.to_owned(), since: Vec::new() });
        match kind {
            EventKind::Note => Ok(()),
            EventKind::Reopened if self.closed => Ok(()),
            EventKind::Reopened => conflict("This sitting is open already."),
            _ if self.closed => conflict("This sitting is closed; reopen it first."),
            EventKind::Undo => {
                let asked = undoes(body);
                if asked.is_some() && (asked == self.can_undo() || asked == self.can_redo()) {
                    return Ok(());
                }
                let allowed = match (self.can_undo(), self.can_redo()) {
                    (Some(undo), Some(redo)) => format!("{undo} (undo) or {redo} (redo)"),
                    (Some(undo), None) => format!("{undo}, the latest look or move that stands"),
                    (None, Some(redo)) => format!("{redo} (redo)"),
                    (None, None) => "nothing: there is nothing to undo".into(),
                };
                Err(StoreFault::invalid("body.undoes", &body["undoes"], allowed, "Undo one step at a time, the latest first."))
            }
            EventKind::Look | EventKind::Move | EventKind::Verdict | EventKind::Closed => Ok(()),
        }
    }

    /// Take in the next event.
    pub(crate) fn apply(&mut self, seq: u32, kind: EventKind, body: &Value) {
        match kind {
            EventKind::Look | EventKind::Move => {
                self.done.push(seq);
                self.undone.clear();
                self.verdict = None;
            }
            EventKind::Undo => {
                self.verdict = None;
                let target = undoes(body);
                if target.is_some() && target == self.done.last().copied() {
                    self.undone.extend(self.done.pop().map(|taken_back| (seq, taken_back)));
                } else if let Some((_, taken_back)) = self.undone.pop_if(|&mut (undo, _)| Some(undo) == target) {
                    self.done.push(taken_back);
                }
            }
            EventKind::Verdict => self.verdict = Some(seq),
            EventKind::Closed => self.closed = true,
            EventKind::Reopened => self.closed = false,
            EventKind::Note => {}
        }
    }
}

/// The number of the event that an undo takes back.
fn undoes(body: &Value) -> Option<u32> {
    body.get("undoes")?.as_u64()?.try_into().ok()
}
