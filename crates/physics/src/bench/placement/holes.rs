//! Set screws from a stock into tapped holes: the task, its checks, its search.
//!
//! Two halves again: either two halves of the holes, or, with many holes, the first few screws and the other few.

mod change;
mod climb;

pub use change::change_in_holes;

use super::groove::Answer;
use super::plane::Plane;
use super::{Proof, ROUNDING};
use crate::quantity::{Length, Mass, RotorAngle, Unbalance, UnbalanceVector};
use crate::{Fault, Ranged};

const MOST_HOLES: usize = 48;
const MOST_KINDS: usize = 12;
/// Most fillings of one half that are kept.
const MOST_FILLINGS: usize = 1_200_000;

/// A tapped hole.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hole {
    /// Radius of the mass centre of a screw in it (1 to 1000 mm).
    pub radius: Length,
    /// Where it is.
    pub at: RotorAngle,
}

/// One kind of set screw.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Screw {
    /// Mass of one (1e-4 to 1e4 g).
    pub mass: Mass,
    /// How many there are, those now in holes included (1 to 48).
    pub count: usize,
}

/// Which screws into which holes?
#[derive(Clone, Debug, PartialEq)]
pub struct HoleTask {
    /// What is to be answered: the unbalance of the rotor without any of these screws (up to 1e8 g·mm).
    pub unbalance: UnbalanceVector,
    /// The holes (1 to 48).
    pub holes: Vec<Hole>,
    /// The stock (1 to 12 kinds).
    pub stock: Vec<Screw>,
    /// Which kind is in each hole now, by its number in `stock`.
    pub present: Option<Vec<Option<usize>>>,
    /// Residuals within this of the least count as equal (0 to 1e6 g·mm).
    pub tie: Unbalance,
}

/// The best filling.
#[derive(Clone, Debug, PartialEq)]
pub struct HolePlacement {
    /// Which kind goes into each hole, by its number in the stock.
    pub kind_in_hole: Vec<Option<usize>>,
    /// What is left.
    pub residual: UnbalanceVector,
    /// Least residual of all fillings looked at.
    pub least_residual: Unbalance,
    /// Number of screws in holes.
    pub screws: usize,
    /// Their mass together.
    pub mass: Mass,
    /// Holes whose screw changes; `None` without present screws.
    pub changes: Option<usize>,
    /// How sure it is that nothing better exists.
    pub proof: Proof,
    /// Whether it balances. `TooLight`: factor for the mass of every screw.
    pub answer: Answer,
}

/// Best filling: least residual; among all within `tie` of it fewest screws, then least mass, then fewest changes, then
/// residual.
///
/// Proven where each half of the holes has up to 1.2 million fillings (18 holes and two kinds, 24 holes and one), or
/// where the stock is small; otherwise [`Proof::Gap`], all fillings of a few screws having been looked at.
///
/// # Errors
/// A [`Fault`] for a value out of range, and for more present screws than the stock has.
pub fn place_in_holes(task: &HoleTask) -> Result<HolePlacement, Fault> {
    let rack = Rack::checked(task)?;
    let tie = task.tie.g_mm().within("tie_g_mm", 0.0, 1e6, "g·mm", "residuals this close count as equal")?;
    let (pair, proven) = rack.halves();
    let mut least = pair.least(&rack);
    if !proven {
        let climbed = rack.climb();
        if climbed.residual < least.residual {
            least = climbed;
        }
    }
    let mut best = pair.choose(&rack, least.residual + tie);
    if preferred(&least, best.as_ref()) {
        best = Some(least.clone());
    }
    let best = best.unwrap_or_else(|| least.clone());
    Ok(rack.placement(best, least.residual, proven))
}

/// Screws in holes: (hole, kind) in the order of the holes.
#[derive(Clone, Debug)]
struct Filling {
    put: Vec<(u8, u8)>,
    residual: f64,
    mass: f64,
    changes: usize,
}

/// The task in numbers.
struct Rack {
    wanted: [f64; 2],
    /// Vector of one gram in each hole, mm.
    arm: Vec<[f64; 2]>,
    mass: Vec<f64>,
    count: Vec<usize>,
    present: Option<Vec<Option<usize>>>,
}

