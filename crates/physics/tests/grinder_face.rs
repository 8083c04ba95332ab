//! The ground face against closed forms, a plain search over all circles, outside packages and its own laws.

#[path = "../../../reference/check.rs"]
mod check;

use check::{Case, Kind, Tolerance, reference, row};
use proptest::prelude::*;
use rstest::rstest;
use std::f64::consts::{PI, TAU};
use stillwheel_physics::grinder::envelope::{amplitude_for_height, lower_envelope, sag, single_pass_height};
use stillwheel_physics::grinder::face::{Measure, Needed, Phases, Recipe, Source, amplitude_within, ground_face};
use stillwheel_physics::grinder::filter::{ALPHA, kept_share, mean_line};
use stillwheel_physics::grinder::response::Head;
use stillwheel_physics::grinder::roughness::{parameters, texture};
use stillwheel_physics::quantity::{Length, Mass, RotationalSpeed, Unbalance, Velocity};

fn mm(v: f64) -> Length {
    Length::from_mm(v)
}

/// A strip of 40 mm, one pass, waves of `wavelength` at 0.25 m/s.
fn one_pass(radius_mm: f64) -> Recipe {
    Recipe {
        wheel_radius: mm(radius_mm),
        wheel_width: mm(20.0),
        table_speed: Velocity::from_m_s(0.25),
        cross_feed: None,
        spark_out: 0,
        length: mm(40.0),
        width: mm(10.0),
        phases: Phases::Same,
        cutoff: mm(0.8),
        long_cutoff: None,
    }
}

fn source(wavelength_mm: f64, amplitude_um: f64) -> Source {
    Source { frequency_hz: 250.0 / wavelength_mm, amplitude: mm(amplitude_um * 1e-3) }
}

fn height_um(sources: &[Source], recipe: &Recipe) -> f64 {
    parameters(&ground_face(sources, recipe).unwrap().strips[0].heights_um).total
}

#[test]
fn the_head_answers_as_the_textbook_says() {
    let c = Case::of("SDF-01");
    let head = Head::of_frequency(c.input("k_N_per_um"), c.input("fn_Hz"), c.input("zeta")).unwrap();
    let v = head.vibration(Unbalance::from_g_mm(c.input("U_g_mm")), RotationalSpeed::from_rpm(c.input("speed_rpm"))).unwrap();
    c.check("force_N", v.force_n);
    c.check("X_um", v.amplitude.mm() * 1e3);
    // The wave that one pass leaves at 15 m/min with a wheel of 180 mm, before later passes cut it.
    let mut recipe = one_pass(90.0);
    recipe.length = mm(50.0);
    let at_speed = Source { frequency_hz: c.input("speed_rpm") / 60.0, amplitude: v.amplitude };
    c.check("wave_peak_to_valley_um", height_um(&[at_speed], &recipe));
}

#[test]
fn the_head_at_rest_and_at_resonance() {
    let source = "closed form: U·ω²/k at low speed, 1/(2ζ) and a lag of 90° at resonance, Rao";
    let head = Head::of_frequency(30.0, 50.0, 0.04).unwrap();
    let at = |rpm: f64| head.vibration(Unbalance::from_g_mm(50.0), RotationalSpeed::from_rpm(rpm)).unwrap();
    row("SDF-02", "magnification at resonance", Kind::ClosedFormOrTable, source, 12.5, at(3000.0).magnification, Tolerance::Relative(1e-9));
    row("SDF-02", "lag at resonance, degrees", Kind::ClosedFormOrTable, source, 90.0, at(3000.0).lag.deg(), Tolerance::Absolute(1e-9));
    row("SDF-02", "magnification at 1 r/min", Kind::ClosedFormOrTable, source, 1.0, at(1.0).magnification, Tolerance::Absolute(1e-6));
    // m = k/ω₀²: the same head by its mass.
    let mass = Mass::from_kg(30e6 / (TAU * 50.0).powi(2));
    row(
        "SDF-02",
        "natural frequency of 30 N/µm on k/ω₀², Hz",
        Kind::ClosedFormOrTable,
        source,
        50.0,
        Head::of_mass(30.0, mass, 0.04).unwrap().natural_hz(),
        Tolerance::Relative(1e-12),
    );
}

