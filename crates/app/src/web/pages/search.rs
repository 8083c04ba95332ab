//! Search: all words that were typed, in any order, in names, remarks, markings and operators.

use super::super::error::WebError;
use super::super::layout::{self, Place};
use super::super::show::Show;
use super::super::state::App;
use super::record_form::RecordForm;
use super::time::moment;
use crate::sitting::Bench;
use axum::extract::{Query, State};
use axum::http::HeaderMap;
use maud::{Markup, html};
use std::collections::HashMap;
use stillwheel_store::{Machine, Rotor, Stand, StoreFault, WeightRing};

/// Most that are shown of each kind.
const MOST: usize = 50;
/// Longest text that is searched for, letters.
const LONGEST: usize = 200;

/// One thing found.
struct Hit {
    to: String,
    name: String,
    more: String,
}

/// Things of one kind.
struct Found {
    heading: &'static str,
    hits: Vec<Hit>,
}

/// `GET /search?q=`.
pub(crate) async fn page(
    State(app): State<App>,
    Query(query): Query<HashMap<String, String>>,
    headers: HeaderMap,
) -> Result<Markup, WebError> {
    let show = Show::of(&headers);
    let asked: String = query.get("q").map_or("", String::as_str).trim().chars().take(LONGEST).collect();
    let sought = asked.clone();
    let found = app.bench(move |b| if sought.is_empty() { Ok(Vec::new()) } else { search(b, &sought, show) }).await?;
    Ok(layout::page("Search", Place::Records, show, app.is_demo(), body(&asked, &found)))
}

/// The form, for other pages too.
pub(super) fn form(asked: &str) -> Markup {
    html! {
        form.search method="get" action="/search" role="search" {
            div.field { label for="q" { "Search" } input #q type="search" name="q" value=(asked) maxlength=(LONGEST) enterkeyhint="search"; }
            button type="submit" { "Find" }
        }
    }
}

fn body(asked: &str, found: &[Found]) -> Markup {
    let count: usize = found.iter().map(|f| f.hits.len()).sum();
    html! {
        h1 { "Search" }
        section.card.narrow { (form(asked)) p.soft { "All words must occur, in a name, a remark, a marking, or an operator’s name." } }
        @if !asked.is_empty() {
            p role="status" { @if count == 0 { "Nothing was found for “" (asked) "”." } @else { (count) " found for “" (asked) "”." } }
            @for f in found.iter().filter(|f| !f.hits.is_empty()) {
                section.card.narrow {
                    h2 { (f.heading) }
                    ul.list { @for hit in f.hits.iter().take(MOST) { li { a.row href=(hit.to) { span.what { b { (hit.name) } small { (hit.more) } } } } } }
                    @if f.hits.len() > MOST { p.soft { (f.hits.len() - MOST) " more: add a word." } }
                }
            }
        }
    }
}

fn search(b: &Bench, asked: &str, show: Show) -> Result<Vec<Found>, StoreFault> {
    let words: Vec<String> = asked.to_lowercase().split_whitespace().map(str::to_owned).collect();
    let fits = |texts: &[&str]| {
        let all = texts.join("\n").to_lowercase();
        words.iter().all(|word| all.contains(word))
    };
    let s = b.store();
    let mut sittings = Vec::new();
    for sitting in s.sittings(None)? {
        let note = sitting.verdict.as_ref().and_then(|v| v.get("note")).and_then(|n| n.as_str()).unwrap_or("");
        let day = moment(sitting.started_at);
        let texts = [&sitting.rotor_name, &sitting.stand_name, &sitting.machine_name, &sitting.operator, note, &day, sitting.id.as_str()];
        if fits(&texts) {
            let more = format!("{} · {day}{}", sitting.stand_name, if note.is_empty() { String::new() } else { format!(" · {note}") });
            sittings.push(Hit { to: format!("/sittings/{}", sitting.id), name: sitting.rotor_name.clone(), more });
        }
    }
    let rotor = |r: &Rotor| vec![r.name.clone(), r.note.clone(), r.wheel.maker_marking.clone(), r.inertia_from.clone()];
    Ok(vec![
        Found { heading: "Rotors", hits: of::<Rotor>(b, show, &fits, rotor, |id| format!("/rotors/{id}"))? },
        Found { heading: "Sittings", hits: sittings },
        Found {
            heading: "Machines",
            hits: of::<Machine>(b, show, &fits, |m| vec![m.name.clone(), m.note.clone()], |id| format!("/records/machines/{id}"))?,
        },
        Found {
            heading: "Weight rings",
            hits: of::<WeightRing>(b, show, &fits, |r| vec![r.name.clone(), r.note.clone()], |id| format!("/records/rings/{id}"))?,
        },
        Found {
            heading: "Stands",
            hits: of::<Stand>(b, show, &fits, |s| vec![s.name.clone(), s.note.clone()], |id| format!("/stands/{id}"))?,
        },
    ])
}

/// Records of one kind, those hidden from the lists too.
fn of<R: RecordForm>(
    b: &Bench,
    show: Show,
    fits: &dyn Fn(&[&str]) -> bool,
    texts: impl Fn(&R) -> Vec<String>,
    to: impl Fn(&str) -> String,
) -> Result<Vec<Hit>, StoreFault> {
    let mut hits = Vec::new();
    for (records, hidden) in [(b.store().list::<R>()?, ""), (b.store().list_retired::<R>()?, ", hidden from the lists")] {
        for r in records {
            let texts = texts(&r.body);
            if fits(&texts.iter().map(String::as_str).chain([r.id.as_str()]).collect::<Vec<_>>()) {
                hits.push(Hit { to: to(r.id.as_str()), name: r.body.name().to_owned(), more: format!("{}{hidden}", r.body.line(show)) });
            }
        }
    }
    Ok(hits)
}
