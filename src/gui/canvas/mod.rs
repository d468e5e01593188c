//! The scan and what lies under it: how it is looked at, where things fall on screen, how they are painted.

pub mod arriving;
pub mod layout;
pub mod model;
pub mod paint;
pub mod picture;
pub mod picture_build;
pub mod scale_bar;
