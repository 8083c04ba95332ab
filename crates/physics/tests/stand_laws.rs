//! Laws of the stand: symmetry, superposition, reciprocity, monotony, and that the turns told make it level.

use proptest::prelude::*;
use stillwheel_physics::stand::arbor::{Arbor, PointLoad, Step};
use stillwheel_physics::stand::budget::{Budget, Enough, Remedy, RotorOnArbor, Setting, floor};
use stillwheel_physics::stand::feet::Feet;
use stillwheel_physics::stand::level::{
    BubbleReading, HeightReading, Keep, Slope, foot_changes_mm, good_enough, slope_after, slope_from_bubbles, slope_from_heights, turns,
};
use stillwheel_physics::stand::supports::{AirFilm, ArborForm, Carried, Cause, DiscRollers, RollingWays, Support};

fn feet() -> impl Strategy<Value = Feet> {
    prop::array::uniform3(prop::array::uniform2(-300.0..300.0_f64)).prop_filter_map("in one line", |at| Feet::new(at).ok())
}

fn keep() -> impl Strategy<Value = Keep> {
    prop_oneof![Just(Keep::Height), Just(Keep::OnlyUp), Just(Keep::LeastTurning)]
}

fn slope() -> impl Strategy<Value = Slope> {
    (-5.0..5.0_f64, -5.0..5.0_f64).prop_map(|(x_mm_per_m, y_mm_per_m)| Slope { x_mm_per_m, y_mm_per_m })
}

proptest! {
    #[test]
    fn after_the_turns_told_the_readings_are_level(feet in feet(), slope in slope(), keep in keep(), pitch in prop::array::uniform3(0.5..1.5_f64)) {
        let turned = turns(&feet, slope, keep, pitch).unwrap();
        // Read again: heights of the three feet, the slope's own plane with each foot raised by its turns.
        let readings: Vec<HeightReading> = feet.places().into_iter().enumerate().map(|(i, [x_mm, y_mm])| HeightReading {
            x_mm, y_mm, height_mm: (slope.x_mm_per_m * x_mm + slope.y_mm_per_m * y_mm) * 1e-3 + turned[i] * pitch[i],
        }).collect();
        let again = slope_from_heights(&readings, 0.001).unwrap().slope;
        prop_assert!(again.x_mm_per_m.abs() < 1e-9 && again.y_mm_per_m.abs() < 1e-9, "{again:?}");
        let dz = std::array::from_fn(|i| turned[i] * pitch[i]);
        let after = slope_after(&feet, slope, dz);
        prop_assert!(after.x_mm_per_m.abs() < 1e-9 && after.y_mm_per_m.abs() < 1e-9, "{after:?}");
    }

    #[test]
    fn each_way_of_levelling_keeps_what_it_says(feet in feet(), slope in slope()) {
        let of = |keep| foot_changes_mm(&feet, slope, keep).unwrap();
        let total = |dz: [f64; 3]| dz.iter().map(|d| d.abs()).sum::<f64>();
        prop_assert!(of(Keep::Height).iter().sum::<f64>().abs() < 1e-12);
        prop_assert!(of(Keep::OnlyUp).iter().all(|d| *d >= 0.0) && of(Keep::OnlyUp).contains(&0.0));
        prop_assert!(total(of(Keep::LeastTurning)) <= total(of(Keep::Height)) + 1e-12);
        prop_assert!(total(of(Keep::LeastTurning)) <= total(of(Keep::OnlyUp)) + 1e-12);
    }

    #[test]
    fn a_layout_turned_with_its_slope_gets_the_same_turns(angles in prop::array::uniform3(0.0..360.0_f64), slope in slope(), by in 0.0..360.0_f64) {
        let Ok(feet) = Feet::on_circle(150.0, angles) else { return Ok(()) };
        let Ok(turned_feet) = Feet::on_circle(150.0, angles.map(|a| a + by)) else { return Ok(()) };
        let (s, c) = by.to_radians().sin_cos();
        let turned = Slope { x_mm_per_m: c * slope.x_mm_per_m - s * slope.y_mm_per_m, y_mm_per_m: s * slope.x_mm_per_m + c * slope.y_mm_per_m };
        let a = foot_changes_mm(&feet, slope, Keep::Height).unwrap();
        let b = foot_changes_mm(&turned_feet, turned, Keep::Height).unwrap();
        prop_assert!(a.iter().zip(b).all(|(a, b)| (a - b).abs() < 1e-9), "{a:?} {b:?}");
        let (p, q) = (feet.standing([0.0, 0.0], 300.0, 200.0).unwrap(), turned_feet.standing([0.0, 0.0], 300.0, 200.0).unwrap());
        prop_assert!((p.margin_mm - q.margin_mm).abs() < 1e-9);
    }

    #[test]
    fn turning_the_level_end_for_end_cancels_its_own_error_exactly(slope in slope(), error in -5.0..5.0_f64, along in 0.0..360.0_f64, apart in 30.0..150.0_f64) {
        let unit = 0.5;
        let read = |along_deg: f64| {
            let a = along_deg.to_radians();
            let true_divisions = (slope.x_mm_per_m * a.cos() + slope.y_mm_per_m * a.sin()) / unit;
            BubbleReading { along_deg, divisions: true_divisions + error, reversed_divisions: Some(true_divisions - error) }
        };
        let got = slope_from_bubbles(&[read(along), read(along + apart)], unit, 0.25).unwrap();
        prop_assert!((got.slope.x_mm_per_m - slope.x_mm_per_m).abs() < 1e-9 && (got.slope.y_mm_per_m - slope.y_mm_per_m).abs() < 1e-9);
        prop_assert!((got.vial_error_divisions.unwrap() - error).abs() < 1e-9 && got.largest_misfit < 1e-9);
        // One reversal is enough to take the same error off the other reading.
        let once = BubbleReading { reversed_divisions: None, ..read(along + apart) };
        let got = slope_from_bubbles(&[read(along), once], unit, 0.25).unwrap();
        prop_assert!((got.slope.x_mm_per_m - slope.x_mm_per_m).abs() < 1e-9 && (got.slope.y_mm_per_m - slope.y_mm_per_m).abs() < 1e-9);
    }

    #[test]
    fn feet_carry_the_weight_and_its_moment(feet in feet(), centre in prop::array::uniform2(-400.0..400.0_f64)) {
        let got = feet.standing(centre, 300.0, 200.0).unwrap();
        prop_assert!((got.foot_loads_n.iter().sum::<f64>() - 300.0).abs() < 1e-6);
        for axis in 0..2 {
            let moment: f64 = feet.places().iter().zip(got.foot_loads_n).map(|(p, f)| p[axis] * f).sum();
            prop_assert!((moment - 300.0 * centre[axis]).abs() < 1e-3);
        }
        // It stands exactly when every foot presses down; margins are distances, so they never grow faster than the way walked.
        prop_assert_eq!(got.is_stable(), got.foot_loads_n.iter().all(|f| *f > 1e-6));
        let moved = feet.standing([centre[0] + 3.0, centre[1] + 4.0], 300.0, 200.0).unwrap();
        prop_assert!((moved.margin_mm - got.margin_mm).abs() <= 5.0 + 1e-9);
    }
}

