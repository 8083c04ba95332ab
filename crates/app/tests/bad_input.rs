//! The list of bad input walked at the three faces of the door: in the library, on the command line, over HTTP. Each gets one and the same
//! fault, told by its field; and at the pages, where what was typed is kept and nothing is stored.

mod common;

use common::{PageForm, Program, get, post_file, post_json};
use serde_json::{Value, json};
use std::fmt::Write as _;
use std::time::{Duration, Instant};
use stillwheel_door::{find, read_bytes};
use stillwheel_store::Store;

/// Soon: a person waits for it without wondering, on a busy machine too.
const SOON: Duration = Duration::from_secs(5);

fn example(name: &str, pointer: &str, value: Value) -> String {
    let mut input = (find(name).unwrap().example)();
    *input.pointer_mut(pointer).unwrap_or_else(|| panic!("{name} has no {pointer}")) = value;
    input.to_string()
}

/// The rotor of the example (about 2.8 kg) swung with a trial weight on.
fn rotor_with_trial(mass_g: f64, amplitude_deg: f64) -> String {
    let mut input = (find("rotor").unwrap().example)();
    let trial = json!({"mass_g": mass_g, "radius_mm": 40.0});
    input["swings"] = json!([{"time_s": 12.0, "amplitude_deg": 30.0}, {"time_s": 9.0, "amplitude_deg": amplitude_deg, "trial": trial}]);
    input.to_string()
}

fn log(t_s: &[f64], angle_deg: &[f64]) -> String {
    json!({"t_s": t_s, "angle_deg": angle_deg}).to_string()
}

fn swinging(n: usize) -> (Vec<f64>, Vec<f64>) {
    (0..n).map(|i| (0.1 * i as f64, 40.0 * (0.05 * i as f64).cos())).unzip()
}

/// Calculation, input as text, field of the fault.
fn rows() -> Vec<(&'static str, String, &'static str)> {
    let allowance = |mass: &str| format!(r#"{{"mass_kg": {mass}, "speed_rpm": 2850, "wheel_diameter_mm": 200, "grade_mm_s": 1}}"#);
    let (t, angle) = swinging(200);
    let mut back = t.clone();
    back[100] = back[99];
    vec![
        ("allowance", allowance("-3"), "mass_kg"),
        ("allowance", allowance("0"), "mass_kg"),
        ("allowance", allowance("NaN"), "mass_kg"),
        ("allowance", allowance("Infinity"), "mass_kg"),
        ("allowance", allowance("1e999"), "mass_kg"),
        ("allowance", allowance("null"), "mass_kg"),
        ("allowance", allowance("\"3,5\""), "mass_kg"),
        ("rotor", example("rotor", "/bodies/1/mass_g", json!(-980)), "bodies[1].mass_g"),
        ("rotor", example("rotor", "/bodies/1/mass_g", json!(0)), "bodies[1].mass_g"),
        ("rotor", rotor_with_trial(-20.0, 30.0), "swings[1].trial.mass_g"),
        ("rotor", rotor_with_trial(0.0, 30.0), "swings[1].trial.mass_g"),
        // Heavier than the wheel.
        ("rotor", rotor_with_trial(5000.0, 30.0), "swings[1].trial.mass_g"),
        ("rotor", rotor_with_trial(20.0, 180.0), "swings[1].amplitude_deg"),
        ("look-swing", example("look-swing", "/amplitude_deg", json!(180)), "amplitude_deg"),
        ("look-swing", example("look-swing", "/amplitude_deg", json!(360.5)), "amplitude_deg"),
        ("look-swing", example("look-swing", "/inertia_kg_m2", json!(0)), "inertia_kg_m2"),
        ("estimate", example("estimate", "/looks/1/reading/amplitude_deg", json!(180)), "looks[1].reading.amplitude_deg"),
        ("estimate", example("estimate", "/looks/0/reading/settle_deg", json!("90")), "looks[0].reading.settle_deg"),
        ("estimate", example("estimate", "/looks/0/reading/settle_deg", json!("left")), "looks[0].reading.settle_deg"),
        ("estimate", example("estimate", "/looks/0/weights/0/moment_g_mm", json!(-1)), "looks[0].weights[0].moment_g_mm"),
        ("next-step", example("next-step", "/allowance_g_mm", json!(0)), "allowance_g_mm"),
        ("next-step", example("next-step", "/weights_now/0/at_deg", json!("12:00")), "weights_now[0].at_deg"),
        ("place-weights", example("place-weights", "/groove/weights/0/moment_g_mm", json!(0)), "groove.weights[0].moment_g_mm"),
        ("fit-log", log(&[0.0], &[10.0]), "t_s"),
        ("fit-log", log(&[], &[]), "t_s"),
        ("fit-log", log(&back, &angle), "t_s[100]"),
        ("fit-log", log(&t, &angle[..150]), "angle_deg"),
        ("fit-log", log(&t, &vec![10.0; 200]), "angle_deg"),
    ]
}

#[test]
fn every_face_of_the_door_gives_the_same_fault() {
    let folder = tempfile::tempdir().unwrap();
    let program = Program::serve(&folder.path().join("records.db"));
    for (name, text, field) in rows() {
        let at = format!("{name} {}", text.chars().take(160).collect::<String>());
        let fault = read_bytes(text.as_bytes(), None).and_then(|input| find(name)?.run(input)).expect_err(&at);
        assert_eq!(fault.field, field, "{at}: {fault}");
        assert!(!fault.allowed.is_empty() && !fault.why.is_empty(), "{at}: {fault}");
        let expected = json!({ "fault": fault });
        let out =
            assert_cmd::Command::cargo_bin("stillwheel").unwrap().args(["compute", name]).write_stdin(text.as_str()).output().unwrap();
        assert_eq!(out.status.code(), Some(2), "{at}");
        assert_eq!(serde_json::from_slice::<Value>(&out.stderr).unwrap(), expected, "{at} on the command line");
        let answer = post_json(&program.address, &format!("/api/compute/{name}"), text.as_bytes()).unwrap();
        assert_eq!((answer.status, serde_json::from_str::<Value>(&answer.text()).unwrap()), (422, expected), "{at} over HTTP");
    }
}

/// Nothing is known to be wrong with either: both stay, and the estimate says which it doubts.
#[test]
fn looks_that_contradict_each_other_are_kept_and_doubted() {
    let mut input = (find("estimate").unwrap().example)();
    let settle =
        |deg: f64| json!({"weights": input["looks"][0]["weights"], "reading": {"kind": "settle", "settle_deg": deg, "sd_deg": 3.5}});
    let looks = json!([settle(143.0), settle(141.0), settle(320.0), input["looks"][1]]);
    input["looks"] = looks;
    let out = find("estimate").unwrap().run(input).unwrap();
    let doubts = out["doubts"].as_array().unwrap();
    assert!(doubts.iter().any(|d| d["look"] == 2 && d["probability"].as_f64().unwrap() > 0.5), "{doubts:?}");
    assert!(doubts.iter().all(|d| d["look"] == 2), "the two that agree are not doubted: {doubts:?}");
}

/// Peak of the memory that a process had, MB (Linux).
#[cfg(target_os = "linux")]
fn peak_mb(process: u32) -> f64 {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).unwrap();
    let line = status.lines().find(|l| l.starts_with("VmHWM:")).unwrap();
    line.split_whitespace().nth(1).unwrap().parse::<f64>().unwrap() / 1024.0
}

