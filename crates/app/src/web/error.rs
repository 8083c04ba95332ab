//! What a page can fail with, and the page that says so.

use super::layout::{Place, page};
use super::show::Show;
use crate::sitting::SittingFault;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use maud::html;
use stillwheel_door::Fault;
use stillwheel_store::StoreFault;

/// Why a request could not be answered as asked.
#[derive(Debug)]
pub(crate) enum WebError {
    /// There is no such page.
    NotFound(String),
    /// A value was refused, on a page that has no field to show it at.
    Fault(Fault),
    /// The store refused or failed.
    Store(StoreFault),
    /// A fault of the program itself.
    Broken(anyhow::Error),
}

impl From<StoreFault> for WebError {
    fn from(f: StoreFault) -> Self {
        Self::Store(f)
    }
}
impl From<Fault> for WebError {
    fn from(f: Fault) -> Self {
        Self::Fault(f)
    }
}
impl From<SittingFault> for WebError {
    fn from(f: SittingFault) -> Self {
        match f {
            SittingFault::Store(f) => Self::Store(f),
            SittingFault::Fault(f) => Self::Fault(f),
        }
    }
}

/// A store's fault as the fault of a field, when it is one.
pub(crate) fn field_fault(fault: &StoreFault) -> Option<Fault> {
    match fault {
        StoreFault::Invalid { field, value, allowed, why } => {
            Some(Fault::new(field.as_str(), value.as_str(), allowed.as_str(), why.as_str()))
        }
        _ => None,
    }
}

impl IntoResponse for WebError {
    fn into_response(self) -> Response {
        let (status, title, say) = match &self {
            Self::NotFound(what) => (StatusCode::NOT_FOUND, "Not here", what.clone()),
            Self::Fault(f) => (StatusCode::UNPROCESSABLE_ENTITY, "This could not be done", f.to_string()),
            Self::Store(f) => match f {
                StoreFault::NotFound { .. } => (StatusCode::NOT_FOUND, "Not here", f.to_string()),
                StoreFault::Conflict { .. } => (StatusCode::CONFLICT, "Somebody else was quicker", f.to_string()),
                StoreFault::Invalid { field, .. } if field == "id" => (StatusCode::NOT_FOUND, "Not here", f.to_string()),
                StoreFault::Invalid { .. } => (StatusCode::UNPROCESSABLE_ENTITY, "This could not be stored", f.to_string()),
                StoreFault::Full => (StatusCode::INSUFFICIENT_STORAGE, "The disc is full", f.to_string()),
                StoreFault::Busy => (StatusCode::SERVICE_UNAVAILABLE, "The records are in use", f.to_string()),
                _ => (StatusCode::INTERNAL_SERVER_ERROR, "The records could not be used", f.to_string()),
            },
            Self::Broken(e) => {
                tracing::error!("{e:#}");
                let say = "A fault of the program itself. All that was stored before is safe. Go back and try again; the log on the computer says more.";
                (StatusCode::INTERNAL_SERVER_ERROR, "Something broke", say.to_owned())
            }
        };
        let body = html! {
            section.card.narrow {
                h1 { (title) }
                p { (say) }
                p.links { a href="/" { "To the bench" } a href="/help" { "Help" } }
            }
        };
        (status, page(title, Place::None, Show::default(), false, body)).into_response()
    }
}
