//! The made parts that carry the arbor: plate, pillar, collar, saddle; and what builds features of all parts.

use super::design::{Design, STOP_FOOT, STOP_SCREWS, port_of, spotface_mm};
use super::limits::{general, limits_of_class};
use super::model::{
    Axis, Blank, Characteristic, Dimension, Face, Feature, Hole, Limits, Material, Measure, Part, PartKind, Place, Stock, Told,
};
use super::small;
use crate::Fault;
use crate::making::thread::{Port, Thread};
use std::f64::consts::FRAC_PI_4;

/// All parts that the shop makes, by number.
pub(super) fn made(d: &Design) -> Result<Vec<Part>, Fault> {
    let mut all = vec![plate(d)?, pillar(d)?, collar(d)?, saddle(d)?];
    all.extend(small::made(d)?);
    for (k, part) in all.iter_mut().enumerate() {
        part.item = k + 1;
    }
    Ok(all)
}

/// A length along an axis, with the general tolerance.
pub(super) fn length(name: &str, axis: Axis, from_mm: f64, to_mm: f64) -> Dimension {
    let nominal_mm = to_mm - from_mm;
    Dimension { name: name.to_owned(), measure: Measure::Length { axis, from_mm, to_mm }, nominal_mm, limits: general(nominal_mm.abs()) }
}

impl Dimension {
    /// Another measure than its length, with the general tolerance.
    pub(super) fn of(name: &str, measure: Measure, nominal_mm: f64) -> Self {
        Self { name: name.to_owned(), measure, nominal_mm, limits: general(nominal_mm) }
    }

    pub(super) fn diameter(name: &str, nominal_mm: f64) -> Self {
        Self::of(name, Measure::Diameter, nominal_mm)
    }

    pub(super) fn class(mut self, class: &'static str) -> Result<Self, Fault> {
        self.limits = limits_of_class(&self.name, self.nominal_mm, class)?;
        Ok(self)
    }

    pub(super) fn limits(mut self, limits: Limits) -> Self {
        self.limits = limits;
        self
    }

    pub(super) fn one_sided(self, upper_mm: f64, lower_mm: f64, why: &'static str) -> Self {
        self.limits(Limits { upper_mm, lower_mm, told: Told::Stated(why) })
    }
}

/// A block's middle, half sizes in plan, and where its lower face lies: places on its faces count from its datum corner, front left
/// below.
#[derive(Clone, Copy)]
pub(super) struct Block {
    pub(super) low: [f64; 3],
    pub(super) high: [f64; 3],
}

impl Block {
    pub(super) fn square(section: f64, from: f64, to: f64) -> Self {
        let h = section / 2.0;
        Self { low: [-h, -h, from], high: [h, h, to] }
    }

    /// A place given in the part's frame by the two coordinates that lie in the face.
    fn place(self, face: Face, uv: [f64; 2]) -> Place {
        let (a, b, normal, at) = match face {
            Face::Top => (0, 1, 2, self.high[2]),
            Face::Bottom => (0, 1, 2, self.low[2]),
            Face::Front => (0, 2, 1, self.low[1]),
            Face::Back => (0, 2, 1, self.high[1]),
            Face::Left => (1, 2, 0, self.low[0]),
            Face::Right => (1, 2, 0, self.high[0]),
        };
        let mut at_mm = [0.0; 3];
        (at_mm[a], at_mm[b], at_mm[normal]) = (uv[0], uv[1], at);
        Place { from_corner_mm: [uv[0] - self.low[a], uv[1] - self.low[b]], at_mm }
    }
}

/// What a set of holes is, before it becomes a feature.
pub(super) struct Holes<'a> {
    pub(super) tag: char,
    pub(super) face: Face,
    /// A thread, or none for plain holes of `drill_mm`.
    pub(super) thread: Option<&'a str>,
    pub(super) drill_mm: f64,
    /// Depth of the full thread or of the plain hole; of a through hole what it goes through.
    pub(super) depth_mm: f64,
    pub(super) through: bool,
    pub(super) seat_mm: Option<[f64; 2]>,
    pub(super) at: &'a [[f64; 2]],
    /// What a place may be off, mm; none: the general tolerance.
    pub(super) place_tolerance: Option<(f64, &'static str)>,
}

