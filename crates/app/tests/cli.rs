//! The command line as a person or a script meets it: answers, units, exit codes, faults.

use assert_cmd::Command;
use serde_json::{Value, json};
use std::io::{Read, Write};
use std::process::Stdio;

fn stillwheel(args: &[&str]) -> Command {
    let mut command = Command::cargo_bin("stillwheel").unwrap();
    command.args(args);
    command
}

/// Exit code, standard output, standard error.
fn run(args: &[&str], stdin: &str) -> (i32, String, String) {
    let out = stillwheel(args).write_stdin(stdin).output().unwrap();
    (out.status.code().unwrap(), String::from_utf8(out.stdout).unwrap(), String::from_utf8(out.stderr).unwrap())
}

fn json_of(text: &str) -> Value {
    serde_json::from_str(text).unwrap_or_else(|e| panic!("{e}: {text}"))
}

const TOL_10: &str = r#"{"mass_kg": 3, "speed_rpm": 2850, "wheel_diameter_mm": 200, "grade_mm_s": 1}"#;

#[test]
fn compute_lists_every_calculation() {
    let (code, out, err) = run(&["compute", "--list"], "");
    assert_eq!((code, err.as_str()), (0, ""));
    for c in stillwheel_door::calculations() {
        assert!(out.lines().any(|l| l.starts_with(c.name) && l.ends_with(c.about)), "{}", c.name);
    }
}

#[test]
fn compute_prints_schema_and_example_of_every_calculation() {
    for c in stillwheel_door::calculations() {
        let (code, out, _) = run(&["compute", c.name, "--schema"], "");
        assert_eq!((code, &json_of(&out)["input"]), (0, &(c.input_schema)().to_value()), "{}", c.name);
        let (code, out, _) = run(&["compute", c.name, "--example"], "");
        assert_eq!((code, json_of(&out)), (0, (c.example)()), "{}", c.name);
    }
}

#[test]
fn compute_reads_json_and_toml_from_file_and_standard_input() {
    let folder = tempfile::tempdir().unwrap();
    let toml = "mass_kg = 3\nspeed_rpm = 2850\nwheel_diameter_mm = 200\ngrade_mm_s = 1.0\n";
    let file = |name: &str, text: &str| {
        let path = folder.path().join(name);
        std::fs::write(&path, text).unwrap();
        path.to_str().unwrap().to_owned()
    };
    let json_file = file("in.json", TOL_10);
    let toml_file = file("in.TOML", toml);
    let bare_file = file("input", toml);
    for (args, stdin) in [
        (vec!["compute", "allowance"], TOL_10),
        (vec!["compute", "allowance", "-"], TOL_10),
        (vec!["compute", "allowance", "-"], toml),
        (vec!["compute", "allowance", &json_file], ""),
        (vec!["compute", "allowance", &toml_file], ""),
        (vec!["compute", "allowance", &bare_file], ""),
        (vec!["allowance", &toml_file, "--json"], ""),
        (vec!["--json", "allowance", "-"], toml),
    ] {
        let (code, out, err) = run(&args, stdin);
        assert_eq!(code, 0, "{args:?}: {err}");
        // TOL-10 of the reference cases: 10.0519 g·mm.
        let got = json_of(&out)["allowance_g_mm"].as_f64().unwrap();
        assert!((got - 10.0519).abs() < 1e-3, "{args:?}: {got}");
    }
}

#[test]
fn a_fault_of_compute_is_json_on_standard_error_with_exit_code_2() {
    for (args, stdin, field) in [
        (vec!["compute", "allowance"], TOL_10.replace('3', "-3"), "mass_kg"),
        (vec!["compute", "allowance"], TOL_10.replace("200", "1e999"), "wheel_diameter_mm"),
        (vec!["compute", "allowance"], TOL_10.replace("2850", "\"fast\""), "speed_rpm"),
        (vec!["compute", "allowance"], TOL_10.replace("grade_mm_s", "grade"), "grade"),
        (vec!["compute", "allowance"], "mass_kg = nan".to_owned(), "mass_kg"),
        (vec!["compute", "allowance"], String::new(), "input"),
        (vec!["compute", "no-such-thing"], String::new(), "name"),
        (vec!["allowance", "-", "--json"], TOL_10.replace('3', "-3"), "mass_kg"),
        (
            vec!["compute", "estimate"],
            r#"{"known": {"inertia_kg_m2": 0.008, "unbalance_prior_sd_g_mm": 100},
            "looks": [{"weights": [], "reading": {"kind": "settle", "settle_deg": "abc", "sd_deg": 3}}]}"#
                .to_owned(),
            "looks[0].reading.settle_deg",
        ),
    ] {
        let (code, out, err) = run(&args, &stdin);
        assert_eq!((code, out.as_str()), (2, ""), "{args:?} {stdin}");
        let fault = &json_of(&err)["fault"];
        assert_eq!(fault["field"], field, "{err}");
        for key in ["value", "allowed", "why"] {
            assert!(!fault[key].is_null() && fault[key] != "", "{err}");
        }
    }
}

