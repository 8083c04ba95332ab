//! Retention, walls, ball contacts, seats, holes and the plate on its feet against closed forms and outside solutions.

#[path = "../../../reference/check.rs"]
mod check;

use check::{Case, Kind, Tolerance, row};
use proptest::prelude::*;
use rstest::rstest;
use stillwheel_physics::making::hertz::{Body, Contact, Stands, ball_on_flat};
use stillwheel_physics::making::holes::{Drilled, chord_mm, keep_apart, on_circle, position_deviation_mm, wall_between_mm};
use stillwheel_physics::making::material::Material;
use stillwheel_physics::making::plate::{Foot, Plate, Pressed, Standing, best_spread};
use stillwheel_physics::making::retention::{
    CUP_POINTS, Held, Pillar, Point, STATIC_FACTOR, SetScrews, Stop, cup_point_holds_n, force_n, lame, seating_torque_n_m,
};
use stillwheel_physics::making::seat::{Seat, ball_in};
use stillwheel_physics::making::thread::{Port, Thread};
use stillwheel_physics::stand::plate::Plate as Strip;

fn m6() -> &'static Thread {
    Thread::find("thread", "M6").unwrap()
}

fn screws(count: u32, faces: u32) -> SetScrews {
    let c = Case::mechanical("setscrew-M6-axial");
    SetScrews { thread: m6(), count, torque_n_m: c.input("torque_Nm"), torque_factor: c.input("K"), friction: c.input("mu"), faces }
}

#[test]
fn set_screws_hold_as_tabled_and_by_friction() {
    for (id, size) in [("setscrew-quarter-inch", "1/4"), ("setscrew-three-eighths", "3/8")] {
        let c = Case::mechanical(id);
        let one = CUP_POINTS.iter().find(|p| p.size == size).unwrap();
        assert_eq!(one.torque_lbf_in, c.input("torque_lbf_in"));
        c.check("holding_lbf", one.holds_lbf);
        c.check("torque_Nm", one.torque_n_m());
        c.check("holding_N", one.holds_n());
        assert!(one.cautious_lbf.unwrap() < one.holds_lbf);
    }
    let c = Case::mechanical("setscrew-point-factors");
    c.check("cone", Point::Cone.factor());
    c.check("flat_or_dog", Point::Flat.factor());
    c.check("flat_or_dog", Point::Dog.factor());
    c.check("oval", Point::Oval.factor());
    let cup = cup_point_holds_n("1/4", Point::Cup).unwrap();
    assert!((cup_point_holds_n("1/4", Point::Cone).unwrap() / cup - 1.07).abs() < 1e-12);
    let c = Case::mechanical("setscrew-M6-axial");
    assert_eq!(seating_torque_n_m(m6()), Some(c.input("torque_Nm")));
    c.check("tip_force_N", screws(1, 1).tip_force_n().unwrap());
    c.check("hold_one_face_N", screws(1, 1).friction_n().unwrap());
    c.check("hold_two_faces_N", screws(1, 2).friction_n().unwrap());
    let c = Case::mechanical("setscrew-safety");
    c.check("factor_min", STATIC_FACTOR.0);
    c.check("factor_max", STATIC_FACTOR.1);
}

fn cap() -> Stop {
    Stop::Cap { thread: Thread::find("thread", "M5").unwrap(), count: 4, engagement_mm: 8.0, hole_mpa: 310.0, screw_mpa: 800.0 }
}

fn held() -> Held {
    Held { sealed_mm: 40.0, pressure_bar: 6.0, screws: Some(screws(2, 1)), stop: Some(cap()), wanted_factor: 2.0 }
}

#[test]
fn the_air_pushes_a_sealed_part_out() {
    for id in ["eject-40", "eject-25"] {
        let c = Case::mechanical(id);
        c.check("force_N", force_n("sealed_mm", c.input("diameter_mm"), c.input("pressure_bar_gauge")).unwrap());
    }
    let c = Case::mechanical("eject-hold-40");
    let got = held().retained().unwrap();
    assert!((got.friction_n.unwrap() - c.input("hold_N")).abs() < 1e-9);
    c.check("factor", got.friction_factor.unwrap());
    assert_eq!(got.friction_factor.unwrap() >= 2.0, c.expected("ok").as_bool().unwrap());
}

