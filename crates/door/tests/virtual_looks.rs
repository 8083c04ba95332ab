//! The rarer looks of `virtual-bench`, and that `estimate` finds the hidden truth from them.

use serde_json::{Value, json};

fn run(name: &str, input: Value) -> Result<Value, stillwheel_door::Fault> {
    stillwheel_door::find(name).unwrap().run(input)
}

fn input(seed: u64, number: u64) -> Value {
    json!({
        "seed": seed, "look_number": number, "inertia_kg_m2": 0.0082, "inertia_rel_sd": 0.05, "unbalance_about_g_mm": 400.0,
        "drift_sd_g_mm": 2.0, "allowance_g_mm": 9.7, "weights": [], "look": "settle", "tell_truth": true
    })
}

fn with(mut base: Value, fields: Value) -> Value {
    for (k, v) in fields.as_object().unwrap() {
        base[k] = v.clone();
    }
    base
}

fn known(arbor_sd: f64) -> Value {
    json!({"inertia_kg_m2": 0.0082, "inertia_rel_sd": 0.05, "unbalance_prior_sd_g_mm": 400.0, "drift_sd_g_mm": 2.0, "arbor_error_sd_g_mm": arbor_sd})
}

#[test]
fn a_log_tells_size_direction_and_drift_of_the_hidden_rotor() {
    let mut drift_within = 0;
    for seed in 1..=10 {
        let out = run("virtual-bench", with(input(seed, 1), json!({"look": "log"}))).unwrap();
        assert_eq!(out["reading"]["kind"], "log");
        assert_eq!(out["log"]["t_s"].as_array().unwrap().len(), 600);
        let truth = &out["truth"];
        let f = |v: &Value| v.as_f64().unwrap();
        // U/J by the definition: J = I/g in g·mm·s².
        let u_over_j = f(&truth["unbalance_g_mm"]) / (f(&truth["inertia_kg_m2"]) * 1e6 / 9.80665);
        let r = &out["reading"];
        let off = f(&r["u_over_j_per_s2"]) / u_over_j - 1.0;
        assert!(off.abs() < 5.0 * f(&r["u_over_j_rel_sd"]).max(2e-4), "{seed}: {off}");
        let turn = (f(&r["heavy_deg"]) - f(&truth["at_deg"]) + 180.0).rem_euclid(360.0) - 180.0;
        assert!(turn.abs() < 5.0 * f(&r["heavy_sd_deg"]).max(0.01), "{seed}: {turn}°");
        let drift = f(&truth["drift_g_mm"]) / f(&truth["unbalance_g_mm"]);
        drift_within += usize::from((f(&r["drift_over_u"]) - drift).abs() < 2.0 * f(&r["drift_over_u_sd"]));
    }
    // 95 % each: fewer than 7 of 10 has a chance of 1 in 1000 (binomial distribution).
    assert!(drift_within >= 7, "{drift_within} of 10");
}

#[test]
fn a_trial_weight_on_a_swing_tells_the_inertia() {
    let mut looks = Vec::new();
    let trial = json!({"mass_g": 12.0, "radius_mm": 60.0, "at_deg": 0.0});
    for (number, look, trial) in [(1, "log", None), (2, "swing", None), (3, "swing", Some(trial)), (4, "settle", None)] {
        let mut i = with(input(4, number), json!({"look": look}));
        if let Some(t) = &trial {
            i["trial"] = t.clone();
        }
        let out = run("virtual-bench", i).unwrap();
        looks.push(json!({"weights": [], "trial": trial, "reading": out["reading"]}));
    }
    let sd = |n: usize| {
        let out = run("estimate", json!({"known": known(0.0), "looks": looks[..n]})).unwrap();
        (out["ln_inertia_scale"]["mean"].as_f64().unwrap(), out["ln_inertia_scale"]["sd"].as_f64().unwrap())
    };
    let (without, with_trial) = (sd(2), sd(3));
    assert!(with_trial.1 < 0.7 * without.1, "{without:?} {with_trial:?}");
    let truth = run("virtual-bench", input(4, 1)).unwrap()["truth"]["inertia_kg_m2"].as_f64().unwrap() / 0.0082;
    assert!((with_trial.0 - truth.ln()).abs() < 3.0 * with_trial.1, "{with_trial:?} against {}", truth.ln());
}

#[test]
fn an_index_pair_parts_the_arbor_from_the_rotor() {
    let mut looks = Vec::new();
    for (number, turned) in [(1, 0.0), (2, 180.0)] {
        let out = run(
            "virtual-bench",
            with(input(6, number), json!({"look": "log", "turned_on_arbor_deg": turned, "arbor_error_sd_g_mm": 20.0})),
        )
        .unwrap();
        looks.push(json!({"weights": [], "turned_on_arbor_deg": turned, "reading": out["reading"]}));
    }
    let sd = |n: usize| {
        let out = run("estimate", json!({"known": known(20.0), "looks": looks[..n]})).unwrap();
        let c = &out["arbor_error"]["covariance_g2_mm2"];
        (c[0][0].as_f64().unwrap() + c[1][1].as_f64().unwrap()).sqrt()
    };
    assert!(sd(2) < 0.25 * sd(1), "{} {}", sd(1), sd(2));
}

#[test]
fn what_can_not_be_played_is_refused_by_name() {
    let here = json!({"bottom_deg": 0.0, "at_deg": 0.0, "radius_mm": 38.0, "step_g": 0.1});
    let rows = [
        (json!({"look": "holds"}), "holds"),
        // A weight at the very bottom has no lever.
        (json!({"look": "holds", "holds": here}), "holds.at_deg"),
        (json!({"look": "holds", "holds": {"bottom_deg": 0.0, "at_deg": 0.0, "radius_mm": -1.0, "step_g": 0.1}}), "holds.radius_mm"),
        (json!({"look": "holds", "holds": here, "trial": {"mass_g": 1.0, "radius_mm": 38.0, "at_deg": 0.0}}), "trial"),
        (json!({"look": "swing", "trial": {"mass_g": -1.0, "radius_mm": 38.0, "at_deg": 0.0}}), "trial.mass_g"),
        (json!({"turned_on_arbor_deg": 1e9}), "turned_on_arbor_deg"),
        (json!({"arbor_error_sd_g_mm": -1.0}), "arbor_error_sd_g_mm"),
    ];
    for (fields, field) in rows {
        let fault = run("virtual-bench", with(input(1, 1), fields)).unwrap_err();
        assert_eq!(fault.field, field, "{fault}");
    }
}
