//! What a swing log tells: measured and fitted angle, unbalance and heavy side, drag and drift, and what to do when it tells
//! too little.

use super::super::error::WebError;
use super::super::layout::{self, Place};
use super::super::show::{Show, significant};
use super::super::state::App;
use super::super::wheel::picture;
use super::scene;
use crate::sitting::{LogBody, LogFrom, LookBody, Sat, log_fit};
use axum::extract::{Path, State};
use axum::http::HeaderMap;
use maud::{Markup, PreEscaped, html};
use std::f64::consts::{PI, TAU};
use stillwheel_door::fit_log::FitLogOut;
use stillwheel_drawing::{LogPlot, LogPoint, log_plot};
use stillwheel_physics::quantity::RotorAngle;
use stillwheel_store::{EventKind, Id};

/// Two-sided 95 % of a normal distribution in standard deviations (any table of the normal distribution).
const K95: f64 = 1.959_964;
/// Part of a swing below which unbalance, drift and drag trade against one another.
const WHOLE_ENOUGH: f64 = 0.75;
/// Scatter against the given standard deviations from which something besides the swing was at work.
const ODD_SCATTER: f64 = 3.0;

/// `GET /sittings/{id}/log/{seq}`: a stored log.
pub(crate) async fn page(State(app): State<App>, Path((id, seq)): Path<(String, String)>, headers: HeaderMap) -> Result<Markup, WebError> {
    let show = Show::of(&headers);
    let id = Id::parse(&id)?;
    let key = id.clone();
    let missing = || WebError::NotFound("There is no swing log at this address.".into());
    let seq: u32 = seq.parse().map_err(|_| missing())?;
    let (sat, log, fit) = app
        .bench(move |b| {
            let sat = b.sat(&key)?;
            let event = sat.events.iter().find(|e| e.seq == seq && e.kind == EventKind::Look).ok_or_else(missing)?;
            let log = serde_json::from_value::<LookBody>(event.body.clone()).ok().and_then(|b| b.log).ok_or_else(missing)?;
            let fit = log_fit(&sat.sitting, &log)?;
            Ok::<_, WebError>((sat, log, fit))
        })
        .await?;
    let body = html! {
        h1 { "What the swing log tells" }
        p.lead { (sat.sitting.start.rotor.body.name) " · look no. " (seq) }
        (report(&sat, &log, &fit, show))
        p { a.button.main.big.wide href={ "/sittings/" (id) } { "Back to the sitting" } }
    };
    Ok(layout::page("Swing log", Place::Bench, show, app.is_demo(), body))
}

/// Picture, numbers, advice.
pub(super) fn report(sat: &Sat, log: &LogBody, fit: &FitLogOut, show: Show) -> Markup {
    html! {
        div.cols {
            section.card {
                h2 { "Measured and fitted" }
                (plot(log, fit))
            }
            div {
                section.card {
                    h2 { "Heavy side" }
                    (wheel(sat, fit, show))
                    (facts(fit, show))
                    @for a in advice(fit) { p.caution { strong { (a.0) } " " (a.1) } }
                    @for c in &fit.cautions { p.caution { (c) } }
                }
                @if !log.remarks.is_empty() {
                    section.card { h2 { "Noticed while tracking" } ul { @for r in &log.remarks { li { (r) } } } }
                }
            }
        }
    }
}

fn plot(log: &LogBody, fit: &FitLogOut) -> Markup {
    let points = log
        .t_s
        .iter()
        .zip(fit.fitted_deg.iter().zip(&fit.residual_deg))
        .enumerate()
        .map(|(i, (t, (fitted, residual)))| LogPoint {
            t_s: *t,
            measured_deg: fitted + residual,
            fitted_deg: *fitted,
            dropped: fit.points_dropped.binary_search(&i).is_ok(),
        })
        .collect();
    let title = match log.from {
        LogFrom::File => "Swing log from a file",
        LogFrom::Clip => "Swing log from a clip",
        LogFrom::Taps => "Swing log from taps",
    };
    match log_plot(&LogPlot { title: title.into(), id_prefix: "log-".into(), points, curve: Vec::new() }) {
        Ok(svg) => html! { div.plot { (PreEscaped(svg)) } },
        Err(fault) => html! { p.fault { "The picture can’t be drawn: " (fault) } },
    }
}