#[test]
fn friction_alone_never_suffices_and_a_weak_stop_is_refused() {
    // The screws alone would hold with 2.39 (case eject-hold-40), and yet.
    let fault = Held { stop: None, ..held() }.retained().unwrap_err();
    assert_eq!((fault.field.as_str(), fault.value.to_string().as_str()), ("stop", "missing"));
    assert!(fault.why.contains("754 N") && fault.why.contains("friction alone"), "{fault}");
    let got = held().retained().unwrap();
    assert!(got.stop_factor > 2.0 && got.force_n > 753.0, "{got:?}");
    // A 1 mm pin of 500 MPa: 2·π/4·0.6·500 = 471 N by hand, less than twice 754 N.
    let pin = |d: f64, wall: f64| Stop::CrossPin { diameter_mm: d, pin_mpa: 500.0, wall_mm: wall, wall_yield_mpa: 260.0 };
    let fault = Held { stop: Some(pin(1.0, 10.0)), ..held() }.retained().unwrap_err();
    assert!(fault.field == "stop" && fault.why.contains("471 N"), "{fault}");
    let strong = Held { stop: Some(pin(4.0, 10.0)), ..held() }.retained().unwrap();
    assert!((strong.stop.holds_n - 2.0 * std::f64::consts::PI * 4.0 * 300.0).abs() < 1e-6 && strong.stop.first == "the pin");
    let thin = Held { stop: Some(pin(4.0, 1.0)), ..held() }.retained().unwrap();
    assert_eq!((thin.stop.holds_n, thin.stop.first), (2080.0, "the wall round the pin"));
    assert_eq!(Held { wanted_factor: 1.0, ..held() }.retained().unwrap_err().field, "wanted_factor");
    let over = Held { screws: Some(SetScrews { torque_n_m: 12.0, ..screws(2, 1) }), ..held() };
    assert_eq!(over.retained().unwrap_err().field, "screws.torque_n_m", "above the proof torque of 8.5 N·m, ISO 898-5");
}

#[test]
fn a_pillar_under_pressure_is_a_thick_cylinder() {
    for id in ["lame-40-60", "lame-25-50"] {
        let c = Case::mechanical(id);
        let got = lame(c.input("p_MPa"), c.input("ri_mm"), c.input("ro_mm"), c.input("E_MPa") / 1e3, c.input("nu")).unwrap();
        c.check("hoop_inner_MPa", got.hoop_inner_mpa);
        c.check("hoop_outer_MPa", got.hoop_outer_mpa);
        c.check("bore_radius_growth_um", got.growth_um);
        c.check("thin_wall_MPa", got.thin_wall_mpa);
    }
}

fn pillar() -> Pillar {
    Pillar {
        outside_mm: 70.0,
        round: true,
        height_mm: 110.0,
        bore_mm: 40.0,
        bore_depth_mm: 70.0,
        flat_bottom: true,
        port: Some(Port::find("port", "G1/8").unwrap()),
        port_height_mm: 50.0,
        flat_from_axis_mm: 30.0,
        passage_mm: None,
        foot_thread: Some((Thread::find("thread", "M10").unwrap(), 20.0)),
        young_gpa: 70.0,
        poisson: 0.33,
        yield_mpa: Some(260.0),
    }
}

#[test]
fn a_pillar_tells_what_is_left_of_its_metal() {
    let got = pillar().walls(6.0).unwrap();
    assert_eq!(got.wall_mm, 15.0);
    assert_eq!((got.port_wall_mm, got.port_wall_left_mm), (Some(10.0), Some(2.0)));
    // √(35² − 30²)·2 by hand.
    assert!((got.flat_width_mm.unwrap() - 36.0555).abs() < 1e-3);
    // M10: 20 full + 3·1.5 run-out + 0.3004·8.5 point = 27.05; 110 − 70 − 27.05 = 12.95.
    assert!((got.floor_mm - 12.946).abs() < 1e-2, "{got:?}");
}

