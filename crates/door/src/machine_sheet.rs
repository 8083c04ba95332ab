//! The machine sheet: a grinder's spindle, drive, wheel head, table and all that turns, as a person writes it in TOML.
//!
//! In: TOML text. Out: a [`MachineSheet`] whose every value lies in its range, or a [`Fault`]. A sheet is edited with its comments kept
//! ([`crate::stand_sheet::set_in_sheet`]); trim, ground face and marks take their machine from it.

use crate::calculation::read;
use crate::look::Sense;
use crate::{Fault, read_toml};
use schemars::{JsonSchema, schema_for};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::collections::BTreeSet;
use std::sync::OnceLock;
use stillwheel_physics::Ranged;

/// A machine sheet.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MachineSheet {
    /// What people call the machine (1 to 200 characters).
    pub name: String,
    /// Remarks.
    #[serde(default)]
    pub note: String,
    /// Mains frequency, Hz (10 to 500; 50 or 60 in most places).
    pub mains_hz: f64,
    /// The wheel's spindle.
    pub spindle: SpindleSheet,
    /// What drives it.
    pub drive: DriveSheet,
    /// The wheel head as a mass on a spring; left out until it was measured.
    #[serde(default)]
    pub head: Option<HeadSheet>,
    /// The table.
    pub table: TableSheet,
    /// Every other rotating part: motor, pulleys, pumps, fans (up to 40).
    #[serde(default)]
    pub parts: Vec<PartSheet>,
    /// Belts (up to 10).
    #[serde(default)]
    pub belts: Vec<BeltSheet>,
    /// Rolling bearings (up to 20).
    #[serde(default)]
    pub bearings: Vec<BearingSheet>,
}

/// The spindle.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SpindleSheet {
    /// Its speed with the wheel on, r/min (10 to 200,000): measured, not from a plate.
    pub speed_rpm: f64,
    /// Standard deviation of that, r/min (0 to a tenth of it).
    #[serde(default)]
    pub speed_sd_rpm: f64,
    /// Which way it turns, seen from the operator's side.
    #[serde(default = "clockwise")]
    pub turns: Sense,
    /// Largest wheel that the guard takes, mm (20 to 2000).
    pub largest_wheel_mm: f64,
}

/// How the motor drives the spindle.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum DriveKind {
    /// The wheel sits on the motor's shaft, or on one coupled to it.
    Direct,
    /// By belt.
    Belt,
    /// By gears.
    Gears,
}

/// The drive.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DriveSheet {
    /// How.
    pub kind: DriveKind,
    /// Remarks.
    #[serde(default)]
    pub note: String,
}

/// The wheel head, up and down at the wheel. `head-response` measures it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HeadSheet {
    /// Stiffness, N/µm (0.1 to 10,000).
    pub stiffness_n_um: f64,
    /// Standard deviation of it, N/µm (0 to the stiffness itself).
    #[serde(default)]
    pub stiffness_sd_n_um: f64,
    /// Natural frequency, Hz (1 to 10,000).
    pub natural_hz: f64,
    /// Standard deviation of it, Hz (0 to the frequency itself).
    #[serde(default)]
    pub natural_sd_hz: f64,
    /// Damping ratio (0.001 to 2).
    pub damping: f64,
    /// Standard deviation of it (0 to 1).
    #[serde(default)]
    pub damping_sd: f64,
}

/// The table.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TableSheet {
    /// Speeds that are used, m/min (0.01 to 200; 1 to 20 of them).
    pub speeds_m_min: Vec<f64>,
    /// Cross-feeds that are used, mm a pass (0.01 to 500; up to 20).
    #[serde(default)]
    pub cross_feeds_mm: Vec<f64>,
}

/// What a rotating part is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum PartKind {
    /// The motor that drives the wheel.
    Motor,
    /// A pulley.
    Pulley,
    /// A pump or fan that can be stopped while the wheel runs.
    Pump,
    /// Anything else that turns.
    #[default]
    Other,
}

