//! What is bought: seals, screws, fittings.

use super::design::Design;
use super::model::{Part, PartKind};
use super::sizes::PortThread;

/// Lengths in which screws are sold, mm. Source: ISO 888.
const SCREWS: [f64; 18] = [4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 16.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0, 55.0, 60.0, 70.0, 80.0];

/// The longest screw sold that is not longer than `most`.
fn at_most(most: f64) -> f64 {
    SCREWS.iter().copied().rev().find(|l| *l <= most).unwrap_or(SCREWS[0])
}

/// The shortest screw sold that is not shorter than `least`.
fn at_least(least: f64) -> f64 {
    SCREWS.iter().copied().find(|l| *l >= least).unwrap_or_else(|| (least / 10.0).ceil() * 10.0)
}

pub(super) fn bought(d: &Design) -> Vec<Part> {
    let t = d.sizes.plate_mm[2];
    let groove = d.groove_diameter_mm();
    // 1 to 5 % of stretch in place (O-ring makers' guides).
    let ring = format!("inside Ø {:.1} to {:.1}, section {} mm, NBR 70", groove / 1.05, groove / 1.01, d.groove.section_mm);
    let port = if d.making.port_thread == PortThread::G18 { "G 1/8" } else { "M5" };
    let list = [
        ("o-ring", "O-ring", 2, ring),
        (
            "set-screw",
            "set screw with a brass tip",
            4,
            format!("M6 × {} mm, ISO 4026, brass or nylon tip", at_most((d.section_mm - d.neck_mm) / 2.0)),
        ),
        ("collar-screw", "screw, collar to pillar", 8, format!("M4 × {} mm, ISO 4762, class 8.8", at_most(d.flange_mm - 4.4 + 10.0))),
        ("pillar-screw", "screw, plate to pillar", 8, format!("M6 × {} mm, ISO 4762, class 8.8", at_most(t - 6.8 + 12.0))),
        ("guide-screw", "screw of the guide bar", 4, format!("M4 × {} mm, ISO 4762, class 8.8", at_most(d.guide_mm[2] + 8.0))),
        ("stop-bar-screw", "screw of the end stop", 4, format!("M5 × {} mm, ISO 4762, class 8.8", at_most(d.stop_mm[1] + 10.0))),
        (
            "stop-screw",
            "stop screw, rounded tip",
            2,
            format!("M6 × {} mm, ISO 4026, tip rounded, polished", at_least(d.stop_arm_mm + d.stop_gap_mm + 8.0)),
        ),
        ("stop-nut", "lock nut of the stop screw", 2, "M6, ISO 4035".to_owned()),
        ("fitting", "push-in fitting, 6 mm hose", 2, format!("{port}, parallel thread, with a face seal")),
        ("button", "button under a foot", 3, format!("Ø {} mm or larger, hardened to 60 HRC", (2.0 * d.foot_thread_mm).ceil())),
        ("air", "filter, regulator, relief valve", 1, format!("for {} bar, filter 5 µm or finer, with a gauge", d.sizes.supply_bar)),
    ];
    list.into_iter()
        .enumerate()
        .map(|(k, (key, name, quantity, says))| Part {
            kind: PartKind::Bought(k as u8),
            key: key.to_owned(),
            name: name.to_owned(),
            item: 0,
            quantity,
            material: says,
            mass_g: None,
            stock: None,
            features: Vec::new(),
            notes: Vec::new(),
        })
        .collect()
}
