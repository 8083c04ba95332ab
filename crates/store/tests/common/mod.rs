//! A small invented shop for the tests, and a few shorthands.
#![allow(dead_code, unreachable_pub, reason = "each test file uses its part")]

use jiff::Timestamp;
use serde_json::{Value, json};
use stillwheel_store::{
    Allowance, By, EventKind, Groove, GrooveWeight, Hole, Id, Machine, NewEvent, RingKind, Rotor, ScrewStock, SittingStart, Stand,
    StandKind, Store, Stored, TappedHoles, WeightRing, Wheel,
};

pub fn at(second: i64) -> Timestamp {
    Timestamp::from_second(1_760_000_000 + second).unwrap()
}

pub fn by(who: &str, second: i64) -> By {
    By { who: who.into(), at: at(second) }
}

pub fn groove_ring() -> WeightRing {
    let weight = GrooveWeight { mass_g: 16.0, arc_deg: 14.5, fixed: false };
    let groove =
        Groove { weights: vec![weight; 3], graduation_deg: 1.0, forbidden_deg: vec![[350.0, 10.0], [170.0, 190.0]], no_passing: true };
    WeightRing { name: "Groove 38".into(), radius_mm: 38.0, kind: RingKind::Groove(groove), note: String::new() }
}

pub fn holes_ring() -> WeightRing {
    let holes = (0..24).map(|i| Hole { radius_mm: 38.0, at_deg: 15.0 * f64::from(i), fixed: false }).collect();
    let stock = vec![ScrewStock { mass_g: 0.31, count: 40 }, ScrewStock { mass_g: 0.47, count: 12 }];
    WeightRing { name: "Holes 24".into(), radius_mm: 38.0, kind: RingKind::TappedHoles(TappedHoles { holes, stock }), note: "M4".into() }
}

pub fn rotor(ring: &Id) -> Rotor {
    Rotor {
        name: "Wheel A on adapter 1".into(),
        wheel: Wheel {
            diameter_mm: 200.0,
            width_mm: 20.0,
            bore_mm: 51.0,
            maker_marking: "A 46 K 8 V — max 35 m/s".into(),
            max_speed_m_s: Some(35.0),
            max_speed_rpm: None,
        },
        mass_kg: 2.35,
        inertia_kg_m2: 0.0091,
        inertia_rel_sd: 0.02,
        inertia_from: "swing with a 16 g trial mass".into(),
        ring: ring.clone(),
        expected_unbalance_g_mm: Some(250.0),
        note: "Line one\nline two".into(),
    }
}

pub fn machine() -> Machine {
    Machine { name: "No. 2".into(), speed_rpm: 2860.0, sheet_toml: String::new(), note: String::new() }
}

pub fn stand() -> Stand {
    Stand {
        name: "Birch".into(),
        kind: StandKind::AirSaddles,
        floor_g_mm: 0.8,
        dry_friction_g_mm: 0.0,
        drift_sd_g_mm: 0.5,
        arbor_radius_mm: Some(10.0),
        virtual_seed: Some(u64::MAX),
        sheet_toml: "# remark\nname = \"Birch\"\n".into(),
        qualification: Some(serde_json::json!({"result": {"floor_g_mm": 0.8}})),
        as_made: Some(serde_json::json!({"saddle/1/bore.diameter": {"mm": 20.029, "u_um": 1.0}})),
        note: String::new(),
    }
}

/// One of each record.
pub struct Shop {
    pub ring: Stored<WeightRing>,
    pub rotor: Stored<Rotor>,
    pub machine: Stored<Machine>,
    pub stand: Stored<Stand>,
}

pub fn open_shop(store: &Store) -> Shop {
    let ring = store.put(&groove_ring(), &by("Ada", 0)).unwrap();
    let rotor = store.put(&rotor(&ring.id), &by("Ada", 1)).unwrap();
    let machine = store.put(&machine(), &by("Ada", 2)).unwrap();
    let stand = store.put(&stand(), &by("Ada", 3)).unwrap();
    Shop { ring, rotor, machine, stand }
}

pub fn start(shop: &Shop, second: i64) -> SittingStart {
    SittingStart {
        rotor: shop.rotor.snapshot(),
        stand: shop.stand.snapshot(),
        machine: shop.machine.snapshot(),
        ring: shop.ring.snapshot(),
        allowance: Allowance { g_mm: 7.85, reason: "G 1 at 2860 rpm".into(), limits: json!([{"from": "grade", "g_mm": 7.85}]) },
        reader: json!({"settle_sd_deg": 3.5, "time_sd_s": 0.2}),
        weights_at_start_deg: vec![0.0, 120.0, 240.0],
        screws_at_start: Vec::new(),
        operator: "Ada".into(),
        started_at: at(second),
    }
}

pub fn new(token: &str, after_seq: u32, kind: EventKind, body: Value) -> NewEvent {
    NewEvent { token: token.into(), after_seq, kind, body, by: by("Ada", 100) }
}
