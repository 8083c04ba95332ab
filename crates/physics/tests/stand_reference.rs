//! The stand against published tables, closed forms and independent solutions: beams, planes through feet, tipping, levels,
//! friction, draught.

#[path = "../../../reference/check.rs"]
mod check;

use check::{Case, Kind, Tolerance, row};
use proptest::prelude::*;
use stillwheel_physics::bench::motion::{Pendulum, simulate};
use stillwheel_physics::numerics::bisect;
use stillwheel_physics::stand::arbor::{Arbor, PointLoad, Step, edge_lift_um, second_moment_mm4, tilt_from_floats_mm_per_m};
use stillwheel_physics::stand::budget::{RotorOnArbor, Setting, draught_g_mm, floor};
use stillwheel_physics::stand::feet::Feet;
use stillwheel_physics::stand::level::{
    BubbleReading, HeightReading, Keep, Slope, arcsec_of_mm_per_m, foot_changes_mm, good_enough, mm_per_m_of_arcsec, slope_from_bubbles,
    slope_from_heights, turns,
};
use stillwheel_physics::stand::plate::Plate;
use stillwheel_physics::stand::supports::{
    AirFilm, ArborForm, BALL_BEARING_FRICTION, Carried, Cause, DiscRollers, END_STOP_FRICTION, FILM_ROUNDNESS_SHARE, RollingWays, Support,
};

fn plain(d: f64, length: f64, supports: [f64; 2], loads: Vec<PointLoad>, e_mpa: f64, density_g_cm3: f64) -> Arbor {
    let steps = vec![Step { length_mm: length, outer_diameter_mm: d, inner_diameter_mm: 0.0 }];
    Arbor { steps, modulus_gpa: e_mpa / 1e3, density_g_cm3, supports_mm: supports, loads }
}

#[test]
fn beam_with_the_load_midway() {
    let c = Case::mechanical("beam-centre");
    let (l, f) = (c.input("L_mm"), c.input("F_N"));
    c.check("I_mm4", second_moment_mm4(c.input("d_mm"), 0.0));
    let arbor = plain(c.input("d_mm"), l, [0.0, l], vec![PointLoad { at_mm: l / 2.0, force_n: f }], c.input("E_MPa"), 0.0);
    let bent = arbor.bend().unwrap();
    c.check("deflection_um", bent.largest_sag.0);
    assert!((bent.largest_sag.1 - l / 2.0).abs() < 1e-6);
    c.check("slope_urad", bent.support_slopes_urad[0]);
    c.check("edge_difference_um", edge_lift_um(bent.support_slopes_urad[1], c.input("saddle_len_mm")));
}

#[test]
fn beam_under_its_own_weight() {
    let c = Case::mechanical("beam-selfweight");
    let l = c.input("L_mm");
    let bent = plain(c.input("d_mm"), l, [0.0, l], vec![], c.input("E_MPa"), c.input("density_kg_m3") / 1e3).bend().unwrap();
    c.check("q_N_per_mm", (bent.reactions_n[0] + bent.reactions_n[1]) / l);
    c.check("deflection_um", bent.largest_sag.0);
    c.check("end_slope_urad", bent.support_slopes_urad[0]);
}

#[test]
fn beam_with_the_wheel_overhung() {
    let c = Case::mechanical("beam-overhang");
    let (l, a) = (c.input("L_mm"), c.input("a_mm"));
    let load = PointLoad { at_mm: l + a, force_n: c.input("F_N") };
    let bent = plain(c.input("d_mm"), l + a, [0.0, l], vec![load], c.input("E_MPa"), 0.0).bend().unwrap();
    c.check("tip_deflection_um", bent.fall_um(l + a));
    c.check("slope_far_saddle_urad", bent.support_slopes_urad[0].abs());
    c.check("slope_near_saddle_urad", bent.support_slopes_urad[1]);
    c.check("slope_tip_urad", bent.slope_urad(l + a));
    c.check("uplift_between_um", bent.largest_uplift.0);
    c.check("reaction_far_N", bent.reactions_n[0]);
    c.check("reaction_near_N", bent.reactions_n[1]);
}

