//! Text in JSON or TOML to a JSON value, strictly: what another reader would pass over in silence is a fault here.
//!
//! In: text or bytes. Out: a JSON object, or a [`Fault`] that names the field. A number too large for its type, NaN,
//! infinities, a key that stands twice, and a date where no date is known are all refused.

use crate::{Fault, FaultValue};
use serde::de::{Deserialize, Deserializer, Error as _, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Number, Value};

/// How an input is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// JSON.
    Json,
    /// TOML.
    Toml,
}

impl Format {
    /// By the first sign: an input is always an object, so JSON starts with a brace, and TOML never does.
    pub fn of_text(text: &str) -> Self {
        if text.trim_start().starts_with('{') { Self::Json } else { Self::Toml }
    }
}

/// Most items of one list: five times the longest log. What is longer is refused while it is read, before it fills the memory.
const MOST_ITEMS: usize = 1_000_000;

/// Read an input from bytes; `format` from the file's name if it tells, else by the first sign.
///
/// # Errors
/// A [`Fault`] for bytes that are not UTF-8, an empty text, or as [`read_json`] and [`read_toml`].
pub fn read_bytes(bytes: &[u8], format: Option<Format>) -> Result<Value, Fault> {
    let text = std::str::from_utf8(bytes).map_err(|e| {
        Fault::new("input", format!("bytes that are no text from position {}", e.valid_up_to()), "UTF-8 text", "save the file as UTF-8")
    })?;
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    if text.trim().is_empty() {
        return Err(Fault::new("input", "empty", "a JSON or TOML document", "see `compute NAME --example` for one to start from"));
    }
    match format.unwrap_or_else(|| Format::of_text(text)) {
        Format::Json => read_json(text),
        Format::Toml => read_toml(text),
    }
}

/// Read JSON.
///
/// # Errors
/// A [`Fault`] that names the field for text that is not JSON, numbers out of the range of a 64-bit float (`1e999`),
/// keys that stand twice, and lists of more than 1,000,000 items.
pub fn read_json(text: &str) -> Result<Value, Fault> {
    let mut json = serde_json::Deserializer::from_str(text);
    let Strict(value) = serde_path_to_error::deserialize(&mut json).map_err(|e| {
        let field = path_of(e.path());
        let inner = e.into_inner();
        let at = format!("the text at line {}, column {}", inner.line(), inner.column());
        Fault::new(field, at, "JSON with finite numbers, each key once", format!("the JSON could not be read: {inner}"))
    })?;
    json.end().map_err(|e| {
        Fault::new(
            "input",
            format!("the text at line {}, column {}", e.line(), e.column()),
            "one JSON object",
            "there is more after its end",
        )
    })?;
    Ok(value)
}

/// Read TOML.
///
/// # Errors
/// A [`Fault`] for text that is not TOML, and for `nan`, `inf` and dates, which no input knows, naming the field.
pub fn read_toml(text: &str) -> Result<Value, Fault> {
    let table: toml::Table = toml::from_str(text).map_err(|e| {
        let at = e.span().map_or_else(
            || "this text".to_owned(),
            |span| {
                let line = text.get(..span.start).map_or(1, |before| before.matches('\n').count() + 1);
                format!("the text at line {line}")
            },
        );
        Fault::new("input", at, "TOML, or JSON starting with {", format!("the TOML could not be read: {}", e.message()))
    })?;
    from_toml(toml::Value::Table(table), "")
}

fn from_toml(value: toml::Value, path: &str) -> Result<Value, Fault> {
    let refuse =
        |value: FaultValue, why: &str| Err(Fault::new(path, value, "a finite number, text, true or false, a list or a table", why));
    Ok(match value {
        toml::Value::String(s) => Value::String(s),
        toml::Value::Integer(i) => Value::from(i),
        toml::Value::Float(f) => match Number::from_f64(f) {
            Some(n) => Value::Number(n),
            None => return refuse(f.into(), "every number must be finite"),
        },
        toml::Value::Boolean(b) => Value::Bool(b),
        toml::Value::Datetime(d) => return refuse(d.to_string().into(), "no input knows dates; put text in quotes"),
        toml::Value::Array(items) => {
            Value::Array(items.into_iter().enumerate().map(|(i, v)| from_toml(v, &format!("{path}[{i}]"))).collect::<Result<_, _>>()?)
        }
        toml::Value::Table(fields) => {
            let mut map = Map::new();
            for (name, v) in fields {
                let inner = if path.is_empty() { name.clone() } else { format!("{path}.{name}") };
                map.insert(name, from_toml(v, &inner)?);
            }
            Value::Object(map)
        }
    })
}

/// A path of serde's as a field's name, as far as it knows it; the whole input when it points nowhere.
pub(crate) fn path_of(path: &serde_path_to_error::Path) -> String {
    use serde_path_to_error::Segment;
    let mut name = String::new();
    for segment in path {
        match segment {
            Segment::Seq { index } => name.extend(["[", &index.to_string(), "]"]),
            Segment::Map { key: part } | Segment::Enum { variant: part } => {
                name += if name.is_empty() { "" } else { "." };
                name += part;
            }
            Segment::Unknown => break,
        }
    }
    if name.is_empty() { "input".to_owned() } else { name }
}

