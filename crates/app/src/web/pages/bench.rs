//! The bench: all sittings, and the way to a new one.

use super::super::error::WebError;
use super::super::layout::{self, Place};
use super::super::show::Show;
use super::super::state::App;
use super::time::moment;
use axum::extract::State;
use axum::http::HeaderMap;
use maud::{Markup, html};
use stillwheel_store::{SittingSummary, Stand};

struct View {
    open: Vec<SittingSummary>,
    closed: Vec<SittingSummary>,
    virtual_stand: bool,
}

/// `GET /`.
pub(crate) async fn page(State(app): State<App>, headers: HeaderMap) -> Result<Markup, WebError> {
    let view = app
        .bench(|b| {
            let (closed, open) = b.store().sittings(None)?.into_iter().partition(|s| s.closed);
            let virtual_stand = b.store().list::<Stand>()?.iter().any(|s| s.body.virtual_seed.is_some());
            Ok::<_, WebError>(View { open, closed, virtual_stand })
        })
        .await?;
    Ok(layout::page("Bench", Place::Bench, Show::of(&headers), app.is_demo(), body(&view, app.is_demo())))
}

fn body(view: &View, demo: bool) -> Markup {
    html! {
        h1 { "Bench" }
        p.lead { "Let the wheel settle, time one swing, move the weights as shown, look again. The program does the rest." }
        div.cols {
            div {
                section.card {
                    @if demo {
                        h2 { "Try it now" }
                        p { "A wheel is on the virtual stand. Nothing to read, nothing to lose: take looks, move the weights, get a certificate." }
                        form method="post" action="/sittings" {
                            input type="hidden" name="quick" value="yes";
                            input type="hidden" name="stand" value="virtual";
                            button.main.big.wide type="submit" { "Balance a wheel" }
                        }
                        p.links { a href="/sittings/new" { "New sitting with another rotor" } a href="/help" { "How it works" } }
                    } @else {
                        h2 { "Start" }
                        a.button.main.big.wide href="/sittings/new" { "New sitting" }
                        @if view.virtual_stand { p.links { a href="/sittings/new?stand=virtual" { "Practise on the virtual stand" } } }
                    }
                }
                @if !view.open.is_empty() {
                    section.card { h2 { "On the stand now" } (list(&view.open)) }
                }
            }
            section.card {
                h2 { "Finished" }
                @if view.closed.is_empty() { p.soft { "None yet. A finished sitting keeps its certificate here." } } @else { (list(&view.closed)) }
            }
        }
    }
}

fn list(sittings: &[SittingSummary]) -> Markup {
    html! {
        ul.list {
            @for s in sittings {
                li {
                    a.row href={ "/sittings/" (s.id) } {
                        span.what { b { (s.rotor_name) } small { (s.stand_name) " · " (s.machine_name) " · " (moment(s.started_at)) } @if let Some(n) = note(s) { small.note { (n) } } }
                        span { (state(s)) }
                    }
                }
            }
        }
    }
}

/// What the operator remarked at the end.
fn note(s: &SittingSummary) -> Option<&str> {
    s.verdict.as_ref().filter(|_| s.closed)?.get("note")?.as_str().filter(|n| !n.is_empty())
}

fn state(s: &SittingSummary) -> Markup {
    let proven = s.verdict.as_ref().and_then(|v| v.get("proven")).and_then(serde_json::Value::as_bool);
    html! {
        @match (s.closed, proven) {
            (true, Some(true)) => span.tag.good { "✓ Proven" },
            (true, _) => span.tag.warn { "– Not proven" },
            (false, _) => span.tag.act { "▸ Open" },
        }
        " " small.num { (count(s.looks, "look")) ", " (count(s.moves, "move")) }
    }
}

fn count(n: u32, what: &str) -> String {
    format!("{n} {what}{}", if n == 1 { "" } else { "s" })
}
