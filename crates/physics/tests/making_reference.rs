//! Fits, general tolerances, warmth, threads, ports and glands against published tables and worked cases.

#[path = "../../../reference/check.rs"]
mod check;
#[path = "making_support/tables.rs"]
mod tables;

use check::{Case, Kind, Tolerance, row, word};
use rstest::rstest;
use stillwheel_physics::making::fit::{
    Basis, Clearance, Hole, Limits, Shaft, growth_um, nearest_grade, propose, size_step_mm, standard_tolerance_um, tolerance_unit,
    warmth_um,
};
use stillwheel_physics::making::general::{
    Fineness, Form, angle_arcmin, broken_edge_mm, flatness_mm, length_mm, off_at_end_mm, perpendicularity_mm,
};
use stillwheel_physics::making::gland::{Gland, Housing, Place, Service, fill_percent, squeeze_percent, stretched_section_mm};
use stillwheel_physics::making::material::{MATERIALS, Material};
use stillwheel_physics::making::thread::{self, Port, Thread};
use tables::Table;

fn hole(class: &str, nominal_mm: f64) -> Limits {
    Hole::read(class).unwrap().limits(nominal_mm).unwrap()
}

fn shaft(class: &str, nominal_mm: f64) -> Limits {
    Shaft::read(class).unwrap().limits(nominal_mm).unwrap()
}

#[rstest]
#[case("fit-25-H7-g6")]
#[case("fit-40-H7-g6")]
#[case("fit-40-H6-g5")]
#[case("fit-40-H7-p6")]
#[case("fit-16-H7-h6")]
#[case("fit-40-H8-f7")]
#[case("fit-30-H7-js6")]
#[case("fit-25-H7-m6")]
#[case("fit-20-G7-h6")]
#[case("fit-64-H8-f7")]
#[case("fit-70-H7-r6")]
#[case("fit-25-H8-d9")]
#[case("fit-60-H7-s6")]
fn a_fit_has_the_limits_and_clearances_of_the_standard(#[case] id: &str) {
    let c = Case::mechanical(id);
    let (hole, shaft) = (hole(&c.text("hole"), c.input("nominal_mm")), shaft(&c.text("shaft"), c.input("nominal_mm")));
    c.check("hole_ES_um", hole.upper_um);
    c.check("hole_EI_um", hole.lower_um);
    c.check("shaft_es_um", shaft.upper_um);
    c.check("shaft_ei_um", shaft.lower_um);
    let clearance = Clearance::of(&hole, &shaft);
    c.check("clearance_min_um", clearance.min_um);
    c.check("clearance_max_um", clearance.max_um);
    c.check_word("kind", clearance.kind().word());
}

#[rstest]
#[case("hole-12-H6")]
#[case("hole-50-K7")]
#[case("hole-25-P7")]
#[case("hole-63-N7")]
#[case("hole-25-M6")]
#[case("hole-150-S7")]
#[case("hole-100-E8")]
#[case("hole-10-N9")]
#[case("hole-3-N7")]
#[case("hole-80-JS7")]
fn a_hole_has_the_limits_of_the_standard(#[case] id: &str) {
    let c = Case::mechanical(id);
    let limits = hole(&c.text("class"), c.input("nominal_mm"));
    c.check("ES_um", limits.upper_um);
    c.check("EI_um", limits.lower_um);
}

#[test]
fn a_shaft_k_has_its_deviation_in_grades_4_to_7_only() {
    let c = Case::mechanical("shaft-25-k8");
    let limits = shaft(&c.text("class"), c.input("nominal_mm"));
    c.check("es_um", limits.upper_um);
    c.check("ei_um", limits.lower_um);
}

#[test]
fn the_upper_end_of_a_step_belongs_to_the_step() {
    let c = Case::mechanical("step-boundary-30");
    let got: Vec<f64> = c.inputs("nominal_mm").into_iter().map(|v| standard_tolerance_um(v, 7).unwrap()).collect();
    c.check_list("IT_um", &got);
    let c = Case::mechanical("step-boundary-s6");
    let got: Vec<Limits> = c.inputs("nominal_mm").into_iter().map(|v| shaft("s6", v)).collect();
    c.check_list("ei_um", &got.iter().map(|l| l.lower_um).collect::<Vec<_>>());
    c.check_list("es_um", &got.iter().map(|l| l.upper_um).collect::<Vec<_>>());
}