fn arbor(steps: Vec<(f64, f64)>, density: f64) -> Arbor {
    Arbor {
        steps: steps.into_iter().map(|(length_mm, d)| Step { length_mm, outer_diameter_mm: d, inner_diameter_mm: 0.2 * d }).collect(),
        modulus_gpa: 205.0,
        density_g_cm3: density,
        supports_mm: [0.0, 1.0],
        loads: Vec::new(),
    }
}

fn steps() -> impl Strategy<Value = Vec<(f64, f64)>> {
    prop::collection::vec((20.0..80.0_f64, 12.0..40.0_f64), 1..6)
}

proptest! {
    #[test]
    fn maxwell_a_load_here_bends_there_as_a_load_there_bends_here(
        steps in steps(), s in prop::array::uniform2(0.0..1.0_f64), p in 0.0..1.0_f64, q in 0.0..1.0_f64,
    ) {
        let mut arbor = arbor(steps, 0.0);
        let l: f64 = arbor.steps.iter().map(|s| s.length_mm).sum();
        let (a, b) = (l * s[0].min(s[1]), l * s[0].max(s[1]));
        prop_assume!(b - a > 10.0);
        arbor.supports_mm = [a, b];
        let fall = |at: f64, loaded: f64| {
            let mut one = arbor.clone();
            one.loads = vec![PointLoad { at_mm: loaded * l, force_n: 100.0 }];
            one.bend().unwrap().fall_um(at * l)
        };
        let (there, here) = (fall(p, q), fall(q, p));
        prop_assert!((there - here).abs() < 1e-9 * (1.0 + there.abs().max(1e3)), "{there} {here}");
    }

    #[test]
    fn loads_superpose_and_supports_do_not_move(steps in steps(), p in 0.0..1.0_f64, q in 0.0..1.0_f64, at in 0.0..1.0_f64) {
        let mut arbor = arbor(steps, 7.8);
        let l: f64 = arbor.steps.iter().map(|s| s.length_mm).sum();
        arbor.supports_mm = [0.1 * l, 0.9 * l];
        let bent = |density: f64, loads: Vec<PointLoad>| Arbor { density_g_cm3: density, loads, ..arbor.clone() }.bend().unwrap();
        let (first, second) = (PointLoad { at_mm: p * l, force_n: 80.0 }, PointLoad { at_mm: q * l, force_n: -30.0 });
        let all = bent(7.8, vec![first, second]);
        let parts = [bent(7.8, vec![]), bent(0.0, vec![first]), bent(0.0, vec![second])];
        let sum = parts.iter().map(|b| b.fall_um(at * l)).sum::<f64>();
        prop_assert!((all.fall_um(at * l) - sum).abs() < 1e-8 * (1.0 + sum.abs()));
        prop_assert!((all.slope_urad(at * l) - parts.iter().map(|b| b.slope_urad(at * l)).sum::<f64>()).abs() < 1e-6);
        for s in arbor.supports_mm {
            prop_assert!(all.fall_um(s).abs() < 1e-9);
        }
        // Statics: no moment is left at either end of the arbor.
        prop_assert!(all.moment_n_mm(0.0).abs() < 1e-6 && all.moment_n_mm(l).abs() < 1e-6);
    }

    #[test]
    fn a_mirrored_arbor_bends_as_the_mirror_image(steps in steps(), p in 0.0..1.0_f64, at in 0.0..1.0_f64) {
        let mut arbor = arbor(steps, 7.8);
        let l: f64 = arbor.steps.iter().map(|s| s.length_mm).sum();
        arbor.supports_mm = [0.2 * l, 0.7 * l];
        arbor.loads = vec![PointLoad { at_mm: p * l, force_n: 80.0 }];
        let mut mirrored = arbor.clone();
        mirrored.steps.reverse();
        mirrored.supports_mm = [0.3 * l, 0.8 * l];
        mirrored.loads[0].at_mm = l - p * l;
        let (a, b) = (arbor.bend().unwrap(), mirrored.bend().unwrap());
        prop_assert!((a.fall_um(at * l) - b.fall_um(l - at * l)).abs() < 1e-8 * (1.0 + a.fall_um(at * l).abs()));
        prop_assert!((a.reactions_n[0] - b.reactions_n[1]).abs() < 1e-9);
        prop_assert!((a.support_slopes_urad[0] + b.support_slopes_urad[1]).abs() < 1e-6);
    }
}

