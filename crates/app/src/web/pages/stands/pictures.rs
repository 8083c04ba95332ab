//! What a stand would do, in pictures and figures: the part of the page that answers to the sliders.

use super::super::super::show::{Show, significant};
use super::compute::For;
use maud::{Markup, PreEscaped, html};
use stillwheel_door::Fault;
use stillwheel_door::floor::{CauseName, EnoughName};
use stillwheel_door::saddle::Verdict as HammerVerdict;
use stillwheel_door::stand::{SaddleOut, StandOut};
use stillwheel_door::stand_sheet::StandSheet;
use stillwheel_drawing::{
    BudgetCause, BudgetPlot, CauseKind, CurveMark, CurvePlot, MarkKind, PlotAxis, PressureMap, SaddleSection, Series, budget, curves,
    pressure_map, saddle_section,
};

/// A cause in a few words.
pub(super) fn cause_words(cause: CauseName) -> &'static str {
    match cause {
        CauseName::FilmDrift => "drift of the air film",
        CauseName::CrossSlope => "slope across the arbor",
        CauseName::EndStop => "the arbor leaning on its end stop",
        CauseName::RollingFriction => "rolling friction",
        CauseName::WayFlatness => "waves of the ways",
        CauseName::BearingFriction => "friction of the discs' bearings",
        CauseName::DiscUnbalance => "unbalance of the discs",
        CauseName::ArborRoundness => "arbor out of round",
        CauseName::ArborRunout => "run-out of the wheel's seat",
        CauseName::AdapterFit => "play of the adapter",
        CauseName::Draught => "draught",
        CauseName::Reading => "the least creep that is seen",
    }
}

/// The answer, or what stands in its way.
pub(super) fn answered(result: Result<&(StandSheet, StandOut), &Fault>, on: &For, show: Show) -> Markup {
    match result {
        Ok((sheet, out)) => shown(sheet, out, on, show),
        Err(f) => html! {
            section.card.faults role="alert" {
                h2 { "This stand can’t be" }
                p { b { (f.field) " is " (f.value) "." } " " (f.why) @if !f.allowed.is_empty() { " Allowed: " (f.allowed) "." } }
            }
        },
    }
}

fn shown(sheet: &StandSheet, out: &StandOut, on: &For, show: Show) -> Markup {
    let (tag, word) = match out.floor.enough {
        EnoughName::Surely => ("good", "✓ Good enough"),
        EnoughName::Likely => ("warn", "– Good enough, as a rule"),
        EnoughName::No => ("bad", "✗ Not good enough"),
    };
    html! {
        section.card {
            h2 { "Is it good enough?" }
            p { span class={ "tag " (tag) } { (word) } }
            p { (out.says) }
            p.soft { "For " (on.rotor.body.name) " on " (on.machine.body.name) ": G " (significant(on.grade_mm_s, 3)) " allows " (show.unbalance(on.allowance_g_mm)) "." }
            @for w in &out.warnings { p.caution { strong { "Caution." } " " (w) } }
        }
        @if let Some(s) = out.saddles.first() {
            section.card {
                h2 { "The film" }
                (section(sheet, s, "near-", "Section through the operator's saddle"))
                (hammer(&out.saddles))
                h3 { "Pressure on the operator’s saddle, unrolled" }
                (pressure(sheet, s))
            }
        }
        section.card { h2 { "What limits it" } (budget_picture(out)) }
        @if let Some(s) = out.saddles.first() {
            section.card { h2 { "Force against film" } (curve(s)) (figures(out)) }
            section.card { h2 { "Air against pressure" } (flow(sheet, s)) }
        }
        section.card {
            h2 { "On its feet" }
            dl.facts {
                dt { "Mass centre inside the feet by" } dd { (significant(out.feet.margin_mm, 3)) " mm" }
                dt { "Sideways push that tips it" } dd { (significant(out.feet.tipping_force_n, 3)) " N" }
                dt { "Load on feet 1, 2, 3" } dd { @for (k, l) in out.feet.loads_n.iter().enumerate() { @if k > 0 { ", " } (significant(*l, 3)) } " N" }
                dt { "Sag of the arbor" } dd { (significant(out.arbor_sag_um, 3)) " µm" }
            }
        }
    }
}

fn drawn(svg: Result<String, Fault>) -> Markup {
    match svg {
        Ok(svg) => html! { div.plot { (PreEscaped(svg)) } },
        Err(f) => html! { p.fault { "The picture can’t be drawn: " (f) } },
    }
}

fn section(sheet: &StandSheet, s: &SaddleOut, prefix: &str, title: &str) -> Markup {
    let (Some(saddles), Some(feed)) = (&sheet.saddles, &sheet.feed) else { return html! {} };
    drawn(saddle_section(&SaddleSection {
        title: title.to_owned(),
        id_prefix: prefix.to_owned(),
        bore_radius_mm: sheet.arbor.diameter_mm / 2.0 + saddles.radial_clearance_um * 1e-3,
        arc_deg: saddles.arc_deg,
        film: s.film.clone(),
        pressure: s.pressure.clone(),
        port_diameter_mm: feed.port_diameter_mm,
        jet_diameter_mm: feed.jet_diameter_mm,
        port_offset_mm: 0.0,
        float_um: Some([0.0, s.y_um]),
    }))
}

