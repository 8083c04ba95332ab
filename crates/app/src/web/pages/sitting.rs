//! Handlers of one sitting: show it, take an act, answer with the page as it is then.

use super::super::error::{WebError, field_fault};
use super::super::form::Typed;
use super::super::layout::{self, Place};
use super::super::person::{by, token};
use super::super::show::Show;
use super::super::state::App;
use super::super::upload::Upload;
use super::sitting_view::{Note, View, body};
use super::{log_columns, look_reading, screws};
use crate::sitting::{Act, Asked, Bench, SittingFault, Source, reader_of};
use axum::Form;
use axum::extract::{Path, Query, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use std::collections::HashMap;
use stillwheel_door::Fault;
use stillwheel_door::virtual_bench::VirtualLook;
use stillwheel_store::{Event, Id, RingKind, StoreFault, WeightRing};

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

/// What an act does to the sitting.
type Deed = Box<dyn FnOnce(&Bench, &Id) -> Result<Event, SittingFault> + Send>;

/// `POST /sittings/{id}/{act}`: look, virtual, moved, screws, undo, verdict, reopen.
pub(crate) async fn act(
    State(app): State<App>,
    Path((id, kind)): Path<(String, String)>,
    headers: HeaderMap,
    Form(text): Form<Text>,
) -> Result<Response, WebError> {
    let id = Id::parse(&id)?;
    let key = id.clone();
    let ring = app.bench(move |b| Ok::<_, WebError>(b.store().sitting(&key)?.start.ring.body)).await?;
    let mut typed = Typed::new(text);
    let show = Show::of(&headers);
    let (deed, form) = match kind.as_str() {
        // The forms of a look have names of their own.
        "look" => (look(&mut typed, show, &ring), typed.text("kind").to_owned()),
        "virtual" => (virtual_look(&mut typed, show, &ring), kind),
        "moved" => (moved(&mut typed, show), kind),
        "screws" => (screws_changed(&mut typed, &ring), kind),
        "undo" => (undo(&mut typed), kind),
        "verdict" => (Some(verdict(&typed)), kind),
        "reopen" => (Some(Box::new(|act: &Act, b: &Bench, id: &Id| b.reopen(id, act)) as Ready), kind),
        _ => return Err(WebError::NotFound(format!("an act {kind:?}"))),
    };
    let (Some(ready), Some(act)) = (deed, the_act(&mut typed, &headers)) else {
        return again(&app, id, &headers, form, typed, None).await;
    };
    let deed: Deed = Box::new(move |b, id| ready(&act, b, id));
    take(app, id, headers, form, typed, deed).await
}

/// A deed that wants its token and who does it.
type Ready = Box<dyn FnOnce(&Act, &Bench, &Id) -> Result<Event, SittingFault> + Send>;

fn look(typed: &mut Typed, show: Show, ring: &WeightRing) -> Option<Ready> {
    let taken = look_reading::read(typed, show, ring)?;
    Some(Box::new(move |act, b, id| b.look(id, act, taken, Source::Person)))
}

fn virtual_look(typed: &mut Typed, show: Show, ring: &WeightRing) -> Option<Ready> {
    let look = match typed.text("look") {
        "settle" => VirtualLook::Settle,
        "swing" => VirtualLook::Swing,
        "holds" => VirtualLook::Holds,
        "log" => VirtualLook::Log,
        other => {
            typed.blame(Fault::new("look", other, "settle, swing, holds, log", "Choose a look."));
            return None;
        }
    };
    let (trial, turned_deg) = look_reading::circumstances(typed, show, ring, false);
    typed
        .is_good()
        .then(|| Box::new(move |act: &Act, b: &Bench, id: &Id| b.virtual_look(id, act, Asked { look, trial, turned_deg })) as Ready)
}

/// To the proposed places, or to those typed.
fn moved(typed: &mut Typed, show: Show) -> Option<Ready> {
    let mut to_deg = Vec::new();
    while !typed.text(&format!("to_deg_{}", to_deg.len())).is_empty() {
        let name = format!("to_deg_{}", to_deg.len());
        to_deg.push(typed.angle(&name, show));
    }
    typed.is_good().then(|| Box::new(move |act: &Act, b: &Bench, id: &Id| b.moved(id, act, to_deg)) as Ready)
}

fn screws_changed(typed: &mut Typed, ring: &WeightRing) -> Option<Ready> {
    let RingKind::TappedHoles(t) = &ring.kind else {
        typed.blame(Fault::new("screws", "screws", "angles of the weights", "This ring is a groove: say where its weights stand."));
        return None;
    };
    let in_hole = screws::read(typed, t)?;
    Some(Box::new(move |act, b, id| b.screws_changed(id, act, in_hole)))
}

fn undo(typed: &mut Typed) -> Option<Ready> {
    let Ok(seq) = typed.text("undoes").parse::<u32>() else {
        typed.blame(Fault::new("undoes", typed.text("undoes"), "the number of an event", "Load the page anew and try again."));
        return None;
    };
    Some(Box::new(move |act, b, id| b.undo(id, act, seq)))
}

fn verdict(typed: &Typed) -> Ready {
    let (proven, note) = (typed.text("proven") == "yes", typed.text("note").to_owned());
    Box::new(move |act, b, id| b.verdict(id, act, proven, &note))
}

/// `POST /sittings/{id}/log`: a swing log as a file, or pasted. The page's form asks (`do`) to see its columns first; a plain
/// two-column file that a program sends is stored at once.
pub(crate) async fn swing_log(
    State(app): State<App>,
    Path(id): Path<String>,
    headers: HeaderMap,
    Upload(mut form): Upload,
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
    if !typed.text("do").is_empty() {
        return log_columns::take(app, id, headers, typed, csv).await;
    }
    let turned = typed.text("turned_on_arbor_deg").to_owned();
    let turned_deg = if turned.is_empty() { 0.0 } else { typed.angle("turned_on_arbor_deg", Show::of(&headers)) };
    let Some(act) = the_act(&mut typed, &headers).filter(|_| typed.is_good()) else {
        return again(&app, id, &headers, "log".into(), typed, None).await;
    };
    let deed: Deed = Box::new(move |b, id| b.swing_log(id, &act, &csv, turned_deg));
    take(app, id, headers, "log".into(), typed, deed).await
}

/// The act's hidden fields.
pub(super) fn the_act(typed: &mut Typed, headers: &HeaderMap) -> Option<Act> {
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
async fn take(app: App, id: Id, headers: HeaderMap, kind: String, mut typed: Typed, deed: Deed) -> Result<Response, WebError> {
    let key = id.clone();
    let done = app.bench(move |b| Ok::<_, WebError>(deed(b, &key))).await?;
    match done {
        Ok(event) => {
            let saw = if kind == "virtual" { format!("?saw={}", event.seq) } else { String::new() };
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
