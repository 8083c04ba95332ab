//! Looks on the virtual stand: the bench itself takes them.

use super::super::form::{Typed, select};
use super::look_forms::{arbor_field, trial_fields};
use super::plan::swing_facts;
use super::sitting_view::{View, hidden};
use maud::{Markup, html};
use stillwheel_door::next_step::{LookKind, NextStepOut};

/// On the virtual stand the bench itself takes the look.
pub(super) fn buttons(view: &View, step: &NextStepOut) -> Markup {
    let button = |kind: &str, advised: bool, text: &str| {
        html! {
            form method="post" action={ (view.path()) "/virtual" } {
                (hidden(view))
                input type="hidden" name="look" value=(kind);
                button.big.wide.main[advised] type="submit" { (text) @if advised { " ★" } }
            }
        }
    };
    let swing = step.look == Some(LookKind::Swing);
    html! {
        @if swing { (swing_facts(view.show, step)) }
        div.actions {
            @if swing { (button("swing", true, "Time a swing")) (button("settle", false, "Let it settle")) }
            @else { (button("settle", step.look.is_some(), "Let it settle")) (button("swing", false, "Time a swing")) }
        }
        p.soft { "Virtual stand: a press takes the look. ★ is advised." }
    }
}

/// The rarer looks, and all looks although a move is advised.
pub(super) fn other_looks(view: &View, moving: bool) -> Markup {
    let refused = view.note.kind.as_deref() == Some("virtual");
    let typed = if refused { view.note.typed.clone() } else { Typed::default() };
    let kinds = [
        ("settle", "Let it settle"),
        ("swing", "Time a swing"),
        ("log", "Record a swing (log)"),
        ("holds", "Find the weight that holds it level"),
    ]
    .map(|(v, t)| (v.to_owned(), t.to_owned()));
    html! {
        @if let (true, Ok(step)) = (moving, &view.sat.step) {
            details { summary { "Look again before moving" } div.inside { (buttons(view, step)) } }
        }
        details open[refused] {
            summary { "Another look of the virtual stand" }
            div.inside {
                form method="post" action={ (view.path()) "/virtual" } novalidate {
                    (hidden(view))
                    (select(&typed, "look", "virtual-", "Look", "", &kinds))
                    (trial_fields(&typed, view, "virtual-", false))
                    (arbor_field(&typed, view.show, "virtual-"))
                    button.wide type="submit" { "Take this look" }
                }
            }
        }
    }
}
