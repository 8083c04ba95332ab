//! A weight ring as a form: a groove with sliding weights, or a circle of tapped holes.

use super::super::form::{Field, Typed, field, select};
use super::super::show::{Show, significant};
use super::record_form::{RecordForm, Refs};
use maud::{Markup, html};
use stillwheel_door::Fault;
use stillwheel_physics::quantity::Dimension;
use stillwheel_store::{Groove, GrooveWeight, Hole, RingKind, ScrewStock, TappedHoles, WeightRing};

/// Rows for weights in the form; more come by the file of records.
const WEIGHT_ROWS: usize = 8;
const STOCK_ROWS: usize = 4;
const ROWS: [&str; WEIGHT_ROWS] = ["1", "2", "3", "4", "5", "6", "7", "8"];

impl RecordForm for WeightRing {
    const PATH: &'static str = "rings";
    const WORD: &'static str = "weight ring";
    const FIELDS: &'static [&'static str] = &[
        "name",
        "radius_mm",
        "kind",
        "graduation_deg",
        "forbidden",
        "holes",
        "first_hole",
        "fixed_holes",
        "note",
        "mass_1",
        "mass_2",
        "mass_3",
        "mass_4",
        "mass_5",
        "mass_6",
        "mass_7",
        "mass_8",
        "arc_1",
        "arc_2",
        "arc_3",
        "arc_4",
        "arc_5",
        "arc_6",
        "arc_7",
        "arc_8",
        "screw_1",
        "screw_2",
        "screw_3",
        "screw_4",
        "count_1",
        "count_2",
        "count_3",
        "count_4",
    ];

    fn in_form(typed: &Typed, field: &str) -> Option<String> {
        let (list, rest) = field.strip_prefix("kind.")?.split_once('.')?.1.split_once('[')?;
        let (index, rest) = rest.split_once(']')?;
        let name = match (list, rest) {
            ("weights", ".mass_g") => "mass",
            ("weights", ".arc_deg") => "arc",
            ("stock", ".mass_g") => "screw",
            ("stock", ".count") => "count",
            ("holes", ".at_deg") => return Some("first_hole".into()),
            ("forbidden_deg", _) => return Some("forbidden".into()),
            _ => return None,
        };
        // Empty rows of the form are left out of the list.
        let key = if list == "weights" { "mass" } else { "screw" };
        let row = ROWS.iter().filter(|r| !typed.text(&format!("{key}_{r}")).is_empty()).nth(index.parse().ok()?)?;
        Some(format!("{name}_{row}"))
    }

    fn offers(base: &str) -> Markup {
        super::template::card(base, "The ring on paper, to lay on it or to measure from.")
    }

    fn line(&self, show: Show) -> String {
        let radius = show.length(self.radius_mm);
        match &self.kind {
            RingKind::Groove(g) => format!("groove at radius {radius}, {} weights", g.weights.len()),
            RingKind::TappedHoles(t) => format!("{} tapped holes at radius {radius}", t.holes.len()),
        }
    }

    fn fill(&self, typed: &mut Typed, show: Show) {
        typed.put("name", self.name.as_str());
        typed.put("radius_mm", show.typed(self.radius_mm, Dimension::Length));
        typed.put("note", self.note.as_str());
        match &self.kind {
            RingKind::Groove(g) => {
                typed.put("kind", "groove");
                typed.put("graduation_deg", format!("{}", g.graduation_deg));
                for (row, w) in ROWS.iter().zip(&g.weights) {
                    typed.put(format!("mass_{row}"), show.typed(w.mass_g, Dimension::Mass));
                    typed.put(format!("arc_{row}"), significant(w.arc_deg, 9));
                    if w.fixed {
                        typed.put(format!("fixed_{row}"), "on");
                    }
                }
                typed.put("forbidden", g.forbidden_deg.iter().map(|f| format!("{}-{}", f[0], f[1])).collect::<Vec<_>>().join("; "));
                if !g.no_passing {
                    typed.put("passing", "on");
                }
            }
            RingKind::TappedHoles(t) => {
                typed.put("kind", "tapped-holes");
                typed.put("graduation_deg", "1");
                typed.put("holes", t.holes.len().to_string());
                typed.put("first_hole", t.holes.first().map_or(String::new(), |h| significant(h.at_deg, 9)));
                let fixed = t.holes.iter().enumerate().filter(|(_, h)| h.fixed).map(|(i, _)| (i + 1).to_string());
                typed.put("fixed_holes", fixed.collect::<Vec<_>>().join(", "));
                for (row, s) in ROWS.iter().zip(&t.stock) {
                    typed.put(format!("screw_{row}"), show.typed(s.mass_g, Dimension::Mass));
                    typed.put(format!("count_{row}"), s.count.to_string());
                }
            }
        }
    }

    fn blank(typed: &mut Typed, _show: Show, _refs: &Refs) {
        typed.put("kind", "groove");
        typed.put("graduation_deg", "1");
        typed.put("first_hole", "0");
    }

    fn read(typed: &mut Typed, show: Show) -> Option<Self> {
        let radius_mm = typed.number("radius_mm", Dimension::Length, show);
        let kind = match typed.text("kind") {
            "tapped-holes" => RingKind::TappedHoles(read_holes(typed, show, radius_mm)),
            _ => RingKind::Groove(read_groove(typed, show)),
        };
        typed.is_good().then(|| Self { name: typed.text("name").to_owned(), radius_mm, kind, note: typed.text("note").to_owned() })
    }

    fn fields(typed: &Typed, show: Show, _refs: &Refs) -> Markup {
        let kinds = [
            ("groove".to_owned(), "Weights that slide in a groove".to_owned()),
            ("tapped-holes".to_owned(), "Set screws in tapped holes".to_owned()),
        ];
        let holes = typed.text("kind") == "tapped-holes";
        html! {
            (field(typed, Field { name: "name", label: "Name", required: true, ..Field::default() }))
            (field(typed, Field { name: "radius_mm", label: "Radius of the weights' mass centres", unit: show.unit(Dimension::Length), keys: "decimal", required: true, ..Field::default() }))
            (select(typed, "kind", "", "It carries", "", &kinds))
            details open[!holes] { summary { "Groove" } div.inside { (groove_fields(typed, show)) } }
            details open[holes] { summary { "Tapped holes" } div.inside { (hole_fields(typed, show)) } }
            (field(typed, Field { name: "note", label: "Remarks", ..Field::default() }))
        }
    }
}

