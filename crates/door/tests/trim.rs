//! `trim` and `once-per-turn` at the door: published examples, recordings through the real decoders, placements checked by summing up.

#[path = "../../../reference/check.rs"]
mod check;

use check::Case;
use hound::{SampleFormat, WavSpec, WavWriter};
use proptest::prelude::*;
use rstest::rstest;
use serde_json::{Value, json};
use std::f64::consts::TAU;
use std::io::Cursor;
use stillwheel_door::once_per_turn::once_per_turn_of;
use stillwheel_door::recording::read_recording;
use stillwheel_door::{Fault, find};

fn trim(input: Value) -> Result<Value, Fault> {
    find("trim").expect("listed").run(input)
}

fn number(v: &Value, pointer: &str) -> f64 {
    v.pointer(pointer).and_then(Value::as_f64).unwrap_or_else(|| panic!("no number at {pointer} of {v}"))
}

/// A trial told as a mass at 1 mm, so that g·mm are grams of the case.
fn trial(mass_g: f64, at_deg: f64) -> Value {
    json!([{"mass_g": mass_g, "radius_mm": 1.0, "at_deg": at_deg}])
}

#[rstest]
#[case("FR-02", ["O_um", "A_um", "trial_g_mm"])]
#[case("FR-03", ["O_mm_s", "A_mm_s", "trial_g_mm"])]
#[case("FR-04", ["O_um", "A_um", "trial_g_mm"])]
fn four_runs_at_the_door(#[case] id: &str, #[case] names: [&str; 3]) {
    let [first, others, mass] = names;
    let case = Case::of(id);
    let mut runs = vec![json!({"amplitude": case.input(first)})];
    for (a, deg) in case.inputs(others).iter().zip(case.inputs("trial_deg")) {
        runs.push(json!({"trial": trial(case.input(mass), deg), "amplitude": a}));
    }
    let out = trim(json!({"runs": runs})).expect(id);
    case.check_at("at the door", "U_g_mm", number(&out, "/answers/0/unbalance/size_g_mm"));
    case.check_at("at the door", "heavy_deg", number(&out, "/answers/0/unbalance/at_deg"));
    case.check_at("at the door", "correction_deg", number(&out, "/answers/0/correction/at_deg"));
}

#[rstest]
#[case("IC-01")]
#[case("IC-02")]
fn influence_coefficients_at_the_door(#[case] id: &str) {
    let case = Case::of(id);
    let runs = json!([
        {"amplitude": case.input("V0_mm"), "phase_deg": case.input("V0_deg")},
        {"amplitude": case.input("V1_mm"), "phase_deg": case.input("V1_deg"), "trial": trial(case.input("trial_g"), case.input("trial_deg"))},
    ]);
    // Angles of case and phases count alike: the wheel turns counter-clockwise and the phase leads.
    let out = trim(json!({"runs": runs, "turns": "counter-clockwise"})).expect(id);
    case.check_at("at the door", "correction_g", number(&out, "/answers/0/correction/size_g_mm"));
    case.check_at("at the door", "correction_deg", number(&out, "/answers/0/correction/at_deg"));
}

#[test]
fn two_answers_are_both_told_and_nothing_is_placed() {
    let case = Case::of("FR-10");
    let runs = json!([
        {"amplitude": case.input("O")},
        {"amplitude": case.input("A0"), "trial": trial(20.0, 0.0)},
        {"amplitude": case.input("A180"), "trial": trial(20.0, 180.0)},
    ]);
    let out = trim(json!({"runs": runs})).expect("two answers");
    assert_eq!(out["answers"].as_array().expect("a list").len(), 2);
    assert!(out["says"].as_str().expect("words").contains("2 answers fit"), "{}", out["says"]);
    assert!(out["placement"].is_null() && out["expected"].is_null() && out["next_trial_deg"].is_number(), "{out}");
}

