//! Laws of fits, threads and glands, and what they refuse.

use proptest::prelude::*;
use rstest::rstest;
use stillwheel_physics::Fault;
use stillwheel_physics::making::fit::{Basis, Clearance, Hole, Shaft, propose};
use stillwheel_physics::making::gland::{Gland, Place, Service, squeeze_percent};
use stillwheel_physics::making::thread::{Port, PortSeat, Thread, flat_width_mm, threads};

const HOLES: [&str; 8] = ["D", "F", "G", "H", "JS", "M", "N", "P"];
const SHAFTS: [&str; 9] = ["d", "e", "f", "g", "h", "js", "k", "n", "s"];

proptest! {
    #[test]
    fn largest_less_smallest_clearance_is_the_sum_of_both_tolerances(
        size in 0.2..250.0_f64, hole in 0..HOLES.len(), shaft in 0..SHAFTS.len(), grades in (3..=12_u8, 1..=12_u8),
    ) {
        let hole = Hole { letter: HOLES[hole], grade: grades.0 }.limits(size).unwrap();
        let shaft = Shaft { letter: SHAFTS[shaft], grade: grades.1 }.limits(size).unwrap();
        let c = Clearance::of(&hole, &shaft);
        prop_assert!((c.max_um - c.min_um - hole.tolerance_um() - shaft.tolerance_um()).abs() < 1e-9);
    }

    #[test]
    fn a_coarser_grade_is_never_narrower_and_a_larger_size_never_closer(size in 0.2..499.0_f64, larger in 1.0..2.0_f64, grade in 1..12_u8) {
        let width = |size: f64, grade: u8| Hole { letter: "H", grade }.limits(size).unwrap().tolerance_um();
        prop_assert!(width(size, grade + 1) > width(size, grade));
        prop_assert!(width((size * larger).min(500.0), grade) >= width(size, grade));
    }

    #[test]
    fn what_is_proposed_keeps_what_is_wanted(size in 3.0..250.0_f64, low in -50.0..100.0_f64, wide in 20.0..200.0_f64) {
        match propose(size, [low, low + wide], Basis::Hole) {
            Ok(all) => for p in all {
                prop_assert!(p.clearance.min_um >= low && p.clearance.max_um <= low + wide);
            },
            Err(f) => prop_assert_eq!(f.field, "wanted_clearance_um"),
        }
    }

    #[test]
    fn squeeze_falls_and_fill_falls_as_the_groove_gets_deeper(deeper in 0.001..0.5_f64) {
        let at = |by: f64| {
            // A deeper groove on the saddle is a smaller bottom; its ring is chosen for it, so that only the depth changes.
            let groove = [33.438 - 2.0 * by, 33.5 - 2.0 * by];
            Gland { groove_mm: groove, inside_mm: groove.map(|g| g / 1.02), service: Service::Still, ..gland() }
        };
        prop_assert!(squeeze_percent(3.55, 2.7 + deeper) < squeeze_percent(3.55, 2.7));
        let before = Gland { ..at(-0.4) }.sealed().unwrap();
        match at(deeper - 0.4).sealed() {
            Ok(after) => {
                prop_assert!(after.squeeze_worst_percent < before.squeeze_worst_percent);
                prop_assert!(after.squeeze_percent[0] < before.squeeze_percent[0]);
                prop_assert!(after.fill_percent[1] < before.fill_percent[1]);
            }
            Err(f) => prop_assert!(f.field == "section_mm" && f.why.contains("does not touch"), "{}", f),
        }
    }

    #[test]
    fn wider_tolerances_never_narrow_what_a_gland_may_do(by in 0.0..0.02_f64) {
        let close = gland().sealed().unwrap();
        let wide = Gland { bore_mm: [40.0, 40.025 + by], groove_mm: [33.438 - by, 33.5], ..gland() };
        if let Ok(wide) = wide.sealed() {
            prop_assert!(wide.squeeze_worst_percent <= close.squeeze_worst_percent);
            prop_assert!(wide.squeeze_percent[1] >= close.squeeze_percent[1] - 1e-12);
            prop_assert!(wide.shift_mm >= close.shift_mm);
        }
    }

    #[test]
    fn a_thread_bears_in_proportion_to_its_engagement(i in 0..threads().len(), le in 1.0..50.0_f64, times in 1.1..4.0_f64) {
        let t = &threads()[i];
        let (short, long) = (t.strength(le, 310.0, 800.0).unwrap(), t.strength(le * times, 310.0, 800.0).unwrap());
        prop_assert!((long.strips_at_n / short.strips_at_n / times - 1.0).abs() < 1e-12);
        prop_assert_eq!(long.breaks_at_n, short.breaks_at_n);
        // The told engagement is the one at which screw and threads give way together.
        let enough = t.strength(short.enough_mm.clamp(0.1, 200.0), 310.0, 800.0).unwrap();
        prop_assert!((enough.strips_at_n.min(enough.screw_strips_at_n) / enough.breaks_at_n - 1.0).abs() < 1e-9);
    }
}

