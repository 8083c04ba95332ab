//! The base plate on its three feet: how it sags and leans under the pillars, what each foot presses, how the whole shakes.
//!
//! In: plate, feet, what the pillars carry. Out: fall and slope anywhere ([`BentPlate`]), contacts and frequencies ([`Footed`]).
//!
//! Thin elastic plate (Kirchhoff), bent both ways, free at its edges and held at three points: rectangular elements of twelve unknowns
//! (Adini, Clough, Melosh; in Zienkiewicz, The Finite Element Method). A pillar presses at a point and does not stiffen the plate, so
//! falls and slopes are upper bounds. The beam strip of [`crate::stand::plate`] is the same for a plate that bends one way only.

mod element;
mod footed;

pub use footed::{Foot, Footed, Standing, best_spread};

use crate::numerics::skyline::{Profile, Skyline};
use crate::quantity::STANDARD_GRAVITY;
use crate::stand::feet::Plan;
use crate::{Fault, Ranged};
use element::Element;

/// Elements along the longer side. Falls are then within half a per cent of those of a mesh twice as fine.
const ALONG: usize = 40;
/// The same while places for the feet are compared: a few per cent are enough there.
const ALONG_COMPARED: usize = 20;

/// A rectangular plate; places on it in mm from a corner.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plate {
    /// Along x (to the operator's right), mm.
    pub length_mm: f64,
    /// Along y (away from the operator), mm.
    pub width_mm: f64,
    /// Thickness, mm.
    pub thickness_mm: f64,
    /// Young's modulus, GPa.
    pub young_gpa: f64,
    /// Poisson's ratio.
    pub poisson: f64,
    /// Density, kg/m³; 0 leaves the own weight out.
    pub density_kg_m3: f64,
}

/// A force on the plate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pressed {
    /// Where.
    pub at_mm: Plan,
    /// Downwards, N.
    pub force_n: f64,
}

/// Fall and slope at a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fallen {
    /// Below the plane through the feet, µm.
    pub fall_um: f64,
    /// How the fall grows with x and with y, µrad: a pillar there leans toward that side.
    pub slope_urad: [f64; 2],
}

/// A plate bent by its loads.
#[derive(Clone, Debug, PartialEq)]
pub struct BentPlate {
    mesh: Mesh,
    /// w, ∂w/∂x, ∂w/∂y at each node, downwards, mm.
    bend: Vec<f64>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct Mesh {
    /// Elements along x and y.
    n: [usize; 2],
    /// Their size, mm.
    size: [f64; 2],
    /// Whether nodes are counted along y first: along the shorter side, so that rows are short.
    y_first: bool,
}

impl Mesh {
    fn of(plate: &Plate, along: usize) -> Self {
        let sides = [plate.length_mm, plate.width_mm];
        let longest = sides[0].max(sides[1]);
        let n = sides.map(|s| ((along as f64 * s / longest).round() as usize).max(8));
        Self { n, size: [sides[0] / n[0] as f64, sides[1] / n[1] as f64], y_first: sides[1] <= sides[0] }
    }

    fn node(&self, i: usize, k: usize) -> usize {
        if self.y_first { i * (self.n[1] + 1) + k } else { k * (self.n[0] + 1) + i }
    }

    fn nodes(&self) -> usize {
        (self.n[0] + 1) * (self.n[1] + 1)
    }

    /// The four nodes of an element, counter-clockwise from its low corner.
    fn corners(&self, i: usize, k: usize) -> [usize; 4] {
        [self.node(i, k), self.node(i + 1, k), self.node(i + 1, k + 1), self.node(i, k + 1)]
    }

    /// The element that holds a place, and the place in it from its middle, mm.
    fn find(&self, at: Plan) -> ([usize; 2], [f64; 2]) {
        let cell = [0, 1].map(|d| ((at[d] / self.size[d]) as usize).min(self.n[d] - 1));
        (cell, [0, 1].map(|d| at[d] - (cell[d] as f64 + 0.5) * self.size[d]))
    }
}

impl Plate {
    pub(crate) fn check(&self) -> Result<(), Fault> {
        self.length_mm.within("length_mm", 20.0, 5000.0, "mm", "plate along x")?;
        self.width_mm.within("width_mm", 20.0, 5000.0, "mm", "plate along y")?;
        let (short, long) = (self.length_mm.min(self.width_mm), self.length_mm.max(self.width_mm));
        if long > 20.0 * short {
            return Err(Fault::new("length_mm", self.length_mm, "at most 20 times the width", "that is a beam and no plate"));
        }
        let why = "a plate is thin: at most a quarter of its shorter side, else shear counts too";
        self.thickness_mm.within("thickness_mm", 1.0, 0.25 * short, "mm", why)?;
        self.young_gpa.within("young_gpa", 1.0, 1000.0, "GPa", "cast iron 110, aluminium 70, granite 70, steel 210")?;
        self.poisson.within("poisson", 0.0, 0.49, "", "metals have 0.3, stone 0.25")?;
        self.density_kg_m3.within("density_kg_m3", 0.0, 25_000.0, "kg/m³", "cast iron 7200, aluminium 2700, granite 2900")?;
        Ok(())
    }

    fn on_it(&self, field: &str, at: Plan) -> Result<(), Fault> {
        at[0].within(&format!("{field}[0]"), 0.0, self.length_mm, "mm", "a place on the plate, from its corner")?;
        at[1].within(&format!("{field}[1]"), 0.0, self.width_mm, "mm", "a place on the plate, from its corner")?;
        Ok(())
    }

