//! The bored pillar: hoop stress, growth of its bore, wall, port flat, and what is left under the bore.
//!
//! In: pillar, pressure, port, thread underneath. Out: [`PillarWalls`], or a fault where a wall is too thin. Thick cylinder with open ends (Lamé):
//! hoop at the bore p(ro² + ri²)/(ro² − ri²), outside 2p·ri²/(ro² − ri²), bore radius growth p·ri/E·((ro² + ri²)/(ro² − ri²) + ν).

use super::super::thread::{DRILL_POINT_SHARE, Port, PortSeat, Thread, flat_width_mm};
use crate::{Fault, Ranged};

/// Least wall between the drilled bottom hole and the bore's floor, mm. Common practice, no source.
pub const LEAST_FLOOR_MM: f64 = 3.0;
/// Factor of the wall's yield strength over its hoop stress. Common practice for air receivers' shells; a pillar has far more.
pub const LEAST_HOOP_FACTOR: f64 = 4.0;

/// A thick cylinder under pressure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lame {
    /// Hoop stress at the bore, MPa.
    pub hoop_inner_mpa: f64,
    /// Hoop stress outside, MPa.
    pub hoop_outer_mpa: f64,
    /// Growth of the bore's radius, µm.
    pub growth_um: f64,
    /// Hoop stress by the thin-wall formula p·ri/t, which is low for thick walls, MPa.
    pub thin_wall_mpa: f64,
}

/// A cylinder with open ends under inside pressure.
///
/// # Errors
/// A [`Fault`] for radii that leave no wall, or values out of range.
pub fn lame(pressure_mpa: f64, inner_mm: f64, outer_mm: f64, young_gpa: f64, poisson: f64) -> Result<Lame, Fault> {
    let p = pressure_mpa.within("pressure_mpa", 0.0, 100.0, "MPa", "pressure inside; 1 bar is 0.1 MPa")?;
    let ri = inner_mm.within("bore_radius_mm", 0.1, 1000.0, "mm", "radius of the bore")?;
    let ro = outer_mm.within("outside_radius_mm", ri * 1.01, 2000.0, "mm", "the bore leaves no wall")?;
    let e = young_gpa.within("young_gpa", 1.0, 1000.0, "GPa", "aluminium 70, steel 210")? * 1e3;
    let nu = poisson.within("poisson", 0.0, 0.5, "", "metals have 0.3")?;
    let (i2, o2) = (ri * ri, ro * ro);
    let sum = (o2 + i2) / (o2 - i2);
    Ok(Lame {
        hoop_inner_mpa: p * sum,
        hoop_outer_mpa: 2.0 * p * i2 / (o2 - i2),
        growth_um: 1e3 * p * ri / e * (sum + nu),
        thin_wall_mpa: p * ri / (ro - ri),
    })
}

/// A bored pillar that stands on a plate, its bore open at the top.
#[derive(Clone, Debug, PartialEq)]
pub struct Pillar {
    /// Diameter of a round pillar, or width across the flats of a square one, mm.
    pub outside_mm: f64,
    /// Whether it is round.
    pub round: bool,
    /// Height, mm.
    pub height_mm: f64,
    /// Bore, mm.
    pub bore_mm: f64,
    /// Depth of the bore from the top, mm.
    pub bore_depth_mm: f64,
    /// Whether the bore ends flat; else by a drill's point below that depth.
    pub flat_bottom: bool,
    /// Port.
    pub port: Option<&'static Port>,
    /// Height of the port above the pillar's foot, mm.
    pub port_height_mm: f64,
    /// Distance of the port's flat from the pillar's axis, mm; a square pillar without a milled flat has half its width.
    pub flat_from_axis_mm: f64,
    /// Passage from the port on into the bore, mm.
    pub passage_mm: Option<f64>,
    /// Thread in the foot, and its length of full thread, mm.
    pub foot_thread: Option<(&'static Thread, f64)>,
    /// Young's modulus, GPa.
    pub young_gpa: f64,
    /// Poisson's ratio.
    pub poisson: f64,
    /// Yield strength, MPa; `None` where it has none.
    pub yield_mpa: Option<f64>,
}

/// What is left of a pillar's metal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PillarWalls {
    /// Thinnest wall round the bore, mm.
    pub wall_mm: f64,
    /// Stress and growth under the pressure.
    pub lame: Lame,
    /// Yield strength over the hoop stress at the bore.
    pub hoop_factor: Option<f64>,
    /// Wall between the port's flat and the bore, mm.
    pub port_wall_mm: Option<f64>,
    /// Of that, more than the thread needs, mm.
    pub port_wall_left_mm: Option<f64>,
    /// Width of the port's flat, mm.
    pub flat_width_mm: Option<f64>,
    /// Drilled depth of the foot's hole, mm.
    pub foot_hole_mm: Option<f64>,
    /// Metal between the foot's hole and the bore, mm.
    pub floor_mm: f64,
}

