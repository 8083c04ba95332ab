//! The pressure on an even grid over the unrolled saddle, for pictures.
//!
//! In: a film's shape and its state. Out: a [`PressureGrid`]. Between the solver's points it is linear, so it is good to some per cent where
//! the pressure bends most, at the port's rim; forces and torques are never taken from it.

use super::air::Air;
use super::pressure::{FilmState, PressurePatch, Shape};
use crate::{Fault, Ranged};

/// Gauge pressure on an even grid.
#[derive(Clone, Debug, PartialEq)]
pub struct PressureGrid {
    /// Points along the arc, from its left edge to its right edge.
    pub columns: usize,
    /// Points along the axis, from edge to edge.
    pub rows: usize,
    /// Row by row, Pa. On the port it is the port's.
    pub gauge_pa: Vec<f64>,
}

impl PressureGrid {
    /// The pressure along the middle of the saddle's length, from its left edge to its right; of an even number of rows the one behind it.
    pub fn middle(&self) -> &[f64] {
        let row = self.rows / 2;
        &self.gauge_pa[row * self.columns..(row + 1) * self.columns]
    }
}

impl Shape<'_> {
    /// The pressure on an even grid of 3 to 500 points each way.
    ///
    /// # Errors
    /// A [`Fault`] for a grid out of range.
    pub fn pressure_grid(&self, air: &Air, state: &FilmState, columns: usize, rows: usize) -> Result<PressureGrid, Fault> {
        for (field, n) in [("columns", columns), ("rows", rows)] {
            (n as f64).within(field, 3.0, 500.0, "", "points of a picture")?;
        }
        let saddle = self.film().saddle();
        let (left, right) = saddle.arc_ends_rad();
        let step = [(right - left) / (columns - 1) as f64, saddle.length_m / (rows - 1) as f64];
        let origin = [left, -saddle.length_m / 2.0];
        // What no patch covers is the port, where the pressure is even.
        let mut grid = PressureGrid { columns, rows, gauge_pa: vec![state.port_pa - air.ambient_pa; columns * rows] };
        for patch in self.pressure_patches(air, state) {
            grid.take(&patch, origin, step);
        }
        // The room's air stands at all four edges.
        for row in 0..rows {
            for column in 0..columns {
                if row == 0 || column == 0 || row == rows - 1 || column == columns - 1 {
                    grid.gauge_pa[row * columns + column] = 0.0;
                }
            }
        }
        Ok(grid)
    }
}

/// Borders belong to both sides: a hair of overlap leaves no gap by rounding.
const HAIR: f64 = -1e-9;

impl PressureGrid {
    /// Fill in the points that lie on a patch: each of its cells is two triangles, linear on each.
    fn take(&mut self, patch: &PressurePatch, origin: [f64; 2], step: [f64; 2]) {
        let n = patch.per_side;
        let corner = |k: usize| {
            let place = [(patch.theta_rad[k] - origin[0]) / step[0], (patch.z_m[k] - origin[1]) / step[1]];
            (place, patch.gauge_pa[k])
        };
        for i in 0..n - 1 {
            for j in 0..n - 1 {
                let [a, b, c, d] = [i * n + j, i * n + j + 1, (i + 1) * n + j + 1, (i + 1) * n + j].map(corner);
                self.triangle([a, b, c]);
                self.triangle([a, c, d]);
            }
        }
    }

