//! Backups on real files: made, thinned out, restored; over a damaged store, over a torn restore, from an earlier format.

mod common;
use common::{at, by, new, open_shop, start};
use rusqlite::Connection;
use serde_json::json;
use std::fs;
use std::path::Path;
use stillwheel_store::{Backups, Event, EventKind, Id, Keep, Machine, Reason, Rotor, Store, StoreFault};

/// A store with one sitting of so many looks.
fn sat(path: &Path, looks: u32) -> (Store, Id) {
    let store = Store::open(path).unwrap();
    let id = store.new_sitting(&start(&open_shop(&store), 1)).unwrap().id;
    look_on(&store, &id, 0, looks);
    (store, id)
}

fn look_on(store: &Store, id: &Id, from: u32, to: u32) {
    for seq in from..to {
        store.append(id, &new(&format!("t{seq}"), seq, EventKind::Look, json!({"log": vec![f64::from(seq); 150]}))).unwrap();
    }
}

fn names_in(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder).unwrap().map(|f| f.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

/// Overwrite every page but the first four; the store must be closed.
fn damage(path: &Path) {
    let mut bytes = fs::read(path).unwrap();
    bytes[4 * 4096..].fill(0xa5);
    fs::write(path, bytes).unwrap();
}

#[test]
fn an_automatic_backup_is_made_once_for_each_state_and_reads_back() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shop.db");
    let (store, id) = sat(&path, 3);
    let backups = Backups::beside(&path);
    assert_eq!(backups.list().unwrap(), []);
    let first = backups.take_if_changed(&store, &Keep::default(), at(0)).unwrap().expect("the first is always made");
    assert_eq!(first.name(), "000001_2025-10-09T08-53-20Z_automatic.db");
    assert_eq!(backups.take_if_changed(&store, &Keep::default(), at(3600)).unwrap(), None, "nothing was written since");
    look_on(&store, &id, 3, 4);
    let second = backups.take_if_changed(&store, &Keep::default(), at(7200)).unwrap().expect("a look was taken since");
    assert_eq!(backups.list().unwrap(), [second.clone(), first.clone()]);
    for (file, looks) in [(&first, 3), (&second, 4)] {
        let copy = Store::open(&file.path).unwrap();
        copy.verify().unwrap();
        assert_eq!(copy.events(&id).unwrap(), store.events(&id).unwrap()[..looks]);
    }
}

#[test]
fn a_season_of_backups_leaves_the_newest_the_last_of_each_day_and_of_each_week() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shop.db");
    let (store, id) = sat(&path, 0);
    let backups = Backups::beside(&path);
    // Twice a day for ten weeks, each after a remark: from Thursday 9 October 2025 to Wednesday 17 December, 20:53.
    for n in 0..140 {
        store.append(&id, &new(&format!("t{n}"), n, EventKind::Note, json!({}))).unwrap();
        backups.take_if_changed(&store, &Keep::default(), at(i64::from(n) * 43_200)).unwrap().unwrap();
        if n == 12 {
            backups.take(&store, Reason::ByHand, at(520_000)).unwrap();
        }
    }
    let left = backups.list().unwrap();
    let automatic: Vec<&stillwheel_store::BackupFile> = left.iter().filter(|file| file.reason == Reason::Automatic).collect();
    // By a calendar: the evenings of 11 to 17 December, the morning of the 17th (third newest: the 16th's evening), and the Sundays of the
    // six weeks before the one that ends on 14 December.
    assert_eq!(automatic.len(), 7 + 1 + 6, "{automatic:?}");
    assert_eq!(automatic.last().unwrap().name().split('_').nth(1), Some("2025-11-02T20-53-20Z"));
    assert_eq!(left.len() - automatic.len(), 1, "what was made by hand stays");
}

#[test]
fn a_restore_brings_the_old_state_to_every_open_program_and_sets_the_present_aside() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shop.db");
    let (store, id) = sat(&path, 3);
    let other = Store::open(&path).unwrap();
    let backups = Backups::beside(&path);
    let old = backups.take(&store, Reason::ByHand, at(0)).unwrap();
    let then = store.export().unwrap();
    look_on(&store, &id, 3, 9);
    let now = store.export().unwrap();
    let restored = backups.restore(&store, &old.path, at(10)).unwrap();
    assert_eq!((restored.contents.events, restored.contents.sittings), (3, 1));
    for open in [&store, &other, &Store::open(&path).unwrap()] {
        assert_eq!(open.export().unwrap(), then);
    }
    assert_eq!(Store::open(restored.set_aside.unwrap()).unwrap().export().unwrap(), now, "nothing is lost by a restore");
    // The other program goes on writing, and so does this one.
    look_on(&other, &id, 3, 4);
    look_on(&store, &id, 4, 5);
    assert_eq!(other.events(&id).unwrap().len(), 5);
    store.verify().unwrap();
    assert_eq!(names_in(backups.folder()).len(), 2, "no scraps are left: {:?}", names_in(backups.folder()));
}

