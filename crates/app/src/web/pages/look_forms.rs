//! Entry of a look: by dragging the wheel, by keypad, by clock place, by stopwatch; and the rarer kinds.

use super::super::form::{Field, Typed, field};
use super::super::show::{Angles, Show};
use super::super::wheel::picture;
use super::scene::as_it_is;
use super::sitting_view::{View, hidden};
use maud::{Markup, html};
use stillwheel_door::next_step::{Action, LookKind, Reader};
use stillwheel_physics::quantity::Dimension;
use stillwheel_store::RingKind;

/// All forms for a look; the advised one stands open.
pub(super) fn look_forms(view: &View) -> Markup {
    // Before a move no form stands open: the weights come first.
    let advised = view.sat.step.as_ref().ok().filter(|s| s.action == Action::Look).and_then(|s| s.look);
    let open = view.note.kind.as_deref().unwrap_or(match advised {
        Some(LookKind::Swing) => "swing",
        Some(LookKind::Settle) => "settle",
        None => "",
    });
    let fold = |kind: &'static str, title: &str, tagged: bool, inside: Markup| {
        html! {
            details #{ "look-" (kind) } name="look" open[open == kind] .advised[tagged] {
                summary { (title) @if tagged { span.tag.act { "★ advised" } } }
                div.inside { (inside) }
            }
        }
    };
    let forms = html! {
            (fold("settle", "It settled", advised == Some(LookKind::Settle), settle(view)))
            (fold("swing", "Timed swing", advised == Some(LookKind::Swing), swing(view)))
            (fold("still-out", "Still out after …", false, still_out(view)))
            (fold("creeps", "Creeps one way for ever", false, creeps(view)))
            (fold("stays", "Stays wherever it is put", false, stays(view)))
            (fold("log", "Swing log (clip, taps or file)", false, swing_log(view)))
            (fold("holds", "Holds with a trial weight", false, holds(view)))
    };
    let refused = view.note.kind.as_deref().is_some_and(|k| LOOK_KINDS.contains(&k));
    html! {
        section.card #looks {
            @if view.is_virtual() {
                details open[refused] { summary { "Enter a look by hand" } div.inside { (forms) } }
            } @else {
                h2 { "Enter a look" }
                (forms)
            }
        }
    }
}

const LOOK_KINDS: [&str; 7] = ["settle", "swing", "still-out", "creeps", "stays", "holds", "log"];

fn typed_for(view: &View, kind: &str) -> Typed {
    let mut typed = if view.note.kind.as_deref() == Some(kind) { view.note.typed.clone() } else { Typed::default() };
    let Reader { settle_sd_deg, time_sd_s, amplitude_deg, amplitude_sd_deg, .. } = view.reader;
    typed.put_default("sd_deg", format!("{settle_sd_deg}"));
    typed.put_default("time_sd_s", format!("{time_sd_s}"));
    typed.put_default("amplitude_deg", format!("{amplitude_deg}"));
    typed.put_default("amplitude_sd_deg", format!("{amplitude_sd_deg}"));
    // How sharply "never rests" and "stays" are seen: a tenth of the allowance. Common practice, no source.
    typed.put_default("sd_g_mm", view.show.typed(tidy(0.1 * view.sat.sitting.start.allowance.g_mm), Dimension::Unbalance));
    typed
}

fn tidy(v: f64) -> f64 {
    super::super::show::significant(v, 2).parse().unwrap_or(v)
}

fn look_form(view: &View, kind: &str, inside: Markup, button: &str) -> Markup {
    html! {
        form method="post" action={ (view.path()) "/look" } novalidate {
            (hidden(view))
            input type="hidden" name="kind" value=(kind);
            (inside)
            (arbor_field(&typed_for(view, kind), view.show, &format!("{kind}-")))
            button.main.big.wide type="submit" { (button) }
        }
    }
}

/// Index balancing: how the rotor sits on the arbor in this look.
pub(super) fn arbor_field(typed: &Typed, show: Show, within: &str) -> Markup {
    let hint = "From its seat at the first look. Two looks half a turn apart tell the arbor’s own error from the rotor’s.";
    html! {
        details open[!typed.text("turned_on_arbor_deg").is_empty()] {
            summary { "Rotor turned on the arbor" }
            div.inside { (field(typed, Field { required: false, ..angle_field(show, within, "turned_on_arbor_deg", "Turned by", hint) })) }
        }
    }
}

fn number<'a>(within: &'a str, name: &'a str, label: &'a str, unit: &'a str, hint: &'a str) -> Field<'a> {
    Field { name, within, label, unit, hint, keys: "decimal", required: true, lax: false }
}