impl Rack {
    fn checked(task: &HoleTask) -> Result<Self, Fault> {
        task.unbalance.size().g_mm().within("unbalance.size_g_mm", 0.0, 1e8, "g·mm", "the size of the unbalance to be answered")?;
        let (holes, kinds) = (task.holes.len(), task.stock.len());
        if !(1..=MOST_HOLES).contains(&holes) {
            return Err(Fault::new("holes", holes, format!("1 to {MOST_HOLES} holes"), "number of tapped holes"));
        }
        if !(1..=MOST_KINDS).contains(&kinds) {
            return Err(Fault::new("stock", kinds, format!("1 to {MOST_KINDS} kinds of screw"), "number of kinds in the stock"));
        }
        let mut arm = Vec::with_capacity(holes);
        for (i, h) in task.holes.iter().enumerate() {
            let r = h.radius.mm().within(&format!("holes[{i}].radius_mm"), 1.0, 1000.0, "mm", "radius of the screw's mass centre")?;
            if !h.at.rad().is_finite() {
                return Err(Fault::new(format!("holes[{i}].at_deg"), h.at.rad(), "a finite angle in degrees", "where the hole is"));
            }
            let e = UnbalanceVector::polar(Unbalance::from_g_mm(r), h.at).g_mm();
            arm.push(e);
        }
        let mut mass = Vec::with_capacity(kinds);
        for (k, s) in task.stock.iter().enumerate() {
            mass.push(s.mass.g().within(&format!("stock[{k}].mass_g"), 1e-4, 1e4, "g", "mass of one set screw: it must be positive")?);
            if !(1..=MOST_HOLES).contains(&s.count) {
                return Err(Fault::new(
                    format!("stock[{k}].count"),
                    s.count,
                    format!("1 to {MOST_HOLES}"),
                    "how many of this screw there are",
                ));
            }
        }
        let count: Vec<usize> = task.stock.iter().map(|s| s.count).collect();
        if let Some(present) = &task.present {
            if present.len() != holes {
                return Err(Fault::new(
                    "present",
                    present.len(),
                    format!("{holes} entries, one a hole"),
                    "which screw is in each hole now",
                ));
            }
            for k in present.iter().flatten() {
                if *k >= kinds {
                    return Err(Fault::new("present", *k, format!("0 to {}", kinds - 1), "number of a screw in the stock"));
                }
            }
            for (k, &c) in count.iter().enumerate() {
                let used = present.iter().filter(|p| **p == Some(k)).count();
                if used > c {
                    return Err(Fault::new(
                        format!("stock[{k}].count"),
                        c,
                        format!("at least {used}, as many as are in holes now"),
                        "the stock counts the screws now in holes too",
                    ));
                }
            }
        }
        let u = task.unbalance.g_mm();
        Ok(Self { wanted: [-u[0], -u[1]], arm, mass, count, present: task.present.clone() })
    }

    fn vector(&self, (hole, kind): (u8, u8)) -> [f64; 2] {
        let (e, m) = (self.arm[usize::from(hole)], self.mass[usize::from(kind)]);
        [m * e[0], m * e[1]]
    }

    fn rest(&self, put: &[(u8, u8)]) -> [f64; 2] {
        put.iter().fold(self.wanted, |r, &p| {
            let v = self.vector(p);
            [r[0] - v[0], r[1] - v[1]]
        })
    }

    fn filling(&self, mut put: Vec<(u8, u8)>) -> Filling {
        put.sort_unstable();
        let rest = self.rest(&put);
        let mass = put.iter().map(|p| self.mass[usize::from(p.1)]).sum();
        let changes = self.present.as_ref().map_or(0, |now| {
            let mut then = vec![None; now.len()];
            for &(h, k) in &put {
                then[usize::from(h)] = Some(usize::from(k));
            }
            now.iter().zip(&then).filter(|(a, b)| a != b).count()
        });
        Filling { residual: rest[0].hypot(rest[1]), put, mass, changes }
    }

    fn stock_holds(&self, put: impl Iterator<Item = (u8, u8)>) -> bool {
        let mut used = [0; MOST_KINDS];
        for (_, k) in put {
            used[usize::from(k)] += 1;
        }
        self.count.iter().zip(used).all(|(c, u)| u <= *c)
    }

