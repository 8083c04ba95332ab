//! A calculation's answer as tables with units, for a person at a terminal.
//!
//! In: the door's JSON, whose field names carry units. Out: text. One printer for all calculations, so that a new one
//! needs nothing here; what is too long to read is left to `--json`.

use comfy_table::{CellAlignment, ContentArrangement, Table, TableStyle, presets};
use serde_json::{Map, Value};
use std::fmt::Write as _;

/// Endings of field names and the unit they mean; longer ones first where one ends in another.
const UNITS: &[(&str, &str)] = &[
    ("_g2_mm2", "(g·mm)²"),
    ("_g_mm_s", "g·mm·s"),
    ("_g_mm_per_mm_m", "g·mm per mm/m"),
    ("_g_mm", "g·mm"),
    ("_mm_per_m", "mm/m"),
    ("_n_per_um", "N/µm"),
    ("_n_um", "N/µm"),
    ("_mm_m", "mm/m"),
    ("_mm2", "mm²"),
    ("_mm3", "mm³"),
    ("_percent", "%"),
    ("_mpa", "MPa"),
    ("_n_m", "N·m"),
    ("_kg_m3", "kg/m³"),
    ("_bar_abs", "bar absolute"),
    ("_bar", "bar"),
    ("_l_min_anr", "l/min ANR"),
    ("_l_min", "l/min"),
    ("_m_min", "m/min"),
    ("_un_m", "µN·m"),
    ("_gpa", "GPa"),
    ("_hz", "Hz"),
    ("_urad", "µrad"),
    ("_oz_in", "oz·in"),
    ("_kg_m2", "kg·m²"),
    ("_g_cm3", "g/cm³"),
    ("_per_s2", "1/s²"),
    ("_deg_per_s", "°/s"),
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
        let _ = writeln!(out, "\n{title}");
    }
    for name in ["says", "say"] {
        if let Some(sentence) = fields.get(name).and_then(Value::as_str) {
            let _ = writeln!(out, "{sentence}");
        }
    }
    let plain: Vec<(&String, &Value)> =
        fields.iter().filter(|(name, v)| !matches!(name.as_str(), "says" | "say") && is_plain(v) && !v.is_null()).collect();
    if !plain.is_empty() {
        let mut table = new_table(presets::NOTHING);
        for (name, v) in plain {
            let (label, unit) = label_and_unit(name);
            table.add_row([label, short(v), unit.to_owned()]);
        }
        if let Some(values) = table.column_mut(1) {
            values.set_cell_alignment(CellAlignment::Right);
        }
        let _ = writeln!(out, "{table}");
    }
    for (name, v) in fields {
        let (label, unit) = label_and_unit(name);
        let title = if title.is_empty() { label } else { format!("{title}: {label}") };
        match v {
            Value::Object(inner) if !is_plain(v) => section(&title, inner, out),
            Value::Array(items) if !items.is_empty() && !is_plain(v) => list(&title, unit, items, out),
            _ => {}
        }
    }
}

/// A list of parts as one table, of sentences as lines; what cannot be read so is told by its length.
fn list(title: &str, unit: &str, items: &[Value], out: &mut String) {
    if let Some(sentences) = items.iter().map(Value::as_str).collect::<Option<Vec<_>>>() {
        let _ = writeln!(out, "\n{title}");
        for sentence in sentences {
            let _ = writeln!(out, "- {sentence}");
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
            let mut table = new_table(presets::UTF8_BORDERS_ONLY);
            table.set_header(names.iter().map(|name| match label_and_unit(name) {
                (label, "") => label,
                (label, unit) => format!("{label}, {unit}"),
            }));
            for row in rows {
                table.add_row(names.iter().map(|name| row.get(*name).map_or_else(|| "–".to_owned(), short)));
            }
            let _ = writeln!(out, "\n{title}\n{table}");
        }
        _ => {
            let unit = if unit.is_empty() { String::new() } else { format!(" ({unit})") };
            let _ = writeln!(out, "\n{title}{unit}: {} values, see --json", items.len());
        }
    }
}

fn new_table(style: TableStyle) -> Table {
    let mut table = Table::new();
    table.load_style(style).set_content_arrangement(ContentArrangement::Dynamic);
    table
}

/// A value that fits one cell: a scalar, a few numbers, a number with its deviation, quantiles.
fn is_plain(v: &Value) -> bool {
    match v {
        Value::Object(fields) => spread(fields).is_some(),
        Value::Array(items) => items.len() <= 4 && items.iter().all(Value::is_number),
        _ => true,
    }
}

/// A mean with its deviation as ± at 95 %, or quantiles as a median with its range.
fn spread(fields: &Map<String, Value>) -> Option<String> {
    let number = |name: &str| fields.get(name).and_then(Value::as_f64);
    if let (2, Some(mean), Some(sd)) = (fields.len(), number("mean"), number("sd")) {
        return Some(format!("{} ± {}", five_digits(mean), three_digits(1.96 * sd)));
    }
    match (fields.len(), number("p05"), number("p50"), number("p95")) {
        (3, Some(low), Some(mid), Some(high)) => {
            Some(format!("{} ({} to {} with 90 %)", five_digits(mid), five_digits(low), five_digits(high)))
        }
        _ => None,
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
        Value::Object(fields) if is_plain(v) => spread(fields).unwrap_or_default(),
        Value::Object(fields) => fields.iter().map(|(k, v)| format!("{k} {}", short(v))).collect::<Vec<_>>().join(", "),
    }
}

/// Five figures: more than any reading on a stand carries.
fn five_digits(v: f64) -> String {
    significant(v, 5)
}

/// Three figures are enough for an uncertainty.
fn three_digits(v: f64) -> String {
    significant(v, 3)
}

fn significant(v: f64, figures: i32) -> String {
    if v == 0.0 {
        return "0".to_owned();
    }
    let size = v.abs().log10().floor() as i32;
    if !(-5..7).contains(&size) {
        return format!("{v:.*e}", (figures - 1) as usize);
    }
    let text = format!("{v:.*}", (figures - 1 - size).max(0) as usize);
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
            ("viscous_drag_g_mm_s", "viscous drag", "g·mm·s"),
            ("axis_tilt_mm_per_m", "axis tilt", "mm/m"),
            ("rim_speed_m_s", "rim speed", "m/s"),
            ("omega0_deg_per_s", "omega0", "°/s"),
            ("cross_slope_mm_m", "cross slope", "mm/m"),
            ("port_bar_abs", "port", "bar absolute"),
            ("bounce_hz", "bounce", "Hz"),
            ("reason", "reason", ""),
        ] {
            assert_eq!(label_and_unit(name), (label.to_owned(), unit));
        }
    }

    #[test]
    fn a_mean_is_shown_with_its_95_percent_range_in_one_cell() {
        let text = render(
            &serde_json::json!({"drift_g_mm": {"mean": -0.51234, "sd": 0.1}, "size_quantiles_g_mm": {"p05": 1.0, "p50": 2.0, "p95": 4.0}}),
        );
        assert!(text.contains("-0.51234 ± 0.196") && text.contains("g·mm"), "{text}");
        assert!(text.contains("2 (1 to 4 with 90 %)"), "{text}");
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
