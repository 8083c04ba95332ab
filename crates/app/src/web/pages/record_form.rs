//! What the four kinds of records have in common as forms.

use super::super::form::Typed;
use super::super::show::{Show, Units};
use maud::Markup;
use stillwheel_door::Fault;
use stillwheel_physics::quantity::Dimension;
use stillwheel_store::{Record, Stored, WeightRing};

/// Other records that a form offers to choose from.
#[derive(Default)]
pub(super) struct Refs {
    /// Weight rings.
    pub(super) rings: Vec<Stored<WeightRing>>,
}

/// A record as a form.
pub(super) trait RecordForm: Record + Send + 'static {
    /// Its part of the address.
    const PATH: &'static str;
    /// What it is called in a sentence.
    const WORD: &'static str;
    /// Names of the fields that show their own faults.
    const FIELDS: &'static [&'static str];
    /// Fields that only help to fill in others; they show their own faults too.
    const HELPING: &'static [&'static str] = &[];

    /// A line about it in a list.
    fn line(&self, show: Show) -> String;
    /// Fill the form from a record.
    fn fill(&self, typed: &mut Typed, show: Show);
    /// What of it a copy keeps: all, unless something belongs to the one piece only.
    fn into_copy(self) -> Self {
        self
    }
    /// Fill an empty form.
    fn blank(typed: &mut Typed, show: Show, refs: &Refs);
    /// Read the form; faults stand in `typed` then.
    fn read(typed: &mut Typed, show: Show) -> Option<Self>;
    /// The fields.
    fn fields(typed: &Typed, show: Show, refs: &Refs) -> Markup;

    /// The form's name of a field that the record calls otherwise, such as one in a list.
    fn in_form(_typed: &Typed, _field: &str) -> Option<String> {
        None
    }

    /// Fill in fields that follow from others, where the person asked for it; a sentence about it. Faults stand in `typed`.
    fn work_out(_typed: &mut Typed, _show: Show) -> Option<String> {
        None
    }

    /// What else a stored record offers; `base` is its address.
    fn offers(_base: &str) -> Markup {
        Markup::default()
    }
}

/// A mass typed in kg (or lb); a suffix overrides.
pub(super) fn mass_kg(typed: &mut Typed, name: &str, show: Show) -> f64 {
    let text = typed.text(name).to_owned();
    let bare = !text.is_empty() && !text.chars().any(char::is_alphabetic);
    let text = if bare { format!("{text} {}", mass_unit(show)) } else { text };
    if text.is_empty() {
        typed.blame(Fault::new(name, "missing", "a mass", "This field must be filled."));
        return f64::NAN;
    }
    let grams = stillwheel_physics::quantity::parse_quantity(name, &text, Dimension::Mass);
    typed.read(grams.map(|g| g / 1000.0))
}

/// Unit of [`mass_kg`].
pub(super) fn mass_unit(show: Show) -> &'static str {
    if show.units == Units::Inch { "lb" } else { "kg" }
}

/// A stored mass as it stands in a form.
pub(super) fn typed_mass_kg(kg: f64, show: Show) -> String {
    // 1 lb = 0.45359237 kg, exact: international yard and pound agreement 1959.
    if show.units == Units::Inch { super::super::show::significant(kg / 0.453_592_37, 9) } else { format!("{kg}") }
}

/// A share typed in percent; back comes the share.
pub(super) fn percent(typed: &mut Typed, name: &str) -> f64 {
    let text = typed.text(name).trim_end_matches('%').trim().to_owned();
    if text.is_empty() {
        typed.blame(Fault::new(name, "missing", "a percentage", "This field must be filled."));
        return f64::NAN;
    }
    let v = stillwheel_physics::quantity::parse_quantity(name, &text, Dimension::Plain);
    typed.read(v.map(|p| p / 100.0))
}

/// A number without a unit of its own, or one that is always typed in the stated unit.
pub(super) fn plain(typed: &mut Typed, name: &str) -> f64 {
    typed.number(name, Dimension::Plain, Show::default())
}
