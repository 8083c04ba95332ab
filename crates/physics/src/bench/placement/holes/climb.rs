//! More fillings than can be ruled out: climb to a good one. Proves nothing.

use super::{Filling, MOST_HOLES, ROUNDING, Rack};

/// About how many fillings one half of a block may have.
const BLOCK_FILLINGS: f64 = 5e4;

impl Rack {
    /// Climb from the empty rack, and from the present one: change two holes at a time as long as the residual falls.
    pub(super) fn climb(&self) -> Filling {
        let n = self.arm.len();
        let mut best = self.climb_from(vec![None; n]);
        if let Some(present) = &self.present {
            let other = self.climb_from(present.clone());
            if other.residual < best.residual {
                best = other;
            }
        }
        self.improve(best)
    }

    /// Fill blocks of holes spread over the circle anew, each by its exact best, the other holes keeping their screws.
    fn improve(&self, mut best: Filling) -> Filling {
        let n = self.arm.len();
        // Holes whose two halves have some ten thousand fillings each.
        let size = 2 * (BLOCK_FILLINGS.ln() / (self.mass.len() as f64 + 1.0).ln()) as usize;
        let blocks = n.div_ceil(size.max(2));
        for _ in 0..3 {
            let before = best.residual;
            for block in 0..blocks {
                let holes: Vec<usize> = (0..n).filter(|h| h % blocks == block).collect();
                let staying: Vec<(u8, u8)> = best.put.iter().copied().filter(|p| usize::from(p.0) % blocks != block).collect();
                let used = |k: usize| staying.iter().filter(|p| usize::from(p.1) == k).count();
                let part = Rack {
                    wanted: self.rest(&staying),
                    arm: holes.iter().map(|&h| self.arm[h]).collect(),
                    mass: self.mass.clone(),
                    count: self.count.iter().enumerate().map(|(k, c)| c - used(k)).collect(),
                    present: None,
                };
                let found = part.halves().0.least(&part);
                if found.residual < best.residual - ROUNDING {
                    let placed = found.put.iter().map(|&(h, k)| (holes[usize::from(h)] as u8, k));
                    best = self.filling(staying.iter().copied().chain(placed).collect());
                }
            }
            if best.residual > before - ROUNDING {
                break;
            }
        }
        best
    }

    fn climb_from(&self, mut inside: Vec<Option<usize>>) -> Filling {
        let n = self.arm.len();
        let put = |inside: &[Option<usize>]| -> Vec<(u8, u8)> {
            inside.iter().enumerate().filter_map(|(h, k)| k.map(|k| (h as u8, k as u8))).collect()
        };
        let kinds: Vec<Option<usize>> = std::iter::once(None).chain((0..self.mass.len()).map(Some)).collect();
        let mut residual = self.filling(put(&inside)).residual;
        for _ in 0..4 * MOST_HOLES {
            let mut better = (residual - ROUNDING, None);
            for i in 0..n {
                for j in i..n {
                    let mut without = inside.clone();
                    (without[i], without[j]) = (None, None);
                    let rest = self.rest(&put(&without));
                    let used = |k: usize| without.iter().filter(|w| **w == Some(k)).count();
                    let left: Vec<usize> = (0..self.mass.len()).map(|k| self.count[k] - used(k)).collect();
                    for &a in &kinds {
                        for &b in if i == j { &kinds[..1] } else { &kinds[..] } {
                            let enough = a.is_none_or(|a| left[a] > usize::from(b == Some(a))) && b.is_none_or(|b| left[b] > 0);
                            let pull = |h: usize, k: Option<usize>| k.map_or([0.0; 2], |k| self.vector((h as u8, k as u8)));
                            let (va, vb) = (pull(i, a), pull(j, b));
                            let size = (rest[0] - va[0] - vb[0]).hypot(rest[1] - va[1] - vb[1]);
                            if enough && size < better.0 {
                                better = (size, Some((i, a, j, b)));
                            }
                        }
                    }
                }
            }
            let Some((i, a, j, b)) = better.1 else { break };
            inside[j] = b;
            inside[i] = a;
            residual = better.0;
        }
        self.filling(put(&inside))
    }
}