/// The feature of a set of holes with all its dimensions.
pub(super) fn holes(id: &'static str, name: &'static str, block: Block, h: &Holes<'_>) -> Result<Feature, Fault> {
    let mut dimensions = Vec::new();
    let major = match h.thread {
        None => None,
        Some(g) if g.starts_with('G') => Some(Port::find("thread", g)?.d_mm),
        Some(m) => Some(Thread::find("thread", m)?.d_mm),
    };
    match major {
        Some(major) => dimensions.push(Dimension::of("thread", Measure::Thread, major).limits(Limits::reference())),
        None => dimensions.push(Dimension::diameter("diameter", h.drill_mm)),
    }
    if !h.through {
        dimensions.push(Dimension::of("depth", Measure::Depth, h.depth_mm));
    }
    if let Some([d, depth]) = h.seat_mm {
        dimensions.push(Dimension::diameter("seat_diameter", d));
        dimensions.push(Dimension::of("seat_depth", Measure::Depth, depth));
    }
    let places: Vec<Place> = h.at.iter().map(|uv| block.place(h.face, *uv)).collect();
    for (k, p) in places.iter().enumerate() {
        for (name, v) in ["x", "y"].iter().zip(p.from_corner_mm) {
            let mut c = Dimension::of(&format!("{name}{}", k + 1), Measure::Coordinate, v);
            if let Some((half, why)) = h.place_tolerance {
                c.limits = Limits::stated(half, why);
            }
            dimensions.push(c);
        }
    }
    let mut feature = Feature::new(id, name, dimensions);
    feature.hole = Some(Hole {
        tag: h.tag,
        face: h.face,
        drill_mm: h.drill_mm,
        thread: h.thread.map(str::to_owned),
        depth_mm: match h.thread {
            // To the tenth upwards; a drawing that asks for hundredths of a drill's depth is not believed.
            Some(m) if !h.through && m.starts_with('M') => (Thread::find("thread", m)?.drilled_depth_mm(h.depth_mm) * 10.0).ceil() / 10.0,
            _ => h.depth_mm,
        },
        through: h.through,
        seat_mm: h.seat_mm,
        places,
        in_table: true,
    });
    Ok(feature)
}

/// Volume of a cylinder, mm³.
pub(super) fn cylinder(diameter: f64, length: f64) -> f64 {
    FRAC_PI_4 * diameter * diameter * length
}

/// Volume that the holes of a part take, mm³; drill points and threads' crests are left out.
pub(super) fn drilled(features: &[Feature]) -> f64 {
    let one = |h: &Hole| {
        let seat = h.seat_mm.map_or(0.0, |[d, depth]| cylinder(d, depth) - cylinder(h.drill_mm, depth));
        (cylinder(h.drill_mm, h.depth_mm) + seat) * h.places.len() as f64
    };
    features.iter().filter_map(|f| f.hole.as_ref()).map(one).sum()
}

/// Mass, g, of a volume in mm³.
pub(super) fn grams(volume_mm3: f64, density_kg_m3: f64) -> f64 {
    volume_mm3 * density_kg_m3 * 1e-6
}

/// Sizes in which bar is sold, mm (common practice, no source).
const BAR: [f64; 40] = [
    2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 14.0, 15.0, 16.0, 18.0, 20.0, 22.0, 25.0, 28.0, 30.0, 32.0, 35.0, 40.0, 45.0, 50.0, 55.0,
    60.0, 65.0, 70.0, 75.0, 80.0, 85.0, 90.0, 95.0, 100.0, 110.0, 120.0, 130.0, 140.0, 150.0, 160.0, 180.0, 200.0,
];

