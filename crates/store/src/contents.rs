//! How much a file holds: to tell a whole copy from a short one, and a changed store from an idle one.

use crate::{Store, StoreFault};
use jiff::Timestamp;
use rusqlite::Connection;
use serde::Serialize;

/// Rows of each table, and when the latest was written.
///
/// As nothing is ever changed or deleted, two states of one store with the same contents are the same.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Contents {
    /// Rotors, machines, weight rings and stands, hidden ones too.
    pub records: u64,
    /// Revisions of them all.
    pub revisions: u64,
    /// Sittings.
    pub sittings: u64,
    /// Events of them all.
    pub events: u64,
    /// Greatest time of any revision or event; none: an empty store.
    pub latest: Option<Timestamp>,
}

impl Contents {
    /// Whether this holds at least as many rows of each kind as `other`.
    pub(crate) fn covers(&self, other: &Self) -> bool {
        self.records >= other.records && self.revisions >= other.revisions && self.sittings >= other.sittings && self.events >= other.events
    }

    pub(crate) fn of(connection: &Connection) -> Result<Self, StoreFault> {
        const COUNT: &str = "SELECT (SELECT count(*) FROM records), (SELECT count(*) FROM revisions), (SELECT count(*) FROM sittings), \
             (SELECT count(*) FROM sitting_events)";
        let read = connection.unchecked_transaction()?;
        let [records, revisions, sittings, events] = read.query_row(COUNT, [], |row| {
            let count = |column| row.get::<_, i64>(column).map(i64::unsigned_abs);
            Ok([count(0)?, count(1)?, count(2)?, count(3)?])
        })?;
        // Texts of times don't sort as times do once their fractions differ in length.
        let mut times = read.prepare("SELECT at FROM revisions UNION ALL SELECT at FROM sitting_events")?;
        let mut rows = times.query([])?;
        let mut latest = None;
        while let Some(row) = rows.next()? {
            latest = latest.max(Some(crate::json::read_time(row.get_ref(0)?, || "a time".into())?));
        }
        Ok(Self { records, revisions, sittings, events, latest })
    }
}

impl Store {
    /// How much is in the store now.
    ///
    /// # Errors
    /// Any fault of the disc.
    pub fn contents(&self) -> Result<Contents, StoreFault> {
        Contents::of(&self.lock())
    }
}
