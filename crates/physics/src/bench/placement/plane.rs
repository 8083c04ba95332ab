//! Points in the plane, to be asked for all within a radius: cells of one size, points sorted by cell.

/// Points sorted into square cells, row by row.
pub(super) struct Plane {
    half: f64,
    per_mm: f64,
    side: usize,
    /// First point of each cell.
    start: Vec<u32>,
    /// Points in the order of the cells, each with its number in the list that came in.
    points: Vec<([f64; 2], u32)>,
}

impl Plane {
    /// Sort the points, all within `half` of the middle in both directions, into about as many cells as points.
    pub(super) fn new(list: &[[f64; 2]], half: f64) -> Self {
        let side = ((list.len() as f64).sqrt() as usize).clamp(1, 1024);
        let half = half.max(1e-9) * (1.0 + 1e-9);
        let mut plane = Self { half, per_mm: side as f64 / (2.0 * half), side, start: vec![0; side * side + 1], points: Vec::new() };
        let cells: Vec<u32> = list.iter().map(|p| (plane.row(p[1]) * side + plane.row(p[0])) as u32).collect();
        for &c in &cells {
            plane.start[c as usize + 1] += 1;
        }
        for c in 0..side * side {
            plane.start[c + 1] += plane.start[c];
        }
        let mut next = plane.start.clone();
        plane.points = vec![([0.0; 2], 0); list.len()];
        for (k, (&p, &c)) in list.iter().zip(&cells).enumerate() {
            plane.points[next[c as usize] as usize] = (p, k as u32);
            next[c as usize] += 1;
        }
        plane
    }

    fn row(&self, x: f64) -> usize {
        // A negative float casts to 0, a large one is cut at the last row.
        (((x + self.half) * self.per_mm) as usize).min(self.side - 1)
    }

    /// Call `hit(number, squared distance)` for every point within `radius` of `centre`; it returns the radius from then on.
    pub(super) fn within(&self, centre: [f64; 2], radius: f64, mut hit: impl FnMut(usize, f64) -> f64) {
        let mut limit = radius * radius;
        if (centre[0].abs() - radius).max(centre[1].abs() - radius) > self.half {
            return;
        }
        let height = 1.0 / self.per_mm;
        for row in self.row(centre[1] - radius)..=self.row(centre[1] + radius) {
            // Only the cells under the chord that the circle cuts from this row: a large circle far outside touches few.
            let low = row as f64 * height - self.half;
            let off = ((low - centre[1]).max(centre[1] - low - height) - 1e-9 * height).max(0.0);
            if off * off > limit {
                continue;
            }
            let chord = (limit - off * off).sqrt() + 1e-9 * height;
            let cells = row * self.side;
            let (left, right) = (self.row(centre[0] - chord), self.row(centre[0] + chord));
            for (p, k) in &self.points[self.start[cells + left] as usize..self.start[cells + right + 1] as usize] {
                let d2 = (p[0] - centre[0]).powi(2) + (p[1] - centre[1]).powi(2);
                if d2 <= limit {
                    limit = hit(*k as usize, d2).powi(2);
                }
            }
        }
    }
}
