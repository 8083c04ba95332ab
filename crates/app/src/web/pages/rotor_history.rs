//! A rotor's page: its unbalance over wear and dressing, who moved what, what sits in the wheel, and what to expect next.

use super::super::error::WebError;
use super::super::form::{Field, Typed, field, select};
use super::super::layout::{self, Place};
use super::super::show::{Show, significant};
use super::super::state::App;
use super::history::words;
use super::time::moment;
use super::verdict;
use crate::sitting::{Chapter, RotorHistory};
use axum::extract::{Path, Query, State};
use axum::http::HeaderMap;
use maud::{Markup, PreEscaped, html};
use std::collections::HashMap;
use stillwheel_door::Fault;
use stillwheel_door::estimate::EstimateOut;
use stillwheel_door::history::{IndexSplitOut, PartOut};
use stillwheel_drawing::{TimelinePoint, timeline, wander};
use stillwheel_store::Id;

/// Two-sided 95 % of a normal distribution in standard deviations (any table).
const K95: f64 = 1.959_964;
/// Most moves that are listed.
const MOST_MOVES: usize = 60;

/// `GET /rotors/{id}`, with `?without=ID,ID` for changes to leave out, and `?first=&second=&turned=` to tell wheel from adapter.
pub(crate) async fn page(
    State(app): State<App>,
    Path(id): Path<String>,
    Query(query): Query<HashMap<String, String>>,
    headers: HeaderMap,
) -> Result<Markup, WebError> {
    let (id, show) = (Id::parse(&id)?, Show::of(&headers));
    let history = app.bench(move |b| b.rotor_history(&id)).await?;
    let without: Vec<Id> = query.get("without").map_or("", String::as_str).split(',').filter_map(|id| Id::parse(id).ok()).collect();
    let mut typed = Typed::new(query);
    let title = history.rotor.body.name.clone();
    let content = body(&history, &without, &mut typed, show);
    Ok(layout::page(&title, Place::Rotors, show, app.is_demo(), content))
}

fn body(history: &RotorHistory, without: &[Id], typed: &mut Typed, show: Show) -> Markup {
    let rotor = &history.rotor;
    let points: Vec<TimelinePoint> = history.found().map(|(_, c, e)| point(c, e)).collect();
    let plot = |svg: Result<String, Fault>| match svg {
        Ok(svg) => html! { div.plot { (PreEscaped(svg)) } },
        Err(fault) => html! { p.fault { "The picture can’t be drawn: " (fault) } },
    };
    html! {
        h1 { (rotor.body.name) }
        p.lead { (show.length(rotor.body.wheel.diameter_mm)) " × " (show.length(rotor.body.wheel.width_mm)) " × " (show.length(rotor.body.wheel.bore_mm)) ", " (show.mass(1000.0 * rotor.body.mass_kg)) @if !rotor.body.wheel.maker_marking.is_empty() { " · " (rotor.body.wheel.maker_marking) } }
        div.links {
            a href={ "/sittings/new?rotor=" (rotor.id) } { "New sitting" }
            a href={ "/records/rotors/" (rotor.id) } { "Edit" }
            a href={ "/rotors/" (rotor.id) "/label/a4.pdf" } { "Label, A4" }
            a href={ "/rotors/" (rotor.id) "/label/letter.pdf" } { "Label, Letter" }
        }
        div.cols {
            div {
                section.card { h2 { "What to expect next" } (expected(history, without, show)) }
                section.card {
                    h2 { "Over its sittings" }
                    @if points.is_empty() { p.soft { "No sitting with a verdict yet. Each one adds a point here." } }
                    @else { (plot(timeline(&points, "timeline-", "The rotor over its sittings"))) }
                }
                section.card { h2 { "Wheel, or adapter and arbor?" } (split(history, typed, show)) }
            }
            div {
                section.card { h2 { "Sittings" } (sittings(history, without, show)) }
                @if !points.is_empty() {
                    section.card {
                        h2 { "Where its unbalance points" }
                        p.soft { "Without correction weights, numbered by sitting, each with the region that holds it at 95 %. Zero mark on top, as you face the wheel." }
                        (plot(wander(&points, "wander-", "The way of the unbalance over the rotor")))
                    }
                }
                section.card { h2 { "Who moved what" } (moves(history, show)) }
            }
        }
    }
}

