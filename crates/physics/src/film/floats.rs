//! All balances of an arbor on a saddle, from cold: which are stable, whether it lifts by itself, what it can carry.
//!
//! In: a [`Saddle`] and a [`Duty`]. Out: [`Floats`], or a fault that says whether pressure, port or load is to blame.
//!
//! The force rises from the rest gap to a maximum and then falls (film-physics §5), so up to two balances exist; only the one on the falling
//! branch is stable. The force is traced over the height on a coarse mesh, from the rest gap up in steps of equal ratio, with the side
//! force balanced at each height; crossings of the load are then polished on a finer mesh.

use super::air::Air;
use super::blame::no_float;
use super::float::{Duty, Float};
use super::geometry::{Pose, Saddle};
use super::mesh::Fineness;
use super::pressure::{Film, FilmState, Shape};
use crate::Fault;
use rayon::prelude::*;

/// One height of the force curve.
#[derive(Clone, Debug, PartialEq)]
pub struct CurvePoint {
    /// Film at the place where the arbor rests, less what it has at rest, plus the rest gap, m.
    pub gap_m: f64,
    /// Arbor's centre, m: right and up.
    pub x_m: f64,
    /// Up, m.
    pub y_m: f64,
    /// Force up, N.
    pub force_up_n: f64,
    /// Its slope along the curve, N/m.
    pub slope_n_m: f64,
    /// Mass flow, kg/s.
    pub flow_kg_s: f64,
    /// Whether the side force is balanced here and the arbor does not slide off to a side; only such points can be floats.
    pub held_sideways: bool,
}

/// How much a coarser mesh ([`Fineness::COARSE`] instead of [`Fineness::NORMAL`]) changes the result at the same pose: an upper bound of what a finer one would.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Refinement {
    /// Change of the force up, as a share of it.
    pub load_share: f64,
    /// Change of the flow, as a share of it.
    pub flow_share: f64,
    /// Change of the drift torque, N·m, at the same pose.
    pub torque_n_m: f64,
}

/// All that is known of a saddle under its duty.
#[derive(Clone, Debug, PartialEq)]
pub struct Floats {
    /// Balances from low to high.
    pub balances: Vec<Float>,
    /// The film with the arbor at rest on its rest gap.
    pub rest: FilmState,
    /// Whether the arbor lifts off by itself at this supply.
    pub lifts_by_itself: bool,
    /// Smallest supply whose force at the rest gap carries the load, gauge, Pa; `None` above 16 bar.
    pub lift_off_pa: Option<f64>,
    /// Largest load that floats at this supply, N, and where it would be.
    pub largest_load_n: f64,
    /// Height of the largest load, m.
    pub largest_load_at: Pose,
    /// Force over height, on the coarse mesh.
    pub curve: Vec<CurvePoint>,
    /// What the mesh leaves uncertain at the lowest stable float.
    pub refinement: Refinement,
}

impl Floats {
    /// The lowest stable float.
    pub fn lowest(&self) -> &Float {
        // One exists, or the search would have given a fault.
        self.stable().next().unwrap_or(&self.balances[0])
    }

    /// Stable floats from low to high.
    pub fn stable(&self) -> impl Iterator<Item = &Float> {
        self.balances.iter().filter(|b| b.stable)
    }
}

/// Mesh for the trace.
pub(crate) const TRACE: Fineness = Fineness::COARSE;
/// Ratio of successive gaps of the trace.
const STEP: f64 = 1.5;
/// Side force that may be left on the traced curve, as a share of the load.
const HELD: f64 = 1e-3;
/// Highest film as a share of the bore's radius: above it is no thin film any more.
const HIGHEST: f64 = 0.05;

/// The traced curve with its shapes, which serve every supply.
pub(crate) struct Trace<'f> {
    pub(crate) points: Vec<CurvePoint>,
    pub(crate) shapes: Vec<Shape<'f>>,
    pub(crate) rest: Pose,
}

