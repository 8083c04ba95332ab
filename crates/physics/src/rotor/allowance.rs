//! How much unbalance a rotor may keep, for which reason, and what that much means in other words.
//!
//! In: mass, speed, a grade, the wheel maker's factor, the waves that the face may have, a typed limit. Out: each limit, the tightest of
//! them with its reason, and its equivalents: grams at the weight ring, travel of one weight, offset of the mass centre, force, waves on the face.

use super::{checked_mass_kg, checked_speed_rad_s};
use crate::grinder::envelope::{amplitude_for_height, largest_height, single_pass_height};
use crate::grinder::response::Head;
use crate::quantity::{Angle, GRAMS_PER_OUNCE, Length, MM_PER_INCH, Mass, RotationalSpeed, Unbalance, Velocity};
use crate::{Fault, Ranged};

/// Permissible residual unbalance by balance quality grade: `U_per = 1000·G·m/Ω` in g·mm, G in mm/s, m in kg, Ω in rad/s.
///
/// `mass` is that of all that turns with what is corrected; wheel and adapter alone is the cautious choice.
///
/// # Errors
/// A [`Fault`] for a grade outside 0.1 to 4000 mm/s, a mass outside 1 g to 10 t, a speed outside 1 to 300,000 r/min.
///
/// Source: ISO 21940-11 (formerly ISO 1940-1), definition of the balance quality grade.
pub fn permissible_by_grade(grade_mm_s: f64, mass: Mass, speed: RotationalSpeed) -> Result<Unbalance, Fault> {
    let g = grade_mm_s.within("grade_mm_s", 0.1, 4000.0, "mm/s", "balance quality grade: 0.4, 1, 2.5, 6.3 ... (ISO 21940-11)")?;
    Ok(Unbalance::from_g_mm(1000.0 * g * checked_mass_kg(mass)? / checked_speed_rad_s(speed)?))
}

/// The grade that a residual amounts to: `G = U·Ω/m`, mm/s.
///
/// # Errors
/// A [`Fault`] for a residual that is negative or above 1e9 g·mm, a mass or a speed out of range.
///
/// Source: ISO 21940-11, definition of the balance quality grade.
pub fn grade_of_residual(residual: Unbalance, mass: Mass, speed: RotationalSpeed) -> Result<f64, Fault> {
    let u = residual.g_mm().within("residual_g_mm", 0.0, 1e9, "g·mm", "the size of a residual is not negative")?;
    Ok(u * checked_speed_rad_s(speed)? / (1000.0 * checked_mass_kg(mass)?))
}

/// The wheel maker's tolerance for a wheel as delivered.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WheelMakerTolerance {
    /// The maker's factor k (g per √g): from the maker or the standard's table, never guessed here.
    pub k: f64,
    /// Mass of the wheel alone.
    pub wheel_mass: Mass,
    /// Diameter of the wheel.
    pub wheel_diameter: Length,
}

/// Permitted mass at the rim, and the unbalance that it makes: `m_a = k·√m1` (both in g), `U_a = m_a·D/2`.
///
/// # Errors
/// A [`Fault`] for k outside 0.01 to 10, a wheel mass outside 1 g to 1 t, a diameter outside 1 to 5000 mm.
///
/// Source: ISO 6103. Its values are for the wheel alone, and its k depends on the wheel's type, use, size and speed.
pub fn permissible_by_wheel_maker(tolerance: WheelMakerTolerance) -> Result<(Mass, Unbalance), Fault> {
    let k = tolerance.k.within("k", 0.01, 10.0, "", "the maker's factor k in m_a = k·√m1 (grams); usually 0.16 to 1, ask the maker")?;
    let m1 = tolerance.wheel_mass.g().within("wheel_mass_g", 1.0, 1e6, "g", "mass of the wheel alone")?;
    let d = tolerance.wheel_diameter.mm().within("wheel_diameter_mm", 1.0, 5000.0, "mm", "diameter of the wheel")?;
    let m_a = k * m1.sqrt();
    Ok((Mass::from_g(m_a), Unbalance::from_g_mm(m_a * d / 2.0)))
}

/// The face that is wanted, and the machine that grinds it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Finish {
    /// Height of the waves, crest to trough, that the face may have (0.001 to 100 µm).
    pub waviness: Length,
    /// Response of the wheel head.
    pub head: Head,
    /// Speed of the table (0.001 to 2 m/s).
    pub table_speed: Velocity,
    /// Diameter of the wheel (10 to 2000 mm).
    pub wheel_diameter: Length,
}

