//! Threads: drill, height, engagement, when they strip, and whether a wall is deep enough for them.
//!
//! In: a thread's or port's name, what holds it. Out: sizes from the basic profile (ISO 68-1, ISO 724), areas, forces, depths.
//!
//! Shear areas with basic sizes: internal 0.875·π·d·Le, external 0.75·π·D1·Le (FED-STD-H28/2B form); engagement of equal strength
//! Le = 2·As/(π·D1·(1/2 + 0.57735·(d2 − D1)/P)) (Machinery's Handbook).

mod table;

use crate::{Fault, Ranged};
use std::f64::consts::PI;

/// Share of the tensile strength that a thread bears in shear. Common practice, no source.
pub const SHEAR_SHARE: f64 = 0.6;

/// Point of a drill as a share of its diameter: 118° included, ½·cot 59°.
pub const DRILL_POINT_SHARE: f64 = 0.300_430_309_513_780_3;

/// An ISO metric thread.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Thread {
    /// `M6`, `M10x1`.
    pub name: &'static str,
    /// Whether it is the coarse pitch.
    pub coarse: bool,
    /// Diameter, mm.
    pub d_mm: f64,
    /// Pitch, mm.
    pub pitch_mm: f64,
    /// Tap drill, mm.
    pub tap_drill_mm: f64,
    /// Largest minor diameter of the tapped hole, class 6H, mm (ISO 965-1).
    pub largest_minor_mm: f64,
}

/// A port for an air fitting, tapped into a spotfaced flat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Port {
    /// `M5`, `G1/8`, `G1/4`.
    pub name: &'static str,
    /// Standard of the thread.
    pub standard: &'static str,
    /// Major diameter, mm.
    pub d_mm: f64,
    /// Pitch, mm.
    pub pitch_mm: f64,
    /// Smallest and largest minor diameter of the tapped hole, mm.
    pub minor_mm: [f64; 2],
    /// Tap drill, mm.
    pub tap_drill_mm: f64,
    /// Least depth of full thread, mm (DIN 3852-2; M5: common practice, no source).
    pub thread_depth_mm: f64,
    /// Least drilled depth of a blind hole, mm.
    pub drilled_depth_mm: f64,
    /// Diameter of the spotface on which the seal lies, mm; `None`: as the washer asks.
    pub spotface_mm: Option<f64>,
}

/// All threads, by rising diameter.
pub const fn threads() -> &'static [Thread] {
    &table::THREADS
}

/// All ports.
pub const fn ports() -> &'static [Port] {
    &table::PORTS
}

