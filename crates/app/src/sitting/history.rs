//! A rotor over its sittings: what each found and left, who moved what, and what that says of the next.
//!
//! In: a rotor's id. Out: its sittings in order, read from the records as they were stored; nothing is estimated anew.

use super::bodies::{VerdictBody, read};
use super::{Bench, SittingFault};
use stillwheel_door::Fault;
use stillwheel_door::estimate::{EstimateOut, VectorOut};
use stillwheel_door::history::{
    ExpectedBalanceIn, ExpectedBalanceOut, FoundVector, IndexSplitIn, IndexSplitOut, expected_balance, index_split,
};
use stillwheel_store::{Event, EventKind, Id, Rotor, Sitting, Stored};

/// One sitting of the rotor.
#[derive(Clone, Debug)]
pub struct Chapter {
    /// Its start.
    pub sitting: Sitting,
    /// Its verdict, if one stands.
    pub verdict: Option<VerdictBody>,
    /// The moves that stand.
    pub moves: Vec<Event>,
    /// Whether a row of like changes begins here, and why: the first, another wheel, another ring.
    pub begins: Option<&'static str>,
}

impl Chapter {
    /// What it found and left; none where the unbalance was never estimated.
    pub fn estimate(&self) -> Option<&EstimateOut> {
        self.verdict.as_ref()?.step.estimate.as_ref()
    }
}

/// A rotor's life so far.
#[derive(Clone, Debug)]
pub struct RotorHistory {
    /// The rotor as it is now.
    pub rotor: Stored<Rotor>,
    /// Its sittings, first to latest.
    pub chapters: Vec<Chapter>,
}

impl RotorHistory {
    /// The sittings that found something, with their number in the list from 1.
    pub fn found(&self) -> impl Iterator<Item = (usize, &Chapter, &EstimateOut)> {
        self.chapters.iter().enumerate().filter_map(|(i, c)| Some((i + 1, c, c.estimate()?)))
    }

    /// What the next sitting will find, from the changes within the latest row of like ones; changes that lead to a sitting in
    /// `without` are left out.
    ///
    /// # Errors
    /// A [`Fault`] that says why it can't be told.
    pub fn expected(&self, without: &[Id]) -> Result<ExpectedBalanceOut, Fault> {
        let mut changes = Vec::new();
        let mut last: Option<(&Chapter, &EstimateOut)> = None;
        for (_, chapter, estimate) in self.found() {
            let before = if chapter.begins.is_some() { None } else { last };
            match before {
                Some((_, b)) if !without.contains(&chapter.sitting.id) => {
                    let (new, old) = (&estimate.unbalance, &b.unbalance);
                    changes.push([new.x_g_mm - old.x_g_mm, new.y_g_mm - old.y_g_mm]);
                }
                Some(_) => {}
                None => changes.clear(),
            }
            last = Some((chapter, estimate));
        }
        let Some((chapter, estimate)) = last else {
            return Err(Fault::new("sittings", 0, "at least 4 with a verdict", "no sitting has told this rotor's unbalance yet"));
        };
        let residual = &estimate.residual;
        let allowance_g_mm = chapter.sitting.start.allowance.g_mm;
        expected_balance(&ExpectedBalanceIn { changes_g_mm: changes, residual_g_mm: [residual.x_g_mm, residual.y_g_mm], allowance_g_mm })
    }

    /// The wheel's part told from that of adapter and arbor, by two sittings between which the wheel was turned on its adapter.
    ///
    /// # Errors
    /// A [`Fault`] for a sitting that is not in the list or told nothing, the same one twice, or a turn that tells nothing.
    pub fn split(&self, first: &Id, second: &Id, turned_deg: f64) -> Result<IndexSplitOut, Fault> {
        if first == second {
            return Err(Fault::new(
                "second",
                "the same sitting",
                "another sitting than the first",
                "choose the one after the wheel was turned",
            ));
        }
        let vector = |field: &str, id: &Id| {
            let estimate = self.chapters.iter().find(|c| c.sitting.id == *id).and_then(Chapter::estimate);
            let unknown = || Fault::new(field, "this sitting", "a sitting of this rotor with a verdict", "it has told no unbalance");
            estimate.map(|e| found_vector(&e.unbalance)).ok_or_else(unknown)
        };
        index_split(&IndexSplitIn { first: vector("first", first)?, second: vector("second", second)?, turned_deg })
    }
}

fn found_vector(v: &VectorOut) -> FoundVector {
    FoundVector { x_g_mm: v.x_g_mm, y_g_mm: v.y_g_mm, covariance_g2_mm2: v.covariance_g2_mm2 }
}

impl Bench {
    /// The rotor over its sittings.
    ///
    /// # Errors
    /// The store's faults; a [`Fault`] when a verdict can't be read.
    pub fn rotor_history(&self, id: &Id) -> Result<RotorHistory, SittingFault> {
        let rotor = self.store.get::<Rotor>(id)?;
        let mut chapters: Vec<Chapter> = Vec::new();
        // Latest first there; sittings that began at the same moment keep their order.
        for summary in self.store.sittings(Some(id))?.into_iter().rev() {
            let sitting = self.store.sitting(&summary.id)?;
            let standing = self.store.standing(&summary.id)?;
            let verdict = standing.verdict.as_ref().map(read::<VerdictBody>).transpose()?;
            let moves = standing.live.into_iter().filter(|e| e.kind == EventKind::Move).collect();
            let begins = chapters.last().map_or(Some("first sitting"), |before: &Chapter| began_anew(&before.sitting, &sitting));
            chapters.push(Chapter { sitting, verdict, moves, begins });
        }
        Ok(RotorHistory { rotor, chapters })
    }
}

/// Why what was found before says nothing of this sitting.
fn began_anew(before: &Sitting, now: &Sitting) -> Option<&'static str> {
    let (old, new) = (&before.start, &now.start);
    let (old_wheel, new_wheel) = (&old.rotor.body.wheel, &new.rotor.body.wheel);
    if new_wheel.maker_marking != old_wheel.maker_marking || new_wheel.bore_mm != old_wheel.bore_mm {
        return Some("another wheel");
    }
    // Wear and dressing only take off.
    if new_wheel.diameter_mm > old_wheel.diameter_mm + 0.5 {
        return Some("a larger wheel: a new one");
    }
    (new.ring.id != old.ring.id).then_some("another weight ring")
}
