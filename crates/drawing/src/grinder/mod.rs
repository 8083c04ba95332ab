//! Pictures from the grinder: the face as it would look, its profile, the spectrum of a photo, the causes of marks.
//!
//! In: heights, probabilities, as a page or the command line shows them. Out: SVG, 400 units wide.

mod causes;
mod face;
mod plots;

pub use causes::{CauseBar, CausesPlot, causes};
pub use face::{FacePicture, FaceStrip, ground_face};
pub use plots::{ProfilePlot, SpectrumMark, SpectrumPlot, profile, spectrum};
