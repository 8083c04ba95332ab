//! Records in revisions: put, revise, retire, restore; get, list, history.

use crate::json::{self, read_json};
use crate::{By, Id, Record, RecordKind, Snapshot, Store, StoreFault};
use jiff::Timestamp;
use rusqlite::{Connection, OptionalExtension, TransactionBehavior, params};
use serde::{Deserialize, Serialize};

/// One revision of a record as stored.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Stored<R> {
    /// The record's id, the same in all its revisions.
    pub id: Id,
    /// 1, 2, 3, ...
    pub revision: u32,
    /// When this revision was written.
    pub at: Timestamp,
    /// By whom.
    pub who: String,
    /// Whether this revision hides the record from lists.
    pub retired: bool,
    /// The record.
    pub body: R,
}

impl<R: Clone> Stored<R> {
    /// A copy for a sitting's start.
    pub fn snapshot(&self) -> Snapshot<R> {
        Snapshot { id: self.id.clone(), revision: self.revision, body: self.body.clone() }
    }
}

impl Store {
    /// Store a new record as revision 1 under a fresh id.
    ///
    /// # Errors
    /// [`StoreFault::Invalid`] for a value out of range or a reference to nothing; any fault of the disc.
    pub fn put<R: Record>(&self, record: &R, by: &By) -> Result<Stored<R>, StoreFault> {
        record.check()?;
        by.check()?;
        let mut connection = self.lock();
        let write = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
        check_references(&write, record)?;
        let stored = Stored { id: Id::fresh(by.at), revision: 1, at: by.at, who: by.who.clone(), retired: false, body: record.clone() };
        insert_record(&write, &stored.id, R::KIND)?;
        insert_revision(&write, &stored)?;
        write.commit()?;
        Ok(stored)
    }

    /// Store a changed record as its next revision; `after_revision` is the one that the writer had seen.
    ///
    /// A record that is the same as the present one makes no revision: the present one is returned. A retired record stays retired.
    ///
    /// # Errors
    /// [`StoreFault::Conflict`] if another revision came since; else as [`Store::put`] and [`Store::get`].
    pub fn revise<R: Record>(&self, id: &Id, after_revision: u32, record: &R, by: &By) -> Result<Stored<R>, StoreFault> {
        record.check()?;
        by.check()?;
        let mut connection = self.lock();
        let write = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
        let present: Stored<R> = latest(&write, id)?;
        if present.body == *record {
            return Ok(present);
        }
        if after_revision != present.revision {
            let (kind, who) = (R::KIND.in_words(), if present.who.is_empty() { "somebody" } else { &present.who });
            let (name, now) = (present.body.name(), present.revision);
            return Err(StoreFault::Conflict {
                say: format!("The {kind} \"{name}\" was changed by {who} meanwhile (revision {now}; you had seen {after_revision})."),
                since: Vec::new(),
            });
        }
        check_references(&write, record)?;
        let next = Stored { revision: present.revision + 1, at: by.at, who: by.who.clone(), body: record.clone(), ..present };
        insert_revision(&write, &next)?;
        write.commit()?;
        Ok(next)
    }

    /// Hide the record from lists (a revision with the same body). Retired already: returns the present revision.
    ///
    /// # Errors
    /// [`StoreFault::NotFound`]; any fault of the disc.
    pub fn retire<R: Record>(&self, id: &Id, by: &By) -> Result<Stored<R>, StoreFault> {
        self.set_retired(id, true, by)
    }

    /// Bring a retired record back. Not retired: returns the present revision.
    ///
    /// # Errors
    /// [`StoreFault::NotFound`]; any fault of the disc.
    pub fn restore<R: Record>(&self, id: &Id, by: &By) -> Result<Stored<R>, StoreFault> {
        self.set_retired(id, false, by)
    }

    fn set_retired<R: Record>(&self, id: &Id, retired: bool, by: &By) -> Result<Stored<R>, StoreFault> {
        by.check()?;
        let mut connection = self.lock();
        let write = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
        let present: Stored<R> = latest(&write, id)?;
        if present.retired == retired {
            return Ok(present);
        }
        let next = Stored { revision: present.revision + 1, at: by.at, who: by.who.clone(), retired, ..present };
        insert_revision(&write, &next)?;
        write.commit()?;
        Ok(next)
    }

    /// The latest revision, retired or not.
    ///
    /// # Errors
    /// [`StoreFault::NotFound`]; any fault of the disc.
    pub fn get<R: Record>(&self, id: &Id) -> Result<Stored<R>, StoreFault> {
        latest(&self.lock(), id)
    }

    /// The latest revision of each record that isn't retired, by name.
    ///
    /// # Errors
    /// Any fault of the disc.
    pub fn list<R: Record>(&self) -> Result<Vec<Stored<R>>, StoreFault> {
        self.list_where(false)
    }

    /// The latest revision of each retired record, by name.
    ///
    /// # Errors
    /// Any fault of the disc.
    pub fn list_retired<R: Record>(&self) -> Result<Vec<Stored<R>>, StoreFault> {
        self.list_where(true)
    }

