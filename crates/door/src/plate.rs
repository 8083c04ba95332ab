//! `plate`: the base plate, its feet and what stands on it in; sag, lean of the saddles, dents, frequencies and foot places out.

use crate::Fault;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::making::hertz::{Body, Stands};
use stillwheel_physics::making::material::Material;
use stillwheel_physics::making::plate::{Fallen, Foot, Footed, Plate, Standing, best_spread};

/// Input of `plate`. Places in mm from the corner at the operator's left: to the right, and away from him.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PlateIn {
    /// To the operator's right, mm (20 to 5000).
    pub length_mm: f64,
    /// Away from the operator, mm (20 to 5000).
    pub width_mm: f64,
    /// Thickness, mm (1 to a quarter of the shorter side).
    pub thickness_mm: f64,
    /// Material by its short name: EN-GJL-250, granite, EN AW-6082-T6, S355, …
    pub material: String,
    /// The three feet, mm.
    pub feet_mm: [[f64; 2]; 3],
    /// The two pillars, mm; the operator's first.
    pub pillars_mm: [[f64; 2]; 2],
    /// Mass of one pillar with its saddle, kg (0 to 500).
    pub pillar_kg: f64,
    /// Mass of the rotor, kg (0 to 1000).
    pub rotor_kg: f64,
    /// Share of the rotor on the operator's pillar (0 to 1).
    #[serde(default = "half")]
    pub first_share: f64,
    /// Axis of the arbor above the tips of the feet, mm (5 to 3000).
    pub axis_height_mm: f64,
    /// Length of a saddle along the arbor, mm (1 to 500).
    pub saddle_length_mm: f64,
    /// Diameter of the ball at a foot's end, mm (0.2 to 500).
    #[serde(default = "ten")]
    pub ball_mm: f64,
    /// Material of the ball.
    #[serde(default = "bearing_steel")]
    pub ball_material: String,
    /// Material of what the balls stand on: a button under each, or the bench.
    #[serde(default = "bearing_steel")]
    pub stands_on: String,
    /// Distance of the mass centre from tipping that must stay, mm (0.1 to 2000), when a better spread of the feet is looked for.
    #[serde(default = "twenty")]
    pub least_margin_mm: f64,
}

const fn half() -> f64 {
    0.5
}
const fn ten() -> f64 {
    10.0
}
const fn twenty() -> f64 {
    20.0
}
fn bearing_steel() -> String {
    "100Cr6".into()
}

/// The plate under a pillar.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct UnderOut {
    /// Fall below the plane through the feet, own weight and all loads, µm.
    pub fall_um: f64,
    /// Lean of the pillar by them, to the right and away, µrad.
    pub lean_urad: [f64; 2],
    /// What the rotor adds to the fall, µm.
    pub fall_by_rotor_um: f64,
    /// What it adds to the lean, µrad.
    pub lean_by_rotor_urad: [f64; 2],
}

/// Whether what a foot stands on bears it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum StandsName {
    /// It springs back.
    Elastic,
    /// A dent forms: the foot creeps and the level wanders.
    Dents,
    /// Stone: it springs back or chips.
    Brittle,
}

/// One foot.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FootOut {
    /// Load, N.
    pub load_n: f64,
    /// Pressure in the middle of the contact, MPa.
    pub pressure_mpa: f64,
    /// Radius of the spot, mm.
    pub spot_radius_mm: f64,
    /// How far the ball sinks in, µm.
    pub approach_um: f64,
    /// Stiffness of the contact, N/µm.
    pub stiffness_n_um: f64,
    /// Whether what it stands on bears it.
    pub stands: StandsName,
}

/// A better spread of the two feet that lie furthest apart.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SpreadFeetOut {
    /// Their distance, mm.
    pub apart_mm: f64,
    /// Lean of the saddles then, µrad.
    pub saddle_lean_urad: f64,
}

/// Output of `plate`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlateOut {
    /// The answer in a few sentences.
    pub says: String,
    /// Mass of the plate, kg.
    pub plate_kg: f64,
    /// The plate under both pillars, the operator's first.
    pub pillars: Vec<UnderOut>,
    /// Tilt of the line through both saddles by the rotor, mm/m, far end high positive; level with the rotor on to be rid of it.
    pub axis_tilt_mm_per_m: f64,
    /// How far the saddles lean against that line, the worse, µrad: no levelling takes it away.
    pub saddle_lean_urad: f64,
    /// What that lifts or sinks over a saddle's length, µm.
    pub edge_lift_um: f64,
    /// Distance of the mass centre from the nearest tipping side, mm.
    pub margin_mm: f64,
    /// Push at the mass centre's height that tips it, N.
    pub tipping_force_n: f64,
    /// The feet.
    pub feet: Vec<FootOut>,
    /// Frequencies of the rigid stand on its springy contacts, Hz: rising.
    pub frequencies_hz: [f64; 3],
    /// Spread of the feet at which the saddles lean least; missing where none keeps the wanted margin.
    pub spread: Option<SpreadFeetOut>,
    /// What to beware of.
    pub cautions: Vec<String>,
}

