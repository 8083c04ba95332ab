//! The two saddles as they came out: how departures from the drawing change float, air, drift, tilt and floor.
//!
//! In: the stand as drawn ([`OnAir`]), departures ([`Made`]), the rotor and the setting. Out: a [`Doing`]. The arbor lies on both saddles
//! at once ([`crate::film::Pair`]), so bores out of line and unlike clearances count. Drift keeps its sign: two errors may cancel.

use crate::Fault;
use crate::film::{Film, Form, Pair, PairFloat};
use crate::quantity::STANDARD_GRAVITY;
use crate::stand::budget::{RotorOnArbor, Setting, floor};
use crate::stand::on_air::OnAir;
use crate::stand::supports::{AirFilm, Support};
use nalgebra::Vector4;

/// A cross slope at which the drift by slope is told, rad: 1 mm/m, small enough to be in proportion.
const SLOPE_RAD: f64 = 1e-3;

/// Departures from the drawing; both saddles, the operator's first. All zero is the drawing.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Made {
    /// Bore diameter larger than drawn, µm.
    pub bore_um: [f64; 2],
    /// Arbor diameter larger than drawn where it lies, µm.
    pub arbor_um: [f64; 2],
    /// Length of the saddle larger than drawn, mm.
    pub length_mm: [f64; 2],
    /// Port further to the right than drawn, mm.
    pub port_aside_mm: [f64; 2],
    /// Port diameter larger than drawn, mm.
    pub port_mm: [f64; 2],
    /// Jet diameter larger than drawn, mm; of no effect on a plain port.
    pub jet_mm: [f64; 2],
    /// Amplitude of the bore's ovality, µm.
    pub oval_um: [f64; 2],
    /// Where the bore is widest, degrees from straight down to the right.
    pub oval_deg: [f64; 2],
    /// Second bore's axis to the right of the first's and above it, µm.
    pub second_off_um: [f64; 2],
    /// Slope of the arbor against each bore, beyond its sag, µrad: to the right, upwards.
    pub askew_urad: [[f64; 2]; 2],
    /// Supply higher than drawn, bar.
    pub supply_bar: f64,
}

/// What a stand does.
#[derive(Clone, Debug, PartialEq)]
pub struct Doing {
    /// The arbor afloat on both.
    pub float: PairFloat,
    /// Thinnest film, µm.
    pub least_film_um: f64,
    /// What the tilt eats of it, the worse saddle, µm.
    pub lost_to_tilt_um: f64,
    /// Free air of both, litres a minute (ISO 8778).
    pub flow_l_min: f64,
    /// Drift torque, g·mm, counter-clockwise.
    pub drift_g_mm: f64,
    /// What a cross slope adds, g·mm for each mm/m.
    pub drift_per_cross_slope_g_mm: f64,
    /// Tilt of the arbor's axis, mm/m, second saddle high positive.
    pub axis_tilt_mm_per_m: f64,
    /// Smallest unbalance that the stand can show, g·mm.
    pub floor_g_mm: f64,
}

/// A stand whose departures are asked about again and again.
#[derive(Clone, Debug, PartialEq)]
pub struct Workpiece {
    /// As drawn.
    pub on: OnAir,
    /// The rotor.
    pub rotor: RotorOnArbor,
    /// How it stands, the room, the reader.
    pub setting: Setting,
}

impl Workpiece {
    /// The pair of saddles with these departures.
    pub fn pair(&self, made: &Made) -> Pair {
        let on = &self.on;
        let saddle = |i: usize| {
            let mut s = on.saddle.clone();
            s.bore_diameter_m += 1e-6 * made.bore_um[i];
            s.clearance_m += 0.5e-6 * (made.bore_um[i] - made.arbor_um[i]);
            s.length_m += 1e-3 * made.length_mm[i];
            s.port.around_m += 1e-3 * made.port_aside_mm[i];
            s.port.diameter_m += 1e-3 * made.port_mm[i];
            s.port.jet_diameter_m = s.port.jet_diameter_m.map(|d| d + 1e-3 * made.jet_mm[i]);
            if made.oval_um[i] != 0.0 {
                s.form.lobes.extend(Form::oval(1e-6 * made.oval_um[i], made.oval_deg[i].to_radians()).lobes);
            }
            s
        };
        let [first, second] = on.loads_n;
        Pair {
            saddles: [saddle(0), saddle(1)],
            span_m: on.span_m,
            mass_kg: (first + second) / STANDARD_GRAVITY,
            centre_m: on.span_m * second / (first + second),
            second_off_m: made.second_off_um.map(|v| 1e-6 * v),
            askew_rad: [0, 1].map(|i| [1e-6 * made.askew_urad[i][0], on.slopes_rad[i] + 1e-6 * made.askew_urad[i][1]]),
            cross_slope_rad: 0.0,
            air: on.duty.air,
            supply_pa: on.duty.supply_pa + 1e5 * made.supply_bar,
        }
    }