    fn list_where<R: Record>(&self, retired: bool) -> Result<Vec<Stored<R>>, StoreFault> {
        const LATEST: &str = "SELECT v.id, v.revision, v.at, v.who, v.retired, v.body FROM revisions v JOIN records r ON r.id = v.id \
             WHERE r.kind = ?1 AND v.retired = ?2 AND v.revision = (SELECT max(revision) FROM revisions WHERE id = v.id)";
        let mut found: Vec<Stored<R>> = select(&self.lock(), LATEST, params![R::KIND.as_str(), retired])?;
        // The id breaks ties, so that two of one name keep their order from page to page.
        found.sort_by_cached_key(|stored| (stored.body.name().to_lowercase(), stored.id.clone()));
        Ok(found)
    }

    /// All revisions, first to latest.
    ///
    /// # Errors
    /// [`StoreFault::NotFound`]; any fault of the disc.
    pub fn history<R: Record>(&self, id: &Id) -> Result<Vec<Stored<R>>, StoreFault> {
        const ALL: &str = "SELECT v.id, v.revision, v.at, v.who, v.retired, v.body FROM revisions v JOIN records r ON r.id = v.id \
             WHERE v.id = ?1 AND r.kind = ?2 ORDER BY v.revision";
        let found = select(&self.lock(), ALL, params![id.as_str(), R::KIND.as_str()])?;
        if found.is_empty() { Err(not_found::<R>(id)) } else { Ok(found) }
    }
}

fn not_found<R: Record>(id: &Id) -> StoreFault {
    StoreFault::NotFound { what: R::KIND.in_words().into(), id: id.clone() }
}

fn latest<R: Record>(connection: &Connection, id: &Id) -> Result<Stored<R>, StoreFault> {
    const LATEST: &str = "SELECT v.id, v.revision, v.at, v.who, v.retired, v.body FROM revisions v JOIN records r ON r.id = v.id \
         WHERE v.id = ?1 AND r.kind = ?2 ORDER BY v.revision DESC LIMIT 1";
    select(connection, LATEST, params![id.as_str(), R::KIND.as_str()])?.pop().ok_or_else(|| not_found::<R>(id))
}

/// The body of one revision, if there is such a one.
pub(crate) fn body_of<R: Record>(connection: &Connection, id: &Id, revision: u32) -> Result<Option<R>, StoreFault> {
    const ONE: &str = "SELECT v.body FROM revisions v JOIN records r ON r.id = v.id WHERE v.id = ?1 AND r.kind = ?2 AND v.revision = ?3";
    let body: Option<String> =
        connection.prepare_cached(ONE)?.query_row(params![id.as_str(), R::KIND.as_str(), revision], |row| row.get(0)).optional()?;
    body.map(|text| read_json(&text, || format!("revision {revision} of {id}"))).transpose()
}

fn select<R: Record>(connection: &Connection, sql: &str, with: impl rusqlite::Params) -> Result<Vec<Stored<R>>, StoreFault> {
    let mut statement = connection.prepare_cached(sql)?;
    let mut rows = statement.query(with)?;
    let mut found = Vec::new();
    while let Some(row) = rows.next()? {
        let id = json::read_id(row.get_ref(0)?)?;
        let revision = row.get(1)?;
        let what = || format!("revision {revision} of {id}");
        let (at, body) = (json::read_time(row.get_ref(2)?, what)?, json::read_body(row.get_ref(5)?, what)?);
        found.push(Stored { revision, at, who: row.get(3)?, retired: row.get(4)?, body, id });
    }
    Ok(found)
}

pub(crate) fn kind_of(connection: &Connection, id: &Id) -> Result<Option<String>, StoreFault> {
    let mut statement = connection.prepare_cached("SELECT kind FROM records WHERE id = ?1")?;
    Ok(statement.query_row([id.as_str()], |row| row.get(0)).optional()?)
}

pub(crate) fn check_references<R: Record>(connection: &Connection, record: &R) -> Result<(), StoreFault> {
    for (field, kind, id) in record.refers_to() {
        if kind_of(connection, id)?.as_deref() != Some(kind.as_str()) {
            let kind = kind.in_words();
            return Err(StoreFault::invalid(
                field,
                id,
                format!("the id of a {kind}"),
                format!("Choose a {kind} from the list, or make it first."),
            ));
        }
    }
    Ok(())
}

pub(crate) fn insert_record(connection: &Connection, id: &Id, kind: RecordKind) -> Result<(), StoreFault> {
    connection.prepare_cached("INSERT INTO records (id, kind) VALUES (?1, ?2)")?.execute([id.as_str(), kind.as_str()])?;
    Ok(())
}

pub(crate) fn insert_revision<R: Serialize>(connection: &Connection, stored: &Stored<R>) -> Result<(), StoreFault> {
    const INSERT: &str = "INSERT INTO revisions (id, revision, at, who, retired, body) VALUES (?1, ?2, ?3, ?4, ?5, ?6)";
    let (id, at, body) = (stored.id.as_str(), stored.at.to_string(), json::write(&stored.body)?);
    connection.prepare_cached(INSERT)?.execute(params![id, stored.revision, at, stored.who, stored.retired, body])?;
    Ok(())
}
