//! A machine's sheet: what turns on it, its head, and its text.

use super::super::super::error::WebError;
use super::super::super::form::{Typed, fault_summary};
use super::super::super::layout::{self, Place};
use super::super::super::person::by;
use super::super::super::show::{Show, significant};
use super::super::super::state::App;
use crate::sitting::Bench;
use axum::Form;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use maud::{Markup, html};
use std::collections::HashMap;
use stillwheel_door::Fault;
use stillwheel_door::look::Sense;
use stillwheel_door::machine::{MachineIn, MachineOut, machine};
use stillwheel_door::machine_sheet::{DriveKind, MachineSheet, NO_2, read_machine_sheet};
use stillwheel_door::stand_sheet::set_in_sheet;
use stillwheel_store::{By, Id, Machine, StoreFault, Stored};

/// The sheet's text; one to start from where there is none.
pub(super) fn sheet_text(machine: &Machine) -> String {
    if !machine.sheet_toml.is_empty() {
        return machine.sheet_toml.clone();
    }
    // Quotes and backslashes in a name must not end the TOML string.
    let own = machine.name.replace('\\', "\\\\").replace('"', "\\\"");
    let named = NO_2.replace("name = \"No. 2 surface grinder\"", &format!("name = \"{own}\"")).replacen(
        "# Machine \"No. 2\" of Fernhill Toolroom: a surface grinder with a table of 150 × 450 mm. Invented.",
        "# Made from an example: put your own machine’s values in.",
        1,
    );
    set_in_sheet(&named, "spindle.speed_rpm", Some(machine.speed_rpm)).unwrap_or(named)
}

/// Keep a new sheet, if the revision that the form was filled from is still the newest. The spindle's speed goes into the record too: the
/// allowance is worked out from it.
pub(super) fn kept(b: &Bench, stored: &Stored<Machine>, text: &str, by: &By, typed: &mut Typed) -> Result<bool, WebError> {
    let sheet = match read_machine_sheet(text) {
        Ok(s) => s,
        Err(f) => {
            typed.blame(f);
            return Ok(false);
        }
    };
    let record = Machine { sheet_toml: text.to_owned(), speed_rpm: sheet.spindle.speed_rpm, ..stored.body.clone() };
    let seen = typed.text("revision").parse().unwrap_or(0);
    match b.store().revise(&stored.id, seen, &record, by) {
        Ok(_) => Ok(true),
        Err(f @ (StoreFault::Invalid { .. } | StoreFault::Conflict { .. })) => {
            typed.blame_store(&f);
            Ok(false)
        }
        Err(f) => Err(f.into()),
    }
}

/// `GET /grinder/machines/{id}`.
pub(crate) async fn page(State(app): State<App>, Path(id): Path<String>, headers: HeaderMap) -> Result<Response, WebError> {
    let (id, show) = (Id::parse(&id)?, Show::of(&headers));
    let stored = app.bench(move |b| b.store().get::<Machine>(&id)).await?;
    let text = sheet_text(&stored.body);
    let body = body(&stored, &text, &Typed::default(), show);
    Ok(layout::page("Machine", Place::Grinder, show, app.is_demo(), body).into_response())
}

/// `POST /grinder/machines/{id}/sheet`: keep a whole sheet as it was written.
pub(crate) async fn take_text(
    State(app): State<App>,
    Path(id): Path<String>,
    headers: HeaderMap,
    Form(form): Form<HashMap<String, String>>,
) -> Result<Response, WebError> {
    let (id, show, by) = (Id::parse(&id)?, Show::of(&headers), by(&headers));
    let path = format!("/grinder/machines/{id}");
    let again = app
        .bench(move |b| {
            let stored = b.store().get::<Machine>(&id)?;
            let mut typed = Typed::new(form);
            // Forms come with CRLF.
            let written = typed.untrimmed("sheet_toml").replace("\r\n", "\n");
            let done = kept(b, &stored, &written, &by, &mut typed)?;
            Ok::<_, WebError>((!done).then(|| body(&stored, &written, &typed, show)))
        })
        .await?;
    Ok(match again {
        None => Redirect::to(&path).into_response(),
        Some(body) => {
            (StatusCode::UNPROCESSABLE_ENTITY, layout::page("Machine", Place::Grinder, show, app.is_demo(), body)).into_response()
        }
    })
}

/// `GET /grinder/machines/{id}/sheet.toml`.
pub(crate) async fn download(State(app): State<App>, Path(id): Path<String>) -> Result<Response, WebError> {
    let id = Id::parse(&id)?;
    let text = app.bench(move |b| b.store().get::<Machine>(&id).map(|m| sheet_text(&m.body))).await?;
    let head =
        [(header::CONTENT_TYPE, "application/toml; charset=utf-8"), (header::CONTENT_DISPOSITION, "attachment; filename=\"machine.toml\"")];
    Ok((head, text).into_response())
}

