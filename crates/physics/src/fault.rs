//! The one error of all calculations: it tells a person which field to change, and to what.
//!
//! In: a field's name and value. Out: a [`Fault`], or the value itself when it is allowed.

use serde::{Deserialize, Serialize};

/// The value that was refused, as it came in.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum FaultValue {
    /// A finite number.
    Number(f64),
    /// Anything else, in words: text, "NaN", "infinite", "missing", a list's length.
    Text(String),
}

impl From<f64> for FaultValue {
    fn from(v: f64) -> Self {
        if v.is_finite() { Self::Number(v) } else { Self::Text(if v.is_nan() { "NaN".into() } else { "infinite".into() }) }
    }
}
impl From<usize> for FaultValue {
    fn from(v: usize) -> Self {
        Self::Number(v as f64)
    }
}
impl From<&str> for FaultValue {
    fn from(v: &str) -> Self {
        Self::Text(v.to_owned())
    }
}
impl From<String> for FaultValue {
    fn from(v: String) -> Self {
        Self::Text(v)
    }
}

impl std::fmt::Display for FaultValue {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Number(v) => write!(f, "{v}"),
            Self::Text(t) => f.write_str(t),
        }
    }
}

/// Why a calculation was refused: field, value, what is allowed, why.
///
/// One type for every room: all that a person or a page needs is these four, and no caller branches on more.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Fault {
    /// The field's name with its unit, as at the door; a path for nested ones: `looks[2].reading.time_s`.
    pub field: String,
    /// The value that came in.
    pub value: FaultValue,
    /// What would be accepted, with units.
    pub allowed: String,
    /// The reason, in a sentence that tells what to do.
    pub why: String,
}

impl Fault {
    /// A fault for one field.
    pub fn new(field: impl Into<String>, value: impl Into<FaultValue>, allowed: impl Into<String>, why: impl Into<String>) -> Self {
        Self { field: field.into(), value: value.into(), allowed: allowed.into(), why: why.into() }
    }

    /// The same fault seen from one level up: `reading.time_s` inside `looks[2]` becomes `looks[2].reading.time_s`.
    pub fn inside(mut self, outer: &str) -> Self {
        self.field = if self.field.is_empty() { outer.to_owned() } else { format!("{outer}.{}", self.field) };
        self
    }
}

impl std::fmt::Display for Fault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} is {}, allowed: {}. {}", self.field, self.value, self.allowed, self.why)
    }
}

impl std::error::Error for Fault {}

/// Range checks that give a [`Fault`]; every number that comes from outside passes one of them.
pub trait Ranged {
    /// The value if it lies in `[low, high]`; NaN and infinities never do.
    ///
    /// # Errors
    /// A [`Fault`] that names the field, the allowed range with `unit`, and `why`.
    fn within(self, field: &str, low: f64, high: f64, unit: &str, why: &str) -> Result<f64, Fault>;
}

impl Ranged for f64 {
    fn within(self, field: &str, low: f64, high: f64, unit: &str, why: &str) -> Result<f64, Fault> {
        if self.is_finite() && self >= low && self <= high {
            return Ok(self);
        }
        let unit = if unit.is_empty() { String::new() } else { format!(" {unit}") };
        Err(Fault::new(field, self, format!("{low} to {high}{unit}"), why))
    }
}
