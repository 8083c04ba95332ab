//! Whether a measured residual proves the allowance, given the error of measuring it.
//!
//! In: allowance, random and systematic parts of the error, residual. Out: the two limits and the verdict.
//! Follows the acceptance rule of ISO 21940-14 (as also ISO 14253-1): who balances accepts only below the allowance
//! *less* the error; who checks later rejects only above the allowance *plus* the error; between them it is undecided.

use crate::quantity::Unbalance;
use crate::{Fault, Ranged};

/// The two limits between which a measured residual decides nothing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AcceptanceLimits {
    /// Error of the measurement: root sum of squares of the random parts, plus what is left of systematic error.
    pub error: Unbalance,
    /// Accept up to this residual; `None` when the error leaves nothing to accept.
    pub accept_up_to: Option<Unbalance>,
    /// A later check may reject only above this residual.
    pub reject_above: Unbalance,
}

/// What a measured residual says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// Proven within the allowance.
    Accept,
    /// Within the error of the allowance: proves nothing either way.
    Undecided,
    /// Proven outside the allowance.
    Reject,
}

/// The limits for an allowance and the errors of measuring.
///
/// # Errors
/// A [`Fault`] for an allowance that is not positive, or an error part that is negative or not finite.
///
/// Source: ISO 21940-14, "Acceptance criteria"; random parts by root sum of squares, systematic rest added.
pub fn acceptance_limits(allowance: Unbalance, random_parts: &[Unbalance], systematic_rest: Unbalance) -> Result<AcceptanceLimits, Fault> {
    let allowed = allowance.g_mm().within("allowance_g_mm", 1e-9, 1e9, "g·mm", "a permissible residual is larger than zero")?;
    let mut squares = 0.0;
    for (i, part) in random_parts.iter().enumerate() {
        let field = format!("random_parts_g_mm[{i}]");
        squares += part.g_mm().within(&field, 0.0, 1e9, "g·mm", "an error's size is not negative")?.powi(2);
    }
    let rest = systematic_rest.g_mm().within("systematic_rest_g_mm", 0.0, 1e9, "g·mm", "an error's size is not negative")?;
    let error = squares.sqrt() + rest;
    Ok(AcceptanceLimits {
        error: Unbalance::from_g_mm(error),
        accept_up_to: (error < allowed).then(|| Unbalance::from_g_mm(allowed - error)),
        reject_above: Unbalance::from_g_mm(allowed + error),
    })
}

impl AcceptanceLimits {
    /// What a measured residual says.
    ///
    /// # Errors
    /// A [`Fault`] for a residual that is negative or not finite.
    pub fn verdict(&self, residual: Unbalance) -> Result<Verdict, Fault> {
        let u = residual.g_mm().within("residual_g_mm", 0.0, 1e9, "g·mm", "the size of a residual is not negative")?;
        if self.accept_up_to.is_some_and(|limit| u <= limit.g_mm()) {
            return Ok(Verdict::Accept);
        }
        Ok(if u > self.reject_above.g_mm() { Verdict::Reject } else { Verdict::Undecided })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_error_as_large_as_the_allowance_accepts_nothing() {
        let g = Unbalance::from_g_mm;
        let limits = acceptance_limits(g(10.0), &[g(6.0), g(8.0)], g(0.0)).unwrap();
        assert_eq!(limits.accept_up_to, None);
        assert_eq!(limits.verdict(g(0.0)).unwrap(), Verdict::Undecided);
        assert_eq!(limits.verdict(g(f64::NAN)).unwrap_err().field, "residual_g_mm");
        assert_eq!(acceptance_limits(g(10.0), &[g(1.0), g(-8.0)], g(0.0)).unwrap_err().field, "random_parts_g_mm[1]");
    }
}
