//! A season of sittings at Fernhill, from a new wheel to its last dressings: played on the virtual bench, look by look, doing
//! what the program says. The hidden wheels follow from the stands' seeds and the dates, so each run plays the same.

use super::Fernhill;
use crate::sitting::{Act, Bench, Reasons, SittingFault, weigh_allowance};
use jiff::{SignedDuration, Timestamp};
use std::sync::atomic::{AtomicBool, Ordering};
use stillwheel_door::next_step::{Action, LookKind, Reader};
use stillwheel_door::virtual_bench::VirtualLook;
use stillwheel_store::{By, Id, RingKind, Rotor, SittingStart, Stored, Wheel};

/// Most looks that a person takes before a sitting is closed without proof.
const PATIENT: usize = 12;

/// What changes at a rotor before a sitting.
#[derive(Clone, Copy)]
enum Before {
    /// Nothing.
    AsItIs,
    /// A new wheel was mounted, badly seated: so much unbalance is to be expected, g·mm.
    BadlySeated(f64),
    /// The wheel was turned half a turn on its adapter: as usual again.
    SeatedAnew,
    /// Dressed down to this diameter, mm.
    Dressed(f64),
}

/// One past sitting.
struct Past {
    began: &'static str,
    who: &'static str,
    rotor: usize,
    stand: usize,
    grade_mm_s: f64,
    before: Before,
    /// Looks taken first, whatever is advised.
    first: &'static [VirtualLook],
    most_looks: usize,
    note: &'static str,
}

const AS_USUAL: &[VirtualLook] = &[];
const BIRCH: usize = 0;
const WAYS: usize = 1;
const LARCH: usize = 2;

const SEASON: [Past; 12] = [
    Past {
        began: "2025-02-03T08:10:00Z",
        who: "Wren",
        rotor: 0,
        stand: BIRCH,
        grade_mm_s: 1.0,
        before: Before::BadlySeated(2600.0),
        first: AS_USUAL,
        most_looks: PATIENT,
        note: "New wheel, heavier on one side than the weights can answer. To be turned half a turn on its adapter and balanced again.",
    },
    Past {
        began: "2025-02-03T10:35:00Z",
        who: "Wren",
        rotor: 0,
        stand: BIRCH,
        grade_mm_s: 1.0,
        before: Before::SeatedAnew,
        first: AS_USUAL,
        most_looks: PATIENT,
        note: "Turned half a turn on its adapter.",
    },
    Past {
        began: "2025-03-10T07:50:00Z",
        who: "Wren",
        rotor: 0,
        stand: BIRCH,
        grade_mm_s: 1.0,
        before: Before::Dressed(197.0),
        first: AS_USUAL,
        most_looks: PATIENT,
        note: "After truing and dressing.",
    },
    Past {
        began: "2025-03-28T13:05:00Z",
        who: "Hale",
        rotor: 1,
        stand: WAYS,
        grade_mm_s: 1.0,
        before: Before::AsItIs,
        first: AS_USUAL,
        most_looks: PATIENT,
        note: "",
    },
    Past {
        began: "2025-04-22T09:15:00Z",
        who: "Hale",
        rotor: 0,
        stand: LARCH,
        grade_mm_s: 1.0,
        before: Before::AsItIs,
        first: &[VirtualLook::Log, VirtualLook::Settle],
        most_looks: 5,
        note: "The stand turns the arbor by itself: measured, a port of one saddle is drilled off-centre. Larch is to get a new saddle.",
    },
    Past {
        began: "2025-05-06T14:20:00Z",
        who: "Hale",
        rotor: 2,
        stand: WAYS,
        grade_mm_s: 0.4,
        before: Before::AsItIs,
        first: AS_USUAL,
        most_looks: PATIENT,
        note: "Not to be shown on the ways; to be repeated on Birch.",
    },
    Past {
        began: "2025-05-07T07:40:00Z",
        who: "Wren",
        rotor: 2,
        stand: BIRCH,
        grade_mm_s: 0.4,
        before: Before::AsItIs,
        first: &[VirtualLook::Settle, VirtualLook::Log],
        most_looks: PATIENT,
        note: "For the mirror-finish job.",
    },
    Past {
        began: "2025-06-16T08:30:00Z",
        who: "Wren",
        rotor: 2,
        stand: BIRCH,
        grade_mm_s: 1.0,
        before: Before::AsItIs,
        first: AS_USUAL,
        most_looks: PATIENT,
        note: "",
    },
    Past {
        began: "2025-07-01T11:00:00Z",
        who: "Hale",
        rotor: 1,
        stand: BIRCH,
        grade_mm_s: 1.0,
        before: Before::Dressed(288.0),
        first: AS_USUAL,
        most_looks: PATIENT,
        note: "Marks on the work stay although the wheel is proven: their spacing fits the drive belt, not the wheel. Belt of No. 5 changed, marks gone.",
    },
    Past {
        began: "2025-08-20T07:55:00Z",
        who: "Wren",
        rotor: 0,
        stand: BIRCH,
        grade_mm_s: 1.0,
        before: Before::Dressed(188.0),
        first: AS_USUAL,
        most_looks: PATIENT,
        note: "",
    },
    Past {
        began: "2025-09-15T12:45:00Z",
        who: "Hale",
        rotor: 2,
        stand: BIRCH,
        grade_mm_s: 1.0,
        before: Before::Dressed(195.0),
        first: &[VirtualLook::Settle, VirtualLook::Holds],
        most_looks: PATIENT,
        note: "",
    },
    Past {
        began: "2025-10-13T08:05:00Z",
        who: "Wren",
        rotor: 0,
        stand: BIRCH,
        grade_mm_s: 1.0,
        before: Before::Dressed(181.0),
        first: AS_USUAL,
        most_looks: PATIENT,
        note: "Near its smallest diameter; a new wheel is on order.",
    },
];

