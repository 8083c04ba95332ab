//! `machine`: what turns on a machine by its sheet, and how far apart the marks of each would stand.

use crate::Fault;
use crate::machine_sheet::{MachineSheet, NO_5, read_machine_sheet};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Input of `machine`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MachineIn {
    /// The machine's sheet.
    pub sheet: MachineSheet,
}

/// One thing that comes round.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ComesRound {
    /// Its name.
    pub name: String,
    /// Times a minute, 1/min.
    pub per_minute: f64,
    /// Frequency, Hz.
    pub hz: f64,
    /// Standard deviation of it, Hz.
    pub sd_hz: f64,
    /// Spacing of its marks at each of the table's speeds, mm.
    pub spacings_mm: Vec<f64>,
}

/// Output of `machine`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MachineOut {
    /// The table's speeds, m/min, to which the spacings belong.
    pub table_m_min: Vec<f64>,
    /// Everything that comes round, the spindle first: parts at each of the times a turn at which they shake, belts, the mains.
    pub comes_round: Vec<ComesRound>,
}

/// List what comes round. The defects of bearings are not in it: they belong to the marks.
///
/// # Errors
/// A [`Fault`] for a sheet whose values are out of range or do not agree.
pub fn machine(input: &MachineIn) -> Result<MachineOut, Fault> {
    let sheet = &input.sheet;
    sheet.check().map_err(|f| f.inside("sheet"))?;
    let row = |name: String, hz: f64, sd_hz: f64| ComesRound {
        name,
        per_minute: 60.0 * hz,
        hz,
        sd_hz,
        // m/min over 1/min is m a time.
        spacings_mm: sheet.table.speeds_m_min.iter().map(|v| 1000.0 * v / (60.0 * hz)).collect(),
    };
    let turning = sheet.turning();
    let mut list = Vec::new();
    for (i, t) in turning.iter().enumerate() {
        let (hz, sd) = (t.speed_rpm / 60.0, t.speed_sd_rpm / 60.0);
        let once_and_twice = vec![1, 2];
        // The spindle is the first; the wheel on it shakes once and twice a turn.
        let orders = if i == 0 { &once_and_twice } else { &sheet.parts[i - 1].shakes };
        for o in orders {
            let times = if *o == 1 { String::new() } else { format!(", {o} times a turn") };
            let name = if i == 0 { "spindle and wheel" } else { t.name.as_str() };
            list.push(row(format!("{name}{times}"), f64::from(*o) * hz, f64::from(*o) * sd));
        }
    }
    for b in &sheet.belts {
        // A checked sheet names a part that is there.
        let Some(on) = turning.iter().find(|t| t.name == b.on) else { continue };
        // A point of the belt travels π·d a turn of the pulley and comes round after its length.
        let share = std::f64::consts::PI * b.pulley_mm / b.length_mm / 60.0;
        for (o, times) in [(1.0, ""), (2.0, ", twice a round")] {
            list.push(row(format!("{}{times}", b.name), o * share * on.speed_rpm, o * share * on.speed_sd_rpm));
        }
    }
    list.push(row("motor hum, twice the mains".into(), 2.0 * sheet.mains_hz, 0.0));
    Ok(MachineOut { table_m_min: sheet.table.speeds_m_min.clone(), comes_round: list })
}

/// The demo's machine No. 5.
pub(crate) fn example() -> MachineIn {
    // The file is tested to be good; without it the example would be empty and its own test fail.
    let sheet = read_machine_sheet(NO_5).unwrap_or_else(|f| unreachable!("the example's sheet: {f}"));
    MachineIn { sheet }
}
