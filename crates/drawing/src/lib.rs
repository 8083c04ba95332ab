//! Pictures, plots and templates from Stillwheel's results: SVG for pages, PDF for paper.
//!
//! # How a picture speaks
//!
//! The operator stands before the wheel and sees angles grow **counter-clockwise** from the **zero mark**. SVG's y
//! points down and its rotations run clockwise, so the turn is made in one place (`polar`): a rotor
//! is drawn with its zero mark at the bottom, where room angles start, and turned by −φ for a zero mark at room angle φ.
//! On plots of the unbalance plane x runs along the zero mark, y a quarter turn counter-clockwise from it.
//!
//! Every picture carries its content in words (`title`, `desc`) for those who can't see it; no meaning rests on colour
//! alone; colours are CSS custom properties with light fallbacks ([`css_properties`]), so that a page can turn them dark
//! and a file alone still prints. Nothing needs a style sheet or a script to be seen.
//!
//! ```
//! use stillwheel_drawing::{Page, PictureWeight, WheelPicture, to_pdf, wheel};
//! use stillwheel_physics::quantity::{Angle, RotorAngle};
//!
//! let weight = PictureWeight { at: RotorAngle::from_deg(90.0), arc: Angle::from_deg(20.0), move_by: Some(Angle::from_deg(45.0)) };
//! let svg = wheel(&WheelPicture { weights: vec![weight], ..WheelPicture::default() })?;
//! assert!(svg.contains("Weight 1 is at 90° and goes to 135°, 45° counter-clockwise."));
//! let pdf = to_pdf(&svg, Page::A4)?;
//! assert!(pdf.starts_with(b"%PDF"));
//! # Ok::<(), stillwheel_physics::Fault>(())
//! ```
//!
//! Rooms: the wheel ([`wheel`]), the plane of the unbalance ([`region`]), the swing log ([`log_plot`]), the 1:1 template
//! of the weight ring ([`ring_template`]), the stand ([`saddle_section`], [`pressure_map`], [`curves`], [`budget`],
//! [`feet`], [`trade_off`]), its parts ([`draw_part`], [`draw_assembly`]), the grinder ([`ground_face`], [`profile`],
//! [`spectrum`], [`causes`]), any of them on paper ([`to_pdf`]).

mod axis;
mod certificate;
mod colour;
mod grinder;
mod label;
mod log_plot;
mod paper;
mod part;
mod pdf;
mod polar;
mod qr;
mod region;
mod ring_template;
mod scale;
mod stand;
mod svg;
mod timeline;
mod wheel;

pub use certificate::{Certificate, Facts, certificate};
pub use colour::{Theme, css_properties, with_plain_colours};
pub use grinder::{
    CauseBar, CausesPlot, FacePicture, FaceStrip, ProfilePlot, SpectrumMark, SpectrumPlot, causes, ground_face, profile, spectrum,
};
pub use label::{LABEL_MM, Label, label};
pub use log_plot::{LogPlot, LogPoint, log_plot};
pub use part::{Anchor, DrawOptions, Drawing, Entity, Extent, LineKind, Point, Projection, draw_assembly, draw_part};
pub use pdf::{Page, to_pdf};
pub use qr::{qr_code, qr_in_letters};
pub use region::{RegionPlot, region};
pub use ring_template::{RingTemplate, TemplateWeight, ring_template};
pub use scale::Scale;
pub use stand::{
    BudgetCause, BudgetPlot, CauseKind, CurveMark, CurvePlot, FeetPlan, FootMark, MarkKind, PlotAxis, PressureMap, SaddleSection, Series,
    TradeOff, TradeOffDesign, budget, curves, feet, pressure_map, saddle_section, trade_off,
};
pub use timeline::{TimelinePoint, timeline, wander};
pub use wheel::{ForbiddenArc, PictureHole, PictureUnbalance, PictureWeight, WheelPicture, ZERO_MARK_UP, settled, wheel};