impl Trace<'_> {
    /// Largest force over the traced heights at another supply, N.
    pub(crate) fn largest_at(&self, air: &Air, supply_pa: f64) -> f64 {
        self.held().map(|s| s.at(air, supply_pa).forces[1]).fold(0.0, f64::max)
    }

    /// The same without a restriction in the feed.
    pub(crate) fn largest_unrestricted(&self, air: &Air, supply_pa: f64) -> f64 {
        self.held().map(|s| s.unrestricted(air, supply_pa).forces[1]).fold(0.0, f64::max)
    }

    fn held(&self) -> impl Iterator<Item = &Shape<'_>> {
        self.shapes.iter().zip(&self.points).filter(|(_, p)| p.held_sideways).map(|(s, _)| s)
    }
}

/// Force over height from the rest gap up, side force balanced, until it has fallen well below the load.
pub(crate) fn trace<'f>(film: &'f Film, duty: &Duty) -> Result<Trace<'f>, Fault> {
    let rest = rest_pose(film.saddle(), duty)?;
    let gap0 = film.saddle().rest_gap_m;
    let highest = HIGHEST * film.saddle().bore_radius_m();
    let mut whole = Trace { points: Vec::new(), shapes: Vec::new(), rest };
    let (mut gap, mut x) = (gap0, rest.x_m);
    let mut below = 0;
    while gap < highest && below < 2 {
        let y = rest.y_m + gap - gap0;
        let at_rest = gap == gap0;
        let (shape, state) = balanced_at(film, duty, x, y, !at_rest)?;
        // Contact can hold a side force at rest; that is no point of the floating curve, which then starts just above.
        if at_rest && (state.forces[0] + duty.right_n).abs() > HELD * duty.load_n {
            gap *= 1.05;
            continue;
        }
        x = shape.pose().x_m;
        let s = &state.slopes;
        let slope_n_m = if s[0][0] == 0.0 { s[1][1] } else { s[1][1] - s[1][0] * s[0][1] / s[0][0] };
        // Past the maximum and well below the load: two points more for the picture.
        if slope_n_m < 0.0 && state.forces[1] < 0.6 * duty.load_n {
            below += 1;
        }
        let held_sideways = s[0][0] < 0.0 && (state.forces[0] + duty.right_n).abs() <= 2.0 * HELD * duty.load_n;
        whole.points.push(CurvePoint {
            gap_m: gap,
            x_m: x,
            y_m: y,
            force_up_n: state.forces[1],
            slope_n_m,
            flow_kg_s: state.flow_kg_s,
            held_sideways,
        });
        whole.shapes.push(shape);
        // Along the curve the side force stays balanced: its slopes tell where x goes, if the film leaves room for it.
        if held_sideways {
            let most = 0.3 * state.least_film_m;
            x += (-s[0][1] / s[0][0] * gap * (STEP - 1.0)).clamp(-most, most);
        }
        gap *= STEP;
    }
    Ok(whole)
}

/// The rest pose with the duty's tilt: the bore's own, raised until the tilted arbor clears it by the rest gap.
fn rest_pose(saddle: &Saddle, duty: &Duty) -> Result<Pose, Fault> {
    let rest = saddle.rest_pose()?;
    let mut pose = duty.pose(rest.x_m, rest.y_m);
    let lack = |pose: Pose| saddle.rest_gap_m - saddle.least_film_m(pose);
    if lack(pose) <= 1e-3 * saddle.rest_gap_m {
        return Ok(pose);
    }
    // A tilted arbor rests on an end: find the height by bisection; at the sides no height helps.
    let tilt = duty.tilt_x_rad.hypot(duty.tilt_y_rad) * saddle.length_m;
    let (mut low, mut high) = (pose.y_m, pose.y_m + 4.0 * tilt + 4.0 * saddle.clearance_m);
    pose.y_m = high;
    if lack(pose) > 0.5 * saddle.rest_gap_m {
        return Err(Fault::new(
            "tilt_x_urad",
            duty.tilt_x_rad * 1e6,
            "a tilt that leaves some film at the sides",
            "the arbor's axis stands so far askew to the bore that it touches the sides: align the saddles",
        ));
    }
    for _ in 0..50 {
        let middle = 0.5 * (low + high);
        pose.y_m = middle;
        if lack(pose) > 1e-3 * saddle.rest_gap_m { low = middle } else { high = middle }
    }
    pose.y_m = high;
    Ok(pose)
}

