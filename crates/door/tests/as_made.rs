//! Finished parts and spread through the door.

use rstest::rstest;
use serde_json::{Value, json};
use stillwheel_door::as_made::AsMadeOut;
use stillwheel_door::spread::{SpreadIn, SpreadOut, spread, spread_watched};
use stillwheel_door::{Fault, find};

fn example(name: &str) -> Value {
    (find(name).unwrap().example)()
}

fn with(name: &str, pointer: &str, value: Value) -> Value {
    let mut input = example(name);
    if let Some(slot) = input.pointer_mut(pointer) {
        *slot = value;
    } else {
        let (parent, key) = pointer.rsplit_once('/').unwrap();
        input.pointer_mut(parent).expect("a part of the example")[key] = value;
    }
    input
}

fn made(input: Value) -> Result<AsMadeOut, Fault> {
    find("as-made").unwrap().run(input).map(|v| serde_json::from_value(v).unwrap())
}

fn one_saddle_drifts(bore_mm: f64, arbor_mm: f64, port_offset_mm: f64) -> f64 {
    let input = json!({
        "bore_diameter_mm": bore_mm, "arbor_diameter_mm": arbor_mm, "length_mm": 24, "port_diameter_mm": 1.2, "port_offset_mm": port_offset_mm,
        "jet_diameter_mm": 0.15, "pocket": {"kind": "round", "diameter_mm": 3, "depth_mm": 0.05}, "supply_bar": 4, "brief": true, "load_n": 2.9 * 9.80665 / 2.0,
    });
    find("saddle").unwrap().run(input).unwrap()["drift_g_mm"].as_f64().unwrap()
}

#[test]
fn each_reading_gets_its_verdict_and_what_it_costs_is_told() {
    let out = made(example("as-made")).unwrap();
    // 20.028 ± 4 µm with U 1.5: +1.5 conforms (within ±2.5), +6.5 does not (beyond 5.5): ISO 14253-1 by hand.
    let verdict = |i: usize| serde_json::to_value(out.judged[i].verdict).unwrap();
    assert_eq!((verdict(0), verdict(1), verdict(4)), (json!("conforms"), json!("does-not-conform"), json!("not-measured")));
    // The arbor's far end, −0.5 of −4/0, lies within U of its limit.
    assert_eq!(verdict(3), json!("can-not-tell"));
    assert!(out.judged[3].says.contains("can't tell with this gauge") && out.judged[1].says.contains("bush or sleeve"));
    assert_eq!(out.missing, ["first jet"]);
    let effect = out.effect.unwrap();
    // Each saddle by itself through `saddle`, under half of the rotor: the pair is out of line by 2 µm only, so it drifts as both do.
    let expected = one_saddle_drifts(20.0295, 19.998, 0.06) + one_saddle_drifts(20.0345, 19.9995, 0.085);
    assert!((effect.made.drift_g_mm / expected - 1.0).abs() < 0.03, "{} {expected}", effect.made.drift_g_mm);
    assert!(effect.made.floor_g_mm > effect.drawn.floor_g_mm && effect.drawn.drift_g_mm.abs() < 1e-6);
    assert_eq!(effect.alone.len(), 7, "what was not measured has no part in it");
    assert!(effect.alone.windows(2).all(|w| w[0].floor_g_mm >= w[1].floor_g_mm));
    // 40.012 − 39.978 = 34 and 40.021 − 39.985 = 36 lie within 20 to 40; straight pairing gives 27 and 43.
    assert_eq!(out.matched[0].within, 2);
    assert_eq!((out.matched[0].pairs[0].hole.as_str(), out.matched[0].pairs[0].shaft.as_str()), ("collar A", "saddle 2"));
}

#[test]
fn a_saddle_turned_end_for_end_is_proposed_where_it_cancels_the_drift() {
    let input = with("as-made", "/departures/0/measured_um", json!(80.0));
    let effect = made(input).unwrap().effect.unwrap();
    let better = effect.better.expect("ports off the same way cancel when one saddle is turned");
    assert!(better.says.contains("end for end"), "{}", better.says);
    assert!(better.doing.drift_g_mm.abs() < 0.3 * effect.made.drift_g_mm.abs());
    assert!(better.doing.floor_g_mm < effect.made.floor_g_mm);
}

