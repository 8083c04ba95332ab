//! Forms that carry recordings: fields as text, files as bytes.

use super::super::super::form::Typed;
use axum::extract::Multipart;
use std::collections::HashMap;
use stillwheel_door::Fault;

/// Largest form: eight recordings of a minute at 48 kHz and 16 bits.
pub(crate) const LARGEST_UPLOAD: usize = 48 * 1024 * 1024;

/// Fields and files of a form; files that were left empty are left out.
pub(super) async fn read(mut form: Multipart) -> Result<(Typed, HashMap<String, Vec<u8>>), Fault> {
    let (mut typed, mut files) = (Typed::default(), HashMap::new());
    let unreadable = |e: axum::extract::multipart::MultipartError| {
        Fault::new("file", "this upload", format!("at most {} MiB in all", LARGEST_UPLOAD >> 20), e.body_text())
    };
    while let Some(part) = form.next_field().await.map_err(unreadable)? {
        let name = part.name().unwrap_or("").to_owned();
        let is_file = part.file_name().is_some();
        let bytes = part.bytes().await.map_err(unreadable)?;
        if !is_file {
            typed.put(name, String::from_utf8_lossy(&bytes));
        } else if !bytes.is_empty() {
            files.insert(name, bytes.to_vec());
        }
    }
    Ok((typed, files))
}
