//! Trim in place as a form: runs with their readings typed or recorded, the answer, and the weights moved.

use super::super::super::error::WebError;
use super::super::super::form::{Field, Typed, fault_summary, field, select};
use super::super::super::layout::{self, Place};
use super::super::super::person::token;
use super::super::super::show::{Show, significant};
use super::super::super::state::App;
use super::super::super::upload::Upload;
use super::super::sitting::the_act;
use super::super::time::moment;
use super::trim_result::{result, trims_card};
use super::upload;
use crate::sitting::{AtTheGrinder, Bench, Sat, SittingFault};
use axum::extract::{Path, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use maud::{Markup, html};
use std::collections::HashMap;
use stillwheel_door::Fault;
use stillwheel_door::look::{Sense, TrialWeight};
use stillwheel_door::machine_sheet::read_machine_sheet;
use stillwheel_door::once_per_turn::once_per_turn_of;
use stillwheel_door::recording::read_recording;
use stillwheel_door::trim::{PhaseCounts, TrimIn, TrimOut, TrimRun, trim};
use stillwheel_physics::quantity::Dimension;
use stillwheel_store::Id;

/// Runs that the form has room for; the first four are always shown.
const RUNS: usize = 8;
const SHOWN: usize = 4;

/// What one run holds in the form: names by its number.
fn name(what: &str, k: usize) -> String {
    format!("{what}_{k}")
}

/// All that the page shows.
pub(super) struct View {
    pub(super) sat: Sat,
    pub(super) now: AtTheGrinder,
    pub(super) show: Show,
    pub(super) typed: Typed,
}

impl View {
    pub(super) fn path(&self) -> String {
        format!("/sittings/{}", self.sat.sitting.id)
    }
}

fn view(b: &Bench, id: &Id, typed: Typed, show: Show) -> Result<View, WebError> {
    let sat = b.sat(id)?;
    let now = b.at_the_grinder(&sat)?;
    Ok(View { sat, now, show, typed })
}

/// `GET /grinder/trim`: which sitting's rotor is on the machine.
pub(crate) async fn choose(State(app): State<App>, headers: HeaderMap) -> Result<Markup, WebError> {
    let show = Show::of(&headers);
    let mut sittings = app.bench(|b| b.store().sittings(None)).await?;
    sittings.sort_by_key(|s| std::cmp::Reverse(s.started_at));
    let body = html! {
        h1 { "Trim in place" }
        p.lead { "Which rotor is on the machine? Its last sitting knows where the weights stand." }
        section.card.narrow {
            @if sittings.is_empty() { p.soft { "No sitting yet: balance a rotor on the stand first." } }
            ul.list {
                @for s in sittings.iter().take(40) {
                    li { a.row href={ "/sittings/" (s.id) "/trim" } { span.what { b { (s.rotor_name) } small { (s.machine_name) " · " (moment(s.started_at)) } } } }
                }
            }
            div.actions { a.button href="/grinder" { "Back" } }
        }
    };
    Ok(layout::page("Trim in place", Place::Grinder, show, app.is_demo(), body))
}

/// `GET /sittings/{id}/trim`.
pub(crate) async fn page(State(app): State<App>, Path(id): Path<String>, headers: HeaderMap) -> Result<Response, WebError> {
    let (id, show) = (Id::parse(&id)?, Show::of(&headers));
    let body = app
        .bench(move |b| {
            let mut v = view(b, &id, Typed::default(), show)?;
            let ring = &v.sat.sitting.start.ring.body;
            v.typed.put("trial_radius_mm", show.typed(ring.radius_mm, Dimension::Length));
            v.typed.put("rel_sd_percent", "3");
            let turns = read_machine_sheet(&v.now.machine.sheet_toml).map_or(Sense::Clockwise, |s| s.spindle.turns);
            v.typed.put("turns", if turns == Sense::Clockwise { "clockwise" } else { "counter-clockwise" });
            v.typed.put("phase_counts", "lag");
            v.typed.put("signal_channel", "1");
            v.typed.put("speed_rpm", significant(v.now.machine.speed_rpm, 6));
            for (k, deg) in [0.0, 120.0, 240.0].into_iter().enumerate() {
                v.typed.put(name("at_deg", k + 1), show.angle_number(deg));
            }
            Ok::<_, WebError>(body(&v, None))
        })
        .await?;
    Ok(layout::page("Trim in place", Place::Grinder, show, app.is_demo(), body).into_response())
}

/// `POST /sittings/{id}/trim`: work it out, or (`do=keep`) store that the weights were moved so.
pub(crate) async fn read(
    State(app): State<App>,
    Path(id): Path<String>,
    headers: HeaderMap,
    Upload(form): Upload,
) -> Result<Response, WebError> {
    let (id, show) = (Id::parse(&id)?, Show::of(&headers));
    let path = format!("/sittings/{id}");
    let (mut typed, files) = upload::read(form).await?;
    let keep = typed.text("do") == "keep";
    let act = if keep { the_act(&mut typed, &headers) } else { None };
    let (done, status, body) = app
        .bench(move |b| {
            let mut v = view(b, &id, typed, show)?;
            from_recordings(&mut v, &files);
            let input = read_input(&mut v);
            if let (Some(input), Some(act), true) = (&input, act, v.typed.is_good()) {
                match b.trimmed(&id, &act, input.clone()) {
                    Ok(_) => return Ok((true, StatusCode::OK, Markup::default())),
                    Err(SittingFault::Fault(f)) => v.typed.blame(f),
                    Err(SittingFault::Store(f)) => v.typed.blame_store(&f),
                }
            }
            let out = input.and_then(|i| trim(&i).map_err(|f| v.typed.blame(in_form(f))).ok());
            let status = if out.is_some() && v.typed.is_good() { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
            Ok::<_, WebError>((false, status, body(&v, out.as_ref())))
        })
        .await?;
    if done {
        return Ok(Redirect::to(&path).into_response());
    }
    Ok((status, layout::page("Trim in place", Place::Grinder, show, app.is_demo(), body)).into_response())
}

/// A fault of a run stands at its field of the form: `runs[2].amplitude` at `amplitude_2`.
fn in_form(fault: Fault) -> Fault {
    let Some((k, field)) = fault.field.strip_prefix("runs[").and_then(|r| r.split_once("].")) else { return fault };
    let field = if field.starts_with("trial") { format!("at_deg_{k}") } else { format!("{field}_{k}") };
    Fault { field, ..fault }
}

/// Readings out of the recordings, put where a person would have typed them.
fn from_recordings(v: &mut View, files: &HashMap<String, Vec<u8>>) {
    let channel = |typed: &mut Typed, name: &str| -> Option<usize> {
        let text = typed.text(name).to_owned();
        if text.is_empty() {
            return None;
        }
        let place = text.parse::<usize>().ok().and_then(|k| k.checked_sub(1));
        if place.is_none() {
            typed.blame(Fault::new(name, text, "1 or more", "Which channel of the recording?"));
        }
        place
    };
    if files.is_empty() {
        return;
    }
    let signal = channel(&mut v.typed, "signal_channel").unwrap_or(0);
    let tach = channel(&mut v.typed, "tach_channel");
    let speed = v.typed.number("speed_rpm", Dimension::Plain, Show::default());
    for k in 0..RUNS {
        let Some(bytes) = files.get(&name("file", k)) else { continue };
        let got = read_recording(bytes).and_then(|c| once_per_turn_of(&c, signal, tach, Some(speed)));
        match got {
            Ok(out) => {
                let put = |typed: &mut Typed, what: &str, v: f64, figures: i32| typed.put(name(what, k), significant(v, figures));
                put(&mut v.typed, "amplitude", out.amplitude, 6);
                put(&mut v.typed, "amplitude_sd", out.amplitude_sd.max(1e-6 * out.amplitude), 3);
                put(&mut v.typed, "rest_rms", out.rest_rms, 4);
                if let Some(second) = out.orders.first() {
                    put(&mut v.typed, "second", second.amplitude, 4);
                }
                if let (Some(phase), Some(sd)) = (out.phase_deg, out.phase_sd_deg) {
                    // The lock-in tells the lead; the form may count the lag.
                    let sign = if v.typed.text("phase_counts") == "lag" { -1.0 } else { 1.0 };
                    v.typed.put(name("phase_deg", k), format!("{:.2}", (sign * phase).rem_euclid(360.0)));
                    v.typed.put(name("phase_sd_deg", k), significant(sd.clamp(1e-3, 180.0), 3));
                }
                v.typed.put(name("heard", k), [vec![out.says], out.cautions].concat().join(" "));
            }
            Err(f) => v.typed.blame(Fault { field: name("file", k), ..f }),
        }
    }
}

fn read_input(v: &mut View) -> Option<TrimIn> {
    let show = v.show;
    let t = &mut v.typed;
    let mut runs = Vec::new();
    let asks_trial = (1..RUNS).any(|k| !t.text(&name("amplitude", k)).is_empty() && !t.text(&name("at_deg", k)).is_empty());
    let (mass_g, radius_mm) = if asks_trial {
        (t.number("trial_g", Dimension::Mass, show), t.number("trial_radius_mm", Dimension::Length, show))
    } else {
        (f64::NAN, f64::NAN)
    };
    for k in 0..RUNS {
        if t.text(&name("amplitude", k)).is_empty() {
            continue;
        }
        let amplitude = t.number(&name("amplitude", k), Dimension::Plain, Show::default());
        let optional = |t: &mut Typed, what: &str| t.optional(&name(what, k), Dimension::Plain, Show::default());
        let trial = if k > 0 && !t.text(&name("at_deg", k)).is_empty() {
            vec![TrialWeight { mass_g, radius_mm, at_deg: t.angle(&name("at_deg", k), show) }]
        } else {
            Vec::new()
        };
        runs.push(TrimRun {
            trial,
            weights: None,
            amplitude,
            amplitude_sd: optional(t, "amplitude_sd"),
            phase_deg: optional(t, "phase_deg"),
            phase_sd_deg: optional(t, "phase_sd_deg"),
            second: optional(t, "second"),
            rest_rms: optional(t, "rest_rms"),
        });
    }
    let percent = t.number("rel_sd_percent", Dimension::Plain, Show::default());
    if !t.is_good() {
        return None;
    }
    let phased = runs.iter().any(|r| r.phase_deg.is_some());
    let (clockwise, lag) = (t.text("turns") == "clockwise", t.text("phase_counts") == "lag");
    Some(TrimIn {
        reading_rel_sd: percent / 100.0,
        turns: phased.then_some(if clockwise { Sense::Clockwise } else { Sense::CounterClockwise }),
        phase_counts: if phased && lag { PhaseCounts::Lag } else { PhaseCounts::Lead },
        ..v.sat.trim_in(runs)
    })
}

fn body(v: &View, out: Option<&TrimOut>) -> Markup {
    let t = &v.typed;
    html! {
        h1 { "Trim in place" }
        p.lead { (v.now.rotor.name) " on " (v.now.machine.name) }
        (fault_summary(t.faults().iter()))
        @if let Some(out) = out { (result(v, out)) }
        form method="post" action={ (v.path()) "/trim" } enctype="multipart/form-data" novalidate {
            input type="hidden" name="do" value="work-out";
            div.cols {
                div {
                    section.card {
                        h2 { "How" }
                        ol {
                            li { "Vibration meter or sensor on the wheel head, always at the same place. Coolant off and spun out." }
                            li { "Run up as it is, guard closed, everybody aside; read." }
                            li { "Stop. Put the trial weight on, clamp it. Run up; read. Then at two more places, a third of a turn apart." }
                            li { "Take the trial weight off again, and let the page work it out." }
                        }
                        p.caution { strong { "Stop and lock off before every change." } " A trial weight that comes loose is a shot: clamp it in the groove or screw it in, never tape it." }
                    }
                    section.card {
                        h2 { "Trial weight" }
                        (field(t, Field { name: "trial_g", label: "Mass", unit: v.show.unit(Dimension::Mass), hint: "One that changes the reading by about a third.", keys: "decimal", ..Field::default() }.not_enforced()))
                        (field(t, Field { name: "trial_radius_mm", label: "Radius of its middle", unit: v.show.unit(Dimension::Length), keys: "decimal", ..Field::default() }.not_enforced()))
                    }
                    details.card-like open[t.fault("phase_counts").is_some()] {
                        summary { "Meter, phase and recordings" }
                        div.inside {
                            (field(t, Field { name: "rel_sd_percent", label: "A reading repeats to about", unit: "%", hint: "One standard deviation; a needle read by eye has about 3 %.", keys: "decimal", required: true, ..Field::default() }))
                            (select(t, "turns", "", "The wheel turns", "Seen from the operator’s side; needed with phases.", &[("clockwise".into(), "clockwise".into()), ("counter-clockwise".into(), "counter-clockwise".into())]))
                            (select(t, "phase_counts", "", "The phase is", "", &[("lag".into(), "from the mark’s passage to the next crest (lag)".into()), ("lead".into(), "how far the crest is ahead of the mark (lead)".into())]))
                            (field(t, Field { name: "speed_rpm", label: "Speed for recordings", unit: "r/min", hint: "About; the true one is found within 5 %.", keys: "decimal", ..Field::default() }))
                            (field(t, Field { name: "signal_channel", label: "Channel of the sensor", keys: "numeric", ..Field::default() }))
                            (field(t, Field { name: "tach_channel", label: "Channel of the mark", hint: "One pulse a turn; empty: none, then no phase.", keys: "numeric", ..Field::default() }))
                        }
                    }
                }
                div {
                    @for k in 0..SHOWN { (run(v, k)) }
                    details.card-like open[(SHOWN..RUNS).any(|k| !t.text(&name("amplitude", k)).is_empty() || t.fault(&name("file", k)).is_some())] {
                        summary { "More runs" }
                        div.inside {
                            p { "Repeats and more places make the answer surer. Leave the place empty for a run as it is." }
                            @for k in SHOWN..RUNS { (run(v, k)) }
                        }
                    }
                    div.actions { button.main.big type="submit" { "Work it out" } a.button href=(v.path()) { "Back" } }
                }
            }
        }
        (trims_card(v))
    }
}

fn run(v: &View, k: usize) -> Markup {
    let t = &v.typed;
    let [at, amplitude, phase, file] = ["at_deg", "amplitude", "phase_deg", "file"].map(|w| name(w, k));
    html! {
        section.card.run {
            h2 { @if k == 0 { "Run 1: as it is" } @else { "Run " (k + 1) } }
            @if k > 0 { (field(t, Field { name: &at, label: "Trial weight at", hint: v.show.angles_in_words(), ..Field::default() }.not_enforced())) }
            div.pair {
                (field(t, Field { name: &amplitude, label: "Reading", hint: if k == 0 { "Any unit, the same in all runs." } else { "" }, keys: "decimal", ..Field::default() }.not_enforced()))
                (field(t, Field { name: &phase, label: "Phase", unit: "°", keys: "decimal", ..Field::default() }))
            }
            div.field {
                label for=(file) { "or a recording " small { "(WAV or CSV)" } }
                input id=(file) name=(file) type="file" accept=".wav,.csv,.txt,audio/wav,text/csv";
                @if let Some(f) = t.fault(&file) { p.fault { (f.why) @if !f.allowed.is_empty() { " Allowed: " (f.allowed) "." } } }
                @if !t.text(&name("heard", k)).is_empty() { p.hint { (t.text(&name("heard", k))) } }
            }
            @for what in HIDDEN { @if !t.text(&name(what, k)).is_empty() { input type="hidden" name=(name(what, k)) value=(t.text(&name(what, k))); } }
        }
    }
}

/// What a recording told beside the reading: it travels with the form.
const HIDDEN: [&str; 5] = ["amplitude_sd", "phase_sd_deg", "second", "rest_rms", "heard"];

/// The whole form as hidden fields, for the button that keeps the answer.
pub(super) fn carried(v: &View) -> Markup {
    let t = &v.typed;
    let whole = ["trial_g", "trial_radius_mm", "rel_sd_percent", "turns", "phase_counts", "speed_rpm", "signal_channel", "tach_channel"];
    let of_run = ["at_deg", "amplitude", "phase_deg"];
    let names = whole.iter().map(|n| (*n).to_owned()).chain((0..RUNS).flat_map(|k| of_run.iter().chain(&HIDDEN).map(move |w| name(w, k))));
    html! {
        input type="hidden" name="do" value="keep";
        input type="hidden" name="token" value=(token());
        input type="hidden" name="after_seq" value=(v.sat.standing.latest_seq);
        @for n in names { @if !t.text(&n).is_empty() { input type="hidden" name=(n) value=(t.text(&n)); } }
    }
}