#[test]
fn the_tolerance_unit_explains_the_table_without_being_it() {
    let c = Case::mechanical("it-unit-18-30");
    let (d, i) = tolerance_unit(c.input("over_mm"), c.input("up_to_mm"));
    c.check("D_mm", d);
    c.check("i_um", i);
    c.check("16i_um", 16.0 * i);
    c.check("table_IT7_um", standard_tolerance_um(25.0, 7).unwrap());
}

#[test]
fn the_rule_of_two_hundredths_is_grade_7() {
    let c = Case::mechanical("collar-rule");
    let v = c.input("nominal_mm");
    c.check("IT7_mm", standard_tolerance_um(v, 7).unwrap() / 1e3);
    c.check("IT6_mm", standard_tolerance_um(v, 6).unwrap() / 1e3);
    c.check_word("nearest_grade", &format!("IT{}", nearest_grade(v, 1e3 * c.input("rule_tolerance_mm")).unwrap()));
}

/// A row that says how many of a table's values differ.
fn whole_table(id: &str, what: &str, source: &str, count: usize, differ: &[String]) {
    assert!(count > 20, "{what}: {count} values are no table");
    println!("{differ:?}");
    let what = format!("{what}: of {count} values so many differ");
    row(id, &what, Kind::ClosedFormOrTable, source, 0.0, differ.len() as f64, Tolerance::Absolute(0.0));
}

#[test]
fn every_value_of_the_tolerance_grades_is_reproduced() {
    let (mut count, mut differ) = (0, vec![]);
    for r in Table::read("iso286_it_grades.csv").rows() {
        let (over, up_to) = (r.number("over_mm"), r.number("up_to_incl_mm"));
        for size in [over + 0.1, up_to] {
            assert_eq!(size_step_mm(size).unwrap(), [over, up_to]);
            for grade in 1..=12_u8 {
                count += 1;
                let (want, got) = (r.number(&format!("IT{grade}_um")), standard_tolerance_um(size, grade).unwrap());
                if want != got {
                    differ.push(format!("IT{grade} at {size}: {want} {got}"));
                }
            }
        }
    }
    whole_table("ISO-01", "standard tolerances IT1 to IT12 to 500 mm", "ISO 286-1:2010, reference/iso286_it_grades.csv", count, &differ);
}

#[test]
fn every_value_of_the_shaft_deviations_is_reproduced() {
    let (mut count, mut differ) = (0, vec![]);
    for r in Table::read("iso286_shaft_deviations.csv").rows() {
        for size in [r.number("over_mm") + 0.1, r.number("up_to_incl_mm")] {
            for grade in 1..=12_u8 {
                let it = standard_tolerance_um(size, grade).unwrap();
                for letter in ["d", "e", "f", "g", "h", "k", "m", "n", "p", "r", "s"] {
                    let below = matches!(letter, "d" | "e" | "f" | "g" | "h");
                    let column = match letter {
                        "k" if (4..=7).contains(&grade) => "k_ei_IT4_to_IT7_um".to_owned(),
                        "k" => "k_ei_other_grades_um".to_owned(),
                        _ => format!("{letter}_{}_um", if below { "es" } else { "ei" }),
                    };
                    let want = r.number(&column);
                    let got = shaft(&format!("{letter}{grade}"), size);
                    count += 1;
                    let told = if below { [want - it, want] } else { [want, want + it] };
                    if [got.lower_um, got.upper_um] != told {
                        differ.push(format!("{letter}{grade} at {size}: {want} {got:?}"));
                    }
                }
                let js = shaft(&format!("js{grade}"), size);
                assert_eq!((js.upper_um, js.lower_um), (it / 2.0, -it / 2.0));
            }
        }
    }
    whole_table("ISO-02", "shaft deviations d to s to 250 mm", "ISO 286-1:2010, reference/iso286_shaft_deviations.csv", count, &differ);
}

