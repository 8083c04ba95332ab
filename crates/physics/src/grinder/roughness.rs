//! Parameters of a profile: Ra, Rq, Rz, Rt of the roughness, Wa, Wq, Wt of the waviness.
//!
//! In: an evenly spaced profile, cut-offs. Out: the parameters, in the profile's unit.
//!
//! Source: ISO 21920-2:2021 (formerly ISO 4287:1997): arithmetic mean height, root mean square height, total height over the evaluation length,
//! and Rz as the mean over section lengths of the largest height in each.

use super::filter::{MeanLine, mean_line};
use crate::Fault;

/// Parameters of one scale-limited profile.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Parameters {
    /// Arithmetic mean of the heights' sizes: Ra, Wa.
    pub mean: f64,
    /// Root mean square of the heights: Rq, Wq.
    pub rms: f64,
    /// Highest peak to lowest valley over the evaluation length: Rt, Wt.
    pub total: f64,
}

/// Waviness and roughness of a profile.
#[derive(Clone, Debug, PartialEq)]
pub struct Texture {
    /// The roughness profile R: what is shorter than the cut-off.
    pub roughness: Parameters,
    /// Rz: mean over section lengths of one cut-off of the height in each; absent when no whole section fits.
    pub rz: Option<f64>,
    /// Sections that Rz is the mean of; the standard's default is five.
    pub sections: usize,
    /// The waviness profile W: what is longer, up to the long cut-off if one is given, else less its straight line.
    pub waviness: Parameters,
    /// Where in the profile the evaluation length begins and ends (point numbers).
    pub from: usize,
    /// As above.
    pub to: usize,
    /// Mean line (waviness with form) over the evaluation length.
    pub mean_line: Vec<f64>,
}

/// Parameters of heights about their own mean.
///
/// Source: ISO 21920-2, Ra, Rq, Rt (and Wa, Wq, Wt) about the mean of the evaluation length.
pub fn parameters(heights: &[f64]) -> Parameters {
    let n = heights.len().max(1) as f64;
    let middle = heights.iter().sum::<f64>() / n;
    let low = heights.iter().copied().fold(f64::INFINITY, f64::min);
    let high = heights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    Parameters {
        mean: heights.iter().map(|z| (z - middle).abs()).sum::<f64>() / n,
        rms: (heights.iter().map(|z| (z - middle).powi(2)).sum::<f64>() / n).sqrt(),
        total: if heights.is_empty() { 0.0 } else { high - low },
    }
}

/// Split a profile at `cutoff` and tell its parameters; `long_cutoff` bounds the waviness from above (its λf), without it the least-squares line is
/// taken off.
///
/// The ends that the filters' full width does not fit on are left out. Lengths in one unit, heights in another; the parameters are in the
/// heights' unit.
///
/// # Errors
/// A [`Fault`] as [`mean_line`]; for a long cut-off not above twice the cut-off.
pub fn texture(profile: &[f64], spacing: f64, cutoff: f64, long_cutoff: Option<f64>) -> Result<Texture, Fault> {
    if let Some(long) = long_cutoff.filter(|l| !l.is_finite() || *l < 2.0 * cutoff) {
        let allowed = format!("at least {}, twice the cut-off", 2.0 * cutoff);
        return Err(Fault::new("long_cutoff_mm", long, allowed, "between the two cut-offs nothing would be left to call waviness"));
    }
    let MeanLine { line, ends } = mean_line(profile, spacing, cutoff)?;
    let (form, form_ends) = match long_cutoff {
        Some(long) => {
            let form =
                mean_line(profile, spacing, long).map_err(|f| Fault { field: f.field.replace("cutoff_mm", "long_cutoff_mm"), ..f })?;
            (Some(form.line), form.ends)
        }
        None => (None, 0),
    };
    let (from, to) = (ends.max(form_ends), profile.len() - ends.max(form_ends));
    let rough: Vec<f64> = (from..to).map(|i| profile[i] - line[i]).collect();
    let wavy: Vec<f64> = match form {
        Some(form) => (from..to).map(|i| line[i] - form[i]).collect(),
        None => less_straight_line(&line[from..to]),
    };
    let section = (cutoff / spacing).round() as usize;
    let heights: Vec<f64> = rough.chunks_exact(section).map(|s| parameters(s).total).collect();
    Ok(Texture {
        roughness: parameters(&rough),
        rz: (!heights.is_empty()).then(|| heights.iter().sum::<f64>() / heights.len() as f64),
        sections: heights.len(),
        waviness: parameters(&wavy),
        from,
        to,
        mean_line: line[from..to].to_vec(),
    })
}

/// Heights less their least-squares straight line.
pub fn less_straight_line(heights: &[f64]) -> Vec<f64> {
    let n = heights.len() as f64;
    let centre = (n - 1.0) / 2.0;
    let middle = heights.iter().sum::<f64>() / n.max(1.0);
    let spread: f64 = (0..heights.len()).map(|i| (i as f64 - centre).powi(2)).sum();
    let slope = if spread > 0.0 { heights.iter().enumerate().map(|(i, z)| (i as f64 - centre) * z).sum::<f64>() / spread } else { 0.0 };
    heights.iter().enumerate().map(|(i, z)| z - middle - slope * (i as f64 - centre)).collect()
}