impl Finish {
    fn wave(&self, speed: RotationalSpeed) -> Result<[Length; 2], Fault> {
        let v = self.table_speed.m_s().within(
            "table_speed_m_s",
            1e-3,
            2.0,
            "m/s",
            "speed of the table: often 0.1 to 0.5 m/s (6 to 30 m/min)",
        )?;
        let d = self.wheel_diameter.mm().within("wheel_diameter_mm", 10.0, 2000.0, "mm", "diameter of the wheel")?;
        let turns_a_second = checked_speed_rad_s(speed)? / std::f64::consts::TAU;
        Ok([Length::from_m(v / turns_a_second), Length::from_mm(d / 2.0)])
    }

    /// Height of the waves that a residual leaves in one pass, before later passes cut it: twice the head's amplitude, or less where the wheel's
    /// arcs cut each other's crests off ([`single_pass_height`]).
    ///
    /// # Errors
    /// A [`Fault`] for a residual, speed, table speed or diameter out of range.
    pub fn waviness_of(&self, residual: Unbalance, speed: RotationalSpeed) -> Result<Length, Fault> {
        let [wavelength, radius] = self.wave(speed)?;
        Ok(single_pass_height(self.head.vibration(residual, speed)?.amplitude, wavelength, radius))
    }
}

/// Permissible residual by the waves that the face may have; `None` when no residual makes them so high at this table speed, since the wheel's
/// arcs leave no more than λ²/8R.
///
/// The waves are those of one pass: later passes only cut them lower, so this is the cautious choice.
///
/// # Errors
/// A [`Fault`] for a value out of the ranges of [`Finish`], or a speed out of range.
///
/// Source: forced vibration of a damped head (Rao, Mechanical Vibrations) through the lower envelope of the wheel's path.
pub fn permissible_by_finish(finish: &Finish, speed: RotationalSpeed) -> Result<Option<Unbalance>, Fault> {
    let wanted_um = (finish.waviness.mm() * 1e3).within("waviness_um", 1e-3, 100.0, "µm", "height of the waves that the face may have")?;
    let [wavelength, radius] = finish.wave(speed)?;
    amplitude_for_height(Length::from_mm(wanted_um * 1e-3), wavelength, radius)
        .map(|amplitude| finish.head.unbalance_for(amplitude, speed))
        .transpose()
}

/// Why a limit applies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reason {
    /// Balance quality grade and speed.
    Grade,
    /// The wheel maker's tolerance.
    WheelMaker,
    /// The waves that the ground face may have.
    Finish,
    /// A limit that the user typed.
    Typed,
}

/// One limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limit {
    /// Why it applies.
    pub reason: Reason,
    /// The permissible residual by this reason.
    pub permissible: Unbalance,
}

/// The reasons that apply to a rotor; at least one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reasons {
    /// Mass of the rotor.
    pub mass: Mass,
    /// Speed of the machine.
    pub speed: RotationalSpeed,
    /// Balance quality grade, mm/s.
    pub grade_mm_s: Option<f64>,
    /// The wheel maker's tolerance.
    pub wheel_maker: Option<WheelMakerTolerance>,
    /// The face that is wanted.
    pub finish: Option<Finish>,
    /// A typed limit.
    pub typed: Option<Unbalance>,
}