/// A rotating part other than the spindle.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PartSheet {
    /// Its name, each once (1 to 200 characters; `spindle` is taken).
    pub name: String,
    /// What it is.
    #[serde(default)]
    pub kind: PartKind,
    /// Its speed, r/min (1 to 200,000). Either this or `ratio`.
    #[serde(default)]
    pub speed_rpm: Option<f64>,
    /// Its turns for each turn of the spindle (0.001 to 1000). Either this or `speed_rpm`.
    #[serde(default)]
    pub ratio: Option<f64>,
    /// Standard deviation of its speed, r/min (0 to a tenth of it).
    #[serde(default)]
    pub speed_sd_rpm: f64,
    /// Times a turn at which it may shake (1 to 200 each, up to 12): 1, 2, vanes of a pump, teeth.
    #[serde(default = "once")]
    pub shakes: Vec<u32>,
}

/// A belt.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BeltSheet {
    /// Its name (1 to 200 characters).
    pub name: String,
    /// The part on which one of its pulleys sits: `spindle` or the name of a part.
    pub on: String,
    /// Diameter of that pulley on which the belt runs, mm (5 to 5000).
    pub pulley_mm: f64,
    /// Length of the belt, mm (50 to 20,000).
    pub length_mm: f64,
}

/// A rolling bearing with a fixed outer ring.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BearingSheet {
    /// Its name (1 to 200 characters).
    pub name: String,
    /// The shaft it carries: `spindle` or the name of a part.
    pub on: String,
    /// Balls or rollers in one row (3 to 200).
    pub balls: u32,
    /// Diameter of one, mm (0.1 to 500).
    pub ball_mm: f64,
    /// Diameter of the circle of their centres, mm (above the ball's, to 5000).
    pub pitch_mm: f64,
    /// Contact angle, degrees (0 to 80).
    #[serde(default)]
    pub contact_deg: f64,
}

fn clockwise() -> Sense {
    Sense::Clockwise
}
fn once() -> Vec<u32> {
    vec![1]
}

/// The name by which belts and bearings refer to the spindle.
pub const SPINDLE: &str = "spindle";

/// A part with its speed worked out.
#[derive(Clone, Debug, PartialEq)]
pub struct Turning {
    /// Its name.
    pub name: String,
    /// What it is; the spindle is [`PartKind::Other`].
    pub kind: PartKind,
    /// Speed, r/min.
    pub speed_rpm: f64,
    /// Standard deviation, r/min.
    pub speed_sd_rpm: f64,
    /// Whether it turns faster when the wheel is made to.
    pub follows_wheel: bool,
}

fn named(field: &str, name: &str) -> Result<(), Fault> {
    let letters = name.trim().chars().count();
    if letters == 0 || letters > 200 {
        return Err(Fault::new(field, letters, "1 to 200 characters", "it is known by its name"));
    }
    Ok(())
}

fn at_most(field: &str, count: usize, most: usize) -> Result<(), Fault> {
    if count > most {
        return Err(Fault::new(field, count, format!("up to {most}"), "name what can make a mark; leave out the rest"));
    }
    Ok(())
}