#[test]
fn spacing_of_a_once_per_turn_mark() {
    let c = Case::of("FRQ-02");
    let v = c.input("work_speed_m_min") / 60.0;
    let mut recipe = one_pass(90.0);
    recipe.table_speed = Velocity::from_m_s(v);
    recipe.length = mm(50.0);
    let wave = Source { frequency_hz: c.input("wheel_rpm") / 60.0, amplitude: mm(2e-4) };
    let face = ground_face(&[wave], &recipe).unwrap();
    // From the places of the valleys, by which way the height turns.
    let z = &face.strips[0].heights_um;
    let valleys: Vec<f64> =
        (1..z.len() - 1).filter(|i| z[*i] < z[i - 1] && z[*i] <= z[i + 1]).map(|i| i as f64 * face.spacing_mm).collect();
    let spacing = (valleys[valleys.len() - 1] - valleys[0]) / (valleys.len() - 1) as f64;
    let e = c.expected("spacing_mm").as_f64().unwrap();
    row(
        "FRQ-02",
        "spacing_mm of the valleys of a simulated face",
        Kind::ClosedFormOrTable,
        &c.source(),
        e,
        spacing,
        Tolerance::Relative(0.002),
    );
}

// With R = 90 mm and a wave of 5 mm the transition lies at A = λ²/(4π²R) = 7.036 µm.
#[rstest]
#[case("small", 0.2, 0.4, 1e-6)]
#[case("a tenth of the transition", 0.7036, 1.4072, 1e-6)]
#[case("just below the transition", 7.0, 14.0, 1e-4)]
fn below_the_transition_a_pass_leaves_twice_the_amplitude(
    #[case] name: &str,
    #[case] a_um: f64,
    #[case] expected: f64,
    #[case] within: f64,
) {
    let got = height_um(&[source(5.0, a_um)], &one_pass(90.0));
    row(
        "ENV-01",
        &format!("height of one pass, {name}, A = {a_um} µm, µm"),
        Kind::ClosedFormOrTable,
        "2A below A·R·(2π/λ)² = 1",
        expected,
        got,
        Tolerance::Relative(within),
    );
}

#[test]
fn far_above_the_transition_scallops_of_the_wheel_are_left() {
    // λ²/8R = 25/720 mm = 34.72 µm; at A = 2 mm·10⁻¹ the arcs still lack a little of it: cos-shaped troughs are not points.
    let source_text = "closed form: depth of the cusp between circles of radius R whose lowest points are λ apart, R − √(R² − λ²/4)";
    let got = height_um(&[source(5.0, 1000.0)], &one_pass(90.0));
    let cusp = (90.0 - (90.0_f64 * 90.0 - 2.5 * 2.5).sqrt()) * 1e3;
    row(
        "ENV-02",
        "scallops of one pass at A = 1 mm, λ = 5 mm, R = 90 mm, µm",
        Kind::ClosedFormOrTable,
        source_text,
        cusp,
        got,
        Tolerance::Relative(0.02),
    );
    row(
        "ENV-02",
        "their limit λ²/8R by the closed form, µm",
        Kind::ClosedFormOrTable,
        "λ²/8R",
        25e3 / 720.0,
        single_pass_height(mm(1e4), mm(5.0), mm(90.0)).mm() * 1e3,
        Tolerance::Relative(1e-3),
    );
    assert_eq!(amplitude_for_height(mm(0.0348), mm(5.0), mm(90.0)), None);
}

#[test]
fn between_them_the_face_and_the_closed_form_agree() {
    for sharpness in [1.05, 1.5, 3.0, 10.0, 30.0] {
        let a_um = sharpness * 25e3 / (4.0 * PI * PI * 90.0);
        let closed = single_pass_height(mm(a_um * 1e-3), mm(5.0), mm(90.0)).mm() * 1e3;
        let got = height_um(&[source(5.0, a_um)], &one_pass(90.0));
        row(
            "ENV-03",
            &format!("height of one pass at A·R·k² = {sharpness}, µm"),
            Kind::ClosedFormOrTable,
            "crest A + A·cos ku + u²/2R, sin ku/ku = 1/(A·R·k²): derived",
            closed,
            got,
            Tolerance::Relative(0.01),
        );
        let back = amplitude_for_height(mm(closed * 1e-3), mm(5.0), mm(90.0)).unwrap().mm() * 1e3;
        assert!((back / a_um - 1.0).abs() < 1e-6, "{sharpness}: {back} for {a_um}");
    }
}

/// The plain version: the lowest of all circles, asked one by one.
fn by_search(lowest: &[[f64; 2]], r: f64, x: f64) -> f64 {
    lowest.iter().map(|c| c[1] + sag(r, x - c[0])).fold(f64::INFINITY, f64::min)
}

