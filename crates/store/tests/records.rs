//! Records in revisions.

mod common;
use common::{at, by, groove_ring, holes_ring, machine, open_shop, rotor, stand};
use proptest::prelude::*;
use stillwheel_store::{Groove, Id, Machine, Record, RingKind, Rotor, Stand, Store, StoreFault, TappedHoles, WeightRing, Wheel};

fn store() -> Store {
    Store::open_in_memory().unwrap()
}

#[test]
fn each_kind_of_record_comes_back_as_it_was_put() {
    let store = store();
    let shop = open_shop(&store);
    let holes = store.put(&holes_ring(), &by("Bo", 9)).unwrap();
    assert_eq!(store.get::<Rotor>(&shop.rotor.id).unwrap(), shop.rotor);
    assert_eq!(store.get::<Machine>(&shop.machine.id).unwrap().body, machine());
    assert_eq!(store.get::<Stand>(&shop.stand.id).unwrap().body, stand());
    assert_eq!(store.get::<WeightRing>(&shop.ring.id).unwrap().body, groove_ring());
    assert_eq!(store.get::<WeightRing>(&holes.id).unwrap().body, holes_ring());
    assert_eq!((holes.revision, holes.who.as_str(), holes.at, holes.retired), (1, "Bo", at(9), false));
}

#[test]
fn an_edit_adds_a_revision_and_keeps_the_earlier_ones() {
    let store = store();
    let first = store.put(&machine(), &by("Ada", 0)).unwrap();
    let faster = Machine { speed_rpm: 3000.0, ..machine() };
    let second = store.revise(&first.id, 1, &faster, &by("Bo", 60)).unwrap();
    assert_eq!((second.revision, second.who.as_str(), second.at), (2, "Bo", at(60)));
    assert_eq!(store.get::<Machine>(&first.id).unwrap(), second);
    assert_eq!(store.history::<Machine>(&first.id).unwrap(), [first, second]);
}

#[test]
fn the_same_edit_sent_twice_makes_one_revision() {
    let store = store();
    let first = store.put(&machine(), &by("Ada", 0)).unwrap();
    let faster = Machine { speed_rpm: 3000.0, ..machine() };
    let once = store.revise(&first.id, 1, &faster, &by("Bo", 60)).unwrap();
    let twice = store.revise(&first.id, 1, &faster, &by("Bo", 61)).unwrap();
    assert_eq!(once, twice);
    assert_eq!(store.history::<Machine>(&first.id).unwrap().len(), 2);
}

#[test]
fn an_edit_of_what_another_changed_meanwhile_is_refused_and_says_who() {
    let store = store();
    let first = store.put(&machine(), &by("Ada", 0)).unwrap();
    store.revise(&first.id, 1, &Machine { speed_rpm: 3000.0, ..machine() }, &by("Bo", 60)).unwrap();
    let fault = store.revise(&first.id, 1, &Machine { note: "new belt".into(), ..machine() }, &by("Ada", 61)).unwrap_err();
    assert!(matches!(fault, StoreFault::Conflict { .. }), "{fault}");
    for word in ["No. 2", "Bo", "revision 2", "Nothing was lost"] {
        assert!(fault.to_string().contains(word), "{fault}");
    }
    assert_eq!(store.get::<Machine>(&first.id).unwrap().body.speed_rpm, 3000.0);
}

#[test]
fn a_retired_record_leaves_the_list_and_comes_back_when_restored() {
    let store = store();
    let kept = store.put(&machine(), &by("Ada", 0)).unwrap();
    let hidden = store.put(&Machine { name: "No. 5".into(), ..machine() }, &by("Ada", 1)).unwrap();
    let retired = store.retire::<Machine>(&hidden.id, &by("Ada", 2)).unwrap();
    assert!(retired.retired && retired.revision == 2 && retired.body == hidden.body);
    assert_eq!(store.list::<Machine>().unwrap(), std::slice::from_ref(&kept));
    assert_eq!(store.list_retired::<Machine>().unwrap(), std::slice::from_ref(&retired));
    assert_eq!(store.get::<Machine>(&hidden.id).unwrap(), retired);
    assert_eq!(store.retire::<Machine>(&hidden.id, &by("Ada", 3)).unwrap(), retired, "retiring twice is once");
    let restored = store.restore::<Machine>(&hidden.id, &by("Ada", 4)).unwrap();
    assert_eq!(store.list::<Machine>().unwrap(), [kept, restored]);
    assert_eq!(store.list_retired::<Machine>().unwrap(), []);
    assert_eq!(store.history::<Machine>(&hidden.id).unwrap().len(), 3);
}