#[test]
fn beam_with_the_load_off_the_middle() {
    let c = Case::mechanical("beam-offcentre");
    let (l, a) = (c.input("L_mm"), c.input("a_mm"));
    let load = PointLoad { at_mm: a, force_n: c.input("F_N") };
    let bent = plain(c.input("d_mm"), l, [0.0, l], vec![load], c.input("E_MPa"), 0.0).bend().unwrap();
    c.check("deflection_at_load_um", bent.fall_um(a));
    c.check("slope_left_urad", bent.support_slopes_urad[0]);
    c.check("slope_right_urad", bent.support_slopes_urad[1].abs());
    c.check("reaction_left_N", bent.reactions_n[0]);
    c.check("reaction_right_N", bent.reactions_n[1]);
}

#[test]
fn airy_points_leave_the_ends_parallel_and_bessel_points_shorten_least() {
    let c = Case::mechanical("airy-bessel");
    let l = 300.0;
    let bent = |s: f64| plain(25.0, l, [l * (1.0 - s) / 2.0, l * (1.0 + s) / 2.0], vec![], 205e3, 7.81).bend().unwrap();
    c.check("airy", bisect(0.4, 0.7, |s| bent(s).slope_urad(0.0)).unwrap());
    // Shortening of a bent line: half the integral of its slope squared.
    let shortening = |s: f64| {
        let b = bent(s);
        (0..3000).map(|i| b.slope_urad(l * (f64::from(i) + 0.5) / 3000.0).powi(2)).sum::<f64>()
    };
    let change = |s: f64| shortening(s + 1e-4) - shortening(s - 1e-4);
    c.check("bessel", bisect(0.5, 0.6, change).unwrap());
}

/// Deflection by the unit-load method, ∫ M·m/EI dx, with moments from statics alone and the midpoint rule: shares no line with the
/// code under test. Source: Castigliano's theorem, any strength-of-materials text.
fn by_unit_load(arbor: &Arbor, at: f64, n: u32) -> f64 {
    let length: f64 = arbor.steps.iter().map(|s| s.length_mm).sum();
    let [a, b] = arbor.supports_mm;
    let moment = |x: f64, loads: &[(f64, f64)]| {
        // (place, downward force) → moment at x from what lies left of it, reactions included.
        let rb: f64 = loads.iter().map(|(p, f)| f * (p - a)).sum::<f64>() / (b - a);
        let ra: f64 = loads.iter().map(|l| l.1).sum::<f64>() - rb;
        let up = ra * (x - a).max(0.0) + rb * (x - b).max(0.0);
        up - loads.iter().map(|(p, f)| f * (x - p).max(0.0)).sum::<f64>()
    };
    let step_at = |x: f64| {
        let mut end = 0.0;
        arbor.steps.iter().find(|s| {
            end += s.length_mm;
            x <= end
        })
    };
    let dx = length / f64::from(n);
    let mut loads: Vec<(f64, f64)> = arbor.loads.iter().map(|l| (l.at_mm, l.force_n)).collect();
    for i in 0..n {
        let x = (f64::from(i) + 0.5) * dx;
        let s = step_at(x).unwrap();
        let area = std::f64::consts::PI / 4.0 * (s.outer_diameter_mm.powi(2) - s.inner_diameter_mm.powi(2));
        loads.push((x, arbor.density_g_cm3 * 1e-6 * 9.80665 * area * dx));
    }
    let unit = [(at, 1.0)];
    let sum = |i: u32| {
        let x = (f64::from(i) + 0.5) * dx;
        let s = step_at(x).unwrap();
        let ei = arbor.modulus_gpa * 1e3 * std::f64::consts::PI / 64.0 * (s.outer_diameter_mm.powi(4) - s.inner_diameter_mm.powi(4));
        moment(x, &loads) * moment(x, &unit) / ei * dx
    };
    (0..n).map(sum).sum::<f64>() * 1e3
}

