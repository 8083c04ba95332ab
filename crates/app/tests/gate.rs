//! Who is let in from the shop's network, to what, and over what: codes, roles, shutting out, pace, and TLS.

mod common;

use axum::Extension;
use axum::extract::ConnectInfo;
use axum_test::TestServer;
use common::{PageForm, Program, get, routes};
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::time::Instant;
use stillwheel::sitting::Bench;
use stillwheel::web::{App, Gate, router};
use stillwheel_store::{Devices, Id, Machine, Store};

fn shop(records: &Path) {
    stillwheel::demo::records(&Store::open(records).unwrap(), jiff::Timestamp::UNIX_EPOCH).unwrap();
}

fn shop_in_memory() -> Arc<Store> {
    let store = Arc::new(Store::open_in_memory().unwrap());
    stillwheel::demo::records(&store, jiff::Timestamp::UNIX_EPOCH).unwrap();
    store
}

/// A server with a gate, as a phone of the network reaches it.
fn gated(store: &Arc<Store>) -> TestServer {
    let gate = Gate::new("12345678", "87654321", Devices::open_in_memory().unwrap());
    TestServer::new(router(App::new(Bench::new(store.clone()), None, false).with_gate(gate)))
}

async fn pair(server: &TestServer, code: &str, name: &str) -> String {
    let paired = server.post("/pair").form(&[("code", code), ("device", name)]).await;
    assert_eq!(paired.status_code(), 303, "{}", paired.text());
    let cookie = paired.header("set-cookie").to_str().unwrap().to_owned();
    assert!(cookie.contains("HttpOnly") && cookie.contains("SameSite=Strict") && !cookie.contains(code), "{cookie}");
    cookie.split(';').next().unwrap().to_owned()
}

#[tokio::test]
async fn a_device_that_may_only_look_sees_every_page_and_changes_nothing() {
    let store = shop_in_memory();
    let server = gated(&store);
    let writer = pair(&server, "12345678", "Ada's phone").await;
    let looker = pair(&server, "87654321", "Wall tablet").await;
    let path = server.post("/sittings").add_header("cookie", &writer).form(&[("quick", "yes"), ("stand", "virtual")]).await;
    let path = path.header("location").to_str().unwrap().to_owned();
    let sitting: Id = path.rsplit('/').next().unwrap().parse().unwrap();
    let before = store.export().unwrap();
    for page in ["/", "/rotors", "/records", "/devices", &path] {
        assert_eq!(server.get(page).add_header("cookie", &looker).await.status_code(), 200, "{page}");
    }
    for route in routes("post(", &store, &sitting) {
        let answer = server.post(&route).add_header("cookie", &looker).form(&[("token", "a"), ("after_seq", "0")]).await;
        let status = answer.status_code().as_u16();
        let harmless = ["/settings", "/pair"].contains(&route.as_str()) || route.starts_with("/api/compute/") || route.ends_with("/tried");
        assert!(if harmless { status != 403 || route == "/pair" } else { status == 403 }, "{route}: {status}");
    }
    assert_eq!(store.export().unwrap(), before);
    let answer = server.post(&format!("{path}/look")).add_header("cookie", &looker).form(&[("token", "a")]).await.text();
    assert!(answer.contains("This device may only look"), "{answer}");
    // Codes are for the computer that serves.
    assert!(!server.get("/devices").add_header("cookie", &writer).await.text().contains("12345678"));
}

