//! A machine as a form.

use super::super::form::{Field, Typed, field};
use super::super::show::Show;
use super::record_form::{RecordForm, Refs};
use maud::{Markup, html};
use stillwheel_physics::quantity::Dimension;
use stillwheel_store::Machine;

impl RecordForm for Machine {
    const PATH: &'static str = "machines";
    const WORD: &'static str = "machine";
    const FIELDS: &'static [&'static str] = &["name", "speed_rpm", "note"];

    fn line(&self, _show: Show) -> String {
        format!("{} r/min", self.speed_rpm)
    }

    fn fill(&self, typed: &mut Typed, _show: Show) {
        typed.put("name", self.name.as_str());
        typed.put("speed_rpm", format!("{}", self.speed_rpm));
        typed.put("note", self.note.as_str());
        typed.put("sheet_toml", self.sheet_toml.as_str());
    }

    fn blank(_typed: &mut Typed, _show: Show, _refs: &Refs) {}

    fn read(typed: &mut Typed, show: Show) -> Option<Self> {
        let speed_rpm = typed.number("speed_rpm", Dimension::Speed, show);
        typed.is_good().then(|| Self {
            name: typed.text("name").to_owned(),
            speed_rpm,
            // Forms come with CRLF.
            sheet_toml: typed.text("sheet_toml").replace("\r\n", "\n"),
            note: typed.text("note").to_owned(),
        })
    }

    fn fields(typed: &Typed, _show: Show, _refs: &Refs) -> Markup {
        html! {
            (field(typed, Field { name: "name", label: "Name", required: true, ..Field::default() }))
            (field(typed, Field { name: "speed_rpm", label: "Spindle speed", unit: "r/min", hint: "The highest at which this wheel will run here; measured, if you can.", keys: "decimal", required: true, ..Field::default() }))
            (field(typed, Field { name: "note", label: "Remarks", ..Field::default() }))
            // Kept as it is: it is edited on the machine's own page.
            textarea name="sheet_toml" hidden readonly aria-label="Machine sheet" { (typed.text("sheet_toml")) }
        }
    }
}
