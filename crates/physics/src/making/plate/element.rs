//! The rectangular plate element of twelve unknowns: fall and two slopes at each corner.
//!
//! In: size, Poisson's ratio. Out: stiffness over D, consistent load of a unit pressure, shape functions. The fall is the polynomial
//! 1, x, y, x², xy, y², x³, x²y, xy², y³, x³y, xy³ from the element's middle (Zienkiewicz, The Finite Element Method, plates).

use nalgebra::{SMatrix, SVector};

type M12 = SMatrix<f64, 12, 12>;
type V12 = SVector<f64, 12>;

/// One element; all of a mesh are alike.
pub(super) struct Element {
    /// Stiffness for D = 1.
    pub(super) stiffness: M12,
    /// Nodal forces of a pressure of 1.
    pub(super) load: V12,
    from_corners: M12,
    half: [f64; 2],
}

/// Values of the twelve terms, and their slopes in x and in y, in coordinates scaled to the half sides.
fn terms(x: f64, y: f64) -> [V12; 3] {
    let v =
        V12::from_row_slice(&[1.0, x, y, x * x, x * y, y * y, x.powi(3), x * x * y, x * y * y, y.powi(3), x.powi(3) * y, x * y.powi(3)]);
    let vx = V12::from_row_slice(&[0.0, 1.0, 0.0, 2.0 * x, y, 0.0, 3.0 * x * x, 2.0 * x * y, y * y, 0.0, 3.0 * x * x * y, y.powi(3)]);
    let vy = V12::from_row_slice(&[0.0, 0.0, 1.0, 0.0, x, 2.0 * y, 0.0, x * x, 2.0 * x * y, 3.0 * y * y, x.powi(3), 3.0 * x * y * y]);
    [v, vx, vy]
}

/// Second derivatives xx, yy, xy in scaled coordinates.
fn bends(x: f64, y: f64) -> [V12; 3] {
    let xx = V12::from_row_slice(&[0.0, 0.0, 0.0, 2.0, 0.0, 0.0, 6.0 * x, 2.0 * y, 0.0, 0.0, 6.0 * x * y, 0.0]);
    let yy = V12::from_row_slice(&[0.0, 0.0, 0.0, 0.0, 0.0, 2.0, 0.0, 0.0, 2.0 * x, 6.0 * y, 0.0, 6.0 * x * y]);
    let xy = V12::from_row_slice(&[0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 2.0 * x, 2.0 * y, 0.0, 3.0 * x * x, 3.0 * y * y]);
    [xx, yy, xy]
}

/// Coefficients of the terms from the unknowns at the corners (counter-clockwise from the low one): w, ∂w/∂x, ∂w/∂y, x and y in mm.
fn from_corners(half: [f64; 2]) -> M12 {
    let mut to_corners = M12::zeros();
    for (c, [x, y]) in [[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]].into_iter().enumerate() {
        let [v, vx, vy] = terms(x, y);
        to_corners.set_row(3 * c, &v.transpose());
        to_corners.set_row(3 * c + 1, &(vx.transpose() / half[0]));
        to_corners.set_row(3 * c + 2, &(vy.transpose() / half[1]));
    }
    // The twelve terms are independent at the corners of any rectangle.
    to_corners.try_inverse().unwrap_or_else(M12::zeros)
}

impl Element {
    pub(super) fn new(size: [f64; 2], poisson: f64) -> Self {
        let half = size.map(|s| 0.5 * s);
        let from_corners = from_corners(half);
        let g = 0.6_f64.sqrt();
        // Gauss, three points each way: exact to degree five.
        let points = [(-g, 5.0 / 9.0), (0.0, 8.0 / 9.0), (g, 5.0 / 9.0)];
        let (mut k, mut f) = (M12::zeros(), V12::zeros());
        for (x, wx) in points {
            for (y, wy) in points {
                let area = wx * wy * half[0] * half[1];
                let [xx, yy, xy] = bends(x, y);
                let (xx, yy, xy) = (xx / half[0].powi(2), yy / half[1].powi(2), xy / (half[0] * half[1]));
                let cross = xx * yy.transpose();
                let energy = xx * xx.transpose()
                    + yy * yy.transpose()
                    + (cross + cross.transpose()) * poisson
                    + xy * xy.transpose() * (2.0 * (1.0 - poisson));
                k += energy * area;
                f += terms(x, y)[0] * area;
            }
        }
        Self { stiffness: from_corners.transpose() * k * from_corners, load: from_corners.transpose() * f, from_corners, half }
    }

    /// Shape functions at a place from the middle, mm: of the fall and of both slopes.
    pub(super) fn shape(&self, place: [f64; 2]) -> [V12; 3] {
        shape(&self.from_corners, self.half, place)
    }

    /// The same without the rest of the element.
    pub(super) fn shape_of(size: [f64; 2], place: [f64; 2]) -> [V12; 3] {
        let half = size.map(|s| 0.5 * s);
        shape(&from_corners(half), half, place)
    }
}

fn shape(from_corners: &M12, half: [f64; 2], place: [f64; 2]) -> [V12; 3] {
    let [v, vx, vy] = terms(place[0] / half[0], place[1] / half[1]);
    let back = from_corners.transpose();
    [back * v, back * vx / half[0], back * vy / half[1]]
}
