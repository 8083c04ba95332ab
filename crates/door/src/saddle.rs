//! `saddle`: where the arbor floats under a load, and all that belongs to it.

use crate::Fault;
use crate::saddle_input::{Pocket, Refinement, demo_saddle, saddle_input};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::film::{self as physics, Duty, Film, Fineness};
use stillwheel_physics::quantity::{STANDARD_GRAVITY, Unbalance};

saddle_input! {
    /// Input of `saddle`: a saddle and what is asked of it.
    SaddleIn {
        /// Load on this saddle, N.
        pub load_n: f64,
        /// Slope of the stand across, mm/m, down to the right.
        #[serde(default)]
        pub cross_slope_mm_m: f64,
        /// Slope of the arbor's axis to the right along the bore's, µrad.
        #[serde(default)]
        pub tilt_x_urad: f64,
        /// Slope of the arbor's axis upwards along the bore's, µrad.
        #[serde(default)]
        pub tilt_y_urad: f64,
        /// Mass that bounces on this saddle, kg; missing: load over g.
        #[serde(default)]
        pub mass_kg: Option<f64>,
        /// Length of the port through the wall, mm: what a slanted drill makes of it.
        #[serde(default = "default_wall")]
        pub wall_mm: f64,
        /// Largest drift of this saddle that is allowed, g·mm: asks how far aside the port may sit.
        #[serde(default)]
        pub target_drift_g_mm: Option<f64>,
        /// Leave out hammer and causes of drift, which take most of the time.
        #[serde(default)]
        pub brief: bool,
    }
}

fn default_wall() -> f64 {
    8.0
}

/// One balance of load and film.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Balance {
    /// Arbor's centre to the right of the bore's, µm.
    pub x_um: f64,
    /// Arbor's centre above the bore's, µm.
    pub y_um: f64,
    /// Whether the arbor comes back when moved a little.
    pub stable: bool,
}

/// One point of the force over height.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CurvePoint {
    /// Arbor's centre above the bore's, µm.
    pub y_um: f64,
    /// Force upwards, N.
    pub force_up_n: f64,
    /// Air used, litres a minute (ISO 8778).
    pub flow_l_min_anr: f64,
    /// Whether the arbor is held sideways here; only there it can float.
    pub held_sideways: bool,
}

/// Verdict on hammer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Bouncing dies out.
    Stable,
    /// Damped by less than a hundredth of critical.
    Marginal,
    /// Bouncing grows.
    Unstable,
}

/// Pneumatic hammer.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Hammer {
    /// Verdict.
    pub verdict: Verdict,
    /// Least damping over all bounces, as a share of critical; negative where the film drives it.
    pub damping_ratio: f64,
    /// Frequency of the lowest bounce, Hz; missing if none was found.
    pub bounce_hz: Option<f64>,
    /// Stored volume of pocket and drilled hole, mm³.
    pub volume_mm3: f64,
    /// Stored volume from which on it would hammer, mm³; missing if none does.
    pub largest_volume_mm3: Option<f64>,
    /// Volume of the film, mm³.
    pub film_volume_mm3: f64,
}

/// What causes put on the arbor, g·mm, each for a unit of it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DriftCauses {
    /// Port 0.1 mm to the right.
    pub port_aside_g_mm_per_0_1_mm: f64,
    /// Port leaning to the right by a degree through the wall.
    pub port_slanted_g_mm_per_deg: f64,
    /// Right side of the bore a degree longer, left side shorter.
    pub unequal_sides_g_mm_per_deg: f64,
    /// Stand down to the right by 1 mm/m.
    pub cross_slope_g_mm_per_mm_m: f64,
    /// Bore oval by 1 µm, widest at 45° to the right.
    pub oval_g_mm_per_um: f64,
}

/// How well the port must sit.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PortTolerance {
    /// Largest offset from where it is meant, to either side at the surface, mm.
    pub aside_mm: f64,
    /// The same as a slant of the drill through the wall, degrees.
    pub slant_deg: f64,
    /// Drift at that offset, g·mm.
    pub drift_g_mm: f64,
}

