//! The file: what is opened and what is refused, damage, power cuts, backups.

mod common;
use common::{by, groove_ring, holes_ring, machine, new, open_shop, start};
use rusqlite::Connection;
use serde_json::json;
use std::fs;
use std::path::Path;
use stillwheel_store::{EventKind, Export, Machine, Rotor, Stand, Store, StoreFault, WeightRing};

/// The newest format; raise it together with a new fixture `format-N.sql`.
const FORMAT: i64 = 1;

/// A store with some hundred events, closed again.
fn filled(path: &Path) -> Export {
    let store = Store::open(path).unwrap();
    let shop = open_shop(&store);
    for sitting in 0..4 {
        let id = store.new_sitting(&start(&shop, sitting)).unwrap().id;
        for seq in 0..30 {
            store.append(&id, &new(&format!("t{seq}"), seq, EventKind::Look, json!({"log": vec![f64::from(seq); 150]}))).unwrap();
        }
    }
    store.export().unwrap()
}

fn names_in(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder).unwrap().map(|f| f.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

#[test]
fn a_new_file_is_a_store_and_keeps_what_was_put() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shop with spaces & é.db");
    let export = filled(&path);
    assert_eq!(names_in(folder.path()), ["shop with spaces & é.db"], "one file once it is closed");
    let store = Store::open(&path).unwrap();
    store.verify().unwrap();
    assert_eq!(store.export().unwrap(), export);
}

#[test]
fn an_empty_file_becomes_a_store() {
    let file = tempfile::NamedTempFile::new().unwrap();
    open_shop(&Store::open(file.path()).unwrap());
    assert_eq!(Store::open(file.path()).unwrap().list::<Rotor>().unwrap().len(), 1);
}

#[test]
fn eight_programs_that_start_at_once_share_one_new_file() {
    for _ in 0..6 {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("shop.db");
        std::thread::scope(|scope| {
            for n in 0..8 {
                let path = &path;
                scope.spawn(move || Store::open(path).unwrap().put(&machine(), &by("Ada", n)).unwrap());
            }
        });
        assert_eq!(Store::open(&path).unwrap().list::<Machine>().unwrap().len(), 8);
    }
}

#[test]
fn files_that_are_not_ours_are_refused_and_left_as_they_are() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("other");
    let foreign = |sql: &str| {
        let file = tempfile::NamedTempFile::new().unwrap();
        Connection::open(file.path()).unwrap().execute_batch(sql).unwrap();
        fs::read(file.path()).unwrap()
    };
    let rows = [
        ("text", b"angle,time\n1,2\n".to_vec()),
        ("one byte", vec![0]),
        ("511 bytes", vec![0; 511]),
        ("zeros", vec![0; 8192]),
        ("random bytes", (0..20_000u32).map(|i| (i.wrapping_mul(2_654_435_761) >> 24) as u8).collect()),
        ("another program's database", foreign("CREATE TABLE t (x); INSERT INTO t VALUES (1)")),
        ("another program's mark", foreign("PRAGMA application_id = 7")),
        ("another program's format number", foreign("PRAGMA user_version = 1")),
        ("another program's database in WAL", foreign("PRAGMA journal_mode = WAL; CREATE TABLE t (x)")),
    ];
    for (what, bytes) in rows {
        fs::write(&path, &bytes).unwrap();
        let fault = Store::open(&path).unwrap_err();
        assert!(matches!(fault, StoreFault::NotOurs { .. }), "{what}: {fault}");
        assert!(fault.to_string().contains("Nothing was changed"), "{fault}");
        assert_eq!(fs::read(&path).unwrap(), bytes, "{what}");
        assert_eq!(names_in(folder.path()), ["other"], "{what}");
    }
    assert!(matches!(Store::open(folder.path()), Err(StoreFault::NotOurs { .. })), "a folder");
    let nowhere = Store::open(folder.path().join("no/such/folder/shop.db")).unwrap_err();
    assert!(matches!(nowhere, StoreFault::Other { .. }), "{nowhere}");
}

#[test]
fn a_database_of_a_newer_program_is_refused_and_left_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shop.db");
    filled(&path);
    let newer = Connection::open(&path).unwrap();
    newer.pragma_update(None, "user_version", FORMAT + 1).unwrap();
    // As a killed newer program leaves it: its last writes are still in the log.
    let killed = tempfile::tempdir().unwrap();
    for name in ["shop.db", "shop.db-wal"] {
        fs::copy(folder.path().join(name), killed.path().join(name)).unwrap();
    }
    drop(newer);
    for (folder, log_left) in [(folder.path(), false), (killed.path(), true)] {
        let path = folder.join("shop.db");
        let log = folder.join("shop.db-wal");
        assert_eq!(log.exists(), log_left);
        let before = (fs::read(&path).unwrap(), fs::read(&log).ok());
        let fault = Store::open(&path).unwrap_err();
        assert_eq!(fault, StoreFault::Newer { found: FORMAT + 1, known: FORMAT });
        assert!(fault.to_string().contains("Nothing was changed"), "{fault}");
        assert_eq!((fs::read(&path).unwrap(), fs::read(&log).ok()), before);
    }
}

