//! The stand itself: what bears the rotor, the smallest unbalance that it can show, and how it is set up and proved.
//!
//! In: what the stand is made of, how it stands, what was seen on it. Out: every cause that hides or fakes an unbalance with
//! its size in g·mm ([`supports`], [`budget`]), turns of the levelling screws and the tipping margin ([`level`], [`feet`]), how plate and
//! arbor bend ([`plate`], [`arbor`]), a saddle searched for ([`search`]), and drift and friction as measured on the real stand ([`qualify`]).
//!
//! Seen from the operator's side: x right, y away from the operator, z up. Slopes are mm a metre, positive when the far end of
//! their direction is high. Drift is positive counter-clockwise. Whatever the air film contributes is an input here.

pub mod arbor;
pub mod budget;
pub mod feet;
pub mod level;
pub mod on_air;
pub mod plate;
pub mod qualify;
pub mod search;
pub mod supports;