#[test]
fn every_value_of_the_hole_deviations_is_reproduced() {
    let (mut count, mut differ) = (0, vec![]);
    for r in Table::read("iso286_hole_deviations.csv").rows() {
        for size in [r.number("over_mm") + 0.1, r.number("up_to_incl_mm")] {
            for grade in 1..=12_u8 {
                let it = standard_tolerance_um(size, grade).unwrap();
                for letter in ["D", "E", "F", "G", "H"] {
                    let (want, got) = (r.number(&format!("{letter}_EI_um")), hole(&format!("{letter}{grade}"), size));
                    count += 1;
                    if got.lower_um != want || got.upper_um != want + it {
                        differ.push(format!("{letter}{grade} at {size}: {want} {got:?}"));
                    }
                }
                for letter in ["K", "M", "N", "P", "R", "S"] {
                    let last = if matches!(letter, "K" | "M" | "N") { 8 } else { 7 };
                    let class = format!("{letter}{grade}");
                    let got = Hole::read(&class).unwrap().limits(size);
                    let want = if grade > last {
                        r.text(&format!("{letter}_ES_above_IT{last}_um")).parse().ok()
                    } else {
                        let base = r.number(&format!("{letter}_ES_base_up_to_IT{last}_um"));
                        match r.text("add_delta").as_str() {
                            "no" => Some(base),
                            // Tabled from IT3 on.
                            _ if grade < 3 => None,
                            _ => Some(base + r.number(&format!("delta_IT{grade}_um"))),
                        }
                    };
                    count += 1;
                    match (want, got) {
                        (None, Err(f)) => assert_eq!(f.field, "hole", "{f}"),
                        (Some(w), Ok(g)) if g.upper_um == w && g.lower_um == w - it => {}
                        (w, g) => differ.push(format!("{class} at {size}: {w:?} {g:?}")),
                    }
                }
                let js = hole(&format!("JS{grade}"), size);
                assert_eq!((js.upper_um, js.lower_um), (it / 2.0, -it / 2.0));
            }
            // The table's own law: delta is the step from one grade to the next.
            for grade in 3..=8_u8 {
                if r.text("add_delta") == "yes" {
                    let rise = standard_tolerance_um(size, grade).unwrap() - standard_tolerance_um(size, grade - 1).unwrap();
                    assert_eq!(rise, r.number(&format!("delta_IT{grade}_um")), "delta of IT{grade} at {size}");
                }
            }
        }
    }
    whole_table("ISO-03", "hole deviations D to S to 250 mm", "ISO 286-1:2010, reference/iso286_hole_deviations.csv", count, &differ);
}

#[rstest]
#[case("thermal-brass-in-alu")]
#[case("thermal-arbor-in-brass")]
#[case("thermal-collar")]
fn warmth_moves_the_clearance_of_unlike_materials(#[case] id: &str) {
    let c = Case::mechanical(id);
    let got = warmth_um(c.input("D_mm"), c.input("cte_hole"), c.input("cte_shaft"), c.input("dT_K")).unwrap();
    c.check("clearance_change_um", got);
}

#[test]
fn a_pillar_grows_with_warmth() {
    let c = Case::mechanical("thermal-pillar");
    let growth = growth_um(c.input("h_mm"), c.input("cte"), c.input("dT_K"));
    c.check("growth_um", growth);
    c.check("tilt_mm_per_m", growth / c.input("span_mm"));
}

