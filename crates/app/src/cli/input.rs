//! Inputs from files and standard input.
//!
//! In: a path, or `-`. Out: the input as JSON, read by the door's own strict reader.

use anyhow::{Context, bail};
use serde_json::Value;
use std::io::{IsTerminal, Read};
use std::path::Path;
use stillwheel_door::{Fault, Format, read_bytes};

/// Largest input that is read, bytes. The longest swing log fits, written with all digits; a wrong file does not fill the memory.
const LARGEST_BYTES: u64 = 32 * 1024 * 1024;

/// Read an input; `None` and `-` mean standard input.
pub(super) fn read_input(path: Option<&Path>) -> anyhow::Result<Value> {
    let (bytes, format) = match path.filter(|p| p.as_os_str() != "-") {
        Some(path) => (read_file(path)?, format_of(path)),
        None => (read_stdin()?, None),
    };
    Ok(read_bytes(&bytes, format)?)
}

/// Bytes of a file, up to the largest size.
pub(super) fn read_file(path: &Path) -> anyhow::Result<Vec<u8>> {
    let file = std::fs::File::open(path).with_context(|| format!("{} cannot be opened", path.display()))?;
    limited(file).with_context(|| format!("{} cannot be read", path.display()))?.map_err(anyhow::Error::from)
}

/// Bytes of standard input, up to the largest size.
pub(super) fn read_stdin() -> anyhow::Result<Vec<u8>> {
    let stdin = std::io::stdin();
    if stdin.is_terminal() {
        bail!("give a file, or - and the input on standard input; `stillwheel compute NAME --example` prints one to start from");
    }
    limited(stdin.lock()).context("standard input cannot be read")?.map_err(anyhow::Error::from)
}

fn limited(from: impl Read) -> std::io::Result<Result<Vec<u8>, Fault>> {
    let mut bytes = Vec::new();
    from.take(LARGEST_BYTES + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > LARGEST_BYTES {
        return Ok(Err(Fault::new(
            "input",
            "a larger file",
            format!("at most {LARGEST_BYTES} bytes"),
            "this is no input of this program, or it wants thinning",
        )));
    }
    Ok(Ok(bytes))
}

/// By the file's name, where it tells.
fn format_of(path: &Path) -> Option<Format> {
    match path.extension()?.to_str()?.to_ascii_lowercase().as_str() {
        "json" => Some(Format::Json),
        "toml" => Some(Format::Toml),
        _ => None,
    }
}
