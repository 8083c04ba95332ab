//! The pages that take swing logs from a clip and from taps, over HTTP: what is stored, what is refused and why.

use axum_test::{TestResponse, TestServer};
use serde_json::{Value, json};
use std::f64::consts::TAU;
use std::sync::Arc;
use stillwheel::sitting::Bench;
use stillwheel::web::{App, router};
use stillwheel_physics::bench::motion::{Pendulum, simulate};
use stillwheel_store::{Event, Store};

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

    async fn post(&self, page: &str, token: &str, fields: &[(&str, &str)]) -> TestResponse {
        let mut form = vec![("token", token), ("after_seq", "0")];
        form.extend_from_slice(fields);
        self.server.post(&format!("{}/{page}", self.path)).form(&form).await
    }

    fn events(&self) -> Vec<Event> {
        self.store.events(&self.path.rsplit('/').next().unwrap().parse().unwrap()).unwrap()
    }
}

/// A free swing of 70° with this small period, 15 angles a second, no noise but a hundredth of a degree of rounding.
fn tracked(period_s: f64, span_s: f64) -> Value {
    let u = (TAU / period_s).powi(2);
    let p = Pendulum { u_g_mm: u, theta_rad: 0.6, j_g_mm_s2: 1.0, c_g_mm_s: 0.03, d_g_mm_s2: 0.0, tc_g_mm: 0.0, td_g_mm: 0.0 };
    let t: Vec<f64> = (0..(span_s * 15.0) as usize).map(|i| i as f64 / 15.0).collect();
    let angle: Vec<f64> = simulate(&p, -0.6 + 1.22, 0.0, &t).unwrap().iter().map(|a| (a.to_degrees() * 100.0).round() / 100.0).collect();
    let sd = vec![0.1; t.len()];
    json!({ "t_s": t, "angle_deg": angle, "sd_deg": sd, "common_sd_deg": 0.3, "once_a_turn_sd_deg": 0.0, "twice_a_turn_sd_deg": 0.1, "remarks": ["dot A lost"] })
}

#[tokio::test]
async fn a_tracked_clip_is_stored_with_its_log_and_told_in_a_picture() {
    let shop = Shop::open().await;
    let log = tracked(9.0, 25.0).to_string();
    let fields = [("log", log.as_str()), ("place_a", "40")];
    let stored = shop.post("clip", "a", &fields).await;
    assert_eq!(stored.status_code(), 303, "{}", stored.text());
    let again = shop.post("clip", "a", &fields).await;
    assert_eq!(again.status_code(), 303, "the same act sent twice");
    let events = shop.events();
    assert_eq!(events.len(), 1);
    // The dot's log has its heavy side 0.6 rad from the dot; the dot stands at 40°: 40° + 34.4°.
    let reading = &events[0].body["look"]["reading"];
    assert!((reading["heavy_deg"].as_f64().unwrap() - 40.0 - 0.6_f64.to_degrees()).abs() < 0.3, "{reading}");
    assert!((reading["u_over_j_per_s2"].as_f64().unwrap() / (TAU / 9.0).powi(2) - 1.0).abs() < 2e-3, "{reading}");
    // 0.3° of the camera and 0.5° of the dot's place are in the stated direction.
    assert!(reading["heavy_sd_deg"].as_f64().unwrap() >= 0.34_f64.sqrt());
    assert_eq!(events[0].body["log"]["from"], "clip");

    let report = shop.server.get(stored.header("location").to_str().unwrap()).await;
    assert_eq!(report.status_code(), 200);
    let text = report.text();
    for part in ["data-picture=\"log\"", "Heavy side", "Drift", "Drag", "dot A lost"] {
        assert!(text.contains(part), "{part}");
    }
    let sitting = shop.server.get(&shop.path).await.text();
    assert!(sitting.contains("/log/1") && sitting.contains("what the log tells"));
    assert_eq!(shop.server.get(&format!("{}/log/7", shop.path)).await.status_code(), 404);
    assert_eq!(shop.server.get(&format!("{}/log/x", shop.path)).await.status_code(), 404);
}

#[tokio::test]
async fn a_short_clip_of_a_nearly_balanced_wheel_is_not_stored_and_says_what_to_do() {
    let shop = Shop::open().await;
    // 14 s of a swing of 58 s: a quarter of it.
    let log = tracked(58.0, 14.0).to_string();
    let refused = shop.post("clip", "a", &[("log", &log), ("place_a", "0")]).await;
    assert_eq!(refused.status_code(), 422);
    let text = refused.text();
    for part in ["Not stored", "nearly balanced", "Film for 60 s", "known amount", "data-picture=\"log\""] {
        assert!(text.contains(part), "{part}");
    }
    // The angles come back with the page: after a slip in a field nobody must track the clip again.
    assert!(text.contains("common_sd_deg"));
    assert!(shop.events().is_empty());
}

