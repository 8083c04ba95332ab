//! A small SVG writer: escaped text, numbers to three decimals, tags that cannot be left open.
//!
//! In: elements with their attributes. Out: the document, or a [`Fault`] if any number was not finite: a picture with
//! a hole in it is worse than none.

use std::fmt::Write as _;
use stillwheel_physics::Fault;

/// One element before it is written.
pub(crate) struct El {
    name: &'static str,
    attributes: String,
    finite: bool,
}

/// Start an element.
pub(crate) fn el(name: &'static str) -> El {
    El { name, attributes: String::new(), finite: true }
}

impl El {
    /// A number.
    pub(crate) fn n(mut self, name: &str, v: f64) -> Self {
        self.finite &= v.is_finite();
        let _ = write!(self.attributes, " {name}=\"{}\"", number(v));
        self
    }

    /// Text; escaped.
    pub(crate) fn s(mut self, name: &str, v: &str) -> Self {
        let _ = write!(self.attributes, " {name}=\"{}\"", escape(v));
        self
    }

    /// The `d` of a path.
    pub(crate) fn d(mut self, path: Path) -> Self {
        self.finite &= path.finite;
        self.s("d", &path.d)
    }

    /// A point as two attributes.
    pub(crate) fn xy(self, names: [&str; 2], p: [f64; 2]) -> Self {
        self.n(names[0], p[0]).n(names[1], p[1])
    }

    /// Fill and stroke in one go; "none" leaves one out.
    pub(crate) fn paint(self, fill: &str, stroke: &str, width: f64) -> Self {
        let e = self.s("fill", fill);
        if stroke == "none" { e } else { e.s("stroke", stroke).n("stroke-width", width) }
    }
}

/// Path data.
pub(crate) struct Path {
    d: String,
    finite: bool,
}

impl Path {
    pub(crate) fn new() -> Self {
        Self { d: String::new(), finite: true }
    }

    fn put(mut self, letter: char, p: [f64; 2]) -> Self {
        self.finite &= p[0].is_finite() && p[1].is_finite();
        let _ = write!(self.d, "{letter}{} {}", number(p[0]), number(p[1]));
        self
    }

    pub(crate) fn to(self, p: [f64; 2]) -> Self {
        self.put('M', p)
    }

    pub(crate) fn line(self, p: [f64; 2]) -> Self {
        self.put('L', p)
    }

    /// Circular arc to `p`; `ccw` as seen on the screen.
    pub(crate) fn arc(mut self, radius: f64, large: bool, ccw: bool, p: [f64; 2]) -> Self {
        self.finite &= radius.is_finite() && p[0].is_finite() && p[1].is_finite();
        // SVG's sweep flag 1 means "angle growing with y down", which the eye sees as clockwise.
        let (r, sweep) = (number(radius), u8::from(!ccw));
        let _ = write!(self.d, "A{r} {r} 0 {} {sweep} {} {}", u8::from(large), number(p[0]), number(p[1]));
        self
    }

    pub(crate) fn close(mut self) -> Self {
        self.d.push('Z');
        self
    }
}

/// The document under way.
pub(crate) struct Svg {
    out: String,
    finite: bool,
}

impl Svg {
    /// Open the document: `root` is an `svg` element with its size; `title` and `words` say the content for those who
    /// can't see it. Ids of the document start with `id_prefix`.
    pub(crate) fn start(root: El, id_prefix: &str, title: &str, words: &str) -> Self {
        let mut svg = Self { out: String::with_capacity(16 << 10), finite: true };
        let root = root
            .s("xmlns", "http://www.w3.org/2000/svg")
            .s("role", "img")
            .s("aria-labelledby", &format!("{id_prefix}title {id_prefix}words"))
            .s("font-family", crate::colour::FONT_FAMILY);
        svg.open(root);
        svg.text(el("title").s("id", &format!("{id_prefix}title")), title);
        svg.text(el("desc").s("id", &format!("{id_prefix}words")), words);
        svg
    }

    fn open(&mut self, e: El) {
        self.finite &= e.finite;
        let _ = write!(self.out, "<{}{}>", e.name, e.attributes);
    }

    /// An element without content.
    pub(crate) fn add(&mut self, e: El) {
        self.finite &= e.finite;
        let _ = writeln!(self.out, "<{}{}/>", e.name, e.attributes);
    }

    /// An element with text in it.
    pub(crate) fn text(&mut self, e: El, text: &str) {
        let name = e.name;
        self.open(e);
        let _ = writeln!(self.out, "{}</{name}>", escape(text));
    }

    /// An element with others in it.
    pub(crate) fn group(&mut self, e: El, content: impl FnOnce(&mut Self)) {
        let name = e.name;
        self.open(e);
        self.out.push('\n');
        content(self);
        let _ = writeln!(self.out, "</{name}>");
    }

    /// A picture of this crate, finished already.
    pub(crate) fn raw(&mut self, picture: &str) {
        self.out.push_str(picture);
    }

    /// Close the document.
    ///
    /// # Errors
    /// A [`Fault`] when a number on the way was not finite.
    pub(crate) fn finish(mut self) -> Result<String, Fault> {
        if !self.finite {
            return Err(Fault::new(
                "picture",
                "a coordinate that is not a number",
                "finite coordinates",
                "the values lie too far apart to be drawn in one picture",
            ));
        }
        self.out.push_str("</svg>\n");
        Ok(self.out)
    }
}

/// A coordinate with three decimals at most; without a negative zero.
pub(crate) fn number(v: f64) -> String {
    let text = format!("{v:.3}");
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// Text as XML wants it. Control characters, which XML 1.0 cannot hold, become U+FFFD, so that their place is seen.
fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\t' | '\n' | '\r' => out.push(' '),
            c if c < ' ' || ('\u{7f}'..='\u{9f}').contains(&c) || matches!(c, '\u{fffe}' | '\u{ffff}') => out.push('\u{fffd}'),
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use rstest::rstest;

    #[rstest]
    #[case(1.0, "1")]
    #[case(-0.0001, "0")]
    #[case(1.2345, "1.234")] // the binary number nearest to 1.2345 lies below it
    #[case(100.0, "100")]
    #[case(-12.5, "-12.5")]
    fn coordinates_have_three_decimals_at_most(#[case] v: f64, #[case] text: &str) {
        assert_eq!(number(v), text);
    }

    #[rstest]
    #[case(f64::NAN)]
    #[case(f64::INFINITY)]
    fn a_number_that_is_not_finite_is_a_fault_wherever_it_stands(#[case] bad: f64) {
        for e in
            [el("g").n("x", bad), el("path").d(Path::new().to([0.0, bad])), el("path").d(Path::new().arc(bad, false, true, [0.0, 0.0]))]
        {
            let mut svg = Svg::start(el("svg"), "", "t", "w");
            svg.add(e);
            assert_eq!(svg.finish().unwrap_err().field, "picture");
        }
    }

    #[test]
    fn hostile_text_comes_back_from_an_xml_reader_as_it_went_in() {
        let text = "<script>&\"'</text>]]>\u{1}";
        let mut svg = Svg::start(el("svg"), "", text, "w");
        svg.add(el("g").s("data-name", text));
        let svg = svg.finish().unwrap();
        let doc = usvg::roxmltree::Document::parse(&svg).unwrap();
        let back = text.replace('\u{1}', "\u{fffd}");
        assert!(
            doc.descendants().any(|n| n.has_tag_name("title") && n.text() == Some(&back))
                || doc.root_element().children().any(|n| n.text() == Some(&back))
        );
        assert!(doc.descendants().any(|n| n.attribute("data-name") == Some(&back)));
    }
}
