//! The real program as another process, and a plain HTTP client without cookies, scripts or redirects.

#![allow(dead_code, reason = "each test uses its own part of this file")]
#![allow(unreachable_pub, missing_docs, reason = "test support")]

use std::fmt::Write as _;
use std::io::{BufRead, BufReader, Error, ErrorKind, Read, Result, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, ExitStatus, Stdio};
use std::time::Duration;
use stillwheel_store::{Id, Machine, Rotor, Stand, Store};

/// Longest wait for an answer; a test that waits longer has found a fault.
const PATIENCE: Duration = Duration::from_mins(1);

/// `stillwheel serve` or `demo` on a free port, killed with the test.
pub struct Program {
    pub process: Child,
    /// `127.0.0.1:PORT`.
    pub address: String,
}

impl Program {
    /// Serve these records.
    pub fn serve(records: &Path) -> Self {
        let mut command = Command::new(assert_cmd::cargo::cargo_bin("stillwheel"));
        command.args(["serve", "--port", "0", "--db"]).arg(records);
        Self::start(command)
    }

    /// The demo shop.
    pub fn demo() -> Self {
        let mut command = Command::new(assert_cmd::cargo::cargo_bin("stillwheel"));
        command.args(["demo", "--port", "0"]);
        Self::start(command)
    }

    /// Any command that ends up as the program; waits until it prints its address.
    pub fn start(mut command: Command) -> Self {
        let mut process = command.stdout(Stdio::piped()).spawn().expect("the program starts");
        let mut lines = BufReader::new(process.stdout.take().expect("it is piped")).lines();
        let first = lines.next().unwrap_or_else(|| panic!("the program ended: {:?}", process.wait())).expect("text");
        let address = first.split("http://").nth(1).expect("the first line holds the address").trim_end_matches('/').to_owned();
        // The rest is read too, or the program would meet a closed pipe.
        std::thread::spawn(move || for _ in lines {});
        Self { process, address }
    }

    /// SIGKILL, and wait for the end.
    pub fn kill(mut self) -> ExitStatus {
        self.process.kill().expect("it can be killed");
        self.process.wait().expect("it ends")
    }

    pub fn get(&self, path: &str) -> Answer {
        get(&self.address, path).unwrap_or_else(|e| panic!("GET {path}: {e}"))
    }

    pub fn post(&self, path: &str, form: &[(&str, &str)]) -> Answer {
        post(&self.address, path, form).unwrap_or_else(|e| panic!("POST {path}: {e}"))
    }
}

impl Drop for Program {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

/// A whole answer: one cut short by the server's death is an error.
pub struct Answer {
    pub status: u16,
    pub head: String,
    pub bytes: Vec<u8>,
}

impl Answer {
    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.bytes).into_owned()
    }

    pub fn header(&self, name: &str) -> Option<&str> {
        self.head.lines().filter_map(|l| l.split_once(':')).find(|h| h.0.eq_ignore_ascii_case(name)).map(|h| h.1.trim())
    }

    /// Where a redirect leads.
    pub fn location(&self) -> String {
        assert_eq!(self.status, 303, "{}", self.text());
        self.header("location").expect("a redirect says where to").to_owned()
    }
}

pub fn get(address: &str, path: &str) -> Result<Answer> {
    send(address, &format!("GET {path} HTTP/1.1\r\n"), "", b"")
}

/// A form as a page without scripts sends it.
pub fn post(address: &str, path: &str, form: &[(&str, &str)]) -> Result<Answer> {
    let body: Vec<String> = form.iter().map(|(k, v)| format!("{}={}", escaped(k), escaped(v))).collect();
    send(address, &format!("POST {path} HTTP/1.1\r\n"), "application/x-www-form-urlencoded", body.join("&").as_bytes())
}

/// A form with one file, as a page without scripts sends it.
pub fn post_file(address: &str, path: &str, form: &[(&str, &str)], name: &str, file: &[u8]) -> Result<Answer> {
    const BOUNDARY: &str = "stillwheel-boundary-of-the-tests";
    let mut body = String::new();
    for (k, v) in form {
        let _ = write!(body, "--{BOUNDARY}\r\nContent-Disposition: form-data; name=\"{k}\"\r\n\r\n{v}\r\n");
    }
    let _ = write!(body, "--{BOUNDARY}\r\nContent-Disposition: form-data; name=\"{name}\"; filename=\"file\"\r\n\r\n");
    let mut bytes = body.into_bytes();
    bytes.extend_from_slice(file);
    bytes.extend_from_slice(format!("\r\n--{BOUNDARY}--\r\n").as_bytes());
    send(address, &format!("POST {path} HTTP/1.1\r\n"), &format!("multipart/form-data; boundary={BOUNDARY}"), &bytes)
}

pub fn post_json(address: &str, path: &str, json: &[u8]) -> Result<Answer> {
    send(address, &format!("POST {path} HTTP/1.1\r\n"), "application/json", json)
}

fn send(address: &str, line: &str, content_type: &str, body: &[u8]) -> Result<Answer> {
    let mut stream = TcpStream::connect(address)?;
    stream.set_read_timeout(Some(PATIENCE))?;
    stream.set_nodelay(true)?;
    let mut head = format!("{line}Host: {address}\r\nConnection: close\r\n");
    if !content_type.is_empty() {
        let _ = write!(head, "Content-Type: {content_type}\r\nContent-Length: {}\r\n", body.len());
    }
    let mut request = format!("{head}\r\n").into_bytes();
    request.extend_from_slice(body);
    // A server that refuses a large body answers and closes before it is all sent: then the answer counts.
    let sent = stream.write_all(&request);
    let mut raw = Vec::new();
    let read = stream.read_to_end(&mut raw);
    match answer(raw) {
        Ok(answer) => Ok(answer),
        Err(e) => sent.and(read.map(|_| ())).and(Err(e)),
    }
}

