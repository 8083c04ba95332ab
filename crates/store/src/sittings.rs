//! Sittings: one balancing job on one rotor, as a start and the events after it.

use crate::json::{self, read_json};
use crate::records::{above_zero_to, within};
use crate::revisions::body_of;
use crate::{Event, EventKind, Id, Machine, Record, RingKind, Rotor, Stand, Standing, Store, StoreFault, WeightRing};
use jiff::Timestamp;
use rusqlite::{Connection, OptionalExtension, TransactionBehavior};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::collections::HashMap;

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
    /// Where the weights of a groove are, rotor angles in degrees (0 to 360), one for each, in its order.
    pub weights_at_start_deg: Vec<f64>,
    /// Which screw is in each tapped hole: its place in the stock from 0, or none. Empty: no screw is in.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub screws_at_start: Vec<Option<usize>>,
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

impl SittingStart {
    /// Ranges, and that each snapshot is what the store holds under that id and revision.
    pub(crate) fn check(&self, connection: &Connection) -> Result<(), StoreFault> {
        check_snapshot(connection, "rotor", &self.rotor)?;
        check_snapshot(connection, "stand", &self.stand)?;
        check_snapshot(connection, "machine", &self.machine)?;
        check_snapshot(connection, "ring", &self.ring)?;
        let why = "The permissible residual unbalance can't be zero: nothing could be proven against it.";
        above_zero_to("allowance.g_mm", self.allowance.g_mm, 1e9, "g·mm", why)?;
        json::check_note("allowance.reason", &self.allowance.reason)?;
        json::check_value("allowance.limits", &self.allowance.limits)?;
        json::check_value("reader", &self.reader)?;
        json::check_line("operator", &self.operator, 0, 200)?;
        for (i, &at_deg) in self.weights_at_start_deg.iter().enumerate() {
            within(&format!("weights_at_start_deg[{i}]"), at_deg, 0.0, 360.0, "°", "Count from the zero mark, counter-clockwise.")?;
        }
        let name = &self.ring.body.name;
        match &self.ring.body.kind {
            RingKind::Groove(groove) => {
                let (count, most) = (self.weights_at_start_deg.len(), groove.weights.len());
                if count != most {
                    let allowed = format!("{most} for ring \"{name}\"");
                    return Err(StoreFault::invalid(
                        "weights_at_start_deg",
                        format!("{count} angles"),
                        allowed,
                        "Say for each weight where it is.",
                    ));
                }
                if !self.screws_at_start.is_empty() {
                    return Err(StoreFault::invalid("screws_at_start", "screws", "none", "A groove has no tapped holes."));
                }
                Ok(())
            }
            RingKind::TappedHoles(holes) => {
                let count = self.weights_at_start_deg.len();
                if count > holes.holes.len() {
                    let allowed = format!("{} for ring \"{name}\"", holes.holes.len());
                    return Err(StoreFault::invalid(
                        "weights_at_start_deg",
                        format!("{count} angles"),
                        allowed,
                        "Screws: at most one a hole.",
                    ));
                }
                holes.check_filling("screws_at_start", &self.screws_at_start)
            }
        }
    }
}

fn check_snapshot<R: Record>(connection: &Connection, field: &str, snapshot: &Snapshot<R>) -> Result<(), StoreFault> {
    if body_of::<R>(connection, &snapshot.id, snapshot.revision)?.as_ref() == Some(&snapshot.body) {
        return Ok(());
    }
    let given = format!("revision {} of {}", snapshot.revision, snapshot.id);
    let kind = R::KIND.in_words();
    Err(StoreFault::invalid(
        field,
        given,
        format!("a {kind} exactly as it is stored"),
        format!("Choose the {kind} from the list; store changes to it first."),
    ))
}

impl Store {
    /// Begin a sitting.
    ///
    /// # Errors
    /// [`StoreFault::Invalid`] for a value out of range, or a snapshot that isn't what the store holds; any fault of the disc.
    pub fn new_sitting(&self, start: &SittingStart) -> Result<Sitting, StoreFault> {
        let mut connection = self.lock();
        let write = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
        start.check(&write)?;
        let sitting = Sitting { id: Id::fresh(start.started_at), start: start.clone() };
        insert_sitting(&write, &sitting.id, &start.rotor.id, &json::write(start)?)?;
        write.commit()?;
        Ok(sitting)
    }

    /// A sitting's start.
    ///
    /// # Errors
    /// [`StoreFault::NotFound`]; any fault of the disc.
    pub fn sitting(&self, id: &Id) -> Result<Sitting, StoreFault> {
        let start = start_text(&self.lock(), id)?.ok_or_else(|| not_found(id))?;
        Ok(Sitting { id: id.clone(), start: read_json(&start, || format!("the start of sitting {id}"))? })
    }

