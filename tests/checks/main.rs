//! Checks against the outside: published values, properties, damaged files, and the table of rooms.

// Functions shared by tests count as ordinary code for these lints, and a failing check should simply stop.
#![allow(clippy::unwrap_used, clippy::panic, clippy::print_stderr)]

mod circuli;
mod damaged_pictures;
mod outside_pictures;
mod profile;
mod proposals;
mod published;
mod rooms;
mod smoothing;
