//! Drawings of parts: every dimension once, nothing on top of anything else, and true sizes in the files as outside readers see them.

#[path = "../../physics/tests/making_support/stands.rs"]
mod stands;

mod common;

#[path = "../../../reference/check.rs"]
mod check;

use std::collections::BTreeMap;
use std::process::Command;
use stillwheel_drawing::{DrawOptions, Drawing, Entity, LineKind, Page, Point, Projection, draw_assembly, draw_part, to_pdf};
use stillwheel_physics::making::parts::{Design, Part, PartKind, parts};

fn options(page: Page, projection: Projection) -> DrawOptions {
    DrawOptions { page, projection, date: "2026-03-02".to_owned(), issue: "1".to_owned() }
}

/// Every part of every stand on some papers, with words to name it by.
fn each_part(mut look: impl FnMut(&str, &Design, &Part, &Drawing)) {
    for (stand, design) in stands::several() {
        let all = parts(&design).unwrap();
        for page in [Page::A4, Page::Letter, Page::A3] {
            for projection in [Projection::FirstAngle, Projection::ThirdAngle] {
                for part in all.iter().filter(|p| p.is_made()) {
                    let drawing = draw_part(&design, part, &options(page, projection)).unwrap();
                    look(&format!("{stand}: {} on {} {projection:?}", part.key, page.name()), &design, part, &drawing);
                }
            }
        }
    }
}

/// All drawings, the stands put together too.
fn each_drawing(mut look: impl FnMut(&str, &Drawing)) {
    each_part(|name, _, _, drawing| look(name, drawing));
    for (stand, design) in stands::several() {
        let all = parts(&design).unwrap();
        for page in [Page::A4, Page::Letter, Page::A3] {
            let drawing = draw_assembly(&design, &all, &options(page, Projection::default())).unwrap();
            look(&format!("{stand}: assembly on {}", page.name()), &drawing);
        }
    }
}

#[test]
fn every_dimension_of_a_part_is_shown_exactly_once() {
    each_part(|name, _, part, drawing| {
        let mut shown: Vec<&str> = drawing.shown.iter().map(String::as_str).collect();
        let mut needed: Vec<String> =
            part.features.iter().flat_map(|f| f.dimensions.iter().map(|d| format!("{}.{}", f.id, d.name))).collect();
        shown.sort_unstable();
        needed.sort_unstable();
        assert_eq!(shown, needed, "{name}");
    });
}

#[test]
fn lengths_along_each_axis_tie_all_planes_together_without_a_loop() {
    use stillwheel_physics::making::parts::Measure;
    // A chain that closes says a length twice over; a plane that hangs on none can't be made. So the lengths along an axis form trees; a tree
    // of two planes that is apart from the rest is symmetrical about the middle, which the squares and flats are.
    each_part(|name, _, part, _| {
        let mut by_axis: BTreeMap<_, Vec<[i64; 2]>> = BTreeMap::new();
        for d in part.features.iter().flat_map(|f| &f.dimensions) {
            if let Measure::Length { axis, from_mm, to_mm } = d.measure {
                by_axis.entry(axis).or_default().push([from_mm, to_mm].map(|v| (v * 1e6).round() as i64));
            }
        }
        for (axis, edges) in by_axis {
            let mut group: BTreeMap<i64, i64> = edges.iter().flatten().map(|v| (*v, *v)).collect();
            for [a, b] in edges {
                let (ga, gb) = (group[&a], group[&b]);
                assert_ne!(ga, gb, "{name}: a length along {axis:?} is told twice over, {a} to {b}");
                group.values_mut().filter(|g| **g == gb).for_each(|g| *g = ga);
            }
            let mut trees: BTreeMap<i64, Vec<i64>> = BTreeMap::new();
            for (plane, g) in &group {
                trees.entry(*g).or_default().push(*plane);
            }
            let apart: Vec<_> = trees.values().filter(|t| t.iter().sum::<i64>() != 0).collect();
            assert!(apart.len() <= 1, "{name}: planes along {axis:?} that no length joins: {trees:?}");
        }
    });
}

