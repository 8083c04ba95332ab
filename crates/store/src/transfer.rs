//! Everything as one JSON document, out and in.

use crate::appending::{check_body, check_token, events_of, insert_event};
use crate::revisions::{insert_record, insert_revision, kind_of};
use crate::sittings::{insert_sitting, select_events, start_text};
use crate::standing::Fold;
use crate::{By, Event, Id, Machine, Record, RecordKind, Rotor, SittingStart, Stand, Store, StoreFault, Stored, WeightRing, json};
use jiff::Timestamp;
use rusqlite::{Connection, TransactionBehavior};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::collections::{HashMap, HashSet};

/// Name of the document's format.
const FORMAT: &str = "stillwheel-records";
/// Its version, raised when an older program could no longer understand it.
const VERSION: u32 = 1;

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

/// One sitting with all its events.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ExportedSitting {
    /// Its id.
    pub id: Id,
    /// Its start as stored.
    pub start: Value,
    /// Its events in order.
    pub events: Vec<Event>,
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
        #[derive(Deserialize)]
        struct Head {
            format: Option<Value>,
            version: Option<u32>,
        }
        // Some editors put a byte order mark in front.
        let text = text.trim_start_matches('\u{feff}');
        let broken = |e: serde_json::Error| {
            StoreFault::invalid("import", format!("not readable ({e})"), "a whole export file", "Export again, or mend that place.")
        };
        let head: Head = serde_json::from_str(text).map_err(broken)?;
        if head.format.as_ref().and_then(Value::as_str) != Some(FORMAT) {
            return Err(StoreFault::NotOurs { what: "This JSON".into(), why: format!("its format is not \"{FORMAT}\".") });
        }
        check_version(head.version.unwrap_or(0))?;
        serde_json::from_str(text).map_err(broken)
    }

    /// Format and order, and that each body can be understood. The error is a sentence.
    pub(crate) fn check(&self) -> Result<(), StoreFault> {
        check_format(self)?;
        for (i, record) in by_record(&self.revisions) {
            check_order(i, record)?;
            for (j, revision) in record.iter().enumerate() {
                understand(revision).map_err(|fault| fault.inside(&format!("revisions[{}]", i + j)))?;
            }
        }
        for (i, sitting) in self.sittings.iter().enumerate() {
            let inside = |fault: StoreFault| fault.inside(&format!("sittings[{i}]"));
            parse::<SittingStart>("start", &sitting.start).map_err(inside)?;
            check_events(&sitting.events).map_err(inside)?;
        }
        Ok(())
    }
}

impl Store {
    /// Everything: all revisions, all sittings, all events, with ids and times.
    ///
    /// # Errors
    /// Any fault of the disc.
    pub fn export(&self) -> Result<Export, StoreFault> {
        const EVENTS: &str = "SELECT sitting, seq, at, who, token, kind, body FROM sitting_events ORDER BY sitting, seq";
        let mut connection = self.lock();
        // One transaction: what another program writes meanwhile is in it wholly or not at all.
        let read = connection.transaction()?;
        let mut events: HashMap<Id, Vec<Event>> = HashMap::new();
        for (sitting, event) in select_events(&read, EVENTS, [])? {
            events.entry(sitting).or_default().push(event);
        }
        let mut statement = read.prepare_cached("SELECT id, start FROM sittings ORDER BY id")?;
        let mut rows = statement.query([])?;
        let mut sittings = Vec::new();
        while let Some(row) = rows.next()? {
            let id = json::read_id(row.get_ref(0)?)?;
            let start = json::read_body(row.get_ref(1)?, || format!("the start of sitting {id}"))?;
            let events = events.remove(&id).unwrap_or_default();
            sittings.push(ExportedSitting { id, start, events });
        }
        Ok(Export { format: FORMAT.into(), version: VERSION, revisions: all_revisions(&read)?, sittings })
    }

    /// Take in everything of an export, or nothing.
    ///
    /// What is here already and the same is left alone; an id that is here with other content refuses the whole.
    /// A record or sitting that is longer there (more revisions, more events) is continued here.
    ///
    /// # Errors
    /// [`StoreFault::Conflict`] for a clash; [`StoreFault::Invalid`] for content out of range or out of order; any fault of the disc.
    pub fn import(&self, export: &Export) -> Result<Imported, StoreFault> {
        export.check()?;
        let mut connection = self.lock();
        let write = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
        let mut done = Imported::default();
        for (i, record) in by_record(&export.revisions) {
            import_record(&write, record, &mut done).map_err(|fault| fault.inside(&format!("revisions[{i}]")))?;
        }
        // Only now: a rotor may stand before its ring.
        for (i, revision) in export.revisions.iter().enumerate() {
            check_references(&write, revision).map_err(|fault| fault.inside(&format!("revisions[{i}].body")))?;
        }
        for (i, sitting) in export.sittings.iter().enumerate() {
            import_sitting(&write, sitting, &mut done).map_err(|fault| fault.inside(&format!("sittings[{i}]")))?;
        }
        write.commit()?;
        Ok(done)
    }
}