/// The next size of bar that leaves at least `allowance` to machine.
pub(super) fn bar(finished: f64, allowance: f64) -> f64 {
    BAR.iter().copied().find(|b| *b >= finished + allowance).unwrap_or_else(|| ((finished + allowance) / 10.0).ceil() * 10.0)
}

/// Length to saw: the part and 2 mm on each end to face.
pub(super) fn sawn(finished: f64) -> f64 {
    (finished + 4.0).ceil()
}

impl Stock {
    pub(super) fn of(blank: Blank) -> Self {
        let says = match blank {
            Blank::Round([d, l]) => format!("round {d} × {l}"),
            Blank::Square([a, l]) => format!("square {a} × {l}"),
            Blank::Flat([w, t, l]) => format!("flat {w} × {t} × {l}"),
            Blank::Hexagon([a, l]) => format!("hexagon {a} × {l}"),
        };
        Self { blank, says }
    }
}

fn plate(d: &Design) -> Result<Part, Fault> {
    let s = &d.sizes;
    let [l, w, t] = s.plate_mm;
    let block = Block { low: [0.0, 0.0, -t], high: [l, w, 0.0] };
    let c = d.corner_screw_mm;
    let mut screws: Vec<[f64; 2]> =
        d.pillars_mm().iter().flat_map(|p| [[-c, -c], [c, -c], [-c, c], [c, c]].map(|o| [p[0] + o[0], p[1] + o[1]])).collect();
    in_drilling_order(&mut screws);
    let mut feet = s.feet_mm.to_vec();
    in_drilling_order(&mut feet);
    let place = Some((0.1, "the pillars' screws have 0.3 mm of room all round, shared by both parts"));
    let features = vec![
        Feature::new(
            "body",
            "body",
            vec![length("length", Axis::X, 0.0, l), length("width", Axis::Y, 0.0, w), length("thickness", Axis::Z, -t, 0.0)],
        ),
        Feature::new("top", "upper face", vec![])
            .ra(1.6)
            .datum('A')
            .control(Characteristic::Flatness, d.making.plate_flatness_mm, false, &[])
            .critical("the pillars stand on it: what it is out of flat tilts the saddles"),
        holes(
            "feet",
            "threads for the feet",
            block,
            &Holes {
                tag: 'A',
                face: Face::Top,
                thread: Some(&d.foot_thread),
                drill_mm: d.foot_drill_mm,
                depth_mm: t,
                through: true,
                seat_mm: None,
                at: &feet,
                place_tolerance: None,
            },
        )?,
        holes(
            "pillar_screws",
            "holes for the pillars' screws, seats from below",
            block,
            &Holes {
                tag: 'B',
                face: Face::Top,
                thread: None,
                drill_mm: 6.6,
                depth_mm: t,
                through: true,
                seat_mm: Some([11.0, 6.8]),
                at: &screws,
                place_tolerance: place,
            },
        )?,
    ];
    let mass = grams(l * w * t - drilled(&features), s.plate_density_kg_m3);
    Ok(Part {
        kind: PartKind::Plate,
        key: "plate".to_owned(),
        name: "base plate".to_owned(),
        item: 0,
        quantity: 1,
        material: plate_material(s.plate_density_kg_m3),
        mass_g: Some(mass),
        stock: Some(Stock::of(Blank::Flat([(w + 4.0).ceil(), bar(t, 3.0), sawn(l)]))),
        features,
        notes: vec![
            "Datum corner: front left, seen from above.".to_owned(),
            "Seats of holes B are cut from below.".to_owned(),
            "Edges broken 0.5.".to_owned(),
        ],
    })
}