fn angle_field<'a>(show: Show, within: &'a str, name: &'a str, label: &'a str, hint: &'a str) -> Field<'a> {
    let clock = show.angles == Angles::Clock;
    Field {
        name,
        within,
        label,
        unit: if clock { "" } else { "°" },
        hint,
        keys: if clock { "" } else { "decimal" },
        required: true,
        lax: true,
    }
}

/// How angles are counted, and that a hole's number will do.
fn angle_hint(view: &View) -> String {
    let holes = matches!(view.sat.sitting.start.ring.body.kind, RingKind::TappedHoles(_));
    format!("{}{}", view.show.angles_in_words(), if holes { "; or a hole’s number, such as hole 7" } else { "" })
}

fn settle(view: &View) -> Markup {
    let typed = typed_for(view, "settle");
    let mut scene = as_it_is("turn", &view.sat.weights, &view.sat.sitting.start.ring.body, view.show);
    scene.title = "Wheel to turn until it stands like the real one".into();
    scene.bottom_pointer = true;
    let inside = html! {
        p { "Let it come to rest by itself. Which angle of the rotor stands at the bottom?" }
        div.drag data-drag="settle-settle_deg" data-clock="settle-clock" {
            p.soft.needs-script hidden { "Drag the wheel until it stands like the real one (or use the arrow keys on it)." }
            (picture(&scene, view.show))
            div.nudge.needs-script hidden {
                button.plain type="button" data-by="-5" aria-label="Turn clockwise by 5 degrees" { "↻ 5°" }
                button.plain type="button" data-by="-1" aria-label="Turn clockwise by 1 degree" { "↻ 1°" }
                button.plain type="button" data-by="1" aria-label="Turn counter-clockwise by 1 degree" { "↺ 1°" }
                button.plain type="button" data-by="5" aria-label="Turn counter-clockwise by 5 degrees" { "↺ 5°" }
            }
        }
        (field(&typed, angle_field(view.show, "settle-", "settle_deg", "Angle at the bottom", &angle_hint(view))))
        (field(&typed, Field { name: "clock", within: "settle-", label: "or: the zero mark stands at … o’clock", hint: "For example 4:30. Twelve is up.", ..Field::default() }))
        details { summary { "How well read" } div.inside { (field(&typed, number("settle-", "sd_deg", "Usual error of your reading", "°", "One standard deviation."))) } }
    };
    look_form(view, "settle", inside, "Store: it settled")
}

fn swing(view: &View) -> Markup {
    let typed = typed_for(view, "swing");
    let step = view.sat.step.as_ref().ok();
    let let_go = step.and_then(|s| s.let_go_deg).map(|deg| view.show.angle(deg));
    let swings = step.and_then(|s| s.swings).unwrap_or(1.0);
    let mut typed = typed;
    typed.put_default("swings", format!("{swings}"));
    let inside = html! {
        ol {
            li { "Turn the wheel " @if let Some(at) = &let_go { "until " b.num { (at) } " is at the bottom" } @else { (format!("{}°", view.reader.amplitude_deg)) " aside from its rest place" } ", hold it still, let go without a push." }
            li { "Tap each time its rest place passes the bottom: two passages are half a swing apart." }
        }
        div.watch data-watch="swing-swings swing-time_s" data-expected=[step.and_then(|s| s.expected_period_s)] hidden {
            button.pad type="button" aria-describedby="watch-note" { span.time { "0.0 s" } span.count { "Tap at a passage" } }
            p.note #watch-note aria-live="polite" {}
            div.actions { button.plain type="button" data-again { "Start again" } }
        }
        div.pair {
            (field(&typed, number("swing-", "swings", "Full swings", "", "")))
            (field(&typed, number("swing-", "time_s", "Time of them all", "s", "")))
        }
        p.soft { "Out and back is one full swing; halves count 0.5." }
        details {
            summary { "Amplitude and errors" }
            div.inside {
                div.pair {
                    (field(&typed, number("swing-", "amplitude_deg", "First amplitude", "°", "")))
                    (field(&typed, Field { required: false, ..number("swing-", "amplitude_end_deg", "Last amplitude", "°", "") }))
                }
                div.pair {
                    (field(&typed, number("swing-", "amplitude_sd_deg", "Error of amplitude", "°", "")))
                    (field(&typed, number("swing-", "time_sd_s", "Error of time", "s", "")))
                }
                (trial_fields(&typed, view, "swing-", false))
            }
        }
    };
    look_form(view, "swing", inside, "Store: timed swing")
}

