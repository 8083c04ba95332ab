//! Limits as the parts carry them: ISO 286 classes from [`fit`](crate::making::fit), general tolerances from
//! [`general`](crate::making::general).
//!
//! In: a nominal size and a class. Out: [`Limits`].

use super::model::{Limits, Told};
use crate::Fault;
use crate::making::fit::{Hole, Shaft};
use crate::making::general::{Fineness, length_mm};

/// Limits of an ISO 286 class, up to 500 mm.
///
/// # Errors
/// A [`Fault`] at `field` for a size or class that no table holds.
pub fn limits_of_class(field: &str, size_mm: f64, class: &'static str) -> Result<Limits, Fault> {
    let hole = class.starts_with(|c: char| c.is_ascii_uppercase());
    let limits = if hole { Hole::read(class).and_then(|h| h.limits(size_mm)) } else { Shaft::read(class).and_then(|s| s.limits(size_mm)) };
    let limits = limits.map_err(|f| Fault { field: field.to_owned(), ..f })?;
    Ok(Limits { upper_mm: limits.upper_um * 1e-3, lower_mm: limits.lower_um * 1e-3, told: Told::Class(class) })
}

/// Half width of ISO 2768-1, class m, for a length, mm; beyond 2 m the last step's. Source: ISO 2768-1, table 1.
pub fn general_mm(size_mm: f64) -> f64 {
    // Below 0.5 mm the first step stands in: such sizes carry limits of their own in every part.
    length_mm(size_mm.clamp(0.5, 2000.0), Fineness::Medium).unwrap_or(1.2)
}

pub(super) fn general(size_mm: f64) -> Limits {
    let half = general_mm(size_mm);
    Limits { upper_mm: half, lower_mm: -half, told: Told::General }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rstest::rstest;

    // Source: ISO 286-2 as in any handbook's table: 40 H7 +25/0, 40 g6 −9/−25, 20 h5 0/−9, 44 H8 +39/0, 44 f7 −25/−50.
    #[rstest]
    #[case(40.0, "H7", 25.0, 0.0)]
    #[case(40.0, "g6", -9.0, -25.0)]
    #[case(20.0, "h5", 0.0, -9.0)]
    #[case(44.0, "H8", 39.0, 0.0)]
    #[case(44.0, "f7", -25.0, -50.0)]
    #[case(30.0, "H7", 21.0, 0.0)] // the upper end belongs to the step
    fn classes_are_those_of_the_standards_table(#[case] size: f64, #[case] class: &'static str, #[case] es: f64, #[case] ei: f64) {
        let limits = limits_of_class("d_mm", size, class).unwrap();
        assert!((limits.upper_mm * 1e3 - es).abs() < 1e-9 && (limits.lower_mm * 1e3 - ei).abs() < 1e-9, "{limits:?}");
    }

    #[rstest]
    #[case(0.0, "H7")]
    #[case(501.0, "H7")]
    #[case(f64::NAN, "H7")]
    #[case(40.0, "z6")]
    #[case(40.0, "H99")]
    fn what_no_table_holds_is_a_fault(#[case] size: f64, #[case] class: &'static str) {
        assert_eq!(limits_of_class("d_mm", size, class).unwrap_err().field, "d_mm");
    }

    // Source: ISO 2768-1, table 1, class m.
    #[rstest]
    #[case(6.0, 0.1)]
    #[case(6.1, 0.2)]
    #[case(120.0, 0.3)]
    #[case(320.0, 0.5)]
    fn general_tolerances_are_those_of_class_m(#[case] size: f64, #[case] half: f64) {
        assert_eq!(general_mm(size), half);
    }
}