/// Output of `saddle`: the lowest stable float, and what surrounds it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SaddleOut {
    /// Arbor's centre to the right of the bore's, µm.
    pub x_um: f64,
    /// Arbor's centre above the bore's, µm.
    pub y_um: f64,
    /// Thinnest film, µm.
    pub least_film_um: f64,
    /// Stiffness up and down, N/µm.
    pub stiffness_up_n_um: f64,
    /// Stiffness sideways, N/µm.
    pub stiffness_side_n_um: f64,
    /// Pressure at the port, bar absolute.
    pub port_bar_abs: f64,
    /// Air used, litres a minute at 20 °C and 1 bar (ISO 8778).
    pub flow_l_min_anr: f64,
    /// Drift torque, µN·m, counter-clockwise.
    pub drift_torque_un_m: f64,
    /// Drift torque over g, g·mm.
    pub drift_g_mm: f64,
    /// Drag torque at 1 rad/s, µN·m·s.
    pub drag_un_m_s: f64,
    /// How many stable floats there are.
    pub stable_floats: usize,
    /// All balances from low to high.
    pub balances: Vec<Balance>,
    /// Force up with the arbor resting on its rest gap, N.
    pub rest_lift_n: f64,
    /// Whether the arbor lifts off by itself.
    pub lifts_by_itself: bool,
    /// Smallest supply at which it would, bar gauge; missing above 16 bar.
    pub lift_off_bar: Option<f64>,
    /// Largest load that floats at this supply, N.
    pub largest_load_n: f64,
    /// Force and flow over height.
    pub curve: Vec<CurvePoint>,
    /// Pneumatic hammer; missing if `brief`.
    pub hammer: Option<Hammer>,
    /// Drift by cause; missing if `brief`, or if a changed saddle would not float.
    pub drift_causes: Option<DriftCauses>,
    /// How well the port must sit for the target drift; missing without a target.
    pub port_tolerance: Option<PortTolerance>,
    /// What the mesh leaves uncertain: change against a coarser one.
    pub refinement: Refinement,
    /// Where the model leaves its ground, and other things to know, in plain sentences.
    pub warnings: Vec<String>,
    /// A sentence for the maker.
    pub says: String,
}

/// Where the arbor floats.
///
/// # Errors
/// A [`Fault`] for a dimension out of range; if nothing floats, one that names supply, port or load, whichever needs the least change.
pub fn saddle(input: &SaddleIn) -> Result<SaddleOut, Fault> {
    let parts = input.parts();
    let (saddle, air) = (parts.saddle()?, parts.air());
    let duty = Duty {
        tilt_x_rad: input.tilt_x_urad * 1e-6,
        tilt_y_rad: input.tilt_y_urad * 1e-6,
        right_n: input.load_n * input.cross_slope_mm_m * 1e-3,
        ..Duty::new(air, input.supply_bar * 1e5, input.load_n)
    };
    let floats = saddle.floats(&duty)?;
    let low = floats.lowest();
    let state = &low.state;
    let coarse = Film::new(&saddle, Fineness::COARSE)?;
    let shape = coarse.shape(state.pose)?;
    let mut warnings = shape.validity(&air, state).warnings();
    let (mut hammer, mut drift_causes) = (None, None);
    if !input.brief {
        let mass = input.mass_kg.unwrap_or(input.load_n / STANDARD_GRAVITY);
        hammer = Some(judged(&shape.hammer(&air, &shape.at(&air, duty.supply_pa), mass)?, &mut warnings));
        match saddle.drift_causes(&duty, low, input.wall_mm * 1e-3) {
            Ok(causes) => drift_causes = Some(by_cause(&causes)),
            Err(fault) => warnings.push(format!("drift by cause was left out: {fault}")),
        }
    }
    let port_tolerance = input
        .target_drift_g_mm
        .map(|target| saddle.port_tolerance(&duty, low, input.wall_mm * 1e-3, Unbalance::from_g_mm(target)))
        .transpose()?
        .map(|t| PortTolerance { aside_mm: t.aside_m * 1e3, slant_deg: t.slant.deg(), drift_g_mm: t.drift.g_mm() });
    let rises = if floats.lifts_by_itself {
        "lifts off by itself".to_owned()
    } else {
        let at = floats.lift_off_pa.map_or_else(|| "no supply within 16 bar".to_owned(), |p| format!("{:.1} bar", p / 1e5));
        format!("has to be helped up (it would lift by itself at {at}), and settles back hard if it ever touches")
    };
    let says = format!(
        "Floats {:.1} µm from the middle of the bore, thinnest film {:.1} µm, on {:.2} l/min; {rises}. Drift {:.2} g·mm.",
        state.pose.y_m * 1e6,
        state.least_film_m * 1e6,
        state.flow_l_min_anr(),
        low.drift().g_mm()
    );
    Ok(SaddleOut {
        x_um: state.pose.x_m * 1e6,
        y_um: state.pose.y_m * 1e6,
        least_film_um: state.least_film_m * 1e6,
        stiffness_up_n_um: low.stiffness_up_n_m() * 1e-6,
        stiffness_side_n_um: low.stiffness_side_n_m() * 1e-6,
        port_bar_abs: state.port_pa / 1e5,
        flow_l_min_anr: state.flow_l_min_anr(),
        drift_torque_un_m: state.torque_n_m * 1e6,
        drift_g_mm: low.drift().g_mm(),
        drag_un_m_s: state.drag_n_m_s * 1e6,
        stable_floats: floats.stable().count(),
        balances: floats
            .balances
            .iter()
            .map(|b| Balance { x_um: b.state.pose.x_m * 1e6, y_um: b.state.pose.y_m * 1e6, stable: b.stable })
            .collect(),
        rest_lift_n: floats.rest.force_up_n(),
        lifts_by_itself: floats.lifts_by_itself,
        lift_off_bar: floats.lift_off_pa.map(|p| p / 1e5),
        largest_load_n: floats.largest_load_n,
        curve: floats
            .curve
            .iter()
            .map(|p| CurvePoint {
                y_um: p.y_m * 1e6,
                force_up_n: p.force_up_n,
                flow_l_min_anr: physics::Air::litres_per_minute(p.flow_kg_s),
                held_sideways: p.held_sideways,
            })
            .collect(),
        hammer,
        drift_causes,
        port_tolerance,
        refinement: floats.refinement.into(),
        warnings,
        says,
    })
}

