//! What is known now: probability, residual with its uncertainty, allowance, floor, what can't be told.

use super::super::show::{Show, significant};
use super::sitting_view::View;
use maud::{Markup, PreEscaped, html};
use stillwheel_door::estimate::{EstimateOut, VectorOut};
use stillwheel_door::next_step::{Action, NextStepOut};

/// Two-sided 95 % of a normal distribution in standard deviations (any table of the normal distribution).
const K95: f64 = 1.959_964;

/// Half width at 95 % against the distance up to which a wedge from zero points somewhere: about 20°. Assumed, without a source.
const NARROW: f64 = 0.35;

/// The verdict card.
pub(super) fn verdict_card(view: &View) -> Markup {
    let Ok(step) = &view.sat.step else { return html! {} };
    html! {
        section.card {
            h2 { @if view.sat.standing.closed { "Verdict" } @else { "Verdict so far" } }
            p.verdict-word {
                @match &view.sat.verdict {
                    Some(v) if view.sat.standing.closed && !v.proven => span.tag.warn { "– Not proven" },
                    _ => (word(step)),
                }
            }
            (facts(view.show, step, &view.sat.sitting.start.allowance.reason))
            @if let Some(e) = &step.estimate { (gauge(view.show, e, step)) }
            @if let Some(e) = &step.estimate { (doubts(view, e)) (untold(e)) }
            (choices(step))
        }
    }
}

fn word(step: &NextStepOut) -> Markup {
    match step.action {
        Action::Accept => html! { span.tag.good { "✓ Proven" } },
        Action::MoveThenLook => html! { span.tag.act { "→ Move the weights" } },
        Action::Look => html! { span.tag.act { "◉ Look" } },
        Action::StandCannotShow => html! { span.tag.warn { "! Below this stand’s floor" } },
        Action::WeightsTooLight => html! { span.tag.warn { "! Weights too light" } },
    }
}

/// Probability, residual, allowance, floor.
pub(super) fn facts(show: Show, step: &NextStepOut, reason: &str) -> Markup {
    html! {
        dl.facts {
            dt { "Within allowance" } dd { (percent(step.p_within_allowance)) " sure" }
            @if let Some(e) = &step.estimate {
                dt { "Residual" } dd { (residual(show, &e.residual)) }
                dt { "95 % sure below" } dd { (show.unbalance(e.residual.size_quantiles_g_mm.p95)) }
            }
            dt { "Allowance" } dd { (show.unbalance(step.allowance_g_mm)) @if !reason.is_empty() { br; small { (reason) } } }
            dt { "Floor of the stand" } dd { (show.unbalance(step.floor_g_mm)) }
            @if let Some(d) = step.estimate.as_ref().and_then(|e| drift(show, e, step.allowance_g_mm)) { dt { "Drift torque" } dd { (d) } }
        }
    }
}

/// The stand's drift torque once it is told beyond doubt and not small against the allowance.
fn drift(show: Show, e: &EstimateOut, allowance_g_mm: f64) -> Option<Markup> {
    let d = e.drift_g_mm;
    let way = if d.mean > 0.0 { "counter-clockwise" } else { "clockwise" };
    (d.mean.abs() > 3.0 * d.sd && d.mean.abs() > 0.2 * allowance_g_mm).then(|| {
        html! { (show.unbalance_number(d.mean.abs())) " ± " (show.unbalance_number(K95 * d.sd)) " " (show.unbalance_unit()) " " (way) br; small { "The stand turns the arbor by itself: a port off-centre, or a slope." } }
    })
}

/// A probability without false certainty.
pub(super) fn percent(p: f64) -> String {
    if p >= 0.999 {
        "over 99.9 %".into()
    } else if p < 0.001 {
        "under 0.1 %".into()
    } else if p > 0.99 {
        format!("{:.1} %", 100.0 * p)
    } else {
        // Rounded down: 94.9 % must not look like the 95 % that is asked for.
        format!("{:.0} %", (100.0 * p + 1e-9).floor())
    }
}

/// Size and direction of a vector with ± at 95 %, as far as they are told.
pub(super) fn residual(show: Show, v: &VectorOut) -> String {
    let [ux, uy] = [v.x_g_mm, v.y_g_mm];
    let c = v.covariance_g2_mm2;
    if v.size_g_mm <= 0.0 {
        return format!("at most {}", show.unbalance(v.size_quantiles_g_mm.p95));
    }
    let (nx, ny) = (ux / v.size_g_mm, uy / v.size_g_mm);
    let along = (nx * nx * c[0][0] + 2.0 * nx * ny * c[0][1] + ny * ny * c[1][1]).max(0.0).sqrt();
    let half = K95 * along;
    if half >= v.size_g_mm {
        let about = show.unbalance(v.size_quantiles_g_mm.p50);
        let across = (ny * ny * c[0][0] - 2.0 * nx * ny * c[0][1] + nx * nx * c[1][1]).max(0.0).sqrt();
        if K95 * across < NARROW * v.size_g_mm {
            return format!("about {about} at {}, size open", show.angle(v.at_deg.round()));
        }
        // Zero is not excluded: a direction would pretend to know more than is known.
        return format!("about {about}, direction open");
    }
    format!("{} ± {} at {} (95 %)", show.unbalance_number(v.size_g_mm), show.unbalance(two_figures(half)), show.angle(v.at_deg.round()))
}

fn two_figures(v: f64) -> f64 {
    significant(v, 2).parse().unwrap_or(v)
}

