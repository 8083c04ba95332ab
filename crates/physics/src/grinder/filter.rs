//! The Gaussian profile filter: what is waviness, what is roughness.
//!
//! In: an evenly spaced profile and a cut-off. Out: its mean line.
//!
//! Weighting function `s(x) = exp(−π (x/(α·λc))²)/(α·λc)`, α = √(ln 2/π), so that a sine as long as the cut-off is halved.
//! Source: ISO 16610-21 (formerly ISO 11562).

use crate::{Fault, Ranged};
use realfft::RealFftPlanner;
use realfft::num_complex::Complex;

/// `α = √(ln 2/π)`: with it half of a sine as long as the cut-off is passed. Source: ISO 16610-21.
pub const ALPHA: f64 = 0.469_718_639_349_825_67;

/// How far the weighting function reaches to either side, in cut-offs: there it has fallen to 7e-7 of its top, while the standard allows
/// to stop at a half.
pub const REACH: f64 = 1.0;

/// Share of a sine of this wavelength that the mean line keeps: `exp(−π(α·λc/λ)²)`; the rest is roughness.
///
/// Source: ISO 16610-21, transmission characteristic.
pub fn kept_share(wavelength: f64, cutoff: f64) -> f64 {
    (-std::f64::consts::PI * (ALPHA * cutoff / wavelength).powi(2)).exp()
}

/// Mean line of `profile` (any unit) with points `spacing` apart, by the Gaussian filter of `cutoff` (both in one unit).
///
/// Within [`REACH`] cut-offs of an end the weights that are left are scaled to a sum of one: there it is a mean line, but not the standard's;
/// evaluate between (`ends`: so many points at each end).
///
/// # Errors
/// A [`Fault`] for fewer than five points a cut-off, a profile not longer than twice the reach, or a height that is not finite.
pub fn mean_line(profile: &[f64], spacing: f64, cutoff: f64) -> Result<MeanLine, Fault> {
    let n = profile.len();
    spacing.within("spacing_mm", 1e-9, 1e6, "mm", "distance of the profile's points")?;
    // With fewer the sum is no longer the integral.
    cutoff.within("cutoff_mm", 5.0 * spacing, 1e6, "mm", "a cut-off is at least five points long")?;
    let reach = (REACH * cutoff / spacing).ceil() as usize;
    if n <= 2 * reach {
        let allowed = format!("more than {} of length", 2.0 * REACH * cutoff);
        return Err(Fault::new(
            "length_mm",
            (n.saturating_sub(1)) as f64 * spacing,
            allowed,
            "nothing is left of the profile between the filter's ends: use a longer profile or a shorter cut-off",
        ));
    }
    for z in profile {
        z.within("profile", -1e12, 1e12, "", "a height of the profile")?;
    }
    let weight = |i: usize| (-std::f64::consts::PI * (i as f64 * spacing / (ALPHA * cutoff)).powi(2)).exp();
    // Around its mean, so that a profile far from zero loses no digits.
    let middle = profile.iter().sum::<f64>() / n as f64;
    let size = n + reach;
    let mut kernel = vec![0.0; size];
    kernel[0] = weight(0);
    for i in 1..=reach {
        kernel[i] = weight(i);
        kernel[size - i] = weight(i);
    }
    let mut plans = RealFftPlanner::<f64>::new();
    let (there, back) = (plans.plan_fft_forward(size), plans.plan_fft_inverse(size));
    let spectrum_of = |values: &mut [f64]| -> Vec<Complex<f64>> {
        let mut out = there.make_output_vec();
        // Lengths come from the plan itself, so it can't fail.
        let _ = there.process(values, &mut out);
        out
    };
    let kernel = spectrum_of(&mut kernel);
    let smoothed = |values: Vec<f64>| -> Vec<f64> {
        let mut values = values;
        values.resize(size, 0.0);
        let mut product = spectrum_of(&mut values);
        for (p, k) in product.iter_mut().zip(&kernel) {
            *p *= k / size as f64;
        }
        // A real signal's first and middle terms are real; rounding must not say otherwise.
        product[0].im = 0.0;
        if size.is_multiple_of(2) {
            product[size / 2].im = 0.0;
        }
        let mut out = vec![0.0; size];
        let _ = back.process(&mut product, &mut out);
        out.truncate(n);
        out
    };
    let heights = smoothed(profile.iter().map(|z| z - middle).collect());
    let sums = smoothed(vec![1.0; n]);
    Ok(MeanLine { line: heights.iter().zip(&sums).map(|(h, s)| middle + h / s).collect(), ends: reach })
}

/// A profile's mean line.
#[derive(Clone, Debug, PartialEq)]
pub struct MeanLine {
    /// Its height at each point of the profile.
    pub line: Vec<f64>,
    /// Points at each end that the filter's full width does not fit on.
    pub ends: usize,
}
