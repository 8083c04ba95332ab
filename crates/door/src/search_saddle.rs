//! `search-saddle`: a stand sheet, a rotor, what is demanded and what may be tried in; the trade-off between air, stiffness and floor, and
//! a design that survives its tolerances out.

use crate::Fault;
use crate::calculation::read;
use crate::floor::rotor_and_setting;
use crate::stand::{StandIn, arbor, floor_in, on_air};
use crate::stand_sheet::StandSheet;
use crate::support::demo_air;
use schemars::{JsonSchema, schema_for};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use stillwheel_physics::film::MARGIN;
use stillwheel_physics::stand::search::{Choice, Corners, Demands, Design, Merits, Search, Sizes, Steps};

/// Share of what the compressor delivers that the saddles may take when no demand for air is given.
const COMPRESSOR_SHARE: f64 = 0.7;

/// Values from one to another at equal steps.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RangeIn {
    /// First value to try.
    pub from: f64,
    /// Last value to try; as the first when there is one only.
    pub to: f64,
    /// How many values (1 to 15).
    pub count: u32,
}

/// Input of `search-saddle`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SearchSaddleIn {
    /// The stand and the rotor; clearance, length, port, jet and supply of the sheet are replaced, all else stays. Port offset and oval
    /// that the shop holds are read from the sheet.
    pub stand: StandIn,
    /// Most free air of both saddles, litres a minute; left out: 70 % of what the compressor on the sheet delivers.
    #[serde(default)]
    pub most_flow_l_min: Option<f64>,
    /// Highest floor, g·mm; left out: the rotor's allowance.
    #[serde(default)]
    pub highest_floor_g_mm: Option<f64>,
    /// Least stiffness upwards of each saddle, N/µm (0 asks for none).
    #[serde(default)]
    pub least_stiffness_n_um: f64,
    /// Whether the arbor must lift by itself.
    #[serde(default = "yes")]
    pub lifts_by_itself: bool,
    /// Least damping of the arbor's bouncing on the film, as a share of critical (0 to 0.5; 0 asks only that it does not hammer).
    /// Missing: 0.01, below which `saddle` calls a film near hammer.
    #[serde(default = "damped")]
    pub least_damping_ratio: f64,
    /// How far the radial clearance may be off, either way, µm (0 to 50, and less than 90 % of the smallest that is tried).
    pub clearance_held_um: f64,
    /// Radial clearances to try, µm (1 to 500).
    pub clearance_um: RangeIn,
    /// Lengths of a saddle to try, mm (2 to 500).
    pub length_mm: RangeIn,
    /// Supply pressures to try, bar gauge (0.1 to 12).
    pub supply_bar: RangeIn,
    /// Ports to try, mm (0.1 to 50 each): drills that the shop has.
    pub ports_mm: Vec<f64>,
    /// Jets to try, mm (0.03 to 50 each); left out: plain ports.
    #[serde(default)]
    pub jets_mm: Option<Vec<f64>>,
}

const fn damped() -> f64 {
    MARGIN
}

const fn yes() -> bool {
    true
}

/// What a design does; of both saddles the worse one.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MeritsOut {
    /// Free air of both saddles, litres a minute.
    pub flow_l_min: f64,
    /// Stiffness upwards of each, N/µm.
    pub stiffness_n_um: f64,
    /// Floor, g·mm.
    pub floor_g_mm: f64,
    /// Thinnest film, µm.
    pub least_film_um: f64,
    /// Load over the largest load that floats.
    pub load_share: f64,
    /// Smallest supply at which it lifts by itself, bar gauge; absent: none a workshop has.
    pub lift_off_bar: Option<f64>,
    /// Whether it lifts by itself at its supply.
    pub lifts_by_itself: bool,
    /// Least damping of the arbor's bouncing, as a share of critical.
    pub damping_ratio: Option<f64>,
}

/// A design with what it does.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DesignOut {
    /// Radial clearance, µm.
    pub clearance_um: f64,
    /// Length of a saddle, mm.
    pub length_mm: f64,
    /// Port, mm.
    pub port_mm: f64,
    /// Jet, mm; absent: a plain port.
    pub jet_mm: Option<f64>,
    /// Supply, bar gauge.
    pub supply_bar: f64,
    /// As drawn.
    pub drawn: MeritsOut,
    /// The worst of: as drawn, and at both edges of the held clearance.
    pub worst: MeritsOut,
}

/// The proposed design at every corner of clearance, port offset and oval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CornersOut {
    /// Corners that were floated.
    pub count: usize,
    /// Most free air of both saddles, litres a minute.
    pub flow_l_min: f64,
    /// Least stiffness upwards, N/µm.
    pub stiffness_n_um: f64,
    /// Thinnest film, µm.
    pub least_film_um: f64,
    /// Largest drift of both saddles with all imperfections pulling one way, g·mm.
    pub drift_g_mm: f64,
    /// Highest lift-off pressure, bar gauge; absent: at some corner no workshop pressure lifts it.
    pub lift_off_bar: Option<f64>,
    /// Largest load over the largest that floats.
    pub load_share: f64,
    /// Whether it lifts by itself at every corner.
    pub lifts_by_itself: bool,
    /// Least damping of the arbor's bouncing, as a share of critical.
    pub damping_ratio: f64,
}

