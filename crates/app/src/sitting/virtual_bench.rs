//! The one place where a sitting meets the virtual bench.

use super::Sat;
use stillwheel_door::Fault;
use stillwheel_door::look::Reading;
use stillwheel_door::next_step::LookKind;

/// Take a look at the hidden wheel of a virtual stand.
///
/// The same sitting, event number and kind always give the same reading, so an act sent twice stores one look.
///
/// # Errors
/// A [`Fault`] when the stand is a real one.
pub(super) fn look(sat: &Sat, after_seq: u32, kind: LookKind) -> Result<Reading, Fault> {
    let stand = &sat.sitting.start.stand.body;
    let Some(seed) = stand.virtual_seed else {
        return Err(Fault::new(
            "stand",
            stand.name.as_str(),
            "a virtual stand",
            "This stand is a real one: take the look there and type what you read.",
        ));
    };
    let _ = (seed, after_seq, kind);
    Err(Fault::new("stand", stand.name.as_str(), "a virtual bench", "The virtual bench is not connected yet."))
}
