//! Checks against the outside: published values (printed, or computed from the published formulas with general
//! libraries), properties, damaged files, and the table of rooms. Each source stands in its file under
//! `fixtures/published/` and beside its test.

// All of this is test code; clippy exempts only the functions marked as tests, not those they share.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stderr)]

mod age;
mod age_length_key;
mod agreement;
mod back_calculation;
mod back_calculation_edges;
mod calibration;
mod catch_curve;
mod circuli;
mod condition;
mod counted;
mod coverage;
mod damaged_pictures;
mod growth_curves;
mod growth_from_a_file;
mod growth_nist;
mod kappa;
mod length_tables;
mod length_uncertainty;
mod licences;
mod outside_pictures;
mod profile;
mod proposals;
mod published;
mod quality;
mod reader_tables;
mod reef_fish;
mod reference_growth;
mod regression;
mod rooms;
mod smoothing;
mod symmetry;
mod year_effects;