#[test]
fn no_text_lies_on_another_text_or_on_a_line() {
    let mut wrong = Vec::new();
    each_drawing(|name, drawing| {
        let texts: Vec<_> = drawing.entities.iter().filter(|e| matches!(e, Entity::Text { .. })).collect();
        for (k, t) in texts.iter().enumerate() {
            let b = t.extent();
            for other in &texts[k + 1..] {
                if b.meets(&other.extent()) {
                    wrong.push(format!("{name}: {t:?} lies on {other:?}"));
                }
            }
            for e in &drawing.entities {
                let hit = match e {
                    Entity::Line { a, b: to, .. } => b.crossed_by(*a, *to),
                    Entity::Circle { centre, radius, kind } if *kind != LineKind::Symbol => {
                        let far = [b.low, b.high, [b.low[0], b.high[1]], [b.high[0], b.low[1]]];
                        let r = |p: &Point| (p[0] - centre[0]).hypot(p[1] - centre[1]);
                        let near = (0..2).map(|k| (b.low[k] - centre[k]).max(centre[k] - b.high[k]).max(0.0).powi(2)).sum::<f64>().sqrt();
                        near < *radius && far.iter().any(|p| r(p) > *radius)
                    }
                    Entity::Arrow { .. } => e.extent().meets(&b),
                    _ => false,
                };
                if hit {
                    wrong.push(format!("{name}: {t:?} is struck by {e:?}"));
                }
            }
        }
    });
    assert!(wrong.is_empty(), "{} of them: {:#?}", wrong.len(), &wrong[..wrong.len().min(20)]);
}

#[test]
fn texts_as_an_outside_reader_lays_them_out_stay_in_the_frame_and_off_each_other() {
    each_drawing(|name, drawing| {
        let tree = common::read(&drawing.svg("").unwrap());
        let k = 25.4 / 96.0; // CSS pixels
        let [w, h] = drawing.page.size_mm();
        let boxes = common::texts(&tree);
        for (words, b) in &boxes {
            let edge = [f64::from(b.left()) * k, w - f64::from(b.right()) * k, f64::from(b.top()) * k, h - f64::from(b.bottom()) * k];
            assert!(edge[0] > 20.0 && edge[1..].iter().all(|v| *v > 10.0), "{name}: {words} leaves the frame: {edge:?}");
            assert!(!words.ends_with("..."), "{name}: {words} is cut off");
        }
        for (k, (words, a)) in boxes.iter().enumerate() {
            for (other, b) in &boxes[k + 1..] {
                // usvg's boxes have the font's full ascent: compare what is inked of capitals, the middle half of the height.
                let trim = |r: &usvg::Rect| {
                    let (dx, dy) = if r.height() > r.width() { (0.25 * r.width(), 0.0) } else { (0.0, 0.25 * r.height()) };
                    [r.left() + dx, r.right() - dx, r.top() + dy, r.bottom() - dy]
                };
                let (p, q) = (trim(a), trim(b));
                assert!(!(p[0] < q[1] && q[0] < p[1] && p[2] < q[3] && q[2] < p[3]), "{name}: {words} on {other}");
            }
        }
    });
}

#[test]
fn no_dimension_line_runs_along_another() {
    each_drawing(|name, drawing| {
        let lines: Vec<[Point; 2]> = drawing
            .entities
            .iter()
            .filter_map(|e| match e {
                Entity::Line { a, b, kind: LineKind::Dimension } => Some([*a, *b]),
                _ => None,
            })
            .collect();
        for (k, p) in lines.iter().enumerate() {
            for q in &lines[k + 1..] {
                for axis in 0..2 {
                    let other = 1 - axis;
                    let flat = |l: &[Point; 2]| (l[0][other] - l[1][other]).abs() < 1e-6;
                    if flat(p) && flat(q) && (p[0][other] - q[0][other]).abs() < 0.4 {
                        let span = |l: &[Point; 2]| [l[0][axis].min(l[1][axis]), l[0][axis].max(l[1][axis])];
                        let (s, t) = (span(p), span(q));
                        let shared = s[1].min(t[1]) - s[0].max(t[0]);
                        assert!(shared < 0.2, "{name}: {p:?} runs along {q:?}");
                    }
                }
            }
        }
    });
}

