//! A new sitting: rotor, stand, machine, and the allowance that follows.

use super::super::error::WebError;
use super::super::form::{Field, Typed, fault_summary, field, select};
use super::super::layout::{self, Place};
use super::super::person::{who, who_cookie};
use super::super::show::{Angles, Show, significant};
use super::super::state::App;
use super::record_form::RecordForm;
use super::screws;
use crate::sitting::{Bench, Reasons, Weighed, weigh_allowance};
use axum::Form;
use axum::extract::{Query, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{AppendHeaders, IntoResponse, Redirect, Response};
use jiff::Timestamp;
use maud::{Markup, html};
use std::collections::HashMap;
use stillwheel_door::Fault;
use stillwheel_door::next_step::Reader;
use stillwheel_physics::quantity::Dimension;
use stillwheel_store::{Id, Machine, RingKind, Rotor, SittingStart, Stand, StoreFault, Stored, WeightRing};

type Text = HashMap<String, String>;

/// Grade proposed when nothing is typed: ISO 21940-11 Table 1 names G 1 for grinding-machine drives.
const USUAL_GRADE: &str = "1";
const FIELDS: &[&str] = &[
    "rotor",
    "stand",
    "machine",
    "grade_mm_s",
    "maker_k",
    "wheel_mass_g",
    "typed_g_mm",
    "operator",
    "settle_sd_deg",
    "time_sd_s",
    "amplitude_deg",
    "amplitude_sd_deg",
    "patience_s",
];

/// What there is to choose from.
struct Shelf {
    rotors: Vec<Stored<Rotor>>,
    stands: Vec<Stored<Stand>>,
    machines: Vec<Stored<Machine>>,
}

/// What was chosen.
struct Chosen {
    rotor: Stored<Rotor>,
    stand: Stored<Stand>,
    machine: Stored<Machine>,
    ring: Stored<WeightRing>,
}

struct View {
    typed: Typed,
    shelf: Shelf,
    ring: Option<WeightRing>,
    weighed: Option<Weighed>,
}

/// `GET /sittings/new`; with the form's fields in the query it shows the allowance.
pub(crate) async fn form(State(app): State<App>, Query(query): Query<Text>, headers: HeaderMap) -> Result<Response, WebError> {
    let show = Show::of(&headers);
    let name = who(&headers);
    let view = app.bench(move |b| prepare(b, Typed::new(query), show, &name)).await?;
    Ok(layout::page("New sitting", Place::Bench, show, app.is_demo(), body(&view, show)).into_response())
}

/// `POST /sittings`.
pub(crate) async fn create(State(app): State<App>, headers: HeaderMap, Form(text): Form<Text>) -> Result<Response, WebError> {
    let show = Show::of(&headers);
    let name = who(&headers);
    let made = app
        .bench(move |b| {
            let mut typed = Typed::new(text);
            if typed.ticked("quick") {
                typed = prepare(b, typed, show, &name)?.typed;
            }
            let start = read_start(b, &mut typed, show)?;
            match start.map(|s| b.store().new_sitting(&s)) {
                Some(Ok(sitting)) => Ok(Ok((sitting.id, typed.text("operator").to_owned()))),
                Some(Err(f @ StoreFault::Invalid { .. })) => {
                    typed.blame_store(&f);
                    prepare(b, typed, show, &name).map(Err)
                }
                Some(Err(f)) => Err(WebError::from(f)),
                None => prepare(b, typed, show, &name).map(Err),
            }
        })
        .await?;
    match made {
        Ok((id, operator)) => {
            let cookie = AppendHeaders([(axum::http::header::SET_COOKIE, who_cookie(&operator))]);
            Ok((cookie, Redirect::to(&format!("/sittings/{id}"))).into_response())
        }
        Err(view) => {
            let page = layout::page("New sitting", Place::Bench, show, app.is_demo(), body(&view, show));
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
        }
    }
}

fn prepare(b: &Bench, mut typed: Typed, show: Show, name: &str) -> Result<View, WebError> {
    let shelf = Shelf { rotors: b.store().list()?, stands: b.store().list()?, machines: b.store().list()? };
    if typed.text("stand") == "virtual" {
        let id = shelf.stands.iter().find(|s| s.body.virtual_seed.is_some()).map_or(String::new(), |s| s.id.to_string());
        typed.put("stand", id);
    }
    default_choice(&mut typed, "rotor", shelf.rotors.first());
    default_choice(&mut typed, "stand", shelf.stands.first());
    default_choice(&mut typed, "machine", shelf.machines.first());
    if typed.text("maker_k").is_empty() && typed.text("typed_g_mm").is_empty() {
        typed.put_default("grade_mm_s", USUAL_GRADE);
    }
    typed.put_default("operator", name);
    let reader = Reader::default();
    for (field, v) in [
        ("settle_sd_deg", reader.settle_sd_deg),
        ("time_sd_s", reader.time_sd_s),
        ("amplitude_deg", reader.amplitude_deg),
        ("amplitude_sd_deg", reader.amplitude_sd_deg),
        ("patience_s", reader.patience_s),
    ] {
        typed.put_default(field, format!("{v}"));
    }
    let mut weighed = None;
    let mut ring = None;
    if let Some(chosen) = chosen(b, &typed)? {
        // Evenly spread weights of one mass cancel: the usual start in a groove. Holes are usually empty.
        let weights = groove_weights(&chosen.ring.body);
        for i in 0..weights {
            typed.put_default(&format!("at_deg_{i}"), show.angle_number(360.0 * i as f64 / weights as f64));
        }
        let mut trial = typed.clone();
        let reasons = read_reasons(&mut trial, show);
        match weigh_allowance(&reasons, &chosen.rotor.body, &chosen.machine.body, &chosen.ring.body) {
            Ok(w) if trial.is_good() => weighed = Some(w),
            Ok(_) => typed = trial,
            Err(f) if typed.is_good() && trial.is_good() => typed.blame(f),
            Err(_) => {}
        }
        ring = Some(chosen.ring.body);
    }
    Ok(View { typed, shelf, ring, weighed })
}

/// How many weights slide in the ring's groove.
fn groove_weights(ring: &WeightRing) -> usize {
    match &ring.kind {
        RingKind::Groove(g) => g.weights.len(),
        RingKind::TappedHoles(_) => 0,
    }
}

fn default_choice<R>(typed: &mut Typed, name: &str, first: Option<&Stored<R>>) {
    if typed.text(name).is_empty() {
        typed.put(name, first.map_or(String::new(), |s| s.id.to_string()));
    }
}

fn chosen(b: &Bench, typed: &Typed) -> Result<Option<Chosen>, WebError> {
    let id = |name: &str| Id::parse(typed.text(name)).ok();
    let (Some(rotor), Some(stand), Some(machine)) = (id("rotor"), id("stand"), id("machine")) else { return Ok(None) };
    let s = b.store();
    let rotor = s.get::<Rotor>(&rotor)?;
    let ring = s.get::<WeightRing>(&rotor.body.ring)?;
    Ok(Some(Chosen { stand: s.get(&stand)?, machine: s.get(&machine)?, ring, rotor }))
}

fn read_reasons(typed: &mut Typed, show: Show) -> Reasons {
    let plain = |typed: &mut Typed, name: &str| typed.optional(name, Dimension::Plain, show);
    Reasons {
        grade_mm_s: plain(typed, "grade_mm_s"),
        maker_k: plain(typed, "maker_k"),
        wheel_mass_g: typed.optional("wheel_mass_g", Dimension::Mass, show),
        typed_g_mm: typed.optional("typed_g_mm", Dimension::Unbalance, show),
    }
}

fn read_start(b: &Bench, typed: &mut Typed, show: Show) -> Result<Option<SittingStart>, WebError> {
    let Some(chosen) = chosen(b, typed)? else {
        typed.blame(Fault::new("rotor", "missing", "rotor, stand and machine", "Make them under Rotors first, then choose them here."));
        return Ok(None);
    };
    let reasons = read_reasons(typed, show);
    let reader = Reader {
        settle_sd_deg: typed.number("settle_sd_deg", Dimension::Angle, show),
        time_sd_s: typed.number("time_sd_s", Dimension::Time, show),
        amplitude_deg: typed.number("amplitude_deg", Dimension::Angle, show),
        amplitude_sd_deg: typed.number("amplitude_sd_deg", Dimension::Angle, show),
        patience_s: typed.number("patience_s", Dimension::Time, show),
    };
    let weights = groove_weights(&chosen.ring.body);
    let weights_at_start_deg: Vec<f64> = (0..weights).map(|i| typed.angle(&format!("at_deg_{i}"), show)).collect();
    let screws_at_start = match &chosen.ring.body.kind {
        RingKind::Groove(_) => Some(Vec::new()),
        RingKind::TappedHoles(t) => screws::read(typed, t),
    };
    let allowance = weigh_allowance(&reasons, &chosen.rotor.body, &chosen.machine.body, &chosen.ring.body);
    let allowance = match allowance {
        Ok(w) => w.allowance,
        Err(f) => {
            typed.blame(f);
            return Ok(None);
        }
    };
    if !typed.is_good() {
        return Ok(None);
    }
    let reader = serde_json::to_value(reader).map_err(|e| WebError::Broken(e.into()))?;
    Ok(Some(SittingStart {
        rotor: chosen.rotor.snapshot(),
        stand: chosen.stand.snapshot(),
        machine: chosen.machine.snapshot(),
        ring: chosen.ring.snapshot(),
        allowance,
        reader,
        weights_at_start_deg,
        screws_at_start: screws_at_start.unwrap_or_default(),
        operator: typed.text("operator").to_owned(),
        started_at: Timestamp::now(),
    }))
}

fn body(view: &View, show: Show) -> Markup {
    let typed = &view.typed;
    let names: Vec<String> = match view.ring.as_ref().map(|r| &r.kind) {
        Some(RingKind::Groove(g)) => (0..g.weights.len()).map(|i| format!("at_deg_{i}")).collect(),
        Some(RingKind::TappedHoles(t)) => screws::names(t),
        None => Vec::new(),
    };
    let shown: Vec<&str> = FIELDS.iter().copied().chain(names.iter().map(String::as_str)).collect();
    html! {
        h1 { "New sitting" }
        p.lead { "Which rotor, on which stand, for which machine?" }
        (fault_summary(typed.other_faults(&shown)))
        @if view.shelf.rotors.is_empty() || view.shelf.stands.is_empty() || view.shelf.machines.is_empty() {
            p.caution { strong { "Something is missing." } " A sitting needs a rotor, a stand and a machine: " a href="/rotors" { "make them first" } "." }
        }
        form #new-sitting method="post" action="/sittings" novalidate {
            div.cols {
                section.card {
                    (select(typed, "rotor", "", "Rotor", &line(typed, "rotor", &view.shelf.rotors, show), &options(&view.shelf.rotors)))
                    (select(typed, "stand", "", "Stand", &line(typed, "stand", &view.shelf.stands, show), &options(&view.shelf.stands)))
                    (select(typed, "machine", "", "Machine", &line(typed, "machine", &view.shelf.machines, show), &options(&view.shelf.machines)))
                    (field(typed, Field { name: "operator", label: "Who balances", ..Field::default() }))
                    details { summary { "Weights at the start, reading" } div.inside { (start_fields(view, show)) } }
                }
                section.card #allowance {
                    h2 { "Allowance" }
                    (weighed_facts(view, show))
                    (reason_fields(typed, show))
                    button.plain.wide type="submit" formmethod="get" formaction="/sittings/new" { "Work out the allowance" }
                }
            }
            button.main.big.wide type="submit" { "Start" }
        }
    }
}

