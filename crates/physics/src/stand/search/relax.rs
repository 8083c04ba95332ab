//! Which demand to relax when nothing fits.

use super::{Demands, Design, Merits, SAFE_LOAD_SHARE, Search};
use crate::Fault;

/// One demand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Demand {
    Flow,
    Floor,
    Stiffness,
    LiftsByItself,
    SafeLoad,
    Damping,
}

impl Demand {
    pub(super) const ALL: [Self; 6] = [Self::Flow, Self::Floor, Self::Stiffness, Self::LiftsByItself, Self::SafeLoad, Self::Damping];

    /// By what factor the demand is missed; up to 1 it is met.
    pub(super) fn excess(self, demands: &Demands, m: &Merits) -> f64 {
        match self {
            Self::Flow => m.flow_l_min / demands.flow_l_min,
            Self::Floor => m.floor_g_mm / demands.floor_g_mm,
            Self::Stiffness if demands.stiffness_n_um <= 0.0 => 0.0,
            Self::Stiffness if m.stiffness_n_um <= 0.0 => f64::INFINITY,
            Self::Stiffness => demands.stiffness_n_um / m.stiffness_n_um,
            Self::LiftsByItself if !demands.lifts_by_itself || m.lifts_by_itself => 0.0,
            Self::LiftsByItself => f64::INFINITY,
            Self::SafeLoad => m.load_share / SAFE_LOAD_SHARE,
            Self::Damping => match m.damping_ratio {
                None => 0.0,
                Some(d) if d < 0.0 || d == 0.0 && demands.damping_ratio > 0.0 => f64::INFINITY,
                Some(_) if demands.damping_ratio <= 0.0 => 0.0,
                Some(d) => demands.damping_ratio / d,
            },
        }
    }

    fn fault(self, demands: &Demands, m: &Merits, others: &str) -> Fault {
        let tail = format!("relax this demand, widen the ranges, or hold the clearance closer{others}");
        match self {
            Self::Flow => Fault::new(
                "most_flow_l_min",
                demands.flow_l_min,
                format!("{} litres of free air a minute or more", up(m.flow_l_min)),
                format!("no design that does the rest takes so little air: {tail}"),
            ),
            Self::Floor => Fault::new(
                "highest_floor_g_mm",
                demands.floor_g_mm,
                format!("{} g·mm or more", up(m.floor_g_mm)),
                format!("no design that does the rest has so low a floor: {tail}; or hold port and bore closer"),
            ),
            Self::Stiffness => Fault::new(
                "least_stiffness_n_um",
                demands.stiffness_n_um,
                format!("{} N/µm or less", down(m.stiffness_n_um)),
                format!("no design that does the rest is so stiff: {tail}"),
            ),
            Self::LiftsByItself => Fault::new(
                "lifts_by_itself",
                "true",
                "false, or a larger pocket",
                format!(
                    "no design that does the rest lifts the arbor by itself: {tail}; a pocket round the port lifts it at less pressure"
                ),
            ),
            Self::Damping => {
                let least = m.damping_ratio.filter(|d| *d > 0.0);
                Fault::new(
                    "least_damping_ratio",
                    demands.damping_ratio,
                    least.map_or_else(|| "a smaller pocket".to_owned(), |d| format!("{} of critical or less", down(d))),
                    format!(
                        "every design that does the rest hammers or is near it: make the pocket shallower or smaller in diameter; or {tail}"
                    ),
                )
            }
            Self::SafeLoad => Fault::new(
                "supply_bar.to",
                format!("a load of {:.0} % of the largest that floats", 100.0 * m.load_share),
                format!("at most {:.0} %", 100.0 * SAFE_LOAD_SHARE),
                "every design that does the rest is set down by a knock: try more pressure or longer saddles",
            ),
        }
    }
}

/// Three figures, rounded so that the told limit is met by the design that it was read from.
fn up(v: f64) -> f64 {
    let unit = 10_f64.powf(v.abs().max(1e-12).log10().floor() - 2.0);
    (v / unit).ceil() * unit
}

fn down(v: f64) -> f64 {
    let unit = 10_f64.powf(v.abs().max(1e-12).log10().floor() - 2.0);
    (v / unit).floor() * unit
}

impl Search {
    /// The single demand whose relaxing lets a design in with the least given away; when none alone does, the worst missed one of the
    /// design that comes nearest to all.
    pub(super) fn nothing_fits(&self, tried: &[Result<Design, Fault>]) -> Fault {
        let d = &self.demands;
        let designs: Vec<&Design> = tried.iter().filter_map(|t| t.as_ref().ok()).collect();
        if designs.is_empty() {
            // The film's own words on the last, which has the most pressure, length and clearance.
            let fault = tried.iter().rev().find_map(|t| t.as_ref().err());
            return fault.cloned().unwrap_or_else(|| Fault::new("clearance_um.count", 0.0, "1 or more", "there is nothing to try"));
        }
        let missed = |m: &Merits| -> Vec<Demand> { Demand::ALL.into_iter().filter(|x| x.excess(d, m) > 1.0).collect() };
        let mut alone: Vec<(Demand, f64, &Design)> = designs
            .iter()
            .filter_map(|x| match missed(&x.worst).as_slice() {
                [one] => Some((*one, one.excess(d, &x.worst), *x)),
                _ => None,
            })
            .collect();
        alone.sort_by(|a, b| a.1.total_cmp(&b.1));
        // A design that missed a demand was not asked whether it hammers: what is told must let a design in that does not.
        let damped = alone.iter().find(|(demand, _, x)| *demand == Demand::Damping || self.is_damped(x));
        if let Some((demand, _, x)) = damped {
            return demand.fault(d, &x.worst, "");
        }
        let worst_of = |m: &Merits| Demand::ALL.map(|x| x.excess(d, m)).into_iter().fold(0.0, f64::max);
        let nearest = designs.iter().min_by(|a, b| worst_of(&a.worst).total_cmp(&worst_of(&b.worst))).map(|x| x.worst);
        let Some(m) = nearest else { return Fault::new("clearance_um.count", 0.0, "1 or more", "there is nothing to try") };
        let mut all = missed(&m);
        all.sort_by(|a, b| b.excess(d, &m).total_cmp(&a.excess(d, &m)));
        let names: Vec<&str> = all.iter().skip(1).map(|x| x.name()).collect();
        let others = format!("; {} must be relaxed with it", names.join(" and "));
        all.first().map_or_else(|| Fault::new("most_flow_l_min", d.flow_l_min, "more", "nothing fits"), |x| x.fault(d, &m, &others))
    }
}

impl Demand {
    const fn name(self) -> &'static str {
        match self {
            Self::Flow => "the air",
            Self::Floor => "the floor",
            Self::Stiffness => "the stiffness",
            Self::LiftsByItself => "lifting by itself",
            Self::SafeLoad => "the load",
            Self::Damping => "the damping",
        }
    }
}
