//! The grinder's pages over HTTP, and its commands: machines and their sheets, the head's guide, trim in place, the points before a wheel
//! runs.

use assert_cmd::Command;
use axum_test::multipart::{MultipartForm, Part};
use axum_test::{TestResponse, TestServer};
use serde_json::Value;
use std::f64::consts::TAU;
use std::sync::Arc;
use stillwheel::sitting::{Bench, NoteBody, Sat, note_of};
use stillwheel::web::{App, router};
use stillwheel_store::{By, Id, Machine, Store, Stored};

struct Shop {
    server: TestServer,
    bench: Bench,
    sitting: Id,
}

fn ada() -> By {
    By { who: "Ada".into(), at: jiff::Timestamp::UNIX_EPOCH }
}

/// The demo's records, with a sitting of its first rotor begun.
async fn shop() -> Shop {
    let store = Arc::new(Store::open_in_memory().unwrap());
    let bench = Bench::new(store.clone());
    let records = stillwheel::demo::records(&store, jiff::Timestamp::UNIX_EPOCH).unwrap();
    let server = TestServer::new(router(App::new(bench.clone(), None, false)));
    let form = [
        ("rotor", records.rotors[0].id.to_string()),
        ("machine", records.machines[0].id.to_string()),
        ("stand", records.stands[0].id.to_string()),
        ("grade_mm_s", "1".to_owned()),
        ("at_deg_0", "0".to_owned()),
        ("at_deg_1", "120".to_owned()),
        ("at_deg_2", "240".to_owned()),
        ("settle_sd_deg", "3.5".to_owned()),
        ("time_sd_s", "0.2".to_owned()),
        ("amplitude_deg", "60".to_owned()),
        ("amplitude_sd_deg", "3".to_owned()),
        ("patience_s", "150".to_owned()),
    ];
    let began = server.post("/sittings").form(&form).await;
    let location = began.headers().get("location").unwrap_or_else(|| panic!("{}", began.text())).to_str().unwrap().to_owned();
    Shop { server, bench, sitting: location.rsplit('/').next().unwrap().parse().unwrap() }
}

impl Shop {
    fn sat(&self) -> Sat {
        self.bench.sat(&self.sitting).unwrap()
    }
    fn machine(&self) -> Stored<Machine> {
        let id = self.sat().sitting.start.machine.id;
        self.bench.store().get(&id).unwrap()
    }
    fn path(&self, way: &str) -> String {
        format!("/sittings/{}/{way}", self.sitting)
    }
    fn notes(&self) -> Vec<NoteBody> {
        self.sat().events.iter().filter_map(note_of).collect()
    }
    async fn answered(&self, answers: &[(&str, &str)]) -> TestResponse {
        let seq = self.sat().standing.latest_seq.to_string();
        let token = format!("t-{seq}");
        let mut form = vec![("token", token.as_str()), ("after_seq", seq.as_str()), ("bond", "vitrified"), ("flange_mm", "80")];
        form.extend(answers);
        self.server.post(&self.path("mounting")).form(&form).await
    }
}

const POINTS: [&str; 8] = ["sound", "ring", "fit", "flanges", "blotters", "weights", "guard", "run_up"];

#[tokio::test]
async fn a_wheel_is_mounted_only_when_every_point_is_answered_with_yes_and_each_try_is_kept_with_its_date() {
    let shop = shop().await;
    let page = shop.server.get(&shop.path("mounting")).await.text();
    assert!(page.contains("1910.215") && page.contains("Ring test") && page.contains("✓ Compared: passed"), "{page}");
    let all: Vec<(&str, &str)> = POINTS.iter().map(|p| (*p, "yes")).collect();
    for (answers, mounted) in [(&all[..7], false), (&all[..], true)] {
        assert_eq!(shop.answered(answers).await.status_code(), 303);
        let kept = shop.sat().mounting.expect("kept");
        assert_eq!(kept.body.out.may_be_mounted, mounted);
    }
    let texts: Vec<String> = shop.notes().into_iter().map(|n| n.text).collect();
    assert!(texts[0].starts_with("Not mounted on No. 2") && texts[1].starts_with("Mounted on No. 2"), "{texts:?}");
    assert!(shop.server.get(&format!("/sittings/{}", shop.sitting)).await.text().contains("✓ Mounted"));
}

