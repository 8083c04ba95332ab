//! The balancing loop: looks → estimate → next step → placement → (a person moves weights) → looks …
//!
//! In: what a person saw on the stand. Out: the unbalance with its uncertainty, where the weights go, what to do
//! next. [`virtual_bench`] plays stand and person with a hidden truth, to try all the rest.

pub mod belief;
pub mod by_hand;
pub mod fit_log;
pub mod look;
pub mod motion;
pub mod next_step;
pub mod placement;
pub mod ring;
pub mod swing;
pub mod timing;
pub mod virtual_bench;
