//! What a maker takes to the machines: drawings of every part, and the whole pack as one zip.
//!
//! In: a stand sheet as it was written. Out: drawings by the drawing crate, tables by the door, together in a zip: PDF, DXF, CSV, TOML.

use anyhow::Context;
use std::io::{Cursor, Write};
use stillwheel_door::Fault;
use stillwheel_door::parts::{PartOut, PartsIn, PartsOut, design, parts};
use stillwheel_door::stand_sheet::{StandSheet, read_sheet};
use stillwheel_drawing::{DrawOptions, Drawing, draw_assembly, draw_part, to_pdf};
use stillwheel_physics::making::parts::{Design, Part, parts as all_parts};
use zip::write::SimpleFileOptions;

/// Key of the stand put together, beside those of its parts.
pub const ASSEMBLY: &str = "assembly";

/// A stand worked out once for all that is asked of it.
pub struct Made {
    /// Its sheet.
    pub sheet: StandSheet,
    /// The door's answer.
    pub out: PartsOut,
    design: Design,
    parts: Vec<Part>,
}

impl Made {
    /// From a sheet as it was written.
    ///
    /// # Errors
    /// A [`Fault`] for a sheet that is none, and for a stand that can't be made.
    pub fn of(toml: &str) -> Result<Self, Fault> {
        let sheet = read_sheet(toml)?;
        let design = design(&sheet)?;
        let parts_of = all_parts(&design)?;
        let out = parts(&PartsIn { sheet: sheet.clone() })?;
        Ok(Self { sheet, out, design, parts: parts_of })
    }

    /// The parts that the shop makes.
    pub fn made(&self) -> impl Iterator<Item = &PartOut> {
        self.out.parts.iter().filter(|p| p.stock.is_some())
    }

    /// The part of that key.
    pub fn part(&self, key: &str) -> Option<&PartOut> {
        self.out.parts.iter().find(|p| p.key == key)
    }

    /// Its drawing, or that of the stand put together; `None` where there is no part of that key that is made.
    ///
    /// # Errors
    /// A [`Fault`] for a part that fits on the page at no scale.
    pub fn drawing(&self, key: &str, options: &DrawOptions) -> Result<Option<Drawing>, Fault> {
        if key == ASSEMBLY {
            return draw_assembly(&self.design, &self.parts, options).map(Some);
        }
        self.parts.iter().find(|p| p.key == key && p.is_made()).map(|p| draw_part(&self.design, p, options)).transpose()
    }

    /// Keys of all drawings with a name for their files: the stand first.
    pub fn drawings(&self) -> Vec<(String, String)> {
        let parts = self.made().map(|p| (p.key.clone(), format!("{:02}-{}", p.item, p.key)));
        std::iter::once((ASSEMBLY.to_owned(), format!("00-{ASSEMBLY}"))).chain(parts).collect()
    }

    /// The whole pack: drawings as PDF and DXF, tables as CSV, the sheet itself. The same sheet and options give the same bytes.
    ///
    /// # Errors
    /// A [`Fault`] as [`Made::drawing`]; anything else is a fault of the program.
    pub fn pack(&self, toml: &str, options: &DrawOptions) -> anyhow::Result<Vec<u8>> {
        let mut files: Vec<(String, Vec<u8>)> = vec![
            ("read-me.txt".to_owned(), self.read_me(options).into_bytes()),
            ("stand.toml".to_owned(), toml.as_bytes().to_vec()),
            ("parts.csv".to_owned(), self.parts_csv()?),
            ("dimensions.csv".to_owned(), self.dimensions_csv()?),
            ("holes.csv".to_owned(), self.holes_csv()?),
            ("process.csv".to_owned(), self.process_csv()?),
        ];
        for (key, name) in self.drawings() {
            let drawing = self.drawing(&key, options)?.with_context(|| format!("{key} has no drawing"))?;
            files.push((format!("pdf/{name}.pdf"), to_pdf(&drawing.svg("")?, options.page)?));
            files.push((format!("dxf/{name}.dxf"), drawing.dxf()?.into_bytes()));
        }
        let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
        // A fixed time, so that the same stand gives the same file.
        let how = SimpleFileOptions::default().last_modified_time(zip::DateTime::default());
        for (name, bytes) in files {
            zip.start_file(name, how)?;
            zip.write_all(&bytes)?;
        }
        Ok(zip.finish()?.into_inner())
    }

