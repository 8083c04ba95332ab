//! Sittings: events, undo and redo, two devices at once.

mod common;
use common::{at, by, new, open_shop, start};
use proptest::prelude::*;
use serde_json::json;
use std::collections::HashSet;
use stillwheel_store::EventKind::{Closed, Look, Move, Note, Reopened, Undo, Verdict};
use stillwheel_store::{Allowance, Event, EventKind, Id, LastEvent, NewEvent, Rotor, SittingStart, Standing, Store, StoreFault};

fn begun() -> (Store, Id) {
    let store = Store::open_in_memory().unwrap();
    let shop = open_shop(&store);
    let id = store.new_sitting(&start(&shop, 10)).unwrap().id;
    (store, id)
}

fn kinds(events: &[Event]) -> Vec<(u32, EventKind)> {
    events.iter().map(|event| (event.seq, event.kind)).collect()
}

#[test]
fn a_sitting_keeps_what_it_began_with_when_the_rotor_changes_later() {
    let store = Store::open_in_memory().unwrap();
    let shop = open_shop(&store);
    let begun = store.new_sitting(&start(&shop, 10)).unwrap();
    store.revise(&shop.rotor.id, 1, &Rotor { mass_kg: 2.1, ..shop.rotor.body.clone() }, &by("Bo", 20)).unwrap();
    let read = store.sitting(&begun.id).unwrap();
    assert_eq!(read, begun);
    assert_eq!((read.start.rotor.revision, read.start.rotor.body.mass_kg), (1, 2.35));
}

#[test]
fn a_start_that_does_not_hold_together_is_refused() {
    let store = Store::open_in_memory().unwrap();
    let shop = open_shop(&store);
    let good = start(&shop, 10);
    let mut other_mass = good.clone();
    other_mass.rotor.body.mass_kg = 2.0;
    let mut no_such_revision = good.clone();
    no_such_revision.stand.revision = 2;
    let mut deep = json!(0);
    for _ in 0..64 {
        deep = json!([deep]);
    }
    let rows = [
        ("rotor", other_mass),
        ("stand", no_such_revision),
        ("allowance.g_mm", SittingStart { allowance: Allowance { g_mm: 0.0, ..good.allowance.clone() }, ..good.clone() }),
        ("allowance.g_mm", SittingStart { allowance: Allowance { g_mm: f64::NAN, ..good.allowance.clone() }, ..good.clone() }),
        ("weights_at_start_deg", SittingStart { weights_at_start_deg: vec![0.0, 120.0], ..good.clone() }),
        ("weights_at_start_deg[1]", SittingStart { weights_at_start_deg: vec![0.0, f64::NAN, 240.0], ..good.clone() }),
        ("screws_at_start", SittingStart { screws_at_start: vec![None], ..good.clone() }),
        ("reader", SittingStart { reader: deep, ..good.clone() }),
    ];
    for (expected, start) in rows {
        let fault = store.new_sitting(&start).unwrap_err();
        assert!(matches!(&fault, StoreFault::Invalid { field, .. } if field == expected), "{expected}: {fault}");
    }
    assert!(store.sittings(None).unwrap().is_empty());
}

#[test]
fn the_same_token_again_returns_the_stored_event_and_adds_none() {
    let (store, id) = begun();
    let look = new("t1", 0, Look, json!({"settle_deg": 123.5}));
    let stored = store.append(&id, &look).unwrap();
    assert_eq!((stored.seq, &stored.body), (1, &look.body));
    // The answer got lost; meanwhile weights were moved; then the phone sends the look again, a minute later by its clock.
    store.append(&id, &new("t2", 1, Move, json!({}))).unwrap();
    assert_eq!(store.append(&id, &NewEvent { by: by("Ada", 160), ..look }).unwrap(), stored);
    assert_eq!(store.events(&id).unwrap().len(), 2);
}

#[test]
fn a_corrected_form_under_an_old_token_is_refused_and_not_swallowed() {
    let (store, id) = begun();
    store.append(&id, &new("t1", 0, Look, json!({"settle_deg": 123.5}))).unwrap();
    let fault = store.append(&id, &new("t1", 1, Look, json!({"settle_deg": 132.5}))).unwrap_err();
    assert!(matches!(&fault, StoreFault::Conflict { since, .. } if since.len() == 1), "{fault}");
}

