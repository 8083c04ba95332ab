//! What all handlers share.

use super::error::WebError;
use super::searches::Searches;
use crate::sitting::Bench;
use std::sync::Arc;

/// The running program as the handlers see it.
#[derive(Clone)]
pub struct App(Arc<Inner>);

struct Inner {
    bench: Bench,
    pairing_code: Option<String>,
    demo: bool,
    pairing_turn: tokio::sync::Mutex<()>,
    searches: Searches,
}

impl App {
    /// On this bench; with a pairing code when the shop's network may come in; `demo`: a throwaway copy.
    pub fn new(bench: Bench, pairing_code: Option<String>, demo: bool) -> Self {
        Self(Arc::new(Inner { bench, pairing_code, demo, pairing_turn: tokio::sync::Mutex::default(), searches: Searches::default() }))
    }

    /// The code that a device must give once.
    pub fn pairing_code(&self) -> Option<&str> {
        self.0.pairing_code.as_deref()
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
