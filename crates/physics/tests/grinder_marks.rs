//! Marks: published examples of frequencies, faces with a known cause, and the laws of the ranking.

#[path = "../../../reference/check.rs"]
mod check;

use check::{Case, Kind as Source, Tolerance, row};
use proptest::prelude::*;
use rstest::rstest;
use stillwheel_physics::grinder::bearings::Bearing;
use stillwheel_physics::grinder::marks::{
    Belt, Cause, Kind, Machine, MountedBearing, Part, PartKind, Ranking, Seen, Sighting, TestKind, causes, mark_frequency_hz, next_tests,
    rank,
};
use stillwheel_physics::quantity::{Angle, Length, RotationalSpeed};

fn bearing(elements: u32, d: f64, pitch: f64) -> Bearing {
    Bearing { elements, element_diameter: Length::from_mm(d), pitch_diameter: Length::from_mm(pitch), contact_angle: Angle::from_deg(0.0) }
}

#[test]
fn bearing_frequencies_as_published() {
    let c = Case::of("BRG-01");
    let b = bearing(c.input("n") as u32, c.input("d_mm"), c.input("D_mm"));
    let f = b.defect_frequencies(RotationalSpeed::from_rpm(c.input("shaft_rpm"))).unwrap();
    c.check("FTF_Hz", f.cage_hz);
    c.check("BPFO_Hz", f.outer_hz);
    c.check("BPFI_Hz", f.inner_hz);
    c.check("BSF_Hz", f.element_hz);
    let c = Case::of("BRG-02");
    let b = bearing(c.input("n") as u32, c.input("d_in") * 25.4, c.input("D_in") * 25.4);
    // Orders are frequencies at one turn a second.
    let f = b.defect_frequencies(RotationalSpeed::from_rpm(60.0)).unwrap();
    c.check("FTF", f.cage_hz);
    c.check("BPFO", f.outer_hz);
    c.check("BPFI", f.inner_hz);
    c.check("two_BSF", 2.0 * f.element_hz);
}

#[test]
fn frequency_of_marks_as_published() {
    let c = Case::of("FRQ-02");
    let f = mark_frequency_hz(c.expected("spacing_mm").as_f64().unwrap(), c.input("work_speed_m_min") * 1000.0 / 60.0).unwrap();
    c.check("frequency_Hz", f);
    // A cylinder's marks: any diameter gives the same, surface speed over spacing.
    let c = Case::of("FRQ-01");
    let around = std::f64::consts::PI * 80.0;
    let spacing = around / c.input("marks_per_rev");
    c.check("mark_frequency_Hz", mark_frequency_hz(spacing, around * c.input("work_rpm") / 60.0).unwrap());
    c.check("ratio", c.input("wheel_rpm") / c.input("work_rpm"));
    c.check("ratio_slow", c.input("wheel_rpm_slow") / c.input("work_rpm"));
}

/// The demo's machine "No. 5": 1450 r/min by a belt.
fn machine() -> Machine {
    Machine {
        wheel_hz: 1450.0 / 60.0,
        wheel_rel_sd: 0.005,
        wheel_radius_mm: 150.0,
        segments: None,
        parts: vec![
            part("motor", PartKind::Motor, 1430.0 / 60.0 * 1.99, 0.01, true),
            part("hydraulic pump", PartKind::Pump, 960.0 / 60.0, 0.01, false),
        ],
        belts: vec![Belt {
            name: "drive belt".into(),
            length_mm: 1400.0,
            pulley_diameter_mm: 160.0,
            pulley_hz: 1450.0 / 60.0,
            follows_wheel: true,
        }],
        bearings: vec![MountedBearing {
            name: "front bearing".into(),
            bearing: bearing(12, 9.5, 62.0),
            shaft_hz: 1450.0 / 60.0,
            follows_wheel: true,
        }],
        mains_hz: Some(50.0),
        natural_hz: Some(85.0),
        dresser_lead_mm: Some(0.15),
        cross_feed_mm: Some(4.0),
        table_pitch_mm: None,
    }
}

fn part(name: &str, kind: PartKind, hz: f64, rel_sd: f64, follows_wheel: bool) -> Part {
    Part { name: name.into(), kind, hz, rel_sd, follows_wheel, orders: vec![1, 2] }
}

fn marks(spacing_mm: f64, rel_sd: f64, table_mm_s: f64) -> Sighting {
    let seen = Seen::Marks { spacing_mm, spacing_rel_sd: rel_sd, angle_deg: None };
    Sighting { seen, table_mm_s, table_rel_sd: 0.01, wheel_ratio: 1.0, stopped: Vec::new() }
}

