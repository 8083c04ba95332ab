//! A swing log from the text of a file: two columns, time and angle, as cameras, encoders and spreadsheets write them.
//!
//! In: the bytes of the file. Out: (times in s, angles in degrees), or a fault that names the row. Nothing is guessed in
//! silence: what could be read in two ways is refused.

use crate::Fault;
use stillwheel_physics::bench::fit_log::MOST_POINTS;

/// Largest file, bytes: the most rows at 64 bytes each.
pub const MOST_BYTES: usize = 64 * MOST_POINTS;

/// Times and angles from the bytes of a two-column file.
///
/// Encodings: UTF-8 with or without a byte order mark, UTF-16 with one, and Latin-1 (the header may hold such letters; the
/// numbers are the same). Columns are parted by semicolon, tab or comma; with semicolon or tab, decimals may be written with a
/// comma. One header row is allowed; empty rows and rows that start with `#` are passed over. Whole numbers parted by commas need
/// the header: without it, `10,5` may be two columns or one number with a decimal comma.
///
/// # Errors
/// A [`Fault`] for a file larger than [`MOST_BYTES`] or with more than 200000 rows, an odd UTF-16 or other binary content, no rows, a row
/// without two numbers or with more columns than two, or commas that could be decimals or separators.
pub fn parse_log_csv(bytes: &[u8]) -> Result<(Vec<f64>, Vec<f64>), Fault> {
    if bytes.len() > MOST_BYTES {
        return Err(Fault::new(
            "file",
            format!("{} bytes", bytes.len()),
            format!("at most {MOST_BYTES} bytes, {MOST_POINTS} rows"),
            "the log is longer than it needs to be: thin it, every tenth point of a fast recording tells as much",
        ));
    }
    let text = decoded(bytes)?;
    let separator = separator(&text);
    let (mut t, mut angle) = (Vec::new(), Vec::new());
    let mut header_seen = false;
    // Whether anything shows that the rows are two columns, and not one with decimal commas.
    let mut two_columns = separator != ',';
    for (i, line) in text.lines().enumerate() {
        let row = i + 1;
        let line = line.trim_matches(|c: char| c == ' ' || c == '\r' || c == '\u{feff}');
        if line.trim().is_empty() || line.starts_with('#') {
            continue;
        }
        let cells: Vec<&str> = line.split(separator).map(|c| c.trim().trim_matches('"').trim()).collect();
        if !header_seen && t.is_empty() && cells.iter().all(|c| is_label(c)) {
            header_seen = true;
            if separator == ',' && cells.len() == 1 {
                return Err(one_column(row, line));
            }
            two_columns = true;
            continue;
        }
        if t.len() == MOST_POINTS {
            return Err(Fault::new(
                "file",
                format!("row {row}"),
                format!("at most {MOST_POINTS} rows"),
                "the log is longer than it needs to be: thin it",
            ));
        }
        let [first, second] = cells[..] else { return Err(wrong_columns(row, line, separator, cells.len())) };
        two_columns |= ![first, second].iter().all(|c| c.bytes().all(|b| b.is_ascii_digit()));
        t.push(number(first, separator, row, "time")?);
        angle.push(number(second, separator, row, "angle")?);
    }
    if t.is_empty() {
        return Err(Fault::new("file", "no rows", "rows of time (s) and angle (degrees)", "the file holds no numbers"));
    }
    if !two_columns {
        return Err(Fault::new(
            "file",
            "whole numbers parted by commas, without a header",
            "a header row such as t_s,angle_deg, or a semicolon between the columns",
            "each row could be time and angle, or one number with a decimal comma",
        ));
    }
    Ok((t, angle))
}

fn one_column(row: usize, line: &str) -> Fault {
    Fault::new(
        format!("row {row}"),
        shortened(line),
        "a header of two columns, time and angle, or none",
        "the header names one column: with decimal commas, part time and angle by a semicolon",
    )
}

