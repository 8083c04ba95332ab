//! What bears the rotor, as `floor` and `level` take it.

use crate::Fault;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::stand::supports::{
    AirFilm, BALL_BEARING_FRICTION, DiscRollers, END_STOP_FRICTION, FILM_ROUNDNESS_SHARE, HARDENED_LEVER_ARM_UM, PLAIN_LEVER_ARM_UM,
    RollingWays, Support,
};

/// What bears the rotor.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
pub enum SupportIn {
    /// Half-round saddles with an air film; the numbers are those of both saddles together.
    Air {
        /// Drift torque, g·mm, positive counter-clockwise (calculated, or measured by `qualify`).
        drift_g_mm: f64,
        /// How much it changes from look to look, g·mm, standard deviation.
        #[serde(default)]
        drift_sd_g_mm: f64,
        /// What a slope across the arbor adds, g·mm for each mm/m.
        drift_per_cross_slope_g_mm: f64,
        /// Viscous drag, g·mm·s (torque / g per rad/s).
        viscous_drag_g_mm_s: f64,
        /// Tilt of the arbor against the plate from unequal floats, mm/m, far end high positive (see `arbor`).
        #[serde(default)]
        axis_tilt_mm_per_m: f64,
        /// Friction of the arbor against its end stop (0 to 2). 0.15: common practice, no source.
        #[serde(default = "end_stop_friction")]
        end_stop_friction: f64,
        /// Radius at which the end stop touches, mm.
        end_stop_radius_mm: f64,
        /// Share of the arbor's roundness that the film hands on, 0 to 1. 0.2: from a bore oval by 1 µm (reference solution); common
        /// practice for the arbor.
        #[serde(default = "film_roundness_share")]
        roundness_share: f64,
    },
    /// Flat hardened and ground ways.
    HardenedWays {
        /// Rolling lever arm, µm. 5.1 to 12.7 for hardened steel, clean and smooth (statics text); missing: 12.7.
        #[serde(default = "hardened_lever_arm")]
        lever_arm_um: f64,
        /// Flatness deviation along the rolling, µm.
        flatness_um: f64,
        /// Length over which that holds, mm.
        length_mm: f64,
    },
    /// Plain knife edges.
    KnifeEdges {
        /// Rolling lever arm, µm. Missing: 50.8, steel on steel (statics text); common practice for knife edges.
        #[serde(default = "plain_lever_arm")]
        lever_arm_um: f64,
        /// Straightness deviation along the rolling, µm.
        flatness_um: f64,
        /// Length over which that holds, mm.
        length_mm: f64,
    },
    /// Two pairs of overlapping discs in whose notch the arbor lies.
    DiscRollers {
        /// Radius of the discs, mm.
        disc_radius_mm: f64,
        /// Half the bore of their bearings, mm.
        bearing_radius_mm: f64,
        /// Friction of the bearings. Missing: 0.0015, ball bearings without seals (makers' catalogues, from memory).
        #[serde(default = "ball_bearing_friction")]
        bearing_friction: f64,
        /// Angle of each contact from straight down, degrees (1 to 80).
        contact_deg: f64,
        /// Rolling lever arm at the contacts, µm; missing: 12.7.
        #[serde(default = "hardened_lever_arm")]
        lever_arm_um: f64,
        /// Unbalance of one disc, g·mm.
        disc_unbalance_g_mm: f64,
    },
}

fn end_stop_friction() -> f64 {
    END_STOP_FRICTION
}
fn film_roundness_share() -> f64 {
    FILM_ROUNDNESS_SHARE
}
fn hardened_lever_arm() -> f64 {
    HARDENED_LEVER_ARM_UM.1
}
fn plain_lever_arm() -> f64 {
    PLAIN_LEVER_ARM_UM
}
fn ball_bearing_friction() -> f64 {
    BALL_BEARING_FRICTION
}

/// Fields of a support, as the physics names them too; in a fault they stand inside `support`.
const FIELDS: &[&str] = &[
    "drift_g_mm",
    "drift_sd_g_mm",
    "drift_per_cross_slope_g_mm",
    "viscous_drag_g_mm_s",
    "axis_tilt_mm_per_m",
    "end_stop_friction",
    "end_stop_radius_mm",
    "roundness_share",
    "lever_arm_um",
    "flatness_um",
    "length_mm",
    "disc_radius_mm",
    "bearing_radius_mm",
    "bearing_friction",
    "contact_deg",
    "disc_unbalance_g_mm",
];

impl SupportIn {
    pub(crate) fn physics(&self) -> Support {
        match *self {
            Self::Air {
                drift_g_mm,
                drift_sd_g_mm,
                drift_per_cross_slope_g_mm,
                viscous_drag_g_mm_s,
                axis_tilt_mm_per_m,
                end_stop_friction,
                end_stop_radius_mm,
                roundness_share,
            } => Support::Air(AirFilm {
                drift_g_mm,
                drift_sd_g_mm,
                drift_per_cross_slope_g_mm,
                viscous_drag_g_mm_s,
                axis_tilt_mm_per_m,
                end_stop_friction,
                end_stop_radius_mm,
                roundness_share,
            }),
            Self::HardenedWays { lever_arm_um, flatness_um, length_mm } => {
                Support::HardenedWays(RollingWays { lever_arm_um, flatness_um, length_mm })
            }
            Self::KnifeEdges { lever_arm_um, flatness_um, length_mm } => {
                Support::KnifeEdges(RollingWays { lever_arm_um, flatness_um, length_mm })
            }
            Self::DiscRollers { disc_radius_mm, bearing_radius_mm, bearing_friction, contact_deg, lever_arm_um, disc_unbalance_g_mm } => {
                Support::DiscRollers(DiscRollers {
                    disc_radius_mm,
                    bearing_radius_mm,
                    bearing_friction,
                    contact_deg,
                    lever_arm_um,
                    disc_unbalance_g_mm,
                })
            }
        }
    }

    /// What it is, for a person.
    pub(crate) fn words(&self) -> &'static str {
        match self {
            Self::Air { .. } => "air film",
            Self::HardenedWays { .. } => "hardened ways",
            Self::KnifeEdges { .. } => "knife edges",
            Self::DiscRollers { .. } => "disc rollers",
        }
    }
}

/// A fault of the physics with the support's fields at their place: `support.lever_arm_um`.
pub(crate) fn at_support(place: &str) -> impl Fn(Fault) -> Fault + '_ {
    move |fault| if FIELDS.contains(&fault.field.as_str()) { fault.inside(place) } else { fault }
}

/// The demo's stand on air: two saddles 24 mm long with ports 0.05 mm off to the side.
pub(crate) fn demo_air() -> SupportIn {
    SupportIn::Air {
        drift_g_mm: 0.2,
        drift_sd_g_mm: 0.05,
        drift_per_cross_slope_g_mm: 0.04,
        viscous_drag_g_mm_s: 0.02,
        axis_tilt_mm_per_m: 0.02,
        end_stop_friction: END_STOP_FRICTION,
        end_stop_radius_mm: 1.5,
        roundness_share: FILM_ROUNDNESS_SHARE,
    }
}
