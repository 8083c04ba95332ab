//! The film against closed forms, and what must hold of any solution: balance of mass, the torque identity, convergence.

#[path = "../../../reference/check.rs"]
mod check;
mod film_support;

use check::{Kind, Tolerance};
use film_support::{cases, demo_saddle};
use std::f64::consts::PI;
use stillwheel_physics::film::{Air, Film, Fineness, Form, Pocket, Pose, Saddle};
use stillwheel_physics::numerics::elliptic_k;

/// A film of uniform thickness, `around` × `along` mm, with a port of `port` mm in its middle.
fn uniform(around_mm: f64, along_mm: f64, port_mm: f64) -> Saddle {
    let mut saddle = demo_saddle();
    saddle.bore_diameter_m = 2.0 * around_mm * 1e-3 / PI;
    saddle.length_m = along_mm * 1e-3;
    saddle.port.diameter_m = port_mm * 1e-3;
    saddle
}

fn shape_factor(saddle: &Saddle) -> f64 {
    let film = Film::new(saddle, Fineness::CHECK).expect("allowed");
    film.shape(Pose::default()).expect("a film").conductance_m3() / saddle.clearance_m.powi(3)
}

#[test]
fn the_conductance_is_the_shape_factor_of_conduction() {
    // Cylinder midway between planes 10 mm apart: Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, table of shape factors.
    let strip = 2.0 * PI / (4.0 * 10.0 / (PI * 1.2)).ln();
    check::row(
        "SHAPE-1",
        "conductance / h³, strip of 10 mm, port 1.2 mm",
        Kind::ClosedFormOrTable,
        "2π/ln(4·2a/(π d)), Incropera & DeWitt",
        strip,
        shape_factor(&uniform(60.0, 10.0, 1.2)),
        Tolerance::Relative(1e-4),
    );
    check::row(
        "SHAPE-2",
        "conductance / h³, 24 mm on a 20 mm half bore, port 1.2 mm",
        Kind::ReferenceProgram,
        "independent finite-element solution: 1.97996",
        1.97996,
        shape_factor(&demo_saddle()),
        Tolerance::Relative(1e-4),
    );
    // Cylinder in a square: conformal radius of the square = side/K(m = 1/2) (Schwarz-Christoffel); the table's 2π/ln(1.08 w/D).
    let square = 2.0 * PI / (2.0 * 20.0 / (elliptic_k(0.5) * 0.8)).ln();
    check::row(
        "SHAPE-3",
        "conductance / h³, square of 20 mm, port 0.8 mm",
        Kind::ClosedFormOrTable,
        "2π/ln(2w/(K(1/2) D)), Schwarz-Christoffel",
        square,
        shape_factor(&uniform(20.0, 20.0, 0.8)),
        Tolerance::Relative(1e-5),
    );
}

#[test]
fn viscous_drag_is_the_integral_over_the_film() {
    let saddle = demo_saddle();
    let (r, c, y) = (saddle.bore_radius_m(), saddle.clearance_m, -6e-6_f64);
    let air = Air::default();
    let film = Film::new(&saddle, Fineness::NORMAL).expect("allowed");
    let drag = |y_m: f64| film.shape(Pose { y_m, ..Pose::default() }).expect("a film").at(&air, 4e5).drag_n_m_s;
    let plain = air.viscosity_pa_s * r.powi(3) * saddle.length_m;
    // ∫dθ/(c + y cos θ) over ±90°: Gradshteyn & Ryzhik 2.553.3.
    let root = (c * c - y * y).sqrt();
    let offset = 4.0 / root * ((c - y) / (c + y)).sqrt().atan();
    for (what, want, got) in [("centred", plain * PI / c, drag(0.0)), ("6 um low", plain * offset, drag(y))] {
        check::row("DRAG", &format!("{what}, N m s"), Kind::ClosedFormOrTable, "μ R³ L ∫dθ/h", want, got, Tolerance::Relative(1e-6));
    }
}

#[test]
fn air_in_is_air_out() {
    let mut saddles: Vec<(String, Saddle, Pose)> = cases().into_iter().map(|c| (c.id.clone(), c.saddle(), c.pose())).collect();
    let mut slot = demo_saddle();
    slot.port.pocket = Some(Pocket::Slot { length_m: 8e-3, width_m: 2e-3, depth_m: 1e-4 });
    saddles.push(("slot".into(), slot, Pose { y_m: -13e-6, ..Pose::default() }));
    for (id, saddle, pose) in saddles {
        let film = Film::new(&saddle, Fineness::NORMAL).expect("allowed");
        let shape = film.shape(pose).expect("a film");
        let (hole, edge, free) = shape.balance_m3();
        assert!((hole / edge - 1.0).abs() < 1e-10, "{id}: in {hole}, out {edge}");
        assert!((hole / shape.conductance_m3() - 1.0).abs() < 1e-10, "{id}");
        assert!(free < 1e-10 * hole, "{id}: {free} left at a node");
    }
}

