//! The pages and the door over HTTP: routes, faults, guards, two phones at once.

use axum_test::multipart::{MultipartForm, Part};
use axum_test::{TestResponse, TestServer};
use serde_json::{Value, json};
use std::fmt::Write as _;
use std::sync::Arc;
use stillwheel::sitting::Bench;
use stillwheel::web::{App, router};
use stillwheel_store::{EventKind, Machine, Rotor, Stand, Store, WeightRing};

struct Shop {
    server: TestServer,
    store: Arc<Store>,
}

fn shop() -> Shop {
    shop_with(None)
}

fn shop_with(code: Option<&str>) -> Shop {
    let store = Arc::new(Store::open_in_memory().unwrap());
    let bench = Bench::new(store.clone());
    stillwheel::demo::records(&store, jiff::Timestamp::UNIX_EPOCH).unwrap();
    Shop { server: TestServer::new(router(App::new(bench, code.map(str::to_owned), false))), store }
}

impl Shop {
    async fn new_sitting(&self) -> String {
        let response = self.server.post("/sittings").form(&[("quick", "yes"), ("stand", "virtual"), ("operator", "Ada")]).await;
        assert_eq!(response.status_code(), 303, "{}", response.text());
        response.header("location").to_str().unwrap().to_owned()
    }

    async fn settle(&self, path: &str, token: &str, after_seq: &str, deg: &str) -> TestResponse {
        let form = [("token", token), ("after_seq", after_seq), ("kind", "settle"), ("settle_deg", deg), ("sd_deg", "3.5")];
        self.server.post(&format!("{path}/look")).form(&form).await
    }

    fn events(&self, path: &str) -> Vec<stillwheel_store::Event> {
        let id = path.rsplit('/').next().unwrap().parse().unwrap();
        self.store.events(&id).unwrap()
    }
}

#[tokio::test]
async fn every_place_answers_and_unknown_ones_are_not_found() {
    let shop = shop();
    let sitting = shop.new_sitting().await;
    let ring = shop.store.list::<WeightRing>().unwrap()[0].id.to_string();
    let stand = shop.store.list::<Stand>().unwrap()[0].id.to_string();
    for path in [
        "/",
        "/rotors",
        "/sittings/new",
        "/help",
        "/settings",
        "/api/compute",
        "/assets/app.css",
        "/assets/js/main.js",
        "/records/rotors/new",
        "/records/machines/new",
        "/records/rings/new",
        "/records/stands/new",
        &sitting,
        &format!("{sitting}/certificate"),
        &format!("/records/rings/{ring}"),
        &format!("/records/stands/new?copy={stand}"),
    ] {
        let r = shop.server.get(path).await;
        assert_eq!(r.status_code(), 200, "{path}");
    }
    for path in [
        "/nowhere",
        "/records/cars/new",
        "/sittings/0000000000000000",
        "/sittings/..%2f..%2fetc",
        "/assets/../Cargo.toml",
        "/api/compute/none/schema",
    ] {
        assert_eq!(shop.server.get(path).await.status_code(), 404, "{path}");
    }
}

#[tokio::test]
async fn pages_carry_no_inline_script_or_style_and_forbid_them() {
    let shop = shop();
    let sitting = shop.new_sitting().await;
    for path in ["/", "/sittings/new", "/records/rings/new", "/help", &sitting] {
        let r = shop.server.get(path).await;
        let csp = r.header("content-security-policy").to_str().unwrap().to_owned();
        assert!(csp.starts_with("default-src 'self'") && !csp.contains("unsafe"), "{path}: {csp}");
        assert_eq!(r.header("x-content-type-options"), "nosniff");
        let text = r.text();
        assert!(!text.contains(" style=") && !text.contains("<style") && !text.contains(" onclick="), "{path}");
        assert_eq!(text.matches("<script").count(), 1, "{path}");
    }
}

