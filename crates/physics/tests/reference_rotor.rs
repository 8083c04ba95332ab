//! Cases of reference/balance-cases.json on the rotor, its allowance, and the methods worked by hand.

#[path = "../../../reference/check.rs"]
mod check;

use check::{Case, Kind, Tolerance};
use rstest::rstest;
use stillwheel_physics::bench::by_hand;
use stillwheel_physics::bench::swing;
use stillwheel_physics::bench::timing::amplitude_factor;
use stillwheel_physics::numerics::elliptic_k;
use stillwheel_physics::quantity::{
    Angle, Density, GRAMS_PER_OUNCE, Inertia, Length, MM_PER_INCH, Mass, RotationalSpeed, RotorAngle, STANDARD_GRAVITY, Seconds, Unbalance,
    UnbalanceVector, Velocity,
};
use stillwheel_physics::rotor::acceptance::{Verdict, acceptance_limits};
use stillwheel_physics::rotor::allowance::{
    WheelMakerTolerance, equivalents, grade_of_residual, permissible_by_grade, permissible_by_wheel_maker,
};
use stillwheel_physics::rotor::density::density_from_structure;
use stillwheel_physics::rotor::inertia::{AnnularBody, Matter, rolling};
use stillwheel_physics::rotor::planes::{couple_of_wobble, split_to_bearings};
use stillwheel_physics::rotor::speed::{rim_speed, rotation_for_rim_speed};
use stillwheel_physics::rotor::swung_inertia::{TimedSwing, TrialMass, inertia_from_pair};

fn mm(v: f64) -> Length {
    Length::from_mm(v)
}
fn rpm(v: f64) -> RotationalSpeed {
    RotationalSpeed::from_rpm(v)
}
fn g_mm(v: f64) -> Unbalance {
    Unbalance::from_g_mm(v)
}

#[test]
fn tol_01_specific_unbalance_of_a_tool_holder() {
    let case = Case::of("TOL-01");
    for n in case.inputs("speed_rpm") {
        // e = U/m does not depend on the mass; 1 kg makes g·mm and µm the same number.
        let u = permissible_by_grade(case.input("G_mm_s"), Mass::from_kg(1.0), rpm(n)).unwrap();
        case.check(&format!("e_per_um_at_{n}"), equivalents(u, Mass::from_kg(1.0), rpm(n), None).unwrap().offset_um);
    }
}

#[test]
fn tol_02_permissible_unbalance_of_a_tool_holder() {
    let case = Case::of("TOL-02");
    let u = permissible_by_grade(case.input("G_mm_s"), Mass::from_kg(case.input("mass_kg")), rpm(case.input("speed_rpm"))).unwrap();
    case.check("U_per_g_mm", u.g_mm());
}

#[test]
fn tol_03_split_between_bearing_planes() {
    let case = Case::of("TOL-03");
    let n = rpm(case.input("speed_rpm"));
    let u = permissible_by_grade(case.input("G_mm_s"), Mass::from_kg(case.input("mass_kg")), n).unwrap();
    let (a, b) = split_to_bearings(u, mm(case.input("LA_mm")), mm(case.input("LB_mm"))).unwrap();
    case.check("Omega_rad_s", n.rad_s());
    case.check("U_per_g_mm", u.g_mm());
    case.check("U_per_A_g_mm", a.g_mm());
    case.check("U_per_B_g_mm", b.g_mm());
}

#[rstest]
#[case("TOL-10")]
#[case("TOL-11")]
#[case("TOL-12")]
#[case("TOL-13")]
fn tol_1x_wheel_on_its_adapter(#[case] id: &str) {
    let case = Case::of(id);
    let (m, n) = (Mass::from_kg(case.input("mass_kg")), rpm(case.input("speed_rpm")));
    let u = permissible_by_grade(case.input("G_mm_s"), m, n).unwrap();
    let e = equivalents(u, m, n, None).unwrap();
    case.check("e_per_um", e.offset_um);
    case.check("U_per_g_mm", e.g_mm);
    case.check("force_at_U_per_N", e.force_n);
    let (face, other) = split_to_bearings(u, mm(50.0), mm(50.0)).unwrap();
    case.check("U_per_face_g_mm", face.g_mm());
    assert!((face.g_mm() - other.g_mm()).abs() < 1e-12);
}

