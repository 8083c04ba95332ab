//! The O-ring of a sliding saddle: groove, squeeze, stretch, fill and friction at the worst of all tolerances.
//!
//! In: bore, saddle and groove with their limits, the ring, how it serves. Out: a [`Sealed`] with its ranges, or a fault where the ring
//! loses contact, overfills its groove, is stretched too far, or the groove breaks through.
//!
//! Squeeze (d2 − t)/d2 with t from groove bottom to the surface that is sealed; fill π·d2²/(4·t·b); a stretched ring is thinner by
//! 1/√(1 + stretch) (constant volume). The saddle pushed to one side opens the gland on the other by half the largest play
//! (method of SAE AS4716).

mod table;

use crate::{Fault, Ranged};
use std::f64::consts::PI;

/// Most that the groove may be filled, per cent, at the worst of all tolerances. Source: published guidance bands of handbooks.
pub const MOST_FILL_PERCENT: f64 = 85.0;
/// Most that a ring in a groove on the saddle may be stretched in service, per cent. Source: seal makers' guidance.
pub const MOST_STRETCH_PERCENT: f64 = 5.0;
/// Most that a ring in a groove of the bore may be pressed smaller on its outside, per cent. From memory.
pub const MOST_PRESSED_PERCENT: f64 = 3.0;
/// Most squeeze of a ring that does not move, per cent. Source: O-ring design guide.
pub const MOST_SQUEEZE_STILL_PERCENT: f64 = 30.0;
/// Most squeeze of a ring that slides, per cent: more holds the saddle by friction. Source: O-ring design guide, 5 to 20.
pub const MOST_SQUEEZE_SLIDING_PERCENT: f64 = 20.0;
/// Squeeze at the worst below which a ring at rest is told to be doubtful, per cent. Source: O-ring design guide, least 5 to 10.
pub const LOW_SQUEEZE_STILL_PERCENT: f64 = 5.0;
/// The same of a ring that slides under air; the published grooves of thick sections keep 3.6 at their own worst.
pub const LOW_SQUEEZE_SLIDING_PERCENT: f64 = 3.0;
/// Least wall behind and beside a groove, mm. Common practice, no source.
pub const LEAST_WALL_MM: f64 = 1.0;
/// Tolerance of a groove's width, mm, upwards. Source: published groove tables.
pub const WIDTH_TOLERANCE_MM: f64 = 0.25;

/// A published radial housing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Housing {
    /// Section of the ring, mm.
    pub section_mm: f64,
    /// Its tolerance, ± mm (ISO 3601-1 class B).
    pub section_tolerance_mm: f64,
    /// Radial depth t where the parts do not move, mm.
    pub still_depth_mm: f64,
    /// Width b where the parts do not move, and in general reciprocating service, mm (+0.25/0).
    pub still_width_mm: f64,
    /// Depth in general reciprocating service, mm.
    pub reciprocating_depth_mm: Option<f64>,
    /// Depth in sliding air service, mm.
    pub air_depth_mm: f64,
    /// Width in sliding air service, mm (+0.25/0).
    pub air_width_mm: f64,
    /// Section of the published row that the air columns come from, mm: a neighbour where there was none.
    pub air_row_mm: f64,
    /// Lead-in where the parts do not move, mm.
    pub still_lead_in_mm: Option<f64>,
    /// Lead-in in air service, mm.
    pub air_lead_in_mm: f64,
    /// Length of a lead-in at 15°, mm.
    pub lead_in_at_15_deg_mm: Option<f64>,
    /// Radius in the groove's corners, mm.
    pub corner_radius_mm: f64,
}

impl Housing {
    /// All, by rising section.
    pub const fn all() -> &'static [Self] {
        &table::HOUSINGS
    }

    /// The housing of a section.
    ///
    /// # Errors
    /// A [`Fault`] for `section_mm` that lists the sections.
    pub fn find(section_mm: f64) -> Result<&'static Self, Fault> {
        table::HOUSINGS.iter().find(|h| (h.section_mm - section_mm).abs() < 1e-6).ok_or_else(|| {
            let sections: Vec<String> = table::HOUSINGS.iter().map(|h| h.section_mm.to_string()).collect();
            let why = "the section's tolerance and its groove come from a table: take one of its sections";
            Fault::new("section_mm", section_mm, format!("{} mm", sections.join(", ")), why)
        })
    }

    /// Depth and width for a service, mm.
    pub const fn groove_mm(&self, service: Service) -> [f64; 2] {
        match service {
            Service::Still => [self.still_depth_mm, self.still_width_mm],
            Service::SlidingAir => [self.air_depth_mm, self.air_width_mm],
        }
    }
}

/// How the ring serves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Service {
    /// The parts are clamped; friction holds while they are set.
    Still,
    /// The saddle slides slowly and freely under air.
    SlidingAir,
}

