//! Trial and error, as a patient person does it: the yardstick that the looks and moves of the program stand beside.
//!
//! Common practice, no source. Settle and mark the heavy side; one weight opposite, the two others at 120° (neutral). Weight
//! one level with the axis: see which side sinks, move the two others alike by 30°, half as much at each look after the
//! first reversal. Then weight one at the bottom: turn the group by 4, 2, 1°. Until the wheel stays (under 2° of motion in
//! 5 s) at four places, or creeps the same way at opposite ones; at most 60 looks. The person is not told the allowance.

use super::{Sense, VirtualBench};
use crate::bench::look::{Reading, Weight};
use crate::bench::next_step::LookPlan;
use crate::quantity::{Angle, RotorAngle, UnbalanceVector};
use rand_xoshiro::Xoshiro256PlusPlus;

/// Most looks that a person takes.
pub const MOST_LOOKS: usize = 60;

/// What trial and error came to.
#[derive(Clone, Copy, Debug)]
pub struct ByHand {
    /// Looks taken: settlings and releases watched.
    pub looks: usize,
    /// Weights moved.
    pub moves: usize,
    /// Whether the person was content.
    pub declared_done: bool,
    /// The true residual then.
    pub residual: UnbalanceVector,
    /// Looks and moves when the true residual first was inside the allowance, which nobody can see.
    pub first_inside: Option<(usize, usize)>,
}

struct Hand<'a> {
    bench: &'a mut VirtualBench,
    rng: &'a mut Xoshiro256PlusPlus,
    looks: usize,
    moves: usize,
    /// Place of weight one, and the angle of the two others from it.
    one: f64,
    spread: f64,
    first_inside: Option<(usize, usize)>,
}

impl Hand<'_> {
    fn set(&mut self) {
        let at = [self.one, self.one + self.spread, self.one - self.spread];
        let weights: Vec<Weight> =
            self.bench.weights.iter().zip(at).map(|(w, a)| Weight { at: RotorAngle::from_deg(a.round()), ..*w }).collect();
        self.moves += self.bench.set_weights(&weights, self.rng);
        let inside = self.bench.true_residual().size().g_mm() <= self.bench.rotor.allowance.g_mm();
        if inside && self.first_inside.is_none() {
            self.first_inside = Some((self.looks, self.moves));
        }
    }

    fn release(&mut self, bottom_deg: f64) -> Option<Sense> {
        self.looks += 1;
        self.bench.release(RotorAngle::from_deg(bottom_deg))
    }

    /// Weight one level at 3 o'clock (seen by the operator, 90° counter-clockwise from the bottom): its side sinks when the
    /// rotor turns clockwise. Spread the others away from it then, else bring them nearer.
    fn along(&mut self, first_step: f64) {
        let (mut step, mut last) = (first_step, None);
        let mut reversed = false;
        while self.looks < MOST_LOOKS && step >= 0.5 {
            let Some(sense) = self.release(self.one - 90.0) else { return };
            let sign = if sense == Sense::Clockwise { 1.0 } else { -1.0 };
            reversed |= last.is_some_and(|l: f64| l != sign);
            if reversed {
                step *= 0.5;
            }
            last = Some(sign);
            self.spread = (self.spread + sign * step).clamp(10.0, 170.0);
            self.set();
        }
    }

    /// Weight one at the bottom: the rotor turns towards the side where weight is wanting; turn the group against it.
    fn across(&mut self, first_step: f64) {
        let (mut step, mut last) = (first_step, None);
        while self.looks < MOST_LOOKS && step >= 1.0 {
            let Some(sense) = self.release(self.one) else { return };
            // It turns counter-clockwise when the left-over heavy side hangs clockwise of the bottom on the rotor's scale:
            // weight is wanted on the other side.
            let sign = if sense == Sense::CounterClockwise { 1.0 } else { -1.0 };
            if last.is_some_and(|l: f64| l != sign) {
                step *= 0.5;
            }
            last = Some(sign);
            self.one += sign * step;
            self.set();
        }
    }

    /// Let it go at four places: content when it stays at all, or creeps the same way at both ends of an axis.
    fn content(&mut self) -> (bool, bool) {
        let seen: Vec<Option<Sense>> = [0.0, 90.0, 180.0, 270.0].iter().map(|a| self.release(self.one - 90.0 + a)).collect();
        // Both stay, or one end stays and the other creeps (drift and a little unbalance): the person is content. Only two
        // ends that turn opposite ways, the same spot sinking each time, say that there is more to do.
        let axis = |a: Option<Sense>, b: Option<Sense>| a.is_none() || b.is_none() || a == b;
        (axis(seen[0], seen[2]), axis(seen[1], seen[3]))
    }
}

/// Play one rotor by hand.
pub fn by_hand(bench: &mut VirtualBench, rng: &mut Xoshiro256PlusPlus) -> ByHand {
    let heavy = match bench.look(LookPlan::Settle, rng) {
        Reading::Settle { bottom, .. } => bottom.deg(),
        _ => 0.0,
    };
    let mut hand = Hand {
        one: RotorAngle::from_deg(heavy).turned(Angle::from_deg(180.0)).deg().round(),
        bench,
        rng,
        looks: 1,
        moves: 0,
        spread: 120.0,
        first_inside: None,
    };
    hand.set();
    hand.along(30.0);
    hand.across(4.0);
    let mut done = false;
    while hand.looks + 4 <= MOST_LOOKS {
        let (along, across) = hand.content();
        if along && across {
            done = true;
            break;
        }
        if !along {
            hand.along(2.0);
        }
        if !across {
            hand.across(2.0);
        }
    }
    ByHand {
        looks: hand.looks,
        moves: hand.moves,
        declared_done: done,
        residual: hand.bench.true_residual(),
        first_inside: hand.first_inside,
    }
}
