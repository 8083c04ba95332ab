//! Backups: what is there, one more now, and one put in the place of the present records.
//!
//! The list is read from the folder alone, so the page also answers when the records themselves are damaged.

use super::super::error::WebError;
use super::super::keeper::Keeper;
use super::super::layout::{self, Place};
use super::super::show::Show;
use super::super::state::App;
use super::time::moment;
use axum::Form;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use maud::{Markup, html};
use std::collections::HashMap;
use stillwheel_store::{BackupFile, Contents, Reason, Restored, StoreFault};

/// What the page says first.
enum Told {
    Nothing,
    Made(String),
    Restored(Restored),
    Refused(StoreFault),
}

/// `GET /records/backups`.
pub(crate) async fn page(State(app): State<App>, headers: HeaderMap) -> Result<Response, WebError> {
    render(&app, &headers, Told::Nothing, StatusCode::OK).await
}

/// `POST /records/backups`: one now.
pub(crate) async fn make(State(app): State<App>, headers: HeaderMap) -> Result<Response, WebError> {
    match app.keeper(|keeper| Ok(keeper.by_hand())).await? {
        Ok(file) => render(&app, &headers, Told::Made(file.name()), StatusCode::OK).await,
        Err(fault) => refused(&app, &headers, fault).await,
    }
}

/// `POST /records/backups/restore`: the one that `name` tells, once `sure` is ticked.
pub(crate) async fn restore(
    State(app): State<App>,
    headers: HeaderMap,
    Form(text): Form<HashMap<String, String>>,
) -> Result<Response, WebError> {
    if !text.contains_key("sure") {
        let fault = StoreFault::Invalid {
            field: "sure".into(),
            value: "not ticked".into(),
            allowed: "ticked".into(),
            why: "Tick the box under the backup that shall take the place of the present records.".into(),
        };
        return refused(&app, &headers, fault).await;
    }
    let name = text.get("name").cloned().unwrap_or_default();
    match app.keeper(move |keeper| Ok(keeper.restore(&name))).await? {
        Ok(restored) => render(&app, &headers, Told::Restored(restored), StatusCode::OK).await,
        Err(fault) => refused(&app, &headers, fault).await,
    }
}

/// `GET /records/backups/{name}`: the file itself, to be kept elsewhere.
pub(crate) async fn download(State(app): State<App>, Path(name): Path<String>) -> Result<Response, WebError> {
    let found = app.keeper(move |keeper| {
        let Ok(file) = keeper.backups()?.named(&name) else { return Ok(None) };
        let bytes = std::fs::read(&file.path).map_err(|e| StoreFault::Other { detail: e.to_string() })?;
        Ok(Some((file.name(), bytes)))
    });
    let Some((name, bytes)) = found.await? else { return Err(WebError::NotFound("There is no backup of this name.".into())) };
    let disposition = format!("attachment; filename=\"{name}\"");
    Ok(([(header::CONTENT_TYPE, "application/vnd.sqlite3".to_owned()), (header::CONTENT_DISPOSITION, disposition)], bytes).into_response())
}

/// `GET /records/backups/restore` and the like, after a reload.
pub(crate) async fn back() -> Redirect {
    Redirect::to("/records/backups")
}

async fn refused(app: &App, headers: &HeaderMap, fault: StoreFault) -> Result<Response, WebError> {
    let status = WebError::from(fault.clone()).status();
    render(app, headers, Told::Refused(fault), status).await
}

async fn render(app: &App, headers: &HeaderMap, told: Told, status: StatusCode) -> Result<Response, WebError> {
    let (list, folder, fault) = app
        .keeper(|keeper: &Keeper| {
            let folder = keeper.backups().map(|b| b.folder().display().to_string()).unwrap_or_default();
            let list = keeper.backups().and_then(stillwheel_store::Backups::list).unwrap_or_default();
            Ok((list, folder, keeper.last_fault()))
        })
        .await?;
    let content = body(&told, &list, &folder, fault.as_ref());
    Ok((status, layout::page("Backups", Place::Records, Show::of(headers), app.is_demo(), content)).into_response())
}

fn body(told: &Told, list: &[BackupFile], folder: &str, fault: Option<&StoreFault>) -> Markup {
    html! {
        h1 { "Backups" }
        p.lead { "Whole copies of the records, made by the program while it runs, each read back before it counts." }
        @match told {
            Told::Nothing => {},
            Told::Made(name) => section.card.narrow role="status" { h2 { "✓ Backed up" } p { (name) } },
            Told::Restored(done) => section.card.narrow role="status" {
                h2 { "✓ Restored" }
                p { "In the records now: " (holds(&done.contents)) "." }
                @if let Some(aside) = &done.set_aside {
                    p { "What was there before is kept as " b { (aside.file_name().map(|n| n.to_string_lossy()).unwrap_or_default()) } " in the list below." }
                }
            },
            Told::Refused(fault) => section.card.narrow.faults role="alert" { h2 { "Nothing was changed" } p { (fault) } },
        }
        @if let (Some(fault), Told::Nothing) = (fault, told) {
            section.card.narrow.faults role="alert" { h2 { "The last backup failed" } p { (fault) } }
        }
        div.cols {
            section.card {
                h2 { "Make one now" }
                p { "Made by hand, a backup stays until you remove its file. The program’s own are thinned out: the newest three, one a day for a week, one a week for eight weeks." }
                @if !folder.is_empty() { p.soft { "On the computer, in the folder " (folder) ". A disc that fails takes its backups along: save one elsewhere now and then." } }
                form method="post" action="/records/backups" { button.main.wide type="submit" { "Back up now" } }
                p.links { a href="/records" { "All records as one file" } }
            }
            section.card {
                h2 { "Kept" }
                @if list.is_empty() { p.soft { "None yet." } }
                @for (i, file) in list.iter().enumerate() { (entry(i, file)) }
            }
        }
    }
}

fn entry(i: usize, file: &BackupFile) -> Markup {
    let why = match file.reason {
        Reason::Automatic => "by the program",
        Reason::ByHand => "by hand",
        Reason::BeforeRestore => "set aside before a restore",
        Reason::Damaged => "damaged, as it was found",
    };
    html! {
        details {
            summary { span { (moment(file.at)) " " small { (why) ", " (size(file.bytes)) } } }
            div.inside {
                p.soft { (file.name()) }
                p.links { a href={ "/records/backups/" (file.name()) } download { "Save this file" } }
                @if file.reason != Reason::Damaged {
                    form method="post" action="/records/backups/restore" {
                        input type="hidden" name="name" value=(file.name());
                        p { "The records become what they were then. What is there now is set aside as a backup first." }
                        label.pick for={ "sure-" (i) } { input #{ "sure-" (i) } type="checkbox" name="sure" value="yes" required; "Take the records back to " (moment(file.at)) }
                        button.wide type="submit" { "Restore" }
                    }
                }
            }
        }
    }
}

/// What is in a store, in words.
pub(crate) fn holds(contents: &Contents) -> String {
    let Contents { records, sittings, events, .. } = contents;
    format!("{records} rotors, machines, rings and stands, {sittings} sittings, {events} looks, moves and other events")
}

fn size(bytes: u64) -> String {
    if bytes < 1_000_000 { format!("{} kB", bytes.div_ceil(1000)) } else { format!("{:.1} MB", bytes as f64 / 1e6) }
}
