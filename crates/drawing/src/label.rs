//! A label for a rotor at true size, to be cut out: its name, a few lines, and a QR code that leads to its page.

use crate::colour::{INK, MUTED, PAPER};
use crate::paper::{fitting, text, wrapped};
use crate::pdf::Page;
use crate::qr::put_qr;
use crate::svg::{Path, Svg, el};
use stillwheel_physics::Fault;

/// What the label shows.
#[derive(Clone, Debug, PartialEq)]
pub struct Label {
    /// The rotor's name, 1 to 100 letters.
    pub name: String,
    /// Up to four lines more, each up to 100 letters.
    pub lines: Vec<String>,
    /// Where the code leads, up to 300 letters.
    pub leads_to: String,
}

/// Width and height of the label, mm.
pub const LABEL_MM: [f64; 2] = [70.0, 32.0];
/// Upper left corner on the sheet, mm.
const AT: [f64; 2] = [20.0, 35.0];
/// The code with its white, mm: with 33 squares (an address of the shop's network) half a millimetre a square, which any camera reads.
const QR_MM: f64 = 28.0;
const BAR_MM: f64 = 50.0;

/// Draw the label on a sheet.
///
/// # Errors
/// A [`Fault`] for a text that is missing or too long.
pub fn label(label: &Label, page: Page) -> Result<String, Fault> {
    for (field, said, low, high) in [("name", &label.name, 1, 100), ("leads_to", &label.leads_to, 1, 300)] {
        let count = said.chars().count();
        if !(low..=high).contains(&count) {
            return Err(Fault::new(field, count, format!("{low} to {high} letters"), "it must fit on the label"));
        }
    }
    if label.lines.len() > 4 || label.lines.iter().any(|line| line.chars().count() > 100) {
        return Err(Fault::new("lines", label.lines.len(), "up to 4 lines of up to 100 letters", "they must fit on the label"));
    }
    let [w, h] = page.size_mm();
    let root = el("svg")
        .s("width", &format!("{w}mm"))
        .s("height", &format!("{h}mm"))
        .s("viewBox", &format!("0 0 {w} {h}"))
        .s("data-picture", "label");
    let words = format!("{}. {}. The code leads to {}.", label.name, label.lines.join(". "), label.leads_to);
    let mut svg = Svg::start(root, "", &format!("Label of {}", label.name), &words);
    svg.add(el("rect").n("x", 0.0).n("y", 0.0).n("width", w).n("height", h).paint(PAPER, "none", 0.0));
    let say = "Print at 100 %, measure the bar, cut along the line.";
    svg.text(text([AT[0], 17.0], 4.0), say);
    let y = 25.0;
    let bar = Path::new()
        .to([AT[0], y])
        .line([AT[0] + BAR_MM, y])
        .to([AT[0], y - 2.0])
        .line([AT[0], y + 2.0])
        .to([AT[0] + BAR_MM, y - 2.0])
        .line([AT[0] + BAR_MM, y + 2.0]);
    svg.add(el("path").s("id", "check-bar").d(bar).paint("none", INK, 0.25));
    svg.text(text([AT[0] + BAR_MM + 3.0, y + 1.3], 3.4), "50 mm");

    let edge = el("rect").xy(["x", "y"], AT).n("width", LABEL_MM[0]).n("height", LABEL_MM[1]).s("id", "label");
    svg.add(edge.paint("none", MUTED, 0.2).s("stroke-dasharray", "2 1.2"));
    put_qr(&mut svg, &label.leads_to, [AT[0] + 2.0, AT[1] + 2.0], QR_MM)?;
    let (left, width) = (AT[0] + QR_MM + 3.5, LABEL_MM[0] - QR_MM - 5.5);
    let mut y = AT[1] + 6.0;
    let name = wrapped(&label.name, width, 3.6);
    for line in name.iter().take(3) {
        svg.text(text([left, y], 3.6).s("font-weight", "bold"), line);
        y += 4.4;
    }
    for line in &label.lines {
        svg.text(text([left, y], fitting(line, width, 2.6)), line);
        y += 3.5;
    }
    svg.finish()
}
