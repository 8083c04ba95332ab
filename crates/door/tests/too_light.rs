//! "The weights are too light" is said only of weights that are.

use serde_json::{Value, json};
use stillwheel_door::find;

/// The step after a settle and a swing of a rotor with this unbalance, three weights of 608 g·mm evenly spread.
fn step(u_g_mm: f64, at_deg: f64) -> Value {
    const INERTIA: f64 = 0.0079;
    // A swing of 60°: T = T0·K(sin 30°)·2/π, K = 1.68575 (Abramowitz & Stegun, Table 17.1, α = 30°).
    let small = std::f64::consts::TAU * (INERTIA / (u_g_mm * 1e-6 * 9.806_65)).sqrt();
    let period = small * 1.685_75 * 2.0 / std::f64::consts::PI;
    let weights: Vec<Value> = [0.0, 120.0, 240.0].iter().map(|a| json!({"moment_g_mm": 608.0, "at_deg": a})).collect();
    let input = json!({
        "known": {"inertia_kg_m2": INERTIA, "inertia_rel_sd": 0.05, "unbalance_prior_sd_g_mm": 0.35 * 1824.0, "drift_sd_g_mm": 0.8,
            "dry_friction_g_mm": 0.0, "arbor_error_sd_g_mm": 0.0, "setting_sd_deg": 0.25, "misread_share": 0.01},
        "looks": [
            {"weights": weights, "reading": {"kind": "settle", "settle_deg": at_deg, "sd_deg": 3.5}},
            {"weights": weights, "reading": {"kind": "swing", "swings": 1.0, "time_s": period, "time_sd_s": 0.2, "amplitude_deg": 60.0,
                "amplitude_sd_deg": 3.0}},
        ],
        "weights_now": weights,
        "groove": {"weights": vec![json!({"moment_g_mm": 608.0, "arc_deg": 18.0}); 3], "graduation_deg": 1.0, "forbidden_deg": [],
            "no_passing": true},
        "allowance_g_mm": 8.0, "floor_g_mm": 1.0, "sureness": 0.95, "seed": 1,
    });
    find("next-step").unwrap().run(input).unwrap()
}

/// Three weights side by side in a groove give 608·(1 + 2·cos 18°) = 1764 g·mm.
#[test]
fn weights_that_can_answer_the_unbalance_are_never_called_too_light() {
    for u in [300.0, 900.0, 1200.0, 1500.0] {
        for at in [0.0, 60.0, 123.0, 288.0] {
            let step = step(u, at);
            assert_ne!(step["action"], "weights-too-light", "{u} g·mm at {at}°: {}", step["say"]);
        }
    }
    assert_eq!(step(3000.0, 60.0)["action"], "weights-too-light");
}
