//! What bears the rotor, and what that does to the reading: dead band and drift of air, ways, knife edges, disc rollers.
//!
//! In: a [`Support`] and what lies on it ([`Carried`]). Out: [`Contribution`]s in g·mm, systematic and random apart.
//!
//! | support | dead band | drift |
//! |---|---|---|
//! | air film | end stop μ·M·α·r | the film's own, and by cross slope |
//! | flat ways, knife edges | M·f, f the rolling lever arm | M·r·α, α the slope along the ways |
//! | disc rollers | (μ·r_b·r/R + f·(1 + r/R))·M/cos β | none from slope |
//!
//! Ways: moment M·g·f about the contact, Coulomb's law of rolling friction (any statics text, "rolling resistance"), so M·f
//! whatever the arbor's radius. Disc rollers: bearing friction μ·F·r_b at the disc, its force at the rim carried to the arbor with
//! the lever r; rolling loss by the relative turning 1 + r/R; the two normal forces share the load at β either side of straight
//! down (derived from statics and virtual work).

use crate::{Fault, Ranged};

/// Rolling lever arm of hardened steel on hardened steel, clean and smooth, from and to, µm.
/// Source: statics text, table of rolling friction (adaptivebooks.org), 0.0002 to 0.0005 in.
pub const HARDENED_LEVER_ARM_UM: (f64, f64) = (5.08, 12.7);

/// Rolling lever arm of steel on steel that is neither hardened nor ground, µm: plain knife edges, whose narrow line wears.
/// Source: the same table, "steel on steel", 0.002 in. That it fits knife edges: common practice, no source.
pub const PLAIN_LEVER_ARM_UM: f64 = 50.8;

/// Friction of a rolling bearing, told at the radius of its bore, without seals. Bearing makers' catalogues give 0.0010 to 0.0015
/// for running ball bearings (from memory); the larger one here, as these start from rest.
pub const BALL_BEARING_FRICTION: f64 = 0.0015;

/// Friction of an arbor's end against a stop. Source: film physics notes, §7, where it is an assumption: common practice, no source.
pub const END_STOP_FRICTION: f64 = 0.15;

/// Share of an arbor's roundness that an air film hands on. The film averages over its arc: a bore oval by 1 µm at the worst angle
/// gives 0.59 g·mm under 15 N (reference solution, film physics notes §6) where a single line of contact would give 3.06 g·mm.
/// That the arbor's own form counts like the bore's is common practice, no source: use the film's own answer where there is one.
pub const FILM_ROUNDNESS_SHARE: f64 = 0.2;

/// A cause that hides or fakes an unbalance.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cause {
    /// Drift torque of the air film.
    FilmDrift,
    /// Slope across the arbor (along ways).
    CrossSlope,
    /// The arbor leaning on an end stop, for slope along it.
    EndStop,
    /// Rolling friction.
    RollingFriction,
    /// Waves and hollows of ways or edges.
    WayFlatness,
    /// Friction of the discs' bearings.
    BearingFriction,
    /// Unbalance of the discs themselves.
    DiscUnbalance,
    /// The arbor is out of round where it is borne.
    ArborRoundness,
    /// The arbor is bent or its seat runs out: the wheel sits off the axis.
    ArborRunout,
    /// Play between adapter and arbor.
    AdapterFit,
    /// Moving air in the room.
    Draught,
    /// The least creep that is seen within the time one waits.
    Reading,
}

impl Cause {
    /// All causes, in the order in which they are told.
    pub const ALL: [Self; 12] = [
        Self::FilmDrift,
        Self::CrossSlope,
        Self::EndStop,
        Self::RollingFriction,
        Self::WayFlatness,
        Self::BearingFriction,
        Self::DiscUnbalance,
        Self::ArborRoundness,
        Self::ArborRunout,
        Self::AdapterFit,
        Self::Draught,
        Self::Reading,
    ];
}

impl Support {
    /// Where the size of a cause comes from, on this support.
    pub fn source_of(&self, cause: Cause) -> &'static str {
        let rolls = matches!(self, Self::HardenedWays(_) | Self::KnifeEdges(_));
        match cause {
            Cause::FilmDrift => "film calculation, or measured by qualification",
            Cause::CrossSlope if rolls => "M·r·α, statics",
            Cause::CrossSlope => "film calculation",
            Cause::EndStop => "μ·M·α·r, statics; μ 0.15: common practice, no source",
            Cause::RollingFriction => {
                "M·f; f 5.1 to 12.7 µm for hardened steel, 51 µm for plain steel: statics text, table of rolling friction"
            }
            Cause::WayFlatness => "steepest place of a parabolic hollow, derived",
            Cause::BearingFriction => "μ·F·r_b·r/R, derived; μ 0.0010 to 0.0015: bearing makers' catalogues, from memory",
            Cause::DiscUnbalance => "four discs at random, turned down by r/R, derived",
            Cause::ArborRoundness if matches!(self, Self::Air(_)) => {
                "M·n·a times the film's share; share 0.2: from a bore oval by 1 µm, its use for the arbor is common practice, no source"
            }
            Cause::ArborRoundness => "M·n·a, virtual work, derived",
            Cause::ArborRunout => "half the run-out times the seated mass; index balancing: ISO 21940-14",
            Cause::AdapterFit => "play times the seated mass, derived",
            Cause::Draught => "laminar skin friction on one half of the wheel: Blasius, in Schlichting, Boundary-Layer Theory",
            Cause::Reading => "rigid body with viscous drag from rest, derived",
        }
    }
}