/// Which part has the groove.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// On the saddle; the ring is stretched over it and seals on the bore.
    OnSaddle,
    /// In the bore; the ring is pressed into it and seals on the saddle.
    InBore,
}

/// Squeeze of a section in a depth, per cent.
pub fn squeeze_percent(section_mm: f64, depth_mm: f64) -> f64 {
    100.0 * (section_mm - depth_mm) / section_mm
}

/// Fill of a groove, per cent.
pub fn fill_percent(section_mm: f64, depth_mm: f64, width_mm: f64) -> f64 {
    100.0 * PI * section_mm * section_mm / (4.0 * depth_mm * width_mm)
}

/// Section of a ring stretched by a share, mm, at constant volume.
pub fn stretched_section_mm(section_mm: f64, stretch: f64) -> f64 {
    section_mm / (1.0 + stretch).sqrt()
}

/// Tolerance of a ring's inside diameter, ± mm: 0.009·d^0.93 + 0.11 (ISO 3601-1 class B).
pub fn inside_tolerance_mm(inside_mm: f64) -> f64 {
    0.009 * inside_mm.powf(0.93) + 0.11
}

/// A gland with its limits, mm: smallest and largest of each.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gland {
    /// Which part has the groove.
    pub place: Place,
    /// How the ring serves.
    pub service: Service,
    /// Bore.
    pub bore_mm: [f64; 2],
    /// Saddle's outside.
    pub saddle_mm: [f64; 2],
    /// Diameter of the groove's bottom.
    pub groove_mm: [f64; 2],
    /// Width of the groove.
    pub width_mm: [f64; 2],
    /// Section of the ring as sold.
    pub section_mm: [f64; 2],
    /// Inside diameter of the ring as sold.
    pub inside_mm: [f64; 2],
    /// What the groove must not break into: diameter of the largest hole inside the saddle, or the outside of the part round the bore.
    pub behind_mm: Option<f64>,
    /// Metal between the groove's edge and the next edge along the axis.
    pub beside_mm: Option<f64>,
}

/// What a gland does, smallest and largest at the worst of all tolerances.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sealed {
    /// Depth with the parts in one axis, mm.
    pub depth_mm: [f64; 2],
    /// Squeeze with the parts in one axis and the ring as sold, per cent.
    pub squeeze_percent: [f64; 2],
    /// How far the saddle can lie to one side, mm.
    pub shift_mm: f64,
    /// Least squeeze on the open side with the saddle pushed over, the ring as sold, per cent.
    pub squeeze_pushed_percent: f64,
    /// The same with the ring thinned by its stretch: the worst of all.
    pub squeeze_worst_percent: f64,
    /// Stretch of a ring on the saddle, or pressing of one in the bore, per cent.
    pub stretch_percent: [f64; 2],
    /// Section once it is stretched, mm.
    pub section_in_place_mm: [f64; 2],
    /// Fill, per cent.
    pub fill_percent: [f64; 2],
    /// Least wall behind the groove, mm.
    pub wall_behind_mm: Option<f64>,
    /// What to beware of.
    pub cautions: [Option<&'static str>; 3],
}

impl Gland {
    fn check(&self) -> Result<(), Fault> {
        let named = [
            ("bore_mm", self.bore_mm, 3.0, 500.0, "bore"),
            ("saddle_mm", self.saddle_mm, 3.0, 500.0, "saddle's outside"),
            ("groove_mm", self.groove_mm, 1.0, 520.0, "bottom of the groove"),
            ("width_mm", self.width_mm, 0.3, 50.0, "width of the groove"),
            ("section_mm", self.section_mm, 0.5, 20.0, "section of the ring"),
            ("inside_mm", self.inside_mm, 0.5, 500.0, "inside diameter of the ring"),
        ];
        for (field, [low, high], least, most, why) in named {
            low.within(field, least, most, "mm", why)?;
            high.within(field, low, most, "mm", "its largest is not below its smallest")?;
        }
        if self.bore_mm[0] < self.saddle_mm[1] {
            let why = "the largest saddle does not pass the smallest bore: give the bore a class with more room, or the saddle one with less metal";
            let clearance = format!("{:.4} mm of clearance at the tightest", self.bore_mm[0] - self.saddle_mm[1]);
            return Err(Fault::new("saddle_mm", clearance, "0 mm or more", why));
        }
        let (groove, open) = match self.place {
            Place::OnSaddle => (self.groove_mm[1], self.saddle_mm[0] - self.groove_mm[1]),
            Place::InBore => (self.groove_mm[0], self.groove_mm[0] - self.bore_mm[1]),
        };
        if open <= 0.0 {
            let why = "its bottom lies outside the part that should hold it: there is no groove";
            return Err(Fault::new("groove_mm", groove, "a groove below the surface of its part", why));
        }
        Ok(())
    }

