//! A table of reference/, read by its column names; fields in quotes may hold commas.

#![allow(unreachable_pub, missing_docs, reason = "test support")]

use std::collections::HashMap;

pub struct Table {
    names: Vec<String>,
    rows: Vec<Vec<String>>,
}

pub struct Row<'a>(HashMap<&'a str, &'a str>);

fn fields(line: &str) -> Vec<String> {
    let (mut out, mut quoted) = (vec![String::new()], false);
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ',' if !quoted => out.push(String::new()),
            c => out.last_mut().expect("never empty").push(c),
        }
    }
    out
}

impl Table {
    pub fn read(file: &str) -> Self {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../reference").join(file);
        let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
        let mut lines = text.lines().map(fields);
        let names = lines.next().expect("a line of names");
        Self { names, rows: lines.filter(|l| l.len() > 1).collect() }
    }

    pub fn rows(&self) -> impl Iterator<Item = Row<'_>> {
        self.rows.iter().map(|r| Row(self.names.iter().map(String::as_str).zip(r.iter().map(String::as_str)).collect()))
    }
}

impl Row<'_> {
    pub fn text(&self, column: &str) -> String {
        (*self.0.get(column).unwrap_or_else(|| panic!("no column {column}"))).to_owned()
    }

    pub fn number(&self, column: &str) -> f64 {
        self.text(column).parse().unwrap_or_else(|e| panic!("{column}: {e}"))
    }
}
