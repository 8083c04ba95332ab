//! The stand's commands as a person meets them: tables with units, sentences to act on, the same answers as JSON.

use assert_cmd::Command;
use serde_json::Value;

/// Exit code, standard output, standard error.
fn run(args: &[&str], stdin: &str) -> (i32, String, String) {
    let out = Command::cargo_bin("stillwheel").unwrap().args(args).write_stdin(stdin).output().unwrap();
    (out.status.code().unwrap(), String::from_utf8(out.stdout).unwrap(), String::from_utf8(out.stderr).unwrap())
}

const FEET: [&str; 6] = ["--foot", "x=-140,y=-70,pitch=1", "--foot", "x=140,y=-70,pitch=1", "--foot", "x=0,y=70,pitch=1"];

#[test]
fn each_command_prints_its_example_as_tables_and_as_the_doors_json() {
    for (name, shown) in [
        ("floor", ["arbor-runout", "g·mm", "Cheapest gain"]),
        ("level", ["Foot 2", "mm/m", "clockwise"]),
        ("arbor", ["sags", "µrad", "edge lift, µm"]),
        ("qualify", ["drifts by", "g·mm", "drift sd"]),
    ] {
        let calculation = stillwheel_door::find(name).unwrap();
        let example = (calculation.example)();
        let (code, out, err) = run(&[name, "-"], &example.to_string());
        assert_eq!((code, err.as_str()), (0, ""), "{name}");
        for s in shown {
            assert!(out.contains(s), "{name}: {s} in {out}");
        }
        let (code, out, _) = run(&[name, "-", "--json"], &example.to_string());
        assert_eq!((code, serde_json::from_str::<Value>(&out).unwrap()), (0, calculation.run(example).unwrap()), "{name}");
    }
}

#[test]
fn level_by_flags_tells_which_foot_which_way() {
    // Right side high by 0.05 mm/m and near side by 0.04, as each level turned end for end says; dz = −(sx·x + sy·y): feet 1 and 2
    // want +0.0042 and −0.0098 mm, foot 3 +0.0028; with foot 3 left, 0.5° up and 4.5° down with a pitch of 1 mm.
    let bubbles = ["--sensitivity", "0.02", "--bubble", "along=0,read=3,reversed=2", "--bubble", "along=90,read=-1.5,reversed=-2.5"];
    let (code, out, err) = run(&[&["level"], &bubbles[..], &FEET].concat(), "");
    assert_eq!((code, err.as_str()), (0, ""));
    assert!(out.contains("Foot 1: 0.5° clockwise. Foot 2: 4.5° counter-clockwise. Foot 3: leave it."), "{out}");
    // The same plane as heights of three places, in two units.
    let heights = ["--height", "x=0,y=0,z=0", "--height", "x=100,y=0,z=5um", "--height", "x=0,y=10cm,z=-0.004"];
    let (code, by_heights, err) = run(&[&["level"], &heights[..], &FEET].concat(), "");
    assert_eq!((code, err.as_str()), (0, ""));
    assert!(by_heights.contains("Foot 1: 0.5° clockwise. Foot 2: 4.5° counter-clockwise. Foot 3: leave it."), "{by_heights}");
}

#[test]
fn wrong_flags_and_faults_have_exit_code_2() {
    let two = ["--foot", "x=-140,y=-70,pitch=1", "--foot", "x=140,y=-70,pitch=1"];
    let bubbles = ["--sensitivity", "0.02", "--bubble", "along=0,read=3", "--bubble", "along=90,read=-1.5"];
    let in_line = ["--foot", "x=-140,y=0,pitch=1", "--foot", "x=140,y=0,pitch=1", "--foot", "x=0,y=1,pitch=1"];
    let (code, _, err) = run(&[&["level"], &bubbles[..], &in_line].concat(), "");
    assert!(code == 2 && err.contains("feet is") && err.contains("in one line"), "{err}");
    let (code, _, err) = run(&[&["level"], &bubbles[2..], &FEET].concat(), "");
    assert!(code == 2 && err.contains("--sensitivity"), "{err}");
    let (code, _, err) = run(&[&["level", "--bubble", "along=0,raed=3"], &FEET[..]].concat(), "");
    assert!(code == 2 && err.contains("none of along, read, reversed"), "{err}");
    let (code, _, err) = run(&[&["level"], &bubbles[..], &two].concat(), "");
    assert!(code == 2 && err.contains("three feet"), "{err}");
}
