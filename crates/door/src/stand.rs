//! `stand`: a stand sheet and a rotor in; how it floats, what air it takes, how it stands, and its floor by cause out.

use crate::Fault;
use crate::floor::{FloorIn, FloorOut, floor};
use crate::saddle::{Hammer, judged};
use crate::stand_sheet::{AirSheet, BIRCH, FeedSheet, SaddleSheet, StandSheet, WaysKind, read_sheet};
use crate::support::SupportIn;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::Ranged;
use stillwheel_physics::film::{Air, Duty, Float, Floats, Form, Pocket, Port, Saddle};
use stillwheel_physics::quantity::STANDARD_GRAVITY;
use stillwheel_physics::stand::arbor::{Arbor, PointLoad, Step};
use stillwheel_physics::stand::feet::Feet;
use stillwheel_physics::stand::on_air::{Borne, OnAir, Seen};
use stillwheel_physics::stand::supports::FILM_ROUNDNESS_SHARE;

/// Input of `stand`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StandIn {
    /// The stand sheet.
    pub sheet: StandSheet,
    /// Mass of the whole rotor with its arbor, kg (0.05 to 1000).
    pub mass_kg: f64,
    /// Inertia about the arbor's axis, kg·m².
    pub inertia_kg_m2: f64,
    /// Wheel diameter now, mm.
    pub wheel_diameter_mm: f64,
    /// Permissible residual unbalance of the rotor, g·mm.
    pub allowance_g_mm: f64,
    /// Whether the wheel is looked at in two places on the arbor half a turn apart, and the mean taken.
    #[serde(default)]
    pub index_balanced: bool,
}

/// One saddle under its load.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SaddleOut {
    /// Load, N.
    pub load_n: f64,
    /// Slope of the bent arbor in it, µrad.
    pub arbor_slope_urad: f64,
    /// Arbor's centre above the bore's, µm.
    pub y_um: f64,
    /// Film straight down under the arbor, µm.
    pub film_under_um: f64,
    /// Thinnest film, µm.
    pub least_film_um: f64,
    /// Pressure at the port, bar absolute.
    pub port_bar_abs: f64,
    /// Free air, litres a minute (ISO 8778).
    pub flow_l_min: f64,
    /// Stiffness upwards, N/µm.
    pub stiffness_up_n_um: f64,
    /// Stiffness to the side, N/µm.
    pub stiffness_side_n_um: f64,
    /// How many stable floats there are.
    pub stable_floats: usize,
    /// Whether the arbor lifts by itself at this supply.
    pub lifts_by_itself: bool,
    /// Smallest supply at which it lifts by itself, bar gauge; absent: none a workshop has.
    pub lift_off_bar: Option<f64>,
    /// Largest load that floats at this supply, N.
    pub largest_load_n: f64,
    /// Drift with the port at the edge of what is held, g·mm.
    pub drift_port_g_mm: f64,
    /// Drift with the bore as oval as is held, at the worst angle, g·mm.
    pub drift_oval_g_mm: f64,
    /// What a cross slope adds, g·mm for each mm/m.
    pub drift_per_cross_slope_g_mm: f64,
    /// Force over film: film under the arbor, µm, and force up, N, from the rest gap up.
    pub curve: Vec<[f64; 2]>,
    /// Film at mid-length: angle from straight down, degrees, positive to the right, and thickness, µm.
    pub film: Vec<[f64; 2]>,
    /// Pressure along the same line: angle, degrees, and bar gauge.
    pub pressure: Vec<[f64; 2]>,
    /// Pressure over the whole saddle.
    pub pressure_grid: PressureGridOut,
    /// Flow over supply: bar gauge, and free air in litres a minute, wherever the load floats from half to one and a half times the supply.
    pub flow_curve: Vec<[f64; 2]>,
    /// Whether the rotor bounces itself up on the film.
    pub hammer: Hammer,
}

/// Gauge pressure over the unrolled saddle, on an even grid.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PressureGridOut {
    /// Points along the arc, from the left edge to the right as the operator sees it.
    pub columns: usize,
    /// Row by row along the axis from edge to edge, bar.
    pub bar: Vec<f64>,
}