    /// Metal left behind and beside the groove, or a fault where it breaks through.
    fn walls(&self) -> Result<Option<f64>, Fault> {
        if let Some(beside) = self.beside_mm {
            let why = "the groove's side breaks out at the next edge (end face, half round, port): move the groove";
            beside.within("beside_mm", LEAST_WALL_MM, 1000.0, "mm", why)?;
        }
        let Some(behind) = self.behind_mm else { return Ok(None) };
        behind.within("behind_mm", 0.0, 2000.0, "mm", "diameter behind the groove")?;
        let wall = match self.place {
            Place::OnSaddle => 0.5 * (self.groove_mm[0] - behind),
            Place::InBore => 0.5 * (behind - self.groove_mm[1]),
        };
        if wall < LEAST_WALL_MM {
            let tells = if wall <= 0.0 { "the groove breaks through" } else { "the wall behind the groove is too thin to cut" };
            let why = format!("{tells}: a thinner ring, a smaller hole behind it, or the groove in the other part");
            return Err(Fault::new("behind_mm", format!("{wall:.3} mm of wall"), format!("{LEAST_WALL_MM} mm or more"), why));
        }
        Ok(Some(wall))
    }

    /// What the gland does.
    ///
    /// # Errors
    /// A [`Fault`] for sizes that do not go together; for `section_mm` where the ring loses contact or is squeezed too hard; for `width_mm`
    /// where it overfills; for `inside_mm` where it is stretched or pressed too far; for `behind_mm`, `beside_mm` where the groove breaks out.
    pub fn sealed(&self) -> Result<Sealed, Fault> {
        self.check()?;
        let wall_behind_mm = self.walls()?;
        // From the groove's bottom to the surface that is sealed.
        let (outer, inner) = match self.place {
            Place::OnSaddle => (self.bore_mm, self.groove_mm),
            Place::InBore => (self.groove_mm, self.saddle_mm),
        };
        let depth = [0.5 * (outer[0] - inner[1]), 0.5 * (outer[1] - inner[0])];
        let shift = 0.5 * (self.bore_mm[1] - self.saddle_mm[0]);
        let (stretch, thinned) = self.stretch()?;
        let squeeze = [squeeze_percent(self.section_mm[0], depth[1]), squeeze_percent(self.section_mm[1], depth[0])];
        let worst = squeeze_percent(thinned[0], depth[1] + shift);
        let fill = [fill_percent(thinned[0], depth[1], self.width_mm[1]), fill_percent(self.section_mm[1], depth[0], self.width_mm[0])];
        let most_squeeze = match self.service {
            Service::Still => MOST_SQUEEZE_STILL_PERCENT,
            Service::SlidingAir => MOST_SQUEEZE_SLIDING_PERCENT,
        };
        let middle = |v: [f64; 2]| 0.5 * (v[0] + v[1]);
        let nominal = squeeze_percent(middle(self.section_mm), middle(depth));
        if worst <= 0.0 {
            let why = "at the worst of the tolerances the ring does not touch and the air escapes: a thicker section, a shallower groove, or a \
                closer fit of saddle and bore";
            return Err(Fault::new("section_mm", format!("{worst:.1} % of squeeze at the least"), "more than 0 %", why));
        }
        if nominal > most_squeeze {
            let why = match self.service {
                Service::Still => "so hard a squeeze tears the ring at the lead-in and sets it flat: a deeper groove, or a thinner section",
                Service::SlidingAir => "so hard a squeeze holds the saddle by friction: a deeper groove, or a thinner section",
            };
            return Err(Fault::new("section_mm", format!("{nominal:.1} % of squeeze"), format!("at most {most_squeeze} %"), why));
        }
        if fill[1] > MOST_FILL_PERCENT {
            let why = "rubber does not give way: an overfull groove bursts the ring or jams the saddle; cut the groove wider";
            let filled = format!("{:.1} % filled at the most", fill[1]);
            return Err(Fault::new("width_mm", filled, format!("at most {MOST_FILL_PERCENT} %"), why));
        }
        let least = match self.service {
            Service::Still => LOW_SQUEEZE_STILL_PERCENT,
            Service::SlidingAir => LOW_SQUEEZE_SLIDING_PERCENT,
        };
        let small = "The least squeeze is small: it seals while parts and ring are new and clean, and leaks first when cold.";
        let large = "At the edge of the tolerances the squeeze is large: the saddle will need a push.";
        let edge =
            "At the edge of the ring's own tolerance its stretch leaves 1 to 5 %: try the ring in the groove before the bore is closed.";
        let off = self.place == Place::OnSaddle && (stretch[0] < 1.0 || stretch[1] > MOST_STRETCH_PERCENT);
        let cautions = [(worst < least, small), (squeeze[1] > most_squeeze, large), (off, edge)];
        let cautions = cautions.map(|(holds, words)| holds.then_some(words));
        Ok(Sealed {
            depth_mm: depth,
            squeeze_percent: squeeze,
            shift_mm: shift,
            squeeze_pushed_percent: squeeze_percent(self.section_mm[0], depth[1] + shift),
            squeeze_worst_percent: worst,
            stretch_percent: stretch,
            section_in_place_mm: thinned,
            fill_percent: fill,
            wall_behind_mm,
            cautions,
        })
    }

