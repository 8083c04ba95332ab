//! How many requests one address of the network may send: enough for sliders that answer while they move, not for guessing or flooding.

use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

/// Requests that may come at once: a page with all its files many times over.
const BURST: f64 = 240.0;
/// Requests a second in the long run.
const A_SECOND: f64 = 40.0;
/// Addresses that are remembered; a shop has some tens.
const MOST: usize = 2048;

#[derive(Clone, Copy)]
struct Bucket {
    left: f64,
    at: Instant,
}

impl Bucket {
    fn now(self, now: Instant) -> f64 {
        (self.left + A_SECOND * now.saturating_duration_since(self.at).as_secs_f64()).min(BURST)
    }
}

/// What each address has left.
#[derive(Default)]
pub(crate) struct Rates(Mutex<HashMap<IpAddr, Bucket>>);

impl Rates {
    /// Whether one more request from there may be answered now.
    pub(crate) fn admit(&self, from: IpAddr, now: Instant) -> bool {
        let mut buckets = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if buckets.len() >= MOST && !buckets.contains_key(&from) {
            // A full one has nothing to remember.
            buckets.retain(|_, bucket| bucket.now(now) < BURST);
            if buckets.len() >= MOST {
                return false;
            }
        }
        let bucket = buckets.entry(from).or_insert(Bucket { left: BURST, at: now });
        let left = bucket.now(now);
        let admitted = left >= 1.0;
        *bucket = Bucket { left: if admitted { left - 1.0 } else { left }, at: now };
        admitted
    }
}

/// When a refused one may come again.
pub(crate) const AGAIN: Duration = Duration::from_secs(1);

#[cfg(test)]
mod tests {
    use super::*;

    fn address(n: u32) -> IpAddr {
        std::net::Ipv4Addr::from(0x0a00_0000 + n).into()
    }

    #[test]
    fn a_burst_passes_then_forty_a_second_and_others_are_not_held_up() {
        let (rates, begin) = (Rates::default(), Instant::now());
        let admitted = |from, at: Instant, tries: u32| (0..tries).filter(|_| rates.admit(from, at)).count();
        assert_eq!(admitted(address(1), begin, 1000), 240);
        assert_eq!(admitted(address(2), begin, 10), 10);
        assert_eq!(admitted(address(1), begin + Duration::from_millis(500), 1000), 20);
        assert_eq!(admitted(address(1), begin + Duration::from_hours(1), 1000), 240, "no more than a burst is saved up");
    }

    #[test]
    fn a_flood_of_addresses_fills_no_memory_and_ends() {
        let (rates, begin) = (Rates::default(), Instant::now());
        let admitted = (0..10_000).filter(|n| rates.admit(address(*n), begin)).count();
        assert_eq!(admitted, MOST);
        assert!(rates.admit(address(20_000), begin + Duration::from_secs(1)), "a second later there is room again");
    }
}
