//! What could have made marks: from a machine's rotating parts to the causes, each with the pattern that it prints.
//!
//! How likely each is before anything was seen (its weight) is common practice, no source: a wheel out of balance comes first, a defect of a bearing is
//! rare. The weights decide only where the marks do not.

use crate::grinder::bearings::Bearing;
use crate::quantity::RotationalSpeed;
use crate::{Fault, Ranged};
use std::f64::consts::PI;

/// What kind of part.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PartKind {
    /// The motor that drives the wheel.
    Motor,
    /// A pulley.
    Pulley,
    /// A pump or fan that can be stopped while the wheel runs.
    Pump,
    /// Anything else that turns.
    Other,
}

/// A rotating part other than the wheel.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// Its name.
    pub name: String,
    /// What kind it is.
    pub kind: PartKind,
    /// Its speed, Hz (0.05 to 5000).
    pub hz: f64,
    /// Relative standard deviation of its speed (0 to 0.2): slip.
    pub rel_sd: f64,
    /// Whether it turns faster when the wheel is made to.
    pub follows_wheel: bool,
    /// Times a turn at which it may shake (1 to 200 each): 1, 2, vanes of a pump.
    pub orders: Vec<u32>,
}

/// A belt.
#[derive(Clone, Debug, PartialEq)]
pub struct Belt {
    /// Its name.
    pub name: String,
    /// Its length, mm (50 to 20,000).
    pub length_mm: f64,
    /// Diameter of one of its pulleys on which the belt runs, mm (5 to 5000).
    pub pulley_diameter_mm: f64,
    /// Speed of that pulley, Hz.
    pub pulley_hz: f64,
    /// Whether it runs faster when the wheel is made to.
    pub follows_wheel: bool,
}

/// A bearing on a shaft.
#[derive(Clone, Debug, PartialEq)]
pub struct MountedBearing {
    /// Its name.
    pub name: String,
    /// Its geometry.
    pub bearing: Bearing,
    /// Speed of its shaft, Hz.
    pub shaft_hz: f64,
    /// Whether the shaft turns faster when the wheel is made to.
    pub follows_wheel: bool,
}

/// The machine, as far as marks go.
#[derive(Clone, Debug, PartialEq)]
pub struct Machine {
    /// Speed of the wheel, Hz (0.05 to 5000).
    pub wheel_hz: f64,
    /// Its relative standard deviation (0 to 0.2).
    pub wheel_rel_sd: f64,
    /// Radius of the wheel, mm (5 to 1000), for how high a wave can get.
    pub wheel_radius_mm: f64,
    /// Segments or slots of an interrupted wheel (2 to 500).
    pub segments: Option<u32>,
    /// Other parts (up to 40).
    pub parts: Vec<Part>,
    /// Belts (up to 10).
    pub belts: Vec<Belt>,
    /// Bearings (up to 20).
    pub bearings: Vec<MountedBearing>,
    /// Mains frequency, Hz (10 to 500).
    pub mains_hz: Option<f64>,
    /// Natural frequency of the wheel head or the work's holder, Hz (1 to 10,000).
    pub natural_hz: Option<f64>,
    /// Lead of the last dressing, mm a wheel turn (0.001 to 10).
    pub dresser_lead_mm: Option<f64>,
    /// Cross-feed a pass, mm (0.01 to 500).
    pub cross_feed_mm: Option<f64>,
    /// Pitch of what drives or guides the table: a screw, a rack, rollers, mm (0.1 to 500).
    pub table_pitch_mm: Option<f64>,
}

/// What kind of cause; for the test that would show it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// The wheel, once a turn: unbalance, or out of round.
    WheelOnce,
    /// The wheel, more than once a turn.
    WheelMore,
    /// Another turning part.
    Turning(PartKind),
    /// A belt.
    Belt,
    /// A bearing.
    Bearing,
    /// The mains, through a motor.
    Mains,
    /// Chatter that keeps itself going near a natural frequency.
    Chatter,
    /// A vibration seen once a wheel turn by one high place of the wheel.
    SeenOnceATurn,
    /// The dresser's thread.
    DresserThread,
    /// The edges of the cross-feed.
    CrossFeed,
    /// The table's drive or guide.
    TableDrive,
    /// None of these.
    None,
}