    fn read_me(&self, options: &DrawOptions) -> String {
        let mut text = format!(
            "Stand {}\n\n{}\n\npdf/    drawings on {} at true scale: print at 100 % and measure the 50 mm bar\ndxf/    the same, R12, 1 unit = 1 mm of the part, zero at the datum corner\n\
             parts.csv       list of parts with material, stock and mass\ndimensions.csv  every dimension with its limits, room for what is measured\nholes.csv       places of all holes in the order of drilling\n\
             process.csv     operations with the critical steps and how to measure them\nstand.toml      the sheet from which all this was worked out\n\nCautions\n",
            self.sheet.name,
            self.out.says,
            options.page.name()
        );
        for caution in &self.out.cautions {
            text.push_str(&format!("- {caution}\n"));
        }
        text
    }

    fn parts_csv(&self) -> anyhow::Result<Vec<u8>> {
        let head = ["item", "pieces", "part", "material_or_what_to_buy", "stock_mm", "mass_of_one_g"];
        table(
            &head,
            self.out.parts.iter().map(|p| {
                let mass = p.mass_g.map_or(String::new(), |m| format!("{m:.1}"));
                vec![
                    p.item.to_string(),
                    p.quantity.to_string(),
                    p.name.clone(),
                    p.material.clone(),
                    p.stock.clone().unwrap_or_default(),
                    mass,
                ]
            }),
        )
    }

    fn dimensions_csv(&self) -> anyhow::Result<Vec<u8>> {
        let head =
            ["part", "feature", "dimension", "nominal_mm", "lower_mm", "upper_mm", "limits", "critical", "measured_mm", "gauge_u_um"];
        let rows = self.made().flat_map(|p| {
            p.features.iter().flat_map(move |f| {
                f.dimensions.iter().map(move |d| {
                    let name = d.id.split_once('.').map_or(d.id.as_str(), |n| n.1).to_owned();
                    let limits = d
                        .told
                        .clone()
                        .unwrap_or_else(|| if d.upper_mm == 0.0 && d.lower_mm == 0.0 { "none" } else { "ISO 2768-m" }.to_owned());
                    let size = |v: f64| format!("{v:.4}");
                    vec![
                        p.name.clone(),
                        f.name.clone(),
                        name,
                        size(d.nominal_mm),
                        size(d.nominal_mm + d.lower_mm),
                        size(d.nominal_mm + d.upper_mm),
                        limits,
                        f.critical.clone().unwrap_or_default(),
                        String::new(),
                        String::new(),
                    ]
                })
            })
        });
        table(&head, rows)
    }

    fn holes_csv(&self) -> anyhow::Result<Vec<u8>> {
        let head = ["part", "hole", "face", "x_mm", "y_mm", "drill_mm", "drill_depth_mm", "thread", "seat_diameter_mm", "seat_depth_mm"];
        let rows = self.made().flat_map(|p| {
            p.features.iter().filter_map(|f| f.holes.as_ref()).flat_map(move |h| {
                h.places_mm.iter().enumerate().map(move |(k, [x, y])| {
                    let seat = |i: usize| h.seat_mm.map_or(String::new(), |s| s[i].to_string());
                    let depth = if h.through { "through".to_owned() } else { h.depth_mm.to_string() };
                    let tag = if h.places_mm.len() == 1 { h.tag.clone() } else { format!("{}{}", h.tag, k + 1) };
                    let at = |v: f64| format!("{v:.3}");
                    vec![
                        p.name.clone(),
                        tag,
                        h.face.clone(),
                        at(*x),
                        at(*y),
                        h.drill_mm.to_string(),
                        depth,
                        h.thread.clone().unwrap_or_default(),
                        seat(0),
                        seat(1),
                    ]
                })
            })
        });
        table(&head, rows)
    }

    fn process_csv(&self) -> anyhow::Result<Vec<u8>> {
        let head = ["part", "operation", "machine", "what_is_done", "critical_because", "measure", "caution", "done_by"];
        let rows = self.made().flat_map(|p| {
            p.operations.iter().map(move |o| {
                let text = |t: &Option<String>| t.clone().unwrap_or_default();
                vec![
                    p.name.clone(),
                    o.number.to_string(),
                    o.machine.clone(),
                    o.does.clone(),
                    text(&o.critical),
                    text(&o.measure),
                    text(&o.caution),
                    String::new(),
                ]
            })
        });
        table(&head, rows)
    }
}

fn table(head: &[&str], rows: impl Iterator<Item = Vec<String>>) -> anyhow::Result<Vec<u8>> {
    let mut csv = csv::Writer::from_writer(Vec::new());
    csv.write_record(head)?;
    for row in rows {
        csv.write_record(row)?;
    }
    csv.into_inner().context("the table could not be written")
}
