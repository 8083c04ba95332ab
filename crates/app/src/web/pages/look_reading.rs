//! From a typed look to a reading.

use super::super::form::Typed;
use super::super::show::{Show, read_clock};
use crate::sitting::Taken;
use stillwheel_door::Fault;
use stillwheel_door::look::{Reading, Sense, TrialWeight};
use stillwheel_physics::quantity::Dimension;
use stillwheel_store::{RingKind, WeightRing};

/// Largest disagreement between a typed angle and a typed clock place of the same look: both can't be meant beyond it.
const AGREE_DEG: f64 = 8.0;

/// Read the form; `None` leaves the faults in `typed`.
pub(super) fn read(typed: &mut Typed, show: Show, ring: &WeightRing) -> Option<Taken> {
    let reading = match typed.text("kind") {
        "settle" => Reading::Settle { settle_deg: bottom(typed, show, ring), sd_deg: typed.number("sd_deg", Dimension::Angle, show) },
        "swing" => Reading::Swing {
            swings: typed.number("swings", Dimension::Plain, show),
            time_s: typed.number("time_s", Dimension::Time, show),
            time_sd_s: typed.number("time_sd_s", Dimension::Time, show),
            amplitude_deg: typed.number("amplitude_deg", Dimension::Angle, show),
            amplitude_sd_deg: typed.number("amplitude_sd_deg", Dimension::Angle, show),
            amplitude_end_deg: typed.optional("amplitude_end_deg", Dimension::Angle, show),
        },
        "still-out" => Reading::StillOut {
            swings: 0.5,
            waited_s: typed.number("waited_s", Dimension::Time, show),
            amplitude_deg: typed.number("amplitude_deg", Dimension::Angle, show),
            amplitude_sd_deg: typed.number("amplitude_sd_deg", Dimension::Angle, show),
        },
        "creeps" => Reading::Creeps { sense: sense(typed)?, sd_g_mm: typed.number("sd_g_mm", Dimension::Unbalance, show) },
        "stays" => Reading::Stays { sd_g_mm: typed.number("sd_g_mm", Dimension::Unbalance, show) },
        "holds" => Reading::Holds {
            bottom_deg: place(typed, "bottom_deg", show, ring),
            sd_g_mm: typed.number("sd_g_mm", Dimension::Unbalance, show),
        },
        other => {
            typed.blame(Fault::new("kind", other, "settle, swing, still-out, creeps, stays, holds", "Choose a kind of look."));
            return None;
        }
    };
    let needs_trial = matches!(reading, Reading::Holds { .. });
    let (trial, turned_deg) = circumstances(typed, show, ring, needs_trial);
    typed.is_good().then_some(Taken { reading, trial, turned_deg })
}

/// What was on the rotor for this look only, and how it sat on the arbor.
pub(super) fn circumstances(typed: &mut Typed, show: Show, ring: &WeightRing, needs_trial: bool) -> (Option<TrialWeight>, f64) {
    let trial = (needs_trial || !typed.text("mass_g").is_empty()).then(|| TrialWeight {
        mass_g: typed.number("mass_g", Dimension::Mass, show),
        radius_mm: typed.number("radius_mm", Dimension::Length, show),
        at_deg: place(typed, "at_deg", show, ring),
    });
    let turned_deg = if typed.text("turned_on_arbor_deg").is_empty() { 0.0 } else { typed.angle("turned_on_arbor_deg", show) };
    (trial, turned_deg)
}

/// A rotor angle, or on a ring of tapped holes a hole: `hole 7`, or `h7`.
fn place(typed: &mut Typed, name: &str, show: Show, ring: &WeightRing) -> f64 {
    let text = typed.text(name).to_lowercase();
    let RingKind::TappedHoles(t) = &ring.kind else { return typed.angle(name, show) };
    let Some(number) = text.strip_prefix("hole").or_else(|| text.strip_prefix('h')) else { return typed.angle(name, show) };
    let hole = number.trim().parse::<usize>().ok().and_then(|n| t.holes.get(n.checked_sub(1)?));
    if let Some(hole) = hole {
        return hole.at_deg;
    }
    let allowed = format!("hole 1 to hole {}, or an angle", t.holes.len());
    typed.blame(Fault::new(name, text, allowed, "There is no such hole on this ring."));
    f64::NAN
}

fn sense(typed: &mut Typed) -> Option<Sense> {
    match typed.text("sense") {
        "counter-clockwise" => Some(Sense::CounterClockwise),
        "clockwise" => Some(Sense::Clockwise),
        other => {
            typed.blame(Fault::new("sense", other, "clockwise or counter-clockwise", "Say which way it creeps, as you face the wheel."));
            None
        }
    }
}

