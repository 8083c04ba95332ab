//! What was measured on the finished parts: entry beside the machine, a verdict for each dimension in words, and what the set does to the
//! stand.
//!
//! In: typed readings with the uncertainty of the gauge. Kept with the stand; judged at the door (`as-made`).

use super::super::super::error::WebError;
use super::super::super::form::{Field, Typed, fault_summary, field};
use super::super::super::person::by;
use super::super::super::show::{Show, significant};
use super::super::super::state::App;
use super::asked::{Ask, Kind, asked, of_stand};
use super::compute::{Shelf, chosen, revised, shelf};
use super::parts::{can_not_be, made};
use super::{kept_or, read_form};
use crate::making::Made;
use crate::sitting::Bench;
use axum::Form;
use axum::extract::{Path, State};
use axum::http::HeaderMap;
use axum::response::Response;
use maud::{Markup, html};
use serde_json::{Map, Value, json};
use std::collections::HashMap;
use stillwheel_door::Fault;
use stillwheel_door::as_made::{AsMadeIn, AsMadeOut, JudgedOut, VerdictName, as_made};
use stillwheel_door::stand::StandIn;
use stillwheel_physics::quantity::Dimension;
use stillwheel_store::{Id, Stand};

type Text = HashMap<String, String>;
const TITLE: &str = "Measured parts";

/// One piece of a part on its page.
struct View {
    shelf: Shelf,
    path: String,
    part: String,
    key: String,
    piece: usize,
    pieces: usize,
    asks: Vec<Ask>,
    typed: Typed,
    judged: Vec<JudgedOut>,
}

/// What is kept of the stand's parts: by part, piece and dimension.
fn kept(stand: &Stand) -> Map<String, Value> {
    stand.as_made.as_ref().and_then(Value::as_object).cloned().unwrap_or_default()
}

fn view(b: &Bench, id: &Id, key: &str, piece: usize, text: Option<Text>, show: Show) -> Result<View, WebError> {
    let shelf = shelf(b, id)?;
    let m = made(b, id)?.2?;
    let none = || WebError::NotFound("There is no such part, or no such piece of it.".into());
    let part = m.made().find(|p| p.key == key).ok_or_else(none)?;
    if piece == 0 || piece > part.quantity {
        return Err(none());
    }
    let asks = asked(&m, part, piece);
    let read = text.is_some();
    let mut v = View {
        path: format!("/stands/{id}"),
        part: part.name.clone(),
        key: key.to_owned(),
        piece,
        pieces: part.quantity,
        asks,
        typed: Typed::new(text.unwrap_or_default()),
        judged: Vec::new(),
        shelf,
    };
    if !read {
        fill(&mut v, show);
    }
    Ok(v)
}

/// What is kept, into the fields.
fn fill(v: &mut View, show: Show) {
    let kept = kept(&v.shelf.stand.body);
    for a in &v.asks {
        let Some(entry) = kept.get(&a.key) else { continue };
        if let Some(mm) = entry["mm"].as_f64() {
            v.typed.put(a.field.as_str(), show.typed(mm, Dimension::Length));
        }
        if let Some(um) = entry["um"].as_f64() {
            v.typed.put(a.field.as_str(), significant(um, 6));
        }
        if let Some(u) = entry["u_um"].as_f64() {
            v.typed.put(a.u_field(), significant(u, 4));
        }
    }
    for a in &v.asks {
        v.typed.put_default(&a.u_field(), significant(a.usual_u_um, 3));
    }
    let entries: Map<String, Value> = kept.into_iter().filter(|(k, _)| v.asks.iter().any(|a| a.key == *k)).collect();
    // What was kept passed the door once; a sheet changed since may make it ask again, and then the page shows no verdict.
    if let Ok(out) = judged(&v.asks, &entries) {
        v.judged = out;
    }
}

/// Verdicts on one piece; empty where nothing is measured.
fn judged(asks: &[Ask], entries: &Map<String, Value>) -> Result<Vec<JudgedOut>, Fault> {
    if entries.is_empty() {
        return Ok(Vec::new());
    }
    let (sizes, departures) = of_stand(asks, entries);
    Ok(as_made(&AsMadeIn { stand: None, sizes, departures, matching: Vec::new() })?.judged)
}

