//! Pictures of the stand: the saddle's section with its film, the pressure on it, curves, the floor's budget, the feet,
//! the trade-off of a search.
//!
//! In: numbers from the film, the floor and the level, as a page shows them. Out: SVG, 400 units wide.

mod budget;
mod curves;
mod feet;
mod pressure;
mod section;
mod trade_off;

pub use budget::{BudgetCause, BudgetPlot, CauseKind, budget};
pub use curves::{CurveMark, CurvePlot, MarkKind, PlotAxis, Series, curves};
pub use feet::{FeetPlan, FootMark, feet};
pub use pressure::{PressureMap, pressure_map};
pub use section::{SaddleSection, saddle_section};
pub use trade_off::{TradeOff, TradeOffDesign, trade_off};

use crate::colour::INK;
use crate::svg::{El, el};

const TEXT: f64 = 13.0;

pub(crate) fn text(anchor: &str, x: f64, y: f64) -> El {
    el("text").n("font-size", TEXT).s("fill", INK).s("text-anchor", anchor).n("x", x).n("y", y)
}

/// The four ways in which lines and bars differ besides their colour.
const DASHES: [&str; 4] = ["", "7 4", "2 3", "9 3 2 3"];
