//! What happens in a sitting.

use crate::By;
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// What kind of thing happened.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum EventKind {
    /// A look was taken.
    Look,
    /// Weights were moved.
    Move,
    /// A look or move is taken back, or an undo is (that is a redo). Body: `{"undoes": seq}`.
    Undo,
    /// A verdict was given.
    Verdict,
    /// A remark.
    Note,
    /// The sitting was closed.
    Closed,
    /// A closed sitting was opened again.
    Reopened,
}

impl EventKind {
    pub(crate) const ALL: [Self; 7] = [Self::Look, Self::Move, Self::Undo, Self::Verdict, Self::Note, Self::Closed, Self::Reopened];

    /// As it is stored: `look`, `move`, ...
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Look => "look",
            Self::Move => "move",
            Self::Undo => "undo",
            Self::Verdict => "verdict",
            Self::Note => "note",
            Self::Closed => "closed",
            Self::Reopened => "reopened",
        }
    }
}

/// One thing that happened in a sitting. Never changed, never deleted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Event {
    /// Its number in the sitting: 1, 2, 3, ... without gaps.
    pub seq: u32,
    /// When.
    pub at: Timestamp,
    /// Who.
    pub who: String,
    /// The writer's token, unique in the sitting.
    pub token: String,
    /// What kind.
    pub kind: EventKind,
    /// What exactly; the writer's own shape, except for undo.
    pub body: Value,
}

/// An event to be appended.
#[derive(Clone, Debug, PartialEq)]
pub struct NewEvent {
    /// Made up by the client once per act (1 to 100 visible ASCII characters): sending the same act again stores it once.
    pub token: String,
    /// The latest event that the writer had seen; 0: none.
    pub after_seq: u32,
    /// What kind.
    pub kind: EventKind,
    /// What exactly: a JSON object, at most 16 MiB as text.
    ///
    /// Sent again under the same token it must be the same, so let it depend on what the person entered and not on the time of sending.
    pub body: Value,
    /// Who and when.
    pub by: By,
}

impl NewEvent {
    /// An undo of event `seq` (of a look or move; of an undo: a redo).
    pub fn undo(token: impl Into<String>, after_seq: u32, seq: u32, by: By) -> Self {
        Self { token: token.into(), after_seq, kind: EventKind::Undo, body: serde_json::json!({ "undoes": seq }), by }
    }
}
