//! `gland`: an O-ring between saddle and bore in; groove, squeeze, stretch, fill, friction at the worst of all tolerances out.

use crate::Fault;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::making::fit::{Hole, Shaft};
use stillwheel_physics::making::gland::{Gland, Housing, LEAST_WALL_MM, Place, Service, WIDTH_TOLERANCE_MM, inside_tolerance_mm};

/// How the ring serves.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ServiceName {
    /// The parts are clamped; friction holds them while they are set.
    Still,
    /// The saddle slides slowly and freely under air.
    SlidingAir,
}

/// Which part has the groove.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum PlaceName {
    /// On the saddle; the ring is stretched over it and seals on the bore.
    #[default]
    OnSaddle,
    /// In the bore; the ring is pressed into it and seals on the saddle.
    InBore,
}

/// Input of `gland`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct GlandIn {
    /// How the ring serves.
    pub service: ServiceName,
    /// Which part has the groove.
    #[serde(default)]
    pub place: PlaceName,
    /// Nominal diameter of bore and saddle, mm.
    pub nominal_mm: f64,
    /// Class of the bore.
    #[serde(default = "h8")]
    pub bore_class: String,
    /// Class of the saddle.
    #[serde(default = "f7")]
    pub saddle_class: String,
    /// Section of the ring, mm: one of the tabled (1, 1.5, 1.8, 2, 2.5, 2.65, 3, 3.55, 5.3, 7).
    pub section_mm: f64,
    /// Inside diameter of the ring as sold, mm.
    pub inside_mm: f64,
    /// Diameter of the groove's bottom, mm; missing: from the table.
    #[serde(default)]
    pub groove_mm: Option<f64>,
    /// Class of the groove's diameter; missing: h9 on the saddle, H9 in the bore.
    #[serde(default)]
    pub groove_class: Option<String>,
    /// Width of the groove, mm (+0.25/0); missing: from the table.
    #[serde(default)]
    pub width_mm: Option<f64>,
    /// What lies behind the groove, mm: diameter of the largest hole inside the saddle, or the outside of the part round the bore.
    #[serde(default)]
    pub behind_mm: Option<f64>,
    /// Metal between the groove's side and the next edge along the axis, mm.
    #[serde(default)]
    pub beside_mm: Option<f64>,
    /// Supply, bar gauge, for the friction (0 to 16).
    #[serde(default)]
    pub supply_bar: f64,
    /// Hardness of the ring, IRHD (40 to 95).
    #[serde(default = "seventy")]
    pub hardness_irhd: f64,
    /// Friction of the ring on its bore (0.01 to 2): greased 0.1 to 0.4, dry about 1. Common practice, no source.
    #[serde(default = "greased")]
    pub friction: f64,
}

fn h8() -> String {
    "H8".into()
}
fn f7() -> String {
    "f7".into()
}
const fn seventy() -> f64 {
    70.0
}
const fn greased() -> f64 {
    0.3
}

/// The groove to cut.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct GrooveOut {
    /// Diameter of its bottom, mm.
    pub diameter_mm: f64,
    /// Class of that diameter.
    pub class: String,
    /// Smallest and largest, mm.
    pub limits_mm: [f64; 2],
    /// Width, smallest and largest, mm.
    pub width_mm: [f64; 2],
    /// Radius in its corners, at most, mm.
    pub corner_radius_mm: f64,
    /// Lead-in at the bore's mouth, along the axis at 15°, mm; missing where none is published.
    pub lead_in_mm: Option<f64>,
    /// Published section that depth and width come from, mm.
    pub from_section_mm: f64,
}

/// Output of `gland`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct GlandOut {
    /// The answer in a few sentences.
    pub says: String,
    /// The groove.
    pub groove: GrooveOut,
    /// Bore, smallest and largest, mm.
    pub bore_mm: [f64; 2],
    /// Saddle, smallest and largest, mm.
    pub saddle_mm: [f64; 2],
    /// Depth from the groove's bottom to the sealed surface, least and most, mm.
    pub depth_mm: [f64; 2],
    /// Squeeze with the parts in one axis, least and most, per cent.
    pub squeeze_percent: [f64; 2],
    /// Least squeeze with the saddle pushed to one side, per cent.
    pub squeeze_pushed_percent: f64,
    /// The same with the ring thinned by its stretch: the worst of all, per cent.
    pub squeeze_worst_percent: f64,
    /// How far the saddle can lie to one side, mm.
    pub shift_mm: f64,
    /// Stretch of a ring on the saddle, or pressing of one in the bore, least and most, per cent.
    pub stretch_percent: [f64; 2],
    /// Fill of the groove, least and most, per cent.
    pub fill_percent: [f64; 2],
    /// Wall left behind the groove, mm.
    pub wall_behind_mm: Option<f64>,
    /// Force to slide the saddle without pressure, N; an order of size.
    pub friction_n: f64,
    /// Force to slide it at the supply, N; an order of size.
    pub friction_at_supply_n: f64,
    /// Finish of the surfaces.
    pub finish: String,
    /// What to beware of.
    pub cautions: Vec<String>,
}

