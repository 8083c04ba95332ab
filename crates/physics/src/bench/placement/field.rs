//! The groove as the search sees it: degrees, g·mm, tables; what may stand where, in which order, at what travel.

use super::{ROUNDING, SAME_DEG};

/// Most weights that one groove takes.
pub(super) const MOST_WEIGHTS: usize = 12;

/// Everything about one task that does not change during the search. Angles in degrees, moments in g·mm.
pub(super) struct Field {
    pub(super) moment: Vec<f64>,
    pub(super) arc: Vec<f64>,
    /// Spacing of the graduations, degrees.
    pub(super) step: f64,
    /// Unit vector of each graduation.
    pub(super) unit: Vec<[f64; 2]>,
    /// For each weight and graduation: clear of the forbidden arcs.
    pub(super) allowed: Vec<Vec<bool>>,
    /// Where the weights are now.
    pub(super) present: Option<Vec<f64>>,
    /// Whether each present place is clear of the forbidden arcs.
    pub(super) present_allowed: Vec<bool>,
    pub(super) fixed: Vec<bool>,
    /// Vector that the weights shall add up to: −u.
    pub(super) wanted: [f64; 2],
    /// The weights in the cyclic order that they must keep, from the first weight on; empty if they may pass.
    pub(super) order: Vec<usize>,
    /// Present places of `order`, lifted so that they rise within one turn.
    pub(super) lifted_now: Vec<f64>,
}

/// Some or all weights at their places; NaN is not placed yet.
pub(super) type Places = [f64; MOST_WEIGHTS];

/// Distance of two angles the short way round, both in [0, 360).
pub(super) fn apart(a: f64, b: f64) -> f64 {
    let d = (a - b).abs();
    d.min(360.0 - d)
}

/// The way from b to a, in (−180, 180].
pub(super) fn short_way(a: f64, b: f64) -> f64 {
    let d = (a - b).rem_euclid(360.0);
    if d > 180.0 + SAME_DEG { d - 360.0 } else { d }
}

/// How far a lies counter-clockwise from b, in [0, 360); a hair short of a full turn is none.
fn ahead(a: f64, b: f64) -> f64 {
    let d = (a - b).rem_euclid(360.0);
    if d > 360.0 - SAME_DEG { 0.0 } else { d }
}

impl Field {
    /// Fill in the cyclic order from the present places; weights that stand at one place keep the order of their numbers.
    pub(super) fn keep_order(&mut self) {
        let Some(present) = &self.present else { return };
        let mut order: Vec<(f64, usize)> = present.iter().enumerate().map(|(i, &p)| (ahead(p, present[0]), i)).collect();
        order.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        self.lifted_now = order.iter().map(|o| present[0] + o.0).collect();
        self.order = order.into_iter().map(|o| o.1).collect();
    }

    pub(super) fn count(&self) -> usize {
        self.moment.len()
    }

    /// Unit vector at any angle: from the table on a graduation, so that equal placements have equal sums.
    pub(super) fn direction(&self, deg: f64) -> [f64; 2] {
        let g = (deg / self.step).round();
        if (g * self.step - deg).abs() < SAME_DEG {
            return self.unit[g as usize % self.unit.len()];
        }
        let (s, c) = deg.to_radians().sin_cos();
        [c, s]
    }

    /// What the weights not yet placed must add up to.
    pub(super) fn rest(&self, at: &Places) -> [f64; 2] {
        let mut rest = self.wanted;
        for (i, &a) in at.iter().enumerate().take(self.count()) {
            if !a.is_nan() {
                let e = self.direction(a);
                rest[0] -= self.moment[i] * e[0];
                rest[1] -= self.moment[i] * e[1];
            }
        }
        rest
    }

    /// Whether weight `i` at `a` clears all weights already placed. Two weights that can't be moved stand as they stand.
    pub(super) fn clear(&self, i: usize, a: f64, at: &Places) -> bool {
        (0..self.count()).all(|j| {
            j == i || at[j].is_nan() || (self.fixed[i] && self.fixed[j]) || apart(a, at[j]) >= 0.5 * (self.arc[i] + self.arc[j]) - SAME_DEG
        })
    }

