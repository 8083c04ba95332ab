//! A swing log by finger: a tap each time a mark of the rotor passes a pointer. Coarser than a clip, and needs nothing but a watch.

use super::super::error::WebError;
use super::super::form::{Field, Typed, fault_summary, field, select};
use super::super::show::Show;
use super::super::state::App;
use super::log_entry::LogPage;
use super::look_forms::{arbor_field, trial_fields};
use super::sitting_view::{View, hidden};
use crate::sitting::{LogBody, LogFrom};
use axum::Form;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::Response;
use maud::{Markup, html};
use serde::Deserialize;
use std::collections::HashMap;
use stillwheel_door::Fault;
use stillwheel_door::log_errors::SharedErrors;
use stillwheel_physics::quantity::Dimension;
use stillwheel_store::Id;

/// Where the pointer and the marks are read by eye, degrees, one standard deviation. Common practice, no source.
const PLACE_SD_DEG: f64 = 1.0;
/// A finger on a screen at a moment that it sees coming, s. Common practice, no source.
const TAP_SD_S: &str = "0.08";
/// Fewest taps: the fit has eight unknowns.
const LEAST_TAPS: usize = 8;
/// Most taps that are taken.
const MOST_TAPS: usize = 2000;

/// Where the pointer stands: name in the form, room angle in degrees counter-clockwise from straight down, words.
const POINTERS: [(&str, f64, &str); 4] = [
    ("bottom", 0.0, "straight below the arbor"),
    ("right", 90.0, "level with it, on the right"),
    ("top", 180.0, "straight above"),
    ("left", 270.0, "level with it, on the left"),
];

const PAGE: LogPage = LogPage { title: "Tap the passages", body };

/// What the page's script hands in.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Taps {
    /// Times, s.
    t_s: Vec<f64>,
    /// Which mark passed: 1 or 2.
    mark: Vec<u8>,
}

/// `GET /sittings/{id}/taps`.
pub(crate) async fn page(State(app): State<App>, Path(id): Path<String>, headers: HeaderMap) -> Result<Response, WebError> {
    PAGE.render(&app, Id::parse(&id)?, &headers, Typed::default(), StatusCode::OK).await
}

/// `POST /sittings/{id}/taps`.
pub(crate) async fn store(
    State(app): State<App>,
    Path(id): Path<String>,
    headers: HeaderMap,
    Form(text): Form<HashMap<String, String>>,
) -> Result<Response, WebError> {
    PAGE.take(app, Id::parse(&id)?, headers, Typed::new(text), read).await
}

fn read(typed: &mut Typed, show: Show) -> Option<LogBody> {
    let pointer = POINTERS.iter().find(|p| p.0 == typed.text("pointer")).map(|p| p.1);
    if pointer.is_none() {
        typed.blame(Fault::new("pointer", typed.text("pointer"), "bottom, right, top, left", "Say where the pointer stands."));
    }
    let first = typed.angle("mark_1", show);
    let taps = taps(typed)?;
    let second = if taps.mark.contains(&2) { typed.angle("mark_2", show) } else { first };
    let time_sd_s = typed.number("tap_sd_s", Dimension::Time, show);
    typed.is_good().then(|| log(taps, pointer.unwrap_or(0.0), [first, second], time_sd_s))
}

fn taps(typed: &mut Typed) -> Option<Taps> {
    let fault = match serde_json::from_str::<Taps>(typed.text("log")) {
        Ok(t) if t.t_s.len() == t.mark.len() && t.mark.iter().all(|m| (1..=2).contains(m)) && t.t_s.len() <= MOST_TAPS => {
            if t.t_s.len() >= LEAST_TAPS {
                return Some(t);
            }
            Fault::new(
                "log",
                format!("{} taps", t.t_s.len()),
                format!("{LEAST_TAPS} or more"),
                "Go on tapping: two swings past two marks are eight taps.",
            )
        }
        _ if typed.text("log").is_empty() => Fault::new("log", "missing", format!("{LEAST_TAPS} taps or more"), "Tap the passages first."),
        _ => Fault::new("log", "this text", "the taps of this page", "It can’t be read. Tap the passages again."),
    };
    typed.blame(fault);
    None
}