fn groove_fields(typed: &Typed, show: Show) -> Markup {
    let filled = ROWS.iter().filter(|r| !typed.text(&format!("mass_{r}")).is_empty()).count();
    html! {
        p.soft { "One row a weight, in the order of the numbers stamped on them. Empty rows are left out." }
        @for row in ROWS.iter().take((filled + 2).clamp(3, WEIGHT_ROWS)) {
            div.pair {
                (field(typed, Field { name: &format!("mass_{row}"), label: &format!("Weight {row}: mass"), unit: show.unit(Dimension::Mass), keys: "decimal", required: true, ..Field::default() }.not_enforced()))
                (field(typed, Field { name: &format!("arc_{row}"), label: "its arc", unit: "°", keys: "decimal", required: true, ..Field::default() }.not_enforced()))
            }
            label.pick { input type="checkbox" name=(format!("fixed_{row}")) checked[typed.ticked(&format!("fixed_{row}"))]; "Weight " (row) " stays where it is (peened in, or pinned)" }
        }
        (field(typed, Field { name: "graduation_deg", label: "Graduations every", unit: "°", hint: "Weights are placed on these marks.", keys: "decimal", required: true, ..Field::default() }.not_enforced()))
        (field(typed, Field { name: "forbidden", label: "Arcs where no weight may stand", hint: "From-to in degrees counter-clockwise, for example 350-10; 170-190.", ..Field::default() }))
        label.pick { input type="checkbox" name="passing" checked[typed.ticked("passing")]; "Weights can be lifted past one another" }
    }
}

fn hole_fields(typed: &Typed, show: Show) -> Markup {
    html! {
        div.pair {
            (field(typed, Field { name: "holes", label: "Holes, evenly spaced", keys: "numeric", required: true, ..Field::default() }.not_enforced()))
            (field(typed, Field { name: "first_hole", label: "First hole at", unit: "°", keys: "decimal", required: true, ..Field::default() }.not_enforced()))
        }
        (field(typed, Field { name: "fixed_holes", label: "Holes that must stay as they are", hint: "By number, counter-clockwise from the first: a peened screw, a spoilt thread. For example 4, 10.", ..Field::default() }))
        p.soft { "Screws at hand:" }
        @for row in ROWS.iter().take(STOCK_ROWS) {
            div.pair {
                (field(typed, Field { name: &format!("screw_{row}"), label: &format!("Screw {row}: mass"), unit: show.unit(Dimension::Mass), keys: "decimal", required: true, ..Field::default() }.not_enforced()))
                (field(typed, Field { name: &format!("count_{row}"), label: "how many", keys: "numeric", required: true, ..Field::default() }.not_enforced()))
            }
        }
    }
}

