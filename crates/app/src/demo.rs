//! The demo: an invented shop, Fernhill Toolroom, in a throwaway copy.
//!
//! In: an empty store. Out: the same with machines, rings, stands and rotors, and a season of sittings that are really
//! played on the virtual bench, look by look, as a person would.

mod grinder;
mod season;

pub use season::play_season;
use season::{play_first, play_rest};

use crate::sitting::Bench;
use crate::web::{ServeOptions, serve};
use anyhow::Context as _;
use jiff::Timestamp;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;
use stillwheel_door::machine_sheet::{NO_2, NO_5};
use stillwheel_door::stand_sheet::{BIRCH, WAYS};
use stillwheel_store::{
    By, Groove, GrooveWeight, Hole, Id, Machine, RingKind, Rotor, ScrewStock, Stand, StandKind, Store, StoreFault, Stored, TappedHoles,
    WeightRing, Wheel,
};

/// Serve the demo from a folder that is removed at the end. The season is played while the first pages are already served.
///
/// # Errors
/// When the folder can't be made, or as [`serve`].
pub fn demo(port: u16) -> anyhow::Result<()> {
    let folder = std::env::temp_dir().join(format!("stillwheel-demo-{}", Id::fresh(Timestamp::now())));
    std::fs::create_dir(&folder).with_context(|| format!("{} could not be made", folder.display()))?;
    let file = folder.join("fernhill.stillwheel");
    let stop = Arc::new(AtomicBool::new(false));
    let served = season_behind(&file, &stop).and_then(|player| {
        let served = serve(&ServeOptions {
            records: file,
            port,
            lan: false,
            bind: None,
            tls: false,
            demo: true,
            backup_every: Duration::from_hours(6),
            backups: None,
        });
        stop.store(true, Ordering::Relaxed);
        if player.join().is_err() {
            tracing::warn!("the past sittings could not be played to their end");
        }
        served
    });
    if let Err(e) = std::fs::remove_dir_all(&folder) {
        tracing::warn!("{} could not be removed: {e}", folder.display());
    }
    served
}

/// Put Fernhill's records into a new file, and play its season behind the server's back.
fn season_behind(file: &std::path::Path, stop: &Arc<AtomicBool>) -> anyhow::Result<std::thread::JoinHandle<()>> {
    let bench = Bench::new(Arc::new(Store::open(file)?));
    let mut fernhill = records(bench.store(), OPENED.parse()?)?;
    play_first(&bench, &mut fernhill)?;
    let stop = stop.clone();
    let play = move || {
        if let Err(e) = play_rest(&bench, &mut fernhill, &stop) {
            tracing::warn!("the past sittings could not be played to their end: {e}");
        }
    };
    Ok(std::thread::Builder::new().name("season".into()).spawn(play)?)
}

/// When Fernhill's records begin.
pub const OPENED: &str = "2025-01-27T09:00:00Z";

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

/// Fernhill's records without its past: for a first start and for tests.
///
/// # Errors
/// The store's faults.
pub fn records(store: &Store, now: Timestamp) -> Result<Fernhill, StoreFault> {
    let by = By { who: "Fernhill Toolroom".into(), at: now };
    let machines = vec![
        store.put(&machine("No. 2 surface grinder", 2860.0, NO_2, "150 × 450 mm, direct drive"), &by)?,
        store.put(&machine("No. 5 surface grinder", 1450.0, NO_5, "belt drive"), &by)?,
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
        holes: (0..24).map(|i| Hole { radius_mm: 48.0, at_deg: 15.0 * f64::from(i), fixed: false }).collect(),
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
        sheet_toml: match kind {
            StandKind::AirSaddles => BIRCH.replace("name = \"Birch\"", &format!("name = \"{name}\"")),
            _ => WAYS.to_owned(),
        },
        qualification: None,
        as_made: None,
        note: "Virtual bench: the wheel on it is hidden.".into(),
    };
    let stands = vec![
        store.put(&stand("Birch", StandKind::AirSaddles, 1.0, 0.0, 0.8, 10.0, 20_260), &by)?,
        store.put(&stand("Ways", StandKind::HardenedWays, 6.0, 4.0, 2.0, 10.0, 20_261), &by)?,
        // Birch's twin, one port drilled off-centre: its film turns the arbor.
        store.put(&stand("Larch", StandKind::AirSaddles, 1.0, 0.0, 15.0, 10.0, 20_262), &by)?,
    ];
    let rotors = vec![
        // Mass and inertia of annular bodies: wheel 200 × 20 × 51 mm at 2.1 g/cm³, steel adapter; rounded.
        store.put(&rotor("46 grit 200 mm on adapter A", [200.0, 20.0, 51.0], "A 46 J 8 V", 35.0, [2.4, 0.0079], &rings[0].id), &by)?,
        store.put(&rotor("60 grit 300 mm on adapter B", [300.0, 32.0, 76.0], "A 60 H 9 V", 35.0, [7.6, 0.058], &rings[1].id), &by)?,
        store.put(&rotor("46 grit 200 mm on adapter C", [200.0, 20.0, 51.0], "A 46 J 8 V", 35.0, [2.6, 0.0083], &rings[2].id), &by)?,
    ];
    Ok(Fernhill { rotors, machines, rings, stands })
}

fn machine(name: &str, speed_rpm: f64, sheet_toml: &str, note: &str) -> Machine {
    Machine { name: name.into(), speed_rpm, sheet_toml: sheet_toml.into(), note: note.into() }
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
