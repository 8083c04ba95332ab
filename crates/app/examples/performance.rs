//! Measure the program as it is shipped: pages, cold start, memory, size.
//!
//! ```sh
//! cargo build --release -p stillwheel
//! cargo run -p stillwheel --example performance          # or with the path of another binary
//! ```
//!
//! Prints a table for docs/performance.md. Times are those of a client on the same machine, connection included.

#[path = "../tests/common/mod.rs"]
mod common;

use common::{PageForm, Program, get, post_file};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;
use stillwheel_store::Store;

/// Loads of each page.
const LOADS: usize = 60;
/// Cold starts.
const STARTS: usize = 15;

fn main() -> anyhow::Result<()> {
    let binary = std::env::args()
        .nth(1)
        .map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("../../target/release/stillwheel"), PathBuf::from);
    anyhow::ensure!(binary.exists(), "{} is not there: cargo build --release -p stillwheel", binary.display());
    let folder = tempfile::tempdir()?;
    let records = folder.path().join("records.db");
    let bench = stillwheel::sitting::Bench::new(std::sync::Arc::new(Store::open(&records)?));
    let mut fernhill = stillwheel::demo::records(bench.store(), stillwheel::demo::OPENED.parse()?)?;
    stillwheel::demo::play_season(&bench, &mut fernhill)?;
    drop(bench);

    println!("| figure | median | 95 % | reach |\n|---|---|---|---|");
    let mut starts = Vec::new();
    for _ in 0..STARTS {
        let begun = Instant::now();
        let program = serve(&binary, &records);
        anyhow::ensure!(program.get("/").status == 200, "the first page fails");
        starts.push(begun.elapsed().as_secs_f64() * 1e3);
    }
    row("cold start to the first page", &mut starts, "150 ms");

    let program = serve(&binary, &records);
    let idle = memory_mb(&program, "VmRSS");
    let sitting = play(&program)?;
    let ring = program.get("/rotors").text();
    let ring = ring.split("/records/rings/").nth(1).and_then(|r| r.split('"').next()).unwrap_or_default().to_owned();
    for (what, path) in [
        ("page: bench", "/".to_owned()),
        ("page: rotors", "/rotors".to_owned()),
        ("page: new sitting, allowance worked out", "/sittings/new".to_owned()),
        ("page: sitting with its looks", sitting.clone()),
        ("page: certificate", format!("{sitting}/certificate")),
        ("page: records", "/records".to_owned()),
        ("page: help", "/help".to_owned()),
        ("template as PDF", format!("/records/rings/{ring}/template/a4.pdf")),
    ] {
        let mut times = Vec::new();
        for _ in 0..LOADS {
            let begun = Instant::now();
            let answer = get(&program.address, &path)?;
            times.push(begun.elapsed().as_secs_f64() * 1e3);
            anyhow::ensure!(answer.status == 200, "{path}: {}", answer.status);
        }
        row(what, &mut times, if what.starts_with("page") { "20 ms" } else { "–" });
    }
    slider(&program)?;
    println!("| memory: idle | {idle:.0} MB | – | 100 MB |");
    println!("| memory: peak over the above, a sitting and a swing log | {:.0} MB | – | 100 MB |", memory_mb(&program, "VmHWM"));
    println!("| binary | {:.1} MB | – | 40 MB |", std::fs::metadata(&binary)?.len() as f64 / 1e6);
    Ok(())
}

/// A stand's page, and a move of each of two sliders: film, budget and all pictures computed anew.
fn slider(program: &Program) -> anyhow::Result<()> {
    let list = program.get("/stands").text();
    let birch = list.split("href=\"").find(|part| part.starts_with("/stands/") && part.contains("Birch")).unwrap_or_default();
    let path = birch.split('"').next().unwrap_or_default().to_owned();
    let (mut loads, mut moves) = (Vec::new(), Vec::new());
    for k in 0..LOADS {
        let begun = Instant::now();
        anyhow::ensure!(program.get(&path).status == 200, "{path} fails");
        loads.push(begun.elapsed().as_secs_f64() * 1e3);
        let (clearance, supply) = (format!("{}", 11.0 + 0.1 * (k % 50) as f64), format!("{}", 3.5 + 0.02 * (k % 40) as f64));
        let begun = Instant::now();
        let answer = program.post(&format!("{path}/tried"), &[("saddles.radial_clearance_um", &clearance), ("feed.supply_bar", &supply)]);
        moves.push(begun.elapsed().as_secs_f64() * 1e3);
        anyhow::ensure!(answer.status == 200, "tried at {clearance} µm, {supply} bar: {}", answer.status);
    }
    row("stand: its page with film, budget and pictures", &mut loads, "100 ms");
    row("stand: a slider moved, all pictures anew", &mut moves, "100 ms");
    Ok(())
}

fn serve(binary: &Path, records: &Path) -> Program {
    let mut command = Command::new(binary);
    command.args(["serve", "--port", "0", "--db"]).arg(records);
    Program::start(command)
}

/// A sitting by its advised buttons to the verdict, and a minute of a swing log in another. The first one's address.
fn play(program: &Program) -> anyhow::Result<String> {
    let quick = [("quick", "yes"), ("stand", "virtual"), ("operator", "Ada")];
    let other = program.post("/sittings", &quick).location();
    let mut csv = String::from("t_s,angle_deg\n");
    for i in 0..1800 {
        let t = f64::from(i) / 30.0;
        let _ = writeln!(csv, "{t:.3},{:.1}", 220.0 + 40.0 * (0.5 * t).cos() * (-0.01 * t).exp());
    }
    let act = [("token", "log"), ("after_seq", "0")];
    let answer = post_file(&program.address, &format!("{other}/log"), &act, "file", csv.as_bytes())?;
    anyhow::ensure!(matches!(answer.status, 303 | 422), "the log: {}", answer.text());
    let path = program.post("/sittings", &quick).location();
    for _ in 0..30 {
        let page = program.get(&path).text();
        let card = page.split("<section class=\"card now").nth(1).unwrap_or_default().split("</section>").next().unwrap_or_default();
        let advised = PageForm::holding(card, "big wide main").or_else(|| PageForm::holding(card, "main big wide"));
        let Some(advised) = advised.filter(|_| !card.contains("/certificate\"")) else { break };
        advised.send(program).location();
    }
    Ok(path)
}

fn row(what: &str, times: &mut [f64], reach: &str) {
    times.sort_by(f64::total_cmp);
    println!("| {what} | {:.1} ms | {:.1} ms | {reach} |", times[times.len() / 2], times[times.len() * 19 / 20]);
}

/// From the kernel's account of the process (Linux).
fn memory_mb(program: &Program, which: &str) -> f64 {
    let status = std::fs::read_to_string(format!("/proc/{}/status", program.process.id())).unwrap_or_default();
    let line = status.lines().find(|l| l.starts_with(which)).unwrap_or_default();
    line.split_whitespace().nth(1).and_then(|kb| kb.parse::<f64>().ok()).unwrap_or(f64::NAN) / 1024.0
}
