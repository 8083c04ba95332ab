//! Parts stand where the operator sees them. All places are derived by hand from the convention: rotor angles run
//! counter-clockwise from the zero mark, seen from the operator's side; room angles counter-clockwise from straight
//! down. They are read back by usvg, which applies every transform as a browser does.

mod common;

use common::{deg, log, middle, read, template, texts, weight};
use rstest::rstest;
use stillwheel_drawing::{
    ForbiddenArc, Page, PictureHole, PictureUnbalance, RegionPlot, Scale, WheelPicture, ZERO_MARK_UP, log_plot, region, ring_template,
    settled, wheel,
};
use stillwheel_physics::quantity::RoomAngle;

/// The axis on the canvas: the view starts at (−200, −202).
const AXIS: [f64; 2] = [200.0, 202.0];

#[derive(Clone, Copy, Debug, PartialEq)]
enum Side {
    Up,
    Left,
    Down,
    Right,
}

/// On which side of the axis a point lies, and how far; it must lie on the line to that side within `slack`.
fn side(p: [f64; 2], axis: [f64; 2], slack: f64) -> (Side, f64) {
    let (x, y) = (p[0] - axis[0], p[1] - axis[1]);
    if x.abs() < slack {
        (if y < 0.0 { Side::Up } else { Side::Down }, y.abs())
    } else {
        assert!(y.abs() < slack, "{p:?} lies on no line from the axis");
        (if x < 0.0 { Side::Left } else { Side::Right }, x.abs())
    }
}

#[rstest]
#[case::zero_up_0(ZERO_MARK_UP, 0.0, Side::Up)]
#[case::zero_up_90(ZERO_MARK_UP, 90.0, Side::Left)]
#[case::zero_up_180(ZERO_MARK_UP, 180.0, Side::Down)]
#[case::zero_up_270(ZERO_MARK_UP, 270.0, Side::Right)]
// Settled with 30° at the bottom: 30° is down; a quarter turn counter-clockwise from down is right.
#[case::settled_30(settled(deg(30.0)), 30.0, Side::Down)]
#[case::settled_120(settled(deg(30.0)), 120.0, Side::Right)]
#[case::settled_300(settled(deg(30.0)), 300.0, Side::Left)]
// The zero mark itself at the right (room angle 90°): 90° on the rotor is then up.
#[case::zero_right(RoomAngle::from_deg(90.0), 90.0, Side::Up)]
fn a_weight_stands_on_its_side(#[case] zero_mark: RoomAngle, #[case] at: f64, #[case] expected: Side) {
    let tree = read(&wheel(&WheelPicture { zero_mark, weights: vec![weight(at, 0.0, 0.0)], ..WheelPicture::default() }).unwrap());
    let (seen, far) = side(middle(&tree, "weight-1"), AXIS, 0.05);
    assert_eq!(seen, expected);
    // The groove's middle: between 112 and 137 units.
    assert!((far - 124.5).abs() < 0.1, "{far}");
}

#[test]
fn a_weight_at_90_degrees_moved_clockwise_by_90_goes_to_the_zero_mark_on_top() {
    let p = WheelPicture { weights: vec![weight(90.0, 0.0, -90.0)], ..WheelPicture::default() };
    let svg = wheel(&p).unwrap();
    let tree = read(&svg);
    assert_eq!(side(middle(&tree, "weight-1"), AXIS, 0.05).0, Side::Left);
    assert_eq!(side(middle(&tree, "target-1"), AXIS, 0.05).0, Side::Up);
    // The arrow runs through the quarter between them, upper left, and nowhere else.
    let arrow = tree.node_by_id("move-1").unwrap().abs_bounding_box();
    assert!(f64::from(arrow.right()) < AXIS[0] + 6.0 && f64::from(arrow.bottom()) < AXIS[1] + 6.0, "{arrow:?}");
    assert!(svg.contains("Weight 1 is at 90° and goes to 0°, 90° clockwise."));
}