/// One cause with its size.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Contribution {
    /// Which.
    pub cause: Cause,
    /// What stays the same from look to look, g·mm; its size, not negative.
    pub systematic_g_mm: f64,
    /// What changes from look to look, g·mm, standard deviation.
    pub random_sd_g_mm: f64,
}

impl Contribution {
    /// The same in every look, of this size (either sign may be given).
    pub(super) fn bias(cause: Cause, size_g_mm: f64) -> Self {
        Self { cause, systematic_g_mm: size_g_mm.abs(), random_sd_g_mm: 0.0 }
    }

    /// Anywhere within ± this, from look to look: standard deviation of the even spread, bound/√3. Source: JCGM 100 (GUM), 4.3.7.
    pub(super) fn within(cause: Cause, bound_g_mm: f64) -> Self {
        Self { cause, systematic_g_mm: 0.0, random_sd_g_mm: bound_g_mm.abs() / 3f64.sqrt() }
    }
}

/// The arbor as the support sees it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ArborForm {
    /// Radius where it is borne, mm.
    pub radius_mm: f64,
    /// Roundness deviation there, largest less smallest radius, µm.
    pub roundness_um: f64,
    /// Number of lobes of that deviation: 2 oval, 3 or 5 from centreless grinding.
    pub lobes: u32,
}

/// What lies on the support, and how the stand stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Carried {
    /// Mass of the whole rotor with its arbor, kg.
    pub mass_kg: f64,
    /// The arbor where it is borne.
    pub arbor: ArborForm,
    /// Slope across the arbor, mm/m, right end high positive.
    pub cross_slope_mm_per_m: f64,
    /// Slope along the arbor, mm/m, far end high positive.
    pub axial_slope_mm_per_m: f64,
}

/// An air film under the arbor: both saddles together, as the film calculation gives them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AirFilm {
    /// Drift torque of both saddles, g·mm, positive counter-clockwise.
    pub drift_g_mm: f64,
    /// How much that changes from look to look (pressure, set-down), g·mm, standard deviation.
    pub drift_sd_g_mm: f64,
    /// What a cross slope adds, g·mm for each mm/m, both saddles.
    pub drift_per_cross_slope_g_mm: f64,
    /// Viscous drag of both saddles, g·mm·s (torque / g per rad/s).
    pub viscous_drag_g_mm_s: f64,
    /// Tilt of the arbor against the plate from unequal floats, mm/m, far end high positive.
    pub axis_tilt_mm_per_m: f64,
    /// Friction of the end stop, no unit; [`END_STOP_FRICTION`].
    pub end_stop_friction: f64,
    /// Radius at which the end stop touches, mm.
    pub end_stop_radius_mm: f64,
    /// Share of the arbor's roundness that the film hands on, 0 to 1; [`FILM_ROUNDNESS_SHARE`].
    pub roundness_share: f64,
}

/// Flat ways or knife edges on which the arbor rolls.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RollingWays {
    /// Rolling lever arm, µm; [`HARDENED_LEVER_ARM_UM`] or [`PLAIN_LEVER_ARM_UM`].
    pub lever_arm_um: f64,
    /// Flatness deviation along the rolling, µm.
    pub flatness_um: f64,
    /// Length over which that holds, mm.
    pub length_mm: f64,
}

/// Two pairs of overlapping discs in whose notch the arbor lies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DiscRollers {
    /// Radius of the discs, mm.
    pub disc_radius_mm: f64,
    /// Radius at which the bearing's friction is told: half its bore, mm.
    pub bearing_radius_mm: f64,
    /// Friction of the bearings, no unit; [`BALL_BEARING_FRICTION`].
    pub bearing_friction: f64,
    /// Angle of each contact from straight down, degrees.
    pub contact_deg: f64,
    /// Rolling lever arm at the contacts, µm; [`HARDENED_LEVER_ARM_UM`].
    pub lever_arm_um: f64,
    /// Unbalance of one disc, g·mm.
    pub disc_unbalance_g_mm: f64,
}

