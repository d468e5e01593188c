//! Checks against published values and outside files.

mod damaged_pictures;
mod outside_pictures;
mod profile;
mod published;
mod smoothing;