/// The film at a height with the side force balanced by Newton in x; held at x if `free` is false.
fn balanced_at<'f>(film: &'f Film, duty: &Duty, x: f64, y: f64, free: bool) -> Result<(Shape<'f>, FilmState), Fault> {
    let mut x = x;
    let mut last = None;
    for _ in 0..8 {
        let shape = film.shape_with::<2>(duty.pose(x, y))?;
        let state = shape.at(&duty.air, duty.supply_pa);
        let lack = -duty.right_n - state.forces[0];
        let slope = state.slopes[0][0];
        let most = 0.3 * state.least_film_m;
        last = Some((shape, state));
        // HELD of the load is enough to follow the curve, which is flat in it; where the side is unstable or flat there is nothing to follow.
        if !free || lack.abs() <= HELD * duty.load_n || slope >= 0.0 {
            break;
        }
        x += (lack / slope).clamp(-most, most);
    }
    last.ok_or_else(|| Fault::new("y_um", y * 1e6, "a height with film everywhere", "no film at this height"))
}

impl Saddle {
    /// All balances under a duty, from cold, with everything that belongs to them.
    ///
    /// # Errors
    /// A [`Fault`] for a dimension or duty out of range; for a load that nothing carries it names supply, port or load, whichever needs
    /// the least change, and says which change would do.
    pub fn floats(&self, duty: &Duty) -> Result<Floats, Fault> {
        duty.check()?;
        let coarse = Film::new(self, TRACE)?;
        let fine = Film::new(self, Fineness::NORMAL)?;
        let close = Film::new(self, Fineness::FINE)?;
        floats(&coarse, &fine, &close, duty)
    }
}

/// All floats of many saddles under one duty, each from cold, spread over the cores; in the order given, whatever the number of cores.
pub fn floats_of_samples(samples: &[Saddle], duty: &Duty) -> Vec<Result<Floats, Fault>> {
    samples.par_iter().map(|s| s.floats(duty)).collect()
}

/// `coarse` traces, `fine` polishes, `close` is for the arbor at rest.
fn floats(coarse: &Film, fine: &Film, close: &Film, duty: &Duty) -> Result<Floats, Fault> {
    let curve = trace(coarse, duty)?;
    let (largest_load_n, largest_load_at) = largest(fine, duty, &curve)?;
    let mut balances: Vec<Float> = Vec::new();
    for start in crossings(&curve.points, duty.load_n) {
        // A crossing that exists on the coarse mesh only, near the maximum, is none.
        let Ok(found) = fine.float_near(duty, duty.pose(start[0], start[1])) else { continue };
        let apart = |b: &Float| (b.state.pose.y_m - found.state.pose.y_m).abs() > 1e-3 * fine.saddle().clearance_m;
        if balances.iter().all(apart) {
            balances.push(found);
        }
    }
    balances.sort_by(|a, b| a.state.pose.y_m.total_cmp(&b.state.pose.y_m));
    if !balances.iter().any(|b| b.stable) {
        return Err(no_float(&curve, fine.saddle(), duty, largest_load_n, !balances.is_empty()));
    }
    let rest_shape = close.shape_with::<0>(curve.rest)?;
    let rest = rest_shape.at(&duty.air, duty.supply_pa);
    let lowest = balances.iter().find(|b| b.stable).unwrap_or(&balances[0]);
    let refinement = coarse.refinement(&lowest.state, &duty.air)?;
    let lift_off_pa = lift_off(&rest_shape, duty);
    Ok(Floats {
        lifts_by_itself: rest.forces[1] >= duty.load_n,
        lift_off_pa,
        rest,
        largest_load_n,
        largest_load_at,
        curve: curve.points,
        refinement,
        balances,
    })
}