/// The guard as a table: what came after the writer looked, what the writer sends, whether it is taken.
#[test]
fn what_came_in_between_decides_whether_an_event_is_taken() {
    let rows: [(&[EventKind], EventKind, bool); 22] = [
        (&[], Look, true),
        (&[Look], Look, true),
        (&[Note], Look, true),
        (&[Verdict], Look, true),
        (&[Move], Look, false),
        (&[Undo], Look, false),
        (&[Closed], Look, false),
        (&[Closed, Reopened], Look, false),
        (&[], Move, true),
        (&[Note, Note], Move, true),
        (&[Look], Move, false),
        (&[Move], Move, false),
        (&[Look], Undo, false),
        (&[Note], Undo, true),
        (&[Look], Verdict, false),
        (&[Note], Verdict, true),
        (&[Look], Closed, false),
        (&[Verdict], Closed, false),
        (&[Note], Closed, true),
        (&[Move], Note, true),
        (&[Closed], Note, true),
        (&[Closed, Reopened], Reopened, false),
    ];
    for (between, sent, taken) in rows {
        let (store, id) = begun();
        store.append(&id, &new("first", 0, Look, json!({}))).unwrap();
        let body = |kind| if kind == Undo { json!({"undoes": 1}) } else { json!({}) };
        for (i, &kind) in between.iter().enumerate() {
            let after_seq = store.standing(&id).unwrap().latest_seq;
            store.append(&id, &NewEvent { by: by("Bo", 50), ..new(&format!("b{i}"), after_seq, kind, body(kind)) }).unwrap();
        }
        let before = store.events(&id).unwrap();
        let result = store.append(&id, &new("sent", 1, sent, body(sent)));
        assert_eq!(result.is_ok(), taken, "{between:?} then {sent:?}: {result:?}");
        if let Err(fault) = result {
            assert!(matches!(&fault, StoreFault::Conflict { since, .. } if since.len() == between.len()), "{fault}");
            assert!(fault.to_string().contains("Bo") && fault.to_string().contains("Nothing was lost"), "{fault}");
            assert_eq!(store.events(&id).unwrap(), before);
        }
    }
}

#[test]
fn bad_events_are_refused_by_the_field() {
    let (store, id) = begun();
    store.append(&id, &new("t1", 0, Look, json!({}))).unwrap();
    let rows = [
        ("token", new("", 1, Look, json!({}))),
        ("token", new("a b", 1, Look, json!({}))),
        ("token", new(&"x".repeat(101), 1, Look, json!({}))),
        ("body", new("t2", 1, Look, json!([1]))),
        ("body", new("t2", 1, Look, json!({"log": "x".repeat(16 << 20)}))),
        ("after_seq", new("t2", 2, Look, json!({}))),
        ("body.undoes", new("t2", 1, Undo, json!({}))),
        ("body.undoes", new("t2", 1, Undo, json!({"undoes": 2}))),
        ("body.undoes", new("t2", 1, Undo, json!({"undoes": -1}))),
        ("body.undoes", new("t2", 1, Undo, json!({"undoes": 4294967297u64}))),
        ("who", NewEvent { by: by("a\nb", 0), ..new("t2", 1, Look, json!({})) }),
    ];
    for (expected, event) in rows {
        let fault = store.append(&id, &event).unwrap_err();
        assert!(matches!(&fault, StoreFault::Invalid { field, .. } if field == expected), "{expected}: {fault}");
    }
    assert_eq!(store.events(&id).unwrap().len(), 1);
    let nowhere = Id::fresh(at(0));
    assert!(matches!(store.append(&nowhere, &new("t", 0, Look, json!({}))), Err(StoreFault::NotFound { .. })));
    assert!(matches!(store.events(&nowhere), Err(StoreFault::NotFound { .. })));
}

#[test]
fn undo_takes_back_the_latest_step_and_redo_brings_it_back() {
    let (store, id) = begun();
    let mut seq = 0;
    let mut send = |kind, undoes: Option<u32>| {
        let body = undoes.map_or(json!({}), |undoes| json!({ "undoes": undoes }));
        seq = store.append(&id, &new(&format!("t{seq}"), seq, kind, body))?.seq;
        Ok::<_, StoreFault>(store.standing(&id).unwrap())
    };
    send(Look, None).unwrap(); // 1
    send(Move, None).unwrap(); // 2
    assert!(send(Undo, Some(1)).is_err(), "not the latest");
    let undone = send(Undo, Some(2)).unwrap(); // 3
    assert_eq!((kinds(&undone.live), undone.can_undo, undone.can_redo), (vec![(1, Look)], Some(1), Some(3)));
    let empty = send(Undo, Some(1)).unwrap(); // 4
    assert_eq!((empty.live.len(), empty.can_undo, empty.can_redo), (0, None, Some(4)));
    assert!(send(Undo, Some(3)).is_err(), "redo goes the latest first, too");
    send(Undo, Some(4)).unwrap(); // 5
    let redone = send(Undo, Some(3)).unwrap(); // 6
    assert_eq!((kinds(&redone.live), redone.can_undo, redone.can_redo), (vec![(1, Look), (2, Move)], Some(2), None));
    send(Undo, Some(2)).unwrap(); // 7
    let other_way = send(Look, None).unwrap(); // 8
    assert_eq!((kinds(&other_way.live), other_way.can_redo), (vec![(1, Look), (8, Look)], None), "a new look ends the redo");
    assert!(send(Undo, Some(7)).is_err());
    assert_eq!(store.events(&id).unwrap().len(), 8, "nothing is ever taken out");
}

