//! Mass and inertia of a rotor worked out within its form: from the sizes of its bodies, or from two timed swings.
//!
//! In: the fields of this part. Out: the form's fields for mass and inertia filled in, by the door's `rotor`; nothing is stored.

use super::super::form::{Field, Typed, field};
use super::super::show::{Show, significant};
use super::record_form::{mass_unit, plain, typed_mass_kg};
use maud::{Markup, html};
use stillwheel_door::Fault;
use stillwheel_door::rotor::{Body, RotorIn, RotorOut, RotorSwing, RotorTrial, rotor};
use stillwheel_physics::quantity::Dimension;

/// Relative standard deviation of an inertia from sizes and masses. Common practice, no source: a wheel's density varies by so much.
const FROM_SIZES_REL_SD: f64 = 0.05;

/// Bodies besides the wheel, whose sizes stand in the form already.
const BODIES: [&str; 5] = ["1", "2", "3", "4", "5"];
/// Fields that show their own faults.
pub(super) const FIELDS: &[&str] = &[
    "body_outer_2",
    "body_outer_3",
    "body_outer_4",
    "body_outer_5",
    "body_inner_2",
    "body_inner_3",
    "body_inner_4",
    "body_inner_5",
    "body_width_2",
    "body_width_3",
    "body_width_4",
    "body_width_5",
    "body_mass_1",
    "body_mass_2",
    "body_mass_3",
    "body_mass_4",
    "body_mass_5",
    "body_density_1",
    "body_density_2",
    "body_density_3",
    "body_density_4",
    "body_density_5",
    "swings_1",
    "swings_2",
    "swing_time_1",
    "swing_time_2",
    "swing_amplitude_1",
    "swing_amplitude_2",
    "trial_mass",
    "trial_radius",
];

/// The folded part of the rotor's form.
pub(super) fn fields_of(typed: &Typed, show: Show) -> Markup {
    let used = typed.ticked("work_out") || FIELDS.iter().any(|f| !typed.text(f).is_empty());
    let length = show.unit(Dimension::Length);
    html! {
        details open[used] {
            summary { "Work out mass and inertia" }
            div.inside {
                p.soft { "What is worked out is put into the fields above; nothing is stored yet." }
                h2 { "From the bodies" }
                p.soft { "Each as a ring or disc about the axis, with its mass if it was weighed, else its density: 2.1 g/cm³ for a vitrified wheel, 7.85 for steel." }
                p { b { "The wheel" } ", sizes as above" }
                (matter(typed, show, "1"))
                p { b { "Adapter" } }
                (body(typed, show, "2"))
                details open[BODIES[2..].iter().any(|r| !typed.text(&format!("body_outer_{r}")).is_empty())] {
                    summary { "More bodies" }
                    div.inside { @for row in &BODIES[2..] { p { b { "Body " (row) } } (body(typed, show, row)) } }
                }
                button.plain.wide type="submit" name="work_out" value="bodies" { "Work out from the bodies" }
                h2 { "From two swings" }
                p.soft { "First bare; then with a known trial weight fixed on the heavy side, that is at the bottom as it rests. Count full swings, out and back." }
                @for (row, title) in [("1", "Bare"), ("2", "With the trial weight")] {
                    p { b { (title) } }
                    div.pair {
                        (number(typed, &format!("swings_{row}"), "Full swings", ""))
                        (number(typed, &format!("swing_time_{row}"), "Time of all", "s"))
                    }
                    (number(typed, &format!("swing_amplitude_{row}"), "Let go so far from the rest place", "°"))
                }
                div.pair {
                    (number(typed, "trial_mass", "Trial weight", show.unit(Dimension::Mass)))
                    (number(typed, "trial_radius", "at radius", length))
                }
                button.plain.wide type="submit" name="work_out" value="swings" { "Work out from the swings" }
            }
        }
    }
}

fn number(typed: &Typed, name: &str, label: &str, unit: &str) -> Markup {
    field(typed, Field { name, label, unit, keys: "decimal", required: true, ..Field::default() }.not_enforced())
}

fn body(typed: &Typed, show: Show, row: &str) -> Markup {
    let length = show.unit(Dimension::Length);
    html! {
        div.pair {
            (number(typed, &format!("body_outer_{row}"), "Outer Ø", length))
            (number(typed, &format!("body_inner_{row}"), "Hole Ø", length))
        }
        (number(typed, &format!("body_width_{row}"), "Width", length))
        (matter(typed, show, row))
    }
}

fn matter(typed: &Typed, show: Show, row: &str) -> Markup {
    html! {
        div.pair {
            (number(typed, &format!("body_mass_{row}"), "Mass", mass_unit(show)))
            (number(typed, &format!("body_density_{row}"), "or density", "g/cm³"))
        }
    }
}

