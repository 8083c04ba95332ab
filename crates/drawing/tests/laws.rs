//! Laws that hold for every input: pictures are well formed, hold no number that is none, keep their words inside the
//! page and large enough to read, and bad input is a fault, never a panic.

mod common;

use common::{deg, log, read, sound, template, texts};
use proptest::prelude::*;
use stillwheel_drawing::{
    ForbiddenArc, LogPlot, LogPoint, Page, PictureHole, PictureUnbalance, PictureWeight, RegionPlot, RingTemplate, Scale, TemplateWeight,
    WheelPicture, log_plot, region, ring_template, to_pdf, wheel,
};
use stillwheel_physics::quantity::{Angle, RoomAngle};

fn scales() -> impl Strategy<Value = Scale> {
    prop_oneof![Just(Scale::CounterClockwise), Just(Scale::Clockwise), Just(Scale::ClockHours), (3u16..=120).prop_map(Scale::Holes)]
}

fn outlines(size: f64) -> impl Strategy<Value = Vec<Vec<[f64; 2]>>> {
    prop::collection::vec(prop::collection::vec([-size..size, -size..size], 0..9), 0..4)
}

fn screws() -> impl Strategy<Value = Option<String>> {
    prop::option::of(".{0,8}")
}

prop_compose! {
    fn wheels()(
        title in ".{0,20}", zero in -720.0..720.0f64, scale in scales(), graduation_deg in 0.1..90.0f64,
        weights in prop::collection::vec((-720.0..720.0f64, 0.0..180.0f64, prop::option::of(-360.0..360.0f64)), 0..30),
        holes in prop::collection::vec((-720.0..720.0f64, screws(), prop::option::of(screws())), 0..49),
        forbidden in prop::collection::vec((-720.0..720.0f64, -720.0..720.0f64), 0..5),
        heavy in prop::option::of(-720.0..720.0f64),
        unbalance in prop::option::of((outlines(5000.0), ".{0,8}", prop::option::of(1e-3..1e5f64), prop::option::of(1e-3..1e5f64))),
        flags in [any::<bool>(), any::<bool>()],
    ) -> WheelPicture {
        WheelPicture {
            title, id_prefix: "p-".to_owned(), zero_mark: RoomAngle::from_deg(zero), scale, graduation_deg,
            weights: weights.into_iter()
                .map(|w| PictureWeight { at: deg(w.0), arc: Angle::from_deg(w.1), move_by: w.2.map(Angle::from_deg) }).collect(),
            holes: holes.into_iter().map(|h| PictureHole { at: deg(h.0), now: h.1, then: h.2 }).collect(),
            forbidden: forbidden.into_iter().map(|f| ForbiddenArc { from: deg(f.0), to: deg(f.1) }).collect(),
            heavy: heavy.map(deg),
            unbalance: unbalance.map(|u| PictureUnbalance { outlines_g_mm: u.0, holds: u.1, allowance_g_mm: u.2, outer_g_mm: u.3 }),
            bottom_pointer: flags[0], legend: flags[1],
        }
    }
}

