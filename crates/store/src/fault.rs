//! What can go wrong in the store, told so that a person knows what to do.

use crate::{Event, Id};

/// Why the store refused or failed. Whatever the kind: nothing of the refused write is stored, and nothing stored before is lost.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum StoreFault {
    /// The file was written by a newer version of the program; it was left as it is.
    #[error(
        "These records were written by a newer version of stillwheel (format {found}; this one knows up to {known}). \
         Nothing was changed. Start the newer version, or open a backup made by this one."
    )]
    Newer {
        /// Format number found in the file.
        found: i64,
        /// The newest that this program knows.
        known: i64,
    },
    /// The file isn't a store of this program.
    #[error(
        "{what} does not hold stillwheel records: {why} Nothing was changed. Choose another file, or a new name to start an empty one."
    )]
    NotOurs {
        /// The file.
        what: String,
        /// What it is instead, as a sentence.
        why: String,
    },
    /// Somebody else wrote in between, or the present state doesn't allow it.
    #[error("{say} Nothing was lost: reload to see the present state, then do it again if it still holds.")]
    Conflict {
        /// What happened, as sentences.
        say: String,
        /// The events since the state that the writer had seen (empty for records).
        since: Vec<Event>,
    },
    /// No such thing.
    #[error("There is no {what} with the id {id}. Go back to the list and choose it there.")]
    NotFound {
        /// What was looked for: "rotor", "sitting", ...
        what: String,
        /// The id asked for.
        id: Id,
    },
    /// No room on the disc.
    #[error("The disc is full, so this was not stored; all that was stored before is safe. Free some space, then do it again.")]
    Full,
    /// The file may only be read.
    #[error("The records can only be read here, so nothing can be stored. Give the program write access to the file and its folder.")]
    ReadOnly,
    /// Another program holds the file.
    #[error(
        "Another program is using the records, so this was not stored. Wait a few seconds, then do it again; close other copies of the program."
    )]
    Busy,
    /// The file is damaged.
    #[error("The records file is damaged: {detail} Keep a copy of it, then open the latest backup.")]
    Corrupt {
        /// What was found, as a sentence.
        detail: String,
    },
    /// A value that can't be stored.
    #[error("{field} is {value}, allowed: {allowed}. {why}")]
    Invalid {
        /// The field's name with its unit, a path for nested ones.
        field: String,
        /// What came in.
        value: String,
        /// What would be accepted.
        allowed: String,
        /// What to do.
        why: String,
    },
    /// Anything else, such as a folder that can't be opened.
    #[error("The records could not be read or written: {detail}. Check that the folder exists and can be written, then do it again.")]
    Other {
        /// The underlying error's words.
        detail: String,
    },
}

impl StoreFault {
    pub(crate) fn invalid(
        field: impl Into<String>,
        value: impl std::fmt::Display,
        allowed: impl Into<String>,
        why: impl Into<String>,
    ) -> Self {
        Self::Invalid { field: field.into(), value: value.to_string(), allowed: allowed.into(), why: why.into() }
    }

    /// The same fault seen from one level up: `mass_kg` inside `rotor` becomes `rotor.mass_kg`. Other kinds stay as they are.
    pub(crate) fn inside(self, outer: &str) -> Self {
        match self {
            Self::Invalid { field, value, allowed, why } => Self::Invalid { field: format!("{outer}.{field}"), value, allowed, why },
            other => other,
        }
    }

    pub(crate) fn corrupt(detail: impl std::fmt::Display) -> Self {
        Self::Corrupt { detail: format!("{detail}.") }
    }
}

impl From<rusqlite::Error> for StoreFault {
    fn from(error: rusqlite::Error) -> Self {
        use rusqlite::ErrorCode as Code;
        match error.sqlite_error_code() {
            Some(Code::DiskFull) => Self::Full,
            Some(Code::ReadOnly) => Self::ReadOnly,
            Some(Code::DatabaseBusy | Code::DatabaseLocked) => Self::Busy,
            Some(Code::DatabaseCorrupt | Code::NotADatabase) => Self::corrupt(error),
            _ => match error {
                // A column holds what we never wrote there.
                rusqlite::Error::FromSqlConversionFailure(..)
                | rusqlite::Error::InvalidColumnType(..)
                | rusqlite::Error::IntegralValueOutOfRange(..)
                | rusqlite::Error::Utf8Error(..) => Self::corrupt(error),
                other => Self::Other { detail: other.to_string() },
            },
        }
    }
}