impl Thread {
    /// The thread of this name: `M6`, `M10x1`; capitals, spaces and `×` do not matter.
    ///
    /// # Errors
    /// A [`Fault`] for `field` that lists the names.
    pub fn find(field: &str, name: &str) -> Result<&'static Self, Fault> {
        let plain: String = name.chars().filter(|c| !c.is_whitespace()).collect::<String>().replace('×', "x");
        table::THREADS.iter().find(|t| t.name.eq_ignore_ascii_case(&plain)).ok_or_else(|| {
            let names: Vec<&str> = table::THREADS.iter().map(|t| t.name).collect();
            Fault::new(field, name, names.join(", "), "no thread of this name is tabled; a coarse one goes by its diameter alone")
        })
    }

    /// Basic pitch diameter d2 = d − 0.649519·P, mm.
    pub fn pitch_diameter_mm(&self) -> f64 {
        self.d_mm - 0.649519 * self.pitch_mm
    }

    /// Basic minor diameter of the tapped hole D1 = d − 1.082532·P, mm.
    pub fn minor_mm(&self) -> f64 {
        self.d_mm - 1.082532 * self.pitch_mm
    }

    /// Minor diameter of the screw d3 = d − 1.226869·P, mm.
    pub fn root_mm(&self) -> f64 {
        self.d_mm - 1.226869 * self.pitch_mm
    }

    /// Stress area π/4·((d2 + d3)/2)², mm² (ISO 898-1).
    pub fn stress_area_mm2(&self) -> f64 {
        PI / 4.0 * (0.5 * (self.pitch_diameter_mm() + self.root_mm())).powi(2)
    }

    /// Height of thread that a drilled hole leaves, per cent of the basic height H1 = 0.5413·P; and of 0.6495·P, as tap charts tell it.
    ///
    /// # Errors
    /// A [`Fault`] for a hole that is not between the screw's root and its outside.
    pub fn height_percent(&self, hole_mm: f64) -> Result<[f64; 2], Fault> {
        let why = "a smaller hole breaks the tap, a larger one leaves no thread";
        let hole = hole_mm.within("hole_mm", self.root_mm(), self.d_mm, "mm", why)?;
        let off = self.d_mm - hole;
        Ok([100.0 * off / (2.0 * 0.541266 * self.pitch_mm), 100.0 * off / (2.0 * 0.649519 * self.pitch_mm)])
    }

    /// Shear areas of a tapped hole and of a screw over an engagement, mm²: internal, external.
    ///
    /// # Errors
    /// A [`Fault`] for an engagement outside 0.1 to 200 mm.
    pub fn shear_areas_mm2(&self, engagement_mm: f64) -> Result<[f64; 2], Fault> {
        let le = engagement_mm.within("engagement_mm", 0.1, 200.0, "mm", "length over which screw and hole hold one another")?;
        Ok([0.875 * PI * self.d_mm * le, 0.75 * PI * self.minor_mm() * le])
    }

    /// Shortest engagement at which the screw breaks before its thread strips, equal materials, mm.
    pub fn equal_strength_mm(&self) -> f64 {
        let d1 = self.minor_mm();
        2.0 * self.stress_area_mm2() / (PI * d1 * (0.5 + 0.57735 * (self.pitch_diameter_mm() - d1) / self.pitch_mm))
    }

    /// How a tapped hole and the screw in it give way.
    ///
    /// # Errors
    /// A [`Fault`] for an engagement or strength out of range.
    pub fn strength(&self, engagement_mm: f64, hole_mpa: f64, screw_mpa: f64) -> Result<Strength, Fault> {
        let [internal, external] = self.shear_areas_mm2(engagement_mm)?;
        let why = "tensile strength: 6082-T6 310, brass 380, iron 250, steel 500, screws of class 8.8 800, 12.9 1200";
        let hole = hole_mpa.within("hole_strength_mpa", 10.0, 3000.0, "MPa", why)?;
        let screw = screw_mpa.within("screw_strength_mpa", 10.0, 3000.0, "MPa", why)?;
        let strips_at_n = SHEAR_SHARE * hole * internal;
        let screw_strips_at_n = SHEAR_SHARE * screw * external;
        let breaks_at_n = screw * self.stress_area_mm2();
        Ok(Strength {
            internal_area_mm2: internal,
            external_area_mm2: external,
            strips_at_n,
            screw_strips_at_n,
            breaks_at_n,
            enough_mm: engagement_mm * (breaks_at_n / strips_at_n.min(screw_strips_at_n)),
        })
    }

    /// Drilled depth of a blind hole with so much full thread: three pitches of run-out for a taper tap's chamfer and chips, then the
    /// drill's point. Common practice, no source.
    pub fn drilled_depth_mm(&self, full_thread_mm: f64) -> f64 {
        full_thread_mm + 3.0 * self.pitch_mm + DRILL_POINT_SHARE * self.tap_drill_mm
    }
}

/// How a screw in a tapped hole gives way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Strength {
    /// Shear area of the hole's thread, mm².
    pub internal_area_mm2: f64,
    /// Shear area of the screw's thread, mm².
    pub external_area_mm2: f64,
    /// Force that strips the hole, N.
    pub strips_at_n: f64,
    /// Force that strips the screw's thread, N.
    pub screw_strips_at_n: f64,
    /// Force that breaks the screw, N.
    pub breaks_at_n: f64,
    /// Engagement at which the screw would break first, mm.
    pub enough_mm: f64,
}

