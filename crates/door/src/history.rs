//! `index-split` and `expected-balance`: a rotor over its sittings.

use crate::Fault;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use stillwheel_physics::Ranged as _;
use stillwheel_physics::rotor::history::{Expectation, Found, split};

/// 95 % of a normal vector lies within this many standard deviations of its mean: √(χ² quantile, 2 degrees of freedom) = √(−2·ln 0.05).
const K95: f64 = 2.447_747;

/// An unbalance vector as a sitting found it, without correction weights.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FoundVector {
    /// Along the zero mark, g·mm (up to 1e8 either way).
    pub x_g_mm: f64,
    /// A quarter turn counter-clockwise, g·mm (up to 1e8 either way).
    pub y_g_mm: f64,
    /// Covariance, (g·mm)²: [[xx, xy], [xy, yy]]; its variances up to 1e16.
    pub covariance_g2_mm2: [[f64; 2]; 2],
}

/// Input of `index-split`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct IndexSplitIn {
    /// Found with the wheel as it was seated first.
    pub first: FoundVector,
    /// Found after only the wheel was turned on its adapter.
    pub second: FoundVector,
    /// By how much it was turned, degrees counter-clockwise (20 to 340, best 180).
    pub turned_deg: f64,
}

/// Part of an unbalance.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PartOut {
    /// Along the zero mark, g·mm.
    pub x_g_mm: f64,
    /// A quarter turn counter-clockwise, g·mm.
    pub y_g_mm: f64,
    /// Size, g·mm.
    pub size_g_mm: f64,
    /// Direction, degrees.
    pub at_deg: f64,
    /// Covariance, (g·mm)².
    pub covariance_g2_mm2: [[f64; 2]; 2],
    /// Longest half axis of its 95 % region, g·mm.
    pub half_axis_95_g_mm: f64,
    /// Whether zero lies outside that region, so that there is such a part at all.
    pub told: bool,
}

/// Output of `index-split`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct IndexSplitOut {
    /// What turns with the wheel, as it was seated first.
    pub wheel: PartOut,
    /// What stays with adapter and arbor.
    pub rest: PartOut,
    /// A sentence for the operator.
    pub says: String,
}

/// Tell the wheel's unbalance from that of adapter and arbor.
///
/// # Errors
/// A [`Fault`] for a vector out of range or a turn that tells nothing.
pub fn index_split(input: &IndexSplitIn) -> Result<IndexSplitOut, Fault> {
    let found = split(&found("first", &input.first)?, &found("second", &input.second)?, checked_turn(input.turned_deg)?)?;
    let (wheel, rest) = (part(&found.wheel), part(&found.rest));
    let word = |p: &PartOut| if p.told { format!("{:.1} g·mm at {:.0}°", p.size_g_mm, p.at_deg) } else { "too small to tell".to_owned() };
    let says = format!("Wheel: {}. Adapter and arbor: {}.", word(&wheel), word(&rest));
    Ok(IndexSplitOut { wheel, rest, says })
}

fn checked_turn(deg: f64) -> Result<f64, Fault> {
    Ok(deg.within("turned_deg", -360.0, 360.0, "degrees", "a seat is within one turn of another")?.to_radians())
}

fn found(name: &str, v: &FoundVector) -> Result<Found, Fault> {
    let why = "no rotor on a stand has more";
    for (field, value) in [("x_g_mm", v.x_g_mm), ("y_g_mm", v.y_g_mm)] {
        value.within(&format!("{name}.{field}"), -1e8, 1e8, "g·mm", why)?;
    }
    let [[xx, xy], [yx, yy]] = v.covariance_g2_mm2;
    for (place, value) in [("[0][0]", xx), ("[1][1]", yy)] {
        value.within(&format!("{name}.covariance_g2_mm2{place}"), 0.0, 1e16, "(g·mm)²", "a variance is not negative")?;
    }
    // A hair of slack for numbers that went through text.
    let slack = 1e-9 * xx.max(yy);
    let symmetric = (xy - yx).abs() <= slack;
    if !symmetric || xx * yy - xy * yx < -slack * xx.max(yy) || !xy.is_finite() {
        let allowed = "a symmetric matrix without negative eigenvalues";
        return Err(Fault::new(format!("{name}.covariance_g2_mm2"), xy, allowed, "copy it whole from the estimate"));
    }
    Ok(Found { mean: [v.x_g_mm, v.y_g_mm], covariance: v.covariance_g2_mm2 })
}

