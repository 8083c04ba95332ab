//! All that depends on the operating system, in one place: signals, private files, the folder of a person's data.
//!
//! Nothing outside this file asks which system it runs on, but for the store, which settles a folder on disc where folders can be opened.

use anyhow::Context as _;
use std::fs::File;
use std::io::Write as _;
use std::path::{Path, PathBuf};

/// Until the program is asked to end: Ctrl-C, or a termination signal where there are such.
pub(crate) async fn asked_to_end() {
    let ctrl_c = async {
        if tokio::signal::ctrl_c().await.is_err() {
            std::future::pending::<()>().await;
        }
    };
    #[cfg(unix)]
    {
        let Ok(mut term) = tokio::signal::unix::signal(tokio::signal::unix::SignalKind::terminate()) else { return ctrl_c.await };
        tokio::select! { () = ctrl_c => {}, _ = term.recv() => {} }
    }
    #[cfg(not(unix))]
    ctrl_c.await;
}

/// Write a file that only this person may read, in the place of one that may be there. On Windows the folder's rights decide.
///
/// # Errors
/// When it can't be written.
pub(crate) fn write_private(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    let mut options = File::options();
    options.write(true).create(true).truncate(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let mut file = options.open(path)?;
    file.write_all(bytes)?;
    file.sync_all()
}

/// The folder in which this person's programs keep their data.
///
/// # Errors
/// When there is none.
pub(crate) fn data_folder() -> anyhow::Result<PathBuf> {
    let from = |name: &str| std::env::var_os(name).map(PathBuf::from).filter(|p| p.is_absolute());
    from("XDG_DATA_HOME")
        .or_else(|| from("HOME").map(|home| home.join(".local/share")))
        .or_else(|| from("LOCALAPPDATA"))
        .context("there is no home folder: name the file of the records with --db")
}
