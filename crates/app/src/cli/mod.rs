//! The command line: a thin face of the door.
//!
//! In: arguments, files, standard input. Out: tables with units, or JSON. Exit code 0; 2 for a fault or a wrong
//! argument (the person can put it right), 1 for anything else (a file that can't be read, a port that is taken).

mod backup;
mod bench;
mod compute;
mod devices;
mod grinder;
mod grinder_face;
mod input;
mod making;
mod parts;
mod program;
mod quantity;
mod rotor;
mod search;
mod stand;
mod table;

pub use program::{DemoArgs, ExportArgs, ImportArgs, PageSize, ServeArgs, TemplateArgs};

use clap::{CommandFactory, Parser, Subcommand};
use serde_json::{Value, json};
use std::io::{ErrorKind, Write};
use std::process::ExitCode;
use stillwheel_door::Fault;

/// Balance grinding wheels on a shop-made stand: looks in, unbalance and weight moves out.
#[derive(Parser)]
#[command(name = "stillwheel", version, max_term_width = 100)]
struct Cli {
    /// Print JSON instead of tables; faults too.
    #[arg(long, global = true)]
    json: bool,
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Serve the pages on this machine, or on the shop's network.
    Serve(ServeArgs),
    /// Open the demo shop in a throwaway copy.
    Demo(DemoArgs),
    /// Mass and inertia of a rotor from its bodies, or from two swings.
    Rotor(rotor::RotorArgs),
    /// How much unbalance a rotor may keep, and what that is in grams, degrees and newtons.
    Allowance(rotor::AllowanceArgs),
    /// Unbalance from the time of a swing, or the time from the unbalance.
    Swing(rotor::SwingArgs),
    /// Unbalance with its region from the looks in a file.
    Estimate(bench::FileArgs),
    /// Where the weights go, for the job in a file.
    Place(bench::FileArgs),
    /// What to do next in the sitting in a file: accept, move so, or look again so.
    Next(bench::FileArgs),
    /// Fit a swing log: angle against time, as CSV or as an input file.
    FitLog(bench::FitLogArgs),
    /// Play the virtual bench described in a file, or its example.
    Bench(bench::BenchArgs),
    /// The smallest unbalance that a stand can show, cause by cause, for the stand and rotor in a file.
    Floor(bench::FileArgs),
    /// Turns of each levelling screw from bubble or height readings.
    Level(Box<stand::LevelArgs>),
    /// How the arbor in a file bends on its saddles, and what that does.
    Arbor(bench::FileArgs),
    /// Drift, dry friction and floor of a real stand, from the tests in a file.
    Qualify(bench::FileArgs),
    /// Search saddles for the rotor, air and floor in a file; shows what stiffness and floor cost in air. Ctrl-C stops it.
    SearchSaddle(bench::FileArgs),
    /// ISO 286 limits and clearance of a fit, or the classes that give a clearance.
    Fit(making::FitArgs),
    /// Tap drill and strength of a thread, or whether a wall is deep enough for a port.
    Thread(making::ThreadArgs),
    /// An O-ring groove of a saddle at the worst of all tolerances.
    Gland(making::GlandArgs),
    /// Force of the air on the saddle in a file, what holds it, and the walls of its pillar.
    Retention(bench::FileArgs),
    /// Sag and lean of the base plate in a file, its feet, and how it shakes.
    Plate(bench::FileArgs),
    /// The face that a residual leaves on the work, and the residual that a face allows.
    GroundFace(Box<grinder_face::GroundFaceArgs>),
    /// Which part made the marks on a face, from their spacing or a photo.
    Marks(Box<grinder_face::MarksArgs>),
    /// Finished parts as measured, in a file: which conform, what they do, what to rework, how to pair them.
    AsMade(bench::FileArgs),
    /// How many stands made to the tolerances in a file reach a floor, and what to tighten or loosen. Ctrl-C stops it.
    Spread(bench::FileArgs),
    /// Every part of the stand in a sheet, with material, stock and mass.
    Parts(parts::PartsArgs),
    /// Draw every part of the stand in a sheet, and the stand put together: PDF at true scale, DXF, SVG.
    Drawings(parts::DrawingsArgs),
    /// All that the shop needs to make the stand in a sheet, as one zip: PDF, DXF, CSV, TOML.
    Pack(parts::PackArgs),
    /// Unbalance that is left on the spindle, from the runs in a file, and where the weights go.
    Trim(bench::FileArgs),
    /// The once-per-turn part of a recording, WAV or table.
    OncePerTurn(grinder::OncePerTurnArgs),
    /// Stiffness, natural frequency and damping of a wheel head, from pulls and recordings of taps.
    Head(grinder::HeadArgs),
    /// What turns on a machine by its sheet, and how far apart its marks would stand.
    Machine(grinder::MachineArgs),
    /// The points before a wheel runs, answered in a file.
    Mounting(bench::FileArgs),
    /// Any calculation at the one door, JSON or TOML in, JSON out.
    Compute(compute::ComputeArgs),
    /// Draw the weight ring at true scale, as PDF or SVG.
    Template(TemplateArgs),
    /// Write all records to one file.
    Export(ExportArgs),
    /// Read all records from such a file.
    Import(ImportArgs),
    /// Copy all records to a backup, or list the backups.
    Backup(backup::BackupArgs),
    /// Put a backup in the place of the records; what is there now is set aside first.
    Restore(backup::RestoreArgs),
    /// List the devices that were let in from the shop's network, or shut one out.
    Devices(devices::DevicesArgs),
    /// Print completions for a shell.
    Completions {
        /// Which shell.
        shell: clap_complete::Shell,
    },
}

