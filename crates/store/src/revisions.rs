//! Records in revisions: put, revise, retire, restore; get, list, history.

use crate::{By, Id, Record, Snapshot, Store, StoreFault};
use jiff::Timestamp;
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

fn unwritten<T>() -> Result<T, StoreFault> {
    Err(StoreFault::Other { detail: "being written".into() })
}

impl Store {
    /// Store a new record as revision 1 under a fresh id.
    ///
    /// # Errors
    /// [`StoreFault::Invalid`] for a value out of range or a reference to nothing; any fault of the disc.
    pub fn put<R: Record>(&self, record: &R, by: &By) -> Result<Stored<R>, StoreFault> {
        let _ = (record, by);
        unwritten()
    }

    /// Store a changed record as its next revision; `after_revision` is the one that the writer had seen.
    ///
    /// # Errors
    /// [`StoreFault::Conflict`] if another revision came since; else as [`Store::put`] and [`Store::get`].
    pub fn revise<R: Record>(&self, id: &Id, after_revision: u32, record: &R, by: &By) -> Result<Stored<R>, StoreFault> {
        let _ = (id, after_revision, record, by);
        unwritten()
    }

    /// Hide the record from lists (a revision with the same body). Retired already: returns the present revision.
    ///
    /// # Errors
    /// [`StoreFault::NotFound`]; any fault of the disc.
    pub fn retire<R: Record>(&self, id: &Id, by: &By) -> Result<Stored<R>, StoreFault> {
        let _ = (id, by);
        unwritten()
    }

    /// Bring a retired record back. Not retired: returns the present revision.
    ///
    /// # Errors
    /// [`StoreFault::NotFound`]; any fault of the disc.
    pub fn restore<R: Record>(&self, id: &Id, by: &By) -> Result<Stored<R>, StoreFault> {
        let _ = (id, by);
        unwritten()
    }

    /// The latest revision, retired or not.
    ///
    /// # Errors
    /// [`StoreFault::NotFound`]; any fault of the disc.
    pub fn get<R: Record>(&self, id: &Id) -> Result<Stored<R>, StoreFault> {
        let _ = id;
        unwritten()
    }

    /// The latest revision of each record that isn't retired, by name.
    ///
    /// # Errors
    /// Any fault of the disc.
    pub fn list<R: Record>(&self) -> Result<Vec<Stored<R>>, StoreFault> {
        unwritten()
    }

    /// The latest revision of each retired record, by name.
    ///
    /// # Errors
    /// Any fault of the disc.
    pub fn list_retired<R: Record>(&self) -> Result<Vec<Stored<R>>, StoreFault> {
        unwritten()
    }

    /// All revisions, first to latest.
    ///
    /// # Errors
    /// [`StoreFault::NotFound`]; any fault of the disc.
    pub fn history<R: Record>(&self, id: &Id) -> Result<Vec<Stored<R>>, StoreFault> {
        let _ = id;
        unwritten()
    }
}
