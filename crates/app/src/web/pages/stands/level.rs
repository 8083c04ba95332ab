//! Level a stand: readings in, which foot to turn which way and how far out. Made for the phone beside the stand.

use super::super::super::error::WebError;
use super::super::super::form::{Field, Typed, fault_summary, field};
use super::super::super::layout::{self, Place};
use super::super::super::show::{Show, significant};
use super::super::super::state::App;
use super::compute::{answer, chosen, sheet_text, shelf};
use super::read_form;
use axum::Form;
use axum::extract::{Path, State};
use axum::http::HeaderMap;
use axum::response::Response;
use maud::{Markup, PreEscaped, html};
use std::collections::HashMap;
use stillwheel_door::level::{BubbleIn, FootIn, ForIn, HeaviestIn, HeightIn, LevelIn, LevelOut, ReadIn, Way, level};
use stillwheel_door::stand::StandOut;
use stillwheel_door::stand_sheet::{StandSheet, read_sheet};
use stillwheel_drawing::{FeetPlan, FootMark, feet};
use stillwheel_physics::quantity::Dimension;
use stillwheel_store::Id;

type Text = HashMap<String, String>;

const FIELDS: [&str; 9] =
    ["sensitivity_mm_per_m", "right", "right_reversed", "away", "away_reversed", "height_1", "height_2", "height_3", "keep"];

struct View {
    name: String,
    path: String,
    sheet: StandSheet,
    whole: Option<StandOut>,
    mass_kg: f64,
    typed: Typed,
    out: Option<LevelOut>,
}

fn view(b: &crate::sitting::Bench, id: &Id, text: Option<Text>) -> Result<View, WebError> {
    let shelf = shelf(b, id)?;
    let toml = sheet_text(&shelf.stand.body);
    let sheet = read_sheet(&toml)?;
    let on = chosen(b, &shelf, &Text::new())?;
    // A stand that can't float its wheel must still be levelled: the answer only adds how good is good enough.
    let whole = on.as_ref().and_then(|on| answer(&toml, on).ok()).map(|a| a.1);
    let mass_kg = on.map_or(1.0, |on| on.rotor.body.mass_kg);
    let read = text.is_some();
    let mut v = View {
        name: shelf.stand.body.name.clone(),
        path: format!("/stands/{id}"),
        sheet,
        whole,
        mass_kg,
        typed: Typed::new(text.unwrap_or_default()),
        out: None,
    };
    v.typed.put_default("sensitivity_mm_per_m", "0.02");
    v.typed.put_default("how", "bubbles");
    if read {
        compute(&mut v);
    }
    Ok(v)
}

fn compute(v: &mut View) {
    let Some(readings) = readings(v) else { return };
    let input = LevelIn {
        readings,
        feet: v.sheet.plate.feet_mm.map(|[x_mm, y_mm]| FootIn { x_mm, y_mm, pitch_mm: v.sheet.plate.foot_pitch_mm }),
        clockwise_raises: true,
        keep: stillwheel_door::level::KeepName::default(),
        level_for: v.whole.as_ref().map(|w| ForIn {
            support: w.support,
            mass_kg: v.mass_kg,
            arbor_radius_mm: v.sheet.arbor.diameter_mm / 2.0,
            target_floor_g_mm: w.floor.floor_g_mm,
            share: 0.25,
            end_play_mm: 2.0,
        }),
        heaviest: v.whole.as_ref().map(|w| HeaviestIn {
            mass_kg: w.feet.mass_kg,
            x_mm: w.feet.mass_centre_mm[0],
            y_mm: w.feet.mass_centre_mm[1],
            height_mm: w.feet.mass_centre_height_mm,
            push_n: 20.0,
        }),
        plate: None,
    };
    match level(&input) {
        Ok(out) => v.out = Some(out),
        Err(f) => v.typed.blame(f),
    }
}

