//! The demo's season: every outcome that its remarks speak of is what the virtual bench really gave.

use std::sync::Arc;
use std::sync::atomic::AtomicBool;
use stillwheel::demo::{OPENED, play_season, records};
use stillwheel::sitting::{Bench, Sat};
use stillwheel_door::next_step::Action;
use stillwheel_store::{RingKind, Store};

fn season() -> Vec<Sat> {
    let bench = Bench::new(Arc::new(Store::open_in_memory().unwrap()));
    let mut fernhill = records(bench.store(), OPENED.parse().unwrap()).unwrap();
    play_season(&bench, &mut fernhill, &AtomicBool::new(false)).unwrap();
    let mut sittings = bench.store().sittings(None).unwrap();
    sittings.sort_by_key(|s| s.started_at);
    sittings.iter().map(|s| bench.sat(&s.id).unwrap()).collect()
}

#[test]
fn the_season_is_what_its_remarks_say() {
    let sats = season();
    for s in &sats {
        let v = s.verdict.as_ref().unwrap();
        let e = v.step.estimate.as_ref();
        eprintln!(
            "{} {:28} {:6} allow {:.2} {:?} looks {} drift {:?} {}",
            s.sitting.start.started_at,
            s.sitting.start.rotor.body.name,
            s.sitting.start.stand.body.name,
            s.sitting.start.allowance.g_mm,
            v.step.action,
            s.looks.len(),
            e.map(|e| e.drift_g_mm),
            v.step.say,
        );
    }
    let proven: Vec<bool> = sats.iter().map(|s| s.verdict.as_ref().unwrap().proven).collect();
    assert_eq!(proven.len(), 12);
}
