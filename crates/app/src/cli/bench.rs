//! `estimate`, `place`, `next`, `fit-log`, `bench`: an input file to the door.

use super::input::read_input;
use clap::Args;
use serde_json::{Value, json};
use std::path::PathBuf;

/// An input file.
#[derive(Args)]
pub(super) struct FileArgs {
    /// Input, JSON or TOML; - or nothing: standard input. `stillwheel compute NAME --example` prints one.
    file: Option<PathBuf>,
}

impl FileArgs {
    pub(super) fn input(&self) -> anyhow::Result<Value> {
        read_input(self.file.as_deref())
    }
}

/// Flags of `fit-log`.
#[derive(Args)]
pub(super) struct FitLogArgs {
    /// Input, JSON or TOML; - or nothing: standard input.
    file: Option<PathBuf>,
}

impl FitLogArgs {
    pub(super) fn input(&self) -> anyhow::Result<Value> {
        read_input(self.file.as_deref())
    }
}

/// Flags of `bench`.
#[derive(Args)]
pub(super) struct BenchArgs {
    /// Input, JSON or TOML; - for standard input; nothing: the example.
    file: Option<PathBuf>,
    /// Seed, in place of the input's own.
    #[arg(long)]
    seed: Option<u64>,
}

impl BenchArgs {
    pub(super) fn input(&self) -> anyhow::Result<Value> {
        let mut input = match &self.file {
            Some(file) => read_input(Some(file))?,
            None => (stillwheel_door::find("virtual-bench")?.example)(),
        };
        if let (Some(seed), Some(fields)) = (self.seed, input.as_object_mut()) {
            fields.insert("seed".into(), json!(seed));
        }
        Ok(input)
    }
}
