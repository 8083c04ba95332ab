//! The equation of motion against trajectories of an outside solver, and its laws.
//!
//! Source: reference/swing-trajectories.json, made by SciPy's DOP853 (reference/scripts/swing_trajectories.py).

#[path = "../../../reference/check.rs"]
mod check;

use check::{Kind, Tolerance};
use proptest::prelude::*;
use serde_json::Value;
use std::f64::consts::PI;
use stillwheel_physics::bench::motion::{Pendulum, simulate};

fn fixture() -> Value {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../reference/swing-trajectories.json");
    serde_json::from_str(&std::fs::read_to_string(path).expect("the fixture")).expect("JSON")
}

fn numbers(v: &Value) -> Vec<f64> {
    v.as_array().expect("a list").iter().map(|x| x.as_f64().expect("a number")).collect()
}

#[test]
fn trajectories_agree_with_scipy_dop853_to_1e_10_at_times_between_steps() {
    let fixture = fixture();
    let times = numbers(&fixture["times_s"]);
    for case in fixture["cases"].as_array().expect("a list") {
        let of = |key: &str| case[key].as_f64().unwrap_or_else(|| panic!("{key}"));
        let pendulum = Pendulum {
            u_g_mm: of("u_g_mm"),
            theta_rad: of("theta_rad"),
            j_g_mm_s2: of("j_g_mm_s2"),
            c_g_mm_s: of("c_g_mm_s"),
            d_g_mm_s2: of("d_g_mm_s2"),
            tc_g_mm: of("tc_g_mm"),
            td_g_mm: of("td_g_mm"),
        };
        let ours = simulate(&pendulum, of("phi0_rad"), of("omega0_rad_s"), &times).expect("allowed");
        let theirs = numbers(&case["phi_rad"]);
        assert_eq!(ours.len(), theirs.len());
        let worst = ours.iter().zip(&theirs).map(|(a, b)| (a - b).abs() / b.abs().max(1.0)).fold(0.0, f64::max);
        let id = format!("ODE {}", case["name"].as_str().expect("a name"));
        check::row(
            &id,
            "largest difference of the angle at times between steps, of it or of 1 rad",
            Kind::OutsideLibrary,
            "SciPy DOP853 at rtol 1e-13 (reference/scripts/swing_trajectories.py)",
            0.0,
            worst,
            Tolerance::Absolute(1e-10),
        );
    }
}

fn rotor() -> impl Strategy<Value = Pendulum> {
    (1.0..200.0, -PI..PI, 200.0..5000.0, 0.0..15.0, 0.0..60.0, 0.0..10.0, -3.0..3.0).prop_map(|(u, theta, j, c, d, tc, td)| Pendulum {
        u_g_mm: u,
        theta_rad: theta,
        j_g_mm_s2: j,
        c_g_mm_s: c,
        d_g_mm_s2: d,
        tc_g_mm: tc,
        td_g_mm: td,
    })
}

