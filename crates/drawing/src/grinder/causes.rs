//! Causes of marks by rank: a bar for each probability.

use crate::colour::{MUTED, PAPER, WEIGHT};
use crate::stand::text;
use crate::svg::{Svg, el, number};
use crate::wheel::check_prefix;
use stillwheel_physics::{Fault, Ranged};

/// One cause.
#[derive(Clone, Debug, PartialEq)]
pub struct CauseBar {
    /// In words.
    pub name: String,
    /// What it would print, in a few words: "28.8 mm, 8.68 Hz".
    pub prints: String,
    /// Its probability (0 to 1).
    pub probability: f64,
}

/// What the plot shows.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct CausesPlot {
    /// What it is, in a few words, for screen readers.
    pub title: String,
    /// Put before every id: letters, digits, `-`, at most 40.
    pub id_prefix: String,
    /// The causes, the most probable first (1 to 20).
    pub causes: Vec<CauseBar>,
}

const LEFT: f64 = 12.0;
const WIDE: f64 = 300.0;
/// Letters of a name that fit on a line.
const LINE: usize = 52;

/// Draw the causes.
///
/// # Errors
/// A [`Fault`] for no cause, too many, or a probability that is none.
pub fn causes(plot: &CausesPlot) -> Result<String, Fault> {
    check(plot)?;
    let rows: Vec<Vec<String>> = plot.causes.iter().map(|c| lines(&c.name)).collect();
    let height = 6.0 + rows.iter().map(|r| 17.0 * r.len() as f64 + 34.0).sum::<f64>();
    let root = el("svg").s("viewBox", &format!("0 0 400 {}", number(height))).s("data-picture", "causes");
    let told: Vec<String> = plot.causes.iter().map(|c| format!("{}: {}", c.name, percent(c.probability))).collect();
    let words = format!("Causes of the marks, the most probable first. {}.", told.join("; "));
    let mut svg = Svg::start(root, &plot.id_prefix, &plot.title, &words);
    let mut y = 4.0;
    for (cause, name) in plot.causes.iter().zip(&rows) {
        for line in name {
            y += 17.0;
            svg.text(text("start", LEFT, y - 3.0), line);
        }
        let bar = || el("rect").n("x", LEFT).n("y", y + 1.0).n("height", 13.0);
        svg.add(bar().n("width", WIDE).paint(PAPER, MUTED, 0.8));
        svg.add(bar().n("width", (WIDE * cause.probability).max(0.6)).paint(WEIGHT, WEIGHT, 0.8).s("data-part", "cause"));
        svg.text(text("start", LEFT + WIDE + 8.0, y + 12.0).s("font-weight", "bold"), &percent(cause.probability));
        svg.text(text("start", LEFT, y + 28.0), &cause.prints);
        y += 34.0;
    }
    svg.finish()
}

fn percent(p: f64) -> String {
    if p < 0.01 { "under 1 %".into() } else { format!("{:.0} %", 100.0 * p) }
}

/// A name broken into lines at its spaces.
fn lines(name: &str) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in name.split_whitespace() {
        let last = lines.len() - 1;
        let line = &mut lines[last];
        if line.is_empty() {
            line.push_str(word);
        } else if line.chars().count() + 1 + word.chars().count() <= LINE {
            line.push(' ');
            line.push_str(word);
        } else {
            lines.push(word.to_owned());
        }
    }
    lines
}

fn check(plot: &CausesPlot) -> Result<(), Fault> {
    check_prefix(&plot.id_prefix)?;
    if !(1..=20).contains(&plot.causes.len()) {
        return Err(Fault::new("causes", plot.causes.len(), "1 to 20 causes", "more are not read"));
    }
    for (i, c) in plot.causes.iter().enumerate() {
        c.probability.within(&format!("causes[{i}].probability"), 0.0, 1.0, "", "a probability")?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_name_is_broken_at_its_spaces() {
        let name = "the mains, twice its frequency: a motor’s hum, seen once a turn by a high place of the wheel";
        let lines = lines(name);
        assert_eq!(lines.len(), 2);
        assert!(lines.iter().all(|l| l.chars().count() <= LINE));
        assert_eq!(lines.join(" "), name);
    }
}