/// What was typed, as it is kept; faults go to their fields.
fn read_entries(v: &mut View, show: Show) -> Map<String, Value> {
    let mut entries = Map::new();
    for a in &v.asks {
        let measured = match a.kind {
            Kind::Size { .. } => v.typed.optional(&a.field, Dimension::Length, show).map(|mm| ("mm", mm)),
            Kind::Departure { .. } => v.typed.optional(&a.field, Dimension::Plain, Show::default()).map(|um| ("um", um)),
        };
        let Some((unit, value)) = measured else { continue };
        let u = v.typed.number(&a.u_field(), Dimension::Plain, Show::default());
        entries.insert(a.key.clone(), json!({ unit: value, "u_um": u }));
    }
    if v.typed.is_good() {
        match judged(&v.asks, &entries) {
            Ok(out) => v.judged = out,
            Err(f) => v.typed.blame(at_field(&v.asks, f)),
        }
    }
    entries
}

/// A fault of the door at the field that was typed: `sizes[2].measured_mm` is the third size asked.
fn at_field(asks: &[Ask], mut fault: Fault) -> Fault {
    let place = |list: &str| {
        let rest = fault.field.strip_prefix(list)?.strip_prefix('[')?;
        let (k, name) = rest.split_once("].")?;
        Some((k.parse::<usize>().ok()?, name.to_owned()))
    };
    let size = |a: &&Ask| matches!(a.kind, Kind::Size { .. });
    let found = match (place("sizes"), place("departures")) {
        (Some((k, name)), _) => asks.iter().filter(size).nth(k).map(|a| (a, name)),
        (_, Some((k, name))) => asks.iter().filter(|a| !size(a)).nth(k).map(|a| (a, name)),
        _ => None,
    };
    if let Some((ask, name)) = found {
        fault.field = if name == "u_um" { ask.u_field() } else { ask.field.clone() };
    }
    fault
}

/// `GET /stands/{id}/inspect/{key}/{piece}`.
pub(crate) async fn page(
    State(app): State<App>,
    Path((id, key, piece)): Path<(String, String, usize)>,
    headers: HeaderMap,
) -> Result<Response, WebError> {
    let (id, show) = (Id::parse(&id)?, Show::of(&headers));
    read_form(&app, show, TITLE, move |b| Ok((true, body(&view(b, &id, &key, piece, None, show)?, show)))).await
}

/// `POST /stands/{id}/inspect/{key}/{piece}`.
pub(crate) async fn keep(
    State(app): State<App>,
    Path((id, key, piece)): Path<(String, String, usize)>,
    headers: HeaderMap,
    Form(text): Form<Text>,
) -> Result<Response, WebError> {
    let (id, show, by) = (Id::parse(&id)?, Show::of(&headers), by(&headers));
    let back = format!("/stands/{id}/inspect/{key}/{piece}");
    let stays = app
        .bench(move |b| {
            let mut v = view(b, &id, &key, piece, Some(text), show)?;
            let entries = read_entries(&mut v, show);
            if !v.typed.is_good() {
                return Ok(Some(body(&v, show)));
            }
            let mut all = kept(&v.shelf.stand.body);
            all.retain(|k, _| !v.asks.iter().any(|a| a.key == *k));
            all.extend(entries);
            let record = Stand { as_made: Some(Value::Object(all)), ..v.shelf.stand.body.clone() };
            let done = revised(b, &v.shelf.stand, &record, &by, &mut v.typed)?;
            Ok::<_, WebError>((!done).then(|| body(&v, show)))
        })
        .await?;
    Ok(kept_or(&app, show, &back, TITLE, stays))
}

