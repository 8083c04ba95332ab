//! Export and import.

mod common;
use common::{at, by, holes_ring, machine, new, open_shop, start};
use proptest::prelude::*;
use serde_json::{Value, json};
use stillwheel_store::{By, EventKind, Export, Imported, Machine, NewEvent, RecordKind, Rotor, SittingStart, Store, StoreFault};

/// A change to an export, for the worse.
type Damage = Box<dyn Fn(&mut Export)>;

fn empty() -> Store {
    Store::open_in_memory().unwrap()
}

/// A shop with every kind of record, edits, a retired one, two sittings with undo and redo.
fn lived_in() -> Store {
    let store = empty();
    let shop = open_shop(&store);
    store.put(&holes_ring(), &by("Bo", 5)).unwrap();
    store.revise(&shop.rotor.id, 1, &Rotor { mass_kg: 0.1 + 2.2, ..shop.rotor.body.clone() }, &by("Bo", 6)).unwrap();
    let old = store.put(&Machine { name: "Old".into(), ..machine() }, &by("", 7)).unwrap();
    store.retire::<Machine>(&old.id, &by("Ada", 8)).unwrap();
    store.new_sitting(&start(&shop, 9)).unwrap();
    let id = store.new_sitting(&start(&shop, 10)).unwrap().id;
    let look = json!({"settle_deg": 0.1 + 0.2, "odd": [1e-300, -0.0, 5e-324, u64::MAX, i64::MIN, null, "\u{0}\u{1f600}\"\\"]});
    store.append(&id, &new("a", 0, EventKind::Look, look)).unwrap();
    store.append(&id, &new("b", 1, EventKind::Move, json!({"to_deg": [10, 130.5, 250]}))).unwrap();
    store.append(&id, &NewEvent::undo("c", 2, 2, by("Bo", 12))).unwrap();
    store.append(&id, &NewEvent::undo("d", 3, 3, by("Bo", 13))).unwrap();
    store.append(&id, &new("e", 4, EventKind::Verdict, json!({"accepted": true}))).unwrap();
    store.append(&id, &new("f", 5, EventKind::Closed, json!({}))).unwrap();
    store
}

fn import_text(into: &Store, text: &str) -> Result<Imported, StoreFault> {
    into.import(&Export::from_json(text)?)
}

#[test]
fn an_import_into_an_empty_store_exports_the_same_bytes() {
    let text = lived_in().export().unwrap().to_json();
    let copy = empty();
    let done = import_text(&copy, &text).unwrap();
    assert_eq!(done, Imported { revisions: 8, sittings: 2, events: 6, already_here: 0 });
    assert_eq!(copy.export().unwrap().to_json(), text);
    copy.verify().unwrap();
    let rotor = &copy.list::<Rotor>().unwrap()[0];
    assert_eq!((rotor.revision, rotor.body.mass_kg), (2, 0.1 + 2.2));
    assert_eq!(copy.list_retired::<Machine>().unwrap().len(), 1);
}

#[test]
fn a_copy_lives_on_after_the_import() {
    let copy = empty();
    import_text(&copy, &lived_in().export().unwrap().to_json()).unwrap();
    let latest = &copy.sittings(None).unwrap()[0];
    assert!(latest.closed && latest.verdict == Some(json!({"accepted": true})));
    copy.append(&latest.id, &new("g", 6, EventKind::Reopened, json!({}))).unwrap();
    assert!(copy.append(&latest.id, &new("a", 7, EventKind::Look, json!({}))).is_err(), "old tokens are still known");
    copy.append(&latest.id, &new("h", 7, EventKind::Look, json!({}))).unwrap();
}

#[test]
fn importing_twice_changes_nothing_and_importing_more_continues() {
    let store = lived_in();
    let old = store.export().unwrap();
    let copy = empty();
    copy.import(&old).unwrap();
    let again = copy.import(&old).unwrap();
    assert_eq!(again, Imported { already_here: 8 + 2 + 6, ..Imported::default() });
    let id = store.sittings(None).unwrap()[0].id.clone();
    store.append(&id, &new("g", 6, EventKind::Reopened, json!({}))).unwrap();
    let rotor = store.list::<Rotor>().unwrap().remove(0);
    store.revise(&rotor.id, 2, &Rotor { note: "dressed".into(), ..rotor.body }, &by("Ada", 20)).unwrap();
    let more = copy.import(&store.export().unwrap()).unwrap();
    assert_eq!((more.revisions, more.sittings, more.events), (1, 0, 1));
    assert_eq!(copy.export().unwrap(), store.export().unwrap());
    let fewer = copy.import(&old).unwrap();
    assert_eq!((fewer.revisions, fewer.sittings, fewer.events), (0, 0, 0), "an older export takes nothing back");
    assert_eq!(copy.export().unwrap(), store.export().unwrap());
}

