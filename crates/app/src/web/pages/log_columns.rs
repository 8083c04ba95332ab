//! Columns of a log from elsewhere: say which hold time and angle and in which units, see the curve, then store it.
//!
//! Two steps without any script: the text of the file travels in the form, so nothing is kept between them.

use super::super::error::WebError;
use super::super::form::{Field, Typed, fault_summary, field, select};
use super::super::show::Show;
use super::super::state::App;
use super::log_entry::{Entry, LogPage};
use super::look_forms::{arbor_field, trial_fields};
use super::look_reading;
use super::sitting::the_act;
use super::sitting_view::{View, hidden};
use crate::sitting::{Circumstances, LogBody, LogFrom};
use axum::http::{HeaderMap, StatusCode};
use axum::response::Response;
use maud::{Markup, PreEscaped, html};
use stillwheel_door::Fault;
use stillwheel_door::log_table::{AngleUnit, Columns, LogTable, TimeUnit};
use stillwheel_drawing::{CurvePlot, PlotAxis, Series, curves};
use stillwheel_physics::quantity::Dimension;
use stillwheel_store::Id;

const PAGE: LogPage = LogPage { title: "Columns of the log", body };

/// Rows shown as they are written.
const HEAD_ROWS: usize = 5;
/// Points that a curve 316 units wide can show.
const MOST_DRAWN: usize = 1500;

const TIME_UNITS: [(&str, TimeUnit, &str); 3] =
    [("s", TimeUnit::Seconds, "seconds"), ("ms", TimeUnit::Milliseconds, "milliseconds"), ("min", TimeUnit::Minutes, "minutes")];
const ANGLE_UNITS: [(&str, &str); 4] = [("deg", "degrees"), ("rad", "radians"), ("turns", "turns"), ("counts", "counts of an encoder")];
const SENSES: [(&str, &str); 2] = [("counter-clockwise", "counter-clockwise"), ("clockwise", "clockwise")];

/// The names of the columns, one a line: what the page shows after the file was read.
const NAMES: &str = "names";