fn read_groove(typed: &mut Typed, show: Show) -> Groove {
    let mut weights = Vec::new();
    for row in ROWS {
        let (mass, arc) = (format!("mass_{row}"), format!("arc_{row}"));
        if let Some(mass_g) = typed.optional(&mass, Dimension::Mass, show) {
            let arc_deg = typed.optional(&arc, Dimension::Angle, show).unwrap_or(0.0);
            let fixed = typed.ticked(&format!("fixed_{row}"));
            weights.push(GrooveWeight { mass_g, arc_deg, fixed });
        }
    }
    if weights.is_empty() {
        typed.blame(Fault::new("mass_1", "missing", "at least one weight", "A groove without weights can't correct anything."));
    }
    let graduation_deg = typed.number("graduation_deg", Dimension::Angle, show);
    let forbidden_deg = read_arcs(typed);
    Groove { weights, graduation_deg, forbidden_deg, no_passing: !typed.ticked("passing") }
}

fn read_arcs(typed: &mut Typed) -> Vec<[f64; 2]> {
    let text = typed.text("forbidden").to_owned();
    let mut arcs = Vec::new();
    for part in text.split(';').map(str::trim).filter(|p| !p.is_empty()) {
        let ends = part
            .split_once('-')
            .map(|(a, b)| (a.trim().trim_end_matches('°').parse::<f64>(), b.trim().trim_end_matches('°').parse::<f64>()));
        match ends {
            Some((Ok(a), Ok(b))) if (0.0..=360.0).contains(&a) && (0.0..=360.0).contains(&b) => arcs.push([a, b]),
            _ => typed.blame(Fault::new(
                "forbidden",
                part,
                "from-to in degrees, each 0 to 360, parted by semicolons",
                "This arc could not be read.",
            )),
        }
    }
    arcs
}

fn read_holes(typed: &mut Typed, show: Show, radius_mm: f64) -> TappedHoles {
    let count = whole(typed, "holes", 360);
    let first = typed.number("first_hole", Dimension::Angle, show);
    let pitch = 360.0 / f64::from(count.max(1));
    let mut holes: Vec<Hole> =
        (0..count).map(|i| Hole { radius_mm, at_deg: (first + pitch * f64::from(i)).rem_euclid(360.0), fixed: false }).collect();
    let fixed = typed.text("fixed_holes").to_owned();
    for text in fixed.split([',', ';', ' ']).map(str::trim).filter(|t| !t.is_empty()) {
        match text.parse::<usize>().ok().and_then(|n| holes.get_mut(n.checked_sub(1)?)) {
            Some(hole) => hole.fixed = true,
            None => typed.blame(Fault::new("fixed_holes", text, format!("numbers 1 to {count}"), "There is no such hole on this ring.")),
        }
    }
    let mut stock = Vec::new();
    for row in ROWS.iter().take(STOCK_ROWS) {
        let (screw, how_many) = (format!("screw_{row}"), format!("count_{row}"));
        if let Some(mass_g) = typed.optional(&screw, Dimension::Mass, show) {
            if stock.iter().any(|s: &ScrewStock| s.mass_g == mass_g) {
                typed.blame(Fault::new(screw, mass_g, "each mass once", "Two rows of one mass can’t be told apart: add their counts."));
                continue;
            }
            stock.push(ScrewStock { mass_g, count: whole(typed, &how_many, 100_000) });
        }
    }
    TappedHoles { holes, stock }
}

fn whole(typed: &mut Typed, name: &str, most: u32) -> u32 {
    match typed.text(name).parse::<u32>() {
        Ok(n) if (1..=most).contains(&n) => n,
        _ => {
            typed.blame(Fault::new(name, typed.text(name), format!("a whole number, 1 to {most}"), "This must be a count."));
            0
        }
    }
}
