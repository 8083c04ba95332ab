//! The running program over plain HTTP: a whole sitting without scripts, two phones, a full disc, records of a newer program.

mod common;

use common::{Answer, PageForm, Program, post_file};
use serde_json::Value;
use std::path::Path;
use std::process::{Command, Stdio};
use stillwheel_store::{Export, Store};

fn shop(records: &Path) {
    stillwheel::demo::records(&Store::open(records).unwrap(), jiff::Timestamp::UNIX_EPOCH).unwrap();
}

fn served() -> (tempfile::TempDir, Program) {
    let folder = tempfile::tempdir().unwrap();
    shop(&folder.path().join("records.db"));
    let program = Program::serve(&folder.path().join("records.db"));
    (folder, program)
}

fn begin(program: &Program) -> String {
    program.post("/sittings", &[("quick", "yes"), ("stand", "virtual"), ("operator", "Ada")]).location()
}

/// The card that says what to do now.
fn now(page: &str) -> &str {
    page.split("<section class=\"card now").nth(1).and_then(|c| c.split("</section>").next()).expect("a card that says what to do")
}

#[test]
fn a_whole_sitting_is_played_by_plain_forms_from_the_first_page_to_the_certificate() {
    let program = Program::demo();
    let first = PageForm::holding(&program.get("/").text(), "name=\"quick\"").expect("the first page starts a sitting");
    let path = first.send(&program).location();
    let mut pressed = 0;
    let certificate = loop {
        let page = program.get(&path).text();
        let card = now(&page);
        if let Some(link) = card.split("href=\"").nth(1).and_then(|l| l.split('"').next()).filter(|l| l.ends_with("/certificate")) {
            break program.get(link).text();
        }
        pressed += 1;
        assert!(pressed < 30, "no certificate: {card}");
        // The advised button is the main one.
        let advised = PageForm::holding(card, "class=\"big wide main\"").or_else(|| PageForm::holding(card, "class=\"main big wide\""));
        let advised = advised.unwrap_or_else(|| panic!("no advised button in {card}"));
        let to = advised.send(&program).location();
        assert_eq!(to.split('?').next(), Some(path.as_str()));
    };
    assert!(certificate.contains("Residual unbalance within the allowance"), "{certificate}");
    assert!(pressed >= 4, "looks, a move, a verdict: {pressed}");
}

#[test]
fn each_kind_of_look_is_entered_by_its_plain_form() {
    let (_folder, program) = served();
    let path = begin(&program);
    let send = |button: &str, fill: &[(&str, &str)]| -> String {
        let page = program.get(&path).text();
        let form = PageForm::holding(&page, button).unwrap_or_else(|| panic!("no form with {button}"));
        fill.iter().fold(form, |f, (name, text)| f.fill(name, text)).send(&program).location();
        program.get(&path).text()
    };
    assert!(send("name=\"settle_deg\"", &[("settle_deg", "135")]).contains("Settled with 135° at the bottom"));
    let swing = send("name=\"swings\"", &[("swings", "2"), ("time_s", "21"), ("amplitude_deg", "45")]);
    assert!(swing.contains("2 swings from 45° in") && swing.matches("id=\"event-").count() == 2, "{swing}");
    send("name=\"waited_s\"", &[("waited_s", "4")]);
    let page = program.get(&path).text();
    let undo = PageForm::holding(&page, "Take back the last one").expect("undo is a form");
    undo.send(&program).location();
    assert!(program.get(&path).text().contains("taken back"));
}

#[test]
fn of_two_phones_the_stale_one_is_told_and_nothing_is_lost() {
    let (_folder, program) = served();
    let path = begin(&program);
    let page = program.get(&path).text();
    // Both phones loaded the page before anything was stored.
    let settle = |page: &str, deg: &str| PageForm::holding(page, "name=\"settle_deg\"").unwrap().fill("settle_deg", deg);
    let (one, two) = (settle(&page, "100"), settle(&page, "222"));
    one.send(&program).location();
    let moved_page = program.get(&path).text();
    let moved = PageForm::holding(&moved_page, "Store where they are").expect("weights can be moved by hand");
    moved.fill("to_deg_0", "15").fill("to_deg_1", "135").fill("to_deg_2", "255").send(&program).location();
    let late = two.send(&program);
    assert_eq!(late.status, 409);
    let told = late.text();
    assert!(told.contains("Meanwhile something else was stored") && told.contains("value=\"222\""), "{told}");
    let page = program.get(&path).text();
    assert_eq!(page.matches("id=\"event-").count(), 2, "the first look and the move stand, the stale one is not there");
    // Sent again from the page that told of it, it is stored with the weights as they are now.
    PageForm::holding(&told, "name=\"settle_deg\"").unwrap().send(&program).location();
    assert!(program.get(&path).text().contains("Settled with 222° at the bottom"));
}

