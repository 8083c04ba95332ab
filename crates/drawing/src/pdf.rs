//! Pictures to PDF, with the embedded font.
//!
//! In: an SVG of this crate (or any other that needs one font) and a [`Page`]. Out: the bytes of a one-page PDF. A
//! drawing whose own size is that of the page comes out at true scale; any other is fitted into the page's margins.

use krilla::geom::{Size, Transform};
use krilla::metadata::Metadata;
use krilla::page::PageSettings;
use krilla_svg::{SurfaceExt, SvgSettings};
use std::sync::{Arc, OnceLock};
use stillwheel_physics::Fault;
use usvg::fontdb;

/// DejaVu Sans; its licence stands beside it.
const FONT: &[u8] = include_bytes!("../fonts/DejaVuSans.ttf");

/// PostScript points in a millimetre. Source: ISO 32000-1, 8.3.2.3: the default unit is 1/72 inch.
const POINTS_PER_MM: f64 = 72.0 / 25.4;

/// CSS pixels in a millimetre. Source: CSS Values 3, 5.2: 1 in = 96 px.
const PIXELS_PER_MM: f64 = 96.0 / 25.4;

/// A sheet of paper, upright.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Page {
    /// 210 × 297 mm (ISO 216).
    #[default]
    A4,
    /// 8.5 × 11 in (ASME Y14.1, "A").
    Letter,
    /// 297 × 420 mm (ISO 216).
    A3,
    /// 11 × 17 in (ASME Y14.1, "B").
    Tabloid,
}

impl Page {
    /// All, from the smallest.
    pub const ALL: [Self; 4] = [Self::A4, Self::Letter, Self::A3, Self::Tabloid];

    /// Width and height, mm.
    pub const fn size_mm(self) -> [f64; 2] {
        match self {
            Self::A4 => [210.0, 297.0],
            Self::Letter => [215.9, 279.4],
            Self::A3 => [297.0, 420.0],
            Self::Tabloid => [279.4, 431.8],
        }
    }

    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            Self::A4 => "A4",
            Self::Letter => "Letter",
            Self::A3 => "A3",
            Self::Tabloid => "Tabloid (11 × 17 in)",
        }
    }

    /// Margin that common printers leave white, mm (common practice, no source).
    pub const MARGIN_MM: f64 = 10.0;
}

fn options() -> usvg::Options<'static> {
    static FONTS: OnceLock<Arc<fontdb::Database>> = OnceLock::new();
    let fonts = FONTS.get_or_init(|| {
        let mut fonts = fontdb::Database::new();
        fonts.load_font_source(fontdb::Source::Binary(Arc::new(FONT)));
        fonts.set_sans_serif_family("DejaVu Sans");
        fonts.set_serif_family("DejaVu Sans");
        fonts.set_monospace_family("DejaVu Sans");
        Arc::new(fonts)
    });
    usvg::Options { fontdb: Arc::clone(fonts), font_family: "DejaVu Sans".to_owned(), ..usvg::Options::default() }
}

/// Read an SVG with the embedded font, CSS variables replaced by their fallbacks.
fn read(svg: &str) -> Result<usvg::Tree, Fault> {
    usvg::Tree::from_str(&crate::colour::with_plain_colours(svg), &options())
        .map_err(|e| Fault::new("svg", "this text", "a well-formed SVG with a size or a viewBox", format!("it could not be read: {e}")))
}

/// A one-page PDF of an SVG.
///
/// Selectable text, the font's used part embedded, no date inside: the same picture gives the same bytes.
///
/// # Errors
/// A [`Fault`] when the SVG can't be read, or holds a letter that the embedded font lacks (it has Latin, Greek,
/// Cyrillic and more, but no Chinese, Japanese or Korean): on paper it would be an empty box.
pub fn to_pdf(svg: &str, page: Page) -> Result<Vec<u8>, Fault> {
    let tree = read(svg)?;
    if let Some(letter) = missing_letter(tree.root()) {
        return Err(Fault::new(
            "text",
            letter,
            "letters of the Latin, Greek or Cyrillic script",
            "the font for printing has no such letter; write the name in letters that it has",
        ));
    }
    let unprintable = |why: String| Fault::new("svg", "this picture", "a picture that can be printed", why);
    let [w, h] = page.size_mm();
    let size = |w: f64, h: f64| Size::from_wh(w as f32, h as f32).ok_or_else(|| unprintable("it has no size".to_owned()));
    let sheet = size(w * POINTS_PER_MM, h * POINTS_PER_MM)?;

    let own = [f64::from(tree.size().width()) / PIXELS_PER_MM, f64::from(tree.size().height()) / PIXELS_PER_MM];
    // A twentieth of a millimetre: more than f32 loses, less than a printer shows.
    let true_scale = (own[0] - w).abs() < 0.05 && (own[1] - h).abs() < 0.05;
    let (place, drawn) = if true_scale {
        ([0.0, 0.0], [w, h])
    } else {
        let room = [w - 2.0 * Page::MARGIN_MM, h - 2.0 * Page::MARGIN_MM];
        let k = (room[0] / own[0]).min(room[1] / own[1]);
        ([Page::MARGIN_MM + (room[0] - k * own[0]) / 2.0, Page::MARGIN_MM], [k * own[0], k * own[1]])
    };

    let mut document = krilla::Document::new();
    let mut metadata = Metadata::new().language("en".to_owned());
    if let Some(title) = title(svg) {
        metadata = metadata.title(title);
    }
    document.set_metadata(metadata);
    let mut sheet = document.start_page_with(PageSettings::new(sheet));
    let mut surface = sheet.surface();
    surface.push_transform(&Transform::from_translate((place[0] * POINTS_PER_MM) as f32, (place[1] * POINTS_PER_MM) as f32));
    surface
        .draw_svg(&tree, size(drawn[0] * POINTS_PER_MM, drawn[1] * POINTS_PER_MM)?, SvgSettings::default())
        .ok_or_else(|| unprintable("it could not be drawn".to_owned()))?;
    surface.pop();
    surface.finish();
    sheet.finish();
    document.finish().map_err(|e| unprintable(format!("the PDF could not be written: {e:?}")))
}

fn title(svg: &str) -> Option<String> {
    let doc = usvg::roxmltree::Document::parse(svg).ok()?;
    doc.root_element().children().find(|n| n.tag_name().name() == "title")?.text().map(str::to_owned)
}

/// The first letter for which the font has no glyph.
fn missing_letter(group: &usvg::Group) -> Option<String> {
    group.children().iter().find_map(|node| match node {
        usvg::Node::Group(g) => missing_letter(g),
        usvg::Node::Text(t) => {
            // Glyph 0 is ".notdef", the empty box. Source: OpenType specification, "Recommendations for fonts".
            t.layouted().iter().flat_map(|s| &s.positioned_glyphs).find(|g| g.id.0 == 0).map(|g| g.text.clone())
        }
        _ => None,
    })
}
