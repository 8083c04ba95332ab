//! Examples of the sitting: the demo's wheel with three 16 g weights on a ring of radius 38 mm, on its air stand.

use crate::estimate::{EstimateIn, Known};
use crate::fit_log::FitLogIn;
use crate::look::{Look, Reading, WeightAt};
use crate::next_step::{Groove, GrooveWeight, NextStepIn, Reader};
use crate::place_weights::{GrooveIn, PlaceWeightsIn, UnbalanceAt};
use crate::virtual_bench::{VirtualBenchIn, VirtualLook};

/// Moment of one of the demo's weights, 16 g at 38 mm.
const WEIGHT_G_MM: f64 = 16.0 * 38.0;

fn weights(at_deg: [f64; 3]) -> Vec<WeightAt> {
    at_deg.map(|at_deg| WeightAt { moment_g_mm: WEIGHT_G_MM, at_deg }).to_vec()
}

fn known() -> Known {
    Known {
        inertia_kg_m2: 0.0082,
        inertia_rel_sd: 0.05,
        unbalance_prior_sd_g_mm: 400.0,
        drift_sd_g_mm: 1.0,
        dry_friction_g_mm: 0.0,
        arbor_error_sd_g_mm: 0.0,
        setting_sd_deg: 0.25,
        misread_share: crate::estimate::default_misread_share(),
    }
}

/// A settle angle and a timed swing with the weights in their neutral places.
fn looks() -> Vec<Look> {
    let look = |reading| Look { weights: weights([0.0, 120.0, 240.0]), turned_on_arbor_deg: 0.0, trial: None, reading };
    vec![
        look(Reading::Settle { settle_deg: 143.0, sd_deg: 3.5 }),
        look(Reading::Swing {
            swings: 1.0,
            time_s: 12.4,
            time_sd_s: 0.2,
            amplitude_deg: 60.0,
            amplitude_sd_deg: 3.0,
            amplitude_end_deg: None,
        }),
    ]
}

/// Input of `estimate`.
pub(crate) fn estimate() -> EstimateIn {
    EstimateIn {
        known: known(),
        looks: looks(),
        weights_now: None,
        allowance_g_mm: Some(9.7),
        particles: crate::estimate::default_particles(),
        seed: crate::estimate::default_seed(),
    }
}

fn groove() -> Groove {
    Groove {
        weights: vec![GrooveWeight { moment_g_mm: WEIGHT_G_MM, arc_deg: 18.0 }; 3],
        graduation_deg: 1.0,
        forbidden_deg: Vec::new(),
        no_passing: true,
    }
}

/// Input of `next-step`.
pub(crate) fn next_step() -> NextStepIn {
    NextStepIn {
        known: known(),
        looks: looks(),
        weights_now: weights([0.0, 120.0, 240.0]),
        groove: Some(groove()),
        tapped_holes: None,
        fixed: Vec::new(),
        allowance_g_mm: 9.7,
        floor_g_mm: 1.0,
        sureness: 0.95,
        reader: Reader::default(),
        seed: crate::estimate::default_seed(),
    }
}

/// Input of `place-weights`: answer what the example sitting found.
pub(crate) fn place_weights() -> PlaceWeightsIn {
    PlaceWeightsIn::Groove(GrooveIn {
        unbalance: UnbalanceAt { size_g_mm: 260.0, at_deg: 143.0 },
        groove: groove(),
        present_deg: Some(vec![0.0, 120.0, 240.0]),
        fixed: Vec::new(),
        tie_g_mm: 0.5,
        good_enough_g_mm: None,
        fewest_moved_first: false,
        setting_sd_deg: 0.25,
        ring_radius_mm: Some(38.0),
    })
}

/// Input of `fit-log`: 24 s of a free swing of 60° and 12 s about a heavy side at 143°, read at 10 a second to 0.1°.
pub(crate) fn fit_log() -> FitLogIn {
    let t_s: Vec<f64> = (0..240).map(|i| 0.1 * f64::from(i)).collect();
    let angle = |t: &f64| -143.0 + 60.0 * (-0.004 * t).exp() * (std::f64::consts::TAU * t / 12.0).cos();
    FitLogIn {
        angle_deg: t_s.iter().map(|t| (10.0 * angle(t)).round() / 10.0).collect(),
        t_s,
        inertia_kg_m2: Some(0.0082),
        inertia_rel_sd: 0.05,
        drift_prior_sd_g_mm: Some(1.0),
        dry_friction_possible: false,
        angle_sd_deg: None,
        time_sd_s: None,
    }
}

/// Input of `virtual-bench`: a settle of the demo's hidden wheel.
pub(crate) fn virtual_bench() -> VirtualBenchIn {
    VirtualBenchIn {
        seed: 20_260,
        look_number: 1,
        inertia_kg_m2: 0.0082,
        inertia_rel_sd: 0.05,
        unbalance_about_g_mm: 400.0,
        drift_sd_g_mm: 1.0,
        dry_friction_g_mm: 0.0,
        allowance_g_mm: 9.7,
        setting_sd_deg: 0.25,
        weights: weights([0.0, 120.0, 240.0]),
        reader: Reader::default(),
        turned_on_arbor_deg: 0.0,
        arbor_error_sd_g_mm: 0.0,
        trial: None,
        holds: None,
        look: VirtualLook::Settle,
        swings: 1.0,
        tell_truth: false,
    }
}