#[test]
fn general_tolerances_are_those_of_the_standard() {
    let c = Case::mechanical("2768-m-50");
    c.check("pm_mm", length_mm(c.input("nominal_mm"), Fineness::Medium).unwrap());
    let c = Case::mechanical("2768-f-250");
    c.check("pm_mm", length_mm(c.input("nominal_mm"), Fineness::Fine).unwrap());
    let c = Case::mechanical("2768-m-6");
    c.check("pm_mm", length_mm(c.input("nominal_mm"), Fineness::Medium).unwrap());
    let c = Case::mechanical("2768-c-2");
    c.check("pm_mm", length_mm(c.input("nominal_mm"), Fineness::Coarse).unwrap());
    let c = Case::mechanical("2768-chamfer-m");
    let got: Vec<f64> = c.inputs("nominal_mm").into_iter().map(|v| broken_edge_mm(v, Fineness::Medium).unwrap()).collect();
    c.check_list("pm_mm", &got);
    let c = Case::mechanical("2768-angle-m");
    let off = angle_arcmin(c.input("shorter_leg_mm"), Fineness::Medium).unwrap();
    c.check("pm_arcmin", off);
    c.check("pm_mm_at_end", off_at_end_mm(c.input("shorter_leg_mm"), off));
    let c = Case::mechanical("2768-flat-H");
    let lengths = c.inputs("length_mm");
    c.check_list("t_mm", &[flatness_mm(lengths[0], Form::H).unwrap(), flatness_mm(lengths[1], Form::K).unwrap()]);
    let c = Case::mechanical("2768-perp-K");
    let got: Vec<f64> = c.inputs("shorter_leg_mm").into_iter().map(|v| perpendicularity_mm(v, Form::K).unwrap()).collect();
    c.check_list("t_mm", &got);
}

#[rstest]
#[case("oring-static-2.65")]
#[case("oring-static-3.55")]
#[case("oring-air-3.55")]
#[case("oring-air-2.5")]
#[case("oring-overfilled")]
fn a_gland_squeezes_and_fills_as_worked(#[case] id: &str) {
    let c = Case::mechanical(id);
    c.check("squeeze_pct", squeeze_percent(c.input("section_mm"), c.input("depth_mm")));
    c.check("fill_pct", fill_percent(c.input("section_mm"), c.input("depth_mm"), c.input("width_mm")));
}

/// The stack of case `oring-stack-40-eccentric`: bore 40 H7, groove 33.5 h9, saddle 40 f7, section 3.55, ring 32.5.
fn stacked() -> Gland {
    Gland {
        place: Place::OnSaddle,
        service: Service::SlidingAir,
        bore_mm: [40.0, 40.025],
        saddle_mm: [39.95, 39.975],
        groove_mm: [33.438, 33.5],
        width_mm: [4.2, 4.45],
        section_mm: [3.45, 3.65],
        inside_mm: [32.4, 32.6],
        behind_mm: Some(20.0),
        beside_mm: Some(4.0),
    }
}

#[test]
fn a_gland_at_the_worst_of_all_tolerances() {
    let sealed = stacked().sealed().unwrap();
    let c = Case::mechanical("oring-stack-40");
    c.check("depth_min_mm", sealed.depth_mm[0]);
    c.check("depth_max_mm", sealed.depth_mm[1]);
    c.check("squeeze_min_pct", sealed.squeeze_percent[0]);
    c.check("squeeze_max_pct", sealed.squeeze_percent[1]);
    let c = Case::mechanical("oring-stack-40-eccentric");
    c.check("radial_shift_mm", sealed.shift_mm);
    c.check("squeeze_min_pct", sealed.squeeze_pushed_percent);
    let c = Case::mechanical("oring-fill-worst");
    c.check("fill_pct", sealed.fill_percent[1]);
    let c = Case::mechanical("oring-stretch");
    let stretch = c.input("groove_dia_mm") / c.input("ring_id_mm") - 1.0;
    c.check("stretch_pct", 100.0 * stretch);
    c.check("section_after_mm", stretched_section_mm(c.input("section_mm"), stretch));
    // The same through the gland: no tolerance but on the ring's section.
    let exact = Gland { groove_mm: [33.5; 2], inside_mm: [32.5; 2], section_mm: [3.55; 2], ..stacked() };
    let got = exact.sealed().unwrap();
    assert!((got.stretch_percent[1] - 100.0 * stretch).abs() < 1e-9);
    assert!((got.section_in_place_mm[0] - stretched_section_mm(3.55, stretch)).abs() < 1e-12);
}