#[test]
#[cfg(target_os = "linux")]
fn ten_million_rows_get_a_fault_soon_and_fill_no_memory() {
    let folder = tempfile::tempdir().unwrap();
    let csv = folder.path().join("log.csv");
    std::fs::write(&csv, b"0.1,12.0\n".repeat(10_000_000)).unwrap();
    let json = format!("{{\"t_s\": [{}0], \"angle_deg\": [0]}}", "0.1,".repeat(10_000_000));
    let json_file = folder.path().join("log.json");
    std::fs::write(&json_file, &json).unwrap();
    for (args, field) in [(["fit-log", csv.to_str().unwrap()], "input"), (["fit-log", json_file.to_str().unwrap()], "input")] {
        let begun = Instant::now();
        let out = assert_cmd::Command::cargo_bin("stillwheel").unwrap().arg("--json").args(args).output().unwrap();
        let fault: Value = serde_json::from_slice(&out.stderr).unwrap();
        assert_eq!((out.status.code(), &fault["fault"]["field"]), (Some(2), &json!(field)), "{fault}");
        assert!(begun.elapsed() < SOON, "{args:?}: {:?}", begun.elapsed());
    }
    let program = Program::serve(&folder.path().join("records.db"));
    stillwheel::demo::records(&Store::open(folder.path().join("records.db")).unwrap(), jiff::Timestamp::UNIX_EPOCH).unwrap();
    let path = program.post("/sittings", &[("quick", "yes"), ("stand", "virtual")]).location();
    let begun = Instant::now();
    let answer = post_json(&program.address, "/api/compute/fit-log", json.as_bytes()).unwrap();
    assert_eq!(answer.status, 413);
    assert!(answer.text().contains("at most 12 MiB"), "{}", answer.text());
    // As large as may be sent, with more rows than are taken.
    let rows = json[..11 * 1024 * 1024].rsplit_once(',').unwrap().0;
    let answer = post_json(&program.address, "/api/compute/fit-log", format!("{rows}], \"angle_deg\": [0]}}").as_bytes()).unwrap();
    assert_eq!(answer.status, 422, "{}", answer.text());
    assert!(answer.text().contains("1000000 items"), "{}", answer.text());
    let act = [("token", "a"), ("after_seq", "0")];
    let upload = |rows: usize| post_file(&program.address, &format!("{path}/log"), &act, "file", &b"0.1,12.0\n".repeat(rows)).unwrap();
    assert_eq!(upload(10_000_000).status, 422);
    let longest = upload(1_000_000);
    assert_eq!(longest.status, 422);
    assert!(longest.text().contains("200000 rows"), "{}", longest.text());
    assert!(begun.elapsed() < 2 * SOON, "{:?}", begun.elapsed());
    let peak = peak_mb(program.process.id());
    assert!(peak < 250.0, "{peak} MB");
    println!("ten million rows at three doors: {:?}, peak {peak:.0} MB", begun.elapsed());
}

