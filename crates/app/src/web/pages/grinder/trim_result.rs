//! What a trim says: the picture of the wheel with the unbalance found, the moves, and what is to be expected.

use super::super::super::show::{Show, significant};
use super::super::super::wheel::picture;
use super::super::scene;
use super::super::time::moment;
use super::trim::{View, carried};
use maud::{Markup, html};
use stillwheel_door::trim::{TrimAnswer, TrimOut};
use stillwheel_drawing::{PictureUnbalance, WheelPicture};
use stillwheel_physics::quantity::{Angle, RotorAngle};

pub(super) fn result(v: &View, out: &TrimOut) -> Markup {
    let show = v.show;
    let one = if let [one] = &out.answers[..] { Some(one) } else { None };
    html! {
        section.card.now role="status" {
            p.say { (sentence(show, out)) }
            (picture(&wheel(v, out), show))
            div.do {
                @if let Some(p) = &out.placement {
                    @if !p.moves.is_empty() {
                        ul.moves { @for m in &p.moves { li { "Weight " (m.weight + 1) ": from " (show.angle(m.from_deg)) " to " b { (show.angle(m.to_deg)) } } } }
                    }
                    @if !p.screw_changes.is_empty() {
                        ul.moves { @for c in &p.screw_changes { li { "Hole " (c.hole + 1) " at " (show.angle(c.at_deg)) ": " (screw(show, c.out_g)) " → " b { (screw(show, c.in_g)) } } } }
                    }
                    form method="post" action={ (v.path()) "/trim" } enctype="multipart/form-data" {
                        (carried(v))
                        button.main.big.wide type="submit" { "The weights are moved so" }
                    }
                }
                dl.facts {
                    @for a in &out.answers { (answer(show, a)) }
                    @if let Some(e) = &out.expected {
                        dt { "Left then" } dd { (show.unbalance(e.unbalance_rms_g_mm)) br; small { "with 95 % below " (show.unbalance(e.unbalance_95_g_mm)) } }
                        dt { "Reading then" } dd { "about " (significant(e.amplitude_rms, 2)) br; small { "of the once-per-turn part" } }
                        @if let Some(within) = e.within_allowance { dt { "Allowance" } dd { (show.unbalance(v.sat.sitting.start.allowance.g_mm)) br; small { @if within { "✓ kept, by these readings" } @else { "not shown by these readings" } } } }
                    }
                    @if let Some(one) = one { dt { "The machine answers" } dd { (significant(one.answer_per_g_mm * 100.0, 3)) " a 100 g·mm" } }
                    @if out.agreement.spare > 0 { dt { "The runs agree" } dd { (agreement(out)) } }
                    @if let Some(r) = &out.remainder {
                        @if let Some(s) = r.other_share_now { dt { "Not once per turn" } dd { (significant(100.0 * s, 2)) " % of the vibration now" @if let Some(t) = r.other_share_then { ", " (significant(100.0 * t, 2)) " % then" } } }
                        @if let Some(s) = r.second_over_first { dt { "Twice a turn" } dd { (significant(100.0 * s, 2)) " % of once" } }
                    }
                }
                @for c in &out.cautions { p.caution { (c) } }
            }
        }
    }
}

/// The door's sentence with this person's angles and unit.
fn sentence(show: Show, out: &TrimOut) -> String {
    let [one] = &out.answers[..] else {
        let places: Vec<String> = out
            .answers
            .iter()
            .map(|a| format!("{} at {}", show.unbalance(a.unbalance.size_g_mm), show.angle(a.unbalance.at_deg)))
            .collect();
        let next =
            out.next_trial_deg.map_or_else(String::new, |d| format!(" One more run with the trial at {} tells which.", show.angle(d)));
        return format!("Two answers fit these runs alike: {}.{next}", places.join(", or "));
    };
    let heavy = format!("Heavy by {} at {}", show.unbalance(one.unbalance.size_g_mm), show.angle(one.unbalance.at_deg.round()));
    match &out.placement {
        Some(p) if !p.moves.is_empty() => format!("{heavy}: stop the wheel, move {} as shown, clamp.", count(p.moves.len(), "weight")),
        Some(p) if !p.screw_changes.is_empty() => {
            format!("{heavy}: stop the wheel, change {} as shown.", count(p.screw_changes.len(), "screw"))
        }
        _ => format!("{heavy}: the weights stand as well as they can."),
    }
}

