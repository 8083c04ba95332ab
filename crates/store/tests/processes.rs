//! What happens to the file when processes die or may not write. Has its own `main`, because it starts itself again as the other process.

mod common;
use common::{by, new, open_shop};
use serde_json::json;
use std::collections::HashMap;
use std::hash::{BuildHasher, RandomState};
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};
use stillwheel_store::{EventKind, Id, NewEvent, Store, StoreFault};

/// Says which part the process plays; unset: the tests.
const PART: &str = "STILLWHEEL_TEST_PART";
const FILE: &str = "STILLWHEEL_TEST_FILE";

fn main() {
    let file = || PathBuf::from(std::env::var_os(FILE).expect("the parent sets it"));
    match std::env::var(PART).as_deref() {
        Ok("write") => write_for_ever(&file()),
        Ok("open") => tell_fault(&file()),
        _ => {
            killed_writers_lose_no_acknowledged_event();
            a_write_protected_file_is_refused_as_read_only();
        }
    }
}

fn start(program: &Path, part: &str, file: &Path) -> Command {
    let mut command = Command::new(program);
    command.env(PART, part).env(FILE, file).stdout(Stdio::piped());
    command
}

// ---- the writer ----

/// Appends to the newest sitting until killed; a line is printed only after `append` has returned.
fn write_for_ever(file: &Path) {
    let store = Store::open(file).unwrap();
    let sitting = match store.sittings(None).unwrap().first() {
        Some(last) => last.id.clone(),
        None => store.new_sitting(&common::start(&open_shop(&store), 10)).unwrap().id,
    };
    let run = RandomState::new().hash_one(0);
    for n in 0u64.. {
        let standing = store.standing(&sitting).unwrap();
        let after_seq = standing.latest_seq;
        let token = format!("{run:x}-{n}");
        let event = match (n % 5, standing.can_undo) {
            (2, _) => new(&token, after_seq, EventKind::Move, json!({"weights_deg": [n, n + 1]})),
            (4, Some(seq)) => NewEvent::undo(token, after_seq, seq, by("Ada", 5)),
            _ => new(&token, after_seq, EventKind::Look, json!({"settle_deg": n, "log": vec![0.1; (run as usize + n as usize) % 900]})),
        };
        let stored = store.append(&sitting, &event).unwrap();
        let mut out = std::io::stdout().lock();
        writeln!(out, "{sitting} {} {}", stored.seq, stored.token).unwrap();
        out.flush().unwrap();
    }
}

fn killed_writers_lose_no_acknowledged_event() {
    const KILLS: u32 = 60;
    let begin = Instant::now();
    let folder = tempfile::tempdir().unwrap();
    let program = std::env::current_exe().unwrap();
    let mut acknowledged: Vec<(PathBuf, Id, u32, String)> = Vec::new();
    for kill in 0..KILLS {
        // Every tenth starts a new file and dies early, so that opening and the first format step are hit as well.
        let file = folder.path().join(format!("shop-{}.db", kill / 10));
        let random = RandomState::new().hash_one(kill);
        let lines_first = if kill % 10 == 0 { 0 } else { random % 24 };
        let wait = Duration::from_micros((random >> 8) % 10_000);
        let mut child: Child = start(&program, "write", &file).spawn().unwrap();
        let mut lines = BufReader::new(child.stdout.take().unwrap());
        let mut told = 0;
        let mut killed = false;
        loop {
            if told == lines_first && !killed {
                std::thread::sleep(wait);
                child.kill().unwrap();
                killed = true;
            }
            // Lines in the pipe were printed before the kill: they count. A line cut short was not yet told.
            let mut line = String::new();
            lines.read_line(&mut line).unwrap();
            let Some(whole) = line.strip_suffix('\n') else { break };
            let [sitting, seq, token] = whole.split(' ').collect::<Vec<_>>()[..] else { panic!("{whole}") };
            acknowledged.push((file.clone(), sitting.parse().unwrap(), seq.parse().unwrap(), token.into()));
            told += 1;
        }
        assert!(killed, "the writer ended by itself");
        assert_eq!(child.wait().unwrap().code(), None, "the writer died of the kill, not of a fault of its own");
        let store = Store::open(&file).unwrap();
        store.verify().unwrap();
        let mut here = HashMap::new();
        for (_, sitting, seq, token) in acknowledged.iter().filter(|(its_file, ..)| *its_file == file) {
            let events = here.entry(sitting).or_insert_with(|| store.events(sitting).unwrap());
            assert_eq!(&events[*seq as usize - 1].token, token, "event {seq} was acknowledged before kill {kill}");
        }
    }
    let count = acknowledged.len();
    assert!(count > 500, "only {count} events were acknowledged: the kills came too early to show anything");
    println!("killed_writers_lose_no_acknowledged_event: {KILLS} kills, {count} acknowledged events, all there ({:.1?})", begin.elapsed());
}

// ---- the reader without rights ----

fn tell_fault(file: &Path) {
    match Store::open(file) {
        Ok(_) => println!("opened"),
        Err(StoreFault::ReadOnly) => println!("read-only"),
        Err(other) => println!("{other}"),
    }
}

#[cfg(not(unix))]
fn a_write_protected_file_is_refused_as_read_only() {}

#[cfg(unix)]
fn a_write_protected_file_is_refused_as_read_only() {
    use std::fs::{self, Permissions};
    use std::os::unix::fs::{MetadataExt, PermissionsExt};
    use std::os::unix::process::CommandExt;

    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("shop.db");
    let program = folder.path().join("program");
    fs::copy(std::env::current_exe().unwrap(), &program).unwrap();
    open_shop(&Store::open(&file).unwrap());
    // Rights don't bind root: then the other process runs as nobody.
    let as_root = fs::metadata(&file).unwrap().uid() == 0;
    let told = |file_mode: u32, folder_mode: u32| {
        fs::set_permissions(&file, Permissions::from_mode(file_mode)).unwrap();
        fs::set_permissions(folder.path(), Permissions::from_mode(folder_mode)).unwrap();
        let mut command = start(&program, "open", &file);
        if as_root {
            command.uid(65534).gid(65534);
        }
        let output = command.output().unwrap();
        fs::set_permissions(folder.path(), Permissions::from_mode(0o755)).unwrap();
        String::from_utf8(output.stdout).unwrap().trim().to_owned()
    };
    let before = fs::read(&file).unwrap();
    assert_eq!(told(0o444, 0o777), "read-only", "the file is protected");
    assert_eq!(told(0o444, 0o555), "read-only", "file and folder are protected");
    assert_eq!(told(0o666, 0o555), "read-only", "the folder is protected: no room for SQLite's log");
    assert_eq!(fs::read(&file).unwrap(), before);
    assert_eq!(told(0o666, 0o777), "opened", "the same process may open it when the rights are given");
    println!("a_write_protected_file_is_refused_as_read_only: ok");
}