/// A machine: what it shows with so much unbalance, as amplitude and phase.
struct Shows {
    heavy: (f64, f64),
    per_g_mm: f64,
    lag_deg: f64,
}

impl Shows {
    /// With added moments (size, degrees).
    fn of(&self, added: &[(f64, f64)]) -> (f64, f64) {
        let (mut x, mut y) = (0.0, 0.0);
        for (size, deg) in added.iter().chain([&self.heavy]) {
            x += size * deg.to_radians().cos();
            y += size * deg.to_radians().sin();
        }
        (self.per_g_mm * x.hypot(y), y.atan2(x).to_degrees() - self.lag_deg)
    }
}

fn sum(weights: &Value) -> (f64, f64) {
    let mut at = (0.0, 0.0);
    for w in weights.as_array().expect("weights") {
        let (m, a) = (number(w, "/moment_g_mm"), number(w, "/at_deg").to_radians());
        at = (at.0 + m * a.cos(), at.1 + m * a.sin());
    }
    at
}

#[test]
fn the_weights_that_are_placed_take_away_what_was_found() {
    // The rotor as it is, weights included, is heavy by 140 g·mm at 75°.
    let shows = Shows { heavy: (140.0, 75.0), per_g_mm: 0.01, lag_deg: 30.0 };
    let weights_now = json!([0, 120, 240].map(|d| json!({"moment_g_mm": 608.0, "at_deg": d})));
    let groove = json!({"weights": vec![json!({"moment_g_mm": 608.0, "arc_deg": 18.0}); 3], "graduation_deg": 1.0});
    // The trial is one of the ring's own weights moved by 20°.
    let moved = json!([20, 120, 240].map(|d| json!({"moment_g_mm": 608.0, "at_deg": d})));
    let run = |added: &[(f64, f64)]| {
        let (a, p) = shows.of(added);
        json!({"amplitude": a, "phase_deg": p, "amplitude_sd": 0.001, "phase_sd_deg": 0.1})
    };
    let mut second = run(&[(608.0, 20.0), (-608.0, 0.0)]);
    second["weights"] = moved;
    let out = trim(json!({
        "runs": [run(&[]), second], "turns": "counter-clockwise", "weights_now": weights_now, "groove": groove, "allowance_g_mm": 10.0,
    }))
    .expect("placed");
    let (before, then) = (sum(&weights_now), sum(&out["placement"]["weights_then"]));
    let (hx, hy) = (140.0 * 75f64.to_radians().cos(), 140.0 * 75f64.to_radians().sin());
    let left = (hx + then.0 - before.0).hypot(hy + then.1 - before.1);
    assert!((left - number(&out, "/placement/left/size_g_mm")).abs() < 0.2, "{left} {out}");
    assert!(left < 6.0 && out["expected"]["within_allowance"] == json!(true), "{left} {out}");
    assert!(!out["placement"]["moves"].as_array().expect("moves").is_empty());
}

#[test]
fn screws_go_through_the_same_door() {
    let shows = Shows { heavy: (90.0, 200.0), per_g_mm: 0.01, lag_deg: 0.0 };
    let holes: Vec<Value> = (0..24).map(|i| json!({"radius_mm": 48.0, "at_deg": 15 * i})).collect();
    let now: Vec<Value> = (0..24).map(|i| json!({"moment_g_mm": if i == 3 { 1.1 * 48.0 } else { 0.0 }, "at_deg": 15 * i})).collect();
    let runs: Vec<Value> = [None, Some(0.0), Some(120.0), Some(240.0)]
        .into_iter()
        .map(|at| match at {
            None => json!({"amplitude": shows.of(&[]).0, "amplitude_sd": 0.002}),
            Some(d) => json!({"amplitude": shows.of(&[(100.0, d)]).0, "amplitude_sd": 0.002, "trial": [{"mass_g": 2.0, "radius_mm": 50.0, "at_deg": d}]}),
        })
        .collect();
    let stock = json!([{"mass_g": 1.1, "count": 12}, {"mass_g": 2.3, "count": 12}]);
    let out = trim(json!({"runs": runs, "weights_now": now, "tapped_holes": {"holes": holes, "stock": stock}})).expect("placed");
    let (before, then) = (sum(&Value::from(now)), sum(&out["placement"]["weights_then"]));
    let (hx, hy) = (90.0 * 200f64.to_radians().cos(), 90.0 * 200f64.to_radians().sin());
    let left = (hx + then.0 - before.0).hypot(hy + then.1 - before.1);
    assert!(left < 5.0, "{left} {out}");
    assert!(!out["placement"]["screw_changes"].as_array().expect("changes").is_empty());
}

