//! What the events of a sitting hold. Stored as JSON, so names here are kept for ever.

use serde::{Deserialize, Serialize, de::DeserializeOwned};
use stillwheel_door::Fault;
use stillwheel_door::look::{Look, WeightAt};
use stillwheel_door::next_step::NextStepOut;
use stillwheel_store::Event;

/// Where a reading came from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Source {
    /// A person read it.
    Person,
    /// Fitted from a swing log.
    SwingLog,
    /// The virtual bench played it.
    VirtualBench,
}

/// A look.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LookBody {
    /// The look with the weights during it.
    pub look: Look,
    /// Where the reading came from.
    pub source: Source,
}

/// A move: weights slid in a groove, or screws changed in tapped holes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum MoveBody {
    /// In a groove.
    Slid {
        /// Where all weights are after it, rotor angles in degrees, in the ring's order.
        to_deg: Vec<f64>,
    },
    /// In tapped holes.
    Screws {
        /// Which screw is in each hole after it: its place in the ring's stock from 0, or none.
        screw_in_hole: Vec<Option<usize>>,
    },
}

/// A verdict, with all that it rests on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct VerdictBody {
    /// Whether the residual was proven to be within the allowance.
    pub proven: bool,
    /// Remark of the operator.
    pub note: String,
    /// The weights at the end.
    pub weights: Vec<WeightAt>,
    /// The calculation's last word.
    pub step: NextStepOut,
}

/// Read an event's body.
pub(super) fn read<B: DeserializeOwned>(event: &Event) -> Result<B, Fault> {
    serde_json::from_value(event.body.clone()).map_err(|e| {
        Fault::new(
            format!("event {}", event.seq),
            "this record",
            "a body that this version knows",
            format!("The record could not be read: {e}. A newer version may have written it."),
        )
    })
}
