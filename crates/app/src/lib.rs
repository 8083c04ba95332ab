//! The program: command line and web pages over the one door, the drawings and the store.

pub mod cli;
pub mod demo;
mod grinder_pictures;
pub mod making;
mod os;
pub mod sitting;
pub mod web;