    /// Whether the weights placed so far stand in their cyclic order.
    pub(super) fn in_order(&self, at: &Places) -> bool {
        let mut first = f64::NAN;
        let (mut last, mut closed) = (0.0, false);
        for &i in &self.order {
            if at[i].is_nan() {
                continue;
            }
            if first.is_nan() {
                first = at[i];
                continue;
            }
            let a = ahead(at[i], first);
            if a < SAME_DEG {
                // At the first weight's own place: before any other has left it, or a full turn on, behind them all.
                closed |= last > 0.0;
            } else if closed || a < last - SAME_DEG {
                return false;
            } else {
                last = a;
            }
        }
        true
    }

    /// Way of weight `i` to `a`, the short way: never more than it travels in truth.
    pub(super) fn way_at_least(&self, i: usize, a: f64) -> f64 {
        self.present.as_ref().map_or(0.0, |p| apart(a, p[i]))
    }

    /// Signed way of each weight from its present place, and their sum without sign. All weights must be placed.
    ///
    /// Weights that keep their order slide: the new places, lifted to rise from the first weight within one turn, differ
    /// from the present ones by whole turns common to all; the least sum counts.
    pub(super) fn ways(&self, at: &Places) -> (Places, f64) {
        let n = self.count();
        let mut ways = [0.0; MOST_WEIGHTS];
        let Some(present) = &self.present else { return (ways, 0.0) };
        if self.order.is_empty() {
            let mut sum = 0.0;
            for i in 0..n {
                ways[i] = short_way(at[i], present[i]);
                sum += ways[i].abs();
            }
            return (ways, sum);
        }
        let first = at[self.order[0]];
        let mut lifted = [0.0; MOST_WEIGHTS];
        let mut left_it = false;
        for (slot, &i) in self.order.iter().enumerate() {
            let a = ahead(at[i], first);
            left_it |= a >= SAME_DEG;
            lifted[slot] = first + if left_it && a < SAME_DEG { 360.0 } else { a };
        }
        let mut least = self.slide(&lifted, &mut ways);
        if !left_it {
            // All at one place (no arcs): any of them may be the one that is a turn ahead.
            for slot in (1..n).rev() {
                lifted[slot] = first + 360.0;
                let mut other = [0.0; MOST_WEIGHTS];
                let sum = self.slide(&lifted, &mut other);
                if sum < least - SAME_DEG {
                    (least, ways) = (sum, other);
                }
            }
        }
        (ways, least)
    }

    /// Least sum of |lifted new + 360k − lifted present| over whole k; the sum is convex in k, with its kinks where one
    /// weight does not move, so the whole numbers next to the kinks hold the least.
    fn slide(&self, lifted: &Places, ways: &mut Places) -> f64 {
        let n = self.count();
        let mut by = [0.0; MOST_WEIGHTS];
        for slot in 0..n {
            by[slot] = lifted[slot] - self.lifted_now[slot];
        }
        let mut least = (f64::INFINITY, 0.0);
        for b in &by[..n] {
            let kink = (-b / 360.0).floor();
            for k in [kink, kink + 1.0] {
                let sum: f64 = by[..n].iter().map(|b| (b + 360.0 * k).abs()).sum();
                if sum < least.0 - SAME_DEG {
                    least = (sum, k);
                }
            }
        }
        for slot in 0..n {
            ways[self.order[slot]] = by[slot] + 360.0 * least.1;
        }
        least.0
    }

    /// How many weights do not stand where they are now.
    pub(super) fn moved(&self, at: &Places) -> usize {
        self.present.as_ref().map_or(0, |p| (0..self.count()).filter(|&i| apart(at[i], p[i]) > SAME_DEG).count())
    }

    /// No placement of the `free` weights leaves less than this of `rest`: distance to the disc, or the ring, that they reach.
    pub(super) fn least_possible(&self, free: &[usize], rest: [f64; 2]) -> f64 {
        let size = rest[0].hypot(rest[1]);
        let sum: f64 = free.iter().map(|&i| self.moment[i]).sum();
        let largest = free.iter().map(|&i| self.moment[i]).fold(0.0, f64::max);
        (size - sum).max(2.0 * largest - sum - size).max(0.0)
    }
}

