//! Typed forms: what a person typed is kept, each fault stands at its field.

use super::error::field_fault;
use super::show::Show;
use maud::{Markup, html};
use std::collections::HashMap;
use stillwheel_door::Fault;
use stillwheel_physics::quantity::Dimension;
use stillwheel_store::StoreFault;

/// Text of a form with the faults found in it.
#[derive(Clone, Debug, Default)]
pub(crate) struct Typed {
    text: HashMap<String, String>,
    faults: Vec<Fault>,
}

impl Typed {
    /// As it came.
    pub(crate) fn new(text: HashMap<String, String>) -> Self {
        Self { text, faults: Vec::new() }
    }

    /// Put a field's text.
    pub(crate) fn put(&mut self, name: impl Into<String>, text: impl Into<String>) {
        self.text.insert(name.into(), text.into());
    }

    /// Put a field's text unless there is one.
    pub(crate) fn put_default(&mut self, name: &str, text: impl Into<String>) {
        self.text.entry(name.to_owned()).or_insert_with(|| text.into());
    }

    /// A field's text; empty when missing.
    pub(crate) fn text(&self, name: &str) -> &str {
        self.text.get(name).map_or("", |t| t.trim())
    }

    /// A field's text to the letter: in a table, spaces and tabs at its ends part columns.
    pub(crate) fn untrimmed(&self, name: &str) -> &str {
        self.text.get(name).map_or("", String::as_str)
    }

    /// Whether a box is ticked.
    pub(crate) fn ticked(&self, name: &str) -> bool {
        self.text.contains_key(name)
    }

    /// Add a fault.
    pub(crate) fn blame(&mut self, fault: Fault) {
        self.faults.push(fault);
    }

    /// Add a store's fault: at its field if it names one, else for the whole form.
    pub(crate) fn blame_store(&mut self, fault: &StoreFault) {
        self.faults.push(field_fault(fault).unwrap_or_else(|| Fault::new("", "", "", fault.to_string())));
    }

    /// Whether nothing was found wrong.
    pub(crate) fn is_good(&self) -> bool {
        self.faults.is_empty()
    }

    /// A number that must be there.
    pub(crate) fn number(&mut self, name: &str, dimension: Dimension, show: Show) -> f64 {
        let text = self.text(name).to_owned();
        if text.is_empty() {
            self.faults.push(Fault::new(name, "missing", "a number", "This field must be filled."));
            return f64::NAN;
        }
        self.read(show.read(name, &text, dimension))
    }

    /// A number that may be missing.
    pub(crate) fn optional(&mut self, name: &str, dimension: Dimension, show: Show) -> Option<f64> {
        if self.text(name).is_empty() { None } else { Some(self.number(name, dimension, show)) }
    }

    /// A rotor angle that must be there, degrees counter-clockwise.
    pub(crate) fn angle(&mut self, name: &str, show: Show) -> f64 {
        let text = self.text(name).to_owned();
        if text.is_empty() {
            self.faults.push(Fault::new(name, "missing", "an angle", "This field must be filled."));
            return f64::NAN;
        }
        self.read(show.read_angle(name, &text))
    }

    /// A result's value; its fault is kept.
    pub(crate) fn read(&mut self, result: Result<f64, Fault>) -> f64 {
        match result {
            Ok(v) => v,
            Err(f) => {
                self.faults.push(f);
                f64::NAN
            }
        }
    }

    /// The fault at a field: by its name, or by the end of a path (`looks[2].reading.time_s`).
    pub(crate) fn fault(&self, name: &str) -> Option<&Fault> {
        self.faults.iter().find(|f| is_at(f, name))
    }

    /// Faults that none of these fields shows.
    pub(crate) fn other_faults<'a>(&'a self, names: &'a [&str]) -> impl Iterator<Item = &'a Fault> {
        self.faults.iter().filter(move |f| !names.iter().any(|n| is_at(f, n)))
    }

    /// All faults.
    pub(crate) fn faults(&self) -> &[Fault] {
        &self.faults
    }
}

fn is_at(fault: &Fault, name: &str) -> bool {
    fault.field == name || fault.field.rsplit(['.', ']']).next() == Some(name)
}

/// How a field looks.
#[derive(Clone, Copy, Default)]
pub(crate) struct Field<'a> {
    /// Name in the form.
    pub(crate) name: &'a str,
    /// Prefix of the element's id, where one page holds several forms.
    pub(crate) within: &'a str,
    /// Label.
    pub(crate) label: &'a str,
    /// Unit of a bare number, shown behind the field.
    pub(crate) unit: &'a str,
    /// A line of help.
    pub(crate) hint: &'a str,
    /// `decimal` brings the number keys on a phone.
    pub(crate) keys: &'a str,
    /// Whether it must be filled.
    pub(crate) required: bool,
    /// Leave the check to the server.
    pub(crate) lax: bool,
}

impl Field<'_> {
    /// Neither marked as optional nor asked for by the browser: whether it is needed depends on another field.
    pub(crate) fn not_enforced(self) -> Self {
        Self { required: true, lax: true, ..self }
    }
}

/// A text field with label, unit, help and fault.
pub(crate) fn field(typed: &Typed, f: Field<'_>) -> Markup {
    framed(typed, f, |id, described, wrong| {
        html! {
            div.with-unit[!f.unit.is_empty()] {
                input id=(id) name=(f.name) type="text" value=(typed.text(f.name)) autocomplete="off" spellcheck="false" enterkeyhint="next"
                    inputmode=[(!f.keys.is_empty()).then_some(f.keys)] required[f.required && !f.lax]
                    aria-describedby=[described] aria-invalid=[wrong];
                @if !f.unit.is_empty() { span.unit aria-hidden="true" { (f.unit) } span.visually-hidden { "in " (f.unit) } }
            }
        }
    })
}

