//! Quantities as people type them: "3/8 in", "0.5in", "12,7 mm", "1 1/2 in", "40".
//!
//! In: text and the dimension expected. Out: the number in that dimension's base unit of the door (mm, g, g·mm, ...),
//! or a [`Fault`] that names what is accepted.

use super::{GRAMS_PER_OUNCE, MM_PER_INCH};
use crate::Fault;

/// What a typed number measures; the unit in brackets is the one that a bare number means and that comes back.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dimension {
    /// A length (mm).
    Length,
    /// A mass (g).
    Mass,
    /// An unbalance (g·mm).
    Unbalance,
    /// A plane angle (degrees).
    Angle,
    /// A time (s).
    Time,
    /// A rotational speed (r/min).
    Speed,
    /// A plain number.
    Plain,
}

impl Dimension {
    /// Units that are read, each with its factor to the base unit. The first is the base unit.
    fn units(self) -> &'static [(&'static str, f64)] {
        const POUND: f64 = 16.0 * GRAMS_PER_OUNCE;
        match self {
            Self::Length => &[
                ("mm", 1.0),
                ("in", MM_PER_INCH),
                ("inch", MM_PER_INCH),
                ("\"", MM_PER_INCH),
                ("cm", 10.0),
                ("m", 1000.0),
                ("um", 1e-3),
                ("µm", 1e-3),
                ("μm", 1e-3),
                ("ft", 12.0 * MM_PER_INCH),
            ],
            Self::Mass => &[("g", 1.0), ("kg", 1000.0), ("oz", GRAMS_PER_OUNCE), ("lb", POUND), ("lbs", POUND), ("mg", 1e-3)],
            Self::Unbalance => &[
                ("g·mm", 1.0),
                ("gmm", 1.0),
                ("g mm", 1.0),
                ("g*mm", 1.0),
                ("g.mm", 1.0),
                ("g-mm", 1.0),
                ("oz·in", GRAMS_PER_OUNCE * MM_PER_INCH),
                ("ozin", GRAMS_PER_OUNCE * MM_PER_INCH),
                ("oz in", GRAMS_PER_OUNCE * MM_PER_INCH),
                ("oz*in", GRAMS_PER_OUNCE * MM_PER_INCH),
                ("oz.in", GRAMS_PER_OUNCE * MM_PER_INCH),
                ("oz-in", GRAMS_PER_OUNCE * MM_PER_INCH),
                ("g·cm", 10.0),
                ("gcm", 10.0),
            ],
            Self::Angle => &[("°", 1.0), ("deg", 1.0), ("rad", 180.0 / std::f64::consts::PI)],
            Self::Time => &[("s", 1.0), ("sec", 1.0), ("ms", 1e-3), ("min", 60.0)],
            Self::Speed => &[("r/min", 1.0), ("rpm", 1.0), ("min-1", 1.0), ("r/s", 60.0), ("hz", 60.0)],
            Self::Plain => &[("", 1.0), ("%", 0.01)],
        }
    }
}

/// Read a typed quantity; a bare number is in the base unit of `dimension`.
///
/// Decimal point or decimal comma; thousands separators are refused, since "1,500" may mean two things. Fractions
/// ("3/8 in") and mixed numbers ("1 1/2 in") are read.
///
/// # Errors
/// A [`Fault`] for `field` when the text is no number, has another unit, or is not finite.
pub fn parse_quantity(field: &str, text: &str, dimension: Dimension) -> Result<f64, Fault> {
    let trimmed = text.trim();
    let split = trimmed.find(|c: char| !(c.is_ascii_digit() || " ,./+-−eE".contains(c))).unwrap_or(trimmed.len());
    // An exponent's letter may only stand between digits: "3e2" is a number, "3 e" is not.
    let (number, unit) = trimmed.split_at(split);
    let unit = unit.trim().to_lowercase();
    let units = dimension.units();
    let allowed = || {
        let names: Vec<&str> = units.iter().map(|u| u.0).filter(|n| !n.is_empty()).take(6).collect();
        format!(
            "a number like 12.7, 12,7 or 3/8 with one of the units {} (none: {})",
            names.join(", "),
            if units[0].0.is_empty() { "plain" } else { units[0].0 }
        )
    };
    let fault = |why: &str| Fault::new(field, text, allowed(), why);
    let factor = if unit.is_empty() {
        1.0
    } else {
        units.iter().find(|u| u.0 == unit).map(|u| u.1).ok_or_else(|| fault("the unit is not one of this quantity"))?
    };
    let value = parse_number(number.trim()).ok_or_else(|| fault("the number could not be read"))?;
    let value = value * factor;
    if value.is_finite() { Ok(value) } else { Err(fault("the number is not finite")) }
}

