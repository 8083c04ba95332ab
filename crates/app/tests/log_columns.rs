//! Logs from elsewhere over HTTP: columns and units are chosen, the curve is seen, and only then is a look stored.

use axum_test::multipart::{MultipartForm, Part};
use axum_test::{TestResponse, TestServer};
use std::fmt::Write as _;
use std::sync::Arc;
use stillwheel::sitting::Bench;
use stillwheel::web::{App, router};
use stillwheel_store::{Event, Store};

/// What is chosen on the form: field and value.
type Choices = Vec<(&'static str, &'static str)>;

struct Shop {
    server: TestServer,
    store: Arc<Store>,
    path: String,
}

impl Shop {
    async fn open() -> Self {
        let store = Arc::new(Store::open_in_memory().unwrap());
        stillwheel::demo::records(&store, jiff::Timestamp::UNIX_EPOCH).unwrap();
        let server = TestServer::new(router(App::new(Bench::new(store.clone()), None, false)));
        let made = server.post("/sittings").form(&[("quick", "yes"), ("stand", "virtual"), ("operator", "Ada")]).await;
        let path = made.header("location").to_str().unwrap().to_owned();
        Self { server, store, path }
    }

    /// The first step: a file is handed in.
    async fn upload(&self, bytes: &[u8]) -> TestResponse {
        let form = MultipartForm::new()
            .add_text("token", "first")
            .add_text("after_seq", "0")
            .add_text("do", "preview")
            .add_part("file", Part::bytes(bytes.to_vec()).file_name("log.csv"));
        self.server.post(&format!("{}/log", self.path)).multipart(form).await
    }

    /// The second step: what the page's form sends, with these choices.
    async fn send(&self, page: &str, token: &str, act: &str, choices: &[(&str, &str)]) -> TestResponse {
        let mut form =
            MultipartForm::new().add_text("token", token).add_text("after_seq", "0").add_text("do", act).add_text("pasted", carried(page));
        for (name, value) in choices {
            form = form.add_text(*name, *value);
        }
        self.server.post(&format!("{}/log", self.path)).multipart(form).await
    }

    fn events(&self) -> Vec<Event> {
        self.store.events(&self.path.rsplit('/').next().unwrap().parse().unwrap()).unwrap()
    }
}

/// The file's text as a browser takes it out of the page's form: entities resolved, its first newline dropped, any line
/// end read as LF and sent as CR LF (HTML, "preprocessing the input stream" and form submission).
fn carried(page: &str) -> String {
    let (_, rest) = page.split_once("<textarea name=\"pasted\" hidden").expect("the text travels in the form");
    let (_, rest) = rest.split_once('>').unwrap();
    let (text, _) = rest.split_once("</textarea>").unwrap();
    let text = text.strip_prefix('\n').unwrap_or(text);
    let text = text.replace("\r\n", "\n");
    text.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"").replace("&amp;", "&").replace('\n', "\r\n")
}

/// A small swing is a cosine (Landau & Lifshitz, Mechanics, §21): ω = 0.5 1/s, so U/J = 0.25 1/s²; at 4° the amplitude changes the
/// period by 0.03 %. The zero mark rests at room angle 220°: rotor angle 140° is at the bottom.
const OMEGA: f64 = 0.5;
const REST: f64 = 220.0;

/// Rows of the same swing as each recorder would write it: (time in s, room angle in degrees) to a line.
fn file(heading: &str, line: impl Fn(f64, f64) -> String) -> String {
    let mut text = heading.to_owned();
    for t in (0..600).map(|i| f64::from(i) * 0.1) {
        writeln!(text, "{}", line(t, REST + 4.0 * (OMEGA * t).cos())).unwrap();
    }
    text
}

fn base<'a>(more: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    let mut choices = vec![("time_unit", "s"), ("angle_unit", "deg"), ("grows", "counter-clockwise"), ("at_bottom", "0")];
    choices.retain(|c| more.iter().all(|m| m.0 != c.0));
    choices.extend_from_slice(more);
    choices
}

