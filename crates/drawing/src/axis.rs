//! Axes of plots: round numbers, ticks, and the way from a value to a place.

use crate::scale::short;

/// The next number of the row 1, 2, 4, 5, 10 (times a power of ten) that is not below `v` (above 0).
pub(crate) fn round_up(v: f64) -> f64 {
    let power = 10f64.powf(v.log10().floor());
    let part = v / power;
    // A hair of slack, so that 40 stays 40.
    [1.0, 2.0, 4.0, 5.0].into_iter().find(|k| part <= k * (1.0 + 1e-9)).unwrap_or(10.0) * power
}

/// A line of values along one side of a plot.
#[derive(Clone, Copy)]
pub(crate) struct Axis {
    low: f64,
    high: f64,
    start: f64,
    end: f64,
}

impl Axis {
    /// Values `low` to `high` between the places `start` and `end`; an empty range is opened by one to either side.
    pub(crate) fn new(low: f64, high: f64, start: f64, end: f64) -> Self {
        let (low, high) = if high - low > 1e-9 * low.abs().max(high.abs()).max(1e-12) { (low, high) } else { (low - 1.0, high + 1.0) };
        Self { low, high, start, end }
    }

    pub(crate) fn place(self, v: f64) -> f64 {
        self.start + (v - self.low) / (self.high - self.low) * (self.end - self.start)
    }

    /// The power of ten (a multiple of 3) that is taken out of the labels to keep them short; 0 for 0.1 to 10,000.
    pub(crate) fn exponent(self) -> i32 {
        let big = self.low.abs().max(self.high.abs());
        if (0.1..10_000.0).contains(&big) { 0 } else { (big.log10() / 3.0 + 1e-9).floor() as i32 * 3 }
    }

    /// The unit with that power before it: `10³ g·mm`.
    pub(crate) fn unit(self, unit: &str) -> String {
        let exponent = self.exponent();
        if exponent == 0 {
            return unit.to_owned();
        }
        let text = exponent.to_string();
        let digits = text.chars().map(|c| match c {
            '-' => '⁻',
            c => ['⁰', '¹', '²', '³', '⁴', '⁵', '⁶', '⁷', '⁸', '⁹'][c.to_digit(10).unwrap_or(0) as usize],
        });
        format!("10{} {unit}", digits.collect::<String>())
    }

    /// Labelled ticks at round numbers, about `count` of them; labels are in [`Self::unit`].
    pub(crate) fn ticks(self, count: f64) -> Vec<(f64, String)> {
        let (values, step) = self.steps(count);
        let factor = 10f64.powi(self.exponent());
        let decimals = (-(step / factor).log10() - 1e-9).ceil().max(0.0) as usize;
        values.into_iter().map(|v| (v, short(v / factor, decimals))).collect()
    }

    /// Round numbers, about `count` of them, and the step between them.
    fn steps(self, count: f64) -> (Vec<f64>, f64) {
        let rough = (self.high - self.low) / count;
        let power = 10f64.powf(rough.log10().floor());
        let step = [1.0, 2.0, 5.0].into_iter().find(|k| rough / power <= k * 1.0001).unwrap_or(10.0) * power;
        let first = (self.low / step - 1e-6).ceil();
        let last = (self.high / step + 1e-6).floor();
        ((0..=(last - first).clamp(0.0, 100.0) as u32).map(|k| (first + f64::from(k)) * step).collect(), step)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rstest::rstest;

    #[rstest]
    #[case(40.0, 40.0)]
    #[case(41.0, 50.0)]
    #[case(0.11, 0.2)]
    #[case(999.0, 1000.0)]
    fn scales_end_at_round_numbers(#[case] v: f64, #[case] expected: f64) {
        assert!((round_up(v) - expected).abs() < 1e-12 * expected);
    }

    #[test]
    fn ticks_stand_at_round_numbers_inside_the_range() {
        let axis = Axis::new(-7.0, 62.0, 0.0, 100.0);
        let labels = |axis: Axis, n: f64| axis.ticks(n).into_iter().map(|t| t.1).collect::<Vec<_>>();
        assert_eq!(labels(axis, 6.0), ["0", "20", "40", "60"]);
        assert_eq!(labels(Axis::new(0.0, 0.5, 0.0, 1.0), 5.0), ["0", "0.1", "0.2", "0.3", "0.4", "0.5"]);
        assert!((axis.place(-7.0)).abs() < 1e-12 && (axis.place(62.0) - 100.0).abs() < 1e-12);
    }

    // By hand: the power of 1000 that leaves 1 to 1000.
    #[rstest]
    #[case(50_000.0, "10³ g·mm", "50")]
    #[case(0.002, "10⁻³ g·mm", "2")]
    #[case(1000.0, "g·mm", "1000")]
    #[case(2e6, "10⁶ g·mm", "2")]
    fn far_from_one_a_power_of_ten_goes_into_the_unit(#[case] limit: f64, #[case] unit: &str, #[case] last: &str) {
        let axis = Axis::new(-limit, limit, 0.0, 1.0);
        assert_eq!(axis.unit("g·mm"), unit);
        assert_eq!(axis.ticks(4.0).last().unwrap().1, last);
    }
}