#[test]
fn the_sense_of_turning_and_of_the_phase_turn_the_answer_over() {
    let shows = Shows { heavy: (80.0, 50.0), per_g_mm: 0.01, lag_deg: 100.0 };
    let runs = |sign: f64| -> Vec<Value> {
        [&[][..], &[(60.0, 0.0)], &[(60.0, 90.0)]]
            .iter()
            .map(|added| {
                let (a, p) = shows.of(added);
                let mut run = json!({"amplitude": a, "phase_deg": sign * p});
                if let [(size, deg)] = added {
                    run["trial"] = trial(*size, *deg);
                }
                run
            })
            .collect()
    };
    for (sign, turns, counts) in
        [(1.0, "counter-clockwise", "lead"), (-1.0, "counter-clockwise", "lag"), (-1.0, "clockwise", "lead"), (1.0, "clockwise", "lag")]
    {
        let out = trim(json!({"runs": runs(sign), "turns": turns, "phase_counts": counts})).expect(turns);
        assert!((number(&out, "/answers/0/unbalance/at_deg") - 50.0).abs() < 1e-6, "{turns} {counts}: {out}");
        let fault = trim(json!({"runs": runs(-sign), "turns": turns, "phase_counts": counts})).expect_err("the wrong way round");
        assert_eq!(fault.field, "phase_counts", "{fault}");
    }
}

#[test]
fn vibration_that_is_not_unbalance_is_told() {
    let mut input = (find("trim").expect("listed").example)();
    let calm = trim(input.clone()).expect("calm");
    assert_eq!(calm["remainder"]["mostly_not_unbalance"], json!(false), "{calm}");
    input["runs"][0]["second"] = json!(2.0);
    input["runs"][0]["rest_rms"] = json!(1.6);
    let shaken = trim(input.clone()).expect("shaken");
    // Mean squares: 1.6² against 1.35²/2.
    assert!((number(&shaken, "/remainder/other_share_now") - 2.56 / (2.56 + 0.5 * 1.35 * 1.35)).abs() < 1e-9);
    assert_eq!(shaken["remainder"]["mostly_not_unbalance"], json!(true));
    let said = shaken["cautions"].to_string();
    assert!(said.contains("not once per turn") && said.contains("twice the speed"), "{said}");
    // Repeats that differ by a third.
    let again = json!({"amplitude": 1.9});
    input["runs"].as_array_mut().expect("runs").push(again);
    let said = trim(input).expect("repeats")["cautions"].to_string();
    assert!(said.contains("Repeated runs scatter"), "{said}");
}

