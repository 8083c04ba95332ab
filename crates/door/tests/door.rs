//! Laws that hold for every calculation in the list; a new entry is tested by standing there.

use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use serde_json::{Value, json};
use stillwheel_door::{Calculation, Fault, calculations, find};

#[test]
fn names_are_unique_and_an_unknown_one_lists_them() {
    for c in calculations() {
        assert_eq!(calculations().iter().filter(|o| o.name == c.name).count(), 1, "{}", c.name);
        assert!(c.about.ends_with('.'), "{}", c.name);
        assert!(find("no-such-thing").err().unwrap().allowed.contains(c.name));
    }
}

/// The shapes that an input or output may have: one, or several told apart by `kind`.
fn shapes(schema: &Value) -> Vec<&Value> {
    schema["oneOf"].as_array().map_or_else(|| vec![schema], |all| all.iter().collect())
}

#[test]
fn every_field_of_every_schema_has_a_description() {
    fn walk(node: &Value, path: &str, missing: &mut Vec<String>) {
        if let Some(properties) = node["properties"].as_object() {
            for (name, field) in properties {
                // A tag that tells variants apart is a constant; its variant carries the words.
                if field["description"].as_str().is_none_or(str::is_empty) && !field["const"].is_string() {
                    missing.push(format!("{path}.{name}"));
                }
            }
        }
        match node {
            Value::Object(map) => map.iter().for_each(|(k, v)| walk(v, &format!("{path}/{k}"), missing)),
            Value::Array(items) => items.iter().enumerate().for_each(|(i, v)| walk(v, &format!("{path}/{i}"), missing)),
            _ => {}
        }
    }
    for c in calculations() {
        for (side, schema) in [("input", (c.input_schema)()), ("output", (c.output_schema)())] {
            let schema = schema.to_value();
            for shape in shapes(&schema) {
                assert_eq!(shape["type"], "object", "{} {side}", c.name);
                assert!(shape["properties"].as_object().is_some_and(|p| !p.is_empty()), "{} {side}", c.name);
            }
            let mut missing = Vec::new();
            walk(&schema, c.name, &mut missing);
            assert!(missing.is_empty(), "{side}: {missing:?}");
        }
    }
}

#[test]
fn every_example_is_a_valid_input() {
    for c in calculations() {
        let out = c.run((c.example)()).unwrap_or_else(|f| panic!("{}: {f}", c.name));
        assert!(out.is_object(), "{}", c.name);
    }
}

#[test]
fn the_same_input_gives_the_same_output() {
    for c in calculations() {
        assert_eq!(c.run((c.example)()), c.run((c.example)()), "{}", c.name);
    }
}

#[test]
fn an_unknown_field_and_a_wrong_shape_are_faults_that_name_it() {
    for c in calculations() {
        let mut input = (c.example)();
        input["no_such_field"] = json!(1);
        let f = c.run(input).unwrap_err();
        assert_eq!(f.field, "no_such_field", "{}", c.name);
        for shape in [json!(null), json!([]), json!("text"), json!(3), json!(true)] {
            assert_eq!(c.run(shape).unwrap_err().field, "input", "{}", c.name);
        }
    }
}

#[test]
fn each_required_field_that_is_missing_is_named() {
    for c in calculations() {
        let schema = (c.input_schema)().to_value();
        let example = (c.example)();
        // Of several shapes, the example's own.
        let shape = shapes(&schema).into_iter().find(|s| s["properties"]["kind"]["const"] == example["kind"]).unwrap();
        for name in shape["required"].as_array().into_iter().flatten() {
            let name = name.as_str().unwrap();
            let mut input = (c.example)();
            assert!(input.as_object_mut().unwrap().remove(name).is_some(), "{}: the example has every required field", c.name);
            let f = c.run(input).unwrap_err();
            assert_eq!((f.field.as_str(), f.value.to_string().as_str()), (name, "missing"), "{}", c.name);
        }
    }
}

#[test]
fn each_number_written_as_text_is_named_by_its_full_path() {
    for c in calculations() {
        for pointer in pointers(&(c.example)()) {
            let mut input = (c.example)();
            let slot = input.pointer_mut(&pointer).unwrap();
            if !slot.is_number() {
                continue;
            }
            *slot = json!("abc");
            let f = c.run(input).unwrap_err();
            assert_eq!(f.field, field_of(&pointer), "{}", c.name);
            assert_eq!(f.value.to_string(), "abc", "{} {pointer}", c.name);
            assert!(f.allowed.contains("number"), "{} {pointer}: {f}", c.name);
            assert!(f.why.contains("text"), "{} {pointer}: {f}", c.name);
        }
    }
}

