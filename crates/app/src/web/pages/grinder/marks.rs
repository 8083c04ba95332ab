//! Marks on the work: what makes them, and the next test.

use super::super::super::error::WebError;
use super::super::super::form::{Typed, fault_summary};
use super::super::super::layout::{self, Place};
use super::super::super::show::{Show, significant};
use super::super::super::state::App;
use super::face::drawn;
use super::marks_form::{FIELDS, Known, form, placed, read};
use crate::grinder_pictures::{MOST_CAUSES, causes_picture};
use crate::sitting::Bench;
use axum::extract::{Query, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use axum::{Form, Router};
use maud::{Markup, html};
use std::collections::HashMap;
use stillwheel_door::machine_sheet::read_machine_sheet;
use stillwheel_door::marks::{MarksOut, TestOut, marks};
use stillwheel_physics::quantity::Dimension;
use stillwheel_store::{Machine, Rotor, Stored};

type Text = HashMap<String, String>;

const PATH: &str = "/grinder/marks";

/// The page's routes.
pub(crate) fn routes() -> Router<App> {
    Router::new().route(PATH, get(page).post(judge))
}

/// `GET /grinder/marks`; fields may come in the address, as a photo's spacing does.
async fn page(State(app): State<App>, Query(query): Query<Text>, headers: HeaderMap) -> Result<Markup, WebError> {
    let show = Show::of(&headers);
    let body = app
        .bench(move |b| {
            let mut typed = Typed::new(query);
            let known = known(b)?;
            fill_in(b, &known, &mut typed, show)?;
            Ok::<_, WebError>(body(&typed, &known, None, show))
        })
        .await?;
    Ok(layout::page("Marks", Place::Grinder, show, app.is_demo(), body))
}

/// `POST /grinder/marks`.
async fn judge(State(app): State<App>, headers: HeaderMap, Form(text): Form<Text>) -> Result<Response, WebError> {
    let show = Show::of(&headers);
    let (good, body) = app
        .bench(move |b| {
            let mut typed = Typed::new(text);
            let known = known(b)?;
            let mut out = None;
            if let Some(input) = read(&mut typed, &known, show) {
                match marks(&input) {
                    Ok(found) => out = Some(found),
                    Err(f) => typed.blame(placed(f)),
                }
            }
            Ok::<_, WebError>((typed.is_good(), body(&typed, &known, out.as_ref(), show)))
        })
        .await?;
    let status = if good { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
    Ok((status, layout::page("Marks", Place::Grinder, show, app.is_demo(), body)).into_response())
}

/// Machines of the records whose sheets can be read.
fn known(b: &Bench) -> Result<Vec<Known>, WebError> {
    let all = b.store().list::<Machine>()?;
    let with_sheet = |m: &Stored<Machine>| {
        let sheet = read_machine_sheet(&m.body.sheet_toml).ok()?;
        Some(Known { id: m.id.to_string(), name: m.body.name.clone(), sheet })
    };
    Ok(all.iter().filter_map(with_sheet).collect())
}

fn fill_in(b: &Bench, known: &[Known], t: &mut Typed, show: Show) -> Result<(), WebError> {
    if let Some(k) = known.first() {
        t.put_default("machine", k.id.clone());
    }
    if let Some(m) = b.store().list::<Machine>()?.first() {
        t.put_default("wheel_speed_rpm", format!("{}", m.body.speed_rpm));
    }
    if let Some(r) = b.store().list::<Rotor>()?.first() {
        t.put_default("wheel_diameter_mm", show.typed(r.body.wheel.diameter_mm, Dimension::Length));
    }
    Ok(())
}

fn body(t: &Typed, known: &[Known], out: Option<&MarksOut>, show: Show) -> Markup {
    html! {
        h1 { "Marks" }
        p.lead { "Which part makes them, and the test that would tell." }
        (fault_summary(t.other_faults(&FIELDS)))
        div.cols {
            div {
                @if let Some(out) = out { (found(out, show)) }
                (form(t, known, show, PATH))
            }
            div {
                @match out {
                    Some(out) => { (causes(out)) (tests(out)) },
                    None => section.card {
                        h2 { "How it is told" }
                        p { "Marks that a vibration makes stand as far apart as the table travels in one of its swings. So spacing and table speed tell a frequency, and the frequency tells the part." }
                        p { "Where two parts print the same spacing, a test parts them: grind again with the table a fifth faster, or with a part stopped." }
                    },
                }
            }
        }
    }
}

fn found(out: &MarksOut, show: Show) -> Markup {
    let m = &out.marks;
    html! {
        section.card.now {
            h2 { (significant(m.frequency_hz, 4)) " Hz" }
            p { (out.says) }
            dl.facts {
                dt { "Marks are apart" } dd { (show.length(m.spacing_mm)) " ± " (show.length(1.96 * m.spacing_sd_mm)) }
                dt { "So they come" } dd { (significant(m.frequency_hz, 4)) " ± " (significant(1.96 * m.frequency_sd_hz, 2)) " times a second" }
                dt { "For each turn of the wheel" } dd { (significant(m.times_a_turn, 4)) }
                dt { "Waves so close are never above" } dd { (significant(m.largest_possible_um, 3)) " µm" }
            }
            @for c in &out.cautions { p.soft { (c) } }
        }
    }
}

fn causes(out: &MarksOut) -> Markup {
    html! {
        section.card {
            h2 { "Causes" }
            (drawn(causes_picture(out)))
            @if out.causes.len() > MOST_CAUSES {
                details {
                    summary { "All " (out.causes.len()) " causes" }
                    div.inside {
                        ul.list {
                            @for c in &out.causes {
                                li { div.row { span.what { b { (c.name) } small {
                                    (significant(100.0 * c.probability, 2)) " %"
                                    @if let Some(s) = c.spacing_mm { ", would be " (significant(s, 4)) " mm apart" }
                                    @if let Some(d) = c.off_by_sd { ", " (significant(d, 2)) " σ off" }
                                } } } }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn tests(out: &MarksOut) -> Markup {
    html! {
        section.card {
            h2 { "Tests that would tell more" }
            @if out.tests.is_empty() { p { "None of those known here would tell more." } }
            @for (k, t) in out.tests.iter().enumerate() { (test(k, t)) }
            p.soft { "A bit is the answer to one question of yes or no; " @if out.open_bits < 0.01 { "hardly any" } @else { (significant(out.open_bits, 2)) } " bits are open." }
        }
    }
}

fn test(k: usize, t: &TestOut) -> Markup {
    html! {
        details open[k == 0] {
            summary { span { (t.what) } span.tag.act { (significant(t.bits, 2)) " bits" } }
            div.inside {
                ul {
                    @for o in &t.outcomes {
                        li { strong { (o.what) } " (" (significant(100.0 * o.probability, 2)) " %): then most probably " (o.then) " (" (significant(100.0 * o.then_probability, 2)) " %)" }
                    }
                }
            }
        }
    }
}
