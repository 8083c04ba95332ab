//! Why a JSON value does not fit a calculation's input: the exact field, what is there, what would be accepted.
//!
//! In: the input's JSON Schema and a value. Out: a [`Fault`] on the first field that does not fit. Run before serde:
//! serde loses the place inside tagged enums (it buffers them) and takes a list for an object in silence; the schema
//! keeps the place, and it is where the words for "allowed" stand.

use crate::{Fault, FaultValue};
use serde_json::{Map, Value};

/// The first field of `value` that does not fit `schema`; `None` when the schema finds nothing wrong.
pub(crate) fn explain(schema: &Value, value: &Value) -> Option<Fault> {
    Walk { root: schema }.node(schema, value, Path::Root, None)
}

/// Where the walk stands; written out only when there is a fault to tell, since a swing log has many rows.
#[derive(Clone, Copy)]
enum Path<'p> {
    Root,
    Field(&'p Path<'p>, &'p str),
    Item(&'p Path<'p>, usize),
}

impl Path<'_> {
    /// The field's name in a fault: `looks[2].reading.time_s`.
    fn name(self) -> String {
        match self {
            Self::Root => "input".to_owned(),
            Self::Field(Path::Root, name) => name.to_owned(),
            Self::Field(outer, name) => format!("{}.{name}", outer.name()),
            Self::Item(outer, i) => format!("{}[{i}]", outer.name()),
        }
    }
}

struct Walk<'a> {
    root: &'a Value,
}