#[test]
fn lists_go_by_name_whatever_the_case() {
    let store = store();
    for name in ["beech", "Ash", "Cedar", "ash"] {
        store.put(&Machine { name: name.into(), ..machine() }, &by("Ada", 0)).unwrap();
    }
    let names: Vec<String> = store.list::<Machine>().unwrap().into_iter().map(|m| m.body.name).collect();
    assert_eq!(names[2..], ["beech", "Cedar"]);
    assert!(names[..2].iter().all(|name| name.eq_ignore_ascii_case("ash")));
}

#[test]
fn an_id_of_another_kind_or_of_nothing_is_not_found() {
    let store = store();
    let shop = open_shop(&store);
    let nothing = Id::fresh(at(0));
    for id in [&shop.rotor.id, &nothing] {
        let not_found = |fault: StoreFault| matches!(fault, StoreFault::NotFound { what, .. } if what == "machine");
        assert!(not_found(store.get::<Machine>(id).unwrap_err()));
        assert!(not_found(store.history::<Machine>(id).unwrap_err()));
        assert!(not_found(store.retire::<Machine>(id, &by("Ada", 5)).unwrap_err()));
        assert!(not_found(store.revise(id, 1, &machine(), &by("Ada", 5)).unwrap_err()));
    }
}

#[test]
fn a_rotor_needs_a_ring_that_exists() {
    let store = store();
    let shop = open_shop(&store);
    for id in [&shop.machine.id, &Id::fresh(at(7))] {
        let fault = store.put(&rotor(id), &by("Ada", 8)).unwrap_err();
        assert!(matches!(&fault, StoreFault::Invalid { field, .. } if field == "ring"), "{fault}");
    }
    assert_eq!(store.list::<Rotor>().unwrap().len(), 1);
}