#[tokio::test]
async fn a_write_from_another_site_is_refused() {
    let shop = shop();
    let before = shop.store.list::<Machine>().unwrap().len();
    let form = [("name", "M"), ("speed_rpm", "3000")];
    let foreign = shop
        .server
        .post("/records/machines")
        .add_header("host", "127.0.0.1:80")
        .add_header("origin", "http://elsewhere.example")
        .form(&form)
        .await;
    assert_eq!(foreign.status_code(), 403);
    let cross = shop.server.post("/records/machines").add_header("sec-fetch-site", "cross-site").form(&form).await;
    assert_eq!(cross.status_code(), 403);
    assert_eq!(shop.store.list::<Machine>().unwrap().len(), before);
    let own = shop
        .server
        .post("/records/machines")
        .add_header("host", "127.0.0.1:80")
        .add_header("origin", "http://127.0.0.1:80")
        .form(&form)
        .await;
    assert_eq!(own.status_code(), 303);
    assert_eq!(shop.store.list::<Machine>().unwrap().len(), before + 1);
}

#[tokio::test]
async fn a_foreign_name_for_this_machine_is_refused() {
    let shop = shop();
    for (host, status) in
        [("rebound.example", 421), ("rebound.example:80", 421), ("localhost:8080", 200), ("127.0.0.1", 200), ("[::1]:80", 200)]
    {
        assert_eq!(shop.server.get("/").add_header("host", host).await.status_code(), status, "{host}");
    }
}

#[tokio::test]
async fn the_door_computes_and_tells_faults_over_http() {
    let shop = shop();
    let names: Value = shop.server.get("/api/compute").await.json();
    assert!(names.as_array().unwrap().iter().any(|c| c["name"] == "allowance"));
    let schema: Value = shop.server.get("/api/compute/allowance/schema").await.json();
    assert!(schema["input"]["properties"]["mass_kg"].is_object());
    // Closed form: U = 1000·G·m/Ω, Ω = 2π·2865/60 = 300.02 1/s (ISO 21940-11): 10.0 g·mm.
    let input = json!({"mass_kg": 3.0, "speed_rpm": 2865.0, "wheel_diameter_mm": 200.0, "grade_mm_s": 1.0});
    let out: Value = shop.server.post("/api/compute/allowance").json(&input).await.json();
    assert!((out["allowance_g_mm"].as_f64().unwrap() - 3000.0 / (2865.0 * std::f64::consts::TAU / 60.0)).abs() < 1e-9);
    let bad = shop
        .server
        .post("/api/compute/allowance")
        .json(&json!({"mass_kg": -3.0, "speed_rpm": 2865.0, "wheel_diameter_mm": 200.0, "grade_mm_s": 1.0}))
        .await;
    assert_eq!(bad.status_code(), 422);
    assert_eq!(bad.json::<Value>()["fault"]["field"], "mass_kg");
    let text = shop.server.post("/api/compute/allowance").text("mass is three").await;
    assert_eq!(text.status_code(), 422);
    assert_eq!(text.json::<Value>()["fault"]["field"], "input");
    assert_eq!(shop.server.post("/api/compute/none").json(&json!({})).await.status_code(), 404);
}

#[tokio::test]
async fn a_fault_stands_at_its_field_and_what_was_typed_is_kept() {
    let shop = shop();
    let form = [("name", "Big one"), ("speed_rpm", "fast"), ("note", "west wall")];
    let r = shop.server.post("/records/machines").form(&form).await;
    assert_eq!(r.status_code(), 422);
    let page = r.text();
    for kept in ["value=\"Big one\"", "value=\"fast\"", "value=\"west wall\"", "id=\"speed_rpm-fault\"", "aria-invalid=\"true\""] {
        assert!(page.contains(kept), "{kept}");
    }
    // Out of the store's own range: the same place.
    let r = shop.server.post("/records/machines").form(&[("name", "Big one"), ("speed_rpm", "-5")]).await;
    assert_eq!(r.status_code(), 422);
    assert!(r.text().contains("id=\"speed_rpm-fault\""));
}

