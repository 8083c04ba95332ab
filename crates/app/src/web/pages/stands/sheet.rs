//! A stand's sheet: sliders, its text, and what it would do.

use super::super::super::error::WebError;
use super::super::super::form::{Typed, fault_summary};
use super::super::super::layout::{self, Place};
use super::super::super::person::by;
use super::super::super::show::{Show, significant};
use super::super::super::state::App;
use super::compute::{For, SLIDERS, Shelf, StandFor, answer, chosen, revised, sheet_text, shelf, with_typed};
use super::kept_or;
use super::pictures::answered;
use axum::Form;
use axum::extract::{Path, Query, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use maud::{Markup, html};
use std::collections::HashMap;
use stillwheel_door::Fault;
use stillwheel_door::stand::StandOut;
use stillwheel_door::stand_sheet::{StandSheet, read_sheet};
use stillwheel_store::{Id, Stand, Stored};

type Text = HashMap<String, String>;

/// All that the page shows.
struct View {
    shelf: Shelf,
    on: Option<For>,
    /// The sheet as it is tried, with what was typed.
    toml: String,
    typed: Typed,
    /// Whether it differs from what is kept.
    tried: bool,
}

fn view(b: &crate::sitting::Bench, id: &Id, text: &Text) -> Result<View, WebError> {
    let shelf = shelf(b, id)?;
    let on = chosen(b, &shelf, text)?;
    let kept = sheet_text(&shelf.stand.body);
    let mut typed = Typed::new(text.clone());
    let toml = with_typed(&kept, &mut typed).unwrap_or_else(|| kept.clone());
    let tried = toml != kept;
    Ok(View { shelf, on, toml, typed, tried })
}

/// `GET /stands/{id}`, with `?rotor=…&machine=…&grade_mm_s=…`.
pub(crate) async fn page(
    State(app): State<App>,
    Path(id): Path<String>,
    Query(query): Query<Text>,
    headers: HeaderMap,
) -> Result<Response, WebError> {
    let (id, show) = (Id::parse(&id)?, Show::of(&headers));
    let body = app.bench(move |b| Ok::<_, WebError>(body(&view(b, &id, &query)?, show))).await?;
    Ok(layout::page("Stand", Place::Stands, show, app.is_demo(), body).into_response())
}

/// `POST /stands/{id}/tried`: what the typed values would do, nothing kept; the answer alone when a script asks.
pub(crate) async fn tried(
    State(app): State<App>,
    Path(id): Path<String>,
    headers: HeaderMap,
    Form(text): Form<Text>,
) -> Result<Response, WebError> {
    let (id, show) = (Id::parse(&id)?, Show::of(&headers));
    let part = headers.get("x-part").is_some();
    let (good, body) = app
        .bench(move |b| {
            let v = view(b, &id, &text)?;
            let given = given(&v);
            let good = v.typed.is_good() && !matches!(given, Some(Err(_)));
            Ok::<_, WebError>((good, if part { answer_part(&v, given.as_ref(), show) } else { body_with(&v, given.as_ref(), show) }))
        })
        .await?;
    // To the script a fault is an answer like any other: it is shown in the answer's place.
    if part {
        return Ok(body.into_response());
    }
    let status = if good { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
    Ok((status, layout::page("Stand", Place::Stands, show, app.is_demo(), body)).into_response())
}

/// `POST /stands/{id}/keep`: keep the typed values in the sheet.
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
            let mut v = view(b, &id, &text)?;
            if v.typed.is_good()
                && let Err(f) = read_sheet(&v.toml)
            {
                v.typed.blame(f);
            }
            if !v.typed.is_good() {
                return Ok(Some(body(&v, show)));
            }
            let record = Stand { sheet_toml: v.toml.clone(), ..v.shelf.stand.body.clone() };
            let kept = revised(b, &v.shelf.stand, &record, &by, &mut v.typed)?;
            Ok::<_, WebError>((!kept).then(|| body(&v, show)))
        })
        .await?;
    Ok(kept_or(&app, show, &path, "Stand", stays))
}

