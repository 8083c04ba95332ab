//! The form of the marks' page: the marks, a machine by its sheet or in its most telling parts, up to three tests.

use super::super::super::form::{Field, Typed, field, select};
use super::super::super::show::Show;
use maud::{Markup, html};
use stillwheel_door::Fault;
use stillwheel_door::machine_sheet::MachineSheet;
use stillwheel_door::marks::{BearingIn, BeltIn, MarkMachineIn, MarksIn, PartIn, PartKindIn, SeenIn, SightingIn};
use stillwheel_physics::quantity::Dimension;

/// Tests that the form takes besides the first face.
pub(super) const TESTS: usize = 3;

/// Whether a test's row holds anything.
fn row_used(t: &Typed, k: usize) -> bool {
    !t.text(&format!("test{k}_table")).is_empty() || !t.text(&format!("test{k}_spacing")).is_empty() || t.ticked(&format!("test{k}_gone"))
}

/// A machine of the records whose sheet can be read.
pub(super) struct Known {
    /// Its id.
    pub(super) id: String,
    /// Its name.
    pub(super) name: String,
    /// Its sheet.
    pub(super) sheet: MachineSheet,
}

/// The choice that stands for the fields of the form.
const TYPED: &str = "typed";

/// The machine that was chosen, if it is one of the records.
fn chosen<'a>(t: &Typed, known: &'a [Known]) -> Option<&'a Known> {
    known.iter().find(|k| k.id == t.text("machine"))
}

/// The door's input; `None` when a field is wrong.
pub(super) fn read(t: &mut Typed, known: &[Known], show: Show) -> Option<MarksIn> {
    let machine = match chosen(t, known) {
        None => machine(t, show),
        Some(k) => {
            let diameter = t.number("wheel_diameter_mm", Dimension::Length, show);
            let sheet = MarkMachineIn::of_sheet(&k.sheet, diameter);
            with_the_job(sheet, t, show)
        }
    };
    let mut sightings = vec![first(t, show)];
    for k in 0..TESTS {
        if row_used(t, k) {
            sightings.push(test(t, k, show));
        }
    }
    t.is_good().then_some(MarksIn { machine, sightings, none_share: 0.1 })
}

fn first(t: &mut Typed, show: Show) -> SightingIn {
    let over_mm = t.number("over_mm", Dimension::Length, show);
    let sd = t.optional("over_sd_mm", Dimension::Length, show);
    let seen = SeenIn::Count {
        spaces: whole(t, "spaces"),
        over_mm,
        // A rule is read to about half a millimetre. Common practice, no source.
        over_sd_mm: sd.unwrap_or(0.5),
        angle_deg: t.optional("angle_deg", Dimension::Angle, show),
        angle_sd_deg: t.optional("angle_sd_deg", Dimension::Angle, show),
    };
    SightingIn {
        table_speed_m_min: t.number("table_speed_m_min", Dimension::Plain, show),
        table_speed_sd_m_min: t.optional("table_speed_sd_m_min", Dimension::Plain, show),
        wheel_speed_rpm: None,
        stopped: Vec::new(),
        seen,
    }
}

fn test(t: &mut Typed, k: usize, show: Show) -> SightingIn {
    let name = |leaf: &str| format!("test{k}_{leaf}");
    let table = t.optional(&name("table"), Dimension::Plain, show);
    let table = table.unwrap_or_else(|| t.number("table_speed_m_min", Dimension::Plain, show));
    let wheel_speed_rpm = t.optional(&name("wheel"), Dimension::Speed, show);
    let gone = t.ticked(&name("gone"));
    let seen = if gone {
        SeenIn::Gone {}
    } else {
        let spacing_mm = t.number(&name("spacing"), Dimension::Length, show);
        SeenIn::Spacing { spacing_mm, spacing_sd_mm: 0.02 * spacing_mm, angle_deg: None, angle_sd_deg: None }
    };
    let stopped = t.text(&name("stopped")).to_owned();
    SightingIn {
        table_speed_m_min: table,
        table_speed_sd_m_min: None,
        wheel_speed_rpm,
        stopped: if stopped.is_empty() { Vec::new() } else { vec![stopped] },
        seen,
    }
}