    /// The two lists to be combined, and whether together they hold every filling.
    fn halves(&self) -> (Pair, bool) {
        let n = self.arm.len();
        let all = usize::MAX;
        if let (Some(a), Some(b)) = (self.list(0..n / 2, all), self.list(n / 2..n, all)) {
            return (Pair::new(self, a, b), true);
        }
        // By screws: every filling of up to a + b of them splits into the a in the first holes and the others.
        let in_stock: usize = self.count.iter().sum();
        let (mut last, mut most) = (List::default(), 0);
        while let Some(list) = self.list(0..n, most) {
            last = list;
            most += 1;
            if most > in_stock.min(n) {
                break;
            }
        }
        (Pair::new(self, last.clone(), last), in_stock.min(n) <= 2 * (most - 1))
    }

    /// All fillings of these holes with at most so many screws; `None` if there are too many.
    fn list(&self, holes: std::ops::Range<usize>, most: usize) -> Option<List> {
        let mut list = List::default();
        let mut used = [0; MOST_KINDS];
        self.fill(&mut list, &mut Vec::new(), &mut used, holes, most, [0.0; 2]).then_some(list)
    }

    /// Add `put` itself, then every filling that has one more screw, in a hole after the last.
    fn fill(
        &self,
        list: &mut List,
        put: &mut Vec<(u8, u8)>,
        used: &mut [usize; MOST_KINDS],
        holes: std::ops::Range<usize>,
        most: usize,
        sum: [f64; 2],
    ) -> bool {
        list.sums.push(sum);
        list.put.extend_from_slice(put);
        list.end.push(list.put.len() as u32);
        if list.sums.len() > MOST_FILLINGS {
            return false;
        }
        if put.len() >= most {
            return true;
        }
        for h in holes.clone() {
            for k in 0..self.mass.len() {
                if used[k] == self.count[k] {
                    continue;
                }
                let one = (h as u8, k as u8);
                let v = self.vector(one);
                put.push(one);
                used[k] += 1;
                let fits = self.fill(list, put, used, h + 1..holes.end, most, [sum[0] + v[0], sum[1] + v[1]]);
                used[k] -= 1;
                put.pop();
                if !fits {
                    return false;
                }
            }
        }
        true
    }

    /// The furthest that the stock pulls towards what is wanted: heaviest screws into the holes that pull most.
    fn reach(&self) -> f64 {
        let size = self.wanted[0].hypot(self.wanted[1]);
        if size == 0.0 {
            return 0.0;
        }
        let mut pull: Vec<f64> =
            self.arm.iter().map(|e| (e[0] * self.wanted[0] + e[1] * self.wanted[1]) / size).filter(|p| *p > 0.0).collect();
        let mut masses: Vec<f64> = self.mass.iter().zip(&self.count).flat_map(|(&m, &c)| std::iter::repeat_n(m, c)).collect();
        pull.sort_by(|a, b| b.total_cmp(a));
        masses.sort_by(|a, b| b.total_cmp(a));
        pull.iter().zip(&masses).map(|(p, m)| p * m).sum()
    }

    fn placement(&self, best: Filling, least: f64, proven: bool) -> HolePlacement {
        let rest = self.rest(&best.put);
        let mut kind_in_hole = vec![None; self.arm.len()];
        for &(h, k) in &best.put {
            kind_in_hole[usize::from(h)] = Some(usize::from(k));
        }
        let size = self.wanted[0].hypot(self.wanted[1]);
        let reach = self.reach();
        let lightest = self.mass.iter().copied().fold(f64::INFINITY, f64::min);
        let nearest = self.arm.iter().map(|e| e[0].hypot(e[1])).fold(f64::INFINITY, f64::min);
        let answer = if best.residual <= 0.5 * lightest * nearest {
            Answer::Balanced
        } else if reach > 0.0 && size > reach {
            Answer::TooLight { times: size / reach }
        } else {
            Answer::OutOfReach
        };
        let proof = if proven { Proof::Best } else { Proof::Gap { residual_at_least: Unbalance::from_g_mm((size - reach).max(0.0)) } };
        HolePlacement {
            kind_in_hole,
            residual: UnbalanceVector::from_g_mm(-rest[0], -rest[1]),
            least_residual: Unbalance::from_g_mm(least),
            screws: best.put.len(),
            mass: Mass::from_g(best.mass),
            changes: self.present.as_ref().map(|_| best.changes),
            proof,
            answer,
        }
    }
}

