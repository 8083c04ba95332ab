//! The floor: the smallest unbalance that a stand can show, cause by cause, against the allowance of a rotor.
//!
//! In: the support, the rotor on it, how it sits, how the stand stands, the room and the reader. Out: a [`Budget`]: every cause in
//! g·mm, systematic and random apart, their root sum and their worst case, whether that is enough, and what to improve first.
//!
//! Sizes are taken at 95 %: a random part counts 1.96 standard deviations, a systematic part its whole size. The floor is their root
//! sum of squares (JCGM 100, 5.1.2, with systematic parts of unknown sign among them); the worst case is their plain sum. ISO 21940-14
//! tells the two kinds apart in the same way.

use super::supports::{ArborForm, Carried, Cause, Contribution, Effects, Support};
use crate::quantity::STANDARD_GRAVITY;
use crate::{Fault, Ranged};

/// Standard deviations that hold 95 % of a normal spread.
pub const COVERAGE: f64 = 1.96;

/// The rotor and how it sits on its arbor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RotorOnArbor {
    /// Mass of the whole rotor with its arbor, kg.
    pub mass_kg: f64,
    /// Mass that sits on the arbor's seat (wheel and adapter), kg.
    pub seated_mass_kg: f64,
    /// Inertia about the arbor's axis, kg·m².
    pub inertia_kg_m2: f64,
    /// Wheel diameter, mm.
    pub wheel_diameter_mm: f64,
    /// The arbor where it is borne.
    pub arbor: ArborForm,
    /// Total indicated run-out of the seat, µm.
    pub runout_um: f64,
    /// Whether the wheel is looked at in two places on the arbor half a turn apart, and the mean taken: run-out then falls out.
    pub index_balanced: bool,
    /// Radial play between adapter and arbor, µm; 0 for a taper or a clamped bush.
    pub seat_play_um: f64,
}

/// How the stand stands, the room, the reader.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Setting {
    /// Slope across the arbor (along ways), mm/m.
    pub cross_slope_mm_per_m: f64,
    /// Slope along the arbor, mm/m.
    pub axial_slope_mm_per_m: f64,
    /// Speed of air along one half of the wheel, m/s.
    pub draught_m_s: f64,
    /// Creep of the rotor that the reader is sure to see, degrees.
    pub visible_creep_deg: f64,
    /// How long the reader waits for it, s.
    pub patience_s: f64,
}

/// What it costs to improve a cause.
#[derive(Clone, Debug, PartialEq)]
pub struct Remedy {
    /// Which cause.
    pub cause: Cause,
    /// Rank of the cost: 1 minutes with what is there, 3 an afternoon, 5 a new part.
    pub cost: u32,
    /// What to do.
    pub words: String,
}

/// Cost and words for each cause, for a shop that has said nothing else. Common practice, no source.
pub fn usual_remedy(cause: Cause) -> Remedy {
    let (cost, words) = match cause {
        Cause::FilmDrift => (3, "qualify the stand, so that its drift is known and taken off; or bring the ports straight under the arbor"),
        Cause::CrossSlope => (1, "level the stand across the arbor"),
        Cause::EndStop => (1, "level along the arbor, and let it touch with a small hard point on its axis"),
        Cause::RollingFriction => (5, "finer and harder ways and arbor, or bear it on air"),
        Cause::WayFlatness => (4, "lap the ways flatter, or use their best stretch only"),
        Cause::BearingFriction => (3, "larger discs, smaller or cleaner bearings"),
        Cause::DiscUnbalance => (3, "balance the discs, or turn them to other places and take the mean"),
        Cause::ArborRoundness => (4, "lap the arbor rounder where it is borne"),
        Cause::ArborRunout => (1, "look at the wheel in two places on the arbor, half a turn apart, and take the mean"),
        Cause::AdapterFit => (2, "clean the seat and take its play up the same way each time, or make a closer bush"),
        Cause::Draught => (1, "close the door and put a box round the stand"),
        Cause::Reading => (1, "wait longer, or put a pointer on the rim"),
    };
    Remedy { cause, cost, words: words.to_owned() }
}

/// Whether the floor is low enough for the allowance.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Enough {
    /// Even the worst case lies within the allowance.
    Surely,
    /// The root sum lies within, the worst case does not.
    Likely,
    /// The stand cannot show a rotor within this allowance.
    No,
}

/// One cause in the budget.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// Cause and size.
    pub contribution: Contribution,
    /// Its size at 95 %, systematic and random together by root sum, g·mm.
    pub size_g_mm: f64,
    /// Share of the floor's square, 0 to 1.
    pub share: f64,
    /// The floor if this cause were halved, g·mm.
    pub floor_if_halved_g_mm: f64,
    /// What to do about it, and what that costs.
    pub remedy: Remedy,
}

