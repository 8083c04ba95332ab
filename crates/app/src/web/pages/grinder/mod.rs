//! The grinder: machines with their sheets, the head's guide, the ground face, what made a mark on it, trim in place, and the points
//! before a wheel runs.
//!
//! In: requests, the machines' records, sittings. Out: pages; what they show is computed at the door (`machine`, `head-response`,
//! `ground-face`, `marks`, `once-per-turn`, `trim`, `mounting`).

pub(crate) mod face;
mod head;
mod machine;
pub(crate) mod marks;
mod marks_form;
mod mounting;
pub(crate) mod photo;
mod photo_step;
mod trim;
mod trim_result;
mod upload;

pub(crate) use head::{page as head, read as head_read};
pub(crate) use machine::{download, page as machine, take_text as take_sheet};
pub(crate) use mounting::{answered as mounting_answered, page as mounting};
pub(crate) use trim::{choose as trim_choose, page as trim, read as trim_read};
pub(crate) use upload::LARGEST_UPLOAD;

use super::super::error::WebError;
use super::super::layout::{self, Place};
use super::super::show::{Show, significant};
use super::super::state::App;
use axum::extract::State;
use axum::http::HeaderMap;
use maud::{Markup, html};
use stillwheel_store::Machine;

/// `GET /grinder`.
pub(crate) async fn list(State(app): State<App>, headers: HeaderMap) -> Result<Markup, WebError> {
    let show = Show::of(&headers);
    let machines = app.bench(|b| b.store().list::<Machine>()).await?;
    let body = html! {
        h1 { "Grinder" }
        p.lead { "The balance is a means; the clean face is the end. What the machine adds, what is left on its spindle, and what made a mark." }
        div.cols {
            section.card {
                h2 { "At the machine" }
                ul.list {
                    li { a.row href="/grinder/trim" { span.what { b { "Trim in place" } small { "What is left with the wheel on its spindle, from a vibration meter or a recording." } } } }
                    li { a.row href="/grinder/face" { span.what { b { "Ground face" } small { "What a residual does to the work, and which residual is small enough." } } } }
                    li { a.row href="/grinder/marks" { span.what { b { "Marks" } small { "Which rotating part made them, and the test that would tell." } } } }
                }
                p.soft { "The points before a wheel runs stand on the sitting’s page: " a href="/" { "choose a sitting" } "." }
            }
            section.card {
                h2 { "Machines" }
                @if machines.is_empty() { p.soft { "None yet." } }
                ul.list {
                    @for m in &machines {
                        li {
                            a.row href={ "/grinder/machines/" (m.id) } {
                                span.what { b { (m.body.name) } small { (significant(m.body.speed_rpm, 5)) " r/min" @if m.body.sheet_toml.is_empty() { ", no sheet yet" } } }
                            }
                        }
                    }
                }
                div.actions { a.button href="/records/machines/new" { "New machine" } }
            }
        }
    };
    Ok(layout::page("Grinder", Place::Grinder, show, app.is_demo(), body))
}
