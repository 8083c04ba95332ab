//! Every parser of text that a person or a file hands in: whatever comes, a value in range or a fault that names its place, never a panic.

use proptest::prelude::*;
use proptest::sample::select;
use serde_json::Value;
use stillwheel_door::log_csv::parse_log_csv;
use stillwheel_door::log_table::LogTable;
use stillwheel_door::stand_sheet::{BIRCH, WAYS, read_sheet, set_in_sheet};
use stillwheel_door::{Fault, Format, calculations, find, read_bytes, read_json, read_toml};
use stillwheel_physics::quantity::{Dimension, parse_quantity};

const DIMENSIONS: [Dimension; 7] =
    [Dimension::Length, Dimension::Mass, Dimension::Unbalance, Dimension::Angle, Dimension::Time, Dimension::Speed, Dimension::Plain];

/// Text that looks like a quantity more often than not.
fn quantity_like() -> impl Strategy<Value = String> {
    let piece = prop_oneof![
        select(vec![
            "1", "0", "-3", "3/8", "1 1/2", "12.7", "12,7", "1,500", "1e308", "1e-400", "9e999", ".", ",", "/", "-", "+", "−", "e", "NaN",
            "inf", "1/0", "0x1f", "٣", "½", "1_000",
        ])
        .prop_map(str::to_owned),
        select(vec![
            " mm", "mm", " in", "\"", "g", " oz", "kg", "g·mm", "g*mm", "oz in", "°", "deg", " rad", "s", "min", "rpm", "r/min", "%",
            " \u{a0}", "\t"
        ])
        .prop_map(str::to_owned),
        any::<char>().prop_map(String::from),
    ];
    prop::collection::vec(piece, 0..6).prop_map(|p| p.concat())
}

/// Some bytes of a text changed, taken out, doubled or put in; cut to whole letters.
fn garbled(text: &'static str) -> impl Strategy<Value = String> {
    let edit = (0..text.len(), 0..4_u8, prop_oneof![select(b"\"'[]{}=.,:#\n\\-+e0 9 ".to_vec()), any::<u8>()], 1..40_usize);
    prop::collection::vec(edit, 1..6).prop_map(move |edits| {
        let mut bytes = text.as_bytes().to_vec();
        for (at, how, byte, length) in edits {
            let at = at.min(bytes.len().saturating_sub(1));
            let end = (at + length).min(bytes.len());
            match how {
                0 if !bytes.is_empty() => bytes[at] = byte,
                1 => {
                    bytes.drain(at..end);
                }
                2 => {
                    let again = bytes[at..end].to_vec();
                    bytes.splice(at..at, again);
                }
                _ => bytes.insert(at, byte),
            }
        }
        String::from_utf8_lossy(&bytes).into_owned()
    })
}

fn whole(fault: &Fault) -> Result<(), TestCaseError> {
    prop_assert!(!fault.why.is_empty() && !fault.allowed.is_empty(), "{fault:?}");
    prop_assert!(fault.to_string().len() < 4000, "a fault is read by a person: {} bytes", fault.to_string().len());
    Ok(())
}

fn finite(value: &Value) -> bool {
    match value {
        Value::Number(n) => n.as_f64().is_some_and(f64::is_finite),
        Value::Array(items) => items.iter().all(finite),
        Value::Object(fields) => fields.values().all(finite),
        _ => true,
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1500, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_text_is_a_finite_quantity_or_a_fault(text in prop_oneof![quantity_like(), any::<String>()], dimension in select(DIMENSIONS.to_vec())) {
        match parse_quantity("field", &text, dimension) {
            Ok(v) => prop_assert!(v.is_finite(), "{text:?}: {v}"),
            Err(fault) => {
                whole(&fault)?;
                prop_assert_eq!(fault.field, "field");
            }
        }
    }

    #[test]
    fn any_bytes_are_an_input_or_a_fault(bytes in prop::collection::vec(any::<u8>(), 0..200), json in any::<bool>()) {
        let format = if json { Format::Json } else { Format::Toml };
        for read in [read_bytes(&bytes, Some(format)), read_bytes(&bytes, None)] {
            match read {
                Ok(value) => prop_assert!(finite(&value)),
                Err(fault) => whole(&fault)?,
            }
        }
    }

    #[test]
    fn any_text_is_json_or_toml_or_a_fault(text in prop_oneof![any::<String>(), "[\\[\\]{}\":,0-9eE+.\\-a-z \n#='\\\\]{0,120}"]) {
        for read in [read_json(&text), read_toml(&text)] {
            match read {
                Ok(value) => prop_assert!(finite(&value)),
                Err(fault) => whole(&fault)?,
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_garbled_stand_sheet_is_a_sheet_in_range_or_a_fault(text in prop_oneof![garbled(BIRCH), garbled(WAYS), any::<String>()]) {
        match read_sheet(&text) {
            Ok(sheet) => prop_assert!(sheet.check().is_ok()),
            Err(fault) => whole(&fault)?,
        }
    }

    #[test]
    fn a_value_set_in_a_garbled_sheet_leaves_text_that_is_read_or_a_fault(
        text in garbled(BIRCH), path in prop_oneof![Just("saddle.length_mm".to_owned()), "[a-z_.]{0,30}", any::<String>()], value in any::<Option<f64>>()
    ) {
        if let Err(fault) = set_in_sheet(&text, &path, value) {
            whole(&fault)?;
        }
    }

    #[test]
    fn a_garbled_log_is_a_log_or_a_fault(
        text in garbled("time (s);angle (deg);note\n0,00;10,5;start\n0,04;10,4;\n0,08;9,9;\n0,12;9,0;\n0,16;8,1;\n0,20;6,9;end\n")
    ) {
        if let Ok((t, a)) = parse_log_csv(text.as_bytes()) {
            prop_assert!(t.len() == a.len() && t.iter().chain(&a).all(|v| v.is_finite()));
        }
        match LogTable::read(text.as_bytes()) {
            Ok(table) => {
                if let Ok((t, a)) = table.log(&table.proposed()) {
                    prop_assert!(t.len() == a.len() && t.iter().chain(&a).all(|v| v.is_finite()));
                }
            }
            Err(fault) => whole(&fault)?,
        }
    }
}

/// The examples of all calculations as text, garbled: what comes out of the door is finite or a fault. Half of it is no JSON any more; the rest is
/// an input with a slip of the pen.
#[test]
fn a_garbled_example_at_the_door_gives_finite_numbers_or_a_fault() {
    for c in calculations() {
        let text: &'static str = Box::leak((c.example)().to_string().into_boxed_str());
        let config = ProptestConfig { cases: 40, failure_persistence: None, ..ProptestConfig::default() };
        let run = proptest::test_runner::TestRunner::new(config).run(&garbled(text), |garbled| {
            match read_json(&garbled).and_then(|input| find(c.name).expect("it is in the list").run(input)) {
                Ok(out) => prop_assert!(finite(&out), "{garbled}"),
                Err(fault) => whole(&fault)?,
            }
            Ok(())
        });
        run.unwrap_or_else(|e| panic!("{}: {e}", c.name));
    }
}
