//! Design search: which clearance, length, port, jet and pressure carry this rotor on the air there is, with the floor that is asked for.
//!
//! In: two saddles as a pattern ([`OnAir`]), the sizes to try, what is demanded, how well the bore's size is held. Out: the designs among
//! which none is better in air, stiffness and floor at once, and one of them that still floats at every corner of its tolerances; or a
//! [`Fault`] that names the demand to relax.
//!
//! Each design counts by its worst at the edges of the held clearance, with the port's offset and the bore's oval in its floor already.
//! Designs are evaluated in parallel and gathered in the order of the grid: the result is the same on any number of threads.

mod judge;
mod relax;

use super::budget::{RotorOnArbor, Setting};
use super::on_air::OnAir;
use crate::{Fault, Ranged};
use rayon::prelude::*;
use std::collections::BTreeSet;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

/// Share of the largest load that a design may carry: above it a knock sets the arbor down. Common practice, no source.
pub const SAFE_LOAD_SHARE: f64 = 0.7;

/// Designs that differ by no more than this share in air, stiffness and floor are counted once: the film itself is solved to a tenth of
/// a per cent in load, and nobody could tell them apart.
pub const ALIKE: f64 = 1e-4;

/// Most designs on the grid; a finer search belongs into narrower ranges.
pub const MOST_DESIGNS: usize = 4000;

/// Values from one to another at equal steps.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Steps {
    /// First value.
    pub from: f64,
    /// Last value; as the first when there is one only.
    pub to: f64,
    /// How many (1 to 15).
    pub count: usize,
}

impl Steps {
    /// Value at so many half steps from the first.
    fn at(&self, half_steps: usize) -> f64 {
        match self.half_steps() {
            0 => self.from,
            last => self.from + (self.to - self.from) * half_steps as f64 / last as f64,
        }
    }

    fn half_steps(&self) -> usize {
        2 * self.count.saturating_sub(1)
    }

    fn check(&self, field: &str, low: f64, high: f64, unit: &str) -> Result<(), Fault> {
        self.from.within(&format!("{field}.from"), low, high, unit, "first value to try")?;
        self.to.within(&format!("{field}.to"), self.from, high, unit, "last value to try, not below the first")?;
        (self.count as f64).within(&format!("{field}.count"), 1.0, 15.0, "", "how many values to try")?;
        if self.count > 1 && self.to <= self.from {
            let why = "several values need a range to lie in: give a wider one, or a count of 1";
            return Err(Fault::new(format!("{field}.to"), self.to, format!("more than {}", self.from), why));
        }
        Ok(())
    }
}

/// What to try. Drills and jets come in sizes, so these are lists; the others are ranges.
#[derive(Clone, Debug, PartialEq)]
pub struct Sizes {
    /// Radial clearance, µm (1 to 500).
    pub clearance_um: Steps,
    /// Length of a saddle, mm (2 to 500).
    pub length_mm: Steps,
    /// Supply, bar gauge (0.1 to 12).
    pub supply_bar: Steps,
    /// Ports, mm (0.1 to 50 each).
    pub ports_mm: Vec<f64>,
    /// Jets, mm (0.03 to 50 each); `None`: a plain port.
    pub jets_mm: Vec<Option<f64>>,
}

/// What a design must do. The three numbers hold at the edges of the held clearance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Demands {
    /// Most free air of both saddles, litres a minute.
    pub flow_l_min: f64,
    /// Highest floor, g·mm.
    pub floor_g_mm: f64,
    /// Least stiffness upwards of each saddle, N/µm; 0 asks for none.
    pub stiffness_n_um: f64,
    /// Whether the arbor must lift by itself.
    pub lifts_by_itself: bool,
    /// Least damping of the arbor's bouncing on the film, as a share of critical (0 to 0.5; 0 asks only that it does not hammer).
    pub damping_ratio: f64,
}

/// A search: the pattern, what to try, what is held and demanded.
#[derive(Clone, Debug, PartialEq)]
pub struct Search {
    /// The saddles, whose clearance, length, port, jet and supply are replaced.
    pub pattern: OnAir,
    /// What to try.
    pub sizes: Sizes,
    /// How far the clearance may be off, either way, µm (0 to 50).
    pub clearance_held_um: f64,
    /// The rotor.
    pub rotor: RotorOnArbor,
    /// How the stand stands, the room, the reader.
    pub setting: Setting,
    /// What is demanded.
    pub demands: Demands,
}

/// Sizes of one design.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Choice {
    /// Radial clearance, µm.
    pub clearance_um: f64,
    /// Length of a saddle, mm.
    pub length_mm: f64,
    /// Port, mm.
    pub port_mm: f64,
    /// Jet, mm.
    pub jet_mm: Option<f64>,
    /// Supply, bar gauge.
    pub supply_bar: f64,
}

