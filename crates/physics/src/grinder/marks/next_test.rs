//! Which test would tell the causes apart best: by the information to be expected of it.
//!
//! For each test every cause predicts an outcome; the information is how much the entropy of the probabilities falls on
//! average (mutual information of cause and outcome). Lindley, Ann. Math. Statist. 27 (1956) 986.

use super::cause::{Cause, Follows, Kind, PartKind};
use super::rank::{Ranking, Seen, Sighting, entropy};
use std::f64::consts::TAU;

/// A test.
#[derive(Clone, Debug, PartialEq)]
pub enum TestKind {
    /// Grind again with the table a fifth faster.
    TableFaster,
    /// Grind again with the wheel a tenth slower.
    WheelSlower,
    /// Measure the same marks over twenty of them, and time the table over five strokes.
    MeasureBetter,
    /// Stop this part, and grind again.
    Stop(String),
    /// Switch the wheel off and feel the head while it runs down.
    RunDown,
    /// Take the wheel's belt off and run the motor alone.
    BeltOff,
    /// Balance the wheel anew (or mount one that is known to be good) and grind again.
    OtherWheel,
    /// Dress with half the lead and grind again.
    HalfLead,
}

/// A test with what it is worth.
#[derive(Clone, Debug, PartialEq)]
pub struct NextTest {
    /// Which test.
    pub kind: TestKind,
    /// Information to be expected, bits.
    pub bits: f64,
    /// Probability that the most probable cause after the test is the right one.
    pub right_after: f64,
    /// Outcomes: in words, probability, and the cause that would then be the most probable.
    pub outcomes: Vec<Outcome>,
}

/// One outcome of a test.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    /// In words.
    pub what: String,
    /// How likely it is.
    pub probability: f64,
    /// The cause that would then be the most probable.
    pub then: usize,
    /// Its probability then.
    pub then_probability: f64,
}

/// How surely a felt or seen change goes with its cause. Common practice, no source.
const SURE: f64 = 0.9;
/// Better measuring: relative standard deviation of a spacing over twenty marks and a table timed over five strokes.
const BETTER: f64 = 0.004;
/// Tests told at most.
const MOST: usize = 5;

/// The tests that are worth doing, the best first.
pub fn next_tests(causes: &[Cause], ranking: &Ranking, first: &Sighting, wheel_speed_changes: bool) -> Vec<NextTest> {
    let mut p = vec![0.0; causes.len()];
    for r in &ranking.ranked {
        p[r.cause] = r.probability;
    }
    let has = |kind: Kind| causes.iter().any(|c| c.kind == kind);
    let mut tests = vec![by_ratio(TestKind::TableFaster, causes, &p, first), better(causes, &p, first)];
    if wheel_speed_changes {
        tests.push(by_ratio(TestKind::WheelSlower, causes, &p, first));
    }
    if has(Kind::DresserThread) {
        tests.push(by_ratio(TestKind::HalfLead, causes, &p, first));
    }
    tests.push(by_class(
        TestKind::RunDown,
        causes,
        &p,
        &["gone as soon as the power is off", "falls with the speed", "stays", "nothing is felt"],
        run_down,
    ));
    if has(Kind::Belt) {
        tests.push(by_class(TestKind::BeltOff, causes, &p, &["the motor alone still shakes so", "the shaking is gone"], belt_off));
    }
    tests.push(by_class(TestKind::OtherWheel, causes, &p, &["the marks change", "the marks stay as they were"], |c| {
        usize::from(!(c.kind == Kind::WheelOnce || c.kind == Kind::WheelMore))
    }));
    let mut stoppable: Vec<&str> = causes.iter().filter(|c| c.kind == Kind::Turning(PartKind::Pump)).map(|c| c.part.as_str()).collect();
    stoppable.dedup();
    for part in stoppable {
        let kind = TestKind::Stop(part.to_owned());
        tests.push(by_class(kind, causes, &p, &["the marks are gone", "the marks stay"], |c| usize::from(c.part != part)));
    }
    // A hundredth of a bit is not worth the coolant.
    tests.retain(|t| t.bits > 0.01);
    tests.sort_by(|a, b| b.bits.total_cmp(&a.bits));
    tests.truncate(MOST);
    tests
}