/// What has that density, in words.
fn plate_material(density: f64) -> String {
    match density {
        v if (2400.0..2850.0).contains(&v) => "aluminium plate".to_owned(),
        v if (2850.0..3200.0).contains(&v) => "granite".to_owned(),
        v if (7000.0..7400.0).contains(&v) => "EN-GJL-250 cast iron".to_owned(),
        v if (7700.0..8000.0).contains(&v) => "S355 steel".to_owned(),
        v => format!("material of {v} kg/m³"),
    }
}

/// Rows from front to back, each from left to right: every place is approached from the same side, so that the play of the
/// table's screws does not show, and nothing is unclamped.
pub(super) fn in_drilling_order(places: &mut [[f64; 2]]) {
    places.sort_by(|a, b| a[1].total_cmp(&b[1]).then(a[0].total_cmp(&b[0])));
}

fn pillar(d: &Design) -> Result<Part, Fault> {
    let (w, h) = (d.section_mm, d.pillar_mm);
    let half = w / 2.0;
    let block = Block::square(w, 0.0, h);
    let c = d.corner_screw_mm;
    let corners = [[-c, -c], [c, -c], [-c, c], [c, c]];
    let floor = h - d.bore_depth_mm;
    let port = port_of(d.making.port_thread)?;
    let (thread, drill) = (port.name, port.tap_drill_mm);
    let mut bore = Feature::new(
        "bore",
        "bore for the saddle",
        vec![Dimension::diameter("diameter", d.piston_mm).class("H8")?, length("depth", Axis::Z, floor, h)],
    )
    .ra(0.4)
    .control(Characteristic::Cylindricity, 0.01, false, &[])
    .control(Characteristic::Perpendicularity, 0.02, true, &['A'])
    .critical("the O-ring seals on it and the collar is centred by it");
    bore.hole = Some(Hole {
        tag: ' ',
        face: Face::Top,
        drill_mm: d.piston_mm,
        thread: None,
        depth_mm: d.bore_depth_mm,
        through: false,
        seat_mm: None,
        places: vec![block.place(Face::Top, [0.0, 0.0])],
        in_table: false,
    });
    let at = |face, tag, thread, drill_mm, depth_mm, at| Holes {
        tag,
        face,
        thread: Some(thread),
        drill_mm,
        depth_mm,
        through: false,
        seat_mm: None,
        at,
        place_tolerance: Some((0.1, "clearance holes of the mating part have 0.25 mm of room and more")),
    };
    let stop_screws = STOP_SCREWS.map(|z| [0.0, floor - STOP_FOOT + z]);
    let features = vec![
        Feature::new(
            "body",
            "body",
            vec![length("width", Axis::X, -half, half), length("depth", Axis::Y, -half, half), length("height", Axis::Z, 0.0, h)],
        ),
        Feature::new("foot", "foot face", vec![])
            .ra(1.6)
            .datum('A')
            .control(Characteristic::Flatness, 0.01, false, &[])
            .critical("the pillar stands on it: it squares the bore to the plate"),
        bore,
        Feature::new("lead_in", "lead-in for the O-ring, 15°", vec![Dimension::of("length", Measure::Depth, lead_in_mm(d))]).ra(0.8),
        holes("collar_screws", "threads for the collar's screws", block, &at(Face::Top, 'A', "M4", 3.3, 10.0, &corners))?,
        holes("foot_screws", "threads for the screws from the plate", block, &at(Face::Bottom, 'B', "M6", 5.0, 12.0, &corners))?,
        holes("stop_screws", "threads for the end stop", block, &at(Face::Front, 'C', "M5", 4.2, 10.0, &stop_screws))?,
        holes(
            "port",
            "air port, square to its spotface",
            block,
            &Holes {
                tag: 'D',
                face: Face::Left,
                thread: Some(thread),
                drill_mm: drill,
                depth_mm: half - d.piston_mm / 2.0,
                through: true,
                seat_mm: Some([spotface_mm(port), 0.5]),
                at: &[[0.0, d.port_height_mm]],
                place_tolerance: None,
            },
        )?
        .critical("its edge in the bore must stay below the O-ring and be free of burr"),
    ];
    let volume = w * w * h - drilled(&features);
    Ok(Part {
        kind: PartKind::Pillar,
        key: "pillar".to_owned(),
        name: "pillar".to_owned(),
        item: 0,
        quantity: 2,
        material: Material::ALUMINIUM.name.to_owned(),
        mass_g: Some(grams(volume, Material::ALUMINIUM.density_kg_m3)),
        stock: Some(Stock::of(Blank::Square([bar(w, 2.0), sawn(h)]))),
        features,
        notes: vec![
            "Bore in the middle of the square; its floor flat.".to_owned(),
            "No burr where the port opens into the bore: the O-ring passes there.".to_owned(),
            "Holes C on the side that faces away from the wheel.".to_owned(),
            "Edges broken 0.3.".to_owned(),
        ],
    })
}

