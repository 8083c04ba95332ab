//! Pictures of the stand: parts stand where the operator sees them, and every picture is sound for any input in range.

mod common;

use common::{read, sound};
use proptest::prelude::*;
use rstest::rstest;
use std::fmt::Write as _;
use stillwheel_drawing::{
    BudgetCause, BudgetPlot, CauseKind, CurveMark, CurvePlot, FeetPlan, FootMark, MarkKind, PlotAxis, PressureMap, SaddleSection, Series,
    TradeOff, TradeOffDesign, budget, curves, feet, pressure_map, saddle_section, trade_off,
};

fn section(float_um: [f64; 2], port_offset_mm: f64) -> SaddleSection {
    let film = (-45..=45).map(|k| {
        let a = f64::from(k) * 2.0;
        [a, 14.0 + float_um[1] * a.to_radians().cos() - float_um[0] * a.to_radians().sin()]
    });
    SaddleSection {
        title: "Section".to_owned(),
        bore_radius_mm: 10.0,
        arc_deg: 180.0,
        film: film.collect(),
        pressure: vec![],
        port_diameter_mm: 1.2,
        jet_diameter_mm: None,
        port_offset_mm,
        float_um: Some(float_um),
        ..SaddleSection::default()
    }
}

/// Left and right of the box of the one element with this part's name.
fn part(svg: &str, name: &str) -> Vec<[f64; 4]> {
    let named = svg.replace(&format!("data-part=\"{name}\""), "id=\"sought\"");
    // Ids must be single for the reader: number them.
    let mut out = String::new();
    for (k, piece) in named.split("id=\"sought\"").enumerate() {
        if k > 0 {
            let _ = write!(out, "id=\"sought-{k}\"");
        }
        out.push_str(piece);
    }
    let tree = read(&out);
    (1..)
        .map_while(|k| tree.node_by_id(&format!("sought-{k}")))
        .map(|n| {
            let b = n.abs_bounding_box();
            [b.left(), b.top(), b.right(), b.bottom()].map(f64::from)
        })
        .collect()
}

// The arbor's outline: the film is thinner on the side to which it moved.
#[rstest]
#[case::right(6.0)]
#[case::left(-6.0)]
fn an_arbor_that_moved_to_a_side_is_drawn_nearer_to_it(#[case] x_um: f64) {
    let svg = saddle_section(&section([x_um, 0.0], 0.0)).unwrap();
    let (arbor, saddle) = (part(&svg, "arbor")[0], part(&svg, "saddle")[0]);
    let (left, right) = (arbor[0] - saddle[0], saddle[2] - arbor[2]);
    assert!((left - right) * x_um > 5.0, "{left} {right}");
}

#[rstest]
#[case(2.0, 1.0)]
#[case(-2.0, -1.0)]
fn a_port_that_lies_to_the_right_is_drawn_to_the_right(#[case] offset_mm: f64, #[case] sign: f64) {
    let port = part(&saddle_section(&section([0.0, 0.0], offset_mm)).unwrap(), "port")[0];
    // 10 mm of bore radius are 122 units; the middle is at 200.
    let x = f64::midpoint(port[0], port[2]) - 200.0;
    assert!((x - sign * 24.4).abs() < 0.7, "{x}");
}

#[test]
fn the_section_says_by_how_much_the_film_is_enlarged() {
    // The thickest film, 14 µm, is drawn 30 units thick where 10 mm are 122 units: 30/122·10 mm/14 µm = 175.6.
    let svg = saddle_section(&section([0.0, 0.0], 0.0)).unwrap();
    assert!(svg.contains("film drawn 176 times as thick as it is"), "{svg}");
}

#[test]
fn bars_are_as_long_as_their_causes_and_the_allowance_stands_at_its_value() {
    let cause = |size_g_mm, kind| BudgetCause { name: "cause".to_owned(), size_g_mm, kind };
    let plot = BudgetPlot {
        causes: vec![cause(2.0, CauseKind::Systematic), cause(1.0, CauseKind::Random)],
        root_sum_g_mm: 5f64.sqrt(),
        worst_g_mm: 3.0,
        allowance_g_mm: Some(4.0),
        ..BudgetPlot::default()
    };
    let svg = budget(&plot).unwrap();
    let wide: Vec<f64> = svg
        .lines()
        .filter(|l| l.contains("data-part=\"cause\""))
        .map(|l| l.split("width=\"").nth(1).unwrap().split('"').next().unwrap().parse().unwrap())
        .collect();
    assert!((wide[0] / wide[1] - 2.0).abs() < 1e-3 && (wide[3] / wide[1] - 3.0).abs() < 1e-3, "{wide:?}");
    let line = part(&svg, "allowance")[0];
    assert!((line[0] - 12.0 - 4.0 * wide[1]).abs() < 0.01, "{line:?}");
    let far = budget(&BudgetPlot { allowance_g_mm: Some(400.0), ..plot }).unwrap();
    assert!(far.contains("right of the picture") && part(&far, "allowance").is_empty());
}

