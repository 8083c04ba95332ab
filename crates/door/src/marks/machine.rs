//! The machine as `marks` is told of it: rotating parts by speed or ratio, belts, bearings.

use crate::Fault;
use crate::machine_sheet::{BearingSheet, BeltSheet, MachineSheet, PartKind as PartKindSheet, PartSheet, SPINDLE};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::Ranged;
use stillwheel_physics::grinder::bearings::Bearing;
use stillwheel_physics::grinder::marks::{Belt, Machine, MountedBearing, Part, PartKind};
use stillwheel_physics::quantity::{Angle, Length};

/// The name that stands for the wheel's own shaft.
pub(super) const WHEEL: &str = "wheel";

/// What kind of part.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum PartKindIn {
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

/// A rotating part other than the wheel. Give its speed, or its ratio to the wheel's.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PartIn {
    /// Its name.
    pub name: String,
    /// What kind it is.
    #[serde(default)]
    pub kind: PartKindIn,
    /// Its speed, r/min.
    #[serde(default)]
    pub speed_rpm: Option<f64>,
    /// Or its speed over the wheel's; it then turns faster when the wheel is made to.
    #[serde(default)]
    pub ratio_to_wheel: Option<f64>,
    /// Relative standard deviation of its speed (0 to 0.2). Missing: 0.01, the slip of a motor or a belt (common practice, no source).
    #[serde(default = "hundredth")]
    pub speed_rel_sd: f64,
    /// Times a turn at which it may shake (1 to 200 each), such as the vanes of a pump. Missing: 1 and 2.
    #[serde(default = "one_and_two")]
    pub orders: Vec<u32>,
}

fn hundredth() -> f64 {
    0.01
}
fn one_and_two() -> Vec<u32> {
    vec![1, 2]
}

/// A belt.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BeltIn {
    /// Its name.
    pub name: String,
    /// Its length, mm (50 to 20,000).
    pub length_mm: f64,
    /// Diameter of one of its pulleys where the belt runs, mm (5 to 5000).
    pub pulley_diameter_mm: f64,
    /// What that pulley sits on: "wheel" or the name of a part. Missing: the wheel.
    #[serde(default = "wheel")]
    pub on: String,
}

/// A rolling bearing whose outer ring stands still.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BearingIn {
    /// Its name.
    pub name: String,
    /// The shaft that it bears: "wheel" or the name of a part. Missing: the wheel.
    #[serde(default = "wheel")]
    pub on: String,
    /// Rolling elements in one row (3 to 200).
    pub elements: u32,
    /// Diameter of an element, mm (0.1 to 500).
    pub element_diameter_mm: f64,
    /// Diameter of the circle of their centres, mm: often the mean of bore and outside diameter.
    pub pitch_diameter_mm: f64,
    /// Contact angle, degrees (0 to 80). Missing: 0.
    #[serde(default)]
    pub contact_angle_deg: f64,
}

fn wheel() -> String {
    WHEEL.into()
}

/// The machine, as far as marks go.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MarkMachineIn {
    /// Speed of the wheel, r/min (3 to 300,000).
    pub wheel_speed_rpm: f64,
    /// Its standard deviation, r/min. Missing: 1 % of it, a motor's slip (common practice, no source).
    #[serde(default)]
    pub wheel_speed_sd_rpm: Option<f64>,
    /// Diameter of the wheel, mm (10 to 2000).
    pub wheel_diameter_mm: f64,
    /// Whether the wheel's speed can be changed.
    #[serde(default)]
    pub wheel_speed_changes: bool,
    /// Segments or slots of an interrupted wheel (2 to 500).
    #[serde(default)]
    pub segments: Option<u32>,
    /// Other rotating parts: motor, pulleys, pumps (up to 40).
    #[serde(default)]
    pub parts: Vec<PartIn>,
    /// Belts (up to 10).
    #[serde(default)]
    pub belts: Vec<BeltIn>,
    /// Bearings (up to 20).
    #[serde(default)]
    pub bearings: Vec<BearingIn>,
    /// Mains frequency, Hz (10 to 500).
    #[serde(default)]
    pub mains_hz: Option<f64>,
    /// Natural frequency of the wheel head or of what holds the work, Hz (1 to 10,000).
    #[serde(default)]
    pub natural_frequency_hz: Option<f64>,
    /// Lead of the last dressing, mm a wheel turn (0.001 to 10).
    #[serde(default)]
    pub dresser_lead_mm: Option<f64>,
    /// Cross-feed a pass, mm (0.01 to 500).
    #[serde(default)]
    pub cross_feed_mm: Option<f64>,
    /// Pitch of what drives or guides the table (a screw, a rack, rollers), mm (0.1 to 500).
    #[serde(default)]
    pub table_pitch_mm: Option<f64>,
}