/// What a design does; of both saddles the worse one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Merits {
    /// Free air of both, litres a minute.
    pub flow_l_min: f64,
    /// Stiffness upwards, N/µm.
    pub stiffness_n_um: f64,
    /// Floor, g·mm.
    pub floor_g_mm: f64,
    /// Thinnest film, µm.
    pub least_film_um: f64,
    /// Load over the largest load that floats.
    pub load_share: f64,
    /// Smallest supply at which it lifts by itself, bar gauge; none: no workshop pressure.
    pub lift_off_bar: Option<f64>,
    /// Whether it lifts by itself at its supply.
    pub lifts_by_itself: bool,
    /// Least damping of the arbor's bouncing, as a share of critical; negative: it hammers. None where another demand is missed already:
    /// it takes longer to judge than all the rest.
    pub damping_ratio: Option<f64>,
}

impl Merits {
    /// The worse of both in each merit.
    fn worse(self, other: Self) -> Self {
        Self {
            flow_l_min: self.flow_l_min.max(other.flow_l_min),
            stiffness_n_um: self.stiffness_n_um.min(other.stiffness_n_um),
            floor_g_mm: self.floor_g_mm.max(other.floor_g_mm),
            least_film_um: self.least_film_um.min(other.least_film_um),
            load_share: self.load_share.max(other.load_share),
            lift_off_bar: self.lift_off_bar.zip(other.lift_off_bar).map(|(a, b)| a.max(b)),
            lifts_by_itself: self.lifts_by_itself && other.lifts_by_itself,
            damping_ratio: self.damping_ratio.zip(other.damping_ratio).map(|(a, b)| a.min(b)),
        }
    }

    /// Within [`ALIKE`] in air, stiffness and floor.
    fn is_alike(&self, other: &Self) -> bool {
        let near = |a: f64, b: f64| (a - b).abs() <= ALIKE * a.abs().max(b.abs());
        near(self.flow_l_min, other.flow_l_min)
            && near(self.stiffness_n_um, other.stiffness_n_um)
            && near(self.floor_g_mm, other.floor_g_mm)
    }

    /// No worse in air, stiffness and floor, and better in one.
    pub fn dominates(&self, other: &Self) -> bool {
        let no_worse =
            self.flow_l_min <= other.flow_l_min && self.stiffness_n_um >= other.stiffness_n_um && self.floor_g_mm <= other.floor_g_mm;
        no_worse && (self.flow_l_min < other.flow_l_min || self.stiffness_n_um > other.stiffness_n_um || self.floor_g_mm < other.floor_g_mm)
    }
}

/// A design with what it does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Design {
    /// Its sizes.
    pub choice: Choice,
    /// As drawn.
    pub drawn: Merits,
    /// The worst of: as drawn, and at both edges of the held clearance.
    pub worst: Merits,
}

/// A design at the corners of clearance, port offset and oval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Corners {
    /// Corners that were floated.
    pub count: usize,
    /// Most free air of both saddles, litres a minute.
    pub flow_l_min: f64,
    /// Least stiffness upwards, N/µm.
    pub stiffness_n_um: f64,
    /// Thinnest film, µm.
    pub least_film_um: f64,
    /// Largest drift of both saddles with all imperfections pulling one way, g·mm.
    pub drift_g_mm: f64,
    /// Highest lift-off pressure, bar gauge; none: at some corner no workshop pressure lifts it.
    pub lift_off_bar: Option<f64>,
    /// Largest load over the largest that floats.
    pub load_share: f64,
    /// Whether it lifts by itself at every corner.
    pub lifts_by_itself: bool,
    /// Least damping of the arbor's bouncing, as a share of critical; negative: it hammers.
    pub damping_ratio: f64,
}

/// What the search found.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// The designs that meet the demands and that none beats, by rising air; of those alike ([`ALIKE`]) one.
    pub front: Vec<Design>,
    /// Which of them is proposed: the one with the most in hand that survives its corners.
    pub proposed: usize,
    /// The proposed design at its corners.
    pub corners: Corners,
    /// Designs with more in hand that fail at a corner.
    pub failed_corners: usize,
    /// Designs evaluated.
    pub tried: usize,
    /// Of these, how many meet the demands.
    pub meeting: usize,
}

/// Place of a design on the grid, in half steps and list places.
type Place = [usize; 5];

