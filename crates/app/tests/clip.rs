//! The clip page in a real browser at phone size: known clips to a look, plain http, odd and broken files.

#[path = "../../../reference/check.rs"]
mod check;
mod chromium;

use check::{Kind, Tolerance};
use chromium::{Driver, PHONE, browser, serve};
use serde_json::{Value, json};
use std::net::Ipv4Addr;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;
use stillwheel::sitting::Bench;
use stillwheel::web::App;
use stillwheel_store::{By as Who, Id, Snapshot, Stand, StandKind, Store};
use thirtyfour::prelude::*;

/// Goals of the method for a clip of ¾ of a swing and 20° or more: bias and scatter of the angles, size, direction.
const BIAS_DEG: f64 = 0.3;
const SD_DEG: f64 = 0.4;
const SIZE: f64 = 0.01;
const DIRECTION_DEG: f64 = 1.0;

/// A name that is no loopback name to the browser, so that the page is an insecure one as on the shop's network.
const PLAIN_HOST: &str = "stand.test";

/// A shop with its server and a phone.
struct Shop {
    web: WebDriver,
    store: Arc<Store>,
    port: u16,
    driver: Driver,
    _folder: tempfile::TempDir,
    _alone: tokio::sync::MutexGuard<'static, ()>,
}

/// The player shows a clip at its own pace: with other tests beside it on the same processor it would drop pictures.
static ALONE: tokio::sync::Mutex<()> = tokio::sync::Mutex::const_new(());

impl Shop {
    async fn open(code: Option<&str>) -> Self {
        let alone = ALONE.lock().await;
        let folder = tempfile::tempdir().unwrap();
        let store = Arc::new(Store::open(folder.path().join("records.db")).unwrap());
        stillwheel::demo::records(&store, jiff::Timestamp::now()).unwrap();
        let app = App::new(Bench::new(store.clone()), code.map(str::to_owned), true);
        let port = serve(app).await.port();
        let resolve = format!("--host-resolver-rules=MAP {PLAIN_HOST} 127.0.0.1");
        let (driver, web) = browser(PHONE, &folder.path().join("profile"), &[&resolve]).await;
        web.set_script_timeout(Duration::from_mins(3)).await.unwrap();
        Self { web, store, port, driver, _folder: folder, _alone: alone }
    }

    /// A sitting on a real air stand, of a rotor with this inertia and one drop of uncertainty.
    async fn sitting(&self, inertia_kg_m2: f64) -> Id {
        let form = new_sitting_address(self.port).await;
        let id: Id = form.rsplit('/').next().unwrap().parse().unwrap();
        let mut start = self.store.sitting(&id).unwrap().start;
        assert_eq!(start.stand.body.kind, StandKind::AirSaddles);
        // What a sitting starts from must be in the store as it is.
        let stand = Stand { virtual_seed: None, drift_sd_g_mm: 10.0, ..start.stand.body.clone() };
        let mut rotor = start.rotor.body.clone();
        (rotor.inertia_kg_m2, rotor.inertia_rel_sd, rotor.expected_unbalance_g_mm) = (inertia_kg_m2, 0.001, Some(300.0));
        let by = Who::now("Ada");
        let (stand, rotor) = (self.store.put(&stand, &by).unwrap(), self.store.put(&rotor, &by).unwrap());
        start.stand = Snapshot { id: stand.id, revision: stand.revision, body: stand.body };
        start.rotor = Snapshot { id: rotor.id, revision: rotor.revision, body: rotor.body };
        self.store.new_sitting(&start).unwrap().id
    }

    async fn clip_page(&self, host: &str, id: &Id) {
        self.web.goto(format!("http://{host}:{}/sittings/{id}/clip", self.port)).await.unwrap();
    }

    /// Run a script with `await` in it; a fault in it is the test's.
    async fn run(&self, script: &str, args: Vec<Value>) -> Value {
        let whole = format!(
            "const done = arguments[arguments.length - 1]; const args = [...arguments].slice(0, -1);
             (async () => {{ {script} }})().then((v) => done({{ ok: v ?? null }}), (e) => done({{ thrown: String(e.stack || e) }}));"
        );
        let out = self.web.execute_async(whole, args).await.unwrap();
        assert!(out.json()["thrown"].is_null(), "{}", out.json()["thrown"]);
        out.json()["ok"].clone()
    }