/// Smallest supply whose force at the rest gap carries the load.
fn lift_off(rest: &Shape<'_>, duty: &Duty) -> Option<f64> {
    let lack = |supply: f64| rest.at(&duty.air, supply).forces[1] - duty.load_n;
    let (low, high) = (1.0, super::pressure::SUPPLY_BAR.1 * 1e5);
    if lack(high) < 0.0 {
        return None;
    }
    crate::numerics::bisect_within(low, high, 10.0, lack)
}

/// The largest load that floats, and its pose: the top of the curve, refined by its slope, valued on the fine mesh.
fn largest(fine: &Film, duty: &Duty, curve: &Trace<'_>) -> Result<(f64, Pose), Fault> {
    let p = &curve.points;
    let top = (0..p.len()).filter(|&i| p[i].held_sideways).max_by(|&a, &b| p[a].force_up_n.total_cmp(&p[b].force_up_n)).unwrap_or(0);
    // The slope changes sign between the top and a neighbour: straight line in the logarithm of the gap, as the steps are.
    let other = if p[top].slope_n_m > 0.0 { (top + 1).min(p.len() - 1) } else { top.saturating_sub(1) };
    let (a, b) = (&p[top], &p[other]);
    let (sa, sb) = (a.slope_n_m * a.gap_m, b.slope_n_m * b.gap_m);
    let share = if sa * sb < 0.0 { sa / (sa - sb) } else { 0.0 };
    let gap = a.gap_m * (b.gap_m / a.gap_m).powf(share);
    let pose = duty.pose(a.x_m + share * (b.x_m - a.x_m), curve.rest.y_m + gap - p[0].gap_m);
    let state = fine.shape_with::<2>(pose)?.at(&duty.air, duty.supply_pa);
    Ok((state.forces[1], pose))
}

/// Starts for the balances: where the cubic through values and slopes crosses the load, also twice between two points.
fn crossings(points: &[CurvePoint], load: f64) -> Vec<[f64; 2]> {
    const PARTS: i32 = 8;
    let mut starts = Vec::new();
    for pair in points.windows(2) {
        let (a, b) = (&pair[0], &pair[1]);
        let span = b.y_m - a.y_m;
        let value = |t: f64| {
            let (u, v) = (1.0 - t, t);
            u * u * (1.0 + 2.0 * v) * a.force_up_n
                + v * v * (1.0 + 2.0 * u) * b.force_up_n
                + span * (u * u * v * a.slope_n_m - v * v * u * b.slope_n_m)
        };
        for i in 0..PARTS {
            let (t0, t1) = (f64::from(i) / f64::from(PARTS), f64::from(i + 1) / f64::from(PARTS));
            // None without a change of sign.
            if let Some(t) = crate::numerics::bisect_within(t0, t1, 1e-3, |t| value(t) - load) {
                starts.push([a.x_m + t * (b.x_m - a.x_m), a.y_m + t * span]);
            }
        }
    }
    starts
}

impl Film {
    /// How far this mesh departs from a state found on another, at the same pose.
    ///
    /// # Errors
    /// A [`Fault`] if the pose does not belong to this saddle.
    pub fn refinement(&self, state: &FilmState, air: &Air) -> Result<Refinement, Fault> {
        let own = self.shape_with::<0>(state.pose)?.at(air, state.supply_pa);
        // Of the larger of both: a film so open that the supply raises no pressure in it has neither force nor share.
        let share = |a: f64, b: f64| if a == b { 0.0 } else { (a - b).abs() / a.abs().max(b.abs()) };
        Ok(Refinement {
            load_share: share(own.forces[1], state.forces[1]),
            flow_share: share(own.flow_kg_s, state.flow_kg_s),
            torque_n_m: (own.torque_n_m - state.torque_n_m).abs(),
        })
    }
}
