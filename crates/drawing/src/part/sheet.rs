//! Views, tables, notes and title block on a sheet of paper.
//!
//! Margins, line widths and the width of the title block are those of ISO 5457 and ISO 7200; the layout is our own.

use super::entity::{Anchor, Entity, Extent, LineKind, Point};
use super::layout::{Laid, lay_out};
use super::symbols::Projection;
use super::table::{Table, fitted};
use super::text::{LARGE, LIMIT, SMALL, size};
use super::view::{From, View};
use crate::pdf::Page;
use stillwheel_physics::Fault;

/// How drawings are made.
#[derive(Clone, Debug, PartialEq)]
pub struct DrawOptions {
    /// Paper, upright.
    pub page: Page,
    /// Which side views stand on.
    pub projection: Projection,
    /// Date as it is printed, at most 20 letters.
    pub date: String,
    /// Issue as it is printed, at most 20 letters.
    pub issue: String,
}

impl Default for DrawOptions {
    fn default() -> Self {
        Self { page: Page::A4, projection: Projection::default(), date: String::new(), issue: "1".to_owned() }
    }
}

/// A drawing on its sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawing {
    /// What it shows: `Birch: pillar`.
    pub title: String,
    /// The same in a sentence or two, for those who can't see it.
    pub words: String,
    /// The paper.
    pub page: Page,
    /// mm on paper for a mm of the part.
    pub scale: f64,
    /// Everything on it, mm from the lower left corner of the paper, y up.
    pub entities: Vec<Entity>,
    /// Dimensions of the part that it shows, each as `feature.name`, in the order of the views.
    pub shown: Vec<String>,
    /// Where the zero of the part's own coordinates lies on paper, in the view that has its holes or else in the front view.
    pub origin: Point,
}

/// What the title block says.
pub(super) struct Title {
    pub(super) stand: String,
    pub(super) name: String,
    pub(super) number: String,
    pub(super) material: String,
    pub(super) stock: String,
    pub(super) mass: String,
    pub(super) quantity: usize,
}

/// What goes on a sheet.
pub(super) struct Content {
    pub(super) title: Title,
    pub(super) views: Vec<View>,
    pub(super) tables: Vec<Table>,
    pub(super) notes: Vec<String>,
    /// Dimensions that the tables and notes show.
    pub(super) told: Vec<String>,
    pub(super) words: String,
}

const LEFT: f64 = 20.0;
const MARGIN: f64 = 10.0;
const BLOCK: [f64; 2] = [180.0, 34.0];
const VIEW_GAP: f64 = 9.0;
const NOTE: f64 = 4.6;
/// Check bar, mm.
const BAR: f64 = 50.0;

/// Recommended scales. Source: ISO 5455.
const SCALES: [(f64, &str); 9] =
    [(20.0, "20:1"), (10.0, "10:1"), (5.0, "5:1"), (2.0, "2:1"), (1.0, "1:1"), (0.5, "1:2"), (0.2, "1:5"), (0.1, "1:10"), (0.05, "1:20")];