/// Output of `search-saddle`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SearchSaddleOut {
    /// The answer in a few sentences.
    pub says: String,
    /// The proposed design.
    pub proposed: DesignOut,
    /// It at its corners.
    pub corners: CornersOut,
    /// Most free air of both saddles that was asked for, given or from the compressor, litres a minute.
    pub most_flow_l_min: f64,
    /// Highest floor that was asked for, given or the allowance, g·mm.
    pub highest_floor_g_mm: f64,
    /// Designs with more in hand that fail at a corner.
    pub failed_corners: usize,
    /// Designs that were evaluated.
    pub tried: usize,
    /// Of these, how many meet the demands.
    pub meeting: usize,
    /// The trade-off: designs that meet the demands and that none beats in air, stiffness and floor at once, by rising air.
    pub front: Vec<DesignOut>,
    /// The sheet with the proposed design in it.
    pub sheet: StandSheet,
}

/// Read an input as the door does, for a caller that watches the search.
///
/// # Errors
/// A [`Fault`] for a field that is missing, unknown or of the wrong type.
pub fn read_search(input: Value) -> Result<SearchSaddleIn, Fault> {
    read(input, &schema_for!(SearchSaddleIn).to_value())
}

/// Whether a search can begin: every value in its range, before anything is computed.
///
/// # Errors
/// A [`Fault`] as [`search_saddle`] would tell it at once.
pub fn check_search(input: &SearchSaddleIn) -> Result<(), Fault> {
    search(input)?.check().map_err(|f| at_input(&f))
}

/// Search, and propose a design that survives its tolerances.
///
/// # Errors
/// A [`Fault`] for a value out of its range; when nothing fits, it names the demand to relax.
pub fn search_saddle(input: &SearchSaddleIn) -> Result<SearchSaddleOut, Fault> {
    search_saddle_watched(input, &|_| true)?
        .ok_or_else(|| Fault::new("input", "a search that was stopped", "a search that goes on", "it was stopped before its end"))
}

/// The same; `keep_going` is told the share done, 0 to 1, from several threads, and stops the search by answering no: then `None`.
///
/// # Errors
/// As [`search_saddle`].
pub fn search_saddle_watched(input: &SearchSaddleIn, keep_going: &(dyn Fn(f64) -> bool + Sync)) -> Result<Option<SearchSaddleOut>, Fault> {
    let search = search(input)?;
    let Some(found) = search.run(keep_going).map_err(|f| at_input(&f))? else { return Ok(None) };
    let proposed = found.front[found.proposed];
    Ok(Some(SearchSaddleOut {
        says: says(&proposed, &found.corners, found.front.len(), found.tried),
        proposed: design_out(&proposed),
        corners: corners_out(&found.corners),
        most_flow_l_min: search.demands.flow_l_min,
        highest_floor_g_mm: search.demands.floor_g_mm,
        failed_corners: found.failed_corners,
        tried: found.tried,
        meeting: found.meeting,
        front: found.front.iter().map(design_out).collect(),
        sheet: with_design(&input.stand.sheet, &proposed.choice),
    }))
}

fn search(input: &SearchSaddleIn) -> Result<Search, Fault> {
    let stand = &input.stand;
    let sheet = &stand.sheet;
    sheet.check().map_err(|f| f.inside("stand.sheet"))?;
    let (Some(saddles), Some(feed)) = (&sheet.saddles, &sheet.feed) else {
        let why = "the search sizes air saddles: give the sheet a pair to start from";
        return Err(Fault::new("stand.sheet.saddles", "missing", "saddles and feed", why));
    };
    let air = sheet.air.clone().unwrap_or_default();
    let bent = arbor(sheet, stand.mass_kg).map_err(|f| f.inside("stand"))?;
    let pattern = on_air(sheet, saddles, feed, &air, &bent).map_err(|f| f.inside("stand"))?;
    let flow = input.most_flow_l_min.or_else(|| air.compressor_l_min.map(|c| COMPRESSOR_SHARE * c)).ok_or_else(|| {
        let why = "nothing says how much air there is: give it here, or give the sheet's air its compressor_l_min";
        Fault::new("most_flow_l_min", "missing", "litres of free air a minute", why)
    })?;
    // The support comes with each design; the rest of what the floor asks is the same for all.
    let (rotor, setting) = rotor_and_setting(&floor_in(stand, demo_air(), bent.own_mass_g / 1000.0));
    Ok(Search {
        pattern,
        sizes: Sizes {
            clearance_um: steps(input.clearance_um),
            length_mm: steps(input.length_mm),
            supply_bar: steps(input.supply_bar),
            ports_mm: input.ports_mm.clone(),
            jets_mm: input.jets_mm.as_ref().map_or_else(|| vec![None], |all| all.iter().map(|j| Some(*j)).collect()),
        },
        clearance_held_um: input.clearance_held_um,
        rotor,
        setting,
        demands: Demands {
            flow_l_min: flow,
            floor_g_mm: input.highest_floor_g_mm.unwrap_or(stand.allowance_g_mm),
            stiffness_n_um: input.least_stiffness_n_um,
            lifts_by_itself: input.lifts_by_itself,
            damping_ratio: input.least_damping_ratio,
        },
    })
}