#[tokio::test]
async fn lengths_may_be_typed_in_inches() {
    let shop = shop();
    let ring = shop.store.list::<WeightRing>().unwrap()[0].id.to_string();
    let form = [
        ("name", "Inch wheel"),
        ("diameter_mm", "8 in"),
        ("width_mm", "1/2 in"),
        ("bore_mm", "1 1/4 in"),
        ("mass_kg", "5 lb"),
        ("inertia_kg_m2", "0,0079"),
        ("inertia_rel_sd", "5 %"),
        ("ring", &ring),
    ];
    let r = shop.server.post("/records/rotors").form(&form).await;
    assert_eq!(r.status_code(), 303, "{}", r.text());
    let rotor = shop.store.list::<Rotor>().unwrap().into_iter().find(|r| r.body.name == "Inch wheel").unwrap().body;
    // 1 in = 25.4 mm and 1 lb = 0.45359237 kg, exact (agreement of 1959).
    assert!(
        (rotor.wheel.diameter_mm - 203.2).abs() < 1e-9
            && (rotor.wheel.width_mm - 12.7).abs() < 1e-9
            && (rotor.wheel.bore_mm - 31.75).abs() < 1e-9
    );
    assert!((rotor.mass_kg - 5.0 * 0.45359237).abs() < 1e-9 && (rotor.inertia_rel_sd - 0.05).abs() < 1e-12);
}

#[tokio::test]
async fn a_record_edited_on_two_phones_is_not_overwritten_unseen() {
    let shop = shop();
    let machine = shop.store.list::<Machine>().unwrap()[0].clone();
    let path = format!("/records/machines/{}", machine.id);
    let first = shop.server.post(&path).form(&[("revision", "1"), ("name", "First"), ("speed_rpm", "2860")]).await;
    assert_eq!(first.status_code(), 303);
    let second = shop.server.post(&path).form(&[("revision", "1"), ("name", "Second"), ("speed_rpm", "2860")]).await;
    assert_eq!(second.status_code(), 409);
    assert!(second.text().contains("value=\"Second\""));
    assert_eq!(shop.store.get::<Machine>(&machine.id).unwrap().body.name, "First");
}

#[tokio::test]
async fn a_double_tap_stores_one_look() {
    let shop = shop();
    let path = shop.new_sitting().await;
    for _ in 0..3 {
        assert_eq!(shop.settle(&path, "t1", "0", "135").await.status_code(), 303);
    }
    let events = shop.events(&path);
    assert_eq!(events.len(), 1);
    assert_eq!(events[0].body["look"]["reading"]["settle_deg"], 135.0);
    // The weights during the look are stored with it: three of 16 g at 38 mm, evenly spread.
    assert_eq!(events[0].body["look"]["weights"][1], json!({"moment_g_mm": 608.0, "at_deg": 120.0}));
}

#[tokio::test]
async fn a_look_taken_before_the_weights_were_moved_on_another_phone_is_a_conflict_that_keeps_what_was_typed() {
    let shop = shop();
    let path = shop.new_sitting().await;
    assert_eq!(shop.settle(&path, "a", "0", "135").await.status_code(), 303);
    let moved = shop
        .server
        .post(&format!("{path}/moved"))
        .form(&[("token", "b"), ("after_seq", "1"), ("to_deg_0", "10"), ("to_deg_1", "130"), ("to_deg_2", "250")])
        .await;
    assert_eq!(moved.status_code(), 303, "{}", moved.text());
    let late = shop.settle(&path, "c", "1", "222").await;
    assert_eq!(late.status_code(), 409);
    let page = late.text();
    assert!(page.contains("Weights moved: 1 at 10°, 2 at 130°, 3 at 250°"), "what happened since is told");
    assert!(page.contains("value=\"222\""), "what was typed is kept");
    assert!(page.contains("name=\"after_seq\" value=\"2\""), "sent again, it is taken with the new weights");
    assert_eq!(shop.events(&path).len(), 2);
}

