//! The folder of backups beside a store: made, numbered, and thinned out as they age.
//!
//! In: a store, the time, and why. Out: whole files that were read back, of which the newest few, one a day and one a week are kept.

use crate::connection::{of_the_disc, settle_folder_of};
use crate::{Contents, Store, StoreFault};
use jiff::Timestamp;
use jiff::tz::TimeZone;
use std::collections::HashSet;
use std::fs;
use std::hash::Hash;
use std::path::{Path, PathBuf};

/// Why a backup was made; stands in its name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reason {
    /// By the clock, while the program serves.
    Automatic,
    /// Asked for by a person: never removed by the program.
    ByHand,
    /// What was there before another backup was restored.
    BeforeRestore,
    /// A damaged store, byte by byte, before a backup was restored. It can't be restored itself.
    Damaged,
}

impl Reason {
    const ALL: [Self; 4] = [Self::Automatic, Self::ByHand, Self::BeforeRestore, Self::Damaged];

    fn as_str(self) -> &'static str {
        match self {
            Self::Automatic => "automatic",
            Self::ByHand => "by-hand",
            Self::BeforeRestore => "before-restore",
            Self::Damaged => "damaged",
        }
    }
}

/// How many are kept. What is asked for by hand is always kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Keep {
    /// The newest automatic ones, whatever their date.
    pub newest: usize,
    /// The last of each of so many days.
    pub days: usize,
    /// The last of each of so many weeks.
    pub weeks: usize,
    /// The newest of those set aside before a restore.
    pub set_aside: usize,
}

impl Default for Keep {
    /// Common practice, no source.
    fn default() -> Self {
        Self { newest: 3, days: 7, weeks: 8, set_aside: 5 }
    }
}

/// One backup in the folder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BackupFile {
    /// Its file.
    pub path: PathBuf,
    /// Counts up by one from backup to backup, so that the order holds also when the clock jumps back.
    pub number: u32,
    /// When it was made.
    pub at: Timestamp,
    /// Why.
    pub reason: Reason,
    /// Size, bytes.
    pub bytes: u64,
}

impl BackupFile {
    /// The file's name alone.
    pub fn name(&self) -> String {
        self.path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default()
    }
}

/// A folder of backups.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Backups {
    folder: PathBuf,
}

impl Backups {
    /// The usual folder for a store: `records.db` has `records.db.backups`.
    pub fn beside(store: &Path) -> Self {
        Self { folder: crate::connection::beside(store, ".backups") }
    }

    /// Another folder, on another disc for choice.
    pub fn within(folder: impl Into<PathBuf>) -> Self {
        Self { folder: folder.into() }
    }

    /// The folder; it may not be there yet.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// The backups there, newest first. Files of other names are left out.
    ///
    /// # Errors
    /// Any fault of the disc; a missing folder is an empty list.
    pub fn list(&self) -> Result<Vec<BackupFile>, StoreFault> {
        let entries = match fs::read_dir(&self.folder) {
            Ok(entries) => entries,
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(Vec::new()),
            Err(e) => return Err(of_the_disc(&e)),
        };
        let mut found = Vec::new();
        for entry in entries {
            let path = entry.map_err(|e| of_the_disc(&e))?.path();
            // One that is removed meanwhile is no fault.
            let (Some((number, at, reason)), Ok(file)) = (read_name(&path), fs::metadata(&path)) else { continue };
            if file.is_file() {
                found.push(BackupFile { path, number, at, reason, bytes: file.len() });
            }
        }
        found.sort_by_key(|file| std::cmp::Reverse(file.number));
        Ok(found)
    }

    /// The backup of this name, as [`BackupFile::name`] gives it.
    ///
    /// # Errors
    /// [`StoreFault::Invalid`] if there is none; any fault of the disc.
    pub fn named(&self, name: &str) -> Result<BackupFile, StoreFault> {
        // Looked up in the list: no text from outside becomes a path.
        self.list()?.into_iter().find(|file| file.name() == name).ok_or_else(|| {
            let shown: String = name.chars().filter(|c| !c.is_control()).take(80).collect();
            StoreFault::invalid("backup", format!("\"{shown}\""), "one of the list", "It may have been removed: load the list anew.")
        })
    }