/// The sitting after which the wheel was trimmed in place too.
const TRIMMED: &str = "2025-03-10T07:50:00Z";

/// Play the season into the store, one sitting after another.
///
/// # Errors
/// The store's faults; a fault of the calculations on a played sitting.
pub fn play_season(bench: &Bench, f: &mut Fernhill) -> Result<(), SittingFault> {
    play_first(bench, f)?;
    play_rest(bench, f, &AtomicBool::new(false))
}

/// Play what comes after [`play_first`], until `stop`.
///
/// # Errors
/// As [`play_season`].
pub(super) fn play_rest(bench: &Bench, f: &mut Fernhill, stop: &AtomicBool) -> Result<(), SittingFault> {
    for past in &SEASON[1..] {
        if stop.load(Ordering::Relaxed) {
            return Ok(());
        }
        let id = begin(bench, f, past)?;
        go_on(bench, past, &id)?;
        if past.began == TRIMMED {
            let began: Timestamp = past.began.parse().unwrap_or_default();
            super::grinder::mount_and_trim(bench, &id, past.who, began + SignedDuration::from_mins(40))?;
        }
    }
    Ok(())
}

/// The first sitting of the season, on the badly seated wheel. Whoever comes later finds the wheel seated anew, so this is played before
/// anybody may begin a sitting of his own.
///
/// # Errors
/// As [`play_season`].
pub(super) fn play_first(bench: &Bench, f: &mut Fernhill) -> Result<(), SittingFault> {
    let past = &SEASON[0];
    let id = begin(bench, f, past)?;
    go_on(bench, past, &id)?;
    let by = By { who: past.who.into(), at: past.began.parse().unwrap_or_default() };
    f.rotors[past.rotor] = prepared(bench, &f.rotors[past.rotor], Before::SeatedAnew, &by)?;
    Ok(())
}