#[test]
fn values_out_of_range_are_refused_by_the_field_that_holds_them() {
    fn refused<R: Record>(record: R) -> (String, String) {
        let store = store();
        let fault = store.put(&record, &by("Ada", 0)).unwrap_err();
        assert!(store.list::<R>().unwrap().is_empty());
        match fault {
            StoreFault::Invalid { field, value, .. } => (field, value),
            other => panic!("{other}"),
        }
    }
    fn groove(change: impl Fn(&mut Groove)) -> WeightRing {
        let mut ring = groove_ring();
        let RingKind::Groove(groove) = &mut ring.kind else { unreachable!() };
        change(groove);
        ring
    }
    fn holes(change: impl Fn(&mut TappedHoles)) -> WeightRing {
        let mut ring = holes_ring();
        let RingKind::TappedHoles(holes) = &mut ring.kind else { unreachable!() };
        change(holes);
        ring
    }
    let a_rotor = rotor(&Id::fresh(at(0)));
    let wheel = |wheel: Wheel| Rotor { wheel, ..a_rotor.clone() };
    let a_wheel = &a_rotor.wheel;
    let rows = [
        ("name", "\"  \"", refused(Machine { name: "  ".into(), ..machine() })),
        ("name", "\"ab\"", refused(Machine { name: "a\nb".into(), ..machine() })),
        ("speed_rpm", "NaN", refused(Machine { speed_rpm: f64::NAN, ..machine() })),
        ("speed_rpm", "inf", refused(Machine { speed_rpm: f64::INFINITY, ..machine() })),
        ("speed_rpm", "-1", refused(Machine { speed_rpm: -1.0, ..machine() })),
        ("note", "10001 characters long", refused(Machine { note: "x".repeat(10_001), ..machine() })),
        ("mass_kg", "0", refused(Rotor { mass_kg: 0.0, ..a_rotor.clone() })),
        ("mass_kg", "NaN", refused(Rotor { mass_kg: f64::NAN, ..a_rotor.clone() })),
        ("inertia_kg_m2", "0", refused(Rotor { inertia_kg_m2: 0.0, ..a_rotor.clone() })),
        ("inertia_rel_sd", "2", refused(Rotor { inertia_rel_sd: 2.0, ..a_rotor.clone() })),
        ("expected_unbalance_g_mm", "0", refused(Rotor { expected_unbalance_g_mm: Some(0.0), ..a_rotor.clone() })),
        ("wheel.diameter_mm", "0.2", refused(wheel(Wheel { diameter_mm: 0.2, ..a_wheel.clone() }))),
        ("wheel.width_mm", "0", refused(wheel(Wheel { width_mm: 0.0, ..a_wheel.clone() }))),
        ("wheel.bore_mm", "200", refused(wheel(Wheel { bore_mm: 200.0, ..a_wheel.clone() }))),
        ("wheel.max_speed_m_s", "0", refused(wheel(Wheel { max_speed_m_s: Some(0.0), ..a_wheel.clone() }))),
        ("wheel.max_speed_rpm", "NaN", refused(wheel(Wheel { max_speed_rpm: Some(f64::NAN), ..a_wheel.clone() }))),
        ("radius_mm", "-38", refused(WeightRing { radius_mm: -38.0, ..groove_ring() })),
        ("kind.groove.weights[1].mass_g", "0", refused(groove(|g| g.weights[1].mass_g = 0.0))),
        ("kind.groove.weights[0].arc_deg", "181", refused(groove(|g| g.weights[0].arc_deg = 181.0))),
        ("kind.groove.graduation_deg", "0", refused(groove(|g| g.graduation_deg = 0.0))),
        ("kind.groove.forbidden_deg[1][0]", "-170", refused(groove(|g| g.forbidden_deg[1][0] = -170.0))),
        ("kind.tapped-holes.holes", "0", refused(holes(|h| h.holes.clear()))),
        ("kind.tapped-holes.holes[2].at_deg", "361", refused(holes(|h| h.holes[2].at_deg = 361.0))),
        ("kind.tapped-holes.stock[1].mass_g", "-0.1", refused(holes(|h| h.stock[1].mass_g = -0.1))),
        ("floor_g_mm", "-1", refused(Stand { floor_g_mm: -1.0, ..stand() })),
        ("dry_friction_g_mm", "NaN", refused(Stand { dry_friction_g_mm: f64::NAN, ..stand() })),
        ("drift_sd_g_mm", "inf", refused(Stand { drift_sd_g_mm: f64::INFINITY, ..stand() })),
        ("arbor_radius_mm", "0", refused(Stand { arbor_radius_mm: Some(0.0), ..stand() })),
    ];
    for (field, value, got) in rows {
        assert_eq!(got, (field.to_owned(), value.to_owned()));
    }
}

#[test]
fn ids_sort_by_time_and_are_read_back_from_text() {
    let early = Id::new(at(0), u64::MAX);
    let late = Id::new(at(1), 0);
    assert!(early < late);
    assert_eq!(late.as_str().parse::<Id>().unwrap(), late);
    for text in ["", "0000000000000000x", "000000000000000", "000000000000000L", "../../etc/passwd", "00000000 0000000", "ééééééééé"]
    {
        assert!(matches!(Id::parse(text), Err(StoreFault::Invalid { .. })), "{text}");
    }
    let many: std::collections::HashSet<Id> = (0..10_000).map(|_| Id::fresh(at(0))).collect();
    assert_eq!(many.len(), 10_000);
}

proptest! {
    #[test]
    fn any_allowed_number_and_text_comes_back_to_the_last_bit(
        name in "\\PC{1,60}", note in any::<String>(), speed_rpm in 1.0..200_000.0f64, floor_g_mm in 0.0..1e6f64, seed in any::<Option<u64>>(),
    ) {
        prop_assume!(!name.trim().is_empty());
        let store = store();
        let machine = Machine { name: name.clone(), speed_rpm, sheet_toml: note.clone(), note: note.clone() };
        let id = store.put(&machine, &by(&name, 0)).unwrap().id;
        prop_assert_eq!(store.get::<Machine>(&id).unwrap().body, machine);
        let stand = Stand { name, floor_g_mm, virtual_seed: seed, note, ..common::stand() };
        let id = store.put(&stand, &by("Ada", 0)).unwrap().id;
        prop_assert_eq!(store.get::<Stand>(&id).unwrap().body, stand);
    }
}
