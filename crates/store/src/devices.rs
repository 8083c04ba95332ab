//! The devices that were let in from the shop's network: named, with a role, each to be shut out again.
//!
//! Kept in a small file of its own beside the records: a restored backup must not let in again whom somebody has shut out, and an
//! export must carry no keys. Only digests of keys are kept.

use crate::connection::beside;
use crate::{By, Id, StoreFault, json};
use jiff::Timestamp;
use rusqlite::{Connection, OptionalExtension, params};
use serde::Serialize;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// What a device may do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Role {
    /// Look and write.
    Write,
    /// Only look.
    Look,
}

impl Role {
    fn as_str(self) -> &'static str {
        match self {
            Self::Write => "write",
            Self::Look => "look",
        }
    }
}

/// A device that was paired.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Device {
    /// Its id.
    pub id: Id,
    /// What its owner calls it (1 to 100 characters).
    pub name: String,
    /// What it may do.
    pub role: Role,
    /// When it was paired.
    pub paired_at: Timestamp,
    /// When it was shut out, and by whom; none: it may come in.
    pub revoked: Option<(Timestamp, String)>,
}

/// The list of devices: one SQLite file, shared by several programs.
#[derive(Debug)]
pub struct Devices {
    connection: Mutex<Connection>,
}

const TABLE: &str = "CREATE TABLE IF NOT EXISTS devices (
    id TEXT NOT NULL PRIMARY KEY,
    name TEXT NOT NULL,
    role TEXT NOT NULL CHECK (role IN ('write', 'look')),
    digest TEXT NOT NULL UNIQUE,
    paired_at TEXT NOT NULL,
    revoked_at TEXT,
    revoked_by TEXT
) STRICT;";

const COLUMNS: &str = "SELECT id, name, role, paired_at, revoked_at, revoked_by FROM devices";

impl Devices {
    /// The usual file for a store: `records.db` has `records.db.devices`.
    pub fn beside(store: &Path) -> PathBuf {
        beside(store, ".devices")
    }

    /// Open the list, or start an empty one.
    ///
    /// # Errors
    /// Any fault of the disc.
    pub fn open(path: &Path) -> Result<Self, StoreFault> {
        Self::prepare(Connection::open(path)?)
    }

    /// A list that is gone with the program.
    ///
    /// # Errors
    /// [`StoreFault::Other`] if there is no memory.
    pub fn open_in_memory() -> Result<Self, StoreFault> {
        Self::prepare(Connection::open_in_memory()?)
    }

    fn prepare(connection: Connection) -> Result<Self, StoreFault> {
        connection.busy_timeout(Duration::from_secs(5))?;
        connection.pragma_update(None, "synchronous", "FULL")?;
        connection.execute_batch(TABLE)?;
        Ok(Self { connection: Mutex::new(connection) })
    }

    fn lock(&self) -> MutexGuard<'_, Connection> {
        self.connection.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Let a device in; `digest` is a digest of its secret key as the program makes it (16 to 200 visible ASCII characters).
    ///
    /// # Errors
    /// [`StoreFault::Invalid`] for a name or digest out of range; any fault of the disc.
    pub fn pair(&self, name: &str, role: Role, digest: &str, at: Timestamp) -> Result<Device, StoreFault> {
        let name = name.trim();
        json::check_line("name", name, 1, 100)?;
        if !(16..=200).contains(&digest.len()) || !digest.bytes().all(|b| b.is_ascii_graphic()) {
            return Err(StoreFault::invalid("digest", "another text", "16 to 200 visible ASCII characters", "It is the program's own."));
        }
        let device = Device { id: Id::fresh(at), name: name.to_owned(), role, paired_at: at, revoked: None };
        self.lock().execute(
            "INSERT INTO devices (id, name, role, digest, paired_at) VALUES (?1, ?2, ?3, ?4, ?5)",
            params![device.id.as_str(), device.name, role.as_str(), digest, at.to_string()],
        )?;
        Ok(device)
    }

    /// The device with this key's digest, unless it was shut out.
    ///
    /// # Errors
    /// Any fault of the disc.
    pub fn known(&self, digest: &str) -> Result<Option<Device>, StoreFault> {
        let connection = self.lock();
        let mut statement = connection.prepare_cached(&format!("{COLUMNS} WHERE digest = ?1 AND revoked_at IS NULL"))?;
        statement.query_row([digest], |row| Ok(read(row))).optional()?.transpose()
    }