/// The same log in the ways in which files come, at the command line and at the page; and what can't be read, told by its row.
#[test]
fn logs_in_other_encodings_and_with_decimal_commas_are_read_or_told() {
    let (t, angle) = swinging(300);
    let (mut points, mut commas) = (String::from("t;a\n"), String::from("Zeit (s);Winkel (°)\n"));
    for (t, a) in t.iter().zip(&angle) {
        let _ = writeln!(points, "{t:.1};{a:.2}");
        let _ = writeln!(commas, "{}", format!("{t:.1};{a:.2}").replace('.', ","));
    }
    let utf16 = |big: bool| -> Vec<u8> {
        let units = std::iter::once(0xfeff_u16).chain(commas.encode_utf16());
        units.flat_map(|u| if big { u.to_be_bytes() } else { u.to_le_bytes() }).collect()
    };
    let latin1: Vec<u8> = commas.chars().map(|c| c as u32 as u8).collect();
    let folder = tempfile::tempdir().unwrap();
    stillwheel::demo::records(&Store::open(folder.path().join("records.db")).unwrap(), jiff::Timestamp::UNIX_EPOCH).unwrap();
    let program = Program::serve(&folder.path().join("records.db"));
    let file = folder.path().join("log.csv");
    let command = |bytes: &[u8]| {
        std::fs::write(&file, bytes).unwrap();
        let out = assert_cmd::Command::cargo_bin("stillwheel").unwrap().args(["--json", "fit-log"]).arg(&file).output().unwrap();
        (out.status.code().unwrap(), if out.status.success() { out.stdout } else { out.stderr })
    };
    let (code, expected) = command(points.as_bytes());
    assert_eq!(code, 0, "{}", String::from_utf8_lossy(&expected));
    let good = [
        ("points", points.clone().into_bytes()),
        ("decimal commas", commas.clone().into_bytes()),
        ("UTF-16, little end first", utf16(false)),
        ("UTF-16, big end first", utf16(true)),
        ("Latin-1", latin1),
    ];
    let upload = |bytes: &[u8]| {
        let path = program.post("/sittings", &[("quick", "yes"), ("stand", "virtual")]).location();
        let answer = post_file(&program.address, &format!("{path}/log"), &[("token", "a"), ("after_seq", "0")], "file", bytes).unwrap();
        (answer, path)
    };
    for (what, bytes) in &good {
        assert_eq!(command(bytes), (0, expected.clone()), "{what}");
        let (answer, path) = upload(bytes);
        assert_eq!(answer.status, 303, "{what}: {}", answer.text());
        assert!(program.get(&path).text().contains("id=\"event-1\""), "{what}");
    }
    for (what, bytes, field, say) in [
        ("one row", &b"t,a\n0.0,10.0\n"[..], "t_s", "too few points"),
        ("one column with decimal commas", b"10,5\n11,2\n12,9\n", "file", "decimal comma"),
        ("decimal commas between commas", b"t,a\n0,0,94,25\n", "row 2", "decimal commas"),
        ("time running backwards", b"0.0,10\n0.2,11\n0.1,12\n0.3,9\n0.4,8\n0.5,7\n0.6,5\n0.7,3\n", "t_s[2]", "forward"),
        ("NaN", b"0.0,10\n0.1,NaN\n", "row 2, angle", "finite"),
        ("a picture", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "file", "not text"),
        ("cut UTF-16", b"\xff\xfe0", "file", "cut or damaged"),
    ] {
        let (code, err) = command(bytes);
        let fault: Value = serde_json::from_slice(&err).unwrap();
        assert_eq!((code, &fault["fault"]["field"]), (2, &json!(field)), "{what}: {fault}");
        assert!(fault["fault"]["why"].as_str().unwrap().contains(say), "{what}: {fault}");
        let (answer, path) = upload(bytes);
        assert_eq!(answer.status, 422, "{what}");
        assert!(answer.text().contains("Not stored yet") && answer.text().contains(say), "{what}: {}", answer.text());
        assert!(!program.get(&path).text().contains("id=\"event-"), "{what}: nothing is stored");
    }
    // Inputs of the door are UTF-8; anything else is told.
    let json16: Vec<u8> = std::iter::once(0xfeff_u16).chain("{\"mass_kg\": 3}".encode_utf16()).flat_map(u16::to_le_bytes).collect();
    for bytes in [&json16[..], b"{\"mass_kg\": \"\xe4\"}"] {
        let out = assert_cmd::Command::cargo_bin("stillwheel").unwrap().args(["compute", "allowance"]).write_stdin(bytes).output().unwrap();
        assert!(out.status.code() == Some(2) && String::from_utf8_lossy(&out.stderr).contains("UTF-8"));
        let answer = post_json(&program.address, "/api/compute/allowance", bytes).unwrap();
        assert!(answer.status == 422 && answer.text().contains("UTF-8"));
    }
}