    fn triangle(&mut self, corners: [([f64; 2], f64); 3]) {
        let [(a, pa), (b, pb), (c, pc)] = corners;
        let twice = (b[0] - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (b[1] - a[1]);
        if twice == 0.0 {
            return;
        }
        for row in covered([a[1], b[1], c[1]], self.rows) {
            for column in covered([a[0], b[0], c[0]], self.columns) {
                let (x, z) = (column as f64, row as f64);
                let wb = ((x - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (z - a[1])) / twice;
                let wc = ((b[0] - a[0]) * (z - a[1]) - (x - a[0]) * (b[1] - a[1])) / twice;
                let wa = 1.0 - wb - wc;
                if wa >= HAIR && wb >= HAIR && wc >= HAIR {
                    self.gauge_pa[row * self.columns + column] = wa * pa + wb * pb + wc * pc;
                }
            }
        }
    }
}

/// Grid lines between the least and the largest of three places.
fn covered(places: [f64; 3], count: usize) -> std::ops::Range<usize> {
    let low = places.into_iter().fold(f64::INFINITY, f64::min);
    let high = places.into_iter().fold(f64::NEG_INFINITY, f64::max);
    let first = (low - 1e-9).ceil().max(0.0) as usize;
    let after = ((high + 1e-9).floor() + 1.0).clamp(0.0, count as f64) as usize;
    first..after.max(first)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::film::{Duty, Film, Fineness, Form, Pocket, Port, Pose, Saddle};
    use rstest::rstest;

    /// The saddle of reference/film-physics.md, §6, with its port so far to the right.
    fn afloat(around_m: f64, pocket: Option<Pocket>) -> (Saddle, FilmState, PressureGrid) {
        let port =
            Port { diameter_m: 1.2e-3, around_m, along_m: 0.0, jet_diameter_m: Some(0.15e-3), pocket, volume_m3: 0.0, discharge: 0.8 };
        let saddle = Saddle {
            bore_diameter_m: 20.028e-3,
            clearance_m: 14e-6,
            length_m: 24e-3,
            arc_rad: std::f64::consts::PI,
            arc_turned_rad: 0.0,
            form: Form::default(),
            port,
            rest_gap_m: 1e-6,
        };
        let air = Air { viscosity_pa_s: 1.813e-5, ..Air::default() };
        let film = Film::new(&saddle, Fineness::NORMAL).unwrap();
        let float = film.float_near(&Duty::new(air, 4e5, 15.0), Pose { y_m: 7e-6, ..Pose::default() }).unwrap();
        let shape = film.shape(float.state.pose).unwrap();
        let grid = shape.pressure_grid(&air, &float.state, 181, 121).unwrap();
        (saddle, float.state, grid)
    }

    #[rstest]
    #[case::plain(None)]
    #[case::with_a_pocket(Some(Pocket::Round { diameter_m: 3e-3, depth_m: 0.05e-3 }))]
    fn summed_up_over_the_arc_it_carries_the_load(#[case] pocket: Option<Pocket>) {
        // Statics: the force up is ∫ p cos θ dA; trapezia on the grid, whose edges hold zero.
        let (saddle, state, grid) = afloat(0.0, pocket);
        let cell = saddle.bore_radius_m() * saddle.arc_rad / 180.0 * saddle.length_m / 120.0;
        let mut up = 0.0;
        for (k, p) in grid.gauge_pa.iter().enumerate() {
            let theta = -saddle.arc_rad / 2.0 + saddle.arc_rad * (k % 181) as f64 / 180.0;
            up += p * theta.cos() * cell;
        }
        assert!((up / 15.0 - 1.0).abs() < 0.01, "{up} N for 15 N");
        let most = grid.gauge_pa.iter().copied().fold(0.0, f64::max);
        assert!((most / (state.port_pa - 101_325.0) - 1.0).abs() < 1e-6, "highest at the port");
        assert_eq!(grid.gauge_pa[60 * 181 + 90], most, "and the port is in the middle");
    }

    #[test]
    fn a_mirrored_port_mirrors_the_picture() {
        let (right, left) = (afloat(1e-3, None).2, afloat(-1e-3, None).2);
        let most = right.gauge_pa.iter().copied().fold(0.0, f64::max);
        for row in 0..121 {
            for column in 0..181 {
                let (a, b) = (right.gauge_pa[row * 181 + column], left.gauge_pa[row * 181 + 180 - column]);
                // The two diagonals of a cell differ: linear either way.
                assert!((a - b).abs() < 0.03 * most, "{row} {column}: {a} {b}");
            }
        }
        let peak = |g: &PressureGrid| g.middle().iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1)).unwrap().0;
        assert!(peak(&right) > 90 && peak(&left) < 90, "the port on the right is on the right of the picture");
    }

    #[test]
    fn a_grid_of_no_points_is_a_fault() {
        let (saddle, state, _) = afloat(0.0, None);
        let film = Film::new(&saddle, Fineness::COARSE).unwrap();
        let shape = film.shape(state.pose).unwrap();
        assert_eq!(shape.pressure_grid(&Air::default(), &state, 2, 50).unwrap_err().field, "columns");
        assert_eq!(shape.pressure_grid(&Air::default(), &state, 50, 501).unwrap_err().field, "rows");
    }
}
