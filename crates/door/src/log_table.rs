//! A swing log out of a table from elsewhere: an encoder's recorder, a spreadsheet, a bench instrument.
//!
//! In: the bytes of the file, and which columns hold time and angle, in which units and sense. Out: times in s and room angles of the
//! zero mark in degrees, or a fault that names the row. What can be told from the headings is proposed ([`LogTable::proposed`]); a
//! person confirms it.

use crate::Fault;
use crate::log_csv::{decoded, is_label, number, shortened};
use stillwheel_physics::Ranged;
use stillwheel_physics::bench::fit_log::{LEAST_POINTS, MOST_POINTS};

/// Largest table, bytes.
pub const MOST_TABLE_BYTES: usize = 10 * 1024 * 1024;
/// Most columns.
const MOST_COLUMNS: usize = 64;
/// Most rows above the first row of numbers.
const MOST_HEADING_ROWS: usize = 40;
/// Rows by which the separator is told.
const SEPARATOR_ROWS: usize = 60;
/// Longest name of a column, letters.
const LONGEST_NAME: usize = 40;

/// Unit of the times.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TimeUnit {
    /// Seconds.
    Seconds,
    /// Milliseconds.
    Milliseconds,
    /// Minutes.
    Minutes,
}

/// Unit of the angles.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum AngleUnit {
    /// Degrees.
    Degrees,
    /// Radians.
    Radians,
    /// Whole turns.
    Turns,
    /// Counts of an encoder.
    Counts {
        /// Counts in one turn, 2 to 1e9.
        per_turn: f64,
    },
}

/// Which columns hold the log, and what their numbers mean.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Columns {
    /// Place of the time's column, from 0.
    pub time: usize,
    /// Place of the angle's column, from 0.
    pub angle: usize,
    /// Unit of the times.
    pub time_unit: TimeUnit,
    /// Unit of the angles.
    pub angle_unit: AngleUnit,
    /// Whether the angle grows as the rotor turns clockwise, seen from the operator's side.
    pub clockwise: bool,
    /// What the angle's column shows while the zero mark is straight down, in the angle's unit (−1e9 to 1e9).
    pub at_bottom: f64,
}

/// A table whose rows are read when they are asked for.
#[derive(Clone, Debug)]
pub struct LogTable {
    text: String,
    separator: char,
    names: Vec<String>,
    /// Line of the first row of numbers, from 0.
    first: usize,
}