const fn steps(r: RangeIn) -> Steps {
    Steps { from: r.from, to: r.to, count: r.count as usize }
}

/// The film's faults speak of one design; here they belong to what may be tried, the stand or the rotor.
fn at_input(fault: &Fault) -> Fault {
    let field = match fault.field.as_str() {
        "radial_clearance_um" => "clearance_um.to",
        "length_mm" => "length_mm.to",
        "supply_bar" => "supply_bar.to",
        "port_diameter_mm" => "ports_mm",
        "jet_diameter_mm" => "jets_mm",
        "pocket_diameter_mm" => "stand.sheet.feed.pocket_diameter_mm",
        "pocket_depth_mm" => "stand.sheet.feed.pocket_depth_mm",
        "load_n" => {
            let why = format!("load on a saddle, N: {}", fault.why);
            return Fault::new("stand.mass_kg", fault.value.clone(), fault.allowed.clone(), why);
        }
        "mass_kg" | "seated_mass_kg" => "stand.mass_kg",
        "inertia_kg_m2" => "stand.inertia_kg_m2",
        "wheel_diameter_mm" => "stand.wheel_diameter_mm",
        _ => return fault.clone(),
    };
    Fault { field: field.to_owned(), ..fault.clone() }
}

/// A sheet with a design's sizes in it.
fn with_design(sheet: &StandSheet, choice: &Choice) -> StandSheet {
    let mut out = sheet.clone();
    if let (Some(saddles), Some(feed)) = (&mut out.saddles, &mut out.feed) {
        saddles.radial_clearance_um = choice.clearance_um;
        saddles.length_mm = choice.length_mm;
        feed.port_diameter_mm = choice.port_mm;
        feed.jet_diameter_mm = choice.jet_mm;
        feed.supply_bar = choice.supply_bar;
    }
    out
}

const fn merits_out(m: &Merits) -> MeritsOut {
    MeritsOut {
        flow_l_min: m.flow_l_min,
        stiffness_n_um: m.stiffness_n_um,
        floor_g_mm: m.floor_g_mm,
        least_film_um: m.least_film_um,
        load_share: m.load_share,
        lift_off_bar: m.lift_off_bar,
        lifts_by_itself: m.lifts_by_itself,
        damping_ratio: m.damping_ratio,
    }
}

const fn design_out(d: &Design) -> DesignOut {
    DesignOut {
        clearance_um: d.choice.clearance_um,
        length_mm: d.choice.length_mm,
        port_mm: d.choice.port_mm,
        jet_mm: d.choice.jet_mm,
        supply_bar: d.choice.supply_bar,
        drawn: merits_out(&d.drawn),
        worst: merits_out(&d.worst),
    }
}

const fn corners_out(c: &Corners) -> CornersOut {
    CornersOut {
        count: c.count,
        flow_l_min: c.flow_l_min,
        stiffness_n_um: c.stiffness_n_um,
        least_film_um: c.least_film_um,
        drift_g_mm: c.drift_g_mm,
        lift_off_bar: c.lift_off_bar,
        load_share: c.load_share,
        lifts_by_itself: c.lifts_by_itself,
        damping_ratio: c.damping_ratio,
    }
}

fn says(d: &Design, c: &Corners, front: usize, tried: usize) -> String {
    let (x, w) = (&d.choice, &d.worst);
    let jet = x.jet_mm.map_or_else(|| "no jet".to_owned(), |j| format!("a jet of {j} mm"));
    format!(
        "Bore {:.1} µm larger in radius than the arbor, {:.1} mm long, port {} mm, {jet}, {:.2} bar. At the edges of the clearance it takes at most \
         {:.2} litres of free air a minute, is at least {:.2} N/µm stiff, and its floor is at most {:.2} g·mm. It floats at all {} corners of \
         clearance, port and bore, the thinnest film {:.1} µm. {front} of {tried} designs are beaten by none.",
        x.clearance_um, x.length_mm, x.port_mm, x.supply_bar, w.flow_l_min, w.stiffness_n_um, w.floor_g_mm, c.count, c.least_film_um,
    )
}

/// The demo's stand, about its own sizes; few designs, so that it answers at once.
pub(crate) fn example() -> SearchSaddleIn {
    SearchSaddleIn {
        stand: crate::stand::example(),
        most_flow_l_min: Some(4.0),
        highest_floor_g_mm: Some(5.0),
        least_stiffness_n_um: 0.5,
        least_damping_ratio: damped(),
        lifts_by_itself: true,
        clearance_held_um: 1.0,
        clearance_um: RangeIn { from: 12.0, to: 16.0, count: 2 },
        length_mm: RangeIn { from: 24.0, to: 24.0, count: 1 },
        supply_bar: RangeIn { from: 4.0, to: 4.0, count: 1 },
        ports_mm: vec![1.2],
        jets_mm: Some(vec![0.15]),
    }
}