fn still_out(view: &View) -> Markup {
    let mut typed = typed_for(view, "still-out");
    typed.put_default("waited_s", format!("{}", view.reader.patience_s));
    let inside = html! {
        p { "Let go aside from its rest place, it had not come to the other turning point when you stopped watching. That shows that the unbalance is small." }
        (field(&typed, number("out-", "waited_s", "Watched for", "s", "")))
        div.pair {
            (field(&typed, number("out-", "amplitude_deg", "Amplitude", "°", "")))
            (field(&typed, number("out-", "amplitude_sd_deg", "Its error", "°", "")))
        }
    };
    look_form(view, "still-out", inside, "Store: still out")
}

fn creeps(view: &View) -> Markup {
    let typed = typed_for(view, "creeps");
    let fault = typed.fault("sense");
    let inside = html! {
        p { "It finds no rest: it turns slowly on and on, always the same way." }
        fieldset.faulty[fault.is_some()] {
            legend { "Which way, as you face it" }
            label.pick { input type="radio" name="sense" value="counter-clockwise" checked[typed.text("sense") == "counter-clockwise"]; "↺ Counter-clockwise" }
            label.pick { input type="radio" name="sense" value="clockwise" checked[typed.text("sense") == "clockwise"]; "↻ Clockwise" }
            @if let Some(f) = fault { p.fault { (f.why) } }
        }
        (field(&typed, number("creeps-", "sd_g_mm", "How sharply you can tell", view.show.unbalance_unit(), "One standard deviation.")))
    };
    look_form(view, "creeps", inside, "Store: creeps")
}

fn stays(view: &View) -> Markup {
    let typed = typed_for(view, "stays");
    let inside = html! {
        p { "Turned to several places and left alone, it stays at each." }
        (field(&typed, number("stays-", "sd_g_mm", "How sharply you can tell", view.show.unbalance_unit(), "One standard deviation.")))
    };
    look_form(view, "stays", inside, "Store: stays")
}

fn swing_log(view: &View) -> Markup {
    let typed = typed_for(view, "log");
    let fault = typed.other_faults(&["turned_on_arbor_deg"]).next();
    html! {
        form method="post" action={ (view.path()) "/log" } enctype="multipart/form-data" {
            (hidden(view))
            p { "Angle against time, from a clip or an encoder: it tells direction, size and drift at once." }
            @if !view.is_virtual() { p.actions { a.button href={ (view.path()) "/clip" } { "Film the swing" } a.button.plain href={ (view.path()) "/taps" } { "Tap the passages" } } }
            div.field.faulty[fault.is_some()] {
                label for="log-file" { "CSV file" }
                input #log-file type="file" name="file" accept=".csv,.txt,.tsv,text/csv,text/plain" aria-describedby="log-hint";
                p.hint #log-hint { "Any table with a column of times and one of angles. On the next page you say which, and in which units, and see the curve before it is stored." }
                @if let Some(f) = fault { p.fault { (f.why) @if !f.allowed.is_empty() { " Allowed: " (f.allowed) "." } } }
            }
            details open[!typed.text("pasted").is_empty()] {
                summary { "or paste it" }
                div.inside.field { label for="log-pasted" { "Rows" } textarea #log-pasted name="pasted" spellcheck="false" { (typed.text("pasted")) } }
            }
            (arbor_field(&typed, view.show, "log-"))
            button.main.big.wide type="submit" name="do" value="preview" { "Choose its columns" }
        }
    }
}

fn holds(view: &View) -> Markup {
    let typed = typed_for(view, "holds");
    let inside = html! {
        p { "Turn the wheel so that it wants to move, and find the small weight that just holds it there. That tells one component." }
        (field(&typed, angle_field(view.show, "holds-", "bottom_deg", "Angle at the bottom while it holds", "")))
        (trial_fields(&typed, view, "holds-", true))
        (field(&typed, number("holds-", "sd_g_mm", "Error of the holding weight", view.show.unbalance_unit(), "About a third of the step between trial weights, times their radius.")))
    };
    look_form(view, "holds", inside, "Store: holds")
}

pub(super) fn trial_fields(typed: &Typed, view: &View, within: &str, required: bool) -> Markup {
    html! {
        fieldset {
            legend { @if required { "The trial weight" } @else { "A trial weight on, for this look only" } }
            div.pair {
                (field(typed, Field { required, lax: true, ..number(within, "mass_g", "Mass", view.show.unit(Dimension::Mass), "") }))
                (field(typed, Field { required, lax: true, ..number(within, "radius_mm", "Radius", view.show.unit(Dimension::Length), "") }))
            }
            (field(typed, Field { required, ..angle_field(view.show, within, "at_deg", "At rotor angle", "") }))
        }
    }
}
