//! `spread`: a stand, tolerances and a floor in; how many stands reach it, and which tolerance to tighten or loosen out.

use crate::Fault;
use crate::as_made::{at_input, workpiece};
use crate::calculation::read;
use crate::stand::StandIn;
use schemars::{JsonSchema, schema_for};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use stillwheel_physics::making::spread::{Found, Lot, Shape, Spread, Tolerance, Tolerances, Which};

/// Stands below which the shares are told to be rough.
const ENOUGH: u32 = 1024;

/// How values lie within a tolerance.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ShapeName {
    /// Anywhere alike.
    #[default]
    Even,
    /// Normal with half the half width as standard deviation, cut at the limits.
    Bell,
}

/// What is held of one kind of dimension.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ToleranceIn {
    /// Half width, in the unit of its kind; 0: exact.
    pub half_width: f64,
    /// How values lie within.
    #[serde(default)]
    pub shape: ShapeName,
    /// Correlation of both saddles (0 to 1): 1 when one set-up makes both alike, 0 when each is made alone.
    #[serde(default)]
    pub together: f64,
}

/// What the shop holds; what is left out is exact.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct TolerancesIn {
    /// Diameter of the bores, µm (0 to 200).
    pub bore_um: ToleranceIn,
    /// Diameter of the arbor where it lies, µm (0 to 200).
    pub arbor_um: ToleranceIn,
    /// Place of the ports to the side, mm (0 to 5).
    pub port_aside_mm: ToleranceIn,
    /// Diameter of the ports, mm (0 to 2).
    pub port_mm: ToleranceIn,
    /// Diameter of the jets, mm (0 to 1).
    pub jet_mm: ToleranceIn,
    /// Ovality of the bores, its largest amplitude, at any angle, µm (0 to 50).
    pub oval_um: ToleranceIn,
    /// Second bore off the line of the first, to the side and in height, µm (0 to 500).
    pub line_um: ToleranceIn,
    /// Slope of the bores against the arbor, both ways, µrad (0 to 5000).
    pub askew_urad: ToleranceIn,
    /// Supply pressure, bar (0 to 5).
    pub supply_bar: ToleranceIn,
}

impl TolerancesIn {
    const fn of(&self, which: Which) -> ToleranceIn {
        match which {
            Which::Bore => self.bore_um,
            Which::Arbor => self.arbor_um,
            Which::PortAside => self.port_aside_mm,
            Which::Port => self.port_mm,
            Which::Jet => self.jet_mm,
            Which::Oval => self.oval_um,
            Which::Line => self.line_um,
            Which::Askew => self.askew_urad,
            Which::Supply => self.supply_bar,
        }
    }
}

/// Input of `spread`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SpreadIn {
    /// The stand and the rotor. Port offset and oval that the sheet's shop holds are not used: give them among the tolerances.
    pub stand: StandIn,
    /// What the shop holds.
    pub tolerances: TolerancesIn,
    /// Floor that is asked for, g·mm; missing: the rotor's allowance.
    #[serde(default)]
    pub target_g_mm: Option<f64>,
    /// Stands that are drawn (64 to 16,384); a power of two fills the space evenly.
    #[serde(default = "samples")]
    pub samples: u32,
    /// Seed: the same gives the same stands, on any number of threads.
    #[serde(default)]
    pub seed: u32,
}

const fn samples() -> u32 {
    1024
}

/// How a lot of stands came out.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LotOut {
    /// Share that floats with the floor that is asked for.
    pub yields: f64,
    /// Interval of that share at 95 % as if drawn at random (Wilson); quasi-random stands lie nearer.
    pub yield_95: [f64; 2],
    /// Stands that do not float, or touch.
    pub fail: usize,
    /// Floor in the middle of those that float, g·mm.
    pub median_g_mm: Option<f64>,
    /// Floor that 95 % of those that float stay below, g·mm.
    pub floor_95_g_mm: Option<f64>,
}