/// How the base plate bears what stands on it.
///
/// # Errors
/// A [`Fault`] for values out of range, places off the plate, feet in a line, a stand that tips.
pub fn plate(input: &PlateIn) -> Result<PlateOut, Fault> {
    let material = Material::find("material", &input.material)?;
    let ball = Material::find("ball_material", &input.ball_material)?;
    let flat = Material::find("stands_on", &input.stands_on)?;
    let body = |m: &Material| Body::Elastic { young_gpa: m.young_gpa, poisson: m.poisson };
    let stand = Standing {
        plate: Plate {
            length_mm: input.length_mm,
            width_mm: input.width_mm,
            thickness_mm: input.thickness_mm,
            young_gpa: material.young_gpa,
            poisson: material.poisson,
            density_kg_m3: material.density_kg_m3,
        },
        feet_mm: input.feet_mm,
        foot: Foot {
            ball_mm: input.ball_mm,
            ball: body(ball),
            flat: body(flat),
            flat_yield_mpa: flat.yield_mpa,
            flat_hardened: flat.is_hardened(),
        },
        pillar_kg: input.pillar_kg,
        pillars_mm: input.pillars_mm,
        rotor_kg: input.rotor_kg,
        first_share: input.first_share,
        axis_height_mm: input.axis_height_mm,
        saddle_length_mm: input.saddle_length_mm,
    };
    let got =
        stand.footed().map_err(|f| if f.field.starts_with("foot.ball_radius") { Fault { field: "ball_mm".into(), ..f } } else { f })?;
    let mut cautions = vec![];
    let spread = match best_spread(&stand, input.least_margin_mm) {
        Ok((apart_mm, saddle_lean_urad)) => Some(SpreadFeetOut { apart_mm, saddle_lean_urad }),
        Err(f) if f.value == input.least_margin_mm.into() && f.allowed.starts_with("at most") => {
            cautions.push(format!("No spread of the feet keeps {} mm of margin on this plate ({}).", input.least_margin_mm, f.allowed));
            None
        }
        Err(f) => return Err(f),
    };
    if got.stands.contains(&Stands::Dents) {
        cautions.push(format!(
            "The balls dent {}: the stand creeps out of level. Put a hardened button (100Cr6, 90MnCrV8) under each foot.",
            flat.full_name
        ));
    }
    if got.stands.contains(&Stands::Brittle) {
        cautions.push("Stone under a ball springs back or chips: a hardened button spreads the load.".into());
    }
    cautions.push("A pillar is taken as a point and stiffens nothing: sag and lean are upper bounds.".into());
    Ok(PlateOut {
        says: says(&got, spread.as_ref()),
        plate_kg: stand.plate.mass_kg(),
        pillars: got.pillars.iter().zip(&got.by_rotor).map(|(all, rotor)| under(all, rotor)).collect(),
        axis_tilt_mm_per_m: got.axis_tilt_mm_per_m,
        saddle_lean_urad: got.saddle_lean_urad,
        edge_lift_um: got.edge_lift_um,
        margin_mm: got.stood.margin_mm,
        tipping_force_n: got.stood.tipping_force_n,
        feet: (0..3)
            .map(|i| FootOut {
                load_n: got.stood.foot_loads_n[i],
                pressure_mpa: got.contacts[i].pressure_mpa,
                spot_radius_mm: got.contacts[i].spot_radius_mm,
                approach_um: got.contacts[i].approach_um,
                stiffness_n_um: got.contacts[i].stiffness_n_um,
                stands: match got.stands[i] {
                    Stands::Elastic => StandsName::Elastic,
                    Stands::Dents => StandsName::Dents,
                    Stands::Brittle => StandsName::Brittle,
                },
            })
            .collect(),
        frequencies_hz: got.frequencies_hz,
        spread,
        cautions,
    })
}

const fn under(all: &Fallen, rotor: &Fallen) -> UnderOut {
    UnderOut { fall_um: all.fall_um, lean_urad: all.slope_urad, fall_by_rotor_um: rotor.fall_um, lean_by_rotor_urad: rotor.slope_urad }
}

fn says(got: &Footed, spread: Option<&SpreadFeetOut>) -> String {
    let mut text = format!(
        "With the rotor on, the plate falls by {:.2} and {:.2} µm under the pillars. The saddles lean against one line by {:.1} µrad, {:.2} µm over \
         a saddle. It stands {:.0} mm from tipping and shakes at {:.0} Hz and above.",
        got.by_rotor[0].fall_um,
        got.by_rotor[1].fall_um,
        got.saddle_lean_urad,
        got.edge_lift_um,
        got.stood.margin_mm,
        got.frequencies_hz[0]
    );
    if let Some(s) = spread.filter(|s| s.saddle_lean_urad < 0.8 * got.saddle_lean_urad) {
        text += &format!(" With the outer feet {:.0} mm apart it would lean by {:.1} µrad.", s.apart_mm, s.saddle_lean_urad);
    }
    text
}

/// The demo's stand.
pub(crate) fn example() -> PlateIn {
    PlateIn {
        length_mm: 320.0,
        width_mm: 180.0,
        thickness_mm: 25.0,
        material: "EN-GJL-250".into(),
        feet_mm: [[20.0, 20.0], [300.0, 20.0], [160.0, 160.0]],
        pillars_mm: [[160.0, 35.0], [160.0, 145.0]],
        pillar_kg: 1.0,
        rotor_kg: 2.9,
        first_share: half(),
        axis_height_mm: 190.0,
        saddle_length_mm: 24.0,
        ball_mm: ten(),
        ball_material: bearing_steel(),
        stands_on: "granite".into(),
        least_margin_mm: 10.0,
    }
}
