//! The sitting's page from its view: what to do now, the picture, the looks, the verdict, the history.

use super::super::form::{Typed, fault_summary};
use super::super::show::Show;
use super::super::wheel::picture;
use super::history::{history_card, words};
use super::look_forms::look_forms;
use super::time::moment;
use super::{plan, scene, template, verdict, virtual_looks};
use crate::sitting::{LookBody, Sat};
use maud::{Markup, html};
use stillwheel_door::look::Reading;
use stillwheel_door::next_step::{Action, Reader};
use stillwheel_physics::quantity::RotorAngle;
use stillwheel_store::{Event, EventKind};

/// What came back from an act that was not stored.
#[derive(Default)]
pub(super) struct Note {
    /// Which form it was.
    pub(super) kind: Option<String>,
    /// What was typed there, with faults.
    pub(super) typed: Typed,
    /// Somebody else wrote in between: what to say, and what they wrote.
    pub(super) conflict: Option<(String, Vec<Event>)>,
}

/// Everything that the page shows.
pub(super) struct View {
    /// The sitting.
    pub(super) sat: Sat,
    /// Display choices.
    pub(super) show: Show,
    /// How well this sitting's operator reads.
    pub(super) reader: Reader,
    /// Token for the next act.
    pub(super) token: String,
    /// What came back.
    pub(super) note: Note,
    /// The event that was just stored, to be played on the virtual stand.
    pub(super) just_seen: Option<u32>,
}

impl View {
    /// Address of the sitting.
    pub(super) fn path(&self) -> String {
        format!("/sittings/{}", self.sat.sitting.id)
    }

    /// Whether the stand is the virtual bench.
    pub(super) fn is_virtual(&self) -> bool {
        self.sat.sitting.start.stand.body.virtual_seed.is_some()
    }
}

/// The hidden fields that make an act safe to send twice.
pub(super) fn hidden(view: &View) -> Markup {
    html! {
        input type="hidden" name="token" value=(view.token);
        input type="hidden" name="after_seq" value=(view.sat.standing.latest_seq);
    }
}

/// The page's content.
pub(super) fn body(view: &View) -> Markup {
    let start = &view.sat.sitting.start;
    let moving = view.sat.step.as_ref().is_ok_and(|s| s.action == Action::MoveThenLook);
    let open = !view.sat.standing.closed;
    html! {
        h1 { (start.rotor.body.name) }
        p.lead { (start.stand.body.name) " stand · for " (start.machine.body.name) @if !start.operator.is_empty() { " · " (start.operator) } }
        @if let Some(conflict) = &view.note.conflict { (conflict_card(view, conflict)) }
        (fault_summary(view.note.typed.faults().iter()))
        p.live-note.visually-hidden role="status" data-live-note {}
        div.sitting data-sitting=(view.path()) data-seq=(view.sat.standing.latest_seq) {
            div.first { (plan::now_card(view)) }
            div.more {
                div {
                    @if let Some(shown) = just_seen(view) { (shown) }
                    @if open { (look_forms(view)) }
                }
                @if open {
                    section.card {
                        h2 { "Other" }
                        @if view.is_virtual() { (virtual_looks::other_looks(view, moving)) }
                        (plan::free_move(view))
                        (plan::close_unproven(view))
                    }
                }
            }
            div.side { (verdict::verdict_card(view)) (at_the_grinder(view)) (template::card(&view.path(), "The ring with the weights where they are and where they shall go.")) (history_card(view)) }
        }
    }
}

/// What comes after the stand: the points before it runs, and the trim in place.
fn at_the_grinder(view: &View) -> Markup {
    html! {
        section.card {
            h2 { "At the grinder" }
            @match &view.sat.mounting {
                Some(m) if m.body.out.may_be_mounted => p { span.tag.good { "✓ Mounted" } " " (moment(m.at)) },
                Some(m) => p { span.tag.warn { "– Not mounted" } " " (m.body.out.says) },
                None => p.soft { "Not mounted yet." },
            }
            @if let Some(t) = view.sat.trims.last() { p { "Trimmed in place, " (moment(t.at)) ": the weights stand as shown since." } }
            div.links { a href={ (view.path()) "/mounting" } { "Before it runs" } a href={ (view.path()) "/trim" } { "Trim in place" } }
        }
    }
}

fn conflict_card(view: &View, (say, since): &(String, Vec<Event>)) -> Markup {
    html! {
        section.card.faults role="alert" {
            h2 { "Meanwhile something else was stored" }
            p { (say) }
            @if !since.is_empty() {
                ul { @for e in since { li { (words(view.show, &view.sat.sitting.start.ring.body, e)) @if !e.who.is_empty() { " (" (e.who) ")" } } } }
            }
            p { "The page below shows the sitting as it is now. What you typed is kept: send it again if it still holds." }
        }
    }
}

/// The look that was just taken on the virtual stand, in words.
pub(super) fn just_seen_words(view: &View) -> Option<String> {
    let seq = view.just_seen?;
    let event = view.sat.standing.live.iter().find(|e| e.seq == seq && e.kind == EventKind::Look)?;
    Some(words(view.show, &view.sat.sitting.start.ring.body, event))
}

/// The virtual stand's wheel as it moved for the look just taken.
fn just_seen(view: &View) -> Option<Markup> {
    let seq = view.just_seen?;
    let event = view.sat.standing.live.iter().find(|e| e.seq == seq && e.kind == EventKind::Look)?;
    let ring = &view.sat.sitting.start.ring.body;
    let look = serde_json::from_value::<LookBody>(event.body.clone()).ok()?.look;
    let settled = view.sat.looks.iter().rev().find_map(|l| match l.look.reading {
        Reading::Settle { settle_deg, .. } if l.look.weights == look.weights => Some(settle_deg),
        _ => None,
    });
    let (rest, amplitude, period) = match look.reading {
        Reading::Settle { settle_deg, .. } => (settle_deg, None, None),
        Reading::Swing { swings, time_s, amplitude_deg, .. } => {
            (settled.unwrap_or(180.0), Some(amplitude_deg), Some(time_s / swings.max(0.5)))
        }
        // Still on its way to the other turning point: a quarter of its swing at most was seen.
        Reading::StillOut { amplitude_deg, waited_s, .. } => (settled.unwrap_or(180.0), Some(amplitude_deg), Some(4.0 * waited_s)),
        _ => return None,
    };
    let mut shown = scene::as_it_is("seen", &look.weights, ring, view.show);
    shown.title = words(view.show, ring, event);
    shown.zero_mark = stillwheel_drawing::settled(RotorAngle::from_deg(rest));
    shown.bottom_pointer = true;
    Some(html! {
        section.card.seen {
            h2 { "You saw" }
            div.playing data-play data-rest=(-rest) data-amplitude=[amplitude] data-period=[period] { (picture(&shown, view.show)) }
            p { b { (words(view.show, ring, event)) } }
        }
    })
}