/// The chosen record in a line.
fn line<R: RecordForm>(typed: &Typed, name: &str, records: &[Stored<R>], show: Show) -> String {
    records.iter().find(|r| r.id.as_str() == typed.text(name)).map_or(String::new(), |r| r.body.line(show))
}

fn options<R: RecordForm>(records: &[Stored<R>]) -> Vec<(String, String)> {
    records.iter().map(|r| (r.id.to_string(), r.body.name().to_owned())).collect()
}

fn start_fields(view: &View, show: Show) -> Markup {
    let typed = &view.typed;
    let clock = show.angles == Angles::Clock;
    let number = |name, label, unit| field(typed, Field { name, label, unit, keys: "decimal", required: true, ..Field::default() });
    html! {
        @match view.ring.as_ref().map(|r| &r.kind) {
            Some(RingKind::Groove(g)) => {
                p.soft { "Where the weights stand now, " (show.angles_in_words()) ". Evenly spread is the usual start." }
                @for i in 0..g.weights.len() {
                    @let name = format!("at_deg_{i}");
                    (field(typed, Field { name: &name, label: &format!("Weight {}", i + 1), unit: if clock { "" } else { "°" }, keys: if clock { "" } else { "decimal" }, required: true, ..Field::default() }))
                }
            },
            Some(RingKind::TappedHoles(t)) => {
                p.soft { "Screws that are in now. Empty holes are the usual start." }
                (screws::rows(typed.clone(), show, "start-", t, &[]))
            },
            None => {},
        }
        p.soft { "How well you read, one standard deviation each. The usual values are good for an eye on a degree scale and a thumb on a stopwatch." }
        div.pair { (number("settle_sd_deg", "Settle angle", "°")) (number("time_sd_s", "Time", "s")) }
        div.pair { (number("amplitude_deg", "Let go from", "°")) (number("amplitude_sd_deg", "Its error", "°")) }
        (number("patience_s", "Longest swing you will watch", "s"))
    }
}