#[rstest]
#[case("some phases", json!({"runs": [{"amplitude": 1.0, "phase_deg": 3}, {"amplitude": 2.0, "trial": trial(5.0, 0.0)}], "turns": "clockwise"}), "runs[1].phase_deg")]
#[case("no sense", json!({"runs": [{"amplitude": 1.0, "phase_deg": 3}, {"amplitude": 2.0, "phase_deg": 40, "trial": trial(5.0, 0.0)}]}), "turns")]
#[case("no runs", json!({"runs": []}), "runs")]
#[case("a bad trial", json!({"runs": [{"amplitude": 1.0}, {"amplitude": 2.0, "trial": trial(-5.0, 0.0)}, {"amplitude": 1.0}]}), "runs[1].trial[0].mass_g")]
#[case("weights of another ring", json!({"runs": [{"amplitude": 1.0}, {"amplitude": 2.0, "weights": [{"moment_g_mm": 1.0, "at_deg": 1.0}]}]}), "runs[1].weights")]
#[case("influence without phases", json!({"runs": [{"amplitude": 1.0}], "known_influence": {"per_g_mm": 1.0, "turned_deg": 0.0, "rel_sd": 0.1}}), "known_influence")]
fn what_can_not_be_is_a_fault(#[case] name: &str, #[case] input: Value, #[case] field: &str) {
    let fault = trim(input).expect_err(name);
    assert_eq!(fault.field, field, "{name}: {fault}");
}

/// A recording of a wheel: once per turn 0.3 of full scale, twice 0.1, a mark on the second channel.
fn wave(rate: u32, seconds: f64, rpm: f64, twice: f64, i: u32) -> [f64; 2] {
    let _ = seconds;
    let turn = rpm / 60.0 * f64::from(i) / f64::from(rate);
    let hiss = 0.01 * (1.7 * f64::from(i)).sin() * (0.0131 * f64::from(i)).cos();
    let x = 0.3 * (TAU * turn + 0.8).cos() + twice * (2.0 * TAU * turn).sin() + hiss;
    let mark = (turn + 0.05).fract();
    [
        x,
        if mark < 0.1 {
            8.0 * mark
        } else if mark < 0.3 {
            0.8
        } else {
            0.0
        },
    ]
}

fn wav(bits: u16, format: SampleFormat, gain: f64, twice: f64) -> Vec<u8> {
    const RATE: u32 = 3000;
    let spec = WavSpec { channels: 2, sample_rate: RATE, bits_per_sample: bits, sample_format: format };
    let mut bytes = Cursor::new(Vec::new());
    let mut writer = WavWriter::new(&mut bytes, spec).expect("a writer");
    for i in 0..2 * RATE {
        for v in wave(RATE, 2.0, 2853.0, twice, i) {
            match format {
                SampleFormat::Float => writer.write_sample((gain * v) as f32).expect("written"),
                SampleFormat::Int => {
                    let full = 2f64.powi(i32::from(bits) - 1);
                    writer.write_sample((gain * v * full).round().clamp(-full, full - 1.0) as i32).expect("written");
                }
            }
        }
    }
    writer.finalize().expect("finished");
    bytes.into_inner()
}

#[rstest]
#[case(8, SampleFormat::Int, 2e-3)]
#[case(16, SampleFormat::Int, 1e-4)]
#[case(24, SampleFormat::Int, 1e-4)]
#[case(32, SampleFormat::Int, 1e-4)]
#[case(32, SampleFormat::Float, 1e-4)]
fn every_wav_format_gives_the_wheel_that_was_written(#[case] bits: u16, #[case] format: SampleFormat, #[case] within: f64) {
    let file = read_recording(&wav(bits, format, 1.0, 0.1)).expect("a recording");
    assert_eq!((file.rate_hz, file.samples.len(), file.samples[0].len()), (3000.0, 2, 6000));
    let got = once_per_turn_of(&file, 0, Some(1), None).expect("with a mark");
    assert!((got.amplitude - 0.3).abs() < within, "{got:?}");
    assert!((got.speed_rpm - 2853.0).abs() < 0.2, "{got:?}");
    assert!((got.phase_deg.expect("a mark") - 0.8_f64.to_degrees()).abs() < 0.5, "{got:?}");
    let without = once_per_turn_of(&file, 0, None, Some(2800.0)).expect("without a mark");
    assert!((without.amplitude - 0.3).abs() < within && without.phase_deg.is_none(), "{without:?}");
    assert!((without.orders[0].amplitude - 0.1).abs() < within, "{without:?}");
}