impl MarkMachineIn {
    /// The machine of a sheet with a wheel of this diameter on it; dresser, cross-feed, table pitch and segments are left open, for they
    /// belong to the job.
    pub fn of_sheet(sheet: &MachineSheet, wheel_diameter_mm: f64) -> Self {
        let on = |name: &str| if name == SPINDLE { WHEEL.to_owned() } else { name.to_owned() };
        let share = |sd: f64, of: f64| if sd > 0.0 { sd / of } else { hundredth() };
        let part = |p: &PartSheet| PartIn {
            name: p.name.clone(),
            kind: match p.kind {
                PartKindSheet::Motor => PartKindIn::Motor,
                PartKindSheet::Pulley => PartKindIn::Pulley,
                PartKindSheet::Pump => PartKindIn::Pump,
                PartKindSheet::Other => PartKindIn::Other,
            },
            speed_rpm: p.speed_rpm,
            ratio_to_wheel: p.ratio,
            speed_rel_sd: share(p.speed_sd_rpm, p.speed_rpm.unwrap_or(sheet.spindle.speed_rpm * p.ratio.unwrap_or(1.0))),
            orders: p.shakes.iter().copied().take(8).collect(),
        };
        let belt = |b: &BeltSheet| BeltIn { name: b.name.clone(), length_mm: b.length_mm, pulley_diameter_mm: b.pulley_mm, on: on(&b.on) };
        let bearing = |b: &BearingSheet| BearingIn {
            name: b.name.clone(),
            on: on(&b.on),
            elements: b.balls,
            element_diameter_mm: b.ball_mm,
            pitch_diameter_mm: b.pitch_mm,
            contact_angle_deg: b.contact_deg,
        };
        Self {
            wheel_speed_rpm: sheet.spindle.speed_rpm,
            wheel_speed_sd_rpm: (sheet.spindle.speed_sd_rpm > 0.0).then_some(sheet.spindle.speed_sd_rpm),
            wheel_diameter_mm,
            wheel_speed_changes: false,
            segments: None,
            parts: sheet.parts.iter().map(part).collect(),
            belts: sheet.belts.iter().map(belt).collect(),
            bearings: sheet.bearings.iter().map(bearing).collect(),
            mains_hz: Some(sheet.mains_hz),
            natural_frequency_hz: sheet.head.map(|h| h.natural_hz),
            dresser_lead_mm: None,
            cross_feed_mm: None,
            table_pitch_mm: None,
        }
    }

    /// Names of all that can be stopped or shake: the wheel, parts, belts, bearings.
    pub fn names(&self) -> Vec<&str> {
        let mut all = vec![WHEEL];
        all.extend(self.parts.iter().map(|p| p.name.as_str()));
        all.extend(self.belts.iter().map(|b| b.name.as_str()));
        all.extend(self.bearings.iter().map(|b| b.name.as_str()));
        all
    }

    pub(super) fn has(&self, name: &str) -> bool {
        self.names().contains(&name)
    }

    /// The physics' places as they are named here.
    pub(super) fn placed(f: Fault) -> Fault {
        if f.field == "none_share" {
            return f;
        }
        let field = f.field.replace(".hz", ".speed_rpm").replace("pulley_hz", "on").replace("shaft_hz", "on");
        let field = match field.as_str() {
            "wheel_hz" => "wheel_speed_rpm".into(),
            "wheel_rel_sd" => "wheel_speed_sd_rpm".into(),
            "wheel_radius_mm" => "wheel_diameter_mm".into(),
            _ => field,
        };
        Fault { field, ..f }.inside("machine")
    }