/// How a cause's marks follow the speeds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Follows {
    /// A vibration of this frequency at the wheel's usual speed; it changes with the wheel's speed or does not.
    Frequency {
        /// Hz.
        hz: f64,
        /// Whether it changes with the wheel's speed.
        with_wheel: bool,
    },
    /// A steady vibration seen once a turn: |hz − turns·wheel|.
    OnceATurn {
        /// Hz of the vibration.
        hz: f64,
        /// Whole wheel turns next to it.
        turns: f64,
        /// Hz of the wheel.
        wheel_hz: f64,
    },
    /// A distance along the table.
    Along {
        /// mm.
        mm: f64,
    },
    /// Lines along the travel, so far apart.
    Across {
        /// mm.
        mm: f64,
    },
    /// The thread on the wheel: its lead across, a turn's advance along.
    Thread {
        /// mm a turn.
        lead_mm: f64,
        /// Hz of the wheel.
        wheel_hz: f64,
    },
    /// Nobody knows.
    Unknown,
}

impl Follows {
    /// Waves a mm along the travel and across it, at a table speed and a wheel speed (as a ratio to the usual one); `None` when unknown.
    pub fn pattern(&self, table_mm_s: f64, wheel_ratio: f64) -> Option<[f64; 2]> {
        match *self {
            Self::Frequency { hz, with_wheel } => Some([hz * if with_wheel { wheel_ratio } else { 1.0 } / table_mm_s, 0.0]),
            Self::OnceATurn { hz, turns, wheel_hz } => Some([(hz - turns * wheel_hz * wheel_ratio).abs() / table_mm_s, 0.0]),
            Self::Along { mm } => Some([1.0 / mm, 0.0]),
            Self::Across { mm } => Some([0.0, 1.0 / mm]),
            Self::Thread { lead_mm, wheel_hz } => Some([wheel_hz * wheel_ratio / table_mm_s, 1.0 / lead_mm]),
            Self::Unknown => None,
        }
    }
}

/// A cause.
#[derive(Clone, Debug, PartialEq)]
pub struct Cause {
    /// In a few words.
    pub name: String,
    /// The part that it belongs to, as named in the machine; for tests that stop a part.
    pub part: String,
    /// What kind it is.
    pub kind: Kind,
    /// How its marks follow the speeds.
    pub follows: Follows,
    /// Relative standard deviation of its spacing.
    pub rel_sd: f64,
    /// How likely before anything was seen, all causes together 1.
    pub prior: f64,
}

/// Speed of a belt over its length: how often it comes round, Hz. The pulley's diameter is the one on which the belt runs.
///
/// Source: textbook: v = π·d·n, f = v/L.
pub fn belt_hz(length_mm: f64, pulley_diameter_mm: f64, pulley_hz: f64) -> f64 {
    PI * pulley_diameter_mm * pulley_hz / length_mm
}

/// Name of what is left.
const NONE: &str = "none of these";