impl LogTable {
    /// Find heading, separator and columns of a table.
    ///
    /// Encodings as [`crate::log_csv::parse_log_csv`] reads them. Columns are parted by semicolon, tab, comma or spaces; rows that are empty or
    /// begin with `#` are passed over. The heading may have up to 40 rows; it ends at the first row with two numbers.
    ///
    /// # Errors
    /// A [`Fault`] at `file`: over [`MOST_TABLE_BYTES`], not text, no row with two numbers, more than 64 columns, or twice as many cells in the
    /// rows as in the heading (decimal commas between commas).
    pub fn read(bytes: &[u8]) -> Result<Self, Fault> {
        let too_large = |n: usize| {
            Fault::new(
                "file",
                format!("{n} bytes"),
                format!("at most {MOST_TABLE_BYTES} bytes"),
                "the table is too large: leave out columns or thin its rows",
            )
        };
        if bytes.len() > MOST_TABLE_BYTES {
            return Err(too_large(bytes.len()));
        }
        let text = decoded(bytes)?;
        if text.len() > MOST_TABLE_BYTES {
            return Err(too_large(text.len()));
        }
        let separator = separator(&text);
        let heading_and_more = lines(&text).take(MOST_HEADING_ROWS + 1);
        let mut heading: Vec<Vec<&str>> = Vec::new();
        let mut found = None;
        for (i, line) in heading_and_more {
            let cells = cells(line, separator);
            if cells.iter().filter(|c| number(c, separator, i + 1, "").is_ok()).count() >= 2 {
                found = Some((i, cells.len()));
                break;
            }
            heading.push(cells);
        }
        let Some((first, columns)) = found else {
            return Err(Fault::new(
                "file",
                "no row with two numbers in its first rows",
                "rows with a time and an angle",
                "a swing log needs two columns of numbers, parted by semicolon, tab, comma or space; with decimal commas by semicolon or tab",
            ));
        };
        if columns > MOST_COLUMNS {
            return Err(Fault::new(
                "file",
                format!("{columns} columns"),
                format!("2 to {MOST_COLUMNS}"),
                "leave out columns that are not needed",
            ));
        }
        let labels = |row: &Vec<&str>| row.iter().all(|c| is_label(c));
        if separator == ',' && heading.last().is_some_and(|h| labels(h) && 2 * h.len() == columns) {
            return Err(Fault::new(
                "file",
                format!("{columns} cells in row {}", first + 1),
                format!("{} cells, as its heading has", columns / 2),
                "decimal commas between commas: part the columns by semicolon or tab",
            ));
        }
        let mut names = vec![String::new(); columns];
        for row in heading.iter().filter(|r| r.len() == columns) {
            for (name, cell) in names.iter_mut().zip(row) {
                if !cell.is_empty() && !name.is_empty() {
                    name.push(' ');
                }
                name.push_str(cell);
            }
        }
        for (k, name) in names.iter_mut().enumerate() {
            *name = if name.is_empty() {
                format!("column {}", k + 1)
            } else {
                name.chars().filter(|c| !c.is_control()).take(LONGEST_NAME).collect()
            };
        }
        Ok(Self { text, separator, names, first })
    }

    /// Names of the columns, from the heading, else `column 1` and so on.
    #[must_use]
    pub fn names(&self) -> &[String] {
        &self.names
    }

    /// The whole text, as UTF-8.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The first rows of numbers, as they are written.
    #[must_use]
    pub fn head(&self, rows: usize) -> Vec<Vec<&str>> {
        self.rows().take(rows).map(|(_, line)| cells(line, self.separator)).collect()
    }

    /// What the headings say: a column named for time and one for an angle, with their units; else the first two columns in s and degrees.
    #[must_use]
    pub fn proposed(&self) -> Columns {
        let lower: Vec<String> = self.names.iter().map(|n| n.to_lowercase()).collect();
        let words = |name: &str| -> Vec<String> { name.split(|c: char| !c.is_alphanumeric() && c != '°').map(str::to_owned).collect() };
        let says = |k: usize, any: &[&str]| words(&lower[k]).iter().any(|w| any.contains(&w.as_str()));
        let column = |any: &[&str], but: Option<usize>| (0..lower.len()).find(|&k| Some(k) != but && says(k, any));
        let time = column(&["time", "t", "seconds", "elapsed", "ms"], None).unwrap_or(0);
        let angle =
            column(&["angle", "phi", "φ", "theta", "position", "deg", "degrees", "°", "rad", "turns", "counts", "count"], Some(time))
                .unwrap_or(usize::from(time == 0));
        let time_unit = if says(time, &["ms", "milliseconds"]) {
            TimeUnit::Milliseconds
        } else if says(time, &["min", "minutes"]) {
            TimeUnit::Minutes
        } else {
            TimeUnit::Seconds
        };
        let angle_unit = if says(angle, &["rad", "radians"]) {
            AngleUnit::Radians
        } else if says(angle, &["turns", "turn", "rev", "revolutions"]) {
            AngleUnit::Turns
        } else {
            AngleUnit::Degrees
        };
        Columns { time, angle, time_unit, angle_unit, clockwise: false, at_bottom: 0.0 }
    }