#[test]
fn a_section_that_loses_contact_in_its_published_groove_is_refused() {
    let c = Case::mechanical("oring-air-1.0-min");
    c.check("squeeze_min_pct", squeeze_percent(c.input("section_min_mm"), c.input("depth_mm")));
    let h = Housing::find(1.0).unwrap();
    let [depth, width] = h.groove_mm(Service::SlidingAir);
    let groove = 40.0 - 2.0 * depth;
    let gland = Gland {
        groove_mm: [groove, groove],
        width_mm: [width, width + 0.25],
        section_mm: [1.0 - h.section_tolerance_mm, 1.0 + h.section_tolerance_mm],
        inside_mm: [groove / 1.02, groove / 1.02],
        ..stacked()
    };
    let fault = gland.sealed().unwrap_err();
    let seals = c.expected("seals").as_bool().unwrap();
    assert_eq!(seals, fault.field != "section_mm");
    let verdict = if seals { "seals" } else { "refused" };
    word("oring-air-1.0-min", "1.0 mm ring on a sliding saddle", Kind::ClosedFormOrTable, &c.source(), "refused", verdict);
    assert!(fault.why.contains("does not touch"), "{fault}");
}

#[test]
fn every_value_of_the_housings_is_reproduced() {
    let (mut count, mut differ) = (0, vec![]);
    for r in Table::read("oring_glands.csv").rows() {
        let section = r.number("section_d2_mm");
        let h = Housing::find(section).unwrap();
        let plain = [
            ("section_tol_pm_mm", h.section_tolerance_mm),
            ("static_radial_depth_t_mm", h.still_depth_mm),
            ("static_and_reciprocating_width_b_mm(+0.25/0)", h.still_width_mm),
            ("pneumatic_source_row_section_mm", h.air_row_mm),
            ("pneumatic_depth_t_mm", h.air_depth_mm),
            ("pneumatic_width_b_mm", h.air_width_mm),
            ("lead_in_z_pneumatic_mm", h.air_lead_in_mm),
            ("groove_corner_radius_mm", h.corner_radius_mm),
            ("reciprocating_general_depth_t_mm", h.reciprocating_depth_mm.unwrap_or(f64::NAN)),
            ("lead_in_z_static_mm", h.still_lead_in_mm.unwrap_or(f64::NAN)),
            ("lead_in_length_at_15deg_mm", h.lead_in_at_15_deg_mm.unwrap_or(f64::NAN)),
        ];
        for (column, got) in plain {
            count += 1;
            let want: f64 = r.text(column).parse().unwrap_or(f64::NAN);
            if want != got && !(want.is_nan() && got.is_nan()) {
                differ.push(format!("{section} {column}: {want} {got}"));
            }
        }
        // Worked columns of the file, to the digits that it holds.
        let (s, tol) = (section, h.section_tolerance_mm);
        let worked = [
            ("static_squeeze_pct", squeeze_percent(s, h.still_depth_mm)),
            ("static_squeeze_min_pct", squeeze_percent(s - tol, h.still_depth_mm)),
            ("static_squeeze_max_pct", squeeze_percent(s + tol, h.still_depth_mm)),
            ("static_fill_pct", fill_percent(s, h.still_depth_mm, h.still_width_mm)),
            ("pneumatic_squeeze_pct", squeeze_percent(s, h.air_depth_mm)),
            ("pneumatic_squeeze_min_pct", squeeze_percent(s - tol, h.air_depth_mm)),
            ("pneumatic_squeeze_max_pct", squeeze_percent(s + tol, h.air_depth_mm)),
            ("pneumatic_fill_pct", fill_percent(s, h.air_depth_mm, h.air_width_mm)),
        ];
        for (column, got) in worked {
            count += 1;
            if (r.number(column) - got).abs() > 0.0501 {
                differ.push(format!("{section} {column}: {} {got}", r.number(column)));
            }
        }
    }
    whole_table("ORI-01", "radial housings, 1.0 to 7.0 mm", "groove tables in reference/oring_glands.csv", count, &differ);
}

