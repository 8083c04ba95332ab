//! A stand as a form.

use super::super::form::{Field, Typed, field, select};
use super::super::show::Show;
use super::record_form::{RecordForm, Refs};
use maud::{Markup, html};
use stillwheel_door::Fault;
use stillwheel_physics::quantity::Dimension;
use stillwheel_store::{Stand, StandKind};

const KINDS: [(StandKind, &str, &str); 5] = [
    (StandKind::AirSaddles, "air-saddles", "Air saddles under an arbor"),
    (StandKind::HardenedWays, "hardened-ways", "Flat hardened ways"),
    (StandKind::DiscRollers, "disc-rollers", "Overlapping discs"),
    (StandKind::KnifeEdges, "knife-edges", "Knife edges"),
    (StandKind::Other, "other", "Something else"),
];

/// A stand's kind in words.
pub(super) fn kind_words(kind: StandKind) -> &'static str {
    KINDS.iter().find(|k| k.0 == kind).map_or("", |k| k.2)
}

impl RecordForm for Stand {
    const PATH: &'static str = "stands";
    const WORD: &'static str = "stand";
    const FIELDS: &'static [&'static str] =
        &["name", "kind", "floor_g_mm", "dry_friction_g_mm", "drift_sd_g_mm", "arbor_radius_mm", "virtual_seed", "note"];

    fn line(&self, show: Show) -> String {
        let virtual_word = if self.virtual_seed.is_some() { "virtual, " } else { "" };
        format!("{virtual_word}{}, floor {}", kind_words(self.kind).to_lowercase(), show.unbalance(self.floor_g_mm))
    }

    fn fill(&self, typed: &mut Typed, show: Show) {
        typed.put("name", self.name.as_str());
        typed.put("kind", KINDS.iter().find(|k| k.0 == self.kind).map_or("", |k| k.1));
        for (name, v) in
            [("floor_g_mm", self.floor_g_mm), ("dry_friction_g_mm", self.dry_friction_g_mm), ("drift_sd_g_mm", self.drift_sd_g_mm)]
        {
            typed.put(name, show.typed(v, Dimension::Unbalance));
        }
        typed.put("arbor_radius_mm", self.arbor_radius_mm.map_or(String::new(), |r| show.typed(r, Dimension::Length)));
        typed.put("virtual_seed", self.virtual_seed.map_or(String::new(), |s| s.to_string()));
        typed.put("note", self.note.as_str());
        typed.put("sheet_toml", self.sheet_toml.as_str());
        typed.put("qualification", self.qualification.as_ref().map_or(String::new(), ToString::to_string));
        typed.put("as_made", self.as_made.as_ref().map_or(String::new(), ToString::to_string));
    }

    fn into_copy(self) -> Self {
        // What was measured was measured on the other one.
        Self { qualification: None, as_made: None, ..self }
    }

    fn blank(typed: &mut Typed, _show: Show, _refs: &Refs) {
        typed.put("kind", "air-saddles");
        typed.put("dry_friction_g_mm", "0");
    }

    fn read(typed: &mut Typed, show: Show) -> Option<Self> {
        let kind = KINDS.iter().find(|k| k.1 == typed.text("kind")).map(|k| k.0);
        if kind.is_none() {
            typed.blame(Fault::new("kind", typed.text("kind"), "one of the list", "Choose what bears the rotor."));
        }
        let floor_g_mm = typed.number("floor_g_mm", Dimension::Unbalance, show);
        let dry_friction_g_mm = typed.number("dry_friction_g_mm", Dimension::Unbalance, show);
        let drift_sd_g_mm = typed.number("drift_sd_g_mm", Dimension::Unbalance, show);
        let arbor_radius_mm = typed.optional("arbor_radius_mm", Dimension::Length, show);
        let seed = typed.text("virtual_seed").to_owned();
        let virtual_seed = if seed.is_empty() { None } else { seed.parse::<u64>().ok() };
        if !seed.is_empty() && virtual_seed.is_none() {
            typed.blame(Fault::new(
                "virtual_seed",
                seed,
                "a whole number, 0 or more",
                "It picks the hidden wheel; the same number gives the same wheel.",
            ));
        }
        let qualification = kept_json(typed, "qualification");
        let as_made = kept_json(typed, "as_made");
        if !typed.is_good() {
            return None;
        }
        Some(Self {
            name: typed.text("name").to_owned(),
            kind: kind?,
            floor_g_mm,
            dry_friction_g_mm,
            drift_sd_g_mm,
            arbor_radius_mm,
            virtual_seed,
            // Forms come with CRLF.
            sheet_toml: typed.text("sheet_toml").replace("\r\n", "\n"),
            qualification,
            as_made,
            note: typed.text("note").to_owned(),
        })
    }

    fn fields(typed: &Typed, show: Show, _refs: &Refs) -> Markup {
        let unit = show.unbalance_unit();
        let kinds: Vec<(String, String)> = KINDS.iter().map(|k| (k.1.to_owned(), k.2.to_owned())).collect();
        html! {
            (field(typed, Field { name: "name", label: "Name", required: true, ..Field::default() }))
            (select(typed, "kind", "", "It bears the rotor on", "", &kinds))
            (field(typed, Field { name: "floor_g_mm", label: "Floor: smallest unbalance it can show", unit, keys: "decimal", required: true, ..Field::default() }))
            (field(typed, Field { name: "dry_friction_g_mm", label: "Dry friction, told as an unbalance", unit, hint: "0 on air.", keys: "decimal", required: true, ..Field::default() }))
            (field(typed, Field { name: "drift_sd_g_mm", label: "Drift: its usual size, told as an unbalance", unit, hint: "A steady push from the air film or from slope.", keys: "decimal", required: true, ..Field::default() }))
            (field(typed, Field { name: "arbor_radius_mm", label: "Radius of the arbor", unit: show.unit(Dimension::Length), hint: "Needed on ways and edges, where the arbor rolls.", keys: "decimal", ..Field::default() }))
            (field(typed, Field { name: "virtual_seed", label: "Virtual stand: number of its hidden wheel", hint: "Leave empty for a real stand.", keys: "numeric", ..Field::default() }))
            (field(typed, Field { name: "note", label: "Remarks", ..Field::default() }))
            // Kept as it is: it is edited on the stand's own page.
            textarea name="sheet_toml" hidden readonly aria-label="Stand sheet" { (typed.text("sheet_toml")) }
            input type="hidden" name="qualification" value=(typed.text("qualification"));
            input type="hidden" name="as_made" value=(typed.text("as_made"));
        }
    }
}

/// What another page of the stand keeps, carried through the form as it is.
fn kept_json(typed: &mut Typed, name: &str) -> Option<serde_json::Value> {
    let kept = typed.text(name).to_owned();
    let value = if kept.is_empty() { None } else { serde_json::from_str(&kept).ok() };
    if !kept.is_empty() && value.is_none() {
        typed.blame(Fault::new(name, "not JSON", "as it was kept", "It is written on the stand's own page; load this page again."));
    }
    value
}