fn point(c: &Chapter, e: &EstimateOut) -> TimelinePoint {
    TimelinePoint {
        unbalance_g_mm: [e.unbalance.x_g_mm, e.unbalance.y_g_mm],
        covariance_g2_mm2: e.unbalance.covariance_g2_mm2,
        left_g_mm: e.residual.size_quantiles_g_mm.p95,
        allowance_g_mm: c.sitting.start.allowance.g_mm,
        diameter_mm: c.sitting.start.rotor.body.wheel.diameter_mm,
        proven: c.verdict.as_ref().is_some_and(|v| v.proven),
        begins: c.begins.is_some(),
    }
}

fn expected(history: &RotorHistory, without: &[Id], show: Show) -> Markup {
    match history.expected(without) {
        Ok(out) => html! {
            dl.facts {
                dt { "Next change" } dd { "about " (show.unbalance(out.change_median_g_mm)) ", 95 % sure below " (show.unbalance(out.change_95_g_mm)) }
                dt { "Still allowed" } dd { (verdict::percent(out.p_still_within)) " sure within the allowance, with the weights left as they are" }
                dt { "Rests on" } dd { (out.changes) " changes from sitting to sitting" }
            }
            p.soft { "The rule: changes of this wheel on this ring are taken as alike in size and in no favoured direction; few of them leave a wide spread, which is counted. A dressing unlike the others, or another seat, breaks the rule: leave such a change out in the list." }
        },
        Err(fault) if fault.field == "changes_g_mm" => html! {
            p { "It can’t be told yet: the rule needs three changes between sittings of the same wheel in the same seat, and there are " (fault.value) "." }
        },
        Err(fault) => html! { p { "It can’t be told yet: " (fault.why) "." } },
    }
}

fn sittings(history: &RotorHistory, without: &[Id], show: Show) -> Markup {
    let path = format!("/rotors/{}", history.rotor.id);
    let toggled = |id: &Id| {
        let mut ids: Vec<&Id> = without.iter().filter(|w| *w != id).collect();
        if ids.len() == without.len() {
            ids.push(id);
        }
        ids.iter().map(|id| id.as_str()).collect::<Vec<_>>().join(",")
    };
    html! {
        @if history.chapters.is_empty() { p.soft { "None yet." } }
        ol.chapters {
            @for c in &history.chapters {
                @let id = &c.sitting.id;
                li {
                    a href={ "/sittings/" (id) } { (moment(c.sitting.start.started_at)) }
                    @match &c.verdict {
                        Some(v) if v.proven => { " " span.tag.good { "✓ Proven" } },
                        Some(_) => { " " span.tag.warn { "– Not proven" } },
                        None => { " " span.tag.act { "▸ Open" } },
                    }
                    p.soft {
                        (c.sitting.start.stand.body.name) ", " (c.sitting.start.operator) ", " (show.length(c.sitting.start.rotor.body.wheel.diameter_mm))
                        @if let Some(e) = c.estimate() { ". Without weights " (with_spread(show, e)) ", left " (verdict::residual(show, &e.residual)) }
                    }
                    @if let Some(v) = c.verdict.as_ref().filter(|v| !v.note.is_empty()) { p.soft { "Remark: " (v.note) } }
                    p.links {
                        @if c.verdict.is_some() { a href={ "/sittings/" (id) "/certificate" } { "Certificate" } }
                        @match c.begins {
                            Some(why) => { @if why != "first sitting" { span { "A new row begins: " (why) "." } } },
                            None => { @if c.estimate().is_some() {
                                a href={ (path) "?without=" (toggled(id)) } { @if without.contains(id) { "Count its change again" } @else { "Leave its change out" } }
                            } },
                        }
                    }
                }
            }
        }
    }
}

fn with_spread(show: Show, e: &EstimateOut) -> String {
    let v = &e.unbalance;
    let [[xx, xy], [_, yy]] = v.covariance_g2_mm2;
    let (x, y) = (v.x_g_mm, v.y_g_mm);
    let size2 = x * x + y * y;
    let sd = if size2 > 0.0 { ((x * x * xx + 2.0 * x * y * xy + y * y * yy) / size2).max(0.0).sqrt() } else { xx.max(yy).sqrt() };
    format!("{} ± {} at {}", show.unbalance_number(v.size_g_mm), show.unbalance(two(K95 * sd)), show.angle(v.at_deg.round()))
}

