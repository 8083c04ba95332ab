//! A backup put in the place of the present store, which is set aside first.
//!
//! In: a backup of this or an earlier format, the store or its file. Out: the store as it was then, whole and read back, or a fault and
//! everything as it was. A program that is killed half way leaves the one state or the other.

use crate::connection::{beside, check_integrity, copy_pages, of_the_disc, settle_folder_of};
use crate::{Backups, Contents, Id, Reason, Store, StoreFault, schema};
use jiff::Timestamp;
use rusqlite::{Connection, OpenFlags};
use std::fs;
use std::path::{Path, PathBuf};

/// What a restore did.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Restored {
    /// Where that which was there before is kept; none: there was nothing.
    pub set_aside: Option<PathBuf>,
    /// What is in the store now.
    pub contents: Contents,
}

/// A copy of the backup, brought up to date and checked.
struct Ready {
    // Closed before the file goes: fields are dropped in this order.
    store: Store,
    _file: GoneWithTheValue,
}

/// A file of the moment, with its log.
struct GoneWithTheValue(PathBuf);

impl Drop for GoneWithTheValue {
    fn drop(&mut self) {
        for ending in ["", "-wal", "-shm"] {
            // Of no more use; that it can't be removed is no news.
            let _ = fs::remove_file(beside(&self.0, ending));
        }
    }
}

impl Backups {
    /// Put the backup at `from` in the place of what is in `store`, while the program goes on; other programs that have the store open
    /// see the new state with their next step. What was there is set aside first.
    ///
    /// # Errors
    /// [`StoreFault::NotOurs`], [`StoreFault::Newer`], [`StoreFault::Corrupt`] for a backup that can't be used; any fault of the disc.
    /// The store is as it was then.
    pub fn restore(&self, store: &Store, from: &Path, at: Timestamp) -> Result<Restored, StoreFault> {
        let ready = self.ready(from, at)?;
        let set_aside = self.set_aside(store, at)?;
        copy_pages(&ready.store.lock(), &mut store.lock())?;
        check_integrity(&store.lock())?;
        let (contents, expected) = (store.contents()?, ready.store.contents()?);
        if contents != expected {
            return Err(StoreFault::corrupt(format!("after the restore the store holds {contents:?}, the backup {expected:?}")));
        }
        Ok(Restored { set_aside, contents })
    }

    /// The same for a store's file that can't be opened any more. No other program may have it open.
    ///
    /// # Errors
    /// As [`Backups::restore`].
    pub fn restore_file(&self, records: &Path, from: &Path, at: Timestamp) -> Result<Restored, StoreFault> {
        let ready = self.ready(from, at)?;
        let contents = ready.store.contents()?;
        let set_aside = if records.exists() { Some(self.copy_damaged(records, at)?) } else { None };
        // Under its final name only once it is whole; its log must not be there any more.
        let whole = beside(records, ".restored");
        if fs::exists(&whole).map_err(|e| of_the_disc(&e))? {
            fs::remove_file(&whole).map_err(|e| of_the_disc(&e))?;
        }
        ready.store.backup(&whole)?;
        for ending in ["-wal", "-shm"] {
            let log = beside(records, ending);
            if log.exists() {
                fs::remove_file(log).map_err(|e| of_the_disc(&e))?;
            }
        }
        fs::rename(&whole, records).map_err(|e| of_the_disc(&e))?;
        settle_folder_of(records)?;
        Ok(Restored { set_aside, contents })
    }

    /// Copy, bring up to date, read every record and event.
    fn ready(&self, from: &Path, at: Timestamp) -> Result<Ready, StoreFault> {
        let source = open_backup(from)?;
        // The folder is made if it isn't there.
        let path = self.new_path(Reason::BeforeRestore, at)?.with_file_name(format!("restore-{}.part", Id::fresh(at)));
        let file = GoneWithTheValue(path.clone());
        let mut copy = Connection::open(&path)?;
        copy_pages(&source, &mut copy)?;
        check_integrity(&copy)?;
        drop(copy);
        let ready = Ready { store: Store::open(&path)?, _file: file };
        ready.store.verify()?;
        Ok(ready)
    }

    fn set_aside(&self, store: &Store, at: Timestamp) -> Result<Option<PathBuf>, StoreFault> {
        match (self.take(store, Reason::BeforeRestore, at), store.path()) {
            (Ok(file), _) => Ok(Some(file.path)),
            // The very case that a backup is for.
            (Err(StoreFault::Corrupt { .. }), Some(path)) => {
                let _nobody_writes = store.lock();
                self.copy_damaged(path, at).map(Some)
            }
            (Err(fault), _) => Err(fault),
        }
    }

    /// Byte by byte: SQLite makes no copy of a damaged file, and somebody may still get something out of it.
    fn copy_damaged(&self, records: &Path, at: Timestamp) -> Result<PathBuf, StoreFault> {
        let to = self.new_path(Reason::Damaged, at)?;
        for ending in ["-wal", ""] {
            let from = beside(records, ending);
            if from.exists() {
                fs::copy(&from, beside(&to, ending)).map_err(|e| of_the_disc(&e))?;
            }
        }
        settle_folder_of(&to)?;
        Ok(to)
    }
}

/// Open a backup for reading only; refuse what isn't ours or is newer.
fn open_backup(from: &Path) -> Result<Connection, StoreFault> {
    let what = from.display().to_string();
    if !from.is_file() {
        return Err(StoreFault::invalid("backup", what, "a file", "There is no such file: choose one of the list."));
    }
    let source = Connection::open_with_flags(from, OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX)?;
    let marks = source.unchecked_transaction().and_then(|read| schema::marks(&read)).map_err(|e| {
        if e.sqlite_error_code() == Some(rusqlite::ErrorCode::NotADatabase) {
            return StoreFault::NotOurs { what: what.clone(), why: "it is no SQLite database (or its beginning is damaged).".into() };
        }
        e.into()
    })?;
    if schema::accept(&marks, &what)? == 0 {
        return Err(StoreFault::NotOurs { what, why: "it is empty.".into() });
    }
    Ok(source)
}
