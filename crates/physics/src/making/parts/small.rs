//! The smaller made parts: guide bar, end stop, arbor, foot, jet.

use super::blocks::{Block, Holes, bar, cylinder, drilled, grams, holes, length, sawn};
use super::design::{Design, STOP_FOOT, STOP_SCREWS};
use super::limits::limits_of_class;
use super::model::{Axis, Blank, Characteristic, Dimension, Face, Feature, Limits, Material, Measure, Part, PartKind, Stock};
use crate::Fault;

pub(super) fn made(d: &Design) -> Result<Vec<Part>, Fault> {
    let mut all = vec![guide(d)?, end_stop(d)?, arbor(d)?, foot(d)];
    if let Some(jet) = d.sizes.jet_diameter_mm {
        all.push(self::jet(d, jet)?);
    }
    Ok(all)
}

fn guide(d: &Design) -> Result<Part, Fault> {
    let [l, t, h] = d.guide_mm;
    let block = Block { low: [-l / 2.0, -t / 2.0, 0.0], high: [l / 2.0, t / 2.0, h] };
    let g = d.guide_screw_mm;
    let features = vec![
        Feature::new(
            "body",
            "body",
            vec![
                length("length", Axis::X, -l / 2.0, l / 2.0),
                length("width", Axis::Y, -t / 2.0, t / 2.0),
                length("height", Axis::Z, 0.0, h),
            ],
        ),
        Feature::new("face", "face along the saddle's flat", vec![])
            .ra(0.8)
            .control(Characteristic::Flatness, 0.01, false, &[])
            .critical("it keeps the saddle from turning: set it to the flat with a 0.02 mm feeler"),
        holes(
            "screws",
            "holes for its screws",
            block,
            &Holes {
                tag: 'A',
                face: Face::Top,
                thread: None,
                drill_mm: 4.5,
                depth_mm: h,
                through: true,
                seat_mm: None,
                at: &[[-g, 0.0], [g, 0.0]],
                place_tolerance: Some((0.1, "its screws have 0.25 mm of room")),
            },
        )?,
    ];
    Ok(Part {
        kind: PartKind::Guide,
        key: "guide".to_owned(),
        name: "guide bar".to_owned(),
        item: 0,
        quantity: 2,
        material: Material::STEEL.name.to_owned(),
        mass_g: Some(grams(l * t * h - drilled(&features), Material::STEEL.density_kg_m3)),
        stock: Some(Stock::of(Blank::Flat([bar(t, 1.0), bar(h, 1.0), sawn(l)]))),
        features,
        notes: vec!["Edges broken 0.3.".to_owned()],
    })
}

fn end_stop(d: &Design) -> Result<Part, Fault> {
    let [w, t, h] = d.stop_mm;
    let block = Block { low: [-w / 2.0, 0.0, 0.0], high: [w / 2.0, t, h] };
    let stepped = t > d.stop_arm_mm;
    let mut body =
        vec![length("width", Axis::X, -w / 2.0, w / 2.0), length("thickness", Axis::Y, 0.0, t), length("height", Axis::Z, 0.0, h)];
    if stepped {
        body.push(length("arm", Axis::Y, 0.0, d.stop_arm_mm));
        body.push(length("foot", Axis::Z, 0.0, STOP_FOOT));
    }
    let features = vec![
        Feature::new("body", "body", body),
        Feature::new("seat", "seat on the pillar", vec![]).ra(1.6).datum('A'),
        holes(
            "screws",
            "holes for the screws to the pillar",
            block,
            &Holes {
                tag: 'A',
                face: Face::Front,
                thread: None,
                drill_mm: 5.5,
                depth_mm: t,
                through: true,
                seat_mm: None,
                at: &STOP_SCREWS.map(|z| [0.0, z]),
                place_tolerance: Some((0.1, "its screws have 0.25 mm of room")),
            },
        )?,
        holes(
            "stop_screw",
            "thread for the stop screw, on the arbor's axis",
            block,
            &Holes {
                tag: 'B',
                face: Face::Front,
                thread: Some("M6"),
                drill_mm: 5.0,
                depth_mm: d.stop_arm_mm,
                through: true,
                seat_mm: None,
                at: &[[0.0, d.stop_axis_mm]],
                place_tolerance: Some((0.2, "off the axis the stop rubs on a longer lever")),
            },
        )?
        .critical("the nearer to the axis it touches, the less the stop brakes"),
    ];
    let volume = w * d.stop_arm_mm * h + w * (t - d.stop_arm_mm) * STOP_FOOT - drilled(&features);
    Ok(Part {
        kind: PartKind::EndStop,
        key: "end-stop".to_owned(),
        name: "end stop".to_owned(),
        item: 0,
        quantity: 2,
        material: Material::STEEL.name.to_owned(),
        mass_g: Some(grams(volume, Material::STEEL.density_kg_m3)),
        stock: Some(Stock::of(Blank::Flat([bar(w, 0.0), bar(t, 1.0), sawn(h)]))),
        features,
        notes: vec!["Stop screw with a rounded, polished tip and a lock nut.".to_owned(), "Edges broken 0.3.".to_owned()],
    })
}

