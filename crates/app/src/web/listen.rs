//! The sockets: loopback, and the shop's network on request, with limits on how long a peer may take.
//!
//! In: options. Out: the pages served until the program is asked to end; then the requests under way get a few seconds.

use super::gate::Gate;
use super::state::App;
use super::{ServeOptions, person, router, tls};
use crate::os::asked_to_end;
use crate::sitting::Bench;
use anyhow::Context as _;
use axum_server::Handle;
use axum_server::tls_rustls::{RustlsAcceptor, RustlsConfig};
use std::io::Write as _;
use std::net::{IpAddr, Ipv4Addr, SocketAddr, TcpListener};
use std::sync::Arc;
use std::time::Duration;
use stillwheel_store::{Backups, Devices, Store};

/// How long a request that is under way may take once the program is asked to end.
const GRACE: Duration = Duration::from_secs(3);

/// How long a peer may take.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// To send the head of a request, or to begin the next one.
    pub head: Duration,
    /// To send its body and to be answered.
    pub request: Duration,
}

impl Default for Limits {
    fn default() -> Self {
        Self { head: Duration::from_secs(10), request: Duration::from_secs(30) }
    }
}

/// Serve until Ctrl-C or a termination signal; prints the address first.
///
/// # Errors
/// When the records can't be opened, or the port is taken.
pub fn serve(options: &ServeOptions) -> anyhow::Result<()> {
    let store = Arc::new(Store::open(&options.records)?);
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build().context("the threads could not be started")?;
    runtime.block_on(async {
        let sockets = Sockets::open(options)?;
        let mut app = App::new(Bench::new(store), None, options.demo).with_backups(options.backups.clone().map(Backups::within));
        let mut identity = None;
        if options.lan {
            let address = sockets.network_name();
            if options.tls {
                let names = [address.trim_matches(['[', ']']).to_owned(), "localhost".to_owned(), Ipv4Addr::LOCALHOST.to_string()];
                let today = jiff::ZonedDateTime::now().date();
                identity = Some(tls::identity(&tls::folder_beside(&options.records), &names, today)?);
            }
            let scheme = if options.tls { "https" } else { "http" };
            let gate = Gate::new(pairing_code(), pairing_code(), Devices::open(&Devices::beside(&options.records))?);
            app = app.with_gate(gate.at(format!("{scheme}://{address}:{}", sockets.port), options.tls));
        }
        announce(sockets.port, app.gate(), identity.as_ref().map(|i| i.fingerprint.as_str()));
        if !options.demo {
            tokio::spawn(app.the_keeper().clone().run(options.backup_every));
        }
        let handle = Handle::new();
        let ending = handle.clone();
        tokio::spawn(async move {
            asked_to_end().await;
            ending.graceful_shutdown(Some(GRACE));
        });
        let network = async {
            match (sockets.network, identity) {
                (Some(listener), Some(identity)) => serve_tls(listener, app.clone(), identity.config, handle.clone()).await,
                (Some(listener), None) => serve_on(listener, app.clone(), handle.clone()).await,
                (None, _) => Ok(()),
            }
        };
        let here = async {
            match sockets.here {
                Some(listener) => serve_on(listener, app.clone(), handle.clone()).await,
                None => Ok(()),
            }
        };
        tokio::try_join!(here, network).context("the server stopped").map(|_| ())
    })
}

/// Serve these pages on this socket until the handle ends it, each peer within the app's [`Limits`].
///
/// # Errors
/// When the socket can't be used.
pub async fn serve_on(listener: TcpListener, app: App, handle: Handle<SocketAddr>) -> std::io::Result<()> {
    let head = app.limits().head;
    let mut server = axum_server::from_tcp(listener)?.handle(handle).first_request_timeout(head).http1_only();
    server.http_builder().http1().header_read_timeout(head);
    server.serve(router(app).into_make_service_with_connect_info::<SocketAddr>()).await
}

