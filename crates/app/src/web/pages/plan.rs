//! What to do now: one sentence, the picture, the moves, and the one button.

use super::super::form::{Field, Typed, field};
use super::super::show::{Angles, Show, significant};
use super::super::wheel::picture;
use super::sitting_view::{View, hidden, just_seen_words};
use super::time::span;
use super::verdict::percent;
use super::{scene, screws, virtual_looks};
use crate::sitting::screws_in;
use maud::{Markup, html};
use stillwheel_door::look::WeightAt;
use stillwheel_door::next_step::{Action, LookKind, NextStepOut, WeightMove};
use stillwheel_store::{RingKind, WeightRing};

/// The card on top of a sitting.
pub(super) fn now_card(view: &View) -> Markup {
    match &view.sat.step {
        Err(fault) => html! {
            section.card.now.stuck {
                p.say { "The next step can't be worked out." }
                p { (fault) }
                p { "The looks are stored. Take back the look that does not fit, or enter another." }
            }
        },
        Ok(_) if view.sat.standing.closed => closed_card(view),
        Ok(step) => open_card(view, step),
    }
}

fn closed_card(view: &View) -> Markup {
    let proven = view.sat.verdict.as_ref().is_some_and(|v| v.proven);
    let note = view.sat.verdict.as_ref().map_or("", |v| v.note.as_str());
    html! {
        section.card.now .done[proven] .stuck[!proven] {
            p.say { @if proven { "✓ Done: the residual is proven to be within the allowance." } @else { "This sitting was closed without proof." } }
            (finished_wheel(view))
            div.do {
                @if !note.is_empty() { p { "Remark: " (note) } }
                a.button.main.big.wide href={ (view.path()) "/certificate" } { "Certificate" }
                @if proven { (grinder_caution(view)) }
                form.links method="post" action={ (view.path()) "/reopen" } { (hidden(view)) button.as-link type="submit" { "Open it again" } }
            }
        }
    }
}

/// A trim in place has the last word on where the weights stand; the stand's proposal would move them back.
fn finished_wheel(view: &View) -> Markup {
    if view.sat.trims.is_empty() {
        return wheel(view);
    }
    let shown = scene::as_it_is("plan", &view.sat.weights, &view.sat.sitting.start.ring.body, view.show);
    html! { div.as-it-is { (picture(&shown, view.show)) p.soft { "As trimmed in place." } } }
}

fn open_card(view: &View, step: &NextStepOut) -> Markup {
    let stuck = matches!(step.action, Action::StandCannotShow | Action::WeightsTooLight);
    let changes = !step.moves.is_empty() || !step.screw_changes.is_empty();
    html! {
        section.card.now .done[step.action == Action::Accept] .stuck[stuck] aria-labelledby="now" {
            h2.visually-hidden #now { "What to do now" }
            @if let Some(seen) = just_seen_words(view) { p.saw aria-live="polite" { "You saw: " b { (seen) } } }
            p.say { (sentence(view.show, step)) }
            // On a real stand the form below has the wheel, to be turned as the real one stands.
            @if view.is_virtual() || step.action != Action::Look || step.look == Some(LookKind::Swing) { (wheel(view)) }
            div.do {
                @match step.action {
                    Action::Accept => (accept(view)),
                    Action::MoveThenLook => (moves(view, step)),
                    Action::Look => (look(view, step)),
                    Action::StandCannotShow | Action::WeightsTooLight => {
                        @if changes { (moves(view, step)) }
                        (give_up(view))
                    }
                }
            }
        }
    }
}

/// The step in a sentence, its numbers in this person's unit and as the verdict shows them.
fn sentence(show: Show, step: &NextStepOut) -> String {
    let allowance = show.unbalance(step.allowance_g_mm);
    match step.action {
        Action::Accept => format!("Balanced: the residual is within {allowance}, {} sure.", percent(step.p_within_allowance)),
        Action::StandCannotShow => format!(
            "This stand can't prove it: its floor is {} and the allowance {allowance}. Use a better stand, or allow more.",
            show.unbalance(step.floor_g_mm)
        ),
        _ => show.told(&step.say),
    }
}

/// The wheel as it stands, with what shall be moved and what is believed of the residual.
fn wheel(view: &View) -> Markup {
    let ring = &view.sat.sitting.start.ring.body;
    let where_they_are = match &ring.kind {
        RingKind::Groove(_) => {
            let place = |(i, w): (usize, &WeightAt)| format!("weight {} at {}", i + 1, view.show.angle(w.at_deg));
            view.sat.weights.iter().enumerate().map(place).collect::<Vec<_>>().join(", ")
        }
        RingKind::TappedHoles(t) => screws::in_words(view.show, t, &screws_in(ring, &view.sat.weights)),
    };
    html! { div.as-it-is { (picture(&scene::plan("plan", &view.sat, view.show), view.show)) p.soft { "Now: " (where_they_are) "." } } }
}

