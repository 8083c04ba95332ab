//! Laws of the film: symmetry, scaling, order, and what the pair and the drift must do. And the inputs that are refused.

#[path = "../../../reference/check.rs"]
mod check;
mod film_support;

use film_support::demo_saddle;
use proptest::prelude::*;
use stillwheel_physics::Fault;
use stillwheel_physics::film::{
    Air, Cause, Duty, Film, FilmState, Fineness, Form, Lobe, MeasuredForm, Pair, Pocket, Pose, Saddle, separate_end_for_end,
};
use stillwheel_physics::quantity::{Angle, RotorAngle, Unbalance};

fn state(saddle: &Saddle, pose: Pose, supply_pa: f64) -> FilmState {
    let film = Film::new(saddle, Fineness::NORMAL).expect("allowed");
    film.shape(pose).expect("a film").at(&Air::default(), supply_pa)
}

prop_compose! {
    /// A saddle of a size that shops make, with a port anywhere near the middle.
    fn any_saddle()(bore in 12.0..40.0_f64, slim in 0.9..1.6_f64, clearance in 6.0..25.0_f64, arc in 110.0..180.0_f64, port in 0.4..3.0_f64,
                    aside in -1.0..1.0_f64, along in -2.0..2.0_f64, jet in proptest::option::of(0.1..0.35_f64),
                    pocket in proptest::option::of(3.2..7.0_f64)) -> Saddle {
        let mut s = demo_saddle();
        s.bore_diameter_m = bore * 1e-3;
        s.length_m = slim * bore * 1e-3;
        s.clearance_m = clearance * 1e-6;
        s.arc_rad = arc.to_radians();
        s.port.diameter_m = port * 1e-3;
        s.port.around_m = aside * 1e-3;
        s.port.along_m = along * 1e-3;
        s.port.jet_diameter_m = jet.map(|d| d * 1e-3);
        s.port.pocket = pocket.map(|d| Pocket::Round { diameter_m: d * 1e-3, depth_m: 5e-5 });
        s
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_mirrored_saddle_gives_mirrored_results(s in any_saddle(), x in -0.3..0.3_f64, y in -0.6..0.9_f64, oval in -0.2..0.2_f64, at in 0.0..1.5_f64) {
        let mut s = s;
        s.form = Form::oval(oval * s.clearance_m, at);
        let mut mirrored = s.clone();
        mirrored.port.around_m = -s.port.around_m;
        mirrored.form = Form::oval(oval * s.clearance_m, -at);
        let pose = |sign: f64| Pose { x_m: sign * x * s.clearance_m, y_m: y * s.clearance_m, ..Pose::default() };
        let (a, b) = (state(&s, pose(1.0), 4e5), state(&mirrored, pose(-1.0), 4e5));
        let scale = a.force_up_n();
        prop_assert!((a.force_up_n() - b.force_up_n()).abs() < 1e-9 * scale);
        prop_assert!((a.force_right_n() + b.force_right_n()).abs() < 1e-9 * scale);
        prop_assert!((a.torque_n_m + b.torque_n_m).abs() < 1e-9 * scale * s.clearance_m);
        prop_assert!((a.flow_kg_s / b.flow_kg_s - 1.0).abs() < 1e-9);
    }

    #[test]
    fn a_symmetric_saddle_has_no_drift_torque(s in any_saddle(), y in -0.6..0.9_f64, oval in -0.2..0.2_f64) {
        let mut s = s;
        s.port.around_m = 0.0;
        s.form = Form::oval(oval * s.clearance_m, 0.0);
        let a = state(&s, Pose { y_m: y * s.clearance_m, ..Pose::default() }, 4e5);
        prop_assert!(a.torque_n_m.abs() < 1e-9 * a.force_up_n() * s.clearance_m);
        prop_assert!(a.force_right_n().abs() < 1e-9 * a.force_up_n());
    }

    #[test]
    fn with_the_port_at_supply_flow_goes_with_the_cube_of_the_film_and_load_stays(s in any_saddle(), y in -0.6..0.9_f64, factor in 1.1..3.0_f64) {
        // All of h scaled: w and so the pressures stay, the flow grows with h³.
        let mut thick = s.clone();
        thick.clearance_m *= factor;
        let unrestricted = |s: &Saddle| {
            let film = Film::new(s, Fineness::NORMAL).expect("allowed");
            film.shape(Pose { y_m: y * s.clearance_m, ..Pose::default() }).expect("a film").unrestricted(&Air::default(), 4e5)
        };
        let (a, b) = (unrestricted(&s), unrestricted(&thick));
        prop_assert!((b.flow_kg_s / a.flow_kg_s / factor.powi(3) - 1.0).abs() < 1e-9);
        prop_assert!((b.force_up_n() / a.force_up_n() - 1.0).abs() < 1e-9);
    }

    #[test]
    fn above_the_maximum_the_load_rises_as_the_film_falls(s in any_saddle()) {
        let duty = Duty::new(Air::default(), 4e5, 8.0);
        if let Ok(floats) = s.floats(&duty) {
            prop_assert!(floats.lowest().stable && floats.lowest().stiffness_up_n_m() > 0.0);
            let top = floats.largest_load_at.y_m;
            for pair in floats.curve.windows(2).filter(|p| p[0].y_m > top && p[0].held_sideways) {
                prop_assert!(pair[1].force_up_n < pair[0].force_up_n, "{:?}", pair);
            }
            // A heavier rotor floats lower.
            let heavier = s.floats(&Duty { load_n: 9.0, ..duty });
            if let Ok(h) = heavier {
                prop_assert!(h.lowest().state.pose.y_m < floats.lowest().state.pose.y_m);
            }
        }
    }

    #[test]
    fn slopes_are_those_of_the_forces(s in any_saddle(), x in -0.3..0.3_f64, y in -0.5..0.9_f64, tx in -0.2..0.2_f64, ty in -0.2..0.2_f64) {
        let c = s.clearance_m;
        let film = Film::new(&s, Fineness::NORMAL).expect("allowed");
        let at = |d: [f64; 4]| {
            let pose = Pose {
                x_m: (x + d[0]) * c, y_m: (y + d[1]) * c,
                tilt_x_rad: (tx + d[2]) * c / s.length_m, tilt_y_rad: (ty + d[3]) * c / s.length_m,
            };
            film.shape(pose).expect("a film").at(&Air::default(), 4e5)
        };
        let middle = at([0.0; 4]);
        let d = 1e-4;
        for k in 0..4 {
            let mut step = [0.0; 4];
            step[k] = d;
            let unit = if k < 2 { c } else { c / s.length_m };
            let (b, a) = (at(step), at(step.map(|v| -v)));
            for r in 0..4 {
                let want = (b.forces[r] - a.forces[r]) / (2.0 * d * unit);
                let scale = middle.forces[1] / unit * if r < 2 { 1.0 } else { s.length_m };
                prop_assert!((middle.slopes[r][k] - want).abs() < 1e-5 * scale, "{} {}: {} {}", r, k, middle.slopes[r][k], want);
            }
        }
    }
}

#[test]
fn a_stand_that_leans_is_a_bore_turned_under_a_load_straight_down() {
    let lean = 2e-3_f64;
    let duty = Duty::new(Air::default(), 4e5, 15.0);
    let saddle = demo_saddle();
    let leaning = saddle.floats(&duty.leaning(lean)).expect("it floats");
    // Leaning down to the right, the bottom of the bore stands left of straight down: the same bore turned clockwise seen from the load.
    let mut turned = saddle.clone();
    turned.port.around_m = -turned.bore_radius_m() * lean;
    turned.arc_turned_rad = -lean;
    let load = 15.0 * (1.0 + lean * lean).sqrt();
    let straight = turned.floats(&Duty { load_n: load, ..duty }).expect("it floats");
    let (a, b) = (leaning.lowest(), straight.lowest());
    assert!((a.drift().g_mm() / b.drift().g_mm() - 1.0).abs() < 1e-3, "{} {}", a.drift().g_mm(), b.drift().g_mm());
    assert!(a.drift().g_mm() < 0.0, "an arbor that leans to the right is dragged clockwise: {}", a.drift().g_mm());
    // The same place, seen from the turned frame.
    let off = |p: Pose| p.x_m.hypot(p.y_m);
    assert!((off(a.state.pose) - off(b.state.pose)).abs() < 1e-11);
}

#[test]
fn lobes_read_on_a_grid_act_as_the_lobes() {
    let mut saddle = demo_saddle();
    saddle.form = Form { lobes: vec![Lobe { waves: 3, amplitude_m: 1e-6, at_rad: 0.3 }], ..Form::default() };
    let mut measured = saddle.clone();
    let theta: Vec<f64> = (0..=36).map(|i| (f64::from(i) * 5.0 - 90.0).to_radians()).collect();
    let row: Vec<f64> = theta.iter().map(|t| 1e-6 * (3.0 * (t - 0.3)).cos()).collect();
    let grid = MeasuredForm::new(theta, vec![0.0], &[row]).expect("a grid");
    measured.form = Form { measured: Some(grid), ..Form::default() };
    let duty = Duty::new(Air::default(), 4e5, 15.0);
    let (a, b) = (saddle.floats(&duty).expect("it floats"), measured.floats(&duty).expect("it floats"));
    assert!(a.lowest().drift().g_mm().abs() > 0.1);
    assert!((a.lowest().drift().g_mm() / b.lowest().drift().g_mm() - 1.0).abs() < 0.01);
}

#[test]
fn lift_off_is_where_the_rest_force_carries_the_load() {
    let saddle = demo_saddle();
    let duty = Duty::new(Air::default(), 4e5, 8.0);
    let floats = saddle.floats(&duty).expect("it floats");
    let lift_off = floats.lift_off_pa.expect("it lifts");
    for (supply_pa, lifts) in [(0.99 * lift_off, false), (1.01 * lift_off, true)] {
        assert_eq!(saddle.floats(&Duty { supply_pa, ..duty }).expect("it floats").lifts_by_itself, lifts);
    }
    // Not lifted by itself: between rest and float lies a balance that is not stable.
    let helped = saddle.floats(&Duty { supply_pa: 0.9 * lift_off, ..duty }).expect("it floats");
    assert_eq!(helped.balances.iter().map(|b| b.stable).collect::<Vec<_>>(), [false, true]);
    assert!(helped.balances[0].stiffness_up_n_m() < 0.0);
}

#[test]
fn each_way_to_carry_too_little_gets_its_own_blame() {
    let duty = Duty::new(Air::default(), 4e5, 15.0);
    let fault = |change: &dyn Fn(&mut Saddle), duty: Duty| {
        let mut s = demo_saddle();
        change(&mut s);
        s.floats(&duty).expect_err("no float")
    };
    // Little pressure: more of it is the nearest way.
    assert_eq!(fault(&|_| (), Duty { supply_pa: 1e5, ..duty }).field, "supply_bar");
    // A tiny port at a high pressure: no supply within reach carries it, a wider port does.
    assert_eq!(fault(&|s| s.port.diameter_m = 1.6e-4, Duty { supply_pa: 9e5, load_n: 60.0, ..duty }).field, "port_diameter_mm");
    // More than this saddle can ever carry.
    let over = fault(&|_| (), Duty { load_n: 500.0, ..duty });
    assert_eq!(over.field, "load_n");
    assert!(over.allowed.starts_with("at most"), "{over}");
    // Next to nothing on much air.
    let light = fault(
        &|s| s.port = stillwheel_physics::film::Port { jet_diameter_m: None, diameter_m: 4e-3, ..s.port },
        Duty { load_n: 0.02, ..duty },
    );
    assert!(light.field == "load_n" && light.allowed.starts_with("at least"), "{light}");
}

#[test]
fn bad_dimensions_are_faults_that_name_the_field() {
    let fault = |change: &dyn Fn(&mut Saddle)| {
        let mut s = demo_saddle();
        change(&mut s);
        Film::new(&s, Fineness::COARSE).expect_err("refused").field
    };
    assert_eq!(fault(&|s| s.clearance_m = 0.0), "radial_clearance_um");
    assert_eq!(fault(&|s| s.clearance_m = -3e-6), "radial_clearance_um");
    assert_eq!(fault(&|s| s.clearance_m = f64::NAN), "radial_clearance_um");
    assert_eq!(fault(&|s| s.arc_rad = 181_f64.to_radians()), "arc_deg");
    assert_eq!(fault(&|s| s.port.diameter_m = 26e-3), "port_diameter_mm");
    assert_eq!(fault(&|s| s.port.around_m = 20e-3), "port_offset_mm");
    assert_eq!(fault(&|s| s.port.along_m = 12e-3), "port_axial_mm");
    assert_eq!(fault(&|s| s.port.along_m = f64::INFINITY), "port_axial_mm");
    assert_eq!(fault(&|s| s.port.jet_diameter_m = Some(2e-3)), "jet_diameter_mm");
    assert_eq!(fault(&|s| s.port.pocket = Some(Pocket::Round { diameter_m: 1e-3, depth_m: 1e-4 })), "pocket.diameter_mm");
    assert_eq!(fault(&|s| s.port.pocket = Some(Pocket::Slot { length_m: 40e-3, width_m: 2e-3, depth_m: 1e-4 })), "pocket.length_mm");
    // Measured: the bore is 16 µm narrower at the sides than it should be.
    let narrow = MeasuredForm::new(vec![-1.6, 0.0, 1.6], vec![0.0], &[vec![-16e-6, 0.0, -16e-6]]).expect("a grid");
    let interferes = |s: &mut Saddle| s.form.measured = Some(narrow.clone());
    assert_eq!(fault(&interferes), "radial_clearance_um");
    let why = |duty: Duty| demo_saddle().floats(&duty).expect_err("refused");
    let duty = Duty::new(Air::default(), 4e5, 15.0);
    assert_eq!(why(Duty { load_n: 0.0, ..duty }).field, "load_n");
    assert_eq!(why(Duty { supply_pa: -0.2e5, ..duty }).field, "supply_bar");
    assert_eq!(why(Duty { supply_pa: f64::NAN, ..duty }).field, "supply_bar");
    assert_eq!(why(Duty { tilt_x_rad: 5e-3, ..duty }).field, "tilt_x_urad");
    let film = Film::new(&demo_saddle(), Fineness::COARSE).expect("allowed");
    assert_eq!(film.shape(Pose { y_m: -15e-6, ..Pose::default() }).expect_err("overlap").field, "y_um");
}

#[test]
fn equal_saddles_in_line_float_as_one_alone_and_share_by_the_lever() {
    let saddle = demo_saddle();
    let (air, mass) = (Air::default(), 3.0);
    let pair = Pair::in_line(&saddle, 0.12, mass, air, 4e5);
    let float = pair.float().expect("it floats");
    let alone = saddle.floats(&Duty::new(air, 4e5, pair.loads_n()[0])).expect("it floats");
    for s in &float.states {
        assert!((s.pose.y_m - alone.lowest().state.pose.y_m).abs() < 1e-11);
    }
    assert!(float.stable);
    assert!((float.flow_l_min_anr() / (2.0 * alone.lowest().state.flow_l_min_anr()) - 1.0).abs() < 1e-5);
    assert!((float.share_of_compressor(100.0).expect("a share") - float.flow_l_min_anr() / 100.0).abs() < 1e-12);
    // Wheel nearer to the second saddle: the heavier side sits lower, and the arbor slopes.
    let aside = Pair { centre_m: 0.08, ..pair.clone() }.float().expect("it floats");
    assert!((aside.load_share[1] - 2.0 / 3.0).abs() < 0.01, "{:?}", aside.load_share);
    assert!(aside.states[1].pose.y_m < aside.states[0].pose.y_m && aside.states[0].pose.tilt_y_rad < 0.0);
    // The moments of the films balance what the lever leaves.
    let total: f64 = aside.states.iter().map(stillwheel_physics::film::FilmState::force_up_n).sum();
    let about_first = aside.states[1].force_up_n() * 0.12 + aside.states[0].forces[3] + aside.states[1].forces[3];
    assert!((about_first / (total * 0.08) - 1.0).abs() < 1e-5);
    // Overhung: refused, and said.
    assert_eq!(Pair { centre_m: -0.02, ..pair }.float().expect_err("it tips").field, "centre_mm");
}

#[test]
fn bores_out_of_line_eat_the_film_until_the_arbor_touches() {
    let pair = Pair::in_line(&demo_saddle(), 0.12, 3.0, Air::default(), 4e5);
    let askew = |by: f64| Pair { askew_rad: [[by, 0.0], [-by, 0.0]], ..pair.clone() }.float();
    let level = askew(0.0).expect("it floats");
    let tilted = askew(3e-4).expect("it floats");
    assert!(tilted.states[0].least_film_m < level.states[0].least_film_m);
    assert!((tilted.film_lost_to_tilt_m[0] - 3e-4 * 12e-3).abs() < 1e-7 && level.film_lost_to_tilt_m[0].abs() < 1e-9);
    // Each saddle looks the same from behind, so no drift arises.
    assert!((tilted.states[0].pose.y_m - tilted.states[1].pose.y_m).abs() < 1e-11);
    assert!(tilted.drift().g_mm().abs() < 1e-6);
    // A second bore off to the side tilts the arbor, no more than the span allows.
    let off = Pair { second_off_m: [20e-6, 0.0], ..pair.clone() }.float().expect("it floats");
    assert!((off.states[0].pose.tilt_x_rad * 0.12 - 20e-6).abs() < 20e-6);
    // Beyond the clearance nothing floats.
    assert_eq!(Pair { askew_rad: [[3e-3, 0.0], [-3e-3, 0.0]], ..pair }.float().expect_err("it touches").field, "first_askew_urad");
}

#[test]
fn drift_causes_are_those_of_the_floats_and_the_tolerance_keeps_its_target() -> Result<(), Fault> {
    let saddle = demo_saddle();
    let duty = Duty::new(Air::default(), 4e5, 15.0);
    let floats = saddle.floats(&duty)?;
    let causes = saddle.drift_causes(&duty, floats.lowest(), 8e-3)?;
    let of = |cause: Cause| causes.iter().find(|c| c.cause == cause).expect("listed").per_unit.g_mm();
    // The table of the reference solution: 0.196 g·mm for 0.1 mm, 0.59 for an oval of 1 µm at 45°.
    assert!((of(Cause::PortAside) - 0.196).abs() < 0.001, "{}", of(Cause::PortAside));
    assert!((of(Cause::Oval).abs() - 0.59).abs() < 0.01, "{}", of(Cause::Oval));
    // One degree over 8 mm of wall is 0.1396 mm.
    assert!((of(Cause::PortSlanted) / of(Cause::PortAside) - 1.396).abs() < 0.005);
    // A lean turns port and sides back together: 1 mm/m is 0.01 mm of port (a tenth of its unit) and 0.0573° of sides.
    let lean = -(0.01 * saddle.bore_radius_m() * 1e3 * of(Cause::PortAside) + 1e-3_f64.to_degrees() * of(Cause::UnequalSides));
    assert!((of(Cause::CrossSlope) / lean - 1.0).abs() < 0.01, "{} {lean}", of(Cause::CrossSlope));
    let tolerance = saddle.port_tolerance(&duty, floats.lowest(), 8e-3, Unbalance::from_g_mm(0.25))?;
    assert!((tolerance.aside_m - 0.128e-3).abs() < 0.001e-3, "{tolerance:?}");
    assert!((tolerance.drift.g_mm() - 0.25).abs() < 1e-3);
    assert!((tolerance.slant.rad().tan() * 8e-3 - tolerance.aside_m).abs() < 1e-12);
    Ok(())
}

#[test]
fn turned_end_for_end_the_drift_stays_and_the_unbalance_mirrors() {
    // Heavy side at 143°, 60 g·mm, drift 6 g·mm: held off by asin(0.1) = 5.739°.
    let off = 0.1_f64.asin().to_degrees();
    let got = separate_end_for_end(
        RotorAngle::from_deg(143.0 - off),
        RotorAngle::from_deg(143.0 + off),
        Angle::from_deg(1.0),
        Unbalance::from_g_mm(60.0),
    )
    .expect("told apart");
    assert!((got.heavy.deg() - 143.0).abs() < 1e-9);
    assert!((got.drift.g_mm() - 6.0).abs() < 1e-9);
    assert!((got.drift_sd.g_mm() - 60.0 * off.to_radians().cos() * 1_f64.to_radians() / 2_f64.sqrt()).abs() < 1e-9);
    let opposite =
        separate_end_for_end(RotorAngle::from_deg(10.0), RotorAngle::from_deg(188.0), Angle::from_deg(1.0), Unbalance::from_g_mm(60.0));
    assert_eq!(opposite.expect_err("refused").field, "settle_turned_deg");
}

#[test]
fn the_limits_of_the_model_are_said() {
    let warnings = |pose: Pose, change: &dyn Fn(&mut Saddle), supply: f64| {
        let mut s = demo_saddle();
        change(&mut s);
        let film = Film::new(&s, Fineness::NORMAL).expect("allowed");
        let shape = film.shape(pose).expect("a film");
        shape.validity(&Air::default(), &shape.at(&Air::default(), supply)).warnings()
    };
    let up = |y: f64| Pose { y_m: y * 1e-6, ..Pose::default() };
    assert_eq!(warnings(up(6.9), &|_| (), 4e5), Vec::<String>::new());
    let thin = warnings(up(-12.0), &|_| (), 4e5);
    assert!(thin.iter().any(|w| w.contains("slips")) && thin.iter().any(|w| w.contains("rest gap")), "{thin:?}");
    let fast = warnings(up(40.0), &|s| s.port.jet_diameter_m = None, 5e5);
    assert!(fast.iter().any(|w| w.contains("Mach")) && fast.iter().any(|w| w.contains("inertia")), "{fast:?}");
}
