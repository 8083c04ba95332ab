//! Marks and faces at the door: photos through the real decoders, words, places of faults.

#[path = "../../../reference/check.rs"]
mod check;

use check::{Case, Kind, Tolerance, row};
use image::{DynamicImage, GrayImage, ImageFormat};
use rstest::rstest;
use serde_json::{Value, json};
use std::f64::consts::TAU;
use std::io::Cursor;
use stillwheel_door::allowance::{AllowanceIn, Reason, allowance};
use stillwheel_door::ground_face::{GroundFaceIn, ground_face};
use stillwheel_door::machine_sheet::{NO_5, read_machine_sheet};
use stillwheel_door::marks::{MarkMachineIn, MarksIn, MarksOut, ScaleIn, SeenIn, SightingIn, marks};
use stillwheel_door::photo_file::{LONGEST_SIDE, Photo, read_photo};
use stillwheel_door::{Fault, find};

fn example<T: serde::de::DeserializeOwned>(name: &str) -> T {
    serde_json::from_value((find(name).unwrap().example)()).unwrap()
}

/// A face 80 mm wide in `width` pixels: waves of `spacing_mm` whose wave vector stands `askew_deg` off the picture's x, lit from the upper left, with
/// scratches and grain.
fn face(width: u32, height: u32, spacing_mm: f64, askew_deg: f64) -> GrayImage {
    let px = f64::from(width) / 80.0;
    let (s, c) = askew_deg.to_radians().sin_cos();
    // Any generator will do for grain: a multiplicative one, Lehmer's.
    let mut state = 12_345_u64;
    let mut grain = move || {
        state = state * 48_271 % 2_147_483_647;
        state as f64 / 2_147_483_647.0 - 0.5
    };
    let scratches: Vec<f64> = (0..height).map(|_| 14.0 * grain()).collect();
    GrayImage::from_fn(width, height, |x, y| {
        let (u, v) = (f64::from(x), f64::from(y));
        let light = 150.0 - 60.0 * u / f64::from(width) - 25.0 * v / f64::from(height);
        let wave = 0.06 * (TAU * (c * u + s * v) / (spacing_mm * px)).cos();
        image::Luma([(light * (1.0 + wave) + scratches[y as usize] + 30.0 * grain()).clamp(0.0, 255.0) as u8])
    })
}

fn bytes(picture: GrayImage, format: ImageFormat) -> Vec<u8> {
    let mut out = Cursor::new(Vec::new());
    DynamicImage::ImageLuma8(picture).write_to(&mut out, format).unwrap();
    out.into_inner()
}

/// The JPEG with an EXIF block that tells how the camera was held (TIFF little-endian, one entry: tag 0x0112, SHORT).
fn with_orientation(jpeg: &[u8], orientation: u8) -> Vec<u8> {
    let mut app1: Vec<u8> = b"Exif\0\0II*\0\x08\0\0\0\x01\0\x12\x01\x03\0\x01\0\0\0".to_vec();
    app1.extend([orientation, 0, 0, 0, 0, 0, 0, 0]);
    let mut out = jpeg[..2].to_vec();
    out.extend([0xff, 0xe1]);
    out.extend(u16::try_from(app1.len() + 2).unwrap().to_be_bytes());
    out.extend(app1);
    out.extend(&jpeg[2..]);
    out
}

/// Taps along the travel at a tenth and nine tenths of the picture: 64 mm apart on the work.
fn seen(photo: Photo) -> SeenIn {
    let (w, h) = (f64::from(photo.width_px), f64::from(photo.height_px));
    let scale = ScaleIn { from_px: [0.1 * w, 0.4 * h], to_px: [0.9 * w, 0.4 * h], distance_mm: 64.0, tap_sd_px: 1.5, along_travel: true };
    SeenIn::Photo { width_px: photo.width_px as usize, height_px: photo.height_px as usize, grey: photo.grey, scale, pattern: 1 }
}

fn asked(seen: SeenIn) -> Result<MarksOut, Fault> {
    let mut input: MarksIn = example("marks");
    input.sightings =
        vec![SightingIn { table_speed_m_min: 15.0, table_speed_sd_m_min: Some(0.1), wheel_speed_rpm: None, stopped: vec![], seen }];
    marks(&input)
}

// The demo's wheel at 1450 r/min and 15 m/min prints 10.345 mm once a turn.
const ONCE: f64 = 15_000.0 / 1450.0;

