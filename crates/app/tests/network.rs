//! The server under load and ill will: two devices at once, and peers that are slow, many, or send rubbish.

mod common;

use axum_server::Handle;
use common::{PageForm, Program, get, post, routes};
use std::collections::HashSet;
use std::fmt::Write as _;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{Ipv4Addr, SocketAddr, TcpListener, TcpStream};
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};
use stillwheel::sitting::Bench;
use stillwheel::web::{App, Limits, serve_on};
use stillwheel_store::{By, EventKind, Id, NewEvent, Store};
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};

fn shop(records: &Path) {
    stillwheel::demo::records(&Store::open(records).unwrap(), jiff::Timestamp::UNIX_EPOCH).unwrap();
}

fn served() -> (tempfile::TempDir, Program) {
    let folder = tempfile::tempdir().unwrap();
    shop(&folder.path().join("records.db"));
    let program = Program::serve(&folder.path().join("records.db"));
    (folder, program)
}

fn shop_in_memory() -> Arc<Store> {
    let store = Arc::new(Store::open_in_memory().unwrap());
    stillwheel::demo::records(&store, jiff::Timestamp::UNIX_EPOCH).unwrap();
    store
}

fn begin(program: &Program) -> (String, Id) {
    let path = program.post("/sittings", &[("quick", "yes"), ("stand", "virtual"), ("operator", "Ada")]).location();
    let id = path.rsplit('/').next().unwrap().parse().unwrap();
    (path, id)
}

/// A page that listens to a sitting.
struct Listener {
    lines: BufReader<TcpStream>,
}

impl Listener {
    fn open(address: &str, path: &str, after: u32, last_id: Option<u32>) -> Self {
        let mut stream = TcpStream::connect(address).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
        let last = last_id.map_or_else(String::new, |id| format!("Last-Event-ID: {id}\r\n"));
        write!(stream, "GET {path}/live?after={after} HTTP/1.1\r\nHost: {address}\r\nAccept: text/event-stream\r\n{last}\r\n").unwrap();
        let mut lines = BufReader::new(stream);
        let mut head = String::new();
        while !head.ends_with("\r\n\r\n") {
            assert!(lines.read_line(&mut head).unwrap() > 0, "{head}");
        }
        assert!(head.starts_with("HTTP/1.1 200") && head.to_lowercase().contains("text/event-stream"), "{head}");
        Self { lines }
    }

    /// The next thing told: its kind, its number, its words.
    fn next(&mut self) -> (String, u32, String) {
        let (mut kind, mut id, mut data) = (String::new(), 0, String::new());
        loop {
            let mut line = String::new();
            assert!(self.lines.read_line(&mut line).unwrap() > 0, "the stream ended");
            match line.trim_end().split_once(": ") {
                Some(("event", text)) => text.clone_into(&mut kind),
                Some(("id", text)) => id = text.parse().unwrap(),
                Some(("data", text)) => text.clone_into(&mut data),
                _ => {}
            }
            if line.trim_end().is_empty() && !kind.is_empty() {
                return (kind, id, data);
            }
        }
    }
}

fn settle(program: &Program, path: &str, token: &str, after: u32, deg: &str) -> u16 {
    let after = after.to_string();
    let form = [("token", token), ("after_seq", &after), ("kind", "settle"), ("settle_deg", deg), ("sd_deg", "3.5")];
    program.post(&format!("{path}/look"), &form).status
}