/// All limits that apply, the tightest first: that one governs.
///
/// # Errors
/// A [`Fault`] when no reason is given, or for a value of one of them.
pub fn limits(reasons: &Reasons) -> Result<Vec<Limit>, Fault> {
    let mut found = Vec::new();
    if let Some(grade) = reasons.grade_mm_s {
        found.push(Limit { reason: Reason::Grade, permissible: permissible_by_grade(grade, reasons.mass, reasons.speed)? });
    }
    if let Some(maker) = reasons.wheel_maker {
        let (_, permissible) = permissible_by_wheel_maker(maker).map_err(|f| f.inside("wheel_maker"))?;
        found.push(Limit { reason: Reason::WheelMaker, permissible });
    }
    let mut never_so_high = None;
    if let Some(finish) = &reasons.finish {
        let inside = |f: Fault| f.inside("finish");
        match permissible_by_finish(finish, reasons.speed).map_err(inside)? {
            Some(permissible) => found.push(Limit { reason: Reason::Finish, permissible }),
            None => never_so_high = Some(finish.wave(reasons.speed).map_err(inside)?),
        }
    }
    if let Some(typed) = reasons.typed {
        let u = typed.g_mm().within("typed_g_mm", 1e-3, 1e9, "g·mm", "a permissible residual is larger than zero")?;
        found.push(Limit { reason: Reason::Typed, permissible: Unbalance::from_g_mm(u) });
    }
    if let (true, Some([wavelength, radius])) = (found.is_empty(), never_so_high) {
        let highest_um = largest_height(wavelength, radius).mm() * 1e3;
        return Err(Fault::new(
            "finish.waviness_um",
            reasons.finish.map_or(0.0, |f| f.waviness.mm() * 1e3),
            format!("below {highest_um:.4} µm, or another reason beside it"),
            "at this table speed the wheel's arcs leave no higher waves, whatever the residual: the face alone sets no limit",
        ));
    }
    if found.is_empty() {
        return Err(Fault::new(
            "grade_mm_s",
            "missing",
            "at least one of grade_mm_s, wheel_maker, finish, typed_g_mm",
            "without a reason there is no allowance; 1 mm/s is a usual choice for a shop's surface grinder, 0.4 for best finish",
        ));
    }
    found.sort_by(|a, b| a.permissible.g_mm().total_cmp(&b.permissible.g_mm()));
    Ok(found)
}

/// The rotor's weights, as far as the equivalents need them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OneWeight {
    /// Radius of the weight ring, where the mass centre of a weight runs.
    pub ring_radius: Length,
    /// Mass of one weight, if it is known.
    pub mass: Option<Mass>,
}

/// The same unbalance in other words.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Equivalents {
    /// In g·mm.
    pub g_mm: f64,
    /// In oz·in.
    pub oz_in: f64,
    /// Mass at the radius of the weight ring that makes as much.
    pub at_ring: Option<Mass>,
    /// How far one weight of the set travels for as much; `None` without a weight, or when the weight cannot make it.
    pub travel_of_one: Option<Travel>,
    /// Offset of the mass centre from the axis, µm: `e = U/m`.
    pub offset_um: f64,
    /// Rotating force at speed, N: `F = U·Ω²`.
    pub force_n: f64,
    /// Balance quality grade, mm/s.
    pub grade_mm_s: f64,
}

/// A weight's way along its ring.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Travel {
    /// As an angle.
    pub angle: Angle,
    /// Along the ring, at the radius of the weight's mass centre.
    pub along: Length,
}

/// How far one weight must travel along its ring to change the unbalance by `change`.
///
/// Taking a weight of moment `q = m·r` from angle a to a + δ changes the unbalance by the chord `2·q·sin(δ/2)`, so
/// `δ = 2·asin(U/(2q))`. `None` when U > 2q: half a turn of this weight does not change so much.
///
/// # Errors
/// A [`Fault`] for a change that is negative, a ring radius outside 1 to 2500 mm, a weight outside 0.001 g to 100 kg.
///
/// Source: chord of a circle, Euclid III; the small-move form δ = U/q is its limit.
pub fn travel_of_one_weight(change: Unbalance, ring_radius: Length, weight: Mass) -> Result<Option<Travel>, Fault> {
    let u = change.g_mm().within("change_g_mm", 0.0, 1e9, "g·mm", "the size of a change is not negative")?;
    let r = checked_ring_radius_mm(ring_radius)?;
    let q = weight.g().within("weight_mass_g", 1e-3, 1e5, "g", "mass of one correction weight")? * r;
    if u > 2.0 * q {
        return Ok(None);
    }
    let angle = 2.0 * (u / (2.0 * q)).asin();
    Ok(Some(Travel { angle: Angle::from_rad(angle), along: Length::from_mm(r * angle) }))
}

fn checked_ring_radius_mm(ring_radius: Length) -> Result<f64, Fault> {
    ring_radius.mm().within("ring_radius_mm", 1.0, 2500.0, "mm", "radius on which the mass centres of the weights run")
}

