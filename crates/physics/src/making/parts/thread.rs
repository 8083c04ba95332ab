//! Threads that the parts carry: major diameter, drill and what a port needs, read from the tables of reference/.

use crate::Fault;

const METRIC: &str = include_str!("../../../../../reference/iso_metric_threads.csv");

/// A thread with its drill.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Thread {
    pub(super) name: String,
    pub(super) major_mm: f64,
    pub(super) drill_mm: f64,
}

fn rows() -> impl Iterator<Item = (f64, Thread)> {
    METRIC.lines().skip(1).filter_map(|line| {
        let c: Vec<&str> = line.split(',').collect();
        let number = |k: usize| c.get(k).and_then(|v| v.parse::<f64>().ok());
        Some((number(3)?, Thread { name: (*c.first()?).to_owned(), major_mm: number(2)?, drill_mm: number(8)? }))
    })
}

/// A metric thread by its name.
///
/// # Errors
/// A [`Fault`] for one that the table lacks.
pub(super) fn metric(name: &str) -> Result<Thread, Fault> {
    let missing = || Fault::new("thread", name, "a thread of ISO 261 from M2 to M24", "the table of threads has no such thread");
    rows().find(|r| r.1.name == name).map(|r| r.1).ok_or_else(missing)
}

/// The thread of that pitch for a foot: M10 if there is one, else the nearest size.
///
/// # Errors
/// A [`Fault`] for a pitch that no thread from M8 to M24 has.
pub(super) fn foot_thread(pitch_mm: f64) -> Result<Thread, Fault> {
    let fits = rows().filter(|r| (r.0 - pitch_mm).abs() < 1e-9 && r.1.major_mm >= 8.0).map(|r| r.1);
    fits.min_by(|a, b| (a.major_mm - 10.0).abs().total_cmp(&(b.major_mm - 10.0).abs())).ok_or_else(|| {
        let why = "a foot screw has a thread that taps and dies are sold for";
        Fault::new("plate.foot_pitch_mm", pitch_mm, "the pitch of a thread from M8 to M24: 0.75, 1, 1.25, 1.5, 1.75, 2, 2.5 or 3 mm", why)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use rstest::rstest;

    // Source: ISO 261 (which pitches a size has), ISO 2306 (drills).
    #[rstest]
    #[case(1.0, "M10x1", 9.0)]
    #[case(1.5, "M10", 8.5)]
    #[case(0.75, "M8x0.75", 7.2)]
    #[case(1.75, "M12", 10.2)]
    fn a_foot_has_the_thread_of_its_pitch(#[case] pitch: f64, #[case] name: &str, #[case] drill: f64) {
        let t = foot_thread(pitch).unwrap();
        assert_eq!((t.name.as_str(), t.drill_mm), (name, drill));
    }

    #[test]
    fn a_pitch_that_no_thread_has_is_a_fault() {
        assert_eq!(foot_thread(0.9).unwrap_err().field, "plate.foot_pitch_mm");
        assert!(metric("M7").is_err());
    }
}