/// The floor of a stand for one rotor.
#[derive(Clone, Debug, PartialEq)]
pub struct Budget {
    /// Each cause, largest first.
    pub lines: Vec<Line>,
    /// Plain sum of the systematic parts, g·mm.
    pub systematic_sum_g_mm: f64,
    /// Root sum of the random parts at 95 %, g·mm.
    pub random_root_sum_g_mm: f64,
    /// The floor: root sum of all, g·mm.
    pub floor_g_mm: f64,
    /// Plain sum of all at 95 %, g·mm.
    pub worst_case_g_mm: f64,
    /// The floor when the steady torques are known (looks or qualification) and taken off, g·mm.
    pub floor_drift_known_g_mm: f64,
    /// Dead band of the support, g·mm.
    pub dead_band_g_mm: f64,
    /// Steady torque, g·mm, positive counter-clockwise.
    pub drift_g_mm: f64,
    /// Allowance, g·mm.
    pub allowance_g_mm: f64,
    /// Allowance over floor.
    pub times: f64,
    /// The verdict.
    pub enough: Enough,
    /// Place in `lines` of what to improve first; `None` when nothing is left to gain.
    pub improve: Option<usize>,
}

/// Add up the floor of this stand for this rotor.
///
/// `allowance_g_mm` is the permissible residual unbalance that the rotor is to be held to. `remedies` replace the usual ones, cause
/// by cause.
///
/// What to improve first: of the causes whose halving alone brings the floor within the allowance, the cheapest; when none does, or the
/// floor is within already, the one with the most gained for its cost.
///
/// # Errors
/// A [`Fault`] for values out of range, in the names of the inputs.
pub fn floor(
    support: &Support,
    rotor: &RotorOnArbor,
    setting: &Setting,
    allowance_g_mm: f64,
    remedies: &[Remedy],
) -> Result<Budget, Fault> {
    let allowance = allowance_g_mm.within("allowance_g_mm", 1e-6, 1e7, "g·mm", "permissible residual unbalance of the rotor")?;
    for (i, r) in remedies.iter().enumerate() {
        let why = "1: minutes with what is there, 3: an afternoon, 5: a new part";
        f64::from(r.cost).within(&format!("remedies[{i}].cost"), 1.0, 9.0, "", why)?;
        if remedies[..i].iter().any(|o| o.cause == r.cause) {
            return Err(Fault::new(format!("remedies[{i}].cause"), "a cause that stands twice", "each cause once", "keep one of the two"));
        }
    }
    let on = Carried {
        mass_kg: rotor.mass_kg,
        arbor: rotor.arbor,
        cross_slope_mm_per_m: setting.cross_slope_mm_per_m,
        axial_slope_mm_per_m: setting.axial_slope_mm_per_m,
    };
    let effects = support.effects(&on)?;
    let mut all = effects.contributions.clone();
    all.extend(seating(rotor)?);
    all.push(Contribution::within(Cause::Draught, draught_g_mm(rotor.wheel_diameter_mm, setting.draught_m_s)?));
    all.push(Contribution::within(Cause::Reading, least_visible_g_mm(rotor.inertia_kg_m2, &effects, setting)?));
    Ok(add_up(&all, &effects, allowance, remedies))
}

/// Run-out and play of the seat.
fn seating(rotor: &RotorOnArbor) -> Result<[Contribution; 2], Fault> {
    let why = "wheel and adapter, part of the whole rotor";
    let seated = rotor.seated_mass_kg.within("seated_mass_kg", 0.0, rotor.mass_kg, "kg", why)?;
    let runout = super::arbor::runout_as_unbalance_g_mm(seated, rotor.runout_um)?;
    let play = rotor.seat_play_um.within("seat_play_um", 0.0, 1000.0, "µm", "radial play between adapter and arbor")?;
    // Half a turn on the arbor changes the run-out's sign and not the wheel's own unbalance: the mean is free of it (IDX-01).
    let runout = if rotor.index_balanced { 0.0 } else { runout };
    Ok([Contribution::bias(Cause::ArborRunout, runout), Contribution::bias(Cause::AdapterFit, seated * play)])
}

/// Torque of air that moves along one half of the wheel, told as an unbalance, g·mm.
///
/// Even air on both halves gives nothing; this is one half alone, so a bound. Laminar skin friction in strips along the flow, each
/// with its own leading edge at the rim and both faces wetted: 1.328·ρ·v²·√(ν·L/v) a width, L = 2√(R² − h²), at the lever h;
/// ∫ over the half gives 1.328·ρ·√(ν·v³)·√(2R)·R²·2/5. Source of the friction: Blasius, in Schlichting, Boundary-Layer Theory; the
/// rest derived. Air at 20 °C and 1 atm: 1.204 kg/m³, 1.51e-5 m²/s.
///
/// # Errors
/// A [`Fault`] for a diameter outside 1 to 2000 mm or a speed outside 0 to 2 m/s.
pub fn draught_g_mm(wheel_diameter_mm: f64, speed_m_s: f64) -> Result<f64, Fault> {
    let d = wheel_diameter_mm.within("wheel_diameter_mm", 1.0, 2000.0, "mm", "diameter of the wheel now")? * 1e-3;
    let why = "air along one half of the wheel: 0.05 m/s in a still room, 0.3 m/s is felt on the skin";
    let v = speed_m_s.within("draught_m_s", 0.0, 2.0, "m/s", why)?;
    let (density, nu) = (1.204, 1.51e-5);
    let torque = 1.328 * density * (nu * v.powi(3)).sqrt() * d.sqrt() * (d / 2.0).powi(2) * 0.4;
    Ok(torque / STANDARD_GRAVITY * 1e6)
}

