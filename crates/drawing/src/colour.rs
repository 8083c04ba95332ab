//! The colours of all pictures: CSS custom properties with a light fallback, so that a page may turn them dark.
//!
//! No colour carries a meaning alone: whatever it says, a shape, a dash or a word says too.

use std::fmt::Write as _;

/// Fonts by preference; the first is the one embedded for PDF, the others are of like width.
pub(crate) const FONT_FAMILY: &str = "DejaVu Sans, system-ui, Verdana, sans-serif";

/// Lines and text.
pub(crate) const INK: &str = "var(--ink, #1b2430)";
/// What the picture lies on.
pub(crate) const PAPER: &str = "var(--paper, #ffffff)";
/// Lines and text of less weight.
pub(crate) const MUTED: &str = "var(--muted, #566270)";
/// The abrasive.
pub(crate) const DISC: &str = "var(--wheel-disc, #d5dbe2)";
/// The adapter.
pub(crate) const FLANGE: &str = "var(--wheel-flange, #f1f4f7)";
/// The groove of the weight ring.
pub(crate) const GROOVE: &str = "var(--wheel-groove, #c2cad3)";
/// A weight where it is.
pub(crate) const WEIGHT: &str = "var(--wheel-weight, #1f4e79)";
/// Text on a weight.
pub(crate) const WEIGHT_INK: &str = "var(--wheel-weight-ink, #ffffff)";
/// A weight where it shall go.
pub(crate) const TARGET: &str = "var(--wheel-target, #9a4300)";
/// The region of the unbalance.
pub(crate) const REGION: &str = "var(--region, #6d4590)";
/// The allowance.
pub(crate) const ALLOWANCE: &str = "var(--allowance, #17734a)";

/// Each custom property with its value for light and for dark pages.
const PROPERTIES: [(&str, &str, &str); 11] = [
    ("--ink", "#1b2430", "#e8edf2"),
    ("--paper", "#ffffff", "#12181f"),
    ("--muted", "#566270", "#a8b4c0"),
    ("--wheel-disc", "#d5dbe2", "#323d49"),
    ("--wheel-flange", "#f1f4f7", "#1c242d"),
    ("--wheel-groove", "#c2cad3", "#475462"),
    ("--wheel-weight", "#1f4e79", "#8ec1f0"),
    ("--wheel-weight-ink", "#ffffff", "#0c1a28"),
    ("--wheel-target", "#9a4300", "#ffb066"),
    ("--region", "#6d4590", "#c9a3e6"),
    ("--allowance", "#17734a", "#6fd39c"),
];

/// A page's look.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Theme {
    /// Dark on light.
    Light,
    /// Light on dark.
    Dark,
}

/// The custom properties as CSS declarations, to be put inside a rule of the page's style sheet.
pub fn css_properties(theme: Theme) -> String {
    let mut css = String::new();
    for (name, light, dark) in PROPERTIES {
        let value = if theme == Theme::Light { light } else { dark };
        let _ = write!(css, "{name}: {value}; ");
    }
    css.trim_end().to_owned()
}

/// The picture with each `var(--name, fallback)` replaced by its fallback: for readers that know no CSS variables.
pub fn with_plain_colours(svg: &str) -> String {
    let mut out = String::with_capacity(svg.len());
    let mut rest = svg;
    while let Some(start) = rest.find("var(--") {
        let (before, from) = rest.split_at(start);
        out.push_str(before);
        let inside = &from[4..];
        let Some((variable, after)) = inside.split_once(')') else {
            rest = from;
            break;
        };
        match variable.split_once(',') {
            Some((_, fallback)) if !variable.contains('<') => {
                out.push_str(fallback.trim());
                rest = after;
            }
            // Not one of ours (a name typed by a user, say): left as it stands.
            _ => {
                out.push_str("var(");
                rest = inside;
            }
        }
    }
    out.push_str(rest);
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fallbacks_are_the_light_theme() {
        for used in [INK, PAPER, MUTED, DISC, FLANGE, GROOVE, WEIGHT, WEIGHT_INK, TARGET, REGION, ALLOWANCE] {
            let (name, fallback) = used.trim_start_matches("var(").trim_end_matches(')').split_once(", ").unwrap();
            assert!(PROPERTIES.iter().any(|p| p.0 == name && p.1 == fallback), "{used}");
        }
    }

    #[test]
    fn variables_give_way_to_their_fallbacks_and_other_text_stays() {
        assert_eq!(
            with_plain_colours(r#"<g fill="var(--ink, #1b2430)" stroke="var(--x, red)"/>"#),
            r##"<g fill="#1b2430" stroke="red"/>"##
        );
        for as_it_stands in ["var(--", "var(--a", "no var here", "<t>var(--a</t>)", "var(--a)"] {
            assert_eq!(with_plain_colours(as_it_stands), as_it_stands);
        }
    }

    /// WCAG 2.2, 1.4.3 and 1.4.11: text 4.5 : 1, graphics 3 : 1. Relative luminance as defined there.
    #[test]
    fn contrast_is_enough_in_both_themes() {
        fn luminance(hex: &str) -> f64 {
            let c = |i: usize| {
                let v = f64::from(u8::from_str_radix(&hex[i..i + 2], 16).unwrap()) / 255.0;
                if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
            };
            0.2126 * c(1) + 0.7152 * c(3) + 0.0722 * c(5)
        }
        let value = |name: &str, dark: bool| {
            let p = PROPERTIES.iter().find(|p| p.0 == name).unwrap();
            luminance(if dark { p.2 } else { p.1 })
        };
        let pairs = [
            ("--ink", "--paper", 4.5),
            ("--muted", "--paper", 4.5),
            ("--ink", "--wheel-disc", 4.5),
            ("--ink", "--wheel-flange", 4.5),
            ("--wheel-weight-ink", "--wheel-weight", 4.5),
            ("--wheel-weight", "--wheel-groove", 3.0),
            ("--wheel-target", "--wheel-flange", 4.5),
            ("--wheel-target", "--wheel-groove", 3.0),
            ("--region", "--paper", 3.0),
            ("--allowance", "--paper", 4.5),
        ];
        for dark in [false, true] {
            for (a, b, least) in pairs {
                let (x, y) = (value(a, dark), value(b, dark));
                let ratio = (x.max(y) + 0.05) / (x.min(y) + 0.05);
                assert!(ratio >= least, "{a} on {b}, dark {dark}: {ratio:.2}");
            }
        }
    }
}
