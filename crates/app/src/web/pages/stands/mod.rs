//! The stands: list, sheet with its living pictures, level, measuring.
//!
//! In: requests, the stands' records. Out: pages; what they show is computed at the door (`stand`, `level`, `qualify`, `search-saddle`).

mod asked;
mod compute;
mod inspect;
mod level;
mod parts;
mod pictures;
mod qualify;
mod search;
mod sheet;

pub(crate) use inspect::{keep as inspect_keep, overview as inspect, page as inspect_piece};
pub(crate) use level::{page as level, read as level_read};
pub(crate) use parts::{file as part_file, list as parts, pack, page as part};
pub(crate) use qualify::{keep as qualify_keep, page as qualify, read as qualify_read};
pub(crate) use search::{begin as search_begin, page as search, stop as search_stop, take as search_take, watch as search_watch};
pub(crate) use sheet::{download, keep, page as sheet, take_text, tried, use_on_bench};

use super::super::error::WebError;
use super::super::layout::{self, Place};
use super::super::show::Show;
use super::super::state::App;
use super::stand_form::kind_words;
use crate::sitting::Bench;
use axum::extract::State;
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use maud::{Markup, html};
use stillwheel_store::Stand;

/// A page whose form was read: whether all of it is good, and the page.
async fn read_form(
    app: &App,
    show: Show,
    title: &'static str,
    read: impl FnOnce(&Bench) -> Result<(bool, Markup), WebError> + Send + 'static,
) -> Result<Response, WebError> {
    let (good, body) = app.bench(read).await?;
    let status = if good { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
    Ok((status, layout::page(title, Place::Stands, show, app.is_demo(), body)).into_response())
}

/// Back to the stand once it is kept, else the form again with its faults.
fn kept_or(app: &App, show: Show, stand: &str, title: &'static str, stays: Option<Markup>) -> Response {
    match stays {
        None => Redirect::to(stand).into_response(),
        Some(body) => (StatusCode::UNPROCESSABLE_ENTITY, layout::page(title, Place::Stands, show, app.is_demo(), body)).into_response(),
    }
}

/// `GET /stands`.
pub(crate) async fn list(State(app): State<App>, headers: HeaderMap) -> Result<Markup, WebError> {
    let show = Show::of(&headers);
    let stands = app.bench(|b| b.store().list::<Stand>()).await?;
    let body = html! {
        h1 { "Stands" }
        p.lead { "What the arbor lies on, the smallest unbalance that it can show, and what limits it." }
        section.card.narrow {
            @if stands.is_empty() { p.soft { "None yet." } }
            ul.list {
                @for s in &stands {
                    li {
                        a.row href={ "/stands/" (s.id) } {
                            span.what { b { (s.body.name) } small { (kind_words(s.body.kind)) ", floor " (show.unbalance(s.body.floor_g_mm)) @if s.body.sheet_toml.is_empty() { ", no sheet yet" } } }
                        }
                    }
                }
            }
            div.actions { a.button href="/records/stands/new" { "New stand" } }
        }
    };
    Ok(layout::page("Stands", Place::Stands, show, app.is_demo(), body))
}
