//! The pages, one component a file.

pub(super) mod bench;
pub(super) mod certificate;
pub(super) mod help;
mod history;
mod inertia;
mod look_forms;
mod look_reading;
mod machine_form;
pub(super) mod new_sitting;
pub(super) mod pair;
mod plan;
mod record_form;
pub(super) mod records;
mod ring_form;
mod rotor_form;
mod scene;
mod screws;
pub(super) mod settings;
pub(super) mod sitting;
mod sitting_view;
mod stand_form;
pub(super) mod stands;
pub(super) mod template;
mod time;
pub(super) mod transfer;
mod verdict;
mod virtual_looks;