#[rstest]
#[case::inch("/sizes/0/measured_mm", json!(0.7885), "sizes[0].measured_mm", "inches")]
#[case::factor_ten("/sizes/0/measured_mm", json!(200.29), "sizes[0].measured_mm", "decimal point")]
#[case::micrometres("/sizes/2/measured_mm", json!(19998.0), "sizes[2].measured_mm", "µm")]
#[case::mm_for_um("/departures/0/measured_um", json!(60000.0), "departures[0].measured_um", "another unit")]
#[case::limits_turned_round("/sizes/0/upper_um", json!(-9.0), "sizes[0].upper_um", "not below")]
#[case::another_drawing("/sizes/0/nominal_mm", json!(20.03), "sizes[0].nominal_mm", "another drawing")]
#[case::no_gauge("/sizes/0/u_um", json!(-1.0), "sizes[0].u_um", "uncertainty")]
#[case::no_room_for_the_arbor("/sizes/0/measured_mm", json!(19.99), "stand.sheet.saddles[0].radial_clearance_um", "")]
#[case::nothing_to_match("/matching/0/holes", json!([]), "matching[0].holes", "")]
#[case::part_in_inches("/matching/0/holes/0/mm", json!(-1.0), "matching[0].holes[0].mm", "")]
fn a_reading_that_can_not_be_is_asked_about_by_name(#[case] pointer: &str, #[case] value: Value, #[case] field: &str, #[case] asks: &str) {
    let fault = made(with("as-made", pointer, value)).unwrap_err();
    assert_eq!(fault.field, field, "{fault}");
    assert!(fault.why.contains(asks), "{fault}");
}

#[test]
fn nothing_measured_is_a_question_and_nothing_to_inspect_a_fault() {
    let size = json!({"name": "bore", "role": "first-bore", "nominal_mm": 20.028, "lower_um": -4, "upper_um": 4, "u_um": 1});
    let fault = made(json!({"sizes": [size]})).unwrap_err();
    assert!(fault.field == "sizes[0].measured_mm" && fault.why.contains("start with bore"), "{fault}");
    assert_eq!(made(json!({})).unwrap_err().field, "sizes");
    // Without a stand there are verdicts and no effect.
    let mut input = example("as-made");
    input.as_object_mut().unwrap().remove("stand");
    assert!(made(input).unwrap().effect.is_none());
}

fn small() -> SpreadIn {
    serde_json::from_value(example("spread")).unwrap()
}

#[test]
fn a_spread_tells_its_yield_its_shares_and_what_to_do() {
    let some = || SpreadIn { samples: 256, ..small() };
    let median = spread(&some()).unwrap().lot.median_g_mm;
    let out: SpreadOut = spread(&SpreadIn { target_g_mm: median, ..some() }).unwrap();
    assert!((out.lot.yields - 0.5).abs() < 0.02, "half of the stands lie below their median: {}", out.says);
    assert!(out.lot.median_g_mm.unwrap() <= out.lot.floor_95_g_mm.unwrap());
    assert!(out.floors.windows(2).all(|w| w[0][1] <= w[1][1]));
    assert_eq!(out.contributions.len(), 8, "the exact port has no share");
    assert!(out.contributions.windows(2).all(|w| w[0].share >= w[1].share));
    // What is advised was tried with the same points: the field that is named is the one with the largest share.
    assert_eq!(out.tightened.unwrap().tolerances, [out.contributions[0].tolerance.clone()]);
    assert!(out.advice.iter().any(|a| a.contains("1024 or more")), "256 stands tell shares roughly");
    assert!(out.advice.iter().any(|a| a.starts_with("Tighten")));
    assert!(spread_watched(&small(), &|_| false).unwrap().is_none());
}

#[rstest]
#[case::all_exact("/tolerances", json!({}), "tolerances")]
#[case::too_few("/samples", json!(5), "samples")]
#[case::wider_than_may_be("/tolerances/line_um/half_width", json!(1e4), "tolerances.line_um.half_width")]
#[case::too_heavy("/stand/mass_kg", json!(80), "stand.mass_kg")]
#[case::no_target("/target_g_mm", json!(0), "target_g_mm")]
fn a_spread_that_can_not_be_is_a_fault_that_names_what_to_change(#[case] pointer: &str, #[case] value: Value, #[case] field: &str) {
    let fault = find("spread").unwrap().run(with("spread", pointer, value)).unwrap_err();
    assert_eq!(fault.field, field, "{fault}");
    assert!(!fault.allowed.is_empty() && !fault.why.is_empty());
}
