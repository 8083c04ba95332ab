//! `backup` and `restore`: whole copies of the records, from a script or when the pages can't be opened any more.

use super::program::records_file;
use crate::cli::{emit, emit_json};
use anyhow::{Context as _, bail, ensure};
use clap::Args;
use jiff::Timestamp;
use serde_json::json;
use std::fmt::Write as _;
use std::path::PathBuf;
use stillwheel_store::{Backups, Contents, Keep, Reason, Store, StoreFault};

/// Flags of `backup`.
#[derive(Args, Clone, Debug)]
pub(super) struct BackupArgs {
    /// Database of the records.
    #[arg(long, value_name = "FILE", env = "STILLWHEEL_DB")]
    db: Option<PathBuf>,
    /// Folder of the backups, in place of the one beside the records.
    #[arg(long, value_name = "FOLDER")]
    folder: Option<PathBuf>,
    /// Show the backups that there are; make none.
    #[arg(long)]
    list: bool,
    /// As the program does by itself: only if something was written since the last one, and old ones are thinned out.
    #[arg(long, conflicts_with_all = ["list", "file"])]
    rotate: bool,
    /// File to write, in place of a new one in the folder; one that is there is never overwritten.
    #[arg(conflicts_with_all = ["list", "folder"])]
    file: Option<PathBuf>,
}

/// Flags of `restore`.
#[derive(Args, Clone, Debug)]
pub(super) struct RestoreArgs {
    /// Database of the records.
    #[arg(long, value_name = "FILE", env = "STILLWHEEL_DB")]
    db: Option<PathBuf>,
    /// Folder of the backups, in place of the one beside the records; what is there now is set aside in it.
    #[arg(long, value_name = "FOLDER")]
    folder: Option<PathBuf>,
    /// Take the newest backup of the folder.
    #[arg(long, conflicts_with = "backup")]
    latest: bool,
    /// The backup: a file, or a name of `backup --list`.
    #[arg(required_unless_present = "latest")]
    backup: Option<PathBuf>,
}

fn folder_of(records: &std::path::Path, named: Option<&PathBuf>) -> Backups {
    named.map_or_else(|| Backups::beside(records), Backups::within)
}

pub(super) fn backup(args: &BackupArgs, as_json: bool) -> anyhow::Result<()> {
    let records = records_file(args.db.as_ref())?;
    let backups = folder_of(&records, args.folder.as_ref());
    if args.list {
        return list(&backups, as_json);
    }
    ensure!(records.exists(), "{} is not there: nothing to back up", records.display());
    let store = Store::open(&records)?;
    let made = if let Some(file) = &args.file {
        store.backup(file)?;
        Some(file.clone())
    } else if args.rotate {
        backups.take_if_changed(&store, &Keep::default(), Timestamp::now())?.map(|file| file.path)
    } else {
        Some(backups.take(&store, Reason::ByHand, Timestamp::now())?.path)
    };
    if as_json {
        return emit_json(&json!({ "file": made, "holds": store.contents()? }));
    }
    match made {
        Some(file) => emit(&format!("{}: {}.\n", file.display(), counted(&store.contents()?))),
        None => emit("Nothing was written since the last backup.\n"),
    }
}

fn list(backups: &Backups, as_json: bool) -> anyhow::Result<()> {
    let all = backups.list()?;
    if as_json {
        let rows = all.iter().map(|f| json!({ "file": f.path, "at": f.at, "bytes": f.bytes })).collect();
        return emit_json(&serde_json::Value::Array(rows));
    }
    let mut text = format!("{}: {} backups, newest first\n", backups.folder().display(), all.len());
    for file in all {
        let _ = writeln!(text, "  {}  {} bytes", file.name(), file.bytes);
    }
    emit(&text)
}

pub(super) fn restore(args: &RestoreArgs, as_json: bool) -> anyhow::Result<()> {
    let records = records_file(args.db.as_ref())?;
    let backups = folder_of(&records, args.folder.as_ref());
    let from = match &args.backup {
        Some(file) if file.exists() => file.clone(),
        Some(name) => backups.named(&name.to_string_lossy())?.path,
        None => {
            let usable = backups.list()?.into_iter().find(|file| file.reason != Reason::Damaged);
            usable.with_context(|| format!("there is no backup in {}", backups.folder().display()))?.path
        }
    };
    if records.exists() && same_file(&from, &records) {
        bail!("{} is the records themselves, not a backup of them", from.display());
    }
    let now = Timestamp::now();
    let done = match if records.exists() { Store::open(&records).map(Some) } else { Ok(None) } {
        Ok(Some(store)) => backups.restore(&store, &from, now)?,
        // Its beginning is gone, or it is not there: then the file itself is put in place.
        Ok(None) | Err(StoreFault::NotOurs { .. } | StoreFault::Corrupt { .. }) => backups.restore_file(&records, &from, now)?,
        Err(fault) => return Err(fault.into()),
    };
    if as_json {
        return emit_json(&json!({ "from": from, "set_aside": done.set_aside, "holds": done.contents }));
    }
    let aside = done.set_aside.map_or_else(String::new, |file| format!("What was there before: {}\n", file.display()));
    emit(&format!("Restored from {}: {}.\n{aside}", from.display(), counted(&done.contents)))
}

fn same_file(a: &std::path::Path, b: &std::path::Path) -> bool {
    match (a.canonicalize(), b.canonicalize()) {
        (Ok(a), Ok(b)) => a == b,
        _ => false,
    }
}

fn counted(c: &Contents) -> String {
    format!("{} records in {} revisions, {} sittings with {} events", c.records, c.revisions, c.sittings, c.events)
}
