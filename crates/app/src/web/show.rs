//! How this person wants numbers shown and typed: units, sense of angles. Kept in a cookie; the records never change.
//!
//! In: stored values (mm, g, g·mm, degrees counter-clockwise). Out: text with its unit; and back from typed text.

use axum::http::HeaderMap;
use stillwheel_door::Fault;
use stillwheel_physics::quantity::{Dimension, GRAMS_PER_OUNCE, MM_PER_INCH, parse_quantity};

/// Units for show and for bare numbers.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Units {
    /// mm, g, g·mm.
    #[default]
    Metric,
    /// in, oz, oz·in.
    Inch,
}

/// How angles on the rotor are counted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Angles {
    /// Degrees counter-clockwise from the zero mark, as they are stored.
    #[default]
    CounterClockwise,
    /// Degrees clockwise.
    Clockwise,
    /// Clock hours, the zero mark at twelve.
    Clock,
}

/// Display choices of one person.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Show {
    /// Units.
    pub(crate) units: Units,
    /// Angles.
    pub(crate) angles: Angles,
}

/// Name of the cookie.
pub(crate) const SHOW_COOKIE: &str = "stillwheel_show";

impl Show {
    /// From the request's cookies; anything unreadable means the default.
    pub(crate) fn of(headers: &HeaderMap) -> Self {
        cookie(headers, SHOW_COOKIE).map_or_else(Self::default, |v| Self::from_text(&v))
    }

    fn from_text(text: &str) -> Self {
        let units = if text.starts_with("inch") { Units::Inch } else { Units::Metric };
        let angles = match text.split_once('.').map(|p| p.1) {
            Some("cw") => Angles::Clockwise,
            Some("clock") => Angles::Clock,
            _ => Angles::CounterClockwise,
        };
        Self { units, angles }
    }

    /// As the cookie holds it.
    pub(crate) fn text(self) -> String {
        let units = match self.units {
            Units::Metric => "metric",
            Units::Inch => "inch",
        };
        format!("{units}.{}", self.angles_word())
    }