impl MachineSheet {
    /// Whether every value lies in its range and the parts agree with one another.
    ///
    /// # Errors
    /// A [`Fault`] for the first that doesn't.
    pub fn check(&self) -> Result<(), Fault> {
        named("name", &self.name)?;
        self.mains_hz.within("mains_hz", 10.0, 500.0, "Hz", "frequency of the mains; motors hum at twice of it")?;
        self.spindle.check().map_err(|f| f.inside("spindle"))?;
        if let Some(head) = &self.head {
            head.check().map_err(|f| f.inside("head"))?;
        }
        self.table.check().map_err(|f| f.inside("table"))?;
        at_most("parts", self.parts.len(), 40)?;
        at_most("belts", self.belts.len(), 10)?;
        at_most("bearings", self.bearings.len(), 20)?;
        let mut names: BTreeSet<&str> = [SPINDLE].into();
        for (i, part) in self.parts.iter().enumerate() {
            part.check().map_err(|f| f.inside(&format!("parts[{i}]")))?;
            if !names.insert(&part.name) {
                let why = "belts and bearings refer to parts by their names";
                return Err(Fault::new(format!("parts[{i}].name"), part.name.as_str(), "a name of its own", why));
            }
        }
        let known = |on: &str| -> Result<(), Fault> {
            if names.contains(on) {
                return Ok(());
            }
            let list = names.iter().copied().collect::<Vec<_>>().join(", ");
            Err(Fault::new("on", on, list, "there is no part of this name in the sheet"))
        };
        for (i, b) in self.belts.iter().enumerate() {
            known(&b.on).and_then(|()| b.check()).map_err(|f| f.inside(&format!("belts[{i}]")))?;
        }
        for (i, b) in self.bearings.iter().enumerate() {
            known(&b.on).and_then(|()| b.check()).map_err(|f| f.inside(&format!("bearings[{i}]")))?;
        }
        Ok(())
    }

    /// All that turns with its speed, the spindle first.
    #[must_use]
    pub fn turning(&self) -> Vec<Turning> {
        let spindle = Turning {
            name: SPINDLE.into(),
            kind: PartKind::Other,
            speed_rpm: self.spindle.speed_rpm,
            speed_sd_rpm: self.spindle.speed_sd_rpm,
            follows_wheel: true,
        };
        let parts = self.parts.iter().map(|p| {
            // A checked sheet has one of the two.
            let ratio = p.ratio.unwrap_or(0.0);
            Turning {
                name: p.name.clone(),
                kind: p.kind,
                speed_rpm: p.speed_rpm.unwrap_or(ratio * self.spindle.speed_rpm),
                speed_sd_rpm: p.speed_sd_rpm.hypot(ratio * self.spindle.speed_sd_rpm),
                follows_wheel: p.ratio.is_some() || p.kind == PartKind::Motor,
            }
        });
        std::iter::once(spindle).chain(parts).collect()
    }
}

impl SpindleSheet {
    fn check(&self) -> Result<(), Fault> {
        let n = self.speed_rpm.within("speed_rpm", 10.0, 200_000.0, "r/min", "measured with the wheel on")?;
        self.speed_sd_rpm.within("speed_sd_rpm", 0.0, 0.1 * n, "r/min", "how well the speed is known")?;
        self.largest_wheel_mm.within("largest_wheel_mm", 20.0, 2000.0, "mm", "the largest wheel that the guard takes")?;
        Ok(())
    }
}

impl HeadSheet {
    fn check(&self) -> Result<(), Fault> {
        let k = self.stiffness_n_um.within("stiffness_n_um", 0.1, 10_000.0, "N/µm", "from a pull with an indicator")?;
        self.stiffness_sd_n_um.within("stiffness_sd_n_um", 0.0, k, "N/µm", "its standard deviation")?;
        let f = self.natural_hz.within("natural_hz", 1.0, 10_000.0, "Hz", "from a tap recording")?;
        self.natural_sd_hz.within("natural_sd_hz", 0.0, f, "Hz", "its standard deviation")?;
        self.damping.within("damping", 0.001, 2.0, "", "share of the critical damping, from a tap recording")?;
        self.damping_sd.within("damping_sd", 0.0, 1.0, "", "its standard deviation")?;
        Ok(())
    }
}

impl TableSheet {
    fn check(&self) -> Result<(), Fault> {
        if self.speeds_m_min.is_empty() {
            return Err(Fault::new("speeds_m_min", 0_usize, "1 to 20 speeds", "the spacing of marks follows from the table's speed"));
        }
        at_most("speeds_m_min", self.speeds_m_min.len(), 20)?;
        at_most("cross_feeds_mm", self.cross_feeds_mm.len(), 20)?;
        for (i, v) in self.speeds_m_min.iter().enumerate() {
            v.within(&format!("speeds_m_min[{i}]"), 0.01, 200.0, "m/min", "time some strokes of a known length")?;
        }
        for (i, v) in self.cross_feeds_mm.iter().enumerate() {
            v.within(&format!("cross_feeds_mm[{i}]"), 0.01, 500.0, "mm", "cross-feed of a pass")?;
        }
        Ok(())
    }
}

