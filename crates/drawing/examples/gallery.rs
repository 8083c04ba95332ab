//! Writes every kind of picture into a folder: `cargo run -p stillwheel-drawing --example gallery -- FOLDER`.

use std::path::Path;
use stillwheel_drawing::{
    BudgetCause, BudgetPlot, CauseKind, CurveMark, CurvePlot, FeetPlan, FootMark, ForbiddenArc, LogPlot, LogPoint, MarkKind, Page,
    PictureUnbalance, PictureWeight, PlotAxis, PressureMap, RegionPlot, RingTemplate, SaddleSection, Scale, Series, TemplateWeight,
    WheelPicture, budget, curves, feet, log_plot, pressure_map, region, ring_template, saddle_section, settled, to_pdf, wheel,
};
use stillwheel_physics::quantity::{Angle, RotorAngle};

fn weight(at: f64, by: f64) -> PictureWeight {
    PictureWeight { at: RotorAngle::from_deg(at), arc: Angle::from_deg(24.0), move_by: Some(Angle::from_deg(by)) }
}

/// A crescent: direction told to ±`half`, size between two radii.
fn crescent(at: f64, half: f64, sizes: [f64; 2]) -> Vec<[f64; 2]> {
    let arc = |r: f64, from: f64, to: f64| {
        (0..=24).map(move |k| {
            let a = (from + (to - from) * f64::from(k) / 24.0).to_radians();
            [r * a.cos(), r * a.sin()]
        })
    };
    arc(sizes[0], at - half, at + half).chain(arc(sizes[1], at + half, at - half)).collect()
}

fn planned() -> WheelPicture {
    WheelPicture {
        title: "Plan for the wheel".to_owned(),
        zero_mark: settled(RotorAngle::from_deg(212.0)),
        weights: vec![weight(20.0, 35.0), weight(140.0, -58.0), weight(260.0, 8.0)],
        forbidden: vec![ForbiddenArc { from: RotorAngle::from_deg(170.0), to: RotorAngle::from_deg(200.0) }],
        heavy: Some(RotorAngle::from_deg(212.0)),
        unbalance: Some(PictureUnbalance {
            outlines_g_mm: vec![crescent(212.0, 17.0, [150.0, 330.0])],
            holds: "95 %".to_owned(),
            allowance_g_mm: Some(41.5),
            outer_g_mm: None,
        }),
        bottom_pointer: true,
        ..WheelPicture::default()
    }
}

/// A damped swing with a fixed scatter: a drawing needs no chance.
fn swing_log() -> LogPlot {
    let points = (0..900)
        .map(|k| {
            let t = f64::from(k) / 15.0;
            let fitted = 12.0 + 55.0 * (-t / 45.0).exp() * (0.72 * t).cos();
            let scatter = 0.35 * (f64::from(k) * 12.9898).sin() + 0.2 * (f64::from(k) * 3.7).cos();
            let dropped = k % 131 == 60;
            LogPoint { t_s: t, measured_deg: fitted + scatter + if dropped { 14.0 } else { 0.0 }, fitted_deg: fitted, dropped }
        })
        .collect();
    LogPlot { title: "Swing log".to_owned(), points, ..LogPlot::default() }
}

fn template(scale: Scale) -> RingTemplate {
    let at = |d: f64| Some(RotorAngle::from_deg(d));
    let arc = Angle::from_deg(24.0);
    RingTemplate {
        rotor_name: "No. 2, wheel 200 × 20 × 51".to_owned(),
        date: "2026-11-25".to_owned(),
        radius_mm: 38.0,
        inner_edge_mm: Some(34.0),
        outer_edge_mm: Some(42.0),
        scale,
        graduation_deg: 1.0,
        weights: vec![
            TemplateWeight { now: at(20.0), target: at(55.0), arc },
            TemplateWeight { now: at(140.0), target: at(82.0), arc },
            TemplateWeight { now: at(260.0), target: at(268.0), arc },
        ],
    }
}

/// A half-round saddle with an arbor that floats 7 µm up and 2 µm to the right: the shape is exact, the pressure a stand-in.
fn section() -> SaddleSection {
    let angles = (-45..=45).map(|k| f64::from(k) * 2.0);
    let film = angles.clone().map(|a| [a, 14.0 + 7.0 * a.to_radians().cos() - 2.0 * a.to_radians().sin()]).collect();
    let pressure = angles.map(|a| [a, 2.1 * (-a.abs() / 25.0).exp() * (1.0 - (a / 90.0).powi(2))]).collect();
    SaddleSection {
        title: "Section through the operator's saddle".to_owned(),
        bore_radius_mm: 10.014,
        arc_deg: 180.0,
        film,
        pressure,
        port_diameter_mm: 1.2,
        jet_diameter_mm: Some(0.15),
        float_um: Some([2.0, 7.0]),
        ..SaddleSection::default()
    }
}

fn pressures() -> PressureMap {
    let (columns, rows) = (61_i32, 41_i32);
    let bar = (0..rows * columns)
        .map(|k| {
            let (x, z) = (f64::from(k % columns) / 30.0 - 1.0, f64::from(k / columns) / 20.0 - 1.0);
            2.1 * (1.0 - x * x) * (1.0 - z * z) * (-3.0 * (x - 0.1).hypot(0.5 * z)).exp()
        })
        .collect();
    PressureMap { title: "Pressure on the saddle".to_owned(), arc_deg: 180.0, length_mm: 24.0, columns: 61, bar, ..PressureMap::default() }
}