fn every(dt: f64, n: u32) -> Vec<f64> {
    (0..n).map(|i| dt * f64::from(i)).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn without_losses_the_energy_stays(p in rotor(), phi0 in -3.0..3.0, omega0 in -2.0..2.0) {
        let p = Pendulum { c_g_mm_s: 0.0, d_g_mm_s2: 0.0, tc_g_mm: 0.0, ..p };
        // The speed from a five-point difference of the angle (error h⁴): independent of the integrator's own speed.
        let h = 1e-3;
        let at = 20.0;
        let times = [0.0, at - 2.0 * h, at - h, at, at + h, at + 2.0 * h];
        let phi = simulate(&p, phi0, omega0, &times).expect("allowed");
        let speed = (phi[1] - 8.0 * phi[2] + 8.0 * phi[4] - phi[5]) / (12.0 * h);
        let energy = |phi: f64, omega: f64| 0.5 * p.j_g_mm_s2 * omega * omega - p.u_g_mm * (p.theta_rad + phi).cos() - p.td_g_mm * phi;
        let before = energy(phi0, omega0);
        let scale = p.u_g_mm + 0.5 * p.j_g_mm_s2 * (omega0 * omega0 + speed * speed);
        prop_assert!((energy(phi[3], speed) - before).abs() <= 1e-8 * scale);
    }

    #[test]
    fn a_mirrored_rotor_moves_as_the_mirror_image(p in rotor(), phi0 in -3.0..3.0, omega0 in -3.0..3.0_f64) {
        let times = every(0.37, 100);
        let mirrored = Pendulum { theta_rad: -p.theta_rad, td_g_mm: -p.td_g_mm, ..p };
        let a = simulate(&p, phi0, omega0, &times).expect("allowed");
        let b = simulate(&mirrored, -phi0, -omega0, &times).expect("allowed");
        prop_assert!(a.iter().zip(&b).all(|(x, y)| (x + y).abs() < 1e-7));
    }

    #[test]
    fn it_comes_to_rest_inside_the_dead_band(p in rotor(), phi0 in -3.0..3.0) {
        let p = Pendulum { tc_g_mm: p.tc_g_mm + 0.1 * p.u_g_mm, td_g_mm: 0.05 * p.u_g_mm * p.td_g_mm.signum(), ..p };
        let period = 2.0 * PI * (p.j_g_mm_s2 / p.u_g_mm).sqrt();
        let phi = simulate(&p, phi0, 0.0, &[100.0 * period, 101.0 * period]).expect("allowed");
        prop_assert_eq!(phi[0], phi[1], "it has stopped");
        let push = p.td_g_mm - p.u_g_mm * (p.theta_rad + phi[0]).sin();
        prop_assert!(push.abs() <= p.tc_g_mm * (1.0 + 1e-9));
    }

    #[test]
    fn turning_the_zero_mark_only_renames_angles(p in rotor(), phi0 in -3.0..3.0, by in -3.0..3.0_f64) {
        let times = every(0.2, 60);
        let a = simulate(&p, phi0, 0.0, &times).expect("allowed");
        let b = simulate(&Pendulum { theta_rad: p.theta_rad - by, ..p }, phi0 + by, 0.0, &times).expect("allowed");
        prop_assert!(a.iter().zip(&b).all(|(x, y)| (x + by - y).abs() < 1e-6));
    }
}

#[test]
fn a_swing_without_losses_has_the_period_of_the_elliptic_integral() {
    // Source: Landau & Lifshitz, Mechanics, §11. K(sin²60°) = 2.156515647499643 (Abramowitz & Stegun table 17.1, m = 0.75).
    let p = Pendulum { u_g_mm: 50.0, theta_rad: 0.0, j_g_mm_s2: 1000.0, c_g_mm_s: 0.0, d_g_mm_s2: 0.0, tc_g_mm: 0.0, td_g_mm: 0.0 };
    let period = 4.0 * (1000.0_f64 / 50.0).sqrt() * 2.156_515_647_499_643;
    let a = 120.0_f64.to_radians();
    let phi = simulate(&p, a, 0.0, &[0.25 * period, 0.5 * period, period, 5.0 * period]).expect("allowed");
    for ((got, expected), periods) in phi.iter().zip([0.0, -a, a, a]).zip([0.25, 0.5, 1.0, 5.0]) {
        check::row(
            "ODE period",
            &format!("angle after {periods} periods of a swing of 120°, rad"),
            Kind::ClosedFormOrTable,
            "Landau & Lifshitz, Mechanics, §11; K from Abramowitz & Stegun, Table 17.1",
            expected,
            *got,
            Tolerance::Absolute(1e-9),
        );
    }
}

#[test]
fn what_no_rotor_can_be_is_refused_by_name() {
    let p = Pendulum { u_g_mm: 50.0, theta_rad: 0.0, j_g_mm_s2: 1000.0, c_g_mm_s: 1.0, d_g_mm_s2: 1.0, tc_g_mm: 1.0, td_g_mm: 1.0 };
    let rows: [(Pendulum, f64, &[f64], &str); 7] = [
        (Pendulum { u_g_mm: -1.0, ..p }, 0.0, &[1.0], "u_g_mm"),
        (Pendulum { j_g_mm_s2: 0.0, ..p }, 0.0, &[1.0], "j_g_mm_s2"),
        (Pendulum { c_g_mm_s: -0.1, ..p }, 0.0, &[1.0], "c_g_mm_s"),
        (Pendulum { td_g_mm: f64::NAN, ..p }, 0.0, &[1.0], "td_g_mm"),
        (p, f64::INFINITY, &[1.0], "phi0_rad"),
        (p, 0.0, &[1.0, 0.5], "times_s[1]"),
        (p, 0.0, &[-1.0], "times_s[0]"),
    ];
    for (pendulum, phi0, times, field) in rows {
        assert_eq!(simulate(&pendulum, phi0, 0.0, times).expect_err(field).field, field);
    }
}