#[test]
fn a_damaged_store_says_so_makes_no_backup_removes_none_and_is_restored() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shop.db");
    let (store, id) = sat(&path, 40);
    let backups = Backups::beside(&path);
    let good = backups.take(&store, Reason::Automatic, at(0)).unwrap();
    let then = store.export().unwrap();
    drop(store);
    damage(&path);
    let damaged = fs::read(&path).unwrap();
    let store = Store::open(&path).unwrap();
    let fault = store.events(&id).unwrap_err();
    assert!(fault.to_string().contains("damaged") && fault.to_string().contains("latest backup"), "{fault}");
    let keep_none = Keep { newest: 0, days: 0, weeks: 0, set_aside: 0 };
    assert!(matches!(backups.take_if_changed(&store, &keep_none, at(5)), Err(StoreFault::Corrupt { .. })));
    assert_eq!(backups.list().unwrap(), std::slice::from_ref(&good));
    let restored = backups.restore(&store, &good.path, at(10)).unwrap();
    assert_eq!(store.export().unwrap(), then);
    store.verify().unwrap();
    let kept = restored.set_aside.unwrap();
    assert!(kept.to_str().unwrap().ends_with("_damaged.db"));
    assert_eq!(fs::read(kept).unwrap(), damaged, "what was there is kept byte by byte");
    look_on(&store, &id, 40, 41);
}

#[test]
fn a_store_whose_beginning_is_gone_is_restored_as_a_file() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shop.db");
    let (store, _) = sat(&path, 5);
    let backups = Backups::beside(&path);
    let good = backups.take(&store, Reason::Automatic, at(0)).unwrap();
    let then = store.export().unwrap();
    drop(store);
    for destroyed in [vec![0xa5; 9000], b"x".to_vec(), fs::read(&good.path).unwrap()[..5000].to_vec()] {
        fs::write(&path, &destroyed).unwrap();
        // The log of a program that was killed must not be played over the restored file.
        fs::write(folder.path().join("shop.db-wal"), vec![7; 5000]).unwrap();
        let restored = backups.restore_file(&path, &good.path, at(10)).unwrap();
        assert_eq!(Store::open(&path).unwrap().export().unwrap(), then);
        assert_eq!(fs::read(restored.set_aside.unwrap()).unwrap(), destroyed);
    }
    fs::remove_file(&path).unwrap();
    assert_eq!(backups.restore_file(&path, &good.path, at(20)).unwrap().set_aside, None);
    assert_eq!(Store::open(&path).unwrap().export().unwrap(), then);
}

#[test]
fn what_is_no_whole_backup_is_refused_and_the_store_stays() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shop.db");
    let (store, _) = sat(&path, 40);
    let backups = Backups::within(folder.path().join("backups"));
    let good = fs::read(backups.take(&store, Reason::ByHand, at(0)).unwrap().path).unwrap();
    let now = store.export().unwrap();
    let other = |sql: &str| {
        let file = tempfile::NamedTempFile::new().unwrap();
        Connection::open(file.path()).unwrap().execute_batch(sql).unwrap();
        fs::read(file.path()).unwrap()
    };
    let newer = {
        let file = tempfile::NamedTempFile::new().unwrap();
        fs::write(file.path(), &good).unwrap();
        Connection::open(file.path()).unwrap().pragma_update(None, "user_version", 99).unwrap();
        fs::read(file.path()).unwrap()
    };
    let mut damaged = good.clone();
    damaged[5 * 4096..8 * 4096].fill(0xa5);
    let given = folder.path().join("given.db");
    for (what, bytes) in [
        ("a text", b"angle,time\n1,2\n".to_vec()),
        ("empty", Vec::new()),
        ("another program's", other("CREATE TABLE t (x)")),
        ("a newer program's", newer),
        ("damaged", damaged),
        ("cut short", good[..good.len() - 4096].to_vec()),
    ] {
        fs::write(&given, bytes).unwrap();
        let fault = backups.restore(&store, &given, at(10)).expect_err(what);
        assert!(!matches!(fault, StoreFault::Other { .. }), "{what}: {fault}");
        assert_eq!(store.export().unwrap(), now, "{what}");
        assert_eq!(names_in(backups.folder()).len(), 1, "{what}: no scraps");
    }
    assert!(matches!(backups.restore(&store, &folder.path().join("no.db"), at(10)), Err(StoreFault::Invalid { .. })));
    for name in ["../shop.db", "shop.db", "", "000001_2025-10-09T08-53-20Z_automatic.db"] {
        assert!(matches!(backups.named(name), Err(StoreFault::Invalid { .. })), "{name}");
    }
}