pub(crate) fn decoded(bytes: &[u8]) -> Result<String, Fault> {
    let utf16 = |little: bool| -> Result<String, Fault> {
        let body = &bytes[2..];
        let broken = || {
            Fault::new(
                "file",
                "broken UTF-16",
                "UTF-8, UTF-16 or Latin-1 text",
                "the file starts as UTF-16 but is cut or damaged: save it again as UTF-8",
            )
        };
        if !body.len().is_multiple_of(2) {
            return Err(broken());
        }
        let units: Vec<u16> = body
            .chunks_exact(2)
            .map(|p| if little { u16::from_le_bytes([p[0], p[1]]) } else { u16::from_be_bytes([p[0], p[1]]) })
            .collect();
        String::from_utf16(&units).map_err(|_| broken())
    };
    if bytes.starts_with(&[0xff, 0xfe]) {
        return utf16(true);
    }
    if bytes.starts_with(&[0xfe, 0xff]) {
        return utf16(false);
    }
    if bytes.contains(&0) {
        return Err(Fault::new(
            "file",
            "binary content",
            "UTF-8, UTF-16 with a byte order mark, or Latin-1 text",
            "the file is not text: export it as CSV",
        ));
    }
    Ok(match std::str::from_utf8(bytes) {
        Ok(s) => s.to_owned(),
        // Latin-1: each byte is its own code point.
        Err(_) => bytes.iter().map(|&b| char::from(b)).collect(),
    })
}

/// Semicolon or tab, if any row holds one; else comma.
fn separator(text: &str) -> char {
    let first = text.lines().filter(|l| !l.starts_with('#')).find(|l| l.contains([';', '\t', ',']));
    match first {
        Some(l) if l.contains(';') => ';',
        Some(l) if l.contains('\t') => '\t',
        _ => ',',
    }
}

/// A cell of a header: it starts with a letter, and is no number in words (`nan`, `inf`).
pub(crate) fn is_label(cell: &str) -> bool {
    cell.chars().next().is_some_and(|c| c.is_alphabetic() || c == 'φ') && cell.parse::<f64>().is_err()
}

fn wrong_columns(row: usize, line: &str, separator: char, count: usize) -> Fault {
    let why = if separator == ',' && count == 4 {
        "four numbers between commas: decimal commas need a semicolon or a tab between the columns"
    } else {
        "each row holds time and angle and nothing else: leave out other columns"
    };
    Fault::new(format!("row {row}"), shortened(line), "two numbers, time in s and angle in degrees", why)
}

pub(crate) fn shortened(text: &str) -> String {
    text.chars().take(60).collect()
}

