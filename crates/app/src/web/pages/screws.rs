//! Set screws in tapped holes: what to change, which are in, and the rows in which a person types it.

use super::super::form::{Field, Typed, field, select};
use super::super::show::Show;
use maud::{Markup, html};
use stillwheel_door::Fault;
use stillwheel_door::next_step::ScrewChange;
use stillwheel_store::TappedHoles;

/// Empty rows below those that are filled.
const SPARE_ROWS: usize = 3;

/// The changes, one line a hole.
pub(super) fn change_list(show: Show, changes: &[ScrewChange]) -> Markup {
    html! {
        ul.moves.screws {
            @for c in changes {
                li {
                    span.which aria-label={ "Hole " (c.hole + 1) } { (c.hole + 1) }
                    span {
                        @match (c.out_g, c.in_g) {
                            (None, Some(g)) => { "put in " span.to { (show.mass(g)) } },
                            (Some(g), None) => { "take out " span.to { (show.mass(g)) } },
                            (Some(out), Some(g)) => { (show.mass(out)) " out, " span.to { (show.mass(g)) } " in" },
                            (None, None) => { "stays empty" },
                        }
                    }
                    span.by { "hole " (c.hole + 1) ", at " (show.angle(c.at_deg)) }
                }
            }
        }
    }
}

/// Which screws are in, in a line: `hole 3: 2.3 g, hole 7: 4 g`.
pub(super) fn in_words(show: Show, t: &TappedHoles, screws: &[Option<usize>]) -> String {
    let words: Vec<String> = screws
        .iter()
        .enumerate()
        .filter_map(|(h, k)| k.and_then(|k| t.stock.get(k)).map(|s| format!("hole {}: {}", h + 1, show.mass(s.mass_g))))
        .collect();
    if words.is_empty() { "all holes empty".into() } else { words.join(", ") }
}

/// Names of the fields, for as many rows as there are holes.
pub(super) fn names(t: &TappedHoles) -> Vec<String> {
    (0..t.holes.len()).flat_map(|k| [format!("hole_{k}"), format!("screw_{k}")]).collect()
}

/// Rows for the screws that are in; what was typed before is kept, else they are filled from `screws`.
pub(super) fn rows(mut typed: Typed, show: Show, within: &str, t: &TappedHoles, screws: &[Option<usize>]) -> Markup {
    let filled = screws.iter().enumerate().filter_map(|(h, k)| k.map(|k| (h, k)));
    let mut rows = 0;
    for (hole, kind) in filled {
        typed.put_default(&format!("hole_{rows}"), (hole + 1).to_string());
        typed.put_default(&format!("screw_{rows}"), kind.to_string());
        rows += 1;
    }
    while !typed.text(&format!("hole_{rows}")).is_empty() {
        rows += 1;
    }
    let mut kinds = vec![(String::new(), "no screw".to_owned())];
    kinds.extend(t.stock.iter().enumerate().map(|(k, s)| (k.to_string(), format!("{} ({})", show.mass(s.mass_g), s.count))));
    html! {
        p.soft { "One row a screw. Holes are numbered 1 to " (t.holes.len()) " counter-clockwise, hole 1 at " (show.angle(t.holes.first().map_or(0.0, |h| h.at_deg))) "." }
        @for k in 0..(rows + SPARE_ROWS).min(t.holes.len()) {
            @let (hole, screw) = (format!("hole_{k}"), format!("screw_{k}"));
            div.pair {
                (field(&typed, Field { name: &hole, within, label: "Hole", keys: "numeric", required: true, lax: true, ..Field::default() }))
                (select(&typed, &screw, within, "Screw", "", &kinds))
            }
        }
    }
}

/// The rows as they were typed: which screw is in each hole. `None` leaves the faults in `typed`.
pub(super) fn read(typed: &mut Typed, t: &TappedHoles) -> Option<Vec<Option<usize>>> {
    let n = t.holes.len();
    let mut screws: Vec<Option<usize>> = vec![None; n];
    let mut said = vec![false; n];
    for k in 0..n {
        let (hole_name, screw_name) = (format!("hole_{k}"), format!("screw_{k}"));
        let (hole, screw) = (typed.text(&hole_name).to_owned(), typed.text(&screw_name).to_owned());
        if hole.is_empty() && screw.is_empty() {
            continue;
        }
        let number = hole.to_lowercase().trim_start_matches("hole").trim().parse::<usize>().ok().filter(|h| (1..=n).contains(h));
        let Some(h) = number.map(|h| h - 1) else {
            typed.blame(Fault::new(hole_name, hole, format!("a hole's number, 1 to {n}"), "There is no such hole on this ring."));
            continue;
        };
        if said[h] {
            typed.blame(Fault::new(hole_name, hole, "each hole once", "Two screws can’t be in one hole."));
            continue;
        }
        said[h] = true;
        if screw.is_empty() {
            continue;
        }
        match screw.parse::<usize>().ok().filter(|s| *s < t.stock.len()) {
            Some(s) => screws[h] = Some(s),
            None => typed.blame(Fault::new(
                screw_name,
                screw,
                "a screw of the stock",
                "This screw is not in the stock: add it to the ring’s record.",
            )),
        }
    }
    typed.is_good().then_some(screws)
}

#[cfg(test)]
mod tests {
    use super::*;
    use stillwheel_store::{Hole, ScrewStock};

    fn ring() -> TappedHoles {
        TappedHoles {
            holes: (0..24).map(|i| Hole { radius_mm: 48.0, at_deg: 15.0 * f64::from(i), fixed: false }).collect(),
            stock: vec![ScrewStock { mass_g: 1.1, count: 12 }, ScrewStock { mass_g: 2.3, count: 12 }],
        }
    }

    fn typed(pairs: &[(&str, &str)]) -> Typed {
        Typed::new(pairs.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect())
    }

    #[test]
    fn rows_are_read_by_hole_number_in_any_order() {
        let mut t = typed(&[("hole_0", "24"), ("screw_0", "1"), ("hole_1", "hole 3"), ("screw_1", "0"), ("hole_2", ""), ("screw_2", "")]);
        let screws = read(&mut t, &ring()).unwrap();
        assert_eq!((screws[23], screws[2]), (Some(1), Some(0)));
        assert_eq!(screws.iter().flatten().count(), 2);
        assert_eq!(in_words(Show::default(), &ring(), &screws), "hole 3: 1.1 g, hole 24: 2.3 g");
    }

    #[test]
    fn impossible_rows_are_faults_at_their_fields() {
        for (pairs, at) in [
            (vec![("hole_0", "25"), ("screw_0", "0")], "hole_0"),
            (vec![("hole_0", "0"), ("screw_0", "0")], "hole_0"),
            (vec![("hole_0", ""), ("screw_0", "1")], "hole_0"),
            (vec![("hole_0", "seven"), ("screw_0", "0")], "hole_0"),
            (vec![("hole_0", "7"), ("screw_0", "2")], "screw_0"),
            (vec![("hole_0", "7"), ("screw_0", "0"), ("hole_1", "7"), ("screw_1", "1")], "hole_1"),
        ] {
            let mut t = typed(&pairs);
            assert!(read(&mut t, &ring()).is_none(), "{pairs:?}");
            assert!(t.fault(at).is_some(), "{pairs:?}");
        }
    }
}
