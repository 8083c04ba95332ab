//! All records as one file: out of this program and into it.

use super::super::error::WebError;
use super::super::layout::{self, Place};
use super::super::show::Show;
use super::super::state::App;
use super::super::upload::Upload;
use super::search;
use axum::extract::State;
use axum::extract::multipart::MultipartError;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use maud::{Markup, html};
use stillwheel_door::Fault;
use stillwheel_store::{Export, Imported, Machine, Rotor, Stand, StoreFault, WeightRing};

/// Largest file that is taken through a page, bytes: a shop's records of many years. Larger ones go by `stillwheel import`.
pub(crate) const LARGEST_IMPORT: usize = 64 * 1024 * 1024;

/// What the page says about the last import.
enum Told {
    Nothing,
    Done(Imported),
    Refused(String),
}

/// `GET /records`.
pub(crate) async fn page(State(app): State<App>, headers: HeaderMap) -> Result<Response, WebError> {
    render(&app, &headers, Told::Nothing, StatusCode::OK).await
}

/// `GET /records/export`.
pub(crate) async fn export(State(app): State<App>) -> Result<Response, WebError> {
    let text = app.bench(|b| b.store().export().map(|e| e.to_json())).await?;
    let name = format!("attachment; filename=\"stillwheel-{}.json\"", jiff::ZonedDateTime::now().date());
    Ok(([(header::CONTENT_TYPE, "application/json".to_owned()), (header::CONTENT_DISPOSITION, name)], text).into_response())
}

/// `POST /records/import`.
pub(crate) async fn import(State(app): State<App>, headers: HeaderMap, Upload(mut form): Upload) -> Result<Response, WebError> {
    let unreadable = |e: MultipartError| {
        Fault::new("file", "this upload", format!("a file of at most {} MiB", LARGEST_IMPORT / 1024 / 1024), e.body_text())
    };
    let mut file = Vec::new();
    while let Some(part) = form.next_field().await.map_err(unreadable)? {
        if part.name() == Some("file") {
            file = part.bytes().await.map_err(unreadable)?.to_vec();
        }
    }
    if file.is_empty() {
        return render(&app, &headers, Told::Refused("Choose the file first.".into()), StatusCode::UNPROCESSABLE_ENTITY).await;
    }
    let done = app
        .bench(move |b| {
            let Ok(text) = std::str::from_utf8(&file) else {
                return Ok(Err("This file is no text: choose one that an export made.".to_owned()));
            };
            match Export::from_json(text).and_then(|e| b.store().import(&e)) {
                Ok(done) => Ok(Ok(done)),
                Err(
                    f @ (StoreFault::Invalid { .. } | StoreFault::NotOurs { .. } | StoreFault::Newer { .. } | StoreFault::Conflict { .. }),
                ) => Ok(Err(f.to_string())),
                Err(f) => Err(f),
            }
        })
        .await?;
    match done {
        Ok(imported) => render(&app, &headers, Told::Done(imported), StatusCode::OK).await,
        Err(say) => render(&app, &headers, Told::Refused(say), StatusCode::UNPROCESSABLE_ENTITY).await,
    }
}

async fn render(app: &App, headers: &HeaderMap, told: Told, status: StatusCode) -> Result<Response, WebError> {
    let counts = app
        .bench(|b| {
            let s = b.store();
            Ok::<_, StoreFault>([
                ("Rotors", s.list::<Rotor>()?.len()),
                ("Machines", s.list::<Machine>()?.len()),
                ("Weight rings", s.list::<WeightRing>()?.len()),
                ("Stands", s.list::<Stand>()?.len()),
                ("Sittings", s.sittings(None)?.len()),
            ])
        })
        .await?;
    Ok((status, layout::page("Records", Place::Records, Show::of(headers), app.is_demo(), body(&told, &counts))).into_response())
}

fn body(told: &Told, counts: &[(&str, usize)]) -> Markup {
    html! {
        h1 { "Records" }
        div.card.narrow { (search::form("")) }
        p.lead { "Everything as one file: to keep a copy elsewhere, or to move to another computer." }
        @match told {
            Told::Nothing => {},
            Told::Done(i) => section.card.narrow role="status" {
                h2 { "✓ Imported" }
                p { "New here: " (i.revisions) " revisions of records, " (i.sittings) " sittings, " (i.events) " looks, moves and other events. Here already: " (i.already_here) "." }
            },
            Told::Refused(say) => section.card.narrow.faults role="alert" { h2 { "Nothing was imported" } p { (say) } },
        }
        div.cols {
            section.card {
                h2 { "Export" }
                p { "The file holds all revisions, the hidden records and every look, also those taken back." }
                dl.facts { @for (what, n) in counts { dt { (what) } dd { (n) } } }
                div.actions { a.button.main href="/records/export" download { "Save all records" } }
                p.links { a href="/records/backups" { "Backups: list, make, restore" } }
            }
            section.card {
                h2 { "Import" }
                p { "A file that an export made. What is here stays; what is new is added; what is here already is left as it is. A file that contradicts the records is refused whole." }
                form method="post" action="/records/import" enctype="multipart/form-data" {
                    div.field { label for="import-file" { "File" } input #import-file type="file" name="file" accept=".json,application/json" required; }
                    button.wide type="submit" { "Import" }
                }
            }
        }
    }
}