/// All causes that a machine has, and "none of these" with the share `none_share` (0.001 to 0.9) of the belief to begin with.
///
/// # Errors
/// A [`Fault`] for a value out of the ranges of [`Machine`].
pub fn causes(machine: &Machine, none_share: f64) -> Result<Vec<Cause>, Fault> {
    none_share.within("none_share", 0.001, 0.9, "", "how likely it is at first that none of the causes is the one: 0.1 is usual")?;
    check(machine)?;
    let mut list = Gathered(Vec::new());
    let f = |hz: f64, with_wheel: bool| Follows::Frequency { hz, with_wheel };
    let wheel = machine.wheel_hz;
    let sd = machine.wheel_rel_sd;
    list.add("the wheel, once a turn: out of balance or out of round", "wheel", Kind::WheelOnce, f(wheel, true), sd, 3.0);
    list.add("the wheel, twice a turn: oval, or clamped askew", "wheel", Kind::WheelMore, f(2.0 * wheel, true), sd, 0.7);
    if let Some(n) = machine.segments {
        let name = format!("the interrupted wheel: {n} segments a turn");
        list.add(&name, "wheel", Kind::WheelMore, f(f64::from(n) * wheel, true), sd, 1.5);
    }
    for p in &machine.parts {
        for order in &p.orders {
            let times = times(*order);
            let weight = 0.9 / f64::from((*order).min(3));
            list.add(
                &format!("{}, {times} a turn", p.name),
                &p.name,
                Kind::Turning(p.kind),
                f(p.hz * f64::from(*order), p.follows_wheel),
                p.rel_sd,
                weight,
            );
        }
    }
    for b in &machine.belts {
        let hz = belt_hz(b.length_mm, b.pulley_diameter_mm, b.pulley_hz);
        // A belt creeps about a hundredth behind its pulleys, and its running diameter is known no better. Common practice, no source.
        for (order, weight) in [(1, 1.0), (2, 0.8)] {
            list.add(
                &format!("{}, {} a round", b.name, times(order)),
                &b.name,
                Kind::Belt,
                f(hz * f64::from(order), b.follows_wheel),
                0.015,
                weight,
            );
        }
    }
    for (i, m) in machine.bearings.iter().enumerate() {
        let place = |f: Fault| f.inside(&format!("bearings[{i}]"));
        let d = m.bearing.defect_frequencies(RotationalSpeed::from_rpm(m.shaft_hz * 60.0)).map_err(place)?;
        // Slip of 1 to 3 %, iotbearings.com; half of it to either side of the middle.
        for (what, hz, weight) in [
            ("outer ring", d.outer_hz, 0.2),
            ("inner ring", d.inner_hz, 0.2),
            ("rolling element, twice its turn", 2.0 * d.element_hz, 0.12),
            ("rolling element, its turn", d.element_hz, 0.06),
            ("cage", d.cage_hz, 0.12),
        ] {
            list.add(&format!("{}: {what}", m.name), &m.name, Kind::Bearing, f(hz, m.follows_wheel), 0.01, weight);
        }
    }
    if let Some(mains) = machine.mains_hz {
        list.add("the mains, twice its frequency: a motor’s hum", "mains", Kind::Mains, f(2.0 * mains, false), 0.003, 0.6);
        list.add("the mains, its frequency", "mains", Kind::Mains, f(mains, false), 0.003, 0.2);
    }
    if let Some(hz) = machine.natural_hz {
        // Chatter lies somewhat above the natural frequency. Common practice, no source.
        list.add("chatter that keeps itself going, near the natural frequency", "machine", Kind::Chatter, f(1.1 * hz, false), 0.12, 0.7);
    }
    seen_once_a_turn(machine, &mut list);
    if let Some(lead_mm) = machine.dresser_lead_mm {
        list.add(
            "the dresser’s thread on the wheel",
            "dresser",
            Kind::DresserThread,
            Follows::Thread { lead_mm, wheel_hz: wheel },
            0.03,
            1.0,
        );
    }
    if let Some(mm) = machine.cross_feed_mm {
        list.add("the edges of the cross-feed", "cross-feed", Kind::CrossFeed, Follows::Across { mm }, 0.03, 0.7);
    }
    if let Some(mm) = machine.table_pitch_mm {
        list.add("the table’s drive or guide", "table", Kind::TableDrive, Follows::Along { mm }, 0.01, 0.3);
    }
    let all: f64 = list.0.iter().map(|c| c.prior).sum();
    for c in &mut list.0 {
        c.prior *= (1.0 - none_share) / all;
    }
    list.0.push(Cause {
        name: NONE.into(),
        part: String::new(),
        kind: Kind::None,
        follows: Follows::Unknown,
        rel_sd: 0.0,
        prior: none_share,
    });
    Ok(list.0)
}

struct Gathered(Vec<Cause>);

impl Gathered {
    fn add(&mut self, name: &str, part: &str, kind: Kind, follows: Follows, rel_sd: f64, prior: f64) {
        self.0.push(Cause { name: name.into(), part: part.into(), kind, follows, rel_sd, prior });
    }
}

