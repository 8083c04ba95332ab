//! Which search answers which question, and whether its answer is proven.

use super::ROUNDING;
use super::blocks;
use super::field::{Aim, Field, Found, Keeper, MOST_WEIGHTS, Places};
use super::halves::{Halves, halves};
use super::reach::Reach;
use super::walk::{walk, walk_bunched};

/// Most leaves (places of all weights but two) that one walk may visit; about 0.1 µs each.
pub(super) const MOST_LEAVES: f64 = 150_000.0;

/// Most places that a walk over bunched weights may try, about 30 ns each; beyond it another search is tried.
const MOST_BUNCHED: usize = 3_000_000;

/// The answer to one task.
pub(super) struct Solved {
    pub(super) found: Found,
    /// Least residual of all placements, where it was needed.
    pub(super) least: Option<f64>,
    /// Nothing better exists.
    pub(super) proven: bool,
}

/// Leaves of a walk over these weights.
pub(super) fn leaves(field: &Field, free: &[usize]) -> f64 {
    free[..free.len().saturating_sub(2)].iter().map(|&i| field.allowed[i].iter().filter(|a| **a).count() as f64).product()
}

/// A complete search of one set of free weights.
enum Complete<'a> {
    Walk,
    Halves(Box<Halves<'a>>),
}

impl<'a> Complete<'a> {
    fn plan(field: &Field, at: &Places, free: &'a [usize]) -> Option<Self> {
        if leaves(field, free) <= MOST_LEAVES { Some(Self::Walk) } else { halves(field, at, free).map(|h| Self::Halves(Box::new(h))) }
    }

    fn run<'f>(&self, field: &'f Field, at: &Places, free: &[usize], keeper: &mut Keeper<'f>) {
        match self {
            Self::Walk => walk(field, at, free, keeper),
            Self::Halves(h) => h.search(field, keeper),
        }
    }

    /// About how many placements there are.
    fn placements(&self, field: &Field, free: &[usize]) -> f64 {
        match self {
            Self::Walk => free.iter().map(|&i| field.allowed[i].iter().filter(|a| **a).count() as f64).product(),
            Self::Halves(h) => h.pairs(),
        }
    }
}

/// The weights that can't be moved at their places, all others not placed.
fn start(field: &Field) -> (Places, Vec<usize>) {
    let mut at = [f64::NAN; MOST_WEIGHTS];
    let mut free = Vec::new();
    for k in 0..field.count() {
        let i = field.order.get(k).copied().unwrap_or(k);
        match (&field.present, field.fixed[i]) {
            (Some(present), true) => at[i] = present[i],
            _ => free.push(i),
        }
    }
    (at, free)
}

/// Best placement by the aim among all that count as equal: those at or below `good_enough` if there are any, otherwise
/// those within `tie` of the least residual. `None`: the weights find no room.
pub(super) fn solve(field: &Field, tie: f64, good_enough: Option<f64>, aim: Aim) -> Option<Solved> {
    let (at, free) = start(field);
    if field.present.is_none() {
        let Least { found, proven, .. } = least(field, &at, &free, None, None)?;
        return Some(Solved { found, least: Some(found.residual), proven });
    }
    if let Some(radius) = good_enough
        && let Some((found, true)) = choose(field, &at, &free, radius, aim, None)
    {
        return Some(Solved { found, least: None, proven: true });
    }
    let Least { found: lowest, proven: complete, near } = match aim {
        Aim::FewestMoved => least_with_stays(field, &at, &free)?,
        _ => least(field, &at, &free, None, Some(tie))?,
    };
    if good_enough.is_none_or(|g| lowest.residual > g)
        && let Some(near) = near
    {
        let mut keeper = Keeper::new(field, aim, lowest.residual + tie);
        for (at, residual) in &near {
            keeper.offer(at, *residual);
        }
        return keeper.best.map(|found| Solved { found, least: Some(lowest.residual), proven: complete });
    }
    let equal = match good_enough {
        Some(g) if lowest.residual <= g => g,
        _ => lowest.residual + tie,
    };
    let (found, chosen) = choose(field, &at, &free, equal, aim, Some(&lowest))?;
    // What is good enough is known without the least residual.
    let class_known = complete || good_enough.is_some_and(|g| lowest.residual <= g);
    Some(Solved { found, least: Some(lowest.residual), proven: class_known && chosen })
}