    /// All devices, those shut out too, latest paired first.
    ///
    /// # Errors
    /// Any fault of the disc.
    pub fn list(&self) -> Result<Vec<Device>, StoreFault> {
        let connection = self.lock();
        let mut statement = connection.prepare_cached(&format!("{COLUMNS} ORDER BY rowid DESC"))?;
        let mut rows = statement.query([])?;
        let mut found = Vec::new();
        while let Some(row) = rows.next()? {
            found.push(read(row)?);
        }
        Ok(found)
    }

    /// Shut a device out, from its next request on. Shut out already: nothing changes.
    ///
    /// # Errors
    /// [`StoreFault::NotFound`]; any fault of the disc.
    pub fn revoke(&self, id: &Id, by: &By) -> Result<Device, StoreFault> {
        by.check()?;
        let connection = self.lock();
        connection.execute(
            "UPDATE devices SET revoked_at = ?2, revoked_by = ?3 WHERE id = ?1 AND revoked_at IS NULL",
            params![id.as_str(), by.at.to_string(), by.who],
        )?;
        let device = connection.query_row(&format!("{COLUMNS} WHERE id = ?1"), [id.as_str()], |row| Ok(read(row))).optional()?;
        device.unwrap_or_else(|| Err(StoreFault::NotFound { what: "device".into(), id: id.clone() }))
    }
}

fn read(row: &rusqlite::Row<'_>) -> Result<Device, StoreFault> {
    let id = json::read_id(row.get_ref(0)?)?;
    let what = || format!("device {id}");
    let role: String = row.get(2)?;
    let role = [Role::Write, Role::Look].into_iter().find(|known| known.as_str() == role);
    let role = role.ok_or_else(|| StoreFault::corrupt(format!("{} has an unknown role", what())))?;
    let revoked = match row.get_ref(4)? {
        rusqlite::types::ValueRef::Null => None,
        at => Some((json::read_time(at, what)?, row.get::<_, Option<String>>(5)?.unwrap_or_default())),
    };
    Ok(Device { name: row.get(1)?, role, paired_at: json::read_time(row.get_ref(3)?, what)?, revoked, id })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_device_is_known_by_its_key_until_it_is_shut_out_also_by_another_program() {
        let folder = tempfile::tempdir().unwrap();
        let path = Devices::beside(&folder.path().join("shop.db"));
        let (server, command) = (Devices::open(&path).unwrap(), Devices::open(&path).unwrap());
        let at = Timestamp::from_second(1_760_000_000).unwrap();
        let phone = server.pair("  Ada's phone ", Role::Write, "digest-of-the-phone", at).unwrap();
        let tablet = server.pair("Wall tablet", Role::Look, "digest-of-the-tablet", at).unwrap();
        assert_eq!(phone.name, "Ada's phone");
        assert_eq!(server.known("digest-of-the-phone").unwrap(), Some(phone.clone()));
        assert_eq!(server.known("digest-of-the-tablet").unwrap().unwrap().role, Role::Look);
        for wrong in ["", "digest-of-the-phon", "DIGEST-OF-THE-PHONE", "' OR 1 = 1 --"] {
            assert_eq!(server.known(wrong).unwrap(), None, "{wrong}");
        }
        let by = By { who: "Bo".into(), at };
        assert_eq!(command.revoke(&phone.id, &by).unwrap().revoked, Some((at, "Bo".into())));
        assert_eq!(server.known("digest-of-the-phone").unwrap(), None);
        assert_eq!(server.known("digest-of-the-tablet").unwrap(), Some(tablet.clone()));
        let later = By { who: "Cy".into(), at: Timestamp::now() };
        assert_eq!(server.revoke(&phone.id, &later).unwrap().revoked, Some((at, "Bo".into())), "the first time stands");
        assert_eq!(server.list().unwrap().iter().map(|d| &d.id).collect::<Vec<_>>(), [&tablet.id, &phone.id]);
        assert!(matches!(server.revoke(&Id::fresh(at), &by), Err(StoreFault::NotFound { .. })));
        for (name, digest) in [("", "digest-of-another"), ("x", "short"), ("x\ny", "digest-of-another")] {
            assert!(matches!(server.pair(name, Role::Write, digest, at), Err(StoreFault::Invalid { .. })), "{name:?}");
        }
    }
}
