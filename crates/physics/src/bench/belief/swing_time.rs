//! Time of a swing under a drift torque, exactly, and fast enough to be asked for a hundred thousand times a look.
//!
//! In: amplitude, drift over unbalance. Out: time over √(J/U). The energy integral of [`crate::bench::swing`] with few nodes; for one
//! amplitude it is tabulated over the drift. The short form (U → √(U² − td²), one side for both) is half a percent off at
//! td = 0.1 U and 60°, but 3 % or 14 % (by side) at 0.5 U, and it does not know that a rotor let go beyond the summit turns over: where a
//! residual is not large against the drift it made the stated regions too small.
//!
//! Everything is told as seen from the side where the rotor is let go: positive angles and torques point there.

use std::f64::consts::PI;

/// Nodes of the midpoint rule; the error falls as nome^nodes (Trefethen & Weideman 2014): below 1e-5 up to 150°.
const NODES: usize = 8;
/// Cells of a table. Linear between: checked against the plain integral in the tests.
const CELLS: usize = 128;
/// Cells at either end where the integral itself is taken.
const EDGE: f64 = 6.0;

/// A half swing from rest at `amplitude` (rad, from the rest place) with constant torque `s` (over U, |s| < 1) towards that
/// side: time over √(J/U), and the amplitude on the far side. `None`: it does not turn back.
pub(super) fn half_swing(amplitude: f64, s: f64) -> Option<(f64, f64)> {
    let far = far_amplitude(amplitude, s)?;
    let potential = potential(s);
    let top = potential(amplitude);
    let (middle, half) = (0.5 * (amplitude - far), 0.5 * (amplitude + far));
    let sum: f64 =
        nodes().map(|(sin, cos)| half * cos / (2.0 * (top - potential(middle + half * sin)).max(f64::MIN_POSITIVE)).sqrt()).sum();
    Some((sum * PI / NODES as f64, far))
}

/// Sine and cosine of the midpoints of NODES equal parts of (−90°, 90°).
fn nodes() -> impl Iterator<Item = (f64, f64)> {
    // sin and cos of 11.25°, 33.75°, 56.25°, 78.75°.
    const S: [f64; 4] = [0.195_090_322_016_128_27, 0.555_570_233_019_602_2, 0.831_469_612_302_545_2, 0.980_785_280_403_230_4];
    (0..4).flat_map(|i| [(S[i], S[3 - i]), (-S[i], S[3 - i])])
}

/// Potential over U at `x` from the rest place: w(1 − cos x) − s(x − sin x), w = √(1 − s²).
fn potential(s: f64) -> impl Fn(f64) -> f64 {
    let w = (1.0 - s * s).sqrt();
    move |x: f64| {
        let (sin, cos) = x.sin_cos();
        w * (1.0 - cos) - s * (x - sin)
    }
}

/// Where it turns back on the far side: Newton within a bracket on equal potential.
fn far_amplitude(amplitude: f64, s: f64) -> Option<f64> {
    if s.is_nan() || s.abs() >= 1.0 {
        return None;
    }
    let rest = s.asin();
    let (w, potential) = ((1.0 - s * s).sqrt(), potential(s));
    let (near_summit, far_summit) = (PI - 2.0 * rest, PI + 2.0 * rest);
    let energy = potential(amplitude);
    if amplitude <= 0.0 || amplitude >= near_summit || energy >= potential(-far_summit) {
        return None;
    }
    let (mut lo, mut hi) = (0.0, far_summit);
    // First order in the drift: the path leans towards it.
    let mut far = amplitude * (1.0 - s * amplitude / 3.0).max(0.1);
    far = far.min(0.999 * far_summit);
    for _ in 0..60 {
        let (sin, cos) = far.sin_cos();
        let excess = w * (1.0 - cos) + s * (far - sin) - energy;
        if excess > 0.0 {
            hi = far;
        } else {
            lo = far;
        }
        let step = excess / (w * sin + s * (1.0 - cos));
        let next = far - step;
        let next = if next >= lo && next <= hi { next } else { 0.5 * (lo + hi) };
        let change = (next - far).abs();
        far = next;
        if change < 1e-6 * amplitude {
            break;
        }
    }
    Some(far)
}

/// Times over √(J/U) of half swings of one first amplitude, for any drift over unbalance.
#[derive(Clone, Debug)]
pub(crate) struct SwingTable {
    amplitude: f64,
    amplitude_sd: f64,
    /// Amplitude of each half swing over the first one; the table holds the sum of their times.
    shares: Vec<f64>,
    /// Drift towards the side of letting go, over U, at the first entry.
    from: f64,
    per_cell: f64,
    /// Time, and its standard deviation from that of the amplitude.
    entries: Vec<[f64; 2]>,
}

