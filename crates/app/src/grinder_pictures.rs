//! Pictures of the grinder from the door's answers: the same for the command line and the pages.

use stillwheel_door::Fault;
use stillwheel_door::ground_face::GroundFaceOut;
use stillwheel_door::marks::{MarksOut, SpectrumOut};
use stillwheel_drawing::{
    CauseBar, CausesPlot, FacePicture, FaceStrip, ProfilePlot, SpectrumMark, SpectrumPlot, causes, ground_face, profile, spectrum,
};

/// Causes that are drawn; the rest is under a hundredth as a rule.
pub(crate) const MOST_CAUSES: usize = 8;

/// The face from above.
pub(crate) fn face_picture(out: &GroundFaceOut) -> Result<String, Fault> {
    let strip =
        |s: &stillwheel_door::ground_face::StripOut| FaceStrip { from_mm: s.from_mm, to_mm: s.to_mm, heights_um: s.heights_um.clone() };
    ground_face(&FacePicture {
        title: "The ground face".into(),
        id_prefix: "face-".into(),
        spacing_mm: out.strip_spacing_mm,
        strips: out.strips.iter().map(strip).collect(),
    })
}

/// The worst strip's profile.
pub(crate) fn profile_picture(out: &GroundFaceOut) -> Result<String, Fault> {
    profile(&ProfilePlot {
        title: "Profile of the worst strip".into(),
        id_prefix: "profile-".into(),
        spacing_mm: out.profile.spacing_mm,
        heights_um: out.profile.heights_um.clone(),
        mean_line_um: out.profile.mean_line_um.clone(),
    })
}

/// The photo's spectrum.
pub(crate) fn spectrum_picture(s: &SpectrumOut) -> Result<String, Fault> {
    let mark =
        |p: &stillwheel_door::marks::PatternOut| SpectrumMark { spacing_mm: p.spacing_mm, angle_deg: p.angle_deg, strength: p.strength };
    spectrum(&SpectrumPlot {
        title: "Spectrum of the photo".into(),
        id_prefix: "spectrum-".into(),
        curve: s.curve.clone(),
        patterns: s.patterns.iter().map(mark).collect(),
    })
}

/// The causes as bars.
pub(crate) fn causes_picture(out: &MarksOut) -> Result<String, Fault> {
    let bar = |c: &stillwheel_door::marks::CauseOut| {
        let spacing = c.spacing_mm.map(|s| format!("would be {s:.3} mm apart"));
        let hz = c.frequency_hz.map(|f| format!("{f:.2} Hz"));
        let prints: Vec<String> = [spacing, hz].into_iter().flatten().collect();
        let prints = if prints.is_empty() { "predicts nothing".into() } else { prints.join(", ") };
        CauseBar { name: c.name.clone(), prints, probability: c.probability.clamp(0.0, 1.0) }
    };
    causes(&CausesPlot {
        title: "Causes of the marks".into(),
        id_prefix: "causes-".into(),
        causes: out.causes.iter().take(MOST_CAUSES).map(bar).collect(),
    })
}
