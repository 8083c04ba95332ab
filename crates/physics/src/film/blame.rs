//! Why an arbor does not float, and which change would do: supply, port or load.
//!
//! In: the traced curve of a saddle that carries too little (or too much). Out: a [`Fault`].

use super::float::Duty;
use super::floats::{TRACE, Trace, trace};
use super::geometry::{Saddle, mm};
use super::pressure::Film;
use crate::Fault;
use crate::numerics::bisect_within;

/// Highest supply that is proposed, Pa gauge: what a common workshop compressor gives (common practice, no source).
const PROPOSED_PA: f64 = 10e5;

/// The fault for a load without a stable float.
pub(crate) fn no_float(curve: &Trace<'_>, saddle: &Saddle, duty: &Duty, largest_n: f64, unstable_only: bool) -> Fault {
    let points = &curve.points;
    if points.iter().all(|p| p.force_up_n > duty.load_n) {
        let last = &points[points.len() - 1];
        return Fault::new(
            "load_n",
            duty.load_n,
            format!("at least {:.2} N", last.force_up_n),
            format!(
                "no stable float at this load: the load is too light for this supply, and at a film of {:.0} um the arbor still rises; lower the supply or fit a jet",
                last.gap_m * 1e6
            ),
        );
    }
    if largest_n >= duty.load_n && unstable_only {
        return Fault::new(
            "load_n",
            duty.load_n,
            "a load that floats stably",
            "no stable float at this load: film and load balance only where the arbor would slide off to a side; take a longer arc or a smaller clearance",
        );
    }
    let supply = bisect_within(duty.supply_pa, PROPOSED_PA, 1e3, |s| curve.largest_at(&duty.air, s) - duty.load_n);
    let port = wider_port(saddle, duty);
    let open = curve.largest_unrestricted(&duty.air, duty.supply_pa);
    let mut ways = Vec::new();
    if let Some(s) = supply {
        ways.push(format!("{:.1} bar with this port", (s / 1e4).ceil() / 10.0));
    }
    if let Some(d) = port {
        ways.push(format!("a port (or pocket) of {:.1} mm at this supply", mm(d)));
    }
    if saddle.port.jet_diameter_m.is_some() && open >= duty.load_n {
        ways.push("a wider jet".to_owned());
    }
    let why = format!(
        "no stable float at this load: at {:.2} bar this saddle carries at most {:.2} N{}",
        duty.supply_pa / 1e5,
        largest_n,
        if ways.is_empty() {
            ", and neither a workshop's supply nor a wider port would carry more; use a longer or larger saddle".to_owned()
        } else {
            format!("; what would do: {}", ways.join(", or "))
        }
    );
    // To blame is what needs the smaller change, by ratio.
    let supply_ratio = supply.map_or(f64::INFINITY, |s| s / duty.supply_pa);
    let port_ratio = port.map_or(f64::INFINITY, |d| d / (2.0 * saddle.port.half_sizes_m().0));
    if supply_ratio.is_finite() && supply_ratio <= port_ratio {
        let least = supply.map_or(0.0, |s| (s / 1e4).ceil() / 10.0);
        Fault::new("supply_bar", duty.supply_pa / 1e5, format!("at least {least:.1} bar"), why)
    } else if let Some(d) = port {
        Fault::new("port_diameter_mm", mm(saddle.port.diameter_m), format!("at least {:.1} mm", mm(d)), why)
    } else {
        Fault::new("load_n", duty.load_n, format!("at most {largest_n:.2} N"), why)
    }
}

/// The first wider hole, in steps of a quarter, that carries the load at this supply; without a jet in its way if there is one.
fn wider_port(saddle: &Saddle, duty: &Duty) -> Option<f64> {
    let mut wider = saddle.clone();
    wider.port.pocket = None;
    wider.port.diameter_m = 2.0 * saddle.port.half_sizes_m().0;
    loop {
        wider.port.diameter_m *= 1.25;
        if wider.port.diameter_m > 0.5 * saddle.length_m {
            return None;
        }
        let film = Film::new(&wider, TRACE).ok()?;
        if trace(&film, duty).ok()?.points.iter().any(|p| p.held_sideways && p.force_up_n >= duty.load_n) {
            return Some((wider.port.diameter_m * 1e4).ceil() / 1e4);
        }
    }
}
