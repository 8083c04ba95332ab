//! A clip of the swing: chosen and tracked on the device, its angles handed in as a look. The clip itself is never sent.

use super::super::error::WebError;
use super::super::form::{Field, Typed, fault_summary, field};
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
use stillwheel_store::Id;

/// How well a dot's place on the scale is read by eye, degrees, one standard deviation. Common practice, no source.
const PLACE_SD_DEG: f64 = 0.5;
/// Most angles that are taken; the page sends at most 3600.
const MOST_ANGLES: usize = 20_000;

/// What the page's script hands in: room angles of dot A.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Tracked {
    t_s: Vec<f64>,
    angle_deg: Vec<f64>,
    sd_deg: Vec<f64>,
    common_sd_deg: f64,
    once_a_turn_sd_deg: f64,
    twice_a_turn_sd_deg: f64,
    #[serde(default)]
    remarks: Vec<String>,
}

const PAGE: LogPage = LogPage { title: "Film the swing", body };

/// `GET /sittings/{id}/clip`.
pub(crate) async fn page(State(app): State<App>, Path(id): Path<String>, headers: HeaderMap) -> Result<Response, WebError> {
    PAGE.render(&app, Id::parse(&id)?, &headers, Typed::default(), StatusCode::OK).await
}

/// `POST /sittings/{id}/clip`: the angles, not the clip.
pub(crate) async fn store(
    State(app): State<App>,
    Path(id): Path<String>,
    headers: HeaderMap,
    Form(text): Form<HashMap<String, String>>,
) -> Result<Response, WebError> {
    let log = |typed: &mut Typed, show: Show| {
        let place = typed.angle("place_a", show);
        tracked(typed).map(|t| from_zero_mark(t, place))
    };
    PAGE.take(app, Id::parse(&id)?, headers, Typed::new(text), log).await
}

/// The script's log, or a fault for the whole form.
fn tracked(typed: &mut Typed) -> Option<Tracked> {
    let why = "Choose a clip and track it first.";
    let read: Result<Tracked, _> = serde_json::from_str(typed.text("log"));
    let fault = match read {
        // Checked before they are added by squares, where a sign would be lost.
        Ok(t) if [t.common_sd_deg, t.once_a_turn_sd_deg, t.twice_a_turn_sd_deg].iter().any(|sd| *sd < 0.0) => {
            Fault::new("log", "a negative deviation", "0 degrees or more", "Track the clip again.")
        }
        Ok(t) if t.t_s.len() == t.angle_deg.len() && t.t_s.len() == t.sd_deg.len() && t.t_s.len() <= MOST_ANGLES => return Some(t),
        Ok(t) => Fault::new(
            "log",
            format!("{} times, {} angles, {} deviations", t.t_s.len(), t.angle_deg.len(), t.sd_deg.len()),
            format!("as many of each, at most {MOST_ANGLES}"),
            why,
        ),
        Err(_) if typed.text("log").is_empty() => Fault::new("log", "missing", "the angles of a tracked clip", why),
        Err(e) => Fault::new("log", "this text", "the angles of a tracked clip", format!("It can’t be read ({e}). Track the clip again.")),
    };
    typed.blame(fault);
    None
}

/// From the dot to the zero mark: the dot stands at `place` on the rotor, so the zero mark is that much behind it.
fn from_zero_mark(t: Tracked, place_deg: f64) -> LogBody {
    LogBody {
        from: LogFrom::Clip,
        angle_deg: t.angle_deg.iter().map(|a| a - place_deg).collect(),
        t_s: t.t_s,
        sd_deg: t.sd_deg,
        time_sd_s: None,
        shared_errors: Some(SharedErrors {
            common_sd_deg: t.common_sd_deg.hypot(PLACE_SD_DEG),
            once_a_turn_sd_deg: t.once_a_turn_sd_deg,
            twice_a_turn_sd_deg: t.twice_a_turn_sd_deg,
        }),
        remarks: t.remarks,
    }
}

fn body(view: &View, told: Option<&Markup>) -> Markup {
    let typed = &view.note.typed;
    let kept = !typed.text("log").is_empty();
    html! {
        h1 { "Film the swing" }
        p.lead { (view.sat.sitting.start.rotor.body.name) ". One clip tells size, place, drag and drift. It stays on this device; only the angles are stored." }
        @if let Some(told) = told { (told) }
        (fault_summary(typed.faults().iter().filter(|f| !SHOWN.contains(&f.field.as_str()))))
        noscript { p.caution { "Tracking needs scripts. Without them, hand in a swing log as a file: " a href={ (view.path()) "#look-log" } { "swing log" } "." } }
        div.cols.clip {
            div { (choose()) (set()) }
            div { (hand_in(view, kept)) }
        }
        script type="module" src="/assets/js/clip/page.js" {}
    }
}

/// Fields that show their own faults.
const SHOWN: [&str; 7] = ["place_a", "place_b", "mass_g", "radius_mm", "at_deg", "turned_on_arbor_deg", "turned_deg"];

