//! The ground face: what a residual leaves on the work, and what residual the face allows.

use super::super::super::error::WebError;
use super::super::super::form::{Field, Typed, fault_summary, field, select};
use super::super::super::layout::{self, Place};
use super::super::super::show::{Show, significant};
use super::super::super::state::App;
use crate::grinder_pictures::{face_picture, profile_picture};
use crate::sitting::Bench;
use axum::extract::{Query, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use axum::{Form, Router};
use maud::{Markup, PreEscaped, html};
use std::collections::HashMap;
use stillwheel_door::Fault;
use stillwheel_door::ground_face::{
    GroundFaceIn, GroundFaceOut, HeadIn, MeasureIn, NeededOut, OtherVibration, PassesIn, TargetIn, TextureOut, ground_face,
};
use stillwheel_door::machine_sheet::read_machine_sheet;
use stillwheel_physics::quantity::Dimension;
use stillwheel_store::{Machine, Rotor, Stored};

type Text = HashMap<String, String>;

const PATH: &str = "/grinder/face";

/// The page's routes.
pub(crate) fn routes() -> Router<App> {
    Router::new().route(PATH, get(page).post(read))
}

/// Fields that show their own faults.
const FIELDS: [&str; 18] = [
    "residual_g_mm",
    "speed_rpm",
    "wheel_diameter_mm",
    "wheel_width_mm",
    "marked_max_m_s",
    "stiffness_n_um",
    "natural_frequency_hz",
    "moving_mass_kg",
    "damping_ratio",
    "frequency_hz",
    "amplitude_um",
    "table_speed_m_min",
    "cross_feed_mm",
    "spark_out",
    "face_length_mm",
    "face_width_mm",
    "limit_um",
    "seed",
];

struct View {
    rotors: Vec<Stored<Rotor>>,
    machines: Vec<Stored<Machine>>,
    typed: Typed,
    out: Option<GroundFaceOut>,
}

/// `GET /grinder/face`, with `rotor` and `machine` to fill in from.
async fn page(State(app): State<App>, Query(query): Query<Text>, headers: HeaderMap) -> Result<Markup, WebError> {
    let show = Show::of(&headers);
    let body = app
        .bench(move |b| {
            let mut v = view(b, Typed::new(query))?;
            fill_in(&mut v, show);
            Ok::<_, WebError>(body(&v, show))
        })
        .await?;
    Ok(layout::page("Ground face", Place::Grinder, show, app.is_demo(), body))
}

/// `POST /grinder/face`.
async fn read(State(app): State<App>, headers: HeaderMap, Form(text): Form<Text>) -> Result<Response, WebError> {
    let show = Show::of(&headers);
    let (good, body) = app
        .bench(move |b| {
            let mut v = view(b, Typed::new(text))?;
            compute(&mut v, show);
            Ok::<_, WebError>((v.typed.is_good(), body(&v, show)))
        })
        .await?;
    let status = if good { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
    Ok((status, layout::page("Ground face", Place::Grinder, show, app.is_demo(), body)).into_response())
}

fn view(b: &Bench, typed: Typed) -> Result<View, WebError> {
    let store = b.store();
    Ok(View { rotors: store.list::<Rotor>()?, machines: store.list::<Machine>()?, typed, out: None })
}

/// What the records know; the head's response is measured, never guessed.
fn fill_in(v: &mut View, show: Show) {
    let named = |name: &str| v.typed.text(name).to_owned();
    let rotor = v.rotors.iter().find(|r| r.id.to_string() == named("rotor")).or(v.rotors.first());
    let machine = v.machines.iter().find(|m| m.id.to_string() == named("machine")).or(v.machines.first());
    let mut found: Vec<(&str, String)> = Vec::new();
    if let Some(r) = rotor {
        let w = &r.body.wheel;
        found.push(("rotor", r.id.to_string()));
        found.push(("wheel_diameter_mm", show.typed(w.diameter_mm, Dimension::Length)));
        found.push(("wheel_width_mm", show.typed(w.width_mm, Dimension::Length)));
        found.push(("face_width_mm", show.typed(w.width_mm, Dimension::Length)));
        found.extend(w.max_speed_m_s.map(|m| ("marked_max_m_s", format!("{m}"))));
    }
    if let Some(m) = machine {
        found.push(("machine", m.id.to_string()));
        found.push(("speed_rpm", format!("{}", m.body.speed_rpm)));
        // A sheet that can't be read any more says so on its own page.
        let sheet = read_machine_sheet(&m.body.sheet_toml).ok();
        if let Some(head) = sheet.as_ref().and_then(|s| s.head) {
            found.push(("stiffness_n_um", format!("{}", head.stiffness_n_um)));
            found.push(("natural_frequency_hz", format!("{}", head.natural_hz)));
            found.push(("damping_ratio", format!("{}", head.damping)));
        }
        found.extend(sheet.as_ref().and_then(|s| s.table.speeds_m_min.first()).map(|v| ("table_speed_m_min", format!("{v}"))));
        let feed = sheet.as_ref().and_then(|s| s.table.cross_feeds_mm.first());
        found.extend(feed.map(|f| ("cross_feed_mm", show.typed(*f, Dimension::Length))));
    }
    found.push(("face_length_mm", show.typed(40.0, Dimension::Length)));
    found.push(("table_speed_m_min", "15".into()));
    found.push(("spark_out", "0".into()));
    for (name, text) in found {
        v.typed.put_default(name, text);
    }
}

fn compute(v: &mut View, show: Show) {
    let t = &mut v.typed;
    let plain = |t: &mut Typed, name: &str| t.number(name, Dimension::Plain, show);
    let other = match (t.optional("frequency_hz", Dimension::Plain, show), t.optional("amplitude_um", Dimension::Plain, show)) {
        (Some(frequency_hz), Some(amplitude_um)) => vec![OtherVibration { frequency_hz, amplitude_um }],
        (None, None) => Vec::new(),
        (some, _) => {
            let name = if some.is_some() { "amplitude_um" } else { "frequency_hz" };
            t.blame(Fault::new(name, "missing", "both or none", "Another vibration needs its frequency and its amplitude."));
            Vec::new()
        }
    };
    let input = GroundFaceIn {
        residual_g_mm: t.number("residual_g_mm", Dimension::Unbalance, show),
        speed_rpm: t.number("speed_rpm", Dimension::Speed, show),
        wheel_diameter_mm: t.number("wheel_diameter_mm", Dimension::Length, show),
        wheel_width_mm: t.number("wheel_width_mm", Dimension::Length, show),
        marked_max_m_s: t.optional("marked_max_m_s", Dimension::Plain, show),
        marked_max_rpm: None,
        head: HeadIn {
            stiffness_n_um: plain(t, "stiffness_n_um"),
            natural_frequency_hz: Some(plain(t, "natural_frequency_hz")),
            moving_mass_kg: None,
            damping_ratio: plain(t, "damping_ratio"),
        },
        other_vibrations: other,
        table_speed_m_min: plain(t, "table_speed_m_min"),
        cross_feed_mm: t.optional("cross_feed_mm", Dimension::Length, show),
        spark_out: whole(t, "spark_out"),
        face_length_mm: t.number("face_length_mm", Dimension::Length, show),
        face_width_mm: t.number("face_width_mm", Dimension::Length, show),
        passes: PassesIn::Free,
        seed: 1,
        cutoff_mm: 0.8,
        long_cutoff_mm: None,
        target: t.optional("limit_um", Dimension::Plain, show).map(|limit_um| TargetIn { measure: MeasureIn::Wt, limit_um }),
    };
    if !v.typed.is_good() {
        return;
    }
    match ground_face(&input) {
        Ok(out) => v.out = Some(out),
        Err(f) => v.typed.blame(f),
    }
}

/// A whole number from 0 on; empty: 0.
fn whole(t: &mut Typed, name: &str) -> u32 {
    let text = t.text(name).to_owned();
    if text.is_empty() {
        return 0;
    }
    text.parse().unwrap_or_else(|_| {
        t.blame(Fault::new(name, text, "a whole number from 0 to 50", "Times over the face without down-feed."));
        0
    })
}

fn body(v: &View, show: Show) -> Markup {
    html! {
        h1 { "Ground face" }
        p.lead { "What a residual leaves on the work, and whether more balance would help at all." }
        (fault_summary(v.typed.other_faults(&FIELDS)))
        div.cols {
            div {
                @if let Some(out) = &v.out { (result(out, show)) }
                (form(v, show))
                (from_records(v))
            }
            div {
                @match &v.out {
                    Some(out) => { (pictures(out)) (figures(out, show)) },
                    None => section.card {
                        h2 { "What it does" }
                        p { "Unbalance shakes the wheel head once a turn. The table carries the work past, so the wheel cuts waves, one a turn. Later passes in another phase cut their crests off." }
                        p { "The head’s stiffness and natural frequency are your machine’s own: measure them with a known pull and an indicator, and with a tap." }
                        div.links { a href="/grinder/marks" { "There are marks already: what makes them?" } }
                    },
                }
            }
        }
    }
}

fn result(out: &GroundFaceOut, show: Show) -> Markup {
    html! {
        section.card.now {
            h2 { "Waves of " (significant(out.worst.wt_um, 3)) " µm" }
            @if let Some(n) = &out.needed { (wanted(n, show)) }
            @if out.without_unbalance.wt_um > 0.0 {
                p { "Without any unbalance " (significant(out.without_unbalance.wt_um, 3)) " µm would stay: " @if out.without_unbalance.wt_um > 0.5 * out.worst.wt_um { "more balance hardly helps; " a href="/grinder/marks" { "look for what else shakes" } "." } @else { "the unbalance makes most of it." } }
            }
            @for c in &out.cautions { p.caution { strong { "Caution." } " " (c) } }
        }
    }
}

fn wanted(n: &NeededOut, show: Show) -> Markup {
    let (tag, word) = match (n.kept, n.balance_can_keep_it) {
        (true, _) => ("good", "✓ The face wanted is kept"),
        (false, true) => ("warn", "– Balance further"),
        (false, false) => ("bad", "✗ Balance alone can’t give this face"),
    };
    html! {
        p { span class={ "tag " (tag) } { (word) } }
        @if let Some(u) = n.residual_g_mm { p { "It allows a residual of " strong { (show.unbalance(u)) } "." } }
        @if n.residual_g_mm.is_none() && n.balance_can_keep_it { p { "Any residual keeps it: at this table speed the wheel’s arcs leave no higher waves." } }
    }
}

fn pictures(out: &GroundFaceOut) -> Markup {
    html! {
        section.card { h2 { "The face" } (drawn(face_picture(out))) }
        section.card { h2 { "Profile of the worst strip" } (drawn(profile_picture(out))) }
    }
}

/// A picture, or why there is none.
pub(super) fn drawn(svg: Result<String, Fault>) -> Markup {
    match svg {
        Ok(svg) => html! { div.plot { (PreEscaped(svg)) } },
        Err(f) => html! { p.fault { "The picture can’t be drawn: " (f) } },
    }
}

type OfTexture = fn(&TextureOut) -> Option<f64>;

fn figures(out: &GroundFaceOut, show: Show) -> Markup {
    let um = |v: f64| format!("{} µm", significant(v, 3));
    let textures: [(&str, OfTexture); 7] = [
        ("Wt, height from crest to trough", |t| Some(t.wt_um)),
        ("Wq, root mean square", |t| Some(t.wq_um)),
        ("Wa, arithmetic mean", |t| Some(t.wa_um)),
        ("Ra, of the wheel’s path alone", |t| Some(t.ra_um)),
        ("Rq", |t| Some(t.rq_um)),
        ("Rz", |t| t.rz_um),
        ("Rt", |t| Some(t.rt_um)),
    ];
    html! {
        section.card {
            h2 { "In figures" }
            dl.facts {
                dt { "Once a turn is every" } dd { (show.length(out.once_a_turn_mm)) }
                dt { "The head travels" } dd { "± " (um(out.amplitude_um)) }
                dt { "Force at speed" } dd { (significant(out.force_n, 3)) " N" }
                dt { "Against the same force at rest" } dd { (significant(out.magnification, 3)) " times" }
                dt { "One pass alone leaves" } dd { (um(out.single_pass_um)) }
                dt { "Waves so long are never above" } dd { (um(out.largest_possible_um)) }
                @for (name, of) in textures {
                    @if let Some(v) = of(&out.worst) { dt { (name) } dd { (um(v)) " " small { "mean " (significant(of(&out.mean).unwrap_or(0.0), 3)) } } }
                }
            }
            p.soft { "Of the worst strip, and beside it the mean over the face. Waviness and roughness are parted at 0.8 mm by the Gaussian filter of ISO 16610-21; the parameters are those of ISO 21920-2. The grains’ own scratches come on top of the roughness." }
        }
    }
}

fn form(v: &View, show: Show) -> Markup {
    let t = &v.typed;
    let f = |name: &'static str, label: &'static str, unit: &'static str| Field {
        name,
        label,
        unit,
        keys: "decimal",
        required: true,
        ..Field::default()
    };
    let free = |name: &'static str, label: &'static str, unit: &'static str, hint: &'static str| Field {
        name,
        label,
        unit,
        hint,
        keys: "decimal",
        ..Field::default()
    };
    let mm = show.unit(Dimension::Length);
    html! {
        form.card method="post" action=(PATH) novalidate {
            h2 { "Wheel and machine" }
            (field(t, Field { hint: "What is left on the machine, or the allowance.", ..f("residual_g_mm", "Residual unbalance", show.unbalance_unit()) }))
            div.pair { (field(t, f("speed_rpm", "Wheel speed", "r/min"))) (field(t, free("marked_max_m_s", "Marked maximum", "m/s", ""))) }
            div.pair { (field(t, f("wheel_diameter_mm", "Wheel diameter now", mm))) (field(t, f("wheel_width_mm", "Wheel width", mm))) }
            fieldset {
                legend { "Wheel head" }
                (field(t, Field { hint: "A known pull over what an indicator at the wheel shows. There is no usual value.", ..f("stiffness_n_um", "Stiffness", "N/µm") }))
                div.pair { (field(t, f("natural_frequency_hz", "Natural frequency", "Hz"))) (field(t, f("damping_ratio", "Damping ratio", ""))) }
                p.hint { "From a tap: how fast it rings, and how it dies out. 0.04 is 4 % of critical." }
            }
            h2 { "How it is ground" }
            div.pair { (field(t, f("table_speed_m_min", "Table speed", "m/min"))) (field(t, free("cross_feed_mm", "Cross-feed a pass", mm, ""))) }
            div.pair { (field(t, f("face_length_mm", "Length looked at", mm))) (field(t, f("face_width_mm", "Width of the face", mm))) }
            (field(t, Field { keys: "numeric", ..free("spark_out", "Times over it without down-feed", "", "") }))
            (field(t, free("limit_um", "Waves that the face may have", "µm", "Crest to trough, Wt. Asks for the residual that keeps it.")))
            details open[!t.text("frequency_hz").is_empty() || !t.text("amplitude_um").is_empty()] {
                summary { "Another vibration of the head" }
                div.inside { div.pair { (field(t, free("frequency_hz", "Frequency", "Hz", ""))) (field(t, free("amplitude_um", "Half its travel", "µm", ""))) } }
            }
            div.actions { button.main type="submit" { "Grind it" } }
        }
    }
}

fn from_records(v: &View) -> Markup {
    let rotors: Vec<(String, String)> = v.rotors.iter().map(|r| (r.id.to_string(), r.body.name.clone())).collect();
    let machines: Vec<(String, String)> = v.machines.iter().map(|m| (m.id.to_string(), m.body.name.clone())).collect();
    html! {
        @if !rotors.is_empty() && !machines.is_empty() {
            form.card method="get" action=(PATH) {
                h2 { "From the records" }
                (select(&v.typed, "rotor", "from-", "Rotor", "", &rotors))
                (select(&v.typed, "machine", "from-", "Machine", "", &machines))
                div.actions { button type="submit" { "Fill in" } }
            }
        }
    }
}