/// A JSON value whose keys stand once each: serde_json alone keeps the last in silence.
struct Strict(Value);

impl<'de> Deserialize<'de> for Strict {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(StrictVisitor).map(Self)
    }
}

struct StrictVisitor;

impl<'de> Visitor<'de> for StrictVisitor {
    type Value = Value;

    fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("a JSON value")
    }
    fn visit_bool<E>(self, v: bool) -> Result<Value, E> {
        Ok(Value::Bool(v))
    }
    fn visit_i64<E>(self, v: i64) -> Result<Value, E> {
        Ok(Value::from(v))
    }
    fn visit_u64<E>(self, v: u64) -> Result<Value, E> {
        Ok(Value::from(v))
    }
    fn visit_f64<E: serde::de::Error>(self, v: f64) -> Result<Value, E> {
        Number::from_f64(v).map(Value::Number).ok_or_else(|| E::custom("number is not finite"))
    }
    fn visit_str<E>(self, v: &str) -> Result<Value, E> {
        Ok(Value::String(v.to_owned()))
    }
    fn visit_unit<E>(self) -> Result<Value, E> {
        Ok(Value::Null)
    }
    fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Value, A::Error> {
        let mut items = Vec::new();
        while let Some(Strict(item)) = seq.next_element()? {
            if items.len() == MOST_ITEMS {
                return Err(A::Error::custom(format!("the list has more than {MOST_ITEMS} items: thin it")));
            }
            items.push(item);
        }
        Ok(Value::Array(items))
    }
    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Value, A::Error> {
        let mut fields = Map::new();
        while let Some(name) = map.next_key::<String>()? {
            if fields.contains_key(&name) {
                return Err(A::Error::custom(format!("the key {name:?} stands twice")));
            }
            let Strict(value) = map.next_value()?;
            fields.insert(name, value);
        }
        Ok(Value::Object(fields))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn json_that_another_reader_would_bend_is_a_fault_that_names_the_field() {
        for (text, field, why) in [
            (r#"{"a": [1, {"mass_kg": 1e999}]}"#, "a[1].mass_kg", "out of range"),
            (r#"{"a": {"b": 1, "b": 2}}"#, "a", "twice"),
            (r#"{"a": {"b": NaN}}"#, "a.b", "could not be read"),
            (r#"{"a": 1} {"a": 2}"#, "input", "more after"),
            (r#"{"a": 1,"#, "input", "could not be read"),
        ] {
            let f = read_json(text).unwrap_err();
            assert_eq!(f.field, field, "{text}: {f}");
            assert!(f.why.contains(why), "{text}: {f}");
        }
    }

    #[test]
    fn toml_is_read_and_its_nan_inf_and_dates_are_faults() {
        let v = read_toml("mass_kg = 3\n[weight_ring]\nradius_mm = 38.5\n[[bodies]]\nname = \"wheel\"\n").unwrap();
        assert_eq!(v, json!({"mass_kg": 3, "weight_ring": {"radius_mm": 38.5}, "bodies": [{"name": "wheel"}]}));
        for (text, field) in [
            ("[a]\nb = [1.0, nan]", "a.b[1]"),
            ("a = -inf", "a"),
            ("[[a]]\nb = 2026-01-01", "a[0].b"),
            ("a = 1\na = 2", "input"),
            ("a = ", "input"),
        ] {
            assert_eq!(read_toml(text).unwrap_err().field, field, "{text}");
        }
    }

    #[test]
    fn bytes_are_told_apart_and_other_encodings_refused() {
        assert_eq!(read_bytes(b"\xef\xbb\xbf {\"a\": 1}", None).unwrap(), json!({"a": 1}));
        assert_eq!(read_bytes(b"a = 1", None).unwrap(), json!({"a": 1}));
        for bytes in [&b""[..], b" \n", b"\xff\xfe{\x00}\x00", b"{\"a\": \"\xe4\"}"] {
            assert_eq!(read_bytes(bytes, None).unwrap_err().field, "input");
        }
        // A name that says TOML is believed, and JSON in it is refused.
        assert_eq!(read_bytes(b"{\"a\": 1}", Some(Format::Toml)).unwrap_err().field, "input");
    }

    #[test]
    fn ten_million_items_are_refused_while_they_are_read() {
        let text = format!("{{\"t_s\": [{}0]}}", "0,".repeat(10_000_000));
        let begun = std::time::Instant::now();
        let f = read_json(&text).unwrap_err();
        assert!(f.field.starts_with("t_s") && f.why.contains("1000000"), "{f}");
        assert!(begun.elapsed().as_millis() < 1000, "{:?}", begun.elapsed());
    }

    #[test]
    fn a_very_deep_text_is_a_fault_and_no_overflow() {
        let deep = format!("{{\"a\": {}{}}}", "[".repeat(100_000), "]".repeat(100_000));
        assert!(read_json(&deep).is_err());
        assert!(read_toml(&format!("a = {}{}", "[".repeat(100_000), "]".repeat(100_000))).is_err());
    }
}