#[tokio::test]
async fn the_same_swing_is_told_from_every_recorders_columns_and_units() {
    // Noise that a real scale shows: 0.1° of rounding in each unit.
    let tenth = |a: f64| (a * 10.0).round() / 10.0;
    let utf16: Vec<u8> = "\u{feff}"
        .encode_utf16()
        .chain(file("t;a\n", |t, a| format!("{t:.1};{:.1}", tenth(a)).replace('.', ",")).encode_utf16())
        .flat_map(u16::to_le_bytes)
        .collect();
    let rows: Vec<(&str, Vec<u8>, Choices)> = vec![
        (
            "ms and radians, in the second and fourth column",
            file("No,Time (ms),Temp,Angle (rad)\n", |t, a| format!("7,{:.0},20.5,{:.5}", 1000.0 * t, tenth(a).to_radians())).into_bytes(),
            base(&[("time_column", "2"), ("angle_column", "4"), ("time_unit", "ms"), ("angle_unit", "rad")]),
        ),
        (
            "minutes and turns, decimal commas, Latin-1",
            file("Zeit;Winkel <°>\n", |t, a| format!("{:.6};{:.6}", t / 60.0, tenth(a) / 360.0).replace('.', ","))
                .chars()
                .map(|c| c as u32 as u8)
                .collect(),
            base(&[("time_column", "1"), ("angle_column", "2"), ("time_unit", "min"), ("angle_unit", "turns")]),
        ),
        (
            "counts from the encoder's own zero, clockwise, angle first",
            // 3600 counts a turn; 1000 shows with the zero mark straight down.
            file("", |t, a| format!("{:.0}\t{t:.1}", 1000.0 - 10.0 * tenth(a))).into_bytes(),
            base(&[
                ("time_column", "2"),
                ("angle_column", "1"),
                ("angle_unit", "counts"),
                ("counts_per_turn", "3600"),
                ("grows", "clockwise"),
                ("at_bottom", "1000"),
            ]),
        ),
        ("UTF-16 with decimal commas", utf16, base(&[("time_column", "1"), ("angle_column", "2")])),
    ];
    for (name, bytes, choices) in rows {
        let shop = Shop::open().await;
        let first = shop.upload(&bytes).await.text();
        assert!(first.contains("<h1>Columns of the log</h1>"), "{name}");
        let seen = shop.send(&first, "look", "preview", &choices).await;
        assert_eq!(seen.status_code(), 200, "{name}: {}", seen.text());
        let text = seen.text();
        assert!(text.contains("data-picture=\"curves\"") && text.contains("600 rows, 59.9 s"), "{name}: {text}");
        assert!(shop.events().is_empty(), "{name}: stored before it was asked for");
        let stored = shop.send(&text, "store", "store", &choices).await;
        assert_eq!(stored.status_code(), 303, "{name}: {}", stored.text());
        assert_eq!(shop.send(&text, "store", "store", &choices).await.status_code(), 303, "{name}: the same act sent twice");
        let events = shop.events();
        assert_eq!(events.len(), 1, "{name}");
        let reading = &events[0].body["look"]["reading"];
        assert!((reading["u_over_j_per_s2"].as_f64().unwrap() / OMEGA.powi(2) - 1.0).abs() < 2e-3, "{name}: {reading}");
        // A small swing shows the rest place, which heavy side and drift share: bottom = heavy − asin(drift/U).
        let rest = reading["heavy_deg"].as_f64().unwrap() - reading["drift_over_u"].as_f64().unwrap().asin().to_degrees();
        assert!((rest - (360.0 - REST)).abs() < 0.2, "{name}: {reading}");
        assert_eq!(shop.server.get(stored.header("location").to_str().unwrap()).await.status_code(), 200, "{name}");
    }
}