#[test]
fn the_face_of_two_vibrations_is_what_a_search_over_a_fine_path_finds() {
    // Waves of 5 and 0.9 mm, the second above its own transition (0.9²/(4π²·90) = 0.23 µm).
    let sources = [source(5.0, 0.6), source(0.9, 0.5)];
    let mut recipe = one_pass(90.0);
    recipe.length = mm(8.0);
    let face = ground_face(&sources, &recipe).unwrap();
    let path: Vec<[f64; 2]> = (0..400_000)
        .map(|i| f64::from(i) * 5e-5 - 5.0)
        .map(|x| [x, -6e-4 * (TAU * x / 5.0).cos() - 5e-4 * (TAU * x / 0.9).cos()])
        .collect();
    // The evaluation length begins where the recipe's length does, to within a point: find the shift from the spacing.
    let z = &face.strips[0].heights_um;
    let first = face.strips[0].texture.from as f64 * face.spacing_mm - 0.8 - face.spacing_mm;
    for i in (0..z.len()).step_by(97) {
        let x = first + i as f64 * face.spacing_mm;
        let near: Vec<[f64; 2]> = path.iter().copied().filter(|c| (c[0] - x).abs() < 1.0).collect();
        let plain = by_search(&near, 90.0, x) * 1e3;
        row(
            "ENV-04",
            &format!("height at {x:.3} mm of two vibrations, µm"),
            Kind::ClosedFormOrTable,
            "search over all circles of a path stepped by 0.05 µm",
            plain,
            z[i],
            Tolerance::Absolute(1e-5),
        );
    }
}

#[test]
fn the_gaussian_filter_keeps_what_the_standard_says() {
    let c = Case::of("FIL-01");
    let cutoff = c.input("lambda_c_mm");
    c.check("alpha", ALPHA);
    c.check("s0_per_mm", 1.0 / (ALPHA * cutoff));
    let spacing = 0.004;
    for l in c.inputs("wavelength_mm") {
        let name = format!("w_at_{l}");
        c.check(&name, kept_share(l, cutoff));
        // The same of a sine through the filter itself: its largest height between the ends, by least squares on sine and cosine.
        let n = 12_000;
        let k = TAU * spacing / l;
        let sine: Vec<f64> = (0..n).map(|i| (k * f64::from(i)).sin()).collect();
        let line = mean_line(&sine, spacing, cutoff).unwrap();
        let whole = (l / spacing * 4.0).round() as usize;
        let part = line.ends..line.ends + whole * ((n as usize - 2 * line.ends) / whole);
        let share: f64 = part.clone().map(|i| line.line[i] * (k * i as f64).sin()).sum::<f64>() * 2.0 / part.len() as f64;
        c.check_at("through the filter", &name, share);
    }
}

#[test]
fn a_sine_has_the_measures_of_a_sine() {
    let c = Case::of("FIL-02");
    let a = c.input("amplitude_um");
    let sine: Vec<f64> = (0..100_000).map(|i| a * (TAU * f64::from(i) / 10_000.0).sin()).collect();
    let p = parameters(&sine);
    c.check("Wa_um", p.mean);
    c.check("Wq_um", p.rms);
    c.check("Wt_um", p.total);
}

#[test]
fn roughness_and_waviness_agree_with_outside_packages() {
    let file = reference("fixtures/texture.json");
    let source = file["source"].as_str().unwrap();
    for r in file["rows"].as_array().unwrap() {
        let number = |name: &str| r[name].as_f64().unwrap();
        let profile: Vec<f64> = r["profile_um"].as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect();
        let t = texture(&profile, number("spacing_mm"), number("cutoff_mm"), None).unwrap();
        assert_eq!(t.sections, 5);
        let got = [
            ("Ra_um", t.roughness.mean),
            ("Rq_um", t.roughness.rms),
            ("Rt_um", t.roughness.total),
            ("Rz_um", t.rz.unwrap()),
            ("Wa_um", t.waviness.mean),
            ("Wq_um", t.waviness.rms),
            ("Wt_um", t.waviness.total),
        ];
        for (name, got) in got {
            let what = format!("{name}, {}", r["name"].as_str().unwrap());
            row("TEX-01", &what, Kind::OutsideLibrary, source, number(name), got, Tolerance::Absolute(2e-5));
        }
    }
}

