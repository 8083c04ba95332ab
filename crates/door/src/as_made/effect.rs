//! What the parts as measured do to the stand: all together, each alone, and put together in the best way.

use super::{AsMadeIn, DepartureIn, DepartureName, RoleName, SizeIn, at_input, workpiece};
use crate::Fault;
use crate::stand::StandIn;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::making::made::{Doing, Laying, Made, WORST_OVAL_DEG, Workpiece};

/// What a stand does.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DoingOut {
    /// Thinnest film, µm.
    pub least_film_um: f64,
    /// What the tilt eats of it, the worse saddle, µm.
    pub lost_to_tilt_um: f64,
    /// Air that leaks through both films, free, litres a minute (ISO 8778).
    pub flow_l_min: f64,
    /// Drift torque, g·mm, counter-clockwise.
    pub drift_g_mm: f64,
    /// Tilt of the arbor's axis on a level plate, mm/m, far end high positive.
    pub axis_tilt_mm_per_m: f64,
    /// Smallest unbalance that the stand can show, g·mm.
    pub floor_g_mm: f64,
}

impl From<&Doing> for DoingOut {
    fn from(d: &Doing) -> Self {
        Self {
            least_film_um: d.least_film_um,
            lost_to_tilt_um: d.lost_to_tilt_um,
            flow_l_min: d.flow_l_min,
            drift_g_mm: d.drift_g_mm,
            axis_tilt_mm_per_m: d.axis_tilt_mm_per_m,
            floor_g_mm: d.floor_g_mm,
        }
    }
}

/// One measured value alone, all else as drawn.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AloneOut {
    /// What it is.
    pub name: String,
    /// The floor with it alone, g·mm.
    pub floor_g_mm: f64,
    /// What it changes of the drift, g·mm.
    pub drift_change_g_mm: f64,
    /// What it changes of the air, litres a minute.
    pub flow_change_l_min: f64,
}

/// Another way to put the same parts together.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LayingOut {
    /// What to do.
    pub says: String,
    /// What it does then.
    pub doing: DoingOut,
}

/// What the measured set does.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct EffectOut {
    /// In a few sentences.
    pub says: String,
    /// Exactly as drawn.
    pub drawn: DoingOut,
    /// As measured.
    pub made: DoingOut,
    /// Each value alone, the one that costs most first.
    pub alone: Vec<AloneOut>,
    /// The same parts put together better; missing where no way of the sixteen lowers the floor by a fiftieth.
    pub better: Option<LayingOut>,
}

/// One measured value as a change to the drawing; none for what has no part in the film.
struct Change<'a> {
    name: &'a str,
    put: Box<dyn Fn(&mut Made) + 'a>,
}

fn of_size(s: &SizeIn) -> Option<Change<'_>> {
    let off_mm = s.measured_mm? - s.nominal_mm;
    let put: Box<dyn Fn(&mut Made)> = match s.role {
        RoleName::FirstBore => Box::new(move |m| m.bore_um[0] = 1e3 * off_mm),
        RoleName::SecondBore => Box::new(move |m| m.bore_um[1] = 1e3 * off_mm),
        RoleName::FirstArbor => Box::new(move |m| m.arbor_um[0] = 1e3 * off_mm),
        RoleName::SecondArbor => Box::new(move |m| m.arbor_um[1] = 1e3 * off_mm),
        RoleName::FirstLength => Box::new(move |m| m.length_mm[0] = off_mm),
        RoleName::SecondLength => Box::new(move |m| m.length_mm[1] = off_mm),
        RoleName::FirstPort => Box::new(move |m| m.port_mm[0] = off_mm),
        RoleName::SecondPort => Box::new(move |m| m.port_mm[1] = off_mm),
        RoleName::FirstJet => Box::new(move |m| m.jet_mm[0] = off_mm),
        RoleName::SecondJet => Box::new(move |m| m.jet_mm[1] = off_mm),
        RoleName::OtherInside | RoleName::OtherOutside | RoleName::Other => return None,
    };
    Some(Change { name: &s.name, put })
}

fn of_departure(d: &DepartureIn, saddle_mm: f64) -> Option<Change<'_>> {
    let um = d.measured_um?;
    let at = d.at_deg.unwrap_or(WORST_OVAL_DEG);
    // µm over the saddle's length are so many µrad.
    let slope = 1e3 * um / saddle_mm;
    let put: Box<dyn Fn(&mut Made)> = match d.role {
        DepartureName::FirstPortAside => Box::new(move |m| m.port_aside_mm[0] = 1e-3 * um),
        DepartureName::SecondPortAside => Box::new(move |m| m.port_aside_mm[1] = 1e-3 * um),
        DepartureName::FirstOval => Box::new(move |m| (m.oval_um[0], m.oval_deg[0]) = (um, at)),
        DepartureName::SecondOval => Box::new(move |m| (m.oval_um[1], m.oval_deg[1]) = (um, at)),
        DepartureName::SecondAside => Box::new(move |m| m.second_off_um[0] = um),
        DepartureName::SecondAbove => Box::new(move |m| m.second_off_um[1] = um),
        DepartureName::FirstAskewAside => Box::new(move |m| m.askew_urad[0][0] = slope),
        DepartureName::FirstAskewUp => Box::new(move |m| m.askew_urad[0][1] = slope),
        DepartureName::SecondAskewAside => Box::new(move |m| m.askew_urad[1][0] = slope),
        DepartureName::SecondAskewUp => Box::new(move |m| m.askew_urad[1][1] = slope),
        DepartureName::Other => return None,
    };
    Some(Change { name: &d.name, put })
}