pub(super) fn compose(content: Content, options: &DrawOptions) -> Result<Drawing, Fault> {
    for (field, text) in [("date", &options.date), ("issue", &options.issue)] {
        if text.chars().count() > 20 {
            return Err(Fault::new(field, text.chars().count(), "at most 20 letters", "it must fit into its cell of the title block"));
        }
    }
    let [w, h] = options.page.size_mm();
    let tables = tables_height(&content.tables, w);
    let notes = content.notes.len() as f64 * NOTE + if content.notes.is_empty() { 0.0 } else { 3.0 };
    let floor = MARGIN + BLOCK[1] + 8.0;
    let area = Extent { low: [LEFT + 3.0, floor + notes + tables + 4.0], high: [w - MARGIN - 3.0, h - MARGIN - 3.0] };
    let room = [area.high[0] - area.low[0], area.high[1] - area.low[1]];
    let fits = SCALES.iter().find_map(|(scale, words)| {
        let placed = arrange(&content.views, *scale, options.projection);
        let all = placed.iter().fold(Extent::NOTHING, |e, p| e.join(p.1.extent.moved(p.2)));
        let fits = all.high[0] - all.low[0] <= room[0] && all.high[1] - all.low[1] <= room[1];
        fits.then_some((*scale, *words, placed, all))
    });
    let Some((scale, scale_words, placed, all)) = fits else {
        return Err(Fault::new(
            "page",
            options.page.name(),
            "a larger page",
            format!("{} fits on it at no scale of ISO 5455", content.title.name),
        ));
    };
    let shift = [
        f64::midpoint(area.low[0], area.high[0]) - f64::midpoint(all.low[0], all.high[0]),
        f64::midpoint(area.low[1], area.high[1]) - f64::midpoint(all.low[1], all.high[1]),
    ];
    let mut entities = Vec::new();
    let mut shown = content.told.clone();
    let mut origin = shift;
    for (view, laid, by) in placed {
        let by = [by[0] + shift[0], by[1] + shift[1]];
        entities.extend(laid.entities.into_iter().map(|e| e.placed(1.0, by)));
        shown.extend(view.dims.iter().map(|d| d.id.clone()).chain(view.told.iter().cloned()));
        if let Some(corner) = view.datum_corner {
            origin = [by[0] + corner[0] * scale, by[1] + corner[1] * scale];
        }
    }
    let mut y = floor + notes + tables;
    let mut x = LEFT + 2.0;
    for t in &content.tables {
        if x > LEFT + 2.0 && x + t.width_mm() > w - MARGIN {
            x = LEFT + 2.0;
            y -= row_height(&content.tables);
        }
        t.draw([x, y], &mut entities);
        x += t.width_mm() + 4.0;
    }
    for (k, note) in content.notes.iter().enumerate() {
        let at = [LEFT + 2.0, floor + notes - 3.0 - (k as f64 + 0.4) * NOTE];
        entities.push(Entity::text(at, SMALL, Anchor::Start, fitted(&format!("{}  {note}", k + 1), w - LEFT - MARGIN - 6.0, SMALL)));
    }
    bar(floor - 5.5, &mut entities);
    frame([w, h], &mut entities);
    title_block(&content.title, options, scale_words, w, &mut entities);
    Ok(Drawing {
        title: format!("{}: {}", content.title.stand, content.title.name),
        words: content.words,
        page: options.page,
        scale,
        entities,
        shown,
        origin,
    })
}

fn row_height(tables: &[Table]) -> f64 {
    tables.iter().map(Table::height_mm).fold(0.0, f64::max) + 3.0
}

/// Height of all tables, side by side as far as the paper goes.
fn tables_height(tables: &[Table], paper: f64) -> f64 {
    if tables.is_empty() {
        return 0.0;
    }
    let (mut rows, mut x) = (1.0, LEFT + 2.0);
    for t in tables {
        if x > LEFT + 2.0 && x + t.width_mm() > paper - MARGIN {
            rows += 1.0;
            x = LEFT + 2.0;
        }
        x += t.width_mm() + 4.0;
    }
    rows * row_height(tables)
}

/// Where each view stands, about the front view's origin.
fn arrange(views: &[View], scale: f64, projection: Projection) -> Vec<(&View, Laid, Point)> {
    let laid: Vec<Laid> = views.iter().map(|v| lay_out(v, scale)).collect();
    let extents: Vec<Extent> = laid.iter().map(|l| l.extent).collect();
    let of = |from: From| views.iter().position(|v| v.from == from).map(|k| extents[k]);
    let front = of(From::Front).unwrap_or(Extent::NOTHING);
    let third = projection == Projection::ThirdAngle;
    // Across the page, then up and down from the row of the front view.
    let right = of(From::Right).map(|e| if third { front.high[0] + VIEW_GAP - e.low[0] } else { front.low[0] - VIEW_GAP - e.high[0] });
    let row = right.and_then(|dx| of(From::Right).map(|e| front.join(e.moved([dx, 0.0])))).unwrap_or(front);
    let over = |e: Extent| row.high[1] + VIEW_GAP - e.low[1];
    let under = |e: Extent| row.low[1] - VIEW_GAP - e.high[1];
    views
        .iter()
        .zip(laid)
        .map(|(v, l)| {
            let by = match v.from {
                From::Front => [0.0, 0.0],
                From::Apart => [0.0, under(l.extent)],
                From::Right => [right.unwrap_or_default(), 0.0],
                From::Above => [0.0, if third { over(l.extent) } else { under(l.extent) }],
                // Labelled, it may stand where there is room: beside the view from above (ISO 128-3, reference arrows).
                From::Below => {
                    let y = of(From::Above).map_or(0.0, |a| if third { over(a) } else { under(a) });
                    [right.unwrap_or_default(), y]
                }
            };
            (v, l, by)
        })
        .collect()
}

