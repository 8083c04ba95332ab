//! Marks in pictures made by formula, with spacing and direction known beforehand.

use proptest::prelude::*;
use rand::{RngExt, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;
use rstest::rstest;
use std::f64::consts::TAU;
use stillwheel_physics::grinder::spectrum::{Picture, Scale, Spectrum, spectrum};

/// A face in grey: waves of `spacing_px` at `direction_deg` (of the wave vector, from the picture's x), scratches along x, noise, light from one side.
struct Made {
    size: [usize; 2],
    spacing_px: f64,
    direction_deg: f64,
    contrast: f64,
    noise: f64,
    seed: u64,
}

impl Made {
    fn grey(&self) -> Vec<u8> {
        let mut random = Xoshiro256PlusPlus::seed_from_u64(self.seed);
        let [w, h] = self.size;
        let (s, c) = self.direction_deg.to_radians().sin_cos();
        let scratches: Vec<f64> = (0..h).map(|_| 6.0 * (random.random::<f64>() - 0.5)).collect();
        (0..w * h)
            .map(|i| {
                let (x, y) = ((i % w) as f64, (i / w) as f64);
                // Three times as bright at the left as at the right, and brighter in the middle.
                let light = 1.5 - x / w as f64 - 0.6 * (y / h as f64 - 0.5).powi(2);
                let wave = self.contrast * (TAU * (c * x + s * y) / self.spacing_px + 0.7).cos();
                let noise = self.noise * (random.random::<f64>() + random.random::<f64>() - 1.0);
                (110.0 * light * (1.0 + wave) + scratches[i / w] + noise).clamp(0.0, 255.0) as u8
            })
            .collect()
    }

    fn read(&self, scale: &Scale) -> Result<Spectrum, stillwheel_physics::Fault> {
        spectrum(&Picture { width: self.size[0], height: self.size[1], grey: &self.grey() }, scale)
    }
}

fn along_x(size: [usize; 2]) -> Scale {
    let (w, y) = (size[0] as f64, size[1] as f64 / 2.0);
    Scale { taps: [[0.1 * w, y], [0.9 * w, y]], distance_mm: 40.0, tap_sd_px: 1.0, along_travel: true }
}

// 640 px wide: 512 px are 40 mm, 0.078125 mm a pixel.
// The last column: what the deviation may be at most. The taps alone leave √2/512 = 0.0028; a pattern of four waves is told less well.
#[rstest]
#[case::straight_across(64.0, 0.0, 0.05, 10.0, 0.006)]
#[case::tilted(40.3, 17.0, 0.05, 10.0, 0.006)]
#[case::fine(9.7, -8.0, 0.05, 20.0, 0.006)]
#[case::faint_in_noise(33.3, 5.0, 0.02, 60.0, 0.006)]
#[case::only_four_waves(160.0, 3.0, 0.05, 10.0, 0.03)]
fn spacing_and_angle_come_back_within_their_deviations(
    #[case] spacing_px: f64,
    #[case] direction_deg: f64,
    #[case] contrast: f64,
    #[case] noise: f64,
    #[case] most_rel_sd: f64,
) {
    let size = [640, 480];
    let made = Made { size, spacing_px, direction_deg, contrast, noise, seed: 11 };
    let read = made.read(&along_x(size)).unwrap();
    let p = read.patterns[0];
    let truth = spacing_px * 40.0 / 512.0;
    assert!((p.spacing_mm / truth - 1.0).abs() < 3.0 * p.spacing_rel_sd, "{} for {truth}, ± {}", p.spacing_mm, p.spacing_rel_sd);
    assert!((p.angle_deg - (90.0 - direction_deg.abs())).abs() < 3.0 * p.angle_sd_deg, "{} ± {}", p.angle_deg, p.angle_sd_deg);
    assert!(p.spacing_rel_sd < most_rel_sd, "{}", p.spacing_rel_sd);
}

#[test]
fn the_noise_alone_is_told_as_it_is() {
    // Scale known exactly (taps within a tenth of a pixel): the spread over fifty pictures is what the deviation says, within a factor.
    let size = [256, 192];
    let scale = Scale { tap_sd_px: 0.1, ..along_x(size) };
    let (mut sum, mut told) = (0.0, 0.0);
    for seed in 0..50 {
        let made = Made { size, spacing_px: 21.7, direction_deg: 12.0, contrast: 0.03, noise: 40.0, seed };
        let p = made.read(&scale).unwrap().patterns[0];
        let truth = 21.7 * 40.0 / (0.8 * 256.0);
        sum += (p.spacing_mm / truth - 1.0).powi(2);
        told += p.spacing_rel_sd.powi(2);
    }
    let ratio = (sum / told).sqrt();
    assert!((0.6..1.4).contains(&ratio), "{ratio}");
}

#[test]
fn two_patterns_are_told_apart() {
    let (w, h) = (600, 400);
    let mut random = Xoshiro256PlusPlus::seed_from_u64(3);
    let grey: Vec<u8> = (0..w * h)
        .map(|i| {
            let (x, y) = ((i % w) as f64, (i / w) as f64);
            let waves = 20.0 * (TAU * x / 50.0).cos() + 9.0 * (TAU * (x / 60.0 + y / 8.0)).cos();
            (120.0 + waves + 20.0 * (random.random::<f64>() - 0.5)) as u8
        })
        .collect();
    let read = spectrum(&Picture { width: w, height: h, grey: &grey }, &along_x([w, h])).unwrap();
    let mm = 40.0 / 480.0;
    let across = read.patterns[0];
    assert!((across.spacing_mm / (50.0 * mm) - 1.0).abs() < 0.01 && (across.angle_deg - 90.0).abs() < 1.0, "{across:?}");
    let slant = read.patterns[1];
    let size = (1.0_f64 / 60.0).hypot(1.0 / 8.0);
    assert!((slant.spacing_mm * size / mm - 1.0).abs() < 0.01, "{slant:?}");
    assert!((slant.angle_deg - (8.0_f64 / 60.0).atan().to_degrees()).abs() < 1.0, "{slant:?}");
}

#[test]
fn the_travel_runs_from_tap_to_tap() {
    // The camera was turned by 30°: travel and wave vector both run at 30° in the picture.
    let size = [640, 480];
    let made = Made { size, spacing_px: 40.0, direction_deg: 30.0, contrast: 0.05, noise: 10.0, seed: 5 };
    let (s, c) = 30.0_f64.to_radians().sin_cos();
    let scale =
        Scale { taps: [[100.0, 100.0], [100.0 + 400.0 * c, 100.0 + 400.0 * s]], distance_mm: 50.0, tap_sd_px: 1.0, along_travel: true };
    let p = made.read(&scale).unwrap().patterns[0];
    assert!((p.angle_deg - 90.0).abs() < 3.0 * p.angle_sd_deg.max(0.1), "{p:?}");
    assert!((p.spacing_mm - 5.0).abs() < 3.0 * 5.0 * p.spacing_rel_sd, "{p:?}");
    let by_the_frame = made.read(&Scale { along_travel: false, ..scale }).unwrap().patterns[0];
    assert!((by_the_frame.angle_deg - 60.0).abs() < 0.5, "{by_the_frame:?}");
}

#[test]
fn a_camera_held_askew_widens_the_deviation() {
    // Perspective: the scale grows by a fifth from left to right, so does the spacing.
    let (w, h) = (640_usize, 480_usize);
    let askew: Vec<u8> = (0..w * h)
        .map(|i| {
            let u = (i % w) as f64 / w as f64;
            // Place on the work for a pixel: x/(1 + 0.2(u − ½)) to first order, waves of 40 px in the middle.
            let x = (u - 0.5) * w as f64;
            let on_work = x - 0.1 * x * x / w as f64;
            (120.0 + 15.0 * (TAU * on_work / 40.0).cos()) as u8
        })
        .collect();
    let read = |grey: &[u8]| spectrum(&Picture { width: w, height: h, grey }, &along_x([w, h])).unwrap().patterns[0];
    let p = read(&askew);
    let square = read(&Made { size: [w, h], spacing_px: 40.0, direction_deg: 0.0, contrast: 0.1, noise: 0.0, seed: 1 }.grey());
    assert!(p.spacing_rel_sd > 3.0 * square.spacing_rel_sd, "{} {}", p.spacing_rel_sd, square.spacing_rel_sd);
    assert!((p.spacing_mm / (40.0 * 40.0 / 512.0) - 1.0).abs() < 2.0 * p.spacing_rel_sd, "{p:?}");
}

#[rstest]
#[case::spacing_longer_than_the_picture(Made { size: [320, 240], spacing_px: 400.0, direction_deg: 0.0, contrast: 0.1, noise: 10.0, seed: 2 })]
#[case::nothing_but_noise(Made { size: [320, 240], spacing_px: 30.0, direction_deg: 0.0, contrast: 0.0, noise: 60.0, seed: 2 })]
fn a_picture_without_regular_marks_is_said_to_have_none(#[case] made: Made) {
    let fault = made.read(&along_x(made.size)).unwrap_err();
    assert_eq!(fault.field, "photo", "{fault}");
}

#[test]
fn what_is_no_picture_is_refused() {
    let scale = along_x([64, 64]);
    let read = |width, height, grey: &[u8], scale: &Scale| spectrum(&Picture { width, height, grey }, scale).unwrap_err().field;
    let flat = vec![128; 64 * 64];
    assert_eq!(read(64, 64, &flat, &scale), "photo.grey");
    assert_eq!(read(64, 63, &flat, &scale), "photo.grey");
    assert_eq!(read(16, 64, &flat, &scale), "photo.width_px");
    assert_eq!(read(4096, 4096, &flat, &scale), "photo.width_px");
    assert_eq!(read(64, 64, &flat, &Scale { taps: [[10.0, 10.0], [12.0, 10.0]], ..scale }), "photo.scale.taps");
    assert_eq!(read(64, 64, &flat, &Scale { taps: [[10.0, 10.0], [f64::NAN, 10.0]], ..scale }), "photo.scale.taps[1][0]");
    assert_eq!(read(64, 64, &flat, &Scale { distance_mm: 0.0, ..scale }), "photo.scale.distance_mm");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    // No picture makes it fail but by a fault, and what it tells is finite.
    #[test]
    fn any_picture_gives_finite_marks_or_a_fault(w in 32..90_usize, h in 32..90_usize, seed in 0..1000_u64, step in 1..64_u8) {
        let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
        let grey: Vec<u8> = (0..w * h).map(|i| random.random::<u8>() / step * step / if i % w < w / 2 { 1 } else { 2 }).collect();
        if let Ok(read) = spectrum(&Picture { width: w, height: h, grey: &grey }, &along_x([w, h])) {
            for p in &read.patterns {
                prop_assert!(p.spacing_mm.is_finite() && p.spacing_rel_sd.is_finite() && p.spacing_rel_sd > 0.0);
                prop_assert!((0.0..=90.0).contains(&p.angle_deg) && p.angle_sd_deg.is_finite());
            }
            prop_assert!(read.curve.iter().flatten().all(|v| v.is_finite()));
        }
    }
}