    /// What the stand does with these departures.
    ///
    /// # Errors
    /// A [`Fault`] where a departure leaves no saddle (in the film's own names, within `saddles[i]`), no float, or an arbor that touches.
    pub fn doing(&self, made: &Made) -> Result<Doing, Fault> {
        let pair = self.pair(made);
        let float = pair.float()?;
        let films = pair.films()?;
        self.told(&pair, &films, float)
    }

    /// The same from a float that is nearly alike; from cold where that does not lead to a stable one.
    ///
    /// # Errors
    /// As [`Workpiece::doing`].
    pub(crate) fn doing_near(&self, made: &Made, start: Vector4<f64>) -> Result<Doing, Fault> {
        let pair = self.pair(made);
        let films = pair.films()?;
        let float = match pair.float_near(&films, start) {
            Ok(float) if float.stable => float,
            _ => pair.float()?,
        };
        self.told(&pair, &films, float)
    }

    fn told(&self, pair: &Pair, films: &[Film; 2], float: PairFloat) -> Result<Doing, Fault> {
        if !float.stable {
            let why = "the arbor would slide off to a side or drop: more pressure, less load, or truer bores";
            return Err(Fault::new("load_n", self.on.loads_n[0], "a load that floats steadily on both saddles", why));
        }
        let leaning = Pair { cross_slope_rad: SLOPE_RAD, ..pair.clone() };
        let sloped = leaning.float_near(films, float.place())?;
        let drift = float.drift().g_mm();
        let per_slope = (sloped.drift().g_mm() - drift) / (1e3 * SLOPE_RAD);
        let rise = float.states[1].pose.y_m + pair.second_off_m[1] - float.states[0].pose.y_m;
        let tilt = 1e3 * rise / pair.span_m;
        let film = AirFilm {
            drift_g_mm: drift,
            drift_sd_g_mm: 0.0,
            drift_per_cross_slope_g_mm: per_slope,
            viscous_drag_g_mm_s: float.drag_n_m_s() / STANDARD_GRAVITY * 1e6,
            axis_tilt_mm_per_m: tilt,
            end_stop_friction: self.on.end_stop_friction,
            end_stop_radius_mm: self.on.end_stop_radius_mm,
            roundness_share: self.on.roundness_share,
        };
        // The allowance scales the verdict only, not the floor.
        let budget = floor(&Support::Air(film), &self.rotor, &self.setting, 1.0, &[])?;
        Ok(Doing {
            least_film_um: 1e6 * float.states.iter().map(|s| s.least_film_m).fold(f64::INFINITY, f64::min),
            lost_to_tilt_um: 1e6 * float.film_lost_to_tilt_m.iter().copied().fold(0.0, f64::max),
            flow_l_min: float.flow_l_min_anr(),
            drift_g_mm: drift,
            drift_per_cross_slope_g_mm: per_slope,
            axis_tilt_mm_per_m: tilt,
            floor_g_mm: budget.floor_g_mm,
            float,
        })
    }
}

/// A way to put the parts together.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Laying {
    /// The saddles change places.
    pub swapped: bool,
    /// Each saddle is turned end for end about the upright, by its place after the swap: its port changes sides.
    pub turned: [bool; 2],
    /// The arbor lies the other way round.
    pub arbor_turned: bool,
}

impl Laying {
    /// All sixteen ways, as made first.
    pub fn all() -> impl Iterator<Item = Self> {
        (0..16_u32).map(|k| Self { swapped: k & 1 != 0, turned: [k & 2 != 0, k & 4 != 0], arbor_turned: k & 8 != 0 })
    }

    /// How many things must be done for it.
    pub fn moves(self) -> u32 {
        u32::from(self.swapped) + u32::from(self.turned[0]) + u32::from(self.turned[1]) + u32::from(self.arbor_turned)
    }
}

impl Made {
    /// The same parts put together in another way; of saddles drawn with their port in the middle. What belongs to the place and not to the part (bores' axes, supply) stays.
    pub fn laid(&self, way: Laying) -> Self {
        let mut m = *self;
        if way.swapped {
            for pair in
                [&mut m.bore_um, &mut m.length_mm, &mut m.port_aside_mm, &mut m.port_mm, &mut m.jet_mm, &mut m.oval_um, &mut m.oval_deg]
            {
                pair.swap(0, 1);
            }
        }
        for i in 0..2 {
            if way.turned[i] {
                m.port_aside_mm[i] = -m.port_aside_mm[i];
                m.oval_deg[i] = -m.oval_deg[i];
            }
        }
        if way.arbor_turned {
            m.arbor_um.swap(0, 1);
        }
        m
    }
}

/// The angle at which an oval drives the arbor round the most, degrees from straight down; either sign.
pub const WORST_OVAL_DEG: f64 = 45.0;