/// A reader of DXF that shares nothing with the writer: pairs of lines, entities as maps of codes.
fn read_dxf(text: &str) -> Vec<(String, BTreeMap<i32, String>)> {
    let lines: Vec<&str> = text.lines().collect();
    let mut entities: Vec<(String, BTreeMap<i32, String>)> = Vec::new();
    let mut section = String::new();
    for pair in lines.chunks_exact(2) {
        let code: i32 = pair[0].trim().parse().expect("a group code");
        match (code, pair[1]) {
            (0, name) => {
                entities.push((name.to_owned(), BTreeMap::new()));
                if name == "ENDSEC" {
                    section.clear();
                }
            }
            (2, name) if entities.last().is_some_and(|e| e.0 == "SECTION") => name.clone_into(&mut section),
            _ => {}
        }
        if section == "ENTITIES"
            && code != 0
            && let Some(last) = entities.last_mut()
        {
            last.1.insert(code, pair[1].to_owned());
        }
    }
    assert_eq!(entities.last().map(|e| e.0.as_str()), Some("EOF"));
    entities.retain(|e| ["LINE", "CIRCLE", "ARC", "TEXT", "SOLID"].contains(&e.0.as_str()));
    entities
}

/// Circles that the views of a plate or collar must hold, in the part's mm from the datum corner: centre and radius.
fn circles_from_above(part: &Part) -> Vec<[f64; 3]> {
    let mut out = Vec::new();
    for h in part.features.iter().filter_map(|f| f.hole.as_ref()) {
        if h.face.word() == "top" {
            for p in &h.places {
                out.push([p.from_corner_mm[0], p.from_corner_mm[1], h.drill_mm / 2.0]);
            }
        }
    }
    out
}

#[test]
fn every_circle_and_length_in_the_dxf_is_that_of_the_part() {
    for (stand, design) in stands::several() {
        let all = parts(&design).unwrap();
        for part in all.iter().filter(|p| matches!(p.kind, PartKind::Plate | PartKind::Collar | PartKind::Pillar)) {
            for page in [Page::A4, Page::A3] {
                let drawing = draw_part(&design, part, &options(page, Projection::ThirdAngle)).unwrap();
                let text = drawing.dxf().unwrap();
                assert!(text.is_ascii() && text.contains("AC1009"));
                let entities = read_dxf(&text);
                let number = |e: &BTreeMap<i32, String>, code: i32| e[&code].parse::<f64>().expect("a number");
                let circles: Vec<[f64; 3]> =
                    entities.iter().filter(|e| e.0 == "CIRCLE").map(|e| [10, 20, 40].map(|c| number(&e.1, c))).collect();
                for want in circles_from_above(part) {
                    assert!(
                        circles.iter().any(|c| (0..3).all(|k| (c[k] - want[k]).abs() < 1e-4)),
                        "{stand}: {} lacks the circle {want:?}: {circles:?}",
                        part.key
                    );
                }
                let (w, l) = if part.kind == PartKind::Plate {
                    (design.sizes.plate_mm[0], design.sizes.plate_mm[1])
                } else {
                    (design.section_mm, design.section_mm)
                };
                for [a, b] in [[[0.0, 0.0], [w, 0.0]], [[w, 0.0], [w, l]]] {
                    let found = entities.iter().filter(|e| e.0 == "LINE" && e.1[&8] == "OUTLINE").any(|e| {
                        let p = [10, 20, 11, 21].map(|c| number(&e.1, c));
                        [a[0], a[1], b[0], b[1]].iter().zip(p).all(|(x, y)| (x - y).abs() < 1e-4)
                    });
                    assert!(found, "{stand}: {} lacks the edge {a:?} {b:?}", part.key);
                }
            }
        }
    }
}