/// JSON pointers of all places in a value, the root apart.
fn pointers(value: &Value) -> Vec<String> {
    fn walk(value: &Value, at: &str, out: &mut Vec<String>) {
        let mut visit = |key: &str, v: &Value| {
            let at = format!("{at}/{key}");
            out.push(at.clone());
            walk(v, &at, out);
        };
        match value {
            Value::Object(map) => map.iter().for_each(|(k, v)| visit(k, v)),
            Value::Array(items) => items.iter().enumerate().for_each(|(i, v)| visit(&i.to_string(), v)),
            _ => {}
        }
    }
    let mut out = Vec::new();
    walk(value, "", &mut out);
    out
}

/// `/looks/0/reading` as a fault names it: `looks[0].reading`.
fn field_of(pointer: &str) -> String {
    pointer.split('/').skip(1).fold(String::new(), |path, part| match part.parse::<usize>() {
        Ok(i) => format!("{path}[{i}]"),
        Err(_) if path.is_empty() => part.to_owned(),
        Err(_) => format!("{path}.{part}"),
    })
}

/// One change to a valid input.
#[derive(Clone, Debug)]
enum Change {
    Put(Value),
    Scale(f64),
    Remove,
    Double,
    AddField,
}

fn change() -> impl Strategy<Value = Change> {
    prop_oneof![
        4 => prop_oneof![
            Just(json!(null)), Just(json!(true)), Just(json!("")), Just(json!("12 mm")), Just(json!("settle")), Just(json!([])), Just(json!({})),
            Just(json!([1, 2])), Just(json!(0)), Just(json!(-1)), Just(json!(-0.0)), Just(json!(1e-300)), Just(json!(1e308)), Just(json!(-1e308)),
            Just(json!(180)), Just(json!(360.0)), Just(json!(u64::MAX)), Just(json!(i64::MIN)), Just(json!(f64::MIN_POSITIVE)),
        ].prop_map(Change::Put),
        4 => (-12.0..12.0_f64).prop_map(|e| Change::Scale(10_f64.powf(e))),
        2 => (0.5..2.0_f64).prop_map(Change::Scale),
        1 => (0.5..2.0_f64).prop_map(|s| Change::Scale(-s)),
        1 => Just(Change::Remove),
        1 => Just(Change::Double),
        1 => Just(Change::AddField),
    ]
}

fn apply(input: &mut Value, pointer: &str, change: &Change) {
    let Some(slot) = input.pointer_mut(pointer) else { return };
    match change {
        Change::Put(v) => *slot = v.clone(),
        Change::Scale(s) => {
            if let Some(v) = slot.as_f64() {
                *slot = json!(v * s);
            }
        }
        Change::Double => {
            if let Value::Array(items) = slot {
                items.extend(items.clone());
            }
        }
        Change::AddField => {
            if let Value::Object(map) = slot {
                map.insert("other".into(), json!(1));
            }
        }
        Change::Remove => {
            let (parent, key) = pointer.rsplit_once('/').unwrap();
            match input.pointer_mut(parent) {
                Some(Value::Object(map)) => {
                    map.remove(key);
                }
                Some(Value::Array(items)) => {
                    items.remove(key.parse().unwrap());
                }
                _ => {}
            }
        }
    }
}

fn check_answer(c: &Calculation, answer: &Result<Value, Fault>) -> Result<(), TestCaseError> {
    match answer {
        // serde_json can hold no NaN; the door must not have had to catch one either.
        Ok(out) => prop_assert!(out.is_object()),
        Err(f) => {
            prop_assert!(f.allowed != "finite results", "{}: let a number that is not finite through to its result: {f}", c.name);
            prop_assert!(!f.field.is_empty() && !f.allowed.is_empty() && !f.why.is_empty(), "{}: {f:?}", c.name);
            prop_assert!(!f.field.starts_with('.') && !f.field.contains(".?"), "{}: {f:?}", c.name);
        }
    }
    Ok(())
}

#[test]
fn a_valid_input_changed_at_random_gives_finite_numbers_or_a_fault_and_never_a_panic() {
    for c in calculations() {
        let example = (c.example)();
        let places = pointers(&example);
        let changes = prop::collection::vec((prop::sample::select(places), change()), 1..4);
        let mut runner = TestRunner::new(Config { cases: 150, failure_persistence: None, ..Config::default() });
        let result = runner.run(&changes, |changes| {
            let mut input = example.clone();
            for (pointer, change) in &changes {
                apply(&mut input, pointer, change);
            }
            check_answer(c, &c.run(input))
        });
        result.unwrap_or_else(|e| panic!("{}: {e}", c.name));
    }
}
