//! The stands: list, sheet with its living pictures, level, measuring.
//!
//! In: requests, the stands' records. Out: pages; what they show is computed at the door (`stand`, `level`, `qualify`).

mod compute;
mod level;
mod pictures;
mod qualify;
mod sheet;

pub(crate) use level::{page as level, read as level_read};
pub(crate) use qualify::{keep as qualify_keep, page as qualify, read as qualify_read};
pub(crate) use sheet::{download, keep, page as sheet, take_text, tried, use_on_bench};

use super::super::error::WebError;
use super::super::layout::{self, Place};
use super::super::show::Show;
use super::super::state::App;
use super::stand_form::kind_words;
use axum::extract::State;
use axum::http::HeaderMap;
use maud::{Markup, html};
use stillwheel_store::Stand;

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
