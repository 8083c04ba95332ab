//! `mounting`: whether a wheel may be mounted on a machine. The marked speed is compared here; the rest is a checklist that a person
//! answers at the machine, each point with the public rule behind it.
//!
//! The rules are told in our own words after 29 CFR 1910.215 (abrasive wheel machinery), ANSI B7.1 and EN 12413. What the wheel's maker
//! says, and the law of the place, go before all of it.

use crate::Fault;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::Ranged;
use stillwheel_physics::quantity::{Length, RotationalSpeed, Velocity};
use stillwheel_physics::rotor::speed::{MarkedMaximum, check_marked_speed, rim_speed};

/// What holds the grain.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Bond {
    /// Vitrified (V): rings when it is sound.
    Vitrified,
    /// Resin (B, BF): gives a duller tone.
    Resin,
    /// Rubber (R, RF) or shellac (E): does not ring.
    RubberOrShellac,
    /// Metal, or a metal body with a thin rim.
    Metal,
}

/// An answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Answer {
    /// It is so.
    Yes,
    /// It is not.
    No,
    /// The maker says that this wheel needs none; only where the point allows it.
    NotNeeded,
}

/// The answers; one left out is still open.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Answers {
    /// Looked over: no crack, no chip, not soaked, date of expiry not past.
    pub sound: Option<Answer>,
    /// The ring test was passed.
    pub ring: Option<Answer>,
    /// The bore goes on freely and without play.
    pub fit: Option<Answer>,
    /// Flanges alike, flat, clean, large enough.
    pub flanges: Option<Answer>,
    /// A clean blotter on each side.
    pub blotters: Option<Answer>,
    /// Every correction weight is clamped or locked.
    pub weights: Option<Answer>,
    /// The guard is on, closed and adjusted.
    pub guard: Option<Answer>,
    /// Run up at working speed with the guard closed and nobody in line with the wheel.
    pub run_up: Option<Answer>,
}

/// Input of `mounting`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MountingIn {
    /// Diameter of the wheel now, mm (1 to 5000).
    pub wheel_diameter_mm: f64,
    /// Maximum speed marked on the wheel, m/s at the rim.
    #[serde(default)]
    pub marked_max_m_s: Option<f64>,
    /// Maximum speed marked on the wheel, r/min.
    #[serde(default)]
    pub marked_max_rpm: Option<f64>,
    /// Speed of the machine, r/min: the highest at which this wheel will run.
    pub speed_rpm: f64,
    /// What holds the wheel's grain.
    pub bond: Bond,
    /// Diameter of the flanges where they bear, mm (1 to 2000).
    #[serde(default)]
    pub flange_mm: Option<f64>,
    /// Largest wheel that the machine's guard takes, mm (20 to 2000).
    #[serde(default)]
    pub largest_wheel_mm: Option<f64>,
    /// The answers.
    #[serde(default)]
    pub answers: Answers,
}

/// How a point stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum State {
    /// Good.
    Passed,
    /// Not good: the wheel must not be mounted, or must come off.
    Failed,
    /// Not answered yet.
    Open,
}

/// One point.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Point {
    /// Its name in `answers`; `speed` for the one that is computed.
    pub name: String,
    /// A title.
    pub title: String,
    /// What is to be so.
    pub ask: String,
    /// The public rule behind it, in our own words, with its place.
    pub rule: String,
    /// Whether it may be answered by "the maker says none is needed".
    pub may_be_not_needed: bool,
    /// How it stands.
    pub state: State,
    /// Why, where it is not passed.
    pub why: Option<String>,
}

/// Output of `mounting`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MountingOut {
    /// Whether every point is passed.
    pub may_be_mounted: bool,
    /// A sentence about it.
    pub says: String,
    /// Speed of the rim, m/s.
    pub rim_speed_m_s: f64,
    /// All points, in the order of the work.
    pub points: Vec<Point>,
    /// To be read with it.
    pub cautions: Vec<String>,
}