/// Page, what is typed where, at which field the fault stands.
#[test]
fn bad_numbers_typed_into_the_pages_are_faults_at_their_fields_and_nothing_is_stored() {
    let folder = tempfile::tempdir().unwrap();
    stillwheel::demo::records(&Store::open(folder.path().join("records.db")).unwrap(), jiff::Timestamp::UNIX_EPOCH).unwrap();
    let program = Program::serve(&folder.path().join("records.db"));
    let path = program.post("/sittings", &[("quick", "yes"), ("stand", "virtual")]).location();
    let before = program.get("/records/export").bytes;
    let rotors = program.get("/rotors").text();
    let rotor =
        rotors.split("/records/rotors/").nth(1).and_then(|t| t.split('"').next()).map(|id| format!("/records/rotors/{id}")).unwrap();
    let ring = groove(&program, &rotors);
    for (page, form, fill, field) in [
        (&rotor, "name=\"mass_kg\"", &[("mass_kg", "-2.4")][..], "mass_kg"),
        (&rotor, "name=\"mass_kg\"", &[("mass_kg", "0")], "mass_kg"),
        (&rotor, "name=\"mass_kg\"", &[("mass_kg", "NaN")], "mass_kg"),
        (&rotor, "name=\"mass_kg\"", &[("inertia_kg_m2", "-1")], "inertia_kg_m2"),
        (&rotor, "name=\"mass_kg\"", &[("diameter_mm", "wide")], "diameter_mm"),
        (&ring, "name=\"mass_1\"", &[("mass_1", "-16")], "mass_1"),
        (&ring, "name=\"mass_1\"", &[("radius_mm", "0")], "radius_mm"),
        (&path, "name=\"settle_deg\"", &[("settle_deg", "left")], "settle-settle_deg"),
        (&path, "name=\"settle_deg\"", &[("settle_deg", "10"), ("clock", "12")], "settle-clock"),
        (&path, "name=\"swings\"", &[("swings", "1"), ("time_s", "12"), ("amplitude_deg", "180")], "swing-amplitude_deg"),
        (&path, "name=\"swings\"", &[("swings", "1"), ("time_s", "-12"), ("amplitude_deg", "60")], "swing-time_s"),
        (&path, "name=\"bottom_deg\"", &[("bottom_deg", "90"), ("mass_g", "-5"), ("radius_mm", "40"), ("at_deg", "10")], "holds-mass_g"),
        // Heavier than the rotor of 2.4 kg.
        (
            &path,
            "name=\"bottom_deg\"",
            &[("bottom_deg", "90"), ("mass_g", "2.5 kg"), ("radius_mm", "40"), ("at_deg", "10")],
            "holds-mass_g",
        ),
    ] {
        let shown = program.get(page).text();
        let form = PageForm::holding(&shown, form).unwrap_or_else(|| panic!("no form with {form} on {page}"));
        let answer = fill.iter().fold(form, |f, (name, text)| f.fill(name, text)).send(&program);
        let text = answer.text();
        assert_eq!(answer.status, 422, "{fill:?}");
        assert!(text.contains(&format!("id=\"{field}-fault\"")), "{fill:?} at {field}: {}", faults(&text));
        assert!(fill.iter().all(|(_, typed)| text.contains(&format!("value=\"{typed}\""))), "{fill:?} is kept");
    }
    assert_eq!(get(&program.address, "/records/export").unwrap().bytes, before);
}

fn groove(program: &Program, rotors: &str) -> String {
    let all = rotors.split("/records/rings/").skip(1).map(|t| format!("/records/rings/{}", t.split('"').next().unwrap()));
    all.into_iter().find(|p| !p.ends_with("new") && program.get(p).text().contains("value=\"groove\" selected")).unwrap()
}

/// What a page says is wrong.
fn faults(page: &str) -> String {
    page.split("class=\"fault\"").skip(1).map(|f| f.split("</p>").next().unwrap_or("")).collect::<Vec<_>>().join(" | ")
}