fn accept(view: &View) -> Markup {
    html! {
        form method="post" action={ (view.path()) "/verdict" } {
            (hidden(view))
            input type="hidden" name="proven" value="yes";
            button.main.big.wide type="submit" { "Accept, make the certificate" }
        }
        (grinder_caution(view))
    }
}

fn look(view: &View, step: &NextStepOut) -> Markup {
    html! {
        @if view.is_virtual() { (virtual_looks::buttons(view, step)) } @else {
            @match step.look {
                Some(LookKind::Settle) => a.button.main.big.wide href="#look-settle" data-open="look-settle" { "Enter where it settled" },
                Some(LookKind::Swing) => {
                    (swing_facts(view.show, step))
                    a.button.main.big.wide href="#look-swing" data-open="look-swing" { "Time the swing" }
                },
                None => a.button.main.big.wide href="#looks" { "Enter a look" },
            }
        }
    }
}

/// Where to let go and how long it will take.
pub(super) fn swing_facts(show: Show, step: &NextStepOut) -> Markup {
    html! {
        dl.facts {
            @if let Some(deg) = step.let_go_deg { dt { "Let go with" } dd { (show.angle(deg)) " at the bottom" } }
            @if let Some(n) = step.swings { dt { "Time" } dd { @if n == 0.5 { "half a swing, to the other turning point" } @else { (significant(n, 3)) @if n == 1.0 { " full swing" } @else { " full swings" } } } }
            @if let Some(t) = step.expected_period_s { dt { "One swing" } dd { "about " (span(t)) } }
        }
        p {}
    }
}

fn moves(view: &View, step: &NextStepOut) -> Markup {
    let ring = &view.sat.sitting.start.ring.body;
    let (path, list, caution, done, elsewhere, fields) = match &ring.kind {
        RingKind::Groove(_) => (
            "moved",
            slides(view, ring, step),
            html! { strong { "Clamp every weight" } " before you let go of the wheel, and again before it runs. A loose weight flies off." },
            "Done, moved",
            "I set them elsewhere",
            html! {
                p.soft { "Type where each weight really stands: " (view.show.angles_in_words()) "." }
                (weight_fields(view, "move-", &step.weights_then.iter().map(|w| w.at_deg).collect::<Vec<_>>()))
            },
        ),
        RingKind::TappedHoles(t) => (
            "screws",
            screws::change_list(view.show, &step.screw_changes),
            html! { strong { "Tighten and secure every screw" } ", below the face, before you let go of the wheel. A loose screw flies off." },
            "Done, changed",
            "Other screws went in",
            screws::rows(kept(view, "screws"), view.show, "then-", t, &screws_in(ring, &step.weights_then)),
        ),
    };
    html! {
        (list)
        div.caution { (caution) }
        form method="post" action={ (view.path()) "/" (path) } novalidate {
            (hidden(view))
            button.main.big.wide type="submit" { (done) }
            details {
                summary { (elsewhere) }
                div.inside { (fields) button.wide type="submit" { "Store where they are" } }
            }
        }
    }
}

/// The way of each weight in its groove.
fn slides(view: &View, ring: &WeightRing, step: &NextStepOut) -> Markup {
    html! {
        ul.moves {
            @for (i, w) in view.sat.weights.iter().enumerate() {
                @match step.moves.iter().find(|m| m.weight == i) {
                    Some(m) => (one_move(view.show, ring, m)),
                    None => li { span.which { (i + 1) } span.stay { "stays at " (view.show.angle(w.at_deg)) } },
                }
            }
        }
    }
}

/// What was typed in a form that was refused.
fn kept(view: &View, kind: &str) -> Typed {
    if view.note.kind.as_deref() == Some(kind) { view.note.typed.clone() } else { Typed::default() }
}

/// One field for each weight.
fn weight_fields(view: &View, within: &str, at_deg: &[f64]) -> Markup {
    let mut typed = kept(view, "moved");
    let clock = view.show.angles == Angles::Clock;
    html! {
        @for (i, deg) in at_deg.iter().enumerate() {
            @let name = format!("to_deg_{i}");
            @let () = typed.put_default(&name, view.show.angle_number(*deg));
            (field(&typed, Field { name: &name, within, label: &format!("Weight {}", i + 1), unit: if clock { "" } else { "°" }, keys: if clock { "" } else { "decimal" }, required: true, lax: true, ..Field::default() }))
        }
    }
}

