//! The grinder's pages and commands for face and marks: what is typed comes back answered, what is wrong stands at its field.

use assert_cmd::Command;
use axum_test::TestServer;
use axum_test::multipart::{MultipartForm, Part};
use serde_json::Value;
use std::sync::Arc;
use stillwheel::sitting::Bench;
use stillwheel::web::{App, router};
use stillwheel_door::photo_file::Photo;
use stillwheel_store::Store;

/// One row of a table of claims.
#[track_caller]
fn row(name: &str, holds: bool, told: &str) {
    assert!(holds, "{name}: {told}");
}

fn shop() -> TestServer {
    let store = Arc::new(Store::open_in_memory().unwrap());
    let bench = Bench::new(store.clone());
    stillwheel::demo::records(&store, jiff::Timestamp::UNIX_EPOCH).unwrap();
    TestServer::new(router(App::new(bench, None, false)))
}

const FACE: [(&str, &str); 12] = [
    ("residual_g_mm", "50"),
    ("speed_rpm", "2850"),
    ("wheel_diameter_mm", "180"),
    ("wheel_width_mm", "20"),
    ("stiffness_n_um", "30"),
    ("natural_frequency_hz", "120"),
    ("damping_ratio", "0.04"),
    ("table_speed_m_min", "15"),
    ("face_length_mm", "40"),
    ("face_width_mm", "20"),
    ("spark_out", "0"),
    ("limit_um", "0.1"),
];

fn with(form: &[(&'static str, &'static str)], name: &'static str, value: &'static str) -> Vec<(&'static str, &'static str)> {
    form.iter().filter(|f| f.0 != name).copied().chain([(name, value)]).collect()
}

#[tokio::test]
async fn the_face_page_tells_the_waves_of_the_textbook_head() {
    let shop = shop();
    let page = shop.get("/grinder/face").await;
    assert_eq!(page.status_code(), 200);
    let r = shop.post("/grinder/face").form(&FACE).await;
    assert_eq!(r.status_code(), 200, "{}", r.text());
    let text = r.text();
    // SDF-01 of the balance cases: ±0.175914 µm, 0.351827 µm in one pass.
    for said in ["± 0.176 µm", "0.352 µm", "– Balance further", "data-picture=\"face\"", "data-picture=\"curves\""] {
        row(said, text.contains(said), &text);
    }
    // 0.1 µm of Wt through the filter's 0.984113 (FIL-01) allow 50·0.1/(0.351827·0.984113) = 14.44 g·mm. The straight line that is taken off a
    // sine of N = 40/5.263 waves reaches up to 3/(πN) = 0.126 of its amplitude at either end, so Wt is up to an eighth more.
    let allows = text.split("It allows a residual of <strong>").nth(1).and_then(|t| t.split(' ').next()).unwrap();
    let allows: f64 = allows.parse().unwrap();
    assert!((14.44 / 1.126..=14.45).contains(&allows), "{allows}");
}

#[tokio::test]
async fn a_wrong_field_of_the_face_is_told_there() {
    let shop = shop();
    for (field, typed, says) in [
        ("stiffness_n_um", "0", "0.1 to 10000"),
        ("natural_frequency_hz", "", "must be filled"),
        ("table_speed_m_min", "0", "0.06 to 120"),
        ("spark_out", "2.5", "0 to 50"),
        ("frequency_hz", "24", ""),
        ("marked_max_m_s", "20", ""),
    ] {
        let r = shop.post("/grinder/face").form(&with(&FACE, field, typed)).await;
        assert_eq!(r.status_code(), 422, "{field} {typed}");
        let text = r.text();
        let fault = text.split("<p class=\"fault\"").nth(1).unwrap_or_else(|| panic!("{field} {typed}: no fault in {text}"));
        row(field, fault.split("</p>").next().unwrap().contains(says), fault);
    }
}

const MARKS: [(&str, &str); 7] = [
    ("spaces", "5"),
    ("over_mm", "144"),
    ("table_speed_m_min", "15"),
    ("wheel_speed_rpm", "1450"),
    ("wheel_diameter_mm", "300"),
    ("belt_mm", "1400"),
    ("pulley_mm", "160"),
];