impl<'a> Walk<'a> {
    fn resolve(&self, node: &'a Value) -> &'a Value {
        match node["$ref"].as_str().and_then(|r| r.strip_prefix('#')) {
            Some(pointer) => self.root.pointer(pointer).unwrap_or(node),
            None => node,
        }
    }

    /// `about` is the description of the field, which stands beside a `$ref` and not behind it.
    fn node(&self, node: &'a Value, value: &Value, path: Path, about: Option<&'a str>) -> Option<Fault> {
        let about = about.or_else(|| node["description"].as_str());
        let node = self.resolve(node);
        let about = about.or_else(|| node["description"].as_str());
        for choice in ["oneOf", "anyOf"] {
            if let Some(branches) = node[choice].as_array() {
                return self.choice(branches, value, path, about);
            }
        }
        if let Some(words) = node["enum"].as_array() {
            let fits = words.contains(value);
            return (!fits).then(|| word_fault(path, value, &words.iter().filter_map(Value::as_str).collect::<Vec<_>>(), about));
        }
        if let Some(word) = node["const"].as_str() {
            return (value != word).then(|| word_fault(path, value, &[word], about));
        }
        let types = types_of(node);
        if !types.is_empty() && !types.iter().any(|t| is_a(value, t)) {
            return Some(type_fault(path, value, node, about));
        }
        match value {
            Value::Object(fields) => self.object(node, fields, path),
            Value::Array(items) => self.array(node, items, path, about),
            Value::Number(n) => {
                let v = n.as_f64()?;
                let low = node["minimum"].as_f64().is_some_and(|m| v < m);
                let high = node["maximum"].as_f64().is_some_and(|m| v > m);
                (low || high).then(|| type_fault(path, value, node, about))
            }
            _ => None,
        }
    }

    fn object(&self, node: &'a Value, fields: &Map<String, Value>, path: Path) -> Option<Fault> {
        let properties = node["properties"].as_object();
        if node["additionalProperties"] == Value::Bool(false) {
            // By name: the order of a JSON map depends on which libraries it is built with.
            let mut known: Vec<&str> = properties.map(|p| p.keys().map(String::as_str).collect()).unwrap_or_default();
            known.sort_unstable();
            if let Some((name, v)) = fields.iter().find(|(name, _)| !known.contains(&name.as_str())) {
                let hint = nearest(name, &known).map_or_else(String::new, |n| format!("; did you mean {n}?"));
                return Some(Fault::new(
                    Path::Field(&path, name).name(),
                    shown(v),
                    known.join(", "),
                    format!("there is no such field here{hint}"),
                ));
            }
        }
        for name in node["required"].as_array().into_iter().flatten().filter_map(Value::as_str) {
            if !fields.contains_key(name) {
                let field = &node["properties"][name];
                let about = field["description"].as_str();
                return Some(Fault::new(
                    Path::Field(&path, name).name(),
                    "missing",
                    wanted(self.resolve(field), about, &self.words_of(field)),
                    "this field is needed",
                ));
            }
        }
        for (name, v) in fields {
            let field = properties.and_then(|p| p.get(name)).or_else(|| Some(&node["additionalProperties"]).filter(|a| a.is_object()));
            if let Some(fault) = field.and_then(|f| self.node(f, v, Path::Field(&path, name), None)) {
                return Some(fault);
            }
        }
        None
    }

    fn array(&self, node: &'a Value, items: &[Value], path: Path, about: Option<&'a str>) -> Option<Fault> {
        let count = items.len() as f64;
        if node["minItems"].as_f64().is_some_and(|m| count < m) || node["maxItems"].as_f64().is_some_and(|m| count > m) {
            return Some(type_fault(path, &Value::Array(items.to_vec()), node, about));
        }
        items.iter().enumerate().find_map(|(i, v)| {
            let schema = node["prefixItems"].get(i).or_else(|| Some(&node["items"]).filter(|s| s.is_object()))?;
            self.node(schema, v, Path::Item(&path, i), about)
        })
    }

    /// Several shapes are possible: an optional value, a word out of several, or an object told apart by a tag.
    fn choice(&self, branches: &'a [Value], value: &Value, path: Path, about: Option<&'a str>) -> Option<Fault> {
        if branches.iter().any(|b| self.node(b, value, path, about).is_none()) {
            return None;
        }
        let real: Vec<&Value> = branches.iter().map(|b| self.resolve(b)).filter(|b| b["type"] != "null").collect();
        if let [only] = real[..] {
            return self.node(only, value, path, about);
        }
        let words: Vec<&str> = real.iter().flat_map(|b| self.words_of(b)).collect();
        if words.len() >= real.len() && !value.is_object() {
            return Some(word_fault(path, value, &words, about));
        }
        let Some(tag) = tag_of(&real) else {
            // Told apart by shape alone: explain against the branch whose type fits.
            return real
                .iter()
                .find(|b| types_of(b).iter().any(|t| is_a(value, t)))
                .and_then(|b| self.node(b, value, path, about))
                .or_else(|| Some(type_fault(path, value, real[0], about)));
        };
        let kinds: Vec<&str> = real.iter().filter_map(|b| b["properties"][tag]["const"].as_str()).collect();
        let Some(fields) = value.as_object() else {
            return Some(Fault::new(
                path.name(),
                shown(value),
                format!("an object with {tag}: {}", kinds.join(", ")),
                why(value, "object"),
            ));
        };
        let Some(kind) = fields.get(tag) else {
            return Some(Fault::new(Path::Field(&path, tag).name(), "missing", kinds.join(", "), "this field is needed"));
        };
        match real.iter().find(|b| b["properties"][tag]["const"] == *kind) {
            Some(branch) => self.node(branch, value, path, about),
            None => Some(word_fault(Path::Field(&path, tag), kind, &kinds, None)),
        }
    }

    /// The words that a field accepts, when it accepts words only.
    fn words_of(&self, node: &'a Value) -> Vec<&'a str> {
        let node = self.resolve(node);
        if let Some(word) = node["const"].as_str() {
            return vec![word];
        }
        if let Some(words) = node["enum"].as_array() {
            return words.iter().filter_map(Value::as_str).collect();
        }
        node["oneOf"].as_array().into_iter().flatten().filter_map(|b| b["const"].as_str()).collect()
    }
}

/// The property whose constant tells the branches apart.
fn tag_of<'a>(branches: &[&'a Value]) -> Option<&'a str> {
    let first = branches.first()?["properties"].as_object()?;
    let tag = first.iter().find(|(_, p)| p["const"].is_string())?.0;
    branches.iter().all(|b| b["properties"][tag.as_str()]["const"].is_string()).then_some(tag.as_str())
}

fn types_of(node: &Value) -> Vec<&str> {
    match &node["type"] {
        Value::String(t) => vec![t],
        Value::Array(list) => list.iter().filter_map(Value::as_str).collect(),
        _ => Vec::new(),
    }
}

fn is_a(value: &Value, kind: &str) -> bool {
    match kind {
        "number" => value.is_number(),
        "integer" => value.is_i64() || value.is_u64(),
        "string" => value.is_string(),
        "boolean" => value.is_boolean(),
        "array" => value.is_array(),
        "object" => value.is_object(),
        "null" => value.is_null(),
        _ => false,
    }
}