/// Whether `a` comes before `b` among fillings whose residuals count as equal.
fn preferred(a: &Filling, b: Option<&Filling>) -> bool {
    let Some(b) = b else { return true };
    let near = |x: f64, y: f64| if (x - y).abs() < ROUNDING { std::cmp::Ordering::Equal } else { x.total_cmp(&y) };
    (a.put.len().cmp(&b.put.len())).then(near(a.mass, b.mass)).then(a.changes.cmp(&b.changes)).then(near(a.residual, b.residual)).is_lt()
}

/// Fillings: their sums, and the screws of each.
#[derive(Clone, Default)]
struct List {
    sums: Vec<[f64; 2]>,
    put: Vec<(u8, u8)>,
    end: Vec<u32>,
}

impl List {
    fn put(&self, k: usize) -> &[(u8, u8)] {
        let from = if k == 0 { 0 } else { self.end[k - 1] as usize };
        &self.put[from..self.end[k] as usize]
    }
}

/// Two lists whose combinations are looked at: one sorted in the plane, one asked.
struct Pair {
    kept: List,
    asked: List,
    plane: Plane,
}

impl Pair {
    fn new(rack: &Rack, kept: List, asked: List) -> Self {
        let half = kept.sums.iter().map(|s| s[0].abs().max(s[1].abs())).fold(rack.mass[0], f64::max);
        let plane = Plane::new(&kept.sums, half);
        Self { kept, asked, plane }
    }

    /// All that lies within the radius and that the stock holds; `hit` gives the radius from then on.
    fn search(&self, rack: &Rack, mut radius: f64, mut hit: impl FnMut(&[(u8, u8)], &[(u8, u8)], f64) -> f64) {
        for (b, sum) in self.asked.sums.iter().enumerate() {
            let second = self.asked.put(b);
            self.plane.within([rack.wanted[0] - sum[0], rack.wanted[1] - sum[1]], radius + ROUNDING, |a, d2| {
                let first = self.kept.put(a);
                let apart = match (first.last(), second.first()) {
                    (Some(x), Some(y)) => x.0 < y.0,
                    _ => true,
                };
                if apart && rack.stock_holds(first.iter().chain(second).copied()) {
                    radius = hit(first, second, d2.sqrt());
                }
                radius + ROUNDING
            });
        }
    }

    fn least(&self, rack: &Rack) -> Filling {
        let size = rack.wanted[0].hypot(rack.wanted[1]);
        let most = size;
        // Empty holes leave `size`; start where some hundred fillings should lie and grow while there is none.
        let spread = self.kept.sums.iter().chain(&self.asked.sums).map(|s| s[0].hypot(s[1])).fold(0.0, f64::max);
        let mut grow = 12.0 * spread / (self.kept.sums.len() as f64 * self.asked.sums.len() as f64).sqrt() + ROUNDING;
        loop {
            let radius = grow.min(most);
            let mut best: Option<(Vec<(u8, u8)>, f64)> = None;
            self.search(rack, radius, |first, second, d| {
                match &best {
                    Some((_, least)) if *least <= d => {}
                    _ => best = Some(([first, second].concat(), d)),
                }
                best.as_ref().map_or(radius, |b| b.1)
            });
            if let Some((put, _)) = best {
                return rack.filling(put);
            }
            if radius >= most {
                return rack.filling(Vec::new());
            }
            grow *= 4.0;
        }
    }

    fn choose(&self, rack: &Rack, radius: f64) -> Option<Filling> {
        let mut best: Option<Filling> = None;
        self.search(rack, radius, |first, second, _| {
            if best.as_ref().is_none_or(|b| first.len() + second.len() <= b.put.len()) {
                let filling = rack.filling([first, second].concat());
                if preferred(&filling, best.as_ref()) {
                    best = Some(filling);
                }
            }
            radius
        });
        best
    }
}