/// An unbalance of this rotor in other words.
///
/// # Errors
/// A [`Fault`] for an unbalance that is negative, or a mass, speed, ring radius or weight out of range.
///
/// Source: `F = U·Ω²` and `e = U/m` from ISO 21940-2's definitions; units of 1959.
pub fn equivalents(unbalance: Unbalance, mass: Mass, speed: RotationalSpeed, weight: Option<OneWeight>) -> Result<Equivalents, Fault> {
    let grade = grade_of_residual(unbalance, mass, speed)?;
    let g_mm = unbalance.g_mm();
    let at_ring = weight.map(|w| checked_ring_radius_mm(w.ring_radius)).transpose()?.map(|r| Mass::from_g(g_mm / r));
    let travel = match weight {
        Some(OneWeight { ring_radius, mass: Some(m) }) => travel_of_one_weight(unbalance, ring_radius, m)?,
        _ => None,
    };
    Ok(Equivalents {
        g_mm,
        oz_in: g_mm / (GRAMS_PER_OUNCE * MM_PER_INCH),
        at_ring,
        travel_of_one: travel,
        offset_um: g_mm / mass.kg(),
        force_n: unbalance.kg_m() * speed.rad_s().powi(2),
        grade_mm_s: grade,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{RotorAngle, UnbalanceVector};
    use proptest::prelude::*;

    fn reasons() -> Reasons {
        Reasons {
            mass: Mass::from_kg(3.0),
            speed: RotationalSpeed::from_rpm(2850.0),
            grade_mm_s: Some(1.0),
            wheel_maker: None,
            finish: None,
            typed: None,
        }
    }

    fn finish(waviness_um: f64) -> Finish {
        Finish {
            waviness: Length::from_mm(waviness_um * 1e-3),
            head: Head::of_frequency(30.0, 120.0, 0.04).unwrap(),
            table_speed: Velocity::from_m_s(0.25),
            wheel_diameter: Length::from_mm(180.0),
        }
    }

    #[test]
    fn the_face_gives_a_limit_and_the_tightest_still_governs() {
        // balance-cases SDF-01: 50 g·mm at 2850 r/min on this head make 0.351827 µm; half the waves take half the residual.
        let r = Reasons { finish: Some(finish(0.351827 / 2.0)), ..reasons() };
        let found = limits(&r).unwrap();
        assert_eq!(found.iter().map(|l| l.reason).collect::<Vec<_>>(), [Reason::Grade, Reason::Finish]);
        assert!((found[1].permissible.g_mm() - 25.0).abs() < 1e-4);
        let r = Reasons { finish: Some(finish(0.351827 / 10.0)), ..reasons() };
        assert_eq!(limits(&r).unwrap()[0].reason, Reason::Finish);
    }

    #[test]
    fn waves_that_no_residual_makes_set_no_limit() {
        // λ = 5.263 mm, R = 90 mm: λ²/8R = 38.5 µm.
        let r = Reasons { finish: Some(finish(39.0)), ..reasons() };
        assert_eq!(limits(&r).unwrap().len(), 1);
        let alone = Reasons { grade_mm_s: None, ..r };
        let fault = limits(&alone).unwrap_err();
        assert_eq!(fault.field, "finish.waviness_um");
        assert!(fault.allowed.starts_with("below 38.47"), "{fault}");
    }

    #[test]
    fn the_tightest_reason_governs() {
        // 3 kg at 2850 r/min and G1: 10.05 g·mm (balance-cases TOL-10).
        let mut r = reasons();
        r.wheel_maker = Some(WheelMakerTolerance { k: 0.32, wheel_mass: Mass::from_g(1100.0), wheel_diameter: Length::from_mm(200.0) });
        assert_eq!(limits(&r).unwrap()[0].reason, Reason::Grade);
        r.typed = Some(Unbalance::from_g_mm(10.0));
        assert_eq!(limits(&r).unwrap().iter().map(|l| l.reason).collect::<Vec<_>>(), [Reason::Typed, Reason::Grade, Reason::WheelMaker]);
        r.grade_mm_s = None;
        r.typed = None;
        assert_eq!(limits(&r).unwrap()[0].reason, Reason::WheelMaker);
        r.wheel_maker = None;
        assert_eq!(limits(&r).unwrap_err().field, "grade_mm_s");
    }

    #[test]
    fn a_weight_too_light_has_no_travel() {
        // 2q = 2 * 16 g * 38 mm = 1216 g·mm: half a turn of the weight.
        let travel = |u| travel_of_one_weight(Unbalance::from_g_mm(u), Length::from_mm(38.0), Mass::from_g(16.0)).unwrap();
        assert!((travel(1216.0).unwrap().angle.deg() - 180.0).abs() < 1e-6);
        assert_eq!(travel(1216.001), None);
    }

    #[test]
    fn values_out_of_range_name_their_field() {
        let (m, n) = (Mass::from_kg(3.0), RotationalSpeed::from_rpm(2850.0));
        assert_eq!(permissible_by_grade(0.0, m, n).unwrap_err().field, "grade_mm_s");
        assert_eq!(permissible_by_grade(1.0, Mass::from_kg(-3.0), n).unwrap_err().field, "mass_kg");
        assert_eq!(permissible_by_grade(1.0, m, RotationalSpeed::from_rpm(f64::NAN)).unwrap_err().field, "speed_rpm");
        let maker = WheelMakerTolerance { k: f64::NAN, wheel_mass: m, wheel_diameter: Length::from_mm(200.0) };
        let r = Reasons { wheel_maker: Some(maker), ..reasons() };
        assert_eq!(limits(&r).unwrap_err().field, "wheel_maker.k");
    }

    proptest! {
        // What the face permits makes the waves that it may have, and less makes lower ones.
        #[test]
        fn the_permitted_residual_makes_the_waves_asked_for(um in 0.01..30.0_f64, rpm in 1000.0..3500.0_f64) {
            let (f, n) = (finish(um), RotationalSpeed::from_rpm(rpm));
            if let Some(u) = permissible_by_finish(&f, n).unwrap() {
                prop_assert!((f.waviness_of(u, n).unwrap().mm() * 1e3 / um - 1.0).abs() < 1e-6);
                prop_assert!(f.waviness_of(Unbalance::from_g_mm(0.9 * u.g_mm()), n).unwrap() < f.waviness);
            }
        }

        // Laws of U = 1000·G·m/Ω: proportional to grade and mass, inverse to speed; the grade comes back.
        #[test]
        fn grade_limit_scales_with_grade_and_mass_and_inversely_with_speed(
            g in 0.2..100.0_f64, m in 0.1..100.0_f64, n in 100.0..10_000.0_f64, k in 1.1..5.0_f64
        ) {
            let u = |g, m, n| permissible_by_grade(g, Mass::from_kg(m), RotationalSpeed::from_rpm(n)).unwrap().g_mm();
            let one = u(g, m, n);
            prop_assert!((u(g * k, m, n) / one - k).abs() < 1e-12 * k);
            prop_assert!((u(g, m * k, n) / one - k).abs() < 1e-12 * k);
            prop_assert!((u(g, m, n * k) * k / one - 1.0).abs() < 1e-12);
            let back = grade_of_residual(Unbalance::from_g_mm(one), Mass::from_kg(m), RotationalSpeed::from_rpm(n)).unwrap();
            prop_assert!((back / g - 1.0).abs() < 1e-12);
        }

        // Law of m_a = k·√m1: four times the mass gives twice the rim mass.
        #[test]
        fn wheel_maker_limit_grows_with_the_root_of_mass(k in 0.1..1.0_f64, m in 10.0..1e5_f64, d in 50.0..900.0_f64) {
            let u = |m| permissible_by_wheel_maker(WheelMakerTolerance { k, wheel_mass: Mass::from_g(m), wheel_diameter: Length::from_mm(d) }).unwrap();
            prop_assert!((u(4.0 * m).1.g_mm() / u(m).1.g_mm() - 2.0).abs() < 1e-12);
            prop_assert!((u(m).1.g_mm() / (u(m).0.g() * d / 2.0) - 1.0).abs() < 1e-12);
        }

        // Independent route: move the weight as a vector and measure the change.
        #[test]
        fn moving_the_weight_by_its_travel_changes_the_unbalance_by_that_much(share in 0.001..0.999_f64, from in 0.0..360.0_f64) {
            let (r, m) = (Length::from_mm(38.0), Mass::from_g(16.0));
            let q = Unbalance::from_g_mm(16.0 * 38.0);
            let change = Unbalance::from_g_mm(2.0 * q.g_mm() * share);
            let travel = travel_of_one_weight(change, r, m).unwrap().unwrap();
            let at = RotorAngle::from_deg(from);
            let moved = UnbalanceVector::polar(q, at.turned(travel.angle)) - UnbalanceVector::polar(q, at);
            prop_assert!((moved.size().g_mm() / change.g_mm() - 1.0).abs() < 1e-9);
        }
    }
}
