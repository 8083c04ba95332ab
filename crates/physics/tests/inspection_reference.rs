//! Verdicts, gauges, questions, pairings and the effect of what was made, against standards, brute force and the film's own reference.

#[path = "../../../reference/check.rs"]
mod check;
#[path = "making_support/stand.rs"]
mod stand;

use check::Case;
use proptest::prelude::*;
use rstest::rstest;
use stand::birch;
use stillwheel_physics::making::inspection::{
    Advice, BoreGauge, Feature, MOST_PARTS, Verdict, Zone, best_match, check_form_um, check_size_mm, expanded_um, rework,
};
use stillwheel_physics::making::made::{Laying, Made, WORST_OVAL_DEG};
use stillwheel_physics::stand::level::arcsec_of_mm_per_m;

fn zone(c: &Case) -> Zone {
    let limits = c.inputs("limits_um");
    Zone::um(limits[0], limits[1], c.input("U_um")).unwrap()
}

#[test]
fn a_verdict_counts_the_uncertainty_against_whoever_proves() {
    let c = Case::mechanical("14253-25H7");
    c.check_list("accept_um", &zone(&c).accepts().unwrap());
    let c = Case::mechanical("14253-verdicts");
    let got: Vec<&str> = c.inputs("readings_um").into_iter().map(|r| zone(&c).judge(r).words()).collect();
    c.check_words("verdict", &got);
    let c = Case::mechanical("14253-U-too-large");
    assert_eq!(zone(&c).accepts().is_some(), c.expected("accept_possible").as_bool().unwrap());
    // Then no reading conforms, and one far outside still does not.
    assert_eq!(zone(&c).judge(5.5), Verdict::NotProven);
    assert_eq!(zone(&c).judge(18.1), Verdict::DoesNotConform);
}

#[test]
fn a_bore_gauge_has_the_uncertainty_of_its_parts() {
    let c = Case::mechanical("bore-gauge-U");
    let gauge = BoreGauge {
        ring_u_um: c.input("ring_U_um"),
        repeat_um: c.input("s_um"),
        readings: c.input("n") as u32,
        resolution_um: c.input("resolution_um"),
        diameter_mm: c.input("D_mm"),
        cte_difference_per_mk: c.input("cte_diff"),
        temperature_half_width_k: c.input("dT_halfwidth_K"),
    };
    let parts = gauge.parts_um().unwrap();
    c.check_list("u_parts_um", &parts);
    let (combined, expanded) = expanded_um(&parts);
    c.check("u_c_um", combined);
    c.check("U_um_k2", expanded);
}

#[test]
fn a_level_of_two_hundredths_is_a_vial_of_a_hundred_metres() {
    let c = Case::mechanical("level-0.02");
    let slope = c.input("sens_mm_per_m");
    c.check("angle_arcsec", arcsec_of_mm_per_m(slope));
    // Radius = division over slope, rise = slope times base (definition).
    c.check("vial_radius_m", c.input("division_mm") / slope);
    c.check("rise_um", slope * c.input("base_mm"));
}

proptest! {
    #[test]
    fn a_finer_gauge_never_takes_a_verdict_back(low in -50.0..0.0_f64, width in 1.0..60.0_f64, u in 0.0..20.0_f64, finer in 0.0..1.0_f64, reading in -100.0..100.0_f64) {
        let coarse = Zone::um(low, low + width, u).unwrap().judge(reading);
        let fine = Zone::um(low, low + width, u * finer).unwrap().judge(reading);
        if coarse != Verdict::NotProven {
            prop_assert_eq!(coarse, fine);
        }
        // With a perfect gauge everything is proven.
        let perfect = Zone::um(low, low + width, 0.0).unwrap().judge(reading);
        prop_assert_eq!(perfect == Verdict::Conforms, reading >= low - 1e-9 && reading <= low + width + 1e-9);
    }

    #[test]
    fn metal_that_is_to_come_off_leads_to_the_middle(low in -50.0..0.0_f64, width in 5.0..60.0_f64, u in 0.1..2.0_f64, over in 3.0..80.0_f64) {
        let zone = Zone::um(low, low + width, u).unwrap();
        let shaft = rework(Feature::Outside, &zone, low + width + over);
        prop_assert_eq!(shaft.advice, Advice::TakeOff);
        prop_assert!((low + width + over - shaft.take_off_um - (low + 0.5 * width)).abs() < 1e-9);
        prop_assert_eq!(rework(Feature::Inside, &zone, low + width + over).advice, Advice::BushOrMate);
        prop_assert_eq!(rework(Feature::Inside, &zone, low - over).advice, Advice::TakeOff);
        prop_assert_eq!(rework(Feature::Outside, &zone, low - over).advice, Advice::BushOrMate);
        prop_assert_eq!(rework(Feature::Other, &zone, low - over).advice, Advice::SetAnew);
    }
}

