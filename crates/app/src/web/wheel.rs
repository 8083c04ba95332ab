//! The picture of the wheel in a page: the drawing crate's, in a box that scripts can find.

use super::show::Show;
use maud::{Markup, PreEscaped, html};
use stillwheel_drawing::{WheelPicture, wheel};

/// The picture; should it be refused, its fault in words instead, since a sitting must go on without a picture.
pub(crate) fn picture(of: &WheelPicture, show: Show) -> Markup {
    match wheel(of) {
        Ok(svg) => html! { div.wheel { (PreEscaped(show.told(&svg))) } },
        Err(fault) => html! { p.fault { "The picture can’t be drawn: " (fault) } },
    }
}
