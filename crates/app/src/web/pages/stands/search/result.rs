//! A search as it goes and as it ended: the bar, the fault, the trade-off with its designs.

use super::super::super::super::form::{Typed, fault_summary};
use super::super::super::super::searches::{Ended, Job};
use super::super::super::super::show::{Show, significant};
use maud::{Markup, PreEscaped, html};
use stillwheel_door::search_saddle::{DesignOut, SearchSaddleOut};
use stillwheel_drawing::{TradeOff, TradeOffDesign, trade_off};

/// One search in a list.
pub(super) fn line(job: &Job, path: &str) -> Markup {
    let words = match job.ended() {
        None => format!("running, {:.0} % done", 100.0 * job.share()),
        Some(Ended::Found(out)) => format!("{} designs, proposed number {}", out.front.len(), place(out) + 1),
        Some(Ended::Nothing(_)) => "nothing fits".to_owned(),
        Some(Ended::Stopped) => "stopped".to_owned(),
        Some(Ended::Broke) => "broke off".to_owned(),
    };
    let asked = &job.begin.input;
    html! {
        a.row href={ (path) "/search/" (job.id) } {
            span.what { b { (words) } small { "clearance " (asked.clearance_um.from) " to " (asked.clearance_um.to) " µm, after " (seconds(job.time().as_secs_f64())) } }
        }
    }
}

fn seconds(s: f64) -> String {
    if s < 100.0 { format!("{s:.0} s") } else { format!("{:.0} min", s / 60.0) }
}

/// The part that changes while it runs. Its `data-state` tells a script when to load the whole page.
pub(super) fn state(job: &Job) -> Markup {
    let (share, time) = (job.share(), job.time().as_secs_f64());
    html! {
        @if job.ended().is_some() { div data-state="ended" {} }
        @else {
            div data-state="running" {
                progress max="1" value=(format!("{share:.3}")) aria-label="How much of the search is done" { (format!("{:.0} %", 100.0 * share)) }
                p.num {
                    (format!("{:.0} %", 100.0 * share)) " after " (seconds(time))
                    @if share > 0.03 { ", about " (seconds(time * (1.0 - share) / share)) " to go" }
                    @if job.is_stopping() { ". Stopping." }
                }
            }
        }
    }
}

/// The whole page of a search.
pub(super) fn body(job: &Job, stand: &str, typed: &Typed, show: Show) -> Markup {
    let path = format!("/stands/{}", job.begin.stand);
    let here = format!("{path}/search/{}", job.id);
    html! {
        h1 { "A design for " (stand) }
        (fault_summary(typed.faults().iter()))
        @match job.ended() {
            None => {
                section.card.narrow {
                    h2 { "Searching" }
                    div.watched data-watch-search=(here) { (state(job)) }
                    form method="post" action={ (here) "/stop" } { div.actions { button type="submit" { "Stop" } } }
                    p.soft { "It goes on whether this page is open or not." }
                    noscript { p { "This page loads itself anew every two seconds. " a href=(here) { "Load it now" } } }
                }
            }
            Some(Ended::Found(out)) => (found(job, out, &here, show)),
            Some(Ended::Nothing(f)) => {
                section.card.narrow.faults role="alert" {
                    h2 { "Nothing fits" }
                    p { b { (asked_words(&f.field)) " is " (f.value) "." } " " (f.why) @if !f.allowed.is_empty() { " Allowed: " (f.allowed) "." } }
                }
            }
            Some(Ended::Stopped) => section.card.narrow { h2 { "Stopped" } p { "Nothing was decided; the sheet is as it was." } }
            Some(Ended::Broke) => section.card.narrow.faults role="alert" { h2 { "Something broke" } p { "A fault of the program itself. The sheet is as it was." } }
        }
        section.card.narrow {
            div.links {
                a href={ (path) "/search?from=" (job.id) } { "Search again, with changes" }
                a href=(path) { "Back to the stand" }
            }
        }
    }
}

/// The form's words for a field of the door's.
fn asked_words(field: &str) -> &str {
    match field {
        "most_flow_l_min" => "Air for both saddles (l/min)",
        "highest_floor_g_mm" => "The floor (g·mm)",
        "least_stiffness_n_um" => "The stiffness of a saddle (N/µm)",
        "least_damping_ratio" => "The damping of the bouncing (of critical)",
        "lifts_by_itself" => "That the arbor lifts by itself",
        "clearance_held_um" => "The clearance held (µm)",
        "clearance_um.from" | "clearance_um.to" | "clearance_um.count" => "The clearance to try (µm)",
        "length_mm.from" | "length_mm.to" | "length_mm.count" => "The length to try (mm)",
        "supply_bar.from" | "supply_bar.to" | "supply_bar.count" => "The supply to try (bar)",
        "ports_mm" => "The ports (mm)",
        "jets_mm" => "The jets (mm)",
        "stand.mass_kg" => "The rotor’s mass (kg)",
        other => other,
    }
}

