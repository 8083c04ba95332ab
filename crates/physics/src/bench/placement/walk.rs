//! Walk over the places of all free weights but two; the last two are found by the closed form and the graduations
//! next to it. Complete: every placement within the keeper's radius is offered.

use super::ROUNDING;
use super::field::{Field, Keeper, Places};
use super::reach::Reach;
use std::f64::consts::{PI, TAU};

/// Windows are widened by this share of a graduation against rounding; what lies in them is judged exactly.
const SLACK: f64 = 1e-4;

pub(super) struct Walk<'a, 'b> {
    field: &'a Field,
    keeper: &'b mut Keeper<'a>,
    free: &'b [usize],
    at: Places,
    /// For each level: what the weights from there on can add up to, their arcs counted; empty: not worked out.
    reach: Vec<Reach>,
    /// Places that may still be tried.
    budget: usize,
}

/// Offer every placement of the `free` weights within the radius, the others standing `at` their places.
pub(super) fn walk<'a>(field: &'a Field, at: &Places, free: &[usize], keeper: &mut Keeper<'a>) {
    let way = (0..field.count()).filter(|&i| !at[i].is_nan()).map(|i| field.way_at_least(i, at[i])).sum();
    Walk { field, keeper, free, at: *at, reach: Vec::new(), budget: usize::MAX }.step(0, field.rest(at), way);
}

/// The same for an unbalance that the weights can hardly reach: they must bunch, and arcs tell how far they can. False if the budget
/// of places was used up before the end: then something better may be left.
pub(super) fn walk_bunched<'a>(field: &'a Field, at: &Places, free: &[usize], keeper: &mut Keeper<'a>, budget: usize) -> bool {
    let reach = (0..=free.len()).map(|level| Reach::of(field, &free[level..])).collect();
    let mut walk = Walk { field, keeper, free, at: *at, reach, budget };
    walk.step(0, field.rest(at), 0.0);
    walk.budget > 0
}

impl Walk<'_, '_> {
    fn step(&mut self, level: usize, rest: [f64; 2], way: f64) {
        match self.free.len() - level {
            0 => {
                let at = self.at;
                self.keeper.offer(&at, rest[0].hypot(rest[1]));
            }
            1 => self.last(self.free[level], rest, way),
            2 => self.pair(level, rest, way),
            _ => self.each(level, rest, way),
        }
    }

    /// All graduations of this weight, from its present place outwards, then the rest of the weights.
    fn each(&mut self, level: usize, rest: [f64; 2], way: f64) {
        let i = self.free[level];
        let n = self.field.unit.len();
        let start = self.field.present.as_ref().map_or(0, |p| (p[i] / self.field.step).round() as usize);
        for s in 0..n {
            let g = if s % 2 == 1 { start + s.div_ceil(2) } else { start + n - s / 2 } % n;
            if self.budget == 0 {
                return;
            }
            self.budget -= 1;
            let Some((rest, way)) = self.try_place(i, g, rest, way) else { continue };
            if self.in_reach(level + 1, rest)
                && self.field.least_possible(&self.free[level + 1..], rest) <= self.keeper.radius + ROUNDING
                && self.field.in_order(&self.at)
            {
                self.step(level + 1, rest, way);
            }
            self.at[i] = f64::NAN;
        }
    }

    /// Whether the weights from this level on may come within the radius, as far as their reach was worked out.
    fn in_reach(&self, level: usize, rest: [f64; 2]) -> bool {
        let Some(reach) = self.reach.get(level) else { return true };
        let wanted = rest[0].hypot(rest[1]) - self.keeper.radius - ROUNDING;
        wanted <= reach.most && wanted <= reach.beside(self.field, &self.at, rest)
    }

    /// Put weight `i` on graduation `g` if it may stand there and does not travel too far; what is left then.
    fn try_place(&mut self, i: usize, g: usize, rest: [f64; 2], way: f64) -> Option<([f64; 2], f64)> {
        if !self.field.allowed[i][g] {
            return None;
        }
        let a = g as f64 * self.field.step;
        let way = way + self.field.way_at_least(i, a);
        if way > self.keeper.travel_limit() || !self.field.clear(i, a, &self.at) {
            return None;
        }
        self.at[i] = a;
        let (q, e) = (self.field.moment[i], self.field.unit[g]);
        Some(([rest[0] - q * e[0], rest[1] - q * e[1]], way))
    }

    /// Two weights p and q for the vector V: p may stand where |V − p| lies within the radius of q, so
    /// cos α = (V² + p² − ρ²)/(2Vp) for ρ from q − R to q + R, α counted from V to either side.
    fn pair(&mut self, level: usize, rest: [f64; 2], way: f64) {
        let (i, j) = (self.free[level], self.free[level + 1]);
        let (p, q) = (self.field.moment[i], self.field.moment[j]);
        let v = rest[0].hypot(rest[1]);
        let radius = self.keeper.radius + ROUNDING;
        if v > p + q + radius || (p - q).abs() > v + radius {
            return;
        }
        if v < 1e-9 * p {
            // No direction is told: every place of the first is as good.
            return self.window(level, rest, way, 0.0, TAU);
        }
        let cosine = |rho: f64| ((v * v + p * p - rho * rho) / (2.0 * v * p)).clamp(-1.0, 1.0);
        let near = cosine((q - radius).max(0.0)).acos();
        let far = cosine(q + radius).acos();
        let middle = rest[1].atan2(rest[0]);
        self.window(level, rest, way, middle + near, middle + far);
        self.window(level, rest, way, middle - far, middle - near);
    }

    fn window(&mut self, level: usize, rest: [f64; 2], way: f64, from: f64, to: f64) {
        let i = self.free[level];
        for g in graduations(from, to, self.field.unit.len()) {
            if let Some((rest, way)) = self.try_place(i, g, rest, way) {
                self.last(self.free[level + 1], rest, way);
                self.at[i] = f64::NAN;
            }
        }
    }

    /// The last weight q for the vector W: |W − q| ≤ R holds for sin²(β/2) ≤ (R² − (W − q)²)/(4Wq).
    fn last(&mut self, j: usize, rest: [f64; 2], way: f64) {
        let q = self.field.moment[j];
        let w = rest[0].hypot(rest[1]);
        let radius = self.keeper.radius + ROUNDING;
        if (w - q).abs() > radius {
            return;
        }
        // β ≤ π·sin(β/2) up to 180°: a little wide, without an inverse sine.
        let half = (PI * ((radius * radius - (w - q).powi(2)) / (4.0 * w * q)).sqrt()).min(PI);
        let half = if half.is_nan() { PI } else { half };
        let middle = rest[1].atan2(rest[0]);
        for g in graduations(middle - half, middle + half, self.field.unit.len()) {
            if let Some((left, _)) = self.try_place(j, g, rest, way) {
                let at = self.at;
                self.keeper.offer(&at, left[0].hypot(left[1]));
                self.at[j] = f64::NAN;
            }
        }
    }
}

/// The graduations (of n on the circle) from one angle to another, radians; each once at most.
fn graduations(from: f64, to: f64, n: usize) -> impl Iterator<Item = usize> {
    let step = TAU / n as f64;
    let first = (from / step - SLACK).ceil() as i64;
    let last = (to / step + SLACK).floor() as i64;
    let last = last.min(first + n as i64 - 1);
    (first..=last).map(move |g| g.rem_euclid(n as i64) as usize)
}
