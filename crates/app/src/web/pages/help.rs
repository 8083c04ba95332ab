//! Help: the method in a page, and the cautions.

use super::super::layout::{self, Place};
use super::super::show::Show;
use super::super::state::App;
use axum::extract::State;
use axum::http::HeaderMap;
use maud::{Markup, html};

/// Steps: in bold, and more of it.
const METHOD: [(&str, &str); 4] = [
    ("Let it settle.", " The heavy side turns to the bottom. Read which angle of the rotor stands there. That tells the direction."),
    (
        "Time a swing.",
        " Turn the wheel aside, let go, and tap each time it passes the bottom. A slow swing means a small unbalance. That tells the size.",
    ),
    ("Move the weights", " to where the picture shows them, and clamp them."),
    (
        "Look once more.",
        " When it is at least 95 % sure that what is left is within the allowance, the program says so and makes the certificate.",
    ),
];

const UNSETTLED: [(&str, &str); 3] = [
    (
        "Creeps one way for ever:",
        " the stand pushes more than the wheel pulls. Report it as a look: the unbalance is small, or the stand needs attention.",
    ),
    ("Stays wherever you leave it:", " friction holds it. Report it; the program tells whether this stand can prove the allowance."),
    ("Swings too slowly to wait for:", " after a minute or two, report that it is still out. That, too, is a look."),
];

const SWING_LOGS: [(&str, &str); 3] = [
    (
        "Film it.",
        " One or two paper dots near the rim, the phone square to the wheel and leaning on something. Let go from 60° to 90° aside, film two swings or 60 s. The clip stays on the phone.",
    ),
    (
        "Tap it.",
        " Two marks 30° to 90° apart and a pointer. Tap each mark as it passes, both ways, for two swings. Coarser, and needs no camera.",
    ),
    (
        "Hand in a file.",
        " From an encoder or a spreadsheet: choose the columns of time and angle and their units, and look at the curve before it is stored.",
    ),
];

fn points(points: &[(&str, &str)]) -> Markup {
    html! { @for (bold, more) in points { li { b { (bold) } (more) } } }
}

/// `GET /help`.
pub(crate) async fn page(State(app): State<App>, headers: HeaderMap) -> Markup {
    layout::page("Help", Place::Help, Show::of(&headers), app.is_demo(), body())
}

fn body() -> Markup {
    html! {
        h1 { "How it works" }
        div.cols {
            div {
                section.card {
                    h2 { "The method" }
                    ol { (points(&METHOD)) }
                }
                section.card {
                    h2 { "Angles" }
                    p { "All angles of the rotor are counted from the zero mark on the adapter, counter-clockwise as you face the wheel. You may switch to clockwise or to clock hours under " a href="/settings" { "Units" } "." }
                    p { "Always stand on the same side. The red triangle in every picture is the zero mark." }
                }
                section.card {
                    h2 { "Words" }
                    dl.facts {
                        dt { "Rotor" } dd { "wheel, adapter and arbor as one" }
                        dt { "Look" } dd { "one reading on the stand" }
                        dt { "Residual" } dd { "unbalance left with the weights where they are" }
                        dt { "Allowance" } dd { "the residual that is permitted, and why" }
                        dt { "Floor" } dd { "the smallest unbalance that this stand can show" }
                        dt { "Drift" } dd { "a steady push of the stand, not of the wheel" }
                    }
                }
            }
            div {
                section.card {
                    h2 { "If it will not settle" }
                    ul { (points(&UNSETTLED)) }
                }
                section.card {
                    h2 { "Direction, size and drift from one swing" }
                    p { "Open “Swing log” in the sitting." }
                    ul { (points(&SWING_LOGS)) }
                    p { "Less than ¾ of a swing tells little: the program then says so and stores nothing. Film longer, let go from farther aside, or set the weights off by a known amount." }
                }
                section.card {
                    h2 { "Before the grinder" }
                    p { "A wheel that is balanced is not thereby fit to run." }
                    ul {
                        li { "The spindle's speed must not exceed the speed marked on the wheel." }
                        li { "Look the wheel over and ring-test it just before mounting (29 CFR 1910.215(d)(1))." }
                        li { "Flanges clean and alike, blotters in place, every balance weight clamped." }
                        li { "Guard closed. Run it at working speed for at least a minute before work, and let nobody stand in line with it." }
                        li { "Never drill, chip or glue a wheel to correct it; use the weights of the adapter." }
                    }
                }
                section.card {
                    h2 { "Compressed air" }
                    p { "Use a regulator and a relief valve, drained and filtered air, and eye protection. Hold pressurised parts by a positive stop, not by the friction of a set screw." }
                }
            }
        }
    }
}