fn two(v: f64) -> f64 {
    significant(v, 2).parse().unwrap_or(v)
}

fn moves(history: &RotorHistory, show: Show) -> Markup {
    let all: Vec<_> = history.chapters.iter().rev().flat_map(|c| c.moves.iter().rev().map(move |e| (c, e))).collect();
    html! {
        @if all.is_empty() { p.soft { "No weight was moved yet." } }
        ol.history {
            @for (c, e) in all.iter().take(MOST_MOVES) {
                li { (words(show, &c.sitting.start.ring.body, e)) time datetime=(e.at) { (moment(e.at)) @if !e.who.is_empty() { " · " (e.who) } @else if !c.sitting.start.operator.is_empty() { " · sitting of " (c.sitting.start.operator) } } }
            }
        }
        @if all.len() > MOST_MOVES { p.soft { (all.len() - MOST_MOVES) " earlier ones stand in their sittings." } }
    }
}

/// The form and, once it was sent, what it tells.
fn split(history: &RotorHistory, typed: &mut Typed, show: Show) -> Markup {
    let choices: Vec<(String, String)> =
        history.found().map(|(n, c, _)| (c.sitting.id.to_string(), format!("{n}: {}", moment(c.sitting.start.started_at)))).collect();
    let arbor = history.found().filter_map(|(n, _, e)| Some((n, e.arbor_error.as_ref()?))).last();
    let asked = typed.ticked("turned");
    if let [.., before, last] = &choices[..] {
        typed.put_default("first", before.0.as_str());
        typed.put_default("second", last.0.as_str());
    }
    let out = asked.then(|| told(history, typed, show)).flatten();
    html! {
        @if let Some((n, a)) = arbor {
            p { "Arbor alone, by the rotor turned on it (sitting " (n) "): " (verdict::residual(show, a)) "." }
        }
        @if choices.len() < 2 {
            p.soft { "Two sittings with a verdict tell them apart, if between them only the wheel was turned on its adapter, best by half a turn." }
        } @else {
            p { "Two sittings tell them apart, if between them only the wheel was turned on its adapter: no dressing, the weights counted out." }
            @if let Some(out) = &out { (parts(out, show)) }
            form method="get" action={ "/rotors/" (history.rotor.id) "#split" } id="split" {
                (select(typed, "first", "split-", "Before the turn", "", &choices))
                (select(typed, "second", "split-", "After it", "", &choices))
                (field(typed, Field { name: "turned", within: "split-", label: "The wheel was turned by", unit: "°", hint: "Counted as all angles here; half a turn tells best.", keys: "decimal", required: true, ..Field::default() }))
                button.wide type="submit" { "Tell them apart" }
            }
        }
    }
}

fn told(history: &RotorHistory, typed: &mut Typed, show: Show) -> Option<IndexSplitOut> {
    let turned = typed.angle("turned", show);
    let mut sitting = |name: &'static str| {
        let id = Id::parse(typed.text(name)).ok();
        if id.is_none() {
            typed.blame(Fault::new(name, "missing", "one of the list", "Choose a sitting."));
        }
        id
    };
    let (first, second) = (sitting("first")?, sitting("second")?);
    if !typed.is_good() {
        return None;
    }
    match history.split(&first, &second, turned) {
        Ok(out) => Some(out),
        Err(mut fault) => {
            if fault.field == "turned_deg" {
                "turned".clone_into(&mut fault.field);
            }
            typed.blame(fault);
            None
        }
    }
}

fn parts(out: &IndexSplitOut, show: Show) -> Markup {
    let words = |p: &PartOut| {
        if p.told {
            format!(
                "{} at {}, region ± {}",
                show.unbalance(p.size_g_mm),
                show.angle(p.at_deg.round()),
                show.unbalance(two(p.half_axis_95_g_mm))
            )
        } else {
            format!("not told from zero, at most about {}", show.unbalance(p.size_g_mm + p.half_axis_95_g_mm))
        }
    };
    html! {
        dl.facts {
            dt { "In the wheel, as first seated" } dd { (words(&out.wheel)) }
            dt { "In adapter and arbor" } dd { (words(&out.rest)) }
        }
        p.soft { "± at 95 %. What sits in the adapter comes back with every wheel: drill it out there once. What sits in the wheel goes with it." }
    }
}
