//! `parts`, `drawings`, `pack`: what the shop makes, from a stand sheet.

use super::{emit, emit_json};
use crate::making::Made;
use anyhow::{Context, bail};
use clap::{Args, ValueEnum};
use comfy_table::{CellAlignment, Table, presets};
use std::path::{Path, PathBuf};
use stillwheel_door::Fault;
use stillwheel_drawing::{DrawOptions, Page, Projection, to_pdf};

/// Paper of a drawing.
#[derive(Clone, Copy, Debug, ValueEnum)]
enum Paper {
    /// 210 × 297 mm.
    A4,
    /// 8.5 × 11 in.
    Letter,
    /// 297 × 420 mm.
    A3,
}

/// Which side views stand on.
#[derive(Clone, Copy, Debug, ValueEnum)]
enum Angle {
    /// First angle.
    First,
    /// Third angle.
    Third,
}

/// How to draw.
#[derive(Args, Clone, Debug)]
struct Look {
    /// Paper.
    #[arg(long, value_enum, default_value = "a4")]
    page: Paper,
    /// Which side views stand on.
    #[arg(long, value_enum, default_value = "first")]
    projection: Angle,
    /// Date in the title block; without it: today.
    #[arg(long)]
    date: Option<String>,
    /// Issue in the title block.
    #[arg(long, default_value = "1")]
    issue: String,
}

impl Look {
    fn options(&self) -> DrawOptions {
        DrawOptions {
            page: match self.page {
                Paper::A4 => Page::A4,
                Paper::Letter => Page::Letter,
                Paper::A3 => Page::A3,
            },
            projection: match self.projection {
                Angle::First => Projection::FirstAngle,
                Angle::Third => Projection::ThirdAngle,
            },
            date: self.date.clone().unwrap_or_else(|| jiff::ZonedDateTime::now().date().to_string()),
            issue: self.issue.clone(),
        }
    }
}

/// Flags of `parts`.
#[derive(Args)]
#[command(after_help = "Example: stillwheel parts examples/stand-birch.toml")]
pub(super) struct PartsArgs {
    /// Stand sheet, TOML; - for standard input.
    sheet: PathBuf,
}

/// Flags of `drawings`.
#[derive(Args)]
#[command(after_help = "Example: stillwheel drawings examples/stand-birch.toml --out drawings --page a3")]
pub(super) struct DrawingsArgs {
    /// Stand sheet, TOML; - for standard input.
    sheet: PathBuf,
    /// Folder for the PDF, SVG and DXF files; made if it is not there.
    #[arg(long, short, value_name = "FOLDER")]
    out: PathBuf,
    #[command(flatten)]
    look: Look,
}

/// Flags of `pack`.
#[derive(Args)]
#[command(after_help = "Example: stillwheel pack examples/stand-birch.toml --out birch.zip")]
pub(super) struct PackArgs {
    /// Stand sheet, TOML; - for standard input.
    sheet: PathBuf,
    /// File to write, .zip.
    #[arg(long, short, value_name = "FILE")]
    out: PathBuf,
    #[command(flatten)]
    look: Look,
}

fn text(path: &Path) -> anyhow::Result<String> {
    let bytes = if path.as_os_str() == "-" {
        let mut bytes = Vec::new();
        std::io::Read::read_to_end(&mut std::io::Read::take(std::io::stdin(), 1 << 20), &mut bytes)?;
        bytes
    } else {
        super::input::read_file(path)?
    };
    Ok(String::from_utf8(bytes).map_err(|_| Fault::new("sheet", "bytes that are no text", "TOML in UTF-8", "this is no stand sheet"))?)
}

pub(super) fn parts(args: &PartsArgs, json: bool) -> anyhow::Result<()> {
    let made = Made::of(&text(&args.sheet)?)?;
    if json {
        return emit_json(&serde_json::to_value(&made.out)?);
    }
    let mut list = Table::new();
    list.load_style(presets::UTF8_BORDERS_ONLY);
    list.set_header(["no.", "pieces", "part", "material, or what to buy", "stock, mm", "mass of one, g"]);
    for p in &made.out.parts {
        let mass = p.mass_g.map_or(String::new(), |m| format!("{m:.1}"));
        list.add_row([
            p.item.to_string(),
            p.quantity.to_string(),
            p.name.clone(),
            p.material.clone(),
            p.stock.clone().unwrap_or_default(),
            mass,
        ]);
    }
    if let Some(column) = list.column_mut(5) {
        column.set_cell_alignment(CellAlignment::Right);
    }
    let cautions: Vec<String> = made.out.cautions.iter().map(|c| format!("Caution: {c}")).collect();
    emit(&format!("{}\n\n{list}\n\n{}\n", made.out.says, cautions.join("\n")))
}

pub(super) fn drawings(args: &DrawingsArgs) -> anyhow::Result<()> {
    let made = Made::of(&text(&args.sheet)?)?;
    let options = args.look.options();
    std::fs::create_dir_all(&args.out).with_context(|| format!("{} could not be made", args.out.display()))?;
    let all = made.drawings();
    for (key, name) in &all {
        let drawing = made.drawing(key, &options)?.with_context(|| format!("{key} has no drawing"))?;
        let svg = drawing.svg("")?;
        for (kind, bytes) in [("pdf", to_pdf(&svg, options.page)?), ("dxf", drawing.dxf()?.into_bytes()), ("svg", svg.into_bytes())] {
            let path = args.out.join(format!("{name}.{kind}"));
            std::fs::write(&path, bytes).with_context(|| format!("{} could not be written", path.display()))?;
        }
    }
    emit(&format!("{} drawings in {}: print at 100 %, then measure the 50 mm bar.\n", all.len(), args.out.display()))
}

pub(super) fn pack(args: &PackArgs) -> anyhow::Result<()> {
    if args.out.extension().and_then(|e| e.to_str()) != Some("zip") {
        bail!("{} must end in .zip", args.out.display());
    }
    let toml = text(&args.sheet)?;
    let bytes = Made::of(&toml)?.pack(&toml, &args.look.options())?;
    std::fs::write(&args.out, bytes).with_context(|| format!("{} could not be written", args.out.display()))?;
    emit(&format!("{}: drawings (PDF, DXF), tables (CSV) and the sheet.\n", args.out.display()))
}
