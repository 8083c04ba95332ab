//! The keeper of backups: one at the start, then every few hours while the program serves.
//!
//! In: the bench's store and a folder. Out: files in the folder, and what to say of the last try. It never stops the program: a shop
//! with a full backup disc still balances.

use crate::sitting::Bench;
use jiff::Timestamp;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use stillwheel_store::{BackupFile, Backups, Keep, Reason, Restored, StoreFault};

/// Backups of the running program's store.
#[derive(Clone)]
pub(crate) struct Keeper {
    bench: Bench,
    backups: Option<Backups>,
    said: Arc<Mutex<Option<StoreFault>>>,
}

impl Keeper {
    /// In this folder, or the usual one beside the store's file; a store in memory has none.
    pub(crate) fn new(bench: Bench, backups: Option<Backups>) -> Self {
        let backups = bench.store().path().map(|path| backups.unwrap_or_else(|| Backups::beside(path)));
        Self { bench, backups, said: Arc::default() }
    }

    /// The folder.
    ///
    /// # Errors
    /// [`StoreFault::Invalid`] for a store in memory.
    pub(crate) fn backups(&self) -> Result<&Backups, StoreFault> {
        self.backups.as_ref().ok_or_else(|| StoreFault::Invalid {
            field: "backup".into(),
            value: "a store in memory".into(),
            allowed: "a store in a file".into(),
            why: "Nothing is kept beyond the end of this program.".into(),
        })
    }

    /// What went wrong with the last try, as long as none went well since.
    pub(crate) fn last_fault(&self) -> Option<StoreFault> {
        self.said.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    fn tell<T>(&self, outcome: Result<T, StoreFault>) -> Result<T, StoreFault> {
        *self.said.lock().unwrap_or_else(PoisonError::into_inner) = outcome.as_ref().err().cloned();
        outcome
    }

    /// One now, because a person asked.
    pub(crate) fn by_hand(&self) -> Result<BackupFile, StoreFault> {
        self.tell(self.backups()?.take(self.bench.store(), Reason::ByHand, Timestamp::now()))
    }

    /// Put the backup of this name in the place of the present records.
    pub(crate) fn restore(&self, name: &str) -> Result<Restored, StoreFault> {
        let backups = self.backups()?;
        let file = backups.named(name)?;
        self.tell(backups.restore(self.bench.store(), &file.path, Timestamp::now()))
    }

    fn automatic(&self) {
        let Some(backups) = &self.backups else { return };
        if let Err(fault) = self.tell(backups.take_if_changed(self.bench.store(), &Keep::default(), Timestamp::now())) {
            tracing::warn!("no backup was made: {fault}");
        }
    }

    /// Keep on until the program ends: now, and every so many hours. By a clock that no one can set, so a jump of the computer's
    /// time neither skips nor doubles a backup.
    pub(crate) async fn run(self, every: Duration) {
        let mut clock = tokio::time::interval(every);
        clock.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
        loop {
            clock.tick().await;
            let keeper = self.clone();
            // A panic in there is logged by its own hook; the next hour comes all the same.
            let _ = tokio::task::spawn_blocking(move || keeper.automatic()).await;
        }
    }
}
