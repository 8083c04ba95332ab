//! The door-keeper of the pages: security headers, same-origin check on writes, pairing and pace on the shop's network.
//!
//! In: every request. Out: the request passed on, or a refusal. No page knows of this.

use super::error::WebError;
use super::gate::Visitor;
use super::rate::AGAIN;
use super::show::cookie;
use super::state::App;
use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Redirect, Response};

/// Cookie that holds the device's key.
pub(crate) const PAIR_COOKIE: &str = "stillwheel_pair";

/// No inline script or style, nothing from elsewhere, no frames; a clip chosen on the device may be played (`blob:`).
const CSP: &str = "default-src 'self'; img-src 'self' data:; media-src 'self' blob:; object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'";

/// Put the security headers on every answer.
pub(crate) async fn headers(request: Request, next: Next) -> Response {
    let asset = request.uri().path().starts_with("/assets/");
    let mut response = next.run(request).await;
    let h = response.headers_mut();
    for (name, value) in [
        (header::CONTENT_SECURITY_POLICY, CSP),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::X_FRAME_OPTIONS, "DENY"),
        (header::REFERRER_POLICY, "same-origin"),
    ] {
        h.insert(name, HeaderValue::from_static(value));
    }
    h.insert("cross-origin-opener-policy", HeaderValue::from_static("same-origin"));
    h.insert("cross-origin-resource-policy", HeaderValue::from_static("same-origin"));
    if !asset && !h.contains_key(header::CACHE_CONTROL) {
        // A sitting seen by the back button must be the sitting as it is now.
        h.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    }
    response
}

/// Refuse writes that another site's page sent.
pub(crate) async fn same_origin(request: Request, next: Next) -> Response {
    if matches!(*request.method(), Method::GET | Method::HEAD | Method::OPTIONS) || is_same_origin(request.headers()) {
        return next.run(request).await;
    }
    (StatusCode::FORBIDDEN, "This write came from another site's page and was refused.\n").into_response()
}

/// Whether a write comes from our own pages, or from no page at all.
///
/// Browsers send `Sec-Fetch-Site` only over https and on localhost, but `Origin` with every POST; so both are looked
/// at. A script on the machine sends neither and is let through: it holds no cookie of a person.
fn is_same_origin(headers: &HeaderMap) -> bool {
    if let Some(site) = headers.get("sec-fetch-site")
        && site != "same-origin"
        && site != "none"
    {
        return false;
    }
    let Some(origin) = headers.get(header::ORIGIN) else { return true };
    let host = headers.get(header::HOST).and_then(|h| h.to_str().ok());
    let origin = origin.to_str().ok().and_then(|o| o.split_once("://")).map(|p| p.1);
    host.is_some() && host.map(str::to_ascii_lowercase) == origin.map(str::to_ascii_lowercase)
}

/// On a loopback server only a loopback name may be asked for: a foreign name that was made to point here is refused.
pub(crate) async fn known_host(State(app): State<App>, request: Request, next: Next) -> Response {
    if app.gate().is_none() && !names_this_machine(request.headers()) {
        return (StatusCode::MISDIRECTED_REQUEST, "This server answers only to this machine: localhost or 127.0.0.1.\n").into_response();
    }
    next.run(request).await
}

/// Whether the request asks for a loopback name; one that names no host comes from no browser.
fn names_this_machine(headers: &HeaderMap) -> bool {
    let Some(host) = headers.get(header::HOST) else { return true };
    let host = host.to_str().unwrap_or_default();
    let name = host.rsplit_once(':').filter(|p| p.1.bytes().all(|b| b.is_ascii_digit())).map_or(host, |p| p.0);
    ["localhost", "127.0.0.1", "[::1]"].iter().any(|n| name.eq_ignore_ascii_case(n))
}

