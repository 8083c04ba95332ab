//! What happened in a sitting, in words, with undo.

use super::super::show::{Show, significant};
use super::screws;
use super::sitting_view::{View, hidden};
use super::time::{moment, span};
use crate::sitting::{LookBody, MoveBody, Source, VerdictBody};
use maud::{Markup, html};
use serde::de::DeserializeOwned;
use stillwheel_door::look::{Look, Reading, Sense};
use stillwheel_store::{Event, EventKind, RingKind, WeightRing};

/// The card.
pub(super) fn history_card(view: &View) -> Markup {
    let standing = &view.sat.standing;
    let ring = &view.sat.sitting.start.ring.body;
    let stands = |e: &Event| standing.live.iter().any(|l| l.seq == e.seq);
    html! {
        section.card {
            h2 { "History" }
            @if view.sat.events.is_empty() { p.soft { "Nothing yet." } }
            ol.history reversed {
                @for e in view.sat.events.iter().rev().filter(|e| e.kind != EventKind::Undo) {
                    li #{ "event-" (e.seq) } {
                        @if stands(e) { (words(view.show, ring, e)) (log_link(view, e)) } @else { span.undone { (words(view.show, ring, e)) } " " small { "taken back" } }
                        time datetime=(e.at) { (moment(e.at)) @if !e.who.is_empty() { " · " (e.who) } }
                    }
                }
            }
            @if !standing.closed {
                div.actions {
                    @if let Some(seq) = standing.can_undo { (undo_button(view, seq, "Take back the last one")) }
                    @if let Some(seq) = standing.can_redo { (undo_button(view, seq, "Bring it back")) }
                }
            }
        }
    }
}

/// To the picture of a look's swing log, where it was kept.
fn log_link(view: &View, e: &Event) -> Markup {
    html! { @if e.body.get("log").is_some() { " " a href={ (view.path()) "/log/" (e.seq) } { "what the log tells" } } }
}

fn undo_button(view: &View, seq: u32, text: &str) -> Markup {
    html! {
        form method="post" action={ (view.path()) "/undo" } {
            (hidden(view))
            input type="hidden" name="undoes" value=(seq);
            button.plain.wide type="submit" { (text) }
        }
    }
}

/// One event of a sitting on `ring` in words.
pub(super) fn words(show: Show, ring: &WeightRing, e: &Event) -> String {
    match e.kind {
        EventKind::Look => body::<LookBody>(e).map_or_else(unreadable, |b| {
            let from = match b.source {
                Source::Person => "",
                Source::SwingLog => " (swing log)",
                Source::VirtualBench => " (virtual bench)",
            };
            format!("{}{from}", look_words(show, &b.look))
        }),
        EventKind::Move => match (body::<MoveBody>(e), &ring.kind) {
            (Some(MoveBody::Slid { to_deg }), _) => {
                let places: Vec<String> = to_deg.iter().enumerate().map(|(i, d)| format!("{} at {}", i + 1, show.angle(*d))).collect();
                format!("Weights moved: {}", places.join(", "))
            }
            (Some(MoveBody::Screws { screw_in_hole }), RingKind::TappedHoles(t)) => {
                format!("Screws changed: {}", screws::in_words(show, t, &screw_in_hole))
            }
            _ => unreadable(),
        },
        EventKind::Verdict => body::<VerdictBody>(e).map_or_else(unreadable, |b| {
            if b.proven { "Verdict: proven within the allowance".into() } else { "Verdict: closed without proof".into() }
        }),
        EventKind::Undo => "Something taken back".into(),
        EventKind::Note => format!("Remark: {}", e.body.get("text").and_then(|t| t.as_str()).unwrap_or("")),
        EventKind::Closed => "Closed".into(),
        EventKind::Reopened => "Opened again".into(),
    }
}

/// A look in words.
pub(super) fn look_words(show: Show, look: &Look) -> String {
    let what = match &look.reading {
        Reading::Settle { settle_deg, .. } => format!("Settled with {} at the bottom", show.angle(*settle_deg)),
        Reading::Swing { swings, time_s, amplitude_deg, .. } => {
            let count = match *swings {
                0.5 => "Half a swing".to_owned(),
                1.0 => "1 swing".to_owned(),
                n => format!("{} swings", significant(n, 3)),
            };
            format!("{count} from {}° in {}", significant(*amplitude_deg, 3), span(*time_s))
        }
        Reading::StillOut { waited_s, amplitude_deg, .. } => {
            format!("From {}°, still out after {}", significant(*amplitude_deg, 3), span(*waited_s))
        }
        Reading::Holds { bottom_deg, .. } => format!("Holds with {} at the bottom", show.angle(*bottom_deg)),
        Reading::Log { heavy_deg, .. } => format!("Swing log: heavy side at {}", show.angle(*heavy_deg)),
        Reading::Creeps { sense: Sense::Clockwise, .. } => "Creeps clockwise for ever".into(),
        Reading::Creeps { .. } => "Creeps counter-clockwise for ever".into(),
        Reading::Stays { .. } => "Stays wherever it is put".into(),
    };
    let what = if look.turned_on_arbor_deg == 0.0 {
        what
    } else {
        format!("{what}, rotor turned by {} on the arbor", show.angle(look.turned_on_arbor_deg))
    };
    match &look.trial {
        Some(t) => format!("{what}, trial weight {} at {}, {}", show.mass(t.mass_g), show.angle(t.at_deg), show.length(t.radius_mm)),
        None => what,
    }
}

fn body<B: DeserializeOwned>(e: &Event) -> Option<B> {
    serde_json::from_value(e.body.clone()).ok()
}

fn unreadable() -> String {
    "A record that this version can’t read".into()
}
