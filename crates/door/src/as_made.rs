//! `as-made`: the finished parts as measured in; which conform, what they do to float, air, drift, level and floor, what to rework, and how to
//! pair the parts out.

mod effect;
mod matching;

use crate::Fault;
use crate::floor::rotor_and_setting;
use crate::stand::{StandIn, arbor, floor_in, on_air};
use crate::support::demo_air;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::making::inspection::{Advice, Feature, Verdict, Zone, check_form_um, check_size_mm, rework};
use stillwheel_physics::making::made::Workpiece;

pub use effect::{AloneOut, DoingOut, EffectOut, LayingOut};
pub use matching::{MatchIn, MatchOut, PairedOut, PartIn};

/// What a dimension is to the stand. Both saddles count from the operator's side.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum RoleName {
    /// Diameter of the first saddle's bore.
    FirstBore,
    /// Diameter of the second saddle's bore.
    SecondBore,
    /// Diameter of the arbor in the first saddle.
    FirstArbor,
    /// Diameter of the arbor in the second saddle.
    SecondArbor,
    /// Length of the first saddle.
    FirstLength,
    /// Length of the second saddle.
    SecondLength,
    /// Diameter of the first port.
    FirstPort,
    /// Diameter of the second port.
    SecondPort,
    /// Diameter of the first jet.
    FirstJet,
    /// Diameter of the second jet.
    SecondJet,
    /// Any other bore, hole or groove width: judged, without effect on the film.
    OtherInside,
    /// Any other shaft or outside.
    OtherOutside,
    /// Any other dimension.
    Other,
}

impl RoleName {
    const fn feature(self) -> Feature {
        match self {
            Self::FirstBore
            | Self::SecondBore
            | Self::FirstPort
            | Self::SecondPort
            | Self::FirstJet
            | Self::SecondJet
            | Self::OtherInside => Feature::Inside,
            Self::FirstArbor | Self::SecondArbor | Self::FirstLength | Self::SecondLength | Self::OtherOutside => Feature::Outside,
            Self::Other => Feature::Other,
        }
    }
}

/// What a departure is to the stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum DepartureName {
    /// First port to the right of straight down.
    FirstPortAside,
    /// Second port to the right of straight down.
    SecondPortAside,
    /// Amplitude of the first bore's ovality.
    FirstOval,
    /// Amplitude of the second bore's ovality.
    SecondOval,
    /// Second bore to the right of the first's axis.
    SecondAside,
    /// Second bore above the first's axis.
    SecondAbove,
    /// Slope of the arbor against the first bore to the right, over the saddle's length.
    FirstAskewAside,
    /// The same upwards.
    FirstAskewUp,
    /// Slope of the arbor against the second bore to the right, over the saddle's length.
    SecondAskewAside,
    /// The same upwards.
    SecondAskewUp,
    /// Any other form or place: judged, without effect on the film.
    Other,
}

/// A size, as drawn and as measured.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SizeIn {
    /// What it is, in the shop's words.
    pub name: String,
    /// What it is to the stand.
    pub role: RoleName,
    /// Nominal size, mm (0.01 to 5000).
    pub nominal_mm: f64,
    /// Lower limit from the nominal size, µm.
    pub lower_um: f64,
    /// Upper limit from the nominal size, µm.
    pub upper_um: f64,
    /// As measured, mm; missing: not measured yet.
    #[serde(default)]
    pub measured_mm: Option<f64>,
    /// Expanded uncertainty of the gauge, k = 2, µm (0 to 10,000).
    pub u_um: f64,
}

/// A departure of form or place, whose drawn value is nothing.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DepartureIn {
    /// What it is, in the shop's words.
    pub name: String,
    /// What it is to the stand.
    pub role: DepartureName,
    /// Most that is allowed, either way, µm (0.01 to 10,000).
    pub limit_um: f64,
    /// As measured, µm, with its sign where it has one; missing: not measured yet.
    #[serde(default)]
    pub measured_um: Option<f64>,
    /// For an oval: where the bore is widest, degrees from straight down to the right (−180 to 180); missing: the worst, 45.
    #[serde(default)]
    pub at_deg: Option<f64>,
    /// Expanded uncertainty of the gauge, k = 2, µm (0 to 10,000).
    pub u_um: f64,
}