/// Points of the pressure's picture: each 3° of a half round, and so many along the axis that the port's rim is seen.
const PICTURE: [usize; 2] = [61, 31];

/// The stand on its feet.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FeetOut {
    /// Distance of the mass centre from the nearest tipping side, mm.
    pub margin_mm: f64,
    /// Load on each foot, N.
    pub loads_n: [f64; 3],
    /// Horizontal push at the mass centre's height that starts tipping, N.
    pub tipping_force_n: f64,
    /// Mass centre in plan, mm from the plate's corner.
    pub mass_centre_mm: [f64; 2],
    /// Its height above the tips of the feet, mm.
    pub mass_centre_height_mm: f64,
    /// Mass of plate and rotor, kg.
    pub mass_kg: f64,
}

/// Output of `stand`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StandOut {
    /// The answer in a few sentences.
    pub says: String,
    /// The saddles, the operator's first; empty on a stand without air.
    pub saddles: Vec<SaddleOut>,
    /// Free air of both, litres a minute; 0 without air.
    pub flow_l_min: f64,
    /// Share of what the compressor delivers, if it was given.
    pub compressor_share: Option<f64>,
    /// What bears the rotor, as `floor` and `level` take it.
    pub support: SupportIn,
    /// The floor by cause.
    pub floor: FloorOut,
    /// How it stands.
    pub feet: FeetOut,
    /// Fall of the arbor's middle below its supports, µm.
    pub arbor_sag_um: f64,
    /// What to beware of.
    pub warnings: Vec<String>,
}

/// What a stand as described would do with this rotor.
///
/// # Errors
/// A [`Fault`] for a value out of its range, a rotor that the air does not carry (it names pressure, port or load), a stand that tips.
pub fn stand(input: &StandIn) -> Result<StandOut, Fault> {
    let sheet = &input.sheet;
    sheet.check().map_err(|f| f.inside("sheet"))?;
    let mass = input.mass_kg.within("mass_kg", 0.05, 1000.0, "kg", "mass of the whole rotor with its arbor")?;
    let bent = arbor(sheet, mass)?;
    let mut warnings = vec![];
    let (support, borne) = match (&sheet.saddles, &sheet.feed) {
        (Some(saddles), Some(feed)) => {
            let air = sheet.air.clone().unwrap_or_default();
            let on = on_air(sheet, saddles, feed, &air, &bent)?;
            let borne = on.borne().map_err(|f| field_of_sheet(&f))?;
            (air_support(sheet, &borne), Some((on, borne, saddles, air)))
        }
        _ => (ways_support(sheet)?, None),
    };
    let floor = floor(&floor_in(input, support, bent.own_mass_g / 1000.0))?;
    let feet = feet(sheet, mass)?;
    let (mut saddles_out, mut flow, mut share) = (vec![], 0.0, None);
    if let Some((on, borne, saddles, air)) = &borne {
        let seen = |i: usize| on.seen(i, borne.floats[i].lowest(), PICTURE[0], PICTURE[1]).map_err(|f| field_of_sheet(&f));
        let near = seen(0)?;
        // Two alike saddles look alike.
        let far = if borne.floats[0] == borne.floats[1] { near.clone() } else { seen(1)? };
        let mut hammers = vec![];
        for (i, seen) in [near, far].iter().enumerate() {
            let hammer = judged(&seen.hammer, &mut hammers);
            saddles_out.push(saddle_out(saddles, borne, seen, hammer, i, (bent.reactions_n[i], bent.support_slopes_urad[i])));
        }
        flow = borne.flow_l_min;
        share = air.compressor_l_min.map(|c| flow / c);
        warnings.extend(air_warnings(&saddles_out, share));
        warnings.extend(hammers.into_iter().next());
    }
    warnings.extend(floor.cautions.clone());
    Ok(StandOut {
        says: says(&saddles_out, flow, share, &floor),
        saddles: saddles_out,
        flow_l_min: flow,
        compressor_share: share,
        support,
        floor,
        feet,
        arbor_sag_um: bent.largest_sag.0,
        warnings,
    })
}

