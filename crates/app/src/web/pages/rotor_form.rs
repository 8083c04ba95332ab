//! A rotor as a form.

use super::super::form::{Field, Typed, field, select};
use super::super::show::Show;
use super::inertia;
use super::record_form::{RecordForm, Refs, mass_kg, mass_unit, percent, plain, typed_mass_kg};
use maud::{Markup, html};
use stillwheel_door::Fault;
use stillwheel_physics::quantity::Dimension;
use stillwheel_store::{Id, Rotor, Wheel};

impl RecordForm for Rotor {
    const PATH: &'static str = "rotors";
    const WORD: &'static str = "rotor";
    const FIELDS: &'static [&'static str] = &[
        "name",
        "diameter_mm",
        "width_mm",
        "bore_mm",
        "maker_marking",
        "max_speed_m_s",
        "max_speed_rpm",
        "mass_kg",
        "inertia_kg_m2",
        "inertia_rel_sd",
        "inertia_from",
        "ring",
        "expected_unbalance_g_mm",
        "note",
    ];
    const HELPING: &'static [&'static str] = inertia::FIELDS;

    fn offers(base: &str) -> Markup {
        let page = base.trim_start_matches("/records");
        html! { section.card.narrow { div.links { a href=(page) { "Its sittings and what to expect next" } a href={ (page) "/label/a4.pdf" } { "Label with QR code" } } } }
    }

    fn work_out(typed: &mut Typed, show: Show) -> Option<String> {
        inertia::work_out(typed, show)
    }

    fn line(&self, show: Show) -> String {
        let w = &self.wheel;
        format!(
            "{} × {} × {}, {}",
            show.length(w.diameter_mm),
            show.length(w.width_mm),
            show.length(w.bore_mm),
            show.mass(1000.0 * self.mass_kg)
        )
    }

    fn fill(&self, typed: &mut Typed, show: Show) {
        let some = |v: Option<f64>| v.map_or(String::new(), |v| format!("{v}"));
        typed.put("name", self.name.as_str());
        typed.put("diameter_mm", show.typed(self.wheel.diameter_mm, Dimension::Length));
        typed.put("width_mm", show.typed(self.wheel.width_mm, Dimension::Length));
        typed.put("bore_mm", show.typed(self.wheel.bore_mm, Dimension::Length));
        typed.put("maker_marking", self.wheel.maker_marking.as_str());
        typed.put("max_speed_m_s", some(self.wheel.max_speed_m_s));
        typed.put("max_speed_rpm", some(self.wheel.max_speed_rpm));
        typed.put("mass_kg", typed_mass_kg(self.mass_kg, show));
        typed.put("inertia_kg_m2", format!("{}", self.inertia_kg_m2));
        typed.put("inertia_rel_sd", super::super::show::significant(100.0 * self.inertia_rel_sd, 6));
        typed.put("inertia_from", self.inertia_from.as_str());
        typed.put("ring", self.ring.as_str());
        typed.put("expected_unbalance_g_mm", self.expected_unbalance_g_mm.map_or(String::new(), |v| show.typed(v, Dimension::Unbalance)));
        typed.put("note", self.note.as_str());
    }

    fn blank(typed: &mut Typed, _show: Show, refs: &Refs) {
        typed.put("inertia_rel_sd", "5");
        if let Some(ring) = refs.rings.first() {
            typed.put("ring", ring.id.as_str());
        }
    }

    fn read(typed: &mut Typed, show: Show) -> Option<Self> {
        let wheel = Wheel {
            diameter_mm: typed.number("diameter_mm", Dimension::Length, show),
            width_mm: typed.number("width_mm", Dimension::Length, show),
            bore_mm: typed.number("bore_mm", Dimension::Length, show),
            maker_marking: typed.text("maker_marking").to_owned(),
            max_speed_m_s: optional_plain(typed, "max_speed_m_s"),
            max_speed_rpm: typed.optional("max_speed_rpm", Dimension::Speed, show),
        };
        let mass_kg = mass_kg(typed, "mass_kg", show);
        let inertia_kg_m2 = plain(typed, "inertia_kg_m2");
        let inertia_rel_sd = percent(typed, "inertia_rel_sd");
        let expected_unbalance_g_mm = typed.optional("expected_unbalance_g_mm", Dimension::Unbalance, show);
        let ring = Id::parse(typed.text("ring")).ok();
        if ring.is_none() {
            typed.blame(Fault::new("ring", "missing", "one of the list", "Make the weight ring first, then choose it here."));
        }
        if !typed.is_good() {
            return None;
        }
        Some(Self {
            name: typed.text("name").to_owned(),
            wheel,
            mass_kg,
            inertia_kg_m2,
            inertia_rel_sd,
            inertia_from: typed.text("inertia_from").to_owned(),
            ring: ring?,
            expected_unbalance_g_mm,
            note: typed.text("note").to_owned(),
        })
    }

    fn fields(typed: &Typed, show: Show, refs: &Refs) -> Markup {
        let length = show.unit(Dimension::Length);
        let number = |name, label, unit, hint, required| {
            field(typed, Field { name, label, unit, hint, keys: "decimal", required, ..Field::default() })
        };
        let rings: Vec<(String, String)> = refs.rings.iter().map(|r| (r.id.to_string(), r.body.name.clone())).collect();
        html! {
            (field(typed, Field { name: "name", label: "Name", hint: "For example wheel and adapter: “46 grit on adapter 3”.", required: true, ..Field::default() }))
            fieldset {
                legend { "Wheel" }
                div.pair {
                    (number("diameter_mm", "Diameter", length, "", true))
                    (number("width_mm", "Width", length, "", true))
                }
                div.pair {
                    (number("bore_mm", "Bore", length, "", true))
                    (number("max_speed_rpm", "Marked r/min", "", "", false))
                }
                (number("max_speed_m_s", "Marked speed", "m/s", "As marked on the wheel; never to be exceeded.", false))
                (field(typed, Field { name: "maker_marking", label: "Marking", hint: "As printed on the wheel.", ..Field::default() }))
            }
            fieldset {
                legend { "Mass and inertia of all that turns on the stand" }
                (number("mass_kg", "Mass", mass_unit(show), "Weigh wheel, adapter and arbor together.", true))
                (number("inertia_kg_m2", "Moment of inertia", "kg·m²", "Weighed and measured, or swung with a known trial weight: work it out below.", true))
                (number("inertia_rel_sd", "How well it is known", "%", "One standard deviation; 5 % from dimensions is common. A wrong value only costs a look.", true))
                (field(typed, Field { name: "inertia_from", label: "How it was found", ..Field::default() }))
            }
            (inertia::fields_of(typed, show))
            @if rings.is_empty() {
                p.caution { strong { "No weight ring yet." } " " a href="/records/rings/new" { "Make one first" } ", then come back." }
            }
            (select(typed, "ring", "", "Weight ring", "", &rings))
            (number("expected_unbalance_g_mm", "Unbalance to be expected", show.unbalance_unit(), "Leave empty if you don't know.", false))
            (field(typed, Field { name: "note", label: "Remarks", ..Field::default() }))
        }
    }
}

fn optional_plain(typed: &mut Typed, name: &str) -> Option<f64> {
    if typed.text(name).is_empty() { None } else { Some(plain(typed, name)) }
}