/// Go through the points.
///
/// # Errors
/// A [`Fault`] for a value out of its range. A machine that is too fast is a point that failed, not a fault: the list shows it.
pub fn mounting(input: &MountingIn) -> Result<MountingOut, Fault> {
    let (diameter, speed) = (Length::from_mm(input.wheel_diameter_mm), RotationalSpeed::from_rpm(input.speed_rpm));
    let rim = rim_speed(diameter, speed)?;
    if let Some(mark) = input.marked_max_m_s {
        mark.within("marked_max_m_s", 0.1, 500.0, "m/s", "the maximum rim speed marked on the wheel")?;
    }
    if let Some(mark) = input.marked_max_rpm {
        mark.within("marked_max_rpm", 1.0, 300_000.0, "r/min", "the maximum speed marked on the wheel")?;
    }
    if let Some(d) = input.flange_mm {
        d.within("flange_mm", 1.0, 2000.0, "mm", "diameter of the flanges where they bear")?;
    }
    if let Some(d) = input.largest_wheel_mm {
        d.within("largest_wheel_mm", 20.0, 2000.0, "mm", "the largest wheel that the guard takes")?;
    }
    let mut points = vec![marked_speed(input, diameter, speed)];
    points.extend(questions(input).into_iter().map(Question::answered));
    let failed: Vec<&str> = points.iter().filter(|p| p.state == State::Failed).map(|p| p.title.as_str()).collect();
    let open = points.iter().filter(|p| p.state == State::Open).count();
    let says = match (failed.is_empty(), open) {
        (true, 0) => format!("Every point is passed. The rim runs at {:.1} m/s.", rim.m_s()),
        (true, n) => format!("{n} point{} still open.", if n == 1 { " is" } else { "s are" }),
        (false, _) => format!("Do not run this wheel: {}.", failed.join("; ").to_lowercase()),
    };
    Ok(MountingOut {
        may_be_mounted: failed.is_empty() && open == 0,
        says,
        rim_speed_m_s: rim.m_s(),
        points,
        cautions: vec![
            "What the wheel’s maker and the machine’s maker say goes before this list, and so does the law of the place.".into(),
            "A list can be answered without looking. The wheel does not know the answers.".into(),
        ],
    })
}

fn marked_speed(input: &MountingIn, diameter: Length, speed: RotationalSpeed) -> Point {
    let marked =
        MarkedMaximum { rim: input.marked_max_m_s.map(Velocity::from_m_s), rotation: input.marked_max_rpm.map(RotationalSpeed::from_rpm) };
    let (state, why) = if marked == MarkedMaximum::default() {
        (
            State::Open,
            Some("Read the maximum speed on the wheel itself and enter it in the rotor’s record; a wheel without a mark stays off.".into()),
        )
    } else {
        match check_marked_speed(diameter, speed, marked) {
            Ok(_) => (State::Passed, None),
            Err(f) => (State::Failed, Some(format!("The machine runs at {} r/min; allowed: {}. {}.", input.speed_rpm, f.allowed, f.why))),
        }
    };
    Point {
        name: "speed".into(),
        title: "Marked speed".into(),
        ask: "The machine runs no faster than the wheel’s mark, at the diameter that the wheel has now.".into(),
        rule: "The spindle’s speed is checked before mounting and must not exceed the maximum marked on the wheel (29 CFR 1910.215(d)(1); EN 12413 \
               asks for the mark in m/s and r/min)."
            .into(),
        may_be_not_needed: false,
        state,
        why,
    }
}

struct Question {
    name: &'static str,
    title: &'static str,
    ask: String,
    rule: &'static str,
    not_needed: bool,
    /// What numbers say against it, whatever was answered.
    against: Option<String>,
    answer: Option<Answer>,
    /// What to do when the answer is no.
    otherwise: &'static str,
}

impl Question {
    fn answered(self) -> Point {
        let (state, why) = match (self.against, self.answer) {
            (Some(why), _) => (State::Failed, Some(why)),
            (None, Some(Answer::Yes)) => (State::Passed, None),
            (None, Some(Answer::NotNeeded)) if self.not_needed => (State::Passed, None),
            (None, Some(Answer::NotNeeded)) => (State::Failed, Some("This point can’t be left out for this wheel.".into())),
            (None, Some(Answer::No)) => (State::Failed, Some(self.otherwise.into())),
            (None, None) => (State::Open, None),
        };
        Point {
            name: self.name.into(),
            title: self.title.into(),
            ask: self.ask,
            rule: self.rule.into(),
            may_be_not_needed: self.not_needed,
            state,
            why,
        }
    }
}