    /// Back the store up into the folder; the copy is whole, checked and read back before it gets its name.
    ///
    /// # Errors
    /// [`StoreFault::Corrupt`] if the store is damaged: a backup of it would look better than it is; any fault of the disc.
    pub fn take(&self, store: &Store, reason: Reason, at: Timestamp) -> Result<BackupFile, StoreFault> {
        let path = self.new_path(reason, at)?;
        store.backup(&path)?;
        self.named(&path.file_name().unwrap_or_default().to_string_lossy())
    }

    /// An automatic backup, unless nothing was written since the newest; then those are removed that `keep` doesn't ask for.
    ///
    /// # Errors
    /// As [`Backups::take`]. Nothing is removed then.
    pub fn take_if_changed(&self, store: &Store, keep: &Keep, at: Timestamp) -> Result<Option<BackupFile>, StoreFault> {
        let newest = self.list()?.into_iter().find(|file| file.reason != Reason::Damaged);
        if let Some(newest) = newest
            && read_contents(&newest.path).is_ok_and(|there| store.contents().is_ok_and(|here| here == there))
        {
            return Ok(None);
        }
        let taken = self.take(store, Reason::Automatic, at)?;
        self.thin_out(keep)?;
        Ok(Some(taken))
    }

    /// Remove what `keep` doesn't ask for.
    ///
    /// # Errors
    /// Any fault of the disc.
    pub fn thin_out(&self, keep: &Keep) -> Result<(), StoreFault> {
        for file in superfluous(&self.list()?, keep) {
            match fs::remove_file(&file.path) {
                Err(e) if e.kind() != std::io::ErrorKind::NotFound => return Err(of_the_disc(&e)),
                _ => {}
            }
        }
        Ok(())
    }

    /// The name for the next backup; the folder is made.
    pub(crate) fn new_path(&self, reason: Reason, at: Timestamp) -> Result<PathBuf, StoreFault> {
        if !self.folder.is_dir() {
            fs::create_dir_all(&self.folder).map_err(|e| of_the_disc(&e))?;
            settle_folder_of(&self.folder)?;
        }
        let number = self.list()?.first().map_or(1, |newest| newest.number.saturating_add(1));
        let time = at.to_zoned_datetime(TimeZone::UTC).strftime("%Y-%m-%dT%H-%M-%SZ");
        Ok(self.folder.join(format!("{number:06}_{time}_{}.db", reason.as_str())))
    }
}

fn read_name(path: &Path) -> Option<(u32, Timestamp, Reason)> {
    let mut parts = path.file_name()?.to_str()?.strip_suffix(".db")?.split('_');
    let (number, time, reason) = (parts.next()?, parts.next()?, parts.next()?);
    if parts.next().is_some() || number.len() < 6 {
        return None;
    }
    let (date, clock) = time.split_once('T')?;
    let at = format!("{date}T{}", clock.replace('-', ":")).parse().ok()?;
    Some((number.parse().ok()?, at, Reason::ALL.into_iter().find(|known| known.as_str() == reason)?))
}

fn read_contents(path: &Path) -> Result<Contents, StoreFault> {
    let flags = rusqlite::OpenFlags::SQLITE_OPEN_READ_ONLY | rusqlite::OpenFlags::SQLITE_OPEN_NO_MUTEX;
    Contents::of(&rusqlite::Connection::open_with_flags(path, flags)?)
}

/// Those of a list, newest first, that need not be kept.
fn superfluous<'a>(files: &'a [BackupFile], keep: &Keep) -> Vec<&'a BackupFile> {
    let day = |file: &BackupFile| file.at.to_zoned_datetime(TimeZone::UTC).date();
    let week = |file: &BackupFile| {
        let week = day(file).iso_week_date();
        (week.year(), week.week())
    };
    let automatic = || files.iter().filter(|file| file.reason == Reason::Automatic);
    let mut kept: HashSet<u32> = automatic().take(keep.newest).map(|file| file.number).collect();
    kept.extend(last_of_each(automatic(), day, keep.days));
    kept.extend(last_of_each(automatic(), week, keep.weeks));
    let set_aside = |file: &&BackupFile| matches!(file.reason, Reason::BeforeRestore | Reason::Damaged);
    kept.extend(files.iter().filter(set_aside).take(keep.set_aside).map(|file| file.number));
    files.iter().filter(|file| file.reason != Reason::ByHand && !kept.contains(&file.number)).collect()
}

