//! The pages, and the one door over HTTP.
//!
//! In: requests. Out: server-rendered pages that work without scripts; small modules under `assets/js` only enhance them
//! (drag, stopwatch, animation). A handler reads the request, asks the bench ([`crate::sitting`]) or the store, and hands a
//! view to a function that makes markup. No page computes on its own.

mod api;
mod assets;
mod base64;
mod error;
mod form;
mod gate;
mod guard;
mod keeper;
mod layout;
mod listen;
mod pages;
mod person;
mod rate;
mod searches;
mod show;
mod state;
mod tls;
mod upload;
mod wheel;

pub use gate::Gate;
pub use listen::{Limits, serve, serve_on};
pub use state::App;

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::http::StatusCode;
use axum::middleware::{from_fn, from_fn_with_state};
use axum::routing::{get, post};
use std::net::IpAddr;
use std::path::PathBuf;
use std::time::Duration;
use tower_http::compression::CompressionLayer;
use tower_http::timeout::TimeoutLayer;

/// Largest request body: a swing log of ten minutes at 240 readings a second fits three times over.
const BODY_LIMIT: usize = 12 * 1024 * 1024;

/// How to serve.
#[derive(Clone, Debug)]
pub struct ServeOptions {
    /// The file of the records; made when it isn't there.
    pub records: PathBuf,
    /// Port; 0: any free one.
    pub port: u16,
    /// Answer on the shop's network too, with pairing.
    pub lan: bool,
    /// Address to listen on when the network may come in; none: all of them.
    pub bind: Option<IpAddr>,
    /// Encrypt what goes over the shop's network, with a certificate of this program's own.
    pub tls: bool,
    /// Whether the records are a throwaway copy.
    pub demo: bool,
    /// Time between automatic backups.
    pub backup_every: Duration,
    /// Folder of the backups; none: beside the records.
    pub backups: Option<PathBuf>,
}

/// All routes with their guards.
pub fn router(app: App) -> Router {
    use pages::{
        backups, bench, certificate, certificate_sheet, clip, devices, grinder, help, label, live, log_report, new_sitting, pair, records,
        rotor_history, search, settings, sitting, stands, tap_log, template, transfer,
    };
    Router::new()
        .route("/", get(bench::page))
        .route("/sittings/new", get(new_sitting::form))
        .route("/sittings", post(new_sitting::create).get(bench::page))
        .route("/sittings/{id}", get(sitting::page))
        .route("/sittings/{id}/{act}", post(sitting::act))
        .route("/sittings/{id}/log", post(sitting::swing_log))
        .route("/sittings/{id}/log/{seq}", get(log_report::page))
        .route("/sittings/{id}/clip", get(clip::page).post(clip::store))
        .route("/sittings/{id}/taps", get(tap_log::page).post(tap_log::store))
        .route("/sittings/{id}/live", get(live::stream))
        .route("/sittings/{id}/certificate", get(certificate::page))
        .route("/sittings/{id}/certificate/{file}", get(certificate_sheet::of_sitting))
        .route("/sittings/{id}/template/{file}", get(template::of_sitting))
        .route("/sittings/{id}/trim", get(grinder::trim).post(grinder::trim_read).layer(DefaultBodyLimit::max(grinder::LARGEST_UPLOAD)))
        .route("/sittings/{id}/mounting", get(grinder::mounting).post(grinder::mounting_answered))
        .route("/grinder", get(grinder::list))
        .route("/grinder/trim", get(grinder::trim_choose))
        .route("/grinder/machines/{id}", get(grinder::machine))
        .route("/grinder/machines/{id}/sheet", post(grinder::take_sheet))
        .route("/grinder/machines/{id}/sheet.toml", get(grinder::download))
        .route(
            "/grinder/machines/{id}/head",
            get(grinder::head).post(grinder::head_read).layer(DefaultBodyLimit::max(grinder::LARGEST_UPLOAD)),
        )
        .route("/stands", get(stands::list))
        .route("/stands/{id}", get(stands::sheet))
        .route("/stands/{id}/tried", post(stands::tried))
        .route("/stands/{id}/keep", post(stands::keep))
        .route("/stands/{id}/sheet", post(stands::take_text))
        .route("/stands/{id}/sheet.toml", get(stands::download))
        .route("/stands/{id}/use", post(stands::use_on_bench))
        .route("/stands/{id}/level", get(stands::level).post(stands::level_read))
        .route("/stands/{id}/qualify", get(stands::qualify).post(stands::qualify_read))
        .route("/stands/{id}/qualify/keep", post(stands::qualify_keep))
        .route("/stands/{id}/search", get(stands::search).post(stands::search_begin))
        .route("/stands/{id}/search/{job}", get(stands::search_watch))
        .route("/stands/{id}/search/{job}/stop", post(stands::search_stop))
        .route("/stands/{id}/search/{job}/take", post(stands::search_take))
        .route("/rotors", get(records::list))
        .route("/rotors/{id}", get(rotor_history::page))
        .route("/rotors/{id}/label/{file}", get(label::of_rotor))
        .route("/search", get(search::page))
        .route("/records", get(transfer::page))
        .route("/records/export", get(transfer::export))
        .route("/records/import", post(transfer::import).layer(DefaultBodyLimit::max(transfer::LARGEST_IMPORT)))
        .route("/records/backups", get(backups::page).post(backups::make))
        .route("/records/backups/restore", get(backups::back).post(backups::restore))
        .route("/records/backups/{name}", get(backups::download))
        .route("/records/{kind}/new", get(records::new))
        .route("/records/{kind}", post(records::create))
        .route("/records/{kind}/{id}", get(records::edit).post(records::revise))
        .route("/records/{kind}/{id}/retire", post(records::retire))
        .route("/records/{kind}/{id}/template/{file}", get(template::of_ring))
        .merge(grinder::face::routes())
        .merge(grinder::marks::routes())
        .merge(grinder::photo::routes())
        .route("/settings", get(settings::page).post(settings::save))
        .route("/help", get(help::page))
        .route("/devices", get(devices::page))
        .route("/devices/{id}/revoke", post(devices::revoke))
        .route("/pair", get(pair::page).post(pair::pair))
        .route("/api/compute", get(api::list))
        .route("/api/compute/{name}", post(api::compute))
        .route("/api/compute/{name}/schema", get(api::schema))
        .route("/assets/{*path}", get(assets::serve))
        .fallback(|| async { error::WebError::NotFound("There is no page at this address.".into()) })
        .with_state(app.clone())
        .layer(DefaultBodyLimit::max(BODY_LIMIT))
        .layer(from_fn_with_state(app.clone(), guard::paired))
        .layer(from_fn(guard::same_origin))
        .layer(from_fn_with_state(app.clone(), guard::known_host))
        .layer(TimeoutLayer::with_status_code(StatusCode::SERVICE_UNAVAILABLE, app.limits().request))
        .layer(from_fn_with_state(app, guard::unhurried))
        .layer(CompressionLayer::new())
        .layer(from_fn(guard::headers))
}