pub(super) fn effect(stand: &StandIn, input: &AsMadeIn) -> Result<EffectOut, Fault> {
    let work = workpiece(stand)?;
    drawn_as_the_sheet(&work, input)?;
    let saddle_mm = 1e3 * work.on.saddle.length_m;
    let sizes = input.sizes.iter().filter_map(of_size);
    let changes: Vec<Change<'_>> = sizes.chain(input.departures.iter().filter_map(|d| of_departure(d, saddle_mm))).collect();
    let drawn = work.doing(&Made::default()).map_err(|f| at_input(&f))?;
    let mut made = Made::default();
    for change in &changes {
        (change.put)(&mut made);
    }
    let doing = work.doing(&made).map_err(|f| at_input(&f))?;
    let mut alone = vec![];
    for change in &changes {
        let mut one = Made::default();
        (change.put)(&mut one);
        // What floats together may not float alone: then there is nothing to tell of it.
        let Ok(by) = work.doing(&one) else { continue };
        alone.push(AloneOut {
            name: change.name.to_owned(),
            floor_g_mm: by.floor_g_mm,
            drift_change_g_mm: by.drift_g_mm - drawn.drift_g_mm,
            flow_change_l_min: by.flow_l_min - drawn.flow_l_min,
        });
    }
    alone.sort_by(|a, b| b.floor_g_mm.total_cmp(&a.floor_g_mm));
    let better = better(&work, &made, &doing);
    let mut says = format!(
        "As measured the floor is {:.2} g·mm (as drawn {:.2}), the thinnest film {:.1} µm, the air {:.2} litres a minute, the drift {:+.2} g·mm, and the \
         arbor tilts by {:.3} mm/m.",
        doing.floor_g_mm, drawn.floor_g_mm, doing.least_film_um, doing.flow_l_min, doing.drift_g_mm, doing.axis_tilt_mm_per_m
    );
    if doing.floor_g_mm <= stand.allowance_g_mm {
        says += " It does not matter for this rotor.";
    } else if drawn.floor_g_mm <= stand.allowance_g_mm {
        says += " That is more than this rotor's allowance: it matters.";
    }
    if let Some(b) = &better {
        says += &format!(" {} and it is {:.2} g·mm.", b.says, b.doing.floor_g_mm);
    }
    Ok(EffectOut { says, drawn: (&drawn).into(), made: (&doing).into(), alone, better })
}

/// A role's nominal size must be the sheet's, or the effect is told of another stand.
fn drawn_as_the_sheet(work: &Workpiece, input: &AsMadeIn) -> Result<(), Fault> {
    let s = &work.on.saddle;
    let arbor_mm = 1e3 * (s.bore_diameter_m - 2.0 * s.clearance_m);
    for (i, size) in input.sizes.iter().enumerate() {
        let (drawn_mm, what) = match size.role {
            RoleName::FirstBore | RoleName::SecondBore => (1e3 * s.bore_diameter_m, "bore"),
            RoleName::FirstArbor | RoleName::SecondArbor => (arbor_mm, "arbor"),
            RoleName::FirstLength | RoleName::SecondLength => (1e3 * s.length_m, "saddle's length"),
            RoleName::FirstPort | RoleName::SecondPort => (1e3 * s.port.diameter_m, "port"),
            RoleName::FirstJet | RoleName::SecondJet => {
                let Some(d) = s.port.jet_diameter_m else {
                    let why = "the sheet has plain ports without a jet";
                    return Err(Fault::new(format!("sizes[{i}].role"), "a jet", "a role of this stand", why));
                };
                (1e3 * d, "jet")
            }
            RoleName::OtherInside | RoleName::OtherOutside | RoleName::Other => continue,
        };
        // A tenth of a micrometre: the same drawing, whatever way the clearance was written.
        if (size.nominal_mm - drawn_mm).abs() > 1e-4 {
            let why = format!("the sheet's {what} is {drawn_mm:.4} mm: one of them is another drawing's");
            return Err(Fault::new(format!("sizes[{i}].nominal_mm"), size.nominal_mm, format!("{drawn_mm:.4} mm"), why));
        }
    }
    Ok(())
}

/// The way of putting the parts together with the lowest floor; of nearly equal ones that with the fewest moves.
fn better(work: &Workpiece, made: &Made, as_laid: &Doing) -> Option<LayingOut> {
    let mut best: Option<(Laying, Doing)> = None;
    for way in Laying::all().skip(1) {
        let laid = made.laid(way);
        // A way that changes nothing, or that does not float, is none.
        if laid == *made {
            continue;
        }
        let Ok(doing) = work.doing(&laid) else { continue };
        let gains = best.as_ref().is_none_or(|(b, d)| {
            doing.floor_g_mm < 0.99 * d.floor_g_mm || (way.moves() < b.moves() && doing.floor_g_mm < 1.01 * d.floor_g_mm)
        });
        if gains {
            best = Some((way, doing));
        }
    }
    let (way, doing) = best.filter(|(_, d)| d.floor_g_mm < 0.98 * as_laid.floor_g_mm)?;
    let mut todo = vec![];
    if way.swapped {
        todo.push("swap the saddles left and right");
    }
    match way.turned {
        [true, true] => todo.push("turn both saddles end for end"),
        [true, false] => todo.push("turn the saddle on the operator's side end for end"),
        [false, true] => todo.push("turn the far saddle end for end"),
        [false, false] => {}
    }
    if way.arbor_turned {
        todo.push("lay the arbor in the other way round");
    }
    let text = todo.join(", ");
    let mut chars = text.chars();
    let says = chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect());
    Some(LayingOut { says, doing: (&doing).into() })
}
