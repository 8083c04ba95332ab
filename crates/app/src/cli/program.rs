//! `serve`, `demo`, `export`, `import`, `template`: their arguments, and the functions that carry them out.

use crate::web;
use anyhow::{Context, bail};
use clap::{Args, ValueEnum};
use std::fs::File;
use std::io::Write;
use std::net::IpAddr;
use std::path::PathBuf;
use std::time::Duration;
use stillwheel_door::Fault;
use stillwheel_door::place_weights::{GrooveIn, PlaceWeightsIn, PlaceWeightsOut, place_weights};
use stillwheel_drawing::{Page, RingTemplate, Scale, TemplateWeight, ring_template, to_pdf};
use stillwheel_physics::quantity::{Angle, RotorAngle};
use stillwheel_store::{Export, Store};

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
    /// With --lan: address to listen on, in place of all addresses.
    #[arg(long, value_name = "ADDRESS", requires = "lan")]
    pub bind: Option<IpAddr>,
    /// With --lan: encrypt what goes over the network, with a certificate that this program signs itself.
    #[arg(long, requires = "lan")]
    pub tls: bool,
    /// Hours between automatic backups (0.1 to 168), of which the first is made at the start.
    #[arg(long, value_name = "HOURS", default_value_t = 6.0)]
    pub backup_every: f64,
    /// Folder of the backups, best on another disc; without it: beside the records.
    #[arg(long, value_name = "FOLDER")]
    pub backups: Option<PathBuf>,
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
    // NaN is in no range.
    if !(0.1..=168.0).contains(&args.backup_every) {
        let why = "Six hours lose at most half a day's looks with the disc.";
        return Err(Fault::new("backup-every", args.backup_every, "0.1 to 168 hours", why).into());
    }
    let backup_every = Duration::from_secs_f64(3600.0 * args.backup_every);
    let backups = args.backups.clone();
    web::serve(&web::ServeOptions {
        records,
        port: args.port,
        lan: args.lan,
        bind: args.bind,
        tls: args.tls,
        demo: false,
        backup_every,
        backups,
    })
}

pub(super) fn demo(args: &DemoArgs) -> anyhow::Result<()> {
    crate::demo::demo(args.port)
}

/// The file named, or the usual one in this person's data folder.
pub(super) fn records_file(named: Option<&PathBuf>) -> anyhow::Result<PathBuf> {
    if let Some(file) = named {
        return Ok(file.clone());
    }
    Ok(crate::os::data_folder()?.join("stillwheel").join("records.db"))
}

pub(super) fn export(args: &ExportArgs) -> anyhow::Result<()> {
    let path = records_file(args.db.as_ref())?;
    anyhow::ensure!(path.exists(), "{} is not there: nothing to export", path.display());
    let text = Store::open(&path)?.export()?.to_json();
    match args.file.as_ref().filter(|f| f.as_os_str() != "-") {
        None => Ok(std::io::stdout().lock().write_all(text.as_bytes())?),
        // Never over a file that is there: an export may be the only copy of something.
        Some(file) => File::create_new(file)
            .and_then(|mut f| f.write_all(text.as_bytes()).and_then(|()| f.sync_all()))
            .with_context(|| format!("{} could not be written (a file that is there is not overwritten)", file.display())),
    }
}

pub(super) fn import(args: &ImportArgs) -> anyhow::Result<()> {
    let text = if args.file.as_os_str() == "-" {
        std::io::read_to_string(std::io::stdin().lock())?
    } else {
        std::fs::read_to_string(&args.file).with_context(|| format!("{} cannot be read", args.file.display()))?
    };
    let export = Export::from_json(&text)?;
    let done = Store::open(&records_file(args.db.as_ref())?)?.import(&export)?;
    super::emit(&format!(
        "Imported: {} revisions, {} sittings, {} events; already here: {}.\n",
        done.revisions, done.sittings, done.events, done.already_here
    ))
}

pub(super) fn template(args: &TemplateArgs) -> anyhow::Result<()> {
    let place: GrooveIn = match serde_json::from_value(super::input::read_input(Some(&args.file))?) {
        Ok(PlaceWeightsIn::Groove(groove)) => groove,
        Ok(_) => bail!("a template is made for weights in a groove: the input's kind must be \"groove\""),
        Err(e) => bail!("{} is no input of `place`: {e}; see `stillwheel compute place-weights --example`", args.file.display()),
    };
    let radius_mm = place.ring_radius_mm.context("ring_radius_mm is missing: the template is drawn at true scale")?;
    let PlaceWeightsOut::Groove(out) = place_weights(&PlaceWeightsIn::Groove(place.clone()))? else {
        bail!("the groove gave no placement")
    };
    let now = place.present_deg.as_deref();
    let weights = place
        .groove
        .weights
        .iter()
        .enumerate()
        .map(|(i, w)| TemplateWeight {
            now: now.map(|n| RotorAngle::from_deg(n[i])),
            target: Some(RotorAngle::from_deg(out.weights[i].at_deg)),
            arc: Angle::from_deg(w.arc_deg),
        })
        .collect();
    let picture = RingTemplate {
        rotor_name: args.file.file_stem().map(|s| s.to_string_lossy().into_owned()).unwrap_or_default(),
        date: jiff::ZonedDateTime::now().date().to_string(),
        radius_mm,
        inner_edge_mm: None,
        outer_edge_mm: None,
        scale: Scale::CounterClockwise,
        graduation_deg: place.groove.graduation_deg,
        weights,
    };
    let page = match args.page {
        PageSize::A4 => Page::A4,
        PageSize::Letter => Page::Letter,
    };
    let svg = ring_template(&picture, page)?;
    let bytes = match args.out.extension().and_then(|e| e.to_str()) {
        Some("svg") => svg.into_bytes(),
        Some("pdf") => to_pdf(&svg, page)?,
        _ => bail!("{} must end in .pdf or .svg", args.out.display()),
    };
    std::fs::write(&args.out, bytes).with_context(|| format!("{} could not be written", args.out.display()))?;
    super::emit(&format!("{}: print at 100 %, then measure the 50 mm bar.\n", args.out.display()))
}
