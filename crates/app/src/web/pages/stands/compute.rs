//! From a stand's record, a rotor and a machine to the door's answer.

use super::super::super::error::WebError;
use super::super::super::form::Typed;
use super::super::super::show::{Show, significant};
use crate::sitting::{Bench, Reasons, weigh_allowance};
use maud::{Markup, html};
use std::collections::HashMap;
use stillwheel_door::Fault;
use stillwheel_door::stand::{StandIn, StandOut, stand};
use stillwheel_door::stand_sheet::{BIRCH, StandSheet, WAYS, read_sheet, set_in_sheet};
use stillwheel_physics::quantity::Dimension;
use stillwheel_store::{By, Id, Machine, Rotor, Stand, StandKind, StoreFault, Stored, WeightRing};

/// One value of the sheet that a slider moves.
pub(super) struct Slider {
    /// Its path in the sheet.
    pub(super) path: &'static str,
    pub(super) label: &'static str,
    pub(super) unit: &'static str,
    /// From, to, step.
    pub(super) range: [f64; 3],
    /// Whether it may be left out of the sheet.
    pub(super) optional: bool,
    pub(super) of: fn(&StandSheet) -> Option<f64>,
}

const fn slider(
    path: &'static str,
    label: &'static str,
    unit: &'static str,
    range: [f64; 3],
    of: fn(&StandSheet) -> Option<f64>,
) -> Slider {
    Slider { path, label, unit, range, optional: false, of }
}

/// The values that matter most, in the order in which a maker thinks of them.
pub(super) const SLIDERS: [Slider; 13] = [
    slider("feed.supply_bar", "Supply pressure", "bar", [0.5, 8.0, 0.1], |s| s.feed.as_ref().map(|f| f.supply_bar)),
    slider("saddles.radial_clearance_um", "Radial clearance", "µm", [4.0, 50.0, 0.5], |s| {
        s.saddles.as_ref().map(|x| x.radial_clearance_um)
    }),
    slider("saddles.length_mm", "Length of a saddle", "mm", [6.0, 80.0, 0.5], |s| s.saddles.as_ref().map(|x| x.length_mm)),
    slider("feed.port_diameter_mm", "Port Ø", "mm", [0.2, 5.0, 0.05], |s| s.feed.as_ref().map(|f| f.port_diameter_mm)),
    Slider {
        optional: true,
        ..slider("feed.jet_diameter_mm", "Jet Ø", "mm", [0.05, 1.2, 0.01], |s| s.feed.as_ref().and_then(|f| f.jet_diameter_mm))
    },
    Slider {
        optional: true,
        ..slider("feed.pocket_diameter_mm", "Pocket Ø", "mm", [0.5, 12.0, 0.1], |s| s.feed.as_ref().and_then(|f| f.pocket_diameter_mm))
    },
    slider("ways.lever_arm_um", "Rolling lever arm", "µm", [1.0, 60.0, 0.1], |s| s.ways.as_ref().map(|w| w.lever_arm_um)),
    slider("arbor.wheel_offset_mm", "Wheel towards the operator", "mm", [-60.0, 60.0, 1.0], |s| Some(s.arbor.wheel_offset_mm)),
    slider("held.port_offset_mm", "Port held within ±", "mm", [0.0, 0.5, 0.01], |s| s.saddles.as_ref().map(|_| s.held.port_offset_mm)),
    slider("held.bore_oval_um", "Bore round within ±", "µm", [0.0, 5.0, 0.1], |s| s.saddles.as_ref().map(|_| s.held.bore_oval_um)),
    slider("held.arbor_roundness_um", "Arbor round within", "µm", [0.0, 5.0, 0.1], |s| Some(s.held.arbor_roundness_um)),
    slider("held.seat_runout_um", "Run-out of the wheel's seat", "µm", [0.0, 20.0, 0.1], |s| Some(s.held.seat_runout_um)),
    slider("held.slope_across_mm_m", "Level across within", "mm/m", [0.0, 1.0, 0.005], |s| Some(s.held.slope_across_mm_m)),
];

/// What the page works on.
pub(super) struct Shelf {
    pub(super) stand: Stored<Stand>,
    pub(super) rotors: Vec<Stored<Rotor>>,
    pub(super) machines: Vec<Stored<Machine>>,
}

pub(super) fn shelf(b: &Bench, id: &Id) -> Result<Shelf, WebError> {
    Ok(Shelf { stand: b.store().get(id)?, rotors: b.store().list()?, machines: b.store().list()? })
}

/// Keep a new revision of the stand, if the one that the form was filled from is still the newest. A refusal goes to the form.
pub(super) fn revised(b: &Bench, stand: &Stored<Stand>, record: &Stand, by: &By, typed: &mut Typed) -> Result<bool, WebError> {
    let seen = typed.text("revision").parse().unwrap_or(0);
    match b.store().revise(&stand.id, seen, record, by) {
        Ok(_) => Ok(true),
        Err(f @ (StoreFault::Invalid { .. } | StoreFault::Conflict { .. })) => {
            typed.blame_store(&f);
            Ok(false)
        }
        Err(f) => Err(f.into()),
    }
}

