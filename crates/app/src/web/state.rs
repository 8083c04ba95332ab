//! What all handlers share.

use super::error::WebError;
use super::gate::Gate;
use super::keeper::Keeper;
use super::listen::Limits;
use super::person::random_64;
use super::rate::Rates;
use super::searches::Searches;
use crate::sitting::Bench;
use std::sync::Arc;
use stillwheel_store::{Backups, Devices, Id, StoreFault};
use tokio::sync::{OwnedSemaphorePermit, Semaphore, broadcast};

/// Sittings to tell of that a slow listener may fall behind by; further behind, it looks by itself.
const STORED_KEPT: usize = 64;
/// Connections held open for what others store: each page of a sitting holds one.
const MOST_STREAMS: usize = 128;

/// The running program as the handlers see it.
#[derive(Clone)]
pub struct App(Arc<Inner>);

struct Inner {
    bench: Bench,
    keeper: Keeper,
    gate: Option<Gate>,
    limits: Limits,
    rates: Rates,
    stored: broadcast::Sender<Id>,
    streams: Arc<Semaphore>,
    demo: bool,
    pairing_turn: tokio::sync::Mutex<()>,
    searches: Searches,
}

impl App {
    /// On this bench; with a pairing code when the shop's network may come in; `demo`: a throwaway copy.
    pub fn new(bench: Bench, pairing_code: Option<String>, demo: bool) -> Self {
        let gate = pairing_code.map(|code| {
            let devices = Devices::open_in_memory().expect("a table in memory");
            Gate::new(code, format!("{:08}", random_64() % 100_000_000), devices)
        });
        let (stored, _) = broadcast::channel(STORED_KEPT);
        let told = stored.clone();
        // With nobody listening there is nobody to tell.
        bench.store().listen(move |sitting| drop(told.send(sitting.clone())));
        Self(Arc::new(Inner {
            keeper: Keeper::new(bench.clone(), None),
            bench,
            gate,
            limits: Limits::default(),
            rates: Rates::default(),
            stored,
            streams: Arc::new(Semaphore::new(MOST_STREAMS)),
            demo,
            pairing_turn: tokio::sync::Mutex::default(),
            searches: Searches::default(),
        }))
    }

    /// The same with this gate to the network; before it is shared out.
    #[must_use]
    pub fn with_gate(mut self, gate: Gate) -> Self {
        if let Some(inner) = Arc::get_mut(&mut self.0) {
            inner.gate = Some(gate);
        }
        self
    }

    /// The same with these limits; before it is shared out.
    #[must_use]
    pub fn with_limits(mut self, limits: Limits) -> Self {
        if let Some(inner) = Arc::get_mut(&mut self.0) {
            inner.limits = limits;
        }
        self
    }

    /// How long a peer may take.
    pub(crate) fn limits(&self) -> Limits {
        self.0.limits
    }

    /// How many requests each address may send.
    pub(crate) fn rates(&self) -> &Rates {
        &self.0.rates
    }

    /// The sittings to which this program appends, from now on.
    pub(crate) fn stored(&self) -> broadcast::Receiver<Id> {
        self.0.stored.subscribe()
    }

    /// Leave to hold one more connection open for what others store; none: there are too many.
    pub(crate) fn one_more_stream(&self) -> Option<OwnedSemaphorePermit> {
        self.0.streams.clone().try_acquire_owned().ok()
    }

    /// The gate to the shop's network, where it may come in.
    pub(crate) fn gate(&self) -> Option<&Gate> {
        self.0.gate.as_ref()
    }

    /// The same with its backups in another folder than beside the records; before it is shared out.
    #[must_use]
    pub fn with_backups(mut self, backups: Option<Backups>) -> Self {
        if let Some(inner) = Arc::get_mut(&mut self.0) {
            inner.keeper = Keeper::new(inner.bench.clone(), backups);
        }
        self
    }

    /// The keeper of the backups.
    pub(crate) fn the_keeper(&self) -> &Keeper {
        &self.0.keeper
    }

    /// Work with the backups away from the threads that answer requests.
    ///
    /// # Errors
    /// As [`App::bench`].
    pub(crate) async fn keeper<T: Send + 'static>(
        &self,
        work: impl FnOnce(&Keeper) -> Result<T, StoreFault> + Send + 'static,
    ) -> Result<T, WebError> {
        let keeper = self.0.keeper.clone();
        tokio::task::spawn_blocking(move || work(&keeper)).await.map_err(|e| WebError::Broken(e.into()))?.map_err(Into::into)
    }

    /// One pairing try at a time, over all connections.
    pub(crate) async fn pairing_turn(&self) -> tokio::sync::MutexGuard<'_, ()> {
        self.0.pairing_turn.lock().await
    }

    /// The design searches of this run.
    pub(crate) fn searches(&self) -> &Searches {
        &self.0.searches
    }

    /// Whether this is the throwaway demo.
    pub fn is_demo(&self) -> bool {
        self.0.demo
    }

    /// Work with the bench away from the threads that answer requests: it waits for the disc.
    ///
    /// # Errors
    /// Whatever the work returns; [`WebError::Broken`] if it panicked.
    pub(crate) async fn bench<T: Send + 'static, E: Into<WebError> + Send + 'static>(
        &self,
        work: impl FnOnce(&Bench) -> Result<T, E> + Send + 'static,
    ) -> Result<T, WebError> {
        let bench = self.0.bench.clone();
        tokio::task::spawn_blocking(move || work(&bench)).await.map_err(|e| WebError::Broken(e.into()))?.map_err(Into::into)
    }
}
