//! PDFs read back by an outside reader (poppler): true scale, text, page size.

mod common;

use common::{deg, template};
use std::path::PathBuf;
use std::process::Command;
use stillwheel_drawing::{Page, PictureUnbalance, RingTemplate, WheelPicture, ring_template, to_pdf, wheel};

/// Run a tool of poppler-utils; a missing tool fails the test and says what to install.
fn poppler(tool: &str, arguments: &[&str]) -> Vec<u8> {
    let out = Command::new(tool).args(arguments).output();
    let out =
        out.unwrap_or_else(|e| panic!("{tool} could not be run ({e}): install the package poppler-utils (apt install poppler-utils)"));
    assert!(out.status.success(), "{tool} {arguments:?}: {}", String::from_utf8_lossy(&out.stderr));
    out.stdout
}

fn saved(folder: &tempfile::TempDir, pdf: &[u8]) -> String {
    let path: PathBuf = folder.path().join("sheet.pdf");
    std::fs::write(&path, pdf).unwrap();
    path.to_str().unwrap().to_owned()
}

fn template_pdf(t: &RingTemplate, page: Page) -> Vec<u8> {
    to_pdf(&ring_template(t, page).unwrap(), page).unwrap()
}

const DPI: f64 = 600.0;
const PX_PER_MM: f64 = DPI / 25.4;

/// Dark runs along one row of the sheet, as middles in mm from the left; `from` to `to` and `y` in mm.
fn dark_runs(path: &str, from: f64, to: f64, y: f64) -> Vec<f64> {
    let px = |mm: f64| format!("{}", (mm * PX_PER_MM).round());
    let (x0, width) = ((from * PX_PER_MM).round(), ((to - from) * PX_PER_MM).round());
    let crop = ["-r", "600", "-gray", "-x", &px(from), "-y", &px(y), "-W", &format!("{width}"), "-H", "1", path];
    let pgm = poppler("pdftoppm", &crop);
    // Binary PGM: "P5", width, height, 255, one byte a pixel.
    let row = &pgm[pgm.len() - width as usize..];
    assert!(pgm.starts_with(b"P5"));
    let mut runs = Vec::new();
    let mut start = None;
    for (k, v) in row.iter().chain([&255]).enumerate() {
        match (*v < 128, start) {
            (true, None) => start = Some(k),
            (false, Some(s)) => {
                runs.push((x0 + (s + k) as f64 / 2.0) / PX_PER_MM);
                start = None;
            }
            _ => {}
        }
    }
    runs
}

#[test]
fn page_sizes_are_exact_to_a_tenth_of_a_millimetre() {
    // Sources: ISO 216 (A4, A3); 8.5 × 11 in and 11 × 17 in.
    let sizes = [(Page::A4, 210.0, 297.0), (Page::Letter, 215.9, 279.4), (Page::A3, 297.0, 420.0), (Page::Tabloid, 279.4, 431.8)];
    let folder = tempfile::tempdir().unwrap();
    for (page, w, h) in sizes {
        let path = saved(&folder, &template_pdf(&template(), page));
        let info = String::from_utf8(poppler("pdfinfo", &[&path])).unwrap();
        let line = info.lines().find_map(|l| l.strip_prefix("Page size:")).unwrap();
        let numbers: Vec<f64> = line.split_whitespace().filter_map(|w| w.parse().ok()).collect();
        let mm: Vec<f64> = numbers.iter().take(2).map(|pt| pt * 25.4 / 72.0).collect();
        assert!((mm[0] - w).abs() < 0.1 && (mm[1] - h).abs() < 0.1, "{page:?}: {mm:?}");
        assert!(info.lines().any(|l| l.starts_with("Pages:") && l.ends_with(" 1")));
    }
}

#[test]
fn the_bar_and_the_ring_are_true_to_a_tenth_of_a_millimetre_on_paper() {
    // Without weights or edges, a row above the arms of the centre cross (6 mm) and inside the marks (from 41 mm out)
    // meets nothing but the circle of the weights, twice.
    let bare = RingTemplate { weights: vec![], inner_edge_mm: None, outer_edge_mm: None, graduation_deg: 10.0, ..template() };
    let folder = tempfile::tempdir().unwrap();
    for page in [Page::A4, Page::Letter] {
        let svg = ring_template(&bare, page).unwrap();
        let path = saved(&folder, &to_pdf(&svg, page).unwrap());
        // The end marks of the bar, just above it; it lies in the upper left corner.
        let bar = dark_runs(&path, 5.0, 70.0, 36.5);
        assert_eq!(bar.len(), 2, "{page:?}: {bar:?}");
        assert!((bar[1] - bar[0] - 50.0).abs() < 0.1, "{page:?}: {bar:?}");

        let doc = usvg::roxmltree::Document::parse(&svg).unwrap();
        let circle = doc.descendants().find(|n| n.attribute("id") == Some("weight-radius")).unwrap();
        let centre = ["cx", "cy"].map(|a| circle.attribute(a).unwrap().parse::<f64>().unwrap());
        // The circle is chain-dotted: take the row among some close ones where both sides meet a dash.
        let widths: Vec<f64> = (0..8)
            .filter_map(|k| {
                let rise: f64 = 6.5 + 0.3 * f64::from(k);
                let runs = dark_runs(&path, centre[0] - 40.5, centre[0] + 40.5, centre[1] - rise);
                let expected = 2.0 * (38.0f64.powi(2) - rise.powi(2)).sqrt();
                (runs.len() == 2).then(|| runs[1] - runs[0] - expected)
            })
            .collect();
        assert!(!widths.is_empty(), "the circle was met on no row");
        assert!(widths.iter().all(|w| w.abs() < 0.1), "{page:?}: {widths:?}");
    }
}