#[rstest]
#[case::png(ImageFormat::Png, 0.0)]
#[case::jpeg(ImageFormat::Jpeg, 0.0)]
#[case::camera_askew(ImageFormat::Jpeg, 0.6)]
fn a_photo_tells_spacing_and_cause(#[case] format: ImageFormat, #[case] askew_deg: f64) {
    let photo = read_photo(&bytes(face(1000, 700, ONCE, askew_deg), format)).unwrap();
    let out = asked(seen(photo)).unwrap();
    let m = out.marks;
    row(
        "PHO-01",
        &format!("spacing from a photo, {format:?}, askew {askew_deg}°, mm"),
        Kind::ClosedFormOrTable,
        "made picture with this spacing, grain, scratches and uneven light",
        ONCE,
        m.spacing_mm,
        Tolerance::Absolute(3.0 * m.spacing_sd_mm),
    );
    assert!(m.spacing_sd_mm < 0.02 * ONCE, "{}", m.spacing_sd_mm);
    assert!((m.angle_deg.unwrap() - 90.0).abs() < 1.5);
    assert!(out.causes[0].name.starts_with("the wheel, once a turn"), "{}", out.says);
    assert!(out.causes[0].probability > 0.7, "{}", out.says);
}

// How EXIF 2.3 says that the file's picture is turned: the upright one goes into the file by the opposite turn.
#[rstest]
#[case(1, |p: DynamicImage| p)]
#[case(2, |p: DynamicImage| p.fliph())]
#[case(3, |p: DynamicImage| p.rotate180())]
#[case(4, |p: DynamicImage| p.flipv())]
#[case(5, |p: DynamicImage| p.rotate90().fliph())]
#[case(6, |p: DynamicImage| p.rotate270())]
#[case(7, |p: DynamicImage| p.rotate270().fliph())]
#[case(8, |p: DynamicImage| p.rotate90())]
fn a_photo_is_turned_upright_as_the_camera_says(#[case] orientation: u8, #[case] into_the_file: fn(DynamicImage) -> DynamicImage) {
    // Bright upper left quarter, half bright upper right: no turn or mirror image of it is itself.
    let upright = GrayImage::from_fn(96, 64, |x, y| image::Luma([if y < 32 { if x < 48 { 250 } else { 140 } } else { 20 }]));
    let jpeg = bytes(into_the_file(DynamicImage::ImageLuma8(upright)).into_luma8(), ImageFormat::Jpeg);
    let photo = read_photo(&with_orientation(&jpeg, orientation)).unwrap();
    assert_eq!([photo.width_px, photo.height_px], [96, 64]);
    let at = |x: usize, y: usize| i32::from(photo.grey[y * 96 + x]);
    for (x, y, grey) in [(20, 12, 250), (76, 12, 140), (20, 52, 20), (76, 52, 20)] {
        assert!((at(x, y) - grey).abs() < 12, "{orientation}: {} at {x}, {y}", at(x, y));
    }
}

#[test]
fn a_phone_held_upright_still_tells_the_spacing() {
    // The sensor lies across: the file holds the face turned, and says so.
    let turned = DynamicImage::ImageLuma8(face(900, 600, ONCE, 0.0)).rotate270().into_luma8();
    let photo = read_photo(&with_orientation(&bytes(turned, ImageFormat::Jpeg), 6)).unwrap();
    let m = asked(seen(photo)).unwrap().marks;
    assert!((m.spacing_mm - ONCE).abs() < 3.0 * m.spacing_sd_mm && m.angle_deg.unwrap() > 88.5, "{m:?}");
}

#[test]
fn a_large_photo_is_reduced_without_changing_its_spacing() {
    let photo = read_photo(&bytes(face(2600, 800, 3.0, 0.0), ImageFormat::Jpeg)).unwrap();
    assert_eq!((photo.width_px, photo.full_px), (LONGEST_SIDE, [2600, 800]));
    let m = asked(seen(photo)).unwrap().marks;
    assert!((m.spacing_mm - 3.0).abs() < 3.0 * m.spacing_sd_mm, "{m:?}");
}