impl PartSheet {
    fn check(&self) -> Result<(), Fault> {
        named("name", &self.name)?;
        match (self.speed_rpm, self.ratio) {
            (Some(n), None) => {
                n.within("speed_rpm", 1.0, 200_000.0, "r/min", "speed of the part")?;
                self.speed_sd_rpm.within("speed_sd_rpm", 0.0, 0.1 * n, "r/min", "how well the speed is known")?;
            }
            (None, Some(r)) => {
                r.within("ratio", 1e-3, 1000.0, "", "turns of the part for each turn of the spindle")?;
                self.speed_sd_rpm.within("speed_sd_rpm", 0.0, 20_000.0, "r/min", "slip of a belt, beside the spindle's own")?;
            }
            (Some(_), Some(_)) => {
                return Err(Fault::new(
                    "ratio",
                    "given beside speed_rpm",
                    "one of speed_rpm, ratio",
                    "the two could contradict each other",
                ));
            }
            (None, None) => {
                return Err(Fault::new(
                    "speed_rpm",
                    "missing",
                    "one of speed_rpm, ratio",
                    "the sheet does not say how fast this part turns",
                ));
            }
        }
        at_most("shakes", self.shakes.len(), 12)?;
        if let Some(k) = self.shakes.iter().position(|s| !(1..=200).contains(s)) {
            let why = "times a turn at which it may shake: 1 for unbalance, the number of vanes for a pump";
            return Err(Fault::new(format!("shakes[{k}]"), self.shakes[k] as usize, "1 to 200", why));
        }
        Ok(())
    }
}

impl BeltSheet {
    fn check(&self) -> Result<(), Fault> {
        named("name", &self.name)?;
        let d = self.pulley_mm.within("pulley_mm", 5.0, 5000.0, "mm", "diameter on which the belt runs")?;
        let half_round = std::f64::consts::FRAC_PI_2 * d;
        self.length_mm.within("length_mm", 50.0_f64.max(half_round), 20_000.0, "mm", "a belt goes round half of its pulley at least")?;
        Ok(())
    }
}

impl BearingSheet {
    fn check(&self) -> Result<(), Fault> {
        named("name", &self.name)?;
        f64::from(self.balls).within("balls", 3.0, 200.0, "", "balls or rollers in one row")?;
        let d = self.ball_mm.within("ball_mm", 0.1, 500.0, "mm", "diameter of a ball or roller")?;
        if !(self.pitch_mm > d && self.pitch_mm <= 5000.0) {
            let why = "the circle of the balls' centres is larger than a ball: often the mean of bore and outside diameter";
            return Err(Fault::new("pitch_mm", self.pitch_mm, format!("above {d} mm, to 5000 mm"), why));
        }
        self.contact_deg.within("contact_deg", 0.0, 80.0, "degrees", "0 for deep grooves, 15 or 25 for most spindle bearings")?;
        Ok(())
    }
}

/// Read a machine sheet.
///
/// # Errors
/// A [`Fault`] for text that is no TOML, a field that is missing, unknown, of the wrong type or out of range.
pub fn read_machine_sheet(toml: &str) -> Result<MachineSheet, Fault> {
    static SCHEMA: OnceLock<Value> = OnceLock::new();
    let sheet: MachineSheet = read(read_toml(toml)?, SCHEMA.get_or_init(|| schema_for!(MachineSheet).to_value()))?;
    sheet.check()?;
    Ok(sheet)
}

/// The demo's machine No. 2, with remarks, to start from.
pub const NO_2: &str = include_str!("../../../examples/machine-no-2.toml");