#[test]
fn two_shops_merge_when_they_share_no_id() {
    let (one, other) = (lived_in(), lived_in());
    let done = one.import(&other.export().unwrap()).unwrap();
    assert_eq!((done.revisions, done.sittings, done.events, done.already_here), (8, 2, 6, 0));
    assert_eq!(one.sittings(None).unwrap().len(), 4);
    one.verify().unwrap();
}

#[test]
fn a_clash_refuses_the_whole_import() {
    let store = lived_in();
    let base = store.export().unwrap();
    let new_machine = {
        let other = empty();
        other.put(&machine(), &by("Cy", 30)).unwrap();
        other.export().unwrap().revisions.remove(0)
    };
    let rows: Vec<(&str, Damage)> = vec![
        ("a revision's body", Box::new(|e| e.revisions.last_mut().unwrap().body["note"] = json!("changed"))),
        ("a revision's time", Box::new(|e| e.revisions[0].at = at(999))),
        ("a revision's writer", Box::new(|e| e.revisions[0].who = "Zed".into())),
        ("a sitting's start", Box::new(|e| e.sittings[0].start["operator"] = json!("Zed"))),
        ("an event's body", Box::new(|e| e.sittings[1].events[0].body["settle_deg"] = json!(1))),
        ("an event's time", Box::new(|e| e.sittings[1].events[5].at = at(999))),
    ];
    for (what, change) in rows {
        let mut clashing = base.clone();
        change(&mut clashing);
        clashing.revisions.insert(0, new_machine.clone());
        let fault = store.import(&clashing).unwrap_err();
        assert!(matches!(fault, StoreFault::Conflict { .. }), "{what}: {fault}");
        assert_eq!(store.export().unwrap(), base, "{what}: nothing is changed, the new machine not taken in either");
    }
}

#[test]
fn a_damaged_export_is_refused_by_the_place_and_changes_nothing() {
    let base = lived_in().export().unwrap();
    let rotor = base.revisions.iter().position(|r| r.kind == RecordKind::Rotor).unwrap();
    let rows: Vec<(String, Damage)> = vec![
        (format!("revisions[{rotor}].body.mass_kg"), Box::new(move |e| e.revisions[rotor].body["mass_kg"] = json!(-1))),
        (format!("revisions[{rotor}].body"), Box::new(move |e| e.revisions[rotor].body["mass_kg"] = json!("2 kg"))),
        (format!("revisions[{rotor}].body"), Box::new(move |e| e.revisions[rotor].body["colour"] = json!("blue"))),
        (format!("revisions[{rotor}].body.ring"), Box::new(move |e| e.revisions[rotor].body["ring"] = json!("0000000000000000"))),
        (format!("revisions[{rotor}].revision"), Box::new(move |e| drop(e.revisions.remove(rotor)))),
        ("revisions[0].who".into(), Box::new(|e| e.revisions[0].who = "a\u{7}".into())),
        ("sittings[0].start".into(), Box::new(|e| drop(e.sittings[0].start.as_object_mut().unwrap().remove("operator")))),
        ("sittings[0].start.allowance.g_mm".into(), Box::new(|e| e.sittings[0].start["allowance"]["g_mm"] = json!(0))),
        ("sittings[0].start.rotor".into(), Box::new(|e| e.sittings[0].start["rotor"]["revision"] = json!(7))),
        ("sittings[1].events[0].seq".into(), Box::new(|e| drop(e.sittings[1].events.remove(0)))),
        ("sittings[1].events[1].token".into(), Box::new(|e| e.sittings[1].events[1].token = "a".into())),
        ("sittings[1].events[2].body.undoes".into(), Box::new(|e| e.sittings[1].events[2].body["undoes"] = json!(1))),
        ("sittings[1].events[3].kind".into(), Box::new(|e| e.sittings[1].events[2].kind = EventKind::Closed)),
        ("sittings[1].events[0].body".into(), Box::new(|e| e.sittings[1].events[0].body = json!(3))),
    ];
    for (expected, damage) in rows {
        let (mut damaged, store) = (base.clone(), empty());
        damage(&mut damaged);
        let fault = store.import(&damaged).unwrap_err();
        assert!(matches!(&fault, StoreFault::Invalid { field, .. } if *field == expected), "{expected}: {fault}");
        let after = store.export().unwrap();
        assert!(after.revisions.is_empty() && after.sittings.is_empty(), "{expected}");
    }
}

