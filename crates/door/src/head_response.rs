//! `head-response`: stiffness, natural frequency and damping of the wheel head from pulls and taps.

use crate::Fault;
use crate::machine_sheet::HeadSheet;
use crate::once_per_turn::significant;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::grinder::measured_head::{Mode, Pull, RungDown, rung_down, stiffness};

/// A pull at the wheel with the indicator against it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PullIn {
    /// Force, N (±1e5), in the direction in which the wheel stands off the work.
    pub force_n: f64,
    /// Reading of the indicator, µm (±1e5).
    pub deflection_um: f64,
}

/// A recording of one tap.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TapIn {
    /// Samples a second, Hz (1 to 1e7).
    pub rate_hz: f64,
    /// Samples, in any unit (32 to 4,000,000): from just before the blow until all is still.
    pub signal: Vec<f64>,
}

/// Input of `head-response`: pulls, taps, or both.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HeadResponseIn {
    /// Pulls (up to 200); one is taken from a zeroed indicator, several give a line.
    #[serde(default)]
    pub pulls: Vec<PullIn>,
    /// Standard deviation of one reading of the indicator, µm (0.001 to 1000).
    #[serde(default = "half")]
    pub indicator_sd_um: f64,
    /// Taps (up to 20), one recording each.
    #[serde(default)]
    pub taps: Vec<TapIn>,
}

/// Half a division of a 0.001 mm indicator: common practice, no source.
fn half() -> f64 {
    0.5
}

/// The stiffness.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StiffnessOut {
    /// Stiffness, N/µm.
    pub n_um: f64,
    /// Standard deviation, N/µm.
    pub sd_n_um: f64,
    /// Reading of the indicator at no force, µm.
    pub zero_um: f64,
    /// Scatter of the readings about the line, µm; from three pulls on.
    pub scatter_um: Option<f64>,
}

/// A mode that rings.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ModeOut {
    /// Natural frequency, Hz.
    pub natural_hz: f64,
    /// Standard deviation, Hz.
    pub natural_sd_hz: f64,
    /// Damping ratio.
    pub damping: f64,
    /// Standard deviation.
    pub damping_sd: f64,
    /// Amplitude over that of the strongest.
    pub share: f64,
}

/// What one tap told.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TapOut {
    /// Its modes, the strongest first.
    pub modes: Vec<ModeOut>,
    /// Root mean square of what they do not explain, over the strongest's amplitude.
    pub unexplained: f64,
    /// When the ring-down begins, s.
    pub from_s: f64,
    /// How long it is, s.
    pub over_s: f64,
}

/// Output of `head-response`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct HeadResponseOut {
    /// A sentence about it.
    pub says: String,
    /// Stiffness; with pulls.
    pub stiffness: Option<StiffnessOut>,
    /// The mode that all taps share, their mean; with taps.
    pub mode: Option<ModeOut>,
    /// Each tap by itself.
    pub taps: Vec<TapOut>,
    /// Mass that moves with the head, k/ω², kg; with both.
    pub moving_mass_kg: Option<f64>,
    /// What goes into the machine's sheet; with both.
    pub head: Option<HeadSheet>,
    /// What to beware of.
    pub cautions: Vec<String>,
}

/// Modes of two taps are the same when their frequencies agree to this share. Common practice, no source.
const SAME_MODE: f64 = 0.08;

/// Work it out.
///
/// # Errors
/// A [`Fault`] for neither pulls nor taps, for pulls or a tap that tell nothing, and for any value out of its range.
pub fn head_response(input: &HeadResponseIn) -> Result<HeadResponseOut, Fault> {
    let taps: Vec<(f64, &[f64])> = input.taps.iter().map(|t| (t.rate_hz, t.signal.as_slice())).collect();
    head_response_of(&input.pulls, input.indicator_sd_um, &taps)
}

