//! What a saddle is: bore, clearance, arc, form, port, and where the arbor lies in it.
//!
//! In: dimensions in SI. Out: the same, checked. Faults name the fields as the door does, in mm, µm, bar.

use super::form::Form;
use crate::{Fault, Ranged};
use std::f64::consts::{FRAC_PI_2, PI};

/// A half-round saddle with one air port, seen as the unrolled film: s = R·θ to the right, z along the axis from the middle.
#[derive(Clone, Debug, PartialEq)]
pub struct Saddle {
    /// Diameter of the bore, m. 2 mm to 200 mm.
    pub bore_diameter_m: f64,
    /// Radial clearance: bore radius less arbor radius, m. 1 µm to 200 µm, and at most a hundredth of the bore.
    pub clearance_m: f64,
    /// Length along the axis, m. 1 mm to 200 mm, and a tenth to ten times the bore.
    pub length_m: f64,
    /// Angle that the bore covers, rad. 20° to 180°.
    pub arc_rad: f64,
    /// Angle by which the middle of the arc is turned to the right of straight down, rad: not zero where the sides are unequal.
    /// The arc must still cover the port, and reach at most 95° to either side.
    pub arc_turned_rad: f64,
    /// Departures of the bore from a true cylinder.
    pub form: Form,
    /// Where the air comes in.
    pub port: Port,
    /// Gap that remains when the arbor rests in the bore, by roughness and form, m. 0.1 µm to 20 µm; common practice
    /// (no source) takes 0.5 µm to 2 µm.
    pub rest_gap_m: f64,
}

/// The hole through which air enters the film.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Port {
    /// Diameter of the mouth, m.
    pub diameter_m: f64,
    /// How far the mouth lies to the right of straight down, along the surface, m.
    pub around_m: f64,
    /// How far it lies from the middle along the axis, m.
    pub along_m: f64,
    /// A jet that restricts the flow behind the mouth, its diameter in m.
    pub jet_diameter_m: Option<f64>,
    /// A shallow pocket round the mouth.
    pub pocket: Option<Pocket>,
    /// Volume between the jet and the surface (the drilled hole), m³; it stores air and can make the film hammer.
    pub volume_m3: f64,
    /// Discharge coefficient of the hole: 0.6 to 0.9, about 0.8 (common practice).
    pub discharge: f64,
}

/// A recess in the surface round the port, in which the port's pressure stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Pocket {
    /// Round, about the port.
    Round {
        /// Diameter, m.
        diameter_m: f64,
        /// Depth, m.
        depth_m: f64,
    },
    /// Rectangular, about the port, its length along the axis.
    Slot {
        /// Length along the axis, m.
        length_m: f64,
        /// Width around the bore, m.
        width_m: f64,
        /// Depth, m.
        depth_m: f64,
    },
}

/// Where the arbor lies in the bore: its centre at the saddle's middle, and its slopes along z.
///
/// Film: h = c + y cos θ − x sin θ + form + z (tilt_y cos θ − tilt_x sin θ).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Pose {
    /// To the right of the bore's centre, m.
    pub x_m: f64,
    /// Above the bore's centre, m.
    pub y_m: f64,
    /// Slope of x along z, rad.
    pub tilt_x_rad: f64,
    /// Slope of y along z, rad.
    pub tilt_y_rad: f64,
}

impl Pose {
    /// The four numbers in the order x, y, tilt x, tilt y.
    pub(crate) fn numbers(self) -> [f64; 4] {
        [self.x_m, self.y_m, self.tilt_x_rad, self.tilt_y_rad]
    }
}

impl Saddle {
    /// Radius of the bore, m.
    pub fn bore_radius_m(&self) -> f64 {
        0.5 * self.bore_diameter_m
    }

    /// The arc's ends, rad from straight down: left (negative) and right.
    pub fn arc_ends_rad(&self) -> (f64, f64) {
        (self.arc_turned_rad - 0.5 * self.arc_rad, self.arc_turned_rad + 0.5 * self.arc_rad)
    }

    /// Shortest way from the hole to an edge of the film, m.
    pub(crate) fn shortest_land_m(&self) -> f64 {
        let (left, right) = self.arc_ends_rad();
        let (half_around, half_along) = self.port.half_sizes_m();
        let along = 0.5 * self.length_m - self.port.along_m.abs() - half_along;
        let r = self.bore_radius_m();
        along.min(r * right - self.port.around_m - half_around).min(self.port.around_m - r * left - half_around)
    }