fn budget_picture(out: &StandOut) -> Markup {
    let f = &out.floor;
    drawn(budget(&BudgetPlot {
        title: "Causes of the floor".to_owned(),
        id_prefix: "floor-".to_owned(),
        causes: f
            .causes
            .iter()
            .filter(|c| c.size_g_mm > 0.0)
            .map(|c| BudgetCause {
                name: cause_words(c.cause).to_owned(),
                size_g_mm: c.size_g_mm,
                kind: if c.systematic_g_mm >= 1.96 * c.random_sd_g_mm { CauseKind::Systematic } else { CauseKind::Random },
            })
            .collect(),
        root_sum_g_mm: f.floor_g_mm,
        worst_g_mm: f.worst_case_g_mm,
        allowance_g_mm: Some(f.allowance_g_mm),
    }))
}

fn curve(s: &SaddleOut) -> Markup {
    drawn(curves(&CurvePlot {
        title: "Force up against film under the arbor".to_owned(),
        id_prefix: "force-".to_owned(),
        x: PlotAxis { name: "film under the arbor".to_owned(), unit: "µm".to_owned() },
        y: PlotAxis { name: "force up".to_owned(), unit: "N".to_owned() },
        series: vec![Series { name: "one saddle at this pressure".to_owned(), points: s.curve.clone() }],
        marks: vec![CurveMark { at: [s.film_under_um, s.load_n], kind: MarkKind::Full, name: "floats here".to_owned() }],
        level: Some((s.load_n, "load".to_owned())),
    }))
}

fn hammer(saddles: &[SaddleOut]) -> Markup {
    // The saddle that is damped least speaks for both.
    let Some(h) = saddles.iter().map(|s| s.hammer).min_by(|a, b| a.damping_ratio.total_cmp(&b.damping_ratio)) else { return html! {} };
    let (tag, word) = match h.verdict {
        HammerVerdict::Stable => ("good", "✓ No hammer"),
        HammerVerdict::Marginal => ("warn", "– Near hammer"),
        HammerVerdict::Unstable => ("bad", "✗ Hammers"),
    };
    html! {
        p {
            span class={ "tag " (tag) } { (word) } " "
            @match h.bounce_hz {
                Some(f) => { "The arbor bounces at " (significant(f, 3)) " Hz, damped by " (significant(100.0 * h.damping_ratio, 2)) " % of critical." }
                None => { "No bounce was found." }
            }
            @if let Some(v) = h.largest_volume_mm3 { " Pocket and hole hold " (significant(h.volume_mm3, 2)) " mm³; from " (significant(v, 2)) " mm³ on it would hammer." }
        }
    }
}

fn pressure(sheet: &StandSheet, s: &SaddleOut) -> Markup {
    let Some(saddles) = &sheet.saddles else { return html! {} };
    drawn(pressure_map(&PressureMap {
        title: "Pressure over the operator's saddle".to_owned(),
        id_prefix: "map-".to_owned(),
        arc_deg: saddles.arc_deg,
        length_mm: saddles.length_mm,
        columns: s.pressure_grid.columns,
        bar: s.pressure_grid.bar.clone(),
    }))
}

fn flow(sheet: &StandSheet, s: &SaddleOut) -> Markup {
    // One point is no curve: a stand that floats at its own pressure only.
    let (Some(feed), true) = (&sheet.feed, s.flow_curve.len() > 1) else {
        return html! { p { "The load floats at no other pressure near this one." } };
    };
    drawn(curves(&CurvePlot {
        title: "Free air against supply pressure".to_owned(),
        id_prefix: "flow-".to_owned(),
        x: PlotAxis { name: "supply pressure".to_owned(), unit: "bar".to_owned() },
        y: PlotAxis { name: "free air".to_owned(), unit: "l/min".to_owned() },
        series: vec![Series { name: "one saddle under its load".to_owned(), points: s.flow_curve.clone() }],
        marks: vec![CurveMark { at: [feed.supply_bar, s.flow_l_min], kind: MarkKind::Full, name: "as set".to_owned() }],
        level: None,
    }))
}

fn figures(out: &StandOut) -> Markup {
    let both = |f: fn(&SaddleOut) -> f64, unit: &str| {
        let v: Vec<String> = out.saddles.iter().map(|s| significant(f(s), 3)).collect();
        if v.windows(2).all(|w| w[0] == w[1]) { format!("{} {unit}", v[0]) } else { format!("{} {unit}", v.join(" and ")) }
    };
    html! {
        dl.facts {
            dt { "Film under the arbor" } dd { (both(|s| s.film_under_um, "µm")) }
            dt { "Thinnest film" } dd { (both(|s| s.least_film_um, "µm")) }
            dt { "Stiffness up" } dd { (both(|s| s.stiffness_up_n_um, "N/µm")) }
            dt { "Stiffness to the side" } dd { (both(|s| s.stiffness_side_n_um, "N/µm")) }
            dt { "Largest load of a saddle" } dd { (both(|s| s.largest_load_n, "N")) }
            dt { "Lifts by itself from" } dd {
                @match out.saddles.iter().map(|s| s.lift_off_bar).collect::<Option<Vec<f64>>>() {
                    Some(v) => { (significant(v.iter().copied().fold(0.0, f64::max), 3)) " bar" }
                    None => { "no workshop pressure" }
                }
            }
            dt { "Air for both" } dd { (significant(out.flow_l_min, 3)) " l/min of free air" @if let Some(s) = out.compressor_share { ", " (significant(100.0 * s, 2)) " % of the compressor" } }
        }
    }
}