prop_compose! {
    fn templates()(
        rotor_name in ".{0,100}", date in ".{0,40}", radius_mm in 10.0..70.0f64, inner in prop::option::of(0.5..1.0f64),
        outer in prop::option::of(0.0..8.0f64), scale in scales(), graduation_deg in 0.1..90.0f64,
        weights in prop::collection::vec(
            (prop::option::of(-720.0..720.0f64), prop::option::of(-720.0..720.0f64), 0.0..180.0f64), 0..=24),
    ) -> RingTemplate {
        RingTemplate {
            rotor_name, date, radius_mm, inner_edge_mm: inner.map(|k| k * radius_mm), outer_edge_mm: outer.map(|d| radius_mm + d),
            scale, graduation_deg,
            weights: weights.into_iter()
                .map(|w| TemplateWeight { now: w.0.map(deg), target: w.1.map(deg), arc: Angle::from_deg(w.2) }).collect(),
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(32) })]

    #[test]
    fn every_wheel_is_sound(p in wheels()) {
        sound(&wheel(&p).unwrap())?;
    }

    #[test]
    fn every_template_is_sound(t in templates(), page in prop_oneof![Just(Page::A3), Just(Page::Tabloid)]) {
        sound(&ring_template(&t, page).unwrap())?;
    }

    #[test]
    fn every_region_is_sound(
        title in ".{0,20}", shape in outlines(1.0), size in -3..7i32, mean_g_mm in prop::option::of([-1e4..1e4f64, -1e4..1e4]),
        allowance in 1e-3..1e6f64, floor_g_mm in prop::option::of(1e-3..1e5f64),
    ) {
        let outlines_g_mm = shape.into_iter().map(|o| o.into_iter().map(|v| v.map(|c| c * 10f64.powi(size))).collect()).collect();
        let plot = RegionPlot {
            title, outlines_g_mm, mean_g_mm, allowance_g_mm: Some(allowance), floor_g_mm, holds: "95 %".to_owned(), id_prefix: String::new(),
        };
        sound(&region(&plot).unwrap())?;
    }

    #[test]
    fn every_log_is_sound(
        title in ".{0,20}",
        samples in prop::collection::vec((0.0..3.0f64, -1e4..1e4f64, -1e4..1e4f64, any::<bool>()), 2..60),
        start in -2e9..2e9f64, size in -6..3i32,
    ) {
        let (mut t, k) = (start, 10f64.powi(size));
        let points = samples.into_iter().map(|s| { t += s.0; LogPoint { t_s: t, measured_deg: k * s.1, fitted_deg: k * s.2, dropped: s.3 } }).collect();
        sound(&log_plot(&LogPlot { title, points, ..LogPlot::default() }).unwrap())?;
    }

    /// Any bit pattern, NaN and infinities among them, in any field: a sound picture or a fault.
    #[test]
    fn no_number_whatever_makes_a_picture_unsound(v in prop::num::f64::ANY, field in 0..12usize) {
        let mut w = WheelPicture {
            weights: vec![common::weight(10.0, 20.0, 30.0)], heavy: Some(deg(3.0)),
            unbalance: Some(PictureUnbalance { outlines_g_mm: vec![vec![[1.0, 2.0], [3.0, 4.0], [5.0, 1.0]]], ..PictureUnbalance::default() }),
            ..WheelPicture::default()
        };
        let mut t = template();
        let mut l = log(5);
        match field {
            0 => w.zero_mark = RoomAngle::from_deg(v),
            1 => w.weights[0].at = deg(v),
            2 => w.weights[0].arc = Angle::from_deg(v),
            3 => w.weights[0].move_by = Some(Angle::from_deg(v)),
            4 => w.heavy = Some(deg(v)),
            5 => w.unbalance.as_mut().unwrap().outlines_g_mm[0][0][1] = v,
            6 => w.unbalance.as_mut().unwrap().allowance_g_mm = Some(v),
            7 => w.graduation_deg = v,
            8 => t.radius_mm = v,
            9 => t.weights[0].now = Some(deg(v)),
            10 => l.points[2].measured_deg = v,
            _ => l.points[4].t_s = v,
        }
        let mut faults = 0;
        for picture in [wheel(&w), ring_template(&t, Page::A3), log_plot(&l)] {
            match picture {
                Ok(svg) => sound(&svg)?,
                Err(f) => { faults += 1; prop_assert!(!f.field.is_empty() && !f.allowed.is_empty() && !f.why.is_empty()); }
            }
        }
        if !v.is_finite() {
            prop_assert_eq!(faults, 1, "{} passed in field {}", v, field);
        }
    }
}

#[test]
fn text_on_the_wheel_is_at_least_11_pixels_high_on_a_phone_of_390_pixels() {
    let p = WheelPicture {
        weights: vec![common::weight(0.0, 20.0, 30.0), common::weight(100.0, 2.0, -30.0)],
        heavy: Some(deg(3.0)),
        unbalance: Some(PictureUnbalance { allowance_g_mm: Some(4.0), ..PictureUnbalance::default() }),
        ..WheelPicture::default()
    };
    let svg = wheel(&p).unwrap();
    let doc = usvg::roxmltree::Document::parse(&svg).unwrap();
    let width: f64 = doc.root_element().attribute("viewBox").unwrap().split(' ').nth(2).unwrap().parse().unwrap();
    let sizes: Vec<f64> = doc
        .descendants()
        .filter(|n| n.has_tag_name(("http://www.w3.org/2000/svg", "text")))
        .map(|n| n.attribute("font-size").unwrap().parse().unwrap())
        .collect();
    assert!(sizes.len() > 20);
    // 16 px of margin to either side.
    assert!(sizes.iter().all(|s| s * 358.0 / width >= 11.0), "{sizes:?}");
}

