//! The weight ring at true scale on paper, from a ring's page and from a sitting's.
//!
//! In: a ring, with a sitting the places of its weights too. Out: PDF or SVG by the drawing crate.

use super::super::error::WebError;
use super::super::show::{Angles, Show};
use super::super::state::App;
use crate::sitting::Sat;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, header};
use axum::response::{IntoResponse, Response};
use maud::{Markup, html};
use stillwheel_drawing::{Page, RingTemplate, Scale, TemplateWeight, ring_template, to_pdf};
use stillwheel_physics::quantity::{Angle, RotorAngle};
use stillwheel_store::{Id, RingKind, WeightRing};

/// Papers and kinds that are offered: name in the address, words.
const OFFERED: [(&str, &str); 4] =
    [("a4.pdf", "PDF, A4"), ("letter.pdf", "PDF, Letter"), ("a4.svg", "SVG, A4"), ("letter.svg", "SVG, Letter")];

/// Links to the template; `base` is the address of the ring or the sitting.
pub(super) fn card(base: &str, says: &str) -> Markup {
    html! {
        section.card {
            h2 { "1:1 template" }
            p.soft { (says) " Print at 100 %, then measure the 50 mm bar." }
            div.links { @for (file, words) in OFFERED { a href={ (base) "/template/" (file) } download { (words) } } }
        }
    }
}

/// `GET /records/rings/{id}/template/{file}`: the bare ring.
pub(crate) async fn of_ring(
    State(app): State<App>,
    Path((kind, id, file)): Path<(String, String, String)>,
    headers: HeaderMap,
) -> Result<Response, WebError> {
    if kind != "rings" {
        return Err(WebError::NotFound("Only weight rings have a template.".into()));
    }
    let (id, show) = (Id::parse(&id)?, Show::of(&headers));
    app.bench(move |b| {
        let ring = b.store().get::<WeightRing>(&id)?;
        answer(&drawn(&ring.body, &ring.body.name, Vec::new(), show), &file)
    })
    .await
}

/// `GET /sittings/{id}/template/{file}`: with the weights where they are and where they shall go.
pub(crate) async fn of_sitting(
    State(app): State<App>,
    Path((id, file)): Path<(String, String)>,
    headers: HeaderMap,
) -> Result<Response, WebError> {
    let (id, show) = (Id::parse(&id)?, Show::of(&headers));
    app.bench(move |b| {
        let sat = b.sat(&id)?;
        let start = &sat.sitting.start;
        answer(&drawn(&start.ring.body, &start.rotor.body.name, weights(&sat), show), &file)
    })
    .await
}

fn weights(sat: &Sat) -> Vec<TemplateWeight> {
    let arcs: Vec<f64> = match &sat.sitting.start.ring.body.kind {
        RingKind::Groove(g) => g.weights.iter().map(|w| w.arc_deg).collect(),
        RingKind::TappedHoles(_) => Vec::new(),
    };
    let target = |i: usize| sat.step.as_ref().ok()?.moves.iter().find(|m| m.weight == i).map(|m| RotorAngle::from_deg(m.to_deg));
    let weight = |(i, w): (usize, &stillwheel_door::look::WeightAt)| TemplateWeight {
        now: Some(RotorAngle::from_deg(w.at_deg)),
        target: target(i),
        arc: Angle::from_deg(arcs.get(i).copied().unwrap_or(0.0)),
    };
    sat.weights.iter().enumerate().map(weight).collect()
}

fn drawn(ring: &WeightRing, name: &str, weights: Vec<TemplateWeight>, show: Show) -> RingTemplate {
    let graduation_deg = match &ring.kind {
        RingKind::Groove(g) => g.graduation_deg,
        RingKind::TappedHoles(t) => 360.0 / t.holes.len().max(4) as f64,
    };
    RingTemplate {
        // The sheet takes one line of it.
        rotor_name: name.chars().take(100).collect(),
        date: jiff::ZonedDateTime::now().date().to_string(),
        radius_mm: ring.radius_mm,
        inner_edge_mm: None,
        outer_edge_mm: None,
        scale: holes(ring).unwrap_or(match show.angles {
            Angles::CounterClockwise => Scale::CounterClockwise,
            Angles::Clockwise => Scale::Clockwise,
            Angles::Clock => Scale::ClockHours,
        }),
        graduation_deg,
        weights,
    }
}

/// Numbered holes, where they are evenly spaced from the zero mark.
fn holes(ring: &WeightRing) -> Option<Scale> {
    let RingKind::TappedHoles(t) = &ring.kind else { return None };
    let n = u16::try_from(t.holes.len()).ok().filter(|n| (3..=120).contains(n))?;
    let even = t.holes.iter().enumerate().all(|(k, h)| (h.at_deg - 360.0 * k as f64 / f64::from(n)).abs() < 0.01);
    even.then_some(Scale::Holes(n))
}

fn answer(template: &RingTemplate, file: &str) -> Result<Response, WebError> {
    let unknown = || WebError::NotFound("Templates are a4.pdf, letter.pdf, a4.svg and letter.svg.".into());
    let (paper, kind) = file.split_once('.').ok_or_else(unknown)?;
    let page = match paper {
        "a4" => Page::A4,
        "letter" => Page::Letter,
        _ => return Err(unknown()),
    };
    let svg = ring_template(template, page)?;
    let (bytes, mime) = match kind {
        "svg" => (svg.into_bytes(), "image/svg+xml"),
        "pdf" => (to_pdf(&svg, page)?, "application/pdf"),
        _ => return Err(unknown()),
    };
    let name = format!("attachment; filename=\"weight-ring-{paper}.{kind}\"");
    Ok(([(header::CONTENT_TYPE, mime.to_owned()), (header::CONTENT_DISPOSITION, name)], bytes).into_response())
}
