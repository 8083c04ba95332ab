//! Checks that also write themselves down: each row asserted here becomes a row of docs/verification.md.
//!
//! Shared source, not a crate. In an integration test:
//!
//! ```ignore
//! #[path = "../../../reference/check.rs"]
//! mod check;
//!
//! // A row of our own:
//! check::row("ELL-01", "K at 60°", check::Kind::OutsideLibrary, "SciPy 1.17.1", 1.68575, got, check::Tolerance::Relative(1e-12));
//! // Values of a case of reference/balance-cases.json, with its expected values, tolerances and source:
//! let case = check::Case::of("TOL-02");
//! case.check("U_per_g_mm", permissible(case.input("G_mm_s"), ...));
//! ```
//!
//! A row that fails its tolerance fails the test. `cargo run -p stillwheel --example verification` gathers the rows
//! that the last test run left in `target/verification/` into the document; see the head of that example.

#![allow(dead_code, reason = "each test uses its own part of this file")]
#![allow(unreachable_pub, missing_docs, reason = "test support")]

use serde_json::{Value, json};
use std::path::{Path, PathBuf};

/// What kind of source the expected value comes from (design: three kinds of check).
#[derive(Clone, Copy, Debug)]
pub enum Kind {
    /// Closed form or published table.
    ClosedFormOrTable,
    /// Computed by a general-purpose package; the script stands under reference/scripts.
    OutsideLibrary,
    /// An independent reference program; its version stands in the data file.
    ReferenceProgram,
    /// Common practice, no source.
    Practice,
}

impl Kind {
    fn words(self) -> &'static str {
        match self {
            Self::ClosedFormOrTable => "closed form or table",
            Self::OutsideLibrary => "outside library",
            Self::ReferenceProgram => "reference program",
            Self::Practice => "practice",
        }
    }
}

/// How far `got` may be from `expected`.
#[derive(Clone, Copy, Debug)]
pub enum Tolerance {
    Absolute(f64),
    Relative(f64),
}

impl Tolerance {
    fn width(self, expected: f64) -> f64 {
        match self {
            Self::Absolute(t) => t,
            Self::Relative(t) => t * expected.abs(),
        }
    }
    fn words(self) -> String {
        match self {
            Self::Absolute(t) => format!("±{t}"),
            Self::Relative(t) => format!("±{t} of it"),
        }
    }
}

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

/// Assert one value and write its row down.
///
/// `id` sorts the document and is unique together with `what`; `what` names the value with its unit.
#[track_caller]
pub fn row(id: &str, what: &str, kind: Kind, source: &str, expected: f64, got: f64, tolerance: Tolerance) {
    let difference = got - expected;
    let within = difference.abs() <= tolerance.width(expected);
    write_row(
        id,
        what,
        &json!({"id": id, "what": what, "kind": kind.words(), "source": source, "expected": expected, "got": got,
            "difference": difference, "tolerance": tolerance.words()}),
    );
    assert!(within, "{id} {what}: expected {expected}, got {got}, allowed {} ({source})", tolerance.words());
}

/// Assert a word (a verdict, a name) and write its row down.
#[track_caller]
pub fn word(id: &str, what: &str, kind: Kind, source: &str, expected: &str, got: &str) {
    write_row(
        id,
        what,
        &json!({"id": id, "what": what, "kind": kind.words(), "source": source, "expected": expected, "got": got,
            "difference": null, "tolerance": "the same"}),
    );
    assert_eq!(expected, got, "{id} {what} ({source})");
}

fn write_row(id: &str, what: &str, row: &Value) {
    let folder = root().join("target/verification");
    std::fs::create_dir_all(&folder).expect("target/verification can be made");
    let name: String = format!("{id} {what}").chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '-' }).collect();
    std::fs::write(folder.join(format!("{name}.json")), row.to_string()).expect("a row can be written");
}