#[tokio::test]
async fn a_machine_that_became_faster_than_the_mark_is_not_mounted_on_whatever_is_answered() {
    let shop = shop().await;
    let machine = shop.machine();
    let faster = Machine { speed_rpm: 3500.0, ..machine.body.clone() };
    shop.bench.store().revise(&machine.id, machine.revision, &faster, &ada()).unwrap();
    let all: Vec<(&str, &str)> = POINTS.iter().map(|p| (*p, "yes")).collect();
    shop.answered(&all).await;
    let out = shop.sat().mounting.expect("kept").body.out;
    assert!(!out.may_be_mounted && out.says.contains("marked speed"), "{out:?}");
    assert!(shop.server.get(&shop.path("mounting")).await.text().contains("✗ Too fast"));
    // No sitting begins on it either: there is no allowance for such a wheel.
    let sat = shop.sat();
    let form = [
        ("rotor", sat.sitting.start.rotor.id.to_string()),
        ("machine", machine.id.to_string()),
        ("stand", sat.sitting.start.stand.id.to_string()),
        ("grade_mm_s", "1".to_owned()),
    ];
    let refused = shop.server.post("/sittings").form(&form).await;
    assert_eq!(refused.status_code(), 422);
    assert!(refused.text().contains("could burst"), "{}", refused.text());
}

/// What the machine shows with the rotor heavy by 80 g·mm at 75° and the trial of 2.5 g at 38 mm.
fn reading(at_deg: Option<f64>) -> (f64, f64) {
    let (mut x, mut y) = (80.0 * 75f64.to_radians().cos(), 80.0 * 75f64.to_radians().sin());
    if let Some(d) = at_deg {
        x += 95.0 * d.to_radians().cos();
        y += 95.0 * d.to_radians().sin();
    }
    (0.002 * x.hypot(y), y.atan2(x).to_degrees())
}

fn trim_form(shop: &Shop, keep: bool) -> MultipartForm {
    let mut form = MultipartForm::new().add_text("trial_g", "2.5").add_text("trial_radius_mm", "38").add_text("rel_sd_percent", "1");
    form = form.add_text("amplitude_0", format!("{:.4}", reading(None).0));
    for (k, deg) in [0.0, 120.0, 240.0].into_iter().enumerate() {
        form = form.add_text(format!("at_deg_{}", k + 1), format!("{deg}"));
        form = form.add_text(format!("amplitude_{}", k + 1), format!("{:.4}", reading(Some(deg)).0));
    }
    if keep {
        let seq = shop.sat().standing.latest_seq;
        form = form.add_text("do", "keep").add_text("token", "trim-1").add_text("after_seq", seq.to_string());
    }
    form
}

#[tokio::test]
async fn four_readings_move_the_sittings_weights_and_what_is_left_is_small() {
    let shop = shop().await;
    assert!(shop.server.get("/grinder/trim").await.text().contains("46 grit 200 mm on adapter A"));
    let worked = shop.server.post(&shop.path("trim")).multipart(trim_form(&shop, false)).await;
    assert_eq!(worked.status_code(), 200, "{}", worked.text());
    let page = worked.text();
    assert!(page.contains("Heavy by 80") && page.contains("at 75°") && page.contains("The weights are moved so"), "{page}");
    let before = shop.sat().weights;
    assert!(shop.notes().is_empty(), "nothing is kept before it is asked for");
    let kept = shop.server.post(&shop.path("trim")).multipart(trim_form(&shop, true)).await;
    assert_eq!(kept.status_code(), 303, "{}", kept.text());
    let after = shop.sat().weights;
    let sum = |w: &[stillwheel_door::look::WeightAt]| {
        w.iter().fold((0.0, 0.0), |s, w| {
            let a = w.at_deg.to_radians();
            (s.0 + w.moment_g_mm * a.cos(), s.1 + w.moment_g_mm * a.sin())
        })
    };
    let ((bx, by), (ax, ay)) = (sum(&before), sum(&after));
    let (hx, hy) = (80.0 * 75f64.to_radians().cos(), 80.0 * 75f64.to_radians().sin());
    let left = (hx + ax - bx).hypot(hy + ay - by);
    assert!(left < 8.0, "{left} g·mm of 80 are left");
    // Sent again it is the same act; from the places of before it is refused.
    let again = shop.server.post(&shop.path("trim")).multipart(trim_form(&shop, true)).await;
    assert_ne!(again.status_code(), 500);
    assert_eq!(shop.sat().trims.len(), 1);
}