fn rotor() -> RotorOnArbor {
    RotorOnArbor {
        mass_kg: 2.9,
        seated_mass_kg: 2.3,
        inertia_kg_m2: 0.0082,
        wheel_diameter_mm: 200.0,
        arbor: ArborForm { radius_mm: 10.0, roundness_um: 0.5, lobes: 3 },
        runout_um: 2.0,
        index_balanced: false,
        seat_play_um: 0.5,
    }
}

fn setting() -> Setting {
    Setting { cross_slope_mm_per_m: 0.02, axial_slope_mm_per_m: 0.03, draught_m_s: 0.05, visible_creep_deg: 2.0, patience_s: 60.0 }
}

fn air() -> AirFilm {
    AirFilm {
        drift_g_mm: 0.4,
        drift_sd_g_mm: 0.1,
        drift_per_cross_slope_g_mm: 0.04,
        viscous_drag_g_mm_s: 0.02,
        axis_tilt_mm_per_m: 0.02,
        end_stop_friction: 0.15,
        end_stop_radius_mm: 3.0,
        roundness_share: 0.2,
    }
}

fn ways() -> RollingWays {
    RollingWays { lever_arm_um: 8.0, flatness_um: 1.0, length_mm: 150.0 }
}

fn discs() -> DiscRollers {
    DiscRollers {
        disc_radius_mm: 60.0,
        bearing_radius_mm: 4.0,
        bearing_friction: 0.0015,
        contact_deg: 30.0,
        lever_arm_um: 8.0,
        disc_unbalance_g_mm: 3.0,
    }
}

