//! A drawing as DXF R12 (AC1009), at the part's true size, a layer for each kind of line.
//!
//! R12 knows no units of its own; `$INSUNITS` 4 says millimetres to readers that look for it. Text is ASCII: signs become the escapes
//! `%%c`, `%%d`, `%%p`. Source: the published DXF reference, group codes of R12.

use super::entity::{Anchor, Entity, LineKind, Point};
use super::sheet::Drawing;
use std::fmt::Write as _;
use stillwheel_physics::Fault;

impl Drawing {
    /// As DXF text. One unit is one millimetre of the part, zero at [`Drawing::origin`].
    ///
    /// # Errors
    /// A [`Fault`] for a coordinate that is not finite.
    pub fn dxf(&self) -> Result<String, Fault> {
        let mut out = Dxf { text: String::with_capacity(64 << 10), finite: true };
        let go = |p: Point| [(p[0] - self.origin[0]) / self.scale, (p[1] - self.origin[1]) / self.scale];
        let [w, h] = self.page.size_mm();
        out.header(go([0.0, 0.0]), go([w, h]));
        out.tables(1.0 / self.scale);
        out.section("BLOCKS");
        out.end();
        out.section("ENTITIES");
        for e in &self.entities {
            match e {
                Entity::Line { a, b, kind } => out.line(kind.layer(), go(*a), go(*b)),
                Entity::Circle { centre, radius, kind } => {
                    out.start("CIRCLE", kind.layer());
                    out.point(10, go(*centre));
                    out.number(40, radius / self.scale);
                }
                Entity::Arc { centre, radius, from_deg, to_deg, kind } => {
                    out.start("ARC", kind.layer());
                    out.point(10, go(*centre));
                    out.number(40, radius / self.scale);
                    out.number(50, from_deg.rem_euclid(360.0));
                    out.number(51, to_deg.rem_euclid(360.0));
                }
                Entity::Text { at, height, anchor, upwards, text } => {
                    out.start("TEXT", "TEXT");
                    let p = go(*at);
                    out.point(10, p);
                    out.number(40, height / self.scale);
                    out.pair(1, &ascii(text));
                    if *upwards {
                        out.number(50, 90.0);
                    }
                    if *anchor != Anchor::Start {
                        out.pair(72, if *anchor == Anchor::Middle { "1" } else { "2" });
                        out.point(11, p);
                    }
                }
                Entity::Arrow { corners } => {
                    out.start("SOLID", "DIMENSION");
                    let [a, b, c] = corners.map(go);
                    // A triangle is a four-cornered solid with its last corner twice.
                    for (code, p) in [(10, a), (11, b), (12, c), (13, c)] {
                        out.point(code, p);
                    }
                }
            }
        }
        out.end();
        out.pair(0, "EOF");
        if out.finite {
            Ok(out.text)
        } else {
            Err(Fault::new("drawing", "a coordinate that is not a number", "finite coordinates", "the sizes lie too far apart to be drawn"))
        }
    }
}

struct Dxf {
    text: String,
    finite: bool,
}

impl Dxf {
    fn pair(&mut self, code: u16, value: &str) {
        let _ = write!(self.text, "{code:>3}\r\n{value}\r\n");
    }

    fn number(&mut self, code: u16, value: f64) {
        self.finite &= value.is_finite();
        // A micrometre of the part has three decimals; six keep what scaling has rounded.
        let text = format!("{:.6}", value + 0.0);
        self.pair(code, if text == "-0.000000" { "0.000000" } else { &text });
    }

    fn point(&mut self, code: u16, [x, y]: Point) {
        for (k, v) in [x, y, 0.0].into_iter().enumerate() {
            self.number(code + 10 * k as u16, v);
        }
    }

    fn section(&mut self, name: &str) {
        self.pair(0, "SECTION");
        self.pair(2, name);
    }

    fn end(&mut self) {
        self.pair(0, "ENDSEC");
    }

    fn start(&mut self, kind: &str, layer: &str) {
        self.pair(0, kind);
        self.pair(8, layer);
    }

    fn line(&mut self, layer: &str, a: Point, b: Point) {
        self.start("LINE", layer);
        self.point(10, a);
        self.point(11, b);
    }

    fn header(&mut self, low: Point, high: Point) {
        self.section("HEADER");
        self.pair(9, "$ACADVER");
        self.pair(1, "AC1009");
        self.pair(9, "$INSUNITS");
        self.pair(70, "4");
        self.pair(9, "$INSBASE");
        self.point(10, [0.0, 0.0]);
        self.pair(9, "$EXTMIN");
        self.point(10, low);
        self.pair(9, "$EXTMAX");
        self.point(10, high);
        self.end();
    }

    fn tables(&mut self, per_mm: f64) {
        self.section("TABLES");
        let types: [(&str, &str, &[f64]); 3] = [
            ("CONTINUOUS", "continuous", &[]),
            ("DASHED", "dashed", LineKind::Hidden.dashes_mm()),
            ("DASHDOT", "long dash, dot", LineKind::Axis.dashes_mm()),
        ];
        self.table("LTYPE", types.len());
        for (name, says, dashes) in types {
            self.pair(0, "LTYPE");
            self.pair(2, name);
            self.pair(70, "0");
            self.pair(3, says);
            self.pair(72, "65");
            self.pair(73, &dashes.len().to_string());
            self.number(40, dashes.iter().sum::<f64>() * per_mm);
            for (k, d) in dashes.iter().enumerate() {
                self.number(49, if k % 2 == 0 { d * per_mm } else { -d * per_mm });
            }
        }
        self.pair(0, "ENDTAB");
        self.table("LAYER", LineKind::ALL.len() + 2);
        for (name, line) in [("0", "CONTINUOUS"), ("TEXT", "CONTINUOUS")] {
            self.layer(name, line);
        }
        for kind in LineKind::ALL {
            let line = match kind {
                LineKind::Hidden => "DASHED",
                LineKind::Axis => "DASHDOT",
                _ => "CONTINUOUS",
            };
            self.layer(kind.layer(), line);
        }
        self.pair(0, "ENDTAB");
        self.table("STYLE", 1);
        self.pair(0, "STYLE");
        self.pair(2, "STANDARD");
        self.pair(70, "0");
        self.number(40, 0.0);
        self.number(41, 1.0);
        self.number(50, 0.0);
        self.pair(71, "0");
        self.number(42, 2.5);
        self.pair(3, "txt");
        self.pair(4, "");
        self.pair(0, "ENDTAB");
        self.end();
    }

    fn table(&mut self, name: &str, entries: usize) {
        self.pair(0, "TABLE");
        self.pair(2, name);
        self.pair(70, &entries.to_string());
    }

    fn layer(&mut self, name: &str, line: &str) {
        self.pair(0, "LAYER");
        self.pair(2, name);
        self.pair(70, "0");
        // White or black, whatever the ground is not: the layer tells the kind, not a colour.
        self.pair(62, "7");
        self.pair(6, line);
    }
}

/// Text as R12 can hold it; a letter that it lacks becomes `?`.
fn ascii(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            'Ø' => out.push_str("%%c"),
            '°' => out.push_str("%%d"),
            '±' => out.push_str("%%p"),
            '×' => out.push('x'),
            '−' => out.push('-'),
            'µ' => out.push('u'),
            '’' => out.push('\''),
            ' '..='~' => out.push(c),
            _ => out.push('?'),
        }
    }
    out
}
