//! What `film` and `saddle` have in common: the saddle, its port and the air, in shop units.

use crate::Fault;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::film as physics;

/// A wave around the bore.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Lobe {
    /// Waves in a full turn, 1 to 30.
    pub waves: u32,
    /// Departure of the radius at the widest place, µm.
    pub amplitude_um: f64,
    /// Where it is widest, degrees from straight down to the right.
    pub at_deg: f64,
}

/// A recess in the surface round the port.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Pocket {
    /// Round.
    Round {
        /// Diameter, mm.
        diameter_mm: f64,
        /// Depth, mm.
        depth_mm: f64,
    },
    /// Rectangular, its length along the axis.
    Slot {
        /// Length along the axis, mm.
        length_mm: f64,
        /// Width around the bore, mm.
        width_mm: f64,
        /// Depth, mm.
        depth_mm: f64,
    },
}

impl Pocket {
    fn physics(self) -> physics::Pocket {
        match self {
            Self::Round { diameter_mm, depth_mm } => physics::Pocket::Round { diameter_m: diameter_mm * 1e-3, depth_m: depth_mm * 1e-3 },
            Self::Slot { length_mm, width_mm, depth_mm } => {
                physics::Pocket::Slot { length_m: length_mm * 1e-3, width_m: width_mm * 1e-3, depth_m: depth_mm * 1e-3 }
            }
        }
    }
}

/// The bore's radius as measured, on a grid.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MeasuredForm {
    /// Angles of the readings, degrees from straight down to the right, ascending.
    pub theta_deg: Vec<f64>,
    /// Places of the readings along the axis from the middle, mm, ascending.
    pub z_mm: Vec<f64>,
    /// Departure of the radius, µm, outwards positive: for each place a list over the angles.
    pub departure_um: Vec<Vec<f64>>,
}

/// The common part, as read.
pub(crate) struct Parts<'a> {
    pub bore_diameter_mm: f64,
    pub radial_clearance_um: Option<f64>,
    pub arbor_diameter_mm: Option<f64>,
    pub length_mm: f64,
    pub arc_deg: f64,
    pub arc_turned_deg: f64,
    pub oval_um: f64,
    pub oval_deg: f64,
    pub taper_um: f64,
    pub lobes: &'a [Lobe],
    pub measured_form: Option<&'a MeasuredForm>,
    pub port_diameter_mm: f64,
    pub port_offset_mm: f64,
    pub port_axial_mm: f64,
    pub port_volume_mm3: f64,
    pub jet_diameter_mm: Option<f64>,
    pub pocket: Option<Pocket>,
    pub discharge: f64,
    pub rest_gap_um: f64,
    pub viscosity_pa_s: Option<f64>,
    pub temperature_c: f64,
    pub ambient_bar_abs: f64,
}

