//! Who is let in from the shop's network: two codes, the list of devices, and what each may do.
//!
//! In: a code typed once on a device. Out: a key in that device's cookie, of which only a digest is kept here.

use super::person::token;
use jiff::Timestamp;
use std::sync::Arc;
use stillwheel_store::{Device, Devices, Role, StoreFault};

/// The gate to the shop's network.
#[derive(Clone)]
pub struct Gate {
    write_code: String,
    look_code: String,
    devices: Arc<Devices>,
    address: Option<String>,
    encrypted: bool,
}

impl Gate {
    /// With these codes: one for devices that may write, one for those that may only look.
    pub fn new(write_code: impl Into<String>, look_code: impl Into<String>, devices: Devices) -> Self {
        Self { write_code: write_code.into(), look_code: look_code.into(), devices: Arc::new(devices), address: None, encrypted: false }
    }

    /// Reached from the network at this address (`http://192.168.1.20:8417`), over TLS or not.
    #[must_use]
    pub fn at(mut self, address: String, encrypted: bool) -> Self {
        (self.address, self.encrypted) = (Some(address), encrypted);
        self
    }

    /// The address from the network, where it is known.
    pub(crate) fn address(&self) -> Option<&str> {
        self.address.as_deref()
    }

    /// Whether what passes is encrypted.
    pub(crate) fn is_encrypted(&self) -> bool {
        self.encrypted
    }

    /// The codes: to write, to look.
    pub(crate) fn codes(&self) -> [&str; 2] {
        [&self.write_code, &self.look_code]
    }

    /// The role that a code gives.
    pub(crate) fn role(&self, code: &str) -> Option<Role> {
        // Both are compared whatever the first says, so the time tells nothing.
        match (same_text(code, &self.write_code), same_text(code, &self.look_code)) {
            (true, _) => Some(Role::Write),
            (_, true) => Some(Role::Look),
            _ => None,
        }
    }

    /// Let a device in; back comes its secret key.
    ///
    /// # Errors
    /// The store's faults.
    pub(crate) fn pair(&self, name: &str, role: Role) -> Result<String, StoreFault> {
        let key = token();
        self.devices.pair(name, role, &digest(&key), Timestamp::now())?;
        Ok(key)
    }

    /// The device with this key.
    ///
    /// # Errors
    /// The store's faults.
    pub(crate) fn known(&self, key: &str) -> Result<Option<Device>, StoreFault> {
        self.devices.known(&digest(key))
    }

    /// The list.
    pub(crate) fn devices(&self) -> &Devices {
        &self.devices
    }
}

/// Who sends a request. The guard puts it with every request that it lets pass.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Visitor {
    /// The computer that serves, or anybody where there is no gate.
    Here,
    /// A device that was paired.
    Device(Device),
}

impl Visitor {
    /// Whether only looking is allowed.
    pub(crate) fn only_looks(&self) -> bool {
        matches!(self, Self::Device(device) if device.role == Role::Look)
    }
}

/// SHA-256 (FIPS 180-4) of a text, in hexadecimal digits.
pub(crate) fn digest(text: &str) -> String {
    super::person::hex(&sha_256(text.as_bytes()))
}

/// SHA-256 (FIPS 180-4), from the library that encrypts for TLS.
pub(crate) fn sha_256(bytes: &[u8]) -> Vec<u8> {
    let suite = rustls::crypto::ring::cipher_suite::TLS13_AES_128_GCM_SHA256.tls13().expect("its name says so");
    suite.common.hash_provider.hash(bytes).as_ref().to_vec()
}

/// Compare in a time that does not depend on where the texts differ.
pub(crate) fn same_text(a: &str, b: &str) -> bool {
    a.len() == b.len() && a.bytes().zip(b.bytes()).fold(0, |d, (x, y)| d | (x ^ y)) == 0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_digest_is_sha_256() {
        // FIPS 180-4, appendix (example "abc").
        assert_eq!(digest("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }

    #[test]
    fn each_code_gives_its_role_and_no_other_text_any() {
        let gate = Gate::new("12345678", "87654321", Devices::open_in_memory().unwrap());
        for (code, role) in [
            ("12345678", Some(Role::Write)),
            ("87654321", Some(Role::Look)),
            ("1234567", None),
            ("123456788", None),
            ("00000000", None),
            ("", None),
        ] {
            assert_eq!(gate.role(code), role, "{code}");
        }
        let (one, two) = (gate.pair("Phone", Role::Write).unwrap(), gate.pair("Phone", Role::Look).unwrap());
        assert_ne!(one, two);
        assert_eq!(gate.known(&one).unwrap().unwrap().role, Role::Write);
        assert_eq!(gate.known("12345678").unwrap(), None, "a code is no key");
    }
}
