//! The stand as a body on three ball-ended feet: what each presses, whether it dents, how the whole shakes.
//!
//! In: plate, feet, pillars with what they carry, the rotor's mass and height. Out: [`Footed`].

use super::{Fallen, Plate, Pressed};
use crate::making::hertz::{Body, Contact, Stands, ball_on_flat};
use crate::quantity::STANDARD_GRAVITY;
use crate::stand::feet::{Feet, Plan, Standing as Stood};
use crate::{Fault, Ranged};
use nalgebra::{Matrix3, SymmetricEigen, Vector3};

/// A ball-ended foot and what it stands on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Foot {
    /// Diameter of the ball, mm.
    pub ball_mm: f64,
    /// What the ball is made of.
    pub ball: Body,
    /// What it stands on.
    pub flat: Body,
    /// Yield strength of that, MPa; none if it is hardened or brittle.
    pub flat_yield_mpa: Option<f64>,
    /// Whether that is hardened.
    pub flat_hardened: bool,
}

/// A stand on its plate.
#[derive(Clone, Debug, PartialEq)]
pub struct Standing {
    /// The plate.
    pub plate: Plate,
    /// Its feet, mm from the corner.
    pub feet_mm: [Plan; 3],
    /// Each foot alike.
    pub foot: Foot,
    /// Mass of each pillar with its saddle, kg; the operator's first.
    pub pillar_kg: f64,
    /// Where they stand, mm.
    pub pillars_mm: [Plan; 2],
    /// Mass of the rotor, kg.
    pub rotor_kg: f64,
    /// Share of the rotor that the first pillar carries.
    pub first_share: f64,
    /// Axis of the arbor above the tips of the feet, mm.
    pub axis_height_mm: f64,
    /// Length of a saddle along the arbor, mm.
    pub saddle_length_mm: f64,
}

/// What it does.
#[derive(Clone, Debug, PartialEq)]
pub struct Footed {
    /// Fall and slope under each pillar, own weight and loads.
    pub pillars: [Fallen; 2],
    /// The same by the rotor alone: what changes when it is laid in.
    pub by_rotor: [Fallen; 2],
    /// Tilt of the line through both saddles by the rotor alone, mm/m, second pillar high positive.
    pub axis_tilt_mm_per_m: f64,
    /// How far the saddles lean against the line through both, the worse, µrad: what the arbor sees of the plate's bend.
    pub saddle_lean_urad: f64,
    /// What that lifts or sinks over a saddle's length, µm.
    pub edge_lift_um: f64,
    /// Loads on the feet, margin, tipping force.
    pub stood: Stood,
    /// Contact of each foot.
    pub contacts: [Contact; 3],
    /// Whether its flat stands it.
    pub stands: [Stands; 3],
    /// Frequencies of the rigid stand on its springy contacts, Hz: rising.
    pub frequencies_hz: [f64; 3],
}

impl Standing {
    /// How the stand stands on its feet.
    ///
    /// # Errors
    /// A [`Fault`] for values out of range, places off the plate, or a stand that tips.
    pub fn footed(&self) -> Result<Footed, Fault> {
        self.check()?;
        let weights = self.weights_n();
        let own = self.pillar_kg * STANDARD_GRAVITY;
        let bent = self.plate.bend(&self.feet_mm, &self.press(weights.map(|w| w + own))).map_err(on_pillars)?;
        let (by_rotor, lean, tilt) = self.by_rotor(super::ALONG)?;
        let (stood, mass, centre) = self.stood()?;
        let r = 0.5 * self.foot.ball_mm;
        let one = |load: f64| ball_on_flat(load, r, self.foot.ball, self.foot.flat).map_err(|f| f.inside("foot"));
        let loads = stood.foot_loads_n;
        let contacts = [one(loads[0])?, one(loads[1])?, one(loads[2])?];
        Ok(Footed {
            pillars: self.pillars_mm.map(|p| bent.at(p)),
            by_rotor,
            axis_tilt_mm_per_m: tilt,
            saddle_lean_urad: lean,
            edge_lift_um: lean * self.saddle_length_mm * 1e-3,
            stood,
            stands: contacts.map(|c| c.stands(self.foot.flat_yield_mpa, self.foot.flat_hardened)),
            contacts,
            frequencies_hz: self.frequencies(mass, centre, &contacts),
        })
    }

    fn check(&self) -> Result<(), Fault> {
        self.plate.check()?;
        self.pillar_kg.within("pillar_kg", 0.0, 500.0, "kg", "mass of one pillar with its saddle")?;
        self.rotor_kg.within("rotor_kg", 0.0, 1000.0, "kg", "mass of the rotor")?;
        self.first_share.within("first_share", 0.0, 1.0, "", "share of the rotor on the first pillar")?;
        self.axis_height_mm.within("axis_height_mm", 5.0, 3000.0, "mm", "axis above the tips of the feet")?;
        self.saddle_length_mm.within("saddle_length_mm", 1.0, 500.0, "mm", "length of a saddle")?;
        self.span_mm().within("pillars_mm", 5.0, 5000.0, "mm apart", "two pillars stand apart")?;
        Ok(())
    }

