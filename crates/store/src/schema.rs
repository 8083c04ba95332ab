//! The tables, and the steps from each format to the next.
//!
//! In: a connection to a file of any age. Out: the newest format, or a fault and the file as it was.

use crate::StoreFault;
use rusqlite::{Connection, Transaction, TransactionBehavior};

/// "Stwl": marks an SQLite file as ours (`PRAGMA application_id`).
pub(crate) const APPLICATION_ID: i32 = 0x5374_776C;

/// Step `n` leads from format `n` to `n + 1`. A step that has been released is never edited; a change is a new step.
///
/// Format 1: bodies are JSON text, times RFC 3339. The triggers hold what the code promises: nothing is changed, nothing deleted.
const STEPS: [&str; 1] = ["
CREATE TABLE records (
    id TEXT NOT NULL PRIMARY KEY,
    kind TEXT NOT NULL CHECK (kind IN ('rotor', 'machine', 'weight-ring', 'stand'))
) STRICT;
CREATE TABLE revisions (
    id TEXT NOT NULL REFERENCES records (id),
    revision INTEGER NOT NULL CHECK (revision >= 1),
    at TEXT NOT NULL,
    who TEXT NOT NULL,
    retired INTEGER NOT NULL CHECK (retired IN (0, 1)),
    body TEXT NOT NULL CHECK (json_valid(body)),
    PRIMARY KEY (id, revision)
) STRICT;
CREATE TABLE sittings (
    id TEXT NOT NULL PRIMARY KEY,
    rotor TEXT NOT NULL REFERENCES records (id),
    start TEXT NOT NULL CHECK (json_valid(start))
) STRICT;
CREATE INDEX sittings_of_rotor ON sittings (rotor);
CREATE TABLE sitting_events (
    sitting TEXT NOT NULL REFERENCES sittings (id),
    seq INTEGER NOT NULL CHECK (seq >= 1),
    at TEXT NOT NULL,
    who TEXT NOT NULL,
    token TEXT NOT NULL,
    kind TEXT NOT NULL CHECK (kind IN ('look', 'move', 'undo', 'verdict', 'note', 'closed', 'reopened')),
    body TEXT NOT NULL CHECK (json_valid(body)),
    PRIMARY KEY (sitting, seq),
    UNIQUE (sitting, token)
) STRICT;
CREATE TRIGGER records_stay BEFORE UPDATE ON records BEGIN SELECT RAISE(ABORT, 'records are only added'); END;
CREATE TRIGGER records_keep BEFORE DELETE ON records BEGIN SELECT RAISE(ABORT, 'records are only added'); END;
CREATE TRIGGER revisions_stay BEFORE UPDATE ON revisions BEGIN SELECT RAISE(ABORT, 'revisions are only added'); END;
CREATE TRIGGER revisions_keep BEFORE DELETE ON revisions BEGIN SELECT RAISE(ABORT, 'revisions are only added'); END;
CREATE TRIGGER sittings_stay BEFORE UPDATE ON sittings BEGIN SELECT RAISE(ABORT, 'sittings are only added'); END;
CREATE TRIGGER sittings_keep BEFORE DELETE ON sittings BEGIN SELECT RAISE(ABORT, 'sittings are only added'); END;
CREATE TRIGGER events_stay BEFORE UPDATE ON sitting_events BEGIN SELECT RAISE(ABORT, 'events are only added'); END;
CREATE TRIGGER events_keep BEFORE DELETE ON sitting_events BEGIN SELECT RAISE(ABORT, 'events are only added'); END;
"];

/// The format that this program writes.
pub(crate) const FORMAT: i64 = STEPS.len() as i64;

/// What a file is, by its marks.
pub(crate) enum Marks {
    /// Nothing in it yet.
    Empty,
    /// Ours, in this format.
    Ours(i64),
    /// Another program's.
    Foreign,
}

/// Read the marks; changes nothing. Within a transaction: there are several.
pub(crate) fn marks(connection: &Transaction<'_>) -> rusqlite::Result<Marks> {
    let read = |name: &str| connection.pragma_query_value(None, name, |row| row.get::<_, i64>(0));
    let (application, format) = (read("application_id")?, read("user_version")?);
    if application == i64::from(APPLICATION_ID) {
        return Ok(Marks::Ours(format));
    }
    let tables: i64 = connection.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
    Ok(if application == 0 && format == 0 && tables == 0 { Marks::Empty } else { Marks::Foreign })
}

/// Bring the file to [`FORMAT`], one transaction a step, so that a power cut leaves a whole format.
pub(crate) fn migrate(connection: &mut Connection, what: &str) -> Result<(), StoreFault> {
    loop {
        // Immediate: of two programs that start at once, the second waits here and then finds the step done.
        let step = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
        let format = accept(&marks(&step)?, what)?;
        let Some(sql) = usize::try_from(format).ok().and_then(|index| STEPS.get(index)) else { return Ok(()) };
        step.execute_batch(sql)?;
        step.pragma_update(None, "application_id", APPLICATION_ID)?;
        step.pragma_update(None, "user_version", format + 1)?;
        step.commit()?;
    }
}

/// The format of a file that this program may write to.
pub(crate) fn accept(marks: &Marks, what: &str) -> Result<i64, StoreFault> {
    match *marks {
        Marks::Empty => Ok(0),
        Marks::Ours(found) if found > FORMAT => Err(StoreFault::Newer { found, known: FORMAT }),
        // We never wrote our mark without a format from 1.
        Marks::Ours(found) if found < 1 => Err(StoreFault::corrupt(format!("{what} carries the impossible format number {found}"))),
        Marks::Ours(found) => Ok(found),
        Marks::Foreign => Err(StoreFault::NotOurs { what: what.to_owned(), why: "it is the database of another program.".into() }),
    }
}
