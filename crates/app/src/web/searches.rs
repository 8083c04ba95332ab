//! Design searches that run while pages come and go: begun by one request, watched by others.
//!
//! In: a search's input. Out: a [`Job`] that tells how far it is, and in the end what it found. A job lives as long as the program; what a
//! person takes from it is stored, the search itself is not.

use super::person::token;
use std::collections::HashMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::sync::{Arc, Mutex, OnceLock, PoisonError};
use std::time::{Duration, Instant};
use stillwheel_door::Fault;
use stillwheel_door::search_saddle::{SearchSaddleIn, SearchSaddleOut, search_saddle_watched};
use stillwheel_store::Id;

/// Searches at a time: each takes all cores, and the bench must go on beside them.
const AT_A_TIME: usize = 2;
/// Ended searches that are remembered.
const REMEMBERED: usize = 20;
/// Parts of the whole in which the share done is counted.
const WHOLE: f64 = 1000.0;

/// What a search begins from.
#[derive(Clone, Debug)]
pub(crate) struct Begin {
    /// The stand.
    pub(crate) stand: Id,
    /// Its revision: a design is taken into this one only.
    pub(crate) revision: u32,
    /// Its sheet as text, with a person's remarks.
    pub(crate) sheet_toml: String,
    /// What was typed, to begin another from.
    pub(crate) typed: HashMap<String, String>,
    /// The input for the door.
    pub(crate) input: SearchSaddleIn,
}

/// How a search ended.
#[derive(Clone, Debug)]
pub(crate) enum Ended {
    /// With designs.
    Found(Box<SearchSaddleOut>),
    /// With the demand to relax.
    Nothing(Fault),
    /// By a person.
    Stopped,
    /// By a fault of the program itself.
    Broke,
}

/// One search.
pub(crate) struct Job {
    /// Its name in addresses.
    pub(crate) id: String,
    /// What it began from.
    pub(crate) begin: Begin,
    since: Instant,
    done: AtomicU32,
    stop: AtomicBool,
    ended: OnceLock<(Duration, Ended)>,
}

impl Job {
    /// Share done, 0 to 1.
    pub(crate) fn share(&self) -> f64 {
        f64::from(self.done.load(Ordering::Relaxed)) / WHOLE
    }

    /// Time since it began; how long it took once it has ended.
    pub(crate) fn time(&self) -> Duration {
        self.ended.get().map_or_else(|| self.since.elapsed(), |e| e.0)
    }

    /// How it ended; none while it runs.
    pub(crate) fn ended(&self) -> Option<&Ended> {
        self.ended.get().map(|e| &e.1)
    }

    /// Ask it to stop; the designs in hand are finished, which takes some tens of milliseconds.
    pub(crate) fn stop(&self) {
        self.stop.store(true, Ordering::Relaxed);
    }

    /// Whether it was asked to stop and has not ended yet.
    pub(crate) fn is_stopping(&self) -> bool {
        self.ended().is_none() && self.stop.load(Ordering::Relaxed)
    }

    fn run(&self) {
        let watched = |share: f64| {
            self.done.fetch_max((share * WHOLE) as u32, Ordering::Relaxed);
            !self.stop.load(Ordering::Relaxed)
        };
        // Threads of its own: the pages' own calculations must not queue behind hundreds of designs.
        let search = || match rayon::ThreadPoolBuilder::new().build() {
            Ok(pool) => pool.install(|| search_saddle_watched(&self.begin.input, &watched)),
            Err(_) => search_saddle_watched(&self.begin.input, &watched),
        };
        let ended = match catch_unwind(AssertUnwindSafe(search)) {
            Ok(Ok(Some(out))) => Ended::Found(Box::new(out)),
            Ok(Ok(None)) => Ended::Stopped,
            Ok(Err(fault)) => Ended::Nothing(fault),
            Err(_) => Ended::Broke,
        };
        let _ = self.ended.set((self.since.elapsed(), ended));
    }
}

/// All searches of this run of the program, the newest last.
#[derive(Default)]
pub(crate) struct Searches(Mutex<Vec<Arc<Job>>>);

impl Searches {
    /// Begin a search.
    ///
    /// # Errors
    /// A [`Fault`] when as many run already as may, or no thread could be had.
    pub(crate) fn begin(&self, begin: Begin) -> Result<Arc<Job>, Fault> {
        let mut jobs = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let running = jobs.iter().filter(|j| j.ended().is_none()).count();
        if running >= AT_A_TIME {
            let why = format!("{running} searches run already, and each takes all of the computer: wait for one to end, or stop it.");
            return Err(Fault::new("", "", "", why));
        }
        let job = Arc::new(Job {
            id: token(),
            begin,
            since: Instant::now(),
            done: AtomicU32::new(0),
            stop: AtomicBool::new(false),
            ended: OnceLock::new(),
        });
        let worker = Arc::clone(&job);
        // No task of the server's runtime: ending the program must not wait for it.
        std::thread::Builder::new()
            .name("search-saddle".to_owned())
            .spawn(move || worker.run())
            .map_err(|e| Fault::new("", "", "", format!("The search could not be begun: {e}")))?;
        jobs.push(Arc::clone(&job));
        while jobs.iter().filter(|j| j.ended().is_some()).count() > REMEMBERED {
            let Some(oldest) = jobs.iter().position(|j| j.ended().is_some()) else { break };
            jobs.remove(oldest);
        }
        Ok(job)
    }

    /// A stand's search by its name.
    pub(crate) fn get(&self, stand: &Id, id: &str) -> Option<Arc<Job>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).iter().find(|j| j.id == id && j.begin.stand == *stand).cloned()
    }

    /// A stand's searches, the newest first.
    pub(crate) fn of(&self, stand: &Id) -> Vec<Arc<Job>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).iter().rev().filter(|j| j.begin.stand == *stand).cloned().collect()
    }
}
