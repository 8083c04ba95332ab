//! Which part goes into which.

use crate::Fault;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::making::inspection::best_match;

/// A part as measured.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PartIn {
    /// What is written on it.
    pub name: String,
    /// Its size, mm (0.1 to 3000).
    pub mm: f64,
}

/// A lot to be matched.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MatchIn {
    /// What is matched.
    pub name: String,
    /// Parts with the hole (1 to 12).
    pub holes: Vec<PartIn>,
    /// Parts that go in (1 to 12).
    pub shafts: Vec<PartIn>,
    /// Smallest and largest clearance wanted on the diameter, µm.
    pub wanted_clearance_um: [f64; 2],
}

/// A pair.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PairedOut {
    /// The part with the hole.
    pub hole: String,
    /// The part that goes in.
    pub shaft: String,
    /// Clearance, µm.
    pub clearance_um: f64,
    /// Whether that is within what is wanted.
    pub within: bool,
}

/// The best pairing.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MatchOut {
    /// What was matched.
    pub name: String,
    /// The pairs.
    pub pairs: Vec<PairedOut>,
    /// How many lie within what is wanted.
    pub within: usize,
    /// Parts left over.
    pub left: Vec<String>,
}

pub(super) fn matched(m: &MatchIn) -> Result<MatchOut, Fault> {
    let sizes = |parts: &[PartIn]| parts.iter().map(|p| p.mm).collect::<Vec<_>>();
    let (holes, shafts) = (sizes(&m.holes), sizes(&m.shafts));
    let named = |mut f: Fault| {
        for kind in ["holes", "shafts"] {
            if let Some(rest) = f.field.strip_prefix(&format!("{kind}_mm")) {
                f.field = if rest.is_empty() { kind.to_owned() } else { format!("{kind}{rest}.mm") };
                return f;
            }
        }
        f
    };
    let best = best_match(&holes, &shafts, m.wanted_clearance_um).map_err(named)?;
    let pair = |h: usize, s: usize| {
        let clearance_um = 1e3 * (holes[h] - shafts[s]);
        let [low, high] = m.wanted_clearance_um;
        PairedOut {
            hole: m.holes[h].name.clone(),
            shaft: m.shafts[s].name.clone(),
            clearance_um,
            within: clearance_um >= low - 1e-6 && clearance_um <= high + 1e-6,
        }
    };
    let pairs: Vec<PairedOut> = best.shaft_of.iter().enumerate().filter_map(|(h, s)| s.map(|s| pair(h, s))).collect();
    let lone_holes = best.shaft_of.iter().enumerate().filter(|(_, s)| s.is_none()).map(|(h, _)| m.holes[h].name.clone());
    let lone_shafts = (0..shafts.len()).filter(|s| !best.shaft_of.contains(&Some(*s))).map(|s| m.shafts[s].name.clone());
    Ok(MatchOut { name: m.name.clone(), pairs, within: best.within, left: lone_holes.chain(lone_shafts).collect() })
}