fn gland() -> Gland {
    Gland {
        place: Place::OnSaddle,
        service: Service::SlidingAir,
        bore_mm: [40.0, 40.025],
        saddle_mm: [39.95, 39.975],
        groove_mm: [33.438, 33.5],
        width_mm: [4.8, 5.05],
        section_mm: [3.45, 3.65],
        inside_mm: [32.4, 32.6],
        behind_mm: Some(20.0),
        beside_mm: Some(4.0),
    }
}

#[rstest]
#[case::breaks_through_into_the_air_hole(Gland { behind_mm: Some(33.6), ..gland() }, "behind_mm", "breaks through")]
#[case::leaves_a_wall_too_thin(Gland { behind_mm: Some(32.5), ..gland() }, "behind_mm", "too thin")]
#[case::breaks_out_at_its_side(Gland { beside_mm: Some(0.2), ..gland() }, "beside_mm", "breaks out")]
#[case::loses_contact(Gland { section_mm: [3.2, 3.3], ..gland() }, "section_mm", "does not touch")]
#[case::overfilled(Gland { width_mm: [3.4, 3.5], ..gland() }, "width_mm", "overfull")]
#[case::stretched_too_far(Gland { inside_mm: [30.0, 30.2], ..gland() }, "inside_mm", "stretched")]
#[case::loose_in_its_groove(Gland { inside_mm: [35.0, 35.2], ..gland() }, "inside_mm", "never loose")]
#[case::saddle_does_not_pass_its_bore(Gland { saddle_mm: [39.99, 40.01], ..gland() }, "saddle_mm", "does not pass")]
#[case::squeezed_so_that_it_does_not_slide(
    Gland { groove_mm: [34.9, 34.95], inside_mm: [34.2, 34.3], width_mm: [6.0, 6.2], ..gland() }, "section_mm", "by friction")]
#[case::no_groove(Gland { groove_mm: [40.2, 40.3], ..gland() }, "groove_mm", "no groove")]
#[case::turned_round(Gland { bore_mm: [40.1, 40.0], ..gland() }, "bore_mm", "not below")]
#[case::not_a_number(Gland { bore_mm: [f64::NAN, 40.0], ..gland() }, "bore_mm", "bore")]
fn a_gland_that_will_not_do_is_refused(#[case] gland: Gland, #[case] field: &str, #[case] tells: &str) {
    let fault = gland.sealed().unwrap_err();
    assert_eq!(fault.field, field, "{fault}");
    assert!(fault.why.contains(tells), "{fault}");
}

#[test]
fn a_groove_in_the_bore_breaks_through_to_the_outside() {
    // Ring 40 x 3.55: outside 47.1, pressed by 1.3 % into a groove of 46.5.
    let in_bore = Gland {
        place: Place::InBore,
        groove_mm: [46.5, 46.6],
        inside_mm: [40.0, 40.0],
        behind_mm: Some(60.0),
        saddle_mm: [39.975, 39.991],
        ..gland()
    };
    let sealed = in_bore.sealed().unwrap();
    // Worked by hand: (46.5 − 39.991)/2 and (46.6 − 39.975)/2.
    assert!((sealed.depth_mm[0] - 3.2545).abs() < 1e-9 && (sealed.depth_mm[1] - 3.3125).abs() < 1e-9, "{sealed:?}");
    assert!((sealed.wall_behind_mm.unwrap() - 6.7).abs() < 1e-9);
    let fault = Gland { behind_mm: Some(46.0), ..in_bore }.sealed().unwrap_err();
    assert!(fault.field == "behind_mm" && fault.why.contains("breaks through"), "{fault}");
}

#[test]
fn friction_of_a_ring_grows_with_squeeze_and_pressure() {
    let shallow = Gland { groove_mm: [34.0, 34.06], inside_mm: [33.2, 33.4], ..gland() };
    let (loose, tight) = (gland(), shallow);
    let at = |g: &Gland, p: f64| g.friction_n(&g.sealed().unwrap(), 70.0, 0.3, p).unwrap();
    assert!(at(&tight, 0.0)[0] > at(&loose, 0.0)[0]);
    assert!(at(&loose, 6e5)[1] > at(&loose, 3e5)[1] && at(&loose, 0.0)[1] == at(&loose, 0.0)[0]);
    // Lindley by hand at no pressure: E(70 IRHD) = 5.520 MPa by Gent; section thinned to 3.4971, C = (3.4971 − 3.27175)/3.4971.
    let sealed = gland().sealed().unwrap();
    let section = 0.5 * (sealed.section_in_place_mm[0] + sealed.section_in_place_mm[1]);
    let c = 1.0 - 3.27175 / section;
    let expected = 0.3 * std::f64::consts::PI * 40.0125 * section * 5.5201 * (1.25 * c.powf(1.5) + 50.0 * c.powi(6));
    assert!((at(&gland(), 0.0)[0] / expected - 1.0).abs() < 1e-3, "{} {expected}", at(&gland(), 0.0)[0]);
}