#[test]
fn tol_20_ounce_inches() {
    // The case's MIL-STD-167-1 limit is no reason that this program offers, so it is not checked here.
    let case = Case::of("TOL-20");
    let (g, w, n) = (case.input("G_mm_s"), case.input("weight_lb"), case.input("speed_rpm"));
    let mass = Mass::from_g(w * 16.0 * GRAMS_PER_OUNCE);
    let u = permissible_by_grade(g, mass, rpm(n)).unwrap();
    let oz_in = equivalents(u, mass, rpm(n), None).unwrap().oz_in;
    case.check("U_per_oz_in", oz_in);
    case.check("K", oz_in * n / (g * w));
}

#[test]
fn tol_30_grade_of_a_measured_residual() {
    let case = Case::of("TOL-30");
    let (m, n, u) = (Mass::from_kg(case.input("mass_kg")), rpm(case.input("speed_rpm")), g_mm(case.input("U_g_mm")));
    case.check("G_mm_s", grade_of_residual(u, m, n).unwrap());
    case.check("e_um", equivalents(u, m, n, None).unwrap().offset_um);
}

#[test]
fn idx_01_index_pair() {
    let case = Case::of("IDX-01");
    let v = |i: u8| UnbalanceVector::polar(g_mm(case.input(&format!("U{i}_g_mm"))), RotorAngle::from_deg(case.input(&format!("U{i}_deg"))));
    let (wheel, arbor) = by_hand::index_pair(v(1), v(2));
    case.check("wheel_g_mm", wheel.size().g_mm());
    case.check("wheel_deg", wheel.at().deg());
    case.check("arbor_g_mm", arbor.size().g_mm());
    case.check("arbor_deg", arbor.at().deg());
}

#[test]
fn acc_01_acceptance_with_error() {
    let case = Case::of("ACC-01");
    let random: Vec<_> = case.inputs("random_parts_g_mm").into_iter().map(g_mm).collect();
    let limits = acceptance_limits(g_mm(case.input("U_per_g_mm")), &random, g_mm(case.input("systematic_rest_g_mm"))).unwrap();
    case.check("dU_g_mm", limits.error.g_mm());
    case.check("accept_limit_g_mm", limits.accept_up_to.unwrap().g_mm());
    case.check("check_limit_g_mm", limits.reject_above.g_mm());
    let words: Vec<&str> = case
        .inputs("U_res_g_mm")
        .into_iter()
        .map(|u| match limits.verdict(g_mm(u)).unwrap() {
            Verdict::Accept => "accept",
            Verdict::Undecided => "undecided",
            Verdict::Reject => "reject",
        })
        .collect();
    case.check_words("verdict", &words);
}

#[test]
fn cpl_01_couple_of_a_wobbling_wheel() {
    let case = Case::of("CPL-01");
    let (tilt, couple) = couple_of_wobble(
        Mass::from_kg(case.input("mass_kg")),
        mm(case.input("radius_mm")),
        mm(case.input("width_mm")),
        mm(case.input("axial_runout_TIR_mm")),
    )
    .unwrap();
    case.check("tilt_mrad", tilt.rad() * 1e3);
    case.check("couple_g_mm2", couple);
}

#[test]
fn del_01_wheel_as_delivered() {
    let case = Case::of("DEL-01");
    let wheel =
        WheelMakerTolerance { k: case.input("k"), wheel_mass: Mass::from_g(case.input("m1_g")), wheel_diameter: mm(case.input("D_mm")) };
    let (m_a, u_a) = permissible_by_wheel_maker(wheel).unwrap();
    case.check("m_a_g", m_a.g());
    case.check("U_a_g_mm", u_a.g_mm());
}

#[test]
fn spd_01_rim_speed_and_surface_feet() {
    let case = Case::of("SPD-01");
    case.check("v_m_s", rim_speed(mm(case.input("D_mm")), rpm(case.input("speed_rpm"))).unwrap().m_s());
    for sfm in case.inputs("sfm") {
        let v = Velocity::from_m_s(sfm * 12.0 * MM_PER_INCH * 1e-3 / 60.0);
        let n = rotation_for_rim_speed(mm(case.input("D_in") * MM_PER_INCH), v).unwrap();
        case.check(&format!("rpm_at_{sfm}_sfm"), n.rpm());
    }
}