fn reason_fields(typed: &Typed, show: Show) -> Markup {
    let number = |name, label, unit, hint| field(typed, Field { name, label, unit, hint, keys: "decimal", ..Field::default() });
    html! {
        (number("grade_mm_s", "Balance quality grade G", "mm/s", "ISO 21940-11; G 1 is common for grinding machines, G 0.4 for precision."))
        details open[!typed.text("maker_k").is_empty() || !typed.text("typed_g_mm").is_empty()] {
            summary { "More limits" }
            div.inside {
                (number("maker_k", "Wheel maker’s factor k", "", "From the maker, in the form of ISO 6103; no usual value."))
                (number("wheel_mass_g", "Mass of the wheel alone", show.unit(Dimension::Mass), "For the maker’s tolerance."))
                (number("typed_g_mm", "A limit of your own", show.unbalance_unit(), ""))
            }
        }
    }
}

fn weighed_facts(view: &View, show: Show) -> Markup {
    let Some(w) = &view.weighed else { return html! { p.soft { "Fill in at least one limit; the tightest governs." } } };
    html! {
        p.verdict-word.num { (show.unbalance(w.allowance.g_mm)) }
        p.soft { (w.allowance.reason) }
        dl.facts {
            @for (reason, g_mm) in &w.limits { dt { (reason) } dd { (show.unbalance(*g_mm)) } }
            @if let Some(g) = w.at_ring_g { dt { "At the ring" } dd { (show.mass(g)) } }
            @if let Some((deg, mm)) = w.travel { dt { "Travel of one weight" } dd { (significant(deg, 3)) "° = " (show.travel(mm)) } }
            dt { "Mass centre off by" } dd { (significant(w.offset_um, 3)) " µm" }
            dt { "Force at speed" } dd { (significant(w.force_n, 3)) " N" }
            dt { "Rim speed" } dd { (significant(w.rim_speed_m_s, 3)) " m/s" }
        }
        @for c in &w.cautions { p.caution { strong { "Caution." } " " (c) } }
    }
}