/// The saddle of a sheet as the film takes it.
pub(crate) fn saddle(sheet: &StandSheet, saddles: &SaddleSheet, feed: &FeedSheet) -> Saddle {
    let pocket =
        feed.pocket_diameter_mm.zip(feed.pocket_depth_mm).map(|(d, depth)| Pocket::Round { diameter_m: d * 1e-3, depth_m: depth * 1e-3 });
    Saddle {
        bore_diameter_m: sheet.arbor.diameter_mm * 1e-3 + 2e-6 * saddles.radial_clearance_um,
        clearance_m: saddles.radial_clearance_um * 1e-6,
        length_m: saddles.length_mm * 1e-3,
        arc_rad: saddles.arc_deg.to_radians(),
        arc_turned_rad: 0.0,
        form: Form::default(),
        port: Port {
            diameter_m: feed.port_diameter_mm * 1e-3,
            around_m: 0.0,
            along_m: 0.0,
            jet_diameter_m: feed.jet_diameter_mm.map(|d| d * 1e-3),
            pocket,
            volume_m3: 0.0,
            discharge: feed.discharge,
        },
        rest_gap_m: saddles.rest_gap_um * 1e-6,
    }
}

/// The room's air as the film takes it.
pub(crate) fn room(air: &AirSheet) -> Air {
    Air::at(air.temperature_c + 273.15, air.ambient_bar_abs * 1e5)
}

/// Both saddles of a sheet under the bent arbor.
pub(crate) fn on_air(
    sheet: &StandSheet,
    saddles: &SaddleSheet,
    feed: &FeedSheet,
    air: &AirSheet,
    bent: &stillwheel_physics::stand::arbor::Bent,
) -> Result<OnAir, Fault> {
    for load in bent.reactions_n {
        if load <= 0.0 {
            let allowed = format!("less than {} mm either way", sheet.arbor.span_mm / 2.0);
            let why = "the wheel hangs so far out that the arbor lifts off one saddle: bring it in, or set the saddles wider";
            return Err(Fault::new("sheet.arbor.wheel_offset_mm", sheet.arbor.wheel_offset_mm, allowed, why));
        }
    }
    Ok(OnAir {
        saddle: saddle(sheet, saddles, feed),
        duty: Duty::new(room(air), feed.supply_bar * 1e5, bent.reactions_n[0]),
        loads_n: bent.reactions_n,
        slopes_rad: bent.support_slopes_urad.map(|s| s.abs() * 1e-6),
        span_m: sheet.arbor.span_mm * 1e-3,
        port_offset_m: sheet.held.port_offset_mm * 1e-3,
        oval_m: sheet.held.bore_oval_um * 1e-6,
        end_stop_friction: sheet.held.end_stop_friction,
        end_stop_radius_mm: sheet.held.end_stop_radius_mm,
        roundness_share: FILM_ROUNDNESS_SHARE,
    })
}

/// The film's faults speak of one saddle; here they belong to the sheet.
fn field_of_sheet(fault: &Fault) -> Fault {
    let place = match fault.field.as_str() {
        "radial_clearance_um" | "length_mm" | "arc_deg" | "rest_gap_um" => "sheet.saddles",
        "supply_bar" | "port_diameter_mm" | "jet_diameter_mm" | "discharge" | "pocket_diameter_mm" | "pocket_depth_mm" => "sheet.feed",
        "temperature_c" | "ambient_bar_abs" => "sheet.air",
        "port_offset_mm" | "bore_oval_um" => "sheet.held",
        "load_n" => {
            return Fault::new("mass_kg", fault.value.clone(), fault.allowed.clone(), format!("load on a saddle, N: {}", fault.why));
        }
        _ => "sheet",
    };
    fault.clone().inside(place)
}