#[tokio::test]
async fn a_device_that_was_shut_out_is_out_with_its_next_request() {
    let store = shop_in_memory();
    let server = gated(&store);
    let (phone, tablet) = (pair(&server, "12345678", "Phone <b>").await, pair(&server, "12345678", "").await);
    let page = server.get("/devices").add_header("cookie", &phone).await.text();
    assert!(page.contains("Phone &lt;b&gt;") && page.contains("Unnamed device") && page.contains("this device"), "{page}");
    let revoke = PageForm::holding(&page, "Unnamed device").unwrap().action;
    assert_eq!(server.post(&revoke).add_header("cookie", &phone).await.status_code(), 303);
    assert_eq!(server.get("/").add_header("cookie", &tablet).await.status_code(), 303);
    assert_eq!(
        server.post("/records/machines").add_header("cookie", &tablet).form(&[("name", "M"), ("speed_rpm", "1")]).await.status_code(),
        303
    );
    assert_eq!(store.list::<Machine>().unwrap().len(), 2, "nothing is stored");
    assert_eq!(server.get("/").add_header("cookie", &phone).await.status_code(), 200);
    for cookie in ["stillwheel_pair=", "stillwheel_pair=12345678", "stillwheel_pair=' OR 1=1 --"] {
        assert_eq!(server.get("/").add_header("cookie", cookie).await.status_code(), 303, "{cookie}");
    }
}

#[tokio::test]
async fn a_flood_from_one_address_is_held_up_and_the_machine_itself_is_not() {
    for (from, expected) in [([192, 168, 1, 77], 240), ([127, 0, 0, 1], 400)] {
        let gate = Gate::new("12345678", "87654321", Devices::open_in_memory().unwrap());
        let app = App::new(Bench::new(shop_in_memory()), None, false).with_gate(gate);
        let peer = SocketAddr::from((from, 50_000));
        let server = TestServer::new(router(app).layer(Extension(ConnectInfo(peer))));
        let begun = Instant::now();
        let mut passed = 0;
        for _ in 0..400 {
            let answer = server.get("/assets/icon.svg").await;
            passed += usize::from(answer.status_code() == 200);
            if answer.status_code() != 200 {
                assert_eq!(answer.status_code(), 429);
                assert_eq!(answer.header("retry-after").to_str().unwrap(), "1");
            }
        }
        // Forty a second come back while the test runs.
        let most = expected + (40.0 * begun.elapsed().as_secs_f64()) as usize + 1;
        assert!((expected..=most.max(expected)).contains(&passed), "{from:?}: {passed}");
    }
}