    /// Bending stiffness E·h³/12(1 − ν²), N·mm.
    pub fn stiffness_n_mm(&self) -> f64 {
        self.young_gpa * 1e3 * self.thickness_mm.powi(3) / (12.0 * (1.0 - self.poisson * self.poisson))
    }

    /// Own mass, kg.
    pub fn mass_kg(&self) -> f64 {
        self.length_mm * self.width_mm * self.thickness_mm * 1e-9 * self.density_kg_m3
    }

    /// How it bends on three feet under its own weight and these forces.
    ///
    /// # Errors
    /// A [`Fault`] for a plate out of range, or a foot or force that is not on it.
    pub fn bend(&self, feet: &[Plan; 3], loads: &[Pressed]) -> Result<BentPlate, Fault> {
        self.bend_on(feet, loads, ALONG)
    }

    /// The same on a mesh of so many elements along the longer side.
    fn bend_on(&self, feet: &[Plan; 3], loads: &[Pressed], along: usize) -> Result<BentPlate, Fault> {
        self.check()?;
        for (i, foot) in feet.iter().enumerate() {
            self.on_it(&format!("feet_mm[{i}]"), *foot)?;
        }
        // The feet must span a triangle: asked of the room that knows.
        crate::stand::feet::Feet::new(*feet).map_err(|f| Fault { field: f.field.replacen("feet", "feet_mm", 1), ..f })?;
        for (i, load) in loads.iter().enumerate() {
            self.on_it(&format!("loads[{i}].at_mm"), load.at_mm)?;
            load.force_n.within(&format!("loads[{i}].force_n"), 0.0, 1e5, "N", "force on the plate")?;
        }
        let mesh = Mesh::of(self, along);
        let element = Element::new(mesh.size, self.poisson);
        let d = self.stiffness_n_mm();
        let profile = profile(&mesh);
        let mut matrix = Skyline::zero(&profile);
        let mut load = vec![0.0; 3 * mesh.nodes()];
        let q = self.density_kg_m3 * 1e-9 * STANDARD_GRAVITY * self.thickness_mm;
        for i in 0..mesh.n[0] {
            for k in 0..mesh.n[1] {
                let dofs = dofs(mesh.corners(i, k));
                for (a, &row) in dofs.iter().enumerate() {
                    load[row] += q * element.load[a];
                    for (b, &column) in dofs.iter().enumerate() {
                        if column <= row {
                            matrix.add(row, column, d * element.stiffness[(a, b)]);
                        }
                    }
                }
            }
        }
        let mut at_place = |at: Plan, stiffness: f64, force: f64| {
            let (cell, place) = mesh.find(at);
            let dofs = dofs(mesh.corners(cell[0], cell[1]));
            let shape = element.shape(place)[0];
            for (a, &row) in dofs.iter().enumerate() {
                load[row] += force * shape[a];
                for (b, &column) in dofs.iter().enumerate() {
                    if column <= row && stiffness > 0.0 {
                        matrix.add(row, column, stiffness * shape[a] * shape[b]);
                    }
                }
            }
        };
        // A foot is a spring so stiff that it sinks by a millionth of what the plate bends.
        let rigid = 1e6 * d / (mesh.size[0] * mesh.size[1]);
        for foot in feet {
            at_place(*foot, rigid, 0.0);
        }
        for pressed in loads {
            at_place(pressed.at_mm, 0.0, pressed.force_n);
        }
        if !matrix.factor() {
            return Err(Fault::new(
                "feet_mm",
                "feet that do not hold the plate",
                "three feet that span a triangle",
                "move a foot outwards",
            ));
        }
        matrix.solve(&mut load);
        Ok(BentPlate { mesh, bend: load })
    }
}

/// Rows of the matrix: a node touches those of the elements around it.
fn profile(mesh: &Mesh) -> Profile {
    let mut first: Vec<usize> = (0..mesh.nodes()).collect();
    for i in 0..mesh.n[0] {
        for k in 0..mesh.n[1] {
            let corners = mesh.corners(i, k);
            let least = corners.into_iter().min().unwrap_or(0);
            for c in corners {
                first[c] = first[c].min(least);
            }
        }
    }
    Profile::new((0..3 * mesh.nodes()).map(|row| 3 * first[row / 3]).collect())
}

fn dofs(corners: [usize; 4]) -> [usize; 12] {
    std::array::from_fn(|a| 3 * corners[a / 3] + a % 3)
}

impl BentPlate {
    /// Fall and slope at a place on the plate; places beyond its edge are taken at the edge.
    pub fn at(&self, at_mm: Plan) -> Fallen {
        let most = [0, 1].map(|d| self.mesh.size[d] * self.mesh.n[d] as f64);
        let at = [0, 1].map(|d| at_mm[d].clamp(0.0, most[d]));
        let (cell, place) = self.mesh.find(at);
        let dofs = dofs(self.mesh.corners(cell[0], cell[1]));
        let shape = Element::shape_of(self.mesh.size, place);
        let sum = |row: usize| dofs.iter().zip(&shape[row]).map(|(&d, s)| self.bend[d] * s).sum::<f64>();
        Fallen { fall_um: 1e3 * sum(0), slope_urad: [1e6 * sum(1), 1e6 * sum(2)] }
    }
}
