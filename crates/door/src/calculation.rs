//! The list of calculations, each with its name, what it answers, its schemas, and its function from JSON to JSON.

use crate::Fault;
use schemars::{JsonSchema, Schema, schema_for};
use serde::{Serialize, de::DeserializeOwned};
use serde_json::Value;

/// One calculation at the door.
#[derive(Clone, Copy)]
pub struct Calculation {
    /// Its name: `compute NAME`.
    pub name: &'static str,
    /// What it answers, in one sentence.
    pub about: &'static str,
    /// JSON Schema of the input.
    pub input_schema: fn() -> Schema,
    /// JSON Schema of the output.
    pub output_schema: fn() -> Schema,
    run: fn(Value) -> Result<Value, Fault>,
}

impl Calculation {
    /// Run on JSON.
    ///
    /// # Errors
    /// A [`Fault`] for a field that is missing, unknown, of the wrong type, or out of range.
    pub fn run(&self, input: Value) -> Result<Value, Fault> {
        (self.run)(input)
    }
}

/// Make one entry of the list from a typed function.
macro_rules! entry {
    ($name:literal, $about:literal, $input:ty => $output:ty, $function:path) => {
        Calculation {
            name: $name,
            about: $about,
            input_schema: || schema_for!($input),
            output_schema: || schema_for!($output),
            run: |v| typed::<$input, $output>(v, $function),
        }
    };
}

fn typed<I: DeserializeOwned + JsonSchema, O: Serialize>(input: Value, f: fn(&I) -> Result<O, Fault>) -> Result<Value, Fault> {
    let input: I = read(input)?;
    let out = f(&input)?;
    serde_json::to_value(out).map_err(|e| Fault::new("", "a result", "finite numbers", format!("the result could not be written: {e}")))
}

/// Read a typed input; serde's message becomes a fault that names the field.
fn read<I: DeserializeOwned>(input: Value) -> Result<I, Fault> {
    serde_json::from_value(input).map_err(|e| Fault::new("input", "this JSON", "see `compute NAME --schema`", e.to_string()))
}

/// All calculations, in the order of the job.
pub fn calculations() -> &'static [Calculation] {
    const LIST: &[Calculation] = &[
        entry!("estimate", "Unbalance with its region from any mix of looks.", crate::estimate::EstimateIn => crate::estimate::EstimateOut, crate::estimate::estimate),
        entry!("place-weights", "Where the correction weights go: groove, tapped holes, drilling.", crate::place_weights::PlaceWeightsIn => crate::place_weights::PlaceWeightsOut, crate::place_weights::place_weights),
        entry!("next-step", "What to do after a look: accept, move so, or look again so.", crate::next_step::NextStepIn => crate::next_step::NextStepOut, crate::next_step::next_step),
        entry!("fit-log", "Unbalance, heavy side, drift and losses from a swing log: angle against time.", crate::fit_log::FitLogIn => crate::fit_log::FitLogOut, crate::fit_log::fit_log),
    ];
    LIST
}

/// The calculation of that name.
///
/// # Errors
/// A [`Fault`] that lists the names.
pub fn find(name: &str) -> Result<&'static Calculation, Fault> {
    calculations().iter().find(|c| c.name == name).ok_or_else(|| {
        let names: Vec<&str> = calculations().iter().map(|c| c.name).collect();
        Fault::new("name", name, names.join(", "), "there is no calculation of this name")
    })
}