fn whole(t: &mut Typed, name: &str) -> u32 {
    let text = t.text(name).to_owned();
    text.parse().unwrap_or_else(|_| {
        let value = if text.is_empty() { "missing" } else { &text };
        t.blame(Fault::new(name, value, "a whole number", "Spaces from the first mark to the last: one less than marks."));
        1
    })
}

fn machine(t: &mut Typed, show: Show) -> MarkMachineIn {
    let plain = |t: &mut Typed, name: &str| t.optional(name, Dimension::Plain, show);
    let mut parts = Vec::new();
    for (name, prefix, kind) in
        [("motor", "motor", PartKindIn::Motor), ("pump", "pump", PartKindIn::Pump), ("other part", "other", PartKindIn::Other)]
    {
        let speed_rpm = t.optional(&format!("{prefix}_rpm"), Dimension::Speed, show);
        let ratio = if prefix == "motor" { plain(t, "motor_ratio") } else { None };
        if speed_rpm.is_some() || ratio.is_some() {
            let orders = if prefix == "pump" { vanes(t) } else { vec![1, 2] };
            parts.push(PartIn { name: name.into(), kind, speed_rpm, ratio_to_wheel: ratio, speed_rel_sd: 0.01, orders });
        }
    }
    let belt = t.optional("belt_mm", Dimension::Length, show).map(|length_mm| BeltIn {
        name: "belt".into(),
        length_mm,
        pulley_diameter_mm: t.number("pulley_mm", Dimension::Length, show),
        on: "wheel".into(),
    });
    let bearing = plain(t, "elements").map(|n| BearingIn {
        name: "spindle bearing".into(),
        on: "wheel".into(),
        elements: n.clamp(0.0, 1e6) as u32,
        element_diameter_mm: t.number("element_diameter_mm", Dimension::Length, show),
        pitch_diameter_mm: t.number("pitch_diameter_mm", Dimension::Length, show),
        contact_angle_deg: t.optional("contact_angle_deg", Dimension::Angle, show).unwrap_or(0.0),
    });
    let machine = MarkMachineIn {
        wheel_speed_rpm: t.number("wheel_speed_rpm", Dimension::Speed, show),
        wheel_speed_sd_rpm: None,
        wheel_diameter_mm: t.number("wheel_diameter_mm", Dimension::Length, show),
        wheel_speed_changes: false,
        segments: None,
        parts,
        belts: belt.into_iter().collect(),
        bearings: bearing.into_iter().collect(),
        mains_hz: plain(t, "mains_hz"),
        natural_frequency_hz: plain(t, "natural_frequency_hz"),
        dresser_lead_mm: None,
        cross_feed_mm: None,
        table_pitch_mm: None,
    };
    with_the_job(machine, t, show)
}

/// What belongs to the job and not to the machine.
fn with_the_job(machine: MarkMachineIn, t: &mut Typed, show: Show) -> MarkMachineIn {
    MarkMachineIn {
        wheel_speed_changes: t.ticked("wheel_speed_changes"),
        segments: t.optional("segments", Dimension::Plain, show).map(|n| n.clamp(0.0, 1e6) as u32),
        dresser_lead_mm: t.optional("dresser_lead_mm", Dimension::Length, show),
        cross_feed_mm: t.optional("cross_feed_mm", Dimension::Length, show),
        table_pitch_mm: t.optional("table_pitch_mm", Dimension::Length, show),
        ..machine
    }
}

/// Once a turn, and as many times as it has vanes.
fn vanes(t: &mut Typed) -> Vec<u32> {
    let text = t.text("pump_vanes").to_owned();
    match text.parse() {
        _ if text.is_empty() => vec![1],
        Ok(n) => vec![1, n],
        Err(_) => {
            t.blame(Fault::new("pump_vanes", text, "a whole number from 2 to 200", "Vanes, pistons or teeth of the pump."));
            vec![1]
        }
    }
}