/// Share of one tolerance.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ShareOut {
    /// Its field among the tolerances.
    pub tolerance: String,
    /// Its half width, in its unit.
    pub half_width: f64,
    /// Unit.
    pub unit: String,
    /// First-order share of the variance of the floor, 0 to 1.
    pub share: f64,
}

/// A changed set of tolerances, tried with the same points.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TriedOut {
    /// The fields that were changed.
    pub tolerances: Vec<String>,
    /// By what factor.
    pub factor: f64,
    /// How it came out.
    pub lot: LotOut,
}

/// Output of `spread`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SpreadOut {
    /// The answer in a few sentences.
    pub says: String,
    /// Floor exactly as drawn, g·mm.
    pub drawn_floor_g_mm: f64,
    /// Floor that was asked for, g·mm.
    pub target_g_mm: f64,
    /// Stands drawn.
    pub samples: u32,
    /// How they came out.
    pub lot: LotOut,
    /// Floors for the plot: share of the floating stands, and the floor that they stay below, g·mm.
    pub floors: Vec<[f64; 2]>,
    /// Share of each tolerance, largest first.
    pub contributions: Vec<ShareOut>,
    /// How the shares were found.
    pub method: String,
    /// The one that matters most, halved.
    pub tightened: Option<TriedOut>,
    /// All that matter little, doubled together.
    pub loosened: Option<TriedOut>,
    /// What to do.
    pub advice: Vec<String>,
}

/// Read an input as the door does, for a caller that watches.
///
/// # Errors
/// A [`Fault`] for a field that is missing, unknown or of the wrong type.
pub fn read_spread(input: Value) -> Result<SpreadIn, Fault> {
    read(input, &schema_for!(SpreadIn).to_value())
}

/// Make stands within tolerances and see how many will do.
///
/// # Errors
/// A [`Fault`] for a value out of its range, a stand without air saddles or one that does not float as drawn.
pub fn spread(input: &SpreadIn) -> Result<SpreadOut, Fault> {
    spread_watched(input, &|_| true)?
        .ok_or_else(|| Fault::new("input", "a spread that was stopped", "one that goes on", "it was stopped before its end"))
}

/// The same; `keep_going` is told the share done, 0 to 1, from several threads, and stops it by answering no: then `None`.
///
/// # Errors
/// As [`spread`].
pub fn spread_watched(input: &SpreadIn, keep_going: &(dyn Fn(f64) -> bool + Sync)) -> Result<Option<SpreadOut>, Fault> {
    let target_g_mm = input.target_g_mm.unwrap_or(input.stand.allowance_g_mm);
    let tolerances = Tolerances::new(|w| {
        let t = input.tolerances.of(w);
        let shape = match t.shape {
            ShapeName::Even => Shape::Even,
            ShapeName::Bell => Shape::Bell,
        };
        Tolerance { half_width: t.half_width, shape, together: t.together }
    });
    let work = workpiece(&input.stand)?;
    if input.tolerances.jet_mm.half_width > 0.0 && work.on.saddle.port.jet_diameter_m.is_none() {
        let why = "the sheet has plain ports without a jet: its tolerance would change nothing";
        return Err(Fault::new("tolerances.jet_mm.half_width", input.tolerances.jet_mm.half_width, "0 on a plain port", why));
    }
    let question = Spread { work, tolerances, samples: input.samples, seed: input.seed, target_g_mm };
    let found = question.run(keep_going).map_err(|f| at_input(&f))?;
    Ok(found.map(|found| told(input, target_g_mm, &found)))
}

fn lot_out(lot: &Lot) -> LotOut {
    LotOut {
        yields: lot.yields,
        yield_95: lot.yield_95,
        fail: lot.fail,
        median_g_mm: lot.quantile_g_mm(0.5),
        floor_95_g_mm: lot.quantile_g_mm(0.95),
    }
}