/// A verdict as a mark with its words: no meaning by colour alone.
fn tag(verdict: VerdictName) -> Markup {
    let (class, words) = match verdict {
        VerdictName::Conforms => ("good", "✓ conforms"),
        VerdictName::DoesNotConform => ("bad", "✗ does not conform"),
        VerdictName::CanNotTell => ("warn", "? can’t be told with this gauge"),
        VerdictName::NotMeasured => ("act", "not measured"),
    };
    html! { span class={ "tag " (class) } { (words) } }
}

fn body(v: &View, show: Show) -> Markup {
    let names: Vec<String> = v.asks.iter().flat_map(|a| [a.field.clone(), a.u_field()]).collect();
    let known: Vec<&str> = names.iter().map(String::as_str).collect();
    html! {
        h1 { (v.part) @if v.pieces > 1 { ", piece " (v.piece) } }
        p.lead { "Type what the gauge reads. Leave out what is not measured yet." }
        (fault_summary(v.typed.other_faults(&known)))
        form.card method="post" action={ (v.path) "/inspect/" (v.key) "/" (v.piece) } novalidate {
            input type="hidden" name="revision" value=(v.shelf.stand.revision);
            @if v.asks.is_empty() { p { "No size of it has limits of its own: check it against its drawing by ISO 2768-m." } }
            @for a in &v.asks {
                fieldset.measured {
                    legend { (a.label) }
                    @if let Some(j) = v.judged.iter().find(|j| j.name == a.name) { p { (tag(j.verdict)) @if j.verdict != VerdictName::NotMeasured { " " (j.says.split_once(": ").map_or(j.says.as_str(), |s| s.1)) } } }
                    div {
                        (field(&v.typed, Field { name: &a.field, label: "Measured", unit: if matches!(a.kind, Kind::Size { .. }) { show.unit(Dimension::Length) } else { "µm" }, hint: &a.hint, keys: "decimal", ..Field::default() }.not_enforced()))
                        (field(&v.typed, Field { name: &a.u_field(), label: "Gauge, ± at 95 %", unit: "µm", keys: "decimal", ..Field::default() }.not_enforced()))
                    }
                }
            }
            div.actions { button.main type="submit" { "Keep" } }
        }
        section.card { div.links {
            @for piece in (1..=v.pieces).filter(|p| *p != v.piece) { a href={ (v.path) "/inspect/" (v.key) "/" (piece) } { "Piece " (piece) } }
            a href={ (v.path) "/parts/" (v.key) } { "Its drawing" }
            a href={ (v.path) "/inspect" } { "All parts" }
        } }
    }
}

/// `GET /stands/{id}/inspect`: all parts, and what the measured set does to the stand.
pub(crate) async fn overview(State(app): State<App>, Path(id): Path<String>, headers: HeaderMap) -> Result<Response, WebError> {
    let (id, show) = (Id::parse(&id)?, Show::of(&headers));
    read_form(&app, show, TITLE, move |b| {
        let path = format!("/stands/{id}");
        let (name, _, made) = made(b, &id)?;
        Ok(match made {
            Ok(m) => (true, overview_body(b, &id, &name, &path, &m)?),
            Err(f) => (false, can_not_be(&name, &path, &f)),
        })
    })
    .await
}