/// Length of the 15° cone that lets the O-ring in: it must open by the ring's squeeze and a margin. Source: reference/oring_glands.csv,
/// lead-in length at 15° (3.1 mm for the 2.62 ring): about 1.2 sections.
pub(super) fn lead_in_mm(d: &Design) -> f64 {
    (1.2 * d.groove.section_mm * 10.0).round() / 10.0
}

fn collar(d: &Design) -> Result<Part, Fault> {
    let (w, spigot, flange) = (d.section_mm, d.making.spigot_mm, d.flange_mm);
    let (half, top) = (w / 2.0, d.making.spigot_mm + d.flange_mm);
    let block = Block::square(w, spigot, top);
    let c = d.corner_screw_mm;
    let reach = (w - d.neck_mm) / 2.0;
    let guide_y = -(d.sizes.saddle_length_mm + d.guide_mm[1]) / 2.0;
    let place = Some((0.1, "clearance holes of the mating part have 0.25 mm of room"));
    let set_screw = |tag, face| Holes {
        tag,
        face,
        thread: Some("M6"),
        drill_mm: 5.0,
        depth_mm: reach,
        through: true,
        seat_mm: None,
        at: &[[0.0, 0.0]],
        place_tolerance: None,
    };
    let z = top - d.set_screw_below_mm;
    let mut bore =
        Feature::new("bore", "bore that guides the saddle's neck", vec![Dimension::diameter("diameter", d.neck_mm).class("H7")?])
            .ra(0.8)
            .control(Characteristic::Coaxiality, 0.02, true, &['B'])
            .critical("the saddle must slide in it without shake: its play tilts the saddle");
    bore.hole = Some(Hole {
        tag: ' ',
        face: Face::Top,
        drill_mm: d.neck_mm,
        thread: None,
        depth_mm: top,
        through: true,
        seat_mm: None,
        places: vec![block.place(Face::Top, [0.0, 0.0])],
        in_table: false,
    });
    let features = vec![
        Feature::new(
            "body",
            "flange",
            vec![length("width", Axis::X, -half, half), length("depth", Axis::Y, -half, half), length("thickness", Axis::Z, spigot, top)],
        ),
        Feature::new("seat", "seat on the pillar", vec![]).ra(1.6).datum('A'),
        Feature::new(
            "spigot",
            "spigot in the pillar's bore",
            vec![Dimension::diameter("diameter", d.piston_mm).class("g6")?, length("length", Axis::Z, 0.0, spigot)],
        )
        .ra(0.8)
        .datum('B')
        .control(Characteristic::Perpendicularity, 0.01, true, &['A']),
        bore,
        holes(
            "collar_screws",
            "holes for the screws to the pillar",
            block,
            &Holes {
                tag: 'A',
                face: Face::Top,
                thread: None,
                drill_mm: 4.5,
                depth_mm: flange,
                through: true,
                seat_mm: Some([8.0, 4.4]),
                at: &[[-c, -c], [c, -c], [-c, c], [c, c]],
                place_tolerance: place,
            },
        )?,
        holes(
            "guide_screws",
            "threads for the guide bar",
            block,
            &Holes {
                tag: 'B',
                face: Face::Top,
                thread: Some("M4"),
                drill_mm: 3.3,
                depth_mm: 8.0,
                through: false,
                seat_mm: None,
                at: &[[-d.guide_screw_mm, guide_y], [d.guide_screw_mm, guide_y]],
                place_tolerance: place,
            },
        )?,
        holes("set_screw_side", "thread for the set screw at the side", block, &Holes { at: &[[0.0, z]], ..set_screw('C', Face::Right) })?,
        holes(
            "set_screw_back",
            "thread for the set screw on the wheel's side",
            block,
            &Holes { at: &[[0.0, z]], ..set_screw('D', Face::Back) },
        )?,
    ];
    let volume = w * w * flange + cylinder(d.piston_mm, spigot) - drilled(&features);
    Ok(Part {
        kind: PartKind::Collar,
        key: "collar".to_owned(),
        name: "collar".to_owned(),
        item: 0,
        quantity: 2,
        material: Material::STEEL.name.to_owned(),
        mass_g: Some(grams(volume, Material::STEEL.density_kg_m3)),
        stock: Some(Stock::of(Blank::Flat([bar(w, 2.0), bar(top, 2.0), sawn(w)]))),
        features,
        notes: vec![
            "Heights of holes C and D count from the seat (datum A).".to_owned(),
            "Match to its saddle: mark both with the same number.".to_owned(),
            "No burr where C and D open into the bore. Edges broken 0.3.".to_owned(),
        ],
    })
}

