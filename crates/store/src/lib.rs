//! Stillwheel's records: rotors, machines, weight rings, stands and sittings, in one SQLite file.
//!
//! # Primer
//! A shop's record must survive a power cut, two phones that write at once, and a person who changes their mind. So nothing here is ever
//! changed or deleted; things are only added:
//!
//! - A **record** ([`Rotor`], [`Machine`], [`WeightRing`], [`Stand`]) is a row of *revisions*. To edit is to add a revision; to hide is to
//!   add one marked retired. All earlier revisions stay readable.
//! - A **sitting** is one balancing job on one rotor. Its [`SittingStart`] holds copies of everything it began with, so a later edit of
//!   the rotor doesn't rewrite history. What happens in it are *events* ([`Event`]): looks, moves, the verdict. Undo is an event too.
//!   [`Standing`] folds the events into what stands.
//! - Each write is one transaction, on disc (WAL, `synchronous=FULL`) before the call returns.
//!
//! Comes in: values with units in their names, who wrote them and when ([`By`]; the store has no clock of its own). Goes out: the same,
//! or a [`StoreFault`] that says what to do. No physics here: allowances, looks and verdicts are JSON that the store keeps but doesn't judge.
//!
//! Limits: damage to the file's structure is found ([`Store::verify`]), a single flipped digit inside a number is not: SQLite keeps no
//! checksums of what it stores.
//!
//! A [`Store`] is `Send + Sync`: one connection behind a mutex. Calls block on the disc; from async code use `spawn_blocking`.
//!
//! ```
//! use stillwheel_store::{By, Machine, Store};
//! let store = Store::open_in_memory()?;
//! let no_2 = store.put(&Machine { name: "No. 2".into(), speed_rpm: 2860.0, sheet_toml: String::new(), note: String::new() }, &By::now("Ada"))?;
//! let renamed = Machine { name: "No. 2, east wall".into(), ..no_2.body.clone() };
//! store.revise(&no_2.id, no_2.revision, &renamed, &By::now("Ada"))?;
//! assert_eq!(store.history::<Machine>(&no_2.id)?.len(), 2);
//! # Ok::<(), stillwheel_store::StoreFault>(())
//! ```

mod appending;
mod backups;
mod connection;
mod contents;
mod devices;
mod event;
mod fault;
mod id;
mod json;
mod records;
mod restoring;
mod revisions;
mod schema;
mod sittings;
mod standing;
mod transfer;

pub use backups::{BackupFile, Backups, Keep, Reason};
pub use connection::Store;
pub use contents::Contents;
pub use devices::{Device, Devices, Role};
pub use event::{Event, EventKind, NewEvent};
pub use fault::StoreFault;
pub use id::{By, Id};
pub use records::{
    Groove, GrooveWeight, Hole, Machine, Record, RecordKind, RingKind, Rotor, ScrewStock, Stand, StandKind, TappedHoles, WeightRing, Wheel,
};
pub use restoring::Restored;
pub use revisions::Stored;
pub use sittings::{Allowance, LastEvent, Sitting, SittingStart, SittingSummary, Snapshot};
pub use standing::Standing;
pub use transfer::{Export, ExportedRevision, ExportedSitting, Imported};
