//! The pages, and the one door over HTTP.
//!
//! In: requests. Out: server-rendered pages that work without scripts; small modules under `assets/js` only enhance them
//! (drag, stopwatch, animation). A handler reads the request, asks the bench ([`crate::sitting`]) or the store, and hands a
//! view to a function that makes markup. No page computes on its own.

mod api;
mod assets;
mod error;
mod form;
mod guard;
mod layout;
mod pages;
mod person;
mod show;
mod state;
mod wheel;

pub use state::App;

use crate::sitting::Bench;
use anyhow::Context as _;
use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::http::StatusCode;
use axum::middleware::{from_fn, from_fn_with_state};
use axum::routing::{get, post};
use std::io::Write as _;
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;
use stillwheel_store::Store;
use tower_http::compression::CompressionLayer;
use tower_http::timeout::TimeoutLayer;

/// Largest request body: a swing log of ten minutes at 240 readings a second fits three times over.
const BODY_LIMIT: usize = 12 * 1024 * 1024;
/// Longest that one request may take.
const REQUEST_TIME: Duration = Duration::from_secs(30);

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
    /// Whether the records are a throwaway copy.
    pub demo: bool,
}

/// Serve until Ctrl-C or a termination signal; prints the address first.
///
/// # Errors
/// When the records can't be opened, or the port is taken.
pub fn serve(options: &ServeOptions) -> anyhow::Result<()> {
    let store = Arc::new(Store::open(&options.records)?);
    let code = options.lan.then(pairing_code);
    let app = App::new(Bench::new(store), code.clone(), options.demo);
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build().context("the threads could not be started")?;
    runtime.block_on(async {
        let ip = if options.lan { options.bind.unwrap_or(Ipv4Addr::UNSPECIFIED.into()) } else { Ipv4Addr::LOCALHOST.into() };
        let listener = tokio::net::TcpListener::bind((ip, options.port))
            .await
            .with_context(|| format!("port {} could not be opened; is the program running already? Another port: --port", options.port))?;
        let port = listener.local_addr()?.port();
        announce(port, code.as_deref());
        let service = router(app).into_make_service_with_connect_info::<SocketAddr>();
        axum::serve(listener, service).with_graceful_shutdown(stopped()).await.context("the server stopped")
    })
}

/// Say where the pages are. A closed or full standard output is no reason not to serve.
fn announce(port: u16, code: Option<&str>) {
    let phone = code.map_or_else(String::new, |code| {
        let address = lan_address().map_or_else(|| "THIS-COMPUTER".to_owned(), |a| a.to_string());
        format!(
            "From a phone on the shop's network: http://{address}:{port}/\nPairing code: {code}\n\
             Caution: what passes between phone and computer is not encrypted. Use it only on a network that you trust.\n"
        )
    });
    let lines = format!("Stillwheel is at http://127.0.0.1:{port}/\n{phone}Stop with Ctrl-C.\n");
    let mut out = std::io::stdout().lock();
    let _ = out.write_all(lines.as_bytes()).and_then(|()| out.flush());
}

/// The address by which this machine would reach the network; nothing is sent.
fn lan_address() -> Option<std::net::IpAddr> {
    let socket = std::net::UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).ok()?;
    // A documentation address (RFC 5737): connecting a datagram socket only picks the route.
    socket.connect((Ipv4Addr::new(192, 0, 2, 1), 9)).ok()?;
    socket.local_addr().ok().map(|a| a.ip()).filter(|ip| !ip.is_unspecified() && !ip.is_loopback())
}

/// Eight digits from the operating system's randomness.
fn pairing_code() -> String {
    format!("{:08}", person::random_64() % 100_000_000)
}

async fn stopped() {
    let ctrl_c = async {
        if tokio::signal::ctrl_c().await.is_err() {
            std::future::pending::<()>().await;
        }
    };
    #[cfg(unix)]
    {
        let Ok(mut term) = tokio::signal::unix::signal(tokio::signal::unix::SignalKind::terminate()) else { return ctrl_c.await };
        tokio::select! { () = ctrl_c => {}, _ = term.recv() => {} }
    }
    #[cfg(not(unix))]
    ctrl_c.await;
}

/// All routes with their guards.
pub fn router(app: App) -> Router {
    use pages::{
        bench, certificate, clip, grinder, help, log_report, new_sitting, pair, records, settings, sitting, stands, tap_log, template,
        transfer,
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
        .route("/sittings/{id}/certificate", get(certificate::page))
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
        .route("/rotors", get(records::list))
        .route("/records", get(transfer::page))
        .route("/records/export", get(transfer::export))
        .route("/records/import", post(transfer::import).layer(DefaultBodyLimit::max(transfer::LARGEST_IMPORT)))
        .route("/records/{kind}/new", get(records::new))
        .route("/records/{kind}", post(records::create))
        .route("/records/{kind}/{id}", get(records::edit).post(records::revise))
        .route("/records/{kind}/{id}/retire", post(records::retire))
        .route("/records/{kind}/{id}/template/{file}", get(template::of_ring))
        .route("/settings", get(settings::page).post(settings::save))
        .route("/help", get(help::page))
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
        .layer(from_fn_with_state(app, guard::known_host))
        .layer(TimeoutLayer::with_status_code(StatusCode::SERVICE_UNAVAILABLE, REQUEST_TIME))
        .layer(CompressionLayer::new())
        .layer(from_fn(guard::headers))
}