#[test]
fn ezdxf_reads_every_dxf_without_an_error_and_finds_the_same_circles() {
    let known = Command::new("python3").args(["-c", "import ezdxf"]).output();
    if !known.is_ok_and(|o| o.status.success()) {
        println!("skipped: python3 with ezdxf is not installed (pip install ezdxf)");
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let mut files = Vec::new();
    let mut expected = Vec::new();
    for (stand, design) in stands::several() {
        let all = parts(&design).unwrap();
        for part in all.iter().filter(|p| p.is_made()) {
            let path = folder.path().join(format!("{}-{}.dxf", files.len(), part.key));
            std::fs::write(&path, draw_part(&design, part, &DrawOptions::default()).unwrap().dxf().unwrap()).unwrap();
            files.push(path);
            expected
                .push((format!("{stand}: {}", part.key), if part.kind == PartKind::Plate { circles_from_above(part) } else { Vec::new() }));
        }
        let path = folder.path().join(format!("{}-assembly.dxf", files.len()));
        std::fs::write(&path, draw_assembly(&design, &all, &options(Page::A3, Projection::default())).unwrap().dxf().unwrap()).unwrap();
        files.push(path);
        expected.push((format!("{stand}: assembly"), Vec::new()));
    }
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/../../reference/scripts/dxf_audit.py");
    let out = Command::new("python3").arg(script).args(&files).output().unwrap();
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let told: Vec<serde_json::Value> = String::from_utf8(out.stdout).unwrap().lines().map(|l| serde_json::from_str(l).unwrap()).collect();
    assert_eq!(told.len(), files.len());
    let (mut troubles, mut worst) = (0, 0.0f64);
    for (file, (name, circles)) in told.iter().zip(&expected) {
        assert_eq!((file["version"].as_str(), file["units"].as_u64()), (Some("AC1009"), Some(4)), "{name}");
        troubles += file["errors"].as_u64().unwrap() + file["repairs"].as_u64().unwrap();
        let found: Vec<Vec<f64>> = serde_json::from_value(file["circles"].clone()).unwrap();
        for want in circles {
            let off = |c: &Vec<f64>| (0..3).map(|k| (c[k] - want[k]).abs()).fold(0.0, f64::max);
            worst = worst.max(found.iter().map(off).fold(f64::INFINITY, f64::min));
        }
    }
    let source = format!("ezdxf {}, reference/scripts/dxf_audit.py", told[0]["library"].as_str().unwrap());
    let outside = check::Kind::OutsideLibrary;
    check::row(
        "DXF-01",
        "errors and repairs of all part drawings",
        outside,
        &source,
        0.0,
        troubles as f64,
        check::Tolerance::Absolute(0.0),
    );
    check::row(
        "DXF-02",
        "worst error of a hole's place or radius in the plates, mm",
        outside,
        &source,
        0.0,
        worst,
        check::Tolerance::Absolute(1e-4),
    );
}

fn poppler(tool: &str, arguments: &[&str]) -> Vec<u8> {
    let out = Command::new(tool).args(arguments).output();
    let out = out.unwrap_or_else(|e| panic!("{tool} could not be run ({e}): install poppler-utils"));
    assert!(out.status.success(), "{tool} {arguments:?}: {}", String::from_utf8_lossy(&out.stderr));
    out.stdout
}

/// Middles of the dark runs along a row of pixels of a page at 600 dpi, mm from the left.
fn dark_runs(path: &str, from: f64, to: f64, y: f64) -> Vec<f64> {
    let per_mm = 600.0 / 25.4;
    let width = ((to - from) * per_mm).round();
    let pgm = poppler(
        "pdftoppm",
        &[
            "-r",
            "600",
            "-gray",
            "-x",
            &format!("{}", (from * per_mm).round()),
            "-y",
            &format!("{}", (y * per_mm).round()),
            "-W",
            &format!("{width}"),
            "-H",
            "1",
            path,
        ],
    );
    let row = &pgm[pgm.len() - width as usize..];
    let mut runs = Vec::new();
    let mut start = None;
    for (k, v) in row.iter().chain([&255]).enumerate() {
        match (*v < 128, start) {
            (true, None) => start = Some(k),
            (false, Some(s)) => {
                runs.push(((from * per_mm).round() + (s + k) as f64 / 2.0) / per_mm);
                start = None;
            }
            _ => {}
        }
    }
    runs
}

#[test]
fn paper_has_its_size_and_the_plate_its_length_to_a_tenth_of_a_millimetre() {
    let folder = tempfile::tempdir().unwrap();
    let (_, design) = stands::several().remove(0);
    let all = parts(&design).unwrap();
    let plate = all.iter().find(|p| p.kind == PartKind::Plate).unwrap();
    // Sources: ISO 216; 8.5 × 11 in.
    for (page, w, h) in [(Page::A4, 210.0, 297.0), (Page::Letter, 215.9, 279.4), (Page::A3, 297.0, 420.0)] {
        let drawing = draw_part(&design, plate, &options(page, Projection::FirstAngle)).unwrap();
        let path = folder.path().join("plate.pdf");
        std::fs::write(&path, to_pdf(&drawing.svg("").unwrap(), page).unwrap()).unwrap();
        let path = path.to_str().unwrap();
        let info = String::from_utf8(poppler("pdfinfo", &[path])).unwrap();
        let line = info.lines().find_map(|l| l.strip_prefix("Page size:")).unwrap();
        let mm: Vec<f64> = line.split_whitespace().filter_map(|n| n.parse::<f64>().ok()).take(2).map(|pt| pt * 25.4 / 72.0).collect();
        assert!((mm[0] - w).abs() < 0.1 && (mm[1] - h).abs() < 0.1, "{page:?}: {mm:?}");

        // A third of the way up the plate, between holes, its two long edges' ends: 320 mm at the scale that the drawing names.
        let y = h - (drawing.origin[1] + 0.47 * 180.0 * drawing.scale);
        let runs = dark_runs(path, drawing.origin[0] - 2.0, drawing.origin[0] + 320.0 * drawing.scale + 2.0, y);
        let (first, last) = (runs.first().unwrap(), runs.last().unwrap());
        let what = format!("length of the demo's plate on {}, mm", page.name());
        let source = "320 mm of the stand sheet at the drawing's scale, the PDF rendered by poppler at 600 dpi";
        check::row(
            "PDF-PARTS",
            &what,
            check::Kind::OutsideLibrary,
            source,
            320.0 * drawing.scale,
            last - first,
            check::Tolerance::Absolute(0.1),
        );

        let text = String::from_utf8(poppler("pdftotext", &["-layout", path, "-"])).unwrap();
        for words in ["base plate", "Birch", "M10x1-6H through", "Ø6.6 through", "EN-GJL-250", "0.02", "320", "ISO 2768-m"] {
            assert!(text.contains(words), "{words} is not in\n{text}");
        }
    }
}

#[test]
fn a_bought_part_and_a_date_too_long_are_faults() {
    let (_, design) = stands::several().remove(0);
    let all = parts(&design).unwrap();
    let ring = all.iter().find(|p| p.key == "o-ring").unwrap();
    assert_eq!(draw_part(&design, ring, &DrawOptions::default()).unwrap_err().field, "part");
    let long = DrawOptions { date: "x".repeat(21), ..DrawOptions::default() };
    assert_eq!(draw_part(&design, &all[0], &long).unwrap_err().field, "date");
}

#[test]
fn the_same_part_gives_the_same_bytes() {
    each_part(|name, design, part, drawing| {
        let again = draw_part(design, part, &options(drawing.page, Projection::FirstAngle)).unwrap();
        if again.entities == drawing.entities {
            assert_eq!(again.svg("a").unwrap(), drawing.svg("a").unwrap(), "{name}");
            assert_eq!(again.dxf().unwrap(), drawing.dxf().unwrap(), "{name}");
        }
    });
}
