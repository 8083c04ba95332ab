//! Pages on which a swing log is made (clip, taps): show the form, take the log, answer with the look's report or with why not.

use super::super::error::{WebError, field_fault};
use super::super::form::Typed;
use super::super::layout::{self, Place};
use super::super::person::token;
use super::super::show::Show;
use super::super::state::App;
use super::log_report;
use super::look_reading;
use super::sitting::the_act;
use super::sitting_view::{Note, View};
use crate::sitting::{Act, Circumstances, LogBody, LogOutcome, SittingFault, reader_of};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use maud::{Markup, html};
use stillwheel_door::Fault;
use stillwheel_store::{Id, StoreFault};

/// One such page: its title, and its content from the sitting and, after a log that told too little, what it did tell.
#[derive(Clone, Copy)]
pub(super) struct LogPage {
    /// Title.
    pub(super) title: &'static str,
    /// Content.
    pub(super) body: fn(&View, Option<&Markup>) -> Markup,
}

/// What such a page hands in.
pub(super) struct Entry {
    /// The act.
    pub(super) act: Act,
    /// The log.
    pub(super) log: LogBody,
    /// What was on the rotor.
    pub(super) around: Circumstances,
}

impl LogPage {
    /// The page, with what was typed and its faults.
    pub(super) async fn render(
        self,
        app: &App,
        id: Id,
        headers: &HeaderMap,
        typed: Typed,
        status: StatusCode,
    ) -> Result<Response, WebError> {
        self.show(app, id, headers, typed, status, None).await
    }

    /// The page with what goes above its form.
    pub(super) async fn show(
        self,
        app: &App,
        id: Id,
        headers: &HeaderMap,
        typed: Typed,
        status: StatusCode,
        told: Option<Markup>,
    ) -> Result<Response, WebError> {
        let show = Show::of(headers);
        let sat = app.bench(move |b| b.sat(&id)).await?;
        let reader = reader_of(&sat.sitting);
        let note = Note { typed, ..Note::default() };
        let view = View { sat, show, reader, token: token(), note, just_seen: None };
        Ok((status, layout::page(self.title, Place::Bench, show, app.is_demo(), (self.body)(&view, told.as_ref()))).into_response())
    }

    /// Read the form, with `read` for its log, and store that as a look; else the page again, with all that was typed.
    pub(super) async fn take(
        self,
        app: App,
        id: Id,
        headers: HeaderMap,
        mut typed: Typed,
        read: impl FnOnce(&mut Typed, Show) -> Option<LogBody>,
    ) -> Result<Response, WebError> {
        let (key, show) = (id.clone(), Show::of(&headers));
        let ring = app.bench(move |b| Ok::<_, WebError>(b.store().sitting(&key)?.start.ring.body)).await?;
        let log = read(&mut typed, show);
        let (trial, turned_deg) = look_reading::circumstances(&mut typed, show, &ring, false);
        let act = the_act(&mut typed, &headers);
        let (Some(log), Some(act), true) = (log, act, typed.is_good()) else {
            return self.render(&app, id, &headers, typed, StatusCode::UNPROCESSABLE_ENTITY).await;
        };
        self.store(app, id, headers, typed, Entry { act, log, around: Circumstances { trial, turned_deg } }).await
    }

    /// Store the log as a look and show its report; else the page again, with all that was typed.
    pub(super) async fn store(self, app: App, id: Id, headers: HeaderMap, mut typed: Typed, entry: Entry) -> Result<Response, WebError> {
        let Entry { act, log, around } = entry;
        let (key, sent) = (id.clone(), log.clone());
        let (sat, done) = app.bench(move |b| Ok::<_, WebError>((b.sat(&key)?, b.log_look(&key, &act, sent, &around)))).await?;
        let (status, fault) = match done {
            Ok(LogOutcome::Stored(event)) => return Ok(Redirect::to(&format!("/sittings/{id}/log/{}", event.seq)).into_response()),
            Ok(LogOutcome::NotTold(fit)) => {
                let told = html! {
                    section.card.faults role="alert" { h2 { "Not stored: the log tells too little" } p { "What it does tell is below, as wide as it is." } }
                    (log_report::report(&sat, &log, &fit, Show::of(&headers)))
                };
                return self.show(&app, id, &headers, typed, StatusCode::UNPROCESSABLE_ENTITY, Some(told)).await;
            }
            Err(SittingFault::Fault(fault)) => (StatusCode::UNPROCESSABLE_ENTITY, fault),
            Err(SittingFault::Store(StoreFault::Conflict { say, .. })) => {
                (StatusCode::CONFLICT, Fault::new("", "", "", format!("{say} The log is kept here: send it again if it still holds.")))
            }
            Err(SittingFault::Store(fault @ StoreFault::Invalid { .. })) => {
                (StatusCode::UNPROCESSABLE_ENTITY, field_fault(&fault).unwrap_or_else(|| Fault::new("", "", "", fault.to_string())))
            }
            Err(SittingFault::Store(fault)) => return Err(fault.into()),
        };
        typed.blame(fault);
        self.show(&app, id, &headers, typed, status, None).await
    }
}
