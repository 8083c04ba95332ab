//! The profile of a strip, and the spectrum of a photo: curves with the words of the grinder.

use crate::scale::figure;
use crate::stand::{CurveMark, CurvePlot, MarkKind, PlotAxis, Series, curves};
use stillwheel_physics::{Fault, Ranged};

/// A profile along the travel.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct ProfilePlot {
    /// What it is, in a few words, for screen readers.
    pub title: String,
    /// Put before every id: letters, digits, `-`, at most 40.
    pub id_prefix: String,
    /// Distance of the heights, mm (above 0, to 100).
    pub spacing_mm: f64,
    /// Heights, µm (2 to 20,000).
    pub heights_um: Vec<f64>,
    /// Mean line by the Gaussian filter, µm.
    pub mean_line_um: Vec<f64>,
}

/// Draw a profile with its mean line.
///
/// # Errors
/// A [`Fault`] as [`curves`]; for a spacing out of range.
pub fn profile(plot: &ProfilePlot) -> Result<String, Fault> {
    plot.spacing_mm.within("spacing_mm", 1e-6, 100.0, "mm", "distance of the heights")?;
    let points = |heights: &[f64]| heights.iter().enumerate().map(|(i, z)| [i as f64 * plot.spacing_mm, *z]).collect();
    curves(&CurvePlot {
        title: plot.title.clone(),
        id_prefix: plot.id_prefix.clone(),
        x: PlotAxis { name: "along the table’s travel".into(), unit: "mm".into() },
        y: PlotAxis { name: "height".into(), unit: "µm".into() },
        series: vec![
            Series { name: "what the wheel leaves".into(), points: points(&plot.heights_um) },
            Series { name: "its mean line: waviness".into(), points: points(&plot.mean_line_um) },
        ],
        marks: Vec::new(),
        level: None,
    })
}

/// A pattern found in a photo.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpectrumMark {
    /// Distance from mark to mark, mm.
    pub spacing_mm: f64,
    /// Angle to the travel, degrees.
    pub angle_deg: f64,
    /// Strength against the strongest, 0 to 1.
    pub strength: f64,
}

/// The spectrum of a photo.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct SpectrumPlot {
    /// What it is, in a few words, for screen readers.
    pub title: String,
    /// Put before every id: letters, digits, `-`, at most 40.
    pub id_prefix: String,
    /// Waves a mm, and strength (2 to 20,000 points).
    pub curve: Vec<[f64; 2]>,
    /// The patterns, the strongest first (up to 8).
    pub patterns: Vec<SpectrumMark>,
}

/// Draw a spectrum.
///
/// # Errors
/// A [`Fault`] as [`curves`]; for a spacing of a pattern that is not above zero.
pub fn spectrum(plot: &SpectrumPlot) -> Result<String, Fault> {
    for (i, p) in plot.patterns.iter().enumerate() {
        p.spacing_mm.within(&format!("patterns[{i}].spacing_mm"), 1e-9, 1e9, "mm", "distance from mark to mark")?;
    }
    let mark = |(i, p): (usize, &SpectrumMark)| CurveMark {
        at: [1.0 / p.spacing_mm, p.strength],
        kind: if i == 0 { MarkKind::Full } else { MarkKind::Open },
        name: format!("{}: {} mm apart, {}° to the travel", i + 1, figure(p.spacing_mm), figure(p.angle_deg)),
    };
    curves(&CurvePlot {
        title: plot.title.clone(),
        id_prefix: plot.id_prefix.clone(),
        x: PlotAxis { name: "marks a millimetre".into(), unit: "1/mm".into() },
        y: PlotAxis { name: "strength".into(), unit: "of the strongest".into() },
        series: vec![Series { name: "strongest in any direction".into(), points: plot.curve.clone() }],
        marks: plot.patterns.iter().enumerate().map(mark).collect(),
        level: None,
    })
}