    /// Wait until a script's condition holds.
    async fn until(&self, condition: &str, seconds: u64) {
        for _ in 0..seconds * 10 {
            if self.web.execute(format!("return Boolean({condition})"), vec![]).await.unwrap().json() == &json!(true) {
                return;
            }
            tokio::time::sleep(Duration::from_millis(100)).await;
        }
        let page = self.web.find(By::Tag("main")).await.unwrap().text().await.unwrap();
        panic!("not within {seconds} s: {condition}\n{page}");
    }

    async fn choose(&self, file: &Path) {
        self.web.find(By::Id("clip-file")).await.unwrap().send_keys(file.to_str().unwrap()).await.unwrap();
    }

    async fn click(&self, css: &str) {
        let e = self.web.find(By::Css(css)).await.unwrap();
        e.scroll_into_view().await.unwrap();
        e.click().await.unwrap();
    }

    /// Codes of the messages on the page.
    async fn messages(&self) -> Vec<String> {
        let out =
            self.web.execute("return [...document.querySelectorAll('[data-code]')].map((e) => e.dataset.code)", vec![]).await.unwrap();
        serde_json::from_value(out.json().clone()).unwrap()
    }

    /// The log that the page would hand in.
    async fn log(&self) -> Value {
        let out = self.web.execute("return document.getElementById('clip-log').value", vec![]).await.unwrap();
        serde_json::from_str(out.json().as_str().unwrap()).expect("the tracked log")
    }

    /// Memory of the browser's processes together, MB: all descendants of its driver, by Linux's process tables.
    fn browser_mb(&self) -> f64 {
        let field =
            |text: &str, name: &str| text.lines().find_map(|l| l.strip_prefix(name)?.split_whitespace().next()?.parse::<u64>().ok());
        let all: Vec<(u64, u64, u64)> = std::fs::read_dir("/proc")
            .unwrap()
            .filter_map(|e| {
                let e = e.ok()?;
                let pid = e.file_name().to_str()?.parse().ok()?;
                let status = std::fs::read_to_string(e.path().join("status")).ok()?;
                Some((pid, field(&status, "PPid:")?, field(&status, "VmRSS:").unwrap_or(0)))
            })
            .collect();
        let mut family = vec![u64::from(self.driver.id())];
        for _ in 0..6 {
            let more: Vec<u64> = all.iter().filter(|p| family.contains(&p.1) && !family.contains(&p.0)).map(|p| p.0).collect();
            family.extend(more);
        }
        all.iter().filter(|p| family.contains(&p.0)).map(|p| p.2 as f64 / 1024.0).sum()
    }

    async fn fits_a_phone(&self) {
        let width: f64 = self.web.execute("return document.documentElement.scrollWidth", vec![]).await.unwrap().convert().unwrap();
        assert!(width <= 390.0, "the page is {width} px wide");
        for e in self.web.find_all(By::Css("main button, main summary, main label.pick")).await.unwrap() {
            if e.is_displayed().await.unwrap() {
                let r = e.rect().await.unwrap();
                assert!(r.height >= 48.0, "{} px high: {}", r.height, e.text().await.unwrap());
            }
        }
    }
}

/// Address of a new sitting made over HTTP, as the bench page's button does.
async fn new_sitting_address(port: u16) -> String {
    use tokio::io::{AsyncReadExt, AsyncWriteExt};
    let mut s = tokio::net::TcpStream::connect((Ipv4Addr::LOCALHOST, port)).await.unwrap();
    let body = "quick=yes&stand=virtual&operator=Ada";
    let head = format!(
        "POST /sittings HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nConnection: close\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: {}\r\n\r\n{body}",
        body.len()
    );
    s.write_all(head.as_bytes()).await.unwrap();
    let mut answer = String::new();
    s.read_to_string(&mut answer).await.unwrap();
    let line = answer.lines().find(|l| l.to_ascii_lowercase().starts_with("location:")).unwrap_or_else(|| panic!("{answer}"));
    line.split_once(':').unwrap().1.trim().to_owned()
}

fn reference(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../reference/clips").join(name).canonicalize().unwrap()
}

fn numbers(v: &Value) -> Vec<f64> {
    v.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect()
}