#[test]
fn a_move_of_270_degrees_is_drawn_the_long_way_round() {
    let p = WheelPicture { weights: vec![weight(90.0, 0.0, 270.0)], ..WheelPicture::default() };
    let tree = read(&wheel(&p).unwrap());
    assert_eq!(side(middle(&tree, "target-1"), AXIS, 0.05).0, Side::Up);
    // From the left over the bottom and the right to the top: it reaches beyond the axis on every side.
    let arrow = tree.node_by_id("move-1").unwrap().abs_bounding_box();
    assert!(f64::from(arrow.right()) > AXIS[0] + 60.0 && f64::from(arrow.bottom()) > AXIS[1] + 60.0, "{arrow:?}");
}

#[test]
fn the_settled_heavy_side_stands_at_the_bottom_over_the_pointer() {
    let p = WheelPicture { zero_mark: settled(deg(212.0)), heavy: Some(deg(212.0)), bottom_pointer: true, ..WheelPicture::default() };
    let tree = read(&wheel(&p).unwrap());
    let (heavy, pointer) = (middle(&tree, "heavy"), middle(&tree, "pointer"));
    assert_eq!(side(heavy, AXIS, 0.05).0, Side::Down);
    assert!((pointer[0] - heavy[0]).abs() < 0.05 && pointer[1] > heavy[1]);
}

#[rstest]
#[case([300.0, 0.0], Side::Up)] // along the zero mark, which stands up
#[case([0.0, 300.0], Side::Left)] // a quarter turn counter-clockwise from it
#[case([-300.0, 0.0], Side::Down)]
fn the_unbalance_lies_in_its_direction_at_the_stated_scale(#[case] v: [f64; 2], #[case] expected: Side) {
    let square = [[-5.0, -5.0], [5.0, -5.0], [5.0, 5.0], [-5.0, 5.0]].map(|d| [v[0] + d[0], v[1] + d[1]]).to_vec();
    let u =
        PictureUnbalance { outlines_g_mm: vec![square], holds: "95 %".to_owned(), allowance_g_mm: Some(200.0), outer_g_mm: Some(400.0) };
    let svg = wheel(&WheelPicture { unbalance: Some(u), ..WheelPicture::default() }).unwrap();
    let tree = read(&svg);
    let (seen, far) = side(middle(&tree, "region"), AXIS, 0.05);
    assert_eq!(seen, expected);
    // 300 g·mm lies half as far out again as the circle of 200 g·mm.
    let allowance = f64::from(tree.node_by_id("allowance").unwrap().abs_bounding_box().width()) / 2.0;
    assert!((far / allowance - 1.5).abs() < 0.01, "{far} {allowance}");
    assert!(svg.contains("circle 400 g·mm") && svg.contains("allowed 200 g·mm"));
}

#[test]
fn the_scale_s_labels_run_its_way_round_and_stay_upright() {
    // 90° counter-clockwise is left of a zero mark that stands up, 90° clockwise and 3 o'clock are right of it; of 12
    // holes, number 4 is three steps of 30° counter-clockwise: left.
    for (scale, label, left) in [
        (Scale::CounterClockwise, "90°", true),
        (Scale::Clockwise, "90°", false),
        (Scale::ClockHours, "3", false),
        (Scale::Holes(12), "4", true),
    ] {
        for turned in [0.0, 37.0] {
            let zero_mark = RoomAngle::from_deg(180.0 + turned);
            let tree = read(&wheel(&WheelPicture { scale, zero_mark, legend: false, ..WheelPicture::default() }).unwrap());
            let found: Vec<_> = texts(&tree).into_iter().filter(|t| t.0 == label).collect();
            assert_eq!(found.len(), 1, "{scale:?} {label}");
            let b = found[0].1;
            let x = f64::from(b.left() + b.right()) / 2.0 - AXIS[0];
            assert_eq!(x < 0.0, left, "{scale:?}");
            // A text on its side would be as high as it is long; upright ones keep the height of one line.
            assert!(b.height() < 18.0, "{b:?}");
        }
    }
}