#[test]
fn all_words_of_the_template_are_read_back_from_the_pdf() {
    let folder = tempfile::tempdir().unwrap();
    let path = saved(&folder, &template_pdf(&template(), Page::A4));
    let text = String::from_utf8(poppler("pdftotext", &["-layout", &path, "-"])).unwrap();
    for words in [
        "Weight ring of Wheel 7 & <spare>",
        "2026-11-25 · weight radius 38 mm · a mark every 1°, degrees counter-clockwise",
        "Print at 100 %, measure the bar",
        "50 mm",
        "zero mark",
        "270°",
        "330°",
        "now 90° = 59.7 mm",
        "to 180° = 119.4 mm",
        "stays",
    ] {
        assert!(text.contains(words), "{words:?} is missing in:\n{text}");
    }
    let info = String::from_utf8(poppler("pdfinfo", &[&path])).unwrap();
    assert!(info.contains("Weight ring of Wheel 7 & <spare>"), "title: {info}");
    let fonts = String::from_utf8(poppler("pdffonts", &[&path])).unwrap();
    assert!(fonts.contains("DejaVuSans") && fonts.contains("yes yes yes"), "embedded, subset, with a way back to Unicode: {fonts}");
}

#[test]
fn the_wheel_prints_fitted_into_the_page_with_its_words() {
    let u = PictureUnbalance { holds: "95 %".to_owned(), allowance_g_mm: Some(41.5), ..PictureUnbalance::default() };
    let p = WheelPicture {
        weights: vec![common::weight(90.0, 20.0, 45.0)],
        heavy: Some(deg(200.0)),
        unbalance: Some(u),
        ..WheelPicture::default()
    };
    let folder = tempfile::tempdir().unwrap();
    let path = saved(&folder, &to_pdf(&wheel(&p).unwrap(), Page::Letter).unwrap());
    let text = String::from_utf8(poppler("pdftotext", &[&path, "-"])).unwrap();
    for words in ["weight goes here", "allowed 41.5 g·mm", "heavy side", "150°"] {
        assert!(text.contains(words), "{words:?} is missing in:\n{text}");
    }
    // The rim, 362 of 400 units, over the 195.9 mm between the margins of 10 mm: 177.3 mm, its middle on the page's.
    let runs = dark_runs(&path, 5.0, 210.0, 10.0 + 202.0 / 400.0 * 195.9 + 4.0);
    let (left, right) = (runs[0], runs[runs.len() - 1]);
    assert!((right - left - 177.3).abs() < 0.5 && (f64::midpoint(left, right) - 107.95).abs() < 0.3, "{left} {right}");
}

#[test]
fn the_same_picture_gives_the_same_bytes() {
    assert!(template_pdf(&template(), Page::A4) == template_pdf(&template(), Page::A4));
}

#[test]
fn a_letter_that_the_font_lacks_is_a_fault_and_not_an_empty_box() {
    let t = RingTemplate { rotor_name: "砥石 1".to_owned(), ..template() };
    let fault = to_pdf(&ring_template(&t, Page::A4).unwrap(), Page::A4).unwrap_err();
    assert_eq!((fault.field.as_str(), fault.value.to_string().as_str()), ("text", "砥"));
    for written in ["Ärger ß é ø ł", "Колесо", "τροχός", "№ 7 µm ± ½"] {
        let t = RingTemplate { rotor_name: written.to_owned(), ..template() };
        assert!(to_pdf(&ring_template(&t, Page::A4).unwrap(), Page::A4).is_ok(), "{written}");
    }
}

#[test]
fn what_is_no_svg_is_a_fault() {
    for text in ["", "no svg", "<svg", "<svg xmlns=\"http://www.w3.org/2000/svg\"><g></svg>"] {
        assert_eq!(to_pdf(text, Page::A4).unwrap_err().field, "svg", "{text:?}");
    }
}

#[test]
fn a_ring_too_large_for_the_page_names_the_sheet_that_will_do() {
    let ring = |radius_mm: f64| RingTemplate { radius_mm, inner_edge_mm: None, outer_edge_mm: None, ..template() };
    let fault = ring_template(&ring(110.0), Page::A4).unwrap_err();
    assert_eq!(fault.field, "radius_mm");
    assert!(fault.why.contains("print it on A3"), "{fault}");
    // What the fault allows is indeed accepted, and a quarter of a millimetre more is not.
    let most: f64 = fault.allowed.split_whitespace().nth(2).unwrap().parse().unwrap();
    assert!(ring_template(&ring(most), Page::A4).is_ok() && ring_template(&ring(most + 0.25), Page::A4).is_err(), "{fault}");
    assert!(ring_template(&ring(110.0), Page::A3).is_ok());

    let fault = ring_template(&ring(300.0), Page::A3).unwrap_err();
    assert!(fault.why.contains("fits on no sheet") && fault.why.contains("in mm from the zero mark"), "{fault}");
}