#[test]
fn two_devices_on_one_sitting_see_each_others_looks_each_once_and_in_order() {
    let (folder, program) = served();
    let (path, id) = begin(&program);
    let mut tablet = Listener::open(&program.address, &path, 0, None);
    assert_eq!(settle(&program, &path, "a", 0, "100"), 303);
    let (kind, seq, data) = tablet.next();
    assert_eq!((kind.as_str(), seq), ("stored", 1));
    assert!(data.contains("Settled with 100° at the bottom") && data.contains("\"who\":\"\""), "{data}");
    // A look from a page that had not seen the first: another's look leaves the weights where they are, so both stand.
    assert_eq!(settle(&program, &path, "b", 0, "104"), 303);
    assert_eq!(tablet.next().1, 2);
    // The tablet sleeps; three more are stored, one of them by another program; it wakes and says what it had.
    drop(tablet);
    let other = Store::open(folder.path().join("records.db")).unwrap();
    let note = |token: &str, after_seq| NewEvent {
        token: token.into(),
        after_seq,
        kind: EventKind::Note,
        body: serde_json::json!({"text": "from the desk"}),
        by: By::now("Bo"),
    };
    assert_eq!(settle(&program, &path, "c", 2, "108"), 303);
    other.append(&id, &note("d", 3)).unwrap();
    assert_eq!(settle(&program, &path, "e", 4, "112"), 303);
    let mut tablet = Listener::open(&program.address, &path, 0, Some(2));
    assert_eq!([tablet.next().1, tablet.next().1, tablet.next().1], [3, 4, 5]);
    // What another program stores is seen too, if a little later.
    other.append(&id, &note("f", 5)).unwrap();
    let (_, seq, data) = tablet.next();
    assert!(seq == 6 && data.contains("from the desk") && data.contains("\"who\":\"Bo\""), "{data}");
    let events = other.events(&id).unwrap();
    assert_eq!(events.iter().map(|e| e.token.as_str()).collect::<Vec<_>>(), ["a", "b", "c", "d", "e", "f"], "none is lost");
    // Of eight that press at the same moment, all are stored and all are told, once each.
    std::thread::scope(|scope| {
        for n in 0..8 {
            let (program, path) = (&program, &path);
            scope.spawn(move || assert_eq!(settle(program, path, &format!("at-once-{n}"), 6, "100"), 303));
        }
    });
    let told: Vec<u32> = (0..8).map(|_| tablet.next().1).collect();
    assert_eq!(told, (7..15).collect::<Vec<_>>());
    let page = program.get(&path).text();
    assert!(page.contains(&format!("data-sitting=\"{path}\" data-seq=\"14\"")), "the page says where it stands");
    assert_eq!(get(&program.address, "/sittings/0000000000000000/live").unwrap().status, 404);
}

#[test]
fn a_page_that_listens_is_told_when_the_records_are_taken_back() {
    let (_folder, program) = served();
    let (path, _) = begin(&program);
    assert_eq!(settle(&program, &path, "a", 0, "100"), 303);
    let made = PageForm::holding(&program.get("/records/backups").text(), "Back up now").unwrap().send(&program).text();
    let name = made.split("_by-hand.db").next().unwrap().rsplit('>').next().unwrap().to_owned() + "_by-hand.db";
    assert_eq!(settle(&program, &path, "b", 1, "100"), 303);
    let mut tablet = Listener::open(&program.address, &path, 2, None);
    assert_eq!(program.post("/records/backups/restore", &[("name", &name), ("sure", "yes")]).status, 200);
    let (kind, seq, _) = tablet.next();
    assert_eq!((kind.as_str(), seq), ("anew", 1));
}