/// Input of `as-made`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AsMadeIn {
    /// The stand as drawn and its rotor, for the effect on the film; missing: verdicts and rework only.
    #[serde(default)]
    pub stand: Option<StandIn>,
    /// Sizes.
    #[serde(default)]
    pub sizes: Vec<SizeIn>,
    /// Departures of form and place.
    #[serde(default)]
    pub departures: Vec<DepartureIn>,
    /// Lots of parts of which it is asked which goes into which: collars to bores, saddles to pillars.
    #[serde(default)]
    pub matching: Vec<MatchIn>,
}

/// What a reading proves.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum VerdictName {
    /// It conforms.
    Conforms,
    /// It does not conform.
    DoesNotConform,
    /// It can't be told with this gauge.
    CanNotTell,
    /// It was not measured.
    NotMeasured,
}

/// What to do with a part.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum AdviceName {
    /// Nothing.
    Keep,
    /// Measure it.
    Measure,
    /// Measure again with a better gauge, or more readings.
    MeasureBetter,
    /// Take metal off: lap, hone or grind.
    TakeOff,
    /// Bush or sleeve it, or make the mate to it.
    BushOrMate,
    /// Scrape, shim, set, or plug and drill anew.
    SetAnew,
}

/// One dimension judged.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct JudgedOut {
    /// What it is.
    pub name: String,
    /// What the reading proves (ISO 14253-1).
    pub verdict: VerdictName,
    /// The reading from the nominal size, µm.
    pub off_um: Option<f64>,
    /// Readings that prove conformity with this gauge, from the nominal size, µm; missing: none does, U is too large.
    pub accepts_um: Option<[f64; 2]>,
    /// What to do.
    pub advice: AdviceName,
    /// Metal to take off to reach the middle of the limits, µm.
    pub take_off_um: f64,
    /// In words.
    pub says: String,
}

/// Output of `as-made`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AsMadeOut {
    /// The answer in a few sentences.
    pub says: String,
    /// Each size and departure, in the order given.
    pub judged: Vec<JudgedOut>,
    /// What was not measured; its drawn value is used below.
    pub missing: Vec<String>,
    /// What it does to the stand; missing without a stand.
    pub effect: Option<EffectOut>,
    /// Which part goes into which.
    pub matched: Vec<MatchOut>,
}

/// Judge finished parts, and tell what they do.
///
/// # Errors
/// A [`Fault`] for a value out of range; one that asks, for a reading off by a factor of 10 or 25.4; for nothing measured at all; from the
/// film where the parts as made do not float.
pub fn as_made(input: &AsMadeIn) -> Result<AsMadeOut, Fault> {
    let asked = input.sizes.len() + input.departures.len();
    if asked == 0 && input.matching.is_empty() {
        return Err(Fault::new("sizes", "missing", "sizes, departures or matching", "there is nothing to inspect"));
    }
    if asked > 500 {
        return Err(Fault::new("sizes", asked, "at most 500 dimensions", "inspect one stand at a time"));
    }
    let mut judged = vec![];
    for (i, s) in input.sizes.iter().enumerate() {
        judged.push(size(s).map_err(|f| f.inside(&format!("sizes[{i}]")))?);
    }
    for (i, d) in input.departures.iter().enumerate() {
        judged.push(departure(d).map_err(|f| f.inside(&format!("departures[{i}]")))?);
    }
    let missing: Vec<String> = judged.iter().filter(|j| j.verdict == VerdictName::NotMeasured).map(|j| j.name.clone()).collect();
    if asked > 0 && missing.len() == asked {
        let why = format!("nothing is measured yet: start with {}", missing[0]);
        return Err(Fault::new("sizes[0].measured_mm", "missing", "at least one reading", why));
    }
    let effect = input.stand.as_ref().map(|s| effect::effect(s, input)).transpose()?;
    let matched = input.matching.iter().enumerate().map(|(i, m)| matching::matched(m).map_err(|f| f.inside(&format!("matching[{i}]"))));
    let matched = matched.collect::<Result<Vec<_>, _>>()?;
    Ok(AsMadeOut { says: says(&judged, effect.as_ref()), judged, missing, effect, matched })
}