    /// Times (s) and room angles of the zero mark (degrees counter-clockwise from straight down).
    ///
    /// # Errors
    /// A [`Fault`] at `time_column`, `angle_column`, `counts_per_turn` or `at_bottom`; at `row N` for a row with another number of cells, or a
    /// cell of these columns that is no number, or a time that does not rise; at `file` for fewer than 8 rows or more than 200000.
    pub fn log(&self, columns: &Columns) -> Result<(Vec<f64>, Vec<f64>), Fault> {
        let count = self.names.len();
        for (field, k) in [("time_column", columns.time), ("angle_column", columns.angle)] {
            if k >= count {
                return Err(Fault::new(field, k + 1, format!("1 to {count}"), "the table has no such column"));
            }
        }
        if columns.time == columns.angle {
            return Err(Fault::new(
                "angle_column",
                columns.angle + 1,
                "another column than the time's",
                "time and angle are in two columns",
            ));
        }
        let seconds = match columns.time_unit {
            TimeUnit::Seconds => 1.0,
            TimeUnit::Milliseconds => 1e-3,
            TimeUnit::Minutes => 60.0,
        };
        let degrees = match columns.angle_unit {
            AngleUnit::Degrees => 1.0,
            AngleUnit::Radians => 180.0 / std::f64::consts::PI,
            AngleUnit::Turns => 360.0,
            AngleUnit::Counts { per_turn } => {
                360.0 / per_turn.within("counts_per_turn", 2.0, 1e9, "", "counts of the encoder in one turn of the rotor")?
            }
        };
        let at_bottom = columns.at_bottom.within(
            "at_bottom",
            -1e9,
            1e9,
            "in the angle's unit",
            "what the angle's column shows while the zero mark is straight down",
        )?;
        let sense = if columns.clockwise { -1.0 } else { 1.0 };
        let (mut t, mut angle) = (Vec::new(), Vec::new());
        for (i, line) in self.rows() {
            let row = i + 1;
            if t.len() == MOST_POINTS {
                return Err(Fault::new(
                    "file",
                    format!("row {row}"),
                    format!("at most {MOST_POINTS} rows"),
                    "the log is longer than it needs to be: thin it",
                ));
            }
            let cells = cells(line, self.separator);
            if cells.len() != count {
                let why = "a row has as many cells as the first one: a comma may be a decimal mark in one and part columns in another";
                return Err(Fault::new(format!("row {row}"), shortened(line), format!("{count} cells"), why));
            }
            let time = seconds * number(cells[columns.time], self.separator, row, "time")?;
            if t.last().is_some_and(|before| time <= *before) {
                let why = "times must rise from row to row: is this the column of the time, and does the file hold one recording only?";
                return Err(Fault::new(format!("row {row}, time"), cells[columns.time], "later than the row before", why));
            }
            t.push(time);
            angle.push(sense * degrees * (number(cells[columns.angle], self.separator, row, "angle")? - at_bottom));
        }
        if t.len() < LEAST_POINTS {
            let rows = if t.len() == 1 { "1 row".to_owned() } else { format!("{} rows", t.len()) };
            return Err(Fault::new(
                "file",
                rows,
                format!("{LEAST_POINTS} rows or more"),
                "a swing has eight unknowns: record it for a whole swing or two",
            ));
        }
        Ok((t, angle))
    }

    /// The numbers of some columns, row by row.
    ///
    /// # Errors
    /// A [`Fault`] at `row N` for a row with another number of cells, or a cell of these columns that is no number; at `column` for one that
    /// the table does not have.
    pub fn numbers(&self, columns: &[usize]) -> Result<Vec<Vec<f64>>, Fault> {
        let count = self.names.len();
        if let Some(k) = columns.iter().find(|k| **k >= count) {
            return Err(Fault::new("column", k + 1, format!("1 to {count}"), "the table has no such column"));
        }
        let mut out = vec![Vec::new(); columns.len()];
        for (i, line) in self.rows() {
            let cells = cells(line, self.separator);
            if cells.len() != count {
                let why = "a row has as many cells as the first one: a comma may be a decimal mark in one and part columns in another";
                return Err(Fault::new(format!("row {}", i + 1), shortened(line), format!("{count} cells"), why));
            }
            for (list, k) in out.iter_mut().zip(columns) {
                list.push(number(cells[*k], self.separator, i + 1, &self.names[*k])?);
            }
        }
        Ok(out)
    }

