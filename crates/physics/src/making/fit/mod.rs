//! ISO 286 limits and fits: how much larger the hole is than the shaft, at the worst of both tolerances and at any temperature.
//!
//! In: a nominal size and classes such as `H7` and `g6`, or the clearance that is wanted. Out: [`Limits`], a [`Clearance`], or classes that
//! give what is wanted ([`propose`]). Capital letters are holes, small ones shafts. Negative clearance is interference.
//!
//! ```
//! use stillwheel_physics::making::fit::{Clearance, Hole, Shaft};
//!
//! let clearance = Clearance::of(&Hole::read("H7")?.limits(25.0)?, &Shaft::read("g6")?.limits(25.0)?);
//! assert_eq!((clearance.min_um, clearance.max_um), (7.0, 41.0));
//! # Ok::<(), stillwheel_physics::Fault>(())
//! ```

mod propose;
mod tables;

pub use propose::{Basis, Proposal, propose};

use crate::{Fault, Ranged};
use tables::{GRADES, GradeStep, HOLES, SHAFTS};

/// Temperature at which sizes hold, °C. Source: ISO 1.
pub const REFERENCE_C: f64 = 20.0;

/// Limit deviations of one part, µm from the nominal size.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Upper deviation: ES of a hole, es of a shaft.
    pub upper_um: f64,
    /// Lower deviation: EI of a hole, ei of a shaft.
    pub lower_um: f64,
}

impl Limits {
    /// Width of the tolerance, µm.
    pub fn tolerance_um(&self) -> f64 {
        self.upper_um - self.lower_um
    }

    /// Smallest and largest size, mm.
    pub fn sizes_mm(&self, nominal_mm: f64) -> [f64; 2] {
        [nominal_mm + 1e-3 * self.lower_um, nominal_mm + 1e-3 * self.upper_um]
    }
}

/// A tolerance class of a hole, such as H7.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hole {
    /// D, E, F, G, H, JS, K, M, N, P, R or S.
    pub letter: &'static str,
    /// 1 to 12.
    pub grade: u8,
}

/// A tolerance class of a shaft, such as g6.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shaft {
    /// d, e, f, g, h, js, k, m, n, p, r or s.
    pub letter: &'static str,
    /// 1 to 12.
    pub grade: u8,
}

const HOLE_LETTERS: [&str; 12] = ["D", "E", "F", "G", "H", "JS", "K", "M", "N", "P", "R", "S"];
const SHAFT_LETTERS: [&str; 12] = ["d", "e", "f", "g", "h", "js", "k", "m", "n", "p", "r", "s"];

/// Letter and grade of a class.
fn read(field: &str, text: &str, letters: &[&'static str; 12], example: &str) -> Result<(&'static str, u8), Fault> {
    let text = text.trim();
    let split = text.find(|c: char| c.is_ascii_digit()).unwrap_or(text.len());
    let (letter, grade) = text.split_at(split);
    let letter = letters.iter().find(|l| **l == letter);
    // Two digits at the most: "H07" is no grade, "H70" is none either.
    let grade = grade.parse::<u8>().ok().filter(|g| (1..=12).contains(g) && g.to_string() == grade);
    if let (Some(letter), Some(grade)) = (letter, grade) {
        return Ok((letter, grade));
    }
    let allowed = format!("{} with a grade 1 to 12, such as {example}", letters.join(", "));
    Err(Fault::new(field, text, allowed, "a class is a letter and a grade: capitals for holes, small letters for shafts"))
}

fn nominal(nominal_mm: f64, most_mm: f64, why: &str) -> Result<f64, Fault> {
    nominal_mm.within("nominal_mm", 0.1, most_mm, "mm", why)
}

fn grade_step(nominal_mm: f64) -> Result<&'static GradeStep, Fault> {
    let why = "sizes to 500 mm are tabled";
    let v = nominal(nominal_mm, 500.0, why)?;
    GRADES.iter().find(|s| v > s.over && v <= s.up_to).ok_or_else(|| Fault::new("nominal_mm", nominal_mm, "up to 500 mm", why))
}

/// Standard tolerance of a grade at a size, µm.
///
/// # Errors
/// A [`Fault`] for a size outside 0.1 to 500 mm or a grade outside 1 to 12.
pub fn standard_tolerance_um(nominal_mm: f64, grade: u8) -> Result<f64, Fault> {
    let step = grade_step(nominal_mm)?;
    f64::from(grade).within("grade", 1.0, 12.0, "", "IT1 to IT12 are tabled")?;
    Ok(step.it[usize::from(grade) - 1])
}