/// A tap says that a mark of the rotor stood at the pointer: the zero mark's room angle is the pointer's less the mark's place.
/// A swing passes from one mark to the other by the shorter way.
fn log(taps: Taps, pointer_deg: f64, marks_deg: [f64; 2], time_sd_s: f64) -> LogBody {
    let first = pointer_deg - marks_deg[0];
    let apart = (marks_deg[0] - marks_deg[1] + 180.0).rem_euclid(360.0) - 180.0;
    LogBody {
        from: LogFrom::Taps,
        angle_deg: taps.mark.iter().map(|m| if *m == 1 { first } else { first + apart }).collect(),
        t_s: taps.t_s,
        sd_deg: Vec::new(),
        time_sd_s: Some(time_sd_s),
        shared_errors: Some(SharedErrors { common_sd_deg: PLACE_SD_DEG, ..SharedErrors::default() }),
        remarks: Vec::new(),
    }
}

/// Fields that show their own faults.
const SHOWN: [&str; 8] = ["mark_1", "mark_2", "pointer", "tap_sd_s", "mass_g", "radius_mm", "at_deg", "turned_on_arbor_deg"];

fn body(view: &View, told: Option<&Markup>) -> Markup {
    let mut typed = view.note.typed.clone();
    typed.put_default("tap_sd_s", TAP_SD_S);
    typed.put_default("pointer", "bottom");
    let pointers: Vec<(String, String)> = POINTERS.iter().map(|p| (p.0.to_owned(), p.2.to_owned())).collect();
    let place =
        |name, label, hint, required| field(&typed, Field { name, within: "taps-", label, unit: "", hint, keys: "", required, lax: true });
    html! {
        h1 { "Tap the passages" }
        p.lead { (view.sat.sitting.start.rotor.body.name) ". Coarser than a clip; it needs two marks, a pointer and a thumb." }
        @if let Some(told) = told { (told) }
        (fault_summary(typed.faults().iter().filter(|f| !SHOWN.contains(&f.field.as_str()))))
        noscript { p.caution { "Taps need scripts. Without them, hand in a swing log as a file, or time a swing." } }
        form.card method="post" action={ (view.path()) "/taps" } data-taps {
            (hidden(view))
            input #taps-log type="hidden" name="log" value=(typed.text("log"));
            ol {
                li { "Choose two marks of the rotor, 30° to 90° apart, that both pass the pointer in the swing; none straight up or down at rest." }
                li { "Turn the wheel aside, let go without a push." }
                li { "Tap the mark’s pad each time it passes, both ways, for two swings or more." }
            }
            (select(&typed, "pointer", "taps-", "The pointer stands", "", &pointers))
            div.pair {
                (place("mark_1", "Mark 1 at", view.show.angles_in_words(), true))
                (place("mark_2", "Mark 2 at", "Tells the amplitude.", false))
            }
            div.taps {
                button.main.big type="button" data-mark="1" { "Mark 1" }
                button.main.big type="button" data-mark="2" { "Mark 2" }
            }
            p #taps-say.note aria-live="polite" { "No tap yet." }
            div.actions { button.plain type="button" #taps-back { "Take back the last tap" } button.plain type="button" #taps-again { "Start again" } }
            details { summary { "More" } div.inside {
                (field(&typed, Field { name: "tap_sd_s", within: "taps-", label: "Usual error of a tap", unit: "s", hint: "One standard deviation.", keys: "decimal", required: true, lax: true }))
                (trial_fields(&typed, view, "taps-", false)) (arbor_field(&typed, view.show, "taps-"))
            } }
            button.main.big.wide type="submit" { "Store: taps" }
        }
        script type="module" src="/assets/js/tap_log.js" {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mark_at_the_pointer_tells_where_the_zero_mark_stands() {
        // Mark 1 at 30° and mark 2 at 350° are 40° apart across the zero mark. With the pointer on the right (90°): when mark 1 is there
        // the zero mark stands 30° clockwise of it, at 60°; with mark 2 there 10° counter-clockwise of it, at 100°.
        let l = log(Taps { t_s: vec![0.0, 1.0], mark: vec![1, 2] }, 90.0, [30.0, 350.0], 0.1);
        assert_eq!(l.angle_deg, [60.0, 100.0]);
        assert_eq!(l.time_sd_s, Some(0.1));
    }
}