#[test]
fn a_wav_that_was_too_loud_is_refused_at_any_depth() {
    for (bits, format) in [(8, SampleFormat::Int), (16, SampleFormat::Int), (24, SampleFormat::Int)] {
        let file = read_recording(&wav(bits, format, 5.0, 0.1)).expect("readable");
        let fault = once_per_turn_of(&file, 0, None, Some(2853.0)).expect_err("too loud");
        assert!(fault.field == "signal" && fault.why.contains("too loud"), "{bits}: {fault}");
    }
}

#[test]
fn a_wrong_speed_and_a_larger_second_multiple_are_told() {
    let file = read_recording(&wav(24, SampleFormat::Int, 1.0, 0.1)).expect("a recording");
    let wrong = once_per_turn_of(&file, 0, None, Some(1450.0)).expect("answered");
    assert!(wrong.cautions.iter().any(|c| c.contains("strongest line is at 47.5")), "{:?}", wrong.cautions);
    let fault = once_per_turn_of(&file, 0, Some(1), Some(1450.0)).expect_err("the mark knows better");
    assert_eq!(fault.field, "speed_rpm");
    let file = read_recording(&wav(24, SampleFormat::Int, 1.0, 0.6)).expect("a recording");
    let got = once_per_turn_of(&file, 0, None, Some(2860.0)).expect("answered");
    assert!((got.amplitude - 0.3).abs() < 1e-3, "{got:?}");
    assert!(got.cautions.iter().any(|c| c.contains("2 times the speed")), "{:?}", got.cautions);
}

#[test]
fn a_table_gives_the_same_wheel_and_uneven_times_are_refused() {
    let rows = |step: f64, head: &str| {
        let mut text = format!("{head}\n");
        for i in 0..6000 {
            let [x, mark] = wave(3000, 2.0, 2853.0, 0.1, i);
            text += &format!("{:.7};{x:.5};{mark:.3}\n", f64::from(i) * step);
        }
        text
    };
    for (step, head) in [(1.0 / 3000.0, "t_s;head;mark"), (1.0 / 3.0, "time (ms);head;mark")] {
        let file = read_recording(rows(step, head).as_bytes()).expect("a table");
        assert!((file.rate_hz - 3000.0).abs() < 0.01 && file.names == ["head", "mark"], "{} {:?}", file.rate_hz, file.names);
        let got = once_per_turn_of(&file, 0, Some(1), Some(2860.0)).expect("a wheel");
        assert!((got.amplitude - 0.3).abs() < 1e-4 && (got.phase_deg.expect("a mark") - 0.8_f64.to_degrees()).abs() < 0.5, "{got:?}");
    }
    let whole = rows(1.0 / 3000.0, "t_s;head;mark");
    let gap = whole.lines().enumerate().filter(|(i, _)| *i != 700).map(|(_, l)| l).collect::<Vec<_>>().join("\n");
    assert!(read_recording(gap.as_bytes()).expect_err("a gap").field.starts_with("row of sample"));
    assert_eq!(
        once_per_turn_of(&read_recording(rows(1e-3, "t;a;b").as_bytes()).expect("a table"), 7, None, Some(2860.0))
            .expect_err("no such")
            .field,
        "signal_channel"
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    // Law: damaged bytes give a fault or a recording, never a panic.
    #[test]
    fn damaged_wav_files_are_refused_or_read(at in 0_usize..64, byte in any::<u8>(), second in 0_usize..64, other in any::<u8>(), keep in 0_usize..3000) {
        let mut bytes = wav(16, SampleFormat::Int, 1.0, 0.1);
        bytes[at] = byte;
        bytes[second] = other;
        bytes.truncate(keep.max(12));
        if let Ok(file) = read_recording(&bytes) {
            prop_assert!(file.samples.iter().flatten().all(|v| v.is_finite()));
        }
    }
}