    /// The angle style in a word, as forms and scripts use it.
    pub(crate) fn angles_word(self) -> &'static str {
        match self.angles {
            Angles::CounterClockwise => "ccw",
            Angles::Clockwise => "cw",
            Angles::Clock => "clock",
        }
    }

    /// How angles are counted, in words.
    pub(crate) fn angles_in_words(self) -> &'static str {
        match self.angles {
            Angles::CounterClockwise => "degrees, counter-clockwise from the zero mark",
            Angles::Clockwise => "degrees, clockwise from the zero mark",
            Angles::Clock => "clock hours, the zero mark at 12",
        }
    }

    /// A length given in mm.
    pub(crate) fn length(self, mm: f64) -> String {
        match self.units {
            Units::Metric => format!("{} mm", significant(mm, 4)),
            Units::Inch => format!("{} in", significant(mm / MM_PER_INCH, 4)),
        }
    }

    /// A travel given in mm: one decimal is what a rule can show.
    pub(crate) fn travel(self, mm: f64) -> String {
        match self.units {
            Units::Metric => format!("{mm:.1} mm"),
            Units::Inch => format!("{:.3} in", mm / MM_PER_INCH),
        }
    }

    /// A mass given in g.
    pub(crate) fn mass(self, g: f64) -> String {
        match self.units {
            Units::Metric if g >= 1000.0 => format!("{} kg", significant(g / 1000.0, 4)),
            Units::Metric => format!("{} g", significant(g, 4)),
            Units::Inch => format!("{} oz", significant(g / GRAMS_PER_OUNCE, 4)),
        }
    }

    /// An unbalance given in g·mm.
    pub(crate) fn unbalance(self, g_mm: f64) -> String {
        format!("{} {}", self.unbalance_number(g_mm), self.unbalance_unit())
    }

    /// The number of [`Self::unbalance`] alone.
    pub(crate) fn unbalance_number(self, g_mm: f64) -> String {
        match self.units {
            Units::Metric => significant(g_mm, 3),
            Units::Inch => significant(g_mm / (GRAMS_PER_OUNCE * MM_PER_INCH), 3),
        }
    }

    /// A sentence of the door's, or a picture, whose unbalances stand in g·mm: in this person's unit.
    pub(crate) fn told(self, text: &str) -> String {
        const UNIT: &str = " g·mm";
        if self.units == Units::Metric {
            return text.to_owned();
        }
        let mut out = String::with_capacity(text.len());
        let mut rest = text;
        while let Some(at) = rest.find(UNIT) {
            let before = &rest[..at];
            let number = before
                .rfind(|c: char| !c.is_ascii_digit() && c != '.')
                .map_or(0, |k| k + before[k..].chars().next().map_or(1, char::len_utf8));
            match before[number..].parse::<f64>() {
                Ok(v) => {
                    out.push_str(&before[..number]);
                    out.push_str(&self.unbalance(v));
                }
                Err(_) => out.push_str(&rest[..at + UNIT.len()]),
            }
            rest = &rest[at + UNIT.len()..];
        }
        out + rest
    }

    /// The unit of [`Self::unbalance`].
    pub(crate) fn unbalance_unit(self) -> &'static str {
        match self.units {
            Units::Metric => "g·mm",
            Units::Inch => "oz·in",
        }
    }

    /// A rotor angle given in degrees counter-clockwise.
    pub(crate) fn angle(self, deg: f64) -> String {
        match self.angles {
            Angles::Clock => self.angle_number(deg),
            _ => format!("{}°", self.angle_number(deg)),
        }
    }

    /// The angle as it would be typed.
    pub(crate) fn angle_number(self, deg: f64) -> String {
        match self.angles {
            Angles::CounterClockwise => trimmed(wrapped_tenths(deg)),
            Angles::Clockwise => trimmed(wrapped_tenths(-deg)),
            Angles::Clock => clock_text(-deg),
        }
    }

    /// Read a typed rotor angle; back come degrees counter-clockwise, 0 to 360.
    ///
    /// # Errors
    /// A [`Fault`] for `field` when it can't be read.
    pub(crate) fn read_angle(self, field: &str, text: &str) -> Result<f64, Fault> {
        let deg = match self.angles {
            Angles::CounterClockwise => parse_quantity(field, text, Dimension::Angle)?,
            Angles::Clockwise => -parse_quantity(field, text, Dimension::Angle)?,
            Angles::Clock => -read_clock(field, text)?,
        };
        if deg.abs() > 36000.0 {
            return Err(Fault::new(field, text, "−360 to 720 degrees", "an angle this large is a typing slip"));
        }
        Ok(deg.rem_euclid(360.0))
    }

    /// Read a typed quantity; a bare number is in this person's unit.
    ///
    /// # Errors
    /// A [`Fault`] for `field` when it can't be read.
    pub(crate) fn read(self, field: &str, text: &str, dimension: Dimension) -> Result<f64, Fault> {
        let bare =
            !text.trim().is_empty() && !text.chars().any(|c| c.is_alphabetic() && !matches!(c, 'e' | 'E') || matches!(c, '"' | '°' | '%'));
        let factor = match (self.units, dimension) {
            (Units::Inch, Dimension::Length) if bare => MM_PER_INCH,
            (Units::Inch, Dimension::Mass) if bare => GRAMS_PER_OUNCE,
            (Units::Inch, Dimension::Unbalance) if bare => GRAMS_PER_OUNCE * MM_PER_INCH,
            _ => 1.0,
        };
        Ok(parse_quantity(field, text, dimension)? * factor)
    }

    /// The unit that a bare number means in a form.
    pub(crate) fn unit(self, dimension: Dimension) -> &'static str {
        match (self.units, dimension) {
            (Units::Metric, Dimension::Length) => "mm",
            (Units::Inch, Dimension::Length) => "in",
            (Units::Metric, Dimension::Mass) => "g",
            (Units::Inch, Dimension::Mass) => "oz",
            (_, Dimension::Unbalance) => self.unbalance_unit(),
            (_, Dimension::Angle) => "°",
            (_, Dimension::Time) => "s",
            (_, Dimension::Speed) => "r/min",
            (_, Dimension::Plain) => "",
        }
    }

    /// A stored value as it stands in a form's field: the shortest text that reads back to the same value.
    pub(crate) fn typed(self, base: f64, dimension: Dimension) -> String {
        let factor = match (self.units, dimension) {
            (Units::Inch, Dimension::Length) => MM_PER_INCH,
            (Units::Inch, Dimension::Mass) => GRAMS_PER_OUNCE,
            (Units::Inch, Dimension::Unbalance) => GRAMS_PER_OUNCE * MM_PER_INCH,
            _ => 1.0,
        };
        // Nine figures carry any shop dimension and hide the last bits of a unit conversion.
        if factor == 1.0 { format!("{base}") } else { significant(base / factor, 9) }
    }
}

/// A cookie's value.
pub(crate) fn cookie(headers: &HeaderMap, name: &str) -> Option<String> {
    headers
        .get_all(axum::http::header::COOKIE)
        .iter()
        .filter_map(|v| v.to_str().ok())
        .flat_map(|v| v.split(';'))
        .filter_map(|pair| pair.trim().split_once('='))
        .find(|(k, _)| *k == name)
        .map(|(_, v)| v.to_owned())
}

/// A clock place like "4:30", "4.5" or "12": degrees clockwise from twelve.
///
/// # Errors
/// A [`Fault`] for `field` when it is no clock place.
pub(crate) fn read_clock(field: &str, text: &str) -> Result<f64, Fault> {
    let fault =
        || Fault::new(field, text, "a clock place like 12, 4:30 or 7.5", "twelve is straight up, six straight down, as you face the wheel");
    let text_trimmed = text.trim();
    let hours = match text_trimmed.split_once(':') {
        Some((h, m)) => {
            let (h, m): (u32, u32) = (h.trim().parse().map_err(|_| fault())?, m.trim().parse().map_err(|_| fault())?);
            if m >= 60 {
                return Err(fault());
            }
            f64::from(h) + f64::from(m) / 60.0
        }
        None => parse_quantity(field, text_trimmed, Dimension::Plain).map_err(|_| fault())?,
    };
    if (0.0..=12.999_9).contains(&hours) { Ok((hours * 30.0).rem_euclid(360.0)) } else { Err(fault()) }
}