#[test]
fn a_file_of_format_1_opens_with_all_it_holds() {
    let file = tempfile::NamedTempFile::new().unwrap();
    Connection::open(file.path()).unwrap().execute_batch(include_str!("fixtures/format-1.sql")).unwrap();
    let store = Store::open(file.path()).unwrap();
    store.verify().unwrap();
    // The values that were entered when the fixture was made.
    let rotor = &store.list::<Rotor>().unwrap()[0];
    assert_eq!((rotor.revision, rotor.body.mass_kg, rotor.body.wheel.max_speed_m_s), (2, 2.25, Some(35.0)));
    assert_eq!(store.history::<Rotor>(&rotor.id).unwrap()[0].body.mass_kg, 2.35);
    assert_eq!(store.get::<WeightRing>(&rotor.body.ring).unwrap().body, groove_ring());
    assert_eq!(store.list::<WeightRing>().unwrap()[1].body, holes_ring());
    assert_eq!(store.list::<Stand>().unwrap()[0].body.virtual_seed, Some(u64::MAX));
    assert_eq!(store.list_retired::<Machine>().unwrap()[0].body.name, "Old");
    let sitting = &store.sittings(None).unwrap()[0];
    assert_eq!((sitting.looks, sitting.moves, sitting.closed), (2, 1, true));
    assert_eq!(sitting.verdict, Some(json!({"accepted": true, "residual_g_mm": 3.4})));
    let seq = sitting.last_event.as_ref().unwrap().seq;
    store.append(&sitting.id, &new("later", seq, EventKind::Reopened, json!({}))).unwrap();
}

/// A released step is never edited: files made by it would differ from files made anew.
#[test]
fn a_new_file_has_the_tables_of_the_newest_fixture() {
    let tables = |connection: &Connection| -> Vec<(String, String)> {
        let mut all = connection.prepare("SELECT name, sql FROM sqlite_schema WHERE sql IS NOT NULL ORDER BY name").unwrap();
        all.query_map([], |row| Ok((row.get(0)?, row.get(1)?))).unwrap().map(Result::unwrap).collect()
    };
    let fixture = Connection::open_in_memory().unwrap();
    fixture.execute_batch(include_str!("fixtures/format-1.sql")).unwrap();
    let file = tempfile::NamedTempFile::new().unwrap();
    drop(Store::open(file.path()).unwrap());
    let new = Connection::open(file.path()).unwrap();
    assert_eq!(tables(&new), tables(&fixture));
    assert_eq!(new.pragma_query_value(None, "user_version", |row| row.get::<_, i64>(0)).unwrap(), FORMAT);
}

#[test]
fn the_tables_themselves_refuse_to_change_or_delete() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shop.db");
    let export = filled(&path);
    let raw = Connection::open(&path).unwrap();
    for table in ["records", "revisions", "sittings", "sitting_events"] {
        let id = if table == "sitting_events" { "sitting" } else { "id" };
        for sql in [format!("UPDATE {table} SET {id} = {id}"), format!("DELETE FROM {table}")] {
            let refused = raw.execute(&sql, []).unwrap_err();
            assert!(refused.to_string().contains("only added"), "{sql}: {refused}");
        }
    }
    assert_eq!(Store::open(&path).unwrap().export().unwrap(), export);
}

#[test]
fn any_damaged_page_is_found() {
    let folder = tempfile::tempdir().unwrap();
    let (good, bad) = (folder.path().join("good.db"), folder.path().join("bad.db"));
    filled(&good);
    let bytes = fs::read(&good).unwrap();
    let pages = bytes.len() / 4096;
    assert!(pages >= 30, "{pages} pages: too few to have a middle");
    for page in 0..pages {
        let mut damaged = bytes.clone();
        damaged[page * 4096..(page + 1) * 4096].fill(0xa5);
        fs::write(&bad, damaged).unwrap();
        let fault = Store::open(&bad).and_then(|store| store.verify()).unwrap_err();
        match fault {
            StoreFault::NotOurs { .. } if page == 0 => {}
            StoreFault::Corrupt { .. } => assert!(fault.to_string().contains("open the latest backup"), "{fault}"),
            other => panic!("page {page}: {other}"),
        }
    }
}

#[test]
fn reading_and_writing_through_a_damaged_page_says_corrupt() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shop.db");
    filled(&path);
    let mut bytes = fs::read(&path).unwrap();
    let pages = bytes.len() / 4096;
    // The inner page of the events' table and most of what hangs on it lie in the second half.
    bytes[pages / 3 * 4096..].fill(0xa5);
    fs::write(&path, bytes).unwrap();
    let store = Store::open(&path).unwrap();
    let fault = store.export().unwrap_err();
    assert!(matches!(fault, StoreFault::Corrupt { .. }), "{fault}");
    assert!(matches!(store.sittings(None), Err(StoreFault::Corrupt { .. })));
    assert!(store.backup(folder.path().join("backup.db")).is_err(), "a damaged file makes no backup that looks whole");
    assert!(!names_in(folder.path()).iter().any(|name| name.starts_with("backup")));
}