#[rstest]
#[case::nothing(vec![], "empty", "JPEG or PNG")]
#[case::text(b"no picture at all, only words".to_vec(), "another kind of file", "JPEG or PNG")]
#[case::gif(b"GIF89a\x40\0\x40\0\x80\0\0".to_vec(), "another kind of file", "JPEG or PNG")]
#[case::cut_off({ let mut b = bytes(face(200, 100, 5.0, 0.0), ImageFormat::Png); b.truncate(900); b }, "a broken picture", "JPEG or PNG")]
#[case::too_small(bytes(face(20, 20, 5.0, 0.0), ImageFormat::Png), "20 × 20 pixels", "32 × 32")]
fn what_is_no_photo_is_refused(#[case] file: Vec<u8>, #[case] value: &str, #[case] allowed: &str) {
    let f = read_photo(&file).unwrap_err();
    assert_eq!((f.field.as_str(), f.value.to_string().as_str()), ("photo", value), "{f}");
    assert!(f.allowed.contains(allowed), "{f}");
}

#[test]
fn a_small_file_of_a_huge_picture_is_refused_before_it_is_unpacked() {
    // A PNG head of 60000 × 60000 pixels (IHDR with its CRC-32, worked out bit by bit).
    let mut ihdr = b"IHDR".to_vec();
    ihdr.extend(60_000_u32.to_be_bytes());
    ihdr.extend(60_000_u32.to_be_bytes());
    ihdr.extend([8, 0, 0, 0, 0]);
    let crc = !ihdr
        .iter()
        .fold(u32::MAX, |crc, b| (0..8).fold(crc ^ u32::from(*b), |c, _| if c & 1 == 1 { c >> 1 ^ 0xedb8_8320 } else { c >> 1 }));
    let mut file = b"\x89PNG\r\n\x1a\n\0\0\0\x0d".to_vec();
    file.extend(ihdr);
    file.extend(crc.to_be_bytes());
    file.extend(b"\0\0\0\0IDAT\x35\xaf\x06\x1e");
    let f = read_photo(&file).unwrap_err();
    assert_eq!(f.value.to_string(), "60000 × 60000 pixels", "{f}");
}

#[test]
fn a_spacing_larger_than_the_photo_is_said_to_be_too_large() {
    let photo = read_photo(&bytes(face(400, 300, 200.0, 0.0), ImageFormat::Png)).unwrap();
    let f = asked(seen(photo)).unwrap_err();
    assert_eq!(f.field, "sightings[0].seen.grey", "{f}");
    assert!(f.allowed.contains("repeat at least 3 times"), "{f}");
}

#[test]
fn the_examples_marks_came_from_the_belt() {
    let out = marks(&example("marks")).unwrap();
    // 144 mm over five: 28.8 mm at 250 mm/s are 8.68 Hz; the belt runs π·160·24.167/1400 = 8.677 Hz.
    assert!(out.causes[0].name.starts_with("drive belt, once a round"), "{}", out.says);
    assert!((out.causes[0].frequency_hz.unwrap() - 8.677).abs() < 1e-3);
    assert!((out.causes.iter().map(|c| c.probability).sum::<f64>() - 1.0).abs() < 1e-9);
    assert!(out.causes.iter().any(|c| c.name == "none of these"));
}

#[test]
fn a_machines_sheet_serves_as_the_machine() {
    let sheet = read_machine_sheet(NO_5).unwrap();
    let mut input: MarksIn = example("marks");
    input.machine = MarkMachineIn::of_sheet(&sheet, 300.0);
    let out = marks(&input).unwrap();
    // Every part, belt and bearing of the sheet is among the causes, by its name.
    for name in sheet.parts.iter().map(|p| &p.name).chain(sheet.belts.iter().map(|b| &b.name)).chain(sheet.bearings.iter().map(|b| &b.name))
    {
        assert!(out.causes.iter().any(|c| c.name.starts_with(name.as_str())), "{name}");
    }
    for b in &sheet.bearings {
        assert_eq!(out.causes.iter().filter(|c| c.name.starts_with(b.name.as_str())).count(), 5, "{}", b.name);
    }
}