    /// Film thickness at an angle and a place along the axis, m; negative where the surfaces would overlap. A pocket is left out.
    pub fn film_at(&self, pose: Pose, theta_rad: f64, z_m: f64) -> f64 {
        let (sin, cos) = theta_rad.sin_cos();
        let form = self.form.at(theta_rad, z_m, self.length_m).0;
        self.clearance_m + (pose.y_m + z_m * pose.tilt_y_rad) * cos - (pose.x_m + z_m * pose.tilt_x_rad) * sin + form
    }

    /// The thinnest film, m: on a grid of half degrees and, along z, both ends and the middle, refined by a parabola.
    pub fn least_film_m(&self, pose: Pose) -> f64 {
        let (left, right) = self.arc_ends_rad();
        let steps = 360;
        let step = (right - left) / f64::from(steps);
        let mut least = f64::INFINITY;
        // The last three angles, for each place along the axis.
        let mut last = [[f64::INFINITY; 3]; 3];
        for i in 0..=steps {
            let theta = left + step * f64::from(i);
            let (sin, cos) = theta.sin_cos();
            for (at, z) in last.iter_mut().zip([-0.5, 0.0, 0.5]) {
                let z = z * self.length_m;
                let film = self.clearance_m + (pose.y_m + z * pose.tilt_y_rad) * cos - (pose.x_m + z * pose.tilt_x_rad) * sin
                    + self.form.at(theta, z, self.length_m).0;
                *at = [at[1], at[2], film];
                least = least.min(film);
                if at[0].is_finite() && at[1] < at[0] && at[1] < at[2] {
                    let bend = at[0] - 2.0 * at[1] + at[2];
                    least = least.min(at[1] - (at[2] - at[0]).powi(2) / (8.0 * bend));
                }
            }
        }
        least
    }

    /// The pose in which the arbor rests: as low as it goes with [`Saddle::rest_gap_m`] left at the contact.
    ///
    /// # Errors
    /// A [`Fault`] if bore and arbor interfere at the sides, so that the arbor does not go in at all.
    pub fn rest_pose(&self) -> Result<Pose, Fault> {
        let (left, right) = self.arc_ends_rad();
        let spots: Vec<(f64, f64, f64)> = (0..=360)
            .flat_map(|i| {
                let theta = left + (right - left) * f64::from(i) / 360.0;
                [-0.5 * self.length_m, 0.0, 0.5 * self.length_m].map(|z| {
                    let (sin, cos) = theta.sin_cos();
                    (sin, cos, self.clearance_m + self.form.at(theta, z, self.length_m).0)
                })
            })
            .collect();
        // Height at which the gap is left everywhere, for a given x; walls that stand upright are asked apart.
        let height = |x: f64| {
            spots
                .iter()
                .filter(|s| s.1 > 1e-3)
                .map(|&(sin, cos, h)| (self.rest_gap_m - h + x * sin) / cos)
                .fold(f64::NEG_INFINITY, f64::max)
        };
        let side = |x: f64| spots.iter().filter(|s| s.1 <= 1e-3).map(|&(sin, _, h)| h - x * sin).fold(f64::INFINITY, f64::min);
        // The height is convex in x: golden section.
        let (mut a, mut b) = (-2.0 * self.clearance_m, 2.0 * self.clearance_m);
        let ratio = 0.5 * (5.0_f64.sqrt() - 1.0);
        for _ in 0..40 {
            let (c, d) = (b - ratio * (b - a), a + ratio * (b - a));
            if height(c) < height(d) { b = d } else { a = c }
        }
        let x = 0.5 * (a + b);
        // A mirrored saddle rests in the middle; the search leaves dust there.
        let x = if x.abs() < 1e-6 * self.clearance_m { 0.0 } else { x };
        if side(x) < self.rest_gap_m.min(0.5 * self.clearance_m) {
            return Err(self.interference(side(x)));
        }
        Ok(Pose { x_m: x, y_m: height(x), ..Pose::default() })
    }

    fn interference(&self, gap_m: f64) -> Fault {
        Fault::new(
            "radial_clearance_um",
            um(self.clearance_m),
            "more than the form error at the sides",
            format!(
                "bore and arbor interfere: {} um would be left at a side of the bore; ream or lap the bore larger, take a thinner arbor, \
                 or a smaller arc",
                um(gap_m)
            ),
        )
    }