#[test]
fn text_that_is_no_export_of_this_version_is_refused_by_what_it_is() {
    let text = lived_in().export().unwrap().to_json();
    let with = |name: &str, value: Value| {
        let mut document: Value = serde_json::from_str(&text).unwrap();
        document[name] = value;
        document.to_string()
    };
    let kind = |text: &str| match Export::from_json(text) {
        Ok(_) => "taken",
        Err(StoreFault::NotOurs { .. }) => "not ours",
        Err(StoreFault::Newer { found: 2, known: 1 }) => "newer",
        Err(StoreFault::Invalid { .. }) => "invalid",
        Err(other) => panic!("{other}"),
    };
    let rows = [
        ("taken", text.clone()),
        ("taken", format!("\u{feff}{text}")),
        ("newer", with("version", json!(2))),
        ("invalid", with("version", json!(0))),
        ("invalid", with("version", json!(-1))),
        ("not ours", with("format", json!("something else"))),
        ("not ours", with("format", json!(3))),
        ("not ours", "{}".into()),
        ("invalid", with("extra", json!(1))),
        ("invalid", String::new()),
        ("invalid", "[".repeat(100_000)),
        ("invalid", text[..text.floor_char_boundary(text.len() / 2)].into()),
        ("invalid", "angle,time\n1,2\n".into()),
        ("invalid", with("revisions", json!([{"kind": "teapot"}]))),
    ];
    for (expected, text) in rows {
        assert_eq!(kind(&text), expected, "{}", text.chars().take(60).collect::<String>());
    }
    let mut newer = Export::from_json(&text).unwrap();
    newer.version = 2;
    assert!(matches!(empty().import(&newer), Err(StoreFault::Newer { .. })), "also when it doesn't come from text");
}

fn any_json() -> impl Strategy<Value = Value> {
    let leaf = prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        any::<i64>().prop_map(Value::from),
        any::<u64>().prop_map(Value::from),
        any::<f64>().prop_filter("JSON has no NaN", |v| v.is_finite()).prop_map(Value::from),
        any::<String>().prop_map(Value::from),
    ];
    leaf.prop_recursive(4, 24, 4, |inner| {
        prop_oneof![
            prop::collection::vec(inner.clone(), 0..4).prop_map(Value::from),
            prop::collection::hash_map(any::<String>(), inner, 0..4).prop_map(|fields| Value::Object(fields.into_iter().collect())),
        ]
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    #[test]
    fn whatever_the_bodies_hold_export_and_import_are_exact(
        bodies in prop::collection::vec(any_json(), 1..8), mass_kg in 0.001..5000.0f64, note in any::<String>(), nanosecond in 0..1_000_000_000i32,
    ) {
        let store = empty();
        let shop = open_shop(&store);
        let when = jiff::Timestamp::new(1_760_000_000, nanosecond).unwrap();
        let edited = Rotor { mass_kg, note, ..shop.rotor.body.clone() };
        store.revise(&shop.rotor.id, 1, &edited, &By { who: "Ada".into(), at: when }).unwrap();
        let id = store.new_sitting(&SittingStart { reader: bodies[0].clone(), ..start(&shop, 10) }).unwrap().id;
        for (seq, body) in (0..).zip(&bodies) {
            store.append(&id, &new(&format!("t{seq}"), seq, EventKind::Look, json!({ "body": body }))).unwrap();
        }
        let export = store.export().unwrap();
        let text = export.to_json();
        let copy = empty();
        import_text(&copy, &text).unwrap();
        prop_assert_eq!(copy.export().unwrap().to_json(), text);
        prop_assert_eq!(copy.export().unwrap(), export);
        let events = copy.events(&id).unwrap();
        prop_assert!(events.iter().zip(&bodies).all(|(event, body)| &event.body["body"] == body));
    }
}