fn count(n: usize, what: &str) -> String {
    format!("{n} {what}{}", if n == 1 { "" } else { "s" })
}

fn screw(show: Show, g: Option<f64>) -> String {
    g.map_or("empty".into(), |g| show.mass(g))
}

fn answer(show: Show, a: &TrimAnswer) -> Markup {
    html! {
        dt { "Found" }
        dd {
            (show.unbalance_number(a.unbalance.size_g_mm)) " ± " (show.unbalance(1.96 * a.size_sd_g_mm)) " at " (show.angle(a.unbalance.at_deg.round()))
            br; small { @if a.at_sd_deg < 90.0 { "± " (significant(1.96 * a.at_sd_deg, 2)) "°" } @else { "direction open" } @if let Some(g) = a.correction_g { "; as much as " (show.mass(g)) " at the ring" } }
        }
    }
}

fn agreement(out: &TrimOut) -> String {
    let p = out.agreement.probability;
    if p < 0.01 {
        "no: they contradict one another".into()
    } else if p < 0.1 {
        format!("hardly ({:.0} %)", 100.0 * p)
    } else {
        "yes".into()
    }
}

fn wheel(v: &View, out: &TrimOut) -> WheelPicture {
    let mut shown = scene::as_it_is("trim", &v.sat.weights, &v.sat.sitting.start.ring.body, v.show);
    shown.legend = true;
    shown.title = "The unbalance found, and where the weights go".into();
    if let [one] = &out.answers[..] {
        shown.heavy = Some(RotorAngle::from_deg(one.unbalance.at_deg));
    }
    let outlines: Vec<Vec<[f64; 2]>> = out.answers.iter().map(ellipse).collect();
    let allowance_g_mm = Some(v.sat.sitting.start.allowance.g_mm);
    shown.unbalance = Some(PictureUnbalance { outlines_g_mm: outlines, holds: "95 %".into(), allowance_g_mm, outer_g_mm: None });
    if let Some(p) = &out.placement {
        for m in &p.moves {
            if let Some(w) = shown.weights.get_mut(m.weight) {
                w.move_by = Some(Angle::from_deg(m.by_deg));
            }
        }
        for c in &p.screw_changes {
            if let Some(h) = shown.holes.get_mut(c.hole) {
                h.then = Some(c.in_g.map(|g| significant(g, 3)));
            }
        }
    }
    shown
}

/// The outline of an answer's 95 % region.
fn ellipse(a: &TrimAnswer) -> Vec<[f64; 2]> {
    let (cs, sn) = (a.unbalance.at_deg.to_radians().cos(), a.unbalance.at_deg.to_radians().sin());
    let (c, s) = (a.ellipse_deg.to_radians().cos(), a.ellipse_deg.to_radians().sin());
    // A region too narrow to be drawn is drawn as wide as a line.
    let least = 0.01 * a.unbalance.size_g_mm.max(1e-3);
    let [p, q] = a.ellipse_g_mm.map(|h| h.clamp(least, 1e8));
    (0..72)
        .map(|k| {
            let (st, ct) = f64::from(5 * k).to_radians().sin_cos();
            [a.unbalance.size_g_mm * cs + p * ct * c - q * st * s, a.unbalance.size_g_mm * sn + p * ct * s + q * st * c]
        })
        .collect()
}

/// Trims that were kept.
pub(super) fn trims_card(v: &View) -> Markup {
    html! {
        @if !v.sat.trims.is_empty() {
            section.card.narrow {
                h2 { "Trims of this rotor" }
                ul.list { @for t in v.sat.trims.iter().rev() { li { span.what { b { (moment(t.at)) } small { (sentence(v.show, &t.body.out)) " " (t.body.machine) @if !t.who.is_empty() { ", " (t.who) } } } } } }
            }
        }
    }
}
