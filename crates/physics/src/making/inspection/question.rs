//! Readings that can't be meant so: an inch for a millimetre, a comma in the wrong place.
//!
//! In: what was drawn and what was typed. Out: the reading, or a fault that asks.

use crate::quantity::MM_PER_INCH;
use crate::{Fault, Ranged};

/// How far a size may be off as a share of the nominal before it is asked about: nobody bores 38 for 40 and measures on.
const OFF_SHARE: f64 = 0.05;
/// How near to a factor it must then come to be guessed, as a share.
const GUESS_SHARE: f64 = 0.03;

/// A measured size against its nominal one, both mm.
///
/// # Errors
/// A [`Fault`] that asks when the reading is off by a factor of 10 or 25.4, or by more than a twentieth of the nominal size and ten times
/// the tolerance.
pub fn check_size_mm(field: &str, nominal_mm: f64, tolerance_mm: f64, measured_mm: f64) -> Result<f64, Fault> {
    let v = measured_mm.within(field, -1e6, 1e6, "mm", "a measured size")?;
    let off = (v - nominal_mm).abs();
    if off <= (OFF_SHARE * nominal_mm.abs()).max(10.0 * tolerance_mm) {
        return Ok(v);
    }
    let allowed = format!("about {nominal_mm} mm");
    let guesses = [
        (1.0 / MM_PER_INCH, "is this in inches? write it with its unit, or multiply by 25.4"),
        (MM_PER_INCH, "was an inch figure multiplied by 25.4 that was in millimetres already?"),
        (0.1, "a factor of ten too small: is the decimal point in the wrong place?"),
        (10.0, "a factor of ten too large: is the decimal point in the wrong place?"),
        (0.01, "a factor of a hundred too small: is the decimal point in the wrong place, or is it in cm or dm?"),
        (100.0, "a factor of a hundred too large: is the decimal point in the wrong place?"),
        (1000.0, "a factor of a thousand too large: is this in µm?"),
        (0.001, "a factor of a thousand too small: is this in metres?"),
    ];
    let near = |factor: f64| nominal_mm != 0.0 && (v / (nominal_mm * factor) - 1.0).abs() <= GUESS_SHARE;
    let why = guesses
        .iter()
        .find(|(factor, _)| near(*factor))
        .map_or("so far off that it is asked about: is it a typo, or another dimension's value?", |g| g.1);
    Err(Fault::new(field, v, allowed, why))
}

/// A measured departure (form, height difference, offset) against the limit on its size, both µm.
///
/// # Errors
/// A [`Fault`] that asks when the reading is twenty times the limit or more: a value in another unit, or a typo.
pub fn check_form_um(field: &str, limit_um: f64, measured_um: f64) -> Result<f64, Fault> {
    let v = measured_um.within(field, -1e5, 1e5, "µm", "a measured departure")?;
    if v.abs() <= 20.0 * limit_um.max(0.5) {
        return Ok(v);
    }
    // A thou is 25.4 µm; a departure in thousandths of a millimetre typed as such is a thousand times too small and passes: it can't be told.
    let why = "twenty times its limit or more: is it in another unit (1 mm is 1000 µm, a thou is 25.4 µm), or is the decimal point in the wrong place?";
    Err(Fault::new(field, v, format!("up to about {limit_um} µm either way"), why))
}