#[rstest]
#[case("tapdrill-M5", "M5")]
#[case("tapdrill-M6", "M6")]
#[case("tapdrill-M8", "M8")]
#[case("tapdrill-M10x1", "M10x1")]
#[case("tapdrill-M12", "M12")]
fn a_tap_drill_leaves_the_height_of_the_charts(#[case] id: &str, #[case] name: &str) {
    let c = Case::mechanical(id);
    let t = Thread::find("thread", name).unwrap();
    assert_eq!((t.d_mm, t.pitch_mm), (c.input("d_mm"), c.input("pitch_mm")));
    c.check("tap_drill_mm", t.tap_drill_mm);
    c.check("D1_mm", t.minor_mm());
    let [basic, chart] = t.height_percent(t.tap_drill_mm).unwrap();
    c.check("height_pct_of_H1", basic);
    c.check("height_pct_tapchart", chart);
}

#[test]
fn threads_bear_as_the_handbooks_say() {
    let c = Case::mechanical("stress-area");
    let areas: Vec<f64> = ["M6", "M8", "M10", "M12"].iter().map(|n| Thread::find("thread", n).unwrap().stress_area_mm2()).collect();
    c.check_list("As_mm2", &areas);
    c.check_list("iso898_1", &areas);
    let m6 = Thread::find("thread", "m 6").unwrap();
    let c = Case::mechanical("engagement-M6-same-material");
    c.check("At_mm2", m6.stress_area_mm2());
    c.check("Le_mm", m6.equal_strength_mm());
    let c = Case::mechanical("strip-M6-in-6082");
    let got = m6.strength(c.input("Le_mm"), c.input("Rm_MPa"), 800.0).unwrap();
    c.check("internal_shear_area_mm2", got.internal_area_mm2);
    c.check("external_shear_area_mm2", got.external_area_mm2);
    c.check("strip_force_N", got.strips_at_n);
    assert_eq!(thread::SHEAR_SHARE, c.input("shear_ratio"));
}

#[test]
fn every_value_of_the_threads_and_ports_is_reproduced() {
    let (mut count, mut differ) = (0, vec![]);
    for r in Table::read("iso_metric_threads.csv").rows() {
        let t = Thread::find("thread", &r.text("thread")).unwrap();
        assert_eq!(t.coarse, r.text("series") == "coarse");
        let drill = t.height_percent(t.tap_drill_mm).unwrap()[0];
        // Name, what was got, how far the file's own digits leave it open.
        let got = [
            ("d_mm", t.d_mm, 0.0),
            ("pitch_mm", t.pitch_mm, 0.0),
            ("tap_drill_mm", t.tap_drill_mm, 0.0),
            ("D1_max_6H_mm", t.largest_minor_mm, 0.0),
            ("pitch_diameter_d2_mm", t.pitch_diameter_mm(), 0.000501),
            ("minor_internal_D1_mm", t.minor_mm(), 0.000501),
            ("minor_external_d3_mm", t.root_mm(), 0.000501),
            ("thread_height_percent_of_H1", drill, 0.0501),
            ("stress_area_formula_mm2", t.stress_area_mm2(), 0.00501),
        ];
        for (column, got, open) in got {
            count += 1;
            if (r.number(column) - got).abs() > open {
                differ.push(format!("{} {column}: {} {got}", t.name, r.number(column)));
            }
        }
        if let Ok(published) = r.text("stress_area_iso898_1_mm2").parse::<f64>() {
            count += 1;
            if (t.stress_area_mm2() / published - 1.0).abs() > 0.005 {
                differ.push(format!("{} ISO 898-1: {published}", t.name));
            }
        }
        let within = (t.minor_mm() - 1e-3..=t.largest_minor_mm).contains(&t.tap_drill_mm);
        assert_eq!(within, r.text("tap_drill_within_6H_minor_limits") == "yes", "{}", t.name);
    }
    assert_eq!(thread::threads().len(), Table::read("iso_metric_threads.csv").rows().count());
    for r in Table::read("pneumatic_ports.csv").rows() {
        let p = Port::find("port", r.text("port").split('x').next().unwrap()).unwrap();
        let got = [
            ("major_d_mm", p.d_mm),
            ("pitch_mm", p.pitch_mm),
            ("minor_internal_D1_min_mm", p.minor_mm[0]),
            ("minor_internal_D1_max_mm", p.minor_mm[1]),
            ("tap_drill_mm", p.tap_drill_mm),
            ("drilled_depth_min_mm", p.drilled_depth_mm),
        ];
        for (column, got) in got {
            count += 1;
            if r.number(column) != got {
                differ.push(format!("{} {column}: {} {got}", p.name, r.number(column)));
            }
        }
        assert_eq!(p.spotface_mm, r.text("spotface_dia_mm").parse().ok());
        // "4 to 5": the lesser is the least.
        assert_eq!(p.thread_depth_mm, r.text("full_thread_depth_min_mm").split(' ').next().unwrap().parse::<f64>().unwrap());
    }
    whole_table("THR-01", "threads M2 to M24 and ports", "ISO 724, ISO 965-1, ISO 898-1, DIN 3852-2; files in reference/", count, &differ);
}