#[tokio::test]
async fn a_log_that_is_none_is_refused_at_its_field() {
    let shop = Shop::open().await;
    let good = tracked(9.0, 25.0);
    let with = |change: &dyn Fn(&mut Value)| {
        let mut v = good.clone();
        change(&mut v);
        v.to_string()
    };
    let rows: [(&str, String, &str, &str); 8] = [
        ("no log", String::new(), "0", "Choose a clip and track it first"),
        ("no JSON", "t,a".into(), "0", "be read"),
        ("lists unlike", with(&|v| v["sd_deg"] = json!([0.1])), "0", "as many of each"),
        ("too large a number", good.to_string().replacen("0.1", "1e999", 1), "0", "be read"),
        ("negative deviation", with(&|v| v["common_sd_deg"] = json!(-1.0e3)), "0", "a negative deviation"),
        ("time backwards", with(&|v| v["t_s"][5] = json!(0.0)), "0", "t (s), number 6"),
        ("no place", good.to_string(), "", "This field must be filled"),
        ("place in words", good.to_string(), "left", "clip-place_a-fault"),
    ];
    for (name, log, place, part) in rows {
        let r = shop.post("clip", name, &[("log", &log), ("place_a", place)]).await;
        assert_eq!(r.status_code(), 422, "{name}: {}", r.text());
        assert!(r.text().contains(part), "{name}: {}", r.text());
    }
    let nobody = shop.server.post(&format!("{}/clip", shop.path)).form(&[("log", good.to_string()), ("place_a", "0".into())]).await;
    assert_eq!(nobody.status_code(), 422);
    assert!(nobody.text().contains("Load the page anew"));
}

#[tokio::test]
async fn taps_of_two_marks_become_a_look_and_too_few_are_refused() {
    let shop = Shop::open().await;
    // Heavy side at rotor angle 34.4° (0.6 rad), small period 9 s; marks at 20° and 65° pass a pointer at the bottom.
    let u = (TAU / 9.0).powi(2);
    let p = Pendulum { u_g_mm: u, theta_rad: 0.6, j_g_mm_s2: 1.0, c_g_mm_s: 0.03, d_g_mm_s2: 0.0, tc_g_mm: 0.0, td_g_mm: 0.0 };
    let t: Vec<f64> = (0..30_000).map(|i| 0.001 * f64::from(i)).collect();
    let phi = simulate(&p, -0.6 + 1.2, 0.0, &t).unwrap();
    let (mut times, mut marks) = (Vec::new(), Vec::new());
    for (k, w) in phi.windows(2).enumerate() {
        for (mark, at) in [(1, -20.0_f64), (2, -65.0)] {
            if (w[0] - at.to_radians()) * (w[1] - at.to_radians()) < 0.0 {
                times.push(t[k]);
                marks.push(mark);
            }
        }
    }
    assert!(times.len() >= 8);
    let post = |token: &'static str, n: usize| {
        let log = json!({ "t_s": times[..n], "mark": marks[..n] }).to_string();
        let shop = &shop;
        async move {
            let fields = [("log", log.as_str()), ("mark_1", "20"), ("mark_2", "65"), ("pointer", "bottom"), ("tap_sd_s", "0.08")];
            shop.post("taps", token, &fields).await
        }
    };
    let few = post("a", 5).await;
    assert_eq!(few.status_code(), 422);
    assert!(few.text().contains("Go on tapping"));
    let stored = post("b", times.len()).await;
    assert_eq!(stored.status_code(), 303, "{}", stored.text());
    let reading = shop.events()[0].body["look"]["reading"].clone();
    let (rel_sd, heavy_sd) = (reading["u_over_j_rel_sd"].as_f64().unwrap(), reading["heavy_sd_deg"].as_f64().unwrap());
    let (size, heavy) =
        (reading["u_over_j_per_s2"].as_f64().unwrap() / u - 1.0, reading["heavy_deg"].as_f64().unwrap() - 0.6_f64.to_degrees());
    println!("taps: size off by {size:.4} ± {rel_sd:.4}, heavy side by {heavy:.2}° ± {heavy_sd:.2}°");
    assert!(size.abs() < 3.0 * rel_sd && heavy.abs() < 3.0 * heavy_sd && rel_sd < 0.1, "{reading}");
    assert_eq!(shop.server.get(stored.header("location").to_str().unwrap()).await.status_code(), 200);
}

#[tokio::test]
async fn the_pages_of_clip_and_taps_carry_no_inline_script_and_only_a_chosen_clip_may_play() {
    let shop = Shop::open().await;
    for page in ["clip", "taps"] {
        let r = shop.server.get(&format!("{}/{page}", shop.path)).await;
        assert_eq!(r.status_code(), 200);
        let csp = r.header("content-security-policy").to_str().unwrap().to_owned();
        assert!(csp.contains("media-src 'self' blob:") && csp.contains("default-src 'self'") && !csp.contains("unsafe"), "{csp}");
        let text = r.text();
        assert!(!text.contains("onclick") && !text.contains("style=\"") && !text.contains("<script>"), "{page}");
    }
}
