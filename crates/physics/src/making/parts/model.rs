//! What a part is: features with dimensions, and each dimension with its limits.

/// Which part.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum PartKind {
    /// The base plate.
    Plate,
    /// A pillar.
    Pillar,
    /// The collar on a pillar.
    Collar,
    /// A saddle.
    Saddle,
    /// The bar that keeps a saddle from turning.
    Guide,
    /// The bar that carries the stop screw.
    EndStop,
    /// The arbor.
    Arbor,
    /// A foot.
    Foot,
    /// The jet in a saddle's port.
    Jet,
    /// Anything bought, by its place in the list.
    Bought(u8),
}

/// A material with what the list of parts needs of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Material {
    /// Designation.
    pub name: &'static str,
    /// Density, kg/m³.
    pub density_kg_m3: f64,
}

impl Material {
    /// Aluminium for pillars. Source: reference/materials.csv.
    pub const ALUMINIUM: Self = Self { name: "EN AW-6082-T6", density_kg_m3: 2700.0 };
    /// Free-cutting brass for saddles. Source: reference/materials.csv.
    pub const BRASS: Self = Self { name: "CuZn39Pb3 (CW614N)", density_kg_m3: 8470.0 };
    /// Structural steel. Source: reference/materials.csv.
    pub const STEEL: Self = Self { name: "S355 steel", density_kg_m3: 7850.0 };
}

/// A coordinate axis of the part's frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Axis {
    /// Along x.
    X,
    /// Along y.
    Y,
    /// Along z.
    Z,
}

/// What a dimension measures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Measure {
    /// Distance between two planes square to an axis, at these coordinates of the part's frame, mm.
    Length {
        /// The axis.
        axis: Axis,
        /// Nearer plane, mm.
        from_mm: f64,
        /// Farther plane, mm.
        to_mm: f64,
    },
    /// A diameter.
    Diameter,
    /// A radius.
    Radius,
    /// Depth of a hole from its face.
    Depth,
    /// A thread; the nominal is its major diameter.
    Thread,
    /// A coordinate of a hole from the datum corner of its face.
    Coordinate,
    /// Legs of a chamfer at 45°.
    Chamfer,
    /// Width across flats of a hexagon.
    AcrossFlats,
}

/// Where limits come from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Told {
    /// The general tolerance of the drawing, ISO 2768-m.
    General,
    /// An ISO 286 class.
    Class(&'static str),
    /// Stated, with the reason.
    Stated(&'static str),
    /// Not toleranced: a thread (6H/6g), a bought size, a stock size left as it comes.
    Reference,
}

/// Allowed deviations from the nominal.
#[derive(Clone, Debug, PartialEq)]
pub struct Limits {
    /// Upper deviation, mm.
    pub upper_mm: f64,
    /// Lower deviation, mm.
    pub lower_mm: f64,
    /// Where they come from.
    pub told: Told,
}

impl Limits {
    /// Equal to both sides, mm, with the reason.
    pub(super) fn stated(half_mm: f64, why: &'static str) -> Self {
        Self { upper_mm: half_mm, lower_mm: -half_mm, told: Told::Stated(why) }
    }

    /// None of its own.
    pub(super) fn reference() -> Self {
        Self { upper_mm: 0.0, lower_mm: 0.0, told: Told::Reference }
    }
}

/// One dimension.
#[derive(Clone, Debug, PartialEq)]
pub struct Dimension {
    /// Name, unique within its feature.
    pub name: String,
    /// What it measures.
    pub measure: Measure,
    /// Nominal, mm.
    pub nominal_mm: f64,
    /// Limits.
    pub limits: Limits,
}

/// A face of a block, as the outward direction in the part's frame; turned parts use `Top` and `Bottom` for their ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Face {
    /// +z.
    Top,
    /// −z.
    Bottom,
    /// −y.
    Front,
    /// +y.
    Back,
    /// −x.
    Left,
    /// +x.
    Right,
}

impl Face {
    /// In a word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Top => "top",
            Self::Bottom => "bottom",
            Self::Front => "front",
            Self::Back => "back",
            Self::Left => "left",
            Self::Right => "right",
        }
    }
}

/// Where one hole of a feature lies: from the datum corner of its face, mm, and in the part's frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// From the datum corner along the face, mm.
    pub from_corner_mm: [f64; 2],
    /// In the part's frame: where the hole's axis meets the face, mm.
    pub at_mm: [f64; 3],
}

/// Holes of one kind in one face.
#[derive(Clone, Debug, PartialEq)]
pub struct Hole {
    /// Letter of the hole table.
    pub tag: char,
    /// Face from which it is drilled.
    pub face: Face,
    /// Drill, mm.
    pub drill_mm: f64,
    /// Thread: `M6`, `G1/8`.
    pub thread: Option<String>,
    /// Depth of the drilled hole from its face, mm; of a through hole the thickness it goes through.
    pub depth_mm: f64,
    /// Whether it goes through.
    pub through: bool,
    /// Counterbore or spotface: diameter and depth, mm.
    pub seat_mm: Option<[f64; 2]>,
    /// Where they are.
    pub places: Vec<Place>,
    /// Whether the hole table tells of it; a bore is dimensioned in its view.
    pub in_table: bool,
}