impl Pillar {
    /// Whether bore, port and foot thread leave metal enough.
    ///
    /// # Errors
    /// A [`Fault`] for values out of range, a wall too thin for the pressure or the port, a port that misses the bore, a foot's hole that meets
    /// the bore.
    pub fn walls(&self, pressure_bar: f64) -> Result<PillarWalls, Fault> {
        let bore = self.bore_mm.within("pillar.bore_mm", 1.0, 500.0, "mm", "bore of the pillar")?;
        let outside = self.outside_mm.within("pillar.outside_mm", bore * 1.05, 1000.0, "mm", "the bore leaves no wall")?;
        let height = self.height_mm.within("pillar.height_mm", 5.0, 3000.0, "mm", "height of the pillar")?;
        let depth = self.bore_depth_mm.within("pillar.bore_depth_mm", 1.0, height, "mm", "from the top, within the pillar")?;
        let p = pressure_bar.within("supply_bar", 0.0, 16.0, "bar gauge", "shop air")? * 0.1;
        let stress = lame(p, 0.5 * bore, 0.5 * outside, self.young_gpa, self.poisson).map_err(|f| f.inside("pillar"))?;
        let hoop_factor = self.yield_mpa.map(|y| y / stress.hoop_inner_mpa.max(1e-9));
        if let Some(factor) = hoop_factor.filter(|f| *f < LEAST_HOOP_FACTOR) {
            let why = "the wall would be stressed too near to its yield: a thicker pillar or a smaller bore";
            return Err(Fault::new("pillar.outside_mm", format!("a factor of {factor:.2}"), format!("{LEAST_HOOP_FACTOR} or more"), why));
        }
        let point = if self.flat_bottom { 0.0 } else { DRILL_POINT_SHARE * bore };
        let floor_height = height - depth - point;
        let foot_hole_mm = match self.foot_thread {
            None => None,
            Some((thread, full)) => {
                let full = full.within("pillar.foot_thread_mm", 1.0, height, "mm", "full thread in the pillar's foot")?;
                Some(thread.drilled_depth_mm(full))
            }
        };
        let floor_mm = floor_height - foot_hole_mm.unwrap_or(0.0);
        if floor_mm < LEAST_FLOOR_MM {
            let tells = if floor_mm > 0.0 { "the floor between them is too thin" } else { "the holes meet" };
            let why = format!("bore and foot's hole: {tells}, and the air leaves by the thread; bore less deep, or shorten the thread");
            return Err(Fault::new(
                "pillar.bore_depth_mm",
                format!("{floor_mm:.2} mm of floor"),
                format!("{LEAST_FLOOR_MM} mm or more"),
                why,
            ));
        }
        let port = self.port.map(|port| self.port(port, height - depth)).transpose()?;
        Ok(PillarWalls {
            wall_mm: 0.5 * (outside - bore),
            lame: stress,
            hoop_factor,
            port_wall_mm: port.map(|p| p.0),
            port_wall_left_mm: port.map(|p| p.1),
            flat_width_mm: port.map(|p| p.2),
            foot_hole_mm,
            floor_mm,
        })
    }

    /// Wall at the port, what is left of it, width of its flat.
    fn port(&self, port: &Port, floor_height: f64) -> Result<(f64, f64, f64), Fault> {
        let half = 0.5 * self.outside_mm;
        let why = "the flat lies within the pillar and outside its bore";
        let flat = self.flat_from_axis_mm.within("pillar.flat_from_axis_mm", 0.5 * self.bore_mm, half, "mm", why)?;
        let width = if self.round { flat_width_mm(self.outside_mm, flat) } else { self.outside_mm };
        let wall = flat - 0.5 * self.bore_mm;
        let seat = PortSeat { wall_mm: wall, flat_width_mm: width, passage_mm: self.passage_mm };
        let left = port.fits(&seat).map_err(|f| match f.field.as_str() {
            "wall_mm" => Fault { field: "pillar.flat_from_axis_mm".into(), value: format!("{wall:.2} mm of wall").into(), ..f },
            "flat_width_mm" => Fault { field: "pillar.flat_from_axis_mm".into(), value: format!("a flat {width:.1} mm wide").into(), ..f },
            _ => f.inside("pillar"),
        })?;
        // What opens into the bore must do so above its floor and below its mouth.
        let opening = 0.5 * self.passage_mm.unwrap_or(port.tap_drill_mm);
        let why = "the port must open into the bore, above its floor and below the pillar's top";
        let top = self.height_mm - 0.5 * port.d_mm;
        self.port_height_mm.within("pillar.port_height_mm", floor_height + opening, top, "mm", why)?;
        Ok((wall, left, width))
    }
}
