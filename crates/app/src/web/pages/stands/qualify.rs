//! Measure a stand: tests on it in, drift, friction and floor out; kept, every later sitting judges by them.

use super::super::super::error::WebError;
use super::super::super::form::{Field, Typed, fault_summary, field, select};
use super::super::super::layout::{self, Place};
use super::super::super::person::by;
use super::super::super::show::{Show, significant};
use super::super::super::state::App;
use super::compute::{Shelf, revised, shelf};
use super::{kept_or, read_form};
use axum::Form;
use axum::extract::{Path, State};
use axum::http::HeaderMap;
use axum::response::Response;
use maud::{Markup, html};
use serde_json::json;
use std::collections::HashMap;
use stillwheel_door::estimate::MeanSd;
use stillwheel_door::log_csv::parse_log_csv;
use stillwheel_door::look::Sense;
use stillwheel_door::qualify::{ObservationIn, QualifyIn, QualifyOut, TestIn, TrialIn, qualify};
use stillwheel_door::{Fault, qualify as door};
use stillwheel_physics::quantity::Dimension;
use stillwheel_store::{Id, Rotor, Stand, StandKind, Stored};

type Text = HashMap<String, String>;
/// Reads one row of the form; `None` where it is empty or faulty.
type Row = fn(&mut Typed, &str, &Readings) -> Option<ObservationIn>;

const TITLE: &str = "Measure a stand";

/// Rows of each kind; an empty one is left out.
const SWINGS: usize = 2;
const CREEPS: usize = 9;
const STARTS: usize = 4;
const SETTLES: usize = 4;
const LOGS: usize = 2;

/// How well things are read unless said otherwise, one standard deviation: name in the form, label, unit, value. The door's own defaults.
const READINGS: [(&str, &str, &str, &str); 4] = [
    ("time_sd_s", "A time", "s", "0.2"),
    ("turned_sd_deg", "The end of a creep", "°", "0.5"),
    ("amplitude_sd_deg", "An amplitude", "°", "1"),
    ("settle_sd_deg", "Where it came to rest", "°", "1"),
];

/// What [`READINGS`] say.
#[derive(Clone, Copy)]
struct Readings {
    time_sd_s: f64,
    turned_sd_deg: f64,
    amplitude_sd_deg: f64,
    settle_sd_deg: f64,
}

/// All that the page shows.
struct View {
    shelf: Shelf,
    rotor: Option<Stored<Rotor>>,
    typed: Typed,
    input: Option<QualifyIn>,
    out: Option<QualifyOut>,
}

fn view(b: &crate::sitting::Bench, id: &Id, text: Option<Text>) -> Result<View, WebError> {
    let shelf = shelf(b, id)?;
    let read = text.is_some();
    let typed = Typed::new(text.unwrap_or_default());
    let rotor = shelf.rotors.iter().find(|r| r.id.to_string() == typed.text("rotor")).or(shelf.rotors.first()).cloned();
    let mut v = View { shelf, rotor, typed, input: None, out: None };
    for k in 0..CREEPS {
        v.typed.put_default(&format!("creep{k}_turned_deg"), "10");
        // The procedure's four marks, then the same turned end for end, then one again.
        v.typed.put_default(&format!("creep{k}_bottom_deg"), format!("{}", 90 * (k % 4)));
        v.typed.put_default(&format!("creep{k}_lies"), if (4..8).contains(&k) { "reversed" } else { "usual" });
    }
    for (name, _, _, value) in READINGS {
        v.typed.put_default(name, value);
    }
    let rubs = if v.shelf.stand.body.kind == StandKind::AirSaddles { "no" } else { "yes" };
    v.typed.put_default("dry_friction_possible", rubs);
    if read {
        judge(&mut v);
    }
    Ok(v)
}

