//! What stands in a sitting once the undos are applied.

use crate::Event;

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
        let _ = events;
        Self { live: Vec::new(), latest_seq: 0, closed: false, verdict: None, can_undo: None, can_redo: None }
    }
}