async fn serve_tls(listener: TcpListener, app: App, config: RustlsConfig, handle: Handle<SocketAddr>) -> std::io::Result<()> {
    let head = app.limits().head;
    let acceptor = RustlsAcceptor::new(config).handshake_timeout(head);
    let server = axum_server::from_tcp(listener)?.handle(handle).first_request_timeout(head).http1_only();
    let mut server = server.acceptor(acceptor);
    server.http_builder().http1().header_read_timeout(head);
    server.serve(router(app).into_make_service_with_connect_info::<SocketAddr>()).await
}

/// What is listened on. Without TLS one socket may serve both sides; with it, loopback stays plain: nothing leaves the machine there.
struct Sockets {
    here: Option<TcpListener>,
    network: Option<TcpListener>,
    port: u16,
    ip: IpAddr,
}

impl Sockets {
    fn open(options: &ServeOptions) -> anyhow::Result<Self> {
        let open = |ip: IpAddr, port: u16| {
            TcpListener::bind((ip, port))
                .with_context(|| format!("port {port} could not be opened at {ip}; is the program running already? Another port: --port"))
        };
        let loopback: IpAddr = Ipv4Addr::LOCALHOST.into();
        if !options.lan {
            let here = open(loopback, options.port)?;
            let port = here.local_addr()?.port();
            return Ok(Self { here: Some(here), network: None, port, ip: loopback });
        }
        let everywhere: IpAddr = Ipv4Addr::UNSPECIFIED.into();
        let ip = match options.bind {
            Some(ip) => ip,
            // Only one address of its own can stand beside loopback on one port.
            None if options.tls => lan_address().unwrap_or(everywhere),
            None => everywhere,
        };
        if ip.is_unspecified() || ip == loopback {
            let network = open(ip, options.port)?;
            let port = network.local_addr()?.port();
            return Ok(Self { here: None, network: Some(network), port, ip });
        }
        let here = open(loopback, options.port)?;
        let port = here.local_addr()?.port();
        Ok(Self { here: Some(here), network: Some(open(ip, port)?), port, ip })
    }

    /// How a phone reaches it.
    fn network_name(&self) -> String {
        let ip = if self.ip.is_unspecified() { lan_address() } else { Some(self.ip) };
        match ip {
            Some(IpAddr::V6(ip)) => format!("[{ip}]"),
            Some(ip) => ip.to_string(),
            None => "THIS-COMPUTER".to_owned(),
        }
    }
}

/// Say where the pages are. A closed or full standard output is no reason not to serve.
fn announce(port: u16, gate: Option<&Gate>, fingerprint: Option<&str>) {
    let phone = gate.map_or_else(String::new, |gate| {
        let address = gate.address().unwrap_or_default();
        let [write, look] = gate.codes();
        let caution = fingerprint.map_or_else(
            || {
                "Caution: what passes between phone and computer is not encrypted. Use it only on a network that you trust, or add --tls.\n"
                    .to_owned()
            },
            |print| {
                format!(
                    "The browser will warn that nobody vouches for the certificate. Go on only if it shows this fingerprint (SHA-256):\n{print}\n"
                )
            },
        );
        let qr = stillwheel_drawing::qr_in_letters(&format!("{address}/pair")).unwrap_or_default();
        format!(
            "From a phone on the shop's network: {address}/\n{qr}\nPairing code: {write}\nFor a device that may only look: {look}\n{caution}"
        )
    });
    let lines = format!("Stillwheel is at http://127.0.0.1:{port}/\n{phone}Stop with Ctrl-C.\n");
    let mut out = std::io::stdout().lock();
    let _ = out.write_all(lines.as_bytes()).and_then(|()| out.flush());
}

/// The address by which this machine would reach the network; nothing is sent.
fn lan_address() -> Option<IpAddr> {
    let socket = std::net::UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).ok()?;
    // A documentation address (RFC 5737): connecting a datagram socket only picks the route.
    socket.connect((Ipv4Addr::new(192, 0, 2, 1), 9)).ok()?;
    socket.local_addr().ok().map(|a| a.ip()).filter(|ip| !ip.is_unspecified() && !ip.is_loopback())
}

/// Eight digits from the operating system's randomness.
fn pairing_code() -> String {
    format!("{:08}", person::random_64() % 100_000_000)
}
