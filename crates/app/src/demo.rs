//! The demo: an invented shop, Fernhill Toolroom, in a throwaway copy.
//!
//! In: an empty store. Out: the same with machines, rings, stands and rotors, and sittings that were really played on the
//! virtual bench, look by look, as a person would.

use crate::sitting::{Act, Bench, Reasons, SittingFault, weigh_allowance};
use crate::web::{ServeOptions, serve};
use anyhow::Context as _;
use jiff::{SignedDuration, Timestamp};
use std::sync::Arc;
use stillwheel_door::next_step::{Action, LookKind, Reader};
use stillwheel_store::{
    By, Groove, GrooveWeight, Hole, Id, Machine, RingKind, Rotor, ScrewStock, SittingStart, Stand, StandKind, Store, StoreFault, Stored,
    TappedHoles, WeightRing, Wheel,
};

/// Most looks that a played sitting may take before it is left open.
const MOST_LOOKS: usize = 12;

/// Serve the demo from a folder that is removed at the end.
///
/// # Errors
/// When the folder can't be made, or as [`serve`].
pub fn demo(port: u16) -> anyhow::Result<()> {
    let folder = std::env::temp_dir().join(format!("stillwheel-demo-{}", Id::fresh(Timestamp::now())));
    std::fs::create_dir(&folder).with_context(|| format!("{} could not be made", folder.display()))?;
    let records = folder.join("fernhill.stillwheel");
    let served = seed(&records).and_then(|()| serve(&ServeOptions { records, port, lan: false, bind: None, demo: true }));
    if let Err(e) = std::fs::remove_dir_all(&folder) {
        tracing::warn!("{} could not be removed: {e}", folder.display());
    }
    served
}

fn seed(records: &std::path::Path) -> anyhow::Result<()> {
    let bench = Bench::new(Arc::new(Store::open(records)?));
    fernhill(&bench)?;
    Ok(())
}

/// The records of Fernhill.
pub struct Fernhill {
    /// Rotors.
    pub rotors: Vec<Stored<Rotor>>,
    /// Machines.
    pub machines: Vec<Stored<Machine>>,
    /// Weight rings.
    pub rings: Vec<Stored<WeightRing>>,
    /// Stands.
    pub stands: Vec<Stored<Stand>>,
}

/// Fill an empty store with Fernhill and its past sittings.
///
/// # Errors
/// The store's faults; a fault of the calculations on a played sitting.
pub fn fernhill(bench: &Bench) -> Result<(), SittingFault> {
    let now = Timestamp::now();
    let f = records(bench.store(), now)?;
    // Past sittings: rotor, stand, days ago.
    for (rotor, stand, days) in [(0, 0, 41), (0, 0, 12), (1, 1, 5)] {
        let began = now - SignedDuration::from_hours(24 * days);
        if let Err(SittingFault::Fault(fault)) = play(bench, &f, rotor, stand, began) {
            tracing::warn!("a past sitting could not be played: {fault}");
        }
    }
    Ok(())
}