#[test]
fn feet_say_and_show_the_same_turn() {
    let foot = |at_mm, turns: f64| FootMark { at_mm, rise_mm: Some(turns), clockwise_turns: Some(turns) };
    let plan = FeetPlan {
        title: "Feet".to_owned(),
        id_prefix: String::new(),
        plate_mm: [300.0, 200.0],
        feet: [foot([20.0, 20.0], 0.25), foot([280.0, 20.0], -1.5), foot([150.0, 180.0], 0.0)],
        mass_centre_mm: Some([150.0, 80.0]),
    };
    let svg = feet(&plan).unwrap();
    assert!(svg.contains("Foot 1: 90° clockwise, rises 0.25 mm"), "{svg}");
    assert!(svg.contains("Foot 2: 1.5 turns counter-clockwise, sinks 1.5 mm"));
    assert!(svg.contains("Foot 3: leave it"));
    let (a, b) = (part(&svg, "clockwise"), part(&svg, "counter-clockwise"));
    assert_eq!((a.len(), b.len()), (1, 1));
    // Away from the operator is up: foot 3 above 1; 1 left of 2.
    let places = part(&svg, "foot");
    assert!(places[0][0] < places[1][0] && places[2][1] < places[0][1]);
    assert!(a[0][0] < 200.0 && b[0][0] > 200.0);
}

#[test]
fn a_pressure_peak_to_the_right_of_the_middle_is_drawn_there() {
    let (columns, rows) = (41_usize, 21_usize);
    let bar = (0..rows * columns)
        .map(|k| {
            let (x, z) = ((k % columns) as f64 / 20.0 - 1.0, (k / columns) as f64 / 10.0 - 1.0);
            2.0 * (-8.0 * ((x - 0.5).powi(2) + (z - 0.4).powi(2))).exp()
        })
        .collect();
    let svg = pressure_map(&PressureMap { arc_deg: 180.0, length_mm: 24.0, columns, bar, ..PressureMap::default() }).unwrap();
    let steps = part(&svg, "step");
    let top = steps.last().unwrap();
    // The map spans 60 to 384 across and 12 to 202 down; x = 0.5 stands at three quarters, z = 0.4 at 0.7 from below.
    assert!((f64::midpoint(top[0], top[2]) - 303.0).abs() < 3.0 && (f64::midpoint(top[1], top[3]) - 69.0).abs() < 3.0, "{top:?}");
    assert_eq!(steps.len(), 6);
}

#[test]
fn a_mark_lies_on_its_values() {
    let plot = CurvePlot {
        series: vec![Series { name: "a".to_owned(), points: vec![[0.0, 0.0], [10.0, 100.0]] }],
        marks: vec![CurveMark { at: [5.0, 50.0], kind: MarkKind::Full, name: "half".to_owned() }],
        ..CurvePlot::default()
    };
    let svg = curves(&plot).unwrap();
    let (line, mark) = (part(&svg, "curve")[0], part(&svg, "mark")[0]);
    let centre = |b: [f64; 4]| [f64::midpoint(b[0], b[2]), f64::midpoint(b[1], b[3])];
    assert!((centre(line)[0] - centre(mark)[0]).abs() < 0.01 && (centre(line)[1] - centre(mark)[1]).abs() < 0.01);
}

fn traded(designs: &[[f64; 3]], asked: [f64; 3]) -> TradeOff {
    let of = |d: &[f64; 3]| TradeOffDesign { air_l_min: d[0], stiffness_n_um: d[1], floor_g_mm: d[2] };
    TradeOff {
        title: "Trade-off".to_owned(),
        id_prefix: "t-".to_owned(),
        designs: designs.iter().map(of).collect(),
        proposed: 1.min(designs.len() - 1),
        demanded: of(&asked),
    }
}

#[test]
fn designs_lie_on_their_air_stiffness_and_floor_and_a_demand_near_them_is_drawn() {
    // Each axis runs from 0 to 1.06 times its largest: 316 units across for the air, 150 up for stiffness and floor.
    let svg = trade_off(&traded(&[[1.0, 0.5, 4.0], [2.0, 1.0, 1.0], [4.0, 2.0, 2.0]], [5.0, 0.4, 100.0])).unwrap();
    let centre = |b: &[f64; 4]| [f64::midpoint(b[0], b[2]), f64::midpoint(b[1], b[3])];
    let (stiffness, floor) = (part(&svg, "stiffness-design"), part(&svg, "floor-design"));
    assert_eq!((stiffness.len(), floor.len()), (3, 3));
    for (k, [air, up, rests]) in [[1.0, 0.5, 4.0], [2.0, 1.0, 1.0], [4.0, 2.0, 2.0]].into_iter().enumerate() {
        let (a, b) = (centre(&stiffness[k]), centre(&floor[k]));
        assert!((a[0] - (66.0 + 316.0 * air / 5.3)).abs() < 0.02 && (b[0] - a[0]).abs() < 0.02, "{a:?} {b:?}");
        assert!((a[1] - (162.0 - 150.0 * up / 2.12)).abs() < 0.02, "{a:?}");
        assert!((b[1] - (328.0 - 150.0 * rests / 4.24)).abs() < 0.02, "{b:?}");
    }
    assert_eq!(centre(&part(&svg, "stiffness-proposed")[0]), centre(&stiffness[1]));
    assert_eq!((part(&svg, "most-air").len(), part(&svg, "stiffness-asked").len()), (2, 1));
    // A demand far beyond is told, not drawn: it would squeeze the designs into a corner.
    assert!(part(&svg, "floor-asked").is_empty() && svg.contains("≤ 100 g·mm"), "{svg}");
    assert!(svg.contains("proposed: number 2 of 3"));
}