/// A balancing arbor with collar, seat, bored end and an overhung nut.
fn stepped() -> Arbor {
    let step = |length_mm, outer_diameter_mm, inner_diameter_mm| Step { length_mm, outer_diameter_mm, inner_diameter_mm };
    Arbor {
        steps: vec![step(60.0, 20.0, 0.0), step(12.0, 34.0, 0.0), step(48.0, 25.0, 6.0), step(60.0, 20.0, 0.0), step(30.0, 14.0, 5.0)],
        modulus_gpa: 205.0,
        density_g_cm3: 7.81,
        supports_mm: [25.0, 165.0],
        loads: vec![
            PointLoad { at_mm: 84.0, force_n: 24.0 },
            PointLoad { at_mm: 110.0, force_n: 6.0 },
            PointLoad { at_mm: 205.0, force_n: 9.0 },
        ],
    }
}

#[test]
fn stepped_arbor_agrees_with_the_unit_load_method() {
    let arbor = stepped();
    let bent = arbor.bend().unwrap();
    for at in [0.0, 60.0, 84.0, 100.0, 140.0, 210.0] {
        let expected = by_unit_load(&arbor, at, 2100);
        let source = "unit-load method (Castigliano), midpoint rule with 2100 strips, in crates/physics/tests/stand_reference.rs";
        let what = format!("stepped arbor, fall at {at} mm, µm");
        row("ARB-01", &what, Kind::ClosedFormOrTable, source, expected, bent.fall_um(at), Tolerance::Absolute(1e-4));
    }
}

#[test]
fn stepped_arbors_agree_with_beam_finite_elements() {
    let file = check::reference("fixtures/stepped_arbor.json");
    let source = file["made_by"].as_str().unwrap();
    let num = |v: &serde_json::Value| v.as_f64().unwrap();
    let pairs = |v: &serde_json::Value| v.as_array().unwrap().clone();
    for (i, case) in pairs(&file["arbors"]).iter().enumerate() {
        let steps = pairs(&case["steps"]);
        let arbor = Arbor {
            steps: steps
                .iter()
                .map(|s| Step { length_mm: num(&s[0]), outer_diameter_mm: num(&s[1]), inner_diameter_mm: num(&s[2]) })
                .collect(),
            modulus_gpa: num(&case["modulus_gpa"]),
            density_g_cm3: num(&case["density_g_cm3"]),
            supports_mm: [num(&case["supports_mm"][0]), num(&case["supports_mm"][1])],
            loads: pairs(&case["loads"]).iter().map(|l| PointLoad { at_mm: num(&l[0]), force_n: num(&l[1]) }).collect(),
        };
        let bent = arbor.bend().unwrap();
        let id = format!("ARB-{:02}", i + 2);
        let check = |what: String, expected: f64, got: f64, tolerance: f64| {
            row(&id, &what, Kind::OutsideLibrary, source, expected, got, Tolerance::Absolute(tolerance));
        };
        for k in 0..2 {
            check(format!("reaction {}, N", k + 1), num(&case["reactions_n"][k]), bent.reactions_n[k], 1e-6);
        }
        for p in pairs(&case["places"]) {
            let at = num(&p["at_mm"]);
            check(format!("fall at {at} mm, µm"), num(&p["fall_um"]), bent.fall_um(at), 1e-5);
            check(format!("slope at {at} mm, µrad"), num(&p["slope_urad"]), bent.slope_urad(at), 1e-4);
        }
    }
}

