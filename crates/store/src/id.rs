//! Names for stored things, and who wrote them when.

use crate::{StoreFault, json};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use std::hash::{BuildHasher, RandomState};

/// Digits of ids: Crockford's base 32, lower case; without i, l, o, u, so that an id can be read out aloud.
const DIGITS: &[u8; 32] = b"0123456789abcdefghjkmnpqrstvwxyz";
/// 9 digits hold 45 bits of milliseconds since 1970: enough for a thousand years.
const TIME_DIGITS: u32 = 9;
/// 7 digits hold 35 random bits: two ids made in the same millisecond clash once in 3e10.
const RANDOM_DIGITS: u32 = 7;

/// The id of a record or a sitting: 16 characters of `0-9a-z`, ordered by the time they were made (to the millisecond).
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Id(String);

impl Id {
    /// An id made at `at` from the low 35 bits of `random`.
    ///
    /// Times before 1970 count as 1970.
    pub fn new(at: Timestamp, random: u64) -> Self {
        let millisecond = u64::try_from(at.as_millisecond()).unwrap_or(0);
        let digits = |value: u64, count: u32| (0..count).rev().map(move |i| char::from(DIGITS[(value >> (5 * i)) as usize & 31]));
        Self(digits(millisecond, TIME_DIGITS).chain(digits(random, RANDOM_DIGITS)).collect())
    }

    /// An id made at `at` with randomness from the operating system.
    pub fn fresh(at: Timestamp) -> Self {
        // Each RandomState is keyed from the operating system's randomness; hashing anything with it gives 64 random bits.
        Self::new(at, RandomState::new().hash_one(at))
    }

    /// An id from text.
    ///
    /// # Errors
    /// [`StoreFault::Invalid`] unless it is 16 digits of the base-32 alphabet in lower case.
    pub fn parse(text: &str) -> Result<Self, StoreFault> {
        let length = (TIME_DIGITS + RANDOM_DIGITS) as usize;
        if text.len() == length && text.bytes().all(|b| DIGITS.contains(&b)) {
            return Ok(Self(text.to_owned()));
        }
        let shown: String = text.chars().take(40).collect();
        Err(StoreFault::invalid(
            "id",
            shown,
            "16 characters of 0-9 and a-z without i, l, o, u",
            "Follow a link from the list instead of typing it.",
        ))
    }

    /// The text of the id.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl std::fmt::Display for Id {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}
impl std::str::FromStr for Id {
    type Err = StoreFault;
    fn from_str(text: &str) -> Result<Self, StoreFault> {
        Self::parse(text)
    }
}
impl TryFrom<String> for Id {
    type Error = StoreFault;
    fn try_from(text: String) -> Result<Self, StoreFault> {
        Self::parse(&text)
    }
}
impl From<Id> for String {
    fn from(id: Id) -> Self {
        id.0
    }
}

/// Who writes, and when. Goes with every write.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct By {
    /// The person (or "demo", "import"); may be empty, at most 200 characters.
    pub who: String,
    /// When.
    pub at: Timestamp,
}

impl By {
    /// This person, by the computer's clock.
    pub fn now(who: impl Into<String>) -> Self {
        Self { who: who.into(), at: Timestamp::now() }
    }

    pub(crate) fn check(&self) -> Result<(), StoreFault> {
        json::check_line("who", &self.who, 0, 200)
    }
}