fn supports() -> impl Strategy<Value = Support> {
    prop_oneof![
        Just(Support::Air(air())),
        Just(Support::HardenedWays(ways())),
        Just(Support::KnifeEdges(ways())),
        Just(Support::DiscRollers(discs())),
    ]
}

/// One cause made worse by a factor above 1.
fn worse(which: usize, by: f64, support: &mut Support, rotor: &mut RotorOnArbor, setting: &mut Setting) {
    match which {
        0 => rotor.arbor.roundness_um *= by,
        1 => rotor.runout_um *= by,
        2 => rotor.seat_play_um *= by,
        3 => setting.cross_slope_mm_per_m *= by,
        4 => setting.axial_slope_mm_per_m *= by,
        5 => setting.draught_m_s *= by,
        6 => setting.visible_creep_deg *= by,
        7 => setting.patience_s /= by,
        8 => rotor.inertia_kg_m2 *= by,
        _ => match support {
            Support::Air(f) => {
                f.drift_g_mm *= by;
                f.drift_sd_g_mm *= by;
                f.end_stop_radius_mm *= by;
                f.viscous_drag_g_mm_s *= by;
            }
            Support::HardenedWays(w) | Support::KnifeEdges(w) => {
                w.lever_arm_um *= by;
                w.flatness_um *= by;
            }
            Support::DiscRollers(d) => {
                d.bearing_friction *= by;
                d.lever_arm_um *= by;
                d.disc_unbalance_g_mm *= by;
            }
        },
    }
}

fn floor_of(support: &Support, rotor: &RotorOnArbor, setting: &Setting) -> Budget {
    floor(support, rotor, setting, 10.0, &[]).unwrap()
}

proptest! {
    #[test]
    fn the_floor_never_falls_when_a_cause_grows(support in supports(), which in 0..10_usize, by in 1.0..3.0_f64) {
        let before = floor_of(&support, &rotor(), &setting());
        let (mut s, mut r, mut t) = (support, rotor(), setting());
        worse(which, by, &mut s, &mut r, &mut t);
        let after = floor_of(&s, &r, &t);
        prop_assert!(after.floor_g_mm >= before.floor_g_mm * (1.0 - 1e-12), "{which}: {} {}", before.floor_g_mm, after.floor_g_mm);
        prop_assert!(after.worst_case_g_mm >= before.worst_case_g_mm * (1.0 - 1e-12));
    }

    #[test]
    fn the_sums_of_the_budget_are_those_of_its_lines(support in supports(), allowance in 0.1..100.0_f64) {
        let b = floor(&support, &rotor(), &setting(), allowance, &[]).unwrap();
        let square: f64 = b.lines.iter().map(|l| l.size_g_mm.powi(2)).sum();
        prop_assert!((b.floor_g_mm - square.sqrt()).abs() < 1e-9);
        prop_assert!(b.floor_g_mm <= b.worst_case_g_mm + 1e-12 && b.floor_drift_known_g_mm <= b.floor_g_mm);
        prop_assert!((b.lines.iter().map(|l| l.share).sum::<f64>() - 1.0).abs() < 1e-9);
        prop_assert!(b.lines.windows(2).all(|w| w[0].size_g_mm >= w[1].size_g_mm));
        prop_assert_eq!(b.enough == Enough::Surely, b.worst_case_g_mm <= allowance);
        prop_assert_eq!(b.enough == Enough::No, b.floor_g_mm > allowance);
        for l in &b.lines {
            let halved: f64 = b.lines.iter().map(|o| o.size_g_mm.powi(2) / if o.contribution.cause == l.contribution.cause { 4.0 } else { 1.0 }).sum();
            prop_assert!((l.floor_if_halved_g_mm - halved.sqrt()).abs() < 1e-9);
        }
        // When halving one cause is enough, none cheaper would do.
        if b.enough == Enough::No {
            let chosen = &b.lines[b.improve.unwrap()];
            let alone = |l: &&stillwheel_physics::stand::budget::Line| l.floor_if_halved_g_mm <= allowance;
            if let Some(cheapest) = b.lines.iter().filter(alone).map(|l| l.remedy.cost).min() {
                prop_assert!(alone(&chosen) && chosen.remedy.cost == cheapest);
            }
        }
    }

    #[test]
    fn slope_within_the_good_enough_uses_no_more_than_its_share(support in supports(), target in 0.05..5.0_f64, share in 0.05..0.5_f64) {
        let on = Carried { mass_kg: 2.9, arbor: rotor().arbor, cross_slope_mm_per_m: 0.0, axial_slope_mm_per_m: 0.0 };
        let Ok(good) = good_enough(&support, &on, target, share, 2.0) else {
            // The floats alone tilt it too much: then the fault is right.
            prop_assert!(0.15 * 2900.0 * 0.02e-3 * 3.0 >= share * target);
            return Ok(());
        };
        if let Some(cross) = good.cross_mm_per_m {
            let sloped = Carried { cross_slope_mm_per_m: cross, ..on };
            let by_slope = |e: stillwheel_physics::stand::supports::Effects| e.contributions.iter().find(|c| c.cause == Cause::CrossSlope).unwrap().systematic_g_mm;
            prop_assert!(by_slope(support.effects(&sloped).unwrap()) <= share * target * (1.0 + 1e-9));
        }
        if let Some(axial) = good.axial_mm_per_m {
            let sloped = Carried { axial_slope_mm_per_m: axial, ..on };
            prop_assert!(support.effects(&sloped).unwrap().dead_band_g_mm <= share * target * (1.0 + 1e-9));
        }
    }
}