fn overview_body(b: &Bench, id: &Id, name: &str, path: &str, m: &Made) -> Result<Markup, WebError> {
    let shelf = shelf(b, id)?;
    let entries = kept(&shelf.stand.body);
    let rotor = chosen(b, &shelf, &Text::new())?;
    let pieces: Vec<(String, String, usize, Vec<Ask>)> = m
        .made()
        .flat_map(|p| (1..=p.quantity).map(move |k| (p, k)))
        // What has no limits of its own is not asked.
        .filter(|(p, k)| !asked(m, p, *k).is_empty())
        .map(|(p, k)| (p.key.clone(), if p.quantity > 1 { format!("{}, piece {k}", p.name) } else { p.name.clone() }, k, asked(m, p, k)))
        .collect();
    let all: Vec<Ask> = pieces.iter().flat_map(|p| p.3.iter().cloned()).collect();
    let (sizes, departures) = of_stand(&all, &entries);
    let stand = rotor.map(|on| StandIn {
        sheet: m.sheet.clone(),
        mass_kg: on.rotor.body.mass_kg,
        inertia_kg_m2: on.rotor.body.inertia_kg_m2,
        wheel_diameter_mm: on.rotor.body.wheel.diameter_mm,
        allowance_g_mm: on.allowance_g_mm,
        index_balanced: false,
    });
    let matching = super::asked::matching(m, &entries);
    let measured = all.iter().any(|a| entries.contains_key(&a.key));
    let out = measured.then(|| as_made(&AsMadeIn { stand, sizes, departures, matching }));
    Ok(html! {
        h1 { "Measured parts of " (name) }
        p.lead { "Which parts are good, and what the set of them does." }
        @match &out {
            None => { section.card { p { "Nothing is measured yet. Begin with the arbor: the saddles are lapped to it." } } }
            Some(Err(f)) => { section.card.faults role="alert" { h2 { "This set can’t be" } p { b { (f.field) " is " (f.value) "." } " " (f.why) @if !f.allowed.is_empty() { " Allowed: " (f.allowed) "." } } } }
            Some(Ok(out)) => { (effect(out)) }
        }
        section.card {
            h2 { "Piece by piece" }
            ul.list {
                @for (key, words, piece, asks) in &pieces {
                    @let done = asks.iter().filter(|a| entries.contains_key(&a.key)).count();
                    li {
                        a.row href={ (path) "/inspect/" (key) "/" (piece) } {
                            span.what { b { (words) } small { (done) " of " (asks.len()) " measured" } }
                            span { (standing(asks, out.as_ref().and_then(|o| o.as_ref().ok()))) }
                        }
                    }
                }
            }
        }
        section.card { div.links { a href={ (path) "/parts" } { "Drawings and process sheets" } a href=(path) { "Back to the stand" } } }
    })
}

/// How a piece stands: its worst verdict.
fn standing(asks: &[Ask], out: Option<&AsMadeOut>) -> Markup {
    let Some(out) = out else { return html! {} };
    let verdicts: Vec<VerdictName> = out.judged.iter().filter(|j| asks.iter().any(|a| a.name == j.name)).map(|j| j.verdict).collect();
    let has = |v: VerdictName| verdicts.contains(&v);
    match [VerdictName::DoesNotConform, VerdictName::CanNotTell].into_iter().find(|v| has(*v)) {
        Some(v) => tag(v),
        None if !has(VerdictName::NotMeasured) && has(VerdictName::Conforms) => tag(VerdictName::Conforms),
        None if has(VerdictName::Conforms) => html! { span.tag.good { "✓ good so far" } },
        None => tag(VerdictName::NotMeasured),
    }
}

fn effect(out: &AsMadeOut) -> Markup {
    html! {
        section.card {
            h2 { "What they do" }
            p { (out.says) }
            @if let Some(e) = &out.effect {
                div.table { table {
                    thead { tr { th { "" } th { "as drawn" } th { "as made" } } }
                    tbody {
                        tr { td { "floor, g·mm" } td { (significant(e.drawn.floor_g_mm, 3)) } td { (significant(e.made.floor_g_mm, 3)) } }
                        tr { td { "thinnest film, µm" } td { (significant(e.drawn.least_film_um, 3)) } td { (significant(e.made.least_film_um, 3)) } }
                        tr { td { "drift, g·mm" } td { (significant(e.drawn.drift_g_mm, 3)) } td { (significant(e.made.drift_g_mm, 3)) } }
                        tr { td { "air, l/min" } td { (significant(e.drawn.flow_l_min, 3)) } td { (significant(e.made.flow_l_min, 3)) } }
                    }
                } }
                @if let Some(b) = &e.better { p { b { "Better so: " } (b.says) } }
            }
            @for m in &out.matched {
                h3 { (m.name) }
                ul { @for p in &m.pairs { li { (p.shaft) " into " (p.hole) ": " (significant(p.clearance_um, 3)) " µm of clearance, " @if p.within { "✓ as wanted" } @else { "✗ not as wanted" } } } }
            }
        }
    }
}
