//! At the grinder: the ground face, and what made the marks on it.
//!
//! In: requests. Out: pages; what they show is computed at the door (`ground-face`, `marks`).

pub(crate) mod face;
pub(crate) mod marks;
mod marks_form;
pub(crate) mod photo;
mod photo_step;