#[test]
fn index_balancing_takes_the_run_out_off_and_nothing_else() {
    let support = Support::Air(air());
    let plain = floor_of(&support, &rotor(), &setting());
    let turned = floor_of(&support, &RotorOnArbor { index_balanced: true, ..rotor() }, &setting());
    let runout = 2.3 * 2.0 / 2.0;
    assert!((plain.floor_g_mm.powi(2) - turned.floor_g_mm.powi(2) - runout * runout).abs() < 1e-9);
}

#[test]
fn a_shop_with_other_costs_is_told_another_first_step() {
    // Halving rolling friction alone meets 18 g·mm on ways; nothing else does, whatever it costs. On air the cheapest wins.
    let ways = floor(&Support::HardenedWays(ways()), &rotor(), &setting(), 18.0, &[]).unwrap();
    assert_eq!(ways.enough, Enough::No);
    assert_eq!(ways.lines[ways.improve.unwrap()].contribution.cause, Cause::RollingFriction);
    let usual = floor_of(&Support::Air(air()), &rotor(), &setting());
    assert_eq!(usual.lines[usual.improve.unwrap()].contribution.cause, Cause::ArborRunout);
    let dear = Remedy { cause: Cause::ArborRunout, cost: 9, words: "a new arbor".into() };
    let cheap = Remedy { cause: Cause::AdapterFit, cost: 1, words: "clean the seat".into() };
    let other = floor(&Support::Air(air()), &rotor(), &setting(), 10.0, &[dear, cheap]).unwrap();
    let first = &other.lines[other.improve.unwrap()];
    assert_eq!((first.contribution.cause, first.remedy.words.as_str()), (Cause::AdapterFit, "clean the seat"));
}

#[test]
fn feet_in_one_line_or_on_one_spot_are_faults() {
    for at in [[[0.0, 0.0], [100.0, 0.0], [200.0, 1.0]], [[0.0, 0.0], [0.0, 0.0], [100.0, 50.0]], [[5.0, 5.0]; 3]] {
        let f = Feet::new(at).unwrap_err();
        assert_eq!(f.field, "feet");
        assert!(f.why.contains("one line"), "{f}");
    }
    assert_eq!(Feet::new([[0.0, 0.0], [f64::NAN, 0.0], [0.0, 100.0]]).unwrap_err().field, "feet[1].x_mm");
}

#[test]
fn readings_that_do_not_tell_both_slopes_are_faults() {
    let bubble = |along_deg| BubbleReading { along_deg, divisions: 1.0, reversed_divisions: None };
    for readings in [vec![], vec![bubble(0.0)], vec![bubble(0.0), bubble(180.0)], vec![bubble(10.0), bubble(29.0)]] {
        assert_eq!(slope_from_bubbles(&readings, 0.02, 0.25).unwrap_err().field, "readings");
    }
    let place = |x_mm, y_mm| HeightReading { x_mm, y_mm, height_mm: 0.0 };
    for readings in [vec![place(0.0, 0.0), place(1.0, 0.0)], vec![place(0.0, 0.0), place(100.0, 100.0), place(200.0, 200.0)]] {
        assert_eq!(slope_from_heights(&readings, 0.01).unwrap_err().field, "readings");
    }
}