#[test]
fn spd_02_constant_rim_speed_of_a_wearing_wheel() {
    let case = Case::of("SPD-02");
    for d in case.inputs("D_mm") {
        let n = rotation_for_rim_speed(mm(d), Velocity::from_m_s(case.input("v_m_s"))).unwrap().rpm();
        case.check(&format!("rpm_{d}"), n);
        case.check(&format!("ratio_{d}"), n / case.input("work_rpm"));
    }
}

#[rstest]
#[case("PEN-10")]
#[case("PEN-20")]
#[case("PEN-40")]
#[case("PEN-60")]
fn pen_exact_period_of_a_metre_pendulum(#[case] id: &str) {
    let case = Case::of(id);
    let amplitude = Angle::from_deg(case.input("amplitude_deg"));
    // 1 kg on a metre: U = 1 kg·m, I = 1 kg·m². The case uses g = 9.81; the period goes with 1/√g.
    let t = swing::period_of_swing(Unbalance::from_kg_m(1.0), amplitude, Inertia::from_kg_m2(1.0)).unwrap().s();
    case.check("T_s", t * (STANDARD_GRAVITY / case.input("g_m_s2")).sqrt());
    case.check("factor_K", amplitude_factor(amplitude).unwrap());
}

#[test]
fn ine_01_annular_wheel() {
    let case = Case::of("INE-01");
    let wheel = AnnularBody {
        outer_diameter: mm(case.input("D_mm")),
        inner_diameter: mm(case.input("H_mm")),
        width: mm(case.input("T_mm")),
        matter: Matter::Density(Density::from_g_cm3(case.input("density_g_cm3"))),
    };
    let sum = wheel.mass_and_inertia().unwrap();
    case.check("mass_g", sum.mass.g());
    case.check("I_kg_m2", sum.inertia.kg_m2());
}

#[test]
fn ine_02_ring_and_disc() {
    let case = Case::of("INE-02");
    let d = mm(2.0 * case.input("radius_mm"));
    let of = |inner| {
        AnnularBody {
            outer_diameter: d,
            inner_diameter: inner,
            width: mm(10.0),
            matter: Matter::Mass(Mass::from_kg(case.input("mass_kg"))),
        }
        .mass_and_inertia()
        .unwrap()
        .inertia
        .kg_m2()
    };
    case.check("ring_kg_m2", of(d));
    case.check("disc_kg_m2", of(mm(0.0)));
}

#[rstest]
#[case("PER-01")]
#[case("PER-02")]
#[case("PER-03")]
fn per_unbalance_from_the_swing(#[case] id: &str) {
    let case = Case::of(id);
    let u = swing::unbalance_from_swing(
        Seconds::new(case.input("T_s")),
        Angle::from_deg(case.input("amplitude_deg")),
        Inertia::from_kg_m2(case.input("I_kg_m2")),
    )
    .unwrap();
    case.check("U_g_mm", u.g_mm());
}

#[test]
fn per_10_inertia_from_a_trial_on_the_heavy_side() {
    let case = Case::of("PER-10");
    // The case is of small swings: the factor of 0.01° is 1 + 2e-9.
    let small = |t| TimedSwing { period: Seconds::new(case.input(t)), period_sd: Seconds::default(), amplitude: Angle::from_deg(0.01) };
    let trial = TrialMass { mass: Mass::from_g(case.input("trial_mass_g")), radius: mm(case.input("trial_radius_mm")) };
    let pair = inertia_from_pair(small("T1_s"), small("T2_s"), trial).unwrap();
    case.check("U_g_mm", pair.unbalance.g_mm());
    case.check("I_kg_m2", pair.inertia.kg_m2());
}

#[test]
fn per_20_rolling_on_ways() {
    let case = Case::of("PER-20");
    let i = Inertia::from_kg_m2(case.input("I_kg_m2"));
    let u = g_mm(case.input("U_g_mm"));
    let small = |i| swing::period_of_swing(u, Angle::from_deg(0.01), i).unwrap().s();
    case.check("T_fixed_axis_s", small(i));
    case.check("T_small_s", small(rolling(i, Mass::from_kg(case.input("mass_kg")), mm(case.input("journal_radius_mm"))).unwrap()));
}