#[test]
fn a_port_has_its_drill_within_the_limits_of_its_thread() {
    let c = Case::mechanical("port-G1-8");
    let p = Port::find("port", &c.text("port")).unwrap();
    c.check_list("D1_limits_mm", &p.minor_mm);
    c.check("tap_drill_mm", p.tap_drill_mm);
    c.check("thread_depth_min_mm", p.thread_depth_mm);
    c.check("drilled_depth_min_mm", p.drilled_depth_mm);
    for p in thread::ports() {
        assert!(p.minor_mm[0] <= p.tap_drill_mm && p.tap_drill_mm <= p.minor_mm[1], "{}", p.name);
    }
}

#[test]
fn every_value_of_the_materials_is_reproduced() {
    let (mut count, mut differ) = (0, vec![]);
    let table = Table::read("materials.csv");
    assert_eq!(table.rows().count(), MATERIALS.len());
    for (m, r) in MATERIALS.iter().zip(table.rows()) {
        assert_eq!(m.full_name, r.text("material"));
        assert_eq!(Material::find("material", &m.name.to_lowercase()).unwrap(), m);
        let got = [
            ("E_GPa", m.young_gpa),
            ("poisson", m.poisson),
            ("density_kg_m3", m.density_kg_m3),
            ("CTE_1e-6_per_K", m.cte_per_mk),
            ("yield_MPa", m.yield_mpa.unwrap_or(f64::NAN)),
        ];
        for (column, got) in got {
            count += 1;
            let want: f64 = r.text(column).parse().unwrap_or(f64::NAN);
            if want != got && !(want.is_nan() && got.is_nan()) {
                differ.push(format!("{} {column}: {want} {got}", m.name));
            }
        }
    }
    whole_table("MAT-01", "materials of a stand", "data sheets named in reference/materials.csv", count, &differ);
}

#[test]
fn a_proposal_stays_within_what_is_wanted_and_leaves_the_most_room_first() {
    // A sliding collar, 5 to 60 µm at 40 mm: H7/g6 (9 to 50) is one of them by the standard's own table.
    let all = propose(40.0, [5.0, 60.0], Basis::Hole).unwrap();
    assert!(all.iter().any(|p| p.hole.to_string() == "H7" && p.shaft.to_string() == "g6"));
    for p in &all {
        assert!(p.clearance.min_um >= 5.0 && p.clearance.max_um <= 60.0, "{p:?}");
    }
    let room = |i: usize| all[i].hole_limits.tolerance_um() + all[i].shaft_limits.tolerance_um();
    assert!((1..all.len()).all(|i| room(i) <= room(i - 1)));
    // Bought ground bar: only the hole's letter is free.
    assert!(propose(20.0, [5.0, 45.0], Basis::Shaft).unwrap().iter().all(|p| p.shaft.letter == "h"));
    let fault = propose(40.0, [10.0, 12.0], Basis::Hole).unwrap_err();
    assert_eq!(fault.field, "wanted_clearance_um");
    assert!(fault.allowed.contains("keeps"), "{fault}");
}