#[rstest]
#[case::flat_thinner_than_the_thread_needs(Pillar { flat_from_axis_mm: 27.0, ..pillar() }, "pillar.flat_from_axis_mm")]
#[case::flat_too_narrow_for_the_seal(Pillar { flat_from_axis_mm: 34.5, ..pillar() }, "pillar.flat_from_axis_mm")]
#[case::holes_meet(Pillar { foot_thread: Some((m6(), 40.0)), ..pillar() }, "pillar.bore_depth_mm")]
#[case::floor_too_thin(Pillar { bore_depth_mm: 81.0, ..pillar() }, "pillar.bore_depth_mm")]
#[case::port_below_the_bore(Pillar { port_height_mm: 30.0, ..pillar() }, "pillar.port_height_mm")]
#[case::no_wall(Pillar { outside_mm: 40.5, ..pillar() }, "pillar.outside_mm")]
#[case::weak_wall(Pillar { yield_mpa: Some(3.0), ..pillar() }, "pillar.outside_mm")]
fn a_pillar_that_will_not_do_is_refused(#[case] pillar: Pillar, #[case] field: &str) {
    let fault = pillar.walls(6.0).unwrap_err();
    assert_eq!(fault.field, field, "{fault}");
    assert!(!fault.why.is_empty() && !fault.allowed.is_empty());
}

fn contact(c: &Case) -> Contact {
    let body = |i: u32| Body::Elastic { young_gpa: c.input(&format!("E{i}_MPa")) / 1e3, poisson: c.input(&format!("nu{i}")) };
    ball_on_flat(c.input("F_N"), c.input("R_mm"), body(1), body(2)).unwrap()
}

#[test]
fn a_ball_on_a_flat_presses_as_hertz_says() {
    let c = Case::mechanical("hertz-benchmark");
    let ball = Body::Elastic { young_gpa: c.input("E_MPa") / 1e3, poisson: c.input("nu") };
    c.check("a_mm", ball_on_flat(c.input("F_N"), c.input("R_mm"), ball, Body::Rigid).unwrap().spot_radius_mm);
    for id in ["hertz-50ball", "hertz-foot-steel", "hertz-foot-granite", "hertz-foot-alu"] {
        let c = Case::mechanical(id);
        let got = contact(&c);
        c.check("Estar_MPa", got.modulus_mpa);
        c.check("a_mm", got.spot_radius_mm);
        c.check("p0_MPa", got.pressure_mpa);
        c.check("approach_um", got.approach_um);
    }
    // Dents in aluminium, not in a hardened button (cases' own words).
    let alu = Material::find("material", "EN AW-6082-T6").unwrap();
    assert_eq!(contact(&Case::mechanical("hertz-foot-alu")).stands(alu.yield_mpa, alu.is_hardened()), Stands::Dents);
    let button = Material::find("material", "100Cr6").unwrap();
    assert_eq!(contact(&Case::mechanical("hertz-foot-steel")).stands(button.yield_mpa, button.is_hardened()), Stands::Elastic);
    let stone = Material::find("material", "granite").unwrap();
    assert_eq!(contact(&Case::mechanical("hertz-foot-granite")).stands(stone.yield_mpa, stone.is_hardened()), Stands::Brittle);
}

#[test]
fn a_ball_on_a_flat_agrees_with_half_spaces_summed_by_quadrature() {
    let file = check::reference("fixtures/contact_plate.json");
    let source = file["made_by"].as_str().unwrap();
    for (i, case) in file["contacts"].as_array().unwrap().iter().enumerate() {
        let num = |v: &serde_json::Value| v.as_f64().unwrap();
        let body = |k: usize| Body::Elastic { young_gpa: num(&case["bodies_mpa"][k][0]) / 1e3, poisson: num(&case["bodies_mpa"][k][1]) };
        let got = ball_on_flat(num(&case["force_n"]), num(&case["radius_mm"]), body(0), body(1)).unwrap();
        for (name, value) in [("spot_radius_mm", got.spot_radius_mm), ("pressure_mpa", got.pressure_mpa), ("approach_um", got.approach_um)]
        {
            let what = format!("{name} under {} N, ball of {} mm radius", case["force_n"], case["radius_mm"]);
            row(&format!("HRZ-{:02}", i + 1), &what, Kind::OutsideLibrary, source, num(&case[name]), value, Tolerance::Relative(1e-5));
        }
    }
}

