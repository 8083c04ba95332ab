//! Who writes, and tokens that make an act safe to send twice.

use super::show::cookie;
use axum::http::HeaderMap;
use std::hash::{BuildHasher, RandomState};
use stillwheel_store::By;

/// Cookie with the person's name, as hexadecimal UTF-8.
pub(crate) const WHO_COOKIE: &str = "stillwheel_who";

/// 64 bits that nobody can guess: the standard library keys each `RandomState` from the operating system.
pub(crate) fn random_64() -> u64 {
    RandomState::new().hash_one(RandomState::new().hash_one(0_u8))
}

/// A token for one act.
pub(crate) fn token() -> String {
    format!("{:016x}{:016x}", random_64(), random_64())
}

/// The person's name; empty when unknown.
pub(crate) fn who(headers: &HeaderMap) -> String {
    cookie(headers, WHO_COOKIE).and_then(|hex| from_hex(&hex)).unwrap_or_default()
}

/// This person, now.
pub(crate) fn by(headers: &HeaderMap) -> By {
    By::now(who(headers))
}

/// A cookie that lasts a year; pages only, same site.
pub(crate) fn lasting_cookie(name: &str, value: &str) -> String {
    format!("{name}={value}; Path=/; Max-Age=31536000; SameSite=Lax; HttpOnly")
}

/// The cookie for a name.
pub(crate) fn who_cookie(name: &str) -> String {
    let short: String = name.trim().chars().take(60).collect();
    lasting_cookie(WHO_COOKIE, &hex(short.as_bytes()))
}

/// Bytes as hexadecimal digits.
pub(crate) fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::new(), |s, b| s + &format!("{b:02x}"))
}

fn from_hex(hex: &str) -> Option<String> {
    if !hex.len().is_multiple_of(2) || !hex.is_ascii() {
        return None;
    }
    let bytes = (0..hex.len()).step_by(2).map(|i| u8::from_str_radix(&hex[i..i + 2], 16).ok()).collect::<Option<Vec<u8>>>()?;
    String::from_utf8(bytes).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_with_any_letters_survives_the_cookie() {
        for name in ["Ada", "Jörg Ø.", "a;b=c", ""] {
            let cookie = who_cookie(name);
            let value = cookie.split(';').next().unwrap().split_once('=').unwrap().1;
            assert_eq!(from_hex(value).as_deref(), Some(name));
        }
        assert_eq!(from_hex("zz"), None);
        assert_eq!(from_hex("abc"), None);
    }

    #[test]
    fn tokens_differ() {
        assert_ne!(token(), token());
        assert_eq!(token().len(), 32);
    }
}