#[test]
fn plate_as_a_strip() {
    let c = Case::mechanical("plate-strip");
    let plate = Plate {
        width_mm: c.input("b_mm"),
        thickness_mm: c.input("h_mm"),
        span_mm: c.input("L_mm"),
        modulus_gpa: c.input("E_MPa") / 1e3,
        density_g_cm3: c.input("density") / 1e3,
    };
    let sag = plate.sag(c.input("F_N")).unwrap();
    c.check("sag_own_um", sag.own_um);
    c.check("sag_load_um", sag.load_um);
}

fn feet(c: &Case) -> Feet {
    Feet::on_circle(c.input("radius_mm"), c.inputs("angles_deg").try_into().unwrap()).unwrap()
}

#[test]
fn plane_through_three_feet() {
    let c = Case::mechanical("plane-from-heights");
    let heights = c.inputs("heights_mm");
    let readings: Vec<HeightReading> =
        feet(&c).places().into_iter().zip(heights).map(|([x_mm, y_mm], height_mm)| HeightReading { x_mm, y_mm, height_mm }).collect();
    let got = slope_from_heights(&readings, 0.001).unwrap();
    c.check("slope_x_mm_per_m", got.slope.x_mm_per_m);
    c.check("slope_y_mm_per_m", got.slope.y_mm_per_m);
    c.check("mean_height_mm", got.mean_height_mm.unwrap());
}

#[test]
fn turns_of_the_screws_from_two_readings() {
    let c = Case::mechanical("turns-from-two-readings");
    let slope = Slope { x_mm_per_m: c.input("slope_x_mm_per_m"), y_mm_per_m: c.input("slope_y_mm_per_m") };
    let pitch = [c.input("pitch_mm"); 3];
    c.check_list("foot_change_zero_mean_mm", &foot_changes_mm(&feet(&c), slope, Keep::Height).unwrap());
    c.check_list("turns_zero_mean", &turns(&feet(&c), slope, Keep::Height, pitch).unwrap());
    let up = turns(&feet(&c), slope, Keep::OnlyUp, pitch).unwrap();
    c.check_list("turns_only_up", &up);
    c.check_list("degrees_only_up", &up.map(|t| t * 360.0));
}

#[test]
fn tilt_of_one_turn() {
    let c = Case::mechanical("foot-sensitivity");
    let feet = Feet::on_circle(c.input("radius_mm"), [90.0, 210.0, 330.0]).unwrap();
    let tilt = feet.tilt_per_turn_mm_per_m(0, c.input("pitch_mm"));
    c.check("lever_mm", feet.lever_mm(0));
    c.check("tilt_mm_per_m_per_turn", tilt);
    c.check("degrees_of_turn_for_0.02_mm_per_m", 360.0 * 0.02 / tilt);
}

#[test]
fn loads_and_margins_of_the_feet() {
    for id in ["tip-120", "tip-arc120", "tip-offset", "tip-halfcircle"] {
        let c = Case::mechanical(id);
        let centre = c.inputs("com_mm").try_into().unwrap();
        let got = feet(&c).standing(centre, c.input("weight_N"), 250.0).unwrap();
        c.check("margin_mm", got.margin_mm);
        c.check_list("foot_loads_N", &got.foot_loads_n);
        assert_eq!(got.is_stable(), c.expected("stable").as_bool().unwrap(), "{id}");
        // Seen from the centre of mass, feet within half a turn hold nothing up.
        assert_eq!(got.widest_gap_deg < 180.0 - 1e-9, got.is_stable(), "{id}");
    }
    let c = Case::mechanical("tip-force");
    let feet = Feet::on_circle(150.0, [90.0, 210.0, 330.0]).unwrap();
    let got = feet.standing([0.0, 0.0], c.input("weight_N"), c.input("height_mm")).unwrap();
    assert!((got.margin_mm - c.input("margin_mm")).abs() < 1e-9);
    c.check("F_N", got.tipping_force_n);
}