#[test]
fn a_fault_of_a_human_command_is_told_in_words_with_exit_code_2() {
    let (code, out, err) =
        run(&["allowance", "--mass", "3kg", "--speed", "2850", "--diameter", "200", "--grade", "1", "--marked-m-s", "25"], "");
    assert_eq!((code, out.as_str()), (2, ""));
    assert!(err.contains("speed_rpm is 2850") && err.contains("could burst"), "{err}");
}

#[test]
fn other_errors_have_exit_code_1_and_wrong_arguments_2() {
    let (code, out, err) = run(&["compute", "allowance", "no/such/file.json"], "");
    assert_eq!((code, out.as_str()), (1, ""));
    assert!(err.contains("no/such/file.json"), "{err}");
    for args in [
        &["allowance", "--mass", "3"][..],
        &["allowance", "--mass", "3", "--speed", "2850", "--diameter", "200"],
        &["allowance", "--mass", "3kg", "--speed", "2850", "--diameter", "8 kg"],
        &["swing", "--inertia", "NaN", "--amplitude", "60", "--time", "12"],
        &["swing", "--inertia", "0.008", "--amplitude", "60", "--time", "12", "--unbalance", "100"],
        &["rotor", "--body", "outer=200,width=20,mass=3"],
        &["rotor", "--body", "outer=200,mass=3kg"],
        &["no-such-command"],
        &["compute"],
    ] {
        let (code, out, err) = run(args, "");
        assert_eq!((code, out.as_str()), (2, ""), "{args:?}");
        assert!(!err.is_empty() && !err.contains("panicked"), "{args:?}: {err}");
    }
}

#[test]
fn quantities_are_taken_with_their_units() {
    let args = |mass, diameter| ["--json", "allowance", "--mass", mass, "--speed", "47.5 r/s", "--diameter", diameter, "--grade", "1"];
    let (_, a, err) = run(&args("3 kg", "200"), "");
    let (_, b, _) = run(&args("3000g", "20 cm"), "");
    assert_eq!(json_of(&a)["allowance_g_mm"], json_of(&b)["allowance_g_mm"], "{err}");
    // 7.874015748 in = 200 mm; 6.613867866 lb = 3 kg.
    let (_, c, _) = run(&args("6.613867866 lb", "7.874015748in"), "");
    let ratio = json_of(&c)["rim_speed_m_s"].as_f64().unwrap() / json_of(&a)["rim_speed_m_s"].as_f64().unwrap();
    assert!((ratio - 1.0).abs() < 1e-9);
}

#[test]
fn human_commands_print_tables_with_units() {
    let (code, out, err) = run(
        &["allowance", "--mass", "3kg", "--speed", "2850", "--diameter", "200", "--grade", "1", "--ring-radius", "38", "--weight", "16g"],
        "",
    );
    assert_eq!(code, 0, "{err}");
    for part in [
        "10.052",
        "g·mm",
        "oz·in",
        "µm",
        "3.3506",
        "0.89535",
        "N",
        "travel of one weight",
        "°",
        "rim speed",
        "m/s",
        "balance quality grade G 1",
    ] {
        assert!(out.contains(part), "{part} in\n{out}");
    }
    // PER-01 of the reference cases: 300 g·mm.
    let (code, out, err) = run(&["swing", "--inertia", "0.008", "--amplitude", "25°", "--time", "10.4857 s"], "");
    assert_eq!(code, 0, "{err}");
    assert!(out.contains("Unbalance 300.00 ± 0.00 g·mm"), "{out}");
    // INE-01: 705.138 g, 0.00294466 kg·m².
    let (code, out, err) = run(&["rotor", "--body", "name=wheel,outer=180,inner=31.75mm,width=13,density=2.2"], "");
    assert_eq!(code, 0, "{err}");
    assert!(out.contains("705.14") && out.contains("0.0029447") && out.contains("kg·m²"), "{out}");
    // PER-10 with small swings: 0.008 kg·m².
    let (code, out, err) = run(
        &[
            "--json",
            "rotor",
            "--bare-swing",
            "20.064093s",
            "--trial-swing",
            "9.2163882",
            "--amplitude",
            "0.01",
            "--trial-mass",
            "5g",
            "--trial-radius",
            "60",
        ],
        "",
    );
    assert_eq!(code, 0, "{err}");
    assert!((json_of(&out)["inertia_for_looks_kg_m2"].as_f64().unwrap() - 0.008).abs() < 1e-6);
}

