//! `arbor`: how the arbor bends on its two saddles, what that takes off the film, and what its form adds to the unbalance.

use crate::Fault;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt::Write as _;
use stillwheel_physics::Ranged;
use stillwheel_physics::quantity::STANDARD_GRAVITY;
use stillwheel_physics::stand::arbor::{self as physics, Arbor, Bent, PointLoad, edge_lift_um, runout_as_unbalance_g_mm};

/// A step of the arbor.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StepIn {
    /// Length, mm.
    pub length_mm: f64,
    /// Outer diameter, mm.
    pub outer_diameter_mm: f64,
    /// Bore, mm; 0 for a solid step.
    #[serde(default)]
    pub inner_diameter_mm: f64,
}

/// What hangs on the arbor.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LoadIn {
    /// What it is.
    #[serde(default)]
    pub name: Option<String>,
    /// Place of its mass centre from the arbor's left end, mm.
    pub at_mm: f64,
    /// Its mass, kg.
    pub mass_kg: f64,
}

/// The saddles and their film, as the film calculation gives it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SaddlesIn {
    /// Length of one saddle along the arbor, mm.
    pub length_mm: f64,
    /// Least film under the arbor at its float, µm; missing: the effect on the film is not judged.
    #[serde(default)]
    pub film_um: Option<f64>,
    /// Stiffness of one saddle's film, N/µm; missing: the tilt from unequal floats is not told.
    #[serde(default)]
    pub stiffness_n_per_um: Option<f64>,
}

/// The seat of wheel and adapter.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SeatIn {
    /// Mass that sits on it, kg.
    pub mass_kg: f64,
    /// Total indicated run-out against the journals, µm: bend and seat together.
    pub runout_um: f64,
}

/// Input of `arbor`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ArborIn {
    /// Steps from the left end to the right.
    pub steps: Vec<StepIn>,
    /// Modulus of elasticity, GPa. Missing: 205, hardened bearing steel (makers' data sheets).
    #[serde(default = "steel_modulus")]
    pub modulus_gpa: f64,
    /// Density, g/cm³; 0 leaves the own weight out. Missing: 7.81, hardened bearing steel.
    #[serde(default = "steel_density")]
    pub density_g_cm3: f64,
    /// Middles of the two saddles from the left end, mm.
    pub supports_mm: [f64; 2],
    /// What hangs on the arbor: wheel, adapter, nut.
    pub loads: Vec<LoadIn>,
    /// The saddles, for the effect on the film.
    #[serde(default)]
    pub saddles: Option<SaddlesIn>,
    /// The wheel's seat, for what its run-out adds to the unbalance.
    #[serde(default)]
    pub seat: Option<SeatIn>,
}

fn steel_modulus() -> f64 {
    205.0
}
fn steel_density() -> f64 {
    7.81
}

/// One saddle under the arbor.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SaddleOut {
    /// Its middle from the left end, mm.
    pub at_mm: f64,
    /// What it carries, N.
    pub load_n: f64,
    /// Slope of the arbor in it, µrad; positive where the arbor falls toward its right end.
    pub slope_urad: f64,
    /// What the slope lifts or sinks over the length of the saddle, µm.
    pub edge_lift_um: Option<f64>,
    /// Half of that as a share of the least film: what the film loses at one end.
    pub share_of_film: Option<f64>,
}

/// The arbor at a load.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LoadOut {
    /// What hangs there.
    pub name: String,
    /// Place from the left end, mm.
    pub at_mm: f64,
    /// Weight, N.
    pub weight_n: f64,
    /// Fall below the line of the saddles, µm.
    pub fall_um: f64,
    /// Slope there, µrad.
    pub slope_urad: f64,
}

/// Output of `arbor`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ArborOut {
    /// The answer in a few sentences.
    pub says: String,
    /// Mass of the arbor itself, g.
    pub own_mass_g: f64,
    /// Largest sag between the saddles, µm.
    pub largest_sag_um: f64,
    /// Where, from the left end, mm.
    pub largest_sag_at_mm: f64,
    /// Largest rise between the saddles, µm.
    pub largest_uplift_um: f64,
    /// Tilt of the arbor from unequal floats, mm/m, right end high positive: `axis_tilt_mm_per_m` of an air support in `floor`.
    pub axis_tilt_mm_per_m: Option<f64>,
    /// What the run-out of the seat adds to the unbalance, g·mm.
    pub runout_g_mm: Option<f64>,
    /// The two saddles.
    pub saddles: Vec<SaddleOut>,
    /// The loads.
    pub loads: Vec<LoadOut>,
    /// What to beware of.
    pub cautions: Vec<String>,
}