#[test]
fn words_of_a_template_do_not_lie_on_one_another() {
    for (scale, count) in [(Scale::CounterClockwise, 3), (Scale::Holes(24), 24), (Scale::ClockHours, 9)] {
        let weights = (0..count).map(|k| {
            let at = f64::from(k) * 15.0;
            TemplateWeight { now: Some(deg(at)), target: Some(deg(at + 7.5)), arc: Angle::from_deg(7.0) }
        });
        let t = RingTemplate { rotor_name: "W".repeat(100), date: "W".repeat(40), scale, weights: weights.collect(), ..template() };
        for page in [Page::A4, Page::Letter] {
            let all = texts(&read(&ring_template(&t, page).unwrap()));
            for (i, a) in all.iter().enumerate() {
                for b in &all[..i] {
                    // Boxes hold the font's full line; a tenth of a millimetre (0.4 px) of them may meet.
                    let x = a.1.right().min(b.1.right()) - a.1.left().max(b.1.left());
                    let y = a.1.bottom().min(b.1.bottom()) - a.1.top().max(b.1.top());
                    assert!(x < 0.4 || y < 0.4, "{scale:?} {page:?}: {a:?} on {b:?}");
                }
            }
        }
    }
}

#[test]
fn a_curve_beyond_the_samples_stays_inside_the_plot() {
    let mut plot = log(100);
    plot.curve = (-100..300).map(|k| [f64::from(k) * 0.04, if (0..100).contains(&k) { 0.0 } else { 1e4 }]).collect();
    let svg = log_plot(&plot).unwrap().replace("data-part=\"fitted\"", "id=\"fitted\"");
    let b = read(&svg).node_by_id("fitted").unwrap().abs_bounding_box();
    // The plot runs from 62 to 380 units.
    assert!(b.left() > 61.9 && b.right() < 380.1, "{b:?}");
    assert!(!svg.contains("10³"), "the angle's scale is that of the samples");
}

#[test]
fn a_long_log_is_thinned_and_says_so() {
    let svg = log_plot(&log(20_000)).unwrap();
    assert!(svg.contains("20000 points, one of 14 shown"), "20000/1500 = 13.3, rounded up 14");
    assert!(svg.len() < 400_000, "{} bytes", svg.len());
    to_pdf(&svg, Page::A4).unwrap();
}

#[test]
fn bad_input_is_named() {
    let field = |r: Result<String, stillwheel_physics::Fault>| r.unwrap_err().field;
    assert_eq!(field(wheel(&WheelPicture { id_prefix: "a b".to_owned(), ..WheelPicture::default() })), "id_prefix");
    assert_eq!(field(wheel(&WheelPicture { scale: Scale::Holes(2), ..WheelPicture::default() })), "scale.holes");
    assert_eq!(field(wheel(&WheelPicture { weights: vec![common::weight(0.0, 181.0, 0.0)], ..WheelPicture::default() })), "weights[0].arc");
    assert_eq!(field(log_plot(&log(1))), "points");
    let mut backwards = log(5);
    backwards.points[3].t_s = 0.0;
    assert_eq!(field(log_plot(&backwards)), "points[3].t_s");
    assert_eq!(field(region(&RegionPlot::default())), "outlines_g_mm");
    assert_eq!(field(ring_template(&RingTemplate { inner_edge_mm: Some(39.0), ..template() }, Page::A4)), "inner_edge_mm");
    assert_eq!(field(ring_template(&RingTemplate { rotor_name: "x".repeat(101), ..template() }, Page::A4)), "rotor_name");
}
