//! Published checks: results against values printed elsewhere. Each source stands in its file under
//! `fixtures/published/` and beside its test.

// All of this is test code; clippy exempts only the functions marked as tests, not those they share.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stderr)]

mod age;
mod back_calculation;
mod back_calculation_edges;
mod condition;
mod growth_curves;
mod growth_from_a_file;
mod growth_nist;
mod length_tables;
mod length_uncertainty;
mod published;
mod reef_fish;
mod reference_growth;
mod regression;
mod year_effects;
