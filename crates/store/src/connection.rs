//! The file: open, back up, verify.

use crate::contents::Contents;
use crate::{Id, StoreFault, schema};
use rusqlite::backup::{Backup, StepResult};
use rusqlite::config::DbConfig;
use rusqlite::{Connection, ErrorCode, OpenFlags};
use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, OnceLock, PoisonError};
use std::time::{Duration, Instant};

/// How long a write waits for another program before it is told [`StoreFault::Busy`].
const PATIENCE: Duration = Duration::from_secs(5);

/// A store of records: one SQLite file.
///
/// `Send + Sync`: one connection behind a mutex, so calls from several threads run one after another. Several programs may have the
/// file open; writers wait for one another up to 5 s.
#[derive(Debug)]
pub struct Store {
    connection: Mutex<Connection>,
    path: Option<PathBuf>,
    listener: Listener,
}

/// What is done when an event was appended to a sitting.
type Told = Box<dyn Fn(&Id) + Send + Sync>;

/// Who is told of appended events.
#[derive(Default)]
struct Listener(OnceLock<Told>);

impl std::fmt::Debug for Listener {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(if self.0.get().is_some() { "somebody listens" } else { "nobody listens" })
    }
}

impl Store {
    /// Open the store at `path`, or start an empty one there; older formats are brought up to date.
    ///
    /// # Errors
    /// [`StoreFault::Newer`] and [`StoreFault::NotOurs`], which leave the file as it is; [`StoreFault::ReadOnly`], [`StoreFault::Busy`],
    /// [`StoreFault::Corrupt`], [`StoreFault::Other`] (no such folder).
    pub fn open(path: impl AsRef<Path>) -> Result<Self, StoreFault> {
        let begun = Instant::now();
        loop {
            // To turn WAL on, SQLite needs the file alone and doesn't wait for it, so of programs that start at once one may be told busy.
            match Self::try_open(path.as_ref()) {
                Err(StoreFault::Busy) if begun.elapsed() < PATIENCE => std::thread::sleep(Duration::from_millis(20)),
                opened => return opened,
            }
        }
    }

    fn try_open(path: &Path) -> Result<Self, StoreFault> {
        let what = path.display().to_string();
        if path.is_dir() {
            return Err(StoreFault::NotOurs { what, why: "it is a folder.".into() });
        }
        // The smallest database has 512 bytes; SQLite takes some shorter files for empty ones and would write over them.
        if fs::metadata(path).is_ok_and(|file| (1..512).contains(&file.len())) {
            return Err(StoreFault::NotOurs { what, why: "it is too short for a database.".into() });
        }
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let connection = Connection::open_with_flags(path, flags)?;
        connection.busy_timeout(PATIENCE)?;
        // SQLite opens a write-protected file without a word; better told now than at the first look. And asked before the first read:
        // that would leave files beside it that are protected as well.
        if connection.is_readonly("main")? {
            return Err(StoreFault::ReadOnly);
        }
        refuse_others(&connection, path, &what)?;
        let journal: String = connection.pragma_update_and_check(None, "journal_mode", "WAL", |row| row.get(0))?;
        if journal != "wal" {
            return Err(StoreFault::Other { detail: format!("the folder's file system allows journal mode {journal} only, not WAL") });
        }
        Self::prepare(connection, Some(path))
    }

    /// An empty store in memory, gone when dropped. For a throwaway copy that shall behave as the real one, open a temporary file.
    ///
    /// # Errors
    /// [`StoreFault::Other`] if there is no memory.
    pub fn open_in_memory() -> Result<Self, StoreFault> {
        Self::prepare(Connection::open_in_memory()?, None)
    }

    fn prepare(mut connection: Connection, path: Option<&Path>) -> Result<Self, StoreFault> {
        connection.pragma_update(None, "synchronous", "FULL")?;
        // On macOS a plain fsync may leave data in the disc's own cache; elsewhere these two do nothing.
        connection.pragma_update(None, "fullfsync", true)?;
        connection.pragma_update(None, "checkpoint_fullfsync", true)?;
        connection.pragma_update(None, "foreign_keys", true)?;
        connection.pragma_update(None, "trusted_schema", false)?;
        connection.pragma_update(None, "cell_size_check", true)?;
        schema::migrate(&mut connection, &path.map_or_else(|| "memory".into(), |path| path.display().to_string()))?;
        Ok(Self { connection: Mutex::new(connection), path: path.map(Path::to_owned), listener: Listener::default() })
    }