fn saddle(d: &Design) -> Result<Part, Fault> {
    let (s, m) = (&d.sizes, &d.making);
    let half = s.saddle_length_mm / 2.0;
    let tolerance = 2e-3 * m.clearance_tolerance_um;
    let held = 2e-3 * s.bore_oval_um;
    let mut top = vec![length("height", Axis::Z, 0.0, d.saddle_height_mm)];
    if s.arc_deg < 180.0 {
        top.push(length("axis", Axis::Z, 0.0, d.saddle_axis_mm));
    }
    let groove_to = d.groove_from_mm + d.groove.width_mm;
    let port = Dimension::diameter("diameter", s.port_diameter_mm);
    let port = if s.jet_diameter_mm.is_some() {
        port.class("H7")?
    } else {
        port.limits(Limits::stated(0.02, "the port's edge is where the air is throttled"))
    };
    let mut features = vec![
        Feature::new(
            "piston",
            "piston in the pillar's bore",
            vec![Dimension::diameter("diameter", d.piston_mm).class("f7")?, length("length", Axis::Z, 0.0, d.piston_length_mm)],
        )
        .ra(0.8),
        Feature::new("neck", "neck in the collar", vec![Dimension::diameter("diameter", d.neck_mm).class("g6")?])
            .ra(0.8)
            .datum('A')
            .critical("with the collar it keeps the saddle upright"),
        Feature::new("top", "upper end", top),
        Feature::new(
            "bore",
            "bore under the arbor",
            vec![Dimension::diameter("diameter", d.bore_mm).limits(Limits::stated(tolerance, "radial clearance as the film needs it"))],
        )
        .ra(0.2)
        .datum('B')
        .control(Characteristic::Cylindricity, held.max(1e-4), false, &[])
        .control(Characteristic::Perpendicularity, 0.01, false, &['A'])
        .critical("it is the air bearing: size, form and roughness make the float and the drift"),
        Feature::new(
            "flats",
            "flats that end the film",
            vec![
                length("across", Axis::Y, -half, half)
                    .limits(Limits::stated(0.05, "the length of the film; both flats square to the bore")),
                length("lower_end", Axis::Z, 0.0, d.flats_from_mm),
            ],
        )
        .ra(1.6),
        Feature::new(
            "groove",
            "groove of the O-ring",
            vec![
                Dimension::diameter("diameter", d.groove_diameter_mm()).one_sided(
                    0.0,
                    -0.05,
                    "depth of the groove: +0.05/0 (maker's tables of glands)",
                ),
                length("from", Axis::Z, 0.0, d.groove_from_mm),
                length("width", Axis::Z, d.groove_from_mm, groove_to).one_sided(
                    0.25,
                    0.0,
                    "width of the groove: +0.25/0 (maker's tables of glands)",
                ),
                Dimension::of("corner_radius", Measure::Radius, d.groove.corner_radius_mm).one_sided(
                    0.0,
                    -0.1,
                    "the ring must not stand on the corner",
                ),
            ],
        )
        .ra(1.6)
        .critical("its depth makes the squeeze of the O-ring"),
        Feature::new(
            "gallery",
            "air hole from below",
            vec![
                Dimension::diameter("diameter", d.gallery_mm),
                length("depth", Axis::Z, 0.0, d.gallery_depth_mm).limits(Limits::stated(0.1, "it leaves the length of the port")),
            ],
        ),
        Feature::new("port", "port in the middle of the bore", vec![port])
            .control(Characteristic::Position, (2.0 * s.port_offset_mm).max(0.002), true, &['A', 'B'])
            .critical("off to the side it makes the arbor drift; a burr scratches it"),
    ];
    if let Some([wide, deep]) = s.pocket_mm {
        features.push(Feature::new(
            "pocket",
            "round pocket about the port",
            vec![
                Dimension::diameter("diameter", wide),
                Dimension::of("depth", Measure::Depth, deep)
                    .limits(Limits::stated(0.2 * deep, "its volume decides whether the film hammers")),
            ],
        ));
    }
    Ok(Part {
        kind: PartKind::Saddle,
        key: "saddle".to_owned(),
        name: "saddle".to_owned(),
        item: 0,
        quantity: 2,
        material: Material::BRASS.name.to_owned(),
        mass_g: Some(grams(saddle_volume(d), Material::BRASS.density_kg_m3)),
        stock: Some(Stock::of(Blank::Round([bar(d.piston_mm, 1.0), sawn(d.saddle_height_mm + 6.0)]))),
        features,
        notes: vec![
            format!("Lap the bore to the finished arbor: its diameter as measured + {:.3} mm.", 2e-3 * s.radial_clearance_um),
            "Bore both saddles in one clamping; mark which end is the operator's.".to_owned(),
            "No burr at the port, the flats and the bore's edges; edges broken 0.2, those of the bore 0.05.".to_owned(),
        ],
    })
}