fn parse_number(text: &str) -> Option<f64> {
    let text = text.replace('−', "-");
    if let Some((whole, fraction)) = text.split_once(' ') {
        // A mixed number: the sign belongs to both parts.
        let (w, f) = (parse_plain(whole)?, parse_fraction(fraction.trim())?);
        return if fraction.contains('/') && f >= 0.0 { Some(if whole.starts_with('-') { w - f } else { w + f }) } else { None };
    }
    parse_fraction(&text)
}

fn parse_fraction(text: &str) -> Option<f64> {
    match text.split_once('/') {
        Some((a, b)) => {
            let (a, b) = (parse_plain(a)?, parse_plain(b)?);
            if b > 0.0 { Some(a / b) } else { None }
        }
        None => parse_plain(text),
    }
}

fn parse_plain(text: &str) -> Option<f64> {
    let text = text.trim();
    if text.matches([',', '.']).count() > 1 || !text.contains(|c: char| c.is_ascii_digit()) {
        return None;
    }
    let v: f64 = text.replace(',', ".").parse().ok()?;
    v.is_finite().then_some(v)
}

#[cfg(test)]
mod tests {
    use super::*;
    use rstest::rstest;

    #[rstest]
    #[case("12.7 mm", Dimension::Length, 12.7)]
    #[case("0.5in", Dimension::Length, 12.7)]
    #[case("3/8 in", Dimension::Length, 9.525)]
    #[case("1 1/2 in", Dimension::Length, 38.1)]
    #[case("12,7", Dimension::Length, 12.7)]
    #[case("2\"", Dimension::Length, 50.8)]
    #[case("1 oz·in", Dimension::Unbalance, 720.077887375)]
    #[case("-3e2 g mm", Dimension::Unbalance, -300.0)]
    #[case("1 lb", Dimension::Mass, 453.59237)]
    #[case("90°", Dimension::Angle, 90.0)]
    #[case("1450 r/min", Dimension::Speed, 1450.0)]
    fn typed_quantities_are_read(#[case] text: &str, #[case] d: Dimension, #[case] expected: f64) {
        // Source: definitions of inch and pound (1959 agreement); products computed by hand.
        let v = parse_quantity("x", text, d).unwrap();
        assert!((v - expected).abs() < 1e-9 * expected.abs(), "{text}: {v}");
    }

    #[rstest]
    #[case("", Dimension::Length)]
    #[case("mm", Dimension::Length)]
    #[case("1.500,2 mm", Dimension::Length)]
    #[case("5 kg", Dimension::Length)]
    #[case("1/0 in", Dimension::Length)]
    #[case("NaN", Dimension::Mass)]
    #[case("inf", Dimension::Mass)]
    #[case("1e999 g", Dimension::Mass)]
    #[case("1 2 mm", Dimension::Length)]
    #[case("twelve", Dimension::Angle)]
    fn other_text_is_a_fault_that_names_the_field(#[case] text: &str, #[case] d: Dimension) {
        let f = parse_quantity("port_mm", text, d).unwrap_err();
        assert_eq!(f.field, "port_mm");
        assert!(f.allowed.contains("12.7"));
    }
}