#[tokio::test]
async fn looks_from_two_phones_with_the_same_weights_are_both_kept() {
    let shop = shop();
    let path = shop.new_sitting().await;
    assert_eq!(shop.settle(&path, "a", "0", "135").await.status_code(), 303);
    assert_eq!(shop.settle(&path, "b", "0", "137").await.status_code(), 303);
    assert_eq!(shop.events(&path).len(), 2);
}

#[tokio::test]
async fn undo_and_redo_are_events_and_lose_nothing() {
    let shop = shop();
    let path = shop.new_sitting().await;
    shop.settle(&path, "a", "0", "135").await;
    let undo = |token: &'static str, after: &'static str, what: &'static str| {
        shop.server.post(&format!("{path}/undo")).form(&[("token", token), ("after_seq", after), ("undoes", what)])
    };
    assert_eq!(undo("u", "1", "1").await.status_code(), 303);
    assert!(shop.server.get(&path).await.text().contains("taken back"));
    assert_eq!(undo("r", "2", "2").await.status_code(), 303);
    let events = shop.events(&path);
    assert_eq!(events.iter().map(|e| e.kind).collect::<Vec<_>>(), [EventKind::Look, EventKind::Undo, EventKind::Undo]);
    assert!(!shop.server.get(&path).await.text().contains("taken back"));
}

#[tokio::test]
async fn a_look_that_can_not_be_read_is_not_stored() {
    let shop = shop();
    let path = shop.new_sitting().await;
    for (deg, fault) in [
        ("", "settle-settle_deg-fault"),
        ("ten", "settle-settle_deg-fault"),
        ("NaN", "settle-settle_deg-fault"),
        ("1e9", "settle-settle_deg-fault"),
    ] {
        let r = shop.settle(&path, "t", "0", deg).await;
        assert_eq!(r.status_code(), 422, "{deg}");
        assert!(r.text().contains(fault), "{deg}");
    }
    let unknown = shop.server.post(&format!("{path}/look")).form(&[("token", "t"), ("after_seq", "0"), ("kind", "guess")]).await;
    assert_eq!(unknown.status_code(), 422);
    assert!(shop.events(&path).is_empty());
}

#[tokio::test]
async fn a_swing_log_is_stored_as_a_look_and_a_bad_one_is_refused() {
    let shop = shop();
    let path = shop.new_sitting().await;
    let upload = |token: &str, csv: &str| {
        let form = MultipartForm::new()
            .add_text("token", token)
            .add_text("after_seq", "0")
            .add_part("file", Part::bytes(csv.as_bytes().to_vec()).file_name("log.csv"));
        shop.server.post(&format!("{path}/log")).multipart(form)
    };
    let one_row = upload("a", "t_s,angle_deg\n0,10\n").await;
    assert_eq!(one_row.status_code(), 422);
    assert!(one_row.text().contains("Not stored yet"));
    assert!(shop.events(&path).is_empty());
    // A small swing is a cosine (Landau & Lifshitz, Mechanics, §21): ω = 0.5 1/s, so U/J = 0.25 1/s²; at 4° the amplitude
    // changes the period by 0.03 %. The zero mark rests at room angle 220°: rotor angle 140° is at the bottom.
    let mut csv = String::from("t_s,angle_deg\n");
    for t in (0..600).map(|i| f64::from(i) * 0.1) {
        let angle = 220.0 + 4.0 * (0.5 * t).cos();
        // A tenth of a degree is what a scale or a clip shows.
        writeln!(csv, "{t},{angle:.1}").unwrap();
    }
    let good = upload("b", &csv).await;
    assert_eq!(good.status_code(), 303, "{}", good.text());
    let events = shop.events(&path);
    let reading = &events[0].body["look"]["reading"];
    assert_eq!(reading["kind"], "log");
    assert!((reading["u_over_j_per_s2"].as_f64().unwrap() / 0.25 - 1.0).abs() < 2e-3, "{reading}");
    // A small swing shows the rest place, which heavy side and drift share: bottom = heavy − asin(drift/U).
    let rest = reading["heavy_deg"].as_f64().unwrap() - reading["drift_over_u"].as_f64().unwrap().asin().to_degrees();
    assert!((rest - 140.0).abs() < 0.2, "{reading}");
}