/// Volume of a saddle, mm³: stacked cylinders less groove, hole, flats and half round.
fn saddle_volume(d: &Design) -> f64 {
    let s = &d.sizes;
    let (r, half) = (d.neck_mm / 2.0, s.saddle_length_mm / 2.0);
    let ring = cylinder(d.piston_mm, d.groove.width_mm) - cylinder(d.groove_diameter_mm(), d.groove.width_mm);
    let round = cylinder(d.piston_mm, d.piston_length_mm) + cylinder(d.neck_mm, d.saddle_height_mm - d.piston_length_mm);
    // Circular segments beyond the flats (any handbook: r² acos(h/r) − h √(r² − h²)).
    let segment = r * r * (half / r).acos() - half * (r * r - half * half).sqrt();
    let flats = 2.0 * segment * (d.saddle_height_mm - d.flats_from_mm);
    // The bore's cross-section below the top: a segment of the circle, over the length between the flats.
    let (rb, h) = (d.bore_mm / 2.0, d.saddle_axis_mm - d.saddle_height_mm);
    let bore = (rb * rb * (h / rb).clamp(-1.0, 1.0).acos() - h * (rb * rb - h * h).max(0.0).sqrt()) * s.saddle_length_mm;
    let holes = cylinder(d.gallery_mm, d.gallery_depth_mm) + cylinder(s.port_diameter_mm, d.making.port_length_mm);
    round - ring - flats - bore - holes
}