#[test]
fn fri_01_dead_band_of_ways() {
    let case = Case::of("FRI-01");
    let mass = Mass::from_kg(case.input("mass_kg"));
    for (f, end) in case.inputs("f_mm").into_iter().zip(["low", "high"]) {
        let u = by_hand::dead_band_of_ways(mass, mm(f)).unwrap();
        case.check(&format!("U_min_{end}_g_mm"), u.g_mm());
        case.check(&format!("G_{end}_mm_s"), grade_of_residual(u, mass, rpm(case.input("speed_rpm"))).unwrap());
    }
}

#[test]
fn fri_02_dry_friction_on_a_swing() {
    let case = Case::of("FRI-02");
    let e = by_hand::dry_friction_on_swing(g_mm(case.input("U_g_mm")), g_mm(case.input("friction_as_unbalance_g_mm"))).unwrap();
    case.check("loss_per_half_swing_deg", e.lost_per_half_swing.deg());
    case.check("max_rest_error_deg", e.largest_rest_error.deg());
}

#[test]
fn cwt_01_counter_masses() {
    let case = Case::of("CWT-01");
    let got = by_hand::unbalance_from_counter_masses(
        mm(case.input("radius_mm")),
        Mass::from_g(case.input("m_low_g")),
        Mass::from_g(case.input("m_high_g")),
    )
    .unwrap();
    case.check("U_g_mm", got.unbalance.g_mm());
    case.check("friction_as_unbalance_g_mm", got.friction.g_mm());
}

#[test]
fn cwt_02_eight_marks() {
    let case = Case::of("CWT-02");
    let marks: Vec<_> =
        case.inputs("theta_deg").into_iter().zip(case.inputs("w_g")).map(|(at, w)| (RotorAngle::from_deg(at), Mass::from_g(w))).collect();
    let got = by_hand::unbalance_from_marks_around(mm(case.input("radius_mm")), &marks).unwrap();
    case.check("U_g_mm", got.unbalance.size().g_mm());
    case.check("phi_deg", got.unbalance.at().deg());
    case.check("friction_as_unbalance_g_mm", got.friction.g_mm());
    case.check("half_spread_of_extremes_g_mm", got.half_spread.g_mm());
}

#[test]
fn ang_01_two_bearings() {
    let case = Case::of("ANG-01");
    let change = UnbalanceVector::polar(g_mm(case.input("trial_g_mm")), RotorAngle::from_deg(case.input("trial_deg")));
    let at = |name| RotorAngle::from_deg(case.input(name));
    let u = by_hand::unbalance_from_two_bearings(at("phi0_deg"), at("phi1_deg"), change).unwrap();
    case.check("U_g_mm", u.size().g_mm());
}

#[rstest]
#[case("DEN-06")]
#[case("DEN-08")]
#[case("DEN-12")]
fn den_density_from_structure(#[case] id: &str) {
    let case = Case::of(id);
    let d = density_from_structure(
        case.input("structure"),
        case.input("bond_share"),
        Density::from_g_cm3(case.input("grain_density_g_cm3")),
        Density::from_g_cm3(case.input("bond_density_g_cm3")),
    )
    .unwrap();
    case.check("grain_share", d.grain_share);
    case.check("density_g_cm3", d.density.g_cm3());
    case.check("porosity", d.porosity);
}

#[test]
fn elliptic_integral_agrees_with_scipy() {
    let fixture = check::reference("fixtures/elliptic.json");
    let source = fixture["source"].as_str().unwrap();
    let rows = fixture["rows"].as_array().unwrap();
    assert!(rows.len() > 20);
    for (i, r) in rows.iter().enumerate() {
        let m = r["m"].as_f64().unwrap();
        // Near m = 1 one ulp of m moves K by 1e-16/(1 − m)/K: at 0.999999, 1e-11.
        let tolerance = Tolerance::Relative(1e-14 + 1e-16 / (1.0 - m));
        check::row(
            &format!("ELL-{:02}", i + 1),
            &format!("K(m = {m})"),
            Kind::OutsideLibrary,
            source,
            r["k"].as_f64().unwrap(),
            elliptic_k(m),
            tolerance,
        );
    }
    assert!(elliptic_k(1.0).is_nan() && elliptic_k(-0.1).is_nan() && elliptic_k(f64::NAN).is_nan());
}