/// A sheet to start from where there is none.
pub(super) fn sheet_text(stand: &Stand) -> String {
    if !stand.sheet_toml.is_empty() {
        return stand.sheet_toml.clone();
    }
    let (text, name) = if stand.kind == StandKind::AirSaddles { (BIRCH, "Birch") } else { (WAYS, "Ways") };
    // Quotes and backslashes in a name must not end the TOML string.
    let own = stand.name.replace('\\', "\\\\").replace('"', "\\\"");
    text.replace(&format!("name = \"{name}\""), &format!("name = \"{own}\"")).replacen(
        &format!("# Stand \"{name}\" of Fernhill Toolroom"),
        "# Made from an example",
        1,
    )
}

/// The sheet with what was typed into the sliders' fields; faults stand in `typed`.
pub(super) fn with_typed(text: &str, typed: &mut Typed) -> Option<String> {
    let mut out = text.to_owned();
    for s in &SLIDERS {
        let given = typed.text(s.path).to_owned();
        let sent = typed.ticked(s.path);
        let value = match (given.is_empty(), s.optional) {
            _ if !sent => continue,
            (true, true) => None,
            _ => {
                let v = typed.number(s.path, Dimension::Plain, Show::default());
                if !v.is_finite() {
                    continue;
                }
                Some(v)
            }
        };
        match set_in_sheet(&out, s.path, value) {
            Ok(t) => out = t,
            Err(f) => typed.blame(f),
        }
    }
    // A pocket is its diameter and its depth: taking the one out takes the other.
    if typed.ticked("feed.pocket_diameter_mm")
        && typed.text("feed.pocket_diameter_mm").is_empty()
        && let Ok(t) = set_in_sheet(&out, "feed.pocket_depth_mm", None)
    {
        out = t;
    }
    typed.is_good().then_some(out)
}

/// The rotor and machine that the stand is judged for.
pub(super) struct For {
    pub(super) rotor: Stored<Rotor>,
    pub(super) machine: Stored<Machine>,
    pub(super) grade_mm_s: f64,
    pub(super) allowance_g_mm: f64,
}

/// A stand's page with its choice of rotor and machine.
pub(super) struct StandFor<'a> {
    pub(super) shelf: &'a Shelf,
    pub(super) on: &'a For,
}

impl StandFor<'_> {
    /// The fields that choose.
    pub(super) fn choices(&self) -> Markup {
        let (shelf, on) = (self.shelf, self.on);
        html! {
            div.field {
                label for="rotor" { "Judged for" }
                select id="rotor" name="rotor" { @for r in &shelf.rotors { option value=(r.id) selected[r.id == on.rotor.id] { (r.body.name) } } }
            }
            div.field {
                label for="machine" { "on" }
                select id="machine" name="machine" { @for m in &shelf.machines { option value=(m.id) selected[m.id == on.machine.id] { (m.body.name) } } }
            }
            div.field {
                label for="grade_mm_s" { "Balance quality grade G" }
                div.with-unit { input id="grade_mm_s" name="grade_mm_s" value=(significant(on.grade_mm_s, 4)) inputmode="decimal" autocomplete="off"; span.unit aria-hidden="true" { "mm/s" } span.visually-hidden { "in mm/s" } }
            }
        }
    }
}

/// Chosen in the form, else the first; `None` without a rotor or machine.
pub(super) fn chosen(b: &Bench, shelf: &Shelf, text: &HashMap<String, String>) -> Result<Option<For>, WebError> {
    fn of<R: Clone>(records: &[Stored<R>], id: Option<&String>) -> Option<Stored<R>> {
        id.and_then(|id| records.iter().find(|r| r.id.to_string() == *id)).or(records.first()).cloned()
    }
    let (Some(rotor), Some(machine)) = (of(&shelf.rotors, text.get("rotor")), of(&shelf.machines, text.get("machine"))) else {
        return Ok(None);
    };
    let grade_mm_s = match text.get("grade_mm_s").filter(|t| !t.trim().is_empty()) {
        Some(t) => Show::default().read("grade_mm_s", t, Dimension::Plain)?,
        None => 1.0,
    };
    let ring = b.store().get::<WeightRing>(&rotor.body.ring)?;
    let reasons = Reasons { grade_mm_s: Some(grade_mm_s), ..Reasons::default() };
    let allowance_g_mm = weigh_allowance(&reasons, &rotor.body, &machine.body, &ring.body)?.allowance.g_mm;
    Ok(Some(For { rotor, machine, grade_mm_s, allowance_g_mm }))
}

/// The door's answer.
pub(super) fn answer(toml: &str, on: &For) -> Result<(StandSheet, StandOut), Fault> {
    let sheet = read_sheet(toml)?;
    let out = stand(&stand_in(&sheet, on))?;
    Ok((sheet, out))
}

/// A sheet with the rotor that it is judged for, for the door.
pub(super) fn stand_in(sheet: &StandSheet, on: &For) -> StandIn {
    StandIn {
        sheet: sheet.clone(),
        mass_kg: on.rotor.body.mass_kg,
        inertia_kg_m2: on.rotor.body.inertia_kg_m2,
        wheel_diameter_mm: on.rotor.body.wheel.diameter_mm,
        allowance_g_mm: on.allowance_g_mm,
        index_balanced: false,
    }
}