impl SwingTable {
    /// For an amplitude and its standard deviation, rad, and the amplitude of each half swing over the first one (1: no loss).
    pub(crate) fn new(amplitude: f64, amplitude_sd: f64, shares: &[f64]) -> Self {
        let mut table = Self { amplitude, amplitude_sd, shares: shares.to_vec(), from: 0.0, per_cell: 0.0, entries: vec![] };
        let last = |sign: f64| {
            let (mut lo, mut hi) = (0.0, 1.0);
            while hi - lo > 1e-3 {
                let mid = 0.5 * (lo + hi);
                if table.row(sign * mid).is_some() { lo = mid } else { hi = mid }
            }
            sign * lo
        };
        let (from, to) = (last(-1.0), last(1.0));
        let cell = (to - from) / CELLS as f64;
        table.entries = (0..=CELLS).map_while(|i| table.row((from + cell * i as f64).min(to))).collect();
        (table.from, table.per_cell) = (from, 1.0 / cell);
        table
    }

    fn row(&self, s: f64) -> Option<[f64; 2]> {
        let total = |a: f64| self.shares.iter().map(|share| half_swing(a * share, s).map(|h| h.0)).sum::<Option<f64>>();
        let t = total(self.amplitude)?;
        let low = total((self.amplitude - self.amplitude_sd).max(0.2 * self.amplitude))?;
        // Beyond the summit it turns over: there only the lower side tells the slope.
        let sd = total(self.amplitude + self.amplitude_sd).map_or(t - low, |high| 0.5 * (high - low));
        Some([t, sd.abs()])
    }

    /// Time over √(J/U) and its standard deviation; `None`: it does not turn back.
    #[inline]
    pub(super) fn at(&self, s: f64) -> Option<[f64; 2]> {
        let x = (s - self.from) * self.per_cell;
        let i = x.max(0.0) as usize;
        // Near the summits the time rises without bound, no line fits there.
        if x < EDGE || i + 1 + EDGE as usize >= self.entries.len() {
            return self.row(s);
        }
        let (a, b) = (self.entries[i], self.entries[i + 1]);
        let f = x - i as f64;
        Some([a[0] + f * (b[0] - a[0]), a[1] + f * (b[1] - a[1])])
    }
}

/// Half swings where dry friction takes its share, let go at `a0` from the rest place on `side` (±1): in each, friction is a
/// constant torque against the motion. Drift and friction over U. Time over √(J/U); `None`: it would stop on the way.
pub(super) fn rubbing(a0: f64, halves: usize, side: f64, drift: f64, friction: f64) -> Option<f64> {
    let mut time = 0.0;
    // From here on everything is seen from the side where each half swing starts.
    let mut drift = side * drift;
    let mut at = drift.asin() + a0;
    for _ in 0..halves {
        let torque = drift + friction;
        if torque.abs() >= 1.0 {
            return None;
        }
        let middle = torque.asin();
        let (t, far) = half_swing(at - middle, torque)?;
        time += t;
        at = far - middle;
        drift = -drift;
    }
    Some(time)
}

/// Times over √(J/U) of half swings on a stand that rubs, for any drift and friction over unbalance.
#[derive(Clone, Debug)]
pub(crate) struct RubbingTable {
    a0: f64,
    halves: usize,
    /// Friction over U at the first row, rows per unit.
    first: f64,
    per_row: f64,
    /// Rows of friction, columns of drift from −[`WIDEST_DRIFT`] to that.
    rows: Vec<[f64; COLUMNS]>,
}

/// Rows and columns of a table of rubbing swings; bilinear between.
const ROWS: usize = 20;
const COLUMNS: usize = 33;
/// Widest drift over U in the table; beyond it, and beyond its rows, the integral itself is taken.
const WIDEST_DRIFT: f64 = 0.4;

impl RubbingTable {
    /// For the first amplitude (rad from the rest place) and so many half swings, about this friction over U.
    pub(super) fn new(a0: f64, halves: usize, friction: f64) -> Self {
        let (first, last) = (friction / 1.6, friction * 1.6);
        let per_row = (ROWS - 1) as f64 / (last - first);
        let drift = |i: usize| WIDEST_DRIFT * (2.0 * i as f64 / (COLUMNS - 1) as f64 - 1.0);
        let row = |i: usize| -> [f64; COLUMNS] {
            std::array::from_fn(|k| rubbing(a0, halves, 1.0, drift(k), first + i as f64 / per_row).unwrap_or(f64::NAN))
        };
        Self { a0, halves, first, per_row, rows: (0..ROWS).map(row).collect() }
    }

