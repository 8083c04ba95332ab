//! The head's guide: pull, read the indicator; tap, record; and what they say goes into the machine's sheet.

use super::super::super::error::WebError;
use super::super::super::form::{Field, Typed, fault_summary, field};
use super::super::super::layout::{self, Place};
use super::super::super::person::by;
use super::super::super::show::{Show, significant};
use super::super::super::state::App;
use super::super::super::upload::Upload;
use super::machine::{kept, sheet_text};
use super::upload;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use maud::{Markup, html};
use stillwheel_door::Fault;
use stillwheel_door::head_response::{HeadResponseOut, PullIn, head_response_of};
use stillwheel_door::recording::{Channels, read_recording};
use stillwheel_door::stand_sheet::set_in_sheet;
use stillwheel_physics::quantity::Dimension;
use stillwheel_store::{Id, Machine, Stored};

/// Rows of pulls, and recordings of taps, that the form has.
const PULLS: usize = 6;
const TAPS: usize = 3;

/// `GET /grinder/machines/{id}/head`.
pub(crate) async fn page(State(app): State<App>, Path(id): Path<String>, headers: HeaderMap) -> Result<Response, WebError> {
    let (id, show) = (Id::parse(&id)?, Show::of(&headers));
    let stored = app.bench(move |b| b.store().get::<Machine>(&id)).await?;
    let mut typed = Typed::default();
    typed.put("indicator_sd_um", "0.5");
    typed.put("revision", stored.revision.to_string());
    Ok(layout::page("Wheel head", Place::Grinder, show, app.is_demo(), body(&stored, &typed, None)).into_response())
}

