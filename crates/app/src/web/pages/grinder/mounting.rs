//! The points before a wheel runs, answered at the machine and kept with the sitting.

use super::super::super::error::WebError;
use super::super::super::form::{Field, Typed, fault_summary, field, select};
use super::super::super::layout::{self, Place};
use super::super::super::person::token;
use super::super::super::show::{Show, significant};
use super::super::super::state::App;
use super::super::sitting::the_act;
use super::super::time::moment;
use crate::sitting::{AtTheGrinder, Bench, Sat, SittingFault};
use axum::Form;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use maud::{Markup, html};
use std::collections::HashMap;
use stillwheel_door::Fault;
use stillwheel_door::machine_sheet::read_machine_sheet;
use stillwheel_door::mounting::{Answer, Answers, Bond, MountingIn, MountingOut, Point, State as PointState, mounting};
use stillwheel_physics::quantity::Dimension;
use stillwheel_store::Id;

const BONDS: [(&str, Bond, &str); 4] = [
    ("vitrified", Bond::Vitrified, "Vitrified (V)"),
    ("resin", Bond::Resin, "Resin (B, BF)"),
    ("rubber-or-shellac", Bond::RubberOrShellac, "Rubber (R, RF) or shellac (E)"),
    ("metal", Bond::Metal, "Metal, or a metal body with a thin rim"),
];

struct View {
    sat: Sat,
    now: AtTheGrinder,
}

fn view(b: &Bench, id: &Id) -> Result<View, WebError> {
    let sat = b.sat(id)?;
    let now = b.at_the_grinder(&sat)?;
    Ok(View { sat, now })
}

/// `GET /sittings/{id}/mounting`.
pub(crate) async fn page(State(app): State<App>, Path(id): Path<String>, headers: HeaderMap) -> Result<Response, WebError> {
    let (id, show) = (Id::parse(&id)?, Show::of(&headers));
    let body = app
        .bench(move |b| {
            let view = view(b, &id)?;
            let mut typed = Typed::default();
            // The bond as the marking ends: "A 46 J 8 V".
            let letter = view.now.rotor.wheel.maker_marking.trim().rsplit([' ', '-']).next().unwrap_or("").to_uppercase();
            let bond = match letter.trim_start_matches(|c: char| c.is_ascii_digit()).chars().next() {
                Some('B') => "resin",
                Some('R' | 'E') => "rubber-or-shellac",
                Some('M') => "metal",
                _ => "vitrified",
            };
            typed.put("bond", bond);
            Ok::<_, WebError>(body(&view, &typed, show))
        })
        .await?;
    Ok(layout::page("Before it runs", Place::Grinder, show, app.is_demo(), body).into_response())
}

/// `POST /sittings/{id}/mounting`: keep the answers.
pub(crate) async fn answered(
    State(app): State<App>,
    Path(id): Path<String>,
    headers: HeaderMap,
    Form(text): Form<HashMap<String, String>>,
) -> Result<Response, WebError> {
    let (id, show) = (Id::parse(&id)?, Show::of(&headers));
    let path = format!("/sittings/{id}/mounting");
    let mut typed = Typed::new(text);
    let act = the_act(&mut typed, &headers);
    let again = app
        .bench(move |b| {
            let before = view(b, &id)?;
            let input = read(&before, &mut typed, show);
            if let (Some(input), Some(act), true) = (input, act, typed.is_good()) {
                match b.mounting_answered(&id, &act, input) {
                    Ok(_) => return Ok(None),
                    Err(SittingFault::Fault(f)) => typed.blame(f),
                    Err(SittingFault::Store(f)) => typed.blame_store(&f),
                }
            }
            Ok::<_, WebError>(Some(body(&view(b, &id)?, &typed, show)))
        })
        .await?;
    Ok(match again {
        None => Redirect::to(&path).into_response(),
        Some(body) => {
            (StatusCode::UNPROCESSABLE_ENTITY, layout::page("Before it runs", Place::Grinder, show, app.is_demo(), body)).into_response()
        }
    })
}

fn read(view: &View, typed: &mut Typed, show: Show) -> Option<MountingIn> {
    let Some(bond) = BONDS.iter().find(|b| b.0 == typed.text("bond")).map(|b| b.1) else {
        typed.blame(Fault::new("bond", typed.text("bond"), "one of the list", "Choose what holds the wheel’s grain."));
        return None;
    };
    let flange_mm = typed.optional("flange_mm", Dimension::Length, show);
    let answer = |name: &str| match typed.text(name) {
        "yes" => Some(Answer::Yes),
        "no" => Some(Answer::No),
        "not-needed" => Some(Answer::NotNeeded),
        _ => None,
    };
    let answers = Answers {
        sound: answer("sound"),
        ring: answer("ring"),
        fit: answer("fit"),
        flanges: answer("flanges"),
        blotters: answer("blotters"),
        weights: answer("weights"),
        guard: answer("guard"),
        run_up: answer("run_up"),
    };
    typed.is_good().then(|| input(view, bond, flange_mm, answers))
}