fn check_format(export: &Export) -> Result<(), StoreFault> {
    if export.format != FORMAT {
        return Err(StoreFault::NotOurs { what: "This export".into(), why: format!("its format is not \"{FORMAT}\".") });
    }
    check_version(export.version)
}

fn check_version(version: u32) -> Result<(), StoreFault> {
    if version > VERSION {
        return Err(StoreFault::Newer { found: i64::from(version), known: i64::from(VERSION) });
    }
    if version < 1 {
        return Err(StoreFault::invalid("version", version, format!("1 to {VERSION}"), "Export again from the store it came from."));
    }
    Ok(())
}

/// The revisions of each record, with the index of the first.
fn by_record(revisions: &[ExportedRevision]) -> impl Iterator<Item = (usize, &[ExportedRevision])> {
    revisions.chunk_by(|a, b| a.id == b.id).scan(0, |next, record| {
        let first = *next;
        *next += record.len();
        Some((first, record))
    })
}

fn check_order(first: usize, record: &[ExportedRevision]) -> Result<(), StoreFault> {
    for ((place, expected), revision) in (first..).zip(1..).zip(record) {
        let field = |name: &str| format!("revisions[{place}].{name}");
        if revision.revision != expected {
            let why = "All revisions of a record stand together, from 1 without gaps.";
            return Err(StoreFault::invalid(field("revision"), revision.revision, expected.to_string(), why));
        }
        if revision.kind != record[0].kind {
            let (is, was) = (revision.kind.as_str(), record[0].kind.as_str());
            return Err(StoreFault::invalid(field("kind"), is, was, "A record stays of one kind."));
        }
        By { who: revision.who.clone(), at: revision.at }.check().map_err(|fault| fault.inside(&format!("revisions[{place}]")))?;
    }
    Ok(())
}

fn parse<T: DeserializeOwned>(field: &str, body: &Value) -> Result<T, StoreFault> {
    T::deserialize(body)
        .map_err(|e| StoreFault::invalid(field, e, "all fields of its kind and no others", "Mend that field, or export again."))
}