/// A placement found, with what it is judged by.
#[derive(Clone, Copy)]
pub(super) struct Found {
    pub(super) at: Places,
    pub(super) residual: f64,
    pub(super) travel: f64,
    pub(super) moved: usize,
}

/// What a search is after.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Aim {
    /// The least residual.
    LeastResidual,
    /// Among all within the radius: least travel, then fewest moved, then residual.
    LeastTravel,
    /// Among all within the radius: fewest moved, then least travel, then residual.
    FewestMoved,
}

/// Keeps the best placement offered so far, and how far others are still worth looking at.
pub(super) struct Keeper<'a> {
    pub(super) field: &'a Field,
    pub(super) aim: Aim,
    /// Residuals above this are of no interest.
    pub(super) radius: f64,
    pub(super) best: Option<Found>,
    /// With [`Aim::LeastResidual`]: residuals within this of the least are kept in `near`.
    tie: Option<f64>,
    near: Vec<(Places, f64)>,
}

/// Most placements that are kept beside the best; with more, they are looked for again when the least is known.
const MOST_NEAR: usize = 20_000;

impl<'a> Keeper<'a> {
    pub(super) fn new(field: &'a Field, aim: Aim, radius: f64) -> Self {
        Self { field, aim, radius, best: None, tie: None, near: Vec::new() }
    }

    /// A keeper of the least residual and of all within `tie` of it. The radius is counted from the least: it grows by `tie`.
    pub(super) fn least_and_near(field: &'a Field, radius: f64, tie: f64) -> Self {
        Self { radius: radius + tie, tie: Some(tie), ..Self::new(field, Aim::LeastResidual, radius) }
    }

    /// All placements within `tie` of the least, if they were kept.
    pub(super) fn into_near(self) -> Option<Vec<(Places, f64)>> {
        self.tie.map(|_| self.near)
    }

    /// Travel beyond which a placement can't win.
    pub(super) fn travel_limit(&self) -> f64 {
        match (&self.best, self.aim) {
            (Some(best), Aim::LeastTravel) => best.travel + SAME_DEG,
            _ => f64::INFINITY,
        }
    }

    /// A placement whose weights clear one another; order and travel are judged here.
    pub(super) fn offer(&mut self, at: &Places, residual: f64) {
        if residual > self.radius + ROUNDING || !self.field.in_order(at) {
            return;
        }
        if self.aim == Aim::LeastResidual {
            if self.best.is_none_or(|b| residual < b.residual) {
                self.radius = residual + self.tie.unwrap_or(0.0);
                self.best = Some(Found { at: *at, residual, travel: 0.0, moved: 0 });
            }
            if self.tie.is_some() {
                self.keep_near(at, residual);
            }
            return;
        }
        let found = Found { at: *at, residual, travel: self.field.ways(at).1, moved: self.field.moved(at) };
        if self.best.is_none_or(|b| better(&found, &b, self.aim)) {
            self.best = Some(found);
        }
    }
}

impl Keeper<'_> {
    fn keep_near(&mut self, at: &Places, residual: f64) {
        self.near.push((*at, residual));
        if self.near.len() > MOST_NEAR {
            let radius = self.radius + ROUNDING;
            self.near.retain(|n| n.1 <= radius);
            if self.near.len() > MOST_NEAR / 2 {
                self.radius -= self.tie.take().unwrap_or(0.0);
                self.near = Vec::new();
            }
        }
    }
}

fn better(a: &Found, b: &Found, aim: Aim) -> bool {
    let travel = if (a.travel - b.travel).abs() < SAME_DEG { std::cmp::Ordering::Equal } else { a.travel.total_cmp(&b.travel) };
    let moved = a.moved.cmp(&b.moved);
    let first = match aim {
        Aim::LeastResidual => std::cmp::Ordering::Equal,
        Aim::LeastTravel => travel.then(moved),
        Aim::FewestMoved => moved.then(travel),
    };
    first
        .then(if (a.residual - b.residual).abs() < ROUNDING { std::cmp::Ordering::Equal } else { a.residual.total_cmp(&b.residual) })
        .is_lt()
}
