//! What is asked of each piece of a stand at inspection, and how it goes to the door.

use super::parts::{limits, number, words};
use crate::making::Made;
use serde_json::{Map, Value};
use stillwheel_door::as_made::{DepartureIn, DepartureName, MatchIn, PartIn, RoleName, SizeIn};
use stillwheel_door::parts::{DimensionOut, FeatureOut, LimitsFrom, MeasureName, PartOut};

/// Whether a size or a departure is asked.
#[derive(Clone, Debug)]
pub(super) enum Kind {
    /// A size in mm with its limits from the nominal, µm; the arbor's counts in both saddles.
    Size { roles: Vec<RoleName>, nominal_mm: f64, lower_um: f64, upper_um: f64 },
    /// A departure of form or place, µm.
    Departure { role: DepartureName, limit_um: f64 },
}

/// One thing that is asked.
#[derive(Clone, Debug)]
pub(super) struct Ask {
    /// Where it is kept: part, piece, dimension.
    pub(super) key: String,
    /// Name in the form.
    pub(super) field: String,
    /// What the door calls it.
    pub(super) name: String,
    /// What the page calls it.
    pub(super) label: String,
    /// Its limits in words.
    pub(super) hint: String,
    /// What it is.
    pub(super) kind: Kind,
    /// Uncertainty of the gauge that such a tolerance is usually measured with, µm at 95 %.
    pub(super) usual_u_um: f64,
}

impl Ask {
    /// Name of the field of its gauge's uncertainty.
    pub(super) fn u_field(&self) -> String {
        format!("{}.u", self.field)
    }
}

/// A gauge of a tenth of the tolerance, no finer than 0.5 µm (common practice, no source).
fn usual_u_um(tolerance_um: f64) -> f64 {
    (tolerance_um / 10.0).clamp(0.5, 20.0)
}

/// All that is asked of one piece: sizes with limits of their own, and geometric tolerances.
pub(super) fn asked(m: &Made, part: &PartOut, piece: usize) -> Vec<Ask> {
    let of = if part.quantity > 1 { format!("{} {piece}", part.name) } else { part.name.clone() };
    let mut all = Vec::new();
    for f in &part.features {
        for d in &f.dimensions {
            let own = matches!(d.limits_from, LimitsFrom::Class | LimitsFrom::Stated);
            if !own || d.measure == MeasureName::Coordinate {
                continue;
            }
            let (lower_um, upper_um) = (d.lower_mm * 1e3, d.upper_mm * 1e3);
            let roles = roles(m, part, f, d, piece);
            all.push(Ask {
                key: format!("{}/{piece}/{}", part.key, d.id),
                field: d.id.clone(),
                name: format!("{of}, {}, {}", f.name, words(d)),
                label: format!("{}: {}", f.name, words(d)),
                hint: format!("{} mm, {}", number(d.nominal_mm), limits(d)),
                kind: Kind::Size { roles, nominal_mm: d.nominal_mm, lower_um, upper_um },
                usual_u_um: usual_u_um(upper_um - lower_um),
            });
        }
        for c in &f.controls {
            let zone_um = c.zone_mm * 1e3;
            let aside = part.key == "saddle" && f.id == "port" && c.characteristic == "position";
            // A port's zone is a circle about straight down; to the film counts how far it lies to the side, either way.
            let (limit_um, role, says) = match (aside, piece) {
                (true, 1) => {
                    (zone_um / 2.0, DepartureName::FirstPortAside, "off to the right, seen by the operator; to the left is negative")
                }
                (true, _) => {
                    (zone_um / 2.0, DepartureName::SecondPortAside, "off to the right, seen by the operator; to the left is negative")
                }
                _ => (zone_um, DepartureName::Other, c.characteristic.as_str()),
            };
            all.push(Ask {
                key: format!("{}/{piece}/{}#{}", part.key, f.id, c.characteristic),
                field: format!("{}#{}", f.id, c.characteristic),
                name: format!("{of}, {}, {}", f.name, c.characteristic),
                label: format!("{}: {says}", f.name),
                hint: format!("within {} µm", number(limit_um)),
                kind: Kind::Departure { role, limit_um },
                usual_u_um: usual_u_um(limit_um),
            });
        }
    }
    all
}