/// Loopback plain, the network over TLS, on one port; a second address of loopback stands for the network.
#[test]
#[cfg(target_os = "linux")]
fn over_tls_the_printed_fingerprint_is_the_certificates_and_a_device_pairs_by_a_secure_cookie() {
    let folder = tempfile::tempdir().unwrap();
    let records = folder.path().join("records.db");
    shop(&records);
    let start = || {
        let mut command = Command::new(assert_cmd::cargo::cargo_bin("stillwheel"));
        command.args(["serve", "--port", "0", "--lan", "--tls", "--bind", "127.0.0.2", "--db"]).arg(&records);
        let mut process = command.stdout(Stdio::piped()).spawn().unwrap();
        let mut said = String::new();
        let mut lines = BufReader::new(process.stdout.take().unwrap());
        while !said.contains("Stop with") {
            assert!(lines.read_line(&mut said).unwrap() > 0, "{said}");
        }
        let address = said.split("http://").nth(1).unwrap().split('/').next().unwrap().to_owned();
        (Program { process, address }, said)
    };
    let (program, said) = start();
    let port = program.address.rsplit(':').next().unwrap().to_owned();
    assert!(said.contains(&format!("https://127.0.0.2:{port}/")), "{said}");
    let after = |words: &str| said.split(words).nth(1).unwrap().lines().next().unwrap().trim().to_owned();
    let code = after("Pairing code: ");
    assert_eq!((code.len(), after("may only look: ").len()), (8, 8));
    assert_eq!(program.get("/").status, 200, "the machine itself comes in plainly and without a code");
    let https = |request: String| -> String {
        let mut roots = rustls::RootCertStore::empty();
        let pem = std::fs::read(folder.path().join("records.db.tls/certificate.pem")).unwrap();
        let certificate = <rustls::pki_types::CertificateDer<'_> as rustls::pki_types::pem::PemObject>::from_pem_slice(&pem).unwrap();
        roots.add(certificate).unwrap();
        let provider = Arc::new(rustls::crypto::ring::default_provider());
        let config = rustls::ClientConfig::builder_with_provider(provider).with_safe_default_protocol_versions().unwrap();
        let config = config.with_root_certificates(roots).with_no_client_auth();
        let client = rustls::ClientConnection::new(Arc::new(config), "127.0.0.2".try_into().unwrap()).unwrap();
        let mut stream = rustls::StreamOwned::new(client, TcpStream::connect(format!("127.0.0.2:{port}")).unwrap());
        stream.write_all(request.as_bytes()).unwrap();
        let mut raw = Vec::new();
        let _ = stream.read_to_end(&mut raw);
        String::from_utf8_lossy(&raw).into_owned()
    };
    let host = format!("Host: 127.0.0.2:{port}\r\nConnection: close\r\n");
    assert!(https(format!("GET / HTTP/1.1\r\n{host}\r\n")).contains("location: /pair"));
    let form = format!("code={code}&device=Phone");
    let kind = format!("Content-Type: application/x-www-form-urlencoded\r\nContent-Length: {}\r\n", form.len());
    let paired = https(format!("POST /pair HTTP/1.1\r\n{host}{kind}\r\n{form}"));
    let cookie = paired.lines().find(|l| l.starts_with("set-cookie")).unwrap().to_owned();
    assert!(cookie.contains("; Secure"), "{cookie}");
    let cookie = cookie.split(": ").nth(1).unwrap().split(';').next().unwrap().to_owned();
    let first = https(format!("GET / HTTP/1.1\r\n{host}Cookie: {cookie}\r\n\r\n"));
    assert!(first.starts_with("HTTP/1.1 200"), "{first}");
    // Plain HTTP on that socket gets nothing.
    assert!(get(&format!("127.0.0.2:{port}"), "/").is_err());
    // The fingerprint by another way: the digest that Python's library makes of the same file.
    let print = said.lines().find(|l| l.len() == 95 && l.matches(':').count() == 31).unwrap().to_owned();
    let script = "import ssl,hashlib,sys;d=ssl.PEM_cert_to_DER_cert(open(sys.argv[1]).read());print(hashlib.sha256(d).hexdigest().upper())";
    let python = Command::new("python3").args(["-c", script]).arg(folder.path().join("records.db.tls/certificate.pem")).output();
    if let Ok(out) = python {
        assert_eq!(String::from_utf8(out.stdout).unwrap().trim(), print.replace(':', ""));
    }
    drop(program);
    // After a restart: the same certificate, another code, and the device is still in, until the command shuts it out.
    let (program, said) = start();
    assert!(said.contains(&print) && !said.contains(&code));
    let port = program.address.rsplit(':').next().unwrap().to_owned();
    let plain = |cookie: &str| {
        // A foreign name is what a phone asks for; the key counts, whichever socket it comes by.
        let mut stream = TcpStream::connect(&program.address).unwrap();
        write!(stream, "GET / HTTP/1.1\r\nHost: 127.0.0.2:{port}\r\nConnection: close\r\nCookie: {cookie}\r\n\r\n").unwrap();
        let mut raw = String::new();
        let _ = stream.read_to_string(&mut raw);
        raw.split(' ').nth(1).unwrap().to_owned()
    };
    assert_eq!(plain(&cookie), "200");
    let command =
        |args: &[&str]| assert_cmd::Command::cargo_bin("stillwheel").unwrap().args(args).arg("--db").arg(&records).output().unwrap();
    let listed = String::from_utf8(command(&["devices"]).stdout).unwrap();
    assert!(listed.contains("Phone: writes, paired"), "{listed}");
    let gone = command(&["devices", "--revoke", "Phone"]);
    assert!(String::from_utf8_lossy(&gone.stdout).contains("shut out"), "{gone:?}");
    assert_eq!(plain(&cookie), "303");
    assert_eq!(command(&["devices", "--revoke", "Nobody"]).status.code(), Some(1));
}