#[test]
fn flipped_bytes_never_panic() {
    let folder = tempfile::tempdir().unwrap();
    let (good, bad) = (folder.path().join("good.db"), folder.path().join("bad.db"));
    filled(&good);
    let bytes = fs::read(&good).unwrap();
    let mut random = 12345u64;
    for _ in 0..150 {
        let mut damaged = bytes.clone();
        for _ in 0..4 {
            random = random.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            damaged[(random >> 33) as usize % bytes.len()] ^= 1 << (random >> 30 & 7);
        }
        fs::write(&bad, damaged).unwrap();
        // A flipped digit inside a number can't be told; everything else must be one of these.
        match Store::open(&bad).and_then(|store| store.verify()) {
            Ok(()) | Err(StoreFault::Corrupt { .. } | StoreFault::NotOurs { .. } | StoreFault::Newer { .. }) => {}
            Err(other) => panic!("{other}"),
        }
    }
}

/// A power cut may tear what was being written, but not what was acknowledged: the log is on disc by then (`synchronous=FULL`).
#[test]
fn a_log_torn_at_any_byte_keeps_every_event_acknowledged_before() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shop.db");
    let log = folder.path().join("shop.db-wal");
    let store = Store::open(&path).unwrap();
    let id = store.new_sitting(&start(&open_shop(&store), 1)).unwrap().id;
    let length = || fs::metadata(&log).unwrap().len() as usize;
    let mut after = vec![length()];
    for seq in 0..8 {
        store.append(&id, &new(&format!("t{seq}"), seq, EventKind::Look, json!({"log": vec![1.5; 400 * (seq as usize % 3)]}))).unwrap();
        after.push(length());
    }
    let (database, written) = (fs::read(&path).unwrap(), fs::read(&log).unwrap());
    let torn_path = folder.path().join("torn.db");
    for acknowledged in 0..8 {
        let (from, to) = (after[acknowledged], after[acknowledged + 1]);
        assert!(from < to);
        for cut in (from..to).step_by(997).chain([to - 1]) {
            for tail in [&[][..], &[0xa5; 5000][..]] {
                fs::write(&torn_path, &database).unwrap();
                fs::write(folder.path().join("torn.db-wal"), [&written[..cut], tail].concat()).unwrap();
                let torn = Store::open(&torn_path).unwrap();
                assert_eq!(torn.events(&id).unwrap().len(), acknowledged, "cut at {cut} of {from} to {to}");
                torn.verify().unwrap();
            }
        }
    }
}

#[test]
fn a_backup_is_one_whole_file_also_while_another_writes() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shop.db");
    let store = Store::open(&path).unwrap();
    let id = store.new_sitting(&start(&open_shop(&store), 1)).unwrap().id;
    let other = Store::open(&path).unwrap();
    std::thread::scope(|scope| {
        scope.spawn(|| {
            for seq in 0..60 {
                other.append(&id, &new(&format!("t{seq}"), seq, EventKind::Look, json!({"log": vec![0.5; 300]}))).unwrap();
            }
        });
        for n in 0..6 {
            let backup = folder.path().join(format!("backup-{n}.db"));
            let before = store.events(&id).unwrap();
            store.backup(&backup).unwrap();
            let after = store.events(&id).unwrap();
            assert!(!folder.path().join(format!("backup-{n}.db-wal")).exists());
            let copy = Store::open(&backup).unwrap();
            copy.verify().unwrap();
            let events = copy.events(&id).unwrap();
            assert!(before.len() <= events.len() && events.len() <= after.len());
            assert_eq!(events, after[..events.len()]);
        }
    });
    assert!(names_in(folder.path()).iter().all(|name| !name.contains(".part")));
    let last = folder.path().join("last.db");
    store.backup(&last).unwrap();
    assert_eq!(Store::open(&last).unwrap().export().unwrap(), store.export().unwrap());
}

#[test]
fn a_backup_never_overwrites() {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open_in_memory().unwrap();
    let taken = folder.path().join("taken.db");
    fs::write(&taken, "precious").unwrap();
    assert!(matches!(store.backup(&taken), Err(StoreFault::Invalid { field, .. }) if field == "backup"));
    assert_eq!(fs::read(&taken).unwrap(), b"precious");
    // What a killed backup left behind is no obstacle.
    fs::write(folder.path().join("new.db.part"), "rest of an old attempt").unwrap();
    store.backup(folder.path().join("new.db")).unwrap();
    assert_eq!(names_in(folder.path()), ["new.db", "taken.db"]);
    assert!(matches!(store.backup(folder.path().join("no/such/backup.db")), Err(StoreFault::Other { .. })));
}

#[test]
fn a_store_is_send_and_sync() {
    fn needs<T: Send + Sync>() {}
    needs::<Store>();
}