#[test]
fn a_spirit_level_in_angle_and_slope() {
    let c = Case::mechanical("level-0.02");
    c.check("angle_arcsec", arcsec_of_mm_per_m(c.input("sens_mm_per_m")));
    let c = Case::mechanical("level-0.6");
    c.check("angle_arcmin", arcsec_of_mm_per_m(c.input("sens_mm_per_m")) / 60.0);
    let c = Case::mechanical("level-20s");
    c.check("sens_mm_per_m", mm_per_m_of_arcsec(c.input("angle_arcsec")));
}

#[test]
fn a_level_turned_end_for_end() {
    let c = Case::mechanical("level-reversal");
    let unit = c.input("sens_mm_per_m");
    let reading = |along_deg, divisions, reversed| BubbleReading { along_deg, divisions, reversed_divisions: Some(reversed) };
    let two = [reading(0.0, c.input("reading_A_div"), c.input("reading_B_div")), reading(90.0, 1.0, -1.0)];
    let got = slope_from_bubbles(&two, unit, 0.25).unwrap();
    c.check("true_slope_div", got.slope.x_mm_per_m / unit);
    c.check("true_slope_mm_per_m", got.slope.x_mm_per_m);
    c.check("zero_error_div", got.vial_error_divisions.unwrap());
    // Four readings, three unknowns: each slope is half the sum of two, so a quarter division is told to 0.25/√2.
    assert!((got.sd_mm_per_m[0] / (0.25 / 2f64.sqrt() * unit) - 1.0).abs() < 1e-9);
}

#[test]
fn saddles_of_unlike_height_tilt_the_arbor() {
    let c = Case::mechanical("saddle-height-difference");
    // Films of 1 N/µm under loads that differ by 10 N differ by 10 µm.
    let tilt = tilt_from_floats_mm_per_m([c.input("dh_um"), 0.0], 1.0, c.input("span_mm")).unwrap();
    c.check("tilt_mm_per_m", tilt);
    c.check("arcsec", arcsec_of_mm_per_m(tilt));
    c.check("divisions", tilt / 0.02);
    c.check("rise_over_saddle_um", edge_lift_um(tilt * 1e3, 20.0));
}

fn carried(mass_kg: f64) -> Carried {
    let arbor = ArborForm { radius_mm: 10.0, roundness_um: 0.0, lobes: 2 };
    Carried { mass_kg, arbor, cross_slope_mm_per_m: 0.0, axial_slope_mm_per_m: 0.0 }
}

fn ways(lever_arm_um: f64) -> RollingWays {
    RollingWays { lever_arm_um, flatness_um: 0.0, length_mm: 100.0 }
}

fn air() -> AirFilm {
    AirFilm {
        drift_g_mm: 0.0,
        drift_sd_g_mm: 0.0,
        drift_per_cross_slope_g_mm: 0.04,
        viscous_drag_g_mm_s: 0.02,
        axis_tilt_mm_per_m: 0.0,
        end_stop_friction: END_STOP_FRICTION,
        end_stop_radius_mm: 3.0,
        roundness_share: FILM_ROUNDNESS_SHARE,
    }
}

#[test]
fn dead_band_of_ways_is_mass_times_lever_arm() {
    let c = Case::of("FRI-01");
    for (f, end) in c.inputs("f_mm").into_iter().zip(["low", "high"]) {
        let got = Support::HardenedWays(ways(f * 1e3)).effects(&carried(c.input("mass_kg"))).unwrap();
        c.check_at("supports", &format!("U_min_{end}_g_mm"), got.dead_band_g_mm);
    }
}