/// The demo's machine No. 5.
pub const NO_5: &str = include_str!("../../../examples/machine-no-5.toml");

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stand_sheet::set_in_sheet;
    use rstest::rstest;

    #[test]
    fn the_shops_machines_are_good_and_their_parts_have_speeds() {
        let no_2 = read_machine_sheet(NO_2).unwrap();
        assert_eq!((no_2.spindle.speed_rpm, no_2.drive.kind), (2860.0, DriveKind::Direct));
        let no_5 = read_machine_sheet(NO_5).unwrap();
        let speeds: Vec<(String, f64)> = no_5.turning().into_iter().map(|t| (t.name, t.speed_rpm)).collect();
        assert_eq!(speeds, [("spindle".into(), 1450.0), ("motor".into(), 1440.0), ("coolant pump".into(), 2840.0)]);
    }

    #[test]
    fn a_ratio_follows_the_spindle() {
        let text = format!("{NO_2}\n[[parts]]\nname = \"countershaft\"\nratio = 0.5\nspeed_sd_rpm = 3.0\n");
        let part = read_machine_sheet(&text).unwrap().turning().pop().unwrap();
        assert_eq!((part.speed_rpm, part.speed_sd_rpm, part.follows_wheel), (1430.0, 5.0, true));
    }

    #[test]
    fn one_value_changes_and_every_remark_stays() {
        let changed = set_in_sheet(NO_2, "head.stiffness_n_um", Some(31.5)).unwrap();
        assert_eq!(read_machine_sheet(&changed).unwrap().head.unwrap().stiffness_n_um, 31.5);
        assert_eq!(changed.matches('#').count(), NO_2.matches('#').count());
    }

    #[rstest]
    #[case("spindle.speed_rpm", 0.0, "spindle.speed_rpm")]
    #[case("spindle.speed_sd_rpm", 900.0, "spindle.speed_sd_rpm")]
    #[case("head.damping", 0.0, "head.damping")]
    #[case("head.natural_hz", -4.0, "head.natural_hz")]
    #[case("mains_hz", 5.0, "mains_hz")]
    #[case("head.no_such_thing", 1.0, "head.no_such_thing")]
    fn a_value_out_of_range_is_named(#[case] path: &str, #[case] value: f64, #[case] field: &str) {
        let fault = read_machine_sheet(&set_in_sheet(NO_2, path, Some(value)).unwrap()).unwrap_err();
        assert_eq!(fault.field, field, "{fault}");
    }

    #[rstest]
    #[case("[[parts]]\nname = \"fan\"\n", "parts[1].speed_rpm")]
    #[case("[[parts]]\nname = \"fan\"\nspeed_rpm = 100.0\nratio = 2.0\n", "parts[1].ratio")]
    #[case("[[parts]]\nname = \"hydraulic pump\"\nspeed_rpm = 100.0\n", "parts[1].name")]
    #[case("[[parts]]\nname = \"spindle\"\nspeed_rpm = 100.0\n", "parts[1].name")]
    #[case("[[parts]]\nname = \"fan\"\nspeed_rpm = 100.0\nshakes = [0]\n", "parts[1].shakes[0]")]
    #[case("[[belts]]\nname = \"belt\"\non = \"motor\"\npulley_mm = 100.0\nlength_mm = 900.0\n", "belts[0].on")]
    #[case("[[belts]]\nname = \"belt\"\non = \"spindle\"\npulley_mm = 100.0\nlength_mm = 90.0\n", "belts[0].length_mm")]
    #[case("[[bearings]]\nname = \"rear\"\non = \"spindle\"\nballs = 9\nball_mm = 9.0\npitch_mm = 8.0\n", "bearings[1].pitch_mm")]
    fn parts_that_do_not_agree_are_named(#[case] more: &str, #[case] field: &str) {
        let fault = read_machine_sheet(&format!("{NO_2}\n{more}")).unwrap_err();
        assert_eq!(fault.field, field, "{fault}");
    }
}