/// `POST /grinder/machines/{id}/head`: work it out, or (`do=keep`) put it into the sheet.
pub(crate) async fn read(
    State(app): State<App>,
    Path(id): Path<String>,
    headers: HeaderMap,
    Upload(form): Upload,
) -> Result<Response, WebError> {
    let (id, show, by) = (Id::parse(&id)?, Show::of(&headers), by(&headers));
    let path = format!("/grinder/machines/{id}");
    let (mut typed, files) = upload::read(form).await?;
    let (done, status, body) = app
        .bench(move |b| {
            let stored = b.store().get::<Machine>(&id)?;
            if typed.text("do") == "keep" {
                if let Some(text) = with_head(&sheet_text(&stored.body), &mut typed)
                    && kept(b, &stored, &text, &by, &mut typed)?
                {
                    return Ok((true, StatusCode::OK, Markup::default()));
                }
                return Ok((false, StatusCode::UNPROCESSABLE_ENTITY, body(&stored, &typed, None)));
            }
            let pulls = pulls(&mut typed);
            let sd = typed.number("indicator_sd_um", Dimension::Plain, Show::default());
            let mut taps: Vec<Channels> = Vec::new();
            for k in 0..TAPS {
                if let Some(bytes) = files.get(&format!("tap_{k}")) {
                    match read_recording(bytes) {
                        Ok(c) => taps.push(c),
                        Err(f) => typed.blame(Fault { field: format!("tap_{k}"), ..f }),
                    }
                }
            }
            let out = if typed.is_good() {
                let recordings: Vec<(f64, &[f64])> = taps.iter().map(|c| (c.rate_hz, c.samples[0].as_slice())).collect();
                head_response_of(&pulls, sd, &recordings).map_err(|f| typed.blame(f)).ok()
            } else {
                None
            };
            let status = if out.is_some() { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
            Ok::<_, WebError>((false, status, body(&stored, &typed, out.as_ref())))
        })
        .await?;
    if done {
        return Ok(Redirect::to(&path).into_response());
    }
    Ok((status, layout::page("Wheel head", Place::Grinder, show, app.is_demo(), body)).into_response())
}

fn pulls(typed: &mut Typed) -> Vec<PullIn> {
    let mut list = Vec::new();
    for k in 0..PULLS {
        let (force, read) = (format!("force_{k}"), format!("read_{k}"));
        if typed.text(&force).is_empty() && typed.text(&read).is_empty() {
            continue;
        }
        let force_n = typed.number(&force, Dimension::Plain, Show::default());
        let deflection_um = typed.number(&read, Dimension::Plain, Show::default());
        list.push(PullIn { force_n, deflection_um });
    }
    list
}

/// The values of the head and where they go in the sheet.
const VALUES: [(&str, &str); 6] = [
    ("stiffness_n_um", "head.stiffness_n_um"),
    ("stiffness_sd_n_um", "head.stiffness_sd_n_um"),
    ("natural_hz", "head.natural_hz"),
    ("natural_sd_hz", "head.natural_sd_hz"),
    ("damping", "head.damping"),
    ("damping_sd", "head.damping_sd"),
];

/// The sheet with the values that were worked out; those that were not measured this time stay.
fn with_head(text: &str, typed: &mut Typed) -> Option<String> {
    let mut out = text.to_owned();
    for (name, path) in VALUES {
        if typed.text(name).is_empty() {
            continue;
        }
        let v = typed.number(name, Dimension::Plain, Show::default());
        match set_in_sheet(&out, path, Some(v)) {
            Ok(t) => out = t,
            Err(f) => typed.blame(f),
        }
    }
    typed.is_good().then_some(out)
}

fn body(stored: &Stored<Machine>, typed: &Typed, out: Option<&HeadResponseOut>) -> Markup {
    let path = format!("/grinder/machines/{}/head", stored.id);
    html! {
        h1 { "Wheel head of " (stored.body.name) }
        p.lead { "How stiff it stands, at what frequency it rings, and how fast that dies away: a pull, an indicator, a few taps." }
        (fault_summary(typed.faults().iter()))
        @if let Some(out) = out { (result(stored, out, &path)) }
        form method="post" action=(path) enctype="multipart/form-data" novalidate {
            input type="hidden" name="revision" value=(stored.revision);
            div.cols {
                section.card {
                    h2 { "1 · Pull" }
                    ol {
                        li { "Spindle stopped, machine locked off at its switch." }
                        li { "Indicator on the table, its tip against the wheel’s flange from below." }
                        li { "Pull the spindle’s nose up with a spring balance (or push it down with weights), in steps from nothing to about 200 N (20 kg), and read the indicator each time." }
                        li { "Go down the same way once: the zero must come back." }
                    }
                    @for k in 0..PULLS {
                        @let (force, read) = (format!("force_{k}"), format!("read_{k}"));
                        div.pair {
                            (field(typed, Field { name: &force, label: "Force", unit: "N", keys: "decimal", ..Field::default() }.not_enforced()))
                            (field(typed, Field { name: &read, label: "Indicator", unit: "µm", keys: "decimal", ..Field::default() }.not_enforced()))
                        }
                    }
                    (field(typed, Field { name: "indicator_sd_um", label: "The indicator is read to about", unit: "µm", hint: "One standard deviation: half a division of a 0.001 mm indicator is 0.5.", keys: "decimal", required: true, ..Field::default() }))
                }
                section.card {
                    h2 { "2 · Tap" }
                    ol {
                        li { "Sensor (or the phone with a recorder) firmly on the wheel head, wheel on, spindle stopped." }
                        li { "Start recording, wait a second, tap the head once from below with a soft mallet, wait until all is still, stop." }
                        li { "Three recordings, one tap each. Save as WAV, or as a table of time and reading." }
                    }
                    @for k in 0..TAPS {
                        @let name = format!("tap_{k}");
                        div.field {
                            label for=(name) { "Recording " (k + 1) " " small { "(WAV or CSV)" } }
                            input id=(name) name=(name) type="file" accept=".wav,.csv,.txt,audio/wav,text/csv";
                            @if let Some(f) = typed.fault(&name) { p.fault { (f.why) } }
                        }
                    }
                    div.actions { button.main type="submit" { "Work it out" } a.button href={ "/grinder/machines/" (stored.id) } { "Back" } }
                }
            }
        }
    }
}

fn result(stored: &Stored<Machine>, out: &HeadResponseOut, path: &str) -> Markup {
    let pm = |v: f64, sd: f64, figures: i32, unit: &str| format!("{} ± {} {unit}", significant(v, figures), significant(1.96 * sd, 2));
    html! {
        section.card.now role="status" {
            p.say { (out.says) }
            dl.facts {
                @if let Some(k) = &out.stiffness { dt { "Stiffness" } dd { (pm(k.n_um, k.sd_n_um, 3, "N/µm")) } }
                @if let Some(m) = &out.mode {
                    dt { "Natural frequency" } dd { (pm(m.natural_hz, m.natural_sd_hz, 4, "Hz")) }
                    dt { "Damping ratio" } dd { (pm(m.damping, m.damping_sd, 2, "")) }
                }
                @if let Some(m) = out.moving_mass_kg { dt { "Mass that moves" } dd { (significant(m, 3)) " kg" } }
                @for (i, t) in out.taps.iter().enumerate() {
                    dt { "Tap " (i + 1) } dd { (t.modes.iter().map(|m| format!("{} Hz", significant(m.natural_hz, 4))).collect::<Vec<_>>().join(", ")) br; small { "over " (significant(t.over_s, 2)) " s; " (significant(100.0 * t.unexplained, 2)) " % not explained" } }
                }
            }
            @for c in &out.cautions { p.caution { (c) } }
            form method="post" action=(path) enctype="multipart/form-data" {
                input type="hidden" name="do" value="keep";
                input type="hidden" name="revision" value=(stored.revision);
                @if let Some(k) = &out.stiffness {
                    input type="hidden" name="stiffness_n_um" value=(significant(k.n_um, 4));
                    input type="hidden" name="stiffness_sd_n_um" value=(significant(k.sd_n_um, 2));
                }
                @if let Some(m) = &out.mode {
                    input type="hidden" name="natural_hz" value=(significant(m.natural_hz, 5));
                    input type="hidden" name="natural_sd_hz" value=(significant(m.natural_sd_hz, 2));
                    input type="hidden" name="damping" value=(significant(m.damping, 3));
                    input type="hidden" name="damping_sd" value=(significant(m.damping_sd, 2));
                }
                @if out.stiffness.is_some() || out.mode.is_some() { div.actions { button.main type="submit" { "Put it into the machine’s sheet" } } }
            }
        }
    }
}