    /// Check every dimension.
    ///
    /// # Errors
    /// A [`Fault`] that names the first dimension outside its range, in the door's names and units, and what to change.
    pub fn check(&self) -> Result<(), Fault> {
        mm(self.bore_diameter_m).within("bore_diameter_mm", 2.0, 200.0, "mm", "the saddle's bore, as a half-round")?;
        mm(self.length_m).within("length_mm", 1.0, 200.0, "mm", "length of the saddle along the axis")?;
        let slender = self.length_m / self.bore_diameter_m;
        if !(0.1..=10.0).contains(&slender) {
            return Err(Fault::new("length_mm", mm(self.length_m), "a tenth to ten times the bore", "no saddle has such proportions"));
        }
        um(self.clearance_m).within(
            "radial_clearance_um",
            1.0,
            200.0_f64.min(um(self.bore_diameter_m) / 100.0),
            "um",
            "bore radius less arbor radius: without clearance there is no room for a film, and a wide one is no thin film any more; \
             change the bore or the arbor",
        )?;
        um(self.rest_gap_m).within("rest_gap_um", 0.1, 20.0, "um", "gap left by roughness and form when the arbor rests")?;
        if self.rest_gap_m > 0.5 * self.clearance_m {
            return Err(Fault::new(
                "rest_gap_um",
                um(self.rest_gap_m),
                "at most half the clearance",
                "the arbor must be able to sink below the middle",
            ));
        }
        let arc = self.arc_rad.to_degrees();
        if !(20.0..=180.0 + 1e-9).contains(&arc) {
            return Err(Fault::new(
                "arc_deg",
                arc,
                "20 to 180 deg",
                "a saddle is at most a half-round, or the arbor can't be laid in from above",
            ));
        }
        let (left, right) = self.arc_ends_rad();
        if !(-95.0_f64..=95.0).contains(&left.to_degrees()) || !(-95.0_f64..=95.0).contains(&right.to_degrees()) {
            return Err(Fault::new(
                "arc_turned_deg",
                self.arc_turned_rad.to_degrees(),
                "sides of at most 95 deg",
                "one side would close over the arbor",
            ));
        }
        self.form.check(self)?;
        self.port.check(self)?;
        let (mut side_least, open) = (f64::INFINITY, Pose { y_m: 0.0, ..Pose::default() });
        for theta in [left, right] {
            if theta.abs() > FRAC_PI_2 - 0.02 {
                for z in [-0.5, 0.0, 0.5] {
                    side_least = side_least.min(self.film_at(open, theta, z * self.length_m));
                }
            }
        }
        if side_least <= 0.0 {
            return Err(self.interference(side_least));
        }
        Ok(())
    }
}

/// Least land between hole and edge of the film, as a share of the saddle's length; a narrower one does not seal.
const LEAST_LAND: f64 = 0.03;

impl Port {
    /// Half sizes of the hole in the film, around and along, m: the pocket where there is one, else the mouth.
    pub(crate) fn half_sizes_m(&self) -> (f64, f64) {
        match self.pocket {
            None => (0.5 * self.diameter_m, 0.5 * self.diameter_m),
            Some(Pocket::Round { diameter_m, .. }) => (0.5 * diameter_m, 0.5 * diameter_m),
            Some(Pocket::Slot { length_m, width_m, .. }) => (0.5 * width_m, 0.5 * length_m),
        }
    }

    /// Depth of the pocket, m; zero without one.
    pub fn pocket_depth_m(&self) -> f64 {
        match self.pocket {
            None => 0.0,
            Some(Pocket::Round { depth_m, .. } | Pocket::Slot { depth_m, .. }) => depth_m,
        }
    }

    /// Area of the hole in the film, m².
    pub fn hole_area_m2(&self) -> f64 {
        let (a, b) = self.half_sizes_m();
        if matches!(self.pocket, Some(Pocket::Slot { .. })) { 4.0 * a * b } else { PI * a * a }
    }

    /// Volume between the restriction and the film, m³: pocket and drilled hole.
    pub fn stored_volume_m3(&self) -> f64 {
        self.hole_area_m2() * self.pocket_depth_m() + self.volume_m3
    }