fn part(found: &Found) -> PartOut {
    let [x, y] = found.mean;
    let [[xx, xy], [_, yy]] = found.covariance;
    let (half_sum, half_difference) = (0.5 * (xx + yy), (0.5 * (xx - yy)).hypot(xy));
    let determinant = (xx * yy - xy * xy).max(0.0);
    // xᵀC⁻¹x against the quantile, multiplied out so that a covariance without width needs no division.
    let distance = x * x * yy - 2.0 * x * y * xy + y * y * xx;
    PartOut {
        x_g_mm: x,
        y_g_mm: y,
        size_g_mm: x.hypot(y),
        at_deg: y.atan2(x).to_degrees().rem_euclid(360.0),
        covariance_g2_mm2: found.covariance,
        half_axis_95_g_mm: K95 * (half_sum + half_difference).max(0.0).sqrt(),
        told: x.hypot(y) > 0.0 && distance >= K95 * K95 * determinant,
    }
}

/// Input of `expected-balance`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ExpectedBalanceIn {
    /// How the unbalance without correction weights changed from sitting to sitting: [x, y] in g·mm (3 to 10,000 of them, each up to
    /// 1e8). Leave out changes of another kind, such as a new wheel or another seat.
    pub changes_g_mm: Vec<[f64; 2]>,
    /// The residual that was left in the last sitting, [x, y] in g·mm (each up to 1e8).
    pub residual_g_mm: [f64; 2],
    /// The allowance, g·mm (1e-6 to 1e8).
    pub allowance_g_mm: f64,
}

/// Output of `expected-balance`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ExpectedBalanceOut {
    /// Size of the next change that is exceeded as often as not, g·mm.
    pub change_median_g_mm: f64,
    /// Size of the next change that 95 % stay below, g·mm.
    pub change_95_g_mm: f64,
    /// Probability that the rotor is still within the allowance then, with the weights left as they are.
    pub p_still_within: f64,
    /// How many changes it rests on.
    pub changes: usize,
    /// A sentence for the operator: the rule, and what it says.
    pub says: String,
}

/// What the next sitting will find.
///
/// # Errors
/// A [`Fault`] for too few changes or a value out of range.
pub fn expected_balance(input: &ExpectedBalanceIn) -> Result<ExpectedBalanceOut, Fault> {
    let why = "no rotor on a stand has more";
    for (i, change) in input.changes_g_mm.iter().enumerate() {
        for (j, v) in change.iter().enumerate() {
            v.within(&format!("changes_g_mm[{i}][{j}]"), -1e8, 1e8, "g·mm", why)?;
        }
    }
    for (j, v) in input.residual_g_mm.iter().enumerate() {
        v.within(&format!("residual_g_mm[{j}]"), -1e8, 1e8, "g·mm", why)?;
    }
    input.allowance_g_mm.within("allowance_g_mm", 1e-6, 1e8, "g·mm", "the permissible residual unbalance")?;
    let expectation = Expectation::of(&input.changes_g_mm)?;
    let (median, most) = (expectation.quantile(0.5)?, expectation.quantile(0.95)?);
    let p = expectation.still_within(input.residual_g_mm, input.allowance_g_mm);
    let n = input.changes_g_mm.len();
    let says = format!(
        "From {n} changes, taken as alike in size and in no favoured direction: the next is about {median:.1} g·mm, 95 % sure below {most:.1} g·mm."
    );
    Ok(ExpectedBalanceOut { change_median_g_mm: median, change_95_g_mm: most, p_still_within: p, changes: n, says })
}

/// A wheel turned half a turn on its adapter.
pub(crate) fn example_split() -> IndexSplitIn {
    let found = |x_g_mm, y_g_mm| FoundVector { x_g_mm, y_g_mm, covariance_g2_mm2: [[4.0, 0.5], [0.5, 3.0]] };
    IndexSplitIn { first: found(120.0, 40.0), second: found(-80.0, 10.0), turned_deg: 180.0 }
}

/// Five dressings of one wheel.
pub(crate) fn example_expected() -> ExpectedBalanceIn {
    ExpectedBalanceIn {
        changes_g_mm: vec![[12.0, -3.0], [-5.0, 9.0], [4.0, 4.0], [-2.0, -11.0], [7.0, 1.0]],
        residual_g_mm: [1.5, -2.0],
        allowance_g_mm: 16.0,
    }
}