fn readings(v: &mut View) -> Option<ReadIn> {
    let show = Show::default();
    let feet = v.sheet.plate.feet_mm;
    let t = &mut v.typed;
    let read = if t.text("how") == "heights" {
        let heights = ["height_1", "height_2", "height_3"].map(|n| t.number(n, Dimension::Length, show));
        let place = |k: usize| HeightIn { x_mm: feet[k][0], y_mm: feet[k][1], height_mm: heights[k] };
        ReadIn::Heights { reading_sd_mm: 0.005, places: (0..3).map(place).collect() }
    } else {
        let sensitivity = t.number("sensitivity_mm_per_m", Dimension::Plain, show);
        let mut bubble = |along_deg: f64, name: &str, reversed: &str| BubbleIn {
            along_deg,
            divisions: t.number(name, Dimension::Plain, show),
            reversed_divisions: t.optional(reversed, Dimension::Plain, show),
        };
        let places = vec![bubble(0.0, "right", "right_reversed"), bubble(90.0, "away", "away_reversed")];
        ReadIn::Bubbles { sensitivity_mm_per_m: Some(sensitivity), sensitivity_arcsec: None, reading_sd_divisions: 0.25, places }
    };
    v.typed.is_good().then_some(read)
}

/// `GET /stands/{id}/level`.
pub(crate) async fn page(State(app): State<App>, Path(id): Path<String>, headers: HeaderMap) -> Result<Markup, WebError> {
    let (id, show) = (Id::parse(&id)?, Show::of(&headers));
    let body = app.bench(move |b| Ok::<_, WebError>(body(&view(b, &id, None)?))).await?;
    Ok(layout::page("Level", Place::Stands, show, app.is_demo(), body))
}

/// `POST /stands/{id}/level`.
pub(crate) async fn read(
    State(app): State<App>,
    Path(id): Path<String>,
    headers: HeaderMap,
    Form(text): Form<Text>,
) -> Result<Response, WebError> {
    let (id, show) = (Id::parse(&id)?, Show::of(&headers));
    read_form(&app, show, "Level", move |b| view(b, &id, Some(text)).map(|v| (v.typed.is_good(), body(&v)))).await
}

fn body(v: &View) -> Markup {
    html! {
        h1 { "Level " (v.name) }
        p.lead { "Read the level, turn the feet as said, read again." }
        (fault_summary(v.typed.other_faults(&FIELDS)))
        div.cols {
            div {
                @if let Some(out) = &v.out { (turns(v, out)) }
                (form(v))
            }
            div {
                @if let Some(out) = &v.out { (judged(out)) }
                @if v.out.is_none() { section.card { h2 { "The feet" } (plan(v, None)) } }
                section.card { div.links { a href=(v.path) { "Back to the stand" } } }
            }
        }
    }
}

fn turns(v: &View, out: &LevelOut) -> Markup {
    html! {
        section.card.now {
            h2 { "Turn the feet" }
            p { (out.says) }
            (plan(v, Some(out)))
        }
    }
}

fn plan(v: &View, out: Option<&LevelOut>) -> Markup {
    let mark = |k: usize| {
        let at_mm = v.sheet.plate.feet_mm[k];
        let Some(screw) = out.map(|o| &o.screws[k]) else { return FootMark { at_mm, rise_mm: None, clockwise_turns: None } };
        let sign = match screw.way {
            Way::Clockwise => 1.0,
            Way::CounterClockwise => -1.0,
            Way::Leave => 0.0,
        };
        FootMark { at_mm, rise_mm: Some(screw.rise_mm), clockwise_turns: Some(sign * screw.turns) }
    };
    let drawn = feet(&FeetPlan {
        title: "The plate from above".to_owned(),
        id_prefix: "feet-".to_owned(),
        plate_mm: [v.sheet.plate.length_mm, v.sheet.plate.width_mm],
        feet: [mark(0), mark(1), mark(2)],
        mass_centre_mm: v.whole.as_ref().map(|w| w.feet.mass_centre_mm),
    });
    match drawn {
        Ok(svg) => html! { div.plot { (PreEscaped(svg)) } },
        Err(f) => html! { p.fault { "The picture can’t be drawn: " (f) } },
    }
}

