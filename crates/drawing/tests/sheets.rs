//! Sheets and pictures of a rotor's life: one page whatever comes in, nothing off the paper, true size.

mod common;

use common::{read, sound, texts};
use proptest::prelude::*;
use std::process::Command;
use stillwheel_drawing::{
    Certificate, Facts, LABEL_MM, Label, Page, TimelinePoint, WheelPicture, certificate, label, qr_code, qr_in_letters, timeline, to_pdf,
    wander, wheel,
};

fn poppler(tool: &str, arguments: &[&str]) -> Vec<u8> {
    let out = Command::new(tool).args(arguments).output();
    let out = out.unwrap_or_else(|e| panic!("{tool} could not be run ({e}): install the package poppler-utils"));
    assert!(out.status.success(), "{tool} {arguments:?}: {}", String::from_utf8_lossy(&out.stderr));
    out.stdout
}

fn filled(acts: usize, weights: usize, long: usize) -> Certificate {
    let row = |a: &str, b: String| (a.to_owned(), b);
    let wordy = |text: &str| text.repeat(long.max(1));
    Certificate {
        rotor: wordy("46 grit 200 mm on adapter A "),
        date: "25 Nov 2026, 14:05".into(),
        number: "1k742sg003tckr28".into(),
        proven: true,
        result: "✓ Residual unbalance within the allowance, 97 % sure".into(),
        notice: (long > 1).then(|| "Practice on the virtual stand: no real wheel was balanced.".into()),
        facts: vec![
            Facts {
                heading: "Result".into(),
                rows: vec![
                    row("Residual", "4.1 ± 3.2 g·mm at 211° (95 %)".into()),
                    row("Allowance", wordy("8.01 g·mm: grade 1 mm/s at 2860 r/min, ")),
                ],
            },
            Facts { heading: "Rotor".into(), rows: vec![row("Wheel", "200 mm × 20 mm × 51 mm".into()), row("Mass", "2.4 kg".into())] },
            Facts { heading: "Stand".into(), rows: vec![row("Qualification", wordy("Drift 0.4 ± 0.2 g·mm, floor 0.8 g·mm. "))] },
        ],
        picture: wheel(&WheelPicture { legend: false, ..WheelPicture::default() }).unwrap(),
        weight_heads: ["Where", "mass", "radius", "at"].map(str::to_owned),
        weights: (1..=weights).map(|n| [format!("weight {n}"), "16 g".into(), "38 mm".into(), format!("{}°", n * 7)]).collect(),
        acts: (1..=acts).map(|n| format!("{} swings from 45° in 21.3 s, look {n}", wordy("2 "))).collect(),
        remark: wordy("After truing and dressing. "),
        small_print: wordy("Angles: degrees, counter-clockwise from the zero mark, operator’s side. "),
        operator: "Wren".into(),
    }
}

#[test]
fn a_certificate_is_one_page_with_all_that_it_must_say_however_much_there_is() {
    let folder = tempfile::tempdir().unwrap();
    for (page, acts, weights, long) in [
        (Page::A4, 5, 3, 1),
        (Page::Letter, 5, 3, 1),
        (Page::A4, 60, 24, 3),
        (Page::Letter, 300, 60, 12),
        (Page::A4, 0, 0, 1),
        (Page::Letter, 24, 8, 25),
    ] {
        let pdf = to_pdf(&certificate(&filled(acts, weights, long), page).unwrap(), page).unwrap();
        let path = folder.path().join("sheet.pdf");
        std::fs::write(&path, pdf).unwrap();
        let path = path.to_str().unwrap();
        let info = String::from_utf8(poppler("pdfinfo", &[path])).unwrap();
        assert!(info.lines().any(|l| l.starts_with("Pages:") && l.ends_with(" 1")), "{info}");
        let said = String::from_utf8(poppler("pdftotext", &["-layout", path, "-"])).unwrap();
        for words in [
            "Balance certificate",
            "25 Nov 2026",
            "1k742sg003tckr28",
            "within the allowance",
            "Residual",
            "4.1 ± 3.2",
            "Looks and moves",
            "Balanced by",
            "Wren",
            "Date, signature",
        ] {
            assert!(said.contains(words), "{acts} acts, {weights} weights, {long}: {words:?} is missing in\n{said}");
        }
        if acts > 0 {
            // The last looks prove the result: they are never among those left out.
            assert!(said.contains(&format!("{acts}. ")) && said.contains(&format!("look {acts}")), "{said}");
        }
        if acts == 300 {
            assert!(said.contains("more between"), "{said}");
        }
    }
}