/// What bears the rotor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Support {
    /// Half-round saddles with an air film.
    Air(AirFilm),
    /// Flat hardened ways.
    HardenedWays(RollingWays),
    /// Plain knife edges.
    KnifeEdges(RollingWays),
    /// Disc rollers.
    DiscRollers(DiscRollers),
}

/// What a support does to the reading.
#[derive(Clone, Debug, PartialEq)]
pub struct Effects {
    /// Unbalance that it holds at any place, by dry friction, g·mm.
    pub dead_band_g_mm: f64,
    /// Steady torque, g·mm, positive counter-clockwise.
    pub drift_g_mm: f64,
    /// How much of that changes from look to look, g·mm, standard deviation.
    pub drift_sd_g_mm: f64,
    /// Viscous drag, g·mm·s.
    pub viscous_drag_g_mm_s: f64,
    /// Each cause that this support has.
    pub contributions: Vec<Contribution>,
}

impl Carried {
    fn checked(&self) -> Result<(), Fault> {
        check_mass(self.mass_kg)?;
        self.arbor.radius_mm.within("arbor_radius_mm", 0.5, 500.0, "mm", "radius of the arbor where it is borne")?;
        self.arbor.roundness_um.within("arbor_roundness_um", 0.0, 100.0, "µm", "largest less smallest radius, where it is borne")?;
        f64::from(self.arbor.lobes).within("arbor_lobes", 2.0, 50.0, "lobes", "one lobe is an offset: give it as run-out")?;
        check_slope("cross_slope_mm_per_m", self.cross_slope_mm_per_m)?;
        check_slope("axial_slope_mm_per_m", self.axial_slope_mm_per_m)?;
        Ok(())
    }

    fn mass_g(&self) -> f64 {
        self.mass_kg * 1e3
    }

    /// Largest torque of the lobes for a single line of contact straight down, g·mm: the axis rises and falls by a·cos nφ, a half
    /// the roundness deviation, and the torque is the weight times its slope (derived: virtual work). The same line for both ends.
    fn roundness_on_a_line_g_mm(&self) -> f64 {
        self.mass_g() * f64::from(self.arbor.lobes) * 0.5e-3 * self.arbor.roundness_um
    }
}

/// Mass of a rotor, kg.
pub(super) fn check_mass(mass_kg: f64) -> Result<f64, Fault> {
    mass_kg.within("mass_kg", 1e-3, 1e4, "kg", "mass of the whole rotor with its arbor")
}

/// A slope of the stand, mm/m.
pub(super) fn check_slope(field: &str, slope_mm_per_m: f64) -> Result<f64, Fault> {
    slope_mm_per_m.within(field, -20.0, 20.0, "mm/m", "level the stand by eye first: beyond this nothing here holds")
}

impl Support {
    /// Dead band, drift and causes with this load on it.
    ///
    /// # Errors
    /// A [`Fault`] for a value outside the range that stands with its check.
    pub fn effects(&self, on: &Carried) -> Result<Effects, Fault> {
        on.checked()?;
        match self {
            Self::Air(film) => film.effects(on),
            Self::HardenedWays(ways) | Self::KnifeEdges(ways) => ways.effects(on),
            Self::DiscRollers(discs) => discs.effects(on),
        }
    }
}

impl AirFilm {
    fn effects(&self, on: &Carried) -> Result<Effects, Fault> {
        let film = |field: &str, v: f64, low: f64| v.within(field, low, 1e5, "g·mm", "as the film calculation or qualification gives it");
        film("drift_g_mm", self.drift_g_mm, -1e5)?;
        film("drift_sd_g_mm", self.drift_sd_g_mm, 0.0)?;
        film("drift_per_cross_slope_g_mm", self.drift_per_cross_slope_g_mm, -1e5)?;
        self.viscous_drag_g_mm_s.within("viscous_drag_g_mm_s", 0.0, 1e6, "g·mm·s", "drag brakes, it never drives")?;
        check_slope("axis_tilt_mm_per_m", self.axis_tilt_mm_per_m)?;
        self.end_stop_friction.within("end_stop_friction", 0.0, 2.0, "", "friction of the end stop: 0.15 for steel on steel, oiled")?;
        let largest = on.arbor.radius_mm;
        self.end_stop_radius_mm.within("end_stop_radius_mm", 0.0, largest, "mm", "the stop touches the arbor's end face")?;
        self.roundness_share.within("roundness_share", 0.0, 1.0, "", "1: as a single line of contact, 0: all averaged out")?;
        let by_slope = self.drift_per_cross_slope_g_mm * on.cross_slope_mm_per_m;
        // What drives it against the stop is the arbor's own inclination: the plate's and the floats'.
        let along = (on.axial_slope_mm_per_m + self.axis_tilt_mm_per_m).abs() * 1e-3;
        let stop = self.end_stop_friction * on.mass_g() * along * self.end_stop_radius_mm;
        let mut drift = Contribution::bias(Cause::FilmDrift, self.drift_g_mm);
        drift.random_sd_g_mm = self.drift_sd_g_mm;
        Ok(Effects {
            dead_band_g_mm: stop,
            drift_g_mm: self.drift_g_mm + by_slope,
            drift_sd_g_mm: self.drift_sd_g_mm,
            viscous_drag_g_mm_s: self.viscous_drag_g_mm_s,
            contributions: vec![
                drift,
                Contribution::bias(Cause::CrossSlope, by_slope),
                Contribution::within(Cause::EndStop, stop),
                Contribution::bias(Cause::ArborRoundness, self.roundness_share * on.roundness_on_a_line_g_mm()),
            ],
        })
    }
}

