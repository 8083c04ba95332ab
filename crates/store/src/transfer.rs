//! Everything as one JSON document, out and in.

use crate::{EventKind, Id, RecordKind, Store, StoreFault};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// One revision of a record.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ExportedRevision {
    /// Its table.
    pub kind: RecordKind,
    /// The record's id.
    pub id: Id,
    /// 1, 2, 3, ...
    pub revision: u32,
    /// When.
    pub at: Timestamp,
    /// Who.
    pub who: String,
    /// Whether it hides the record.
    pub retired: bool,
    /// The record as stored.
    pub body: Value,
}

/// One event of a sitting.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ExportedEvent {
    /// 1, 2, 3, ...
    pub seq: u32,
    /// When.
    pub at: Timestamp,
    /// Who.
    pub who: String,
    /// The writer's token.
    pub token: String,
    /// What kind.
    pub kind: EventKind,
    /// The body as stored.
    pub body: Value,
}

/// One sitting with all its events.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ExportedSitting {
    /// Its id.
    pub id: Id,
    /// Its start as stored.
    pub start: Value,
    /// Its events in order.
    pub events: Vec<ExportedEvent>,
}

/// Everything in a store. No time of export: the same records always give the same text.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Export {
    /// `stillwheel-records`.
    pub format: String,
    /// 1.
    pub version: u32,
    /// All revisions of all records, by id and revision.
    pub revisions: Vec<ExportedRevision>,
    /// All sittings, by id.
    pub sittings: Vec<ExportedSitting>,
}

/// What an import did.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Imported {
    /// Revisions added.
    pub revisions: u32,
    /// Sittings added.
    pub sittings: u32,
    /// Events added.
    pub events: u32,
    /// Revisions, sittings and events that were here already, the same.
    pub already_here: u32,
}

fn unwritten<T>() -> Result<T, StoreFault> {
    Err(StoreFault::Other { detail: "being written".into() })
}

impl Export {
    /// The document as indented JSON with a final newline.
    pub fn to_json(&self) -> String {
        let mut text = serde_json::to_string_pretty(self).expect("only strings, integers and JSON values");
        text.push('\n');
        text
    }

    /// A document from JSON.
    ///
    /// # Errors
    /// [`StoreFault::NotOurs`] if it is something else; [`StoreFault::Newer`] for a newer version; [`StoreFault::Invalid`] for a broken one.
    pub fn from_json(text: &str) -> Result<Self, StoreFault> {
        let _ = text;
        unwritten()
    }
}

impl Store {
    /// Everything: all revisions, all sittings, all events, with ids and times.
    ///
    /// # Errors
    /// Any fault of the disc.
    pub fn export(&self) -> Result<Export, StoreFault> {
        unwritten()
    }

    /// Take in everything of an export, or nothing.
    ///
    /// What is here already and the same is left alone; an id that is here with other content refuses the whole.
    /// A record or sitting that is longer there (more revisions, more events) is continued here.
    ///
    /// # Errors
    /// [`StoreFault::Conflict`] for a clash; [`StoreFault::Invalid`] for content out of range or out of order; any fault of the disc.
    pub fn import(&self, export: &Export) -> Result<Imported, StoreFault> {
        let _ = export;
        unwritten()
    }
}
