//! Parts of a stand: masses by independent arithmetic, laws over many sheets, and what must be refused.

#[path = "../../../reference/check.rs"]
mod check;
#[path = "making_support/stands.rs"]
mod stands;

use proptest::prelude::*;
use rstest::rstest;
use stands::birch;
use std::collections::HashSet;
use stillwheel_physics::Fault;
use stillwheel_physics::making::parts::{Design, Making, Measure, Part, PartKind, PortThread, Sizes, parts};

fn of(sizes: Sizes) -> Result<Vec<Part>, Fault> {
    parts(&Design::new(sizes, Making::default())?)
}

fn part(all: &[Part], kind: PartKind) -> &Part {
    all.iter().find(|p| p.kind == kind).unwrap()
}

/// Nominal of a dimension.
fn size(p: &Part, feature: &str, dimension: &str) -> f64 {
    p.feature(feature).and_then(|f| f.dimension(dimension)).unwrap_or_else(|| panic!("{feature}.{dimension}")).nominal_mm
}

#[test]
fn the_saddles_neck_holds_the_film_and_its_walls() {
    // Pythagoras: 24 mm of film by 20 mm of arbor with 3 mm of wall on each side, √(24² + 26²) = 35.4, the next even size.
    let all = of(birch()).unwrap();
    let saddle = part(&all, PartKind::Saddle);
    assert_eq!(size(saddle, "neck", "diameter"), 36.0);
    assert_eq!(size(saddle, "piston", "diameter"), 44.0);
    assert!((size(saddle, "bore", "diameter") - 20.028).abs() < 1e-9);
    let limits = &saddle.feature("bore").unwrap().dimension("diameter").unwrap().limits;
    assert!((limits.upper_mm - 0.003).abs() < 1e-12 && (limits.lower_mm + 0.003).abs() < 1e-12);
}

#[test]
fn the_axis_comes_to_the_height_of_the_sheet() {
    // Up through the parts: foot clearance and plate, then pillar, collar's flange, and what the saddle stands out of it.
    let sizes = birch();
    let d = Design::new(sizes.clone(), Making::default()).unwrap();
    let all = parts(&d).unwrap();
    let (pillar, collar, saddle) = (part(&all, PartKind::Pillar), part(&all, PartKind::Collar), part(&all, PartKind::Saddle));
    // In the middle of its travel the piston's shoulder lies the travel below the spigot.
    let shoulder = size(pillar, "body", "height") - size(collar, "spigot", "length") - d.making.travel_mm;
    let axis = shoulder - size(saddle, "piston", "length") + size(saddle, "top", "height");
    assert!((20.0 + 25.0 + axis - sizes.axis_height_mm).abs() < 1e-9, "{axis}");
    // Lowest, the piston still leaves the port open; highest, the O-ring is still in the straight bore.
    let lowest = shoulder - size(saddle, "piston", "length") - d.making.travel_mm;
    let port = pillar.feature("port").unwrap().hole.as_ref().unwrap();
    assert!(lowest > port.places[0].from_corner_mm[1] + port.drill_mm / 2.0);
    let lead_in = size(pillar, "body", "height") - size(pillar, "lead_in", "length");
    let ring_top =
        shoulder + d.making.travel_mm - size(saddle, "piston", "length") + size(saddle, "groove", "from") + size(saddle, "groove", "width");
    assert!(ring_top < lead_in, "{ring_top} {lead_in}");
}

#[test]
fn masses_are_those_of_plain_arithmetic() {
    let all = of(birch()).unwrap();
    let pi = std::f64::consts::PI;
    // Plate: 320 × 180 × 25 less three Ø 9 and eight Ø 6.6 with seats Ø 11 × 6.8, at 7.2 mg/mm³.
    let plate = 320.0 * 180.0 * 25.0 - 3.0 * pi * 4.5 * 4.5 * 25.0 - 8.0 * (pi * 3.3 * 3.3 * 18.2 + pi * 5.5 * 5.5 * 6.8);
    // Arbor: a cylinder less two rings of the chamfers, whose mass centre lies 1/3 mm inside the edge (Pappus).
    let arbor = pi * 100.0 * 180.0 - 2.0 * 0.5 * 2.0 * pi * (10.0 - 1.0 / 3.0);
    for (kind, grams) in [(PartKind::Plate, plate * 7.2e-3), (PartKind::Arbor, arbor * 7.85e-3)] {
        let part = part(&all, kind);
        let what = format!("mass of the demo's {}, g", part.name);
        let source = "solid geometry: block and cylinders less holes; Pappus for the chamfers";
        check::row(
            "PARTS-MASS",
            &what,
            check::Kind::ClosedFormOrTable,
            source,
            grams,
            part.mass_g.unwrap(),
            check::Tolerance::Relative(1e-4),
        );
    }
}

