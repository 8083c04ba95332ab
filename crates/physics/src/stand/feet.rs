//! Three feet: what each carries, how far it is from tipping, how much one turn of a screw tilts the plate.
//!
//! In: the feet in plan, the centre of mass, weight and height. Out: loads, margins, the side over which it would go.
//!
//! Signed areas give it all: the load on a foot is the weight times the centre's barycentric coordinate (moments about the other
//! two feet), and the distance to a side is that coordinate times the triangle's height (statics and plane geometry).

use crate::{Fault, Ranged};

/// A place in plan, mm: x right, y away from the operator.
pub type Plan = [f64; 2];

/// Three feet that span a triangle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Feet {
    at: [Plan; 3],
}

/// How safely it stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Standing {
    /// Distance of the centre of mass in plan from the nearest tipping side, mm; negative: outside, it falls over.
    pub margin_mm: f64,
    /// The two feet of that side, by their place in the list.
    pub over_feet: [usize; 2],
    /// Load on each foot, N; negative: that foot would have to be held down.
    pub foot_loads_n: [f64; 3],
    /// Horizontal push at the height of the centre of mass that starts tipping over that side, N, if the feet do not slide;
    /// zero when it does not stand by itself.
    pub tipping_force_n: f64,
    /// Largest angle between neighbouring feet seen from the centre of mass, degrees; 180° or more: it falls over.
    pub widest_gap_deg: f64,
}

impl Standing {
    /// Whether it stands by itself: every foot presses down. A margin within the rounding of the places is none.
    pub fn is_stable(&self) -> bool {
        self.margin_mm > 1e-6
    }
}

impl Feet {
    /// Three feet at these places in plan.
    ///
    /// # Errors
    /// A [`Fault`] for a place beyond 10 m, and for feet in one line or nearly so: the shortest height of the triangle must be
    /// 5 mm and a twentieth of its longest side, else one reading of the level is lost in the screws.
    pub fn new(at: [Plan; 3]) -> Result<Self, Fault> {
        for (i, foot) in at.iter().enumerate() {
            for (name, v) in ["x_mm", "y_mm"].iter().zip(foot) {
                v.within(&format!("feet[{i}].{name}"), -10_000.0, 10_000.0, "mm", "place of the foot in plan")?;
            }
        }
        let feet = Self { at };
        let longest = (0..3).map(|i| feet.side_opposite(i)).fold(0.0, f64::max);
        // The shortest height stands on the longest side. With all feet on one spot it is 0/0.
        let lowest = feet.area(at[0], 0).abs() / longest;
        let least = (longest / 20.0).max(5.0);
        if lowest.is_nan() || lowest < least {
            let shown = if lowest.is_nan() { "all feet on one spot".to_owned() } else { format!("feet {lowest:.1} mm out of line") };
            let why = "three feet in one line do not fix a plane: move one of them out of the line of the other two";
            return Err(Fault::new("feet", shown, format!("at least {least:.1} mm out of line"), why));
        }
        Ok(feet)
    }

    /// Feet on a circle about the origin.
    ///
    /// # Errors
    /// As [`Feet::new`].
    pub fn on_circle(radius_mm: f64, angles_deg: [f64; 3]) -> Result<Self, Fault> {
        let at = angles_deg.map(|a| [radius_mm * a.to_radians().cos(), radius_mm * a.to_radians().sin()]);
        Self::new(at)
    }

    /// The places.
    pub fn places(&self) -> [Plan; 3] {
        self.at
    }

    /// Twice the signed area of the triangle that `p` spans with the side opposite of foot `i`.
    fn area(&self, p: Plan, i: usize) -> f64 {
        let (a, b) = (self.at[(i + 1) % 3], self.at[(i + 2) % 3]);
        (a[0] - p[0]) * (b[1] - p[1]) - (a[1] - p[1]) * (b[0] - p[0])
    }

    fn side_opposite(&self, i: usize) -> f64 {
        let (a, b) = (self.at[(i + 1) % 3], self.at[(i + 2) % 3]);
        (b[0] - a[0]).hypot(b[1] - a[1])
    }

    /// Lever of foot `i` about the line of the other two, mm.
    pub fn lever_mm(&self, i: usize) -> f64 {
        (self.area(self.at[i], i) / self.side_opposite(i)).abs()
    }

    /// Tilt of the plate for one turn of foot `i` with this pitch, mm/m.
    pub fn tilt_per_turn_mm_per_m(&self, i: usize, pitch_mm: f64) -> f64 {
        1e3 * pitch_mm / self.lever_mm(i)
    }

    /// Loads and tipping margin with the centre of mass at `centre` in plan and `height_mm` above the feet.
    ///
    /// # Errors
    /// A [`Fault`] for a centre beyond 10 m, a weight outside 0.1 N to 1 MN, or a height outside 1 mm to 10 m.
    pub fn standing(&self, centre: Plan, weight_n: f64, height_mm: f64) -> Result<Standing, Fault> {
        for (name, v) in ["centre_of_mass.x_mm", "centre_of_mass.y_mm"].iter().zip(centre) {
            v.within(name, -10_000.0, 10_000.0, "mm", "centre of mass in plan, wheel and stand together")?;
        }
        weight_n.within("weight_n", 0.1, 1e6, "N", "weight of the stand with the heaviest wheel on it")?;
        height_mm.within("height_mm", 1.0, 10_000.0, "mm", "height of the centre of mass above the feet")?;
        let whole = self.area(self.at[0], 0);
        let share: [f64; 3] = std::array::from_fn(|i| self.area(centre, i) / whole);
        let margins: [f64; 3] = std::array::from_fn(|i| share[i] * self.lever_mm(i));
        let nearest = (0..3).min_by(|&a, &b| margins[a].total_cmp(&margins[b])).unwrap_or(0);
        let margin = self.distance_outside(centre, &share).map_or(margins[nearest], |d| -d);
        Ok(Standing {
            margin_mm: margin,
            over_feet: [(nearest + 1) % 3, (nearest + 2) % 3],
            foot_loads_n: share.map(|s| s * weight_n),
            tipping_force_n: (weight_n * margin / height_mm).max(0.0),
            widest_gap_deg: self.widest_gap_deg(centre),
        })
    }

    /// Distance to the triangle from outside; `None` inside or on it.
    fn distance_outside(&self, p: Plan, share: &[f64; 3]) -> Option<f64> {
        if share.iter().all(|s| *s >= 0.0) {
            return None;
        }
        let to_side = |i: usize| {
            let (a, b) = (self.at[(i + 1) % 3], self.at[(i + 2) % 3]);
            let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
            let t = (((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / (dx * dx + dy * dy)).clamp(0.0, 1.0);
            (p[0] - a[0] - t * dx).hypot(p[1] - a[1] - t * dy)
        };
        Some((0..3).map(to_side).fold(f64::INFINITY, f64::min))
    }

    fn widest_gap_deg(&self, centre: Plan) -> f64 {
        let mut angles = self.at.map(|f| (f[1] - centre[1]).atan2(f[0] - centre[0]).to_degrees().rem_euclid(360.0));
        angles.sort_by(f64::total_cmp);
        let gaps = [angles[1] - angles[0], angles[2] - angles[1], 360.0 + angles[0] - angles[2]];
        gaps.into_iter().fold(0.0, f64::max)
    }
}