/// Read the rows and ask the door; faults go to their rows.
fn judge(v: &mut View) {
    let Some(rotor) = v.rotor.as_ref().map(|r| r.body.clone()) else {
        v.typed.blame(Fault::new("rotor", "missing", "one of the rotors", "Make a rotor first: its inertia turns times into torques."));
        return;
    };
    let mut rows: Vec<String> = vec![];
    let mut observations = vec![];
    let [time_sd_s, turned_sd_deg, amplitude_sd_deg, settle_sd_deg] = READINGS.map(|r| plain(&mut v.typed, "", r.0));
    let readings = Readings { time_sd_s, turned_sd_deg, amplitude_sd_deg, settle_sd_deg };
    let kinds: [(&str, usize, Row); 5] =
        [("swing", SWINGS, swing), ("creep", CREEPS, creep), ("start", STARTS, start), ("settle", SETTLES, settle), ("log", LOGS, log)];
    for (prefix, count, read) in kinds {
        for k in 0..count {
            let row = format!("{prefix}{k}_");
            if let Some(o) = read(&mut v.typed, &row, &readings) {
                observations.push(o);
                rows.push(row);
            }
        }
    }
    if !v.typed.is_good() {
        return;
    }
    let stand = &v.shelf.stand.body;
    // On ways and edges the arbor rolls: the mass is carried along too (balance on rolling ways, derived in docs/physics.md).
    let rolls = matches!(stand.kind, StandKind::HardenedWays | StandKind::KnifeEdges);
    let rolling = if rolls { stand.arbor_radius_mm.map_or(0.0, |r| rotor.mass_kg * (r / 1000.0).powi(2)) } else { 0.0 };
    let input = QualifyIn {
        inertia_kg_m2: rotor.inertia_kg_m2 + rolling,
        inertia_rel_sd: rotor.inertia_rel_sd,
        dry_friction_possible: v.typed.text("dry_friction_possible") == "yes",
        observations,
    };
    match qualify(&input) {
        Ok(out) => {
            v.out = Some(out);
            v.input = Some(input);
        }
        Err(f) => v.typed.blame(at_row(f, &rows)),
    }
}

/// `observations[3].test.time_s` belongs to the field of its row; how well it was read is told once for all rows.
fn at_row(fault: Fault, rows: &[String]) -> Fault {
    let row =
        fault.field.strip_prefix("observations[").and_then(|f| f.split_once(']')).and_then(|(k, _)| rows.get(k.parse::<usize>().ok()?));
    let (Some(row), Some(leaf)) = (row, fault.field.rsplit('.').next()) else { return fault };
    let field = if row.starts_with("log") && !leaf.starts_with("mass") && !leaf.starts_with("radius") && leaf != "at_deg" {
        format!("{row}rows")
    } else if leaf == "sd_deg" {
        "settle_sd_deg".to_owned()
    } else if READINGS.iter().any(|r| r.0 == leaf) {
        leaf.to_owned()
    } else {
        format!("{row}{leaf}")
    };
    Fault { field, ..fault }
}

fn plain(t: &mut Typed, row: &str, leaf: &str) -> f64 {
    t.number(&format!("{row}{leaf}"), Dimension::Plain, Show::default())
}

fn is_reversed(t: &Typed, row: &str) -> bool {
    t.text(&format!("{row}lies")) == "reversed"
}

fn sense(t: &Typed, row: &str) -> Sense {
    if t.text(&format!("{row}sense")) == "clockwise" { Sense::Clockwise } else { Sense::CounterClockwise }
}

fn swing(t: &mut Typed, row: &str, read: &Readings) -> Option<ObservationIn> {
    if t.text(&format!("{row}time_s")).is_empty() {
        return None;
    }
    let trial = known_mass(t, row);
    let test = TestIn::Swings {
        swings: plain(t, row, "swings"),
        time_s: plain(t, row, "time_s"),
        time_sd_s: read.time_sd_s,
        amplitude_deg: plain(t, row, "amplitude_deg"),
        amplitude_sd_deg: read.amplitude_sd_deg,
        amplitude_end_deg: t.optional(&format!("{row}amplitude_end_deg"), Dimension::Plain, Show::default()),
    };
    Some(ObservationIn { reversed: is_reversed(t, row), bottom_deg: 0.0, trial: Some(trial), test })
}

fn creep(t: &mut Typed, row: &str, read: &Readings) -> Option<ObservationIn> {
    if t.text(&format!("{row}time_s")).is_empty() {
        return None;
    }
    let test = TestIn::Creeps {
        turned_deg: plain(t, row, "turned_deg"),
        turned_sd_deg: read.turned_sd_deg,
        sense: sense(t, row),
        time_s: plain(t, row, "time_s"),
        time_sd_s: read.time_sd_s,
    };
    Some(ObservationIn { reversed: is_reversed(t, row), bottom_deg: plain(t, row, "bottom_deg"), trial: None, test })
}

