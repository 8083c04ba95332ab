//! From angles on the rotor to points of the picture, in one place: SVG's y points down, our angles run
//! counter-clockwise, and most errors of this trade are a mixed-up sense of turning.

use crate::svg::Path;

/// Where the rotor lies in the picture.
#[derive(Clone, Copy)]
pub(crate) struct Frame {
    /// The axis.
    pub(crate) centre: [f64; 2],
    /// Where the zero mark stands: room angle, degrees counter-clockwise from straight down.
    pub(crate) zero_deg: f64,
}

impl Frame {
    /// Room angle φ from straight down, counter-clockwise: right is 90°, up is 180°. On the screen x = r·sin φ and,
    /// with y down, y = r·cos φ.
    pub(crate) fn point(self, radius: f64, rotor_deg: f64) -> [f64; 2] {
        let (s, c) = (self.zero_deg + rotor_deg).to_radians().sin_cos();
        [self.centre[0] + radius * s, self.centre[1] + radius * c]
    }

    /// A sector of a ring, from `from_deg` counter-clockwise over `width_deg` (0 to 360).
    pub(crate) fn sector(self, inner: f64, outer: f64, from_deg: f64, width_deg: f64) -> Path {
        let end = from_deg + width_deg;
        let path = self.arc_on(Path::new().to(self.point(outer, from_deg)), outer, from_deg, width_deg).line(self.point(inner, end));
        self.arc_on(path, inner, end, -width_deg).close()
    }

    /// Continue `path`, which stands at `from_deg`, along the circle by `by_deg` (signed, counter-clockwise positive).
    pub(crate) fn arc_on(self, path: Path, radius: f64, from_deg: f64, by_deg: f64) -> Path {
        // An SVG arc can't be a whole turn: two halves always can.
        let half = by_deg / 2.0;
        let large = half.abs() > 180.0;
        path.arc(radius, large, by_deg > 0.0, self.point(radius, from_deg + half)).arc(
            radius,
            large,
            by_deg > 0.0,
            self.point(radius, from_deg + by_deg),
        )
    }

    /// A triangle with its tip at `tip` radius, its base at `base` radius, `half` wide to either side.
    pub(crate) fn wedge(self, tip: f64, base: f64, half: f64, at_deg: f64) -> Path {
        let side = (half / base).to_degrees();
        Path::new().to(self.point(tip, at_deg)).line(self.point(base, at_deg - side)).line(self.point(base, at_deg + side)).close()
    }
}

/// Angles moved apart until neighbours are `least` degrees from one another, each as near to its place as that allows.
pub(crate) fn spread(angles_deg: &[f64], least: f64) -> Vec<f64> {
    let n = angles_deg.len();
    if n < 2 {
        return angles_deg.to_vec();
    }
    let least = least.min(350.0 / n as f64);
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|&a, &b| angles_deg[a].rem_euclid(360.0).total_cmp(&angles_deg[b].rem_euclid(360.0)).then(a.cmp(&b)));
    let mut place: Vec<f64> = order.iter().map(|&i| angles_deg[i].rem_euclid(360.0)).collect();
    for _ in 0..400 {
        let mut quiet = true;
        for k in 0..n {
            let next = (k + 1) % n;
            let gap = place[next] - place[k] + if next == 0 { 360.0 } else { 0.0 };
            if gap < least - 1e-6 {
                let push = (least - gap) / 2.0;
                place[k] -= push;
                place[next] += push;
                quiet = false;
            }
        }
        if quiet {
            break;
        }
    }
    let mut out = vec![0.0; n];
    for (k, &i) in order.iter().enumerate() {
        out[i] = place[k];
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use rstest::rstest;

    // By hand: with the zero mark straight up, a quarter turn counter-clockwise from it is the left side.
    #[rstest]
    #[case(180.0, 0.0, [0.0, -10.0])] // zero mark up: itself
    #[case(180.0, 90.0, [-10.0, 0.0])] // left
    #[case(180.0, 180.0, [0.0, 10.0])] // down
    #[case(180.0, 270.0, [10.0, 0.0])] // right
    #[case(0.0, 90.0, [10.0, 0.0])] // zero mark down: a quarter turn is the right side
    #[case(-30.0, 30.0, [0.0, 10.0])] // settled with 30° at the bottom
    fn rotor_angles_stand_where_the_operator_sees_them(#[case] zero: f64, #[case] deg: f64, #[case] expected: [f64; 2]) {
        let p = Frame { centre: [0.0, 0.0], zero_deg: zero }.point(10.0, deg);
        assert!((p[0] - expected[0]).abs() < 1e-12 && (p[1] - expected[1]).abs() < 1e-12, "{p:?}");
    }

    proptest! {
        #[test]
        fn spread_angles_keep_their_distance(angles in prop::collection::vec(-720.0..720.0f64, 0..12), least in 1.0..25.0f64) {
            let out = spread(&angles, least);
            for i in 0..out.len() {
                for j in 0..i {
                    let d = (out[i] - out[j] + 180.0).rem_euclid(360.0) - 180.0;
                    prop_assert!(d.abs() > least * 0.98 - 1e-3, "{out:?}");
                }
            }
        }
    }
}