/// Nothing runs off the paper or into its neighbour's column: the boxes of the words as an outside reader lays them out.
#[test]
fn on_a_certificate_no_text_leaves_the_margins_or_crosses_the_picture() {
    for (page, acts, weights, long) in [(Page::A4, 5, 3, 1), (Page::Letter, 300, 60, 12), (Page::A4, 40, 12, 5)] {
        let svg = certificate(&filled(acts, weights, long), page).unwrap();
        let tree = read(&svg);
        let [w, h] = page.size_mm();
        let unit = f64::from(tree.size().width()) / w;
        let picture_left = (w - 15.0 - 72.0) * unit;
        let mut boxes = Vec::new();
        for (said, b) in texts(&tree) {
            let (left, right, top, bottom) = (f64::from(b.left()), f64::from(b.right()), f64::from(b.top()), f64::from(b.bottom()));
            assert!(left >= 14.0 * unit && right <= (w - 14.0) * unit, "{said:?}: {:.1} to {:.1} mm", left / unit, right / unit);
            assert!(top >= 9.0 * unit && bottom <= (h - 9.0) * unit, "{said:?}: {:.1} to {:.1} mm", top / unit, bottom / unit);
            boxes.push((said, left, right, top, bottom));
        }
        for (i, a) in boxes.iter().enumerate() {
            for b in &boxes[i + 1..] {
                let wide = a.2.min(b.2) - a.1.max(b.1);
                let high = a.4.min(b.4) - a.3.max(b.3);
                // Inside the picture of the wheel labels may touch; boxes of letters reach a little beyond their ink.
                let in_picture = a.1 >= picture_left && b.1 >= picture_left;
                assert!(
                    in_picture || wide < 0.4 * unit || high < 0.8 * unit,
                    "{:?} and {:?} overlap by {:.1} × {:.1} mm",
                    a.0,
                    b.0,
                    wide / unit,
                    high / unit
                );
            }
        }
    }
}

#[test]
fn a_label_is_true_to_size_and_its_code_has_the_finder_marks_where_the_standard_puts_them() {
    let said = Label {
        name: "46 grit 200 mm on adapter A".into(),
        lines: vec!["200 mm × 20 mm × 51 mm".into(), "2.4 kg".into(), "No. 1k742sg003tckr28".into()],
        leads_to: "http://192.168.1.20:8417/rotors/1k742sg003tckr28".into(),
    };
    let folder = tempfile::tempdir().unwrap();
    for page in [Page::A4, Page::Letter] {
        let path = folder.path().join("label.pdf");
        std::fs::write(&path, to_pdf(&label(&said, page).unwrap(), page).unwrap()).unwrap();
        let path = path.to_str().unwrap();
        let words = String::from_utf8(poppler("pdftotext", &["-layout", path, "-"])).unwrap();
        assert!(words.contains("46 grit") && words.contains("50 mm") && words.contains("1k742sg003tckr28"), "{words}");
        // 600 dots an inch, black or white.
        let px = |mm: f64| (mm * 600.0 / 25.4).round();
        let row = |from: f64, to: f64, y: f64| -> Vec<bool> {
            let (x, y, wide) = (px(from).to_string(), px(y).to_string(), px(to) - px(from));
            let pgm = poppler("pdftoppm", &["-r", "600", "-gray", "-x", &x, "-y", &y, "-W", &wide.to_string(), "-H", "1", path]);
            pgm[pgm.len() - wide as usize..].iter().map(|v| *v < 128).collect()
        };
        // The bar's end marks stand 50 mm apart.
        let bar = row(15.0, 75.0, 23.6);
        let marks: Vec<usize> = (1..bar.len()).filter(|i| bar[*i] && !bar[i - 1]).collect();
        assert_eq!(marks.len(), 2, "{marks:?}");
        assert!(((marks[1] - marks[0]) as f64 * 25.4 / 600.0 - 50.0).abs() < 0.1);
        // ISO/IEC 18004: a finder mark is 1:1:3:1:1 dark, light, dark, light, dark; two of them on the code's top.
        let squares = f64::from(read(&qr_code(&said.leads_to, "").unwrap()).size().width());
        let unit = 28.0 / squares;
        let middle = 35.0 + 2.0 + (4.0 + 3.5) * unit;
        let line = row(20.0 + 2.0, 20.0 + 2.0 + 28.0, middle);
        let mut runs: Vec<(bool, f64)> = Vec::new();
        for dark in line {
            match runs.last_mut() {
                Some(run) if run.0 == dark => run.1 += 25.4 / 600.0 / unit,
                _ => runs.push((dark, 25.4 / 600.0 / unit)),
            }
        }
        for mark in [&runs[1..6], &runs[runs.len() - 6..runs.len() - 1]] {
            for (run, expected) in mark.iter().zip([1.0, 1.0, 3.0, 1.0, 1.0]) {
                assert!((run.1 - expected).abs() < 0.2, "{mark:?}");
            }
        }
        assert!((runs[0].1 - 4.0).abs() < 0.2, "four squares of white: {}", runs[0].1);
    }
    let [wide, high] = LABEL_MM;
    assert!(label(&said, Page::A4).unwrap().contains(&format!("width=\"{wide}\" height=\"{high}\"")));
    for bad in [
        Label { name: String::new(), ..said.clone() },
        Label { leads_to: "x".repeat(301), ..said.clone() },
        Label { lines: vec![String::new(); 5], ..said },
    ] {
        assert!(label(&bad, Page::A4).is_err());
    }
}