pub(crate) fn number(cell: &str, separator: char, row: usize, what: &str) -> Result<f64, Fault> {
    let refuse = |why: &str| Fault::new(format!("row {row}, {what}"), shortened(cell), "a finite number", why.to_owned());
    let commas = cell.matches(',').count();
    if commas > 1 || (commas == 1 && cell.contains('.')) {
        return Err(refuse("a thousands mark can't be told from a decimal mark: write the number without one"));
    }
    let plain = if separator == ',' { cell.to_owned() } else { cell.replace(',', ".") };
    let plain = plain.replace('\u{2212}', "-");
    if plain.is_empty() {
        return Err(refuse("the cell is empty: leave the whole row out where the mark was not seen"));
    }
    match plain.parse::<f64>() {
        Ok(v) if v.is_finite() => Ok(v),
        Ok(_) => Err(refuse("not a finite number: leave the row out where the mark was not seen")),
        Err(_) => Err(refuse("not a number: units and other text don't belong in the rows")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn utf16(text: &str, little: bool) -> Vec<u8> {
        let mut out = if little { vec![0xff, 0xfe] } else { vec![0xfe, 0xff] };
        out.extend(text.encode_utf16().flat_map(|u| if little { u.to_le_bytes() } else { u.to_be_bytes() }));
        out
    }

    #[test]
    fn every_common_way_to_write_the_same_two_rows_is_read_alike() {
        let expected = (vec![0.0, 0.5], vec![94.25, -12.5]);
        let rows: Vec<(&str, Vec<u8>)> = vec![
            ("comma, header", b"t_s,angle_deg\n0.0,94.25\n0.5,-12.5\n".to_vec()),
            ("comma, no header", b"0,94.25\n0.5,-12.5".to_vec()),
            ("semicolon, decimal comma", b"Zeit;Winkel\r\n0,0;94,25\r\n0,5;-12,5\r\n".to_vec()),
            ("tab, decimal comma", b"0,0\t94,25\n0,5\t-12,5\n".to_vec()),
            ("tab, points", b"time\tangle\n0.0\t94.25\n0.5\t-12.5\n".to_vec()),
            ("byte order mark", b"\xef\xbb\xbft_s,angle_deg\n0.0,94.25\n0.5,-12.5\n".to_vec()),
            ("byte order mark, no header", b"\xef\xbb\xbf0.0,94.25\n0.5,-12.5\n".to_vec()),
            ("quotes and spaces", b"\"t\" , \"phi\"\n \"0.0\" , \"94.25\"\n\"0.5\",\"-12.5\"\n".to_vec()),
            ("empty rows and remarks", b"# camera 2\n\nt,a\n0.0,94.25\n\n0.5,-12.5\n\n".to_vec()),
            ("Latin-1 header", b"Zeit (s);Winkel (\xb0)\n0,0;94,25\n0,5;-12,5\n".to_vec()),
            ("UTF-8 header and minus sign", "t;φ\n0;94.25\n0.5;\u{2212}12.5\n".as_bytes().to_vec()),
            ("UTF-16 little end first", utf16("t_s;angle\n0,0;94,25\n0,5;-12,5\n", true)),
            ("UTF-16 big end first", utf16("0.0,94.25\n0.5,-12.5\n", false)),
            ("exponents", b"0e0,9.425e1\n5E-1,-1.25e1\n".to_vec()),
        ];
        for (name, bytes) in rows {
            assert_eq!(parse_log_csv(&bytes), Ok(expected.clone()), "{name}");
        }
    }

    #[test]
    fn whole_numbers_are_two_columns_once_a_header_or_another_row_says_so() {
        for text in ["t,a\n0,94\n1,-12\n", "0,94\n1,-12\n", "0,94\n1,12.0\n", "0;94\n1;12\n"] {
            let (t, angle) = parse_log_csv(text.as_bytes()).expect(text);
            assert_eq!((t, angle[0], angle[1].abs()), (vec![0.0, 1.0], 94.0, 12.0), "{text}");
        }
    }

    #[test]
    fn what_can_not_be_read_is_refused_with_its_row() {
        let rows: [(&str, &[u8], &str); 15] = [
            ("one column with decimal commas", b"10,5\n11,2\n12,9\n", "file"),
            ("one column with decimal commas and a header", b"Winkel\n10,5\n11,2\n", "row 1"),
            ("whole numbers that could be decimals", b"0,94\n1,92\n2,90\n", "file"),
            ("empty", b"", "file"),
            ("header only", b"t,a\n", "file"),
            ("decimal commas between commas", b"t,a\n0,0,94,25\n", "row 2"),
            ("one column", b"0.0\n0.5\n", "row 1"),
            ("three columns", b"0,1,2\n", "row 1"),
            ("text in a row", b"0,1\n1,here\n", "row 2, angle"),
            ("a unit", b"0 s,1\n", "row 1, time"),
            ("NaN", b"0,1\n1,NaN\n", "row 2, angle"),
            ("infinite", b"0,1\ninf,3\n", "row 2, time"),
            ("thousands", b"0;1.234,5\n", "row 1, angle"),
            ("binary", b"0,1\0\0", "file"),
            ("cut UTF-16", &[0xff, 0xfe, 0x30], "file"),
        ];
        for (name, bytes, field) in rows {
            let fault = parse_log_csv(bytes).expect_err(name);
            assert_eq!(fault.field, field, "{name}: {fault}");
        }
    }

    #[test]
    fn a_second_header_row_is_no_header() {
        assert_eq!(parse_log_csv(b"t,a\ns,deg\n0,1\n").expect_err("units row").field, "row 2, time");
    }

    #[test]
    fn ten_million_rows_are_refused_early() {
        let bytes = b"0.0,1.0\n".repeat(10_000_000);
        let begun = std::time::Instant::now();
        assert_eq!(parse_log_csv(&bytes).expect_err("too large").field, "file");
        assert!(begun.elapsed().as_millis() < 20);
        // Short rows that fit in the bytes are counted.
        let fault = parse_log_csv(&b"1,2\n".repeat(MOST_POINTS + 1)).expect_err("too many");
        assert_eq!(fault.value, "row 200001".into());
    }

    proptest::proptest! {
        #[test]
        fn any_bytes_give_rows_or_a_fault(bytes in proptest::collection::vec(proptest::num::u8::ANY, 0..300)) {
            if let Ok((t, a)) = parse_log_csv(&bytes) {
                proptest::prop_assert_eq!(t.len(), a.len());
                proptest::prop_assert!(t.iter().chain(&a).all(|v| v.is_finite()));
            }
        }

        #[test]
        fn written_numbers_come_back_exactly(rows in proptest::collection::vec((-1e6..1e6_f64, -1e4..1e4_f64), 1..40), comma in proptest::bool::ANY) {
            let text: String = rows.iter().map(|(t, a)| { let line = format!("{t};{a}\n"); if comma { line.replace('.', ",") } else { line } }).collect();
            let (t, a) = parse_log_csv(text.as_bytes()).expect("numbers");
            proptest::prop_assert_eq!(rows, t.into_iter().zip(a).collect::<Vec<_>>());
        }
    }
}