/// The arbor with the wheel on it; the operator's support first.
pub(crate) fn arbor(sheet: &StandSheet, mass_kg: f64) -> Result<stillwheel_physics::stand::arbor::Bent, Fault> {
    let a = &sheet.arbor;
    let section = std::f64::consts::PI / 4.0 * (a.diameter_mm * 1e-3).powi(2);
    let own = section * a.length_mm * 1e-3 * a.density_kg_m3;
    let wheel = mass_kg - own;
    if wheel <= 0.0 {
        let why = "the rotor's mass holds its arbor's, which weighs this much by its dimensions";
        return Err(Fault::new("mass_kg", mass_kg, format!("more than {own:.3} kg"), why));
    }
    let middle = a.length_mm / 2.0;
    Arbor {
        steps: vec![Step { length_mm: a.length_mm, outer_diameter_mm: a.diameter_mm, inner_diameter_mm: 0.0 }],
        modulus_gpa: a.young_gpa,
        density_g_cm3: a.density_kg_m3 / 1000.0,
        supports_mm: [middle - a.span_mm / 2.0, middle + a.span_mm / 2.0],
        loads: vec![PointLoad { at_mm: middle - a.wheel_offset_mm, force_n: wheel * STANDARD_GRAVITY }],
    }
    .bend()
    .map_err(|f| f.inside("sheet.arbor"))
}

fn air_support(sheet: &StandSheet, borne: &Borne) -> SupportIn {
    SupportIn::Air {
        drift_g_mm: borne.film.drift_g_mm,
        drift_sd_g_mm: borne.film.drift_sd_g_mm,
        drift_per_cross_slope_g_mm: borne.film.drift_per_cross_slope_g_mm,
        viscous_drag_g_mm_s: borne.film.viscous_drag_g_mm_s,
        axis_tilt_mm_per_m: borne.film.axis_tilt_mm_per_m,
        end_stop_friction: sheet.held.end_stop_friction,
        end_stop_radius_mm: sheet.held.end_stop_radius_mm,
        roundness_share: borne.film.roundness_share,
    }
}

fn ways_support(sheet: &StandSheet) -> Result<SupportIn, Fault> {
    let Some(w) = &sheet.ways else {
        return Err(Fault::new("sheet.ways", "missing", "one of saddles, ways", "the sheet does not say what the arbor lies on"));
    };
    let (lever_arm_um, flatness_um, length_mm) = (w.lever_arm_um, w.flatness_um, w.length_mm);
    Ok(match (w.kind, &w.discs) {
        (WaysKind::KnifeEdges, _) => SupportIn::KnifeEdges { lever_arm_um, flatness_um, length_mm },
        (WaysKind::DiscRollers, Some(d)) => SupportIn::DiscRollers {
            disc_radius_mm: d.radius_mm,
            bearing_radius_mm: d.bearing_radius_mm,
            bearing_friction: d.bearing_friction,
            contact_deg: d.contact_deg,
            lever_arm_um,
            disc_unbalance_g_mm: d.unbalance_g_mm,
        },
        _ => SupportIn::HardenedWays { lever_arm_um, flatness_um, length_mm },
    })
}

/// The input of `floor` for this stand.
pub(crate) fn floor_in(input: &StandIn, support: SupportIn, arbor_kg: f64) -> FloorIn {
    let held = &input.sheet.held;
    FloorIn {
        support,
        compare: vec![],
        allowance_g_mm: input.allowance_g_mm,
        mass_kg: input.mass_kg,
        seated_mass_kg: input.mass_kg - arbor_kg,
        inertia_kg_m2: input.inertia_kg_m2,
        wheel_diameter_mm: input.wheel_diameter_mm,
        arbor_radius_mm: input.sheet.arbor.diameter_mm / 2.0,
        arbor_roundness_um: held.arbor_roundness_um,
        arbor_lobes: held.arbor_lobes,
        runout_um: held.seat_runout_um,
        index_balanced: input.index_balanced,
        seat_play_um: held.seat_play_um,
        cross_slope_mm_per_m: held.slope_across_mm_m,
        axial_slope_mm_per_m: held.slope_along_mm_m,
        draught_m_s: held.draught_m_s,
        visible_creep_deg: held.visible_creep_deg,
        patience_s: held.patience_s,
        remedies: vec![],
    }
}