#[test]
fn every_page_is_free_of_inline_scripts_styles_and_handlers_and_says_so_in_its_headers() {
    let (folder, program) = served();
    let (path, id) = begin(&program);
    settle(&program, &path, "a", 0, "100");
    let store = Store::open(folder.path().join("records.db")).unwrap();
    let mut pages = 0;
    for route in routes("get(", &store, &id) {
        if route.ends_with("/live") {
            continue;
        }
        let answer = program.get(&route);
        let policy = answer.header("content-security-policy").unwrap_or_else(|| panic!("{route} has no policy")).to_owned();
        assert!(policy.contains("default-src 'self'") && !policy.contains("unsafe"), "{route}: {policy}");
        for (name, value) in [("x-content-type-options", "nosniff"), ("x-frame-options", "DENY"), ("referrer-policy", "same-origin")] {
            assert_eq!(answer.header(name), Some(value), "{route}");
        }
        assert!(answer.status < 500, "{route}: {}", answer.status);
        if !answer.header("content-type").is_some_and(|t| t.starts_with("text/html")) {
            continue;
        }
        pages += 1;
        let text = answer.text();
        for script in text.split("<script").skip(1) {
            assert!(script.starts_with(" type=\"module\" src=\"/assets/"), "{route}: {}", &script[..script.len().min(80)]);
            assert!(script.split_once('>').unwrap().1.starts_with("</script>"), "{route}: a script with text in it");
        }
        assert!(!text.contains("<style") && !text.contains(" style=\"") && !text.contains("javascript:"), "{route}");
        for tag in text.split('<').filter_map(|t| t.split('>').next()) {
            let handler = tag.split("\" ").chain(tag.split_once(' ').map(|t| t.1)).any(|a| a.starts_with("on") && a.contains("=\""));
            assert!(!handler, "{route}: {tag}");
        }
    }
    assert!(pages >= 15, "{pages} pages");
}

/// A body with its content type.
fn rubbish() -> Vec<(&'static str, &'static str, Vec<u8>)> {
    const FORM: &str = "application/x-www-form-urlencoded";
    let deep = [vec![b'['; 200_000], vec![b']'; 200_000]].concat();
    vec![
        ("nothing", "", vec![]),
        ("an empty form", FORM, vec![]),
        ("no form", FORM, b"\xff\xfe\x00%zz&&==&a=%ff%00".to_vec()),
        ("a form of another page", FORM, b"a=1&b=2&token=&after_seq=-1&revision=x&name=%00".to_vec()),
        ("numbers that are none", FORM, b"token=t&after_seq=99999999999999999999&kind=settle&settle_deg=1e999&sd_deg=NaN".to_vec()),
        (
            "ten thousand fields",
            FORM,
            (0..10_000)
                .fold(String::new(), |mut s, n| {
                    let _ = write!(s, "f{n}=1&");
                    s
                })
                .into_bytes(),
        ),
        ("a very long field", FORM, [b"name=".to_vec(), vec![b'x'; 1_000_000]].concat()),
        ("deep JSON", "application/json", deep),
        ("cut JSON", "application/json", b"{\"a\": [1, 2".to_vec()),
        ("a multipart without its boundary", "multipart/form-data", b"--x\r\n\r\n".to_vec()),
        (
            "a cut multipart",
            "multipart/form-data; boundary=x",
            b"--x\r\nContent-Disposition: form-data; name=\"file\"; filename=\"a\"\r\n\r\nabc".to_vec(),
        ),
        ("a multipart of rubbish", "multipart/form-data; boundary=x", b"--x\r\n\xff\xff: \xff\r\n\r\n\x00--x--".to_vec()),
    ]
}

fn send(address: &str, path: &str, content_type: &str, length: usize, body: &[u8]) -> u16 {
    let mut stream = TcpStream::connect(address).unwrap();
    stream.set_read_timeout(Some(Duration::from_mins(1))).unwrap();
    let kind = if content_type.is_empty() { String::new() } else { format!("Content-Type: {content_type}\r\n") };
    let head = format!("POST {path} HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n{kind}Content-Length: {length}\r\n\r\n");
    stream.write_all(head.as_bytes()).unwrap();
    // Refused while it is still sent: then the answer counts.
    let mut left = length;
    while left > 0 {
        let chunk = &body[..body.len().min(left)];
        if chunk.is_empty() || stream.write_all(chunk).is_err() {
            break;
        }
        left -= chunk.len();
    }
    let mut raw = Vec::new();
    let _ = stream.read_to_end(&mut raw);
    let head = String::from_utf8_lossy(&raw[..raw.len().min(40)]).into_owned();
    head.split(' ').nth(1).and_then(|s| s.parse().ok()).unwrap_or_else(|| panic!("{path}: no answer but {head:?}"))
}