fn judged(out: &LevelOut) -> Markup {
    let slope = |s: f64, sd: f64| format!("{} ± {} mm/m", significant(s, 3), significant(1.96 * sd, 2));
    html! {
        section.card {
            h2 { "How level it is" }
            dl.facts {
                dt { "To the right" } dd { (slope(out.slope_x_mm_per_m, out.slope_x_sd_mm_per_m)) }
                dt { "Away from you" } dd { (slope(out.slope_y_mm_per_m, out.slope_y_sd_mm_per_m)) }
                @if let Some(e) = out.vial_error_divisions { dt { "The level’s own error" } dd { (significant(e, 2)) " divisions" } }
                @if let Some(g) = &out.good_enough {
                    dt { "Good enough across the arbor" } dd { @match g.cross_mm_per_m { Some(s) => { (significant(s, 2)) " mm/m" } None => { "any" } } }
                    dt { "Good enough along it" } dd { @match g.axial_mm_per_m { Some(s) => { (significant(s, 2)) " mm/m" } None => { "any" } } }
                    dt { "As it stands now" } dd { @if g.is_good_enough { span.tag.good { "✓ level enough" } } @else { span.tag.warn { "– not level enough" } } @if !g.readings_can_tell { " " small { "(these readings can’t tell for sure)" } } }
                }
                @if let Some(s) = &out.standing { dt { "Mass centre inside the feet by" } dd { (significant(s.margin_mm, 3)) " mm" } }
            }
            @for c in &out.cautions { p.caution { strong { "Caution." } " " (c) } }
        }
    }
}

fn form(v: &View) -> Markup {
    let t = &v.typed;
    let bubbles = t.text("how") != "heights";
    let reading = |name: &'static str, label: &'static str, required: bool| {
        field(t, Field { name, label, unit: "div.", keys: "text", required, ..Field::default() }.not_enforced_if(required))
    };
    html! {
        form.card method="post" action={ (v.path) "/level" } novalidate {
            h2 { "What you read" }
            fieldset {
                legend { label.pick { input type="radio" name="how" value="bubbles" checked[bubbles]; "A spirit level" } }
                (field(t, Field { name: "sensitivity_mm_per_m", label: "One division is", unit: "mm/m", keys: "decimal", ..Field::default() }.not_enforced()))
                p.hint { "Count divisions from the middle; a bubble to the right, or away from you, is positive: it runs to the high end." }
                div.pair { (reading("right", "Lying left to right", true)) (reading("right_reversed", "Turned end for end", false)) }
                div.pair { (reading("away", "Lying away from you", true)) (reading("away_reversed", "Turned end for end", false)) }
                p.hint { "Turned end for end on the spot, the level’s own error falls out." }
            }
            fieldset {
                legend { label.pick { input type="radio" name="how" value="heights" checked[!bubbles]; "Heights over the feet" } }
                div.pair {
                    (height(t, "height_1", "Over foot 1"))
                    (height(t, "height_2", "Over foot 2"))
                    (height(t, "height_3", "Over foot 3"))
                }
            }
            div.actions { button.main type="submit" { "Which foot?" } }
        }
    }
}

fn height(t: &Typed, name: &'static str, label: &'static str) -> Markup {
    field(t, Field { name, label, unit: "mm", keys: "decimal", ..Field::default() }.not_enforced())
}

impl<'a> Field<'a> {
    /// A field that is needed if its reading is taken at all; the other way of reading leaves it empty.
    fn not_enforced_if(self, needed: bool) -> Field<'a> {
        if needed { self.not_enforced() } else { self }
    }
}