/// Move the weights without being told to.
pub(super) fn free_move(view: &View) -> Markup {
    let ring = &view.sat.sitting.start.ring.body;
    let (kind, title, fields) = match &ring.kind {
        RingKind::Groove(_) => {
            let now: Vec<f64> = view.sat.weights.iter().map(|w| w.at_deg).collect();
            ("moved", "Weights were moved", html! { p.soft { (view.show.angles_in_words()) } (weight_fields(view, "free-", &now)) })
        }
        RingKind::TappedHoles(t) => {
            let now = screws_in(ring, &view.sat.weights);
            ("screws", "Screws were changed", screws::rows(kept(view, "screws"), view.show, "free-", t, &now))
        }
    };
    html! {
        details open[view.note.kind.as_deref() == Some(kind)] {
            summary { (title) }
            div.inside {
                form method="post" action={ (view.path()) "/" (kind) } novalidate {
                    (hidden(view))
                    (fields)
                    button.wide type="submit" { "Store where they are" }
                }
            }
        }
    }
}

fn one_move(show: Show, ring: &WeightRing, m: &WeightMove) -> Markup {
    let way = if m.by_deg >= 0.0 { "↺ counter-clockwise" } else { "↻ clockwise" };
    let along = m.by_deg.abs().to_radians() * ring.radius_mm;
    html! {
        li {
            span.which { (m.weight + 1) }
            span { "from " span.num { (show.angle(m.from_deg)) } " to " span.to { (show.angle(m.to_deg)) } }
            span.by {
                (way) " by " b { (significant(m.by_deg.abs(), 4)) "°" } br;
                b { (show.travel(along)) } " along the groove"
                @if let Some(marks) = graduations(show, ring, m) { br; (marks) }
            }
        }
    }
}

/// The way in graduations, and the mark it ends at.
fn graduations(show: Show, ring: &WeightRing, m: &WeightMove) -> Option<String> {
    let RingKind::Groove(g) = &ring.kind else { return None };
    let marks = significant(m.by_deg.abs() / g.graduation_deg, 4);
    // Marks are counted in the sense in which this person counts angles.
    let counted = if show.angles == Angles::CounterClockwise { m.to_deg } else { -m.to_deg };
    let mark = significant((counted.rem_euclid(360.0) / g.graduation_deg * 10.0).round() / 10.0, 5);
    Some(format!("{marks} mark{} of {}°, to mark {mark}", if marks == "1" { "" } else { "s" }, g.graduation_deg))
}

fn give_up(view: &View) -> Markup {
    html! {
        details {
            summary { "Close without proof" }
            div.inside {
                form method="post" action={ (view.path()) "/verdict" } {
                    (hidden(view))
                    input type="hidden" name="proven" value="no";
                    p { "The certificate will say that the residual is not proven." }
                    div.field { label for="verdict-note" { "Remark" } input #verdict-note name="note" type="text" autocomplete="off"; }
                    button.wide type="submit" { "Close without proof" }
                }
            }
        }
    }
}

/// The way out that is always there, folded.
pub(super) fn close_unproven(view: &View) -> Markup {
    let shown_above = view.sat.step.as_ref().is_ok_and(|s| matches!(s.action, Action::StandCannotShow | Action::WeightsTooLight));
    html! { @if !shown_above && view.sat.step.is_ok() { (give_up(view)) } }
}

fn grinder_caution(view: &View) -> Markup {
    let start = &view.sat.sitting.start;
    let wheel = &start.rotor.body.wheel;
    html! {
        div.caution {
            strong { "Before the grinder." }
            " Balanced is not yet fit to run. "
            @match (wheel.max_speed_rpm, wheel.max_speed_m_s) {
                (Some(rpm), _) => { "Marked " (significant(rpm, 5)) " r/min, spindle " (significant(start.machine.body.speed_rpm, 5)) " r/min: " @if rpm < start.machine.body.speed_rpm { b { "too fast for this wheel, do not run it. " } } @else { "within it. " } },
                (None, Some(v)) => {
                    @let rim = std::f64::consts::PI * wheel.diameter_mm / 1000.0 * start.machine.body.speed_rpm / 60.0;
                    "Marked " (significant(v, 4)) " m/s, rim here " (significant(rim, 3)) " m/s: " @if v < rim { b { "too fast for this wheel, do not run it. " } } @else { "within it. " }
                },
                (None, None) => "Check that the spindle’s speed does not exceed the speed marked on the wheel. ",
            }
            "Ring-test it, clamp all weights, close the guard, and stand aside for the first minute at speed."
        }
    }
}