/// A steady vibration finer than a turn's advance, if only one place of the wheel cuts deepest: it is seen once a turn, and so shows as the
/// difference from the nearest whole number of turns.
fn seen_once_a_turn(machine: &Machine, list: &mut Gathered) {
    let wheel = machine.wheel_hz;
    let steady = list.0.iter().filter_map(|c| match c.follows {
        Follows::Frequency { hz, with_wheel: false } if c.kind != Kind::Chatter => Some((c.name.clone(), c.part.clone(), hz, c.rel_sd)),
        _ => None,
    });
    let steady: Vec<_> = steady.collect();
    for (name, part, hz, rel_sd) in steady {
        let turns = (hz / wheel).round();
        let difference = (hz - turns * wheel).abs();
        let sd = (hz * rel_sd).hypot(turns * wheel * machine.wheel_rel_sd);
        // A difference that could as well be nothing says nothing.
        if turns >= 1.0 && difference > 0.02 * wheel && sd < 0.3 * difference {
            let follows = Follows::OnceATurn { hz, turns, wheel_hz: wheel };
            list.add(
                &format!("{name}, seen once a turn by a high place of the wheel"),
                &part,
                Kind::SeenOnceATurn,
                follows,
                sd / difference,
                0.05,
            );
        }
    }
}

fn times(order: u32) -> String {
    match order {
        1 => "once".into(),
        2 => "twice".into(),
        n => format!("{n} times"),
    }
}

fn check(m: &Machine) -> Result<(), Fault> {
    let speed = "speed of a part of the machine";
    m.wheel_hz.within("wheel_hz", 0.05, 5000.0, "Hz", speed)?;
    m.wheel_rel_sd.within("wheel_rel_sd", 0.0, 0.2, "", "how well the wheel’s speed is known")?;
    m.wheel_radius_mm.within("wheel_radius_mm", 5.0, 1000.0, "mm", "half of the wheel’s diameter")?;
    if let Some(n) = m.segments {
        f64::from(n).within("segments", 2.0, 500.0, "segments", "segments or slots of an interrupted wheel")?;
    }
    for (field, count, most) in [("parts", m.parts.len(), 40), ("belts", m.belts.len(), 10), ("bearings", m.bearings.len(), 20)] {
        if count > most {
            return Err(Fault::new(field, count, format!("at most {most}"), "leave out what runs far from the marks’ frequency"));
        }
    }
    for (i, p) in m.parts.iter().enumerate() {
        p.hz.within(&format!("parts[{i}].hz"), 0.05, 5000.0, "Hz", speed)?;
        p.rel_sd.within(&format!("parts[{i}].speed_rel_sd"), 0.0, 0.2, "", "how well its speed is known")?;
        if p.orders.is_empty() || p.orders.len() > 8 || p.orders.iter().any(|o| !(1..=200).contains(o)) {
            return Err(Fault::new(
                format!("parts[{i}].orders"),
                p.orders.len(),
                "1 to 8 numbers from 1 to 200",
                "times a turn at which the part may shake",
            ));
        }
    }
    for (i, b) in m.belts.iter().enumerate() {
        b.length_mm.within(&format!("belts[{i}].length_mm"), 50.0, 20_000.0, "mm", "length of a belt")?;
        b.pulley_diameter_mm.within(&format!("belts[{i}].pulley_diameter_mm"), 5.0, 5000.0, "mm", "diameter of one of its pulleys")?;
        b.pulley_hz.within(&format!("belts[{i}].pulley_hz"), 0.05, 5000.0, "Hz", speed)?;
    }
    for (i, b) in m.bearings.iter().enumerate() {
        b.shaft_hz.within(&format!("bearings[{i}].shaft_hz"), 0.05, 5000.0, "Hz", speed)?;
    }
    let optional = [
        ("mains_hz", m.mains_hz, [10.0, 500.0], "Hz", "frequency of the mains: 50 or 60"),
        ("natural_frequency_hz", m.natural_hz, [1.0, 10_000.0], "Hz", "natural frequency of the wheel head"),
        ("dresser_lead_mm", m.dresser_lead_mm, [1e-3, 10.0], "mm", "how far the dresser moved a wheel turn"),
        ("cross_feed_mm", m.cross_feed_mm, [0.01, 500.0], "mm", "cross-feed a pass"),
        ("table_pitch_mm", m.table_pitch_mm, [0.1, 500.0], "mm", "pitch of what drives or guides the table"),
    ];
    for (field, value, [low, high], unit, why) in optional {
        if let Some(v) = value {
            v.within(field, low, high, unit, why)?;
        }
    }
    Ok(())
}