#[test]
fn a_trade_off_without_designs_or_with_another_proposed_is_refused() {
    let good = traded(&[[1.0, 0.5, 4.0]], [5.0, 0.4, 100.0]);
    assert!(trade_off(&good).is_ok());
    assert_eq!(trade_off(&TradeOff { proposed: 1, ..good.clone() }).unwrap_err().field, "proposed");
    assert_eq!(trade_off(&TradeOff { designs: vec![], ..good.clone() }).unwrap_err().field, "designs");
    assert!(trade_off(&traded(&[[f64::NAN, 0.5, 4.0]], [5.0, 0.4, 100.0])).is_err());
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(48) })]

    #[test]
    fn every_section_is_sound(x in -13.0..13.0f64, y in -13.0..40.0f64, offset in -3.0..3.0f64, jet in prop::option::of(0.05..1.0f64), bars in 0.0..12.0f64) {
        let mut s = section([x * 0.7, y], offset);
        for f in &mut s.film { f[1] = f[1].max(0.0); }
        s.jet_diameter_mm = jet;
        s.pressure = s.film.iter().map(|f| [f[0], bars * (f[0].to_radians()).cos()]).collect();
        sound(&saddle_section(&s).unwrap())?;
    }

    #[test]
    fn every_budget_is_sound(sizes in prop::collection::vec(0.0..1e4f64, 1..12), allowance in prop::option::of(1e-3..1e5f64)) {
        let causes: Vec<BudgetCause> = sizes.iter().enumerate().map(|(k, s)| BudgetCause {
            name: format!("cause number {k} of the stand"), size_g_mm: *s,
            kind: if k % 2 == 0 { CauseKind::Systematic } else { CauseKind::Random } }).collect();
        let plot = BudgetPlot {
            root_sum_g_mm: sizes.iter().map(|s| s * s).sum::<f64>().sqrt(), worst_g_mm: sizes.iter().sum(), causes, allowance_g_mm: allowance, ..BudgetPlot::default() };
        sound(&budget(&plot).unwrap())?;
    }

    #[test]
    fn every_plan_of_feet_is_sound(
        feet_at in prop::array::uniform3(prop::array::uniform2(-50.0..400.0f64)), turns in prop::array::uniform3(-30.0..30.0f64),
        centre in prop::option::of(prop::array::uniform2(-100.0..400.0f64)), plate in prop::array::uniform2(20.0..800.0f64),
    ) {
        let mark = |k: usize| FootMark { at_mm: feet_at[k], rise_mm: Some(turns[k]), clockwise_turns: Some(turns[k]) };
        let plan = FeetPlan { title: "t".to_owned(), id_prefix: "f-".to_owned(), plate_mm: plate, feet: [mark(0), mark(1), mark(2)], mass_centre_mm: centre };
        sound(&feet(&plan).unwrap())?;
    }

    #[test]
    fn every_curve_is_sound(points in prop::collection::vec(prop::array::uniform2(-1e5..1e5f64), 2..60), level in prop::option::of(-1e5..1e5f64)) {
        let plot = CurvePlot {
            x: PlotAxis { name: "film".to_owned(), unit: "µm".to_owned() }, y: PlotAxis { name: "force".to_owned(), unit: "N".to_owned() },
            marks: vec![CurveMark { at: points[0], kind: MarkKind::Open, name: "start".to_owned() }],
            series: vec![Series { name: "one".to_owned(), points }], level: level.map(|l| (l, "load".to_owned())), ..CurvePlot::default() };
        sound(&curves(&plot).unwrap())?;
    }

    #[test]
    fn every_trade_off_is_sound(
        designs in prop::collection::vec(prop::array::uniform3(1e-3..1e4f64), 1..80), asked in prop::array::uniform3(0.0..1e5f64),
    ) {
        sound(&trade_off(&traded(&designs, asked)).unwrap())?;
    }

    #[test]
    fn no_number_whatever_is_drawn_as_if_it_were_one(v in prop_oneof![Just(f64::NAN), Just(f64::INFINITY), Just(-1e300)]) {
        let mut s = section([0.0, 0.0], 0.0);
        s.film[4][1] = v;
        prop_assert!(saddle_section(&s).is_err());
        let map = PressureMap { arc_deg: 180.0, length_mm: 24.0, columns: 3, bar: vec![v; 9], ..PressureMap::default() };
        prop_assert!(pressure_map(&map).is_err());
    }
}
