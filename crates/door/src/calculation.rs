//! The list of calculations, each with its name, what it answers, its schemas, an example, and its function from JSON
//! to JSON.

use crate::explain::explain;
use crate::finite::check_finite;
use crate::read::path_of;
use crate::{Fault, FaultValue};
use schemars::{Schema, schema_for};
use serde::{Serialize, de::DeserializeOwned};
use serde_json::Value;
use std::sync::OnceLock;

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
    /// A valid input from the demo's shop, to start from.
    pub example: fn() -> Value,
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

/// Make one entry of the list from a typed function and a typed example.
macro_rules! entry {
    ($name:literal, $about:literal, $input:ty => $output:ty, $function:path, $example:path) => {
        Calculation {
            name: $name,
            about: $about,
            input_schema: || schema_for!($input),
            output_schema: || schema_for!($output),
            example: || written_example::<$input>($example),
            run: |v| {
                static SCHEMA: OnceLock<Value> = OnceLock::new();
                typed::<$input, $output>(v, SCHEMA.get_or_init(|| schema_for!($input).to_value()), $function)
            },
        }
    };
}

fn typed<I: DeserializeOwned, O: Serialize>(input: Value, schema: &Value, f: fn(&I) -> Result<O, Fault>) -> Result<Value, Fault> {
    let input: I = read(input, schema)?;
    let out = f(&input).map_err(as_given)?;
    let unwritten = |field: String, why: String| {
        Fault::new(
            field,
            "a result that is not finite",
            "finite results",
            format!("{why}: the inputs lie beyond what this calculation can answer"),
        )
    };
    check_finite(&out).map_err(|e| unwritten(e.0, "the result holds a number that is not finite".into()))?;
    serde_json::to_value(out).map_err(|e| unwritten("result".into(), format!("the result could not be written ({e})")))
}

/// A refused number as it was given: on its way through SI it may have caught a last bit (`25.400000000000002`).
fn as_given(mut fault: Fault) -> Fault {
    if let FaultValue::Number(v) = &mut fault.value {
        // Fifteen significant digits are what every f64 keeps through text.
        *v = format!("{v:.14e}").parse().unwrap_or(*v);
    }
    fault
}

/// Read a typed input. The schema is asked first: it keeps the place and has the words.
pub(crate) fn read<I: DeserializeOwned>(input: Value, schema: &Value) -> Result<I, Fault> {
    if let Some(fault) = explain(schema, &input) {
        return Err(fault);
    }
    // What the schema lets through and serde does not, such as a number too large for its type.
    serde_path_to_error::deserialize(input).map_err(|e| {
        let field = path_of(e.path());
        Fault::new(field, "this value", "see `compute NAME --schema`", e.into_inner().to_string())
    })
}

/// An example as JSON; optional fields that it leaves open are left out.
fn written_example<I: Serialize>(example: fn() -> I) -> Value {
    fn without_nulls(value: Value) -> Value {
        match value {
            Value::Object(fields) => {
                Value::Object(fields.into_iter().filter(|(_, v)| !v.is_null()).map(|(k, v)| (k, without_nulls(v))).collect())
            }
            Value::Array(items) => Value::Array(items.into_iter().map(without_nulls).collect()),
            other => other,
        }
    }
    without_nulls(serde_json::to_value(example()).unwrap_or_default())
}