/// A file under reference/, as JSON.
pub fn reference(file: &str) -> Value {
    let path = root().join("reference").join(file);
    let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    serde_json::from_str(&text).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

/// One case of a file of cases.
pub struct Case(Value);

impl Case {
    /// One of reference/balance-cases.json.
    pub fn of(id: &str) -> Self {
        Self::in_file("balance-cases.json", id)
    }

    /// One of reference/mechanical-cases.json.
    pub fn mechanical(id: &str) -> Self {
        Self::in_file("mechanical-cases.json", id)
    }

    fn in_file(file: &str, id: &str) -> Self {
        let cases = reference(file);
        let found = cases.as_array().and_then(|all| all.iter().find(|c| c["id"] == id));
        Self(found.unwrap_or_else(|| panic!("no case {id} in {file}")).clone())
    }

    /// A number of the inputs.
    pub fn input(&self, name: &str) -> f64 {
        self.0["inputs"][name].as_f64().unwrap_or_else(|| panic!("no number {name} in {}", self.0["id"]))
    }

    /// A list of numbers of the inputs.
    pub fn inputs(&self, name: &str) -> Vec<f64> {
        let list = self.0["inputs"][name].as_array().unwrap_or_else(|| panic!("no list {name} in {}", self.0["id"]));
        list.iter().map(|v| v.as_f64().expect("a number")).collect()
    }

    /// A word of the inputs.
    pub fn text(&self, name: &str) -> String {
        self.0["inputs"][name].as_str().unwrap_or_else(|| panic!("no word {name} in {}", self.0["id"])).to_owned()
    }

    /// Assert one expected word of the case.
    #[track_caller]
    pub fn check_word(&self, name: &str, got: &str) {
        let expected = self.0["expected"][name].as_str().unwrap_or_else(|| panic!("no expected word {name} in {}", self.id()));
        word(self.id(), name, Kind::ClosedFormOrTable, &self.source(), expected, got);
    }

    /// The expected value, for cases that need it in words or lists.
    pub fn expected(&self, name: &str) -> &Value {
        &self.0["expected"][name]
    }

    pub fn source(&self) -> String {
        self.0["source"].as_str().unwrap_or_default().to_owned()
    }

    fn id(&self) -> &str {
        self.0["id"].as_str().expect("an id")
    }

    /// In the file: a bare number is relative, `{"abs": …}` is absolute, `_rel` holds where nothing else stands; one `abs` or
    /// `rel` holds for all expected values of a mechanical case.
    fn tolerance(&self, name: &str) -> Tolerance {
        let all = &self.0["tolerance"];
        if let Some(abs) = all["abs"].as_f64() {
            return Tolerance::Absolute(abs);
        }
        if let Some(rel) = all["rel"].as_f64() {
            return Tolerance::Relative(rel);
        }
        match &all[name] {
            Value::Number(n) => Tolerance::Relative(n.as_f64().expect("finite")),
            Value::Object(o) => Tolerance::Absolute(o["abs"].as_f64().expect("abs")),
            _ => Tolerance::Relative(all["_rel"].as_f64().unwrap_or_else(|| panic!("{} has no tolerance for {name}", self.id()))),
        }
    }

    /// Assert one expected number of the case.
    #[track_caller]
    pub fn check(&self, name: &str, got: f64) {
        let expected = self.0["expected"][name].as_f64().unwrap_or_else(|| panic!("no expected {name} in {}", self.id()));
        row(self.id(), name, Kind::ClosedFormOrTable, &self.source(), expected, got, self.tolerance(name));
    }

    /// Assert one expected list of numbers of the case, a row each: "foot_loads_N 1 of 3".
    #[track_caller]
    pub fn check_list(&self, name: &str, got: &[f64]) {
        let expected: Vec<f64> =
            self.0["expected"][name].as_array().expect("a list").iter().map(|v| v.as_f64().expect("a number")).collect();
        assert_eq!(expected.len(), got.len(), "{} {name}", self.id());
        for (i, (expected, got)) in expected.iter().zip(got).enumerate() {
            let what = format!("{name} {} of {}", i + 1, self.0["expected"][name].as_array().map_or(0, Vec::len));
            row(self.id(), &what, Kind::ClosedFormOrTable, &self.source(), *expected, *got, self.tolerance(name));
        }
    }

    /// The same through another face, whose name stands in the row: "U_per_g_mm (at the door)".
    #[track_caller]
    pub fn check_at(&self, face: &str, name: &str, got: f64) {
        let expected = self.0["expected"][name].as_f64().unwrap_or_else(|| panic!("no expected {name} in {}", self.id()));
        row(self.id(), &format!("{name} ({face})"), Kind::ClosedFormOrTable, &self.source(), expected, got, self.tolerance(name));
    }

    /// Assert one expected list of words of the case.
    #[track_caller]
    pub fn check_words(&self, name: &str, got: &[&str]) {
        let expected: Vec<String> =
            self.0["expected"][name].as_array().expect("a list").iter().map(|v| v.as_str().expect("a word").to_owned()).collect();
        word(self.id(), name, Kind::ClosedFormOrTable, &self.source(), &expected.join(", "), &got.join(", "));
    }
}