    /// All sittings, or those of one rotor, latest start first.
    ///
    /// # Errors
    /// Any fault of the disc.
    pub fn sittings(&self, rotor: Option<&Id>) -> Result<Vec<SittingSummary>, StoreFault> {
        const STARTS: &str = "SELECT id, start FROM sittings WHERE ?1 IS NULL OR rotor = ?1";
        // Bodies of looks may be long and aren't needed here.
        const EVENTS: &str = "SELECT e.sitting, e.seq, e.at, e.who, e.token, e.kind, \
             CASE WHEN e.kind IN ('undo', 'verdict') THEN e.body ELSE '{}' END \
             FROM sitting_events e JOIN sittings s ON s.id = e.sitting WHERE ?1 IS NULL OR s.rotor = ?1 ORDER BY e.sitting, e.seq";
        let mut connection = self.lock();
        let read = connection.transaction()?;
        let mut events: HashMap<Id, Vec<Event>> = HashMap::new();
        for (sitting, event) in select_events(&read, EVENTS, [rotor.map(Id::as_str)])? {
            events.entry(sitting).or_default().push(event);
        }
        let mut statement = read.prepare_cached(STARTS)?;
        let mut rows = statement.query([rotor.map(Id::as_str)])?;
        let mut found = Vec::new();
        while let Some(row) = rows.next()? {
            let id = json::read_id(row.get_ref(0)?)?;
            let start: SittingStart = json::read_body(row.get_ref(1)?, || format!("the start of sitting {id}"))?;
            let events = events.remove(&id).unwrap_or_default();
            found.push(summary(id, start, &events));
        }
        found.sort_by(|a, b| b.started_at.cmp(&a.started_at).then_with(|| b.id.cmp(&a.id)));
        Ok(found)
    }
}

fn summary(id: Id, start: SittingStart, events: &[Event]) -> SittingSummary {
    let standing = Standing::of(events);
    let count = |kind| standing.live.iter().filter(|event| event.kind == kind).count() as u32;
    SittingSummary {
        id,
        rotor: start.rotor.id,
        rotor_name: start.rotor.body.name,
        stand_name: start.stand.body.name,
        machine_name: start.machine.body.name,
        operator: start.operator,
        started_at: start.started_at,
        last_event: events.last().map(|event| LastEvent { seq: event.seq, at: event.at, kind: event.kind }),
        looks: count(EventKind::Look),
        moves: count(EventKind::Move),
        closed: standing.closed,
        verdict: standing.verdict.map(|event| event.body),
    }
}

pub(crate) fn not_found(id: &Id) -> StoreFault {
    StoreFault::NotFound { what: "sitting".into(), id: id.clone() }
}

/// The start as stored, if there is such a sitting.
pub(crate) fn start_text(connection: &Connection, id: &Id) -> Result<Option<String>, StoreFault> {
    let mut statement = connection.prepare_cached("SELECT start FROM sittings WHERE id = ?1")?;
    Ok(statement.query_row([id.as_str()], |row| row.get(0)).optional()?)
}

pub(crate) fn insert_sitting(connection: &Connection, id: &Id, rotor: &Id, start: &str) -> Result<(), StoreFault> {
    connection.prepare_cached("INSERT INTO sittings (id, rotor, start) VALUES (?1, ?2, ?3)")?.execute([
        id.as_str(),
        rotor.as_str(),
        start,
    ])?;
    Ok(())
}

/// Events by a query whose columns are: sitting, seq, at, who, token, kind, body.
pub(crate) fn select_events(connection: &Connection, sql: &str, with: impl rusqlite::Params) -> Result<Vec<(Id, Event)>, StoreFault> {
    let mut statement = connection.prepare_cached(sql)?;
    let mut rows = statement.query(with)?;
    let mut found = Vec::new();
    while let Some(row) = rows.next()? {
        let sitting = json::read_id(row.get_ref(0)?)?;
        let seq: u32 = row.get(1)?;
        let what = || format!("event {seq} of sitting {sitting}");
        let at = json::read_time(row.get_ref(2)?, what)?;
        let word: String = row.get(5)?;
        let kind = EventKind::ALL.into_iter().find(|kind| kind.as_str() == word);
        let kind = kind.ok_or_else(|| StoreFault::corrupt(format!("{} is of unknown kind {word:?}", what())))?;
        let body = json::read_body(row.get_ref(6)?, what)?;
        found.push((sitting, Event { seq, at, who: row.get(3)?, token: row.get(4)?, kind, body }));
    }
    Ok(found)
}