#[tokio::test]
async fn readings_that_can_not_be_are_told_at_their_run_and_stay_in_the_form() {
    let shop = shop().await;
    let form = MultipartForm::new()
        .add_text("rel_sd_percent", "3")
        .add_text("amplitude_0", "1.0")
        .add_text("amplitude_1", "two")
        .add_text("at_deg_1", "0");
    let r = shop.server.post(&shop.path("trim")).multipart(form).await;
    assert_eq!(r.status_code(), 422);
    let page = r.text();
    assert!(page.contains("value=\"two\"") && page.contains("value=\"1.0\""), "{page}");
    let two_runs = MultipartForm::new()
        .add_text("rel_sd_percent", "3")
        .add_text("trial_g", "2")
        .add_text("trial_radius_mm", "38")
        .add_text("amplitude_0", "1.0")
        .add_text("at_deg_1", "0")
        .add_text("amplitude_1", "1.4");
    let r = shop.server.post(&shop.path("trim")).multipart(two_runs).await;
    assert!(r.status_code() == 422 && r.text().contains("three runs are needed"), "{}", r.text());
}

/// Two channels: the vibration, and a mark as the zero mark passes, for a wheel that turns clockwise.
fn wav(at_deg: Option<f64>) -> Vec<u8> {
    const RATE: u32 = 2000;
    let (a, p) = reading(at_deg);
    let spec = hound::WavSpec { channels: 2, sample_rate: RATE, bits_per_sample: 24, sample_format: hound::SampleFormat::Int };
    let mut bytes = std::io::Cursor::new(Vec::new());
    let mut writer = hound::WavWriter::new(&mut bytes, spec).unwrap();
    for i in 0..3 * RATE {
        let turn = 2853.0 / 60.0 * f64::from(i) / f64::from(RATE);
        let mark = (turn + 0.05).fract();
        // Clockwise: the crest comes earlier by what the heavy side is further on counter-clockwise, less a lag of 40°.
        let x = a * (TAU * turn - (p + 40.0).to_radians()).cos() + 0.001 * (1.3 * f64::from(i)).sin();
        for v in [
            x,
            if mark < 0.1 {
                8.0 * mark
            } else if mark < 0.3 {
                0.8
            } else {
                0.0
            },
        ] {
            writer.write_sample((v * f64::from(1 << 23)) as i32).unwrap();
        }
    }
    writer.finalize().unwrap();
    bytes.into_inner()
}

#[tokio::test]
async fn recordings_with_a_mark_give_the_unbalance_from_two_runs() {
    let shop = shop().await;
    let file = |at| Part::bytes(wav(at)).file_name("run.wav");
    let form = MultipartForm::new()
        .add_text("trial_g", "2.5")
        .add_text("trial_radius_mm", "38")
        .add_text("rel_sd_percent", "3")
        .add_text("turns", "clockwise")
        .add_text("phase_counts", "lag")
        .add_text("speed_rpm", "2860")
        .add_text("signal_channel", "1")
        .add_text("tach_channel", "2")
        .add_text("at_deg_1", "120")
        .add_part("file_0", file(None))
        .add_part("file_1", file(Some(120.0)));
    let r = shop.server.post(&shop.path("trim")).multipart(form).await;
    assert_eq!(r.status_code(), 200, "{}", r.text());
    let page = r.text();
    assert!(page.contains("Once per turn") && page.contains("at 75°"), "{page}");
    assert!(page.contains("Heavy by 80") || page.contains("Heavy by 79.9"), "{page}");
}

#[tokio::test]
async fn the_machines_sheet_is_kept_as_it_was_written_and_its_speed_goes_into_the_record() {
    let shop = shop().await;
    let machine = shop.machine();
    let path = format!("/grinder/machines/{}", machine.id);
    let page = shop.server.get(&path).await.text();
    assert!(page.contains("28 ± 2.9 N/µm") && page.contains("hydraulic pump, 9 times a turn"), "{page}");
    assert!(shop.server.get("/grinder").await.text().contains("/grinder/marks"));
    let text = machine.body.sheet_toml.replace("speed_rpm = 2860.0 ", "speed_rpm = 2848.0 ");
    let revision = machine.revision.to_string();
    let r = shop
        .server
        .post(&format!("{path}/sheet"))
        .form(&[("revision", revision.as_str()), ("sheet_toml", &text.replace('\n', "\r\n"))])
        .await;
    assert_eq!(r.status_code(), 303, "{}", r.text());
    let kept = shop.machine().body;
    assert_eq!((kept.speed_rpm, kept.sheet_toml.as_str()), (2848.0, text.as_str()));
    let bad = text.replace("mains_hz = 50.0", "mains_hz = 5.0");
    let revision = shop.machine().revision.to_string();
    let r = shop.server.post(&format!("{path}/sheet")).form(&[("revision", revision.as_str()), ("sheet_toml", &bad)]).await;
    assert!(r.status_code() == 422 && r.text().contains("10 to 500 Hz"), "{}", r.text());
    assert_eq!(shop.server.get(&format!("{path}/sheet.toml")).await.text(), text);
    // The record's own form carries the sheet along.
    let form = shop.server.get(&format!("/records/machines/{}", machine.id)).await.text();
    assert!(form.contains("sheet_toml") && form.contains("nine vanes"), "{form}");
}

