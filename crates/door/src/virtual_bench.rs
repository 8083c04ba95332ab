//! `virtual-bench`: what a person would see of a hidden rotor on a simulated stand.
//!
//! In: a seed, the stand, the rotor as far as it is known, where the weights are, which look. Out: the reading. The same
//! input always gives the same reading; the hidden unbalance depends on the seed and the rotor alone.

use crate::Fault;
use crate::look::{Reading, WeightAt, weights};
use crate::next_step::{LookKind, Reader};
use rand::SeedableRng;
use rand_xoshiro::Xoshiro256PlusPlus;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::Ranged;
use stillwheel_physics::bench::next_step::LookPlan;
use stillwheel_physics::bench::virtual_bench::{Hidden, VirtualBench};
use stillwheel_physics::quantity::{Angle, Inertia, Unbalance};

/// Input of `virtual-bench`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct VirtualBenchIn {
    /// Seed of the hidden rotor: unbalance, true inertia, drift.
    pub seed: u64,
    /// Number of this look in the sitting: another number gives other reading errors.
    pub look_number: u64,
    /// Inertia as the shop has it, kg·m².
    pub inertia_kg_m2: f64,
    /// Its relative standard deviation: the hidden rotor is off by as much.
    #[serde(default)]
    pub inertia_rel_sd: f64,
    /// About how large the hidden unbalance shall be, g·mm (between half and one and a half of it).
    pub unbalance_about_g_mm: f64,
    /// Standard deviation of the stand's drift torque, g·mm.
    #[serde(default)]
    pub drift_sd_g_mm: f64,
    /// Dry friction of the stand, g·mm.
    #[serde(default)]
    pub dry_friction_g_mm: f64,
    /// Permissible residual unbalance, g·mm: sets how sharply creeping and staying are told.
    pub allowance_g_mm: f64,
    /// How well weights are set, degrees, standard deviation.
    #[serde(default)]
    pub setting_sd_deg: f64,
    /// Where the weights are.
    pub weights: Vec<WeightAt>,
    /// The person.
    #[serde(default)]
    pub reader: Reader,
    /// Which look to take.
    pub look: LookKind,
    /// Full swings to time (multiples of 0.5), for a swing.
    #[serde(default = "one")]
    pub swings: f64,
    /// Tell the hidden truth too.
    #[serde(default)]
    pub tell_truth: bool,
}

fn one() -> f64 {
    1.0
}

/// What is hidden.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Truth {
    /// Size of the rotor's unbalance without weights, g·mm.
    pub unbalance_g_mm: f64,
    /// Its direction, degrees.
    pub at_deg: f64,
    /// Size of the residual with these weights, as they truly stand, g·mm.
    pub residual_g_mm: f64,
    /// True inertia, kg·m².
    pub inertia_kg_m2: f64,
    /// Drift torque, g·mm, positive counter-clockwise.
    pub drift_g_mm: f64,
}

/// Output of `virtual-bench`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct VirtualBenchOut {
    /// What the person reads; it may be another kind than asked for: it creeps, it stays, it is still out.
    pub reading: Reading,
    /// The truth, if it was asked for.
    pub truth: Option<Truth>,
}

/// Take a look on the virtual bench.
///
/// # Errors
/// A [`Fault`] for any field out of its range.
pub fn virtual_bench(input: &VirtualBenchIn) -> Result<VirtualBenchOut, Fault> {
    let g_mm = |field: &str, v: f64, low: f64, why: &str| v.within(field, low, 1e7, "g·mm", why);
    let hidden = Hidden {
        inertia: Inertia::from_kg_m2(input.inertia_kg_m2.within("inertia_kg_m2", 1e-7, 1e3, "kg·m²", "inertia about the arbor's axis")?),
        inertia_rel_sd: input.inertia_rel_sd.within("inertia_rel_sd", 0.0, 0.5, "", "relative standard deviation")?,
        unbalance_about: Unbalance::from_g_mm(g_mm(
            "unbalance_about_g_mm",
            input.unbalance_about_g_mm,
            1e-3,
            "size of the hidden unbalance",
        )?),
        drift_sd_g_mm: g_mm("drift_sd_g_mm", input.drift_sd_g_mm, 0.0, "drift torque of the stand")?,
        dry_friction_g_mm: g_mm("dry_friction_g_mm", input.dry_friction_g_mm, 0.0, "dry friction of the stand")?,
        allowance: crate::estimate::allowance(input.allowance_g_mm)?,
        setting_sd: Angle::from_deg(input.setting_sd_deg.within("setting_sd_deg", 0.0, 10.0, "degrees", "how well a weight is set")?),
        reader: input.reader.physics().map_err(|f| f.inside("reader"))?,
    };
    let swings = input.swings.within("swings", 0.5, 100.0, "full swings", "how many swings to time")?;
    let bench = VirtualBench::hidden(&hidden, &weights("weights", &input.weights)?, input.seed);
    let plan = match input.look {
        LookKind::Settle => LookPlan::Settle,
        LookKind::Swing => LookPlan::Swing { swings: (2.0 * swings).round() / 2.0 },
    };
    let mut rng = Xoshiro256PlusPlus::seed_from_u64(input.seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ input.look_number);
    let reading = Reading::from(&bench.look(plan, &mut rng));
    let truth = input.tell_truth.then(|| Truth {
        unbalance_g_mm: bench.rotor.unbalance.size().g_mm(),
        at_deg: bench.rotor.unbalance.at().deg(),
        residual_g_mm: bench.true_residual().size().g_mm(),
        inertia_kg_m2: Inertia::from_g_mm_s2(bench.rotor.true_j_g_mm_s2).kg_m2(),
        drift_g_mm: bench.stand.drift_g_mm,
    });
    Ok(VirtualBenchOut { reading, truth })
}