fn start(t: &mut Typed, row: &str, _: &Readings) -> Option<ObservationIn> {
    if t.text(&format!("{row}mass_g")).is_empty() {
        return None;
    }
    let trial = known_mass(t, row);
    let test = TestIn::Starts { stays_g: plain(t, row, "stays_g"), sense: sense(t, row) };
    Some(ObservationIn { reversed: is_reversed(t, row), bottom_deg: plain(t, row, "bottom_deg"), trial: Some(trial), test })
}

fn known_mass(t: &mut Typed, row: &str) -> TrialIn {
    TrialIn { mass_g: plain(t, row, "mass_g"), radius_mm: plain(t, row, "radius_mm"), at_deg: plain(t, row, "at_deg") }
}

/// A mass that may be on for the test.
fn mass_if_any(t: &mut Typed, row: &str) -> Option<TrialIn> {
    (!t.text(&format!("{row}mass_g")).is_empty()).then(|| known_mass(t, row))
}

fn settle(t: &mut Typed, row: &str, read: &Readings) -> Option<ObservationIn> {
    if t.text(&format!("{row}bottom_deg")).is_empty() {
        return None;
    }
    let test = TestIn::Settles { sd_deg: read.settle_sd_deg };
    Some(ObservationIn { reversed: is_reversed(t, row), bottom_deg: plain(t, row, "bottom_deg"), trial: mass_if_any(t, row), test })
}

/// Rows of time and angle, as a file of a sitting's log holds them.
fn log(t: &mut Typed, row: &str, _: &Readings) -> Option<ObservationIn> {
    let name = format!("{row}rows");
    if t.text(&name).is_empty() {
        return None;
    }
    match parse_log_csv(t.untrimmed(&name).as_bytes()) {
        Ok((t_s, angle_deg)) => {
            let test = TestIn::Log { t_s, angle_deg };
            Some(ObservationIn { reversed: is_reversed(t, row), bottom_deg: 0.0, trial: mass_if_any(t, row), test })
        }
        Err(f) => {
            t.blame(Fault { field: name, ..f });
            None
        }
    }
}

/// `GET /stands/{id}/qualify`.
pub(crate) async fn page(State(app): State<App>, Path(id): Path<String>, headers: HeaderMap) -> Result<Markup, WebError> {
    let (id, show) = (Id::parse(&id)?, Show::of(&headers));
    let body = app.bench(move |b| Ok::<_, WebError>(body(&view(b, &id, None)?))).await?;
    Ok(layout::page(TITLE, Place::Stands, show, app.is_demo(), body))
}

/// `POST /stands/{id}/qualify`: what the tests tell; nothing is kept.
pub(crate) async fn read(
    State(app): State<App>,
    Path(id): Path<String>,
    headers: HeaderMap,
    Form(text): Form<Text>,
) -> Result<Response, WebError> {
    let (id, show) = (Id::parse(&id)?, Show::of(&headers));
    read_form(&app, show, TITLE, move |b| view(b, &id, Some(text)).map(|v| (v.typed.is_good(), body(&v)))).await
}

/// `POST /stands/{id}/qualify/keep`: keep floor, friction and drift with the stand, and the tests they come from.
pub(crate) async fn keep(
    State(app): State<App>,
    Path(id): Path<String>,
    headers: HeaderMap,
    Form(text): Form<Text>,
) -> Result<Response, WebError> {
    let (id, show, by) = (Id::parse(&id)?, Show::of(&headers), by(&headers));
    let path = format!("/stands/{id}");
    let stays = app
        .bench(move |b| {
            let mut v = view(b, &id, Some(text))?;
            let kept = v.out.as_ref().and_then(|out| out.keep.map(|keep| (keep, out)));
            let Some((keep, out)) = kept else {
                if v.typed.is_good() {
                    let missing = v.out.as_ref().map_or(String::new(), |o| o.cannot_tell.join(". "));
                    v.typed.blame(Fault::new("", "", "", format!("These tests do not tell all that is kept yet. {missing}.")));
                }
                return Ok(Some(body(&v)));
            };
            let rotor = v.rotor.as_ref().map(|r| r.body.name.clone());
            let record = Stand {
                floor_g_mm: keep.floor_g_mm,
                dry_friction_g_mm: keep.dry_friction_g_mm,
                drift_sd_g_mm: keep.drift_sd_g_mm,
                qualification: Some(json!({ "rotor": rotor, "input": v.input, "result": out })),
                ..v.shelf.stand.body.clone()
            };
            let kept = revised(b, &v.shelf.stand, &record, &by, &mut v.typed)?;
            Ok::<_, WebError>((!kept).then(|| body(&v)))
        })
        .await?;
    Ok(kept_or(&app, show, &path, TITLE, stays))
}