#[test]
fn in_a_round_bore_the_drift_torque_follows_from_the_forces() {
    // T = (y·F_right − x·F_up)/2 in a round bore; with the side force balanced T = −W·x/2. Shear by its definition, not by parts.
    for (id, source) in [("F02", "moments on the air vanish (thin film, round bore)"), ("F06", "the same; F06 is a float")] {
        let case = film_support::case(id);
        let (saddle, air) = (case.saddle(), case.air());
        let film = Film::new(&saddle, Fineness::NORMAL).expect("allowed");
        let pose = match case.get("load_n") {
            None => case.pose(),
            Some(_) => saddle.floats(&case.duty()).expect("it floats").lowest().state.pose,
        };
        let shape = film.shape(pose).expect("a film");
        let state = shape.at(&air, case.supply_pa());
        let identity = 0.5 * (pose.y_m * state.force_right_n() - pose.x_m * state.force_up_n());
        let by_shear = shape.torque_by_shear_n_m(&air, state.port_pa);
        check::row(
            "TORQUE",
            &format!("{id}: shear integral, uN m"),
            Kind::ClosedFormOrTable,
            source,
            identity * 1e6,
            by_shear * 1e6,
            Tolerance::Relative(1e-3),
        );
        assert!((state.torque_n_m / by_shear - 1.0).abs() < 1e-3);
    }
    // It fails, rightly, for an oval bore; there both forms of the integral still agree.
    let mut oval = demo_saddle();
    oval.form = Form::oval(2e-6, 0.5);
    let film = Film::new(&oval, Fineness::NORMAL).expect("allowed");
    let shape = film.shape(Pose { x_m: 1e-6, y_m: 2e-6, ..Pose::default() }).expect("a film");
    let state = shape.at(&Air::default(), 4e5);
    let identity = 0.5 * (2e-6 * state.force_right_n() - 1e-6 * state.force_up_n());
    let by_shear = shape.torque_by_shear_n_m(&Air::default(), state.port_pa);
    assert!((identity / by_shear - 1.0).abs() > 0.1);
    assert!((state.torque_n_m / by_shear - 1.0).abs() < 1e-3);
}

#[test]
fn a_finer_mesh_converges_by_its_order() {
    let case = film_support::case("F02");
    let values = |fineness| {
        let film = Film::new(&case.saddle(), fineness).expect("allowed");
        let state = film.shape(case.pose()).expect("a film").at(&case.air(), case.supply_pa());
        [state.force_up_n(), state.torque_n_m * 1e6, state.flow_kg_s * 1e6]
    };
    let truth = values(Fineness { order: 12, split: 2 });
    // Average over two halvings: the errors of single steps change sign.
    for (order, least) in [(2, 1.8), (3, 2.8)] {
        let [coarse, fine] = [2, 8].map(|split| values(Fineness { order, split }));
        for (i, what) in ["load", "drift torque", "flow"].into_iter().enumerate() {
            let rate = 0.5 * ((coarse[i] - truth[i]) / (fine[i] - truth[i])).abs().log2();
            println!("order {order}: {what} converges by {rate:.2}");
            assert!(rate > least, "order {order}: {what} converges by {rate}");
        }
    }
    // And with the order: each step up takes off a good part of the error, which a fixed order could not.
    let by_order: Vec<f64> = [3, 5, 7].map(|order| (values(Fineness { order, split: 2 })[0] / truth[0] - 1.0).abs()).to_vec();
    assert!(by_order[1] < 0.1 * by_order[0] && by_order[2] < 0.1 * by_order[1], "{by_order:?}");
}

#[test]
fn a_slot_converges_in_spite_of_its_corners() {
    let mut saddle = demo_saddle();
    saddle.port.pocket = Some(Pocket::Slot { length_m: 8e-3, width_m: 2e-3, depth_m: 1e-4 });
    saddle.port.around_m = 3e-4;
    let values = |fineness| {
        let film = Film::new(&saddle, fineness).expect("allowed");
        let state = film.shape(Pose { y_m: -4e-6, ..Pose::default() }).expect("a film").at(&Air::default(), 4e5);
        [state.force_up_n(), state.torque_n_m * 1e6, state.flow_kg_s * 1e6]
    };
    let (normal, fine) = (values(Fineness::NORMAL), values(Fineness::CHECK));
    for (a, b) in normal.into_iter().zip(fine) {
        println!("{a} {b} {:e}", a / b - 1.0);
        assert!((a / b - 1.0).abs() < 1e-3, "{a} {b}");
    }
}
