//! `search-saddle`, and how a command that takes seconds is watched: with a bar of what is done, and Ctrl-C to stop.

use super::{emit, emit_json, table};
use anyhow::bail;
use comfy_table::{Table, presets};
use indicatif::{ProgressBar, ProgressStyle};
use serde_json::Value;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use stillwheel_door::Fault;
use stillwheel_door::search_saddle::{DesignOut, SearchSaddleOut, search_saddle_watched};

/// Parts of the bar.
const WHOLE: f64 = 1000.0;

pub(super) fn search(input: Value, json: bool) -> anyhow::Result<()> {
    let input = stillwheel_door::search_saddle::read_search(input)?;
    let out = watched(|keep_going| search_saddle_watched(&input, keep_going))?;
    if json { emit_json(&serde_json::to_value(&out)?) } else { emit(&told(&out)?) }
}

/// Run what takes seconds, with a bar of what is done; Ctrl-C stops it.
pub(super) fn watched<T>(run: impl FnOnce(&(dyn Fn(f64) -> bool + Sync)) -> Result<Option<T>, Fault>) -> anyhow::Result<T> {
    let stop = Arc::new(AtomicBool::new(false));
    stop_on_ctrl_c(Arc::clone(&stop))?;
    // Drawn on standard error, and only where that is a terminal.
    let bar =
        ProgressBar::new(WHOLE as u64).with_style(ProgressStyle::with_template("{bar:40} {percent} %  {elapsed} of about {duration}")?);
    let out = run(&|share| {
        bar.set_position((share * WHOLE) as u64);
        !stop.load(Ordering::Relaxed)
    });
    bar.finish_and_clear();
    match out? {
        None => bail!("stopped before the end; nothing was decided"),
        Some(out) => Ok(out),
    }
}

/// The first Ctrl-C asks the search to end; what is in hand is finished, which takes some tens of milliseconds.
fn stop_on_ctrl_c(stop: Arc<AtomicBool>) -> anyhow::Result<()> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build()?;
    std::thread::spawn(move || {
        if runtime.block_on(tokio::signal::ctrl_c()).is_ok() {
            stop.store(true, Ordering::Relaxed);
        }
    });
    Ok(())
}

/// The trade-off as a table, worst values at the edges of the held clearance; the proposed design is marked.
fn told(out: &SearchSaddleOut) -> anyhow::Result<String> {
    let mut front = Table::new();
    front.load_style(presets::UTF8_BORDERS_ONLY);
    front.set_header([
        "",
        "clearance, µm",
        "length, mm",
        "port, mm",
        "jet, mm",
        "supply, bar",
        "air, l/min",
        "stiffness, N/µm",
        "floor, g·mm",
        "least film, µm",
    ]);
    for d in &out.front {
        front.add_row(row(d, *d == out.proposed));
    }
    let corners = table::render(&serde_json::to_value(out.corners)?);
    Ok(format!("{}\n\ntrade-off, worst at the edges of the clearance\n{front}\n\nproposed, at its corners\n{corners}", out.says))
}

fn row(d: &DesignOut, proposed: bool) -> [String; 10] {
    [
        if proposed { "→" } else { "" }.to_owned(),
        format!("{:.2}", d.clearance_um),
        format!("{:.2}", d.length_mm),
        format!("{:.2}", d.port_mm),
        d.jet_mm.map_or_else(|| "–".to_owned(), |j| format!("{j:.2}")),
        format!("{:.2}", d.supply_bar),
        format!("{:.3}", d.worst.flow_l_min),
        format!("{:.3}", d.worst.stiffness_n_um),
        format!("{:.3}", d.worst.floor_g_mm),
        format!("{:.2}", d.worst.least_film_um),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_shows_each_design_of_the_trade_off_once_and_marks_the_proposed_one() {
        let calculation = stillwheel_door::find("search-saddle").unwrap();
        let out: SearchSaddleOut = serde_json::from_value(calculation.run((calculation.example)()).unwrap()).unwrap();
        let text = told(&out).unwrap();
        assert_eq!(text.matches('→').count(), 1, "{text}");
        let rows = text.lines().filter(|l| l.starts_with('│') && l.contains(" 0.15 ")).count();
        assert_eq!(rows, out.front.len(), "every design of the example has the jet of 0.15 mm:\n{text}");
        assert!(text.starts_with(&out.says));
    }
}