#[test]
fn a_gauge_that_can_not_tell_is_told_how_good_it_must_be() {
    // 25 H7 with U 2: 20 lies 1 µm inside; a U below 1 proves it.
    let got = rework(Feature::Inside, &Zone::um(0.0, 21.0, 2.0).unwrap(), 20.0);
    assert_eq!((got.advice, got.needs_u_um), (Advice::MeasureBetter, Some(1.0)));
}

#[rstest]
#[case::inch(1.5748, "inches")]
#[case::mm_times_inch(1016.0, "25.4")]
#[case::point_left(4.0002, "factor of ten too small")]
#[case::point_right(400.02, "factor of ten too large")]
#[case::micrometres(40_003.0, "µm")]
#[case::metres(0.04, "metres")]
#[case::another_dimension(28.0, "typo")]
#[case::not_a_number(f64::NAN, "measured")]
fn a_size_that_can_not_be_meant_is_asked_about(#[case] typed: f64, #[case] asks: &str) {
    let fault = check_size_mm("measured[0].measured_mm", 40.0, 0.025, typed).unwrap_err();
    assert_eq!(fault.field, "measured[0].measured_mm");
    assert!(fault.why.contains(asks), "{fault}");
    // A bad part is no typo.
    for v in [40.012, 39.9, 40.5, 38.5] {
        check_size_mm("it", 40.0, 0.025, v).unwrap();
    }
}

#[test]
fn a_form_in_another_unit_is_asked_about() {
    check_form_um("it", 0.5, 4.0).unwrap();
    check_form_um("it", 0.5, -4.0).unwrap();
    assert!(check_form_um("it", 0.5, 12.7).unwrap_err().why.contains("another unit"));
    assert!(check_form_um("it", 0.5, f64::INFINITY).is_err());
}

/// All ways to give each hole a shaft, plainly.
fn by_trying_all(holes: &[f64], shafts: &[f64], wanted: [f64; 2]) -> (usize, f64) {
    fn go(holes: &[f64], left: &mut Vec<f64>, wanted: [f64; 2], so_far: (usize, f64), best: &mut Option<(usize, f64)>) {
        let Some((hole, rest)) = holes.split_first() else {
            if best.is_none_or(|b| so_far.0 > b.0 || (so_far.0 == b.0 && so_far.1 < b.1)) {
                *best = Some(so_far);
            }
            return;
        };
        for k in 0..left.len() {
            let shaft = left.remove(k);
            let c = 1e3 * (hole - shaft);
            let within = c >= wanted[0] - 1e-6 && c <= wanted[1] + 1e-6;
            let off = (c - 0.5 * (wanted[0] + wanted[1])).powi(2);
            go(rest, left, wanted, (so_far.0 + usize::from(within), so_far.1 + off), best);
            left.insert(k, shaft);
        }
    }
    let mut best = None;
    go(holes, &mut shafts.to_vec(), wanted, (0, 0.0), &mut best);
    best.unwrap()
}

proptest! {
    #[test]
    fn the_pairing_is_the_best_of_all(
        holes in prop::collection::vec(0..60_u32, 1..5), more in prop::collection::vec(0..60_u32, 5..7), wanted in (0..20_u32, 1..30_u32), turned: bool,
    ) {
        let size = |base: f64, um: &Vec<u32>| um.iter().map(|u| base + f64::from(*u) * 1e-3).collect::<Vec<_>>();
        let wanted = [f64::from(wanted.0), f64::from(wanted.0 + wanted.1)];
        // More shafts than holes, or the other way round with sizes mirrored about a common middle.
        let (few, many) = (size(40.02, &holes), size(40.0, &more));
        let got = if turned {
            let mirrored = |v: &Vec<f64>| v.iter().map(|x| 80.0 - x).collect::<Vec<_>>();
            best_match(&mirrored(&many), &mirrored(&few), wanted).unwrap()
        } else {
            best_match(&few, &many, wanted).unwrap()
        };
        let (within, off) = by_trying_all(&few, &many, wanted);
        let paired: Vec<f64> = got.clearance_um.iter().flatten().copied().collect();
        prop_assert_eq!(paired.len(), few.len());
        prop_assert_eq!(got.within, within);
        let middle = 0.5 * (wanted[0] + wanted[1]);
        let got_off: f64 = paired.iter().map(|c| (c - middle).powi(2)).sum();
        prop_assert!((got_off - off).abs() < 1e-6 * off.max(1.0), "{} {}", got_off, off);
        let mut shafts: Vec<usize> = got.shaft_of.iter().flatten().copied().collect();
        shafts.sort_unstable();
        shafts.dedup();
        prop_assert_eq!(shafts.len(), few.len(), "no shaft twice");
    }
}