#[test]
fn commands_that_read_a_file_answer_as_the_door_does() {
    for (command, name) in [
        ("rotor", "rotor"),
        ("allowance", "allowance"),
        ("swing", "look-swing"),
        ("estimate", "estimate"),
        ("place", "place-weights"),
        ("fit-log", "fit-log"),
        ("next", "next-step"),
    ] {
        let calculation = stillwheel_door::find(name).unwrap();
        let example = (calculation.example)();
        let (code, out, err) = run(&["--json", command, "-"], &example.to_string());
        match calculation.run(example.clone()) {
            Ok(expected) => {
                assert_eq!((code, json_of(&out)), (0, expected), "{command}: {err}");
                let (code, out, _) = run(&[command, "-"], &example.to_string());
                assert!(code == 0 && out.lines().count() > 5 && !out.contains("null"), "{command}: {out}");
            }
            Err(fault) => assert_eq!((code, json_of(&err)), (2, json!({ "fault": fault })), "{command}"),
        }
    }
}

#[test]
fn fit_log_reads_a_csv_with_flags_as_the_door_reads_the_same_numbers() {
    let mut input = (stillwheel_door::find("fit-log").unwrap().example)();
    let column = |name: &str| input[name].as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect::<Vec<_>>();
    let rows: Vec<String> = column("t_s").iter().zip(column("angle_deg")).map(|(t, a)| format!("{t};{a}")).collect();
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("swing.CSV");
    std::fs::write(&path, format!("t_s;angle_deg\n{}\n", rows.join("\n"))).unwrap();
    let path = path.to_str().unwrap();
    let (code, out, err) = run(&["--json", "fit-log", path, "--inertia", "0.0082", "--inertia-sd", "5%", "--drift-sd", "1"], "");
    assert_eq!(code, 0, "{err}");
    input["inertia_kg_m2"] = json!(0.0082);
    input["inertia_rel_sd"] = json!(0.05);
    input["drift_prior_sd_g_mm"] = json!(1.0);
    assert_eq!(json_of(&out), stillwheel_door::find("fit-log").unwrap().run(input).unwrap());
    // The same rows on standard input, with or without the dash.
    for dash in [&["-"][..], &[]] {
        let args = [&["--json", "fit-log"], dash, &["--inertia", "0.0082", "--inertia-sd", "5%", "--drift-sd", "1"]].concat();
        let (code, piped, err) = run(&args, &std::fs::read_to_string(path).unwrap());
        assert_eq!((code, json_of(&piped)), (0, json_of(&out)), "{err}");
    }
    // One row is no log; flags beside an input that holds its own values are refused.
    std::fs::write(folder.path().join("one.csv"), "0.0;10.0\n").unwrap();
    let (code, _, err) = run(&["fit-log", folder.path().join("one.csv").to_str().unwrap()], "");
    assert_eq!(code, 2, "{err}");
    let (code, _, err) = run(&["fit-log", "-", "--dry-friction"], "{}");
    assert!(code == 1 && err.contains(".csv"), "{err}");
}

#[test]
fn completions_are_printed_for_each_shell() {
    for shell in ["bash", "zsh", "fish"] {
        let (code, out, _) = run(&["completions", shell], "");
        assert!(code == 0 && out.contains("allowance") && out.contains("compute"), "{shell}");
    }
}

#[test]
fn a_closed_pipe_is_no_panic() {
    for args in [&["compute", "next-step", "--schema"][..], &["completions", "bash"], &["compute", "--list"]] {
        let mut child = std::process::Command::new(assert_cmd::cargo::cargo_bin("stillwheel"))
            .args(args)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        drop(child.stdout.take());
        let mut err = String::new();
        child.stderr.take().unwrap().read_to_string(&mut err).unwrap();
        let status = child.wait().unwrap();
        assert!(!err.contains("panicked") && status.code() == Some(0), "{args:?}: {status} {err}");
    }
}

#[test]
fn a_fault_with_standard_error_closed_still_exits_with_2() {
    let mut child = std::process::Command::new(assert_cmd::cargo::cargo_bin("stillwheel"))
        .args(["compute", "allowance"])
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stderr.take());
    child.stdin.take().unwrap().write_all(json!({"mass_kg": -1}).to_string().as_bytes()).unwrap();
    assert_eq!(child.wait().unwrap().code(), Some(2));
}