impl Strength {
    /// What gives way first, and at what force, N.
    pub fn first(&self) -> (&'static str, f64) {
        let all = [
            ("the thread of the hole", self.strips_at_n),
            ("the thread of the screw", self.screw_strips_at_n),
            ("the screw itself", self.breaks_at_n),
        ];
        all.into_iter().min_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or(all[0])
    }
}

/// What a port finds: a flat on the outside of a wall, and what lies behind.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PortSeat {
    /// Wall between the flat and the bore behind it, mm.
    pub wall_mm: f64,
    /// Width of the flat, mm: the smaller way across.
    pub flat_width_mm: f64,
    /// Diameter of the passage that goes on into the bore, mm; `None`: the tap drill goes through.
    pub passage_mm: Option<f64>,
}

impl Port {
    /// The port of this name: `M5`, `G1/8`, `G1/4`.
    ///
    /// # Errors
    /// A [`Fault`] for `field` that lists the names.
    pub fn find(field: &str, name: &str) -> Result<&'static Self, Fault> {
        let plain: String = name.chars().filter(|c| !c.is_whitespace()).collect();
        table::PORTS.iter().find(|p| p.name.eq_ignore_ascii_case(&plain)).ok_or_else(|| {
            let names: Vec<&str> = table::PORTS.iter().map(|p| p.name).collect();
            Fault::new(field, name, names.join(", "), "no port of this name is tabled")
        })
    }

    /// Metal left between the end of the thread's hole and the bore, mm; with a through hole the full thread must fit into the wall.
    ///
    /// With a `passage` narrower than the drill the threaded part is a blind hole that needs its run-out, so the wall must hold the drilled
    /// depth; without one the tap drill goes through, and the thread alone must fit.
    ///
    /// # Errors
    /// A [`Fault`] for `wall_mm` when the wall is thinner than the thread needs, for `flat_width_mm` when the seal hangs over the flat's edge,
    /// for `passage_mm` when the passage is wider than the drill.
    pub fn fits(&self, seat: &PortSeat) -> Result<f64, Fault> {
        let wall = seat.wall_mm.within("wall_mm", 0.1, 500.0, "mm", "wall between the port's flat and the bore behind it")?;
        let flat = seat.flat_width_mm.within("flat_width_mm", 0.1, 1000.0, "mm", "width of the flat")?;
        let need = if seat.passage_mm.is_some() { self.drilled_depth_mm } else { self.thread_depth_mm };
        if let Some(passage) = seat.passage_mm {
            passage.within(
                "passage_mm",
                0.3,
                self.tap_drill_mm,
                "mm",
                "a passage wider than the tap drill leaves no bottom to the thread",
            )?;
        }
        if wall < need {
            let why = format!(
                "{} needs {} mm of full thread{}: a thinner wall leaves the fitting without hold and lets it reach into the bore; set the \
                 flat further out, take a smaller port, or screw in a boss",
                self.name,
                self.thread_depth_mm,
                if seat.passage_mm.is_some() { format!(" and {} mm drilled", self.drilled_depth_mm) } else { String::new() }
            );
            return Err(Fault::new("wall_mm", wall, format!("{need} mm or more"), why));
        }
        // Without a spotface of the table the thread's own diameter and a land of a pitch round it must lie on the flat.
        let seal = self.spotface_mm.unwrap_or(self.d_mm + 2.0 * self.pitch_mm);
        if flat < seal {
            let why =
                "a parallel thread seals on the face: the whole spotface must lie on the flat; mill it deeper, or take a smaller port";
            return Err(Fault::new("flat_width_mm", flat, format!("{seal} mm or more"), why));
        }
        Ok(wall - need)
    }
}

/// Width of a flat milled on a round bar, `from_axis_mm` from its axis, mm; 0 where the flat misses the bar.
pub fn flat_width_mm(bar_mm: f64, from_axis_mm: f64) -> f64 {
    2.0 * (0.25 * bar_mm * bar_mm - from_axis_mm * from_axis_mm).max(0.0).sqrt()
}