    pub(super) fn read(&self) -> Result<Machine, Fault> {
        let rpm = self.wheel_speed_rpm.within("wheel_speed_rpm", 3.0, 300_000.0, "r/min", "speed of the wheel")?;
        let sd = self.wheel_speed_sd_rpm.unwrap_or(0.01 * rpm);
        sd.within("wheel_speed_sd_rpm", 0.0, 0.2 * rpm, "r/min", "how well the wheel's speed is known")?;
        let diameter = self.wheel_diameter_mm.within("wheel_diameter_mm", 10.0, 2000.0, "mm", "diameter of the wheel now")?;
        let names = self.names();
        for (i, name) in names.iter().enumerate() {
            if name.trim().is_empty() || name.len() > 80 || names[..i].contains(name) {
                let allowed = "a name of 1 to 80 letters, other than the wheel's and each other's";
                return Err(Fault::new("name", *name, allowed, "each part, belt and bearing needs a name of its own"));
            }
        }
        let wheel_hz = rpm / 60.0;
        let parts: Vec<Part> = self
            .parts
            .iter()
            .enumerate()
            .map(|(i, p)| part(p, wheel_hz).map_err(|f| f.inside(&format!("parts[{i}]"))))
            .collect::<Result<_, _>>()?;
        // Speed of what a belt or bearing sits on, and whether it follows the wheel.
        let on = |name: &str, place: String| {
            if name == WHEEL {
                return Ok((wheel_hz, true));
            }
            let found = parts.iter().find(|p| p.name == name).map(|p| (p.hz, p.follows_wheel));
            found.ok_or_else(|| {
                let all: Vec<&str> = std::iter::once(WHEEL).chain(parts.iter().map(|p| p.name.as_str())).collect();
                Fault::new(place, name, all.join(", "), "the machine has no part of this name")
            })
        };
        let belt = |(i, b): (usize, &BeltIn)| {
            let (pulley_hz, follows_wheel) = on(&b.on, format!("belts[{i}].on"))?;
            Ok(Belt { name: b.name.clone(), length_mm: b.length_mm, pulley_diameter_mm: b.pulley_diameter_mm, pulley_hz, follows_wheel })
        };
        let bearing = |(i, b): (usize, &BearingIn)| {
            let (shaft_hz, follows_wheel) = on(&b.on, format!("bearings[{i}].on"))?;
            let bearing = Bearing {
                elements: b.elements,
                element_diameter: Length::from_mm(b.element_diameter_mm),
                pitch_diameter: Length::from_mm(b.pitch_diameter_mm),
                contact_angle: Angle::from_deg(b.contact_angle_deg),
            };
            Ok(MountedBearing { name: b.name.clone(), bearing, shaft_hz, follows_wheel })
        };
        let belts = self.belts.iter().enumerate().map(belt).collect::<Result<_, Fault>>()?;
        let bearings = self.bearings.iter().enumerate().map(bearing).collect::<Result<_, Fault>>()?;
        Ok(Machine {
            wheel_hz,
            wheel_rel_sd: sd / rpm,
            wheel_radius_mm: diameter / 2.0,
            segments: self.segments,
            belts,
            bearings,
            parts,
            mains_hz: self.mains_hz,
            natural_hz: self.natural_frequency_hz,
            dresser_lead_mm: self.dresser_lead_mm,
            cross_feed_mm: self.cross_feed_mm,
            table_pitch_mm: self.table_pitch_mm,
        })
    }
}

fn part(p: &PartIn, wheel_hz: f64) -> Result<Part, Fault> {
    let (hz, follows_wheel) = match (p.speed_rpm, p.ratio_to_wheel) {
        (Some(rpm), None) => (rpm.within("speed_rpm", 3.0, 300_000.0, "r/min", "speed of a part of the machine")? / 60.0, false),
        (None, Some(ratio)) => {
            (ratio.within("ratio_to_wheel", 1e-3, 1000.0, "", "its speed over the wheel's: the ratio of the pulleys")? * wheel_hz, true)
        }
        (both, _) => {
            let value = if both.is_some() { "both" } else { "missing" };
            return Err(Fault::new("speed_rpm", value, "speed_rpm or ratio_to_wheel, one of them", "either tells how fast it turns"));
        }
    };
    let kind = match p.kind {
        PartKindIn::Motor => PartKind::Motor,
        PartKindIn::Pulley => PartKind::Pulley,
        PartKindIn::Pump => PartKind::Pump,
        PartKindIn::Other => PartKind::Other,
    };
    Ok(Part { name: p.name.clone(), kind, hz, rel_sd: p.speed_rel_sd, follows_wheel, orders: p.orders.clone() })
}

/// The demo's machine "No. 5".
pub(super) fn example() -> MarkMachineIn {
    let part = |name: &str, kind, speed_rpm, ratio_to_wheel, orders| PartIn {
        name: name.into(),
        kind,
        speed_rpm,
        ratio_to_wheel,
        speed_rel_sd: 0.01,
        orders,
    };
    MarkMachineIn {
        wheel_speed_rpm: 1450.0,
        wheel_speed_sd_rpm: Some(10.0),
        wheel_diameter_mm: 300.0,
        wheel_speed_changes: false,
        segments: None,
        parts: vec![
            part("motor", PartKindIn::Motor, None, Some(0.98), vec![1, 2]),
            part("hydraulic pump", PartKindIn::Pump, Some(960.0), None, vec![1, 9]),
        ],
        belts: vec![BeltIn { name: "drive belt".into(), length_mm: 1400.0, pulley_diameter_mm: 160.0, on: WHEEL.into() }],
        bearings: vec![BearingIn {
            name: "front bearing".into(),
            on: WHEEL.into(),
            elements: 12,
            element_diameter_mm: 9.5,
            pitch_diameter_mm: 62.0,
            contact_angle_deg: 15.0,
        }],
        mains_hz: Some(50.0),
        natural_frequency_hz: Some(85.0),
        dresser_lead_mm: Some(0.15),
        cross_feed_mm: Some(4.0),
        table_pitch_mm: None,
    }
}
