//! The file: open, back up, verify.

use crate::StoreFault;
use rusqlite::Connection;
use std::path::Path;
use std::sync::Mutex;

/// A store of records: one SQLite file.
///
/// `Send + Sync`: one connection behind a mutex, so calls from several threads run one after another.
#[derive(Debug)]
pub struct Store {
    connection: Mutex<Connection>,
}

fn unwritten<T>() -> Result<T, StoreFault> {
    Err(StoreFault::Other { detail: "being written".into() })
}

impl Store {
    /// Open the store at `path`, or start an empty one there; older formats are brought up to date.
    ///
    /// # Errors
    /// [`StoreFault::Newer`] and [`StoreFault::NotOurs`], which leave the file as it is; [`StoreFault::ReadOnly`], [`StoreFault::Busy`],
    /// [`StoreFault::Corrupt`], [`StoreFault::Other`] (no such folder).
    pub fn open(path: impl AsRef<Path>) -> Result<Self, StoreFault> {
        let _ = path;
        unwritten()
    }

    /// An empty store in memory, gone when dropped. For a throwaway copy that shall behave as the real one, open a temporary file.
    ///
    /// # Errors
    /// [`StoreFault::Other`] if there is no memory.
    pub fn open_in_memory() -> Result<Self, StoreFault> {
        unwritten()
    }

    /// Write a copy of the whole store to a new file, by SQLite's online backup; it appears under its name only once it is whole and checked.
    ///
    /// # Errors
    /// [`StoreFault::Invalid`] if the file exists already; any fault of the disc.
    pub fn backup(&self, path: impl AsRef<Path>) -> Result<(), StoreFault> {
        let _ = (path, &self.connection);
        unwritten()
    }

    /// Check the whole file: SQLite's own integrity and that every record and event can be read.
    ///
    /// # Errors
    /// [`StoreFault::Corrupt`] with what was found.
    pub fn verify(&self) -> Result<(), StoreFault> {
        unwritten()
    }
}
