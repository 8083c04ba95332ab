//! The program: command line and pages, composed of the calculations, the records and the pictures.

pub mod demo;
pub mod sitting;
pub mod web;
