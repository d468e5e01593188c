//! Checks against the outside: published values, properties, damaged files, and the table of rooms.

mod damaged_pictures;
mod outside_pictures;
mod profile;
mod published;
mod rooms;
mod smoothing;