#[tokio::test]
async fn pulls_and_a_tap_go_into_the_sheet() {
    let shop = shop().await;
    let id = shop.machine().id;
    let path = format!("/grinder/machines/{id}/head");
    let ring: String = std::iter::once("t_s;x\n".to_owned())
        .chain((0..3000).map(|i| {
            let t = f64::from(i) / 4000.0 - 0.05;
            let x = if t < 0.0 { 0.0 } else { (-25.0 * t).exp() * (600.0 * t).cos() };
            format!("{:.6};{:.6}\n", f64::from(i) / 4000.0, x + 1e-4 * (2.3 * f64::from(i)).sin())
        }))
        .collect();
    let form = MultipartForm::new()
        .add_text("indicator_sd_um", "0.2")
        .add_text("force_0", "0")
        .add_text("read_0", "0")
        .add_text("force_1", "100")
        .add_text("read_1", "2.5")
        .add_text("force_2", "200")
        .add_text("read_2", "5.0")
        .add_part("tap_0", Part::bytes(ring.into_bytes()).file_name("tap.csv"));
    let r = shop.server.post(&path).multipart(form).await;
    assert_eq!(r.status_code(), 200, "{}", r.text());
    let page = r.text();
    // √(600² + 25²)/2π = 95.58 Hz; 25/600.5 = 0.0416.
    assert!(page.contains("40 ± 4.4 N/µm") && page.contains("95.58 ±") && page.contains("0.042 ±"), "{page}");
    let revision = shop.machine().revision.to_string();
    let keep = MultipartForm::new()
        .add_text("do", "keep")
        .add_text("revision", revision)
        .add_text("stiffness_n_um", "40")
        .add_text("natural_hz", "95.58")
        .add_text("damping", "0.0416");
    assert_eq!(shop.server.post(&path).multipart(keep).await.status_code(), 303);
    let text = shop.machine().body.sheet_toml;
    assert!(text.contains("stiffness_n_um = 40") && text.contains("natural_hz = 95.58") && text.contains("# nine vanes"), "{text}");
}

/// Exit code, standard output, standard error.
fn run(args: &[&str], stdin: &str) -> (i32, String, String) {
    let out = Command::cargo_bin("stillwheel").unwrap().args(args).write_stdin(stdin).output().unwrap();
    (out.status.code().unwrap(), String::from_utf8(out.stdout).unwrap(), String::from_utf8(out.stderr).unwrap())
}

#[test]
fn each_command_prints_its_answer() {
    for (name, shown) in [("trim", "Heavy by"), ("mounting", "Marked speed"), ("machine", "drive belt")] {
        let example = (stillwheel_door::find(name).unwrap().example)();
        let (code, out, err) = run(&[name, "-"], &example.to_string());
        assert_eq!((code, err.as_str()), (0, ""), "{name}");
        assert!(out.contains(shown), "{name}: {out}");
    }
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("run.wav");
    std::fs::write(&file, wav(None)).unwrap();
    let file = file.to_str().unwrap();
    let (code, out, err) = run(&["once-per-turn", file, "--tach", "2", "--json"], "");
    assert_eq!((code, err.as_str()), (0, ""));
    let out: Value = serde_json::from_str(&out).unwrap();
    assert!(
        (out["amplitude"].as_f64().unwrap() - reading(None).0).abs() < 1e-4 && (out["speed_rpm"].as_f64().unwrap() - 2853.0).abs() < 0.2,
        "{out}"
    );
    let (code, out, _) = run(&["head", "--pull", "0=0", "--pull", "100=2.5"], "");
    assert!(code == 0 && out.contains("40.0 N/µm"), "{out}");
    let (code, _, err) = run(&["once-per-turn", file], "");
    assert!(code == 2 && err.contains("speed_rpm"), "{err}");
}

/// Records from before machines had sheets are read as they are.
#[test]
fn a_machine_without_a_sheet_is_read_and_written_as_before() {
    let old = r#"{"name": "No. 2", "speed_rpm": 2860.0, "note": ""}"#;
    let machine: Machine = serde_json::from_str(old).unwrap();
    assert_eq!(machine.sheet_toml, "");
    assert_eq!(serde_json::to_value(&machine).unwrap(), serde_json::from_str::<Value>(old).unwrap());
}