fn place(out: &SearchSaddleOut) -> usize {
    out.front.iter().position(|d| *d == out.proposed).unwrap_or(0)
}

fn sizes(d: &DesignOut) -> String {
    let jet = d.jet_mm.map_or_else(|| "no jet".to_owned(), |j| format!("jet Ø {}", significant(j, 3)));
    format!(
        "clearance {} µm, length {} mm, port Ø {}, {jet} mm, {} bar",
        significant(d.clearance_um, 3),
        significant(d.length_mm, 3),
        significant(d.port_mm, 3),
        significant(d.supply_bar, 3)
    )
    .replace("no jet mm", "no jet")
}

fn merits(d: &DesignOut, show: Show) -> String {
    format!(
        "{} l/min, {} N/µm, floor {}",
        significant(d.worst.flow_l_min, 3),
        significant(d.worst.stiffness_n_um, 3),
        show.unbalance(d.worst.floor_g_mm)
    )
}

fn found(job: &Job, out: &SearchSaddleOut, here: &str, show: Show) -> Markup {
    let proposed = place(out);
    let c = &out.corners;
    let row = |k: usize, d: &DesignOut| {
        html! {
            label.row {
                input type="radio" name="design" value=(k + 1) checked[k == proposed];
                span.what { b { (k + 1) ": " (merits(d, show)) @if k == proposed { " " span.tag.act { "proposed" } } } small { (sizes(d)) } }
            }
        }
    };
    html! {
        div.cols {
            div {
                section.card {
                    h2 { "Proposed" }
                    p { b { (sizes(&out.proposed)) } }
                    p { (out.says) }
                    dl.facts {
                        dt { "Air at its corners, at most" } dd { (significant(c.flow_l_min, 3)) " l/min" }
                        dt { "Stiffness there, at least" } dd { (significant(c.stiffness_n_um, 3)) " N/µm" }
                        dt { "Thinnest film there" } dd { (significant(c.least_film_um, 3)) " µm" }
                        dt { "Drift there, at most" } dd { (show.unbalance(c.drift_g_mm)) }
                        dt { "Load over the largest that floats" } dd { (significant(100.0 * c.load_share, 2)) " %" }
                        dt { "Lifts by itself from" } dd { @match c.lift_off_bar { Some(p) => { (significant(p, 3)) " bar" } None => { "no workshop pressure" } } }
                        dt { "Bouncing damped, at least" } dd { (significant(100.0 * c.damping_ratio, 2)) " % of critical" }
                    }
                }
                section.card { h2 { "What each costs" } (picture(job, out, proposed)) }
            }
            div {
                form.card method="post" action={ (here) "/take" } {
                    h2 { "Take a design" }
                    p.soft { (out.front.len()) " of " (out.tried) " designs are beaten by none. Each at its worst within the clearance held." }
                    ul.list.designs { @for (k, d) in out.front.iter().enumerate() { li { (row(k, d)) } } }
                    div.actions { button.main type="submit" { "Take this design" } }
                    p.soft { "It goes into the stand’s sheet as a new revision; remarks stay." }
                }
            }
        }
    }
}

fn picture(job: &Job, out: &SearchSaddleOut, proposed: usize) -> Markup {
    let of = |d: &DesignOut| TradeOffDesign {
        air_l_min: d.worst.flow_l_min,
        stiffness_n_um: d.worst.stiffness_n_um,
        floor_g_mm: d.worst.floor_g_mm,
    };
    let asked = &job.begin.input;
    let svg = trade_off(&TradeOff {
        title: "Stiffness and floor over air".to_owned(),
        id_prefix: "trade-".to_owned(),
        designs: out.front.iter().map(of).collect(),
        proposed,
        demanded: TradeOffDesign {
            air_l_min: out.most_flow_l_min,
            stiffness_n_um: asked.least_stiffness_n_um,
            floor_g_mm: out.highest_floor_g_mm,
        },
    });
    match svg {
        Ok(svg) => html! { div.plot { (PreEscaped(svg)) } },
        Err(f) => html! { p.fault { "The picture can’t be drawn: " (f) } },
    }
}
