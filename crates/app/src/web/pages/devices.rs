//! Devices of the shop's network: how one comes in, which are in, and shutting one out.

use super::super::error::WebError;
use super::super::gate::{Gate, Visitor};
use super::super::layout::{self, Place};
use super::super::person::who;
use super::super::show::Show;
use super::super::state::App;
use super::time::moment;
use axum::Extension;
use axum::extract::{Path, State};
use axum::http::HeaderMap;
use axum::response::Redirect;
use maud::{Markup, PreEscaped, html};
use stillwheel_store::{By, Device, Id, Role, StoreFault};

/// `GET /devices`.
pub(crate) async fn page(State(app): State<App>, Extension(visitor): Extension<Visitor>, headers: HeaderMap) -> Result<Markup, WebError> {
    let content = if let Some(gate) = app.gate().cloned() {
        let list = blocking(&gate, |gate| gate.devices().list()).await?;
        body(&gate, &visitor, &list)?
    } else {
        closed()
    };
    Ok(layout::page("Devices", Place::Settings, Show::of(&headers), app.is_demo(), content))
}

/// `POST /devices/{id}/revoke`.
pub(crate) async fn revoke(State(app): State<App>, Path(id): Path<String>, headers: HeaderMap) -> Result<Redirect, WebError> {
    let (id, by) = (Id::parse(&id)?, By::now(who(&headers)));
    let Some(gate) = app.gate().cloned() else { return Err(WebError::NotFound("No device was let in.".into())) };
    blocking(&gate, move |gate| gate.devices().revoke(&id, &by)).await?;
    Ok(Redirect::to("/devices"))
}

async fn blocking<T: Send + 'static>(
    gate: &Gate,
    work: impl FnOnce(&Gate) -> Result<T, StoreFault> + Send + 'static,
) -> Result<T, WebError> {
    let gate = gate.clone();
    Ok(tokio::task::spawn_blocking(move || work(&gate)).await.map_err(|e| WebError::Broken(e.into()))??)
}

fn closed() -> Markup {
    html! {
        h1 { "Devices" }
        section.card.narrow {
            p { "This program answers only to the computer it runs on." }
            p { "To let phones and tablets of the shop in, end it and start it with " code { "stillwheel serve --lan" } "; with " code { "--tls" } " as well, what passes is encrypted." }
        }
    }
}

fn body(gate: &Gate, visitor: &Visitor, list: &[Device]) -> Result<Markup, WebError> {
    let is_in = |device: &&Device| device.revoked.is_none();
    Ok(html! {
        h1 { "Devices" }
        p.lead { "Phones and tablets that were let in from the shop’s network. One that is lost or sold is shut out here." }
        div.cols {
            section.card {
                h2 { "In" }
                @if !list.iter().any(|d| is_in(&d)) { p.soft { "None yet." } }
                ul.list {
                    @for d in list.iter().filter(is_in) {
                        li.device {
                            span.what { b { (d.name) } small { (role(d.role)) ", since " (moment(d.paired_at)) @if *visitor == Visitor::Device(d.clone()) { ", this device" } } }
                            @if !visitor.only_looks() { form method="post" action={ "/devices/" (d.id) "/revoke" } { button.plain type="submit" { "Shut out" span.visually-hidden { " " (d.name) } } } }
                        }
                    }
                }
                @let out: Vec<&Device> = list.iter().filter(|d| !is_in(d)).collect();
                @if !out.is_empty() {
                    h3 { "Shut out" }
                    ul { @for d in out { li { (d.name) @if let Some((at, by)) = &d.revoked { " " small { (moment(*at)) @if !by.is_empty() { " · " (by) } } } } } }
                }
            }
            section.card {
                h2 { "Let one in" }
                @match (visitor, gate.address()) {
                    (Visitor::Here, Some(address)) => {
                        p { "Open this address on the device, or point its camera here, then type one of the codes." }
                        p { b { (address) } }
                        div.qr-card { (PreEscaped(stillwheel_drawing::qr_code(&format!("{address}/pair"), &format!("Leads to {address}/pair"))?)) }
                        @let [write, look] = gate.codes();
                        dl.facts { dt { "To write" } dd { (write) } dt { "Only to look" } dd { (look) } }
                        p.soft { "The codes change with each start of the program; devices that are in stay in." }
                    },
                    _ => p { "The codes are shown only on the computer that runs the program." },
                }
            }
        }
    })
}

fn role(role: Role) -> &'static str {
    match role {
        Role::Write => "may write",
        Role::Look => "may only look",
    }
}