/// The least residual, and what was found beside it.
struct Least {
    found: Found,
    proven: bool,
    /// All placements within the tie of it, where they were few enough to keep.
    near: Option<Vec<(Places, f64)>>,
}

/// Least residual with the free weights anywhere. `known`: a placement to be beaten; `tie`: keep those near the least too.
fn least(field: &Field, at: &Places, free: &[usize], known: Option<Found>, tie: Option<f64>) -> Option<Least> {
    let packed = blocks::pack(field, at, free);
    let seed = match (known, packed) {
        (Some(a), Some(b)) => Some(if a.residual <= b.residual { a } else { b }),
        (a, b) => a.or(b),
    };
    if let Some(seed) = seed
        && let Some(least) = least_bunched(field, at, free, seed, tie)
    {
        return Some(least);
    }
    let Some(search) = Complete::plan(field, at, free) else {
        let found = blocks::least(field, at, free, seed?);
        let possible = field.least_possible(free, field.rest(at));
        return Some(Least { found, proven: found.residual <= possible + ROUNDING, near: None });
    };
    let possible = field.least_possible(free, field.rest(at));
    let reach: f64 = free.iter().map(|&i| field.moment[i]).sum();
    let rest = field.rest(at);
    let most = seed.map_or(rest[0].hypot(rest[1]) + reach, |s| s.residual);
    // A radius that should hold some hundred placements (fewer once those that overlap are gone), grown while it is empty.
    let some = if matches!(search, Complete::Walk) { 12.0 } else { 40.0 };
    let mut grow = some * reach / search.placements(field, free).sqrt().max(1.0) + ROUNDING;
    loop {
        let radius = (possible + grow).min(most);
        let mut keeper = match tie {
            // A wide tie is better served by a second search that travel cuts short.
            Some(tie) if tie <= grow => Keeper::least_and_near(field, radius, tie),
            _ => Keeper::new(field, Aim::LeastResidual, radius),
        };
        search.run(field, at, free, &mut keeper);
        if let Some(found) = keeper.best {
            return Some(Least { found, proven: true, near: keeper.into_near() });
        }
        if radius >= most {
            return seed.map(|found| Least { found, proven: true, near: None });
        }
        grow *= 4.0;
    }
}

/// Least residual where the weights can't reach: they stand side by side on the light side, and a walk that counts their arcs is short.
/// `None` where they can reach, where any search is short, or where the walk would be too long after all.
fn least_bunched(field: &Field, at: &Places, free: &[usize], seed: Found, tie: Option<f64>) -> Option<Least> {
    let rest = field.rest(at);
    if leaves(field, free) <= MOST_LEAVES || rest[0].hypot(rest[1]) <= Reach::of(field, free).most {
        return None;
    }
    let mut keeper = match tie {
        Some(tie) => Keeper::least_and_near(field, seed.residual, tie),
        None => Keeper::new(field, Aim::LeastResidual, seed.residual),
    };
    walk_bunched(field, at, free, &mut keeper, MOST_BUNCHED).then(|| Least {
        found: keeper.best.unwrap_or(seed),
        proven: true,
        near: keeper.into_near(),
    })
}

/// As [`least`], where a weight between two graduations may also stay where it is.
fn least_with_stays(field: &Field, at: &Places, free: &[usize]) -> Option<Least> {
    let present = field.present.as_ref()?;
    let between: Vec<usize> = free
        .iter()
        .copied()
        .filter(|&i| (present[i] / field.step - (present[i] / field.step).round()).abs() * field.step > super::SAME_DEG)
        .collect();
    let (mut best, mut complete, mut budget) = (None, true, 4.0 * MOST_LEAVES);
    for stays in 0..1_u32 << between.len() {
        let staying: Vec<usize> = (0..between.len()).filter(|b| stays >> b & 1 == 1).map(|b| between[b]).collect();
        let Some((at, moving)) = stay(field, at, free, &staying) else { continue };
        if !complete {
            // Already not to be proven: only what a few short walks can add.
            budget -= leaves(field, &moving).max(100.0);
            if budget < 0.0 {
                continue;
            }
        }
        if let Some(least) = least(field, &at, &moving, best, None) {
            best = Some(least.found);
            complete &= least.proven;
        }
    }
    best.map(|found| Least { found, proven: complete, near: None })
}