/// Degrees clockwise from twelve as a clock place, to the minute (half a degree).
pub(crate) fn clock_text(clockwise_deg: f64) -> String {
    let minutes = (clockwise_deg.rem_euclid(360.0) * 2.0).round() as u32 % 720;
    let hour = if minutes < 60 { 12 } else { minutes / 60 };
    format!("{hour}:{:02}", minutes % 60)
}

/// Degrees in [0, 360) rounded to tenths.
fn wrapped_tenths(deg: f64) -> f64 {
    let d = (deg.rem_euclid(360.0) * 10.0).round() / 10.0;
    if d >= 360.0 { 0.0 } else { d }
}

fn trimmed(v: f64) -> String {
    format!("{v}")
}

/// A number to `figures` significant figures without an exponent; zeros at the end of the fraction are kept only when
/// they are significant to a reader (none are here).
pub(crate) fn significant(v: f64, figures: i32) -> String {
    if v == 0.0 || !v.is_finite() {
        return if v == 0.0 { "0".into() } else { "–".into() };
    }
    let decimals = (figures - 1 - v.abs().log10().floor() as i32).clamp(0, 12) as usize;
    let text = format!("{v:.decimals$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn show(angles: Angles) -> Show {
        Show { units: Units::Metric, angles }
    }

    #[test]
    fn an_angle_typed_as_it_is_shown_comes_back_in_every_style() {
        for angles in [Angles::CounterClockwise, Angles::Clockwise, Angles::Clock] {
            for deg in [0.0, 0.5, 90.0, 135.0, 270.0, 359.5] {
                let s = show(angles);
                let back = s.read_angle("at_deg", &s.angle_number(deg)).unwrap();
                let off = (back - deg + 180.0).rem_euclid(360.0) - 180.0;
                assert!(off.abs() < 1e-9, "{angles:?} {deg}: {} -> {back}", s.angle_number(deg));
            }
        }
    }

    #[test]
    fn clock_hours_count_clockwise_from_twelve() {
        // A clock's face: three o'clock is a quarter turn clockwise.
        let s = show(Angles::Clock);
        assert_eq!(s.angle(270.0), "3:00");
        assert_eq!(s.read_angle("a", "3:00").unwrap(), 270.0);
        assert_eq!(s.angle(0.0), "12:00");
        assert!(s.read_angle("a", "13:00").is_err());
        assert!(s.read_angle("a", "3:60").is_err());
        assert!(s.read_angle("a", "noon").is_err());
    }

    #[test]
    fn a_bare_number_means_this_persons_unit_and_a_suffix_overrides() {
        let inch = Show { units: Units::Inch, angles: Angles::default() };
        // 1 in = 25.4 mm, exact by the agreement of 1959.
        assert!((inch.read("d", "0.5", Dimension::Length).unwrap() - 12.7).abs() < 1e-12);
        assert!((inch.read("d", "12.7 mm", Dimension::Length).unwrap() - 12.7).abs() < 1e-12);
        assert!((inch.read("d", "3/8 in", Dimension::Length).unwrap() - 9.525).abs() < 1e-12);
        assert_eq!(inch.typed(12.7, Dimension::Length), "0.5");
        assert_eq!(Show::default().typed(12.7, Dimension::Length), "12.7");
    }

    #[test]
    fn a_told_sentence_gets_this_persons_unit_and_keeps_its_words() {
        let inch = Show { units: Units::Inch, angles: Angles::default() };
        // 1 oz = 28.349523125 g, 1 in = 25.4 mm: 720.078 g·mm are 1 oz·in.
        let text = "About 720 g·mm – the weights give 360.04 g·mm at most, in g·mm.";
        assert_eq!(inch.told(text), "About 1 oz·in – the weights give 0.5 oz·in at most, in g·mm.");
        assert_eq!(Show::default().told(text), text);
        assert_eq!(inch.told("±5 g·mm"), format!("±{}", inch.unbalance(5.0)));
    }

    #[test]
    fn cookie_text_reads_back() {
        for units in [Units::Metric, Units::Inch] {
            for angles in [Angles::CounterClockwise, Angles::Clockwise, Angles::Clock] {
                let s = Show { units, angles };
                assert_eq!(Show::from_text(&s.text()), s);
            }
        }
    }

    #[test]
    fn numbers_are_shown_to_their_figures() {
        assert_eq!(significant(72.046, 3), "72");
        assert_eq!(significant(7.2046, 3), "7.2");
        assert_eq!(significant(0.012345, 3), "0.0123");
        assert_eq!(significant(12345.6, 3), "12346");
        assert_eq!(significant(0.0, 3), "0");
    }
}