/// A value as a person would point at it; long ones cut.
fn shown(value: &Value) -> FaultValue {
    match value {
        Value::Number(n) => n.as_f64().map_or_else(|| n.to_string().into(), FaultValue::from),
        Value::String(s) if s.chars().count() > 80 => format!("{}…", s.chars().take(80).collect::<String>()).into(),
        Value::String(s) => s.as_str().into(),
        Value::Null => "null".into(),
        Value::Bool(b) => b.to_string().into(),
        Value::Array(items) => format!("a list of {}", items.len()).into(),
        Value::Object(_) => "an object".into(),
    }
}

fn type_words(node: &Value) -> String {
    let types: Vec<&str> = types_of(node).into_iter().filter(|t| *t != "null").collect();
    let Some(kind) = types.first() else { return "another shape".to_owned() };
    let range = match (node["minimum"].as_f64(), node["maximum"].as_f64()) {
        (Some(low), Some(high)) => format!(" from {low} to {high}"),
        (Some(low), None) => format!(", {low} or more"),
        (None, Some(high)) => format!(", at most {high}"),
        (None, None) => String::new(),
    };
    match *kind {
        "number" => format!("a number{range}"),
        "integer" => format!("a whole number{range}"),
        "string" => "text".to_owned(),
        "boolean" => "true or false".to_owned(),
        "array" => match (node["minItems"].as_u64(), node["maxItems"].as_u64()) {
            (Some(low), Some(high)) if low == high => format!("a list of {low}"),
            _ => "a list".to_owned(),
        },
        _ => "an object".to_owned(),
    }
}

/// What a field accepts, with its description.
fn wanted(node: &Value, about: Option<&str>, words: &[&str]) -> String {
    let what = if !words.is_empty() {
        words.join(", ")
    } else if let Some(branches) = node["oneOf"].as_array().or_else(|| node["anyOf"].as_array()) {
        let branches: Vec<&Value> = branches.iter().collect();
        match tag_of(&branches) {
            Some(tag) => {
                let kinds: Vec<&str> = branches.iter().filter_map(|b| b["properties"][tag]["const"].as_str()).collect();
                format!("an object with {tag}: {}", kinds.join(", "))
            }
            None => type_words(node),
        }
    } else {
        type_words(node)
    };
    about.map_or_else(|| what.clone(), |about| format!("{what} ({})", about.trim_end_matches('.').replace('\n', " ")))
}

fn type_fault(path: Path, value: &Value, node: &Value, about: Option<&str>) -> Fault {
    let kind = types_of(node).into_iter().find(|t| *t != "null").unwrap_or("object");
    Fault::new(path.name(), shown(value), wanted(node, about, &[]), why(value, kind))
}

fn word_fault(path: Path, value: &Value, words: &[&str], about: Option<&str>) -> Fault {
    let hint = value.as_str().and_then(|v| nearest(v, words)).map_or_else(String::new, |n| format!("; did you mean {n}?"));
    Fault::new(path.name(), shown(value), wanted(&Value::Null, about, words), format!("this word is not one of them{hint}"))
}

fn why(value: &Value, wanted: &str) -> String {
    let is = match value {
        Value::String(s) if wanted == "number" || wanted == "integer" => {
            let reason = if s.trim().parse::<f64>().is_ok() {
                "write it without quotes"
            } else if s.contains(|c: char| c.is_ascii_digit()) {
                "write the number alone, in the unit of the field's name, with a decimal point and without quotes"
            } else {
                "write a number, without quotes"
            };
            return format!("this is text: {reason}");
        }
        Value::String(_) => "text",
        Value::Number(_) if wanted == "integer" => "not a whole number in that range",
        Value::Number(_) => "a number",
        Value::Null => "nothing",
        Value::Bool(_) => "true or false",
        Value::Array(_) if wanted == "array" => "a list of another length",
        Value::Array(_) => "a list",
        Value::Object(_) => "an object",
    };
    format!("this is {is}")
}

/// The known name that a mistyped one most likely means: at most a third of its letters to change.
fn nearest<'n>(name: &str, known: &[&'n str]) -> Option<&'n str> {
    let best = known.iter().map(|k| (distance(name, k), *k)).min()?;
    (best.0 * 3 <= name.chars().count().max(3)).then_some(best.1)
}

/// Levenshtein distance, row by row.
fn distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    // Names are short; a long one is no misspelling, and the time is kept bounded.
    for (i, ca) in a.chars().take(100).enumerate() {
        let mut left = i + 1;
        let mut diagonal = row[0];
        row[0] = left;
        for (j, cb) in b.iter().enumerate() {
            let here = (diagonal + usize::from(ca != *cb)).min(left + 1).min(row[j + 1] + 1);
            diagonal = row[j + 1];
            row[j + 1] = here;
            left = here;
        }
    }
    row[b.len()]
}