fn body(v: &View) -> Markup {
    let stand = &v.shelf.stand;
    html! {
        h1 { "Measure " (stand.body.name) }
        p.lead { "A few tests tell how the stand drifts and rubs, and the smallest unbalance it shows." }
        (fault_summary(v.typed.faults().iter()))
        div.cols {
            div { (form(v)) }
            div {
                @if let Some(out) = &v.out { (told(out)) }
                section.card { h2 { "How to do it" } ol { @for step in door::procedure() { li { (step) } } } }
                section.card { div.links { a href={ "/stands/" (stand.id) } { "Back to the stand" } } }
            }
        }
    }
}

fn told(out: &QualifyOut) -> Markup {
    let pm = |m: &Option<MeanSd>, unit: &str| match m {
        Some(m) => format!("{} ± {} {unit}", significant(m.mean, 3), significant(1.96 * m.sd, 2)),
        None => "not told".to_owned(),
    };
    html! {
        section.card.now {
            h2 { "What the tests tell" }
            p { (out.says) }
            dl.facts {
                dt { "Drift, positive counter-clockwise" } dd { (pm(&out.drift_g_mm, "g·mm")) }
                dt { "Dry friction" } dd { (pm(&out.dry_friction_g_mm, "g·mm")) }
                dt { "Smallest unbalance it shows, drift taken off" } dd { @match out.floor_drift_known_g_mm { Some(f) => { (significant(f, 3)) " g·mm" } None => { "not told" } } }
                dt { "The same, drift left in" } dd { @match out.floor_g_mm { Some(f) => { (significant(f, 3)) " g·mm" } None => { "not told" } } }
                dt { "The rotor’s own, along its mark" } dd { (pm(&out.residual_x_g_mm, "g·mm")) }
                dt { "A quarter turn counter-clockwise from it" } dd { (pm(&out.residual_y_g_mm, "g·mm")) }
            }
            @for t in &out.cannot_tell { p.caution { strong { "Not told." } " " (t) } }
            @for c in &out.cautions { p.caution { strong { "Caution." } " " (c) } }
        }
    }
}