/// The settle angle: typed, or from where the zero mark stands on a clock's face.
fn bottom(typed: &mut Typed, show: Show, ring: &WeightRing) -> f64 {
    let (angle, clock) = (typed.text("settle_deg").to_owned(), typed.text("clock").to_owned());
    if clock.is_empty() {
        return place(typed, "settle_deg", show, ring);
    }
    let from_clock = read_clock("clock", &clock).map(bottom_from_clock);
    let from_clock = typed.read(from_clock);
    if angle.is_empty() || !from_clock.is_finite() {
        return from_clock;
    }
    let typed_angle = place(typed, "settle_deg", show, ring);
    let apart = ((typed_angle - from_clock + 180.0).rem_euclid(360.0) - 180.0).abs();
    if apart > AGREE_DEG {
        typed.blame(Fault::new(
            "clock",
            clock,
            "one of the two fields, or both alike",
            "The angle and the clock place differ: empty one of them.",
        ));
    }
    typed_angle
}

/// With the zero mark this far clockwise from twelve, its room angle is 180° − c, and the rotor angle at the bottom is c − 180°.
fn bottom_from_clock(clockwise_deg: f64) -> f64 {
    (clockwise_deg - 180.0).rem_euclid(360.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use stillwheel_store::{Hole, TappedHoles};

    fn typed(pairs: &[(&str, &str)]) -> Typed {
        Typed::new(pairs.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect())
    }

    #[test]
    fn a_clock_place_of_the_zero_mark_gives_the_angle_at_the_bottom() {
        // Zero mark at six: it is at the bottom itself. At three (right), the bottom is a quarter turn clockwise of it: 270°.
        for (clock, bottom) in [("6", 0.0), ("12", 180.0), ("3", 270.0), ("9:00", 90.0)] {
            let mut t = typed(&[("kind", "settle"), ("clock", clock), ("sd_deg", "3.5")]);
            let e = read(&mut t, Show::default(), &holes()).unwrap();
            assert_eq!(e.reading, Reading::Settle { settle_deg: bottom, sd_deg: 3.5 }, "{clock}");
        }
    }

    fn holes() -> WeightRing {
        let holes = (0..24).map(|i| Hole { radius_mm: 48.0, at_deg: 15.0 * f64::from(i), fixed: false }).collect();
        WeightRing {
            name: "24".into(),
            radius_mm: 48.0,
            kind: RingKind::TappedHoles(TappedHoles { holes, stock: Vec::new() }),
            note: String::new(),
        }
    }

    #[test]
    fn a_hole_s_number_stands_for_its_angle() {
        for (text, deg) in
            [("hole 7", Some(90.0)), ("h1", Some(0.0)), ("H24", Some(345.0)), ("100.5", Some(100.5)), ("hole 25", None), ("hole 0", None)]
        {
            let mut t = typed(&[("kind", "settle"), ("settle_deg", text), ("sd_deg", "3.5")]);
            let reading = read(&mut t, Show::default(), &holes()).map(|e| e.reading);
            assert_eq!(reading, deg.map(|settle_deg| Reading::Settle { settle_deg, sd_deg: 3.5 }), "{text}");
            assert_eq!(t.fault("settle_deg").is_some(), deg.is_none(), "{text}");
        }
    }

    #[test]
    fn angle_and_clock_that_contradict_are_a_fault_at_the_clock() {
        let mut t = typed(&[("kind", "settle"), ("settle_deg", "10"), ("clock", "12"), ("sd_deg", "3")]);
        assert!(read(&mut t, Show::default(), &holes()).is_none());
        assert!(t.fault("clock").is_some());
    }

    #[test]
    fn missing_and_unreadable_numbers_are_faults_at_their_fields() {
        let mut t = typed(&[("kind", "swing"), ("swings", "1"), ("time_s", "ten"), ("amplitude_deg", "60"), ("amplitude_sd_deg", "3")]);
        assert!(read(&mut t, Show::default(), &holes()).is_none());
        assert!(t.fault("time_s").is_some() && t.fault("time_sd_s").is_some() && t.fault("swings").is_none());
    }

    #[test]
    fn a_hold_needs_its_trial_weight() {
        let mut t = typed(&[("kind", "holds"), ("bottom_deg", "90"), ("sd_g_mm", "2")]);
        assert!(read(&mut t, Show::default(), &holes()).is_none());
        assert!(t.fault("mass_g").is_some());
    }
}