fn first<'a>(all: &'a [Cause], r: &Ranking) -> (&'a Cause, f64) {
    (&all[r.ranked[0].cause], r.ranked[0].probability)
}

// Spacings worked by hand for a table of 250 mm/s: 250/24.167 = 10.34 mm; belt π·160·24.167/1400 = 8.677 Hz: 28.81 mm; 100 Hz: 2.5 mm;
// pump 16 Hz: 15.63 mm; outer ring 12/2·24.167·(1 − 9.5/62) = 122.8 Hz: 2.036 mm.
#[rstest]
#[case(10.34, Kind::WheelOnce)]
#[case(28.81, Kind::Belt)]
#[case(2.5, Kind::Mains)]
#[case(15.63, Kind::Turning(PartKind::Pump))]
#[case(2.036, Kind::Bearing)]
fn marks_lead_to_the_part_that_makes_them(#[case] spacing_mm: f64, #[case] kind: Kind) {
    let all = causes(&machine(), 0.1).unwrap();
    let r = rank(&all, &[marks(spacing_mm, 0.01, 250.0)]).unwrap();
    let (cause, p) = first(&all, &r);
    assert_eq!(cause.kind, kind, "{} {p}", cause.name);
    assert!(p > 0.5, "{} {p}", cause.name);
}

#[test]
fn marks_that_no_part_makes_lead_to_none_of_these() {
    // 250/6.4 = 39.06 Hz: no part nor twice a part is near it.
    let all = causes(&machine(), 0.1).unwrap();
    let r = rank(&all, &[marks(6.4, 0.005, 250.0)]).unwrap();
    assert_eq!(first(&all, &r).0.kind, Kind::None);
}

#[test]
fn lines_nearly_along_the_travel_lead_to_the_dresser_and_along_it_to_the_cross_feed() {
    let all = causes(&machine(), 0.1).unwrap();
    let at = |spacing_mm, deg| {
        let seen = Seen::Marks { spacing_mm, spacing_rel_sd: 0.01, angle_deg: Some((deg, 0.5)) };
        let r = rank(&all, &[Sighting { seen, ..marks(1.0, 0.01, 250.0) }]).unwrap();
        first(&all, &r).0.kind
    };
    assert_eq!(at(0.15, 0.8), Kind::DresserThread);
    assert_eq!(at(4.0, 0.3), Kind::CrossFeed);
}

#[test]
fn a_face_ground_at_another_table_speed_tells_a_vibration_from_a_distance() {
    // A table screw of 10.34 mm pitch prints what a wheel once a turn prints, at one table speed.
    let m = Machine { table_pitch_mm: Some(10.34), ..machine() };
    let all = causes(&m, 0.1).unwrap();
    let kind_after = |spacing| first(&all, &rank(&all, &[marks(10.34, 0.01, 250.0), marks(spacing, 0.01, 300.0)]).unwrap()).0.kind;
    assert_eq!(kind_after(10.34 * 1.2), Kind::WheelOnce);
    assert_eq!(kind_after(10.34), Kind::TableDrive);
}

#[test]
fn marks_gone_with_a_part_stopped_lead_to_the_part() {
    // Pump 16 Hz and a part of 16.1 Hz: one spacing, two causes.
    let mut m = machine();
    m.parts.push(part("coolant pump", PartKind::Pump, 16.1, 0.01, false));
    let all = causes(&m, 0.1).unwrap();
    let gone = Sighting { seen: Seen::Gone, stopped: vec!["coolant pump".into()], ..marks(1.0, 0.01, 250.0) };
    let before = rank(&all, &[marks(15.58, 0.01, 250.0)]).unwrap();
    let after = rank(&all, &[marks(15.58, 0.01, 250.0), gone]).unwrap();
    assert!(first(&all, &before).1 < 0.6, "{before:?}");
    assert_eq!(first(&all, &after).0.part, "coolant pump");
    assert!(first(&all, &after).1 > 0.8);
    let tests = next_tests(&all, &before, &marks(15.58, 0.01, 250.0), false);
    assert!(matches!(&tests[0].kind, TestKind::Stop(p) if p.contains("pump")), "{:?}", tests[0]);
}

#[test]
fn the_first_test_is_the_one_that_parts_the_first_two_causes() {
    let m = Machine { table_pitch_mm: Some(10.34), ..machine() };
    let all = causes(&m, 0.1).unwrap();
    let seen = marks(10.34, 0.01, 250.0);
    let r = rank(&all, std::slice::from_ref(&seen)).unwrap();
    let tests = next_tests(&all, &r, &seen, false);
    // Both a faster table and another wheel part a wheel from a table screw.
    assert!(matches!(tests[0].kind, TestKind::TableFaster | TestKind::OtherWheel), "{tests:?}");
    for t in &tests {
        assert!(t.bits <= r.open_bits + 1e-9, "{t:?}");
        let sum: f64 = t.outcomes.iter().map(|o| o.probability).sum();
        assert!(t.kind == TestKind::MeasureBetter || (sum - 1.0).abs() < 1e-9, "{t:?}");
        assert!(t.right_after >= r.ranked[0].probability - 1e-6, "{t:?}");
    }
}

