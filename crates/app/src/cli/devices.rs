//! `devices`: who was let in from the shop's network, and shutting one out.

use super::program::records_file;
use crate::cli::{emit, emit_json};
use anyhow::{bail, ensure};
use clap::Args;
use std::fmt::Write as _;
use std::path::PathBuf;
use stillwheel_store::{By, Device, Devices, Role};

/// Flags of `devices`.
#[derive(Args, Clone, Debug)]
pub(super) struct DevicesArgs {
    /// Database of the records.
    #[arg(long, value_name = "FILE", env = "STILLWHEEL_DB")]
    db: Option<PathBuf>,
    /// Shut out the device with this id or name, from its next request on.
    #[arg(long, value_name = "DEVICE")]
    revoke: Option<String>,
}

pub(super) fn devices(args: &DevicesArgs, as_json: bool) -> anyhow::Result<()> {
    let file = Devices::beside(&records_file(args.db.as_ref())?);
    ensure!(file.exists(), "no device was ever paired: {} is not there", file.display());
    let devices = Devices::open(&file)?;
    if let Some(asked) = &args.revoke {
        let device = one(devices.list()?, asked)?;
        devices.revoke(&device.id, &By::now("command line"))?;
    }
    let all = devices.list()?;
    if as_json { emit_json(&serde_json::to_value(&all)?) } else { emit(&table(&all)) }
}

fn one(all: Vec<Device>, asked: &str) -> anyhow::Result<Device> {
    let mut found: Vec<Device> = all.into_iter().filter(|d| d.id.as_str() == asked || d.name == asked && d.revoked.is_none()).collect();
    match (found.pop(), found.is_empty()) {
        (Some(device), true) => Ok(device),
        (None, _) => bail!("there is no device {asked:?}; without --revoke all are listed"),
        (Some(_), false) => bail!("several devices are called {asked:?}: name the one by its id"),
    }
}

fn table(all: &[Device]) -> String {
    let mut text = String::new();
    for Device { id, name, role, paired_at, revoked } in all {
        let role = match role {
            Role::Write => "writes",
            Role::Look => "only looks",
        };
        let state = revoked.as_ref().map_or_else(String::new, |(at, _)| format!(", shut out {at:.0}"));
        let _ = writeln!(text, "{id}  {name}: {role}, paired {paired_at:.0}{state}");
    }
    if text.is_empty() { "No device was paired yet.\n".into() } else { text }
}