#[test]
fn a_code_in_letters_has_the_same_squares_as_the_picture() {
    let text = "http://192.168.1.20:8417/pair";
    let lines: Vec<Vec<char>> = qr_in_letters(text).unwrap().lines().map(|l| l.chars().collect()).collect();
    let side = f64::from(read(&qr_code(text, "").unwrap()).size().width()) as usize;
    assert_eq!((lines[0].len(), lines.len()), (side, side.div_ceil(2)));
    // The middle of the first finder mark is dark (blank on a dark ground), the corner is light.
    assert_eq!((lines[3][7], lines[0][0]), (' ', '█'));
    assert!(qr_in_letters(&"x".repeat(5000)).is_err());
}

fn point(x: f64, y: f64, sd: f64, left: f64, diameter: f64) -> TimelinePoint {
    TimelinePoint {
        unbalance_g_mm: [x, y],
        covariance_g2_mm2: [[sd * sd, 0.0], [0.0, sd * sd / 4.0]],
        left_g_mm: left,
        allowance_g_mm: 8.0,
        diameter_mm: diameter,
        proven: left < 8.0,
        begins: false,
    }
}

#[test]
fn the_zero_mark_is_on_top_and_angles_count_counter_clockwise() {
    let points = [point(100.0, 0.0, 0.1, 5.0, 200.0), point(0.0, 100.0, 0.1, 5.0, 199.0)];
    let svg = wander(&points, "w-", "Way").unwrap();
    let doc = usvg::roxmltree::Document::parse(&svg).unwrap();
    let at: Vec<[f64; 2]> = doc
        .descendants()
        .filter(|n| n.attribute("data-part") == Some("sitting"))
        .map(|n| [n.attribute("cx").unwrap().parse().unwrap(), n.attribute("cy").unwrap().parse().unwrap()])
        .collect();
    // 0° straight above the middle, 90° to its left.
    assert!((at[0][0] - 200.0).abs() < 0.01 && at[0][1] < 150.0, "{at:?}");
    assert!((at[1][1] - 200.0).abs() < 0.01 && at[1][0] < 150.0, "{at:?}");
}

/// Boxes of what is filled faintly.
fn ellipse(group: &usvg::Group, out: &mut Vec<usvg::Rect>) {
    for node in group.children() {
        match node {
            usvg::Node::Group(g) => ellipse(g, out),
            usvg::Node::Path(p) if p.fill().is_some_and(|f| f.opacity().get() < 0.5) => out.push(p.abs_bounding_box()),
            _ => {}
        }
    }
}

#[test]
fn a_region_lies_along_its_long_axis() {
    // Long along the zero mark, so upright on the screen; then long along 90°.
    for (c, upright) in [([[400.0, 0.0], [0.0, 4.0]], true), ([[4.0, 0.0], [0.0, 400.0]], false)] {
        let point = TimelinePoint { covariance_g2_mm2: c, ..point(0.0, 0.0, 1.0, 5.0, 200.0) };
        let tree = read(&wander(&[point], "w-", "Way").unwrap());
        let mut found = Vec::new();
        ellipse(tree.root(), &mut found);
        let b = found[0];
        assert_eq!(b.height() > 5.0 * b.width(), upright, "{b:?}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    #[test]
    fn pictures_of_any_life_are_sound(
        points in prop::collection::vec((-1e8..1e8_f64, -1e8..1e8_f64, 0.0..1e8_f64, 0.0..1e8_f64, 1.0..1e4_f64), 1..40)
    ) {
        let points: Vec<TimelinePoint> = points.into_iter().map(|(x, y, sd, left, d)| point(x, y, sd, left, d)).collect();
        sound(&timeline(&points, "a-", "Life").unwrap())?;
        sound(&wander(&points, "b-", "Way").unwrap())?;
    }

    #[test]
    fn what_is_no_number_is_a_fault(bad in prop::sample::select(vec![f64::NAN, f64::INFINITY, 1e30, -1e30]), which in 0_usize..5) {
        let mut p = point(1.0, 2.0, 1.0, 5.0, 200.0);
        match which {
            0 => p.unbalance_g_mm[0] = bad,
            1 => p.covariance_g2_mm2[1][1] = bad,
            2 => p.left_g_mm = bad,
            3 => p.allowance_g_mm = bad,
            _ => p.diameter_mm = bad,
        }
        let points = [p];
        prop_assert!(timeline(&points, "", "x").is_err() && wander(&points, "", "x").is_err());
    }
}
