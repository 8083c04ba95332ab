//! Marks from a photo: the file, two places a known distance apart, the patterns found.
//!
//! Works without scripts: the photo, reduced and grey, rides in the page from tap to tap. Nothing is stored.

use super::super::super::base64::{decode, encode};
use super::super::super::error::WebError;
use super::super::super::form::{Field, Typed, fault_summary, field};
use super::super::super::layout::{self, Place};
use super::super::super::show::{Show, significant};
use super::super::super::state::App;
use super::super::super::upload::Upload;
use super::face::drawn;
use super::photo_step::{CARRIED, PIECE, SHOWN, Step, step, take, tap_sd_px};
use crate::grinder_pictures::spectrum_picture;
use crate::sitting::Bench;
use axum::extract::multipart::MultipartError;
use axum::extract::{DefaultBodyLimit, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use axum::{Form, Router};
use maud::{Markup, html};
use std::collections::HashMap;
use stillwheel_door::Fault;
use stillwheel_door::marks::{PatternOut, ScaleIn, SpectrumOut, photo_marks};
use stillwheel_door::photo_file::{MOST_BYTES, Photo, read_photo};
use stillwheel_physics::quantity::Dimension;

const PATH: &str = "/grinder/marks/photo";
const TAP_PATH: &str = "/grinder/marks/photo/tap";

/// The page's routes.
pub(crate) fn routes() -> Router<App> {
    Router::new().route(PATH, get(page).post(upload).layer(DefaultBodyLimit::max(MOST_BYTES + 64 * 1024))).route(TAP_PATH, post(tap))
}

/// What the page shows below its faults.
enum Shown {
    /// The choice of a file.
    Choose,
    /// The photo, to be tapped.
    Tap(Photo),
    /// What was found, or why nothing.
    Found(Result<SpectrumOut, Fault>),
}

/// `GET /grinder/marks/photo`.
async fn page(State(app): State<App>, headers: HeaderMap) -> Response {
    let show = Show::of(&headers);
    render(&app, show, &Typed::default(), &Shown::Choose)
}

/// `POST /grinder/marks/photo`: the file.
async fn upload(State(app): State<App>, headers: HeaderMap, Upload(mut form): Upload) -> Result<Response, WebError> {
    let show = Show::of(&headers);
    let unreadable = |e: MultipartError| {
        Fault::new("photo", "this upload", format!("a file of at most {} MiB", MOST_BYTES / 1024 / 1024), e.body_text())
    };
    let mut file = Vec::new();
    let mut text = HashMap::new();
    while let Some(part) = form.next_field().await.map_err(unreadable)? {
        match part.name().map(str::to_owned) {
            Some(name) if name == "file" => file = part.bytes().await.map_err(unreadable)?.to_vec(),
            Some(name) => {
                text.insert(name, part.text().await.map_err(unreadable)?);
            }
            None => {}
        }
    }
    let (typed, shown) = app
        .bench(move |_: &Bench| {
            let mut typed = Typed::new(text);
            typed.number("distance_mm", Dimension::Length, show);
            let photo = read_photo(&file);
            let shown = match photo {
                Ok(photo) if typed.is_good() => {
                    typed.put("photo", encode(&photo.jpeg()?));
                    Shown::Tap(photo)
                }
                Ok(_) => Shown::Choose,
                Err(f) => {
                    typed.blame(f);
                    Shown::Choose
                }
            };
            Ok::<_, WebError>((typed, shown))
        })
        .await?;
    Ok(render(&app, show, &typed, &shown))
}

/// `POST /grinder/marks/photo/tap`: one place more.
async fn tap(State(app): State<App>, headers: HeaderMap, Form(text): Form<HashMap<String, String>>) -> Result<Response, WebError> {
    let show = Show::of(&headers);
    let (typed, shown) = app
        .bench(move |_: &Bench| {
            let mut typed = Typed::new(text);
            let bytes = decode(typed.text("photo")).unwrap_or_default();
            let photo = match read_photo(&bytes) {
                Ok(photo) => photo,
                Err(f) => {
                    typed.blame(f);
                    return Ok((typed, Shown::Choose));
                }
            };
            let height = f64::from(photo.height_px) / f64::from(photo.width_px);
            let piece = |around: [f64; 2]| photo.piece_jpeg(around, PIECE, 8).map_or([0.0, 0.0, 1.0, 1.0], |p| p.1);
            if let Err(f) = take(&mut typed, height, piece) {
                typed.blame(f);
            }
            let distance_mm = typed.number("distance_mm", Dimension::Length, show);
            let shown = match step(&typed) {
                Step::Done(places) if typed.is_good() => Shown::Found(photo_marks(&photo, &scale(&photo, places, distance_mm, &typed))),
                _ => Shown::Tap(photo),
            };
            Ok::<_, WebError>((typed, shown))
        })
        .await?;
    Ok(render(&app, show, &typed, &shown))
}

fn scale(photo: &Photo, places: [[f64; 2]; 2], distance_mm: f64, typed: &Typed) -> ScaleIn {
    let px = |p: [f64; 2]| [p[0] * f64::from(photo.width_px), p[1] * f64::from(photo.height_px)];
    ScaleIn {
        from_px: px(places[0]),
        to_px: px(places[1]),
        distance_mm,
        tap_sd_px: tap_sd_px(photo.width_px),
        along_travel: typed.ticked("along_travel"),
    }
}

fn render(app: &App, show: Show, typed: &Typed, shown: &Shown) -> Response {
    let good = typed.is_good() && !matches!(shown, Shown::Found(Err(_)));
    let status = if good { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
    (status, layout::page("Marks from a photo", Place::Grinder, show, app.is_demo(), body(typed, shown, show))).into_response()
}

fn body(typed: &Typed, shown: &Shown, show: Show) -> Markup {
    html! {
        h1 { "Marks from a photo" }
        p.lead { "Lay a rule along the table’s travel beside the marks, light the face flat from the side, and hold the camera square to it." }
        (fault_summary(typed.other_faults(&["distance_mm"])))
        @match shown {
            Shown::Choose => { (choose(typed, show)) },
            Shown::Tap(photo) => { (tapping(typed, photo)) },
            Shown::Found(Ok(s)) => { (found(s, show)) },
            Shown::Found(Err(f)) => section.card.narrow.faults role="alert" {
                h2 { "No regular marks were found" }
                p { (f.why) @if !f.allowed.is_empty() { " Needed: " (f.allowed) "." } }
                div.links { a href=(PATH) { "Another photo" } a href="/grinder/marks" { "Count the marks instead" } }
            },
        }
    }
}

fn choose(typed: &Typed, show: Show) -> Markup {
    html! {
        form.card.narrow method="post" action=(PATH) enctype="multipart/form-data" novalidate {
            h2 { "The photo" }
            div.field { label for="photo-file" { "JPEG or PNG" } input #photo-file type="file" name="file" accept="image/jpeg,image/png" required; }
            (field(typed, Field { name: "distance_mm", label: "Distance between the two places that you will tap", unit: show.unit(Dimension::Length), hint: "Such as two lines of the rule, as far apart as the photo shows.", keys: "decimal", required: true, ..Field::default() }))
            label.pick { input type="checkbox" name="along_travel" checked[typed.text("distance_mm").is_empty() || typed.ticked("along_travel")]; "They lie along the table’s travel" }
            p.hint { "If not, the travel is taken to go from left to right in the photo." }
            div.actions { button.main type="submit" { "Show it" } }
            p.soft { "The photo is read by this program only and is not kept." }
        }
    }
}

fn tapping(typed: &Typed, photo: &Photo) -> Markup {
    let (title, picture, height) = match step(typed) {
        Step::Piece(k, around) => {
            let large = photo.piece_jpeg(around, PIECE, SHOWN as u32 * 2).map(|p| p.0);
            (format!("Place {} enlarged: tap it exactly", k + 1), large, SHOWN)
        }
        Step::Whole(k) => (format!("Tap place {}", k + 1), photo.jpeg(), SHOWN * f64::from(photo.height_px) / f64::from(photo.width_px)),
        Step::Done(_) => {
            ("Both places are tapped".to_owned(), photo.jpeg(), SHOWN * f64::from(photo.height_px) / f64::from(photo.width_px))
        }
    };
    html! {
        form.card.narrow method="post" action=(TAP_PATH) {
            h2 { (title) }
            input type="hidden" name="photo" value=(typed.text("photo"));
            input type="hidden" name="distance_mm" value=(typed.text("distance_mm"));
            @if typed.ticked("along_travel") { input type="hidden" name="along_travel" value="on"; }
            @for name in CARRIED { @if !typed.text(name).is_empty() { input type="hidden" name=(name) value=(typed.text(name)); } }
            @match picture {
                Ok(jpeg) => input.tap type="image" name="tap" width=(SHOWN) height=(height.round()) alt="The photo: tap a place in it" src={ "data:image/jpeg;base64," (encode(&jpeg)) };,
                Err(f) => p.fault { (f) },
            }
            details {
                summary { "Type the place instead" }
                div.inside {
                    div.pair {
                        (field(typed, Field { name: "share_x", label: "From the left", unit: "%", keys: "decimal", required: true, lax: true, ..Field::default() }))
                        (field(typed, Field { name: "share_y", label: "From the top", unit: "%", keys: "decimal", required: true, lax: true, ..Field::default() }))
                    }
                    button type="submit" { "This place" }
                }
            }
            div.links { a href=(PATH) { "Another photo" } }
        }
    }
}

fn found(s: &SpectrumOut, show: Show) -> Markup {
    html! {
        div.cols {
            section.card.now {
                h2 { "Patterns in the photo" }
                ul.list {
                    @for p in &s.patterns {
                        li {
                            a.row href=(hand_over(p, show)) {
                                span.what {
                                    b { (show.length(p.spacing_mm)) " apart" }
                                    small { "± " (show.length(1.96 * p.spacing_sd_mm)) ", at " (significant(p.angle_deg, 3)) "° to the travel, strength " (significant(100.0 * p.strength, 2)) " %" }
                                }
                            }
                        }
                    }
                }
                p.soft { "Choose one: the next page asks what makes it." }
                div.links { a href=(PATH) { "Another photo" } }
            }
            section.card { h2 { "Spectrum" } (drawn(spectrum_picture(s))) }
        }
    }
}

/// The marks' page with this pattern filled in.
fn hand_over(p: &PatternOut, show: Show) -> String {
    let length = |mm: f64| show.typed((mm * 1e4).round() / 1e4, Dimension::Length);
    format!(
        "/grinder/marks?spaces=10&over_mm={}&over_sd_mm={}&angle_deg={:.2}&angle_sd_deg={:.2}",
        length(10.0 * p.spacing_mm),
        length(10.0 * p.spacing_sd_mm),
        p.angle_deg,
        p.angle_sd_deg.max(0.05)
    )
}