/// `POST /stands/{id}/sheet`: keep a whole sheet as it was written.
pub(crate) async fn take_text(
    State(app): State<App>,
    Path(id): Path<String>,
    headers: HeaderMap,
    Form(text): Form<Text>,
) -> Result<Response, WebError> {
    let (id, show, by) = (Id::parse(&id)?, Show::of(&headers), by(&headers));
    let path = format!("/stands/{id}");
    let stays = app
        .bench(move |b| {
            let written = text.get("sheet_toml").map_or(String::new(), |t| t.replace("\r\n", "\n"));
            let revision = text.get("revision").map(|r| ("revision".to_owned(), r.clone()));
            let mut v = view(b, &id, &revision.into_iter().collect())?;
            let kept = if let Err(f) = read_sheet(&written) {
                v.typed.blame(f);
                false
            } else {
                let record = Stand { sheet_toml: written.clone(), ..v.shelf.stand.body.clone() };
                revised(b, &v.shelf.stand, &record, &by, &mut v.typed)?
            };
            v.toml = written;
            Ok::<_, WebError>((!kept).then(|| body(&v, show)))
        })
        .await?;
    Ok(kept_or(&app, show, &path, "Stand", stays))
}

/// `GET /stands/{id}/sheet.toml`.
pub(crate) async fn download(State(app): State<App>, Path(id): Path<String>) -> Result<Response, WebError> {
    let id = Id::parse(&id)?;
    let text = app.bench(move |b| b.store().get::<Stand>(&id).map(|s| sheet_text(&s.body))).await?;
    let head =
        [(header::CONTENT_TYPE, "application/toml; charset=utf-8"), (header::CONTENT_DISPOSITION, "attachment; filename=\"stand.toml\"")];
    Ok((head, text).into_response())
}

/// `POST /stands/{id}/use`: let the bench judge by this sheet's floor, drift and dead band.
pub(crate) async fn use_on_bench(
    State(app): State<App>,
    Path(id): Path<String>,
    headers: HeaderMap,
    Form(text): Form<Text>,
) -> Result<Response, WebError> {
    let (id, by) = (Id::parse(&id)?, by(&headers));
    let path = format!("/stands/{id}");
    app.bench(move |b| {
        let v = view(b, &id, &text)?;
        let Some(on) = &v.on else { return Err(WebError::NotFound("There is no rotor or no machine to judge the stand for.".into())) };
        let (_, out) = answer(&sheet_text(&v.shelf.stand.body), on)?;
        let record = Stand {
            floor_g_mm: out.floor.floor_g_mm,
            dry_friction_g_mm: out.floor.dead_band_g_mm,
            // The drift is known only to lie within its size either way: standard deviation of the even spread (JCGM 100, 4.3.7).
            drift_sd_g_mm: out.floor.drift_g_mm.abs() / 3f64.sqrt(),
            ..v.shelf.stand.body.clone()
        };
        let seen = text.get("revision").and_then(|r| r.parse().ok()).unwrap_or(0);
        b.store().revise(&id, seen, &record, &by).map_err(WebError::from)
    })
    .await?;
    Ok(Redirect::to(&path).into_response())
}

type Given = Result<(StandSheet, StandOut), Fault>;

/// The door's answer to what is tried; `None` where what was typed is no sheet, or nothing is there to judge the stand for.
fn given(v: &View) -> Option<Given> {
    v.on.as_ref().filter(|_| v.typed.is_good()).map(|on| answer(&v.toml, on))
}

fn answer_part(v: &View, given: Option<&Given>, show: Show) -> Markup {
    match (&v.on, given) {
        _ if !v.typed.is_good() => fault_summary(v.typed.faults().iter()),
        (Some(on), Some(given)) => answered(given.as_ref(), on, show),
        _ => {
            html! { section.card { p { "Make a rotor and a machine first: a stand is judged by what it must show." } a.button href="/rotors" { "Rotors" } } }
        }
    }
}

fn body(v: &View, show: Show) -> Markup {
    body_with(v, given(v).as_ref(), show)
}