/// Run the program on the process's arguments.
pub fn main() -> ExitCode {
    let cli = Cli::parse();
    let as_json = cli.json || matches!(cli.command, Command::Compute(_));
    match run(cli) {
        Ok(()) => ExitCode::SUCCESS,
        Err(e) if is_broken_pipe(&e) => ExitCode::SUCCESS,
        Err(e) => {
            // Standard error may be closed too; then there is nobody left to tell.
            let _ = writeln!(std::io::stderr(), "{}", told(&e, as_json));
            ExitCode::from(if e.is::<Fault>() { 2 } else { 1 })
        }
    }
}

fn run(cli: Cli) -> anyhow::Result<()> {
    let json = cli.json;
    match cli.command {
        Command::Serve(args) => program::serve(&args),
        Command::Demo(args) => program::demo(&args),
        Command::Rotor(args) => answer("rotor", args.input()?, json),
        Command::Allowance(args) => answer("allowance", args.input()?, json),
        Command::Swing(args) => answer("look-swing", args.input()?, json),
        Command::Estimate(args) => answer("estimate", args.input()?, json),
        Command::Place(args) => answer("place-weights", args.input()?, json),
        Command::Next(args) => answer("next-step", args.input()?, json),
        Command::FitLog(args) => answer("fit-log", args.input()?, json),
        Command::Bench(args) => answer("virtual-bench", args.input()?, json),
        Command::Floor(args) => answer("floor", args.input()?, json),
        Command::Level(args) => answer("level", args.input()?, json),
        Command::Arbor(args) => answer("arbor", args.input()?, json),
        Command::Qualify(args) => answer("qualify", args.input()?, json),
        Command::SearchSaddle(args) => search::search(args.input()?, json),
        Command::Fit(args) => answer("fit", args.input(), json),
        Command::Thread(args) => answer("thread", args.input(), json),
        Command::Gland(args) => answer("gland", args.input()?, json),
        Command::Retention(args) => answer("retention", args.input()?, json),
        Command::Plate(args) => answer("plate", args.input()?, json),
        Command::GroundFace(args) => grinder_face::run_ground_face(&args, json),
        Command::Marks(args) => grinder_face::run_marks(&args, json),
        Command::AsMade(args) => answer("as-made", args.input()?, json),
        Command::Spread(args) => making::spread(args.input()?, json),
        Command::Parts(args) => parts::parts(&args, json),
        Command::Drawings(args) => parts::drawings(&args),
        Command::Pack(args) => parts::pack(&args),
        Command::Trim(args) => answer("trim", args.input()?, json),
        Command::OncePerTurn(args) => print(&args.answer()?, json),
        Command::Head(args) => print(&args.answer()?, json),
        Command::Machine(args) => answer("machine", args.input()?, json),
        Command::Mounting(args) => answer("mounting", args.input()?, json),
        Command::Compute(args) => compute::compute(&args),
        Command::Template(args) => program::template(&args),
        Command::Export(args) => program::export(&args),
        Command::Import(args) => program::import(&args),
        Command::Backup(args) => backup::backup(&args, json),
        Command::Devices(args) => devices::devices(&args, json),
        Command::Restore(args) => backup::restore(&args, json),
        Command::Completions { shell } => {
            // Into memory first: the generator panics when standard output is closed.
            let mut script = Vec::new();
            clap_complete::generate(shell, &mut Cli::command(), "stillwheel", &mut script);
            emit(&String::from_utf8(script)?)
        }
    }
}

/// Run a calculation and print its answer for a person, or as JSON.
fn answer(name: &str, input: Value, json: bool) -> anyhow::Result<()> {
    print(&stillwheel_door::find(name)?.run(input)?, json)
}

/// Print an answer for a person, or as JSON.
fn print(out: &impl serde::Serialize, json: bool) -> anyhow::Result<()> {
    let out = serde_json::to_value(out)?;
    if json { emit_json(&out) } else { emit(&table::render(&out)) }
}

fn emit_json(value: &Value) -> anyhow::Result<()> {
    emit(&format!("{}\n", serde_json::to_string_pretty(value)?))
}

/// Write to standard output; an error, also a broken pipe, comes back instead of a panic.
fn emit(text: &str) -> anyhow::Result<()> {
    let mut out = std::io::stdout().lock();
    out.write_all(text.as_bytes())?;
    out.flush()?;
    Ok(())
}

fn is_broken_pipe(e: &anyhow::Error) -> bool {
    e.downcast_ref::<std::io::Error>().is_some_and(|e| e.kind() == ErrorKind::BrokenPipe)
}

fn told(e: &anyhow::Error, as_json: bool) -> String {
    match e.downcast_ref::<Fault>() {
        Some(fault) if as_json => json!({ "fault": fault }).to_string(),
        Some(fault) => format!("{} is {}\n  allowed: {}\n  why: {}", fault.field, fault.value, fault.allowed, fault.why),
        None if as_json => json!({ "error": format!("{e:#}") }).to_string(),
        None => format!("{e:#}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_arguments_are_well_formed() {
        Cli::command().debug_assert();
    }
}