#[test]
fn balls_sit_in_cones_and_vees() {
    let c = Case::mechanical("ball-cone-90");
    let got = ball_in(c.input("ball_d_mm"), c.input("cone_deg")).unwrap();
    c.check("contact_circle_d_mm", got.contact_mm);
    c.check("centre_over_apex_mm", got.centre_over_apex_mm);
    c.check("centre_over_mouth_mm", got.centre_over_mouth_mm(c.input("mouth_d_mm"), c.input("cone_deg")).unwrap());
    assert_eq!(got.centre_over_mouth_mm(6.0, 90.0).unwrap_err().field, "mouth_mm");
    let c = Case::mechanical("ball-vee-90");
    let got = ball_in(c.input("ball_d_mm"), c.input("vee_deg")).unwrap();
    c.check("centre_over_apex_mm", got.centre_over_apex_mm);
    c.check("contact_span_mm", got.contact_mm);
    let c = Case::mechanical("kinematic-constraints");
    let sets = [[Seat::Cone, Seat::Vee, Seat::Flat], [Seat::Vee; 3]].map(|set| set.map(|s| f64::from(s.constraints())));
    let expected: Vec<Vec<f64>> = serde_json::from_value(c.expected("constraints").clone()).unwrap();
    assert_eq!(sets.map(|s| s.to_vec()).to_vec(), expected);
    c.check_list("sum", &sets.map(|s| s.iter().sum()));
}

#[rstest]
#[case("boltcircle-6-80")]
#[case("boltcircle-3-300")]
#[case("boltcircle-4-56")]
fn holes_lie_on_their_circle(#[case] id: &str) {
    let c = Case::mechanical(id);
    let n = c.input("n") as u32;
    let got = on_circle(n, c.input("pcd_mm"), c.input("start_deg")).unwrap();
    let expected: Vec<[f64; 2]> = serde_json::from_value(c.expected("xy_mm").clone()).unwrap();
    assert_eq!(got.len(), expected.len());
    for (i, (want, got)) in expected.iter().zip(&got).enumerate() {
        for (k, way) in ["x_mm", "y_mm"].into_iter().enumerate() {
            let what = format!("{way} of hole {}", i + 1);
            row(id, &what, Kind::ClosedFormOrTable, &c.source(), want[k], got[k], Tolerance::Absolute(0.0005));
        }
    }
    c.check("chord_mm", chord_mm(n, c.input("pcd_mm")));
}

#[test]
fn a_hole_off_its_place_has_a_position_deviation_on_the_diameter() {
    let c = Case::mechanical("position-tolerance");
    c.check("position_dia_mm", position_deviation_mm(c.input("dx_mm"), c.input("dy_mm")));
}

fn drilled(name: &str, from_mm: [f64; 3], to_mm: [f64; 3], diameter_mm: f64) -> Drilled {
    Drilled { name: name.into(), from_mm, to_mm, diameter_mm, opens_into: vec![] }
}

