//! `pair`: the arbor on two equal saddles, in line or not.

use crate::Fault;
use crate::saddle_input::{demo_saddle, saddle_input};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::film::{Pair, PairFloat};

saddle_input! {
    /// Input of `pair`: the saddle, of which there are two, and the rotor on them.
    PairIn {
        /// From the middle of the first saddle to the middle of the second, mm.
        pub span_mm: f64,
        /// Mass of the whole rotor, kg.
        pub mass_kg: f64,
        /// Centre of mass from the middle of the first saddle towards the second, mm; missing: midway.
        #[serde(default)]
        pub centre_mm: Option<f64>,
        /// How far the second bore lies to the right of the line that is meant, µm.
        #[serde(default)]
        pub second_off_x_um: f64,
        /// How far the second bore lies above the line that is meant, µm.
        #[serde(default)]
        pub second_off_y_um: f64,
        /// Slope of the arbor against the first bore, bore out of line and sag together, µrad: to the right, upwards.
        #[serde(default)]
        pub first_askew_urad: [f64; 2],
        /// The same for the second.
        #[serde(default)]
        pub second_askew_urad: [f64; 2],
        /// Slope of the stand across, mm/m, down to the right.
        #[serde(default)]
        pub cross_slope_mm_m: f64,
        /// Free air that the compressor delivers, litres a minute.
        #[serde(default)]
        pub compressor_l_min: Option<f64>,
    }
}

/// One saddle of the pair.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct OneOfPair {
    /// Arbor's centre to the right of the bore's, µm.
    pub x_um: f64,
    /// Arbor's centre above the bore's, µm.
    pub y_um: f64,
    /// Slope of the arbor against the bore, µrad: to the right.
    pub tilt_x_urad: f64,
    /// The same, upwards.
    pub tilt_y_urad: f64,
    /// Force up, N.
    pub force_up_n: f64,
    /// Share of the weight.
    pub load_share: f64,
    /// Thinnest film, µm.
    pub least_film_um: f64,
    /// What the tilt eats of the thinnest film, µm.
    pub film_lost_to_tilt_um: f64,
    /// Air used, litres a minute (ISO 8778).
    pub flow_l_min_anr: f64,
    /// Drift torque, µN·m, counter-clockwise.
    pub drift_torque_un_m: f64,
}

/// Output of `pair`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PairOut {
    /// First and second saddle.
    pub saddles: Vec<OneOfPair>,
    /// Whether the arbor comes back when moved a little any way.
    pub stable: bool,
    /// Air used by both, litres a minute (ISO 8778).
    pub flow_l_min_anr: f64,
    /// Share of the compressor's delivery; missing without one. Above 1 the pressure falls.
    pub share_of_compressor: Option<f64>,
    /// Drift torque of both over g, g·mm, counter-clockwise.
    pub drift_g_mm: f64,
    /// Drag torque of both at 1 rad/s, µN·m·s.
    pub drag_un_m_s: f64,
    /// A sentence for the maker.
    pub says: String,
}

/// The arbor on its two saddles.
///
/// # Errors
/// A [`Fault`] for a dimension out of range, a share of the load that a saddle does not carry, or bores so askew that the arbor touches.
pub fn pair(input: &PairIn) -> Result<PairOut, Fault> {
    let parts = input.parts();
    let span_m = input.span_mm * 1e-3;
    let pair = Pair {
        centre_m: input.centre_mm.map_or(0.5 * span_m, |c| c * 1e-3),
        second_off_m: [input.second_off_x_um * 1e-6, input.second_off_y_um * 1e-6],
        askew_rad: [input.first_askew_urad, input.second_askew_urad].map(|a| a.map(|v| v * 1e-6)),
        cross_slope_rad: (input.cross_slope_mm_m * 1e-3).atan(),
        ..Pair::in_line(&parts.saddle()?, span_m, input.mass_kg, parts.air(), input.supply_bar * 1e5)
    };
    let float = pair.float().map_err(|f| flat(f, input.mass_kg))?;
    let share_of_compressor = input.compressor_l_min.map(|d| float.share_of_compressor(d)).transpose()?;
    let least = float.states.iter().map(|s| s.least_film_m).fold(f64::INFINITY, f64::min);
    let mut says = format!(
        "The arbor floats with {:.1} µm at its thinnest, on {:.2} l/min; drift {:.2} g·mm.",
        least * 1e6,
        float.flow_l_min_anr(),
        float.drift().g_mm()
    );
    if share_of_compressor.is_some_and(|s| s > 1.0) {
        says += " The compressor delivers less than that: the pressure falls.";
    }
    Ok(PairOut {
        saddles: [0, 1].map(|i| one(&float, i)).to_vec(),
        stable: float.stable,
        flow_l_min_anr: float.flow_l_min_anr(),
        share_of_compressor,
        drift_g_mm: float.drift().g_mm(),
        drag_un_m_s: float.drag_n_m_s() * 1e6,
        says,
    })
}

/// Both saddles are one input here, and a load on one of them comes from the mass.
fn flat(mut fault: Fault, mass_kg: f64) -> Fault {
    for saddle in ["saddles[0].", "saddles[1]."] {
        if let Some(field) = fault.field.strip_prefix(saddle) {
            fault.field = field.to_owned();
        }
    }
    if fault.field == "load_n" {
        fault = Fault::new("mass_kg", mass_kg, format!("on one saddle: {}", fault.allowed), fault.why);
    }
    fault
}

fn one(float: &PairFloat, i: usize) -> OneOfPair {
    let s = &float.states[i];
    OneOfPair {
        x_um: s.pose.x_m * 1e6,
        y_um: s.pose.y_m * 1e6,
        tilt_x_urad: s.pose.tilt_x_rad * 1e6,
        tilt_y_urad: s.pose.tilt_y_rad * 1e6,
        force_up_n: s.force_up_n(),
        load_share: float.load_share[i],
        least_film_um: s.least_film_m * 1e6,
        film_lost_to_tilt_um: float.film_lost_to_tilt_m[i] * 1e6,
        flow_l_min_anr: s.flow_l_min_anr(),
        drift_torque_un_m: s.torque_n_m * 1e6,
    }
}

/// The demo's stand, its wheel a little nearer to the second saddle, the first bore a little askew.
pub(crate) fn example() -> PairIn {
    demo_saddle!(PairIn {
        port_offset_mm: 0.1,
        pocket: None,
        span_mm: 120.0,
        mass_kg: 3.0,
        centre_mm: Some(65.0),
        second_off_x_um: 0.0,
        second_off_y_um: 0.0,
        first_askew_urad: [100.0, 0.0],
        second_askew_urad: [0.0, 0.0],
        cross_slope_mm_m: 0.0,
        compressor_l_min: Some(50.0),
    })
}