fn questions(input: &MountingIn) -> Vec<Question> {
    let a = &input.answers;
    let third = input.wheel_diameter_mm / 3.0;
    let small_flange = input.flange_mm.filter(|d| *d < third - 1e-9).map(|d| {
        format!("The flanges measure {d} mm; a third of the wheel is {third:.1} mm. Larger flanges are needed, unless the makers of wheel and machine say otherwise in writing.")
    });
    let too_large = input
        .largest_wheel_mm
        .filter(|most| input.wheel_diameter_mm > *most)
        .map(|most| format!("The guard takes wheels up to {most} mm, and this one measures {} mm.", input.wheel_diameter_mm));
    let rings = input.bond == Bond::Vitrified;
    vec![
        Question {
            name: "sound",
            title: "Looked over",
            ask: "No crack, no chipped edge, not soaked with oil or coolant; a resin-bonded wheel is not past its date.".into(),
            rule: "Every wheel is inspected just before it is mounted (29 CFR 1910.215(d)(1)); resin bonds carry a date of expiry (EN 12413).",
            not_needed: false,
            against: None,
            answer: a.sound,
            otherwise: "Put the wheel aside and mark it so that nobody else mounts it.",
        },
        Question {
            name: "ring",
            title: "Ring test",
            ask: if rings {
                "Dry and clean, hung on a finger or pin (a heavy one standing on a hard floor), tapped lightly with something not of metal about 45° \
                 to either side of the upright line, 25 to 50 mm from the rim, then turned by 45° and tapped again: each tap rings clear."
                    .into()
            } else {
                "This bond rings dully or not at all. If its maker describes a test, it was passed; if not, it was looked over all the more closely.".into()
            },
            rule: "The ring test before mounting: 29 CFR 1910.215(d)(1); ANSI B7.1, clause 6.1: light tool, dry wheel, chiefly for vitrified bonds. \
                   Sawdust or damp deadens the tone.",
            not_needed: !rings,
            against: None,
            answer: a.ring,
            otherwise: "A dead or cracked tone is a cracked wheel until proven otherwise: it must not run. Break it up, so that nobody mounts it.",
        },
        Question {
            name: "fit",
            title: "Bore and seat",
            ask: "The wheel goes on its adapter freely, by hand, without force and without shake; seat and bore are clean.".into(),
            rule: "A wheel fits freely and is never forced on (29 CFR 1910.215(d); WAC 296-307-19009). Play on the seat is unbalance, too.",
            not_needed: false,
            against: None,
            answer: a.fit,
            otherwise: "Clean seat and bore; if it still binds or shakes, bore and adapter do not belong together.",
        },
        Question {
            name: "flanges",
            title: "Flanges",
            ask: format!("Both flanges alike in diameter and bearing width, flat, free of burrs, and at least a third of the wheel: {third:.0} mm."),
            rule: "At least a third of the wheel’s diameter, the same on both sides (29 CFR 1910.215(c); ANSI B7.1, clause 5.1).",
            not_needed: false,
            against: small_flange,
            answer: a.flanges,
            otherwise: "Uneven or small flanges break wheels: change them.",
        },
        Question {
            name: "blotters",
            title: "Blotters",
            ask: "A clean, whole blotter between wheel and flange on each side, as large as the flange.".into(),
            rule: "Compressible blotters between wheel and metal flanges, except where the maker exempts the wheel (29 CFR 1910.215(c)(6); ANSI B7.1, \
                   clause 5.1).",
            not_needed: true,
            against: None,
            answer: a.blotters,
            otherwise: "Put new blotters on: the flange bears on high places without them.",
        },
        Question {
            name: "weights",
            title: "Weights",
            ask: "Every correction weight is clamped and every screw locked; nothing of the stand is left on the rotor.".into(),
            rule: "Common practice, no source: a loose weight becomes a shot.",
            not_needed: false,
            against: None,
            answer: a.weights,
            otherwise: "Clamp them, and check the balance again if one has moved.",
        },
        Question {
            name: "guard",
            title: "Guard",
            ask: "The guard is on, closed and fast; on a surface grinder it leaves no more than 150° of the wheel open.".into(),
            rule: "Guards and their greatest openings: 29 CFR 1910.215(b), surface grinders 150°.",
            not_needed: false,
            against: too_large,
            answer: a.guard,
            otherwise: "No guard, no run.",
        },
        Question {
            name: "run_up",
            title: "Run-up",
            ask: "Run at working speed with the guard closed for a minute at least (five after balancing is better), everybody standing aside, nobody \
                  in line with the wheel."
                .into(),
            rule: "A newly mounted wheel runs for a minute with its guard before work, and nobody stands in front of it (ANSI B7.1; WAC 296-307-19009(8)).",
            not_needed: false,
            against: None,
            answer: a.run_up,
            otherwise: "Do it before any work: a wheel that is going to break mostly breaks then.",
        },
    ]
}

/// The demo's wheel on machine "No. 2".
pub(crate) fn example() -> MountingIn {
    let yes = Some(Answer::Yes);
    MountingIn {
        wheel_diameter_mm: 200.0,
        marked_max_m_s: Some(35.0),
        marked_max_rpm: None,
        speed_rpm: 2860.0,
        bond: Bond::Vitrified,
        flange_mm: Some(80.0),
        largest_wheel_mm: Some(205.0),
        answers: Answers { sound: yes, ring: yes, fit: yes, flanges: yes, blotters: yes, weights: yes, guard: yes, run_up: None },
    }
}