/// The step of nominal sizes that grades share, mm: over, up to and including.
///
/// # Errors
/// As [`standard_tolerance_um`].
pub fn size_step_mm(nominal_mm: f64) -> Result<[f64; 2], Fault> {
    grade_step(nominal_mm).map(|s| [s.over, s.up_to])
}

/// The grade whose tolerance at this size is nearest to a width in µm; the coarser of two that are equally near.
///
/// # Errors
/// A [`Fault`] for a size outside 0.1 to 500 mm, or a width that is not above 0.
pub fn nearest_grade(nominal_mm: f64, width_um: f64) -> Result<u8, Fault> {
    let step = grade_step(nominal_mm)?;
    width_um.within("tolerance_um", 0.1, 1e4, "µm", "width of the tolerance")?;
    let off = |g: &u8| (step.it[usize::from(*g) - 1] - width_um).abs();
    Ok((1..=12).rev().min_by(|a, b| off(a).total_cmp(&off(b))).unwrap_or(12))
}

/// Geometric mean of a size step, mm, and the standard tolerance unit i = 0.45·∛D + 0.001·D, µm (ISO 286-1; explains the table, D in mm).
pub fn tolerance_unit(over_mm: f64, up_to_mm: f64) -> (f64, f64) {
    // The first step takes the mean of 1 and 3 (ISO 286-1).
    let d = (over_mm.max(1.0) * up_to_mm).sqrt();
    (d, 0.45 * d.cbrt() + 1e-3 * d)
}

impl Hole {
    /// Read a class such as `H7`.
    ///
    /// # Errors
    /// A [`Fault`] for `hole` that lists the letters.
    pub fn read(text: &str) -> Result<Self, Fault> {
        read("hole", text, &HOLE_LETTERS, "H7").map(|(letter, grade)| Self { letter, grade })
    }

    /// Limits at a nominal size.
    ///
    /// H and JS to 500 mm, the others to 250 mm. K, M, N up to IT8 and P, R, S up to IT7 follow the delta rule.
    ///
    /// # Errors
    /// A [`Fault`] for a size or class that is not tabled.
    pub fn limits(self, nominal_mm: f64) -> Result<Limits, Fault> {
        let it = standard_tolerance_um(nominal_mm, self.grade)?;
        let from_below = |lower_um: f64| Limits { upper_um: lower_um + it, lower_um };
        let from_above = |upper_um: f64| Limits { upper_um, lower_um: upper_um - it };
        match self.letter {
            "H" => return Ok(from_below(0.0)),
            "JS" => return Ok(Limits { upper_um: it / 2.0, lower_um: -it / 2.0 }),
            _ => {}
        }
        let v = nominal(nominal_mm, 250.0, "deviations other than H and JS are tabled to 250 mm")?;
        let untabled = || {
            let why = "this class is not tabled at this size: take a finer grade, or another letter";
            Fault::new("hole", self.to_string(), "a class of the table", why)
        };
        let step = HOLES.iter().find(|s| v > s.over && v <= s.up_to).ok_or_else(untabled)?;
        if let Some(i) = ["D", "E", "F", "G"].iter().position(|l| *l == self.letter) {
            return Ok(from_below(step.ei[i]));
        }
        let i = ["K", "M", "N", "P", "R", "S"].iter().position(|l| *l == self.letter).ok_or_else(untabled)?;
        let finest_without_delta = if i < 3 { 9 } else { 8 };
        if self.grade >= finest_without_delta {
            return step.es_coarse[i].map(from_above).ok_or_else(untabled);
        }
        // Delta is tabled from IT3; up to 3 mm it is nothing for any grade.
        let delta = if v <= 3.0 { Some(0.0) } else { self.grade.checked_sub(3).map(|k| step.delta[usize::from(k)]) };
        delta.map(|delta| from_above(step.es_fine[i] + delta)).ok_or_else(untabled)
    }
}

impl Shaft {
    /// Read a class such as `g6`.
    ///
    /// # Errors
    /// A [`Fault`] for `shaft` that lists the letters.
    pub fn read(text: &str) -> Result<Self, Fault> {
        read("shaft", text, &SHAFT_LETTERS, "g6").map(|(letter, grade)| Self { letter, grade })
    }

