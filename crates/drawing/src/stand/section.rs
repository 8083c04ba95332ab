//! Section through a saddle: bore, arbor, port and the film between them, which is exaggerated so that it can be seen.

use super::text;
use crate::colour::{FLANGE, GROOVE, INK, PAPER, REGION, TARGET, WEIGHT};
use crate::scale::{figure, short};
use crate::svg::{Path, Svg, el, number};
use crate::wheel::check_prefix;
use stillwheel_physics::{Fault, Ranged};

/// What the section shows, at mid-length, as the operator sees it.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct SaddleSection {
    /// What it is, in a few words, for screen readers.
    pub title: String,
    /// Put before every id: letters, digits, `-`, at most 40.
    pub id_prefix: String,
    /// Radius of the bore, mm (0.5 to 1000).
    pub bore_radius_mm: f64,
    /// Arc of the saddle, degrees (1 to 180), straight down in its middle.
    pub arc_deg: f64,
    /// The film: angle from straight down, degrees, positive to the right, and thickness there, µm (0 to 5000); from
    /// the left edge to the right, at least 3 places.
    pub film: Vec<[f64; 2]>,
    /// Gauge pressure along the same line: angle, degrees, and bar (−1 to 1000); empty: not shown.
    pub pressure: Vec<[f64; 2]>,
    /// Diameter of the port, mm (above 0, to the bore's radius).
    pub port_diameter_mm: f64,
    /// Diameter of a jet in the port, mm.
    pub jet_diameter_mm: Option<f64>,
    /// How far the port lies off to the right, mm (within the bore's radius).
    pub port_offset_mm: f64,
    /// Where the arbor floats: to the right and up from the bore's centre, µm; only for the words.
    pub float_um: Option<[f64; 2]>,
}

const CENTRE: [f64; 2] = [200.0, 128.0];
const BORE: f64 = 122.0;
/// The thickest film takes up this much of the picture.
const FILM: f64 = 30.0;

/// Draw the section.
///
/// # Errors
/// A [`Fault`] for a number out of range or an empty film.
pub fn saddle_section(s: &SaddleSection) -> Result<String, Fault> {
    check(s)?;
    let thickest = s.film.iter().map(|f| f[1]).fold(0.0, f64::max);
    let thinnest = s.film.iter().map(|f| f[1]).fold(f64::INFINITY, f64::min);
    let per_um = FILM / thickest;
    let enlarged = per_um * 1000.0 * s.bore_radius_mm / BORE;
    let height = 382.0;
    let root = el("svg").s("viewBox", &format!("0 0 400 {}", number(height))).s("data-picture", "saddle-section");
    let mut svg = Svg::start(root, &s.id_prefix, &s.title, &words(s, thinnest, thickest, enlarged));
    // A place at an angle from straight down, positive to the right.
    let at = |deg: f64, r: f64| {
        let a = deg.to_radians();
        [CENTRE[0] + r * a.sin(), CENTRE[1] + r * a.cos()]
    };
    let half = s.arc_deg / 2.0;
    let outer = BORE + 48.0;
    let saddle = Path::new()
        .to(at(-half, BORE))
        .arc(BORE, false, true, at(half, BORE))
        .line(at(half, outer))
        .arc(outer, false, false, at(-half, outer))
        .close();
    svg.add(el("path").d(saddle).paint(GROOVE, INK, 1.4).s("data-part", "saddle"));

    let inner: Vec<[f64; 2]> = s.film.iter().map(|f| at(f[0], BORE - f[1] * per_um)).collect();
    let film = inner.iter().rev().fold(Path::new().to(at(-half, BORE)).arc(BORE, false, true, at(half, BORE)), |p, q| p.line(*q)).close();
    svg.add(el("path").d(film).paint(PAPER, "none", 0.0));
    pressure(&mut svg, s, at);
    let shape = |below: &[[f64; 2]]| below.iter().enumerate().fold(Path::new(), |p, (k, q)| if k == 0 { p.to(*q) } else { p.line(*q) });
    // Above the saddle the arbor is drawn as the circle that its ends leave.
    let (first, last) = (inner[0], inner[inner.len() - 1]);
    let r = f64::midpoint((first[0] - CENTRE[0]).hypot(first[1] - CENTRE[1]), (last[0] - CENTRE[0]).hypot(last[1] - CENTRE[1]));
    svg.add(el("path").d(shape(&inner).arc(r, true, true, first).close()).paint(FLANGE, INK, 1.6).s("data-part", "arbor"));
    svg.text(text("middle", CENTRE[0], CENTRE[1] + 4.8), "arbor");
    port(&mut svg, s, outer);

    let mark = |svg: &mut Svg, deg: f64, um: f64, anchor: &str, dx: f64| {
        let (a, b) = (at(deg, BORE - um * per_um), at(deg, BORE));
        svg.add(el("path").d(Path::new().to(a).line(b)).paint("none", TARGET, 2.0).s("data-part", "thickness"));
        let t = at(deg, BORE - um * per_um - 14.0);
        svg.text(text(anchor, t[0] + dx, t[1] + 4.8), &format!("{} µm", figure(um)));
    };
    let nearest = |deg: f64| s.film.iter().min_by(|a, b| (a[0] - deg).abs().total_cmp(&(b[0] - deg).abs())).copied().unwrap_or([deg, 0.0]);
    let low = nearest(0.0);
    mark(&mut svg, low[0], low[1], "middle", 0.0);
    for (deg, anchor, dx) in [(-half * 0.72, "start", 2.0), (half * 0.72, "end", -2.0)] {
        let side = nearest(deg);
        mark(&mut svg, side[0], side[1], anchor, dx);
    }
    svg.text(text("middle", 200.0, height - 38.0), &format!("film drawn {} times as thick as it is", short(enlarged, 0)));
    if !s.pressure.is_empty() {
        let most = s.pressure.iter().map(|p| p[1]).fold(0.0, f64::max);
        svg.add(
            el("rect")
                .n("x", 84.0)
                .n("y", height - 28.0)
                .n("width", 20.0)
                .n("height", 12.0)
                .paint(REGION, REGION, 1.2)
                .n("fill-opacity", 0.3),
        );
        svg.text(text("start", 110.0, height - 17.0), &format!("gauge pressure, up to {} bar", figure(most)));
    }
    svg.finish()
}