/// The same on recordings as (samples a second, samples).
///
/// # Errors
/// As [`head_response`].
pub fn head_response_of(pulls: &[PullIn], indicator_sd_um: f64, taps: &[(f64, &[f64])]) -> Result<HeadResponseOut, Fault> {
    if pulls.is_empty() && taps.is_empty() {
        return Err(Fault::new("pulls", "missing", "pulls, taps or both", "nothing was measured yet"));
    }
    if taps.len() > 20 {
        return Err(Fault::new("taps", taps.len(), "up to 20 recordings", "three to five taps are enough"));
    }
    let list: Vec<Pull> = pulls.iter().map(|p| Pull { force_n: p.force_n, deflection_um: p.deflection_um }).collect();
    let k = if list.is_empty() { None } else { Some(stiffness(&list, indicator_sd_um)?) };
    let mut rung = Vec::with_capacity(taps.len());
    for (i, (rate_hz, signal)) in taps.iter().enumerate() {
        rung.push(rung_down(*rate_hz, signal).map_err(|f| f.inside(&format!("taps[{i}]")))?);
    }
    let mut cautions = Vec::new();
    let mode = shared(&rung, &mut cautions);
    if let (Some(s), Some(k)) = (k.and_then(|k| k.scatter_um), k)
        && s > 3.0 * indicator_sd_um
    {
        cautions.push(format!(
            "The pulls scatter by {} µm about the line, more than the indicator: something slips or sticks. Pull up and let back several times, \
             and see whether the zero ({} µm) comes back.",
            significant(s, 2),
            significant(k.zero_um, 2)
        ));
    }
    if rung.iter().any(|r| r.unexplained > 0.2) {
        cautions.push("A good part of a tap is not explained by what rings: tap more softly, with nothing else running.".into());
    }
    let moving_mass_kg = k.zip(mode).map(|(k, m)| k.n_um * 1e6 / (std::f64::consts::TAU * m.natural_hz).powi(2));
    if k.is_some() && mode.is_some() {
        cautions.push(
            "A pull bends everything between wheel and table, a tap rings the softest part of it: the two belong to one spring only if both \
             were taken at the wheel and in one direction."
                .into(),
        );
    }
    let head = k.zip(mode).map(|(k, m)| HeadSheet {
        stiffness_n_um: k.n_um,
        stiffness_sd_n_um: k.sd_n_um,
        natural_hz: m.natural_hz,
        natural_sd_hz: m.natural_sd_hz,
        damping: m.damping,
        damping_sd: m.damping_sd,
    });
    let mut said = Vec::new();
    if let Some(k) = k {
        said.push(format!("stiffness {} N/µm ± {}", significant(k.n_um, 3), significant(1.96 * k.sd_n_um, 2)));
    }
    if let Some(m) = mode {
        said.push(format!(
            "natural frequency {} Hz ± {}, damping ratio {} ± {}",
            significant(m.natural_hz, 4),
            significant(1.96 * m.natural_sd_hz, 2),
            significant(m.damping, 2),
            significant(1.96 * m.damping_sd, 2)
        ));
    }
    let mut says = said.join("; ");
    says[..1].make_ascii_uppercase();
    Ok(HeadResponseOut {
        says: format!("{says}."),
        stiffness: k.map(|k| StiffnessOut { n_um: k.n_um, sd_n_um: k.sd_n_um, zero_um: k.zero_um, scatter_um: k.scatter_um }),
        mode,
        taps: rung.iter().map(tap_out).collect(),
        moving_mass_kg,
        head,
        cautions,
    })
}

fn mode_out(m: &Mode, largest: f64) -> ModeOut {
    ModeOut {
        natural_hz: m.natural_hz,
        natural_sd_hz: m.natural_sd_hz,
        damping: m.damping,
        damping_sd: m.damping_sd,
        share: m.amplitude / largest,
    }
}

fn tap_out(r: &RungDown) -> TapOut {
    let largest = r.modes[0].amplitude;
    TapOut { modes: r.modes.iter().map(|m| mode_out(m, largest)).collect(), unexplained: r.unexplained, from_s: r.from_s, over_s: r.over_s }
}

/// The mode that every tap shows: the strongest of the first that all others have too.
fn shared(rung: &[RungDown], cautions: &mut Vec<String>) -> Option<ModeOut> {
    let first = rung.first()?;
    let near = |r: &RungDown, hz: f64| -> Option<Mode> {
        r.modes.iter().filter(|m| (m.natural_hz / hz - 1.0).abs() < SAME_MODE).max_by(|a, b| a.amplitude.total_cmp(&b.amplitude)).copied()
    };
    let of_all = |m: &Mode| rung.iter().map(|r| near(r, m.natural_hz)).collect::<Option<Vec<Mode>>>();
    let Some(all) = first.modes.iter().find_map(of_all) else {
        let list: Vec<String> = rung.iter().map(|r| significant(r.modes[0].natural_hz, 4)).collect();
        cautions.push(format!(
            "The taps do not agree on what rings ({} Hz): tap at one place and in one direction each time, and look for something loose.",
            list.join(", ")
        ));
        return None;
    };
    let combined = |value: fn(&Mode) -> f64, sd: fn(&Mode) -> f64| {
        let n = all.len() as f64;
        let mean = all.iter().map(value).sum::<f64>() / n;
        let stated = all.iter().map(|m| sd(m).powi(2)).sum::<f64>().sqrt() / n;
        // Taps that scatter by more than each claims are known no better than they scatter.
        let scatter = (all.iter().map(|m| (value(m) - mean).powi(2)).sum::<f64>() / (n * (n - 1.0).max(1.0))).sqrt();
        (mean, stated.max(scatter))
    };
    let (natural_hz, natural_sd_hz) = combined(|m| m.natural_hz, |m| m.natural_sd_hz);
    let (damping, damping_sd) = combined(|m| m.damping, |m| m.damping_sd);
    let largest = first.modes[0].amplitude;
    Some(ModeOut { natural_hz, natural_sd_hz, damping, damping_sd, share: all[0].amplitude / largest })
}

/// The demo's machine No. 2: six pulls, and a tap at 1 kHz to three decimals.
pub(crate) fn example() -> HeadResponseIn {
    let ring = |i: i32| {
        let t = f64::from(i - 6) / 1000.0;
        if i < 6 { 0.0 } else { (-31.0 * t).exp() * (741.0 * t).cos() }
    };
    let deflections = [0.0, 1.5, 2.8, 4.4, 5.6, 7.2];
    HeadResponseIn {
        pulls: deflections.iter().enumerate().map(|(i, d)| PullIn { force_n: 40.0 * i as f64, deflection_um: *d }).collect(),
        indicator_sd_um: half(),
        taps: vec![TapIn {
            rate_hz: 1000.0,
            signal: (0..160).map(|i| (1000.0 * (ring(i) + 0.004 * (2.1 * f64::from(i)).sin())).round() / 1000.0).collect(),
        }],
    }
}
