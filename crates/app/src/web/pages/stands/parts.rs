//! The parts of a stand: list, a page for each with its drawing and process sheet, files to print and to cut from, and the whole pack.

use super::super::super::error::WebError;
use super::super::super::layout::{self, Place};
use super::super::super::show::{Show, Units, significant};
use super::super::super::state::App;
use super::compute::sheet_text;
use crate::making::{ASSEMBLY, Made};
use axum::extract::{Path, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use maud::{Markup, PreEscaped, html};
use stillwheel_door::Fault;
use stillwheel_door::parts::{DimensionOut, FeatureOut, LimitsFrom, MeasureName, PartOut};
use stillwheel_drawing::{DrawOptions, Page, Projection, to_pdf};
use stillwheel_store::{Id, Stand};

/// Files of a drawing that are offered: name in the address, words.
const OFFERED: [(&str, &str); 5] =
    [("a4.pdf", "PDF, A4"), ("letter.pdf", "PDF, Letter"), ("a3.pdf", "PDF, A3"), ("drawing.dxf", "DXF"), ("drawing.svg", "SVG")];

/// Where inches are at home, views stand in third angle and paper is Letter; elsewhere first angle and A4.
fn options(show: Show, page: Option<Page>) -> DrawOptions {
    let (own, projection) = match show.units {
        Units::Metric => (Page::A4, Projection::FirstAngle),
        Units::Inch => (Page::Letter, Projection::ThirdAngle),
    };
    DrawOptions { page: page.unwrap_or(own), projection, date: jiff::ZonedDateTime::now().date().to_string(), ..DrawOptions::default() }
}

/// The stand's name, its sheet as text, and its parts; a stand that can't be made is a page of its own.
pub(super) fn made(b: &crate::sitting::Bench, id: &Id) -> Result<(String, String, Result<Made, Fault>), WebError> {
    let stand = b.store().get::<Stand>(id)?.body;
    let toml = sheet_text(&stand);
    let made = Made::of(&toml);
    Ok((stand.name, toml, made))
}

fn page_of(app: &App, show: Show, title: &str, good: bool, body: Markup) -> Response {
    let status = if good { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
    (status, layout::page(title, Place::Stands, show, app.is_demo(), body)).into_response()
}

/// What stands in the way of making it.
pub(super) fn can_not_be(name: &str, path: &str, f: &Fault) -> Markup {
    html! {
        h1 { "Make " (name) }
        section.card.faults role="alert" {
            h2 { "These parts can’t be made" }
            p { b { (f.field) " is " (f.value) "." } " " (f.why) @if !f.allowed.is_empty() { " Allowed: " (f.allowed) "." } }
            div.links { a href=(path) { "Change the sheet" } }
        }
    }
}

/// `GET /stands/{id}/parts`.
pub(crate) async fn list(State(app): State<App>, Path(id): Path<String>, headers: HeaderMap) -> Result<Response, WebError> {
    let (id, show) = (Id::parse(&id)?, Show::of(&headers));
    let path = format!("/stands/{id}");
    let (good, body) = app
        .bench(move |b| {
            let (name, _, made) = made(b, &id)?;
            Ok::<_, WebError>(match made {
                Ok(m) => (true, list_body(&name, &path, &m, show)?),
                Err(f) => (false, can_not_be(&name, &path, &f)),
            })
        })
        .await?;
    Ok(page_of(&app, show, "Parts", good, body))
}

fn list_body(name: &str, path: &str, m: &Made, show: Show) -> Result<Markup, WebError> {
    let assembly = drawn(m, ASSEMBLY, show)?;
    let bought: Vec<&PartOut> = m.out.parts.iter().filter(|p| p.stock.is_none()).collect();
    Ok(html! {
        h1 { "Make " (name) }
        p.lead { (m.out.says) }
        div.cols {
            div {
                section.card {
                    h2 { "Parts to make" }
                    ul.list {
                        @for p in m.made() {
                            li {
                                a.row href={ (path) "/parts/" (p.key) } {
                                    span.what { b { (p.item) ". " (p.name) } small { (p.quantity) " × " (p.material) ", " (p.stock.as_deref().unwrap_or_default()) } }
                                    @if let Some(g) = p.mass_g { span { (mass(g)) } }
                                }
                            }
                        }
                    }
                }
                section.card {
                    h2 { "To buy" }
                    ul { @for p in bought { li { (p.item) ". " (p.quantity) " × " (p.name) ": " (p.material) } } }
                }
                section.card {
                    h2 { "All of it as one file" }
                    p.soft { "Drawings as PDF and DXF, lists as CSV, the sheet as TOML." }
                    div.links { @for (file, words) in [("a4.zip", "Pack, A4"), ("letter.zip", "Pack, Letter"), ("a3.zip", "Pack, A3")] { a href={ (path) "/pack/" (file) } download { (words) } } }
                }
                section.card { div.links { a href={ (path) "/inspect" } { "Measure the finished parts" } a href=(path) { "Back to the stand" } } }
            }
            div {
                section.card {
                    h2 { "Put together" }
                    (assembly)
                    (files(path, ASSEMBLY))
                    @for c in &m.out.cautions { p.caution { strong { "Caution." } " " (c) } }
                }
                details.card-like {
                    summary { "Why the sizes that the sheet leaves open are what they are" }
                    div.inside { dl.facts { @for r in &m.out.reasons { dt { (r.field) } dd { (r.why) } } } p.soft { "Put any of them into the sheet’s [making] table to change it." } }
                }
            }
        }
    })
}

fn mass(g: f64) -> String {
    if g >= 1000.0 { format!("{} kg", significant(g * 1e-3, 3)) } else { format!("{} g", significant(g, 3)) }
}

fn files(path: &str, key: &str) -> Markup {
    html! { div.links { @for (file, words) in OFFERED { a href={ (path) "/parts/" (key) "/" (file) } download { (words) } } } }
}

/// The drawing in the page; too small to read on a phone, it can be moved about.
fn drawn(m: &Made, key: &str, show: Show) -> Result<Markup, WebError> {
    let svg = m.drawing(key, &options(show, None))?.ok_or_else(|| missing(key))?.svg("drawing-")?;
    Ok(html! { div.drawing tabindex="0" role="group" aria-label="Drawing; it can be scrolled sideways" { (PreEscaped(svg)) } })
}

fn missing(key: &str) -> WebError {
    WebError::NotFound(format!("There is no part {key} that is made."))
}

/// `GET /stands/{id}/parts/{key}`.
pub(crate) async fn page(
    State(app): State<App>,
    Path((id, key)): Path<(String, String)>,
    headers: HeaderMap,
) -> Result<Response, WebError> {
    let (id, show) = (Id::parse(&id)?, Show::of(&headers));
    let path = format!("/stands/{id}");
    let (good, body) = app
        .bench(move |b| {
            let (name, _, made) = made(b, &id)?;
            Ok::<_, WebError>(match made {
                Ok(m) => {
                    let part = m.made().find(|p| p.key == key).ok_or_else(|| missing(&key))?;
                    (true, part_body(&name, &path, part, &drawn(&m, &key, show)?))
                }
                Err(f) => (false, can_not_be(&name, &path, &f)),
            })
        })
        .await?;
    Ok(page_of(&app, show, "Part", good, body))
}

fn part_body(stand: &str, path: &str, p: &PartOut, drawing: &Markup) -> Markup {
    html! {
        h1 { (p.name) }
        p.lead { (p.quantity) " for " (stand) ", " (p.material) @if let Some(s) = &p.stock { ", from " (s) } "." }
        div.cols {
            div {
                section.card { h2 { "Drawing" } (drawing) (files(path, &p.key)) }
                section.card {
                    h2 { "Sizes" }
                    div.table { table {
                        thead { tr { th { "what" } th { "nominal, mm" } th { "limits, mm" } } }
                        tbody { @for f in &p.features { @for d in f.dimensions.iter().filter(|d| d.measure != MeasureName::Coordinate) { tr { td { (f.name) ", " (words(d)) } td { (number(d.nominal_mm)) } td { (limits(d)) } } } } }
                    } }
                    @for f in p.features.iter().filter(|f| f.holes.is_some()) { (places(f)) }
                }
            }
            div {
                section.card {
                    h2 { "In this order" }
                    ol.steps {
                        @for o in &p.operations {
                            li {
                                h3 { (o.number) " " (o.machine) @if o.critical.is_some() { " " span.tag.warn { "! critical" } } }
                                p { (o.does) }
                                @if let Some(c) = &o.critical { p { b { "Why it matters: " } (c) "." } }
                                @if let Some(m) = &o.measure { p { b { "Measure. " } (m) } }
                                @if let Some(c) = &o.caution { p.caution { strong { "Caution." } " " (c) } }
                            }
                        }
                    }
                }
                section.card {
                    h2 { "Measured at the machine" }
                    div.links { @for piece in 1..=p.quantity { a href={ (path) "/inspect/" (p.key) "/" (piece) } { @if p.quantity == 1 { "Enter what was measured" } @else { "Piece " (piece) } } } }
                }
                section.card { div.links { a href={ (path) "/parts" } { "All parts" } a href=(path) { "Back to the stand" } } }
            }
        }
    }
}

/// The places of a set of holes, in the order of drilling.
fn places(f: &FeatureOut) -> Markup {
    let Some(h) = &f.holes else { return html! {} };
    html! {
        h3 { "Holes " (h.tag) ", " (h.face) " face: " (f.name) }
        div.table { table {
            thead { tr { th { "hole" } th { "x, mm" } th { "y, mm" } } }
            tbody { @for (k, [x, y]) in h.places_mm.iter().enumerate() { tr { td { (h.tag) @if h.places_mm.len() > 1 { (k + 1) } } td { (number(*x)) } td { (number(*y)) } } } }
        } }
    }
}

/// A dimension's name in words.
pub(super) fn words(d: &DimensionOut) -> String {
    let name = d.id.split_once('.').map_or(d.id.as_str(), |n| n.1);
    name.replace('_', " ")
}

/// A length to the micrometre, without needless zeros.
pub(super) fn number(v: f64) -> String {
    let text = format!("{v:.4}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

pub(super) fn limits(d: &DimensionOut) -> String {
    let from_to = format!("{} to {}", number(d.nominal_mm + d.lower_mm), number(d.nominal_mm + d.upper_mm));
    match (d.limits_from, &d.told) {
        (LimitsFrom::Reference, _) => "as bought or cut".to_owned(),
        (LimitsFrom::Class, Some(class)) => format!("{class}: {from_to}"),
        _ => from_to,
    }
}

fn page_named(word: &str) -> Option<Page> {
    match word {
        "a4" => Some(Page::A4),
        "letter" => Some(Page::Letter),
        "a3" => Some(Page::A3),
        _ => None,
    }
}

/// `GET /stands/{id}/parts/{key}/{file}`.
pub(crate) async fn file(
    State(app): State<App>,
    Path((id, key, file)): Path<(String, String, String)>,
    headers: HeaderMap,
) -> Result<Response, WebError> {
    let (id, show) = (Id::parse(&id)?, Show::of(&headers));
    app.bench(move |b| {
        let unknown = || WebError::NotFound("Drawings are a4.pdf, letter.pdf, a3.pdf, drawing.dxf and drawing.svg.".into());
        let m = made(b, &id)?.2?;
        let draw = |page| m.drawing(&key, &options(show, page))?.ok_or_else(|| missing(&key));
        let (bytes, mime) = match file.split_once('.') {
            Some(("drawing", "dxf")) => (draw(None)?.dxf()?.into_bytes(), "image/vnd.dxf"),
            Some(("drawing", "svg")) => (draw(None)?.svg("")?.into_bytes(), "image/svg+xml"),
            Some((paper, "pdf")) => {
                let page = page_named(paper).ok_or_else(unknown)?;
                (to_pdf(&draw(Some(page))?.svg("")?, page)?, "application/pdf")
            }
            _ => return Err(unknown()),
        };
        let name = format!("attachment; filename=\"{key}-{file}\"");
        Ok::<_, WebError>(([(header::CONTENT_TYPE, mime.to_owned()), (header::CONTENT_DISPOSITION, name)], bytes).into_response())
    })
    .await
}

/// `GET /stands/{id}/pack/{file}`.
pub(crate) async fn pack(
    State(app): State<App>,
    Path((id, file)): Path<(String, String)>,
    headers: HeaderMap,
) -> Result<Response, WebError> {
    let (id, show) = (Id::parse(&id)?, Show::of(&headers));
    app.bench(move |b| {
        let page = file.strip_suffix(".zip").and_then(page_named);
        let page = page.ok_or_else(|| WebError::NotFound("Packs are a4.zip, letter.zip and a3.zip.".into()))?;
        let (_, toml, m) = made(b, &id)?;
        let bytes = m?.pack(&toml, &options(show, Some(page))).map_err(|e| match e.downcast::<Fault>() {
            Ok(f) => WebError::Fault(f),
            Err(e) => WebError::Broken(e),
        })?;
        let name = format!("attachment; filename=\"stand-{file}\"");
        Ok::<_, WebError>(
            ([(header::CONTENT_TYPE, "application/zip".to_owned()), (header::CONTENT_DISPOSITION, name)], bytes).into_response(),
        )
    })
    .await
}