fn input(view: &View, bond: Bond, flange_mm: Option<f64>, answers: Answers) -> MountingIn {
    let (rotor, machine) = (&view.now.rotor, &view.now.machine);
    MountingIn {
        wheel_diameter_mm: rotor.wheel.diameter_mm,
        marked_max_m_s: rotor.wheel.max_speed_m_s,
        marked_max_rpm: rotor.wheel.max_speed_rpm,
        speed_rpm: machine.speed_rpm,
        bond,
        flange_mm,
        largest_wheel_mm: read_machine_sheet(&machine.sheet_toml).ok().map(|s| s.spindle.largest_wheel_mm),
        answers,
    }
}

fn body(view: &View, typed: &Typed, show: Show) -> Markup {
    let (rotor, machine) = (&view.now.rotor, &view.now.machine);
    let bond = BONDS.iter().find(|b| b.0 == typed.text("bond")).map_or(Bond::Vitrified, |b| b.1);
    let points = mounting(&input(view, bond, None, Answers::default()));
    let path = format!("/sittings/{}", view.sat.sitting.id);
    html! {
        h1 { "Before it runs" }
        p.lead { (rotor.name) " on " (machine.name) }
        (fault_summary(typed.faults().iter()))
        @if let Some(last) = &view.sat.mounting { (kept_card(&last.body.out, &moment(last.at), &last.who)) }
        p.caution { strong { "A balanced wheel is not thereby fit to run." } " What its maker says, and the law of your place, go before this list." }
        @match points {
            Err(f) => p.fault { (f) },
            Ok(out) => form method="post" action={ (path) "/mounting" } novalidate {
                input type="hidden" name="token" value=(token());
                input type="hidden" name="after_seq" value=(view.sat.standing.latest_seq);
                section.card.narrow {
                    dl.facts {
                        dt { "Wheel" } dd { (show.length(rotor.wheel.diameter_mm)) " now" @if !rotor.wheel.maker_marking.is_empty() { br; small { (rotor.wheel.maker_marking) } } }
                        dt { "Marked" } dd { (marked(view)) }
                        dt { "Machine" } dd { (significant(machine.speed_rpm, 5)) " r/min" br; small { "rim at " (significant(out.rim_speed_m_s, 3)) " m/s" } }
                    }
                    (select(typed, "bond", "", "Bond", "The last letter of the marking.", &BONDS.iter().map(|b| (b.0.to_owned(), b.2.to_owned())).collect::<Vec<_>>()))
                    (field(typed, Field { name: "flange_mm", label: "Flanges, where they bear", unit: show.unit(Dimension::Length), hint: "A third of the wheel at least.", keys: "decimal", ..Field::default() }))
                }
                @for p in &out.points { (point(p, typed)) }
                div.actions.narrow { button.main.big.wide type="submit" { "Keep these answers" } a.button href=(path) { "Back to the sitting" } }
                p.soft.narrow { "Only when every point is passed does the sitting say “mounted”. Answers are kept with their date, whatever they are." }
            },
        }
    }
}

fn marked(view: &View) -> String {
    let w = &view.now.rotor.wheel;
    let parts: Vec<String> =
        [w.max_speed_m_s.map(|v| format!("{} m/s", significant(v, 3))), w.max_speed_rpm.map(|v| format!("{} r/min", significant(v, 5)))]
            .into_iter()
            .flatten()
            .collect();
    if parts.is_empty() { "no speed in the record".into() } else { parts.join(", ") }
}

fn kept_card(out: &MountingOut, when: &str, who: &str) -> Markup {
    html! {
        section.card.narrow.now .done[out.may_be_mounted] .stuck[!out.may_be_mounted] role="status" {
            p.say { @if out.may_be_mounted { "✓ Mounted." } @else { "✗ Not mounted." } " " (out.says) }
            p.soft { (when) @if !who.is_empty() { ", " (who) } }
            @for p in out.points.iter().filter(|p| p.state != PointState::Passed) {
                p { b { (p.title) } ": " @match &p.why { Some(why) => (why), None => "not answered." } }
            }
        }
    }
}

fn point(p: &Point, typed: &Typed) -> Markup {
    let computed = p.name == "speed";
    let choice = |value: &str, word: &str| {
        html! {
            label.choice { input type="radio" name=(p.name) value=(value) checked[typed.text(&p.name) == value]; span { (word) } }
        }
    };
    html! {
        section.card.narrow.point {
            fieldset {
                legend { h2 { (p.title) } }
                p { (p.ask) }
                @if computed {
                    p { @match p.state {
                        PointState::Passed => span.tag.good { "✓ Compared: passed" },
                        PointState::Failed => span.tag.bad { "✗ Too fast" },
                        PointState::Open => span.tag.warn { "! Not marked" },
                    } }
                    @if let Some(why) = &p.why { p.fault { (why) } }
                } @else {
                    div.choices { (choice("yes", "Yes")) (choice("no", "No")) @if p.may_be_not_needed { (choice("not-needed", "The maker says: not needed")) } }
                }
                p.soft { small { (p.rule) } }
            }
        }
    }
}