fn run_down(c: &Cause) -> usize {
    match c.kind {
        Kind::Mains => 0,
        Kind::Turning(PartKind::Pump) => 2,
        Kind::WheelOnce | Kind::WheelMore | Kind::Turning(_) | Kind::Belt | Kind::Bearing => 1,
        Kind::Chatter | Kind::SeenOnceATurn | Kind::DresserThread | Kind::CrossFeed | Kind::TableDrive | Kind::None => 3,
    }
}

fn belt_off(c: &Cause) -> usize {
    match c.kind {
        Kind::Turning(PartKind::Motor | PartKind::Pump) | Kind::Mains => 0,
        _ => 1,
    }
}

/// A test whose outcome is one of a few classes: each cause goes with its own, and with the others by chance.
fn by_class(kind: TestKind, causes: &[Cause], p: &[f64], names: &[&str], class: impl Fn(&Cause) -> usize) -> NextTest {
    let n = names.len();
    let wrong = (1.0 - SURE) / (n - 1) as f64;
    let chance = |c: &Cause, k: usize| {
        // Of what nobody listed nothing is known.
        if c.kind == Kind::None {
            1.0 / n as f64
        } else if class(c) == k {
            SURE
        } else {
            wrong
        }
    };
    let table: Vec<Vec<f64>> = (0..n).map(|k| causes.iter().zip(p).map(|(c, p)| p * chance(c, k)).collect()).collect();
    of_table(kind, names.iter().map(|n| (*n).to_owned()).collect(), &table)
}

/// From the joint probabilities of outcome and cause.
fn of_table(kind: TestKind, names: Vec<String>, table: &[Vec<f64>]) -> NextTest {
    let causes = table.first().map_or(0, Vec::len);
    let before = entropy((0..causes).map(|i| table.iter().map(|row| row[i]).sum()));
    let mut after = 0.0;
    let mut right_after = 0.0;
    let mut outcomes = Vec::new();
    for (name, row) in names.into_iter().zip(table) {
        let total: f64 = row.iter().sum();
        if total <= 0.0 {
            continue;
        }
        let (then, most) = row.iter().enumerate().fold((0, 0.0), |m, (i, p)| if *p > m.1 { (i, *p) } else { m });
        after += total * entropy(row.iter().map(|p| p / total));
        right_after += most;
        outcomes.push(Outcome { what: name, probability: total, then, then_probability: most / total });
    }
    NextTest { kind, bits: (before - after).max(0.0), right_after, outcomes }
}