/// Fields that show their own faults.
pub(super) const FIELDS: [&str; 32] = [
    "spaces",
    "over_mm",
    "over_sd_mm",
    "angle_deg",
    "angle_sd_deg",
    "table_speed_m_min",
    "table_speed_sd_m_min",
    "wheel_speed_rpm",
    "wheel_diameter_mm",
    "segments",
    "motor_rpm",
    "motor_ratio",
    "pump_rpm",
    "pump_vanes",
    "other_rpm",
    "belt_mm",
    "pulley_mm",
    "elements",
    "element_diameter_mm",
    "pitch_diameter_mm",
    "contact_angle_deg",
    "mains_hz",
    "natural_frequency_hz",
    "dresser_lead_mm",
    "cross_feed_mm",
    "table_pitch_mm",
    "test0_spacing",
    "test1_spacing",
    "test2_spacing",
    "test0_stopped",
    "test1_stopped",
    "test2_stopped",
];

/// A fault of the door at the form's own field.
pub(super) fn placed(f: Fault) -> Fault {
    let field = f.field.clone();
    let part = |k: &str| field.starts_with(&format!("machine.{k}"));
    let row = field.strip_prefix("sightings[").and_then(|r| r.split(']').next()).and_then(|k| k.parse::<usize>().ok()).filter(|k| *k > 0);
    let name = match (row, field.rsplit('.').next().unwrap_or_default()) {
        (Some(k), "spacing_mm" | "spacing_sd_mm") => format!("test{}_spacing", k - 1),
        (Some(k), "table_speed_m_min") => format!("test{}_table", k - 1),
        (Some(k), "wheel_speed_rpm") => format!("test{}_wheel", k - 1),
        (Some(k), leaf) if leaf.starts_with("stopped") => format!("test{}_stopped", k - 1),
        (_, "length_mm") if part("belts") => "belt_mm".into(),
        (_, "pulley_diameter_mm") if part("belts") => "pulley_mm".into(),
        (_, "ratio_to_wheel") => "motor_ratio".into(),
        (_, "orders") => "pump_vanes".into(),
        _ => field,
    };
    Fault { field: name, ..f }
}

/// The marks and the machine.
pub(super) fn form(t: &Typed, known: &[Known], show: Show, path: &str) -> Markup {
    let typed = (TYPED.to_owned(), "None: as typed below".to_owned());
    let machines: Vec<(String, String)> = known.iter().map(|k| (k.id.clone(), k.name.clone())).chain([typed]).collect();
    let mm = show.unit(Dimension::Length);
    let need = |name: &'static str, label: &'static str, unit: &'static str| Field {
        name,
        label,
        unit,
        keys: "decimal",
        required: true,
        ..Field::default()
    };
    let free =
        |name: &'static str, label: &'static str, unit: &'static str| Field { name, label, unit, keys: "decimal", ..Field::default() };
    let open = |names: &[&str]| names.iter().any(|n| !t.text(n).is_empty());
    html! {
        form.card method="post" action=(path) novalidate {
            h2 { "The marks" }
            div.pair { (field(t, Field { keys: "numeric", ..need("spaces", "Spaces counted", "") })) (field(t, need("over_mm", "Length over them", mm))) }
            p.hint { "From the first mark to the last, as many as you can: ten spaces tell ten times as well as one. Or " a href="/grinder/marks/photo" { "from a photo" } "." }
            div.pair { (field(t, need("table_speed_m_min", "Table speed then", "m/min"))) (field(t, free("table_speed_sd_m_min", "Give or take (1 σ)", "m/min"))) }
            details open[open(&["angle_deg", "over_sd_mm"])] {
                summary { "Slope of the marks, reading" }
                div.inside {
                    div.pair { (field(t, free("angle_deg", "Angle to the travel", "°"))) (field(t, free("angle_sd_deg", "Give or take (1 σ)", "°"))) }
                    p.hint { "90° is straight across, 0° along the travel." }
                    (field(t, free("over_sd_mm", "Length read to (1 σ)", mm)))
                }
            }
            h2 { "The machine" }
            (select(t, "machine", "marks-", "Machine", "", &machines))
            (field(t, need("wheel_diameter_mm", "Wheel diameter", mm)))
            label.pick { input type="checkbox" name="wheel_speed_changes" checked[t.ticked("wheel_speed_changes")]; "Its speed can be changed" }
            details open[chosen(t, known).is_none()] {
                summary { "No sheet: type its parts" }
                div.inside { (parts(t, show)) }
            }
            details open[open(&["dresser_lead_mm", "cross_feed_mm", "segments", "table_pitch_mm"])] {
                summary { "Dresser, cross-feed, table" }
                div.inside {
                    div.pair { (field(t, free("dresser_lead_mm", "Dresser’s lead a turn", mm))) (field(t, free("cross_feed_mm", "Cross-feed a pass", mm))) }
                    div.pair { (field(t, free("table_pitch_mm", "Pitch of the table’s screw or rack", mm))) (field(t, Field { keys: "numeric", ..free("segments", "Wheel’s segments", "") })) }
                }
            }
            (tests(t, chosen(t, known), show))
            div.actions { button.main type="submit" { "What makes them?" } }
        }
    }
}