/// Residual, allowance and floor on one scale.
fn gauge(show: Show, e: &EstimateOut, step: &NextStepOut) -> Markup {
    let q = e.residual.size_quantiles_g_mm;
    let top = (step.allowance_g_mm * 1.6).max((q.p95 * 1.08).min(step.allowance_g_mm * 12.0));
    let x = |v: f64| (v / top).clamp(0.0, 1.0) * 300.0 + 10.0;
    let text = format!(
        "Residual {} to {}, most likely about {}; allowance {}; floor {}",
        show.unbalance(q.p05),
        show.unbalance(q.p95),
        show.unbalance(q.p50),
        show.unbalance(step.allowance_g_mm),
        show.unbalance(step.floor_g_mm)
    );
    let over = q.p95 > top;
    PreEscaped(format!(
        "<svg class=\"gauge\" viewBox=\"0 0 320 66\" role=\"img\" aria-label=\"{text}\">\
         <rect class=\"inside\" x=\"10\" y=\"26\" width=\"{:.1}\" height=\"16\" rx=\"3\"/>\
         <path class=\"axis\" d=\"M10 34H310\"/>\
         <rect class=\"spread\" x=\"{:.1}\" y=\"29\" width=\"{:.1}\" height=\"10\" rx=\"5\"/>{}\
         <circle class=\"middle\" cx=\"{:.1}\" cy=\"34\" r=\"5\"/>\
         <path class=\"limit\" d=\"M{:.1} 20V48\"/><text class=\"word\" x=\"{:.1}\" y=\"14\" text-anchor=\"middle\">allowance</text>\
         <path class=\"floor\" d=\"M{:.1} 26V52\"/><text class=\"word\" x=\"{:.1}\" y=\"63\">floor</text></svg>",
        x(step.allowance_g_mm) - 10.0,
        x(q.p05),
        (x(q.p95) - x(q.p05)).max(3.0),
        if over { "<path class=\"over\" d=\"M312 28l6 6-6 6\"/>" } else { "" },
        x(q.p50),
        x(step.allowance_g_mm),
        x(step.allowance_g_mm).clamp(36.0, 284.0),
        x(step.floor_g_mm),
        x(step.floor_g_mm).clamp(2.0, 284.0),
    ))
}

fn doubts(view: &View, e: &EstimateOut) -> Markup {
    html! {
        @for d in &e.doubts {
            @let seq = view.sat.looks.get(d.look).map(|l| l.seq);
            div.caution {
                strong { "Look " (d.look + 1) " is in doubt (" (percent(d.probability)) ")." } " " (d.why)
                @if let Some(seq) = seq { " " a href={ "#event-" (seq) } { "Show it" } }
            }
        }
    }
}

fn untold(e: &EstimateOut) -> Markup {
    html! {
        @if !e.cannot_tell.is_empty() {
            h3 { "Can’t be told yet" }
            ul { @for u in &e.cannot_tell { li { b { (u.what) } ": " (u.advice) } } }
        }
    }
}

fn choices(step: &NextStepOut) -> Markup {
    html! {
        @if step.choices.len() > 1 {
            details {
                summary { "What else was weighed" }
                div.inside.table {
                    table {
                        thead { tr { th { "Choice" } th.num { "looks still to take" } th.num { "proven by it" } } }
                        tbody {
                            @for c in &step.choices {
                                tr { td { (c.what) } td.num { (format!("{:.1}", c.expected_looks)) } td.num { (percent(c.p_proven_by_it)) } }
                            }
                        }
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use stillwheel_door::estimate::Quantiles;

    fn vector(x: f64, y: f64, sd: f64) -> VectorOut {
        VectorOut {
            x_g_mm: x,
            y_g_mm: y,
            size_g_mm: x.hypot(y),
            at_deg: y.atan2(x).to_degrees().rem_euclid(360.0),
            covariance_g2_mm2: [[sd * sd, 0.0], [0.0, sd * sd]],
            size_quantiles_g_mm: Quantiles { p05: 1.0, p50: 2.0, p95: 3.0 },
        }
    }

    #[test]
    fn a_residual_is_shown_with_its_95_percent() {
        // 1.96 standard deviations of 5 g·mm: 9.8 g·mm.
        assert_eq!(residual(Show::default(), &vector(0.0, 40.0, 5.0)), "40 ± 9.8 g·mm at 90° (95 %)");
    }

    #[test]
    fn no_direction_is_claimed_when_zero_is_not_excluded() {
        assert_eq!(residual(Show::default(), &vector(3.0, 0.0, 5.0)), "about 2 g·mm, direction open");
    }

    #[test]
    fn a_settle_alone_tells_the_direction_and_leaves_the_size_open() {
        // A wedge at 90°: 25 g·mm along it, 2 g·mm across, so zero is not excluded but 90° ± 6° is told.
        let mut wedge = vector(0.0, 40.0, 0.0);
        wedge.covariance_g2_mm2 = [[4.0, 0.0], [0.0, 625.0]];
        assert_eq!(residual(Show::default(), &wedge), "about 2 g·mm at 90°, size open");
    }

    #[test]
    fn certainty_is_never_rounded_to_all_or_nothing() {
        assert_eq!(percent(1.0), "over 99.9 %");
        assert_eq!(percent(0.9993), "over 99.9 %");
        assert_eq!(percent(0.994), "99.4 %");
        assert_eq!(percent(0.95), "95 %");
        assert_eq!(percent(0.0), "under 0.1 %");
    }
}