#[tokio::test]
async fn the_headings_choose_columns_and_units_and_the_page_shows_them_chosen() {
    let shop = Shop::open().await;
    let page = shop
        .upload(file("Temp;Time (ms);Angle (rad)\n", |t, a| format!("20,5;{};{}", 1000.0 * t, a.to_radians()).replace('.', ",")).as_bytes())
        .await;
    assert_eq!(page.status_code(), 200);
    let text = page.text();
    for chosen in
        ["value=\"2\" selected>2: Time (ms)", "value=\"3\" selected>3: Angle (rad)", "value=\"ms\" selected", "value=\"rad\" selected"]
    {
        assert!(text.contains(chosen), "{chosen}");
    }
    assert!(text.contains("data-picture=\"curves\""));
    assert!(!text.contains("onclick") && !text.contains("style=\"") && !text.contains("<script>"));
}

#[tokio::test]
async fn a_file_that_is_no_table_is_refused_with_what_to_do() {
    let rows: [(&str, Vec<u8>, &str); 8] = [
        ("nothing", b"".to_vec(), "two columns of numbers"),
        ("one row", b"t,a\n0.0,10.0\n".to_vec(), "8 rows or more"),
        (
            "one column with decimal commas and a heading of its own",
            b"Winkel\n10,5\n11,2\n12,9\n".to_vec(),
            "part the columns by semicolon",
        ),
        ("decimal commas between commas", b"t,a\n0,0,94,25\n0,1,94,5\n".to_vec(), "part the columns by semicolon"),
        ("time backwards", b"0;0\n1;1\n2;2\n3;3\n4;4\n5;5\n6;6\n8;7\n7;8\n".to_vec(), "row 9, time"),
        ("a picture", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR".to_vec(), "not text"),
        ("cut UTF-16", b"\xff\xfe0".to_vec(), "cut or damaged"),
        ("too large", b"0.1,12.0\n".repeat(1_200_000), "too large"),
    ];
    let shop = Shop::open().await;
    for (name, bytes, say) in rows {
        let r = shop.upload(&bytes).await;
        assert_eq!(r.status_code(), 422, "{name}");
        assert!(r.text().contains("Not stored yet") && r.text().contains(say), "{name}: {}", &r.text()[..r.text().len().min(4000)]);
    }
    assert!(shop.events().is_empty());
}

#[tokio::test]
async fn a_wrong_choice_is_refused_at_its_field_and_the_text_is_kept() {
    let shop = Shop::open().await;
    let first = shop.upload(file("t;a;note\n", |t, a| format!("{t:.1};{a:.1};x")).as_bytes()).await.text();
    let good = [("time_column", "1"), ("angle_column", "2")];
    let rows: [(&str, Choices, &str); 9] = [
        ("text picked", vec![("angle_column", "3")], "row 2, angle"),
        ("columns swapped", vec![("time_column", "2"), ("angle_column", "1")], "times must rise"),
        ("the same column twice", vec![("angle_column", "1")], "columns-angle_column-fault"),
        ("no such column", vec![("time_column", "9")], "columns-time_column-fault"),
        ("column 0", vec![("time_column", "0")], "columns-time_column-fault"),
        ("counts without their number", vec![("angle_unit", "counts")], "columns-counts_per_turn-fault"),
        ("an unknown unit", vec![("time_unit", "hours")], "columns-time_unit-fault"),
        ("an unknown sense", vec![("grows", "up")], "columns-grows-fault"),
        ("no number", vec![("at_bottom", "left")], "columns-at_bottom-fault"),
    ];
    for (name, change, part) in rows {
        let mut choices = base(&good);
        choices.retain(|c| change.iter().all(|m| m.0 != c.0));
        choices.extend(change);
        for act in ["preview", "store"] {
            let r = shop.send(&first, "a", act, &choices).await;
            assert_eq!(r.status_code(), 422, "{name}");
            assert!(r.text().contains(part), "{name}: {}", r.text());
            assert_eq!(carried(&r.text()), carried(&first), "{name}");
        }
    }
    assert!(shop.events().is_empty());
    // A log in the wrong unit is seen for what it is before it is stored: seconds taken as minutes last an hour.
    let unlikely = shop.send(&first, "b", "preview", &base(&[("time_column", "1"), ("angle_column", "2"), ("time_unit", "min")])).await;
    assert!(unlikely.text().contains("600 rows, 3594 s"), "{}", unlikely.text());
}