fn truth(name: &str) -> Value {
    serde_json::from_slice(&std::fs::read(reference(name)).unwrap()).unwrap()
}

fn wrapped(deg: f64) -> f64 {
    (deg + 180.0).rem_euclid(360.0) - 180.0
}

/// Bias and scatter of a tracked log against the truth's angle at the nearest time, and how many pictures gave an angle.
fn judged(log: &Value, truth: &Value) -> (f64, f64, usize) {
    let (times, angles) = (numbers(&truth["time_s"]), numbers(&truth["angle_deg"]));
    let off: Vec<f64> = numbers(&log["t_s"])
        .iter()
        .zip(numbers(&log["angle_deg"]))
        .map(|(t, a)| {
            let k = times.partition_point(|x| x + 0.005 < *t);
            assert!((times[k] - t).abs() < 0.005, "no picture at {t} s");
            wrapped(a - angles[k])
        })
        .collect();
    let bias = off.iter().sum::<f64>() / off.len() as f64;
    let sd = (off.iter().map(|o| (o - bias).powi(2)).sum::<f64>() / off.len() as f64).sqrt();
    (bias, sd, off.len())
}

/// From the file to the tracked log, by the page's own buttons; `swap`: the finder called the other dot A.
async fn track(shop: &Shop, clip: &Path, swap: bool, place_a: &str) {
    track_and_say(shop, clip, swap, place_a, &[]).await;
}