/// Serve from a file system of this size, mounted for the program alone; `None` where that is not allowed.
fn served_from_a_small_disc(folder: &Path, kib: u32) -> Option<Program> {
    let allowed = Command::new("unshare")
        .args(["-rm", "sh", "-c", "mount -t tmpfs -o size=64k none \"$0\""])
        .arg(folder)
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|s| s.success());
    if !allowed {
        return None;
    }
    let mut command = Command::new("unshare");
    command.args(["-rm", "sh", "-c", "mount -t tmpfs -o size=\"$3\"k none \"$0\" && exec \"$1\" serve --port 0 --db \"$2\""]);
    command.arg(folder).arg(assert_cmd::cargo::cargo_bin("stillwheel")).arg(folder.join("records.db")).arg(kib.to_string());
    Some(Program::start(command))
}

/// The same by a limit on the size of any file the program writes.
fn served_with_a_file_limit(folder: &Path, kib: u32) -> Program {
    let mut command = Command::new("sh");
    // Blocks of 512 bytes. The signal is ignored, so that the write fails instead.
    command.args(["-c", "trap '' XFSZ; ulimit -f \"$2\"; exec \"$0\" serve --port 0 --db \"$1\""]);
    command.arg(assert_cmd::cargo::cargo_bin("stillwheel")).arg(folder.join("records.db")).arg((2 * kib).to_string());
    Program::start(command)
}

/// Store rings and machines until the disc is full; the answer that said so, and the names that were acknowledged.
fn fill_up(program: &Program) -> (Answer, Vec<String>) {
    let note = "x".repeat(1500);
    let mut kept = Vec::new();
    for n in 0..4000 {
        let name = format!("Machine {n}");
        let answer = program.post("/records/machines", &[("name", &name), ("speed_rpm", "2860"), ("note", &note)]);
        if answer.status != 303 {
            return (answer, kept);
        }
        kept.push(name);
    }
    panic!("the disc never got full");
}

fn a_full_disc_is_told_and_spares_the_earlier_looks(program: &Program, title: &str, status: u16) {
    let exported = shop_through_the_pages(program);
    assert_eq!(exported.status, 200, "{}", exported.text());
    let path = begin(program);
    for deg in ["100", "104"] {
        let page = program.get(&path).text();
        PageForm::holding(&page, "name=\"settle_deg\"").unwrap().fill("settle_deg", deg).send(program).location();
    }
    let (refused, kept) = fill_up(program);
    assert!(kept.len() > 20, "only {} machines before the disc was full", kept.len());
    assert_eq!(refused.status, status, "{}", refused.text());
    let say = refused.text();
    assert!(say.contains(title), "{say}");
    // A look is refused in the same way (a small one may still find room, so a page of them is tried), and the earlier ones are shown.
    let mut acknowledged = 2;
    let look = loop {
        let page = program.get(&path);
        assert_eq!(page.status, 200);
        let answer = PageForm::holding(&page.text(), "name=\"settle_deg\"").unwrap().fill("settle_deg", "222").send(program);
        if answer.status != 303 {
            break answer;
        }
        acknowledged += 1;
        assert!(acknowledged < 100, "looks still find room");
    };
    assert_eq!(look.status, status, "{}", look.text());
    assert!(look.text().contains(title));
    let page = program.get(&path).text();
    assert_eq!(page.matches("id=\"event-").count(), acknowledged);
    assert!(page.contains("Settled with 100° at the bottom") && page.contains("Settled with 104° at the bottom"));
    // All of it can still be saved elsewhere, whole.
    let saved = Export::from_json(&program.get("/records/export").text()).unwrap();
    let names: Vec<Value> = saved.revisions.iter().map(|r| r.body["name"].clone()).collect();
    assert!(kept.iter().all(|n| names.contains(&Value::from(n.as_str()))));
    let elsewhere = Store::open_in_memory().unwrap();
    elsewhere.import(&saved).unwrap();
    elsewhere.verify().unwrap();
}

