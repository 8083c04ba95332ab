//! The certificate as a sheet to print and sign: the same facts as its page, on exactly one page.

use super::super::error::WebError;
use super::super::show::{Show, significant};
use super::super::state::App;
use super::certificate::weight_rows;
use super::history::words;
use super::label::{printed, sheet};
use super::stand_form::kind_words;
use super::time::moment;
use super::{scene, verdict};
use crate::sitting::{Sat, VerdictBody};
use axum::extract::{Path, State};
use axum::http::HeaderMap;
use axum::response::Response;
use stillwheel_drawing::{Certificate, Facts, certificate, wheel};
use stillwheel_store::{EventKind, Id, Stand};

/// `GET /sittings/{id}/certificate/{file}`.
pub(crate) async fn of_sitting(
    State(app): State<App>,
    Path((id, file)): Path<(String, String)>,
    headers: HeaderMap,
) -> Result<Response, WebError> {
    let (id, show) = (Id::parse(&id)?, Show::of(&headers));
    let unknown = || WebError::NotFound("Certificates are a4.pdf, letter.pdf, a4.svg and letter.svg.".into());
    let (page, pdf) = sheet(&file).ok_or_else(unknown)?;
    app.bench(move |b| {
        let sat = b.sat(&id)?;
        let Some(v) = &sat.verdict else {
            return Err(WebError::NotFound("There is no verdict yet, so there is no certificate.".into()));
        };
        printed(certificate(&filled(&sat, v, show)?, page)?, page, pdf, "balance-certificate")
    })
    .await
}

fn filled(sat: &Sat, v: &VerdictBody, show: Show) -> Result<Certificate, WebError> {
    let start = &sat.sitting.start;
    let (rotor, machine, stand, ring) = (&start.rotor.body, &start.machine.body, &start.stand.body, &start.ring.body);
    let step = &v.step;
    let row = |what: &str, said: String| (what.to_owned(), said);
    let mut result = vec![row("Within allowance", format!("{} sure", verdict::percent(step.p_within_allowance)))];
    if let Some(e) = &step.estimate {
        result.push(row("Residual", verdict::residual(show, &e.residual)));
        result.push(row("95 % sure below", show.unbalance(e.residual.size_quantiles_g_mm.p95)));
    }
    let reason = &start.allowance.reason;
    let reason = if reason.is_empty() { String::new() } else { format!(": {reason}") };
    result.push(row("Allowance", format!("{}{reason}", show.unbalance(step.allowance_g_mm))));
    result.push(row("Floor of stand", show.unbalance(step.floor_g_mm)));
    let length = |mm: f64| show.length(mm);
    let w = &rotor.wheel;
    let mut body = vec![row("Wheel", format!("{} × {} × {}", length(w.diameter_mm), length(w.width_mm), length(w.bore_mm)))];
    if !w.maker_marking.is_empty() {
        body.push(row("Marking", w.maker_marking.clone()));
    }
    body.push(row("Mass", show.mass(rotor.mass_kg * 1000.0)));
    let inertia = significant(rotor.inertia_kg_m2, 4);
    body.push(row("Inertia", format!("{inertia} kg·m² ± {} % (95 %)", significant(196.0 * rotor.inertia_rel_sd, 2))));
    body.push(row("Machine", format!("{}, {} r/min", machine.name, significant(machine.speed_rpm, 5))));
    let facts = |heading: &str, rows| Facts { heading: heading.to_owned(), rows };
    let mut picture = scene::as_it_is("end", &v.weights, ring, show);
    if let Some(e) = &step.estimate {
        scene::with_region(&mut picture, e, step.allowance_g_mm);
    }
    let live = sat.standing.live.iter().filter(|e| matches!(e.kind, EventKind::Look | EventKind::Move));
    let verdict_words = if v.proven {
        format!("✓ Residual unbalance within the allowance, {} sure", verdict::percent(step.p_within_allowance))
    } else {
        "Not proven to be within the allowance".to_owned()
    };
    Ok(Certificate {
        rotor: rotor.name.clone(),
        date: sat.standing.verdict.as_ref().map_or_else(String::new, |e| moment(e.at)),
        number: sat.sitting.id.to_string(),
        proven: v.proven,
        result: verdict_words,
        notice: stand.virtual_seed.is_some().then(|| "Practice on the virtual stand: no real wheel was balanced.".to_owned()),
        facts: vec![facts("Result", result), facts("Rotor", body), facts("Stand", stand_rows(stand, show))],
        picture: wheel(&picture)?,
        weight_heads: ["Where", "mass", "radius", "at"].map(str::to_owned),
        weights: weight_rows(v, ring, show),
        acts: live
            .map(|e| {
                let by = if e.who.is_empty() || e.who == start.operator { String::new() } else { format!(" ({})", e.who) };
                format!("{}{by}", words(show, ring, e))
            })
            .collect(),
        remark: v.note.chars().take(2000).collect(),
        small_print: small_print(show),
        operator: start.operator.clone(),
    })
}

/// What the stand is, and what was measured on it.
pub(super) fn stand_rows(stand: &Stand, show: Show) -> Vec<(String, String)> {
    let mut rows = vec![("Stand".to_owned(), format!("{}, {}", stand.name, kind_words(stand.kind).to_lowercase()))];
    let measured = stand.qualification.as_ref().map(|q| {
        let says = q["result"]["says"].as_str().unwrap_or("measured on the stand").to_owned();
        q["rotor"].as_str().map_or(says.clone(), |rotor| format!("{says} With the rotor {rotor}."))
    });
    rows.push((
        "Qualification".to_owned(),
        measured.unwrap_or_else(|| "not measured: floor, friction and drift as stated in the stand’s record".into()),
    ));
    rows.push(("Dry friction".to_owned(), show.unbalance(stand.dry_friction_g_mm)));
    rows.push(("Drift".to_owned(), format!("within ± {} (95 %)", show.unbalance(1.96 * stand.drift_sd_g_mm))));
    rows
}

fn small_print(show: Show) -> String {
    format!(
        "Angles: {}, operator’s side. The residual is given as ± at 95 %. Accepted when the probability that the residual is within the allowance is at \
         least 95 %, all uncertainties included (guard band in the sense of ISO 21940-14). Balanced does not mean fit to run: marked speed, ring test, \
         clamped weights and guard are to be checked at the machine.",
        show.angles_in_words()
    )
}
