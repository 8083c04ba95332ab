//! From columns to values and back. What can't be read back was not written by us: [`StoreFault::Corrupt`].

use crate::{Id, StoreFault};
use jiff::Timestamp;
use rusqlite::types::ValueRef;
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;

/// Deepest nesting of a body: an export puts it a few levels deeper, and JSON readers stop at 128.
const DEEPEST: usize = 64;
/// Longest body, bytes: an hour's swing log at 100 readings a second fits.
const LONGEST: usize = 16 << 20;

pub(crate) fn write<T: Serialize>(value: &T) -> Result<String, StoreFault> {
    serde_json::to_string(value).map_err(|e| StoreFault::Other { detail: e.to_string() })
}

pub(crate) fn read_json<T: DeserializeOwned>(text: &str, what: impl Fn() -> String) -> Result<T, StoreFault> {
    serde_json::from_str(text).map_err(|e| StoreFault::corrupt(format!("{} can't be read: {e}", what())))
}

pub(crate) fn read_body<T: DeserializeOwned>(column: ValueRef<'_>, what: impl Fn() -> String) -> Result<T, StoreFault> {
    read_json(text(column, &what)?, &what)
}

pub(crate) fn read_time(column: ValueRef<'_>, what: impl Fn() -> String) -> Result<Timestamp, StoreFault> {
    text(column, &what)?.parse().map_err(|e| StoreFault::corrupt(format!("the time of {} can't be read: {e}", what())))
}

pub(crate) fn read_id(column: ValueRef<'_>) -> Result<Id, StoreFault> {
    let text = text(column, &|| "an id".into())?;
    Id::parse(text).map_err(|_| StoreFault::corrupt(format!("{text:?} is no id")))
}

fn text<'a>(column: ValueRef<'a>, what: &impl Fn() -> String) -> Result<&'a str, StoreFault> {
    column.as_str().map_err(|e| StoreFault::corrupt(format!("{} is no text: {e}", what())))
}

/// Free text of a person: not too long, no control characters (line breaks are allowed in notes, not in names).
pub(crate) fn check_line(field: &str, text: &str, least: usize, most: usize) -> Result<(), StoreFault> {
    let count = text.trim().chars().count();
    if count < least || text.chars().count() > most || text.chars().any(char::is_control) {
        let shown: String = text.chars().filter(|c| !c.is_control()).take(60).collect();
        let allowed = format!("one line of {least} to {most} characters");
        return Err(StoreFault::invalid(field, format!("\"{shown}\""), allowed, "Enter a short text without line breaks."));
    }
    Ok(())
}

/// Remarks: any characters, at most 10,000.
pub(crate) fn check_note(field: &str, text: &str) -> Result<(), StoreFault> {
    let count = text.chars().count();
    if count > 10_000 {
        return Err(StoreFault::invalid(field, format!("{count} characters long"), "up to 10000 characters", "Shorten it."));
    }
    Ok(())
}

/// A body that others will be able to read back.
pub(crate) fn check_value(field: &str, value: &Value) -> Result<(), StoreFault> {
    if !shallower_than(value, DEEPEST) {
        return Err(StoreFault::invalid(field, "nested too deeply", format!("at most {DEEPEST} levels"), "Send it flatter."));
    }
    let bytes = write(value)?.len();
    if bytes > LONGEST {
        return Err(StoreFault::invalid(
            field,
            format!("{bytes} bytes long"),
            format!("up to {LONGEST} bytes of JSON"),
            "Send less, for instance a shorter swing log.",
        ));
    }
    Ok(())
}

fn shallower_than(value: &Value, levels: usize) -> bool {
    levels > 0
        && match value {
            Value::Array(items) => items.iter().all(|item| shallower_than(item, levels - 1)),
            Value::Object(fields) => fields.values().all(|field| shallower_than(field, levels - 1)),
            _ => true,
        }
}
