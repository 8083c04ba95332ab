//! A rotor over its sittings, against tables and arithmetic by hand.

#[path = "../../../reference/check.rs"]
mod check;

use check::{Kind, Tolerance};
use serde_json::{Value, json};
use stillwheel_door::{Fault, find};

fn run(name: &str, input: Value) -> Result<Value, Fault> {
    find(name).unwrap().run(input)
}

fn expected(changes: &[[f64; 2]], residual: [f64; 2], allowance: f64) -> Result<Value, Fault> {
    run("expected-balance", json!({"changes_g_mm": changes, "residual_g_mm": residual, "allowance_g_mm": allowance}))
}

/// The bound of the next change is √(Q·F/n) with F of 2 and 2n degrees of freedom.
#[test]
fn the_bound_of_the_next_change_is_that_of_the_f_table() {
    for (n, f_95) in [(3, 5.143), (5, 4.103), (10, 3.493), (20, 3.232), (60, 3.072)] {
        // All of size 2: Q/n = 4.
        let changes: Vec<[f64; 2]> = (0..n).map(|k| [2.0 * f64::from(k).cos(), 2.0 * f64::from(k).sin()]).collect();
        let out = expected(&changes, [0.0, 0.0], 1.0).unwrap();
        check::row(
            &format!("NEXT-{n:02}"),
            &format!("Next change after {n} of 2 g·mm, 95 % bound, g·mm"),
            Kind::ClosedFormOrTable,
            "F distribution, 2 and 2n degrees of freedom, upper 5 % points (any handbook's table)",
            2.0 * f64::sqrt(f_95),
            out["change_95_g_mm"].as_f64().unwrap(),
            Tolerance::Relative(2e-4),
        );
    }
}

/// Numbers drawn on purpose: with the true spread known, the bound holds the next change in 95 % of the histories.
#[test]
fn of_two_thousand_histories_ninety_five_in_a_hundred_stay_below_the_bound() {
    let mut state = 1_u64;
    let mut uniform = move || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((state >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    };
    // Box and Muller 1958: two normal numbers from two uniform ones.
    let mut change = || {
        let (r, angle) = ((-2.0 * uniform().ln()).sqrt(), std::f64::consts::TAU * uniform());
        [7.0 * r * angle.cos(), 7.0 * r * angle.sin()]
    };
    let (mut below, mut within, mut promised) = (0_u32, 0_u32, 0.0);
    let (residual, allowance) = ([4.0, -3.0], 12.0);
    for _ in 0..2_000 {
        let changes: Vec<[f64; 2]> = (0..4).map(|_| change()).collect();
        let out = expected(&changes, residual, allowance).unwrap();
        let next = change();
        below += u32::from(next[0].hypot(next[1]) <= out["change_95_g_mm"].as_f64().unwrap());
        within += u32::from((residual[0] + next[0]).hypot(residual[1] + next[1]) <= allowance);
        promised += out["p_still_within"].as_f64().unwrap();
    }
    // Three standard errors of 2000 trials.
    let share = f64::from(below) / 2_000.0;
    assert!((share - 0.95).abs() < 3.0 * (0.95 * 0.05 / 2_000.0_f64).sqrt(), "{share}");
    let (share, promised) = (f64::from(within) / 2_000.0, promised / 2_000.0);
    // With the spread unknown the promise is the more careful one: its tails are wider.
    assert!(promised <= share + 0.04 && promised > share - 0.12, "promised {promised}, came {share}");
}

#[test]
fn half_a_turn_of_the_wheel_gives_half_the_difference_and_half_the_sum() {
    let found = |x: f64, y: f64| json!({"x_g_mm": x, "y_g_mm": y, "covariance_g2_mm2": [[8.0, 0.0], [0.0, 8.0]]});
    let out = run("index-split", json!({"first": found(100.0, 40.0), "second": found(-20.0, 8.0), "turned_deg": 180.0})).unwrap();
    for (id, what, pointer, expected) in [
        ("IDX-01", "Wheel's part, x, g·mm", "/wheel/x_g_mm", 60.0),
        ("IDX-02", "Wheel's part, y, g·mm", "/wheel/y_g_mm", 16.0),
        ("IDX-03", "Adapter's and arbor's part, x, g·mm", "/rest/x_g_mm", 40.0),
        ("IDX-04", "Adapter's and arbor's part, y, g·mm", "/rest/y_g_mm", 24.0),
        ("IDX-05", "Variance of the wheel's part, (g·mm)²", "/wheel/covariance_g2_mm2/0/0", 4.0),
        // √(χ² quantile 5.991 of 2 degrees of freedom) times 2.
        ("IDX-06", "95 % half axis of the wheel's part, g·mm", "/wheel/half_axis_95_g_mm", 2.0 * 2.4477),
    ] {
        let got = out.pointer(pointer).unwrap().as_f64().unwrap();
        check::row(
            id,
            what,
            Kind::ClosedFormOrTable,
            "half difference and half sum of the two sittings",
            expected,
            got,
            Tolerance::Relative(1e-4),
        );
    }
    assert_eq!((out["wheel"]["told"].as_bool(), out["rest"]["told"].as_bool()), (Some(true), Some(true)));
    let same = run("index-split", json!({"first": found(30.0, 1.0), "second": found(31.0, -1.0), "turned_deg": 180.0})).unwrap();
    assert_eq!((same["wheel"]["told"].as_bool(), same["rest"]["told"].as_bool()), (Some(false), Some(true)));
}

#[test]
fn what_tells_nothing_is_a_fault_at_its_field() {
    let found = |c: [[f64; 2]; 2]| json!({"x_g_mm": 1.0, "y_g_mm": 0.0, "covariance_g2_mm2": c});
    let good = [[1.0, 0.0], [0.0, 1.0]];
    for (first, turned, field) in [
        (good, 5.0, "turned_deg"),
        (good, 355.0, "turned_deg"),
        (good, 1000.0, "turned_deg"),
        ([[-1.0, 0.0], [0.0, 1.0]], 180.0, "first.covariance_g2_mm2[0][0]"),
        ([[1.0, 2.0], [2.0, 1.0]], 180.0, "first.covariance_g2_mm2"),
        ([[1.0, 0.5], [0.0, 1.0]], 180.0, "first.covariance_g2_mm2"),
    ] {
        let fault = run("index-split", json!({"first": found(first), "second": found(good), "turned_deg": turned})).unwrap_err();
        assert_eq!(fault.field, field, "{fault}");
    }
    assert_eq!(expected(&[[1.0, 0.0], [0.0, 1.0]], [0.0, 0.0], 1.0).unwrap_err().field, "changes_g_mm");
    assert_eq!(expected(&[[1.0, 0.0]; 3], [0.0, 1e9], 1.0).unwrap_err().field, "residual_g_mm[1]");
    assert_eq!(expected(&[[1.0, 0.0]; 3], [0.0, 0.0], 0.0).unwrap_err().field, "allowance_g_mm");
}
