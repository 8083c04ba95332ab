//! Backups through the running program: made by itself, by the page, by the command; a damaged file said plainly and restored from
//! the page while the program goes on.

mod common;

use common::{Answer, PageForm, Program};
use serde_json::Value;
use std::path::Path;
use std::process::{Command, Output};
use std::time::{Duration, Instant};
use stillwheel_store::{Backups, Rotor, Store};

fn shop(records: &Path) {
    stillwheel::demo::records(&Store::open(records).unwrap(), jiff::Timestamp::UNIX_EPOCH).unwrap();
}

fn stillwheel(args: &[&str], records: &Path) -> Output {
    assert_cmd::Command::cargo_bin("stillwheel").unwrap().args(args).arg("--db").arg(records).output().unwrap()
}

fn said(output: &Output) -> String {
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// Until the program's own first backup is there.
fn first_backup(records: &Path) {
    let begun = Instant::now();
    while Backups::beside(records).list().unwrap().is_empty() {
        assert!(begun.elapsed() < Duration::from_secs(30), "no backup at the start");
        std::thread::sleep(Duration::from_millis(50));
    }
}

fn add_machine(program: &Program, name: &str) -> Answer {
    program.post("/records/machines", &[("name", name), ("speed_rpm", "2860")])
}

#[test]
fn serving_begins_with_a_backup_and_the_page_makes_lists_saves_and_restores_them() {
    let folder = tempfile::tempdir().unwrap();
    let records = folder.path().join("records.db");
    shop(&records);
    let program = Program::serve(&records);
    first_backup(&records);
    let made = PageForm::holding(&program.get("/records/backups").text(), "Back up now").unwrap().send(&program);
    assert_eq!(made.status, 200);
    assert!(made.text().contains("✓ Backed up") && made.text().contains("_by-hand.db"), "{}", made.text());
    let name = Backups::beside(&records).list().unwrap()[0].name();
    add_machine(&program, "Bought too late").location();
    assert!(program.get("/rotors").text().contains("Bought too late"));

    let saved = program.get(&format!("/records/backups/{name}"));
    assert!(saved.header("content-disposition").is_some_and(|d| d.contains(&name)));
    assert_eq!(saved.bytes, std::fs::read(Backups::beside(&records).folder().join(&name)).unwrap());
    for wrong in ["..%2Frecords.db", "records.db", "000001.db"] {
        assert_eq!(program.get(&format!("/records/backups/{wrong}")).status, 404, "{wrong}");
    }

    let unsure = program.post("/records/backups/restore", &[("name", &name)]);
    assert_eq!(unsure.status, 422);
    assert!(unsure.text().contains("Nothing was changed") && program.get("/rotors").text().contains("Bought too late"));
    let restored = program.post("/records/backups/restore", &[("name", &name), ("sure", "yes")]);
    assert_eq!(restored.status, 200);
    assert!(restored.text().contains("✓ Restored") && restored.text().contains("_before-restore.db"), "{}", restored.text());
    assert!(!program.get("/rotors").text().contains("Bought too late"));
    let other = program.post("/records/backups/restore", &[("name", "../records.db"), ("sure", "yes")]);
    assert_eq!(other.status, 422);
    // And forth again: what was set aside is a backup like any other.
    let aside = Backups::beside(&records).list().unwrap()[0].name();
    assert_eq!(program.post("/records/backups/restore", &[("name", &aside), ("sure", "yes")]).status, 200);
    assert!(program.get("/rotors").text().contains("Bought too late"));
}

#[test]
fn a_damaged_file_is_said_plainly_on_every_page_and_mended_from_the_page() {
    let folder = tempfile::tempdir().unwrap();
    let records = folder.path().join("records.db");
    shop(&records);
    let program = Program::serve(&records);
    first_backup(&records);
    let path = program.post("/sittings", &[("quick", "yes"), ("stand", "virtual")]).location();
    add_machine(&program, "Last one").location();
    PageForm::holding(&program.get("/records/backups").text(), "Back up now").unwrap().send(&program);
    let backups = Backups::beside(&records).list().unwrap();
    drop(program);
    // Fold the log into the file, then spoil all pages but the first.
    drop(Store::open(&records).unwrap());
    let mut bytes = std::fs::read(&records).unwrap();
    bytes[4096..].fill(0xa5);
    std::fs::write(&records, &bytes).unwrap();

    let program = Program::serve(&records);
    for page in ["/", "/rotors", &path, "/records", "/records/export"] {
        let answer = program.get(page);
        assert_eq!(answer.status, 500, "{page}");
        let text = answer.text();
        assert!(text.contains("The records are damaged") && text.contains("href=\"/records/backups\""), "{page}: {text}");
    }
    assert_eq!(add_machine(&program, "In vain").status, 500);
    let page = program.get("/records/backups");
    assert_eq!(page.status, 200, "the way out stays open");
    let refused = program.post("/records/backups", &[]);
    assert_eq!(refused.status, 500);
    assert!(refused.text().contains("Nothing was changed"));
    assert_eq!(Backups::beside(&records).list().unwrap(), backups, "no backup of the damage, and the old ones stay");
    let restored = program.post("/records/backups/restore", &[("name", &backups[0].name()), ("sure", "yes")]);
    assert_eq!(restored.status, 200, "{}", restored.text());
    assert!(restored.text().contains("_damaged.db"));
    assert_eq!(program.get(&path).status, 200);
    assert!(program.get("/rotors").text().contains("Last one"));
    assert_eq!(std::fs::read(&Backups::beside(&records).list().unwrap()[0].path).unwrap(), bytes);
    Store::open(&records).unwrap().verify().unwrap();
}

#[test]
fn the_commands_back_up_list_and_restore() {
    let folder = tempfile::tempdir().unwrap();
    let records = folder.path().join("records.db");
    shop(&records);
    let then = Store::open(&records).unwrap().export().unwrap();
    assert!(said(&stillwheel(&["backup"], &records)).contains("11 records in 11 revisions, 0 sittings"));
    assert_eq!(said(&stillwheel(&["backup", "--rotate"], &records)), "Nothing was written since the last backup.\n");
    let copy = folder.path().join("elsewhere.db");
    said(&stillwheel(&["backup", copy.to_str().unwrap()], &records));
    let again = stillwheel(&["backup", copy.to_str().unwrap()], &records);
    assert_eq!(again.status.code(), Some(1), "never over a file that is there");
    let store = Store::open(&records).unwrap();
    let rotor = store.list::<Rotor>().unwrap().remove(0);
    store.retire::<Rotor>(&rotor.id, &stillwheel_store::By::now("Ada")).unwrap();
    let later = store.export().unwrap();
    assert!(said(&stillwheel(&["backup", "--rotate"], &records)).contains("12 revisions"));
    let listed: Value = serde_json::from_str(&said(&stillwheel(&["--json", "backup", "--list"], &records))).unwrap();
    assert_eq!(listed.as_array().unwrap().len(), 2);
    let oldest = listed[1]["file"].as_str().unwrap();
    // By its name in the folder, with the store open in this process as in a running server.
    let name = Path::new(oldest).file_name().unwrap().to_str().unwrap();
    let done = said(&stillwheel(&["restore", name], &records));
    assert!(done.starts_with("Restored from") && done.contains("What was there before:"), "{done}");
    assert_eq!(store.export().unwrap(), then);
    drop(store);
    // The newest is now what was set aside.
    said(&stillwheel(&["restore", "--latest"], &records));
    assert_eq!(Store::open(&records).unwrap().export().unwrap(), later);
    // The beginning of the file is gone: by its path.
    std::fs::write(&records, b"spilt coffee").unwrap();
    said(&stillwheel(&["restore", copy.to_str().unwrap()], &records));
    assert_eq!(Store::open(&records).unwrap().export().unwrap(), then);
    for (args, say) in [
        (vec!["restore", records.to_str().unwrap()], "the records themselves"),
        (vec!["restore", "nothing.db"], "one of the list"),
        (vec!["serve", "--port", "0", "--backup-every", "NaN"], "0.1 to 168"),
        (vec!["serve", "--port", "0", "--backup-every", "0"], "0.1 to 168"),
    ] {
        let refused = stillwheel(&args, &records);
        let err = String::from_utf8_lossy(&refused.stderr).into_owned();
        assert!(!refused.status.success() && err.contains(say), "{args:?}: {err}");
    }
    assert_eq!(Store::open(&records).unwrap().export().unwrap(), then);
}

/// A write-protected disc, mounted for the program alone; where that isn't allowed, the store's own test stands for this one.
#[test]
fn records_that_can_only_be_read_are_said_so() {
    let folder = tempfile::tempdir().unwrap();
    let records = folder.path().join("records.db");
    shop(&records);
    let before = std::fs::read(&records).unwrap();
    let mount = "mount --bind \"$0\" \"$0\" && mount -o remount,bind,ro \"$0\"";
    let run = |script: String| {
        let mut command = Command::new("unshare");
        command.args(["-rm", "sh", "-c", &script]).arg(folder.path()).arg(assert_cmd::cargo::cargo_bin("stillwheel")).arg(&records);
        command.output().unwrap()
    };
    if !run(format!("{mount} 2>/dev/null")).status.success() {
        return println!("nothing can be mounted here");
    }
    for args in ["serve --port 0 --db \"$2\"", "backup --db \"$2\"", "export --db \"$2\""] {
        let out = run(format!("{mount} && exec \"$1\" {args}"));
        let err = String::from_utf8_lossy(&out.stderr).into_owned();
        assert_eq!(out.status.code(), Some(1), "{args}: {err}");
        assert!(err.contains("can only be read here") && err.contains("write access"), "{args}: {err}");
    }
    assert_eq!(std::fs::read(&records).unwrap(), before);
}
