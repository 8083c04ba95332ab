//! A calculation's answer as tables with units, for a person at a terminal.
//!
//! In: the door's JSON, whose field names carry units. Out: text. One printer for all calculations, so that a new one
//! needs nothing here; what is too long to read is left to `--json`.

use comfy_table::{CellAlignment, ContentArrangement, Table, presets};
use serde_json::{Map, Value};

/// Endings of field names and the unit they mean; longer ones first where one ends in another.
const UNITS: &[(&str, &str)] = &[
    ("_g2_mm2", "(g·mm)²"),
    ("_g_mm", "g·mm"),
    ("_oz_in", "oz·in"),
    ("_kg_m2", "kg·m²"),
    ("_g_cm3", "g/cm³"),
    ("_per_s2", "1/s²"),
    ("_per_s", "1/s"),
    ("_mm_s", "mm/s"),
    ("_m_s", "m/s"),
    ("_rad_s", "rad/s"),
    ("_rpm", "r/min"),
    ("_deg", "°"),
    ("_mm", "mm"),
    ("_um", "µm"),
    ("_kg", "kg"),
    ("_ms", "ms"),
    ("_g", "g"),
    ("_n", "N"),
    ("_s", "s"),
];

/// Lists longer than this are told by their length.
const LONGEST_LIST: usize = 40;

/// All of an answer.
pub(super) fn render(answer: &Value) -> String {
    let mut out = String::new();
    match answer {
        Value::Object(fields) => section("", fields, &mut out),
        other => out = format!("{}\n", short(other)),
    }
    out
}

/// Sentences first, then the plain values as one table, then each part under its title.
fn section(title: &str, fields: &Map<String, Value>, out: &mut String) {
    if !title.is_empty() {
        *out += &format!("\n{title}\n");
    }
    for name in ["says", "say"] {
        if let Some(sentence) = fields.get(name).and_then(Value::as_str) {
            *out += &format!("{sentence}\n");
        }
    }
    let plain: Vec<(&String, &Value)> = fields.iter().filter(|(name, v)| !matches!(name.as_str(), "says" | "say") && is_plain(v)).collect();
    if !plain.is_empty() {
        let mut table = new_table();
        for (name, v) in plain {
            let (label, unit) = label_and_unit(name);
            table.add_row([label, short(v), unit.to_owned()]);
        }
        if let Some(values) = table.column_mut(1) {
            values.set_cell_alignment(CellAlignment::Right);
        }
        *out += &format!("{table}\n");
    }
    for (name, v) in fields {
        let (label, unit) = label_and_unit(name);
        let title = if title.is_empty() { label } else { format!("{title}: {label}") };
        match v {
            Value::Object(inner) => section(&title, inner, out),
            Value::Array(items) if !items.is_empty() && !is_plain(v) => list(&title, unit, items, out),
            _ => {}
        }
    }
}

/// A list of parts as one table, of sentences as lines; what cannot be read so is told by its length.
fn list(title: &str, unit: &str, items: &[Value], out: &mut String) {
    if let Some(sentences) = items.iter().map(Value::as_str).collect::<Option<Vec<_>>>() {
        *out += &format!("\n{title}\n");
        for sentence in sentences {
            *out += &format!("- {sentence}\n");
        }
        return;
    }
    let rows: Option<Vec<&Map<String, Value>>> = items.iter().map(Value::as_object).collect();
    match rows {
        Some(rows) if rows.len() <= LONGEST_LIST => {
            let mut names: Vec<&String> = Vec::new();
            for name in rows.iter().flat_map(|r| r.keys()) {
                if !names.contains(&name) {
                    names.push(name);
                }
            }
            let mut table = new_table();
            table.set_header(names.iter().map(|name| match label_and_unit(name) {
                (label, "") => label,
                (label, unit) => format!("{label}, {unit}"),
            }));
            for row in rows {
                table.add_row(names.iter().map(|name| row.get(*name).map_or_else(|| "–".to_owned(), short)));
            }
            *out += &format!("\n{title}\n{table}\n");
        }
        _ => {
            let unit = if unit.is_empty() { String::new() } else { format!(" ({unit})") };
            *out += &format!("\n{title}{unit}: {} values, see --json\n", items.len());
        }
    }
}

fn new_table() -> Table {
    let mut table = Table::new();
    table.load_style(presets::UTF8_HORIZONTAL_ONLY).set_content_arrangement(ContentArrangement::Dynamic);
    table
}

/// A value that fits one cell: a scalar, or a few numbers.
fn is_plain(v: &Value) -> bool {
    match v {
        Value::Object(_) => false,
        Value::Array(items) => items.len() <= 4 && items.iter().all(Value::is_number),
        _ => true,
    }
}

/// `travel_of_one_weight_mm` is "travel of one weight" in mm.
fn label_and_unit(name: &str) -> (String, &'static str) {
    for (ending, unit) in UNITS {
        if let Some(stem) = name.strip_suffix(ending) {
            return (stem.replace('_', " "), unit);
        }
    }
    (name.replace('_', " "), "")
}

fn short(v: &Value) -> String {
    match v {
        Value::Null => "–".to_owned(),
        Value::Bool(b) => if *b { "yes" } else { "no" }.to_owned(),
        Value::Number(n) if n.is_f64() => n.as_f64().map_or_else(|| n.to_string(), five_digits),
        Value::Number(n) => n.to_string(),
        Value::String(s) => s.clone(),
        Value::Array(items) if items.is_empty() => "none".to_owned(),
        Value::Array(items) if is_plain(v) => items.iter().map(short).collect::<Vec<_>>().join(", "),
        Value::Array(items) => format!("{} values", items.len()),
        Value::Object(fields) => fields.iter().map(|(k, v)| format!("{k} {}", short(v))).collect::<Vec<_>>().join(", "),
    }
}

/// Five figures: more than any reading on a stand carries.
fn five_digits(v: f64) -> String {
    if v == 0.0 {
        return "0".to_owned();
    }
    let size = v.abs().log10().floor() as i32;
    if !(-5..7).contains(&size) {
        return format!("{v:.4e}");
    }
    let text = format!("{v:.*}", (4 - size).max(0) as usize);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_split_into_words_and_unit() {
        for (name, label, unit) in [
            ("allowance_g_mm", "allowance", "g·mm"),
            ("grade_mm_s", "grade", "mm/s"),
            ("travel_of_one_weight_mm", "travel of one weight", "mm"),
            ("inertia_kg_m2", "inertia", "kg·m²"),
            ("mass_kg", "mass", "kg"),
            ("force_n", "force", "N"),
            ("rim_speed_m_s", "rim speed", "m/s"),
            ("reason", "reason", ""),
        ] {
            assert_eq!(label_and_unit(name), (label.to_owned(), unit));
        }
    }

    #[test]
    fn numbers_keep_five_figures() {
        for (v, text) in
            [(9.682_714, "9.6827"), (0.003_35, "0.00335"), (1061.32, "1061.3"), (12.0, "12"), (-0.5, "-0.5"), (1e-9, "1.0000e-9")]
        {
            assert_eq!(five_digits(v), text);
        }
    }
}
