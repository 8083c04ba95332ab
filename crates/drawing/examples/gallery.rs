//! Writes every kind of picture into a folder: `cargo run -p stillwheel-drawing --example gallery -- FOLDER`.

use std::path::Path;
use stillwheel_drawing::{
    ForbiddenArc, LogPlot, LogPoint, Page, PictureUnbalance, PictureWeight, RegionPlot, RingTemplate, Scale, TemplateWeight, WheelPicture,
    log_plot, region, ring_template, settled, to_pdf, wheel,
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