fn answer(raw: Vec<u8>) -> Result<Answer> {
    let cut = || Error::new(ErrorKind::UnexpectedEof, "the answer was cut short");
    let end = raw.windows(4).position(|w| w == b"\r\n\r\n").ok_or_else(cut)?;
    let head = String::from_utf8_lossy(&raw[..end]).into_owned();
    let status = head.split(' ').nth(1).and_then(|s| s.parse().ok()).ok_or_else(cut)?;
    let mut answer = Answer { status, head, bytes: raw[end + 4..].to_vec() };
    if answer.header("transfer-encoding").is_some_and(|t| t.eq_ignore_ascii_case("chunked")) {
        answer.bytes = unchunked(&answer.bytes).ok_or_else(cut)?;
    } else if let Some(length) = answer.header("content-length").and_then(|l| l.parse::<usize>().ok())
        && answer.bytes.len() < length
    {
        return Err(cut());
    }
    Ok(answer)
}

fn unchunked(mut raw: &[u8]) -> Option<Vec<u8>> {
    let mut out = Vec::new();
    loop {
        let end = raw.windows(2).position(|w| w == b"\r\n")?;
        let size = usize::from_str_radix(std::str::from_utf8(&raw[..end]).ok()?.trim(), 16).ok()?;
        raw = &raw[end + 2..];
        if size == 0 {
            return Some(out);
        }
        out.extend_from_slice(raw.get(..size)?);
        raw = raw.get(size + 2..)?;
    }
}

fn escaped(text: &str) -> String {
    text.bytes().map(|b| if b.is_ascii_alphanumeric() { char::from(b).to_string() } else { format!("%{b:02X}") }).collect()
}

/// A form of a page: where it is sent and what it sends if nobody changes it.
pub struct PageForm {
    pub action: String,
    pub fields: Vec<(String, String)>,
}

impl PageForm {
    /// The form of `page` that holds this text (a button's words, a hidden value); as a browser without scripts reads it.
    pub fn holding(page: &str, text: &str) -> Option<Self> {
        let form = page.split("<form").skip(1).map(|f| f.split("</form>").next().unwrap_or(f)).find(|f| f.contains(text))?;
        let open = form.split('>').next()?;
        let inputs = form.split("<input").skip(1).map(|i| i.split('>').next().unwrap_or(i));
        let mut fields: Vec<(String, String)> = inputs
            .filter(|i| !i.contains("type=\"checkbox\"") || i.contains(" checked"))
            .filter_map(|i| Some((attribute(i, "name")?, attribute(i, "value").unwrap_or_default())))
            .collect();
        for select in form.split("<select").skip(1).map(|s| s.split("</select>").next().unwrap_or(s)) {
            let options = || select.split("<option").skip(1).map(|o| o.split('>').next().unwrap_or(o));
            let chosen = options().find(|o| o.contains(" selected")).or_else(|| options().next());
            if let (Some(name), Some(value)) = (attribute(select, "name"), chosen.and_then(|o| attribute(o, "value"))) {
                fields.push((name, value));
            }
        }
        Some(Self { action: attribute(open, "action")?, fields })
    }

    /// Type into a field of the form.
    pub fn fill(mut self, name: &str, text: &str) -> Self {
        let field = self.fields.iter_mut().find(|f| f.0 == name).unwrap_or_else(|| panic!("no field {name} to type into"));
        text.clone_into(&mut field.1);
        self
    }

    /// Press its button.
    pub fn send(&self, program: &Program) -> Answer {
        let fields: Vec<(&str, &str)> = self.fields.iter().map(|(k, v)| (k.as_str(), v.as_str())).collect();
        program.post(&self.action, &fields)
    }
}

fn attribute(tag: &str, name: &str) -> Option<String> {
    let raw = tag.split(&format!(" {name}=\"")).nth(1)?.split('"').next()?;
    Some(raw.replace("&quot;", "\"").replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&"))
}

/// Addresses of the program's own route table with these words in their handlers, each with ids of things that are there.
pub fn routes(with: &str, store: &Store, sitting: &Id) -> Vec<String> {
    let table = include_str!("../../src/web/mod.rs");
    let rotor = store.list::<Rotor>().unwrap()[0].id.to_string();
    let stand = store.list::<Stand>().unwrap()[0].id.to_string();
    let machine = store.list::<Machine>().unwrap()[0].id.to_string();
    let found: Vec<String> = table
        .split(".route(\"")
        .skip(1)
        .map(|route| route.split_once("\",").expect("an address and its handlers"))
        .filter(|(_, rest)| rest.split(".route").next().is_some_and(|handlers| handlers.contains(with)))
        .map(|(path, _)| {
            let id = if path.starts_with("/sittings") { sitting.as_str() } else { rotor.as_str() };
            let id = if path.starts_with("/stands") { stand.as_str() } else { id };
            let id = if path.starts_with("/grinder/machines") { machine.as_str() } else { id };
            path.replace("{id}", id)
                .replace("{kind}", "rotors")
                .replace("{act}", "look")
                .replace("{seq}", "1")
                .replace("{key}", "arbor")
                .replace("{piece}", "1")
                .replace("{file}", "a4.pdf")
                .replace("{name}", "allowance")
                .replace("{*path}", "app.css")
        })
        .collect();
    assert!(found.len() >= 15, "the route table reads otherwise now: {found:?}");
    found
}