fn choose() -> Markup {
    html! {
        section.card {
            h2 { "1. The clip" }
            ol {
                li { "Stick one round dot, better two of different strong colours about opposite each other, 10 to 14 mm, on the wheel’s side." }
                li { "Put the phone on something firm, straight in front, the whole wheel and two level marks of the stand in the picture." }
                li { "Turn the wheel 60° to 90° aside from its rest place, hold it still, let go, and film from then on: a swing at least." }
            }
            div.field {
                label for="clip-file" { "Record or choose a clip" }
                input #clip-file type="file" accept="video/*" capture="environment" aria-describedby="clip-state";
            }
            p #clip-state.soft aria-live="polite" {}
            div #clip-say role="alert" {}
        }
    }
}

fn set() -> Markup {
    let points = [("A", "Dot A"), ("B", "Dot B"), ("centre", "Centre"), ("mark1", "Mark 1"), ("mark2", "Mark 2")];
    html! {
        section.card #clip-set hidden {
            h2 { "2. The points" }
            p { "Check what was found; choose a point and tap it in the picture to put it right. Marks: two places of the stand at the same height." }
            canvas #clip-picture tabindex="0" role="img" aria-label="Picture of the clip with its points. Arrow keys move the chosen point by a pixel, with shift by ten." {}
            fieldset.points {
                legend { "Point" }
                @for (value, text) in points {
                    label.pick { input type="radio" name="point" value=(value) checked[value == "A"]; (text) }
                }
            }
            div.nudge {
                button.plain type="button" data-nudge="-1 0" aria-label="One pixel left" { "←" }
                button.plain type="button" data-nudge="0 -1" aria-label="One pixel up" { "↑" }
                button.plain type="button" data-nudge="0 1" aria-label="One pixel down" { "↓" }
                button.plain type="button" data-nudge="1 0" aria-label="One pixel right" { "→" }
            }
            div.actions {
                button.plain type="button" #clip-swap { "Swap A and B" }
                button.plain type="button" #clip-remove { "Remove the point" }
            }
            (slider("clip-at", "Picture at", "clip-at-words", "0.00 s"))
            fieldset {
                legend { "Part to use" }
                (slider("clip-from", "From", "clip-cut-words", ""))
                (slider("clip-to", "To", "", ""))
            }
            button.main.big.wide type="button" #clip-follow { "Track" }
            progress #clip-progress max="1" value="0" hidden aria-label="How far the clip is tracked" {}
            button.plain.wide type="button" #clip-stop hidden { "Stop" }
        }
    }
}

fn slider(id: &str, label: &str, words: &str, text: &str) -> Markup {
    html! {
        div.field {
            label for=(id) { (label) @if !words.is_empty() { " " output id=(words) for=(id) .num { (text) } } }
            input id=(id) type="range" min="0" max="1" step="0.01" value="0";
        }
    }
}

fn hand_in(view: &View, kept: bool) -> Markup {
    let typed = &view.note.typed;
    let place =
        |name, label, hint, required| field(typed, Field { name, within: "clip-", label, unit: "", hint, keys: "", required, lax: true });
    html! {
        form.card method="post" action={ (view.path()) "/clip" } {
            h2 { "3. The rotor" }
            (hidden(view))
            input #clip-log type="hidden" name="log" value=(typed.text("log"));
            (place("place_a", "Dot A stands on the rotor at", view.show.angles_in_words(), true))
            (place("place_b", "Dot B at", "Guards against a mirrored clip.", false))
            fieldset {
                legend { "The clip shows the wheel" }
                label.pick { input type="radio" name="seen_from" value="operator" checked[typed.text("seen_from") != "behind"]; "as the operator faces it" }
                label.pick { input type="radio" name="seen_from" value="behind" checked[typed.text("seen_from") == "behind"]; "mirrored (front camera), or from behind" }
            }
            details { summary { "A trial weight, or turned on the arbor" } div.inside { (trial_fields(typed, view, "clip-", false)) (arbor_field(typed, view.show, "clip-")) } }
            div #clip-told hidden[!kept] {
                h2 { "4. The angles" }
                p #clip-sum { @if kept { "The angles of the tracked clip are kept." } }
                svg #clip-curve viewBox="0 0 320 120" role="img" aria-label="Angle of dot A against time" { polyline fill="none" points="" {} }
                div #clip-remarks {}
                details { summary { "Where a dot was not seen" } div.inside { ul.list #clip-holes {} } }
                button.main.big.wide type="submit" #clip-store { "Store: clip" }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_zero_mark_is_behind_the_dot_by_the_dots_place() {
        // The dot stands at 90° of the rotor and hangs straight down: then the zero mark points a quarter turn clockwise of down, −90°.
        let t = Tracked {
            t_s: vec![0.0],
            angle_deg: vec![0.0],
            sd_deg: vec![0.1],
            common_sd_deg: 0.3,
            once_a_turn_sd_deg: 0.0,
            twice_a_turn_sd_deg: 0.1,
            remarks: Vec::new(),
        };
        let log = from_zero_mark(t, 90.0);
        assert_eq!(log.angle_deg, [-90.0]);
        // Independent errors add by squares: 0.3 and 0.5 make √0.34.
        assert!((log.shared_errors.unwrap().common_sd_deg - 0.34_f64.sqrt()).abs() < 1e-12);
    }
}
