//! A label for a rotor: its name and a code that leads to its page.

use super::super::error::WebError;
use super::super::show::Show;
use super::super::state::App;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, header};
use axum::response::{IntoResponse, Response};
use stillwheel_drawing::{Label, Page, label, to_pdf};
use stillwheel_store::{Id, Machine, Rotor};

/// The sheet and the kind that a file's name asks for.
pub(super) fn sheet(file: &str) -> Option<(Page, bool)> {
    let (paper, kind) = file.split_once('.')?;
    let page = match paper {
        "a4" => Page::A4,
        "letter" => Page::Letter,
        _ => return None,
    };
    match kind {
        "pdf" => Some((page, true)),
        "svg" => Some((page, false)),
        _ => None,
    }
}

/// A drawn sheet as an answer: PDF, or the SVG itself.
pub(super) fn printed(svg: String, page: Page, pdf: bool, name: &str) -> Result<Response, WebError> {
    let (bytes, mime, ending) =
        if pdf { (to_pdf(&svg, page)?, "application/pdf", "pdf") } else { (svg.into_bytes(), "image/svg+xml", "svg") };
    let disposition = format!("inline; filename=\"{name}.{ending}\"");
    Ok(([(header::CONTENT_TYPE, mime.to_owned()), (header::CONTENT_DISPOSITION, disposition)], bytes).into_response())
}

/// `GET /rotors/{id}/label/{file}`.
pub(crate) async fn of_rotor(
    State(app): State<App>,
    Path((id, file)): Path<(String, String)>,
    headers: HeaderMap,
) -> Result<Response, WebError> {
    let (id, show) = (Id::parse(&id)?, Show::of(&headers));
    let unknown = || WebError::NotFound("Labels are a4.pdf, letter.pdf, a4.svg and letter.svg.".into());
    let (page, pdf) = sheet(&file).ok_or_else(unknown)?;
    // The address of the network, by which a phone comes in; without one, what this browser asked for.
    let host = headers.get(header::HOST).and_then(|h| h.to_str().ok()).unwrap_or("localhost").to_owned();
    let base = app.gate().and_then(|g| g.address()).map_or_else(|| format!("http://{host}"), str::to_owned);
    app.bench(move |b| {
        let rotor = b.store().get::<Rotor>(&id)?;
        let wheel = &rotor.body.wheel;
        let machines = b.store().list::<Machine>()?;
        let mut lines = vec![
            format!("{} × {} × {}", show.length(wheel.diameter_mm), show.length(wheel.width_mm), show.length(wheel.bore_mm)),
            show.mass(1000.0 * rotor.body.mass_kg),
        ];
        if let Some(speed) = wheel.max_speed_m_s {
            lines.push(format!("marked {speed} m/s"));
        } else if let [machine] = &machines[..] {
            lines.push(format!("for {}", machine.body.name));
        }
        lines.push(format!("No. {}", rotor.id));
        let short = |text: &str| text.chars().take(100).collect::<String>();
        let lines = lines.iter().map(|l| short(l)).collect();
        let drawn = label(&Label { name: short(&rotor.body.name), lines, leads_to: format!("{base}/rotors/{id}") }, page)?;
        printed(drawn, page, pdf, "rotor-label")
    })
    .await
}