impl RollingWays {
    fn effects(&self, on: &Carried) -> Result<Effects, Fault> {
        let why = "rolling lever arm: 5 to 13 µm for hardened and ground, about 51 µm for plain steel";
        let f = self.lever_arm_um.within("lever_arm_um", 0.0, 1000.0, "µm", why)?;
        self.flatness_um.within("flatness_um", 0.0, 1000.0, "µm", "flatness along the rolling")?;
        self.length_mm.within("length_mm", 1.0, 10_000.0, "mm", "length over which that flatness holds")?;
        let band = on.mass_g() * f * 1e-3;
        let drift = on.mass_g() * on.arbor.radius_mm * on.cross_slope_mm_per_m * 1e-3;
        // A hollow of parabolic shape, t deep over L, is steepest at its ends: 4t/L.
        let steepest = 4.0 * self.flatness_um * 1e-3 / self.length_mm;
        Ok(Effects {
            dead_band_g_mm: band,
            drift_g_mm: drift,
            drift_sd_g_mm: 0.0,
            viscous_drag_g_mm_s: 0.0,
            contributions: vec![
                Contribution::within(Cause::RollingFriction, band),
                Contribution::bias(Cause::CrossSlope, drift),
                Contribution::within(Cause::WayFlatness, on.mass_g() * on.arbor.radius_mm * steepest),
                Contribution::bias(Cause::ArborRoundness, on.roundness_on_a_line_g_mm()),
            ],
        })
    }
}

impl DiscRollers {
    fn effects(&self, on: &Carried) -> Result<Effects, Fault> {
        let radius = self.disc_radius_mm.within("disc_radius_mm", 5.0, 2000.0, "mm", "radius of the discs")?;
        let why = "half the bore of the bearing; the disc is larger than that";
        self.bearing_radius_mm.within("bearing_radius_mm", 0.1, radius, "mm", why)?;
        self.bearing_friction.within("bearing_friction", 0.0, 1.0, "", "0.0010 to 0.0015 for ball bearings, 0.1 for plain ones")?;
        let why = "each contact's angle from straight down: 0 would be one disc, at 90° nothing is carried";
        let beta = self.contact_deg.within("contact_deg", 1.0, 80.0, "degrees", why)?.to_radians();
        self.lever_arm_um.within("lever_arm_um", 0.0, 1000.0, "µm", "rolling lever arm at the contacts")?;
        self.disc_unbalance_g_mm.within("disc_unbalance_g_mm", 0.0, 1e6, "g·mm", "unbalance of one disc")?;
        let ratio = on.arbor.radius_mm / radius;
        let load = on.mass_g() / beta.cos();
        let bearing = self.bearing_friction * load * self.bearing_radius_mm * ratio;
        let rolling = load * self.lever_arm_um * 1e-3 * (1.0 + ratio);
        // In the notch a form a·cos nφ lifts the axis by a·cos nβ/cos β·cos nφ (both contacts kept).
        let n = f64::from(on.arbor.lobes);
        let lobes = (n * beta).cos().abs() / beta.cos();
        // Four discs whose unbalances stand anyhow.
        let discs = 4f64.sqrt() * self.disc_unbalance_g_mm * ratio / 2f64.sqrt();
        Ok(Effects {
            dead_band_g_mm: bearing + rolling,
            drift_g_mm: 0.0,
            drift_sd_g_mm: 0.0,
            viscous_drag_g_mm_s: 0.0,
            contributions: vec![
                Contribution::within(Cause::BearingFriction, bearing),
                Contribution::within(Cause::RollingFriction, rolling),
                Contribution { cause: Cause::DiscUnbalance, systematic_g_mm: 0.0, random_sd_g_mm: discs },
                Contribution::bias(Cause::ArborRoundness, lobes * on.roundness_on_a_line_g_mm()),
            ],
        })
    }
}