#[test]
fn a_verdict_stands_until_something_is_looked_at_moved_or_undone() {
    let (store, id) = begun();
    store.append(&id, &new("1", 0, Look, json!({}))).unwrap();
    store.append(&id, &new("2", 1, Verdict, json!({"accepted": true}))).unwrap();
    store.append(&id, &new("3", 2, Note, json!({"text": "quiet"}))).unwrap();
    assert_eq!(store.standing(&id).unwrap().verdict.unwrap().seq, 2);
    assert_eq!(store.sittings(None).unwrap()[0].verdict, Some(json!({"accepted": true})));
    store.append(&id, &NewEvent::undo("4", 3, 1, by("Ada", 5))).unwrap();
    assert_eq!(store.standing(&id).unwrap().verdict, None);
    assert_eq!(store.sittings(None).unwrap()[0].verdict, None);
}

#[test]
fn a_closed_sitting_takes_notes_and_its_reopening_only() {
    let (store, id) = begun();
    store.append(&id, &new("1", 0, Look, json!({}))).unwrap();
    assert!(matches!(store.append(&id, &new("r", 1, Reopened, json!({}))), Err(StoreFault::Conflict { .. })), "it is open");
    store.append(&id, &new("2", 1, Closed, json!({}))).unwrap();
    let closed = store.standing(&id).unwrap();
    assert_eq!((closed.closed, closed.can_undo, closed.can_redo), (true, None, None));
    for kind in [Look, Move, Verdict, Closed] {
        let fault = store.append(&id, &new("3", 2, kind, json!({}))).unwrap_err();
        assert!(fault.to_string().contains("closed"), "{fault}");
    }
    assert!(store.append(&id, &NewEvent::undo("3", 2, 1, by("Ada", 5))).is_err());
    store.append(&id, &new("4", 2, Note, json!({}))).unwrap();
    store.append(&id, &new("5", 3, Reopened, json!({}))).unwrap();
    let open = store.standing(&id).unwrap();
    assert_eq!((open.closed, open.can_undo), (false, Some(1)));
    store.append(&id, &new("6", 4, Look, json!({}))).unwrap();
}

#[test]
fn the_list_tells_each_sitting_in_short_the_latest_first() {
    let store = Store::open_in_memory().unwrap();
    let shop = open_shop(&store);
    let second_rotor = store.put(&Rotor { name: "Wheel B".into(), ..shop.rotor.body.clone() }, &by("Ada", 4)).unwrap();
    let early = store.new_sitting(&start(&shop, 10)).unwrap().id;
    let late = store.new_sitting(&SittingStart { rotor: second_rotor.snapshot(), ..start(&shop, 20) }).unwrap().id;
    for (seq, kind) in [Look, Move, Look, Move].into_iter().enumerate() {
        store.append(&early, &new(&format!("{seq}"), seq as u32, kind, json!({}))).unwrap();
    }
    store.append(&early, &NewEvent::undo("u", 4, 4, by("Bo", 99))).unwrap();
    let list = store.sittings(None).unwrap();
    assert_eq!(list.iter().map(|s| &s.id).collect::<Vec<_>>(), [&late, &early]);
    let s = &list[1];
    assert_eq!((s.rotor_name.as_str(), s.stand_name.as_str(), s.machine_name.as_str()), ("Wheel A on adapter 1", "Birch", "No. 2"));
    assert_eq!((s.operator.as_str(), s.started_at, s.looks, s.moves, s.closed), ("Ada", at(10), 2, 1, false));
    assert_eq!(s.last_event, Some(LastEvent { seq: 5, at: at(99), kind: Undo }));
    let of_b = store.sittings(Some(&second_rotor.id)).unwrap();
    assert_eq!(of_b.iter().map(|s| &s.id).collect::<Vec<_>>(), [&late]);
    assert_eq!(of_b[0].last_event, None);
}