fn form(v: &View) -> Markup {
    let path = format!("/stands/{}", v.shelf.stand.id);
    let t = &v.typed;
    let number = |row: &str, leaf: &str, label: &str, unit: &str| {
        let name = format!("{row}{leaf}");
        field(t, Field { name: &name, label, unit, keys: "decimal", ..Field::default() }.not_enforced())
    };
    let lies = |row: &str| {
        let options = [("usual", "as usual"), ("reversed", "end for end")].map(|(v, w)| (v.to_owned(), w.to_owned()));
        select(t, &format!("{row}lies"), "", "The rotor lies", "", &options)
    };
    let sense = |row: &str, label: &str| {
        let options = [("counter-clockwise", "counter-clockwise"), ("clockwise", "clockwise")].map(|(v, w)| (v.to_owned(), w.to_owned()));
        select(t, &format!("{row}sense"), "", label, "", &options)
    };
    let mass_on = |row: &str| {
        html! {
            div.pair { (number(row, "mass_g", "Known mass on it, if any", "g")) (number(row, "radius_mm", "at radius", "mm")) }
            (number(row, "at_deg", "at rotor angle", "°"))
        }
    };
    html! {
        form.card method="post" action={ (path) "/qualify" } novalidate {
            h2 { "What you saw" }
            p.hint { "Rows that you leave empty are left out." }
            input type="hidden" name="revision" value=(v.shelf.stand.revision);
            div.field {
                label for="rotor" { "The rotor on it" }
                select id="rotor" name="rotor" { @for r in &v.shelf.rotors { option value=(r.id) selected[v.rotor.as_ref().is_some_and(|on| on.id == r.id)] { (r.body.name) } } }
            }
            @for k in 0..CREEPS {
                @let row = format!("creep{k}_");
                fieldset {
                    legend { "Creep " (k + 1) ": let go at rest" }
                    div.pair { (lies(&row)) (number(&row, "bottom_deg", "Rotor angle at the bottom", "°")) }
                    div.pair { (number(&row, "time_s", "Time", "s")) (number(&row, "turned_deg", "for a turn of", "°")) }
                    (sense(&row, "It crept"))
                }
            }
            (fold(t, "swing", "Swings of a known trial mass", &html! { @for k in 0..SWINGS {
                @let row = format!("swing{k}_");
                fieldset {
                    legend { "Swing " (k + 1) ": a known trial mass" }
                    (lies(&row))
                    div.pair { (number(&row, "mass_g", "Mass", "g")) (number(&row, "radius_mm", "at radius", "mm")) }
                    div.pair { (number(&row, "at_deg", "at rotor angle", "°")) (number(&row, "swings", "Full swings", "")) }
                    div.pair { (number(&row, "time_s", "Time of all", "s")) (number(&row, "amplitude_deg", "First amplitude", "°")) }
                    (number(&row, "amplitude_end_deg", "Last amplitude, if read", "°"))
                }
            } }))
            (fold(t, "start", "Small masses where it stays by itself", &html! { @for k in 0..STARTS {
                @let row = format!("start{k}_");
                fieldset {
                    legend { "Small mass " (k + 1) ": where it stays by itself" }
                    div.pair { (lies(&row)) (number(&row, "bottom_deg", "Rotor angle at the bottom", "°")) }
                    div.pair { (number(&row, "stays_g", "Stays with", "g")) (number(&row, "mass_g", "Starts with", "g")) }
                    div.pair { (number(&row, "radius_mm", "at radius", "mm")) (number(&row, "at_deg", "at rotor angle", "°")) }
                    (sense(&row, "It starts"))
                }
            } }))
            (fold(t, "settle", "Where it comes to rest by itself", &html! { @for k in 0..SETTLES {
                @let row = format!("settle{k}_");
                fieldset {
                    legend { "Rest " (k + 1) ": let go, it swung out and stayed" }
                    div.pair { (lies(&row)) (number(&row, "bottom_deg", "Rotor angle at the bottom", "°")) }
                    (mass_on(&row))
                }
            } }))
            (fold(t, "log", "Swing logs", &html! { @for k in 0..LOGS {
                @let row = format!("log{k}_");
                @let name = format!("{row}rows");
                fieldset {
                    legend { "Log " (k + 1) ": a free swing, from an encoder or a clip" }
                    (lies(&row))
                    div.field.faulty[t.fault(&name).is_some()] {
                        label for=(name) { "Time in s and room angle of the zero mark in °, a row each" }
                        textarea id=(name) name=(name) rows="6" spellcheck="false" aria-describedby={ (name) "-hint" } { "\n" (t.untrimmed(&name)) }
                        p.hint id={ (name) "-hint" } { "Counted counter-clockwise from straight down, as you face the wheel. Two swings or more." }
                        @if let Some(f) = t.fault(&name) { p.fault id={ (name) "-fault" } { (f.why) @if !f.allowed.is_empty() { " Allowed: " (f.allowed) "." } } }
                    }
                    (mass_on(&row))
                }
            } }))
            details {
                summary { "How well it was read" }
                div.inside {
                    p.hint { "One standard deviation: two readings of three lie within it." }
                    @for (name, label, unit, _) in READINGS { (number("", name, label, unit)) }
                    (select(t, "dry_friction_possible", "", "Can it rub dry?", "Ways, edges and rollers do; an air saddle where the arbor leans on its end stop.", &[("no".to_owned(), "no".to_owned()), ("yes".to_owned(), "yes".to_owned())]))
                }
            }
            div.actions {
                button.main type="submit" { "What do they tell?" }
                @if v.out.as_ref().is_some_and(|o| o.keep.is_some()) { button type="submit" formaction={ (path) "/qualify/keep" } { "Keep with the stand" } }
            }
        }
    }
}

/// Rows that not every test has: folded until something stands in them.
fn fold(t: &Typed, prefix: &str, words: &str, rows: &Markup) -> Markup {
    let leaves: &[&str] = if prefix == "settle" { &["bottom_deg"] } else { &["time_s", "mass_g", "rows"] };
    let most = SWINGS.max(STARTS).max(SETTLES).max(LOGS);
    let used = (0..most).any(|k| leaves.iter().any(|leaf| !t.text(&format!("{prefix}{k}_{leaf}")).is_empty()));
    html! { details open[used] { summary { (words) } div.inside { (rows) } } }
}
