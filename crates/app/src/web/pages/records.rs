//! Rotors, machines, weight rings and stands: list, make, edit, copy, hide.

use super::super::error::WebError;
use super::super::form::{Typed, fault_summary};
use super::super::layout::{self, Place};
use super::super::person::by;
use super::super::show::Show;
use super::super::state::App;
use super::record_form::{RecordForm, Refs};
use super::search;
use crate::sitting::Bench;
use axum::Form;
use axum::extract::{Path, Query, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use maud::{Markup, html};
use std::collections::HashMap;
use stillwheel_store::{Id, Machine, Rotor, Stand, StoreFault, Stored, WeightRing};

type Text = HashMap<String, String>;

/// Call a generic function with the record type that the address names.
macro_rules! of_kind {
    ($kind:expr, $f:ident ( $($arg:expr),* )) => {
        match $kind.as_str() {
            Rotor::PATH => $f::<Rotor>($($arg),*).await,
            Machine::PATH => $f::<Machine>($($arg),*).await,
            WeightRing::PATH => $f::<WeightRing>($($arg),*).await,
            Stand::PATH => $f::<Stand>($($arg),*).await,
            _ => Err(WebError::NotFound("There are rotors, machines, rings and stands.".into())),
        }
    };
}

/// `GET /rotors`: all four lists.
pub(crate) async fn list(State(app): State<App>, headers: HeaderMap) -> Result<Markup, WebError> {
    let show = Show::of(&headers);
    let body = app
        .bench(move |b| {
            let s = b.store();
            Ok::<_, WebError>(html! {
                h1 { "Rotors" }
                p.lead { "What is balanced, on what, and for which machine. An edit makes a new revision; old sittings keep what they began with." }
                div.card.narrow { (search::form("")) }
                div.cols {
                    div { (section::<Rotor>("Rotors", &s.list()?, show)) (section::<Machine>("Machines", &s.list()?, show)) }
                    div { (section::<WeightRing>("Weight rings", &s.list()?, show)) (section::<Stand>("Stands", &s.list()?, show)) }
                }
            })
        })
        .await?;
    Ok(layout::page("Rotors", Place::Rotors, show, app.is_demo(), body))
}

fn section<R: RecordForm>(title: &str, records: &[Stored<R>], show: Show) -> Markup {
    html! {
        section.card {
            h2 { (title) }
            @if records.is_empty() { p.soft { "None yet." } }
            ul.list {
                @for r in records {
                    li { a.row href={ "/records/" (R::PATH) "/" (r.id) } { span.what { b { (r.body.name()) } small { (r.body.line(show)) } } }
                        @if R::PATH == Rotor::PATH { p.links { a href={ "/rotors/" (r.id) } { "Sittings and what to expect" span.visually-hidden { " of " (r.body.name()) } } } }
                    }
                }
            }
            div.actions { a.button href={ "/records/" (R::PATH) "/new" } { "New " (R::WORD) } }
        }
    }
}

/// `GET /records/{kind}/new`, with `?copy=ID` filled from another.
pub(crate) async fn new(
    State(app): State<App>,
    Path(kind): Path<String>,
    Query(query): Query<Text>,
    headers: HeaderMap,
) -> Result<Response, WebError> {
    of_kind!(kind, new_of(app, query, Show::of(&headers)))
}

async fn new_of<R: RecordForm>(app: App, query: Text, show: Show) -> Result<Response, WebError> {
    let (typed, refs) = app
        .bench(move |b| {
            let refs = refs(b)?;
            let mut typed = Typed::default();
            match query.get("copy") {
                Some(id) => {
                    let from = b.store().get::<R>(&Id::parse(id)?)?;
                    let name = format!("{} (copy)", from.body.name());
                    from.body.into_copy().fill(&mut typed, show);
                    typed.put("name", name);
                }
                None => R::blank(&mut typed, show, &refs),
            }
            Ok::<_, WebError>((typed, refs))
        })
        .await?;
    Ok(form_page::<R>(&app, &typed, show, &refs, None, None).into_response())
}

/// `POST /records/{kind}`.
pub(crate) async fn create(
    State(app): State<App>,
    Path(kind): Path<String>,
    headers: HeaderMap,
    Form(text): Form<Text>,
) -> Result<Response, WebError> {
    of_kind!(kind, store_of(app, None, headers, text))
}

/// `POST /records/{kind}/{id}`.
pub(crate) async fn revise(
    State(app): State<App>,
    Path((kind, id)): Path<(String, String)>,
    headers: HeaderMap,
    Form(text): Form<Text>,
) -> Result<Response, WebError> {
    let id = Id::parse(&id)?;
    of_kind!(kind, store_of(app, Some(id), headers, text))
}

/// The form once more: refused, or with something worked out in it.
struct Again {
    typed: Typed,
    refs: Refs,
    status: StatusCode,
    worked_out: Option<String>,
}

async fn store_of<R: RecordForm>(app: App, id: Option<Id>, headers: HeaderMap, text: Text) -> Result<Response, WebError> {
    let show = Show::of(&headers);
    let by = by(&headers);
    let known = id.clone();
    let kept = app
        .bench(move |b| {
            let mut typed = Typed::new(text);
            if typed.ticked("work_out") {
                let told = R::work_out(&mut typed, show);
                let status = if told.is_some() { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
                return Ok(Err(Again { typed, refs: refs(b)?, status, worked_out: told }));
            }
            let Some(record) = R::read(&mut typed, show) else {
                return Ok(Err(Again { typed, refs: refs(b)?, status: StatusCode::UNPROCESSABLE_ENTITY, worked_out: None }));
            };
            let seen = typed.text("revision").parse().unwrap_or(0);
            let stored = match &id {
                Some(id) => b.store().revise(id, seen, &record, &by),
                None => b.store().put(&record, &by),
            };
            match stored {
                Ok(s) => Ok(Ok(s)),
                Err(mut f @ StoreFault::Invalid { .. }) => {
                    if let StoreFault::Invalid { field, .. } = &mut f
                        && let Some(name) = R::in_form(&typed, field)
                    {
                        *field = name;
                    }
                    typed.blame_store(&f);
                    Ok(Err(Again { typed, refs: refs(b)?, status: StatusCode::UNPROCESSABLE_ENTITY, worked_out: None }))
                }
                Err(f @ StoreFault::Conflict { .. }) => {
                    typed.blame_store(&f);
                    // Sent again, it is stored over the other revision, which the person has been told of.
                    if let Some(id) = &id {
                        typed.put("revision", b.store().get::<R>(id)?.revision.to_string());
                    }
                    Ok(Err(Again { typed, refs: refs(b)?, status: StatusCode::CONFLICT, worked_out: None }))
                }
                Err(f) => Err(WebError::from(f)),
            }
        })
        .await?;
    match kept {
        Ok(_) => Ok(Redirect::to("/rotors").into_response()),
        Err(a) => Ok((a.status, form_page::<R>(&app, &a.typed, show, &a.refs, known.as_ref(), a.worked_out.as_deref())).into_response()),
    }
}

/// `GET /records/{kind}/{id}`.
pub(crate) async fn edit(
    State(app): State<App>,
    Path((kind, id)): Path<(String, String)>,
    headers: HeaderMap,
) -> Result<Response, WebError> {
    let id = Id::parse(&id)?;
    of_kind!(kind, edit_of(app, id, Show::of(&headers)))
}

async fn edit_of<R: RecordForm>(app: App, id: Id, show: Show) -> Result<Response, WebError> {
    let key = id.clone();
    let (typed, refs) = app
        .bench(move |b| {
            let record = b.store().get::<R>(&key)?;
            let mut typed = Typed::default();
            record.body.fill(&mut typed, show);
            typed.put("revision", record.revision.to_string());
            Ok::<_, WebError>((typed, refs(b)?))
        })
        .await?;
    Ok(form_page::<R>(&app, &typed, show, &refs, Some(&id), None).into_response())
}

/// `POST /records/{kind}/{id}/retire`.
pub(crate) async fn retire(
    State(app): State<App>,
    Path((kind, id)): Path<(String, String)>,
    headers: HeaderMap,
) -> Result<Response, WebError> {
    let id = Id::parse(&id)?;
    of_kind!(kind, retire_of(app, id, headers))
}

async fn retire_of<R: RecordForm>(app: App, id: Id, headers: HeaderMap) -> Result<Response, WebError> {
    let by = by(&headers);
    app.bench(move |b| b.store().retire::<R>(&id, &by).map(|_| ())).await?;
    Ok(Redirect::to("/rotors").into_response())
}

fn refs(b: &Bench) -> Result<Refs, StoreFault> {
    Ok(Refs { rings: b.store().list()? })
}

fn form_page<R: RecordForm>(app: &App, typed: &Typed, show: Show, refs: &Refs, id: Option<&Id>, worked_out: Option<&str>) -> Markup {
    let shown: Vec<&str> = R::FIELDS.iter().chain(R::HELPING).copied().collect();
    let title = if id.is_some() { typed.text("name").to_owned() } else { format!("New {}", R::WORD) };
    let action = id.map_or_else(|| format!("/records/{}", R::PATH), |id| format!("/records/{}/{id}", R::PATH));
    let body = html! {
        h1 { (title) }
        p.lead { "Numbers may carry a unit: 12.7 mm, 0.5 in, 3/8 in, 1.2 kg." }
        (fault_summary(typed.other_faults(&shown)))
        @if let Some(say) = worked_out { p.card.narrow role="status" { b { "✓ Worked out, not stored yet. " } (say) } }
        @if typed.faults().iter().any(|f| !f.field.is_empty()) { p.caution role="alert" { strong { "Not stored yet." } " See the marked fields; what you typed is kept." } }
        form.card.narrow method="post" action=(action) novalidate {
            // The first button of a form is the one that the enter key presses: keep, whatever helps stand further down.
            button.visually-hidden type="submit" tabindex="-1" aria-hidden="true" { "Keep" }
            input type="hidden" name="revision" value=(typed.text("revision"));
            (R::fields(typed, show, refs))
            div.actions { button.main type="submit" { "Keep" } a.button href="/rotors" { "Back" } }
        }
        @if let Some(id) = id {
            (R::offers(&action))
            section.card.narrow {
                div.links {
                    a href={ "/records/" (R::PATH) "/new?copy=" (id) } { "Make a copy" }
                    form method="post" action={ (action) "/retire" } { button.as-link type="submit" { "Hide from the lists" } }
                }
                p.soft { "Hidden records stay in old sittings and in exports." }
            }
        }
    };
    layout::page(&title, Place::Rotors, show, app.is_demo(), body)
}