/// Work it out into the form's own fields; faults stand in `typed` then. Gives a sentence about it.
pub(super) fn work_out(typed: &mut Typed, show: Show) -> Option<String> {
    let by_swings = typed.text("work_out") == "swings";
    let input = if by_swings { swings_of(typed, show) } else { bodies_of(typed, show) };
    if !typed.is_good() {
        return None;
    }
    let out = match rotor(&input.0) {
        Ok(out) => out,
        Err(fault) => {
            typed.blame(Fault { field: form_name(&fault.field, &input.1), ..fault });
            return None;
        }
    };
    put(typed, &out, by_swings, show);
    Some(out.says)
}

fn put(typed: &mut Typed, out: &RotorOut, by_swings: bool, show: Show) {
    if let Some(kg) = out.mass_kg {
        typed.put("mass_kg", typed_mass_kg(significant(kg, 5).parse().unwrap_or(kg), show));
    }
    typed.put("inertia_kg_m2", significant(out.inertia_for_looks_kg_m2, 5));
    let rel_sd = out.inertia_for_looks_rel_sd.unwrap_or(FROM_SIZES_REL_SD);
    typed.put("inertia_rel_sd", significant(100.0 * rel_sd, 2));
    typed.put("inertia_from", if by_swings { "from two swings, one with a trial weight" } else { "from dimensions and masses" });
}

/// The door's input, and which row of the form each body came from.
fn bodies_of(typed: &mut Typed, show: Show) -> (RotorIn, Vec<&'static str>) {
    let (mut bodies, mut rows) = (Vec::new(), Vec::new());
    for row in BODIES {
        let name = |what: &str| format!("body_{what}_{row}");
        let given = |typed: &Typed, what: &str| !typed.text(&name(what)).is_empty();
        if !["outer", "inner", "width", "mass", "density"].iter().any(|what| given(typed, what)) {
            continue;
        }
        let (outer, inner, width) = if row == "1" {
            ("diameter_mm".to_owned(), "bore_mm".to_owned(), "width_mm".to_owned())
        } else {
            (name("outer"), name("inner"), name("width"))
        };
        bodies.push(Body {
            name: None,
            outer_diameter_mm: typed.number(&outer, Dimension::Length, show),
            inner_diameter_mm: typed.optional(&inner, Dimension::Length, show).unwrap_or(0.0),
            width_mm: typed.number(&width, Dimension::Length, show),
            mass_g: given(typed, "mass").then(|| 1000.0 * super::record_form::mass_kg(typed, &name("mass"), show)),
            density_g_cm3: given(typed, "density").then(|| plain(typed, &name("density"))),
        });
        rows.push(row);
    }
    if bodies.is_empty() {
        typed.blame(Fault::new("body_mass_1", "missing", "a mass or a density of at least one body", "Nothing is told about any body."));
    }
    (RotorIn { bodies, journal_radius_mm: None, swings: Vec::new() }, rows)
}

fn swings_of(typed: &mut Typed, show: Show) -> (RotorIn, Vec<&'static str>) {
    let mut swing = |row: &str, trial: Option<RotorTrial>| {
        let usual =
            RotorSwing { swings: 1.0, time_s: 0.0, time_sd_s: 0.2, amplitude_deg: 0.0, settle_deg: None, settle_sd_deg: 3.5, trial };
        RotorSwing {
            swings: typed.number(&format!("swings_{row}"), Dimension::Plain, show),
            time_s: typed.number(&format!("swing_time_{row}"), Dimension::Time, show),
            amplitude_deg: typed.number(&format!("swing_amplitude_{row}"), Dimension::Angle, show),
            ..usual
        }
    };
    let (bare, mut loaded) = (swing("1", None), swing("2", None));
    loaded.trial = Some(RotorTrial {
        mass_g: typed.number("trial_mass", Dimension::Mass, show),
        radius_mm: typed.number("trial_radius", Dimension::Length, show),
        at_deg: None,
    });
    (RotorIn { bodies: Vec::new(), journal_radius_mm: None, swings: vec![bare, loaded] }, Vec::new())
}