#[tokio::test]
async fn the_marks_page_finds_the_belt_and_weighs_a_test() {
    let shop = shop();
    let r = shop.post("/grinder/marks").form(&MARKS).await;
    assert_eq!(r.status_code(), 200, "{}", r.text());
    let text = r.text();
    for said in ["8.681 Hz", "belt, once a round", "data-picture=\"causes\"", "bits"] {
        row(said, text.contains(said), &text);
    }
    let gone: Vec<(&str, &str)> = MARKS.into_iter().chain([("test0_gone", "on"), ("test0_stopped", "belt")]).collect();
    assert_eq!(shop.post("/grinder/marks").form(&gone).await.status_code(), 200);
    let nobody: Vec<(&str, &str)> = MARKS.into_iter().chain([("test0_gone", "on"), ("test0_stopped", "fan")]).collect();
    let r = shop.post("/grinder/marks").form(&nobody).await;
    row("an unknown part", r.status_code() == 422 && r.text().contains("no part of this name"), &r.text());
    for (field, typed) in [("spaces", "0"), ("over_mm", "-1"), ("table_speed_m_min", "0"), ("pulley_mm", ""), ("belt_mm", "1")] {
        let r = shop.post("/grinder/marks").form(&with(&MARKS, field, typed)).await;
        row(field, r.status_code() == 422 && r.text().contains("aria-invalid=\"true\""), &r.text());
    }
}

/// 80 mm of face in 800 pixels, a mark every 5 mm.
fn photo() -> Vec<u8> {
    let (w, h) = (800_u32, 500_u32);
    let grey =
        (0..w * h).map(|i| (128.0 + 20.0 * (std::f64::consts::TAU * f64::from(i % w) / 50.0).cos() + f64::from(i * 7919 % 13)) as u8);
    Photo { width_px: w, height_px: h, grey: grey.collect(), full_px: [w, h] }.jpeg().unwrap()
}

/// What the form of a page carries.
fn hidden(page: &str) -> Vec<(String, String)> {
    let attribute = |tag: &str, name: &str| tag.split(&format!("{name}=\"")).nth(1).and_then(|r| r.split('"').next()).map(str::to_owned);
    page.split("<input type=\"hidden\"").skip(1).filter_map(|t| Some((attribute(t, "name")?, attribute(t, "value")?))).collect()
}

#[tokio::test]
async fn four_taps_on_a_photo_tell_the_spacing_without_scripts() {
    let shop = shop();
    let form = MultipartForm::new()
        .add_part("file", Part::bytes(photo()).file_name("face.jpg").mime_type("image/jpeg"))
        .add_text("distance_mm", "64")
        .add_text("along_travel", "on");
    let mut page = shop.post("/grinder/marks/photo").multipart(form).await;
    assert_eq!(page.status_code(), 200, "{}", page.text());
    // The picture is shown 320 wide and 200 high: places at a tenth and nine tenths of its width, then each in the middle of its piece.
    for (x, y) in [("32", "100"), ("160", "160"), ("288", "100"), ("160", "160")] {
        let text = page.text();
        assert!(text.contains("type=\"image\""), "{text}");
        let mut fields = hidden(&text);
        fields.extend([("tap.x".to_owned(), x.to_owned()), ("tap.y".to_owned(), y.to_owned())]);
        page = shop.post("/grinder/marks/photo/tap").form(&fields).await;
    }
    let text = page.text();
    assert_eq!(page.status_code(), 200, "{text}");
    // Ten spaces handed over to the marks' page: 50 mm within what two taps of 3/320 of a fifth of 800 pixels leave (0.3 %).
    let over: f64 = text.split("over_mm=").nth(1).unwrap().split('&').next().unwrap().parse().unwrap();
    assert!((over - 50.0).abs() < 0.6, "{over}");
    assert!(text.contains("data-picture=\"curves\""));
}

