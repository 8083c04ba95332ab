//! The program: command line and web pages over the one door, the drawings and the store.

pub mod cli;
pub mod demo;
pub mod making;
mod grinder_pictures;
mod os;
pub mod sitting;
pub mod web;
