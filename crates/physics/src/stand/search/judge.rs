//! What one design does: its merits within the clearance that is held, and at every corner of its tolerances.

use super::{Choice, Corners, Design, Merits, SAFE_LOAD_SHARE, Search};
use crate::Fault;
use crate::film::{Form, Port, Saddle};
use crate::stand::budget::floor;
use crate::stand::on_air::{Borne, OnAir, hammer};
use crate::stand::supports::Support;
use std::f64::consts::{FRAC_PI_2, FRAC_PI_4};

impl Search {
    /// As drawn and at both edges of the held clearance.
    pub(super) fn design(&self, choice: Choice) -> Result<Design, Fault> {
        let held: &[f64] = if self.clearance_held_um > 0.0 { &[0.0, -1.0, 1.0] } else { &[0.0] };
        let mut each = Vec::with_capacity(held.len());
        for off in held {
            let on = self.with(&Choice { clearance_um: choice.clearance_um + off * self.clearance_held_um, ..choice });
            let borne = on.borne()?;
            each.push((self.merits(&on, &borne)?, on, borne));
        }
        let worst = |each: &[(Merits, OnAir, Borne)]| each.iter().skip(1).fold(each[0].0, |a, b| a.worse(b.0));
        if self.demands.met_by(&worst(&each)) {
            for (merits, on, borne) in &mut each {
                merits.damping_ratio = Some(damping(on, borne)?);
            }
        }
        Ok(Design { choice, drawn: each[0].0, worst: worst(&each) })
    }

    fn merits(&self, on: &OnAir, borne: &Borne) -> Result<Merits, Fault> {
        // The allowance scales the verdict only, not the floor.
        let budget = floor(&Support::Air(borne.film), &self.rotor, &self.setting, self.demands.floor_g_mm, &[])?;
        let each = [0, 1].map(|i| {
            let (floats, lowest) = (&borne.floats[i], borne.floats[i].lowest());
            Merits {
                flow_l_min: borne.flow_l_min,
                stiffness_n_um: lowest.stiffness_up_n_m() / 1e6,
                floor_g_mm: budget.floor_g_mm,
                least_film_um: lowest.state.least_film_m * 1e6,
                load_share: on.loads_n[i] / floats.largest_load_n,
                lift_off_bar: floats.lift_off_pa.map(|p| p / 1e5),
                lifts_by_itself: floats.lifts_by_itself,
                damping_ratio: None,
            }
        });
        Ok(each[0].worse(each[1]))
    }

    /// The pattern with these sizes.
    fn with(&self, choice: &Choice) -> OnAir {
        let p = &self.pattern;
        let arbor_m = p.saddle.bore_diameter_m - 2.0 * p.saddle.clearance_m;
        let port = Port { diameter_m: choice.port_mm * 1e-3, jet_diameter_m: choice.jet_mm.map(|d| d * 1e-3), ..p.saddle.port };
        let saddle = Saddle {
            bore_diameter_m: arbor_m + 2e-6 * choice.clearance_um,
            clearance_m: choice.clearance_um * 1e-6,
            length_m: choice.length_mm * 1e-3,
            port,
            ..p.saddle.clone()
        };
        let mut on = OnAir { saddle, ..p.clone() };
        on.duty.supply_pa = choice.supply_bar * 1e5;
        on
    }

    /// Whether a design's bouncing is damped as demanded, as drawn and at both edges of the clearance.
    pub(super) fn is_damped(&self, design: &Design) -> bool {
        let held = self.clearance_held_um;
        [0.0, -held, held].iter().all(|off| {
            let on = self.with(&Choice { clearance_um: design.choice.clearance_um + off, ..design.choice });
            on.borne().and_then(|borne| damping(&on, &borne)).is_ok_and(|d| d >= self.demands.damping_ratio)
        })
    }

    /// Float a design at every corner of clearance (as drawn and both edges), port (aside), and oval (its four telling angles).
    ///
    /// # Errors
    /// A [`Fault`] where it does not float.
    pub fn corners(&self, choice: &Choice) -> Result<Corners, Fault> {
        let clearances: &[f64] = if self.clearance_held_um > 0.0 { &[-1.0, 0.0, 1.0] } else { &[0.0] };
        let angles: &[f64] = if self.pattern.oval_m > 0.0 { &[0.0, FRAC_PI_4, FRAC_PI_2, 3.0 * FRAC_PI_4] } else { &[0.0] };
        let mut out = Corners {
            count: 0,
            flow_l_min: 0.0,
            stiffness_n_um: f64::INFINITY,
            least_film_um: f64::INFINITY,
            drift_g_mm: 0.0,
            lift_off_bar: Some(0.0),
            load_share: 0.0,
            lifts_by_itself: true,
            damping_ratio: f64::INFINITY,
        };
        for off in clearances {
            let on = self.with(&Choice { clearance_um: choice.clearance_um + off * self.clearance_held_um, ..*choice });
            for angle in angles {
                let mut saddle = on.saddle.clone();
                saddle.port.around_m += on.port_offset_m;
                if on.oval_m > 0.0 {
                    saddle.form.lobes.extend(Form::oval(on.oval_m, *angle).lobes);
                }
                let (mut flow, mut drift) = (0.0, 0.0);
                let alike = on.is_alike();
                for i in 0..if alike { 1 } else { 2 } {
                    let duty = on.duty_of(i);
                    let floats = saddle.floats(&duty)?;
                    let lowest = floats.lowest();
                    let saddles = if alike { 2.0 } else { 1.0 };
                    flow += saddles * lowest.state.flow_l_min_anr();
                    drift += saddles * lowest.drift().g_mm();
                    out.stiffness_n_um = out.stiffness_n_um.min(lowest.stiffness_up_n_m() / 1e6);
                    out.least_film_um = out.least_film_um.min(lowest.state.least_film_m * 1e6);
                    out.load_share = out.load_share.max(duty.load_n / floats.largest_load_n);
                    out.lift_off_bar = out.lift_off_bar.zip(floats.lift_off_pa).map(|(a, b)| a.max(b / 1e5));
                    out.lifts_by_itself &= floats.lifts_by_itself;
                    out.damping_ratio = out.damping_ratio.min(hammer(&saddle, &duty, lowest)?.damping_ratio);
                }
                out.count += 1;
                out.flow_l_min = out.flow_l_min.max(flow);
                out.drift_g_mm = out.drift_g_mm.max(drift.abs());
            }
        }
        Ok(out)
    }

    pub(super) fn survives(&self, corners: &Corners) -> bool {
        let d = &self.demands;
        corners.flow_l_min <= d.flow_l_min
            && corners.stiffness_n_um >= d.stiffness_n_um
            && corners.load_share <= SAFE_LOAD_SHARE
            && (corners.lifts_by_itself || !d.lifts_by_itself)
            && corners.damping_ratio >= d.damping_ratio
    }
}

/// The least damping of both saddles.
fn damping(on: &OnAir, borne: &Borne) -> Result<f64, Fault> {
    let mut least = f64::INFINITY;
    for end in 0..if on.is_alike() { 1 } else { 2 } {
        least = least.min(hammer(&on.saddle, &on.duty_of(end), borne.floats[end].lowest())?.damping_ratio);
    }
    Ok(least)
}