/// 24 holes, hole 1 at the zero mark on top: hole 7 is at 90°, on the left; hole 13 below; hole 19 on the right.
#[test]
fn holes_stand_by_their_numbers_and_show_what_goes_in_and_out() {
    let mut holes: Vec<PictureHole> = (0..24).map(|k| PictureHole { at: deg(15.0 * f64::from(k)), now: None, then: None }).collect();
    holes[6].now = Some("2.3".into());
    holes[12].then = Some(Some("4".into()));
    holes[18] = PictureHole { now: Some("1.1".into()), then: Some(None), ..holes[18].clone() };
    holes[0] = PictureHole { now: Some("1.1".into()), then: Some(Some("2.3".into())), ..holes[0].clone() };
    let svg = wheel(&WheelPicture { holes, ..WheelPicture::default() }).unwrap();
    let tree = read(&svg);
    for (hole, expected) in [(1, Side::Up), (7, Side::Left), (13, Side::Down), (19, Side::Right)] {
        let (seen, far) = side(middle(&tree, &format!("hole-{hole}")), AXIS, 16.0);
        assert_eq!(seen, expected, "hole {hole}");
        assert!((far - 124.5).abs() < 20.0, "{far}");
    }
    assert_eq!(svg.matches("data-part=\"hole\"").count(), 24);
    // Put in: holes 13 and 1; take out: holes 19 and 1.
    assert_eq!((svg.matches("data-part=\"target\"").count(), svg.matches("data-part=\"take-out\"").count()), (2, 2));
    for words in [
        "Hole 7 has a screw of 2.3 g.",
        "Hole 13 is empty and gets a screw of 4 g.",
        "The screw of 1.1 g comes out of hole 19.",
        "Hole 1: the screw of 1.1 g is exchanged for one of 2.3 g.",
    ] {
        assert!(svg.contains(words), "{words}");
    }
    let long = PictureHole { at: deg(0.0), now: Some("123456789".into()), then: None };
    let fault = wheel(&WheelPicture { holes: vec![long], ..WheelPicture::default() }).unwrap_err();
    assert_eq!(fault.field, "holes[0]");
}

#[test]
fn a_forbidden_arc_is_hatched_over_its_own_width_only() {
    let forbidden = vec![ForbiddenArc { from: deg(350.0), to: deg(20.0) }];
    let svg = wheel(&WheelPicture { forbidden, ..WheelPicture::default() }).unwrap().replace("data-part=\"forbidden\"", "id=\"arc\"");
    let b = read(&svg).node_by_id("arc").unwrap().abs_bounding_box();
    // Zero mark up: 350° lies right of the top, 20° left of it, at radius 137.
    let expected = [AXIS[0] - 137.0 * 20f64.to_radians().sin(), AXIS[0] + 137.0 * 10f64.to_radians().sin()];
    assert!((f64::from(b.left()) - expected[0]).abs() < 0.6 && (f64::from(b.right()) - expected[1]).abs() < 0.6, "{b:?} {expected:?}");
}

#[test]
fn on_the_plane_x_runs_right_and_y_up() {
    let at = |m: [f64; 2]| {
        let plot = RegionPlot { mean_g_mm: Some(m), allowance_g_mm: Some(40.0), floor_g_mm: Some(10.0), ..RegionPlot::default() };
        let tree = read(&region(&plot).unwrap());
        let (c, p) = (middle(&tree, "floor"), middle(&tree, "mean"));
        let radius = f64::from(tree.node_by_id("allowance").unwrap().abs_bounding_box().width()) / 2.0;
        [(p[0] - c[0]) / radius, (p[1] - c[1]) / radius]
    };
    // 20 of 40 g·mm: half the radius of the allowance.
    for (m, expected) in [([20.0, 0.0], [0.5, 0.0]), ([0.0, 20.0], [0.0, -0.5])] {
        let p = at(m);
        assert!((p[0] - expected[0]).abs() < 1e-3 && (p[1] - expected[1]).abs() < 1e-3, "{m:?}: {p:?}");
    }
}