    /// Time over √(J/U), let go on the side that positive drift points to. `None`: it would stop on the way.
    #[inline]
    pub(super) fn at(&self, drift: f64, friction: f64) -> Option<f64> {
        let x = (friction - self.first) * self.per_row;
        let y = (drift + WIDEST_DRIFT) * ((COLUMNS - 1) as f64 / (2.0 * WIDEST_DRIFT));
        if x >= 0.0 && y >= 0.0 {
            let (i, k) = (x as usize, y as usize);
            if i + 1 < ROWS && k + 1 < COLUMNS {
                let (a, b) = (&self.rows[i], &self.rows[i + 1]);
                let (f, g) = (x - i as f64, y - k as f64);
                let t = (1.0 - f) * ((1.0 - g) * a[k] + g * a[k + 1]) + f * ((1.0 - g) * b[k] + g * b[k + 1]);
                if !t.is_nan() {
                    return Some(t);
                }
            }
        }
        rubbing(self.a0, self.halves, 1.0, drift, friction)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::swing::half_swing_g_mm;

    /// The plain energy integral with 48 nodes, itself checked against SciPy in `bench::swing`.
    fn plain(amplitude: f64, s: f64) -> Option<(f64, f64)> {
        let rest = s.asin();
        if amplitude >= PI - 2.0 * rest {
            return None;
        }
        half_swing_g_mm(1.0, s, rest + amplitude, 1.0).map(|(t, to)| (t, rest - to))
    }

    #[test]
    fn eight_nodes_are_enough_up_to_150_degrees() {
        for amplitude in [5.0, 30.0, 60.0, 90.0, 120.0, 150.0_f64] {
            for i in -9..=9 {
                let (a, s) = (amplitude.to_radians(), 0.1 * f64::from(i));
                let (got, want) = (half_swing(a, s), plain(a, s));
                assert_eq!(got.is_some(), want.is_some(), "{amplitude}° drift {s}");
                let (Some(got), Some(want)) = (got, want) else { continue };
                assert!((got.1 - want.1).abs() < 1e-7, "{amplitude}° drift {s}: turns at {} not {}", got.1, want.1);
                // Near the summit, where it hovers, the rule is less sharp; a person could not time that either.
                let tolerance = if want.0 < 1.5 * PI { 1e-5 } else { 1e-2 };
                assert!((got.0 / want.0 - 1.0).abs() < tolerance, "{amplitude}° drift {s}: {} not {}", got.0, want.0);
            }
        }
    }

    #[test]
    fn a_table_is_good_to_a_tenth_of_a_percent_or_of_what_the_amplitude_leaves_open() {
        for amplitude in [20.0, 60.0, 100.0_f64] {
            let a = amplitude.to_radians();
            let table = SwingTable::new(a, 0.05, &[1.0]);
            for i in -95..=95 {
                let s = 0.01 * f64::from(i) + 0.003;
                let Some((want, _)) = plain(a, s) else {
                    assert!(table.at(s).is_none(), "{amplitude}° drift {s}: {:?}", table.at(s));
                    continue;
                };
                let Some([time, sd]) = table.at(s) else { panic!("{amplitude}° drift {s}") };
                assert!((time - want).abs() < (1e-3 * want).max(0.1 * sd), "{amplitude}° drift {s}: {time} not {want}, sd {sd}");
            }
        }
    }

    #[test]
    fn rubbing_half_swings_follow_one_another_as_on_the_virtual_bench() {
        for (a0, drift, friction, side) in [(1.0, 0.1, 0.05, 1.0), (1.0, 0.1, 0.05, -1.0), (0.8, -0.3, 0.15, 1.0), (1.2, 0.0, 0.2, -1.0)] {
            let rest = f64::asin(drift);
            let (mut at, mut time, mut way) = (rest + side * a0, 0.0, side);
            for _ in 0..3 {
                let (t, to) = half_swing_g_mm(1.0, drift + way * friction, at, 1.0).unwrap();
                (at, time, way) = (to, time + t, -way);
            }
            let got = rubbing(a0, 3, side, drift, friction).unwrap();
            assert!((got / time - 1.0).abs() < 1e-5, "{got} {time}");
        }
    }

    #[test]
    fn a_table_of_rubbing_swings_is_good_to_a_tenth_of_a_percent() {
        for (a0, halves, friction) in [(1.05, 1, 0.02), (1.05, 2, 0.1), (0.6, 2, 0.15), (1.05, 3, 0.05), (1.3, 2, 0.3)] {
            let table = RubbingTable::new(a0, halves, friction);
            for i in -19..=19 {
                for f in [0.5, 0.7, 0.93, 1.0, 1.21, 1.57, 1.9] {
                    let (drift, friction) = (0.027 * f64::from(i), friction * f);
                    let (got, want) = (table.at(drift, friction), rubbing(a0, halves, 1.0, drift, friction));
                    assert_eq!(got.is_some(), want.is_some(), "{a0} {halves} drift {drift} friction {friction}");
                    let (Some(got), Some(want)) = (got, want) else { continue };
                    assert!((got / want - 1.0).abs() < 1e-3, "{a0} {halves} drift {drift} friction {friction}: {got} not {want}");
                }
            }
        }
    }
}