#[test]
fn an_arbor_on_air_that_leans_on_its_end_stop() {
    // Film physics notes §7: μ 0.15, 3 kg, 0.1 mm/m, contact radius 3 mm: 0.135 g·mm; 0.1 mm/m: 3 mm in 2.5 s.
    let source = "film physics notes §7, derived: μ·M·α·r, and s = g·α·t²/2";
    let on = Carried { axial_slope_mm_per_m: 0.1, ..carried(3.0) };
    let got = Support::Air(air()).effects(&on).unwrap();
    row("STO-01", "dead band of the end stop, g·mm", Kind::ClosedFormOrTable, source, 0.135, got.dead_band_g_mm, Tolerance::Relative(1e-9));
    // The slope that gives 0.135 g·mm is 0.1 mm/m again.
    let good = good_enough(&Support::Air(air()), &on, 0.135, 1.0, 3.0).unwrap();
    let kind = Kind::ClosedFormOrTable;
    row("STO-01", "slope for that dead band, mm/m", kind, source, 0.1, good.axial_mm_per_m.unwrap(), Tolerance::Relative(1e-9));
    row("STO-01", "time to creep 3 mm, s", kind, source, 2.5, good.end_creep_s.unwrap(), Tolerance::Absolute(0.05));
}

#[test]
fn disc_rollers_by_their_ratio() {
    // By hand: 3 kg at ±30°: 3000/cos 30° = 3464.1 g; bearing 0.0015·3464.1·4 mm·(10/50) = 4.1569; rolling 3464.1·0.005·(1 + 0.2) = 20.7846.
    let discs = DiscRollers {
        disc_radius_mm: 50.0,
        bearing_radius_mm: 4.0,
        bearing_friction: BALL_BEARING_FRICTION,
        contact_deg: 30.0,
        lever_arm_um: 5.0,
        disc_unbalance_g_mm: 0.0,
    };
    let got = Support::DiscRollers(discs).effects(&carried(3.0)).unwrap();
    let of = |cause| got.contributions.iter().find(|c| c.cause == cause).unwrap().random_sd_g_mm * 3f64.sqrt();
    assert!((of(Cause::BearingFriction) - 4.1569).abs() < 1e-4);
    assert!((of(Cause::RollingFriction) - 20.7846).abs() < 1e-4);
    assert!((got.dead_band_g_mm - 24.9415).abs() < 1e-4);
}

#[test]
fn lobes_in_a_notch_lift_the_axis_as_the_true_shape_does() {
    // The true outline r + a·cos nφ is pressed into a notch with sides at ±β: the axis is as high as its supporting lines say.
    let (r, a, beta) = (10.0, 0.0005, 0.5_f64);
    for n in [2_u32, 3, 5] {
        let support_line = |direction: f64, turned: f64| {
            (0..40_000)
                .map(|i| {
                    let phi = std::f64::consts::TAU * f64::from(i) / 40_000.0;
                    (r + a * (f64::from(n) * (phi - turned)).cos()) * (phi - direction).cos()
                })
                .fold(0.0, f64::max)
        };
        // Lines at ±β from straight down; the centre sits where both are touched: y = (p₁ + p₂)/(2·cos β).
        let height = |turned: f64| (support_line(beta, turned) + support_line(-beta, turned)) / (2.0 * beta.cos());
        let heights: Vec<f64> = (0..360).map(|i| height(f64::from(i).to_radians())).collect();
        let swing = heights.iter().fold(f64::MIN, |m, h| m.max(*h)) - heights.iter().fold(f64::MAX, |m, h| m.min(*h));
        // A cosine of half that swing turns through n·half at its steepest: torque over weight, per g·mm.
        let expected = 3000.0 * f64::from(n) * swing / 2.0;
        let discs = DiscRollers {
            disc_radius_mm: 50.0,
            bearing_radius_mm: 4.0,
            bearing_friction: 0.0,
            contact_deg: beta.to_degrees(),
            lever_arm_um: 0.0,
            disc_unbalance_g_mm: 0.0,
        };
        let on = Carried { arbor: ArborForm { radius_mm: r, roundness_um: 2e3 * a, lobes: n }, ..carried(3.0) };
        let got = Support::DiscRollers(discs).effects(&on).unwrap();
        let got = got.contributions.iter().find(|c| c.cause == Cause::ArborRoundness).unwrap().systematic_g_mm;
        let source = "true outline pressed into the notch, 40000 points, in crates/physics/tests/stand_reference.rs";
        let what = format!("{n} lobes of 1 µm in a notch of ±28.6°, g·mm");
        row("LOB-01", &what, Kind::ClosedFormOrTable, source, expected, got, Tolerance::Relative(5e-3));
    }
}