#[test]
fn holes_that_meet_are_refused_and_walls_are_the_true_distance() {
    let bore = drilled("bore", [0.0, 0.0, 40.0], [0.0, 0.0, 110.0], 40.0);
    let foot = drilled("foot thread", [0.0, 0.0, 0.0], [0.0, 0.0, 27.0], 8.5);
    // Flat ends face one another: 40 − 27.
    assert!((wall_between_mm(&bore, &foot) - 13.0).abs() < 1e-6);
    // Side by side: 30 − 20 − 4.25; skew and crossing above one another: 30 − 5 − 4.
    let side = drilled("side", [30.0, 0.0, 40.0], [30.0, 0.0, 90.0], 8.5);
    assert!((wall_between_mm(&bore, &side) - 5.75).abs() < 1e-6);
    let (a, b) = (drilled("a", [-50.0, 0.0, 0.0], [50.0, 0.0, 0.0], 10.0), drilled("b", [0.0, -50.0, 30.0], [0.0, 50.0, 30.0], 8.0));
    assert!((wall_between_mm(&a, &b) - 21.0).abs() < 1e-6);
    // Rim to rim, ends apart in both ways: √((30 − 5 − 5)² + 10²).
    let (a, b) = (drilled("a", [0.0, 0.0, 0.0], [0.0, 0.0, 10.0], 10.0), drilled("b", [30.0, 0.0, 20.0], [30.0, 0.0, 40.0], 10.0));
    assert!((wall_between_mm(&a, &b) - 500.0_f64.sqrt()).abs() < 1e-5);

    let (thinnest, which) = keep_apart(&[bore.clone(), foot.clone(), side.clone()], 2.0).unwrap().unwrap();
    assert!((thinnest - 5.75).abs() < 1e-6 && which == [0, 2]);
    let port = drilled("port", [-40.0, 0.0, 60.0], [-10.0, 0.0, 60.0], 8.8);
    let fault = keep_apart(&[bore.clone(), port.clone()], 2.0).unwrap_err();
    assert!(fault.field == "holes[1]" && fault.why.contains("the holes meet: bore and port"), "{fault}");
    let meant = Drilled { opens_into: vec!["bore".into()], ..port };
    assert!(keep_apart(&[bore.clone(), meant], 2.0).unwrap().is_none());
    let deep = drilled("foot thread", [0.0, 0.0, 0.0], [0.0, 0.0, 39.0], 8.5);
    assert!(keep_apart(&[bore.clone(), deep], 2.0).unwrap_err().why.contains("too thin"));
    let nothing = drilled("nothing", [0.0; 3], [0.0; 3], 5.0);
    assert_eq!(keep_apart(&[bore, nothing], 2.0).unwrap_err().field, "holes[1].to_mm");
}

fn plate_of(case: &serde_json::Value) -> (Plate, [[f64; 2]; 3], Vec<Pressed>) {
    let num = |name: &str| case[name].as_f64().unwrap();
    let pair = |v: &serde_json::Value| -> [f64; 2] { serde_json::from_value(v.clone()).unwrap() };
    let plate = Plate {
        length_mm: num("length_mm"),
        width_mm: num("width_mm"),
        thickness_mm: num("thickness_mm"),
        young_gpa: num("young_gpa"),
        poisson: num("poisson"),
        density_kg_m3: num("density_kg_m3"),
    };
    let feet = [0, 1, 2].map(|i| pair(&case["feet_mm"][i]));
    let loads = case["loads"].as_array().unwrap().iter();
    (plate, feet, loads.map(|l| Pressed { at_mm: pair(&l["at_mm"]), force_n: l["force_n"].as_f64().unwrap() }).collect())
}

#[test]
fn a_plate_on_three_feet_agrees_with_quintic_finite_elements() {
    let file = check::reference("fixtures/contact_plate.json");
    let source = file["made_by"].as_str().unwrap();
    for (i, case) in file["plates"].as_array().unwrap().iter().enumerate() {
        let (plate, feet, loads) = plate_of(case);
        let bent = plate.bend(&feet, &loads).unwrap();
        let largest = case["places"].as_array().unwrap().iter().map(|p| p["fall_um"].as_f64().unwrap()).fold(0.0, f64::max);
        for place in case["places"].as_array().unwrap() {
            let at: [f64; 2] = serde_json::from_value(place["at_mm"].clone()).unwrap();
            let got = bent.at(at);
            let id = format!("PLT-{:02}", i + 1);
            let check = |name: &str, expected: &serde_json::Value, got: f64, tolerance: f64| {
                let what = format!("{name} at {at:?}, {}", case["name"].as_str().unwrap());
                row(&id, &what, Kind::OutsideLibrary, source, expected.as_f64().unwrap(), got, Tolerance::Absolute(tolerance));
            };
            // Half a per cent of the largest fall, and of a slope that such a fall makes over a tenth of the plate.
            check("fall, µm", &place["fall_um"], got.fall_um, 0.005 * largest);
            let slope = 0.005 * largest * 1e3 / (0.1 * plate.length_mm);
            check("slope along x, µrad", &place["slope_urad"][0], got.slope_urad[0], slope);
            check("slope along y, µrad", &place["slope_urad"][1], got.slope_urad[1], slope);
        }
    }
}

