//! A certificate that this program signs itself, kept beside the records, so that what passes on the shop's network is encrypted.
//!
//! No authority vouches for it: a person compares its fingerprint once, as the browser asks.

use super::gate::sha_256;
use crate::os::write_private;
use anyhow::Context as _;
use axum_server::tls_rustls::RustlsConfig;
use rcgen::{CertificateParams, DnType, ExtendedKeyUsagePurpose, KeyPair, date_time_ymd};
use rustls::pki_types::pem::PemObject as _;
use rustls::pki_types::{CertificateDer, PrivateKeyDer};
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// How long a certificate serves, days: phones refuse those that last longer than 825 days.
const LASTS_DAYS: i64 = 800;
/// It is made anew when it has no more than this left, days.
const SPARE_DAYS: i64 = 30;

/// What a certificate was made for.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
struct MadeFor {
    names: Vec<String>,
    until: jiff::civil::Date,
}

/// A certificate ready to serve.
pub(crate) struct Identity {
    /// For the listener.
    pub(crate) config: RustlsConfig,
    /// SHA-256 of the certificate as browsers show it: `AB:CD:…`.
    pub(crate) fingerprint: String,
}

/// The usual folder for a store's certificate.
pub(crate) fn folder_beside(records: &Path) -> PathBuf {
    let mut name = records.as_os_str().to_owned();
    name.push(".tls");
    PathBuf::from(name)
}

/// The certificate kept in `folder` for these names, or a new one when there is none, it is for others, or it runs out.
///
/// # Errors
/// When the folder can't be written or what is in it can't be read.
pub(crate) fn identity(folder: &Path, names: &[String], today: jiff::civil::Date) -> anyhow::Result<Identity> {
    std::fs::create_dir_all(folder).with_context(|| format!("{} could not be made", folder.display()))?;
    let [certificate, key, made_for] = ["certificate.pem", "key.pem", "made-for.json"].map(|name| folder.join(name));
    if !still_good(&made_for, &certificate, &key, names, today) {
        make(&certificate, &key, &made_for, names, today)?;
    }
    let unreadable = |path: &Path| format!("{} cannot be read; remove the folder to make a new certificate", path.display());
    let der = CertificateDer::from_pem_file(&certificate).with_context(|| unreadable(&certificate))?;
    let secret = PrivateKeyDer::from_pem_file(&key).with_context(|| unreadable(&key))?;
    let fingerprint = fingerprint(&der);
    let provider = Arc::new(rustls::crypto::ring::default_provider());
    let mut config = rustls::ServerConfig::builder_with_provider(provider)
        .with_safe_default_protocol_versions()?
        .with_no_client_auth()
        .with_single_cert(vec![der], secret)
        .with_context(|| unreadable(&key))?;
    // The time limits of the listener are those of HTTP/1.
    config.alpn_protocols = vec![b"http/1.1".to_vec()];
    Ok(Identity { config: RustlsConfig::from_config(Arc::new(config)), fingerprint })
}

fn still_good(made_for: &Path, certificate: &Path, key: &Path, names: &[String], today: jiff::civil::Date) -> bool {
    let Ok(text) = std::fs::read_to_string(made_for) else { return false };
    let Ok(made) = serde_json::from_str::<MadeFor>(&text) else { return false };
    let left = (made.until - today).get_days();
    // A clock that was far ahead when it was made must not leave a certificate that is not valid yet.
    let lasts = (i64::from(left) > SPARE_DAYS) && i64::from(left) <= LASTS_DAYS;
    certificate.exists() && key.exists() && lasts && names.iter().all(|name| made.names.contains(name))
}

fn make(certificate: &Path, key: &Path, made_for: &Path, names: &[String], today: jiff::civil::Date) -> anyhow::Result<()> {
    let until = today + jiff::Span::new().days(LASTS_DAYS);
    // A day of grace for clocks that go behind.
    let from = today - jiff::Span::new().days(1);
    let date = |d: jiff::civil::Date| date_time_ymd(d.year().into(), d.month() as u8, d.day() as u8);
    let mut params = CertificateParams::new(names.to_vec())?;
    params.distinguished_name.push(DnType::CommonName, "Stillwheel in this shop");
    params.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
    (params.not_before, params.not_after) = (date(from), date(until));
    let pair = KeyPair::generate()?;
    let signed = params.self_signed(&pair)?;
    let told = serde_json::to_vec(&MadeFor { names: names.to_vec(), until })?;
    // The note last: without it the rest is made anew.
    for (path, bytes) in [(key, pair.serialize_pem().into_bytes()), (certificate, signed.pem().into_bytes()), (made_for, told)] {
        write_private(path, &bytes).with_context(|| format!("{} could not be written", path.display()))?;
    }
    Ok(())
}

fn fingerprint(der: &[u8]) -> String {
    sha_256(der).iter().map(|byte| format!("{byte:02X}")).collect::<Vec<_>>().join(":")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn date(text: &str) -> jiff::civil::Date {
        text.parse().unwrap()
    }

    #[test]
    fn a_certificate_is_kept_until_it_runs_out_or_the_address_changes() {
        let folder = tempfile::tempdir().unwrap();
        let folder = folder.path().join("records.db.tls");
        let names = ["192.168.1.20".to_owned(), "localhost".to_owned()];
        let print = |names: &[String], on: &str| identity(&folder, names, date(on)).unwrap().fingerprint;
        let first = print(&names, "2026-11-25");
        assert_eq!(first.len(), 32 * 3 - 1);
        assert_eq!(print(&names, "2026-11-26"), first);
        assert_eq!(print(&names[..1], "2028-12-30"), first, "36 days before 2029-02-03, its end");
        let moved = print(&["10.0.0.5".to_owned()], "2026-12-01");
        assert_ne!(moved, first);
        assert_ne!(print(&["10.0.0.5".to_owned()], "2029-01-20"), moved, "less than 30 days are left");
        assert_ne!(print(&["10.0.0.5".to_owned()], "2026-12-01"), moved, "made by a clock that was years ahead");
        std::fs::remove_file(folder.join("key.pem")).unwrap();
        print(&names, "2026-12-01");
        std::fs::write(folder.join("key.pem"), "spoilt").unwrap();
        let fault = identity(&folder, &names, date("2026-12-01")).err().unwrap();
        assert!(format!("{fault:#}").contains("remove the folder"), "{fault:#}");
    }

    #[cfg(unix)]
    #[test]
    fn only_this_person_may_read_the_key() {
        use std::os::unix::fs::PermissionsExt as _;
        let folder = tempfile::tempdir().unwrap();
        identity(folder.path(), &["localhost".to_owned()], date("2026-11-25")).unwrap();
        assert_eq!(std::fs::metadata(folder.path().join("key.pem")).unwrap().permissions().mode() & 0o777, 0o600);
    }
}