#[rstest]
#[case("/machine/wheel_speed_rpm", json!(0), "machine.wheel_speed_rpm")]
#[case("/machine/parts/0/ratio_to_wheel", json!(0), "machine.parts[0].ratio_to_wheel")]
#[case("/machine/parts/0/speed_rpm", json!(1400), "machine.parts[0].speed_rpm")]
#[case("/machine/parts/0/orders", json!([0]), "machine.parts[0].orders")]
#[case("/machine/parts/1/name", json!("motor"), "machine.name")]
#[case("/machine/belts/0/on", json!("spindle"), "machine.belts[0].on")]
#[case("/machine/bearings/0/elements", json!(2), "machine.bearings[0].elements")]
#[case("/machine/mains_hz", json!(5), "machine.mains_hz")]
#[case("/sightings/0/table_speed_m_min", json!(0), "sightings[0].table_speed_m_min")]
#[case("/sightings/0/stopped", json!(["pump"]), "sightings[0].stopped[0]")]
#[case("/sightings/0/seen/spaces", json!(0), "sightings[0].seen.spaces")]
#[case("/sightings/0/seen", json!({"kind": "gone"}), "sightings[0]")]
#[case("/sightings", json!([]), "sightings[0]")]
#[case("/none_share", json!(1), "none_share")]
fn a_fault_names_its_place(#[case] at: &str, #[case] value: Value, #[case] field: &str) {
    let calculation = find("marks").unwrap();
    let mut input = (calculation.example)();
    let (parent, key) = at.rsplit_once('/').unwrap();
    input.pointer_mut(parent).unwrap()[key] = value;
    let fault = calculation.run(input).unwrap_err();
    assert_eq!(fault.field, field, "{fault}");
}

#[test]
fn the_face_of_the_textbook_head_at_the_door() {
    let c = Case::of("SDF-01");
    let mut input: GroundFaceIn = example("ground-face");
    input.residual_g_mm = c.input("U_g_mm");
    input.speed_rpm = c.input("speed_rpm");
    input.wheel_diameter_mm = 180.0;
    input.other_vibrations = Vec::new();
    let out = ground_face(&input).unwrap();
    c.check_at("at the door", "force_N", out.force_n);
    c.check_at("at the door", "X_um", out.amplitude_um);
    c.check_at("at the door", "wave_peak_to_valley_um", out.single_pass_um);
    // Four passes in free phase cut no higher waves than one.
    assert!(out.worst.wt_um <= out.single_pass_um && out.worst.wt_um > 0.0);
    let needed = out.needed.unwrap();
    assert!(needed.balance_can_keep_it);
    // What is needed keeps the face, by the calculation itself.
    input.residual_g_mm = needed.residual_g_mm.unwrap();
    let kept = ground_face(&input).unwrap();
    assert!(kept.worst.wt_um <= 0.1 && kept.worst.wt_um > 0.0999, "{}", kept.worst.wt_um);
}

#[test]
fn a_face_that_others_shake_is_not_blamed_on_the_balance() {
    let mut input: GroundFaceIn = example("ground-face");
    input.other_vibrations[0].amplitude_um = 1.0;
    let out = ground_face(&input).unwrap();
    assert!(!out.needed.unwrap().balance_can_keep_it);
    assert!(out.says.contains("more balance hardly helps"), "{}", out.says);
}

#[test]
fn a_wheel_above_its_mark_gets_no_face() {
    let mut input: GroundFaceIn = example("ground-face");
    input.marked_max_m_s = Some(25.0);
    assert_eq!(ground_face(&input).unwrap_err().field, "speed_rpm");
}

#[test]
fn the_finish_governs_the_allowance_where_it_is_the_tightest() {
    let mut input: AllowanceIn = example("allowance");
    input.measured = None;
    let out = allowance(&input).unwrap();
    assert_eq!(out.reason, Reason::Grade);
    let finish = out.limits.iter().find(|l| l.reason == Reason::Finish).unwrap().permissible_g_mm;
    assert!(finish > out.allowance_g_mm);
    // The waves that the allowance leaves are in proportion to those asked for, far below the transition.
    let expected = 0.2 * out.allowance_g_mm / finish;
    row(
        "ALW-01",
        "waves of the allowance by the grade, µm",
        Kind::ClosedFormOrTable,
        "in proportion to the residual, below A·R·(2π/λ)² = 1",
        expected,
        out.equivalents.waviness_um.unwrap(),
        Tolerance::Relative(1e-9),
    );
    input.finish.as_mut().unwrap().waviness_um = 0.02;
    let out = allowance(&input).unwrap();
    assert_eq!(out.reason, Reason::Finish);
    assert!(out.says.contains("by waves of at most 0.02 µm on the ground face: the tightest governs"), "{}", out.says);
    assert!((out.equivalents.waviness_um.unwrap() - 0.02).abs() < 1e-9);
    input.finish.as_mut().unwrap().head.moving_mass_kg = Some(50.0);
    assert_eq!(allowance(&input).unwrap_err().field, "finish.head.natural_frequency_hz");
}