/// The saddle's volume by counting points of a fine regular grid inside it: no formula of the part's own.
#[test]
fn the_saddles_mass_is_that_of_the_solid_counted_point_by_point() {
    let d = Design::new(birch(), Making::default()).unwrap();
    let all = parts(&d).unwrap();
    let (step, mut inside) = (0.25, 0u64);
    let n = |mm: f64| (mm / step).ceil() as i64;
    for k in 0..n(d.saddle_height_mm) {
        let z = (k as f64 + 0.5) * step;
        for j in -n(22.0)..n(22.0) {
            let y = (j as f64 + 0.5) * step;
            for i in -n(22.0)..n(22.0) {
                let x = (i as f64 + 0.5) * step;
                let r = x.hypot(y);
                let outer = if z < d.piston_length_mm { 22.0 } else { 18.0 };
                let grooved = (5.0..5.0 + d.groove.width_mm).contains(&z) && r > d.groove_diameter_mm() / 2.0;
                let flat = z > d.flats_from_mm && y.abs() > 12.0;
                let bored = x.hypot(z - d.saddle_axis_mm) < d.bore_mm / 2.0;
                let drilled = r < d.gallery_mm / 2.0 && z < d.gallery_depth_mm || r < 0.6;
                inside += u64::from(r < outer && !grooved && !flat && !bored && !drilled);
            }
        }
    }
    let grams = inside as f64 * step.powi(3) * 8.47e-3;
    let got = part(&all, PartKind::Saddle).mass_g.unwrap();
    let (kind, source) = (check::Kind::ClosedFormOrTable, "points of a 0.25 mm grid counted inside the solid");
    check::row("PARTS-MASS", "mass of the demo's saddle, g", kind, source, grams, got, check::Tolerance::Relative(2e-3));
}

#[test]
fn every_part_of_the_stand_is_there_and_numbered() {
    let all = of(birch()).unwrap();
    for (kind, quantity) in [
        (PartKind::Plate, 1),
        (PartKind::Pillar, 2),
        (PartKind::Collar, 2),
        (PartKind::Saddle, 2),
        (PartKind::Guide, 2),
        (PartKind::EndStop, 2),
        (PartKind::Arbor, 1),
        (PartKind::Foot, 3),
        (PartKind::Jet, 2),
    ] {
        assert_eq!(part(&all, kind).quantity, quantity, "{kind:?}");
    }
    for bought in ["o-ring", "set-screw", "collar-screw", "pillar-screw", "stop-screw", "fitting"] {
        assert!(all.iter().any(|p| p.key == bought && !p.is_made()), "{bought}");
    }
    assert!(all.iter().enumerate().all(|(k, p)| p.item == k + 1));
    assert_eq!(all.iter().map(|p| &p.key).collect::<HashSet<_>>().len(), all.len());
}

#[rstest]
#[case::pillars_over_the_edge(|s: &mut Sizes, _: &mut Making| s.plate_mm[1] = 160.0, "plate.width_mm")]
#[case::axis_too_low(|s: &mut Sizes, _: &mut Making| s.axis_height_mm = 120.0, "plate.axis_height_mm")]
#[case::plate_too_thin(|s: &mut Sizes, _: &mut Making| s.plate_mm[2] = 10.0, "plate.thickness_mm")]
#[case::no_such_thread(|s: &mut Sizes, _: &mut Making| s.foot_pitch_mm = 0.9, "plate.foot_pitch_mm")]
#[case::foot_meets_a_pillars_screw(|s: &mut Sizes, _: &mut Making| s.feet_mm[2] = [136.0, 165.0], "plate.feet_mm")]
#[case::foot_meets_a_screws_seat(|s: &mut Sizes, _: &mut Making| s.feet_mm[2] = [136.0, 158.5], "plate.feet_mm")]
#[case::no_room_for_the_wheel(|s: &mut Sizes, _: &mut Making| { s.span_mm = 70.0; s.plate_mm[1] = 300.0; }, "arbor.span_mm")]
#[case::port_wall_too_thin(|_: &mut Sizes, m: &mut Making| m.pillar_wall_mm = 7.0, "making.pillar_wall_mm")]
#[case::ring_that_loses_contact(|_: &mut Sizes, m: &mut Making| m.o_ring_section_mm = 1.0, "making.o_ring_section_mm")]
#[case::groove_breaks_through(|s: &mut Sizes, m: &mut Making| { m.o_ring_section_mm = 7.0; m.shoulder_mm = 1.0; s.arbor_diameter_mm = 6.0; s.saddle_length_mm = 8.0; s.arbor_length_mm = 180.0; m.pillar_wall_mm = 12.0; }, "making.o_ring_section_mm")]
#[case::jet_as_wide_as_its_port(|s: &mut Sizes, _: &mut Making| s.jet_diameter_mm = Some(1.0), "feed.jet_diameter_mm")]
#[case::pocket_through_the_ports_land(|s: &mut Sizes, _: &mut Making| s.pocket_mm = Some([3.0, 4.0]), "feed.pocket_depth_mm")]
#[case::arbor_too_short(|s: &mut Sizes, _: &mut Making| s.arbor_length_mm = 120.0, "arbor.length_mm")]
#[case::no_shoulder_is_no_stop(|_: &mut Sizes, m: &mut Making| m.shoulder_mm = 0.0, "making.shoulder_mm")]
fn what_can_not_be_made_is_a_fault(#[case] change: fn(&mut Sizes, &mut Making), #[case] field: &str) {
    let (mut sizes, mut making) = (birch(), Making::default());
    change(&mut sizes, &mut making);
    let fault = Design::new(sizes, making).unwrap_err();
    assert_eq!(fault.field, field, "{fault}");
    assert!(!fault.why.is_empty() && !fault.allowed.is_empty());
}