fn arbor(d: &Design) -> Result<Part, Fault> {
    let s = &d.sizes;
    let l = s.arbor_length_mm;
    let chamfer = if s.arbor_diameter_mm < 10.0 { 0.5 } else { 1.0 };
    let roundness = (s.arbor_roundness_um * 1e-3).max(1e-4);
    // Centre holes type A of ISO 6411: pilot and rim; the rim must lie inside the end stop's radius.
    let [pilot, rim] = centre_hole(s.arbor_diameter_mm);
    let features = vec![
        Feature::new("body", "body", vec![length("length", Axis::X, 0.0, l)]),
        Feature::new("shaft", "running surface", vec![Dimension::diameter("diameter", s.arbor_diameter_mm).class("h5")?])
            .ra(0.2)
            .datum('A')
            .control(Characteristic::Roundness, roundness, false, &[])
            .control(Characteristic::Cylindricity, (4.0 * roundness).max(0.002), false, &[])
            .critical("it is the other half of the air bearing; out of round it shows an unbalance that the wheel has not"),
        Feature::new("chamfers", "chamfers at both ends", vec![Dimension::of("size", Measure::Chamfer, chamfer)]),
        Feature::new(
            "centres",
            "centre holes in both ends, ISO 6411 A",
            vec![
                Dimension::diameter("pilot", pilot).limits(Limits::reference()),
                Dimension::diameter("rim", rim).limits(Limits::reference()),
            ],
        ),
    ];
    let corner = std::f64::consts::PI * (s.arbor_diameter_mm - chamfer) * chamfer * chamfer / 2.0;
    let volume = cylinder(s.arbor_diameter_mm, l) - 2.0 * corner;
    Ok(Part {
        kind: PartKind::Arbor,
        key: "arbor".to_owned(),
        name: "arbor".to_owned(),
        item: 0,
        quantity: 1,
        material: "hardened tool steel, 60 HRC".to_owned(),
        mass_g: Some(grams(volume, s.arbor_density_kg_m3)),
        stock: Some(Stock::of(Blank::Round([bar(s.arbor_diameter_mm, 0.3), sawn(l)]))),
        features,
        notes: vec![
            format!(
                "Seat for the adapter to suit it; run-out of the seat against A at most {:.4} mm.",
                (s.seat_runout_um * 1e-3).max(1e-4)
            ),
            "Ground between centres after hardening, centres lapped; demagnetised.".to_owned(),
            format!("The end stops touch inside Ø {}.", 2.0 * s.end_stop_radius_mm),
        ],
    })
}

/// Pilot and rim diameters of a type A centre hole for that shaft. Source: ISO 866 / ISO 6411 (d1, D1).
fn centre_hole(shaft_mm: f64) -> [f64; 2] {
    match shaft_mm {
        v if v < 6.0 => [1.0, 2.12],
        v if v < 10.0 => [1.6, 3.35],
        v if v < 16.0 => [2.0, 4.25],
        v if v < 40.0 => [2.5, 5.3],
        _ => [4.0, 8.5],
    }
}

