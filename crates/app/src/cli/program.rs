//! `serve`, `demo`, `export`, `import`, `template`: their arguments, and the functions that carry them out.

use crate::web;
use anyhow::{Context as _, bail};
use clap::{Args, ValueEnum};
use std::net::IpAddr;
use std::path::PathBuf;

/// Flags of `serve`.
#[derive(Args, Clone, Debug)]
pub struct ServeArgs {
    /// Database of the records; made if it is not there.
    #[arg(long, value_name = "FILE", env = "STILLWHEEL_DB")]
    pub db: Option<PathBuf>,
    /// Port to listen on; 0: any free one.
    #[arg(long, default_value_t = 8417)]
    pub port: u16,
    /// Open the pages to the shop's network, with pairing; without it only this machine is served.
    #[arg(long)]
    pub lan: bool,
    /// Address to listen on, in place of the loopback address or, with --lan, of all addresses.
    #[arg(long, value_name = "ADDRESS", requires = "lan")]
    pub bind: Option<IpAddr>,
}

/// Flags of `demo`.
#[derive(Args, Clone, Debug)]
pub struct DemoArgs {
    /// Port to listen on; 0: any free one.
    #[arg(long, default_value_t = 8418)]
    pub port: u16,
}

/// Flags of `export`.
#[derive(Args, Clone, Debug)]
pub struct ExportArgs {
    /// Database of the records.
    #[arg(long, value_name = "FILE", env = "STILLWHEEL_DB")]
    pub db: Option<PathBuf>,
    /// File to write; - or nothing: standard output.
    pub file: Option<PathBuf>,
}

/// Flags of `import`.
#[derive(Args, Clone, Debug)]
pub struct ImportArgs {
    /// Database of the records; made if it is not there.
    #[arg(long, value_name = "FILE", env = "STILLWHEEL_DB")]
    pub db: Option<PathBuf>,
    /// File that `export` wrote; - for standard input.
    pub file: PathBuf,
}

/// Paper of a template.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum PageSize {
    /// 210 × 297 mm.
    A4,
    /// 8.5 × 11 in.
    Letter,
}

/// Flags of `template`.
#[derive(Args, Clone, Debug)]
pub struct TemplateArgs {
    /// Input file of `place` or `next`, JSON or TOML: the ring, where the weights are and where they shall go.
    pub file: PathBuf,
    /// Paper.
    #[arg(long, value_enum, default_value = "a4")]
    pub page: PageSize,
    /// File to write, .pdf or .svg.
    #[arg(long, short, value_name = "FILE")]
    pub out: PathBuf,
}

pub(super) fn serve(args: &ServeArgs) -> anyhow::Result<()> {
    let records = records_file(args.db.as_ref())?;
    if let Some(folder) = records.parent() {
        std::fs::create_dir_all(folder).with_context(|| format!("{} could not be made", folder.display()))?;
    }
    web::serve(&web::ServeOptions { records, port: args.port, lan: args.lan, bind: args.bind, demo: false })
}

pub(super) fn demo(args: &DemoArgs) -> anyhow::Result<()> {
    crate::demo::demo(args.port)
}

/// The file named, or the usual one in this person's data folder.
fn records_file(named: Option<&PathBuf>) -> anyhow::Result<PathBuf> {
    if let Some(file) = named {
        return Ok(file.clone());
    }
    let folder = std::env::var_os("XDG_DATA_HOME")
        .map(PathBuf::from)
        .filter(|p| p.is_absolute())
        .or_else(|| std::env::var_os("HOME").map(|home| PathBuf::from(home).join(".local/share")))
        .or_else(|| std::env::var_os("LOCALAPPDATA").map(PathBuf::from))
        .context("there is no home folder: name the file of the records with --db")?;
    Ok(folder.join("stillwheel").join("records.db"))
}

pub(super) fn export(_args: &ExportArgs) -> anyhow::Result<()> {
    bail!("export is not in this build: the store is not joined to the command line yet")
}

pub(super) fn import(_args: &ImportArgs) -> anyhow::Result<()> {
    bail!("import is not in this build: the store is not joined to the command line yet")
}

pub(super) fn template(_args: &TemplateArgs) -> anyhow::Result<()> {
    bail!("template is not in this build: the drawings are not joined to the command line yet")
}
