//! The window driven by the names of its controls, and the workbench driven without a window. No display is needed.

// Functions shared by tests count as ordinary code for these lints, and a failing step should simply stop.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod axes;
mod comfort;
mod agree_desk;
mod blind_list;
mod desk;
mod finding;
mod growth_desk;
mod lengths_desk;
mod looking;
mod marks;
mod pixel_size;
mod pond;
mod practice;
mod reading;
mod several;
mod slides;
mod seeing;
mod surroundings;
mod workbench;
mod working_through;
