//! The certificate: one sheet that says what was balanced, to what, and how it was proven.

use super::super::error::WebError;
use super::super::layout::{self, Place};
use super::super::show::{Show, significant};
use super::super::state::App;
use super::super::wheel::picture;
use super::certificate_sheet::stand_rows;
use super::history::words;
use super::time::moment;
use super::{scene, verdict};
use crate::sitting::{Sat, VerdictBody};
use axum::extract::{Path, State};
use axum::http::HeaderMap;
use maud::{Markup, html};
use stillwheel_door::look::WeightAt;
use stillwheel_store::{EventKind, GrooveWeight, Hole, Id, RingKind, WeightRing};

/// `GET /sittings/{id}/certificate`.
pub(crate) async fn page(State(app): State<App>, Path(id): Path<String>, headers: HeaderMap) -> Result<Markup, WebError> {
    let id = Id::parse(&id)?;
    let show = Show::of(&headers);
    let sat = app.bench(move |b| b.sat(&id)).await?;
    let body = if let Some(v) = &sat.verdict {
        sheet(&sat, v, show)
    } else {
        html! {
            section.card.narrow {
                h1 { "No verdict yet" }
                p { "The certificate is made once the residual is proven." }
                p { a href={ "/sittings/" (sat.sitting.id) } { "Back to the sitting" } }
            }
        }
    };
    Ok(layout::page("Certificate", Place::Bench, show, app.is_demo(), body))
}

fn sheet(sat: &Sat, v: &VerdictBody, show: Show) -> Markup {
    let start = &sat.sitting.start;
    let (rotor, machine, stand, ring) = (&start.rotor.body, &start.machine.body, &start.stand.body, &start.ring.body);
    let given = sat.standing.verdict.as_ref();
    let mut picture_scene = scene::as_it_is("end", &v.weights, ring, show);
    if let Some(e) = &v.step.estimate {
        scene::with_region(&mut picture_scene, e, v.step.allowance_g_mm);
    }
    html! {
        article.sheet {
            div.top {
                div { h1 { "Balance certificate" } (rotor.name) }
                div { @if let Some(e) = given { (moment(e.at)) br; } small { "No. " (sat.sitting.id) } }
            }
            p.result {
                @if v.proven { "✓ Residual unbalance within the allowance, " (verdict::percent(v.step.p_within_allowance)) " sure" }
                @else { "Not proven to be within the allowance" }
            }
            @if stand.virtual_seed.is_some() { p { b { "Practice on the virtual stand: no real wheel was balanced." } } }
            div.halves {
                div {
                    h2 { "Result" }
                    (verdict::facts(show, &v.step, &start.allowance.reason))
                    h2 { "Rotor" }
                    dl.facts {
                        dt { "Wheel" } dd { (show.length(rotor.wheel.diameter_mm)) " × " (show.length(rotor.wheel.width_mm)) " × " (show.length(rotor.wheel.bore_mm)) }
                        @if !rotor.wheel.maker_marking.is_empty() { dt { "Marking" } dd { (rotor.wheel.maker_marking) } }
                        dt { "Mass" } dd { (show.mass(rotor.mass_kg * 1000.0)) }
                        dt { "Inertia" } dd { (significant(rotor.inertia_kg_m2, 4)) " kg·m² ± " (significant(196.0 * rotor.inertia_rel_sd, 2)) " % (95 %)" }
                        dt { "Machine" } dd { (machine.name) ", " (significant(machine.speed_rpm, 5)) " r/min" }
                        @for (what, said) in stand_rows(stand, show) { dt { (what) } dd { (said) } }
                    }
                }
                div {
                    h2 { "Weights" }
                    (picture(&picture_scene, show))
                    (weights(v, ring, show))
                }
            }
            h2 { "Looks and moves" }
            ol { @for e in sat.standing.live.iter().filter(|e| matches!(e.kind, EventKind::Look | EventKind::Move)) { li { (words(show, ring, e)) } } }
            @if sat.looks.is_empty() { p { "None." } }
            @if !v.note.is_empty() { p { "Remark: " (v.note) } }
            p.soft {
                "Angles: " (show.angles_in_words()) ", operator’s side. The residual is given as ± at 95 %. Accepted when the probability that the residual is within the allowance is at least 95 %, "
                "all uncertainties included (guard band in the sense of ISO 21940-14). Balanced does not mean fit to run: marked speed, ring test, clamped weights and guard are to be checked at the machine."
            }
            div.sign { span { "Balanced by" @if !start.operator.is_empty() { ": " (start.operator) } } span { "Date, signature" } }
        }
        div.actions.no-print.narrow {
            a.button.main href={ "/sittings/" (sat.sitting.id) "/certificate/a4.pdf" } { "PDF, A4" }
            a.button href={ "/sittings/" (sat.sitting.id) "/certificate/letter.pdf" } { "PDF, Letter" }
            button.needs-script type="button" data-print hidden { "Print" }
            a.button href={ "/sittings/" (sat.sitting.id) } { "Back to the sitting" }
        }
    }
}

/// Place, mass, radius, angle of each weight or screw at the end.
pub(super) fn weight_rows(v: &VerdictBody, ring: &WeightRing, show: Show) -> Vec<[String; 4]> {
    match &ring.kind {
        RingKind::Groove(g) => {
            let row = |(i, (w, m)): (usize, (&WeightAt, &GrooveWeight))| {
                [format!("weight {}", i + 1), show.mass(m.mass_g), show.length(ring.radius_mm), show.angle(w.at_deg)]
            };
            v.weights.iter().zip(&g.weights).enumerate().map(row).collect()
        }
        RingKind::TappedHoles(t) => {
            let row = |(i, (w, h)): (usize, (&WeightAt, &Hole))| {
                let screw = show.mass(w.moment_g_mm / h.radius_mm);
                [format!("hole {}", i + 1), screw, show.length(h.radius_mm), show.angle(w.at_deg)]
            };
            v.weights.iter().zip(&t.holes).enumerate().filter(|(_, (w, _))| w.moment_g_mm > 0.0).map(row).collect()
        }
    }
}

fn weights(v: &VerdictBody, ring: &WeightRing, show: Show) -> Markup {
    let rows = weight_rows(v, ring, show);
    html! {
        table {
            thead { tr { th { "Where" } th.num { "mass" } th.num { "radius" } th.num { "at" } } }
            tbody { @for [place, mass, radius, at] in &rows { tr { td { (place) } td.num { (mass) } td.num { (radius) } td.num { (at) } } } }
        }
        @if rows.is_empty() { p { "No screw in any hole." } }
    }
}