    /// Be told of each sitting to which this program appends, after the event is on disc. What other programs append is not told.
    /// Only the first who asks is told; `told` must not wait.
    pub fn listen(&self, told: impl Fn(&Id) + Send + Sync + 'static) {
        // A second listener would be a mistake of the program, of no harm to the records.
        let _ = self.listener.0.set(Box::new(told));
    }

    pub(crate) fn tell(&self, sitting: &Id) {
        if let Some(told) = self.listener.0.get() {
            told(sitting);
        }
    }

    /// The file that the store is in; none: it is in memory.
    pub fn path(&self) -> Option<&Path> {
        self.path.as_deref()
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
        let part = beside(path, ".part");
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
        let before = self.contents()?;
        let mut copy = Connection::open(part)?;
        copy_pages(&self.lock(), &mut copy)?;
        // Out of WAL, so that the backup is one file; opening it as a store turns WAL on again.
        copy.pragma_update_and_check(None, "journal_mode", "DELETE", |row| row.get::<_, String>(0))?;
        check_integrity(&copy)?;
        // Nothing is ever deleted, so a whole copy holds what was here before it and at most what is here after it.
        let (read_back, after) = (Contents::of(&copy)?, self.contents()?);
        if !read_back.covers(&before) || !after.covers(&read_back) {
            return Err(StoreFault::corrupt(format!("the copy reads back as {read_back:?}, the store holds {before:?}")));
        }
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

/// Refuse files that aren't ours to write, before anything is written to them.
fn refuse_others(connection: &Connection, path: &Path, what: &str) -> Result<(), StoreFault> {
    // A program that was killed leaves its log beside the file. If that program is a newer one, the log is left to it: closing this
    // connection must not fold it into the file.
    let log_left = fs::metadata(beside(path, "-wal")).is_ok_and(|log| log.len() > 0);
    connection.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, log_left)?;
    // One transaction, or another program might lay out its tables between the reading of two marks.
    match connection.unchecked_transaction().and_then(|read| schema::marks(&read)) {
        Ok(marks) => schema::accept(&marks, what)?,
        Err(e) if e.sqlite_error_code() == Some(ErrorCode::NotADatabase) => {
            let why = "it is no SQLite database (or its beginning is damaged).".into();
            return Err(StoreFault::NotOurs { what: what.to_owned(), why });
        }
        // The file may be written, but its folder doesn't take the log beside it.
        Err(e) if e.sqlite_error_code() == Some(ErrorCode::CannotOpen) => return Err(StoreFault::ReadOnly),
        Err(e) => return Err(e.into()),
    };
    connection.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, false)?;
    Ok(())
}

/// Copy all pages of one database over another, in one step: no other program's write can make it start again, and whoever looks at the
/// target sees the one state or the other.
pub(crate) fn copy_pages(from: &Connection, to: &mut Connection) -> Result<(), StoreFault> {
    let begun = Instant::now();
    let copying = Backup::new(from, to)?;
    while copying.step(i32::MAX)? != StepResult::Done {
        if begun.elapsed() > PATIENCE {
            return Err(StoreFault::Busy);
        }
        std::thread::sleep(Duration::from_millis(20));
    }
    Ok(())
}

pub(crate) fn beside(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(ending);
    PathBuf::from(name)
}

