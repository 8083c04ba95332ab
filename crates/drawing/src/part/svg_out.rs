//! A drawing as SVG, true to scale: its size is that of its paper.

use super::entity::{Anchor, Entity, LineKind, Point};
use super::sheet::Drawing;
use super::text::CAPITAL;
use crate::colour::{INK, PAPER};
use crate::svg::{El, Path, Svg, el};
use crate::wheel::check_prefix;
use stillwheel_physics::Fault;

impl Drawing {
    /// As SVG in millimetres; [`crate::to_pdf`] with the drawing's page keeps the scale. Ids start with `id_prefix`.
    ///
    /// # Errors
    /// A [`Fault`] for a prefix that is no name, and for coordinates that are not finite.
    pub fn svg(&self, id_prefix: &str) -> Result<String, Fault> {
        check_prefix(id_prefix)?;
        let [w, h] = self.page.size_mm();
        let root = el("svg")
            .s("width", &format!("{w}mm"))
            .s("height", &format!("{h}mm"))
            .s("viewBox", &format!("0 0 {w} {h}"))
            .s("data-picture", "part-drawing");
        let mut svg = Svg::start(root, id_prefix, &self.title, &self.words);
        svg.add(el("rect").n("x", 0.0).n("y", 0.0).n("width", w).n("height", h).paint(PAPER, "none", 0.0));
        let flip = |p: Point| [p[0], h - p[1]];
        for e in &self.entities {
            match e {
                Entity::Line { a, b, kind } => svg.add(stroke(el("line").xy(["x1", "y1"], flip(*a)).xy(["x2", "y2"], flip(*b)), *kind)),
                Entity::Circle { centre, radius, kind } => {
                    svg.add(stroke(el("circle").xy(["cx", "cy"], flip(*centre)).n("r", *radius), *kind));
                }
                Entity::Arc { centre, radius, from_deg, to_deg, kind } => {
                    let at = |deg: f64| flip([centre[0] + radius * deg.to_radians().cos(), centre[1] + radius * deg.to_radians().sin()]);
                    let path = Path::new().to(at(*from_deg)).arc(*radius, to_deg - from_deg > 180.0, true, at(*to_deg));
                    svg.add(stroke(el("path").d(path), *kind));
                }
                Entity::Text { at, height, anchor, upwards, text } => {
                    let p = flip(*at);
                    let anchor = match anchor {
                        Anchor::Start => "start",
                        Anchor::Middle => "middle",
                        Anchor::End => "end",
                    };
                    let e = el("text").xy(["x", "y"], p).n("font-size", height / CAPITAL).s("text-anchor", anchor).s("fill", INK);
                    let e = if *upwards { e.s("transform", &format!("rotate(-90 {} {})", number(p[0]), number(p[1]))) } else { e };
                    svg.text(e, text);
                }
                Entity::Arrow { corners } => {
                    let [a, b, c] = corners.map(flip);
                    svg.add(el("path").d(Path::new().to(a).line(b).line(c).close()).paint(INK, "none", 0.0));
                }
            }
        }
        svg.finish()
    }
}

fn number(v: f64) -> String {
    crate::svg::number(v)
}

fn stroke(e: El, kind: LineKind) -> El {
    let e = e.paint("none", INK, kind.width_mm()).s("data-line", kind.layer()).s("stroke-linecap", "round");
    match kind.dashes_mm() {
        [] => e,
        dashes => e.s("stroke-dasharray", &dashes.iter().map(|d| number(*d)).collect::<Vec<_>>().join(" ")),
    }
}
