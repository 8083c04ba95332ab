//! `compute`: every calculation of the door, for scripts.

use super::input::read_input;
use super::{emit, emit_json};
use clap::Args;
use serde_json::{Value, json};
use std::path::PathBuf;
use stillwheel_door::{calculations, find};

/// `compute --list | NAME --schema | NAME --example | NAME [FILE|-]`.
#[derive(Args)]
pub(super) struct ComputeArgs {
    /// List all calculations.
    #[arg(long, conflicts_with_all = ["name", "schema", "example"])]
    list: bool,
    /// Name of the calculation.
    #[arg(required_unless_present = "list")]
    name: Option<String>,
    /// Print the JSON Schemas of its input and output.
    #[arg(long, conflicts_with_all = ["example", "file"])]
    schema: bool,
    /// Print a valid input to start from.
    #[arg(long, conflicts_with = "file")]
    example: bool,
    /// Input, JSON or TOML (by its extension, else by its first sign); - or nothing: standard input.
    file: Option<PathBuf>,
}

pub(super) fn compute(args: &ComputeArgs) -> anyhow::Result<()> {
    let Some(name) = &args.name else {
        let width = calculations().iter().map(|c| c.name.len()).max().unwrap_or(0);
        let lines: Vec<String> = calculations().iter().map(|c| format!("{:width$}  {}", c.name, c.about)).collect();
        return emit(&(lines.join("\n") + "\n"));
    };
    let calculation = find(name)?;
    if args.schema {
        return emit_json(&json!({"input": (calculation.input_schema)(), "output": (calculation.output_schema)()}));
    }
    if args.example {
        return emit_json(&(calculation.example)());
    }
    let input: Value = read_input(args.file.as_deref())?;
    emit_json(&calculation.run(input)?)
}
