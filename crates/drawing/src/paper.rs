//! What sheets of text share: lines that fit a width.

use crate::colour::INK;
use crate::svg::{El, el};

/// Share of the letter size that a letter of the embedded font is wide: the mean is 0.6, wide ones take more.
const LETTER: f64 = 0.62;

/// A text element of this size in mm.
pub(crate) fn text(at: [f64; 2], size: f64) -> El {
    coloured_text(at, size, INK)
}

/// The same in another colour.
pub(crate) fn coloured_text(at: [f64; 2], size: f64, ink: &str) -> El {
    el("text").xy(["x", "y"], at).n("font-size", size).s("fill", ink)
}

/// The size at which a text fits on one line of `width`, at most `size`.
pub(crate) fn fitting(text: &str, width: f64, size: f64) -> f64 {
    // Few letters may all be wide ones.
    size.min(width / (0.7 * text.chars().count().max(1) as f64))
}

/// The text in lines no wider than `width` at this size; a word longer than a line is cut.
pub(crate) fn wrapped(text: &str, width: f64, size: f64) -> Vec<String> {
    let most = (width / (LETTER * size)).floor().max(4.0) as usize;
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let letters: Vec<char> = word.chars().collect();
        for piece in letters.chunks(most) {
            let line = lines.last_mut().expect("there is always one");
            let used = line.chars().count();
            if used > 0 && used + 1 + piece.len() > most {
                lines.push(piece.iter().collect());
            } else {
                if used > 0 {
                    line.push(' ');
                }
                line.extend(piece);
            }
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_kept_whole_where_they_fit_and_none_is_lost() {
        // 62 mm at 2 mm: 50 letters a line.
        let say = "Settled with 135° at the bottom, rotor turned by 180° on the arbor";
        assert_eq!(wrapped(say, 62.0, 2.0), ["Settled with 135° at the bottom, rotor turned by", "180° on the arbor"]);
        let long = "x".repeat(120);
        assert_eq!(wrapped(&long, 62.0, 2.0).iter().map(String::len).collect::<Vec<_>>(), [50, 50, 20]);
        assert_eq!(wrapped("", 62.0, 2.0), [""]);
    }
}
