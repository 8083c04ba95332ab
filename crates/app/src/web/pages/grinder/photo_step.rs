//! Two places in a photo, each tapped twice: roughly in the whole, then in an enlarged piece.
//!
//! In: what the form carries from tap to tap, and the last tap. Out: the places so far, as shares of the photo's width and height.

use super::super::super::form::Typed;
use stillwheel_door::Fault;
use stillwheel_physics::Ranged;

/// Width at which a picture is shown for tapping, CSS pixels: without scripts a tap is told in these.
pub(super) const SHOWN: f64 = 320.0;
/// Width of the enlarged piece over that of the photo.
pub(super) const PIECE: f64 = 0.2;
/// How well a place is hit on the screen, CSS pixels, standard deviation. Common practice, no source.
const TAP_SD: f64 = 3.0;

/// What the form carries, in the order in which the taps come.
pub(super) const CARRIED: [&str; 4] = ["a_rough", "a", "b_rough", "b"];

/// Where the tapping stands.
pub(super) enum Step {
    /// The next tap is in the whole photo, for the first or the second place.
    Whole(usize),
    /// The next tap is in the piece around this place.
    Piece(usize, [f64; 2]),
    /// Both places are known.
    Done([[f64; 2]; 2]),
}

/// A place as the form carries it.
fn carried(t: &Typed, name: &str) -> Option<[f64; 2]> {
    let (x, y) = t.text(name).split_once(',')?;
    let read = |v: &str| v.parse::<f64>().ok().filter(|v| (0.0..=1.0).contains(v));
    Some([read(x)?, read(y)?])
}

/// Where the tapping stands by what is carried.
pub(super) fn step(t: &Typed) -> Step {
    match CARRIED.map(|name| carried(t, name)) {
        [None, ..] => Step::Whole(0),
        [Some(rough), None, ..] => Step::Piece(0, rough),
        [_, _, None, _] => Step::Whole(1),
        [_, _, Some(rough), None] => Step::Piece(1, rough),
        [_, Some(a), _, Some(b)] => Step::Done([a, b]),
    }
}

/// Take the tap that came, if any: `tap.x` and `tap.y` in CSS pixels of a picture `SHOWN` wide, or `share_x` and `share_y` typed in per cent.
/// `height` is the whole photo's height over its width; `piece` tells where an enlarged piece lies.
pub(super) fn take(t: &mut Typed, height: f64, piece: impl Fn([f64; 2]) -> [f64; 4]) -> Result<(), Fault> {
    let now = step(t);
    let (shares, name) = match now {
        Step::Whole(k) => (tapped(t, SHOWN * height)?, CARRIED[2 * k]),
        Step::Piece(k, around) => {
            let at = tapped(t, SHOWN)?;
            let [x, y, w, h] = piece(around);
            (at.map(|[u, v]| [x + u * w, y + v * h]), CARRIED[2 * k + 1])
        }
        Step::Done(_) => return Ok(()),
    };
    if let Some([x, y]) = shares {
        t.put(name, format!("{x:.6},{y:.6}"));
    }
    Ok(())
}

/// The tap as shares of what was shown.
fn tapped(t: &Typed, shown_height: f64) -> Result<Option<[f64; 2]>, Fault> {
    let number = |name: &str, most: f64, unit: &str| {
        let text = t.text(name);
        text.parse::<f64>().unwrap_or(f64::NAN).within(name, 0.0, most, unit, "a place inside the picture").map(|v| v / most)
    };
    if !t.text("share_x").is_empty() || !t.text("share_y").is_empty() {
        return Ok(Some([number("share_x", 100.0, "%")?, number("share_y", 100.0, "%")?]));
    }
    if t.text("tap.x").is_empty() {
        return Ok(None);
    }
    // A tap on the very edge may be told a pixel outside.
    let inside = |name: &str, size: f64| t.text(name).parse::<f64>().ok().filter(|v| v.is_finite()).map(|v| (v / size).clamp(0.0, 1.0));
    let told = || Fault::new("tap", t.text("tap.x"), "a place in the picture", "tap on the picture itself");
    Ok(Some([inside("tap.x", SHOWN).ok_or_else(told)?, inside("tap.y", shown_height).ok_or_else(told)?]))
}

/// How well a place is known, pixels of a photo `width_px` wide: hit in the enlarged piece.
pub(super) fn tap_sd_px(width_px: u32) -> f64 {
    (TAP_SD / SHOWN * PIECE * f64::from(width_px)).max(0.5)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashMap;

    #[test]
    fn four_taps_give_two_places() {
        let mut t = Typed::new(HashMap::new());
        // A piece a fifth wide around the tap, in a photo as high as wide.
        let piece = |p: [f64; 2]| [p[0] - 0.1, p[1] - 0.1, 0.2, 0.2];
        for (x, y) in [("80", "160"), ("160", "160"), ("240", "160"), ("320", "160")] {
            t.put("tap.x", x);
            t.put("tap.y", y);
            take(&mut t, 1.0, piece).unwrap();
        }
        // By hand: 80/320 = 0.25, middle of its piece; 240/320 = 0.75, right edge of its piece: 0.85.
        let Step::Done([a, b]) = step(&t) else { panic!("not done") };
        for (got, expected) in [(a, [0.25, 0.5]), (b, [0.85, 0.5])] {
            assert!((got[0] - expected[0]).abs() < 1e-5 && (got[1] - expected[1]).abs() < 1e-5, "{got:?}");
        }
    }

    #[test]
    fn what_is_no_place_is_refused_or_waited_for() {
        let piece = |_: [f64; 2]| [0.0, 0.0, 1.0, 1.0];
        let mut t = Typed::new(HashMap::new());
        take(&mut t, 1.0, piece).unwrap();
        assert!(matches!(step(&t), Step::Whole(0)));
        t.put("share_x", "140");
        t.put("share_y", "10");
        assert_eq!(take(&mut t, 1.0, piece).unwrap_err().field, "share_x");
        let mut t = Typed::new(HashMap::from([("a_rough".to_owned(), "NaN,0.5".to_owned())]));
        assert!(matches!(step(&t), Step::Whole(0)));
        t.put("tap.x", "x");
        assert_eq!(take(&mut t, 1.0, piece).unwrap_err().field, "tap");
    }
}