/// A test that grinds again at other speeds: each cause predicts by which factor the spacing changes. Outcomes are the different factors.
fn by_ratio(kind: TestKind, causes: &[Cause], p: &[f64], first: &Sighting) -> NextTest {
    let (table, wheel, lead) = match kind {
        TestKind::TableFaster => (1.2, 1.0, 1.0),
        TestKind::WheelSlower => (1.0, 0.9, 1.0),
        _ => (1.0, 1.0, 0.5),
    };
    let sd = match first.seen {
        Seen::Marks { spacing_rel_sd, .. } => (std::f64::consts::SQRT_2 * spacing_rel_sd).max(0.005),
        Seen::Gone => 0.02,
    };
    let factor = |c: &Cause| -> Option<f64> {
        let size =
            |f: &Follows, table: f64, wheel: f64| f.pattern(first.table_mm_s * table, first.wheel_ratio * wheel).map(|p| p[0].hypot(p[1]));
        let other = match c.follows {
            Follows::Thread { lead_mm, wheel_hz } => Follows::Thread { lead_mm: lead_mm * lead, wheel_hz },
            f => f,
        };
        Some(size(&c.follows, 1.0, 1.0)? / size(&other, table, wheel)?)
    };
    // Factors that lie within a twentieth of each other are one outcome to the eye; the chance to take one for another follows from the reading.
    let mut factors: Vec<f64> = causes.iter().filter_map(factor).collect();
    factors.push(1.0);
    factors.sort_by(f64::total_cmp);
    factors.dedup_by(|b, a| (*b / *a - 1.0).abs() < 0.03);
    let share = |c: &Cause, k: usize| match factor(c) {
        None => 1.0 / factors.len() as f64,
        Some(f) => {
            let near = |g: f64| (-0.5 * ((f / g).ln() / sd).powi(2)).exp() + 0.02;
            near(factors[k]) / factors.iter().map(|g| near(*g)).sum::<f64>()
        }
    };
    let names = factors.iter().map(|f| ratio_words(*f)).collect();
    let joint: Vec<Vec<f64>> = (0..factors.len()).map(|k| causes.iter().zip(p).map(|(c, p)| p * share(c, k)).collect()).collect();
    of_table(kind, names, &joint)
}

fn ratio_words(f: f64) -> String {
    if (f - 1.0).abs() < 0.015 { "the spacing stays".into() } else { format!("the spacing becomes {f:.2} times as long") }
}

/// Measuring better: what was read pins each cause's spacing; a better reading falls near it.
fn better(causes: &[Cause], p: &[f64], first: &Sighting) -> NextTest {
    let Seen::Marks { spacing_mm, spacing_rel_sd, .. } = first.seen else { return of_table(TestKind::MeasureBetter, Vec::new(), &[]) };
    let read = spacing_rel_sd.hypot(first.table_rel_sd).max(0.003);
    // Logarithm of what the better reading would be over the present one, and its deviation, under each cause.
    let expected: Vec<[f64; 2]> = causes
        .iter()
        .map(|c| match c.follows.pattern(first.table_mm_s, first.wheel_ratio) {
            None => [0.0, read.hypot(BETTER)],
            Some(k) => {
                let own = c.rel_sd.max(1e-4);
                let off = (super::rank::spacing(k) / spacing_mm).ln();
                let pulled = off * read * read / (read * read + own * own);
                let left = (1.0 / (1.0 / (read * read) + 1.0 / (own * own))).sqrt();
                [pulled, left.hypot(BETTER)]
            }
        })
        .collect();
    // Outcomes: readings in steps of a third of the better deviation, summed to four words.
    let span = 4.0 * read.hypot(BETTER);
    let steps = ((2.0 * span / (BETTER / 3.0)).ceil() as usize).clamp(8, 2000);
    let width = 2.0 * span / steps as f64;
    let normal = |x: f64, sd: f64| (-0.5 * (x / sd).powi(2)).exp() / (sd * TAU.sqrt());
    let joint: Vec<Vec<f64>> = (0..steps)
        .map(|s| {
            let x = -span + (s as f64 + 0.5) * width;
            expected.iter().zip(p).map(|(e, p)| p * normal(x - e[0], e[1]) * width).collect()
        })
        .collect();
    let fine = of_table(TestKind::MeasureBetter, vec![String::new(); steps], &joint);
    // For a person the outcomes are the causes that the reading would point to.
    let mut outcomes: Vec<Outcome> = Vec::new();
    for o in &fine.outcomes {
        match outcomes.iter_mut().find(|w| w.then == o.then) {
            Some(w) => {
                let both = w.probability + o.probability;
                w.then_probability = (w.then_probability * w.probability + o.then_probability * o.probability) / both;
                w.probability = both;
            }
            None => outcomes.push(Outcome { what: "the better spacing points to it".into(), ..o.clone() }),
        }
    }
    outcomes.retain(|o| o.probability > 0.01);
    outcomes.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    outcomes.truncate(4);
    NextTest { outcomes, ..fine }
}