pub(crate) fn check_integrity(connection: &Connection) -> Result<(), StoreFault> {
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
pub(crate) fn settle_folder_of(path: &Path) -> Result<(), StoreFault> {
    if cfg!(unix) {
        let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
        File::open(folder).and_then(|folder| folder.sync_all()).map_err(|e| of_the_disc(&e))?;
    }
    Ok(())
}

pub(crate) fn of_the_disc(error: &std::io::Error) -> StoreFault {
    match error.kind() {
        std::io::ErrorKind::StorageFull | std::io::ErrorKind::QuotaExceeded => StoreFault::Full,
        std::io::ErrorKind::PermissionDenied | std::io::ErrorKind::ReadOnlyFilesystem => StoreFault::ReadOnly,
        _ => StoreFault::Other { detail: error.to_string() },
    }
}

#[cfg(test)]
mod tests {
    //! Faults that need a hand on the connection to bring about.
    use super::*;
    use crate::{By, Machine};

    fn machine(note_length: usize) -> Machine {
        Machine { name: "No. 2".into(), speed_rpm: 2860.0, sheet_toml: String::new(), note: "x".repeat(note_length) }
    }

    fn file() -> (tempfile::TempDir, PathBuf) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("shop.db");
        (folder, path)
    }

    #[test]
    fn the_connection_is_set_to_lose_nothing() {
        let (_folder, path) = file();
        let store = Store::open(path).unwrap();
        let connection = store.lock();
        // https://sqlite.org/pragma.html: synchronous 2 is FULL.
        for (name, expected) in [("journal_mode", "wal"), ("synchronous", "2"), ("foreign_keys", "1"), ("busy_timeout", "5000")] {
            let got: rusqlite::types::Value = connection.pragma_query_value(None, name, |row| row.get(0)).unwrap();
            let got = match got {
                rusqlite::types::Value::Text(text) => text,
                rusqlite::types::Value::Integer(number) => number.to_string(),
                other => panic!("{other:?}"),
            };
            assert_eq!(got, expected, "{name}");
        }
    }

    #[test]
    fn a_full_disc_refuses_the_write_keeps_the_rest_and_takes_it_when_there_is_room() {
        let (_folder, path) = file();
        let store = Store::open(&path).unwrap();
        let limit = |pages: i64| {
            let _: i64 = store.lock().pragma_update_and_check(None, "max_page_count", pages, |row| row.get(0)).unwrap();
        };
        limit(60);
        let by = By::now("Ada");
        let mut stored = Vec::new();
        let fault = loop {
            match store.put(&machine(5000), &by) {
                Ok(machine) => stored.push(machine),
                Err(fault) => break fault,
            }
        };
        assert_eq!(fault, StoreFault::Full);
        assert!(!stored.is_empty());
        let all = || {
            let mut all = store.list::<Machine>().unwrap();
            all.sort_by(|a, b| a.id.cmp(&b.id));
            all
        };
        stored.sort_by(|a, b| a.id.cmp(&b.id));
        assert_eq!(all(), stored);
        store.verify().unwrap();
        limit(10_000);
        stored.push(store.put(&machine(5000), &by).unwrap());
        stored.sort_by(|a, b| a.id.cmp(&b.id));
        assert_eq!(all(), stored);
    }

    #[test]
    fn an_import_that_fills_the_disc_takes_in_nothing() {
        let source = Store::open_in_memory().unwrap();
        for _ in 0..100 {
            source.put(&machine(5000), &By::now("Ada")).unwrap();
        }
        let (_folder, path) = file();
        let store = Store::open(&path).unwrap();
        let _: i64 = store.lock().pragma_update_and_check(None, "max_page_count", 60, |row| row.get(0)).unwrap();
        assert_eq!(store.import(&source.export().unwrap()), Err(StoreFault::Full));
        assert!(store.list::<Machine>().unwrap().is_empty());
        store.verify().unwrap();
    }

    #[test]
    fn a_write_waits_for_another_program_and_then_says_busy() {
        let (_folder, path) = file();
        let store = Store::open(&path).unwrap();
        store.lock().busy_timeout(Duration::from_millis(50)).unwrap();
        let other = Connection::open(&path).unwrap();
        other.execute_batch("BEGIN IMMEDIATE").unwrap();
        assert_eq!(store.put(&machine(1), &By::now("Ada")).unwrap_err(), StoreFault::Busy);
        assert!(store.list::<Machine>().unwrap().is_empty(), "reading goes on meanwhile");
        other.execute_batch("ROLLBACK").unwrap();
        store.put(&machine(1), &By::now("Ada")).unwrap();
    }

    #[test]
    fn a_connection_that_may_not_write_says_read_only() {
        let (_folder, path) = file();
        let store = Store::open(&path).unwrap();
        store.lock().pragma_update(None, "query_only", true).unwrap();
        assert_eq!(store.put(&machine(1), &By::now("Ada")).unwrap_err(), StoreFault::ReadOnly);
    }
}