/// Plate and rotor on the feet: pillars and saddles stand under the rotor and are counted with neither.
fn feet(sheet: &StandSheet, mass_kg: f64) -> Result<FeetOut, Fault> {
    let p = &sheet.plate;
    let plate_kg = p.length_mm * p.width_mm * p.thickness_mm * 1e-9 * p.density_kg_m3;
    let plate_at = [p.length_mm / 2.0, p.width_mm / 2.0];
    let rotor_at = p.supports_middle_mm.unwrap_or(plate_at);
    let whole = plate_kg + mass_kg;
    let centre = [0, 1].map(|k| (plate_kg * plate_at[k] + mass_kg * rotor_at[k]) / whole);
    let height = (plate_kg * p.thickness_mm / 2.0 + mass_kg * p.axis_height_mm) / whole;
    let standing =
        Feet::new(p.feet_mm).and_then(|f| f.standing(centre, whole * STANDARD_GRAVITY, height)).map_err(|f| f.inside("sheet.plate"))?;
    if !standing.is_stable() {
        let why = "the mass centre of plate and rotor lies outside the feet: it tips over; set the feet wider, or the supports further in";
        return Err(Fault::new("sheet.plate.feet_mm", format!("a margin of {:.1} mm", standing.margin_mm), "a margin above 0 mm", why));
    }
    Ok(FeetOut {
        margin_mm: standing.margin_mm,
        loads_n: standing.foot_loads_n,
        tipping_force_n: standing.tipping_force_n,
        mass_centre_mm: centre,
        mass_centre_height_mm: height,
        mass_kg: whole,
    })
}

fn saddle_out(saddles: &SaddleSheet, borne: &Borne, seen: &Seen, hammer: Hammer, i: usize, (load_n, slope_urad): (f64, f64)) -> SaddleOut {
    let floats: &Floats = &borne.floats[i];
    let lowest: &Float = floats.lowest();
    let drift = &borne.drift[i];
    let (c, pose) = (saddles.radial_clearance_um, lowest.state.pose);
    let half = saddles.arc_deg / 2.0;
    let film = (0..=60)
        .map(|k| {
            let deg = -half + 2.0 * half * f64::from(k) / 60.0;
            let (sin, cos) = deg.to_radians().sin_cos();
            [deg, c + 1e6 * (pose.y_m * cos - pose.x_m * sin)]
        })
        .collect();
    SaddleOut {
        load_n,
        arbor_slope_urad: slope_urad,
        y_um: pose.y_m * 1e6,
        film_under_um: c + pose.y_m * 1e6,
        least_film_um: lowest.state.least_film_m * 1e6,
        port_bar_abs: lowest.state.port_pa / 1e5,
        flow_l_min: lowest.state.flow_l_min_anr(),
        stiffness_up_n_um: lowest.stiffness_up_n_m() / 1e6,
        stiffness_side_n_um: lowest.stiffness_side_n_m() / 1e6,
        stable_floats: floats.stable().count(),
        lifts_by_itself: floats.lifts_by_itself,
        lift_off_bar: floats.lift_off_pa.map(|p| p / 1e5),
        largest_load_n: floats.largest_load_n,
        drift_port_g_mm: drift.port_g_mm,
        drift_oval_g_mm: drift.oval_g_mm,
        drift_per_cross_slope_g_mm: drift.per_cross_slope_g_mm,
        curve: curve(floats, c),
        film,
        pressure: seen
            .pressure
            .middle()
            .iter()
            .enumerate()
            .map(|(k, p)| [-half + saddles.arc_deg * k as f64 / (seen.pressure.columns - 1) as f64, p / 1e5])
            .collect(),
        pressure_grid: PressureGridOut { columns: seen.pressure.columns, bar: seen.pressure.gauge_pa.iter().map(|p| p / 1e5).collect() },
        flow_curve: seen.flow_over_supply.iter().map(|[pa, l_min]| [pa / 1e5, *l_min]).collect(),
        hammer,
    }
}

/// Force over film, eight points to each that was solved: the cubic through values and slopes, as the search for floats uses it.
fn curve(floats: &Floats, clearance_um: f64) -> Vec<[f64; 2]> {
    const PARTS: u32 = 8;
    let mut out = vec![];
    for pair in floats.curve.windows(2) {
        let (a, b) = (&pair[0], &pair[1]);
        let span = b.y_m - a.y_m;
        for k in 0..PARTS {
            let t = f64::from(k) / f64::from(PARTS);
            let u = 1.0 - t;
            let ends = u * u * (1.0 + 2.0 * t) * a.force_up_n + t * t * (1.0 + 2.0 * u) * b.force_up_n;
            let force = ends + span * u * t * (u * a.slope_n_m - t * b.slope_n_m);
            out.push([clearance_um + (a.y_m + t * span) * 1e6, force]);
        }
    }
    out.extend(floats.curve.last().map(|p| [clearance_um + p.y_m * 1e6, p.force_up_n]));
    out
}

