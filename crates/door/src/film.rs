//! `film`: the air film with the arbor at a given place.

use crate::Fault;
use crate::saddle_input::{Refinement, demo_saddle, saddle_input};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::film::{Film, Fineness, Pose, check_supply};
use stillwheel_physics::quantity::STANDARD_GRAVITY;

saddle_input! {
    /// Input of `film`: a saddle, and where the arbor lies in it.
    FilmIn {
        /// Arbor's centre to the right of the bore's, µm.
        #[serde(default)]
        pub x_um: f64,
        /// Arbor's centre above the bore's, µm.
        pub y_um: f64,
        /// Slope of the arbor's axis to the right along the bore's, µrad.
        #[serde(default)]
        pub tilt_x_urad: f64,
        /// Slope of the arbor's axis upwards along the bore's, µrad.
        #[serde(default)]
        pub tilt_y_urad: f64,
        /// Give the pressure over the film too, for a picture.
        #[serde(default)]
        pub pressure_map: bool,
    }
}

/// A four-sided piece of the film with values on a square grid of points, row by row.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PressurePatch {
    /// Points along a side.
    pub per_side: usize,
    /// Angle of each point, degrees from straight down to the right.
    pub theta_deg: Vec<f64>,
    /// Place of each point along the axis, mm.
    pub z_mm: Vec<f64>,
    /// Gauge pressure at each point, bar.
    pub gauge_bar: Vec<f64>,
    /// Film thickness at each point, µm.
    pub film_um: Vec<f64>,
}

/// Output of `film`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FilmOut {
    /// Force of the film upwards, N.
    pub force_up_n: f64,
    /// Force of the film to the right, N.
    pub force_right_n: f64,
    /// Moment of the upward forces about the saddle's middle, N·mm: positive lifts the far end.
    pub moment_up_n_mm: f64,
    /// Moment of the forces to the right about the saddle's middle, N·mm.
    pub moment_right_n_mm: f64,
    /// Pressure at the port, bar absolute.
    pub port_bar_abs: f64,
    /// Air used, litres a minute at 20 °C and 1 bar (ISO 8778).
    pub flow_l_min_anr: f64,
    /// Drift torque, µN·m, counter-clockwise.
    pub torque_un_m: f64,
    /// Drift torque over g, g·mm.
    pub drift_g_mm: f64,
    /// Drag torque at 1 rad/s, µN·m·s.
    pub drag_un_m_s: f64,
    /// Thinnest film, µm.
    pub least_film_um: f64,
    /// What the mesh leaves uncertain: change against a coarser one.
    pub refinement: Refinement,
    /// Where the model leaves its ground, in plain sentences; empty inside all limits.
    pub warnings: Vec<String>,
    /// The pressure over the film, when asked for.
    pub pressure_map: Option<Vec<PressurePatch>>,
}

/// The film with the arbor at a given place.
///
/// # Errors
/// A [`Fault`] for a dimension out of range, or a place where arbor and bore overlap.
pub fn film(input: &FilmIn) -> Result<FilmOut, Fault> {
    let parts = input.parts();
    let (saddle, air) = (parts.saddle()?, parts.air());
    air.check()?;
    let supply_pa = input.supply_bar * 1e5;
    check_supply(supply_pa)?;
    let pose =
        Pose { x_m: input.x_um * 1e-6, y_m: input.y_um * 1e-6, tilt_x_rad: input.tilt_x_urad * 1e-6, tilt_y_rad: input.tilt_y_urad * 1e-6 };
    let film = Film::new(&saddle, Fineness::FINE)?;
    let shape = film.shape(pose)?;
    let state = shape.at(&air, supply_pa);
    let patches = || {
        let scaled = |v: &[f64], by: f64| v.iter().map(|x| x * by).collect::<Vec<f64>>();
        let patches = shape.pressure_patches(&air, &state).into_iter();
        patches
            .map(|p| PressurePatch {
                per_side: p.per_side,
                theta_deg: p.theta_rad.iter().map(|t| t.to_degrees()).collect(),
                z_mm: scaled(&p.z_m, 1e3),
                gauge_bar: scaled(&p.gauge_pa, 1e-5),
                film_um: scaled(&p.film_m, 1e6),
            })
            .collect()
    };
    Ok(FilmOut {
        force_up_n: state.force_up_n(),
        force_right_n: state.force_right_n(),
        moment_up_n_mm: state.forces[3] * 1e3,
        moment_right_n_mm: state.forces[2] * 1e3,
        port_bar_abs: state.port_pa / 1e5,
        flow_l_min_anr: state.flow_l_min_anr(),
        torque_un_m: state.torque_n_m * 1e6,
        drift_g_mm: state.torque_n_m / STANDARD_GRAVITY * 1e6,
        drag_un_m_s: state.drag_n_m_s * 1e6,
        least_film_um: state.least_film_m * 1e6,
        refinement: Film::new(&saddle, Fineness::COARSE)?.refinement(&state, &air)?.into(),
        warnings: shape.validity(&air, &state).warnings(),
        pressure_map: input.pressure_map.then(patches),
    })
}

/// The demo's saddle with the arbor 6 µm low.
pub(crate) fn example() -> FilmIn {
    demo_saddle!(FilmIn {
        port_offset_mm: 0.0,
        pocket: None,
        x_um: 0.0,
        y_um: -6.0,
        tilt_x_urad: 0.0,
        tilt_y_urad: 0.0,
        pressure_map: false,
    })
}