/// The same where something is to be said about it.
async fn track_and_say(shop: &Shop, clip: &Path, swap: bool, place_a: &str, says: &[&str]) {
    shop.choose(clip).await;
    shop.until("document.getElementById('clip-state').textContent.includes('Check each point')", 60).await;
    let found = shop.web.find(By::Id("clip-state")).await.unwrap().text().await.unwrap();
    assert!(found.contains("dot A, dot B, centre, mark 1, mark 2"), "{found}");
    if swap {
        shop.click("#clip-swap").await;
    }
    shop.fits_a_phone().await;
    shop.web.find(By::Id("clip-place_a")).await.unwrap().send_keys(place_a).await.unwrap();
    shop.click("#clip-follow").await;
    shop.until("document.getElementById('clip-log').value !== ''", 120).await;
    assert_eq!(shop.messages().await, says);
    shop.fits_a_phone().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_clip_becomes_a_look_within_the_goals_for_angle_size_and_direction() {
    let shop = Shop::open(None).await;
    for (clip, swap, least) in [("clip-a", false, 0.98), ("clip-b", true, 0.99)] {
        let truth = truth(&format!("{clip}.truth.json"));
        let inertia = truth["inertia_kg_m2"].as_f64().unwrap();
        let id = shop.sitting(inertia).await;
        shop.clip_page("127.0.0.1", &id).await;
        track(&shop, &reference(&format!("{clip}.mp4")), swap, "100").await;
        let log = shop.log().await;
        let (bias, sd, n) = judged(&log, &truth);
        println!("{clip}: {n} of {} pictures, bias {bias:.3}°, sd {sd:.3}°", truth["frames"]);
        assert!(n as f64 >= least * truth["frames"].as_f64().unwrap(), "{clip}: {n} angles");
        assert!(bias.abs() <= BIAS_DEG && sd <= SD_DEG, "{clip}: bias {bias}°, sd {sd}°");
        assert!(bias.abs() < 2.0 * log["common_sd_deg"].as_f64().unwrap(), "{clip}: bias {bias}° beyond what is stated");

        shop.click("#clip-store").await;
        shop.until("location.pathname.includes('/log/')", 30).await;
        let report = shop.web.find(By::Tag("main")).await.unwrap().text().await.unwrap();
        assert!(report.contains("Heavy side") && report.contains("Drag"), "{report}");
        assert!(shop.web.find(By::Css("svg[data-picture=log]")).await.is_ok());
        shop.fits_a_phone().await;
        let events = shop.store.events(&id).unwrap();
        assert_eq!(events.len(), 1);
        let reading = &events[0].body["look"]["reading"];
        // U = (U/J)·J, with J in g·mm·s²: kg·m² / g · 1e6.
        let g = truth["gravity"].as_f64().unwrap();
        let unbalance = reading["u_over_j_per_s2"].as_f64().unwrap() * inertia / g * 1e6;
        let size = unbalance / truth["unbalance_g_mm"].as_f64().unwrap() - 1.0;
        let heavy = wrapped(reading["heavy_deg"].as_f64().unwrap() - 100.0 - truth["heavy_side_from_dot_A_deg"].as_f64().unwrap());
        let (heavy_sd, size_sd) = (reading["heavy_sd_deg"].as_f64().unwrap(), reading["u_over_j_rel_sd"].as_f64().unwrap());
        println!("{clip}: U off by {:.2} % ± {:.2} %, heavy side by {heavy:.2}° ± {heavy_sd:.2}°", 100.0 * size, 100.0 * size_sd);
        assert!(size.abs() <= SIZE && heavy.abs() <= DIRECTION_DEG, "{clip}: {size}, {heavy}°");
        let row = |what: &str, expected: f64, got: f64, tolerance: Tolerance| {
            let source = format!("reference/clips/{clip}.truth.json: the motion that the clip was drawn from");
            check::row(&format!("CLIP-{}", &clip[5..]), what, Kind::ReferenceProgram, &source, expected, got, tolerance);
        };
        row("mean error of the tracked angles, degrees", 0.0, bias, Tolerance::Absolute(BIAS_DEG));
        row("scatter of the tracked angles, degrees", 0.0, sd, Tolerance::Absolute(SD_DEG));
        row("unbalance, g mm", truth["unbalance_g_mm"].as_f64().unwrap(), unbalance, Tolerance::Relative(SIZE));
        row("heavy side less its true angle, degrees", 0.0, heavy, Tolerance::Absolute(DIRECTION_DEG));
        assert!(size.abs() < 3.0 * size_sd && heavy.abs() < 3.0 * heavy_sd, "{clip}: beyond what is stated");
        // The log is kept with the look; the clip is not: a picture of it would be a thousand times as large.
        assert!(events[0].body["log"]["t_s"].as_array().is_some_and(|t| t.len() == n));
    }
    shop.web.clone().quit().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn on_plain_http_the_player_gives_the_angles() {
    // With a pairing code the server answers to any name; a foreign name must give the code, from this machine too.
    let shop = Shop::open(Some("12345678")).await;
    let truth = truth("clip-a.truth.json");
    let id = shop.sitting(truth["inertia_kg_m2"].as_f64().unwrap()).await;
    shop.web.goto(format!("http://{PLAIN_HOST}:{}/pair", shop.port)).await.unwrap();
    shop.web.find(By::Name("code")).await.unwrap().send_keys("12345678").await.unwrap();
    shop.click("main button[type=submit]").await;
    shop.until("!location.pathname.includes('pair')", 10).await;
    shop.clip_page(PLAIN_HOST, &id).await;
    assert_eq!(shop.run("return [isSecureContext, typeof VideoDecoder]", vec![]).await, json!([false, "undefined"]));
    track(&shop, &reference("clip-a.mp4"), false, "100").await;
    let (bias, sd, n) = judged(&shop.log().await, &truth);
    println!("player: {n} of {} pictures, bias {bias:.3}°, sd {sd:.3}°", truth["frames"]);
    assert!(n as f64 > 0.8 * truth["frames"].as_f64().unwrap(), "{n} angles");
    assert!(bias.abs() <= BIAS_DEG && sd <= SD_DEG, "bias {bias}°, sd {sd}°");
    shop.click("#clip-store").await;
    shop.until("location.pathname.includes('/log/')", 30).await;
    assert_eq!(shop.store.events(&id).unwrap().len(), 1);
    shop.web.clone().quit().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_recorders_webm_without_length_is_tracked_by_the_player_and_by_steps_where_it_tells_no_times() {
    let shop = Shop::open(None).await;
    let truth = truth("clip-a.truth.json");
    let id = shop.sitting(truth["inertia_kg_m2"].as_f64().unwrap()).await;
    // 15 s at 30 a second.
    let pictures = 450.0;
    for (way, says, least) in [("player", [].as_slice(), 0.7), ("steps", &["seek-times"], 0.95)] {
        shop.clip_page("127.0.0.1", &id).await;
        if way == "steps" {
            shop.run("delete HTMLVideoElement.prototype.requestVideoFrameCallback", vec![]).await;
        }
        track_and_say(&shop, &reference("clip-a-start.webm"), false, "100", says).await;
        let log = shop.log().await;
        let (bias, sd, n) = judged(&log, &truth);
        for (what, got, goal) in [("mean error", bias, BIAS_DEG), ("scatter", sd, SD_DEG)] {
            let source = "reference/clips/clip-a.truth.json: the motion that the clip was drawn from";
            let what = format!("WebM by {way}: {what} of the tracked angles, degrees");
            check::row("CLIP-a-webm", &what, Kind::ReferenceProgram, source, 0.0, got, Tolerance::Absolute(goal));
        }
        println!("webm by {way}: {n} of {pictures} pictures, bias {bias:.3}°, sd {sd:.3}°");
        assert!(n as f64 > least * pictures, "{way}: {n} angles");
        assert!(bias.abs() <= BIAS_DEG && sd <= SD_DEG, "{way}: bias {bias}°, sd {sd}°");
        // Where times are only those of the steps, the angles say so: the swing's fastest passage is 30° a second and more.
        let widest = numbers(&log["sd_deg"]).into_iter().fold(0.0, f64::max);
        assert_eq!(widest > 0.25, way == "steps", "{way}: {widest}°");
    }
    shop.web.clone().quit().await.unwrap();
}

/// Put a file made in the page into its input, as if it had been chosen.
const CHOOSE: &str = "const t = new DataTransfer(); t.items.add(file); const input = document.getElementById('clip-file'); input.files = t.files; input.dispatchEvent(new Event('change'));";
const MAKE: &str = include_str!("js/make_clip.js");

#[tokio::test(flavor = "multi_thread")]
async fn files_that_are_no_sound_clip_are_refused_in_words_and_the_page_goes_on() {
    let shop = Shop::open(None).await;
    let id = shop.sitting(0.0061).await;
    shop.clip_page("127.0.0.1", &id).await;
    let folder = tempfile::tempdir().unwrap();
    let whole = std::fs::read(reference("clip-a.mp4")).unwrap();
    let mut torn = whole.clone();
    // The pictures' bytes overwritten, the tables left: only the decoder can find it.
    let n = torn.len();
    for (i, b) in torn[n / 3..2 * n / 3].iter_mut().enumerate() {
        *b = (i * 37 % 251) as u8;
    }
    let png = [0x89, b'P', b'N', b'G', 13, 10, 26, 10, 0, 0, 0, 13, b'I', b'H', b'D', b'R'];
    for (name, bytes, codes) in [
        ("half.mp4", &whole[..n / 2], ["cut-short", "damaged"].as_slice()),
        ("picture.mp4", &png[..], &["a-picture"]),
        ("words.mp4", b"time,angle\n0,1\n1,2\n", &["not-a-clip"]),
        ("empty.mp4", b"", &["empty-file"]),
        ("torn.mp4", &torn, &["damaged", "cannot-decode", "no-dot", "stalled"]),
    ] {
        let path = folder.path().join(name);
        std::fs::write(&path, bytes).unwrap();
        shop.choose(&path).await;
        shop.until("document.querySelector('#clip-say [data-code]')", 40).await;
        let said = shop.messages().await;
        assert!(said.iter().any(|s| codes.contains(&s.as_str())), "{name}: {said:?}");
        shop.run("document.getElementById('clip-say').replaceChildren(); document.getElementById('clip-file').value = ''", vec![]).await;
    }
    // After all that a sound clip is still taken.
    track(&shop, &reference("clip-a.mp4"), false, "0").await;
    shop.web.clone().quit().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn clips_without_a_dot_mirrored_turned_large_and_long_are_told_or_tracked() {
    let shop = Shop::open(None).await;
    let id = shop.sitting(0.0061).await;
    shop.clip_page("127.0.0.1", &id).await;
    let ready = "document.getElementById('clip-state').textContent.includes('Check each point')";
    let make =
        |o: &str| format!("{MAKE} const file = await makeClip({{ phi: (t) => 30 + 75 * Math.cos((2 * Math.PI * t) / 6), {o} }}); {CHOOSE}");
    let times = |n: u32, fps: u32| format!("times: Array.from({{ length: {n} }}, (_, i) => i / {fps})");
    // Farthest that any angle lies from that of a dot drawn at `dot` degrees from the red one.
    let farthest = |log: &Value, dot: f64| {
        let swing = |t: f64| dot + 30.0 + 75.0 * (std::f64::consts::TAU * t / 6.0).cos();
        numbers(&log["t_s"]).iter().zip(numbers(&log["angle_deg"])).map(|(t, a)| wrapped(a - swing(*t)).abs()).fold(0.0, f64::max)
    };

    shop.run(&make(&format!("width: 640, height: 360, dots: false, {}", times(60, 30))), vec![]).await;
    shop.until("document.querySelector('#clip-say [data-code=no-dot]')", 60).await;
    shop.click("#clip-follow").await;
    assert_eq!(shop.messages().await, ["no-dot"]);

    // A phone held upright stores its pictures lying, with a turn; a front camera mirrors. Dot B is drawn 150° counter-clockwise
    // of dot A, and typed so.
    for (o, mirrored) in [("turn: 90", false), ("mirrored: true", true)] {
        shop.clip_page("127.0.0.1", &id).await;
        shop.run(&make(&format!("width: 640, height: 480, {o}, {}", times(120, 30))), vec![]).await;
        shop.until(ready, 60).await;
        for (field, deg) in [("clip-place_a", "0"), ("clip-place_b", "150")] {
            shop.web.find(By::Id(field)).await.unwrap().send_keys(deg).await.unwrap();
        }
        shop.click("#clip-follow").await;
        shop.until("!document.getElementById('clip-told').hidden", 60).await;
        assert_eq!(shop.messages().await.iter().any(|s| s == "mirrored"), mirrored, "{o}");
        if mirrored {
            // Nothing may be handed in until it is said.
            assert_eq!(shop.run("return document.getElementById('clip-store').disabled", vec![]).await, json!(true));
            shop.click("[name=seen_from][value=behind]").await;
            shop.until("document.getElementById('clip-log').value !== ''", 10).await;
        }
        let off = farthest(&shop.log().await, 0.0);
        assert!(off < 0.5, "{o}: {off}°");
    }

    shop.clip_page("127.0.0.1", &id).await;
    shop.run(&make(&format!("width: 3840, height: 2160, bitrate: 2e7, {}", times(60, 30))), vec![]).await;
    shop.until(ready, 120).await;
    shop.click("#clip-follow").await;
    shop.until("document.getElementById('clip-log').value !== ''", 120).await;
    let log = shop.log().await;
    assert_eq!(log["t_s"].as_array().unwrap().len(), 60);
    // Which dot was called A does not matter here.
    assert!(farthest(&log, 0.0).min(farthest(&log, 150.0)) < 0.5);

    shop.clip_page("127.0.0.1", &id).await;
    shop.run(&make(&format!("width: 480, height: 270, bitrate: 5e5, {}", times(6000, 10))), vec![]).await;
    shop.until("document.querySelector('#clip-say [data-code=long-clip]')", 60).await;
    shop.until(ready, 60).await;
    // The whole of it, ten minutes.
    shop.run("const to = document.getElementById('clip-to'); to.value = to.max; to.dispatchEvent(new Event('input'))", vec![]).await;
    let (before, mut most) = (shop.browser_mb(), 0.0_f64);
    shop.click("#clip-follow").await;
    while shop.run("return document.getElementById('clip-log').value === ''", vec![]).await == json!(true) {
        most = most.max(shop.browser_mb());
        tokio::time::sleep(Duration::from_millis(200)).await;
    }
    let log = shop.log().await;
    let t = numbers(&log["t_s"]);
    println!("ten minutes: {} angles sent; browser {before:.0} MB, at most {most:.0} MB while tracking", t.len());
    assert!(t.len() >= 2000 && t.len() <= 3600 && t[t.len() - 1] > 595.0, "{} angles to {} s", t.len(), t[t.len() - 1]);
    // The 6000 pictures of 480 × 270 pixels would take 1170 MB as planes.
    assert!(most > 0.0 && most - before < 300.0, "{before} MB before, {most} MB while tracking");
    assert!(farthest(&log, 0.0).min(farthest(&log, 150.0)) < 0.7);
    shop.web.clone().quit().await.unwrap();
}