/// What an O-ring gland does.
///
/// # Errors
/// A [`Fault`] for a class or section that is not tabled, a saddle that does not pass its bore, a ring that loses contact or is stretched or
/// squeezed too far, a groove that is overfilled or breaks through.
pub fn gland(input: &GlandIn) -> Result<GlandOut, Fault> {
    let housing = Housing::find(input.section_mm)?;
    let service = match input.service {
        ServiceName::Still => Service::Still,
        ServiceName::SlidingAir => Service::SlidingAir,
    };
    let place = match input.place {
        PlaceName::OnSaddle => Place::OnSaddle,
        PlaceName::InBore => Place::InBore,
    };
    let bore_mm = hole(&input.bore_class, input.nominal_mm).map_err(|f| renamed(f, "hole", "bore_class"))?;
    let saddle_mm = shaft(&input.saddle_class, input.nominal_mm).map_err(|f| renamed(f, "shaft", "saddle_class"))?;
    let [depth, width] = housing.groove_mm(service);
    let width = input.width_mm.unwrap_or(width);
    let on_saddle = place == Place::OnSaddle;
    let diameter = input.groove_mm.unwrap_or(if on_saddle { input.nominal_mm - 2.0 * depth } else { input.nominal_mm + 2.0 * depth });
    let least = 4.0 * housing.section_mm;
    if input.nominal_mm < least {
        let why = "so small a saddle holds no ring of this section (four sections across, common practice); is it an inch figure?";
        return Err(Fault::new("nominal_mm", input.nominal_mm, format!("{least} mm or more"), why));
    }
    let class = input.groove_class.clone().unwrap_or_else(|| if on_saddle { "h9" } else { "H9" }.to_owned());
    let limits = if on_saddle { shaft(&class, diameter) } else { hole(&class, diameter) };
    let groove_mm = limits.map_err(|f| {
        let f = renamed(renamed(f, "shaft", "groove_class"), "hole", "groove_class");
        renamed(f, "nominal_mm", "groove_mm")
    })?;
    let off = inside_tolerance_mm(input.inside_mm.max(0.0));
    let physics = Gland {
        place,
        service,
        bore_mm,
        saddle_mm,
        groove_mm,
        width_mm: [width, width + WIDTH_TOLERANCE_MM],
        section_mm: [housing.section_mm - housing.section_tolerance_mm, housing.section_mm + housing.section_tolerance_mm],
        inside_mm: [input.inside_mm - off, input.inside_mm + off],
        behind_mm: input.behind_mm,
        beside_mm: input.beside_mm,
    };
    let sealed = physics.sealed().map_err(|f| renamed(f, "saddle_mm", "saddle_class"))?;
    let [still, pressed] = physics.friction_n(&sealed, input.hardness_irhd, input.friction, input.supply_bar * 1e5)?;
    let mut cautions: Vec<String> = sealed.cautions.iter().flatten().map(|c| (*c).to_owned()).collect();
    if service == Service::SlidingAir && (housing.air_row_mm - housing.section_mm).abs() > 1e-9 {
        cautions.push(format!("Depth and width are those published for a section of {} mm.", housing.air_row_mm));
    }
    if input.behind_mm.is_none() {
        cautions.push(format!("What lies behind the groove was not given: leave {LEAST_WALL_MM} mm of wall or more."));
    }
    cautions.push("Round or avoid port edges inside the stroke: a sharp one cuts the ring.".to_owned());
    Ok(GlandOut {
        says: format!(
            "Groove {diameter} {class}, {width} to {:.2} mm wide. Squeeze {:.1} to {:.1} %, {:.1} % at the worst with the saddle to one side and \
             the ring stretched; the groove is at most {:.0} % full. About {pressed:.0} N slide the saddle at the supply.",
            width + WIDTH_TOLERANCE_MM,
            sealed.squeeze_percent[0],
            sealed.squeeze_percent[1],
            sealed.squeeze_worst_percent,
            sealed.fill_percent[1],
        ),
        groove: GrooveOut {
            diameter_mm: diameter,
            class,
            limits_mm: groove_mm,
            width_mm: physics.width_mm,
            corner_radius_mm: housing.corner_radius_mm,
            lead_in_mm: housing.lead_in_at_15_deg_mm,
            from_section_mm: if service == Service::SlidingAir { housing.air_row_mm } else { housing.section_mm },
        },
        bore_mm,
        saddle_mm,
        depth_mm: sealed.depth_mm,
        squeeze_percent: sealed.squeeze_percent,
        squeeze_pushed_percent: sealed.squeeze_pushed_percent,
        squeeze_worst_percent: sealed.squeeze_worst_percent,
        shift_mm: sealed.shift_mm,
        stretch_percent: sealed.stretch_percent,
        fill_percent: sealed.fill_percent,
        wall_behind_mm: sealed.wall_behind_mm,
        friction_n: still,
        friction_at_supply_n: pressed,
        finish: "Sealed surface Ra 0.4 or finer (not below 0.1), groove bottom Ra 1.6, its sides Ra 3.2, lead-in Ra 0.8 to 1.6.".into(),
        cautions,
    })
}

fn hole(class: &str, nominal_mm: f64) -> Result<[f64; 2], Fault> {
    Ok(Hole::read(class)?.limits(nominal_mm)?.sizes_mm(nominal_mm))
}

fn shaft(class: &str, nominal_mm: f64) -> Result<[f64; 2], Fault> {
    Ok(Shaft::read(class)?.limits(nominal_mm)?.sizes_mm(nominal_mm))
}

fn renamed(mut fault: Fault, from: &str, to: &str) -> Fault {
    if fault.field == from {
        to.clone_into(&mut fault.field);
    }
    fault
}

/// The demo's saddle: Ø40 in its pillar, ring 32.5 × 3.55.
pub(crate) fn example() -> GlandIn {
    GlandIn {
        service: ServiceName::SlidingAir,
        place: PlaceName::OnSaddle,
        nominal_mm: 40.0,
        bore_class: "H7".into(),
        saddle_class: "g6".into(),
        section_mm: 3.55,
        inside_mm: 32.5,
        groove_mm: None,
        groove_class: None,
        width_mm: None,
        behind_mm: Some(12.0),
        beside_mm: Some(4.0),
        supply_bar: 4.0,
        hardness_irhd: 70.0,
        friction: 0.3,
    }
}
