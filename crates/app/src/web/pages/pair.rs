//! Pairing: a device on the shop's network gives the code once.

use super::super::form::{Field, Typed, fault_summary, field};
use super::super::guard::{PAIR_COOKIE, same_text};
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
    if app.pairing_code().is_none() {
        return Redirect::to("/").into_response();
    }
    layout::page("Pair", Place::None, Show::default(), app.is_demo(), body(&Typed::default())).into_response()
}

/// `POST /pair`.
pub(crate) async fn pair(State(app): State<App>, Form(text): Form<HashMap<String, String>>) -> Response {
    let mut typed = Typed::new(text);
    // A second a wrong try, one after another over all connections: eight digits would take years to guess.
    let _turn = app.pairing_turn().await;
    let given: String = typed.text("code").chars().filter(char::is_ascii_digit).collect();
    match app.pairing_code() {
        Some(code) if same_text(&given, code) => {
            let cookie = format!("{PAIR_COOKIE}={code}; Path=/; SameSite=Strict; HttpOnly");
            (AppendHeaders([(axum::http::header::SET_COOKIE, cookie)]), Redirect::to("/")).into_response()
        }
        Some(_) => {
            tokio::time::sleep(Duration::from_secs(1)).await;
            typed.blame(Fault::new("code", "another code", "the eight digits that the computer shows", "This is not the code."));
            (StatusCode::FORBIDDEN, layout::page("Pair", Place::None, Show::default(), app.is_demo(), body(&typed))).into_response()
        }
        None => Redirect::to("/").into_response(),
    }
}

fn body(typed: &Typed) -> Markup {
    html! {
        h1 { "Pair this device" }
        (fault_summary(typed.other_faults(&["code"])))
        form.card.narrow method="post" action="/pair" {
            (field(typed, Field { name: "code", label: "Pairing code", hint: "Eight digits; the computer shows them where the program was started.", keys: "numeric", required: true, ..Field::default() }))
            p.caution { strong { "Trusted network only." } " What passes between this device and the computer is not encrypted." }
            button.main.wide type="submit" { "Pair" }
        }
    }
}