#[test]
fn draught_is_the_wall_shear_summed_over_one_half() {
    // Blasius: wall shear 0.332·ρ·v²/√(v·x/ν), x from the leading edge of each strip, both faces, lever = height of the strip.
    let (rho, nu, v, r) = (1.204, 1.51e-5, 0.3_f64, 0.1_f64);
    let n = 400;
    let mut torque = 0.0;
    for i in 0..n {
        let h = r * (f64::from(i) + 0.5) / f64::from(n);
        let chord = 2.0 * (r * r - h * h).sqrt();
        for k in 0..n {
            // x = chord·s²: the shear is infinite at the edge but its sum is not.
            let s = (f64::from(k) + 0.5) / f64::from(n);
            let x = chord * s * s;
            let dx = chord * 2.0 * s / f64::from(n);
            torque += 2.0 * h * 0.332 * rho * v * v / (v * x / nu).sqrt() * dx * r / f64::from(n);
        }
    }
    let expected = torque / 9.80665 * 1e6;
    let source = "Blasius wall shear (Schlichting) summed over 160000 places, in crates/physics/tests/stand_reference.rs";
    let got = draught_g_mm(200.0, v).unwrap();
    row(
        "DRA-01",
        "air of 0.3 m/s on one half of a 200 mm wheel, g·mm",
        Kind::ClosedFormOrTable,
        source,
        expected,
        got,
        Tolerance::Relative(1e-3),
    );
}

fn demo_rotor() -> RotorOnArbor {
    RotorOnArbor {
        mass_kg: 2.9,
        seated_mass_kg: 2.3,
        inertia_kg_m2: 0.0082,
        wheel_diameter_mm: 200.0,
        arbor: ArborForm { radius_mm: 10.0, roundness_um: 0.5, lobes: 2 },
        runout_um: 2.0,
        index_balanced: false,
        seat_play_um: 0.0,
    }
}

fn demo_setting() -> Setting {
    Setting { cross_slope_mm_per_m: 0.02, axial_slope_mm_per_m: 0.02, draught_m_s: 0.05, visible_creep_deg: 2.0, patience_s: 60.0 }
}

proptest! {
    #[test]
    fn least_visible_torque_turns_the_rotor_by_just_the_visible_creep(c in 0.0..200.0_f64, t in 5.0..120.0_f64, creep in 0.5..10.0_f64) {
        // The equation of motion by the integrator, with that torque as the only drive.
        let support = Support::Air(AirFilm { viscous_drag_g_mm_s: c, ..air() });
        let setting = Setting { visible_creep_deg: creep, patience_s: t, ..demo_setting() };
        let budget = floor(&support, &demo_rotor(), &setting, 10.0, &[]).unwrap();
        let line = budget.lines.iter().find(|l| l.contribution.cause == Cause::Reading).unwrap();
        let torque = line.contribution.random_sd_g_mm * 3f64.sqrt();
        let pendulum = Pendulum {
            u_g_mm: 0.0, theta_rad: 0.0, j_g_mm_s2: 0.0082 / 9.80665 * 1e6, c_g_mm_s: c, d_g_mm_s2: 0.0, tc_g_mm: 0.0, td_g_mm: torque,
        };
        let turned = simulate(&pendulum, 0.0, 0.0, &[t]).unwrap()[0].to_degrees();
        prop_assert!((turned / creep - 1.0).abs() < 1e-6, "{turned} {creep}");
    }
}