#[tokio::test]
async fn what_is_no_photo_is_told_so() {
    let shop = shop();
    let send = |bytes: Vec<u8>, distance: &'static str| {
        let form = MultipartForm::new()
            .add_part("file", Part::bytes(bytes).file_name("x").mime_type("image/jpeg"))
            .add_text("distance_mm", distance);
        shop.post("/grinder/marks/photo").multipart(form)
    };
    for (bytes, distance, says) in [
        (b"words".to_vec(), "64", "JPEG or PNG"),
        (Vec::new(), "64", "choose a photo first"),
        (photo(), "", "must be filled"),
        (photo(), "far", ""),
    ] {
        let r = send(bytes, distance).await;
        row(says, r.status_code() == 422 && r.text().contains(says), &r.text());
    }
    let r = shop.post("/grinder/marks/photo/tap").form(&[("photo", "!!"), ("distance_mm", "64")]).await;
    assert_eq!(r.status_code(), 422);
}

fn run(args: &[&str], stdin: &str) -> (i32, String, String) {
    let out = Command::cargo_bin("stillwheel").unwrap().args(args).write_stdin(stdin).output().unwrap();
    (out.status.code().unwrap(), String::from_utf8(out.stdout).unwrap(), String::from_utf8(out.stderr).unwrap())
}

#[test]
fn the_commands_print_tables_json_and_pictures() {
    let folder = tempfile::tempdir().unwrap();
    let file = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let flags =
        "ground-face --residual 50 --speed 2850 --diameter 180 --width 20 --stiffness 30 --frequency 120 --damping 0.04 --table-speed 15";
    let mut args: Vec<&str> = flags.split(' ').collect();
    let (picture, profile) = (file("face.svg"), file("profile.pdf"));
    args.extend(["--picture", &picture, "--profile", &profile]);
    let (code, out, err) = run(&args, "");
    assert_eq!((code, err.as_str()), (0, ""));
    assert!(out.contains("0.3518") && out.contains("µm"), "{out}");
    assert!(std::fs::read_to_string(&picture).unwrap().contains("data-picture=\"face\""));
    assert!(std::fs::read(&profile).unwrap().starts_with(b"%PDF"));
    for name in ["ground-face", "marks"] {
        let calculation = stillwheel_door::find(name).unwrap();
        let example = (calculation.example)();
        let (code, out, _) = run(&[name, "-", "--json"], &example.to_string());
        assert_eq!((code, serde_json::from_str::<Value>(&out).unwrap()), (0, calculation.run(example).unwrap()), "{name}");
    }
}

#[test]
fn a_photo_on_the_command_line_comes_before_the_files_faces() {
    let folder = tempfile::tempdir().unwrap();
    let (face, spectrum) = (folder.path().join("face.jpg"), folder.path().join("s.svg"));
    std::fs::write(&face, photo()).unwrap();
    let machine = serde_json::json!({"machine": {"wheel_speed_rpm": 3000, "wheel_diameter_mm": 200}}).to_string();
    let photo = ["--photo", face.to_str().unwrap(), "--from", "80,250", "--to", "720,250", "--distance", "64", "--table-speed", "15"];
    let (code, out, err) = run(&[&["marks", "-"], &photo[..], &["--spectrum", spectrum.to_str().unwrap()]].concat(), &machine);
    assert_eq!((code, err.as_str()), (0, ""));
    // 5 mm at 250 mm/s are 50 Hz: 3000 r/min.
    assert!(out.contains("the wheel, once a turn"), "{out}");
    assert!(std::fs::read_to_string(spectrum).unwrap().contains("data-picture=\"curves\""));
    let outside = ["--photo", face.to_str().unwrap(), "--from", "80,250", "--to", "900,250", "--distance", "64", "--table-speed", "15"];
    let (code, _, err) = run(&[&["marks", "-"], &outside[..]].concat(), &machine);
    assert!(code == 2 && err.contains("inside the photo"), "{err}");
}

#[test]
fn the_finish_comes_into_the_allowance_by_flags() {
    let flags = "allowance --mass 2.9kg --speed 2860 --diameter 200 --grade 1 --waviness 0.02 --head-stiffness 30 --head-frequency 120 --head-damping 0.04 --table-speed 15";
    let (code, out, err) = run(&flags.split(' ').collect::<Vec<_>>(), "");
    assert_eq!((code, err.as_str()), (0, ""));
    assert!(out.contains("by waves of at most 0.02 µm on the ground face: the tightest governs"), "{out}");
    let (code, _, err) = run(&flags.split(' ').take(11).collect::<Vec<_>>(), "");
    assert!(code == 2 && err.contains("--head-stiffness"), "{err}");
}