fn roles(m: &Made, part: &PartOut, f: &FeatureOut, d: &DimensionOut, piece: usize) -> Vec<RoleName> {
    let first = piece == 1;
    let one = |a, b| vec![if first { a } else { b }];
    let jet = m.sheet.feed.as_ref().is_some_and(|f| f.jet_diameter_mm.is_some());
    match (part.key.as_str(), d.id.as_str()) {
        ("saddle", "bore.diameter") => one(RoleName::FirstBore, RoleName::SecondBore),
        ("saddle", "flats.across") => one(RoleName::FirstLength, RoleName::SecondLength),
        // Where a jet throttles, the port is only its seat.
        ("saddle", "port.diameter") if !jet => one(RoleName::FirstPort, RoleName::SecondPort),
        ("jet", "bore.diameter") => one(RoleName::FirstJet, RoleName::SecondJet),
        ("arbor", "shaft.diameter") => vec![RoleName::FirstArbor, RoleName::SecondArbor],
        _ if d.measure != MeasureName::Diameter && d.id != "groove.width" => vec![RoleName::Other],
        _ if ["bore", "port", "pocket", "gallery"].contains(&f.id.as_str()) || f.holes.is_some() || d.id == "groove.width" => {
            vec![RoleName::OtherInside]
        }
        _ => vec![RoleName::OtherOutside],
    }
}

/// Sizes and departures for the door, in the order asked; what is not kept goes as not measured.
pub(super) fn of_stand(asks: &[Ask], entries: &Map<String, Value>) -> (Vec<SizeIn>, Vec<DepartureIn>) {
    let (mut sizes, mut departures) = (Vec::new(), Vec::new());
    for a in asks {
        let entry = entries.get(&a.key);
        let u_um = entry.and_then(|e| e["u_um"].as_f64()).unwrap_or(a.usual_u_um);
        match &a.kind {
            Kind::Size { roles, nominal_mm, lower_um, upper_um } => {
                let measured_mm = entry.and_then(|e| e["mm"].as_f64());
                sizes.extend(roles.iter().map(|role| SizeIn {
                    name: a.name.clone(),
                    role: *role,
                    nominal_mm: *nominal_mm,
                    lower_um: *lower_um,
                    upper_um: *upper_um,
                    measured_mm,
                    u_um,
                }));
            }
            Kind::Departure { role, limit_um } => departures.push(DepartureIn {
                name: a.name.clone(),
                role: *role,
                limit_um: *limit_um,
                measured_um: entry.and_then(|e| e["um"].as_f64()),
                at_deg: None,
                u_um,
            }),
        }
    }
    (sizes, departures)
}

/// Which saddle into which collar and pillar, where at least one of each is measured.
pub(super) fn matching(m: &Made, entries: &Map<String, Value>) -> Vec<MatchIn> {
    let lot = |key: &str, id: &str| -> Option<(Vec<PartIn>, DimensionOut)> {
        let part = m.part(key)?;
        let d = part.features.iter().flat_map(|f| &f.dimensions).find(|d| d.id == id)?.clone();
        let made = (1..=part.quantity).filter_map(|k| {
            let mm = entries.get(&format!("{key}/{k}/{id}"))?["mm"].as_f64()?;
            Some(PartIn { name: format!("{} {k}", part.name), mm })
        });
        Some((made.collect(), d))
    };
    [
        ("Saddles into collars", "collar", "bore.diameter", "neck.diameter"),
        ("Saddles into pillars", "pillar", "bore.diameter", "piston.diameter"),
    ]
    .into_iter()
    .filter_map(|(name, hole, hole_id, shaft_id)| {
        let ((holes, h), (shafts, s)) = (lot(hole, hole_id)?, lot("saddle", shaft_id)?);
        // With one of each there is nothing to choose.
        let choice = holes.len() + shafts.len() > 2 && !holes.is_empty() && !shafts.is_empty();
        let wanted_clearance_um = [1e3 * (h.lower_mm - s.upper_mm), 1e3 * (h.upper_mm - s.lower_mm)];
        choice.then(|| MatchIn { name: name.to_owned(), holes, shafts, wanted_clearance_um })
    })
    .collect()
}
