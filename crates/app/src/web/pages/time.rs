//! Times as people read them, in the computer's own time zone.

use jiff::Timestamp;
use jiff::tz::TimeZone;

/// "25 Nov 2026, 14:05".
pub(super) fn moment(at: Timestamp) -> String {
    at.to_zoned_datetime(TimeZone::system()).strftime("%-d %b %Y, %H:%M").to_string()
}

/// A span in seconds: "42 s", "2 min 5 s".
pub(super) fn span(seconds: f64) -> String {
    let whole = seconds.round().max(0.0) as u64;
    if seconds < 100.0 {
        format!("{seconds:.1} s")
    } else if whole < 120 {
        format!("{whole} s")
    } else {
        format!("{} min {} s", whole / 60, whole % 60)
    }
}