#[test]
fn a_collar_that_can_not_pass_its_bore_is_refused() {
    let fit = |hole: &str, shaft: &str| {
        Clearance::of(&Hole::read(hole).unwrap().limits(40.0).unwrap(), &Shaft::read(shaft).unwrap().limits(40.0).unwrap())
    };
    fit("H7", "g6").passes("collar").unwrap();
    let fault: Fault = fit("H7", "k6").passes("collar").unwrap_err();
    assert_eq!(fault.field, "collar");
    assert!(fault.value.to_string().starts_with("-18.0 µm"), "H7/k6 at 40: k6 +18/+2: {fault}");
    // Warm brass in a cold steel collar closes (−3.56 µm at +10 K: case thermal-collar); three of them eat the 9 µm of g6.
    assert!(fit("H7", "g6").moved(-3.56).passes("collar").is_ok());
    assert!(fit("H7", "g6").moved(3.0 * -3.56).passes("collar").is_err());
}

#[rstest]
#[case("H0")]
#[case("H13")]
#[case("H07")]
#[case("h7")]
#[case("Q7")]
#[case("7")]
#[case("")]
#[case("H7/g6")]
fn a_class_that_is_none_is_a_fault(#[case] text: &str) {
    let fault = Hole::read(text).unwrap_err();
    assert!(fault.field == "hole" && fault.allowed.contains("H7"), "{fault}");
}

#[rstest]
#[case(0.0)]
#[case(-3.0)]
#[case(500.001)]
#[case(f64::NAN)]
#[case(f64::INFINITY)]
fn a_size_out_of_the_tables_is_a_fault(#[case] size: f64) {
    assert_eq!(Hole::read("H7").unwrap().limits(size).unwrap_err().field, "nominal_mm");
    // H to 500 mm, G to 250.
    assert!(Hole::read("H7").unwrap().limits(400.0).is_ok());
    assert_eq!(Hole::read("G7").unwrap().limits(400.0).unwrap_err().field, "nominal_mm");
}

#[test]
fn a_port_flat_thinner_than_its_thread_needs_is_refused() {
    let port = Port::find("port", "G1/8").unwrap();
    let seat = PortSeat { wall_mm: 10.0, flat_width_mm: 20.0, passage_mm: None };
    // DIN 3852-2: 8 mm of full thread.
    assert_eq!(port.fits(&seat).unwrap(), 2.0);
    let thin = port.fits(&PortSeat { wall_mm: 7.9, ..seat }).unwrap_err();
    assert!(thin.field == "wall_mm" && thin.allowed.starts_with("8 mm"), "{thin}");
    // With a narrow passage the hole is blind: 13 mm drilled.
    let blind = PortSeat { passage_mm: Some(3.0), ..seat };
    assert!(port.fits(&blind).unwrap_err().allowed.starts_with("13 mm"));
    assert!(port.fits(&PortSeat { wall_mm: 13.5, ..blind }).is_ok());
    let narrow = port.fits(&PortSeat { flat_width_mm: 14.9, ..seat }).unwrap_err();
    assert!(narrow.field == "flat_width_mm" && narrow.allowed.starts_with("15 mm"), "{narrow}");
    assert_eq!(port.fits(&PortSeat { passage_mm: Some(9.0), ..seat }).unwrap_err().field, "passage_mm");
    // A flat 24 mm from the axis of a 60 mm bar is 36 mm wide (3-4-5 triangle).
    assert!((flat_width_mm(60.0, 24.0) - 36.0).abs() < 1e-12);
    assert_eq!(flat_width_mm(60.0, 31.0), 0.0);
}

#[test]
fn a_thread_that_is_none_and_a_hole_that_leaves_none_are_faults() {
    assert!(Thread::find("screw", "M7").unwrap_err().allowed.contains("M6"));
    let m6 = Thread::find("screw", "M6").unwrap();
    assert_eq!(m6.height_percent(6.0).unwrap()[0], 0.0);
    for hole in [6.1, 4.0, f64::NAN] {
        assert_eq!(m6.height_percent(hole).unwrap_err().field, "hole_mm");
    }
    assert_eq!(m6.strength(0.0, 310.0, 800.0).unwrap_err().field, "engagement_mm");
}
