//! Pairing: a device on the shop's network gives the code once.

use super::super::error::WebError;
use super::super::form::{Field, Typed, fault_summary, field};
use super::super::guard::PAIR_COOKIE;
use super::super::layout::{self, Place};
use super::super::show::Show;
use super::super::state::App;
use axum::Form;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{AppendHeaders, IntoResponse, Redirect, Response};
use maud::{Markup, html};
use std::collections::HashMap;
use std::time::Duration;
use stillwheel_door::Fault;

/// `GET /pair`.
pub(crate) async fn page(State(app): State<App>) -> Response {
    let Some(gate) = app.gate() else { return Redirect::to("/").into_response() };
    layout::page("Pair", Place::None, Show::default(), app.is_demo(), body(&Typed::default(), gate.is_encrypted())).into_response()
}

/// `POST /pair`.
pub(crate) async fn pair(State(app): State<App>, Form(text): Form<HashMap<String, String>>) -> Result<Response, WebError> {
    let Some(gate) = app.gate().cloned() else { return Ok(Redirect::to("/").into_response()) };
    let mut typed = Typed::new(text);
    // A second a wrong try, one after another over all connections: eight digits would take years to guess.
    let _turn = app.pairing_turn().await;
    let given: String = typed.text("code").chars().filter(char::is_ascii_digit).collect();
    let encrypted = gate.is_encrypted();
    let Some(role) = gate.role(&given) else {
        tokio::time::sleep(Duration::from_secs(1)).await;
        typed.blame(Fault::new("code", "another code", "the eight digits that the computer shows", "This is not the code."));
        return Ok((StatusCode::FORBIDDEN, layout::page("Pair", Place::None, Show::default(), app.is_demo(), body(&typed, encrypted)))
            .into_response());
    };
    let name: String = match typed.text("device") {
        "" => "Unnamed device".into(),
        name => name.chars().filter(|c| !c.is_control()).take(60).collect(),
    };
    let key = tokio::task::spawn_blocking(move || gate.pair(&name, role)).await.map_err(|e| WebError::Broken(e.into()))??;
    let secure = if encrypted { "; Secure" } else { "" };
    let cookie = format!("{PAIR_COOKIE}={key}; Path=/; Max-Age=31536000; SameSite=Strict; HttpOnly{secure}");
    Ok((AppendHeaders([(axum::http::header::SET_COOKIE, cookie)]), Redirect::to("/")).into_response())
}

fn body(typed: &Typed, encrypted: bool) -> Markup {
    html! {
        h1 { "Pair this device" }
        (fault_summary(typed.other_faults(&["code", "device"])))
        form.card.narrow method="post" action="/pair" {
            (field(typed, Field { name: "code", label: "Pairing code", hint: "Eight digits; the computer shows them where the program was started. One code lets write, the other only look.", keys: "numeric", required: true, ..Field::default() }))
            (field(typed, Field { name: "device", label: "Name of this device", hint: "So that it can be told from others, and shut out when it is lost.", ..Field::default() }))
            @if !encrypted { p.caution { strong { "Trusted network only." } " What passes between this device and the computer is not encrypted." } }
            button.main.wide type="submit" { "Pair" }
        }
    }
}