#[test]
fn on_the_log_later_is_right_and_larger_is_up() {
    let svg = log_plot(&log(300)).unwrap();
    let doc = usvg::roxmltree::Document::parse(&svg).unwrap();
    let fitted = doc.descendants().find(|n| n.attribute("data-part") == Some("fitted")).unwrap().attribute("d").unwrap();
    let points: Vec<[f64; 2]> = fitted
        .split(['M', 'L'])
        .filter(|s| !s.is_empty())
        .map(|s| {
            let (x, y) = s.split_once(' ').unwrap();
            [x.parse().unwrap(), y.parse().unwrap()]
        })
        .collect();
    assert_eq!(points.len(), 300);
    assert!(points.windows(2).all(|w| w[1][0] > w[0][0]));
    // 40·cos(0.8 t): largest at t = 0, smallest at half the period, t = 3.927 s (sample 98).
    let (top, bottom) = (points[0][1], points[98][1]);
    assert!(points.iter().all(|p| p[1] >= top - 1e-3 && p[1] <= bottom + 0.02));
    assert_eq!(doc.descendants().filter(|n| n.attribute("data-part") == Some("dropped")).count(), 6, "samples 7, 57, ... 257");
}

#[test]
fn the_template_is_to_scale_and_its_weights_stand_counter_clockwise() {
    const MM: f64 = 25.4 / 96.0; // CSS: 96 px an inch
    for page in Page::ALL {
        let tree = read(&ring_template(&template(), page).unwrap());
        let width = |id: &str| f64::from(tree.node_by_id(id).unwrap().abs_bounding_box().width()) * MM;
        assert!((width("weight-radius") - 76.0).abs() < 0.001 && (width("outer-edge") - 84.0).abs() < 0.001);
        assert!((width("check-bar") - 50.0).abs() < 0.001);
        let centre = middle(&tree, "centre");
        // 90° is left of the zero mark on top, 180° is at the bottom; both at about the weight radius (arcs of 20°).
        let (now, far) = side(middle(&tree, "now-1"), centre, 0.1);
        assert!(now == Side::Left && (far * MM - 38.0).abs() < 0.6, "{far}");
        assert_eq!(side(middle(&tree, "target-1"), centre, 0.1).0, Side::Down);
        assert_eq!(side(middle(&tree, "zero-mark"), centre, 0.1).0, Side::Up);
    }
}

/// Arc length by hand: 90° on radius 38 mm is 38·π/2 = 59.69 mm; clockwise it is 270°: 179.07 mm.
#[rstest]
#[case(Scale::CounterClockwise, "now 90° = 59.7 mm", "to 180° = 119.4 mm")]
#[case(Scale::Clockwise, "now 270° cw = 179.1 mm", "to 180° cw = 119.4 mm")]
#[case(Scale::ClockHours, "now 9:00 = 179.1 mm", "to 6:00 = 119.4 mm")]
#[case(Scale::Holes(24), "now hole 7 = 59.7 mm", "to hole 13 = 119.4 mm")]
fn the_list_gives_angle_and_way_along_the_groove(#[case] scale: Scale, #[case] now: &str, #[case] target: &str) {
    let mut t = template();
    t.scale = scale;
    let tree = read(&ring_template(&t, Page::A4).unwrap());
    let words: Vec<String> = texts(&tree).into_iter().map(|t| t.0).collect();
    assert!(words.iter().any(|w| w == now) && words.iter().any(|w| w == target) && words.iter().any(|w| w == "stays"), "{words:?}");
}