/// A choice of one from a list of (value, text).
pub(crate) fn select(typed: &Typed, name: &str, within: &str, label: &str, hint: &str, options: &[(String, String)]) -> Markup {
    let f = Field { name, within, label, hint, required: true, ..Field::default() };
    framed(typed, f, |id, described, wrong| {
        html! {
            select id=(id) name=(name) aria-describedby=[described] aria-invalid=[wrong] {
                @for (value, text) in options { option value=(value) selected[value == typed.text(name)] { (text) } }
            }
        }
    })
}

/// Label, help and fault around a control; it is told its id, what describes it, and whether it is wrong.
fn framed(typed: &Typed, f: Field<'_>, control: impl FnOnce(&str, Option<&str>, Option<&str>) -> Markup) -> Markup {
    let fault = typed.fault(f.name);
    let id = format!("{}{}", f.within, f.name);
    let (hint_id, fault_id) = (format!("{id}-hint"), format!("{id}-fault"));
    let described: Vec<&str> =
        [(!f.hint.is_empty()).then_some(hint_id.as_str()), fault.map(|_| fault_id.as_str())].into_iter().flatten().collect();
    let described = described.join(" ");
    html! {
        div.field.faulty[fault.is_some()] {
            label for=(id) { (f.label) @if !f.required { " " small { "(optional)" } } }
            (control(&id, (!described.is_empty()).then_some(described.as_str()), fault.map(|_| "true")))
            @if !f.hint.is_empty() { p.hint id=(hint_id) { (f.hint) } }
            @if let Some(fault) = fault { (fault_line(fault, &fault_id)) }
        }
    }
}

fn fault_line(fault: &Fault, id: &str) -> Markup {
    html! { p.fault id=(id) { (fault.why) @if !fault.allowed.is_empty() { " Allowed: " (fault.allowed) "." } } }
}

/// Units at the end of a field's name, longer ones first.
const UNITS: [(&str, &str); 19] = [
    ("_per_s2", "1/s²"),
    ("_mm_per_m", "mm/m"),
    ("_kg_m2", "kg·m²"),
    ("_g_mm", "g·mm"),
    ("_mm_m", "mm/m"),
    ("_mm_s", "mm/s"),
    ("_n_um", "N/µm"),
    ("_l_min", "l/min"),
    ("_r_min", "r/min"),
    ("_deg", "°"),
    ("_bar", "bar"),
    ("_rpm", "r/min"),
    ("_mm", "mm"),
    ("_um", "µm"),
    ("_kg", "kg"),
    ("_hz", "Hz"),
    ("_g", "g"),
    ("_n", "N"),
    ("_s", "s"),
];

/// A field's name as a person reads it: `creep0_time_s` is “creep 1, time (s)”, `clearance_um.from` “clearance (µm), from”.
fn in_words(field: &str) -> String {
    let (name, part) = match field.rsplit_once('.') {
        Some((path, part @ ("from" | "to" | "count"))) => (path, format!(", {part}")),
        _ => (field, String::new()),
    };
    let name = name.rsplit('.').next().unwrap_or(name);
    let (name, part) = match name.strip_suffix(']').and_then(|n| n.split_once('[')) {
        Some((list, place)) => (list, place.parse::<usize>().map_or(String::new(), |k| format!(", number {}", k + 1))),
        None => (name, part),
    };
    // A row of a form: letters, its number from 0, an underscore.
    let row = name.split_once('_').and_then(|(row, leaf)| {
        let letters = row.trim_end_matches(|c: char| c.is_ascii_digit());
        let number: usize = row.get(letters.len()..)?.parse().ok()?;
        (!letters.is_empty()).then(|| (format!("{letters} {}, ", number + 1), leaf))
    });
    let (row, name) = row.unwrap_or((String::new(), name));
    let (name, unit) =
        UNITS.iter().find_map(|(end, unit)| Some((name.strip_suffix(end)?, format!(" ({unit})")))).unwrap_or_else(|| (name, String::new()));
    format!("{row}{}{unit}{part}", name.replace('_', " "))
}

/// Faults of a whole form, on top of it.
pub(crate) fn fault_summary<'a>(faults: impl Iterator<Item = &'a Fault>) -> Markup {
    let faults: Vec<&Fault> = faults.collect();
    html! {
        @if !faults.is_empty() {
            section.card.faults role="alert" {
                h2 { "Not stored yet" }
                ul {
                    @for f in faults {
                        li { @if f.field.is_empty() { (f.why) } @else { (in_words(&f.field)) " is " (f.value) ". " (f.why) @if !f.allowed.is_empty() { " Allowed: " (f.allowed) "." } } }
                    }
                }
                p { "What you typed is kept below." }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::in_words;

    #[test]
    fn a_fields_name_is_read_as_words_with_its_unit() {
        for (field, words) in [
            ("mass_kg", "mass (kg)"),
            ("creep0_time_s", "creep 1, time (s)"),
            ("log1_rows", "log 2, rows"),
            ("clearance_um.from", "clearance (µm), from"),
            ("stand.sheet.feed.supply_bar", "supply (bar)"),
            ("least_stiffness_n_um", "least stiffness (N/µm)"),
            ("highest_floor_g_mm", "highest floor (g·mm)"),
            ("test.t_s[5]", "t (s), number 6"),
            ("name", "name"),
            ("design", "design"),
        ] {
            assert_eq!(in_words(field), words);
        }
    }
}