impl Search {
    /// Search. `keep_going` is told the share that is done and is asked whether to go on; it is called from several threads.
    ///
    /// First the whole grid, then half a step about each design on its front. A design that beats one within the three numbers demanded lies
    /// within them itself, so a tighter demand refines no other place than a looser one does: it never finds anything better.
    ///
    /// # Errors
    /// `Ok(None)` when `keep_going` said no. A [`Fault`] for values out of range, and when nothing fits: it names the demand to relax,
    /// or what keeps the arbor from floating.
    pub fn run(&self, keep_going: &(dyn Fn(f64) -> bool + Sync)) -> Result<Option<Found>, Fault> {
        self.check()?;
        let grid: Vec<Place> = self.grid();
        let Some(mut tried) = self.evaluate(&grid, [0.0, 0.4], keep_going) else { return Ok(None) };
        let seen: BTreeSet<Place> = grid.iter().copied().collect();
        let around: BTreeSet<Place> = self.front(&tried).iter().flat_map(|i| self.neighbours(tried[*i].0)).collect();
        let finer: Vec<Place> = around.difference(&seen).copied().collect();
        let Some(more) = self.evaluate(&finer, [0.4, 0.95], keep_going) else { return Ok(None) };
        tried.extend(more);

        let mut front: Vec<Design> = self.front(&tried).iter().filter_map(|i| tried[*i].1.as_ref().ok().copied()).collect();
        if front.is_empty() {
            return Err(self.nothing_fits(&tried.into_iter().map(|t| t.1).collect::<Vec<_>>()));
        }
        front.sort_by(|a, b| a.worst.flow_l_min.total_cmp(&b.worst.flow_l_min));
        let front = once_each(&front);
        let meeting = tried.iter().filter(|t| t.1.as_ref().is_ok_and(|d| self.demands.met_by(&d.worst))).count();
        let mut order: Vec<usize> = (0..front.len()).collect();
        order.sort_by(|a, b| self.demands.in_hand(&front[*b].worst).total_cmp(&self.demands.in_hand(&front[*a].worst)));
        for (failed_corners, &proposed) in order.iter().enumerate() {
            if !keep_going(0.95) {
                return Ok(None);
            }
            let Ok(corners) = self.corners(&front[proposed].choice) else { continue };
            if self.survives(&corners) {
                keep_going(1.0);
                return Ok(Some(Found { front, proposed, corners, failed_corners, tried: tried.len(), meeting }));
            }
        }
        let why = format!(
            "{} designs meet the demands as drawn and at the edges of the clearance, yet none does with port offset and oval at their edges \
             together: hold clearance, port or bore closer",
            front.len()
        );
        Err(Fault::new("clearance_held_um", self.clearance_held_um, "less", why))
    }

    /// Whether all values lie in their ranges; [`Search::run`] asks first of all.
    ///
    /// # Errors
    /// A [`Fault`] with the field.
    pub fn check(&self) -> Result<(), Fault> {
        let (s, d) = (&self.sizes, &self.demands);
        s.clearance_um.check("clearance_um", 1.0, 500.0, "µm")?;
        s.length_mm.check("length_mm", 2.0, 500.0, "mm")?;
        s.supply_bar.check("supply_bar", 0.1, 12.0, "bar gauge")?;
        for (field, empty) in [("ports_mm", s.ports_mm.is_empty()), ("jets_mm", s.jets_mm.is_empty())] {
            if empty {
                return Err(Fault::new(field, "an empty list", "one size or more, mm", "there is nothing to try"));
            }
        }
        for (i, port) in s.ports_mm.iter().enumerate() {
            port.within(&format!("ports_mm[{i}]"), 0.1, 50.0, "mm", "diameter of a port")?;
        }
        for (i, jet) in s.jets_mm.iter().enumerate() {
            if let Some(jet) = jet {
                jet.within(&format!("jets_mm[{i}]"), 0.03, 50.0, "mm", "diameter of a jet")?;
            }
        }
        let most = s.clearance_um.from * 0.9;
        let why = "the clearance may be off so far either way; the smallest to try must stay open";
        self.clearance_held_um.within("clearance_held_um", 0.0, most.min(50.0), "µm", why)?;
        d.flow_l_min.within("most_flow_l_min", 1e-3, 1e5, "litres of free air a minute", "air for both saddles")?;
        d.floor_g_mm.within("highest_floor_g_mm", 1e-6, 1e7, "g·mm", "the floor that is asked for")?;
        d.stiffness_n_um.within("least_stiffness_n_um", 0.0, 1e5, "N/µm", "stiffness upwards of each saddle; 0 asks for none")?;
        d.damping_ratio.within("least_damping_ratio", 0.0, 0.5, "", "damping of the bouncing, as a share of critical")?;
        let designs = [s.clearance_um.count, s.length_mm.count, s.supply_bar.count, s.ports_mm.len(), s.jets_mm.len()];
        let designs = designs.iter().try_fold(1_usize, |a, n| a.checked_mul(*n)).unwrap_or(usize::MAX);
        if designs > MOST_DESIGNS {
            let why = "so many designs take too long: fewer values in each range, then narrower ranges about the best";
            return Err(Fault::new("clearance_um.count", format!("{designs} designs in all"), format!("at most {MOST_DESIGNS}"), why));
        }
        Ok(())
    }