fn size(s: &SizeIn) -> Result<JudgedOut, Fault> {
    use stillwheel_physics::Ranged;
    let nominal = s.nominal_mm.within("nominal_mm", 0.01, 5000.0, "mm", "nominal size")?;
    let zone = Zone::um(s.lower_um, s.upper_um, s.u_um)?;
    let off = match s.measured_mm {
        None => None,
        Some(v) => Some(1e3 * (check_size_mm("measured_mm", nominal, 1e-3 * (s.upper_um - s.lower_um), v)? - nominal)),
    };
    Ok(judge(&s.name, s.role.feature(), &zone, off))
}

fn departure(d: &DepartureIn) -> Result<JudgedOut, Fault> {
    use stillwheel_physics::Ranged;
    let limit = d.limit_um.within("limit_um", 0.01, 1e4, "µm", "most that is allowed either way")?;
    if let Some(at) = d.at_deg {
        at.within("at_deg", -180.0, 180.0, "degrees", "where the bore is widest, from straight down to the right")?;
    }
    let zone = Zone::um(-limit, limit, d.u_um)?;
    let off = d.measured_um.map(|v| check_form_um("measured_um", limit, v)).transpose()?;
    Ok(judge(&d.name, Feature::Other, &zone, off))
}

fn judge(name: &str, feature: Feature, zone: &Zone, off: Option<f64>) -> JudgedOut {
    let accepts_um = zone.accepts();
    let Some(off) = off else {
        return JudgedOut {
            name: name.to_owned(),
            verdict: VerdictName::NotMeasured,
            off_um: None,
            accepts_um,
            advice: AdviceName::Measure,
            take_off_um: 0.0,
            says: format!("{name}: not measured. What is it?"),
        };
    };
    let verdict = zone.judge(off);
    let work = rework(feature, zone, off);
    let (advice, todo) = match work.advice {
        Advice::Keep => (AdviceName::Keep, String::new()),
        Advice::MeasureBetter => {
            let u = work.needs_u_um.unwrap_or(0.0);
            let by =
                if u < 0.05 { "it lies on the limit: no gauge will tell".to_owned() } else { format!("a U below {u:.1} µm would tell") };
            (AdviceName::MeasureBetter, format!("; measure again, {by}"))
        }
        Advice::TakeOff => (AdviceName::TakeOff, format!("; take {:.1} µm off: lap, hone or grind", work.take_off_um)),
        Advice::BushOrMate => (AdviceName::BushOrMate, "; too much metal is gone: bush or sleeve it, or make its mate to fit".to_owned()),
        Advice::SetAnew => (AdviceName::SetAnew, "; scrape, shim or set it, or plug and drill anew".to_owned()),
    };
    let proves = match verdict {
        Verdict::NotProven => "can't tell with this gauge",
        other => other.words(),
    };
    JudgedOut {
        name: name.to_owned(),
        verdict: match verdict {
            Verdict::Conforms => VerdictName::Conforms,
            Verdict::DoesNotConform => VerdictName::DoesNotConform,
            Verdict::NotProven => VerdictName::CanNotTell,
        },
        off_um: Some(off),
        accepts_um,
        advice,
        take_off_um: work.take_off_um,
        says: format!("{name}: {off:+.1} µm, {proves}{todo}."),
    }
}

fn says(judged: &[JudgedOut], effect: Option<&EffectOut>) -> String {
    let count = |v: VerdictName| judged.iter().filter(|j| j.verdict == v).count();
    let mut text = format!(
        "{} conform, {} do not, {} can't be told with their gauge, {} are not measured.",
        count(VerdictName::Conforms),
        count(VerdictName::DoesNotConform),
        count(VerdictName::CanNotTell),
        count(VerdictName::NotMeasured)
    );
    if let Some(e) = effect {
        text.push(' ');
        text.push_str(&e.says);
    }
    text
}