/// Begin one sitting on the rotor as it comes to the stand.
fn begin(bench: &Bench, f: &mut Fernhill, past: &Past) -> Result<Id, SittingFault> {
    let began: Timestamp = past.began.parse().unwrap_or_default();
    f.rotors[past.rotor] = prepared(bench, &f.rotors[past.rotor], past.before, &By { who: past.who.into(), at: began })?;
    start(bench, f, past, began)
}

/// The rotor as it comes to the stand; a new revision where something changed.
fn prepared(bench: &Bench, rotor: &Stored<Rotor>, before: Before, by: &By) -> Result<Stored<Rotor>, SittingFault> {
    let mut body = rotor.body.clone();
    match before {
        Before::AsItIs => return Ok(rotor.clone()),
        Before::BadlySeated(g_mm) => body.expected_unbalance_g_mm = Some(g_mm),
        Before::SeatedAnew => body.expected_unbalance_g_mm = None,
        Before::Dressed(diameter_mm) => {
            // Ring off the rim, by the ratio of annular bodies: m ~ D² − d², I ~ D⁴ − d⁴; the adapter's share stays (a third
            // of the mass, a tenth of the inertia; rounded).
            let Wheel { diameter_mm: old, bore_mm: bore, .. } = body.wheel;
            let ratio = |power: i32| (diameter_mm.powi(power) - bore.powi(power)) / (old.powi(power) - bore.powi(power));
            body.mass_kg *= 1.0 / 3.0 + 2.0 / 3.0 * ratio(2);
            body.inertia_kg_m2 *= 0.1 + 0.9 * ratio(4);
            body.wheel.diameter_mm = diameter_mm;
        }
    }
    Ok(bench.store().revise(&rotor.id, rotor.revision, &body, by)?)
}

fn start(bench: &Bench, f: &Fernhill, past: &Past, began: Timestamp) -> Result<Id, SittingFault> {
    // Each rotor has its own ring; the large one is for the second machine.
    let (rotor, ring) = (&f.rotors[past.rotor], &f.rings[past.rotor]);
    let machine = &f.machines[usize::from(past.rotor == 1)];
    let reasons = Reasons { grade_mm_s: Some(past.grade_mm_s), ..Reasons::default() };
    let allowance = weigh_allowance(&reasons, &rotor.body, &machine.body, &ring.body)?.allowance;
    let start = SittingStart {
        rotor: rotor.snapshot(),
        stand: f.stands[past.stand].snapshot(),
        machine: machine.snapshot(),
        ring: ring.snapshot(),
        allowance,
        reader: serde_json::to_value(Reader::default()).unwrap_or_default(),
        weights_at_start_deg: match &ring.body.kind {
            RingKind::Groove(g) => (0..g.weights.len()).map(|i| 360.0 * i as f64 / g.weights.len() as f64).collect(),
            RingKind::TappedHoles(_) => Vec::new(),
        },
        screws_at_start: Vec::new(),
        operator: past.who.into(),
        started_at: began,
    };
    Ok(bench.store().new_sitting(&start)?.id)
}

/// Play one sitting to its end, doing what the program says.
fn go_on(bench: &Bench, past: &Past, id: &Id) -> Result<(), SittingFault> {
    let mut at: Timestamp = past.began.parse().unwrap_or_default();
    for turn in 0.. {
        at += SignedDuration::from_mins(2);
        let sat = bench.sat(id)?;
        let act = Act { token: format!("play-{turn}"), after_seq: sat.standing.latest_seq, by: By { who: past.who.into(), at } };
        if let Some(look) = past.first.get(turn) {
            bench.virtual_look(id, &act, (*look).into())?;
            continue;
        }
        let step = sat.step?;
        match step.action {
            Action::MoveThenLook if sat.looks.len() < past.most_looks => bench.as_proposed(id, &act)?,
            Action::Look if sat.looks.len() < past.most_looks => {
                bench.virtual_look(id, &act, VirtualLook::from(step.look.unwrap_or(LookKind::Settle)).into())?
            }
            action => {
                bench.verdict(id, &act, action == Action::Accept, past.note)?;
                break;
            }
        };
    }
    Ok(())
}