/// The step that the button of the form asks for: `preview` or `store`.
pub(super) async fn take(app: App, id: Id, headers: HeaderMap, mut typed: Typed, csv: Vec<u8>) -> Result<Response, WebError> {
    let show = Show::of(&headers);
    let key = id.clone();
    let ring = app.bench(move |b| Ok::<_, WebError>(b.store().sitting(&key)?.start.ring.body)).await?;
    let table = match LogTable::read(&csv) {
        Ok(table) => table,
        Err(fault) => {
            typed.put("pasted", String::from_utf8_lossy(&csv[..csv.len().min(PASTED_BACK)]));
            typed.blame(fault);
            return PAGE.render(&app, id, &headers, typed, StatusCode::UNPROCESSABLE_ENTITY).await;
        }
    };
    typed.put(NAMES, table.names().join("\n"));
    typed.put("pasted", table.text());
    propose(&mut typed, &table);
    let columns = columns(&mut typed);
    let log = columns.and_then(|c| table.log(&c).map_err(|f| typed.blame(f)).ok());
    let preview = preview(&table, log.as_ref());
    if typed.text("do") != "store" {
        let status = if log.is_some() { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
        return PAGE.show(&app, id, &headers, typed, status, Some(preview)).await;
    }
    let (trial, turned_deg) = look_reading::circumstances(&mut typed, show, &ring, false);
    let act = the_act(&mut typed, &headers);
    let (Some((t_s, angle_deg)), Some(act), true) = (log, act, typed.is_good()) else {
        return PAGE.show(&app, id, &headers, typed, StatusCode::UNPROCESSABLE_ENTITY, Some(preview)).await;
    };
    let log =
        LogBody { from: LogFrom::File, t_s, angle_deg, sd_deg: Vec::new(), time_sd_s: None, shared_errors: None, remarks: Vec::new() };
    let entry = Entry { act, log, around: Circumstances { trial, turned_deg } };
    PAGE.store(app, id, headers, typed, entry).await
}

/// Bytes of an unreadable file that are shown for correction.
const PASTED_BACK: usize = 100_000;

/// What the headings say, where the form says nothing yet.
fn propose(typed: &mut Typed, table: &LogTable) {
    let p = table.proposed();
    typed.put_default("time_column", format!("{}", p.time + 1));
    typed.put_default("angle_column", format!("{}", p.angle + 1));
    typed.put_default("time_unit", TIME_UNITS.iter().find(|u| u.1 == p.time_unit).map_or("s", |u| u.0));
    typed.put_default(
        "angle_unit",
        match p.angle_unit {
            AngleUnit::Degrees => "deg",
            AngleUnit::Radians => "rad",
            AngleUnit::Turns => "turns",
            AngleUnit::Counts { .. } => "counts",
        },
    );
    typed.put_default("grows", SENSES[0].0);
    typed.put_default("at_bottom", "0");
}

/// What the form says; its faults stay in it.
fn columns(typed: &mut Typed) -> Option<Columns> {
    let time = place(typed, "time_column");
    let angle = place(typed, "angle_column");
    let time_unit = TIME_UNITS.iter().find(|u| u.0 == typed.text("time_unit")).map(|u| u.1);
    if time_unit.is_none() {
        typed.blame(Fault::new("time_unit", typed.text("time_unit"), "s, ms, min", "Choose the unit of the times."));
    }
    let angle_unit = match typed.text("angle_unit") {
        "deg" => AngleUnit::Degrees,
        "rad" => AngleUnit::Radians,
        "turns" => AngleUnit::Turns,
        "counts" => AngleUnit::Counts { per_turn: typed.number("counts_per_turn", Dimension::Plain, Show::default()) },
        other => {
            typed.blame(Fault::new("angle_unit", other, "deg, rad, turns, counts", "Choose the unit of the angles."));
            return None;
        }
    };
    let Some(sense) = SENSES.iter().position(|s| s.0 == typed.text("grows")) else {
        typed.blame(Fault::new("grows", typed.text("grows"), "counter-clockwise, clockwise", "Say which way the angle grows."));
        return None;
    };
    let clockwise = sense == 1;
    let at_bottom = typed.number("at_bottom", Dimension::Plain, Show::default());
    let (time, angle, time_unit) = (time?, angle?, time_unit?);
    typed.is_good().then_some(Columns { time, angle, time_unit, angle_unit, clockwise, at_bottom })
}

/// A column's place from 0; the form counts from 1.
fn place(typed: &mut Typed, name: &str) -> Option<usize> {
    let place = typed.text(name).parse::<usize>().ok().and_then(|k| k.checked_sub(1));
    if place.is_none() {
        typed.blame(Fault::new(name, typed.text(name), "1 or more", "Choose a column."));
    }
    place
}

/// The first rows as they are written, and the curve as it would be fitted.
fn preview(table: &LogTable, log: Option<&(Vec<f64>, Vec<f64>)>) -> Markup {
    html! {
        section.card {
            h2 { "What the file holds" }
            div.table tabindex="0" role="region" aria-label="First rows of the file" {
                table {
                    thead { tr { @for name in table.names() { th scope="col" { (name) } } } }
                    tbody { @for row in table.head(HEAD_ROWS) { tr { @for cell in row { td { (cell.chars().take(40).collect::<String>()) } } } } }
                }
            }
            @if let Some((t, angle)) = log {
                h2 { "Angle against time, as it would be stored" }
                (curve(t, angle))
                p { (t.len()) " rows, " (super::super::show::significant(t[t.len() - 1] - t[0], 3)) " s. A swing looks like a wave that dies away, over seconds to a minute. If it doesn’t, another column or unit may be meant." }
            }
        }
    }
}

fn curve(t: &[f64], angle: &[f64]) -> Markup {
    let every = t.len().div_ceil(MOST_DRAWN);
    let points = t.iter().zip(angle).step_by(every).map(|(time, a)| [time - t[0], *a]).collect();
    let plot = CurvePlot {
        title: "Angle of the zero mark against time".into(),
        id_prefix: "columns-".into(),
        x: PlotAxis { name: "time since the first row".into(), unit: "s".into() },
        y: PlotAxis { name: "angle of the zero mark, counter-clockwise".into(), unit: "°".into() },
        series: vec![Series { name: "as read".into(), points }],
        ..CurvePlot::default()
    };
    match curves(&plot) {
        Ok(svg) => html! { div.plot { (PreEscaped(svg)) } },
        Err(fault) => html! { p.fault { "The picture can’t be drawn: " (fault) } },
    }
}

/// Fields that show their own faults.
const SHOWN: [&str; 11] = [
    "time_column",
    "angle_column",
    "time_unit",
    "angle_unit",
    "counts_per_turn",
    "grows",
    "at_bottom",
    "mass_g",
    "radius_mm",
    "at_deg",
    "turned_on_arbor_deg",
];

fn body(view: &View, told: Option<&Markup>) -> Markup {
    let typed = &view.note.typed;
    let names: Vec<(String, String)> = typed
        .text(NAMES)
        .lines()
        .enumerate()
        .map(|(k, n)| ((k + 1).to_string(), if n.starts_with("column ") { n.to_owned() } else { format!("{}: {n}", k + 1) }))
        .collect();
    let listed = |rows: &[(&str, &str)]| -> Vec<(String, String)> { rows.iter().map(|r| (r.0.to_owned(), r.1.to_owned())).collect() };
    let times: Vec<(&str, &str)> = TIME_UNITS.iter().map(|u| (u.0, u.2)).collect();
    let number = |name, label, unit, hint, required| {
        field(typed, Field { name, within: "columns-", label, unit, hint, keys: "decimal", required, lax: true })
    };
    html! {
        h1 { "Columns of the log" }
        p.lead { (view.sat.sitting.start.rotor.body.name) ". Say which columns hold time and angle, look at the curve, then store it." }
        (fault_summary(typed.faults().iter().filter(|f| !SHOWN.contains(&f.field.as_str()))))
        @if let Some(told) = told { (told) }
        form.card method="post" action={ (view.path()) "/log" } enctype="multipart/form-data" {
            (hidden(view))
            @if names.is_empty() {
                div.field { label for="columns-file" { "Another file" } input #columns-file type="file" name="file" accept=".csv,.txt,.tsv,text/csv,text/plain"; }
                div.field { label for="columns-pasted" { "or its rows" } textarea #columns-pasted name="pasted" spellcheck="false" { "\n" (typed.untrimmed("pasted")) } }
            } @else {
                textarea name="pasted" hidden readonly aria-label="Text of the file" { "\n" (typed.untrimmed("pasted")) }
                div.pair {
                    (select(typed, "time_column", "columns-", "Time is in", "", &names))
                    (select(typed, "time_unit", "columns-", "counted in", "", &listed(&times)))
                }
                div.pair {
                    (select(typed, "angle_column", "columns-", "Angle is in", "", &names))
                    (select(typed, "angle_unit", "columns-", "counted in", "", &listed(&ANGLE_UNITS)))
                }
                (number("counts_per_turn", "Counts per turn", "", "Only for an encoder’s counts: all edges of one turn of the rotor, as the column counts them.", false))
                (select(typed, "grows", "columns-", "The angle grows as the rotor turns", "As you face the wheel.", &listed(&SENSES)))
                (number("at_bottom", "What it shows with the zero mark straight down", "", "In the unit of the column. Turn the zero mark to the bottom and read it; without it the heavy side is told from a wrong place.", true))
                details { summary { "More" } div.inside { (trial_fields(typed, view, "columns-", false)) (arbor_field(typed, view.show, "columns-")) } }
            }
            div.actions {
                button.plain type="submit" name="do" value="preview" { "Look at the curve" }
                @if !names.is_empty() { button.main.big type="submit" name="do" value="store" { "Store: swing log" } }
            }
        }
        p { a.button.plain href=(view.path()) { "Back without storing" } }
    }
}