fn air_warnings(saddles: &[SaddleOut], share: Option<f64>) -> Vec<String> {
    let mut out = vec![];
    if saddles.iter().any(|s| !s.lifts_by_itself) {
        let at = saddles.iter().filter_map(|s| s.lift_off_bar).fold(0.0, f64::max);
        out.push(if saddles.iter().all(|s| s.lift_off_bar.is_some()) {
            format!("The arbor floats only once it is helped up: by itself it lifts at {at:.1} bar. A pocket round the port, or a larger port, lifts it at less.")
        } else {
            "The arbor floats only once it is helped up: no workshop pressure lifts it by itself. Give the port a pocket.".to_owned()
        });
    }
    if saddles.iter().any(|s| s.load_n > 0.7 * s.largest_load_n) {
        out.push("The load is above 70 % of the largest that floats: a knock sets the arbor down.".to_owned());
    }
    if share.is_some_and(|s| s > 0.7) {
        out.push(
            "The saddles take more than 70 % of what the compressor delivers: it will run without rest, and pressure will wander."
                .to_owned(),
        );
    }
    out
}

fn says(saddles: &[SaddleOut], flow: f64, share: Option<f64>, floor: &FloorOut) -> String {
    let [a, b] = saddles else { return floor.says.clone() };
    let (near, far) = (a.film_under_um, b.film_under_um);
    let film = if (near - far).abs() < 0.05 {
        format!("{near:.1} µm of air")
    } else {
        format!("{near:.1} µm of air at the operator's end and {far:.1} µm at the far end")
    };
    let share = share.map_or_else(String::new, |s| format!(" ({:.0} % of what the compressor gives)", 100.0 * s));
    format!("The arbor floats on {film} and takes {flow:.2} litres of free air a minute{share}. {}", floor.says)
}