    fn span_mm(&self) -> f64 {
        let [near, far] = self.pillars_mm;
        (far[0] - near[0]).hypot(far[1] - near[1])
    }

    /// The rotor's weight on each pillar, N.
    fn weights_n(&self) -> [f64; 2] {
        [self.first_share, 1.0 - self.first_share].map(|s| s * self.rotor_kg * STANDARD_GRAVITY)
    }

    fn press(&self, forces: [f64; 2]) -> [Pressed; 2] {
        [0, 1].map(|i| Pressed { at_mm: self.pillars_mm[i], force_n: forces[i] })
    }

    /// What the rotor alone does under the pillars; lean of the saddles, µrad; tilt of the line through both, mm/m.
    fn by_rotor(&self, along: usize) -> Result<([Fallen; 2], f64, f64), Fault> {
        let light = Plate { density_kg_m3: 0.0, ..self.plate };
        let laid_in = light.bend_on(&self.feet_mm, &self.press(self.weights_n()), along).map_err(on_pillars)?;
        let by_rotor = self.pillars_mm.map(|p| laid_in.at(p));
        let (lean, tilt) = self.lean(&by_rotor, self.span_mm());
        Ok((by_rotor, lean, tilt))
    }

    /// How it stands, its mass, and its mass centre in plan.
    fn stood(&self) -> Result<(Stood, f64, Plan), Fault> {
        let (feet, mass, centre, height) = self.body(self.pillar_kg, self.rotor_kg, self.first_share, self.axis_height_mm)?;
        let stood = feet.standing(centre, mass * STANDARD_GRAVITY, height)?;
        if !stood.is_stable() {
            let why = "the mass centre lies outside the feet: it tips over; set the feet wider, or the pillars further in";
            return Err(Fault::new("feet_mm", format!("a margin of {:.1} mm", stood.margin_mm), "a margin above 0 mm", why));
        }
        Ok((stood, mass, centre))
    }

    /// Lean of the saddles against the line through both (the worse, µrad), and tilt of that line, mm/m.
    fn lean(&self, by: &[Fallen; 2], span: f64) -> (f64, f64) {
        let [near, far] = self.pillars_mm;
        let along = [(far[0] - near[0]) / span, (far[1] - near[1]) / span];
        let chord = (by[1].fall_um - by[0].fall_um) / span * 1e3;
        let slope = |f: &Fallen| f.slope_urad[0] * along[0] + f.slope_urad[1] * along[1];
        let lean = by.iter().map(|f| (slope(f) - chord).abs()).fold(0.0, f64::max);
        (lean, -chord * 1e-3)
    }

    /// Feet, whole mass, its centre in plan and its height above the tips.
    fn body(&self, pillar: f64, rotor: f64, share: f64, height: f64) -> Result<(Feet, f64, Plan, f64), Fault> {
        let feet = Feet::new(self.feet_mm).map_err(|f| if f.field == "feet" { Fault { field: "feet_mm".into(), ..f } } else { f })?;
        let plate = self.plate.mass_kg();
        let mass = plate + 2.0 * pillar + rotor;
        if mass < 0.01 {
            return Err(Fault::new("density_kg_m3", self.plate.density_kg_m3, "a stand with some mass", "nothing presses on the feet"));
        }
        let middle = [0.5 * self.plate.length_mm, 0.5 * self.plate.width_mm];
        let [near, far] = self.pillars_mm;
        let centre = [0, 1].map(|d| {
            let on = pillar * (near[d] + far[d]) + rotor * (share * near[d] + (1.0 - share) * far[d]);
            (plate * middle[d] + on) / mass
        });
        // Feet stand out below the plate by what the axis height does not say; the plate's own middle is low either way.
        let low = 0.5 * self.plate.thickness_mm;
        let centre_height = (plate * low + 2.0 * pillar * 0.5 * height + rotor * height) / mass;
        Ok((feet, mass, centre, centre_height.max(1.0)))
    }