#[test]
fn a_vibration_finer_than_a_turns_advance_can_show_as_the_difference_from_the_turns() {
    // 100 Hz against four turns of 24.167 Hz: 3.333 Hz, 75 mm at 250 mm/s.
    let all = causes(&Machine { wheel_rel_sd: 0.001, ..machine() }, 0.1).unwrap();
    let alias = all.iter().find(|c| c.kind == Kind::SeenOnceATurn && c.part == "mains" && c.name.contains("twice")).unwrap();
    let k = alias.follows.pattern(250.0, 1.0).unwrap();
    row(
        "FRQ-03",
        "spacing of 100 Hz seen once a turn of 1450 r/min at 250 mm/s, mm",
        Source::ClosedFormOrTable,
        "v/|f − 4·n|",
        75.0,
        1.0 / k[0],
        Tolerance::Relative(1e-9),
    );
}

#[rstest]
#[case::zero_table(|s: &mut Sighting| s.table_mm_s = 0.0, "sightings[0].table_speed_m_min")]
#[case::nan_spacing(|s: &mut Sighting| s.seen = Seen::Marks { spacing_mm: f64::NAN, spacing_rel_sd: 0.01, angle_deg: None }, "sightings[0].spacing_mm")]
#[case::angle(|s: &mut Sighting| s.seen = Seen::Marks { spacing_mm: 1.0, spacing_rel_sd: 0.01, angle_deg: Some((91.0, 1.0)) }, "sightings[0].angle_deg")]
#[case::no_marks(|s: &mut Sighting| s.seen = Seen::Gone, "sightings[0]")]
fn what_is_no_sighting_is_refused(#[case] spoil: fn(&mut Sighting), #[case] field: &str) {
    let all = causes(&machine(), 0.1).unwrap();
    let mut s = marks(5.0, 0.01, 250.0);
    spoil(&mut s);
    assert_eq!(rank(&all, &[s]).unwrap_err().field, field);
}

proptest! {
    // Probabilities are between 0 and 1 and sum to 1, whatever was seen; the order is theirs.
    #[test]
    fn probabilities_sum_to_one(
        spacing in 0.002..900.0_f64, sd in 0.0..0.5_f64, table in 1.0..2000.0_f64, ratio in 0.3..4.0_f64,
        angle in prop::option::of(0.0..90.0_f64), none in 0.001..0.9_f64, again in prop::option::of(0.01..100.0_f64)
    ) {
        let all = causes(&machine(), none).unwrap();
        let seen = Seen::Marks { spacing_mm: spacing, spacing_rel_sd: sd, angle_deg: angle.map(|a| (a, 1.0)) };
        let mut list = vec![Sighting { seen, ..marks(1.0, 0.01, table) }];
        if let Some(s) = again {
            list.push(Sighting { wheel_ratio: ratio, ..marks(s, sd, table) });
        }
        let r = rank(&all, &list).unwrap();
        let sum: f64 = r.ranked.iter().map(|r| r.probability).sum();
        prop_assert!((sum - 1.0).abs() < 1e-9);
        prop_assert!(r.ranked.iter().all(|r| (0.0..=1.0).contains(&r.probability)));
        prop_assert!(r.ranked.windows(2).all(|w| w[0].probability >= w[1].probability));
        for t in next_tests(&all, &r, &list[0], true) {
            prop_assert!(t.bits.is_finite() && t.bits >= 0.0 && t.right_after <= 1.0 + 1e-9);
        }
    }

    // All spacings and the table's speed scaled together are the same frequencies: the ranking of vibrations stays.
    #[test]
    fn only_the_frequency_counts_for_vibrations(spacing in 0.5..50.0_f64, by in 0.5..2.0_f64) {
        let m = Machine { dresser_lead_mm: None, cross_feed_mm: None, ..machine() };
        let all = causes(&m, 0.1).unwrap();
        let p = |s: Sighting| {
            let r = rank(&all, &[s]).unwrap();
            let mut p = vec![0.0; all.len()];
            r.ranked.iter().for_each(|r| p[r.cause] = r.probability);
            p
        };
        for (a, b) in p(marks(spacing, 0.01, 250.0)).iter().zip(p(marks(spacing * by, 0.01, 250.0 * by))) {
            prop_assert!((a - b).abs() < 1e-9);
        }
    }
}