#[test]
fn a_cross_feed_of_a_quarter_passes_each_strip_four_times() {
    let mut recipe = one_pass(90.0);
    (recipe.width, recipe.cross_feed, recipe.spark_out) = (mm(30.0), Some(mm(5.0)), 2);
    let face = ground_face(&[source(5.0, 0.5)], &recipe).unwrap();
    // 20 mm of wheel at 5 mm a pass: four passes, three times over the face.
    assert!(face.strips.iter().all(|s| s.passes == 12), "{:?}", face.strips.iter().map(|s| s.passes).collect::<Vec<_>>());
    let wide: f64 = face.strips.iter().map(|s| s.to_mm - s.from_mm).sum();
    assert!((wide - 30.0).abs() < 1e-9);
}

#[test]
fn two_passes_in_opposite_phase_leave_waves_of_half_the_spacing() {
    // Seeds are tried until two passes lie so: the lowest wave of all. Where the two cross, each path passes its mean at the slope A·k and
    // cuts there from R·A·k to the side, where it is A·R·A·k² lower and its circle half of that higher.
    let mut recipe = one_pass(90.0);
    recipe.spark_out = 1;
    let best = (0..400)
        .map(|seed| {
            recipe.phases = Phases::Free(seed);
            height_um(&[source(5.0, 0.5)], &recipe)
        })
        .fold(f64::INFINITY, f64::min);
    let (a, k) = (0.5e-3, TAU / 5.0);
    let expected = (a - 90.0 * (a * k).powi(2) / 2.0) * 1e3;
    let source = "closed form: A − R·(A·k)²/2, to second order in A";
    row(
        "ENV-06",
        "height of two passes in opposite phase, A = 0.5 µm, λ = 5 mm, R = 90 mm, µm",
        Kind::ClosedFormOrTable,
        source,
        expected,
        best,
        Tolerance::Absolute(0.004),
    );
}

#[rstest]
#[case::no_table_speed("table_speed_m_s", |r: &mut Recipe| r.table_speed = Velocity::from_m_s(0.0))]
#[case::nan("wheel_radius_mm", |r: &mut Recipe| r.wheel_radius = mm(f64::NAN))]
#[case::wider_than_the_wheel("face_width_mm", |r: &mut Recipe| r.width = mm(21.0))]
#[case::feed_wider_than_the_wheel("cross_feed_mm", |r: &mut Recipe| r.cross_feed = Some(mm(20.1)))]
#[case::too_many_passes("face_width_mm", |r: &mut Recipe| (r.cross_feed, r.width) = (Some(mm(0.02)), mm(100.0)))]
#[case::no_cutoff("cutoff_mm", |r: &mut Recipe| r.cutoff = mm(0.0))]
#[case::long_cutoff_below_the_short("long_cutoff_mm", |r: &mut Recipe| r.long_cutoff = Some(mm(0.9)))]
#[case::too_long_for_its_waves("face_length_mm", |r: &mut Recipe| (r.length, r.table_speed) = (mm(2000.0), Velocity::from_m_s(0.001)))]
fn what_cannot_be_ground_is_refused(#[case] field: &str, #[case] spoil: fn(&mut Recipe)) {
    let mut recipe = one_pass(90.0);
    spoil(&mut recipe);
    let wave = Source { frequency_hz: 50.0, amplitude: mm(1e-4) };
    assert_eq!(ground_face(&[wave], &recipe).unwrap_err().field, field);
}