/// A stand of air saddles as the making room takes it.
pub(crate) fn workpiece(stand: &StandIn) -> Result<Workpiece, Fault> {
    let sheet = &stand.sheet;
    sheet.check().map_err(|f| f.inside("stand.sheet"))?;
    let (Some(saddles), Some(feed)) = (&sheet.saddles, &sheet.feed) else {
        let why = "what parts do to the film is asked of a stand with air saddles";
        return Err(Fault::new("stand.sheet.saddles", "missing", "saddles and feed", why));
    };
    let air = sheet.air.clone().unwrap_or_default();
    let bent = arbor(sheet, stand.mass_kg).map_err(|f| f.inside("stand"))?;
    let on = on_air(sheet, saddles, feed, &air, &bent).map_err(|f| f.inside("stand"))?;
    // The support comes with the parts; the rest of what the floor asks is the same.
    let (rotor, setting) = rotor_and_setting(&floor_in(stand, demo_air(), bent.own_mass_g / 1000.0));
    Ok(Workpiece { on, rotor, setting })
}

/// The film's faults speak of its own fields.
pub(crate) fn at_input(fault: &Fault) -> Fault {
    let field = match fault.field.as_str() {
        "mass_kg" | "load_n" | "seated_mass_kg" | "saddles[0].load_n" | "saddles[1].load_n" => "stand.mass_kg".to_owned(),
        "inertia_kg_m2" => "stand.inertia_kg_m2".to_owned(),
        "wheel_diameter_mm" => "stand.wheel_diameter_mm".to_owned(),
        "first_askew_urad" | "second_askew_urad" => "departures".to_owned(),
        "supply_bar" | "saddles[0].supply_bar" | "saddles[1].supply_bar" => "stand.sheet.feed.supply_bar".to_owned(),
        other if other.starts_with("saddles[") => format!("stand.sheet.{other}"),
        _ => return fault.clone(),
    };
    Fault { field, ..fault.clone() }
}

/// The demo's stand as its shop made it.
pub(crate) fn example() -> AsMadeIn {
    let size = |name: &str, role, nominal_mm, lower_um, upper_um, measured_mm| SizeIn {
        name: name.into(),
        role,
        nominal_mm,
        lower_um,
        upper_um,
        measured_mm,
        u_um: 1.5,
    };
    let departure =
        |name: &str, role, limit_um, measured_um, u_um| DepartureIn { name: name.into(), role, limit_um, measured_um, at_deg: None, u_um };
    let part = |name: &str, mm| PartIn { name: name.into(), mm };
    AsMadeIn {
        stand: Some(crate::stand::example()),
        sizes: vec![
            size("first bore", RoleName::FirstBore, 20.028, -4.0, 4.0, Some(20.0295)),
            size("second bore", RoleName::SecondBore, 20.028, -4.0, 4.0, Some(20.0345)),
            size("arbor, operator's end", RoleName::FirstArbor, 20.0, -4.0, 0.0, Some(19.998)),
            size("arbor, far end", RoleName::SecondArbor, 20.0, -4.0, 0.0, Some(19.9995)),
            size("first jet", RoleName::FirstJet, 0.15, -10.0, 10.0, None),
        ],
        departures: vec![
            departure("first port aside", DepartureName::FirstPortAside, 100.0, Some(60.0), 10.0),
            departure("second port aside", DepartureName::SecondPortAside, 100.0, Some(85.0), 10.0),
            departure("second bore above the first", DepartureName::SecondAbove, 3.0, Some(2.0), 0.8),
        ],
        matching: vec![MatchIn {
            name: "collars to pillars".into(),
            holes: vec![part("collar A", 40.012), part("collar B", 40.021)],
            shafts: vec![part("saddle 1", 39.985), part("saddle 2", 39.978)],
            wanted_clearance_um: [20.0, 40.0],
        }],
    }
}