/// The demo's stand with the demo's wheel.
pub(crate) fn example() -> StandIn {
    StandIn {
        // The sheet ships with the program and is read in the tests.
        sheet: read_sheet(BIRCH).unwrap_or_else(|fault| unreachable!("the demo's sheet: {fault}")),
        mass_kg: 2.9,
        inertia_kg_m2: 0.0082,
        wheel_diameter_mm: 200.0,
        allowance_g_mm: 9.7,
        index_balanced: false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stand_sheet::{WAYS, set_in_sheet};
    use rstest::rstest;

    fn birch(path: &str, value: Option<f64>) -> Result<StandOut, Fault> {
        let sheet = read_sheet(&set_in_sheet(BIRCH, path, value).unwrap())?;
        stand(&StandIn { sheet, ..example() })
    }

    #[test]
    fn birch_floats_the_demos_wheel_well_within_its_allowance() {
        let out = stand(&example()).unwrap();
        assert_eq!(out.saddles.len(), 2);
        // Loads carry the whole weight, each half.
        let weight = 2.9 * STANDARD_GRAVITY;
        assert!((out.saddles[0].load_n + out.saddles[1].load_n - weight).abs() < 1e-6 * weight);
        assert!((out.saddles[0].load_n / out.saddles[1].load_n - 1.0).abs() < 1e-9);
        assert!((out.flow_l_min - 2.0 * out.saddles[0].flow_l_min).abs() < 1e-9);
        assert!(out.floor.floor_g_mm < 9.7, "{}", out.says);
        assert!(out.feet.margin_mm > 0.0);
    }

    #[test]
    fn the_pictures_of_a_saddle_agree_with_its_figures() {
        let out = stand(&example()).unwrap();
        let s = &out.saddles[0];
        let most = s.pressure_grid.bar.iter().copied().fold(0.0, f64::max);
        assert!((most - (s.port_bar_abs - 1.01325)).abs() < 1e-3 * most, "{most} {}", s.port_bar_abs);
        assert!((s.pressure[30][1] - most).abs() < 1e-9 && s.pressure[30][0] == 0.0, "the port lies straight down");
        assert_eq!(s.pressure_grid.bar.len(), PICTURE[0] * PICTURE[1]);
        let at = s.flow_curve.iter().find(|f| (f[0] - 4.0).abs() < 1e-9).unwrap();
        assert!((at[1] / s.flow_l_min - 1.0).abs() < 2e-3, "{at:?} {}", s.flow_l_min);
        // The pocket is the round one of the sheet: π/4 · 3² · 0.05 mm³, and the port's hole holds none (its jet sits at the film).
        let pocket = std::f64::consts::FRAC_PI_4 * 9.0 * 0.05;
        assert!((s.hammer.volume_mm3 / pocket - 1.0).abs() < 1e-6, "{} {pocket}", s.hammer.volume_mm3);
    }

    #[test]
    fn a_wheel_towards_the_operator_loads_his_saddle_more() {
        // Statics: the wheel's weight shares as the lever, (span/2 + offset)/span.
        let out = birch("arbor.wheel_offset_mm", Some(22.0)).unwrap();
        let arbor = std::f64::consts::PI / 4.0 * 0.02f64.powi(2) * 0.18 * 7850.0;
        let wheel = 2.9 - arbor;
        let near = STANDARD_GRAVITY * (wheel * (55.0 + 22.0) / 110.0 + arbor / 2.0);
        assert!((out.saddles[0].load_n - near).abs() < 1e-6 * near, "{} {near}", out.saddles[0].load_n);
        assert!(out.saddles[0].film_under_um < out.saddles[1].film_under_um);
        assert!(out.says.contains("at the operator's end"));
    }

    #[rstest]
    #[case::a_port_held_closer("held.port_offset_mm", 0.02)]
    #[case::a_rounder_bore("held.bore_oval_um", 0.1)]
    #[case::a_rounder_arbor("held.arbor_roundness_um", 0.1)]
    #[case::a_leveller_stand("held.slope_across_mm_m", 0.01)]
    fn what_is_held_closer_lowers_the_floor(#[case] path: &str, #[case] value: f64) {
        let (before, after) = (stand(&example()).unwrap().floor.floor_g_mm, birch(path, Some(value)).unwrap().floor.floor_g_mm);
        assert!(after < before, "{path}: {before} to {after}");
    }

    #[test]
    fn ways_have_no_air_and_a_dead_band_of_mass_times_lever_arm() {
        let out = stand(&StandIn { sheet: read_sheet(WAYS).unwrap(), ..example() }).unwrap();
        assert!(out.saddles.is_empty() && out.flow_l_min == 0.0);
        // 2900 g × 5 µm (any statics text).
        assert!((out.floor.dead_band_g_mm - 14.5).abs() < 1e-9);
        assert!(out.says.starts_with("Not good enough"), "{}", out.says);
    }

    #[rstest]
    #[case::too_heavy(80.0, "feed.supply_bar", 4.0, "mass_kg")]
    #[case::no_pressure(2.9, "feed.supply_bar", 0.1, "")]
    #[case::lighter_than_its_arbor(0.3, "feed.supply_bar", 4.0, "mass_kg")]
    #[case::overhung(2.9, "arbor.wheel_offset_mm", 80.0, "sheet.arbor.wheel_offset_mm")]
    fn what_can_not_be_is_a_fault_that_says_what_to_change(
        #[case] mass_kg: f64,
        #[case] path: &str,
        #[case] value: f64,
        #[case] field: &str,
    ) {
        let sheet = read_sheet(&set_in_sheet(BIRCH, path, Some(value)).unwrap()).unwrap();
        let fault = stand(&StandIn { sheet, mass_kg, ..example() }).unwrap_err();
        assert!(fault.field.starts_with(field) && !fault.why.is_empty() && !fault.allowed.is_empty(), "{fault}");
    }

    #[test]
    fn feet_crowded_on_one_side_are_caught() {
        let text = BIRCH.replace("[[20.0, 20.0], [300.0, 20.0], [160.0, 160.0]]", "[[20.0, 20.0], [300.0, 20.0], [160.0, 60.0]]");
        let fault = stand(&StandIn { sheet: read_sheet(&text).unwrap(), ..example() }).unwrap_err();
        assert_eq!(fault.field, "sheet.plate.feet_mm", "{fault}");
    }
}