/// Let some weights stay at their present places; `None` if they are in the way there. Gives the weights still free.
pub(super) fn stay(field: &Field, at: &Places, free: &[usize], staying: &[usize]) -> Option<(Places, Vec<usize>)> {
    let present = field.present.as_ref()?;
    let mut at = *at;
    for &i in staying {
        if !field.present_allowed[i] || !field.clear(i, present[i], &at) {
            return None;
        }
        at[i] = present[i];
    }
    Some((at, free.iter().copied().filter(|i| !staying.contains(i)).collect()))
}

/// The best by the aim within the radius, and whether that is proven; `None` if nothing lies within it.
///
/// `known`: a placement within the radius; without one, a search that can't be complete gives `None`.
fn choose(field: &Field, at: &Places, free: &[usize], radius: f64, aim: Aim, known: Option<&Found>) -> Option<(Found, bool)> {
    if aim == Aim::FewestMoved {
        match fewest_moved(field, at, free, radius) {
            Some(Some(found)) => return Some((found, true)),
            Some(None) => return known.map(|k| (*k, true)),
            None => {}
        }
    } else if let Some(search) = Complete::plan(field, at, free) {
        let mut keeper = Keeper::new(field, aim, radius);
        search.run(field, at, free, &mut keeper);
        return keeper.best.map(|b| (b, true));
    }
    known.map(|k| (blocks::choose(field, at, free, radius, aim, k), false))
}

/// Subsets of the free weights by growing size: the first size that holds a placement within the radius holds the best.
/// `None`: too many to try.
#[allow(clippy::option_option, reason = "not tried and not found are two answers")]
fn fewest_moved(field: &Field, at: &Places, free: &[usize], radius: f64) -> Option<Option<Found>> {
    let mut visited = 0.0;
    for size in 0..=free.len() {
        let mut best: Option<Keeper> = None;
        for moving in subsets(free, size) {
            let staying: Vec<usize> = free.iter().copied().filter(|i| !moving.contains(i)).collect();
            let Some((at, moving)) = stay(field, at, free, &staying) else { continue };
            let search = Complete::plan(field, &at, &moving)?;
            visited += match search {
                Complete::Walk => leaves(field, &moving),
                Complete::Halves(_) => 20.0 * MOST_LEAVES,
            };
            if visited > 40.0 * MOST_LEAVES {
                return None;
            }
            // Within one size the least travel wins, so travel may cut the search short.
            let keeper = best.get_or_insert_with(|| Keeper::new(field, Aim::LeastTravel, radius));
            search.run(field, &at, &moving, keeper);
        }
        if let Some(found) = best.and_then(|k| k.best) {
            return Some(Some(found));
        }
    }
    Some(None)
}

