//! The file: open, back up, verify.

use crate::{StoreFault, schema};
use rusqlite::backup::Backup;
use rusqlite::{Connection, ErrorCode, OpenFlags};
use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// How long a write waits for another program before it is told [`StoreFault::Busy`].
const PATIENCE: Duration = Duration::from_secs(5);

/// A store of records: one SQLite file.
///
/// `Send + Sync`: one connection behind a mutex, so calls from several threads run one after another. Several programs may have the
/// file open; writers wait for one another up to 5 s.
#[derive(Debug)]
pub struct Store {
    connection: Mutex<Connection>,
}

impl Store {
    /// Open the store at `path`, or start an empty one there; older formats are brought up to date.
    ///
    /// # Errors
    /// [`StoreFault::Newer`] and [`StoreFault::NotOurs`], which leave the file as it is; [`StoreFault::ReadOnly`], [`StoreFault::Busy`],
    /// [`StoreFault::Corrupt`], [`StoreFault::Other`] (no such folder).
    pub fn open(path: impl AsRef<Path>) -> Result<Self, StoreFault> {
        let path = path.as_ref();
        probe(path)?;
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let connection = Connection::open_with_flags(path, flags)?;
        connection.busy_timeout(PATIENCE)?;
        // SQLite opens a write-protected file without a word; better told now than at the first look.
        if connection.is_readonly("main")? {
            return Err(StoreFault::ReadOnly);
        }
        let journal: String = connection.pragma_update_and_check(None, "journal_mode", "WAL", |row| row.get(0))?;
        if journal != "wal" {
            return Err(StoreFault::Other { detail: format!("the folder's file system allows journal mode {journal} only, not WAL") });
        }
        Self::prepare(connection, &path.display().to_string())
    }

    /// An empty store in memory, gone when dropped. For a throwaway copy that shall behave as the real one, open a temporary file.
    ///
    /// # Errors
    /// [`StoreFault::Other`] if there is no memory.
    pub fn open_in_memory() -> Result<Self, StoreFault> {
        Self::prepare(Connection::open_in_memory()?, "memory")
    }

    fn prepare(mut connection: Connection, what: &str) -> Result<Self, StoreFault> {
        connection.pragma_update(None, "synchronous", "FULL")?;
        // On macOS a plain fsync may leave data in the disc's own cache; elsewhere these two do nothing.
        connection.pragma_update(None, "fullfsync", true)?;
        connection.pragma_update(None, "checkpoint_fullfsync", true)?;
        connection.pragma_update(None, "foreign_keys", true)?;
        connection.pragma_update(None, "trusted_schema", false)?;
        connection.pragma_update(None, "cell_size_check", true)?;
        schema::migrate(&mut connection, what)?;
        Ok(Self { connection: Mutex::new(connection) })
    }

    /// The connection. A thread that panicked while it held it has rolled its transaction back, so a poisoned lock is sound.
    pub(crate) fn lock(&self) -> MutexGuard<'_, Connection> {
        self.connection.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Write a copy of the whole store to a new file, by SQLite's online backup; it appears under its name only once it is whole and
    /// checked. Other writers in this program wait meanwhile.
    ///
    /// # Errors
    /// [`StoreFault::Invalid`] if the file exists already; any fault of the disc.
    pub fn backup(&self, path: impl AsRef<Path>) -> Result<(), StoreFault> {
        let path = path.as_ref();
        if fs::exists(path).map_err(|e| of_the_disc(&e))? {
            return Err(StoreFault::invalid(
                "backup",
                path.display(),
                "a file that does not exist yet",
                "A backup never overwrites: choose another name.",
            ));
        }
        let mut part = path.as_os_str().to_owned();
        part.push(".part");
        let part = PathBuf::from(part);
        let written = self.copy_to(&part).and_then(|()| {
            fs::rename(&part, path).map_err(|e| of_the_disc(&e))?;
            settle_folder_of(path)
        });
        if written.is_err() {
            // What is left of the attempt is of no use; that it can't be removed either is no news beside the fault itself.
            let _ = fs::remove_file(&part);
        }
        written
    }

    fn copy_to(&self, part: &Path) -> Result<(), StoreFault> {
        if fs::exists(part).map_err(|e| of_the_disc(&e))? {
            fs::remove_file(part).map_err(|e| of_the_disc(&e))?;
        }
        let mut copy = Connection::open(part)?;
        // All pages in one step: no other program's write can make it start again.
        Backup::new(&self.lock(), &mut copy)?.run_to_completion(i32::MAX, Duration::from_millis(50), None)?;
        // Out of WAL, so that the backup is one file; opening it as a store turns WAL on again.
        copy.pragma_update_and_check(None, "journal_mode", "DELETE", |row| row.get::<_, String>(0))?;
        check_integrity(&copy)?;
        copy.close().map_err(|(_, e)| StoreFault::from(e))?;
        File::open(part).and_then(|file| file.sync_all()).map_err(|e| of_the_disc(&e))
    }

    /// Check the whole file: SQLite's own integrity and that every record and event can be read.
    ///
    /// # Errors
    /// [`StoreFault::Corrupt`] with what was found.
    pub fn verify(&self) -> Result<(), StoreFault> {
        check_integrity(&self.lock())?;
        self.export()?.check().map_err(StoreFault::corrupt)
    }
}

/// Refuse files that aren't ours before anything is written to them.
fn probe(path: &Path) -> Result<(), StoreFault> {
    let what = path.display().to_string();
    let bytes = match fs::metadata(path) {
        Ok(found) if found.is_dir() => {
            return Err(StoreFault::NotOurs { what, why: "it is a folder.".into() });
        }
        Ok(found) => found.len(),
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => 0,
        Err(e) => return Err(of_the_disc(&e)),
    };
    if bytes == 0 {
        return Ok(());
    }
    // A read-only connection doesn't even fold the log of a newer program into its file.
    let reader = Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX)?;
    reader.busy_timeout(PATIENCE)?;
    match schema::marks(&reader) {
        Ok(marks) => schema::accept(&marks, &what).map(|_| ()),
        Err(e) if e.sqlite_error_code() == Some(ErrorCode::NotADatabase) => {
            Err(StoreFault::NotOurs { what, why: "it is no SQLite database (or its beginning is damaged).".into() })
        }
        Err(e) => Err(e.into()),
    }
}

fn check_integrity(connection: &Connection) -> Result<(), StoreFault> {
    let mut check = connection.prepare("PRAGMA integrity_check(20)")?;
    let said: Vec<String> = check.query_map([], |row| row.get(0))?.collect::<Result<_, _>>()?;
    if said != ["ok"] {
        return Err(StoreFault::corrupt(said.join("; ")));
    }
    let mut dangling = connection.prepare("PRAGMA foreign_key_check")?;
    if dangling.exists([])? {
        return Err(StoreFault::corrupt("an event or revision belongs to nothing"));
    }
    Ok(())
}

/// The name of a new file is on disc only once its folder is.
fn settle_folder_of(path: &Path) -> Result<(), StoreFault> {
    if cfg!(unix) {
        let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
        File::open(folder).and_then(|folder| folder.sync_all()).map_err(|e| of_the_disc(&e))?;
    }
    Ok(())
}

fn of_the_disc(error: &std::io::Error) -> StoreFault {
    match error.kind() {
        std::io::ErrorKind::StorageFull | std::io::ErrorKind::QuotaExceeded => StoreFault::Full,
        std::io::ErrorKind::PermissionDenied | std::io::ErrorKind::ReadOnlyFilesystem => StoreFault::ReadOnly,
        _ => StoreFault::Other { detail: error.to_string() },
    }
}