/// With a gate, let in only the machine itself and paired devices, and let those that may only look do no more.
pub(crate) async fn paired(State(app): State<App>, mut request: Request, next: Next) -> Response {
    let Some(gate) = app.gate() else {
        request.extensions_mut().insert(Visitor::Here);
        return next.run(request).await;
    };
    let path = request.uri().path();
    let visitor = if request_is_local(&request) {
        Some(Visitor::Here)
    } else if let Some(key) = cookie(request.headers(), PAIR_COOKIE) {
        let gate = gate.clone();
        match tokio::task::spawn_blocking(move || gate.known(&key)).await {
            Ok(Ok(known)) => known.map(Visitor::Device),
            Ok(Err(fault)) => return WebError::from(fault).into_response(),
            Err(e) => return WebError::Broken(e.into()).into_response(),
        }
    } else {
        None
    };
    let Some(visitor) = visitor else {
        if path == "/pair" || path.starts_with("/assets/") {
            return next.run(request).await;
        }
        if path.starts_with("/api/") || path.ends_with("/live") {
            return (StatusCode::UNAUTHORIZED, "Pair this device first: open /pair in its browser.\n").into_response();
        }
        return Redirect::to("/pair").into_response();
    };
    if visitor.only_looks() && !request.method().is_safe() && !changes_nothing(path) {
        return WebError::OnlyLooks.into_response();
    }
    request.extensions_mut().insert(visitor);
    next.run(request).await
}

/// Whether what is sent there only comes back worked out, or stays on the device.
fn changes_nothing(path: &str) -> bool {
    path == "/settings" || path == "/pair" || path.starts_with("/api/compute/") || path.starts_with("/stands/") && path.ends_with("/tried")
}

/// Refuse a flood from one address of the network. The machine itself is not limited.
pub(crate) async fn unhurried(State(app): State<App>, request: Request, next: Next) -> Response {
    let peer = request.extensions().get::<axum::extract::ConnectInfo<std::net::SocketAddr>>().map(|c| c.0.ip());
    match peer {
        Some(ip) if !ip.is_loopback() && !app.rates().admit(ip, std::time::Instant::now()) => {
            let again = AGAIN.as_secs().to_string();
            (StatusCode::TOO_MANY_REQUESTS, [(header::RETRY_AFTER, again)], "Too many requests at once: wait a second.\n").into_response()
        }
        _ => next.run(request).await,
    }
}

/// The machine that serves needs no code. A foreign name made to point at it would bring another site's page in here as
/// well, so the name that was asked for counts too.
fn request_is_local(request: &Request) -> bool {
    names_this_machine(request.headers())
        && request.extensions().get::<axum::extract::ConnectInfo<std::net::SocketAddr>>().is_some_and(|c| c.0.ip().is_loopback())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn headers(pairs: &[(&'static str, &'static str)]) -> HeaderMap {
        pairs.iter().map(|(k, v)| (k.parse::<header::HeaderName>().unwrap(), HeaderValue::from_static(v))).collect()
    }

    #[test]
    fn a_write_from_another_site_is_refused_and_our_own_passes() {
        let host = ("host", "192.168.1.20:8080");
        for (pairs, expected) in [
            (vec![host], true),
            (vec![host, ("origin", "http://192.168.1.20:8080")], true),
            (vec![host, ("origin", "http://192.168.1.20")], false),
            (vec![host, ("origin", "http://elsewhere.example")], false),
            (vec![host, ("origin", "null")], false),
            (vec![host, ("sec-fetch-site", "cross-site")], false),
            (vec![host, ("sec-fetch-site", "same-site")], false),
            (vec![host, ("sec-fetch-site", "same-origin"), ("origin", "http://192.168.1.20:8080")], true),
            (vec![("origin", "http://192.168.1.20:8080")], false),
        ] {
            assert_eq!(is_same_origin(&headers(&pairs)), expected, "{pairs:?}");
        }
    }
    #[test]
    fn only_loopback_names_count_as_this_machine() {
        for (host, expected) in [
            ("localhost", true),
            ("LOCALHOST:8418", true),
            ("127.0.0.1:8418", true),
            ("[::1]:8418", true),
            ("[::1]", true),
            ("elsewhere.example:8418", false),
            ("127.0.0.1.elsewhere.example", false),
            ("192.168.1.20:8418", false),
            ("", false),
        ] {
            assert_eq!(names_this_machine(&headers(&[("host", host)])), expected, "{host}");
        }
    }
}
