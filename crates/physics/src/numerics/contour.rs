//! Closed outlines of the set where a gridded function is at or above a level.

use std::collections::HashMap;

/// Every crossing lies on a grid edge: (row, column, is the edge going up?).
type Edge = (isize, isize, bool);

/// Outlines in grid units, counter-clockwise around the set, clockwise around its holes.
///
/// `grid` holds rows of `columns` values; the function is taken as below the level outside the grid, so that every
/// outline closes. Marching squares with linear interpolation; a saddle is cut so that its high corners stay apart.
pub fn outlines(grid: &[f64], columns: usize, level: f64) -> Vec<Vec<[f64; 2]>> {
    let rows = grid.len() / columns;
    let low = level - level.abs().max(f64::MIN_POSITIVE);
    // One ring of low cells around the grid.
    let value = |r: isize, c: isize| {
        if r < 0 || c < 0 || r >= rows as isize || c >= columns as isize { low } else { grid[r as usize * columns + c as usize] }
    };
    let mut next: HashMap<Edge, Edge> = HashMap::new();
    for r in -1..rows as isize {
        for c in -1..columns as isize {
            let corner = [value(r, c), value(r, c + 1), value(r + 1, c + 1), value(r + 1, c)].map(|v| v >= level);
            let edge: [Edge; 4] = [(r, c, false), (r, c + 1, true), (r + 1, c, false), (r, c, true)];
            for i in 0..4 {
                // Walk the cell counter-clockwise: the outline enters where high turns to low and leaves at the next
                // rise behind it, with the high side on its left.
                if corner[i] && !corner[(i + 1) % 4] {
                    let mut j = (i + 3) % 4;
                    while corner[j] || !corner[(j + 1) % 4] {
                        j = (j + 3) % 4;
                    }
                    next.insert(edge[i], edge[j]);
                }
            }
        }
    }
    let place = |(r, c, up): Edge| {
        let (a, b) = (value(r, c), if up { value(r + 1, c) } else { value(r, c + 1) });
        let t = ((level - a) / (b - a)).clamp(0.0, 1.0);
        if up { [c as f64, r as f64 + t] } else { [c as f64 + t, r as f64] }
    };
    let mut out = vec![];
    let mut starts: Vec<Edge> = next.keys().copied().collect();
    starts.sort_unstable();
    for start in starts {
        let mut line = vec![];
        let mut at = start;
        while let Some(following) = next.remove(&at) {
            line.push(place(at));
            at = following;
        }
        if line.len() > 2 {
            out.push(line);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn area(o: &[[f64; 2]]) -> f64 {
        (0..o.len()).map(|i| 0.5 * (o[i][0] * o[(i + 1) % o.len()][1] - o[(i + 1) % o.len()][0] * o[i][1])).sum()
    }

    #[test]
    fn a_disc_and_a_ring_have_the_areas_of_plane_geometry() {
        let n = 201;
        let f = |g: &dyn Fn(f64) -> f64| (0..n * n).map(|i| g(((i / n) as f64 - 100.0).hypot((i % n) as f64 - 100.0))).collect::<Vec<_>>();
        let disc = outlines(&f(&|r| -r), n, -60.0);
        assert_eq!(disc.len(), 1);
        assert!((area(&disc[0]) / (std::f64::consts::PI * 3600.0) - 1.0).abs() < 1e-3);
        let ring = outlines(&f(&|r| -(r - 50.0).abs()), n, -10.0);
        assert_eq!(ring.len(), 2);
        let sum: f64 = ring.iter().map(|o| area(o)).sum();
        assert!((sum / (std::f64::consts::PI * (3600.0 - 1600.0)) - 1.0).abs() < 1e-3, "hole counted off: {sum}");
    }

    #[test]
    fn a_set_that_meets_the_edge_still_closes() {
        let lines = outlines(&[1.0; 9], 3, 0.5);
        assert_eq!(lines.len(), 1);
        assert!(area(&lines[0]) > 4.0);
    }
}
