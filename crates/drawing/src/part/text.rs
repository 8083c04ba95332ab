//! How wide text is, and how sizes are written.

use crate::scale::short;
use stillwheel_physics::making::parts::{Dimension, Limits, Measure, Told};

/// Advance widths of the embedded DejaVu Sans, thousandths of its size, from the space to the tilde. Source: the font's `hmtx` table.
const ADVANCE: [u16; 95] = [
    318, 401, 460, 838, 636, 950, 780, 275, 390, 390, 500, 838, 318, 361, 318, 337, 636, 636, 636, 636, 636, 636, 636, 636, 636, 636, 337,
    337, 838, 838, 838, 531, 1000, 684, 686, 698, 770, 632, 575, 775, 752, 295, 295, 656, 557, 863, 748, 787, 603, 787, 695, 635, 611, 732,
    684, 989, 685, 611, 685, 390, 337, 390, 838, 500, 500, 613, 635, 550, 635, 615, 352, 635, 634, 278, 278, 579, 278, 974, 634, 612, 635,
    635, 411, 521, 392, 634, 592, 818, 592, 592, 525, 636, 337, 636, 838,
];

/// Height of a capital in DejaVu Sans, of its size. Source: the font's H, 1493 of 2048 units.
pub(super) const CAPITAL: f64 = 0.729;

/// Lettering of dimensions, mm. Source: ISO 3098-1, series 2.5, 3.5, 5.
pub(super) const SMALL: f64 = 2.5;
/// Lettering of titles, mm.
pub(super) const LARGE: f64 = 3.5;
/// Upper and lower limits beside a dimension, mm.
pub(super) const LIMIT: f64 = 1.8;

/// Width of a text whose capitals are `height` high, mm.
pub(super) fn width_mm(text: &str, height: f64) -> f64 {
    let units: f64 = text
        .chars()
        .map(|c| match c {
            ' '..='~' => f64::from(ADVANCE[c as usize - 32]),
            'Ø' => 787.0,
            '°' => 500.0,
            'µ' => 636.0,
            '·' => 318.0,
            '²' | '³' => 401.0,
            // ±, −, × and anything wide.
            _ => 838.0,
        })
        .sum();
    units * 1e-3 * height / CAPITAL
}

/// A dimension as it is written: nominal with its class or equal limits, and unequal limits one above the other.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Written {
    pub(super) main: String,
    pub(super) limits: Option<[String; 2]>,
}

impl Written {
    pub(super) fn plain(main: impl Into<String>) -> Self {
        Self { main: main.into(), limits: None }
    }

    pub(super) fn width_mm(&self) -> f64 {
        let beside = self.limits.iter().flatten().map(|l| width_mm(l, LIMIT)).fold(0.0, f64::max);
        width_mm(&self.main, SMALL) + if beside > 0.0 { 0.8 + beside } else { 0.0 }
    }
}

/// A deviation with its sign: `+0.039`, `−0.025`, `0`.
fn deviation(v: f64) -> String {
    match short(v, 4) {
        zero if zero == "0" => zero,
        text if v > 0.0 => format!("+{text}"),
        text => text,
    }
}

/// A length without needless zeros, to the micrometre.
pub(super) fn size(v: f64) -> String {
    short(v, 3)
}

fn sign(measure: Measure) -> &'static str {
    match measure {
        Measure::Diameter => "Ø",
        Measure::Radius => "R",
        _ => "",
    }
}

/// A dimension in writing. A general tolerance is not repeated: it stands in the title block.
pub(super) fn written(d: &Dimension) -> Written {
    let nominal = format!("{}{}", sign(d.measure), size(d.nominal_mm));
    let Limits { upper_mm, lower_mm, told } = &d.limits;
    let pair = || Some([deviation(*upper_mm), deviation(*lower_mm)]);
    match told {
        Told::General | Told::Reference => Written::plain(nominal),
        Told::Class(class) => Written { main: format!("{nominal} {class}"), limits: pair() },
        Told::Stated(_) if (upper_mm + lower_mm).abs() < 1e-12 => Written::plain(format!("{nominal} ±{}", short(*upper_mm, 4))),
        Told::Stated(_) => Written { main: nominal, limits: pair() },
    }
}

/// The same on one line, for tables and leaders.
pub(super) fn in_line(d: &Dimension) -> String {
    let w = written(d);
    match w.limits {
        Some([up, down]) => format!("{} ({up}/{down})", w.main),
        None => w.main,
    }
}