/// All subsets of one size, each in the order of `list`.
pub(super) fn subsets(list: &[usize], size: usize) -> Vec<Vec<usize>> {
    (0..1_u32 << list.len())
        .filter(|bits| bits.count_ones() as usize == size)
        .map(|bits| list.iter().enumerate().filter(|(k, _)| bits >> k & 1 == 1).map(|(_, &i)| i).collect())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};

    /// Four weights at 10° in an invented groove: small enough for the walk, large enough to matter.
    fn random_field(rng: &mut rand_xoshiro::Xoshiro256PlusPlus) -> Field {
        let (n, step) = (4, 10.0);
        let unit: Vec<[f64; 2]> = (0..36).map(|g| (f64::from(g) * step).to_radians().sin_cos()).map(|(s, c)| [c, s]).collect();
        let blocked = rng.random_range(0..36);
        let mut field = Field {
            moment: (0..n).map(|_| rng.random_range(40.0..160.0)).collect(),
            arc: (0..n).map(|_| rng.random_range(0.0..40.0)).collect(),
            step,
            unit,
            allowed: vec![(0..36).map(|g| (g + blocked) % 36 > 3).collect(); n],
            present: Some((0..n).map(|_| 10.0 * f64::from(rng.random_range(0..36))).collect()),
            present_allowed: vec![true; n],
            fixed: vec![false; n],
            wanted: [rng.random_range(-300.0..300.0), rng.random_range(-300.0..300.0)],
            order: Vec::new(),
            lifted_now: Vec::new(),
        };
        if rng.random_range(0.0..1.0) < 0.5 {
            field.keep_order();
        }
        field
    }

    #[test]
    fn the_walk_over_bunched_weights_loses_nothing_that_the_plain_walk_finds() {
        let mut rng = rand_xoshiro::Xoshiro256PlusPlus::seed_from_u64(8);
        let mut compared = 0;
        for case in 0..400 {
            let mut field = random_field(&mut rng);
            let (at, free) = start(&field);
            // From just within reach to far beyond it.
            let size = Reach::of(&field, &free).most * rng.random_range(0.95..1.6) / field.wanted[0].hypot(field.wanted[1]);
            field.wanted = field.wanted.map(|w| w * size);
            let Some(seed) = blocks::pack(&field, &at, &free) else { continue };
            let tie = 5.0;
            let mut plain = Keeper::least_and_near(&field, seed.residual, tie);
            walk(&field, &at, &free, &mut plain);
            let mut bunched = Keeper::least_and_near(&field, seed.residual, tie);
            assert!(walk_bunched(&field, &at, &free, &mut bunched, usize::MAX), "case {case}");
            let residual = |k: &Keeper| k.best.map(|b| (b.residual * 1e6).round());
            assert_eq!(residual(&plain), residual(&bunched), "case {case}");
            // All that tie with the least are kept by both.
            let most = plain.best.map_or(0.0, |b| b.residual) + tie;
            let near = |k: Keeper| k.into_near().map(|near| near.iter().filter(|n| n.1 <= most).count());
            assert_eq!(near(plain), near(bunched), "case {case}");
            compared += 1;
        }
        assert!(compared > 200, "{compared}");
    }

    #[test]
    fn walk_and_halves_find_the_same_best_and_blocks_find_a_sound_one() {
        let mut rng = rand_xoshiro::Xoshiro256PlusPlus::seed_from_u64(5);
        let mut blocks_best = 0;
        for case in 0..200 {
            let field = random_field(&mut rng);
            let (at, free) = start(&field);
            let halves = halves(&field, &at, &free).unwrap();
            for (aim, radius) in [(Aim::LeastResidual, 80.0), (Aim::LeastTravel, 12.0), (Aim::FewestMoved, 12.0)] {
                let mut one = Keeper::new(&field, aim, radius);
                walk(&field, &at, &free, &mut one);
                let mut two = Keeper::new(&field, aim, radius);
                halves.search(&field, &mut two);
                let judge = |k: &Keeper| k.best.map(|b| [b.residual, b.travel, b.moved as f64].map(|v| (v * 1e6).round()));
                assert_eq!(judge(&one), judge(&two), "case {case}");
            }
            let Some(seed) = blocks::pack(&field, &at, &free) else { continue };
            let Some(Least { found: exact, proven: true, .. }) = least(&field, &at, &free, None, None) else { panic!("case {case}") };
            let found = blocks::least(&field, &at, &free, seed);
            assert!(found.residual >= exact.residual - ROUNDING, "case {case}");
            assert!(
                free.iter().all(|&i| field.allowed[i][(found.at[i] / 10.0) as usize] && field.clear(i, found.at[i], &found.at)),
                "case {case}"
            );
            assert!(field.in_order(&found.at), "case {case}");
            blocks_best += usize::from(found.residual < exact.residual + ROUNDING);
        }
        // Blocks of all the weights are the whole walk here, so most must hit the best itself.
        assert!(blocks_best > 150, "{blocks_best}");
    }
}
