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
    /// The device may only look.
    OnlyLooks,
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

impl WebError {
    /// The status of the answer.
    pub(crate) fn status(&self) -> StatusCode {
        match self {
            Self::NotFound(_) => StatusCode::NOT_FOUND,
            Self::Fault(_) => StatusCode::UNPROCESSABLE_ENTITY,
            Self::OnlyLooks => StatusCode::FORBIDDEN,
            Self::Store(f) => match f {
                StoreFault::NotFound { .. } => StatusCode::NOT_FOUND,
                StoreFault::Conflict { .. } => StatusCode::CONFLICT,
                StoreFault::Invalid { field, .. } if field == "id" => StatusCode::NOT_FOUND,
                StoreFault::Invalid { .. } => StatusCode::UNPROCESSABLE_ENTITY,
                StoreFault::Full => StatusCode::INSUFFICIENT_STORAGE,
                StoreFault::Busy => StatusCode::SERVICE_UNAVAILABLE,
                _ => StatusCode::INTERNAL_SERVER_ERROR,
            },
            Self::Broken(_) => StatusCode::INTERNAL_SERVER_ERROR,
        }
    }

    /// What stands over the page.
    fn title(&self) -> &'static str {
        match self {
            Self::NotFound(_) => "Not here",
            Self::Fault(_) => "This could not be done",
            Self::OnlyLooks => "This device may only look",
            Self::Store(f) => match f {
                StoreFault::NotFound { .. } => "Not here",
                StoreFault::Conflict { .. } => "Somebody else was quicker",
                StoreFault::Invalid { field, .. } if field == "id" => "Not here",
                StoreFault::Invalid { .. } => "This could not be stored",
                StoreFault::Full => "The disc is full",
                StoreFault::Busy => "The records are in use",
                StoreFault::Corrupt { .. } => "The records are damaged",
                StoreFault::ReadOnly => "The records can only be read",
                _ => "The records could not be used",
            },
            Self::Broken(_) => "Something broke",
        }
    }
}

impl IntoResponse for WebError {
    fn into_response(self) -> Response {
        let say = match &self {
            Self::NotFound(what) => what.clone(),
            Self::Fault(f) => f.to_string(),
            Self::OnlyLooks => {
                "It was paired with the code for looking, so nothing is stored from here. Pair it anew with the other code to write."
                    .to_owned()
            }
            Self::Store(f) => f.to_string(),
            Self::Broken(e) => {
                tracing::error!("{e:#}");
                "A fault of the program itself. All that was stored before is safe. Go back and try again; the log on the computer says more.".to_owned()
            }
        };
        let damaged = matches!(self, Self::Store(StoreFault::Corrupt { .. }));
        let body = html! {
            section.card.narrow {
                h1 { (self.title()) }
                p { (say) }
                @if damaged {
                    p { "Nothing more is lost by waiting: take no more looks until the records are mended." }
                    div.actions { a.button.main href="/records/backups" { "To the backups" } }
                }
                p.links { a href="/" { "To the bench" } a href="/help" { "Help" } }
            }
        };
        (self.status(), page(self.title(), Place::None, Show::default(), false, body)).into_response()
    }
}