    /// The mouth of a port that is drilled out of square: where a drill that starts `start_m` off straight down and leans by `slant_rad`
    /// to the right comes out after `wall_m` of wall. Its slightly longer mouth (1/cos of the slant) is left out.
    pub fn mouth_of_slanted_m(start_m: f64, slant_rad: f64, wall_m: f64) -> f64 {
        start_m + wall_m * slant_rad.tan()
    }

    fn check(&self, saddle: &Saddle) -> Result<(), Fault> {
        let (left, right) = saddle.arc_ends_rad();
        let radius = saddle.bore_radius_m();
        let land = LEAST_LAND * saddle.length_m;
        mm(self.diameter_m).within("port_diameter_mm", 0.05, 100.0, "mm", "diameter of the port's mouth")?;
        for (field, v) in [("port_offset_mm", self.around_m), ("port_axial_mm", self.along_m)] {
            mm(v).within(field, -100.0, 100.0, "mm", "place of the port on the bore's surface")?;
        }
        self.discharge.within("discharge", 0.3, 1.0, "", "discharge coefficient of the hole, about 0.8")?;
        if let Some(jet) = self.jet_diameter_m {
            mm(jet).within(
                "jet_diameter_mm",
                0.03,
                mm(self.diameter_m),
                "mm",
                "the jet restricts the flow behind the mouth: it can't be the wider",
            )?;
        }
        (self.volume_m3 * 1e9).within("port_volume_mm3", 0.0, 1e6, "mm3", "volume of the drilled hole between jet and surface")?;
        let (field, size) = match self.pocket {
            None => ("port_diameter_mm", self.diameter_m),
            Some(Pocket::Round { diameter_m, depth_m }) => {
                check_pocket("pocket.diameter_mm", diameter_m, depth_m, self.diameter_m)?;
                ("pocket.diameter_mm", diameter_m)
            }
            Some(Pocket::Slot { length_m, width_m, depth_m }) => {
                check_pocket("pocket.length_mm", length_m, depth_m, self.diameter_m)?;
                check_pocket("pocket.width_mm", width_m, depth_m, self.diameter_m)?;
                if width_m > length_m { ("pocket.width_mm", width_m) } else { ("pocket.length_mm", length_m) }
            }
        };
        let (half_around, half_along) = self.half_sizes_m();
        let most = (0.5 * saddle.length_m - land).min(0.5 * radius * (right - left) - land);
        if half_along > 0.5 * saddle.length_m - land || half_around > 0.5 * radius * (right - left) - land {
            return Err(Fault::new(
                field,
                mm(size),
                format!("at most {:.3} mm", mm(2.0 * most)),
                format!(
                    "the hole must fit inside the film: the saddle is {:.3} mm long and its arc {:.3} mm wide",
                    mm(saddle.length_m),
                    mm(radius * (right - left))
                ),
            ));
        }
        if self.along_m.abs() + half_along > 0.5 * saddle.length_m - land {
            return Err(Fault::new(
                "port_axial_mm",
                mm(self.along_m),
                format!("at most {:.3} mm to either side", mm(0.5 * saddle.length_m - land - half_along)),
                "the port lies outside the saddle or so near its end that no land seals it: move it inwards",
            ));
        }
        let (low, high) = (radius * left + half_around + land, radius * right - half_around - land);
        if self.around_m < low || self.around_m > high {
            return Err(Fault::new(
                "port_offset_mm",
                mm(self.around_m),
                format!("{:.3} to {:.3} mm", mm(low), mm(high)),
                "the port lies outside the saddle or so near its side that no land seals it: move it inwards",
            ));
        }
        Ok(())
    }
}

fn check_pocket(field: &str, size_m: f64, depth_m: f64, port_m: f64) -> Result<(), Fault> {
    mm(size_m).within(field, mm(port_m), 200.0, "mm", "the pocket surrounds the port's mouth: it can't be the smaller")?;
    mm(depth_m).within("pocket.depth_mm", 0.005, 20.0, "mm", "depth of the pocket, well over the film's thickness")?;
    Ok(())
}

pub(crate) fn mm(m: f64) -> f64 {
    m * 1e3
}

/// Micrometres, rounded to what a message needs.
pub(crate) fn um(m: f64) -> f64 {
    (m * 1e9).round() / 1e3
}
