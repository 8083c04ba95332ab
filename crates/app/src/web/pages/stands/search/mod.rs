//! Search a design: a form; a search that goes on whether it is watched or not; the trade-off; a design taken into the stand's sheet.
//!
//! In: what a stand must do and what may be tried. Out: pages, and a new revision of the sheet. Without a script the page of a running
//! search loads itself anew.

mod form;
mod result;

use super::super::super::error::WebError;
use super::super::super::form::{Typed, fault_summary};
use super::super::super::layout::{self, Place};
use super::super::super::person::by;
use super::super::super::searches::{Begin, Ended, Job};
use super::super::super::show::Show;
use super::super::super::state::App;
use super::compute::{Shelf, StandFor, chosen, revised, sheet_text, shelf};
use axum::Form;
use axum::extract::{Path, Query, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use maud::{Markup, html};
use std::collections::HashMap;
use std::sync::Arc;
use stillwheel_door::Fault;
use stillwheel_door::search_saddle::{DesignOut, check_search};
use stillwheel_door::stand_sheet::{read_sheet, set_in_sheet};
use stillwheel_store::{Id, Stand};

type Text = HashMap<String, String>;

const TITLE: &str = "Search a design";

/// The form, filled from the sheet and from what was typed; and what to begin, if all of it is good.
struct Asked {
    body: Markup,
    begin: Option<Begin>,
    /// Whether the form was sent and something in it is wrong.
    faulty: bool,
}

fn asked(
    b: &crate::sitting::Bench,
    id: &Id,
    text: Option<Text>,
    fault: Option<Fault>,
    jobs: &[Arc<Job>],
    show: Show,
) -> Result<Asked, WebError> {
    let shelf = shelf(b, id)?;
    let sent = text.is_some();
    let text = text.unwrap_or_default();
    let on = chosen(b, &shelf, &text)?;
    let sheet_toml = sheet_text(&shelf.stand.body);
    let mut typed = Typed::new(text.clone());
    let sheet = match read_sheet(&sheet_toml) {
        Ok(sheet) => sheet,
        Err(f) => return Ok(Asked { body: unfit(&shelf, &f.to_string()), begin: None, faulty: sent }),
    };
    let (Some(on), Some(_)) = (on, &sheet.saddles) else {
        let why = if sheet.saddles.is_none() {
            "The search sizes air saddles, and this stand has none."
        } else {
            "Make a rotor and a machine first: a stand is judged by what it must show."
        };
        return Ok(Asked { body: unfit(&shelf, why), begin: None, faulty: sent });
    };
    form::put_defaults(&mut typed, &sheet);
    let mut begin = None;
    if sent && let Some(input) = form::read(&mut typed, &sheet, &on, show) {
        match check_search(&input) {
            Ok(()) => begin = Some(Begin { stand: id.clone(), revision: shelf.stand.revision, sheet_toml, typed: text, input }),
            Err(f) => typed.blame(f),
        }
    }
    if let Some(f) = fault {
        typed.blame(f);
    }
    let path = format!("/stands/{id}");
    let body = html! {
        h1 { "A design for " (shelf.stand.body.name) }
        p.lead { "Which clearance, length, port, jet and pressure carry this rotor with the air there is, and what each costs." }
        (fault_summary(typed.faults().iter()))
        div.cols {
            div { (form::card(&typed, &path, &StandFor { shelf: &shelf, on: &on }, &sheet, show)) }
            div {
                @if !jobs.is_empty() {
                    section.card { h2 { "Searches for this stand" } ul.list { @for j in jobs { li { (result::line(j, &path)) } } } p.soft { "Kept until the program ends." } }
                }
                section.card {
                    h2 { "How it searches" }
                    p { "Every design of the ranges is floated, as drawn and with the clearance at both edges of what you hold. Then half a step is tried about each that none beats in air, stiffness and floor at once." }
                    p { "Proposed is the one with the most in hand, once it has floated at every corner of clearance, port and bore. Your sheet stays as it is until you take a design." }
                    div.links { a href=(path) { "Back to the stand" } }
                }
            }
        }
    };
    Ok(Asked { body, faulty: sent && begin.is_none() || !typed.is_good(), begin })
}

fn unfit(shelf: &Shelf, why: &str) -> Markup {
    html! {
        h1 { "A design for " (shelf.stand.body.name) }
        section.card.narrow { p { (why) } div.links { a href={ "/stands/" (shelf.stand.id) } { "Back to the stand" } } }
    }
}

/// `GET /stands/{id}/search`; `?from=…`: filled as that search was.
pub(crate) async fn page(
    State(app): State<App>,
    Path(id): Path<String>,
    Query(query): Query<Text>,
    headers: HeaderMap,
) -> Result<Markup, WebError> {
    let (id, show) = (Id::parse(&id)?, Show::of(&headers));
    let jobs = app.searches().of(&id);
    // Filled, yet not judged: no fault stands there before anything was sent.
    let filled = query.get("from").and_then(|from| app.searches().get(&id, from)).map(|j| j.begin.typed.clone());
    let body = app.bench(move |b| asked(b, &id, filled, None, &jobs, show)).await?.body;
    Ok(layout::page(TITLE, Place::Stands, show, app.is_demo(), body))
}

/// `POST /stands/{id}/search`: begin, and go to the page that watches.
pub(crate) async fn begin(
    State(app): State<App>,
    Path(id): Path<String>,
    headers: HeaderMap,
    Form(text): Form<Text>,
) -> Result<Response, WebError> {
    let (id, show) = (Id::parse(&id)?, Show::of(&headers));
    let jobs = app.searches().of(&id);
    let (of, sent) = (id.clone(), text.clone());
    let mut asked_for = app.bench(move |b| asked(b, &of, Some(sent), None, &jobs, show)).await?;
    if let Some(begin) = asked_for.begin.take() {
        match app.searches().begin(begin) {
            Ok(job) => return Ok(Redirect::to(&format!("/stands/{id}/search/{}", job.id)).into_response()),
            Err(fault) => {
                let jobs = app.searches().of(&id);
                asked_for = app.bench(move |b| asked(b, &id, Some(text), Some(fault), &jobs, show)).await?;
            }
        }
    }
    let status = if asked_for.faulty { StatusCode::UNPROCESSABLE_ENTITY } else { StatusCode::OK };
    Ok((status, layout::page(TITLE, Place::Stands, show, app.is_demo(), asked_for.body)).into_response())
}

fn job(app: &App, id: &Id, job: &str) -> Result<Arc<Job>, WebError> {
    let gone = "This search is no longer known: searches are kept until the program ends. Begin it again from the stand’s page.";
    app.searches().get(id, job).ok_or_else(|| WebError::NotFound(gone.into()))
}

/// `GET /stands/{id}/search/{job}`: how far it is, or what it found; the part that changes alone when a script asks.
pub(crate) async fn watch(
    State(app): State<App>,
    Path((id, name)): Path<(String, String)>,
    headers: HeaderMap,
) -> Result<Response, WebError> {
    let (id, show) = (Id::parse(&id)?, Show::of(&headers));
    let job = job(&app, &id, &name)?;
    if headers.get("x-part").is_some() {
        return Ok(result::state(&job).into_response());
    }
    let stand = app.bench(move |b| b.store().get::<Stand>(&id)).await?;
    let body = result::body(&job, &stand.body.name, &Typed::default(), show);
    Ok(layout::waiting_page(TITLE, Place::Stands, show, app.is_demo(), job.ended().is_none(), body).into_response())
}

/// `POST /stands/{id}/search/{job}/stop`.
pub(crate) async fn stop(State(app): State<App>, Path((id, name)): Path<(String, String)>) -> Result<Redirect, WebError> {
    let id = Id::parse(&id)?;
    job(&app, &id, &name)?.stop();
    Ok(Redirect::to(&format!("/stands/{id}/search/{name}")))
}

/// `POST /stands/{id}/search/{job}/take`: a design into a new revision of the stand's sheet, remarks and all.
pub(crate) async fn take(
    State(app): State<App>,
    Path((id, name)): Path<(String, String)>,
    headers: HeaderMap,
    Form(text): Form<Text>,
) -> Result<Response, WebError> {
    let (id, show, by) = (Id::parse(&id)?, Show::of(&headers), by(&headers));
    let job = job(&app, &id, &name)?;
    let path = format!("/stands/{id}");
    let stays = app
        .bench(move |b| {
            let mut typed = Typed::new(text);
            typed.put("revision", job.begin.revision.to_string());
            let stand = b.store().get::<Stand>(&id)?;
            if stand.revision != job.begin.revision {
                let why = "The stand was changed since this search began: search again from what it is now.";
                typed.blame(Fault::new("", "", "", why));
            } else if let Some(sheet_toml) = taken(&job, &mut typed) {
                let record = Stand { sheet_toml, ..stand.body.clone() };
                if revised(b, &stand, &record, &by, &mut typed)? {
                    return Ok::<_, WebError>(None);
                }
            }
            Ok(Some(result::body(&job, &stand.body.name, &typed, show)))
        })
        .await?;
    Ok(super::kept_or(&app, show, &path, TITLE, stays))
}

/// The search's sheet with the chosen design in it.
fn taken(job: &Job, typed: &mut Typed) -> Option<String> {
    let Some(Ended::Found(out)) = job.ended() else {
        typed.blame(Fault::new("", "", "", "This search found no design to take."));
        return None;
    };
    let number = typed.text("design").to_owned();
    let Some(design) = number.parse::<usize>().ok().and_then(|k| out.front.get(k.checked_sub(1)?)) else {
        typed.blame(Fault::new("design", number, format!("1 to {}", out.front.len()), "It is none of the designs."));
        return None;
    };
    match with_design(&job.begin.sheet_toml, design) {
        Ok(text) => Some(text),
        Err(f) => {
            typed.blame(f);
            None
        }
    }
}

fn with_design(sheet_toml: &str, d: &DesignOut) -> Result<String, Fault> {
    // Sizes between the steps have endless fractions; a hundredth of a micrometre is far below what can be made.
    let short = |v: f64, digits: f64| Some((v * digits).round() / digits);
    let values = [
        ("saddles.radial_clearance_um", short(d.clearance_um, 100.0)),
        ("saddles.length_mm", short(d.length_mm, 1000.0)),
        ("feed.port_diameter_mm", Some(d.port_mm)),
        ("feed.jet_diameter_mm", d.jet_mm),
        ("feed.supply_bar", short(d.supply_bar, 1000.0)),
    ];
    let text = values.iter().try_fold(sheet_toml.to_owned(), |text, (path, value)| set_in_sheet(&text, path, *value))?;
    read_sheet(&text)?;
    Ok(text)
}