/// The demo's records, brought in as a file.
fn shop_through_the_pages(program: &Program) -> Answer {
    let store = Store::open_in_memory().unwrap();
    stillwheel::demo::records(&store, jiff::Timestamp::UNIX_EPOCH).unwrap();
    let file = store.export().unwrap().to_json();
    post_file(&program.address, "/records/import", &[], "file", file.as_bytes()).unwrap()
}

#[test]
fn on_a_full_disc_the_pages_say_so_and_earlier_looks_stand() {
    let folder = tempfile::tempdir().unwrap();
    // Where no file system can be mounted (in some containers), the test below stands for this one.
    let Some(program) = served_from_a_small_disc(folder.path(), 900) else { return println!("no file system can be mounted here") };
    a_full_disc_is_told_and_spares_the_earlier_looks(&program, "The disc is full", 507);
}

#[test]
fn past_a_file_limit_the_pages_say_so_and_earlier_looks_stand() {
    let folder = tempfile::tempdir().unwrap();
    let program = served_with_a_file_limit(folder.path(), 600);
    a_full_disc_is_told_and_spares_the_earlier_looks(&program, "The records could not be used", 500);
}

#[test]
fn records_of_a_newer_program_are_refused_by_every_command_and_left_as_they_are() {
    let folder = tempfile::tempdir().unwrap();
    let records = folder.path().join("records.db");
    shop(&records);
    let newer = rusqlite::Connection::open(&records).unwrap();
    newer.pragma_update(None, "user_version", 99).unwrap();
    drop(newer);
    let before = std::fs::read(&records).unwrap();
    let export = folder.path().join("export.json");
    std::fs::write(&export, Store::open_in_memory().unwrap().export().unwrap().to_json()).unwrap();
    for args in [vec!["serve", "--port", "0"], vec!["export"], vec!["import", export.to_str().unwrap()]] {
        let out = assert_cmd::Command::cargo_bin("stillwheel").unwrap().args(&args).arg("--db").arg(&records).output().unwrap();
        let err = String::from_utf8(out.stderr).unwrap();
        assert_eq!(out.status.code(), Some(1), "{args:?}: {err}");
        assert!(err.contains("newer version of stillwheel (format 99") && err.contains("Nothing was changed"), "{args:?}: {err}");
        assert_eq!(std::fs::read(&records).unwrap(), before, "{args:?}");
    }
}

#[test]
fn what_one_program_exports_another_imports_through_the_pages_to_the_same_records() {
    let (_one, program) = served();
    let path = begin(&program);
    PageForm::holding(&program.get(&path).text(), "name=\"settle_deg\"").unwrap().fill("settle_deg", "100").send(&program).location();
    let file = program.get("/records/export");
    assert!(file.header("content-disposition").is_some_and(|d| d.starts_with("attachment") && d.contains(".json")));
    let folder = tempfile::tempdir().unwrap();
    let other = Program::serve(&folder.path().join("records.db"));
    let upload = |bytes: &[u8]| post_file(&other.address, "/records/import", &[], "file", bytes).unwrap();
    let done = upload(&file.bytes);
    assert_eq!(done.status, 200, "{}", done.text());
    assert!(done.text().contains("New here: 11 revisions of records, 1 sittings, 1 looks"), "{}", done.text());
    assert_eq!(other.get("/records/export").bytes, file.bytes, "the round trip is exact");
    assert_eq!(other.get(&path).status, 200, "the sitting is there under its own address");
    assert!(upload(&file.bytes).text().contains("New here: 0 revisions"), "the same file again adds nothing");
    for (bytes, say) in
        [(&b"{\"a\": 1}"[..], "format is not"), (b"angle;time", "not readable"), (b"", "Choose the file"), (b"\xff\xfe{", "no text")]
    {
        let refused = upload(bytes);
        assert_eq!(refused.status, 422);
        assert!(refused.text().contains("Nothing was imported") && refused.text().contains(say), "{}", refused.text());
    }
    assert_eq!(other.get("/records/export").bytes, file.bytes);
}