/// The smallest torque that turns the rotor by the visible creep within the time one waits, g·mm.
///
/// From rest with viscous drag c: φ(t) = (U/c)·(t − τ(1 − e^(−t/τ))), τ = J/c; without drag U·t²/2J (rigid body).
fn least_visible_g_mm(inertia_kg_m2: f64, effects: &Effects, setting: &Setting) -> Result<f64, Fault> {
    let inertia = inertia_kg_m2.within("inertia_kg_m2", 1e-9, 1e4, "kg·m²", "inertia about the arbor's axis: see the calculation rotor")?;
    let creep = setting.visible_creep_deg.within("visible_creep_deg", 1e-3, 45.0, "degrees", "turning that the reader is sure to see")?;
    let t = setting.patience_s.within("patience_s", 0.1, 1e5, "s", "how long the reader waits for the rotor to move")?;
    let j = inertia / STANDARD_GRAVITY * 1e6;
    let x = effects.viscous_drag_g_mm_s * t / j;
    // (x − 1 + e^−x)/x² tends to ½; its series where the difference would lose digits.
    let turned = if x < 1e-3 { 0.5 - x / 6.0 + x * x / 24.0 } else { (x + (-x).exp_m1()) / (x * x) };
    Ok(creep.to_radians() * j / (t * t * turned))
}

/// Size at 95 %.
fn size(c: &Contribution) -> f64 {
    c.systematic_g_mm.hypot(COVERAGE * c.random_sd_g_mm)
}

fn add_up(all: &[Contribution], effects: &Effects, allowance: f64, remedies: &[Remedy]) -> Budget {
    let square: f64 = all.iter().map(|c| size(c).powi(2)).sum();
    let floor = square.sqrt();
    let mut lines: Vec<Line> = all
        .iter()
        .map(|c| {
            let own = size(c).powi(2);
            Line {
                contribution: *c,
                size_g_mm: own.sqrt(),
                share: if square > 0.0 { own / square } else { 0.0 },
                // A halved size keeps a quarter of its square.
                floor_if_halved_g_mm: (square - 0.75 * own).max(0.0).sqrt(),
                remedy: remedies.iter().find(|r| r.cause == c.cause).cloned().unwrap_or_else(|| usual_remedy(c.cause)),
            }
        })
        .collect();
    lines.sort_by(|a, b| b.size_g_mm.total_cmp(&a.size_g_mm));
    let random_square: f64 = all.iter().map(|c| (COVERAGE * c.random_sd_g_mm).powi(2)).sum();
    let worst = all.iter().map(|c| c.systematic_g_mm + COVERAGE * c.random_sd_g_mm).sum();
    let steady = |c: &&Contribution| matches!(c.cause, Cause::FilmDrift | Cause::CrossSlope);
    let steady_square: f64 = all.iter().filter(steady).map(|c| c.systematic_g_mm.powi(2)).sum();
    let enough = if worst <= allowance {
        Enough::Surely
    } else if floor <= allowance {
        Enough::Likely
    } else {
        Enough::No
    };
    Budget {
        improve: improve(&lines, floor, allowance),
        lines,
        systematic_sum_g_mm: all.iter().map(|c| c.systematic_g_mm).sum(),
        random_root_sum_g_mm: random_square.sqrt(),
        floor_g_mm: floor,
        worst_case_g_mm: worst,
        floor_drift_known_g_mm: (square - steady_square).max(0.0).sqrt(),
        dead_band_g_mm: effects.dead_band_g_mm,
        drift_g_mm: effects.drift_g_mm,
        allowance_g_mm: allowance,
        // `least_visible_g_mm` is never zero, so the floor is not.
        times: allowance / floor,
        enough,
    }
}

fn improve(lines: &[Line], floor: f64, allowance: f64) -> Option<usize> {
    let gain_for_cost = |l: &Line| (floor - l.floor_if_halved_g_mm) / f64::from(l.remedy.cost);
    let best = |places: Vec<usize>| places.into_iter().max_by(|&a, &b| gain_for_cost(&lines[a]).total_cmp(&gain_for_cost(&lines[b])));
    let worth: Vec<usize> = (0..lines.len()).filter(|&i| lines[i].floor_if_halved_g_mm < floor).collect();
    if floor > allowance {
        let alone: Vec<usize> = worth.iter().copied().filter(|&i| lines[i].floor_if_halved_g_mm <= allowance).collect();
        if let Some(cheapest) = alone.iter().map(|&i| lines[i].remedy.cost).min() {
            return best(alone.into_iter().filter(|&i| lines[i].remedy.cost == cheapest).collect());
        }
    }
    best(worth)
}