#[test]
fn a_lot_that_can_not_be_matched_is_a_fault() {
    assert_eq!(best_match(&[], &[40.0], [0.0, 10.0]).unwrap_err().field, "holes_mm");
    assert_eq!(best_match(&[40.0], &vec![40.0; MOST_PARTS + 1], [0.0, 10.0]).unwrap_err().field, "shafts_mm");
    assert_eq!(best_match(&[40.0], &[f64::NAN], [0.0, 10.0]).unwrap_err().field, "shafts_mm[0]");
    assert_eq!(best_match(&[40.0], &[40.0], [10.0, 0.0]).unwrap_err().field, "wanted_clearance_um[1]");
    assert_eq!(best_match(&[40.0; MOST_PARTS], &[39.99; MOST_PARTS], [0.0, 20.0]).unwrap().within, MOST_PARTS);
}

#[test]
fn a_stand_as_drawn_does_as_the_stand_room_says() {
    // Two alike saddles in line: each as if alone (OnAir floats each from cold).
    let work = birch();
    let (alone, pair) = (work.on.borne().unwrap(), work.doing(&Made::default()).unwrap());
    assert!((pair.flow_l_min / alone.flow_l_min - 1.0).abs() < 1e-6);
    assert!(pair.drift_g_mm.abs() < 1e-6 && pair.axis_tilt_mm_per_m.abs() < 1e-9);
    assert!((pair.drift_per_cross_slope_g_mm / alone.film.drift_per_cross_slope_g_mm - 1.0).abs() < 1e-3);
}

#[test]
fn ports_off_the_same_way_drift_twice_and_turned_against_one_another_cancel() {
    // Film physics notes §6 (independent finite elements): 0.196 g·mm a saddle for a port 0.1 mm off.
    let made = Made { port_aside_mm: [0.1, 0.1], ..Made::default() };
    let work = birch();
    let both = work.doing(&made).unwrap();
    assert!((both.drift_g_mm.abs() - 0.392).abs() < 0.004, "{}", both.drift_g_mm);
    let turned = made.laid(Laying { turned: [false, true], ..Laying::default() });
    let against = work.doing(&turned).unwrap();
    assert!(against.drift_g_mm.abs() < 0.01 * both.drift_g_mm.abs(), "{}", against.drift_g_mm);
    assert!(against.floor_g_mm < both.floor_g_mm);
    // 1 µm of oval at 45°: 0.59 each (same notes).
    let oval = Made { oval_um: [1.0, 1.0], oval_deg: [WORST_OVAL_DEG; 2], ..Made::default() };
    assert!((work.doing(&oval).unwrap().drift_g_mm.abs() - 1.18).abs() < 0.012);
}

#[test]
fn a_wider_bore_floats_lower_on_its_side() {
    let work = birch();
    let drawn = work.doing(&Made::default()).unwrap();
    let wide = work.doing(&Made { bore_um: [6.0, 0.0], ..Made::default() }).unwrap();
    assert!(wide.axis_tilt_mm_per_m > 0.0, "the first end floats lower: {}", wide.axis_tilt_mm_per_m);
    // A thicker arbor in a bore as much larger leaves the film as it was but for the radius.
    let grown = work.doing(&Made { bore_um: [6.0; 2], arbor_um: [6.0; 2], ..Made::default() }).unwrap();
    assert!((grown.flow_l_min / drawn.flow_l_min - 1.0).abs() < 1e-3);
    // Bores 10 µm apart in height: 10 µm over the span (case saddle-height-difference: geometry), less what the films give way.
    let off = work.doing(&Made { second_off_um: [0.0, 5.0], ..Made::default() }).unwrap();
    assert!((off.axis_tilt_mm_per_m - 5.0 / 110.0).abs() < 0.003, "{}", off.axis_tilt_mm_per_m);
    // An arbor that does not go in is a fault of the film, in its saddle.
    let fault = work.doing(&Made { bore_um: [-27.0, 0.0], ..Made::default() }).unwrap_err();
    assert!(fault.field.starts_with("saddles[0]."), "{fault}");
}

#[test]
fn parts_laid_the_other_way_keep_their_own_departures() {
    let made = Made { bore_um: [1.0, 2.0], arbor_um: [3.0, 4.0], port_aside_mm: [0.1, -0.2], oval_deg: [10.0, 20.0], ..Made::default() };
    let way = Laying { swapped: true, turned: [true, false], arbor_turned: true };
    let got = made.laid(way);
    assert_eq!((got.bore_um, got.arbor_um), ([2.0, 1.0], [4.0, 3.0]));
    assert_eq!((got.port_aside_mm, got.oval_deg), ([0.2, 0.1], [-20.0, 10.0]));
    assert_eq!(way.moves(), 3);
    assert_eq!(Laying::all().count(), 16);
    assert_eq!(made.laid(Laying::default()), made);
}