#[tokio::test]
async fn a_wheel_marked_slower_than_the_machine_gets_no_allowance() {
    let shop = shop();
    let slow = shop.store.list::<Rotor>().unwrap()[0].clone();
    let by = stillwheel_store::By { who: String::new(), at: jiff::Timestamp::UNIX_EPOCH };
    let mut body = slow.body.clone();
    body.wheel.max_speed_m_s = Some(20.0);
    shop.store.revise(&slow.id, slow.revision, &body, &by).unwrap();
    let r = shop.server.post("/sittings").form(&[("quick", "yes"), ("stand", "virtual"), ("rotor", slow.id.as_str())]).await;
    assert_eq!(r.status_code(), 422);
    assert!(shop.store.sittings(None).unwrap().is_empty());
}

#[tokio::test]
async fn with_a_pairing_code_nothing_is_seen_or_written_before_pairing() {
    let shop = shop_with(Some("12345678"));
    let r = shop.server.get("/").await;
    assert_eq!((r.status_code().as_u16(), r.header("location").to_str().unwrap()), (303, "/pair"));
    assert_eq!(shop.server.post("/records/machines").form(&[("name", "M"), ("speed_rpm", "1")]).await.status_code(), 303);
    assert_eq!(shop.store.list::<Machine>().unwrap().len(), 2);
    assert_eq!(shop.server.get("/api/compute").await.status_code(), 401);
    assert_eq!(shop.server.get("/pair").await.status_code(), 200);
    assert_eq!(shop.server.post("/pair").form(&[("code", "00000000")]).await.status_code(), 403);
    let paired = shop.server.post("/pair").form(&[("code", "1234 5678")]).await;
    assert_eq!(paired.status_code(), 303);
    let cookie = paired.header("set-cookie").to_str().unwrap().split(';').next().unwrap().to_owned();
    assert_eq!(shop.server.get("/").add_header("cookie", cookie).await.status_code(), 200);
}

#[tokio::test]
async fn display_choices_change_what_is_shown_and_not_what_is_stored() {
    let shop = shop();
    let saved = shop.server.post("/settings").form(&[("units", "inch"), ("angles", "clock"), ("who", "Ada")]).await;
    assert_eq!(saved.status_code(), 303);
    let path = shop.new_sitting().await;
    let cookie = "stillwheel_show=inch.clock";
    let form = [("token", "t"), ("after_seq", "0"), ("kind", "settle"), ("settle_deg", "3:00"), ("sd_deg", "3.5")];
    assert_eq!(shop.server.post(&format!("{path}/look")).add_header("cookie", cookie).form(&form).await.status_code(), 303);
    // Three o'clock, the zero mark at twelve: a quarter turn clockwise, 270° counter-clockwise.
    assert_eq!(shop.events(&path)[0].body["look"]["reading"]["settle_deg"], 270.0);
    assert!(shop.server.get(&path).add_header("cookie", cookie).await.text().contains("Settled with 3:00 at the bottom"));
    assert!(shop.server.get(&path).await.text().contains("Settled with 270° at the bottom"));
}

#[tokio::test]
async fn a_body_too_large_is_refused() {
    let shop = shop();
    let r = shop.server.post("/api/compute/allowance").content_type("application/json").bytes(vec![b' '; 13 * 1024 * 1024].into()).await;
    assert_eq!(r.status_code(), 413);
}
