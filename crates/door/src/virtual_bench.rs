//! `virtual-bench`: what a person would see of a hidden rotor on a simulated stand.
//!
//! In: a seed, the stand, the rotor as far as it is known, where the weights are, which look. Out: the reading. The same
//! input always gives the same reading; the hidden unbalance depends on the seed and the rotor alone.

use crate::Fault;
use crate::fit_log::{FitLogIn, fit_log};
use crate::look::{Reading, TrialWeight, WeightAt, weights};
use crate::next_step::{LookKind, Reader};
use rand::SeedableRng;
use rand_xoshiro::Xoshiro256PlusPlus;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::Ranged;
use stillwheel_physics::bench::next_step::LookPlan;
use stillwheel_physics::bench::virtual_bench::{Hidden, Recorder, VirtualBench};
use stillwheel_physics::quantity::{Angle, Inertia, RotorAngle, Unbalance};

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
    /// How far the rotor is turned on the arbor against its first seat, degrees counter-clockwise.
    #[serde(default)]
    pub turned_on_arbor_deg: f64,
    /// Standard deviation of the arbor's hidden error, g·mm, which turns with it; 0: the arbor is true.
    #[serde(default)]
    pub arbor_error_sd_g_mm: f64,
    /// A known mass that is on for this look (not for `holds`).
    #[serde(default)]
    pub trial: Option<TrialWeight>,
    /// For `holds`: where the rotor shall be held, and where the trial weight is put.
    #[serde(default)]
    pub holds: Option<HoldsAt>,
    /// Which look to take.
    pub look: VirtualLook,
    /// Full swings to time (multiples of 0.5), for a swing.
    #[serde(default = "one")]
    pub swings: f64,
    /// Tell the hidden truth too.
    #[serde(default)]
    pub tell_truth: bool,
}

/// A look on the virtual bench.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum VirtualLook {
    /// Let it settle and read the bottom.
    Settle,
    /// Time a swing.
    Swing,
    /// Find the trial weight that just holds it.
    Holds,
    /// Record a swing and fit the log.
    Log,
}

impl From<LookKind> for VirtualLook {
    fn from(k: LookKind) -> Self {
        match k {
            LookKind::Settle => Self::Settle,
            LookKind::Swing => Self::Swing,
        }
    }
}

/// Where a rotor shall be held by a trial weight.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HoldsAt {
    /// Rotor angle at the bottom while it is held, degrees.
    pub bottom_deg: f64,
    /// Where the trial weight is put, degrees.
    pub at_deg: f64,
    /// Radius of its mass centre, mm (0.1 to 2000).
    pub radius_mm: f64,
    /// Step between trial weights, g (1e-4 to 1000).
    pub step_g: f64,
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

/// A recorded swing.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RecordedLog {
    /// Times, s.
    pub t_s: Vec<f64>,
    /// Room angle of the zero mark at these times, degrees counter-clockwise from straight down, running on.
    pub angle_deg: Vec<f64>,
}

/// The recorder of the virtual bench: a clip of 40 s read at 15 a second to 0.3°. Assumed, without a source.
const RECORDER: Recorder = Recorder { seconds: 40.0, per_second: 15.0, angle_sd: Angle::from_rad(0.3 * std::f64::consts::PI / 180.0) };