/// A verdict on hammer, with its warning.
pub(crate) fn judged(h: &physics::Hammer, warnings: &mut Vec<String>) -> Hammer {
    let verdict = match h.verdict {
        physics::Verdict::Stable => Verdict::Stable,
        physics::Verdict::Marginal => Verdict::Marginal,
        physics::Verdict::Unstable => Verdict::Unstable,
    };
    if verdict != Verdict::Stable {
        warnings.push("the film hammers or is near it: make pocket and drilled hole smaller, or fit the jet nearer to the film".to_owned());
    }
    Hammer {
        verdict,
        damping_ratio: h.damping_ratio,
        bounce_hz: h.bounces.first().map(|b| b.frequency_hz),
        volume_mm3: h.volume_m3 * 1e9,
        largest_volume_mm3: h.largest_volume_m3.map(|v| v * 1e9),
        film_volume_mm3: h.film_volume_m3 * 1e9,
    }
}

fn by_cause(causes: &[physics::DriftCause]) -> DriftCauses {
    // The physics lists each cause once.
    let of = |cause| causes.iter().filter(|c| c.cause == cause).map(|c| c.per_unit.g_mm()).sum();
    DriftCauses {
        port_aside_g_mm_per_0_1_mm: of(physics::Cause::PortAside),
        port_slanted_g_mm_per_deg: of(physics::Cause::PortSlanted),
        unequal_sides_g_mm_per_deg: of(physics::Cause::UnequalSides),
        cross_slope_g_mm_per_mm_m: of(physics::Cause::CrossSlope),
        oval_g_mm_per_um: of(physics::Cause::Oval),
    }
}

/// The demo's stand "Birch": jet and a shallow pocket.
pub(crate) fn example() -> SaddleIn {
    demo_saddle!(SaddleIn {
        port_offset_mm: 0.1,
        pocket: Some(Pocket::Round { diameter_mm: 4.0, depth_mm: 0.02 }),
        load_n: 15.0,
        cross_slope_mm_m: 0.0,
        tilt_x_urad: 0.0,
        tilt_y_urad: 0.0,
        mass_kg: None,
        wall_mm: default_wall(),
        target_drift_g_mm: Some(0.25),
        brief: true,
    })
}