/// A machine without a sheet, in its most telling parts.
fn parts(t: &Typed, show: Show) -> Markup {
    let mm = show.unit(Dimension::Length);
    let free =
        |name: &'static str, label: &'static str, unit: &'static str| Field { name, label, unit, keys: "decimal", ..Field::default() };
    html! {
        (field(t, free("wheel_speed_rpm", "Wheel speed", "r/min").not_enforced()))
        div.pair { (field(t, free("motor_rpm", "Motor speed", "r/min"))) (field(t, free("motor_ratio", "or motor over wheel", ""))) }
        div.pair { (field(t, free("belt_mm", "Belt length", mm))) (field(t, free("pulley_mm", "Wheel’s pulley", mm))) }
        div.pair { (field(t, free("mains_hz", "Mains", "Hz"))) (field(t, free("natural_frequency_hz", "Natural frequency", "Hz"))) }
        div.pair { (field(t, free("pump_rpm", "Pump speed", "r/min"))) (field(t, Field { keys: "numeric", ..free("pump_vanes", "Its vanes", "") })) }
        (field(t, free("other_rpm", "Another part", "r/min")))
        fieldset {
            legend { "Spindle bearing" }
            div.pair { (field(t, Field { keys: "numeric", ..free("elements", "Balls or rollers", "") })) (field(t, free("element_diameter_mm", "Their diameter", mm))) }
            div.pair { (field(t, free("pitch_diameter_mm", "Circle of their centres", mm))) (field(t, free("contact_angle_deg", "Contact angle", "°"))) }
        }
    }
}

fn tests(t: &Typed, known: Option<&Known>, show: Show) -> Markup {
    let named = known.map(|k| MarkMachineIn::of_sheet(&k.sheet, 200.0).names().join(", "));
    let used = (0..TESTS).any(|k| row_used(t, k));
    html! {
        details open[used] {
            summary { "Tests that were made" }
            div.inside {
                p.hint { "Each is a face that was ground again. What stays empty was as in the first." @if let Some(names) = named { " What can be stopped: " (names) "." } }
                @for k in 0..TESTS {
                    @let names = ["table", "wheel", "spacing", "stopped"].map(|leaf| format!("test{k}_{leaf}"));
                    @let one = |i: usize, label: &'static str, unit: &'static str| field(t, Field { name: &names[i], label, unit, keys: if i == 3 { "" } else { "decimal" }, ..Field::default() }.not_enforced());
                    fieldset {
                        legend { "Test " (k + 1) }
                        div.pair { (one(0, "Table speed", "m/min")) (one(1, "Wheel speed", "r/min")) }
                        div.pair { (one(2, "Spacing then", show.unit(Dimension::Length))) (one(3, "Stopped then", "")) }
                        label.pick { input type="checkbox" name={ "test" (k) "_gone" } checked[t.ticked(&format!("test{k}_gone"))]; "The marks were gone" }
                    }
                }
            }
        }
    }
}