/// Fernhill's records without its past: for a first start and for tests.
///
/// # Errors
/// The store's faults.
pub fn records(store: &Store, now: Timestamp) -> Result<Fernhill, StoreFault> {
    let by = By { who: "Fernhill Toolroom".into(), at: now - SignedDuration::from_hours(24 * 60) };
    let machines = vec![
        store.put(&Machine { name: "No. 2 surface grinder".into(), speed_rpm: 2860.0, note: "150 × 450 mm, direct drive".into() }, &by)?,
        store.put(&Machine { name: "No. 5 surface grinder".into(), speed_rpm: 1450.0, note: "belt drive".into() }, &by)?,
    ];
    let weight = GrooveWeight { mass_g: 16.0, arc_deg: 18.0, fixed: false };
    let groove =
        Groove { weights: vec![weight.clone(), weight.clone(), weight], graduation_deg: 1.0, forbidden_deg: Vec::new(), no_passing: true };
    let wide_weight = GrooveWeight { mass_g: 60.0, arc_deg: 20.0, fixed: false };
    let wide = Groove {
        weights: vec![wide_weight.clone(), wide_weight.clone(), wide_weight],
        graduation_deg: 1.0,
        forbidden_deg: Vec::new(),
        no_passing: true,
    };
    let holes = TappedHoles {
        holes: (0..24).map(|i| Hole { radius_mm: 48.0, at_deg: 15.0 * f64::from(i) }).collect(),
        stock: vec![ScrewStock { mass_g: 1.1, count: 12 }, ScrewStock { mass_g: 2.3, count: 12 }, ScrewStock { mass_g: 4.0, count: 6 }],
    };
    let ring = |name: &str, radius_mm: f64, kind: RingKind| WeightRing { name: name.into(), radius_mm, kind, note: String::new() };
    let rings = vec![
        store.put(&ring("Groove of adapter A, three 16 g weights", 38.0, RingKind::Groove(groove)), &by)?,
        store.put(&ring("Groove of adapter B, three 60 g weights", 55.0, RingKind::Groove(wide)), &by)?,
        store.put(&ring("24 tapped holes of adapter C", 48.0, RingKind::TappedHoles(holes)), &by)?,
    ];
    let stand = |name: &str, kind: StandKind, floor: f64, friction: f64, drift: f64, radius: f64, seed: u64| Stand {
        name: name.into(),
        kind,
        floor_g_mm: floor,
        dry_friction_g_mm: friction,
        drift_sd_g_mm: drift,
        arbor_radius_mm: Some(radius),
        virtual_seed: Some(seed),
        note: "Virtual bench: the wheel on it is hidden.".into(),
    };
    let stands = vec![
        store.put(&stand("Birch", StandKind::AirSaddles, 1.0, 0.0, 0.8, 10.0, 20_260), &by)?,
        store.put(&stand("Ways", StandKind::HardenedWays, 6.0, 4.0, 2.0, 10.0, 20_261), &by)?,
    ];
    let rotors = vec![
        // Mass and inertia of annular bodies: wheel 200 × 20 × 51 mm at 2.1 g/cm³, steel adapter; rounded.
        store.put(&rotor("46 grit 200 mm on adapter A", [200.0, 20.0, 51.0], "A 46 J 8 V", 35.0, [2.4, 0.0079], &rings[0].id), &by)?,
        store.put(&rotor("60 grit 300 mm on adapter B", [300.0, 32.0, 76.0], "A 60 H 9 V", 35.0, [7.6, 0.058], &rings[1].id), &by)?,
    ];
    Ok(Fernhill { rotors, machines, rings, stands })
}

fn rotor(
    name: &str,
    [diameter_mm, width_mm, bore_mm]: [f64; 3],
    marking: &str,
    max_speed_m_s: f64,
    [mass_kg, inertia_kg_m2]: [f64; 2],
    ring: &Id,
) -> Rotor {
    Rotor {
        name: name.into(),
        wheel: Wheel {
            diameter_mm,
            width_mm,
            bore_mm,
            maker_marking: marking.into(),
            max_speed_m_s: Some(max_speed_m_s),
            max_speed_rpm: None,
        },
        mass_kg,
        inertia_kg_m2,
        inertia_rel_sd: 0.05,
        inertia_from: "from dimensions and weight".into(),
        ring: ring.clone(),
        expected_unbalance_g_mm: None,
        note: String::new(),
    }
}

/// Play one sitting to its end, doing what the program says.
fn play(bench: &Bench, f: &Fernhill, rotor: usize, stand: usize, began: Timestamp) -> Result<(), SittingFault> {
    let (rotor, machine, ring) = (&f.rotors[rotor], &f.machines[rotor], &f.rings[rotor]);
    let reasons = Reasons { grade_mm_s: Some(1.0), ..Reasons::default() };
    let allowance = weigh_allowance(&reasons, &rotor.body, &machine.body, &ring.body)?.allowance;
    let start = SittingStart {
        rotor: rotor.snapshot(),
        stand: f.stands[stand].snapshot(),
        machine: machine.snapshot(),
        ring: ring.snapshot(),
        allowance,
        reader: serde_json::to_value(Reader::default()).unwrap_or_default(),
        weights_at_start_deg: vec![0.0, 120.0, 240.0],
        operator: "Wren".into(),
        started_at: began,
    };
    let id = bench.store().new_sitting(&start)?.id;
    let mut at = began;
    for turn in 0.. {
        at += SignedDuration::from_mins(2);
        let sat = bench.sat(&id)?;
        let act = Act { token: format!("play-{turn}"), after_seq: sat.standing.latest_seq, by: By { who: "Wren".into(), at } };
        let step = sat.step?;
        match step.action {
            Action::MoveThenLook => bench.moved(&id, &act, step.weights_then.iter().map(|w| w.at_deg).collect())?,
            Action::Look if sat.looks.len() < MOST_LOOKS => bench.virtual_look(&id, &act, step.look.unwrap_or(LookKind::Settle))?,
            Action::Accept => {
                bench.verdict(&id, &act, true, "")?;
                break;
            }
            _ => {
                bench.verdict(&id, &act, false, "Not shown on this stand; to be repeated on Birch.")?;
                break;
            }
        };
    }
    Ok(())
}
