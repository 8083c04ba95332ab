//! QR codes (ISO/IEC 18004), as a picture and as letters for a terminal.

use crate::svg::{El, Path, Svg, el};
use qrcode::{Color, EcLevel, QrCode};
use stillwheel_physics::Fault;

/// White around the code, in its squares: ISO/IEC 18004 asks for four.
const QUIET: usize = 4;

/// The squares of a code, row by row, with the quiet zone.
struct Squares {
    dark: Vec<bool>,
    side: usize,
}

impl Squares {
    fn of(text: &str) -> Result<Self, Fault> {
        let code = QrCode::with_error_correction_level(text, EcLevel::M).map_err(|e| {
            let shown: String = text.chars().take(40).collect();
            Fault::new("qr", shown, "up to about 2000 letters", format!("it does not fit into a QR code: {e}"))
        })?;
        let inner = code.width();
        let side = inner + 2 * QUIET;
        let mut dark = vec![false; side * side];
        for (i, colour) in code.to_colors().into_iter().enumerate() {
            dark[(QUIET + i / inner) * side + QUIET + i % inner] = colour == Color::Dark;
        }
        Ok(Self { dark, side })
    }

    fn is_dark(&self, x: usize, y: usize) -> bool {
        y < self.side && self.dark[y * self.side + x]
    }
}

/// Put a code of `text` into a drawing: its upper left corner at `at`, `size` wide with its quiet zone, in the drawing's units.
/// Black on white whatever the theme: that is what readers expect.
pub(crate) fn put_qr(svg: &mut Svg, text: &str, at: [f64; 2], size: f64) -> Result<(), Fault> {
    let squares = Squares::of(text)?;
    let unit = size / squares.side as f64;
    svg.add(el("rect").xy(["x", "y"], at).n("width", size).n("height", size).s("fill", "#ffffff"));
    let mut path = Path::new();
    for y in 0..squares.side {
        // One bar for each run of dark squares in a row: fewer hair lines between squares than one a square.
        let mut x = 0;
        while x < squares.side {
            let begin = x;
            while x < squares.side && squares.is_dark(x, y) {
                x += 1;
            }
            if x > begin {
                let corner = |dx: usize, dy: usize| [at[0] + unit * dx as f64, at[1] + unit * dy as f64];
                path = path.to(corner(begin, y)).line(corner(x, y)).line(corner(x, y + 1)).line(corner(begin, y + 1)).close();
            }
            x += 1;
        }
    }
    svg.add(el("path").d(path).s("fill", "#000000").s("shape-rendering", "crispEdges"));
    Ok(())
}

/// A QR code as a picture, one unit a square; `words` say for those who can't see it where it leads.
///
/// # Errors
/// A [`Fault`] for a text too long.
pub fn qr_code(text: &str, words: &str) -> Result<String, Fault> {
    let side = Squares::of(text)?.side as f64;
    let root: El = el("svg").s("viewBox", &format!("0 0 {side} {side}")).s("class", "qr");
    let mut svg = Svg::start(root, "qr-", "QR code", words);
    put_qr(&mut svg, text, [0.0, 0.0], side)?;
    svg.finish()
}

/// A QR code in block letters, two rows of squares a line, for a terminal with light letters on a dark ground.
///
/// # Errors
/// A [`Fault`] for a text too long.
pub fn qr_in_letters(text: &str) -> Result<String, Fault> {
    let squares = Squares::of(text)?;
    let mut out = String::new();
    for y in (0..squares.side).step_by(2) {
        for x in 0..squares.side {
            // Light squares are drawn: the ground is dark.
            out.push(match (squares.is_dark(x, y), squares.is_dark(x, y + 1) || y + 1 >= squares.side) {
                (true, true) => ' ',
                (true, false) => '▄',
                (false, true) => '▀',
                (false, false) => '█',
            });
        }
        out.push('\n');
    }
    Ok(out)
}
