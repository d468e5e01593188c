//! Published checks: results against values from outside the project, printed (NIST, Deason & Hile) or computed from
//! the published formulas with general libraries. Each source stands in its file under `fixtures/published/` and
//! beside its test.

// All of this is test code; clippy exempts only the functions marked as tests, not those they share.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stderr)]

mod age;
mod agreement;
mod back_calculation;
mod back_calculation_edges;
mod kappa;
mod length_tables;
mod length_uncertainty;
mod published;
mod quality;
mod reader_tables;
mod reef_fish;
mod regression;
mod symmetry;
