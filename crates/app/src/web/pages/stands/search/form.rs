//! What a search is asked: demands, what the shop holds, what may be tried. The form's fields are named as the door's.

use super::super::super::super::form::{Field, Typed, field};
use super::super::super::super::show::{Show, significant};
use super::super::compute::{For, StandFor, stand_in};
use maud::{Markup, html};
use stillwheel_door::Fault;
use stillwheel_door::search_saddle::{RangeIn, SearchSaddleIn};
use stillwheel_door::stand_sheet::StandSheet;
use stillwheel_physics::quantity::Dimension;

/// Ranges to try: name at the door, label, unit.
const RANGES: [(&str, &str, &str); 3] =
    [("clearance_um", "Radial clearance", "µm"), ("length_mm", "Length of a saddle", "mm"), ("supply_bar", "Supply pressure", "bar")];

/// Share of the clearance, length and pressure of the sheet that the first proposal of ranges starts from and goes to, and its steps.
const ABOUT: [(f64, f64, u32); 3] = [(0.7, 1.4, 5), (0.8, 1.2, 3), (0.75, 1.25, 3)];

/// Fill what was not typed: ranges about the sheet's own sizes.
pub(super) fn put_defaults(t: &mut Typed, sheet: &StandSheet) {
    let (Some(saddles), Some(feed)) = (&sheet.saddles, &sheet.feed) else { return };
    let own = [saddles.radial_clearance_um, saddles.length_mm, feed.supply_bar];
    for (((name, ..), (low, high, count)), own) in RANGES.into_iter().zip(ABOUT).zip(own) {
        t.put_default(&format!("{name}.from"), significant(own * low, 3));
        t.put_default(&format!("{name}.to"), significant(own * high, 3));
        t.put_default(&format!("{name}.count"), count.to_string());
    }
    let about = |d: f64| [0.7, 1.0, 1.4].map(|k| significant(d * k, 2)).join(" ");
    t.put_default("ports_mm", about(feed.port_diameter_mm));
    t.put_default("jets_mm", feed.jet_diameter_mm.map_or(String::new(), about));
    t.put_default("clearance_held_um", "1");
    t.put_default("least_stiffness_n_um", "0.5");
    t.put_default("least_damping_ratio", "0.01");
    t.put_default("lifts_by_itself", "yes");
}

/// Read the form; faults stand in `t`.
pub(super) fn read(t: &mut Typed, sheet: &StandSheet, on: &For, show: Show) -> Option<SearchSaddleIn> {
    let plain = |t: &mut Typed, name: &str| t.number(name, Dimension::Plain, Show::default());
    let [clearance_um, length_mm, supply_bar] = RANGES.map(|(name, ..)| RangeIn {
        from: plain(t, &format!("{name}.from")),
        to: plain(t, &format!("{name}.to")),
        count: count(t, &format!("{name}.count")),
    });
    let input = SearchSaddleIn {
        stand: stand_in(sheet, on),
        most_flow_l_min: t.optional("most_flow_l_min", Dimension::Plain, Show::default()),
        highest_floor_g_mm: t.optional("highest_floor_g_mm", Dimension::Unbalance, show),
        least_stiffness_n_um: plain(t, "least_stiffness_n_um"),
        lifts_by_itself: t.text("lifts_by_itself") == "yes",
        least_damping_ratio: plain(t, "least_damping_ratio"),
        clearance_held_um: plain(t, "clearance_held_um"),
        clearance_um,
        length_mm,
        supply_bar,
        ports_mm: list(t, "ports_mm"),
        jets_mm: (!t.text("jets_mm").is_empty()).then(|| list(t, "jets_mm")),
    };
    t.is_good().then_some(input)
}

fn count(t: &mut Typed, name: &str) -> u32 {
    let v = t.number(name, Dimension::Plain, Show::default());
    if v.is_finite() && (v.fract() != 0.0 || !(1.0..=15.0).contains(&v)) {
        t.blame(Fault::new(name, v, "1 to 15", "How many values to try is a whole number."));
    }
    v as u32
}

/// Sizes parted by spaces or semicolons, each in mm or with its unit.
fn list(t: &mut Typed, name: &str) -> Vec<f64> {
    let text = t.text(name).to_owned();
    let sizes = text.split(|c: char| c.is_whitespace() || c == ';').map(|w| w.trim_end_matches(',')).filter(|w| !w.is_empty());
    sizes.map(|w| t.read(Show::default().read(name, w, Dimension::Length))).collect()
}

/// The form's card.
pub(super) fn card(t: &Typed, path: &str, on: &StandFor<'_>, sheet: &StandSheet, show: Show) -> Markup {
    let number = |name: &str, label: &str, unit: &str, hint: &str, required: bool| {
        field(t, Field { name, label, unit, hint, keys: "decimal", required, lax: true, ..Field::default() })
    };
    let air = match sheet.air.as_ref().and_then(|a| a.compressor_l_min) {
        Some(c) => format!("Empty: 70 % of what the compressor delivers, {} l/min.", significant(0.7 * c, 3)),
        None => "The sheet does not say what the compressor delivers: fill this.".to_owned(),
    };
    let floor = format!("Empty: what the rotor allows, {}.", show.unbalance(on.on.allowance_g_mm));
    html! {
        form.card method="post" action={ (path) "/search" } novalidate {
            h2 { "What it must do" }
            (on.choices())
            (number("most_flow_l_min", "Air for both saddles, at most", "l/min", &air, false))
            (number("highest_floor_g_mm", "Floor, at most", show.unit(Dimension::Unbalance), &floor, false))
            (number("least_stiffness_n_um", "Stiffness of a saddle, at least", "N/µm", "0 asks for none.", true))
            (number("least_damping_ratio", "Bouncing damped, at least", "of critical", "0 asks only that it does not hammer.", true))
            div.field {
                label for="lifts_by_itself" { "The arbor lifts" }
                select id="lifts_by_itself" name="lifts_by_itself" {
                    @for (value, words) in [("yes", "by itself"), ("no", "by itself, or once helped up")] {
                        option value=(value) selected[t.text("lifts_by_itself") == value] { (words) }
                    }
                }
            }
            h2 { "What may be tried" }
            (number("clearance_held_um", "Clearance held within ±", "µm", "Each design counts by its worst within this. Port and bore: as the sheet holds them.", true))
            @for (name, label, unit) in RANGES {
                fieldset {
                    legend { (label) }
                    div.pair {
                        (number(&format!("{name}.from"), "from", unit, "", true))
                        (number(&format!("{name}.to"), "to", unit, "", true))
                    }
                    (number(&format!("{name}.count"), "in so many values", "", "", true))
                }
            }
            (number("ports_mm", "Ports Ø", "mm", "Drills that you have, parted by spaces.", true))
            (number("jets_mm", "Jets Ø", "mm", "Parted by spaces. Empty: plain ports.", false))
            div.actions { button.main type="submit" { "Search" } }
            p.soft { "At most " (stillwheel_physics::stand::search::MOST_DESIGNS) " designs. A thousand take about a minute; this page can be left meanwhile." }
        }
    }
}