    /// Rows of numbers with their line, from 0.
    fn rows(&self) -> impl Iterator<Item = (usize, &str)> {
        lines(&self.text).skip_while(|(i, _)| *i < self.first)
    }
}

/// Lines that hold something, with their place from 0.
fn lines(text: &str) -> impl Iterator<Item = (usize, &str)> {
    text.lines()
        .enumerate()
        .map(|(i, l)| (i, l.trim_matches(['\r', '\u{feff}', ' '])))
        .filter(|(_, l)| !l.trim().is_empty() && !l.starts_with('#'))
}

fn cells(line: &str, separator: char) -> Vec<&str> {
    if separator == ' ' {
        return line.split_whitespace().map(|c| c.trim_matches('"')).collect();
    }
    line.split(separator).map(|c| c.trim().trim_matches('"').trim()).collect()
}

/// The first of semicolon, tab, comma that half of the rows hold; else space.
fn separator(text: &str) -> char {
    let rows: Vec<&str> = lines(text).take(SEPARATOR_ROWS).map(|(_, l)| l).collect();
    [';', '\t', ','].into_iter().find(|&s| 2 * rows.iter().filter(|r| r.contains(s)).count() > rows.len()).unwrap_or(' ')
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Eight rows of time 0, 1, … and this angle for the zeroth to the seventh: 0, 90, 180, … in units of `quarter`.
    fn table(heading: &str, row: impl Fn(usize) -> String) -> LogTable {
        let rows: String = (0..8).map(|k| row(k) + "\n").collect();
        LogTable::read(format!("{heading}{rows}").as_bytes()).unwrap_or_else(|f| panic!("{heading}: {f}"))
    }

    #[test]
    fn each_unit_of_time_and_angle_gives_seconds_and_degrees() {
        // A quarter turn a second, written in each unit.
        let plain = |c: Columns, t: AngleUnit| Columns { angle_unit: t, ..c };
        let base =
            Columns { time: 0, angle: 1, time_unit: TimeUnit::Seconds, angle_unit: AngleUnit::Degrees, clockwise: false, at_bottom: 0.0 };
        let rows: [(&str, f64, f64, Columns); 7] = [
            ("s, degrees", 1.0, 90.0, base),
            ("ms", 1000.0, 90.0, Columns { time_unit: TimeUnit::Milliseconds, ..base }),
            ("min", 1.0 / 60.0, 90.0, Columns { time_unit: TimeUnit::Minutes, ..base }),
            ("rad", 1.0, std::f64::consts::FRAC_PI_2, plain(base, AngleUnit::Radians)),
            ("turns", 1.0, 0.25, plain(base, AngleUnit::Turns)),
            ("4096 counts", 1.0, 1024.0, plain(base, AngleUnit::Counts { per_turn: 4096.0 })),
            ("clockwise", 1.0, -90.0, Columns { clockwise: true, ..base }),
        ];
        for (name, second, quarter, columns) in rows {
            let (t, angle) = table("", |k| format!("{};{}", k as f64 * second, k as f64 * quarter)).log(&columns).expect(name);
            for k in 0..8 {
                assert!((t[k] - k as f64).abs() < 1e-12 && (angle[k] - 90.0 * k as f64).abs() < 1e-9, "{name}: {t:?} {angle:?}");
            }
        }
        let (_, angle) = table("", |k| format!("{k};{}", 1024 * k))
            .log(&Columns { at_bottom: 1024.0, ..plain(base, AngleUnit::Counts { per_turn: 4096.0 }) })
            .expect("counts");
        assert!((angle[0] + 90.0).abs() < 1e-9, "a quarter turn before the bottom is −90°: {angle:?}");
    }

    #[test]
    fn headings_and_separators_of_many_recorders_are_found() {
        use {AngleUnit as A, TimeUnit as T};
        let at = |time, angle, time_unit, angle_unit| (time, angle, time_unit, angle_unit);
        let rows = [
            (
                "Recorder 7\nBench, second floor\n\nNo;Time (ms);Temp;Angle (rad)\n",
                "{k};{k}000;21,5;{k},5",
                at(1, 3, T::Milliseconds, A::Radians),
            ),
            ("t,temp,phi\ns,C,deg\n", "{k},20.5,{k}.5", at(0, 2, T::Seconds, A::Degrees)),
            ("# rig 2\n", "{k}.0  {k}.5", at(0, 1, T::Seconds, A::Degrees)),
            ("angle_deg\ttime_min\n", "{k}.5\t{k}", at(1, 0, T::Minutes, A::Degrees)),
            ("position (turns),time\n", "{k}.5,{k}", at(1, 0, T::Seconds, A::Turns)),
            ("ok,time,angle\n", "yes,{k},{k}.5", at(1, 2, T::Seconds, A::Degrees)),
        ];
        for (heading, row, (time, angle, time_unit, angle_unit)) in rows {
            let table = table(heading, |k| row.replace("{k}", &k.to_string()));
            let p = table.proposed();
            assert_eq!((p.time, p.angle, p.time_unit, p.angle_unit), (time, angle, time_unit, angle_unit), "{heading}");
            assert_eq!(table.log(&p).expect(heading).0.len(), 8, "{heading}");
        }
    }

    #[test]
    fn what_no_log_can_be_is_refused_at_its_row_or_column() {
        let good =
            Columns { time: 0, angle: 1, time_unit: TimeUnit::Seconds, angle_unit: AngleUnit::Degrees, clockwise: false, at_bottom: 0.0 };
        let eight = "0;1;x\n1;1;x\n2;1;x\n3;1;x\n4;1;x\n5;1;x\n6;1;x\n7;1;x\n";
        let rows: [(&str, String, Columns, &str); 12] = [
            ("one row", "0;1".into(), good, "file"),
            ("time backwards", format!("{eight}6.5;1;x"), good, "row 9, time"),
            ("time repeated", format!("{eight}7;1;x"), good, "row 9, time"),
            ("text picked", eight.into(), Columns { angle: 2, ..good }, "row 1, angle"),
            ("no such column", eight.into(), Columns { time: 3, ..good }, "time_column"),
            ("the same twice", eight.into(), Columns { angle: 0, ..good }, "angle_column"),
            ("no counts", eight.into(), Columns { angle_unit: AngleUnit::Counts { per_turn: 0.0 }, ..good }, "counts_per_turn"),
            ("zero not finite", eight.into(), Columns { at_bottom: f64::NAN, ..good }, "at_bottom"),
            ("cells missing", format!("{eight}8;1"), good, "row 9"),
            ("an empty cell", format!("{eight}8;;x"), good, "row 9, angle"),
            ("decimal commas between commas", "t,a\n0,0,94,25\n0,5,93,1\n".into(), good, "file"),
            ("one column", "10\n11\n".into(), good, "file"),
        ];
        for (name, text, columns, field) in rows {
            let fault = LogTable::read(text.as_bytes()).and_then(|t| t.log(&columns)).expect_err(name);
            assert_eq!(fault.field, field, "{name}: {fault}");
        }
        assert_eq!(LogTable::read(&vec![b'1'; MOST_TABLE_BYTES + 1]).expect_err("too large").field, "file");
        assert_eq!(LogTable::read(b"0,1\0").expect_err("binary").field, "file");
    }

    proptest::proptest! {
        #[test]
        fn any_bytes_give_a_log_or_a_fault(bytes in proptest::collection::vec(proptest::num::u8::ANY, 0..300)) {
            if let Ok(table) = LogTable::read(&bytes) && let Ok((t, a)) = table.log(&table.proposed()) {
                proptest::prop_assert!(t.len() == a.len() && t.iter().chain(&a).all(|v| v.is_finite()));
            }
        }
    }
}