#[test]
fn rubbish_on_every_post_route_is_refused_or_changes_nothing_it_should_not_and_breaks_nothing() {
    let (folder, program) = served();
    let (path, id) = begin(&program);
    let store = Store::open(folder.path().join("records.db")).unwrap();
    let mut seen = HashSet::new();
    for route in routes("post(", &store, &id) {
        for route in [route.clone(), route.replace(id.as_str(), "no-id")] {
            if !seen.insert(route.clone()) {
                continue;
            }
            for (what, content_type, body) in rubbish() {
                let status = send(&program.address, &route, content_type, body.len(), &body);
                // Acts without a form (making a backup, hiding a record) are done whatever stands in the body.
                assert!(status < 500, "{what} to {route}: {status}");
            }
        }
    }
    assert!(store.events(&id).unwrap().is_empty(), "no rubbish became a look");
    store.verify().unwrap();
    assert_eq!(program.get(&path).status, 200);
}

#[test]
fn a_body_over_the_limit_is_refused_on_every_post_route() {
    let (folder, program) = served();
    let (_, id) = begin(&program);
    let store = Store::open(folder.path().join("records.db")).unwrap();
    let before = store.export().unwrap();
    let chunk = vec![b'a'; 1 << 20];
    for route in routes("post(", &store, &id) {
        for content_type in ["application/x-www-form-urlencoded", "application/json", "multipart/form-data; boundary=x"] {
            // 12 MiB are allowed, 64 MiB for an import.
            let length = if route == "/records/import" { 65 << 20 } else { 13 << 20 };
            let status = send(&program.address, &route, content_type, length, &chunk);
            assert!((300..500).contains(&status) || route.ends_with("backups"), "{content_type} to {route}: {status}");
        }
    }
    // Only what has no form went through: the rotor was hidden. Everything else is as it was.
    let after = store.export().unwrap();
    assert_eq!(after.sittings, before.sittings);
    assert!(after.revisions.len() <= before.revisions.len() + 1);
    #[cfg(target_os = "linux")]
    {
        let status = std::fs::read_to_string(format!("/proc/{}/status", program.process.id())).unwrap();
        let peak = status.lines().find(|l| l.starts_with("VmHWM:")).unwrap().split_whitespace().nth(1).unwrap();
        let peak = peak.parse::<f64>().unwrap() / 1024.0;
        assert!(peak < 300.0, "{peak} MB");
    }
}

#[test]
fn five_hundred_clients_at_once_are_all_answered() {
    let (_folder, program) = served();
    let address: SocketAddr = program.address.parse().unwrap();
    let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(1).enable_all().build().unwrap();
    let begun = Instant::now();
    let answered = runtime.block_on(async {
        let barrier = Arc::new(tokio::sync::Barrier::new(500));
        let clients: Vec<_> = (0..500)
            .map(|n| {
                let barrier = barrier.clone();
                tokio::spawn(async move {
                    let mut stream = tokio::net::TcpStream::connect(address).await.unwrap();
                    // All are connected before the first one asks.
                    barrier.wait().await;
                    let page = ["/", "/rotors", "/help", "/stands", "/assets/app.css"][n % 5];
                    let ask = format!("GET {page} HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\r\n");
                    stream.write_all(ask.as_bytes()).await.unwrap();
                    let mut raw = Vec::new();
                    stream.read_to_end(&mut raw).await.unwrap();
                    raw.starts_with(b"HTTP/1.1 200") && raw.len() > 1000
                })
            })
            .collect();
        let mut answered = 0;
        for client in clients {
            answered += usize::from(client.await.unwrap());
        }
        answered
    });
    assert_eq!(answered, 500);
    assert!(begun.elapsed() < Duration::from_secs(30), "{:?}", begun.elapsed());
    println!("500 clients: {:?}", begun.elapsed());
}

