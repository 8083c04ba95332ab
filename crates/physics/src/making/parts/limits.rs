//! Limits of the few classes and of the general tolerance that the parts carry, read from the tables of reference/.
//!
//! In: a nominal size and a class. Out: [`Limits`]. The tables are those of ISO 286 and ISO 2768-1; nothing is computed from formulas.

use super::model::{Limits, Told};
use crate::Fault;

const GRADES: &str = include_str!("../../../../../reference/iso286_it_grades.csv");
const SHAFTS: &str = include_str!("../../../../../reference/iso286_shaft_deviations.csv");

/// The cell of the step that holds `size_mm` ("over a, up to and including b", ISO 286-1) in the named column.
fn cell(table: &str, size_mm: f64, column: &str) -> Option<f64> {
    let mut lines = table.lines();
    let at = lines.next()?.split(',').position(|c| c == column)?;
    lines.find_map(|line| {
        let cells: Vec<&str> = line.split(',').collect();
        let step = |k: usize| cells.get(k).and_then(|c| c.parse::<f64>().ok());
        (size_mm > step(0)? && size_mm <= step(1)?).then(|| step(at)).flatten()
    })
}

/// Limits of an ISO 286 class: holes `H`, shafts `f`, `g`, `h`, grades 1 to 12, up to 500 mm.
///
/// # Errors
/// A [`Fault`] for a size or class outside that.
pub fn limits_of_class(field: &str, size_mm: f64, class: &'static str) -> Result<Limits, Fault> {
    let unknown = || Fault::new(field, size_mm, "above 0 up to 500 mm, classes H, f, g, h of grades 1 to 12", "ISO 286 has no other here");
    let (letter, grade) = class.split_at(1);
    let width = cell(GRADES, size_mm, &format!("IT{grade}_um")).ok_or_else(unknown)? * 1e-3;
    let (lower_mm, upper_mm) = match letter {
        "H" => (0.0, width),
        "f" | "g" | "h" => {
            let es = cell(SHAFTS, size_mm, &format!("{letter}_es_um")).ok_or_else(unknown)? * 1e-3;
            (es - width, es)
        }
        _ => return Err(unknown()),
    };
    Ok(Limits { upper_mm, lower_mm, told: Told::Class(class) })
}

/// Half width of ISO 2768-1, class m, for a length, mm; beyond 2 m the last step's. Source: ISO 2768-1, table 1.
pub fn general_mm(size_mm: f64) -> f64 {
    const STEPS: [(f64, f64); 7] = [(6.0, 0.1), (30.0, 0.2), (120.0, 0.3), (400.0, 0.5), (1000.0, 0.8), (2000.0, 1.2), (f64::MAX, 1.2)];
    STEPS.iter().find(|s| size_mm <= s.0).map_or(1.2, |s| s.1)
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