#[test]
fn a_narrow_plate_bends_as_the_beam_strip_does() {
    // Held near its ends, without cross contraction: 5qL⁴/384EI and WL³/48EI (case plate-strip, Roark).
    let strip = Strip { width_mm: 40.0, thickness_mm: 8.0, span_mm: 300.0, modulus_gpa: 70.0, density_g_cm3: 2.7 };
    let expected = strip.sag(150.0).unwrap();
    let plate = Plate { length_mm: 300.0, width_mm: 40.0, thickness_mm: 8.0, young_gpa: 70.0, poisson: 0.0, density_kg_m3: 2700.0 };
    let feet = [[0.0, 20.0], [300.0, 0.0], [300.0, 40.0]];
    let own = plate.bend(&feet, &[]).unwrap().at([150.0, 20.0]).fall_um;
    let both = plate.bend(&feet, &[Pressed { at_mm: [150.0, 20.0], force_n: 150.0 }]).unwrap().at([150.0, 20.0]).fall_um;
    let source = "5qL⁴/384EI and WL³/48EI (Roark); a plate of 7.5 to 1 also bends a little across, on a foot in its middle";
    let check = |what: &str, expected: f64, got: f64| {
        row("PLT-03", what, Kind::ClosedFormOrTable, source, expected, got, Tolerance::Relative(0.03));
    };
    check("sag of a narrow plate by its own weight, µm", expected.own_um, own);
    check("sag of a narrow plate by a force in the middle, µm", expected.load_um, both - own);
}

fn birch() -> Standing {
    let steel = Body::Elastic { young_gpa: 210.0, poisson: 0.3 };
    Standing {
        plate: Plate { length_mm: 320.0, width_mm: 180.0, thickness_mm: 25.0, young_gpa: 110.0, poisson: 0.26, density_kg_m3: 7200.0 },
        feet_mm: [[20.0, 20.0], [300.0, 20.0], [160.0, 160.0]],
        foot: Foot { ball_mm: 10.0, ball: steel, flat: steel, flat_yield_mpa: None, flat_hardened: true },
        pillar_kg: 1.0,
        pillars_mm: [[160.0, 35.0], [160.0, 145.0]],
        rotor_kg: 2.9,
        first_share: 0.5,
        axis_height_mm: 190.0,
        saddle_length_mm: 24.0,
    }
}

#[test]
fn the_stand_shakes_on_its_contacts_as_a_body_on_springs() {
    let got = birch().footed().unwrap();
    // Statics: the feet carry plate, pillars and rotor.
    let weight = (0.32 * 0.18 * 0.025 * 7200.0 + 2.0 + 2.9) * 9.80665;
    assert!((got.stood.foot_loads_n.iter().sum::<f64>() - weight).abs() < 1e-9 * weight);
    // Equal feet at 120° under the mass centre: bounce √(3k/m)/2π, rocking √(1.5·k·R²/J)/2π, J about the tips' plane, all by hand.
    let (h, r) = (40.0, 100.0_f64);
    let at = |deg: f64| [200.0 + r * deg.to_radians().cos(), 200.0 + r * deg.to_radians().sin()];
    let round = Standing {
        plate: Plate { length_mm: 400.0, width_mm: 400.0, thickness_mm: h, young_gpa: 110.0, poisson: 0.26, density_kg_m3: 7200.0 },
        feet_mm: [at(90.0), at(210.0), at(330.0)],
        pillar_kg: 0.0,
        rotor_kg: 0.0,
        pillars_mm: [[200.0, 150.0], [200.0, 250.0]],
        ..birch()
    };
    let got = round.footed().unwrap();
    let mass = 0.4 * 0.4 * 0.04 * 7200.0;
    let steel = Body::Elastic { young_gpa: 210.0, poisson: 0.3 };
    // dF/dδ by differences of Hertz's own law, not by the told stiffness.
    let load = mass * 9.80665 / 3.0;
    let approach = |f: f64| ball_on_flat(f, 5.0, steel, steel).unwrap().approach_um * 1e-6;
    let k = 2e-3 * load / (approach(load * 1.001) - approach(load * 0.999));
    let bounce = (3.0 * k / mass).sqrt() / std::f64::consts::TAU;
    let inertia = mass * (0.16 + 0.0016) / 12.0 + mass * 0.02 * 0.02;
    let rock = (1.5 * k * 0.01 / inertia).sqrt() / std::f64::consts::TAU;
    let source = "rigid body on three springs, √(k/m)/2π, k by differences of Hertz's law, in crates/physics/tests/retention_reference.rs";
    for (what, expected, got) in [
        ("rocking on equal feet, Hz", rock, got.frequencies_hz[0]),
        ("rocking the other way, Hz", rock, got.frequencies_hz[1]),
        ("bounce on equal feet, Hz", bounce, got.frequencies_hz[2]),
    ] {
        row("FRQ-01", what, Kind::ClosedFormOrTable, source, expected, got, Tolerance::Relative(1e-5));
    }
}