/// How the arbor bends.
///
/// # Errors
/// A [`Fault`] for a value out of its range, and for loads that lift the arbor out of a saddle: nothing holds it down there.
pub fn arbor(input: &ArborIn) -> Result<ArborOut, Fault> {
    let loads = input.loads.iter().enumerate().map(|(i, l)| load(i, l)).collect::<Result<Vec<_>, _>>()?;
    let steps = input.steps.iter().map(|s| physics::Step {
        length_mm: s.length_mm,
        outer_diameter_mm: s.outer_diameter_mm,
        inner_diameter_mm: s.inner_diameter_mm,
    });
    let model = Arbor {
        steps: steps.collect(),
        modulus_gpa: input.modulus_gpa,
        density_g_cm3: input.density_g_cm3,
        supports_mm: input.supports_mm,
        loads,
    };
    let bent = model.bend()?;
    if let Some(i) = (0..2).find(|&i| bent.reactions_n[i] < 0.0) {
        let why = "a half-round saddle holds nothing down: the arbor would tip out of it. Bring the load between the saddles, or spread \
            the saddles";
        return Err(Fault::new(
            "loads",
            format!("{:.1} N at saddle {}", bent.reactions_n[i], i + 1),
            "a load of 0 N or more at both saddles",
            why,
        ));
    }
    let saddles = saddles(input, &bent)?;
    let axis_tilt_mm_per_m = match input.saddles.and_then(|s| s.stiffness_n_per_um) {
        None => None,
        Some(k) => {
            let span = input.supports_mm[1] - input.supports_mm[0];
            Some(physics::tilt_from_floats_mm_per_m(bent.reactions_n, k, span).map_err(|f| f.inside("saddles"))?)
        }
    };
    let runout_g_mm = match input.seat {
        None => None,
        Some(seat) => Some(runout_as_unbalance_g_mm(seat.mass_kg, seat.runout_um).map_err(|f| f.inside("seat"))?),
    };
    let loads = model.loads.iter().zip(&input.loads).map(|(l, given)| LoadOut {
        name: given.name.clone().unwrap_or_default(),
        at_mm: l.at_mm,
        weight_n: l.force_n,
        fall_um: bent.fall_um(l.at_mm),
        slope_urad: bent.slope_urad(l.at_mm),
    });
    Ok(ArborOut {
        says: says(&bent, &saddles),
        own_mass_g: bent.own_mass_g,
        largest_sag_um: bent.largest_sag.0,
        largest_sag_at_mm: bent.largest_sag.1,
        largest_uplift_um: bent.largest_uplift.0,
        axis_tilt_mm_per_m,
        runout_g_mm,
        loads: loads.collect(),
        cautions: cautions(input, &saddles),
        saddles,
    })
}

fn load(i: usize, l: &LoadIn) -> Result<PointLoad, Fault> {
    let mass = l.mass_kg.within(&format!("loads[{i}].mass_kg"), 0.0, 1e4, "kg", "mass of what hangs there")?;
    Ok(PointLoad { at_mm: l.at_mm, force_n: mass * STANDARD_GRAVITY })
}

fn saddles(input: &ArborIn, bent: &Bent) -> Result<Vec<SaddleOut>, Fault> {
    if let Some(s) = input.saddles {
        let span = input.supports_mm[1] - input.supports_mm[0];
        s.length_mm.within("saddles.length_mm", 1.0, span, "mm", "the saddles do not overlap")?;
        if let Some(film) = s.film_um {
            film.within("saddles.film_um", 0.5, 1000.0, "µm", "least film at the float, as the film calculation gives it")?;
        }
    }
    Ok((0..2)
        .map(|i| {
            let slope = bent.support_slopes_urad[i];
            let lift = input.saddles.map(|s| edge_lift_um(slope, s.length_mm));
            let film = input.saddles.and_then(|s| s.film_um);
            SaddleOut {
                at_mm: input.supports_mm[i],
                load_n: bent.reactions_n[i],
                slope_urad: slope,
                edge_lift_um: lift,
                share_of_film: lift.zip(film).map(|(lift, film)| 0.5 * lift / film),
            }
        })
        .collect())
}

fn says(bent: &Bent, saddles: &[SaddleOut]) -> String {
    let mut text = format!(
        "The saddles carry {:.1} N and {:.1} N. The arbor sags {:.2} µm between them; sag stays where it is as the arbor turns, and is no \
         unbalance.",
        bent.reactions_n[0], bent.reactions_n[1], bent.largest_sag.0
    );
    let worst = saddles.iter().filter_map(|s| s.share_of_film).fold(0.0, f64::max);
    if saddles.iter().any(|s| s.share_of_film.is_some()) {
        let _ = write!(text, " Its slope takes {:.1} % off the film at one end of a saddle.", 100.0 * worst);
    }
    text
}

fn cautions(input: &ArborIn, saddles: &[SaddleOut]) -> Vec<String> {
    let mut list = Vec::new();
    let thickest = input.steps.iter().map(|s| s.outer_diameter_mm).fold(0.0, f64::max);
    let shear = 2.2 * (thickest / (input.supports_mm[1] - input.supports_mm[0])).powi(2);
    if shear > 0.03 {
        list.push(format!("Shear is left out; on so short an arbor it adds up to about {:.0} % to the sag.", 100.0 * shear));
    }
    // A tenth of the film: common practice, no source.
    if saddles.iter().any(|s| s.share_of_film.is_some_and(|share| share > 0.1)) {
        list.push(
            "The bent arbor takes over a tenth of the film at the end of a saddle: a thicker arbor, a shorter saddle, or closer saddles."
                .into(),
        );
    }
    let [a, b] = [saddles[0].load_n, saddles[1].load_n];
    if a.max(b) > 3.0 * a.min(b) {
        list.push("One saddle carries over three times what the other does: they float at unlike heights and the arbor tilts.".into());
    }
    list
}

/// The demo's arbor with the wheel and its adapter midway.
pub(crate) fn example() -> ArborIn {
    let step = |length_mm, outer_diameter_mm| StepIn { length_mm, outer_diameter_mm, inner_diameter_mm: 0.0 };
    ArborIn {
        steps: vec![step(60.0, 20.0), step(10.0, 30.0), step(40.0, 25.0), step(60.0, 20.0)],
        modulus_gpa: steel_modulus(),
        density_g_cm3: steel_density(),
        supports_mm: [20.0, 150.0],
        loads: vec![
            LoadIn { name: Some("wheel".into()), at_mm: 88.0, mass_kg: 1.3 },
            LoadIn { name: Some("adapter".into()), at_mm: 80.0, mass_kg: 1.0 },
        ],
        saddles: Some(SaddlesIn { length_mm: 24.0, film_um: Some(8.0), stiffness_n_per_um: Some(1.45) }),
        seat: Some(SeatIn { mass_kg: 2.3, runout_um: 2.0 }),
    }
}