fn foot(d: &Design) -> Part {
    let (thread, l, flats) = (d.foot_thread_mm, d.foot_length_mm, d.foot_hexagon_mm);
    let [from, to] = foot_hexagon(d);
    let tip = 0.8 * thread;
    let features = vec![
        Feature::new("body", "body", vec![length("length", Axis::Z, 0.0, l)]),
        Feature::new("tip", "ball tip", vec![Dimension::of("radius", Measure::Radius, tip)])
            .ra(0.8)
            .critical("a ball that bears on one point: a flat on it makes the level jump"),
        Feature::new(
            "shank",
            "shank below the hexagon",
            vec![Dimension::diameter("diameter", thread), length("length", Axis::Z, 0.0, from)],
        ),
        Feature::new(
            "hexagon",
            "hexagon",
            vec![
                Dimension::of("across_flats", Measure::AcrossFlats, flats).limits(Limits::reference()),
                length("height", Axis::Z, from, to),
            ],
        ),
        Feature::new(
            "thread",
            "thread up to the hexagon",
            vec![Dimension::of("thread", Measure::Thread, thread).limits(Limits::reference())],
        ),
        Feature::new("chamfer", "chamfer of the thread", vec![Dimension::of("size", Measure::Chamfer, 1.0)]),
    ];
    let hexagon = 3f64.sqrt() / 2.0 * flats * flats * (to - from);
    // The ball's cap in place of the shank's first millimetres.
    let cap = tip - (tip * tip - thread * thread / 4.0).max(0.0).sqrt();
    let ball = std::f64::consts::PI * cap * cap * (tip - cap / 3.0);
    let volume = ball + cylinder(thread, from - cap) + hexagon + cylinder(0.92 * thread, l - to);
    Part {
        kind: PartKind::Foot,
        key: "foot".to_owned(),
        name: "foot".to_owned(),
        item: 0,
        quantity: 3,
        material: "steel, class 8.8, tip hardened".to_owned(),
        mass_g: Some(grams(volume, Material::STEEL.density_kg_m3)),
        stock: Some(Stock::of(Blank::Hexagon([flats, sawn(l)]))),
        features,
        notes: vec![
            format!("Thread {} 6g.", d.foot_thread),
            "Stands on a hardened button: on aluminium or stone it would dent the bench.".to_owned(),
        ],
    }
}

/// Lower and upper face of the foot's hexagon above its tip, mm.
pub(super) fn foot_hexagon(d: &Design) -> [f64; 2] {
    let to = d.making.foot_clearance_mm - 3.0;
    [(to - 0.7 * d.foot_thread_mm).max(2.0).round(), to]
}

fn jet(d: &Design, bore: f64) -> Result<Part, Fault> {
    let (outside, l) = (d.sizes.port_diameter_mm, d.jet_length_mm);
    let features = vec![
        Feature::new(
            "body",
            "body",
            vec![
                Dimension { limits: limits_of_class("feed.port_diameter_mm", outside, "h6")?, ..Dimension::diameter("diameter", outside) },
                length("length", Axis::X, 0.0, l),
            ],
        ),
        Feature::new(
            "bore",
            "jet",
            vec![Dimension::diameter("diameter", bore).limits(Limits::stated((0.05 * bore).max(0.005), "the flow grows as its square"))],
        )
        .critical("it throttles the air: both saddles' jets must pass the same flow"),
    ];
    let volume = cylinder(outside, l) - cylinder(bore, l);
    Ok(Part {
        kind: PartKind::Jet,
        key: "jet".to_owned(),
        name: "jet".to_owned(),
        item: 0,
        quantity: 2,
        material: Material::BRASS.name.to_owned(),
        mass_g: Some(grams(volume, Material::BRASS.density_kg_m3)),
        stock: Some(Stock::of(Blank::Round([bar(outside, 0.5), sawn(l)]))),
        features,
        notes: vec![
            "Fixed in the port with retaining compound, flush with the pocket's floor.".to_owned(),
            "Compare the flow of several and pair the two that are nearest.".to_owned(),
        ],
    })
}