#[test]
fn a_limit_that_others_break_or_that_nothing_breaks_is_said_to_be_so() {
    let recipe = one_pass(90.0);
    let [own, other] = [source(5.0, 0.1), source(3.0, 0.4)];
    let ask = |limit, sources: &[Source]| amplitude_within(limit, Measure::Total, sources, &recipe).unwrap();
    assert_eq!(ask(0.5, &[own, other]), Needed::OthersAlone);
    // Waves of 0.5 mm: scallops of at most 0.25/720 mm = 0.35 µm.
    assert_eq!(ask(0.5, &[source(0.5, 0.1)]), Needed::Any);
    // Alone and below the transition the waves keep 98.25 % through the filter at 5 mm (FIL-01's formula).
    let Needed::Amplitude(a) = ask(0.5, &[own]) else { panic!("no amplitude") };
    let expected = 0.5 / 2.0 / kept_share(5.0, 0.8);
    row(
        "ENV-05",
        "amplitude for Wt = 0.5 µm, one pass, λ = 5 mm, µm",
        Kind::ClosedFormOrTable,
        "Wt/2 over the share that the filter keeps",
        expected,
        a.mm() * 1e3,
        Tolerance::Relative(0.001),
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    // Laws of a lower envelope: it is the lowest of all circles everywhere, hence below each; each place is cut by the circle that is named.
    #[test]
    fn the_envelope_is_the_lowest_of_all_circles(
        z in prop::collection::vec(-0.5..0.5_f64, 2..120), step in 0.001..3.0_f64, r in 0.5..50.0_f64
    ) {
        let lowest: Vec<[f64; 2]> = z.iter().enumerate().map(|(i, z)| [i as f64 * step, *z]).collect();
        let at: Vec<f64> = (0..200).map(|i| f64::from(i) * step * z.len() as f64 / 180.0 - 0.05 * step).collect();
        for ((height, i), x) in lower_envelope(&lowest, r, &at).into_iter().zip(&at) {
            let plain = by_search(&lowest, r, *x);
            prop_assert!(height == plain || (height - plain).abs() < 1e-12 * r.max(1.0), "{height} {plain} at {x}");
            if i != usize::MAX {
                prop_assert_eq!(height, lowest[i][1] + sag(r, x - lowest[i][0]));
            }
        }
    }

    // Grinding again along the face that is there cuts nothing: opened by the same circle, the envelope stays.
    #[test]
    fn the_envelope_is_idempotent(z in prop::collection::vec(-0.02..0.02_f64, 60..100), r in 2.0..50.0_f64) {
        let lowest: Vec<[f64; 2]> = z.iter().enumerate().map(|(i, z)| [i as f64 * 0.05, *z]).collect();
        let xs: Vec<f64> = lowest.iter().map(|c| c[0]).collect();
        let face: Vec<f64> = lower_envelope(&lowest, r, &xs).iter().map(|h| h.0).collect();
        // The highest path on which the circle stays above nothing of the face: raised by the closing dual, it gives back the face.
        let highest: Vec<[f64; 2]> = xs
            .iter()
            .map(|c| [*c, xs.iter().zip(&face).map(|(x, f)| f - sag(r, x - c)).fold(f64::NEG_INFINITY, f64::max)])
            .collect();
        for (again, before) in lower_envelope(&highest, r, &xs).iter().zip(&face) {
            prop_assert!((again.0 - before).abs() < 1e-12);
        }
    }

    // Moving the whole path moves the face with it, and no more.
    #[test]
    fn the_envelope_moves_with_its_path(
        z in prop::collection::vec(-0.02..0.02_f64, 2..60), dx in -30.0..30.0_f64, dz in -5.0..5.0_f64
    ) {
        let lowest: Vec<[f64; 2]> = z.iter().enumerate().map(|(i, z)| [i as f64 * 0.05, *z]).collect();
        let moved: Vec<[f64; 2]> = lowest.iter().map(|c| [c[0] + dx, c[1] + dz]).collect();
        let at: Vec<f64> = (0..80).map(|i| f64::from(i) * 0.04).collect();
        let at_moved: Vec<f64> = at.iter().map(|x| x + dx).collect();
        for (a, b) in lower_envelope(&lowest, 20.0, &at).iter().zip(lower_envelope(&moved, 20.0, &at_moved)) {
            prop_assert!((a.0 + dz - b.0).abs() < 1e-10);
        }
    }

    // More residual never leaves lower waves, with the passes where they are; no pass leaves more than twice the amplitude.
    #[test]
    fn the_face_grows_with_the_residual(seed in 0..1000_u64, a in 0.01..4.0_f64, more in 1.01..5.0_f64, spark_out in 0..3_u32) {
        let recipe = Recipe { phases: Phases::Free(seed), spark_out, ..one_pass(90.0) };
        let (less, more_um) = (height_um(&[source(5.0, a)], &recipe), height_um(&[source(5.0, a * more)], &recipe));
        prop_assert!(less <= more_um * (1.0 + 1e-6), "{less} {more_um}");
        prop_assert!(less <= 2.0 * a * (1.0 + 1e-9));
    }

    // What the limit asks for keeps the limit, and hardly more breaks it.
    #[test]
    fn the_amplitude_for_a_limit_is_the_largest(seed in 0..1000_u64, limit in 0.05..3.0_f64, spark_out in 0..3_u32) {
        let recipe = Recipe { phases: Phases::Free(seed), spark_out, ..one_pass(90.0) };
        if let Needed::Amplitude(a) = amplitude_within(limit, Measure::Total, &[source(5.0, 1.0)], &recipe).unwrap() {
            let wt = |a: Length| ground_face(&[Source { amplitude: a, ..source(5.0, 1.0) }], &recipe).unwrap().worst().texture.waviness.total;
            prop_assert!(wt(a) <= limit);
            prop_assert!(wt(mm(a.mm() * 1.001)) > limit);
        }
    }
}
