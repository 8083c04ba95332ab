//! Gather the rows that the tests wrote down into docs/verification.md.
//!
//! ```sh
//! cargo run -p stillwheel --example verification -- clear   # forget rows of earlier runs (of tests since renamed)
//! cargo test --workspace                                    # each check writes its row to target/verification/
//! cargo run -p stillwheel --example verification            # writes docs/verification.md, sorted by id
//! cargo run -p stillwheel --example verification -- check   # or only looks whether that document is up to date
//! ```
//!
//! Tests add rows by `reference/check.rs`; its head shows how.

use anyhow::{Context, Result, bail};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::path::Path;

fn main() -> Result<()> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let folder = root.join("target/verification");
    match std::env::args().nth(1).as_deref() {
        Some("clear") => {
            if folder.exists() {
                std::fs::remove_dir_all(&folder)?;
            }
            Ok(())
        }
        Some("check") => {
            let target = root.join("docs/verification.md");
            let written = std::fs::read_to_string(&target).with_context(|| target.display().to_string())?;
            compare(&written, &document(&read_rows(&folder)?))
        }
        Some(other) => bail!("{other}: the arguments there are, are `clear` and `check`"),
        None => {
            let rows = read_rows(&folder)?;
            let target = root.join("docs/verification.md");
            std::fs::write(&target, document(&rows)).with_context(|| target.display().to_string())?;
            println!("docs/verification.md: {} rows", rows.len());
            Ok(())
        }
    }
}

/// Whether the written document holds the checks that ran: what was checked, against what, how close, and from where. What came out
/// may differ in its last digits from machine to machine; that it lies within the tolerance is the tests' business.
fn compare(written: &str, ran: &str) -> Result<()> {
    let (written, ran) = (checks(written), checks(ran));
    let listed = |rows: Vec<&String>| rows.iter().take(10).fold(String::new(), |s, r| s + "\n  " + r);
    let gone: Vec<_> = written.difference(&ran).collect();
    let new: Vec<_> = ran.difference(&written).collect();
    if gone.is_empty() && new.is_empty() {
        println!("docs/verification.md is up to date: {} rows", ran.len());
        return Ok(());
    }
    bail!(
        "docs/verification.md is stale; write it anew (see the head of this example).\n{} rows of it did not run so:{}\n{} that ran are not in it:{}",
        gone.len(),
        listed(gone),
        new.len(),
        listed(new)
    )
}

/// The rows of the document without what came out and its difference.
fn checks(document: &str) -> BTreeSet<String> {
    let row = |line: &str| {
        let cells: Vec<&str> = line.split(" | ").collect();
        cells.iter().enumerate().filter(|(i, _)| *i != 3 && *i != 4).map(|(_, c)| *c).collect::<Vec<_>>().join(" | ")
    };
    document.lines().filter(|l| l.starts_with("| ") && !l.starts_with("| id ")).map(row).collect()
}

/// All rows, sorted by id and then by what was checked.
fn read_rows(folder: &Path) -> Result<Vec<Value>> {
    let entries = std::fs::read_dir(folder).with_context(|| format!("{}: run the tests first", folder.display()))?;
    let mut rows = Vec::new();
    for entry in entries {
        let path = entry?.path();
        rows.push(serde_json::from_str::<Value>(&std::fs::read_to_string(&path)?).with_context(|| path.display().to_string())?);
    }
    if rows.is_empty() {
        bail!("no rows: run the tests first");
    }
    rows.sort_by_key(|r| (text(r, "id"), text(r, "what")));
    Ok(rows)
}

fn text(row: &Value, key: &str) -> String {
    row[key].as_str().unwrap_or_default().to_owned()
}

/// A number with as many digits as its tolerance could be judged by; words as they are.
fn cell(value: &Value) -> String {
    match value {
        Value::Number(n) => {
            let v = n.as_f64().unwrap_or(f64::NAN);
            if v != 0.0 && !(1e-3..1e6).contains(&v.abs()) { format!("{v:.6e}") } else { short(v) }
        }
        Value::String(s) => s.clone(),
        _ => "–".to_owned(),
    }
}

fn short(v: f64) -> String {
    let digits = if v == 0.0 { 1 } else { (8 - v.abs().log10().floor() as i32 - 1).max(0) as usize };
    let text = format!("{v:.digits$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

fn document(rows: &[Value]) -> String {
    let mut kinds: BTreeMap<String, usize> = BTreeMap::new();
    for row in rows {
        *kinds.entry(text(row, "kind")).or_default() += 1;
    }
    let counts: Vec<String> = kinds.iter().map(|(kind, n)| format!("{kind}: {n}")).collect();
    let mut out = String::from("# Verification\n\n");
    out.push_str("Written by `cargo run -p stillwheel --example verification` from the rows that the tests assert; not by hand.\n");
    out.push_str("A row stands here only if its test ran; a row out of its tolerance fails that test.\n\n");
    let _ = writeln!(out, "{} rows ({}).\n", rows.len(), counts.join(", "));
    out.push_str("| id | what | expected | got | difference | tolerance | kind | source |\n|---|---|---|---|---|---|---|---|\n");
    for row in rows {
        let difference = row["difference"].as_f64().map_or_else(|| "–".to_owned(), |d| format!("{d:.1e}"));
        let _ = writeln!(
            out,
            "| {} | {} | {} | {} | {} | {} | {} | {} |",
            text(row, "id"),
            text(row, "what").replace('|', "\\|"),
            cell(&row["expected"]),
            cell(&row["got"]),
            difference,
            text(row, "tolerance"),
            text(row, "kind"),
            text(row, "source").replace('|', "\\|"),
        );
    }
    out
}
