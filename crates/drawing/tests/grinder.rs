//! Pictures from the grinder: shade stands where the face stands higher, bars are as long as their probability, and every picture is sound.

mod common;

use common::sound;
use proptest::prelude::*;
use stillwheel_drawing::{
    CauseBar, CausesPlot, FacePicture, FaceStrip, ProfilePlot, SpectrumMark, SpectrumPlot, causes, ground_face, profile, spectrum,
};

fn face(strips: Vec<FaceStrip>) -> FacePicture {
    FacePicture { title: "Face".into(), id_prefix: "f-".into(), spacing_mm: 0.5, strips }
}

fn strip(from_mm: f64, heights_um: Vec<f64>) -> FaceStrip {
    FaceStrip { from_mm, to_mm: from_mm + 10.0, heights_um }
}

/// Points of the paths of the steps.
fn step_places(svg: &str) -> Vec<[f64; 2]> {
    svg.lines()
        .filter(|l| l.contains("data-part=\"step\""))
        .flat_map(|l| {
            let d = l.split(" d=\"").nth(1).unwrap().split('"').next().unwrap();
            d.split(['M', 'L', 'Z'])
                .filter(|p| !p.is_empty())
                .map(|p| {
                    let mut xy = p.split(' ').map(|v| v.parse::<f64>().unwrap());
                    [xy.next().unwrap(), xy.next().unwrap()]
                })
                .collect::<Vec<_>>()
        })
        .collect()
}

#[test]
fn shade_lies_where_the_face_is_higher() {
    // High only in the right half of the upper of two strips: 40 points of 0.5 mm over 332 units from 52 on.
    let low = vec![0.0; 41];
    let high: Vec<f64> = (0..41).map(|i| if i < 20 { 0.0 } else { 1.0 }).collect();
    let svg = ground_face(&face(vec![strip(0.0, low), strip(10.0, high)])).unwrap();
    let places = step_places(&svg);
    assert!(!places.is_empty());
    // Face of 20 by 20 mm: 260 units tall from 10 on, the second strip above 140.
    assert!(places.iter().all(|p| p[0] > 52.0 + 332.0 * 19.0 / 40.0 && p[1] <= 140.0 + 1e-6), "{places:?}");
}

#[test]
fn a_flat_face_has_no_shade() {
    let svg = ground_face(&face(vec![strip(0.0, vec![0.3; 20])])).unwrap();
    assert!(step_places(&svg).is_empty());
    sound(&svg).unwrap();
}

#[test]
fn bars_are_as_long_as_the_probability() {
    let bar = |p| CauseBar { name: "the wheel".into(), prints: "5 mm".into(), probability: p };
    let svg = causes(&CausesPlot { title: "Causes".into(), id_prefix: "c-".into(), causes: vec![bar(0.75), bar(0.25)] }).unwrap();
    let wide: Vec<f64> = svg
        .lines()
        .filter(|l| l.contains("data-part=\"cause\""))
        .map(|l| l.split(" width=\"").nth(1).unwrap().split('"').next().unwrap().parse().unwrap())
        .collect();
    assert_eq!(wide, [225.0, 75.0]);
    assert!(svg.contains("75 %") && svg.contains("25 %"));
    sound(&svg).unwrap();
}

#[test]
fn what_cannot_be_drawn_is_refused() {
    assert_eq!(ground_face(&face(vec![])).unwrap_err().field, "strips");
    let uneven = face(vec![strip(0.0, vec![0.0; 5]), strip(10.0, vec![0.0; 6])]);
    assert_eq!(ground_face(&uneven).unwrap_err().field, "strips[1].heights_um");
    assert_eq!(ground_face(&face(vec![strip(0.0, vec![f64::NAN; 5])])).unwrap_err().field, "strips[0].heights_um");
    let none = SpectrumMark { spacing_mm: 0.0, angle_deg: 90.0, strength: 1.0 };
    let plot = SpectrumPlot { curve: vec![[0.1, 0.0], [0.2, 1.0]], patterns: vec![none], ..SpectrumPlot::default() };
    assert_eq!(spectrum(&plot).unwrap_err().field, "patterns[0].spacing_mm");
    let bar = CauseBar { name: "x".into(), prints: String::new(), probability: 1.1 };
    assert_eq!(causes(&CausesPlot { causes: vec![bar], ..CausesPlot::default() }).unwrap_err().field, "causes[0].probability");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    // Any face in range makes a well-formed picture within its frame.
    #[test]
    fn every_face_is_sound(rows in 1..40_usize, points in 3..60_usize, scale in 0.0..500.0_f64, spacing in 0.001..5.0_f64) {
        let strips = (0..rows).map(|r| {
            let heights = (0..points).map(|i| scale * ((r * 7 + i * 3) as f64).sin()).collect();
            FaceStrip { from_mm: r as f64 * 2.0, to_mm: r as f64 * 2.0 + 2.0, heights_um: heights }
        });
        let svg = ground_face(&FacePicture { spacing_mm: spacing, ..face(strips.collect()) }).unwrap();
        sound(&svg)?;
        prop_assert!(step_places(&svg).iter().all(|p| (51.9..=384.1).contains(&p[0]) && p[1] >= 9.9));
    }

    #[test]
    fn every_profile_and_spectrum_is_sound(z in prop::collection::vec(-50.0..50.0_f64, 2..200), spacing in 0.001..1.0_f64) {
        let line: Vec<f64> = z.iter().map(|v| v / 2.0).collect();
        sound(&profile(&ProfilePlot { title: "P".into(), id_prefix: "p-".into(), spacing_mm: spacing, heights_um: z.clone(), mean_line_um: line }).unwrap())?;
        let curve = z.iter().enumerate().map(|(i, v)| [i as f64 * spacing, v.abs() / 50.0]).collect();
        let patterns = vec![SpectrumMark { spacing_mm: 1.0 / spacing, angle_deg: 88.0, strength: 1.0 }];
        sound(&spectrum(&SpectrumPlot { title: "S".into(), id_prefix: "s-".into(), curve, patterns }).unwrap())?;
    }
}
