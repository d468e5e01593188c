//! The window driven by the names of its controls, and the workbench driven without a window. No display is needed.

// Functions shared by tests count as ordinary code for these lints, and a failing step should simply stop.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod agree_desk;
mod axes;
mod blind_list;
mod comfort;
mod desk;
mod finding;
mod growth_desk;
mod import_screen;
mod lengths_desk;
mod looking;
mod marks;
mod pixel_size;
mod pond;
mod practice;
mod reading;
mod recalibration;
mod report_desk;
mod seeing;
mod several;
mod slides;
mod surroundings;
mod workbench;
mod working_through;