/// Output of `virtual-bench`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct VirtualBenchOut {
    /// What the person reads; it may be another kind than asked for: it creeps, it stays, it is still out.
    pub reading: Reading,
    /// For `holds`: the trial weight that held it.
    #[serde(default)]
    pub trial: Option<TrialWeight>,
    /// For `log`: what was recorded.
    #[serde(default)]
    pub log: Option<RecordedLog>,
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
    let turned = input.turned_on_arbor_deg.within("turned_on_arbor_deg", -3600.0, 3600.0, "degrees", "rotor turned on the arbor")?;
    let arbor_sd = g_mm("arbor_error_sd_g_mm", input.arbor_error_sd_g_mm, 0.0, "error of the arbor")?;
    let mut bench = VirtualBench::hidden(&hidden, &weights("weights", &input.weights)?, input.seed).turned_on_arbor(
        Angle::from_deg(turned),
        Unbalance::from_g_mm(arbor_sd),
        input.seed,
    );
    if let Some(trial) = input.trial {
        bench = bench.with_trial(trial.physics().map_err(|f| f.inside("trial"))?);
    }
    let mut rng = Xoshiro256PlusPlus::seed_from_u64(input.seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ input.look_number);
    let half_swings = LookPlan::Swing { swings: (2.0 * swings).round() / 2.0 };
    let (mut trial, mut log) = (None, None);
    let reading = match input.look {
        VirtualLook::Settle => Reading::from(&bench.look(LookPlan::Settle, &mut rng)),
        VirtualLook::Swing => Reading::from(&bench.look(half_swings, &mut rng)),
        VirtualLook::Holds => {
            if input.trial.is_some() {
                return Err(Fault::new("trial", "a trial weight", "none", "a hold finds its own trial weight: say where in `holds`"));
            }
            let (weight, reading) = held(&bench, input.holds, &mut rng)?;
            trial = Some(weight);
            reading
        }
        VirtualLook::Log => {
            let settled = Reading::from(&bench.look(LookPlan::Settle, &mut rng));
            if matches!(settled, Reading::Creeps { .. } | Reading::Stays { .. }) {
                // What never swings leaves no log.
                settled
            } else {
                let (t_s, angle) = bench.swing_log(&RECORDER, &mut rng)?;
                let recorded = RecordedLog { t_s, angle_deg: angle.iter().map(|a| a.to_degrees()).collect() };
                let reading = fitted(input, &recorded)?;
                log = Some(recorded);
                reading
            }
        }
    };
    let truth = input.tell_truth.then(|| Truth {
        unbalance_g_mm: bench.rotor.unbalance.size().g_mm(),
        at_deg: bench.rotor.unbalance.at().deg(),
        residual_g_mm: bench.true_residual().size().g_mm(),
        inertia_kg_m2: Inertia::from_g_mm_s2(bench.rotor.true_j_g_mm_s2).kg_m2(),
        drift_g_mm: bench.stand.drift_g_mm,
    });
    Ok(VirtualBenchOut { reading, trial, log, truth })
}

/// The trial weight that holds the rotor where it was asked for.
fn held(bench: &VirtualBench, at: Option<HoldsAt>, rng: &mut Xoshiro256PlusPlus) -> Result<(TrialWeight, Reading), Fault> {
    let Some(at) = at else {
        return Err(Fault::new(
            "holds",
            "missing",
            "bottom_deg, at_deg, radius_mm, step_g",
            "where shall the rotor be held, by a weight where?",
        ));
    };
    let inside = |f: Fault| f.inside("holds");
    let angle = |field: &str, v: f64| v.within(field, -3600.0, 3600.0, "degrees", "an angle on the rotor").map(RotorAngle::from_deg);
    let (bottom, place) = (angle("bottom_deg", at.bottom_deg).map_err(inside)?, angle("at_deg", at.at_deg).map_err(inside)?);
    let radius = at.radius_mm.within("radius_mm", 0.1, 2000.0, "mm", "radius of the trial weight").map_err(inside)?;
    let step = at.step_g.within("step_g", 1e-4, 1000.0, "g", "step between trial weights").map_err(inside)?;
    let Some((moment, reading)) = bench.holds(bottom, place, Unbalance::from_g_mm(step * radius), rng) else {
        let why = "a weight there can't hold the rotor so: put it on the side that rises, as level with the axis as can be";
        return Err(Fault::new("holds.at_deg", at.at_deg, "a place on the light side", why));
    };
    Ok((TrialWeight { mass_g: moment.g_mm() / radius, radius_mm: radius, at_deg: place.deg() }, Reading::from(&reading)))
}

/// The log as a person would have it fitted.
fn fitted(input: &VirtualBenchIn, log: &RecordedLog) -> Result<Reading, Fault> {
    let fit = fit_log(&FitLogIn {
        t_s: log.t_s.clone(),
        angle_deg: log.angle_deg.clone(),
        inertia_kg_m2: Some(input.inertia_kg_m2),
        inertia_rel_sd: input.inertia_rel_sd,
        drift_prior_sd_g_mm: None,
        dry_friction_possible: input.dry_friction_g_mm > 0.0,
        angle_sd_deg: None,
        time_sd_s: None,
    })?;
    fit.reading
        .ok_or_else(|| Fault::new("look", "log", "another look", format!("the log does not tell the unbalance: {}", fit.main_cause_words)))
}