fn body_with(v: &View, given: Option<&Given>, show: Show) -> Markup {
    let stand: &Stored<Stand> = &v.shelf.stand;
    let path = format!("/stands/{}", stand.id);
    html! {
        h1 { (stand.body.name) }
        p.lead { "What it is, what it can show, and what limits it." }
        @if v.typed.is_good() && v.tried { p.notice role="status" { "Tried, not kept." } }
        (fault_summary(v.typed.faults().iter()))
        div.cols {
            div {
                (sliders(v, &path))
                (text_card(v, &path))
                section.card {
                    h2 { "More of this stand" }
                    @if let Some(said) = stand.body.qualification.as_ref().and_then(|q| q["result"]["says"].as_str()) { p { "Measured: " (said) } }
                    div.links {
                        @if read_sheet(&sheet_text(&stand.body)).is_ok_and(|s| s.saddles.is_some()) { a href={ (path) "/search" } { "Search a design" } }
                        @if read_sheet(&sheet_text(&stand.body)).is_ok_and(|s| s.saddles.is_some()) { a href={ (path) "/parts" } { "Make it" } a href={ (path) "/inspect" } { "Measured parts" } }
                        a href={ (path) "/level" } { "Level it" }
                        a href={ (path) "/qualify" } { "Measure its floor" }
                        a href={ "/records/stands/" (stand.id) } { "Name, kind and floor" }
                        a href="/stands" { "All stands" }
                    }
                }
            }
            div #answer aria-live="polite" { @if v.typed.is_good() { (answer_part(v, given, show)) } }
        }
    }
}

fn sliders(v: &View, path: &str) -> Markup {
    // A sheet that can't be still has its fields, or what was typed could not be put right.
    let sheet = read_sheet(&v.toml).or_else(|_| read_sheet(&sheet_text(&v.shelf.stand.body))).ok();
    html! {
        form.card method="post" action={ (path) "/tried" } data-live="answer" data-to={ (path) "/tried" } novalidate {
            h2 { "Its sheet" }
            input type="hidden" name="revision" value=(v.shelf.stand.revision);
            @for s in &SLIDERS {
                @let now = sheet.as_ref().and_then(|sheet| (s.of)(sheet));
                @if now.is_some() || s.optional && sheet.as_ref().is_some_and(|s| s.feed.is_some()) {
                    @let kept = now.map_or(String::new(), |n| significant(n, 6));
                    // What was typed stays as it was typed, above all where it is wrong.
                    @let shown = if v.typed.ticked(s.path) { v.typed.text(s.path).to_owned() } else { kept.clone() };
                    @let fault = v.typed.fault(s.path);
                    div.field.slide.faulty[fault.is_some()] {
                        label for=(s.path) { (s.label) @if s.optional { " " small { "(empty: none)" } } }
                        div.with-unit {
                            input id=(s.path) name=(s.path) value=(shown) inputmode="decimal" autocomplete="off" aria-invalid=[fault.map(|_| "true")];
                            span.unit aria-hidden="true" { (s.unit) }
                            span.visually-hidden { "in " (s.unit) }
                        }
                        input.needs-script type="range" hidden aria-label={ (s.label) ", slider" } data-for=(s.path) min=(s.range[0]) max=(s.range[1]) step=(s.range[2]) value=(kept);
                        @if let Some(f) = fault { p.fault { (f.why) @if !f.allowed.is_empty() { " Allowed: " (f.allowed) "." } } }
                    }
                }
            }
            @if let Some(on) = &v.on { (StandFor { shelf: &v.shelf, on }.choices()) }
            div.actions {
                button.main type="submit" { "Try" }
                button type="submit" formaction={ (path) "/keep" } { "Keep in the sheet" }
            }
            @if !v.tried && v.on.is_some() {
                div.actions { button.plain type="submit" formaction={ (path) "/use" } { "Use this floor on the bench" } }
                p.soft { "The bench now takes a floor of " (significant(v.shelf.stand.body.floor_g_mm, 3)) " g·mm and a drift of ± " (significant(1.96 * v.shelf.stand.body.drift_sd_g_mm, 2)) " g·mm for this stand." }
            }
        }
    }
}

fn text_card(v: &View, path: &str) -> Markup {
    html! {
        details.card-like {
            summary { "The whole sheet as text" }
            div.inside {
                form method="post" action={ (path) "/sheet" } {
                    input type="hidden" name="revision" value=(v.shelf.stand.revision);
                    div.field {
                        label for="sheet_toml" { "Stand sheet (TOML; remarks are kept)" }
                        textarea id="sheet_toml" name="sheet_toml" rows="24" spellcheck="false" { "\n" (v.toml) }
                    }
                    div.actions { button type="submit" { "Keep this text" } a.button.plain href={ (path) "/sheet.toml" } download { "Download" } }
                }
            }
        }
    }
}