#[test]
fn two_devices_writing_at_once_lose_nothing_and_never_cross() {
    const EACH: usize = 60;
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shop.db");
    // One device through this program, one through another program on the same file.
    let here = Store::open(&path).unwrap();
    let there = Store::open(&path).unwrap();
    let shop = open_shop(&here);
    let id = here.new_sitting(&start(&shop, 10)).unwrap().id;
    let device = |store: &Store, who: &str| {
        let mut acknowledged = Vec::new();
        let mut conflicts = 0;
        while acknowledged.len() < EACH {
            // Every third event is a move; each round sends what it would have sent from the state it has just seen.
            let kind = if acknowledged.len() % 3 == 2 { Move } else { Look };
            let seen = store.standing(&id).unwrap().latest_seq;
            let event = NewEvent { by: by(who, 0), ..new(&format!("{who}{}", acknowledged.len()), seen, kind, json!({"seen": seen})) };
            match store.append(&id, &event) {
                Ok(stored) => acknowledged.push(stored),
                Err(StoreFault::Conflict { .. }) => conflicts += 1,
                Err(other) => panic!("{other}"),
            }
        }
        (acknowledged, conflicts)
    };
    let (a, b, c) = std::thread::scope(|scope| {
        let a = scope.spawn(|| device(&here, "a"));
        let b = scope.spawn(|| device(&there, "b"));
        let c = scope.spawn(|| device(&here, "c"));
        (a.join().unwrap(), b.join().unwrap(), c.join().unwrap())
    });
    let events = here.events(&id).unwrap();
    assert_eq!(events.len(), 3 * EACH);
    assert!((1..).zip(&events).all(|(seq, event)| event.seq == seq));
    for stored in a.0.iter().chain(&b.0).chain(&c.0) {
        assert_eq!(&events[stored.seq as usize - 1], stored);
    }
    // The guard's promise, from the events alone: no move between what a look had seen and the look; nothing between for a move.
    for event in &events {
        let seen = event.body["seen"].as_u64().unwrap() as usize;
        let between = &events[seen..event.seq as usize - 1];
        match event.kind {
            Look => assert!(between.iter().all(|e| e.kind == Look), "{event:?}"),
            _ => assert!(between.is_empty(), "{event:?}"),
        }
    }
    here.verify().unwrap();
}

/// The definition of undo, written another way round: from the last event back, an undo that stands strikes out what it names.
fn live_by_striking_out(events: &[Event]) -> Vec<Event> {
    let mut struck = HashSet::new();
    for event in events.iter().rev().filter(|event| event.kind == Undo) {
        if !struck.contains(&event.seq) {
            struck.insert(event.body["undoes"].as_u64().unwrap() as u32);
        }
    }
    events.iter().filter(|event| event.kind != Undo && !struck.contains(&event.seq)).cloned().collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]
    #[test]
    fn any_acts_in_any_order_only_add_and_live_is_what_undos_leave(
        acts in prop::collection::vec((0..7usize, 0..3u32, 0..12u32, 0..40u32), 1..60)
    ) {
        let (store, id) = begun();
        let mut before: Vec<Event> = Vec::new();
        for (kind, behind, undoes, token) in acts {
            let kind = [Look, Move, Undo, Verdict, Note, Closed, Reopened][kind];
            let standing = Standing::of(&before);
            // Undos half at random, half at what is offered; else most would be refused.
            let target = match undoes { 0..6 => undoes + 1, 6..9 => standing.can_undo.unwrap_or(99), _ => standing.can_redo.unwrap_or(99) };
            let body = if kind == Undo { json!({ "undoes": target }) } else { json!({ "n": undoes }) };
            let latest = standing.latest_seq;
            let event = new(&format!("t{token}"), latest.saturating_sub(behind), kind, body);
            let result = store.append(&id, &event);
            let after = store.events(&id).unwrap();
            match result {
                Ok(stored) if stored.seq <= latest => {
                    prop_assert_eq!(&after, &before);
                    prop_assert!(before.contains(&stored) && stored.token == event.token);
                }
                Ok(stored) => {
                    prop_assert_eq!(stored.seq, latest + 1);
                    prop_assert_eq!(&after[..before.len()], &before[..]);
                    prop_assert_eq!(&after[before.len()..], &[stored][..]);
                }
                Err(fault) => {
                    prop_assert!(matches!(fault, StoreFault::Conflict { .. } | StoreFault::Invalid { .. }), "{}", fault);
                    prop_assert_eq!(&after, &before);
                    // What the standing offers must be taken by a writer who is up to date with a new token.
                    let fresh = before.iter().all(|e| e.token != event.token);
                    let offered = kind == Undo && (standing.can_undo == Some(target) || standing.can_redo == Some(target));
                    prop_assert!(!(fresh && behind == 0 && offered));
                    prop_assert!(!(fresh && behind == 0 && !standing.closed && matches!(kind, Look | Move | Verdict | Closed)));
                    prop_assert!(!(fresh && kind == Note));
                }
            }
            prop_assert_eq!(store.live_events(&id).unwrap(), live_by_striking_out(&after));
            before = after;
        }
    }
}
