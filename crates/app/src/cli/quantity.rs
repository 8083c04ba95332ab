//! Quantities on the command line, with a unit suffix: `--diameter "8 in"`, `--mass 2.9kg`, `--speed 2860`.
//!
//! In: the argument's text. Out: the number in the door's unit, or clap's message with what is accepted.

use stillwheel_physics::quantity::{Dimension, parse_quantity};

fn parse(text: &str, dimension: Dimension) -> Result<f64, String> {
    parse_quantity("it", text, dimension).map_err(|f| format!("{}; allowed: {}", f.why, f.allowed))
}

/// A length; bare numbers are mm.
pub(super) fn length_mm(text: &str) -> Result<f64, String> {
    parse(text, Dimension::Length)
}
/// A mass in g. Bare numbers are refused: rotors are told in kg and weights in g, and a mix-up is a factor of 1000.
pub(super) fn mass_g(text: &str) -> Result<f64, String> {
    let g = parse(text, Dimension::Mass)?;
    if text.trim_end().ends_with(|c: char| c.is_ascii_digit()) {
        return Err(format!("a mass needs its unit: {text} kg, {text} g, {text} lb or {text} oz"));
    }
    Ok(g)
}
/// An unbalance; bare numbers are g·mm.
pub(super) fn unbalance_g_mm(text: &str) -> Result<f64, String> {
    parse(text, Dimension::Unbalance)
}
/// An angle; bare numbers are degrees.
pub(super) fn angle_deg(text: &str) -> Result<f64, String> {
    parse(text, Dimension::Angle)
}
/// A time; bare numbers are seconds.
pub(super) fn time_s(text: &str) -> Result<f64, String> {
    parse(text, Dimension::Time)
}
/// A speed of rotation; bare numbers are r/min.
pub(super) fn speed_rpm(text: &str) -> Result<f64, String> {
    parse(text, Dimension::Speed)
}
/// A plain number; a percent sign is read.
pub(super) fn plain(text: &str) -> Result<f64, String> {
    parse(text, Dimension::Plain)
}
