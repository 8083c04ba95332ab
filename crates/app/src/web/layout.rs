//! The frame of every page: bar, places, scripts.

use super::show::Show;
use maud::{DOCTYPE, Markup, PreEscaped, html};

/// The places in the bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Place {
    /// Sittings.
    Bench,
    /// Rotors, machines, rings, stands.
    Rotors,
    /// Stands with their sheets.
    Stands,
    /// Machines, trim, marks and the ground face.
    Grinder,
    /// All records as one file.
    Records,
    /// Display choices.
    Settings,
    /// Help.
    Help,
    /// None of them.
    None,
}

const BRAND: &str = r##"<svg viewBox="0 0 32 32" aria-hidden="true"><circle cx="16" cy="16" r="14" fill="#8b8574"/><circle cx="16" cy="16" r="8.5" fill="#eef0f1"/><circle cx="16" cy="16" r="3" fill="#121618"/><circle cx="16" cy="22.2" r="2.2" fill="#8a5f0c"/><path d="M16 2l2.4 4h-4.8z" fill="#a3211c"/></svg>"##;

/// A whole page.
pub(crate) fn page(title: &str, place: Place, show: Show, demo: bool, body: Markup) -> Markup {
    waiting_page(title, place, show, demo, false, body)
}

/// A page that without scripts loads itself anew while something is `waiting`.
pub(crate) fn waiting_page(title: &str, place: Place, show: Show, demo: bool, waiting: bool, body: Markup) -> Markup {
    let link = |to: &str, name: &str, at: Place| {
        html! { a href=(to) aria-current=[(place == at).then_some("page")] { (name) } }
    };
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                @if waiting { noscript { meta http-equiv="refresh" content="2"; } }
                title { (title) " – Stillwheel" }
                link rel="icon" href="/assets/icon.svg" type="image/svg+xml";
                link rel="stylesheet" href="/assets/app.css";
                link rel="stylesheet" href="/assets/print.css";
                script type="module" src="/assets/js/main.js" {}
            }
            body data-angles=(show.angles_word()) {
                a.skip href="#main" { "To the content" }
                header.bar {
                    a.brand href="/" { (PreEscaped(BRAND)) span.word { "Stillwheel" } }
                    nav aria-label="Places" {
                        (link("/", "Bench", Place::Bench))
                        (link("/rotors", "Rotors", Place::Rotors))
                        (link("/stands", "Stands", Place::Stands))
                        (link("/grinder", "Grinder", Place::Grinder))
                        (link("/records", "Records", Place::Records))
                        (link("/settings", "Units", Place::Settings))
                        (link("/help", "Help", Place::Help))
                    }
                }
                @if demo { p.notice role="note" { "Demo: invented rotors, a throwaway copy. It is gone when the program ends." } }
                main #main { (body) }
            }
        }
    }
}