fn wheel(sat: &Sat, fit: &FitLogOut, show: Show) -> Markup {
    let mut scene = scene::as_it_is("heavy", &[], &sat.sitting.start.ring.body, show);
    scene.title = format!("The heavy side at {}", show.angle(fit.heavy_deg));
    // A direction that is hardly told is not drawn: a mark would claim it.
    if fit.reading.is_some() {
        scene.heavy = Some(RotorAngle::from_deg(fit.heavy_deg));
    }
    picture(&scene, show)
}

fn facts(fit: &FitLogOut, show: Show) -> Markup {
    // A value is shown no finer than its uncertainty: 0.0154 ± 0.5 would be false comfort.
    let size = |mean: f64, sd: f64| {
        let half = two_figures(K95 * sd);
        let last = 10.0_f64.powf(half.log10().floor() - 1.0);
        format!("{} ± {}", show.unbalance_number((mean / last).round() * last), show.unbalance(half))
    };
    let period = TAU / fit.u_over_j_per_s2.sqrt();
    let lost = 1.0 - (-0.5 * fit.viscous_over_j_per_s.mean * period).exp();
    html! {
        dl.facts {
            @if let Some(w) = &fit.with_inertia {
                dt { "Unbalance" } dd { (size(w.unbalance_g_mm.mean, w.unbalance_g_mm.sd)) " (95 %)" br; small { "with the weights as they stood" } }
            }
            dt { "Heavy side" } dd { (show.angle(fit.heavy_deg)) " ± " (significant((K95 * fit.heavy_sd_deg).min(180.0), 2)) "° (95 %)" }
            dt { "Small swing" } dd { (significant(period, 3)) " s; " (significant(fit.swings_covered, 2)) @if fit.swings_covered < 1.0 { " of a swing seen" } @else { " swings seen" } }
            @if let Some(w) = &fit.with_inertia {
                dt { "Drift" } dd {
                    (size(w.drift_g_mm.mean, w.drift_g_mm.sd)) br;
                    small { (drift_words(fit)) }
                }
            }
            dt { "Drag" } dd { (fit.main_cause_words) @if lost > 0.005 { br; small { "The air takes " (format!("{:.0} %", 100.0 * lost)) " of a small swing’s amplitude each time." } } }
            dt { "Angles" } dd { (fit.points_used) " used, " (fit.points_dropped.len()) " left out; noise " (significant(fit.noise_sd_deg, 2)) "°" }
        }
    }
}

/// What drift does to where the wheel rests.
fn drift_words(fit: &FitLogOut) -> String {
    let share = fit.drift_over_u.mean;
    if share.abs() <= K95 * fit.drift_over_u.sd {
        return "no drift stands out of its uncertainty".into();
    }
    if share.abs() >= 1.0 {
        return "larger than the unbalance: the wheel would turn on for ever".into();
    }
    let sense = if share > 0.0 { "counter-clockwise" } else { "clockwise" };
    format!("turns the rest place {sense} by {}°", significant(share.abs().asin() * 180.0 / PI, 2))
}

fn two_figures(v: f64) -> f64 {
    significant(v, 2).parse().unwrap_or(v)
}

/// What to do when the log tells little, or tells of a hand.
fn advice(fit: &FitLogOut) -> Vec<(&'static str, &'static str)> {
    let mut out = Vec::new();
    if fit.reading.is_none() || fit.swings_covered < WHOLE_ENOUGH {
        out.push((
            "The wheel is nearly balanced, or the log is short.",
            "Film for 60 s; or let it go from farther aside, 60° to 90° from its rest place; or set the weights off by a known amount and film again.",
        ));
    }
    if fit.scatter_factor > ODD_SCATTER {
        out.push((
            "The swing does not follow one free swing all the way.",
            "A hand, a draught or a stop may have been at work in part of it: cut that part off and track again.",
        ));
    }
    out
}
