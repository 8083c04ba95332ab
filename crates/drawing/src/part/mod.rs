//! Drawings of the stand's parts and of the stand put together: views, dimensions, tables, title block; SVG, PDF and DXF.
//!
//! In: a [`Design`] and its [`Part`]s. Out: a [`Drawing`], a flat list of lines, circles, arcs and text on paper, that writes itself as
//! SVG (and by [`crate::to_pdf`] as PDF at true scale) and as DXF. The part's model has every dimension once; the drawing says of each
//! that it shows ([`Drawing::shown`]), so that a test can tell what is missing and what stands twice.
//!
//! Signs follow the open ISO standards named where they are drawn. Nothing here decides a size.

mod assembly;
mod blocks;
mod dxf;
mod entity;
mod layout;
mod sheet;
mod svg_out;
mod symbols;
mod table;
mod text;
mod turned;
mod view;

pub use entity::{Anchor, Entity, Extent, LineKind, Point};
pub use sheet::{DrawOptions, Drawing};
pub use symbols::Projection;

use sheet::{Content, Title, compose, mass};
use stillwheel_physics::Fault;
use stillwheel_physics::making::parts::{Design, Part, PartKind};

/// Draw one part that the shop makes.
///
/// # Errors
/// A [`Fault`] for a bought part, and for a part that fits on the page at no scale.
pub fn draw_part(design: &Design, part: &Part, options: &DrawOptions) -> Result<Drawing, Fault> {
    let views = match part.kind {
        PartKind::Plate => blocks::plate(design, part)?,
        PartKind::Pillar => blocks::pillar(design, part)?,
        PartKind::Collar => blocks::collar(design, part)?,
        PartKind::Guide => blocks::guide(design, part)?,
        PartKind::EndStop => blocks::end_stop(design, part)?,
        PartKind::Saddle => turned::saddle(design, part)?,
        PartKind::Arbor => turned::arbor(design, part)?,
        PartKind::Foot => turned::foot(design, part)?,
        PartKind::Jet => turned::jet(design, part)?,
        PartKind::Bought(_) => {
            return Err(Fault::new("part", part.key.clone(), "a part that the shop makes", "what is bought needs no drawing"));
        }
    };
    let (tables, told) = table::hole_tables(part);
    let mut notes = part.notes.clone();
    if !tables.is_empty() {
        notes.insert(0, "Holes in the order of the table, from the datum corner (small circle), one clamping for each face.".to_owned());
    }
    compose(
        Content {
            title: Title {
                stand: design.sizes.name.clone(),
                name: part.name.clone(),
                number: format!("{:02}", part.item),
                material: part.material.clone(),
                stock: part.stock.as_ref().map(|s| s.says.clone()).unwrap_or_default(),
                mass: part.mass_g.map(mass).unwrap_or_default(),
                quantity: part.quantity,
            },
            views,
            tables,
            notes,
            told,
            words: words(design, part),
        },
        options,
    )
}

/// Draw the stand put together, with the list of its parts.
///
/// # Errors
/// A [`Fault`] when it fits on the page at no scale.
pub fn draw_assembly(design: &Design, parts: &[Part], options: &DrawOptions) -> Result<Drawing, Fault> {
    compose(assembly::content(design, parts), options)
}

fn words(design: &Design, part: &Part) -> String {
    let holes: usize = part.features.iter().filter_map(|f| f.hole.as_ref()).filter(|h| h.in_table).map(|h| h.places.len()).sum();
    let critical: Vec<&str> = part.features.iter().filter(|f| f.critical.is_some()).map(|f| f.name).collect();
    let holes = if holes > 0 { format!(" {holes} holes stand in a table.") } else { String::new() };
    let critical = if critical.is_empty() { String::new() } else { format!(" Critical: {}.", critical.join("; ")) };
    format!("Drawing of the {} of stand {}, {}.{holes}{critical}", part.name, design.sizes.name, part.material)
}
