//! Display choices of one person, kept in cookies.

use super::super::error::WebError;
use super::super::form::{Field, Typed, field};
use super::super::layout::{self, Place};
use super::super::person::{lasting_cookie, who, who_cookie};
use super::super::show::{Angles, SHOW_COOKIE, Show, Units};
use super::super::state::App;
use axum::Form;
use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::{AppendHeaders, IntoResponse, Redirect, Response};
use maud::{Markup, html};
use std::collections::HashMap;

/// `GET /settings`.
pub(crate) async fn page(State(app): State<App>, headers: HeaderMap) -> Markup {
    let show = Show::of(&headers);
    let mut typed = Typed::default();
    typed.put("who", who(&headers));
    layout::page("Units", Place::Settings, show, app.is_demo(), body(show, &typed))
}

/// `POST /settings`.
pub(crate) async fn save(Form(text): Form<HashMap<String, String>>) -> Result<Response, WebError> {
    let pick = |name: &str| text.get(name).map_or("", String::as_str);
    let units = if pick("units") == "inch" { Units::Inch } else { Units::Metric };
    let angles = match pick("angles") {
        "cw" => Angles::Clockwise,
        "clock" => Angles::Clock,
        _ => Angles::CounterClockwise,
    };
    let show = Show { units, angles };
    let cookies = AppendHeaders([
        (axum::http::header::SET_COOKIE, lasting_cookie(SHOW_COOKIE, &show.text())),
        (axum::http::header::SET_COOKIE, who_cookie(pick("who"))),
    ]);
    Ok((cookies, Redirect::to("/")).into_response())
}

fn body(show: Show, typed: &Typed) -> Markup {
    let radio = |name: &str, value: &str, on: bool, label: &str| {
        html! { label.pick { input type="radio" name=(name) value=(value) checked[on]; (label) } }
    };
    html! {
        h1 { "Units and angles" }
        p.lead { "For this phone or computer only. The records stay as they are; a unit typed behind a number always wins." }
        form.card.narrow method="post" action="/settings" {
            fieldset {
                legend { "Units" }
                (radio("units", "metric", show.units == Units::Metric, "mm, g, g·mm"))
                (radio("units", "inch", show.units == Units::Inch, "in, oz, oz·in"))
            }
            fieldset {
                legend { "Angles on the rotor, from the zero mark" }
                (radio("angles", "ccw", show.angles == Angles::CounterClockwise, "Degrees, counter-clockwise"))
                (radio("angles", "cw", show.angles == Angles::Clockwise, "Degrees, clockwise"))
                (radio("angles", "clock", show.angles == Angles::Clock, "Clock hours, zero mark at 12"))
            }
            (field(typed, Field { name: "who", label: "Your name", hint: "Stands in the history and on certificates.", ..Field::default() }))
            button.main.wide type="submit" { "Keep" }
        }
        p.links { a href="/devices" { "Devices of the shop’s network" } }
    }
}