    /// Bounce and both rockings of the rigid stand on its contacts, Hz. The feet do not slide, so it rocks about the plane of their tips;
    /// the rotor is counted as if it did not float.
    fn frequencies(&self, mass: f64, centre: Plan, contacts: &[Contact; 3]) -> [f64; 3] {
        let (pillar, rotor) = (self.pillar_kg, self.rotor_kg);
        let mut k = Matrix3::zeros();
        for (foot, contact) in self.feet_mm.iter().zip(contacts) {
            // Fall of a foot: z + y·θx − x·θy from the mass centre; N/m and m.
            let arm = Vector3::new(1.0, (foot[1] - centre[1]) * 1e-3, -(foot[0] - centre[0]) * 1e-3);
            k += arm * arm.transpose() * (contact.stiffness_n_um * 1e6);
        }
        let p = &self.plate;
        let (l, w, t) = (p.length_mm * 1e-3, p.width_mm * 1e-3, p.thickness_mm * 1e-3);
        let axis = self.axis_height_mm * 1e-3;
        let mut m = Matrix3::zeros();
        m[(0, 0)] = mass;
        let mut add = |kg: f64, at: Plan, up: f64, own: [f64; 2]| {
            let (x, y) = ((at[0] - centre[0]) * 1e-3, (at[1] - centre[1]) * 1e-3);
            m[(1, 1)] += kg * (y * y + up * up) + own[0];
            m[(2, 2)] += kg * (x * x + up * up) + own[1];
            m[(1, 2)] -= kg * x * y;
            m[(2, 1)] -= kg * x * y;
        };
        let plate = p.mass_kg();
        add(plate, [0.5 * p.length_mm, 0.5 * p.width_mm], 0.5 * t, [plate * (w * w + t * t) / 12.0, plate * (l * l + t * t) / 12.0]);
        for (i, at) in self.pillars_mm.iter().enumerate() {
            // A slender bar from the plate up to the axis.
            add(pillar, *at, 0.5 * axis, [pillar * axis * axis / 12.0; 2]);
            add([self.first_share, 1.0 - self.first_share][i] * rotor, *at, axis, [0.0; 2]);
        }
        // M is definite (a plate has size), so K·v = ω²·M·v by the root of M.
        let root = SymmetricEigen::new(m);
        let inverse_root = root.eigenvectors
            * Matrix3::from_diagonal(&root.eigenvalues.map(|v| 1.0 / v.max(1e-12).sqrt()))
            * root.eigenvectors.transpose();
        let mut hz: [f64; 3] =
            SymmetricEigen::new(inverse_root * k * inverse_root).eigenvalues.map(|v| v.max(0.0).sqrt() / std::f64::consts::TAU).into();
        hz.sort_by(f64::total_cmp);
        hz
    }
}

/// The plate's loads are the pillars here.
fn on_pillars(f: Fault) -> Fault {
    if f.field.starts_with("loads[") {
        Fault { field: f.field.replacen("loads[", "pillars_mm[", 1).replacen(".at_mm", "", 1), ..f }
    } else {
        f
    }
}

/// Distance between the pair of feet at which the pillars lean least under the rotor, mm, and that lean, µrad.
///
/// The pair is the two feet that lie furthest apart; they are moved alike about their middle along their own line, in 16 steps as far as the
/// plate reaches, and a spread counts only while the tipping margin stays above `least_margin_mm`.
///
/// # Errors
/// As [`Standing::footed`]; for `least_margin_mm` where no spread keeps it.
pub fn best_spread(stand: &Standing, least_margin_mm: f64) -> Result<(f64, f64), Fault> {
    const STEPS: u32 = 16;
    let wanted = least_margin_mm.within("least_margin_mm", 0.1, 2000.0, "mm", "distance of the mass centre from tipping that must stay")?;
    stand.check()?;
    stand.stood()?;
    let feet = stand.feet_mm;
    let apart = |i: usize, k: usize| (feet[i][0] - feet[k][0]).hypot(feet[i][1] - feet[k][1]);
    let (i, k) = [(0, 1), (1, 2), (0, 2)].into_iter().max_by(|a, b| apart(a.0, a.1).total_cmp(&apart(b.0, b.1))).unwrap_or((0, 1));
    let middle = [0, 1].map(|d| 0.5 * (feet[i][d] + feet[k][d]));
    let way = [0, 1].map(|d| (feet[k][d] - feet[i][d]) / apart(i, k));
    let longest = stand.plate.length_mm.hypot(stand.plate.width_mm);
    let mut best: Option<(f64, f64)> = None;
    let mut most_margin = f64::NEG_INFINITY;
    for step in 1..=STEPS {
        let spread = longest * f64::from(step) / f64::from(STEPS);
        let mut moved = stand.clone();
        moved.feet_mm[i] = [0, 1].map(|d| middle[d] - 0.5 * spread * way[d]);
        moved.feet_mm[k] = [0, 1].map(|d| middle[d] + 0.5 * spread * way[d]);
        // A spread that leaves the plate, or tips, is none.
        let (Ok((stood, ..)), Ok((_, lean, _))) = (moved.stood(), moved.by_rotor(super::ALONG_COMPARED)) else { continue };
        most_margin = most_margin.max(stood.margin_mm);
        if stood.margin_mm >= wanted && best.is_none_or(|b| lean < b.1) {
            best = Some((spread, lean));
        }
    }
    best.ok_or_else(|| {
        let allowed = format!("at most {most_margin:.1} mm on this plate");
        Fault::new("least_margin_mm", wanted, allowed, "no spread of the two feet keeps such a margin: a larger plate, or the mass lower")
    })
}