impl Parts<'_> {
    fn clearance_m(&self) -> Result<f64, Fault> {
        match (self.radial_clearance_um, self.arbor_diameter_mm) {
            (Some(c), None) => Ok(c * 1e-6),
            (None, Some(d)) if d >= self.bore_diameter_mm => Err(Fault::new(
                "arbor_diameter_mm",
                d,
                format!("less than {} mm", self.bore_diameter_mm),
                "bore and arbor interfere as measured: the arbor does not go in; ream or lap the bore larger, or take a thinner arbor",
            )),
            (None, Some(d)) => Ok(0.5e-3 * (self.bore_diameter_mm - d)),
            (None, None) => Err(Fault::new(
                "radial_clearance_um",
                "missing",
                "one of radial_clearance_um, arbor_diameter_mm",
                "without it the film's thickness is not known",
            )),
            (Some(_), Some(d)) => Err(Fault::new(
                "arbor_diameter_mm",
                d,
                "one of radial_clearance_um, arbor_diameter_mm",
                "the clearance follows from the arbor's diameter; both could disagree",
            )),
        }
    }

    pub(crate) fn saddle(&self) -> Result<physics::Saddle, Fault> {
        let mut form =
            physics::Form { taper_m: self.taper_um * 1e-6, ..physics::Form::oval(self.oval_um * 1e-6, self.oval_deg.to_radians()) };
        form.lobes.extend(self.lobes.iter().map(|l| physics::Lobe {
            waves: l.waves,
            amplitude_m: l.amplitude_um * 1e-6,
            at_rad: l.at_deg.to_radians(),
        }));
        if let Some(m) = self.measured_form {
            let rows: Vec<Vec<f64>> = m.departure_um.iter().map(|row| row.iter().map(|v| v * 1e-6).collect()).collect();
            form.measured = Some(physics::MeasuredForm::new(
                m.theta_deg.iter().map(|t| t.to_radians()).collect(),
                m.z_mm.iter().map(|z| z * 1e-3).collect(),
                &rows,
            )?);
        }
        Ok(physics::Saddle {
            bore_diameter_m: self.bore_diameter_mm * 1e-3,
            clearance_m: self.clearance_m()?,
            length_m: self.length_mm * 1e-3,
            arc_rad: self.arc_deg.to_radians(),
            arc_turned_rad: self.arc_turned_deg.to_radians(),
            form,
            port: physics::Port {
                diameter_m: self.port_diameter_mm * 1e-3,
                around_m: self.port_offset_mm * 1e-3,
                along_m: self.port_axial_mm * 1e-3,
                jet_diameter_m: self.jet_diameter_mm.map(|d| d * 1e-3),
                pocket: self.pocket.map(Pocket::physics),
                volume_m3: self.port_volume_mm3 * 1e-9,
                discharge: self.discharge,
            },
            rest_gap_m: self.rest_gap_um * 1e-6,
        })
    }

    pub(crate) fn air(&self) -> physics::Air {
        let air = physics::Air::at(self.temperature_c + 273.15, self.ambient_bar_abs * 1e5);
        physics::Air { viscosity_pa_s: self.viscosity_pa_s.unwrap_or(air.viscosity_pa_s), ..air }
    }
}

pub(crate) fn default_arc() -> f64 {
    180.0
}
pub(crate) fn default_discharge() -> f64 {
    0.8
}
pub(crate) fn default_rest_gap() -> f64 {
    1.0
}
pub(crate) fn default_temperature() -> f64 {
    20.0
}
pub(crate) fn default_ambient() -> f64 {
    1.01325
}

