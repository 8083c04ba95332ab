//! What others store in a sitting, told to a page as it happens (server-sent events, WHATWG HTML §9.2).
//!
//! Each event carries its number, so a page that was cut off asks on from the last one it has: none is told twice, none is left out.

use super::super::error::WebError;
use super::super::gate::Visitor;
use super::super::guard::PAIR_COOKIE;
use super::super::show::{Show, cookie};
use super::super::state::App;
use super::history::words;
use axum::Extension;
use axum::extract::{Path, Query, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::sse::{Event as Told, KeepAlive, Sse};
use axum::response::{IntoResponse, Response};
use serde_json::json;
use std::collections::HashMap;
use std::convert::Infallible;
use std::time::Duration;
use stillwheel_store::{Event, EventKind, Id, WeightRing};
use tokio::sync::broadcast::error::RecvError;
use tokio::sync::mpsc;
use tokio_stream::wrappers::ReceiverStream;

/// How often the store is asked by itself: another program may have written, or a backup been restored.
const LOOK_AGAIN: Duration = Duration::from_secs(4);

/// `GET /sittings/{id}/live?after=SEQ`.
pub(crate) async fn stream(
    State(app): State<App>,
    Path(id): Path<String>,
    Query(query): Query<HashMap<String, String>>,
    Extension(visitor): Extension<Visitor>,
    headers: HeaderMap,
) -> Result<Response, WebError> {
    let id = Id::parse(&id)?;
    let key = id.clone();
    let ring = app.bench(move |b| b.store().sitting(&key).map(|s| s.start.ring.body)).await?;
    // A browser that was cut off says what it had; a new page says it in the address.
    let told = headers.get("last-event-id").and_then(|v| v.to_str().ok()).or_else(|| query.get("after").map(String::as_str));
    let seen = told.and_then(|text| text.parse().ok()).unwrap_or(0);
    let Some(leave) = app.one_more_stream() else {
        return Ok((StatusCode::SERVICE_UNAVAILABLE, "Too many pages are open at once; reload to see what is new.\n").into_response());
    };
    let (to_page, from_here) = mpsc::channel(16);
    let watch = Watch { app, id, ring, show: Show::of(&headers), visitor, key: cookie(&headers, PAIR_COOKIE), seen, to_page };
    tokio::spawn(async move {
        watch.run().await;
        drop(leave);
    });
    Ok(Sse::new(ReceiverStream::new(from_here)).keep_alive(KeepAlive::new().interval(Duration::from_secs(15))).into_response())
}

/// One page that listens.
struct Watch {
    app: App,
    id: Id,
    ring: WeightRing,
    show: Show,
    visitor: Visitor,
    key: Option<String>,
    seen: u32,
    to_page: mpsc::Sender<Result<Told, Infallible>>,
}

impl Watch {
    /// Until the page goes, the device is shut out, or the records fail.
    async fn run(mut self) {
        // Before the first look into the store: what is appended from here on is told or found.
        let mut stored = self.app.stored();
        while self.is_let_in().await && self.tell_new().await {
            let mine = async {
                loop {
                    match stored.recv().await {
                        Ok(id) if id != self.id => {}
                        Ok(_) | Err(RecvError::Lagged(_)) => break,
                        Err(RecvError::Closed) => std::future::pending().await,
                    }
                }
            };
            tokio::select! {
                () = self.to_page.closed() => return,
                () = mine => {}
                () = tokio::time::sleep(LOOK_AGAIN) => {}
            }
        }
    }

    async fn is_let_in(&self) -> bool {
        let (Visitor::Device(_), Some(gate), Some(key)) = (&self.visitor, self.app.gate().cloned(), self.key.clone()) else { return true };
        matches!(tokio::task::spawn_blocking(move || gate.known(&key)).await, Ok(Ok(Some(_))))
    }

    /// Tell what came since; whether to go on.
    async fn tell_new(&mut self) -> bool {
        let (id, seen) = (self.id.clone(), self.seen);
        let found = self.app.bench(move |b| {
            let latest = b.store().latest_seq(&id)?;
            Ok::<_, WebError>((latest, if latest > seen { b.store().events_after(&id, seen)? } else { Vec::new() }))
        });
        let Ok((latest, new)) = found.await else { return false };
        if latest < self.seen {
            // Taken back by a restore: the page holds what is no longer there.
            self.seen = latest;
            let told = Told::default().event("anew").id(latest.to_string()).data("{}");
            return self.to_page.send(Ok(told)).await.is_ok();
        }
        for event in new {
            self.seen = event.seq;
            if self.to_page.send(Ok(self.told(&event))).await.is_err() {
                return false;
            }
        }
        true
    }

    fn told(&self, event: &Event) -> Told {
        let say = match event.kind {
            EventKind::Undo => "something was taken back".to_owned(),
            _ => words(self.show, &self.ring, event),
        };
        let data = json!({ "seq": event.seq, "kind": event.kind, "who": event.who, "token": event.token, "say": say });
        Told::default().event("stored").id(event.seq.to_string()).data(data.to_string())
    }
}