/// Sheets of many sizes; those that can't be made drop out.
fn many() -> impl Strategy<Value = (Sizes, Making)> {
    let sizes = (8.0..40.0f64, 100.0..300.0f64, 8.0..40.0f64, 5.0..40.0f64, 60.0..180.0f64, 0.0..60.0f64, 20.0..60.0f64);
    let choices = (
        prop::bool::ANY,
        prop::sample::select(vec![1.5, 1.8, 2.0, 2.65, 3.55, 5.3]),
        prop::sample::select(vec![0.75, 1.0, 1.25, 1.5, 1.75]),
    );
    (sizes, choices).prop_map(|((d, span, length, clearance, arc, beyond, thick), (g18, ring, pitch))| {
        let sizes = Sizes {
            arbor_diameter_mm: d.round(),
            span_mm: span.round(),
            saddle_length_mm: length.round(),
            radial_clearance_um: clearance,
            arc_deg: arc,
            arbor_length_mm: (span + length + 2.0 * beyond).round(),
            plate_mm: [400.0, 420.0, thick.round()],
            middle_mm: [200.0, 210.0],
            feet_mm: [[20.0, 20.0], [380.0, 20.0], [200.0, 400.0]],
            foot_pitch_mm: pitch,
            axis_height_mm: 260.0,
            ..birch()
        };
        let making =
            Making { o_ring_section_mm: ring, port_thread: if g18 { PortThread::G18 } else { PortThread::M5 }, ..Making::default() };
        (sizes, making)
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, ..ProptestConfig::default() })]
    #[test]
    fn every_part_that_comes_out_is_one_that_can_be_made((sizes, making) in many()) {
        let Ok(design) = Design::new(sizes, making) else { return Ok(()) };
        for p in parts(&design).unwrap() {
            let mut ids = HashSet::new();
            for f in &p.features {
                for d in &f.dimensions {
                    prop_assert!(ids.insert((f.id, d.name.clone())), "{} {} twice", f.id, d.name);
                    prop_assert!(d.nominal_mm.is_finite() && d.nominal_mm > 0.0, "{} {}.{} {}", p.key, f.id, d.name, d.nominal_mm);
                    prop_assert!(d.limits.lower_mm <= d.limits.upper_mm && d.nominal_mm + d.limits.lower_mm > 0.0, "{} {}.{} {:?}", p.key, f.id, d.name, d.limits);
                    if let Measure::Length { from_mm, to_mm, .. } = d.measure {
                        prop_assert!((to_mm - from_mm - d.nominal_mm).abs() < 1e-9);
                    }
                }
            }
            prop_assert!(!p.is_made() || p.mass_g.is_some_and(|m| m > 0.0), "{} {:?}", p.key, p.mass_g);
        }
        // The neck passes its collar, and the piston does not: that is what holds the saddle down.
        let all = parts(&design).unwrap();
        let (collar, saddle) = (part(&all, PartKind::Collar), part(&all, PartKind::Saddle));
        let neck = saddle.feature("neck").unwrap().dimension("diameter").unwrap();
        let guide = collar.feature("bore").unwrap().dimension("diameter").unwrap();
        let piston = saddle.feature("piston").unwrap().dimension("diameter").unwrap();
        prop_assert!(neck.nominal_mm + neck.limits.upper_mm < guide.nominal_mm + guide.limits.lower_mm);
        prop_assert!(piston.nominal_mm + piston.limits.lower_mm > guide.nominal_mm + guide.limits.upper_mm + 1.0);
    }
}

#[test]
fn a_process_sheet_makes_every_feature_once_and_measures_the_critical_ones() {
    use stillwheel_physics::making::process::process;
    for p in of(birch()).unwrap() {
        let sheet = process(&p);
        assert_eq!(sheet.is_empty(), !p.is_made(), "{}", p.key);
        for f in &p.features {
            let makes: Vec<_> = sheet.iter().filter(|o| o.features.contains(&f.id)).collect();
            assert_eq!(makes.len(), 1, "{}: {}", p.key, f.id);
            if f.critical.is_some() {
                assert!(makes[0].critical.is_some() && makes[0].measure.is_some(), "{}: {}", p.key, f.id);
            }
        }
        for (k, o) in sheet.iter().enumerate() {
            assert_eq!(o.number, 10 * (k + 1));
            assert!(o.features.iter().all(|id| p.feature(id).is_some()), "{}: {:?}", p.key, o.features);
            assert!(o.does.ends_with('.') && !o.does.contains("  ") && !o.does.contains(" ,"), "{}: {}", p.key, o.does);
        }
        // Whatever turns or cuts has a caution somewhere on its sheet.
        assert!(sheet.is_empty() || sheet.iter().any(|o| o.caution.is_some()), "{}", p.key);
    }
}
