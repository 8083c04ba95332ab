//! What the tests share: an outside reader of SVG, and samples.
#![allow(dead_code)]

use proptest::prelude::*;
use std::sync::{Arc, OnceLock};
use stillwheel_drawing::{LogPlot, LogPoint, PictureWeight, RingTemplate, Scale, TemplateWeight, with_plain_colours};
use stillwheel_physics::quantity::{Angle, RotorAngle};

/// The picture as usvg sees it: every transform applied, text laid out in the embedded font.
pub(crate) fn read(svg: &str) -> usvg::Tree {
    static FONTS: OnceLock<Arc<usvg::fontdb::Database>> = OnceLock::new();
    let fonts = FONTS.get_or_init(|| {
        let mut fonts = usvg::fontdb::Database::new();
        fonts.load_font_file(concat!(env!("CARGO_MANIFEST_DIR"), "/fonts/DejaVuSans.ttf")).unwrap();
        Arc::new(fonts)
    });
    let options = usvg::Options { fontdb: Arc::clone(fonts), font_family: "DejaVu Sans".to_owned(), ..usvg::Options::default() };
    usvg::Tree::from_str(&with_plain_colours(svg), &options).expect("a well-formed SVG")
}

/// Middle of the element of that id on the canvas.
pub(crate) fn middle(tree: &usvg::Tree, id: &str) -> [f64; 2] {
    let b = tree.node_by_id(id).unwrap_or_else(|| panic!("no element {id}")).abs_bounding_box();
    [f64::from(b.left() + b.right()) / 2.0, f64::from(b.top() + b.bottom()) / 2.0]
}

/// Boxes of all texts, with their words.
pub(crate) fn texts(tree: &usvg::Tree) -> Vec<(String, usvg::Rect)> {
    fn walk(group: &usvg::Group, out: &mut Vec<(String, usvg::Rect)>) {
        for node in group.children() {
            match node {
                usvg::Node::Group(g) => walk(g, out),
                usvg::Node::Text(t) => {
                    let words = t.chunks().iter().map(usvg::TextChunk::text).collect::<String>();
                    out.push((words, t.abs_bounding_box()));
                }
                _ => {}
            }
        }
    }
    let mut out = Vec::new();
    walk(tree.root(), &mut out);
    out
}

pub(crate) fn deg(d: f64) -> RotorAngle {
    RotorAngle::from_deg(d)
}

pub(crate) fn weight(at: f64, arc: f64, by: f64) -> PictureWeight {
    PictureWeight { at: deg(at), arc: Angle::from_deg(arc), move_by: (by != 0.0).then(|| Angle::from_deg(by)) }
}

pub(crate) fn template() -> RingTemplate {
    RingTemplate {
        rotor_name: "Wheel 7 & <spare>".to_owned(),
        date: "2026-11-25".to_owned(),
        radius_mm: 38.0,
        inner_edge_mm: Some(34.0),
        outer_edge_mm: Some(42.0),
        scale: Scale::CounterClockwise,
        graduation_deg: 1.0,
        weights: vec![
            TemplateWeight { now: Some(deg(90.0)), target: Some(deg(180.0)), arc: Angle::from_deg(20.0) },
            TemplateWeight { now: Some(deg(210.0)), target: None, arc: Angle::from_deg(20.0) },
        ],
    }
}

pub(crate) fn log(points: usize) -> LogPlot {
    let point = |k: usize| {
        let t = k as f64 * 0.04;
        let fitted = 40.0 * (0.8 * t).cos();
        let dropped = k % 50 == 7;
        LogPoint { t_s: t, measured_deg: fitted + 0.3 * (17.0 * t).sin() + if dropped { 20.0 } else { 0.0 }, fitted_deg: fitted, dropped }
    };
    LogPlot { title: "Swing log".to_owned(), points: (0..points).map(point).collect(), ..LogPlot::default() }
}

/// Well formed for two outside readers, its numbers numbers, its ids its own, its words on the canvas.
pub(crate) fn sound(svg: &str) -> Result<(), TestCaseError> {
    let doc = usvg::roxmltree::Document::parse(svg);
    prop_assert!(doc.is_ok(), "{:?}", doc.err());
    let doc = doc.unwrap();
    let root = doc.root_element();
    prop_assert_eq!(root.attribute("role"), Some("img"));
    let mut ids = std::collections::HashSet::new();
    for node in doc.descendants() {
        if let Some(id) = node.attribute("id") {
            prop_assert!(ids.insert(id.to_owned()), "id {} twice", id);
        }
        for a in node.attributes().filter(|a| a.name() != "id" && !a.name().starts_with("aria")) {
            let v = a.value();
            prop_assert!(!v.contains("NaN") && !v.contains("inf"), "{}={}", a.name(), v);
        }
    }
    for named in root.attribute("aria-labelledby").unwrap().split(' ') {
        prop_assert!(ids.contains(named), "{} is named but missing", named);
    }
    let tree = read(svg);
    let (w, h) = (tree.size().width(), tree.size().height());
    for (words, b) in texts(&tree) {
        prop_assert!(
            b.left() >= 0.0 && b.top() >= 0.0 && b.right() <= w && b.bottom() <= h,
            "{:?} is clipped: {:?} on {} × {}",
            words,
            b,
            w,
            h
        );
    }
    Ok(())
}