/// Pressure as a band that leans into the saddle from the bore.
fn pressure(svg: &mut Svg, s: &SaddleSection, at: impl Fn(f64, f64) -> [f64; 2]) {
    let most = s.pressure.iter().map(|p| p[1]).fold(0.0, f64::max);
    if most <= 0.0 {
        return;
    }
    let outline = s.pressure.iter().enumerate().fold(Path::new(), |path, (k, p)| {
        let q = at(p[0], BORE + 38.0 * (p[1] / most).max(0.0));
        if k == 0 { path.to(q) } else { path.line(q) }
    });
    let back = s.pressure.iter().rev().fold(outline, |path, p| path.line(at(p[0], BORE))).close();
    svg.add(el("path").d(back).paint(REGION, REGION, 1.2).n("fill-opacity", 0.3).s("data-part", "pressure"));
}

fn port(svg: &mut Svg, s: &SaddleSection, outer: f64) {
    let scale = BORE / s.bore_radius_mm;
    let x = CENTRE[0] + s.port_offset_mm * scale;
    let y = |r: f64| CENTRE[1] + (r * r - (x - CENTRE[0]).powi(2)).max(0.0).sqrt();
    // A port of a tenth of a millimetre must still be seen.
    let wide = (s.port_diameter_mm * scale).max(3.0);
    let (top, bottom) = (y(BORE), y(outer) + 10.0);
    svg.add(
        el("rect")
            .n("x", x - wide / 2.0)
            .n("y", top)
            .n("width", wide)
            .n("height", bottom - top)
            .paint(PAPER, INK, 1.2)
            .s("data-part", "port"),
    );
    if let Some(jet) = s.jet_diameter_mm {
        let narrow = (jet * scale).max(1.6).min(wide - 1.0);
        let y = top + 14.0;
        for side in [-1.0, 1.0] {
            let from = x + side * narrow / 2.0;
            let w = (wide - narrow) / 2.0;
            svg.add(
                el("rect")
                    .n("x", if side > 0.0 { from } else { from - w })
                    .n("y", y)
                    .n("width", w)
                    .n("height", 12.0)
                    .paint(WEIGHT, "none", 0.0),
            );
        }
    }
    let words = match s.jet_diameter_mm {
        Some(jet) => format!("port Ø {} mm, jet Ø {} mm", short(s.port_diameter_mm, 2), short(jet, 2)),
        None => format!("port Ø {} mm", short(s.port_diameter_mm, 2)),
    };
    svg.text(text("middle", x, bottom + 15.0), &words);
}

fn words(s: &SaddleSection, thinnest: f64, thickest: f64, enlarged: f64) -> String {
    let float = s.float_um.map_or_else(String::new, |f| {
        format!(
            " The arbor's centre lies {} µm {} and {} µm {} of the bore's.",
            figure(f[0].abs()),
            if f[0] < 0.0 { "left" } else { "right" },
            figure(f[1].abs()),
            if f[1] < 0.0 { "below" } else { "above" }
        )
    });
    format!(
        "Section through a saddle of {} mm radius and {}° of arc, seen by the operator. Film from {} µm to {} µm, drawn {} times as thick as it is.{float}",
        short(s.bore_radius_mm, 3),
        short(s.arc_deg, 1),
        figure(thinnest),
        figure(thickest),
        short(enlarged, 0)
    )
}

fn check(s: &SaddleSection) -> Result<(), Fault> {
    check_prefix(&s.id_prefix)?;
    s.bore_radius_mm.within("bore_radius_mm", 0.5, 1000.0, "mm", "radius of a saddle's bore")?;
    s.arc_deg.within("arc_deg", 1.0, 180.0, "degrees", "a half-round saddle")?;
    if s.film.len() < 3 {
        return Err(Fault::new("film", s.film.len(), "at least 3 places", "an empty film can't be drawn"));
    }
    for f in &s.film {
        f[0].within("film", -90.0, 90.0, "degrees", "inside the saddle's arc")?;
        f[1].within("film", 0.0, 5000.0, "µm", "thickness of a film")?;
    }
    if s.film.iter().all(|f| f[1] <= 0.0) {
        return Err(Fault::new("film", 0.0, "a film above 0 µm somewhere", "an arbor that lies tight in its bore leaves nothing to draw"));
    }
    for p in &s.pressure {
        p[0].within("pressure", -90.0, 90.0, "degrees", "inside the saddle's arc")?;
        p[1].within("pressure", -1.0, 1000.0, "bar", "gauge pressure in the film")?;
    }
    s.port_diameter_mm.within("port_diameter_mm", 0.01, s.bore_radius_mm, "mm", "the port opens into the bore")?;
    if let Some(jet) = s.jet_diameter_mm {
        jet.within("jet_diameter_mm", 0.01, s.port_diameter_mm, "mm", "the jet sits in the port")?;
    }
    s.port_offset_mm.within("port_offset_mm", -0.7 * s.bore_radius_mm, 0.7 * s.bore_radius_mm, "mm", "the port lies near straight down")?;
    for v in s.float_um.iter().flatten() {
        v.within("float_um", -5000.0, 5000.0, "µm", "within the clearance")?;
    }
    Ok(())
}