    /// Limits at a nominal size: h and js to 500 mm, the others to 250 mm.
    ///
    /// # Errors
    /// A [`Fault`] for a size or class that is not tabled.
    pub fn limits(self, nominal_mm: f64) -> Result<Limits, Fault> {
        let it = standard_tolerance_um(nominal_mm, self.grade)?;
        let from_above = |upper_um: f64| Limits { upper_um, lower_um: upper_um - it };
        let from_below = |lower_um: f64| Limits { upper_um: lower_um + it, lower_um };
        match self.letter {
            "h" => return Ok(from_above(0.0)),
            "js" => return Ok(Limits { upper_um: it / 2.0, lower_um: -it / 2.0 }),
            _ => {}
        }
        let v = nominal(nominal_mm, 250.0, "deviations other than h and js are tabled to 250 mm")?;
        let untabled = || Fault::new("shaft", self.to_string(), "a class of the table", "this class is not tabled at this size");
        let step = SHAFTS.iter().find(|s| v > s.over && v <= s.up_to).ok_or_else(untabled)?;
        if let Some(i) = ["d", "e", "f", "g"].iter().position(|l| *l == self.letter) {
            return Ok(from_above(step.es[i]));
        }
        let i = match self.letter {
            "k" if (4..=7).contains(&self.grade) => 0,
            "k" => 1,
            other => 2 + ["m", "n", "p", "r", "s"].iter().position(|l| *l == other).ok_or_else(untabled)?,
        };
        Ok(from_below(step.ei[i]))
    }
}

impl std::fmt::Display for Hole {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}{}", self.letter, self.grade)
    }
}
impl std::fmt::Display for Shaft {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}{}", self.letter, self.grade)
    }
}

/// What a fit does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// The hole is never smaller than the shaft.
    Clearance,
    /// Either may be the larger.
    Transition,
    /// The hole is never larger than the shaft.
    Interference,
}

impl Kind {
    /// In a word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Clearance => "clearance",
            Self::Transition => "transition",
            Self::Interference => "interference",
        }
    }
}

/// Clearance of a fit on the diameter, µm; negative is interference.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Clearance {
    /// Smallest hole less largest shaft.
    pub min_um: f64,
    /// Largest hole less smallest shaft.
    pub max_um: f64,
}

impl Clearance {
    /// Of a hole and a shaft of the same nominal size.
    pub fn of(hole: &Limits, shaft: &Limits) -> Self {
        Self { min_um: hole.lower_um - shaft.upper_um, max_um: hole.upper_um - shaft.lower_um }
    }

    /// What kind of fit that is.
    pub fn kind(&self) -> Kind {
        if self.min_um >= 0.0 {
            Kind::Clearance
        } else if self.max_um <= 0.0 {
            Kind::Interference
        } else {
            Kind::Transition
        }
    }

    /// The same moved by a change of temperature ([`warmth_um`]).
    pub fn moved(&self, by_um: f64) -> Self {
        Self { min_um: self.min_um + by_um, max_um: self.max_um + by_um }
    }

    /// Whether the shaft passes through the hole at any size within the limits.
    ///
    /// # Errors
    /// A [`Fault`] for `field` where the largest shaft is larger than the smallest hole.
    pub fn passes(&self, field: &str) -> Result<(), Fault> {
        if self.min_um >= 0.0 {
            return Ok(());
        }
        let why = "the largest shaft does not pass the smallest hole: give the hole a class with more room, the shaft one with less metal, \
            or take a kinder temperature";
        Err(Fault::new(field, format!("{:.1} µm of clearance at the tightest", self.min_um), "0 µm or more", why))
    }
}

/// Change of the clearance when both parts warm by `rise_k`, µm: D·(α_hole − α_shaft)·ΔT (linear expansion; expansions in 1e-6/K).
///
/// # Errors
/// A [`Fault`] for an expansion outside 0 to 100e-6/K, or a rise outside −80 to 200 K.
pub fn warmth_um(diameter_mm: f64, hole_cte_per_mk: f64, shaft_cte_per_mk: f64, rise_k: f64) -> Result<f64, Fault> {
    diameter_mm.within("nominal_mm", 0.1, 3000.0, "mm", "diameter of the fit")?;
    for (field, v) in [("hole_cte_per_mk", hole_cte_per_mk), ("shaft_cte_per_mk", shaft_cte_per_mk)] {
        v.within(field, 0.0, 100.0, "1e-6/K", "thermal expansion: aluminium 23, brass 21, steel 12")?;
    }
    rise_k.within("rise_k", -80.0, 200.0, "K", "warmer than 20 °C by so much")?;
    Ok(diameter_mm * (hole_cte_per_mk - shaft_cte_per_mk) * rise_k * 1e-3)
}

/// Growth of a length that warms by `rise_k`, µm (expansion in 1e-6/K).
pub fn growth_um(length_mm: f64, cte_per_mk: f64, rise_k: f64) -> f64 {
    length_mm * cte_per_mk * rise_k * 1e-3
}