    fn grid(&self) -> Vec<Place> {
        let s = &self.sizes;
        let mut out = vec![];
        for c in 0..s.clearance_um.count {
            for l in 0..s.length_mm.count {
                for p in 0..s.supply_bar.count {
                    for port in 0..s.ports_mm.len() {
                        out.extend((0..s.jets_mm.len()).map(|jet| [2 * c, 2 * l, 2 * p, port, jet]));
                    }
                }
            }
        }
        out
    }

    fn neighbours(&self, place: Place) -> impl Iterator<Item = Place> {
        let s = &self.sizes;
        let last = [s.clearance_um.half_steps(), s.length_mm.half_steps(), s.supply_bar.half_steps()];
        (0..3).flat_map(move |k| {
            let moved = |to: Option<usize>| {
                to.filter(|t| *t <= last[k]).map(|t| {
                    let mut next = place;
                    next[k] = t;
                    next
                })
            };
            [moved(place[k].checked_sub(1)), moved(place[k].checked_add(1))].into_iter().flatten()
        })
    }

    fn choice(&self, place: Place) -> Choice {
        let s = &self.sizes;
        Choice {
            clearance_um: s.clearance_um.at(place[0]),
            length_mm: s.length_mm.at(place[1]),
            supply_bar: s.supply_bar.at(place[2]),
            port_mm: s.ports_mm[place[3]],
            jet_mm: s.jets_mm[place[4]],
        }
    }

    /// All of them in their order, or nothing when told to stop.
    fn evaluate(
        &self,
        places: &[Place],
        shares: [f64; 2],
        keep_going: &(dyn Fn(f64) -> bool + Sync),
    ) -> Option<Vec<(Place, Result<Design, Fault>)>> {
        let (stopped, done) = (AtomicBool::new(false), AtomicUsize::new(0));
        let out: Vec<Option<_>> = places
            .par_iter()
            .map(|place| {
                if stopped.load(Ordering::Relaxed) {
                    return None;
                }
                let design = self.design(self.choice(*place));
                let share = (done.fetch_add(1, Ordering::Relaxed) + 1) as f64 / places.len() as f64;
                if !keep_going(shares[0] + (shares[1] - shares[0]) * share) {
                    stopped.store(true, Ordering::Relaxed);
                }
                Some((*place, design))
            })
            .collect();
        if stopped.into_inner() { None } else { out.into_iter().collect() }
    }

    /// Places in `tried` of the designs that meet the demands and that none of them beats.
    fn front(&self, tried: &[(Place, Result<Design, Fault>)]) -> Vec<usize> {
        let met = |i: &usize| tried[*i].1.as_ref().is_ok_and(|d| self.demands.met_by(&d.worst));
        let merits = |i: usize| tried[i].1.as_ref().ok().map(|d| d.worst);
        let good: Vec<usize> = (0..tried.len()).filter(met).collect();
        let beaten = |i: usize| good.iter().any(|j| merits(*j).zip(merits(i)).is_some_and(|(a, b)| a.dominates(&b)));
        good.iter().copied().filter(|i| !beaten(*i)).collect()
    }
}

/// Of designs alike the first.
fn once_each(front: &[Design]) -> Vec<Design> {
    let mut out: Vec<Design> = Vec::with_capacity(front.len());
    for design in front {
        if !out.iter().any(|d| d.worst.is_alike(&design.worst)) {
            out.push(*design);
        }
    }
    out
}

impl Demands {
    /// Whether these merits meet all that is demanded, and carry the load safely.
    pub fn met_by(&self, m: &Merits) -> bool {
        relax::Demand::ALL.iter().all(|d| d.excess(self, m) <= 1.0)
    }

    /// By what factor the tightest of the three numbers is met.
    fn in_hand(&self, m: &Merits) -> f64 {
        let stiffness = if self.stiffness_n_um > 0.0 { m.stiffness_n_um / self.stiffness_n_um } else { f64::INFINITY };
        (self.flow_l_min / m.flow_l_min).min(self.floor_g_mm / m.floor_g_mm).min(stiffness)
    }
}