fn body(stored: &Stored<Machine>, text: &str, typed: &Typed, show: Show) -> Markup {
    let path = format!("/grinder/machines/{}", stored.id);
    // What is shown beside a text that can't be is the sheet that is kept.
    let sheet = read_machine_sheet(text).or_else(|_| read_machine_sheet(&sheet_text(&stored.body)));
    html! {
        h1 { (stored.body.name) }
        p.lead { "All that turns on it, how its head stands up to a shaking wheel, and how fast its table goes." }
        (fault_summary(typed.faults().iter()))
        @if stored.body.sheet_toml.is_empty() { p.caution { strong { "No sheet yet." } " What is shown is an example: put this machine’s own values in and keep the text." } }
        div.cols {
            div {
                @match &sheet { Ok(s) => (facts(s, &path)), Err(f) => p.fault { (f) } }
                section.card {
                    h2 { "More of this machine" }
                    div.links {
                        a href={ (path) "/head" } { "Measure its head" }
                        a href={ "/records/machines/" (stored.id) } { "Name and speed" }
                        a href="/grinder" { "All machines" }
                    }
                }
                (text_card(stored, text, &path, typed))
            }
            div { @if let Ok(s) = &sheet { (comes_round(s, show)) } }
        }
    }
}

fn pm(v: f64, sd: f64, figures: i32, unit: &str) -> String {
    if sd > 0.0 {
        format!("{} ± {} {unit}", significant(v, figures), significant(1.96 * sd, 2))
    } else {
        format!("{} {unit}", significant(v, figures))
    }
}

fn facts(s: &MachineSheet, path: &str) -> Markup {
    let drive = match s.drive.kind {
        DriveKind::Direct => "on the motor’s shaft",
        DriveKind::Belt => "by belt",
        DriveKind::Gears => "by gears",
    };
    let turns = if s.spindle.turns == Sense::Clockwise { "clockwise" } else { "counter-clockwise" };
    let list = |v: &[f64], unit: &str| v.iter().map(|x| significant(*x, 4)).collect::<Vec<_>>().join(", ") + unit;
    html! {
        section.card {
            h2 { "The machine" }
            dl.facts {
                dt { "Spindle" } dd { (pm(s.spindle.speed_rpm, s.spindle.speed_sd_rpm, 5, "r/min")) br; small { (turns) ", seen from the operator’s side; driven " (drive) } }
                dt { "Largest wheel" } dd { (significant(s.spindle.largest_wheel_mm, 4)) " mm" br; small { "that its guard takes" } }
                dt { "Table" } dd { (list(&s.table.speeds_m_min, " m/min")) @if !s.table.cross_feeds_mm.is_empty() { br; small { "cross-feed " (list(&s.table.cross_feeds_mm, " mm")) } } }
                dt { "Mains" } dd { (significant(s.mains_hz, 3)) " Hz" }
                @for b in &s.bearings { dt { (b.name) } dd { (b.balls) " × Ø " (significant(b.ball_mm, 4)) " mm" br; small { "on Ø " (significant(b.pitch_mm, 4)) " mm, contact angle " (significant(b.contact_deg, 3)) "°" } } }
            }
        }
        section.card {
            h2 { "Wheel head" }
            @match &s.head {
                Some(h) => dl.facts {
                    dt { "Stiffness" } dd { (pm(h.stiffness_n_um, h.stiffness_sd_n_um, 3, "N/µm")) }
                    dt { "Natural frequency" } dd { (pm(h.natural_hz, h.natural_sd_hz, 4, "Hz")) br; small { (significant(60.0 * h.natural_hz, 4)) " a minute" } }
                    dt { "Damping ratio" } dd { (pm(h.damping, h.damping_sd, 2, "")) }
                },
                None => p { "Not measured yet. Without it nobody can say what a residual does to the work on this machine." },
            }
            div.actions { a.button href={ (path) "/head" } { @if s.head.is_some() { "Measure it again" } @else { "Measure it" } } }
        }
    }
}

fn comes_round(s: &MachineSheet, _show: Show) -> Markup {
    let out: Result<MachineOut, Fault> = machine(&MachineIn { sheet: s.clone() });
    html! {
        section.card {
            h2 { "What comes round" }
            @match out {
                Err(f) => p.fault { (f) },
                Ok(out) => {
                    p { "How far apart the marks of each would stand, at the table’s speeds." }
                    div.table tabindex="0" {
                        table {
                            thead { tr { th { "Part" } th.num { "Hz" } @for v in &out.table_m_min { th.num { (significant(*v, 3)) " m/min" } } } }
                            tbody {
                                @for r in &out.comes_round {
                                    tr { th scope="row" { (r.name) } td.num { (significant(r.hz, 4)) } @for x in &r.spacings_mm { td.num { (significant(*x, 3)) " mm" } } }
                                }
                            }
                        }
                    }
                    p.soft { "Defects of bearings, and which of all these made a mark on the work: " a href="/grinder/marks" { "Marks" } "." }
                }
            }
        }
    }
}

fn text_card(stored: &Stored<Machine>, text: &str, path: &str, typed: &Typed) -> Markup {
    html! {
        details.card-like open[!typed.is_good()] {
            summary { "The whole sheet as text" }
            div.inside {
                form method="post" action={ (path) "/sheet" } {
                    input type="hidden" name="revision" value=(stored.revision);
                    div.field {
                        label for="sheet_toml" { "Machine sheet (TOML; remarks are kept)" }
                        textarea id="sheet_toml" name="sheet_toml" rows="24" spellcheck="false" { "\n" (text) }
                    }
                    div.actions { button type="submit" { "Keep this text" } a.button.plain href={ (path) "/sheet.toml" } download { "Download" } }
                }
            }
        }
    }
}