/// A geometric characteristic of ISO 1101.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Characteristic {
    /// Flatness.
    Flatness,
    /// Roundness.
    Roundness,
    /// Cylindricity.
    Cylindricity,
    /// Parallelism.
    Parallelism,
    /// Perpendicularity.
    Perpendicularity,
    /// Position.
    Position,
    /// Coaxiality.
    Coaxiality,
    /// Symmetry.
    Symmetry,
    /// Circular run-out.
    RunOut,
    /// Total run-out.
    TotalRunOut,
}

impl Characteristic {
    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Flatness => "flatness",
            Self::Roundness => "roundness",
            Self::Cylindricity => "cylindricity",
            Self::Parallelism => "parallelism",
            Self::Perpendicularity => "perpendicularity",
            Self::Position => "position",
            Self::Coaxiality => "coaxiality",
            Self::Symmetry => "symmetry",
            Self::RunOut => "circular run-out",
            Self::TotalRunOut => "total run-out",
        }
    }
}

/// A geometric tolerance.
#[derive(Clone, Debug, PartialEq)]
pub struct Control {
    /// Which.
    pub characteristic: Characteristic,
    /// Width of the zone, mm.
    pub zone_mm: f64,
    /// Whether the zone is a cylinder.
    pub cylindrical: bool,
    /// Letters of the datums.
    pub datums: Vec<char>,
}

/// A feature of a part.
#[derive(Clone, Debug, PartialEq)]
pub struct Feature {
    /// Name in the part, unique.
    pub id: &'static str,
    /// What it is, in words.
    pub name: &'static str,
    /// Its dimensions.
    pub dimensions: Vec<Dimension>,
    /// Holes, when it is a set of them; their dimensions stand in the hole table.
    pub hole: Option<Hole>,
    /// Roughness Ra, µm, where the general one is not enough.
    pub ra_um: Option<f64>,
    /// Geometric tolerances.
    pub controls: Vec<Control>,
    /// Letter, when it is a datum.
    pub datum: Option<char>,
    /// Why it is critical, when it is.
    pub critical: Option<&'static str>,
}

impl Feature {
    pub(super) fn new(id: &'static str, name: &'static str, dimensions: Vec<Dimension>) -> Self {
        Self { id, name, dimensions, hole: None, ra_um: None, controls: Vec::new(), datum: None, critical: None }
    }

    pub(super) fn ra(mut self, ra_um: f64) -> Self {
        self.ra_um = Some(ra_um);
        self
    }

    pub(super) fn datum(mut self, letter: char) -> Self {
        self.datum = Some(letter);
        self
    }

    pub(super) fn control(mut self, characteristic: Characteristic, zone_mm: f64, cylindrical: bool, datums: &[char]) -> Self {
        self.controls.push(Control { characteristic, zone_mm, cylindrical, datums: datums.to_vec() });
        self
    }

    pub(super) fn critical(mut self, why: &'static str) -> Self {
        self.critical = Some(why);
        self
    }

    /// The dimension of that name.
    pub fn dimension(&self, name: &str) -> Option<&Dimension> {
        self.dimensions.iter().find(|d| d.name == name)
    }
}

/// Form of the stock.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Blank {
    /// Round bar: diameter and length, mm.
    Round([f64; 2]),
    /// Square bar: width and length, mm.
    Square([f64; 2]),
    /// Flat bar or plate: width, thickness and length, mm.
    Flat([f64; 3]),
    /// Hexagon bar: across flats and length, mm.
    Hexagon([f64; 2]),
}

/// What to cut a part from, in words and figures.
#[derive(Clone, Debug, PartialEq)]
pub struct Stock {
    /// Form and size.
    pub blank: Blank,
    /// `round 45 × 64`.
    pub says: String,
}

/// A part.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// Which.
    pub kind: PartKind,
    /// Short name for files and addresses: `plate`.
    pub key: String,
    /// Name in words.
    pub name: String,
    /// Number in the list.
    pub item: usize,
    /// How many the stand needs.
    pub quantity: usize,
    /// Material or standard.
    pub material: String,
    /// Mass of one, g; of bought parts as far as it is known.
    pub mass_g: Option<f64>,
    /// What to cut it from; none for bought parts.
    pub stock: Option<Stock>,
    /// Its features; none for bought parts.
    pub features: Vec<Feature>,
    /// Notes for the drawing.
    pub notes: Vec<String>,
}

impl Part {
    /// Whether the shop makes it.
    pub fn is_made(&self) -> bool {
        self.stock.is_some()
    }

    /// The feature of that name.
    pub fn feature(&self, id: &str) -> Option<&Feature> {
        self.features.iter().find(|f| f.id == id)
    }
}