/// A bar to prove the scale of the print.
fn bar(y: f64, out: &mut Vec<Entity>) {
    let x = LEFT + 2.0;
    out.push(Entity::line([x, y], [x + BAR, y], LineKind::Frame));
    for end in [x, x + BAR] {
        out.push(Entity::line([end, y - 1.5], [end, y + 1.5], LineKind::Frame));
    }
    out.push(Entity::text([x + BAR + 3.0, y - 1.0], SMALL, Anchor::Start, "50 mm on paper: measure it, then trust the scale"));
}

fn rectangle(low: Point, high: Point, out: &mut Vec<Entity>) {
    for (a, b) in [(low, [high[0], low[1]]), ([high[0], low[1]], high), (high, [low[0], high[1]]), ([low[0], high[1]], low)] {
        out.push(Entity::line(a, b, LineKind::Frame));
    }
}

fn frame([w, h]: Point, out: &mut Vec<Entity>) {
    rectangle([LEFT, MARGIN], [w - MARGIN, h - MARGIN], out);
}

fn title_block(t: &Title, options: &DrawOptions, scale: &str, paper: f64, out: &mut Vec<Entity>) {
    let (x0, y0) = (paper - MARGIN - BLOCK[0], MARGIN);
    rectangle([x0, y0], [x0 + BLOCK[0], y0 + BLOCK[1]], out);
    for y in [8.0, 16.0, 24.0] {
        out.push(Entity::line([x0, y0 + y], [x0 + BLOCK[0], y0 + y], LineKind::Frame));
    }
    let mut cell = |x: f64, y: f64, width: f64, high: f64, label: &str, value: &str, letter: f64| {
        if x > 0.0 {
            out.push(Entity::line([x0 + x, y0 + y], [x0 + x, y0 + y + high], LineKind::Frame));
        }
        out.push(Entity::text([x0 + x + 1.2, y0 + y + high - 2.6], LIMIT, Anchor::Start, label));
        out.push(Entity::text([x0 + x + 1.2, y0 + y + 1.5], letter, Anchor::Start, fitted(value, width - 2.4, letter)));
    };
    cell(0.0, 24.0, 95.0, 10.0, "part", &t.name, LARGE);
    cell(95.0, 24.0, 55.0, 10.0, "stand", &t.stand, SMALL);
    cell(150.0, 24.0, 30.0, 10.0, "drawing", &t.number, SMALL);
    cell(0.0, 16.0, 75.0, 8.0, "material", &t.material, SMALL);
    cell(75.0, 16.0, 60.0, 8.0, "stock, mm", &t.stock, SMALL);
    cell(135.0, 16.0, 25.0, 8.0, "mass of one", &t.mass, SMALL);
    cell(160.0, 16.0, 20.0, 8.0, "pieces", &t.quantity.to_string(), SMALL);
    cell(0.0, 8.0, 75.0, 8.0, "where no limits stand", "ISO 2768-m, in mm", SMALL);
    cell(75.0, 8.0, 60.0, 8.0, "tolerancing", "ISO 8015, ISO 1101", SMALL);
    cell(135.0, 8.0, 45.0, 8.0, "texture (ISO 21920-1)", "Ra 3.2 unless shown", SMALL);
    cell(0.0, 0.0, 46.0, 8.0, "projection", options.projection.words(), SMALL);
    cell(46.0, 0.0, 24.0, 8.0, "scale", scale, SMALL);
    cell(70.0, 0.0, 30.0, 8.0, "paper", options.page.name(), SMALL);
    cell(100.0, 0.0, 45.0, 8.0, "date", &options.date, SMALL);
    cell(145.0, 0.0, 35.0, 8.0, "issue", &options.issue, SMALL);
    options.projection.draw([x0 + 34.0, y0 + 4.0], out);
}

/// Mass in words: grams below a kilogram.
pub(super) fn mass(grams: f64) -> String {
    match grams {
        g if g >= 1000.0 => format!("{:.2} kg", g * 1e-3),
        g if g >= 10.0 => format!("{g:.0} g"),
        g => format!("{} g", size((g * 1e3).round() * 1e-3)),
    }
}