/// The door's name of a field as the form's: `bodies[0].mass_g` of row 2 is `body_mass_2`, `swings[1].time_s` is `swing_time_2`.
fn form_name(field: &str, rows: &[&str]) -> String {
    let index = |field: &str| field.split_once('[').and_then(|f| f.1.split_once(']')?.0.parse::<usize>().ok());
    let last = field.rsplit('.').next().unwrap_or(field);
    if field.starts_with("bodies[") {
        let row = index(field).and_then(|i| rows.get(i)).copied().unwrap_or("1");
        let what = match last {
            "outer_diameter_mm" if row == "1" => return "diameter_mm".into(),
            "inner_diameter_mm" if row == "1" => return "bore_mm".into(),
            "width_mm" if row == "1" => return "width_mm".into(),
            "outer_diameter_mm" => "outer",
            "inner_diameter_mm" => "inner",
            "width_mm" => "width",
            "density_g_cm3" => "density",
            _ => "mass",
        };
        return format!("body_{what}_{row}");
    }
    if field.contains("trial") {
        return if last.starts_with("radius") { "trial_radius".into() } else { "trial_mass".into() };
    }
    let row = index(field).map_or(2, |i| i + 1);
    match last {
        "swings" => format!("swings_{row}"),
        "amplitude_deg" => format!("swing_amplitude_{row}"),
        _ => format!("swing_time_{row}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn typed(pairs: &[(&str, &str)]) -> Typed {
        Typed::new(pairs.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect())
    }

    #[test]
    fn bodies_give_mass_and_inertia_by_the_closed_form() {
        // A solid steel disc of 2 kg and Ø 100 mm beside a wheel of 3 kg, Ø 200/50 mm: I = Σ m(D² + d²)/8.
        let mut t = typed(&[
            ("work_out", "bodies"),
            ("diameter_mm", "200"),
            ("bore_mm", "50"),
            ("width_mm", "20"),
            ("body_mass_1", "3"),
            ("body_outer_3", "100"),
            ("body_width_3", "30"),
            ("body_mass_3", "2000 g"),
        ]);
        work_out(&mut t, Show::default()).expect("all is given");
        let expected = 3.0 * (0.2_f64.powi(2) + 0.05_f64.powi(2)) / 8.0 + 2.0 * 0.1_f64.powi(2) / 8.0;
        let got: f64 = t.text("inertia_kg_m2").parse().unwrap();
        assert!((got / expected - 1.0).abs() < 1e-4, "{got} against {expected}");
        assert_eq!((t.text("mass_kg"), t.text("inertia_rel_sd")), ("5", "5"));
    }

    #[test]
    fn two_small_swings_give_the_inertia_by_the_closed_form() {
        // T² = 4π²·I/(U·g): with I = 0.008 kg·m², U = 60 g·mm and 40 g·mm on top, at 2° (period 0.008 % longer).
        let period = |u_kg_m: f64| std::f64::consts::TAU * (0.008 / (u_kg_m * 9.80665)).sqrt();
        let mut t = typed(&[
            ("work_out", "swings"),
            ("swings_1", "1"),
            ("swing_time_1", &format!("{}", period(60e-6))),
            ("swing_amplitude_1", "2"),
            ("swings_2", "1"),
            ("swing_time_2", &format!("{}", period(100e-6))),
            ("swing_amplitude_2", "2"),
            ("trial_mass", "1 g"),
            ("trial_radius", "40"),
        ]);
        // The trial itself adds 1 g·(40 mm)² = 1.6e-6 kg·m², which the second period above leaves out: 0.05 % of I at most.
        work_out(&mut t, Show::default()).expect("all is given");
        let got: f64 = t.text("inertia_kg_m2").parse().unwrap();
        assert!((got / 0.008 - 1.0).abs() < 2e-3, "{got}");
        assert!(t.text("inertia_rel_sd").parse::<f64>().unwrap() > 0.1);
    }

    #[test]
    fn faults_stand_at_the_fields_of_the_form() {
        for (fields, at) in [
            (vec![("work_out", "bodies")], "body_mass_1"),
            (vec![("work_out", "bodies"), ("body_mass_1", "3")], "diameter_mm"),
            (vec![("work_out", "bodies"), ("body_outer_2", "80"), ("body_width_2", "20")], "body_mass_2"),
            (
                vec![("work_out", "bodies"), ("body_outer_4", "80"), ("body_inner_4", "90"), ("body_width_4", "20"), ("body_mass_4", "1")],
                "body_inner_4",
            ),
            (vec![("work_out", "bodies"), ("body_outer_2", "80"), ("body_width_2", "20"), ("body_mass_2", "-1")], "body_mass_2"),
            (vec![("work_out", "swings"), ("swings_1", "1"), ("swing_time_1", "10"), ("swing_amplitude_1", "30")], "swings_2"),
        ] {
            let mut t = typed(&fields);
            assert!(work_out(&mut t, Show::default()).is_none(), "{fields:?}");
            assert!(t.fault(at).is_some(), "{fields:?}: {:?}", t.faults());
        }
        let swings = |amplitude, trial| {
            let mut t = typed(&[
                ("work_out", "swings"),
                ("swings_1", "1"),
                ("swing_time_1", "12"),
                ("swing_amplitude_1", "30"),
                ("swings_2", "1"),
                ("swing_time_2", "9"),
                ("swing_amplitude_2", amplitude),
                ("trial_mass", trial),
                ("trial_radius", "40"),
            ]);
            assert!(work_out(&mut t, Show::default()).is_none());
            t
        };
        assert!(swings("180", "1").fault("swing_amplitude_2").is_some());
        assert!(swings("30", "-1").fault("trial_mass").is_some());
    }
}
