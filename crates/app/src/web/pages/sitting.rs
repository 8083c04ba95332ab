//! Handlers of one sitting: show it, take an act, answer with the page as it is then.

use super::super::error::{WebError, field_fault};
use super::super::form::Typed;
use super::super::layout::{self, Place};
use super::super::person::{by, token};
use super::super::show::Show;
use super::super::state::App;
use super::look_reading;
use super::sitting_view::{Note, View, body};
use crate::sitting::{Act, Bench, SittingFault, Source, reader_of};
use axum::Form;
use axum::extract::{Multipart, Path, Query, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use std::collections::HashMap;
use stillwheel_door::Fault;
use stillwheel_door::next_step::LookKind;
use stillwheel_store::{Event, Id, StoreFault};

type Text = HashMap<String, String>;

/// `GET /sittings/{id}`.
pub(crate) async fn page(
    State(app): State<App>,
    Path(id): Path<String>,
    Query(query): Query<Text>,
    headers: HeaderMap,
) -> Result<Response, WebError> {
    let just_seen = query.get("saw").and_then(|s| s.parse().ok());
    render(&app, Id::parse(&id)?, &headers, Note::default(), just_seen, StatusCode::OK).await
}

async fn render(
    app: &App,
    id: Id,
    headers: &HeaderMap,
    note: Note,
    just_seen: Option<u32>,
    status: StatusCode,
) -> Result<Response, WebError> {
    let show = Show::of(headers);
    let sat = app.bench(move |b| b.sat(&id)).await?;
    let reader = reader_of(&sat.sitting);
    let title = sat.sitting.start.rotor.body.name.clone();
    let view = View { sat, show, reader, token: token(), note, just_seen };
    Ok((status, layout::page(&title, Place::Bench, show, app.is_demo(), body(&view))).into_response())
}

/// `POST /sittings/{id}/look`.
pub(crate) async fn look(
    State(app): State<App>,
    Path(id): Path<String>,
    headers: HeaderMap,
    Form(text): Form<Text>,
) -> Result<Response, WebError> {
    let mut typed = Typed::new(text);
    let show = Show::of(&headers);
    let kind = typed.text("kind").to_owned();
    let id = Id::parse(&id)?;
    let (Some(entered), Some(act)) = (look_reading::read(&mut typed, show), act(&mut typed, &headers)) else {
        return again(&app, id, &headers, kind, typed, None).await;
    };
    take(app, id, headers, kind, typed, false, move |b, id| {
        b.look(id, &act, entered.reading, entered.trial, entered.turned_deg, Source::Person)
    })
    .await
}

/// `POST /sittings/{id}/log`: a swing log as a file, or pasted.
pub(crate) async fn swing_log(
    State(app): State<App>,
    Path(id): Path<String>,
    headers: HeaderMap,
    mut form: Multipart,
) -> Result<Response, WebError> {
    let id = Id::parse(&id)?;
    let (mut typed, mut csv) = (Typed::default(), Vec::new());
    let unreadable =
        |e: axum::extract::multipart::MultipartError| Fault::new("log", "this upload", "a file of at most 12 MiB", e.body_text());
    while let Some(part) = form.next_field().await.map_err(unreadable)? {
        let name = part.name().unwrap_or("").to_owned();
        let bytes = part.bytes().await.map_err(unreadable)?;
        match name.as_str() {
            "file" if !bytes.is_empty() => csv = bytes.to_vec(),
            "pasted" if csv.is_empty() => csv = bytes.to_vec(),
            _ => {}
        }
        if name != "file" {
            typed.put(name, String::from_utf8_lossy(&bytes));
        }
    }
    let Some(act) = act(&mut typed, &headers) else { return again(&app, id, &headers, "log".into(), typed, None).await };
    take(app, id, headers, "log".into(), typed, false, move |b, id| b.swing_log(id, &act, &csv)).await
}

/// `POST /sittings/{id}/virtual`.
pub(crate) async fn virtual_look(
    State(app): State<App>,
    Path(id): Path<String>,
    headers: HeaderMap,
    Form(text): Form<Text>,
) -> Result<Response, WebError> {
    let mut typed = Typed::new(text);
    let id = Id::parse(&id)?;
    let look = if typed.text("look") == "swing" { LookKind::Swing } else { LookKind::Settle };
    let Some(act) = act(&mut typed, &headers) else { return again(&app, id, &headers, "virtual".into(), typed, None).await };
    take(app, id, headers, "virtual".into(), typed, true, move |b, id| b.virtual_look(id, &act, look)).await
}

/// `POST /sittings/{id}/moved`: to the proposed places, or to those typed.
pub(crate) async fn moved(
    State(app): State<App>,
    Path(id): Path<String>,
    headers: HeaderMap,
    Form(text): Form<Text>,
) -> Result<Response, WebError> {
    let mut typed = Typed::new(text);
    let show = Show::of(&headers);
    let id = Id::parse(&id)?;
    let mut to_deg = Vec::new();
    while !typed.text(&format!("to_deg_{}", to_deg.len())).is_empty() {
        let name = format!("to_deg_{}", to_deg.len());
        to_deg.push(typed.angle(&name, show));
    }
    let act = act(&mut typed, &headers).filter(|_| typed.is_good());
    let Some(act) = act else { return again(&app, id, &headers, "moved".into(), typed, None).await };
    take(app, id, headers, "moved".into(), typed, false, move |b, id| b.moved(id, &act, to_deg)).await
}

/// `POST /sittings/{id}/undo`.
pub(crate) async fn undo(
    State(app): State<App>,
    Path(id): Path<String>,
    headers: HeaderMap,
    Form(text): Form<Text>,
) -> Result<Response, WebError> {
    let mut typed = Typed::new(text);
    let id = Id::parse(&id)?;
    let seq = typed.text("undoes").parse::<u32>();
    let (Ok(seq), Some(act)) = (seq, act(&mut typed, &headers)) else { return again(&app, id, &headers, "undo".into(), typed, None).await };
    take(app, id, headers, "undo".into(), typed, false, move |b, id| b.undo(id, &act, seq)).await
}

/// `POST /sittings/{id}/verdict`.
pub(crate) async fn verdict(
    State(app): State<App>,
    Path(id): Path<String>,
    headers: HeaderMap,
    Form(text): Form<Text>,
) -> Result<Response, WebError> {
    let mut typed = Typed::new(text);
    let id = Id::parse(&id)?;
    let (proven, note) = (typed.text("proven") == "yes", typed.text("note").to_owned());
    let Some(act) = act(&mut typed, &headers) else { return again(&app, id, &headers, "verdict".into(), typed, None).await };
    take(app, id, headers, "verdict".into(), typed, false, move |b, id| b.verdict(id, &act, proven, &note)).await
}

/// `POST /sittings/{id}/reopen`.
pub(crate) async fn reopen(
    State(app): State<App>,
    Path(id): Path<String>,
    headers: HeaderMap,
    Form(text): Form<Text>,
) -> Result<Response, WebError> {
    let mut typed = Typed::new(text);
    let id = Id::parse(&id)?;
    let Some(act) = act(&mut typed, &headers) else { return again(&app, id, &headers, "reopen".into(), typed, None).await };
    take(app, id, headers, "reopen".into(), typed, false, move |b, id| b.reopen(id, &act)).await
}

/// The act's hidden fields.
fn act(typed: &mut Typed, headers: &HeaderMap) -> Option<Act> {
    let token = typed.text("token").to_owned();
    match typed.text("after_seq").parse() {
        Ok(after_seq) if !token.is_empty() => Some(Act { token, after_seq, by: by(headers) }),
        _ => {
            typed.blame(Fault::new(
                "after_seq",
                typed.text("after_seq"),
                "the number of the latest event that you saw",
                "Load the page anew and send it again.",
            ));
            None
        }
    }
}

/// Do it; on success to the page, else the page again with what was typed.
async fn take(
    app: App,
    id: Id,
    headers: HeaderMap,
    kind: String,
    mut typed: Typed,
    play: bool,
    work: impl FnOnce(&Bench, &Id) -> Result<Event, SittingFault> + Send + 'static,
) -> Result<Response, WebError> {
    let key = id.clone();
    let done = app.bench(move |b| Ok::<_, WebError>(work(b, &key))).await?;
    match done {
        Ok(event) => {
            let saw = if play { format!("?saw={}", event.seq) } else { String::new() };
            Ok(Redirect::to(&format!("/sittings/{id}{saw}")).into_response())
        }
        Err(SittingFault::Store(StoreFault::Conflict { say, since })) => again(&app, id, &headers, kind, typed, Some((say, since))).await,
        Err(SittingFault::Store(fault @ StoreFault::Invalid { .. })) => {
            typed.blame(field_fault(&fault).unwrap_or_else(|| Fault::new("", "", "", fault.to_string())));
            again(&app, id, &headers, kind, typed, None).await
        }
        Err(SittingFault::Fault(fault)) => {
            typed.blame(fault);
            again(&app, id, &headers, kind, typed, None).await
        }
        Err(SittingFault::Store(fault)) => Err(fault.into()),
    }
}

async fn again(
    app: &App,
    id: Id,
    headers: &HeaderMap,
    kind: String,
    typed: Typed,
    conflict: Option<(String, Vec<Event>)>,
) -> Result<Response, WebError> {
    let status = if conflict.is_some() { StatusCode::CONFLICT } else { StatusCode::UNPROCESSABLE_ENTITY };
    render(app, id, headers, Note { kind: Some(kind), typed, conflict }, None, status).await
}