/// The newest of each of the latest `count` spans of time.
fn last_of_each<'a, Span: Eq + Hash>(
    newest_first: impl Iterator<Item = &'a BackupFile>,
    span: impl Fn(&BackupFile) -> Span,
    count: usize,
) -> Vec<u32> {
    let mut seen = HashSet::new();
    newest_first.filter(|file| seen.insert(span(file))).take(count).map(|file| file.number).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(number: u32, at: &str, reason: Reason) -> BackupFile {
        BackupFile { path: PathBuf::from(number.to_string()), number, at: at.parse().unwrap(), reason, bytes: 1 }
    }

    /// Numbers that stay, newest first, of a list given oldest first.
    fn stay(mut files: Vec<BackupFile>, keep: &Keep) -> Vec<u32> {
        files.reverse();
        let gone: Vec<u32> = superfluous(&files, keep).iter().map(|file| file.number).collect();
        files.iter().map(|file| file.number).filter(|number| !gone.contains(number)).collect()
    }

    const TWO_EACH: Keep = Keep { newest: 2, days: 2, weeks: 2, set_aside: 1 };

    #[test]
    fn the_newest_and_the_last_of_each_day_and_week_stay() {
        // 2 November 2026 is a Monday (any calendar).
        let files = [
            "2026-11-01T08:00:00Z", // Sunday: last of the week before
            "2026-11-02T08:00:00Z",
            "2026-11-03T08:00:00Z",
            "2026-11-03T14:00:00Z", // last of the day before
            "2026-11-04T08:00:00Z",
            "2026-11-04T12:00:00Z", // newest but one
            "2026-11-04T16:00:00Z", // newest; last of its day and its week
        ];
        let files = (1..).zip(files).map(|(number, at)| file(number, at, Reason::Automatic)).collect();
        assert_eq!(stay(files, &TWO_EACH), [7, 6, 4, 1]);
    }

    #[test]
    fn a_clock_that_jumps_back_never_removes_what_was_made_last() {
        let files =
            ["2031-01-01T00:00:00Z", "2031-01-02T00:00:00Z", "2031-01-03T00:00:00Z", "2026-11-04T08:00:00Z", "2026-11-04T09:00:00Z"];
        let files: Vec<BackupFile> = (1..).zip(files).map(|(number, at)| file(number, at, Reason::Automatic)).collect();
        let kept = stay(files, &TWO_EACH);
        assert_eq!(kept[..2], [5, 4]);
        assert!(kept.contains(&3), "and the last before the jump is still there: {kept:?}");
    }

    #[test]
    fn what_was_asked_for_by_hand_stays_for_ever_and_of_those_set_aside_the_newest() {
        let files = [Reason::ByHand, Reason::BeforeRestore, Reason::Damaged, Reason::Automatic, Reason::Automatic, Reason::Automatic];
        let files = (1..).zip(files).map(|(number, reason)| file(number, "2026-11-04T08:00:00Z", reason)).collect();
        assert_eq!(stay(files, &TWO_EACH), [6, 5, 3, 1]);
    }

    #[test]
    fn only_names_that_this_program_gives_are_read() {
        let time: Timestamp = "2026-11-25T16:58:48Z".parse().unwrap();
        for (name, expected) in [
            ("000042_2026-11-25T16-58-48Z_automatic.db", Some((42, time, Reason::Automatic))),
            ("1000042_2026-11-25T16-58-48Z_before-restore.db", Some((1_000_042, time, Reason::BeforeRestore))),
            ("000042_2026-11-25T16-58-48Z_automatic.db.part", None),
            ("000042_2026-11-25T16-58-48Z_holiday.db", None),
            ("000042_2026-13-25T16-58-48Z_automatic.db", None),
            ("42_2026-11-25T16-58-48Z_automatic.db", None),
            ("000042_2026-11-25T16-58-48Z_automatic_2.db", None),
            ("records.db", None),
        ] {
            assert_eq!(read_name(Path::new(name)), expected, "{name}");
        }
    }
}