/// What a revision asks for: other records by field, kind and id; and whether its values are in range.
struct Understood {
    refers_to: Vec<(&'static str, RecordKind, Id)>,
    in_range: Result<(), StoreFault>,
}

fn understand(revision: &ExportedRevision) -> Result<Understood, StoreFault> {
    fn as_kind<R: Record>(body: &Value) -> Result<Understood, StoreFault> {
        let record: R = parse("body", body)?;
        let refers_to = record.refers_to().into_iter().map(|(field, kind, id)| (field, kind, id.clone())).collect();
        Ok(Understood { refers_to, in_range: record.check().map_err(|fault| fault.inside("body")) })
    }
    match revision.kind {
        RecordKind::Rotor => as_kind::<Rotor>(&revision.body),
        RecordKind::Machine => as_kind::<Machine>(&revision.body),
        RecordKind::WeightRing => as_kind::<WeightRing>(&revision.body),
        RecordKind::Stand => as_kind::<Stand>(&revision.body),
    }
}

fn check_references(connection: &Connection, revision: &ExportedRevision) -> Result<(), StoreFault> {
    for (field, kind, id) in understand(revision)?.refers_to {
        if kind_of(connection, &id)?.as_deref() != Some(kind.as_str()) {
            let why = "The export must hold every record that it refers to.";
            return Err(StoreFault::invalid(field, id, format!("the id of a {}", kind.in_words()), why));
        }
    }
    Ok(())
}

/// Numbers without gaps, tokens used once, and no event that couldn't have followed the ones before.
fn check_events(events: &[Event]) -> Result<(), StoreFault> {
    let mut tokens = HashSet::new();
    let mut fold = Fold::default();
    for (expected, event) in (1..).zip(events) {
        let check = || {
            if event.seq != expected {
                return Err(StoreFault::invalid("seq", event.seq, expected.to_string(), "Events are numbered from 1 without gaps."));
            }
            check_token(&event.token)?;
            if tokens.contains(event.token.as_str()) {
                return Err(StoreFault::invalid("token", &event.token, "a token not used before in the sitting", "Export again."));
            }
            By { who: event.who.clone(), at: event.at }.check()?;
            check_body(&event.body)?;
            fold.admits(event.kind, &event.body).map_err(|fault| match fault {
                StoreFault::Conflict { say, .. } => {
                    StoreFault::invalid("kind", event.kind.as_str(), "what may follow the events before", say)
                }
                other => other,
            })
        };
        check().map_err(|fault| fault.inside(&format!("events[{}]", expected - 1)))?;
        tokens.insert(event.token.as_str());
        fold.apply(event.seq, event.kind, &event.body);
    }
    Ok(())
}

fn import_record(write: &Connection, record: &[ExportedRevision], done: &mut Imported) -> Result<(), StoreFault> {
    let (id, kind) = (&record[0].id, record[0].kind);
    let here = revisions_of(write, id)?;
    if here.is_empty() {
        insert_record(write, id, kind)?;
    }
    let same = here.len().min(record.len());
    if here[..same] != record[..same] {
        return Err(clash(kind.in_words(), id));
    }
    done.already_here += same as u32;
    for revision in &record[same..] {
        understand(revision)?.in_range?;
        let ExportedRevision { id, revision, at, who, retired, body, .. } = revision.clone();
        insert_revision(write, &Stored { id, revision, at, who, retired, body })?;
        done.revisions += 1;
    }
    Ok(())
}

fn import_sitting(write: &Connection, sitting: &ExportedSitting, done: &mut Imported) -> Result<(), StoreFault> {
    let id = &sitting.id;
    if let Some(text) = start_text(write, id)? {
        let here: Value = json::read_json(&text, || format!("the start of sitting {id}"))?;
        if here != sitting.start {
            return Err(clash("sitting", id));
        }
        done.already_here += 1;
    } else {
        let start: SittingStart = parse("start", &sitting.start)?;
        start.check(write).map_err(|fault| fault.inside("start"))?;
        insert_sitting(write, id, &start.rotor.id, &json::write(&sitting.start)?)?;
        done.sittings += 1;
    }
    let here = events_of(write, id)?;
    let same = here.len().min(sitting.events.len());
    if here[..same] != sitting.events[..same] {
        return Err(clash("sitting", id));
    }
    done.already_here += same as u32;
    for event in &sitting.events[same..] {
        insert_event(write, id, event)?;
        done.events += 1;
    }
    Ok(())
}

fn clash(what: &str, id: &Id) -> StoreFault {
    let say = format!("The {what} {id} is here already with other content, so nothing was imported. Import into an empty store instead.");
    StoreFault::Conflict { say, since: Vec::new() }
}

fn all_revisions(connection: &Connection) -> Result<Vec<ExportedRevision>, StoreFault> {
    const ALL: &str = "SELECT r.kind, v.id, v.revision, v.at, v.who, v.retired, v.body FROM revisions v JOIN records r ON r.id = v.id \
         ORDER BY v.id, v.revision";
    select_revisions(connection, ALL, [])
}

fn revisions_of(connection: &Connection, id: &Id) -> Result<Vec<ExportedRevision>, StoreFault> {
    const OF_ONE: &str = "SELECT r.kind, v.id, v.revision, v.at, v.who, v.retired, v.body FROM revisions v JOIN records r ON r.id = v.id \
         WHERE v.id = ?1 ORDER BY v.revision";
    select_revisions(connection, OF_ONE, [id.as_str()])
}

fn select_revisions(connection: &Connection, sql: &str, with: impl rusqlite::Params) -> Result<Vec<ExportedRevision>, StoreFault> {
    let mut statement = connection.prepare_cached(sql)?;
    let mut rows = statement.query(with)?;
    let mut found = Vec::new();
    while let Some(row) = rows.next()? {
        let id = json::read_id(row.get_ref(1)?)?;
        let revision = row.get(2)?;
        let what = || format!("revision {revision} of {id}");
        let word: String = row.get(0)?;
        let kind = RecordKind::ALL.into_iter().find(|kind| kind.as_str() == word);
        let kind = kind.ok_or_else(|| StoreFault::corrupt(format!("{} is of unknown kind {word:?}", what())))?;
        let (at, body) = (json::read_time(row.get_ref(3)?, what)?, json::read_body(row.get_ref(6)?, what)?);
        found.push(ExportedRevision { kind, revision, at, who: row.get(4)?, retired: row.get(5)?, body, id });
    }
    Ok(found)
}