/// Peers that open connections and send a byte now and then, or nothing, must not keep others out nor be kept for ever.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn dribbling_peers_are_cut_off_and_keep_nobody_out() {
    let limits = Limits { head: Duration::from_millis(1500), request: Duration::from_secs(2) };
    let app = App::new(Bench::new(shop_in_memory()), None, false).with_limits(limits);
    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).unwrap();
    let address = listener.local_addr().unwrap();
    let handle = Handle::new();
    let server = tokio::spawn(serve_on(listener, app, handle.clone()));
    let head = format!(
        "POST /settings HTTP/1.1\r\nHost: {address}\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: 5000\r\n\r\n"
    );
    // What is sent at once; what is dribbled after it.
    let peers = [
        ("nothing at all", String::new(), ""),
        ("a head that never ends", "GET / HTTP/1.1\r\n".to_owned(), "X-A: b\r\n"),
        ("a byte of the head now and then", String::new(), "G"),
        ("a body that never ends", head, "a"),
        ("a second request that never comes", format!("GET /help HTTP/1.1\r\nHost: {address}\r\n\r\n"), ""),
    ];
    let begun = Instant::now();
    let mut dribblers = Vec::new();
    for n in 0..300 {
        let (what, first, then) = peers[n % peers.len()].clone();
        dribblers.push(tokio::spawn(async move {
            let mut stream = tokio::net::TcpStream::connect(address).await.unwrap();
            let _ = stream.write_all(first.as_bytes()).await;
            let (mut from, mut to) = stream.into_split();
            let dribble = async {
                while to.write_all(then.as_bytes()).await.is_ok() {
                    tokio::time::sleep(Duration::from_millis(100)).await;
                }
            };
            let cut = async {
                let mut raw = Vec::new();
                let _ = from.read_to_end(&mut raw).await;
            };
            tokio::select! { () = cut => {}, () = dribble => {} }
            (what, begun.elapsed())
        }));
    }
    // Meanwhile an honest one is served.
    for _ in 0..10 {
        let asked = Instant::now();
        let answer = tokio::task::spawn_blocking(move || get(&address.to_string(), "/help")).await.unwrap().unwrap();
        assert_eq!(answer.status, 200);
        assert!(asked.elapsed() < Duration::from_secs(2), "{:?}", asked.elapsed());
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    for dribbler in dribblers {
        let cut = tokio::time::timeout(Duration::from_secs(20), dribbler).await;
        let (what, after) = cut.expect("every dribbler is cut off").unwrap();
        assert!(after < Duration::from_secs(12), "{what}: cut off only after {after:?}");
    }
    for _ in 0..100 {
        if handle.connection_count() == 0 {
            break;
        }
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
    assert_eq!(handle.connection_count(), 0, "no connection is left behind");
    handle.shutdown();
    server.await.unwrap().unwrap();
}

#[test]
fn another_sites_page_can_write_on_no_route() {
    let (folder, program) = served();
    let (_, id) = begin(&program);
    let store = Store::open(folder.path().join("records.db")).unwrap();
    let before = store.export().unwrap();
    for route in routes("post(", &store, &id) {
        for foreign in ["Origin: http://elsewhere.example", "Origin: null", "Sec-Fetch-Site: cross-site"] {
            let mut stream = TcpStream::connect(&program.address).unwrap();
            let head = format!(
                "POST {route} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n{foreign}\r\nContent-Length: 0\r\n\r\n",
                program.address
            );
            stream.write_all(head.as_bytes()).unwrap();
            let mut raw = String::new();
            let _ = stream.read_to_string(&mut raw);
            assert!(raw.starts_with("HTTP/1.1 403"), "{foreign} to {route}: {raw}");
        }
    }
    assert_eq!(store.export().unwrap(), before);
    assert!(post(&program.address, "/settings", &[]).unwrap().status < 400, "our own pages write");
}