fn told(input: &SpreadIn, target_g_mm: f64, found: &Found) -> SpreadOut {
    let tried = |t: &stillwheel_physics::making::spread::Tried| TriedOut {
        tolerances: t.which.iter().map(|w| w.field().to_owned()).collect(),
        factor: t.factor,
        lot: lot_out(&t.lot),
    };
    let (tightened, loosened) = (found.tightened.as_ref().map(tried), found.loosened.as_ref().map(tried));
    let percent = |share: f64| 100.0 * share;
    let mut says = format!(
        "{:.0} of 100 stands made so reach a floor of {target_g_mm} g·mm (as drawn {:.2}).",
        percent(found.lot.yields),
        found.drawn.floor_g_mm
    );
    if found.lot.fail > 0 {
        says += &format!(" {} of {} do not float at all.", found.lot.fail, input.samples);
    }
    if let Some(first) = found.contributions.first() {
        says += &format!(" {} makes {:.0} % of what is unlike.", first.which.field(), percent(first.share));
    }
    let mut advice = vec![];
    if let Some(t) = &tightened {
        let text = format!("Tighten {}: half of it gives {:.0} of 100.", t.tolerances.join(", "), percent(t.lot.yields));
        advice.push(if t.lot.yields > found.lot.yields + 0.005 { text } else { format!("{text} That gains nothing here.") });
    }
    if let Some(t) = &loosened {
        let lost = found.lot.yields - t.lot.yields;
        advice.push(if lost < 0.01 {
            format!("Loosen {}: twice as wide together they still give {:.0} of 100.", t.tolerances.join(", "), percent(t.lot.yields))
        } else {
            format!(
                "Keep {} as they are: each matters little, yet all twice as wide give {:.0} of 100.",
                t.tolerances.join(", "),
                percent(t.lot.yields)
            )
        });
    }
    if input.samples < ENOUGH {
        advice.push(format!("{} stands tell the shares roughly only: draw 1024 or more before you change a drawing.", input.samples));
    }
    SpreadOut {
        says,
        drawn_floor_g_mm: found.drawn.floor_g_mm,
        target_g_mm,
        samples: input.samples,
        lot: lot_out(&found.lot),
        floors: (0..=50)
            .filter_map(|k| {
                let share = f64::from(k) / 50.0;
                found.lot.quantile_g_mm(share).map(|f| [share, f])
            })
            .collect(),
        contributions: found
            .contributions
            .iter()
            .map(|c| ShareOut {
                tolerance: c.which.field().to_owned(),
                half_width: input.tolerances.of(c.which).half_width,
                unit: c.which.unit().to_owned(),
                share: c.share,
            })
            .collect(),
        method:
            "First-order sensitivity Var(E(floor | tolerance))/Var(floor) from the drawn stands, by equal bins with Kelley's correction; \
            Sobol' points scrambled after Owen. What is missing from 1 works through several tolerances at once."
                .into(),
        tightened,
        loosened,
        advice,
    }
}

/// The demo's stand as its shop holds it; few stands, so that it answers at once.
pub(crate) fn example() -> SpreadIn {
    let even = |half_width, together| ToleranceIn { half_width, shape: ShapeName::Even, together };
    SpreadIn {
        stand: crate::stand::example(),
        tolerances: TolerancesIn {
            bore_um: even(3.0, 0.8),
            arbor_um: even(2.0, 0.9),
            port_aside_mm: even(0.15, 0.5),
            port_mm: ToleranceIn::default(),
            jet_mm: ToleranceIn { shape: ShapeName::Bell, ..even(0.01, 0.0) },
            oval_um: even(0.6, 0.8),
            line_um: even(3.0, 0.0),
            askew_urad: even(50.0, 0.0),
            supply_bar: even(0.1, 0.0),
        },
        target_g_mm: Some(1.35),
        samples: 64,
        seed: 1,
    }
}