/// All calculations, in the order of the job.
///
/// A new one is one entry: name, sentence, input and output type, function, example. The tests in `tests/door.rs` run
/// over all of them.
pub fn calculations() -> &'static [Calculation] {
    const LIST: &[Calculation] = &[
        entry!("rotor", "Mass and inertia of a rotor from its bodies and from swings.", crate::rotor::RotorIn => crate::rotor::RotorOut, crate::rotor::rotor, crate::rotor::example),
        entry!("allowance", "Permissible residual unbalance, the reason that governs, and what it is in other words.", crate::allowance::AllowanceIn => crate::allowance::AllowanceOut, crate::allowance::allowance, crate::allowance::example),
        entry!("look-swing", "Unbalance from the time of a free swing, or the time from the unbalance.", crate::look_swing::LookSwingIn => crate::look_swing::LookSwingOut, crate::look_swing::look_swing, crate::look_swing::example),
        entry!("estimate", "Unbalance with its region from any mix of looks.", crate::estimate::EstimateIn => crate::estimate::EstimateOut, crate::estimate::estimate, crate::examples::estimate),
        entry!("next-step", "What to do after a look: accept, move so, or look again so.", crate::next_step::NextStepIn => crate::next_step::NextStepOut, crate::next_step::next_step, crate::examples::next_step),
        entry!("place-weights", "Where the correction weights go: groove, tapped holes, drilling.", crate::place_weights::PlaceWeightsIn => crate::place_weights::PlaceWeightsOut, crate::place_weights::place_weights, crate::examples::place_weights),
        entry!("fit-log", "Unbalance, heavy side, drift and losses from a swing log: angle against time.", crate::fit_log::FitLogIn => crate::fit_log::FitLogOut, crate::fit_log::fit_log, crate::examples::fit_log),
        entry!("virtual-bench", "What a person would see of a hidden rotor on a simulated stand.", crate::virtual_bench::VirtualBenchIn => crate::virtual_bench::VirtualBenchOut, crate::virtual_bench::virtual_bench, crate::examples::virtual_bench),
        entry!("film", "Pressure, force, flow and drift torque of an air film with the arbor at a given place.", crate::film::FilmIn => crate::film::FilmOut, crate::film::film, crate::film::example),
        entry!("saddle", "Where the arbor floats on an air saddle, how stiffly, on how much air, and with what drift.", crate::saddle::SaddleIn => crate::saddle::SaddleOut, crate::saddle::saddle, crate::saddle::example),
        entry!("pair", "The arbor on two equal saddles: who carries what, and what bores out of line do.", crate::pair::PairIn => crate::pair::PairOut, crate::pair::pair, crate::pair::example),
        entry!("end-for-end", "Drift told from unbalance by laying the rotor in end for end.", crate::end_for_end::EndForEndIn => crate::end_for_end::EndForEndOut, crate::end_for_end::end_for_end, crate::end_for_end::example),
        entry!("floor", "Smallest unbalance that a stand can show, cause by cause, against the allowance of a rotor.", crate::floor::FloorIn => crate::floor::FloorOut, crate::floor::floor, crate::floor::example),
        entry!("level", "Turns of each levelling screw from readings, what slope is good enough, and whether it stands safely.", crate::level::LevelIn => crate::level::LevelOut, crate::level::level, crate::level::example),
        entry!("arbor", "How the arbor bends on its saddles, what that takes off the film, and what its run-out adds to the unbalance.", crate::arbor::ArborIn => crate::arbor::ArborOut, crate::arbor::arbor, crate::arbor::example),
        entry!("qualify", "Drift, dry friction and floor of a real stand, measured by tests on it.", crate::qualify::QualifyIn => crate::qualify::QualifyOut, crate::qualify::qualify, crate::qualify::example),
        entry!("stand", "What a stand as described would do with a rotor: float, air, feet, and the floor by cause.", crate::stand::StandIn => crate::stand::StandOut, crate::stand::stand, crate::stand::example),
        entry!("search-saddle", "Saddles for a rotor, an air supply and a floor: the trade-off, and a design that survives its tolerances.", crate::search_saddle::SearchSaddleIn => crate::search_saddle::SearchSaddleOut, crate::search_saddle::search_saddle, crate::search_saddle::example),
        entry!("fit", "ISO 286 limits and clearances, warm or cold, or the classes that give a clearance.", crate::fit::FitIn => crate::fit::FitOut, crate::fit::fit, crate::fit::example),
        entry!("gland", "An O-ring groove of a saddle: squeeze, stretch, fill and friction at the worst of all tolerances.", crate::gland::GlandIn => crate::gland::GlandOut, crate::gland::gland, crate::gland::example),
        entry!("thread", "Tap drill, depth and strength of a thread, or whether a wall is deep enough for a port.", crate::thread::ThreadIn => crate::thread::ThreadOut, crate::thread::thread, crate::thread::example),
        entry!("parts", "Every part of a stand with dimensions, limits, material and mass, and the list of parts.", crate::parts::PartsIn => crate::parts::PartsOut, crate::parts::parts, crate::parts::example),
        entry!("mounting", "Whether a wheel may be mounted on a machine: marked speed and a checklist, each point with its public rule.", crate::mounting::MountingIn => crate::mounting::MountingOut, crate::mounting::mounting, crate::mounting::example),
        entry!("machine", "All that turns on a machine by its sheet, and the spacing of the marks that it would make.", crate::machine::MachineIn => crate::machine::MachineOut, crate::machine::machine, crate::machine::example),
        entry!("head-response", "Stiffness, natural frequency and damping of a wheel head, from pulls with an indicator and taps.", crate::head_response::HeadResponseIn => crate::head_response::HeadResponseOut, crate::head_response::head_response, crate::head_response::example),
        entry!("once-per-turn", "The once-per-turn part of a recording of vibration, with its uncertainty.", crate::once_per_turn::OncePerTurnIn => crate::once_per_turn::OncePerTurnOut, crate::once_per_turn::once_per_turn, crate::once_per_turn::example),
        entry!("trim", "Unbalance that is left on the spindle, from readings of vibration in several runs, and where the weights go.", crate::trim::TrimIn => crate::trim::TrimOut, crate::trim::trim, crate::trim::example),
        entry!("retention", "Force of the air on each part, what holds it, and the walls of the pillar.", crate::retention::RetentionIn => crate::retention::RetentionOut, crate::retention::retention, crate::retention::example),
        entry!("plate", "Sag and lean of the base plate on its feet, dents under them, frequencies, and where the feet belong.", crate::plate::PlateIn => crate::plate::PlateOut, crate::plate::plate, crate::plate::example),
        entry!("ground-face", "The face that a residual leaves on the work, and the residual that a face allows.", crate::ground_face::GroundFaceIn => crate::ground_face::GroundFaceOut, crate::ground_face::ground_face, crate::ground_face::example),
        entry!("marks", "Which part made the marks on a face, and the next test that would tell.", crate::marks::MarksIn => crate::marks::MarksOut, crate::marks::marks, crate::marks::example),
        entry!("index-split", "What part of an unbalance sits in the wheel and what in adapter and arbor, from the wheel turned on its adapter.", crate::history::IndexSplitIn => crate::history::IndexSplitOut, crate::history::index_split, crate::history::example_split),
        entry!("expected-balance", "What the next sitting of a rotor will find, from the changes between past ones.", crate::history::ExpectedBalanceIn => crate::history::ExpectedBalanceOut, crate::history::expected_balance, crate::history::example_expected),
        entry!("as-made", "Finished parts as measured: which conform, what they do to the stand, what to rework and how to pair them.", crate::as_made::AsMadeIn => crate::as_made::AsMadeOut, crate::as_made::as_made, crate::as_made::example),
        entry!("spread", "How many stands made to these tolerances reach a floor, and which tolerance to tighten or loosen.", crate::spread::SpreadIn => crate::spread::SpreadOut, crate::spread::spread, crate::spread::example),
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