    /// Stretch (or pressing) range, per cent, and the section range with it.
    fn stretch(&self) -> Result<([f64; 2], [f64; 2]), Fault> {
        match self.place {
            Place::OnSaddle => {
                let middle = |v: [f64; 2]| 0.5 * (v[0] + v[1]);
                let nominal = 100.0 * (middle(self.groove_mm) / middle(self.inside_mm) - 1.0);
                if !(0.0..=MOST_STRETCH_PERCENT).contains(&nominal) {
                    let d = middle(self.groove_mm);
                    let allowed = format!("{:.2} to {:.2} mm, {:.2} is best", d / 1.05, d, d / 1.02);
                    let why = format!("the ring would be stretched by {nominal:.1} %: up to 5 % in service, and never loose in its groove");
                    return Err(Fault::new("inside_mm", middle(self.inside_mm), allowed, why));
                }
                let stretch = [self.groove_mm[0] / self.inside_mm[1] - 1.0, self.groove_mm[1] / self.inside_mm[0] - 1.0];
                // A ring at the loose edge is not made thicker.
                let thinned = [
                    stretched_section_mm(self.section_mm[0], stretch[1].max(0.0)),
                    stretched_section_mm(self.section_mm[1], stretch[0].max(0.0)),
                ];
                Ok((stretch.map(|s| 100.0 * s), thinned))
            }
            Place::InBore => {
                let outside = |i: usize| self.inside_mm[i] + 2.0 * self.section_mm[i];
                let pressed = [1.0 - self.groove_mm[1] / outside(0), 1.0 - self.groove_mm[0] / outside(1)].map(|s| 100.0 * s);
                let nominal = 0.5 * (pressed[0] + pressed[1]);
                if !(0.0..=MOST_PRESSED_PERCENT).contains(&nominal) {
                    let why =
                        format!("the ring's outside would be pressed smaller by {nominal:.1} %: up to 3 %, and never loose in its groove");
                    let middle = 0.5 * (self.inside_mm[0] + self.inside_mm[1]);
                    return Err(Fault::new("inside_mm", middle, "a ring pressed smaller by 0 to 3 %", why));
                }
                Ok((pressed, self.section_mm))
            }
        }
    }

    /// Force that moves the saddle against the ring, N: at no pressure, and at `pressure_pa`.
    ///
    /// Contact force of a squeezed ring π·D·d2·E·(1.25·C^1.5 + 50·C^6), C the squeeze (Lindley, Compression characteristics of
    /// laterally-unrestrained rubber O-rings, 1967), E from the hardness by Gent (1958); the pressure presses the ring on with p·π·D·d2.
    /// Both times the friction. An order of size: a ring that has sat for a day sticks two or three times as hard.
    ///
    /// # Errors
    /// A [`Fault`] for a hardness outside 40 to 95 IRHD, a friction outside 0.01 to 2, or a pressure outside 0 to 16 bar.
    pub fn friction_n(&self, sealed: &Sealed, hardness_irhd: f64, friction: f64, pressure_pa: f64) -> Result<[f64; 2], Fault> {
        let s = hardness_irhd.within("hardness_irhd", 40.0, 95.0, "IRHD", "hardness of the ring; 70 is usual")?;
        let mu = friction.within("friction", 0.01, 2.0, "", "greased rubber on a ground bore 0.1 to 0.4, dry about 1")?;
        let p = (pressure_pa / 1e5).within("supply_bar", 0.0, 16.0, "bar gauge", "air behind the ring")? * 0.1;
        // Gent, On the relation between indentation hardness and Young's modulus (1958), MPa.
        let young = 0.0981 * (56.0 + 7.62336 * s) / (0.137505 * (254.0 - 2.54 * s));
        let middle = |v: [f64; 2]| 0.5 * (v[0] + v[1]);
        let section = middle(sealed.section_in_place_mm);
        let c = (squeeze_percent(section, middle(sealed.depth_mm)) / 100.0).max(0.0);
        let sealing = match self.place {
            Place::OnSaddle => middle(self.bore_mm),
            Place::InBore => middle(self.saddle_mm),
        };
        let squeezed = PI * sealing * section * young * (1.25 * c.powf(1.5) + 50.0 * c.powi(6));
        Ok([mu * squeezed, mu * (squeezed + p * PI * sealing * section)])
    }
}