fn float_curve() -> CurvePlot {
    let curve = |peak: f64| {
        (0..80).map(|k| f64::from(k) * 0.4 - 13.0).map(|y| [y + 14.0, peak * (y + 15.0) / 9.0 * (1.0 - (y + 15.0) / 9.0).exp()]).collect()
    };
    CurvePlot {
        title: "Force against float".to_owned(),
        x: PlotAxis { name: "film under the arbor".to_owned(), unit: "µm".to_owned() },
        y: PlotAxis { name: "force up".to_owned(), unit: "N".to_owned() },
        series: vec![Series { name: "4 bar".to_owned(), points: curve(42.0) }, Series { name: "2 bar".to_owned(), points: curve(19.0) }],
        marks: vec![
            CurveMark { at: [20.9, 15.0], kind: MarkKind::Full, name: "floats here".to_owned() },
            CurveMark { at: [1.5, 15.0], kind: MarkKind::Open, name: "can't stay here".to_owned() },
        ],
        level: Some((15.0, "load".to_owned())),
        ..CurvePlot::default()
    }
}

fn causes() -> BudgetPlot {
    let cause = |name: &str, size_g_mm: f64, kind: CauseKind| BudgetCause { name: name.to_owned(), size_g_mm, kind };
    BudgetPlot {
        title: "Floor of the stand".to_owned(),
        causes: vec![
            cause("bore out of round, worst angle", 1.18, CauseKind::Systematic),
            cause("port off to the side", 0.39, CauseKind::Systematic),
            cause("reading the settle angle", 0.31, CauseKind::Random),
            cause("slope across", 0.04, CauseKind::Systematic),
        ],
        root_sum_g_mm: 1.28,
        worst_g_mm: 1.92,
        allowance_g_mm: Some(2.4),
        ..BudgetPlot::default()
    }
}

fn plan_of_feet() -> FeetPlan {
    let foot = |at_mm, rise: f64| FootMark { at_mm, rise_mm: Some(rise), clockwise_turns: Some(rise / 1.0) };
    FeetPlan {
        title: "Feet of the stand".to_owned(),
        id_prefix: String::new(),
        plate_mm: [320.0, 180.0],
        feet: [foot([20.0, 20.0], 0.12), foot([300.0, 20.0], -1.4), foot([160.0, 160.0], 0.0)],
        mass_centre_mm: Some([160.0, 75.0]),
    }
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = std::env::args().nth(1).ok_or("usage: gallery FOLDER")?;
    let folder = Path::new(&folder);
    std::fs::create_dir_all(folder)?;

    let look = WheelPicture {
        heavy: None,
        unbalance: None,
        forbidden: vec![],
        weights: planned().weights.iter().map(|w| PictureWeight { move_by: None, ..*w }).collect(),
        ..planned()
    };
    let screws = WheelPicture {
        scale: Scale::Holes(24),
        weights: [1, 2, 5, 6, 7, 16]
            .map(|h| PictureWeight { arc: Angle::from_deg(4.0), ..weight(f64::from(h - 1) * 15.0, if h == 16 { 45.0 } else { 0.0 }) })
            .to_vec(),
        forbidden: vec![],
        ..planned()
    };
    let many = WheelPicture {
        scale: Scale::Clockwise,
        weights: vec![
            weight(0.0, 40.0),
            weight(26.0, 40.0),
            weight(60.0, 47.0),
            weight(180.0, -40.0),
            weight(205.0, -35.0),
            weight(300.0, 4.0),
        ],
        forbidden: vec![],
        ..planned()
    };
    let clock = WheelPicture { scale: Scale::ClockHours, ..planned() };
    let residual = RegionPlot {
        title: "Residual unbalance".to_owned(),
        outlines_g_mm: vec![crescent(35.0, 60.0, [8.0, 24.0])],
        holds: "95 %".to_owned(),
        mean_g_mm: Some([11.0, 8.5]),
        allowance_g_mm: Some(41.5),
        floor_g_mm: Some(6.2),
        ..RegionPlot::default()
    };
    let pictures = [
        ("wheel-plan", wheel(&planned())?),
        ("wheel-look", wheel(&look)?),
        ("wheel-holes", wheel(&screws)?),
        ("wheel-many", wheel(&many)?),
        ("wheel-clock", wheel(&clock)?),
        ("region", region(&residual)?),
        ("swing-log", log_plot(&swing_log())?),
        ("saddle-section", saddle_section(&section())?),
        ("pressure-map", pressure_map(&pressures())?),
        ("float-curve", curves(&float_curve())?),
        ("floor-budget", budget(&causes())?),
        ("feet", feet(&plan_of_feet())?),
        ("ring-template-a4", ring_template(&template(Scale::CounterClockwise), Page::A4)?),
    ];
    for (name, svg) in &pictures {
        std::fs::write(folder.join(format!("{name}.svg")), svg)?;
        std::fs::write(folder.join(format!("{name}.pdf")), to_pdf(svg, Page::A4)?)?;
    }
    let hole = |n: u16| Some(RotorAngle::from_deg(f64::from(n - 1) * 15.0));
    let screws = [(1, 1), (2, 2), (3, 5), (5, 7), (8, 8), (9, 12), (13, 14), (20, 21), (24, 23), (22, 22)];
    let screws = screws.map(|(now, then)| TemplateWeight {
        now: hole(now),
        target: (now != then).then(|| hole(then)).flatten(),
        arc: Angle::from_deg(7.0),
    });
    let letter = RingTemplate { weights: screws.to_vec(), inner_edge_mm: None, outer_edge_mm: None, ..template(Scale::Holes(24)) };
    let letter = ring_template(&letter, Page::Letter)?;
    std::fs::write(folder.join("ring-template-letter.svg"), &letter)?;
    std::fs::write(folder.join("ring-template-letter.pdf"), to_pdf(&letter, Page::Letter)?)?;
    println!("{} pictures as SVG and PDF in {}", pictures.len() + 1, folder.display());
    Ok(())
}
