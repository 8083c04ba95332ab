//! The made parts that carry the arbor: plate, pillar, collar, saddle.

use super::blocks::{Block, Holes, bar, cylinder, drilled, grams, holes, in_drilling_order, length, sawn};
use super::design::{Design, STOP_FOOT, STOP_SCREWS, port_of, spotface_mm};
use super::model::{Axis, Blank, Characteristic, Dimension, Face, Feature, Hole, Limits, Material, Measure, Part, PartKind, Stock};
use super::small;
use crate::Fault;

/// All parts that the shop makes, by number.
pub(super) fn made(d: &Design) -> Result<Vec<Part>, Fault> {
    let mut all = vec![plate(d)?, pillar(d)?, collar(d)?, saddle(d)?];
    all.extend(small::made(d)?);
    for (k, part) in all.iter_mut().enumerate() {
        part.item = k + 1;
    }
    Ok(all)
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