#[test]
fn a_backup_of_the_first_format_is_brought_up_to_date_and_stays_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let (path, old) = (folder.path().join("shop.db"), folder.path().join("old.db"));
    Connection::open(&old).unwrap().execute_batch(include_str!("fixtures/format-1.sql")).unwrap();
    let before = fs::read(&old).unwrap();
    let (store, _) = sat(&path, 1);
    Backups::beside(&path).restore(&store, &old, at(0)).unwrap();
    // Entered when the fixture was made.
    assert_eq!(store.list::<Rotor>().unwrap()[0].body.mass_kg, 2.25);
    store.put(&Machine { name: "New".into(), speed_rpm: 1000.0, note: String::new(), sheet_toml: String::new() }, &by("Ada", 9)).unwrap();
    assert_eq!(fs::read(&old).unwrap(), before);
}

/// A power cut in the middle of a restore: the log holds the new state whole or not at all.
#[test]
fn a_restore_torn_at_any_place_leaves_the_one_state_or_the_other() {
    let folder = tempfile::tempdir().unwrap();
    let (path, log) = (folder.path().join("shop.db"), folder.path().join("shop.db-wal"));
    let (store, id) = sat(&path, 10);
    let backups = Backups::beside(&path);
    let old = backups.take(&store, Reason::ByHand, at(0)).unwrap();
    look_on(&store, &id, 10, 30);
    let untorn = (fs::read(&path).unwrap(), fs::read(&log).unwrap().len());
    backups.restore(&store, &old.path, at(10)).unwrap();
    assert_eq!(fs::read(&path).unwrap(), untorn.0, "the restore is in the log still, or this test shows nothing");
    let written = fs::read(&log).unwrap();
    let torn_path = folder.path().join("torn.db");
    let mut seen = [0, 0];
    for cut in (untorn.1..=written.len()).step_by(1777).chain([written.len()]) {
        fs::write(&torn_path, &untorn.0).unwrap();
        fs::write(folder.path().join("torn.db-wal"), &written[..cut]).unwrap();
        let torn = Store::open(&torn_path).unwrap();
        torn.verify().unwrap();
        match torn.events(&id).unwrap().len() {
            30 => seen[0] += 1,
            10 => seen[1] += 1,
            other => panic!("cut at {cut}: {other} looks"),
        }
    }
    assert!(seen[0] > 5 && seen[1] >= 1, "{seen:?}");
}

/// The computer's clock is set back an hour, or its battery dies: order is by number, not by time.
#[test]
fn a_clock_that_jumps_back_changes_no_order() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shop.db");
    let (store, id) = sat(&path, 0);
    let times = [5_000, 1_000, -1_700_000_000, 2_000];
    for (seq, second) in (0..).zip(times) {
        let event = stillwheel_store::NewEvent { by: by("Ada", second), ..new(&format!("t{seq}"), seq, EventKind::Look, json!({})) };
        store.append(&id, &event).unwrap();
    }
    let seen = |events: Vec<Event>| events.iter().map(|event| event.at.as_second() - 1_760_000_000).collect::<Vec<_>>();
    assert_eq!(seen(store.events(&id).unwrap()), times);
    assert_eq!(store.standing(&id).unwrap().can_undo, Some(4));
    let summary = &store.sittings(None).unwrap()[0];
    assert_eq!(summary.last_event.as_ref().unwrap().seq, 4);
    let backups = Backups::beside(&path);
    for (second, look) in [(5_000, 4), (1_000, 5), (-1_700_000_000, 6)] {
        look_on(&store, &id, look, look + 1);
        backups.take_if_changed(&store, &Keep { newest: 2, days: 0, weeks: 0, set_aside: 0 }, at(second)).unwrap().unwrap();
    }
    let left: Vec<u32> = backups.list().unwrap().iter().map(|file| file.number).collect();
    assert_eq!(left, [3, 2], "the two made last are left, not the two of the latest date");
    let elsewhere = Store::open_in_memory().unwrap();
    elsewhere.import(&store.export().unwrap()).unwrap();
    assert_eq!(elsewhere.export().unwrap(), store.export().unwrap());
}
