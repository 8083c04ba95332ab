//! Write every drawing of some stands into a folder, as SVG, PDF and DXF, to look at them:
//! `cargo run -p stillwheel-drawing --example parts -- FOLDER`.

#[path = "../../physics/tests/making_support/stands.rs"]
mod stands;

use stillwheel_drawing::{DrawOptions, Drawing, Page, Projection, draw_assembly, draw_part, to_pdf};
use stillwheel_physics::making::parts::parts;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = std::path::PathBuf::from(std::env::args().nth(1).ok_or("name a folder")?);
    std::fs::create_dir_all(&folder)?;
    for (name, design) in stands::several() {
        let stand = name.split([' ', ',']).next().unwrap_or_default();
        let all = parts(&design)?;
        for (paper, page) in [("a4", Page::A4), ("a3", Page::A3), ("letter", Page::Letter)] {
            let projection = if page == Page::Letter { Projection::ThirdAngle } else { Projection::FirstAngle };
            let options = DrawOptions { page, projection, date: "2026-03-02".to_owned(), ..DrawOptions::default() };
            let write = |key: &str, d: &Drawing| -> Result<(), Box<dyn std::error::Error>> {
                let file = |kind: &str| folder.join(format!("{stand}-{key}-{paper}.{kind}"));
                let svg = d.svg("")?;
                std::fs::write(file("pdf"), to_pdf(&svg, page)?)?;
                std::fs::write(file("svg"), svg)?;
                std::fs::write(file("dxf"), d.dxf()?)?;
                Ok(())
            };
            for part in all.iter().filter(|p| p.is_made()) {
                write(&part.key, &draw_part(&design, part, &options)?)?;
            }
            write("assembly", &draw_assembly(&design, &all, &options)?)?;
        }
    }
    Ok(())
}