/// An input struct: the saddle's fields, then its own. Serde can't flatten and refuse unknown fields at once, so the fields stand in each.
macro_rules! saddle_input {
    ($(#[$doc:meta])* $name:ident { $($own:tt)* }) => {
        $(#[$doc])*
        #[derive(Clone, Debug, PartialEq, serde::Serialize, serde::Deserialize, schemars::JsonSchema)]
        #[serde(deny_unknown_fields)]
        pub struct $name {
            /// Diameter of the bore, mm.
            pub bore_diameter_mm: f64,
            /// Bore radius less arbor radius, µm; or give `arbor_diameter_mm`.
            #[serde(default)]
            pub radial_clearance_um: Option<f64>,
            /// Diameter of the arbor as measured, mm; or give `radial_clearance_um`.
            #[serde(default)]
            pub arbor_diameter_mm: Option<f64>,
            /// Length of the saddle along the axis, mm.
            pub length_mm: f64,
            /// Angle that the bore covers, degrees, at most 180.
            #[serde(default = "crate::saddle_input::default_arc")]
            pub arc_deg: f64,
            /// Angle by which the middle of the arc is turned to the right, degrees: not 0 where the sides are unequal.
            #[serde(default)]
            pub arc_turned_deg: f64,
            /// Oval of the bore: departure of the radius at its widest, µm.
            #[serde(default)]
            pub oval_um: f64,
            /// Where the oval is widest, degrees from straight down to the right.
            #[serde(default)]
            pub oval_deg: f64,
            /// Taper: radius at the far end less radius at the near end, µm.
            #[serde(default)]
            pub taper_um: f64,
            /// More waves of the bore's form.
            #[serde(default)]
            pub lobes: Vec<crate::saddle_input::Lobe>,
            /// The bore's form as measured.
            #[serde(default)]
            pub measured_form: Option<crate::saddle_input::MeasuredForm>,
            /// Diameter of the port's mouth, mm.
            pub port_diameter_mm: f64,
            /// How far the port lies to the right of straight down, along the surface, mm.
            #[serde(default)]
            pub port_offset_mm: f64,
            /// How far the port lies from the middle along the axis, mm.
            #[serde(default)]
            pub port_axial_mm: f64,
            /// Volume of the drilled hole between jet and surface, mm³; it can make the film hammer.
            #[serde(default)]
            pub port_volume_mm3: f64,
            /// Diameter of a jet behind the mouth, mm.
            #[serde(default)]
            pub jet_diameter_mm: Option<f64>,
            /// A shallow pocket round the mouth.
            #[serde(default)]
            pub pocket: Option<crate::saddle_input::Pocket>,
            /// Discharge coefficient of port or jet, 0.6 to 0.9 as a rule.
            #[serde(default = "crate::saddle_input::default_discharge")]
            pub discharge: f64,
            /// Gap left by roughness and form when the arbor rests, µm.
            #[serde(default = "crate::saddle_input::default_rest_gap")]
            pub rest_gap_um: f64,
            /// Supply pressure, bar gauge.
            pub supply_bar: f64,
            /// Viscosity of the air, Pa·s; missing: by Sutherland's formula.
            #[serde(default)]
            pub viscosity_pa_s: Option<f64>,
            /// Temperature of the air, °C.
            #[serde(default = "crate::saddle_input::default_temperature")]
            pub temperature_c: f64,
            /// Pressure of the room, bar absolute.
            #[serde(default = "crate::saddle_input::default_ambient")]
            pub ambient_bar_abs: f64,
            $($own)*
        }

        impl $name {
            fn parts(&self) -> crate::saddle_input::Parts<'_> {
                crate::saddle_input::Parts {
                    bore_diameter_mm: self.bore_diameter_mm,
                    radial_clearance_um: self.radial_clearance_um,
                    arbor_diameter_mm: self.arbor_diameter_mm,
                    length_mm: self.length_mm,
                    arc_deg: self.arc_deg,
                    arc_turned_deg: self.arc_turned_deg,
                    oval_um: self.oval_um,
                    oval_deg: self.oval_deg,
                    taper_um: self.taper_um,
                    lobes: &self.lobes,
                    measured_form: self.measured_form.as_ref(),
                    port_diameter_mm: self.port_diameter_mm,
                    port_offset_mm: self.port_offset_mm,
                    port_axial_mm: self.port_axial_mm,
                    port_volume_mm3: self.port_volume_mm3,
                    jet_diameter_mm: self.jet_diameter_mm,
                    pocket: self.pocket,
                    discharge: self.discharge,
                    rest_gap_um: self.rest_gap_um,
                    viscosity_pa_s: self.viscosity_pa_s,
                    temperature_c: self.temperature_c,
                    ambient_bar_abs: self.ambient_bar_abs,
                }
            }
        }
    };
}
pub(crate) use saddle_input;

/// An input of [`saddle_input`] on the demo's saddle: port aside, pocket, then the input's own fields.
macro_rules! demo_saddle {
    ($name:ident { port_offset_mm: $aside:expr, pocket: $pocket:expr, $($own:tt)* }) => {
        $name {
            bore_diameter_mm: 20.028,
            radial_clearance_um: Some(14.0),
            arbor_diameter_mm: None,
            length_mm: 24.0,
            arc_deg: crate::saddle_input::default_arc(),
            arc_turned_deg: 0.0,
            oval_um: 0.0,
            oval_deg: 0.0,
            taper_um: 0.0,
            lobes: Vec::new(),
            measured_form: None,
            port_diameter_mm: 1.2,
            port_offset_mm: $aside,
            port_axial_mm: 0.0,
            port_volume_mm3: 0.0,
            jet_diameter_mm: Some(0.15),
            pocket: $pocket,
            discharge: crate::saddle_input::default_discharge(),
            rest_gap_um: crate::saddle_input::default_rest_gap(),
            supply_bar: 4.0,
            viscosity_pa_s: None,
            temperature_c: crate::saddle_input::default_temperature(),
            ambient_bar_abs: crate::saddle_input::default_ambient(),
            $($own)*
        }
    };
}
pub(crate) use demo_saddle;

/// What the mesh leaves uncertain.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Refinement {
    /// Change of the force up on the coarser mesh, as a share of it.
    pub load_share: f64,
    /// Change of the flow, as a share of it.
    pub flow_share: f64,
    /// Change of the drift torque at the same place, µN·m.
    pub torque_un_m: f64,
}

impl From<physics::Refinement> for Refinement {
    fn from(r: physics::Refinement) -> Self {
        Self { load_share: r.load_share, flow_share: r.flow_share, torque_un_m: r.torque_n_m * 1e6 }
    }
}
