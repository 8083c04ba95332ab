//! The film against the cases of reference/film-cases.json and closed forms.

#[path = "../../../reference/check.rs"]
mod check;
mod film_support;

use film_support::cases;
use stillwheel_physics::film::{Film, Fineness};

#[test]
fn a_film_at_a_given_pose_carries_what_the_reference_solution_says() {
    let mut seen = 0;
    for case in cases().iter().filter(|c| c.get("load_n").is_none()) {
        let film = Film::new(&case.saddle(), Fineness::NORMAL).expect("allowed");
        let state = film.shape(case.pose()).expect("a film").at(&case.air(), case.supply_pa());
        case.check("force_up_n", state.force_up_n());
        case.check("force_right_n", state.force_right_n());
        case.check("port_bar_abs", state.port_pa / 1e5);
        case.check("flow_l_min_anr", state.flow_l_min_anr());
        case.check("torque_un_m", state.torque_n_m * 1e6);
        case.check("drag_un_m_s", state.drag_n_m_s * 1e6);
        case.check("least_film_um", state.least_film_m * 1e6);
        seen += 1;
    }
    assert_eq!(seen, 4);
}