#[test]
fn a_dented_foot_is_told_and_a_spread_is_found_that_leans_less() {
    let alu = Body::Elastic { young_gpa: 70.0, poisson: 0.33 };
    let soft = Standing { foot: Foot { flat: alu, flat_yield_mpa: Some(100.0), flat_hardened: false, ..birch().foot }, ..birch() };
    assert!(soft.footed().unwrap().stands.contains(&Stands::Dents));
    let now = birch().footed().unwrap();
    let (spread, lean) = best_spread(&birch(), 10.0).unwrap();
    assert!(spread > 0.0 && lean <= now.saddle_lean_urad * 1.05, "{spread} {lean} {}", now.saddle_lean_urad);
    assert_eq!(best_spread(&birch(), 500.0).unwrap_err().field, "least_margin_mm");
    let tips = Standing { feet_mm: [[20.0, 20.0], [300.0, 20.0], [160.0, 60.0]], ..birch() };
    assert_eq!(tips.footed().unwrap_err().field, "feet_mm");
    let off = Standing { pillars_mm: [[160.0, 35.0], [160.0, 190.0]], ..birch() };
    assert_eq!(off.footed().unwrap_err().field, "pillars_mm[1][1]");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    #[test]
    fn falls_grow_with_the_load_and_fall_with_the_cube_of_the_thickness(x in 60.0..260.0_f64, y in 30.0..150.0_f64, thicker in 1.1..1.7_f64) {
        let plate = Plate { density_kg_m3: 0.0, ..birch().plate };
        let feet = birch().feet_mm;
        let fall = |p: &Plate, n: f64| p.bend(&feet, &[Pressed { at_mm: [x, y], force_n: n }]).unwrap().at([x, y]).fall_um;
        let one = fall(&plate, 10.0);
        prop_assert!(one > 0.0, "a plate falls under its load");
        prop_assert!((fall(&plate, 30.0) / one - 3.0).abs() < 1e-6);
        let thick = Plate { thickness_mm: 25.0 * thicker, ..plate };
        prop_assert!((fall(&thick, 10.0) * thicker.powi(3) / one - 1.0).abs() < 1e-6);
        // What a force here does there, it does from there to here (Maxwell, Betti).
        let there = [160.0, 90.0];
        let here = plate.bend(&feet, &[Pressed { at_mm: there, force_n: 10.0 }]).unwrap().at([x, y]).fall_um;
        let back = plate.bend(&feet, &[Pressed { at_mm: [x, y], force_n: 10.0 }]).unwrap().at(there).fall_um;
        prop_assert!((here - back).abs() < 1e-6 * one.max(1e-3), "{here} {back}");
        let foot = plate.bend(&feet, &[Pressed { at_mm: [x, y], force_n: 10.0 }]).unwrap().at(feet[2]);
        prop_assert!(foot.fall_um.abs() < 1e-3 * one, "the feet do not sink");
    }

    #[test]
    fn a_contact_grows_with_the_cube_root_of_its_load(load in 1.0..1000.0_f64, times in 1.1..8.0_f64) {
        let steel = Body::Elastic { young_gpa: 210.0, poisson: 0.3 };
        let (a, b) = (ball_on_flat(load, 5.0, steel, steel).unwrap(), ball_on_flat(load * times, 5.0, steel, steel).unwrap());
        prop_assert!((b.spot_radius_mm / a.spot_radius_mm / times.cbrt() - 1.0).abs() < 1e-12);
        prop_assert!((b.pressure_mpa / a.pressure_mpa / times.cbrt() - 1.0).abs() < 1e-12);
        prop_assert!((b.approach_um / a.approach_um / times.powf(2.0 / 3.0) - 1.0).abs() < 1e-12);
    }
}
